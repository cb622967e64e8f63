package blend

import (
	"fmt"
	"math"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
)

// unit is what the figure of a row is measured in.
type unit int

const (
	fraction unit = iota + 1
	ratio
	grams
	ahead // a share of one species less that of the next
)

// row is one limit, without a constant: low <= coefficients·(x, v) <= high with
// 0 as every end.
type row struct {
	at    fault.Path
	says  string // the limit, for people
	what  string // its figure, for people
	unit  unit
	sense sense
	value float64 // the end, in the unit

	coefficients []float64 // of the shares, then of v
	figure       []float64 // whose sum over the shares is the figure, or its numerator
	below        []float64 // whose sum over the shares is the denominator of a ratio; nil for others
}

// ends returns the row for a programme of n variables in all.
func (r row) program(n int) numeric.Row {
	p := numeric.Row{Coefficients: make([]float64, n), Low: math.Inf(-1), High: math.Inf(1)}
	copy(p.Coefficients, r.coefficients)
	if r.sense != ceiling {
		p.Low = 0
	}
	if r.sense != floor {
		p.High = 0
	}
	return p
}

// model is an order as rows. Shares are x[0..n-1], and x[n] = v is the
// reference mass over the mass of the blend.
type model struct {
	order     Order
	figures   []Figures
	n         int
	rows      []row
	reference float64 // grams
	free      bool    // the mass of the blend is not given
}

// oneKilogram is what is blended when no mass is given at all.
const oneKilogram = 1000

// most is the largest ratio of a mass to the reference that makes a difference.
const most = 1e4

func newModel(o Order) model {
	m := model{order: o, n: len(o.Cuts), reference: o.reference().Grams()}
	_, total := o.Total.Get()
	m.free = !total && m.reference > 0
	if m.reference == 0 {
		m.reference = oneKilogram
	}
	for _, c := range o.Cuts {
		m.figures = append(m.figures, c.Figures())
	}
	if t, ok := o.Total.Get(); ok {
		r := m.mass(fault.At("total"), exact, t)
		for j := range m.n {
			r.coefficients[j], r.figure[j] = 1, 1
		}
		r.what, r.says = "all", fmt.Sprintf("%s in all", t)
		m.rows = append(m.rows, r)
	}
	for i, l := range o.Limits {
		for _, e := range l.ends() {
			m.rows = append(m.rows, m.limit(fault.At("limits", i, e.member), l, e))
		}
	}
	for i := 1; i < len(o.SpeciesOrder); i++ {
		m.rows = append(m.rows, m.before(fault.At("species_order", i), o.SpeciesOrder[i-1], o.SpeciesOrder[i]))
	}
	for i, c := range o.Cuts {
		m.addCut(i, c)
	}
	return m
}

func (m model) blank(at fault.Path) row {
	return row{at: at, coefficients: make([]float64, m.n+1), figure: make([]float64, m.n)}
}

// mass returns a row for the mass of something, whose shares are still to be
// set.
func (m model) mass(at fault.Path, s sense, of quantity.Mass) row {
	r := m.blank(at)
	r.unit, r.sense, r.value = grams, s, of.Grams()
	r.coefficients[m.n] = -math.Min(of.Grams()/m.reference, most)
	return r
}

func (m model) limit(at fault.Path, l Limit, e end) row {
	r := m.blank(at)
	r.sense, r.value, r.unit = e.sense, e.value, fraction
	r.what, r.says = l.name(), l.name()+" "+e.words()
	if e.ratio {
		r.unit, r.below = ratio, make([]float64, m.n)
	}
	for j := range m.n {
		switch l.Of {
		case ShareOfSpecies:
			if species, _ := m.order.Cuts[j].Animal(); species == l.Species {
				r.figure[j] = 1
			}
		case WaterProtein:
			r.figure[j], r.below[j] = m.figures[j].of(Moisture), m.figures[j].of(Protein)
		default:
			r.figure[j] = m.figures[j].of(l.Of)
		}
		against := 1.0
		if e.ratio {
			against = r.below[j]
		}
		r.coefficients[j] = difference(r.figure[j], e.value*against)
	}
	return r
}

// difference returns a - b, and nothing for what is left of equal floats: a row
// of such rests would be scaled up to a limit that is none.
func difference(a, b float64) float64 {
	const noise = 1e-12
	if d := a - b; math.Abs(d) > noise*math.Max(1, math.Abs(b)) {
		return d
	}
	return 0
}

func (m model) before(at fault.Path, first, second material.Species) row {
	r := m.blank(at)
	r.unit, r.sense = ahead, floor
	r.what, r.says = fmt.Sprintf("%s less %s", first, second), fmt.Sprintf("no less %s than %s", first, second)
	for j := range m.n {
		species, _ := m.order.Cuts[j].Animal()
		if species == first {
			r.figure[j] = 1
		}
		if species == second {
			r.figure[j] = -1
		}
	}
	copy(r.coefficients, r.figure)
	return r
}

func (m *model) addCut(i int, c Cut) {
	for _, e := range []struct {
		member string
		sense  sense
		of     material.Known[quantity.Mass]
		says   string
	}{
		{"on_hand", ceiling, c.OnHand, "%s of %s on hand"}, {"at_least", floor, c.AtLeast, "at least %s of %s"},
		{"fixed", exact, c.Fixed, "exactly %s of %s"},
	} {
		if mass, ok := e.of.Get(); ok {
			r := m.mass(fault.At("cuts", i, e.member), e.sense, mass)
			r.coefficients[i], r.figure[i] = 1, 1
			r.what, r.says = c.Name, fmt.Sprintf(e.says, mass, c.Name)
			m.rows = append(m.rows, r)
		}
	}
	for _, e := range []struct {
		member string
		sense  sense
		of     material.Known[quantity.Fraction]
	}{{"min_share_percent", floor, c.MinShare}, {"max_share_percent", ceiling, c.MaxShare}} {
		if share, ok := e.of.Get(); ok {
			r := m.blank(fault.At("cuts", i, e.member))
			r.unit, r.sense, r.value = fraction, e.sense, share.Float()
			r.figure[i] = 1
			for j := range m.n {
				r.coefficients[j] = difference(r.figure[j], r.value)
			}
			r.what, r.says = "the share of "+c.Name, fmt.Sprintf("%s %s of %s", e.sense, share, c.Name)
			m.rows = append(m.rows, r)
		}
	}
}

// whole is the row that makes the shares sum to one.
func (m model) whole(n int) numeric.Row {
	r := numeric.Row{Coefficients: make([]float64, n), Low: 1, High: 1}
	for j := range m.n {
		r.Coefficients[j] = 1
	}
	return r
}

// program returns all rows in n variables: the limits in their order, then the
// whole, then the mass where it is neither given nor asked for.
func (m model) program(n int) numeric.Program {
	p := numeric.Program{Cost: make([]float64, n)}
	for _, r := range m.rows {
		p.Rows = append(p.Rows, r.program(n))
	}
	p.Rows = append(p.Rows, m.whole(n))
	if _, total := m.order.Total.Get(); !total && !m.free {
		r := numeric.Row{Coefficients: make([]float64, n), Low: 1, High: 1}
		r.Coefficients[m.n] = 1
		p.Rows = append(p.Rows, r)
	}
	return p
}

// of returns the figure of a row for masses of the cuts in grams.
func (r row) of(masses []float64) float64 {
	sum, below := 0.0, 0.0
	for j, mass := range masses {
		sum += r.figure[j] * mass
		switch {
		case r.below != nil:
			below += r.below[j] * mass
		case r.unit != grams:
			below += mass
		}
	}
	if r.unit == grams {
		return sum
	}
	return sum / below
}

// beyond returns by how much a figure breaks the row; nothing when it keeps it.
func (r row) beyond(figure float64) float64 {
	switch r.sense {
	case floor:
		return math.Max(0, r.value-figure)
	case ceiling:
		return math.Max(0, figure-r.value)
	default:
		return math.Abs(figure - r.value)
	}
}

// words writes a figure of the row for people.
func (r row) words(figure float64) string {
	const noise = 1e-9
	if math.Abs(figure) < noise {
		figure = 0
	}
	switch r.unit {
	case grams:
		return fmt.Sprintf("%.5g g", figure)
	case ratio:
		return fmt.Sprintf("%.4g", figure)
	default:
		return fmt.Sprintf("%.4g %%", figure*100)
	}
}

// gap writes a difference of two figures of the row for people.
func (r row) gap(by float64) string {
	if r.unit == fraction || r.unit == ahead {
		return fmt.Sprintf("%.3g points", by*100)
	}
	return r.words(by)
}

func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
