package drydown

import (
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/integration/backtest/entries"
)

func read(t *testing.T, text string) ([]series, entries.Count) {
	t.Helper()
	all, count, err := readSeries("courses.json", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return all, count
}

func TestReadSeries(t *testing.T) {
	t.Parallel()
	all, count := read(t, `[
		{"id": "a", "kind": "loss", "source": "Invented, table 1", "analogue": true, "unheard_of": [1],
		 "inputs": {"added_fat_percent": 20, "temperature_c": null, "conditions_known": false},
		 "series": {"day": [0, 4, 9], "value": [0, 5.5, 9], "sd": [null, 1, 2]}},
		{"id": "b", "kind": "ph", "source": "Invented", "series": {"hour": [0], "value": [5.8]}},
		{"id": "c", "source": "SYNTHETIC: curve, noise 0.2", "inputs": {
			"series": {"day": [2, 5], "loss_percent": [10, 20]}, "target_loss_percent": 35}, "expected": {"day_reached": 15.5}},
		{"id": "d", "source": "Invented", "inputs": {"relative_humidity_percent": [75, 80]}, "expected": {"x": [1]}},
		{"id": "e", "source": "Invented", "inputs": {"series": {"moisture": [1]}}},
		{"id": "f", "kind": "ph"}
	]`)
	want := entries.Count{Name: "courses.json", Entries: 6, Series: 2, Skipped: map[string]int{"of kind ph": 2, "without a series of losses": 2}}
	if d := cmp.Diff(want, count); d != "" {
		t.Errorf("counts (-want +got):\n%s", d)
	}
	a, c := all[0], all[1]
	if a.id != "a" || !a.analogue || a.synthetic || a.study != "Invented" || c.id != "c" || c.analogue || !c.synthetic || c.study != "SYNTHETIC: curve" {
		t.Errorf("want series a and c as they are, got %+v and %+v", a, c)
	}
	points := cmp.Comparer(func(x, y point) bool { return x == y })
	if d := cmp.Diff([]point{{0, 0}, {4, 5.5}, {9, 9}}, a.points, points); d != "" {
		t.Errorf("points of a (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]point{{2, 10}, {5, 20}}, c.points, points); d != "" {
		t.Errorf("points of c (-want +got):\n%s", d)
	}
	if len(a.named) != 0 || len(c.named) != 1 || c.named[0].loss != 35 || *c.named[0].day != 15.5 {
		t.Errorf("want one named target, 35 at day 15.5, got %v and %v", a.named, c.named)
	}
}

// Each member reaches the order that it belongs to, and nothing else does.
func TestEveryMemberReachesTheOrder(t *testing.T) {
	t.Parallel()
	all, _ := read(t, `[{"id": "a", "kind": "loss", "source": "Invented", "series": {"day": [0, 4, 9, 20], "value": [0, 5, 10, 20]}, "inputs": {
		"green_weight_g": 800, "green_water_percent": 58, "green_protein_percent": 16, "green_fat_percent": 21, "green_salt_percent": 2.7,
		"green_sugar_percent": 0.5, "diameter_mm": 45, "temperature_c": 13, "relative_humidity_percent": 78, "air_speed_m_per_s": 0.2,
		"asymptotic_loss_percent_known_from_composition": 41}}]`)
	cases, _, err := makeCases(all, false)
	if err != nil {
		t.Fatal(err)
	}
	o, err := cases[1].question.order(true) // at 45 percent: the weigh-in of day 9 is nearest
	if err != nil {
		t.Fatal(err)
	}
	water, _ := o.Composition.Water.Get()
	protein, _ := o.Composition.Protein.Get()
	fat, _ := o.Composition.Fat.Get()
	salt, _ := o.Composition.Salt.Get()
	sugar, _ := o.Composition.Sugar.Get()
	diameter, _ := o.Diameter.Get()
	temperature, _ := o.Temperature.Get()
	humidity, _ := o.Humidity.Get()
	speed, _ := o.AirSpeed.Get()
	stops, _ := o.StopsAt.Get()
	for _, c := range []struct {
		name      string
		want, got float64
	}{
		{"green", 800, o.Green.Grams()},
		{"water", 58, water.Percent()},
		{"protein", 16, protein.Percent()},
		{"fat", 21, fat.Percent()},
		{"salt", 2.7, salt.Percent()},
		{"sugar", 0.5, sugar.Percent()},
		{"diameter", 45, diameter.Millimetres()},
		{"temperature", 13, temperature.Celsius()},
		{"humidity", 78, humidity.Percent()},
		{"air speed", 0.2, speed.MetresPerSecond()},
		{"stops at", 41, stops.Percent()},
		{"target", 20, o.Target.Percent()},
		{"weigh-ins", 2, float64(len(o.WeighIns))},
		{"first weight", 760, o.WeighIns[0].Weight.Grams()}, // 5 percent of 800 g lost
		{"second weight", 720, o.WeighIns[1].Weight.Grams()},
		{"first day", 4, daysOf(o.WeighIns[0].At.Sub(o.Stuffed))},
		{"second day", 9, daysOf(o.WeighIns[1].At.Sub(o.Stuffed))},
	} {
		near(t, c.name, c.want, c.got, 1e-9)
	}
	if !o.AsOf.IsZero() || !o.Hung.IsZero() {
		t.Errorf("want no other instant, got hung %v, as of %v", o.Hung, o.AsOf)
	}
	before, err := cases[1].question.order(false)
	if err != nil {
		t.Fatal(err)
	}
	if len(before.WeighIns) != 0 || before.Target != o.Target || before.StopsAt != o.StopsAt || before.Composition != o.Composition {
		t.Errorf("want the same order without weigh-ins, got %+v", before)
	}
}

// What is not in the entry is not known, and a null is not either.
func TestAbsentIsUnknown(t *testing.T) {
	t.Parallel()
	all, _ := read(t, `[{"id": "a", "kind": "loss", "source": "Invented", "inputs": {"temperature_c": null},
		"series": {"day": [0, 4], "value": [0, 5]}}]`)
	f := all[0].facts
	_, water := f.water.Get()
	_, temperature := f.temperature.Get()
	_, stops := f.stopsAt.Get()
	if water || temperature || stops || f.green.Grams() != usualGreenGrams {
		t.Errorf("want nothing known but a usual green weight, got %+v", f)
	}
}

func TestReadSeriesRefuses(t *testing.T) {
	t.Parallel()
	good := `{"id": "good", "kind": "loss", "source": "Invented", "series": {"day": [0, 1], "value": [0, 1]}}`
	loss := func(day, value, more string) string {
		return "[" + good + `, {"id": "bad", "kind": "loss", "source": "Invented", "series": {"day": ` + day + `, "value": ` + value + "}" + more + "}]"
	}
	const at = `courses.json: entry 1, id "bad": `
	for _, c := range []struct{ name, text, want string }{
		{"empty", ``, "courses.json: not a JSON list"},
		{"no list", `{"id": "a"}`, "courses.json: not a JSON list"},
		{"a number", `7`, "courses.json: not a JSON list"},
		{"no end", "[" + good, "courses.json: the list does not end"},
		{"more after it", "[" + good + "] []", "courses.json: something stands after the list"},
		{"NaN", loss("[0, 1]", "[0, NaN]", ""), `courses.json: entry 1 (the one after id "good"): not JSON`},
		{"not an object", "[" + good + ", 3]", `courses.json: entry 1, id "": `},
		{"days out of order", loss("[0, 5, 4]", "[0, 1, 2]", ""), at + "point 2: day 4 does not come after day 5"},
		{"a day twice", loss("[0, 5, 5]", "[0, 1, 2]", ""), at + "point 2: "},
		{"a negative day", loss("[-1, 5]", "[0, 1]", ""), at + "point 0: the day"},
		{"a day past all", loss("[0, 99999]", "[0, 1]", ""), at + "point 1: the day"},
		{"lengths", loss("[0, 5, 6]", "[0, 1]", ""), at + "3 days, but 2 losses"},
		{"a null", loss("[0, 5]", "[0, null]", ""), at + "point 1 is not a number"},
		{"too large a number", loss("[0, 5]", "[0, 1e999]", ""), at},
		{"a word", loss("[0, 5]", `[0, "1"]`, ""), at + "series: "},
		{"nothing in it", loss("[]", "[]", ""), at + "the series is empty"},
		{"a loss at day 0", loss("[0, 5]", "[2, 4]", ""), at + "point 0: losses count from day 0"},
		{"a loss of all", loss("[0, 5]", "[0, 100]", ""), at + "point 1: the loss"},
		{"no values", "[" + good + `, {"id": "bad", "kind": "loss", "source": "Invented", "series": {"day": [0]}}]`, at + "it is of kind loss"},
		{"no source", "[" + good + `, {"id": "bad", "kind": "loss", "series": {"day": [0, 1], "value": [0, 1]}}]`, at + "a series needs"},
		{"no id", "[" + good + `, {"kind": "loss", "source": "x", "series": {"day": [0, 1], "value": [0, 1]}}]`, `courses.json: entry 1, id "": a series needs`},
		{"water past all", loss("[0, 5]", "[0, 4]", `, "inputs": {"green_water_percent": 120}`), at + "inputs: "},
		{"a green weight of nothing", loss("[0, 5]", "[0, 4]", `, "inputs": {"green_weight_g": 0}`), at + "inputs: the green weight"},
		{"an input of another sort", loss("[0, 5]", "[0, 4]", `, "inputs": {"diameter_mm": "45"}`), at + "inputs: "},
		{"a day without a target", loss("[0, 5]", "[0, 4]", `, "expected": {"day_reached": 5}`), at + "expected: a day without a target"},
		{"a second day without a target", loss("[0, 5]", "[0, 4]", `, "expected": {"second_day_reached": 5}`), at + "expected: a day without a target"},
		{"a target of nothing", loss("[0, 5]", "[0, 4]", `, "expected": {"target_loss_percent": 0}`), at + "the target must be"},
		{"a target on day 0", loss("[0, 5]", "[0, 4]", `, "expected": {"target_loss_percent": 3, "day_reached": 0}`), at + "expected: the day"},
		{
			"inputs.series out of order",
			"[" + good + `, {"id": "bad", "source": "x", "inputs": {"series": {"day": [0, 2, 1], "loss_percent": [0, 1, 2]}}}]`, at + "point 2",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, _, err := readSeries("courses.json", strings.NewReader(c.text))
			if err == nil || !strings.HasPrefix(err.Error(), c.want) {
				t.Errorf("want an error that begins with %q, got %v", c.want, err)
			}
		})
	}
}

func TestDistinct(t *testing.T) {
	t.Parallel()
	if err := distinct([]series{{id: "a", file: "1"}, {id: "b", file: "2"}}); err != nil {
		t.Errorf("want no error, got %v", err)
	}
	err := distinct([]series{{id: "a", file: "1"}, {id: "a", file: "2"}})
	if want := `2: id "a" was read already, from 1`; err == nil || err.Error() != want {
		t.Errorf("want %q, got %v", want, err)
	}
}

func FuzzReadSeries(f *testing.F) {
	invented, err := os.ReadFile("testdata/invented.json")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(invented))
	for _, s := range []string{``, `[]`, `[1]`, `[{"id":"a","kind":"loss","source":"x","series":{"day":[0,1e-300],"value":[0,1]}}]`, `[{"inputs":{"series":null}}]`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		all, count, err := readSeries("x", strings.NewReader(text))
		if err != nil {
			if all != nil {
				t.Errorf("want nothing beside an error, got %v", all)
			}
			return
		}
		skipped := 0
		for _, n := range count.Skipped {
			skipped += n
		}
		if count.Entries != count.Series+skipped || count.Series != len(all) {
			t.Errorf("counts do not add up: %+v for %d series", count, len(all))
		}
		// A course that was read makes cases with a question and an answer, unless
		// a target that it names lies beyond it.
		cases, _, err := makeCases(all, true)
		if err != nil {
			return
		}
		for _, c := range cases {
			if last := c.question.last(); !(last.day < c.truth && last.loss < c.question.target) {
				t.Errorf("the last weigh-in %v is not before day %v at %v", last, c.truth, c.question.target)
			}
		}
	})
}
