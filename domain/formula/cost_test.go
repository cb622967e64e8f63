package formula_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
)

func price(amount string, per quantity.Mass) formula.Price {
	return formula.Price{Amount: quantity.MustRational(amount), Per: per}
}

func priceOf(amount string, per quantity.Mass, member ...any) formula.PricedLine {
	return formula.PricedLine{Member: fault.At(member...), Price: price(amount, per)}
}

// University of Hawaii, Cooperative Extension Service ET-2 (1999), as quoted: 10
// lb of raw material at 0.50 USD per pound that dry to 2 lb cost 2.50 USD per pound.
func TestCostOfAFinishedPound(t *testing.T) {
	t.Parallel()
	loss := quantity.MustPercent(80)
	f := formula.Formula{Product: plain().Product, Parts: []formula.Part{part("meat", "beef-ground-80-20", 100)}}
	f.Plan.Loss = &loss
	pound := must(quantity.Pounds(1))
	s, err := formula.Scale(formula.Order{
		Formula: f, Amount: formula.Amount{Meat: must(quantity.Pounds(10))}, Scale: formula.Divisions{{Division: must(quantity.Ounces(0.1))}},
	})
	if err != nil {
		t.Fatal(err)
	}
	c, err := formula.CostOf(s, nil, formula.Prices{Lines: []formula.PricedLine{priceOf("0.50", pound, "parts", 0)}})
	if err != nil {
		t.Fatal(err)
	}
	finished, _ := s.Finished()
	each, err := c.Each(pound, finished)
	if err != nil || each.Text(6) != "2.500000" {
		t.Errorf("want 2.50 for a finished pound, got %s, %v", each.Text(6), err)
	}
	if sum, ok := c.Total(); !ok || sum.Compare(quantity.WholeNumber(5)) != 0 {
		t.Errorf("want 5 exactly, got %s, %v", sum, ok)
	}
}

// By hand, of 1 kg of meat: 700 g of shoulder that is 80 % usable are 875 g
// bought, at 8.40 per kg 7.35; 300 g of fat at 3.00 are 0.90; 25 g of salt at 1.10 per
// kg 0.0275; 2.5 g of cure at 12.00 per 500 g 0.06; the pepper of 2.1 g has no
// price. In all 8.3375. One casing of 500 mm at 0.90 for 10 m is 0.045.
func TestCostByLine(t *testing.T) {
	t.Parallel()
	f := plain()
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(1000)}})
	if err != nil {
		t.Fatal(err)
	}
	fill, err := formula.Stuff(f, s, formula.Stuffing{
		Size: formula.CasingSize{Diameter: mm(50)}, PieceMass: s.Batch(), Density: formula.DensityRange{Low: gPerML(1.0488), High: gPerML(1.0488)},
	})
	if err != nil {
		t.Fatal(err)
	}
	prices := formula.Prices{
		Lines: []formula.PricedLine{
			priceOf("12.00", grams(500), "additions", 1), priceOf("8.40", grams(1000), "parts", 0), priceOf("3", grams(1000), "parts", 1),
			priceOf("1.10", grams(1000), "additions", 0),
		},
		Yields: []formula.Yield{{Part: 0, Usable: quantity.MustPercent(80)}},
	}
	c, err := formula.CostOf(s, &fill, prices)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, l := range c.Lines {
		got[l.Name] = l.Bought.String() + " " + l.Cost.String()
	}
	want := map[string]string{"shoulder": "875 g 7.35", "back fat": "300 g 0.9", "salt": "25 g 0.0275", "cure": "2.5 g 0.06"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("costs (-want +got):\n%s", d)
	}
	if sum, ok := c.Total(); ok || sum.String() != "8.3375" {
		t.Errorf("want 8.3375 and no total, got %s, %v", sum, ok)
	}
	if d := cmp.Diff([]fault.Path{fault.At("additions", 2)}, c.Missing); d != "" {
		t.Errorf("missing (-want +got):\n%s", d)
	}
	prices.Casing = &formula.CasingPrice{Amount: quantity.MustRational("0.90"), Per: must(quantity.Metres(10))}
	if c, err = formula.CostOf(s, &fill, prices); err != nil || c.Casing == nil {
		t.Fatalf("want a cost of casing, got %v, %v", c.Casing, err)
	}
	// 1029.6 g at 1.0488 g/mL are 981.693 mL, 499.97 mm of 1963.495 mm2.
	if c.Casing.Text(5) != "0.04500" {
		t.Errorf("want 0.045 for the casing, got %s", c.Casing.Text(5))
	}
}

// Wine of 86.49 % water, 30 g/kg, and half a cup of water for 5 lb (118.1 g for
// 2268 g): of 2268 g of meat the wine is 68.0 g with 58.81 g of water.
func TestWaterThatLiquidsBring(t *testing.T) {
	t.Parallel()
	f := plain()
	water := must(formula.VolumePer(must(quantity.Cups(0.5)), must(quantity.Pounds(5))))
	f.Additions = append(
		f.Additions, addition("wine", formula.Liquid, "wine-table-red", perKilogram(30)),
		addition("garlic", formula.Spice, "garlic-raw", perKilogram(2)),
		formula.Addition{Name: "culture", Role: formula.Culture, Material: mat("culture-carrier"), Rate: perKilogram(0.2), RehydrationWater: &water},
		formula.Addition{Name: "brine", Role: formula.Liquid, Rate: perKilogram(10)},
	)
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(2268)}})
	if err != nil {
		t.Fatal(err)
	}
	w := s.AddedWater()
	got := map[string]float64{}
	for _, l := range w.Lines {
		got[l.Name] = l.Water.Grams()
	}
	quantitytest.Near(t, "of the wine", 0.8649*68, got["wine"], 1e-6)
	quantitytest.Near(t, "for the culture", 118.1, got["Water for culture"], 0.1)
	if _, counted := got["garlic"]; !counted || len(got) != 3 {
		t.Errorf("want wine, garlic and the water, got %v", got)
	}
	quantitytest.Near(t, "in all", got["wine"]+got["garlic"]+got["Water for culture"], w.Sum.Grams(), 1e-9)
	if d := cmp.Diff([]fault.Path{fault.At("additions", 6)}, w.Unknown); d != "" {
		t.Errorf("unknown (-want +got):\n%s", d)
	}
}

// By hand: of 1 kg of meat 800 g of water and 200 g of salt are a pickle of 1000 g,
// of which 10 %, 100 g, is taken up: 80 g of water. At an equilibrium, and where
// nothing is stated, it is not known.
func TestWaterOfAPickle(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		pickle *formula.Pickle
		known  bool
	}{
		{"pumped", &formula.Pickle{Method: formula.Pumped, Uptake: quantity.MustPercent(10)}, true},
		{"at an equilibrium", &formula.Pickle{Method: formula.Equilibrium}, false},
		{"not stated", nil, false},
	} {
		f := plain()
		f.Product, f.Pickle = rulebook.PumpedMuscle, c.pickle
		if c.name == "at an equilibrium" {
			f.Product = rulebook.ImmersionCuredMuscle
		}
		f.Additions = []formula.Addition{
			addition("water", formula.Liquid, "water", perKilogram(800)), addition("salt", formula.Salt, "salt-table", perKilogram(200)),
		}
		s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(1000)}})
		if err != nil {
			t.Fatal(err)
		}
		w := s.AddedWater()
		if known := len(w.Unknown) == 0; known != c.known {
			t.Errorf("%s: want known %v, got %v", c.name, c.known, w.Unknown)
		}
		if c.known {
			quantitytest.Near(t, c.name, 80, w.Sum.Grams(), 0.1)
		}
	}
}

// What a batch is made of because it is on hand is not bought: 600 g of shoulder at
// 70 percent carry 857.1 g of meat, of which the fat is 257 g on the scale.
func TestShoppingForWhatIsNotOnHand(t *testing.T) {
	t.Parallel()
	hand := &formula.OnHand{Parts: []formula.PartOnHand{{Part: 0, Mass: grams(600)}}}
	s, err := formula.Scale(formula.Order{Formula: plain(), Amount: formula.Amount{OnHand: hand}})
	if err != nil {
		t.Fatal(err)
	}
	list, err := formula.List([]formula.Making{{Sheet: s, OnHand: hand, At: fault.At("batches", 0)}}, []formula.Stocked{{Name: "shoulder", OnHand: grams(50)}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, p := range list.Purchases {
		got[p.Name] = p.ToBuy.Grams()
	}
	if _, bought := got["shoulder"]; bought {
		t.Errorf("shoulder is on hand, and %v g are to be bought", got["shoulder"])
	}
	quantitytest.Near(t, "back fat", 257, got["back fat"], 1e-9)
}

// By hand: two batches of 1 kg take 2 x 700 g of shoulder, of which the second
// is 70 % usable: 700 + 1000 = 1700 g; 500 g are on hand, 1200 g missing, two packs of
// 750 g at 6 per 750 g cost 12 and leave 300 g. Salt is 2 x 25 g. The pepper of the
// second is another material of the same name.
func TestShoppingForTwoBatches(t *testing.T) {
	t.Parallel()
	first, second := plain(), plain()
	second.Additions[2] = addition("pepper", formula.Spice, "pepper-white", perKilogram(2))
	sheets := make([]formula.Sheet, 2)
	for i, f := range []formula.Formula{first, second} {
		var err error
		if sheets[i], err = formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(1000)}}); err != nil {
			t.Fatal(err)
		}
	}
	makings := []formula.Making{
		{Sheet: sheets[0], At: fault.At("batches", 0, "formula")},
		{Sheet: sheets[1], At: fault.At("batches", 1, "formula"), Yields: []formula.Yield{{Part: 0, Usable: quantity.MustPercent(70)}}},
	}
	sixPerPack, halfPerKilogram := price("6", grams(750)), price("0.5", grams(1000))
	list, err := formula.List(makings, []formula.Stocked{
		{Name: "shoulder", OnHand: grams(500), Pack: grams(750), Price: &sixPerPack}, {Name: "salt", Price: &halfPerKilogram},
		{Name: "cure", OnHand: grams(100)}, {Name: "not made", OnHand: grams(1)},
	}, []string{"not made"})
	if err != nil {
		t.Fatal(err)
	}
	type bought struct{ Name, Material, Needed, ToBuy, Cost string }
	var got []bought
	for _, p := range list.Purchases {
		b := bought{Name: p.Name, Material: p.Material, Needed: p.Needed.String(), ToBuy: p.ToBuy.String()}
		if p.Cost != nil {
			b.Cost = p.Cost.String()
		}
		got = append(got, b)
	}
	want := []bought{
		{"back fat", "pork-backfat", "600 g", "600 g", ""},
		{"shoulder", "pork-shoulder-whole-lean-and-fat", "1700 g", "1500 g", "12"},
		{"salt", "salt-table", "50 g", "50 g", "0.025"},
		{"cure", "", "5 g", "0 g", ""},
		{"pepper", "pepper-black", "2.1 g", "2.1 g", ""},
		{"pepper", "pepper-white", "2 g", "2 g", ""},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("list (-want +got):\n%s", d)
	}
	if p := list.Purchases[1]; p.Packs != 2 || p.Over.Grams() != 300 || len(p.For) != 2 || p.For[1].Pointer() != "#/batches/1/formula/parts/0" {
		t.Errorf("want two packs with 300 g over for two lines, got %+v", p)
	}
	if d := cmp.Diff([]string{"back fat", "pepper", "pepper"}, list.Unpriced); d != "" || list.Sum.String() != "12.025" {
		t.Errorf("want 12.025, got %s; without a price (-want +got):\n%s", list.Sum, d)
	}
	_, err = formula.List(makings, []formula.Stocked{{Name: "pepper"}, {Name: "mace"}, {Name: "salt"}, {Name: "salt"}}, nil)
	if d := cmp.Diff(map[string]string{"#/0/item": "ambiguous-item", "#/1/item": "unknown-item", "#/3/item": "duplicate"}, violations(t, err)); d != "" {
		t.Errorf("violations (-want +got):\n%s", d)
	}
	_, err = formula.List(makings, []formula.Stocked{{Name: "salt", Pack: grams(1e-6)}}, nil)
	if d := cmp.Diff(map[string]string{"#/0": "maximum"}, violations(t, err)); d != "" {
		t.Errorf("fifty million packs (-want +got):\n%s", d)
	}
}

// A casing of 60 mm laid flat and one of 120/pi mm stuffed are one size.
func TestCasingsOfAList(t *testing.T) {
	t.Parallel()
	f := plain()
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(2000)}})
	if err != nil {
		t.Fatal(err)
	}
	var makings []formula.Making
	length, pieces := 0.0, int64(0)
	for i, size := range []formula.CasingSize{{Diameter: mm(80)}, {Flat: mm(60)}, {Diameter: mm(120 / math.Pi)}} {
		fill, err := formula.Stuff(f, s, formula.Stuffing{Size: size, PieceMass: grams(500), EndAllowance: mm(25)})
		if err != nil {
			t.Fatal(err)
		}
		if i > 0 {
			length, pieces = length+fill.Casing.Middle.Metres(), pieces+fill.Count
		}
		makings = append(makings, formula.Making{Sheet: s, Filling: &fill, At: fault.At("batches", i, "formula")})
	}
	list, err := formula.List(makings, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(list.Casings) != 2 || list.Casings[0].Pieces != pieces || len(list.Casings[0].For) != 2 || list.Casings[1].Diameter != mm(80) {
		t.Fatalf("want two sizes, %d pieces in the thinner, got %+v", pieces, list.Casings)
	}
	quantitytest.Near(t, "casing", length, list.Casings[0].Length.Middle.Metres(), 1e-9)
}

// A list does not depend on the order of the batches, is the sum of them, and its
// packs are just enough.
func TestListsAreSums(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		makings := make([]formula.Making, rapid.IntRange(1, 4).Draw(t, "batches"))
		need := map[string]quantity.Mass{}
		for i := range makings {
			f := anyFormula(t)
			s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(rapid.Float64Range(500, 20000).Draw(t, "meat"))}})
			if err != nil {
				t.Fatal(err)
			}
			makings[i] = formula.Making{Sheet: s, At: fault.At("batches", i, "formula")}
			for _, l := range s.Lines {
				need[l.Name] = need[l.Name].Plus(l.OnScale())
			}
		}
		pack, onHand := grams(rapid.Float64Range(1, 3000).Draw(t, "pack")), grams(rapid.Float64Range(0, 9000).Draw(t, "on hand"))
		p := price(rapid.StringMatching(`[1-9][0-9]{0,2}\.[0-9]{2}`).Draw(t, "price"), grams(1000))
		stocked := []formula.Stocked{{Name: "a", Pack: pack, OnHand: onHand, Price: &p}, {Name: "b", Price: &p}}
		one, err := formula.List(makings, stocked, nil)
		if err != nil {
			t.Fatal(err)
		}
		other, err := formula.List(rapid.Permutation(makings).Draw(t, "order"), stocked, nil)
		if err != nil {
			t.Fatal(err)
		}
		if one.Sum.Text(2) != other.Sum.Text(2) || len(one.Purchases) != len(other.Purchases) {
			t.Fatalf("%s and %s", one.Sum, other.Sum)
		}
		var sum quantity.Rational
		for i, p := range one.Purchases {
			if p.Name != other.Purchases[i].Name {
				t.Fatalf("%s and %s", p.Name, other.Purchases[i].Name)
			}
			if d := p.Needed.Minus(need[p.Name]).Grams(); d > 1e-6 || d < -1e-6 {
				t.Fatalf("%s: want %s, got %s", p.Name, need[p.Name], p.Needed)
			}
			if p.OnHand.Plus(p.ToBuy).Grams() < p.Needed.Grams()*(1-1e-8) {
				t.Fatalf("%s: %s needed, %s on hand and %s to buy", p.Name, p.Needed, p.OnHand, p.ToBuy)
			}
			if p.Packs > 0 && !p.Over.Less(p.Pack) {
				t.Fatalf("%s: %s over of packs of %s", p.Name, p.Over, p.Pack)
			}
			if p.Cost != nil {
				sum = sum.Plus(*p.Cost)
			}
		}
		if sum.Compare(one.Sum) != 0 {
			t.Fatalf("want %s exactly, got %s", sum, one.Sum)
		}
	})
}

// Money is exact: the costs of lines sum to the sum to the last digit, in any
// order of prices, and twice the prices cost twice as much.
func TestMoneyIsExact(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(rapid.Float64Range(500, 20000).Draw(t, "meat"))}})
		if err != nil {
			t.Fatal(err)
		}
		var prices, twice []formula.PricedLine
		for _, l := range s.Lines {
			p := price(rapid.StringMatching(`[0-9]{1,3}\.[0-9]{2}`).Draw(t, l.Name), grams(rapid.SampledFrom([]float64{100, 453.59237, 1000}).Draw(t, "per")))
			prices = append(prices, formula.PricedLine{Member: l.Member, Price: p})
			p.Amount = p.Amount.Plus(p.Amount)
			twice = append(twice, formula.PricedLine{Member: l.Member, Price: p})
		}
		c, err := formula.CostOf(s, nil, formula.Prices{Lines: rapid.Permutation(prices).Draw(t, "order")})
		if err != nil {
			t.Fatal(err)
		}
		double, err := formula.CostOf(s, nil, formula.Prices{Lines: twice})
		if err != nil {
			t.Fatal(err)
		}
		var sum quantity.Rational
		for i := len(c.Lines) - 1; i >= 0; i-- {
			sum = sum.Plus(c.Lines[i].Cost)
		}
		if total, ok := c.Total(); !ok || total.Compare(sum) != 0 || double.Sum.Compare(sum.Plus(sum)) != 0 {
			t.Fatalf("%s, %s and %s", total, sum, double.Sum)
		}
	})
}
