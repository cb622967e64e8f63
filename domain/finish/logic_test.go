package finish_test

import (
	"slices"
	"testing"

	"greenweight/domain/finding"
	"greenweight/domain/finish"
)

// ladder is the order of the package comment, from the worst.
var ladder = []finding.Status{finding.NotMet, finding.NotShown, finding.Near, finding.Met}

// opposite turns the ladder around.
func opposite(s finding.Status) finding.Status {
	i := slices.Index(ladder, s)
	if i < 0 {
		return s
	}
	return ladder[len(ladder)-1-i]
}

// The table of truth of both joins, written out: all is the worst, any the best.
func TestJoinsByTheirTable(t *testing.T) {
	t.Parallel()
	const m, n, s, x, o = finding.Met, finding.Near, finding.NotShown, finding.NotMet, finding.NotApplicable
	for _, row := range []struct{ a, b, all, any finding.Status }{
		{m, m, m, m}, {m, n, n, m}, {m, s, s, m}, {m, x, x, m}, {m, o, m, m},
		{n, n, n, n}, {n, s, s, n}, {n, x, x, n}, {n, o, n, n},
		{s, s, s, s}, {s, x, x, s}, {s, o, s, s},
		{x, x, x, x}, {x, o, x, x},
		{o, o, o, o},
	} {
		for _, of := range [][]finding.Status{{row.a, row.b}, {row.b, row.a}} {
			if got := finish.All(of...); got != row.all {
				t.Errorf("all of %v: want %s, got %s", of, row.all, got)
			}
			if got := finish.Any(of...); got != row.any {
				t.Errorf("any of %v: want %s, got %s", of, row.any, got)
			}
		}
	}
	if finish.All() != o || finish.Any() != o {
		t.Error("of nothing something is asked")
	}
	if finish.All(finding.Hazard, m) != finding.Hazard || finish.Any(finding.Hazard, x) != x {
		t.Error("a hazard is not below all")
	}
}

// The laws of a lattice, over every three statuses: De Morgan, absorption, both
// distributive laws, and that a better branch never makes the whole worse.
func TestLawsOfTheJoins(t *testing.T) {
	t.Parallel()
	for _, a := range ladder {
		for _, b := range ladder {
			if opposite(finish.All(a, b)) != finish.Any(opposite(a), opposite(b)) {
				t.Errorf("De Morgan fails at %s and %s", a, b)
			}
			if finish.All(a, finish.Any(a, b)) != a || finish.Any(a, finish.All(a, b)) != a {
				t.Errorf("absorption fails at %s and %s", a, b)
			}
			for _, c := range ladder {
				if finish.All(a, finish.Any(b, c)) != finish.Any(finish.All(a, b), finish.All(a, c)) ||
					finish.Any(a, finish.All(b, c)) != finish.All(finish.Any(a, b), finish.Any(a, c)) ||
					finish.All(a, b, c) != finish.All(finish.All(a, b), c) || finish.Any(a, b, c) != finish.Any(a, finish.Any(b, c)) {
					t.Errorf("a law fails at %s, %s and %s", a, b, c)
				}
				if slices.Index(ladder, b) <= slices.Index(ladder, c) &&
					(slices.Index(ladder, finish.All(a, b)) > slices.Index(ladder, finish.All(a, c)) ||
						slices.Index(ladder, finish.Any(a, b)) > slices.Index(ladder, finish.Any(a, c))) {
					t.Errorf("%s for %s makes it worse beside %s", c, b, a)
				}
			}
		}
	}
}
