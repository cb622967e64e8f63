package acidity

import (
	"fmt"
	"math"
	"slices"
)

// question is all that a model is told: what is known at the start and the
// readings so far, all above the target. What came after is not in it.
type question struct {
	facts facts
	seen  []reading // in order of time, at least one
}

// last is the latest reading.
func (q question) last() reading { return q.seen[len(q.seen)-1] }

// oneCase is a question with the answer that the course gives.
type oneCase struct {
	course    *course
	question  question
	early     bool // the readings end with the last one above earlyPH
	forecasts []forecast
	scores    []score // in the order of the forecasts
}

// stage is how many readings a forecast is made from: from From to To.
type stage struct {
	Name     string
	From, To int
}

// stages are the stages of every comparison; each case is at one.
func stages() []stage {
	return []stage{{"1 reading", 1, 1}, {"2 readings", 2, 2}, {"3 readings", 3, 3}, {"4 to 6 readings", 4, 6}, {"7 or more readings", 7, math.MaxInt}}
}

// stage returns the stage of the case.
func (c *oneCase) stage() stage {
	n := len(c.question.seen)
	all := stages()
	return all[slices.IndexFunc(all, func(s stage) bool { return s.From <= n && n <= s.To })]
}

// earlyPH ends the readings of an early case, in which there is nothing to see
// but the beginning of the fall.
const earlyPH = 5.5

// makeCases returns the cases of all courses in their order. Each begins at the
// first reading and ends with the 1st, 2nd, 3rd, 4th, 6th, 8th, 12th, 16th …,
// with the last one above earlyPH and with the last one above the target. Where
// nobody saw the target reached the last reading measured is the answer, and
// not shown; and of a computed lot no reading is that was taken after the truth,
// above the target by chance: nothing is left to foretell then.
func makeCases(all []course) []*oneCase {
	var cases []*oneCase
	for i := range all {
		c := &all[i]
		above := leading(c.readings, target)
		if above == len(c.readings) && !c.origin.computed() {
			above--
		}
		for above > 0 && c.readings[above-1].hour > c.truth.After {
			above--
		}
		early := min(leading(c.readings, earlyPH), above)
		for n := 1; n <= above; n++ {
			if n == early || n == above || usualCount(n) {
				cases = append(cases, &oneCase{
					course: c, early: n == early, question: question{facts: c.facts, seen: slices.Clone(c.readings[:n])},
				})
			}
		}
	}
	return cases
}

// usualCount reports whether n is 1, 2, 3, 4, 6, 8, 12, 16, 24 … : a power of
// two, or one and a half times that.
func usualCount(n int) bool {
	for n%2 == 0 {
		n /= 2
	}
	return n == 1 || n == 3
}

// leading returns how many readings there are before the first that is not above
// a pH.
func leading(readings []reading, ph float64) int {
	n := slices.IndexFunc(readings, func(r reading) bool { return r.ph <= ph })
	if n < 0 {
		return len(readings)
	}
	return n
}

// distinct returns an error when two courses have the same id: one would count
// twice.
func distinct(all []course) error {
	seen := map[string]string{}
	for _, c := range all {
		if other, ok := seen[c.id]; ok {
			return fmt.Errorf("%s: id %q was read already, from %s", c.file, c.id, other)
		}
		seen[c.id] = c.file
	}
	return nil
}
