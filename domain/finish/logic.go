package finish

import (
	"greenweight/domain/finding"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// certainty orders the statuses of a condition by how much they show. What is not
// applicable has no place in the order; a hazard is below all.
func certainty(s finding.Status) int {
	switch s {
	case finding.Hazard:
		return 1
	case finding.NotMet:
		return 2
	case finding.NotShown:
		return 3
	case finding.Near:
		return 4
	case finding.Met:
		return 5
	case finding.NotApplicable:
	}
	return 0
}

// All returns the status of conditions that are all asked: that of the worst.
// What is not applicable is left out; of none it is not applicable.
func All(of ...finding.Status) finding.Status { return fold(of, func(a, b int) bool { return a < b }) }

// Any returns the status of conditions of which one is enough: that of the best.
// What is not applicable is left out; of none it is not applicable.
func Any(of ...finding.Status) finding.Status { return fold(of, func(a, b int) bool { return a > b }) }

func fold(of []finding.Status, before func(a, b int) bool) finding.Status {
	status := finding.NotApplicable
	for _, s := range of {
		if certainty(s) == 0 {
			continue
		}
		if status == finding.NotApplicable || before(certainty(s), certainty(status)) {
			status = s
		}
	}
	return status
}

// join returns the status of a node of a tree from those of its branches.
func join(j rulebook.Join, of []finding.Status) finding.Status {
	if j == rulebook.AnyOf {
		return Any(of...)
	}
	return All(of...)
}

// trusted returns what a status is worth by a limit of some trust: what is kept
// of one that is known from memory is not shown.
func trusted(s finding.Status, t source.Trust) finding.Status {
	if t == source.Memory && certainty(s) > certainty(finding.NotShown) {
		return finding.NotShown
	}
	return s
}

// rounding is what the last bits of a computed figure may hide.
const rounding = 1e-9

// span is what a figure may be.
type span struct{ value, low, high float64 }

func around(value, off float64) span { return span{value, value - off, value + off} }

// hold holds a figure against a limit: met with all that it may be off, not met
// when it is on the other side with all of that, near in between and exactly on a
// limit that must not be reached.
func hold(c rulebook.Comparator, s span, limit float64) finding.Status {
	low, high := s.low, s.high
	if c == rulebook.AtLeast || c == rulebook.Above {
		low, high, limit = -high, -low, -limit
	}
	open := c == rulebook.Below || c == rulebook.Above
	switch {
	case high < limit-rounding, !open && high <= limit+rounding:
		return finding.Met
	case low > limit+rounding:
		return finding.NotMet
	default:
		return finding.Near
	}
}
