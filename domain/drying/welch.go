package drying

import (
	"math"
	"slices"

	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
)

// sample is a figure of each of some pieces, with what stands for the standard
// deviation between them where there is one, and the least that it can be; both
// in the unit of the figure. Without a usual one a single piece has no interval.
type sample struct {
	values       []float64
	usual, least float64
}

// mean adds in the order of the values, so that the order of the pieces does not
// matter.
func (s sample) mean() float64 {
	return sum(slices.Sorted(slices.Values(s.values))) / float64(len(s.values))
}

// sd returns the standard deviation of two values or more.
func (s sample) sd() float64 {
	mean := s.mean()
	squares := make([]float64, 0, len(s.values))
	for _, v := range s.values {
		squares = append(squares, square(v-mean))
	}
	slices.Sort(squares)
	return math.Sqrt(sum(squares) / float64(len(squares)-1))
}

func sum(values []float64) float64 {
	total := 0.0
	for _, v := range values {
		total += v
	}
	return total
}

// estimate is a mean or a difference of means, with its standard error and the
// degrees of freedom of that.
type estimate struct{ mid, error, degrees float64 }

// alone returns the mean of a sample.
func (s sample) alone() estimate {
	n := float64(len(s.values))
	if n == 1 {
		return estimate{s.values[0], s.usual, usualBetweenDegrees}
	}
	return estimate{s.mean(), math.Max(s.sd(), s.least) / math.Sqrt(n), n - 1}
}

// against returns how far the mean of a sample lies above that of another
// (Welch), with
//
//	degrees = (a² + b²)² / (a⁴/na + b⁴/nb)
//
// in which a, b are the standard errors of the two, na, nb their degrees of
// freedom (Satterthwaite).
func against(s, t sample) estimate {
	a, b := s.alone(), t.alone()
	va, vb := square(a.error), square(b.error)
	return estimate{a.mid - b.mid, math.Sqrt(va + vb), square(va+vb) / (square(va)/a.degrees + square(vb)/b.degrees)}
}

func (e estimate) negative() estimate { return estimate{-e.mid, e.error, e.degrees} }

// reach returns how far the interval of a coverage goes to either side.
func (e estimate) reach(coverage float64) float64 {
	return numeric.StudentQuantile((1+coverage)/2, e.degrees) * e.error
}

// apart says whether the difference can be told from the spread.
func (e estimate) apart() Apart {
	switch reach := e.reach(certainty); {
	case e.mid > reach:
		return IsHigher
	case e.mid < -reach:
		return IsLower
	default:
		return NotTold
	}
}

// toldOf returns an estimate as quantities.
func toldOf[T any](e estimate, of func(float64) T) Told[T] {
	const narrow, wide = 0.8, certainty
	between := func(coverage float64) quantity.Between[T] {
		reach := e.reach(coverage)
		return quantity.Between[T]{Low: of(e.mid - reach), High: of(e.mid + reach)}
	}
	return Told[T]{Mid: of(e.mid), P80: between(narrow), P95: between(wide)}
}

func each[T any](all []T, of func(T) float64) []float64 {
	values := make([]float64, 0, len(all))
	for _, v := range all {
		values = append(values, of(v))
	}
	return values
}
