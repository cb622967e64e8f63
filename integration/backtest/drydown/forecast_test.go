package drydown

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/drying"
	"greenweight/domain/quantity"
)

// fake answers every order with the day after the target has been reached at a
// percent a day, and that drying stops at 45 percent.
func fake(o drying.Order) (drying.Projection, error) {
	day := time.Duration((o.Target.Percent() + 1) * float64(24*time.Hour))
	around := func(part float64) quantity.Between[time.Duration] {
		return quantity.Between[time.Duration]{Low: time.Duration(float64(day) * (1 - part)), High: time.Duration(float64(day) * (1 + part))}
	}
	return drying.Projection{
		Day:   drying.Day{Median: day, P50: around(0.1), P80: around(0.2), P90: around(0.3)},
		Stops: drying.Band[quantity.Loss]{Median: quantity.MustLossPercent(45)},
	}, nil
}

func fakeStudy(_ drying.Study, o drying.Order) (drying.Projection, error) { return fake(o) }

// fakeRack tells what fake does of the first piece.
func fakeRack(all []drying.Order) (drying.Day, error) {
	p, err := fake(all[0])
	return p.Day, err
}

var fakes = Models{Project: fake, Retuned: fakeStudy, Rack: fakeRack}

func find(t *testing.T, all []forecast, model string) forecast {
	t.Helper()
	i := slices.IndexFunc(all, func(f forecast) bool { return f.Model == model })
	if i < 0 {
		t.Fatalf("no forecast of %q", model)
	}
	return all[i]
}

// What comes after the weigh-ins shown changes no forecast, neither of its own
// case nor, dressed, of another case of its study.
func TestNoForecastSeesWhatComes(t *testing.T) {
	t.Parallel()
	told := 40.0
	course := func(study, id string, later ...point) series {
		all, _ := read(t, `[{"id": "`+id+`", "kind": "loss", "source": "`+study+`", "series": {"day": [0], "value": [0]}, "inputs": {"green_water_percent": 58}}]`)
		s := all[0]
		s.points = append([]point{{0, 0}, {3, 6}, {6, 10}, {9, 14}}, later...)
		s.named = []goal{{32, &told}}
		return s
	}
	others := []series{
		course("B", "b1", point{20, 24}, point{30, 32}), course("B", "b2", point{25, 24}),
		course("C", "c1", point{20, 24}), course("C", "c2", point{26, 25}),
	}
	ask := func(later ...point) [][]forecast {
		all := append([]series{course("A", "a1", later...), course("A", "a2", point{20, 24})}, others...)
		cases, _, err := makeCases(all, false)
		if err != nil {
			t.Fatal(err)
		}
		forecastAll(cases, fake, fakeRack)
		var answers [][]forecast
		for _, c := range cases {
			if c.series.study == "A" && c.stage.Share < 60 { // not all ends have a weigh-in at 60
				answers = append(answers, c.forecasts)
			}
		}
		return answers
	}
	want := ask(point{16, 20}, point{40, 32})
	if len(want) != 4 {
		t.Fatalf("want cases at 30 and 45 percent of two series, got %d", len(want))
	}
	for _, other := range [][]point{nil, {{10, 16.5}}, {{16, 25}, {18, 60}}} {
		got := ask(other...)
		if len(got) != len(want) {
			t.Fatalf("another end of the course, %v: want %d cases, got %d", other, len(want), len(got))
		}
		for i := range want {
			for j := range want[i] {
				if !reflect.DeepEqual(want[i][j], got[i][j]) { // cmp takes seconds for so many quantiles
					t.Errorf("another end of the course, %v, changed the forecast of %s", other, want[i][j].Model)
				}
			}
		}
	}
}

// The same for the projection itself: no order holds more than the question.
func TestTheOrderEndsWithTheQuestion(t *testing.T) {
	t.Parallel()
	all, _ := read(t, `[{"id": "a", "kind": "loss", "source": "A", "series": {"day": [0, 3, 6, 9, 20, 40], "value": [0, 6, 10, 14, 24, 32]}}]`)
	cases, _, err := makeCases(all, false)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cases {
		weighed := 0
		_ = c.question.forecasts(func(o drying.Order) (drying.Projection, error) {
			for _, w := range o.WeighIns {
				weighed++
				if day := daysOf(w.At.Sub(o.Stuffed)); day > c.question.last().day {
					t.Errorf("at %v %%: a weigh-in of day %v was shown", c.stage.Share, day)
				}
			}
			return fake(o)
		})
		if weighed != len(c.question.seen) {
			t.Errorf("at %v %%: want %d weigh-ins shown once, got %d", c.stage.Share, len(c.question.seen), weighed)
		}
	}
}

func TestForecasts(t *testing.T) {
	t.Parallel()
	q := question{facts: facts{green: quantity.MustGrams(1000)}, seen: []point{{4, 20}}, target: 44.8}
	got := q.forecasts(fake)
	models := make([]string, 0, len(got))
	for _, f := range got {
		models = append(models, f.Model)
	}
	if d := cmp.Diff([]string{ours, oursReached, oursUnfitted, straightLine, "root of time", "exponential", "Page", "Palumbo"}, models); d != "" {
		t.Errorf("models (-want +got):\n%s", d)
	}
	near(t, "ours", 45.8, find(t, got, ours).Median, 1e-9)
	near(t, "low end of 80 percent", 45.8*0.8, find(t, got, ours).Bands[1].Low, 1e-9)
	near(t, "line", 8.96, find(t, got, straightLine).Median, 1e-9) // 5 points a day
	// Drying is said to stop at 45, less than half a point above the target, so
	// that 45.3 is told: the rate is ln(45.3/25.3)/4, the day ln(45.3/0.5) over it.
	near(t, "exponential", math.Log(45.3/0.5)/(math.Log(45.3/25.3)/4), find(t, got, "exponential").Median, 1e-5)
}

func TestNoAnswer(t *testing.T) {
	t.Parallel()
	q := question{facts: facts{green: quantity.MustGrams(1000)}, seen: []point{{4, 20}}, target: 40}
	got := q.forecasts(func(drying.Order) (drying.Projection, error) { return drying.Projection{}, errors.New("no idea") })
	for _, f := range got {
		bare := f.Model == straightLine || f.Model == "root of time"
		if refused := f.Refused != ""; refused == bare || math.IsInf(f.Median, 1) == bare {
			t.Errorf("%s: want an answer %v, got day %v, refused %q", f.Model, bare, f.Median, f.Refused)
		}
	}
	// A projection that does not say where the drying stops leaves three baselines without.
	got = q.forecasts(func(drying.Order) (drying.Projection, error) { return drying.Projection{}, nil })
	if f := find(t, got, "Palumbo"); !strings.Contains(f.Refused, "stops") {
		t.Errorf("want Palumbo to miss where the drying stops, got %+v", f)
	}
}

// The spread is the root of the mean over studies of the mean square of
// ln(true/told): B was off by factors 2 and 2, C by 4, so that with a = ln 2 it
// is √((a² + 4a²)/2) = a √2.5.
func TestDress(t *testing.T) {
	t.Parallel()
	st := stages()
	study := func(name string, computed bool) *series { return &series{study: name, synthetic: computed} }
	told := func(s *series, st stage, day, truth float64) *oneCase {
		return &oneCase{series: s, stage: st, truth: truth, forecasts: []forecast{{Model: straightLine, Median: day}}}
	}
	a, b, c := study("A", false), study("B", false), study("C", false)
	cases := []*oneCase{
		told(a, st[0], 10, 11), told(a, st[0], 10, 500), // own study: no say in its own
		told(b, st[0], 10, 20), told(b, st[0], 10, 5), told(c, st[0], 10, 40),
		told(c, st[0], math.Inf(1), 40),           // never is no error
		told(c, st[1], 10, 1000),                  // another stage
		told(study("D", true), st[0], 10, 100000), // computed
	}
	dress(cases)
	twin := find(t, cases[0].forecasts, straightLine+dressed)
	if twin.Bands == nil {
		t.Fatal("want a dressed forecast")
	}
	sd := math.Ln2 * math.Sqrt(2.5)
	near(t, "median", 10, twin.Median, 1e-12)
	near(t, "high end of 80 percent", 10*math.Exp(1.281552*sd), twin.Bands[1].High, 1e-4) // Φ(1.281552) = 0.9
	near(t, "low end of 90 percent", 10*math.Exp(-1.644854*sd), twin.Bands[2].Low, 1e-5)  // Φ(1.644854) = 0.95
	near(t, "CRPS", sd*0.233695, judge(twin, 10, 100).CRPS, 5e-4)                         // see TestCRPSOfANormal
	for _, bare := range []struct {
		name string
		of   *oneCase
	}{{"never", cases[5]}, {"alone at its stage", cases[6]}, {"computed, alone", cases[7]}} {
		if f := find(t, bare.of.forecasts, straightLine+dressed); f.Bands != nil || f.Median != bare.of.forecasts[0].Median {
			t.Errorf("%s: want the bare day, got %+v", bare.name, f)
		}
	}
}

// Two other cases are too few to tell a spread.
func TestDressNeedsThree(t *testing.T) {
	t.Parallel()
	st := stages()[0]
	a, b := &series{study: "A"}, &series{study: "B"}
	cases := []*oneCase{
		{series: a, stage: st, truth: 10, forecasts: []forecast{{Model: "Page", Median: 10}}},
		{series: b, stage: st, truth: 10, forecasts: []forecast{{Model: "Page", Median: 20}}},
		{series: b, stage: st, truth: 10, forecasts: []forecast{{Model: "Page", Median: 20}}},
	}
	dress(cases)
	if f := find(t, cases[0].forecasts, "Page"+dressed); f.Bands != nil {
		t.Errorf("want the bare day, got %+v", f)
	}
}

// With the real model: on the condition that the target is reached, the day that
// half of the cases have is the one that half of those that reach it have.
func TestGivenThatItIsReached(t *testing.T) {
	t.Parallel()
	q := question{facts: facts{green: quantity.MustGrams(1000)}, seen: []point{{4, 20}, {9, 30}}, target: 42}
	order, err := q.order(true)
	if err != nil {
		t.Fatal(err)
	}
	p, err := drying.Project(order)
	if err != nil {
		t.Fatal(err)
	}
	reached := 1 - p.Day.NotReached.Float()
	if reached > 0.95 {
		t.Fatalf("want a case that may never be reached, got a chance of %v", reached)
	}
	f := given(oursReached, p, nil)
	near(t, "median", p.Day.Quantile(quantity.MustPercent(50*reached)).Hours()/24, f.Median, 1e-9)
	near(t, "90 percent", p.Day.Quantile(quantity.MustPercent(95*reached)).Hours()/24, f.Bands[2].High, 1e-9)
	for _, day := range f.Quantiles {
		if math.IsInf(day, 1) {
			t.Fatal("want no never among the quantiles")
		}
	}
}
