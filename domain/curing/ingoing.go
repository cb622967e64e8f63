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
// formula has: the agent can't be expressed as the species, it is not stated how
// a pickle comes into the meat, or the base is none of these:
//
//   - the meat block, and of bellies the meat block without the skin, a tenth of
//     what was weighed with it. Of a pickle, what is taken up of it counts on the
//     green weight; at an equilibrium, the whole of it on meat and pickle
//     together (package rulebook, hb-pumped, hb-immersion-1, hb-immersion-2)
//   - the batch: everything mixed; of a pickle the meat with what it takes up
//   - the pickle
//   - the finished product, after the planned loss, for what does not leave
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
	by, known := divisorOf(&s, base)
	if !known {
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
			content: c, low: mass.Low.Grams(), high: mass.High.Grams(), inBase: by.weight(l),
		})
	}
	high, ok := share(terms, true)
	if !some {
		return in, ok
	}
	low, okLow := share(terms, false)
	if by.times != 1 {
		k, err := quantity.NewRatio(by.times)
		if err != nil {
			return in, false
		}
		var errLow, errHigh error
		low, errLow = low.Times(k)
		high, errHigh = high.Times(k)
		okLow = okLow && errLow == nil && errHigh == nil
	}
	in.Amount = quantity.Between[quantity.PPM]{Low: low, High: high}
	return in, ok && okLow
}

// divisor is what an amount is divided by: each line by how much of its mass
// counts, and what the share is then multiplied by.
type divisor struct{ meat, skinOn, additions, times float64 }

func (d divisor) weight(l *formula.Line) float64 {
	switch {
	case l.Role != formula.Meat:
		return d.additions
	case l.Part != nil && l.Part.SkinOn:
		return d.skinOn
	default:
		return d.meat
	}
}

// divisorOf returns the divisor of a base, and false when the sheet does not
// show it.
func divisorOf(s *formula.Sheet, base rulebook.Base) (divisor, bool) {
	if base == rulebook.Pickle {
		return divisor{additions: 1, times: 1}, s.Pickle != nil || needsPickle(s.Product)
	}
	if s.Pickle == nil {
		return mixedDivisor(s, base)
	}
	if s.Pickle.Method == formula.Equilibrium {
		switch base {
		case rulebook.MeatBlock, rulebook.Batch:
			return divisor{meat: 1, skinOn: 1, additions: 1, times: 1}, true
		case rulebook.SkinlessBelly:
			return divisor{meat: 1, skinOn: skinless, additions: 1, times: 1}, true
		default:
			return divisor{}, false
		}
	}
	up := s.Pickle.Uptake.Float()
	d := divisor{additions: 1, times: up}
	switch base {
	case rulebook.MeatBlock:
	case rulebook.SkinlessBelly:
		d.times *= skinOver(s)
	case rulebook.Batch:
		d.times /= 1 + up
	case rulebook.FinishedProduct:
		left, known := leftOf(s)
		d.times /= (1 + up) * left
		return d, known
	default:
		return d, false
	}
	return d, true
}

// mixedDivisor is that of a sheet whose additions make no pickle.
func mixedDivisor(s *formula.Sheet, base rulebook.Base) (divisor, bool) {
	d := divisor{meat: 1, skinOn: 1, times: 1}
	switch base {
	case rulebook.MeatBlock:
	case rulebook.SkinlessBelly:
		d.skinOn = skinless
	case rulebook.Batch:
		d.additions = 1
	case rulebook.FinishedProduct:
		left, known := leftOf(s)
		d.additions, d.times = 1, 1/left
		return d, known && !needsPickle(s.Product)
	default:
		return d, false
	}
	return d, !needsPickle(s.Product)
}

// needsPickle reports whether a product is always cured in a pickle.
func needsPickle(product rulebook.Class) bool {
	return formula.Pickled(product) && formula.Whole(product)
}

// skinless is what counts of a gram weighed with the skin on.
var skinless = rulebook.SkinlessWeight(quantity.MustGrams(1)).Grams()

// skinOver returns the green weight over that without the skin.
func skinOver(s *formula.Sheet) float64 {
	weighed, counts := 0.0, 0.0
	for i := range s.Lines {
		l := &s.Lines[i]
		if l.Role != formula.Meat {
			continue
		}
		m := l.OnScale().Grams()
		weighed += m
		if l.Part != nil && l.Part.SkinOn {
			m *= skinless
		}
		counts += m
	}
	if counts == 0 {
		return 1
	}
	return weighed / counts
}

// leftOf returns what the planned loss leaves of a gram, and false when none is
// planned.
func leftOf(s *formula.Sheet) (float64, bool) {
	if s.Loss == nil || s.Loss.Float() >= 1 {
		return 1, false
	}
	return s.Loss.Complement().Float(), true
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
	inBase    float64 // how much of its mass counts in the base
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
			slope := a - ratio*t.inBase
			mass := t.low
			if (slope > 0) == largest {
				mass = t.high
			}
			substance += a * mass
			base += t.inBase * mass
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
	{rulebook.Nitrite, []rulebook.Species{rulebook.SodiumNitrite, rulebook.NitriteIon, rulebook.PotassiumNitrite}, quantity.UnitMilligramsPerKilogram},
	{rulebook.Nitrate, []rulebook.Species{rulebook.SodiumNitrate, rulebook.NitrateIon, rulebook.PotassiumNitrate}, quantity.UnitMilligramsPerKilogram},
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
			if !shownAs(s, species) {
				continue
			}
			for _, base := range basesOf(s) {
				in, ok := IngoingOf(s, agent, species, base)
				if ok && (evenNone || !in.IsZero()) {
					figures = append(figures, in.figure(in.Amount.High, row.unit))
				}
			}
		}
	}
	return figures
}

// shownAs reports whether a species says something of a sheet: that of a
// potassium salt only where one is added.
func shownAs(s formula.Sheet, species rulebook.Species) bool {
	var salt rulebook.Compound
	switch species {
	case rulebook.PotassiumNitrite:
		salt = rulebook.CompoundKNO2
	case rulebook.PotassiumNitrate:
		salt = rulebook.CompoundKNO3
	default:
		return true
	}
	return slices.ContainsFunc(s.Lines, func(l formula.Line) bool { return holds(&l, salt) })
}

// holds reports whether a line is a cure with any of a salt.
func holds(l *formula.Line, salt rulebook.Compound) bool {
	return l.Role == formula.Cure && l.Addition != nil && l.Addition.Cure != nil && !l.Addition.Cure.Content(salt).High.IsZero()
}

// basesOf returns the bases that amounts of a sheet are shown on.
func basesOf(s formula.Sheet) []rulebook.Base {
	bases := []rulebook.Base{rulebook.MeatBlock, rulebook.Batch}
	if slices.Contains([]rulebook.Class{rulebook.DryCuredBacon, rulebook.ImmersionCuredBacon, rulebook.PumpedBacon}, s.Product) {
		bases = append(bases, rulebook.SkinlessBelly)
	}
	if s.Pickle != nil || needsPickle(s.Product) {
		bases = append(bases, rulebook.Pickle)
	}
	return bases
}

// others leaves out the figure that has the basis itself.
func others(figures []finding.Figure, basis finding.Basis) []finding.Figure {
	return slices.DeleteFunc(figures, func(f finding.Figure) bool { return f.Basis == basis })
}

// members turns line paths into the paths of a finding.
func members(paths []fault.Path) [][]string {
	if len(paths) == 0 {
		return nil
	}
	m := make([][]string, 0, len(paths))
	for _, p := range paths {
		m = append(m, p)
	}
	return m
}
