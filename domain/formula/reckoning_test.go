package formula_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func TestItemsOfAFormula(t *testing.T) {
	t.Parallel()
	f := plain()
	water := must(formula.VolumePer(must(quantity.Cups(0.5)), must(quantity.Pounds(5))))
	f.Additions = append(
		f.Additions, formula.Addition{Name: "culture", Role: formula.Culture, Material: mat("culture-carrier"), Rate: perKilogram(0.2), RehydrationWater: &water},
		addition("back fat", formula.Other, "pepper-white", perKilogram(1)),
	)
	for item, want := range map[string][]fault.Path{
		"shoulder":                       {fault.At("parts", 0)},
		"#/formula/parts/1":              {fault.At("parts", 1)},
		"back fat":                       {fault.At("parts", 1), fault.At("additions", 4)},
		"Water for culture":              {fault.At("additions", 3, "rehydration_water")},
		"#/formula/additions/3":          {fault.At("additions", 3)},
		"#/parts/1":                      nil,
		"#/formula/additions/0/material": nil,
		"beef":                           nil,
	} {
		if d := cmp.Diff(want, f.Find(item)); d != "" {
			t.Errorf("%s (-want +got):\n%s", item, d)
		}
	}
	if i, ok := formula.PartAt(fault.At("parts", 1)); !ok || i != 1 {
		t.Errorf("want part 1, got %d, %v", i, ok)
	}
	for _, p := range []fault.Path{fault.At("additions", 1), fault.At("parts"), nil, fault.At("parts", "x")} {
		if _, ok := formula.PartAt(p); ok {
			t.Errorf("%v is a part", p)
		}
	}
}

// By hand: 3.1 kg of shoulder need 1328.57 g of fat, on the scale 1329 g, and at
// 90 % usable 1476.67 g bought. Nothing has to be bought of the shoulder, whatever
// its yield.
func TestWhatToBuyBesideWhatIsOnHand(t *testing.T) {
	t.Parallel()
	o := formula.Order{Formula: plain(), Amount: formula.Amount{OnHand: &formula.OnHand{Parts: []formula.PartOnHand{{Part: 0, Mass: grams(3100)}}}}}
	s, err := formula.Scale(o)
	if err != nil {
		t.Fatal(err)
	}
	r, err := formula.Reckon(o, s, formula.Wishes{Yields: []formula.Yield{
		{Part: 0, Usable: quantity.MustPercent(50)}, {Part: 1, Usable: quantity.MustPercent(90)},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.ToBuy) != 1 || r.ToBuy[0].Name != "back fat" || r.Filling != nil || r.Costs != nil {
		t.Fatalf("want fat to buy and nothing that was not asked, got %+v", r)
	}
	quantitytest.Near(t, "fat", 1329/0.9, r.ToBuy[0].Bought.Grams(), 1e-9)
	quantitytest.Near(t, "fat, of what is on hand", 1329/0.9, r.HandUse.Parts[1].ToBuy.Grams(), 1e-9)
}

// Casings that the amount names need no stuffing of their own, and what is wrong
// with a stuffing is said of the stuffing.
func TestStuffingOfAnOrder(t *testing.T) {
	t.Parallel()
	o := formula.Order{Formula: plain(), Amount: formula.Amount{Casings: &formula.Casings{Size: formula.CasingSize{Flat: mm(60)}, Length: mm(500), Count: 7}}}
	s, err := formula.Scale(o)
	if err != nil {
		t.Fatal(err)
	}
	r, err := formula.Reckon(o, s, formula.Wishes{})
	if err != nil || r.Filling == nil || r.Filling.Count != 7 {
		t.Fatalf("want seven pieces, got %+v, %v", r.Filling, err)
	}
	_, err = formula.Reckon(o, s, formula.Wishes{Stuffing: &formula.Stuffing{PieceMass: grams(100)}})
	if d := cmp.Diff(map[string]string{"#/stuffing/size": "oneOf"}, violations(t, err)); d != "" {
		t.Errorf("violations (-want +got):\n%s", d)
	}
	_, err = formula.Reckon(o, s, formula.Wishes{Yields: []formula.Yield{{Part: 0}}})
	if d := cmp.Diff(map[string]string{"#/yields": "minimum"}, violations(t, err)); d != "" {
		t.Errorf("a yield of nothing (-want +got):\n%s", d)
	}
}
