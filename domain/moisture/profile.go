package moisture

import (
	"math"
	"slices"

	"greenweight/domain/quantity"
)

// Place is a spot in a piece.
type Place struct {
	// Depth is the distance to the centre of a cylinder and the middle of a slab,
	// or to the side that does not dry.
	Depth         quantity.Length
	Moisture      quantity.Fraction // water per mass there
	PerSolids     quantity.Ratio    // water per dry solids
	WaterActivity quantity.WaterActivity
}

// Profile returns the piece from its centre to its surface, as wide as it is
// then: each cell in its middle, and the surface.
func (p Point) Profile() ([]Place, error) {
	b := p.piece
	if b == nil {
		return nil, nil
	}
	places := make([]Place, 0, b.cells+1)
	y, h := 0.0, 1/float64(b.cells)
	add := func(y, x float64) error {
		place, err := b.place(y, x)
		places = append(places, place)
		return err
	}
	for _, x := range p.state.x {
		v := h * b.volume(x)
		if err := add(y+v/2, x); err != nil {
			return nil, err
		}
		y += v
	}
	return places, add(y, p.surface)
}

// away returns the distance to the centre at which the integral of g is y, m.
func (b *body) away(y float64) float64 {
	if b.cylinder {
		return b.green * math.Sqrt(y)
	}
	return b.green * y
}

func (b *body) place(y, x float64) (Place, error) {
	depth, err := quantity.Metres(b.away(y))
	if err != nil {
		return Place{}, err
	}
	moisture, err := quantity.NewFraction(x / (1 + x))
	if err != nil {
		return Place{}, err
	}
	per, err := quantity.NewRatio(x)
	if err != nil {
		return Place{}, err
	}
	aw, err := b.activity(x)
	return Place{Depth: depth, Moisture: moisture, PerSolids: per, WaterActivity: aw}, err
}

func (b *body) activity(x float64) (quantity.WaterActivity, error) {
	aw, _ := b.iso.at(x)
	return quantity.NewWaterActivity(min(max(aw, 0), 1))
}

// rimMillimetres is the rim that a knife shows.
const rimMillimetres = 3.0

// mean returns the mean moisture between two distances to the centre, m, by the
// dry solids there; the moisture at the nearer one when there is nothing between.
func (b *body) mean(x []float64, from, until float64) float64 {
	y, h := 0.0, 1/float64(b.cells)
	low, high := b.inside(from), b.inside(until)
	water, solids := 0.0, 0.0
	for _, v := range x {
		g := h * b.volume(v)
		if part := min(y+g, high) - max(y, low); part > 0 {
			water += part / g * h * v
			solids += part / g * h
		}
		y += g
	}
	if solids == 0 {
		return x[len(x)-1]
	}
	return water / solids
}

// inside is the inverse of away.
func (b *body) inside(metres float64) float64 {
	z := max(metres, 0) / b.green
	if b.cylinder {
		return z * z
	}
	return z
}

// point returns what is known of a body in a state.
func (b *body) point(s state, r *rates, a *forcing) (Point, error) {
	x := slices.Clone(s.x)
	p := Point{state: state{x: x, lost: s.lost}, piece: b, surface: r.surface}
	mean, y := 0.0, 0.0
	for _, v := range x {
		mean += v / float64(b.cells)
		y += b.volume(v) / float64(b.cells)
	}
	outer := b.away(y)
	rim := b.mean(x, outer-rimMillimetres/1000, outer)
	third, rest := b.mean(x, outer*2/3, outer), b.mean(x, 0, outer*2/3)
	// The middle is the innermost tenth of the radius, but at least a cell.
	core := x[0]
	width := 2 * b.away(y)
	if !b.cylinder && b.thickness == b.green {
		width = b.away(y)
	}
	middle, _ := b.coefficient(mean)
	g := b.volume(mean)
	fourier := a.d * middle * g * g * secondsPerDay / y
	if !b.cylinder {
		fourier /= y
	}
	var err error
	keep := func(e error) {
		if err == nil {
			err = e
		}
	}
	set := func(to *quantity.WaterActivity, x float64) {
		aw, e := b.activity(x)
		*to = aw
		keep(e)
	}
	fraction := func(to *quantity.Fraction, x float64) {
		f, e := quantity.NewFraction(x / (1 + x))
		*to = f
		keep(e)
	}
	var e error
	p.Loss, e = quantity.LossPercent(100 * b.solids * s.lost)
	keep(e)
	p.Rate, e = quantity.LossPercentPerDay(100 * b.solids * r.out * secondsPerDay)
	keep(e)
	p.Thickness, e = quantity.Metres(width)
	keep(e)
	p.Biot, e = quantity.NewRatio(r.biot)
	keep(e)
	p.FourierPerDay, e = quantity.NewRatio(fourier)
	keep(e)
	set(&p.Surface, r.surface)
	set(&p.Rim, rim)
	set(&p.OuterThird, third)
	set(&p.Core, core)
	set(&p.Mean, mean)
	fraction(&p.Moisture, mean)
	fraction(&p.RimMoisture, third)
	fraction(&p.CoreMoisture, rest)
	return p, err
}
