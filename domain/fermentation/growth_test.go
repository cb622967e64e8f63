package fermentation_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/integrate"
	"pgregory.net/rapid"

	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// The index at the limit of the Celsius rule, limit over excess hours at one
// temperature. The figures are those of the reference computation, printed as whole
// numbers: 112 at 16 °C, 29 at 18 °C, 20 to 22 from 20 to 32 °C, 18 from 33 to 37 °C,
// 14 to 16 above.
func TestGrowthThatTheLimitAllows(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ celsius, limit, low, high float64 }{
		{16, 665, 112, 112},
		{18, 665, 29, 29},
		{20, 665, 20, 22}, {22, 665, 20, 22}, {24, 665, 20, 22}, {26, 665, 20, 22}, {28, 665, 20, 22}, {30, 665, 20, 22}, {32, 665, 20, 22},
		{33, 555, 18, 18}, {35, 555, 18, 18}, {37, 555, 18, 18},
		{38, 500, 14, 16}, {40, 500, 14, 16}, {42, 500, 14, 16},
	} {
		e := exposure(t, fermentation.Course{Steps: held(row.celsius, row.limit/(row.celsius-15.6))})
		if got := math.Round(e.Growth.Index.Float()); got < row.low || got > row.high {
			t.Errorf("%v °C: want %v to %v, got %v", row.celsius, row.low, row.high, got)
		}
	}
	usual := exposure(t, fermentation.Course{Steps: held(24, 1)}).Growth.Usual
	quantitytest.Near(t, "low", 20, usual.Low.Float(), 0)
	quantitytest.Near(t, "high", 22, usual.High.Float(), 0)
}

// A long and cool course is told its index. At 17 °C the model has a pace of
// 0.0844 an hour, in powers of ten and at a water activity of 0.97: 17 over 200 h.
func TestLongAndCoolTellsTheIndex(t *testing.T) {
	t.Parallel()
	e := exposure(t, fermentation.Course{Steps: held(17, 200), Thermometer: exact()})
	i := slices.IndexFunc(e.Notes, func(n finding.Note) bool { return n.Code == "cool-and-long" })
	if i < 0 || !strings.Contains(e.Notes[i].Text, "The index of growth is 17 here, and 20 to 22") {
		t.Errorf("want the index of 200 h at 17 °C, got %+v", e.Notes)
	}
}

// At its best temperature the model is 1, so that the index of an hour is 1.97/ln 10
// of it, times (0.97-0.808)/(0.994-0.808); outside 7.7 and 46.7 °C there is none.
func TestGrowthAtCardinalTemperatures(t *testing.T) {
	t.Parallel()
	for celsius, want := range map[float64]float64{40.6: 1.97 / math.Ln10 * 0.162 / 0.186, 7.7: 0, 5: 0, 46.7: 0, 55: 0} {
		e := exposure(t, fermentation.Course{Steps: held(celsius, 1)})
		quantitytest.Near(t, "index", want, e.Growth.Index.Float(), 1e-9)
	}
	// Only until the acid, and only once the clock runs.
	c := fermentation.Course{Steps: held(40.6, 9), ClockStart: 2 * time.Hour, PHReadings: read(ph(5, 5.2))}
	quantitytest.Near(t, "3 h", 3*1.97/math.Ln10*0.162/0.186, exposure(t, c).Growth.Index.Float(), 1e-9)
}

// On ramps, through the ends of growth too, it is what trapezia of a hundredth of
// a degree come to, and a ramp that is read more often grows as much.
func TestGrowthOnRamps(t *testing.T) {
	t.Parallel()
	pace := func(celsius float64) float64 { // index in an hour, of a step of its own
		return exposure(t, fermentation.Course{Steps: held(celsius, 1)}).Growth.Index.Float()
	}
	for _, row := range []struct{ from, to, hours float64 }{{10, 30, 20}, {30, 10, 20}, {0, 45, 7}, {30, 55, 9}} {
		got := exposure(t, fermentation.Course{Log: log(0, row.from, row.hours, row.to)}).Growth.Index.Float()
		n := int(math.Round(math.Abs(row.to-row.from) * 100))
		var x, y []float64
		for i := range n + 1 {
			x = append(x, row.hours*float64(i)/float64(n))
			y = append(y, pace(row.from+(row.to-row.from)*float64(i)/float64(n)))
		}
		quantitytest.Near(t, "on a ramp", integrate.Trapezoidal(x, y), got, 2e-3*got)
	}
}

// Warmer is more, as long as it is below the best temperature.
func TestGrowthIsMoreWhereItIsWarmer(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		cool := fermentation.Course{LongestGap: fermentation.LongestCourse}
		warm := cool
		for range rapid.IntRange(2, 9).Draw(t, "readings") {
			at := time.Duration(len(cool.Log)) * 7 * time.Hour
			degrees := rapid.Float64Range(0, 35).Draw(t, "celsius")
			cool.Log = append(cool.Log, fermentation.Reading{At: at, Temperature: quantity.MustCelsius(degrees)})
			warm.Log = append(warm.Log, fermentation.Reading{At: at, Temperature: quantity.MustCelsius(degrees + rapid.Float64Range(0, 5).Draw(t, "warmer"))})
		}
		a, err := fermentation.DegreeHours(cool)
		if err != nil {
			t.Fatal(err)
		}
		b, err := fermentation.DegreeHours(warm)
		if err != nil {
			t.Fatal(err)
		}
		if a.Growth.Index.Float() > b.Growth.Index.Float()+1e-6 {
			t.Fatalf("%v became %v", a.Growth.Index.Float(), b.Growth.Index.Float())
		}
	})
}
