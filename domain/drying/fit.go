package drying

import (
	"math"
	"slices"
)

// The numbers of this file are days and points: a point is one percent of the
// green weight.

// onset is how a piece begins to dry. In air that is dry from the start it is a
// cylinder. In air that begins damp and is lowered over the first week, as most
// makers have it, or with a casing that first has to dry, it begins slower than
// any cylinder and then catches up: the Fourier number grows with a power of
// time,
//
//	Fo = half * (D t / (R² half))^power
//
// so that around the middle of drying it is as far as it would be. It is found
// from the weigh-ins as the other unknowns are.
type onset struct{ power, logPrior float64 }

// onsets are the ones that are weighed, with their weight before any weigh-in.
// They are this project's own, chosen on the few series that its accuracy is
// measured on, which flatters it there.
var onsets = [...]onset{{1, math.Log(0.6)}, {1.4, math.Log(0.25)}, {2, math.Log(0.15)}}

// logHalf is the logarithm of a Fourier number in the middle of drying: half of
// the removable water is gone at 0.143 for a Biot number of 5 (Crank, as in
// Cylinder).
var logHalf = math.Log(0.15)

// at returns the logarithm of the Fourier number that stands for D t / R².
func (on onset) at(logFourier float64) float64 { return logHalf + on.power*(logFourier-logHalf) }

// prior is what is known before any weigh-in. The unknowns are taken as
// independent; log means the natural logarithm.
type prior struct {
	logRate, logRateSD float64 // of D/R², per day
	logBiot, logBiotSD float64
	stops, stopsSD     float64 // loss at which the drying stops
	mostStops          float64 // all the water there is
	start              float64 // loss at hanging
	fastest            float64 // what the air can take at most, a day; 0 when it cannot be told
}

// observation is a weigh-in that counts.
type observation struct{ day, loss float64 }

// The model's own error. A sausage does not follow the cylinder: its surface
// changes, the room drifts, the fat is not even. misfit is the standard
// deviation of its departure from the best curve, which lasts: departures at
// times t and u are correlated by
//
//	(t/u)^(1/memory), t < u
//
// so that with a memory of 1 half of a departure is left when the age of the
// piece has doubled, at any age. It is sd from a loss of wholeAt on and in proportion to
// the loss before. weighing is what one weigh-in is off on its own.
type misfit struct{ sd, memory, weighing float64 }

const wholeAt, leastPart = 10, 0.02

// part returns what part of sd holds at a loss.
func (n misfit) part(loss float64) float64 { return math.Min(math.Max(loss/wholeAt, leastPart), 1) }

// cell is one set of the unknowns with its weight.
type cell struct {
	curve   int
	onset   int
	logRate float64
	stops   float64
	offset  float64 // departure at the last observation in standard deviations, as far as it is known
	weight  float64
}

// posterior is what is known after the observations.
type posterior struct {
	prior     prior
	noise     misfit
	cells     []cell
	stopsStep float64 // between neighbouring cells
	last      float64 // day of the last observation, 0 when there is none
	variance  float64 // of the departure at last, in squares of its standard deviation
}

// Cells of the two passes: the first over the whole prior, the second over what
// the first left.
const (
	firstRates, firstStops   = 44, 7
	secondRates, secondStops = 32, 11
	// reach is how many standard deviations of the prior the first pass spans on
	// either side.
	reach = 3.2
	// small is the weight, relative to the largest, at which a cell is left out.
	small = 1e-4
	// mostCells is how many cells the answer is told from.
	mostCells = 2000
)

// fit weighs the cells by the observations, which must be in order of time and
// after hanging.
func fit(p prior, n misfit, seen []observation) posterior {
	post := posterior{prior: p, noise: n}
	rates := spread(p.logRate-reach*p.logRateSD, p.logRate+reach*p.logRateSD, firstRates)
	least := math.Max(p.stops-reach*p.stopsSD, p.start+0.5)
	most := math.Min(p.stops+reach*p.stopsSD, p.mostStops)
	for _, o := range seen {
		least = math.Max(least, o.loss-n.weighing) // it did not stop before what is lost
	}
	// Where more is lost than was thought possible, the prior was wrong.
	most = math.Max(most, least+2*p.stopsSD)
	stops := spread(least, math.Max(most, least+0.5), firstStops)
	curves := make([]int, curveCount)
	for i := range curves {
		curves[i] = i
	}
	post.weigh(curves, rates, stops, seen)
	if len(seen) > 0 {
		curves, rates, stops = post.narrowed(rates, stops)
		post.weigh(curves, rates, stops, seen)
	}
	post.thinned()
	return post
}

func spread(low, high float64, n int) []float64 {
	at := make([]float64, n)
	for i := range at {
		at[i] = low + (high-low)*float64(i)/float64(n-1)
	}
	return at
}

// narrowed returns the ranges of the cells that have weight, one step wider.
func (post *posterior) narrowed(rates, stops []float64) (curves []int, newRates, newStops []float64) {
	rateStep, stopsStep := rates[1]-rates[0], stops[1]-stops[0]
	first := post.cells[0]
	lowRate, highRate, lowStops, highStops := first.logRate, first.logRate, first.stops, first.stops
	lowCurve, highCurve := first.curve, first.curve
	for _, c := range post.cells {
		lowRate, highRate = math.Min(lowRate, c.logRate), math.Max(highRate, c.logRate)
		lowStops, highStops = math.Min(lowStops, c.stops), math.Max(highStops, c.stops)
		lowCurve, highCurve = min(lowCurve, c.curve), max(highCurve, c.curve)
	}
	for i := max(lowCurve-1, 0); i <= min(highCurve+1, curveCount-1); i++ {
		curves = append(curves, i)
	}
	newRates = spread(math.Max(lowRate-rateStep, rates[0]), math.Min(highRate+rateStep, rates[len(rates)-1]), secondRates)
	newStops = spread(math.Max(lowStops-stopsStep, stops[0]), math.Min(highStops+stopsStep, stops[len(stops)-1]), secondStops)
	return curves, newRates, newStops
}

// filter holds what a departure with memory and weighing errors make of
// residuals: numbers that depend on the observations and not on the unknowns, so
// that they are worked out once for all cells. It is a Kalman filter whose one
// state is the departure, in standard deviations.
type filter struct {
	carry, part, gain, inverse []float64
	final                      float64 // variance of the state after the last
}

func newFilter(n misfit, start float64, seen []observation) filter {
	f := filter{}
	variance := 1.0
	for i, o := range seen {
		carry := 0.0
		if i > 0 {
			carry = n.correlation(seen[i-1].day, o.day)
			variance = carry*carry*variance + 1 - carry*carry
		}
		part := n.sd * n.part(o.loss-start)
		total := part*part*variance + square(n.weighing)
		gain := variance * part / total
		f.carry = append(f.carry, carry)
		f.part = append(f.part, part)
		f.gain = append(f.gain, gain)
		f.inverse = append(f.inverse, 1/total)
		variance *= 1 - gain*part
	}
	f.final = variance
	return f
}

// correlation returns that of the departures at two days, in any order; none
// where one of them is hanging.
func (n misfit) correlation(a, b float64) float64 {
	if a <= 0 || b <= 0 {
		return 0
	}
	return math.Pow(math.Min(a, b)/math.Max(a, b), 1/n.memory)
}

// weigh fills the cells with their posterior weights, which sum to one.
func (post *posterior) weigh(curves []int, rates, stops []float64, seen []observation) {
	p := post.prior
	post.stopsStep = stops[1] - stops[0]
	f := newFilter(post.noise, p.start, seen)
	logDays := make([]float64, len(seen))
	for i, o := range seen {
		logDays[i] = math.Log(o.day)
	}
	all := curvesByBiot()
	gone := make([]float64, len(seen))
	cells := make([]cell, 0, len(curves)*len(rates)*len(stops))
	best := math.Inf(-1)
	for _, k := range curves {
		for o, on := range onsets {
			biotScore := square((all[k].logBiot - p.logBiot) / p.logBiotSD)
			for _, rate := range rates {
				rateScore := square((rate - p.logRate) / p.logRateSD)
				for i, l := range logDays {
					gone[i] = all[k].at(on.at(rate + l))
				}
				for _, s := range stops {
					if p.fastest > 0 && 2*math.Exp(all[k].logBiot+rate)*(s-p.start) > p.fastest {
						continue // the air can't take water as fast as a wet surface would give it
					}
					score := biotScore + rateScore + square((s-p.stops)/p.stopsSD)
					departure := 0.0
					for i, o := range seen {
						departure *= f.carry[i]
						surprise := o.loss - (p.start + (s-p.start)*gone[i]) - f.part[i]*departure
						score += surprise * surprise * f.inverse[i]
						departure += f.gain[i] * surprise
					}
					score /= -2
					score += on.logPrior
					best = math.Max(best, score)
					cells = append(cells, cell{curve: k, onset: o, logRate: rate, stops: s, offset: departure, weight: score})
				}
			}
		}
	}
	if len(cells) == 0 { // all of them too fast for the air, and so the air is not what was said
		post.prior.fastest = 0
		post.weigh(curves, rates, stops, seen)
		return
	}
	total := 0.0
	kept := cells[:0]
	for _, c := range cells {
		if c.weight = math.Exp(c.weight - best); c.weight < small {
			continue
		}
		total += c.weight
		kept = append(kept, c)
	}
	for i := range kept {
		kept[i].weight /= total
	}
	post.cells = slices.Clip(kept)
	post.variance = f.final
	if len(seen) > 0 {
		post.last = seen[len(seen)-1].day
	}
}

func square(x float64) float64 { return x * x }

// thinned leaves about mostCells cells, each of the same weight: every so much
// of the weight, in the order of the cells, one of them stands for its
// neighbours. It returns them in that order.
func (post *posterior) thinned() {
	if len(post.cells) <= mostCells {
		return
	}
	const each = 1.0 / mostCells
	kept := make([]cell, 0, mostCells)
	sum, next := 0.0, each/2
	for _, c := range post.cells {
		sum += c.weight
		times := 0.0
		for ; next < sum && next < 1; next += each {
			times++
		}
		if times > 0 {
			c.weight = times * each
			kept = append(kept, c)
		}
	}
	post.cells = kept
}

// outlook is the loss at one day, of every cell.
type outlook struct {
	losses []float64 // in the order of the cells
	mean   float64
	sd     float64 // that remains around each
}

// at fills the outlook of a day.
func (post *posterior) at(day float64, out *outlook) {
	p, n := post.prior, post.noise
	all := curvesByBiot()
	logDay := math.Log(day)
	out.losses, out.mean = out.losses[:0], 0
	for _, c := range post.cells {
		loss := p.start + (c.stops-p.start)*all[c.curve].at(onsets[c.onset].at(c.logRate+logDay))
		out.losses = append(out.losses, loss)
		out.mean += c.weight * loss
	}
	carry := n.correlation(post.last, day)
	whole := n.sd * n.part(out.mean-p.start)
	if day <= 0 {
		whole = 0 // at hanging the loss is what it is
	}
	if carry > 0 && whole > 0 {
		out.mean = 0
		for i, c := range post.cells {
			out.losses[i] += whole * carry * c.offset
			out.mean += c.weight * out.losses[i]
		}
	}
	out.sd = whole * math.Sqrt(carry*carry*post.variance+1-carry*carry)
}

// change returns the standard deviation of what the departure adds in the day
// after a day, at this loss since hanging. The departure has no steps from day
// to day: it moves by about its own size while the age of the piece doubles.
func (post *posterior) change(day, loss float64) float64 {
	return post.noise.sd * post.noise.part(loss) * (1 - post.noise.correlation(day, day+1))
}

// reached returns the probability that a loss is reached by a day.
func (post *posterior) reached(target, day float64, out *outlook) float64 {
	post.at(day, out)
	total := 0.0
	for i, c := range post.cells {
		total += c.weight * normal((out.losses[i]-target)/math.Max(out.sd, 1e-9))
	}
	return total
}

func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
