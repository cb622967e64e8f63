package blend

import (
	"fmt"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Objective is what is best. The zero value means that it follows from the
// question.
type Objective int

// The objectives.
const (
	LeastCost     Objective = iota + 1 // the least price of a kilogram
	ClosestShares                      // the smallest of the largest distances from the wished shares, then of their sum
	MostMass                           // as much as what is on hand makes
)

var objectiveWords = []string{"", "least-cost", "closest-shares", "most-mass"}

// String returns the word used on the wire.
func (o Objective) String() string {
	if o <= 0 || int(o) >= len(objectiveWords) {
		return "unstated"
	}
	return objectiveWords[o]
}

// ParseObjective reads the word used on the wire.
func ParseObjective(word string) (Objective, bool) {
	for o := LeastCost; o <= MostMass; o++ {
		if objectiveWords[o] == word {
			return o, true
		}
	}
	return 0, false
}

// Order is the cuts at hand and what the blend must keep.
type Order struct {
	Cuts   []Cut
	Limits []Limit
	// SpeciesOrder is the order of predominance wanted: of each no less than of the
	// next.
	SpeciesOrder []material.Species
	Total        material.Known[quantity.Mass] // unknown: as much as the masses of the cuts make
	Objective    Objective
	Scale        formula.Divisions // empty: weights are not rounded
}

// The most that an order may hold. One of that size takes half a second at the
// most.
const (
	mostCuts   = 60
	mostLimits = 60
)

// check returns every violation of the order, with paths from it down.
func (o Order) check() error {
	var bad fault.Collector
	if len(o.Cuts) == 0 || len(o.Cuts) > mostCuts {
		bad.Add(fault.At("cuts"), "size", "there are %d cuts, and there must be from 1 to %d", len(o.Cuts), mostCuts)
	}
	if len(o.Limits) > mostLimits {
		bad.Add(fault.At("limits"), "size", "there are %d limits, and there may be at most %d", len(o.Limits), mostLimits)
	}
	seen := map[string]int{}
	for i, c := range o.Cuts {
		c.check(&bad, fault.At("cuts", i))
		if first, ok := seen[c.Name]; ok {
			bad.Add(fault.At("cuts", i, "name"), "duplicate", "%q is named at cuts/%d already; give the two different names", c.Name, first)
		}
		seen[c.Name] = i
	}
	o.checkFigures(&bad)
	o.checkSpecies(&bad)
	o.checkObjective(&bad)
	for i, r := range o.Scale {
		if r.Division.IsZero() {
			bad.Add(fault.At("scale", i, "division"), "minimum", "a division must be more than nothing")
		}
	}
	return bad.Err("invalid-value", "the order has no meaning as it stands")
}

// checkFigures records each figure that a limit needs and a cut lacks.
func (o Order) checkFigures(bad *fault.Collector) {
	needed := map[string]string{} // by member, the limit that needs it
	for i, l := range o.Limits {
		if len(l.ends()) == 0 {
			bad.Add(fault.At("limits", i), "required", "limits nothing: it needs an end")
		}
		for _, member := range l.Of.needs() {
			if needed[member] == "" {
				needed[member] = l.name()
			}
		}
	}
	for i, c := range o.Cuts {
		figures := c.Figures()
		for _, member := range []string{"fat_percent", "moisture_percent", "protein_percent"} {
			if needed[member] != "" && figures.figure(member).Origin == 0 {
				bad.Add(fault.At("cuts", i, member), "figure-missing", "is not known of %s, and the limit on %s needs it of every cut", c.Name, needed[member])
			}
		}
	}
}

func (o Order) checkSpecies(bad *fault.Collector) {
	needed := len(o.SpeciesOrder) > 0
	for i, l := range o.Limits {
		if l.Of != ShareOfSpecies {
			continue
		}
		needed = true
		if l.Species == 0 || l.Species == material.NoSpecies {
			bad.Add(fault.At("limits", i, "species"), "required", "is missing; a limit on a species names it")
		}
	}
	seen := map[material.Species]bool{}
	for i, s := range o.SpeciesOrder {
		if seen[s] {
			bad.Add(fault.At("species_order", i), "duplicate", "%s stands in the order already", s)
		}
		seen[s] = true
	}
	for i, c := range o.Cuts {
		if _, ok := c.Animal(); needed && !ok {
			bad.Add(fault.At("cuts", i, "species"), "required", "is not known of %s, and a limit on species needs it of every cut", c.Name)
		}
	}
}

func (o Order) checkObjective(bad *fault.Collector) {
	var currency quantity.Currency
	priced, wished, sum := 0, 0, 0.0
	for i, c := range o.Cuts {
		if p, ok := c.Price.Get(); ok {
			priced++
			if priced > 1 && p.Currency() != currency {
				bad.Add(fault.At("cuts", i, "price", "currency"), "currency", "is %s, and the cuts before are in %s: nothing is converted", p.Currency(), currency)
				continue
			}
			currency = p.Currency()
		}
		if w, ok := c.WishedShare.Get(); ok {
			wished++
			sum += w.Percent()
		}
	}
	const slack = 1.0 // percent: shares are often written to whole percents
	if wished > 0 && (sum < 100-slack || sum > 100+slack) {
		bad.Add(fault.At("cuts"), "sum", "the wished shares must sum to 100 percent, within 1 percent for rounded shares; they sum to %.6g", sum)
	}
	for i, c := range o.Cuts {
		_, has := c.Price.Get()
		if !has && (o.Objective == LeastCost || o.Objective == 0 && priced > 0 && wished == 0) {
			bad.Add(fault.At("cuts", i, "price"), "required", "is not known of %s: the cheapest blend needs the price of every cut", c.Name)
		}
	}
	if _, ok := o.Total.Get(); ok && o.Objective == MostMass {
		bad.Add(fault.At("objective"), "additional-member", "is most-mass, which has no meaning beside a total")
	}
	if o.Objective == MostMass && !o.massed() {
		bad.Add(fault.At("objective"), "no-mass", "is most-mass, and no cut says how much of it is on hand")
	}
}

// massed reports whether any cut has a mass.
func (o Order) massed() bool { return o.reference().Grams() > 0 }

// reference returns the mass that the inverse mass is measured by: the total, or
// the sum of the masses of the cuts.
func (o Order) reference() quantity.Mass {
	if m, ok := o.Total.Get(); ok {
		return m
	}
	var sum quantity.Mass
	for _, c := range o.Cuts {
		for _, m := range []material.Known[quantity.Mass]{c.OnHand, c.AtLeast, c.Fixed} {
			sum = sum.Plus(m.Or(quantity.Mass{}))
		}
	}
	return sum
}

// objectives returns what is best first and what decides among those that are
// as good.
func (o Order) objectives() []Objective {
	priced, wished := 0, 0
	for _, c := range o.Cuts {
		if _, ok := c.Price.Get(); ok {
			priced++
		}
		if _, ok := c.WishedShare.Get(); ok {
			wished++
		}
	}
	best := o.Objective
	if best == 0 || best == MostMass {
		best = ClosestShares
		if priced == len(o.Cuts) && wished == 0 {
			best = LeastCost
		}
	}
	if _, ok := o.Total.Get(); !ok && o.massed() {
		return []Objective{MostMass, best}
	}
	return []Objective{best}
}

// wishes returns the share that is wished of each cut, and where that comes
// from: empty when it is stated.
func (o Order) wishes() (shares []float64, why string) {
	shares = make([]float64, len(o.Cuts))
	sum, onHand, all := 0.0, 0.0, true
	for i, c := range o.Cuts {
		shares[i] = c.WishedShare.Or(quantity.Fraction{}).Float()
		sum += shares[i]
		m, ok := c.OnHand.Get()
		all = all && ok
		onHand += m.Grams()
	}
	switch {
	case sum > 0:
		for i := range shares {
			shares[i] /= sum
		}
		return shares, ""
	case all && onHand > 0:
		for i, c := range o.Cuts {
			shares[i] = c.OnHand.Or(quantity.Mass{}).Grams() / onHand
		}
		return shares, "in proportion to what is on hand"
	default:
		for i := range shares {
			shares[i] = 1 / float64(len(shares))
		}
		return shares, fmt.Sprintf("alike, %.4g %% of each cut", 100/float64(len(shares)))
	}
}
