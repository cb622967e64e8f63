package pathogen

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// FiveLogCode is the code of the finding on a reduction by 5 log.
const FiveLogCode = "ecoli-five-log"

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
	p := newFacts(f.Plan, nil)
	found := unplanned(f, asked)
	tell(&found, p.match(options[closest(p)]), asked)
	return found
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
	p := newFacts(f.Plan, ended)
	for _, o := range Options() {
		l.Matches = append(l.Matches, p.match(o))
	}
	if planned(f.Plan) || ended != nil {
		l.Closest = closest(p)
		tell(&l.Finding, l.Matches[l.Closest], by)
	}
	return l
}

// planned reports whether a plan tells of anything that an option asks for.
func planned(p formula.Plan) bool {
	diameter, _ := p.Casing.Stuffed()
	return len(p.Fermentation)+len(p.Smoke)+len(p.Heat)+len(p.Hold) > 0 || !diameter.IsZero() || p.WantedPH != nil
}

// closest returns the option of which least fails, then of which least is not
// shown; of several the one whose chamber is nearest to the fermentation, then
// that of which the least of its time is missing, and else the first.
func closest(p facts) int {
	type distance struct{ failed, open, away, short float64 }
	of := func(o Option) (d distance) {
		for _, s := range p.statuses(o) {
			switch s {
			case finding.Met:
			case finding.NotMet:
				d.failed++
			default:
				d.open++
			}
		}
		if !p.coolest.IsZero() {
			d.away = math.Abs(o.Chamber.Fahrenheit.Minus(p.coolest).CelsiusDegrees())
		}
		d.short = p.missing(o)
		return d
	}
	best, least := 0, of(options[0])
	for i, o := range options[1:] {
		if d := of(o); cmp.Or(cmp.Compare(d.failed, least.failed), cmp.Compare(d.open, least.open), cmp.Compare(d.away, least.away),
			cmp.Compare(d.short, least.short)) < 0 {
			best, least = i+1, d
		}
	}
	return best
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
func tell(f *finding.Finding, m Match, by []rulebook.Jurisdiction) {
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
