package acidity

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/acidification"
	"greenweight/domain/quantity"
)

// fake answers every order with ten hours after the last reading, and that one
// lot in ten never comes down.
func fake(o acidification.Order) (acidification.Projection, error) {
	readings := o.Course.PHReadings
	at := readings[len(readings)-1].At + 10*time.Hour
	around := func(part float64) quantity.Between[time.Duration] {
		return quantity.Between[time.Duration]{Low: time.Duration(float64(at) * (1 - part)), High: time.Duration(float64(at) * (1 + part))}
	}
	return acidification.Projection{To: []acidification.Crossing{{
		Median: at, P50: around(0.1), P80: around(0.2), P90: around(0.3), NotReached: quantity.MustPercent(10),
	}}}, nil
}

func find(t *testing.T, all []forecast, model string) forecast {
	t.Helper()
	i := slices.IndexFunc(all, func(f forecast) bool { return f.Model == model })
	if i < 0 {
		t.Fatalf("no forecast of %q", model)
	}
	return all[i]
}

func TestForecasts(t *testing.T) {
	t.Parallel()
	q := question{facts: facts{chamber: flat(24)}, seen: []reading{{0, 5.8}, {12, 5.7}, {24, 5.5}}}
	first := question{facts: q.facts, seen: q.seen[:1]}.project(ours, fake)
	got := q.forecasts(fake, &first)
	models := make([]string, 0, len(got))
	for _, f := range got {
		models = append(models, f.Model)
	}
	if d := cmp.Diff([]string{ours, oursPrior, straightLine, "line through all", "Gompertz"}, models); d != "" {
		t.Errorf("models (-want +got):\n%s", d)
	}
	near(t, "ours", 34, find(t, got, ours).Median, 1e-9)
	near(t, "low end of 80 percent", 34*0.8, find(t, got, ours).Bands[1].Low, 1e-9)
	near(t, "never", 0.1, find(t, got, ours).Never, 1e-12)
	near(t, "prior, of the first reading", 10, find(t, got, oursPrior).Median, 1e-9)
	near(t, "line", 36, find(t, got, straightLine).Median, 1e-9)
	for _, f := range (question{facts: q.facts, seen: q.seen[:1]}).forecasts(fake, nil) {
		if mine := f.Model == ours || f.Model == oursPrior; f.NotAsked == mine {
			t.Errorf("%s of one reading: want it asked %v, got %+v", f.Model, mine, f)
		}
	}
}

func TestNoAnswer(t *testing.T) {
	t.Parallel()
	q := question{facts: facts{chamber: flat(24)}, seen: hourly(5.8, 5.7)}
	for _, project := range []Projector{
		func(acidification.Order) (acidification.Projection, error) {
			return acidification.Projection{}, errors.New("no idea")
		},
		func(acidification.Order) (acidification.Projection, error) { return acidification.Projection{}, nil },
	} {
		f := find(t, q.forecasts(project, nil), ours)
		if f.Refused == "" || !math.IsInf(f.Median, 1) || f.Never != 1 || f.Bands != nil {
			t.Errorf("want never and why, got %+v", f)
		}
	}
}

// What comes after the readings shown changes no forecast, neither of its own
// case nor, dressed, of another case of its study.
func TestNoForecastSeesWhatComes(t *testing.T) {
	t.Parallel()
	lot := func(study, id string, later ...reading) course {
		c := course{id: id, study: study, origin: originSausage, facts: facts{chamber: flat(24)}}
		c.readings = append([]reading{{0, 5.8}, {6, 5.75}, {12, 5.6}}, later...)
		c.truth = truthOf(c.readings)
		return c
	}
	ask := func(later ...reading) [][]forecast {
		all := []course{
			lot("A", "a1", later...), lot("A", "a2", reading{20, 5.2}), lot("B", "b1", reading{18, 5.2}),
			lot("B", "b2", reading{22, 5.1}), lot("C", "c1", reading{30, 5.2}), lot("C", "c2", reading{40, 5.2}),
		}
		cases := makeCases(all)
		forecastAll(cases, fake)
		var answers [][]forecast
		for _, c := range cases {
			if c.course.study == "A" && len(c.question.seen) <= 3 {
				answers = append(answers, c.forecasts)
			}
		}
		return answers
	}
	want := ask(reading{18, 5.2})
	if len(want) != 6 || find(t, want[1], straightLine+dressed).Bands == nil {
		t.Fatalf("want three cases each of two courses, dressed from the second on, got %d", len(want))
	}
	for _, other := range [][]reading{{{16, 5.31}, {90, 5.0}}, {{18, 5.5}, {20, 5.55}, {22, 5.6}}} {
		got := ask(other...)
		for i := range want {
			for j := range want[i] {
				if !reflect.DeepEqual(want[i][j], got[i][j]) { // cmp takes seconds for so many quantiles
					t.Errorf("another end, %v, changed the forecast of %s", other, want[i][j].Model)
				}
			}
		}
	}
}

// At the stage of two readings the other lots were off by factors 2, 2 and 1/4
// where they told an hour, and one in four of these never came down. So the
// chance of never is (1 + 1/2)/(4 + 1) = 0.3, and with a = ln 2 the spread is
// √((a² + a² + 4a²)/3) = a √2. The median is then at 0.5/0.7 of the hours that
// come.
func TestDress(t *testing.T) {
	t.Parallel()
	lot := func(study string, told, comes float64) *oneCase {
		return &oneCase{
			course:   &course{study: study, origin: originSausage, truth: truth{After: comes, By: comes, Point: comes, Never: math.IsInf(comes, 1)}},
			question: question{seen: make([]reading, 2)},
			forecasts: []forecast{
				{Model: ours, Median: told}, {Model: straightLine, Median: told, Never: float64(count(math.IsInf(told, 1)))},
			},
		}
	}
	other := lot("O", 10, 900)
	other.course.origin = originAnalogue
	later := lot("L", 10, 900)
	later.question.seen = make([]reading, 3)
	cases := []*oneCase{
		lot("A", 10, 11), lot("A", 10, 500), // its own study has no say
		lot("B", 10, 20), lot("B", 10, 20), lot("C", 40, 10), lot("D", 10, never),
		lot("E", never, 30), // it told never, which is another experience
		other, later,
	}
	dress(cases)
	twin := find(t, cases[0].forecasts, straightLine+dressed)
	if twin.Bands == nil {
		t.Fatal("want a dressed forecast")
	}
	near(t, "never", 0.3, twin.Never, 1e-12)
	sd := math.Ln2 * math.Sqrt2
	near(t, "median", 10*math.Exp(0.565949*sd), twin.Median, 1e-4) // Φ(0.565949) = 5/7
	if !math.IsInf(twin.Bands[1].High, 1) {
		t.Errorf("want a band of 80 percent that has no end, got %v", twin.Bands[1])
	}
	near(t, "low end of 80 percent", 10*math.Exp(-1.067571*sd), twin.Bands[1].Low, 1e-4) // Φ(-1.067571) = 1/7
	for _, bare := range []struct {
		name string
		of   *oneCase
	}{{"never, of which there is no other", cases[6]}, {"another origin", other}, {"another stage", later}} {
		if f := find(t, bare.of.forecasts, straightLine+dressed); f.Bands != nil {
			t.Errorf("%s: want the bare forecast, got %+v", bare.name, f)
		}
	}
	for _, f := range cases[0].forecasts {
		if f.Model == ours+dressed {
			t.Error("want no twin of the projection")
		}
	}
}

// Where never was told, what the others that told never came to is the spread:
// hours e², e³ and e⁴ have the mean 3 and the standard deviation √(2/3).
func TestDressNever(t *testing.T) {
	t.Parallel()
	var cases []*oneCase
	for i, hour := range []float64{math.Exp(2), math.Exp(3), math.Exp(4), 50} {
		cases = append(cases, &oneCase{
			course:   &course{study: strconv.Itoa(i), origin: originGrowth, truth: truth{After: hour, By: hour, Point: hour}},
			question: question{seen: make([]reading, 2)}, forecasts: []forecast{{Model: straightLine, Median: never, Never: 1}},
		})
	}
	dress(cases)
	twin := find(t, cases[3].forecasts, straightLine+dressed)
	near(t, "never", 0.125, twin.Never, 1e-12) // half a case of 4
	// The middle of all is at 0.5/0.875 = 4/7 of those that come: Φ(0.180012) = 4/7.
	near(t, "median", math.Exp(3+0.180012*math.Sqrt(2.0/3)), twin.Median, 1e-3)
}

// Each fact reaches the order that it belongs to.
func TestOrder(t *testing.T) {
	t.Parallel()
	all, _ := read(t, `[{"id": "a", "kind": "ph", "source": "Invented, by strip", "series": {"hour": [0, 12, 24, 40], "value": [6, 5.75, 5.5, 5]}, "inputs": {
		"species": "L. sakei", "diameter_mm": 45, "temperature_profile_c": [[0, 24], [20, 24], [30, 18]]}}]`)
	q := question{facts: all[0].facts, seen: all[0].readings[:3]}
	o, err := q.order()
	if err != nil {
		t.Fatal(err)
	}
	if len(o.Cultures) != 1 || o.Cultures[0].Key != "latilactobacillus-sakei" {
		t.Errorf("want the culture, got %+v", o.Cultures)
	}
	if d, ok := o.Diameter.Get(); !ok || d.Millimetres() != 45 {
		t.Errorf("want the diameter, got %v", d)
	}
	if n := len(o.Course.PHReadings); n != 3 || o.Course.PHReadings[1].At != 12*time.Hour || o.Course.PHReadings[1].PH.Float() != 5.75 {
		t.Errorf("want three readings, got %+v", o.Course.PHReadings)
	}
	// Half a field of a quarter and two standard deviations of 0.1.
	near(t, "low end", 5.75-0.325, o.Course.PHReadings[1].Within.Low.Float(), 1e-9)
	near(t, "high end", 5.75+0.325, o.Course.PHReadings[1].Within.High.Float(), 1e-9)
	var log, ahead [][2]float64
	for _, r := range o.Course.Log {
		log = append(log, [2]float64{r.At.Hours(), r.Temperature.Celsius()})
	}
	for _, s := range o.Ahead {
		ahead = append(ahead, [2]float64{s.Span.Hours(), s.Temperature.Celsius()})
	}
	// At 24 h it is 24 - 6·4/10 °C; from there to 30 h the mean is (21.6+18)/2.
	tolerant := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-6 })
	if d := cmp.Diff([][2]float64{{0, 24}, {20, 24}, {24, 21.6}}, log, tolerant); d != "" {
		t.Errorf("temperatures so far (-want +got):\n%s", d)
	}
	if d := cmp.Diff([][2]float64{{6, 19.8}, {horizon, 18}}, ahead, tolerant); d != "" {
		t.Errorf("temperatures to come (-want +got):\n%s", d)
	}
	plan, err := (question{facts: q.facts, seen: q.seen[:1]}).order()
	if err != nil {
		t.Fatal(err)
	}
	if len(plan.Course.Log) != 0 || len(plan.Course.PHReadings) != 1 || len(plan.Ahead) != 3 {
		t.Errorf("at the start: want a plan and one reading, got %+v", plan)
	}
}

// What is planned is told of the time to come, what was read of the time so far.
func TestOrderTellsThePlan(t *testing.T) {
	t.Parallel()
	q := question{facts: facts{chamber: sawtooth(22, 2, 4, 100), plan: flat(22)}, seen: hourly(5.8, 5.8)}
	o, err := q.order()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "read after an hour", 24, o.Course.Log[len(o.Course.Log)-1].Temperature.Celsius(), 1e-9)
	if len(o.Ahead) != 1 {
		t.Fatalf("want one step to come, got %v", o.Ahead)
	}
	near(t, "planned", 22, o.Ahead[0].Temperature.Celsius(), 1e-9)
	if o.Course.PHReadings[0].Within != (quantity.Between[quantity.PH]{}) {
		t.Errorf("want nothing told of what a meter may be off, got %v", o.Course.PHReadings[0])
	}
}
