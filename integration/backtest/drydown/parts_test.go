package drydown

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

func TestWithin(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		v    float64
		want label
	}{
		{44.9, label{"x", 0, "below 45 mm"}}, {45, label{"x", 1, "45 to below 60 mm"}}, {59.9, label{"x", 1, "45 to below 60 mm"}},
		{60, label{"x", 2, "60 mm and more"}},
	} {
		if got := within("x", c.v, "mm", 45, 60); got != c.want {
			t.Errorf("%v: want %+v, got %+v", c.v, c.want, got)
		}
	}
}

// Two thick pieces told 20 and 40 % late and a thin one told 10 % early, where
// the five simple methods told 50, 60, 70, 85 and 130 of 100 days.
func TestPartsOf(t *testing.T) {
	t.Parallel()
	sized := func(millimetres float64) *series {
		return &series{study: "A", facts: facts{diameter: material.Is(quantity.MustMillimetres(millimetres))}}
	}
	five := [5]float64{50, 60, 70, 85, 130}
	cases := append(groupOf(sized(90), five, 1.2, 140, 120), groupOf(sized(40), five, 1.2, 90)...)
	cases[0].question.facts, cases[1].question.facts, cases[2].question.facts = cases[0].series.facts, cases[1].series.facts, cases[2].series.facts
	cases[1].series = cases[0].series
	// In bands of half to 1.2 times the day told: 100 is in each but after none.
	late, early := 30.0, -10.0
	want := []part{
		{Group: groupSausage, By: "diameter", Value: "below 45 mm", Cases: 1, Bias: &early, Mean: 10, Best: "Page", Least: 15, Held: 100},
		{Group: groupSausage, By: "diameter", Value: "80 mm and more", Cases: 2, Bias: &late, Mean: 30, Best: "Page", Least: 15, Held: 100},
	}
	got := partsOf(groupSausage, cases)
	for i := range got {
		got[i].CRPS = 0
	}
	if d := cmp.Diff(want, got, cmp.Comparer(func(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 })); d != "" {
		t.Errorf("parts (-want +got):\n%s", d)
	}
}
