package acidity

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/integration/backtest/entries"
)

const inventedFile = "testdata/invented.json"

func read(t *testing.T, text string) ([]course, entries.Count) {
	t.Helper()
	all, count, err := readCourses("courses.json", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return all, count
}

func TestReadCourses(t *testing.T) {
	t.Parallel()
	all, count := read(t, `[
		{"id": "a", "kind": "ph", "source": "Invented, table 1", "analogue": true, "unheard_of": [1],
		 "inputs": {"temperature_c": 30, "species": "Pediococcus pentosaceus", "diameter_mm": 60},
		 "series": {"hour": [0, 4, 9], "value": [5.8, 5.5, 5.2], "unit": "pH"}},
		{"id": "b", "kind": "loss", "source": "Invented", "series": {"day": [0], "value": [0]}},
		{"id": "c", "source": "Invented: strips", "inputs": {"kind": "brine, NOT meat", "temp_c": null, "culture": "L. sakei + L. plantarum",
			"series": [{"t_h": 0, "ph": 6.5, "aw": 0.97}, {"t_h": 24, "ph": 5.25}]}},
		{"id": "d", "source": "Invented", "inputs": {"series": {"day": [1], "loss_percent": [1]}}},
		{"id": "e", "source": "Invented", "inputs": {"series": [{"t_h": 1, "temp_c": 20}]}},
		{"id": "f", "kind": "ph", "source": "Invented", "series": {"day": [1, 2], "value": [5.3, 5.5]}},
		{"id": "g", "kind": "ph", "source": "Invented", "inputs": {"kind": "cold storage, NOT a fermentation"},
		 "series": {"day": [1, 2], "value": [6.0, 5.0]}},
		{"id": "h", "source": "Invented", "inputs": {"temps_c": [20, 30]}}
	]`)
	want := entries.Count{Name: "courses.json", Entries: 8, Series: 3, Skipped: map[string]int{"of kind loss": 1, skippedNone: 3, skippedBelow: 1}}
	if d := cmp.Diff(want, count); d != "" {
		t.Errorf("counts (-want +got):\n%s", d)
	}
	a, c, g := all[0], all[1], all[2]
	if a.id != "a" || a.study != "Invented" || a.origin != originAnalogue || a.facts.species != "pediococcus-pentosaceus" || a.facts.assumed || a.facts.grade != 0 {
		t.Errorf("want course a as it is, got %+v", a)
	}
	if diameter, ok := a.facts.diameter.Get(); !ok || diameter.Millimetres() != 60 || a.facts.chamber.at(5) != 30 {
		t.Errorf("want 60 mm at 30 °C, got %+v", a.facts)
	}
	if c.origin != originAnalogue || c.facts.species != "" || !c.facts.assumed || c.facts.chamber.at(0) != assumedRoom || c.facts.grade != 0.25 {
		t.Errorf("want a brine read by strips of 0.25 in an assumed room with two species, got %+v", c.facts)
	}
	if g.origin != originAnalogue || !g.facts.assumed || g.facts.chamber.at(0) != assumedCold || !slices.Equal(g.readings, []reading{{24, 6}, {48, 5}}) {
		t.Errorf("want cold storage by days, got %+v", g)
	}
	if !slices.Equal(a.readings, []reading{{0, 5.8}, {4, 5.5}, {9, 5.2}}) || !slices.Equal(c.readings, []reading{{0, 6.5}, {24, 5.25}}) {
		t.Errorf("want the readings as they are, got %v and %v", a.readings, c.readings)
	}
}

// Three pieces at the same time count as their mean, 5.6.
func TestReadingsAtTheSameTime(t *testing.T) {
	t.Parallel()
	all, _ := read(t, `[{"id": "a", "kind": "ph", "source": "Invented", "series": {"hour": [0, 4, 4, 4, 8], "value": [5.8, 5.5, 5.9, 5.4, 5.2]}}]`)
	got := all[0].readings
	if len(got) != 3 || got[1].hour != 4 {
		t.Fatalf("want three readings, got %v", got)
	}
	near(t, "mean", 5.6, got[1].ph, 1e-12)
}

func TestTruthOf(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		readings []reading
		want     truth
	}{
		// Half way from 5.5 to 5.1.
		{"between two", []reading{{0, 5.8}, {24, 5.5}, {48, 5.1}}, truth{After: 24, By: 48, Point: 36}},
		{"the first time of two", []reading{{0, 5.8}, {24, 5.2}, {48, 5.6}, {72, 5}}, truth{After: 0, By: 24, Point: 20}},
		{"on a reading", []reading{{0, 5.8}, {24, 5.3}}, truth{After: 0, By: 24, Point: 24}},
		{"still falling", []reading{{0, 5.8}, {24, 5.4}}, truth{After: 24, By: never, Point: never}},
		{"risen again", []reading{{0, 5.8}, {24, 5.4}, {48, 5.45}}, truth{After: 48, By: never, Point: never, Never: true}},
		{"level at the end", []reading{{0, 5.8}, {24, 5.4}, {48, 5.4}}, truth{After: 48, By: never, Point: never}},
		{"risen before it fell", []reading{{0, 5.8}, {24, 5.75}, {48, 5.85}}, truth{After: 48, By: never, Point: never}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := truthOf(c.readings)
			if got.After != c.want.After || got.By != c.want.By || got.Never != c.want.Never ||
				got.Point != c.want.Point && !(math.Abs(got.Point-c.want.Point) < 1e-9) {
				t.Errorf("want %+v, got %+v", c.want, got)
			}
		})
	}
}

func TestSpeciesOf(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ words, want string }{
		{"Latilactobacillus sakei", "latilactobacillus-sakei"},
		{"L. CURVATUS, frozen", "latilactobacillus-curvatus"},
		{"Lactobacillus plantarum", "lactiplantibacillus-plantarum"},
		{"Pediococcus pentosaceus ", "pediococcus-pentosaceus"},
		{"Pediococcus cerevisiae frozen concentrate", "pediococcus-acidilactici"},
		{"L. plantarum + Pediococcus cerevisiae 1:2", ""},
		{"commercial culture", ""},
		{"", ""},
	} {
		if got := speciesOf(c.words); got != c.want {
			t.Errorf("%q: want %q, got %q", c.words, c.want, got)
		}
	}
}

func TestReadCoursesRefuses(t *testing.T) {
	t.Parallel()
	good := `{"id": "good", "kind": "ph", "source": "Invented", "series": {"hour": [0, 1], "value": [5.8, 5]}}`
	table := func(hour, value, more string) string {
		return "[" + good + `, {"id": "bad", "kind": "ph", "source": "Invented", "series": {"hour": ` + hour + `, "value": ` + value + "}" + more + "}]"
	}
	list := func(series string) string {
		return "[" + good + `, {"id": "bad", "source": "Invented", "inputs": {"series": ` + series + "}}]"
	}
	const at = `courses.json: entry 1, id "bad": `
	for _, c := range []struct{ name, text, want string }{
		{"empty", ``, "courses.json: not a JSON list"},
		{"no list", `{"id": "a"}`, "courses.json: not a JSON list"},
		{"no end", "[" + good, "courses.json: the list does not end"},
		{"more after it", "[" + good + "] []", "courses.json: something stands after the list"},
		{"NaN", table("[0, 1]", "[6, NaN]", ""), `courses.json: entry 1 (the one after id "good"): not JSON`},
		{"hours out of order", table("[0, 5, 4]", "[6, 6, 5]", ""), at + "reading 2: hour 4 comes before hour 5"},
		{"a negative hour", table("[-1, 5]", "[6, 5]", ""), at + "reading 0: the hour"},
		{"an hour past all", table("[0, 99999]", "[6, 5]", ""), at + "reading 1: the hour"},
		{"lengths", table("[0, 5, 6]", "[6, 5]", ""), at + "3 times, but 2 values"},
		{"a null", table("[0, 5]", "[6, null]", ""), at + "reading 1 is not two numbers"},
		{"a null hour", table("[0, null]", "[6, 5]", ""), at + "reading 1 is not two numbers"},
		{"a word", table("[0, 5]", `[6, "5"]`, ""), at + "series: "},
		{"nothing in it", table("[]", "[]", ""), at + "the series is empty"},
		{"a pH of nothing", table("[0, 5]", "[6, 0]", ""), at + "reading 1: the pH"},
		{"no values", "[" + good + `, {"id": "bad", "kind": "ph", "source": "x", "series": {"hour": [0]}}]`, at + "it is of kind ph"},
		{"hours and days", "[" + good + `, {"id": "bad", "kind": "ph", "source": "x", "series": {"hour": [0], "day": [0], "value": [6]}}]`, at + "it has both"},
		{"no source", "[" + good + `, {"id": "bad", "kind": "ph", "series": {"hour": [0], "value": [6]}}]`, at + "a series needs"},
		{"hot as an oven", table("[0, 5]", "[6, 5]", `, "inputs": {"temperature_c": 200}`), at + "inputs: a chamber"},
		{"temperatures out of order", table("[0, 5]", "[6, 5]", `, "inputs": {"temperature_profile_c": [[3, 20], [2, 20]]}`), at + "inputs: point 1"},
		{"a temperature without an hour", table("[0, 5]", "[6, 5]", `, "inputs": {"temperature_profile_c": [[20]]}`), at + "inputs: point 0"},
		{"a diameter below nothing", table("[0, 5]", "[6, 5]", `, "inputs": {"diameter_mm": -4}`), at + "inputs: "},
		{"an input of another sort", table("[0, 5]", "[6, 5]", `, "inputs": {"species": 4}`), at + "inputs: "},
		{"a list with a word", list(`[{"t_h": 0, "ph": "6"}]`), at + "inputs.series: "},
		{"a list without an hour", list(`[{"ph": 6}]`), at + "reading 0 is not two numbers"},
		{"a list out of order", list(`[{"t_h": 5, "ph": 6}, {"t_h": 4, "ph": 5}]`), at + "reading 1: hour 4"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, _, err := readCourses("courses.json", strings.NewReader(c.text))
			if err == nil || !strings.HasPrefix(err.Error(), c.want) {
				t.Errorf("want an error that begins with %q, got %v", c.want, err)
			}
		})
	}
}

func FuzzReadCourses(f *testing.F) {
	invented, err := os.ReadFile(inventedFile)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(invented))
	for _, s := range []string{``, `[]`, `[1]`, `[{"id":"a","kind":"ph","source":"x","series":{"hour":[0,1e-300],"value":[5.8,5]}}]`, `[{"inputs":{"series":[null]}}]`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		all, count, err := readCourses("x", strings.NewReader(text))
		if err != nil {
			if all != nil {
				t.Errorf("want nothing beside an error, got %v", all)
			}
			return
		}
		if count.Series != len(all) {
			t.Errorf("counts do not add up: %+v for %d courses", count, len(all))
		}
		for _, c := range makeCases(all) {
			if last := c.question.last(); last.ph <= target || last.hour > c.course.truth.After {
				t.Errorf("the last reading %v is not before the answer %+v", last, c.course.truth)
			}
			if _, err := c.question.order(); err != nil {
				t.Errorf("a course that was read makes no order: %v", err)
			}
		}
	})
}
