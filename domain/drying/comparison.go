package drying

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Where the method of a comparison comes from.
var (
	welchSource = source.Citation{
		Title: "Welch, The generalization of Student's problem when several different population variances are involved, Biometrika 34", Year: 1947,
		Section: "pages 28 to 35", Trust: source.Memory,
		Note: "with the degrees of freedom of Satterthwaite, Biometrics Bulletin 2, 1946, page 110; the quantiles were checked against printed tables",
	}
	betweenSource = source.CommonPractice("pieces of one batch lie 2 to 3 points of loss apart (standard deviation, on analysed and weighed series); links of one home batch were told to lie at 35 to 40 percent on one day")
)

// ComparisonSources returns the citations behind a comparison.
func ComparisonSources() []source.Citation {
	return []source.Citation{welchSource, betweenSource}
}

// What stands for the spread between pieces where it is not shown, and the least
// that is believed where it is. Sources: betweenSource; the scale and the meters
// as in the rest of this package and in wateractivity.
const (
	// usualBetween is the standard deviation between pieces of one course, in
	// points of loss, and usualBetweenDegrees how well it is known: 2 to 3, which
	// a standard deviation found from 13 pieces is as sure as, 1/sqrt(2 * 12) being a
	// fifth.
	usualBetween, usualBetweenDegrees = 2.5, 12.0
	// leastBetween is what a hand scale and a damp casing alone put between two
	// pieces, in points of loss: half of what a piece may seem to gain.
	leastBetween = mostGain / 2
	// meterError of a water activity, and laboratoryError of a moisture in points.
	meterError, laboratoryError = 0.003, 0.5
)

// What a comparison is made over.
const (
	// leastRange is how many points of loss two courses must share before their
	// times are compared: twice what a scale may be off.
	leastRange = 2.0
	// ratioLevels is at how many losses the times are compared for the ratio.
	ratioLevels = 9
	// mostGrid bounds the days of a curve.
	mostGrid = 32
	// widest is as far as a ratio is told, either way, and mostDays a time.
	widest, mostDays = 1e6, 100_000.0
	// certainty is how sure it must be that two courses differ.
	certainty = 0.95
)

// Told is a figure with two intervals: the truth is claimed to lie in them in 80
// and in 95 of 100 cases.
type Told[T any] struct {
	Mid      T
	P80, P95 quantity.Between[T]
}

// Basis says where the spread between pieces comes from that an interval holds.
// The zero value is invalid.
type Basis int

// The bases.
const (
	FromPieces  Basis = iota + 1 // from the pieces of both courses
	FromUsual                    // one course has a single piece: the usual spread stands for its own
	FromNothing                  // both have a single piece: nothing of the spread was seen
)

// String returns the word used on the wire.
func (b Basis) String() string {
	switch b {
	case FromPieces:
		return "pieces"
	case FromUsual:
		return "one-piece"
	case FromNothing:
		return "one-piece-each"
	default:
		return "unstated"
	}
}

// Apart says whether a difference can be told from the spread between pieces.
// The zero value is invalid.
type Apart int

// The answers.
const (
	IsHigher Apart = iota + 1 // higher than that of the first course
	IsLower                   // lower
	NotTold                   // it may come from the spread alone
	NotShown                  // there is not enough to compare
)

// String returns the word used on the wire.
func (a Apart) String() string {
	switch a {
	case IsHigher:
		return "higher"
	case IsLower:
		return "lower"
	case NotTold:
		return "not-told-apart"
	case NotShown:
		return "not-shown"
	default:
		return "unstated"
	}
}

// Comparison is what a trial shows.
type Comparison struct {
	Courses  []ComparedCourse // in the order of the trial
	Common   time.Duration    // the day to which the pieces of all courses were followed; zero when there is none
	Against  []Contrast       // each course but the first against the first
	Notes    []finding.Note   // members from the trial down
	Involved []source.Citation
}

// ComparedCourse is one course, aligned on the hanging of its pieces.
type ComparedCourse struct {
	Name   string
	Pieces []ComparedPiece
	Counts int           // pieces that tell of the drying
	Ends   time.Duration // up to when all of those were followed
	Curve  []MeanLoss
	Times  []TimeToLoss
	Rim    Rims
}

// ComparedPiece is one piece.
type ComparedPiece struct {
	Name    string
	Weighed []Weighed // as judged
	Counts  bool      // it tells of the drying
	Hanging quantity.Loss
	Last    quantity.Loss // by the last weigh-in that counts
	Ends    time.Duration // when that was
}

// MeanLoss is the pieces of a course at one time.
type MeanLoss struct {
	Since  time.Duration
	Mean   quantity.Loss
	Spread material.Known[quantity.Loss] // standard deviation between the pieces, of two at least
	Common bool                          // no later than all courses go
}

// TimeToLoss is when the pieces of a course had lost so much.
type TimeToLoss struct {
	Loss     quantity.Loss
	Asked    bool                                // the target of the trial
	Reached  int                                 // pieces that did
	Earliest material.Known[time.Duration]       // of them
	Latest   material.Known[time.Duration]       // known when all did
	Mean     material.Known[Told[time.Duration]] // geometric, known when all did; the interval is of the mean
	Basis    Basis                               // FromPieces or FromUsual where Mean is known
}

// Rims is how much wetter the core is than the rim, over the pieces that both
// were measured of.
type Rims struct {
	Pieces     int
	Difference material.Known[quantity.Ratio]
	Interval   material.Known[Told[quantity.Ratio]] // known from two pieces on
}

// Contrast is a course against the first.
type Contrast struct {
	Course int // its place in the trial
	// Range is the loss over which the times are compared: the upper half of what
	// the pieces of both courses have in common.
	Range material.Known[quantity.Between[quantity.Loss]]
	// Time is the ratio of its times to those of the first to the same loss, over
	// Range: above one it dries slower. Rate is the inverse.
	Time, Rate  material.Known[Told[quantity.Ratio]]
	Basis       Basis
	Slower      Apart // IsHigher: its times are longer
	Levels      []LevelRatio
	Differences []Difference
	Air         AirContrast
}

// LevelRatio is the ratio of the times to one loss.
type LevelRatio struct {
	Loss  quantity.Loss
	Asked bool
	Time  Told[quantity.Ratio]
}

// Figure is what a Difference is of. The zero value is invalid.
type Figure int

// The figures.
const (
	LossOnDay   Figure = iota + 1 // the loss on the last day that both courses have in common
	LastLoss                      // the loss by the last weigh-in, on whichever day
	WetterEnd                     // the water activity of core or rim, whichever is higher
	MoistureEnd                   // the moisture
	CoreOverRim                   // how much wetter the core is than the rim, as water activity
)

// String returns the word used on the wire.
func (f Figure) String() string {
	switch f {
	case LossOnDay:
		return "loss-on-day"
	case LastLoss:
		return "last-loss"
	case WetterEnd:
		return "water-activity"
	case MoistureEnd:
		return "moisture"
	case CoreOverRim:
		return "core-over-rim"
	default:
		return "unstated"
	}
}

// Difference is how far the means of a figure lie apart. Losses and moistures are
// parts of one, a hundredth of a percent.
type Difference struct {
	Figure                    Figure
	Day                       material.Known[time.Duration] // of LossOnDay
	FirstPieces, CoursePieces int
	First, Course, Difference quantity.Ratio
	Interval                  material.Known[Told[quantity.Ratio]]
	Basis                     Basis
	Apart                     Apart
}

// CompareTrial answers a trial. Pieces are the units: what is told of a course is told
// from how its pieces lie about their mean, by Welch's interval, which takes
// neither as many pieces nor the same spread in both. Times are compared as
// logarithms, so that swapping two courses inverts their ratio.
//
// A single piece shows no spread. The usual one stands for it then, of 2.5 points
// of loss, carried to the time, the water activity or the moisture by how those
// go with the loss. And no spread is believed that is less than the scale or the
// meter could make.
//
// All pieces of a course hang in the same room at the same time: the intervals
// hold what other pieces would show there, not what the room would do another
// time.
//
// It reports fault.Invalid with every member at fault, those of pieces as Judge
// does. Weigh-ins that can't be right are left out, as by Judge. The cost is that
// of Judge for every piece: a third of a second for the largest trial.
func CompareTrial(t Trial) (Comparison, error) {
	weighed, err := t.validated()
	if err != nil {
		return Comparison{}, err
	}
	c := comparer{trial: t, weighed: weighed}
	c.follow()
	out := Comparison{Common: fromDays(c.common), Involved: ComparisonSources()}
	for i := range t.Courses {
		out.Courses = append(out.Courses, c.course(i))
	}
	for i := range t.Courses[1:] {
		contrast := c.contrast(i + 1)
		out.Against = append(out.Against, contrast)
	}
	c.remark(out)
	out.Notes = c.notes
	if c.aired {
		out.Involved = append(out.Involved, airContrastSources()...)
	}
	return out, c.err
}

// comparer holds a trial while it is compared.
type comparer struct {
	writer
	trial   Trial
	weighed [][][]Weighed
	tracks  [][]track // of each course, none for a piece that tells nothing
	ends    []float64 // of each course, days; 0 without a track
	common  float64
	aired   bool // some air was compared
	notes   []finding.Note
}

func (c *comparer) note(code string, member fault.Path, from source.Citation, format string, args ...any) {
	c.notes = append(c.notes, finding.Note{Code: code, Member: member, Text: fmt.Sprintf(format, args...), Source: from})
}

// follow makes the tracks, and finds how far they go.
func (c *comparer) follow() {
	c.common = math.Inf(1)
	for i, course := range c.trial.Courses {
		tracks := make([]track, len(course.Pieces))
		end := math.Inf(1)
		for j, p := range course.Pieces {
			tracks[j] = trackOf(p, c.weighed[i][j])
			if tracks[j] != nil {
				end = math.Min(end, tracks[j].last().day)
			}
		}
		if math.IsInf(end, 1) {
			end = 0
		}
		c.tracks, c.ends = append(c.tracks, tracks), append(c.ends, end)
		c.common = math.Min(c.common, end)
	}
}

// told returns the tracks of a course that tell something.
func (c *comparer) told(i int) []track {
	var told []track
	for _, k := range c.tracks[i] {
		if k != nil {
			told = append(told, k)
		}
	}
	return told
}

func (c *comparer) loss(points float64) quantity.Loss {
	l, err := quantity.LossPercent(math.Min(points, 100))
	c.keep(err)
	return l
}

func (c *comparer) ratio(v float64) quantity.Ratio {
	r, err := quantity.NewRatio(v)
	c.keep(err)
	return r
}

// course describes one course.
func (c *comparer) course(i int) ComparedCourse {
	course, told := c.trial.Courses[i], c.told(i)
	out := ComparedCourse{Name: course.Name, Counts: len(told), Ends: fromDays(c.ends[i]), Rim: c.rims(i)}
	for j, p := range course.Pieces {
		piece := ComparedPiece{Name: p.Name, Weighed: c.weighed[i][j]}
		if k := c.tracks[i][j]; k != nil {
			piece.Counts, piece.Hanging, piece.Last, piece.Ends = true, c.loss(k.hanging()), c.loss(k.last().loss), fromDays(k.last().day)
		}
		out.Pieces = append(out.Pieces, piece)
	}
	if len(told) == 0 {
		return out
	}
	for _, day := range c.grid(i) {
		losses := sample{values: each(told, func(k track) float64 { return k.at(day) })}
		at := MeanLoss{Since: fromDays(day), Mean: c.loss(losses.mean()), Common: day <= c.common}
		if len(told) > 1 {
			at.Spread = material.Is(c.loss(losses.sd()))
		}
		out.Curve = append(out.Curve, at)
	}
	for _, level := range c.levels() {
		out.Times = append(out.Times, c.timeTo(i, level))
	}
	return out
}

// grid returns the days of the curve of a course: the same steps in all, so that
// they can be laid side by side, and its end.
func (c *comparer) grid(i int) []float64 {
	longest := slices.Max(c.ends)
	step := 0.25
	for _, days := range []float64{0.5, 1, 2, 3, 7, 14, 28, 56, 112, 224, 448, 1000, 2000, 5000} {
		if longest/step <= mostGrid-3 {
			break
		}
		step = days
	}
	days := []float64{0}
	add := func(day float64) {
		if day > days[len(days)-1] && day <= c.ends[i] {
			days = append(days, day)
		}
	}
	for k := 1; k < mostGrid && float64(k)*step <= c.ends[i]; k++ {
		if c.common > days[len(days)-1] && c.common < float64(k)*step {
			add(c.common)
		}
		add(float64(k) * step)
	}
	add(c.common)
	add(c.ends[i])
	return days
}

// level is a loss of which the days are told.
type level struct {
	loss  float64
	asked bool
}

// levels returns 10, 20 and 30 points and the target, in order.
func (c *comparer) levels() []level {
	levels := []level{{10, false}, {20, false}, {30, false}}
	if target, is := c.trial.Target.Get(); is {
		at := slices.IndexFunc(levels, func(l level) bool { return l.loss == target.Percent() })
		if at >= 0 {
			levels[at].asked = true
		} else {
			levels = append(levels, level{target.Percent(), true})
		}
	}
	slices.SortFunc(levels, func(a, b level) int { return cmp.Compare(a.loss, b.loss) })
	return levels
}

func (c *comparer) timeTo(i int, l level) TimeToLoss {
	out := TimeToLoss{Loss: c.loss(l.loss), Asked: l.asked}
	told := c.told(i)
	var days []float64
	for _, k := range told {
		if day, ok := k.reaches(l.loss); ok {
			days = append(days, day)
		}
	}
	out.Reached = len(days)
	if len(days) == 0 {
		return out
	}
	out.Earliest = material.Is(fromDays(slices.Min(days)))
	if len(days) < len(told) {
		return out
	}
	out.Latest = material.Is(fromDays(slices.Max(days)))
	logs := logTimes(told, []float64{l.loss}, lateOf(told))
	out.Basis = FromPieces
	if len(told) == 1 {
		out.Basis = FromUsual
	}
	out.Mean = material.Is(toldOf(logs.alone(), func(log float64) time.Duration {
		return fromDays(math.Min(math.Exp(math.Min(log, math.Log(mostDays))), mostDays))
	}))
	return out
}

// logTimes returns of each piece the mean over some losses, which all have
// reached since they hung, of the logarithm of the time; and what the usual and
// the least spread of losses are as such a time. The usual one is that of pieces
// that have dried for long: it is carried over at the loss late, the last that is
// compared.
func logTimes(tracks []track, losses []float64, late float64) sample {
	log := func(k track, loss float64) float64 {
		const least = 1e-6 // days: what is there when it is hung is there at once
		day, _ := k.reaches(loss)
		return math.Log(math.Max(day, least))
	}
	// slope is how the logarithm of the time goes with the loss.
	slope := func(k track, loss float64) float64 {
		below := loss - (loss-k.hanging())/4 // near it, and yet further off than a weigh-in is wrong
		return (log(k, loss) - log(k, below)) / (loss - below)
	}
	var s sample
	for _, k := range tracks {
		at := 0.0
		for _, loss := range losses {
			at += log(k, loss)
			s.least += leastBetween * slope(k, loss) / float64(len(tracks)*len(losses))
		}
		s.values = append(s.values, at/float64(len(losses)))
		s.usual += usualBetween * slope(k, late) / float64(len(tracks))
	}
	return s
}

// lateOf returns the loss that all pieces of a course reached.
func lateOf(tracks []track) float64 {
	return slices.Min(each(tracks, func(k track) float64 { return k.last().loss }))
}

// inCommon returns what all pieces of two courses lost between hanging and the
// end, and whether that is enough to compare.
func inCommon(a, b []track) (low, high float64, ok bool) {
	high = math.Inf(1)
	for _, k := range slices.Concat(a, b) {
		low, high = math.Max(low, k.hanging()), math.Min(high, k.last().loss)
	}
	return low, high, len(a) > 0 && len(b) > 0 && high-low >= leastRange
}

// contrast holds a course against the first.
func (c *comparer) contrast(i int) Contrast {
	out := Contrast{Course: i, Slower: NotShown}
	first, other := c.told(0), c.told(i)
	out.Basis = basisOf(len(first), len(other))
	if hung, high, ok := inCommon(first, other); ok {
		low := (hung + high) / 2
		out.Range = material.Is(quantity.Between[quantity.Loss]{Low: c.loss(low), High: c.loss(high)})
		losses := make([]float64, ratioLevels)
		for k := range losses {
			losses[k] = low + (high-low)*float64(k)/(ratioLevels-1)
		}
		losses[ratioLevels-1] = high
		d := against(logTimes(other, losses, high), logTimes(first, losses, high))
		out.Time = material.Is(toldOf(d, c.timesOf))
		out.Rate = material.Is(toldOf(d.negative(), c.timesOf))
		out.Slower = d.apart()
		for _, l := range c.levels() {
			if l.loss < hung+leastRange/2 || l.loss > high {
				continue
			}
			d := against(logTimes(other, []float64{l.loss}, high), logTimes(first, []float64{l.loss}, high))
			out.Levels = append(out.Levels, LevelRatio{Loss: c.loss(l.loss), Asked: l.asked, Time: toldOf(d, c.timesOf)})
		}
	}
	out.Differences = c.differences(i)
	out.Air = c.airContrast(i, out.Range, out.Rate)
	return out
}

// timesOf returns a ratio from its logarithm.
func (c *comparer) timesOf(log float64) quantity.Ratio {
	most := math.Log(widest)
	return c.ratio(math.Exp(math.Min(math.Max(log, -most), most)))
}

func basisOf(first, other int) Basis {
	switch {
	case first > 1 && other > 1:
		return FromPieces
	case first > 1 || other > 1:
		return FromUsual
	default:
		return FromNothing
	}
}

// remark adds what a reader must know.
func (c *comparer) remark(out Comparison) {
	for i, course := range c.trial.Courses {
		c.remarkCourse(i, course, out.Courses[i])
	}
	for k, a := range out.Against {
		c.remarkContrast(a, fault.At("courses", k+1))
	}
	if n := len(out.Against); n > 1 {
		c.note("several-comparisons", nil, welchSource,
			"%d courses are held against the first. Where nothing differs, one in twenty such comparisons is still told apart by chance.", n)
	}
}

func (c *comparer) remarkCourse(i int, course TrialCourse, told ComparedCourse) {
	at := fault.At("courses", i)
	if told.Counts == 1 {
		c.note("one-piece", fault.At("pieces").Under(at), betweenSource,
			"One piece of %s tells of its drying, so that how far its pieces lie apart is not shown. A spread of %.1f points of loss is taken for it. Weigh three or more.",
			quoted(course.Name), usualBetween)
	}
	longest := 0.0
	for _, k := range c.told(i) {
		longest = math.Max(longest, k.last().day)
	}
	const early = 0.8
	var silent, ended, unhung []int
	for j, k := range c.tracks[i] {
		if k == nil {
			silent = append(silent, j)
			continue
		}
		if k.last().day < early*longest {
			ended = append(ended, j)
		}
		if -k[0].day > inDays(nearHanging) && !slices.ContainsFunc(k[1:], func(at knot) bool { return math.Abs(at.day) <= inDays(nearHanging) }) {
			unhung = append(unhung, j)
		}
	}
	note := func(code, member, text string, which []int) {
		if len(which) == 0 {
			return
		}
		path := fault.At("pieces").Under(at)
		if len(which) == 1 {
			path = fault.At("pieces", which[0], member).Under(at)
		}
		c.note(code, path, source.Citation{}, "Of %s: "+text, course.names(which))
	}
	note("no-weigh-in", "weigh_ins", "no weigh-in that counts is from after the hanging, so that nothing is told of the drying.", silent)
	note("ends-early", "weigh_ins", "others of the course were weighed for longer; the course is compared up to the day when the first piece was weighed last.", ended)
	note("loss-at-hanging-unknown", "hung_at",
		"nobody weighed within half a day of the hanging. What was lost by then is taken evenly between the weigh-ins around it.", unhung)
}

// names returns the names of some pieces, for people.
func (t TrialCourse) names(which []int) string {
	const most = 5
	var names []string
	for _, j := range which[:min(len(which), most)] {
		names = append(names, quoted(t.Pieces[j].Name))
	}
	if more := len(which) - most; more > 0 {
		names = append(names, fmt.Sprintf("%d more", more))
	}
	return strings.Join(names, ", ")
}

func quoted(name string) string { return `"` + name + `"` }

func (c *comparer) remarkContrast(a Contrast, at fault.Path) {
	first, other := c.told(0), c.told(a.Course)
	name, than := quoted(c.trial.Courses[a.Course].Name), quoted(c.trial.Courses[0].Name)
	span, compared := a.Range.Get()
	if !compared {
		c.note("no-common-loss", at, source.Citation{},
			"%s and %s have not lost the same by %.0f points or more, so that their times can't be compared.", name, than, leastRange)
		return
	}
	const near = 1.0
	if x, y := lateOf(first), lateOf(other); math.Abs(x-y) > near {
		short := than
		if y < x {
			short = name
		}
		c.note("common-range", at, source.Citation{},
			"Times are compared up to a loss of %.1f %%, which all pieces of both reached; %s went no further. What comes after is not compared.", span.High.Percent(), short)
	}
	hanging := func(tracks []track) float64 {
		return sample{values: each(tracks, track.hanging)}.mean()
	}
	if x, y := hanging(first), hanging(other); math.Abs(x-y) > near {
		c.note("different-start", at, source.Citation{},
			"By hanging %s had lost %.1f %% and %s %.1f %%. Days count from hanging, so that this difference is part of the ratio.", than, x, name, y)
	}
	// Before the first weigh-in of a piece its time is the interpolation's.
	weighed := slices.Max(each(slices.Concat(first, other), track.first))
	levels := slices.DeleteFunc(slices.Clone(a.Levels), func(l LevelRatio) bool { return l.Loss.Percent() < weighed })
	if n := len(levels); n > 1 {
		const much = 1.25
		low, high := levels[0], levels[n-1]
		if change := high.Time.Mid.Float() / low.Time.Mid.Float(); change > much || change < 1/much {
			c.note("ratio-changes", at, source.Citation{},
				"The ratio is not one figure: %.2g to a loss of %.3g %%, %.2g to %.3g %%. What differs counts more at one end than at the other, as a bag or a casing does early and the inside of a piece late.",
				low.Time.Mid.Float(), low.Loss.Percent(), high.Time.Mid.Float(), high.Loss.Percent())
		}
	}
}
