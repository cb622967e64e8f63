package drydown

import (
	"math"
	"testing"
)

// Of three cases one says never: errors are of the two days told, twice and half
// the truth, what is counted and the score are of all three.
func TestNeverIsCountedApart(t *testing.T) {
	t.Parallel()
	s := &series{study: "A"}
	var cases []*oneCase
	for _, day := range []float64{40, 10, math.Inf(1)} {
		f := forecast{Model: straightLine, Median: day}
		cases = append(cases, &oneCase{series: s, truth: 20, forecasts: []forecast{f}, scores: []score{judge(f, 20, 5)}})
	}
	got := sumUp(cases, 0)
	if got.Cases != 3 || got.Never != 1 || got.Refused != 0 {
		t.Errorf("want 3 cases with 1 never, got %+v", got)
	}
	near(t, "bias", 25, *got.MedianRelative, 1e-9) // of +100 and -50
	near(t, "mean", 75, *got.MeanAbsRelative, 1e-9)
	near(t, "median", 75, *got.MedianAbs, 1e-9)
	near(t, "90 %", 95, *got.P90AbsRelative, 1e-9)
	near(t, "counted", (100+50+100)/3.0, got.MeanError, 1e-9) // never counts as 100
	near(t, "log rms", math.Ln2, *got.RMSLog, 1e-9)
	near(t, "CRPS", (2*math.Ln2+math.Log(365.0/20))/3, got.CRPS, 1e-9)

	none := sumUp(cases[2:], 0)
	if none.MedianRelative != nil || none.MeanAbsRelative != nil || none.P90AbsRelative != nil || none.RMSLog != nil {
		t.Errorf("want no error where no day is told, got %+v", none)
	}
}

// Series a has two cases off by 100 % and one that is right, series b one that is
// off by 20 %: by case (100+100+0+20)/4, by series (200/3 + 20)/2. Of a the band
// holds one of three, of b its only one.
func TestBySeriesEachCountsAsOne(t *testing.T) {
	t.Parallel()
	a, b := &series{study: "A"}, &series{study: "A"}
	told := func(s *series, day float64) *oneCase {
		f := forecast{Model: straightLine, Median: day, Bands: &[3]band{{day, day}, {0.8 * day, 1.2 * day}, {1, 99}}, Quantiles: []float64{day}}
		return &oneCase{series: s, truth: 20, forecasts: []forecast{f}, scores: []score{judge(f, 20, 5)}}
	}
	got := sumUp([]*oneCase{told(a, 40), told(a, 40), told(a, 20), told(b, 24)}, 0)
	near(t, "counted", 55, got.MeanError, 1e-9)
	near(t, "by series", (200.0/3+20)/2, got.MeanBySeries, 1e-9)
	near(t, "held", 50, got.Coverage[1].Share, 1e-9)
	near(t, "held by series", (100.0/3+100)/2, got.Coverage[1].BySeries, 1e-9)
	if got.Series != 2 || got.Cases != 4 {
		t.Errorf("want 4 cases of 2 series, got %d of %d", got.Cases, got.Series)
	}
}
