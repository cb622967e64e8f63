package drying

import (
	"cmp"
	"math"
	"slices"
	"time"

	"greenweight/domain/quantity"
)

// tails are the probabilities at the ends of the three intervals, and the middle.
var tails = [7]float64{0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95}

// bins is how many a mixture is gathered in: a quantile may be off by one.
const bins = 320

// workspace is what is used again and again in telling an answer.
type workspace struct {
	now, later       outlook
	rates            []float64
	density, blurred [bins + 2]float64
	kernel           [bins + 2]float64
	atLast           *[7]float64 // of the loss at the last observation
}

// quantiles returns the values at tails of a weighted set of normal distributions
// of one standard deviation, gathered in bins so that they cost as much for a
// hundred thousand values as for ten. values and cells go together.
func (w *workspace) quantiles(values []float64, cells []cell, sd float64) [7]float64 {
	const aside = 4 // standard deviations of the normal that are kept
	low, high := slices.Min(values)-aside*sd, slices.Max(values)+aside*sd
	if high-low < 1e-9 {
		return [7]float64{low, low, low, low, low, low, low}
	}
	step := (high - low) / bins
	clear(w.density[:])
	for i, v := range values {
		x := (v - low) / step
		k := min(max(int(x), 0), bins)
		part := x - float64(k)
		w.density[k] += cells[i].weight * (1 - part)
		w.density[k+1] += cells[i].weight * part
	}
	density := w.blur(sd / step)
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

// blur spreads every bin as a normal distribution of that many bins.
func (w *workspace) blur(sd float64) []float64 {
	const least = 0.2
	if sd < least {
		return w.density[:]
	}
	reach := min(int(math.Ceil(4*sd)), len(w.kernel)-1)
	kernel := w.kernel[:reach+1]
	total, below := 0.0, quickNormal(-0.5/sd)
	for i := range kernel {
		above := quickNormal((float64(i) + 0.5) / sd)
		kernel[i] = above - below
		below = above
		total += kernel[i]
		if i > 0 {
			total += kernel[i]
		}
	}
	out := w.blurred[:]
	clear(out)
	for i, d := range w.density {
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
	out := &post.work.now
	post.at(day, out)
	second := 0.0
	for i, c := range post.cells {
		second += c.weight * square(out.losses[i]-out.mean)
	}
	return moments{out.mean, math.Sqrt(second + square(out.sd))}
}

// stops returns the quantiles of the loss at which the drying stops in the air
// that goes on: what was lost by the last observation is lost, also in air that
// would take less.
func (post *posterior) stops() [7]float64 {
	s, most := post.prior.last(), post.prior.mostStops
	const parts = 7 * zCells
	spread, around := make([]float64, 0, parts*len(post.nodes)), make([]cell, 0, parts*len(post.nodes))
	for _, nd := range post.nodes {
		nd.cut(parts, func(z, weight float64) {
			spread = append(spread, math.Min(s.stops+s.stopsSD*z, most))
			around = append(around, cell{weight: weight})
		})
	}
	at := post.work.quantiles(spread, around, 0)
	for i := range at {
		at[i] = math.Max(at[i], post.lastLoss)
	}
	return at
}

// aim is a loss to reach, or where it is not known to the point the losses that
// it may be, each with its probability.
type aim []struct{ loss, weight float64 }

// tellDay sets the day at which an aim is reached. Where the last observation is
// below a loss, what is told of it is of the days after.
func (post *posterior) tellDay(w *writer, d *Day, a aim) {
	first := math.Max(post.lastDay, 1.0/24)
	out := &post.work.now
	already := make([]float64, len(a))
	if post.lastDay > 0 {
		post.at(post.lastDay, out)
		for i, one := range a {
			already[i] = math.Min(post.beyond(one.loss, out), 0.99)
		}
	}
	chance := func(day float64) float64 {
		post.at(day, out)
		total := 0.0
		for i, one := range a {
			part := 1.0
			if post.lastDay == 0 || one.loss > post.lastLoss {
				part = math.Min(math.Max((post.beyond(one.loss, out)-already[i])/(1-already[i]), 0), 1)
			}
			total += one.weight * part
		}
		return total
	}
	rowOfDays(first, finely, func(day float64) float64 {
		c := chance(day)
		d.days, d.chance = append(d.days, day), append(d.chance, c)
		return c
	})
	d.settle(w)
}

// finely is how far the chance may move between two days that are asked for.
const finely = 0.025

// rowOfDays asks for the chance at days from the first on: those of a coarse row
// and, where the chance moves, halves of it, so that it is a straight line between
// two of them but for fine. They are not asked in order.
func rowOfDays(first, fine float64, chance func(day float64) float64) {
	const coarse, finest = 32, 1.0 / 24
	growth := math.Pow(math.Max(horizonDays, 2*first)/first, 1.0/(coarse-1))
	var halve func(day, c, later, then float64)
	halve = func(day, c, later, then float64) {
		if then-c < fine || later-day < finest {
			return
		}
		middle := math.Sqrt(day * later)
		m := chance(middle)
		halve(day, c, middle, m)
		halve(middle, m, later, then)
	}
	day := first
	c := chance(day)
	for i := 1; i < coarse; i++ {
		later := first * math.Pow(growth, float64(i))
		then := chance(later)
		halve(day, c, later, then)
		day, c = later, then
	}
}

// settle puts the days in order and tells the quantiles.
func (d *Day) settle(w *writer) {
	order := make([]int, len(d.days))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(d.days[a], d.days[b]) })
	days, chance := make([]float64, len(order)), make([]float64, len(order))
	most := 0.0
	for i, k := range order {
		most = math.Min(math.Max(most, d.chance[k]), 1)
		days[i], chance[i] = d.days[k], most
	}
	d.days, d.chance = days, chance
	d.Median = d.quantile(tails[3])
	for i, to := range []*quantity.Between[time.Duration]{&d.P90, &d.P80, &d.P50} {
		to.Low, to.High = d.quantile(tails[i]), d.quantile(tails[6-i])
	}
	d.NotReached = w.fraction(1 - most)
}

// point returns the piece at a day.
func (w *writer) point(post *posterior, day float64) Point {
	work := &post.work
	post.at(day, &work.now)
	post.at(day+1, &work.later)
	work.rates = work.rates[:0]
	for i := range post.cells {
		work.rates = append(work.rates, math.Max(work.later.losses[i]-work.now.losses[i], 0))
	}
	change := post.change(day, work.now.mean-post.prior.start)
	rate := work.quantiles(work.rates, post.cells, change)
	for i := range rate {
		rate[i] = math.Max(rate[i], 0) // the model knows no gain
	}
	loss := post.lossAt(&work.now)
	if day > post.lastDay && post.lastDay > 0 {
		// What is lost stays lost: no end of a band is lower than on a day before.
		for i, least := range post.lostByLast() {
			loss[i] = math.Max(loss[i], least)
		}
	}
	return Point{Since: fromDays(day), Loss: w.losses(loss), Rate: w.rates(rate)}
}

// lostByLast returns the quantiles of the loss at the last observation.
func (post *posterior) lostByLast() [7]float64 {
	if post.work.atLast == nil {
		post.at(post.lastDay, &post.work.later)
		loss := post.lossAt(&post.work.later)
		post.work.atLast = &loss
	}
	return *post.work.atLast
}

// lossAt returns the quantiles of an outlook.
func (post *posterior) lossAt(out *outlook) [7]float64 {
	loss := post.work.quantiles(out.losses, post.cells, out.sd)
	if post.prior.start >= 0 {
		for i := range loss {
			loss[i] = math.Max(loss[i], 0)
		}
	}
	return loss
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
