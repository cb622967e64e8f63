package drydown

import (
	"math"
	"testing"
)

// along returns points of a curve.
func along(loss func(day float64) float64, days ...float64) []point {
	points := make([]point, 0, len(days))
	for _, d := range days {
		points = append(points, point{d, loss(d)})
	}
	return points
}

// palumboCourse integrates dx/dt = -k ((x-c)/x)² from x = 100 by the method of
// Runge and Kutta of fourth order, a thousand steps a day, and returns the
// loss at each of the days: nothing of the code under test.
func palumboCourse(k, c float64, days int) []float64 {
	rate := func(x float64) float64 { return -k * (x - c) / x * (x - c) / x }
	const steps = 1000
	const h = 1.0 / steps
	x := 100.0
	losses := []float64{0}
	for range days {
		for range steps {
			a := rate(x)
			b := rate(x + h/2*a)
			d := rate(x + h/2*b)
			e := rate(x + h*d)
			x += h / 6 * (a + 2*b + 2*d + e)
		}
		losses = append(losses, 100-x)
	}
	return losses
}

// Every method tells the day exactly when the course is its own.
func TestBaselinesOnTheirOwnCurves(t *testing.T) {
	t.Parallel()
	palumbo := palumboCourse(6, 60, 40)
	for _, c := range []struct {
		name          string
		day           func([]point, float64, float64) (float64, error)
		seen          []point
		target, stops float64
		want          float64
	}{
		// 2 points a day between day 2 and 4, 10 points to go.
		{"line", lineDay, []point{{1, 1}, {2, 6}, {4, 10}}, 20, 40, 9},
		{"line from the green weight", lineDay, []point{{5, 10}}, 20, 40, 10},
		{"line that does not rise", lineDay, []point{{2, 6}, {4, 6}}, 20, 40, math.Inf(1)},
		// L = 4 √t is 20 at day 25.
		{"root", rootDay, along(func(d float64) float64 { return 4 * math.Sqrt(d) }, 1, 4, 9), 20, 40, 25},
		// a = (5·1 + 8·2)/(1 + 4) = 4.2, and (21/4.2)² = 25.
		{"root between two points", rootDay, []point{{1, 5}, {4, 8}}, 21, 40, 25},
		{"root of a gain", rootDay, []point{{1, -1}}, 21, 40, math.Inf(1)},
		// 40 (1 - exp(-0.1 t)) is 30 at ln(4)/0.1.
		{"exponential", exponentialDay, along(func(d float64) float64 { return 40 * (1 - math.Exp(-0.1*d)) }, 1, 3, 6), 30, 40, 13.862944},
		{"exponential of a gain", exponentialDay, []point{{1, -1}}, 21, 40, math.Inf(1)},
		// 40 (1 - exp(-0.2 t^0.75)) is 30 at (ln(4)/0.2)^(4/3) = exp(4/3 ln 6.931472).
		{"Page", pageDay, along(func(d float64) float64 { return 40 * (1 - math.Exp(-0.2*math.Pow(d, 0.75))) }, 1, 3, 6), 30, 40, 13.216018},
		// One weigh-in, 20 of 40 at day 4: k 4^0.75 = ln 2, and ln 4 is twice that, at 4·2^(4/3).
		{"Page from one weigh-in", pageDay, []point{{4, 20}}, 30, 40, 10.079368},
		{"Page of a gain", pageDay, []point{{1, -1}}, 21, 40, math.Inf(1)},
		{"Palumbo", palumboDay, []point{{2, palumbo[2]}, {5, palumbo[5]}, {9, palumbo[9]}}, palumbo[30], 40, 30},
		{"Palumbo from one weigh-in", palumboDay, []point{{5, palumbo[5]}}, palumbo[40], 40, 40},
		{"Palumbo of a gain", palumboDay, []point{{1, -1}}, 21, 40, math.Inf(1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := c.day(c.seen, c.target, c.stops)
			if err != nil {
				t.Fatal(err)
			}
			if math.IsInf(c.want, 1) {
				if !math.IsInf(got, 1) {
					t.Errorf("want never, got %v", got)
				}
				return
			}
			near(t, "day", c.want, got, 1e-5*c.want)
		})
	}
	if _, err := palumboDay([]point{{1, 10}}, 90, 100); err == nil {
		t.Error("Palumbo where nothing is left: want an error")
	}
}

// On points that are on no curve of the model, no other rate has smaller
// squares: the day is that of the rate that a fine scan finds.
func TestBaselinesAreLeastSquares(t *testing.T) {
	t.Parallel()
	seen := []point{{1, 6}, {3, 10}, {6, 21}}
	const stops, target = 40.0, 30.0
	best, rate := math.Inf(1), 0.0
	for k := 0.05; k < 0.3; k += 1e-6 {
		squares := 0.0
		for _, p := range seen {
			off := p.loss - stops*(1-math.Exp(-k*p.day))
			squares += off * off
		}
		if squares < best {
			best, rate = squares, k
		}
	}
	got, err := exponentialDay(seen, target, stops)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "day", math.Log(stops/(stops-target))/rate, got, 1e-3)
}

// The exponent of Page leaves what is known beforehand as the weigh-ins ask for:
// on points of n = 0.9 it lies between, and so does the day.
func TestPageLeansOnItsPrior(t *testing.T) {
	t.Parallel()
	seen := along(func(d float64) float64 { return 40 * (1 - math.Exp(-0.1*math.Pow(d, 0.9))) }, 2, 5, 9)
	own := math.Pow(math.Log(4)/0.1, 1/0.9) // day at which that curve is at 30
	got, err := pageDay(seen, 30, 40)
	if err != nil {
		t.Fatal(err)
	}
	// With n held at 0.75 the curve through the last point is at 30 later.
	held := 9 * math.Pow(math.Log(4)/(0.1*math.Pow(9, 0.9)), 1/0.75)
	if !(got > own && got < held) {
		t.Errorf("want a day between %v and %v, got %v", own, held, got)
	}
}
