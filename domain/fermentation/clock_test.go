package fermentation_test

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// The clock starts when it is told to: 8.4 °C h for each hour at 24 °C from then on.
func TestClockStart(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name    string
		course  fermentation.Course
		sum     float64
		end     float64
		highest float64 // 0: none
		notes   string
	}{
		{"in the first of two steps", fermentation.Course{Steps: slices.Concat(held(24, 10), held(30, 5)), ClockStart: 4 * time.Hour}, 6*8.4 + 5*14.4, 15, 30, ""},
		{"where the second begins: the hotter first does not count", fermentation.Course{Steps: slices.Concat(held(36, 10), held(24, 5)), ClockStart: 10 * time.Hour}, 5 * 8.4, 15, 24, ""},
		{"between readings: from 25 °C after half of 10 h to 26 °C", fermentation.Course{Log: log(0, 24, 10, 26), ClockStart: 5 * time.Hour}, 5 * (9.4 + 10.4) / 2, 10, 26, ""},
		{"at a reading", fermentation.Course{Log: log(0, 36, 5, 24, 10, 24), ClockStart: 5 * time.Hour}, 5 * 8.4, 10, 24, ""},
		{"until the acid", fermentation.Course{Steps: held(24, 20), ClockStart: 5 * time.Hour, PHReadings: read(ph(15, 5.2))}, 84, 15, 24, ""},
		{"acid before it", fermentation.Course{Steps: held(24, 20), ClockStart: 5 * time.Hour, PHReadings: read(ph(3, 5.2))}, 0, 5, 0, "acid-at-start"},
		{"acid at it", fermentation.Course{Steps: held(24, 20), ClockStart: 5 * time.Hour, PHReadings: read(ph(5, 5.2))}, 0, 5, 0, "acid-at-start"},
		{"acid after it", fermentation.Course{Steps: held(24, 20), ClockStart: 5 * time.Hour, PHReadings: read(ph(4, 5.6), ph(6, 5.2))}, 8.4, 6, 24, ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			row.course.Thermometer = exact()
			e := exposure(t, row.course)
			s := sum(t, e, celsius)
			quantitytest.Near(t, "sum", row.sum, s.DegreeHours.CelsiusHours(), tolerance)
			quantitytest.Near(t, "end", row.end, e.Clock.End.Hours(), 1e-9)
			if s.Highest.IsZero() != (row.highest == 0) || !s.Highest.IsZero() && s.Highest.Compare(quantity.MustCelsius(row.highest)) != 0 {
				t.Errorf("want %v °C at most, got %s", row.highest, s.Highest)
			}
			if row.sum > 0 && (s.AboveBaseAt == nil || *s.AboveBaseAt != row.course.ClockStart || s.AboveBase != e.Clock.End-row.course.ClockStart) {
				t.Errorf("want it above the base from %v on, got %v for %v", row.course.ClockStart, s.AboveBaseAt, s.AboveBase)
			}
			if slices.Contains(codes(e), "acid-at-start") != (row.notes != "") {
				t.Errorf("want %q, got %v", row.notes, codes(e))
			}
		})
	}
	// The crossing is not before it: a line from 5.4 at 0 h to 5.2 at 20 h is at 5.3 at 10 h.
	late := exposure(t, fermentation.Course{Steps: held(24, 30), ClockStart: 12 * time.Hour, PHReadings: read(ph(0, 5.4), ph(20, 5.2))})
	quantitytest.Near(t, "crossing", 12, late.Clock.Estimated.Hours(), 1e-9)
	quantitytest.Near(t, "until it", 0, sum(t, late, celsius).Estimated.CelsiusHours(), tolerance)
	// The steps before it bring nothing: 4 and 5 h of 8.4 and 14.4.
	steps := sum(t, exposure(t, fermentation.Course{Steps: slices.Concat(held(24, 10), held(30, 5)), ClockStart: 6 * time.Hour}), celsius).Steps
	quantitytest.Near(t, "first step", 4*8.4, steps[0].CelsiusHours(), tolerance)
	quantitytest.Near(t, "second step", 5*14.4, steps[1].CelsiusHours(), tolerance)
}

// A course that ends where another one begins: together they are the whole.
func TestACourseCutAnywhereIsTheSameSum(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := fermentation.Course{Log: anyLog(t), Held: rapid.Bool().Draw(t, "held")}
		c.LongestGap = time.Duration(rapid.IntRange(1, 5000).Draw(t, "longest gap")) * time.Minute
		if rapid.Bool().Draw(t, "steps") {
			c = fermentation.Course{Steps: stepsOf(c.Log)}
		}
		whole := sums(t, c)
		total := 0 * time.Second
		for _, s := range c.Steps {
			total += s.Span
		}
		if len(c.Log) > 0 {
			total = c.Log[len(c.Log)-1].At
		}
		cut := time.Duration(rapid.Int64Range(1, int64(total)-1).Draw(t, "cut"))
		before, after := c, c
		before.PHReadings = read(fermentation.PHReading{At: cut, PH: quantity.MustPH(5.2)})
		after.ClockStart = cut
		first, second := sums(t, before), sums(t, after)
		for i, s := range whole {
			if got := first[i].DegreeHours.Plus(second[i].DegreeHours); got.Compare(s.DegreeHours) != 0 {
				t.Fatalf("want %s, got %s", s.DegreeHours, got)
			}
			if got := first[i].Joined.Plus(second[i].Joined); got.Compare(s.Joined) != 0 {
				t.Fatalf("joined: want %s, got %s", s.Joined, got)
			}
			if got := first[i].AboveBase + second[i].AboveBase - s.AboveBase; got.Abs() > time.Millisecond {
				t.Fatalf("want %v above the base, got %v more", s.AboveBase, got)
			}
		}
	})
}

// Wherever it is warmer, no result is better.
func TestWarmerIsNeverBetter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		readings := anyLog(t)
		warmed := slices.Clone(readings)
		i := rapid.IntRange(0, len(readings)-1).Draw(t, "where")
		warmed[i].Temperature = quantity.MustCelsius(warmed[i].Temperature.Celsius() + rapid.Float64Range(0, 9).Draw(t, "warmer"))
		c := fermentation.Course{
			Held: rapid.Bool().Draw(t, "held"), LongestGap: time.Duration(rapid.IntRange(1, 5000).Draw(t, "longest gap")) * time.Minute,
			PHReadings: read(fermentation.PHReading{At: time.Duration(rapid.Int64Range(0, int64(readings[len(readings)-1].At)).Draw(t, "acid")), PH: quantity.MustPH(5.3)}),
		}
		judge := func(log []fermentation.Reading) fermentation.Exposure {
			c.Log = log
			e, err := fermentation.DegreeHours(c)
			if err != nil {
				t.Fatal(err)
			}
			return e
		}
		cool, warm := judge(readings), judge(warmed)
		for i := range cool.Sums {
			if a, b := cool.Findings[i].Status, warm.Findings[i].Status; rank[b] < rank[a] {
				t.Fatalf("%s: %s became %s", cool.Sums[i].Set.ID, a, b)
			}
			if cool.Sums[i].DegreeHours.Compare(warm.Sums[i].DegreeHours) > 0 {
				t.Fatalf("%s became %s", cool.Sums[i].DegreeHours, warm.Sums[i].DegreeHours)
			}
			if cool.Sums[i].HourMean != nil && cool.Sums[i].HourMean.Temperature.Compare(warm.Sums[i].HourMean.Temperature) > 0 {
				t.Fatalf("the warmest hour of %s became %s", cool.Sums[i].HourMean.Temperature, warm.Sums[i].HourMean.Temperature)
			}
		}
	})
}

// An end that is stated is shown as an estimate and changes no result, whatever
// it would have come to.
func TestAStatedEndDecidesNothing(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name   string
		course fermentation.Course
		at     float64
		sum    float64 // until then, 8.4 an hour; -1: not known
		status finding.Status
	}{
		{"without a pH", fermentation.Course{Steps: held(24, 40)}, 30, 252, finding.NotShown},
		{"with one above", fermentation.Course{Steps: held(24, 40), PHReadings: read(ph(20, 5.5))}, 30, 252, finding.NotShown},
		{"exceeded after it", fermentation.Course{Steps: held(24, 90)}, 30, 252, finding.NotMet},
		{"beside a reading, which decides", fermentation.Course{Steps: held(24, 40), PHReadings: read(ph(36, 5.2))}, 30, 252, finding.Met},
		{"after the temperatures", fermentation.Course{Steps: held(24, 40)}, 50, -1, finding.NotShown},
		{"from a later start: 26 h", fermentation.Course{Steps: held(24, 40), ClockStart: 4 * time.Hour}, 30, 218.4, finding.NotShown},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			row.course.Thermometer = exact()
			without := exposure(t, row.course)
			row.course.StatedEnd = new(hours(row.at))
			e := exposure(t, row.course)
			s := sum(t, e, celsius)
			if e.Clock.Stated == nil || *e.Clock.Stated != hours(row.at) || (s.Stated == nil) != (row.sum < 0) || !slices.Contains(codes(e), "end-stated") {
				t.Fatalf("want it told, got %v, %v and %v", e.Clock.Stated, s.Stated, codes(e))
			}
			if s.Stated != nil {
				quantitytest.Near(t, "until it", row.sum, s.Stated.CelsiusHours(), tolerance)
			}
			if got := result(t, e, celsius); got.Status != row.status || got.Status != result(t, without, celsius).Status {
				t.Errorf("want %s, got %s", row.status, got.Status)
			}
			if e.Clock.End != without.Clock.End || acid(t, e).Status != acid(t, without).Status {
				t.Errorf("want the clock to end at %v, got %v", without.Clock.End, e.Clock.End)
			}
		})
	}
}

// What would be left in the next hotter class, by hand for both rules.
func TestIfHotter(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name                 string
		course               fermentation.Course
		rule                 string
		edge, limit, rest, h float64
		cooler               bool
	}{
		{"from the coolest, °C: 555-252, over 33-15.6", fermentation.Course{Steps: held(24, 30)}, celsius, 33, 555, 303, 303 / 17.4, false},
		{"from the coolest, °F: 1000-450, over 30", fermentation.Course{Steps: []fermentation.Step{{Temperature: quantity.MustFahrenheit(75), Span: hours(30)}}}, fahrenheit, 90, 1000, 550, 550.0 / 30, false},
		{"from the middle, above 37 °C: 500-184, over 21.4", fermentation.Course{Steps: held(34, 10)}, celsius, 37, 500, 316, 316 / 21.4, true},
		{"from its upper edge", fermentation.Course{Steps: held(37, 10)}, celsius, 37, 500, 286, 286 / 21.4, true},
		{"more is used than that allows: 555-603", fermentation.Course{Steps: held(29, 45)}, celsius, 33, 555, -48, 0, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			s := sum(t, exposure(t, row.course), row.rule)
			h := s.IfHotter
			if h == nil || h.EdgeCooler != row.cooler {
				t.Fatalf("got %+v", h)
			}
			quantitytest.Near(t, "edge", row.edge, degrees(s, h.Edge), 1e-9)
			quantitytest.Near(t, "limit", row.limit, native(s, h.Class.Limit), tolerance)
			quantitytest.Near(t, "left", row.rest, native(s, h.Remaining), tolerance)
			quantitytest.Near(t, "hours", row.h, h.Left.Hours(), 1e-4)
		})
	}
	for name, c := range map[string]fermentation.Course{
		"in the hottest class":     {Steps: held(40, 5)},
		"when the clock has ended": {Steps: held(24, 5), PHReadings: read(ph(5, 5.2))},
	} {
		if h := sum(t, exposure(t, c), celsius).IfHotter; h != nil {
			t.Errorf("%s: want none, got %+v", name, h)
		}
	}
}

// Nothing is read twice where a reading is repeated, and readings that come in
// another order are refused, not sorted.
func TestOrderOfReadings(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		readings := anyLog(t)
		shuffled := rapid.Permutation(readings).Draw(t, "shuffled")
		_, err := fermentation.DegreeHours(fermentation.Course{Log: shuffled})
		if inOrder := slices.Equal(shuffled, readings); inOrder != (err == nil) {
			t.Fatalf("in order %v, got %v", inOrder, err)
		}
		slices.SortFunc(shuffled, func(a, b fermentation.Reading) int { return int(a.At - b.At) })
		same(t, fermentation.Course{Log: readings}, fermentation.Course{Log: shuffled})
	})
}
