package drawing

import (
	"errors"
	"fmt"
	"math"
)

// SumPanel is the degree-hours of a fermentation against their limit, as a part
// of another chart, on the same hours. See DegreeHours for its parts.
type SumPanel struct {
	Scale Scale
	Base  float64
	Limit float64
	State string       // what the rule says of it, in words
	Sum   []SumPoint   // one at least
	Range []RangePoint // may be empty
	Ahead []SumPoint   // what it comes to, from the last of Sum on; may be empty
	Gaps  []Gap        // of which it is not known how warm the chamber was; may be empty
}

func (p SumPanel) validate() error {
	if len(p.Sum) == 0 {
		return undrawable("no sum of degree-hours")
	}
	if p.Scale != Celsius && p.Scale != Fahrenheit {
		return undrawable("no scale of the degree-hours")
	}
	err := errors.Join(
		within("base", p.Base, lowestTemp, highestTemp), within("limit", p.Limit, 1, mostSum),
		ascending("hour of the sum", len(p.Sum), func(i int) float64 { return p.Sum[i].Hours }, 0, mostHours),
		ascending("sum", len(p.Sum), func(i int) float64 { return p.Sum[i].DegreeHours }, 0, mostSum),
		ascending("hour of the range", len(p.Range), func(i int) float64 { return p.Range[i].Hours }, 0, mostHours),
		allWithin("low end of the range", len(p.Range), func(i int) float64 { return p.Range[i].Low }, 0, mostSum),
		allWithin("high end of the range", len(p.Range), func(i int) float64 { return p.Range[i].High }, 0, mostSum),
	)
	return errors.Join(err,
		ascending("hour ahead", len(p.Ahead), func(i int) float64 { return p.Ahead[i].Hours }, p.last().Hours, mostRunOn),
		ascending("start of a gap", len(p.Gaps), func(i int) float64 { return p.Gaps[i].From }, 0, mostHours),
		ascending("end of a gap", len(p.Gaps), func(i int) float64 { return p.Gaps[i].To }, 0, mostHours),
		ascending("sum ahead", len(p.Ahead), func(i int) float64 { return p.Ahead[i].DegreeHours }, 0, mostSum),
	)
}

func (p SumPanel) last() SumPoint { return p.Sum[len(p.Sum)-1] }

// peak returns the highest value to be shown.
func (p SumPanel) peak() float64 {
	peak := math.Max(p.Limit, p.last().DegreeHours)
	for _, r := range p.Range {
		peak = math.Max(peak, r.High)
	}
	const room = 1.12
	return peak * room
}

// caption names the panel, with how much of the limit is used.
func (p SumPanel) caption() string {
	return fmt.Sprintf("Degree-hours above %s %s: %s of %s %s h", decimal(p.Base, 1), p.Scale,
		against(p.last().DegreeHours, p.Limit, 0), decimal(p.Limit, 1), p.Scale)
}

// draw draws it into a panel whose values go from nothing to the peak.
func (p SumPanel) draw(s *scene, in panel, step float64) {
	in.rule(s, step)
	hatch(s, in, drawnGaps(p.Gaps), unknownPen)
	var low, high, sum, on []point
	for _, r := range p.Range {
		low, high = append(low, point{r.Hours, r.Low}), append(high, point{r.Hours, r.High})
	}
	for _, at := range p.Sum {
		sum = append(sum, point{at.Hours, at.DegreeHours})
	}
	for _, at := range p.Ahead {
		on = append(on, point{at.Hours, at.DegreeHours})
	}
	low, _ = split(thinned(low), in.x.high)
	high, _ = split(thinned(high), in.x.high)
	sum, _ = split(thinned(sum), in.x.high)
	around := in.path(low)
	for i := len(high) - 1; i >= 0; i-- {
		around = append(around, in.at(high[i].x, high[i].y))
	}
	s.area("sum-range", tint80, around...)
	y := in.y.at(p.Limit)
	s.line("sum-limit", pen{color: red, width: 1.75, dash: []float64{7, 4}}, point{in.area.x0, y}, point{in.area.x1, y})
	s.line("sum", pen{color: blue, width: 2.25}, in.path(sum)...)
	on, _ = split(on, in.x.high)
	s.line("sum-ahead", pen{color: blue, width: 2.25, dash: ahead}, in.path(on)...)
	s.write("caption", p.caption(), small, grey, inside.x0, in.area.y0-10, atStart)
}
