package wateractivity

import (
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// The isotherm of water held by meat protein (GAB): see Held.
const (
	monolayer = 0.065 // water per protein in the first layer
	firstC    = 10.0  // how much firmer the first layer is held than the next
	furtherK  = 0.96  // how the further layers are held, as against free water
)

// Held returns how much water protein holds at a water activity, as mass of
// water per mass of protein (the model of Guggenheim, Anderson and de Boer):
//
//	X = Xm C K aw / ((1 - K aw)(1 - K aw + C K aw)),  Xm 0.065, C 10, K 0.96
//
// It rises with aw, from nothing to 1.618 at aw 1: a sausage with more water
// than that to its protein holds the rest freely. It is the inverse of Sorption.
// The coefficients are a working set for lean meat; trust in them is low to
// medium, see [SorptionSource].
func Held(aw quantity.WaterActivity) (quantity.Ratio, error) {
	return quantity.NewRatio(held(aw.Float()))
}

func held(aw float64) float64 {
	y := furtherK * aw
	return monolayer * firstC * y / ((1 - y) * (1 - y + firstC*y))
}

// Sorption returns the water activity of protein that has swollen with
// waterPerProtein times its mass of water: the inverse of Held, and 1 for more
// water than Held gives at 1. It reports fault.Invalid for a negative ratio.
func Sorption(waterPerProtein quantity.Ratio) (quantity.WaterActivity, error) {
	if waterPerProtein.Float() < 0 {
		return quantity.WaterActivity{}, &fault.Error{
			Kind: fault.Invalid, Code: codeInvalid,
			Detail: "protein can't hold less than no water, got a ratio of " + waterPerProtein.String(),
		}
	}
	return quantity.NewWaterActivity(sorption(waterPerProtein.Float()))
}

// sorption solves X(1-y)(1+(C-1)y) = Xm C y for y = K aw:
//
//	(C-1) X y^2 - b y - X = 0,  b = (C-2) X - Xm C
//
// of which one root is positive. It is written as a quotient where b is
// negative, where the difference would lose its digits.
func sorption(x float64) float64 {
	if x >= held(1) {
		return 1
	}
	if x <= 0 {
		return 0
	}
	b := (firstC-2)*x - monolayer*firstC
	root := math.Sqrt(b*b + 4*(firstC-1)*x*x)
	y := (b + root) / (2 * (firstC - 1) * x)
	if b < 0 {
		y = 2 * x / (root - b)
	}
	return min(1, y/furtherK)
}

// SorptionSource cites the isotherm.
func SorptionSource() source.Citation {
	return source.Citation{
		Title: "Sorption of water by lean meat, GAB model, working set Xm 0.065, C 10, K 0.96", Trust: source.Memory,
		Note: "low to medium: of the usual size (0.27 g of water per g of protein at aw 0.80, 0.47 at 0.90), fitted to no one data set",
	}
}
