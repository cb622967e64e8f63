package curing

import (
	"slices"
	"time"

	"greenweight/domain/rulebook"
)

// ruleset is what a formula of one product is held against. It does not change
// once made, and may be shared.
type ruleset struct {
	salt []*rule // what the trade holds to
	by   map[rulebook.Jurisdiction][]*rule
	home map[rulebook.Jurisdiction][]*rule // by, and the rows for curing preparations sold for use at home
}

// prepare returns the rules of the trade and the rows of rulebooks that are in
// force on a date and written for a product.
func prepare(product rulebook.Class, asked []rulebook.Jurisdiction, date time.Time) *ruleset {
	set := &ruleset{
		salt: saltRules(product),
		by:   make(map[rulebook.Jurisdiction][]*rule, len(asked)), home: make(map[rulebook.Jurisdiction][]*rule, len(asked)),
	}
	for _, j := range asked {
		var rules, home []*rule
		for _, l := range rulebook.InForce(j, date) {
			switch {
			case l.For(product):
				rules = append(rules, newRule(l, codeOf(l), ""))
			case l.Extends(product):
				r := newRule(l, codeOf(l), "")
				r.verify = extended
				rules = append(rules, r)
			case l.For(rulebook.HomeCure):
				home = append(home, newRule(l, codeOf(l), ""))
			}
		}
		for _, r := range rules {
			for _, by := range rules {
				if by.row.Replaces == r.row.ID {
					r.replacers = append(r.replacers, by)
				}
			}
		}
		set.by[j], set.home[j] = rules, slices.Concat(rules, home)
	}
	return set
}

// extended is why a row shows nothing of a product that it is for by
// recollection.
const extended = "that it is for whole pieces too, when they are not heat-treated, is known from memory only and must be verified"

// of returns the rows of a rulebook, as rules; for a cure that is a curing
// preparation sold for use at home the rows for those too.
func (s *ruleset) of(j rulebook.Jurisdiction, home bool) []*rule {
	if home {
		return s.home[j]
	}
	return s.by[j]
}
