package fermentation

import (
	"time"

	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Exposure is what a course of fermentation came to, by each rule.
type Exposure struct {
	Clock    Clock
	Sums     []Sum  // one for each rule, in the order of rulebook.DegreeHourSets
	Deciding string // id of the rule that is the guidance of the rulebook asked for; empty where neither is
	Stricter string // id of the rule that came out worse; where neither decides it is the caution
	Findings []finding.Finding
	Notes    []finding.Note
}

// Clock is the time that counts: from the start of the temperatures to the first
// pH at or below 5.3. A pH that rises again does not reopen it.
type Clock struct {
	End     time.Duration // of the reading that ended it, or of the temperatures while none has
	Reading int           // index of the reading that ended it, -1 while none has
	Sure    int           // index of the first reading at or below 5.3 with all that it may be off, -1 while there is none
	Counted time.Duration // how far the temperatures were counted: less than End where they are not known until then

	// Estimated is where a straight line between the reading that ended the clock
	// and the one before crosses 5.3. An estimate: acid does not come in straight
	// lines, and it decides nothing. nil without a reading before.
	Estimated *time.Duration

	proven bool // the temperatures are known up to the reading that Sure names
}

// Ended reports whether a pH at or below 5.3 was read.
func (c Clock) Ended() bool { return c.Reading >= 0 }

// Covered reports whether the temperatures are known up to the end.
func (c Clock) Covered() bool { return c.Counted == c.End }

// Sum is the degree-hours of a course by one rule.
type Sum struct {
	Set         rulebook.DegreeHourSet
	DegreeHours quantity.DegreeHours

	// Range is from the thermometer reading too high all the time to its reading
	// too low, by its uncertainty. Where the pH that ended the clock may have been
	// above 5.3, its high end runs until one that was not, or to the end.
	Range quantity.Between[quantity.DegreeHours]

	Steps     []quantity.DegreeHours // what each step brought before the clock's end; nil for a log
	Highest   quantity.Temperature   // before the clock's end; zero when the clock ended at the start
	HighestAt time.Duration          // when it was first reached

	Class       rulebook.DegreeHourClass // of Highest
	IfWarmer    rulebook.DegreeHourClass // of the highest temperature that goes with the high end of Range
	Remaining   quantity.DegreeHours     // up to the limit, negative where it is exceeded
	Used        quantity.Ratio           // of the limit
	AboveBaseAt *time.Duration           // when the chamber first came above the base; nil when it never did
	AboveBase   time.Duration            // how long it was above, before the clock's end

	// ReachedAt is when the limit that was in force at the time was reached. nil
	// while it is not.
	ReachedAt *time.Duration

	Estimated *quantity.DegreeHours // until Clock.Estimated; nil without it, or where the temperatures end before it
	AtPresent *TimeLeft             // nil when the clock has ended
	AtPlanned *TimeLeft             // the same at the planned temperature
	Longest   *Longest              // from a fresh start at Highest; nil when there is none

	high      quantity.TemperatureDelta // what the thermometer may read too low
	warm      []piece                   // what the high end of Range counts
	everAbove bool                      // whether any of them is above the base as read
}

// exceeded reports whether the limit is exceeded.
func (s Sum) exceeded() bool { return s.DegreeHours.Compare(s.Class.Limit) > 0 }

// warmerReaches reports whether the high end reaches the limit that goes with it.
func (s Sum) warmerReaches() bool { return s.Range.High.Compare(s.IfWarmer.Limit) >= 0 }

// TimeLeft is how long a temperature may last from now on. A hotter one can be
// of a class with a lower limit.
type TimeLeft struct {
	Temperature quantity.Temperature
	Class       rulebook.DegreeHourClass // that then holds
	Left        *time.Duration           // until the limit is reached: zero when it is, nil when it never is, at or below the base
	Surely      *time.Duration           // the same if the thermometer reads too low by its uncertainty
}

// DegreeHours returns the degree-hours of a course by each rule, and what is
// found of them.
//
// The sum is exact for the temperatures as given: steps and straight lines, cut
// where they cross the base; nothing is earned back below it. The cost is
// proportional to the count of readings.
//
// A rule is met only when a pH at or below 5.3 was read and the sum is below the
// limit, and would be if the thermometer read too low by its uncertainty all the
// time. It is near where only the second fails, at the limit itself, and where the
// pH may have been above 5.3. It is not shown while no pH at or below 5.3 was
// read, and where the temperatures until it are not known. It is not applicable
// when the chamber was never above the base; this says nothing of the acid, which
// a finding of its own does.
//
// It returns a fault.Invalid with every violation, as described at Course.
func DegreeHours(c Course) (Exposure, error) {
	h, ph, err := c.read()
	if err != nil {
		return Exposure{}, err
	}
	e := Exposure{}
	sets := rulebook.DegreeHourSets()
	if d, ok := rulebook.DegreeHourSetFor(c.Rulebook); ok {
		e.Deciding = d.ID
	}
	e.Clock = clock(h, ph, sets[0].TargetPH)
	counted := h.until(e.Clock.Counted)
	warm := counted // what the high end counts
	switch {
	case e.Clock.proven:
		warm = h.until(c.PHReadings[e.Clock.Sure].At)
	case e.Clock.Ended():
		warm = h.pieces
	}
	for _, set := range sets {
		e.Sums = append(e.Sums, c.sum(h, e.Clock, set, counted, warm))
	}
	e.judge(c, ph)
	e.Notes = e.notes(c, h, ph)
	return e, nil
}

// clock returns when the time that counts ends.
func clock(h history, ph []phReading, target quantity.PH) Clock {
	c := Clock{End: h.end(), Reading: -1, Sure: -1}
	for i, r := range ph {
		if !c.Ended() && atOrBelow(r.PH, target) {
			c.End, c.Reading = max(r.At, 0), r.index
			if i > 0 {
				c.Estimated = new(crossing(ph[i-1].PHReading, r.PHReading, target))
			}
		}
		if c.Sure < 0 && atOrBelow(r.ends().High, target) {
			c.Sure, c.proven = r.index, r.At <= h.end()
		}
	}
	c.Counted = min(c.End, h.end())
	return c
}

// atOrBelow reports whether a pH is at or below a target, to a billionth: ends
// are computed from a reading and its uncertainty, and 5.2 + 0.1 is 5.3.
func atOrBelow(p, target quantity.PH) bool { return p.Float() <= target.Float()+1e-9 }

// crossing returns where a straight line from a reading above a pH to one that is
// not crosses it, at the start where that is before it.
func crossing(before, after PHReading, target quantity.PH) time.Duration {
	part := (before.PH.Float() - target.Float()) / (before.PH.Float() - after.PH.Float())
	return max(0, before.At+time.Duration(part*float64(after.At-before.At)))
}

// sum returns the degree-hours by a rule.
func (c Course) sum(h history, clock Clock, set rulebook.DegreeHourSet, counted, warm []piece) Sum {
	r := reader{set}
	s := Sum{Set: set, high: c.thermometer(), warm: warm}
	s.DegreeHours = r.total(counted, quantity.TemperatureDelta{})
	s.Range = quantity.Between[quantity.DegreeHours]{Low: r.total(counted, s.high.Negative()), High: r.total(warm, s.high)}
	s.Highest, s.HighestAt = highest(counted)
	top, _ := highest(warm)
	if running := !clock.Ended() || !clock.Covered(); running && h.last.Compare(s.Highest) > 0 { // the last of readings that are held
		s.Highest, s.HighestAt = h.last, h.end()
	}
	if !clock.proven {
		top = warmer(top, h.last)
	}
	s.Class, s.IfWarmer = set.ClassOf(s.Highest), set.ClassOf(shifted(top, s.high))
	s.Remaining = s.Class.Limit.Minus(s.DegreeHours)
	s.Used = share(r.degreeHours(s.DegreeHours), r.degreeHours(s.Class.Limit))
	s.AboveBase, s.AboveBaseAt = r.timeAbove(counted)
	s.everAbove = !r.total(warm, quantity.TemperatureDelta{}).IsZero()
	if s.DegreeHours.Compare(s.Class.Limit) >= 0 {
		s.ReachedAt = new(r.reached(counted))
	}
	for i := range c.Steps {
		s.Steps = append(s.Steps, r.total(counted[min(i, len(counted)):min(i+1, len(counted))], quantity.TemperatureDelta{}))
	}
	if clock.Estimated != nil && *clock.Estimated <= h.end() {
		s.Estimated = new(r.total(h.until(*clock.Estimated), quantity.TemperatureDelta{}))
	}
	if !s.Highest.IsZero() {
		s.Longest = new(LongestAt(set, s.Highest))
	}
	if !clock.Ended() {
		s.AtPresent = new(s.left(h.last))
		if !c.Planned.IsZero() {
			s.AtPlanned = new(s.left(c.Planned))
		}
	}
	return s
}

// left returns how long a temperature may last after the sum.
func (s Sum) left(t quantity.Temperature) TimeLeft {
	class := s.Set.ClassOf(warmer(s.Highest, t))
	warm := shifted(t, s.high)
	limit := s.Set.ClassOf(warmer(shifted(s.Highest, s.high), warm)).Limit
	return TimeLeft{
		Temperature: t, Class: class, Left: lasts(s.Set, class.Limit.Minus(s.DegreeHours), t),
		Surely: lasts(s.Set, limit.Minus(s.Range.High), warm),
	}
}

// shifted returns a temperature that was read too low by d; one that is not known
// stays unknown.
func shifted(t quantity.Temperature, d quantity.TemperatureDelta) quantity.Temperature {
	if t.IsZero() {
		return t
	}
	w, err := t.Plus(d)
	if err != nil { // no chamber is near absolute zero
		return t
	}
	return w
}

// share returns part of whole, which is a limit.
func share(part, whole float64) quantity.Ratio {
	r, err := quantity.NewRatio(part / whole)
	if err != nil {
		return quantity.Ratio{}
	}
	return r
}
