package acidification

import "math"

// dimensions is that of the points: the unknowns of a curve, and its stretch.
const dimensions = unknowns + 1

// evenly returns point i of a fixed sequence that fills the unit cube evenly: the
// additive recurrence with the powers of 1/g, g being the root above 1 of
// g^(d+1) = g + 1.
func evenly(i int) [dimensions]float64 {
	const g = 1.1347241384015194 // of five dimensions
	var point [dimensions]float64
	step := 1.0
	for d := range point {
		step /= g
		_, point[d] = math.Modf(0.5 + step*float64(i+1))
	}
	return point
}

// quantile returns the standard normal number below which part of them lie.
func quantile(part float64) float64 {
	const nearest = 1e-9
	return math.Sqrt2 * math.Erfinv(2*math.Min(math.Max(part, nearest), 1-nearest)-1)
}

// proposal is the distribution that points are drawn of: a tenth of the prior,
// two tenths of a wide normal distribution and seven of a narrower one. The zero
// value is the prior.
type proposal struct {
	mean  [unknowns]float64
	lower *[unknowns][unknowns]float64 // of the covariance, nil for the prior
}

// The two normal distributions, by how much they are wider than what was found.
const (
	narrow, wide     = 1.2, 2.2
	ofNarrow, ofWide = 0.7, 0.2
	ofPrior          = 0.1
	tenth            = 10
)

// newProposal returns the one around weighed points, whose weights are
// logarithms.
func newProposal(of []weighed) proposal {
	top := math.Inf(-1)
	for i := range of {
		top = math.Max(top, of[i].weight)
	}
	p := proposal{lower: new([unknowns][unknowns]float64)}
	sum := 0.0
	for i := range of {
		w := math.Exp(of[i].weight - top)
		sum += w
		for d := range p.mean {
			p.mean[d] += w * of[i].z[d]
		}
	}
	for d := range p.mean {
		p.mean[d] /= sum
	}
	var c [unknowns][unknowns]float64
	for i := range of {
		w := math.Exp(of[i].weight-top) / sum
		for a := range c {
			for b := range c {
				c[a][b] += w * (of[i].z[a] - p.mean[a]) * (of[i].z[b] - p.mean[b])
			}
		}
	}
	const least = 1e-4 // keeps a covariance of few points from being flat
	for a := range c {
		c[a][a] += least
	}
	for a, row := range c {
		for b, v := range row {
			if b > a {
				break
			}
			for k := range b {
				v -= p.lower[a][k] * p.lower[b][k]
			}
			if a == b {
				p.lower[a][a] = math.Sqrt(math.Max(v, least*least))
			} else {
				p.lower[a][b] = v / p.lower[b][b]
			}
		}
	}
	return p
}

// draw returns the numbers of point i.
func (p *proposal) draw(i int, point [dimensions]float64) [unknowns]float64 {
	var z [unknowns]float64
	for d := range z {
		z[d] = quantile(point[d])
	}
	width := narrow
	switch i % tenth {
	case 0:
		return z
	case 1, 2:
		width = wide
	}
	if p.lower == nil {
		return z
	}
	var out [unknowns]float64
	for a, row := range p.lower { // zero beyond the diagonal
		out[a] = p.mean[a]
		for b, v := range row {
			out[a] += width * v * z[b]
		}
	}
	return out
}

// correction returns the logarithm of the prior's density over that of the
// proposal.
func (p *proposal) correction(z *[unknowns]float64) float64 {
	if p.lower == nil {
		return 0
	}
	var x [unknowns]float64
	square, own, volume := 0.0, 0.0, 1.0
	for a := range unknowns {
		v := z[a] - p.mean[a]
		for b := range a {
			v -= p.lower[a][b] * x[b]
		}
		x[a] = v / p.lower[a][a]
		square += x[a] * x[a]
		own += z[a] * z[a]
		volume *= p.lower[a][a]
	}
	density := func(width float64) float64 {
		return math.Exp(-square/(2*width*width)) / (volume * math.Pow(width, unknowns))
	}
	prior := math.Exp(-own / 2)
	all := ofPrior*prior + ofWide*density(wide) + ofNarrow*density(narrow)
	return -own/2 - math.Log(math.Max(all, math.SmallestNonzeroFloat64))
}

// cholesky is the lower factor of a covariance.
type cholesky struct {
	n     int
	lower []float64 // by rows
}

// newCholesky factors a covariance that is positive definite.
func newCholesky(n int, covariance func(i, j int) float64) *cholesky {
	c := &cholesky{n, make([]float64, n*n)}
	for i := range n {
		for j := range i + 1 {
			v := covariance(i, j)
			for k := range j {
				v -= c.lower[i*n+k] * c.lower[j*n+k]
			}
			if i == j {
				const least = 1e-12
				c.lower[i*n+i] = math.Sqrt(math.Max(v, least))
			} else {
				c.lower[i*n+j] = v / c.lower[j*n+j]
			}
		}
	}
	return c
}

// square returns r' C⁻¹ r; it overwrites r.
func (c *cholesky) square(r []float64) float64 {
	sum := 0.0
	for i := range c.n {
		v := r[i]
		row := c.lower[i*c.n : i*c.n+i]
		for k, l := range row {
			v -= l * r[k]
		}
		v /= c.lower[i*c.n+i]
		r[i] = v
		sum += v * v
	}
	return sum
}

// solve returns C⁻¹ r; it overwrites r.
func (c *cholesky) solve(r []float64) []float64 {
	c.square(r)
	for i := c.n - 1; i >= 0; i-- {
		v := r[i]
		for k := i + 1; k < c.n; k++ {
			v -= c.lower[k*c.n+i] * r[k]
		}
		r[i] = v / c.lower[i*c.n+i]
	}
	return r
}
