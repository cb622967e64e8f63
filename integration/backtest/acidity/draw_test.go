package acidity

import (
	"math"
	"reflect"
	"testing"

	"greenweight/domain/rulebook"
)

func TestSeedDecides(t *testing.T) {
	t.Parallel()
	lots := computed(7, 40)
	if !reflect.DeepEqual(lots, computed(7, 40)) {
		t.Error("want the same lots of the same seed")
	}
	if !reflect.DeepEqual(lots, computed(7, 80)[:40]) {
		t.Error("want more lots to leave those before as they were")
	}
	if reflect.DeepEqual(lots, computed(8, 40)) {
		t.Error("want other lots of another seed")
	}
}

// Of a thousand lots each kind, chamber, schedule, instrument and species is
// there, and some that never come down. What is read is in order, on the fields
// of the instrument, above the target but for the last, and off the truth by
// chance only.
func TestComputedLots(t *testing.T) {
	t.Parallel()
	found := map[string]int{}
	for _, lot := range computed(5, 1000) {
		found[lot.kind]++
		found[lot.climate]++
		found[lot.schedule]++
		found[map[float64]string{0: "meter", 0.25: "fine strip", 0.5: "coarse strip"}[lot.facts.grade]]++
		if lot.facts.species != "" {
			if _, ok := rulebook.CultureByKey(lot.facts.species); !ok {
				t.Fatalf("%s: no species %q", lot.id, lot.facts.species)
			}
			found[lot.facts.species]++
		}
		if lot.truth.Never {
			found["never"]++
		}
		if lot.truth.Never != math.IsInf(lot.truth.Point, 1) || lot.truth.After != lot.truth.By {
			t.Errorf("%s: want an exact truth, got %+v", lot.id, lot.truth)
		}
		for i, r := range lot.readings {
			switch {
			case i > 0 && r.hour <= lot.readings[i-1].hour:
				t.Errorf("%s: hour %v comes after %v", lot.id, r.hour, lot.readings[i-1].hour)
			case i < len(lot.readings)-1 && r.ph <= target:
				t.Errorf("%s: read on after pH %v", lot.id, r.ph)
			case lot.facts.grade > 0 && math.Mod(r.ph, lot.facts.grade) != 0:
				t.Errorf("%s: pH %v is no field of a strip of %v", lot.id, r.ph, lot.facts.grade)
			}
		}
	}
	want := []string{kindGrowth, kindGompertz, kindLogistic, "meter", "fine strip", "coarse strip", "never"}
	want = append(want, climates...)
	for _, s := range schedules {
		want = append(want, s.name)
	}
	for _, c := range cultures {
		want = append(want, c.key)
	}
	for _, name := range want {
		if found[name] < 20 {
			t.Errorf("%s: want at least 20 of 1000 lots, got %d", name, found[name])
		}
	}
	if found[kindGrowth] != 750 || found[kindGompertz] != 125 || found[kindLogistic] != 125 {
		t.Errorf("want 750, 125 and 125 lots of each kind, got %v", found)
	}
}

// A maker stops reading at the target, or gives up.
func TestMakersStopReading(t *testing.T) {
	t.Parallel()
	for _, lot := range computed(5, 300) {
		if len(lot.readings) == 0 {
			t.Fatalf("%s: nothing was read", lot.id)
		}
		last := lot.readings[len(lot.readings)-1]
		if lot.truth.Never && last.ph > target && last.hour > 150 {
			t.Errorf("%s: a maker read a lot that never comes down for %v h", lot.id, last.hour)
		}
		if !lot.truth.Never && last.ph > target && last.hour < lot.truth.Point-24 {
			t.Errorf("%s: a maker gave up at %v h on a lot that comes down at %v h", lot.id, last.hour, lot.truth.Point)
		}
	}
}
