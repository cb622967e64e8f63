package curing

import (
	"greenweight/domain/finding"
	"greenweight/domain/rulebook"
	"greenweight/domain/trichinae"
)

// process returns what is found of the plan and of the meat at receipt. No change
// of a weight mends it, so that the remedies pass it over.
func (q question) process(asked []rulebook.Jurisdiction) []finding.Finding {
	return append(trichinae.Judge(q.formula, q.sheet, asked...), q.formula.JudgeReceipt(asked...)...)
}
