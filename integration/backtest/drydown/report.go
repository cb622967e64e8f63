package drydown

import (
	"encoding/json"
	"io"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"greenweight/integration/backtest/entries"
	"greenweight/integration/backtest/scoring"
)

// report is all that was measured, in the form of the JSON output.
type report struct {
	Targets   string          `json:"targets"`
	Files     []entries.Count `json:"files"`
	Studies   []studyCount    `json:"studies"`
	Stages    []stageCount    `json:"stages"`
	Seed      *uint64         `json:"seed"` // of the drawn lots, null without any
	Beyond    *beyond         `json:"drawn_lots_that_never_reach_it"`
	Latest    float64         `json:"never_counts_as_last_day_ratio"` // and as no less than the next
	LatestDay float64         `json:"never_counts_as_at_least_days"`
	Summaries []summary       `json:"summaries"`
	Parts     []part          `json:"parts"`
	LeftOut   []leftOut       `json:"leave_one_study_out"`
	Judged    []judged        `json:"floor_and_goal"`
	Cases     []caseOutcome   `json:"cases"`
}

// studyCount is a study with its series.
type studyCount struct {
	Study     string   `json:"study"`
	Series    []string `json:"series"`
	Cases     int      `json:"cases"`
	Analogue  bool     `json:"analogue"` // any of its series is
	Synthetic bool     `json:"synthetic"`
}

// beyond is what the projection said where a drawn lot never reached its target:
// its room is damper than the maker's hygrometer says, or its mixture another.
// Such a case has no day to be off from, and stands apart from all others.
type beyond struct {
	Lots      int     `json:"lots"`
	Cases     int     `json:"cases"`
	ToldNever int     `json:"told_never"` // the median is never
	OpenEnded int     `json:"band_80_percent_open_ended"`
	Chance    float64 `json:"mean_chance_given_percent"`         // that it is not reached
	Overall   float64 `json:"mean_chance_given_overall_percent"` // in all cases of drawn lots
	Share     float64 `json:"share_of_cases_percent"`            // that these cases are of all, which the one before should be
}

func beyondOf(cases, reached []*oneCase) *beyond {
	cases = slices.DeleteFunc(slices.Clone(cases), func(c *oneCase) bool { return !c.in(groupDrawn) })
	if len(cases) == 0 {
		return nil
	}
	b := beyond{Cases: len(cases)}
	all := slices.Clone(cases)
	for _, c := range reached {
		if c.in(groupDrawn) {
			all = append(all, c)
		}
	}
	b.Share = percent * float64(len(cases)) / float64(len(all))
	for _, c := range all {
		b.Overall += percent * c.projected().never() / float64(len(all))
	}
	lots := map[*series]bool{}
	for _, c := range cases {
		lots[c.series] = true
		f := c.projected()
		b.ToldNever += count(math.IsInf(f.Median, 1) && f.Refused == "")
		if f.Bands == nil {
			continue
		}
		b.OpenEnded += count(math.IsInf(f.Bands[1].High, 1))
		b.Chance += percent * f.never() / float64(len(cases))
	}
	b.Lots = len(lots)
	return &b
}

// never returns the probability that a forecast gives to never.
func (f forecast) never() float64 {
	n := 0
	for _, q := range f.Quantiles {
		n += count(math.IsInf(q, 1))
	}
	return float64(n) / math.Max(float64(len(f.Quantiles)), 1)
}

// reachedOnly parts the cases whose target is reached from those where it never
// is.
func reachedOnly(cases []*oneCase) (reached, never []*oneCase) {
	for _, c := range cases {
		if math.IsInf(c.truth, 1) {
			never = append(never, c)
		} else {
			reached = append(reached, c)
		}
	}
	return reached, never
}

// stageCount says how many cases there are at a stage, and how many targets of
// series have no weigh-in there.
type stageCount struct {
	Share   float64 `json:"stage_percent"`
	From    float64 `json:"from_percent"`
	Below   float64 `json:"below_percent"`
	Cases   int     `json:"cases"`
	Missing int     `json:"missing"`
}

// summary are the scores of all models over the cases of a group at a stage.
type summary struct {
	Group string   `json:"group"`
	Stage *float64 `json:"stage_percent"` // null for all stages together
	Rows  []row    `json:"rows"`
	Best  []string `json:"lowest_crps"` // more than one when they tie
}

// row is how one model did.
type row struct {
	Model           string            `json:"model"`
	Cases           int               `json:"cases"`
	Studies         int               `json:"studies"`
	Never           int               `json:"never"`   // the median is never, or there is no answer
	Refused         int               `json:"refused"` // there is no answer
	Series          int               `json:"series"`
	MedianRelative  *float64          `json:"median_relative_error_percent"` // this and the next four are of the days told, null without any
	MedianAbs       *float64          `json:"median_absolute_relative_error_percent"`
	MeanAbsRelative *float64          `json:"mean_absolute_relative_error_percent"`
	P90AbsRelative  *float64          `json:"p90_absolute_relative_error_percent"`
	RMSLog          *float64          `json:"rms_log_error_ratio"`
	MeanError       float64           `json:"mean_absolute_relative_error_never_as_100_percent"`
	MeanBySeries    float64           `json:"mean_absolute_relative_error_never_as_100_each_series_alike_percent"`
	CRPS            float64           `json:"crps_log_day_ratio"`
	ToLine          *float64          `json:"crps_to_straight_line_ratio"`
	ToLineBootstrap *scoring.Interval `json:"crps_to_straight_line_study_bootstrap"`
	Spread          int               `json:"cases_with_distribution"`
	Coverage        []coverage        `json:"coverage"`
	Width           *float64          `json:"mean_width_80_percent_band_percent_of_day"`
	MedianWidth     *float64          `json:"median_width_80_percent_band_percent_of_day"`
	Before          int               `json:"truth_before_80_percent_band_count"`
	After           int               `json:"truth_after_80_percent_band_count"`
	PIT             []int             `json:"pit_counts"` // by tenths
	PITDistance     *float64          `json:"pit_distance_from_even_percent"`
	PITByChance     *float64          `json:"pit_distance_by_chance_percent"` // of as many independent cases
}

// coverage is how often a band held the truth.
type coverage struct {
	Claimed   float64           `json:"claimed_percent"`
	Held      int               `json:"held_count"`
	Share     float64           `json:"held_percent"`
	BySeries  float64           `json:"held_each_series_alike_percent"`
	Wilson    scoring.Interval  `json:"wilson_on_cases_percent"`
	Bootstrap *scoring.Interval `json:"study_bootstrap_percent"` // null for a single study
}

// caseOutcome is a case with what each model said of it.
type caseOutcome struct {
	ID        string     `json:"id"`
	Study     string     `json:"study"`
	Analogue  bool       `json:"analogue"`
	Synthetic bool       `json:"synthetic"`
	Stage     float64    `json:"stage_percent"`
	Seen      int        `json:"weigh_in_count"`
	LastDay   float64    `json:"last_day_days"`
	LastShare float64    `json:"last_loss_percent_of_target"`
	Target    float64    `json:"target_loss_percent"`
	Truth     float64    `json:"true_days"`
	Forecasts []answered `json:"forecasts"`
}

// answered is one forecast of a case. Days are null for never.
type answered struct {
	Model   string    `json:"model"`
	Median  *float64  `json:"median_days"`
	P50     *daysBand `json:"band_50_percent"`
	P80     *daysBand `json:"band_80_percent"`
	P90     *daysBand `json:"band_90_percent"`
	CRPS    float64   `json:"crps_log_day_ratio"`
	PIT     *float64  `json:"pit_ratio"`
	Refused string    `json:"refused,omitempty"`
}

type daysBand struct {
	Low  *float64 `json:"low_days"`
	High *float64 `json:"high_days"`
}

// The groups that are summed up. What is no fermented sausage but a strip of
// whole muscle counts as weighed, not as sausage.
const (
	groupSausage   = "fermented sausage"
	groupWeighed   = "without analogues"
	groupAnalogues = "analogues"
	groupComputed  = "computed series"
	groupDrawn     = "drawn lots"
	groupRacks     = "drawn racks, last piece"
)

func groups() []string {
	return []string{groupSausage, groupWeighed, groupAnalogues, groupComputed, groupDrawn, groupRacks}
}

// requiredGroups are those that --require-floor holds the floor against.
func requiredGroups() []string { return []string{groupSausage, groupAnalogues, groupDrawn} }

// in reports whether the case belongs to a group.
func (c *oneCase) in(group string) bool {
	s := c.series
	switch group {
	case groupRacks:
		return s.hangs()
	case groupDrawn:
		return s.drawn && !s.hangs()
	case groupComputed:
		return s.synthetic && !s.drawn
	case groupAnalogues:
		return !s.synthetic && s.analogue
	case groupWeighed:
		return !s.synthetic && !s.analogue
	case groupSausage:
		return !s.synthetic && !s.analogue && s.product == ""
	default:
		return false
	}
}

func newReport(o Options, files []entries.Count, all []series, cases []*oneCase, missing map[stage]int) report {
	r := report{Targets: "last", Files: files, Latest: latestTimes, LatestDay: latestDays, Studies: countStudies(all, cases)}
	if o.every {
		r.Targets = "every"
	}
	if o.lots > 0 {
		r.Seed = &o.seed
	}
	for _, st := range stages() {
		count := stageCount{Share: st.Share, From: st.From, Below: st.Below, Missing: missing[st]}
		for _, c := range cases {
			if c.stage == st {
				count.Cases++
			}
		}
		r.Stages = append(r.Stages, count)
	}
	for _, group := range groups() {
		for _, st := range stages() {
			share := st.Share
			r.add(group, &share, cases, func(c *oneCase) bool { return c.in(group) && c.stage == st })
		}
		r.add(group, nil, cases, func(c *oneCase) bool { return c.in(group) })
		r.Parts = append(r.Parts, partsOf(group, cases)...)
	}
	r.Judged = r.judgeAll(cases)
	for _, c := range cases {
		r.Cases = append(r.Cases, c.outcome())
	}
	return r
}

// add sums up the cases that are meant, if there are any.
func (r *report) add(group string, share *float64, cases []*oneCase, meant func(*oneCase) bool) {
	var chosen []*oneCase
	for _, c := range cases {
		if meant(c) {
			chosen = append(chosen, c)
		}
	}
	if len(chosen) == 0 {
		return
	}
	s := summary{Group: group, Stage: share, Rows: make([]row, 0, len(chosen[0].forecasts))}
	best := math.Inf(1)
	for i := range chosen[0].forecasts {
		w := sumUp(chosen, i)
		s.Rows = append(s.Rows, w)
		best = math.Min(best, w.CRPS)
	}
	for _, w := range s.Rows {
		if w.CRPS == best {
			s.Best = append(s.Best, w.Model)
		}
	}
	r.Summaries = append(r.Summaries, s)
}

func countStudies(all []series, cases []*oneCase) []studyCount {
	var studies []studyCount
	at := map[string]int{}
	// Each drawn lot is a study, but a line of its own would say nothing.
	name := func(s *series) string {
		switch {
		case s.hangs():
			return groupRacks
		case s.drawn:
			return groupDrawn
		}
		return s.study
	}
	for k := range all {
		s := &all[k]
		i, ok := at[name(s)]
		if !ok {
			i = len(studies)
			at[name(s)] = i
			studies = append(studies, studyCount{Study: name(s)})
		}
		studies[i].Series = append(studies[i].Series, s.id)
		studies[i].Analogue = studies[i].Analogue || s.analogue
		studies[i].Synthetic = studies[i].Synthetic || s.synthetic
	}
	for _, c := range cases {
		studies[at[name(c.series)]].Cases++
	}
	return studies
}

const (
	percent   = 100
	pitTenths = 10
)

// sumUp returns how forecast number model of the cases did.
func sumUp(cases []*oneCase, model int) row {
	var (
		studies                = studiesOf(cases)
		line                   = slices.IndexFunc(cases[0].forecasts, func(f forecast) bool { return f.Model == straightLine })
		bySeries               = perSeries(cases)
		w                      = row{Model: cases[0].forecasts[model].Model, Cases: len(cases), Studies: len(studies), Series: len(bySeries.weights)}
		n                      = float64(len(cases))
		relative, absolute     []float64 // these and the squares are of the days told
		squares, width         []float64
		totalLine              float64
		scores, lines, spreads = make([]float64, len(studies)), make([]float64, len(studies)), make([]float64, len(studies))
		held                   [3][]float64
		hits                   [3]int
		heldBySeries           [3]float64
		spreadBySeries         float64
		given                  []float64 // PIT
	)
	for i := range held {
		held[i] = make([]float64, len(studies))
	}
	for _, c := range cases {
		s, study := c.scores[model], slices.Index(studies, c.series.study)
		if !s.Never {
			relative = append(relative, percent*s.Relative)
			absolute = append(absolute, percent*math.Abs(s.Relative))
			squares = append(squares, s.Log*s.Log)
		}
		missed := percent * s.missed()
		w.MeanError += missed / n
		w.MeanBySeries += missed * bySeries.of(c)
		w.CRPS += s.CRPS / n
		scores[study] += s.CRPS
		lines[study] += c.scores[line].CRPS
		totalLine += c.scores[line].CRPS / n
		w.Never += count(s.Never)
		w.Refused += count(s.Refused)
		if !s.Spread {
			continue
		}
		w.Spread++
		spreads[study]++
		spreadBySeries += bySeries.of(c)
		w.Before += count(s.Before)
		w.After += count(s.After)
		given = append(given, s.PIT)
		width = append(width, percent*s.Width)
		for i, inside := range s.Inside {
			hits[i] += count(inside)
			held[i][study] += float64(count(inside))
			heldBySeries[i] += bySeries.of(c) * float64(count(inside))
		}
		if w.PIT == nil {
			w.PIT = make([]int, pitTenths)
		}
		w.PIT[min(int(s.PIT*pitTenths), pitTenths-1)]++
	}
	if len(relative) > 0 {
		slices.Sort(relative)
		slices.Sort(absolute)
		median, mean, p90 := scoring.Quantile(relative, 0.5), stat.Mean(absolute, nil), scoring.Quantile(absolute, 0.9)
		middle, root := scoring.Quantile(absolute, 0.5), math.Sqrt(stat.Mean(squares, nil))
		w.MedianRelative, w.MedianAbs, w.MeanAbsRelative, w.P90AbsRelative, w.RMSLog = &median, &middle, &mean, &p90, &root
	}
	if totalLine > 0 {
		ratio := w.CRPS / totalLine
		w.ToLine = &ratio
		if w.Model != straightLine {
			w.ToLineBootstrap = scoring.Bootstrap(scores, lines)
		}
	}
	if w.Spread == 0 {
		return w
	}
	mean := stat.Mean(width, nil)
	slices.Sort(width)
	median := scoring.Quantile(width, 0.5)
	w.Width, w.MedianWidth = &mean, &median
	for i, share := range scoring.Shares() {
		c := covered(share, hits[i], w.Spread, held[i], spreads)
		c.BySeries = percent * heldBySeries[i] / spreadBySeries
		w.Coverage = append(w.Coverage, c)
	}
	distance, byChance := scoring.Uniformity(given)
	distance, byChance = percent*distance, percent*byChance
	w.PITDistance, w.PITByChance = &distance, &byChance
	return w
}

// shares are the weights of cases that let each series count the same, however
// many targets it has. They sum to one.
type shares struct{ weights map[*series]float64 }

func (w shares) of(c *oneCase) float64 { return w.weights[c.series] }

func perSeries(cases []*oneCase) shares {
	w := shares{map[*series]float64{}}
	for _, c := range cases {
		w.weights[c.series]++
	}
	for s, n := range w.weights {
		w.weights[s] = 1 / (n * float64(len(w.weights)))
	}
	return w
}

// covered returns the coverage of a band that held the truth in hits of n cases;
// held and cases are the sums by study.
func covered(claimed float64, hits, n int, held, cases []float64) coverage {
	// A study without a distribution has no say in how often it held.
	var over, under []float64
	for i := range cases {
		if cases[i] > 0 {
			over, under = append(over, percent*held[i]), append(under, cases[i])
		}
	}
	onCases := scoring.Wilson(hits, n)
	return coverage{
		Claimed: percent * claimed, Held: hits, Share: percent * float64(hits) / float64(n),
		Wilson:    scoring.Interval{Low: percent * onCases.Low, High: percent * onCases.High},
		Bootstrap: scoring.Bootstrap(over, under),
	}
}

// studiesOf returns the studies of the cases in order of appearance.
func studiesOf(cases []*oneCase) []string {
	var names []string
	for _, c := range cases {
		if !slices.Contains(names, c.series.study) {
			names = append(names, c.series.study)
		}
	}
	return names
}

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (c *oneCase) outcome() caseOutcome {
	last := c.question.last()
	o := caseOutcome{
		ID: c.series.id, Study: c.series.study, Analogue: c.series.analogue, Synthetic: c.series.synthetic,
		Stage: c.stage.Share, Seen: len(c.question.seen), LastDay: last.day, LastShare: percent * last.loss / c.question.target,
		Target: c.question.target, Truth: c.truth,
	}
	for i, f := range c.forecasts {
		a := answered{Model: f.Model, Median: finite(f.Median), CRPS: c.scores[i].CRPS, Refused: f.Refused}
		if b := f.Bands; b != nil {
			a.P50, a.P80, a.P90 = b[0].days(), b[1].days(), b[2].days()
			pit := c.scores[i].PIT
			a.PIT = &pit
		}
		o.Forecasts = append(o.Forecasts, a)
	}
	return o
}

func (b band) days() *daysBand { return &daysBand{finite(b.Low), finite(b.High)} }

// finite returns nil for never.
func finite(v float64) *float64 {
	if math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func (r report) writeJSON(out io.Writer) error {
	encoder := json.NewEncoder(out)
	encoder.SetIndent("", "  ")
	return encoder.Encode(r)
}
