package quantity

import (
	"math"
	"time"
)

// Loss is what a piece has lost of its green weight. A small gain is a
// measurement and not an error, so it may be negative. It is not above 1: a
// piece can't lose more than it weighed. Zero value: none.
type Loss struct{ fraction float64 }

// LossPercent returns a loss of p percent of the green weight; *RangeError when
// it is more than 100, or not finite.
func LossPercent(p float64) (Loss, error) {
	v, err := bounded("loss", p, math.Inf(-1), 100, "%")
	return Loss{v / 100}, err
}

// LossTo returns the loss of a piece of green weight green that weighs weight
// now; *RangeError when green is not positive, or the loss not finite.
func LossTo(weight, green Mass) (Loss, error) {
	left, err := weight.Over(green)
	if err != nil {
		return Loss{}, err
	}
	return LossPercent(100 * (1 - left.Float()))
}

// MustLossPercent is LossPercent for tables and tests; it panics on an error.
func MustLossPercent(p float64) Loss { return must(LossPercent(p)) }

// Percent returns the loss in percent of the green weight.
func (l Loss) Percent() float64 { return l.fraction * 100 }

// Float returns the loss as a fraction of the green weight.
func (l Loss) Float() float64 { return l.fraction }

// Left returns what a piece of this green weight weighs after the loss.
func (l Loss) Left(green Mass) Mass { return Mass{green.grams * (1 - l.fraction)} }

// Less reports whether l is smaller than m.
func (l Loss) Less(m Loss) bool { return l.fraction < m.fraction }

// Per returns how fast the loss is, when it took this long; *RangeError when
// span is not positive.
func (l Loss) Per(span time.Duration) (LossRate, error) {
	days := span.Hours() / hoursPerDay
	if err := positive("time", days, "days"); err != nil {
		return LossRate{}, err
	}
	return LossPercentPerDay(l.Percent() / days)
}

// Minus returns the difference of two losses, negative for a gain.
func (l Loss) Minus(m Loss) Loss { return Loss{l.fraction - m.fraction} }

// String prints the loss in percent.
func (l Loss) String() string { return format(l.Percent()) + " %" }

// MarshalJSON refuses.
func (Loss) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

const hoursPerDay = 24

// LossRate is how fast a piece loses weight, of its green weight; negative for a
// gain. Zero value: not at all.
type LossRate struct{ percentPerDay float64 }

// LossPercentPerDay returns a rate of r percent of the green weight a day;
// *RangeError when it is not finite.
func LossPercentPerDay(r float64) (LossRate, error) {
	v, err := bounded("loss per day", r, math.Inf(-1), math.Inf(1), "% per day")
	return LossRate{v}, err
}

// PercentPerDay returns the rate in percent of the green weight a day.
func (r LossRate) PercentPerDay() float64 { return r.percentPerDay }

// String prints the rate.
func (r LossRate) String() string { return format(r.percentPerDay) + " % per day" }

// MarshalJSON refuses.
func (LossRate) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Estimate is a quantity that is not known exactly, with the share of cases in
// which the truth is claimed to lie between Low and High. Mid is the median: the
// truth is as likely above as below it. Low is not above Mid, nor Mid above
// High.
type Estimate[T any] struct {
	Low, Mid, High T
	Coverage       Fraction
}
