package fermentation_test

import (
	"slices"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// Over a gap the hotter of both readings counts all the time. All by hand for the
// Celsius rule, base 15.6 °C, limits 665, 555 and 500.
func TestGaps(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name   string
		course fermentation.Course
		gaps   [][4]float64 // from, to, °C taken, what it adds
		sum    float64
		joined float64
		status finding.Status
	}{
		{
			"readings that follow in time have none: 8.4 for 2 h",
			fermentation.Course{Log: log(0, 24, 1, 24, 2, 24), PHReadings: read(ph(2, 5.2))},
			nil, 16.8, 16.8, finding.Met,
		},
		{
			"an hour and a quarter is none, joined by a line from 8.4 to 10.4: 9.4 for 1.25 h",
			fermentation.Course{Log: log(0, 24, 1.25, 26), PHReadings: read(ph(1.25, 5.2))},
			nil, 11.75, 11.75, finding.Met,
		},
		{
			"longer is one: 10.4 for 2 h, 9.4 joined",
			fermentation.Course{Log: log(0, 24, 2, 26), PHReadings: read(ph(2, 5.2))},
			[][4]float64{{0, 2, 26, 2}}, 20.8, 18.8, finding.NotShown,
		},
		{
			"the hotter one is before it",
			fermentation.Course{Log: log(0, 26, 2, 24), PHReadings: read(ph(2, 5.2))},
			[][4]float64{{0, 2, 26, 2}}, 20.8, 18.8, finding.NotShown,
		},
		{
			"a longer one that is allowed",
			fermentation.Course{Log: log(0, 24, 12, 26), LongestGap: 14 * time.Hour, PHReadings: read(ph(12, 5.2))},
			nil, 112.8, 112.8, finding.Met,
		},
		{
			"a shorter one that is not",
			fermentation.Course{Log: log(0, 24, 0.5, 26), LongestGap: 20 * time.Minute, PHReadings: read(ph(0.5, 5.2))},
			[][4]float64{{0, 0.5, 26, 0.5}}, 5.2, 4.7, finding.NotShown,
		},
		{
			"readings that are held: 10.4 for 3 h instead of 8.4",
			fermentation.Course{Held: true, Log: log(0, 24, 3, 26), PHReadings: read(ph(3, 5.2))},
			[][4]float64{{0, 3, 26, 6}}, 31.2, 25.2, finding.NotShown,
		},
		{
			"below the base on one side: 14.4 for 4 h, joined 20.736 (4 h from 10 to 30 °C)",
			fermentation.Course{Log: log(0, 10, 4, 30), PHReadings: read(ph(4, 5.2))},
			[][4]float64{{0, 4, 30, 36.864}}, 57.6, 20.736, finding.NotShown,
		},
		{
			"the acid comes in it: what counts is until then, 10.4 and in the mean 8.9 for 1 h",
			fermentation.Course{Log: log(0, 24, 2, 26), PHReadings: read(ph(1, 5.2))},
			[][4]float64{{0, 2, 26, 1.5}}, 10.4, 8.9, finding.NotShown,
		},
		{
			"one after the acid does not count",
			fermentation.Course{Log: log(0, 24, 1, 24, 9, 30), PHReadings: read(ph(1, 5.2))},
			nil, 8.4, 8.4, finding.Met,
		},
		{
			"one after a reading that may have been above 5.3 does, until one that was not: it adds to the high end alone",
			fermentation.Course{Log: log(0, 24, 1, 24, 9, 30), PHReadings: read(between(1, 5.28, 5.2, 5.35), ph(9, 5))},
			[][4]float64{{1, 9, 30, 0}}, 8.4, 8.4, finding.NotShown,
		},
		{
			"one before the clock starts does not count",
			fermentation.Course{Log: log(0, 24, 8, 24, 9, 24), ClockStart: 8 * time.Hour, PHReadings: read(ph(9, 5.2))},
			nil, 8.4, 8.4, finding.Met,
		},
		{
			"one in which the clock starts counts from there: 10.4 for 1 h, a line from 25 to 26 has 9.9",
			fermentation.Course{Log: log(0, 24, 2, 26), ClockStart: time.Hour, PHReadings: read(ph(2, 5.2))},
			[][4]float64{{0, 2, 26, 0.5}}, 10.4, 9.9, finding.NotShown,
		},
		{
			"never above the base, as far as is known",
			fermentation.Course{Log: log(0, 12, 9, 12), PHReadings: read(ph(9, 5.2))},
			[][4]float64{{0, 9, 12, 0}}, 0, 0, finding.NotShown,
		},
		{
			"over the limit only by what is taken: 14.4 for 50 h are 720, 9.4 in the mean 470",
			fermentation.Course{Log: log(0, 20, 50, 30), PHReadings: read(ph(50, 5.2))},
			[][4]float64{{0, 50, 30, 250}}, 720, 470, finding.Near,
		},
		{
			"over it however they are joined: 14.4 and 12.4 in the mean for 60 h",
			fermentation.Course{Log: log(0, 26, 60, 30), PHReadings: read(ph(60, 5.2))},
			[][4]float64{{0, 60, 30, 120}}, 864, 744, finding.NotMet,
		},
		{
			"in a hotter class only by what is taken: 18.4 for 31 h are 570.4 of 555; on the line 4.4 and 0.35 more each hour, 304.575 of 665",
			fermentation.Course{Log: log(0, 20, 40, 34), PHReadings: read(ph(31, 5.2))},
			[][4]float64{{0, 40, 34, 265.825}}, 570.4, 304.575, finding.Near,
		},
		{
			"two of them",
			fermentation.Course{Log: log(0, 24, 2, 26, 3, 26, 5, 28), PHReadings: read(ph(5, 5.2))},
			[][4]float64{{0, 2, 26, 2}, {3, 5, 28, 2}}, 20.8 + 10.4 + 24.8, 18.8 + 10.4 + 22.8, finding.NotShown,
		},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			row.course.Thermometer = exact()
			e, err := fermentation.DegreeHours(row.course)
			if err != nil {
				t.Fatal(err)
			}
			s := sum(t, e, celsius)
			quantitytest.Near(t, "sum", row.sum, s.DegreeHours.CelsiusHours(), tolerance)
			quantitytest.Near(t, "joined", row.joined, s.Joined.CelsiusHours(), tolerance)
			if f := result(t, e, celsius); f.Status != row.status {
				t.Errorf("want %s, got %s: %s", row.status, f.Status, f.Reason)
			}
			if len(e.Gaps) != len(row.gaps) || slices.Contains(codes(e), "gaps") != (len(row.gaps) > 0) {
				t.Fatalf("want %v, got %+v and notes %v", row.gaps, e.Gaps, codes(e))
			}
			for i, want := range row.gaps {
				g := e.Gaps[i]
				quantitytest.Near(t, "from", want[0], g.From.Hours(), 1e-9)
				quantitytest.Near(t, "to", want[1], g.To.Hours(), 1e-9)
				quantitytest.Near(t, "taken", want[2], g.Temperature.Celsius(), 1e-9)
				quantitytest.Near(t, "adds", want[3], g.Adds[1].CelsiusHours(), tolerance)
			}
			if told := slices.Contains(codes(e), "failed-notify"); told != (row.status == finding.NotMet) {
				t.Errorf("want the authority told of %s: %v", row.status, told)
			}
		})
	}
}

// What a gap hides can't be shown by reading on: whatever the readings, nothing is
// met that has a gap before its end, and the sum is nowhere below that of the
// lines.
func TestGapsOnlyWithhold(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := fermentation.Course{
			Log: anyLog(t), Held: rapid.Bool().Draw(t, "held"), Thermometer: exact(),
			LongestGap: time.Duration(rapid.IntRange(1, 3000).Draw(t, "minutes without a gap")) * time.Minute,
		}
		end := c.Log[len(c.Log)-1].At
		c.PHReadings = read(fermentation.PHReading{At: time.Duration(rapid.Int64Range(1, int64(end)).Draw(t, "acid")), PH: quantity.MustPH(5.2)})
		gapped, err := fermentation.DegreeHours(c)
		if err != nil {
			t.Fatal(err)
		}
		c.LongestGap = fermentation.LongestCourse
		lines, err := fermentation.DegreeHours(c)
		if err != nil {
			t.Fatal(err)
		}
		var added [2]float64
		for _, g := range gapped.Gaps {
			for i := range added {
				added[i] += g.Adds[i].CelsiusHours()
			}
		}
		for i, s := range gapped.Sums {
			of := lines.Sums[i]
			if s.Joined.Compare(of.DegreeHours) != 0 || s.DegreeHours.Compare(s.Joined) < 0 || s.Highest.Compare(of.Highest) < 0 {
				t.Fatalf("%s joined and %s taken, want %s joined", s.Joined, s.DegreeHours, of.DegreeHours)
			}
			if d := s.DegreeHours.CelsiusHours() - s.Joined.CelsiusHours() - added[i]; d > 1e-4 || d < -1e-4 {
				t.Fatalf("the gaps add %v, want %v more", added[i], s.DegreeHours.Minus(s.Joined))
			}
			if got, want := rank[gapped.Findings[i].Status], rank[lines.Findings[i].Status]; got < want && len(gapped.Gaps) > 0 {
				t.Fatalf("a gap made %s of %s", gapped.Findings[i].Status, lines.Findings[i].Status)
			}
			if status := gapped.Findings[i].Status; len(gapped.Gaps) > 0 && (status == finding.Met || status == finding.NotApplicable) {
				t.Fatalf("%s with %d gaps", status, len(gapped.Gaps))
			}
		}
	})
}

// rank orders results, the worst last.
var rank = map[finding.Status]int{
	finding.NotApplicable: 1, finding.Met: 2, finding.NotShown: 3, finding.Near: 4, finding.NotMet: 5,
}

func TestWhatToDoAboutGaps(t *testing.T) {
	t.Parallel()
	gaps := func(c fermentation.Course) finding.Finding {
		c.Thermometer = exact()
		e, err := fermentation.DegreeHours(c)
		if err != nil {
			t.Fatal(err)
		}
		return result(t, e, celsius)
	}
	for _, row := range []struct {
		name string
		got  string
		want string
	}{
		{"one", gaps(fermentation.Course{Log: log(0, 24, 2, 26), PHReadings: read(ph(2, 5.2))}).Remedy,
			"Give the temperatures between 0 h and 2 h, such as from the memory of the thermometer."},
		{"the longest of several", gaps(fermentation.Course{Log: log(0, 24, 2, 26, 5, 26), PHReadings: read(ph(5, 5.2))}).Remedy,
			"Give the temperatures in 2 gaps, the longest from 2 h to 5 h, such as from the memory of the thermometer."},
		{"over only by them: 1200/26 h, the shorter of both rules", gaps(fermentation.Course{Log: log(0, 20, 50, 30), PHReadings: read(ph(50, 5.2))}).Remedy,
			"Give the temperatures between 0 h and 50 h, such as from the memory of the thermometer. Until then hold the lot. " +
				"The next one must be at pH 5.3 in less than 46.1 h at 30 °C, or be cooler."},
		{"over only by them, while it runs", gaps(fermentation.Course{Log: log(0, 20, 50, 30)}).Remedy,
			"Read the pH at once: with the hotter readings no time is left. Give the temperatures between 0 h and 50 h, such as from the memory of the thermometer."},
		{"while it runs, what is left counts: 665-20.8 over 10.4", gaps(fermentation.Course{Log: log(0, 24, 2, 26)}).Remedy,
			"At 26 °C a pH of 5.3 must be read in less than 61.9 h."},
	} {
		if d := gocmp.Diff(row.want, row.got); d != "" {
			t.Errorf("%s (-want +got):\n%s", row.name, d)
		}
	}
}
