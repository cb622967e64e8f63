package drawing

import (
	"image/color"
	"math"
	"slices"
)

// placer finds room for labels in a panel.
type placer struct {
	area  box     // where they may stand
	taken []box   // by other labels
	lines []point // pairs: the ends of what had better not be covered
}

// avoid adds a line that labels had better not cover.
func (p *placer) avoid(line ...point) {
	for i := 1; i < len(line); i++ {
		p.lines = append(p.lines, line[i-1], line[i])
	}
}

// spot is a place for a label: where its baseline starts.
type spot struct{ point }

// beside returns places for a small label around a point, upper right first.
func beside(at point, width float64) []spot {
	const gap = 9.0
	var spots []spot
	for _, dy := range []float64{-gap, gap + ascent*smallSize, 0.35 * smallSize} {
		for _, dx := range []float64{gap, -gap - width} {
			spots = append(spots, spot{point{at.x + dx, at.y + dy}})
		}
	}
	return spots
}

// along returns places for a small label above and below a horizontal line, from
// one end to the other.
func along(from, to, y, width float64) []spot {
	const gap, places = 5.0, 7
	var spots []spot
	for _, baseline := range []float64{y - gap - descent*smallSize/2, y + gap + ascent*smallSize} {
		for i := range places {
			x := from + gap + float64(i)/(places-1)*(to-from-2*gap-width)
			spots = append(spots, spot{point{x, baseline}})
		}
	}
	return spots
}

// place writes a label at the first of the spots where nothing is in the way, or
// where it covers the least of the lines. Where all are taken or outside, it is
// not written: see the package comment.
func (p *placer) place(s *scene, class, text string, f face, c color.NRGBA, spots []spot) {
	best, least := -1, math.MaxInt
	for i, at := range spots {
		b := textBox(text, f, at.point)
		if !p.area.holds(b) || slices.ContainsFunc(p.taken, b.overlaps) {
			continue
		}
		if n := p.covered(b); n < least {
			best, least = i, n
		}
		if least == 0 {
			break
		}
	}
	if best < 0 {
		return
	}
	at := spots[best].point
	if b := textBox(text, f, at); least > 0 {
		s.area("veil", veil, box{b.x0 - 2, b.y0, b.x1 + 2, b.y1}.corners()...)
	}
	b := s.write(class, text, f, c, at.x, at.y, atStart)
	p.taken = append(p.taken, box{b.x0 - 4, b.y0, b.x1 + 4, b.y1})
}

// covered returns how many of the lines pass through a box.
func (p *placer) covered(b box) int {
	n := 0
	for i := 0; i < len(p.lines); i += 2 {
		if crosses(b, p.lines[i], p.lines[i+1]) {
			n++
		}
	}
	return n
}

// crosses reports whether a straight line has a point inside a box. It narrows
// the part of the line that may be inside, side by side (Liang and Barsky, "A new
// concept and method for line clipping", ACM Transactions on Graphics 3(1), 1984).
func crosses(b box, from, to point) bool {
	enter, leave := 0.0, 1.0
	for _, side := range [][2]float64{
		{from.x - to.x, from.x - b.x0}, {to.x - from.x, b.x1 - from.x},
		{from.y - to.y, from.y - b.y0}, {to.y - from.y, b.y1 - from.y},
	} {
		switch direction, room := side[0], side[1]; {
		case direction == 0:
			if room < 0 {
				return false
			}
		case direction < 0:
			enter = math.Max(enter, room/direction)
		default:
			leave = math.Min(leave, room/direction)
		}
	}
	return enter <= leave
}

// flag is a label on a vertical line, in rows above a panel.
type flag struct {
	class string
	x     float64
	text  string
	face  face
	pen   pen  // of the line
	bare  bool // it has no line: what it tells of lies beyond the right edge
}

// rowHeight is how high a row of flags is.
const rowHeight = 21.0

// raise writes up to three flags, each in a row of its own from top down, and
// draws their lines through the panels below. Of all orders of rows and sides of the lines it
// takes the first in which the fewest lines pass through labels.
func raise(s *scene, flags []flag, top float64, panels ...panel) {
	var best []box
	var bestRows []int
	least := math.MaxInt
	for _, rows := range orders(len(flags)) {
		for sides := range int(math.Pow(3, float64(len(flags)))) {
			boxes := make([]box, len(flags))
			cost := 0
			rest := sides
			for i, f := range flags {
				boxes[i], cost = f.box(rest%3, top+float64(rows[i])*rowHeight), cost+rest%3
				rest /= 3
				if boxes[i].x0 < inside.x0 || boxes[i].x1 > inside.x1 {
					cost += 1000
				}
			}
			for i, f := range flags {
				for j, b := range boxes {
					if i != j && !f.bare && rows[i] < rows[j] && b.x0-3 < f.x && f.x < b.x1+3 {
						cost += 100
					}
				}
			}
			if cost < least {
				best, bestRows, least = boxes, rows, cost
			}
		}
	}
	for i, f := range flags {
		if f.bare {
			continue
		}
		from := top + float64(bestRows[i])*rowHeight + 2
		if best[i].x0 < f.x && f.x < best[i].x1 {
			from += rowHeight - 2
		}
		for i, p := range panels {
			if i > 0 {
				from = p.area.y0
			}
			s.line(f.class, f.pen, point{f.x, from}, point{f.x, p.area.y1})
		}
	}
	for i, f := range flags {
		b := best[i]
		for j, g := range flags {
			if i != j && !g.bare && bestRows[j] < bestRows[i] && b.x0 < g.x && g.x < b.x1 {
				s.area("veil", veil, b.corners()...)
			}
		}
		s.write(f.class+"-label", f.text, f.face, f.pen.color, b.x0, b.y0+ascent*f.face.size, atStart)
	}
}

// box returns where the label stands in a row: right of its line, left of it, or
// over it, inside the page in the last case.
func (f flag) box(side int, top float64) box {
	const gap = 6.0
	w := f.face.width(f.text)
	x := f.x + gap
	switch side {
	case 1:
		x = f.x - gap - w
	case 2:
		x = f.x - w/2
		x = math.Max(inside.x0, math.Min(x, inside.x1-w))
	}
	return box{x, top + 2, x + w, top + 2 + (ascent+descent)*f.face.size}
}

// orders returns the orders of n things, n at most 3.
func orders(n int) [][]int {
	switch n {
	case 0:
		return nil
	case 1:
		return [][]int{{0}}
	case 2:
		return [][]int{{0, 1}, {1, 0}}
	default:
		return [][]int{{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}}
	}
}
