package acidification

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// CodeBeforeLimit is the code of the findings on whether the acid comes before a
// limit on degree-hours.
const CodeBeforeLimit = "ph-5.3-before-limit"

// ownSource is that of what this project chose.
func ownSource(note string) source.Citation {
	return source.Citation{Title: "Choice of this project", Trust: source.Derived, Note: note}
}

// Sources returns the citations behind a projection: the curves, the growth by
// temperature, the core, and what is taken of cultures.
func Sources() []source.Citation {
	all := []source.Citation{curveSource(), cardinalSource(), coreSource()}
	for _, h := range append([]Habit{unknownHabit, wildHabit}, habits...) {
		all = append(all, h.Source)
	}
	return append(all, ownSource("spreads and misfit, chosen on fermentations simulated from growth, acid and buffer, and on the few series of pH that were read"))
}

// Advice is when to read the pH and when to go on, from the start.
type Advice struct {
	Read time.Duration // when 5.3 is there in half of the cases in which it comes, or at the latest at By; Never when it hardly does
	By   time.Duration // a pH must have been read before: the first limit that counts, with the thermometer too low; Never when there is none
	Dry  time.Duration // for when to plan the move to drying: by then 5.3 is there in 19 of 20 of the cases in which it comes; Never when it likely does not
}

// advise sets the advice, none where 5.3 was read.
func (out *Projection) advise() {
	first := &out.To[0]
	if first.Outcome == AlreadyThere {
		return
	}
	a := Advice{Read: first.given(tails[3]), By: Never, Dry: first.late()}
	for _, l := range out.counted() {
		a.By = min(a.By, l.Cautious)
	}
	a.Read = max(min(a.Read, a.By), out.Now)
	a.Dry = max(a.Dry, a.Read)
	out.Advice = &a
}

// counted returns the limits that count: that of the rule that decides, or all
// where none does.
func (out *Projection) counted() []Limit {
	for _, l := range out.To[0].Limits {
		if l.Set.ID == out.Deciding {
			return []Limit{l}
		}
	}
	return out.To[0].Limits
}

// judge adds the findings. None is ever met: the rules ask for a pH that was
// read, and that is judged by package fermentation.
func (out *Projection) judge(o Order) {
	first := &out.To[0]
	for _, l := range first.Limits {
		f := finding.Finding{
			Code: CodeBeforeLimit, Rulebook: l.Set.Jurisdiction.String(), LimitID: l.Set.ID, Status: finding.NotShown,
			Stage: finding.Process, Authority: finding.Guidance,
			Subject: "acid before the limit on degree-hours", Members: o.members(), Source: l.Set.Source,
		}
		if out.Deciding != "" && out.Deciding != l.Set.ID {
			f.Authority = finding.Practice
		}
		switch {
		case first.Outcome == AlreadyThere:
			r := out.Readings[first.Reading]
			f.Status = finding.NotApplicable
			f.Reason = fmt.Sprintf("%s was read at %s: the degree-hours until then decide, and no projection", r.PH, fermentation.Hours(r.At))
		case l.Reached == Never && l.Cautious == Never:
			f.Reason = "along these temperatures the limit is not reached, and no pH of 5.3 or below was read"
			f.Remedy = out.readNote(l.Cautious)
		default:
			f.Reason = fmt.Sprintf("%s; pH 5.3 comes before that with a probability of %s%s, and a projection shows no acid",
				l.words(), Chance(l.Before), cautiously(l))
			f.Remedy = out.readNote(l.Cautious)
		}
		out.Findings = append(out.Findings, f)
	}
}

// words says when a limit is reached.
func (l Limit) words() string {
	rule := "by the Fahrenheit rule"
	if l.Set.Scale == rulebook.CelsiusScale {
		rule = "by the Celsius rule"
	}
	switch {
	case l.Reached == Never:
		return rule + " the limit is reached only if the thermometer reads too low, at " + fermentation.Hours(l.Cautious)
	case l.Cautious < l.Reached:
		return fmt.Sprintf("%s the limit is reached at %s, at %s if the thermometer reads too low", rule, fermentation.Hours(l.Reached), fermentation.Hours(l.Cautious))
	default:
		return rule + " the limit is reached at " + fermentation.Hours(l.Reached)
	}
}

func cautiously(l Limit) string {
	if Chance(l.Surely) == Chance(l.Before) {
		return ""
	}
	return " (" + Chance(l.Surely) + " if the thermometer reads too low)"
}

// readNote says when to read the pH, which is to be at 5.3 before a time.
func (out *Projection) readNote(by time.Duration) string {
	if out.Advice == nil {
		return ""
	}
	a := *out.Advice
	a.By = by
	switch {
	case a.By <= out.Now:
		return "Read the pH at once: no time is left."
	case a.Read == Never:
		return "Read the pH twice a day: when it will be 5.3, if ever, can't be told."
	case a.By == Never:
		return fmt.Sprintf("Read the pH at about %s.", inWholeHours(a.Read))
	case a.Read >= a.By:
		return fmt.Sprintf("Read the pH in good time before %s: 5.3 is as likely to come after it as before.", fermentation.HoursAtMost(a.By))
	default:
		return fmt.Sprintf("Read the pH at about %s, and again in time to have read 5.3 before %s.", inWholeHours(a.Read), fermentation.HoursAtMost(a.By))
	}
}

// members returns the paths to what a finding comes from.
func (o Order) members() [][]string {
	var members [][]string
	switch {
	case len(o.Course.Steps) > 0:
		members = append(members, []string{"steps"})
	case len(o.Course.Log) > 0:
		members = append(members, []string{"log"})
	}
	if len(o.Ahead) > 0 {
		members = append(members, []string{"ahead"})
	}
	if len(o.Course.PHReadings) > 0 {
		members = append(members, []string{"ph_readings"})
	}
	return members
}

// remark adds the notes.
func (out *Projection) remark(o Order, t *teller) {
	note := func(code string, member fault.Path, from source.Citation, text string, with ...any) {
		out.Notes = append(out.Notes, finding.Note{Code: code, Member: member, Text: fmt.Sprintf(text, with...), Source: from})
	}
	for i, s := range out.Readings {
		if s.Doubt != "" {
			note("reading-left-out", fault.At("ph_readings", i), ownSource(""), "%s at %s is left out: %s.", s.PH, fermentation.Hours(s.At), s.Why)
		}
	}
	if out.modelled() != Never {
		note("course-ends", fault.At("ph_readings"), ownSource(""), "The pH rose after its lowest. The course ends with the last reading that counts, and says nothing of what the pH is now: read it.")
	}
	out.remarkTimes(note)
	if !out.Fitted {
		note("few-readings", fault.At("ph_readings"), ownSource("one reading tells where the fall begins and nothing of its pace"),
			"With fewer than two readings that count every time is the one before any reading, of cultures and temperatures alone: read the pH, twice a day or more often.")
	}
	switch {
	case o.wild():
		note("spontaneous", fault.At("spontaneous"), wildHabit.Source,
			"Without a culture acid comes late and often not at all: of three lots that were published in full one came to 5.3, after a week.")
	case !t.prior.known:
		note("culture-not-stated", fault.At("cultures"), unknownHabit.Source, "No culture that acidifies is given: one between the known ones is taken, and more doubt.")
	}
	_, sized := o.Diameter.Get()
	if sized {
		note("core-starts-cold", fault.At("diameter"), coreSource(), "The core is taken to be at %g °C at the start, and to follow the chamber to nine tenths in %s.",
			stuffedCelsius, fermentation.Hours(fromHours(t.way.lag*math.Ln10)))
	} else {
		note("diameter-not-given", fault.At("diameter"), coreSource(), "Without a diameter the core is taken to be as warm as the chamber at once; at 55 mm that takes 2 to 3 h, at 95 mm about 7 h.")
	}
	if len(o.Ahead) == 0 {
		note("ahead-not-given", fault.At("ahead"), source.Citation{Title: "The question itself", Trust: source.Derived}, "The chamber is taken to stay at %s.", chamber(t.way.last))
	}
	if t.prior.rate(t.way.last.Celsius()) == 0 {
		note("no-growth-ahead", fault.At("ahead"), cardinalSource(), "At %s the culture does not grow, so that the pH stays where it is.", chamber(t.way.last))
	}
	for i, r := range o.Course.PHReadings {
		if r.Within == (quantity.Between[quantity.PH]{}) {
			note("meter-assumed", fault.At("ph_readings", i), ownSource("a meter calibrated at two points"), "Readings without an uncertainty are taken to be off by up to %g.", meter)
			break
		}
	}
}

// remarkTimes adds what follows from the times.
func (out *Projection) remarkTimes(note func(code string, member fault.Path, from source.Citation, text string, with ...any)) {
	first := out.To[0]
	from := ownSource("deadlines take the late end of the band")
	switch first.Outcome {
	case AlreadyThere:
		r := out.Readings[first.Reading]
		text := fmt.Sprintf("%s was read at %s.", r.PH, fermentation.Hours(r.At))
		if first.Estimated != nil {
			text += fmt.Sprintf(" A straight line from the reading before crosses 5.3 at %s: an estimate, and no reading.", fermentation.Hours(*first.Estimated))
		}
		note("already-there", fault.At("ph_readings", first.Reading), source.Citation{Title: "The question itself", Trust: source.Derived}, "%s", text)
		return
	case WillNotReach:
		note("will-not-reach", nil, from, "More likely than not (%s) pH 5.3 is not reached within 30 days. Do not count on acid: degree-hours run on, and cold, dryness and time have to be shown by themselves.",
			Chance(first.NotReached))
	case MayNotReach:
		note("may-not-reach", nil, from, "With a probability of %s pH 5.3 is not reached within 30 days.", Chance(first.NotReached))
	case Projected:
	}
	note("read-ph", fault.At("ph_readings"), from, "%s", out.readNote(out.Advice.By))
	if d := out.Advice.Dry; d != Never {
		late := ""
		if out.Advice.By < d {
			late = " That is after the limit on degree-hours: a warmer chamber that is kept within the limit, more culture or sugar belong into the next lot."
		}
		note("move-to-drying", nil, from, "Plan the move to drying for about %s, by when pH 5.3 is there in 19 of 20 of the cases in which it comes, and move when it was read.%s", inWholeHours(d), late)
	}
}

// Chance prints a probability in whole percent, never as certain.
func Chance(f quantity.Fraction) string {
	const whole = 100
	switch p := f.Percent(); {
	case p < 1:
		return "less than 1 %"
	case p > whole-1:
		return "more than 99 %"
	default:
		return strconv.FormatFloat(math.Round(p), 'f', -1, 64) + " %"
	}
}

// modelled returns up to when the curve says something: the last reading that
// counts where the pH rose after its lowest, else Never.
func (out *Projection) modelled() time.Duration {
	end, rose := time.Duration(0), false
	for _, s := range out.Readings {
		if s.Doubt == "" {
			end = s.At
		}
		rose = rose || s.Doubt == DoubtAfterLowest
	}
	if !rose {
		return Never
	}
	return end
}

// inWholeHours prints a time that is not known to a tenth.
func inWholeHours(d time.Duration) string {
	return strconv.FormatFloat(math.Round(d.Hours())+0, 'f', -1, 64) + " h"
}

// chamber prints a temperature in both scales.
func chamber(t quantity.Temperature) string {
	return fmt.Sprintf("%.1f °C (%.1f °F)", t.Celsius(), t.Fahrenheit())
}
