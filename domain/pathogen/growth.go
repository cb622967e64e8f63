package pathogen

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Found is what was measured held against the rows of one organism.
type Found struct {
	Organism Organism
	Status   finding.Status // of the row that says least: rows of several texts do not agree
	Findings []finding.Finding
}

// Grow holds what was measured against the rows of every organism that has any.
// A criterion is that of the rulebooks asked for, or of all when none is; it is not
// met where no list of it is kept. A row of where an organism grows is never not
// met: that each reading lies inside does not show growth, it rules it out not.
// Nothing is returned when nothing was measured.
func Grow(m Measured, asked ...rulebook.Jurisdiction) []Found {
	if m.empty() {
		return nil
	}
	var all []Found
	for _, o := range Organisms() {
		found := Found{Organism: o, Status: finding.Met}
		for _, l := range limits {
			if l.Organism != o {
				continue
			}
			for _, f := range l.of(l.judge(m), asked) {
				found.Status = less(found.Status, f.Status)
				found.Findings = append(found.Findings, f)
			}
		}
		if len(found.Findings) > 0 {
			all = append(all, found)
		}
	}
	return all
}

// certainty orders statuses by how much they show.
func certainty(s finding.Status) int {
	return slices.Index([]finding.Status{finding.NotMet, finding.NotShown, finding.Near, finding.Met}, s)
}

func less(a, b finding.Status) finding.Status {
	if certainty(b) < certainty(a) {
		return b
	}
	return a
}

func more(a, b finding.Status) finding.Status {
	if certainty(b) > certainty(a) {
		return b
	}
	return a
}

// hold returns the status of a list: that of the bound that is kept least.
func (a All) hold(m Measured) finding.Status {
	status := finding.Met
	for _, b := range a {
		status = less(status, b.hold(m.of(b.Of)))
	}
	return status
}

// hold returns the status of a row, that of the list that is kept best, and which
// list that is: of several the first.
func (l Limit) hold(m Measured) (finding.Status, int) {
	status, best := finding.NotMet, 0
	for i, a := range l.Any {
		if s := a.hold(m); i == 0 || certainty(s) > certainty(status) {
			status, best = more(status, s), i
		}
	}
	return status, best
}

// of returns a finding of a row: of a criterion one for each of the rulebooks
// asked for whose it is. Nobody's is asked for: one, whosever it is. In Denmark
// and Germany the criteria of the European Union hold.
func (l Limit) of(f finding.Finding, asked []rulebook.Jurisdiction) []finding.Finding {
	if l.Sort != Criterion || len(asked) == 0 {
		return []finding.Finding{f}
	}
	var all []finding.Finding
	for _, j := range l.Rulebooks {
		european := j == rulebook.EuropeanUnion && (slices.Contains(asked, rulebook.Denmark) || slices.Contains(asked, rulebook.Germany))
		if slices.Contains(asked, j) || european {
			f.Rulebook = j.String()
			all = append(all, f)
		}
	}
	return all
}

// judge holds what was measured against a row.
func (l Limit) judge(m Measured) finding.Finding {
	status, best := l.hold(m)
	f := finding.Finding{
		Code: l.Organism.String() + "-" + l.Sort.String(), LimitID: l.ID, Stage: m.Stage, Authority: l.Authority, Source: l.Source,
		Subject: subject(l),
	}
	l.figures(&f, m, best)
	readings, missing := l.readings(m)
	f.Reason = readings + ", against: " + l.Printed
	switch {
	case l.Sort == Criterion && m.Stage == finding.Process:
		f.Status = finding.NotShown
		f.Reason += "; the criterion is for the finished product, and this was measured before"
		f.Remedy = "Measure it when it is done."
		return f
	case (status == finding.Met || status == finding.Near) && l.Source.Trust == source.Memory:
		f.Status = finding.NotShown
		f.Reason += "; that might rule growth out, but the row is known from memory only and not verified, so that this shows nothing"
		return f
	case status == finding.Met:
		f.Status = finding.Met
		f.Reason += "; " + kept(l)
		return f
	case status == finding.Near:
		f.Status = finding.Near
		f.Reason += "; a limit lies within what the reading may be off, or within what is printed"
	case status == finding.NotShown:
		f.Status = finding.NotShown
		f.Reason += "; what might show it was not measured: " + missing
	case l.Sort == Criterion:
		f.Status = finding.NotMet
		f.Reason += "; no part of it is kept, so that growth is not ruled out by it"
	default:
		f.Status = finding.NotShown
		f.Reason += "; each reading is inside, so that none of them alone rules it out, which does not show that it happens either"
	}
	f.Remedy = l.wanted(m)
	return f
}

func subject(l Limit) string {
	switch l.Sort {
	case Toxin:
		return "enterotoxin of " + l.Organism.Name()
	case Criterion:
		return l.Organism.Name() + ": whether the product counts as unable to support its growth"
	case Growth, NoGrowth:
	}
	return "growth of " + l.Organism.Name()
}

// kept says what a row that is kept says.
func kept(l Limit) string {
	switch l.Sort {
	case Toxin:
		return "outside where the toxin is printed to be made; what was made before stays, and cooking does not take it away"
	case NoGrowth:
		return "no growth was seen there; what is there already may live on"
	case Criterion:
		return "kept; Listeria may be there all the same, and live on"
	case Growth:
	}
	return "outside where it is printed to grow; what is there already may live on"
}

// figures sets what was measured and the limit: of the bound that decides the
// list that is kept best, or of one of which there is a reading.
func (l Limit) figures(f *finding.Finding, m Measured, best int) {
	var decides *Bound
	for _, a := range slices.Concat([]All{l.Any[best]}, l.Any) {
		for i := range a {
			if !m.of(a[i].Of).known {
				continue
			}
			if decides == nil || slices.Equal(a, l.Any[best]) && certainty(a[i].hold(m.of(a[i].Of))) < certainty(decides.hold(m.of(decides.Of))) {
				decides = &a[i]
			}
		}
		if decides != nil {
			break
		}
	}
	for _, v := range l.variables() {
		if m.of(v).known {
			f.Members = append(f.Members, memberOf(v))
		}
	}
	if decides == nil {
		return
	}
	f.Measured = m.figure(decides.Of)
	f.Limit = finding.Limit{Comparator: decides.Comparator.String(), Value: decides.Limit, Printed: l.Printed}
}

func memberOf(v Variable) []string {
	switch v {
	case Acidity:
		return []string{"measured", "ph"}
	case Activity:
		return []string{"measured", "water_activity"}
	case Temperature:
	}
	return []string{"measured", "temperature"}
}

// figure returns a reading with both ends of what it may be, as far as the scale
// goes.
func (m Measured) figure(v Variable) finding.Figure {
	s := m.of(v)
	measure := func(x float64) quantity.Measure {
		switch v {
		case Acidity:
			return ph(min(max(x, 0), 14))
		case Activity:
			return aw(min(max(x, 0), 1))
		case Temperature:
		}
		return degC(min(max(x, -273), math.MaxFloat64))
	}
	f := finding.Figure{Value: measure(s.value)}
	if s.off > 0 {
		f.Range = quantity.Between[quantity.Measure]{Low: measure(s.low()), High: measure(s.high())}
	}
	return f
}

// variables returns what a row is about, in order.
func (l Limit) variables() []Variable {
	var all []Variable
	for _, v := range []Variable{Acidity, Activity, Temperature} {
		if slices.ContainsFunc(l.Any, func(a All) bool { return slices.ContainsFunc(a, func(b Bound) bool { return b.Of == v }) }) {
			all = append(all, v)
		}
	}
	return all
}

// readings puts into words what was measured of what a row asks, and what was
// not.
func (l Limit) readings(m Measured) (has, missing string) {
	var got, lacks []string
	for _, v := range l.variables() {
		if s := m.of(v); s.known {
			got = append(got, s.text(v.name()))
		} else {
			lacks = append(lacks, v.name())
		}
	}
	if len(got) == 0 {
		got = []string{"nothing of it was measured"}
	}
	return strings.Join(got, "; "), strings.Join(lacks, ", ")
}

// wanted says what would show the row: what to measure, or up to what to dry.
func (l Limit) wanted(m Measured) string {
	var ways []string
	open := false
	for _, a := range l.Any {
		var parts []string
		for _, b := range a {
			s := m.of(b.Of)
			if b.Comparator == rulebook.Above || b.Comparator == rulebook.AtLeast {
				parts = nil // nobody makes a sausage hotter, or less sour, for that
				break
			}
			text := fmt.Sprintf("%s %s %s", b.Of.name(), b.Comparator, short(b.Limit.Value()-s.off))
			if b.Of == Temperature {
				text += " °C"
			}
			open = open || !s.known
			parts = append(parts, text)
		}
		if len(parts) > 0 {
			ways = append(ways, strings.Join(parts, " and "))
		}
	}
	text := "What would show it, as read: " + strings.Join(ways, "; or ") + "."
	if open {
		text += " What is not measured yet must keep it with all that the reading may be off."
	}
	return text
}
