package drawing

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// element is an element of an SVG.
type element struct {
	name       string
	attributes map[string]string
	text       string
}

func (e element) class() string { return e.attributes["class"] }

// points returns the corners of a path drawn with straight lines, upper left
// corner of the picture at 0.
func (e element) points(t *testing.T) []point {
	t.Helper()
	var points []point
	for _, pair := range strings.FieldsFunc(e.attributes["d"], func(r rune) bool { return strings.ContainsRune("MLZ", r) }) {
		x, y, _ := strings.Cut(pair, ",")
		points = append(points, point{number(t, x), Height - number(t, y)})
	}
	return points
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(strings.Replace(s, "−", "-", 1), 64)
	if err != nil {
		t.Fatalf("not a number: %q", s)
	}
	return v
}

// parsed returns the elements of an SVG in their order; it fails on anything that
// is not well-formed.
func parsed(t *testing.T, svg []byte) []element {
	t.Helper()
	var elements []element
	var open []int
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return elements
		}
		if err != nil {
			t.Fatalf("not XML: %v", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := element{name: token.Name.Local, attributes: map[string]string{}}
			for _, a := range token.Attr {
				e.attributes[a.Name.Local] = a.Value
			}
			elements, open = append(elements, e), append(open, len(elements))
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				elements[open[len(open)-1]].text += string(token)
			}
		}
	}
}

func svgOf(t *testing.T, c Chart) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := c.SVG(&b); err != nil {
		t.Fatalf("SVG: %v", err)
	}
	return b.Bytes()
}

// pngs are the PNGs of those cases that differ in more than words, each drawn when
// first asked for: drawing them takes most of the time of these tests.
var pngs = func() map[string]func() ([]byte, error) {
	all := map[string]func() ([]byte, error){
		"degree-hours ended": nil, "degree-hours exceeded": nil, "degree-hours just started": nil, "degree-hours three flags": nil,
		"degree-hours long names": nil, "degree-hours log of 2000": nil, "dry-down before weighing": nil, "dry-down doubtful": nil,
		"dry-down wide bands": nil, "dry-down already there": nil, "dry-down not at this humidity": nil, "dry-down perhaps never": nil,
		"acidification without a sum": nil, "acidification with a sum": nil, "comparison two": nil,
	}
	for _, c := range charts() {
		if _, wanted := all[c.name]; !wanted {
			continue
		}
		all[c.name] = sync.OnceValues(func() ([]byte, error) {
			var b bytes.Buffer
			err := c.chart.PNG(&b)
			return b.Bytes(), err
		})
	}
	return all
}()

// pngOf returns the PNG of a case, opened, or nil for a case that is not drawn.
func pngOf(t *testing.T, name string) *image.RGBA {
	t.Helper()
	draw, wanted := pngs[name]
	if !wanted {
		return nil
	}
	b, err := draw()
	if err != nil {
		t.Fatalf("PNG: %v", err)
	}
	m, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatalf("not a PNG: %v", err)
	}
	opaque, ok := m.(*image.RGBA)
	if !ok {
		t.Fatalf("a PNG of %T, want one without transparency", m)
	}
	return opaque
}

// of returns the elements of a class.
func of(elements []element, class string) []element {
	var found []element
	for _, e := range elements {
		if e.class() == class {
			found = append(found, e)
		}
	}
	return found
}

// scales reads the scales of a picture off its ticks, as a reader does: each is a
// line followed by its figure. Horizontal lines give the heights of the figures,
// panel by panel, the others the places along the axis.
func scales(t *testing.T, elements []element) (heights []map[float64]float64, across map[float64]float64) {
	t.Helper()
	across = map[float64]float64{}
	last := math.Inf(1)
	for i, e := range elements {
		if e.class() != "tick" {
			continue
		}
		line := elements[i-1].points(t)
		if v := number(t, e.text); elements[i-1].class() == "grid" {
			if v <= last {
				heights = append(heights, map[float64]float64{})
			}
			heights[len(heights)-1][v] = line[0].y
			last = v
		} else {
			across[v] = line[0].x
		}
	}
	return heights, across
}

// readOff reads a place off a scale through its first and last tick.
func readOff(t *testing.T, scale map[float64]float64, v float64) float64 {
	t.Helper()
	var ticks []float64
	for k := range scale {
		ticks = append(ticks, k)
	}
	slices.Sort(ticks)
	if len(ticks) < 2 {
		t.Fatalf("a scale with %d ticks", len(ticks))
	}
	a, b := ticks[0], ticks[len(ticks)-1]
	return scale[a] + (v-a)/(b-a)*(scale[b]-scale[a])
}

// near is as far as a place read off the ticks may be from the place of a mark:
// the file tells hundredths of a pixel.
const near = 0.05

func isNear(want, got float64) bool { return math.Abs(want-got) <= near }

// laidOut reports what a designer would send back: text outside the picture or on
// other text, too small, or ink outside the picture.
func laidOut(s *scene) []string {
	var faults []string
	texts := s.texts()
	const closest = 0.5 // boxes are of the font's ascent and descent, which few letters fill
	for i, m := range texts {
		b := m.box()
		if !page.holds(b) {
			faults = append(faults, fmt.Sprintf("%s %q at %v is outside", m.class, m.text, b))
		}
		if m.face.size*375/Width < 11 {
			faults = append(faults, fmt.Sprintf("%s %q is too small on a phone", m.class, m.text))
		}
		inner := box{b.x0 + closest, b.y0 + closest, b.x1 - closest, b.y1 - closest}
		for _, n := range texts[i+1:] {
			if inner.overlaps(n.box()) {
				faults = append(faults, fmt.Sprintf("%s %q is on %s %q", m.class, m.text, n.class, n.text))
			}
		}
	}
	for _, m := range s.marks {
		for _, p := range m.points {
			around := box{p.x - m.radius, p.y - m.radius, p.x + m.radius, p.y + m.radius}
			if math.IsNaN(p.x) || math.IsNaN(p.y) || !page.holds(around) {
				faults = append(faults, fmt.Sprintf("%s at %v is outside", m.class, p))
				break
			}
		}
		if len(m.points) > 2*mostPoints+2 { // a band has two lines
			faults = append(faults, fmt.Sprintf("%s has %d points", m.class, len(m.points)))
		}
	}
	return faults
}

func TestPicturesAreLaidOut(t *testing.T) {
	t.Parallel()
	for _, c := range charts() {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s, err := c.scene()
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range laidOut(s) {
				t.Error(f)
			}
		})
	}
}

func TestSVGIsAccessibleAndSelfContained(t *testing.T) {
	t.Parallel()
	for _, c := range charts() {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s, err := c.scene()
			if err != nil {
				t.Fatal(err)
			}
			svg := svgOf(t, c.chart)
			elements := parsed(t, svg)
			root := elements[0]
			if root.name != "svg" || root.attributes["role"] != "img" || root.attributes["viewBox"] != "0 0 540 600" {
				t.Errorf("root is %s %v", root.name, root.attributes)
			}
			if elements[1].name != "title" || elements[2].name != "desc" || len(elements[2].text) < 60 {
				t.Errorf("starts with %v, %v, want a title and a description", elements[1], elements[2])
			}
			if diff := cmp.Diff([]string{s.title, s.desc}, []string{elements[1].text, elements[2].text}); diff != "" {
				t.Errorf("title and description (-want +got):\n%s", diff)
			}
			var want, got []string
			for _, m := range s.texts() {
				want = append(want, m.class+": "+m.text)
			}
			for _, e := range elements {
				switch e.name {
				case "text":
					got = append(got, e.class()+": "+e.text)
				case "svg", "title", "desc", "g", "rect", "path":
				default:
					t.Errorf("element %s", e.name)
				}
				for name, value := range e.attributes {
					if strings.Contains(name, "href") || strings.HasPrefix(name, "on") || strings.Contains(value, "url(") {
						t.Errorf("%s refers to %s=%q", e.name, name, value)
					}
				}
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("texts (-want +got):\n%s", diff)
			}
		})
	}
}

func TestPNGHasItsSizeAndAllOfItsColours(t *testing.T) {
	t.Parallel()
	for _, c := range charts() {
		if _, wanted := pngs[c.name]; !wanted {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m := pngOf(t, c.name)
			if want := image.Rect(0, 0, 1080, 1200); m.Bounds() != want {
				t.Fatalf("size %v, want %v", m.Bounds(), want)
			}
			if got := at(m, point{1, 1}); got != white {
				t.Errorf("corner is %v, want white", got)
			}
			s, err := c.scene()
			if err != nil {
				t.Fatal(err)
			}
			seen := map[[4]byte]bool{}
			var last [4]byte
			for i := 0; i < len(m.Pix); i += 4 {
				if pixel := [4]byte(m.Pix[i:]); pixel != last {
					seen[pixel], last = true, pixel
				}
			}
			for _, m := range s.marks {
				if c := m.pen.color; c != veil && !seen[[4]byte{c.R, c.G, c.B, c.A}] {
					t.Errorf("%s: no pixel of its colour %v", m.class, c)
				}
			}
		})
	}
}

// checkPixel checks the colour of a PNG at a place of the scene; nil has none.
func checkPixel(t *testing.T, m *image.RGBA, what string, p point, want color.NRGBA) {
	t.Helper()
	const blended = 8 // of 255, where a pixel is not wholly covered
	if m == nil {
		return
	}
	if got := at(m, p); apart(got, want) > blended {
		t.Errorf("pixel of %s at %v is %v, want %v", what, p, got, want)
	}
}

// at returns the colour of a PNG at a place of the scene.
func at(m *image.RGBA, p point) color.NRGBA {
	c := m.RGBAAt(int(p.x*PNGScale), int(p.y*PNGScale))
	return color.NRGBA(c) // the same without transparency
}

// apart returns how far apart two colours are at most, channel by channel.
func apart(a, b color.NRGBA) int {
	d := func(x, y uint8) int { return max(int(x), int(y)) - min(int(x), int(y)) }
	return max(d(a.R, b.R), d(a.G, b.G), d(a.B, b.B))
}

func TestTheSameDataGiveTheSameBytes(t *testing.T) {
	t.Parallel()
	// PNGs cost a hundred times as much: one of each chart, with everything in it.
	asPNG := map[string]bool{"degree-hours three flags": true, "dry-down doubtful": true, "acidification with a sum": true}
	for _, c := range charts() {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			const times = 4
			svgs, pictures := make([]bytes.Buffer, times), make([]bytes.Buffer, times)
			var all sync.WaitGroup
			for i := range times {
				all.Go(func() {
					if err := c.chart.SVG(&svgs[i]); err != nil {
						t.Error(err)
					}
					if !asPNG[c.name] {
						return
					}
					if err := c.chart.PNG(&pictures[i]); err != nil {
						t.Error(err)
					}
				})
			}
			all.Wait()
			for i := range times {
				if !bytes.Equal(svgs[0].Bytes(), svgs[i].Bytes()) || !bytes.Equal(pictures[0].Bytes(), pictures[i].Bytes()) {
					t.Errorf("drawing %d differs", i)
				}
			}
		})
	}
}

// full is a writer that takes nothing.
type full struct{}

var errFull = errors.New("full")

func (full) Write([]byte) (int, error) { return 0, errFull }

func TestErrorsOfTheWriterAreToldApart(t *testing.T) {
	t.Parallel()
	for _, c := range []Chart{degreeHours()[0].chart, dryDowns()[0].chart} {
		for format, err := range map[string]error{"SVG": c.SVG(full{}), "PNG": c.PNG(full{})} {
			if !errors.Is(err, errFull) || errors.Is(err, ErrUndrawable) {
				t.Errorf("%T as %s: %v, want the error of the writer", c, format, err)
			}
		}
	}
}

// contrast is the ratio of two colours as defined in Web Content Accessibility
// Guidelines 2.2, 2023, "contrast ratio" and "relative luminance".
func contrast(a, b color.NRGBA) float64 {
	luminance := func(c color.NRGBA) float64 {
		linear := func(v uint8) float64 {
			s := float64(v) / 255
			if s <= 0.04045 {
				return s / 12.92
			}
			return math.Pow((s+0.055)/1.055, 2.4)
		}
		return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
	}
	high, low := math.Max(luminance(a), luminance(b)), math.Min(luminance(a), luminance(b))
	return (high + 0.05) / (low + 0.05)
}

// The least contrasts are those of the guidelines, level AA: 4.5 for text
// (criterion 1.4.3), 3 for what is needed to understand a picture (1.4.11).
func TestContrast(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name         string
		front, paper color.NRGBA
		least        float64
	}{
		{"grey text", grey, white, 4.5},
		{"ink on the darkest band", ink, tint50, 4.5},
		{"blue on the darkest band", blue, tint50, 4.5},
		{"red on the darkest band", red, tint50, 4.5},
		{"green on the darkest band", green, tint50, 4.5},
		{"edge of the widest band", edge, white, 3},
		{"edge between the bands", edge, tint50, 2.9}, // a hair less: there the shade changes too
	}
	for _, tc := range tests {
		if got := contrast(tc.front, tc.paper); got < tc.least {
			t.Errorf("%s: contrast %.2f, want %v at least", tc.name, got, tc.least)
		}
	}
	// The extremes of the definition: black on white is 21 to 1.
	if got := contrast(color.NRGBA{0, 0, 0, 255}, white); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white: %v, want 21", got)
	}
}

// The check of the layout sees what it is there for.
func TestLaidOutSeesFaults(t *testing.T) {
	t.Parallel()
	text := func(x, y float64, f face) mark {
		return mark{class: "text", text: "text", face: f, points: []point{{x, y}}}
	}
	tests := []struct {
		name  string
		marks []mark
		want  int
	}{
		{"two texts apart", []mark{text(50, 50, small), text(50, 70, small)}, 0},
		{"one on the other", []mark{text(50, 50, small), text(60, 55, small)}, 1},
		{"past the edge", []mark{text(530, 50, small)}, 1},
		{"too small", []mark{text(50, 50, face{size: 15})}, 1},
		{"a dot past the edge", []mark{{class: "dot", points: []point{{2, 2}}, radius: 3}}, 1},
		{"no number", []mark{{class: "line", points: []point{{2, math.NaN()}, {3, 3}}}}, 1},
		{"too many points", []mark{{class: "line", points: make([]point, 2*mostPoints+3)}}, 1},
	}
	for _, tc := range tests {
		if got := laidOut(&scene{marks: tc.marks}); len(got) != tc.want {
			t.Errorf("%s: %v, want %d faults", tc.name, got, tc.want)
		}
	}
}
