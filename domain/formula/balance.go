package formula

import (
	"math"
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// Balance is one of several scales at hand.
type Balance struct {
	Name     string
	Ranges   Divisions     // finest first; the end of the last is what the scale can take, bowl and all
	Bowl     quantity.Mass // what stands on it while weighing; it uses up some of what the scale can take
	Accuracy quantity.Mass // how far its maker says that it may be off, to either side; zero when not stated
}

// end returns up to which load a range reaches, less the bowl; endless when it
// has no end.
func (b Balance) end(r Range) (load quantity.Mass, endless bool) {
	return r.UpTo.Minus(b.Bowl), r.UpTo.IsZero()
}

// capacity returns the most that it takes at once; nothing without an end.
func (b Balance) capacity() quantity.Mass {
	load, endless := b.end(b.Ranges[len(b.Ranges)-1])
	if endless {
		return quantity.Mass{}
	}
	return load
}

// division returns the division for a load, and false for more than it takes.
func (b Balance) division(load quantity.Mass) (quantity.Mass, bool) {
	for _, r := range b.Ranges {
		if end, endless := b.end(r); endless || load.Less(end) {
			return r.Division, true
		}
	}
	return quantity.Mass{}, false
}

// Balances is the scales at hand. A load goes on the one with the finest
// division for it, of those that take it; of equals on the one listed first. So
// cures and cultures, which weigh little, come on the fine one by themselves.
type Balances []Balance

// For returns the place of the scale that a load goes on. What is too much for
// all of them goes on the one that takes most, in portions.
func (b Balances) For(load quantity.Mass) int {
	best := -1
	var finest quantity.Mass
	for i, scale := range b {
		division, takes := scale.division(load)
		if takes && (best < 0 || division.Less(finest)) {
			best, finest = i, division
		}
	}
	if best >= 0 {
		return best
	}
	most := quantity.Mass{}
	for i, scale := range b {
		if end, _ := scale.end(scale.Ranges[len(scale.Ranges)-1]); best < 0 || most.Less(end) {
			best, most = i, end
		}
	}
	return best
}

// Divisions returns the finest division for each load as one list, as if the
// scales were one. It reports fault.Invalid, with paths from the list of scales
// down, for a scale without a range, a division of nothing, and a bowl that is
// more than the scale takes.
func (b Balances) Divisions() (Divisions, error) {
	var bad fault.Collector
	var ends []quantity.Mass
	endless := false
	for i, scale := range b {
		if len(scale.Ranges) == 0 {
			bad.Add(fault.At(i, "ranges"), "required", "a scale has at least one division")
			continue
		}
		for j, r := range scale.Ranges {
			if r.Division.IsZero() {
				bad.Add(fault.At(i, "ranges", j, "division"), "minimum", "a division must be more than nothing")
			}
			end, open := scale.end(r)
			endless = endless || open
			if !open && (quantity.Mass{}).Less(end) {
				ends = append(ends, end)
			}
		}
		last := scale.Ranges[len(scale.Ranges)-1]
		if end, open := scale.end(last); !open && !(quantity.Mass{}).Less(end) {
			bad.Add(fault.At(i, "bowl"), "maximum", "a bowl of %s is all that the scale takes (%s), or more", scale.Bowl, last.UpTo)
		}
	}
	if err := bad.Err("invalid-value", "the scales have no meaning as they stand"); err != nil {
		return nil, err
	}
	slices.SortFunc(ends, compareMasses)
	ends = slices.Compact(ends)
	if endless {
		ends = append(ends, quantity.Mass{})
	}
	var d Divisions
	var from quantity.Mass
	for _, end := range ends {
		division, _ := b[b.For(from)].division(from)
		if n := len(d); n > 0 && d[n-1].Division == division {
			d[n-1].UpTo = end
		} else {
			d = append(d, Range{UpTo: end, Division: division})
		}
		from = end
	}
	return d, nil
}

func compareMasses(a, b quantity.Mass) int {
	switch {
	case a.Less(b):
		return -1
	case b.Less(a):
		return 1
	default:
		return 0
	}
}

// On returns the scale that a line goes on; false when one list of divisions
// was stated, or it is spooned.
func (s Sheet) On(l Line) (Balance, bool) {
	if len(s.Scales) == 0 || l.Spooned() {
		return Balance{}, false
	}
	return s.Scales[s.Scales.For(l.Exact)], true
}

// LargestError returns how far what is weighed may be off from what was to be
// weighed, as a part of that: half a division of the scale, or a whole one for a
// dose that is rounded down or up, or what rounding has moved it by where that is
// more, and what the maker of the scale says that it may be off. What is more than
// the scale takes is weighed in portions, each of which may be off. It returns
// false for what is spooned and for a weight of nothing.
func (s Sheet) LargestError(l Line) (quantity.Ratio, bool) {
	if l.Spooned() || l.Exact.IsZero() {
		return quantity.Ratio{}, false
	}
	const half = 0.5
	most := l.Division.Grams()
	if l.Rounding() == quantity.ToNearest {
		most *= half
	}
	accuracy, capacity := 0.0, s.Scale[len(s.Scale)-1].UpTo
	if b, ok := s.On(l); ok {
		accuracy, capacity = b.Accuracy.Grams(), b.capacity()
	}
	most = math.Max(most, math.Abs(l.OnScale().Minus(l.Exact).Grams())) + accuracy
	if !capacity.IsZero() {
		most *= math.Max(1, math.Ceil(l.OnScale().Grams()/capacity.Grams()))
	}
	r, err := quantity.NewRatio(most / l.Exact.Grams())
	return r, err == nil
}

// Moved returns the additions whose dose is more, and those whose dose is less,
// than was asked for, on the meat or batch as weighed. What is spooned is not
// rounded and is in neither. A cure or accelerator is never among the former and
// a culture never among the latter.
func (s Sheet) Moved() (over, under []fault.Path) {
	batch := s.Batch()
	for _, l := range s.Lines {
		if l.Role == Meat || l.Spooned() {
			continue
		}
		asked := l.Exact
		if share := l.Asked.ofBatch(); !share.IsZero() {
			asked = share.Of(batch)
		}
		const exact = 1e-9 // of the dose
		slack := math.Max(exact*asked.Grams(), exact*l.Division.Grams())
		switch d := l.OnScale().Minus(asked).Grams(); {
		case d > slack:
			over = append(over, l.Member)
		case d < -slack:
			under = append(under, l.Member)
		}
	}
	return over, under
}

// Weighed is the place of a line in the work at the scale.
type Weighed struct {
	Bowl       int           // from 1; the lines of a bowl follow each other
	Cumulative quantity.Mass // what the scale shows when it is in, tared before the first of the bowl
}

// kinds of lines that may share a bowl.
func (r Role) bowl() Role {
	switch r {
	case Salt, Sugar, Spice, Binder, Other:
		return Spice
	default:
		return r
	}
}

// Bowls says for each line of the sheet which bowl it is weighed into; zero for
// what is spooned. Lines that follow each other share a bowl when they may be
// mixed dry (salt, sugar, spices and what is of no other role), and when all of
// it still goes on the same scale in the same division, so that what the scale
// shows is a whole number of divisions. Meat shares with meat. A cure, an
// accelerator, an acidulant and a culture each share with their own kind alone: too
// much of them can't be taken out of anything else, and a culture must not meet the
// cure. Common practice, no source.
func (s Sheet) Bowls() []Weighed {
	bowls := make([]Weighed, len(s.Lines))
	count, last := 0, -1 // last is the line before in the same bowl
	for i, l := range s.Lines {
		if l.Spooned() {
			last = -1
			continue
		}
		sum := l.OnScale()
		shares := false
		if last >= 0 && s.Lines[last].Role.bowl() == l.Role.bowl() {
			all := bowls[last].Cumulative.Plus(sum)
			shares = s.sameRange(s.Lines[last], l, all)
			if shares {
				sum = all
			}
		}
		if !shares {
			count++
		}
		bowls[i] = Weighed{Bowl: count, Cumulative: sum}
		last = i
	}
	return bowls
}

// sameRange reports whether two lines go on the same scale, and a load is shown
// by it in the division of both.
func (s Sheet) sameRange(l, m Line, load quantity.Mass) bool {
	if l.Division != m.Division {
		return false
	}
	if len(s.Scales) == 0 {
		end := s.Scale[len(s.Scale)-1].UpTo
		return s.Scale.Division(load) == l.Division && (end.IsZero() || load.Less(end))
	}
	scale := s.Scales.For(l.Exact)
	division, takes := s.Scales[scale].division(load)
	return takes && division == l.Division && s.Scales.For(m.Exact) == scale
}
