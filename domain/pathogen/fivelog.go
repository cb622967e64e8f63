package pathogen

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// FiveLogCode is the code of the finding on a reduction by 5 log.
const FiveLogCode = "ecoli-five-log"

// Condition is one thing that an option asks of a plan.
type Condition struct {
	Code    string         // casing, chamber, acid, stages, core, drying
	Status  finding.Status // NotShown for what is not stated, or can only be measured
	Asked   string
	Planned string // what the plan has; empty when it has nothing
	Remedy  string
	Members [][]string // paths from the formula
}

// Match is an option held against a plan.
type Match struct {
	Option     Option
	Conditions []Condition // in the order of work
}

// Follows reports whether the plan has all that can be planned of the option,
// and nothing that was measured is against it: at most the pH at the end, or the
// water that is left, is still to be measured.
func (m Match) Follows() bool {
	return !slices.ContainsFunc(m.Conditions, func(c Condition) bool {
		return c.Status != finding.Met && (c.Status != finding.NotShown || c.Planned == "")
	})
}

// lacks counts the conditions of a status.
func (m Match) lacks(s finding.Status) int {
	n := 0
	for _, c := range m.Conditions {
		if c.Status == s {
			n++
		}
	}
	return n
}

// FiveLog is what a plan is by the table of options.
type FiveLog struct {
	Finding finding.Finding
	Matches []Match // every option, in the order of the table; nil where the table is not for the product
	Closest int     // index of the option that is followed, or that the plan comes nearest to; -1 when nothing is planned
}

// Fermented reports whether the table is for a product: sausage that is eaten
// raw. Whether it is fermented is known of the plan alone, so that every dry
// sausage counts.
func Fermented(f formula.Formula) bool {
	switch f.Product {
	case rulebook.DrySausage, rulebook.SemiDrySausage, rulebook.SpreadableRawSausage:
		return true
	case rulebook.TraditionalProduct:
		return f.Tradition.Sausage()
	default:
		return false
	}
}

// asking are the rulebooks of the countries for which the table is known here.
func asking(asked []rulebook.Jurisdiction) (found []string) {
	for _, j := range asked {
		if j == rulebook.UnitedStates || j == rulebook.Canada {
			found = append(found, j.String())
		}
	}
	return found
}

// Verdict returns the status and the authority of what Judge finds, without its
// words.
func Verdict(f formula.Formula, asked ...rulebook.Jurisdiction) (finding.Status, finding.Authority) {
	authority := finding.Practice
	if slices.Contains(asked, rulebook.UnitedStates) || slices.Contains(asked, rulebook.Canada) {
		authority = finding.Guidance
	}
	if !Fermented(f) {
		return finding.NotApplicable, authority
	}
	return finding.NotShown, authority
}

// Judge returns what is found of the plan of a formula by the table of options:
// not shown, whatever is planned, because the table is known from memory, and
// not applicable of what is no raw sausage.
func Judge(f formula.Formula, asked ...rulebook.Jurisdiction) finding.Finding {
	if !Fermented(f) || !planned(f.Plan) {
		return unplanned(f, asked)
	}
	return LookUp(f, nil, asked...).Finding
}

// unplanned returns what is found where there is nothing to look up.
func unplanned(f formula.Formula, by []rulebook.Jurisdiction) finding.Finding {
	found := finding.Finding{
		Code: FiveLogCode, Stage: finding.Process, Subject: "reduction of Escherichia coli O157:H7 by 5 log", Source: taskForce,
	}
	found.Status, found.Authority = Verdict(f, by...)
	if found.Status == finding.NotApplicable {
		found.Reason = "the table is of raw, fermented sausage, and this is a " + f.Product.String()
		return found
	}
	found.Reason = "nothing is planned of fermentation, casing, hold or heat, so that no published option can be looked up. " + degreeHoursAlone + whoAsks(by)
	found.Remedy = "State in the plan the fermentation, the casing, and each hold and step in heat; the rows are in /v1/reference/pathogens."
	return found
}

// LookUp holds the plan of a formula against the table of options, and the pH
// that was read at the end of the fermentation where one was.
func LookUp(f formula.Formula, ended *Reading[quantity.PH], by ...rulebook.Jurisdiction) FiveLog {
	l := FiveLog{Closest: -1, Finding: unplanned(f, by)}
	if !Fermented(f) {
		return l
	}
	course := afterFermentation(f.Plan)
	for _, o := range Options() {
		l.Matches = append(l.Matches, match(o, f.Plan, course, ended))
	}
	if planned(f.Plan) || ended != nil {
		l.Closest = closest(l.Matches, f.Plan)
		l.tell(by)
	}
	return l
}

// planned reports whether a plan tells of anything that an option asks for.
func planned(p formula.Plan) bool {
	diameter, _ := p.Casing.Stuffed()
	return len(p.Fermentation)+len(p.Smoke)+len(p.Heat)+len(p.Hold) > 0 || !diameter.IsZero() || p.WantedPH != nil
}

// closest returns the option of which least fails, then of which least is not
// shown; of several the one whose chamber is nearest to the fermentation, and
// else the first.
func closest(all []Match, p formula.Plan) int {
	least, _ := coldest(fermenting(p))
	away := func(m Match) float64 {
		if least.IsZero() {
			return 0
		}
		return math.Abs(m.Option.Chamber.Fahrenheit.Minus(least).CelsiusDegrees())
	}
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
	}
	return slices.MinFunc(order, func(a, b int) int {
		m, n := all[a], all[b]
		return cmp.Or(
			cmp.Compare(m.lacks(finding.NotMet), n.lacks(finding.NotMet)),
			cmp.Compare(m.lacks(finding.NotShown)+m.lacks(finding.Near), n.lacks(finding.NotShown)+n.lacks(finding.Near)),
			cmp.Compare(away(m), away(n)),
		)
	})
}

const (
	degreeHoursAlone = "Degree-hours show nothing of it."
	notVerified      = "the table is known from memory only and not verified, so that this shows nothing"
	otherwise        = "Or have the process validated, and ask the authority what it takes: no option of the table is a sausage that is only fermented cool and dried."
)

// whoAsks says for whom the table is known.
func whoAsks(by []rulebook.Jurisdiction) string {
	found := asking(by)
	if len(found) == 0 {
		return " Of none of the rulebooks asked for is it known here that it asks for this: it is information."
	}
	return " That an authority asks for this (" + strings.Join(found, ", ") + "), and of which sausage, is recalled and not read: ask it."
}

// tell puts the finding into words.
func (l *FiveLog) tell(by []rulebook.Jurisdiction) {
	m := l.Matches[l.Closest]
	f := &l.Finding
	f.LimitID, f.Source = m.Option.ID, m.Option.Source
	var lacks, mend, measure []string
	for _, c := range m.Conditions {
		f.Members = append(f.Members, c.Members...)
		switch {
		case c.Status == finding.Met:
		case c.Status == finding.NotShown && c.Planned != "":
			measure = append(measure, c.Remedy)
		default:
			lacks, mend = append(lacks, c.lack()), append(mend, c.Remedy)
		}
	}
	option := fmt.Sprintf("%s (chamber at %s, %s at the end, %s)", m.Option.ID, m.Option.Chamber, m.Option.Acid, m.Option.Printed)
	if len(lacks) == 0 {
		f.Reason = "the plan follows the option " + option + "; but " + notVerified + ". " + degreeHoursAlone + whoAsks(by)
		f.Remedy = strings.Join(append(measure, "Verify the row in the report before relying on it, and keep the record of temperatures and times with the lot."), " ")
		return
	}
	f.Reason = "the plan follows no published option. Of " + option + ", which it comes nearest to, it lacks: " + strings.Join(lacks, "; ") +
		". And " + notVerified + ". " + degreeHoursAlone + whoAsks(by)
	f.Remedy = strings.Join(slices.Concat(mend, measure, []string{otherwise}), " ")
}

// lack says what of a condition is missing.
func (c Condition) lack() string {
	switch {
	case c.Planned == "":
		return c.Asked + " (nothing of it is stated)"
	case c.Status == finding.Near:
		return fmt.Sprintf("%s (the plan: %s, which is near it and no more)", c.Asked, c.Planned)
	default:
		return fmt.Sprintf("%s (the plan: %s)", c.Asked, c.Planned)
	}
}

// match holds a plan against one option.
func match(o Option, p formula.Plan, course []while, ended *Reading[quantity.PH]) Match {
	m := Match{Option: o, Conditions: []Condition{chamber(o, p), acid(o, p, ended), casing(o, p)}}
	for i, s := range o.Then {
		switch s.Act {
		case Core:
			m.Conditions = append(m.Conditions, core(s, p))
		case Dry:
			m.Conditions = append(m.Conditions, drying(s, p))
		case Hold, Heat:
			if i == 0 {
				m.Conditions = append(m.Conditions, stages(o, p, course))
			}
		}
	}
	return m
}

// warm returns the status of a temperature that is asked for at least.
func warm(t quantity.Temperature, w Warm) finding.Status {
	switch {
	case t.Compare(w.Fahrenheit) >= 0:
		return finding.Met
	case t.Compare(w.near()) >= 0:
		return finding.Near
	default:
		return finding.NotMet
	}
}

// chamber holds the coldest step of the fermentation against the chamber of the
// row: a warmer fermentation is looked up in the row of the next cooler chamber.
func chamber(o Option, p formula.Plan) Condition {
	c := Condition{Code: "chamber", Status: finding.NotShown, Asked: "a chamber at " + o.Chamber.String(), Members: at("plan", "fermentation")}
	least, all := coldest(fermenting(p))
	if least.IsZero() {
		c.Remedy, c.Members = fmt.Sprintf("State the fermentation: the row has it at %s.", o.Chamber), nil
		return c
	}
	c.Status = warm(least, o.Chamber)
	has := "fermented at " + both(least)
	switch {
	case c.Status != finding.Met:
		c.Planned = has
		c.Remedy = fmt.Sprintf("Ferment at %s at least, %s warmer.", o.Chamber, degreesBetween(least, o.Chamber.Fahrenheit))
	case !all:
		c.Status, c.Remedy = finding.NotShown, "State the temperature of each step of the fermentation."
	default:
		c.Planned = has
	}
	return c
}

// acid holds the pH at the end. A pH is measured and not planned: of one that is
// only wanted it is told whether it is of the row, and no more.
func acid(o Option, p formula.Plan, ended *Reading[quantity.PH]) Condition {
	c := Condition{Code: "acid", Status: finding.NotShown, Asked: o.Acid.String() + " at the end of the fermentation"}
	measure := fmt.Sprintf("Measure the pH at the end of the fermentation: the row is for a %s.", o.Acid)
	switch {
	case ended != nil:
		span := phSpan(*ended)
		c.Planned = "read " + span.text("pH")
		c.Status = Bound{Of: Acidity, Comparator: o.Acid.Comparator, Limit: o.Acid.PH.Measure()}.hold(span)
		if c.Status != finding.Met {
			c.Remedy = measure
		}
	case p.WantedPH == nil:
		c.Remedy = measure
	default:
		c.Planned, c.Members, c.Remedy = short(p.WantedPH.Float())+" is wanted", at("plan", "wanted_ph"), measure
		if !o.Acid.keeps(*p.WantedPH) {
			c.Status = finding.NotMet
		}
	}
	return c
}

// casing holds the diameter against the class of the row. What is thicker than
// one class is looked up in the next.
func casing(o Option, p formula.Plan) Condition {
	c := Condition{Code: "casing", Status: finding.NotShown, Asked: "a casing up to " + o.UpTo.String(), Members: at("plan", "casing")}
	if !o.Above.IsZero() {
		c.Asked = "a casing of 56 to " + o.UpTo.String()
	}
	diameter, known := p.Casing.Stuffed()
	if diameter.IsZero() {
		c.Remedy, c.Members = "State the diameter of the stuffed casing.", nil
		return c
	}
	c.Planned = short(diameter.Millimetres()) + " mm stuffed"
	if !known {
		c.Planned += ", as far as the flat width tells"
	}
	switch {
	case diameter.Compare(o.UpTo) > 0:
		c.Status, c.Remedy = finding.NotMet, fmt.Sprintf("Stuff into a casing of at most %s.", o.UpTo)
	case !o.Above.IsZero() && diameter.Compare(o.Above) <= 0:
		c.Status, c.Remedy = finding.NotMet, fmt.Sprintf("Take a row for casings up to %s.", o.Above)
	default:
		c.Status = finding.Met
	}
	return c
}

// stages holds what follows the fermentation against the holds and heats of the
// row.
func stages(o Option, p formula.Plan, course []while) Condition {
	c := Condition{Code: "stages", Status: finding.NotShown, Asked: askedStages(o.Then)}
	for _, member := range []struct {
		name string
		has  bool
	}{{"hold", slices.ContainsFunc(p.Hold, func(h formula.Hold) bool { return h.Of == formula.Stuffed })}, {"smoke", len(p.Smoke) > 0}, {"heat", len(p.Heat) > 0}} {
		if member.has {
			c.Members = append(c.Members, fault.At("plan", member.name))
		}
	}
	if len(course) == 0 {
		c.Remedy = "After the fermentation, " + c.Asked + ", and state it."
		return c
	}
	reached, kept, near := warmEnough(course, o.Then)
	var has, mend []string
	for i, s := range o.Then {
		got := max(reached[i], 0)
		has = append(has, fmt.Sprintf("%s at %s or warmer", hoursOf(min(got, s.Span)), s.Warm))
		if got < s.Span {
			mend = append(mend, fmt.Sprintf("%s longer at %s", hoursOf(s.Span-got), s.Warm))
		}
	}
	c.Planned = strings.Join(has, ", then ")
	switch {
	case kept:
		c.Status = finding.Met
	case near:
		c.Status, c.Remedy = finding.Near, "Keep to the °F: "+strings.Join(mend, ", then ")+"."
	default:
		c.Status, c.Remedy = finding.NotMet, "After the fermentation keep it "+strings.Join(mend, ", then ")+"."
	}
	return c
}

// askedStages puts holds and heats into words.
func askedStages(all []Stage) string {
	var words []string
	for _, s := range all {
		words = append(words, fmt.Sprintf("%s %s at %s", s.Act, hoursOf(s.Span), s.Warm))
	}
	return strings.Join(words, ", then ")
}

// core holds the steps in smoke and heat against the core of the row.
func core(s Stage, p formula.Plan) Condition {
	c := Condition{
		Code: "core", Status: finding.NotShown, Asked: fmt.Sprintf("a core of %s for %s", s.Warm, hoursOf(s.Span)),
		Remedy: fmt.Sprintf("Heat the core to %s, hold it there %s, and state it.", s.Warm, hoursOf(s.Span)),
	}
	held, reached, known := hottestCore(p, s.Warm.Fahrenheit)
	if !known {
		return c
	}
	c.Planned = "a core that stays below it"
	if reached {
		c.Planned = "a core held " + hoursOf(held)
	}
	about, within, _ := hottestCore(p, s.Warm.near())
	switch {
	case reached && held >= s.Span:
		c.Status, c.Remedy = finding.Met, ""
	case within && about >= s.Span:
		c.Status = finding.Near
	default:
		c.Status = finding.NotMet
	}
	return c
}

// drying holds the room of a plan against that of the row. How much water is left
// can only be measured.
func drying(s Stage, p formula.Plan) Condition {
	measure := fmt.Sprintf("Measure moisture and protein when it is dry: at most %s to 1.", short(s.Moisture.Float()))
	c := Condition{
		Code: "drying", Status: finding.NotShown, Remedy: measure,
		Asked: fmt.Sprintf("a room at %s and %s, until moisture to protein is at most %s to 1", s.Warm, s.Humidity, short(s.Moisture.Float())),
	}
	if len(p.Drying) == 0 {
		c.Remedy = fmt.Sprintf("State the drying: the row has a room at %s and %s. %s", s.Warm, s.Humidity, measure)
		return c
	}
	c.Members = at("plan", "drying")
	status := finding.Met
	for _, step := range p.Drying {
		t, known := step.Temperature.Get()
		humidity, damp := step.Humidity.Get()
		if !known || !damp {
			c.Remedy = "State temperature and relative humidity of each step of the drying. " + measure
			return c
		}
		status = max(status, warm(t, s.Warm))
		if humidity.Percent() > s.Humidity.Percent() {
			status = finding.NotMet
		}
	}
	c.Planned = "a room that is as warm and as dry"
	if status != finding.Met {
		c.Status, c.Planned = status, "a room that is cooler or damper"
		c.Remedy = fmt.Sprintf("Dry at %s or warmer and at most %s. %s", s.Warm, s.Humidity, measure)
	}
	return c
}

func at(steps ...any) [][]string { return [][]string{fault.At(steps...)} }
