package drying

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/quantity"
)

// longestRunBefore is the search for the longest run as it was before weigh-ins
// could be confirmed. Where none is, the answer must be the same to the last
// bit, or the same order would get another projection.
func longestRunBefore(all []Weighed, days, lost []float64, fastest float64) []bool {
	const none = -1
	slope := usualSlope(all, days, lost)
	length, before, bend := make([]int, len(all)), make([]int, len(all)), make([]float64, len(all))
	best := none
	for i := range all {
		before[i] = none
		if all[i].Doubt != "" {
			continue
		}
		link := func(after int, day, loss float64) {
			if !follows(day, loss, days[i], lost[i], fastest) {
				return
			}
			n, b := 1, 0.0
			if after != none {
				n, b = length[after]+1, bend[after]
			}
			span := math.Max(math.Sqrt(days[i])-math.Sqrt(day), math.Sqrt(days[i]+1.0/24)-math.Sqrt(days[i]))
			b += square(lost[i]-loss-slope*span) / span
			if n > length[i] || n == length[i] && b < bend[i] {
				length[i], before[i], bend[i] = n, after, b
			}
		}
		link(none, 0, 0)
		for j := range i {
			if length[j] > 0 {
				link(j, days[j], lost[j])
			}
		}
		if length[i] > 0 && (best == none || length[i] > length[best] || length[i] == length[best] && bend[i] < bend[best]) {
			best = i
		}
	}
	in := make([]bool, len(all))
	for i := best; i != none; i = before[i] {
		in[i] = true
	}
	return in
}

func TestRunsWithoutConfirmedOnesAreAsTheyWere(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		days, lost, all := drawRun(t)
		for i := range all {
			all[i].Confirmed = false
		}
		fastest := rapid.SampledFrom([]float64{2, 5, freeRate}).Draw(t, "fastest")
		want, got := longestRunBefore(all, days, lost, fastest), longestRun(all, days, lost, fastest)
		if !slices.Equal(want, got) {
			t.Fatalf("want %v, got %v", want, got)
		}
	})
}

// The run found by trying all there are: through every confirmed one, and of
// those the longest.
func TestLongestRunAgainstAllRuns(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		days, lost, all := drawRun(t)
		const fastest = 5.0
		got := longestRun(all, days, lost, fastest)
		longest := 0
		for set := range 1 << len(all) {
			in := make([]bool, len(all))
			for i := range all {
				in[i] = set>>i&1 == 1
			}
			if n, is := run(all, days, lost, in, fastest); is {
				longest = max(longest, n)
			}
		}
		if n, is := run(all, days, lost, got, fastest); !is || n != longest {
			t.Fatalf("want a run of %d, got %v of %d, which is one: %v", longest, got, n, is)
		}
	})
}

// run returns how many weigh-ins there are in a set, and whether it is a run:
// each follows the one before, but that a confirmed one needs not follow a
// confirmed one or the green weight, and no confirmed one is left out.
func run(all []Weighed, days, lost []float64, in []bool, fastest float64) (int, bool) {
	n, day, loss, sure := 0, 0.0, 0.0, true
	for i, w := range all {
		switch {
		case !in[i] && w.Confirmed && w.Doubt == "":
			return 0, false
		case !in[i]:
			continue
		case w.Doubt != "":
			return 0, false
		case w.Confirmed && sure: // two that are sure may contradict each other
		case !follows(day, loss, days[i], lost[i], fastest):
			return 0, false
		}
		n, day, loss, sure = n+1, days[i], lost[i], w.Confirmed
	}
	return n, true
}

// drawRun draws weigh-ins of a kilogram, some of them confirmed and some in
// doubt already.
func drawRun(t *rapid.T) (days, lost []float64, all []Weighed) {
	day := 0.0
	for range rapid.IntRange(0, 9).Draw(t, "weigh-ins") {
		day += float64(rapid.IntRange(1, 72).Draw(t, "hours")) / 24
		loss := float64(rapid.IntRange(-3, 40).Draw(t, "loss"))
		w := Weighed{WeighIn: WeighIn{At: time.Time{}.Add(fromDays(day)), Weight: quantity.MustGrams(1000 - 10*loss)}}
		w.Confirmed = rapid.IntRange(0, 3).Draw(t, "confirmed") == 3
		if rapid.IntRange(0, 9).Draw(t, "in doubt") == 9 {
			w.Doubt = NotRepeated
		}
		days, lost, all = append(days, day), append(lost, loss), append(all, w)
	}
	return days, lost, all
}
