package curing

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Order asks to check a formula.
type Order struct {
	Scaling   formula.Order // an Amount of nothing means to check as written
	Rulebooks []rulebook.Jurisdiction
	Date      time.Time // the day whose rules count
}

// AsWritten reports whether the formula is checked by its rates, unrounded and
// for a kilogram of meat, because no amount was given.
func (o Order) AsWritten() bool { return o.Scaling.Amount == formula.Amount{} }

// Answer is what a check found.
type Answer struct {
	Meat     quantity.Mass
	Batch    quantity.Mass
	Ingoing  []finding.Figure
	Findings []finding.Finding // ordered by rulebook, then by key; what is nobody's in particular comes first
	Remedies []Remedy
	Notes    []finding.Note
}

// WeighOut returns the weigh sheet of an order, unless the formula is a
// hazard: then it returns the hazards and no sheet. It returns the faults of
// formula.Scale.
func WeighOut(o formula.Order) (*formula.Sheet, []finding.Finding, error) {
	s, err := formula.Scale(o)
	if err != nil {
		return nil, nil, err
	}
	if h := hazards(s); len(h) > 0 {
		return nil, h, nil
	}
	return &s, nil, nil
}

// Hazards returns what must not be made at all in a formula as it is written;
// none for most. It returns the faults of formula.Scale.
func Hazards(f formula.Formula) ([]finding.Finding, error) {
	order := formula.Order{Formula: f, Scale: unroundedScale()}
	order.Amount.Meat = quantity.MustGrams(1000)
	_, found, err := WeighOut(order)
	return found, err
}

// Check holds a formula, as scaled and rounded, against rulebooks and against
// what the trade holds to. It returns the faults of formula.Scale, and a
// fault.Invalid when a rulebook is asked for twice, or a scale is given with
// nothing to weigh.
func Check(o Order) (Answer, error) {
	var bad fault.Collector
	bad.AddError(nil, "invalid-value", checkAsked(o.Rulebooks))
	if o.AsWritten() && len(o.Scaling.Scale) > 0 {
		bad.Add(fault.At("scale"), "no-amount", "a scale has a meaning only with an amount; without one the formula is checked as written")
	}
	if err := bad.Err("invalid-value", "the question has no meaning as it stands"); err != nil {
		return Answer{}, err
	}
	scaling := o.Scaling
	if o.AsWritten() {
		scaling.Amount.Meat, scaling.Scale = quantity.MustGrams(1000), unroundedScale()
	}
	s, err := formula.Scale(scaling)
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Notes = s.Notes
	if o.AsWritten() {
		s.Scale = fineScale()
		a.Notes = slices.DeleteFunc(a.Notes, func(n finding.Note) bool { return !n.AsWritten })
	}
	q := ask(o.Scaling.Formula, s, prepare(o.Scaling.Formula.Product, o.Rulebooks, o.Date))
	a.Meat, a.Batch, a.Ingoing = s.Meat(), s.Batch(), table(s)
	a.Notes = append(a.Notes, remarks(s, o.Rulebooks)...)
	dangers := hazards(s)
	a.Findings = slices.Concat(dangers, q.findings(o.Rulebooks))
	if len(dangers) == 0 {
		a.Remedies = q.remedies(o.Rulebooks)
	}
	q.tell(a.Findings, a.Remedies, len(dangers) > 0)
	a.Findings = append(append(a.Findings, q.process(o.Rulebooks)...), pathogen.Judge(o.Scaling.Formula, o.Rulebooks...), s.JudgeAllergens())
	sortFindings(a.Findings, o.Rulebooks)
	return a, nil
}

// Find returns what the amounts of a formula as written are found to be: of Check
// the hazards, and what the trade and the rulebooks say of what goes in. It
// leaves out remedies, the plan and the meat at receipt, for which Check takes
// most of its time. It reports what Check reports.
func Find(f formula.Formula, asked []rulebook.Jurisdiction, date time.Time) ([]finding.Finding, error) {
	if err := checkAsked(asked); err != nil {
		return nil, err
	}
	order := formula.Order{Formula: f, Scale: unroundedScale()}
	order.Amount.Meat = quantity.MustGrams(1000)
	s, err := formula.Scale(order)
	if err != nil {
		return nil, err
	}
	q := ask(f, s, prepare(f.Product, asked, date))
	return slices.Concat(hazards(s), q.findings(asked)), nil
}

// unroundedScale has a division so fine that rounding to it can't be seen in
// any figure shown: 10^-11 g, in a kilogram of meat.
func unroundedScale() formula.Divisions {
	return formula.Divisions{{Division: quantity.MustGrams(1e-11)}}
}

// fineScale is what the remedies of a formula as written are weighed on, for a
// kilogram of meat: 0.01 g.
func fineScale() formula.Divisions { return formula.Divisions{{Division: quantity.MustGrams(0.01)}} }

// question is a weigh sheet to be judged; remedies judge changed copies of it.
type question struct {
	formula formula.Formula
	sheet   formula.Sheet
	rules   *ruleset
	sums    *sums // of the sheet
	short   bool  // whether to leave out what is only shown beside
}

// ask puts the question of a formula, scaled to a sheet, to the rules for its
// product.
func ask(f formula.Formula, s formula.Sheet, rules *ruleset) question {
	return question{formula: f, sheet: s, rules: rules, sums: newSums(s)}
}

// findings returns what the trade and the rulebooks find.
func (q question) findings(asked []rulebook.Jurisdiction) []finding.Finding {
	found := q.words(q.saltJudged())
	q.practice(func(f finding.Finding) { found = append(found, f) })
	for _, j := range asked {
		found = append(found, q.rulebook(j)...)
	}
	return found
}

// with returns the question about a changed sheet.
func (q question) with(s formula.Sheet) question {
	q.sheet, q.sums = s, newSums(s)
	return q
}

// asked returns the question about what the rates ask for, before rounding.
func (q question) asked() question {
	if q.sums.asked == nil {
		q.sums.asked = newSums(q.sheet.AsAsked())
	}
	q.sheet, q.sums = q.sums.asked.sheet, q.sums.asked
	return q
}

func sortFindings(findings []finding.Finding, asked []rulebook.Jurisdiction) {
	place := func(f finding.Finding) int {
		j, ok := rulebook.ParseJurisdiction(f.Rulebook)
		if !ok {
			return -1
		}
		return slices.Index(asked, j)
	}
	slices.SortStableFunc(findings, func(a, b finding.Finding) int {
		return cmp.Or(cmp.Compare(place(a), place(b)), cmp.Compare(a.Key(), b.Key()))
	})
}

// wholeAssay is the share from which an assay is taken to tell of everything in a
// cure: a choice of this project.
const wholeAssay = 0.99

// remarks returns what should be known of the question: which rules hold as
// well, and what is added that nothing is counted of.
func remarks(s formula.Sheet, asked []rulebook.Jurisdiction) []finding.Note {
	var notes []finding.Note
	for _, j := range asked {
		switch {
		case (j == rulebook.Denmark || j == rulebook.Germany) && !slices.Contains(asked, rulebook.EuropeanUnion):
			notes = append(notes, finding.Note{
				Code: "eu-holds-too", Text: fmt.Sprintf("the rulebook %s has national rules only; those of eu hold there too", j),
			})
		case j == rulebook.GreatBritain:
			notes = append(notes, finding.Note{
				Code: "northern-ireland", Text: "the rulebook gb is that of England, Scotland and Wales; Northern Ireland follows eu",
			})
		}
	}
	for _, l := range s.Lines {
		switch {
		case l.Addition == nil || l.Role == formula.RehydrationWater:
		case l.Addition.Cure != nil:
			if named := namedShare(*l.Addition.Cure); named < wholeAssay {
				notes = append(notes, finding.Note{
					Code: "assay-incomplete", Member: l.Member,
					Text: fmt.Sprintf("the assay of %s names %.4g percent of it; the rest counts as neither salt nor cure", l.Name, named*100),
				})
			}
		case l.Addition.Material == nil && !l.Addition.BringsNone:
			notes = append(notes, finding.Note{
				Code: "not-counted", Member: l.Member,
				Text: fmt.Sprintf("only the name of %s is known: no salt, sugar, nitrite or nitrate that it brings is counted", l.Name),
			})
		}
	}
	return notes
}

// namedShare is the part of a cure that its assay tells of.
func namedShare(c rulebook.Cure) float64 {
	sum := 0.0
	for _, compound := range []rulebook.Compound{
		rulebook.CompoundNaNO2, rulebook.CompoundKNO2, rulebook.CompoundNaNO3, rulebook.CompoundKNO3, rulebook.CompoundNaCl,
	} {
		sum += c.Content(compound).High.Float()
	}
	return sum
}
