// Package acidity answers how sour a sausage becomes, how much sugar a pH takes, and
// how much culture goes in. By when the acid comes is the matter of package
// acidification.
package acidity

import (
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// What sugar does to the pH of meat comes from two rules side by side. The
// chemistry: sugar to lactic acid, the acid that is given off taken up by the
// buffer of the lean. The rule of a handbook: so many grams of dextrose for a
// tenth of a unit, which is known to be two to three times too careful at low
// sugar.
const (
	// acidPerGlucose is 2 mol of lactic acid of a mol of glucose, 180.156 g: 11.10
	// mmol/g.
	acidPerGlucose = 2 * 1000 / 180.156
	// acidPerDisaccharide is 4 mol of a mol of sucrose or lactose, 342.296 g, with
	// the water that parts them: 11.69 mmol/g.
	acidPerDisaccharide = 4 * 1000 / 342.296
	// pKa is that of lactic acid at 25 °C in water without salt, from memory. In the
	// salt of sausage it is some 0.2 lower (memory), and a little less than computed
	// stays undissociated: 10 percent for 15 at pH 4.6.
	pKa = 3.86
	// perTenth is the handbook's rule: a gram of dextrose in a kilogram of meat for
	// a tenth of a unit. Ten grams for a unit is the same.
	perTenth = 1.0
	// gramsPerMol is the molar mass of lactic acid.
	gramsPerMol = 90.078
)

// Assumptions are what nobody measures in a small shop, each from one end of
// what is known to the other.
type Assumptions struct {
	Buffer     quantity.Between[quantity.BufferCapacity] // of a kilogram of lean
	Efficiency quantity.Between[quantity.Fraction]       // part of the sugar that becomes lactic acid
	OwnSugar   quantity.Between[quantity.PPM]            // glucose and glycogen of the meat itself, on the meat
	Stop       quantity.Between[quantity.PH]             // where the acid stops by itself, whatever sugar is left
	Start      quantity.Between[quantity.PH]             // of raw meat that nobody read
}

// Usual returns the assumptions that hold for a usual sausage; [Sources] says
// where they are from.
//
//   - buffer 45 to 60 mmol/(kg lean · pH) from pH 5.5 to 7.0
//   - 0.8 to 0.95 of the sugar
//   - 0.5 to 2 g/kg of the meat's own
//   - acid stops at pH 4.5 to 4.8
//   - raw meat at pH 5.5 to 5.9
func Usual() Assumptions { return usual }

var usual = Assumptions{
	Buffer: quantity.Between[quantity.BufferCapacity]{
		Low: quantity.MustMillimolesPerKilogramPH(45), High: quantity.MustMillimolesPerKilogramPH(60),
	},
	Efficiency: quantity.Between[quantity.Fraction]{Low: quantity.MustPercent(80), High: quantity.MustPercent(95)},
	OwnSugar:   quantity.Between[quantity.PPM]{Low: quantity.MustPPM(500), High: quantity.MustPPM(2000)},
	Stop:       quantity.Between[quantity.PH]{Low: quantity.MustPH(4.5), High: quantity.MustPH(4.8)},
	Start:      quantity.Between[quantity.PH]{Low: quantity.MustPH(5.5), High: quantity.MustPH(5.9)},
}

// Origins is where the figures of this package are printed.
type Origins struct{ Chemistry, Buffer, Efficiency, OwnSugar, Stop, Start, Handbook source.Citation }

// Sources returns where the figures of this package are printed.
func Sources() Origins {
	return Origins{
		Chemistry: source.Citation{
			Title: "Stoichiometry of lactic fermentation, C6H12O6 to 2 C3H6O3, and the dissociation of lactic acid", Trust: source.Derived,
			Note: "11.10 mmol in a gram of glucose, 11.69 of sucrose or lactose; pKa 3.86 at 25 °C without salt, recalled",
		},
		Buffer: source.Citation{
			Title: "E. Puolanne and R. Kivikari, Meat Science 56:7-13", Year: 2000, Trust: source.Memory,
			Note: "45 to 60 mmol for a kilogram of lean and a unit of pH, between 5.5 and 7.0, recalled; below 5.5 meat takes more",
		},
		Efficiency: source.Citation{
			Title: "Yield of lactic acid by cultures that make little else", Trust: source.Memory, Note: "0.8 to 0.95, recalled with low confidence",
		},
		OwnSugar: source.CommonPractice("meat after slaughter holds some 0.5 to 2 g/kg of glucose and glycogen, recalled"),
		Stop:     source.CommonPractice("acid stops by itself at about pH 4.5 to 4.8 in sausage, recalled; species and warmth shift it"),
		Start:    source.CommonPractice("raw meat without faults is at pH 5.5 to 5.9; a choice of this project within what is usual"),
		Handbook: source.Citation{
			Title: "S. and A. Marianski, The Art of Making Fermented Sausages", Section: "acidification", Trust: source.ReadSecondary,
			Note: "1 g/kg of dextrose for a tenth of a unit of pH, and 5 to 7 g/kg for just under pH 5.0, as quoted; F. Toldra, Dry-Cured Meat Products, " +
				"pp. 6 and 93, has 10 g/kg for a unit, as quoted, which is the same slope",
		},
	}
}

// SugarOf returns which sugar a material brings.
func SugarOf(m material.Material) rulebook.Sugar {
	switch lactose, known := m.Lactose().Get(); {
	case known && !lactose.IsZero():
		return rulebook.Lactose
	case m.Key == "dextrose-anhydrous" || m.Key == "dextrose-monohydrate":
		return rulebook.Dextrose
	case m.Key == "sugar-granulated" || m.Key == "sugar-brown":
		return rulebook.Sucrose
	default:
		return rulebook.MixedSugar
	}
}

// asGlucose returns the glucose that makes as much lactic acid as a mass of a
// sugar without its crystal water. What a mixed sugar is made of is not known.
func asGlucose(s rulebook.Sugar) quantity.Between[float64] {
	const more = acidPerDisaccharide / acidPerGlucose
	switch s {
	case rulebook.Sucrose, rulebook.Lactose:
		return quantity.Exactly(more)
	case rulebook.MixedSugar:
		return quantity.Between[float64]{Low: 1, High: more}
	default:
		return quantity.Exactly(1.0)
	}
}

// LacticAcid returns what a mass fraction of glucose becomes when a part of it
// ferments: 11.10 mmol in a gram.
func LacticAcid(glucose quantity.PPM, efficiency quantity.Fraction) (quantity.AcidContent, error) {
	return quantity.MillimolesPerKilogram(glucose.GramsPerKilogram() * acidPerGlucose * efficiency.Float())
}

// InGrams returns lactic acid as a mass fraction: 90.08 g/mol.
func InGrams(a quantity.AcidContent) (quantity.PPM, error) {
	return a.Of(quantity.MustGrams(gramsPerMol))
}
