package curing

import (
	"slices"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Rules is rulebooks on a date, and what the trade holds to, prepared to hold
// many formulas against. It does not change, and may be used by several
// goroutines at once.
type Rules struct {
	asked []rulebook.Jurisdiction
	sets  map[rulebook.Class]*ruleset
}

// Prepare returns the rules of rulebooks in force on a date. It reports a
// fault.Invalid when a rulebook is asked for twice.
func Prepare(asked []rulebook.Jurisdiction, date time.Time) (*Rules, error) {
	if err := checkAsked(asked); err != nil {
		return nil, err
	}
	r := &Rules{asked: slices.Clone(asked), sets: map[rulebook.Class]*ruleset{}}
	for _, product := range rulebook.Classes() {
		r.sets[product] = prepare(product, asked, date)
	}
	return r, nil
}

// Verdict is what a check found, in short.
type Verdict struct {
	Summary   finding.Summary   // every finding, counted
	Attention []finding.Finding // what is a hazard, not met or near, ordered as in an Answer; without remedies by weight, and not on other bases
}

// Verdict holds a formula as it is written against the rules: it finds what
// [Check] finds without an amount, puts into words only what needs attention,
// and looks for no remedies. It returns the faults of formula.Scale.
func (r *Rules) Verdict(f formula.Formula) (Verdict, error) {
	order := formula.Order{Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(1000)}, Scale: unroundedScale()}
	s, err := formula.Scale(order)
	if err != nil {
		return Verdict{}, err
	}
	q := ask(f, s, r.setFor(f.Product))
	q.short = true
	const groups = 12 // of rulebook, stage and authority, for a rulebook or two
	v := Verdict{Summary: make(finding.Summary, 0, groups)}
	tell := func(found finding.Finding) {
		v.Summary.Add(found)
		if found.NeedsAttention() {
			v.Attention = append(v.Attention, found)
		}
	}
	judged := func(rulebook string, j judgement) agents {
		if j.status.NeedsAttention() {
			tell(q.finding(&j))
		} else {
			v.Summary.Count(rulebook, stageOf(j.rule.row), j.rule.authority(), j.status)
		}
		return j.covers()
	}
	for _, found := range hazards(s) {
		tell(found)
	}
	for _, rule := range q.rules.salt {
		judged("", q.judge(rule, ""))
	}
	q.practice(tell)
	for _, found := range q.process(r.asked) {
		tell(found)
	}
	fiveLog, authority := pathogen.Verdict(f, r.asked...)
	v.Summary.Count("", finding.Process, authority, fiveLog)
	v.Summary.Count("", finding.Formula, finding.Law, s.AllergenStatus())
	for _, j := range r.asked {
		var covered agents
		for _, rule := range q.rules.of(j, f.HomeCure) {
			covered |= judged(j.String(), q.judge(rule, q.replaced(rule)))
		}
		for _, found := range q.uncovered(j, covered) {
			tell(found)
		}
		if found, ok := q.retail(j); ok {
			tell(found)
		}
	}
	sortFindings(v.Attention, r.asked)
	return v, nil
}

func (r *Rules) setFor(product rulebook.Class) *ruleset {
	if set, ok := r.sets[product]; ok {
		return set
	}
	return &ruleset{}
}

// checkAsked reports a rulebook that is asked for twice.
func checkAsked(asked []rulebook.Jurisdiction) error {
	var bad fault.Collector
	for i, j := range asked {
		if slices.Index(asked, j) < i {
			bad.Add(fault.At("rulebooks", i), "duplicate", "the rulebook %s is asked for already", j)
		}
	}
	return bad.Err("invalid-value", "the question has no meaning as it stands")
}
