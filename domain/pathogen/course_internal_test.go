package pathogen

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/quantity"
)

// The walk over a course finds what trying every moment finds, on courses and
// stages of whole hours: each hour is in a stage or in none, stages come one after
// the other without a break, and each before the last is as long as it asks.
func TestLongestIsThatOfEveryWay(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		degrees := rapid.IntRange(0, 3)
		var course []while
		var hourly []int
		for range rapid.IntRange(0, 5).Draw(t, "steps") {
			at, h := degrees.Draw(t, "at"), rapid.IntRange(1, 4).Draw(t, "hours")
			course = append(course, while{quantity.MustCelsius(float64(at)), time.Duration(h) * time.Hour})
			for range h {
				hourly = append(hourly, at)
			}
		}
		var stages []asked
		var least, spans []int
		for range rapid.IntRange(1, 3).Draw(t, "stages") {
			at, h := degrees.Draw(t, "at least"), rapid.IntRange(1, 3).Draw(t, "for")
			stages = append(stages, asked{quantity.MustCelsius(float64(at)), time.Duration(h) * time.Hour})
			least, spans = append(least, at), append(spans, h)
		}
		want := make([]int, len(stages))
		var try func(k, hour, elapsed int)
		try = func(k, hour, elapsed int) {
			want[k] = max(want[k], elapsed)
			if elapsed >= spans[k] && k+1 < len(stages) {
				try(k+1, hour, 0)
			}
			if hour < len(hourly) && hourly[hour] >= least[k] {
				try(k, hour+1, elapsed+1)
			}
		}
		for start := range hourly {
			try(0, start, 0)
		}
		for k, got := range longest(course, stages) {
			if max(got, 0) != time.Duration(want[k])*time.Hour {
				t.Fatalf("stage %d of %v in %v: want %d h, got %v", k, stages, hourly, want[k], got)
			}
		}
	})
}
