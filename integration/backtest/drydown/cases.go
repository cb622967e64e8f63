package drydown

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// stage is how far a piece is on its way when a forecast is made: the weigh-in
// whose loss is nearest to Share of the target, among those from From to below
// Below. A series without one there is missing at that stage. All in percent of
// the target.
type stage struct{ Share, From, Below float64 }

// stages are the three stages of every comparison.
func stages() []stage {
	return []stage{{30, 15, 37.5}, {45, 37.5, 52.5}, {60, 52.5, 75}}
}

// question is all that a model is told: what is known at hanging, the weigh-ins
// up to the present and the loss that is to be reached. What came after is not
// in it.
type question struct {
	facts  facts
	seen   []point // in order of time, without the one at day 0
	target float64 // percent of the green weight
	rack   []hung  // the pieces of a rack; seen is then their mean

	unweighed *unweighed // nil: not shared
}

// unweighed is the projection without weigh-ins, which all stages of a target
// share.
type unweighed struct {
	once       sync.Once
	projection drying.Projection
	err        error

	rackOnce sync.Once // of a rack, for its last piece
	last     drying.Day
	errLast  error
}

// last is the latest weigh-in.
func (q question) last() point { return q.seen[len(q.seen)-1] }

// oneCase is a question with the answer that the series gives.
type oneCase struct {
	series    *series
	stage     stage
	question  question
	truth     float64 // day on which the target was reached
	forecasts []forecast
	scores    []score // in the order of the forecasts
}

// makeCases returns the cases of all series in their order, and how often each
// stage of a target has no weigh-in in its bin.
func makeCases(all []series, every bool) ([]*oneCase, map[stage]int, error) {
	var cases []*oneCase
	missing := map[stage]int{}
	for i := range all {
		s := &all[i]
		for _, g := range s.goals(every && !s.drawn) {
			truth, reached := s.reached(g.loss)
			if g.day != nil {
				truth, reached = *g.day, true
			}
			if !reached {
				return nil, nil, fmt.Errorf("%s: id %q: the target of %v percent is not reached in the series, and no day is told",
					s.file, s.id, g.loss)
			}
			shared := &unweighed{}
			for _, st := range stages() {
				n := prefix(s.points, g.loss, truth, st)
				if n == 0 {
					missing[st]++
					continue
				}
				cases = append(cases, &oneCase{series: s, stage: st, truth: truth, question: question{
					facts: s.facts, target: g.loss, seen: weighIns(s.points[:n]), unweighed: shared,
					rack: upTo(s.rack, s.points[n-1].day),
				}})
			}
		}
	}
	return cases, missing, nil
}

// prefix returns how many points there are up to the weigh-in of a stage, 0 when
// it has none. Of two that are as near the earlier is taken.
func prefix(points []point, target, truth float64, st stage) int {
	n, nearest := 0, math.Inf(1)
	for i, p := range points {
		share := 100 * p.loss / target
		if p.day <= 0 || p.day >= truth || share < st.From || share >= st.Below {
			continue
		}
		if away := math.Abs(share - st.Share); away < nearest {
			n, nearest = i+1, away
		}
	}
	return n
}

// weighIns returns a copy of the points after day 0.
func weighIns(points []point) []point {
	return slices.DeleteFunc(slices.Clone(points), func(p point) bool { return p.day == 0 })
}

// hanging is when every piece is hung: a projection counts from it and knows no
// calendar.
var hanging = time.Date(2000, time.January, 1, 0, 0, 0, 0, time.UTC)

// order returns the question as a maker asks it, and that of a maker who has not
// weighed yet when weighed is false.
func (q question) order(weighed bool) (drying.Order, error) {
	target, err := quantity.LossPercent(q.target)
	if err != nil {
		return drying.Order{}, err
	}
	o := drying.Order{
		Green: q.facts.green, Stuffed: hanging, Target: target,
		Diameter: q.facts.diameter, Temperature: q.facts.temperature, Humidity: q.facts.humidity,
		AirSpeed: q.facts.airSpeed, StopsAt: q.facts.stopsAt,
		Composition: q.facts.composition(),
	}
	if o.Airs, err = airsOf(q.facts.plan, math.Inf(1)); err != nil {
		return drying.Order{}, err
	}
	for _, p := range q.facts.sealed {
		o.Equalising = append(o.Equalising, drying.Pause{From: hanging.Add(spanOf(p.from)), To: hanging.Add(spanOf(p.to))})
	}
	if !weighed {
		return o, nil
	}
	if o.Readings, err = airsOf(q.facts.readings, q.last().day); err != nil {
		return drying.Order{}, err
	}
	for _, p := range q.seen {
		loss, err := quantity.LossPercent(p.loss)
		if err != nil {
			return drying.Order{}, err
		}
		o.WeighIns = append(o.WeighIns, drying.WeighIn{At: hanging.Add(spanOf(p.day)), Weight: loss.Left(o.Green)})
	}
	return o, nil
}

// airsOf returns airs as an order has them, without those after a day.
func airsOf(all []air, until float64) ([]drying.Air, error) {
	var airs []drying.Air
	for _, a := range all {
		if a.day > until {
			break
		}
		temperature, errTemperature := quantity.Celsius(a.celsius)
		humidity, errHumidity := quantity.HumidityPercent(a.humidity)
		if err := errors.Join(errTemperature, errHumidity); err != nil {
			return nil, fmt.Errorf("the air of day %v: %w", a.day, err)
		}
		airs = append(airs, drying.Air{From: hanging.Add(spanOf(a.day)), Temperature: material.Is(temperature), Humidity: material.Is(humidity)})
	}
	return airs, nil
}

func (f facts) composition() drying.Composition {
	return drying.Composition{Water: f.water, Protein: f.protein, Fat: f.fat, Salt: f.salt, Sugar: f.sugar}
}

const hoursPerDay = 24

func spanOf(days float64) time.Duration {
	return time.Duration(days * hoursPerDay * float64(time.Hour))
}

// daysOf returns a span in days, +Inf for never.
func daysOf(span time.Duration) float64 {
	if span == drying.Never {
		return math.Inf(1)
	}
	return span.Hours() / hoursPerDay
}
