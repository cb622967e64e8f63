package fermentation

import (
	"cmp"
	"math"
	"slices"
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// history is the temperature of a chamber over time, in pieces that follow each
// other from the start without a gap.
type history struct {
	pieces []piece
	last   quantity.Temperature // what the chamber is at now: of a log whose readings are held, the last of them
}

// piece is a time over which the temperature changes in a straight line.
type piece struct {
	from, to   time.Duration
	start, end quantity.Temperature
}

// end returns the time at which the temperatures end.
func (h history) end() time.Duration {
	if len(h.pieces) == 0 {
		return 0
	}
	return h.pieces[len(h.pieces)-1].to
}

// until returns the pieces up to a time, the last one cut there.
func (h history) until(end time.Duration) []piece {
	n, whole := slices.BinarySearchFunc(h.pieces, end, func(p piece, at time.Duration) int { return cmp.Compare(p.to, at) })
	if whole {
		return h.pieces[:n+1]
	}
	if n == len(h.pieces) || end <= h.pieces[n].from {
		return h.pieces[:n]
	}
	return append(slices.Clone(h.pieces[:n]), h.pieces[n].cut(end))
}

// cut returns the part of a piece that comes before a time within it.
func (p piece) cut(end time.Duration) piece {
	part := float64(end-p.from) / float64(p.to-p.from)
	c, err := quantity.Celsius(p.start.Celsius() + part*(p.end.Celsius()-p.start.Celsius()))
	if err == nil { // between two temperatures lies a third
		p.end = c
	}
	p.to = end
	return p
}

// highest returns the highest temperature of pieces, and when it was reached
// first; no temperature where there are no pieces.
func highest(pieces []piece) (quantity.Temperature, time.Duration) {
	var top quantity.Temperature
	var at time.Duration
	for _, p := range pieces {
		if p.start.Compare(top) > 0 {
			top, at = p.start, p.from
		}
		if p.end.Compare(top) > 0 {
			top, at = p.end, p.to
		}
	}
	return top, at
}

// reader reads temperatures in the scale of a rule, where its edges and limits
// are round figures.
type reader struct{ set rulebook.DegreeHourSet }

func (r reader) degrees(t quantity.Temperature) float64 {
	if r.set.Scale == rulebook.FahrenheitScale {
		return t.Fahrenheit()
	}
	return t.Celsius()
}

func (r reader) difference(d quantity.TemperatureDelta) float64 {
	if r.set.Scale == rulebook.FahrenheitScale {
		return d.FahrenheitDegrees()
	}
	return d.CelsiusDegrees()
}

// sum returns v degree-hours of the scale. A sum of pieces is neither negative nor without
// bound, so that it always is one.
func (r reader) sum(v float64) quantity.DegreeHours {
	in := quantity.CelsiusHours
	if r.set.Scale == rulebook.FahrenheitScale {
		in = quantity.FahrenheitHours
	}
	d, err := in(v)
	if err != nil {
		return quantity.DegreeHours{}
	}
	return d
}

func (r reader) degreeHours(d quantity.DegreeHours) float64 {
	return d.In(r.set.Scale.DegreeHourUnit()).Value()
}

// excess returns how far both ends of a piece are above the base, negative below
// it, when the thermometer read too low by low.
func (r reader) excess(p piece, low quantity.TemperatureDelta) (start, end float64) {
	base := r.degrees(r.set.Base) - r.difference(low)
	return r.degrees(p.start) - base, r.degrees(p.end) - base
}

// total returns the degree-hours of pieces above the base, when the thermometer
// read too low by error. Exact for straight lines: each is cut where it crosses
// the base, and what lies below it is dropped.
func (r reader) total(pieces []piece, low quantity.TemperatureDelta) quantity.DegreeHours {
	var sum float64
	for _, p := range pieces {
		a, b := r.excess(p, low)
		from, to := above(a, b)
		sum += (to - from) * (max(a, 0) + max(b, 0)) / 2 * (p.to - p.from).Hours()
	}
	return r.sum(sum)
}

// above returns the part of a straight line from a to b that is above zero, as
// fractions of its length.
func above(a, b float64) (from, to float64) {
	switch {
	case a <= 0 && b <= 0:
		return 0, 0
	case a < 0:
		return a / (a - b), 1
	case b < 0:
		return 0, a / (a - b)
	default:
		return 0, 1
	}
}

// timeAbove returns how long the pieces were above the base, and when they came
// above it first; nil when they never did.
func (r reader) timeAbove(pieces []piece) (time.Duration, *time.Duration) {
	var sum time.Duration
	var first *time.Duration
	for _, p := range pieces {
		from, to := above(r.excess(p, quantity.TemperatureDelta{}))
		if to <= from {
			continue
		}
		sum += p.at(to) - p.at(from)
		if first == nil {
			first = new(p.at(from))
		}
	}
	return sum, first
}

// at returns the time at a fraction of the piece.
func (p piece) at(part float64) time.Duration {
	return p.from + time.Duration(math.Round(part*float64(p.to-p.from)))
}

// reached returns when the limit was reached that was in force at that time: the
// limit of the class of the highest temperature until then. A hotter class can
// bring it down to what was used before. It returns the end of the pieces when
// rounding keeps the sum from reaching it, so it must be called only when the
// limit is reached.
func (r reader) reached(pieces []piece) time.Duration {
	var used float64
	var top quantity.Temperature
	for _, p := range pieces {
		a, b := r.excess(p, quantity.TemperatureDelta{})
		cuts := r.cuts(p)
		top = warmer(top, p.start)
		for i := range len(cuts) - 1 {
			from, to := cuts[i], cuts[i+1]
			start, end := a+from*(b-a), a+to*(b-a)
			// Between two edges the class is that of the middle. One that is reached only
			// where it ends counts from there on.
			limit := r.limit(warmer(top, p.temperature((from+to)/2)))
			span := (to - from) * (p.to - p.from).Hours()
			part, within := fills(max(start, 0), max(end, 0), span, limit-used)
			if within {
				return p.at(from + part*(to-from))
			}
			used += (max(start, 0) + max(end, 0)) / 2 * span
			top = warmer(top, p.temperature(to))
		}
	}
	if len(pieces) == 0 {
		return 0
	}
	return pieces[len(pieces)-1].to
}

// limit returns the limit of the class of a highest temperature.
func (r reader) limit(top quantity.Temperature) float64 {
	return r.degreeHours(r.set.ClassOf(top).Limit)
}

// cuts returns the fractions of a piece at which it crosses the base or an edge
// of a class, with both of its ends.
func (r reader) cuts(p piece) []float64 {
	cuts := []float64{0, 1}
	start, end := r.degrees(p.start), r.degrees(p.end)
	edges := []quantity.Temperature{r.set.Base}
	for _, c := range r.set.Classes {
		if !c.UpTo.IsZero() {
			edges = append(edges, c.UpTo)
		}
	}
	for _, e := range edges {
		edge := r.degrees(e)
		if (start < edge) != (end < edge) && start != edge && end != edge {
			cuts = append(cuts, (edge-start)/(end-start))
		}
	}
	slices.Sort(cuts)
	return cuts
}

// temperature returns the temperature at a fraction of the piece.
func (p piece) temperature(part float64) quantity.Temperature {
	switch part {
	case 0:
		return p.start
	case 1:
		return p.end
	default:
		return p.cut(p.at(part)).end
	}
}

// fills returns at which fraction of a span, over which the excess goes in a
// straight line from a to b, neither negative, the degree-hours reach an amount;
// false when they do not. The area up to x is a x + (b - a) x²/2 of the span,
// solved in the form that does not cancel.
func fills(a, b, span, amount float64) (float64, bool) {
	switch {
	case amount <= 0:
		return 0, true
	case (a+b)/2*span < amount:
		return 0, false
	}
	d := amount / span
	return min(2*d/(a+math.Sqrt(max(0, a*a+2*d*(b-a)))), 1), true
}

// warmer returns the warmer of two temperatures.
func warmer(t, u quantity.Temperature) quantity.Temperature {
	if t.Compare(u) < 0 {
		return u
	}
	return t
}
