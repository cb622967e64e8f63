package rulebook

import (
	"slices"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Contents are the mass fractions of the salts in a curing blend, each from the
// least to the most that the blend may hold. What they leave of the whole is
// neither salt nor curing agent.
type Contents struct {
	SodiumNitrite    quantity.Between[quantity.Fraction]
	PotassiumNitrite quantity.Between[quantity.Fraction]
	SodiumNitrate    quantity.Between[quantity.Fraction]
	PotassiumNitrate quantity.Between[quantity.Fraction]
	SodiumChloride   quantity.Between[quantity.Fraction]
}

// Cure is a curing blend or an undiluted curing salt. The built-in ones have
// generic trade names; the label of a bag decides, so a maker can state an assay
// instead.
type Cure struct {
	Key           string // stable, kebab-case; empty for a maker's own
	Name          string
	Contents      Contents
	BulkDensity   quantity.Between[quantity.Density] // level in a spoon; zero when it is not known
	DensitySource source.Citation                    // zero when there is no density
	Source        source.Citation
	Note          string
}

// Content returns how much of a compound is in the cure. It is none for a
// compound that cures do not hold as such, the ions too.
func (c Cure) Content(compound Compound) quantity.Between[quantity.Fraction] {
	switch compound {
	case CompoundNaNO2:
		return c.Contents.SodiumNitrite
	case CompoundKNO2:
		return c.Contents.PotassiumNitrite
	case CompoundNaNO3:
		return c.Contents.SodiumNitrate
	case CompoundKNO3:
		return c.Contents.PotassiumNitrate
	case CompoundNaCl:
		return c.Contents.SodiumChloride
	default:
		return quantity.Between[quantity.Fraction]{}
	}
}

// undilutedNitrite is the share of nitrite salts from which a cure counts as
// undiluted. It is this project's own choice: no curing blend comes near it and
// no undiluted salt is below it.
var undilutedNitrite = quantity.MustPercent(50)

// Undiluted reports whether the cure is nitrite itself and not a blend: half or
// more of it is sodium and potassium nitrite. Weighed out like a blend it gives a
// dose that can kill.
func (c Cure) Undiluted() bool {
	nitrite := c.Contents.SodiumNitrite.High.Float() + c.Contents.PotassiumNitrite.High.Float()
	return nitrite >= undilutedNitrite.Float()
}

// Assay is what a maker read on a bag: the mass fractions of the salts. A salt
// that the bag does not name is none.
type Assay struct {
	SodiumNitrite    quantity.Fraction
	PotassiumNitrite quantity.Fraction
	SodiumNitrate    quantity.Fraction
	PotassiumNitrate quantity.Fraction
	SodiumChloride   quantity.Fraction
}

// NewCure returns a maker's own cure. It reports fault.Invalid with the members
// name, sodium_nitrite_percent, potassium_nitrite_percent,
// sodium_nitrate_percent, potassium_nitrate_percent and salt_percent when the
// name is blank, when the salts come to more than 100 percent (0.01 is allowed
// for rounding on a label), or when there is neither nitrite nor nitrate. Its
// bulk density is not known.
func NewCure(name string, assay Assay) (Cure, error) {
	var bad fault.Collector
	if strings.TrimSpace(name) == "" {
		bad.Add(fault.At("name"), "blank", "the cure must have a name")
	}
	agents := []member{
		{"sodium_nitrite_percent", assay.SodiumNitrite},
		{"potassium_nitrite_percent", assay.PotassiumNitrite},
		{"sodium_nitrate_percent", assay.SodiumNitrate},
		{"potassium_nitrate_percent", assay.PotassiumNitrate},
	}
	cures := slices.ContainsFunc(agents, func(m member) bool { return !m.part.IsZero() })
	if !cures {
		bad.Add(fault.At(agents[0].name), "no-curing-agent",
			"a cure must hold nitrite or nitrate: at least one of its four percentages must be above 0 %%")
	}
	all := slices.Concat(agents, []member{{"salt_percent", assay.SodiumChloride}})
	sum := 0.0
	for _, m := range all {
		sum += m.part.Percent()
	}
	const most = 100.01 // percent, for labels that round each salt up
	if sum > most {
		for _, m := range all {
			if !m.part.IsZero() {
				bad.Add(fault.At(m.name), "above-whole", "the salts must come to at most 100 %%, they come to %.6g %% with this one at %.6g %%",
					sum, m.part.Percent())
			}
		}
	}
	if err := bad.Err("invalid-cure", "the assay of the cure has no meaning"); err != nil {
		return Cure{}, err
	}
	return Cure{
		Name: name,
		Contents: Contents{
			SodiumNitrite:    quantity.Exactly(assay.SodiumNitrite),
			PotassiumNitrite: quantity.Exactly(assay.PotassiumNitrite),
			SodiumNitrate:    quantity.Exactly(assay.SodiumNitrate),
			PotassiumNitrate: quantity.Exactly(assay.PotassiumNitrate),
			SodiumChloride:   quantity.Exactly(assay.SodiumChloride),
		},
		Source: source.Citation{
			Title: "Assay stated by the maker", Trust: source.ReadSecondary, Note: "as it stands on the bag",
		},
	}, nil
}

// member is a fraction and the name that clients know it by.
type member struct {
	name string
	part quantity.Fraction
}

// Cures returns the built-in cures, in a fixed order. The slice is the caller's.
func Cures() []Cure { return slices.Clone(cures) }

// CureByKey returns the built-in cure with a key, and false when there is none.
func CureByKey(key string) (Cure, bool) {
	i := slices.IndexFunc(cures, func(c Cure) bool { return c.Key == key })
	if i < 0 {
		return Cure{}, false
	}
	return cures[i], true
}

// cures is the table of built-in cures.
//
// Density: a level US teaspoon of curing salt no. 1 weighs 5.67 g (an ounce is
// five teaspoons), other figures in use are 5.6, 5.65 and 6.0; spoons and grain
// make it 10 percent more or less.
var cures = []Cure{
	{
		Key: "cure-1", Name: "curing salt no. 1",
		Contents: Contents{
			SodiumNitrite:  percents(5.9, 6.25),
			SodiumChloride: percents(93.75, 94.1),
		},
		BulkDensity:   spoon(5.67),
		DensitySource: spoonSource(source.ReadSecondary, "an ounce is five level teaspoons; spoons differ by 10 percent or more"),
		Source: source.Citation{
			Title: "Assay usual in the trade for US curing salt no. 1", Trust: source.ReadSecondary,
			Note: "printed alike in several texts; no standard fixes it",
		},
		Note: "the assay is mostly given as 6.25 percent; blends sold as no. 1 hold from 5.9 to 6.25 percent nitrite. The label decides: state it as your own assay to get one dose and not a range",
	},
	{
		Key: "cure-2", Name: "curing salt no. 2",
		Contents: Contents{
			SodiumNitrite:  percents(5.7, 6.25),
			SodiumNitrate:  percents(1, 4),
			SodiumChloride: percents(89.75, 93.3),
		},
		BulkDensity:   spoon(5.67),
		DensitySource: spoonSource(source.Memory, "taken to be that of curing salt no. 1, which is nearly all salt too; spoons differ by 10 percent or more"),
		Source: source.Citation{
			Title: "Assay usual in the trade for US curing salt no. 2", Trust: source.ReadSecondary,
			Note: "printed alike in several texts; no standard fixes it",
		},
		Note: "the assay is mostly given as 6.25 percent nitrite and 4 percent nitrate; blends sold as no. 2 hold from 5.7 to 6.25 and from 1 to 4 percent. The label decides: state it as your own assay to get one dose and not a range",
	},
	{
		Key: "nitrite-salt", Name: "nitrite curing salt",
		Contents: Contents{
			SodiumNitrite:  percents(0.4, 0.9),
			SodiumChloride: percents(99.1, 99.6),
		},
		BulkDensity:   spoon(6.33),
		DensitySource: spoonSource(source.Memory, "taken to be that of table salt, which it nearly is; spoons differ by 10 percent or more"),
		Source: source.Citation{
			Title: "Assay usual in the trade for European nitrite curing salt", Trust: source.ReadSecondary,
			Note: "0.4 to 0.6 percent as quoted in public texts; up to 0.9 is recalled",
		},
		Note: "used as the only salt of the formula; the label gives the figure, state it as your own assay to get one dose and not a range",
	},
	{
		Key: "saltpetre", Name: "saltpetre (potassium nitrate)",
		Contents: Contents{PotassiumNitrate: percents(99, 100)},
		Source:   purity("E 252, potassium nitrate"),
		Note:     "undiluted nitrate; the word is also used for sodium nitrate (Chile saltpetre), so ask which it is",
	},
	{
		Key: "chile-saltpetre", Name: "Chile saltpetre (sodium nitrate)",
		Contents: Contents{SodiumNitrate: percents(99, 100)},
		Source:   purity("E 251, sodium nitrate"),
		Note:     "undiluted nitrate; saltpetre without more is mostly potassium nitrate, so ask which it is",
	},
	{
		Key: "sodium-nitrite", Name: "undiluted sodium nitrite",
		Contents: Contents{SodiumNitrite: percents(97, 100)},
		Source:   purity("E 250, sodium nitrite"),
		Note:     "not a curing blend: in place of one it gives 10 to 16 times the dose or more, 2.5 g in 1 kg are 2500 mg/kg",
	},
	{
		Key: "potassium-nitrite", Name: "undiluted potassium nitrite",
		Contents: Contents{PotassiumNitrite: percents(95, 100)},
		Source:   purity("E 249, potassium nitrite"),
		Note:     "not a curing blend: in place of one it gives 10 to 16 times the dose or more",
	},
}

// purity cites the European purity criteria of undiluted curing salts. The
// range runs from the least assay allowed to the pure salt.
func purity(additive string) source.Citation {
	return source.Citation{
		Title: "Regulation (EU) No 231/2012, specifications for food additives",
		Year:  2012, Section: "annex, " + additive, Trust: source.Memory,
		Note: "the least assay is recalled, not read; the pure salt is the other end",
	}
}

// spoonSource cites the weight of a level teaspoon.
func spoonSource(trust source.Trust, note string) source.Citation {
	return source.Citation{Title: "Weight of a level US teaspoon, usual figures of the trade", Trust: trust, Note: note}
}

// spoon returns the bulk density of a powder of which a level US teaspoon
// weighs g grams, 10 percent less to 10 percent more.
func spoon(g float64) quantity.Between[quantity.Density] {
	return quantity.Between[quantity.Density]{
		Low:  quantity.MustGramsPerTeaspoon(0.9 * g),
		High: quantity.MustGramsPerTeaspoon(1.1 * g),
	}
}

func percents(low, high float64) quantity.Between[quantity.Fraction] {
	return quantity.Between[quantity.Fraction]{Low: quantity.MustPercent(low), High: quantity.MustPercent(high)}
}
