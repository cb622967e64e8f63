package numeric_test

import (
	"math"
	"testing"

	"greenweight/domain/numeric"
)

// The figures are of the table of percentage points that books of statistics
// print (Fisher and Yates, Statistical Tables, 6th edition, 1963, table III, as
// recalled), to its three decimals, and by hand: with one degree of freedom the
// distribution is that of Cauchy, whose quantile is tan(pi (p - 1/2)); with two
// it is (2p - 1) / sqrt(2 p (1 - p)).
func TestStudentQuantile(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ p, degrees, want, within float64 }{
		{0.975, 1, 12.706, 5e-4}, {0.975, 2, 4.303, 5e-4}, {0.975, 3, 3.182, 5e-4}, {0.975, 5, 2.571, 5e-4},
		{0.975, 10, 2.228, 5e-4}, {0.975, 30, 2.042, 5e-4}, {0.95, 4, 2.132, 5e-4}, {0.9, 3, 1.638, 5e-4}, {0.9, 12, 1.356, 5e-4},
		{0.975, 1e9, 1.959964, 1e-6},
		{0.9, 1, math.Tan(0.4 * math.Pi), 1e-9}, {0.9, 2, 0.8 / math.Sqrt(0.18), 1e-9}, {0.1, 2, -0.8 / math.Sqrt(0.18), 1e-9},
		{0.5, 3, 0, 1e-12},
		// Between 2 and 3 degrees of freedom lies what is between.
		{0.975, 2.5, 3.6, 0.05},
	} {
		if got := numeric.StudentQuantile(row.p, row.degrees); math.Abs(got-row.want) > row.within {
			t.Errorf("quantile of %v with %v degrees of freedom: want %v, got %v", row.p, row.degrees, row.want, got)
		}
	}
}

func TestStudentQuantileIsOdd(t *testing.T) {
	t.Parallel()
	for _, degrees := range []float64{1, 1.3, 4, 77.7} {
		for _, p := range []float64{0.0625, 0.125, 0.25, 0.375} {
			if low, high := numeric.StudentQuantile(p, degrees), numeric.StudentQuantile(1-p, degrees); low != -high || low >= 0 {
				t.Errorf("%v degrees of freedom: %v at %v and %v at its complement", degrees, low, p, high)
			}
		}
	}
}

func TestStudentQuantileOfNothing(t *testing.T) {
	t.Parallel()
	for _, row := range [][2]float64{{-0.1, 3}, {1.1, 3}, {math.NaN(), 3}, {0.5, 0}, {0.9, -1}, {0.9, math.NaN()}} {
		if got := numeric.StudentQuantile(row[0], row[1]); !math.IsNaN(got) {
			t.Errorf("quantile of %v with %v degrees of freedom is %v", row[0], row[1], got)
		}
	}
}
