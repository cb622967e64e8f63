package wateractivity

import (
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Solute is something dissolved in the water of a sausage besides salt and the
// sugar that is fermented. The zero value is invalid.
type Solute int

// The solutes.
const (
	Glycerol Solute = iota + 1
	Sorbitol
	Xylose
	Sucrose
	Maltose
	Lactose
	Glucose // that nothing ferments
	LacticAcid
	Glycine
	PotassiumChloride
)

// solute is what is known of one.
type solute struct {
	word          string
	gramsPerMole  float64
	norrish       float64 // K of Norrish: NorrishSource
	countedAsSalt bool
}

// Molar masses: IUPAC atomic weights 2007.
var solutes = map[Solute]solute{
	Glycerol:          {word: "glycerol", gramsPerMole: 92.094, norrish: 1.16},
	Sorbitol:          {word: "sorbitol", gramsPerMole: 182.172, norrish: 1.65},
	Xylose:            {word: "xylose", gramsPerMole: 150.130, norrish: 1.54},
	Sucrose:           {word: "sucrose", gramsPerMole: 342.297, norrish: 6.47},
	Maltose:           {word: "maltose", gramsPerMole: 342.297, norrish: 4.54},
	Lactose:           {word: "lactose", gramsPerMole: 342.297, norrish: 10.2},
	Glucose:           {word: "glucose", gramsPerMole: sugarGramsPerMole, norrish: 2.25},
	LacticAcid:        {word: "lactic-acid", gramsPerMole: 90.078, norrish: -1.59},
	Glycine:           {word: "glycine", gramsPerMole: 75.067, norrish: -0.87},
	PotassiumChloride: {word: "potassium-chloride", gramsPerMole: 74.551, countedAsSalt: true},
}

// mostAsSalt is how much potassium chloride of the green mass counts as salt,
// mole for mole: recalled, up to a percent, where its own water activity is 0.002
// to 0.01 higher.
const mostAsSalt = 0.01

// String returns the word used on the wire.
func (s Solute) String() string {
	if of, known := solutes[s]; known {
		return of.word
	}
	return "unstated"
}

// ParseSolute reads the word used on the wire.
func ParseSolute(word string) (Solute, bool) {
	for s := Glycerol; s <= PotassiumChloride; s++ {
		if solutes[s].word == word {
			return s, true
		}
	}
	return 0, false
}

// Solution returns the water activity of one solute alone in water, perWater
// being its mass over that of the water, after Norrish:
//
//	aw = Xw exp(-K Xs^2)
//
// in which Xw and Xs are the parts of water and solute by moles. A Mix takes each
// mole for itself instead, exp(-0.0180153 n/w), which at the few percent of a
// sausage is the same within 0.001. It reports fault.Invalid for a negative ratio
// and for potassium chloride, which is no such solute. See [NorrishSource].
func Solution(s Solute, perWater quantity.Ratio) (quantity.WaterActivity, error) {
	of, known := solutes[s]
	if !known || of.countedAsSalt || perWater.Float() < 0 {
		return quantity.WaterActivity{}, &fault.Error{
			Kind: fault.Invalid, Code: codeInvalid, Detail: "no solution of " + s.String() + " with " + perWater.String() + " of it to the water",
		}
	}
	dissolved := perWater.Float() * waterKgPerMole * gramsPerKilogram / of.gramsPerMole // moles to a mole of water
	part := dissolved / (1 + dissolved)
	return quantity.NewWaterActivity(math.Min(1, (1-part)*math.Exp(-of.norrish*part*part)))
}

// With returns the mix with a solute in it as well, as mass per green mass. Each
// mole of it takes as much from the water activity as one of the juice;
// potassium chloride counts mole for mole as salt, up to a percent. It reports
// fault.Invalid for no solute, and fault.OutsideModel ("too-much-potassium") for
// more than that.
func (m Mix) With(s Solute, share quantity.Fraction) (Mix, error) {
	of, known := solutes[s]
	if !known {
		return m, &fault.Error{Kind: fault.Invalid, Code: codeInvalid, Detail: "no such solute"}
	}
	moles := share.Float() * gramsPerKilogram / of.gramsPerMole
	m.otherMass += share.Float()
	if !of.countedAsSalt {
		m.otherMoles += moles
		return m, nil
	}
	m.saltMoles += moles
	if m.saltMoles*of.gramsPerMole/gramsPerKilogram > mostAsSalt*(1+rounding) {
		return m, &fault.Error{
			Kind: fault.OutsideModel, Code: "too-much-potassium",
			Detail: "up to 1 % of potassium chloride counts as salt, got " + share.String(),
		}
	}
	return m, nil
}

// NorrishSource cites the solutes other than salt.
func NorrishSource() source.Citation {
	return source.Citation{
		Title: "Norrish, An equation for the activity coefficients and equilibrium relative humidities of water in confectionery syrups, J. Food Technol. 1, 25-39",
		Year:  1966, Trust: source.Memory,
		Note: "the constants as compiled by Chirife and others; both recalled, medium to high",
	}
}
