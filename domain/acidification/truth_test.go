package acidification_test

import (
	"math"
	"math/rand/v2"
)

// truth is a fermentation that is simulated apart from the model: cells multiply,
// make acid as they do and while they live, are held back by it, and the meat
// buffers it (Luedeking and Piret; growth by pH as (pH - least)/(optimum - least)).
type truth struct {
	start    float64 // pH
	multiply float64 // per hour, before acid
	cells    float64 // at first, as a part of the most
	drop     float64 // pH for growth from none to the most
	keep     float64 // pH an hour at the most cells
	least    float64 // pH at which they stop
	sugar    float64 // pH that the sugar is good for
	heldBack bool
}

// course returns the pH at steps of an hour's part, by Euler's method with steps
// of a hundredth of an hour.
func (tr truth) course(hours float64) func(at float64) float64 {
	const step = 0.01
	n := int(hours/step) + 2
	ph := make([]float64, n)
	p, cells := tr.start, tr.cells
	for i := range n {
		ph[i] = p
		active := 1.0
		if tr.heldBack {
			active = math.Max(0, math.Min(1, (p-tr.least)/(6.2-tr.least)))
		}
		grow := tr.multiply * active * cells * (1 - cells)
		fall := tr.drop*grow + tr.keep*cells*active
		if tr.start-p >= tr.sugar {
			fall = 0
		}
		p -= fall * step
		cells += grow * step
	}
	return func(at float64) float64 {
		k := math.Min(math.Max(at/step, 0), float64(n-2))
		i := int(k)
		return ph[i] + (k-float64(i))*(ph[i+1]-ph[i])
	}
}

// crosses returns the first time at which the course is at or below a pH,
// infinity when it is not within hours.
func crosses(ph func(float64) float64, target, hours float64) float64 {
	for at := 0.0; at < hours; at += 0.02 {
		if ph(at) <= target {
			return at
		}
	}
	return math.Inf(1)
}

// draws returns a truth by chance.
func draws(r *rand.Rand) truth {
	return truth{
		start: 5.65 + 0.35*r.Float64(), multiply: 0.35 * math.Exp(0.35*r.NormFloat64()), cells: math.Pow(10, -2-1.5*r.Float64()),
		drop: 0.4 + 0.6*r.Float64(), keep: 0.02 + 0.06*r.Float64(), least: 4.1 + 0.4*r.Float64(),
		sugar: 0.75 + 0.6*r.Float64(), heldBack: r.Float64() < 0.75,
	}
}
