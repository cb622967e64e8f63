package drawing

import (
	"fmt"
	"io"
	"math"
	"strings"
)

// Comparison is the chart of ways of drying side by side: what the pieces of each
// had lost when, since hanging, and how much longer each took than the first.
type Comparison struct {
	Courses []ComparedCourse
}

// ComparedCourse is one way of drying.
type ComparedCourse struct {
	Name   string
	Pieces [][]LossPoint // each from hanging on
	Ratio  *RatioSpan    // of its time to that of the first; nil for the first, or when nothing is in common
}

// LossPoint is a loss in percent of the green weight, as it was weighed.
type LossPoint struct{ Days, Loss float64 }

// RatioSpan is a ratio with its interval, at a loss.
type RatioSpan struct{ Low, Mid, High, Loss float64 }

// comparedPens tell the courses apart in colour, and in print by their dashes.
var comparedPens = [...]pen{
	{color: blue, width: 2.5}, {color: red, width: 2.5, dash: []float64{9, 4}}, {color: green, width: 2.5, dash: []float64{2, 3}},
	{color: ink, width: 2.5, dash: []float64{12, 3, 3, 3}}, {color: grey, width: 2.5}, {color: edge, width: 2.5, dash: []float64{6, 6}},
}

// SVG writes the chart as SVG.
func (c Comparison) SVG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writeSVG(w)
}

// PNG writes the chart as PNG.
func (c Comparison) PNG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writePNG(w)
}

func (c Comparison) validate() error {
	if n := len(c.Courses); n < 2 || n > len(comparedPens) {
		return undrawable("%d courses are not 2 to %d", n, len(comparedPens))
	}
	for _, course := range c.Courses {
		for _, piece := range course.Pieces {
			if len(piece) < 2 {
				return undrawable("a piece of %q has no weigh-in", course.Name)
			}
			if err := ascending("day", len(piece), func(i int) float64 { return piece[i].Days }, 0, latestDay); err != nil {
				return err
			}
			if err := allWithin("loss", len(piece), func(i int) float64 { return piece[i].Loss }, mostGain, mostLoss); err != nil {
				return err
			}
		}
		if r := course.Ratio; r != nil {
			if err := ascending("end of the ratio", 3, func(i int) float64 { return [...]float64{r.Low, r.Mid, r.High}[i] }, 0, math.MaxFloat32); err != nil {
				return err
			}
		}
	}
	return nil
}

func (c Comparison) scene() (*scene, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	s := &scene{title: "Ways of drying compared", desc: c.desc()}
	y := s.head("", titleBold.wrap(s.title, inside.x1-inside.x0, 2)) + 8
	for i, course := range c.Courses {
		y += 24
		s.line("key", comparedPens[i], point{inside.x0, y - 6}, point{inside.x0 + 34, y - 6})
		s.rimmed("key", comparedPens[i].color, point{inside.x0 + 17, y - 6}, 4)
		s.write("key-label", course.label(i == 0), small, ink, inside.x0+42, y, atStart)
	}
	y += 40
	s.write("caption", "loss, % of the green weight", small, grey, inside.x0, y-12, atStart)
	const atBottom = 52.0
	last, low, high := 1.0, 0.0, 1.0
	for _, course := range c.Courses {
		for _, piece := range course.Pieces {
			for _, p := range piece {
				last, low, high = math.Max(last, p.Days), math.Min(low, p.Loss), math.Max(high, p.Loss)
			}
		}
	}
	area := box{0, y, inside.x1 - 8, Height - atBottom}
	scale := axis{low: low, high: high * 1.05}
	step := scale.roundStep(6)
	area.x0 = gutter(figures(scale, step)...)
	p := newPanel(area, 0, last*1.02, scale.low, scale.high)
	p.rule(s, step)
	for i, course := range c.Courses {
		c.draw(s, p, course, comparedPens[i])
	}
	p.count(s, daySteps, area.y1+22)
	s.write("caption", "days since hanging", small, grey, (area.x0+area.x1)/2, Height-10, atMiddle)
	return s, nil
}

// draw draws the pieces of a course: lines first, so that no dot is crossed by its
// own.
func (Comparison) draw(s *scene, p panel, course ComparedCourse, with pen) {
	thin := with
	thin.width = 1.5
	var dots []point
	for _, piece := range course.Pieces {
		line := make([]point, 0, len(piece))
		for _, at := range piece {
			line = append(line, point{at.Days, at.Loss})
		}
		s.line("course", thin, p.path(line)...)
		dots = append(dots, line[1:]...)
	}
	for _, at := range p.path(thinned(dots)) {
		s.rimmed("weigh-in", with.color, at, 3.5)
	}
}

func (c ComparedCourse) label(first bool) string {
	text := plain(c.Name)
	switch {
	case first:
		return text
	case c.Ratio == nil:
		return text + ": no loss in common"
	}
	return fmt.Sprintf("%s: %s × the time (%s to %s)", text, decimal(c.Ratio.Mid, 2), decimal(c.Ratio.Low, 2), decimal(c.Ratio.High, 2))
}

func (c Comparison) desc() string {
	var text strings.Builder
	text.WriteString("Loss against days since hanging, a line for each piece and a dot for each weigh-in. The first course is " + plain(c.Courses[0].Name) + ".")
	for _, course := range c.Courses[1:] {
		text.WriteString(" " + course.label(false))
		if r := course.Ratio; r != nil {
			text.WriteString(" to a loss of " + decimal(r.Loss, 1) + " %, with an interval of 95 percent")
		}
		text.WriteString(".")
	}
	return text.String()
}
