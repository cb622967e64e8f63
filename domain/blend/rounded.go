package blend

import (
	"fmt"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// round puts the masses on the scale, and says which limits the rounded ones
// break. What is on hand is never exceeded: such a mass rounds down. What must be
// exact is taken as kept within as much as rounding can move it, half a division
// of each cut.
//
// It reports fault.Invalid at scale for divisions too fine to be counted.
func (m model) round(a *Answer) (*Rounded, error) {
	masses, slack, sum := make([]float64, m.n), 0.0, 0.0
	for j := range a.Cuts {
		u := &a.Cuts[j]
		if u.Mass.IsZero() {
			continue
		}
		division := m.order.Scale.Division(u.Mass)
		rounded, _, err := u.Mass.RoundTo(division, quantity.ToNearest)
		if onHand, ok := u.Cut.OnHand.Get(); err == nil && ok && onHand.Less(rounded) {
			rounded, _, err = u.Mass.RoundTo(division, quantity.Down)
		}
		if err != nil {
			return nil, &fault.Error{Kind: fault.Invalid, Code: "invalid-value", Detail: "the scale is too fine for the blend", Violations: []fault.Violation{{
				Path: fault.At("scale"), Code: "minimum", Detail: fmt.Sprintf("%s of %s has more divisions of %s than can be counted", u.Mass, u.Cut.Name, division),
			}}}
		}
		u.OnScale, u.Division = material.Is(rounded), material.Is(division)
		masses[j] = rounded.Grams()
		sum += masses[j]
		slack += division.Grams() / 2
	}
	r := &Rounded{Total: massOf(sum), Composition: m.composition(masses)}
	if sum == 0 {
		for _, row := range m.rows {
			r.Misses = append(r.Misses, Miss{row.at, row.says + ": nothing is left on this scale"})
		}
		return r, nil
	}
	for _, row := range m.rows {
		figure := row.of(masses)
		by := row.beyond(figure)
		const noise = 1e-9
		allowed := noise * max(1, row.value)
		if row.sense == exact {
			allowed = slack
			if row.unit != grams {
				allowed = slack / sum
			}
		}
		if by > allowed {
			r.Misses = append(r.Misses, Miss{row.at, fmt.Sprintf("%s: the weights give %s, which misses it by %s", row.says, row.words(figure), row.gap(by))})
		}
	}
	return r, nil
}
