package drying

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// While is a time in one air.
type While struct {
	Temperature quantity.Temperature
	Humidity    quantity.RelativeHumidity
	AirSpeed    material.Known[quantity.Speed]
	Span        time.Duration
}

// Hanging is a piece of which nothing is weighed yet, and the airs that it is to
// hang in, one after the other.
type Hanging struct {
	Diameter    material.Known[quantity.Length]
	Composition Composition
	Whiles      []While
}

// The unknowns of a piece that was never weighed are taken at so many places of
// their spread, in standard deviations, each with the weight of the normal
// distribution there.
const (
	rateNodes, biotNodes, stopsNodes = 9, 7, 5
	nodesReach                       = 2.5
	// bisections find a Fourier number to the last bits that matter.
	bisections = 48
)

// Expect returns what a piece is expected to lose by times counted from the
// beginning of the first while; a time after the last one is taken as its end.
// It is the projection before any weigh-in, through airs that change.
//
// With each set of the unknowns the piece follows the cylinder of the first air.
// When the air changes it goes on along the cylinder of the new one, from the time
// at which that one would have lost as much:
//
//	L = Linf E(Fo),  Fo(t + s) = Fo(t) + s D/R²
//
// which is exact where nothing changes, so that cutting a while in two changes
// nothing, and an approximation where the air does: the moisture inside is then
// not spread as that cylinder would have it. Air so damp that it would take no
// more leaves the loss as it is.
//
// It needs an Order that Project would take: of the diameter, the temperatures
// and the composition it reports the same faults. The cost is some thousand
// courses of at most 50 evaluations a while.
func Expect(h Hanging, at ...time.Duration) ([]Band[quantity.Loss], error) {
	priors := make([]prior, 0, len(h.Whiles))
	for _, w := range h.Whiles {
		o := Order{
			Diameter: h.Diameter, Temperature: material.Is(w.Temperature), Humidity: material.Is(w.Humidity), AirSpeed: w.AirSpeed, Composition: h.Composition,
		}
		p, _, err := o.before()
		if err != nil {
			return nil, fmt.Errorf("what is known before weighing: %w", err)
		}
		bound, told, err := o.fastest()
		if err != nil {
			return nil, err
		}
		if told {
			p.fastest = bound.PercentPerDay()
		}
		priors = append(priors, p)
	}
	days := make([]float64, len(at))
	for i, t := range at {
		days[i] = inDays(t)
	}
	courses := h.courses(priors, days)
	bands := make([]Band[quantity.Loss], 0, len(at))
	var w writer
	for i := range at {
		var m mixture
		mean := 0.0
		for _, c := range courses {
			m.add(c.losses[i], c.weight)
			mean += c.weight * c.losses[i]
		}
		sd := modelError.sd * modelError.part(mean)
		if days[i] <= 0 {
			sd = 0
		}
		quantiles := m.quantiles(sd)
		for k := range quantiles {
			quantiles[k] = math.Max(quantiles[k], 0)
		}
		bands = append(bands, w.losses(quantiles))
	}
	return bands, w.err
}

// coursed is what is lost by each time with one set of the unknowns.
type coursed struct {
	losses []float64
	weight float64
}

// courses returns the course of every set of the unknowns, with weights that sum
// to one. What the air could not take is left out, unless nothing is left then.
func (h Hanging) courses(priors []prior, days []float64) []coursed {
	for _, bounded := range []bool{true, false} {
		var all []coursed
		total := 0.0
		for _, r := range spread(-nodesReach, nodesReach, rateNodes) {
			for _, b := range spread(-nodesReach, nodesReach, biotNodes) {
				for _, s := range spread(-nodesReach, nodesReach, stopsNodes) {
					if bounded && tooFast(priors, r, b, s) {
						continue
					}
					weight := math.Exp(-(r*r + b*b + s*s) / 2)
					for _, on := range onsets {
						c := coursed{h.course(priors, on, r, b, s, days), weight * math.Exp(on.logPrior)}
						all, total = append(all, c), total+c.weight
					}
				}
			}
		}
		for i := range all {
			all[i].weight /= total
		}
		if len(all) > 0 {
			return all
		}
	}
	return nil
}

// member returns the unknowns of an air, so many standard deviations off.
func (p prior) member(r, b, s float64) (logRate, logBiot, stops float64) {
	stops = math.Min(math.Max(p.stops+s*p.stopsSD, 0), p.mostStops)
	return p.logRate + r*p.logRateSD, p.logBiot + b*p.logBiotSD, stops
}

// tooFast reports whether a wet surface would give an air more than it can take.
func tooFast(priors []prior, r, b, s float64) bool {
	for _, p := range priors {
		rate, biot, stops := p.member(r, b, s)
		if p.fastest > 0 && 2*math.Exp(biot+rate)*stops > p.fastest {
			return true
		}
	}
	return false
}

// course returns the loss by each of the days, which need not be in order.
func (h Hanging) course(priors []prior, on onset, r, b, s float64, days []float64) []float64 {
	losses := make([]float64, len(days))
	lost, begun := 0.0, 0.0
	for i, p := range priors {
		rate, biot, stops := p.member(r, b, s)
		gone := between(biot)
		before := gone.reached(on, lost, stops)
		span := inDays(h.Whiles[i].Span)
		after := func(days float64) float64 {
			if days <= 0 || lost >= stops {
				return lost
			}
			return math.Max(lost, stops*gone.at(on.at(math.Log(before+days*math.Exp(rate)))))
		}
		for k, day := range days {
			if day > begun && (day <= begun+span || i == len(priors)-1) {
				losses[k] = after(math.Min(day-begun, span))
			}
		}
		lost = after(span)
		begun += span
	}
	return losses
}

// twoCurves is the curve of a Biot number between two of the table.
type twoCurves struct {
	low, high curve
	part      float64
}

// between returns the curve of a Biot number; beyond the table that at its end.
func between(logBiot float64) twoCurves {
	all := curvesByBiot()
	step := all[1].logBiot - all[0].logBiot
	x := math.Min(math.Max((logBiot-all[0].logBiot)/step, 0), curveCount-1)
	i := min(int(x), curveCount-2)
	return twoCurves{all[i], all[i+1], x - float64(i)}
}

func (c twoCurves) at(logFourier float64) float64 {
	return c.low.at(logFourier)*(1-c.part) + c.high.at(logFourier)*c.part
}

// reached returns the Fourier number, before the onset, at which a loss is
// reached; the end of the curves where it is not.
func (c twoCurves) reached(on onset, lost, stops float64) float64 {
	if lost <= 0 {
		return 0
	}
	if lost >= stops {
		return curveMostFourier
	}
	low, high := math.Log(curveLeastFourier)-40, math.Log(curveMostFourier)
	for range bisections {
		mid := (low + high) / 2
		if stops*c.at(on.at(mid)) < lost {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Exp((low + high) / 2)
}
