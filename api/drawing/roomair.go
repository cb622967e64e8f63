package drawing

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// RoomAir is the chart of the air of some places: the pressure of its vapour
// against the temperature, among curves of constant relative humidity, with the
// line of a product above which air wets it and below which it dries it.
type RoomAir struct {
	Scale  Scale
	Places []AirPlace // one or more
	// Saturation is the pressure of saturated air, ascending in temperature, over
	// all that the places and their bars reach.
	Saturation []VapourPoint
	Surface    *float64 // water activity of the product, 0 to 1
}

// AirPlace is the air of a place, temperatures in the scale of the chart and
// pressures in kPa.
type AirPlace struct {
	Name         string
	Temperature  float64
	Vapour       float64
	Humidity     float64 // percent
	Temperatures Span    // what the thermometer leaves open
	Vapours      Span
	Drive        *Drive // on the product; with Surface
}

// Drive is how strongly air draws water from a product, kPa; less than nothing
// where it wets it.
type Drive struct {
	Value float64
	Span  Span
}

// VapourPoint is a pressure of vapour in kPa at a temperature.
type VapourPoint struct{ Temperature, Pressure float64 }

// SVG writes the chart as SVG.
func (c RoomAir) SVG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writeSVG(w)
}

// PNG writes the chart as PNG.
func (c RoomAir) PNG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writePNG(w)
}

const (
	coldestAir, hottestAir = -200.0, 300.0 // either scale
	mostVapour             = 200.0         // kPa
	mostPlaces             = 50
)

func (c RoomAir) validate() error {
	if c.Scale != Celsius && c.Scale != Fahrenheit {
		return undrawable("no scale")
	}
	if n := len(c.Places); n == 0 || n > mostPlaces {
		return undrawable("%d places, not 1 to %d", n, mostPlaces)
	}
	if len(c.Saturation) < 2 {
		return undrawable("no curve of saturated air")
	}
	if err := ascending("temperature of saturated air", len(c.Saturation), func(i int) float64 { return c.Saturation[i].Temperature }, coldestAir, hottestAir); err != nil {
		return err
	}
	if err := allWithin("pressure of saturated air", len(c.Saturation), func(i int) float64 { return c.Saturation[i].Pressure }, 0, mostVapour); err != nil {
		return err
	}
	if c.Surface != nil {
		if err := within("water activity", *c.Surface, 0, 1); err != nil {
			return err
		}
	}
	for i, p := range c.Places {
		if err := c.validatePlace(p); err != nil {
			return fmt.Errorf("place %d: %w", i, err)
		}
	}
	return nil
}

func (c RoomAir) validatePlace(p AirPlace) error {
	first, last := c.Saturation[0].Temperature, c.Saturation[len(c.Saturation)-1].Temperature
	for _, t := range []float64{p.Temperature, p.Temperatures.Low, p.Temperatures.High} {
		if err := within("temperature", t, first, last); err != nil {
			return err
		}
	}
	for _, v := range []float64{p.Vapour, p.Vapours.Low, p.Vapours.High} {
		if err := within("pressure of vapour", v, 0, mostVapour); err != nil {
			return err
		}
	}
	if err := within("humidity", p.Humidity, 0, 100+nestSlack); err != nil {
		return err
	}
	if (p.Drive != nil) != (c.Surface != nil) {
		return undrawable("a drive goes with a water activity")
	}
	if d := p.Drive; d != nil {
		for _, v := range []float64{d.Value, d.Span.Low, d.Span.High} {
			if err := within("drive", v, -mostVapour, mostVapour); err != nil {
				return err
			}
		}
		if err := nested([]float64{d.Span.Low, d.Value, d.Span.High}); err != nil {
			return err
		}
	}
	return errorsOf(nested([]float64{p.Temperatures.Low, p.Temperature, p.Temperatures.High}), nested([]float64{p.Vapours.Low, p.Vapour, p.Vapours.High}))
}

// errorsOf returns the first error.
func errorsOf(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// kilopascals returns a pressure as people read it.
func kilopascals(v float64) string { return decimal(v, 2) }

func (c RoomAir) unit() string {
	if c.Scale == Fahrenheit {
		return "°F"
	}
	return "°C"
}

// words tells what a drive does.
func (d Drive) words() string {
	does, v, span := "dries", d.Value, d.Span
	if d.Value < 0 {
		does, v, span = "wets", -v, Span{-span.High, -span.Low}
	}
	return fmt.Sprintf("%s %s kPa (%s to %s)", does, kilopascals(v), kilopascals(span.Low), kilopascals(span.High))
}

// title says in words which air does the most.
func (c RoomAir) title() string {
	strength := func(p AirPlace) float64 {
		if p.Drive != nil {
			return p.Drive.Value
		}
		return p.Vapour
	}
	first := slices.MaxFunc(c.Places, func(a, b AirPlace) int { return compareFloats(strength(a), strength(b)) })
	name := small.fit(plain(first.Name), 200)
	switch {
	case len(c.Places) == 1 && first.Drive != nil:
		return name + " " + first.Drive.words()
	case len(c.Places) == 1:
		return fmt.Sprintf("%s: %s kPa of vapour", name, kilopascals(first.Vapour))
	case first.Drive == nil:
		return fmt.Sprintf("Most vapour: %s, %s kPa", name, kilopascals(first.Vapour))
	case first.Drive.Value > 0:
		return fmt.Sprintf("Dries the most: %s, %s kPa", name, kilopascals(first.Drive.Value))
	default:
		return "None of them dries it"
	}
}

func compareFloats(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	default:
		return 0
	}
}

// line tells of one place.
func (c RoomAir) line(p AirPlace) string {
	text := fmt.Sprintf("%s: %s %s, %s %%", small.fit(plain(p.Name), 150), decimal(p.Temperature, 1), c.unit(), decimal(p.Humidity, 0))
	if p.Drive != nil {
		return text + ", " + p.Drive.words()
	}
	return text + fmt.Sprintf(", %s kPa (%s to %s)", kilopascals(p.Vapour), kilopascals(p.Vapours.Low), kilopascals(p.Vapours.High))
}

// lines tells of the first few places.
func (c RoomAir) lines() []string {
	const most = 4
	var lines []string
	for i, p := range c.Places {
		if i == most-1 && len(c.Places) > most {
			return append(lines, fmt.Sprintf("and %d more", len(c.Places)-i))
		}
		lines = append(lines, c.line(p))
	}
	return lines
}

// desc tells the picture to those who do not see it.
func (c RoomAir) desc() string {
	var b strings.Builder
	b.WriteString("Pressure of vapour in kPa against the temperature in " + c.unit() + ", among curves of constant relative humidity. ")
	if c.Surface != nil {
		fmt.Fprintf(&b, "A product of water activity %s is in balance with air of %s %%; air below its line dries it. ", decimal(*c.Surface, 3), decimal(100**c.Surface, 1))
	}
	for _, p := range c.Places {
		b.WriteString(c.line(p) + ". ")
	}
	return strings.TrimSpace(b.String())
}

// saturated returns the pressure of saturated air at a temperature, on a straight
// line between the points that are given.
func (c RoomAir) saturated(t float64) float64 {
	for i := 1; i < len(c.Saturation); i++ {
		if a, b := c.Saturation[i-1], c.Saturation[i]; t <= b.Temperature && b.Temperature > a.Temperature {
			return a.Pressure + (t-a.Temperature)/(b.Temperature-a.Temperature)*(b.Pressure-a.Pressure)
		}
	}
	return c.Saturation[len(c.Saturation)-1].Pressure
}

// ranges returns what the axes go over.
func (c RoomAir) ranges() (low, high, most float64) {
	const around, least = 0.15, 12.0
	low, high = math.Inf(1), math.Inf(-1)
	for _, p := range c.Places {
		low, high = math.Min(low, p.Temperatures.Low), math.Max(high, p.Temperatures.High)
		most = math.Max(most, p.Vapours.High)
		if c.Surface != nil {
			most = math.Max(most, *c.Surface*c.saturated(p.Temperature))
		}
	}
	wide := math.Max(around*(high-low), (least-(high-low))/2)
	low, high = low-wide, high+wide
	return math.Max(low, c.Saturation[0].Temperature), math.Min(high, c.Saturation[len(c.Saturation)-1].Temperature), math.Max(1.2*most, 0.05)
}

// curve returns the part of a curve of constant humidity that is in the panel, in
// its values.
func (c RoomAir) curve(p panel, part float64) []point {
	const pieces = 120
	var line []point
	for i := range pieces + 1 {
		t := p.x.low + (p.x.high-p.x.low)*float64(i)/pieces
		v := part * c.saturated(t)
		if v > p.y.high {
			if n := len(line); n > 0 && v > line[n-1].y {
				last := line[n-1]
				line = append(line, point{last.x + (t-last.x)*(p.y.high-last.y)/(v-last.y), p.y.high})
			}
			break
		}
		line = append(line, point{t, v})
	}
	return line
}

var degreeSteps = []float64{1, 2, 5, 10, 20, 50}

func (c RoomAir) scene() (*scene, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	s := &scene{title: c.title(), desc: c.desc()}
	y := s.head("", titleBold.wrap(c.title(), inside.x1-inside.x0, 2), c.lines()...) + 34
	s.write("caption", "vapour, kPa", small, grey, inside.x0, y-12, atStart)

	low, high, most := c.ranges()
	area := box{0, y, inside.x1 - 8, Height - 52}
	scale := axis{low: 0, high: most}
	step := scale.roundStep(6)
	area.x0 = gutter(figures(scale, step)...)
	p := newPanel(area, low, high, 0, most)
	p.rule(s, step)
	places := &placer{area: box{area.x0, area.y0 + 2, area.x1, area.y1 - 2}}
	curves := c.curves(s, p, places)
	c.bars(s, p, places)
	c.names(s, p, places)
	for _, l := range curves {
		l(s, places)
	}
	p.count(s, degreeSteps, area.y1+22)
	s.write("caption", "temperature, "+c.unit(), small, grey, (area.x0+area.x1)/2, Height-10, atMiddle)
	return s, nil
}

// curves draws the curves of constant humidity and the line of the product, and
// returns what labels them.
func (c RoomAir) curves(s *scene, p panel, places *placer) []func(*scene, *placer) {
	const each, whole = 20, 100
	var labels []func(*scene, *placer)
	add := func(class, text string, f face, ink pen, part float64) {
		path := p.path(c.curve(p, part))
		s.line(class, ink, path...)
		places.avoid(path...)
		if len(path) < 2 {
			return
		}
		labels = append(labels, func(s *scene, at *placer) {
			at.place(s, class+"-label", text, f, ink.color, onCurve(path, f.width(text)))
		})
	}
	if c.Surface != nil && *c.Surface > 0 {
		add("surface", "product "+decimal(100**c.Surface, 1)+" %", smallBold, pen{color: green, width: 2.5, dash: ahead}, *c.Surface)
	}
	add("saturated", "100 %", small, pen{color: ink, width: 2}, 1)
	for percent := whole - each; percent > 0; percent -= each {
		add("humidity", fmt.Sprintf("%d %%", percent), small, pen{color: grey, width: 1.25}, float64(percent)/whole)
	}
	return labels
}

// onCurve returns places for a label beside a curve, from its end back.
func onCurve(path []point, width float64) []spot {
	const gap = 4.0
	var spots []spot
	for i := len(path) - 1; i > len(path)/4; i -= 4 {
		at := path[i]
		spots = append(spots,
			spot{point{at.x - width - gap, at.y - gap}}, spot{point{at.x - width/2, at.y - gap - descent*smallSize}},
			spot{point{at.x + gap, at.y + gap + ascent*smallSize}}, spot{point{at.x - width - 3*gap, at.y + gap}})
	}
	return spots
}

// bars draws the places with what the instruments leave open.
func (c RoomAir) bars(s *scene, p panel, places *placer) {
	const end, radius = 4.0, 4.5
	bar := pen{color: blue, width: 1.75}
	for _, q := range c.Places {
		at := p.at(q.Temperature, q.Vapour)
		left, right := p.x.at(q.Temperatures.Low), p.x.at(q.Temperatures.High)
		bottom, top := p.y.at(q.Vapours.Low), p.y.at(q.Vapours.High)
		for _, l := range [][2]point{
			{{left, at.y}, {right, at.y}}, {{at.x, bottom}, {at.x, top}},
			{{left, at.y - end}, {left, at.y + end}}, {{right, at.y - end}, {right, at.y + end}},
			{{at.x - end, bottom}, {at.x + end, bottom}}, {{at.x - end, top}, {at.x + end, top}},
		} {
			s.line("bar", bar, l[0], l[1])
			places.avoid(l[0], l[1])
		}
	}
	for _, q := range c.Places {
		at := p.at(q.Temperature, q.Vapour)
		s.rimmed("place", blue, at, radius)
		places.avoid(point{at.x - radius, at.y - radius}, point{at.x + radius, at.y + radius})
	}
}

// names labels the places, by their number in the question where there is no room
// for the name. No label stands on a place.
func (c RoomAir) names(s *scene, p panel, places *placer) {
	const widest, radius = 150.0, 6.0
	for _, q := range c.Places {
		at := p.at(q.Temperature, q.Vapour)
		places.taken = append(places.taken, box{at.x - radius, at.y - radius, at.x + radius, at.y + radius})
	}
	for i, q := range c.Places {
		at := p.at(q.Temperature, q.Vapour)
		for _, text := range []string{smallBold.fit(plain(q.Name), widest), strconv.Itoa(i + 1)} {
			before := len(places.taken)
			places.place(s, "name", text, smallBold, blue, beside(at, smallBold.width(text)))
			if len(places.taken) > before {
				break
			}
		}
	}
}
