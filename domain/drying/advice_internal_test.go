package drying

import (
	"testing"

	"pgregory.net/rapid"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Damper air never speaks more for a dry ring, and a slower piece never less.
func TestDamperAirNeverSpeaksForADryRing(t *testing.T) {
	t.Parallel()
	rank := map[SignatureVerdict]int{SlowedInDampAir: 0, SlowedUnclear: 1, SlowedInDryAir: 2}
	rapid.Check(t, func(t *rapid.T) {
		a := adviser{activity: activity{aw: rapid.Float64Range(0.7, 0.97).Draw(t, "aw"), sd: rapid.Float64Range(0.005, 0.05).Draw(t, "sd"), told: true}}
		within := quantity.MustHumidityPercent(rapid.Float64Range(0, 10).Draw(t, "within"))
		verdict := func(humidity, slow float64) SignatureVerdict {
			a.read, a.seen = material.Is(quantity.MustHumidityPercent(humidity)), Seen{HumidityWithin: material.Is(within)}
			drive, driven := a.drive()
			return verdictOf(slow, drive, driven)
		}
		dry := rapid.Float64Range(0, 100).Draw(t, "dry")
		damp := rapid.Float64Range(dry, 100).Draw(t, "damp")
		if at, later := verdict(dry, 0.95), verdict(damp, 0.95); rank[later] > rank[at] {
			t.Fatalf("%v at %v %%, %v at %v %%", at, dry, later, damp)
		}
		less := rapid.Float64Range(0, sureHalved).Draw(t, "halved")
		if is := verdict(dry, less); is != AsFitted && is != SlowingNotShown && less < sureHalved {
			t.Fatalf("%v with a chance of %v", is, less)
		}
	})
}

// By hand: a rate of 0.5 a day with two weighings of 0.5 points a day apart, a
// standard deviation of 0.707, is below half of an expected 2.0 when the true rate is
// below 1.0: the normal distribution at 0.707 is 0.760. And expected rates of nothing
// to 2 have half of them below 0.5: below 1.0, with a scale without error, are all.
func TestChanceOfAHalvedRate(t *testing.T) {
	t.Parallel()
	sure := [7]float64{2, 2, 2, 2, 2, 2, 2}
	if got := below(interval{rate: 0.5, sd: 0.7071}, sure); got < 0.759 || got > 0.761 {
		t.Errorf("want 0.760, got %v", got)
	}
	even := [7]float64{0.1, 0.2, 0.5, 1, 1.5, 1.8, 1.9} // spread evenly over 0 to 2
	for _, row := range []struct{ rate, want float64 }{{0.25, 0.75}, {0.5, 0.5}, {0.75, 0.25}, {1, 0}} {
		if got := below(interval{rate: row.rate}, even); got < row.want-0.03 || got > row.want+0.03 {
			t.Errorf("%v: want %v, got %v", row.rate, row.want, got)
		}
	}
}

// A short time between two weighings is the scale's scatter: half a point lost in a
// day where 1.5 were expected is not sure to be slow, and in ten days it is.
func TestShortIntervalsDoNotTell(t *testing.T) {
	t.Parallel()
	expected := [7]float64{1, 1.1, 1.3, 1.5, 1.7, 1.9, 2}
	a := adviser{weighing: 0.5}
	short := a.between(weighed{0, 10, 10, 20}, weighed{1, 11, 11, 20.5})
	long := a.between(weighed{0, 10, 10, 20}, weighed{1, 20, 20, 22})
	if got := verdictOf(below(short, expected), 1, true); got != SlowingNotShown {
		t.Errorf("a day: %v", got)
	}
	if got := verdictOf(below(long, expected), 1, true); got != SlowedInDryAir {
		t.Errorf("ten days: %v", got)
	}
}

// Words are told apart, and nothing beyond them is one.
func TestAdviceWords(t *testing.T) {
	t.Parallel()
	for _, of := range [][]string{
		{TooFast.String(), Fast.String(), Comfortable.String(), Slow.String(), Stopped.String(), PaceNotShown.String()},
		{RingNoneSeen.String(), RingWatch.String(), RingLikely.String(), RingNotShown.String()},
		{AsFitted.String(), SlowedInDryAir.String(), SlowedInDampAir.String(), SlowedUnclear.String(), SlowingNotShown.String()},
		{Keep.String(), Raise.String(), Lower.String(), Equalise.String(), NoSetting.String()},
		{Even.String(), UnevenWatch.String(), Uneven.String(), EvennessNotShown.String()},
	} {
		seen := map[string]bool{"unstated": true, "": true}
		for _, word := range of {
			if seen[word] {
				t.Errorf("%q is said twice or says nothing", word)
			}
			seen[word] = true
		}
	}
	if PaceVerdict(0).String() != "unstated" || Evenness(9).String() != "unstated" {
		t.Error("an invalid verdict has a word")
	}
}
