package drying_test

import (
	"math"
	"runtime"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/drying"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func aired(day, celsius, humidity float64) drying.Air {
	return drying.Air{From: on(day), Temperature: material.Is(quantity.MustCelsius(celsius)), Humidity: material.Is(quantity.MustHumidityPercent(humidity))}
}

// weighed is a piece of 55 mm at 13 °C and 78 percent with four weigh-ins.
func weighed() drying.Order {
	return room(order(35, []float64{3, 7, 12, 18}, []float64{6, 12, 17, 21.5}), 78)
}

func sameAnswer(t *testing.T, what string, want, got drying.Projection, tolerance float64) {
	t.Helper()
	for _, pair := range []struct {
		name      string
		want, got time.Duration
	}{
		{"median", want.Day.Median, got.Day.Median}, {"early", want.Day.P80.Low, got.Day.P80.Low}, {"late", want.Day.P80.High, got.Day.P80.High},
	} {
		quantitytest.Near(t, what+", "+pair.name, days(pair.want), days(pair.got), tolerance*days(pair.want))
	}
	if want.Outcome != got.Outcome {
		t.Errorf("%s: want %v, got %v", what, want.Outcome, got.Outcome)
	}
}

// However the same air is told, it is the same air.
func TestOneAirHoweverTold(t *testing.T) {
	t.Parallel()
	want := project(t, weighed())
	bare := order(35, []float64{3, 7, 12, 18}, []float64{6, 12, 17, 21.5})
	bare.Diameter = material.Is(quantity.MustMillimetres(55))
	var hourly []drying.Air
	for hour := range 24 * 18 {
		hourly = append(hourly, aired(float64(hour)/24, 13, 78))
	}
	for _, row := range []struct {
		name           string
		airs, readings []drying.Air
	}{
		{"one step", []drying.Air{aired(0, 13, 78)}, nil},
		{"from before it was hung", []drying.Air{aired(-9, 20, 90), aired(-2, 13, 78)}, nil},
		{"cut", []drying.Air{aired(0, 13, 78), aired(4, 13, 78), aired(25, 13, 78)}, nil},
		{"a reading an hour", nil, hourly},
		{"a plan that is not the air that was read", []drying.Air{aired(0, 18, 60)}, hourly},
	} {
		o := bare
		o.Airs, o.Readings = row.airs, row.readings
		sameAnswer(t, row.name, want, project(t, o), 1e-6)
	}
}

// A plan ahead moves the day and not what was; the drier or warmer, the earlier.
func TestAPlanAhead(t *testing.T) {
	t.Parallel()
	as := project(t, weighed())
	for _, row := range []struct {
		name    string
		ahead   drying.Air
		earlier bool
	}{
		{"drier", aired(18, 13, 70), true},
		{"damper", aired(18, 13, 84), false},
		{"warmer", aired(18, 18, 78), true},
		{"cooler", aired(18, 6, 78), false},
	} {
		o := weighed()
		o.Airs = []drying.Air{row.ahead}
		p := project(t, o)
		if earlier := p.Day.Median < as.Day.Median; earlier != row.earlier {
			t.Errorf("%s: want it earlier than day %v: %v, got %v", row.name, days(as.Day.Median), row.earlier, days(p.Day.Median))
		}
		if diff := math.Abs(p.Now.Loss.Median.Percent() - as.Now.Loss.Median.Percent()); diff > 0.15 {
			t.Errorf("%s: what is lost by now is off by %v points", row.name, diff)
		}
	}
}

// A week sealed, ahead of the present: the day comes a week later, to the minute,
// and nothing is lost in the week.
func TestEqualisingMovesTheDay(t *testing.T) {
	t.Parallel()
	as := project(t, weighed())
	o := weighed()
	o.Equalising = []drying.Pause{{From: on(20), To: on(27)}}
	p := project(t, o)
	const week = 7
	quantitytest.Near(t, "median", days(as.Day.Median)+week, days(p.Day.Median), 0.05)
	quantitytest.Near(t, "late", days(as.Day.P80.High)+week, days(p.Day.P80.High), 0.5)
	for _, point := range p.Course {
		if day := days(point.Since); day >= 20 && day < 26 && point.Rate.P90.High.PercentPerDay() > 1e-9 {
			t.Errorf("day %v: want nothing lost, got up to %v", day, point.Rate.P90.High)
		}
	}
}

// A week sealed that is behind: the fit is that of the days of drying, whatever
// was weighed in the week.
func TestEqualisingDaysTellNoRate(t *testing.T) {
	t.Parallel()
	as := project(t, room(order(35, []float64{3, 7, 12}, []float64{6, 12, 17}), 78))
	o := room(order(35, []float64{3, 7, 19}, []float64{6, 12, 17}), 78)
	o.Equalising = []drying.Pause{{From: on(7), To: on(14)}}
	p := project(t, o)
	quantitytest.Near(t, "median", days(as.Day.Median)+7, days(p.Day.Median), 0.05)
	rate, ok := p.Measured.Get()
	if !ok {
		t.Fatal("want a measured rate")
	}
	quantitytest.Near(t, "measured rate: 5 points in 5 days of drying", 1, rate.PercentPerDay(), 1e-9)

	o = room(order(35, []float64{3, 7, 9, 12, 19}, []float64{6, 12, 12, 12.1, 17}), 78)
	o.Equalising = []drying.Pause{{From: on(7), To: on(14)}}
	p = project(t, o)
	quantitytest.Near(t, "median with weighings in between", days(as.Day.Median)+7, days(p.Day.Median), 0.05*days(as.Day.Median))
	for i, w := range p.Weighed {
		if w.Doubt != "" {
			t.Errorf("weigh-in %d is doubted: %s", i, w.Why)
		}
	}
	// Three points more after a week in which it can't dry are asked about.
	o = room(order(35, []float64{3, 7, 13.5, 19}, []float64{6, 12, 16, 17}), 78)
	o.Equalising = []drying.Pause{{From: on(7), To: on(14)}}
	if p = project(t, o); p.Weighed[2].Doubt != drying.DoubtTooFast {
		t.Errorf("want the weigh-in of the sealed piece doubted, got %q", p.Weighed[2].Doubt)
	}
}

func TestAirsAtFault(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name   string
		change func(*drying.Order)
		want   map[string]string
	}{
		{"airs out of order", func(o *drying.Order) { o.Airs = []drying.Air{aired(3, 13, 78), aired(3, 12, 75)} }, map[string]string{"#/airs/1/from_at": "out-of-order"}},
		{"readings out of order", func(o *drying.Order) { o.Readings = []drying.Air{aired(3, 13, 78), aired(2, 12, 75)} }, map[string]string{"#/air_readings/1/at": "out-of-order"}},
		{"an oven", func(o *drying.Order) { o.Airs = []drying.Air{aired(3, 60, 20)} }, map[string]string{"#/airs/0/temperature": "out-of-range"}},
		{"a pause that ends before it begins", func(o *drying.Order) { o.Equalising = []drying.Pause{{on(4), on(4)}} }, map[string]string{"#/equalising/0/to_at": "before-it-begins"}},
		{"pauses that overlap", func(o *drying.Order) { o.Equalising = []drying.Pause{{on(4), on(6)}, {on(5), on(8)}} }, map[string]string{"#/equalising/1/from_at": "out-of-order"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			o := weighed()
			row.change(&o)
			_, err := drying.Project(o)
			if diff := cmp.Diff(row.want, membersAtFault(t, err)); diff != "" {
				t.Errorf("members at fault (-want +got):\n%s", diff)
			}
		})
	}
}

// What a projection asks of memory does not grow with a long log of the air, but
// for the log: a year of readings an hour, and some 20 weigh-ins.
func TestProjectIsSparing(t *testing.T) { //nolint:paralleltest // counts what the process allocates
	o := weighed()
	for hour := range 24 * 365 {
		o.Readings = append(o.Readings, aired(float64(hour)/24-300, 13+float64(hour%5), 72+float64(hour%24)/2))
	}
	const plain, most = 2 << 20, 4 << 20 // bytes; the log alone takes some 2 MB
	if got := asked(t, o); got > most {
		t.Errorf("want at most %d bytes, got %d", most, got)
	}
	if got := asked(t, weighed()); got > plain {
		t.Errorf("want at most %d bytes in one air, got %d", plain, got)
	}
}

// asked returns how many bytes a projection asks for, once the tables stand.
func asked(t *testing.T, o drying.Order) uint64 {
	t.Helper()
	project(t, o)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	project(t, o)
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// A month in air of 78 percent, then damp air that takes nothing more: what was
// lost stays lost, so that no end of a band falls from a day to the next, and the
// drying does not stop before where it is.
func TestWhatIsLostStaysLost(t *testing.T) {
	t.Parallel()
	o := order(30, []float64{5, 12, 20, 29}, []float64{9, 16, 21.5, 25})
	o.Diameter = material.Is(quantity.MustMillimetres(45))
	o.Airs = []drying.Air{aired(0, 13, 78), aired(29, 13, 94)}
	for name, o := range map[string]drying.Order{"damp at the end": o, "as it was": weighed()} {
		p := project(t, o)
		lost := p.Weighed[p.Latest].Loss.Percent()
		if s := p.Stops; s.Median.Percent() < lost || s.P90.Low.Percent() < lost-1e-9 {
			t.Errorf("%s: %v %% are lost, and it stops at %v (%v)", name, lost, s.Median, s.P90)
		}
		before := p.Now
		for _, now := range p.Course {
			for end, pair := range map[string][2]quantity.Loss{
				"lowest": {before.Loss.P90.Low, now.Loss.P90.Low}, "low": {before.Loss.P80.Low, now.Loss.P80.Low}, "median": {before.Loss.Median, now.Loss.Median},
				"high": {before.Loss.P80.High, now.Loss.P80.High}, "highest": {before.Loss.P90.High, now.Loss.P90.High},
			} {
				if pair[1].Percent() < pair[0].Percent()-0.05 { // the quantiles are good to some hundredths
					t.Errorf("%s: the %s falls from %v to %v on day %.0f", name, end, pair[0], pair[1], days(now.Since))
				}
			}
			before = now
		}
	}
}
