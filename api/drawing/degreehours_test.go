package drawing

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func degreeHoursNamed(t *testing.T, name string) DegreeHours {
	t.Helper()
	for _, c := range degreeHours() {
		if c.name == name {
			return c.chart
		}
	}
	t.Fatalf("no case %q", name)
	return DegreeHours{}
}

func TestDegreeHoursInWords(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, title, desc string }{
		{
			"running", "Invented lot 7. United States: within the limit so far",
			"Degree-hours above 60 °F against the hours since the start: 600 (520–680) of 1200 °F h after 40 h. " +
				"Projected: limit at 80 h if it stays at 75 °F. Below, on the same hours, the temperature of the chamber, 75 to 75 °F.",
		},
		{
			"ended", "Invented lot 7. United States: pH 5.3 came in time",
			"Degree-hours above 60 °F against the hours since the start: 792 (748–836) of 1200 °F h when pH 5.2 was read. " +
				"pH 5.2 was read after 44 h; between the readings pH 5.3 was crossed after about 41.5 h. " +
				"Below, on the same hours, the temperature of the chamber, 56 to 78 °F.",
		},
		{
			"gap", "Invented lot 7. United States: not shown",
			"Degree-hours above 60 °F against the hours since the start: 900 of 1200 °F h after 40 h. " +
				"From 10 to 30 h nobody read how warm the chamber was; the hotter reading beside it is taken. " +
				"Below, on the same hours, the temperature of the chamber, 75 to 85 °F.",
		},
		{
			"half an hour", "United States: within the limit so far",
			"Degree-hours above 60 °F against the hours since the start: 5 of 1200 °F h after 0.5 h. " +
				"Projected: limit at 120 h if it stays at 70 °F. Below, on the same hours, the temperature of the chamber, 70 to 70 °F.",
		},
	}
	for _, tc := range tests {
		elements := parsed(t, svgOf(t, degreeHoursNamed(t, tc.name)))
		if diff := cmp.Diff([]string{tc.title, tc.desc}, []string{elements[1].text, elements[2].text}); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tc.name, diff)
		}
	}
}

// What the picture shows, read off its own scales, is what went in.
func TestDegreeHoursStandWhereTheScalesSay(t *testing.T) {
	t.Parallel()
	for _, tc := range degreeHours() {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			c := tc.chart
			elements := parsed(t, svgOf(t, c))
			picture := pngOf(t, "degree-hours "+tc.name)
			heights, across := scales(t, elements)
			if len(heights) != 2 {
				t.Fatalf("%d vertical scales, want 2", len(heights))
			}
			chamber, sums := heights[0], heights[1]

			limit := of(elements, "limit")[0].points(t)
			wantLimit := readOff(t, sums, c.Limit)
			if !isNear(wantLimit, limit[0].y) || !isNear(wantLimit, limit[1].y) {
				t.Errorf("limit from %v to %v, want at %v", limit[0], limit[1], wantLimit)
			}
			checkPixel(t, picture, "the limit", point{limit[1].x - 3, limit[1].y}, red)

			base := of(elements, "base")[0].points(t)
			if want := readOff(t, chamber, c.Base); !isNear(want, base[0].y) {
				t.Errorf("base at %v, want %v", base[0].y, want)
			}

			if sum := of(elements, "sum"); len(c.Sum) > 1 {
				line := sum[0].points(t)
				last := c.last()
				want := point{readOff(t, across, last.Hours), readOff(t, sums, last.DegreeHours)}
				end := line[len(line)-1]
				if !isNear(want.x, end.x) || !isNear(want.y, end.y) {
					t.Errorf("the sum ends at %v, want %v", end, want)
				}
				if want := min(len(c.Sum), mostPoints); len(line) > want || len(line) < want/2 {
					t.Errorf("the sum has %d points for %d", len(line), len(c.Sum))
				}
				colour := blue
				if last.DegreeHours > c.Limit {
					colour = red
				}
				checkPixel(t, picture, "the end of the sum", end, colour)
			}
			if over := of(elements, "sum-over"); (len(over) > 0) != (c.last().DegreeHours > c.Limit) {
				t.Errorf("%d lines past the limit, with %v of %v", len(over), c.last().DegreeHours, c.Limit)
			}
			checkTimes(t, c, elements, across)
		})
	}
}

// checkTimes checks the vertical marks and the run-on.
func checkTimes(t *testing.T, c DegreeHours, elements []element, across map[float64]float64) {
	t.Helper()
	marks := map[string]float64{}
	if c.PH != nil {
		marks["ph"] = c.PH.ReadHours
		if c.PH.CrossedHours != nil {
			marks["crossing"] = *c.PH.CrossedHours
		}
	}
	if r := c.RunOn; r != nil && r.LimitHours <= c.hours() {
		marks["reach"] = r.LimitHours
	}
	for _, class := range []string{"ph", "crossing", "reach"} {
		hours, wanted := marks[class]
		lines := of(elements, class)
		if !wanted {
			if len(lines) > 0 {
				t.Errorf("%d lines of class %s, want none", len(lines), class)
			}
			continue
		}
		if len(lines) != 2 { // one in each panel
			t.Fatalf("%d lines of class %s, want 2", len(lines), class)
		}
		for _, l := range lines {
			p := l.points(t)
			if want := readOff(t, across, hours); !isNear(want, p[0].x) || !isNear(want, p[1].x) {
				t.Errorf("%s at %v, want %v", class, p[0].x, want)
			}
		}
	}
	if r := c.RunOn; r != nil {
		run := of(elements, "run-on")[0]
		if !strings.Contains(run.attributes["style"], "stroke-dasharray") {
			t.Error("the run-on is not dashed")
		}
		limit := of(elements, "limit")[0].points(t)[0].y
		end := run.points(t)[1]
		if _, whole := marks["reach"]; whole && !isNear(limit, end.y) {
			t.Errorf("the run-on ends at %v, want at the limit, %v", end, limit)
		} else if !whole && end.y <= limit {
			t.Errorf("the run-on reaches the limit at %v, want it to leave before", end)
		}
	}
}

// A gap is dashed and hatched from its first hour to its last, those that touch as
// one; what is known has a whole line.
func TestGapsAreMarked(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]struct{ known, unknown [][2]float64 }{
		"gap":               {[][2]float64{{0, 10}, {30, 40}}, [][2]float64{{10, 30}}},
		"gaps to both ends": {[][2]float64{{30, 35}}, [][2]float64{{0, 30}, {35, 40}}},
		"running":           {[][2]float64{{0, 40}}, nil},
	} {
		elements := parsed(t, svgOf(t, degreeHoursNamed(t, name)))
		_, across := scales(t, elements)
		for class, spans := range map[string][][2]float64{"chamber": want.known, "chamber-gap": want.unknown} {
			lines := of(elements, class)
			if len(lines) != len(spans) {
				t.Fatalf("%s: want %d lines of class %s, got %d", name, len(spans), class, len(lines))
			}
			for i, line := range lines {
				p := line.points(t)
				if from, to := readOff(t, across, spans[i][0]), readOff(t, across, spans[i][1]); !isNear(from, p[0].x) || !isNear(to, p[len(p)-1].x) {
					t.Errorf("%s: want %s from %v to %v, got %v to %v", name, class, from, to, p[0].x, p[len(p)-1].x)
				}
				if dashed := strings.Contains(line.attributes["style"], "stroke-dasharray"); dashed != (class == "chamber-gap") {
					t.Errorf("%s: %s is dashed: %v", name, class, dashed)
				}
			}
		}
		hatched := of(elements, "gap")
		if (len(hatched) > 0) != (want.unknown != nil) {
			t.Errorf("%s: %d slanting lines", name, len(hatched))
		}
		for _, h := range hatched {
			for _, p := range h.points(t) {
				if !slices.ContainsFunc(want.unknown, func(span [2]float64) bool {
					return p.x >= readOff(t, across, span[0])-1 && (span[1] == 40 || p.x <= readOff(t, across, span[1])+1)
				}) {
					t.Errorf("%s: hatched at %v", name, p)
				}
			}
		}
	}
}

// So many gaps that they fill the picture are one.
func TestManyGapsAreOne(t *testing.T) {
	t.Parallel()
	var c DegreeHours
	for i := range 101 {
		c.Gaps = append(c.Gaps, Gap{float64(3 * i), float64(3*i + 1)})
	}
	if diff := cmp.Diff([]Gap{{0, 301}}, drawnGaps(c.Gaps)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestDegreeHoursThatCannotBeDrawn(t *testing.T) {
	t.Parallel()
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		name   string
		change func(c *DegreeHours)
	}{
		{"no scale", func(c *DegreeHours) { c.Scale = 0 }},
		{"no sum", func(c *DegreeHours) { c.Sum = nil }},
		{"no chamber", func(c *DegreeHours) { c.Chamber = nil }},
		{"no limit", func(c *DegreeHours) { c.Limit = 0 }},
		{"limit not a number", func(c *DegreeHours) { c.Limit = nan }},
		{"limit infinite", func(c *DegreeHours) { c.Limit = inf }},
		{"base not a number", func(c *DegreeHours) { c.Base = nan }},
		{"base infinite", func(c *DegreeHours) { c.Base = -inf }},
		{"sum not a number", func(c *DegreeHours) { c.Sum[1].DegreeHours = nan }},
		{"sum infinite", func(c *DegreeHours) { c.Sum[1].DegreeHours = inf }},
		{"sum falls", func(c *DegreeHours) { c.Sum = append(c.Sum, SumPoint{41, 1}) }},
		{"sum negative", func(c *DegreeHours) { c.Sum[0].DegreeHours = -1 }},
		{"hours not a number", func(c *DegreeHours) { c.Sum[1].Hours = nan }},
		{"hours out of order", func(c *DegreeHours) { c.Sum[0].Hours = 41 }},
		{"hours before the start", func(c *DegreeHours) { c.Sum[0].Hours = -1 }},
		{"hours past all bounds", func(c *DegreeHours) { c.Sum[1].Hours = 1e300 }},
		{"range upside down", func(c *DegreeHours) { c.Range[1] = RangePoint{40, 680, 520} }},
		{"range not a number", func(c *DegreeHours) { c.Range[1].High = nan }},
		{"range infinite", func(c *DegreeHours) { c.Range[1].High = inf }},
		{"range out of order", func(c *DegreeHours) { c.Range[0].Hours = 50 }},
		{"chamber not a number", func(c *DegreeHours) { c.Chamber[1].Temperature = nan }},
		{"chamber infinite", func(c *DegreeHours) { c.Chamber[1].Temperature = inf }},
		{"chamber out of order", func(c *DegreeHours) { c.Chamber[0].Hours = 50 }},
		{"a gap that ends before it begins", func(c *DegreeHours) { c.Gaps = []Gap{{20, 10}} }},
		{"gaps over each other", func(c *DegreeHours) { c.Gaps = []Gap{{10, 30}, {20, 40}} }},
		{"a gap not a number", func(c *DegreeHours) { c.Gaps = []Gap{{nan, 10}} }},
		{"pH not a number", func(c *DegreeHours) { c.PH = &PHMark{Target: 5.3, PH: nan} }},
		{"pH at no time", func(c *DegreeHours) { c.PH = &PHMark{Target: 5.3, PH: 5.2, ReadHours: nan} }},
		{"crossing after the reading", func(c *DegreeHours) { c.PH = &PHMark{Target: 5.3, PH: 5.2, ReadHours: 4, CrossedHours: new(5.0)} }},
		{"limit before now", func(c *DegreeHours) { c.RunOn.LimitHours = 39 }},
		{"limit never", func(c *DegreeHours) { c.RunOn.LimitHours = inf }},
		{"run-on not a number", func(c *DegreeHours) { c.RunOn.Temperature = nan }},
		{"run-on past the limit", func(c *DegreeHours) { c.Limit = 599 }},
	}
	for _, tc := range tests {
		c := degreeHoursNamed(t, "running")
		tc.change(&c)
		var b bytes.Buffer
		for format, err := range map[string]error{"SVG": c.SVG(&b), "PNG": c.PNG(&b)} {
			if !errors.Is(err, ErrUndrawable) || b.Len() > 0 {
				t.Errorf("%s as %s: %v and %d bytes, want that it can't be drawn", tc.name, format, err, b.Len())
			}
		}
	}
}

// Where the rule's name is so long that the state would be cut, both are on a
// line of their own.
func TestDegreeHoursTitleKeepsTheState(t *testing.T) {
	t.Parallel()
	c := degreeHoursNamed(t, "long names")
	c.State = "limit exceeded"
	titles := of(parsed(t, svgOf(t, c)), "title")
	if len(titles) != 2 || titles[1].text != "limit exceeded" || !strings.HasSuffix(titles[0].text, "…") {
		t.Errorf("title %v, want the state whole on the second line", titles)
	}
}

func FuzzDegreeHours(f *testing.F) {
	f.Add(60.0, 1200.0, 40.0, 600.0, 75.0, 40.0, 80.0, 20.0, uint8(0))
	f.Add(15.6, 665.0, 0.0, 0.0, 15.6, 0.0, 1e6, 0.0, uint8(1))
	f.Add(math.NaN(), math.Inf(1), -1.0, 1e300, -300.0, 5e-324, 0.0, 0.0, uint8(2))
	f.Add(-200.0, 1.0, 1e5, 1e7, 1000.0, 1e5, 1e7, 1e5, uint8(7))
	f.Add(999.0, 1e7, 1e-12, 1e-12, -199.0, 1e-12, 1e-12, 1e-12, uint8(7))
	f.Fuzz(func(t *testing.T, base, limit, hours, sum, temperature, read, reach, crossed float64, with uint8) {
		c := DegreeHours{
			Subject: "fuzz", Rule: "rule", State: "state", Scale: Celsius, Base: base, Limit: limit,
			Sum:     []SumPoint{{0, 0}, {hours / 3, sum / 5}, {hours, sum}},
			Chamber: []Reading{{0, base}, {hours / 2, temperature}, {hours, temperature}, {hours * 1.5, base}},
		}
		if with&1 != 0 {
			c.PH = &PHMark{Target: 5.3, PH: 5.2, ReadHours: read, CrossedHours: &crossed}
		}
		if with&2 != 0 {
			c.RunOn = &RunOn{Temperature: temperature, LimitHours: reach}
		}
		if with&4 != 0 {
			c.Range = []RangePoint{{0, 0, crossed}, {hours, sum / 2, sum * 2}}
		}
		drawnOrRefused(t, c, c.scene)
	})
}

// drawnOrRefused checks that a chart either is laid out and can be read, or is
// refused.
func drawnOrRefused(t *testing.T, c Chart, scene func() (*scene, error)) {
	t.Helper()
	s, err := scene()
	if err != nil {
		if !errors.Is(err, ErrUndrawable) {
			t.Errorf("%v, want an error of the data", err)
		}
		return
	}
	for _, f := range laidOut(s) {
		t.Error(f)
	}
	for _, m := range s.marks {
		for _, bad := range []string{"NaN", "Inf"} {
			if strings.Contains(m.text, bad) {
				t.Errorf("%s says %q", m.class, m.text)
			}
		}
	}
	parsed(t, svgOf(t, c))
}
