package panel

import (
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/source"
)

// Order is a question: a trial, a score sheet, or both.
type Order struct {
	Trial *Trial
	Sheet *Sheet
}

// Answer is the answer to an Order.
type Answer struct {
	Trial      *Result
	Attributes []Summary
	Sources    []source.Citation
	Notes      []finding.Note // members from the order down
}

// Judge answers an order. It reports fault.Invalid with the members at fault of
// both parts, below trial and score_sheet, or without either.
func Judge(o Order) (Answer, error) {
	var bad fault.Collector
	var a Answer
	if o.Trial == nil && o.Sheet == nil {
		bad.Add(fault.At("trial"), "required", "is missing, and score_sheet too; at least one is needed")
	}
	if o.Trial != nil {
		r, err := Evaluate(*o.Trial)
		bad.AddError(fault.At("trial"), "invalid-value", err)
		a.Trial, a.Sources = &r, append(a.Sources, o.Trial.Method.Source())
		a.Notes = append(a.Notes, below("trial", r.Notes)...)
	}
	if o.Sheet != nil {
		summaries, notes, err := Summarise(*o.Sheet)
		bad.AddError(fault.At("score_sheet"), "invalid-value", err)
		a.Attributes, a.Sources = summaries, append(a.Sources, Sources()...)
		a.Notes = append(a.Notes, below("score_sheet", notes)...)
	}
	if err := bad.Err("invalid-value", "the order has no meaning as it stands"); err != nil {
		return Answer{}, err
	}
	return a, nil
}

func below(part string, notes []finding.Note) []finding.Note {
	for i := range notes {
		if notes[i].Member != nil {
			notes[i].Member = append([]string{part}, notes[i].Member...)
		}
	}
	return notes
}
