package fermentation

import (
	"math"
	"slices"
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// tally adds up what a history comes to by one rule, piece by piece. All is in
// kelvins and hours, the size of a Celsius degree: sums are held against limits
// to a millionth of a degree-hour, whatever their unit.
type tally struct {
	base, low, high float64 // as read, and if the thermometer reads too high or too low

	sum, least, most float64
	joined           float64 // with gaps joined like other readings
	beyond           float64 // what came after the end of the count, as read
	steps            []float64
	above            time.Duration // how long it was above the base
	first            *time.Duration
}

func newTally(set rulebook.DegreeHourSet, thermometer quantity.TemperatureDelta, steps int) tally {
	base, off := set.Base.Kelvin(), thermometer.CelsiusDegrees()
	return tally{base: base, low: base + off, high: base - off, steps: make([]float64, steps)}
}

// count adds a piece that counts.
func (t *tally) count(p piece) {
	start, end, span := p.start.Kelvin(), p.end.Kelvin(), p.hours()
	area := over(start, end, t.base) * span
	t.sum += area
	t.least += over(start, end, t.low) * span
	t.most += over(start, end, t.high) * span
	if p.gap {
		t.joined += over(p.joined.start.Kelvin(), p.joined.end.Kelvin(), t.base) * span
	} else {
		t.joined += area
	}
	if len(t.steps) > 0 {
		t.steps[p.index] += area
	}
	if area > 0 {
		t.timeAbove(p, start-t.base, end-t.base)
	}
}

// runOn adds a piece after the end of the count, which counts for the high end
// alone.
func (t *tally) runOn(p piece) {
	start, end, span := p.start.Kelvin(), p.end.Kelvin(), p.hours()
	t.beyond += over(start, end, t.base) * span
	t.most += over(start, end, t.high) * span
}

// total returns what was added up, as the sum of a rule.
func (t *tally) total(set rulebook.DegreeHourSet) Sum {
	s := Sum{
		Set: set, DegreeHours: kelvinHours(t.sum), Joined: kelvinHours(t.joined), AboveBase: t.above, AboveBaseAt: t.first,
		Range:     quantity.Between[quantity.DegreeHours]{Low: kelvinHours(t.least), High: kelvinHours(t.most)},
		everAbove: t.most > 0,
	}
	for _, step := range t.steps {
		s.Steps = append(s.Steps, kelvinHours(step))
	}
	return s
}

// timeAbove adds how long a piece is above the base, and keeps when that was
// first so.
func (t *tally) timeAbove(p piece, a, b float64) {
	from, to := p.from, p.to
	if a < 0 || b < 0 {
		part, until := above(a, b)
		from, to = p.at(part), p.at(until)
	}
	t.above += to - from
	if t.first == nil {
		t.first = new(from)
	}
}

// over returns how far a straight line is above a base in the mean, what lies
// below it counted as nothing: it is cut where it crosses the base, so that sums of
// straight lines are exact.
func over(start, end, base float64) float64 {
	a, b := start-base, end-base
	switch {
	case a >= 0 && b >= 0:
		return (a + b) / 2
	case a <= 0 && b <= 0:
		return 0
	case a < 0:
		return b / (b - a) * b / 2
	default:
		return a / (a - b) * a / 2
	}
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

// peak is the highest temperature of pieces, and when it was reached first; no
// temperature before there is a piece.
type peak struct {
	temperature quantity.Temperature
	at          time.Duration
}

func (k *peak) reach(t quantity.Temperature, at time.Duration) {
	if t.Kelvin() > k.temperature.Kelvin() && t.Compare(k.temperature) > 0 {
		k.temperature, k.at = t, at
	}
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

func (r reader) degreeHours(d quantity.DegreeHours) float64 {
	return d.In(r.set.Scale.DegreeHourUnit()).Value()
}

// kelvinHours returns degree-hours. A sum of pieces is neither negative nor
// without bound, so that it always is one.
func kelvinHours(v float64) quantity.DegreeHours {
	d, err := quantity.CelsiusHours(v)
	if err != nil {
		return quantity.DegreeHours{}
	}
	return d
}

// total returns the degree-hours above the base over a stretch, when the
// thermometer read too low by low.
func (r reader) total(of stretch, low quantity.TemperatureDelta) quantity.DegreeHours {
	base := r.set.Base.Kelvin() - low.CelsiusDegrees()
	var sum float64
	for p := range of.pieces(of.from, of.to) {
		sum += over(p.start.Kelvin(), p.end.Kelvin(), base) * p.hours()
	}
	return kelvinHours(sum)
}

// reached returns when the limit was reached that was in force at that time: the
// limit of the class of the highest temperature until then. A hotter class can
// bring it down to what was used before. It returns the end when rounding keeps
// the sum from reaching it, so it must be called only when the limit is reached.
func (r reader) reached(h history, begin, end time.Duration) time.Duration {
	var used float64
	var top quantity.Temperature
	base, edges := r.degrees(r.set.Base), r.edges()
	var cuts []float64
	for p := range h.pieces(begin, end) {
		a, b := r.degrees(p.start)-base, r.degrees(p.end)-base
		cuts = r.cuts(cuts[:0], edges, p)
		top = warmer(top, p.start)
		for i := range len(cuts) - 1 {
			from, to := cuts[i], cuts[i+1]
			before, after := max(a+from*(b-a), 0), max(a+to*(b-a), 0)
			// Between two edges the class is that of the middle. One that is reached only
			// where it ends counts from there on.
			limit := r.limit(warmer(top, p.temperature((from+to)/2)))
			span := (to - from) * p.hours()
			part, within := fills(before, after, span, limit-used)
			if within {
				return p.at(from + part*(to-from))
			}
			used += (before + after) / 2 * span
			top = warmer(top, p.temperature(to))
		}
	}
	return end
}

// limit returns the limit of the class of a highest temperature.
func (r reader) limit(top quantity.Temperature) float64 {
	return r.degreeHours(r.set.ClassOf(top).Limit)
}

// edges returns the base and the edges of the classes, in the scale of the rule.
func (r reader) edges() []float64 {
	edges := []float64{r.degrees(r.set.Base)}
	for _, c := range r.set.Classes {
		if !c.UpTo.IsZero() {
			edges = append(edges, r.degrees(c.UpTo))
		}
	}
	return edges
}

// cuts appends the fractions of a piece at which it crosses one of the edges,
// with both of its ends, in order.
func (r reader) cuts(into, edges []float64, p piece) []float64 {
	into = append(into, 0, 1)
	start, end := r.degrees(p.start), r.degrees(p.end)
	for _, edge := range edges {
		if (start < edge) != (end < edge) && start != edge && end != edge {
			into = append(into, (edge-start)/(end-start))
		}
	}
	slices.Sort(into)
	return into
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
