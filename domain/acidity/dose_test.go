package acidity_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"greenweight/domain/acidity"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
)

func dose(t *testing.T, o acidity.DoseOrder) acidity.Dose {
	t.Helper()
	d, err := acidity.DoseOf(o)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func told(d acidity.Dose, code string) bool {
	return slices.ContainsFunc(d.Notes, func(n finding.Note) bool { return n.Code == code })
}

// 10^6 of 2 x 10^10 CFU/g are a part in 20,000: 0.6 g of 12 kg, and 6 g for ten
// times the cells.
func TestGramsFromCells(t *testing.T) {
	t.Parallel()
	d := dose(t, acidity.DoseOrder{Batch: quantity.MustGrams(12000), Activity: quantity.MustCFUPerGram(2e10), Water: quantity.MustGrams(30)})
	near(t, "least", 0.6, d.Culture.Low.Grams(), 1e-9)
	near(t, "most", 6, d.Culture.High.Grams(), 1e-9)
	near(t, "share of the water", 0.25, d.Water.Percent(), 1e-9)
	near(t, "usual on a pack, least", 1.44, d.Pack.Low.Grams(), 1e-9)
	near(t, "usual on a pack, most", 1.5, d.Pack.High.Grams(), 1e-9)
}

// A tenth of the cells costs 2.3026/mu: 3.54 h at 0.65 an hour and 6.98 h at
// 0.33. A hundred times as many gain twice that.
func TestFewerCellsAreLater(t *testing.T) {
	t.Parallel()
	order := acidity.DoseOrder{Batch: quantity.MustGrams(5000), Activity: quantity.MustCFUPerGram(1e9), Amount: quantity.Exactly(quantity.MustGrams(0.5))}
	d := dose(t, order)
	near(t, "cells", 1e5, d.Cells.Low.CFUPerGram(), 1e-6)
	near(t, "warm", 3.542, d.Lag.Warm.High.Hours(), 0.001)
	near(t, "cool", 6.977, d.Lag.Cool.High.Hours(), 0.001)
	if !told(d, "underdose") || !told(d, "age-unknown") || told(d, "overdose") {
		t.Errorf("notes are %+v", d.Notes)
	}
	// 10^6 CFU/g come to 100 in a gram of the batch, and meat brings 1000.
	order.Activity = quantity.MustCFUPerGram(1e6)
	if d = dose(t, order); d.Lag != nil || !told(d, "fewer-than-natural") {
		t.Errorf("a delay of next to no cells: %+v", d)
	}
	order.Activity = quantity.MustCFUPerGram(1e12)
	d = dose(t, order)
	near(t, "sooner", -2*3.5424, d.Lag.Warm.Low.Hours(), 0.001)
	if !told(d, "overdose") || told(d, "underdose") {
		t.Errorf("notes are %+v", d.Notes)
	}
}

// Two teaspoons are four halves, of 1.2 to 2.5 g each.
func TestSpoonsAreARange(t *testing.T) {
	t.Parallel()
	spoons, err := quantity.Teaspoons(2)
	if err != nil {
		t.Fatal(err)
	}
	d := dose(t, acidity.DoseOrder{Batch: quantity.MustGrams(4500), Spoons: spoons})
	near(t, "least", 4.8, d.Culture.Low.Grams(), 1e-9)
	near(t, "most", 10, d.Culture.High.Grams(), 1e-9)
	if d.Cells != nil || d.Lag != nil || !told(d, "activity-unknown") || !told(d, "spooned") {
		t.Errorf("cells nobody stated: %+v", d)
	}
}

func TestTheDoseOnAPackIsTakenWhereNothingIsStated(t *testing.T) {
	t.Parallel()
	d := dose(t, acidity.DoseOrder{Batch: quantity.MustGrams(200000)})
	near(t, "25 g for 200 kg", 25, d.Culture.High.Grams(), 1e-9)
	if told(d, "not-the-pack-dose") {
		t.Error("the dose on a pack is not that on a pack")
	}
}

func TestDosesWithoutMeaning(t *testing.T) {
	t.Parallel()
	for name, o := range map[string]acidity.DoseOrder{
		"culture":       {Batch: quantity.MustGrams(1000), Amount: quantity.Exactly(quantity.MustGrams(600))},
		"water":         {Batch: quantity.MustGrams(1000), Water: quantity.MustGrams(600)},
		"unknown cells": {Batch: quantity.MustGrams(1000), Target: quantity.MustCFUPerGram(1e6)},
	} {
		_, err := acidity.DoseOf(o)
		if wrong, ok := errors.AsType[*fault.Error](err); !ok || wrong.Kind != fault.Invalid || len(wrong.Violations) != 1 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Grams from cells and cells from grams are each other's inverse, whatever the
// batch.
func TestDoseThereAndBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		target := math.Pow(10, rapid.Float64Range(3, 8).Draw(t, "target"))
		o := acidity.DoseOrder{
			Batch:    quantity.MustGrams(rapid.Float64Range(100, 1e6).Draw(t, "batch")),
			Activity: quantity.MustCFUPerGram(math.Pow(10, rapid.Float64Range(8.5, 12).Draw(t, "activity"))),
			Target:   quantity.MustCFUPerGram(target),
		}
		d, err := acidity.DoseOf(o)
		if err != nil {
			t.Fatal(err)
		}
		o.Target, o.Amount = quantity.CellCount{}, d.Culture
		back, err := acidity.DoseOf(o)
		if err != nil {
			t.Fatal(err)
		}
		if got := back.Cells.Low.CFUPerGram(); math.Abs(got/target-1) > 1e-9 {
			t.Fatalf("%v CFU/g become %v", target, got)
		}
	})
}
