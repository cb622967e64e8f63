package formula_test

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func grams(g float64) quantity.Mass { return quantity.MustGrams(g) }

func mm(v float64) quantity.Length { return quantity.MustMillimetres(v) }

func gPerML(v float64) quantity.Density { return quantity.MustGramsPerMillilitre(v) }

// violations returns the pointers and codes of a fault.Invalid.
func violations(t *testing.T, err error) map[string]string {
	t.Helper()
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Invalid {
		t.Fatalf("want an invalid fault, got %v", err)
	}
	got := map[string]string{}
	for _, v := range f.Violations {
		got[v.Path.Pointer()] = v.Code
	}
	return got
}

// By hand, 3.1 kg of shoulder at 70 % is enough for 3100/0.7 = 4428.57 g of
// meat, 0.5 kg of fat at 30 % for 500/0.3 = 1666.67 g: the fat limits. Of the
// shoulder 1166.67 g go in, on the scale rounded down to 1166 g, and 1934 g are left.
// To use up the shoulder 0.3 x 4428.57 = 1328.57 g of fat are needed, 828.57 g more.
func TestScaleToWhatIsOnHand(t *testing.T) {
	t.Parallel()
	f := plain()
	onHand := &formula.OnHand{Parts: []formula.PartOnHand{{Part: 0, Mass: grams(3100)}, {Part: 1, Mass: grams(500)}}}
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{OnHand: onHand}})
	if err != nil {
		t.Fatal(err)
	}
	u, err := onHand.UseOf(f, s)
	if err != nil {
		t.Fatal(err)
	}
	shoulder, fat := u.Parts[0], u.Parts[1]
	if shoulder.Limits || !fat.Limits {
		t.Errorf("want the fat to limit, got %v and %v", shoulder.Limits, fat.Limits)
	}
	quantitytest.Near(t, "shoulder used", 1166, shoulder.Used.Grams(), 1e-9)
	quantitytest.Near(t, "fat used", 500, fat.Used.Grams(), 1e-9)
	quantitytest.Near(t, "shoulder left", 1934, shoulder.LeftOver.Grams(), 1e-9)
	quantitytest.Near(t, "fat left", 0, fat.LeftOver.Grams(), 1e-9)
	quantitytest.Near(t, "shoulder missing", 0, shoulder.Missing.Grams(), 1e-9)
	quantitytest.Near(t, "fat missing", 828.571, fat.Missing.Grams(), 1e-3)
	quantitytest.Near(t, "meat of all", 4428.571, u.MeatOfAll.Grams(), 1e-3)
}

// By hand, 3.1 kg of shoulder alone: the meat block is 4428.57 g and 1328.57 g of
// fat are bought, on the scale 1329 g.
func TestWhatIsNotOnHandIsBought(t *testing.T) {
	t.Parallel()
	f := plain()
	onHand := &formula.OnHand{Parts: []formula.PartOnHand{{Part: 0, Mass: grams(3100)}}}
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{OnHand: onHand}})
	if err != nil {
		t.Fatal(err)
	}
	u, err := onHand.UseOf(f, s)
	if err != nil {
		t.Fatal(err)
	}
	if fat := u.Parts[1]; fat.Listed || fat.ToBuy.Grams() != 1329 || fat.Limits {
		t.Errorf("want 1329 g of fat to buy, got %+v", fat)
	}
	if !u.Parts[0].Limits || u.Parts[0].LeftOver.Grams() != 0 {
		t.Errorf("want all of the shoulder used, got %+v", u.Parts[0])
	}
}

// By hand: a flat width of 60 mm is 120/pi = 38.197 mm stuffed, with a section of
// 3600/pi = 1145.916 mm2. Cut to 500 mm with 30 mm for each tie it holds 0.44 x
// 1145.916 = 504.203 mL, 524.371 g at the middle of 1.02 to 1.06 g/mL. Ten hold
// 5243.71 g, which a batch of 5243.71/0.95 = 5519.69 g gives when 5 % stick.
func TestScaleToCasings(t *testing.T) {
	t.Parallel()
	f := plain()
	casings := &formula.Casings{
		Size: formula.CasingSize{Flat: mm(60)}, Length: mm(500), EndAllowance: mm(30), Count: 10,
		Density: formula.DensityRange{Low: gPerML(1.02), High: gPerML(1.06)},
	}
	s, err := formula.Scale(formula.Order{
		Formula: f, Amount: formula.Amount{Casings: casings, StuffingLoss: quantity.MustPercent(5)}, Scale: unrounded(),
	})
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "batch", 5519.69, s.Batch().Grams(), 0.01)
	quantitytest.Near(t, "stuffed", 5243.71, s.Stuffed().Grams(), 0.01)
	fill, err := formula.Stuff(f, s, casings.AsStuffing())
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "diameter", 38.197, fill.Diameter.Millimetres(), 1e-3)
	quantitytest.Near(t, "least in a piece", 514.287, fill.Mass.Low.Grams(), 1e-3)
	quantitytest.Near(t, "a piece", 524.371, fill.Mass.Middle.Grams(), 1e-3)
	quantitytest.Near(t, "most in a piece", 534.455, fill.Mass.High.Grams(), 1e-3)
	// 5243.71/534.455 = 9.811 and 5243.71/514.287 = 10.196.
	if d := cmp.Diff([]int64{10, 10, 11}, []int64{fill.Counts.Low, fill.Count, fill.Counts.High}); d != "" {
		t.Errorf("pieces (-want +got):\n%s", d)
	}
	if fill.Last != nil {
		t.Errorf("want no shorter piece, got %+v", fill.Last)
	}
	quantitytest.Near(t, "casing, mm", 5000, fill.Casing.Middle.Millimetres(), 1e-3)
}

// By hand, with a batch of 2000 g in a stuffed diameter of 50 mm (1963.495 mm2), at
// exactly 1 g/mL: pieces of 600 g are 305.58 mm between the ties, 345.58 mm with 20 mm
// at each. There are three, and a last one of 200 g and 101.86 + 40 = 141.86 mm.
func TestPiecesOfAMass(t *testing.T) {
	t.Parallel()
	f := plain()
	f.Additions = nil
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(2000)}})
	if err != nil {
		t.Fatal(err)
	}
	fill, err := formula.Stuff(f, s, formula.Stuffing{
		Size: formula.CasingSize{Diameter: mm(50)}, PieceMass: grams(600), EndAllowance: mm(20),
		Density: formula.DensityRange{Low: gPerML(1), High: gPerML(1)},
	})
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "cut", 345.577, fill.Cut.Middle.Millimetres(), 1e-3)
	if fill.Count != 4 || fill.Last == nil {
		t.Fatalf("want four pieces, the last shorter, got %d, %v", fill.Count, fill.Last)
	}
	quantitytest.Near(t, "last piece", 200, fill.Last.Mass.Grams(), 1e-6)
	quantitytest.Near(t, "last cut", 141.859, fill.Last.Cut.Millimetres(), 1e-3)
	quantitytest.Near(t, "casing", 3*345.577+141.859, fill.Casing.Middle.Millimetres(), 0.01)
}

// By hand from the composition in 100 g of each (water, protein, fat,
// carbohydrate, ash) and the densities at 4 °C, for 1 kg of meat: 700 g of shoulder
// (64.02, 17.18, 17.99, 0, 0.88 of 100.07) have 0.96909 mL/g, 300 g of back fat (7.69,
// 2.92, 88.69, 0, 0.7) 1.06193, 25 g of salt 0.41395, 2.5 g of cure 0.41277 and 2.0591 g
// of pepper 0.69513: 1029.559 g in 1009.758 mL are 1.01961 g/mL, with a twentieth of
// air 0.96863.
func TestDensityOfAMixture(t *testing.T) {
	t.Parallel()
	d, from, err := plain().DensityOf()
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "without air", 1.01961, d.High.GramsPerMillilitre(), 2e-5)
	quantitytest.Near(t, "with air", 0.96863, d.Low.GramsPerMillilitre(), 2e-5)
	if from.Year != 1986 {
		t.Errorf("want its source, got %s", from)
	}
	f := plain()
	f.Additions = append(f.Additions, formula.Addition{Name: "mix", Role: formula.Other, Rate: perKilogram(200)})
	if d, _, err = f.DensityOf(); err != nil || d.Low.GramsPerMillilitre() != 1 || d.High.GramsPerMillilitre() != 1.05 {
		t.Errorf("want the usual density where a sixth of the batch is not known, got %v, %v", d, err)
	}
}

func TestFaultsOfAmounts(t *testing.T) {
	t.Parallel()
	tube := func(change func(*formula.Casings)) formula.Amount {
		c := formula.Casings{Size: formula.CasingSize{Flat: mm(60)}, Length: mm(500), EndAllowance: mm(30), Count: 10}
		change(&c)
		return formula.Amount{Casings: &c}
	}
	for _, c := range []struct {
		name   string
		amount formula.Amount
		scales formula.Balances
		want   map[string]string
	}{
		{"casings that are all ends", tube(func(c *formula.Casings) { c.EndAllowance = mm(250) }), nil, map[string]string{"#/amount/casings/length": "minimum"}},
		{"casings of two sizes", tube(func(c *formula.Casings) { c.Size.Diameter = mm(40) }), nil, map[string]string{"#/amount/casings/size": "oneOf"}},
		{"no casing", tube(func(c *formula.Casings) { c.Count = 0 }), nil, map[string]string{"#/amount/casings/count": "minimum"}},
		{"a part twice and one too many", formula.Amount{OnHand: &formula.OnHand{Parts: []formula.PartOnHand{
			{Part: 0, Mass: grams(1)}, {Part: 0, Mass: grams(1)}, {Part: 2, Mass: grams(1)},
		}}}, nil, map[string]string{"#/amount/on_hand/1": "duplicate", "#/amount/on_hand/2": "unknown-item"}},
		{"nothing on hand", formula.Amount{OnHand: &formula.OnHand{}}, nil, map[string]string{"#/amount/on_hand": "required"}},
		{"all of it lost", formula.Amount{Batch: grams(1000), StuffingLoss: quantity.MustPercent(100)}, nil, map[string]string{"#/amount/stuffing_loss_percent": "maximum"}},
		{"a bowl too heavy and a division of nothing", formula.Amount{Meat: grams(1000)}, formula.Balances{
			{Name: "fine", Bowl: grams(200), Ranges: formula.Divisions{{UpTo: grams(200), Division: grams(0.01)}}},
			{Name: "coarse", Ranges: formula.Divisions{{}}},
		}, map[string]string{"#/scales/0/bowl": "maximum", "#/scales/1/ranges/0/division": "minimum"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := formula.Scale(formula.Order{Formula: plain(), Amount: c.amount, Scales: c.scales})
			if d := cmp.Diff(c.want, violations(t, err)); d != "" {
				t.Errorf("violations (-want +got):\n%s", d)
			}
		})
	}
	s, err := formula.Scale(formula.Order{Formula: plain(), Amount: formula.Amount{Meat: grams(1e6)}})
	if err != nil {
		t.Fatal(err)
	}
	_, err = formula.Stuff(plain(), s, formula.Stuffing{Size: formula.CasingSize{Flat: mm(60)}, CutLength: mm(10), EndAllowance: mm(5)})
	if d := cmp.Diff(map[string]string{"#/cut_length": "minimum"}, violations(t, err)); d != "" {
		t.Errorf("a piece that is all ends (-want +got):\n%s", d)
	}
	_, err = formula.Stuff(plain(), s, formula.Stuffing{Size: formula.CasingSize{Flat: mm(60)}, PieceMass: grams(0.5)})
	if d := cmp.Diff(map[string]string{"#": "maximum"}, violations(t, err)); d != "" {
		t.Errorf("two million pieces (-want +got):\n%s", d)
	}
}

// By hand: 6 kg finished at 40 % loss are 10 kg hung, and with 4 % that stick a
// batch of 10416.67 g.
func TestFinishedMassWithAStuffingLoss(t *testing.T) {
	t.Parallel()
	f := plain()
	loss := quantity.MustPercent(40)
	f.Plan.Loss = &loss
	s, err := formula.Scale(formula.Order{
		Formula: f, Amount: formula.Amount{Finished: grams(6000), StuffingLoss: quantity.MustPercent(4)}, Scale: unrounded(),
	})
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "batch", 10416.667, s.Batch().Grams(), 1e-3)
	if finished, _ := s.Finished(); finished.Grams() < 5999.999 || finished.Grams() > 6000.001 {
		t.Errorf("want 6000 g, got %s", finished)
	}
}

// Whatever is on hand, whatever the scale, no more of a part is weighed than there
// is, and all of the one that limits is used but for a division.
func TestNoMoreIsWeighedThanIsOnHand(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		division := rapid.SampledFrom([]float64{0.01, 0.1, 1, 5}).Draw(t, "division")
		onHand := &formula.OnHand{Parts: []formula.PartOnHand{
			{Part: 0, Mass: grams(rapid.Float64Range(2000, 20000).Draw(t, "first"))},
			{Part: 1, Mass: grams(rapid.Float64Range(2000, 20000).Draw(t, "second"))},
		}}
		if rapid.Bool().Draw(t, "one alone") {
			onHand.Parts = onHand.Parts[1:]
		}
		s, err := formula.Scale(formula.Order{
			Formula: f, Amount: formula.Amount{OnHand: onHand}, Scale: formula.Divisions{{Division: grams(division)}},
		})
		if err != nil {
			t.Fatal(err)
		}
		u, err := onHand.UseOf(f, s)
		if err != nil {
			t.Fatal(err)
		}
		limited := false
		for _, p := range u.Parts {
			if p.Listed && p.Used.Grams() > p.OnHand.Grams()+1e-8*division {
				t.Fatalf("%s: %s on hand and %s on the scale", p.Name, p.OnHand, p.Used)
			}
			if p.Limits {
				limited = true
				if p.LeftOver.Grams() > division*(1+1e-6) {
					t.Fatalf("%s limits, and %s are left", p.Name, p.LeftOver)
				}
			}
		}
		if !limited {
			t.Fatal("no part limits")
		}
	})
}

// With what is missing there is no more than a division left of anything.
func TestWithWhatIsMissingAllIsUsedUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		onHand := &formula.OnHand{Parts: []formula.PartOnHand{
			{Part: 0, Mass: grams(rapid.Float64Range(500, 20000).Draw(t, "first"))},
			{Part: 1, Mass: grams(rapid.Float64Range(500, 20000).Draw(t, "second"))},
		}}
		s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{OnHand: onHand}, Scale: formula.Divisions{{Division: grams(1e-6)}}})
		if err != nil {
			t.Fatal(err)
		}
		u, err := onHand.UseOf(f, s)
		if err != nil {
			t.Fatal(err)
		}
		for i := range onHand.Parts {
			onHand.Parts[i].Mass = onHand.Parts[i].Mass.Plus(u.Parts[i].Missing)
		}
		if s, err = formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{OnHand: onHand}, Scale: formula.Divisions{{Division: grams(1e-6)}}}); err != nil {
			t.Fatal(err)
		}
		if u, err = onHand.UseOf(f, s); err != nil {
			t.Fatal(err)
		}
		for _, p := range u.Parts {
			if p.LeftOver.Grams() > 2e-6+1e-8*p.OnHand.Grams() {
				t.Fatalf("%s: %s are left of %s", p.Name, p.LeftOver, p.OnHand)
			}
		}
	})
}

// The batch for so many casings fills so many casings, on any scale that resolves
// a fiftieth of a piece, whatever sticks.
func TestCasingsComeBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		c := &formula.Casings{
			Size: formula.CasingSize{Flat: mm(rapid.Float64Range(30, 150).Draw(t, "flat"))}, Length: mm(rapid.Float64Range(150, 1000).Draw(t, "length")),
			EndAllowance: mm(rapid.Float64Range(0, 50).Draw(t, "ends")), Count: rapid.IntRange(1, 200).Draw(t, "count"),
		}
		s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{
			Casings: c, StuffingLoss: quantity.MustPercent(rapid.Float64Range(0, 20).Draw(t, "sticks")),
		}, Scale: formula.Divisions{{Division: grams(0.01)}}})
		if err != nil {
			t.Fatal(err)
		}
		fill, err := formula.Stuff(f, s, c.AsStuffing())
		if err != nil {
			t.Fatal(err)
		}
		if fill.Count != int64(c.Count) || fill.Last != nil {
			t.Fatalf("want %d pieces, got %d, the last %v", c.Count, fill.Count, fill.Last)
		}
		if fill.Counts.Low > fill.Count || fill.Counts.High < fill.Count {
			t.Fatalf("%d pieces are not within %v", fill.Count, fill.Counts)
		}
		// A casing of the stuffed diameter is the same casing.
		d, err := c.Size.Stuffed()
		if err != nil {
			t.Fatal(err)
		}
		c.Size = formula.CasingSize{Diameter: d}
		same, err := formula.Stuff(f, s, c.AsStuffing())
		if err != nil || same.Count != fill.Count {
			t.Fatalf("want %d pieces again, got %d, %v", fill.Count, same.Count, err)
		}
	})
}

// Twice as many casings take twice as much of everything.
func TestTwiceTheCasings(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		k := rapid.IntRange(2, 20).Draw(t, "factor")
		c := formula.Casings{Size: formula.CasingSize{Diameter: mm(40)}, Length: mm(400), Count: 3}
		many := c
		many.Count *= k
		one, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Casings: &c}, Scale: unrounded()})
		if err != nil {
			t.Fatal(err)
		}
		all, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Casings: &many}, Scale: unrounded()})
		if err != nil {
			t.Fatal(err)
		}
		for i := range one.Lines {
			want, got := float64(k)*one.Lines[i].OnScale().Grams(), all.Lines[i].OnScale().Grams()
			if d := want - got; d > 1e-6*want+1e-7 || d < -1e-6*want-1e-7 {
				t.Fatalf("%s: want %v, got %v", one.Lines[i].Name, want, got)
			}
		}
	})
}

// The pieces of a batch weigh what is stuffed, whole ones and the last.
func TestPiecesWeighWhatIsStuffed(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(rapid.Float64Range(500, 50000).Draw(t, "meat"))}})
		if err != nil {
			t.Fatal(err)
		}
		o := formula.Stuffing{Size: formula.CasingSize{Diameter: mm(rapid.Float64Range(20, 120).Draw(t, "diameter"))}, EndAllowance: mm(20)}
		if rapid.Bool().Draw(t, "by length") {
			o.CutLength = mm(rapid.Float64Range(60, 900).Draw(t, "cut"))
		} else {
			o.PieceMass = grams(rapid.Float64Range(50, 5000).Draw(t, "piece"))
		}
		fill, err := formula.Stuff(f, s, o)
		if err != nil {
			t.Fatal(err)
		}
		sum := float64(fill.Count) * fill.Mass.Middle.Grams()
		off := 0.02 * fill.Mass.Middle.Grams()
		if fill.Last != nil {
			sum += fill.Last.Mass.Grams() - fill.Mass.Middle.Grams()
			off = 1e-6 * sum
		}
		if d := sum - fill.Stuffed.Grams(); d > off+1e-9 || d < -off-1e-9 {
			t.Fatalf("%d pieces of %s and %v come to %v g, and %s are stuffed", fill.Count, fill.Mass.Middle, fill.Last, sum, fill.Stuffed)
		}
	})
}

// A mass is a mass in whatever unit it was given.
func TestMixedUnitsGiveTheSameSheet(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		pounds := rapid.Float64Range(2, 100).Draw(t, "pounds")
		a, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{OnHand: &formula.OnHand{Parts: []formula.PartOnHand{
			{Part: 0, Mass: must(quantity.Pounds(pounds))}, {Part: 1, Mass: must(quantity.Ounces(16 * pounds))},
		}}}, Scale: unrounded()})
		if err != nil {
			t.Fatal(err)
		}
		b, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{OnHand: &formula.OnHand{Parts: []formula.PartOnHand{
			{Part: 1, Mass: must(quantity.Kilograms(0.45359237 * pounds))}, {Part: 0, Mass: grams(453.59237 * pounds)},
		}}}, Scale: unrounded()})
		if err != nil {
			t.Fatal(err)
		}
		for i := range a.Lines {
			if d := a.Lines[i].OnScale().Minus(b.Lines[i].OnScale()).Grams(); d > 1e-7 || d < -1e-7 {
				t.Fatalf("%s: %s and %s", a.Lines[i].Name, a.Lines[i].OnScale(), b.Lines[i].OnScale())
			}
		}
	})
}
