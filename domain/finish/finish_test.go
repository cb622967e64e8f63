package finish_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/finish"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
)

// A lot of which all is measured and favourable meets every tree whose figures
// were read; that of practice, known from memory, is not shown all the same.
func TestAFinishedLotMeetsWhatWasRead(t *testing.T) {
	t.Parallel()
	a := check(t, finished())
	for _, tree := range a.Trees {
		if tree.Rule.ID == "leistner" {
			want(t, tree.Rule.ID, finding.NotShown, tree.Status)
			continue
		}
		if tree.Status != finding.Met {
			for _, n := range tree.Nodes {
				t.Logf("%s %s: %s", n.Rule.ID, n.Status, n.Reason)
			}
		}
		want(t, tree.Rule.ID, finding.Met, tree.Status)
	}
	if len(a.Trees) != 8 {
		t.Errorf("want 8 trees, got %d", len(a.Trees))
	}
	if len(a.Next) != 0 {
		t.Errorf("nothing is left to measure, got %+v", a.Next)
	}
	for i, keeps := range []finding.Status{finding.Met, finding.Met, finding.NotShown, finding.NotShown} {
		want(t, a.Verdicts[i].Rulebook.String(), keeps, a.Verdicts[i].Keeps)
	}
	want(t, "cold in the us", finding.NotApplicable, a.Verdicts[0].Cold)
	want(t, "cold in the eu, kept warm", finding.NotMet, a.Verdicts[2].Cold)
}

// What each precondition does when it is missing, and when it fails.
func TestEveryConditionIsAsked(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, tree, node string
		change           func(*finish.Order)
		want, whole      finding.Status
	}{
		{"no formula", "us-dry", "cure", func(o *finish.Order) { o.Formula, o.CarriedOut = nil, nil }, finding.NotShown, finding.NotShown},
		{"no cure", "us-dry", "cure", func(o *finish.Order) {
			o.Formula.Additions = slices.Delete(o.Formula.Additions, 1, 2)
		}, finding.NotMet, finding.NotMet},
		{"too much nitrite, 4 g/kg of 6.25 percent is 250 mg/kg", "us-dry", "cure", func(o *finish.Order) { o.Formula.Additions[1].Rate = perKilogram(4) }, finding.NotMet, finding.NotMet},
		{"little nitrite, 1 g/kg of 6.25 percent is 62.5 mg/kg", "ca-stable", "cure-added", func(o *finish.Order) { o.Formula.Additions[1].Rate = perKilogram(1) }, finding.NotMet, finding.NotMet},
		{"no salt but that of the cure", "ca-stable", "salt-added", func(o *finish.Order) {
			o.Formula.Additions = slices.Delete(o.Formula.Additions, 0, 1)
		}, finding.NotMet, finding.NotMet},
		{"no salt but that of the cure, in the us", "us-dry", "salt", func(o *finish.Order) {
			o.Formula.Additions = slices.Delete(o.Formula.Additions, 0, 1)
		}, finding.NotMet, finding.NotMet},
		{"no fermentation", "us-dry", "acid-in-time", func(o *finish.Order) { o.Course = nil }, finding.NotShown, finding.NotShown},
		{"no fermentation in Canada", "ca-stable", "degree-hours", func(o *finish.Order) { o.Course = nil }, finding.NotShown, finding.NotShown},
		{"a pH of 5.3 never read", "us-dry", "acid-in-time", func(o *finish.Order) { o.Course.PHReadings = nil }, finding.NotShown, finding.NotShown},
		{"nothing done against trichinae", "us-dry", "trichinae", func(o *finish.Order) { o.CarriedOut.Freezing = nil }, finding.NotShown, finding.NotShown},
		{"no pork", "us-dry", "trichinae", func(o *finish.Order) {
			o.Formula.Parts = []formula.Part{{Name: "Beef", Material: stuff("beef-top-round-lean-and-fat"), Share: quantity.MustPercent(100)}}
		}, finding.NotApplicable, finding.Met},
		{"no protein", "us-dry", "moisture-protein", func(o *finish.Order) { o.Analyses[0].Protein = nil }, finding.NotShown, finding.NotShown},
		{"neither pH nor water activity", "us-dry", "acid-or-dry", func(o *finish.Order) { o.PH, o.Activity = nil, nil }, finding.NotShown, finding.NotShown},
		{"sour, and no water activity", "us-dry", "acid-or-dry", func(o *finish.Order) { o.Activity = nil }, finding.Met, finding.Met},
		{"not sour, and dry", "us-dry", "acid-or-dry", func(o *finish.Order) { o.PH = []finish.Sample[quantity.PH]{acid(5.6, finish.Core)} }, finding.Met, finding.Met},
		{"not smoked", "us-semidry-alt", "smoked", func(o *finish.Order) { o.Smoked = no() }, finding.NotMet, finding.NotMet},
		{"smoke not stated", "us-semidry-alt", "smoked", func(o *finish.Order) { o.CarriedOut.Smoke = nil }, finding.NotShown, finding.NotShown},
		{"sliced and open", "us-semidry-alt", "intact-or-vacuum-packed", func(o *finish.Order) { o.Packed = finish.Packing{Sliced: yes(), Vacuum: no()} }, finding.NotMet, finding.NotMet},
		{"sliced, vacuum not stated", "us-semidry-alt", "intact-or-vacuum-packed", func(o *finish.Order) { o.Packed = finish.Packing{Sliced: yes()} }, finding.NotShown, finding.NotShown},
		{"sliced, under vacuum", "us-semidry-alt", "intact-or-vacuum-packed", func(o *finish.Order) { o.Packed = finish.Packing{Sliced: yes(), Vacuum: yes()} }, finding.Met, finding.Met},
		{"brine of 4 in 28, 12.5 percent", "us-semidry-alt", "brine", func(o *finish.Order) { o.Analyses[0].Salt = share(4) }, finding.Met, finding.Met},
		{"brine of 1.4 in 28, 4.76 percent", "us-semidry-alt", "brine", func(o *finish.Order) { o.Analyses[0].Salt = share(1.4) }, finding.NotMet, finding.NotMet},
		{"salt not analysed", "us-semidry-alt", "brine", func(o *finish.Order) { o.Analyses[0].Salt = nil }, finding.NotShown, finding.NotShown},
		{"dried, not shown by weight", "ca-stable", "by-drying", func(o *finish.Order) {
			o.Weights, o.CarriedOut, o.PH = nil, nil, []finish.Sample[quantity.PH]{acid(5, finish.Core)}
		}, finding.NotShown, finding.NotShown},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			o := finished()
			tc.change(&o)
			tree := treeOf(t, check(t, o), tc.tree)
			want(t, tc.node, tc.want, nodeOf(t, tree, tc.node).Status)
			want(t, tc.tree, tc.whole, tree.Status)
		})
	}
}

// Three pieces read one after the other, none of them named: the wettest decides,
// and not the last. Of one named piece the later replaces the earlier.
func TestReadingsOfUnnamedPiecesDoNotReplaceEachOther(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, piece string
		want        finding.Status
	}{{"not named", "", finding.NotMet}, {"named", "1", finding.Met}} {
		o := finished()
		o.Activity = nil
		for i, v := range []float64{0.90, 0.86, 0.83} {
			s := aw(v, finish.Core)
			s.Piece, s.At = tc.piece, testDay().Add(time.Duration(i)*time.Hour)
			o.Activity = append(o.Activity, s)
		}
		want(t, tc.name, tc.want, nodeOf(t, treeOf(t, check(t, o), "ca-stable"), "water-activity").Status)
	}
}

// A meter that is off by more is no reading of the same piece where none is named;
// a strip gives way to a meter that agrees with it all the same.
func TestACoarseReadingOfAnUnnamedPieceCounts(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name   string
		method finish.Method
		piece  string
		want   finding.Status
	}{{"meter", finish.ByMeter, "", finding.Near}, {"meter, named", finish.ByMeter, "1", finding.Met}, {"strip", finish.ByStrip, "", finding.Met}} {
		o := finished()
		fine, coarse := aw(0.845, finish.Core), aw(0.855, finish.Core)
		off := quantity.MustWaterActivity(0.02)
		coarse.Off, coarse.Method, coarse.Piece, fine.Piece = &off, tc.method, tc.piece, tc.piece
		o.Activity = []finish.Sample[quantity.WaterActivity]{coarse, fine}
		want(t, tc.name, tc.want, nodeOf(t, treeOf(t, check(t, o), "ca-stable"), "water-activity").Status)
	}
}

// A piece that weighs what it weighed green was not dried, though another was.
func TestEveryPieceOnTheScaleMustHaveDried(t *testing.T) {
	t.Parallel()
	o := finished()
	node := func() finding.Status { return nodeOf(t, treeOf(t, check(t, o), "ca-stable"), "by-drying").Status }
	want(t, "one dried piece", finding.Met, node())
	o.Weights = append(o.Weights, weight(600, 600))
	want(t, "a piece as heavy as green beside it", finding.NotShown, node())
	o.Weights = nil
	o.CarriedOut.Drying = []formula.Step{{}}
	want(t, "as stated", finding.Met, node())
	o.Weights = []finish.Weight{weight(600, 640)}
	want(t, "stated, and heavier on the scale", finding.NotShown, node())
}

// A share by a quick method counts with what it may be off by, and not without.
func TestAQuickAnalysisStatesWhatItMayBeOff(t *testing.T) {
	t.Parallel()
	o := finished()
	a := analysis(28, 24, 4)
	a.Method, a.Protein.Off = finish.ByMeter, nil
	o.Analyses = []finish.Analysis{a}
	_, err := finish.Check(o)
	faulty(t, err, "analyses/0/uncertainty_protein_percent required")
	o.Analyses[0].Method = finish.ByStrip
	_, err = finish.Check(o)
	faulty(t, err, "analyses/0/method enum")
}

func faulty(t *testing.T, err error, want string) {
	t.Helper()
	f, ok := errors.AsType[*fault.Error](err)
	if !ok || len(f.Violations) != 1 {
		t.Fatalf("want one violation, %s, got %v", want, err)
	}
	if got := strings.Join(f.Violations[0].Path, "/") + " " + f.Violations[0].Code; got != want {
		t.Errorf("want %s, got %s", want, got)
	}
}

// Moisture to protein alone meets no tree.
func TestMoistureToProteinAloneShowsNothing(t *testing.T) {
	t.Parallel()
	o := finish.Order{Rulebooks: finished().Rulebooks, Date: testDay(), Identity: "pepperoni", Analyses: []finish.Analysis{analysis(20, 30, 0)}}
	a := check(t, o)
	for _, tree := range a.Trees {
		want(t, tree.Rule.ID, finding.NotShown, tree.Status)
	}
	f, _ := found(a, "product-identity")
	want(t, "the name", finding.Met, f.Status)
}

// Guard band, JCGM 106:2012, 8.3, on both sides of 0.85; and exactly on a limit
// that must not be reached (water activity below 0.91) and on one that may be.
func TestUncertaintyAtALimit(t *testing.T) {
	t.Parallel()
	exact := quantity.WaterActivity{}
	for _, tc := range []struct {
		value float64
		exact bool
		tree  string
		want  finding.Status
	}{
		{0.846, false, "us-dry", finding.Met},
		{0.847, false, "us-dry", finding.Met}, // its high end is on the limit, which may be reached
		{0.848, false, "us-dry", finding.Near},
		{0.853, false, "us-dry", finding.Near},
		{0.854, false, "us-dry", finding.NotMet},
		{0.85, true, "us-dry", finding.Met},
		{0.85001, true, "us-dry", finding.NotMet},
		{0.91, true, "us-semidry-alt", finding.Near},
		{0.9099, true, "us-semidry-alt", finding.Met},
		{0.91001, true, "us-semidry-alt", finding.NotMet},
	} {
		o := finished()
		s := aw(tc.value, finish.Core)
		if tc.exact {
			s.Off = &exact
		}
		o.Activity = []finish.Sample[quantity.WaterActivity]{s}
		want(t, tc.tree+" at "+s.Value.String(), tc.want, nodeOf(t, treeOf(t, check(t, o), tc.tree), "water-activity").Status)
	}
}

// What methods may be off by when that is not stated decides, too.
func TestUsualUncertainties(t *testing.T) {
	t.Parallel()
	warm, cold := quantity.MustCelsius(24), quantity.MustCelsius(8)
	for name, tc := range map[string]struct {
		change func(*finish.Sample[quantity.WaterActivity])
		off    float64
	}{
		"a meter at rest":           {func(s *finish.Sample[quantity.WaterActivity]) { s.Equilibrated, s.Temperature = true, &warm }, 0.003},
		"a meter at rest, but cold": {func(s *finish.Sample[quantity.WaterActivity]) { s.Equilibrated, s.Temperature = true, &cold }, 0.01},
		"a meter in a hurry":        {func(s *finish.Sample[quantity.WaterActivity]) { s.Temperature = &warm }, 0.01},
		"a laboratory":              {func(s *finish.Sample[quantity.WaterActivity]) { s.Method = finish.ByLaboratory }, 0.003},
		"a card that changes":       {func(s *finish.Sample[quantity.WaterActivity]) { s.Method = finish.ByStrip }, 0.03},
	} {
		o := finished()
		s := aw(0.84, finish.Core)
		s.Off = nil
		tc.change(&s)
		o.Activity = []finish.Sample[quantity.WaterActivity]{s}
		r := nodeOf(t, treeOf(t, check(t, o), "us-dry"), "water-activity").Measured.Range
		quantitytest.Near(t, name, 0.84+tc.off, r.High.Value(), 1e-12)
	}
}

// The worse of core and rim counts, and a rim alone can withhold and not pass.
func TestCoreAndRim(t *testing.T) {
	t.Parallel()
	type samples = []finish.Sample[quantity.WaterActivity]
	for _, tc := range []struct {
		name        string
		of          samples
		want, agree finding.Status
	}{
		{"both dry", samples{aw(0.84, finish.Core), aw(0.838, finish.Rim)}, finding.Met, finding.Met},
		{"a dry rim over a wet core", samples{aw(0.905, finish.Core), aw(0.82, finish.Rim)}, finding.NotMet, finding.NotMet},
		{"a wet rim", samples{aw(0.82, finish.Core), aw(0.9, finish.Rim)}, finding.NotMet, finding.NotMet},
		{"a dry rim alone", samples{aw(0.82, finish.Rim)}, finding.NotShown, 0},
		{"a wet rim alone", samples{aw(0.9, finish.Rim)}, finding.NotMet, 0},
		{"a place that is not stated", samples{aw(0.82, 0)}, finding.NotShown, 0},
		{"a dry core alone", samples{aw(0.82, finish.Core)}, finding.Met, 0},
		{"a mixed slice", samples{aw(0.82, finish.Mixed)}, finding.Met, 0},
		{"apart by just what both may be off", samples{aw(0.84, finish.Core), aw(0.834, finish.Rim)}, finding.Met, finding.Met},
	} {
		o := finished()
		o.Activity = tc.of
		a := check(t, o)
		want(t, tc.name, tc.want, nodeOf(t, treeOf(t, a, "us-dry"), "water-activity").Status)
		f, told := found(a, "core-and-rim-activity")
		if told != (tc.agree != 0) {
			t.Errorf("%s: told of both: %v", tc.name, told)
		}
		want(t, tc.name+": agree", tc.agree, f.Status)
	}
}

// A later reading of the same place replaces an earlier one, and a meter a strip
// that it agrees with; where they disagree both count.
func TestWhichReadingCounts(t *testing.T) {
	t.Parallel()
	early, late := aw(0.9, finish.Core), aw(0.84, finish.Core)
	early.At, late.At = testDay(), testDay().Add(24*time.Hour)
	o := finished()
	o.Activity = []finish.Sample[quantity.WaterActivity]{late, early}
	want(t, "the later", finding.Met, nodeOf(t, treeOf(t, check(t, o), "us-dry"), "water-activity").Status)
	early.Piece = "2"
	o.Activity = []finish.Sample[quantity.WaterActivity]{late, early}
	want(t, "another piece", finding.NotMet, nodeOf(t, treeOf(t, check(t, o), "us-dry"), "water-activity").Status)

	strip, meter := acid(4.9, finish.Core), acid(4.8, finish.Core)
	strip.Method, strip.Off = finish.ByStrip, nil // 4.4 to 5.4
	o.PH = []finish.Sample[quantity.PH]{strip}
	n := nodeOf(t, treeOf(t, check(t, o), "us-dry"), "ph")
	want(t, "the strip", finding.Near, n.Status)
	if !n.Missing.Has(finish.MeasurePH) {
		t.Error("a meter is not asked for where a strip is near")
	}
	o.PH = append(o.PH, meter)
	want(t, "the meter beside it", finding.Met, nodeOf(t, treeOf(t, check(t, o), "us-dry"), "ph").Status)
	strip.Value = quantity.MustPH(6) // 5.5 to 6.5
	o.PH = []finish.Sample[quantity.PH]{strip, meter}
	want(t, "a strip that disagrees", finding.NotMet, nodeOf(t, treeOf(t, check(t, o), "us-dry"), "ph").Status)
}

// An estimate never shows anything, wherever it lies.
func TestEstimatesShowNothing(t *testing.T) {
	t.Parallel()
	for _, v := range []float64{0.5, 0.8, 0.99} {
		o := finished()
		s := aw(v, finish.Mixed)
		s.Method = finish.ByEstimate
		o.Activity, o.PH = []finish.Sample[quantity.WaterActivity]{s}, nil
		a := check(t, o)
		want(t, "estimated", finding.NotShown, nodeOf(t, treeOf(t, a, "us-dry"), "water-activity").Status)
		if len(a.Organisms) != 0 {
			t.Errorf("an estimate rules growth out: %+v", a.Organisms)
		}
	}
	o := finished()
	o.Activity = nil
	a := check(t, o)
	if a.Estimate == nil {
		t.Fatal("nothing is estimated")
	}
	// Reference on water activity, section 4: 75/25 at 38 percent of loss is 0.864 and
	// at 35 percent 0.890, with 2.8 g of salt and 0.5 g of dextrose to 100 g of meat.
	// This recipe has 2.93 g and 0.6 g.
	quantitytest.Near(t, "estimated", 0.864, a.Estimate.Surely.Mid.Float(), 0.01)
	quantitytest.Near(t, "its 95 percent", 0.05, a.Estimate.Surely.High.Float()-a.Estimate.Surely.Mid.Float(), 1e-9)
	quantitytest.Near(t, "its 80 percent", 0.03, a.Estimate.Likely.High.Float()-a.Estimate.Likely.Mid.Float(), 1e-9)
	f, _ := found(a, "water-activity-estimated")
	want(t, "the finding", finding.NotShown, f.Status)
}

// A plan shows nothing of a lot: what was carried out does.
func TestTrichinaeAsCarriedOut(t *testing.T) {
	t.Parallel()
	o := finished()
	o.Formula.Plan, o.CarriedOut = *frozenPork(), nil
	f, _ := found(check(t, o), "trichinae")
	want(t, "planned alone", finding.NotShown, f.Status)
	if !strings.Contains(f.Reason, "carried_out") {
		t.Errorf("it does not tell plan from done: %s", f.Reason)
	}
	for _, p := range []struct {
		name string
		plan formula.Plan
		want finding.Status
	}{
		{"frozen 24 days at -18 °C", *frozenPork(), finding.Met},
		{"frozen 19 days, of 20", formula.Plan{Freezing: []formula.Freezing{{Temperature: quantity.MustCelsius(-18), Span: 19 * 24 * time.Hour, Thickness: quantity.MustMillimetres(90)}}}, finding.NotShown},
		{"tested, with the report", formula.Plan{Trichinae: formula.TrichinaeRoute{Route: formula.RouteCarcassTesting, Certificate: "report 12 (invented)"}}, finding.Met},
		{"tested, without a report", formula.Plan{Trichinae: formula.TrichinaeRoute{Route: formula.RouteCarcassTesting}}, finding.NotShown},
		{"method 1, in a refrigerator at 4 °C", methodOne(4), finding.NotMet},
		{"method 1, in a room at 12 °C, with 2.8 of 3.33 percent of salt", methodOne(12), finding.NotMet},
	} {
		o := finished()
		o.CarriedOut = &p.plan
		f, _ := found(check(t, o), "trichinae")
		want(t, p.name, p.want, f.Status)
		if f.Status == finding.Met && strings.Contains(f.Reason, "planned") {
			t.Errorf("%s: what was done is said to be planned: %s", p.name, f.Reason)
		}
	}
	salted := finished()
	salted.Formula.Additions[0].Rate = perKilogram(36) // 36 g and that of the cure on 1044 g: 3.66 percent
	for at, status := range map[float64]finding.Status{4: finding.NotMet, 7: finding.NotMet, 8: finding.Met} {
		plan := methodOne(at)
		salted.CarriedOut = &plan
		f, _ := found(check(t, salted), "trichinae")
		want(t, "method 1 in the cold or not", status, f.Status)
	}
	boar := finished()
	boar.Formula.Parts[0].Material = stuff("wild-boar")
	f, _ = found(check(t, boar), "trichinae")
	if f.Status == finding.Met {
		t.Error("freezing shows it for wild boar")
	}
}

// methodOne is a plan of the first method of drying: at 45 °F or warmer, 20 days
// for a sausage of up to 3 1/2 inches, 25 in all.
func methodOne(celsius float64) formula.Plan {
	return formula.Plan{
		Grind: formula.Grind{Plate: quantity.MustMillimetres(8)}, Casing: formula.PlannedCasing{Diameter: quantity.MustMillimetres(50)},
		Fermentation: []formula.Step{{Temperature: material.Is(quantity.MustCelsius(22)), Span: 5 * 24 * time.Hour}},
		Drying:       []formula.Step{{Temperature: material.Is(quantity.MustCelsius(celsius)), Span: 40 * 24 * time.Hour}},
		Trichinae:    formula.TrichinaeRoute{Route: formula.RouteDryingMethod, Method: formula.Method1},
	}
}

// The study fermented at 23.8 °C and dried at 15.5 °C, at pH 4.6 to 5.2 with 1.3
// percent of salt or more: 8 days with 2.8 percent.
func TestPublishedDataOnlyInsideTheirConditions(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name         string
		ferment, dry float64
		days         float64
		ph           float64
		want         finding.Status
	}{
		{"as in the study", 24, 16, 12, 4.9, finding.Met},
		{"too short", 24, 16, 5, 4.9, finding.NotMet},
		{"dried in the cold", 24, 12, 40, 4.9, finding.NotShown},
		{"fermented too cool", 20, 16, 40, 4.9, finding.NotShown},
		{"not sour enough", 24, 16, 40, 5.4, finding.NotShown},
		{"its pH may be above", 24, 16, 40, 5.18, finding.NotShown},
	} {
		o := finished()
		o.CarriedOut.Freezing = nil
		o.CarriedOut.Fermentation = []formula.Step{{Temperature: material.Is(quantity.MustCelsius(tc.ferment)), Span: 48 * time.Hour}}
		o.CarriedOut.Drying = []formula.Step{{Temperature: material.Is(quantity.MustCelsius(tc.dry)), Span: time.Duration(tc.days * 24 * float64(time.Hour))}}
		o.PH = []finish.Sample[quantity.PH]{acid(tc.ph, finish.Core)}
		a := check(t, o)
		f, _ := found(a, "trichinae-published-data")
		want(t, tc.name, tc.want, f.Status)
		if f, _ := found(a, "trichinae"); f.Status == finding.Met {
			t.Errorf("%s: a study is taken for a lawful route", tc.name)
		}
	}
}

// What no decision overrides: design of the records, decisions.
func TestHazardsAreBarred(t *testing.T) {
	t.Parallel()
	hot := func(o *finish.Order) { o.Course.Steps[0].Temperature = quantity.MustCelsius(40) } // 24.4 * 36 = 878 of 500 °C h
	clean := func(o *finish.Order) {
		for _, of := range finish.Analytes() {
			o.Results = append(o.Results, finish.Result{Of: of, Samples: 5})
		}
	}
	for _, tc := range []struct {
		name   string
		change []func(*finish.Order)
		barred []string
	}{
		{"nothing found", []func(*finish.Order){clean}, nil},
		{"toxin", []func(*finish.Order){func(o *finish.Order) { o.Results = []finish.Result{{Of: finish.Enterotoxin, Found: true}} }}, []string{"enterotoxin-found"}},
		{"a pathogen", []func(*finish.Order){func(o *finish.Order) { o.Results = []finish.Result{{Of: finish.Salmonella, Found: true}} }}, []string{"pathogen-found"}},
		{"too warm", []func(*finish.Order){hot}, []string{"degree-hours-exceeded"}},
		{"too warm, all looked for", []func(*finish.Order){hot, clean}, nil},
		{"too warm, toxin not looked for", []func(*finish.Order){hot, clean, func(o *finish.Order) { o.Results = o.Results[1:] }}, []string{"degree-hours-exceeded"}},
		{"undiluted nitrite", []func(*finish.Order){func(o *finish.Order) { o.Formula.Additions[1].Rate = perKilogram(30) }}, []string{"nitrite-hazard"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			o := finished()
			for _, change := range tc.change {
				change(&o)
			}
			a := check(t, o)
			if !slices.Equal(a.Barred, tc.barred) {
				t.Errorf("want %v barred, got %v", tc.barred, a.Barred)
			}
			for _, v := range a.Verdicts {
				if (v.Keeps == finding.Hazard) != (len(tc.barred) > 0) {
					t.Errorf("%s: %s", v.Rulebook, v.Keeps)
				}
			}
		})
	}
	staph := quantity.MustCFUPerGram(2e4)
	o := finished()
	o.Results = []finish.Result{{Of: finish.StaphylococcusAureus, Found: true, Count: &staph}}
	f, _ := found(check(t, o), "staphylococcus-aureus-result")
	want(t, "20000 CFU/g of a limit of 10000", finding.NotMet, f.Status)
}

// 18 mg/kg as sodium nitrite are 18 * 46.0055/68.9953 = 12.0 as the ion, of 45;
// 80 are 53.3.
func TestResidualNitrite(t *testing.T) {
	t.Parallel()
	for mg, status := range map[float64]finding.Status{18: finding.Met, 65: finding.Near, 80: finding.NotMet} {
		o := finished()
		o.Residual = &finish.ResidualNitrite{Amount: quantity.MustPPM(mg), Species: rulebook.SodiumNitrite}
		f, _ := found(check(t, o), "nitrite-residual-ceiling")
		want(t, f.Reason, status, f.Status)
		quantitytest.Near(t, "as the ion", mg*46.0055/68.9953, f.Measured.Value.Value(), 1e-3)
	}
	f, _ := found(check(t, finished()), "nitrite-residual-ceiling")
	want(t, "not analysed", finding.NotShown, f.Status)
}

// Nitrate alone is no cure until some of it became nitrite: nitrite found in the
// product shows that.
func TestNitrateNeedsToBecomeNitrite(t *testing.T) {
	t.Parallel()
	o := finished()
	cure, ok := rulebook.CureByKey("saltpetre")
	if !ok {
		t.Fatal("no saltpetre")
	}
	o.Formula.Additions[1].Cure, o.Formula.Additions[1].Rate = &cure, perKilogram(0.5)
	n := nodeOf(t, treeOf(t, check(t, o), "us-dry"), "cure")
	if n.Status == finding.Met || n.Status == finding.Near {
		t.Errorf("nitrate alone is %s: %s", n.Status, n.Reason)
	}
	o.Residual = &finish.ResidualNitrite{Amount: quantity.MustPPM(12), Species: rulebook.SodiumNitrite}
	n = nodeOf(t, treeOf(t, check(t, o), "us-dry"), "cure")
	want(t, "with residual nitrite: "+n.Reason, finding.Met, n.Status)
}

// A stated sum counts by its own rule alone: 470 °C h of 665, and the Fahrenheit
// rule of the United States is not shown by it.
func TestStatedFermentation(t *testing.T) {
	t.Parallel()
	stated := func(c, highest, ph float64) *finish.StatedFermentation {
		off := quantity.MustPH(0.05)
		return &finish.StatedFermentation{
			Scale: rulebook.CelsiusScale, DegreeHours: quantity.MustCelsiusHours(c), Highest: quantity.MustCelsius(highest), PH: quantity.MustPH(ph), Off: &off,
		}
	}
	for _, tc := range []struct {
		of   *finish.StatedFermentation
		want finding.Status
	}{
		{stated(470, 24, 5.2), finding.Met}, {stated(665, 24, 5.2), finding.Near}, {stated(666, 24, 5.2), finding.NotMet},
		{stated(560, 35, 5.2), finding.NotMet}, {stated(500, 35, 5.2), finding.Met},
	} {
		o := finished()
		o.Course, o.Stated = nil, tc.of
		a := check(t, o)
		want(t, tc.of.DegreeHours.String(), tc.want, nodeOf(t, treeOf(t, a, "ca-stable"), "degree-hours").Status)
		want(t, "by the other rule", finding.NotShown, nodeOf(t, treeOf(t, a, "us-dry"), "acid-in-time").Status)
	}
}

// What was not read at the end of the fermentation is not shown, and withheld where
// the finished lot is wetter still: it only dried since.
func TestActivityAtTheEndOfTheFermentation(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		now, then float64
		want      finding.Status
	}{
		{0.905, 0, finding.NotMet}, {0.902, 0, finding.NotShown}, {0.86, 0, finding.NotShown}, {0.86, 0.895, finding.Met}, {0.86, 0.9, finding.Near}, {0.86, 0.95, finding.NotMet},
	} {
		o := finished()
		o.Activity = []finish.Sample[quantity.WaterActivity]{aw(tc.now, finish.Core)}
		if tc.then > 0 {
			s := aw(tc.then, finish.Core)
			s.When = finish.AfterFermentation
			o.Activity = append(o.Activity, s)
		}
		n := nodeOf(t, treeOf(t, check(t, o), "ca-stable"), "water-activity-after-fermentation")
		want(t, n.Reason, tc.want, n.Status)
	}
}

// The plan wants 38 percent: 600 g to 372 g is 38 percent exactly.
func TestLossOfThePlan(t *testing.T) {
	t.Parallel()
	planned := quantity.MustPercent(38)
	for now, status := range map[float64]finding.Status{371: finding.Met, 372: finding.Met, 373: finding.NotMet} {
		o := finished()
		o.Formula.Plan.Loss = &planned
		o.Weights = []finish.Weight{weight(600, now), weight(500, 200)}
		f, _ := found(check(t, o), "planned-loss")
		want(t, f.Reason, status, f.Status)
	}
}

// The named sausages of the European Union: below 1.7 of water to protein, and so
// many weeks. 28/16.4 is 1.707, 28/16.5 is 1.697.
func TestNamedSausagesOfTheEuropeanUnion(t *testing.T) {
	t.Parallel()
	o := finished()
	o.Formula.Product, o.Formula.Tradition = rulebook.TraditionalProduct, rulebook.SaucissonSecTradition
	o.SinceStuffing = 20 * 24 * time.Hour
	for protein, status := range map[float64]finding.Status{16.4: finding.NotMet, 16.5: finding.Met} {
		o.Analyses = []finish.Analysis{analysis(28, protein, 0)}
		a := check(t, o)
		f, _ := found(a, "water-protein-ratio")
		want(t, f.Reason, status, f.Status)
		f, _ = found(a, "ripening-time")
		want(t, "20 days of 21", finding.NotMet, f.Status)
	}
	o.Analyses = []finish.Analysis{analysis(17, 10, 0)}
	f, _ := found(check(t, o), "water-protein-ratio")
	want(t, "1.7 exactly", finding.Near, f.Status)
	o.SinceStuffing = 21 * 24 * time.Hour
	f, _ = found(check(t, o), "ripening-time")
	want(t, "21 days of 21", finding.Met, f.Status)
}

func TestFaults(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		change func(*finish.Order)
		want   []string
	}{
		"a rulebook twice":   {func(o *finish.Order) { o.Rulebooks = append(o.Rulebooks, rulebook.Canada) }, []string{"#/rulebooks/4"}},
		"no green weight":    {func(o *finish.Order) { o.Weights[0].Green = quantity.Mass{} }, []string{"#/weights/0/green"}},
		"course and result":  {func(o *finish.Order) { o.Stated = &finish.StatedFermentation{} }, []string{"#/stated_fermentation"}},
		"done of no formula": {func(o *finish.Order) { o.Formula = nil }, []string{"#/carried_out"}},
		"no such name":       {func(o *finish.Order) { o.Identity = "ham" }, []string{"#/identity"}},
		"shares of no whole": {func(o *finish.Order) { o.Formula.Parts = o.Formula.Parts[:1] }, []string{"#/formula/parts"}},
		"an oven": {func(o *finish.Order) { o.Course.Steps[0].Temperature = quantity.MustCelsius(200) },
			[]string{"#/fermentation/steps/0/temperature"}},
		"both": {func(o *finish.Order) {
			o.Formula.Parts = o.Formula.Parts[:1]
			o.Course.Steps = []fermentation.Step{}
			o.Course.PHReadings = nil
		}, []string{"#/fermentation", "#/formula/parts"}},
	} {
		o := finished()
		tc.change(&o)
		_, err := finish.Check(o)
		var wrong *fault.Error
		if !errors.As(err, &wrong) || wrong.Kind != fault.Invalid {
			t.Errorf("%s: want invalid, got %v", name, err)
			continue
		}
		var got []string
		for _, v := range wrong.Violations {
			got = append(got, v.Path.Pointer())
		}
		slices.Sort(got)
		if !slices.Equal(got, tc.want) {
			t.Errorf("%s: want %v, got %v", name, tc.want, got)
		}
	}
}
