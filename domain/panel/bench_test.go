package panel_test

import (
	"testing"

	"greenweight/domain/panel"
)

// The dearest trial that the bounds allow.
func BenchmarkEvaluate(b *testing.B) {
	for b.Loop() {
		evaluate(b, trial(panel.PairedTwoSided, panel.Difference, 5000, 2600, 0.1, 0.1, 5))
	}
}
