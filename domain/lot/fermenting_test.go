package lot_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
)

// asked is what a record asks about its fermentation.
type asked struct {
	Start       float64 // hours since the opening
	Log         []int   // entries
	PH          []int
	Thermometer float64 // °C, -1 when it is not told
	Notes       []string
}

func within(off float64, m lot.Measured) lot.Measured {
	m.TemperatureWithin = material.Is(quantity.MustCelsiusDegrees(off))
	return m
}

// acidWithin is a pH that may be off by so much, either way.
func acidWithin(off, ph float64) lot.Measured {
	m := acidOf(ph)
	m.PHWithin = material.Is(quantity.Between[quantity.PH]{Low: quantity.MustPH(ph - off), High: quantity.MustPH(ph + off)})
	return m
}

func guessed(m lot.Measured) lot.Measured {
	m.Means.Method = lot.ByEstimate
	return m
}

func ofPiece(piece string, m lot.Measured) lot.Measured {
	m.Piece = piece
	return m
}

func TestFermentationAsksFromTheRecord(t *testing.T) {
	t.Parallel()
	const none = -1.0
	warm, cellar := airAt(24), airAt(13)
	for _, row := range []struct {
		name  string
		story []lot.Told // from entry 4 on; stuffed at 5 h
		want  asked
	}{
		{"two readings and acid", []lot.Told{told(5, warm), told(17, warm), told(16, acidOf(5.2))},
			asked{Start: 5, Log: []int{4, 5}, PH: []int{6}, Thermometer: none}},
		{"recorded out of order", []lot.Told{told(17, warm), told(16, acidOf(5.2)), told(5, warm)},
			asked{Start: 5, Log: []int{6, 4}, PH: []int{5}, Thermometer: none}},
		{"what was read before stuffing", []lot.Told{told(4, airAt(4)), told(4, acidOf(5.2)), told(5, warm), told(17, warm)},
			asked{Start: 5, Log: []int{6, 7}, Thermometer: none}},
		{"a late start", []lot.Told{told(6.1, warm), told(17, warm)},
			asked{Start: 6.1, Log: []int{4, 5}, Thermometer: none, Notes: []string{"late-start"}}},
		{"an hour is no late start", []lot.Told{told(6, warm), told(17, warm)}, asked{Start: 5, Log: []int{4, 4, 5}, Thermometer: none, Notes: []string{"start-as-first-read"}}},
		{"a pH before the start", []lot.Told{told(5.5, acidOf(5.7)), told(6, warm), told(17, warm)},
			asked{Start: 5, Log: []int{5, 5, 6}, PH: []int{4}, Thermometer: none, Notes: []string{"start-as-first-read"}}},
		{"the highest of one instant", []lot.Told{
			told(5, warm), told(15, by("left", airAt(25))), told(15, by("right", airAt(26))), told(15, by("below", airAt(24))),
			told(10, ofPiece("A", acidOf(5.5))), told(10, ofPiece("B", acidOf(5.6))), told(10, acidOf(5.4)),
		}, asked{Start: 5, Log: []int{4, 6}, PH: []int{9}, Thermometer: none, Notes: []string{"several-thermometers"}}},
		{"of two pH that are the same the one that is less sure", []lot.Told{
			told(5, warm), told(15, warm), told(10, ofPiece("A", acidWithin(0.1, 5.3))), told(10, ofPiece("B", acidWithin(0.2, 5.3))),
		}, asked{Start: 5, Log: []int{4, 5}, PH: []int{7}, Thermometer: none}},
		{"cores and humidity", []lot.Told{
			told(5, warm), told(6, lot.Measured{Place: lot.Core, Temperature: celsius(20)}), told(7, lot.Measured{Place: lot.Air, Humidity: humidity(90)}), told(15, warm),
		}, asked{Start: 5, Log: []int{4, 7}, Thermometer: none}},
		{"doubtful readings", []lot.Told{told(5, airAt(75)), told(5.5, warm), told(15, warm), told(12, acidOf(1)), told(60, lot.Measured{
			Place: lot.Core, Piece: "A", WaterActivity: material.Is(quantity.MustWaterActivity(0.1))})},
			asked{Start: 5, Log: []int{5, 5, 6}, Thermometer: none, Notes: []string{"start-as-first-read", "doubtful-left-out"}}},
		{"estimates", []lot.Told{told(5, guessed(warm)), told(5.5, warm), told(15, warm), told(12, guessed(acidOf(5.2)))},
			asked{Start: 5, Log: []int{5, 5, 6}, Thermometer: none, Notes: []string{"start-as-first-read", "estimates-left-out"}}},

		// The thermometer: the most that is told, and the usual half degree where it is not.
		{"a thermometer that all tell of", []lot.Told{told(5, within(0.2, warm)), told(15, within(0.3, warm))},
			asked{Start: 5, Log: []int{4, 5}, Thermometer: 0.3}},
		{"a thermometer that one tells of", []lot.Told{told(5, within(0.2, warm)), told(15, warm)}, asked{Start: 5, Log: []int{4, 5}, Thermometer: 0.5}},
		{"a bad thermometer that one tells of", []lot.Told{told(5, within(2, warm)), told(15, warm)}, asked{Start: 5, Log: []int{4, 5}, Thermometer: 2}},
		{"a perfect thermometer", []lot.Told{told(5, within(0, warm)), told(15, within(0, warm))}, asked{Start: 5, Log: []int{4, 5}, Thermometer: 0}},

		// Up to hanging at 15 h, and on until acid is known to have come.
		{"acid before hanging", []lot.Told{told(5, warm), told(14, warm), told(14, acidOf(5.3)), told(15, hung()), told(16, cellar), told(17, cellar)},
			asked{Start: 5, Log: []int{4, 5}, PH: []int{6}, Thermometer: none}},
		{"acid between the last reading and hanging", []lot.Told{told(5, warm), told(13, warm), told(14, acidOf(5.3)), told(15, hung()), told(16, cellar), told(17, cellar)},
			asked{Start: 5, Log: []int{4, 5, 8}, PH: []int{6}, Thermometer: none}},
		{"acid after hanging", []lot.Told{told(5, warm), told(14, warm), told(15, hung()), told(16, cellar), told(16.5, acidOf(5.3)), told(17, cellar), told(18, cellar)},
			asked{Start: 5, Log: []int{4, 5, 7, 9}, PH: []int{8}, Thermometer: none}},
		{"acid that may be none, before hanging", []lot.Told{
			told(5, warm), told(14, warm), told(14, acidWithin(0.2, 5.3)), told(15, hung()), told(16, cellar), told(17, cellar), told(17, acidWithin(0.2, 5.1)), told(18, cellar),
		}, asked{Start: 5, Log: []int{4, 5, 8, 9}, PH: []int{6, 10}, Thermometer: none}},
		{"no acid", []lot.Told{told(5, warm), told(14, acidOf(5.5)), told(14, warm), told(15, hung()), told(16, cellar), told(17, cellar)},
			asked{Start: 5, Log: []int{4, 6, 8, 9}, PH: []int{5}, Thermometer: none}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			s := keep(t, with(begun(), row.story...)...).record.State()
			q, err := s.Fermentation()
			if err != nil {
				t.Fatal(err)
			}
			got := asked{Start: q.Start.Sub(opened).Hours(), Log: q.LogEntries, PH: q.PHEntries, Thermometer: none, Notes: codesOf(q.Notes)}
			if d := q.Course.Thermometer; d != nil {
				got.Thermometer = d.CelsiusDegrees()
			}
			if diff := cmp.Diff(row.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			if q.Course.Rulebook != rulebook.UnitedStates || q.Course.Planned != quantity.MustCelsius(24) || q.Course.Held || len(q.Course.Steps) > 0 || q.Course.LongestGap != 14*time.Hour {
				t.Errorf("got %+v", q.Course)
			}
			if want := q.Start.Sub(at(5)); q.Uncounted != want || q.Course.Log[0].At != 0 {
				t.Errorf("want %v uncounted and the log from 0 on, got %v and %v", want, q.Uncounted, q.Course.Log[0].At)
			}
			if _, err := fermentation.DegreeHours(q.Course); err != nil {
				t.Errorf("what is asked can't be answered: %v", err)
			}
		})
	}
}

// 24 °C is 75.2 °F. From stuffing at 5 h to the acid at 47 h are 42 h, and so 42 *
// (75.2 - 60) = 638.4 °F h and 42 * (24 - 15.6) = 352.8 °C h.
func TestFermentationIsThatOfTheRules(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()...)
	for h := 5.0; h <= 59; h += 6 {
		k.post(told(h, within(0.5, airAt(24))))
	}
	k.post(told(29, acidWithin(0.05, 5.5)), told(47, acidWithin(0.05, 5.2)), told(59, hung()))
	q, err := k.record.State().Fermentation()
	if err != nil {
		t.Fatal(err)
	}
	e, err := fermentation.DegreeHours(q.Course)
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "Fahrenheit", 638.4, e.Sums[0].DegreeHours.FahrenheitHours(), 1e-6)
	quantitytest.Near(t, "Celsius", 352.8, e.Sums[1].DegreeHours.CelsiusHours(), 1e-6)
	if !slices.ContainsFunc(e.Findings, func(f finding.Finding) bool { return f.LimitID == e.Deciding && f.Status == finding.Met }) {
		t.Errorf("want the deciding rule met, got %+v", e.Findings)
	}
}

// What cannot be shown is not shown as kept: without a pH, and where
// temperatures end before the acid.
func TestFermentationDoesNotPassOnMissingData(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name  string
		story []lot.Told
	}{
		{"no pH", []lot.Told{told(5, airAt(24)), told(17, airAt(24))}},
		{"a pH that was guessed", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(16, guessed(acidOf(5.1)))}},
		{"a pH after the temperatures", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(20, acidOf(5.1))}},
		{"a pH that was taken back", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(16, acidOf(5.1)), retracted(6)}},
		{"a pH that is doubtful", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(16, acidOf(3.1))}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			q, err := keep(t, with(begun(), row.story...)...).record.State().Fermentation()
			if err != nil {
				t.Fatal(err)
			}
			e, err := fermentation.DegreeHours(q.Course)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range e.Findings {
				if f.LimitID != "" && f.Status == finding.Met { // the acid itself may be
					t.Errorf("%s is met: %s", f.Key(), f.Reason)
				}
			}
		})
	}
}

func TestFermentationSaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	warm := airAt(24)
	for _, row := range []struct {
		name  string
		story []lot.Told
		want  string
	}{
		{"nothing stuffed", with(begun()[:2], told(3, warm), told(4, warm)), "not-stuffed"},
		{"nothing read", begun(), "no-temperatures"},
		{"one reading", with(begun(), told(6, warm)), "no-temperatures"},
		{"two readings of one instant", with(begun(), told(6, by("left", warm)), told(6, by("right", airAt(25)))), "no-temperatures"},
		{"read before stuffing", with(begun(), told(3, warm), told(4, warm)), "no-temperatures"},
		{"cores", with(begun(), told(6, lot.Measured{Place: lot.Core, Temperature: celsius(20)}), told(7, lot.Measured{Place: lot.Core, Temperature: celsius(20)})), "no-temperatures"},
		{"guesses", with(begun(), told(6, guessed(warm)), told(7, guessed(warm))), "no-temperatures"},
		{"doubtful ones", with(begun(), told(6, airAt(75)), told(7, airAt(75))), "no-temperatures"},
		{"acid alone", with(begun(), told(6, acidOf(5.2)), told(7, acidOf(5.1))), "no-temperatures"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			_, err := keep(t, row.story...).record.State().Fermentation()
			if diff := cmp.Diff(refusal{fault.NoSolution, []string{row.want}}, refusalOf(t, err)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// An oven that somebody confirmed is no fermentation chamber: nothing is shown.
func TestFermentationInAnOven(t *testing.T) {
	t.Parallel()
	q, err := keep(t, with(begun(), told(5, airAt(75)), told(15, airAt(24)), confirmed(4))...).record.State().Fermentation()
	if err != nil {
		t.Fatal(err)
	}
	_, err = fermentation.DegreeHours(q.Course)
	if diff := cmp.Diff(invalid("/log/0/temperature out-of-range"), refusalOf(t, err)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// A year after the start the course ends, whatever is read on.
func TestFermentationOfALotThatHangsForYears(t *testing.T) {
	t.Parallel()
	k := &keeper{TB: t, now: at(24 * 1000)}
	for _, e := range with(begun(), told(5, airAt(24)), told(50, hung())) {
		k.post(e)
	}
	for day := 10.0; day < 800; day += 10 {
		k.post(told(24*day, airAt(12)), told(24*day, acidOf(5.6)))
	}
	q, err := k.record.State().Fermentation()
	if err != nil {
		t.Fatal(err)
	}
	if end := q.Course.Log[len(q.Course.Log)-1].At; end > fermentation.LongestCourse || end < 350*24*time.Hour || len(q.PHEntries) != len(q.Course.PHReadings) {
		t.Errorf("want it to end within a year, got %v", end)
	}
	if _, err := fermentation.DegreeHours(q.Course); err != nil {
		t.Error(err)
	}
}

// A plan that no chamber can keep is not asked of.
func TestFermentationPlannedTemperature(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name    string
		planned []formula.Step
		want    quantity.Temperature
	}{
		{"none", nil, quantity.Temperature{}},
		{"not told", []formula.Step{{Span: time.Hour}}, quantity.Temperature{}},
		{"the first", []formula.Step{{Temperature: celsius(26)}, {Temperature: celsius(20)}}, quantity.MustCelsius(26)},
		{"an oven", []formula.Step{{Temperature: celsius(80)}}, quantity.Temperature{}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			open := changed(func(f *formula.Formula) { f.Plan.Fermentation = row.planned })
			q, err := keep(t, with([]lot.Told{open}, append(begun()[1:], told(5, airAt(24)), told(9, airAt(24)))...)...).record.State().Fermentation()
			if err != nil || q.Course.Planned != row.want {
				t.Errorf("want %v, got %v and %v", row.want, q.Course.Planned, err)
			}
		})
	}
}
