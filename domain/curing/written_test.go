package curing_test

import (
	"math"
	"testing"

	"greenweight/domain/curing"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// By hand, for a kilogram of meat: 25 g of salt and 2.5 g of a cure of 6.25 % of
// sodium nitrite in 93.75 % of salt are 25 + 2.34375 = 27.34375 g of salt, which
// is 2.734375 %, and 0.15625 g of nitrite, which is 156.25 mg/kg. 5 g of dextrose
// monohydrate, of which 90.9 % is dextrose, are 0.4545 %.
func TestWritten(t *testing.T) {
	t.Parallel()
	meat, _ := material.ByKey("pork-shoulder-whole-lean-and-fat")
	salt, _ := material.ByKey("salt-table")
	sugar, _ := material.ByKey("dextrose-monohydrate")
	cure, err := rulebook.NewCure("by label", rulebook.Assay{SodiumNitrite: quantity.MustPercent(6.25), SodiumChloride: quantity.MustPercent(93.75)})
	if err != nil {
		t.Fatal(err)
	}
	f := formula.Formula{
		Name: "invented", Product: rulebook.DrySausage,
		Parts: []formula.Part{{Name: "shoulder", Material: meat, Share: quantity.MustPercent(100)}},
		Additions: []formula.Addition{
			{Name: "salt", Role: formula.Salt, Material: &salt, Rate: formula.ShareOfMeat(quantity.MustRatio(0.025))},
			{Name: "cure", Role: formula.Cure, Cure: &cure, Rate: formula.ShareOfMeat(quantity.MustRatio(0.0025))},
			{Name: "sugar", Role: formula.Sugar, Material: &sugar, Rate: formula.ShareOfMeat(quantity.MustRatio(0.005))},
		},
	}
	w, err := curing.WrittenOf(f)
	if err != nil {
		t.Fatal(err)
	}
	for _, of := range []struct {
		name string
		have quantity.PPM
		want float64 // mg/kg
		near float64
	}{
		{"salt, low", w.Salt.Amount.Low, 27343.75, 1e-6}, {"salt, high", w.Salt.Amount.High, 27343.75, 1e-6},
		{"nitrite", w.Nitrite.Amount.High, 156.25, 1e-6}, {"nitrate", w.Nitrate.Amount.High, 0, 0},
		{"sugar", w.Sugar.Amount.High, 4545, 5}, // the table has more digits of 90.9
	} {
		if got := of.have.MilligramsPerKilogram(); math.Abs(got-of.want) > of.near {
			t.Errorf("%s: want %v mg/kg, got %v", of.name, of.want, got)
		}
	}
	if w.SugarUnknown != "" {
		t.Errorf("sugar of %s is not known", w.SugarUnknown)
	}
	f.Parts[0].Share = quantity.MustPercent(50)
	if _, err := curing.WrittenOf(f); err == nil {
		t.Error("half the meat is missing")
	}
}
