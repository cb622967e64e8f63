package drawing

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// AcidOutcome is what kind of answer a projection of the pH is. The zero value
// can't be drawn.
type AcidOutcome int

// The outcomes.
const (
	AcidProjected    AcidOutcome = iota + 1 // the pH is reached at a time
	AcidThere                               // it has been read
	AcidMayNotReach                         // it is rather reached than not
	AcidWillNotReach                        // more likely than not it is not
)

// Acidification is the chart of the pH of a fermenting sausage: above, the pH as
// read and as expected with its bands, falling towards 5.3 and the target, and
// when the limit on degree-hours is reached; below, on the same hours, the
// chamber and the core.
type Acidification struct {
	Subject string // what ferments; may be empty
	Outcome AcidOutcome
	Scale   Scale

	PH     float64  // that is to be reached, 3 to 7
	Target *float64 // another that is wanted

	Readings []PHPoint   // in order of time; may be empty
	Course   []AcidPoint // ascending, one at least
	Chamber  []Reading   // straight between the readings; two at the same hour are a step. One at least
	Now      float64     // hours up to which the course looks back

	Time  *TargetTime // when PH is reached; nil where it has been read
	Read  float64     // hours when it was read, where Time is nil
	Limit *float64    // hours at which the limit on degree-hours is reached; nil when it is not

	Sum *SumPanel // the degree-hours so far, between the two; nil for none
}

// PHPoint is a pH as it was read, with both ends of what it may be.
type PHPoint struct {
	Hours    float64 // may be negative
	PH       float64
	Off      Span
	Doubtful bool
}

// AcidPoint is the sausage at an hour: the pH with nested intervals that hold
// the truth in 50, 80 and 90 % of cases, and the temperatures.
type AcidPoint struct {
	Hours         float64
	Median        float64
	P50, P80, P90 Span
	Core          float64 // temperature
}

// TargetTime is the hour at which a pH is reached, with the same intervals.
// Positive infinity stands for never.
type TargetTime struct {
	Median        float64
	P50, P80, P90 Span
}

// latestHour bounds what can be drawn.
const latestHour = 20_000.0

// SVG writes the chart as SVG.
func (c Acidification) SVG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writeSVG(w)
}

// PNG writes the chart as PNG.
func (c Acidification) PNG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writePNG(w)
}

func (c Acidification) validate() error {
	if c.Outcome < AcidProjected || c.Outcome > AcidWillNotReach {
		return undrawable("no outcome")
	}
	if c.Scale != Celsius && c.Scale != Fahrenheit {
		return undrawable("no scale")
	}
	if len(c.Course) == 0 || len(c.Chamber) == 0 {
		return undrawable("no course, or no chamber")
	}
	if (c.Time == nil) != (c.Outcome == AcidThere) {
		return undrawable("a time to come goes with a pH that has not been read")
	}
	const lowest, highest = 0.0, 14.0
	err := errors.Join(
		within("pH to be reached", c.PH, 3, 7), within("present hour", c.Now, 0, latestHour), within("hour of the reading", c.Read, 0, latestHour),
		ascending("hour of a reading", len(c.Readings), func(i int) float64 { return c.Readings[i].Hours }, -latestHour, latestHour),
		ascending("hour of the course", len(c.Course), func(i int) float64 { return c.Course[i].Hours }, 0, latestHour),
		ascending("hour of the chamber", len(c.Chamber), func(i int) float64 { return c.Chamber[i].Hours }, 0, latestHour),
		allWithin("chamber", len(c.Chamber), func(i int) float64 { return c.Chamber[i].Temperature }, -200, 1000),
		allWithin("core", len(c.Course), func(i int) float64 { return c.Course[i].Core }, -200, 1000),
	)
	if c.Target != nil {
		err = errors.Join(err, within("target", *c.Target, 3, 7))
	}
	if c.Sum != nil {
		err = errors.Join(err, c.Sum.validate())
	}
	if c.Limit != nil {
		err = errors.Join(err, within("hour of the limit", *c.Limit, 0, latestHour))
	}
	for _, r := range c.Readings {
		err = errors.Join(err, within("pH", r.PH, lowest, highest), within("pH", r.Off.Low, lowest, highest), within("pH", r.Off.High, lowest, highest))
	}
	for _, p := range c.Course {
		ends := []float64{p.P90.Low, p.P80.Low, p.P50.Low, p.Median, p.P50.High, p.P80.High, p.P90.High}
		err = errors.Join(err, allWithin("pH", len(ends), func(i int) float64 { return ends[i] }, lowest, highest), nested(ends))
	}
	if c.Time != nil {
		ends := []float64{c.Time.P90.Low, c.Time.P80.Low, c.Time.P50.Low, c.Time.Median, c.Time.P50.High, c.Time.P80.High, c.Time.P90.High}
		for _, h := range ends {
			if !math.IsInf(h, 1) {
				err = errors.Join(err, within("hour of the pH", h, 0, latestHour))
			}
		}
	}
	return err
}

// hourText returns an hour: whole, or of the first ten to a tenth.
func hourText(h float64) string {
	const first = 10
	if h < first {
		return decimal(h, 1)
	}
	return decimal(math.Round(h), 0)
}

// title says the outcome in words.
func (c Acidification) title() string {
	ph := "pH " + decimal(c.PH, 2)
	switch c.Outcome {
	case AcidThere:
		return ph + " was read by hour " + hourText(c.Read)
	case AcidMayNotReach:
		if math.IsInf(c.Time.Median, 1) {
			return ph + " may not be reached"
		}
		return fmt.Sprintf("%s at hour %s, or not at all", ph, hourText(c.Time.Median))
	case AcidWillNotReach:
		return ph + " is likely not reached"
	default:
		return fmt.Sprintf("%s at hour %s (80 %%: %s)", ph, hourText(c.Time.Median), c.Time.P80.words(hourText))
	}
}

// lines say what the title leaves.
func (c Acidification) lines() []string {
	var lines []string
	if c.Outcome == AcidMayNotReach || c.Outcome == AcidWillNotReach {
		if !math.IsInf(c.Time.P80.Low, 1) {
			lines = append(lines, "80 %: hour "+c.Time.P80.words(hourText))
		}
	}
	doubtful := 0
	for _, r := range c.Readings {
		if r.Doubtful {
			doubtful++
		}
	}
	text := plural(len(c.Readings), "reading")
	if len(c.Readings) == 0 {
		text = "before any reading"
	}
	if doubtful > 0 {
		text += fmt.Sprintf(", %d of them left out", doubtful)
	}
	lines = append(lines, text+"; a projection is no reading")
	if c.Sum != nil && plain(c.Sum.State) != "" {
		lines = append(lines, "Degree-hours: "+plain(c.Sum.State))
	}
	return lines
}

// desc tells the picture to those who do not see it.
func (c Acidification) desc() string {
	d := "pH of the sausage against the hours since the start, with the temperature of chamber and core below. " + strings.Join(c.lines(), ". ") + ". "
	if c.Limit != nil {
		d += fmt.Sprintf("The limit on degree-hours is reached at hour %s. ", hourText(*c.Limit))
	}
	last := c.Course[len(c.Course)-1]
	return d + fmt.Sprintf("Expected at hour %s: pH %s (80 %%: %s–%s).", hourText(last.Hours),
		decimal(last.Median, 2), decimal(last.P80.Low, 2), decimal(last.P80.High, 2))
}

// hours returns from when to when the horizontal axis goes: over all readings
// that count and as far as the course, but not far past what is to be seen.
func (c Acidification) hours() (from, to float64) {
	const (
		least    = 12.0
		farthest = 3.0 // times the present, or the median: the farthest end that is drawn whole
	)
	end := math.Max(c.Now, c.Read)
	if n := len(c.Readings); n > 0 {
		from = math.Min(0, c.Readings[0].Hours)
		end = math.Max(end, c.Readings[n-1].Hours)
	}
	last := c.Course[len(c.Course)-1].Hours
	if t := c.Time; t != nil {
		anchor := math.Max(end, least)
		if !math.IsInf(t.Median, 1) {
			anchor = math.Max(anchor, t.Median)
		}
		for _, high := range []float64{t.P50.High, t.P80.High, t.P90.High} {
			if high <= farthest*anchor {
				end = math.Max(end, high)
			}
		}
		end = math.Max(end, math.Min(anchor, last))
		if c.Limit != nil && *c.Limit <= farthest*anchor {
			end = math.Max(end, *c.Limit)
		}
		if math.IsInf(t.P90.High, 1) {
			end = math.Max(end, math.Min(last, farthest*anchor))
		}
	}
	return from, math.Max(from+least, end+0.05*(end-from))
}

// curve returns one value of the course by hour, up to an hour.
func (c Acidification) curve(to float64, value func(AcidPoint) float64) []point {
	line := make([]point, len(c.Course))
	for i, p := range c.Course {
		line[i] = point{p.Hours, value(p)}
	}
	line, _ = split(line, to)
	return thinned(line)
}

// phs returns the lowest and the highest pH to be shown.
func (c Acidification) phs(to float64) (low, high float64) {
	const room = 0.12
	low, high = c.PH, c.PH
	see := func(v float64) { low, high = math.Min(low, v), math.Max(high, v) }
	if c.Target != nil {
		see(*c.Target)
	}
	for _, of := range []func(AcidPoint) float64{
		func(p AcidPoint) float64 { return p.P90.Low }, func(p AcidPoint) float64 { return p.P90.High },
	} {
		for _, v := range c.curve(to, of) {
			see(v.y)
		}
	}
	for _, r := range c.Readings {
		see(r.PH)
		if !r.Doubtful {
			see(r.Off.Low)
			see(r.Off.High)
		}
	}
	return low - room, high + room
}

func (c Acidification) scene() (*scene, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	s := &scene{title: c.title(), desc: c.desc()}
	if subject := plain(c.Subject); subject != "" {
		s.title = subject + ". " + s.title
	}
	y := s.head(plain(c.Subject), titleBold.wrap(c.title(), inside.x1-inside.x0, 2), c.lines()...) + 8
	y = c.key(s, y)
	from, to := c.hours()
	flags := c.flags(to)
	top := y + 8
	y = top + float64(len(flags))*rowHeight + 8

	const (
		lower     = 84.0 // height of the panel of the chamber
		atBottom  = 52.0 // figures and name of the hours
		betweenUs = 42.0
	)
	low, high := c.phs(to)
	coldest, hottest := c.span(to)
	coldest, hottest = roomAround(coldest, hottest, 10)
	upperArea := box{0, y, inside.x1 - 8, Height - atBottom - lower - betweenUs}
	lowerArea := box{0, Height - atBottom - lower, inside.x1 - 8, Height - atBottom}
	stepUp, stepDown := axis{low: low, high: high}.roundStep(6), axis{low: coldest, high: hottest}.roundStep(4)
	scales := append(figures(axis{low: low, high: high}, stepUp), figures(axis{low: coldest, high: hottest}, stepDown)...)
	var between box
	if c.Sum != nil {
		between = box{0, lowerArea.y0 - betweenUs - lower, inside.x1 - 8, lowerArea.y0 - betweenUs}
		upperArea.y1 = between.y0 - betweenUs
		scales = append(scales, figures(axis{low: 0, high: c.Sum.peak()}, axis{low: 0, high: c.Sum.peak()}.roundStep(3))...)
	}
	left := gutter(scales...)
	upperArea.x0, lowerArea.x0, between.x0 = left, left, left
	upper := newPanel(upperArea, from, to, low, high)
	chamber := newPanel(lowerArea, from, to, coldest, hottest)

	c.drawChamber(s, chamber, stepDown)
	panels := []panel{upper, chamber}
	if c.Sum != nil {
		peak := axis{low: 0, high: c.Sum.peak()}
		sum := newPanel(between, from, to, peak.low, peak.high)
		c.Sum.draw(s, sum, peak.roundStep(3))
		panels = []panel{upper, sum, chamber}
	}
	upper.rule(s, stepUp)
	c.bands(s, upper)
	places := &placer{area: upperArea}
	for i := range flags {
		places.avoid(point{upper.x.at(flags[i].x), upperArea.y0}, point{upper.x.at(flags[i].x), upperArea.y1})
		flags[i].x = math.Min(upper.x.at(flags[i].x), upperArea.x1)
	}
	raise(s, flags, top, panels...)
	c.drawPH(s, upper, places)
	chamber.count(s, hourSteps, lowerArea.y1+22)
	s.write("caption", "hours since the start", small, grey, (left+upperArea.x1)/2, Height-10, atMiddle)
	return s, nil
}

// span returns the lowest and the highest temperature up to an hour.
func (c Acidification) span(to float64) (low, high float64) {
	low, high = c.Chamber[0].Temperature, c.Chamber[0].Temperature
	for _, r := range c.Chamber {
		if r.Hours <= to {
			low, high = math.Min(low, r.Temperature), math.Max(high, r.Temperature)
		}
	}
	for _, p := range c.Course {
		if p.Hours <= to {
			low, high = math.Min(low, p.Core), math.Max(high, p.Core)
		}
	}
	return low, high
}

// flags returns the marks of time, their x in hours.
func (c Acidification) flags(to float64) []flag {
	var flags []flag
	if c.Now > 0 && c.Now < to {
		flags = append(flags, flag{
			class: "present", x: c.Now, text: "now", face: small, pen: pen{color: grey, width: 1.25, dash: []float64{2, 4}},
		})
	}
	if t := c.Time; t != nil && t.Median < to {
		flags = append(flags, flag{
			class: "median-time", x: t.Median, text: fmt.Sprintf("pH %s at %s h", decimal(c.PH, 2), hourText(t.Median)), face: smallBold,
			pen: pen{color: ink, width: 1.5, dash: []float64{3, 3}},
		})
	}
	if c.Limit != nil {
		f := flag{
			class: "limit", x: *c.Limit, text: "degree-hours used up at " + hourText(*c.Limit) + " h", face: small,
			pen: pen{color: red, width: 1.75, dash: []float64{7, 4}},
		}
		if f.x > to {
			f.x, f.bare = to, true
			f.text += " →"
		}
		flags = append(flags, f)
	}
	return flags
}

// bands draws the bands of the course, the widest first.
func (c Acidification) bands(s *scene, p panel) {
	for _, b := range []struct {
		class string
		of    func(AcidPoint) Span
		fill  func(...point)
		edge  pen
	}{
		{"90", func(q AcidPoint) Span { return q.P90 }, func(at ...point) { s.area("band-90", tint90, at...) }, edge90},
		{"80", func(q AcidPoint) Span { return q.P80 }, func(at ...point) { s.area("band-80", tint80, at...) }, edge80},
		{"50", func(q AcidPoint) Span { return q.P50 }, func(at ...point) { s.area("band-50", tint50, at...) }, edge50},
	} {
		low := p.path(c.curve(p.x.high, func(q AcidPoint) float64 { return b.of(q).Low }))
		high := p.path(c.curve(p.x.high, func(q AcidPoint) float64 { return b.of(q).High }))
		around := slices.Clone(low)
		for _, at := range slices.Backward(high) {
			around = append(around, at)
		}
		b.fill(around...)
		s.line("edge-"+b.class, b.edge, low...)
		s.line("edge-"+b.class, b.edge, high...)
	}
}

// drawPH draws the lines of the upper panel and the readings over them.
func (c Acidification) drawPH(s *scene, p panel, places *placer) {
	level := func(class string, ph float64, width float64) {
		y := p.y.at(ph)
		s.line(class, pen{color: green, width: width}, point{p.area.x0, y}, point{p.area.x1, y})
		places.avoid(point{p.area.x0, y}, point{p.area.x1, y})
	}
	level("ph", c.PH, 2.25)
	if c.Target != nil {
		level("target", *c.Target, 1.25)
	}
	s.line("axis", pen{color: grey, width: 1.5}, point{p.area.x0, p.area.y1}, point{p.area.x1, p.area.y1})
	line := c.curve(p.x.high, func(q AcidPoint) float64 { return q.Median })
	before, after := split(line, c.Now)
	s.line("median", pen{color: blue, width: 2.75}, p.path(before)...)
	s.line("median-ahead", pen{color: blue, width: 2.75, dash: ahead}, p.path(after)...)
	places.avoid(p.path(line)...)
	const (
		radius = 5.0
		arms   = 6.0
		wing   = 4.0
	)
	for _, r := range c.Readings {
		if r.Hours > p.x.high {
			continue
		}
		at := p.at(r.Hours, r.PH)
		low, high := p.y.at(math.Max(r.Off.Low, p.y.low)), p.y.at(math.Min(r.Off.High, p.y.high))
		if low-high > 2*radius {
			bar := pen{color: ink, width: 1.5}
			s.line("off", bar, point{at.x, low}, point{at.x, high})
			s.line("off", bar, point{at.x - wing, low}, point{at.x + wing, low})
			s.line("off", bar, point{at.x - wing, high}, point{at.x + wing, high})
		}
		if r.Doubtful {
			s.cross("doubtful", at, arms)
		} else {
			s.rimmed("reading", ink, at, radius)
		}
		places.taken = append(places.taken, box{at.x - arms, at.y - arms, at.x + arms, at.y + arms})
	}
	label := func(class, text string, ph float64) {
		spots := along(p.area.x0, p.area.x1, p.y.at(ph), smallBold.width(text))
		places.place(s, class, text, smallBold, green, spots)
	}
	label("ph-label", "pH "+decimal(c.PH, 2), c.PH)
	if c.Target != nil {
		label("target-label", "target "+decimal(*c.Target, 2), *c.Target)
	}
}

// drawChamber draws the lower panel.
func (c Acidification) drawChamber(s *scene, p panel, step float64) {
	p.rule(s, step)
	var chamber []point
	for _, r := range c.Chamber {
		chamber = append(chamber, point{r.Hours, r.Temperature})
	}
	chamber, _ = split(thinned(chamber), p.x.high)
	core := c.curve(p.x.high, func(q AcidPoint) float64 { return q.Core })
	before, after := split(chamber, c.Now)
	about := " (grey: core)"
	if c.Sum != nil && len(c.Sum.Gaps) > 0 {
		hatch(s, p, drawnGaps(c.Sum.Gaps), unknownPen)
		about = " (grey: core; hatched: unknown)"
	}
	s.line("core", pen{color: grey, width: 1.75}, p.path(core)...)
	s.line("chamber", pen{color: blue, width: 2}, p.path(before)...)
	s.line("chamber-ahead", pen{color: blue, width: 2, dash: ahead}, p.path(after)...)
	s.write("caption", "Chamber, "+c.Scale.String()+about, small, grey, inside.x0, p.area.y0-12, atStart)
}

// key writes what the points and shades are, and returns where it ends.
func (c Acidification) key(s *scene, y float64) float64 {
	const (
		between = 12.0
		room    = 6.0
		sample  = 26.0
		spread  = 18.0
	)
	x := inside.x0
	y += 22
	entry := func(text string, width float64, draw func(x, y float64)) {
		if whole := width + room + small.width(text); x+whole > inside.x1 {
			x, y = inside.x0, y+22
		}
		draw(x, y-5)
		b := s.write("key", text, small, ink, x+width+room, y, atStart)
		x = b.x1 + between
	}
	if len(c.Readings) > 0 {
		entry("read", 12, func(x, y float64) { s.rimmed("key", ink, point{x + 6, y}, 5) })
	}
	if slices.ContainsFunc(c.Readings, func(r PHPoint) bool { return r.Doubtful }) {
		entry("left out", 14, func(x, y float64) { s.cross("key", point{x + 7, y}, 6) })
	}
	entry("median", sample, func(x, y float64) {
		s.line("key", pen{color: blue, width: 2.75}, point{x, y}, point{x + sample, y})
	})
	swatch := func(fill func(...point), rim pen) func(x, y float64) {
		return func(x, y float64) {
			r := box{x, y - 7, x + spread, y + 7}
			fill(r.corners()...)
			s.outline("key", rim, r.corners()...)
		}
	}
	entry("50 %", spread, swatch(func(at ...point) { s.area("key", tint50, at...) }, edge50))
	entry("80 %", spread, swatch(func(at ...point) { s.area("key", tint80, at...) }, edge80))
	entry("90 %", spread, swatch(func(at ...point) { s.area("key", tint90, at...) }, edge90))
	return y
}
