package quantity_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/quantity"
)

// directions are all there are, by name.
func directions() map[string]quantity.RoundDirection {
	return map[string]quantity.RoundDirection{"nearest": quantity.ToNearest, "down": quantity.Down, "up": quantity.Up}
}

func TestRoundTo(t *testing.T) {
	t.Parallel()
	tenth := 0.1 // in a variable, as 3*0.1 of constants is exactly 0.3
	for _, row := range []struct {
		name              string
		mass, division    float64
		down, nearest, up int64
	}{
		{"5.67 g by 0.1 g", 5.67, 0.1, 56, 57, 57},
		{"5.64 g by 0.1 g", 5.64, 0.1, 56, 56, 57},
		{"59.8 g by 0.1 g is a multiple", 59.8, 0.1, 598, 598, 598},
		{"three times 0.1 g, a bit above 0.3 g", 3 * tenth, 0.1, 3, 3, 3},
		{"0.3 g less 0.1 g, a bit below 0.2 g", 0.3 - tenth, 0.1, 2, 2, 2},
		{"a half rounds up", 2.5, 1, 2, 3, 3},
		{"a half by 0.1 g rounds up, though 0.15 is below it", 0.15, 0.1, 1, 2, 2},
		{"just under a half", 2.4999, 1, 2, 2, 3},
		{"nothing", 0, 0.1, 0, 0, 0},
		{"less than half a division", 0.04, 0.1, 0, 0, 1},
		{"a billionth of a division over is the multiple", 7 + 0.9e-9, 1, 7, 7, 7},
		{"two billionths over are not", 7 + 2e-9, 1, 7, 7, 8},
		{"two billionths under are not", 7 - 2e-9, 1, 6, 7, 7},
		{"a shop's batch by a coarse scale", 226796.185, 5, 45359, 45359, 45360},
		{"half a division over ten thousand million", 1e10 + 0.5, 1, 1e10, 1e10 + 1, 1e10 + 1},
		{"a tenth over a thousand million", 1e9 + 0.1, 1, 1e9, 1e9, 1e9 + 1},
		{"as many as may be", 1e15, 1, 1e15, 1e15, 1e15},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			m, division := quantity.MustGrams(row.mass), quantity.MustGrams(row.division)
			want := map[string]int64{"down": row.down, "nearest": row.nearest, "up": row.up}
			got := map[string]int64{}
			for name, direction := range directions() {
				rounded, n, err := m.RoundTo(division, direction)
				if err != nil {
					t.Fatal(err)
				}
				got[name] = n
				near(t, "the mass, rounded "+name, float64(n)*row.division, rounded.Grams())
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("divisions (-want +got):\n%s", diff)
			}
		})
	}
}

func TestRoundToRefusesTooManyDivisions(t *testing.T) {
	t.Parallel()
	_, _, err := quantity.MustGrams(1.001e15).RoundTo(quantity.MustGrams(1), quantity.Down)
	want := quantity.RangeError{Quantity: "count of scale divisions in the mass", Value: 1.001e15, Low: -1e15, High: 1e15}
	if diff := cmp.Diff(want, rangeErrorOf(t, err)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// A deficit rounds like any number: down is away from nothing.
func TestRoundToOfADeficit(t *testing.T) {
	t.Parallel()
	deficit := quantity.Mass{}.Minus(quantity.MustGrams(0.25))
	for name, want := range map[string]int64{"down": -3, "nearest": -2, "up": -2} {
		rounded, n, err := deficit.RoundTo(quantity.MustGrams(0.1), directions()[name])
		if err != nil || n != want {
			t.Errorf("%s: want %d divisions, got %d, %v", name, want, n, err)
		}
		near(t, name, float64(want)*0.1, rounded.Grams())
	}
	small := quantity.Mass{}.Minus(quantity.MustGrams(0.01))
	if rounded, _, err := small.RoundTo(quantity.MustGrams(0.1), quantity.Up); err != nil || math.Signbit(rounded.Grams()) {
		t.Errorf("up to nothing: got %v, %v", rounded.Grams(), err)
	}
}

// drawDivision draws a division of a scale: of those sold, or any.
func drawDivision(t *rapid.T) float64 {
	return rapid.OneOf(
		rapid.SampledFrom([]float64{0.001, 0.01, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 28.349523125 / 8, 453.59237 / 100}),
		rapid.Float64Range(1e-3, 1e3),
	).Draw(t, "division")
}

func TestRoundedMassIsWithinADivision(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := drawDivision(t)
		steps := rapid.OneOf(rapid.Float64Range(0, 100), rapid.Float64Range(0, 1e6), rapid.Float64Range(0, 1e14)).Draw(t, "steps")
		m, division := quantity.MustGrams(steps*d), quantity.MustGrams(d)
		// What counts as a multiple (the comment of RoundTo), and what the float
		// operations of this test and of RoundTo lose.
		slack := min(max(1e-9, 1e-14*steps), 1e-2) + 4*rounding*steps
		for name, direction := range directions() {
			rounded, n, err := m.RoundTo(division, direction)
			if err != nil {
				t.Fatal(err)
			}
			if rounded.Grams() != float64(n)*d {
				t.Errorf("%s: %v g is not %d times %v g", name, rounded.Grams(), n, d)
			}
			over := rounded.Minus(m).Grams() / d
			low, high := -0.5, 0.5
			switch direction {
			case quantity.Down:
				low, high = -1, 0
			case quantity.Up:
				low, high = 0, 1
			case quantity.ToNearest:
			}
			if over < low-slack || over > high+slack {
				t.Errorf("%s: %v divisions give %d, which is %v over", name, steps, n, over)
			}
			again, same, err := rounded.RoundTo(division, direction)
			if err != nil || same != n || again != rounded {
				t.Errorf("%s: %d divisions round to %d, %v", name, n, same, err)
			}
		}
	})
}

// n divisions are n divisions, whatever way they were computed.
func TestMultiplesStayMultiples(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := drawDivision(t)
		n := rapid.Int64Range(0, 1e7).Draw(t, "n")
		k := rapid.Float64Range(1e-3, 1e3).Draw(t, "k")
		division := quantity.MustGrams(d)
		scaled := ok(quantity.MustGrams(float64(n) * d * k).DividedBy(quantity.MustRatio(k)))(t)
		rest := quantity.MustGrams(float64(n+3) * d).Minus(quantity.MustGrams(3 * d))
		share := ok(quantity.NewRatio(float64(n) / 1e7))(t).Of(quantity.MustGrams(1e7 * d))
		for way, m := range map[string]quantity.Mass{
			"multiplied": quantity.MustGrams(float64(n) * d), "scaled and back": scaled, "three taken away": rest, "a share": share,
		} {
			for name, direction := range directions() {
				if _, got, err := m.RoundTo(division, direction); err != nil || got != n {
					t.Errorf("%s, %s: want %d divisions of %v g, got %d, %v", way, name, n, d, got, err)
				}
			}
		}
	})
}

func FuzzRoundTo(f *testing.F) {
	f.Add(5.67, 0.1, 1)
	f.Add(1e10+0.5, 1.0, 1)
	f.Add(1e300, 1e-300, 2)
	f.Add(math.MaxFloat64, math.SmallestNonzeroFloat64, 0)
	f.Add(math.MaxFloat64, 1.2e308, 2)
	f.Fuzz(func(t *testing.T, mass, division float64, direction int) {
		m, err := quantity.Grams(mass)
		if err != nil {
			t.Skip()
		}
		d, err := quantity.Grams(division)
		if err != nil {
			t.Skip()
		}
		rounded, n, err := m.RoundTo(d, quantity.RoundDirection(direction&0x7FFFFFFF%3))
		switch {
		case err != nil:
			rangeErrorOf(t, err)
		case math.IsNaN(rounded.Grams()) || math.IsInf(rounded.Grams(), 0) || n < 0:
			t.Errorf("%v by %v gives %v, %d divisions", mass, division, rounded.Grams(), n)
		}
	})
}
