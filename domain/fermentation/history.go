package fermentation

import (
	"iter"
	"math"
	"sort"
	"time"

	"greenweight/domain/quantity"
)

// history is the temperature of a chamber over time, read off the steps or the
// log of a course where they stand: a log of a year is not copied.
type history struct {
	steps []Step
	log   []Reading
	held  bool
	gap   time.Duration // longer between two readings is a gap

	end  time.Duration
	last quantity.Temperature // what the chamber is at now: of a log whose readings are held, the last of them
}

// piece is a time over which the temperature changes in a straight line. Over a
// gap it is that of the hotter reading beside it; joined is what it would be had
// the readings been joined like others.
type piece struct {
	from, to   time.Duration
	start, end quantity.Temperature
	joined     line
	index      int // of its step, or of the reading that it begins at
	gap        bool
}

// line is the temperature at both ends of a piece.
type line struct{ start, end quantity.Temperature }

// pieces returns the pieces of the temperatures between two times, in order and
// without a hole, those at either end cut there. It allocates nothing.
func (h history) pieces(from, to time.Duration) iter.Seq[piece] {
	return func(yield func(piece) bool) {
		if from >= to {
			return
		}
		c := h.at(from)
		for p, more := c.next(); more && p.from < to; p, more = c.next() {
			if p.from < from || p.to > to {
				p = p.between(from, to)
			}
			if !yield(p) {
				return
			}
		}
	}
}

// at returns a cursor whose first piece is the one that holds a time.
func (h history) at(from time.Duration) cursor {
	c := cursor{history: h}
	for len(h.steps) > c.index && c.time+h.steps[c.index].Span <= from {
		c.time += h.steps[c.index].Span
		c.index++
	}
	if len(h.log) > 0 {
		c.index = max(sort.Search(len(h.log), func(i int) bool { return h.log[i].At > from })-1, 0)
	}
	return c
}

// cursor walks over the pieces of a history.
type cursor struct {
	history
	index int           // of the step or the reading that the next piece begins at
	time  time.Duration // where the next step begins
}

// next returns the next whole piece; false when there is none.
func (c *cursor) next() (piece, bool) {
	if c.index < len(c.steps) {
		s := c.steps[c.index]
		p := piece{from: c.time, to: c.time + s.Span, start: s.Temperature, end: s.Temperature, index: c.index}
		p.joined = line{p.start, p.end}
		c.time, c.index = p.to, c.index+1
		return p, true
	}
	for c.index+1 < len(c.log) {
		a, b := c.log[c.index], c.log[c.index+1]
		c.index++
		if b.At == a.At { // the same reading once more
			continue
		}
		p := piece{from: a.At, to: b.At, start: a.Temperature, end: b.Temperature, index: c.index - 1}
		if c.held {
			p.end = a.Temperature
		}
		p.joined = line{p.start, p.end}
		if b.At-a.At > c.gap {
			p.gap = true
			p.start = warmer(a.Temperature, b.Temperature)
			p.end = p.start
		}
		return p, true
	}
	return piece{}, false
}

// between returns the part of a piece between two times.
func (p piece) between(from, to time.Duration) piece {
	whole := p
	part := func(at time.Duration) float64 { return float64(at-whole.from) / float64(whole.to-whole.from) }
	if p.from < from {
		p.from, p.start, p.joined.start = from, temperatureAt(whole.start, whole.end, part(from)), temperatureAt(whole.joined.start, whole.joined.end, part(from))
	}
	if p.to > to {
		p.to, p.end, p.joined.end = to, temperatureAt(whole.start, whole.end, part(to)), temperatureAt(whole.joined.start, whole.joined.end, part(to))
	}
	return p
}

// temperatureAt returns the temperature at a fraction of the way between two.
func temperatureAt(start, end quantity.Temperature, part float64) quantity.Temperature {
	if start == end || part == 0 {
		return start
	}
	t, err := quantity.Celsius(start.Celsius() + part*(end.Celsius()-start.Celsius()))
	if err != nil { // between two temperatures lies a third
		return end
	}
	return t
}

// at returns the time at a fraction of the piece.
func (p piece) at(part float64) time.Duration {
	return p.from + time.Duration(math.Round(part*float64(p.to-p.from)))
}

// temperature returns the temperature at a fraction of the piece.
func (p piece) temperature(part float64) quantity.Temperature {
	if part == 1 {
		return p.end
	}
	return temperatureAt(p.start, p.end, part)
}

// warmFrom returns when the temperature at the start of a piece was read: over a
// gap it may be that of the reading at its end.
func (p piece) warmFrom() time.Duration {
	if p.gap && p.start.Compare(p.joined.start) > 0 {
		return p.to
	}
	return p.from
}

// hours returns how long a piece lasts.
func (p piece) hours() float64 { return float64(p.to-p.from) / float64(time.Hour) }

// warmer returns the warmer of two temperatures.
func warmer(t, u quantity.Temperature) quantity.Temperature {
	if t.Compare(u) < 0 {
		return u
	}
	return t
}
