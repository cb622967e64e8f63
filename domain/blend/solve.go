package blend

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Composition is what is in a blend; a figure is unknown when it is unknown of a
// cut that is in it.
type Composition struct {
	Fat, Moisture, Protein material.Known[quantity.Fraction]
	WaterProtein           material.Known[quantity.Ratio]
}

// Used is one cut in the blend, also when nothing of it is.
type Used struct {
	Cut     Cut
	Figures Figures
	Mass    quantity.Mass
	Share   quantity.Fraction
	Cost    material.Known[quantity.Money]
	// CheaperBy is, for a cut of which the cheapest blend has nothing, how much less
	// it would have to cost to be of use.
	CheaperBy material.Known[quantity.Price]

	OnScale, Division material.Known[quantity.Mass] // when there is a scale
}

// Step is what a limit is moved by to see what it costs. The zero value is
// invalid.
type Step int

// The steps.
const (
	Point      Step = iota + 1 // one point of percent
	Tenth                      // a tenth of a ratio
	OneOfAMass                 // one kilogram, or any other unit of mass
)

var stepWords = []string{"", "point", "tenth", "mass"}

// String returns the word used on the wire.
func (s Step) String() string {
	if s <= 0 || int(s) >= len(stepWords) {
		return "unstated"
	}
	return stepWords[s]
}

// Shadow is what changes when the figure of a limit is raised by a step: less
// than nothing is saved. One of the members is known, by the objective. It holds
// for small steps; at a degenerate optimum to one side only.
type Shadow struct {
	Step Step
	// Price: of a kilogram of the blend, for a point or a tenth; of all of it, for
	// each kilogram of a mass.
	Price material.Known[quantity.Price]
	// Mass: how much more is made for a point or a tenth.
	Mass material.Known[quantity.Mass]
	// Times: how many times a mass more is made for each mass.
	Times material.Known[quantity.Ratio]
	// Points: how far the largest distance from a wished share grows, in points, for
	// a point, a tenth or a kilogram.
	Points material.Known[quantity.Ratio]
}

// Binding is a limit that holds the blend back.
type Binding struct {
	Member fault.Path
	Says   string // the limit, for people
	Shadow Shadow
}

// Miss is a limit that the weights on the scale break.
type Miss struct {
	Member fault.Path
	Says   string // the limit and by how much it is missed, for people
}

// Rounded is the blend as it is weighed.
type Rounded struct {
	Total       quantity.Mass
	Composition Composition
	Misses      []Miss
}

// Answer is the best blend.
type Answer struct {
	Objective   Objective
	Then        Objective // what decided among those that are as good; zero when nothing did
	Cuts        []Used    // in the order of the question
	Total       quantity.Mass
	Composition Composition
	Price       material.Known[quantity.Price] // of the blend
	Cost        material.Known[quantity.Money] // of all of it
	Deviation   material.Known[quantity.Ratio] // the largest distance from a wished share, a part of the whole; unknown when that decided nothing
	Binding     []Binding
	Unique      bool // no other blend is as good
	Degenerate  bool // what the limits cost may hold to one side only

	Square  *Parts // of two cuts with an exact figure: the first to the second
	Parts   []formula.Part
	Rounded *Rounded // when there is a scale
	Notes   []finding.Note
}

// mostGrams is the mass beyond which a blend has no end: ten million tonnes.
const mostGrams = 1e13

// negligible is a share that is none: what is left by floats.
const negligible = 1e-9

// Solve returns the best blend of an order.
//
// Without an objective the cheapest is the best when all prices are known and
// no share is wished for; else the closest to the wished shares, or, without
// any, to the shares on hand, or to equal ones. Without a total it is as much as
// the masses of the cuts make, and the objective decides among those; without
// any mass it is one kilogram.
//
// It reports fault.Invalid for an order that has no meaning (with every
// violation: figure-missing where a limit needs one that is not known, no-end
// where nothing limits how much is made), and fault.NoSolution: clash with the
// limits of a smallest set that can't be kept together, out-of-reach when that
// is one alone, not-converged when figures lie too close together. An order of
// the largest size takes some tenths of a second.
func Solve(o Order) (Answer, error) {
	if err := o.check(); err != nil {
		return Answer{}, err
	}
	m := newModel(o)
	s, err := m.solve(o.objectives())
	if err != nil {
		return Answer{}, err
	}
	a := m.answer(s)
	if len(o.Scale) > 0 {
		if a.Rounded, err = m.round(&a); err != nil {
			return Answer{}, err
		}
	}
	m.notes(&a)
	return a, nil
}

// solution is what the programmes of the stages gave.
type solution struct {
	objectives []Objective
	first      numeric.Optimum // what the limits cost, by the first objective
	x          []float64       // the shares, then v
	unique     bool
	deviation  float64
}

// withDistances returns a programme with a variable more for the largest
// distance from a wished share, D, and one for that of each cut, e:
// x - e <= w, x + e >= w and e <= D.
func (m model) withDistances() numeric.Program {
	d := m.n + 1
	n := d + 1 + m.n
	p := m.program(n)
	wishes, _ := m.order.wishes()
	for j, w := range wishes {
		e := d + 1 + j
		add := func(low, high float64, coefficients map[int]float64) {
			r := numeric.Row{Coefficients: make([]float64, n), Low: low, High: high}
			for k, c := range coefficients {
				r.Coefficients[k] = c
			}
			p.Rows = append(p.Rows, r)
		}
		add(math.Inf(-1), w, map[int]float64{j: 1, e: -1})
		add(w, math.Inf(1), map[int]float64{j: 1, e: 1})
		add(math.Inf(-1), 0, map[int]float64{e: 1, d: -1})
	}
	return p
}

// solve brings each objective to its best, within what is best for those before.
func (m model) solve(objectives []Objective) (solution, error) {
	s := solution{objectives: objectives}
	var kept []numeric.Row // of the shares and v: what the objectives before came to
	for _, of := range objectives {
		p := m.program(m.n + 1)
		var costs [][]float64
		switch of {
		case LeastCost:
			for j, c := range m.order.Cuts {
				p.Cost[j] = c.Price.Or(quantity.Price{}).PerKilogram()
			}
			costs = [][]float64{p.Cost}
		case MostMass:
			p.Cost[m.n] = 1
			costs = [][]float64{p.Cost}
		case ClosestShares:
			p = m.withDistances()
			largest, sum := make([]float64, len(p.Cost)), make([]float64, len(p.Cost))
			largest[m.n+1] = 1
			for j := range m.n {
				sum[m.n+2+j] = 1
			}
			costs = [][]float64{largest, sum}
		}
		for _, r := range kept {
			r.Coefficients = append(slices.Clone(r.Coefficients), make([]float64, len(p.Cost)-len(r.Coefficients))...)
			p.Rows = append(p.Rows, r)
		}
		for i, cost := range costs {
			p.Cost = cost
			o, err := p.Minimise()
			first := s.x == nil
			switch {
			case errors.As(err, new(*numeric.InfeasibleError)) && first:
				return s, m.clash()
			case err != nil:
				return s, unsolved(err)
			case m.free && m.reference > mostGrams*o.X[m.n]:
				return s, m.endless()
			}
			if first {
				s.first = o
			}
			s.x, s.unique = o.X[:m.n+1], o.Unique
			if of == ClosestShares && i == 0 {
				s.deviation = o.Value
			}
			p.Rows = append(p.Rows, keep(cost, o.Value))
			if of != ClosestShares {
				kept = append(kept, keep(cost, o.Value))
			}
		}
	}
	return s, nil
}

// keep is the row that lets a later objective spoil none of an earlier one.
func keep(cost []float64, value float64) numeric.Row {
	most := 0.0
	for _, c := range cost {
		most = math.Max(most, math.Abs(c))
	}
	return numeric.Row{Coefficients: cost, Low: math.Inf(-1), High: value + negligible*most}
}

// endless returns the fault of an order that nothing limits the mass of.
func (m model) endless() error {
	var bad fault.Collector
	for i, c := range m.order.Cuts {
		_, onHand := c.OnHand.Get()
		_, fixed := c.Fixed.Get()
		if !onHand && !fixed {
			bad.Add(fault.At("cuts", i, "on_hand"), "no-end", "is not known of %s, and nothing else limits how much is made: give it, or a total", c.Name)
		}
	}
	return bad.Err("invalid-value", "nothing limits how much is made")
}

func (m model) answer(s solution) Answer {
	v := s.x[m.n]
	masses, sum := make([]float64, m.n), 0.0
	for j, x := range s.x[:m.n] {
		if x > negligible {
			masses[j] = x * m.reference / v
			sum += masses[j]
		}
	}
	if t, ok := m.order.Total.Get(); ok { // what floats lost of it
		for j := range masses {
			masses[j] *= t.Grams() / sum
		}
		sum = t.Grams()
	}
	a := Answer{
		Objective: s.objectives[0], Total: massOf(sum), Unique: s.unique, Degenerate: s.first.Degenerate, Composition: m.composition(masses),
	}
	if len(s.objectives) > 1 && !s.first.Unique {
		a.Then = s.objectives[1]
	}
	for j, c := range m.order.Cuts {
		u := Used{Cut: c, Figures: m.figures[j], Mass: massOf(masses[j]), Share: part(masses[j] / sum)}
		if p, ok := c.Price.Get(); ok {
			u.Cost = material.Is(p.Of(u.Mass))
			if d := s.first.Reduced[j]; a.Objective == LeastCost && masses[j] == 0 && d > negligible*math.Max(1, p.PerKilogram()) {
				u.CheaperBy = priced(d, p.Currency())
			}
		}
		a.Cuts = append(a.Cuts, u)
	}
	a.Price, a.Cost = m.cost(masses)
	if a.Objective == ClosestShares || a.Then == ClosestShares {
		a.Deviation = ratioOf(s.deviation)
	}
	for i, r := range m.rows {
		figure := r.of(masses)
		const bind = 1e-7
		if math.Abs(figure-r.value) <= bind*math.Max(1, math.Abs(r.value)) {
			a.Binding = append(a.Binding, Binding{r.at, r.says, m.shadow(r, s, a, i, masses)})
		}
	}
	a.Square = m.square()
	a.Parts = parts(a.Cuts)
	return a
}

// massOf, part, ratioOf and priced make quantities of what was computed from
// quantities, which can't be outside their bounds by more than the last bits.
func massOf(g float64) quantity.Mass { return quantity.MustGrams(math.Max(0, g)) }

func part(f float64) quantity.Fraction {
	return quantity.MustPercent(100 * math.Min(1, math.Max(0, f)))
}

func ratioOf(v float64) material.Known[quantity.Ratio] {
	r, err := quantity.NewRatio(v)
	if err != nil {
		return material.Known[quantity.Ratio]{}
	}
	return material.Is(r)
}

func priced(perKilogram float64, c quantity.Currency) material.Known[quantity.Price] {
	p, err := quantity.PricePerKilogram(perKilogram, c)
	if err != nil {
		return material.Known[quantity.Price]{}
	}
	return material.Is(p)
}

// composition returns what is in masses of the cuts.
func (m model) composition(masses []float64) Composition {
	var c Composition
	for _, f := range []struct {
		member string
		to     *material.Known[quantity.Fraction]
	}{{"fat_percent", &c.Fat}, {"moisture_percent", &c.Moisture}, {"protein_percent", &c.Protein}} {
		sum, of, all := 0.0, 0.0, true
		for j, mass := range masses {
			if mass == 0 {
				continue
			}
			share, ok := m.figures[j].figure(f.member).Part.Get()
			all = all && ok
			sum += mass
			of += share.Float() * mass
		}
		if all && sum > 0 {
			*f.to = material.Is(part(of / sum))
		}
	}
	water, w := c.Moisture.Get()
	protein, p := c.Protein.Get()
	if w && p && !protein.IsZero() {
		c.WaterProtein = ratioOf(water.Float() / protein.Float())
	}
	return c
}

// cost returns the price of a blend and what all of it costs; unknown when the
// price of a cut in it is.
func (m model) cost(masses []float64) (price material.Known[quantity.Price], all material.Known[quantity.Money]) {
	sum, cost := 0.0, 0.0
	var currency quantity.Currency
	for j, c := range m.order.Cuts {
		if masses[j] == 0 {
			continue
		}
		p, ok := c.Price.Get()
		if !ok {
			return price, all
		}
		currency = p.Currency()
		sum += masses[j]
		cost += p.PerKilogram() * masses[j]
	}
	price = priced(cost/sum, currency)
	if p, ok := price.Get(); ok {
		all = material.Is(p.Of(massOf(sum)))
	}
	return price, all
}

// shadow returns what a step of a limit changes. The multiplier of a row is how
// fast the objective rises with its end; a step of the figure moves the end by
// as much for a share, by the protein for a ratio, and by v over the reference
// mass for a gram.
func (m model) shadow(r row, s solution, a Answer, i int, masses []float64) Shadow {
	dual, v := s.first.Dual[i], s.first.X[m.n]
	if math.Abs(dual) < negligible {
		dual = 0
	}
	shadow, slope := Shadow{Step: Point}, dual/100
	switch r.unit {
	case fraction, ahead: // a point of percent
	case grams:
		shadow.Step, slope = OneOfAMass, dual*v/m.reference
	case ratio:
		below, sum := 0.0, 0.0
		for j, mass := range masses {
			below += r.below[j] * mass
			sum += mass
		}
		shadow.Step, slope = Tenth, dual*below/sum/10
	}
	total := m.reference / v // grams
	switch {
	case a.Objective == MostMass && shadow.Step == OneOfAMass:
		shadow.Times = ratioOf(-slope * total / v)
	case a.Objective == MostMass:
		gain := -slope * total / v
		shadow.Mass = material.Is(massOf(math.Abs(gain)))
		if gain < 0 {
			shadow.Mass = material.Is(quantity.Mass{}.Minus(massOf(-gain)))
		}
	case a.Objective == ClosestShares && shadow.Step == OneOfAMass:
		shadow.Points = ratioOf(slope * oneKilogram * 100)
	case a.Objective == ClosestShares:
		shadow.Points = ratioOf(slope * 100)
	default:
		shadow.Price = m.shadowPrice(r, slope, total, a)
	}
	return shadow
}

// shadowPrice returns what a step costs: of a kilogram of the blend; or of all
// of it, for each kilogram of a mass. One kilogram more in all costs what a
// kilogram costs, too.
func (m model) shadowPrice(r row, slope, total float64, a Answer) material.Known[quantity.Price] {
	price := a.Price.Or(quantity.Price{})
	if r.unit == grams {
		slope *= total
		if len(r.at) == 1 {
			slope += price.PerKilogram()
		}
	}
	return priced(slope, price.Currency())
}

// square returns the parts of the trade's square for two cuts and one exact
// figure.
func (m model) square() *Parts {
	if m.n != 2 {
		return nil
	}
	for _, r := range m.rows {
		if r.sense != exact || r.unit != fraction {
			continue
		}
		if p, err := Square(part(r.figure[0]), part(r.figure[1]), part(r.value)); err == nil {
			return &p
		}
	}
	return nil
}

// parts returns the cuts that are used as parts of a formula, with shares in ten
// thousandths of a percent that sum to 100; nil when one of them has no material.
// What is less than that share is left out.
func parts(cuts []Used) []formula.Part {
	const steps = 1e6 // of the whole
	var parts []formula.Part
	left, largest := int(steps), 0
	shares := []int{}
	for _, u := range cuts {
		share := int(math.Round(u.Share.Float() * steps))
		if share == 0 {
			continue
		}
		if u.Cut.Material == nil {
			return nil
		}
		if len(shares) > 0 && share > shares[largest] {
			largest = len(shares)
		}
		left -= share
		shares = append(shares, share)
		parts = append(parts, formula.Part{Name: u.Cut.Name, Material: *u.Cut.Material})
	}
	for i := range parts {
		if i == largest {
			shares[i] += left
		}
		parts[i].Share = quantity.MustPercent(float64(shares[i]) * 100 / steps)
	}
	return parts
}

// notes writes what the maker should know of the answer.
func (m model) notes(a *Answer) {
	add := func(code string, member fault.Path, from source.Citation, format string, args ...any) {
		a.Notes = append(a.Notes, finding.Note{Code: code, Member: member, Text: fmt.Sprintf(format, args...), Source: from})
	}
	if m.order.Objective == 0 {
		add("objective", nil, source.Citation{}, "%s", m.objectiveWords(a))
	}
	if _, total := m.order.Total.Get(); !total && !m.free {
		add("one-kilogram", nil, source.Citation{}, "no mass was given: the masses are for one kilogram")
	}
	off := 0.0
	for _, u := range a.Cuts {
		if u.Figures.Fat.Origin == Table {
			off += trim.Of(u.Mass).Grams()
		}
	}
	if fat, ok := a.Composition.Fat.Get(); ok && off > 0 {
		by := off / a.Total.Grams()
		add("trim-varies", nil, source.CommonPractice("the fat of trim differs by 8 points either way from the average of its cut"),
			"fat is an average of the table for some cuts, and trim differs by %s points: the blend may have from %s to %s fat; "+
				"a measured or supplier's figure wins", trimPoints, about(fat.Float()-by), about(fat.Float()+by))
	}
	for i, u := range a.Cuts {
		if !u.Mass.IsZero() && (u.Figures.Moisture.Origin == Scaled || u.Figures.Protein.Origin == Scaled) {
			add("scaled-to-fat", fault.At("cuts", i), source.Citation{
				Title: "Share of water and protein in what is not fat", Trust: source.Derived, Note: "by the table's figures for the material",
			}, "moisture and protein of %s are the table's, in proportion to what is not fat by its stated fat", u.Cut.Name)
		}
	}
	if !a.Unique {
		add("not-unique", nil, source.Citation{}, "another blend of these cuts is as good: the shares are one choice of several")
	}
	if a.Degenerate {
		add("one-sided", nil, source.Citation{}, "several limits meet in this blend, so that what one of them costs may hold for a step to one side only")
	}
	add("dose-on-the-meat", nil, source.CommonPractice("cure and salt are dosed on the meat block as weighed"),
		"where this differs from a formula's shares, cure, salt and sugar are dosed on the meat block as it is weighed: scale the formula to it")
}

// trim is how far the fat of trim lies from the average of its cut, either way.
// Common practice, no source.
var trim = quantity.MustPercent(8)

const trimPoints = "8"

func about(f float64) string { return fmt.Sprintf("%.3g %%", 100*math.Min(1, math.Max(0, f))) }

func (m model) objectiveWords(a *Answer) string {
	words := func(o Objective) string {
		switch o {
		case LeastCost:
			return "the least cost, since every cut has a price"
		case MostMass:
			return "as much as the masses of the cuts make, since no total is given"
		default:
			_, why := m.order.wishes()
			if why == "" {
				return "the smallest distance from the wished shares"
			}
			return "shares " + why + ", as near as can be, since there are neither prices nor wished shares"
		}
	}
	text := "best is " + words(a.Objective)
	if a.Then != 0 {
		text += "; among those, " + words(a.Then)
	}
	return text
}
