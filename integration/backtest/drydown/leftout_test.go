package drydown

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/drying"
)

// Studies A and B do best with the second of three, C with the third. For C the
// others choose the second, on which it does worst; for A, B and C together are
// best off with the third (0.5 + 0.2 against 0.3 + 0.9 and 0.6 + 0.4).
func TestChosenElsewhere(t *testing.T) {
	t.Parallel()
	tried := []scales{{1, 1, 1}, {0.5, 1, 1}, {1, 2, 1}}
	of := func(crps ...float64) []fitted {
		var all []fitted
		for _, v := range crps {
			all = append(all, fitted{CRPS: v, Error: 100 * v, Held: 80})
		}
		return all
	}
	scores := [][]fitted{of(0.4, 0.6, 0.4), of(0.1, 0.3, 0.9), of(0.8, 0.5, 0.2)}
	f := func(crps float64) fitted { return fitted{crps, 100 * crps, 80} }
	want := []leftOut{
		{Chosen: tried[2], AsIs: f(0.4), Left: f(0.8), Itself: f(0.1)},
		{Chosen: tried[0], AsIs: f(0.6), Left: f(0.6), Itself: f(0.3)}, // A and C: 0.8 as it is, 1.0 and 1.0
		{Chosen: tried[1], AsIs: f(0.4), Left: f(0.9), Itself: f(0.2)},
	}
	if d := cmp.Diff(want, chosenElsewhere(tried, scores)); d != "" {
		t.Errorf("left out (-want +got):\n%s", d)
	}
	alone := chosenElsewhere(tried, [][]fitted{of(0.4), of(0.1), of(0.8)})
	if d := cmp.Diff([]leftOut{{Alone: true, Chosen: tried[0], AsIs: f(0.4), Left: f(0.4), Itself: f(0.1)}}, alone); d != "" {
		t.Errorf("a single study is left as it is (-want +got):\n%s", d)
	}
}

// The spreads that are tried reach the projection, and analogues have no say.
func TestLeaveOneOut(t *testing.T) {
	t.Parallel()
	all, _, err := readFile(inventedFile)
	if err != nil {
		t.Fatal(err)
	}
	cases, _, err := makeCases(all, false)
	if err != nil {
		t.Fatal(err)
	}
	asked := make(chan drying.Study, 10000)
	left, err := leaveOneOut(cases, func(s drying.Study, o drying.Order) (drying.Projection, error) {
		asked <- s
		return fake(o)
	})
	if err != nil {
		t.Fatal(err)
	}
	close(asked)
	misfits := map[float64]int{}
	for s := range asked {
		misfits[s.Misfit.Float()]++
	}
	// Nine of each misfit, and 12 cases of series that are no analogue.
	if d := cmp.Diff(map[float64]int{0.5: 108, 0.7: 108, 1: 108, 1.4: 108}, misfits); d != "" {
		t.Errorf("asked (-want +got):\n%s", d)
	}
	var studies []string
	for _, l := range left {
		studies = append(studies, l.Study)
		if l.Cases == 0 || l.Chosen != (scales{1, 1, 1}) || l.Left != l.AsIs {
			t.Errorf("a projection that nothing changes: want it left as it is, got %+v", l)
		}
	}
	if d := cmp.Diff([]string{"Invented for this example A", "Invented for this example B", "Invented for this example C"}, studies); d != "" {
		t.Errorf("studies (-want +got):\n%s", d)
	}
	none, err := leaveOneOut(nil, func(drying.Study, drying.Order) (drying.Projection, error) {
		return drying.Projection{}, errors.New("not asked")
	})
	if err != nil || none != nil {
		t.Errorf("no case: want nothing, got %v, %v", none, err)
	}
}
