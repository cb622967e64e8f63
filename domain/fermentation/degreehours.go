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
	Gaps     []Gap  // in the log, until the clock has surely ended
	Growth   Growth // what it lets Staphylococcus aureus grow, as an index
	Findings []finding.Finding
	Notes    []finding.Note
}

// Clock is the time that counts: from the start of the temperatures, or a later
// one that is told, to the first pH at or below 5.3. A pH that rises again does
// not reopen it.
type Clock struct {
	Start   time.Duration
	End     time.Duration // of the reading that ended it, or of the temperatures while none has
	Reading int           // index of the reading that ended it, -1 while none has
	Sure    int           // index of the first reading at or below 5.3 with all that it may be off, -1 while there is none
	Counted time.Duration // how far the temperatures were counted: less than End where they are not known until then

	// Estimated is where a straight line between the reading that ended the clock
	// and the one before crosses 5.3. An estimate: acid does not come in straight
	// lines, and it decides nothing. nil without a reading before.
	Estimated *time.Duration

	// Stated is when pH 5.3 is said to have been reached. It decides nothing either.
	Stated *time.Duration

	proven bool // the temperatures are known up to the reading that Sure names
}

// Ended reports whether a pH at or below 5.3 was read.
func (c Clock) Ended() bool { return c.Reading >= 0 }

// Covered reports whether the temperatures are known up to the end.
func (c Clock) Covered() bool { return c.Counted == c.End }

// Sum is the degree-hours of a course by one rule. Where the log has gaps it is
// that with the hotter of both readings over each.
type Sum struct {
	Set         rulebook.DegreeHourSet
	DegreeHours quantity.DegreeHours
	Joined      quantity.DegreeHours // with the readings around gaps joined as any others

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

	HourMean  *HourMean             // the highest mean of an hour before the clock's end; nil when it ended at the start
	Estimated *quantity.DegreeHours // until Clock.Estimated; nil without it, or where the temperatures end before it
	Stated    *quantity.DegreeHours // until Clock.Stated; nil alike
	AtPresent *TimeLeft             // nil when the clock has ended
	AtPlanned *TimeLeft             // the same at the planned temperature
	IfHotter  *Headroom             // nil when the clock has ended, and in the hottest class
	Longest   *Longest              // from a fresh start at Highest; nil when there is none

	high        quantity.TemperatureDelta // what the thermometer may read too low
	warm        stretch                   // what the high end of Range counts
	joinedClass rulebook.DegreeHourClass  // of the highest temperature without what gaps are taken for
	warmest     quantity.Temperature      // of what the high end of Range counts
	everAbove   bool                      // whether that was ever above the base, with the thermometer too low
}

// stretch is a part of a history.
type stretch struct {
	history
	from, to time.Duration
}

// exceeded reports whether the limit is exceeded. What is only taken for a gap
// does not show that.
func (s Sum) exceeded() bool { return s.Joined.Compare(s.joinedClass.Limit) > 0 }

// reached reports whether the sum is at the limit or over it.
func (s Sum) reached() bool { return s.DegreeHours.Compare(s.Class.Limit) >= 0 }

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
// where they cross the base; nothing is earned back below it. Over a gap of a log
// the hotter of both readings counts all the time. The course is read once for all
// sums of both rules, once more for the mean of an hour and once for when a limit
// was reached, and never copied: the cost is proportional to the count of
// readings, and what is allocated does not depend on it but for gaps.
//
// A rule is met only when a pH at or below 5.3 was read and the sum is below the
// limit, and would be if the thermometer read too low by its uncertainty all the
// time. It is near where only the second fails, at the limit itself, where only
// what is taken for gaps is over it, and where the pH may have been above 5.3. It
// is not shown while no pH at or below 5.3 was read, where the temperatures until
// it are not known, and where a log has a gap before it: an hour that nobody read
// may have been hotter than both readings beside it. It is not applicable when the
// chamber was never above the base, not even with the thermometer too low; this
// says nothing of the acid, which a finding of its own does. A pH that is followed
// within three hours by one that is surely above 5.3 is not sure.
//
// It returns a fault.Invalid with every violation, as described at Course.
func DegreeHours(c Course) (Exposure, error) {
	h, ph, err := c.read()
	if err != nil {
		return Exposure{}, err
	}
	sets := rulebook.DegreeHourSets()
	e := Exposure{Clock: c.clock(h, ph, sets[0].TargetPH), Sums: make([]Sum, len(sets))}
	if d, ok := rulebook.DegreeHourSetFor(c.Rulebook); ok {
		e.Deciding = d.ID
	}
	e.add(c, h, sets)
	e.judge(c, ph)
	e.Notes = e.notes(c, h, ph)
	return e, nil
}

// clock returns when the time that counts begins and ends.
func (c Course) clock(h history, ph []phReading, target quantity.PH) Clock {
	k := Clock{Start: c.ClockStart, End: h.end, Reading: -1, Sure: -1, Stated: c.StatedEnd}
	for i, r := range ph {
		if !k.Ended() && atOrBelow(r.PH, target) {
			k.End, k.Reading = max(r.At, k.Start), r.index
			if i > 0 {
				k.Estimated = new(max(k.Start, crossing(ph[i-1].PHReading, r.PHReading, target)))
			}
		}
		if k.Sure < 0 && atOrBelow(r.ends().High, target) && !contradicted(ph[i:], target) {
			k.Sure, k.proven = r.index, r.At <= h.end
		}
	}
	k.Counted = min(k.End, h.end)
	return k
}

// runsTo returns how far the high end of the sums counts: until a pH that was
// surely at or below 5.3, or as far as temperatures are known.
func (e *Exposure) runsTo(c Course, h history) time.Duration {
	if e.Clock.proven {
		return max(c.PHReadings[e.Clock.Sure].At, e.Clock.Counted)
	}
	return h.end
}

// contradicted reports whether the first of some readings is followed so soon by one
// that is surely above the target that both can't be right.
func contradicted(ph []phReading, target quantity.PH) bool {
	for _, r := range ph[1:] {
		if r.At-ph[0].At > tooSoon {
			return false
		}
		if !atOrBelow(r.ends().Low, target) {
			return true
		}
	}
	return false
}

// tooSoon is within what time the pH of a sausage does not rise by itself. A choice
// of this project.
const tooSoon = 3 * time.Hour

// atOrBelow reports whether a pH is at or below a target, to a billionth: ends
// are computed from a reading and its uncertainty, and 5.2 + 0.1 is 5.3.
func atOrBelow(p, target quantity.PH) bool { return p.Float() <= target.Float()+1e-9 }

// crossing returns where a straight line from a reading above a pH to one that is
// not crosses it.
func crossing(before, after PHReading, target quantity.PH) time.Duration {
	part := (before.PH.Float() - target.Float()) / (before.PH.Float() - after.PH.Float())
	return before.At + time.Duration(part*float64(after.At-before.At))
}

// add adds up the course by each rule.
func (e *Exposure) add(c Course, h history, sets []rulebook.DegreeHourSet) {
	tallies := make([]tally, len(sets))
	for i, set := range sets {
		tallies[i] = newTally(set, c.thermometer(), len(c.Steps))
	}
	begin, counted := e.Clock.Start, e.Clock.Counted
	var top, joined, warmest peak
	var growth growth
	for p := range h.pieces(begin, counted) {
		if p.gap {
			e.gap(h, p)
		}
		for i := range tallies {
			tallies[i].count(p)
		}
		growth.add(p)
		top.reach(p.start, p.warmFrom())
		top.reach(p.end, p.to)
		joined.reach(p.joined.start, p.from)
		joined.reach(p.joined.end, p.to)
	}
	warmest = top
	for p := range h.pieces(counted, e.runsTo(c, h)) {
		if p.gap {
			e.gap(h, p)
		}
		for i := range tallies {
			tallies[i].runOn(p)
		}
		warmest.reach(p.start, p.warmFrom())
		warmest.reach(p.end, p.to)
	}
	if running := !e.Clock.Ended() || !e.Clock.Covered(); running { // the last of readings that are held
		top.reach(h.last, h.end)
		joined.reach(h.last, h.end)
	}
	if !e.Clock.proven {
		warmest.reach(h.last, h.end)
	}
	e.Growth = growth.total()
	mean := hourMean(h, begin, counted)
	for i, set := range sets {
		s := &e.Sums[i]
		*s = tallies[i].total(set)
		s.high, s.warmest, s.warm = c.thermometer(), warmest.temperature, stretch{h, begin, e.runsTo(c, h)}
		s.Highest, s.HighestAt = top.temperature, top.at
		s.joinedClass = set.ClassOf(joined.temperature)
		s.complete(c, h, e.Clock, mean)
	}
	e.addsOfGaps(h)
}

// complete adds what follows from a sum and its highest temperature.
func (s *Sum) complete(c Course, h history, clock Clock, mean *HourMean) {
	r := reader{s.Set}
	s.Class, s.IfWarmer = s.Set.ClassOf(s.Highest), s.Set.ClassOf(shifted(s.warmest, s.high))
	s.Remaining = s.Class.Limit.Minus(s.DegreeHours)
	s.Used = share(r.degreeHours(s.DegreeHours), r.degreeHours(s.Class.Limit))
	if s.reached() {
		s.ReachedAt = new(r.reached(h, clock.Start, clock.Counted))
	}
	until := func(at *time.Duration) *quantity.DegreeHours {
		if at == nil || *at > h.end {
			return nil
		}
		return new(r.total(stretch{h, clock.Start, *at}, quantity.TemperatureDelta{}))
	}
	s.Estimated, s.Stated = until(clock.Estimated), until(clock.Stated)
	if mean != nil {
		own := *mean
		own.Class = s.Set.ClassOf(own.Temperature)
		s.HourMean = &own
	}
	if !s.Highest.IsZero() {
		s.Longest = new(LongestAt(s.Set, s.Highest))
	}
	if !clock.Ended() {
		s.AtPresent = new(s.left(h.last))
		if !c.Planned.IsZero() {
			s.AtPlanned = new(s.left(c.Planned))
		}
		s.IfHotter = s.ifHotter()
	}
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
