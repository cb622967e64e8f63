package drying

import (
	"math"
	"slices"
	"time"

	"greenweight/domain/quantity"
)

// tails are the probabilities at the ends of the three intervals, and the middle.
var tails = [7]float64{0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95}

// mixture is a weighted set of normal distributions of one standard deviation,
// gathered in bins so that its quantiles cost as much for a hundred thousand
// cells as for ten.
type mixture struct{ values, weights []float64 }

func (m *mixture) add(value, weight float64) {
	m.values, m.weights = append(m.values, value), append(m.weights, weight)
}

// quantiles returns the values at tails. The bins are a 400th of the span, which
// is as far as a quantile may be off.
func (m *mixture) quantiles(sd float64) [7]float64 {
	const bins = 400
	const aside = 4 // standard deviations of the normal that are kept
	low, high := slices.Min(m.values)-aside*sd, slices.Max(m.values)+aside*sd
	if high-low < 1e-9 {
		return [7]float64{low, low, low, low, low, low, low}
	}
	step := (high - low) / bins
	density := make([]float64, bins+2)
	for i, v := range m.values {
		x := (v - low) / step
		k := min(max(int(x), 0), bins)
		part := x - float64(k)
		density[k] += m.weights[i] * (1 - part)
		density[k+1] += m.weights[i] * part
	}
	density = blurred(density, sd/step)
	total := 0.0
	for _, d := range density {
		total += d
	}
	var at [7]float64
	sum, next := 0.0, 0
	for i, d := range density {
		for next < len(tails) && sum+d >= tails[next]*total {
			part := 0.5
			if d > 0 {
				part = (tails[next]*total - sum) / d
			}
			// A bin's weight lies half a step to either side of it.
			at[next] = low + (float64(i)-0.5+part)*step
			next++
		}
		sum += d
	}
	for ; next < len(tails); next++ {
		at[next] = high
	}
	return at
}

// blurred spreads every bin as a normal distribution of that many bins.
func blurred(density []float64, sd float64) []float64 {
	const least = 0.2
	if sd < least {
		return density
	}
	reach := int(math.Ceil(4 * sd))
	kernel := make([]float64, reach+1)
	total := 0.0
	for i := range kernel {
		kernel[i] = normal((float64(i)+0.5)/sd) - normal((float64(i)-0.5)/sd)
		total += kernel[i]
		if i > 0 {
			total += kernel[i]
		}
	}
	out := make([]float64, len(density))
	for i, d := range density {
		if d == 0 {
			continue
		}
		d /= total
		for k := max(i-reach, 0); k <= min(i+reach, len(out)-1); k++ {
			out[k] += d * kernel[max(k-i, i-k)]
		}
	}
	return out
}

type moments struct{ mean, sd float64 }

// moments returns the mean and the standard deviation of the loss at a day.
func (post *posterior) moments(day float64) moments {
	var out outlook
	post.at(day, &out)
	second := 0.0
	for i, c := range post.cells {
		second += c.weight * square(out.losses[i]-out.mean)
	}
	return moments{out.mean, math.Sqrt(second + square(out.sd))}
}

// stops returns the quantiles of the loss at which the drying stops.
func (post *posterior) stops() [7]float64 {
	var m mixture
	const parts = 9 // a cell stands for the losses around its own
	for _, c := range post.cells {
		for i := range parts {
			m.add(c.stops+((float64(i)+0.5)/parts-0.5)*post.stopsStep, c.weight/parts)
		}
	}
	return m.quantiles(0)
}

// tellDay sets the day at which a loss is reached. Where the last observation is
// below it, what is told is of the days after.
func (post *posterior) tellDay(w *writer, d *Day, target float64) {
	const nodes = 200
	first := math.Max(post.last, 1.0/24)
	growth := math.Pow(math.Max(horizonDays, 2*first)/first, 1.0/(nodes-1))
	var out outlook
	already := 0.0
	if post.last > 0 {
		already = math.Min(post.reached(target, post.last, &out), 0.99)
	}
	most := 0.0
	for i := range nodes {
		day := first * math.Pow(growth, float64(i))
		chance := (post.reached(target, day, &out) - already) / (1 - already)
		most = math.Min(math.Max(most, chance), 1)
		d.days, d.chance = append(d.days, day), append(d.chance, most)
	}
	d.Median = d.quantile(tails[3])
	for i, to := range []*quantity.Between[time.Duration]{&d.P90, &d.P80, &d.P50} {
		to.Low, to.High = d.quantile(tails[i]), d.quantile(tails[6-i])
	}
	d.NotReached = w.fraction(1 - most)
}

// point returns the piece at a day.
func (w *writer) point(post *posterior, day float64) Point {
	var now, later outlook
	post.at(day, &now)
	post.at(day+1, &later)
	var losses, rates mixture
	for i, c := range post.cells {
		losses.add(now.losses[i], c.weight)
		rates.add(math.Max(later.losses[i]-now.losses[i], 0), c.weight)
	}
	change := post.change(day, now.mean-post.prior.start)
	loss, rate := losses.quantiles(now.sd), rates.quantiles(change)
	if post.prior.start >= 0 {
		for i := range loss {
			loss[i] = math.Max(loss[i], 0)
		}
	}
	for i := range rate {
		rate[i] = math.Max(rate[i], 0) // the model knows no gain
	}
	return Point{Since: fromDays(day), Loss: w.losses(loss), Rate: w.rates(rate)}
}

// writer turns floats into quantities and keeps the first error.
type writer struct{ err error }

func (w *writer) keep(err error) {
	if w.err == nil {
		w.err = err
	}
}

func (w *writer) fraction(f float64) quantity.Fraction {
	v, err := quantity.NewFraction(math.Min(math.Max(f, 0), 1))
	w.keep(err)
	return v
}

func (w *writer) losses(at [7]float64) Band[quantity.Loss] {
	return band(at, func(p float64) quantity.Loss {
		v, err := quantity.LossPercent(math.Min(p, 100))
		w.keep(err)
		return v
	})
}

func (w *writer) rates(at [7]float64) Band[quantity.LossRate] {
	return band(at, func(p float64) quantity.LossRate {
		v, err := quantity.LossPercentPerDay(p)
		w.keep(err)
		return v
	})
}

func band[T any](at [7]float64, of func(float64) T) Band[T] {
	between := func(i int) quantity.Between[T] { return quantity.Between[T]{Low: of(at[i]), High: of(at[6-i])} }
	return Band[T]{Median: of(at[3]), P90: between(0), P80: between(1), P50: between(2)}
}
