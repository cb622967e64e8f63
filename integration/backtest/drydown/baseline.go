package drydown

import (
	"errors"
	"math"

	"greenweight/domain/numeric"
	"greenweight/integration/backtest/scoring"
)

// baseline is a simple method: fitted by least squares to the weigh-ins seen,
// starting from no loss at day 0, it tells the day on which the target is
// reached.
type baseline struct {
	name      string
	needsStop bool // it has to be told where the drying stops
	// day returns the day, +Inf for never. seen is not empty and after day 0,
	// its last loss below the target, the target below stops.
	day func(seen []point, target, stops float64) (float64, error)
}

// straightLine is the baseline that the others' scores are divided by.
const straightLine = "straight line"

// baselines are the methods, in the order of the tables.
func baselines() []baseline {
	return []baseline{
		{straightLine, false, lineDay},
		{"root of time", false, rootDay},
		{"exponential", true, exponentialDay},
		{"Page", true, pageDay},
		{"Palumbo", true, palumboDay},
	}
}

// lineDay goes on along the line through the last two weigh-ins, of which the
// first may be the green weight.
func lineDay(seen []point, target, _ float64) (float64, error) {
	before, last := point{}, seen[len(seen)-1]
	if len(seen) > 1 {
		before = seen[len(seen)-2]
	}
	rate := (last.loss - before.loss) / (last.day - before.day)
	if !(rate > 0) {
		return math.Inf(1), nil
	}
	return last.day + (target-last.loss)/rate, nil
}

// rootDay fits
//
//	L = a √t
//
// the start of diffusion from a surface that is dry at once (Crank, The
// Mathematics of Diffusion, 2nd edition, 1975, chapter 5; recalled). The least
// squares give a = Σ L √t / Σ t.
func rootDay(seen []point, target, _ float64) (float64, error) {
	products, days := 0.0, 0.0
	for _, p := range seen {
		products += p.loss * math.Sqrt(p.day)
		days += p.day
	}
	a := products / days
	if !(a > 0) {
		return math.Inf(1), nil
	}
	return target / a * (target / a), nil
}

// exponentialDay fits k of
//
//		L = A (1 - exp(-k t))
//
//	  - A: loss at which the drying stops, told
//
// Source: the thin-layer form of Lewis and Newton, common practice.
func exponentialDay(seen []point, target, stops float64) (float64, error) {
	loss := func(kt float64) float64 { return -stops * math.Expm1(-kt) }
	time := func(l float64) float64 { return -math.Log1p(-l / stops) }
	return rateDay(seen, target, loss, time)
}

// palumboDay fits k of
//
//		dx/dt = -k ((x - c) / x)²
//
//	  - x: weight in percent of the green weight, 100 at day 0
//	  - c: weight at which the drying stops, 100 - A
//
// Separated and integrated it is, with u = x - c the weight still to lose,
//
//	k t = G(A) - G(A - L),  G(u) = u + 2 c ln u - c²/u
//
// Source: Palumbo, Komanowsky, Metzger and Smith, Kinetics of pepperoni drying,
// Journal of Food Science 42(4), 1977, 1029-1033, abstract.
func palumboDay(seen []point, target, stops float64) (float64, error) {
	c := 100 - stops
	if !(c > 0) {
		return 0, errors.New("nothing would be left where the drying stops")
	}
	g := func(u float64) float64 { return u + 2*c*math.Log(u) - c*c/u }
	time := func(l float64) float64 { return g(stops) - g(stops-l) }
	loss := func(kt float64) float64 {
		const nearEnd, tolerance = 1e-9, 1e-10
		most := stops * (1 - nearEnd)
		if kt >= time(most) {
			return stops
		}
		l, err := numeric.Root(func(l float64) float64 { return time(l) - kt }, 0, most, tolerance)
		if err != nil {
			return math.NaN() // kt > 0, so that the signs differ
		}
		return l
	}
	return rateDay(seen, target, loss, time)
}

// rateDay fits the rate k of a model that knows the loss at k t, and its
// inverse, and returns the day at which the target is reached. The search starts
// from the rate of the last weigh-in.
func rateDay(seen []point, target float64, loss, time func(float64) float64) (float64, error) {
	last := seen[len(seen)-1]
	if !(last.loss > 0) {
		return math.Inf(1), nil
	}
	best, err := scoring.Least([]float64{math.Log(time(last.loss) / last.day)}, func(x []float64) float64 {
		k, squares := math.Exp(x[0]), 0.0
		for _, p := range seen {
			off := p.loss - loss(k*p.day)
			squares += off * off
		}
		return squares
	})
	if err != nil {
		return 0, err
	}
	return time(target) / math.Exp(best[0]), nil
}

// What is known of the exponent of Page before any weigh-in, and the standard
// deviation of a weigh-in from the curve, in points of loss, that it is weighed
// against. Common practice; fits to three courses of chorizo over 30 days gave
// exponents of 0.78, 0.83 and 0.89 (derived from total solids that were read).
const (
	pageExponent   = 0.75
	pageExponentSD = 0.12
	pageNoise      = 1
)

// pageDay fits k and n of
//
//	L = A (1 - exp(-k tⁿ))
//
// where n is known beforehand as well as pageExponent says: with one weigh-in it
// is that. Source: thin-layer form of Page, common practice.
func pageDay(seen []point, target, stops float64) (float64, error) {
	last := seen[len(seen)-1]
	if !(last.loss > 0) {
		return math.Inf(1), nil
	}
	gone := func(l float64) float64 { return -math.Log1p(-l / stops) } // k tⁿ
	start := []float64{math.Log(gone(last.loss)) - pageExponent*math.Log(last.day), pageExponent}
	best, err := scoring.Least(start, func(x []float64) float64 {
		off := (x[1] - pageExponent) / pageExponentSD
		sum := off * off
		for _, p := range seen {
			off := (p.loss + stops*math.Expm1(-math.Exp(x[0]+x[1]*math.Log(p.day)))) / pageNoise
			sum += off * off
		}
		return sum
	})
	if err != nil {
		return 0, err
	}
	if !(best[1] > 0) {
		return math.Inf(1), nil
	}
	return math.Exp((math.Log(gone(target)) - best[0]) / best[1]), nil
}
