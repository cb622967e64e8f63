package drawing

import (
	"image/color"
	"math"
)

// Everything is placed in CSS pixels from the upper left corner, y downwards.
type point struct{ x, y float64 }

// box is a rectangle, upper left to lower right corner.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) overlaps(c box) bool { return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1 }

func (b box) holds(c box) bool { return b.x0 <= c.x0 && b.y0 <= c.y0 && c.x1 <= b.x1 && c.y1 <= b.y1 }

func (b box) corners() []point {
	return []point{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}}
}

// page is the whole picture, inside is where text may stand.
var (
	page   = box{0, 0, Width, Height}
	inside = box{14, 0, Width - 14, Height}
)

// The colours. On white, and where text or a line stands on a band on that band,
// ink, blue, red and green have a contrast of at least 4.5, grey 5.
var (
	white  = color.NRGBA{0xFF, 0xFF, 0xFF, 0xFF}
	ink    = color.NRGBA{0x1C, 0x21, 0x26, 0xFF}
	grey   = color.NRGBA{0x56, 0x5E, 0x66, 0xFF}
	pale   = color.NRGBA{0xDF, 0xE3, 0xE7, 0xFF} // grid lines
	blue   = color.NRGBA{0x0A, 0x48, 0x86, 0xFF} // what was measured, and what follows from it
	red    = color.NRGBA{0xA8, 0x1E, 0x1E, 0xFF} // a limit, and what is past it
	green  = color.NRGBA{0x1E, 0x5F, 0x2C, 0xFF} // a target
	tint90 = color.NRGBA{0xE8, 0xF0, 0xF8, 0xFF}
	tint80 = color.NRGBA{0xCF, 0xE0, 0xF1, 0xFF}
	tint50 = color.NRGBA{0xB3, 0xCF, 0xE9, 0xFF}
	edge   = color.NRGBA{0x3F, 0x77, 0xAD, 0xFF} // edges of bands
	veil   = color.NRGBA{0xFF, 0xFF, 0xFF, 0xD0} // behind text that stands on lines
)

// pen is how a line is drawn.
type pen struct {
	color color.NRGBA
	width float64
	dash  []float64
}

// mark is one thing drawn: a stroked or filled path, a circle, or a text.
type mark struct {
	class  string
	points []point // of the path; of a circle its centre; of a text the start of its baseline
	radius float64 // of a circle
	closed bool    // the path returns to its start
	fill   bool
	pen    pen
	text   string
	face   face
}

// box returns where a text is.
func (m mark) box() box { return textBox(m.text, m.face, m.points[0]) }

func textBox(s string, f face, at point) box {
	return box{at.x, at.y - ascent*f.size, at.x + f.width(s), at.y + descent*f.size}
}

// scene is a chart before it becomes a file.
type scene struct {
	title, desc string
	marks       []mark
}

func (s *scene) line(class string, p pen, points ...point) {
	if len(points) > 1 {
		s.marks = append(s.marks, mark{class: class, points: points, pen: p})
	}
}

func (s *scene) area(class string, c color.NRGBA, points ...point) {
	if len(points) > 2 {
		s.marks = append(s.marks, mark{class: class, points: points, closed: true, fill: true, pen: pen{color: c}})
	}
}

func (s *scene) outline(class string, p pen, points ...point) {
	s.marks = append(s.marks, mark{class: class, points: points, closed: true, pen: p})
}

// dot draws a filled circle.
func (s *scene) dot(class string, c color.NRGBA, at point, radius float64) {
	s.marks = append(s.marks, mark{class: class, points: []point{at}, radius: radius, fill: true, pen: pen{color: c}})
}

// rimmed draws a dot with a white rim, so that neighbours and lines stay apart.
func (s *scene) rimmed(class string, c color.NRGBA, at point, radius float64) {
	s.dot("rim", white, at, radius+1.5)
	s.dot(class, c, at, radius)
}

// cross draws a hollow diagonal cross.
func (s *scene) cross(class string, at point, radius float64) {
	const arm = 0.30 // half the width of an arm
	var points []point
	for _, p := range []point{
		{arm, 0}, {1, 1 - arm}, {1 - arm, 1}, {0, arm}, {arm - 1, 1}, {-1, 1 - arm},
		{-arm, 0}, {-1, arm - 1}, {arm - 1, -1}, {0, -arm}, {1 - arm, -1}, {1, arm - 1},
	} {
		points = append(points, point{at.x + radius*p.x, at.y + radius*p.y})
	}
	s.area("rim", white, points...)
	s.outline(class, pen{color: ink, width: 1.5}, points...)
}

// Where a text stands to its point.
const (
	atStart  = 0.0
	atMiddle = 0.5
	atEnd    = 1.0
)

// write writes a text whose baseline is at a height, with its start, middle or
// end at x, but inside the page.
func (s *scene) write(class, text string, f face, c color.NRGBA, x, baseline, anchor float64) box {
	text = f.fit(text, inside.x1-inside.x0)
	if text == "" {
		return box{x, baseline, x, baseline}
	}
	w := f.width(text)
	x = math.Max(inside.x0, math.Min(x-anchor*w, inside.x1-w))
	m := mark{class: class, points: []point{{x, baseline}}, text: text, face: f, pen: pen{color: c}}
	s.marks = append(s.marks, m)
	return m.box()
}

// texts returns the texts of a scene.
func (s *scene) texts() []mark {
	var texts []mark
	for _, m := range s.marks {
		if m.text != "" {
			texts = append(texts, m)
		}
	}
	return texts
}
