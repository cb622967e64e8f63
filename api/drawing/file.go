package drawing

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// draw puts a scene on a canvas, one element for each mark, in order.
func (s *scene) draw(c vg.Canvas) {
	up := func(p point) vg.Point { return vg.Point{X: vg.Length(p.x), Y: vg.Length(Height - p.y)} }
	for _, m := range s.marks {
		c.SetColor(m.pen.color)
		if m.text != "" {
			c.FillString(m.face.vg(), up(m.points[0]), m.text)
			continue
		}
		var path vg.Path
		if m.radius > 0 {
			r := vg.Length(m.radius)
			path.Move(up(point{m.points[0].x + m.radius, m.points[0].y}))
			path.Arc(up(m.points[0]), r, 0, 2*math.Pi)
		} else {
			path.Move(up(m.points[0]))
			for _, p := range m.points[1:] {
				path.Line(up(p))
			}
		}
		if m.closed || m.radius > 0 {
			path.Close()
		}
		if m.fill {
			c.Fill(path)
			continue
		}
		c.SetLineWidth(vg.Length(m.pen.width))
		dash := make([]vg.Length, len(m.pen.dash))
		for i, d := range m.pen.dash {
			dash[i] = vg.Length(d)
		}
		c.SetLineDash(dash, 0)
		c.Stroke(path)
	}
}

// writePNG writes a scene as PNG.
func (s *scene) writePNG(w io.Writer) error {
	const pointsPerInch = 72 // a point of the canvas is a CSS pixel of the scene
	c := vgimg.NewWith(vgimg.UseWH(Width, Height), vgimg.UseDPI(PNGScale*pointsPerInch))
	s.draw(c)
	if _, err := (vgimg.PngCanvas{Canvas: c}).WriteTo(w); err != nil {
		return fmt.Errorf("write PNG: %w", err)
	}
	return nil
}

// families names, after the font that the text was measured in, those of the
// same widths, and what is there at last.
const families = "'Liberation Sans',Arimo,Helvetica,Arial,sans-serif"

// writeSVG writes a scene as SVG. The canvas knows nothing of titles, classes and
// the reader's fonts: its head is replaced and its elements, which come in the
// order of the marks, are completed. What a name says can't be taken for an
// element, since it is escaped.
func (s *scene) writeSVG(w io.Writer) error {
	c := vgsvg.New(Width, Height)
	s.draw(c)
	var drawn bytes.Buffer
	if _, err := c.WriteTo(&drawn); err != nil {
		return fmt.Errorf("draw SVG: %w", err)
	}
	start := bytes.Index(drawn.Bytes(), []byte("<g "))
	if start < 0 {
		return fmt.Errorf("draw SVG: no drawing in %d bytes", drawn.Len())
	}
	rest := drawn.Bytes()[start:]

	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" role="img" width="%d" height="%d" viewBox="0 0 %[1]d %[2]d" `+
		`style="max-width:100%%;height:auto;font-family:%s"><title>%s</title><desc>%s</desc>`+"\n"+
		`<rect class="paper" width="%[1]d" height="%[2]d" fill="#FFFFFF"/>`+"\n",
		Width, Height, families, escaped(s.title), escaped(s.desc))
	for _, m := range s.marks {
		opening := []byte("<path ")
		if m.text != "" {
			opening = []byte("<text ")
		}
		at := bytes.Index(rest, opening)
		if at < 0 {
			return fmt.Errorf("draw SVG: no element for a mark of class %s", m.class)
		}
		out.Write(rest[:at])
		out.Write(opening)
		rest = rest[at+len(opening):]
		fmt.Fprintf(&out, `class="%s" `, m.class)
		if m.text == "" {
			continue
		}
		if m.face.has(m.text) { // in another font it is to take the room that was left for it
			fmt.Fprintf(&out, `textLength="%s" lengthAdjust="spacingAndGlyphs" `, strconv.FormatFloat(m.face.width(m.text), 'f', 1, 64))
		}
		before, after, found := bytes.Cut(rest, []byte("font-family:Liberation Sans;font-variant:normal;"))
		if !found {
			return fmt.Errorf("draw SVG: no font for a text of class %s", m.class)
		}
		out.Write(before)
		rest = after
	}
	out.Write(rest)
	if _, err := w.Write(out.Bytes()); err != nil {
		return fmt.Errorf("write SVG: %w", err)
	}
	return nil
}

// escaped returns a text as it stands in XML.
func escaped(s string) []byte {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(s)) // a buffer takes everything
	return b.Bytes()
}
