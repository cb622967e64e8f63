package finish_test

import (
	"testing"
	"time"

	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/finish"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

func stuff(key string) material.Material {
	m, ok := material.ByKey(key)
	if !ok {
		panic("no material " + key)
	}
	return m
}

func cureOne() *rulebook.Cure {
	c, ok := rulebook.CureByKey("cure-1")
	if !ok {
		panic("no cure-1")
	}
	return &c
}

func perKilogram(grams float64) formula.Rate {
	r, err := formula.MassPer(quantity.MustGrams(grams), quantity.MustGrams(1000))
	if err != nil {
		panic(err)
	}
	return r
}

// recipe is an invented dry sausage of pork: 75 parts of lean and 25 of back fat,
// 27 g salt, 2.4 g of a cure of 6.25 percent, 6 g dextrose to the kilogram.
func recipe() *formula.Formula {
	salt, sugar := stuff("salt-table"), stuff("dextrose-monohydrate")
	return &formula.Formula{
		Name: "Orchard stick (invented)", Product: rulebook.DrySausage,
		Parts: []formula.Part{
			{Name: "Lean", Material: stuff("pork-butt-lean-only"), Share: quantity.MustPercent(75)},
			{Name: "Fat", Material: stuff("pork-backfat"), Share: quantity.MustPercent(25)},
		},
		Additions: []formula.Addition{
			{Name: "Salt", Role: formula.Salt, Material: &salt, Rate: perKilogram(27)},
			{Name: "Cure", Role: formula.Cure, Cure: cureOne(), Rate: perKilogram(2.4)},
			{Name: "Dextrose", Role: formula.Sugar, Material: &sugar, Rate: perKilogram(6)},
		},
	}
}

func frozenPork() *formula.Plan {
	return &formula.Plan{
		Freezing:     []formula.Freezing{{Temperature: quantity.MustCelsius(-18), Span: 24 * 24 * time.Hour, Thickness: quantity.MustMillimetres(90)}},
		Fermentation: []formula.Step{{Temperature: material.Is(quantity.MustCelsius(22)), Span: 60 * time.Hour}},
		Drying:       []formula.Step{{Temperature: material.Is(quantity.MustCelsius(13)), Span: 38 * 24 * time.Hour}},
		Smoke:        []formula.Warmth{{Temperature: material.Is(quantity.MustCelsius(20)), Span: 6 * time.Hour}},
	}
}

func soured() *fermentation.Course {
	return &fermentation.Course{
		Steps:      []fermentation.Step{{Temperature: quantity.MustCelsius(22), Span: 60 * time.Hour}},
		PHReadings: []fermentation.PHReading{{At: 0, PH: quantity.MustPH(5.7)}, {At: 36 * time.Hour, PH: quantity.MustPH(5.1)}},
	}
}

func aw(v float64, at finish.Place) finish.Sample[quantity.WaterActivity] {
	off := quantity.MustWaterActivity(0.003)
	return finish.Sample[quantity.WaterActivity]{Value: quantity.MustWaterActivity(v), Off: &off, Method: finish.ByMeter, Place: at, Piece: "1"}
}

func acid(v float64, at finish.Place) finish.Sample[quantity.PH] {
	off := quantity.MustPH(0.05)
	return finish.Sample[quantity.PH]{Value: quantity.MustPH(v), Off: &off, Method: finish.ByMeter, Place: at, Piece: "1"}
}

// share is a part in percent, taken as exact.
func share(v float64) *finish.Share {
	none := quantity.Fraction{}
	return &finish.Share{Of: quantity.MustPercent(v), Off: &none}
}

func analysis(moisture, protein, salt float64) finish.Analysis {
	a := finish.Analysis{Method: finish.ByLaboratory, Place: finish.Mixed, Piece: "1", Moisture: share(moisture), Protein: share(protein)}
	if salt > 0 {
		a.Salt = share(salt)
	}
	return a
}

func weight(green, now float64) finish.Weight {
	return finish.Weight{Piece: "1", Green: quantity.MustGrams(green), Now: quantity.MustGrams(now)}
}

func yes() *bool { is := true; return &is }
func no() *bool  { is := false; return &is }

func testDay() time.Time { return time.Date(2026, time.November, 25, 0, 0, 0, 0, time.UTC) }

// finished is a lot of which everything was measured, and all of it favourable.
func finished() finish.Order {
	return finish.Order{
		Formula: recipe(), CarriedOut: frozenPork(), Rulebooks: []rulebook.Jurisdiction{rulebook.UnitedStates, rulebook.Canada, rulebook.EuropeanUnion, rulebook.GreatBritain},
		Date: testDay(), Activity: []finish.Sample[quantity.WaterActivity]{aw(0.84, finish.Core), aw(0.838, finish.Rim)},
		PH: []finish.Sample[quantity.PH]{acid(4.3, finish.Core), acid(4.32, finish.Rim)}, Analyses: []finish.Analysis{analysis(28, 25, 4.4)},
		Weights: []finish.Weight{weight(600, 372)}, Course: soured(), Packed: finish.Packing{Intact: yes()}, Cold: no(),
	}
}

func check(tb testing.TB, o finish.Order) finish.Answer {
	tb.Helper()
	a, err := finish.Check(o)
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

func treeOf(tb testing.TB, a finish.Answer, id string) finish.Tree {
	tb.Helper()
	for _, t := range a.Trees {
		if t.Rule.ID == id {
			return t
		}
	}
	tb.Fatalf("no tree %s", id)
	return finish.Tree{}
}

func nodeOf(tb testing.TB, t finish.Tree, id string) finish.Node {
	tb.Helper()
	for _, n := range t.Nodes {
		if n.Rule.ID == id {
			return n
		}
	}
	tb.Fatalf("no node %s", id)
	return finish.Node{}
}

func found(a finish.Answer, code string) (finding.Finding, bool) {
	for _, f := range a.Findings {
		if f.Code == code {
			return f, true
		}
	}
	return finding.Finding{}, false
}

func want(tb testing.TB, what string, want, got finding.Status) {
	tb.Helper()
	if want != got {
		tb.Errorf("%s: want %s, got %s", what, want, got)
	}
}
