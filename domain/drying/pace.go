package drying

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// PaceVerdict is how fast a piece dries. The zero value is invalid.
type PaceVerdict int

// The verdicts, from the fastest.
const (
	TooFast      PaceVerdict = iota + 1 // faster than the rim can stand, as practice has it
	Fast                                // faster than comfortable
	Comfortable                         // within what practice has, or not told from it
	Slow                                // slower than that
	Stopped                             // as good as nothing
	PaceNotShown                        // too little was weighed, or the diameter is not known
)

var paceWords = []string{"", "too-fast", "fast", "comfortable", "slow", "stopped", "not-shown"}

// String returns the word used on the wire.
func (v PaceVerdict) String() string { return wordOf(paceWords, int(v)) }

func wordOf(words []string, i int) string {
	if i <= 0 || i >= len(words) {
		return "unstated"
	}
	return words[i]
}

// Pace is how fast a piece dries, held against what is comfortable for one of its
// thickness and age.
type Pace struct {
	Verdict  PaceVerdict
	Measured material.Known[Interval] // between the last weigh-ins that tell something
	Fitted   Band[quantity.LossRate]  // of the 24 hours from now on, by the projection
	Limits   material.Known[Limits]   // not known without a diameter
	Why      string
	Source   source.Citation
}

// Interval is what was lost between two weigh-ins that count.
type Interval struct {
	From, To time.Duration // since hanging
	Rate     quantity.LossRate
	Within   quantity.Between[quantity.LossRate] // in 80 of 100 cases, by what two weighings may be off
}

// Limits are what a piece of a thickness and age is held against.
type Limits struct {
	Slow, Comfortable, TooFast quantity.LossRate
	FirstWeek                  bool
}

// What is comfortable at 55 mm, in points a day: paceSource. After the first week
// the low end of what makes a dry ring in it is too fast.
const (
	slowRate                         = 0.5
	comfortableRate, firstWeekRate   = 1.0, 1.5
	tooFastRate, tooFastInFirstWeek  = 1.5, 2.0
	stoppedRate                      = 0.1 // a point in ten days: a choice of this project
	week                             = 7.0
	thickEnough, thinInFirstWeekRate = 50.0, 5.5
)

// thickness is the power of the diameter that the rates fall with. The air that
// brings a piece of 55 mm its comfortable rate brings one of another diameter so
// much, with the same gap between surface and air: the film on a cylinder goes as
// d^-0.5 (air.FilmConductance at these speeds), and the surface over what is in it
// as d^-1. Ripening times say the same: 35 percent at 35 mm in 30 days and at 55 in
// 60, 30 percent at 80 mm in 75 (Foods 12(4), 727, 2023, table 1), which are 1.2,
// 0.58 and 0.40 a day on the whole.
const thickness = 1.5

// limits returns the limits for the middle of an interval, in points a day.
//
// The slow one falls with the way that is left to where the drying stops, once more
// than half of it is gone: every piece slows down then. Where it stops before the
// target, the way is that to the target: who hangs in too damp an air is slow.
//
// The sign of a dry ring in the first week is told of 50 mm and more. Thinner
// pieces dry faster without one: analysed chorizo lost 5.5 a day in its first two
// days, and 4 in the three after (Foods 9(12), 1813, 2020, table 1; its calibre is
// not in the table). So no lower rate of theirs is called too fast in that week.
func (a *adviser) limits(day, loss float64) (slow, comfortable, tooFast float64) {
	slow, comfortable, tooFast = slowRate*a.scale, comfortableRate*a.scale, tooFastRate*a.scale
	if day < week {
		comfortable, tooFast = firstWeekRate*a.scale, tooFastInFirstWeek*a.scale
		if d, _ := a.order.Diameter.Get(); d.Millimetres() < thickEnough {
			tooFast = math.Max(tooFast, thinInFirstWeekRate)
		}
	}
	if stops := math.Max(a.projection.Stops.Median.Percent(), a.projection.Target.Percent()); stops > 0 {
		slow *= math.Min(math.Max(2*(1-loss/stops), 0), 1)
	}
	return slow, comfortable, tooFast
}

// pace judges the pace by the last interval or, where two weighings tell little of
// it, by the projection.
func (a *adviser) pace() Pace {
	p := a.projection
	out := Pace{Verdict: PaceNotShown, Fitted: p.Now.Rate, Source: paceSource}
	i, there := a.last()
	if there {
		out.Measured = material.Is(Interval{
			From: since(i.from.day), To: since(i.to.day), Rate: a.rate(i.rate),
			Within: quantity.Between[quantity.LossRate]{Low: a.rate(i.rate - cut*i.sd), High: a.rate(i.rate + cut*i.sd)},
		})
	}
	day, loss := inDays(p.Now.Since), p.Now.Loss.Median.Percent()
	if there {
		day, loss = (i.from.day+i.to.day)/2, i.to.loss
	}
	slow, comfortable, tooFast := a.limits(day, loss)
	if a.scaled {
		out.Limits = material.Is(Limits{Slow: a.rate(slow), Comfortable: a.rate(comfortable), TooFast: a.rate(tooFast), FirstWeek: day < week})
	}
	switch {
	case a.sealedUntil > 0:
		out.Why = "The piece is sealed, and does not dry."
		return out
	case !there || !p.Fitted:
		out.Why = "Too little was weighed since hanging to tell the pace: two weigh-ins that count, half a day apart, are the least."
		return out
	case i.rate+cut*i.sd < stoppedRate*a.scale:
		out.Verdict, out.Why = Stopped, fmt.Sprintf("It lost %s in the last %s: as good as nothing.", pointsOf(i.to.loss-i.from.loss), lasting(fromDays(i.days())))
		return out
	case !a.scaled:
		out.Why = "What is comfortable depends on the diameter, which is not given."
		return out
	}
	low, high, by := i.rate-cut*i.sd, i.rate+cut*i.sd, fmt.Sprintf("%.2f %% a day over the last %s, give or take %.2f", spoken(i.rate), lasting(fromDays(i.days())), cut*i.sd)
	if cut*i.sd > comfortable/2 {
		// The scale tells little of so short a time: the fit has all weigh-ins.
		band := p.Now.Rate
		low, high = band.P80.Low.PercentPerDay(), band.P80.High.PercentPerDay()
		by = fmt.Sprintf("%.2f %% a day as fitted, from %.2f to %.2f, because the last weigh-ins are too close to each other", band.Median.PercentPerDay(), low, high)
	}
	out.Verdict, out.Why = a.judgePace(low, high, slow, comfortable, tooFast, by)
	return out
}

func (a *adviser) judgePace(low, high, slow, comfortable, tooFast float64, by string) (PaceVerdict, string) {
	d, _ := a.order.Diameter.Get()
	as := fmt.Sprintf("for %.0f mm at this age practice has", d.Millimetres())
	switch {
	case low > tooFast:
		return TooFast, fmt.Sprintf("It loses %s; %s at most %.2f as comfortable, and more than %.2f as a sign of a dry rim to come.", by, as, comfortable, tooFast)
	case low > comfortable:
		return Fast, fmt.Sprintf("It loses %s; %s at most %.2f as comfortable, and as far as the scale tells not more than the %.2f that are a sign of a dry rim to come.", by, as, comfortable, tooFast)
	case high < slow:
		return Slow, fmt.Sprintf("It loses %s; %s at least %.2f.", by, as, slow)
	default:
		return Comfortable, fmt.Sprintf("It loses %s; %s %.2f to %.2f as comfortable.", by, as, slow, comfortable)
	}
}

func (w *writer) rate(r float64) quantity.LossRate {
	v, err := quantity.LossPercentPerDay(r)
	w.keep(err)
	return v
}

// pointsOf prints a part of the green weight for people.
func pointsOf(p float64) string { return fmt.Sprintf("%.1f %% of the green weight", spoken(p)) }

// spoken is a loss, or its rate, as a sentence has it: a gain is the scale's, and
// nobody loses less than nothing.
func spoken(loss float64) float64 { return math.Max(loss, 0) }
