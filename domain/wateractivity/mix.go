package wateractivity

import (
	"errors"
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// codeInvalid is the code of what has no meaning.
const codeInvalid = "invalid-value"

// Mix is the composition of a sausage when it is stuffed, each part as mass per
// green mass. What they leave of the whole is dry matter that does nothing to
// the water: spice, ash, fibre.
//
// Salt is sodium chloride, with what the cure brings. Sugar is dissolved mono-
// and disaccharide. It counts as fermented, a gram of it as a gram of glucose
// that has become two moles of lactate to the mole: 0.0111 mol of particles,
// where glucose itself would make half of that. Before it is fermented the model
// therefore reads about 0.001 low for half a percent of sugar; sugar that the
// culture leaves over (more than about 1 percent is not used up) is counted
// twice.
//
// Water is all of it, that of lean meat and that of wine or ice. Each kilogram
// counts as bringing 0.56 mol of the particles that are in the juice of lean
// meat some days after slaughter, which alone make fresh lean aw 0.990. Of water
// that was added that is untrue, by 0.001 of aw for 5 percent of wine.
//
// What else is dissolved in it comes in by [Mix.With].
type Mix struct {
	Water, Protein, Fat, Salt, Sugar quantity.Fraction

	otherMass             float64 // of solutes, kg per kg of green mass
	otherMoles, saltMoles float64 // of solutes, and of what counts as salt, mol per kg of green mass
}

const (
	juice             = 0.56    // mol of particles per kg of the water of lean meat
	sugarGramsPerMole = 180.156 // glucose, IUPAC atomic weights 2007
	lactatePerSugar   = 2       // homofermentative: C6H12O6 -> 2 C3H6O3
)

// TypicalMix returns the composition to assume when none is known: three parts
// of lean pork and one of back fat, with 28 g of salt, 5 g of dextrose and 5 g
// of spice to the kilogram. Water 55.5, protein 14.2, fat 25.5, salt 2.7, sugar
// 0.5 percent of the green mass. See [TypicalMixSource].
//
// It stands for one recipe of many: between 20 and 30 percent of back fat the
// water activity at 35 percent of loss goes from 0.907 to 0.866.
func TypicalMix() Mix {
	return Mix{
		Water: quantity.MustPercent(55.5), Protein: quantity.MustPercent(14.2), Fat: quantity.MustPercent(25.5),
		Salt: quantity.MustPercent(2.7), Sugar: quantity.MustPercent(0.5),
	}
}

// TypicalMixSource cites the composition of TypicalMix.
func TypicalMixSource() source.Citation {
	return source.Citation{
		Title: "USDA National Nutrient Database for Standard Reference, Release 28", Year: 2015,
		Section: "NDB 10084, pork shoulder, blade, separable lean only, raw; NDB 10004, pork backfat, raw", Trust: source.Derived,
		Note: "75 g of the lean, 25 g of the fat, 2.8 g salt, 0.5 g dextrose, 0.5 g spice, counted as dry; rounded to 0.1 percent",
	}
}

// JuiceSource cites the particles in the water of lean meat.
func JuiceSource() source.Citation {
	return source.Citation{
		Title: "Osmotic pressure of post-mortem muscle, usual figures", Trust: source.Memory,
		Note: "medium: muscle rises from 0.30 to between 0.5 and 0.6 osmol per kg of water at pH 5.5",
	}
}

// Validate reports fault.Invalid with every member at fault: water_percent when
// there is no water, salt_percent when the water can't hold the salt, and the
// whole when the parts sum to more than 100 percent (by more than rounding).
func (m Mix) Validate() error {
	var bad fault.Collector
	if m.Water.IsZero() {
		bad.Add(fault.At("water_percent"), "minimum", "there must be more than 0 %% of water")
	} else if m.waterAtSaturation() > m.Water.Float()*(1+rounding) {
		bad.Add(fault.At("salt_percent"), "maximum", "the water holds %s times its mass of salt, got %v of salt in %v of water",
			saturated(), m.Salt, m.Water)
	}
	sum := m.Water.Percent() + m.Protein.Percent() + m.Fat.Percent() + m.Salt.Percent() + m.Sugar.Percent() + 100*m.otherMass
	if sum > 100*(1+rounding) {
		for _, member := range []struct {
			name string
			part quantity.Fraction
		}{
			{"water_percent", m.Water}, {"protein_percent", m.Protein}, {"fat_percent", m.Fat},
			{"salt_percent", m.Salt}, {"sugar_percent", m.Sugar},
		} {
			if !member.part.IsZero() {
				bad.Add(fault.At(member.name), "sum", "water, protein, fat, salt, sugar and what else is dissolved may sum to 100 %%, and come to %.6g %%", sum)
			}
		}
	}
	return bad.Err(codeInvalid, "the composition has no meaning as it stands")
}

// waterAtSaturation returns the water, per green mass, in which the salt just
// dissolves.
func (m Mix) waterAtSaturation() float64 {
	return (m.Salt.Float() + m.saltMoles*saltGramsPerMole/gramsPerKilogram) / saturated().Float()
}

// What the model reaches to.
const (
	lowest     = 0.75  // aw at which salt crystallises, rounded down from 0.753
	lowestLoss = -1.0  // a piece that has doubled its weight
	activities = 1e-9  // what rounding may take from an activity at the bound
	losses     = 1e-12 // how near LossAt comes, as a part of the green water
)

// At returns the water activity after a loss, all of it water, by the formula of
// the package comment. It falls as the loss grows. A loss below zero is water
// taken up.
//
// It reports fault.Invalid for a mix that Validate refuses, and at loss_percent
// when the loss is all the water or more; fault.OutsideModel when the water
// activity would be below 0.75, as it is wherever the salt no longer dissolves
// ("too-dry"), and for a gain of more than the green weight ("too-wet").
func (m Mix) At(loss quantity.Loss) (quantity.WaterActivity, error) {
	if err := m.Validate(); err != nil {
		return quantity.WaterActivity{}, err
	}
	left, err := m.left(loss)
	if err != nil {
		return quantity.WaterActivity{}, err
	}
	outside := func(code, detail string) (quantity.WaterActivity, error) {
		return quantity.WaterActivity{}, &fault.Error{Kind: fault.OutsideModel, Code: code, Detail: detail}
	}
	switch aw := m.at(left); {
	case loss.Float() < lowestLoss:
		return outside("too-wet", "a piece that takes up more than its green weight is outside the model, got a loss of "+loss.String())
	case left < m.waterAtSaturation()*(1-rounding) || aw < lowest-activities:
		return outside("too-dry", "salt crystallises below a water activity of 0.75, which a loss of "+loss.String()+" would reach")
	default:
		return quantity.NewWaterActivity(aw)
	}
}

// left returns the water left after a loss, per green mass.
func (m Mix) left(loss quantity.Loss) (float64, error) {
	left := m.Water.Float() - loss.Float()
	if left > 0 {
		return left, nil
	}
	var bad fault.Collector
	bad.Add(fault.At("loss_percent"), "maximum", "a loss must leave some of the %v of water, got %v", m.Water, loss)
	return 0, bad.Err(codeInvalid, "the loss is more than the water there was")
}

// at returns the water activity with so much water left, per green mass.
func (m Mix) at(left float64) float64 {
	salt := (m.Salt.Float()*gramsPerKilogram/saltGramsPerMole + m.saltMoles) / left
	others := m.otherMoles + juice*m.Water.Float() + m.Sugar.Float()*gramsPerKilogram*lactatePerSugar/sugarGramsPerMole
	aw := brine(salt) * math.Exp(-waterKgPerMole*others/left)
	if !m.Protein.IsZero() {
		aw *= sorption(left / m.Protein.Float())
	}
	return aw
}

// LossAt returns the loss at which the product neither gives water to air of the
// relative humidity aw nor takes any: the inverse of At, within 1e-12 of the
// green water. In such air drying stops there. It is negative where the product
// would take up water.
//
// It reports fault.Invalid for a mix that Validate refuses; fault.OutsideModel
// ("too-dry") for a water activity below 0.75, where salt crystallises;
// fault.NoSolution ("no-balance") for one so high that the product would have to
// take up more than its green weight.
func (m Mix) LossAt(aw quantity.WaterActivity) (quantity.Loss, error) {
	if err := m.Validate(); err != nil {
		return quantity.Loss{}, err
	}
	if aw.Float() < lowest-activities {
		return quantity.Loss{}, &fault.Error{
			Kind: fault.OutsideModel, Code: "too-dry",
			Detail: "salt crystallises below a water activity of 0.75, got " + aw.String(),
		}
	}
	// Water left, per green mass. At the least of it the activity is below 0.75:
	// at saturation by the salt (0.753) with the juice (0.990), and without salt by
	// the juice alone (exp(-0.0180153 * 0.56/0.01) is 0.36).
	const driest = 0.01
	low, high := max(m.waterAtSaturation(), driest*m.Water.Float()), m.Water.Float()-lowestLoss
	left, err := numeric.Root(func(left float64) float64 { return m.at(left) - aw.Float() }, low, high, losses*m.Water.Float())
	switch {
	case errors.Is(err, numeric.ErrNoSignChange):
		return quantity.Loss{}, &fault.Error{
			Kind: fault.NoSolution, Code: "no-balance",
			Detail: "the product would have to take up more than its green weight of water to reach a water activity of " + aw.String(),
		}
	case err != nil:
		return quantity.Loss{}, err
	}
	return quantity.LossPercent(100 * (m.Water.Float() - left))
}
