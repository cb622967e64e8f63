package scoring_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"greenweight/integration/backtest/scoring"
)

func near(t *testing.T, what string, want, got, tolerance float64) {
	t.Helper()
	if !(math.Abs(want-got) <= tolerance) {
		t.Errorf("%s: want %v within %v, got %v", what, want, tolerance, got)
	}
}

func normalQuantiles(mean, sd float64) []float64 {
	at := make([]float64, scoring.Levels)
	for i := range at {
		at[i] = distuv.Normal{Mu: mean, Sigma: sd}.Quantile(scoring.Level(i))
	}
	return at
}

// The closed form of a normal distribution, Gneiting and Raftery, Journal of the
// American Statistical Association 102, 2007, equation 5, is without their sign
//
//	CRPS = sd (z (2 Φ(z) - 1) + 2 φ(z) - 1/√π), z = (y - mean)/sd
//
// With Φ(1) = 0.841345, φ(1) = 0.241971, φ(0) = 0.398942 and 1/√π = 0.564190 that
// is 0.233695 at z = 0 and 0.602441 at z = ±1; Φ(2) = 0.977250, φ(2) = 0.053991
// give 1.452792 at z = 2.
func TestCRPSOfANormal(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ mean, sd, y, want float64 }{
		{0, 1, 0, 0.233695},
		{0, 1, 1, 0.602441},
		{0, 1, -1, 0.602441},
		{0, 1, 2, 1.452792},
		{3, 0.5, 4, 0.726396}, // half of that at z = 2
	} {
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			t.Parallel()
			// 400 quantiles leave out a little of the tails.
			near(t, "CRPS", c.want, scoring.CRPS(normalQuantiles(c.mean, c.sd), c.y), 5e-4*c.sd)
		})
	}
}

// An empirical distribution has CRPS = mean |x - y| - mean |x - x'| / 2, the
// second mean over all ordered pairs, a value with itself among them.
func TestCRPSOfValues(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name      string
		values    []float64
		y, want   float64
		tolerance float64
	}{
		{"a point", []float64{2}, 5, 3, 1e-12},
		{"a point that is right", []float64{2}, 2, 0, 1e-12},
		// (1+0+2)/3 - (1+3+2)*2/9/2 = 1 - 2/3
		{"three, the truth on one", []float64{1, 2, 4}, 2, 1.0 / 3, 1e-12},
		// (9+8+6)/3 - 2/3
		{"three, the truth above", []float64{1, 2, 4}, 10, 7, 1e-12},
		// (1+2+4)/3 - 2/3
		{"three, the truth below", []float64{1, 2, 4}, 0, 5.0 / 3, 1e-12},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			near(t, "CRPS", c.want, scoring.CRPS(c.values, c.y), c.tolerance)
		})
	}
}

// With z = 1.959964, z² = 3.841459:
//
//	8 of 10: centre (0.8 + 0.1920730)/1.3841459 = 0.716740,
//	         half 1.959964/1.3841459 √(0.016 + 0.00960365) = 0.226576
//	5 of 10: centre 0.5, half 1.416010 √(0.025 + 0.00960365) = 0.263407
//	0 of 10: from 0 to 3.841459/13.841459 = 0.277533
func TestWilson(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		hits, n   int
		low, high float64
	}{
		{8, 10, 0.490164, 0.943316},
		{5, 10, 0.236593, 0.763407},
		{0, 10, 0, 0.277533},
		{10, 10, 0.722467, 1},
	} {
		t.Run(fmt.Sprintf("%d of %d", c.hits, c.n), func(t *testing.T) {
			t.Parallel()
			got := scoring.Wilson(c.hits, c.n)
			near(t, "low", c.low, got.Low, 2e-5)
			near(t, "high", c.high, got.High, 2e-5)
		})
	}
}

func TestBootstrap(t *testing.T) {
	t.Parallel()
	if got := scoring.Bootstrap([]float64{3}, []float64{4}); got != nil {
		t.Errorf("one study: want none, got %v", *got)
	}
	if got := scoring.Bootstrap([]float64{1, 1}, []float64{0, 0}); got != nil {
		t.Errorf("nothing to divide by: want none, got %v", *got)
	}
	// Studies that agree leave no doubt.
	if got := scoring.Bootstrap([]float64{1, 2, 5}, []float64{2, 4, 10}); *got != (scoring.Interval{Low: 0.5, High: 0.5}) {
		t.Errorf("studies that agree: want 0.5-0.5, got %v", *got)
	}
	// Of two studies a draw has both the first in a quarter of the draws, both
	// the second in another.
	first := scoring.Bootstrap([]float64{0, 1}, []float64{1, 1})
	if *first != (scoring.Interval{Low: 0, High: 1}) {
		t.Errorf("two studies that differ: want 0-1, got %v", *first)
	}
	// Of eight studies that hold 4 of 8 the sum of a draw is binomial: below 2 in
	// 3.5 percent of draws and below 1 in 0.4, so that the 2.5 percent quantile
	// is at 1 of 8, and by symmetry the other at 7.
	eight := scoring.Bootstrap([]float64{0, 0, 0, 0, 1, 1, 1, 1}, []float64{1, 1, 1, 1, 1, 1, 1, 1})
	if *eight != (scoring.Interval{Low: 0.125, High: 0.875}) {
		t.Errorf("eight studies: want 0.125-0.875, got %v", *eight)
	}
	if again := scoring.Bootstrap([]float64{0, 1}, []float64{1, 1}); *again != *first {
		t.Errorf("the same again: want %v, got %v", *first, *again)
	}
}

// By hand from the definition, with the distribution of two values a step at
// each: of 0.25 and 0.75 it is ∫ (Fn - u)² du = 4 ∫ u² du from 0 to 0.25 = 4/192;
// of one value at 0 it is ∫ (1 - u)² du = 1/3, and of one at a half 2 ∫ u² du from 0
// to a half = 1/12.
func TestUniformity(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name           string
		given          []float64
		want, byChance float64 // squares
	}{
		{"even", []float64{0.75, 0.25}, 1.0 / 48, 1.0 / 12},
		{"one end", []float64{0}, 1.0 / 3, 1.0 / 6},
		{"the middle", []float64{0.5}, 1.0 / 12, 1.0 / 6},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			distance, byChance := scoring.Uniformity(c.given)
			near(t, "distance", math.Sqrt(c.want), distance, 1e-12)
			near(t, "by chance", math.Sqrt(c.byChance), byChance, 1e-12)
		})
	}
}

// A calibrated forecaster is as far from even as chance makes it: the mean square
// over 4,000 draws of 30 is 1/(6·30), of which the mean has an error of some 1.5
// percent. One whose bands are half as wide as they should be is further off.
func TestUniformityOfACalibratedForecaster(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 2)) //nolint:gosec // a fixed seed is meant: the same draws in each run
	const draws, cases = 4000, 30
	meanSquare := func(told distuv.Normal) float64 {
		sum := 0.0
		for range draws {
			given := make([]float64, cases)
			for i := range given {
				given[i] = told.CDF(random.NormFloat64())
			}
			distance, _ := scoring.Uniformity(given)
			sum += distance * distance / draws
		}
		return sum
	}
	near(t, "calibrated", 1.0/(6*cases), meanSquare(distuv.UnitNormal), 0.05/(6*cases))
	if narrow := meanSquare(distuv.Normal{Sigma: 0.5}); narrow < 2.0/(6*cases) {
		t.Errorf("bands half as wide: want twice what chance gives and more, got %v of %v", narrow, 1.0/(6*cases))
	}
}

func TestQuantile(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		ordered []float64
		p, want float64
	}{
		{"median of an odd count", []float64{1, 2, 9}, 0.5, 2},
		{"median of an even count", []float64{1, 2, 4, 9}, 0.5, 3},
		{"of one", []float64{7}, 0.9, 7},
		{"the last", []float64{1, 2}, 1, 2},
		{"nine tenths of 1..11", []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}, 0.9, 10},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			near(t, "quantile", c.want, scoring.Quantile(c.ordered, c.p), 1e-12)
		})
	}
	if got := scoring.Quantile(nil, 0.5); !math.IsNaN(got) {
		t.Errorf("of none: want NaN, got %v", got)
	}
}
