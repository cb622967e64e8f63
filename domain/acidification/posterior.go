package acidification

import (
	"math"
	"slices"
)

// What the model may be off.
const (
	// misfit is how far the best curve may be off, in pH, for some time.
	misfit = 0.05
	// memory is for how long, as a part of the usual time to 5.3.
	memory = 0.5
	// common is the part of a reading's uncertainty, squared, that all readings
	// have in common: of a meter that was calibrated badly, of a strip's colours.
	common = 0.5
	// later and laterSD are by how much the time that is still to come is longer
	// than the curve says, and how far that is off, natural logarithms: both curves
	// that are usual come too early on growth, acid and buffer simulated.
	later, laterSD = 0.07, 0.25
	// All four were chosen on such simulations. Choices of this project.
)

// observation is a reading in thermal time.
type observation struct {
	thermal, ph, sd float64
}

// How the sampling is bounded.
const (
	perShape  = 1600 // curves of each shape in a round; half as many of each where there are two parts
	rounds    = 9    // at most; the last is weighed whole
	kept      = 1000 // curves that the answer is told from
	leastPart = 0.1  // of them, which the effective sample size must be before the next round
)

// posterior is a set of curves that are equally likely after the readings.
type posterior struct {
	curves    []curve
	off       []float64 // expected misfit of each at the last reading
	last      float64   // thermal time of the last reading, minus infinity without one
	memory    float64
	noise     *cholesky
	seen      []observation
	residuals [][]float64 // of each curve, solved
	effective float64     // sample size of the weights before they were made equal: some hundreds to some thousands
}

// fit weighs curves by the readings. It is deterministic: fixed points that fill
// the space evenly, for each shape. The readings are let in by parts (the
// likelihood to a power that grows to 1), each time with new points from a
// mixture of the prior and of two normal distributions around what the round
// before found. The cost is at most rounds × perShape × 3 curves.
func fit(p *prior, seen []observation) *posterior {
	post := &posterior{last: math.Inf(-1), memory: memory * p.until, seen: seen}
	if n := len(seen); n > 0 {
		post.last = seen[n-1].thermal
		post.noise = newCholesky(n, func(i, j int) float64 {
			v := post.covariance(seen[i].thermal, seen[j].thermal) + common*seen[i].sd*seen[j].sd
			if i == j {
				v += (1 - common) * seen[i].sd * seen[i].sd
			}
			return v
		})
	}
	var all []weighed
	parts := p.parts()
	for _, of := range parts {
		for _, s := range shapes {
			all = append(all, post.sample(of, s, perShape/len(parts))...)
		}
	}
	post.keep(all)
	return post
}

// covariance returns that of the misfit at two thermal times.
func (post *posterior) covariance(a, b float64) float64 {
	return misfit * misfit * math.Exp(-math.Abs(a-b)/post.memory)
}

// weighed is a curve with the logarithm of its weight.
type weighed struct {
	curve
	z      [unknowns]float64
	weight float64
}

// likelihood returns the logarithm of how likely the readings are on a curve, but
// for a constant.
func (post *posterior) likelihood(c *curve, work []float64) float64 {
	if len(post.seen) == 0 {
		return 0
	}
	for i, o := range post.seen {
		work[i] = o.ph - c.ph(o.thermal)
	}
	return -post.noise.square(work) / 2
}

// sample returns n curves of a shape with weights whose mean is the evidence of
// the shape, times the share of the part.
func (post *posterior) sample(p part, s shape, n int) []weighed {
	work := make([]float64, len(post.seen))
	out := make([]weighed, n)
	around := proposal{}
	power := 0.0
	for round := range rounds {
		likely := make([]float64, n)
		for i := range out {
			w := &out[i]
			point := evenly(i)
			w.z = around.draw(i, point)
			w.curve = p.curveAt(s, &w.z)
			w.stretch = math.Exp(later + laterSD*quantile(point[unknowns]))
			likely[i] = post.likelihood(&w.curve, work)
			w.weight = math.Log(p.share) + around.correction(&w.z)
		}
		if len(post.seen) == 0 {
			break
		}
		next := 1.0
		if round < rounds-1 {
			next = tempered(power, out, likely)
		}
		for i := range out {
			out[i].weight += next * likely[i]
		}
		if power == 1 || round == rounds-1 {
			break
		}
		power = next
		around = newProposal(out)
	}
	return out
}

// tempered returns the highest power of the likelihood, at least the one before
// and at most 1, at which the effective sample size is still enough.
func tempered(power float64, of []weighed, likely []float64) float64 {
	enough := func(power float64) bool {
		top := math.Inf(-1)
		for i := range of {
			top = math.Max(top, of[i].weight+power*likely[i])
		}
		sum, squares := 0.0, 0.0
		for i := range of {
			w := math.Exp(of[i].weight + power*likely[i] - top)
			sum += w
			squares += w * w
		}
		return sum*sum/squares >= leastPart*float64(len(of))
	}
	if enough(1) {
		return 1
	}
	low, high := power, 1.0
	for range 20 {
		if middle := (low + high) / 2; enough(middle) {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// keep takes equally likely curves out of weighed ones, at equal steps of the
// weights added up.
func (post *posterior) keep(all []weighed) {
	top := math.Inf(-1)
	for _, w := range all {
		top = math.Max(top, w.weight)
	}
	sum, squares := 0.0, 0.0
	for i := range all {
		all[i].weight = math.Exp(all[i].weight - top)
		sum += all[i].weight
		squares += all[i].weight * all[i].weight
	}
	post.effective = sum * sum / squares
	work, lastCovariance := make([]float64, len(post.seen)), make([]float64, len(post.seen))
	for i, o := range post.seen {
		lastCovariance[i] = post.covariance(post.last, o.thermal)
	}
	up, next := 0.0, 0
	for i := range all {
		up += all[i].weight / sum * kept
		for ; float64(next)+0.5 <= up && next < kept; next++ {
			post.curves = append(post.curves, all[i].curve)
			if len(post.seen) == 0 {
				post.off = append(post.off, 0)
				continue
			}
			for k, o := range post.seen {
				work[k] = o.ph - all[i].ph(o.thermal)
			}
			solved := post.noise.solve(slices.Clone(work))
			post.residuals = append(post.residuals, solved)
			post.off = append(post.off, dot(solved, lastCovariance))
		}
	}
}

// dot returns the misfit to be expected where the covariances with the readings
// are k, of a curve whose residuals were solved.
func dot(solved, k []float64) float64 {
	off := 0.0
	for i, r := range solved {
		off += r * k[i]
	}
	return off
}

// phs returns the pH of all curves at a thermal time, and how far each is off.
func (post *posterior) phs(thermal float64, into []float64) ([]float64, float64) {
	into = into[:0]
	spread := misfit * misfit
	k := make([]float64, len(post.seen))
	for i := range k {
		k[i] = post.covariance(thermal, post.seen[i].thermal)
	}
	if len(k) > 0 {
		spread = math.Max(spread-post.noise.square(slices.Clone(k)), 0)
	}
	for i := range post.curves {
		c := &post.curves[i]
		switch {
		case len(post.seen) == 0:
			into = append(into, c.ph(thermal/c.stretch))
		case thermal <= post.last:
			into = append(into, c.ph(thermal)+dot(post.residuals[i], k))
		default: // beyond the last reading the misfit goes on from there and is forgotten
			ahead := (thermal - post.last) / c.stretch
			into = append(into, c.ph(post.last+ahead)+post.off[i]*math.Exp(-(thermal-post.last)/post.memory))
		}
	}
	return into, math.Sqrt(spread)
}

// reached returns the probability that the pH is at or below one, of pHs that are
// each off by sd.
func reached(target float64, phs []float64, sd float64) float64 {
	sum := 0.0
	for _, v := range phs {
		switch {
		case sd > 0:
			sum += normal((target - v) / sd)
		case v <= target:
			sum++
		}
	}
	return sum / float64(len(phs))
}

// tails are the ends of the intervals of 90, 80 and 50 percent with the median.
var tails = [7]float64{0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95}

// quantiles returns those of pHs that are each off by sd, on a grid.
func quantiles(phs []float64, sd float64) [7]float64 {
	const low, step, bins = 2.5, 0.005, 1700
	var density [bins]float64
	for _, v := range phs {
		at := math.Min(math.Max((v-low)/step, 0), bins-2)
		k := int(at)
		density[k] += 1 - (at - float64(k))
		density[k+1] += at - float64(k)
	}
	reach := int(math.Ceil(4 * sd / step))
	kernel := make([]float64, reach+1)
	total := 0.0
	for i := range kernel {
		kernel[i] = 1
		if sd > 0 {
			kernel[i] = math.Exp(-float64(i*i) * step * step / (2 * sd * sd))
		}
		total += kernel[i]
		if i > 0 {
			total += kernel[i]
		}
	}
	var spread [bins]float64
	for i, d := range density {
		if d == 0 {
			continue
		}
		for k := max(i-reach, 0); k <= min(i+reach, bins-1); k++ {
			spread[k] += d * kernel[max(k-i, i-k)] / total
		}
	}
	mass := 0.0
	for _, d := range spread {
		mass += d
	}
	var at [7]float64
	sum, next := 0.0, 0
	for i, d := range spread {
		for next < len(tails) && d > 0 && sum+d >= tails[next]*mass {
			// A bin's weight lies half a step to either side of it.
			at[next] = low + (float64(i)-0.5+(tails[next]*mass-sum)/d)*step
			next++
		}
		sum += d
	}
	for ; next < len(tails); next++ {
		at[next] = low + step*bins
	}
	return at
}
