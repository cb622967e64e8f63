package drying

import (
	"math"
	"slices"
	"sort"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Air is the air about a piece from an instant on. What is not told of it is as
// the order has it.
type Air struct {
	From        time.Time
	Temperature material.Known[quantity.Temperature]
	Humidity    material.Known[quantity.RelativeHumidity]
	AirSpeed    material.Known[quantity.Speed]
}

// Pause is a time in which a piece is sealed or wrapped so that it does not dry,
// to let its moisture even out.
type Pause struct{ From, To time.Time }

const (
	// mostSpells is how many airs, one after the other, the end of drying is
	// followed through. Of more, neighbours are taken together as their mean: see
	// [merged].
	mostSpells = 12
	// coarsened is how many airs are kept before neighbours are compared.
	coarsened = 384
	// fewAirs is how many airs are each taken to the last digit; of more, the
	// humidity is taken to half a point, the temperature to half a degree and the
	// speed to 0.05 m/s, but for how fast water moves inside.
	fewAirs = 64
	// recent is how far back readings tell of the air ahead, where none is planned.
	recent = 7 * 24 * time.Hour
	// earlyFourier is how far the Biot number is a mean over the airs: until then
	// most of the removable water is gone.
	earlyFourier = 0.3
)

// spell is one air as the fit sees it.
type spell struct {
	from           float64 // what clock.at tells at its beginning
	stops, stopsSD float64 // loss at which the drying stops in it, in points
	fastest        float64 // what it can take at most, a day; 0 when that cannot be told
	rate           float64 // of the clock, a day
}

// clock tells how far the drying has come by a day since hanging: in days of
// drying, without those on which the piece was sealed, and in days in the air at
// hanging, of which one in a warmer air counts for more: the integral of D(T)
// over the D of the temperature at hanging. Times the D/R² of that air it is the
// Fourier number. The zero value is of one air without a pause.
type clock struct{ day, dried, counted, dries, counts []float64 }

func (c *clock) at(day float64) (dried, counted float64) {
	if len(c.day) == 0 || day <= c.day[0] {
		return day, day
	}
	i := sort.SearchFloat64s(c.day, day) - 1
	span := day - c.day[i]
	return c.dried[i] + span*c.dries[i], c.counted[i] + span*c.counts[i]
}

// since returns the days of drying between two instants, of which the first may
// be before hanging.
func (o Order) driedBetween(from, to time.Time) float64 {
	span := to.Sub(from)
	for _, p := range o.Equalising {
		low, high := p.From, p.To
		if low.Before(from) {
			low = from
		}
		if high.After(to) {
			high = to
		}
		if high.After(low) {
			span -= high.Sub(low)
		}
	}
	return inDays(span)
}

// sealed reports whether a piece is sealed at an instant, the ends apart.
func (o Order) sealed(at time.Time) bool {
	for _, p := range o.Equalising {
		if at.After(p.From) && at.Before(p.To) {
			return true
		}
	}
	return false
}

// airs returns the airs of an order since hanging, the first from hanging on,
// each with what is known of it. What was read goes before what was planned for
// the same time. After the last reading goes what is planned from later on; until
// then, or where nothing is, the mean of the last readings: those of the step that
// goes on, at most of a week.
func (o Order) airs() []Air {
	hung := o.hung()
	steps := slices.Clone(o.Airs)
	var all []Air
	if n := len(o.Readings); n > 0 {
		first, last := o.Readings[0].From, o.Readings[n-1].From
		var after []Air
		since := last.Add(-recent)
		for _, s := range steps {
			switch {
			case s.From.Before(first):
				all = append(all, s)
			case s.From.After(last):
				after = append(after, s)
			}
			if !s.From.After(last) && s.From.After(since) {
				since = s.From
			}
		}
		all = append(all, o.Readings[:n-1]...)
		all = append(all, o.mean(since))
		all = append(all, after...)
	} else {
		all = steps
	}
	whole := func(a Air) Air {
		if !known(a.Temperature) {
			a.Temperature = o.Temperature
		}
		if !known(a.Humidity) {
			a.Humidity = o.Humidity
		}
		if !known(a.AirSpeed) {
			a.AirSpeed = o.AirSpeed
		}
		return a
	}
	since := []Air{whole(Air{From: hung})}
	for _, a := range all {
		a = whole(a)
		if !a.From.After(hung) {
			a.From = hung
			since[0] = a
			continue
		}
		since = append(since, a)
	}
	return since
}

// mean returns the last reading with the mean over time, each reading holding
// until the next, of those since an instant; the last alone where it is the only
// one.
func (o Order) mean(since time.Time) Air {
	n := len(o.Readings)
	air := o.Readings[n-1]
	var warm, damp, blown mean
	for i := range o.Readings[:n-1] {
		a, next := o.Readings[i], o.Readings[i+1].From
		if !next.After(since) {
			continue
		}
		from := a.From
		if from.Before(since) {
			from = since
		}
		span := inDays(next.Sub(from))
		if t, is := a.Temperature.Get(); is {
			warm.add(t.Celsius(), span)
		}
		if h, is := a.Humidity.Get(); is {
			damp.add(h.Percent(), span)
		}
		if v, is := a.AirSpeed.Get(); is {
			blown.add(v.MetresPerSecond(), span)
		}
	}
	air.Temperature = meanOf(warm, quantity.Celsius, air.Temperature)
	air.Humidity = meanOf(damp, quantity.HumidityPercent, air.Humidity)
	air.AirSpeed = meanOf(blown, quantity.MetresPerSecond, air.AirSpeed)
	return air
}

// mean is one over time.
type mean struct{ sum, weight float64 }

func (m *mean) add(value, weight float64) { m.sum, m.weight = m.sum+value*weight, m.weight+weight }

func meanOf[Q any](m mean, of func(float64) (Q, error), or material.Known[Q]) material.Known[Q] {
	if !(m.weight > 0) {
		return or
	}
	q, err := of(m.sum / m.weight)
	if err != nil { // a mean lies between what it is made of
		return or
	}
	return material.Is(q)
}

// newClock returns the clock of airs, given by the day on which each begins and
// how fast it counts.
func newClock(days, rates []float64, pauses []Pause, hung time.Time) clock {
	if len(days) == 1 && len(pauses) == 0 && rates[0] == 1 {
		return clock{}
	}
	all := slices.Clone(days)
	var edges []float64 // beginnings and ends of the pauses in turn
	for _, p := range pauses {
		from, to := math.Max(inDays(p.From.Sub(hung)), 0), math.Max(inDays(p.To.Sub(hung)), 0)
		if to > from {
			edges = append(edges, from, to)
		}
	}
	all = append(all, edges...)
	slices.Sort(all)
	all = slices.Compact(all)
	n := len(all)
	c := clock{day: all, dried: make([]float64, n), counted: make([]float64, n), dries: make([]float64, n), counts: make([]float64, n)}
	air, edge := 0, 0
	for i, day := range all {
		for air+1 < len(days) && days[air+1] <= day {
			air++
		}
		for edge < len(edges) && edges[edge] <= day {
			edge++
		}
		if edge%2 == 0 {
			c.dries[i], c.counts[i] = 1, rates[air]
		}
		if i > 0 {
			span := day - all[i-1]
			c.dried[i], c.counted[i] = c.dried[i-1]+span*c.dries[i-1], c.counted[i-1]+span*c.counts[i-1]
		}
	}
	return c
}

// merged takes neighbours together, of least difference first, until there are
// few enough; the last, which goes on, and the first stay. An end of drying that
// is replaced by its mean over the clock changes the loss by no more than the
// largest difference between the two: by superposition the change is a mean, with
// weights that sum to less than one, of the differences, and as they cancel over
// the spell it is far less. The cost is the square of the number of spells, of
// which more than 384 are first taken together by even parts of the clock.
func merged(all []spell) []spell {
	width := func(i int) float64 { return all[i+1].from - all[i].from }
	join := func(i int) { // i and i+1, of which the second is not the last
		a, b := width(i), width(i+1)
		one, other := all[i], all[i+1]
		part := 0.5
		if a+b > 0 {
			part = a / (a + b)
		}
		of := func(x, y float64) float64 { return part*x + (1-part)*y }
		all[i] = spell{one.from, of(one.stops, other.stops), of(one.stopsSD, other.stopsSD), math.Max(one.fastest, other.fastest), of(one.rate, other.rate)}
	}
	same := func(a, b spell) bool { b.from, b.rate = a.from, a.rate; return a == b }
	kept := all[:0]
	for i, s := range all {
		if i+1 < len(all) && !(all[i+1].from > s.from) { // nothing dries in it
			continue
		}
		if n := len(kept); n > 0 && same(kept[n-1], s) {
			continue
		}
		kept = append(kept, s)
	}
	all = kept
	if len(all) > coarsened {
		part := (all[len(all)-1].from - all[0].from) / coarsened
		kept, end := []spell{all[0]}, all[0].from+part
		coarse := all
		for i := 1; i < len(coarse)-1; i++ {
			n := len(kept)
			if coarse[i].from < end {
				all = []spell{kept[n-1], coarse[i], coarse[i+1]}
				join(0)
				kept[n-1] = all[0]
				continue
			}
			for coarse[i].from >= end {
				end += part
			}
			kept = append(kept, coarse[i])
		}
		all = append(kept, coarse[len(coarse)-1])
	}
	for len(all) > mostSpells {
		best, least := 0, math.Inf(1)
		for i := range len(all) - 2 {
			a, b := width(i), width(i+1)
			if cost := a * b / (a + b) * square(all[i].stops-all[i+1].stops); cost < least {
				best, least = i, cost
			}
		}
		join(best)
		all = slices.Delete(all, best+1, best+2)
	}
	return all
}

// validateAirs reports what is at fault with the airs and the pauses.
func (o Order) validateAirs(bad *fault.Collector) {
	airs := func(name string, instant string, all []Air) {
		for i, a := range all {
			validateAir(bad, fault.At(name, i), a.Temperature, a.AirSpeed)
			if i > 0 && !a.From.After(all[i-1].From) {
				bad.Add(fault.At(name, i, instant), "out-of-order", "airs stand in order of time, each from another instant on; this one is from %s before the one ahead of it",
					lasting(all[i-1].From.Sub(a.From)))
			}
		}
	}
	airs("airs", "from_at", o.Airs)
	airs("air_readings", "at", o.Readings)
	for i, p := range o.Equalising {
		if !p.To.After(p.From) {
			bad.Add(fault.At("equalising", i, "to_at"), "before-it-begins", "a time in which the piece is sealed must end after it begins")
		}
		if i > 0 && p.From.Before(o.Equalising[i-1].To) {
			bad.Add(fault.At("equalising", i, "from_at"), "out-of-order", "times in which the piece is sealed stand in order of time and don't overlap")
		}
	}
}

func validateAir(bad *fault.Collector, path fault.Path, temperature material.Known[quantity.Temperature], speed material.Known[quantity.Speed]) {
	if t, is := temperature.Get(); is && (t.Celsius() < coldest || t.Celsius() > warmest) {
		bad.Add(fault.At("temperature").Under(path), "out-of-range", "a drying room is at %v to %v °C, got %v (%.4g °F): look at the unit", coldest, warmest, t, t.Fahrenheit())
	}
	if v, is := speed.Get(); is && v.MetresPerSecond() > stormiest {
		bad.Add(fault.At("air_speed_m_per_s").Under(path), "out-of-range", "the air must not be faster than %v m/s, got %v", stormiest, v)
	}
}
