package drydown

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"greenweight/integration/backtest/scoring"
)

// told is a forecast that is normal on ln(day) with its median at 100.
func told(sd float64) forecast {
	f := forecast{Model: ours, Median: 100}
	f.spread(sd)
	return f
}

func TestWidened(t *testing.T) {
	t.Parallel()
	want, got := told(0.3), told(0.1).widened(3)
	for i := range want.Quantiles {
		near(t, "quantile", want.Quantiles[i], got.Quantiles[i], 1e-9)
	}
	near(t, "high end", want.Bands[1].High, got.Bands[1].High, 1e-9)
	near(t, "median", 100, got.Median, 0)
	never := forecast{Model: ours, Median: 100, Bands: &[3]band{{90, 110}, {80, math.Inf(1)}, {70, math.Inf(1)}}, Quantiles: []float64{90, math.Inf(1)}}
	if w := never.widened(0.5); !math.IsInf(w.Bands[1].High, 1) || !math.IsInf(w.Quantiles[1], 1) {
		t.Errorf("want never to stay, got %+v", w)
	}
}

// Truths at the middles of equal parts of a normal of sd 0.2 on ln(day): a
// forecaster that tells that spread needs no other width, one that tells half of
// it the double, and one that tells the double half. The study left out has no
// say: C, told right, is given what A and B, told too narrow, ask for.
func TestLeaveOneOut(t *testing.T) {
	t.Parallel()
	study := func(name string, spread float64) []*oneCase {
		const n = 200
		s := &series{study: name}
		var cases []*oneCase
		for i := range n {
			f := told(spread)
			truth := 100 * math.Exp(distuv.Normal{Sigma: 0.2}.Quantile((float64(i)+0.5)/n))
			cases = append(cases, &oneCase{
				series: s, stage: stages()[0], truth: truth, forecasts: []forecast{f}, scores: []score{judge(f, truth, 10)},
				question: question{seen: []point{{10, 10}}, target: 30},
			})
		}
		return cases
	}
	out := leaveOneOut(append(append(study("A", 0.1), study("B", 0.1)...), study("C", 0.2)...))
	c := out[2]
	near(t, "width for C", 2, c.Factor, 0.13) // a step of the search is 6 %
	near(t, "held as it is", 80, c.Held, 1)
	// With twice the spread the band of 80 % is ±2.563 sd of the truth: Φ gives 98.96 %.
	near(t, "held left out", 99, c.HeldOut, 1)
	if c.LeftOut <= c.CRPS || c.Best > c.CRPS {
		t.Errorf("want C to be worse off with what others ask for, and no better with its own, got %+v", c)
	}
	// CRPS of a normal told right, in the mean over the truth: sd/√π.
	near(t, "CRPS", 0.2/math.Sqrt(math.Pi), c.CRPS, 1e-3)

	alone := leaveOneOut(study("A", 0.1))
	if !alone[0].Excluded || alone[0].Factor != 1 || alone[0].LeftOut != alone[0].CRPS {
		t.Errorf("a single study: want it left as it is, got %+v", alone[0])
	}
	// Analogues have no say, and are not told of.
	odd := study("D", 0.02)
	for _, c := range odd {
		c.series.analogue = true
	}
	with := leaveOneOut(append(append(study("A", 0.1), study("B", 0.2)...), odd...))
	without := leaveOneOut(append(study("A", 0.1), study("B", 0.2)...))
	if len(with) != 2 || with[0] != without[0] || with[1] != without[1] {
		t.Errorf("want analogues left out, got %+v and %+v", with, without)
	}
	if len(factors()) != 25 || factors()[12] != 1 || scoring.Levels != 400 {
		t.Error("want the middle of 25 widths to be none")
	}
}
