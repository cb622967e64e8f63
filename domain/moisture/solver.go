package moisture

import "math"

// isotherm is the water activity in balance with a moisture, kg of water per kg
// of dry solids, and its slope, which is not negative. It is zero or less at zero.
type isotherm interface {
	at(x float64) (aw, slope float64)
}

// problem is a piece in the coordinate of its dry solids: z goes from 0 at the
// centre (or the side that does not dry) to 1 at the surface, each cell holding as
// much of the dry solids as the next.
//
//	dX/dt = d/dz (q d y f(X)/g(X)^2 dX/dz)   cylinder, q = 4
//	dX/dt = d/dz (d f(X)/g(X)^2 dX/dz)       slab
//
// in which
//
//   - X: moisture, kg of water per kg of dry solids
//   - d: diffusivity over the square of the green radius (or thickness), 1/s
//   - f: what moisture makes of the diffusivity, exp(-fall (1 - X/X0))
//   - g: volume of a kg of dry solids with its water, over what it was when green,
//     1 - beta (X0 - X)
//   - y: square of the radius over that of the green radius, the integral of g
//
// It follows from a flux of D rho_s dX/dr, rho_s being the dry solids in a
// volume, and r dr = (v/v0) R0^2/2 dz.
type problem struct {
	cells    int
	cylinder bool
	x0       float64
	beta     float64
	fall     float64
	iso      isotherm
}

// forcing is what the air does to the piece while nothing changes in it.
type forcing struct {
	d      float64 // diffusivity over the square of the green radius, 1/s
	sealed bool
	// The loss of mean moisture is
	//
	//	area sqrt(y) (vapour aw - drawn) / (film y^(power/2) + other + cooling aw)
	//
	// without the root of y for a slab.
	area    float64 // surface of the green piece per kg of its dry solids, m²/kg
	vapour  float64 // saturated air at the temperature of the room, kg/m³
	drawn   float64 // vapour in the room, kg/m³
	film    float64 // resistance of the film at the green diameter, s/m
	power   float64 // its power of the diameter
	other   float64 // resistance of casing and membrane, s/m
	cooling float64 // what evaporation takes by cooling the surface, s/m at aw 1
}

// coefficient returns f/g^2 and its slope.
func (p *problem) coefficient(x float64) (c, slope float64) {
	g := p.volume(x)
	c = 1 / (g * g)
	relative := -2 * p.beta / g
	if p.fall != 0 {
		// Wetter than green is no faster than green.
		if dry := 1 - x/p.x0; dry > 0 {
			c *= math.Exp(-p.fall * dry)
			relative += p.fall / p.x0
		}
	}
	return c, c * relative
}

func (p *problem) volume(x float64) float64 { return max(1-p.beta*(p.x0-x), leastVolume) }

// leastVolume keeps a step that is going to be refused from dividing by nothing.
const leastVolume = 1e-3

// state is a piece at a time.
type state struct {
	x    []float64 // moisture of the cells
	lost float64   // mean moisture that has gone
}

// rates is the right hand side and its derivative by the cells, without that by
// the radius, which is smooth.
type rates struct {
	f                  []float64
	lower, diag, upper []float64
	c, cs, y           []float64 // coefficient of each cell and its slope; y of its outer face
	out, outSlope      float64   // loss of mean moisture, 1/s, and its slope by the last cell
	surface            float64   // moisture at the surface
	biot               float64
}

func newRates(n int) *rates {
	all := make([]float64, 7*n)
	part := func(i int) []float64 { return all[i*n : (i+1)*n : (i+1)*n] }
	return &rates{f: part(0), lower: part(1), diag: part(2), upper: part(3), c: part(4), cs: part(5), y: part(6)}
}

// evaluate computes the rates of change, and their slopes when asked.
func (p *problem) evaluate(x []float64, a *forcing, r *rates, slopes bool) {
	n := p.cells
	h := 1 / float64(n)
	y := 0.0
	for i, v := range x {
		r.c[i], r.cs[i] = p.coefficient(v)
		y += h * p.volume(v)
		r.y[i] = y
		r.f[i] = 0
		if slopes {
			r.lower[i], r.diag[i], r.upper[i] = 0, 0, 0
		}
	}
	perCell := float64(n)
	q := a.d * perCell
	for i := range n - 1 {
		k := q
		if p.cylinder {
			k *= 4 * r.y[i]
		}
		c, difference := (r.c[i]+r.c[i+1])/2, x[i]-x[i+1]
		flow := k * c * difference * perCell
		r.f[i] -= flow
		r.f[i+1] += flow
		if slopes {
			left := k * perCell * (c + r.cs[i]/2*difference)
			right := k * perCell * (-c + r.cs[i+1]/2*difference)
			r.diag[i] -= left
			r.upper[i] -= right
			r.lower[i+1] += left
			r.diag[i+1] += right
		}
	}
	p.outflow(x[n-1], y, a, r)
	r.f[n-1] -= r.out * perCell
	if slopes {
		r.diag[n-1] -= r.outSlope * perCell
	}
}

// outflow finds the moisture of the surface, at which what comes through half a
// cell is what the air takes. Newton steps are kept in a bracket that is halved
// when they leave it: at most 80 of them.
func (p *problem) outflow(last, y float64, a *forcing, r *rates) {
	if a.sealed {
		r.out, r.outSlope, r.surface, r.biot = 0, 0, last, 0
		return
	}
	inside := a.d * 2 * float64(p.cells)
	area, resistance := a.area, a.film+a.other
	if p.cylinder {
		inside *= 4 * y
		area *= math.Sqrt(y)
		if a.film > 0 && a.power != 0 {
			resistance = a.film*math.Pow(y, a.power/2) + a.other
		}
	}
	take := func(x float64) (s, slope, awSlope float64) {
		aw, da := p.iso.at(x)
		whole := resistance + a.cooling*max(aw, 0)
		s = area * (a.vapour*aw - a.drawn) / whole
		return s, area*a.vapour*da/whole - s*a.cooling*da/whole, da
	}
	cLast, csLast := p.coefficient(last)
	s, slope, awSlope := take(last)
	xs := last
	low, high := 0.0, last
	if s < 0 {
		least, _ := p.coefficient(max(last, p.x0) + 1)
		low, high = last, last-2*s/(inside*min(cLast, least)/2)
	}
	half := cLast
	halfSlope := 0.0
	for range 80 {
		miss := inside*half*(last-xs) - s
		if miss > 0 {
			low = xs
		} else {
			high = xs
		}
		next := xs - miss/(inside*(halfSlope*(last-xs)-half)-slope)
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		moved := math.Abs(next - xs)
		xs = next
		s, slope, awSlope = take(xs)
		c, cs := p.coefficient(xs)
		half, halfSlope = (cLast+c)/2, cs/2
		if moved <= 1e-13*(p.x0+math.Abs(xs)) {
			break
		}
	}
	r.out, r.surface = s, xs
	// By the implicit function: d(out)/d(last).
	inner := inside * (half + csLast/2*(last-xs))
	outer := inside*(half-halfSlope*(last-xs)) + slope
	r.outSlope = 0
	if outer > 0 {
		r.outSlope = max(slope*inner/outer, 0)
	}
	// R k rho_v (daw/dX) / (D rho_s): what the surface lets out per difference of
	// moisture, over what the inside brings to it. The area is that per kg of dry
	// solids, which is 2/R of the volume of a cylinder and 1/L of a slab.
	c, _ := p.coefficient(xs)
	r.biot = area * a.vapour * awSlope / (resistance + a.cooling) / (a.d * c * p.volume(xs))
	if p.cylinder {
		r.biot /= 2
	} else {
		r.biot *= y
	}
}

// gamma makes the method L-stable.
var gamma = 1 - 1/math.Sqrt2

// stepper takes steps of the Rosenbrock method of two stages
//
//	(1 - gamma t A) k1 = F(x)
//	(1 - gamma t A) k2 = F(x + t k1) - 2 k1
//	x' = x + t (3 k1 + k2)/2
//
// which is of second order whatever A is, and L-stable where A is the slope of F.
// A is tridiagonal here. x + t k1 is of first order, and the difference tells the
// error. What leaves is added up by the same steps, so that water is conserved to
// rounding.
//
// Source: Verwer, Spee, Blom and Hundsdorfer, A second-order Rosenbrock method
// applied to photochemical dispersion problems, SIAM J. Sci. Comput. 20(4), 1999,
// 1456-1480 (recalled); the order is shown in the tests.
type stepper struct {
	*problem
	at, stage       *rates
	k1, k2, between []float64
	upper           []float64
}

func newStepper(p *problem) *stepper {
	n := p.cells
	all := make([]float64, 4*n)
	part := func(i int) []float64 { return all[i*n : (i+1)*n : (i+1)*n] }
	return &stepper{problem: p, at: newRates(n), stage: newRates(n), k1: part(0), k2: part(1), between: part(2), upper: part(3)}
}

// try takes a step of t seconds from s into next, and returns the error by which
// the embedded method differs, over x0: root of the mean square. NaN when the step
// led nowhere.
func (st *stepper) try(s, next *state, a *forcing, t float64) float64 {
	st.evaluate(s.x, a, st.at, true)
	copy(st.k1, st.at.f)
	st.solve(st.k1, t)
	n := st.cells
	lost1 := st.at.out + gamma*t*st.at.outSlope*st.k1[n-1]
	for i, v := range s.x {
		st.between[i] = v + t*st.k1[i]
		if !(st.between[i] >= 0) {
			return math.NaN()
		}
	}
	st.evaluate(st.between, a, st.stage, false)
	for i := range st.k2 {
		st.k2[i] = st.stage.f[i] - 2*st.k1[i]
	}
	st.solve(st.k2, t)
	lost2 := st.stage.out - 2*lost1 + gamma*t*st.at.outSlope*st.k2[n-1]
	sum := 0.0
	for i, v := range s.x {
		next.x[i] = v + t*(3*st.k1[i]+st.k2[i])/2
		if !(next.x[i] >= 0) {
			return math.NaN()
		}
		e := t * (st.k1[i] + st.k2[i]) / 2
		sum += e * e
	}
	next.lost = s.lost + t*(3*lost1+lost2)/2
	return math.Sqrt(sum/float64(n)) / st.x0
}

// solve replaces b by the solution of (1 - gamma t A) v = b, by elimination
// without pivots: the diagonal outweighs the rest but for what the slopes of the
// coefficients add.
func (st *stepper) solve(b []float64, t float64) {
	gt := gamma * t
	n := len(b)
	before := 1 - gt*st.at.diag[0]
	st.upper[0] = -gt * st.at.upper[0] / before
	b[0] /= before
	for i := 1; i < n; i++ {
		lower := -gt * st.at.lower[i]
		pivot := 1 - gt*st.at.diag[i] - lower*st.upper[i-1]
		st.upper[i] = -gt * st.at.upper[i] / pivot
		b[i] = (b[i] - lower*b[i-1]) / pivot
	}
	for i := n - 2; i >= 0; i-- {
		b[i] -= st.upper[i] * b[i+1]
	}
}
