package main

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// A forecast may say never, or a day beyond all use. Never counts as latest, and
// so does every later day: 20 times the day of the last weigh-in seen, and no
// less than a year, for 20 times a first day may still be a day on which a thick
// piece is ready. The earliest day is a thousandth of that of the last weigh-in.
const (
	latestTimes   = 20
	latestDays    = 365
	earliestTimes = 0.001
)

func latest(last float64) float64 { return math.Max(latestTimes*last, latestDays) }

// score says how far a forecast was off in one case.
type score struct {
	Relative float64 // of the median: (told - true) / true
	Log      float64 // of the median: ln(told / true)
	CRPS     float64 // of the distribution on ln(day)
	Never    bool    // the median is never, or there is no answer
	Refused  bool    // there is no answer
	Spread   bool    // there is a distribution; the rest is of it
	Inside   [3]bool // whether the truth is in the 50, 80 and 90 percent band
	Width    float64 // of the 80 percent band over the true day
	PIT      float64 // probability given to days up to the true one
}

// judge scores a forecast made when the last weigh-in was at day last.
func judge(f forecast, truth, last float64) score {
	within := func(day float64) float64 { return math.Min(math.Max(day, earliestTimes*last), latest(last)) }
	told := within(f.Median)
	s := score{
		Relative: (told - truth) / truth,
		Log:      math.Log(told / truth),
		Never:    math.IsInf(f.Median, 1),
		Refused:  f.Refused != "",
	}
	if f.Bands == nil {
		s.CRPS = math.Abs(s.Log) // a distribution of one point
		return s
	}
	s.Spread = true
	for i, b := range f.Bands {
		s.Inside[i] = b.Low <= truth && truth <= b.High
	}
	s.Width = (within(f.Bands[1].High) - within(f.Bands[1].Low)) / truth
	logs := make([]float64, len(f.Quantiles))
	for i, q := range f.Quantiles {
		logs[i] = math.Log(within(q))
		if q <= truth {
			s.PIT += 1 / float64(len(f.Quantiles))
		}
	}
	s.CRPS = crps(logs, math.Log(truth))
	return s
}

// crps returns the continuous ranked probability score of a distribution, of
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
func crps(quantiles []float64, y float64) float64 {
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

// interval is a confidence interval of 95 percent.
type interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

const confidence = 0.95

// wilson returns the interval of Wilson for a share of which hits of n cases are
// known. It takes the cases as independent. Sources: Wilson, Probable inference,
// the law of succession, and statistical inference, Journal of the American
// Statistical Association 22, 1927, 209-212; Brown, Cai and DasGupta, Interval
// estimation for a binomial proportion, Statistical Science 16, 2001, 101-133,
// equation 4 (both recalled).
func wilson(hits, n int) interval {
	z := distuv.UnitNormal.Quantile((1 + confidence) / 2)
	cases := float64(n)
	p := float64(hits) / cases
	centre := (p + z*z/(2*cases)) / (1 + z*z/cases)
	half := z / (1 + z*z/cases) * math.Sqrt(p*(1-p)/cases+z*z/(4*cases*cases))
	return interval{math.Max(centre-half, 0), math.Min(centre+half, 1)}
}

// Draws of the bootstrap, and the seed that makes them the same in each run.
const (
	draws = 2000
	seed  = 1977
)

// bootstrap returns the interval between the 2.5 and 97.5 percent quantiles of
//
//	sum of over / sum of under
//
// when whole studies are drawn with replacement, as many as there are; member i
// of each slice is the sum of study i. Cases of one study are alike, so that
// this and not the count of cases tells how much is known. It is nil for fewer
// than two studies, about which it says nothing, and where the ratio is not
// finite. With few studies it is too narrow.
func bootstrap(over, under []float64) *interval {
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
	return &interval{quantile(ratios, (1-confidence)/2), quantile(ratios, (1+confidence)/2)}
}

// quantile returns the quantile at p of ordered values, linear between them with
// the first at 0 and the last at 1, so that the one at a half is the median that
// everybody knows. (The linear quantile of gonum begins at 1/n.) NaN for none.
func quantile(ordered []float64, p float64) float64 {
	if len(ordered) == 0 {
		return math.NaN()
	}
	at := p * float64(len(ordered)-1)
	i := min(int(at), len(ordered)-1)
	j := min(i+1, len(ordered)-1)
	return ordered[i] + (at-float64(i))*(ordered[j]-ordered[i])
}
