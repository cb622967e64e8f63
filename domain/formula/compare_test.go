package formula_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// ring is what the tests of comparing change.
func ring() formula.Formula {
	return formula.Formula{
		Name: "Ring (invented)", Product: rulebook.DrySausage,
		Parts: []formula.Part{part("shoulder", "pork-shoulder-whole-lean-and-fat", 75), part("back fat", "pork-backfat", 25)},
		Additions: []formula.Addition{
			addition("salt", formula.Salt, "salt-table", perKilogram(25)),
			{Name: "cure", Role: formula.Cure, Cure: cure("cure-1"), Rate: perKilogram(2.5)},
			addition("dextrose", formula.Sugar, "dextrose-monohydrate", perKilogram(4)),
		},
	}
}

// told is what a comparison says of an ingredient, with amounts in g for a
// kilogram of meat.
type told struct {
	Fate, Name    string
	Before, After string
	Was, Is       float64
}

func tell(all []formula.Compared) []told {
	var out []told
	for _, c := range all {
		t := told{Fate: c.Fate.String(), Name: c.Name, Was: -1, Is: -1}
		if c.Before != nil {
			t.Before, t.Was = c.Before.Pointer(), round(c.Amount.Before.High.Float()*1000)
		}
		if c.After != nil {
			t.After, t.Is = c.After.Pointer(), round(c.Amount.After.High.Float()*1000)
		}
		out = append(out, t)
	}
	return out
}

// round rounds to a ten-thousandth.
func round(v float64) float64 { return math.Round(v*1e4) / 1e4 }

func TestCompare(t *testing.T) {
	t.Parallel()
	kept := []told{
		{"kept", "salt", "#/additions/0", "#/additions/0", 25, 25},
		{"kept", "cure", "#/additions/1", "#/additions/1", 2.5, 2.5},
		{"kept", "dextrose", "#/additions/2", "#/additions/2", 4, 4},
	}
	with := func(i int, t told) []told {
		all := slices.Clone(kept)
		all[i] = t
		return all
	}
	for _, tc := range []struct {
		name   string
		change func(f *formula.Formula)
		want   []told
	}{
		{"nothing", func(*formula.Formula) {}, kept},
		{"less salt", func(f *formula.Formula) { f.Additions[0].Rate = perKilogram(22) },
			with(0, told{"changed", "salt", "#/additions/0", "#/additions/0", 25, 22})},
		{"the same salt in other units", func(f *formula.Formula) {
			f.Additions[0].Rate = must(formula.MassPer(must(quantity.Ounces(0.4)), must(quantity.Pounds(1)))) // 0.4 oz in 16 oz
		}, kept},
		// 2.5 g/kg of meat in a batch of 1031.5 g for a kilogram of meat: by hand.
		{"the same cure, but on the batch", func(f *formula.Formula) {
			f.Additions[1].Rate = formula.ShareOfBatch(quantity.MustPercent(100 * 2.5 / 1031.5))
		}, with(1, told{"changed", "cure", "#/additions/1", "#/additions/1", 2.5, 2.5})},
		{"another cure of the name", func(f *formula.Formula) { f.Additions[1].Cure = cure("cure-2") },
			with(1, told{"changed", "cure", "#/additions/1", "#/additions/1", 2.5, 2.5})},
		{"another name", func(f *formula.Formula) { f.Additions[0].Name = "fine salt" },
			with(0, told{"changed", "fine salt", "#/additions/0", "#/additions/0", 25, 25})},
		{"another order", func(f *formula.Formula) { slices.Reverse(f.Additions) }, []told{
			{"kept", "dextrose", "#/additions/2", "#/additions/0", 4, 4},
			{"kept", "cure", "#/additions/1", "#/additions/1", 2.5, 2.5},
			{"kept", "salt", "#/additions/0", "#/additions/2", 25, 25},
		}},
		{"sugar out, fennel in", func(f *formula.Formula) {
			f.Additions[2] = addition("fennel", formula.Spice, "fennel-seed", perKilogram(3))
		}, append(with(2, told{"added", "fennel", "", "#/additions/2", -1, 3}), told{"removed", "dextrose", "#/additions/2", "", 4, -1})},
		{"all out", func(f *formula.Formula) { f.Additions = nil }, []told{
			{"removed", "salt", "#/additions/0", "", 25, -1}, {"removed", "cure", "#/additions/1", "", 2.5, -1},
			{"removed", "dextrose", "#/additions/2", "", 4, -1},
		}},
		{"names changed about: the name counts", func(f *formula.Formula) {
			f.Additions[0].Name, f.Additions[2].Name = f.Additions[2].Name, f.Additions[0].Name
		}, []told{
			{"changed", "dextrose", "#/additions/2", "#/additions/0", 4, 25},
			{"kept", "cure", "#/additions/1", "#/additions/1", 2.5, 2.5},
			{"changed", "salt", "#/additions/0", "#/additions/2", 25, 4},
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			after := ring()
			tc.change(&after)
			got, err := formula.Compare(ring(), after)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tc.want, tell(got.Additions)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestComparePartsAndWater(t *testing.T) {
	t.Parallel()
	before, after := ring(), ring()
	after.Parts[0].Share, after.Parts[1].Share = quantity.MustPercent(70), quantity.MustPercent(30)
	water := perKilogram(10)
	culture := addition("culture", formula.Culture, "culture-carrier", perKilogram(0.25))
	before.Additions = append(before.Additions, culture)
	culture.RehydrationWater = &water
	after.Additions = append(after.Additions, culture)
	got, err := formula.Compare(before, after)
	if err != nil {
		t.Fatal(err)
	}
	want := []told{{"changed", "shoulder", "#/parts/0", "#/parts/0", 750, 700}, {"changed", "back fat", "#/parts/1", "#/parts/1", 250, 300}}
	if diff := cmp.Diff(want, tell(got.Parts)); diff != "" {
		t.Error(diff)
	}
	if d, ok := got.Parts[1].Amount.Difference(); !ok || round(d.Low.Percent()) != 5 || round(d.High.Percent()) != 5 {
		t.Errorf("5 percent more back fat are told as %v, %v", d, ok)
	}
	c := got.Additions[3]
	if c.Fate != formula.Changed || c.Water.Before != nil || c.Water.After == nil || round(c.Water.After.Low.Percent()) != 1 {
		t.Errorf("10 g of water for a kilogram: %+v", c)
	}
	if _, ok := c.Water.Difference(); ok {
		t.Error("a difference from nothing")
	}
}

// A teaspoon of a powder is a range, and more of it is more at both ends.
func TestCompareSpoons(t *testing.T) {
	t.Parallel()
	before, after := ring(), ring()
	before.Additions[1].Rate, after.Additions[1].Rate = spoon(1, 5), spoon(4, 10)
	got, err := formula.Compare(before, after)
	if err != nil {
		t.Fatal(err)
	}
	a := got.Additions[1].Amount
	d, ok := a.Difference()
	if !ok || a.Before.Low.Float() >= a.Before.High.Float() || d != *a.Before { // twice as much is as much more
		t.Errorf("from %v to %v is %v", a.Before, a.After, d)
	}
}

func TestCompareRefuses(t *testing.T) {
	t.Parallel()
	broken := ring()
	broken.Parts = broken.Parts[:1]
	_, err := formula.Compare(broken, broken)
	f, ok := errors.AsType[*fault.Error](err)
	if !ok || len(f.Violations) != 2 || f.Violations[0].Path.Pointer() != "#/before/parts" || f.Violations[1].Path.Pointer() != "#/after/parts" {
		t.Errorf("got %v", err)
	}
}

// TestCompareProperties: a formula is kept in itself; what one way was added is
// removed the other way, with the opposite difference; every ingredient of both
// is told once.
func TestCompareProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		before, after := drawRing(rt, "before"), drawRing(rt, "after")
		there, err := formula.Compare(before, after)
		if err != nil {
			rt.Fatal(err)
		}
		back, err := formula.Compare(after, before)
		if err != nil {
			rt.Fatal(err)
		}
		fates := func(all []formula.Compared) map[formula.Fate]int {
			n := map[formula.Fate]int{}
			for _, c := range all {
				n[c.Fate]++
			}
			return n
		}
		one, other := fates(there.Additions), fates(back.Additions)
		other[formula.Added], other[formula.Removed] = other[formula.Removed], other[formula.Added]
		for _, f := range []formula.Fate{formula.Kept, formula.Changed, formula.Added, formula.Removed} {
			if one[f] != other[f] {
				rt.Errorf("%s: %d one way, %d the other", f, one[f], other[f])
			}
		}
		if n := one[formula.Kept] + one[formula.Changed]; n+one[formula.Added] != len(after.Additions) || n+one[formula.Removed] != len(before.Additions) {
			rt.Errorf("%v of %d and %d", one, len(before.Additions), len(after.Additions))
		}
		same, err := formula.Compare(after, after)
		if err != nil {
			rt.Fatal(err)
		}
		for _, c := range slices.Concat(same.Parts, same.Additions) {
			if c.Fate != formula.Kept {
				rt.Errorf("%s is %s in the same formula", c.Name, c.Fate)
			}
		}
	})
}

// drawRing draws a formula of some of the same names.
func drawRing(t *rapid.T, label string) formula.Formula {
	f := ring()
	f.Additions = nil
	for _, name := range rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"a", "b", "c", "d", "e"}), 0, 5, rapid.ID[string]).Draw(t, label) {
		material := rapid.SampledFrom([]string{"salt-table", "dextrose-monohydrate", "fennel-seed"}).Draw(t, label+" material")
		g := rapid.Float64Range(0.1, 30).Draw(t, label+" rate")
		f.Additions = append(f.Additions, addition(name, formula.Other, material, perKilogram(g)))
	}
	return f
}

// What did I change between the second and the third try?
func ExampleCompare() {
	before, after := ring(), ring()
	after.Additions[0].Rate = perKilogram(23)
	after.Additions = append(after.Additions, addition("fennel", formula.Spice, "fennel-seed", perKilogram(3)))
	comparison, err := formula.Compare(before, after)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range comparison.Additions {
		switch c.Fate {
		case formula.Changed:
			difference, _ := c.Amount.Difference()
			fmt.Printf("%s: %+.2f percent of the meat\n", c.Name, difference.High.Percent())
		case formula.Added, formula.Removed:
			fmt.Println(c.Name, "was", c.Fate)
		case formula.Kept:
		}
	}
	// Output:
	// salt: -0.20 percent of the meat
	// fennel was added
}
