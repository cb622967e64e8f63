package formula_test

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
)

// Helpers that panic on a slip of a test's own.

func mat(key string) *material.Material {
	m, ok := material.ByKey(key)
	if !ok {
		panic("no material " + key)
	}
	return &m
}

func cure(key string) *rulebook.Cure {
	c, ok := rulebook.CureByKey(key)
	if !ok {
		panic("no cure " + key)
	}
	return &c
}

func perKilogram(g float64) formula.Rate {
	return formula.ShareOfMeat(quantity.MustRatio(g / 1000))
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func spoon(teaspoons, pounds float64) formula.Rate {
	return must(formula.VolumePer(must(quantity.Teaspoons(teaspoons)), must(quantity.Pounds(pounds))))
}

func part(name, key string, percent float64) formula.Part {
	return formula.Part{Name: name, Material: *mat(key), Share: quantity.MustPercent(percent)}
}

func addition(name string, role formula.Role, key string, rate formula.Rate) formula.Addition {
	return formula.Addition{Name: name, Role: role, Material: mat(key), Rate: rate}
}

func line(t *testing.T, s formula.Sheet, name string) formula.Line {
	t.Helper()
	for _, l := range s.Lines {
		if l.Name == name {
			return l
		}
	}
	t.Fatalf("no line %q", name)
	return formula.Line{}
}

// plain is 70 % shoulder and 30 % back fat with salt at 2.5 %, a cure at 2.5
// g/kg and pepper at 0.2 % of the batch.
func plain() formula.Formula {
	return formula.Formula{
		Name: "invented", Product: rulebook.DrySausage,
		Parts: []formula.Part{part("shoulder", "pork-shoulder-whole-lean-and-fat", 70), part("back fat", "pork-backfat", 30)},
		Additions: []formula.Addition{
			addition("salt", formula.Salt, "salt-table", perKilogram(25)),
			{Name: "cure", Role: formula.Cure, Cure: cure("cure-1"), Rate: perKilogram(2.5)},
			addition("pepper", formula.Spice, "pepper-black", formula.ShareOfBatch(quantity.MustPercent(0.2))),
		},
	}
}

// By hand, for 10 kg of meat: salt 250 g, cure 25 g, and pepper p with
// p = 0.002 (10000 + 250 + 25 + p), so p = 0.002 x 10275 / 0.998 = 20.5912 g.
func TestScaleToTheMeatOnHand(t *testing.T) {
	t.Parallel()
	s, err := formula.Scale(formula.Order{Formula: plain(), Amount: formula.Amount{Meat: quantity.MustGrams(10000)}})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []struct {
		name           string
		exact, onScale float64
	}{
		{"shoulder", 7000, 7000},
		{"back fat", 3000, 3000},
		{"salt", 250, 250},
		{"cure", 25, 25},
		{"pepper", 20.59118, 20.6},
	} {
		l := line(t, s, want.name)
		quantitytest.Near(t, want.name+" exact", want.exact, l.Exact.Grams(), 1e-4)
		quantitytest.Near(t, want.name+" on the scale", want.onScale, l.OnScale().Grams(), 1e-9)
	}
	quantitytest.Near(t, "batch", 10295.6, s.Batch().Grams(), 1e-9)
	if _, ok := s.Finished(); ok {
		t.Error("want no finished mass without a planned loss")
	}
}

// The trade's starter dose, common practice without a source: a quarter of a US
// teaspoon for 5 lb, in half a US cup of water. Half a cup is 118.294 mL, about
// 118 g, on 2268 g: 5.2 % of added water.
func TestStarterBySpoonInWater(t *testing.T) {
	t.Parallel()
	f := plain()
	water := must(formula.VolumePer(must(quantity.Cups(0.5)), must(quantity.Pounds(5))))
	f.Additions = append(f.Additions, formula.Addition{
		Name: "culture", Role: formula.Culture, Material: mat("culture-carrier"), Rate: spoon(0.25, 5), RehydrationWater: &water,
	})
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: must(quantity.Pounds(5))}})
	if err != nil {
		t.Fatal(err)
	}
	culture := line(t, s, "culture")
	if !culture.Spooned() {
		t.Error("want the culture spooned")
	}
	quantitytest.Near(t, "teaspoons", 0.25, culture.Spoons.Teaspoons(), 1e-4)
	// 1.4 to 4.2 g in a level teaspoon, the range stated with the material.
	quantitytest.Near(t, "least", 0.35, culture.Range.Low.Grams(), 1e-3)
	quantitytest.Near(t, "most", 1.05, culture.Range.High.Grams(), 1e-3)
	quantitytest.Near(t, "water", 118.1, line(t, s, "Water for culture").OnScale().Grams(), 0.2)

	var codes []string
	var text string
	for _, n := range s.Notes {
		codes = append(codes, n.Code)
		if n.Code == "added-water" {
			text = n.Text
		}
	}
	if d := cmp.Diff([]string{"rehydrate", "spooned", "added-water"}, codes); d != "" {
		t.Errorf("notes (-want +got):\n%s", d)
	}
	if want := "the water for the culture adds 5.21 percent to the meat, and has to dry out again"; text != want {
		t.Errorf("want %q, got %q", want, text)
	}
	if last := s.Lines[len(s.Lines)-1]; last.Name != "culture" || s.Lines[len(s.Lines)-2].Role != formula.RehydrationWater {
		t.Errorf("want the water and then the culture last, got %q last", last.Name)
	}
}

// By hand: 6 kg finished at 40 % loss is a batch of 10 kg; with 2.75 % on meat
// and 0.2 % on batch the meat is 10000 x 0.998 / 1.0275 = 9712.895 g, of which
// 70 % are 6799.03 g.
func TestScaleToAFinishedMass(t *testing.T) {
	t.Parallel()
	f := plain()
	loss := quantity.MustPercent(40)
	f.Plan.Loss = &loss
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Finished: quantity.MustGrams(6000)}})
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "shoulder", 6799.027, line(t, s, "shoulder").Exact.Grams(), 1e-3)
	finished, ok := s.Finished()
	if !ok {
		t.Fatal("want a finished mass")
	}
	// Each of five lines is off by at most half a division: 0.6 of 2 x 0.5 + 3 x 0.5 g.
	quantitytest.Near(t, "finished", 6000, finished.Grams(), 1.5)

	batch, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Batch: quantity.MustGrams(10000)}})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(s.Batch().Grams(), batch.Batch().Grams()); d != "" {
		t.Errorf("want the same from the batch (-finished +batch):\n%s", d)
	}
}

func TestRoundingByRole(t *testing.T) {
	t.Parallel()
	f := formula.Formula{
		Product: rulebook.DrySausage, Parts: []formula.Part{part("meat", "beef-ground-80-20", 100)},
		Additions: []formula.Addition{
			{Name: "cure", Role: formula.Cure, Cure: cure("cure-1"), Rate: perKilogram(2.59)},
			addition("culture", formula.Culture, "culture-carrier", perKilogram(0.21)),
			addition("ascorbate", formula.Accelerator, "sodium-ascorbate", perKilogram(0.49)),
			addition("pepper", formula.Spice, "pepper-black", perKilogram(3.06)),
		},
	}
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(1000)}})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]float64{"cure": 2.5, "culture": 0.3, "ascorbate": 0.4, "pepper": 3.1} {
		quantitytest.Near(t, name, want, line(t, s, name).OnScale().Grams(), 1e-9)
	}
}

func TestDivisionsByRange(t *testing.T) {
	t.Parallel()
	d := formula.DefaultScale()
	for _, c := range []struct{ load, want float64 }{{0, 0.1}, {199.9, 0.1}, {200, 1}, {5000, 1}} {
		quantitytest.Near(t, "division", c.want, d.Division(quantity.MustGrams(c.load)).Grams(), 0)
	}
	short := formula.Divisions{{UpTo: quantity.MustGrams(100), Division: quantity.MustGrams(0.01)}}
	quantitytest.Near(t, "beyond the last range", 0.01, short.Division(quantity.MustGrams(500)).Grams(), 0)
}

func TestNotesOnACoarseScale(t *testing.T) {
	t.Parallel()
	f := plain()
	s, err := formula.Scale(formula.Order{
		Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(300)},
		Scale: formula.Divisions{{Division: quantity.MustGrams(1)}},
	})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, n := range s.Notes {
		got[fault.Path(n.Member).Pointer()] = n.Code
	}
	// 0.75 g of cure rounds down to nothing; 7.5 g of salt to 8 and 0.62 g of
	// pepper to 1 by more than 5 %.
	want := map[string]string{"#/additions/1": "under-a-division", "#/additions/0": "coarse-rounding", "#/additions/2": "coarse-rounding"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("notes (-want +got):\n%s", d)
	}
}

func TestFaults(t *testing.T) {
	t.Parallel()
	meat := formula.Amount{Meat: quantity.MustGrams(1000)}
	with := func(change func(*formula.Formula)) formula.Formula {
		f := plain()
		change(&f)
		return f
	}
	for name, c := range map[string]struct {
		order formula.Order
		want  map[string]string
	}{
		"shares of 130 percent": {
			formula.Order{Formula: with(func(f *formula.Formula) { f.Parts[1].Share = quantity.MustPercent(60) }), Amount: meat},
			map[string]string{"#/formula/parts": "sum"},
		},
		"shares of 98 percent": {
			formula.Order{Formula: with(func(f *formula.Formula) { f.Parts[1].Share = quantity.MustPercent(28) }), Amount: meat},
			map[string]string{"#/formula/parts": "sum"},
		},
		"a part and an addition twice": {
			formula.Order{Formula: with(func(f *formula.Formula) {
				f.Parts[1].Name = "shoulder"
				f.Additions[2].Name = "salt"
			}), Amount: meat},
			map[string]string{"#/formula/parts/1/name": "duplicate", "#/formula/additions/2/name": "duplicate"},
		},
		"ten times the meat and more": {
			formula.Order{Formula: with(func(f *formula.Formula) { f.Additions[0].Rate = perKilogram(10001) }), Amount: meat},
			map[string]string{"#/formula/additions/0/rate/value": "maximum"},
		},
		"the batch filled": {
			formula.Order{Formula: with(func(f *formula.Formula) { f.Additions[2].Rate = formula.ShareOfBatch(quantity.MustPercent(100)) }), Amount: meat},
			map[string]string{"#/formula/additions": "sum"},
		},
		"a spoon of what has no density": {
			formula.Order{Formula: with(func(f *formula.Formula) {
				f.Additions[2] = formula.Addition{Name: "herbs", Role: formula.Spice, Rate: spoon(1, 5)}
			}), Amount: meat},
			map[string]string{"#/formula/additions/2/rate/unit": "density-unknown"},
		},
		"finished without a loss": {
			formula.Order{Formula: plain(), Amount: formula.Amount{Finished: quantity.MustGrams(1000)}},
			map[string]string{"#/formula/plan/loss_percent": "required"},
		},
		"less than half a division": {
			formula.Order{Formula: plain(), Amount: formula.Amount{Meat: quantity.MustGrams(0.01)}},
			map[string]string{"#/amount": "minimum"},
		},
		"a division of nothing": {
			formula.Order{Formula: plain(), Amount: meat, Scale: formula.Divisions{{}}},
			map[string]string{"#/scale/0/division": "minimum"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := formula.Scale(c.order)
			var f *fault.Error
			if !errors.As(err, &f) || f.Kind != fault.Invalid {
				t.Fatalf("want an invalid fault, got %v", err)
			}
			got := map[string]string{}
			for _, v := range f.Violations {
				got[v.Path.Pointer()] = v.Code
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("violations (-want +got):\n%s", d)
			}
		})
	}
}

// unrounded is a scale that no test can see the divisions of.
func unrounded() formula.Divisions {
	return formula.Divisions{{Division: quantity.MustGrams(1e-9)}}
}

// anyFormula draws a formula without spoons.
func anyFormula(t *rapid.T) formula.Formula {
	f := formula.Formula{Product: rulebook.DrySausage}
	first := rapid.Float64Range(1, 99).Draw(t, "first share")
	f.Parts = []formula.Part{part("a", "pork-shoulder-whole-lean-and-fat", first), part("b", "pork-backfat", 100-first)}
	for i, key := range []string{"salt-table", "dextrose-monohydrate", "pepper-black"} {
		rate := perKilogram(rapid.Float64Range(0.1, 60).Draw(t, key))
		if rapid.Bool().Draw(t, key+" on batch") {
			rate = formula.ShareOfBatch(quantity.MustPercent(rapid.Float64Range(0.01, 6).Draw(t, key+" of batch")))
		}
		f.Additions = append(f.Additions, addition(key, formula.Spice+formula.Role(i%2), key, rate))
	}
	f.Additions = append(f.Additions, formula.Addition{
		Name: "cure", Role: formula.Cure, Cure: cure("cure-1"), Rate: perKilogram(rapid.Float64Range(0.5, 2.5).Draw(t, "cure")),
	})
	return f
}

func TestScalingByAFactorScalesEveryLine(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		meat := rapid.Float64Range(500, 50000).Draw(t, "meat")
		k := rapid.Float64Range(0.5, 20).Draw(t, "factor")
		one, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(meat)}, Scale: unrounded()})
		if err != nil {
			t.Fatal(err)
		}
		many, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(k * meat)}, Scale: unrounded()})
		if err != nil {
			t.Fatal(err)
		}
		for i := range one.Lines {
			want, got := k*one.Lines[i].OnScale().Grams(), many.Lines[i].OnScale().Grams()
			if d := want - got; d > 1e-6*want+1e-7 || d < -1e-6*want-1e-7 {
				t.Fatalf("%s: want %v, got %v", one.Lines[i].Name, want, got)
			}
		}
	})
}

func TestScalingToTheBatchComesBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		batch := rapid.Float64Range(500, 50000).Draw(t, "batch")
		s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Batch: quantity.MustGrams(batch)}, Scale: unrounded()})
		if err != nil {
			t.Fatal(err)
		}
		if d := s.Batch().Grams() - batch; d > 1e-6*batch || d < -1e-6*batch {
			t.Fatalf("want a batch of %v, got %v", batch, s.Batch().Grams())
		}
	})
}

// Rounding never lifts a cure on the meat as weighed over the rate asked for.
func TestRoundingNeverLiftsACure(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		meat := rapid.Float64Range(300, 50000).Draw(t, "meat")
		division := rapid.SampledFrom([]float64{0.01, 0.1, 1, 5}).Draw(t, "division")
		s, err := formula.Scale(formula.Order{
			Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(meat)}, Scale: formula.Divisions{{Division: quantity.MustGrams(division)}},
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range s.Lines {
			if l.Role != formula.Cure {
				continue
			}
			exact, given := l.Exact.Grams(), l.OnScale().Grams()
			if given > exact*(1+1e-9) || exact-given > division*(1+1e-9) {
				t.Fatalf("%v g asked for, %v g on a scale of %v g", exact, given, division)
			}
		}
	})
}

func TestReorderedAdditionsGiveTheSameWeights(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		g := f
		g.Additions = rapid.Permutation(f.Additions).Draw(t, "order")
		order := formula.Order{Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(3210)}}
		a, err := formula.Scale(order)
		if err != nil {
			t.Fatal(err)
		}
		order.Formula = g
		b, err := formula.Scale(order)
		if err != nil {
			t.Fatal(err)
		}
		weights := func(s formula.Sheet) map[string]int64 {
			w := map[string]int64{}
			for _, l := range s.Lines {
				w[l.Name] = l.Steps
			}
			return w
		}
		if d := cmp.Diff(weights(a), weights(b)); d != "" {
			t.Fatalf("weights (-one +other):\n%s", d)
		}
	})
}

// Whatever the numbers, an answer is finite and an error is a fault or says
// what was out of range.
func FuzzScale(f *testing.F) {
	f.Add(1000.0, 70.0, 25.0, 0.2, 0.1, 40.0)
	f.Add(1e-9, 1e-9, 1e6, 99.999, 1e-12, 80.0)
	f.Add(1e11, 100.0, 0.0, 0.0, 1e5, 0.0)
	f.Fuzz(func(t *testing.T, meat, share, perKg, ofBatch, division, loss float64) {
		m, err := quantity.Grams(meat)
		if err != nil {
			t.Skip()
		}
		s, err := quantity.Percent(share)
		if err != nil {
			t.Skip()
		}
		onMeat, err := quantity.NewRatio(perKg / 1000)
		if err != nil || perKg < 0 {
			t.Skip()
		}
		b, err := quantity.Percent(ofBatch)
		if err != nil {
			t.Skip()
		}
		d, err := quantity.Grams(division)
		if err != nil {
			t.Skip()
		}
		l, err := quantity.Percent(loss)
		if err != nil {
			t.Skip()
		}
		order := formula.Order{
			Formula: formula.Formula{
				Product: rulebook.DrySausage, Plan: formula.Plan{Loss: &l},
				Parts: []formula.Part{{Name: "a", Material: *mat("pork-backfat"), Share: s}},
				Additions: []formula.Addition{
					addition("salt", formula.Salt, "salt-table", formula.ShareOfMeat(onMeat)),
					addition("pepper", formula.Spice, "pepper-black", formula.ShareOfBatch(b)),
				},
			},
			Scale: formula.Divisions{{Division: d}},
		}
		for _, amount := range []formula.Amount{{Meat: m}, {Batch: m}, {Finished: m}} {
			order.Amount = amount
			sheet, err := formula.Scale(order)
			if err != nil {
				continue
			}
			for _, line := range sheet.Lines {
				if g := line.OnScale().Grams(); g != g || g < 0 || g > 1e300 {
					t.Fatalf("%s: %v g", line.Name, g)
				}
			}
		}
	})
}

// Each way to give a rate, by hand, for 5 lb = 2267.96185 g of meat and a batch
// that is nothing but it and the addition: 2.5 % of the meat 56.699 g; 2.5 % of the
// batch 2267.962 x 0.025/0.975 = 58.153 g; 1/4 oz for 100 lb 0.354369 g; 30 mL of
// wine for a kilogram, 0.985 to 1.0 g/mL, 67.528 g at the middle; a teaspoon of
// table salt for a pound, 6.33 g give or take a tenth, 28.485 to 34.815 g.
func TestEachKindOfRate(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name      string
		material  string
		role      formula.Role
		rate      formula.Rate
		low, high float64
		spooned   bool
	}{
		{"share of the meat", "salt-table", formula.Salt, formula.ShareOfMeat(quantity.MustRatio(0.025)), 56.69905, 56.69905, false},
		{"share of the batch", "salt-table", formula.Salt, formula.ShareOfBatch(quantity.MustPercent(2.5)), 58.15287, 58.15287, false},
		{"mass for a mass", "salt-table", formula.Salt, must(formula.MassPer(must(quantity.Ounces(0.25)), must(quantity.Pounds(100)))), 0.354369, 0.354369, false},
		{"volume of a liquid", "wine-table-red", formula.Liquid, must(formula.VolumePer(must(quantity.Millilitres(30)), quantity.MustGrams(1000))), 67.52856, 67.52856, false},
		{"spoons of a powder", "salt-table", formula.Salt, spoon(1, 1), 28.485, 34.815, true},
	} {
		f := formula.Formula{
			Product: rulebook.DrySausage, Parts: []formula.Part{part("meat", "beef-ground-80-20", 100)},
			Additions: []formula.Addition{addition("it", c.role, c.material, c.rate)},
		}
		s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: must(quantity.Pounds(5))}, Scale: formula.Divisions{{Division: grams(1e-6)}}})
		if err != nil {
			t.Fatal(err)
		}
		l := line(t, s, "it")
		quantitytest.Near(t, c.name+", least", c.low, l.Range.Low.Grams(), 1e-4)
		quantitytest.Near(t, c.name+", most", c.high, l.Range.High.Grams(), 1e-4)
		if l.Spooned() != c.spooned {
			t.Errorf("%s: spooned is %v", c.name, l.Spooned())
		}
	}
}
