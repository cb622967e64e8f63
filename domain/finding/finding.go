// Package finding holds what a check found: the result of one rule, with what
// was measured, the limit, the reason and the source. A finding never says that
// food is safe. What is missing is NotShown; only what was shown to keep a
// limit that is itself verified is Met.
package finding

import (
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Status is the result of a rule. The zero value is invalid.
type Status int

// The results.
const (
	Met           Status = iota + 1
	Near                 // the limit lies inside the uncertainty (guard band as in JCGM 106:2012, 8.3), or exactly on a limit that must not be reached
	NotMet               // shown to be on the wrong side
	NotShown             // what would show it is missing, or the limit is known from memory only
	NotApplicable        // the rule does not ask anything here
	Hazard               // must not be made at all
)

var statusWords = []string{"", "met", "near", "not-met", "not-shown", "not-applicable", "hazard"}

// String returns the word used on the wire.
func (s Status) String() string { return word(statusWords, int(s)) }

// Stage is when in the work a finding counts. The zero value is invalid.
type Stage int

// The stages.
const (
	Formula Stage = iota + 1
	Process
	Finish
)

var stageWords = []string{"", "formula", "process", "finish"}

// String returns the word used on the wire.
func (s Stage) String() string { return word(stageWords, int(s)) }

// Authority is who asks for it. The zero value is invalid.
type Authority int

// The authorities, from the strictest.
const (
	Law      Authority = iota + 1
	Guidance           // an authority's directive, manual or advice
	Practice           // the trade, or this project's own caution
)

var authorityWords = []string{"", "law", "guidance", "practice"}

// String returns the word used on the wire.
func (a Authority) String() string { return word(authorityWords, int(a)) }

// Basis says what an amount is an amount of: without it a figure in mg/kg means
// nothing. The words are those of package rulebook.
type Basis struct {
	Agent   string // nitrite, salt, culture
	Species string // the chemical form it is expressed as
	Phase   string // ingoing, residual
	Base    string // the mass that it is divided by
}

// Figure is a measured or computed amount with its basis. Where it is not known
// exactly, Range holds both ends and Value is the end that was held against the
// limit, or the high end when it was held against none.
type Figure struct {
	Value quantity.Measure
	Range quantity.Between[quantity.Measure] // zero when Value is exact
	Basis Basis
}

// IsZero reports whether there is no figure.
func (f Figure) IsZero() bool { return f.Value.IsZero() }

// Limit is what a figure was held against.
type Limit struct {
	Comparator string // the sign
	Value      quantity.Measure
	Printed    string // as the source prints it
	Basis      Basis
}

// IsZero reports whether there is no limit.
func (l Limit) IsZero() bool { return l.Value.IsZero() }

// Finding is the result of one rule.
type Finding struct {
	Code      string // stable, kebab-case
	Rulebook  string // whose rule; empty when it is nobody's in particular
	LimitID   string // the row of the rulebook
	GuideID   string // the guide value, where it is no row
	Status    Status
	Stage     Stage
	Authority Authority
	Subject   string
	Measured  Figure
	Limit     Limit
	Also      []Figure   // the same amount on other bases and as other species
	Reason    string     // why this status, for people
	Remedy    string     // what to do, with a number, when it is known
	Members   [][]string // paths to the members that the amount comes from
	Source    source.Citation
}

// Key names the rule: the row where there is one, the code otherwise.
func (f Finding) Key() string {
	if f.LimitID != "" {
		return f.LimitID
	}
	return f.Code
}

// Note is a remark that is no finding: nothing was judged.
type Note struct {
	Code   string
	Member []string // path to the member, nil when it is about all
	Text   string
	Source source.Citation // zero when it follows from the question alone

	// AsWritten says that it holds of the formula whatever is made of it; the
	// others are about the weights on a scale.
	AsWritten bool
}

func word(words []string, i int) string {
	if i <= 0 || i >= len(words) {
		return "unstated"
	}
	return words[i]
}
