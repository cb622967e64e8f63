package acidity

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"greenweight/integration/backtest/scoring"
)

// baseline is a simple method: fitted to the readings seen, it tells the hour at
// which the target is reached, in the time of the clock whatever the warmth.
type baseline struct {
	name string
	// hour returns the hour, +Inf for never. seen has at least two readings, the
	// last above the target.
	hour func(seen []reading) (float64, error)
}

// straightLine is the baseline that the others' scores are divided by: what a
// maker does with a ruler.
const straightLine = "line through the last two"

// baselines are the methods, in the order of the tables.
func baselines() []baseline {
	return []baseline{{straightLine, lineHour}, {"line through all", regressionHour}, {"Gompertz", gompertzHour}}
}

// lineHour goes on along the line through the last two readings.
func lineHour(seen []reading) (float64, error) {
	before, last := seen[len(seen)-2], seen[len(seen)-1]
	return onward(last, (last.ph-before.ph)/(last.hour-before.hour)), nil
}

// onward returns when a line through a point is at the target; never where it
// does not fall.
func onward(from reading, slope float64) float64 {
	const level = 1e-9 // readings that are the same to the last bits
	if !(slope < -level) {
		return math.Inf(1)
	}
	return from.hour + (target-from.ph)/slope
}

// regressionHour fits a straight line to all readings by least squares. Where it
// is below the target already the answer is the last reading: it was above.
func regressionHour(seen []reading) (float64, error) {
	hours, values := columns(seen)
	ph, slope := stat.LinearRegression(hours, values, nil, false)
	return math.Max(onward(reading{0, ph}, slope), seen[len(seen)-1].hour), nil
}

func columns(seen []reading) (hours, values []float64) {
	for _, r := range seen {
		hours, values = append(hours, r.hour), append(values, r.ph)
	}
	return hours, values
}

// usualDrop is how far the pH comes down where only its start is known. Common
// practice; from 5.8 to 4.7.
const usualDrop = 1.1

// gompertzHour fits by least squares the lag and the steepest fall m of
//
//	pH(t) = pH0 - A exp(-exp(m e/A (lag - t) + 1))
//
// with pH0 the first reading and A usualDrop, which readings above the target
// can't tell, and returns
//
//	t = lag + A/(m e) (1 - ln(-ln((pH0 - 5.3)/A)))
//
// It is never where the drop is too small. Source: Zwietering and others,
// Modeling of the bacterial growth curve, Applied and Environmental Microbiology
// 56, 1990, 1875-1881 (recalled).
func gompertzHour(seen []reading) (float64, error) {
	first, last := seen[0], seen[len(seen)-1]
	part := (first.ph - target) / usualDrop
	if !(part > 0 && part < 1) {
		return math.Inf(1), nil
	}
	const startFall = 0.05 // pH/h
	best, err := scoring.Least([]float64{math.Log(startFall), last.hour / 2}, func(x []float64) float64 {
		fall, sum := math.Exp(x[0]), 0.0
		for _, r := range seen {
			off := r.ph - first.ph + usualDrop*math.Exp(-math.Exp(fall*math.E/usualDrop*(x[1]-r.hour)+1))
			sum += off * off
		}
		return sum
	})
	if err != nil {
		return 0, err
	}
	fall := math.Exp(best[0])
	return math.Max(best[1]+usualDrop/(fall*math.E)*(1-math.Log(-math.Log(part))), last.hour), nil
}
