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

// The weights of two cells by the filter against the density of a normal
// distribution in as many dimensions as there are weigh-ins, whose covariance is
// written down from the definition of a misfit (gonum's distmv).
func TestWeightsAgainstMultivariateNormal(t *testing.T) {
	t.Parallel()
	n := misfit{sd: 2.2, memory: 1.3, weighing: 0.8}
	seen := []observation{{1.5, 4}, {3, 8.5}, {7, 15}, {7.5, 15.2}, {20, 27}}
	p := prior{logRate: math.Log(0.007), logRateSD: 1e9, logBiot: 1, logBiotSD: 1e9, stops: 44, stopsSD: 1e9, mostStops: 60, start: 1}
	post := posterior{prior: p, noise: n}
	rates, stops := []float64{math.Log(0.006), math.Log(0.008)}, []float64{42, 46}
	const curve = 12
	post.weigh([]int{curve}, rates, stops, seen)

	covariance := mat.NewSymDense(len(seen), nil)
	for i, a := range seen {
		for j, b := range seen[:i+1] {
			c := n.sd * n.sd * n.part(a.loss-p.start) * n.part(b.loss-p.start) * math.Pow(b.day/a.day, 1/n.memory)
			if i == j {
				c += n.weighing * n.weighing
			}
			covariance.SetSym(i, j, c)
		}
	}
	losses := make([]float64, len(seen))
	for i, o := range seen {
		losses[i] = o.loss
	}
	logs := make([]float64, 0, len(post.cells))
	for _, c := range post.cells {
		mean := make([]float64, len(seen))
		for i, o := range seen {
			mean[i] = p.start + (c.stops-p.start)*curvesByBiot()[curve].at(onsets[c.onset].at(c.logRate+math.Log(o.day)))
		}
		normal, ok := distmv.NewNormal(mean, covariance, nil)
		if !ok {
			t.Fatal("the covariance is not positive definite")
		}
		logs = append(logs, normal.LogProb(losses)+onsets[c.onset].logPrior)
	}
	if len(logs) < 4 {
		t.Fatalf("want several cells with weight, got %d", len(logs))
	}
	for i := range logs {
		want := logs[i] - logs[0]
		got := math.Log(post.cells[i].weight / post.cells[0].weight)
		quantitytest.Near(t, fmt.Sprintf("log weight of cell %d over the first", i), want, got, 1e-9)
	}
	// The departure at the last weigh-in, from the same covariance: regression of
	// the state on the residuals.
	var inverse mat.Cholesky
	if !inverse.Factorize(covariance) {
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
	for k, c := range post.cells {
		want := 0.0
		for i, o := range seen {
			want += weights.AtVec(i) * (o.loss - p.start - (c.stops-p.start)*curvesByBiot()[curve].at(onsets[c.onset].at(c.logRate+math.Log(o.day))))
		}
		quantitytest.Near(t, fmt.Sprintf("departure of cell %d", k), want, c.offset, 1e-9)
	}
	quantitytest.Near(t, "its variance", 1-mat.Dot(cross, &weights), post.variance, 1e-9)
}

// Quantiles of a mixture against those of one normal distribution and of two
// that do not touch (gonum's distuv).
func TestQuantilesAgainstNormal(t *testing.T) {
	t.Parallel()
	one := distuv.Normal{Mu: 20, Sigma: 1.5}
	m := mixture{values: []float64{20}, weights: []float64{1}}
	got := m.quantiles(1.5)
	for i, p := range tails {
		quantitytest.Near(t, fmt.Sprintf("quantile %v of one", p), one.Quantile(p), got[i], 0.03)
	}
	m = mixture{values: []float64{10, 50}, weights: []float64{0.4, 0.6}}
	got = m.quantiles(1)
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
	m = mixture{}
	for i := range 1001 {
		m.add(float64(i)/10, 1.0/1001)
	}
	for i, got := range m.quantiles(0) {
		quantitytest.Near(t, fmt.Sprintf("quantile %v of even values", tails[i]), 100*tails[i], got, 0.3)
	}
}

// With many weigh-ins of little error the fit finds the cylinder that they were
// made from, and without any it gives back its prior.
func TestFitFindsTheCylinder(t *testing.T) {
	t.Parallel()
	p := prior{logRate: math.Log(0.01), logRateSD: 1, logBiot: math.Log(3), logBiotSD: 1, stops: 44, stopsSD: 4, mostStops: 60}
	const rate, stops = 0.0065, 41.0
	curve := curvesByBiot()[13]
	var seen []observation
	for day := 1.0; day <= 90; day += 1.5 {
		seen = append(seen, observation{day, stops * curve.at(math.Log(rate*day))})
	}
	post := fit(p, misfit{sd: 0.05, memory: 1, weighing: 0.05}, seen)
	var logRate, logBiot, end, straight float64
	for _, c := range post.cells {
		logRate += c.weight * c.logRate
		logBiot += c.weight * curvesByBiot()[c.curve].logBiot
		end += c.weight * c.stops
		if onsets[c.onset].power == 1 {
			straight += c.weight
		}
	}
	quantitytest.Near(t, "D/R²", math.Log(rate), logRate, 0.05)
	quantitytest.Near(t, "Biot number", curve.logBiot, logBiot, 0.15)
	quantitytest.Near(t, "end of drying", stops, end, 0.3)
	quantitytest.Near(t, "weight of no slow onset", 1, straight, 1e-3)

	post = fit(p, modelError, nil)
	var mean, second, total float64
	for _, c := range post.cells {
		total += c.weight
		mean += c.weight * c.logRate
		second += c.weight * square(c.logRate)
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
	p := prior{logRate: math.Log(0.008), logRateSD: 0.6, logBiot: math.Log(3), logBiotSD: 1, stops: 45, stopsSD: 3, mostStops: 60}
	n := modelError
	weighed := []float64{2, 5, 9, 14}
	var held [3]int
	told := 0
	for told < draws {
		rate, stops := p.logRate+p.logRateSD*from.NormFloat64(), p.stops+p.stopsSD*from.NormFloat64()
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
		post.tellDay(&w, &d, target)
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
	p := prior{logRate: math.Log(0.01), logRateSD: 0.6, logBiot: math.Log(3), logBiotSD: 1, stops: 44, stopsSD: 3, mostStops: 60}
	seen := []observation{{3, 8}, {8, 16}}
	told := fit(p, modelError, seen)
	p.fastest = 1e-9
	untold := fit(p, modelError, seen)
	want, got := told.moments(20), untold.moments(20)
	quantitytest.Near(t, "mean", want.mean, got.mean, 1e-9)
	quantitytest.Near(t, "spread", want.sd, got.sd, 1e-9)
}
