package acidity

import (
	"math"
	"time"

	"greenweight/domain/acidification"
	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/integration/backtest/scoring"
)

// Projector answers an order: acidification.Project, or another in a test.
type Projector func(acidification.Order) (acidification.Projection, error)

// project lets the projection answer.
func (q question) project(model string, project Projector) forecast {
	order, err := q.order()
	if err == nil {
		var p acidification.Projection
		if p, err = project(order); err == nil {
			return projected(model, p)
		}
	}
	return forecast{Model: model, Median: math.Inf(1), Never: 1, Refused: err.Error()}
}

// projected reads the forecast out of a projection.
func projected(model string, p acidification.Projection) forecast {
	if len(p.To) == 0 {
		return forecast{Model: model, Median: math.Inf(1), Never: 1, Refused: "no crossing is told"}
	}
	c := p.To[0]
	f := forecast{
		Model: model, Median: hoursOf(c.Median), Never: c.NotReached.Float(),
		Bands:     &[3]band{bandOf(c.P50), bandOf(c.P80), bandOf(c.P90)},
		Quantiles: make([]float64, scoring.Levels),
	}
	for i := range f.Quantiles {
		share, err := quantity.NewFraction(scoring.Level(i))
		if err != nil {
			return forecast{Model: model, Median: math.Inf(1), Never: 1, Refused: err.Error()}
		}
		f.Quantiles[i] = hoursOf(c.Quantile(share))
	}
	return f
}

func bandOf(b quantity.Between[time.Duration]) band { return band{hoursOf(b.Low), hoursOf(b.High)} }

// hoursOf returns a span in hours, +Inf for never.
func hoursOf(span time.Duration) float64 {
	if span == acidification.Never {
		return math.Inf(1)
	}
	return span.Hours()
}

func spanOf(hours float64) time.Duration { return time.Duration(hours * float64(time.Hour)) }

// order returns the question as a maker asks it: the temperatures so far are
// what the thermometer read, those to come are the plan.
func (q question) order() (acidification.Order, error) {
	o := acidification.Order{Diameter: q.facts.diameter}
	if species, ok := rulebook.CultureByKey(q.facts.species); ok {
		o.Cultures = []rulebook.CultureSpecies{species}
	}
	for _, r := range q.seen {
		read, err := q.facts.look(r)
		if err != nil {
			return acidification.Order{}, err
		}
		o.Course.PHReadings = append(o.Course.PHReadings, read)
	}
	now := q.last().hour
	var err error
	if now > 0 {
		if o.Course.Log, err = q.facts.chamber.log(now); err != nil {
			return acidification.Order{}, err
		}
	}
	o.Ahead, err = q.facts.planned().ahead(now)
	return o, err
}

// planned is the plan of the chamber: as it is, where no plan is told apart.
func (f facts) planned() chamber {
	if f.plan == nil {
		return f.chamber
	}
	return f.plan
}

// look returns a reading with what it may be off: nothing is told of a meter; a
// strip is off by up to half the distance of its fields, and the eye by two of
// its standard deviations.
func (f facts) look(r reading) (fermentation.PHReading, error) {
	ph, err := quantity.NewPH(r.ph)
	read := fermentation.PHReading{At: spanOf(r.hour), PH: ph}
	if err != nil || f.grade == 0 {
		return read, err
	}
	limits := fermentation.PHRange()
	off := f.grade/2 + 2*stripSD
	if read.Within.Low, err = quantity.NewPH(math.Max(r.ph-off, limits.Low.Float())); err != nil {
		return read, err
	}
	read.Within.High, err = quantity.NewPH(math.Min(r.ph+off, limits.High.Float()))
	return read, err
}

// log returns what a thermometer reads from the start to an hour: where the
// course bends, and at both ends.
func (c chamber) log(until float64) ([]fermentation.Reading, error) {
	hours := []float64{0}
	for _, w := range c {
		if w.hour > 0 && w.hour < until {
			hours = append(hours, w.hour)
		}
	}
	hours = append(hours, until)
	log := make([]fermentation.Reading, 0, len(hours))
	for _, hour := range hours {
		t, err := quantity.Celsius(c.at(hour))
		if err != nil {
			return nil, err
		}
		log = append(log, fermentation.Reading{At: spanOf(hour), Temperature: t})
	}
	return log, nil
}

// ahead returns the course from an hour on as steps: between two points the mean,
// and what is after the last point for as long as a lot is followed.
func (c chamber) ahead(from float64) ([]fermentation.Step, error) {
	var steps []fermentation.Step
	add := func(celsius, hours float64) error {
		t, err := quantity.Celsius(celsius)
		if err == nil && spanOf(hours) > 0 {
			steps = append(steps, fermentation.Step{Temperature: t, Span: spanOf(hours)})
		}
		return err
	}
	for _, w := range c {
		if w.hour <= from {
			continue
		}
		if err := add(c.at((from+w.hour)/2), w.hour-from); err != nil {
			return nil, err
		}
		from = w.hour
	}
	err := add(c[len(c)-1].celsius, horizon)
	return steps, err
}
