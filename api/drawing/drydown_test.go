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

func dryDownNamed(t *testing.T, name string) DryDown {
	t.Helper()
	for _, c := range dryDowns() {
		if c.name == name {
			return c.chart
		}
	}
	t.Fatalf("no case %q", name)
	return DryDown{}
}

// The dates are counted from 3 March 2026, a Tuesday, by hand: day 30 is Thursday
// 2 April.
func TestDryDownInWords(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name  string
		title string
		lines []string
	}{
		{"before weighing", "35 % on day 30 (80 %: 26–39)", []string{"Thu 2 Apr 2026 (80 %: 28 Mar–10 Apr)", "before any weigh-in"}},
		{"six weigh-ins", "35 % on day 30 (80 %: 28–32)", []string{"Thu 2 Apr 2026 (80 %: 31 Mar–4 Apr)", "6 weigh-ins; 26.9 % lost by day 18"}},
		{"forty weigh-ins", "35 % on day 30 (80 %: 29–31)", []string{"40 weigh-ins; 33.5 % lost by day 27"}}, // no dates given
		{"doubtful", "35 % on day 30 (80 %: 28–32)", []string{"Thu 2 Apr 2026 (80 %: 31 Mar–4 Apr)", "7 weigh-ins, 3 of them doubtful; 26.9 % lost by day 18"}},
		{"wide bands", "35 % on day 30 (80 %: 16–95)", []string{"Thu 2 Apr 2026 (80 %: 19 Mar–6 Jun)", "before any weigh-in"}},
		{"tiny losses", "2 % on day 4.5 (80 %: 3.2–6.5)", []string{"Sat 7 Mar 2026 (80 %: 6 Mar–9 Mar)", "3 weigh-ins; 0.3 % lost by day 1"}},
		{"already there", "Already there: 36.2 % on day 33, target 35 %", []string{"9 weigh-ins"}},
		{"not at this humidity", "Not at this humidity: stops near 31 %, target 35 %", []string{"7 weigh-ins; 23.9 % lost by day 25"}},
		{"perhaps never", "Day uncertain: stops near 34 %, target 35 %", []string{"35 % likely never (80 %: day 52 or later)", "7 weigh-ins; 26.5 % lost by day 25"}},
	}
	for _, tc := range tests {
		c := dryDownNamed(t, tc.name)
		elements := parsed(t, svgOf(t, c))
		var lines []string
		for _, e := range of(elements, "standing") {
			lines = append(lines, e.text)
		}
		if diff := cmp.Diff(append([]string{tc.title}, tc.lines...), append([]string{of(elements, "title")[0].text}, lines...)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tc.name, diff)
		}
		if want := "Invented piece 3. " + tc.title; elements[1].text != want {
			t.Errorf("%s: title %q, want %q", tc.name, elements[1].text, want)
		}
		for _, l := range tc.lines {
			if !strings.Contains(elements[2].text, l) {
				t.Errorf("%s: description %q lacks %q", tc.name, elements[2].text, l)
			}
		}
	}
}

// What the picture shows, read off its own scales, is what went in.
func TestDryDownStandsWhereTheScalesSay(t *testing.T) {
	t.Parallel()
	for _, tc := range dryDowns() {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			c := tc.chart
			elements := parsed(t, svgOf(t, c))
			picture := pngOf(t, "dry-down "+tc.name)
			heights, across := scales(t, elements)
			if len(heights) != 1 {
				t.Fatalf("%d vertical scales, want 1", len(heights))
			}
			losses := heights[0]
			y := func(loss float64) float64 { return readOff(t, losses, loss) }
			x := func(days float64) float64 { return readOff(t, across, days) }

			target := of(elements, "target")[0].points(t)
			if !isNear(y(c.Target), target[0].y) || !isNear(y(c.Target), target[1].y) {
				t.Errorf("target from %v to %v, want at %v", target[0], target[1], y(c.Target))
			}
			checkPixel(t, picture, "the target", point{target[0].x + 1, target[0].y}, green)
			plotted := box{target[0].x, 0, target[1].x, Height - 60}
			checkBands(t, c, elements, plotted, x, y)
			checkWeighIns(t, c, elements)
			checkDay(t, c, elements, x)

			stops := of(elements, "stops")
			switch {
			case c.Outcome == NotAtThisHumidity || c.Outcome == IllDetermined:
				if got := stops[0].points(t)[0].y; !isNear(y(*c.Stops), got) {
					t.Errorf("the drying stops at %v, want %v", got, y(*c.Stops))
				}
			case len(stops) > 0:
				t.Error("a line where the drying stops")
			}
		})
	}
}

func checkBands(t *testing.T, c DryDown, elements []element, plotted box, x, y func(float64) float64) {
	t.Helper()
	var before []point
	for _, band := range []struct {
		class string
		of    func(CoursePoint) Span
	}{
		{"band-50", func(p CoursePoint) Span { return p.P50 }},
		{"band-80", func(p CoursePoint) Span { return p.P80 }},
		{"band-90", func(p CoursePoint) Span { return p.P90 }},
	} {
		found := of(elements, band.class)
		if len(c.Course) == 0 {
			if len(found) > 0 {
				t.Errorf("a %s without a course", band.class)
			}
			continue
		}
		around := found[0].points(t)
		for _, p := range around {
			if p.x < plotted.x0-near || p.x > plotted.x1+near || p.y < plotted.y0 || p.y > plotted.y1 {
				t.Fatalf("%s leaves the panel at %v", band.class, p)
			}
		}
		// The first corner is the lower end of the first day, the last the upper.
		first := c.Course[0]
		low, high := point{x(first.Days), y(band.of(first).Low)}, point{x(first.Days), y(band.of(first).High)}
		if end := around[len(around)-1]; !isNear(low.y, around[0].y) || !isNear(high.y, end.y) || !isNear(low.x, end.x) {
			t.Errorf("%s starts from %v to %v, want %v to %v", band.class, around[0], end, low, high)
		}
		// In the middle, where the lines turn, each wider band holds the narrower.
		right := []point{around[len(around)/2-1], around[len(around)/2]}
		if before != nil && (right[0].y < before[0].y-near || right[1].y > before[1].y+near) {
			t.Errorf("%s ends from %v, within the narrower from %v", band.class, right, before)
		}
		before = right
	}
}

func checkWeighIns(t *testing.T, c DryDown, elements []element) {
	t.Helper()
	doubtful := 0
	for _, w := range c.WeighIns {
		if w.Doubtful {
			doubtful++
		}
	}
	if got := len(of(elements, "doubtful")); got != doubtful {
		t.Errorf("%d doubtful weigh-ins are drawn, want %d", got, doubtful)
	}
	good, got := len(c.WeighIns)-doubtful, len(of(elements, "weigh-in"))
	if good <= mostPoints && got != good || got > mostPoints {
		t.Errorf("%d weigh-ins are drawn of %d", got, good)
	}
}

// checkDay checks the bars of the target day and its tick.
func checkDay(t *testing.T, c DryDown, elements []element, x func(float64) float64) {
	t.Helper()
	right := of(elements, "target")[0].points(t)[1].x
	for class, span := range map[string]func() Span{
		"day-50": func() Span { return c.Day.P50 }, "day-80": func() Span { return c.Day.P80 }, "day-90": func() Span { return c.Day.P90 },
	} {
		bars := of(elements, class)
		if c.Day == nil {
			if len(bars) > 0 {
				t.Errorf("a %s without a day", class)
			}
			continue
		}
		bar := bars[0].points(t)
		low, high := x(span().Low), right
		if !math.IsInf(span().High, 1) {
			high = math.Min(right, x(span().High))
		}
		if !isNear(low, bar[0].x) || !isNear(high, bar[1].x) {
			t.Errorf("%s from %v to %v, want %v to %v", class, bar[0].x, bar[1].x, low, high)
		}
	}
	ticks := of(elements, "day-median")
	if c.Day == nil || math.IsInf(c.Day.Median, 1) {
		if len(ticks) > 0 {
			t.Error("a tick of a day that never comes")
		}
		return
	}
	if got := ticks[0].points(t)[0].x; !isNear(x(c.Day.Median), got) {
		t.Errorf("tick of the day at %v, want %v", got, x(c.Day.Median))
	}
}

// A doubtful weigh-in far off stands at the edge with an arrow, and does not
// squeeze the others.
func TestDryDownDoubtfulFarOff(t *testing.T) {
	t.Parallel()
	c := dryDownNamed(t, "doubtful")
	elements := parsed(t, svgOf(t, c))
	if got := len(of(elements, "beyond")); got != 2 { // -880 % and 90 %; 24 % is in the picture
		t.Errorf("%d arrows, want 2", got)
	}
	heights, _ := scales(t, elements)
	var figures []float64
	for v := range heights[0] {
		figures = append(figures, v)
	}
	if low, high := slices.Min(figures), slices.Max(figures); low < -10 || high > 50 {
		t.Errorf("the scale goes from %v to %v", low, high)
	}
}

func TestDryDownTellsDatesAtTheEnds(t *testing.T) {
	t.Parallel()
	with := of(parsed(t, svgOf(t, dryDownNamed(t, "before weighing"))), "date")
	// The axis ends a twenty-fifth past day 43, the end of the widest band: 44.7 days
	// after 3 March, 8:00.
	if len(with) != 2 || with[0].text != "3 Mar 2026" || with[1].text != "17 Apr 2026" {
		t.Errorf("dates %v, want 3 Mar 2026 and 17 Apr 2026", with)
	}
	if without := of(parsed(t, svgOf(t, dryDownNamed(t, "forty weigh-ins"))), "date"); len(without) > 0 {
		t.Errorf("dates %v, want none", without)
	}
}

func TestDryDownThatCannotBeDrawn(t *testing.T) {
	t.Parallel()
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		name   string
		change func(c *DryDown)
	}{
		{"no outcome", func(c *DryDown) { c.Outcome = 0 }},
		{"an outcome unheard of", func(c *DryDown) { c.Outcome = 9 }},
		{"nothing", func(c *DryDown) { c.Course, c.WeighIns = nil, nil }},
		{"no target", func(c *DryDown) { c.Target = 0 }},
		{"target not a number", func(c *DryDown) { c.Target = nan }},
		{"target infinite", func(c *DryDown) { c.Target = inf }},
		{"present not a number", func(c *DryDown) { c.Now = nan }},
		{"projected without a day", func(c *DryDown) { c.Day = nil }},
		{"projected to never", func(c *DryDown) { c.Day = &TargetDay{inf, Span{inf, inf}, Span{inf, inf}, Span{inf, inf}} }},
		{"day not a number", func(c *DryDown) { c.Day = &TargetDay{nan, Span{1, 2}, Span{1, 2}, Span{1, 2}} }},
		{"day before hanging", func(c *DryDown) { c.Day = &TargetDay{1, Span{1, 2}, Span{1, 2}, Span{-inf, 2}} }},
		{"days not nested", func(c *DryDown) { c.Day = &TargetDay{30, Span{25, 35}, Span{28, 32}, Span{20, 40}} }},
		{"no loss where it stops", func(c *DryDown) { c.Outcome = NotAtThisHumidity }},
		{"stops at no number", func(c *DryDown) { c.Stops = &nan }},
		{"weigh-in not a number", func(c *DryDown) { c.WeighIns[0].Loss = nan }},
		{"weigh-in infinite", func(c *DryDown) { c.WeighIns[0].Loss = inf }},
		{"doubtful weigh-in infinite", func(c *DryDown) { c.WeighIns[0] = WeighIn{0, -inf, true} }},
		{"day of a weigh-in not a number", func(c *DryDown) { c.WeighIns[0].Days = nan }},
		{"weigh-ins out of order", func(c *DryDown) { c.WeighIns[0].Days = 7 }},
		{"course not a number", func(c *DryDown) { c.Course[1].Median = nan }},
		{"course infinite", func(c *DryDown) { c.Course[1].P90.High = inf }},
		{"course out of order", func(c *DryDown) { c.Course[0].Days = 5 }},
		{"course not nested", func(c *DryDown) { c.Course[1].P50, c.Course[1].P90 = c.Course[1].P90, c.Course[1].P50 }},
	}
	for _, tc := range tests {
		c := dryDownNamed(t, "six weigh-ins")
		c.Course, c.WeighIns = slices.Clone(c.Course), slices.Clone(c.WeighIns)
		tc.change(&c)
		var b bytes.Buffer
		for format, err := range map[string]error{"SVG": c.SVG(&b), "PNG": c.PNG(&b)} {
			if !errors.Is(err, ErrUndrawable) || b.Len() > 0 {
				t.Errorf("%s as %s: %v and %d bytes, want that it can't be drawn", tc.name, format, err, b.Len())
			}
		}
	}
}

func FuzzDryDown(f *testing.F) {
	f.Add(35.0, 18.0, 30.1, 8.0, 40.0, 5.0, 18.0, 24.0, 31.0, uint8(1))
	f.Add(0.1, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, uint8(3))
	f.Add(math.NaN(), math.Inf(1), -1.0, 1e300, -300.0, 5e-324, 0.0, 0.0, 0.0, uint8(2))
	f.Add(100.0, 2e4, 2e4, 0.0, 150.0, 50.0, -1000.0, -1e6, -100.0, uint8(4))
	f.Add(35.0, 10.0, 50.0, math.Inf(1), 34.0, 3.0, 9.0, 1e6, 34.99, uint8(4))
	f.Fuzz(func(t *testing.T, target, now, day, apart, loss, wide, weighed, weighedLoss, stops float64, outcome uint8) {
		c := DryDown{Subject: "fuzz", Outcome: Outcome(outcome % 5), Target: target, Now: now, Stops: &stops}
		if outcome&8 != 0 {
			c.HungOn = dryDowns()[0].chart.HungOn
		}
		if outcome&16 == 0 {
			around := func(k float64) Span { return Span{math.Max(0, day-k*apart), day + k*apart} }
			if math.IsInf(apart, 1) {
				around = func(float64) Span { return Span{day, apart} }
			}
			c.Day = &TargetDay{day, around(1), around(2), around(3)}
		}
		if outcome&32 == 0 {
			for _, part := range []float64{0, 0.1, 0.5, 1} {
				m, w := loss*part, wide*part
				c.Course = append(c.Course, CoursePoint{day * 2 * part, m, Span{m - w, m + w}, Span{m - 2*w, m + 2*w}, Span{m - 3*w, m + 3*w}})
			}
		}
		if outcome&64 == 0 {
			c.WeighIns = []WeighIn{{weighed, weighedLoss, outcome&128 != 0}, {weighed + 1, loss, false}}
		}
		drawnOrRefused(t, c, c.scene)
	})
}

// A band that begins years after the curve ends does not squeeze the curve into a
// corner: the axis goes no further than the curve and a bit.
func TestDaysGoNoFurtherThanTheCurve(t *testing.T) {
	t.Parallel()
	never := math.Inf(1)
	c := DryDown{
		Outcome: NotAtThisHumidity, Target: 40, Now: 7, WeighIns: []WeighIn{{Days: 7, Loss: 7}},
		Day: &TargetDay{Median: never, P50: Span{Low: 850, High: never}, P80: Span{Low: 91, High: never}, P90: Span{Low: 60, High: never}},
	}
	for day := 7.0; day <= 187; day += 4 {
		median := 36 - 29*math.Exp(-(day-7)/40)
		span := Span{Low: median - 2, High: median + 2}
		c.Course = append(c.Course, CoursePoint{Days: day, Median: median, P50: span, P80: span, P90: span})
	}
	if _, to := c.days(); to < 91 || to > 1.4*187 {
		t.Errorf("want the axis to end between day 91 and a bit after the curve's 187, got %v", to)
	}
}

// Days on which the piece is sealed are hatched and told, and where the air changes
// is marked, as far as the picture goes.
func TestDryDownSealedAndChanged(t *testing.T) {
	t.Parallel()
	chart := dryDownNamed(t, "six weigh-ins")
	plain := string(svgOf(t, chart))
	chart.Sealed = []Span{{3, 8}, {9000, 9001}}
	chart.Changes = []float64{2, 5, 9000}
	got := string(svgOf(t, chart))
	if strings.Contains(plain, `class="gap"`) || !strings.Contains(got, `class="gap"`) {
		t.Error("want the sealed days hatched, and nothing without any")
	}
	if n := strings.Count(got, `class="air-changes"`); n != 2 {
		t.Errorf("want the two changes in the picture marked, got %d", n)
	}
	for _, want := range []string{"Sealed 2 times, first from day 3 to 8", "The air changes 3 times, first on day 2", ">sealed<", ">air changes<"} {
		if !strings.Contains(got, want) {
			t.Errorf("want %q in the picture", want)
		}
	}
	chart.Changes = []float64{5, 2}
	if err := chart.SVG(&bytes.Buffer{}); !errors.Is(err, ErrUndrawable) {
		t.Errorf("want changes out of order refused, got %v", err)
	}
}
