package drydown

import (
	"errors"
	"math"
	"runtime"
	"sync"

	"gonum.org/v1/gonum/stat"

	"greenweight/domain/drying"
	"greenweight/domain/quantity"
)

// tunedOn says what the numbers of the projection were chosen on, for whoever
// reads its figures. The same is written beside drying.Study.
const tunedOn = "The memory of the misfit (how far a piece departs from the best curve), the error of a weigh-in and the onsets were chosen on the analysed " +
	"series of fermented sausage and bacon of the project's reference, and the end of drying where no humidity is told by its score on fermented sausage; all of " +
	"these are scored here too: there the figures flatter. The misfit and the spread of the end of drying were chosen on lots drawn with the seed 301, the latter also on each study by itself, and what pieces of a rack share of their departure on " +
	"drawn racks of the seed 1907. The spreads of rate and surface are the project's own, from those series and from the days that makers give; diffusivity and " +
	"its fall with fat are of a paper that is not among them. Nothing was chosen on analogues."

// leftOut is how the projection does in a study when its spreads are chosen on
// all others: by the least mean CRPS, each study with the same weight.
type leftOut struct {
	Study  string `json:"study"`
	Cases  int    `json:"cases"`
	Alone  bool   `json:"no_other_study"` // there is none to choose on
	Chosen scales `json:"spreads_chosen_on_the_others_ratio"`
	AsIs   fitted `json:"as_it_is"`
	Left   fitted `json:"left_out"`
	Itself fitted `json:"chosen_on_itself"` // no study may be judged so; how much there was to gain
}

// scales multiply the spreads of the projection: see drying.Study.
type scales struct {
	Misfit float64 `json:"misfit"`
	Rate   float64 `json:"rate"`
	Stops  float64 `json:"stops"`
}

// fitted are scores over the cases of a study.
type fitted struct {
	CRPS  float64 `json:"crps_log_day_ratio"`
	Error float64 `json:"mean_absolute_relative_error_never_as_100_percent"`
	Held  float64 `json:"held_80_percent"`
}

// grid are the spreads that are tried, the ones there are first.
func grid() []scales {
	all := []scales{{1, 1, 1}}
	for _, misfit := range []float64{0.5, 0.7, 1, 1.4} {
		for _, rate := range []float64{0.7, 1, 1.4} {
			for _, stops := range []float64{0.7, 1, 1.4} {
				if s := (scales{misfit, rate, stops}); s != all[0] {
					all = append(all, s)
				}
			}
		}
	}
	return all
}

func (s scales) study() (drying.Study, error) {
	misfit, errMisfit := quantity.NewRatio(s.Misfit)
	rate, errRate := quantity.NewRatio(s.Rate)
	stops, errStops := quantity.NewRatio(s.Stops)
	return drying.Study{Misfit: misfit, Rate: rate, Stops: stops}, errors.Join(errMisfit, errRate, errStops)
}

// Retuned answers an order with other spreads: drying.Study.Project, or another
// in a test.
type Retuned func(drying.Study, drying.Order) (drying.Projection, error)

// leaveOneOut chooses the spreads on all studies but one, and judges them on that
// one. It is of weighed series that are no analogues: those may not be tuned on.
func leaveOneOut(cases []*oneCase, project Retuned) ([]leftOut, error) {
	var chosen []*oneCase
	for _, c := range cases {
		if c.in(groupWeighed) {
			chosen = append(chosen, c)
		}
	}
	if len(chosen) == 0 {
		return nil, nil
	}
	studies, tried := studiesOf(chosen), grid()
	scores := make([][]fitted, len(tried)) // by spreads and study
	for i, s := range tried {
		study, err := s.study()
		if err != nil {
			return nil, err
		}
		scores[i] = rescore(chosen, studies, func(o drying.Order) (drying.Projection, error) { return project(study, o) })
	}
	all := chosenElsewhere(tried, scores)
	for i, name := range studies {
		all[i].Study = name
		for _, c := range chosen {
			all[i].Cases += count(c.series.study == name)
		}
	}
	return all, nil
}

// chosenElsewhere chooses for each study what is best on the others. scores are by
// what was tried and by study; the first that was tried is the projection as it is.
func chosenElsewhere(tried []scales, scores [][]fitted) []leftOut {
	all := make([]leftOut, len(scores[0]))
	for i := range all {
		mine, others := make([]float64, len(tried)), make([]float64, len(tried))
		for k := range tried {
			for j, f := range scores[k] {
				if j == i {
					mine[k] = f.CRPS
				} else {
					others[k] += f.CRPS
				}
			}
		}
		k := least(others) // with no other study all are equal, and the first is as it is
		all[i] = leftOut{
			Alone: len(all) == 1, Chosen: tried[k], AsIs: scores[0][i], Left: scores[k][i], Itself: scores[least(mine)][i],
		}
	}
	return all
}

// rescore returns how a projector does in each study.
func rescore(cases []*oneCase, studies []string, project Projector) []fitted {
	judged := make([]score, len(cases))
	gate := make(chan struct{}, runtime.GOMAXPROCS(0))
	var all sync.WaitGroup
	for i, c := range cases {
		all.Go(func() {
			gate <- struct{}{}
			defer func() { <-gate }()
			p, err := c.question.project(project, true)
			judged[i] = judge(projected(ours, p, err), c.truth, c.question.last().day)
		})
	}
	all.Wait()
	of := make([]fitted, len(studies))
	for j, name := range studies {
		var crps, missed, held []float64
		for i, c := range cases {
			if c.series.study == name {
				crps, missed = append(crps, judged[i].CRPS), append(missed, percent*judged[i].missed())
				held = append(held, percent*float64(count(judged[i].Inside[1])))
			}
		}
		of[j] = fitted{stat.Mean(crps, nil), stat.Mean(missed, nil), stat.Mean(held, nil)}
	}
	return of
}

// least returns where the least value is, the first of equal ones.
func least(v []float64) int {
	at := 0
	for i, x := range v {
		if x < v[at] {
			at = i
		}
	}
	return at
}

// projected is what the projection said of a case.
func (c *oneCase) projected() forecast {
	for _, f := range c.forecasts {
		if f.Model == ours {
			return f
		}
	}
	return forecast{Model: ours, Median: math.Inf(1), Refused: "not asked"}
}
