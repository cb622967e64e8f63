package pathogen_test

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// referenceTable is the collection that the tables were written from, compiled
// on 25 November 2026: each row as it was written down, and how it came to be
// known. The bounds of limits are the same figures once more, taken apart by
// hand.
//
//go:embed testdata/reference.json
var referenceTable []byte

type collection struct {
	FiveLog []fiveLogRow `json:"five_log"`
	Limits  []wordsRow   `json:"limits"`
	Studies []wordsRow   `json:"studies"`
}

type fiveLogRow struct {
	ID      string  `json:"id"`
	F       float64 `json:"chamber_f"`
	C       float64 `json:"chamber_c"`
	PH      string  `json:"ph_end"`
	Casing  string  `json:"casing_mm"`
	Then    string  `json:"then"`
	Trusted string  `json:"trust"`
}

type wordsRow struct {
	ID       string   `json:"id"`
	Organism string   `json:"organism"`
	Any      []string `json:"any"`
	Says     []string `json:"says"`
	Trusted  string   `json:"trust"`
}

var trusts = map[string]source.Trust{
	"READ": source.Read, "READ-SECONDARY": source.ReadSecondary, "DERIVED": source.Derived, "MEMORY": source.Memory,
}

func reference(tb testing.TB) collection {
	tb.Helper()
	var all collection
	if err := json.Unmarshal(referenceTable, &all); err != nil {
		tb.Fatal(err)
	}
	return all
}

// stage is a stage of the collection, in °F and hours.
type stage struct {
	act      string
	f        float64
	hours    float64
	humidity float64
	moisture float64
}

var (
	heated = regexp.MustCompile(`(\d+) h @(\d+) F`)
	held   = regexp.MustCompile(`hold @(\d+) F.*>= (\d+) days`)
	inside = regexp.MustCompile(`(\d+) F \(\d+ C\) internal x (\d+) min`)
	dried  = regexp.MustCompile(`dry at (\d+) F \(\d+ C\), (\d+) % RH to MPR <=([\d.]+):1`)
	beside = regexp.MustCompile(`(\d+) F \((\d+) C\)`)
)

func number(tb testing.TB, text string) float64 {
	tb.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

// stages reads what the collection has under "then".
func (r fiveLogRow) stages(tb testing.TB) []stage {
	tb.Helper()
	var all []stage
	for _, m := range heated.FindAllStringSubmatch(r.Then, -1) {
		all = append(all, stage{act: "heat", f: number(tb, m[2]), hours: number(tb, m[1])})
	}
	if m := held.FindStringSubmatch(r.Then); m != nil {
		all = append(all, stage{act: "hold", f: number(tb, m[1]), hours: 24 * number(tb, m[2])})
	}
	if m := inside.FindStringSubmatch(r.Then); m != nil {
		all = append(all, stage{act: "core", f: number(tb, m[1]), hours: number(tb, m[2]) / 60})
	}
	if m := dried.FindStringSubmatch(r.Then); m != nil {
		all = append(all, stage{act: "dry", f: number(tb, m[1]), humidity: number(tb, m[2]), moisture: number(tb, m[3])})
	}
	return all
}

// celsius is what the collection prints beside each °F.
func (c collection) celsius(tb testing.TB) map[float64]float64 {
	tb.Helper()
	all := map[float64]float64{}
	for _, r := range c.FiveLog {
		all[r.F] = r.C
		for _, m := range beside.FindAllStringSubmatch(r.Then, -1) {
			all[number(tb, m[1])] = number(tb, m[2])
		}
	}
	return all
}

func TestOptionsAreThoseOfTheReference(t *testing.T) {
	t.Parallel()
	all := reference(t)
	celsius := all.celsius(t)
	ours := map[string]pathogen.Option{}
	for _, o := range pathogen.Options() {
		ours[o.ID] = o
	}
	if len(ours) != len(all.FiveLog) || len(all.FiveLog) != 10 {
		t.Errorf("want 10 rows, got %d of %d", len(ours), len(all.FiveLog))
	}
	warm := func(w pathogen.Warm, f float64) {
		t.Helper()
		if w.Fahrenheit.Fahrenheit() != f || w.Celsius.Celsius() != celsius[f] {
			t.Errorf("want %v °F (%v °C), got %s", f, celsius[f], w)
		}
	}
	for _, r := range all.FiveLog {
		o, ok := ours[r.ID]
		if !ok {
			t.Errorf("no table has the row %s", r.ID)
			continue
		}
		warm(o.Chamber, r.F)
		if got := o.Acid.Comparator.String() + strconv.FormatFloat(o.Acid.PH.Float(), 'f', 1, 64); got != r.PH {
			t.Errorf("%s: want pH %s, got %s", r.ID, r.PH, got)
		}
		casing := fmt.Sprintf("<=%g", o.UpTo.Millimetres())
		if !o.Above.IsZero() {
			casing = fmt.Sprintf("%g-%g", o.Above.Millimetres()+1, o.UpTo.Millimetres())
		}
		if casing != r.Casing {
			t.Errorf("%s: want a casing of %s, got %s", r.ID, r.Casing, casing)
		}
		if o.Source.Trust != trusts[r.Trusted] {
			t.Errorf("%s: want trust %s, got %s", r.ID, r.Trusted, o.Source.Trust)
		}
		want := r.stages(t)
		if len(want) != len(o.Then) || len(want) == 0 {
			t.Fatalf("%s: want the stages %v, got %v", r.ID, want, o.Then)
		}
		for i, s := range o.Then {
			warm(s.Warm, want[i].f)
			got := stage{s.Act.String(), s.Warm.Fahrenheit.Fahrenheit(), s.Span.Hours(), s.Humidity.Percent(), s.Moisture.Float()}
			if got != want[i] {
				t.Errorf("%s: want %v, got %v", r.ID, want[i], got)
			}
		}
	}
}

func TestLimitsAreThoseOfTheReference(t *testing.T) {
	t.Parallel()
	want, got := map[string]wordsRow{}, map[string]wordsRow{}
	says := map[string][]string{}
	for _, r := range reference(t).Limits {
		says[r.ID], r.Says = r.Says, nil
		want[r.ID] = r
	}
	for _, l := range pathogen.Limits() {
		row := wordsRow{ID: l.ID, Organism: l.Organism.String()}
		for word, trust := range trusts {
			if trust == l.Source.Trust {
				row.Trusted = word
			}
		}
		for _, a := range l.Any {
			var bounds []string
			for _, b := range a {
				text := fmt.Sprintf("%s%s%g", b.Of, b.Comparator, b.Limit.Value())
				if !b.Begins.IsZero() {
					text += fmt.Sprintf("..%g", b.Begins.Value())
				}
				bounds = append(bounds, text)
			}
			row.Any = append(row.Any, strings.Join(bounds, " "))
		}
		got[l.ID] = row
		for _, words := range says[l.ID] {
			if !strings.Contains(l.Printed+" "+l.Note, words) {
				t.Errorf("%s does not say %q: %s; %s", l.ID, words, l.Printed, l.Note)
			}
		}
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("limits (-want +got):\n%s", d)
	}
}

func TestStudiesAreThoseOfTheReference(t *testing.T) {
	t.Parallel()
	studies := map[string]pathogen.Evidence{}
	for _, e := range pathogen.Studies() {
		studies[e.ID] = e
	}
	for _, r := range reference(t).Studies {
		e, ok := studies[r.ID]
		if !ok {
			t.Errorf("no table has the study %s", r.ID)
		}
		delete(studies, r.ID)
		for _, words := range r.Says {
			if !strings.Contains(e.Found, words) {
				t.Errorf("%s does not say %q: %s", r.ID, words, e.Found)
			}
		}
		if e.Source.Trust != trusts[r.Trusted] {
			t.Errorf("%s: want trust %s, got %s", r.ID, r.Trusted, e.Source.Trust)
		}
	}
	if len(studies) > 0 {
		t.Errorf("studies that the reference has not: %v", slices.Collect(maps.Keys(studies)))
	}
	// 32, 55 and 80 mm took 32, 39 and 53 days.
	for _, e := range pathogen.Studies() {
		for i, d := range e.Times {
			if got, want := [2]float64{d.Diameter.Millimetres(), float64(d.Days)}, [][2]float64{{32, 32}, {55, 39}, {80, 53}}[i]; math.Abs(got[0]-want[0]) > 1e-9 || got[1] != want[1] {
				t.Errorf("want %v, got %v", want, got)
			}
		}
	}
}

// A caller can't change the tables.
func TestTablesAreCopies(t *testing.T) {
	t.Parallel()
	pathogen.Options()[0].Then[0].Span = time.Minute
	pathogen.Limits()[0].Any[0][0].Limit = quantity.MustPH(7).Measure()
	pathogen.Studies()[0].Then[0].Span = time.Minute
	if pathogen.Options()[0].Then[0].Span != time.Hour || pathogen.Limits()[0].Any[0][0].Limit.Value() != 4.4 ||
		pathogen.Studies()[0].Then[0].Span != 8*time.Hour {
		t.Error("a table was changed")
	}
}
