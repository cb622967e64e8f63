package blend

import (
	"fmt"
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// Parts is how many parts of a go to how many parts of b.
type Parts struct{ A, B quantity.Ratio }

// Square returns the parts of a and b that make a blend with a target, all
// three the same property on the same basis, such as fat as received:
//
//	parts of a = |target - b|, parts of b = |a - target|, in points of percent
//
// Two that are alike and as wanted go in any proportion, which is given as one to
// one. It reports fault.NoSolution ("out-of-reach", at target) with the range
// that can be reached when the target lies outside it. Source: the Pearson square
// of the trade, which is the balance of a mixture of two.
func Square(a, b, target quantity.Fraction) (Parts, error) {
	low, high := a, b
	if b.Float() < a.Float() {
		low, high = b, a
	}
	if target.Float() < low.Float() || target.Float() > high.Float() {
		return Parts{}, &fault.Error{
			Kind: fault.NoSolution, Code: "out-of-reach", Detail: fmt.Sprintf("the two reach from %s to %s", low, high),
			Violations: []fault.Violation{{Path: fault.At("target"), Code: "out-of-reach", Detail: fmt.Sprintf("is %s, but the two reach from %s to %s", target, low, high)}},
		}
	}
	if low == high {
		return Parts{quantity.MustRatio(1), quantity.MustRatio(1)}, nil
	}
	parts := func(x, y quantity.Fraction) quantity.Ratio {
		return quantity.MustRatio(math.Abs(x.Percent() - y.Percent()))
	}
	return Parts{parts(target, b), parts(a, target)}, nil
}

// ShareOfA returns the share of a in the blend.
func (p Parts) ShareOfA() quantity.Fraction {
	share, err := quantity.NewFraction(p.A.Float() / (p.A.Float() + p.B.Float()))
	if err != nil {
		return quantity.Fraction{} // no parts at all
	}
	return share
}

// For returns the masses that make a total.
func (p Parts) For(total quantity.Mass) (a, b quantity.Mass) {
	a = p.ShareOfA().Of(total)
	return a, total.Minus(a)
}

// ToGoWith returns how much of b goes to a mass of a; *quantity.RangeError when
// nothing of a may go in.
func (p Parts) ToGoWith(a quantity.Mass) (quantity.Mass, error) {
	return a.Times(p.B).DividedBy(p.A)
}
