package pathogen

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
)

// Condition is one thing that an option asks of a plan.
type Condition struct {
	Code    string         // casing, chamber, acid, stages, core, drying
	Status  finding.Status // NotShown for what is not stated, or can only be measured
	Asked   string
	Planned string // what the plan has; empty when it has nothing
	Remedy  string
	Members [][]string // paths from the formula
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

// facts is what a plan, and the pH that was read, tell of what options ask.
type facts struct {
	plan     formula.Plan
	ended    *Reading[quantity.PH]
	coolest  quantity.Temperature // of the fermentation; zero when none is stated
	all      bool                 // each step of it has its temperature
	course   []while              // after it
	diameter quantity.Length      // zero when it is not stated
	exactly  bool                 // and not from the flat width
}

func newFacts(p formula.Plan, ended *Reading[quantity.PH]) facts {
	f := facts{plan: p, ended: ended, course: afterFermentation(p)}
	f.coolest, f.all = coldest(fermenting(p))
	f.diameter, f.exactly = p.Casing.Stuffed()
	return f
}

// statuses returns the statuses of the conditions of match, without their words.
func (p facts) statuses(o Option) []finding.Status {
	all := make([]finding.Status, 0, len(o.Then)+3)
	all = append(all, p.chamber(o), p.acid(o), p.casing(o))
	switch o.Then[0].Act {
	case Core:
		return append(all, p.core(o.Then[0]), p.drying(o.Then[1]))
	default:
		return append(all, p.stages(o))
	}
}

// match holds the plan against one option.
func (p facts) match(o Option) Match {
	m := Match{Option: o, Conditions: []Condition{p.chamberInWords(o), p.acidInWords(o), p.casingInWords(o)}}
	switch o.Then[0].Act {
	case Core:
		m.Conditions = append(m.Conditions, p.coreInWords(o.Then[0]), p.dryingInWords(o.Then[1]))
	default:
		m.Conditions = append(m.Conditions, p.stagesInWords(o))
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
func (p facts) chamber(o Option) finding.Status {
	if p.coolest.IsZero() {
		return finding.NotShown
	}
	if s := warm(p.coolest, o.Chamber); s != finding.Met || p.all {
		return s
	}
	return finding.NotShown
}

func (p facts) chamberInWords(o Option) Condition {
	c := Condition{Code: "chamber", Status: p.chamber(o), Asked: "a chamber at " + o.Chamber.String()}
	if p.coolest.IsZero() {
		c.Remedy = fmt.Sprintf("State the fermentation: the row has it at %s.", o.Chamber)
		return c
	}
	c.Members = at("plan", "fermentation")
	if c.Status == finding.NotShown {
		c.Remedy = "State the temperature of each step of the fermentation."
		return c
	}
	c.Planned = "fermented at " + both(p.coolest)
	if c.Status != finding.Met {
		c.Remedy = fmt.Sprintf("Ferment at %s at least, %s warmer.", o.Chamber, degreesBetween(p.coolest, o.Chamber.Fahrenheit))
	}
	return c
}

// acid holds the pH at the end. A pH is measured and not planned: one that is
// only wanted is not met outside the class of the row, and not shown inside.
func (p facts) acid(o Option) finding.Status {
	switch wanted := p.plan.WantedPH; {
	case p.ended != nil:
		return Bound{Of: Acidity, Comparator: o.Acid.Comparator, Limit: o.Acid.PH.Measure()}.hold(phSpan(*p.ended))
	case wanted != nil && !o.Acid.keeps(*wanted):
		return finding.NotMet
	default:
		return finding.NotShown
	}
}

func (p facts) acidInWords(o Option) Condition {
	c := Condition{Code: "acid", Status: p.acid(o), Asked: o.Acid.String() + " at the end of the fermentation"}
	switch {
	case p.ended != nil:
		c.Planned = "read " + phSpan(*p.ended).text("pH")
	case p.plan.WantedPH != nil:
		c.Planned, c.Members = short(p.plan.WantedPH.Float())+" is wanted", at("plan", "wanted_ph")
	}
	if c.Status != finding.Met {
		c.Remedy = fmt.Sprintf("Measure the pH at the end of the fermentation: the row is for a %s.", o.Acid)
	}
	return c
}

// casing holds the diameter against the class of the row. What is thicker than
// one class is looked up in the next.
func (p facts) casing(o Option) finding.Status {
	switch {
	case p.diameter.IsZero():
		return finding.NotShown
	case p.diameter.Compare(o.UpTo) > 0, !o.Above.IsZero() && p.diameter.Compare(o.Above) <= 0:
		return finding.NotMet
	default:
		return finding.Met
	}
}

func (p facts) casingInWords(o Option) Condition {
	c := Condition{Code: "casing", Status: p.casing(o), Asked: "a casing up to " + o.UpTo.String()}
	if !o.Above.IsZero() {
		c.Asked = "a casing of 56 to " + o.UpTo.String()
	}
	if p.diameter.IsZero() {
		c.Remedy = "State the diameter of the stuffed casing."
		return c
	}
	c.Planned, c.Members = short(p.diameter.Millimetres())+" mm stuffed", at("plan", "casing")
	if !p.exactly {
		c.Planned += ", as far as the flat width tells"
	}
	switch {
	case c.Status == finding.Met:
	case p.diameter.Compare(o.UpTo) > 0:
		c.Remedy = fmt.Sprintf("Stuff into a casing of at most %s.", o.UpTo)
	default:
		c.Remedy = fmt.Sprintf("Take a row for casings up to %s.", o.Above)
	}
	return c
}

// stages holds what follows the fermentation against the holds and heats of the
// row.
func (p facts) stages(o Option) finding.Status {
	if len(p.course) == 0 {
		return finding.NotShown
	}
	switch _, kept, near := warmEnough(p.course, o.Then); {
	case kept:
		return finding.Met
	case near:
		return finding.Near
	default:
		return finding.NotMet
	}
}

// missing returns how much of the time of the holds and heats of a row is missing,
// as a share.
func (p facts) missing(o Option) float64 {
	if o.Then[0].Act == Core {
		return 0
	}
	reached, _, _ := warmEnough(p.course, o.Then)
	var lacks, wants time.Duration
	for i, s := range o.Then {
		wants += s.Span
		lacks += max(0, s.Span-max(0, reached[i]))
	}
	return float64(lacks) / float64(wants)
}

func (p facts) stagesInWords(o Option) Condition {
	c := Condition{Code: "stages", Status: p.stages(o), Asked: askedStages(o.Then)}
	for _, member := range []struct {
		name string
		has  bool
	}{
		{"hold", slices.ContainsFunc(p.plan.Hold, func(h formula.Hold) bool { return h.Of == formula.Stuffed })},
		{"smoke", len(p.plan.Smoke) > 0}, {"heat", len(p.plan.Heat) > 0},
	} {
		if member.has {
			c.Members = append(c.Members, fault.At("plan", member.name))
		}
	}
	if len(p.course) == 0 {
		c.Remedy = "After the fermentation, " + c.Asked + ", and state it."
		return c
	}
	reached, _, _ := warmEnough(p.course, o.Then)
	var has, mend []string
	for i, s := range o.Then {
		got := max(reached[i], 0)
		has = append(has, fmt.Sprintf("%s at %s or warmer", hoursOf(min(got, s.Span)), s.Warm))
		if got < s.Span {
			mend = append(mend, fmt.Sprintf("%s longer at %s", hoursOf(s.Span-got), s.Warm))
		}
	}
	c.Planned = strings.Join(has, ", then ")
	switch c.Status {
	case finding.Near:
		c.Remedy = "Keep to the °F: " + strings.Join(mend, ", then ") + "."
	case finding.NotMet:
		c.Remedy = "After the fermentation keep it " + strings.Join(mend, ", then ") + "."
	default:
	}
	return c
}

// askedStages puts holds and heats into words.
func askedStages(all []Stage) string {
	words := make([]string, 0, len(all))
	for _, s := range all {
		words = append(words, fmt.Sprintf("%s %s at %s", s.Act, hoursOf(s.Span), s.Warm))
	}
	return strings.Join(words, ", then ")
}

// core holds the steps in smoke and heat against the core of the row.
func (p facts) core(s Stage) finding.Status {
	held, _, known := hottestCore(p.plan, s.Warm.Fahrenheit)
	about, _, _ := hottestCore(p.plan, s.Warm.near())
	switch {
	case !known:
		return finding.NotShown
	case held >= s.Span:
		return finding.Met
	case about >= s.Span:
		return finding.Near
	default:
		return finding.NotMet
	}
}

func (p facts) coreInWords(s Stage) Condition {
	c := Condition{Code: "core", Status: p.core(s), Asked: fmt.Sprintf("a core of %s for %s", s.Warm, hoursOf(s.Span))}
	if held, reached, known := hottestCore(p.plan, s.Warm.Fahrenheit); known {
		c.Planned = "a core that stays below it"
		if reached {
			c.Planned = "a core held " + hoursOf(held)
		}
	}
	if c.Status != finding.Met {
		c.Remedy = fmt.Sprintf("Heat the core to %s, hold it there %s, and state it.", s.Warm, hoursOf(s.Span))
	}
	return c
}

// room holds the drying of a plan against the room of the row: not shown where it
// is not stated.
func (p facts) room(s Stage) finding.Status {
	if len(p.plan.Drying) == 0 {
		return finding.NotShown
	}
	status := finding.Met
	for _, step := range p.plan.Drying {
		t, known := step.Temperature.Get()
		humidity, damp := step.Humidity.Get()
		if !known || !damp {
			return finding.NotShown
		}
		status = max(status, warm(t, s.Warm))
		if humidity.Percent() > s.Humidity.Percent() {
			status = finding.NotMet
		}
	}
	return status
}

// drying is room, but that how much water is left can only be measured: what is
// planned as the row has it is not shown.
func (p facts) drying(s Stage) finding.Status {
	if status := p.room(s); status != finding.Met {
		return status
	}
	return finding.NotShown
}

func (p facts) dryingInWords(s Stage) Condition {
	c := Condition{
		Code: "drying", Status: p.drying(s),
		Asked: fmt.Sprintf("a room at %s and %s, until moisture to protein is at most %s to 1", s.Warm, s.Humidity, short(s.Moisture.Float())),
	}
	measure := fmt.Sprintf("Measure moisture and protein when it is dry: at most %s to 1.", short(s.Moisture.Float()))
	if len(p.plan.Drying) > 0 {
		c.Members = at("plan", "drying")
	}
	switch p.room(s) {
	case finding.Met:
		c.Planned, c.Remedy = "a room that is as warm and as dry", measure
	case finding.NotShown:
		c.Remedy = fmt.Sprintf("State temperature and relative humidity of each step of the drying: the row has a room at %s and %s. %s", s.Warm, s.Humidity, measure)
	default:
		c.Planned = "a room that is cooler or damper"
		c.Remedy = fmt.Sprintf("Dry at %s or warmer and at most %s. %s", s.Warm, s.Humidity, measure)
	}
	return c
}

func at(steps ...any) [][]string { return [][]string{fault.At(steps...)} }
