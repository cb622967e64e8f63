package moisture

import (
	"math"
	"sort"

	"greenweight/domain/quantity"
	"greenweight/domain/wateractivity"
)

// table is an isotherm read from wateractivity.Mix once, so that a step costs no
// logarithms: a cubic between the points whose slopes keep it from turning.
//
// Source: Fritsch and Butland, A method for constructing local monotone piecewise
// cubic interpolants, SIAM J. Sci. Stat. Comput. 5(2), 1984, 300-304 (recalled).
type table struct{ x, aw, slope []float64 }

// What the isotherm takes where the model of wateractivity ends.
const (
	crystallises = 0.75 // wateractivity.Mix.At
	// driest is the water activity at which only what protein holds is left, as
	// package drying takes it: this project's own.
	driest = 0.5
	// tableRange is the moisture, over the green one, to which the table reaches;
	// wetter than that the last slope is kept.
	tableRange  = 1.5
	tablePoints = 160
)

// newTable returns the isotherm of a mix by its moisture, kg of water per kg of
// dry solids. From aw 0.75, where salt crystallises, it goes in a straight line to
// what protein holds at aw 0.5, and from there to nothing in another.
func newTable(mix wateractivity.Mix) (*table, error) {
	if err := mix.Validate(); err != nil {
		return nil, err
	}
	solids := mix.Water.Complement().Float()
	dry, err := mix.LossAt(quantity.MustWaterActivity(crystallises))
	if err != nil {
		return nil, err
	}
	first := mix.Water.Float() - dry.Float()
	held, err := wateractivity.Held(quantity.MustWaterActivity(driest))
	if err != nil {
		return nil, err
	}
	bare := min(held.Float()*mix.Protein.Float(), first/2)
	if bare == 0 {
		bare = first / 2
	}
	t := &table{x: []float64{0, bare / solids}, aw: []float64{0, driest}}
	// The cap of what protein swells to is a corner of the isotherm: a point lies
	// on it.
	whole, err := wateractivity.Held(quantity.MustWaterActivity(1))
	if err != nil {
		return nil, err
	}
	corner := whole.Float() * mix.Protein.Float()
	last := mix.Water.Float() * tableRange
	if last > mix.Water.Float()+1 {
		last = mix.Water.Float() + 1
	}
	points := make([]float64, 0, tablePoints+1)
	for i := range tablePoints {
		// Denser where it bends: at the dry end.
		u := float64(i) / (tablePoints - 1)
		points = append(points, first+(last-first)*u*u)
	}
	if corner > first && corner < last {
		points = append(points, corner)
		sort.Float64s(points)
	}
	for _, left := range points {
		loss, err := quantity.LossPercent(100 * (mix.Water.Float() - left))
		if err != nil {
			return nil, err
		}
		aw := crystallises
		if left > first {
			at, err := mix.At(loss)
			if err != nil {
				return nil, err
			}
			aw = at.Float()
		}
		x := left / solids
		if n := len(t.x); x > t.x[n-1]*(1+1e-9) && aw > t.aw[n-1] {
			t.x, t.aw = append(t.x, x), append(t.aw, aw)
		}
	}
	t.slope = slopes(t.x, t.aw)
	return t, nil
}

// slopes returns those of a monotone cubic through the points: the weighted
// harmonic mean of the chords to either side.
func slopes(x, y []float64) []float64 {
	n := len(x)
	d := make([]float64, n)
	chord := func(i int) float64 { return (y[i+1] - y[i]) / (x[i+1] - x[i]) }
	d[0], d[n-1] = chord(0), chord(n-2)
	for i := 1; i < n-1; i++ {
		before, after := x[i]-x[i-1], x[i+1]-x[i]
		a, b := chord(i-1), chord(i)
		if a*b <= 0 {
			continue
		}
		w1, w2 := 2*after+before, after+2*before
		d[i] = (w1 + w2) / (w1/a + w2/b)
	}
	return d
}

func (t *table) at(x float64) (aw, slope float64) {
	n := len(t.x)
	switch {
	case x <= t.x[0]:
		return t.aw[0] + (x-t.x[0])*t.slope[0], t.slope[0]
	case x >= t.x[n-1]:
		return t.aw[n-1] + (x-t.x[n-1])*t.slope[n-1], t.slope[n-1]
	}
	low, high := 0, n-1
	for high-low > 1 {
		if middle := (low + high) / 2; t.x[middle] <= x {
			low = middle
		} else {
			high = middle
		}
	}
	h := t.x[high] - t.x[low]
	u := (x - t.x[low]) / h
	chord := (t.aw[high] - t.aw[low]) / h
	a, b := t.slope[low], t.slope[high]
	c2, c3 := 3*chord-2*a-b, a+b-2*chord
	return t.aw[low] + h*u*(a+u*(c2+u*c3)), math.Max(a+u*(2*c2+3*u*c3), 0)
}
