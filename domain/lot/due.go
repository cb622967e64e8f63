package lot

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"greenweight/domain/acidification"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Due is what is to be done next about a fermentation.
type Due struct {
	Code string    // stable, kebab-case
	By   time.Time // the zero time for at once
	Text string    // what, by when and why, for people
}

// Codes of what is due.
const (
	DueHoldLot         = "hold-lot"
	DueReadPH          = "read-ph"
	DueReadTemperature = "read-temperature"
	DueChangeChamber   = "change-chamber"
	DueCoolChamber     = "cool-chamber"
	DueHang            = "hang"
)

// daily is how long the pH may go unread where no limit on degree-hours is in
// sight. A choice of this project.
const daily = 24 * time.Hour

// due returns what is to be done next, what is most urgent first; nothing before
// the stuffing, and where the fermentation is over and kept its limits. It says
// nothing that is not in the record, the rules or the projection, and knows no
// present: a time that is past was missed.
//
// The pH is to be read when it is as likely as not at 5.3, and no later than half
// of the time that is left until the limit on degree-hours is reached with a
// thermometer that reads too low, so that something can still be done: the chamber
// cooled below the base. That half is a choice of this project.
func (s State) due(o Outlook) []Due {
	d := dues{q: o.Question}
	switch {
	case s.StuffedAt.IsZero():
		return nil
	case o.Exposure != nil && o.Question.LowAcid:
		d.keepCool(s, *o.Exposure)
		return d.all
	case o.Exposure == nil || o.Projection == nil:
		d.add(DueReadTemperature, nil, "Read the temperature of the chamber, now and again: %s", o.why())
		return d.all
	}
	e, p := *o.Exposure, *o.Projection
	reached, exceeded := limits(e)
	switch {
	case !e.Clock.Ended() && exceeded:
		d.add(DueHoldLot, nil, "Hold the lot, read the pH at once, and ask the authority: the limit on degree-hours was reached at %s, and no pH of 5.3 or below was read.", d.clock(*reached))
	case !e.Clock.Ended() && reached != nil:
		d.add(DueReadPH, nil, "Read the pH at once: no time is left until the limit on degree-hours, as far as it is known how warm it was.")
	case exceeded:
		d.add(DueHoldLot, nil, "Hold the lot and ask the authority: the limit on degree-hours was exceeded before pH 5.3 was read. Cooking does not undo it.")
		return d.all
	case e.Clock.Ended() && e.Clock.Sure < 0:
		d.add(DueReadPH, nil, "Read the pH again: what was read may still be above 5.3 by what the reading may be off.")
	case !e.Clock.Ended():
		d.readPH(p.To[0], e.Deciding)
	}
	if e.Clock.Sure < 0 {
		d.watch(s)
	} else {
		d.afterAcid(s, e, p)
	}
	slices.SortStableFunc(d.all, func(a, b Due) int { return a.By.Compare(b.By) })
	return d.all
}

// afterAcid says what is due once pH 5.3 was surely read: to hold the lot where it
// is not shown that the limit was kept, to read the pH again where the last one is
// above 5.3, and only else to go on.
func (d *dues) afterAcid(s State, e fermentation.Exposure, p acidification.Projection) {
	if f, open := unkept(e); open {
		said := "Hold the lot until it is shown that the limit on degree-hours was kept: " + f.Reason + "."
		if f.Remedy != "" {
			said += " " + f.Remedy
		}
		d.add(DueHoldLot, nil, "%s", said)
	}
	if !s.HungAt.IsZero() {
		return
	}
	last := d.q.Course.PHReadings[len(d.q.Course.PHReadings)-1]
	switch {
	case last.PH.Compare(targetPH()) > 0:
		d.add(DueReadPH, nil, "Read the pH again, of several pieces and with a meter that was just calibrated: %s was read at %s, above 5.3, after it had been below. "+
			"So soon it hardly rises by itself; one of the readings is wrong, or another piece is slower.", last.PH, d.clock(last.At))
	case len(d.all) == 0:
		d.goOn(p)
	}
}

// unkept returns the worst finding on a rule on degree-hours that counts and that is
// neither met nor of no concern; false where all are.
func unkept(e fermentation.Exposure) (finding.Finding, bool) {
	for _, status := range []finding.Status{finding.NotMet, finding.Near, finding.NotShown} {
		for _, sum := range e.Counting() {
			for _, f := range e.Findings {
				if f.LimitID == sum.Set.ID && f.Status == status {
					return f, true
				}
			}
		}
	}
	return finding.Finding{}, false
}

// keepCool says what is due of a lot whose plan declares low acid: the chamber is
// watched until the pieces hang, and cooled before degree-hours use up a limit.
func (d *dues) keepCool(s State, e fermentation.Exposure) {
	if reached, _ := limits(e); reached != nil {
		d.add(DueHoldLot, nil, "Hold the lot and ask the authority: a limit on degree-hours was reached at %s, and a declared low-acid plan has no acid to end their clock.", d.clock(*reached))
	} else if left, set := coolBy(e); left != nil {
		by := d.end() + *left
		d.add(DueCoolChamber, &by, "Cool the chamber to %.1f °C (%.0f °F) or below before %s: if the thermometer reads too low, the limit on degree-hours (%s) is reached then, "+
			"and a declared low-acid plan has no acid to end their clock.", set.Base.Celsius(), set.Base.Fahrenheit(), d.clock(by), set.ID)
	}
	if s.HungAt.IsZero() {
		d.watch(s)
	}
	slices.SortStableFunc(d.all, func(a, b Due) int { return a.By.Compare(b.By) })
}

// watch says when the temperature is to be read and, before pieces hang, when the
// plan goes on.
func (d *dues) watch(s State) {
	d.readTemperature()
	if s.HungAt.IsZero() {
		d.changeChamber(s)
	}
}

// coolBy returns the least time that is left at the present temperature by a rule
// that counts, with the thermometer too low; nil where none is reached.
func coolBy(e fermentation.Exposure) (*time.Duration, rulebook.DegreeHourSet) {
	var least *time.Duration
	var by rulebook.DegreeHourSet
	for _, sum := range e.Counting() {
		if sum.AtPresent == nil || sum.AtPresent.Surely == nil {
			continue
		}
		if least == nil || *sum.AtPresent.Surely < *least {
			least, by = sum.AtPresent.Surely, sum.Set
		}
	}
	return least, by
}

// why says why there is no answer.
func (o Outlook) why() string {
	f := o.NotShown
	if f == nil {
		f = o.NotProjected
	}
	said := []string{f.Detail}
	for _, v := range f.Violations {
		said = append(said, v.Detail)
	}
	return strings.Join(said, "; ") + "."
}

// dues gathers what is due.
type dues struct {
	q   Fermentation
	all []Due
}

func (d *dues) add(code string, by *time.Duration, format string, args ...any) {
	due := Due{Code: code, Text: fmt.Sprintf(format, args...)}
	if by != nil {
		due.By = d.at(*by)
	}
	d.all = append(d.all, due)
}

// at returns a time of the course, cut off to the minute: it must not be overrun.
func (d *dues) at(t time.Duration) time.Time { return d.q.Start.Add(t).Truncate(time.Minute) }

// clock tells a time of the course for people.
func (d *dues) clock(t time.Duration) string { return d.at(t).Format("2006-01-02 15:04") }

// limits returns when a limit that counts was reached, the first of them, nil where
// none was, and whether one is exceeded by what was read.
func limits(e fermentation.Exposure) (reached *time.Duration, exceeded bool) {
	for _, sum := range e.Counting() {
		if sum.ReachedAt == nil {
			continue
		}
		if reached == nil || *sum.ReachedAt < *reached {
			reached = sum.ReachedAt
		}
		exceeded = exceeded || slices.ContainsFunc(e.Findings, func(f finding.Finding) bool {
			return f.LimitID == sum.Set.ID && f.Status == finding.NotMet
		})
	}
	return reached, exceeded
}

// end returns up to when anything is known.
func (d *dues) end() time.Duration {
	var end time.Duration
	if n := len(d.q.Course.Log); n > 0 {
		end = d.q.Course.Log[n-1].At
	}
	if n := len(d.q.Course.PHReadings); n > 0 {
		end = max(end, d.q.Course.PHReadings[n-1].At)
	}
	return end
}

// readPH says when the pH is to be read next, and why.
func (d *dues) readPH(to53 acidification.Crossing, deciding string) {
	now := d.end()
	if to53.Median <= now {
		d.add(DueReadPH, nil, "Read the pH at once: more likely than not it came to %s by %s.", to53.PH, d.clock(to53.Median))
		return
	}
	by := min(now+daily, to53.Median)
	why := []string{d.likely(to53)}
	if limit, ok := soonest(to53.Limits, deciding); ok {
		by = min(by, now+max(0, limit.Cautious-now)/2)
		why = append(why, d.limit(limit))
	} else {
		why = append(why, "At these temperatures no limit on degree-hours is reached, but cold does not show acid either.")
	}
	d.add(DueReadPH, &by, "Read the pH by %s. %s", d.clock(by), strings.Join(why, " "))
}

// soonest returns the limit that is reached first with a thermometer that reads
// too low, of the deciding rule or, where none decides, of both; false where none
// is reached.
func soonest(limits []acidification.Limit, deciding string) (acidification.Limit, bool) {
	var counts []acidification.Limit
	for _, l := range limits {
		if (deciding == "" || l.Set.ID == deciding) && l.Cautious != acidification.Never {
			counts = append(counts, l)
		}
	}
	if len(counts) == 0 {
		return acidification.Limit{}, false
	}
	return slices.MinFunc(counts, func(a, b acidification.Limit) int { return cmp.Compare(a.Cautious, b.Cautious) }), true
}

// likely says when 5.3 is likely.
func (d *dues) likely(c acidification.Crossing) string {
	switch {
	case c.Median == acidification.Never:
		return fmt.Sprintf("More likely than not it does not reach %s: the chance that it does is %s.", c.PH, acidification.Chance(c.NotReached.Complement()))
	case c.P80.High == acidification.Never:
		return fmt.Sprintf("It is as likely as not at %s by %s, not before %s with a chance of 9 in 10; that it does not get there at all has a chance of %s.",
			c.PH, d.clock(c.Median), d.clock(c.P80.Low), acidification.Chance(c.NotReached))
	default:
		return fmt.Sprintf("It is as likely as not at %s by %s, and gets there between %s and %s with a chance of 8 in 10.",
			c.PH, d.clock(c.Median), d.clock(c.P80.Low), d.clock(c.P80.High))
	}
}

// limit says when a limit on degree-hours is reached, and how likely acid is to
// come first.
func (d *dues) limit(l acidification.Limit) string {
	when := fmt.Sprintf("at %s if the thermometer reads too low", d.clock(l.Cautious))
	if l.Reached != acidification.Never {
		when = fmt.Sprintf("at %s, %s", d.clock(l.Reached), when)
	}
	return fmt.Sprintf("At the temperatures read and planned the limit on degree-hours (%s) is reached %s; the chance that the acid comes before that is %s.",
		l.Set.ID, when, acidification.Chance(l.Surely))
}

// readTemperature says by when the chamber is to be read, so that there is no gap.
func (d *dues) readTemperature() {
	log := d.q.Course.Log
	by := log[len(log)-1].At + long
	d.add(DueReadTemperature, &by, "Read the temperature of the chamber by %s: after more than %s without one the degree-hours are not shown.", d.clock(by), inHours(long))
}

// changeChamber says when the next step of the plan begins.
func (d *dues) changeChamber(s State) {
	steps := toCome(s.Planned.Formula.Plan.Fermentation, d.q)
	if len(steps) < 2 {
		return
	}
	log := d.q.Course.Log
	by := log[len(log)-1].At + steps[0].Span
	d.add(DueChangeChamber, &by, "The plan goes on at %s from %s on; the pH decides, not the clock.", steps[1].Temperature, d.clock(by))
}

// goOn says what is to be done once pH 5.3 was surely read.
func (d *dues) goOn(p acidification.Projection) {
	for _, c := range p.To[1:] {
		if c.Outcome == acidification.AlreadyThere {
			continue
		}
		if by := c.Quantile(quantity.MustPercent(90)); by != acidification.Never {
			d.add(DueReadPH, &by, "Read the pH by %s: the plan wants %s. %s", d.clock(by), c.PH, d.likely(c))
		} else {
			by = d.end() + daily
			d.add(DueReadPH, &by, "Read the pH by %s: the plan wants %s. %s", d.clock(by), c.PH, d.likely(c))
		}
		return
	}
	d.add(DueHang, nil, "pH 5.3 was read, and what the plan wants: drying is next. Record it when the pieces hang.")
}
