package formula_test

import (
	"testing"

	"greenweight/domain/formula"
	"greenweight/domain/quantity"
)

// The plain case is computed for each line of a stream of a million formulas.
func BenchmarkScale(b *testing.B) {
	order := formula.Order{Formula: plain(), Amount: formula.Amount{Meat: quantity.MustGrams(10000)}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := formula.Scale(order); err != nil {
			b.Fatal(err)
		}
	}
}
