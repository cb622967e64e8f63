package acidity

import (
	"math"
	"testing"
)

func TestBaselines(t *testing.T) {
	t.Parallel()
	gompertz := func(fall, lag float64, hours ...float64) []reading {
		var all []reading
		for _, h := range hours {
			all = append(all, reading{h, 5.8 - usualDrop*math.Exp(-math.Exp(fall*math.E/usualDrop*(lag-h)+1))})
		}
		return all
	}
	for _, c := range []struct {
		name      string
		of        string
		seen      []reading
		want      float64
		tolerance float64
	}{
		// 0.1 in 4 h: 0.2 more takes 8.
		{"the last two alone", straightLine, []reading{{0, 5.9}, {8, 5.6}, {12, 5.5}}, 20, 1e-9},
		{"level", straightLine, []reading{{0, 5.9}, {8, 5.5}, {12, 5.5}}, never, 0},
		{"rising", straightLine, []reading{{0, 5.5}, {8, 5.6}}, never, 0},
		// Hours -1, 0, 1 about 10 and pH 5.8, 5.6, 5.7 give 5.7 - 0.05 (h - 10).
		{"through all", "line through all", []reading{{9, 5.8}, {10, 5.6}, {11, 5.7}}, 18, 1e-9},
		// The line of 6, 5.4, 5.35 and 5.35 is at the target at 2.93 h, before the last reading.
		{"not before the last reading", "line through all", hourly(6, 5.4, 5.35, 5.35), 3, 1e-9},
		// From the formula of the crossing, whose first reading is at 5.8 but for 1e-9.
		{
			"Gompertz", "Gompertz", gompertz(0.06, 14, 0, 10, 14, 18),
			14 + usualDrop/(0.06*math.E)*(1-math.Log(-math.Log(0.5/usualDrop))), 0.05,
		},
		{"Gompertz from too high", "Gompertz", []reading{{0, 6.5}, {30, 5.8}}, never, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			for _, b := range baselines() {
				if b.name != c.of {
					continue
				}
				got, err := b.hour(c.seen)
				if err != nil {
					t.Fatal(err)
				}
				if got != c.want && !(math.Abs(got-c.want) <= c.tolerance) {
					t.Errorf("want %v, got %v", c.want, got)
				}
			}
		})
	}
}
