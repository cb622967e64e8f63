package drawing

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
)

func roomAirNamed(t *testing.T, name string) RoomAir {
	t.Helper()
	for _, c := range roomAirs() {
		if c.name == name {
			c.chart.Places = slices.Clone(c.chart.Places)
			c.chart.Saturation = slices.Clone(c.chart.Saturation)
			return c.chart
		}
	}
	t.Fatalf("no case %q", name)
	return RoomAir{}
}

// By hand: 0.9*1.4973 - 1.1230 = 0.2246 kPa in the room, and 0.9*0.8127 - 0.3982 = 0.3332
// in the refrigerator.
func TestRoomAirInWords(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]string{
		"one":                   "Invented room: 1.12 kPa of vapour",
		"one that dries":        "Invented room dries 0.22 kPa (0.17 to 0.27)",
		"one that wets":         "Invented room wets 0.22 kPa (0.17 to 0.27)",
		"room and refrigerator": "Dries the most: Invented refrigerator, 0.33 kPa",
		"two without a product": "Most vapour: Invented yard, 1.19 kPa",
		"none dries":            "None of them dries it",
	} {
		if got := roomAirNamed(t, name).title(); got != want {
			t.Errorf("%s: want %q, got %q", name, want, got)
		}
	}
	lines := roomAirNamed(t, "many").lines()
	if len(lines) != 4 || lines[3] != "and 9 more" {
		t.Errorf("lines %q", lines)
	}
	desc := roomAirNamed(t, "many").desc()
	for _, want := range []string{"Invented place A: 2 °C, 60 %", "Invented place L: 13 °C, 82 %", "in balance with air of 90 %"} {
		if !strings.Contains(desc, want) {
			t.Errorf("the description lacks %q: %s", want, desc)
		}
	}
}

// What the picture shows, read off its own scales, is what went in.
func TestRoomAirStandsWhereTheScalesSay(t *testing.T) {
	t.Parallel()
	for _, tc := range roomAirs() {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			c := tc.chart
			s, err := c.scene()
			if err != nil {
				t.Fatal(err)
			}
			elements := parsed(t, svgOf(t, c))
			heights, across := scales(t, elements)
			if len(heights) != 1 {
				t.Fatalf("%d vertical scales, want 1", len(heights))
			}
			i := 0
			for _, m := range s.marks {
				if m.class != "place" {
					continue
				}
				q := c.Places[i]
				if x, y := readOff(t, across, q.Temperature), readOff(t, heights[0], q.Vapour); !isNear(x, m.points[0].x) || !isNear(y, m.points[0].y) {
					t.Errorf("%s at %v, want %v, %v", q.Name, m.points[0], x, y)
				}
				i++
			}
			if i != len(c.Places) {
				t.Errorf("%d places, want %d", i, len(c.Places))
			}
			bars := of(elements, "bar")
			if len(bars) != 6*len(c.Places) {
				t.Fatalf("%d lines of bars", len(bars))
			}
			across0, up := bars[0].points(t), bars[1].points(t)
			q := c.Places[0]
			if !isNear(across0[0].x, readOff(t, across, q.Temperatures.Low)) || !isNear(across0[1].x, readOff(t, across, q.Temperatures.High)) {
				t.Errorf("the bar of the temperature is %v", across0)
			}
			if !isNear(up[0].y, readOff(t, heights[0], q.Vapours.Low)) || !isNear(up[1].y, readOff(t, heights[0], q.Vapours.High)) {
				t.Errorf("the bar of the vapour is %v", up)
			}
			if got := len(of(elements, "surface")); (c.Surface != nil) != (got == 1) {
				t.Errorf("%d lines of the product", got)
			}
			first := of(elements, "saturated")[0].points(t)[0]
			from, _, _ := c.ranges()
			if x, y := readOff(t, across, from), readOff(t, heights[0], c.saturated(from)); !isNear(x, first.x) || !isNear(y, first.y) {
				t.Errorf("saturated air begins at %v, want %v, %v", first, x, y)
			}
		})
	}
}

// No label stands on a place.
func TestNamesStandBesidePlaces(t *testing.T) {
	t.Parallel()
	for _, tc := range roomAirs() {
		s, err := tc.chart.scene()
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range s.marks {
			if m.text == "" {
				continue
			}
			for _, p := range s.marks {
				if at := p.points[0]; p.class == "place" && m.box().overlaps(box{at.x - 4, at.y - 4, at.x + 4, at.y + 4}) {
					t.Errorf("%s: %q stands on a place", tc.name, m.text)
				}
			}
		}
	}
}

func TestRoomAirThatCannotBeDrawn(t *testing.T) {
	t.Parallel()
	nan, inf := math.NaN(), math.Inf(1)
	for name, change := range map[string]func(c *RoomAir){
		"no scale":               func(c *RoomAir) { c.Scale = 0 },
		"no place":               func(c *RoomAir) { c.Places = nil },
		"too many places":        func(c *RoomAir) { c.Places = slices.Repeat(c.Places, 30) },
		"no curve":               func(c *RoomAir) { c.Saturation = c.Saturation[:1] },
		"a curve out of order":   func(c *RoomAir) { slices.Reverse(c.Saturation) },
		"a curve of no number":   func(c *RoomAir) { c.Saturation[3].Pressure = nan },
		"no such activity":       func(c *RoomAir) { c.Surface = new(1.1) },
		"temperature no number":  func(c *RoomAir) { c.Places[0].Temperature = nan },
		"hotter than the curve":  func(c *RoomAir) { c.Places[0].Temperatures.High = 90 },
		"vapour infinite":        func(c *RoomAir) { c.Places[0].Vapours.High = inf },
		"vapour below nothing":   func(c *RoomAir) { c.Places[0].Vapours.Low = -1 },
		"humidity of 200":        func(c *RoomAir) { c.Places[0].Humidity = 200 },
		"a drive of no product":  func(c *RoomAir) { c.Surface = nil },
		"no drive":               func(c *RoomAir) { c.Places[1].Drive = nil },
		"a drive of no number":   func(c *RoomAir) { c.Places[0].Drive = &Drive{nan, Span{0, 0}} },
		"a drive outside itself": func(c *RoomAir) { c.Places[0].Drive = &Drive{1, Span{2, 3}} },
		"a bar beside its place": func(c *RoomAir) { c.Places[0].Vapours = Span{0.1, 0.2} },
	} {
		c := roomAirNamed(t, "room and refrigerator")
		change(&c)
		var b bytes.Buffer
		for format, err := range map[string]error{"SVG": c.SVG(&b), "PNG": c.PNG(&b)} {
			if !errors.Is(err, ErrUndrawable) || b.Len() > 0 {
				t.Errorf("%s as %s: %v and %d bytes, want that it can't be drawn", name, format, err, b.Len())
			}
		}
	}
}
