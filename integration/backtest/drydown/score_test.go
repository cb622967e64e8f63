package drydown

import (
	"fmt"
	"math"
	"testing"

	"greenweight/integration/backtest/dice"
)

func near(t *testing.T, what string, want, got, tolerance float64) {
	t.Helper()
	if !(math.Abs(want-got) <= tolerance) {
		t.Errorf("%s: want %v within %v, got %v", what, want, tolerance, got)
	}
}

func TestJudge(t *testing.T) {
	t.Parallel()
	never := math.Inf(1)
	quarters := []float64{40, 80, 160, never}
	for _, c := range []struct {
		name string
		f    forecast
		want score
	}{
		// Told 96 where it was 80.
		{"a bare day", forecast{Median: 96}, score{Relative: 0.2, Log: math.Log(1.2), CRPS: math.Log(1.2)}},
		// Never is 20 times the last day: 400, five times the truth.
		{"never", forecast{Median: never}, score{Relative: 4, Log: math.Log(5), CRPS: math.Log(5), Never: true}},
		{"no answer", forecast{Median: never, Refused: "why"}, score{Relative: 4, Log: math.Log(5), CRPS: math.Log(5), Never: true, Refused: true}},
		{"later than that", forecast{Median: 1e6}, score{Relative: 4, Log: math.Log(5), CRPS: math.Log(5)}},
		// Quantiles at 1/8, 3/8, 5/8 and 7/8; the last counts as 400. With a = ln 2:
		// 2/4 (1/8 a + 0 + 3/8 a + 1/8 ln 5). The band of 80 percent is 340 days wide.
		{
			"a distribution",
			forecast{Median: 120, Bands: &[3]band{{100, 140}, {60, never}, {80, 80}}, Quantiles: quarters},
			score{
				Relative: 0.5, Log: math.Log(1.5), CRPS: (math.Ln2/2 + math.Log(5)/8) / 2, Spread: true,
				Inside: [3]bool{false, true, true}, Width: 4.25, PIT: 0.5,
			},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := judge(c.f, 80, 20)
			near(t, "relative error", c.want.Relative, got.Relative, 1e-12)
			near(t, "log error", c.want.Log, got.Log, 1e-12)
			near(t, "CRPS", c.want.CRPS, got.CRPS, 1e-12)
			near(t, "width", c.want.Width, got.Width, 1e-12)
			near(t, "PIT", c.want.PIT, got.PIT, 1e-12)
			if c.want.Never != got.Never || c.want.Refused != got.Refused || c.want.Spread != got.Spread || c.want.Inside != got.Inside {
				t.Errorf("want %+v, got %+v", c.want, got)
			}
		})
	}
}

// A year is the least that never counts as.
func TestLatest(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ last, want float64 }{{1, 365}, {18, 365}, {18.25, 365}, {20, 400}} {
		if got := latest(c.last); got != c.want {
			t.Errorf("last weigh-in on day %v: want %v, got %v", c.last, c.want, got)
		}
	}
}

// A forecaster that tells the spread that the truth has is calibrated: of 3,000
// draws each tenth of the probability has about 300 (sd 16), each band holds as
// it says, and the distance is what chance makes.
func TestACalibratedForecasterIsFoundSo(t *testing.T) {
	t.Parallel()
	const n = 3000
	d := dice.New(4, 4)
	f := forecast{Model: ours, Median: 40}
	f.spread(0.3)
	s := &series{study: "A"}
	var cases []*oneCase
	for range n {
		truth := d.Times(40, 0.3)
		cases = append(cases, &oneCase{series: s, truth: truth, forecasts: []forecast{f, {Model: straightLine, Median: 40}}, scores: []score{judge(f, truth, 10), judge(f, truth, 10)}})
	}
	got := sumUp(cases, 0)
	for i, in := range got.PIT {
		near(t, fmt.Sprintf("tenth %d", i), n/10, float64(in), 4*16.4)
	}
	for i, want := range []float64{50, 80, 90} {
		near(t, "held", want, got.Coverage[i].Share, 4*100*math.Sqrt(want/100*(1-want/100)/n))
	}
	if *got.PITDistance > 2.5**got.PITByChance {
		t.Errorf("want a distance as by chance, %v, got %v", *got.PITByChance, *got.PITDistance)
	}
	near(t, "by chance", 100/math.Sqrt(6*n), *got.PITByChance, 1e-9)
	near(t, "before and after", 0.2*n, float64(got.Before+got.After), 4*math.Sqrt(0.16*n))
}
