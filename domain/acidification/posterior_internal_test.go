package acidification

import (
	"math"
	"math/rand/v2"
	"testing"

	"greenweight/domain/rulebook"
)

func sakeiPrior() prior {
	return Order{Cultures: []rulebook.CultureSpecies{mustSpecies("latilactobacillus-sakei")}}.before()
}

// The posterior by brute force: every cell of a grid of the four unknowns, for
// each shape, with a covariance that is inverted here by elimination.
func TestPosteriorByBruteForce(t *testing.T) {
	t.Parallel()
	p := sakeiPrior()
	seen := []observation{{0, 5.82, 0.03}, {7, 5.78, 0.03}, {12, 5.62, 0.03}, {15, 5.48, 0.03}}
	n := len(seen)
	inverse := make([][]float64, n)
	covariance := make([][]float64, n)
	for i := range seen {
		inverse[i], covariance[i] = make([]float64, n), make([]float64, n)
		inverse[i][i] = 1
		for j := range seen {
			covariance[i][j] = misfit*misfit*math.Exp(-math.Abs(seen[i].thermal-seen[j].thermal)/(memory*p.until)) + common*0.03*0.03
			if i == j {
				covariance[i][j] += (1 - common) * 0.03 * 0.03
			}
		}
	}
	for i := range n {
		pivot := covariance[i][i]
		for j := range n {
			covariance[i][j] /= pivot
			inverse[i][j] /= pivot
		}
		for k := range n {
			if factor := covariance[k][i]; k != i {
				for j := range n {
					covariance[k][j] -= factor * covariance[i][j]
					inverse[k][j] -= factor * inverse[i][j]
				}
			}
		}
	}
	const half, apart = 13, 0.3 // cells from -3.9 to 3.9
	const later = 22.0          // hours, at which the curves are compared
	var total, floor, floorSquares, ph, phSquares float64
	var byShape [len(shapes)]float64
	residual := make([]float64, n)
	for k, s := range shapes {
		var z [unknowns]float64
		for i := range int(math.Pow(2*half+1, unknowns)) {
			rest, prior := i, 0.0
			for d := range z {
				z[d] = float64(rest%(2*half+1)-half) * apart
				prior += z[d] * z[d]
				rest /= 2*half + 1
			}
			if prior > 25 { // less than e^-12.5 of the weight
				continue
			}
			c := p.curveAt(s, &z)
			for j, o := range seen {
				residual[j] = o.ph - c.ph(o.thermal)
			}
			square := prior
			for a := range n {
				for b := range n {
					square += residual[a] * inverse[a][b] * residual[b]
				}
			}
			w := math.Exp(-square / 2)
			v := c.ph(later)
			total += w
			byShape[k] += w
			floor, floorSquares = floor+w*c.floor, floorSquares+w*c.floor*c.floor
			ph, phSquares = ph+w*v, phSquares+w*v*v
		}
	}
	floor, ph = floor/total, ph/total
	post := fit(&p, seen)
	if post.effective < 300 {
		t.Errorf("the weights are worth %.0f curves", post.effective)
	}
	var gotFloor, gotFloorSquares, got, gotSquares float64
	var gotByShape [len(shapes)]float64
	m := float64(len(post.curves))
	for i := range post.curves {
		c := &post.curves[i]
		v := c.ph(later)
		gotFloor, gotFloorSquares = gotFloor+c.floor/m, gotFloorSquares+c.floor*c.floor/m
		got, gotSquares = got+v/m, gotSquares+v*v/m
		gotByShape[c.shape-1] += 1 / m
	}
	sd := func(mean, squares float64) float64 { return math.Sqrt(squares - mean*mean) }
	near := func(what string, want, got, within float64) {
		t.Helper()
		if math.Abs(want-got) > within {
			t.Errorf("%s is %.4f, by brute force %.4f", what, got, want)
		}
	}
	// The mean of a thousand curves out of some hundreds of effective ones is off by a
	// fifteenth of a standard deviation or so.
	spread := sd(ph, phSquares/total)
	near("mean of the pH", ph, got, spread/6)
	near("spread of the pH", spread, sd(got, gotSquares), spread/6)
	near("mean of the floor", floor, gotFloor, sd(floor, floorSquares/total)/6)
	near("spread of the floor", sd(floor, floorSquares/total), sd(gotFloor, gotFloorSquares), sd(floor, floorSquares/total)/6)
	for k, s := range shapes {
		near("weight of a shape", byShape[k]/total, gotByShape[s-1], 0.08)
	}
}

// Fermentations drawn from the prior itself, misfit and noise included: the bands
// hold as often as they say. 150 of them give 0.8 with a standard error of 0.033.
func TestBandsHoldOnDrawsFromThePrior(t *testing.T) {
	t.Parallel()
	p := sakeiPrior()
	r := rand.New(rand.NewPCG(7, 11)) //nolint:gosec // the same draws each time are meant
	const draws, noise = 150, 0.03
	held := [3]int{}
	for range draws {
		var z [unknowns]float64
		for d := range z {
			z[d] = r.NormFloat64()
		}
		c := p.curveAt(shapes[r.IntN(len(shapes))], &z)
		c.stretch = math.Exp(later + laterSD*r.NormFloat64())
		// The misfit goes from reading to reading like the model's.
		off, shared := misfit*r.NormFloat64(), r.NormFloat64()
		var seen []observation
		last := 0.0
		for k := range 4 {
			at := float64(k) * 0.25 * p.until
			keep := math.Exp(-(at - last) / (memory * p.until))
			off = keep*off + misfit*math.Sqrt(1-keep*keep)*r.NormFloat64()
			last = at
			err := noise * (math.Sqrt(common)*shared + math.Sqrt(1-common)*r.NormFloat64())
			seen = append(seen, observation{at, c.ph(at) + off + err, noise})
		}
		const ahead = 6.0 // hours
		keep := math.Exp(-ahead / (memory * p.until))
		truth := c.ph(last+ahead/c.stretch) + keep*off + misfit*math.Sqrt(1-keep*keep)*r.NormFloat64()
		post := fit(&p, seen)
		phs, sd := post.phs(last+ahead, nil)
		q := quantiles(phs, sd)
		for i := range held {
			if q[i] <= truth && truth <= q[len(q)-1-i] {
				held[i]++
			}
		}
	}
	for i, claimed := range []float64{0.9, 0.8, 0.5} {
		const errors = 3.0 // standard errors
		got := float64(held[i]) / draws
		if se := math.Sqrt(claimed * (1 - claimed) / draws); math.Abs(got-claimed) > errors*se {
			t.Errorf("the band of %v held %v of the draws", claimed, got)
		}
	}
}

// Each point of the sequence counts once: in each dimension tenths hold a tenth of
// them.
func TestPointsFillTheCube(t *testing.T) {
	t.Parallel()
	var counts [dimensions][10]int
	for i := range perShape {
		for d, v := range evenly(i) {
			counts[d][int(v*10)]++
		}
	}
	for d := range counts {
		for k, n := range counts[d] {
			if math.Abs(float64(n)-perShape/10) > 12 {
				t.Errorf("dimension %d has %d points in tenth %d, want about %d", d, n, k, perShape/10)
			}
		}
	}
}

// Quantiles of two values of equal chance that are each off by some: the median is
// halfway, and one value alone has those of the normal distribution.
func TestQuantilesOfNormals(t *testing.T) {
	t.Parallel()
	if got := quantiles([]float64{5, 5.4}, 0.05); math.Abs(got[3]-5.2) > 0.03 {
		t.Errorf("want the median at 5.2, got %v", got[3])
	}
	got := quantiles([]float64{5.2}, 0.1)
	for i, want := range []float64{-1.644854, -1.281552, -0.674490, 0, 0.674490, 1.281552, 1.644854} {
		if math.Abs(got[i]-(5.2+0.1*want)) > 2e-3 {
			t.Errorf("quantile %d is %v, want %v", i, got[i], 5.2+0.1*want)
		}
	}
}
