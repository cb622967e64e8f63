package api

import (
	"math"
	"time"

	"greenweight/api/drawing"
	"greenweight/domain/acidification"
	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
)

// acidChart returns the chart of a projection of the pH, with the limit that
// counts: of the rule that decides, or the first that is reached. Over gaps the
// chamber is drawn as degree-hours take it.
func acidChart(o acidification.Order, p acidification.Projection, gaps []fermentation.Gap, u units) drawing.Acidification {
	first := p.To[0]
	degrees, scale := quantity.Temperature.Celsius, drawing.Celsius
	if u.us {
		degrees, scale = quantity.Temperature.Fahrenheit, drawing.Fahrenheit
	}
	last := p.Course[len(p.Course)-1].At
	chart := drawing.Acidification{
		Outcome: acidOutcome(first.Outcome), Scale: scale, PH: first.PH.Float(), Now: p.Now.Hours(),
		Chamber: chamberAhead(o, gaps, ruleScale{degrees: degrees}, last),
	}
	if o.Target != (quantity.PH{}) && o.Target != first.PH {
		chart.Target = pointerTo(o.Target.Float())
	}
	for _, r := range p.Readings {
		chart.Readings = append(chart.Readings, drawing.PHPoint{
			Hours: r.At.Hours(), PH: r.PH.Float(), Off: phSpan(r.Within), Doubtful: r.Doubt != "",
		})
	}
	for _, at := range p.Course {
		chart.Course = append(chart.Course, drawing.AcidPoint{
			Hours: at.At.Hours(), Median: at.PH.Median.Float(), P50: phSpan(at.PH.P50), P80: phSpan(at.PH.P80), P90: phSpan(at.PH.P90),
			Core: degrees(at.Core),
		})
	}
	if first.Outcome == acidification.AlreadyThere {
		chart.Read = math.Max(p.Readings[first.Reading].At.Hours(), 0)
	} else {
		chart.Time = &drawing.TargetTime{
			Median: hoursOrInfinity(first.Median), P50: hourSpan(first.P50), P80: hourSpan(first.P80), P90: hourSpan(first.P90),
		}
	}
	limit := acidification.Never
	for _, l := range first.Limits {
		if p.Deciding == "" || l.Set.ID == p.Deciding {
			limit = min(limit, l.Reached)
		}
	}
	if limit != acidification.Never && (chart.Time != nil || limit.Hours() < chart.Read) { // acid stops the clock
		chart.Limit = pointerTo(limit.Hours())
	}
	return chart
}

// chamberAhead returns the temperatures of an order, so far and to come, the last
// held until an hour at least.
func chamberAhead(o acidification.Order, gaps []fermentation.Gap, in ruleScale, until time.Duration) []drawing.Reading {
	readings := chamberOf(o.Course, gaps, in)
	end := 0.0
	if n := len(readings); n > 0 {
		end = readings[n-1].Hours
	}
	for _, r := range chamberOf(fermentation.Course{Steps: o.Ahead}, nil, in) {
		readings = append(readings, drawing.Reading{Hours: end + r.Hours, Temperature: r.Temperature})
	}
	last := readings[len(readings)-1]
	return append(readings, drawing.Reading{Hours: math.Max(last.Hours, until.Hours()), Temperature: last.Temperature})
}

func acidOutcome(o acidification.Outcome) drawing.AcidOutcome {
	switch o {
	case acidification.Projected:
		return drawing.AcidProjected
	case acidification.AlreadyThere:
		return drawing.AcidThere
	case acidification.MayNotReach:
		return drawing.AcidMayNotReach
	case acidification.WillNotReach:
		return drawing.AcidWillNotReach
	}
	return 0
}

// hoursOrInfinity returns a time in hours, infinity for one that does not come.
func hoursOrInfinity(d time.Duration) float64 {
	if d == acidification.Never {
		return math.Inf(1)
	}
	return d.Hours()
}

func phSpan(b quantity.Between[quantity.PH]) drawing.Span {
	return drawing.Span{Low: b.Low.Float(), High: b.High.Float()}
}

func hourSpan(b quantity.Between[time.Duration]) drawing.Span {
	return drawing.Span{Low: hoursOrInfinity(b.Low), High: hoursOrInfinity(b.High)}
}
