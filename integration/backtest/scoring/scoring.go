// Package scoring holds the scores of forecasts that the backtests share, and how
// far a score may be off.
package scoring

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat/distuv"
)

// Levels is how many quantiles stand for a distribution: enough that its score
// is exact to four digits.
const Levels = 400

// Level returns the probability that quantile i of Levels stands for.
func Level(i int) float64 { return (float64(i) + 0.5) / Levels }

// Shares are the claims of the three bands of a forecast.
func Shares() [3]float64 { return [3]float64{0.5, 0.8, 0.9} }

// CRPS returns the continuous ranked probability score of a distribution, of
// which quantiles holds those at the middles of equal parts of the probability:
//
//	CRPS = 2 ∫ (1{y <= q(p)} - p) (q(p) - y) dp, p from 0 to 1
//
// It is the mean over all thresholds of the squared error of the probability
// given to each, smaller is better, and |q - y| for a single point. The sum over
// the middles is exact for the distribution that has the same mass at each
// quantile. Sources: Gneiting and Raftery, Strictly proper scoring rules,
// prediction and estimation, Journal of the American Statistical Association
// 102, 2007, 359-378; Laio and Tamea, Verification tools for probabilistic
// forecasts of continuous hydrological variables, Hydrology and Earth System
// Sciences 11, 2007, 1267-1277, for the integral over quantiles (both recalled).
func CRPS(quantiles []float64, y float64) float64 {
	n := float64(len(quantiles))
	sum := 0.0
	for i, q := range quantiles {
		p := (float64(i) + 0.5) / n
		if y <= q {
			p--
		}
		sum += 2 * p * (y - q) / n
	}
	return sum
}

// Interval is a confidence interval of 95 percent.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

const confidence = 0.95

// Wilson returns the interval of Wilson for a share of which hits of n cases are
// known. It takes the cases as independent. Sources: Wilson, Probable inference,
// the law of succession, and statistical inference, Journal of the American
// Statistical Association 22, 1927, 209-212; Brown, Cai and DasGupta, Interval
// estimation for a binomial proportion, Statistical Science 16, 2001, 101-133,
// equation 4 (both recalled).
func Wilson(hits, n int) Interval {
	z := distuv.UnitNormal.Quantile((1 + confidence) / 2)
	cases := float64(n)
	p := float64(hits) / cases
	centre := (p + z*z/(2*cases)) / (1 + z*z/cases)
	half := z / (1 + z*z/cases) * math.Sqrt(p*(1-p)/cases+z*z/(4*cases*cases))
	return Interval{math.Max(centre-half, 0), math.Min(centre+half, 1)}
}

// Draws of the bootstrap, and the seed that makes them the same in each run.
const (
	draws = 2000
	seed  = 1977
)

// Bootstrap returns the interval between the 2.5 and 97.5 percent quantiles of
//
//	sum of over / sum of under
//
// when whole studies are drawn with replacement, as many as there are; member i
// of each slice is the sum of study i. Cases of one study are alike, so that
// this and not the count of cases tells how much is known. It is nil for fewer
// than two studies, about which it says nothing, and where the ratio is not
// finite. With few studies it is too narrow.
func Bootstrap(over, under []float64) *Interval {
	if len(over) < 2 {
		return nil
	}
	random := rand.New(rand.NewPCG(seed, seed)) //nolint:gosec // a fixed seed is meant: the same tables in each run
	ratios := make([]float64, 0, draws)
	for range draws {
		a, b := 0.0, 0.0
		for range over {
			i := random.IntN(len(over))
			a += over[i]
			b += under[i]
		}
		if b == 0 {
			return nil
		}
		ratios = append(ratios, a/b)
	}
	slices.Sort(ratios)
	return &Interval{Quantile(ratios, (1-confidence)/2), Quantile(ratios, (1+confidence)/2)}
}

// Quantile returns the quantile at p of ordered values, linear between them with
// the first at 0 and the last at 1, so that the one at a half is the median that
// everybody knows. (The linear quantile of gonum begins at 1/n.) NaN for none.
func Quantile(ordered []float64, p float64) float64 {
	if len(ordered) == 0 {
		return math.NaN()
	}
	at := p * float64(len(ordered)-1)
	i := min(int(at), len(ordered)-1)
	j := min(i+1, len(ordered)-1)
	return ordered[i] + (at-float64(i))*(ordered[j]-ordered[i])
}

// Uniformity returns how far the probabilities that forecasts gave to what came
// are from being spread evenly, as those of a calibrated forecaster are, and how
// far chance alone takes them: the root of the mean square distance of their
// distribution from the even one, and its expectation (of the square)
//
//	∫ (Fn(u) - u)² du = 1/(12 n²) + 1/n Σ ((2i - 1)/(2n) - u(i))²,  expected 1/(6 n)
//
// 0 is even, 0.58 all at one end. It takes the cases as independent: where
// several are of one series, chance takes it further. It is the statistic of
// Cramér and von Mises over n (Anderson and Darling, Asymptotic theory of certain
// goodness of fit criteria, Annals of Mathematical Statistics 23, 1952, 193-212,
// recalled). NaN for none.
func Uniformity(given []float64) (distance, byChance float64) {
	n := float64(len(given))
	ordered := slices.Sorted(slices.Values(given))
	sum := 1 / (12 * n * n)
	for i, u := range ordered {
		off := (2*float64(i)+1)/(2*n) - u
		sum += off * off / n
	}
	return math.Sqrt(sum), math.Sqrt(1 / (6 * n))
}

// Least returns where f is least, searched from start with the simplex of Nelder
// and Mead until nothing is gained in 60 steps, at most 4000 calls.
func Least(start []float64, f func([]float64) float64) ([]float64, error) {
	const (
		gain, patience, mostCalls, step = 1e-15, 60, 4000, 0.1
	)
	result, err := optimize.Minimize(optimize.Problem{Func: f}, start, &optimize.Settings{
		FuncEvaluations: mostCalls,
		Converger:       &optimize.FunctionConverge{Absolute: gain, Iterations: patience},
	}, &optimize.NelderMead{SimplexSize: step})
	if err != nil {
		return nil, err
	}
	return result.X, nil
}
