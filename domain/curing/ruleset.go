package curing

import (
	"time"

	"greenweight/domain/rulebook"
)

// ruleset is what a formula of one product is held against. It does not change
// once made, and may be shared.
type ruleset struct {
	salt []*rule // what the trade holds to
	by   map[rulebook.Jurisdiction][]*rule
}

// prepare returns the rules of the trade and the rows of rulebooks that are in
// force on a date and written for a product.
func prepare(product rulebook.Class, asked []rulebook.Jurisdiction, date time.Time) *ruleset {
	set := &ruleset{salt: saltRules(product), by: make(map[rulebook.Jurisdiction][]*rule, len(asked))}
	for _, j := range asked {
		var rules []*rule
		for _, l := range rulebook.InForce(j, date) {
			if l.For(product) {
				rules = append(rules, newRule(l, codeOf(l), ""))
			}
		}
		for _, r := range rules {
			for _, by := range rules {
				if by.row.Replaces == r.row.ID {
					r.replacers = append(r.replacers, by)
				}
			}
		}
		set.by[j] = rules
	}
	return set
}

// of returns the rows of a rulebook, as rules.
func (s *ruleset) of(j rulebook.Jurisdiction) []*rule { return s.by[j] }
