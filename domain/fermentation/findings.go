package fermentation

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"greenweight/domain/finding"
	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Codes of the findings: on the rules on degree-hours, and on the acid.
const (
	CodeDegreeHours = "degree-hours"
	CodeAcid        = "ph-5.3"
)

// judge adds the findings, and says which rule came out worse.
func (e *Exposure) judge(c Course, ph []phReading) {
	worst := -1
	for i, s := range e.Sums {
		e.Findings = append(e.Findings, e.byRule(c, s))
		if worst < 0 || e.worse(i, worst) {
			worst = i
		}
	}
	e.Stricter = e.Sums[worst].Set.ID
	e.Findings = append(e.Findings, e.acid(c, ph))
}

// severity orders the results of a rule on degree-hours, the worst last.
var severity = map[finding.Status]int{
	finding.NotApplicable: 1, finding.Met: 2, finding.NotShown: 3, finding.Near: 4, finding.NotMet: 5,
}

// worse reports whether the rule of sum i came out worse than that of sum j: by
// its result, then by how much of the limit is used.
func (e *Exposure) worse(i, j int) bool {
	a, b := severity[e.Findings[i].Status], severity[e.Findings[j].Status]
	if a != b {
		return a > b
	}
	return e.Sums[i].Used.Float() > e.Sums[j].Used.Float()
}

// Counting returns the sums whose rules are to be kept: that of the deciding rule,
// or all where none decides.
func (e Exposure) Counting() []Sum {
	for _, s := range e.Sums {
		if s.Set.ID == e.Deciding {
			return []Sum{s}
		}
	}
	return e.Sums
}

// authority returns how much a rule counts: it is the guidance of the rulebook,
// or of somebody where the rulebook has none; beside one that decides it is a
// caution.
func (e *Exposure) authority(set rulebook.DegreeHourSet) finding.Authority {
	if e.Deciding != "" && e.Deciding != set.ID {
		return finding.Practice
	}
	return finding.Guidance
}

// byRule judges the sum by its rule.
func (e *Exposure) byRule(c Course, s Sum) finding.Finding {
	f := finding.Finding{
		Code: CodeDegreeHours, Rulebook: s.Set.Jurisdiction.String(), LimitID: s.Set.ID, Stage: finding.Process,
		Authority: e.authority(s.Set), Subject: "degree-hours above " + degrees(s.Set, s.Set.Base) + " until pH " + number(s.Set.TargetPH.Float()),
		Measured: s.figure(),
		Limit:    finding.Limit{Comparator: s.Set.Comparator.String(), Value: s.in(s.Class.Limit), Printed: s.Class.Printed},
		Members:  e.members(c), Source: s.Set.Source,
	}
	f.Status = e.status(s)
	f.Reason = strings.Join(e.reasons(c, s, f.Status), "; ")
	f.Remedy = e.remedy(c, s, f.Status)
	return f
}

// members returns the paths to what the sum comes from.
func (e *Exposure) members(c Course) [][]string {
	members := [][]string{{"log"}}
	if len(c.Steps) > 0 {
		members = [][]string{{"steps"}}
	}
	if e.Clock.Ended() {
		members = append(members, []string{"ph_readings", strconv.Itoa(e.Clock.Reading)})
	}
	return members
}

// in returns degree-hours in the unit of the rule.
func (s Sum) in(d quantity.DegreeHours) quantity.Measure { return d.In(s.Set.Scale.DegreeHourUnit()) }

// figure returns the sum as measured, with both ends where they differ.
func (s Sum) figure() finding.Figure {
	f := finding.Figure{Value: s.in(s.DegreeHours)}
	if low, high := s.in(s.Range.Low), s.in(s.Range.High); low != high {
		f.Range = quantity.Between[quantity.Measure]{Low: low, High: high}
	}
	return f
}

// status holds a sum against its limit.
func (e *Exposure) status(s Sum) finding.Status {
	near := s.warmerReaches() || s.reached()
	switch {
	case s.exceeded():
		return finding.NotMet
	case near:
		return finding.Near
	case !e.Clock.Covered() || len(e.Gaps) > 0:
		return finding.NotShown
	case !s.everAbove:
		return finding.NotApplicable
	case !e.Clock.Ended():
		return finding.NotShown
	case !e.Clock.proven:
		return finding.Near
	default:
		return finding.Met
	}
}

// reasons says why a sum has its status.
func (e *Exposure) reasons(c Course, s Sum, status finding.Status) []string {
	r := []string{e.soFar(c, s)}
	if s.Highest.IsZero() {
		return append(r, "that is before the temperatures begin or as they do, so that no time counts")
	}
	if len(e.Gaps) > 0 {
		r = append(r, e.unknown())
	}
	if s.reached() && s.Joined.Compare(s.DegreeHours) < 0 {
		r = append(r, fmt.Sprintf("with the readings around the gaps joined it is %s", s.in(s.Joined)))
	}
	if status == finding.NotApplicable {
		r = append(r, "never above the base: the highest was "+degrees(s.Set, s.Highest))
	} else {
		r = append(r, fmt.Sprintf("the highest was %s at %s, for which the limit is %s", degrees(s.Set, s.Highest), Hours(s.HighestAt), s.Class.Printed))
	}
	if s.ReachedAt != nil {
		r = append(r, "reached at "+Hours(*s.ReachedAt))
	}
	if s.DegreeHours.Compare(s.Class.Limit) == 0 {
		r = append(r, "that is exactly at the limit, and the sum must stay below it")
	}
	if s.Range.High.Compare(s.DegreeHours) > 0 {
		r = append(r, e.high(c, s))
	}
	if !e.Clock.Covered() {
		r = append(r, fmt.Sprintf("the temperatures end at %s, so that the sum until then is not known", Hours(e.Clock.Counted)))
	}
	if e.Clock.Stated != nil && !e.Clock.Ended() {
		r = append(r, fmt.Sprintf("that pH 5.3 was reached at %s is stated and was not read, which shows nothing", Hours(*e.Clock.Stated)))
	}
	switch {
	case e.Clock.Ended():
	case status == finding.NotApplicable:
		r = append(r, "no pH of 5.3 or below was read, so that acid is not shown either")
	default:
		r = append(r, "no pH of 5.3 or below was read, so that the sum grows while the chamber is above the base")
	}
	return r
}

// soFar says the sum and until when.
func (e *Exposure) soFar(c Course, s Sum) string {
	until := "in " + Hours(e.Clock.End)
	if e.Clock.Ended() {
		until = fmt.Sprintf("until %s was read at %s", c.PHReadings[e.Clock.Reading].PH, Hours(c.PHReadings[e.Clock.Reading].At))
	}
	return fmt.Sprintf("%s above %s %s", s.in(s.DegreeHours), degrees(s.Set, s.Set.Base), until)
}

// high says the high end of the sum, and why it is higher.
func (e *Exposure) high(c Course, s Sum) string {
	var why []string
	if !s.high.IsZero() {
		why = append(why, "the thermometer read "+difference(s.Set, s.high)+" too low")
	}
	if e.Clock.Ended() && e.Clock.Sure < 0 {
		why = append(why, "the pH was above 5.3 then, which it may have been")
	}
	if e.Clock.Sure > e.Clock.Reading {
		why = append(why, fmt.Sprintf("the pH was not at 5.3 before %s was read at %s", c.PHReadings[e.Clock.Sure].PH, Hours(c.PHReadings[e.Clock.Sure].At)))
	}
	return fmt.Sprintf("%s of %s if %s", s.in(s.Range.High), s.IfWarmer.Printed, strings.Join(why, " and "))
}

// remedy says what to do, with a number.
func (e *Exposure) remedy(c Course, s Sum, status finding.Status) string {
	switch {
	case status == finding.NotMet && e.authority(s.Set) == finding.Practice:
		return s.nextTime()
	case status == finding.NotMet:
		return "Hold the lot and ask the authority; cooking does not undo it. " + s.nextTime()
	case !e.Clock.Covered():
		return fmt.Sprintf("Give the temperatures up to %s.", Hours(e.Clock.End))
	case len(e.Gaps) > 0 && (s.reached() || e.Clock.Ended()):
		return e.fillGaps(s)
	case !e.Clock.Ended() && s.ReachedAt != nil:
		return "Read the pH at once: no time is left. " + s.nextTime()
	case !e.Clock.Ended():
		return s.hoursLeft()
	case status == finding.Near && !e.Clock.proven && e.Clock.Sure >= 0:
		return fmt.Sprintf("Give the temperatures up to %s.", Hours(c.PHReadings[e.Clock.Sure].At))
	case status == finding.Near && !e.Clock.proven:
		return "Read the pH again, so that it is 5.3 or below whatever the meter is off."
	case status == finding.Near && s.ReachedAt == nil:
		return s.betterThermometer()
	case status == finding.Near:
		return "Hold the lot. " + s.nextTime()
	default:
		return ""
	}
}

// fillGaps says what would show more where a log has gaps.
func (e *Exposure) fillGaps(s Sum) string {
	longest := e.longestGap()
	text := fmt.Sprintf("Give the temperatures between %s and %s, such as from the memory of the thermometer", Hours(longest.From), Hours(longest.To))
	if n := len(e.Gaps); n > 1 {
		text = fmt.Sprintf("Give the temperatures in %d gaps, the longest from %s to %s, such as from the memory of the thermometer", n, Hours(longest.From), Hours(longest.To))
	}
	switch {
	case s.reached() && !e.Clock.Ended():
		return "Read the pH at once: with the hotter readings no time is left. " + text + "."
	case s.reached():
		return text + ". Until then hold the lot. " + s.nextTime()
	default:
		return text + "."
	}
}

// nextTime says how long the highest temperature is allowed from the start.
func (s Sum) nextTime() string {
	if s.Longest == nil || s.Longest.Time == nil {
		return ""
	}
	return fmt.Sprintf("The next one must be at pH 5.3 in less than %s at %s, or be cooler.", HoursAtMost(*s.Longest.Time), degrees(s.Set, s.Highest))
}

// hoursLeft says by when the pH must have been read.
func (s Sum) hoursLeft() string {
	text := "At " + s.AtPresent.text(s.Set)
	if s.AtPlanned != nil {
		text += "; at the planned " + s.AtPlanned.text(s.Set)
	}
	return text + "."
}

func (l TimeLeft) text(set rulebook.DegreeHourSet) string {
	at := degrees(set, l.Temperature)
	switch {
	case l.Left == nil && l.Surely == nil:
		return at + ", not above the base, the limit is never reached"
	case l.Left == nil:
		return fmt.Sprintf("%s, not above the base, the limit is never reached; if the thermometer reads too low, in %s", at, HoursAtMost(*l.Surely))
	case *l.Left == 0:
		return at + " no time is left: the limit is then reached at once"
	case l.Surely != nil && *l.Surely == 0:
		return fmt.Sprintf("%s a pH of 5.3 must be read in less than %s, and at once if the thermometer reads too low", at, HoursAtMost(*l.Left))
	case l.Surely != nil && *l.Surely < *l.Left:
		return fmt.Sprintf("%s a pH of 5.3 must be read in less than %s, in less than %s if the thermometer reads too low",
			at, HoursAtMost(*l.Left), HoursAtMost(*l.Surely))
	default:
		return fmt.Sprintf("%s a pH of 5.3 must be read in less than %s", at, HoursAtMost(*l.Left))
	}
}

// betterThermometer says how good a thermometer would show that the limit was
// kept: the error at which it is reached, cut off to a hundredth of a degree.
// Where no thermometer would, it says how long is allowed.
func (s Sum) betterThermometer() string {
	const precise = 0.001 // °C
	r := reader{s.Set}
	beyond := func(low float64) float64 {
		d, err := quantity.CelsiusDegrees(low)
		if err != nil { // it lies between two differences
			return math.NaN()
		}
		return r.degreeHours(r.total(s.warm, d)) - r.limit(shifted(s.warmest, d))
	}
	within, err := numeric.Root(beyond, 0, s.high.CelsiusDegrees(), precise)
	if err != nil {
		return s.nextTime()
	}
	d, err := quantity.CelsiusDegrees(within - precise)
	if err != nil {
		return s.nextTime()
	}
	const hundredths = 100
	kept := math.Floor(r.difference(d)*hundredths) / hundredths
	if kept <= 0 {
		return s.nextTime()
	}
	return fmt.Sprintf("Check the thermometer, in ice water and against a better one: the limit was kept if it reads too low by no more than %s%s.",
		number(kept), degree(s.Set))
}

// acid judges whether a pH at or below 5.3 was read.
func (e *Exposure) acid(c Course, ph []phReading) finding.Finding {
	set := e.Counting()[0].Set
	target := set.TargetPH
	f := finding.Finding{
		Code: CodeAcid, Status: finding.NotShown, Stage: finding.Process, Authority: finding.Guidance,
		Subject: "acid that stops Staphylococcus aureus",
		Limit:   finding.Limit{Comparator: rulebook.AtMost.String(), Value: target.Measure(), Printed: "pH 5.3"},
		Members: [][]string{{"ph_readings"}}, Source: set.Source,
	}
	if e.Deciding != "" {
		f.Rulebook = set.Jurisdiction.String()
	}
	best := -1 // the reading that says most
	switch {
	case e.Clock.Sure >= 0:
		best, f.Status = e.Clock.Sure, finding.Met
	case e.Clock.Ended():
		best, f.Status = e.Clock.Reading, finding.Near
	default:
		for _, r := range ph {
			if best < 0 || r.ends().Low.Compare(c.PHReadings[best].ends().Low) < 0 {
				best = r.index
			}
		}
		if best >= 0 && atOrBelow(c.PHReadings[best].ends().Low, target) {
			f.Status = finding.Near
		}
	}
	if best < 0 {
		f.Reason = "no pH was read"
		f.Remedy = e.deadline()
		return f
	}
	r := c.PHReadings[best]
	f.Measured = finding.Figure{Value: r.PH.Measure()}
	ends := r.ends()
	if ends.Low != ends.High {
		f.Measured.Range = quantity.Between[quantity.Measure]{Low: ends.Low.Measure(), High: ends.High.Measure()}
	}
	f.Members = [][]string{{"ph_readings", strconv.Itoa(best)}}
	f.Reason = fmt.Sprintf("%s was read at %s", r.PH, Hours(r.At))
	switch f.Status {
	case finding.Near:
		if atOrBelow(ends.High, target) {
			f.Reason += ", and above 5.3 so soon after that one of both is wrong"
		} else {
			f.Reason += fmt.Sprintf(", which may be %s to %s: 5.3 lies within", ends.Low, ends.High)
		}
		f.Remedy = "Read the pH again."
	case finding.NotShown:
		f.Reason += ", the lowest so far"
		f.Remedy = e.deadline()
	default:
	}
	return f
}

// deadline says by when a pH of 5.3 must be read, by the rule that gives the
// least time at the present temperature.
func (e *Exposure) deadline() string {
	var first *Sum
	for _, s := range e.Counting() {
		if s.ReachedAt != nil {
			return "The limit on degree-hours is reached: hold the lot, and read the pH."
		}
		if s.AtPresent != nil && s.AtPresent.Left != nil && (first == nil || *s.AtPresent.Left < *first.AtPresent.Left) {
			first = &s
		}
	}
	if first == nil {
		for _, s := range e.Counting() {
			if s.AtPlanned != nil && s.AtPlanned.Left != nil {
				return "Read the pH. " + s.hoursLeft()
			}
		}
		return "Read the pH: at this temperature no limit on degree-hours is reached, but cold does not show acid either."
	}
	return "Read the pH. " + first.hoursLeft()
}

// degrees prints a temperature in the scale of a rule.
func degrees(set rulebook.DegreeHourSet, t quantity.Temperature) string {
	return number(reader{set}.degrees(t)) + degree(set)
}

// difference prints a difference in the scale of a rule.
func difference(set rulebook.DegreeHourSet, d quantity.TemperatureDelta) string {
	return number(reader{set}.difference(d)) + degree(set)
}

// degree is the sign of the scale of a rule, after a number.
func degree(set rulebook.DegreeHourSet) string {
	if set.Scale == rulebook.FahrenheitScale {
		return " °F"
	}
	return " °C"
}
