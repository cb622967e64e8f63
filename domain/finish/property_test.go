package finish_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/finding"
	"greenweight/domain/finish"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// pieces are the parts of a finished lot that may be known or not, each with how it
// is taken away.
var pieces = []struct {
	name string
	of   finish.Measurement
	less func(*finish.Order)
	more func(o *finish.Order, from finish.Order)
}{
	{"water activity", finish.MeasureActivity, func(o *finish.Order) { o.Activity = nil }, func(o *finish.Order, from finish.Order) { o.Activity = from.Activity }},
	{"pH", finish.MeasurePH, func(o *finish.Order) { o.PH = nil }, func(o *finish.Order, from finish.Order) { o.PH = from.PH }},
	{"moisture and protein", finish.MeasureMoistureProtein, func(o *finish.Order) { o.Analyses = without(o.Analyses, false) }, func(o *finish.Order, from finish.Order) {
		o.Analyses = append(slices.Clone(o.Analyses), without(from.Analyses, true)...)
	}},
	{"salt and moisture", finish.MeasureSalt, func(o *finish.Order) { o.Analyses = without(o.Analyses, true) }, func(o *finish.Order, from finish.Order) {
		o.Analyses = append(slices.Clone(o.Analyses), without(from.Analyses, false)...)
	}},
	{"fermentation", finish.StateFermentation, func(o *finish.Order) { o.Course = nil }, func(o *finish.Order, from finish.Order) { o.Course = from.Course }},
	{"trichinae", finish.StateTrichinae, func(o *finish.Order) {
		if o.CarriedOut != nil {
			plan := *o.CarriedOut
			plan.Freezing = nil
			o.CarriedOut = &plan
		}
	}, func(o *finish.Order, from finish.Order) {
		plan := formula.Plan{}
		if o.CarriedOut != nil {
			plan = *o.CarriedOut
		}
		plan.Freezing = from.CarriedOut.Freezing
		o.CarriedOut = &plan
	}},
	{"smoke", finish.StateSmoke, func(o *finish.Order) {
		if o.CarriedOut != nil {
			plan := *o.CarriedOut
			plan.Smoke = nil
			o.CarriedOut = &plan
		}
		o.Smoked = nil
	}, func(o *finish.Order, _ finish.Order) { o.Smoked = yes() }},
	{"packing", finish.StatePacking, func(o *finish.Order) { o.Packed = finish.Packing{} }, func(o *finish.Order, from finish.Order) { o.Packed = from.Packed }},
	{"weights", finish.WeighPieces, func(o *finish.Order) {
		o.Weights = nil
		if o.CarriedOut != nil {
			plan := *o.CarriedOut
			plan.Drying = nil
			o.CarriedOut = &plan
		}
	}, func(o *finish.Order, from finish.Order) { o.Weights = from.Weights }},
	{"formula", finish.StateFormula, func(o *finish.Order) { o.Formula, o.CarriedOut = nil, nil }, func(o *finish.Order, from finish.Order) { o.Formula = from.Formula }},
}

// without returns analyses without protein and salt as one of both wants.
func without(all []finish.Analysis, salt bool) []finish.Analysis {
	var left []finish.Analysis
	for _, a := range all {
		if salt {
			a.Salt = nil
		} else {
			a.Protein = nil
		}
		left = append(left, a)
	}
	return left
}

// some takes some of what is known of a finished lot away.
func some(t *rapid.T) finish.Order {
	o := finished()
	for _, p := range pieces {
		if rapid.Bool().Draw(t, "without "+p.name) {
			p.less(&o)
		}
	}
	return o
}

func must(t *rapid.T, o finish.Order) finish.Answer {
	a, err := finish.Check(o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func rank(s finding.Status) int { return slices.Index(ladder, s) }

// What is favourable and is added never makes a tree worse; what is taken away
// never makes one met.
func TestKnowingMoreThatIsFavourableNeverWorsens(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := some(t)
		less := o
		p := pieces[rapid.IntRange(0, len(pieces)-1).Draw(t, "piece")]
		p.less(&less)
		more, fewer := must(t, o), must(t, less)
		for i := range more.Trees {
			if rank(fewer.Trees[i].Status) > rank(more.Trees[i].Status) {
				t.Fatalf("%s: %s, and without %s %s", more.Trees[i].Rule.ID, more.Trees[i].Status, p.name, fewer.Trees[i].Status)
			}
		}
	})
}

// A reading beside others, drier or more sour than all of them, never worsens.
func TestAFavourableReadingNeverWorsens(t *testing.T) {
	t.Parallel()
	places := []finish.Place{0, finish.Core, finish.Rim, finish.Mixed}
	rapid.Check(t, func(t *rapid.T) {
		o := finished()
		o.Activity, o.PH = nil, nil
		driest, sourest := 0.95, 6.0
		for range rapid.IntRange(0, 4).Draw(t, "readings") {
			at := places[rapid.IntRange(0, 3).Draw(t, "place")]
			a, p := float64(rapid.IntRange(820, 930).Draw(t, "activity"))/1000, float64(rapid.IntRange(43, 56).Draw(t, "ph"))/10
			o.Activity, o.PH = append(o.Activity, aw(a, at)), append(o.PH, acid(p, at))
			driest, sourest = min(driest, a), min(sourest, p)
		}
		before := must(t, o)
		at := places[rapid.IntRange(0, 3).Draw(t, "another place")]
		o.Activity, o.PH = append(slices.Clone(o.Activity), aw(driest-0.01, at)), append(slices.Clone(o.PH), acid(sourest-0.1, at))
		for i, tree := range must(t, o).Trees {
			// A reading taken where there was none may show that a limit is not reached.
			if len(o.Activity) > 1 && rank(tree.Status) < rank(before.Trees[i].Status) {
				t.Fatalf("%s: %s became %s", tree.Rule.ID, before.Trees[i].Status, tree.Status)
			}
		}
	})
}

// Drier and more sour is never worse.
func TestMonotonicInActivityAndPH(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := some(t)
		a, p := float64(rapid.IntRange(800, 980).Draw(t, "activity"))/1000, float64(rapid.IntRange(430, 600).Draw(t, "ph"))/100
		o.Activity, o.PH = []finish.Sample[quantity.WaterActivity]{aw(a, finish.Core)}, []finish.Sample[quantity.PH]{acid(p, finish.Core)}
		wet := must(t, o)
		o.Activity = []finish.Sample[quantity.WaterActivity]{aw(a-float64(rapid.IntRange(0, 100).Draw(t, "drier"))/1000, finish.Core)}
		o.PH = []finish.Sample[quantity.PH]{acid(p-float64(rapid.IntRange(0, 100).Draw(t, "more sour"))/100, finish.Core)}
		for i, tree := range must(t, o).Trees {
			if rank(tree.Status) < rank(wet.Trees[i].Status) {
				t.Fatalf("%s: %s became %s", tree.Rule.ID, wet.Trees[i].Status, tree.Status)
			}
		}
	})
}

// Each set that is told to complete a tree does, and without any one of it it does
// not.
func TestWhatIsToldToCompleteATreeDoes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o, seen := some(t), map[string]bool{}
		for _, n := range must(t, o).Next {
			for _, c := range n.Trees {
				all := append(c.With.List(), n.Measurement)
				slices.Sort(all)
				told := fmt.Sprint(c.Tree, all)
				if seen[told] || slices.Contains(all, finish.RecallPH) || slices.Contains(all, finish.RecallActivity) {
					continue
				}
				seen[told] = true
				if s := statusWith(t, o, c.Tree, all); s != finding.Met {
					t.Fatalf("%s is %s with all of %v", c.Tree, s, all)
				}
				for i := range all {
					if s := statusWith(t, o, c.Tree, slices.Delete(slices.Clone(all), i, i+1)); s == finding.Met {
						t.Fatalf("%s is met without %s of %v", c.Tree, all[i], all)
					}
				}
			}
		}
	})
}

// statusWith returns what a tree comes to with some measurements added.
func statusWith(t *rapid.T, o finish.Order, tree string, with []finish.Measurement) finding.Status {
	slices.Sort(with) // the formula first, which what was done goes with
	for _, m := range with {
		for _, p := range pieces {
			if p.of == m {
				p.more(&o, finished())
			}
		}
	}
	if o.Formula == nil {
		o.CarriedOut = nil
	}
	for _, found := range must(t, o).Trees {
		if found.Rule.ID == tree {
			return found.Status
		}
	}
	t.Fatalf("no tree %s", tree)
	return 0
}

// Nothing is ever met of nothing, in any rulebook.
func TestNothingKnownShowsNothing(t *testing.T) {
	t.Parallel()
	for _, j := range rulebook.Jurisdictions() {
		a := check(t, finish.Order{Rulebooks: []rulebook.Jurisdiction{j}, Date: time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)})
		for _, f := range a.Findings {
			if f.Status == finding.Met || f.Status == finding.Near {
				t.Errorf("%s: %s is %s", j, f.Code, f.Status)
			}
		}
		want(t, j.String(), finding.NotShown, a.Verdicts[0].Keeps)
		want(t, j.String()+", cold", finding.NotShown, a.Verdicts[0].Cold)
	}
}
