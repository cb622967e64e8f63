package drawing

import (
	"math"
	"strconv"
	"strings"
)

// axis maps values to pixels along a straight scale.
type axis struct{ low, high, from, to float64 }

func (a axis) at(v float64) float64 { return a.from + (v-a.low)/(a.high-a.low)*(a.to-a.from) }

// steps of the scales of time: what people count in.
var (
	hourSteps = []float64{1, 2, 3, 6, 12, 24, 48, 72, 168, 336, 672}
	daySteps  = []float64{1, 2, 7, 14, 28, 56, 84, 168, 364}
)

// step returns the least step that gives at most so many intervals: one of the
// given, or twice, four times, … the last.
func (a axis) step(steps []float64, most int) float64 {
	span := a.high - a.low
	for _, s := range steps {
		if span <= s*float64(most) {
			return s
		}
	}
	s := steps[len(steps)-1]
	for span > s*float64(most) {
		s *= 2
	}
	return s
}

// roundStep is step with 1, 2 or 5 times a power of ten.
func (a axis) roundStep(most int) float64 {
	least := (a.high - a.low) / float64(most)
	ten := math.Pow(10, math.Floor(math.Log10(least)))
	for _, s := range []float64{ten, 2 * ten, 5 * ten} {
		if s >= least {
			return s
		}
	}
	return 10 * ten
}

// ticks returns the multiples of a step on the axis.
func (a axis) ticks(step float64) []float64 {
	var at []float64
	const slack = 1e-9 // a multiple at an end counts, whatever the last digit
	for k := math.Ceil(a.low/step - slack); k <= math.Floor(a.high/step+slack); k++ {
		at = append(at, k*step)
	}
	return at
}

// tick returns the text of a tick.
func tick(v, step float64) string {
	s := strconv.FormatFloat(v, 'f', max(0, -int(math.Floor(math.Log10(step)+1e-9))), 64)
	if v == 0 {
		s = "0"
	}
	return strings.Replace(s, "-", "−", 1)
}

// panel is a field of a chart with its two axes.
type panel struct {
	area box
	x, y axis
}

func newPanel(area box, lowX, highX, lowY, highY float64) panel {
	return panel{area, axis{lowX, highX, area.x0, area.x1}, axis{lowY, highY, area.y1, area.y0}}
}

func (p panel) at(x, y float64) point { return point{p.x.at(x), p.y.at(y)} }

// path returns values as points of the panel.
func (p panel) path(values []point) []point {
	path := make([]point, len(values))
	for i, v := range values {
		path[i] = p.at(v.x, v.y)
	}
	return path
}

// rule draws the horizontal grid with its figures to the left.
func (p panel) rule(s *scene, step float64) {
	for _, v := range p.y.ticks(step) {
		y := p.y.at(v)
		s.line("grid", pen{color: pale, width: 1}, point{p.area.x0, y}, point{p.area.x1, y})
		s.write("tick", tick(v, step), small, grey, p.area.x0-8, y+0.35*smallSize, atEnd)
	}
}

// count draws the ticks of the horizontal axis below the panel, the figures with
// their baseline at a height.
func (p panel) count(s *scene, steps []float64, baseline float64) {
	const widest = 62.0 // pixels from tick to tick at least, or four digits run together
	step := p.x.step(steps, int((p.area.x1-p.area.x0)/widest))
	for _, v := range p.x.ticks(step) {
		x := p.x.at(v)
		s.line("axis", pen{color: grey, width: 1}, point{x, p.area.y1}, point{x, p.area.y1 + 5})
		s.write("tick", tick(v, step), small, grey, x, baseline, atMiddle)
	}
	s.line("axis", pen{color: grey, width: 1.5}, point{p.area.x0, p.area.y1}, point{p.area.x1, p.area.y1})
}

// gutter returns the room that the figures of vertical axes take on the left.
func gutter(figures ...string) float64 {
	widest := 0.0
	for _, f := range figures {
		widest = math.Max(widest, small.width(f))
	}
	return inside.x0 + widest + 8
}
