package fermentation_test

import (
	_ "embed"
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// The ids of all examples of the reference on fermentation, by where they are
// checked: `worked` in testdata/degree-hours.json, `table` in testdata/longest.json,
// and `acidification` by what projects the pH.
//
//go:embed testdata/reference-ids.json
var referenceIDs []byte

// Every example of the reference that is about degree-hours is a row of a test
// here: by its id, or in parts, by its id and a word (unit-class-disagreement-c).
func TestEveryExampleOfTheReferenceIsChecked(t *testing.T) {
	t.Parallel()
	var ids struct{ Worked, Table, Acidification []string }
	if err := json.Unmarshal(referenceIDs, &ids); err != nil {
		t.Fatal(err)
	}
	if all := len(ids.Worked) + len(ids.Table) + len(ids.Acidification); all != 51 {
		t.Fatalf("the reference has 51 examples, got %d", all)
	}
	var examples []workedExample
	if err := json.Unmarshal(workedExamples, &examples); err != nil {
		t.Fatal(err)
	}
	for _, id := range ids.Worked {
		if !slices.ContainsFunc(examples, func(x workedExample) bool { return x.ID == id || strings.HasPrefix(x.ID, id+"-") }) {
			t.Errorf("%s has no row in testdata/degree-hours.json", id)
		}
	}
	var tables map[string]struct{ Rows [][2]float64 }
	if err := json.Unmarshal(printedTables, &tables); err != nil {
		t.Fatal(err)
	}
	for _, id := range ids.Table { // such as uw-max-hours-75f
		last := id[strings.LastIndex(id, "-")+1:]
		degrees, err := strconv.ParseFloat(last[:len(last)-1], 64)
		if err != nil {
			t.Fatal(err)
		}
		of := map[byte]string{'f': fahrenheit, 'c': celsius}[last[len(last)-1]]
		if !slices.ContainsFunc(tables[of].Rows, func(row [2]float64) bool { return row[0] == degrees }) {
			t.Errorf("%s has no row in testdata/longest.json", id)
		}
	}
}

// What the printed tables have is said of each of their temperatures, 8 in °F and 19
// in °C, and of none beyond them.
func TestPrintedTimes(t *testing.T) {
	t.Parallel()
	var tables map[string]struct{ Rows [][2]float64 }
	if err := json.Unmarshal(printedTables, &tables); err != nil {
		t.Fatal(err)
	}
	at := func(temperature quantity.Temperature, of int) *time.Duration {
		k, err := fermentation.AtConstant(temperature)
		if err != nil {
			t.Fatal(err)
		}
		return k.ByRule[of].Printed
	}
	for i, of := range []struct {
		id      string
		degrees func(float64) quantity.Temperature
		outside []float64
	}{{fahrenheit, quantity.MustFahrenheit, []float64{74.9, 110.1, 50}}, {celsius, quantity.MustCelsius, []float64{19.9, 50.1, 10}}} {
		for _, row := range tables[of.id].Rows {
			printed := at(of.degrees(row[0]), i)
			if printed == nil {
				t.Fatalf("%s: nothing is printed at %v", of.id, row[0])
			}
			quantitytest.Near(t, of.id, row[1], printed.Hours(), 1e-9)
		}
		for _, degrees := range of.outside {
			if printed := at(of.degrees(degrees), i); printed != nil {
				t.Errorf("%s: %v is outside the table, got %v", of.id, degrees, printed)
			}
		}
	}
}

// The sum of any curve is that of fine steps of it, which by another way are its
// integral: rectangles at the middle of ten-thousandths.
func TestSumsAgainstQuadrature(t *testing.T) {
	t.Parallel()
	readings := log(0, 12, 3, 19, 5, 14, 11, 33.5, 12, 33.5, 20, 24, 31, 8, 40, 22)
	e := exposure(t, fermentation.Course{Log: readings})
	for _, s := range e.Sums {
		base := degrees(s, s.Set.Base)
		var want float64
		for i := 1; i < len(readings); i++ {
			a, b := degrees(s, readings[i-1].Temperature), degrees(s, readings[i].Temperature)
			const n = 10_000
			for k := range n {
				want += math.Max(0, a+(b-a)*(float64(k)+0.5)/n-base) * (readings[i].At - readings[i-1].At).Hours() / n
			}
		}
		quantitytest.Near(t, s.Set.ID, want, native(s, s.DegreeHours), 1e-4)
	}
	// A ramp has the area of a triangle, (33.6 - 15.6)²/2 over 18/10 °C/h; a constant
	// that of a rectangle.
	ramp := exposure(t, fermentation.Course{Log: log(0, 15.6, 10, 33.6)})
	quantitytest.Near(t, "ramp", 18*18/2/1.8, sum(t, ramp, celsius).DegreeHours.CelsiusHours(), tolerance)
	constant := exposure(t, fermentation.Course{Log: log(0, 25.6, 7, 25.6, 10, 25.6)})
	quantitytest.Near(t, "constant", 100, sum(t, constant, celsius).DegreeHours.CelsiusHours(), tolerance)
}

// What is allocated does not grow with the log.
func TestALongLogIsNotCopied(t *testing.T) { //nolint:paralleltest // counts allocations
	course := func(minutes int) fermentation.Course {
		c := fermentation.Course{PHReadings: read(fermentation.PHReading{At: time.Duration(minutes) * time.Minute, PH: quantity.MustPH(5.2)})}
		for i := range minutes + 1 {
			c.Log = append(c.Log, fermentation.Reading{At: time.Duration(i) * time.Minute, Temperature: quantity.MustCelsius(15 + float64(i%7)/10)})
		}
		return c
	}
	count := func(c fermentation.Course) float64 {
		return testing.AllocsPerRun(3, func() {
			if _, err := fermentation.DegreeHours(c); err != nil {
				t.Error(err)
			}
		})
	}
	few, many := count(course(600)), count(course(60_000))
	const texts = 40 // notes and reasons differ
	if many > few+texts {
		t.Errorf("600 readings take %v allocations, and 60,000 take %v", few, many)
	}
}
