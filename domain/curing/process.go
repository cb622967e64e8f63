package curing

import (
	"slices"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/rulebook"
	"greenweight/domain/trichinae"
)

// process returns what is found of the plan and of the meat at receipt. No change
// of a weight mends it, so that the remedies pass it over. What pathogen.Judge
// finds is beside it: it never needs attention, so that a verdict only counts it.
func (q question) process(asked []rulebook.Jurisdiction) []finding.Finding {
	return slices.Concat(trichinae.Judge(q.formula, q.sheet, asked...), q.formula.JudgeReceipt(asked...), q.lowAcid(asked))
}

// undoes reports whether a mended sheet lacks the salt of the method of drying by
// which the plan deals with trichinae.
func (q question) undoes(mended formula.Sheet) bool {
	if len(q.formula.Plan.Drying) == 0 {
		return false
	}
	return trichinae.Judge(q.formula, q.sheet)[0].Status == finding.Met && trichinae.Judge(q.formula, mended)[0].Status != finding.Met
}
