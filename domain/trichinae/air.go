package trichinae

import (
	"time"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// while is a time at a temperature, or at one that is not stated. It is open
// when it lasts until something else is shown.
type while struct {
	temperature material.Known[quantity.Temperature]
	span        time.Duration
	open        bool
}

// reach is how long some whiles last that are warm enough.
type reach struct {
	surely   time.Duration // by every text
	least    time.Duration // by the text that asks for the least
	possible time.Duration // with what has no temperature stated
	open     bool          // what is warm enough, or may be, has no end stated
}

// status holds the time against what is needed.
func (r reach) status(needed time.Duration) finding.Status {
	switch {
	case r.surely >= needed:
		return finding.Met
	case r.least >= needed:
		return finding.Near
	case r.open || r.possible >= needed:
		return finding.NotShown
	default:
		return finding.NotMet
	}
}

// added returns how long all whiles together are warm enough.
func added(whiles []while, f Floor) reach { return reaching(whiles, f, sum) }

// unbroken returns how long the whiles are warm enough without a break; those
// that follow each other must be given in order.
func unbroken(whiles []while, f Floor) reach { return reaching(whiles, f, longest) }

func reaching(whiles []while, f Floor, over func([]while, func(while) bool) time.Duration) reach {
	above := func(floor quantity.Temperature, unknown bool) func(while) bool {
		return func(w while) bool {
			t, known := w.temperature.Get()
			return known && t.Compare(floor) >= 0 || !known && unknown
		}
	}
	r := reach{surely: over(whiles, above(f.Surely, false)), least: over(whiles, above(f.Least, false)), possible: over(whiles, above(f.Least, true))}
	for _, w := range whiles {
		r.open = r.open || w.open && above(f.Least, true)(w)
	}
	return r
}

func sum(whiles []while, in func(while) bool) time.Duration {
	var all time.Duration
	for _, w := range whiles {
		if in(w) {
			all += w.span
		}
	}
	return all
}

func longest(whiles []while, in func(while) bool) time.Duration {
	var most, now time.Duration
	for _, w := range whiles {
		if in(w) {
			now += w.span
		} else {
			now = 0
		}
		most = max(most, now)
	}
	return most
}

func stepsOf(steps []formula.Step) []while {
	all := make([]while, 0, len(steps))
	for _, s := range steps {
		all = append(all, while{temperature: s.Temperature, span: s.Span, open: s.Span == 0})
	}
	return all
}

func warmthsOf(steps []formula.Warmth) []while {
	all := make([]while, 0, len(steps))
	for _, s := range steps {
		all = append(all, while{temperature: s.Temperature, span: s.Span, open: s.Span == 0})
	}
	return all
}

// holdsOf returns the holds of some kinds; a mixture that is deeper than deepest,
// or of which that is not known, is left out where it matters.
func holdsOf(holds []formula.Hold, deepest quantity.Length, kinds ...formula.HoldOf) []while {
	var all []while
	for _, h := range holds {
		shallow := deepest.IsZero() || !h.Depth.IsZero() && h.Depth.Compare(deepest) <= 0
		for _, k := range kinds {
			if h.Of == k && shallow {
				all = append(all, while{temperature: h.Temperature, span: h.Span, open: h.Span == 0})
			}
		}
	}
	return all
}
