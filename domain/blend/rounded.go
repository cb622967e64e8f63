package blend

import (
	"fmt"
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// weighing is the masses of a blend on a scale, in grams.
type weighing struct {
	m        model
	masses   []float64
	division []float64 // of a cut that is used
	slack    float64   // how far rounding can move the mass in all: half a division of each cut
}

// round puts the masses on the scale, and says which limits the rounded ones
// break. A mass goes to the nearest division, and what is on hand is never
// exceeded; then one or two masses at a time are moved by a division for as long
// as that brings the limits nearer to being kept. What must be exact is taken as
// kept within as much as rounding can move it.
//
// It reports fault.Invalid at scale for divisions too fine to be counted.
func (m model) round(a *Answer) (*Rounded, error) {
	w := weighing{m: m, masses: make([]float64, m.n), division: make([]float64, m.n)}
	for j, u := range a.Cuts {
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
		w.masses[j], w.division[j] = rounded.Grams(), division.Grams()
		w.slack += division.Grams() / 2
	}
	w.mend()
	for j, mass := range w.masses {
		if w.division[j] > 0 {
			a.Cuts[j].OnScale, a.Cuts[j].Division = material.Is(massOf(w.onScale(j, mass))), material.Is(massOf(w.division[j]))
		}
	}
	r := &Rounded{Total: massOf(w.all()), Composition: m.composition(w.masses)}
	for _, row := range m.rows {
		if w.all() == 0 {
			r.Misses = append(r.Misses, Miss{row.at, row.says + ": nothing is left on this scale"})
			continue
		}
		if figure := row.of(w.masses); w.missed(row) > 0 {
			r.Misses = append(r.Misses, Miss{row.at, fmt.Sprintf("%s: the weights give %s, which misses it by %s", row.says, row.words(figure), row.gap(row.beyond(figure)))})
		}
	}
	return r, nil
}

func (w weighing) all() float64 {
	sum := 0.0
	for _, mass := range w.masses {
		sum += mass
	}
	return sum
}

// onScale returns a mass as the whole number of divisions that it is, without
// the last bits that steps have left.
func (w weighing) onScale(j int, mass float64) float64 {
	return math.Round(mass/w.division[j]) * w.division[j]
}

// missed returns by how much the weights break a row, as a part of the whole;
// nothing when they keep it, which an exact one is within the slack.
func (w weighing) missed(r row) float64 {
	all := w.all()
	by := r.beyond(r.of(w.masses))
	if r.unit == grams {
		by /= all
	}
	const noise = 1e-9
	allowed := noise * math.Max(1, math.Abs(r.value))
	if r.unit == grams {
		allowed = noise
	}
	if r.sense == exact {
		allowed = w.slack / all
	}
	if by > allowed {
		return by
	}
	return 0
}

// score is what the weights miss in sum; infinite when nothing is left.
func (w weighing) score() float64 {
	if w.all() == 0 {
		return math.Inf(1)
	}
	sum := 0.0
	for _, r := range w.m.rows {
		sum += w.missed(r)
	}
	return sum
}

// mend moves one or two weights by a division while that lowers the score. What
// is fixed stays. There are at most 40 moves, and pairs are tried of up to twelve
// cuts only, which bounds the work.
func (w weighing) mend() {
	const moves, pairs = 40, 12
	var steps []int // cut j up: j+1, down: -(j+1)
	for j, division := range w.division {
		if _, fixed := w.m.order.Cuts[j].Fixed.Get(); division > 0 && !fixed {
			steps = append(steps, j+1, -(j + 1))
		}
	}
	score := w.score()
	if w.all() == 0 {
		return
	}
	for range moves {
		if score == 0 {
			return
		}
		first, second, best := 0, 0, score
		try := func(a, b int) {
			w.move(a, 1)
			w.move(b, 1)
			if s := w.score(); w.positive() && s < best-negligible {
				first, second, best = a, b, s
			}
			w.move(b, -1)
			w.move(a, -1)
		}
		for i, a := range steps {
			try(a, 0)
			if len(steps) > 2*pairs {
				continue
			}
			for _, b := range steps[:i] {
				try(a, b)
			}
		}
		if first == 0 {
			return
		}
		w.move(first, 1)
		w.move(second, 1)
		score = best
	}
}

// move takes a step, or takes it back.
func (w weighing) move(step int, by float64) {
	switch {
	case step > 0:
		w.masses[step-1] += by * w.division[step-1]
	case step < 0:
		w.masses[-step-1] -= by * w.division[-step-1]
	}
}

// positive reports whether every cut that is used still is.
func (w weighing) positive() bool {
	for j, mass := range w.masses {
		const half = 0.5
		if mass < half*w.division[j] && w.division[j] > 0 {
			return false
		}
	}
	return true
}
