package acidification

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The published crossings at a constant temperature, written out here:
// Gompertz t = λ + A/(μ e) (1 - ln(-ln((pH0 - 5.3)/A))), logistic
// t = λ + A/(4 μ) (2 - ln(A/(pH0 - 5.3) - 1)).
func TestCrossingsAreThoseOfTheClosedForms(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		start, drop := rapid.Float64Range(5.5, 6.2).Draw(t, "start"), rapid.Float64Range(1, 1.5).Draw(t, "drop")
		mu, lag := rapid.Float64Range(0.01, 0.5).Draw(t, "mu"), rapid.Float64Range(0.5, 40).Draw(t, "lag")
		part := (start - 5.3) / drop
		for s, want := range map[shape]float64{
			gompertz: lag + drop/(mu*math.E)*(1-math.Log(-math.Log(part))),
			logistic: lag + drop/(4*mu)*(2-math.Log(1/part-1)),
		} {
			c := curve{shape: s, start: start, floor: start - drop, steepest: mu, lag: lag}
			if got := c.lag + drop/mu*s.when(part); math.Abs(got-want) > 1e-9*want {
				t.Fatalf("shape %d crosses at %v, want %v", s, got, want)
			}
			if got := c.ph(want); math.Abs(got-5.3) > 1e-9 {
				t.Fatalf("shape %d is at %v where it crosses 5.3", s, got)
			}
		}
	})
}

// Each shape goes from 0 to 1, never back, is nowhere steeper than 1, is that
// steep somewhere, and its tangent there begins at 0.
func TestShapesAreMeasuredAlike(t *testing.T) {
	t.Parallel()
	const step = 1e-3
	for _, s := range shapes {
		steepest, at := 0.0, 0.0
		for x := -3.0; x < 8; x += step {
			slope := (s.of(x+step/2) - s.of(x-step/2)) / step
			if slope < 0 {
				t.Fatalf("shape %d goes back at %v", s, x)
			}
			if slope > steepest {
				steepest, at = slope, x
			}
		}
		if math.Abs(steepest-1) > 0.01 {
			t.Errorf("shape %d is at most %v steep", s, steepest)
		}
		if begins := at - s.of(at)/steepest; math.Abs(begins) > 0.01 {
			t.Errorf("the tangent of shape %d begins at %v", s, begins)
		}
		if low, high := s.of(-5), s.of(30); low > 1e-3 || high < 1-1e-6 {
			t.Errorf("shape %d goes from %v to %v", s, low, high)
		}
		for _, part := range []float64{0.02, 0.1, 0.5, 0.9, 0.99} {
			if got := s.of(s.when(part)); math.Abs(got-part) > 1e-4 {
				t.Errorf("shape %d is at %v where it should be at %v", s, got, part)
			}
		}
	}
}
