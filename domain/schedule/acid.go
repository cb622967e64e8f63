package schedule

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Sum is what the plan comes to by a rule on degree-hours if pH 5.3 comes only at
// its end, and by when it must have come.
type Sum struct {
	Set         rulebook.DegreeHourSet
	Decides     bool // it is the guidance of a rulebook that was asked for
	DegreeHours quantity.DegreeHours
	Range       quantity.Between[quantity.DegreeHours] // by what the thermometer may be off
	Class       rulebook.DegreeHourClass               // of the highest temperature
	IfWarmer    rulebook.DegreeHourClass               // of it if the thermometer reads too low
	Ends        []End                                  // of each step
	Latest      Deadline
	Surely      Deadline // if the thermometer reads too low all the time
	AboveBase   time.Duration
}

// End is what the plan comes to from the start to the end of a step.
type End struct {
	DegreeHours quantity.DegreeHours
	Class       rulebook.DegreeHourClass // of the highest temperature until then
}

// Deadline is the time from the start before which pH 5.3 must have been read.
type Deadline struct {
	At     *time.Duration // nil when the limit is never reached, the last step going on
	InPlan bool           // it lies within the plan, and not beyond its end
}

// sums returns what the plan comes to by each rule.
func (r resolved) sums() ([]Sum, error) {
	exposed, err := r.exposed(quantity.TemperatureDelta{})
	if err != nil {
		return nil, err
	}
	warmer, err := r.exposed(r.thermometer)
	if err != nil {
		return nil, err
	}
	sums := make([]Sum, 0, len(exposed.Sums))
	for i, s := range exposed.Sums {
		sum := Sum{
			Set: s.Set, DegreeHours: s.DegreeHours, Range: s.Range, Class: s.Class, IfWarmer: s.IfWarmer, AboveBase: s.AboveBase,
			Latest: deadline(exposed.Clock.End, s), Surely: deadline(warmer.Clock.End, warmer.Sums[i]),
		}
		for _, j := range r.Rulebooks {
			sum.Decides = sum.Decides || j == s.Set.Jurisdiction
		}
		var so quantity.DegreeHours
		var highest quantity.Temperature
		for k, d := range s.Steps {
			so = so.Plus(d)
			if t := temperatureOf(r.Steps[k]); highest.IsZero() || t.Compare(highest) > 0 {
				highest = t
			}
			sum.Ends = append(sum.Ends, End{so, s.Set.ClassOf(highest)})
		}
		sums = append(sums, sum)
	}
	return sums, nil
}

// exposed asks package fermentation about the plan, as if it were so much warmer
// and no pH were ever read.
func (r resolved) exposed(warmer quantity.TemperatureDelta) (fermentation.Exposure, error) {
	c := fermentation.Course{Thermometer: &r.thermometer}
	for _, s := range r.Steps {
		c.Steps = append(c.Steps, fermentation.Step{Temperature: shifted(temperatureOf(s), warmer), Span: s.Span})
	}
	return fermentation.DegreeHours(c)
}

// temperatureOf returns the temperature of a step of a plan that was resolved.
func temperatureOf(s formula.Step) quantity.Temperature {
	return s.Temperature.Or(quantity.Temperature{})
}

// deadline returns when the limit is reached.
func deadline(end time.Duration, s fermentation.Sum) Deadline {
	switch {
	case s.ReachedAt != nil:
		return Deadline{s.ReachedAt, true}
	case s.AtPresent == nil || s.AtPresent.Left == nil:
		return Deadline{}
	default:
		at := end + *s.AtPresent.Left
		if at < end { // longer than a time can count
			return Deadline{}
		}
		return Deadline{At: &at}
	}
}

// anyDecides reports whether one of the rules is the guidance of a rulebook that
// was asked for.
func anyDecides(sums []Sum) bool {
	for _, s := range sums {
		if s.Decides {
			return true
		}
	}
	return false
}

// counted returns the rules that are to be kept: those that decide, or both where
// none does.
func counted(sums []Sum) []Sum {
	if !anyDecides(sums) {
		return sums
	}
	var kept []Sum
	for _, s := range sums {
		if s.Decides {
			kept = append(kept, s)
		}
	}
	return kept
}

// judgeSum holds what the plan comes to against the limit. A plan never meets it:
// only a pH that was read does.
func (r resolved) judgeSum(s Sum, authority finding.Authority) finding.Finding {
	unit := s.Set.Scale.DegreeHourUnit()
	f := finding.Finding{
		Code: fermentation.CodeDegreeHours, LimitID: s.Set.ID, Rulebook: s.Set.Jurisdiction.String(), Status: finding.NotShown, Stage: finding.Process,
		Authority: authority, Subject: "degree-hours above " + inScale(s.Set, s.Set.Base) + " if pH 5.3 comes only at the end of the plan",
		Measured: finding.Figure{Value: s.DegreeHours.In(unit)},
		Limit:    finding.Limit{Comparator: s.Set.Comparator.String(), Value: s.Class.Limit.In(unit), Printed: s.Class.Printed},
		Members:  [][]string{r.steps()}, Source: s.Set.Source,
	}
	if s.Range.Low != s.Range.High {
		f.Measured.Range = quantity.Between[quantity.Measure]{Low: s.Range.Low.In(unit), High: s.Range.High.In(unit)}
	}
	whole := fmt.Sprintf("by the end of the plan, at %s, it comes to %s of %s", hours(r.end()), s.DegreeHours.In(unit), s.Class.Limit.In(unit))
	switch over := s.DegreeHours.Compare(s.Class.Limit); {
	case over > 0:
		f.Status = finding.NotMet
		f.Reason = whole + ": pH 5.3 at the end would come too late"
	case over == 0:
		f.Status = finding.Near
		f.Reason = whole + ", which must stay below it"
	case s.Range.High.Compare(s.IfWarmer.Limit) >= 0:
		f.Status = finding.Near
		f.Reason = fmt.Sprintf("%s, and to %s of %s if the thermometer reads %s too low", whole, s.Range.High.In(unit), s.IfWarmer.Limit.In(unit), r.thermometer)
	case s.AboveBase == 0:
		f.Status = finding.NotApplicable
		f.Reason = "the plan is never above the base, so that nothing counts; that says nothing of the acid"
		return f
	default:
		f.Reason = whole + ": pH 5.3 would come in time, and a plan shows no pH"
	}
	if r.lowAcid {
		f.Reason += "; the plan of the formula declares that no such acid is intended, so that the count goes on after it"
	}
	f.Remedy = r.byWhen(s)
	return f
}

// byWhen says by when pH 5.3 must have been read.
func (r resolved) byWhen(s Sum) string {
	var text string
	switch {
	case s.Latest.At == nil:
		return "The limit is not reached in this plan, and at its last temperature it never is. Read the pH before it is cooled: what has not soured by then hardly will." + r.wereItToStay(s)
	case s.Latest.InPlan:
		text = "pH 5.3 must have been read in less than " + hoursAtMost(*s.Latest.At)
	default:
		text = "pH 5.3 must have been read in less than " + hoursAtMost(*s.Latest.At) + ", the last temperature going on"
	}
	if s.Surely.At != nil && *s.Surely.At < *s.Latest.At {
		text += "; in less than " + hoursAtMost(*s.Surely.At) + " if the thermometer reads " + r.thermometer.String() + " too low"
	}
	if s.Latest.InPlan {
		text += ". Plan it sooner, or go cooler"
	}
	return text + "."
}

// wereItToStay says how long the highest temperature is allowed from the start,
// where the plan goes below the base in time.
func (r resolved) wereItToStay(s Sum) string {
	var highest quantity.Temperature
	for _, step := range r.Steps {
		if t := temperatureOf(step); highest.IsZero() || t.Compare(highest) > 0 {
			highest = t
		}
	}
	longest := fermentation.LongestAt(s.Set, highest)
	if longest.Time == nil {
		return ""
	}
	return fmt.Sprintf(" Were it to stay at %s, pH 5.3 must have been read in less than %s.", inScale(s.Set, highest), hoursAtMost(*longest.Time))
}

// judgeAcid says that no pH is read before the start.
func (r resolved) judgeAcid(sums []Sum) finding.Finding {
	kept := counted(sums)
	f := finding.Finding{
		Code: fermentation.CodeAcid, Status: finding.NotShown, Stage: finding.Process, Authority: finding.Guidance,
		Subject: "acid that stops Staphylococcus aureus",
		Limit:   finding.Limit{Comparator: rulebook.AtMost.String(), Value: kept[0].Set.TargetPH.Measure(), Printed: "pH 5.3"},
		Reason:  "no pH is read before the start", Members: [][]string{r.steps()}, Source: kept[0].Set.Source,
	}
	if anyDecides(sums) && len(kept) == 1 {
		f.Rulebook = kept[0].Set.Jurisdiction.String()
	}
	if r.lowAcid {
		f.Reason = "the plan of the formula declares that no such acid is intended"
		f.Remedy = "See what the check of the formula finds of the declaration: temperature, time, cure and a measured water activity have to carry it."
		f.Members = [][]string{fault.At("formula", "plan", "low_acid_traditional")}
		return f
	}
	first := kept[0]
	for _, s := range kept[1:] {
		if s.Latest.At != nil && (first.Latest.At == nil || *s.Latest.At < *first.Latest.At) {
			first = s
		}
	}
	f.Remedy = r.byWhen(first)
	return f
}

// end returns how long the plan lasts.
func (r resolved) end() time.Duration {
	var end time.Duration
	for _, s := range r.Steps {
		end += s.Span
	}
	return end
}

// steps returns the path to the steps.
func (r resolved) steps() fault.Path {
	if r.fromFormula {
		return fault.At("formula", "plan", "fermentation")
	}
	return fault.At("steps")
}

// inScale prints a temperature in the scale of a rule.
func inScale(set rulebook.DegreeHourSet, t quantity.Temperature) string {
	if set.Scale == rulebook.FahrenheitScale {
		return t.In(quantity.UnitDegF).String()
	}
	return t.In(quantity.UnitDegC).String()
}

// hours prints a time in hours, hoursAtMost one that must not be overrun, cut off
// to a tenth.
func hours(d time.Duration) string { return fmt.Sprintf("%g h", math.Round(d.Hours()*10)/10) }

func hoursAtMost(d time.Duration) string {
	return fmt.Sprintf("%g h", math.Floor(d.Hours()*10+1e-9)/10)
}
