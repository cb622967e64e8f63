package drydown

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"greenweight/integration/backtest/scoring"
)

// part is how the projection did on the part of a group that has something in
// common: where it is wrong, and to which side.
type part struct {
	Group  string   `json:"group"`
	By     string   `json:"by"`
	Value  string   `json:"value"`
	Cases  int      `json:"cases"`
	Bias   *float64 `json:"median_relative_error_percent"` // of the days told, null without any
	Mean   float64  `json:"mean_absolute_relative_error_never_as_100_percent"`
	Best   string   `json:"best_simple_method"`
	Least  float64  `json:"its_mean_absolute_relative_error_percent"`
	Held   float64  `json:"held_80_percent"`
	Before int      `json:"truth_before_80_percent_band_count"`
	After  int      `json:"truth_after_80_percent_band_count"`
	CRPS   float64  `json:"crps_log_day_ratio"`
}

// label is one thing that cases may have in common; rank orders the values of a
// table.
type label struct {
	by    string
	rank  int
	value string
}

// labels tells what a case has in common with others.
func (c *oneCase) labels() []label {
	diameter := label{by: "diameter", rank: -1, value: "not told"}
	if d, told := c.question.facts.diameter.Get(); told {
		diameter = within("diameter", d.Millimetres(), "mm", 45, 60, 80)
	}
	study := label{by: "study", value: shortened(c.series.study)}
	if c.series.drawn {
		study.value = drawn // all alike: no table
	}
	return append([]label{
		study,
		within("weigh-ins seen", float64(len(c.question.seen)), "", 2, 3, 5, 9),
		diameter,
		within("true day", c.truth, "days", 10, 30, 60),
	}, c.series.labels...)
}

// within names the part that v is in, of those that ascending borders make.
func within(by string, v float64, unit string, borders ...float64) label {
	i, exact := slices.BinarySearch(borders, v)
	if exact {
		i++ // a border belongs to the part above it
	}
	if unit != "" {
		unit = " " + unit
	}
	switch i {
	case 0:
		return label{by, i, fmt.Sprintf("below %v%s", borders[0], unit)}
	case len(borders):
		return label{by, i, fmt.Sprintf("%v%s and more", borders[i-1], unit)}
	default:
		return label{by, i, fmt.Sprintf("%v to below %v%s", borders[i-1], borders[i], unit)}
	}
}

// partsOf sums up the projection over what cases of a group have in common, in
// the order in which it first appears. A group that is alike in a thing says
// nothing by it.
func partsOf(group string, cases []*oneCase) []part {
	var order []label
	found := map[label][]*oneCase{}
	kinds := map[string]int{}
	for _, c := range cases {
		if !c.in(group) {
			continue
		}
		for _, l := range c.labels() {
			if found[l] == nil {
				order = append(order, l)
				kinds[l.by]++
			}
			found[l] = append(found[l], c)
		}
	}
	kind := map[string]int{}
	for i, l := range order {
		if _, ok := kind[l.by]; !ok {
			kind[l.by] = i
		}
	}
	slices.SortStableFunc(order, func(a, b label) int {
		return cmp.Or(cmp.Compare(kind[a.by], kind[b.by]), cmp.Compare(a.rank, b.rank))
	})
	var all []part
	for _, l := range order {
		if kinds[l.by] > 1 {
			p := partOf(found[l])
			p.Group, p.By, p.Value = group, l.by, l.value
			all = append(all, p)
		}
	}
	return all
}

func partOf(cases []*oneCase) part {
	at := func(model string) int {
		return slices.IndexFunc(cases[0].forecasts, func(f forecast) bool { return f.Model == model })
	}
	us := at(ours)
	p := part{Cases: len(cases), Least: math.Inf(1)}
	n := float64(len(cases))
	var told []float64
	held := 0
	for _, c := range cases {
		s := c.scores[us]
		if !s.Never {
			told = append(told, percent*s.Relative)
		}
		p.Mean += percent * s.missed() / n
		p.CRPS += s.CRPS / n
		p.Before += count(s.Before)
		p.After += count(s.After)
		held += count(s.Inside[1])
	}
	p.Held = percent * float64(held) / n
	if len(told) > 0 {
		slices.Sort(told)
		bias := scoring.Quantile(told, 0.5)
		p.Bias = &bias
	}
	for _, b := range baselines() {
		errs := make([]float64, 0, len(cases))
		for _, c := range cases {
			errs = append(errs, percent*c.scores[at(b.name)].missed())
		}
		if mean := stat.Mean(errs, nil); mean < p.Least {
			p.Least, p.Best = mean, b.name
		}
	}
	return p
}
