package api

import (
	"bytes"
	"cmp"
	"errors"
	"io"
	"math"
	"slices"
	"time"

	"greenweight/api/drawing"
	"greenweight/domain/acidification"
	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// draw writes a chart to memory. What has an answer and yet can't be drawn, such
// as a piece that hangs for a hundred years, is an OutsideModel fault.
func draw(write func(io.Writer) error) (*bytes.Buffer, error) {
	var picture bytes.Buffer
	if err := write(&picture); err != nil {
		if errors.Is(err, drawing.ErrUndrawable) {
			return nil, &fault.Error{
				Kind: fault.OutsideModel, Code: "undrawable", Detail: err.Error() + "; the answer can be had as " + mediaTypeJSON,
			}
		}
		return nil, err
	}
	return &picture, nil
}

// degreeHoursChart returns the chart of the rule that decides, or where none
// does, of the stricter one.
func degreeHoursChart(c fermentation.Course, e fermentation.Exposure) drawing.DegreeHours {
	i := drawnSum(e)
	s := e.Sums[i]
	in := scaleOf(s.Set.Scale)
	chart := drawing.DegreeHours{
		Rule: in.rule, State: stateOf(e, s), Scale: in.scale, Base: in.degrees(s.Set.Base), Limit: in.sum(s.Class.Limit),
		Chamber: chamberOf(c, e.Gaps, in),
	}
	for _, g := range e.Gaps {
		chart.Gaps = append(chart.Gaps, drawing.Gap{From: g.From.Hours(), To: g.To.Hours()})
	}
	if start := e.Clock.Start.Hours(); e.Clock.Counted > e.Clock.Start { // at the start nothing has been counted
		chart.Sum, chart.Range = []drawing.SumPoint{{Hours: start}}, []drawing.RangePoint{{Hours: start}}
	}
	for _, at := range coursesSoFar(c, e.Clock.Counted) {
		sum := at.exposure.Sums[i]
		chart.Sum = append(chart.Sum, drawing.SumPoint{Hours: at.end.Hours(), DegreeHours: in.sum(sum.DegreeHours)})
		chart.Range = append(chart.Range, drawing.RangePoint{Hours: at.end.Hours(), Low: in.sum(sum.Range.Low), High: in.sum(sum.Range.High)})
	}
	end := e.Clock.Counted.Hours()
	chart.Sum = append(chart.Sum, drawing.SumPoint{Hours: end, DegreeHours: in.sum(s.DegreeHours)})
	chart.Range = append(chart.Range, drawing.RangePoint{Hours: end, Low: in.sum(s.Range.Low), High: in.sum(s.Range.High)})
	if e.Clock.Ended() {
		chart.PH = &drawing.PHMark{Target: s.Set.TargetPH.Float(), PH: c.PHReadings[e.Clock.Reading].PH.Float(), ReadHours: e.Clock.End.Hours()}
		if e.Clock.Estimated != nil {
			chart.PH.CrossedHours = pointerTo(e.Clock.Estimated.Hours())
		}
	}
	if left := s.AtPresent; left != nil && left.Left != nil && s.ReachedAt == nil {
		chart.RunOn = &drawing.RunOn{Temperature: in.degrees(left.Temperature), LimitHours: end + left.Left.Hours()}
	}
	return chart
}

// drawnSum returns the index of the sum by the rule that decides or, where none
// does, by the stricter one.
func drawnSum(e fermentation.Exposure) int {
	return slices.IndexFunc(e.Sums, func(s fermentation.Sum) bool { return s.Set.ID == cmp.Or(e.Deciding, e.Stricter) })
}

// sumPanel returns the degree-hours by the rule that degreeHoursChart would draw,
// as a part of the chart of a projection: what they come to along the
// temperatures ahead, up to the limit where that is reached.
func sumPanel(e fermentation.Exposure, o acidification.Order, p acidification.Projection) *drawing.SumPanel {
	whole := degreeHoursChart(o.Course, e)
	panel := drawing.SumPanel{Scale: whole.Scale, Base: whole.Base, Limit: whole.Limit, State: whole.State, Sum: whole.Sum, Range: whole.Range, Gaps: whole.Gaps}
	i := drawnSum(e)
	if len(p.To[0].Limits) <= i || e.Clock.Ended() {
		return &panel
	}
	s, limit := e.Sums[i], p.To[0].Limits[i]
	in := scaleOf(s.Set.Scale)
	at := e.Clock.Counted
	panel.Ahead = append(panel.Ahead, panel.Sum[len(panel.Sum)-1])
	for k, sum := range s.Ahead(o.Ahead) {
		if at += o.Ahead[k].Span; at >= limit.Reached {
			break
		}
		panel.Ahead = append(panel.Ahead, drawing.SumPoint{Hours: at.Hours(), DegreeHours: in.sum(sum)})
	}
	if limit.Reached != acidification.Never {
		panel.Ahead = append(panel.Ahead, drawing.SumPoint{Hours: limit.Reached.Hours(), DegreeHours: in.sum(s.Class.Limit)})
	}
	return &panel
}

// ruleScale reads quantities in the scale of a rule, for its chart.
type ruleScale struct {
	scale   drawing.Scale
	rule    string
	degrees func(quantity.Temperature) float64
	sum     func(quantity.DegreeHours) float64
}

func scaleOf(s rulebook.Scale) ruleScale {
	if s == rulebook.CelsiusScale {
		return ruleScale{drawing.Celsius, "Celsius rule", quantity.Temperature.Celsius, quantity.DegreeHours.CelsiusHours}
	}
	return ruleScale{drawing.Fahrenheit, "Fahrenheit rule", quantity.Temperature.Fahrenheit, quantity.DegreeHours.FahrenheitHours}
}

// stateOf says in words what is found of a rule.
func stateOf(e fermentation.Exposure, s fermentation.Sum) string {
	for _, f := range e.Findings {
		if f.LimitID != s.Set.ID {
			continue
		}
		switch f.Status {
		case finding.Met:
			return "limit kept"
		case finding.Near:
			return "near, within what may be off"
		case finding.NotMet, finding.Hazard:
			return "limit exceeded"
		case finding.NotShown:
			return "not shown"
		case finding.NotApplicable:
			return "never above the base"
		}
	}
	return ""
}

// chamberOf returns the temperatures of a course: a step, a reading that is held
// or what is taken for a gap is a pair of them.
func chamberOf(c fermentation.Course, gaps []fermentation.Gap, in ruleScale) []drawing.Reading {
	var readings []drawing.Reading
	add := func(at time.Duration, t quantity.Temperature) {
		readings = append(readings, drawing.Reading{Hours: at.Hours(), Temperature: in.degrees(t)})
	}
	var at time.Duration
	for _, s := range c.Steps {
		add(at, s.Temperature)
		at += s.Span
		add(at, s.Temperature)
	}
	for i, r := range c.Log {
		switch {
		case len(gaps) > 0 && i > 0 && gaps[0].To == r.At:
			add(gaps[0].From, gaps[0].Temperature)
			add(gaps[0].To, gaps[0].Temperature)
			gaps = gaps[1:]
		case i > 0 && c.Held:
			add(r.At, c.Log[i-1].Temperature)
		}
		add(r.At, r.Temperature)
	}
	return readings
}

// soFar is what a course had come to at an earlier time.
type soFar struct {
	end      time.Duration
	exposure fermentation.Exposure
}

// coursesSoFar returns what a course had come to at times before the end of what
// is counted, as if it had been asked then: after each step, or at readings of
// the log. There are at most some 120 of them, so that a long log costs that many
// times what it costs to judge it once.
func coursesSoFar(c fermentation.Course, counted time.Duration) []soFar {
	const most = 120
	c.PHReadings = nil // they end nothing before the end
	var earlier []soFar
	add := func(end time.Duration, c fermentation.Course) {
		if end <= 0 || end >= counted {
			return
		}
		if e, err := fermentation.DegreeHours(c); err == nil { // part of a course that was judged can be
			earlier = append(earlier, soFar{end, e})
		}
	}
	var end time.Duration
	steps, log := c.Steps, c.Log
	for i, s := range steps {
		end += s.Span
		c.Steps = steps[:i+1]
		add(end, c)
	}
	apart := max(len(log)/most, 1)
	for i := apart; i < len(log); i += apart {
		c.Log = log[:i+1]
		add(log[i].At, c)
	}
	return earlier
}

// dryDownChart returns the chart of a projection.
func dryDownChart(o drying.Order, p drying.Projection) drawing.DryDown {
	chart := drawing.DryDown{
		HungOn: hangingOf(o).from, Outcome: chartOutcome(p.Outcome), Target: p.Target.Percent(), Now: inDays(p.Now.Since),
		Stops: pointerTo(p.Stops.Median.Percent()),
	}
	hung := hangingOf(o).from
	for _, s := range o.Equalising {
		if s.To.After(hung) {
			chart.Sealed = append(chart.Sealed, drawing.Span{Low: max(s.From.Sub(hung).Hours()/24, 0), High: s.To.Sub(hung).Hours() / 24})
		}
	}
	for _, a := range o.Airs {
		if a.From.After(hung) {
			chart.Changes = append(chart.Changes, a.From.Sub(hung).Hours()/24)
		}
	}
	for _, w := range p.Weighed {
		chart.WeighIns = append(chart.WeighIns, drawing.WeighIn{Days: inDays(w.Since), Loss: w.Loss.Percent(), Doubtful: w.Doubt != ""})
	}
	for _, point := range courseOf(p) {
		chart.Course = append(chart.Course, drawing.CoursePoint{
			Days: inDays(point.Since), Median: point.Loss.Median.Percent(),
			P50: lossSpan(point.Loss.P50), P80: lossSpan(point.Loss.P80), P90: lossSpan(point.Loss.P90),
		})
	}
	if p.Outcome != drying.AlreadyThere {
		chart.Day = &drawing.TargetDay{
			Median: inDays(p.Day.Median), P50: daySpan(p.Day.P50), P80: daySpan(p.Day.P80), P90: daySpan(p.Day.P90),
		}
	}
	return chart
}

// courseOf returns the whole course of a projection: from hanging to the present,
// which both of its parts have, and on.
func courseOf(p drying.Projection) []drying.Point {
	var course []drying.Point
	for _, point := range p.Fit {
		if point.Since < p.Now.Since {
			course = append(course, point)
		}
	}
	return append(course, p.Course...)
}

func chartOutcome(o drying.Outcome) drawing.Outcome {
	switch o {
	case drying.Projected:
		return drawing.Projected
	case drying.AlreadyThere:
		return drawing.AlreadyThere
	case drying.NotAtThisHumidity:
		return drawing.NotAtThisHumidity
	case drying.IllDetermined:
		return drawing.IllDetermined
	}
	return 0
}

// inDays returns a time in days, infinity for one that does not come.
func inDays(d time.Duration) float64 {
	if d == drying.Never {
		return math.Inf(1)
	}
	return d.Hours() / 24
}

func lossSpan(b quantity.Between[quantity.Loss]) drawing.Span {
	return drawing.Span{Low: b.Low.Percent(), High: b.High.Percent()}
}

func daySpan(b quantity.Between[time.Duration]) drawing.Span {
	return drawing.Span{Low: inDays(b.Low), High: inDays(b.High)}
}
