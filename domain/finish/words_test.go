package finish_test

import (
	"testing"

	"greenweight/domain/finding"
	"greenweight/domain/finish"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// The words are those of the contract, and read back.
func TestWords(t *testing.T) {
	t.Parallel()
	for m, w := range map[finish.Method]string{
		finish.ByMeter: "meter", finish.ByStrip: "strip", finish.ByLaboratory: "laboratory", finish.ByScale: "scale", finish.ByEstimate: "estimate",
	} {
		if back, ok := finish.ParseMethod(w); m.String() != w || back != m || !ok {
			t.Errorf("%s: got %s", w, m)
		}
	}
	for p, w := range map[finish.Place]string{finish.Core: "core", finish.Rim: "rim", finish.Mixed: "mixed"} {
		if back, ok := finish.ParsePlace(w); p.String() != w || back != p || !ok {
			t.Errorf("%s: got %s", w, p)
		}
	}
	for p, w := range map[finish.When]string{finish.Finished: "finished", finish.AfterFermentation: "after-fermentation"} {
		if back, ok := finish.ParseWhen(w); p.String() != w || back != p || !ok {
			t.Errorf("%s: got %s", w, p)
		}
	}
	for _, a := range finish.Analytes() {
		if back, ok := finish.ParseAnalyte(a.String()); back != a || !ok {
			t.Errorf("%s is not read back", a)
		}
	}
	for _, f := range rulebook.Facts() {
		if f.String() == "unstated" {
			t.Errorf("fact %d has no word", f)
		}
	}
	for _, m := range finish.EveryMeasurement() {
		if m.String() == "unstated" || m.How() == "" {
			t.Errorf("measurement %d has no word, or nothing is said of how", m)
		}
	}
	_, method := finish.ParseMethod("unstated")
	_, place := finish.ParsePlace("")
	_, when := finish.ParseWhen("")
	if method || place || when || finish.Method(0).String() != "unstated" || finish.When(-1).String() != "unstated" || finish.Measurement(0).How() != "" {
		t.Error("what is no word is read")
	}
}

// The trees on keeping without cold are for raw, dried sausage; the criteria on
// Listeria are for every product, and in Denmark those of the European Union hold.
func TestWhichTreesAreAsked(t *testing.T) {
	t.Parallel()
	o := finished()
	o.Formula.Product = rulebook.CookedSausage
	a := check(t, o)
	for _, tree := range a.Trees {
		asked := finding.NotApplicable
		if tree.Rule.Claim == rulebook.NoListeriaGrowth {
			asked = finding.Met
		}
		want(t, tree.Rule.ID, asked, tree.Status)
	}
	o = finished()
	o.Rulebooks = []rulebook.Jurisdiction{rulebook.Denmark}
	a = check(t, o)
	want(t, "in Denmark", finding.Met, treeOf(t, a, "eu-listeria-2073").Status)
	if len(a.Trees) != 2 || a.Verdicts[0].By != "" {
		t.Errorf("want that of practice and that of the European Union, got %d trees, by %q", len(a.Trees), a.Verdicts[0].By)
	}
}

// A brine of a rim alone is not shown, and one within what the analysis may be off
// is near: 1.5 in 28 is 5.08 percent, and with 0.2 and 0.5 from 4.4 to 5.8.
func TestBrine(t *testing.T) {
	t.Parallel()
	judged := func(a finish.Analysis) finding.Status {
		o := finished()
		o.Analyses = []finish.Analysis{a}
		return nodeOf(t, treeOf(t, check(t, o), "us-semidry-alt"), "brine").Status
	}
	rim := analysis(28, 25, 4)
	rim.Place = finish.Rim
	want(t, "a rim", finding.NotShown, judged(rim))
	sent := analysis(28, 25, 4)
	sent.Place = 0
	want(t, "what a laboratory was sent", finding.Met, judged(sent))
	sent.Method = finish.ByMeter
	want(t, "a place that is not stated", finding.NotShown, judged(sent))
	sent.Method = finish.ByEstimate
	want(t, "an estimate", finding.NotShown, judged(sent))
	rough := analysis(28, 25, 1.5)
	rough.Salt, rough.Moisture = &finish.Share{Of: quantity.MustPercent(1.5)}, &finish.Share{Of: quantity.MustPercent(28)}
	want(t, "by a usual analysis", finding.Near, judged(rough))
}
