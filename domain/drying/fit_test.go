package drying

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"
	"gonum.org/v1/gonum/stat/distuv"

	"greenweight/domain/quantity/quantitytest"
)

// oneAir is what is known of a piece in one air that is not bounded.
func oneAir(p prior, stops, sd float64) prior {
	p.spells = []spell{{stops: stops, stopsSD: sd, rate: 1}}
	return p
}

// The weights of nodes by the filter, with the end of drying integrated over,
// against the density of a normal distribution in as many dimensions as there
// are weigh-ins, whose covariance is written down from the definition of a
// misfit and of the spread of that end (gonum's distmv).
func TestWeightsAgainstMultivariateNormal(t *testing.T) {
	t.Parallel()
	n := misfit{sd: 2.2, memory: 1.3, weighing: 0.8}
	seen := []observation{{1.5, 4}, {3, 8.5}, {7, 15}, {7.5, 15.2}, {20, 27}}
	p := oneAir(prior{logRate: math.Log(0.007), logRateSD: 1e9, logBiot: 1, logBiotSD: 1e9, mostStops: 90, start: 1}, 44, 4)
	f := newFitter(&p, n, seen)
	f.low, f.high = -40, 40 // as good as without bounds
	const curve = 12
	var got, want []float64
	for on := range onsets {
		for _, rate := range []float64{math.Log(0.006), math.Log(0.008)} {
			nd := node{curve: curve, onset: on, logRate: rate}
			f.weigh(&nd)
			got = append(got, nd.weight)

			covariance, pure := mat.NewSymDense(len(seen), nil), mat.NewSymDense(len(seen), nil)
			mean, gone, losses := make([]float64, len(seen)), make([]float64, len(seen)), make([]float64, len(seen))
			for i, o := range seen {
				gone[i] = curvesByBiot()[curve].at(onsets[on].at(rate + math.Log(o.day)))
				mean[i], losses[i] = p.start+43*gone[i], o.loss
			}
			for i, a := range seen {
				for j, b := range seen[:i+1] {
					c := n.sd * n.sd * n.part(a.loss-p.start) * n.part(b.loss-p.start) * math.Pow(b.day/a.day, 1/n.memory)
					if i == j {
						c += n.weighing * n.weighing
					}
					pure.SetSym(i, j, c)
					covariance.SetSym(i, j, c+16*gone[i]*gone[j])
				}
			}
			normal, ok := distmv.NewNormal(mean, covariance, nil)
			if !ok {
				t.Fatal("the covariance is not positive definite")
			}
			want = append(want, normal.LogProb(losses)+onsets[on].logPrior)

			// The departure at the last weigh-in for a z, from the same covariance:
			// regression of the state on the residuals.
			var inverse mat.Cholesky
			if !inverse.Factorize(pure) {
				t.Fatal("no factors")
			}
			last := seen[len(seen)-1]
			cross := mat.NewVecDense(len(seen), nil)
			for i, o := range seen {
				cross.SetVec(i, n.sd*n.part(o.loss-p.start)*math.Pow(o.day/last.day, 1/n.memory))
			}
			var weights mat.VecDense
			if err := inverse.SolveVecTo(&weights, cross); err != nil {
				t.Fatal(err)
			}
			for _, z := range []float64{-1, 0.5} {
				departs := 0.0
				for i := range seen {
					departs += weights.AtVec(i) * (losses[i] - mean[i] - 4*z*gone[i])
				}
				quantitytest.Near(t, fmt.Sprintf("departure of onset %d for z %v", on, z), departs, nd.departs-nd.departsByZ*z, 1e-9)
			}
			quantitytest.Near(t, "its variance", 1-mat.Dot(cross, &weights), f.filter.final, 1e-9)
		}
	}
	for i := range got {
		quantitytest.Near(t, fmt.Sprintf("log weight of node %d over the first", i), want[i]-want[0], got[i]-got[0], 1e-9)
	}
}

// Quantiles of a mixture against those of one normal distribution and of two
// that do not touch (gonum's distuv).
func TestQuantilesAgainstNormal(t *testing.T) {
	t.Parallel()
	one := distuv.Normal{Mu: 20, Sigma: 1.5}
	var w workspace
	got := w.quantiles([]float64{20}, []cell{{weight: 1}}, 1.5)
	for i, p := range tails {
		quantitytest.Near(t, fmt.Sprintf("quantile %v of one", p), one.Quantile(p), got[i], 0.03)
	}
	got = w.quantiles([]float64{10, 50}, []cell{{weight: 0.4}, {weight: 0.6}}, 1)
	for i, p := range tails {
		var want float64
		if p < 0.4 {
			want = distuv.Normal{Mu: 10, Sigma: 1}.Quantile(p / 0.4)
		} else {
			want = distuv.Normal{Mu: 50, Sigma: 1}.Quantile((p - 0.4) / 0.6)
		}
		quantitytest.Near(t, fmt.Sprintf("quantile %v of two", p), want, got[i], 0.15)
	}
	// Without a spread of its own, a mixture's quantiles are those of its values.
	var values []float64
	var cells []cell
	for i := range 1001 {
		values, cells = append(values, float64(i)/10), append(cells, cell{weight: 1.0 / 1001})
	}
	for i, got := range w.quantiles(values, cells, 0) {
		quantitytest.Near(t, fmt.Sprintf("quantile %v of even values", tails[i]), 100*tails[i], got, 0.3)
	}
}

// With many weigh-ins of little error the fit finds the cylinder that they were
// made from, and without any it gives back its prior.
func TestFitFindsTheCylinder(t *testing.T) {
	t.Parallel()
	p := oneAir(prior{logRate: math.Log(0.01), logRateSD: 1, logBiot: math.Log(3), logBiotSD: 1, mostStops: 60}, 44, 4)
	const rate, stops = 0.0065, 41.0
	curve := curvesByBiot()[13]
	var seen []observation
	for day := 1.0; day <= 90; day += 1.5 {
		seen = append(seen, observation{day, stops * curve.at(math.Log(rate*day))})
	}
	post := fit(p, misfit{sd: 0.05, memory: 1, weighing: 0.05}, seen)
	var logRate, logBiot, end, straight float64
	for _, nd := range post.nodes {
		logRate += nd.weight * nd.logRate
		logBiot += nd.weight * curvesByBiot()[nd.curve].logBiot
		if onsets[nd.onset].power == 1 {
			straight += nd.weight
		}
	}
	for _, c := range post.cells {
		end += c.weight * (44 + 4*c.z)
	}
	quantitytest.Near(t, "D/R²", math.Log(rate), logRate, 0.05)
	quantitytest.Near(t, "Biot number", curve.logBiot, logBiot, 0.15)
	quantitytest.Near(t, "end of drying", stops, end, 0.3)
	quantitytest.Near(t, "weight of no slow onset", 1, straight, 1e-3)

	post = fit(p, modelError, nil)
	var mean, second, total float64
	for _, nd := range post.nodes {
		total += nd.weight
		mean += nd.weight * nd.logRate
		second += nd.weight * square(nd.logRate)
	}
	quantitytest.Near(t, "weights", 1, total, 1e-3)
	quantitytest.Near(t, "mean of the prior", p.logRate, mean, 0.02)
	quantitytest.Near(t, "spread of the prior", p.logRateSD, math.Sqrt(second-mean*mean), 0.03)
}

// Pieces drawn from the prior, with departures and weighing errors as the model
// has them: the day of the target must lie in the bands as often as they claim
// (Cook, Gelman and Rubin, Validation of software for Bayesian models using
// posterior quantiles, J. Comput. Graph. Stat. 15(3), 2006). Of 90 draws the
// bands may hold as many as a binomial has in 999 of 1,000 cases.
func TestBandsHoldWhenTheModelIsTrue(t *testing.T) {
	t.Parallel()
	const draws, target = 90, 33.0
	from := rand.New(rand.NewChaCha8([32]byte{7})) //nolint:gosec // draws of a test are to be the same each time
	const end, endSD = 45.0, 3.0
	p := oneAir(prior{logRate: math.Log(0.008), logRateSD: 0.6, logBiot: math.Log(3), logBiotSD: 1, mostStops: 60}, end, endSD)
	n := modelError
	weighed := []float64{2, 5, 9, 14}
	var held [3]int
	told := 0
	for told < draws {
		rate, stops := p.logRate+p.logRateSD*from.NormFloat64(), end+endSD*from.NormFloat64()
		biot := p.logBiot + p.logBiotSD*from.NormFloat64()
		curve := 0
		for i, c := range curvesByBiot() {
			if math.Abs(c.logBiot-biot) < math.Abs(curvesByBiot()[curve].logBiot-biot) {
				curve = i
			}
		}
		on, sum, u := 0, 0.0, from.Float64()
		for on = range onsets {
			if sum += math.Exp(onsets[on].logPrior); u < sum {
				break
			}
		}
		mean := func(day float64) float64 { return stops * curvesByBiot()[curve].at(onsets[on].at(rate+math.Log(day))) }
		// The departure as it goes, day by day.
		state, at := from.NormFloat64(), weighed[0]
		step := func(day float64) float64 {
			carry := n.correlation(at, day)
			state = carry*state + math.Sqrt(1-carry*carry)*from.NormFloat64()
			at = day
			return mean(day) + n.sd*n.part(mean(day))*state
		}
		var seen []observation
		for i, day := range weighed {
			loss := mean(day) + n.sd*n.part(mean(day))*state
			if i > 0 {
				loss = step(day)
			}
			seen = append(seen, observation{day, loss + n.weighing*from.NormFloat64()})
		}
		if seen[len(seen)-1].loss >= target {
			continue // already there, and nothing is foretold
		}
		truth := math.Inf(1)
		for day := at * 1.03; day < horizonDays; day *= 1.03 {
			if step(day) >= target {
				truth = day
				break
			}
		}
		told++
		post := fit(p, n, seen)
		var w writer
		var d Day
		post.tellDay(&w, &d, aim{{target, 1}})
		for i, b := range []struct{ low, high float64 }{
			{inDays(d.P50.Low), inDays(d.P50.High)}, {inDays(d.P80.Low), inDays(d.P80.High)}, {inDays(d.P90.Low), inDays(d.P90.High)},
		} {
			never := inDays(Never)
			if b.low <= truth && (truth <= b.high || b.high == never) {
				held[i]++
			}
		}
	}
	for i, claim := range []float64{0.5, 0.8, 0.9} {
		off := 3.3 * math.Sqrt(claim*(1-claim)*draws)
		quantitytest.Near(t, fmt.Sprintf("%v %% bands that held", 100*claim), claim*draws, float64(held[i]), off)
	}
}

// Where no cell is slow enough for the air that was told, the air is not believed:
// the fit is the one without it, and not none.
func TestFitWithoutACellSlowEnough(t *testing.T) {
	t.Parallel()
	p := oneAir(prior{logRate: math.Log(0.01), logRateSD: 0.6, logBiot: math.Log(3), logBiotSD: 1, mostStops: 60}, 44, 3)
	seen := []observation{{3, 8}, {8, 16}}
	told := fit(p, modelError, seen)
	p.spells = []spell{{stops: 44, stopsSD: 3, rate: 1, fastest: 1e-9}}
	untold := fit(p, modelError, seen)
	want, got := told.moments(20), untold.moments(20)
	quantitytest.Near(t, "mean", want.mean, got.mean, 1e-9)
	quantitytest.Near(t, "spread", want.sd, got.sd, 1e-9)
}
