package drydown

import (
	"math"
	"testing"
)

// Of three cases one says never: errors are of the two days told, twice and half
// the truth, the score is of all three.
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
	near(t, "90 %", 95, *got.P90AbsRelative, 1e-9)
	near(t, "log rms", math.Ln2, *got.RMSLog, 1e-9)
	near(t, "CRPS", (2*math.Ln2+math.Log(365.0/20))/3, got.CRPS, 1e-9)

	none := sumUp(cases[2:], 0)
	if none.MedianRelative != nil || none.MeanAbsRelative != nil || none.P90AbsRelative != nil || none.RMSLog != nil {
		t.Errorf("want no error where no day is told, got %+v", none)
	}
}
