package acidity

import (
	"encoding/json"
	"io"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"greenweight/integration/backtest/entries"
	"greenweight/integration/backtest/scoring"
)

// report is all that was measured, in the form of the JSON output.
type report struct {
	Seed      uint64          `json:"seed"`
	Files     []entries.Count `json:"files"`
	Courses   []courseOutcome `json:"courses"`
	Latest    float64         `json:"never_counts_as_at_least_hours"`
	Summaries []summary       `json:"summaries"`
	Verdicts  []verdict       `json:"verdicts"`
	Cases     []caseOutcome   `json:"cases"`
}

// courseOutcome is a course with what is known of its end.
type courseOutcome struct {
	ID       string   `json:"id"`
	Study    string   `json:"study"`
	Group    string   `json:"group"`
	Readings int      `json:"reading_count"`
	Cases    int      `json:"case_count"`
	Assumed  bool     `json:"temperature_assumed"`
	After    *float64 `json:"reached_after_hours"`
	By       *float64 `json:"reached_by_hours"` // null when it was not, or nobody knows
	Never    bool     `json:"never"`
}

// summary are the scores of all models over a part of a group.
type summary struct {
	Group string `json:"group"`
	Part  string `json:"part"`
	Rows  []row  `json:"rows"`
}

// row is how one model did.
type row struct {
	Model    string   `json:"model"`
	Cases    int      `json:"cases"` // those that it was asked of
	Lots     int      `json:"lots"`
	Reached  int      `json:"cases_that_come_down"`
	Told     int      `json:"hours_told"` // of those
	Refused  int      `json:"refused"`    // there is no answer; it counts as never
	Bias     centre   `json:"bias_hours"`
	Absolute centre   `json:"absolute_error_hours"`
	P90      *float64 `json:"p90_absolute_error_hours"`
	ToPoint  *float64 `json:"mean_absolute_error_to_point_hours"`
	// The next two are of ToPoint, of the cases in which both the model and the straight line tell an hour.
	ErrorToLine     *float64          `json:"error_to_straight_line_ratio"`
	ErrorToLineSpan *scoring.Interval `json:"error_to_straight_line_bootstrap"`

	Spread    int      `json:"cases_with_distribution"`
	CRPS      *float64 `json:"crps_hours"`
	LogCRPS   *float64 `json:"crps_log_hour_ratio"`
	CRPSTo    *float64 `json:"crps_to_dressed_straight_line_ratio"` // over the cases that both answer
	LogCRPSTo *float64 `json:"crps_log_hour_to_dressed_straight_line_ratio"`

	NeverCases int      `json:"cases_with_known_end"`
	Nevers     int      `json:"cases_that_never_come_down"`
	SaidNever  *float64 `json:"mean_never_percent"` // probability given to never
	Brier      *float64 `json:"never_brier_ratio"`
	Log        *float64 `json:"never_log_score_ratio"`

	Coverage []coverage `json:"coverage"`
	Width    *float64   `json:"median_width_80_percent_band_hours"`
	PIT      []float64  `json:"pit_cases"` // by tenths
}

// centre are the mean and the median of errors, null without any.
type centre struct {
	Mean   *float64 `json:"mean"`
	Median *float64 `json:"median"`
}

// coverage is how often a band held the truth.
type coverage struct {
	Claimed   float64           `json:"claimed_percent"`
	Share     float64           `json:"held_percent"`
	SE        float64           `json:"binomial_standard_error_percent"` // takes cases as independent
	Bootstrap *scoring.Interval `json:"lot_bootstrap_percent"`           // does not; null for a single lot
}

// verdict says whether the projection keeps what is asked of it in a group.
type verdict struct {
	Group      string   `json:"group"`
	Cases      int      `json:"cases"`
	Error      *float64 `json:"mean_absolute_error_hours"` // where it and the line tell an hour
	Line       *float64 `json:"mean_absolute_error_of_straight_line_hours"`
	Beats      bool     `json:"beats_straight_line"`
	Held       *float64 `json:"held_80_percent"`
	HeldSE     *float64 `json:"binomial_standard_error_percent"`
	Calibrated bool     `json:"holds_70_to_90_percent"`
}

// caseOutcome is a case with what each model said of it.
type caseOutcome struct {
	ID        string     `json:"id"`
	Group     string     `json:"group"`
	Kind      string     `json:"kind,omitempty"`
	Climate   string     `json:"climate,omitempty"`
	Schedule  string     `json:"schedule,omitempty"`
	Grade     float64    `json:"strip_grade_ph"`
	Seen      int        `json:"reading_count"`
	Last      float64    `json:"last_reading_hours"`
	LastPH    float64    `json:"last_reading_ph"`
	After     *float64   `json:"reached_after_hours"`
	By        *float64   `json:"reached_by_hours"`
	Never     bool       `json:"never"`
	Forecasts []answered `json:"forecasts"`
}

// answered is one forecast of a case. Hours are null for never.
type answered struct {
	Model   string     `json:"model"`
	Median  *float64   `json:"median_hours"`
	P50     *hoursBand `json:"band_50_percent"`
	P80     *hoursBand `json:"band_80_percent"`
	P90     *hoursBand `json:"band_90_percent"`
	Never   float64    `json:"never_ratio"`
	Refused string     `json:"refused,omitempty"`
}

type hoursBand struct {
	Low  *float64 `json:"low_hours"`
	High *float64 `json:"high_hours"`
}

// The groups that are summed up, each apart from the others.
var groups = []struct {
	name   string
	origin origin
}{
	{"measured dry sausage", originSausage},
	{"measured analogues", originAnalogue},
	{"computed from growth and acid", originGrowth},
	{"computed from curves", originCurve},
}

func groupOf(o origin) string {
	return groups[slices.IndexFunc(groups, func(g struct {
		name   string
		origin origin
	}) bool {
		return g.origin == o
	})].name
}

// part is a choice of the cases of a group.
type part struct {
	name string
	in   func(*oneCase) bool
}

// The part that is the whole, and the one that the verdict is of.
const (
	everyCase = "all cases"
	fromTwo   = "2 or more readings"
)

// parts are the parts that are summed up, where they have a case.
func parts(o origin) []part {
	all := []part{{everyCase, func(*oneCase) bool { return true }}}
	for _, s := range stages() {
		all = append(all, part{s.Name, func(c *oneCase) bool { return c.stage() == s }})
	}
	all = append(all,
		part{fromTwo, func(c *oneCase) bool { return len(c.question.seen) > 1 }},
		part{"read above 5.5 only", func(c *oneCase) bool { return c.early }},
		part{"by meter", func(c *oneCase) bool { return c.course.facts.grade == 0 }},
		part{"by strip", func(c *oneCase) bool { return c.course.facts.grade > 0 }},
	)
	if !o.computed() {
		return all
	}
	for _, s := range schedules {
		all = append(all, part{"read " + s.name, func(c *oneCase) bool { return c.course.schedule == s.name }})
	}
	all = append(all,
		part{"species known", func(c *oneCase) bool { return c.course.facts.species != "" }},
		part{"species not known", func(c *oneCase) bool { return c.course.facts.species == "" }},
	)
	if o == originCurve {
		return append(all,
			part{"Gompertz curves", func(c *oneCase) bool { return c.course.kind == kindGompertz }},
			part{"logistic curves", func(c *oneCase) bool { return c.course.kind == kindLogistic }})
	}
	for _, climate := range climates {
		all = append(all, part{climate + " chamber", func(c *oneCase) bool { return c.course.climate == climate }})
	}
	return all
}

func newReport(o Options, files []entries.Count, all []course, cases []*oneCase) report {
	r := report{Seed: o.seed, Files: files, Latest: latestHours}
	for i := range all {
		r.Courses = append(r.Courses, all[i].outcome(cases))
	}
	for _, g := range groups {
		for _, p := range parts(g.origin) {
			r.add(g.name, p.name, choose(cases, func(c *oneCase) bool { return c.course.origin == g.origin && p.in(c) }))
		}
	}
	for _, c := range cases {
		r.Cases = append(r.Cases, c.outcome())
	}
	return r
}

func choose(cases []*oneCase, meant func(*oneCase) bool) []*oneCase {
	var chosen []*oneCase
	for _, c := range cases {
		if meant(c) {
			chosen = append(chosen, c)
		}
	}
	return chosen
}

// whole returns how many cases there are in all of a group.
func (r *report) whole(group string) int {
	i := slices.IndexFunc(r.Summaries, func(s summary) bool { return s.Group == group })
	return r.Summaries[i].Rows[0].Cases
}

// add sums up the cases of a part, if there are any and if they are not all of
// the group.
func (r *report) add(group, name string, cases []*oneCase) {
	if len(cases) == 0 {
		return
	}
	if name != everyCase && name != fromTwo && len(cases) == r.whole(group) {
		return // it is the whole again
	}
	s := summary{Group: group, Part: name}
	for i := range cases[0].forecasts {
		if w := sumUp(cases, i); w.Cases > 0 {
			s.Rows = append(s.Rows, w)
		}
	}
	r.Summaries = append(r.Summaries, s)
	if name == fromTwo {
		r.Verdicts = append(r.Verdicts, judgeGroup(group, cases))
	}
}

const (
	percent   = 100
	pitTenths = 10
)

// lots sums values by lot: what is drawn by the bootstrap.
type lots struct {
	names []string
	sums  map[string]*[2]float64
}

func (l *lots) add(name string, over, under float64) {
	if l.sums == nil {
		l.sums = map[string]*[2]float64{}
	}
	s, ok := l.sums[name]
	if !ok {
		s = &[2]float64{}
		l.sums[name] = s
		l.names = append(l.names, name)
	}
	s[0] += over
	s[1] += under
}

func (l *lots) interval() *scoring.Interval {
	over, under := make([]float64, len(l.names)), make([]float64, len(l.names))
	for i, name := range l.names {
		over[i], under[i] = l.sums[name][0], l.sums[name][1]
	}
	return scoring.Bootstrap(over, under)
}

// ratio is a sum over another.
type ratio struct {
	over, under float64
	n           int
}

func (r *ratio) add(over, under float64) { r.over, r.under, r.n = r.over+over, r.under+under, r.n+1 }

// mean returns the ratio, nil where there is nothing to divide by.
func (r ratio) value() *float64 {
	if r.under == 0 {
		return nil
	}
	v := r.over / r.under
	return &v
}

// modelNamed returns which forecast of the cases is of a model.
func modelNamed(cases []*oneCase, name string) int {
	return slices.IndexFunc(cases[0].forecasts, func(f forecast) bool { return f.Model == name })
}

// sumUp returns how forecast number model of the cases did.
func sumUp(cases []*oneCase, model int) row {
	var (
		w                                  = row{Model: cases[0].forecasts[model].Model}
		line, twin                         = modelNamed(cases, straightLine), modelNamed(cases, straightLine+dressed)
		signed, absolute, width            []float64
		toLine, crps, logs, crpsTo, logsTo ratio
		never, brier, surprise, toPoint    ratio
		seen, paired                       lots
		held                               [3]lots
		sums                               [3]float64
	)
	for _, c := range cases {
		s, lot := c.scores[model], c.course.study
		if !s.Asked {
			continue
		}
		w.Cases++
		seen.add(lot, 0, 0)
		w.Refused += count(c.forecasts[model].Refused != "")
		w.Reached += count(s.Reached)
		if s.Reached && s.Told {
			w.Told++
			signed, absolute = append(signed, s.Off), append(absolute, math.Abs(s.Off))
			toPoint.add(math.Abs(s.OffPoint), 1)
			if l := c.scores[line]; l.Asked && l.Told {
				toLine.add(math.Abs(s.OffPoint), math.Abs(l.OffPoint))
				paired.add(lot, math.Abs(s.OffPoint), math.Abs(l.OffPoint))
			}
		}
		if s.HasCRPS {
			crps.add(s.CRPS, 1)
			logs.add(s.LogCRPS, 1)
			if l := c.scores[twin]; l.Asked {
				crpsTo.add(s.CRPS, l.CRPS)
				logsTo.add(s.LogCRPS, l.LogCRPS)
			}
		}
		if s.HasNever {
			w.Nevers += count(c.course.truth.Never)
			never.add(percent*s.Never, 1)
			brier.add(s.Brier, 1)
			surprise.add(s.Log, 1)
		}
		if !s.Spread {
			continue
		}
		w.Spread++
		width = append(width, s.Width)
		for i, h := range s.Held {
			held[i].add(lot, percent*h, 1)
			sums[i] += h
		}
		w.PIT = s.PIT.tenths(w.PIT)
	}
	w.Lots, w.NeverCases = len(seen.names), never.n
	w.Bias, w.Absolute, w.P90 = middle(signed), middle(absolute), quantileOf(absolute, 0.9)
	w.ToPoint = toPoint.value()
	w.ErrorToLine, w.ErrorToLineSpan = toLine.value(), paired.interval()
	w.CRPS, w.LogCRPS, w.CRPSTo, w.LogCRPSTo = crps.value(), logs.value(), crpsTo.value(), logsTo.value()
	w.SaidNever, w.Brier, w.Log = never.value(), brier.value(), surprise.value()
	if w.Spread == 0 {
		return w
	}
	w.Width = quantileOf(width, 0.5)
	for i, share := range scoring.Shares() {
		part := sums[i] / float64(w.Spread)
		w.Coverage = append(w.Coverage, coverage{
			Claimed: percent * share, Share: percent * part, SE: percent * math.Sqrt(math.Max(part*(1-part), 0)/float64(w.Spread)),
			Bootstrap: held[i].interval(),
		})
	}
	return w
}

// tenths adds the case to a histogram: a whole case to the tenth of a point, the
// part of an interval that lies in each otherwise.
func (b band) tenths(to []float64) []float64 {
	if to == nil {
		to = make([]float64, pitTenths)
	}
	if b.Low == b.High {
		to[min(int(pitTenths*b.Low), pitTenths-1)]++
		return to
	}
	for i := range to {
		to[i] += b.part(band{float64(i) / pitTenths, float64(i+1) / pitTenths})
	}
	return to
}

func middle(values []float64) centre {
	if len(values) == 0 {
		return centre{}
	}
	mean := stat.Mean(values, nil)
	return centre{&mean, quantileOf(values, 0.5)}
}

func quantileOf(values []float64, p float64) *float64 {
	if len(values) == 0 {
		return nil
	}
	v := scoring.Quantile(ordered(values), p)
	return &v
}

// What is asked of the 80 percent band.
const leastHeld, mostHeld = 70, 90

func judgeGroup(group string, cases []*oneCase) verdict {
	var (
		v          = verdict{Group: group, Cases: len(cases)}
		us, line   = modelNamed(cases, ours), modelNamed(cases, straightLine)
		mine, rule ratio
		held       ratio
	)
	for _, c := range cases {
		s, l := c.scores[us], c.scores[line]
		if s.Reached && s.Told && l.Asked && l.Told {
			mine.add(math.Abs(s.OffPoint), 1)
			rule.add(math.Abs(l.OffPoint), 1)
		}
		if s.Spread {
			held.add(percent*s.Held[1], 1)
		}
	}
	v.Error, v.Line, v.Held = mine.value(), rule.value(), held.value()
	if v.Held != nil {
		se := math.Sqrt(math.Max(*v.Held*(percent-*v.Held), 0) / float64(held.n))
		v.HeldSE = &se
	}
	v.Beats = v.Error != nil && *v.Error < *v.Line
	v.Calibrated = v.Held != nil && leastHeld <= *v.Held && *v.Held <= mostHeld
	return v
}

func (c *course) outcome(cases []*oneCase) courseOutcome {
	o := courseOutcome{
		ID: c.id, Study: c.study, Group: groupOf(c.origin), Readings: len(c.readings), Assumed: c.facts.assumed,
		After: finite(c.truth.After), By: finite(c.truth.By), Never: c.truth.Never,
	}
	for _, k := range cases {
		o.Cases += count(k.course == c)
	}
	return o
}

func (c *oneCase) outcome() caseOutcome {
	last, t := c.question.last(), c.course.truth
	o := caseOutcome{
		ID: c.course.id, Group: groupOf(c.course.origin), Kind: c.course.kind, Climate: c.course.climate, Schedule: c.course.schedule,
		Grade: c.course.facts.grade, Seen: len(c.question.seen), Last: last.hour, LastPH: last.ph,
		After: finite(t.After), By: finite(t.By), Never: t.Never,
	}
	for _, f := range c.forecasts {
		if f.NotAsked || strings.HasSuffix(f.Model, dressed) {
			continue
		}
		a := answered{Model: f.Model, Median: finite(f.Median), Never: f.Never, Refused: f.Refused}
		if b := f.Bands; b != nil {
			a.P50, a.P80, a.P90 = b[0].hours(), b[1].hours(), b[2].hours()
		}
		o.Forecasts = append(o.Forecasts, a)
	}
	return o
}

func (b band) hours() *hoursBand { return &hoursBand{finite(b.Low), finite(b.High)} }

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
