package acidity

import (
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"greenweight/integration/backtest/scoring"
)

// The models that are compared, in the order of the tables. A point forecast
// tells an hour and no more; its dressed twin has the spread of the errors that
// the method made in other lots.
const (
	ours      = "projection"
	oursPrior = "prior alone"
	dressed   = ", dressed"
)

// forecast is what a model answers: hours from the start, +Inf for never.
type forecast struct {
	Model  string
	Median float64
	// Bands hold the truth in 50, 80 and 90 percent of cases, if the model is
	// right; nil for a point forecast.
	Bands *[3]band
	// Quantiles are those at the middles of equal parts of the probability, see
	// scoring.Level; nil for a point forecast.
	Quantiles []float64
	Never     float64 // probability that the target is never reached
	NotAsked  bool    // no such question is put to the method: a line needs two readings
	Refused   string  // why there is no answer; it counts as never
}

type band struct{ Low, High float64 }

// forecastAll lets every model answer every case and judges them. Each answer
// depends on its own question alone, except for the dressed ones, which come
// last.
func forecastAll(cases []*oneCase, project Projector) {
	// The first case of a course is made from its first reading, which is all that
	// the prior has.
	var first, later []*oneCase
	priors := map[*course]*oneCase{}
	for _, c := range cases {
		if priors[c.course] == nil {
			priors[c.course] = c
			first = append(first, c)
		} else {
			later = append(later, c)
		}
	}
	each(first, func(c *oneCase) { c.forecasts = c.question.forecasts(project, nil) })
	each(later, func(c *oneCase) { c.forecasts = c.question.forecasts(project, &priors[c.course].forecasts[0]) })
	dress(cases)
	for _, c := range cases {
		c.scores = make([]score, 0, len(c.forecasts))
		for _, f := range c.forecasts {
			c.scores = append(c.scores, judge(f, c.course.truth, c.question.last().hour))
		}
	}
}

// each does something with every case, as many at once as there are processors.
func each(cases []*oneCase, do func(*oneCase)) {
	gate := make(chan struct{}, runtime.GOMAXPROCS(0))
	var all sync.WaitGroup
	for _, c := range cases {
		all.Go(func() {
			gate <- struct{}{}
			defer func() { <-gate }()
			do(c)
		})
	}
	all.Wait()
}

// forecasts returns the answers of all models that need no other case. prior is
// the projection from the first reading alone, nil where that is all there is.
func (q question) forecasts(project Projector, prior *forecast) []forecast {
	mine := q.project(ours, project)
	if prior == nil {
		prior = &mine
	}
	alone := *prior
	alone.Model = oursPrior
	answers := []forecast{mine, alone}
	for _, b := range baselines() {
		answers = append(answers, q.bare(b))
	}
	return answers
}

func (q question) bare(b baseline) forecast {
	f := forecast{Model: b.name, Median: math.Inf(1), NotAsked: len(q.seen) < 2}
	if f.NotAsked {
		return f
	}
	hour, err := b.hour(q.seen)
	switch {
	case err != nil:
		f.Refused = err.Error()
	case math.IsNaN(hour):
		f.Refused = "the fit gives no hour"
	default:
		f.Median = hour
	}
	f.Never = float64(count(math.IsInf(f.Median, 1)))
	return f
}

// fewestOthers is how many cases of other lots it takes to tell a spread.
const fewestOthers = 3

// dress adds the dressed twin of each baseline to each case: the chance of never
// and a normal distribution on the logarithm of the hour, both from what the
// same method did at the same stage in the other studies of the same origin
// where it told an hour, too, or never, too.
//
//   - the chance of never: how often that came, with half a case added to each
//     side
//   - where an hour is told: its median is that hour, its standard deviation the
//     root mean square of ln(true/told)
//   - where never is told: the mean and the standard deviation of ln(true)
//
// Where the truth is an interval its Point stands for it. With fewer than
// fewestOthers other cases the twin is the bare forecast. So the line is told
// everything about itself that can be learned, and nothing of the lot.
func dress(cases []*oneCase) {
	twins := make([][]forecast, len(cases))
	for i, c := range cases {
		for k, f := range c.forecasts {
			if f.Model == ours || f.Model == oursPrior {
				continue
			}
			twin := f
			twin.Model += dressed
			if !f.NotAsked {
				if e := experienceOf(cases, c, k); e.cases >= fewestOthers {
					twin.spread(e)
				}
			}
			twins[i] = append(twins[i], twin)
		}
	}
	for i, c := range cases {
		c.forecasts = append(c.forecasts, twins[i]...)
	}
}

// experience is what a method did elsewhere.
type experience struct {
	cases      int // that came down
	never      float64
	mu, spread float64 // of ln(true/told), or of ln(true) where never was told
}

func experienceOf(cases []*oneCase, of *oneCase, model int) experience {
	told := !math.IsInf(of.forecasts[model].Median, 1)
	var n, nevers, sum, squares float64
	for _, c := range cases {
		if c.course.study == of.course.study || c.course.origin != of.course.origin || c.stage() != of.stage() {
			continue
		}
		f := c.forecasts[model]
		if f.NotAsked || !math.IsInf(f.Median, 1) != told {
			continue
		}
		switch t := c.course.truth; {
		case t.Never:
			nevers++
		case !math.IsInf(t.By, 1):
			off := math.Log(math.Max(t.Point, earliest))
			if told {
				off -= math.Log(math.Max(f.Median, earliest))
			}
			n, sum, squares = n+1, sum+off, squares+off*off
		}
	}
	e := experience{cases: int(n), never: (nevers + 0.5) / (n + nevers + 1)}
	if n > 0 && told {
		e.spread = math.Sqrt(squares / n)
	} else if n > 0 {
		e.mu = sum / n
		e.spread = math.Sqrt(math.Max(squares/n-e.mu*e.mu, 0))
	}
	return e
}

// spread gives the forecast a distribution.
func (f *forecast) spread(e experience) {
	normal := distuv.Normal{Mu: e.mu, Sigma: e.spread}
	if !math.IsInf(f.Median, 1) {
		normal.Mu = math.Log(math.Max(f.Median, earliest))
	}
	at := func(p float64) float64 {
		if p >= 1-e.never {
			return math.Inf(1)
		}
		return math.Exp(normal.Quantile(p / (1 - e.never)))
	}
	f.Never = e.never
	f.fill(at)
}

// fill sets the median, the bands and the quantiles from a function of the
// probability.
func (f *forecast) fill(at func(float64) float64) {
	f.Median = at(0.5)
	f.Bands = &[3]band{}
	for i, share := range scoring.Shares() {
		f.Bands[i] = band{at((1 - share) / 2), at((1 + share) / 2)}
	}
	f.Quantiles = make([]float64, scoring.Levels)
	for i := range f.Quantiles {
		f.Quantiles[i] = at(scoring.Level(i))
	}
}
