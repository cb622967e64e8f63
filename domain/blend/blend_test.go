package blend_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/blend"
	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func percent(p float64) material.Known[quantity.Fraction] {
	return material.Is(quantity.MustPercent(p))
}

func kg(v float64) material.Known[quantity.Mass] { return material.Is(quantity.MustGrams(v * 1000)) }

func lb(v float64) material.Known[quantity.Mass] {
	return material.Is(quantity.MustGrams(v * 453.59237))
}

func ratio(v float64) material.Known[quantity.Ratio] { return material.Is(quantity.MustRatio(v)) }

// perKg and perLb are prices in an invented currency.
func perKg(amount string) material.Known[quantity.Price] { return per(amount, 1000) }
func perLb(amount string) material.Known[quantity.Price] { return per(amount, 453.59237) }

func per(amount string, grams float64) material.Known[quantity.Price] {
	p, err := quantity.MustMoney(amount, "XTS").Per(quantity.MustGrams(grams))
	if err != nil {
		panic(err)
	}
	return material.Is(p)
}

// cut returns a cut of which the fat is stated.
func cut(name string, fat float64, change ...func(*blend.Cut)) blend.Cut {
	c := blend.Cut{Name: name, Fat: percent(fat), Species: material.Pork}
	for _, f := range change {
		f(&c)
	}
	return c
}

func solved(tb testing.TB, o blend.Order) blend.Answer {
	tb.Helper()
	a, err := blend.Solve(o)
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

// Rows of /reference: the square of the trade.
func TestSquare(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name         string
		a, b, target float64
		want         [2]float64
	}{
		{"a published square: belly 30, beef 12, target 20", 30, 12, 20, [2]float64{8, 10}},
		{"the other way round", 12, 30, 20, [2]float64{10, 8}},
		{"all of one", 30, 12, 30, [2]float64{18, 0}},
		{"alike", 20, 20, 20, [2]float64{1, 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p, err := blend.Square(quantity.MustPercent(c.a), quantity.MustPercent(c.b), quantity.MustPercent(c.target))
			if err != nil {
				t.Fatal(err)
			}
			quantitytest.Near(t, "parts of a", c.want[0], p.A.Float(), 1e-9)
			quantitytest.Near(t, "parts of b", c.want[1], p.B.Float(), 1e-9)
			a, b := p.For(quantity.MustGrams(900))
			quantitytest.Near(t, "a of 900 g", 900*c.want[0]/(c.want[0]+c.want[1]), a.Grams(), 1e-9)
			quantitytest.Near(t, "all", 900, a.Plus(b).Grams(), 1e-9)
		})
	}
	for _, target := range []float64{11.9, 30.1} {
		_, err := blend.Square(quantity.MustPercent(30), quantity.MustPercent(12), quantity.MustPercent(target))
		if d := cmp.Diff(refusal{fault.NoSolution, []string{"#/target out-of-reach"}}, refusalOf(t, err)); d != "" {
			t.Errorf("target %v (-want +got):\n%s", target, d)
		}
	}
}

// A published answer: 14 lb of lean with no fat, to 40 % with pure fat, takes
// 9.3333 lb. (Taking 40 % of the lean, 5.6 lb, is the mistake it warns of.)
func TestHowMuchToAdd(t *testing.T) {
	t.Parallel()
	p, err := blend.Square(quantity.MustPercent(0), quantity.MustPercent(100), quantity.MustPercent(40))
	if err != nil {
		t.Fatal(err)
	}
	add, err := p.ToGoWith(quantity.MustGrams(14 * 453.59237))
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "lb of fat", 9.3333, add.Pounds(), 1e-4)
	// The same as a blend: all of the lean goes in, and of the fat what it takes.
	a := solved(t, blend.Order{
		Cuts:   []blend.Cut{cut("lean", 0, func(c *blend.Cut) { c.Fixed = lb(14) }), cut("fat", 100)},
		Limits: []blend.Limit{{Of: blend.Fat, Exact: percent(40)}},
	})
	quantitytest.Near(t, "lb of fat in the blend", 9.3333, a.Cuts[1].Mass.Pounds(), 1e-4)
	quantitytest.Near(t, "lb in all", 23.3333, a.Total.Pounds(), 1e-4)
	quantitytest.Near(t, "parts of lean", 60, a.Square.A.Float(), 1e-9)
	if _, err := (blend.Parts{B: quantity.MustRatio(1)}).ToGoWith(quantity.MustGrams(1)); !errors.As(err, new(*quantity.RangeError)) {
		t.Errorf("no parts of a: %v", err)
	}
}

// A published trap: 10 lb of lean and 3 lb of fat are 23.0769 % fat, not 30.
func TestFatOfFixedAmounts(t *testing.T) {
	t.Parallel()
	a := solved(t, blend.Order{Cuts: []blend.Cut{
		cut("lean", 0, func(c *blend.Cut) { c.Fixed = lb(10) }), cut("fat", 100, func(c *blend.Cut) { c.Fixed = lb(3) }),
	}})
	quantitytest.Near(t, "fat", 23.0769, a.Composition.Fat.Or(quantity.Fraction{}).Percent(), 1e-4)
	if !a.Unique {
		t.Error("fixed amounts leave no choice")
	}
}

func priced(p material.Known[quantity.Price], protein float64) func(*blend.Cut) {
	return func(c *blend.Cut) { c.Price, c.Protein = p, percent(protein) }
}

// Least-cost blends with an answer from outside.
func TestPublishedBlends(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		order  blend.Order
		cost   float64
		masses []float64 // in the unit of the total
		unit   float64   // grams
	}{
		{
			// A notebook's problem without a printed answer: 100 kg, two meats of 20 and 32 % fat at 0.80 and 0.60, at most 25 %.
			// By hand: (32-25)/(32-20) of the first.
			"two meats, fat at most 25 %", blend.Order{
				Cuts:   []blend.Cut{cut("m1", 20, priced(perKg("0.80"), 0)), cut("m2", 32, priced(perKg("0.60"), 0))},
				Limits: []blend.Limit{{Of: blend.Fat, Max: percent(25)}}, Total: kg(100),
			}, 71.6667, []float64{58.3333, 41.6667}, 1000,
		},
		{
			// A textbook's meat market with a printed answer: beef of 75 % lean at 0.75/lb, pork of 60 % at 0.45, at least 70 %
			// lean, at least 50 lb of pork, at most 200 of beef: 100 lb and 50 lb for 97.50. There the total was free.
			"meat market", blend.Order{
				Cuts: []blend.Cut{
					cut("beef", 25, priced(perLb("0.75"), 0), func(c *blend.Cut) { c.OnHand = lb(200) }),
					cut("pork", 40, priced(perLb("0.45"), 0), func(c *blend.Cut) { c.AtLeast = lb(50) }),
				},
				Limits: []blend.Limit{{Of: blend.Lean, Min: percent(70)}}, Total: lb(150),
			}, 97.5, []float64{100, 50}, 453.59237,
		},
		{
			// Composition and prices of figure 1 of Linear Programming - Meat Blending, 1966, as quoted; limits chosen in the
			// reference: 100 lb, fat at most 30 %, protein at least 14 %: 34.2258 by a solver of its own. By hand: bull and fat
			// pork with fat 30 % are x = 40/62, which costs 47x + 11(1-x) = 34.2258; protein is 14.68 %, not binding.
			"figure 1 of 1966", blend.Order{
				Cuts: []blend.Cut{
					cut("bull", 8, priced(perLb("0.47"), 20)), cut("cow", 15, priced(perLb("0.45"), 18)), cut("trim", 50, priced(perLb("0.30"), 10)),
					cut("fat pork", 70, priced(perLb("0.11"), 5)),
				},
				Limits: []blend.Limit{{Of: blend.Fat, Max: percent(30)}, {Of: blend.Protein, Min: percent(14)}}, Total: lb(100),
			}, 34.2258, []float64{64.516, 0, 0, 35.484}, 453.59237,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			a := solved(t, c.order)
			cost, ok := a.Cost.Get()
			if !ok || a.Objective != blend.LeastCost || !a.Unique {
				t.Errorf("cost is known %v, objective %s, unique %v", ok, a.Objective, a.Unique)
			}
			quantitytest.Near(t, "cost", c.cost, cost.Units(), 1e-3)
			for i, want := range c.masses {
				quantitytest.Near(t, a.Cuts[i].Cut.Name, want, a.Cuts[i].Mass.Grams()/c.unit, 1e-3)
			}
		})
	}
}

// The shadow prices of the same problems, by hand.
func TestWhatLimitsCost(t *testing.T) {
	t.Parallel()
	// Fat at most F of meats of 20 and 32 %: the share of the first falls by 1/12 for each point, and a kilogram by 0.20/12.
	two := blend.Order{
		Cuts:   []blend.Cut{cut("m1", 20, priced(perKg("0.80"), 0)), cut("m2", 32, priced(perKg("0.60"), 0)), cut("dear", 20, priced(perKg("1.10"), 0))},
		Limits: []blend.Limit{{Of: blend.Fat, Max: percent(25)}}, Total: kg(100),
	}
	a := solved(t, two)
	price, _ := shadowOf(t, a, "#/limits/0/max_percent").Price.Get()
	quantitytest.Near(t, "a point of fat", -0.20/12, price.PerKilogram(), 1e-9)
	// One kilogram more in all costs what a kilogram costs, 0.716667: nothing else is short.
	price, _ = shadowOf(t, a, "#/total").Price.Get()
	quantitytest.Near(t, "one kilogram more", 0.716667, price.PerKilogram(), 1e-6)
	// The dear one does what the first does: it would have to cost 0.30 less.
	by, _ := a.Cuts[2].CheaperBy.Get()
	quantitytest.Near(t, "dear", 0.30, by.PerKilogram(), 1e-9)
	if _, ok := a.Cuts[0].CheaperBy.Get(); ok {
		t.Error("what is used is cheap enough")
	}

	// With 30 kg of the first on hand the dear one fills the gap: each kilogram more of the first saves 0.30 in all.
	two.Cuts[0].OnHand = kg(30)
	a = solved(t, two)
	price, _ = shadowOf(t, a, "#/cuts/0/on_hand").Price.Get()
	quantitytest.Near(t, "a kilogram on hand", -0.30, price.PerKilogram(), 1e-9)

	// Water 70, protein 20 at 5, and 60, 12 at 2, at most 4: -10x + 12(1-x) <= 0 gives x = 12/22. With x(R) = (60-12R)/(8R-10)
	// the price 2 + 3x falls by 3*360/484 for each 1 of the ratio.
	wet := func(w, p float64, price string) blend.Cut {
		return blend.Cut{Name: price, Moisture: percent(w), Protein: percent(p), Price: perKg(price)}
	}
	a = solved(t, blend.Order{
		Cuts: []blend.Cut{wet(70, 20, "5"), wet(60, 12, "2")}, Limits: []blend.Limit{{Of: blend.WaterProtein, MaxRatio: ratio(4)}}, Total: kg(1),
	})
	quantitytest.Near(t, "share of the lean", 12.0/22, a.Cuts[0].Share.Float(), 1e-9)
	wp, _ := a.Composition.WaterProtein.Get()
	quantitytest.Near(t, "water:protein", 4, wp.Float(), 1e-9)
	price, _ = shadowOf(t, a, "#/limits/0/max_ratio").Price.Get()
	quantitytest.Near(t, "a tenth of the ratio", -3*360.0/484/10, price.PerKilogram(), 1e-6)
}

func shadowOf(tb testing.TB, a blend.Answer, pointer string) blend.Shadow {
	tb.Helper()
	i := slices.IndexFunc(a.Binding, func(b blend.Binding) bool { return b.Member.Pointer() == pointer })
	if i < 0 {
		tb.Fatalf("%s does not bind: %v", pointer, a.Binding)
	}
	return a.Binding[i].Shadow
}

// I have 3.1 kg of shoulder and 0.5 kg of back fat, and want 25 % fat. By the
// table, 17.99 and 88.69 %: to each kilogram of shoulder go (25 - 17.99)/(88.69 -
// 25) = 0.110065 kg of fat, so that the shoulder runs out first: 3.441199 kg.
func TestAsMuchAsThereIs(t *testing.T) {
	t.Parallel()
	shoulder, _ := material.ByKey("pork-shoulder-whole-lean-and-fat")
	fat, _ := material.ByKey("pork-backfat")
	a := solved(t, blend.Order{
		Cuts: []blend.Cut{
			{Name: "Shoulder", Material: &shoulder, OnHand: kg(3.1)}, {Name: "Back fat", Material: &fat, OnHand: kg(0.5)},
		},
		Limits: []blend.Limit{{Of: blend.Fat, Exact: percent(25)}},
	})
	if a.Objective != blend.MostMass || !a.Unique || a.Then != 0 {
		t.Errorf("objective %s, then %s, unique %v", a.Objective, a.Then, a.Unique)
	}
	quantitytest.Near(t, "kg in all", 3.441199, a.Total.Kilograms(), 1e-6)
	quantitytest.Near(t, "kg of fat", 0.341199, a.Cuts[1].Mass.Kilograms(), 1e-6)
	times, _ := shadowOf(t, a, "#/cuts/0/on_hand").Times.Get()
	quantitytest.Near(t, "kg more for a kg of shoulder", 1.110065, times.Float(), 1e-6)
	// T = 3.1 (88.69 - 17.99)/(88.69 - F): for a point of F 3.441199/63.69 kg more.
	more, _ := shadowOf(t, a, "#/limits/0/exact_percent").Mass.Get()
	quantitytest.Near(t, "kg more for a point of fat", 3.441199/63.69, more.Kilograms(), 1e-6)
	quantitytest.Near(t, "parts of shoulder", 63.69, a.Square.A.Float(), 1e-9)
	sum := 0.0
	for _, p := range a.Parts {
		sum += p.Share.Percent()
	}
	quantitytest.Near(t, "sum of the parts", 100, sum, 1e-9)
	if err := (formula.Formula{Parts: a.Parts}).Check(); err != nil {
		t.Errorf("the parts are not those of a formula: %v", err)
	}
}

// As much as there is, and of those the cheapest: 1 kg of lean has to go with 1
// kg of one of two fats alike but for their price.
func TestAmongThoseTheCheapest(t *testing.T) {
	t.Parallel()
	a := solved(t, blend.Order{
		Cuts: []blend.Cut{
			cut("lean", 0, priced(perKg("5"), 0), func(c *blend.Cut) { c.OnHand = kg(1) }),
			cut("dear", 50, priced(perKg("3"), 0), func(c *blend.Cut) { c.OnHand = kg(4) }),
			cut("cheap", 50, priced(perKg("2"), 0), func(c *blend.Cut) { c.OnHand = kg(0.75) }),
		},
		Limits: []blend.Limit{{Of: blend.Fat, Max: percent(25)}},
	})
	if a.Objective != blend.MostMass || a.Then != blend.LeastCost || !a.Unique {
		t.Errorf("objective %s, then %s, unique %v", a.Objective, a.Then, a.Unique)
	}
	for i, want := range []float64{1, 0.25, 0.75} {
		quantitytest.Near(t, a.Cuts[i].Cut.Name, want, a.Cuts[i].Mass.Kilograms(), 1e-6)
	}
}

// Half and half is wished for, of 10 and 50 % fat, and at most 26 % allowed:
// 60 and 40, a tenth off; a point of fat takes 1/40 of the whole, 2.5 points.
func TestClosestToWishes(t *testing.T) {
	t.Parallel()
	wished := func(p float64) func(*blend.Cut) {
		return func(c *blend.Cut) { c.WishedShare = percent(p) }
	}
	o := blend.Order{
		Cuts:   []blend.Cut{cut("lean", 10, wished(50)), cut("fat", 50, wished(50))},
		Limits: []blend.Limit{{Of: blend.Fat, Max: percent(26)}}, Total: kg(2),
	}
	a := solved(t, o)
	if a.Objective != blend.ClosestShares || !a.Unique {
		t.Errorf("objective %s, unique %v", a.Objective, a.Unique)
	}
	quantitytest.Near(t, "lean", 60, a.Cuts[0].Share.Percent(), 1e-6)
	off, _ := a.Deviation.Get()
	quantitytest.Near(t, "deviation", 0.1, off.Float(), 1e-8)
	points, _ := shadowOf(t, a, "#/limits/0/max_percent").Points.Get()
	quantitytest.Near(t, "a point of fat", -2.5, points.Float(), 1e-6)

	// Without wishes: as on hand, one to three; with nothing on hand, alike.
	o.Limits, o.Cuts = nil, []blend.Cut{cut("a", 10, func(c *blend.Cut) { c.OnHand = kg(1) }), cut("b", 50, func(c *blend.Cut) { c.OnHand = kg(3) })}
	quantitytest.Near(t, "as on hand", 25, solved(t, o).Cuts[0].Share.Percent(), 1e-6)
	o.Cuts = []blend.Cut{cut("a", 10), cut("b", 50), cut("c", 20), cut("d", 30)}
	quantitytest.Near(t, "alike", 25, solved(t, o).Cuts[3].Share.Percent(), 1e-6)
}

// Beef is the cheapest, and yet pork is to stand before beef and beef before
// lamb on the label, and veal may be at most a fifth: half and half by hand. With
// lamb of at least a tenth: 45, 45, 10.
func TestSpecies(t *testing.T) {
	t.Parallel()
	of := func(s material.Species, price string) blend.Cut {
		return blend.Cut{Name: s.String(), Species: s, Price: perKg(price)}
	}
	o := blend.Order{
		Cuts:         []blend.Cut{of(material.Pork, "6"), of(material.Beef, "4"), of(material.Lamb, "9")},
		SpeciesOrder: []material.Species{material.Pork, material.Beef, material.Lamb}, Total: kg(1),
	}
	shares := func() []float64 {
		var got []float64
		for _, u := range solved(t, o).Cuts {
			got = append(got, math.Round(u.Share.Percent()*1e4)/1e4)
		}
		return got
	}
	if d := cmp.Diff([]float64{50, 50, 0}, shares()); d != "" {
		t.Errorf("in order (-want +got):\n%s", d)
	}
	o.Limits = []blend.Limit{{Of: blend.ShareOfSpecies, Species: material.Lamb, Min: percent(10)}}
	if d := cmp.Diff([]float64{45, 45, 10}, shares()); d != "" {
		t.Errorf("with lamb (-want +got):\n%s", d)
	}
	o.Limits = append(o.Limits, blend.Limit{Of: blend.ShareOfSpecies, Species: material.Beef, Max: percent(20)})
	if d := cmp.Diff([]float64{70, 20, 10}, shares()); d != "" {
		t.Errorf("with little beef (-want +got):\n%s", d)
	}
}

type refusal struct {
	Kind  fault.Kind
	Codes []string
}

func refusalOf(tb testing.TB, err error) refusal {
	tb.Helper()
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		tb.Fatalf("no fault: %v", err)
	}
	r := refusal{Kind: f.Kind}
	for _, v := range f.Violations {
		r.Codes = append(r.Codes, v.Path.Pointer()+" "+v.Code)
	}
	slices.Sort(r.Codes)
	return r
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	onHand := func(m material.Known[quantity.Mass]) func(*blend.Cut) {
		return func(c *blend.Cut) { c.OnHand = m }
	}
	beef := func(c *blend.Cut) { c.Species = material.Beef }
	lard, _ := material.ByKey("lard")
	for _, c := range []struct {
		name  string
		order blend.Order
		kind  fault.Kind
		want  []string
	}{
		{
			"less fat than any cut has", blend.Order{
				Cuts: []blend.Cut{cut("shoulder", 18), cut("fat", 88)}, Limits: []blend.Limit{{Of: blend.Fat, Max: percent(15)}}, Total: kg(5),
			}, fault.NoSolution, []string{"#/limits/0/max_percent out-of-reach"},
		},
		{
			"an exact figure outside the two", blend.Order{
				Cuts: []blend.Cut{cut("belly", 30), cut("beef", 12)}, Limits: []blend.Limit{{Of: blend.Lean, Exact: percent(60)}},
			}, fault.NoSolution, []string{"#/limits/0/exact_percent out-of-reach"},
		},
		{
			"more in all than there is", blend.Order{Cuts: []blend.Cut{cut("a", 18, onHand(kg(3))), cut("b", 88, onHand(kg(1)))}, Total: kg(5)},
			fault.NoSolution, []string{"#/cuts/0/on_hand clash", "#/cuts/1/on_hand clash", "#/total clash"},
		},
		{
			"an order of species against a share", blend.Order{
				Cuts:   []blend.Cut{cut("pork", 18), cut("beef", 20, beef), cut("fat", 88)},
				Limits: []blend.Limit{{Of: blend.Fat, Max: percent(80)}, {Of: blend.ShareOfSpecies, Species: material.Pork, Min: percent(60)}},
				Total:  kg(1), SpeciesOrder: []material.Species{material.Beef, material.Pork},
			}, fault.NoSolution, []string{"#/limits/1/min_percent clash", "#/species_order/1 clash"},
		},
		{
			"ends that exclude each other", blend.Order{
				Cuts: []blend.Cut{cut("a", 18), cut("b", 88)}, Limits: []blend.Limit{{Of: blend.Fat, Min: percent(40), Max: percent(30)}},
			}, fault.NoSolution, []string{"#/limits/0/max_percent clash", "#/limits/0/min_percent clash"},
		},
		{
			// 2 kg of 4 at 80 % and the rest at 20 % are 50 %.
			"all of it makes it too fat", blend.Order{
				Cuts:   []blend.Cut{cut("lean", 20), cut("fat", 80, func(c *blend.Cut) { c.Fixed = kg(2) })},
				Limits: []blend.Limit{{Of: blend.Fat, Max: percent(45)}}, Total: kg(4),
			}, fault.NoSolution, []string{"#/cuts/1/fixed clash", "#/limits/0/max_percent clash", "#/total clash"},
		},
		{
			"a ratio that no cut has", blend.Order{
				Cuts:   []blend.Cut{{Name: "a", Moisture: percent(70), Protein: percent(20)}, {Name: "b", Moisture: percent(60), Protein: percent(12)}},
				Limits: []blend.Limit{{Of: blend.WaterProtein, MaxRatio: ratio(3)}},
			}, fault.NoSolution, []string{"#/limits/0/max_ratio out-of-reach"},
		},
		{
			"no end to how much", blend.Order{Cuts: []blend.Cut{cut("a", 18, onHand(kg(3))), cut("b", 88)}},
			fault.Invalid, []string{"#/cuts/1/on_hand no-end"},
		},
		{
			"a figure that is not known", blend.Order{
				Cuts: []blend.Cut{cut("a", 18), {Name: "b", Material: &lard, Fat: percent(99)}}, Limits: []blend.Limit{{Of: blend.WaterProtein, MaxRatio: ratio(4)}},
			}, fault.Invalid, []string{
				"#/cuts/0/moisture_percent figure-missing", "#/cuts/0/protein_percent figure-missing", "#/cuts/1/moisture_percent figure-missing",
				"#/cuts/1/protein_percent figure-missing",
			},
		},
		{
			"everything at once", blend.Order{
				Cuts: []blend.Cut{
					{Name: "a", Fat: percent(60), Protein: percent(60), Price: perKg("1")}, {Name: "a", Fat: percent(1), WishedShare: percent(40)},
					{Name: "c", Fat: percent(1), Price: func() material.Known[quantity.Price] {
						p, _ := quantity.MustMoney("1", "USD").Per(quantity.MustGrams(1))
						return material.Is(p)
					}()},
				},
				Limits:       []blend.Limit{{Of: blend.Fat}, {Of: blend.ShareOfSpecies, Max: percent(3)}},
				SpeciesOrder: []material.Species{material.Pork, material.Pork}, Objective: blend.LeastCost, Scale: formula.Divisions{{}},
			}, fault.Invalid, []string{
				"#/cuts sum", "#/cuts/0 above-whole", "#/cuts/0/species required", "#/cuts/1/name duplicate", "#/cuts/1/price required",
				"#/cuts/1/species required", "#/cuts/2/price/currency currency", "#/cuts/2/species required", "#/limits/0 required",
				"#/limits/1/species required", "#/scale/0/division minimum", "#/species_order/1 duplicate",
			},
		},
		{"most mass of a total", blend.Order{Cuts: []blend.Cut{cut("a", 1)}, Total: kg(1), Objective: blend.MostMass}, fault.Invalid, []string{"#/objective additional-member"}},
		{"most mass of nothing", blend.Order{Cuts: []blend.Cut{cut("a", 1)}, Objective: blend.MostMass}, fault.Invalid, []string{"#/objective no-mass"}},
		{"no cuts", blend.Order{}, fault.Invalid, []string{"#/cuts size"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := blend.Solve(c.order)
			if d := cmp.Diff(refusal{c.kind, c.want}, refusalOf(t, err)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%v", d, err)
			}
		})
	}
}

// What could be instead is said with its figures: 2 kg at 80 % in 4 kg are 50 %
// at the least; with at most 45 % there may be 4*(45-20)/60 = 1.667 kg of it, or it
// takes 2*60/25 = 4.8 kg in all. Least in sum misses the fat, by 5 points.
func TestClashSaysWhatCouldBe(t *testing.T) {
	t.Parallel()
	_, err := blend.Solve(blend.Order{
		Cuts:   []blend.Cut{cut("lean", 20), cut("fat", 80, func(c *blend.Cut) { c.Fixed = kg(2) })},
		Limits: []blend.Limit{{Of: blend.Fat, Max: percent(45)}}, Total: kg(4),
	})
	f, _ := errors.AsType[*fault.Error](err)
	for _, v := range f.Violations {
		want := map[string]string{"#/total": "at least 4800 g", "#/limits/0/max_percent": "from 50 % to 50 %", "#/cuts/1/fixed": "to 1666.7 g"}[v.Path.Pointer()]
		if want == "from 50 % to 50 %" {
			want = "is 50 %"
		}
		if !strings.Contains(v.Detail, want) {
			t.Errorf("%s lacks %q: %s", v.Path.Pointer(), want, v.Detail)
		}
	}
	if !strings.Contains(f.Detail, "5 points") {
		t.Errorf("the nearest blend is not told: %s", f.Detail)
	}
}

// A stated fat scales what the table has of moisture and protein: shoulder of
// 17.99 % fat, 64.02 % water and 17.18 % protein, with 25 % fat has 64.02*75/82.01
// and 17.18*75/82.01.
func TestFigures(t *testing.T) {
	t.Parallel()
	shoulder, _ := material.ByKey("pork-shoulder-whole-lean-and-fat")
	f := blend.Cut{Material: &shoulder, Fat: percent(25), Protein: percent(15)}.Figures()
	quantitytest.Near(t, "moisture", 64.02*75/82.01, f.Moisture.Part.Or(quantity.Fraction{}).Percent(), 1e-9)
	got := []blend.Origin{f.Fat.Origin, f.Moisture.Origin, f.Protein.Origin}
	if d := cmp.Diff([]blend.Origin{blend.Stated, blend.Scaled, blend.Stated}, got); d != "" {
		t.Errorf("origins (-want +got):\n%s", d)
	}
	f = blend.Cut{Material: &shoulder}.Figures()
	quantitytest.Near(t, "protein of the table", 17.18, f.Protein.Part.Or(quantity.Fraction{}).Percent(), 1e-9)
	if f.Protein.Origin != blend.Table || f.Fat.Origin != blend.Table {
		t.Errorf("origins %s, %s", f.Protein.Origin, f.Fat.Origin)
	}
	if f := (blend.Cut{}).Figures(); f != (blend.Figures{}) {
		t.Errorf("nothing is known, got %v", f)
	}
}

// 58.3333 and 41.6667 of 100 g on a scale of 1 g are 58 and 42, of 25.04 % fat;
// with one gram more of the lean, 59 and 42, or 59 and 41, it is at most 25. On a
// scale of 30 g there are 60 and 30 to keep the fat (24 %), and 90 g in all.
func TestRounding(t *testing.T) {
	t.Parallel()
	o := blend.Order{
		Cuts:   []blend.Cut{cut("m1", 20, priced(perKg("0.80"), 0)), cut("m2", 32, priced(perKg("0.60"), 0))},
		Limits: []blend.Limit{{Of: blend.Fat, Max: percent(25)}}, Total: kg(0.1),
		Scale: formula.Divisions{{Division: quantity.MustGrams(1)}},
	}
	a := solved(t, o)
	onScale := func(i int) float64 { return a.Cuts[i].OnScale.Or(quantity.Mass{}).Grams() }
	quantitytest.Near(t, "lean on the scale", 59, onScale(0), 1e-12)
	if fat := a.Rounded.Composition.Fat.Or(quantity.Fraction{}).Percent(); fat > 25 || len(a.Rounded.Misses) != 0 {
		t.Errorf("fat %v, misses %v", fat, a.Rounded.Misses)
	}
	o.Scale[0].Division = quantity.MustGrams(30)
	a = solved(t, o)
	if d := cmp.Diff([]float64{60, 30}, []float64{onScale(0), onScale(1)}); d != "" || len(a.Rounded.Misses) != 0 {
		t.Errorf("on the scale (-want +got):\n%smisses %v", d, a.Rounded.Misses)
	}
	// Exactly one gram of 100 on a scale of 5 g: nothing of it can be weighed, or five times as much; both are said.
	o.Cuts[0].Fixed = material.Is(quantity.MustGrams(1))
	o.Limits, o.Scale[0].Division = []blend.Limit{{Of: blend.Fat, Max: percent(31.9)}}, quantity.MustGrams(5)
	a = solved(t, o)
	if len(a.Rounded.Misses) != 1 || a.Rounded.Misses[0].Member.Pointer() != "#/limits/0/max_percent" {
		t.Errorf("%v and %v miss %v", onScale(0), onScale(1), a.Rounded.Misses)
	}
	// What is on hand is not exceeded: 58.6 g round down.
	o.Limits, o.Cuts[0].Fixed, o.Total = nil, material.Known[quantity.Mass]{}, material.Known[quantity.Mass]{}
	o.Cuts[0].OnHand, o.Cuts[1].OnHand = material.Is(quantity.MustGrams(58.6)), material.Is(quantity.MustGrams(10))
	o.Scale[0].Division = quantity.MustGrams(1)
	a = solved(t, o)
	quantitytest.Near(t, "on the scale", 58, onScale(0), 1e-12)
	// A division of more than twice everything leaves nothing, and that is said.
	o.Scale = formula.Divisions{{Division: quantity.MustGrams(1000)}}
	if a = solved(t, o); !a.Rounded.Total.IsZero() || len(a.Rounded.Misses) == 0 {
		t.Errorf("%s is left, misses %v", a.Rounded.Total, a.Rounded.Misses)
	}
}

// Many cuts that are alike, and limits that all say the same: nothing to
// stumble over.
func TestDegenerateOrders(t *testing.T) {
	t.Parallel()
	var alike []blend.Cut
	for i := range 60 {
		alike = append(alike, blend.Cut{
			Name: strconv.Itoa(i), Fat: percent(25), Moisture: percent(60), Protein: percent(15), Species: material.Pork, Price: perKg("4"), OnHand: kg(1),
			MaxShare: percent(50), MinShare: percent(0),
		})
	}
	var same []blend.Limit
	for range 15 {
		same = append(same, blend.Limit{Of: blend.Fat, Exact: percent(25)}, blend.Limit{Of: blend.Lean, Exact: percent(75)},
			blend.Limit{Of: blend.WaterProtein, MinRatio: ratio(4), MaxRatio: ratio(4)}, blend.Limit{Of: blend.ShareOfSpecies, Species: material.Pork, Exact: percent(100)})
	}
	for _, total := range []material.Known[quantity.Mass]{kg(3), kg(60), {}} {
		a := solved(t, blend.Order{Cuts: alike, Limits: same, Total: total})
		quantitytest.Near(t, "fat", 25, a.Composition.Fat.Or(quantity.Fraction{}).Percent(), 1e-6)
		quantitytest.Near(t, "price", 4, a.Price.Or(quantity.Price{}).PerKilogram(), 1e-6)
	}
	alone := alike[0]
	alone.MaxShare = percent(100)
	a := solved(t, blend.Order{Cuts: []blend.Cut{alone}, Limits: same})
	if !a.Unique || a.Total.Grams() != 1000 {
		t.Errorf("one cut of 1 kg: %s, unique %v", a.Total, a.Unique)
	}
}

// drawn draws an order of two or three cuts, with limits that often clash.
func drawn(t *rapid.T) blend.Order {
	p := func(low, high int, name string) float64 { return float64(rapid.IntRange(low, high).Draw(t, name)) }
	o := blend.Order{Total: kg(10)}
	for i := range rapid.IntRange(2, 3).Draw(t, "cuts") {
		fat := p(0, 90, "fat")
		c := blend.Cut{
			Name: strconv.Itoa(i), Fat: percent(fat), Moisture: percent((100 - fat) * 0.78), Protein: percent((100 - fat) * p(15, 21, "protein") / 100),
			Species: rapid.SampledFrom([]material.Species{material.Pork, material.Beef}).Draw(t, "species"), Price: perKg(fmt.Sprint(p(1, 12, "price"))),
		}
		if rapid.Bool().Draw(t, "short") {
			c.OnHand = kg(p(1, 12, "on hand"))
		}
		if rapid.Bool().Draw(t, "wanted") {
			c.MinShare = percent(p(0, 40, "least"))
		}
		o.Cuts = append(o.Cuts, c)
	}
	for range rapid.IntRange(0, 3).Draw(t, "limits") {
		low := p(0, 60, "low")
		high := low + p(0, 30, "range")
		o.Limits = append(o.Limits, rapid.SampledFrom([]blend.Limit{
			{Of: blend.Fat, Min: percent(low), Max: percent(high)}, {Of: blend.Protein, Min: percent(low / 4)},
			{Of: blend.WaterProtein, MaxRatio: ratio(3.5 + low/30)}, {Of: blend.ShareOfSpecies, Species: material.Pork, Min: percent(low)},
		}).Draw(t, "limit"))
	}
	if rapid.Bool().Draw(t, "ordered") {
		o.SpeciesOrder = []material.Species{material.Pork, material.Beef}
	}
	return o
}

// keeps holds shares against an order without any of the code under test, and
// returns their price.
func keeps(o blend.Order, shares []float64, slack float64) (price float64, ok bool) {
	total, _ := o.Total.Get()
	of := func(figure func(blend.Cut) float64) float64 {
		sum := 0.0
		for i, c := range o.Cuts {
			sum += shares[i] * figure(c)
		}
		return sum
	}
	part := func(f material.Known[quantity.Fraction]) float64 { return f.Or(quantity.Fraction{}).Float() }
	is := func(s material.Species) float64 {
		return of(func(c blend.Cut) float64 {
			if c.Species == s {
				return 1
			}
			return 0
		})
	}
	price, ok = of(func(c blend.Cut) float64 { return c.Price.Or(quantity.Price{}).PerKilogram() }), true
	for i, c := range o.Cuts {
		if h, has := c.OnHand.Get(); has && shares[i]*total.Grams() > h.Grams()+slack*total.Grams() {
			ok = false
		}
		ok = ok && shares[i] >= part(c.MinShare)-slack
	}
	water, protein := of(func(c blend.Cut) float64 { return part(c.Moisture) }), of(func(c blend.Cut) float64 { return part(c.Protein) })
	for _, l := range o.Limits {
		var figure float64
		switch l.Of {
		case blend.Fat:
			figure = of(func(c blend.Cut) float64 { return part(c.Fat) })
		case blend.Protein:
			figure = protein
		case blend.ShareOfSpecies:
			figure = is(l.Species)
		case blend.Lean, blend.Moisture:
			continue // not drawn
		case blend.WaterProtein:
			r, _ := l.MaxRatio.Get()
			ok = ok && water <= r.Float()*protein+slack
			continue
		}
		low, hasLow := l.Min.Get()
		high, hasHigh := l.Max.Get()
		ok = ok && !(hasLow && figure < low.Float()-slack) && !(hasHigh && figure > high.Float()+slack)
	}
	if len(o.SpeciesOrder) > 0 {
		ok = ok && is(material.Pork) >= is(material.Beef)-slack
	}
	return price, ok
}

// grid calls f with all shares of the cuts in steps of 1/20.
func grid(n int, f func(shares []float64)) {
	const steps = 20
	for a := 0; a <= steps; a++ {
		if n == 2 {
			f([]float64{float64(a) / steps, float64(steps-a) / steps})
			continue
		}
		for b := 0; a+b <= steps; b++ {
			f([]float64{float64(a) / steps, float64(b) / steps, float64(steps-a-b) / steps})
		}
	}
}

func sharesOf(a blend.Answer) []float64 {
	var s []float64
	for _, u := range a.Cuts {
		s = append(s, u.Share.Float())
	}
	return s
}

// The best blend keeps its limits and is no dearer than any of a grid; and where
// there is none, the grid finds none either. Where the grid finds none even with
// the tolerance of its steps, there is none.
func TestNoGridIsBetter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := drawn(t)
		a, err := blend.Solve(o)
		f, refused := errors.AsType[*fault.Error](err)
		if err != nil && (!refused || f.Kind != fault.NoSolution) {
			t.Fatal(err)
		}
		best := math.Inf(1)
		if err == nil {
			var ok bool
			if best, ok = keeps(o, sharesOf(a), 1e-6); !ok {
				t.Fatalf("%v breaks a limit", sharesOf(a))
			}
		}
		near := false
		grid(len(o.Cuts), func(shares []float64) {
			if price, ok := keeps(o, shares, 1e-12); ok && price < best-1e-6 {
				t.Fatalf("%v costs %v, the best blend %v, %v", shares, price, best, err)
			}
			_, ok := keeps(o, shares, 0.1) // a share is off by a fortieth at most, and a ratio by no more than four of them
			near = near || ok
		})
		if err == nil && !near {
			t.Fatal("there is a blend, and none of the grid is near it")
		}
	})
}

// named returns an order with nothing but the limits of another that a fault
// names, less one of them.
func named(o blend.Order, violations []fault.Violation, without int) blend.Order {
	only := blend.Order{}
	for _, c := range o.Cuts {
		c.OnHand, c.MinShare = material.Known[quantity.Mass]{}, material.Known[quantity.Fraction]{}
		only.Cuts = append(only.Cuts, c)
	}
	for i, v := range violations {
		if i == without {
			continue
		}
		at := 0
		if len(v.Path) > 1 {
			at = int(v.Path[1][0] - '0')
		}
		switch v.Path[0] {
		case "total":
			only.Total = o.Total
		case "species_order":
			only.SpeciesOrder = o.SpeciesOrder
		case "limits":
			l := o.Limits[at]
			switch v.Path[2] {
			case "min_percent":
				l.Max = material.Known[quantity.Fraction]{}
			case "max_percent":
				l.Min = material.Known[quantity.Fraction]{}
			}
			only.Limits = append(only.Limits, l)
		case "cuts":
			if v.Path[2] == "on_hand" {
				only.Cuts[at].OnHand = o.Cuts[at].OnHand
			} else {
				only.Cuts[at].MinShare = o.Cuts[at].MinShare
			}
		}
	}
	return only
}

// What is named as clashing clashes by itself, and can be kept as soon as one of
// it is given up.
func TestClashesAreNeeded(t *testing.T) {
	t.Parallel()
	clashes := func(o blend.Order) bool {
		_, err := blend.Solve(o)
		f, refused := errors.AsType[*fault.Error](err)
		return refused && f.Kind == fault.NoSolution
	}
	rapid.Check(t, func(t *rapid.T) {
		o := drawn(t)
		_, err := blend.Solve(o)
		f, refused := errors.AsType[*fault.Error](err)
		if !refused {
			return
		}
		if !clashes(named(o, f.Violations, -1)) {
			t.Fatalf("they do not clash: %v", err)
		}
		for i := range f.Violations {
			if clashes(named(o, f.Violations, i)) {
				t.Fatalf("they clash without %s: %v", f.Violations[i].Path.Pointer(), err)
			}
		}
	})
}

// The order of the cuts changes nothing of the price, and twice the masses make
// twice of everything.
func TestOrderAndScale(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := drawn(t)
		a, err := blend.Solve(o)
		turned := o
		turned.Cuts = slices.Clone(o.Cuts)
		slices.Reverse(turned.Cuts)
		b, turnedErr := blend.Solve(turned)
		double := o
		double.Cuts, double.Total = slices.Clone(o.Cuts), kg(20)
		for i, c := range double.Cuts {
			if m, ok := c.OnHand.Get(); ok {
				double.Cuts[i].OnHand = material.Is(m.Times(quantity.MustRatio(2)))
			}
		}
		c, doubleErr := blend.Solve(double)
		if (err == nil) != (turnedErr == nil) || (err == nil) != (doubleErr == nil) {
			t.Fatalf("%v, turned %v, double %v", err, turnedErr, doubleErr)
		}
		if err != nil {
			return
		}
		price := func(a blend.Answer) float64 { return a.Price.Or(quantity.Price{}).PerKilogram() }
		if math.Abs(price(a)-price(b)) > 1e-6 || math.Abs(price(a)-price(c)) > 1e-6 {
			t.Fatalf("prices %v, turned %v, double %v", price(a), price(b), price(c))
		}
		if cost, twice := a.Cost.Or(quantity.Money{}).Units(), c.Cost.Or(quantity.Money{}).Units(); math.Abs(2*cost-twice) > 1e-5 {
			t.Fatalf("cost %v, double %v", cost, twice)
		}
		for i := range a.Cuts {
			if a.Unique && math.Abs(2*a.Cuts[i].Mass.Grams()-c.Cuts[i].Mass.Grams()) > 1e-3 {
				t.Fatalf("%s, double %s", a.Cuts[i].Mass, c.Cuts[i].Mass)
			}
		}
	})
}

// A tenth of a point more of a limit changes the price of a kilogram as the
// answer says, where the optimum is not degenerate.
func TestShadowPricesAreSlopes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := drawn(t)
		a, err := blend.Solve(o)
		if err != nil || a.Degenerate {
			return
		}
		price := func(a blend.Answer) float64 { return a.Price.Or(quantity.Price{}).PerKilogram() }
		const step = 1e-3 // points
		for _, b := range a.Binding {
			if b.Member[0] != "limits" {
				continue
			}
			moved := o
			moved.Limits = slices.Clone(o.Limits)
			l := &moved.Limits[b.Member[1][0]-'0']
			up := func(f material.Known[quantity.Fraction]) material.Known[quantity.Fraction] {
				return percent(f.Or(quantity.Fraction{}).Percent() + step)
			}
			per := step
			switch b.Member[2] {
			case "min_percent":
				l.Min = up(l.Min)
			case "max_percent":
				l.Max = up(l.Max)
			default:
				r, _ := l.MaxRatio.Get()
				l.MaxRatio, per = ratio(r.Float()+step/10), step
			}
			other, err := blend.Solve(moved)
			if err != nil {
				t.Fatal(err)
			}
			p, _ := b.Shadow.Price.Get()
			if slope := (price(other) - price(a)) / per; math.Abs(slope-p.PerKilogram()) > 0.01*math.Max(0.1, math.Abs(slope)) {
				t.Fatalf("%s: the price rises by %v for a step, the answer says %v", b.Member.Pointer(), slope, p.PerKilogram())
			}
		}
	})
}

// largest is an order of the largest size, with as many rows as it can have.
func largest() blend.Order {
	o := blend.Order{Total: kg(100), SpeciesOrder: []material.Species{material.Pork, material.Beef}}
	for i := range 60 {
		fat := 5 + float64(i*37%80)
		o.Cuts = append(o.Cuts, blend.Cut{
			Name: strconv.Itoa(i), Fat: percent(fat), Moisture: percent((100 - fat) * 0.77), Protein: percent((100 - fat) * (0.18 + float64(i%5)/100)),
			Species: material.Pork + material.Species(i%2), Price: perKg(strconv.Itoa(2 + i*13%11)), OnHand: kg(5 + float64(i%3)), AtLeast: kg(0.1),
			MinShare: percent(0.1), MaxShare: percent(5),
		})
	}
	for i := range 15 {
		o.Limits = append(
			o.Limits, blend.Limit{Of: blend.Fat, Min: percent(20 + float64(i)/10), Max: percent(30 + float64(i)/10)}, blend.Limit{Of: blend.Protein, Min: percent(10)},
			blend.Limit{Of: blend.WaterProtein, MaxRatio: ratio(4)}, blend.Limit{Of: blend.ShareOfSpecies, Species: material.Pork, Max: percent(70)},
		)
	}
	return o
}

func BenchmarkLargestOrder(b *testing.B) {
	for name, change := range map[string]func(*blend.Order){
		"least cost":    func(*blend.Order) {},
		"closest":       func(o *blend.Order) { o.Objective = blend.ClosestShares },
		"most mass":     func(o *blend.Order) { o.Total = material.Known[quantity.Mass]{} },
		"clash":         func(o *blend.Order) { o.Limits[59].Min = percent(90) },
		"clash of many": func(o *blend.Order) { o.Total = kg(1000) },
	} {
		b.Run(name, func(b *testing.B) {
			o := largest()
			change(&o)
			for b.Loop() {
				_, err := blend.Solve(o)
				if f, refused := errors.AsType[*fault.Error](err); refused && f.Code == "not-converged" || err != nil && !refused {
					b.Fatal(err)
				}
			}
		})
	}
}
