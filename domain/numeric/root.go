package numeric

import (
	"errors"
	"math"
)

// What Root reports.
var (
	// ErrNoSignChange means that the function has the same sign at both ends, so
	// that nothing says whether it has a zero between them.
	ErrNoSignChange = errors.New("the function has the same sign at both ends")
	// ErrNotANumber means that the function has no value somewhere between the
	// ends.
	ErrNotANumber = errors.New("the function has no value somewhere between the ends")
	// ErrInterval means an end or a tolerance that no search can start with.
	ErrInterval = errors.New("the ends must be finite and in order, their distance finite and the tolerance positive")
)

// Root returns x in low..high such that f changes its sign within tolerance of
// x; for a continuous f that is where it has a zero. An end at which f is
// exactly zero is returned as it is. Where tolerance is finer than floats are
// spaced, x is next to the change of sign.
//
// It keeps the change of sign bracketed and shrinks the bracket by the method of
// interpolating, truncating and projecting, with k1 = 0.2/(high-low), k2 = 2 and
// n0 = 1: a step of false position, moved towards the middle, and never so far
// from it that halving alone would have been quicker by more than n0 steps. It
// converges superlinearly on a smooth f with a simple zero, and calls f at most
//
//	ceil(log2((high - low) / (2*tolerance))) + 3
//
// times in any case, which is never more than 2102. f may be infinite
// somewhere; it is called with values in low..high only.
//
// It reports ErrInterval unless low < high, both finite with a finite distance,
// and tolerance > 0; ErrNotANumber where f returns a NaN; ErrNoSignChange when f
// has the same sign at both ends, zero being of neither.
//
// Source: Oliveira and Takahashi, An enhancement of the bisection method average
// performance preserving minmax optimality, ACM Transactions on Mathematical
// Software 47(1), 2020, algorithm 1 (recalled).
func Root(f func(float64) float64, low, high, tolerance float64) (float64, error) {
	width := high - low
	if !(low < high) || math.IsInf(width, 0) || !(tolerance > 0) {
		return 0, ErrInterval
	}
	atLow, atHigh := f(low), f(high)
	switch {
	case math.IsNaN(atLow) || math.IsNaN(atHigh):
		return 0, ErrNotANumber
	case atLow == 0:
		return low, nil
	case atHigh == 0:
		return high, nil
	case (atLow > 0) == (atHigh > 0):
		return 0, ErrNoSignChange
	}
	const (
		k1    = 0.2
		slack = 1 // n0
	)
	steps := slack + int(math.Ceil(max(0, math.Log2(width)-math.Log2(tolerance)-1)))
	for j := 0; j < steps && high-low > 2*tolerance; j++ {
		middle := low + (high-low)/2
		if middle <= low || middle >= high {
			break // no float lies between them
		}
		x := falsePosition(low, high, atLow, atHigh)
		if math.IsNaN(x) {
			x = middle
		}
		towards := math.Copysign(1, middle-x)
		x += towards * min(k1*(high-low)/width*(high-low), math.Abs(middle-x))
		reach := max(0, math.Ldexp(tolerance, steps-j)-(high-low)/2)
		if math.Abs(x-middle) > reach {
			x = middle - towards*reach
		}
		if x <= low || x >= high {
			x = middle
		}
		at := f(x)
		switch {
		case math.IsNaN(at):
			return 0, ErrNotANumber
		case at == 0:
			return x, nil
		case (at > 0) == (atLow > 0):
			low, atLow = x, at
		default:
			high, atHigh = x, at
		}
	}
	return low + (high-low)/2, nil
}

// falsePosition returns where the chord between the ends crosses zero: NaN where
// an end is infinite.
func falsePosition(low, high, atLow, atHigh float64) float64 {
	return low + (high-low)*(atLow/(atLow-atHigh))
}
