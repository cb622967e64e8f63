package pathogen

import (
	"time"

	"greenweight/domain/formula"
	"greenweight/domain/quantity"
)

// while is a time in which it was at least as warm.
type while struct {
	temperature quantity.Temperature // zero when it is not stated
	span        time.Duration        // 0 when it is not stated: a cold while of any length breaks the warmth
}

// afterFermentation returns the holds of the stuffed sausages and the steps in
// smoke and heat, in order. The core of a step stands for its air where that is
// not stated: air that warms a core is warmer than it.
func afterFermentation(p formula.Plan) []while {
	all := make([]while, 0, len(p.Hold)+len(p.Smoke)+len(p.Heat))
	for _, h := range p.Hold {
		if h.Of == formula.Stuffed {
			all = append(all, while{h.Temperature.Or(quantity.Temperature{}), h.Span})
		}
	}
	for _, steps := range [][]formula.Warmth{p.Smoke, p.Heat} {
		for _, s := range steps {
			w := while{s.Temperature.Or(quantity.Temperature{}), s.Span}
			if core, known := s.Core.Get(); known && w.temperature.IsZero() {
				w = while{core, s.CoreHeld}
			}
			all = append(all, w)
		}
	}
	return all
}

// fermenting returns the steps of the fermentation.
func fermenting(p formula.Plan) []while {
	all := make([]while, 0, len(p.Fermentation))
	for _, s := range p.Fermentation {
		all = append(all, while{s.Temperature.Or(quantity.Temperature{}), s.Span})
	}
	return all
}

// coldest returns the coldest temperature that is stated, and whether all are.
func coldest(steps []while) (least quantity.Temperature, all bool) {
	all = len(steps) > 0
	for _, s := range steps {
		switch {
		case s.temperature.IsZero():
			all = false
		case least.IsZero() || s.temperature.Compare(least) < 0:
			least = s.temperature
		}
	}
	return least, all
}

// asked is a stage as a course is held against it.
type asked struct {
	least quantity.Temperature
	span  time.Duration
}

// never is a time that does not come within a step.
const never = time.Duration(1<<63 - 1)

// longest returns, for each stage, the longest unbroken time that a course is as
// warm as the stage asks, right after it kept the stages before it:
//
//	e(k) = max over t0 ≤ … ≤ tk+1 of tk+1 - tk
//	       with T ≥ Tj on [tj, tj+1] for j ≤ k, and tj+1 - tj ≥ Dj for j < k
//
// A course keeps all stages when the last one is as long as it asks. A step that
// is longer or warmer never shortens any of them. It walks the course once for
// each stage.
func longest(course []while, stages []asked) []time.Duration {
	best := make([]time.Duration, len(stages))
	elapsed := make([]time.Duration, len(stages)) // in a stage up to the step; below 0 when it is broken
	for k := range elapsed {
		elapsed[k] = -1
	}
	for _, w := range course {
		enter := time.Duration(0) // when in the step the stage before may be left
		for k, s := range stages {
			was := elapsed[k]
			done := never
			if was >= s.span {
				done = 0
			}
			elapsed[k] = -1
			if !w.temperature.IsZero() && w.temperature.Compare(s.least) >= 0 {
				if was >= 0 {
					elapsed[k], done = was+w.span, max(0, s.span-was)
				}
				if enter <= w.span {
					elapsed[k], done = max(elapsed[k], w.span-enter), min(done, enter+s.span)
				}
			}
			best[k] = max(best[k], elapsed[k])
			enter = never
			if done <= w.span {
				enter = done
			}
		}
	}
	return best
}

// warmEnough holds a course against stages of hold and heat, by °F and, where
// that fails, by the lower figure of each.
func warmEnough(course []while, stages []Stage) (reached []time.Duration, kept, near bool) {
	by := func(least func(Warm) quantity.Temperature) ([]time.Duration, bool) {
		want := make([]asked, len(stages))
		for i, s := range stages {
			want[i] = asked{least(s.Warm), s.Span}
		}
		got := longest(course, want)
		return got, got[len(got)-1] >= stages[len(stages)-1].Span
	}
	if reached, kept = by(func(w Warm) quantity.Temperature { return w.Fahrenheit }); kept {
		return reached, true, false
	}
	_, near = by(Warm.near)
	return reached, false, near
}

// hottestCore returns the longest time that a core is kept at a temperature or
// above, and whether any core is stated.
func hottestCore(p formula.Plan, least quantity.Temperature) (held time.Duration, reached, stated bool) {
	for _, steps := range [][]formula.Warmth{p.Smoke, p.Heat} {
		for _, s := range steps {
			core, known := s.Core.Get()
			stated = stated || known
			if known && core.Compare(least) >= 0 {
				held, reached = max(held, s.CoreHeld), true
			}
		}
	}
	return held, reached, stated
}
