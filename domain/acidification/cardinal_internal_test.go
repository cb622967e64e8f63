package acidification

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Of L. plantarum, 3.99, 35.5 and 43.7 °C: nothing at the ends, 1 at the best, and
// at 22 °C, by hand, 18.01² × -21.7 / (31.51 (31.51 × -13.5 - -8.2 × -4.51)) =
// -7038.6/-14569.2.
func TestGrowthAtTheCardinalTemperatures(t *testing.T) {
	t.Parallel()
	c := cardinalOf(mustSpecies("lactiplantibacillus-plantarum"))
	for _, row := range []struct{ at, want, within float64 }{
		{-5, 0, 0}, {3.99, 0, 0}, {22, 0.48312, 1e-5}, {35.5, 1, 1e-12}, {43.7, 0, 0}, {60, 0, 0},
	} {
		if got := c.growth(row.at); math.Abs(got-row.want) > row.within {
			t.Errorf("at %v °C want %v, got %v", row.at, row.want, got)
		}
	}
}

// Up to the best temperature warmer is never slower, beyond it never faster.
func TestGrowthHasOnePeak(t *testing.T) {
	t.Parallel()
	for _, s := range rulebook.Cultures() {
		c := cardinalOf(s)
		rapid.Check(t, func(t *rapid.T) {
			a, b := rapid.Float64Range(-10, 60).Draw(t, "a"), rapid.Float64Range(-10, 60).Draw(t, "b")
			a, b = math.Min(a, b), math.Max(a, b)
			ga, gb := c.growth(a), c.growth(b)
			if b <= c.best && ga > gb+1e-12 || a >= c.best && gb > ga+1e-12 {
				t.Fatalf("%s: %v at %v °C and %v at %v °C", s.Key, ga, a, gb, b)
			}
		})
	}
}

// The root is that of x J1(x) = J0(x), and nine tenths of a step are in the core
// after ln 10 time constants: 2 to 3 h at 55 mm and 5 to 8 h at 90 to 100 mm, as
// practice has it.
func TestCoreLag(t *testing.T) {
	t.Parallel()
	x := math.Sqrt(root)
	if off := x*math.J1(x) - math.J0(x); math.Abs(off) > 1e-4 {
		t.Errorf("%v is no root of the equation: %v is left", x, off)
	}
	for mm, within := range map[float64][2]float64{55: {2, 3}, 90: {5, 8}, 100: {5, 8}} {
		if got := coreLag(quantity.MustMillimetres(mm)) * math.Ln10; got < within[0] || got > within[1] {
			t.Errorf("%v mm is warm after %.2f h, want %v", mm, got, within)
		}
	}
}

// A chamber that climbs from 10 to 30 °C in 8 h, then is held at 24 °C: thermal
// time and core by Euler's method with steps of 0.2 s.
func TestThermalTimeByQuadrature(t *testing.T) {
	t.Parallel()
	c := cardinalOf(mustSpecies("latilactobacillus-sakei"))
	stretches := []fermentation.Stretch{{To: 8 * time.Hour, Start: quantity.MustCelsius(10), End: quantity.MustCelsius(30)}}
	const lag, end = 1.7, 20.0
	k := run(stretches, quantity.MustCelsius(24), end, lag, c.growth)
	const step = 0.2 / 3600
	core, thermal := stuffedCelsius, 0.0
	next := 1
	for i := 0; float64(i)*step <= end+step; i++ {
		at := float64(i) * step
		if at >= float64(next) {
			gotThermal, _, gotCore := k.at(at)
			if math.Abs(gotThermal-thermal) > 1e-3 || math.Abs(gotCore-core) > 1e-2 {
				t.Fatalf("at %.3f h want %.5f h at %.3f °C, got %.5f h at %.3f °C", at, thermal, core, gotThermal, gotCore)
			}
			next++
		}
		chamber := 24.0
		if at < 8 {
			chamber = 10 + 20*at/8
		}
		thermal += step * c.growth(core)
		core += step * (chamber - core) / lag
	}
}

// Outside what the culture grows at, nothing happens; and without a lag an hour at
// the best temperature is an hour.
func TestThermalTimeStandsStill(t *testing.T) {
	t.Parallel()
	c := cardinalOf(mustSpecies("pediococcus-acidilactici"))
	k := run(nil, quantity.MustCelsius(c.least-1), 50, 0, c.growth)
	if got, _, _ := k.at(50); got != 0 {
		t.Errorf("want no thermal time in the cold, got %v h", got)
	}
	k = run(nil, quantity.MustCelsius(c.best), 50, 0, c.growth)
	if got, _, _ := k.at(33.3); math.Abs(got-33.3) > 1e-9 {
		t.Errorf("want 33.3 h, got %v h", got)
	}
}
