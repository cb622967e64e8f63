package wateractivity

import (
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

const (
	saltGramsPerMole = 58.443    // NaCl, IUPAC atomic weights 2007
	waterKgPerMole   = 0.0180153 // H2O, the same
	saturation       = 6.144     // mol of NaCl per kg of water at 25 °C (Robinson and Stokes 1965, recalled)
	gramsPerKilogram = 1000
)

// Brine returns the water activity of salt dissolved in water, saltPerWater
// being the mass of NaCl over that of the water.
//
//	aw  = exp(-2 * phi * m * 0.0180153)
//	phi = 1 - A s/(1 + 1.2 s) + m (b0 + b1 exp(-2 s)) + C m^2,  s = sqrt(m)
//
// in which
//
//   - m: mol of NaCl per kg of water, saltPerWater * 1000/58.443
//   - A = 0.3915, b0 = 0.0765, b1 = 0.2664, C = 0.00127, at 25 °C
//
// It agrees with the measured table within 0.001 up to saturation, 6.144 mol/kg
// or 35.9 g in 100 g of water (aw 0.753), and reports fault.Invalid for a
// negative ratio and fault.OutsideModel beyond saturation.
//
// Sources: Pitzer and Mayorga, Thermodynamics of electrolytes II, J. Phys. Chem.
// 77(19), 1973, 2300-2308, table I (recalled); checked with Robinson and Stokes,
// Electrolyte Solutions, 2nd rev. ed. 1965, appendix 8.3 (recalled).
func Brine(saltPerWater quantity.Ratio) (quantity.WaterActivity, error) {
	switch molality := saltPerWater.Float() * gramsPerKilogram / saltGramsPerMole; {
	case molality < 0:
		return quantity.WaterActivity{}, &fault.Error{
			Kind: fault.Invalid, Code: codeInvalid, Detail: "there can't be less than no salt in water, got a ratio of " + saltPerWater.String(),
		}
	case molality > saturation*(1+rounding):
		return quantity.WaterActivity{}, &fault.Error{
			Kind: fault.OutsideModel, Code: "salt-saturated",
			Detail: "water holds " + saturated().String() + " times its mass of salt, got " + saltPerWater.String(),
		}
	default:
		return quantity.NewWaterActivity(brine(molality))
	}
}

// saturated returns the salt that water holds, per mass of water.
func saturated() quantity.Ratio {
	return quantity.MustRatio(saturation * saltGramsPerMole / gramsPerKilogram)
}

// rounding is what a few float operations may add to a ratio at a bound.
const rounding = 1e-12

// brine is Brine of a molality, without its bounds.
func brine(molality float64) float64 {
	const a, b0, b1, c, b, alpha = 0.3915, 0.0765, 0.2664, 0.00127, 1.2, 2
	s := math.Sqrt(molality)
	phi := 1 - a*s/(1+b*s) + molality*(b0+b1*math.Exp(-alpha*s)) + c*molality*molality
	return math.Exp(-2 * phi * molality * waterKgPerMole)
}

// BrineSource cites the salt brine.
func BrineSource() source.Citation {
	return source.Citation{
		Title: "Pitzer and Mayorga, Thermodynamics of electrolytes II, J. Phys. Chem. 77(19), 2300-2308", Year: 1973,
		Section: "table I, NaCl at 25 °C", Trust: source.Memory,
		Note: "agrees within 0.001 with the table of Robinson and Stokes, Electrolyte Solutions, 1965, appendix 8.3",
	}
}
