package curing

import (
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Ingoing is an amount that goes in, with its basis.
type Ingoing struct {
	Agent   rulebook.Agent
	Species rulebook.Species
	Base    rulebook.Base
	Amount  quantity.Between[quantity.PPM] // of the base; both ends alike when it is known exactly

	// Recalled names a line that brings it by the spoon, where the weight of the
	// spoonful is known from memory only; empty when there is none.
	Recalled string
}

// IngoingOf returns the ingoing amount of an agent in a weigh sheet, expressed
// as a species, on a base. It reports false when that is not an amount that a
// formula has: the base is neither the meat block nor the batch, or the agent
// can't be expressed as the species.
//
// The high end is the largest value that the ranges of assays and spoons allow
// together, the low end the smallest. Each is the optimum of a ratio of two
// linear functions over a box, found by Dinkelbach's iteration (Management
// Science 13(7):492-498, 1967, from memory), which ends after at most one step
// more than there are lines.
func IngoingOf(s formula.Sheet, agent rulebook.Agent, species rulebook.Species, base rulebook.Base) (Ingoing, bool) {
	return ingoing(s, agent, species, base, func(l *formula.Line) quantity.Between[quantity.Mass] { return l.Range })
}

// ingoing is IngoingOf with the mass that each line is taken to have.
func ingoing(
	s formula.Sheet, agent rulebook.Agent, species rulebook.Species, base rulebook.Base, massOf func(*formula.Line) quantity.Between[quantity.Mass],
) (Ingoing, bool) {
	in := Ingoing{Agent: agent, Species: species, Base: base}
	if base != rulebook.MeatBlock && base != rulebook.Batch {
		return in, false
	}
	const usual = 24 // lines; more are held on the heap
	var few [usual]term
	terms, some := few[:0], false
	for i := range s.Lines {
		l := &s.Lines[i]
		c, ok := contentOf(l, agent, species)
		if !ok {
			return in, false
		}
		if !c.isZero() && l.Spooned() && l.SpoonSource().Trust == source.Memory {
			in.Recalled = l.Name
		}
		mass := massOf(l)
		some = some || !c.isZero()
		terms = append(terms, term{
			content: c, low: mass.Low.Grams(), high: mass.High.Grams(),
			inBase: base == rulebook.Batch || l.Role == formula.Meat,
		})
	}
	high, ok := share(terms, true)
	if !some {
		return in, ok
	}
	low, okLow := share(terms, false)
	in.Amount = quantity.Between[quantity.PPM]{Low: low, High: high}
	return in, ok && okLow
}

// bringing returns the lines that bring an agent, from the formula down.
func bringing(s formula.Sheet, agent rulebook.Agent) []fault.Path {
	var lines []fault.Path
	for i := range s.Lines {
		l := &s.Lines[i]
		if c, ok := contentOf(l, agent, rulebook.AsAdded); ok && !c.isZero() && l.Member != nil {
			lines = append(lines, l.Member)
		}
	}
	return lines
}

// IsZero reports whether none of the agent goes in.
func (in Ingoing) IsZero() bool { return in.Amount.High.IsZero() }

// term is one line in the sum of an ingoing amount; masses in grams.
type term struct {
	content   content
	low, high float64
	inBase    bool
}

// share returns the largest or the smallest share that the terms allow.
func share(terms []term, largest bool) (quantity.PPM, bool) {
	ratio := 0.0
	for range len(terms) + 2 {
		substance, base := 0.0, 0.0
		for _, t := range terms {
			a := t.content.low
			if largest {
				a = t.content.high
			}
			slope := a
			if t.inBase {
				slope -= ratio
			}
			mass := t.low
			if (slope > 0) == largest {
				mass = t.high
			}
			substance += a * mass
			if t.inBase {
				base += mass
			}
		}
		if base <= 0 {
			return quantity.PPM{}, false
		}
		next := substance / base
		if next == ratio {
			break
		}
		ratio = next
	}
	r, err := quantity.NewRatio(ratio)
	if err != nil {
		return quantity.PPM{}, false
	}
	p, err := r.PPM()
	return p, err == nil
}

// figure shows the amount in a unit; value is the end that counts.
func (in Ingoing) figure(value quantity.PPM, u quantity.Unit) finding.Figure {
	f := finding.Figure{Value: value.In(u), Basis: finding.Basis{
		Agent: in.Agent.String(), Species: in.Species.String(), Phase: rulebook.Ingoing.String(), Base: in.Base.String(),
	}}
	if in.Amount.Low.Compare(in.Amount.High) != 0 {
		f.Range = quantity.Between[quantity.Measure]{Low: in.Amount.Low.In(u), High: in.Amount.High.In(u)}
	}
	return f
}

// shown is the forms in which each agent is shown beside a limit.
var shown = []struct {
	agent   rulebook.Agent
	species []rulebook.Species
	unit    quantity.Unit
}{
	{rulebook.Nitrite, []rulebook.Species{rulebook.SodiumNitrite, rulebook.NitriteIon}, quantity.UnitMilligramsPerKilogram},
	{rulebook.Nitrate, []rulebook.Species{rulebook.SodiumNitrate, rulebook.NitrateIon}, quantity.UnitMilligramsPerKilogram},
	{rulebook.Salt, []rulebook.Species{rulebook.SodiumChloride}, quantity.UnitPercent},
}

// table returns every agent of the sheet as each species on each base. Nitrite
// and salt are shown even when there are none.
func table(s formula.Sheet) []finding.Figure {
	var figures []finding.Figure
	for _, row := range shown {
		figures = append(figures, forms(s, row.agent, row.agent != rulebook.Nitrate)...)
	}
	return figures
}

// forms returns an agent as each species on each base, the high end of each.
func forms(s formula.Sheet, agent rulebook.Agent, evenNone bool) []finding.Figure {
	var figures []finding.Figure
	for _, row := range shown {
		if row.agent != agent {
			continue
		}
		for _, species := range row.species {
			for _, base := range []rulebook.Base{rulebook.MeatBlock, rulebook.Batch} {
				in, ok := IngoingOf(s, agent, species, base)
				if ok && (evenNone || !in.IsZero()) {
					figures = append(figures, in.figure(in.Amount.High, row.unit))
				}
			}
		}
	}
	return figures
}

// others leaves out the figure that has the basis itself.
func others(figures []finding.Figure, basis finding.Basis) []finding.Figure {
	return slices.DeleteFunc(figures, func(f finding.Figure) bool { return f.Basis == basis })
}

// members turns line paths into the paths of a finding.
func members(paths []fault.Path) [][]string {
	m := make([][]string, 0, len(paths))
	for _, p := range paths {
		m = append(m, p)
	}
	return m
}
