package drydown

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// tunedOn says what the numbers of the projection were chosen on, for whoever
// reads its figures. It is kept with the constants of package drying: fit.go,
// prior.go and projection.go.
const tunedOn = "The misfit (2.2 points, its memory and the error of a weigh-in) and the onsets with their weights were chosen on the analysed " +
	"series of the project's reference, which are scored here too: there the figures flatter. The spreads of rate, Biot number and end of drying are " +
	"the project's own, from those series and from the times that makers give; diffusivity and its fall with fat are of a paper that is not among " +
	"them. Nothing was chosen on analogues, and nothing on drawn lots."

// leftOut is what a study says of the width of the bands when the width is
// chosen again on all other studies: the one number of the projection that has
// most say in how often the bands hold, chosen without the study that it is then
// judged on.
type leftOut struct {
	Study    string  `json:"study"`
	Cases    int     `json:"cases"`
	Factor   float64 `json:"width_chosen_on_the_others_ratio"`
	CRPS     float64 `json:"crps_as_it_is_log_day_ratio"`
	LeftOut  float64 `json:"crps_left_out_log_day_ratio"`
	Best     float64 `json:"crps_chosen_on_itself_log_day_ratio"`
	Held     float64 `json:"held_80_percent_as_it_is"`
	HeldOut  float64 `json:"held_80_percent_left_out"`
	Excluded bool    `json:"too_few_others"` // no second study to choose on
}

// factors are the widths that are tried, relative to the one there is: steps of
// 6 percent from half to twice.
func factors() []float64 {
	const steps = 12
	all := make([]float64, 0, 2*steps+1)
	for i := -steps; i <= steps; i++ {
		all = append(all, math.Exp2(float64(i)/steps))
	}
	return all
}

// widened returns the forecast with the logarithms of its days spread that many
// times as far about the median. What is never stays so.
func (f forecast) widened(times float64) forecast {
	if f.Bands == nil || math.IsInf(f.Median, 1) {
		return f
	}
	at := func(day float64) float64 { return f.Median * math.Pow(day/f.Median, times) }
	bands := *f.Bands
	for i, b := range bands {
		bands[i] = band{at(b.Low), at(b.High)}
	}
	f.Bands = &bands
	days := make([]float64, len(f.Quantiles))
	for i, q := range f.Quantiles {
		days[i] = at(q)
	}
	f.Quantiles = days
	return f
}

// leaveOneOut chooses the width on all studies but one, each with the same
// weight, by the least CRPS, and judges it on that one. It is of weighed series
// that are no analogues: those may not be tuned on.
func leaveOneOut(cases []*oneCase) []leftOut {
	chosen := make([]*oneCase, 0, len(cases))
	for _, c := range cases {
		if c.in(groupWeighed) {
			chosen = append(chosen, c)
		}
	}
	studies := studiesOf(chosen)
	widths := factors()
	const asItIs = 12
	crps, held := make([][]float64, len(studies)), make([][]float64, len(studies)) // by study and width
	all := make([]leftOut, len(studies))
	for i, name := range studies {
		for _, times := range widths {
			var scores, inside []float64
			for _, c := range chosen {
				if c.series.study != name {
					continue
				}
				s := judge(c.projected().widened(times), c.truth, c.question.last().day)
				scores, inside = append(scores, s.CRPS), append(inside, percent*float64(count(s.Inside[1])))
			}
			crps[i], held[i] = append(crps[i], stat.Mean(scores, nil)), append(held[i], stat.Mean(inside, nil))
			all[i].Cases = len(scores)
		}
	}
	for i, name := range studies {
		others := make([]float64, len(widths))
		for j := range studies {
			for k := range widths {
				if j != i {
					others[k] += crps[j][k]
				}
			}
		}
		l := &all[i]
		l.Study, l.CRPS, l.Held, l.Excluded = name, crps[i][asItIs], held[i][asItIs], len(studies) < 2
		k := asItIs
		if !l.Excluded {
			k = least(others)
		}
		l.Factor, l.LeftOut, l.HeldOut, l.Best = widths[k], crps[i][k], held[i][k], crps[i][least(crps[i])]
	}
	return all
}

// least returns where the least value is.
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
