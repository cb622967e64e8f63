package acidity

import (
	"math"
	"slices"
	"sort"

	"greenweight/integration/backtest/scoring"
)

// A forecast may say never, or an hour beyond all use. Never counts as latest,
// and so does every later hour: ten days, or four times the hour of the last
// reading where that is later. The earliest hour is a quarter.
const (
	latestHours = horizon
	latestTimes = 4
	earliest    = 0.25
)

func latest(last float64) float64 { return math.Max(latestTimes*last, latestHours) }

// score says how far a forecast was off in one case.
type score struct {
	Asked bool // the method answers such a question at all; the rest is nothing where it does not

	Reached  bool    // the course comes down, by an hour that is known
	Told     bool    // the forecast tells an hour, not never
	Off      float64 // of the hour told, h: how far after the truth, or after the end of its interval, or, negative, before; 0 inside it
	OffPoint float64 // told less the Point of the truth, h

	Spread   bool       // there is a distribution; the next three are of it
	Held     [3]float64 // 1 where the 50, 80 and 90 percent band holds the truth, 0 where not; a part where only an interval is known
	PIT      band       // probability given to the hours up to the truth, or up to both ends of its interval
	Width    float64    // of the 80 percent band, h
	HasCRPS  bool       // not where the course never comes down
	CRPS     float64    // h, given that it comes down
	LogCRPS  float64    // the same of ln(hour)
	HasNever bool       // it is known whether the course ever comes down
	Never    float64    // probability given to never
	Brier    float64
	Log      float64
}

// surest is the least and, less one, the greatest probability of never that the
// logarithmic score takes: without it one sure error would outweigh all.
const surest = 0.01

// judge scores a forecast made when the last reading was at hour last.
func judge(f forecast, t truth, last float64) score {
	if f.NotAsked {
		return score{}
	}
	within := func(hour float64) float64 { return math.Min(math.Max(hour, earliest), latest(last)) }
	s := score{
		Asked: true, Reached: !math.IsInf(t.By, 1) && !t.Never, Told: !math.IsInf(f.Median, 1),
		HasNever: t.Never || !math.IsInf(t.By, 1), Never: f.Never,
	}
	told := within(f.Median)
	if s.Reached {
		s.Off = told - math.Min(math.Max(told, t.After), t.By)
		s.OffPoint = told - t.Point
	}
	if s.HasNever {
		came, p := 1.0, math.Min(math.Max(f.Never, surest), 1-surest)
		if t.Never {
			came, p = 0, 1-p
		}
		s.Brier = (1 - came - f.Never) * (1 - came - f.Never)
		s.Log = -math.Log(1 - p)
	}
	quantiles := f.given()
	if s.HasCRPS = !t.Never; s.HasCRPS {
		hours, logs := make([]float64, len(quantiles)), make([]float64, len(quantiles))
		for i, q := range quantiles {
			hours[i] = within(q)
			logs[i] = math.Log(hours[i])
		}
		after, by := within(t.After), within(t.By)
		s.CRPS = crpsApart(hours, after, by)
		s.LogCRPS = crpsApart(logs, math.Log(after), math.Log(by))
	}
	if f.Bands == nil {
		return s
	}
	s.Spread = true
	s.Width = within(f.Bands[1].High) - within(f.Bands[1].Low)
	s.PIT = f.pit(t)
	for i, share := range scoring.Shares() {
		if t.exact() {
			s.Held[i] = float64(count(f.Bands[i].Low <= t.Point && t.Point <= f.Bands[i].High))
		} else {
			s.Held[i] = s.PIT.part(band{(1 - share) / 2, (1 + share) / 2})
		}
	}
	return s
}

// given returns the quantiles of the distribution on the condition that the
// target is reached, which are those that are hours: the chance of never has
// scores of its own. Of a forecast that has no hour, and of a bare one, it is
// what is told.
func (f forecast) given() []float64 {
	if n, _ := slices.BinarySearch(f.Quantiles, math.Inf(1)); n > 0 {
		return f.Quantiles[:n]
	}
	return []float64{f.Median}
}

// crpsApart returns the continuous ranked probability score of a distribution by
// its quantiles, in order, as scoring.CRPS does, where the truth is known to lie
// after one value and by another: the squared error of the probability given to
// each threshold, less those between, of which nobody knows on which side of the
// truth they are,
//
//	∫ F² dx up to after  +  ∫ (1 - F)² dx from by on
//
// It is the threshold-weighted score with no weight between, and as proper.
// Source: Gneiting and Ranjan, Comparing density forecasts using threshold- and
// quantile-weighted scoring rules, Journal of Business and Economic Statistics
// 29, 2011, 411-422 (recalled).
func crpsApart(quantiles []float64, after, by float64) float64 {
	sum, n := 0.0, float64(len(quantiles))
	for i, q := range quantiles {
		// F is (i+1)/n from this quantile to the next, and i/n before it.
		f := float64(i+1) / n
		next := math.Inf(1)
		if i+1 < len(quantiles) {
			next = quantiles[i+1]
		}
		sum += f * f * math.Max(math.Min(next, after)-q, 0)
		if f < 1 {
			sum += (1 - f) * (1 - f) * math.Max(next-math.Max(q, by), 0)
		}
	}
	return sum + math.Max(quantiles[0]-by, 0)
}

// pit returns the probability that the forecast gives to the hours up to the
// truth, and, where that is known only to lie after one hour and by another, up
// to both. What is given to never lies above all hours.
func (f forecast) pit(t truth) band {
	if t.Never {
		return band{1 - f.Never, 1}
	}
	b := band{f.before(t.After), 1}
	if !math.IsInf(t.By, 1) {
		b.High = f.before(t.By)
	}
	return b
}

// before returns the probability given to the hours up to one.
func (f forecast) before(hour float64) float64 {
	n := sort.Search(len(f.Quantiles), func(i int) bool { return f.Quantiles[i] > hour })
	return float64(n) / float64(len(f.Quantiles))
}

// part returns how much of b lies in another band: 0 or 1 where b is a point.
// When the forecast is right, the truth falls anywhere between the ends of its
// interval as the forecast says, so that the mean of these parts is the claim of
// the band. Source: Czado, Gneiting and Held, Predictive model assessment for
// count data, Biometrics 65, 2009, 1254-1261 (recalled), for the interval in
// place of a random point of it.
func (b band) part(other band) float64 {
	low, high := math.Max(b.Low, other.Low), math.Min(b.High, other.High)
	const point = 1e-9
	if b.High-b.Low < point {
		return float64(count(low <= high+point))
	}
	return math.Max(high-low, 0) / (b.High - b.Low)
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

// ordered returns a sorted copy.
func ordered(values []float64) []float64 {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	return sorted
}
