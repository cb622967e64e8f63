package drying

import (
	"fmt"
	"math"
	"sync"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// Cylinder is a long cylinder that dries through its side: a sausage whose ends
// do not matter, which they do below some four diameters of length. Water moves
// in it with one diffusivity, from a moisture that is the same all through
// towards one that the air sets. Radius and diffusivity enter only through the
// Fourier number
//
//	Fo = D t / R²
//
// and the surface only through the Biot number
//
//	Bi = k R / D
//
// with k the conductance of film and casing in the same units of concentration
// as the moisture. Source: Crank, The Mathematics of Diffusion, 2nd edition
// (1975), chapter 5, equations 5.22, 5.23 and 5.47 (recalled; the tables that
// the tests hold it against were computed from them).
type Cylinder struct {
	biot float64 // +Inf for a surface that is at its end at once
}

// FixedSurface is a cylinder whose surface is in balance with the air from the
// start: an endless Biot number.
func FixedSurface() Cylinder { return Cylinder{math.Inf(1)} }

// NewCylinder returns the cylinder with a Biot number; it reports fault.Invalid
// outside 0.001..10,000, where below the piece is as moist inside as at its
// surface and above the surface is as good as fixed.
func NewCylinder(biot quantity.Ratio) (Cylinder, error) {
	if b := biot.Float(); b < leastBiot || b > mostBiot {
		return Cylinder{}, &fault.Error{
			Kind: fault.Invalid, Code: "biot-number", Detail: fmt.Sprintf("the Biot number must be from %v to %v, got %v", leastBiot, mostBiot, b),
		}
	}
	return Cylinder{biot.Float()}, nil
}

const (
	leastBiot = 1e-3
	mostBiot  = 1e4
)

// Roots returns the first n roots of the characteristic equation
//
//	m J1(m) = Bi J0(m)
//
// in ascending order, or the zeros of J0 for a fixed surface; none for n below
// 1. Each lies between a zero of J1 and the next zero of J0 and is found by
// bisection to the last bits of a float, at most 100 steps each.
func (c Cylinder) Roots(n int) []quantity.Ratio {
	roots := make([]quantity.Ratio, 0, max(n, 0))
	for _, m := range c.roots(n) {
		roots = append(roots, quantity.MustRatio(m))
	}
	return roots
}

// MeanMoistureRatio returns the mean over the cylinder of
//
//	Y = (X - Xeq) / (X0 - Xeq) = sum 4 Bi² / (m² (m² + Bi²)) exp(-m² Fo)
//
// with X the moisture per dry solids, X0 at the start, Xeq in balance with the
// air. 1 - Y is the part of the removable water that is gone. The sum ends
// where a term can't be seen in a float, at most after 2,000; below a Fourier
// number of 1e-6 the truncation is up to 1e-4. It reports fault.Invalid for a
// negative Fourier number.
func (c Cylinder) MeanMoistureRatio(fourier quantity.Ratio) (quantity.Ratio, error) {
	return c.ratio(fourier, c.meanTerm)
}

// CentreMoistureRatio returns the same at the axis,
//
//	Y = sum 2 Bi / ((m² + Bi²) J0(m)) exp(-m² Fo)
//
// Its sum alternates and converges slowly before anything happens at the axis:
// it reports fault.OutsideModel below a Fourier number of 0.001, where the axis
// is as at the start to the last bit.
func (c Cylinder) CentreMoistureRatio(fourier quantity.Ratio) (quantity.Ratio, error) {
	const early = 0.001
	if f := fourier.Float(); f >= 0 && f < early {
		return quantity.Ratio{}, &fault.Error{
			Kind: fault.OutsideModel, Code: "fourier-number", Detail: fmt.Sprintf("the axis is told from a Fourier number of %v on, got %v", early, f),
		}
	}
	return c.ratio(fourier, c.centreTerm)
}

func (c Cylinder) ratio(fourier quantity.Ratio, term func(m float64) float64) (quantity.Ratio, error) {
	f := fourier.Float()
	if f < 0 {
		return quantity.Ratio{}, &fault.Error{
			Kind: fault.Invalid, Code: "fourier-number", Detail: fmt.Sprintf("the Fourier number must not be negative, got %v", f),
		}
	}
	return quantity.NewRatio(c.sum(f, term))
}

// mostTerms bounds a sum; unseen is the exponent at which a term is gone.
const (
	mostTerms = 2000
	unseen    = 40
)

func (c Cylinder) sum(fourier float64, term func(m float64) float64) float64 {
	if fourier == 0 {
		return 1
	}
	n := min(int(math.Sqrt(unseen/fourier)/math.Pi)+2, mostTerms)
	total := 0.0
	for _, m := range c.roots(n) {
		total += term(m) * math.Exp(-m*m*fourier)
	}
	return total
}

func (c Cylinder) meanTerm(m float64) float64 {
	if math.IsInf(c.biot, 1) {
		return 4 / (m * m)
	}
	return 4 / (m * m * (1 + m*m/(c.biot*c.biot)))
}

func (c Cylinder) centreTerm(m float64) float64 {
	if math.IsInf(c.biot, 1) {
		return 2 / (m * math.J1(m))
	}
	return 2 * c.biot / ((m*m + c.biot*c.biot) * math.J0(m))
}

func (c Cylinder) roots(n int) []float64 {
	roots := make([]float64, 0, max(n, 0))
	for i := range n {
		low, high := 0.0, zeroOfJ0(i)
		if i > 0 {
			low = zeroOfJ1(i)
		}
		if math.IsInf(c.biot, 1) {
			roots = append(roots, high)
			continue
		}
		// Between the zeros the difference of both sides changes its sign once.
		sign := 1.0
		if i%2 == 1 {
			sign = -1
		}
		roots = append(roots, bisect(low, high, func(m float64) float64 {
			return sign * (m*math.J1(m) - c.biot*math.J0(m))
		}))
	}
	return roots
}

// zeroOfJ0 returns the zero of J0 after i others, zeroOfJ1 that of J1, which
// counts its zero at 0: both lie within a fifth of the first term of McMahon's
// series (Abramowitz & Stegun, Handbook of Mathematical Functions, 1964,
// equation 9.5.12).
func zeroOfJ0(i int) float64 {
	about := (float64(i) + 0.75) * math.Pi
	sign := 1.0
	if i%2 == 0 {
		sign = -1
	}
	return bisect(about-0.2, about+0.2, func(x float64) float64 { return sign * math.J0(x) })
}

func zeroOfJ1(i int) float64 {
	about := (float64(i) + 0.25) * math.Pi
	sign := 1.0
	if i%2 == 1 {
		sign = -1
	}
	return bisect(about-0.2, about+0.2, func(x float64) float64 { return sign * math.J1(x) })
}

// bisect returns where f, which is negative at low and positive at high,
// crosses zero.
func bisect(low, high float64, f func(float64) float64) float64 {
	const steps = 100
	for range steps {
		mid := (low + high) / 2
		if mid <= low || mid >= high {
			break
		}
		if f(mid) < 0 {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// curve is the part of the removable water that is gone, E = 1 - Y, of one
// Biot number at many Fourier numbers: a projection asks for it some hundred
// thousand times.
type curve struct {
	logBiot float64
	gone    []float64
}

// The span of the curves. Before it a sausage has hung for minutes; after it
// there is no removable water left for any Biot number but the least.
const (
	curveLeastBiot    = 0.1
	curveMostBiot     = 100
	curveCount        = 24
	curveLeastFourier = 1e-4
	curveMostFourier  = 40
	curveNodes        = 420
	// curveTerms makes the sum exact to 1e-6 from the first node on.
	curveTerms = 120
)

// perLogFourier is how many nodes there are in a unit of the logarithm of the
// Fourier number.
var perLogFourier = (curveNodes - 1) / math.Log(curveMostFourier/curveLeastFourier)

// curvesByBiot are the curves of Biot numbers at even steps of the logarithm.
var curvesByBiot = sync.OnceValue(func() []curve {
	all := make([]curve, curveCount)
	step := math.Log(curveMostBiot/curveLeastBiot) / (curveCount - 1)
	for i := range all {
		c := Cylinder{curveLeastBiot * math.Exp(float64(i)*step)}
		roots := c.roots(curveTerms)
		gone := make([]float64, curveNodes)
		for j := range gone {
			fourier := curveLeastFourier * math.Exp(float64(j)/perLogFourier)
			left := 0.0
			for _, m := range roots {
				if m*m*fourier > unseen {
					break
				}
				left += c.meanTerm(m) * math.Exp(-m*m*fourier)
			}
			gone[j] = 1 - left
		}
		all[i] = curve{math.Log(c.biot), gone}
	}
	return all
})

// at returns E at a logarithm of the Fourier number: linear in it between the
// nodes, which is off by less than 1e-4; in proportion to the Fourier number
// before the first and all of it after the last.
func (c curve) at(logFourier float64) float64 {
	x := (logFourier - math.Log(curveLeastFourier)) * perLogFourier
	switch {
	case x <= 0:
		return c.gone[0] * math.Exp(x/perLogFourier)
	case x >= curveNodes-1:
		return c.gone[curveNodes-1]
	}
	i := int(x)
	return c.gone[i] + (x-float64(i))*(c.gone[i+1]-c.gone[i])
}
