package numeric_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
	"pgregory.net/rapid"

	"greenweight/domain/numeric"
	"greenweight/domain/quantity/quantitytest"
)

var none = math.Inf(1)

func atMost(high float64, a ...float64) numeric.Row {
	return numeric.Row{Coefficients: a, Low: -none, High: high}
}
func atLeast(low float64, a ...float64) numeric.Row {
	return numeric.Row{Coefficients: a, Low: low, High: none}
}
func exactly(both float64, a ...float64) numeric.Row {
	return numeric.Row{Coefficients: a, Low: both, High: both}
}

// Published problems with their printed answers; a problem of most is one of
// least with the signs of the cost and the duals turned. All from memory of the
// editions named; each optimum can be checked by putting it into the rows.
func TestPublishedPrograms(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		program numeric.Program
		value   float64
		x       []float64 // nil: not unique, or not printed
		dual    []float64
	}{
		{
			// Hillier and Lieberman, Introduction to Operations Research, 9th ed. 2010, ch. 3.1 and 4.7 (shadow prices).
			"glass works: 36 at (2, 6), shadow prices 0, 3/2 and 1",
			numeric.Program{Cost: []float64{-3, -5}, Rows: []numeric.Row{atMost(4, 1, 0), atMost(12, 0, 2), atMost(18, 3, 2)}},
			-36, []float64{2, 6}, []float64{0, -1.5, -1},
		},
		{
			// Taha, Operations Research, 8th ed. 2007, ch. 2.2.1 and 3.6: 21 at (3, 1.5), duals 0.75, 0.5, 0, 0.
			"paint: 21 at (3, 1.5)",
			numeric.Program{Cost: []float64{-5, -4}, Rows: []numeric.Row{atMost(24, 6, 4), atMost(6, 1, 2), atMost(1, -1, 1), atMost(2, 0, 1)}},
			-21, []float64{3, 1.5}, []float64{-0.75, -0.5, 0, 0},
		},
		{
			// Taha, ch. 2.2.2, a feed mix of corn and soybean meal: 437.64 (of 470.6 and 329.4 lb); 437.647 by hand:
			// x1 = 800*0.3/0.51, and the protein row 0.21 x1 <= 0.30 x2 binds.
			"feed mix: 437.64 from 470.6 and 329.4",
			numeric.Program{Cost: []float64{0.3, 0.9}, Rows: []numeric.Row{atLeast(800, 1, 1), atMost(0, 0.21, -0.30), atLeast(0, 0.03, -0.01)}},
			437.647058823, []float64{470.588235294, 329.411764706}, nil,
		},
		{
			// Chvátal, Linear Programming, 1983, ch. 1: the diet of oatmeal, chicken, eggs, milk, pie and pork; 92.5 cents.
			"diet: 92.5 from 4, 4.5 and 2 servings",
			numeric.Program{
				Cost: []float64{3, 24, 13, 9, 20, 19},
				Rows: []numeric.Row{
					atLeast(2000, 110, 205, 160, 160, 420, 260), atLeast(55, 4, 32, 13, 8, 4, 14), atLeast(800, 2, 12, 54, 285, 22, 80),
					atMost(4, 1, 0, 0, 0, 0, 0), atMost(3, 0, 1, 0, 0, 0, 0), atMost(2, 0, 0, 1, 0, 0, 0), atMost(8, 0, 0, 0, 1, 0, 0),
					atMost(2, 0, 0, 0, 0, 1, 0), atMost(2, 0, 0, 0, 0, 0, 1),
				},
			},
			92.5, []float64{4, 0, 0, 4.5, 2, 0}, nil,
		},
		{
			// After Beale, Naval Research Logistics Quarterly 2 (1955) 269, with the figures that textbooks print: the steepest
			// choice with ties by number cycles at the origin for ever. -1/20 at (1/25, 0, 1, 0).
			"a problem that cycles",
			numeric.Program{Cost: []float64{-0.75, 150, -0.02, 6}, Rows: []numeric.Row{
				atMost(0, 0.25, -60, -0.04, 9), atMost(0, 0.5, -90, -0.02, 3), atMost(1, 0, 0, 1, 0),
			}},
			-0.05, []float64{0.04, 0, 1, 0}, nil,
		},
		{
			// The two-sausage problem of an open tutorial, whose inputs were read and whose total is recalled as 140.96 (the inputs
			// give 140.955, so that the recalled figure is a rounding): 17.5 kg with at least 40 % pork and 25 kg with at least
			// 60 %, at most 25 % starch in both, of 30 kg pork, 20 wheat and 17 starch at 4.32, 2.46 and 1.86, at least 23 kg of the
			// pork used. Which sausage gets the rest of the pork is not unique.
			"two sausages",
			numeric.Program{
				Cost: []float64{4.32, 2.46, 1.86, 4.32, 2.46, 1.86},
				Rows: []numeric.Row{
					exactly(17.5, 1, 1, 1, 0, 0, 0), exactly(25, 0, 0, 0, 1, 1, 1), atLeast(7, 1, 0, 0, 0, 0, 0), atLeast(15, 0, 0, 0, 1, 0, 0),
					atMost(4.375, 0, 0, 1, 0, 0, 0), atMost(6.25, 0, 0, 0, 0, 0, 1), atMost(30, 1, 0, 0, 1, 0, 0), atMost(20, 0, 1, 0, 0, 1, 0),
					atMost(17, 0, 0, 1, 0, 0, 1), atLeast(23, 1, 0, 0, 1, 0, 0),
				},
			},
			140.955, nil, nil,
		},
		{
			// A textbook's meat market with its printed answer, 100 lb of beef and 50 of pork for 97.50: beef of 75 % lean at 0.75,
			// pork of 60 % at 0.45, at least 70 % lean, at least 50 lb of pork, at most 200 of beef.
			"meat market",
			numeric.Program{Cost: []float64{0.75, 0.45}, Rows: []numeric.Row{atLeast(0, 0.05, -0.10), atLeast(50, 0, 1), atMost(200, 1, 0)}},
			97.5, []float64{100, 50}, nil,
		},
		{
			// By hand: the third row is the sum of the first two and the fourth the first again.
			"rows that follow from others", numeric.Program{Cost: []float64{1, 2, 3}, Rows: []numeric.Row{
				exactly(1, 1, 1, 0), exactly(1, 0, 0, 1), exactly(2, 1, 1, 1), exactly(1, 1, 1, 0), exactly(0, 0, 0, 0),
			}},
			4, []float64{1, 0, 1}, nil,
		},
		{"no rows", numeric.Program{Cost: []float64{1, 0}}, 0, nil, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			o, err := c.program.Minimise()
			if err != nil {
				t.Fatal(err)
			}
			quantitytest.Near(t, "value", c.value, o.Value, 1e-8)
			for j, want := range c.x {
				quantitytest.Near(t, "x", want, o.X[j], 1e-8)
			}
			for i, want := range c.dual {
				quantitytest.Near(t, "dual", want, o.Dual[i], 1e-9)
			}
			if c.x != nil && !o.Unique {
				t.Error("the optimum is the only one")
			}
		})
	}
}

func TestNoOptimum(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		program numeric.Program
		want    error
	}{
		{"falls for ever", numeric.Program{Cost: []float64{-1, 0}, Rows: []numeric.Row{atMost(1, 0, 1)}}, numeric.ErrUnbounded},
		{"a row too short", numeric.Program{Cost: []float64{1, 1}, Rows: []numeric.Row{atMost(1, 1)}}, numeric.ErrProgram},
		{"ends in the wrong order", numeric.Program{Cost: []float64{1}, Rows: []numeric.Row{{Coefficients: []float64{1}, Low: 2, High: 1}}}, numeric.ErrProgram},
		{"no number", numeric.Program{Cost: []float64{math.NaN()}}, numeric.ErrProgram},
		{"no number in a row", numeric.Program{Cost: []float64{1}, Rows: []numeric.Row{atMost(1, math.NaN())}}, numeric.ErrProgram},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if _, err := c.program.Minimise(); !errors.Is(err, c.want) {
				t.Errorf("want %v, got %v", c.want, err)
			}
		})
	}
}

// By hand: x >= 3 and x + y <= 2 clash whatever else is asked; y <= 5 and
// x <= 9 have no part in it.
func TestClash(t *testing.T) {
	t.Parallel()
	p := numeric.Program{Cost: []float64{0, 0}, Rows: []numeric.Row{atMost(5, 0, 1), atLeast(3, 1, 0), atMost(9, 1, 0), atMost(2, 1, 1), atLeast(1, 1, 0)}}
	for _, c := range []struct {
		name  string
		fixed []int
		want  []int
	}{
		{"nothing fixed", nil, []int{1, 3}}, {"one of them fixed", []int{3}, []int{1}}, {"another fixed", []int{0}, []int{1, 3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := p.Clash(func(i int) bool { return slices.Contains(c.fixed, i) })
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("rows (-want +got):\n%s", d)
			}
		})
	}
	if got, err := p.Only([]int{0, 1, 2}).Clash(func(int) bool { return false }); got != nil || err != nil {
		t.Errorf("nothing clashes, got %v, %v", got, err)
	}
}

// Two costs alike: any of them will do.
func TestUnique(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		cost []float64
		want bool
	}{{"one is cheaper", []float64{1, 2, 3}, true}, {"two are as cheap", []float64{1, 1, 3}, false}, {"none costs", []float64{0, 0, 0}, false}} {
		o, err := numeric.Program{Cost: c.cost, Rows: []numeric.Row{exactly(1, 1, 1, 1)}}.Minimise()
		if err != nil || o.Unique != c.want {
			t.Errorf("%s: unique is %v, %v", c.name, o.Unique, err)
		}
	}
}

// drawn draws a small program. Small whole numbers make rows that repeat,
// contradict and meet in one point, which is what is hard.
func drawn(t *rapid.T) numeric.Program {
	n, m := rapid.IntRange(1, 5).Draw(t, "variables"), rapid.IntRange(0, 7).Draw(t, "rows")
	whole := func(low, high int, name string) float64 { return float64(rapid.IntRange(low, high).Draw(t, name)) }
	p := numeric.Program{}
	for range n {
		p.Cost = append(p.Cost, whole(-3, 5, "cost"))
	}
	for range m {
		a := make([]float64, n)
		for j := range a {
			a[j] = whole(-3, 4, "coefficient")
		}
		b := whole(-4, 8, "end")
		p.Rows = append(p.Rows, rapid.SampledFrom([]numeric.Row{atMost(b, a...), atLeast(b, a...), exactly(b, a...)}).Draw(t, "row"))
	}
	box := make([]float64, n) // so that most have an optimum
	for j := range box {
		box[j] = 1
	}
	p.Rows = append(p.Rows, atMost(10, box...))
	return p
}

func keeps(p numeric.Program, x []float64, slack float64) bool {
	for _, r := range p.Rows {
		sum := 0.0
		for j, a := range r.Coefficients {
			sum += a * x[j]
		}
		if sum < r.Low-slack || sum > r.High+slack {
			return false
		}
	}
	return !slices.ContainsFunc(x, func(v float64) bool { return v < -slack })
}

// The value of the dual is that of the optimum, and its signs are right: by the
// theorem of duality nothing is better (weak duality needs no solver to check).
func TestDualityProvesTheOptimum(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		o, err := p.Minimise()
		if errors.As(err, new(*numeric.InfeasibleError)) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if !keeps(p, o.X, 1e-6) {
			t.Fatalf("%v breaks a row", o.X)
		}
		bound := 0.0
		reduced := slices.Clone(p.Cost)
		for i, r := range p.Rows {
			y := o.Dual[i]
			switch {
			case y > 1e-9 && math.IsInf(r.Low, -1), y < -1e-9 && math.IsInf(r.High, 1):
				t.Fatalf("dual %v has the wrong sign for row %d", y, i)
			case y > 1e-9:
				bound += y * r.Low
			case y < -1e-9:
				bound += y * r.High
			}
			for j, a := range r.Coefficients {
				reduced[j] -= y * a
			}
		}
		for j, d := range reduced {
			if d < -1e-6 {
				t.Fatalf("reduced cost of %d is %v", j, d)
			}
		}
		if math.Abs(bound-o.Value) > 1e-6 {
			t.Fatalf("the dual is worth %v and the optimum %v", bound, o.Value)
		}
	})
}

// gonum's simplex, which knows nothing of ours, gives the same value where it
// gives one: it wants equations that are independent, so that each row gets a
// slack that is no more than 1e-6, and so may be off by about as much.
func TestAgreesWithAnotherSimplex(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		n := len(p.Cost)
		var sides []numeric.Row // a x <= high
		for _, r := range p.Rows {
			if !math.IsInf(r.High, 1) {
				sides = append(sides, r)
			}
			if !math.IsInf(r.Low, -1) {
				turned := make([]float64, n)
				for j, a := range r.Coefficients {
					turned[j] = -a
				}
				sides = append(sides, atMost(-r.Low, turned...))
			}
		}
		a, b := mat.NewDense(len(sides), n+len(sides), nil), make([]float64, len(sides))
		for i, r := range sides {
			a.SetRow(i, append(slices.Clone(r.Coefficients), make([]float64, len(sides))...))
			a.Set(i, n+i, 1)
			b[i] = r.High
		}
		want, _, err := lp.Simplex(append(slices.Clone(p.Cost), make([]float64, len(sides))...), a, b, 1e-9, nil)
		got, ours := p.Minimise()
		switch {
		case errors.Is(err, lp.ErrInfeasible):
			if !errors.As(ours, new(*numeric.InfeasibleError)) {
				t.Fatalf("the other finds nothing, ours %v, %v", got.X, ours)
			}
		case err != nil: // it gave up, which says nothing
			if ours != nil && !errors.As(ours, new(*numeric.InfeasibleError)) {
				t.Fatal(ours)
			}
		case ours != nil:
			t.Fatalf("the other finds %v, ours %v", want, ours)
		case math.Abs(want-got.Value) > 1e-6:
			t.Fatalf("the other finds %v, ours %v", want, got.Value)
		}
	})
}

// What is named as clashing clashes, and does not as soon as one is left out.
func TestClashIsMinimal(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		rows, err := p.Clash(func(int) bool { return false })
		if err != nil {
			t.Fatal(err)
		}
		can, err := p.Feasible()
		if err != nil || can != (rows == nil) {
			t.Fatalf("feasible is %v, %v, and these clash: %v", can, err, rows)
		}
		if rows == nil {
			return
		}
		if can, err := p.Only(rows).Feasible(); can || err != nil {
			t.Fatalf("%v can be satisfied together, %v", rows, err)
		}
		for i := range rows {
			if can, err := p.Only(slices.Delete(slices.Clone(rows), i, i+1)).Feasible(); !can || err != nil {
				t.Fatalf("%v does not need %d, %v", rows, rows[i], err)
			}
		}
	})
}

// The least value with an end moved a little is what the dual says, where the
// optimum is not degenerate.
func TestDualsAreSlopes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		o, err := p.Minimise()
		if err != nil || o.Degenerate {
			return
		}
		const step = 1e-4
		for i := range p.Rows {
			q := numeric.Program{Cost: p.Cost, Rows: slices.Clone(p.Rows)}
			q.Rows[i].Low, q.Rows[i].High = p.Rows[i].Low+step, p.Rows[i].High+step
			moved, err := q.Minimise()
			if err != nil {
				t.Fatal(err)
			}
			if slope := (moved.Value - o.Value) / step; math.Abs(slope-o.Dual[i]) > 1e-4 {
				t.Fatalf("row %d: the value rises by %v, the dual is %v", i, slope, o.Dual[i])
			}
		}
	})
}

// An optimum is unique exactly when each variable has one value among all that
// are as good.
func TestUniqueMeansOneValue(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		o, err := p.Minimise()
		if err != nil {
			return
		}
		slides := false
		for j := range p.Cost {
			for _, sign := range []float64{-1, 1} {
				q := numeric.Program{Cost: make([]float64, len(p.Cost)), Rows: append(slices.Clone(p.Rows), exactly(o.Value, p.Cost...))}
				q.Cost[j] = sign
				other, err := q.Minimise()
				if err != nil {
					t.Fatal(err)
				}
				slides = slides || math.Abs(other.X[j]-o.X[j]) > 1e-5
			}
		}
		if slides == o.Unique {
			t.Fatalf("unique is %v, and yet it slides: %v", o.Unique, slides)
		}
	})
}

func FuzzProgram(f *testing.F) {
	f.Add(1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0)
	f.Add(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
	f.Add(1e-300, 1e300, -1.0, math.NaN(), math.Inf(1), 1e-12, 1.0)
	f.Fuzz(func(t *testing.T, a, b, c, d, e, g, h float64) {
		o, err := numeric.Program{Cost: []float64{a, b}, Rows: []numeric.Row{atMost(c, d, e), atLeast(g, h, a)}}.Minimise()
		if err == nil && slices.ContainsFunc(o.X, math.IsNaN) {
			t.Errorf("an optimum that is no number: %v", o.X)
		}
	})
}

func BenchmarkLargestProgram(b *testing.B) {
	const n = 60
	p := numeric.Program{}
	sum := make([]float64, n)
	for j := range n {
		sum[j] = 1
		p.Cost = append(p.Cost, math.Sin(float64(j))+2)
	}
	p.Rows = append(p.Rows, exactly(1, sum...))
	for i := range 300 {
		a := make([]float64, n)
		if i < n*2 {
			a[i%n] = 1
			p.Rows = append(p.Rows, atMost(0.05+float64(i%7)/100, a...))
			continue
		}
		for j := range a {
			a[j] = math.Cos(float64(i*j)) + 0.5
		}
		p.Rows = append(p.Rows, atMost(1, a...))
	}
	for b.Loop() {
		if _, err := p.Minimise(); err != nil {
			b.Fatal(err)
		}
	}
}
