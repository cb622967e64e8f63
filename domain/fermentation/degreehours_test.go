package fermentation_test

import (
	"cmp"
	_ "embed"
	"encoding/json"
	"errors"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Degree-hours are exact but for the last bits of floats; sources print them to
// a tenth.
const tolerance = 1e-4

const (
	celsius    = "degc-15.6"
	fahrenheit = "degf-60"
)

// Worked examples, printed or worked out by hand, each with its source and its
// arithmetic. The thermometer is taken as exact, as the sources do.
//
//go:embed testdata/degree-hours.json
var workedExamples []byte

type workedExample struct {
	ID     string
	Source string
	Trust  string
	Set    string
	Steps  []struct{ Hours, Degrees float64 }
	Log    []struct {
		AtHours float64 `json:"at_hours"`
		Degrees float64
	}
	Held bool
	PH   []struct {
		AtHours float64 `json:"at_hours"`
		PH      float64
	}
	Want struct {
		Steps                []float64
		DegreeHours          float64 `json:"degree_hours"`
		Highest, Limit       float64
		Status               string
		AboveBaseAtHours     float64 `json:"above_base_at_hours"`
		EndHours             float64 `json:"end_hours"`
		EstimatedEndHours    float64 `json:"estimated_end_hours"`
		EstimatedDegreeHours float64 `json:"estimated_degree_hours"`
	}
	Note string
}

func (x workedExample) course() fermentation.Course {
	degrees := quantity.MustCelsius
	if x.Set == fahrenheit {
		degrees = quantity.MustFahrenheit
	}
	c := fermentation.Course{Held: x.Held, Thermometer: exact()}
	for _, s := range x.Steps {
		c.Steps = append(c.Steps, fermentation.Step{Temperature: degrees(s.Degrees), Span: hours(s.Hours)})
	}
	for _, r := range x.Log {
		c.Log = append(c.Log, fermentation.Reading{At: hours(r.AtHours), Temperature: degrees(r.Degrees)})
	}
	for _, r := range x.PH {
		c.PHReadings = append(c.PHReadings, ph(r.AtHours, r.PH))
	}
	return c
}

func TestWorkedExamples(t *testing.T) {
	t.Parallel()
	var examples []workedExample
	if err := json.Unmarshal(workedExamples, &examples); err != nil {
		t.Fatal(err)
	}
	if len(examples) < 20 {
		t.Fatalf("only %d examples were read", len(examples))
	}
	for _, x := range examples {
		t.Run(x.ID, func(t *testing.T) {
			t.Parallel()
			e := exposure(t, x.course())
			s := sum(t, e, x.Set)
			want := x.Want
			quantitytest.Near(t, "degree-hours", want.DegreeHours, native(s, s.DegreeHours), tolerance)
			quantitytest.Near(t, "limit", want.Limit, native(s, s.Class.Limit), tolerance)
			quantitytest.Near(t, "remaining", want.Limit-want.DegreeHours, native(s, s.Remaining), tolerance)
			quantitytest.Near(t, "share", want.DegreeHours/want.Limit, s.Used.Float(), tolerance)
			quantitytest.Near(t, "highest", want.Highest, degrees(s, s.Highest), 1e-9)
			if got := result(t, e, x.Set).Status.String(); got != want.Status {
				t.Errorf("want %s, got %s", want.Status, got)
			}
			for i, step := range want.Steps {
				quantitytest.Near(t, "a step", step, native(s, s.Steps[i]), tolerance)
			}
			if want.AboveBaseAtHours > 0 {
				quantitytest.Near(t, "above the base", want.AboveBaseAtHours, s.AboveBaseAt.Hours(), 1e-6)
			}
			if want.EndHours > 0 {
				quantitytest.Near(t, "end", want.EndHours, e.Clock.End.Hours(), 1e-6)
				quantitytest.Near(t, "estimated end", want.EstimatedEndHours, e.Clock.Estimated.Hours(), 1e-6)
				quantitytest.Near(t, "until it", want.EstimatedDegreeHours, native(s, *s.Estimated), tolerance)
			}
		})
	}
}

// The printed tables of the longest times at a constant temperature.
//
//go:embed testdata/longest.json
var printedTables []byte

func TestPrintedTablesOfLongestTimes(t *testing.T) {
	t.Parallel()
	var tables map[string]struct{ Rows [][2]float64 }
	if err := json.Unmarshal(printedTables, &tables); err != nil {
		t.Fatal(err)
	}
	for id, rows := range map[string]int{fahrenheit: 8, celsius: 19} {
		if len(tables[id].Rows) != rows {
			t.Fatalf("%s: want %d rows, got %d", id, rows, len(tables[id].Rows))
		}
	}
	for _, row := range tables[fahrenheit].Rows {
		l := fermentation.LongestAt(set(t, fahrenheit), quantity.MustFahrenheit(row[0]))
		quantitytest.Near(t, l.Temperature.String(), row[1], math.Floor(l.Time.Hours()), 0)
	}
	for _, row := range tables[celsius].Rows {
		l := fermentation.LongestAt(set(t, celsius), quantity.MustCelsius(row[0]))
		quantitytest.Near(t, l.Temperature.String(), row[1], math.Round(l.Time.Hours()*10)/10, 1e-9)
		if l.By != fahrenheit {
			t.Errorf("%s: want it by the rule that the table was made with, got %s", l.Temperature, l.By)
		}
	}
}

func TestLongestAt(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name  string
		set   string
		at    quantity.Temperature
		hours float64 // 0: never
		by    string
	}{
		{"1200/15", fahrenheit, quantity.MustFahrenheit(75), 80, fahrenheit},
		{"just below an edge, 1200/29.9", fahrenheit, quantity.MustFahrenheit(89.9), 40.13378, fahrenheit},
		{"on the edge, 1000/30", fahrenheit, quantity.MustFahrenheit(90), 33.33333, fahrenheit},
		{"the upper edge is within, 1000/40", fahrenheit, quantity.MustFahrenheit(100), 25, fahrenheit},
		{"above it, 900/40.5", fahrenheit, quantity.MustFahrenheit(100.5), 22.22222, fahrenheit},
		{"at the base", fahrenheit, quantity.MustFahrenheit(60), 0, fahrenheit},
		{"below the base", fahrenheit, quantity.MustFahrenheit(41), 0, fahrenheit},
		{"1200/8, not 665/4.4 = 151.1", celsius, quantity.MustCelsius(20), 150, fahrenheit},
		{"a class apart: 1000/30.5, not 665/16.9 = 39.3", celsius, quantity.MustCelsius(32.5), 32.78689, fahrenheit},
		{"a class apart the other way: 500/21.9, not 1000/39.5 = 25.3", celsius, quantity.MustCelsius(37.5), 22.83105, celsius},
		{"the Celsius base is above 60 °F: 1200/0.08", celsius, quantity.MustCelsius(15.6), 15000, fahrenheit},
		{"at the Fahrenheit base, 15.56 °C", celsius, quantity.MustFahrenheit(60), 0, celsius},
		{"so close above the base that it takes centuries", fahrenheit, quantity.MustFahrenheit(60.0000001), 0, fahrenheit},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			l := fermentation.LongestAt(set(t, row.set), row.at)
			if l.By != row.by || (l.Time == nil) != (row.hours == 0) {
				t.Fatalf("want %v h by %s, got %v by %s", row.hours, row.by, l.Time, l.By)
			}
			if l.Time != nil {
				quantitytest.Near(t, "hours", row.hours, l.Time.Hours(), 1e-3)
				quantitytest.Near(t, "limit over excess", l.Time.Hours(), l.Class.Limit.CelsiusHours()/row.at.Minus(set(t, l.By).Base).CelsiusDegrees(), 1e-3)
			}
		})
	}
}

func TestLongestTable(t *testing.T) {
	t.Parallel()
	f := fermentation.LongestTable(set(t, fahrenheit))
	c := fermentation.LongestTable(set(t, celsius))
	if len(f) != 10 || len(c) != 14 { // 65, 70 … 110 and 18, 20 … 44
		t.Fatalf("want 10 and 14 rows, got %d and %d", len(f), len(c))
	}
	quantitytest.Near(t, "first in °F: 1200/5", 240, f[0].Time.Hours(), 1e-6)
	quantitytest.Near(t, "last in °F: 900/50", 18, f[9].Time.Hours(), 1e-6)
	quantitytest.Near(t, "first in °C, 64.4 °F: 1200/4.4", 272.7273, c[0].Time.Hours(), 1e-3)
	quantitytest.Near(t, "last in °C, 111.2 °F: 900/51.2", 17.57813, c[13].Time.Hours(), 1e-3)
	for _, table := range [][]fermentation.Longest{f, c} {
		if !slices.IsSortedFunc(table, func(a, b fermentation.Longest) int { return int(*b.Time - *a.Time) }) {
			t.Error("want the time to be shorter where it is warmer")
		}
	}
}

// What a course comes to by the Celsius rule, worked out by hand: the base is
// 15.6 °C, the limits are 665, 555 and 500.
func TestResults(t *testing.T) {
	t.Parallel()
	straddling := between(36, 5.28, 5.2, 5.35)
	for _, row := range []struct {
		name   string
		course fermentation.Course
		sum    float64
		low    float64
		high   float64
		status finding.Status
		acid   finding.Status
	}{
		{
			"within, thermometer and all: 10.4, 9.9 and 10.9 for 55 h",
			fermentation.Course{Steps: held(26, 55), PHReadings: read(ph(55, 5.3))},
			572, 544.5, 599.5, finding.Met, finding.Met,
		},
		{
			"over if the thermometer reads too low: 10.4 and 10.9 for 62 h",
			fermentation.Course{Steps: held(26, 62), PHReadings: read(ph(62, 5.2))},
			644.8, 613.8, 675.8, finding.Near, finding.Met,
		},
		{
			"over as read, though not if it reads too high",
			fermentation.Course{Steps: held(26, 64), PHReadings: read(ph(64, 5.2))},
			665.6, 633.6, 697.6, finding.NotMet, finding.Met,
		},
		{
			"in a hotter class if it reads too low: 17.5 for 32 h is over 555",
			fermentation.Course{Steps: held(32.6, 32), PHReadings: read(ph(32, 5.2))},
			544, 528, 560, finding.Near, finding.Met,
		},
		{
			"in a hotter class, and within its limit: 17.5 for 30 h",
			fermentation.Course{Steps: held(32.6, 30), PHReadings: read(ph(30, 5.2))},
			510, 495, 525, finding.Met, finding.Met,
		},
		{
			"the same with an exact thermometer",
			fermentation.Course{Steps: held(32.6, 32), PHReadings: read(ph(32, 5.2)), Thermometer: exact()},
			544, 544, 544, finding.Met, finding.Met,
		},
		{
			"no pH read",
			fermentation.Course{Steps: held(24, 30)},
			252, 237, 267, finding.NotShown, finding.NotShown,
		},
		{
			"pH not there yet",
			fermentation.Course{Steps: held(24, 30), PHReadings: read(ph(0, 5.7), ph(30, 5.4))},
			252, 237, 267, finding.NotShown, finding.NotShown,
		},
		{
			"over before pH 5.3",
			fermentation.Course{Steps: held(24, 90), PHReadings: read(ph(90, 5.4))},
			756, 711, 801, finding.NotMet, finding.NotShown,
		},
		{
			"the temperatures end before pH 5.3: six hours are not known",
			fermentation.Course{Steps: held(24, 30), PHReadings: read(ph(36, 5.2))},
			252, 237, 267, finding.NotShown, finding.Met,
		},
		{
			"over with what is known of them",
			fermentation.Course{Steps: held(24, 90), PHReadings: read(ph(100, 5.2))},
			756, 711, 801, finding.NotMet, finding.Met,
		},
		{
			"pH that may have been above, and no other: the high end runs on",
			fermentation.Course{Steps: held(24, 40), PHReadings: read(straddling)},
			302.4, 284.4, 356, finding.Near, finding.Near,
		},
		{
			"pH that may have been above, until one that was not: 8.9 for 60 h",
			fermentation.Course{Steps: held(24, 70), PHReadings: read(straddling, ph(60, 5.0))},
			302.4, 284.4, 534, finding.Met, finding.Met,
		},
		{
			"heat between the two: 8.9 for 40 h and 22.9 for 20 h are over 500",
			fermentation.Course{
				Steps:      append(held(24, 40), held(38, 20)...),
				PHReadings: read(between(40, 5.28, 5.2, 5.35), ph(60, 5.0)),
			},
			336, 316, 814, finding.Near, finding.Met,
		},
		{
			"the one that was not comes after the temperatures end",
			fermentation.Course{Steps: held(24, 40), PHReadings: read(straddling, ph(60, 5.0))},
			302.4, 284.4, 356, finding.Near, finding.Met,
		},
		{
			"above 5.3, and may be at it",
			fermentation.Course{Steps: held(24, 40), PHReadings: read(between(36, 5.32, 5.27, 5.37))},
			336, 316, 356, finding.NotShown, finding.Near,
		},
		{
			"surely at it, to the last bit: 5.2 and 0.1 are 5.3",
			fermentation.Course{Steps: held(24, 40), PHReadings: read(between(36, 5.2, 5.1, 5.2+0.1))},
			302.4, 284.4, 320.4, finding.Met, finding.Met,
		},
		{
			"pH that rises again",
			fermentation.Course{Steps: held(24, 80), PHReadings: read(ph(36, 5.2), ph(80, 5.5))},
			302.4, 284.4, 320.4, finding.Met, finding.Met,
		},
		{
			"at pH 5.3 from the start: no time counts",
			fermentation.Course{Steps: held(24, 80), PHReadings: read(ph(0, 5.2))},
			0, 0, 0, finding.NotApplicable, finding.Met,
		},
		{
			"perhaps at pH 5.3 from the start",
			fermentation.Course{Steps: held(24, 20), PHReadings: read(between(0, 5.28, 5.2, 5.35))},
			0, 0, 178, finding.Near, finding.Near,
		},
		{
			"never above the base",
			fermentation.Course{Steps: held(12, 500), PHReadings: read(ph(500, 5.2))},
			0, 0, 0, finding.NotApplicable, finding.Met,
		},
		{
			"above it only within what the thermometer is off: 0.3 for 100 h",
			fermentation.Course{Steps: held(15.4, 100)},
			0, 0, 30, finding.NotShown, finding.NotShown,
		},
		{
			"above it only within what the thermometer is off, and acid: 0.3 for 100 h",
			fermentation.Course{Steps: held(15.4, 100), PHReadings: read(ph(100, 5.2))},
			0, 0, 30, finding.Met, finding.Met,
		},
		{ // 8.4 for 24 h, and 8.9 for all 40 h
			"acid that is none six minutes later",
			fermentation.Course{Steps: held(24, 40), PHReadings: read(ph(24, 5.2), ph(24.1, 6.5))},
			201.6, 189.6, 356, finding.Near, finding.Near,
		},
		{ // 8.4 for 24 h; 8.9 until the second, at 30 h
			"acid that is none an hour later, and comes: 8.9 for 30 h",
			fermentation.Course{Steps: held(24, 40), PHReadings: read(ph(24, 5.2), ph(25, 5.5), ph(30, 5.1))},
			201.6, 189.6, 267, finding.Met, finding.Met,
		},
		{
			"acid that rises as it ripens: 8.4 for 24 h",
			fermentation.Course{Steps: held(24, 40), PHReadings: read(ph(24, 5.2), ph(28, 5.5))},
			201.6, 189.6, 213.6, finding.Met, finding.Met,
		},
		{
			"so long that even that could be too much: 0.3 for 2300 h",
			fermentation.Course{Steps: held(15.4, 2300)},
			0, 0, 690, finding.Near, finding.NotShown,
		},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			e := exposure(t, row.course)
			s := sum(t, e, celsius)
			quantitytest.Near(t, "sum", row.sum, native(s, s.DegreeHours), tolerance)
			quantitytest.Near(t, "low", row.low, native(s, s.Range.Low), tolerance)
			quantitytest.Near(t, "high", row.high, native(s, s.Range.High), tolerance)
			f := result(t, e, celsius)
			if f.Status != row.status {
				t.Errorf("want %s, got %s: %s", row.status, f.Status, f.Reason)
			}
			if got := acid(t, e); got.Status != row.acid {
				t.Errorf("want pH 5.3 %s, got %s: %s", row.acid, got.Status, got.Reason)
			}
			quantitytest.Near(t, "measured", row.sum, f.Measured.Value.Value(), tolerance)
			if exactly := row.low == row.high; exactly != (f.Measured.Range == quantity.Between[quantity.Measure]{}) {
				t.Errorf("want a range %v, got %v", !exactly, f.Measured.Range)
			}
		})
	}
}

// While it is not sure that the clock has ended, what a thermometer that reports
// changes said last counts for the class of the high end: 38 °C.
func TestTheLastReadingCountsWhileTheClockMayRun(t *testing.T) {
	t.Parallel()
	c := fermentation.Course{Held: true, Log: log(0, 24, 60, 38), PHReadings: read(between(36, 5.28, 5.2, 5.35))}
	s := sum(t, exposure(t, c), celsius)
	quantitytest.Near(t, "as read", 665, native(s, s.Class.Limit), tolerance)
	quantitytest.Near(t, "high end", 500, native(s, s.IfWarmer.Limit), tolerance)
}

// When a limit was reached, worked out by hand for the Celsius rule.
func TestWhenALimitWasReached(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name string
		c    fermentation.Course
		want float64 // 0: not at all
	}{
		{"held: 665/14.4", fermentation.Course{Steps: held(30, 60)}, 46.18056},
		{"a hotter step that brings the limit to what was used, 13.4 x 45 = 603", fermentation.Course{Steps: append(held(29, 45), held(34, 1)...)}, 45},
		{"a hotter step with some left: 13.4 x 40 = 536, 19/18.4 h more", fermentation.Course{Steps: append(held(29, 40), held(34, 5)...)}, 41.03261},
		{"on a ramp of 0.17 °C/h: 0.085 t² = 665", fermentation.Course{Log: log(0, 15.6, 100, 32.6)}, 88.45066},
		{"on a ramp of 0.25 °C/h: at 33 °C, after 69.6 h, the limit falls below the 605.5 used", fermentation.Course{Log: log(0, 15.6, 80, 35.6)}, 69.6},
		{
			"on the way down, 0.17 °C/h from 32.6 °C: 17 t - 0.085 t² = 665, t = 100 (1 - sqrt(1 - 665/850))",
			fermentation.Course{Log: log(0, 32.6, 100, 15.6)}, 53.34734,
		},
		{
			"on the way down through the classes, 0.86 °C/h from 50 °C: 34.4 t - 0.43 t² = 500, the limit of the hottest",
			fermentation.Course{Log: log(0, 50, 40, 15.6)}, 19.09045,
		},
		{"in the second of two ramps, from 10 °C: the base at 5.6 h", fermentation.Course{Log: log(0, 10, 5.6, 15.6, 105.6, 32.6)}, 94.05066},
		{"not at all", fermentation.Course{Steps: held(30, 46)}, 0},
		{"by the last of readings that are held: 13.4 x 45 = 603 is over 555", fermentation.Course{Held: true, Log: log(0, 29, 45, 34)}, 45},
		{"by it where the pH came later", fermentation.Course{Held: true, Log: log(0, 29, 45, 34), PHReadings: read(ph(50, 5.2))}, 45},
		{"not by it once the pH is there", fermentation.Course{Held: true, Log: log(0, 29, 45, 34), PHReadings: read(ph(45, 5.2))}, 0},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			s := sum(t, exposure(t, row.c), celsius)
			if (s.ReachedAt != nil) != (row.want > 0) {
				t.Fatalf("want %v h, got %v", row.want, s.ReachedAt)
			}
			if s.ReachedAt != nil {
				quantitytest.Near(t, "hours", row.want, s.ReachedAt.Hours(), 1e-4)
			}
		})
	}
}

// How much time is left, worked out by hand for the Celsius rule after 30 h at
// 24 °C, which are 252 °C h, or 267 if the thermometer reads 0.5 °C too low.
func TestTimeLeft(t *testing.T) {
	t.Parallel()
	const never = -1
	for _, row := range []struct {
		name    string
		planned float64
		left    float64
		surely  float64
	}{
		{"as it is: 413/8.4 and 398/8.9", 24, 49.16667, 44.71910},
		{"warmer: 413/14.4 and 398/14.9", 30, 28.68056, 26.71141},
		{"in a class with a lower limit: 303/19.4 and 288/19.9", 35, 15.61856, 14.47236},
		{"in it only if the thermometer reads too low: 413/17.1 and 288/17.6", 32.7, 24.15205, 16.36364},
		{"the hottest: 248/24.4 and 233/24.9", 40, 10.16393, 9.35743},
		{"below the base", 12, never, never},
		{"below it unless the thermometer reads too low: 398/0.4", 15.5, never, 995},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			c := fermentation.Course{Steps: held(24, 30), Planned: quantity.MustCelsius(row.planned)}
			s := sum(t, exposure(t, c), celsius)
			quantitytest.Near(t, "at present", 49.16667, s.AtPresent.Left.Hours(), tolerance)
			for what, times := range map[string]struct {
				got  *time.Duration
				want float64
			}{"left": {s.AtPlanned.Left, row.left}, "surely": {s.AtPlanned.Surely, row.surely}} {
				if (times.got == nil) != (times.want == never) {
					t.Fatalf("%s: want %v h, got %v", what, times.want, times.got)
				}
				if times.got != nil {
					quantitytest.Near(t, what, times.want, times.got.Hours(), 1e-3)
				}
			}
		})
	}
	t.Run("so hot that the limit is reached at once: 13.4 x 40 = 536 is over 500", func(t *testing.T) {
		t.Parallel()
		s := sum(t, exposure(t, fermentation.Course{Steps: held(29, 40), Planned: quantity.MustCelsius(38)}), celsius)
		if s.AtPlanned.Left == nil || *s.AtPlanned.Left != 0 {
			t.Errorf("want no time left, got %v", s.AtPlanned.Left)
		}
		quantitytest.Near(t, "as it is: 129/13.4", 9.62687, s.AtPresent.Left.Hours(), tolerance)
	})
	t.Run("cooler, and the class stays that of the highest: 371/8.4 and 366/8.9", func(t *testing.T) {
		t.Parallel()
		// 18.4 for 10 h, or 18.9 if the thermometer reads too low, of 555.
		s := sum(t, exposure(t, fermentation.Course{Steps: held(34, 10), Planned: quantity.MustCelsius(24)}), celsius)
		quantitytest.Near(t, "left", 44.16667, s.AtPlanned.Left.Hours(), tolerance)
		quantitytest.Near(t, "surely", 41.12360, s.AtPlanned.Surely.Hours(), tolerance)
	})
	t.Run("none is told once the clock has ended", func(t *testing.T) {
		t.Parallel()
		c := fermentation.Course{Steps: held(24, 30), Planned: quantity.MustCelsius(30), PHReadings: read(ph(30, 5.3))}
		if s := sum(t, exposure(t, c), celsius); s.AtPresent != nil || s.AtPlanned != nil {
			t.Errorf("want none, got %v and %v", s.AtPresent, s.AtPlanned)
		}
	})
	t.Run("readings that are held: the last is the present one", func(t *testing.T) {
		t.Parallel()
		// 8.4 for 30 h, then 14.4: 413/14.4.
		s := sum(t, exposure(t, fermentation.Course{Held: true, Log: log(0, 24, 30, 30)}), celsius)
		quantitytest.Near(t, "left", 28.68056, s.AtPresent.Left.Hours(), tolerance)
		quantitytest.Near(t, "highest", 30, s.Highest.Celsius(), 1e-9)
		quantitytest.Near(t, "when", 30, s.HighestAt.Hours(), 1e-9)
	})
}

// Where the high end is over the limit, the remedy says how far off the
// thermometer may be. 26 °C for 62 h: 62 (10.4 + d) = 665 at d = 0.3258 °C; by the
// Fahrenheit rule 62 (18.8 + d) = 1200 at d = 0.5548 °F.
func TestRemedies(t *testing.T) {
	t.Parallel()
	near := exposure(t, fermentation.Course{Steps: held(26, 62), PHReadings: read(ph(62, 5.2))})
	running := fermentation.Course{Steps: held(24, 30), Planned: quantity.MustCelsius(35), Thermometer: exact(), Rulebook: rulebook.Canada}
	for _, row := range []struct {
		name string
		got  finding.Finding
		want string
	}{
		{"a better thermometer, °C", result(t, near, celsius), "by no more than 0.32 °C"},
		{"a better thermometer, °F", result(t, near, fahrenheit), "by no more than 0.55 °F"},
		{
			"beside the pH, by the rule that gives less where neither decides: 744/15.2, not 413/8.4",
			acid(t, exposure(t, fermentation.Course{Steps: held(24, 30)})), "At 75.2 °F a pH of 5.3 must be read in less than 48.9 h",
		},
		{
			"the same where the Celsius rule gives less: 281/21.9, not 605/39.5",
			acid(t, exposure(t, fermentation.Course{Steps: held(37.5, 10)})), "At 37.5 °C a pH of 5.3 must be read in less than 12.8 h",
		},
		{"time left at present: 413/8.4", result(t, exposure(t, running), celsius), "At 24 °C a pH of 5.3 must be read in less than 49.1 h"},
		{"time left at the plan: 303/19.4", result(t, exposure(t, running), celsius), "at the planned 35 °C a pH of 5.3 must be read in less than 15.6 h"},
		{"and beside the pH", acid(t, exposure(t, running)), "in less than 49.1 h"},
		{
			"the next one: 1000/30 h at 90 °F",
			result(t, exposure(t, fermentation.Course{Steps: []fermentation.Step{{Temperature: quantity.MustFahrenheit(90), Span: hours(40)}}}), fahrenheit),
			"in less than 33.3 h at 90 °F",
		},
		{
			"what is missing",
			result(t, exposure(t, fermentation.Course{Steps: held(24, 30), PHReadings: read(ph(36, 5.2))}), celsius), "Give the temperatures up to 36 h.",
		},
		{
			"what is missing until the pH was shown",
			result(t, exposure(t, fermentation.Course{
				Steps: held(24, 40), PHReadings: read(between(36, 5.28, 5.2, 5.35), ph(60, 5)),
			}), celsius), "Give the temperatures up to 60 h.",
		},
		{
			"exactly at the limit, while it runs",
			result(t, exposure(t, fermentation.Course{
				Steps: []fermentation.Step{{Temperature: quantity.MustFahrenheit(75), Span: hours(80)}}, Thermometer: exact(),
			}), fahrenheit), "no time is left",
		},
		{
			"in the cold",
			acid(t, exposure(t, fermentation.Course{Steps: held(10, 30)})), "cold does not show acid",
		},
		{
			"in the cold, with warmth planned: 1000 less 300, over 35", // 20 h at 75 °F are 300 °F h
			acid(t, exposure(t, fermentation.Course{
				Steps: []fermentation.Step{
					{Temperature: quantity.MustFahrenheit(75), Span: hours(20)}, {Temperature: quantity.MustFahrenheit(55), Span: hours(20)},
				},
				Planned: quantity.MustFahrenheit(95), Rulebook: rulebook.UnitedStates, Thermometer: exact(),
			})), "in less than 20 h",
		},
		{
			"over",
			acid(t, exposure(t, fermentation.Course{Steps: held(30, 90)})), "hold the lot",
		},
	} {
		if !strings.Contains(row.got.Remedy, row.want) {
			t.Errorf("%s: want %q in it, got %q", row.name, row.want, row.got.Remedy)
		}
	}
}

func TestWhoseRuleDecides(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		j        rulebook.Jurisdiction
		deciding string
		f, c     finding.Authority
		acid     string
	}{
		{rulebook.UnitedStates, fahrenheit, finding.Guidance, finding.Practice, "us"},
		{rulebook.Canada, celsius, finding.Practice, finding.Guidance, "ca"},
		{rulebook.EuropeanUnion, "", finding.Guidance, finding.Guidance, ""},
		{rulebook.GreatBritain, "", finding.Guidance, finding.Guidance, ""},
		{0, "", finding.Guidance, finding.Guidance, ""},
	} {
		e := exposure(t, fermentation.Course{Steps: held(32.5, 36), PHReadings: read(ph(36, 5.3)), Thermometer: exact(), Rulebook: row.j})
		if e.Deciding != row.deciding || e.Stricter != fahrenheit { // 1098 of 1000 against 608.4 of 665
			t.Errorf("%s: want %q deciding and %s stricter, got %q and %s", row.j, row.deciding, fahrenheit, e.Deciding, e.Stricter)
		}
		if told := slices.Contains(codes(e), "guidance-only"); told != (row.deciding == "") {
			t.Errorf("%s: want it said %v that neither decides, got %v", row.j, row.deciding == "", codes(e))
		}
		f, c := result(t, e, fahrenheit), result(t, e, celsius)
		if f.Status != finding.NotMet || c.Status != finding.Met {
			t.Errorf("%s: want not-met and met, got %s and %s", row.j, f.Status, c.Status)
		}
		if f.Authority != row.f || c.Authority != row.c {
			t.Errorf("%s: want %s and %s, got %s and %s", row.j, row.f, row.c, f.Authority, c.Authority)
		}
		if f.Rulebook != "us" || c.Rulebook != "ca" || acid(t, e).Rulebook != row.acid {
			t.Errorf("%s: got the rulebooks %q, %q and %q", row.j, f.Rulebook, c.Rulebook, acid(t, e).Rulebook)
		}
		// A lot that only the other rule finds fault with is not a failed one.
		failed := slices.Contains(codes(e), "failed-notify")
		if want := row.j != rulebook.Canada; failed != want || !slices.Contains(codes(e), "rules-disagree") {
			t.Errorf("%s: want failed %v and the disagreement, got %v", row.j, want, codes(e))
		}
	}
}

func TestTheStricterRuleByItsShare(t *testing.T) {
	t.Parallel()
	// At 26 °C both are kept: 1034/1200 = 0.8617 against 572/665 = 0.8602. At
	// 30 °C for 10 h: 260/1200 = 0.2167 against 144/665 = 0.2165. At 37.5 °C for
	// 10 h: 395/1000 against 219/500.
	for temperature, want := range map[float64]string{26: fahrenheit, 30: fahrenheit, 37.5: celsius} {
		e := exposure(t, fermentation.Course{Steps: held(temperature, 10), PHReadings: read(ph(10, 5.3))})
		if e.Stricter != want {
			t.Errorf("%v °C: want %s, got %s", temperature, want, e.Stricter)
		}
	}
}

func TestNotes(t *testing.T) {
	t.Parallel()
	always := []string{"one-organism"}
	failed := []string{"failed-notify", "failed-sample", "failed-few", "failed-many", "failed-toxin", "failed-cooking"}
	for _, row := range []struct {
		name   string
		course fermentation.Course
		want   []string
	}{
		{"nothing of note: warm, in time", fermentation.Course{Steps: held(35, 10), PHReadings: read(ph(10, 5)), Thermometer: exact()}, always},
		{
			"thermometer not stated", fermentation.Course{Steps: held(35, 10), PHReadings: read(ph(10, 5))},
			append([]string{"thermometer-assumed"}, always...),
		},
		{
			"temperatures of the usual advice", fermentation.Course{Steps: held(24, 10), PHReadings: read(ph(10, 5)), Thermometer: exact()},
			append([]string{"usual-advice"}, always...),
		},
		{
			"the rule that the advice breaks decides",
			fermentation.Course{Steps: held(35, 10), PHReadings: read(ph(10, 5)), Thermometer: exact(), Rulebook: rulebook.UnitedStates},
			append([]string{"usual-advice"}, always...),
		},
		{
			"a ramp through the temperatures of the advice", fermentation.Course{Log: log(0, 5, 10, 20), PHReadings: read(ph(10, 5)), Thermometer: exact()},
			append([]string{"usual-advice"}, always...),
		},
		{"exceeded by both", fermentation.Course{Steps: held(35, 60), Thermometer: exact()}, append(failed, always...)},
		{
			"pH that rises again", fermentation.Course{Steps: held(35, 20), PHReadings: read(ph(10, 5), ph(20, 5.4)), Thermometer: exact()},
			append([]string{"ph-rose"}, always...),
		},
		{
			"pH there at the start", fermentation.Course{Steps: held(35, 20), PHReadings: read(ph(0, 5)), Thermometer: exact()},
			append([]string{"acid-at-start"}, always...),
		},
		{
			"pH there before the start", fermentation.Course{Steps: held(35, 20), PHReadings: read(ph(-2, 5)), Thermometer: exact()},
			append([]string{"acid-at-start"}, always...),
		},
		{"long and cool", fermentation.Course{Steps: held(17, 200), Thermometer: exact()}, append([]string{"cool-and-long"}, always...)},
		{"cool, not so long", fermentation.Course{Steps: held(17, 199), Thermometer: exact()}, always},
		{
			"long, and warmer in between", fermentation.Course{Steps: append(held(17, 200), held(18.1, 1)...), Thermometer: exact()},
			always, // 18.1 °C is 64.6 °F, below the advice too
		},
		{"long and cold", fermentation.Course{Steps: held(12, 900), Thermometer: exact()}, always},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			got := codes(exposure(t, row.course))
			if slices.Contains(got, "guidance-only") != (row.course.Rulebook == 0) {
				t.Errorf("want it said that neither rule decides where none does, got %v", got)
			}
			got = slices.DeleteFunc(got, func(code string) bool { return code == "guidance-only" })
			if d := gocmp.Diff(row.want, got); d != "" {
				t.Error(d)
			}
		})
	}
}

// The figures of the note on the usual advice: 25 °F for 72 h are 1800 °F h, and
// 85 °F is over after 1200/25 h, 70 °F after 1200/10 h.
func TestUsualAdviceIsHeldAgainstTheRule(t *testing.T) {
	t.Parallel()
	e := exposure(t, fermentation.Course{Steps: held(24, 10)})
	i := slices.IndexFunc(e.Notes, func(n finding.Note) bool { return n.Code == "usual-advice" })
	for _, want := range []string{"72 h at 85 °F come to 1800 °F h", "85 °F (29.4 °C) the limit is reached in 48 h", "70 °F (21.1 °C) the limit is reached in 120 h"} {
		if !strings.Contains(e.Notes[i].Text, want) {
			t.Errorf("want %q in %q", want, e.Notes[i].Text)
		}
	}
	// Inside and outside: 50 h at 75.5 °F are 775, 72 h at 85 °F are 1800.
	for _, row := range []struct {
		degrees, span, want float64
		status              finding.Status
	}{{75.5, 50, 775, finding.Met}, {85, 72, 1800, finding.NotMet}} {
		c := fermentation.Course{
			Steps:      []fermentation.Step{{Temperature: quantity.MustFahrenheit(row.degrees), Span: hours(row.span)}},
			PHReadings: read(ph(row.span, 5.0)),
		}
		e := exposure(t, c)
		quantitytest.Near(t, "sum", row.want, native(sum(t, e, fahrenheit), sum(t, e, fahrenheit).DegreeHours), tolerance)
		if got := result(t, e, fahrenheit).Status; got != row.status {
			t.Errorf("%v °F for %v h: want %s, got %s", row.degrees, row.span, row.status, got)
		}
	}
}

func TestEverythingNamesItsSource(t *testing.T) {
	t.Parallel()
	unwelcome := regexp.MustCompile(`(?i)\bsafe\b`)
	for _, c := range []fermentation.Course{
		{Steps: held(35, 60)}, {Steps: held(24, 30)}, {Steps: held(17, 300)}, {Steps: held(32.5, 36), PHReadings: read(ph(0, 5.3), ph(9, 5.5))},
	} {
		e := exposure(t, c)
		if len(e.Findings) != 3 {
			t.Fatalf("want a finding by each rule and one on the pH, got %d", len(e.Findings))
		}
		for _, f := range e.Findings {
			if f.Source.Title == "" || f.Source.Trust == 0 || f.Reason == "" || f.Stage != finding.Process || f.Limit.IsZero() || len(f.Members) == 0 {
				t.Errorf("%s %s is not complete: %+v", f.Code, f.LimitID, f)
			}
			if unwelcome.MatchString(f.Reason + f.Remedy) {
				t.Errorf("no finding says that food is safe: %q %q", f.Reason, f.Remedy)
			}
		}
		for _, n := range e.Notes {
			if n.Source.Title == "" || n.Source.Trust == 0 || n.Text == "" {
				t.Errorf("note %s is not complete", n.Code)
			}
		}
	}
	for _, n := range fermentation.FailedLot() {
		if (n.Source.Trust == source.Memory) == (n.Code == "failed-notify") {
			t.Errorf("%s: only the duty to notify was read, got %s", n.Code, n.Source.Trust)
		}
	}
}

func TestMembers(t *testing.T) {
	t.Parallel()
	c := fermentation.Course{Steps: held(24, 40), PHReadings: read(ph(0, 5.8), ph(30, 5.4), ph(36, 5.2), ph(40, 5))}
	e := exposure(t, c)
	if d := gocmp.Diff([][]string{{"steps"}, {"ph_readings", "2"}}, result(t, e, celsius).Members); d != "" {
		t.Error(d)
	}
	if d := gocmp.Diff([][]string{{"ph_readings", "2"}}, acid(t, e).Members); d != "" {
		t.Error(d)
	}
	if d := gocmp.Diff([][]string{{"log"}}, result(t, exposure(t, fermentation.Course{Log: log(0, 24, 1, 24)}), celsius).Members); d != "" {
		t.Error(d)
	}
}

// A reading that is posted twice counts once, and the indices stay those of the
// course.
func TestRepeatedReadingsCountOnce(t *testing.T) {
	t.Parallel()
	once := fermentation.Course{Log: log(0, 20, 10, 30, 40, 30), PHReadings: read(ph(0, 5.8), ph(36, 5.2))}
	twice := fermentation.Course{Log: log(0, 20, 0, 20, 10, 30, 40, 30, 40, 30), PHReadings: read(ph(0, 5.8), ph(0, 5.8), ph(36, 5.2), ph(36, 5.2))}
	a, b := exposure(t, once), exposure(t, twice)
	// 4.4 to 14.4 over 10 h, then 26 h of 14.4: 94 + 374.4.
	quantitytest.Near(t, "once", 468.4, a.Sums[1].DegreeHours.CelsiusHours(), tolerance)
	quantitytest.Near(t, "twice", 468.4, b.Sums[1].DegreeHours.CelsiusHours(), tolerance)
	if a.Clock.Reading != 1 || b.Clock.Reading != 2 {
		t.Errorf("want the readings 1 and 2, got %d and %d", a.Clock.Reading, b.Clock.Reading)
	}
}

// The estimate of the crossing takes the reading before, also one before the
// start; without one there is none.
func TestEstimatedCrossing(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name string
		ph   []fermentation.PHReading
		want float64 // -1: none
	}{
		{"half way", read(ph(0, 5.8), ph(20, 4.8)), 10},
		{"from a reading before the start: -2 + 22 x 0.5/1.1", read(ph(-2, 5.8), ph(20, 4.7)), 8},
		{"before the start", read(ph(-20, 5.4), ph(2, 5.0)), 0},
		{"exactly 5.3", read(ph(0, 5.8), ph(20, 5.3)), 20},
		{"no reading before", read(ph(20, 5.0)), -1},
		{"not there yet", read(ph(20, 5.5)), -1},
	} {
		e := exposure(t, fermentation.Course{Steps: held(25.6, 30), PHReadings: row.ph})
		if (e.Clock.Estimated == nil) != (row.want < 0) || (sum(t, e, celsius).Estimated == nil) != (row.want < 0) {
			t.Fatalf("%s: want %v h, got %v", row.name, row.want, e.Clock.Estimated)
		}
		if e.Clock.Estimated != nil {
			quantitytest.Near(t, row.name, row.want, e.Clock.Estimated.Hours(), 1e-6)
			quantitytest.Near(t, row.name+", 10 °C above the base", 10*row.want, sum(t, e, celsius).Estimated.CelsiusHours(), tolerance)
		}
	}
	e := exposure(t, fermentation.Course{Steps: held(25.6, 5), PHReadings: read(ph(0, 5.8), ph(20, 4.8))})
	if e.Clock.Estimated == nil || sum(t, e, celsius).Estimated != nil {
		t.Error("want a time, and no sum until it where the temperatures end before")
	}
}

func TestInvalidCourses(t *testing.T) {
	t.Parallel()
	fine := held(24, 30)
	for _, row := range []struct {
		name   string
		course fermentation.Course
		want   []string // pointer and code
	}{
		{"nothing", fermentation.Course{}, []string{"# no-history"}},
		{"both", fermentation.Course{Steps: fine, Log: log(0, 24, 1, 24)}, []string{"#/log two-histories"}},
		{"one reading", fermentation.Course{Log: log(0, 24)}, []string{"#/log no-history"}},
		{"one reading twice", fermentation.Course{Log: log(0, 24, 0, 24)}, []string{"#/log no-history"}},
		{"a step of no time", fermentation.Course{Steps: append(held(24, 0), fine...)}, []string{"#/steps/0/hours out-of-range"}},
		{"a step backwards", fermentation.Course{Steps: append(fine, held(24, -1)...)}, []string{"#/steps/1/hours out-of-range"}},
		{"a step of years", fermentation.Course{Steps: held(24, 9000)}, []string{"#/steps/0/hours out-of-range"}},
		{"steps of years together", fermentation.Course{Steps: append(held(24, 8000), held(24, 800)...)}, []string{"#/steps/1/hours out-of-range"}},
		{
			"an oven, and no temperature", fermentation.Course{Steps: []fermentation.Step{
				{Temperature: quantity.MustFahrenheit(400), Span: time.Hour}, {Span: time.Hour},
			}},
			[]string{"#/steps/0/temperature out-of-range", "#/steps/1/temperature missing"},
		},
		{
			"too cold, too hot, and the edges", fermentation.Course{Log: log(0, -10, 1, -10.1, 2, 60, 3, 60.1)},
			[]string{"#/log/1/temperature out-of-range", "#/log/3/temperature out-of-range"},
		},
		{"not from the start", fermentation.Course{Log: log(1, 24, 2, 24)}, []string{"#/log/0/at not-at-start"}},
		{"out of order", fermentation.Course{Log: log(0, 24, 5, 24, 4, 24, 6, 24)}, []string{"#/log/2/at out-of-order"}},
		{"two values at once", fermentation.Course{Log: log(0, 24, 5, 24, 5, 25)}, []string{"#/log/2/at duplicate"}},
		{"a reading in years", fermentation.Course{Log: log(0, 24, 9000, 24)}, []string{"#/log/1/at out-of-range"}},
		{
			"pH out of order, two values at once", fermentation.Course{Steps: fine, PHReadings: read(ph(5, 5.8), ph(4, 5.7), ph(6, 5.6), ph(6, 5.5))},
			[]string{"#/ph_readings/1/at out-of-order", "#/ph_readings/3/at duplicate"},
		},
		{
			"the same pH with other ends", fermentation.Course{Steps: fine, PHReadings: read(ph(6, 5.6), between(6, 5.6, 5.5, 5.7))},
			[]string{"#/ph_readings/1/at duplicate"},
		},
		{
			"no pH of meat", fermentation.Course{Steps: fine, PHReadings: read(fermentation.PHReading{At: time.Hour}, ph(2, 3.4), ph(3, 8.6))},
			[]string{"#/ph_readings/0/ph out-of-range", "#/ph_readings/1/ph out-of-range", "#/ph_readings/2/ph out-of-range"},
		},
		{
			"a pH outside its own ends", fermentation.Course{Steps: fine, PHReadings: read(between(2, 5.5, 5.6, 5.7), between(3, 5.5, 5.3, 5.4))},
			[]string{"#/ph_readings/0/ph out-of-range", "#/ph_readings/1/ph out-of-range"},
		},
		{
			"a pH of another year", fermentation.Course{Steps: fine, PHReadings: read(ph(-9000, 5.8), ph(9000, 5.2))},
			[]string{"#/ph_readings/0/at out-of-range", "#/ph_readings/1/at out-of-range"},
		},
		{"a thermometer better than exact", fermentation.Course{Steps: fine, Thermometer: new(quantity.MustCelsiusDegrees(-0.1))}, []string{"#/thermometer_uncertainty out-of-range"}},
		{"a thermometer that shows nothing", fermentation.Course{Steps: fine, Thermometer: new(quantity.MustCelsiusDegrees(10.1))}, []string{"#/thermometer_uncertainty out-of-range"}},
		{"a plan for an oven", fermentation.Course{Steps: fine, Planned: quantity.MustCelsius(80)}, []string{"#/planned_temperature out-of-range"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			_, err := fermentation.DegreeHours(row.course)
			f, ok := errors.AsType[*fault.Error](err)
			if !ok || f.Kind != fault.Invalid {
				t.Fatalf("want an invalid value, got %v", err)
			}
			var got []string
			for _, v := range f.Violations {
				got = append(got, v.Path.Pointer()+" "+v.Code)
				if v.Detail == "" {
					t.Errorf("%s has no detail", v.Path.Pointer())
				}
			}
			if d := gocmp.Diff(row.want, got); d != "" {
				t.Error(d)
			}
		})
	}
}

// anyLog draws the readings of a chamber.
func anyLog(t *rapid.T) []fermentation.Reading {
	minutes := rapid.SliceOfN(rapid.IntRange(1, 3000), 1, 12).Draw(t, "minutes")
	readings := []fermentation.Reading{{Temperature: anyTemperature(t)}}
	for _, m := range minutes {
		readings = append(readings, fermentation.Reading{
			At: readings[len(readings)-1].At + time.Duration(m)*time.Minute, Temperature: anyTemperature(t),
		})
	}
	return readings
}

func anyTemperature(t *rapid.T) quantity.Temperature {
	return quantity.MustCelsius(float64(rapid.IntRange(-50, 500).Draw(t, "tenths of a degree")) / 10)
}

// A step split in two, or one more reading on the line between two, changes
// nothing.
func TestSplittingChangesNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		whole := anyLog(t)
		i := rapid.IntRange(1, len(whole)-1).Draw(t, "where")
		a, b := whole[i-1], whole[i]
		part := rapid.Float64Range(0.01, 0.99).Draw(t, "part")
		at := a.At + time.Duration(part*float64(b.At-a.At))
		exactPart := float64(at-a.At) / float64(b.At-a.At)
		for _, heldOn := range []bool{false, true} {
			between := a.Temperature
			if !heldOn {
				between = quantity.MustCelsius(a.Temperature.Celsius() + exactPart*(b.Temperature.Celsius()-a.Temperature.Celsius()))
			}
			split := slices.Insert(slices.Clone(whole), i, fermentation.Reading{At: at, Temperature: between})
			same(t, fermentation.Course{Log: whole, Held: heldOn}, fermentation.Course{Log: split, Held: heldOn})
		}
		steps := stepsOf(whole)
		half := steps[i-1]
		half.Span = at - a.At
		rest := steps[i-1]
		rest.Span -= half.Span
		same(t, fermentation.Course{Steps: steps}, fermentation.Course{Steps: slices.Replace(slices.Clone(steps), i-1, i, half, rest)})
	})
}

// Steps are readings that are held; equal steps in another order come to the
// same sum.
func TestStepsAreReadingsThatAreHeld(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		readings := anyLog(t)
		readings[len(readings)-1].Temperature = readings[len(readings)-2].Temperature
		steps := stepsOf(readings)
		same(t, fermentation.Course{Log: readings, Held: true}, fermentation.Course{Steps: steps})
		shuffled := rapid.Permutation(steps).Draw(t, "shuffled")
		for i, s := range sums(t, fermentation.Course{Steps: shuffled}) {
			if want := sums(t, fermentation.Course{Steps: steps})[i]; s.DegreeHours.Compare(want.DegreeHours) != 0 || s.Class != want.Class {
				t.Fatalf("want %s of %s, got %s of %s", want.DegreeHours, want.Class.Printed, s.DegreeHours, s.Class.Printed)
			}
		}
	})
}

func stepsOf(readings []fermentation.Reading) []fermentation.Step {
	var steps []fermentation.Step
	for i := range len(readings) - 1 {
		steps = append(steps, fermentation.Step{Temperature: readings[i].Temperature, Span: readings[i+1].At - readings[i].At})
	}
	return steps
}

func same(t *rapid.T, a, b fermentation.Course) {
	for i, s := range sums(t, a) {
		other := sums(t, b)[i]
		if s.DegreeHours.Compare(other.DegreeHours) != 0 || s.Range.High.Compare(other.Range.High) != 0 || s.Range.Low.Compare(other.Range.Low) != 0 {
			t.Fatalf("%s: want %s, got %s", s.Set.ID, s.DegreeHours, other.DegreeHours)
		}
		if s.Class != other.Class || s.Highest.Compare(other.Highest) != 0 {
			t.Fatalf("%s: want the class of %s, got that of %s", s.Set.ID, s.Highest, other.Highest)
		}
		if (s.ReachedAt == nil) != (other.ReachedAt == nil) || s.ReachedAt != nil && (*s.ReachedAt-*other.ReachedAt).Abs() > time.Second {
			t.Fatalf("%s: want the limit reached at %v, got %v", s.Set.ID, s.ReachedAt, other.ReachedAt)
		}
	}
}

// Warmer is never less; a pH read later is never less.
func TestMonotone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		readings := anyLog(t)
		warmed := slices.Clone(readings)
		i := rapid.IntRange(0, len(readings)-1).Draw(t, "where")
		warmed[i].Temperature = quantity.MustCelsius(warmed[i].Temperature.Celsius() + rapid.Float64Range(0, 9).Draw(t, "warmer"))
		end := readings[len(readings)-1].At
		first := time.Duration(rapid.Int64Range(0, int64(end)).Draw(t, "read at"))
		later := time.Duration(rapid.Int64Range(int64(first), int64(end)).Draw(t, "read later"))
		heldOn := rapid.Bool().Draw(t, "held")
		at := func(readings []fermentation.Reading, at time.Duration) []fermentation.Sum {
			return sums(t, fermentation.Course{Log: readings, Held: heldOn, PHReadings: read(fermentation.PHReading{At: at, PH: quantity.MustPH(5.3)})})
		}
		base, warm, late := at(readings, first), at(warmed, first), at(readings, later)
		for i, s := range base {
			for _, other := range []fermentation.Sum{warm[i], late[i]} {
				if other.DegreeHours.Compare(s.DegreeHours) < 0 || other.Class.Limit.Compare(s.Class.Limit) > 0 {
					t.Fatalf("%s: %s of %s became %s of %s", s.Set.ID, s.DegreeHours, s.Class.Printed, other.DegreeHours, other.Class.Printed)
				}
			}
			if s.Range.Low.Compare(s.DegreeHours) > 0 || s.Range.High.Compare(s.DegreeHours) < 0 {
				t.Fatalf("%s is outside its own range", s.DegreeHours)
			}
		}
	})
}

// Both rules add up the same temperatures. Their bases are 0.08 °F apart, so that
// over a time above both the Fahrenheit sum is 9/5 of the Celsius one and 0.08 °F h
// more for each hour.
func TestBothRulesAddUpTheSame(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		readings := anyLog(t)
		for i, r := range readings {
			readings[i].Temperature = quantity.MustCelsius(math.Max(15.6, r.Temperature.Celsius()))
		}
		s := sums(t, fermentation.Course{Log: readings})
		span := readings[len(readings)-1].At.Hours()
		want := 1.8*s[1].DegreeHours.CelsiusHours() + 0.08*span
		if got := s[0].DegreeHours.FahrenheitHours(); math.Abs(want-got) > 1e-4 {
			t.Fatalf("want %v °F h, got %v", want, got)
		}
	})
}

// The time left is when the limit is reached: with the time run down at the
// present temperature the sum is at the limit, and with a little more over it.
func TestTheTimeLeftReachesTheLimit(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		steps := stepsOf(anyLog(t))
		planned := anyTemperature(t)
		for i, s := range sums(t, fermentation.Course{Steps: steps, Planned: planned}) {
			const year = 300 * 24 * time.Hour
			if s.AtPlanned.Left == nil || *s.AtPlanned.Left == 0 || *s.AtPlanned.Left > year {
				continue
			}
			then := sums(t, fermentation.Course{Steps: append(slices.Clone(steps), fermentation.Step{Temperature: planned, Span: *s.AtPlanned.Left})})[i]
			if then.DegreeHours.Compare(then.Class.Limit) != 0 {
				t.Fatalf("%s: want to be at %s, got %s", s.Set.ID, then.Class.Printed, then.DegreeHours)
			}
			if then.Class != s.AtPlanned.Class {
				t.Fatalf("%s: want the class %s, got %s", s.Set.ID, s.AtPlanned.Class.Highest, then.Class.Highest)
			}
		}
	})
}

// FuzzDegreeHours reads courses from bytes: no panic, no NaN, no result without
// a pH, and every sum within its range.
func FuzzDegreeHours(f *testing.F) {
	f.Add([]byte{1, 240, 2, 60, 1, 200, 5, 3}, []byte{10, 58, 40, 52}, 0.5, false)
	f.Add([]byte{0, 0, 0, 0}, []byte{0, 53}, 0.0, true)
	f.Add([]byte{255, 255, 255, 255, 0, 1}, []byte{}, 3.0, true)
	f.Fuzz(func(t *testing.T, temperatures, acidity []byte, thermometer float64, heldOn bool) {
		d, err := quantity.CelsiusDegrees(thermometer)
		if err != nil {
			return
		}
		c := fermentation.Course{Held: heldOn, Thermometer: &d}
		at := time.Duration(0)
		for i := 0; i+1 < len(temperatures); i += 2 {
			c.Log = append(c.Log, fermentation.Reading{At: at, Temperature: quantity.MustCelsius(float64(temperatures[i])/4 - 5)})
			at += time.Duration(temperatures[i+1]) * 17 * time.Minute
		}
		at = -time.Hour
		for i := 0; i+1 < len(acidity); i += 2 {
			at += time.Duration(acidity[i]) * time.Hour
			c.PHReadings = append(c.PHReadings, fermentation.PHReading{At: at, PH: quantity.MustPH(float64(acidity[i+1]%100) / 10)})
		}
		e, err := fermentation.DegreeHours(c)
		if err != nil {
			if f, ok := errors.AsType[*fault.Error](err); !ok || f.Kind != fault.Invalid {
				t.Fatalf("want an invalid value, got %v", err)
			}
			return
		}
		for i, s := range e.Sums {
			v := s.DegreeHours.CelsiusHours()
			if math.IsNaN(v) || v < 0 || s.Range.Low.Compare(s.DegreeHours) > 0 || s.Range.High.Compare(s.DegreeHours) < 0 {
				t.Fatalf("%v is not within %v and %v", v, s.Range.Low, s.Range.High)
			}
			status := e.Findings[i].Status
			if status == finding.Met && (!e.Clock.Ended() || s.DegreeHours.Compare(s.Class.Limit) >= 0) {
				t.Fatalf("met with %s of %s, clock %+v", s.DegreeHours, s.Class.Printed, e.Clock)
			}
			if over := s.DegreeHours.Compare(s.Class.Limit) > 0; len(e.Gaps) == 0 && over != (status == finding.NotMet) {
				t.Fatalf("%s of %s is %s", s.DegreeHours, s.Class.Printed, status)
			}
			if len(e.Gaps) > 0 && (status == finding.Met || status == finding.NotApplicable || s.Joined.Compare(s.DegreeHours) > 0) {
				t.Fatalf("with gaps %s of %s, %s when joined, is %s", s.DegreeHours, s.Class.Printed, s.Joined, status)
			}
			if m := s.HourMean; m != nil && (m.Temperature.Compare(s.Highest) > 0 || m.From < e.Clock.Start || m.From+m.Over > e.Clock.Counted) {
				t.Fatalf("%v is not a mean of %v to %v with %s at most", m, e.Clock.Start, e.Clock.Counted, s.Highest)
			}
			if g := e.Growth.Index.Float(); math.IsNaN(g) || g < 0 {
				t.Fatalf("%v is no growth", g)
			}
			if s.ReachedAt != nil && (*s.ReachedAt < 0 || *s.ReachedAt > e.Clock.Counted) {
				t.Fatalf("reached at %v of %v", s.ReachedAt, e.Clock.Counted)
			}
		}
	})
}

func exact() *quantity.TemperatureDelta { return new(quantity.TemperatureDelta{}) }

func hours(h float64) time.Duration { return time.Duration(math.Round(h * float64(time.Hour))) }

// held returns one step, in °C and hours.
func held(degrees, span float64) []fermentation.Step {
	return []fermentation.Step{{Temperature: quantity.MustCelsius(degrees), Span: hours(span)}}
}

// log returns readings from pairs of hours and °C.
func log(pairs ...float64) []fermentation.Reading {
	var readings []fermentation.Reading
	for i := 0; i+1 < len(pairs); i += 2 {
		readings = append(readings, fermentation.Reading{At: hours(pairs[i]), Temperature: quantity.MustCelsius(pairs[i+1])})
	}
	return readings
}

func ph(at, value float64) fermentation.PHReading {
	return fermentation.PHReading{At: hours(at), PH: quantity.MustPH(value)}
}

func between(at, value, low, high float64) fermentation.PHReading {
	r := ph(at, value)
	r.Within = quantity.Between[quantity.PH]{Low: quantity.MustPH(low), High: quantity.MustPH(high)}
	return r
}

func read(readings ...fermentation.PHReading) []fermentation.PHReading { return readings }

// exposure takes a log without a longest gap as the lines between its readings;
// gaps have tests of their own.
func exposure(tb testing.TB, c fermentation.Course) fermentation.Exposure {
	tb.Helper()
	c.LongestGap = cmp.Or(c.LongestGap, fermentation.LongestCourse)
	e, err := fermentation.DegreeHours(c)
	if err != nil {
		tb.Fatal(err)
	}
	return e
}

func sums(t *rapid.T, c fermentation.Course) []fermentation.Sum {
	t.Helper()
	c.LongestGap = cmp.Or(c.LongestGap, fermentation.LongestCourse)
	e, err := fermentation.DegreeHours(c)
	if err != nil {
		t.Fatal(err)
	}
	return e.Sums
}

func set(tb testing.TB, id string) rulebook.DegreeHourSet {
	tb.Helper()
	s, ok := rulebook.DegreeHourSetByID(id)
	if !ok {
		tb.Fatalf("no rule %s", id)
	}
	return s
}

func sum(tb testing.TB, e fermentation.Exposure, id string) fermentation.Sum {
	tb.Helper()
	for _, s := range e.Sums {
		if s.Set.ID == id {
			return s
		}
	}
	tb.Fatalf("no sum by %s", id)
	return fermentation.Sum{}
}

// native returns degree-hours in the scale of the rule.
func native(s fermentation.Sum, d quantity.DegreeHours) float64 {
	return d.In(s.Set.Scale.DegreeHourUnit()).Value()
}

func degrees(s fermentation.Sum, t quantity.Temperature) float64 {
	if s.Set.Scale == rulebook.FahrenheitScale {
		return t.Fahrenheit()
	}
	return t.Celsius()
}

// result returns what was found by a rule.
func result(tb testing.TB, e fermentation.Exposure, id string) finding.Finding {
	tb.Helper()
	return only(tb, e, func(f finding.Finding) bool { return f.Code == "degree-hours" && f.LimitID == id })
}

func acid(tb testing.TB, e fermentation.Exposure) finding.Finding {
	tb.Helper()
	return only(tb, e, func(f finding.Finding) bool { return f.Code == "ph-5.3" })
}

func only(tb testing.TB, e fermentation.Exposure, is func(finding.Finding) bool) finding.Finding {
	tb.Helper()
	i := slices.IndexFunc(e.Findings, is)
	if i < 0 {
		tb.Fatal("no such finding")
	}
	return e.Findings[i]
}

func codes(e fermentation.Exposure) []string {
	var codes []string
	for _, n := range e.Notes {
		codes = append(codes, n.Code)
	}
	return codes
}
