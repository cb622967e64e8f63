package drawing

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// Scale is a scale of temperature. The zero value can't be drawn.
type Scale int

// The scales.
const (
	Celsius Scale = iota + 1
	Fahrenheit
)

// String returns the sign of a degree of the scale.
func (s Scale) String() string {
	switch s {
	case Celsius:
		return "°C"
	case Fahrenheit:
		return "°F"
	default:
		return "°"
	}
}

// DegreeHours is the chart of the degree-hours of a fermentation by one rule:
// above, the sum climbing towards the limit; below, on the same hours, the
// chamber, where the area above the base is what is counted. All temperatures
// and sums are in the rule's own scale.
type DegreeHours struct {
	Subject string // what ferments, such as the name of a lot; may be empty
	Rule    string // the set of rules
	State   string // what the rule says of it, in words

	Scale Scale
	Base  float64 // the temperature above which is counted, within -200 and 1000
	Limit float64 // degree-hours, 1 to ten million

	// Sum is the sum so far, one point at least: hours since the start and
	// degree-hours, neither ever less than before.
	Sum []SumPoint
	// Range is where the sum lies if the thermometer is off by its uncertainty;
	// may be empty.
	Range []RangePoint
	// Chamber is the temperature of the chamber, straight between the readings; two
	// at the same hour are a step. One at least.
	Chamber []Reading
	// Gaps are times of which it is not known how warm the chamber was, in order and
	// apart; the chamber has there what is taken for it. May be empty.
	Gaps []Gap

	PH    *PHMark // nil while the pH that ends the count has not been read
	RunOn *RunOn  // nil when the count has ended, or the chamber would never reach the limit
}

// The most that can be drawn.
const (
	mostHours   = 100_000.0 // eleven years
	mostSum     = 10_000_000.0
	mostRunOn   = 10_000_000.0 // hours
	lowestTemp  = -200.0
	highestTemp = 1000.0
)

// SumPoint is a sum of degree-hours at an hour.
type SumPoint struct{ Hours, DegreeHours float64 }

// RangePoint is where a sum lies at an hour, lower end first.
type RangePoint struct{ Hours, Low, High float64 }

// Reading is a temperature at an hour.
type Reading struct{ Hours, Temperature float64 }

// Gap is a time of which the temperature is not known.
type Gap struct{ From, To float64 } // in the unit of the chart's time

// PHMark is the reading that ends the count.
type PHMark struct {
	Target       float64  // the pH at or below which one does, 0 to 14
	PH           float64  // that was read
	ReadHours    float64  // when
	CrossedHours *float64 // when a straight line between the readings crosses Target, not after ReadHours; nil without one
}

// RunOn is what follows if the chamber stays as it is: from the last sum a
// straight line to the limit.
type RunOn struct {
	Temperature float64
	LimitHours  float64 // since the start, when the limit is reached
}

// SVG writes the chart as SVG.
func (c DegreeHours) SVG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writeSVG(w)
}

// PNG writes the chart as PNG.
func (c DegreeHours) PNG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writePNG(w)
}

func (c DegreeHours) validate() error {
	if c.Scale != Celsius && c.Scale != Fahrenheit {
		return undrawable("no scale of temperature")
	}
	if len(c.Sum) == 0 {
		return undrawable("no sum of degree-hours")
	}
	if len(c.Chamber) == 0 {
		return undrawable("no temperature of the chamber")
	}
	if err := within("base", c.Base, lowestTemp, highestTemp); err != nil {
		return err
	}
	if err := within("limit", c.Limit, 1, mostSum); err != nil {
		return err
	}
	if err := c.validateSeries(); err != nil {
		return err
	}
	if p := c.PH; p != nil {
		if err := errors.Join(within("pH", p.PH, 0, 14), within("pH to reach", p.Target, 0, 14)); err != nil {
			return err
		}
		if err := within("hour of the pH", p.ReadHours, 0, mostHours); err != nil {
			return err
		}
		if p.CrossedHours != nil {
			if err := within("hour of the crossing", *p.CrossedHours, 0, p.ReadHours); err != nil {
				return err
			}
		}
	}
	if r, last := c.RunOn, c.last(); r != nil {
		if err := within("temperature of the run-on", r.Temperature, lowestTemp, highestTemp); err != nil {
			return err
		}
		if err := within("hour of the limit", r.LimitHours, last.Hours, mostRunOn); err != nil {
			return err
		}
		if last.DegreeHours > c.Limit {
			return undrawable("run-on to the limit %v from %v", c.Limit, last.DegreeHours)
		}
	}
	return nil
}

func (c DegreeHours) validateSeries() error {
	sum, spread, chamber, gaps := c.Sum, c.Range, c.Chamber, c.Gaps
	return errors.Join(
		ascending("hour of a gap", 2*len(gaps), func(i int) float64 { return []float64{gaps[i/2].From, gaps[i/2].To}[i%2] }, 0, mostHours),
		ascending("hour of the sum", len(sum), func(i int) float64 { return sum[i].Hours }, 0, mostHours),
		ascending("sum", len(sum), func(i int) float64 { return sum[i].DegreeHours }, 0, mostSum),
		ascending("hour of the range", len(spread), func(i int) float64 { return spread[i].Hours }, 0, mostHours),
		allWithin("low end of the range", len(spread), func(i int) float64 { return spread[i].Low }, 0, mostSum),
		allWithin("high end of the range", len(spread), func(i int) float64 { return spread[i].High }, 0, mostSum),
		allWithin("width of the range", len(spread), func(i int) float64 { return spread[i].High - spread[i].Low }, 0, mostSum),
		ascending("hour of the chamber", len(chamber), func(i int) float64 { return chamber[i].Hours }, 0, mostHours),
		allWithin("temperature of the chamber", len(chamber), func(i int) float64 { return chamber[i].Temperature }, lowestTemp, highestTemp),
	)
}

func (c DegreeHours) last() SumPoint { return c.Sum[len(c.Sum)-1] }

// unit is the unit of the sums.
func (c DegreeHours) unit() string { return c.Scale.String() + " h" }

// title says the rule and the state in words.
func (c DegreeHours) title() string {
	rule, state := plain(c.Rule), plain(c.State)
	switch {
	case rule == "" && state == "":
		return "Degree-hours"
	case rule == "" || state == "":
		return rule + state
	default:
		return rule + ": " + state
	}
}

// titleLines breaks the title. Where the rule would leave no room for the state,
// which matters more, each has a line.
func (c DegreeHours) titleLines() []string {
	wide := inside.x1 - inside.x0
	title := c.title()
	lines := titleBold.wrap(title, wide, 2)
	rule, state := plain(c.Rule), plain(c.State)
	if rule == "" || state == "" || strings.Join(lines, " ") == title {
		return lines
	}
	return []string{titleBold.fit(rule+":", wide), titleBold.fit(state, wide)}
}

// standing says how much of the limit is used, and when.
func (c DegreeHours) standing() string {
	last := c.last()
	used := c.amount(last.DegreeHours)
	if n := len(c.Range); n > 0 && c.Range[n-1].Low < c.Range[n-1].High {
		used += fmt.Sprintf(" (%s–%s)", c.amount(c.Range[n-1].Low), c.amount(c.Range[n-1].High))
	}
	when := "after " + decimal(last.Hours, 1) + " h"
	const sameHour = 1e-6
	if c.PH != nil && math.Abs(c.PH.ReadHours-last.Hours) < sameHour {
		when = "when pH " + decimal(c.PH.PH, 2) + " was read"
	}
	return fmt.Sprintf("%s of %s %s %s", used, decimal(c.Limit, 1), c.unit(), when)
}

// amount returns a sum, with as many decimals as it takes beside the limit.
func (c DegreeHours) amount(v float64) string {
	const plenty = 10.0 // from here on tenths of a degree-hour mean nothing
	least := 0
	if v < plenty {
		least = 1
	}
	return against(v, c.Limit, least)
}

// runOn says when the limit is reached.
func (r RunOn) words(s Scale) string {
	return fmt.Sprintf("limit at %s h if it stays at %s %s", decimal(r.LimitHours, 1), decimal(r.Temperature, 1), s)
}

// desc tells the picture to those who do not see it.
func (c DegreeHours) desc() string {
	d := fmt.Sprintf("Degree-hours above %s %s against the hours since the start: %s.", decimal(c.Base, 1), c.Scale, c.standing())
	if r := c.RunOn; r != nil {
		d += " Projected: " + r.words(c.Scale) + "."
	}
	if p := c.PH; p != nil {
		d += fmt.Sprintf(" pH %s was read after %s h", decimal(p.PH, 2), decimal(p.ReadHours, 1))
		if p.CrossedHours != nil {
			d += fmt.Sprintf("; between the readings pH %s was crossed after about %s h", decimal(p.Target, 2), decimal(*p.CrossedHours, 1))
		}
		d += "."
	}
	switch n := len(c.Gaps); {
	case n == 1:
		d += fmt.Sprintf(" From %s to %s h nobody read how warm the chamber was; the hotter reading beside it is taken.", decimal(c.Gaps[0].From, 1), decimal(c.Gaps[0].To, 1))
	case n > 1:
		d += fmt.Sprintf(" Over %d gaps between %s and %s h nobody read how warm the chamber was; the hotter reading beside each is taken.",
			n, decimal(c.Gaps[0].From, 1), decimal(c.Gaps[n-1].To, 1))
	}
	low, high := c.span()
	return d + fmt.Sprintf(" Below, on the same hours, the temperature of the chamber, %s to %s %s.",
		decimal(low, 1), decimal(high, 1), c.Scale)
}

// span returns the lowest and the highest temperature of the chamber.
func (c DegreeHours) span() (low, high float64) {
	temperature := func(a, b Reading) int {
		switch {
		case a.Temperature < b.Temperature:
			return -1
		case a.Temperature > b.Temperature:
			return 1
		default:
			return 0
		}
	}
	return slices.MinFunc(c.Chamber, temperature).Temperature, slices.MaxFunc(c.Chamber, temperature).Temperature
}

// hours returns how far the horizontal axis goes: to the end of what was
// measured, but not far past the end of the count, and to the limit if that is
// not so far off that what was measured would shrink to nothing.
func (c DegreeHours) hours() float64 {
	const (
		least    = 6.0  // hours
		afterEnd = 1.25 // of the hours counted: as much of the chamber as is shown when the count has ended
		farthest = 3.0  // of the hours so far: the farthest projection that is drawn whole
		day      = 24.0
	)
	end := c.last().Hours
	for _, r := range c.Range {
		end = math.Max(end, r.Hours)
	}
	chamber := c.Chamber[len(c.Chamber)-1].Hours
	if c.PH != nil {
		end = math.Max(end, c.PH.ReadHours)
		chamber = math.Min(chamber, afterEnd*end)
	}
	end = math.Max(end, chamber)
	if c.RunOn != nil {
		end = math.Max(end, math.Min(c.RunOn.LimitHours, math.Max(farthest*end, day)))
	}
	return math.Max(least, end*1.04)
}

func (c DegreeHours) scene() (*scene, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	s := &scene{title: c.title(), desc: c.desc()}
	if subject := plain(c.Subject); subject != "" {
		s.title = subject + ". " + s.title
	}
	hours := c.hours()
	flags := c.flags(hours)
	y := s.head(plain(c.Subject), c.titleLines(), c.standing()) + 12
	y += rowHeight + 4
	s.write("caption", fmt.Sprintf("Degree-hours above %s %s", decimal(c.Base, 1), c.Scale), small, grey, inside.x0, y-10, atStart)
	top := y
	y += float64(len(flags))*rowHeight + 4

	const (
		lower     = 92.0 // height of the panel of the chamber
		atBottom  = 52.0 // figures and name of the hours
		betweenUs = 42.0 // from panel to panel
	)
	peak := math.Max(c.Limit, c.last().DegreeHours)
	for _, r := range c.Range {
		peak = math.Max(peak, r.High)
	}
	low, high := c.span()
	low, high = roomAround(math.Min(low, c.Base), math.Max(high, c.Base), 10)

	upperArea := box{0, y, inside.x1 - 8, Height - atBottom - lower - betweenUs}
	lowerArea := box{0, Height - atBottom - lower, inside.x1 - 8, Height - atBottom}
	const head = 30.0 // above the peak, so that a label has room there
	ceiling := peak / (1 - head/(upperArea.y1-upperArea.y0))
	stepUp, stepDown := axis{low: 0, high: ceiling}.roundStep(5), axis{low: low, high: high}.roundStep(4)
	left := gutter(append(figures(axis{low: 0, high: ceiling}, stepUp), figures(axis{low: low, high: high}, stepDown)...)...)
	upperArea.x0, lowerArea.x0 = left, left
	upper := newPanel(upperArea, 0, hours, 0, ceiling)
	chamber := newPanel(lowerArea, 0, hours, low, high)

	c.drawChamber(s, chamber, stepDown)
	upper.rule(s, stepUp)
	for i := range flags {
		flags[i].x = math.Min(upper.x.at(flags[i].x), upperArea.x1)
	}
	raise(s, flags, top, upper, chamber)
	c.drawSum(s, upper, flags)
	chamber.count(s, hourSteps, lowerArea.y1+22)
	s.write("caption", "hours since the start", small, grey, (left+upperArea.x1)/2, Height-10, atMiddle)
	return s, nil
}

// flags returns the marks of time, their x in hours.
func (c DegreeHours) flags(hours float64) []flag {
	var flags []flag
	if p := c.PH; p != nil {
		if p.CrossedHours != nil {
			flags = append(flags, flag{
				class: "crossing", x: *p.CrossedHours, face: small, pen: pen{color: grey, width: 1.25, dash: []float64{2, 4}},
				text: fmt.Sprintf("pH %s crossed at about %s h", decimal(p.Target, 2), decimal(*p.CrossedHours, 1)),
			})
		}
		flags = append(flags, flag{
			class: "ph", x: p.ReadHours, face: smallBold, pen: pen{color: ink, width: 1.75},
			text: fmt.Sprintf("pH %s read at %s h", decimal(p.PH, 2), decimal(p.ReadHours, 1)),
		})
	}
	if r := c.RunOn; r != nil {
		f := flag{class: "reach", x: r.LimitHours, text: r.words(c.Scale), face: small, pen: pen{color: red, width: 1.25, dash: []float64{7, 4}}}
		if f.x > hours {
			f.x, f.bare = hours, true
			f.text += " →"
		}
		flags = append(flags, f)
	}
	return flags
}

// drawSum draws the upper panel.
func (c DegreeHours) drawSum(s *scene, p panel, flags []flag) {
	if len(c.Range) > 1 {
		var low, high []point
		for _, r := range c.Range {
			low, high = append(low, point{r.Hours, r.Low}), append(high, point{r.Hours, r.High})
		}
		low, high = p.path(thinned(low)), p.path(thinned(high))
		band := slices.Clone(low)
		for _, q := range slices.Backward(high) {
			band = append(band, q)
		}
		s.area("range", tint80, band...)
		rim := pen{color: edge, width: 1, dash: []float64{2, 3}}
		s.line("range-edge", rim, low...)
		s.line("range-edge", rim, high...)
	}
	limit := p.y.at(c.Limit)
	s.line("limit", pen{color: red, width: 2.25}, point{p.area.x0, limit}, point{p.area.x1, limit})
	s.line("axis", pen{color: grey, width: 1.5}, point{p.area.x0, p.area.y1}, point{p.area.x1, p.area.y1})

	places := placer{area: p.area}
	places.avoid(point{p.area.x0, limit}, point{p.area.x1, limit})
	var values []point
	for _, q := range c.Sum {
		values = append(values, point{q.Hours, q.DegreeHours})
	}
	values = thinned(values)
	path := p.path(values)
	s.line("sum", pen{color: blue, width: 3}, path...)
	for _, over := range above(values, c.Limit) {
		s.line("sum-over", pen{color: red, width: 4}, p.path(over)...)
	}
	places.avoid(path...)
	last := c.last()
	end := p.at(last.Hours, last.DegreeHours)
	if r := c.RunOn; r != nil {
		to := point{r.LimitHours, c.Limit}
		if to.x > p.x.high {
			to = between(point{last.Hours, last.DegreeHours}, to, (p.x.high-last.Hours)/(to.x-last.Hours))
		}
		run := p.at(to.x, to.y)
		s.line("run-on", pen{color: blue, width: 2.25, dash: []float64{7, 5}}, end, run)
		places.avoid(end, run)
	}
	for _, f := range flags {
		if !f.bare {
			places.avoid(point{f.x, p.area.y0}, point{f.x, p.area.y1})
		}
	}
	over := blue
	if last.DegreeHours > c.Limit {
		over = red
	}
	s.rimmed("now", over, end, 5.5)
	places.taken = append(places.taken, box{end.x - 7, end.y - 7, end.x + 7, end.y + 7})

	text := "limit " + decimal(c.Limit, 1) + " " + c.unit()
	places.place(s, "limit-label", text, smallBold, red, along(p.area.x0, p.area.x1, limit, smallBold.width(text)))
	text = c.amount(last.DegreeHours) + " " + c.unit()
	places.place(s, "sum-label", text, smallBold, over, beside(end, smallBold.width(text)))
}

// drawChamber draws the lower panel.
func (c DegreeHours) drawChamber(s *scene, p panel, step float64) {
	p.rule(s, step)
	var values []point
	for _, r := range c.Chamber {
		values = append(values, point{r.Hours, r.Temperature})
	}
	values, _ = split(values, p.x.high)
	counted, after := split(values, c.last().Hours)
	counted, after = thinned(counted), thinned(after)
	base := p.y.at(c.Base)
	for _, part := range above(counted, c.Base) {
		if part[0].x == part[len(part)-1].x { // a moment has no area
			continue
		}
		hill := p.path(part)
		hill = append(hill, point{hill[len(hill)-1].x, base}, point{hill[0].x, base})
		s.area("counted", tint80, hill...)
	}
	gaps := drawnGaps(c.Gaps)
	hatch(s, p, gaps, unknownPen)
	dash := pen{color: ink, width: 1.5, dash: []float64{6, 4}}
	s.line("base", dash, point{p.area.x0, base}, point{p.area.x1, base})
	s.line("chamber-after", pen{color: grey, width: 1.5}, p.path(after)...)
	for i, part := range inTurn(counted, gaps) {
		switch {
		case len(part) == 0 || part[0].x == part[len(part)-1].x: // a moment
		case i%2 == 0:
			s.line("chamber", pen{color: blue, width: 2}, p.path(part)...)
		default:
			s.line("chamber-gap", pen{color: blue, width: 2, dash: []float64{3, 4}}, p.path(part)...)
		}
	}
	if len(after) == 0 { // it runs
		last := c.Chamber[len(c.Chamber)-1]
		s.rimmed("chamber-now", blue, p.at(last.Hours, last.Temperature), 3.5)
	}

	caption := p.area.y0 - 12
	shaded := " (shaded: counted)"
	if len(c.Gaps) > 0 {
		shaded = " (shaded: counted; hatched: unknown)"
	}
	s.write("caption", "Chamber, "+c.Scale.String()+shaded, small, grey, inside.x0, caption, atStart)
	b := s.write("base-label", fmt.Sprintf("base %s %s", decimal(c.Base, 1), c.Scale), small, ink, p.area.x1, caption, atEnd)
	s.line("base", dash, point{b.x0 - 34, caption - 5}, point{b.x0 - 6, caption - 5})
}

// drawnGaps returns the gaps, those that touch as one, and where they would fill
// the picture all from the first to the last.
func drawnGaps(all []Gap) []Gap {
	const most = 100
	var gaps []Gap
	for _, g := range all {
		if n := len(gaps); n > 0 && gaps[n-1].To >= g.From {
			gaps[n-1].To = g.To
			continue
		}
		gaps = append(gaps, g)
	}
	if len(gaps) > most {
		return []Gap{{gaps[0].From, gaps[len(gaps)-1].To}}
	}
	return gaps
}

// unknownPen hatches times of which it is not known how warm it was.
var unknownPen = pen{color: grey, width: 1}

// hatch draws slanting lines over times.
func hatch(s *scene, p panel, gaps []Gap, line pen) {
	const between = 9.0
	height := p.area.y1 - p.area.y0
	for _, g := range gaps {
		left, right := p.x.at(min(g.From, p.x.high)), p.x.at(min(g.To, p.x.high))
		for x := left - height + between; x < right; x += between {
			// From the bottom at x to the top at x + height, cut at both sides.
			from, to := max(x, left), min(x+height, right)
			if from < to {
				s.line("gap", line, point{from, p.area.y1 - (from - x)}, point{to, p.area.y1 - (to - x)})
			}
		}
	}
}

// inTurn returns the parts of a line outside gaps and in them, in turn.
func inTurn(line []point, gaps []Gap) [][]point {
	var parts [][]point
	for _, g := range gaps {
		before, rest := split(line, g.From)
		within, after := split(rest, g.To)
		parts = append(parts, before, within)
		line = after
	}
	return append(parts, line)
}

// roomAround widens an interval to a least span and by a tenth on either side.
func roomAround(low, high, least float64) (float64, float64) {
	if lack := least - (high - low); lack > 0 {
		low, high = low-lack/2, high+lack/2
	}
	room := (high - low) / 10
	return low - room, high + room
}

// figures returns the figures of an axis.
func figures(a axis, step float64) []string {
	var f []string
	for _, v := range a.ticks(step) {
		f = append(f, tick(v, step))
	}
	return f
}

// head writes what is above every chart: what it is about, what it says, and how
// it stands. It returns where the last line ends.
func (s *scene) head(subject string, title []string, lines ...string) float64 {
	const top = 10.0
	y := top
	if subject != "" {
		y += 21
		s.write("subject", subject, small, grey, inside.x0, y-5, atStart)
	}
	for _, line := range title {
		y += 27
		s.write("title", line, titleBold, ink, inside.x0, y-6, atStart)
	}
	for _, line := range lines {
		y += 22
		s.write("standing", line, small, ink, inside.x0, y-5, atStart)
	}
	return y
}
