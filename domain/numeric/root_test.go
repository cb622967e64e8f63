package numeric_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"greenweight/domain/numeric"
	"greenweight/domain/quantity/quantitytest"
)

// How warm must it be for a rate that doubles each 8 degrees to be three times
// what it is at 12?
func ExampleRoot() {
	rate := func(t float64) float64 { return math.Exp2((t - 12) / 8) }
	t, err := numeric.Root(func(t float64) float64 { return rate(t) - 3 }, 0, 40, 1e-9)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f\n", t)
	// Output: 24.680
}

// zero is a function with a known zero between two ends.
type zero struct {
	name      string
	f         func(float64) float64
	low, high float64
	at        float64
}

// The zeros follow from algebra, but for those of the Bessel function and of
// cos x = x, which are in Abramowitz and Stegun, Handbook of Mathematical
// Functions, 1964: table 9.5; the second is the known constant 0.739085133215.
func zeros() []zero {
	return []zero{
		{"a line", func(x float64) float64 { return 2*x - 3 }, 0, 10, 1.5},
		{"a falling line", func(x float64) float64 { return 3 - 2*x }, 0, 10, 1.5},
		{"a square root", func(x float64) float64 { return x*x - 2 }, 0, 2, math.Sqrt2},
		{"a cube, flat at its zero", func(x float64) float64 { return x * x * x }, -1, 1.5, 0},
		{"an exponential, steep", func(x float64) float64 { return math.Expm1(x) - 1e6 }, 0, 100, math.Log(1e6 + 1)},
		{"a step", func(x float64) float64 { return math.Copysign(1, x-0.3) }, 0, 1, 0.3},
		{"a pole that is a change of sign", func(x float64) float64 { return 1 / (x - 0.3) }, 0, 1, 0.3},
		{"infinite at an end", math.Log, 0, 5, 1},
		{"infinite at both ends", func(x float64) float64 { return math.Log(x / (1 - x)) }, 0, 1, 0.5},
		{"a fixed point", func(x float64) float64 { return math.Cos(x) - x }, 0, 1, 0.739085133215},
		{"the first zero of J0", math.J0, 0, 4, 2.4048255577},
		{"at the low end", func(x float64) float64 { return x - 1 }, 1, 2, 1},
		{"at the high end", func(x float64) float64 { return x - 2 }, 1, 2, 2},
		{"far away", func(x float64) float64 { return x - 1e15 }, -1e15, 3e15, 1e15},
		{"below zero", func(x float64) float64 { return x + 7 }, -100, -1, -7},
	}
}

func TestRootFindsKnownZeros(t *testing.T) {
	t.Parallel()
	for _, row := range zeros() {
		for _, tolerance := range []float64{1e-2, 1e-6, 1e-10} {
			t.Run(fmt.Sprintf("%s to %g", row.name, tolerance), func(t *testing.T) {
				t.Parallel()
				calls := 0
				got, err := numeric.Root(func(x float64) float64 {
					calls++
					if x < row.low || x > row.high {
						t.Errorf("called with %v, outside %v..%v", x, row.low, row.high)
					}
					return row.f(x)
				}, row.low, row.high, tolerance)
				if err != nil {
					t.Fatal(err)
				}
				spacing := math.Nextafter(math.Abs(row.at), math.Inf(1)) - math.Abs(row.at)
				quantitytest.Near(t, row.name, row.at, got, tolerance+2*spacing+1e-10)
				if most := int(math.Ceil(math.Log2((row.high-row.low)/(2*tolerance)))) + 3; calls > most {
					t.Errorf("want at most %d calls, got %d", most, calls)
				}
			})
		}
	}
}

// On smooth functions it is quicker than halving, which would take 47 calls for
// a thousand-millionth of a millionth of the interval.
func TestRootIsQuickerThanHalving(t *testing.T) {
	t.Parallel()
	for _, row := range zeros() {
		switch row.name {
		case "a square root", "a fixed point", "the first zero of J0":
		default:
			continue
		}
		calls := 0
		if _, err := numeric.Root(func(x float64) float64 { calls++; return row.f(x) }, row.low, row.high, (row.high-row.low)*1e-14); err != nil {
			t.Errorf("%s: %v", row.name, err)
		}
		if calls > 15 {
			t.Errorf("%s: want at most 15 calls, got %d", row.name, calls)
		}
	}
}

func TestRootRefuses(t *testing.T) {
	t.Parallel()
	line := func(x float64) float64 { return x }
	nan, inf := math.NaN(), math.Inf(1)
	for _, row := range []struct {
		name                 string
		f                    func(float64) float64
		low, high, tolerance float64
		want                 error
	}{
		{"the same sign at both ends", line, 1, 2, 1e-9, numeric.ErrNoSignChange},
		{"the same sign, below", line, -2, -1, 1e-9, numeric.ErrNoSignChange},
		{"ends in disorder", line, 1, -1, 1e-9, numeric.ErrInterval},
		{"one point", line, 0, 0, 1e-9, numeric.ErrInterval},
		{"an endless end", line, -1, inf, 1e-9, numeric.ErrInterval},
		{"an end that is no number", line, nan, 1, 1e-9, numeric.ErrInterval},
		{"a distance that is not finite", line, -math.MaxFloat64, math.MaxFloat64, 1e-9, numeric.ErrInterval},
		{"no tolerance", line, -1, 1, 0, numeric.ErrInterval},
		{"a negative tolerance", line, -1, 1, -1, numeric.ErrInterval},
		{"a tolerance that is no number", line, -1, 1, nan, numeric.ErrInterval},
		{"no value at an end", math.Sqrt, -1, 1, 1e-9, numeric.ErrNotANumber},
		{"no value between the ends", func(x float64) float64 {
			if math.Abs(x) < 0.9 {
				return nan
			}
			return x
		}, -1, 1, 1e-9, numeric.ErrNotANumber},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			if got, err := numeric.Root(row.f, row.low, row.high, row.tolerance); !errors.Is(err, row.want) || got != 0 {
				t.Errorf("want 0 and %v, got %v and %v", row.want, got, err)
			}
		})
	}
}

// However odd the function, what is returned lies beside a change of its sign
// and the number of calls is bounded. The functions are steps and powers, flat
// or steep at their zero, where false position alone hardly moves.
func TestRootOfOddFunctions(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e6, 1e6).Draw(t, "low")
		width := math.Exp(rapid.Float64Range(-10, 10).Draw(t, "log width"))
		at := low + width*rapid.Float64Range(0, 1).Draw(t, "place")
		power := math.Exp(rapid.Float64Range(-3, 4).Draw(t, "log power"))
		left := math.Exp(rapid.Float64Range(-30, 30).Draw(t, "log left"))
		right := math.Exp(rapid.Float64Range(-30, 30).Draw(t, "log right"))
		tolerance := width * math.Exp(rapid.Float64Range(-20, 0).Draw(t, "log tolerance"))
		high, calls := low+width, 0
		got, err := numeric.Root(func(x float64) float64 {
			calls++
			if x <= at {
				return -left * (math.Pow((at-x)/width, power) + 1e-300)
			}
			return right * (math.Pow((x-at)/width, power) + 1e-300)
		}, low, high, tolerance)
		switch {
		case at >= high:
			if !errors.Is(err, numeric.ErrNoSignChange) {
				t.Fatal(err)
			}
			return
		case err != nil:
			t.Fatal(err)
		}
		if spacing := 1e-15 * math.Max(math.Abs(low), math.Abs(high)); !(math.Abs(got-at) <= tolerance*(1+1e-9)+2*spacing) {
			t.Errorf("want %v, got %v, which is off by more than %v", at, got, tolerance)
		}
		if most := int(math.Ceil(max(0, math.Log2((high-low)/(2*tolerance))))) + 3; calls > most {
			t.Errorf("want at most %d calls, got %d", most, calls)
		}
	})
}

func FuzzRoot(f *testing.F) {
	f.Add(-1.0, 2.0, 0.5, 1e-9)
	f.Add(0.0, math.MaxFloat64, 1e300, math.SmallestNonzeroFloat64)
	f.Add(-math.SmallestNonzeroFloat64, math.SmallestNonzeroFloat64, 0.0, math.SmallestNonzeroFloat64)
	f.Add(1.0, 2.0, 1.5, math.Inf(1))
	f.Add(math.NaN(), 1.0, 0.0, 1e-3)
	f.Fuzz(func(t *testing.T, low, high, at, tolerance float64) {
		calls := 0
		got, err := numeric.Root(func(x float64) float64 { calls++; return math.Cbrt(x - at) }, low, high, tolerance)
		if calls > 2102 {
			t.Errorf("%d calls", calls)
		}
		if err == nil && !(got >= low && got <= high) {
			t.Errorf("%v is outside %v..%v", got, low, high)
		}
		if err != nil && got != 0 {
			t.Errorf("%v beside %v", got, err)
		}
	})
}
