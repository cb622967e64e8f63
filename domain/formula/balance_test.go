package formula_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// twoScales is a pocket scale of 0.01 g up to 100 g, with a bowl of 20 g on it,
// and a kitchen scale of 1 g up to 5 kg.
func twoScales() formula.Balances {
	return formula.Balances{
		{Name: "kitchen", Ranges: formula.Divisions{{UpTo: grams(5000), Division: grams(1)}}, Accuracy: grams(2)},
		{Name: "pocket", Ranges: formula.Divisions{{UpTo: grams(100), Division: grams(0.01)}}, Bowl: grams(20), Accuracy: grams(0.02)},
	}
}

// 2 kg of meat takes 50 g of salt, 5 g of cure and 4.118 g of pepper: all on the
// pocket scale, which takes 80 g beside its bowl. At 4 kg the salt is 100 g and
// goes on the kitchen scale.
func TestSmallWeightsGoOnTheFineScale(t *testing.T) {
	t.Parallel()
	for meat, want := range map[float64]map[string]string{
		2000: {"shoulder": "kitchen", "back fat": "kitchen", "salt": "pocket", "cure": "pocket", "pepper": "pocket"},
		4000: {"shoulder": "kitchen", "back fat": "kitchen", "salt": "kitchen", "cure": "pocket", "pepper": "pocket"},
	} {
		s, err := formula.Scale(formula.Order{Formula: plain(), Amount: formula.Amount{Meat: grams(meat)}, Scales: twoScales()})
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]string{}
		for _, l := range s.Lines {
			b, _ := s.On(l)
			got[l.Name] = b.Name
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("scales for %v g (-want +got):\n%s", meat, d)
		}
	}
}

func TestScalesAsOneListOfDivisions(t *testing.T) {
	t.Parallel()
	d, err := twoScales().Divisions()
	if err != nil {
		t.Fatal(err)
	}
	var got [][2]float64
	for _, r := range d {
		got = append(got, [2]float64{r.UpTo.Grams(), r.Division.Grams()})
	}
	if d := cmp.Diff([][2]float64{{80, 0.01}, {5000, 1}}, got); d != "" {
		t.Errorf("divisions (-want +got):\n%s", d)
	}
}

// By hand, of 1 kg of meat on a scale of 0.1 g that may be off by 0.2 g: salt of 25
// g is off by half a division and 0.2 g, 1 %; cure of 2.5 g by a whole division and
// 0.2 g, 12 %. Without an accuracy they are off by 0.2 and 4 %.
func TestLargestError(t *testing.T) {
	t.Parallel()
	ranges := formula.Divisions{{Division: grams(0.1)}}
	for _, c := range []struct {
		name       string
		order      formula.Order
		salt, cure float64
	}{
		{"with an accuracy", formula.Order{Scales: formula.Balances{{Name: "one", Ranges: ranges, Accuracy: grams(0.2)}}}, 1, 12},
		{"without", formula.Order{Scale: ranges}, 0.2, 4},
	} {
		c.order.Formula, c.order.Amount.Meat = plain(), grams(1000)
		s, err := formula.Scale(c.order)
		if err != nil {
			t.Fatal(err)
		}
		for name, want := range map[string]float64{"salt": c.salt, "cure": c.cure} {
			r, ok := s.LargestError(line(t, s, name))
			if !ok {
				t.Fatalf("%s, %s: want an error", c.name, name)
			}
			quantitytest.Near(t, c.name+", "+name, want, r.Percent(), 1e-9)
		}
	}
}

// 700 g of shoulder on a scale that takes 100 g, to 0.1 g and off by up to 0.2 g, are
// seven portions, each off by half a division and that: 7 x 0.25 g, 0.25 percent. A
// bowl of 20 g leaves 80 g for each of nine.
func TestLargestErrorOfPortions(t *testing.T) {
	t.Parallel()
	ranges := formula.Divisions{{UpTo: grams(100), Division: grams(0.1)}}
	for _, c := range []struct{ bowl, want float64 }{{0, 0.25}, {20, 100 * 9 * 0.25 / 700}} {
		s, err := formula.Scale(formula.Order{
			Formula: plain(), Amount: formula.Amount{Meat: grams(1000)},
			Scales: formula.Balances{{Name: "small", Ranges: ranges, Bowl: grams(c.bowl), Accuracy: grams(0.2)}},
		})
		if err != nil {
			t.Fatal(err)
		}
		r, ok := s.LargestError(line(t, s, "shoulder"))
		if !ok {
			t.Fatal("want an error")
		}
		quantitytest.Near(t, "shoulder", c.want, r.Percent(), 1e-9)
	}
}

// Shoulder and fat share a tub; salt stands alone because the cure comes next;
// dextrose and pepper share a bowl; the culture has its own.
func TestBowls(t *testing.T) {
	t.Parallel()
	f := plain()
	f.Additions = append(
		f.Additions, addition("dextrose", formula.Sugar, "dextrose-monohydrate", perKilogram(5)),
		addition("culture", formula.Culture, "culture-carrier", perKilogram(0.2)),
	)
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(1000)}, Scale: formula.Divisions{{Division: grams(0.1)}}})
	if err != nil {
		t.Fatal(err)
	}
	type at struct {
		Name  string
		Bowl  int
		Shows float64
	}
	var got []at
	for i, w := range s.Bowls() {
		got = append(got, at{s.Lines[i].Name, w.Bowl, float64(int(w.Cumulative.Grams()*10+0.5)) / 10})
	}
	// Pepper: 0.002 x (1000 + 25 + 2.5 + 5 + 0.2)/0.998 = 2.07 g.
	want := []at{{"shoulder", 1, 700}, {"back fat", 1, 1000}, {"salt", 2, 25}, {"cure", 3, 2.5}, {"dextrose", 4, 5}, {"pepper", 4, 7.1}, {"culture", 5, 0.2}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("bowls (-want +got):\n%s", d)
	}
}

// A bowl ends where its load would be shown in a coarser division: 190 g of salt
// are weighed to 0.1 g, and with 20 g of pepper on top it would be to 1 g.
func TestABowlStaysInItsDivision(t *testing.T) {
	t.Parallel()
	f := plain()
	f.Additions = []formula.Addition{
		addition("salt", formula.Salt, "salt-table", perKilogram(19)), addition("pepper", formula.Spice, "pepper-black", perKilogram(2)),
	}
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(10000)}})
	if err != nil {
		t.Fatal(err)
	}
	if b := s.Bowls(); b[2].Bowl == b[3].Bowl {
		t.Errorf("want two bowls, got %+v", b)
	}
}

// Rounding that leaves the batch lighter must not lift a cure that is dosed on
// it. By hand: 400 g of meat, salt 25 g/kg is 10 g, on a scale of 4 g rounded up to
// 12 g; here salt of 21 g/kg, 8.4 g, is rounded down to 8 g. Cure of 1 % of the
// batch is reckoned on 408.4/0.99 = 412.53 g, 4.1253 g. With 8 g of salt it may be
// 408/99 = 4.1212 g: on a scale of 0.0001 g that is 412 divisions less.
func TestACureOfTheBatchIsHeldToTheBatchAsWeighed(t *testing.T) {
	t.Parallel()
	f := plain()
	f.Additions = []formula.Addition{
		addition("salt", formula.Salt, "salt-table", perKilogram(21)),
		{Name: "cure", Role: formula.Cure, Cure: cure("cure-1"), Rate: formula.ShareOfBatch(quantity.MustPercent(1))},
	}
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: grams(400)}, Scale: formula.Divisions{
		{UpTo: grams(5), Division: grams(0.0001)}, {Division: grams(4)},
	}})
	if err != nil {
		t.Fatal(err)
	}
	l := line(t, s, "cure")
	quantitytest.Near(t, "asked", 4.12525, l.Exact.Grams(), 1e-5)
	quantitytest.Near(t, "on the scale", 4.1212, l.OnScale().Grams(), 1e-9)
	over, under := s.Moved()
	if len(over) != 0 {
		t.Errorf("want nothing over, got %v", over)
	}
	if d := cmp.Diff([]fault.Path{fault.At("additions", 0), fault.At("additions", 1)}, under); d != "" {
		t.Errorf("under (-want +got):\n%s", d)
	}
}

// anyScales draws one to three scales, the last without end or not.
func anyScales(t *rapid.T) formula.Balances {
	b := make(formula.Balances, rapid.IntRange(1, 3).Draw(t, "scales"))
	for i := range b {
		division := rapid.SampledFrom([]float64{0.001, 0.01, 0.1, 0.5, 1, 5}).Draw(t, "division")
		end := rapid.Float64Range(50, 20000).Draw(t, "end")
		b[i].Bowl = grams(rapid.Float64Range(0, 40).Draw(t, "bowl"))
		b[i].Ranges = formula.Divisions{{UpTo: grams(end), Division: grams(division)}}
		if rapid.Bool().Draw(t, "second range") {
			last := formula.Range{Division: grams(division * 10)}
			if rapid.Bool().Draw(t, "with an end") {
				last.UpTo = grams(end * 3)
			}
			b[i].Ranges = append(b[i].Ranges, last)
		}
	}
	return b
}

// The scales as one have for each load the division of the scale that it goes on,
// which is the finest of those that take it.
func TestScalesAsOneHaveTheFinestDivision(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		b := anyScales(t)
		d, err := b.Divisions()
		if err != nil {
			t.Fatal(err)
		}
		load := grams(rapid.Float64Range(0, 70000).Draw(t, "load"))
		finest := quantity.Mass{}
		for _, scale := range b {
			for _, r := range scale.Ranges {
				if r.UpTo.IsZero() || load.Plus(scale.Bowl).Less(r.UpTo) {
					if finest.IsZero() || r.Division.Less(finest) {
						finest = r.Division
					}
					break
				}
			}
		}
		if finest.IsZero() {
			t.Skip("more than any of them takes")
		}
		if got := d.Division(load); got != finest {
			t.Fatalf("want %s for %s, got %s of %v", finest, load, got, d)
		}
	})
}

// Whatever the scales, rounding lifts no cure and lowers no culture, on the meat
// or on the batch as weighed; and what a bowl shows is a whole number of divisions
// and the sum of what was put in.
func TestRoundingOnSeveralScales(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyFormula(t)
		ofBatch := formula.ShareOfBatch(quantity.MustPercent(rapid.Float64Range(0.05, 0.5).Draw(t, "of batch")))
		f.Additions = append(
			f.Additions, formula.Addition{Name: "second cure", Role: formula.Cure, Cure: cure("cure-2"), Rate: ofBatch},
			addition("culture", formula.Culture, "culture-carrier", ofBatch),
			addition("ascorbate", formula.Accelerator, "sodium-ascorbate", ofBatch),
		)
		s, err := formula.Scale(formula.Order{
			Formula: f, Amount: formula.Amount{Meat: grams(rapid.Float64Range(300, 20000).Draw(t, "meat"))}, Scales: anyScales(t),
		})
		if err != nil {
			t.Fatal(err)
		}
		over, under := s.Moved()
		for _, l := range s.Lines {
			for _, p := range over {
				if cmp.Equal(p, l.Member) && l.Rounding() == quantity.Down {
					t.Fatalf("%s is over what was asked", l.Name)
				}
			}
			for _, p := range under {
				if cmp.Equal(p, l.Member) && l.Rounding() == quantity.Up {
					t.Fatalf("%s is under what was asked", l.Name)
				}
			}
		}
		sum, bowl := 0.0, 0
		for i, w := range s.Bowls() {
			l := s.Lines[i]
			if w.Bowl != bowl {
				sum, bowl = 0, w.Bowl
			}
			sum += l.OnScale().Grams()
			if d := w.Cumulative.Grams() - sum; d > 1e-6 || d < -1e-6 {
				t.Fatalf("%s: the scale shows %s, and %v g are in", l.Name, w.Cumulative, sum)
			}
			if _, steps, err := w.Cumulative.RoundTo(l.Division, quantity.ToNearest); err != nil || float64(steps)*l.Division.Grams()-sum > 1e-6 {
				t.Fatalf("%s: %s is no whole number of %s", l.Name, w.Cumulative, l.Division)
			}
		}
	})
}
