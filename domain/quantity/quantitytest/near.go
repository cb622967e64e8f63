// Package quantitytest compares quantities within a tolerance, for tests only.
package quantitytest

import (
	"math"
	"testing"
)

// Near fails the test when got and want, in the same unit, differ by more than
// tolerance. A NaN is near nothing.
func Near(tb testing.TB, what string, want, got, tolerance float64) {
	tb.Helper()
	if d := math.Abs(want - got); !(d <= tolerance) {
		tb.Errorf("%s: want %v, got %v, which differ by more than %v", what, want, got, tolerance)
	}
}
