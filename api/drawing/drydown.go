package drawing

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"
)

// Outcome is what kind of answer a projection is. The zero value can't be drawn.
type Outcome int

// The outcomes.
const (
	Projected         Outcome = iota + 1 // the target is reached on a day
	AlreadyThere                         // it has been reached
	NotAtThisHumidity                    // the drying stops before it
	IllDetermined                        // the drying stops so near to it that a day means little
)

// DryDown is the chart of a piece that hangs and dries: the loss of weight against
// the days since hanging, as weighed and as expected, and on which day the target
// is reached.
//
// The loss climbs from the bottom: the line goes up to the target as the work goes
// on, and a figure read off the chart is the one of the question, "how much has it
// lost?". Turned upside down, the picture would be that of the weight, whose axis
// nobody reads in percent.
type DryDown struct {
	Subject string    // the piece, such as its name; may be empty
	HungOn  time.Time // the instant of hanging, in the zone that dates are to be told in; zero for no dates
	Outcome Outcome
	Target  float64 // percent of the green weight, above 0 to 100

	WeighIns []WeighIn // ascending; may be empty
	// Course is the loss that is expected, from hanging on, ascending; may be empty
	// when there are weigh-ins.
	Course []CoursePoint
	// Now is the day up to which Course looks back and from which it looks ahead; 0
	// is the day of hanging.
	Now float64

	Sealed  []Span    // days on which the piece is sealed and does not dry, in order; hatched
	Changes []float64 // days on which the air changes, ascending; marked along the axis

	Day   *TargetDay // when the target is reached; nil where it makes no sense, never nil when Projected
	Stops *float64   // percent at which the drying stops; drawn when NotAtThisHumidity or IllDetermined, which want it
}

// The bounds of what can be drawn.
const (
	earliestDay  = -1000.0 // before hanging
	latestDay    = 20_000.0
	mostGain     = -100.0 // percent of loss
	mostLoss     = 200.0  // the upper end of a band may be past what there is to lose
	doubtfulLoss = 1e6    // either way: a slip of the scale may be of any size
	nestSlack    = 0.05   // percent or days, by which a band may stick out of the next wider one
)

// WeighIn is a loss as it was weighed.
type WeighIn struct {
	Days     float64 // since hanging, may be negative
	Loss     float64 // percent of the green weight
	Doubtful bool    // it was left out, and is drawn as a hollow cross
}

// Span is an interval, lower end first.
type Span struct{ Low, High float64 }

// CoursePoint is the loss expected on a day, in percent, with nested intervals
// that hold the truth in 50, 80 and 90 % of cases.
type CoursePoint struct {
	Days          float64 // since hanging, not negative
	Median        float64
	P50, P80, P90 Span
}

// TargetDay is the day on which the target is reached, with the same intervals.
// Positive infinity stands for never.
type TargetDay struct {
	Median        float64
	P50, P80, P90 Span
}

// SVG writes the chart as SVG.
func (c DryDown) SVG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writeSVG(w)
}

// PNG writes the chart as PNG.
func (c DryDown) PNG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writePNG(w)
}

func (c DryDown) validate() error {
	if c.Outcome < Projected || c.Outcome > IllDetermined {
		return undrawable("no outcome")
	}
	if len(c.Course) == 0 && len(c.WeighIns) == 0 {
		return undrawable("neither weigh-ins nor a course")
	}
	if y := c.HungOn.Year(); !c.HungOn.IsZero() && (y < 1 || y > 9900) {
		return undrawable("year %d of hanging", y)
	}
	const leastTarget = 0.1
	if err := within("target", c.Target, leastTarget, 100); err != nil {
		return err
	}
	if err := within("present day", c.Now, 0, latestDay); err != nil {
		return err
	}
	if c.Stops != nil {
		if err := within("loss at which drying stops", *c.Stops, mostGain, mostLoss); err != nil {
			return err
		}
	}
	if c.Stops == nil && (c.Outcome == NotAtThisHumidity || c.Outcome == IllDetermined) {
		return undrawable("no loss at which the drying stops")
	}
	if err := c.validateDay(); err != nil {
		return err
	}
	ends := make([]float64, 0, 2*len(c.Sealed))
	for _, s := range c.Sealed {
		ends = append(ends, s.Low, s.High)
	}
	if err := errors.Join(
		ascending("day of sealing", len(ends), func(i int) float64 { return ends[i] }, 0, latestDay),
		ascending("day of a change of air", len(c.Changes), func(i int) float64 { return c.Changes[i] }, 0, latestDay),
	); err != nil {
		return err
	}
	return c.validateSeries()
}

func (c DryDown) validateDay() error {
	if c.Day == nil {
		if c.Outcome == Projected {
			return undrawable("no day of the target")
		}
		return nil
	}
	if c.Outcome == Projected && math.IsInf(c.Day.Median, 1) {
		return undrawable("the day of the target never comes")
	}
	ends := []float64{c.Day.P90.Low, c.Day.P80.Low, c.Day.P50.Low, c.Day.Median, c.Day.P50.High, c.Day.P80.High, c.Day.P90.High}
	for _, d := range ends {
		if math.IsInf(d, 1) {
			continue
		}
		if err := within("day of the target", d, 0, latestDay); err != nil {
			return err
		}
	}
	return nested(ends)
}

func (c DryDown) validateSeries() error {
	weighed, course := c.WeighIns, c.Course
	if err := errors.Join(
		ascending("day of a weigh-in", len(weighed), func(i int) float64 { return weighed[i].Days }, earliestDay, latestDay),
		ascending("day of the course", len(course), func(i int) float64 { return course[i].Days }, 0, latestDay),
	); err != nil {
		return err
	}
	for i, w := range weighed {
		low, high := mostGain, mostLoss
		if w.Doubtful {
			low, high = -doubtfulLoss, doubtfulLoss
		}
		if err := within("loss", w.Loss, low, high); err != nil {
			return fmt.Errorf("weigh-in %d: %w", i, err)
		}
	}
	for i, p := range course {
		losses := []float64{p.P90.Low, p.P80.Low, p.P50.Low, p.Median, p.P50.High, p.P80.High, p.P90.High}
		err := allWithin("loss", len(losses), func(k int) float64 { return losses[k] }, mostGain, mostLoss)
		if err == nil {
			err = nested(losses)
		}
		if err != nil {
			return fmt.Errorf("course %d: %w", i, err)
		}
	}
	return nil
}

// nested reports the ends of intervals that are not one inside the other.
func nested(ends []float64) error {
	for i := 1; i < len(ends); i++ {
		if ends[i] < ends[i-1]-nestSlack {
			return undrawable("bands are not nested: %v after %v", ends[i], ends[i-1])
		}
	}
	return nil
}

// latest returns the last weigh-in that counts.
func (c DryDown) latest() (WeighIn, bool) {
	for _, w := range slices.Backward(c.WeighIns) {
		if !w.Doubtful {
			return w, true
		}
	}
	return WeighIn{}, false
}

func (c DryDown) doubtful() int {
	n := 0
	for _, w := range c.WeighIns {
		if w.Doubtful {
			n++
		}
	}
	return n
}

// dayText returns a day: whole, or of the first ten to a tenth.
func dayText(d float64) string {
	const first = 10
	if d < first {
		return decimal(d, 1)
	}
	return decimal(math.Round(d), 0)
}

// title says the outcome in words.
func (c DryDown) title() string {
	target := decimal(c.Target, 2) + " %"
	switch c.Outcome {
	case AlreadyThere:
		if w, ok := c.latest(); ok {
			return fmt.Sprintf("Already there: %s %% on day %s, target %s", against(w.Loss, c.Target, 1), dayText(w.Days), target)
		}
		return "Already there: past the target of " + target
	case NotAtThisHumidity:
		return fmt.Sprintf("Not at this humidity: stops near %s %%, target %s", against(*c.Stops, c.Target, 0), target)
	case IllDetermined:
		return fmt.Sprintf("Day uncertain: stops near %s %%, target %s", against(*c.Stops, c.Target, 0), target)
	default:
		return fmt.Sprintf("%s on day %s (80 %%: %s)", target, dayText(c.Day.Median), c.Day.P80.words(dayText))
	}
}

// words returns an interval of days.
func (s Span) words(text func(float64) string) string {
	switch {
	case math.IsInf(s.Low, 1):
		return "never"
	case math.IsInf(s.High, 1):
		return text(s.Low) + " or later"
	case text(s.Low) == text(s.High):
		return text(s.Low)
	default:
		return text(s.Low) + "–" + text(s.High)
	}
}

// date returns the date of a day.
func (c DryDown) date(days float64, layout string) string {
	return c.HungOn.Add(time.Duration(days * 24 * float64(time.Hour))).Format(layout)
}

// lines say what the title leaves: the dates, or the day where it is uncertain,
// and what it rests on.
func (c DryDown) lines() []string {
	var lines []string
	if d := c.Day; d != nil && c.Outcome != AlreadyThere {
		if c.Outcome != Projected {
			day := "about day " + dayText(d.Median)
			if math.IsInf(d.Median, 1) {
				day = "likely never"
			}
			within := d.P80.words(dayText)
			if !math.IsInf(d.P80.Low, 1) {
				within = "day " + within
			}
			lines = append(lines, fmt.Sprintf("%s %% %s (80 %%: %s)", decimal(c.Target, 2), day, within))
		} else if !c.HungOn.IsZero() {
			dates := d.P80.words(func(days float64) string { return c.date(days, "2 Jan") })
			lines = append(lines, c.date(d.Median, "Mon 2 Jan 2006")+" (80 %: "+dates+")")
		}
	}
	return append(lines, c.basis())
}

// basis says how many weigh-ins there are.
func (c DryDown) basis() string {
	n, doubtful := len(c.WeighIns), c.doubtful()
	text := plural(n, "weigh-in")
	if n == 0 {
		text = "before any weigh-in"
	}
	if doubtful > 0 {
		text += fmt.Sprintf(", %d of them doubtful", doubtful)
	}
	if w, ok := c.latest(); ok && c.Outcome != AlreadyThere {
		text += fmt.Sprintf("; %s %% lost by day %s", against(w.Loss, c.Target, 1), dayText(w.Days))
	}
	return text
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// desc tells the picture to those who do not see it.
func (c DryDown) desc() string {
	d := "Loss in percent of the green weight against the days since hanging"
	if !c.HungOn.IsZero() {
		d += " on " + c.HungOn.Format("2 Jan 2006")
	}
	d += fmt.Sprintf(". Target %s %%. ", decimal(c.Target, 2))
	d += strings.Join(c.lines(), ". ") + ". "
	if n := len(c.Sealed); n > 0 {
		d += fmt.Sprintf("Sealed %s, first from day %s to %s. ", times(n), dayText(c.Sealed[0].Low), dayText(c.Sealed[0].High))
	}
	if n := len(c.Changes); n > 0 {
		d += fmt.Sprintf("The air changes %s, first on day %s. ", times(n), dayText(c.Changes[0]))
	}
	if n := len(c.Course); n > 0 {
		last := c.Course[n-1]
		d += fmt.Sprintf("Expected on day %s: %s %% (80 %%: %s–%s).", dayText(last.Days),
			decimal(last.Median, 1), decimal(last.P80.Low, 1), decimal(last.P80.High, 1))
	}
	return d
}

// days returns from when to when the horizontal axis goes: over all that was
// weighed, and as far ahead as the target day and its bands, but no band so wide
// that the rest would shrink to nothing; without a day, until the course has
// levelled off.
func (c DryDown) days() (from, to float64) {
	const (
		least    = 7.0 // days
		farthest = 3.0 // times the median day, or the present: the farthest end of a band that is drawn whole
		level    = 0.5 // percent from its end: the course has levelled off
		onward   = 1.3
	)
	end := c.Now
	if n := len(c.WeighIns); n > 0 {
		from, end = math.Min(0, c.WeighIns[0].Days), math.Max(end, c.WeighIns[n-1].Days)
		from -= 0.02 * (end - from) * math.Min(1, -from) // a point before hanging stands clear of the edge
	}
	toDay := false
	if d := c.Day; d != nil {
		anchor := end
		told := math.Inf(1) // as far as there is a curve, or the rest of the picture would be empty
		if n := len(c.Course); n > 0 {
			told = onward * c.Course[n-1].Days
		}
		for _, low := range []float64{d.Median, d.P50.Low, d.P80.Low, d.P90.Low} {
			if !math.IsInf(low, 1) && low <= told {
				anchor, toDay = math.Max(anchor, low), true
				break
			}
		}
		end = anchor
		for _, high := range []float64{d.P50.High, d.P80.High, d.P90.High} {
			if high <= farthest*anchor {
				end = math.Max(end, high)
			}
		}
	}
	switch n := len(c.Course); {
	case n == 0 || toDay:
	case c.Outcome == AlreadyThere:
		end = math.Max(end, math.Min(c.Course[n-1].Days, onward*end))
	default:
		last := c.Course[n-1]
		levelled := slices.IndexFunc(c.Course, func(p CoursePoint) bool { return p.Median >= last.Median-level })
		end = math.Max(end, math.Min(last.Days, onward*math.Max(end, c.Course[levelled].Days)))
	}
	return from, math.Max(from+least, end+0.04*(end-from))
}

// dayOfEdge returns the last day of the picture.
func (c DryDown) dayOfEdge() float64 {
	_, to := c.days()
	return to
}

// curve returns one value of the course by day, up to a day.
func (c DryDown) curve(to float64, value func(CoursePoint) float64) []point {
	line := make([]point, len(c.Course))
	for i, p := range c.Course {
		line[i] = point{p.Days, value(p)}
	}
	line, _ = split(line, to)
	return thinned(line)
}

// losses returns the least and the greatest loss to be shown up to a day. Of the
// doubtful weigh-ins only those near the others count: the rest is drawn at the
// edge.
func (c DryDown) losses(to float64) (low, high float64) {
	const near = 1.25
	high = c.Target
	see := func(v float64) { low, high = math.Min(low, v), math.Max(high, v) }
	for _, w := range c.WeighIns {
		if !w.Doubtful {
			see(w.Loss)
		}
	}
	for _, p := range c.curve(to, func(p CoursePoint) float64 { return p.P90.Low }) {
		see(p.y)
	}
	for _, p := range c.curve(to, func(p CoursePoint) float64 { return p.P90.High }) {
		see(p.y)
	}
	for _, p := range c.curve(to, func(p CoursePoint) float64 { return p.Median }) {
		see(p.y)
	}
	if c.stops() {
		see(*c.Stops)
	}
	reach := near * high
	for _, w := range c.WeighIns {
		if w.Doubtful && w.Loss <= reach && w.Loss >= low-(near-1)*high {
			see(w.Loss)
		}
	}
	return low, high
}

// stops reports whether the loss at which the drying stops is drawn.
func (c DryDown) stops() bool {
	return c.Stops != nil && (c.Outcome == NotAtThisHumidity || c.Outcome == IllDetermined)
}

func (c DryDown) scene() (*scene, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	s := &scene{title: c.title(), desc: c.desc()}
	if subject := plain(c.Subject); subject != "" {
		s.title = subject + ". " + s.title
	}
	y := s.head(plain(c.Subject), titleBold.wrap(c.title(), inside.x1-inside.x0, 2), c.lines()...) + 8
	y = c.key(s, y)
	y += 30
	s.write("caption", "loss, % of the green weight", small, grey, inside.x0, y-12, atStart)

	const (
		head     = 28.0 // above the highest line, so that a label has room there
		atBottom = 52.0 // figures and name of the days
		laneDeep = 24.0 // the band of the target day
	)
	from, to := c.days()
	low, high := c.losses(to)
	area := box{0, y, inside.x1 - 8, Height - atBottom}
	lane := c.lane(to)
	if lane {
		area.y1 -= laneDeep
	}
	part := head / (area.y1 - area.y0)
	high = low + math.Max(2, high-low)/(1-part)
	if low < 0 {
		low -= 0.05 * (high - low)
	}
	scale := axis{low: low, high: high}
	step := scale.roundStep(6)
	area.x0 = gutter(figures(scale, step)...)
	p := newPanel(area, from, to, low, high)

	p.rule(s, step)
	c.bands(s, p)
	hatch(s, p, c.sealed(p.x.high), sealedPen)
	c.changes(s, p)
	places := &placer{area: box{area.x0, area.y0, area.x1, area.y1 - 2}}
	c.levels(s, p, places)
	c.median(s, p, places)
	if lane {
		c.drawLane(s, p, places)
	}
	c.weighed(s, p, places)
	c.labels(s, p, places)

	below := p
	if lane {
		below.area.y1 += laneDeep
	}
	below.count(s, daySteps, below.area.y1+22)
	c.name(s, p)
	return s, nil
}

// lane reports whether some of the target day is before a day, so that a lane is
// kept for it.
func (c DryDown) lane(to float64) bool {
	return c.Day != nil && c.Day.P90.Low < to
}

// name writes what the horizontal axis is, and the dates at its ends.
func (c DryDown) name(s *scene, p panel) {
	const baseline = Height - 10
	if c.HungOn.IsZero() {
		s.write("caption", "days since hanging", small, grey, (p.area.x0+p.area.x1)/2, baseline, atMiddle)
		return
	}
	const layout = "2 Jan 2006"
	left := s.write("date", c.date(p.x.low, layout), small, grey, p.area.x0, baseline, atStart)
	right := s.write("date", c.date(p.x.high, layout), small, grey, p.area.x1, baseline, atEnd)
	s.write("caption", "days since hanging", small, grey, (left.x1+right.x0)/2, baseline, atMiddle)
}

// The edges of the bands, which tell them apart where their shades do not.
var (
	edge50 = pen{color: edge, width: 1.25}
	edge80 = pen{color: edge, width: 1.25, dash: []float64{6, 3}}
	edge90 = pen{color: edge, width: 1.25, dash: []float64{1.5, 3}}
)

// sealedPen hatches the days on which the piece is sealed: through it the rest must
// stay readable.
var sealedPen = pen{color: edge, width: 0.75}

// bands draws the bands of the course, the widest first.
func (c DryDown) bands(s *scene, p panel) {
	type band struct {
		class string
		of    func(CoursePoint) Span
		fill  func(...point)
		edge  pen
	}
	for _, b := range []band{
		{"90", func(q CoursePoint) Span { return q.P90 }, func(at ...point) { s.area("band-90", tint90, at...) }, edge90},
		{"80", func(q CoursePoint) Span { return q.P80 }, func(at ...point) { s.area("band-80", tint80, at...) }, edge80},
		{"50", func(q CoursePoint) Span { return q.P50 }, func(at ...point) { s.area("band-50", tint50, at...) }, edge50},
	} {
		low := p.path(c.curve(p.x.high, func(q CoursePoint) float64 { return b.of(q).Low }))
		high := p.path(c.curve(p.x.high, func(q CoursePoint) float64 { return b.of(q).High }))
		around := slices.Clone(low)
		for _, at := range slices.Backward(high) {
			around = append(around, at)
		}
		b.fill(around...)
		s.line("edge-"+b.class, b.edge, low...)
		s.line("edge-"+b.class, b.edge, high...)
	}
}

// sealed returns the times in the picture in which the piece is sealed.
func (c DryDown) sealed(to float64) []Gap {
	var gaps []Gap
	for _, s := range c.Sealed {
		if s.Low < to {
			gaps = append(gaps, Gap{From: s.Low, To: s.High})
		}
	}
	return drawnGaps(gaps)
}

// changes marks along the axis when the air changes.
func (c DryDown) changes(s *scene, p panel) {
	const tick = 12.0
	for _, day := range c.Changes {
		if day < p.x.high {
			x := p.x.at(day)
			s.line("air-changes", pen{color: ink, width: 2}, point{x, p.area.y1 - tick}, point{x, p.area.y1})
		}
	}
}

// levels draws the horizontal lines: the target, and where the drying stops.
func (c DryDown) levels(s *scene, p panel, places *placer) {
	target := p.y.at(c.Target)
	s.line("target", pen{color: green, width: 2.25}, point{p.area.x0, target}, point{p.area.x1, target})
	places.avoid(point{p.area.x0, target}, point{p.area.x1, target})
	if c.stops() {
		y := p.y.at(*c.Stops)
		s.line("stops", pen{color: red, width: 2, dash: []float64{9, 5}}, point{p.area.x0, y}, point{p.area.x1, y})
		places.avoid(point{p.area.x0, y}, point{p.area.x1, y})
	}
}

// ahead is how a line is dashed that looks ahead.
var ahead = []float64{8, 4}

// median draws the median of the course, solid as far as it looks back, dashed
// ahead.
func (c DryDown) median(s *scene, p panel, places *placer) {
	line := c.curve(p.x.high, func(q CoursePoint) float64 { return q.Median })
	before, after := split(line, c.Now)
	s.line("median", pen{color: blue, width: 2.75}, p.path(before)...)
	s.line("median-ahead", pen{color: blue, width: 2.75, dash: ahead}, p.path(after)...)
	places.avoid(p.path(line)...)
	if c.Now > 0 && c.Now < p.x.high {
		x := p.x.at(c.Now)
		s.line("present", pen{color: grey, width: 1.25, dash: []float64{2, 4}}, point{x, p.area.y0}, point{x, p.area.y1})
		places.avoid(point{x, p.area.y0}, point{x, p.area.y1})
	}
}

// drawLane draws the band of the target day along the horizontal axis.
func (c DryDown) drawLane(s *scene, p panel, places *placer) {
	const (
		gap  = 6.0
		deep = 14.0
	)
	top := p.area.y1 + gap
	type bar struct {
		class string
		span  Span
		draw  func(...point)
		edge  pen
	}
	for _, b := range []bar{
		{"day-90", c.Day.P90, func(at ...point) { s.area("day-90", tint90, at...) }, edge90},
		{"day-80", c.Day.P80, func(at ...point) { s.area("day-80", tint80, at...) }, edge80},
		{"day-50", c.Day.P50, func(at ...point) { s.area("day-50", tint50, at...) }, edge50},
	} {
		if b.span.Low >= p.x.high {
			continue
		}
		r := box{p.x.at(b.span.Low), top, p.x.at(math.Min(b.span.High, p.x.high)), top + deep}
		b.draw(r.corners()...)
		s.outline(b.class+"-edge", b.edge, r.corners()...)
	}
	if c.Day.P90.High > p.x.high { // it goes on
		x, y := p.area.x1, top+deep/2
		s.area("onward", edge, point{x, y - 6}, point{x + 8, y}, point{x, y + 6})
	}
	if c.Day.Median < p.x.high {
		x := p.x.at(c.Day.Median)
		drop := pen{color: ink, width: 1.25, dash: []float64{3, 3}}
		s.line("drop", drop, point{x, p.y.at(c.Target)}, point{x, top})
		s.line("day-median", pen{color: ink, width: 3}, point{x, top - 2}, point{x, top + deep + 2})
		places.avoid(point{x, p.y.at(c.Target)}, point{x, p.area.y1})
	}
}

// weighed draws the weigh-ins, the doubtful over the others.
func (c DryDown) weighed(s *scene, p panel, places *placer) {
	const (
		many   = 60
		radius = 5.0
		less   = 2.0
		arms   = 6.5
		away   = 18.0 // from the edge, for an arrow with wings and tip
		wing   = 5.0
		tip    = 8.0
	)
	var good, doubtful []point
	for _, w := range c.WeighIns {
		if w.Doubtful {
			doubtful = append(doubtful, point{w.Days, w.Loss})
		} else {
			good = append(good, point{w.Days, w.Loss})
		}
	}
	r := radius
	if len(good) > many {
		r = less
	}
	for _, at := range p.path(thinned(good)) {
		if len(good) > many {
			s.dot("weigh-in", ink, at, r)
		} else {
			s.rimmed("weigh-in", ink, at, r)
		}
		places.avoid(point{at.x - r, at.y - r}, point{at.x + r, at.y + r})
	}
	for _, v := range thinned(doubtful) {
		at := p.at(v.x, math.Max(p.y.low, math.Min(v.y, p.y.high)))
		switch { // one that is far off stands at the edge, with an arrow
		case v.y > p.y.high:
			at.y += away
			s.area("beyond", ink, point{at.x - wing, at.y - away + tip}, point{at.x, at.y - away}, point{at.x + wing, at.y - away + tip})
		case v.y < p.y.low:
			at.y -= away
			s.area("beyond", ink, point{at.x - wing, at.y + away - tip}, point{at.x, at.y + away}, point{at.x + wing, at.y + away - tip})
		}
		s.cross("doubtful", at, arms)
		for dy := -away; dy <= away; dy += arms { // the arrow too, on whichever side it is
			places.avoid(point{at.x - 2*arms, at.y + dy}, point{at.x + 2*arms, at.y + dy})
		}
	}
}

// labels writes the names of the lines where they run.
func (c DryDown) labels(s *scene, p panel, places *placer) {
	target := "target " + decimal(c.Target, 2) + " %"
	places.place(s, "target-label", target, smallBold, green,
		along(p.area.x0, p.area.x1, p.y.at(c.Target), smallBold.width(target)))
	if c.stops() {
		stops := "stops near " + against(*c.Stops, c.Target, 0) + " %"
		spots := along(p.area.x0, p.area.x1, p.y.at(*c.Stops), smallBold.width(stops))
		if *c.Stops <= c.Target {
			slices.Reverse(spots)
		}
		places.place(s, "stops-label", stops, smallBold, red, spots)
	}
	if c.Day != nil && c.Day.Median < p.x.high {
		day := "day " + dayText(c.Day.Median)
		at := point{p.x.at(c.Day.Median), p.area.y1}
		w := smallBold.width(day)
		places.place(s, "day-label", day, smallBold, ink, []spot{
			{point{at.x + 7, at.y - 8}}, {point{at.x - 7 - w, at.y - 8}},
			{point{at.x + 7, at.y - 30}}, {point{at.x - 7 - w, at.y - 30}},
		})
	}
	if c.Now > 0 && c.Now < p.x.high {
		now := "now"
		x := p.x.at(c.Now)
		for _, g := range c.sealed(p.x.high) { // light figures on the hatching can't be read
			for _, at := range []float64{g.From, (g.From + g.To) / 2, g.To} {
				places.avoid(point{p.x.at(at), p.area.y0}, point{p.x.at(at), p.area.y1})
			}
		}
		w := small.width(now)
		var spots []spot
		for _, y := range []float64{p.area.y0 + 16, p.area.y0 + 38, p.area.y1 - 8, p.area.y1 - 30, p.area.y0 + 60} {
			spots = append(spots, spot{point{x - 5 - w, y}}, spot{point{x + 5, y}})
		}
		places.place(s, "present-label", now, small, grey, spots)
	}
}

// key writes what the points and shades are, in rows, and returns where the last
// ends.
func (c DryDown) key(s *scene, y float64) float64 {
	const (
		between = 12.0
		room    = 6.0
		sample  = 26.0
		spread  = 18.0
	)
	type entry struct {
		text  string
		width float64
		draw  func(x, y float64)
	}
	var entries []entry
	if _, ok := c.latest(); ok {
		entries = append(entries, entry{"weighed", 12, func(x, y float64) { s.rimmed("key", ink, point{x + 6, y}, 5) }})
	}
	if c.doubtful() > 0 {
		entries = append(entries, entry{"doubtful", 14, func(x, y float64) { s.cross("key", point{x + 7, y}, 6.5) }})
	}
	if to := c.dayOfEdge(); len(c.sealed(to)) > 0 {
		entries = append(entries, entry{"sealed", spread, func(x, y float64) {
			for i := range 3 {
				at := x + 6*float64(i)
				s.line("key", sealedPen, point{at, y + 7}, point{at + 6, y - 7})
			}
		}})
	}
	if to := c.dayOfEdge(); len(c.Changes) > 0 && c.Changes[0] < to {
		entries = append(entries, entry{"air changes", 4, func(x, y float64) {
			s.line("key", pen{color: ink, width: 2}, point{x + 2, y - 6}, point{x + 2, y + 6})
		}})
	}
	if len(c.Course) > 0 {
		entries = append(entries, entry{"median", sample, func(x, y float64) {
			line := pen{color: blue, width: 2.75}
			if c.Now == 0 {
				line.dash = ahead
			}
			s.line("key", line, point{x, y}, point{x + sample, y})
		}})
	}
	if len(c.Course) > 0 || c.Day != nil {
		swatch := func(fill func(...point), rim pen) func(x, y float64) {
			return func(x, y float64) {
				r := box{x, y - 7, x + spread, y + 7}
				fill(r.corners()...)
				s.outline("key", rim, r.corners()...)
			}
		}
		entries = append(entries,
			entry{"50 %", spread, swatch(func(at ...point) { s.area("key", tint50, at...) }, edge50)},
			entry{"80 %", spread, swatch(func(at ...point) { s.area("key", tint80, at...) }, edge80)},
			entry{"90 %", spread, swatch(func(at ...point) { s.area("key", tint90, at...) }, edge90)})
	}
	x := inside.x0
	y += 22
	for _, e := range entries {
		w := e.width + room + small.width(e.text)
		if x+w > inside.x1 {
			x, y = inside.x0, y+22
		}
		e.draw(x, y-10)
		s.write("key-label", e.text, small, ink, x+e.width+room, y-5, atStart)
		x += w + between
	}
	return y
}
