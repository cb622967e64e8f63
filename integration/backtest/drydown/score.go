package drydown

import (
	"math"

	"greenweight/integration/backtest/scoring"
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
	Before   bool    // the truth is before the 80 percent band
	After    bool    // or after it
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
	s.Before, s.After = truth < f.Bands[1].Low, truth > f.Bands[1].High
	s.Width = (within(f.Bands[1].High) - within(f.Bands[1].Low)) / truth
	logs := make([]float64, len(f.Quantiles))
	for i, q := range f.Quantiles {
		logs[i] = math.Log(within(q))
		if q <= truth {
			s.PIT += 1 / float64(len(f.Quantiles))
		}
	}
	s.CRPS = scoring.CRPS(logs, math.Log(truth))
	return s
}

// missed is the size of the relative error. Never is as bad as a day that is off
// by the whole time, for all models alike.
func (s score) missed() float64 {
	if s.Never {
		return 1
	}
	return math.Abs(s.Relative)
}
