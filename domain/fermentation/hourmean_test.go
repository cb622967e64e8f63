package fermentation_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// The highest mean of an hour, by hand.
func TestHourMean(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name       string
		course     fermentation.Course
		mean       float64
		from, over float64 // hours
	}{
		{"as warm all the time: the first", fermentation.Course{Steps: held(24, 5)}, 24, 0, 1},
		{"less than an hour: all of it", fermentation.Course{Log: log(0, 24, 0.5, 26)}, 25, 0, 0.5},
		{"rising by 2 °C/h: the last", fermentation.Course{Log: log(0, 20, 5, 30)}, 29, 4, 1},
		{"falling by 2 °C/h: the first", fermentation.Course{Log: log(0, 30, 5, 20)}, 29, 0, 1},
		{"a roof of 4 °C/h on both sides: half an hour around the top, 30 - 4 * 0.5/2", fermentation.Course{Log: log(0, 22, 2, 30, 4, 22)}, 29, 1.5, 1},
		{
			"a roof of 2 °C/h up and 6 °C/h down: where both ends are as warm, 3/4 h before the top: 30 - 1.5/2",
			fermentation.Course{Log: log(0, 20, 5, 30, 6, 24, 9, 24)}, 29.25, 4.25, 1,
		},
		{
			"a minute at 34 °C between minutes at 24: (24 * 58 + 2 * 29)/60, the first hour that holds it",
			fermentation.Course{Log: log(0, 24, 3, 24, 3+1.0/60, 34, 3+2.0/60, 24, 9, 24)}, 24 + 10.0/60, 2 + 2.0/60, 1,
		},
		{"a step of half an hour: the first hour with all of it", fermentation.Course{Steps: slices.Concat(held(20, 3), held(30, 0.5), held(22, 3))}, 26, 3, 1},
		{"two steps of as much", fermentation.Course{Steps: slices.Concat(held(30, 0.5), held(20, 3), held(30, 0.5), held(20, 3))}, 25, 0, 1},
		{"readings that are held", fermentation.Course{Held: true, Log: log(0, 20, 2, 30, 2.75, 20, 9, 20)}, 27.5, 1.75, 1},
		{"not after the acid", fermentation.Course{Steps: slices.Concat(held(24, 5), held(36, 5)), PHReadings: read(ph(5, 5.2))}, 24, 0, 1},
		{"not before the clock starts", fermentation.Course{Steps: slices.Concat(held(36, 5), held(24, 5)), ClockStart: 5 * time.Hour}, 24, 5, 1},
		{"in part after the clock starts, on a line", fermentation.Course{Log: log(0, 34, 10, 24), ClockStart: 4 * time.Hour}, 29.5, 4, 1},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			m := sum(t, exposure(t, row.course), celsius).HourMean
			if m == nil {
				t.Fatal("want a mean")
			}
			quantitytest.Near(t, "mean", row.mean, m.Temperature.Celsius(), 1e-6)
			quantitytest.Near(t, "from", row.from, m.From.Hours(), 1e-5)
			quantitytest.Near(t, "over", row.over, m.Over.Hours(), 1e-9)
		})
	}
	t.Run("over a gap it is the hotter of both", func(t *testing.T) {
		t.Parallel()
		e, err := fermentation.DegreeHours(fermentation.Course{Log: log(0, 24, 3, 34, 3.5, 24)})
		if err != nil {
			t.Fatal(err)
		}
		quantitytest.Near(t, "mean", 34, e.Sums[0].HourMean.Temperature.Celsius(), 1e-9)
	})
	t.Run("there is none where no time counts", func(t *testing.T) {
		t.Parallel()
		if m := sum(t, exposure(t, fermentation.Course{Steps: held(24, 5), PHReadings: read(ph(0, 5.2))}), celsius).HourMean; m != nil {
			t.Errorf("got %v", m)
		}
	})
}

// The highest of means that are taken at every minute by trapezia over minutes is
// the highest of all where the readings are a whole number of minutes apart, but
// for hours that begin within one.
func TestHourMeanIsTheHighestOfAll(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		readings := anyLog(t)
		heldOn := rapid.Bool().Draw(t, "held")
		got := sums(t, fermentation.Course{Log: readings, Held: heldOn})[1].HourMean
		at := func(minute int, before bool) float64 {
			when := time.Duration(minute) * time.Minute
			i := 1
			for i < len(readings)-1 && (readings[i].At < when || readings[i].At == when && !before) {
				i++
			}
			a, b := readings[i-1], readings[i]
			if heldOn {
				return a.Temperature.Celsius()
			}
			return a.Temperature.Celsius() + float64(when-a.At)/float64(b.At-a.At)*(b.Temperature.Celsius()-a.Temperature.Celsius())
		}
		minutes := int(readings[len(readings)-1].At / time.Minute)
		width := min(60, minutes)
		var areas []float64 // up to each minute
		total := 0.0
		for m := range minutes + 1 {
			areas = append(areas, total)
			if m < minutes {
				total += (at(m, false) + at(m+1, true)) / 2
			}
		}
		highest := math.Inf(-1)
		for m := range minutes - width + 1 {
			highest = max(highest, (areas[m+width]-areas[m])/float64(width))
		}
		steepest := 0.0 // °C a minute: an hour that begins within a minute is warmer by less
		for i := 1; i < len(readings); i++ {
			d := math.Abs(readings[i].Temperature.Celsius() - readings[i-1].Temperature.Celsius())
			steepest = max(steepest, d/(readings[i].At-readings[i-1].At).Minutes())
		}
		if mean := got.Temperature.Celsius(); mean < highest-1e-6 || mean > highest+steepest+1e-6 {
			t.Fatalf("want %v, got %v", highest, mean)
		}
	})
}

// A reading of 34 °C for a minute is in the class from 33 °C; by the warmest hour it
// would be in the coolest.
func TestSpikes(t *testing.T) {
	t.Parallel()
	spike := fermentation.Course{Log: log(0, 24, 3, 24, 3+1.0/60, 34, 3+2.0/60, 24, 9, 24), Thermometer: exact(), PHReadings: read(ph(9, 5.2))}
	e := exposure(t, spike)
	s := sum(t, e, celsius)
	quantitytest.Near(t, "limit", 555, s.Class.Limit.CelsiusHours(), tolerance)
	quantitytest.Near(t, "limit by the hour", 665, s.HourMean.Class.Limit.CelsiusHours(), tolerance)
	i := slices.IndexFunc(e.Notes, func(n finding.Note) bool { return n.Code == "spike" })
	if i < 0 || !strings.Contains(e.Notes[i].Text, "34 °C at 3 h") || !strings.Contains(e.Notes[i].Text, "24.17 °C in the mean") {
		t.Errorf("want the spike told of, got %+v", e.Notes)
	}
	for name, c := range map[string]fermentation.Course{
		"an hour": {Steps: slices.Concat(held(24, 5), held(34, 1)), Thermometer: exact()},
		"nothing": {Steps: held(24, 5), PHReadings: read(ph(0, 5.2)), Thermometer: exact()},
		"on an edge, where rounding must not part them": {
			Steps: []fermentation.Step{{Temperature: quantity.MustFahrenheit(90), Span: 7 * time.Hour / 3}}, Thermometer: exact(),
		},
	} {
		if slices.Contains(codes(exposure(t, c)), "spike") {
			t.Errorf("%s is no spike", name)
		}
	}
}
