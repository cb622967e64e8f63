package curing

import (
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
)

// Batch is one batch to shop for.
type Batch struct {
	Order    formula.Order
	Yields   []formula.Yield
	Stuffing *formula.Stuffing // nil when it is not told
}

// Refused is a formula that must not be made.
type Refused struct {
	Batch   int // its place among the batches
	Hazards []finding.Finding
}

// Shop returns one shopping list for several batches. A formula that is a
// hazard is left out, its cures above all, and returned with its hazards. It
// returns the faults of formula.Scale, with paths from the batches down, and those of
// formula.List with paths below stocked.
func Shop(batches []Batch, stocked []formula.Stocked) (formula.Shopping, []Refused, error) {
	var bad fault.Collector
	var refused []Refused
	var makings []formula.Making
	var others []string
	for i, b := range batches {
		sheet, found, err := WeighOut(b.Order)
		switch {
		case err != nil:
			bad.AddError(fault.At("batches", i), "invalid-value", err)
		case sheet == nil:
			refused = append(refused, Refused{Batch: i, Hazards: found})
			others = append(others, names(b.Order.Formula)...)
		default:
			making := formula.Making{Sheet: *sheet, Yields: b.Yields, OnHand: b.Order.Amount.OnHand, At: fault.At("batches", i, "formula")}
			making.Filling, err = formula.FillingOf(b.Order, *sheet, b.Stuffing)
			bad.AddError(fault.At("batches", i), "invalid-value", err)
			makings = append(makings, making)
		}
	}
	if err := bad.Err("invalid-value", "the batches can't be scaled as they stand"); err != nil {
		return formula.Shopping{}, nil, err
	}
	list, err := formula.List(makings, stocked, others)
	bad.AddError(fault.At("stock"), "invalid-value", err)
	return list, refused, bad.Err("invalid-value", "the list has no meaning as it stands")
}

// names returns what the parts and additions of a formula are called.
func names(f formula.Formula) []string {
	called := make([]string, 0, len(f.Parts)+len(f.Additions))
	for _, p := range f.Parts {
		called = append(called, p.Name)
	}
	for _, a := range f.Additions {
		called = append(called, a.Name)
	}
	return called
}
