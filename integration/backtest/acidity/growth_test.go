package acidity

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

func near(t *testing.T, what string, want, got, tolerance float64) {
	t.Helper()
	if !(math.Abs(want-got) <= tolerance) {
		t.Errorf("%s: want %v within %v, got %v", what, want, tolerance, got)
	}
}

// An invented culture and an invented warm piece.
var (
	mild = cardinal{0, 32, 38}
	warm = ground{chamber: flat(24), core: 24, delay: 1, species: mild}
)

func example() growth {
	return growth{
		ground: ground{chamber: stepped(24, 20, 15, 24, 24), core: 4, delay: 2, species: mild},
		start:  0.005, readiness: 0.3, rate: 0.5, a: 10, b: 3, sugar: 70, buffer: 40, bend: 0.3, ph: 5.8,
	}
}

// By hand, for 0, 32 and 38 °C:
//
//	24 °C: -14·24² / (32 (32·(-8) - (-6)(-16))) = -8064/-11264
//	and 1 at the best, none from the ends on
func TestGamma(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ celsius, want float64 }{{24, 8064.0 / 11264}, {32, 1}, {0, 0}, {-5, 0}, {38, 0}, {50, 0}} {
		near(t, fmt.Sprintf("at %v °C", c.celsius), c.want, mild.gamma(c.celsius), 1e-12)
	}
	// (5.3-4.3)(5.3-8.5) = -3.2, (5.3-6.2)² = 0.81.
	for _, c := range []struct{ ph, want float64 }{{5.3, 3.2 / 4.01}, {6.2, 1}, {4.3, 0}, {4, 0}, {8.5, 0}} {
		near(t, fmt.Sprintf("at pH %v", c.ph), c.want, acidityGamma(c.ph), 1e-12)
	}
}

// The acid made is what the buffer takes for the drop, all the way: the integral
// of B over the pH. And the sugar is never overdrawn.
func TestAcidBalance(t *testing.T) {
	t.Parallel()
	for _, sugar := range []float64{70, 15} {
		g := example()
		g.sugar = sugar
		s := g.initial()
		const step = 0.05
		for k := range 2400 {
			s = advance(g.slope, float64(k)*step, step, s)
			// The trapezoid of a line is exact: B at both ends.
			atStart, atEnd := g.buffer*(1+g.bend*(5.5-g.ph)), g.buffer*(1+g.bend*(5.5-s[acidPH]))
			near(t, "acid", (g.ph-s[acidPH])*(atStart+atEnd)/2, s[acid], 1e-4)
			near(t, "acid by its formula", g.made(s[acidPH]), s[acid], 1e-4)
			if s[acid] > g.sugar {
				t.Fatalf("%v mmol/kg of acid from %v of sugar", s[acid], g.sugar)
			}
		}
		if s[acid] < 10 {
			t.Errorf("want a lot that sours, got %v mmol/kg", s[acid])
		}
		if sugar == 15 {
			near(t, "acid in the end, all of the sugar", sugar, s[acid], 0.1)
		}
	}
}

// Without acid and at one temperature the growth has a closed form: with
//
//	mA = ln((1 + q0 e^(mt))/(1 + q0)),  n = n0 e^(mA) / (1 + n0 (e^(mA) - 1))
func TestGrowthWithoutAcid(t *testing.T) {
	t.Parallel()
	g := growth{ground: warm, start: 0.002, readiness: 0.2, rate: 0.5, sugar: 70, buffer: 40, ph: 5.8}
	m := g.rate * mild.gamma(24) * acidityGamma(5.8)
	s := g.initial()
	const step = 0.05
	for k := range 1000 {
		s = advance(g.slope, float64(k)*step, step, s)
		grown := (1 + g.readiness*math.Exp(m*float64(k+1)*step)) / (1 + g.readiness)
		near(t, "bacteria", g.start*grown/(1+g.start*(grown-1)), math.Exp(s[lnBacteria]), 1e-8)
		near(t, "pH", 5.8, s[acidPH], 0)
	}
}

// The core warms as T + (T0 - T) e^(-t/delay).
func TestCoreWarms(t *testing.T) {
	t.Parallel()
	g := example()
	g.chamber = flat(24)
	s := g.initial()
	const step = 0.05
	for k := range 200 {
		s = advance(g.slope, float64(k)*step, step, s)
	}
	near(t, "core after 10 h", 24-20*math.Exp(-5), s[core], 1e-7)
}

// Halving the step cuts the error by 2⁴, and at the step that is used nothing is
// left to see in a lot.
func TestStepHalving(t *testing.T) {
	t.Parallel()
	g := example()
	g.chamber = flat(22) // smooth: a bend of the chamber costs an order
	at := func(step float64) float64 { return g.solve(step).at(32) }
	coarse, middle, fine := at(0.8), at(0.4), at(0.2)
	if ratio := (coarse - middle) / (middle - fine); ratio < 12 || ratio > 22 {
		t.Errorf("want the error to fall by about 16, got %v", ratio)
	}
	for _, g := range []growth{g, example()} {
		near(t, "hour reached", g.solve(solveStep/2).reaches(), g.solve(solveStep).reaches(), 5e-4)
	}
}

// The crossings that follow from the formulas of the curves, with A the drop:
//
//	Gompertz: lag + A/(m e) (1 - ln(-ln((pH0 - 5.3)/A)))
//	logistic: lag + A/(4 m) (2 - ln(A/(pH0 - 5.3) - 1))
func TestCurvesCross(t *testing.T) {
	t.Parallel()
	const ph, drop, fastest, lag = 5.8, 1.1, 0.06, 9.0
	want := map[bool]float64{
		false: lag + drop/(fastest*math.E)*(1-math.Log(-math.Log((ph-5.3)/drop))),
		true:  lag + drop/(4*fastest)*(2-math.Log(drop/(ph-5.3)-1)),
	}
	for logistic, hour := range want {
		s := sigmoid{ground: warm, logistic: logistic, ph: ph, drop: drop, fastest: fastest, lag: lag}
		c := s.solve(solveStep)
		near(t, fmt.Sprintf("crossing, logistic %v", logistic), hour, c.reaches(), 1e-3)
		near(t, "the same by half the step", c.reaches(), s.solve(solveStep/2).reaches(), 5e-4)
		steepest := 0.0
		for i := 1; i < len(c.ph); i++ {
			steepest = math.Max(steepest, (c.ph[i-1]-c.ph[i])/c.step)
		}
		near(t, "steepest fall", fastest, steepest, 1e-5)
		// At 32 °C all goes faster by the gammas.
		s.chamber, s.core = flat(32), 32
		near(t, "in the warm", hour*mild.gamma(24), s.solve(solveStep).reaches(), 1e-3)
		s.drop = 0.45
		if got := s.solve(solveStep).reaches(); !math.IsInf(got, 1) {
			t.Errorf("a curve that ends at 5.35: want never, got %v", got)
		}
	}
}

func TestReaches(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		ph   []float64
		want float64
	}{
		{"between", []float64{5.8, 5.5, 5.1}, 1.5}, // half way from 5.5 to 5.1, step 1
		{"on a point", []float64{5.8, 5.3}, 1},
		{"from the start", []float64{5.2, 5.1}, 0},
		{"never", []float64{5.8, 5.4}, math.Inf(1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := curve{step: 1, ph: c.ph}.reaches()
			if got != c.want && !(math.Abs(got-c.want) < 1e-9) {
				t.Errorf("want %v, got %v", c.want, got)
			}
		})
	}
}

func TestChamber(t *testing.T) {
	t.Parallel()
	c := chamber{{2, 20}, {6, 24}}
	for _, at := range []struct{ hour, want float64 }{{0, 20}, {2, 20}, {5, 23}, {6, 24}, {99, 24}} {
		near(t, fmt.Sprintf("at %v h", at.hour), at.want, c.at(at.hour), 1e-12)
	}
	near(t, "read half a degree high", 23.5, c.off(0.5).at(5), 1e-12)
	// A sawtooth of 2 °C and 4 h has its first top after one hour, the next low
	// after three, and its mean is that of a whole number of periods.
	s := sawtooth(22, 2, 4, 100)
	for _, at := range []struct{ hour, want float64 }{{0, 22}, {1, 24}, {2, 22}, {3, 20}, {5, 24}} {
		near(t, fmt.Sprintf("sawtooth at %v h", at.hour), at.want, s.at(at.hour), 1e-12)
	}
	if last := s[len(s)-1]; last.hour < 98 {
		t.Errorf("want a sawtooth to 100 h, got one to %v", last.hour)
	}
}

// Handbooks have 48 to 72 h in the warm room at 21 to 24 °C, 12 to 16 h at 29 to
// 32 °C and 12 to 18 h at 37 to 40 °C (Hutkins, Microbiology and Technology of
// Fermented Foods, 2006, chapter 6, quoted), each until the end of fermentation,
// which is after pH 5.3 in a slow one and well after it in a fast one. The middle
// computed lot that comes down must not be beyond the end of these, nor come in
// less than half of the shortest.
func TestComputedHoursAreThoseOfTexts(t *testing.T) {
	t.Parallel()
	lots := computed(3, 2000)
	for _, c := range []struct{ cold, warm, least, most float64 }{{21, 24, 16, 72}, {29, 32, 6, 20}, {37, 40, 6, 18}} {
		var hours []float64
		for _, lot := range lots {
			w := lot.facts.chamber[0].celsius
			if lot.origin == originGrowth && lot.climate == constantChamber && !lot.truth.Never && w >= c.cold && w <= c.warm {
				hours = append(hours, lot.truth.Point)
			}
		}
		slices.Sort(hours)
		if len(hours) < 10 {
			t.Fatalf("%v to %v °C: want some lots, got %d", c.cold, c.warm, len(hours))
		}
		if middle := hours[len(hours)/2]; middle < c.least || middle > c.most {
			t.Errorf("%v to %v °C: want %v to %v h, got %v", c.cold, c.warm, c.least, c.most, middle)
		}
	}
}
