package schedule

import (
	"fmt"
	"strings"
	"time"

	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// window is how long a fermentation usually takes at some temperatures.
type window struct {
	id          string
	low, high   quantity.Temperature
	least, most time.Duration // 0 where the source names none
	printed     string
	source      source.Citation
}

func hutkins() source.Citation {
	return source.Citation{
		Title: "Hutkins, Microbiology and Technology of Fermented Foods", Year: 2006, Section: "chapter 6", Trust: source.ReadSecondary, Note: "as quoted elsewhere",
	}
}

// windows is the table. Temperatures between its rows are covered by none.
var windows = []window{
	{
		id: "usual-21-24", low: quantity.MustCelsius(21), high: quantity.MustCelsius(24), least: 48 * time.Hour, most: 72 * time.Hour,
		printed: "21 to 24 °C, 48 to 72 h", source: hutkins(),
	},
	{
		id: "usual-22-26", low: quantity.MustCelsius(22), high: quantity.MustCelsius(26), least: 24 * time.Hour, printed: "22 to 26 °C, 24 h or more",
		source: source.Citation{Title: "European practice of raw sausage, handbooks", Trust: source.Memory, Note: "quoted in one text, the rest recalled"},
	},
	{
		id: "usual-29-32", low: quantity.MustCelsius(29), high: quantity.MustCelsius(32), least: 12 * time.Hour, most: 16 * time.Hour,
		printed: "29 to 32 °C, 12 to 16 h", source: hutkins(),
	},
	{
		id: "usual-32-46", low: quantity.MustCelsius(32), high: quantity.MustCelsius(46), most: 12 * time.Hour, printed: "32 to 46 °C, up to 12 h, to a pH well below 5.0",
		source: source.Citation{Title: "North American practice of semi-dry sausage, handbooks", Trust: source.ReadSecondary, Note: "as quoted in one text"},
	},
	{
		id: "usual-37-40", low: quantity.MustCelsius(37), high: quantity.MustCelsius(40), least: 12 * time.Hour, most: 18 * time.Hour,
		printed: "37 to 40 °C, 12 to 18 h", source: hutkins(),
	},
}

// holds reports whether a temperature is of the window, both ends with it. Whole
// degrees Fahrenheit beside an end count as it.
func (w window) holds(t quantity.Temperature) bool {
	const beside = 0.3 // °C
	return t.Celsius() >= w.low.Celsius()-beside && t.Celsius() <= w.high.Celsius()+beside
}

// judgeWindows holds the time at some temperatures against what is usual there:
// one finding for each row that the plan has a temperature of, and one that is not
// shown where it has none.
func (r resolved) judgeWindows() []finding.Finding {
	var found []finding.Finding
	whole := r.end()
	for _, w := range windows {
		var in time.Duration
		var members [][]string
		for i, s := range r.Steps {
			if w.holds(temperatureOf(s)) {
				in += s.Span
				members = append(members, r.at(i, "hours"))
			}
		}
		if in > 0 {
			found = append(found, w.judge(in, whole, members))
		}
	}
	if len(found) > 0 {
		return found
	}
	var covered []string
	for _, w := range windows {
		covered = append(covered, w.printed)
	}
	return []finding.Finding{{
		Code: "usual-time", Status: finding.NotShown, Stage: finding.Process, Authority: finding.Practice, Subject: "the usual time at these temperatures",
		Reason:  "none of the texts covers the temperatures of the plan; they have " + strings.Join(covered, "; "),
		Members: [][]string{r.steps()}, Source: source.CommonPractice("the usual times, each by its own text"),
	}}
}

// judge holds a time in the window, of a whole, against what is usual.
func (w window) judge(in, whole time.Duration, members [][]string) finding.Finding {
	f := finding.Finding{
		Code: "usual-time", GuideID: w.id, Status: finding.Met, Stage: finding.Process, Authority: finding.Practice,
		Subject: fmt.Sprintf("the usual time at %s to %s", w.low, w.high), Measured: finding.Figure{Value: quantity.SpanIn(in, quantity.UnitHours)},
		Limit:   finding.Limit{Comparator: rulebook.AtLeast.String(), Value: quantity.SpanIn(w.least, quantity.UnitHours), Printed: w.printed},
		Members: members, Source: w.source, Reason: hours(in) + " are planned there",
	}
	atMost := finding.Limit{Comparator: rulebook.AtMost.String(), Value: quantity.SpanIn(w.most, quantity.UnitHours), Printed: w.printed}
	if w.least == 0 {
		f.Limit = atMost
	}
	switch {
	case w.most > 0 && in > w.most:
		f.Status, f.Limit = finding.NotMet, atMost
		f.Reason += ", longer than is usual: acid is to have come by then, and warmth goes on"
		f.Remedy = "Read the pH by " + hours(w.most) + ", and cool it when it is where you want it."
	case in < w.least && whole < w.least:
		f.Status = finding.NotMet
		f.Reason += ", shorter than is usual: acid may not have come"
		f.Remedy = "Plan " + hours(w.least) + ", or until the pH is read."
	case in < w.least:
		f.Status = finding.Near
		f.Reason += fmt.Sprintf(", and %s of other temperatures: only a pH shows whether that is enough", hours(whole-in))
		f.Remedy = "Read the pH before it is cooled."
	case w.source.Trust == source.Memory:
		f.Status = finding.NotShown
		f.Reason += ", as is usual by a text that was not read"
	default:
		f.Reason += ", as is usual; only a pH shows that acid came"
	}
	return f
}

// warmestStart is how warm the guide has a fermentation begin at most.
var warmestStart = quantity.MustCelsius(23)

// judgeStart holds the first step against the guide.
func (r resolved) judgeStart() finding.Finding {
	t := temperatureOf(r.Steps[0])
	low, high := shifted(t, r.thermometer.Negative()), shifted(t, r.thermometer)
	f := finding.Finding{
		Code: "start-temperature", Stage: finding.Process, Authority: finding.Practice, Subject: "a start that is not too warm",
		Status: keeps(low.Celsius(), high.Celsius(), warmestStart.Celsius(), -1),
		Limit:  finding.Limit{Comparator: rulebook.AtMost.String(), Value: warmestStart.In(quantity.UnitDegC), Printed: "not over 23 °C"},
		Measured: finding.Figure{Value: t.In(quantity.UnitDegC), Range: quantity.Between[quantity.Measure]{
			Low: low.In(quantity.UnitDegC), High: high.In(quantity.UnitDegC),
		}},
		Reason: fmt.Sprintf("it begins at %.4g °C", t.Celsius()), Members: [][]string{r.at(0, "temperature")},
		Source: guide("begin at 23 °C and fall to 18; for hygiene not over 23 °C at the start"),
	}
	if f.Status == finding.NotMet {
		f.Reason += ", warmer than the guide to slow raw sausage has it; faster ways are warmer, and stand on degree-hours and acid alone"
		f.Remedy = "Begin at 23 °C or below, or keep to the hours above."
	}
	return f
}

// judgeFall looks whether it goes on cooler than it began.
func (r resolved) judgeFall() finding.Finding {
	f := finding.Finding{
		Code: "falling-temperature", Status: finding.NotApplicable, Stage: finding.Process, Authority: finding.Practice,
		Subject: "a temperature that falls", Members: [][]string{r.steps()}, Reason: "one temperature is planned for the whole time",
		Source: guide("from 23 °C falling to 18"),
	}
	for i, s := range r.Steps[1:] {
		before, now := temperatureOf(r.Steps[i]), temperatureOf(s)
		switch {
		case now.Compare(before) > 0:
			f.Status = finding.NotMet
			f.Reason = fmt.Sprintf("step %d at %.4g °C is warmer than the %.4g °C before it", i+2, now.Celsius(), before.Celsius())
			f.Remedy = "Put the warmest first: acid is made then, and what comes after only dries. Semi-dry sausage is warmed up on purpose, and stands on degree-hours and acid alone."
			f.Members = [][]string{r.at(i+1, "temperature")}
			return f
		case now.Compare(before) < 0:
			f.Status = finding.Met
			f.Reason = "it never gets warmer than it was"
		}
	}
	return f
}

// judgeCultures judges each species in the temperatures of the plan.
func (r resolved) judgeCultures() []finding.Finding {
	var found []finding.Finding
	for i, s := range r.Cultures {
		f, at, stated := curing.CultureWarmth(s, r.Steps)
		if !stated {
			continue
		}
		f.Members = [][]string{r.culture(i)}
		if at >= 0 {
			f.Members = append(f.Members, r.at(at, "temperature"))
		}
		found = append(found, f)
	}
	if len(found) == 0 {
		found = append(found, finding.Finding{
			Code: "culture-temperature", Status: finding.NotShown, Stage: finding.Process, Authority: finding.Practice,
			Subject: "temperatures of the fermentation, for its cultures", Reason: "no species of a culture is stated", Members: [][]string{fault.At("cultures")},
			Source: source.CommonPractice("each species grows in temperatures of its own"), Remedy: "Name the species that are on the culture's label (see /v1/reference/cultures).",
		})
	}
	return found
}

// culture returns the path to a culture.
func (r resolved) culture(i int) fault.Path {
	if r.formulasCultures {
		return fault.At("formula", "additions")
	}
	return fault.At("cultures", i)
}
