package drydown

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"greenweight/domain/drying"
	"greenweight/domain/quantity"
	"greenweight/integration/backtest/scoring"
)

// Projector answers an order: drying.Project, or another in a test.
type Projector func(drying.Order) (drying.Projection, error)

// The models that are compared, in the order of the tables. A point forecast
// tells a day and no more; its dressed twin has the spread of the errors that
// the model made in other studies.
const (
	ours         = "projection"
	oursUnfitted = "projection, no weigh-ins"
	// oursReached is ours given that the target is reached at all: what the
	// baselines are told that need to know where the drying stops.
	oursReached = "projection, reached"
	dressed     = ", dressed"
)

// forecast is what a model answers: days since hanging, +Inf for never.
type forecast struct {
	Model  string
	Median float64
	// Bands hold the truth in 50, 80 and 90 percent of cases, if the model is
	// right; nil for a point forecast.
	Bands *[3]band
	// Quantiles are those at the middles of equal parts of the probability, see
	// scoring.Level; nil for a point forecast.
	Quantiles []float64
	Refused   string // why there is no answer at all; it counts as never
}

type band struct{ Low, High float64 }

// forecastAll lets every model answer every case. Each answer depends on its
// own question alone, except for the dressed ones, which come last.
func forecastAll(cases []*oneCase, project Projector, rack RackProjector) {
	gate := make(chan struct{}, runtime.GOMAXPROCS(0))
	var all sync.WaitGroup
	for _, c := range cases {
		all.Go(func() {
			gate <- struct{}{}
			defer func() { <-gate }()
			if c.series.hangs() {
				c.forecasts = c.question.rackForecasts(project, rack)
			} else {
				c.forecasts = c.question.forecasts(project)
			}
		})
	}
	all.Wait()
	dress(cases)
	for _, c := range cases {
		c.scores = make([]score, 0, len(c.forecasts))
		for _, f := range c.forecasts {
			c.scores = append(c.scores, judge(f, c.truth, c.question.last().day))
		}
	}
}

// forecasts returns the answers of all models that need no other case.
func (q question) forecasts(project Projector) []forecast {
	before, errBefore := q.before(project)
	after, errAfter := q.project(project, true)
	answers := []forecast{
		projected(ours, after, errAfter), given(oursReached, after, errAfter), projected(oursUnfitted, before, errBefore),
	}
	// The baselines that need to know where the drying stops are told what ours
	// takes it to be before any weigh-in.
	stops, errStops := q.asymptote(before, errBefore)
	for _, b := range baselines() {
		answers = append(answers, q.ask(b, stops, errStops))
	}
	return answers
}

// ask returns the answer of a simple method, which is told where the drying stops
// if anybody knows.
func (q question) ask(b baseline, stops float64, errStops error) forecast {
	f := forecast{Model: b.name, Median: math.Inf(1)}
	if b.needsStop && errStops != nil {
		f.Refused = errStops.Error()
	} else if q.last().loss >= q.target {
		f.Median = q.last().day // the scale says that it is there
	} else if day, err := b.day(q.seen, q.target, stops); err != nil {
		f.Refused = err.Error()
	} else if !(day > 0) {
		f.Refused = "the fit gives no day"
	} else {
		f.Median = day
	}
	return f
}

// before returns the projection without weigh-ins.
func (q question) before(project Projector) (drying.Projection, error) {
	if q.unweighed == nil {
		return q.project(project, false)
	}
	q.unweighed.once.Do(func() { q.unweighed.projection, q.unweighed.err = q.project(project, false) })
	return q.unweighed.projection, q.unweighed.err
}

func (q question) project(project Projector, weighed bool) (drying.Projection, error) {
	order, err := q.order(weighed)
	if err != nil {
		return drying.Projection{}, err
	}
	return project(order)
}

// leastLeft is how far above the target the drying stops, in points of loss, for
// a baseline that can't reach a target beyond it. It leaks that the target was
// reached, to the baselines' good.
const leastLeft = 0.5

func (q question) asymptote(before drying.Projection, err error) (float64, error) {
	if err != nil {
		return 0, fmt.Errorf("where the drying stops is not known: %w", err)
	}
	stops := before.Stops.Median.Percent()
	if !(stops > 0) {
		return 0, errors.New("where the drying stops is not known")
	}
	return math.Max(stops, q.target+leastLeft), nil
}

// projected reads the forecast out of a projection.
func projected(model string, p drying.Projection, err error) forecast {
	return projectedDay(model, p.Day, err)
}

func projectedDay(model string, d drying.Day, err error) forecast {
	f := forecast{Model: model, Median: math.Inf(1)}
	if err != nil {
		f.Refused = err.Error()
		return f
	}
	f.Median = daysOf(d.Median)
	f.Bands = &[3]band{
		{daysOf(d.P50.Low), daysOf(d.P50.High)},
		{daysOf(d.P80.Low), daysOf(d.P80.High)},
		{daysOf(d.P90.Low), daysOf(d.P90.High)},
	}
	f.Quantiles = make([]float64, scoring.Levels)
	for i := range f.Quantiles {
		share, err := quantity.NewFraction(scoring.Level(i))
		if err != nil {
			return forecast{Model: model, Median: math.Inf(1), Refused: err.Error()}
		}
		f.Quantiles[i] = daysOf(d.Quantile(share))
	}
	return f
}

// given reads the forecast out of a projection on the condition that the target
// is reached.
func given(model string, p drying.Projection, err error) forecast {
	return givenDay(model, p.Day, err)
}

func givenDay(model string, d drying.Day, err error) forecast {
	f := projectedDay(model, d, err)
	if f.Refused != "" {
		return f
	}
	reached := d.NotReached.Complement().Float()
	at := func(share float64) float64 {
		of, err := quantity.NewFraction(share * reached)
		if err != nil {
			return math.Inf(1)
		}
		return daysOf(d.Quantile(of))
	}
	f.Median = at(0.5)
	f.Bands = &[3]band{}
	for i, share := range scoring.Shares() {
		f.Bands[i] = band{at((1 - share) / 2), at((1 + share) / 2)}
	}
	for i := range f.Quantiles {
		f.Quantiles[i] = at(scoring.Level(i))
	}
	return f
}

// fewestOthers is how many cases of other studies it takes to tell a spread.
const fewestOthers = 3

// dress adds the dressed twin of each baseline to each case: normal on the
// logarithm of the day, its median the day told, its standard deviation the root
// mean square of
//
//	ln(true day / day told)
//
// of the same model at the same stage in the other studies, every study with the
// same weight. What a model did in a study so says nothing about another case of
// it. Only weighed series dress weighed ones, and computed ones computed ones.
// With fewer than fewestOthers other cases, and where the baseline has no day to
// dress, the twin is the bare day itself.
func dress(cases []*oneCase) {
	twins := make([][]forecast, len(cases))
	for i, c := range cases {
		for _, f := range c.forecasts {
			if f.Model == ours || f.Model == oursReached || f.Model == oursUnfitted {
				continue
			}
			twin := f
			twin.Model += dressed
			if sd, ok := spreadElsewhere(cases, c, f.Model); ok && !math.IsInf(f.Median, 1) {
				twin.spread(sd)
			}
			twins[i] = append(twins[i], twin)
		}
	}
	for i, c := range cases {
		c.forecasts = append(c.forecasts, twins[i]...)
	}
}

// spreadElsewhere returns the root mean square of the log errors of a model in
// the studies that a case is not of; false with fewer than fewestOthers cases.
func spreadElsewhere(cases []*oneCase, of *oneCase, model string) (float64, bool) {
	type sum struct{ squares, n float64 }
	var studies []string // in order: a sum of floats depends on it
	sums := map[string]sum{}
	n := 0
	for _, c := range cases {
		if c.series.study == of.series.study || c.stage != of.stage || c.series.synthetic != of.series.synthetic || c.series.drawn != of.series.drawn || c.series.hangs() != of.series.hangs() {
			continue
		}
		for _, f := range c.forecasts {
			if f.Model != model || math.IsInf(f.Median, 1) {
				continue
			}
			s, ok := sums[c.series.study]
			if !ok {
				studies = append(studies, c.series.study)
			}
			off := math.Log(c.truth / f.Median)
			sums[c.series.study] = sum{s.squares + off*off, s.n + 1}
			n++
		}
	}
	if n < fewestOthers {
		return 0, false
	}
	mean := 0.0
	for _, name := range studies {
		mean += sums[name].squares / sums[name].n / float64(len(studies))
	}
	return math.Sqrt(mean), true
}

// spread gives the forecast a distribution around its median: normal on the
// logarithm of the day.
func (f *forecast) spread(sd float64) {
	normal := distuv.Normal{Mu: math.Log(f.Median), Sigma: sd}
	at := func(p float64) float64 { return math.Exp(normal.Quantile(p)) }
	f.Bands = &[3]band{}
	for i, share := range scoring.Shares() {
		f.Bands[i] = band{at((1 - share) / 2), at((1 + share) / 2)}
	}
	f.Quantiles = make([]float64, scoring.Levels)
	for i := range f.Quantiles {
		f.Quantiles[i] = at(scoring.Level(i))
	}
}
