package curing

import (
	"greenweight/domain/formula"
	"greenweight/domain/rulebook"
)

// sums is the amounts that go in by a sheet, each computed once and only when a
// rule asks for it. It is for one goroutine.
type sums struct {
	sheet   formula.Sheet
	unknown string // the first addition of which nothing is known but a name, or nothing
	lost    bool   // whether a line comes to nothing on the scale
	bring   agents // what the lines bring, whatever their mass
	known   []sum
	asked   *sums // of what the rates ask for, before rounding; nil until something asks
}

type sum struct {
	in Ingoing
	ok bool
}

func newSums(s formula.Sheet) *sums {
	const usual = 16 // amounts
	of := &sums{sheet: s, known: make([]sum, 0, usual)}
	for i := range s.Lines {
		l := &s.Lines[i]
		if of.unknown == "" && l.Addition != nil && l.Addition.Unknown() && !l.Range.High.IsZero() {
			of.unknown = l.Name
		}
		of.bring |= broughtBy(l)
		of.lost = of.lost || l.Steps == 0 && !l.Spooned() && !l.Exact.IsZero()
	}
	return of
}

// ingoing is [IngoingOf] the sheet that is asked about; not to be changed.
func (q question) ingoing(agent rulebook.Agent, species rulebook.Species, base rulebook.Base) (*Ingoing, bool) {
	s := q.sums
	for i := range s.known {
		k := &s.known[i]
		if k.in.Agent == agent && k.in.Species == species && k.in.Base == base {
			return &k.in, k.ok
		}
	}
	if !ofCure(agent) && agent != rulebook.Salt && !s.bring.has(agent) && (base == rulebook.MeatBlock || base == rulebook.Batch) {
		return &Ingoing{Agent: agent, Species: species, Base: base}, true // no line brings any, in whatever form
	}
	in, ok := IngoingOf(s.sheet, agent, species, base)
	s.known = append(s.known, sum{in, ok})
	return &s.known[len(s.known)-1].in, ok
}

// agents is a set of agents.
type agents uint32

func (a agents) has(agent rulebook.Agent) bool { return a&(1<<agent) != 0 }

// broughtBy returns the agents that a line brings.
func broughtBy(l *formula.Line) agents {
	var set agents
	switch {
	case l.Addition == nil || l.Role == formula.RehydrationWater:
	case l.Addition.Cure != nil && l.Role == formula.Cure:
		for _, agent := range []rulebook.Agent{rulebook.Nitrite, rulebook.Nitrate} {
			if c, _ := cureContent(l, agent, rulebook.AsAdded); !c.isZero() {
				set |= 1<<agent | 1<<rulebook.NitriteAndNitrate
			}
		}
	case l.Addition.Material != nil:
		for _, a := range acids[l.Addition.Material.Key] {
			set |= 1 << a.agent
		}
	}
	return set
}
