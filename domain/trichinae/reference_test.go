package trichinae_test

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/source"
	"greenweight/domain/trichinae"
)

// referenceTable is the collection that the tables were written from, compiled
// on 25 November 2026: per row the figures and how they came to be known.
//
//go:embed testdata/reference.json
var referenceTable []byte

// workedExamples are examples with their outside results: the regulation's own,
// and rows of tables looked up by hand.
//
//go:embed testdata/examples.json
var workedExamples []byte

type referenceRow struct {
	Section string          `json:"section"`
	ID      string          `json:"id"`
	Value   json.RawMessage `json:"value"`
	Status  string          `json:"status"`
	Subject string          `json:"subject"`

	Fahrenheit float64 `json:"temp_F"`
	Group1     int     `json:"group1_days"`
	Group2     int     `json:"group2_days"`
	Hours      float64 `json:"hours"`
	Inches     float64 `json:"max_dia_in"`
	Days       int     `json:"days"`
	Columns    []int   `json:"temps_F"`
	Salt       float64 `json:"salt_lb_cwt"`
}

var trusts = map[string]source.Trust{
	"READ": source.Read, "READ-SECONDARY": source.ReadSecondary, "DERIVED": source.Derived, "MEMORY": source.Memory,
}

func referenceRows(tb testing.TB) map[string]referenceRow {
	tb.Helper()
	var all []referenceRow
	if err := json.Unmarshal(referenceTable, &all); err != nil {
		tb.Fatal(err)
	}
	rows := make(map[string]referenceRow, len(all))
	for _, r := range all {
		rows[r.ID] = r
	}
	return rows
}

func decode[T any](tb testing.TB, raw json.RawMessage) T {
	tb.Helper()
	var v T
	if err := json.Unmarshal(raw, &v); err != nil {
		tb.Fatal(err)
	}
	return v
}

// Every row of the reference is in a table, value by value, with its trust.
func TestTablesAreThoseOfTheReference(t *testing.T) {
	t.Parallel()
	rows := referenceRows(t)
	used := map[string]bool{}
	take := func(id string, of source.Citation) referenceRow {
		t.Helper()
		r, ok := rows[id]
		if !ok {
			t.Fatalf("the reference has no row %s", id)
		}
		used[id] = true
		if of.Trust != trusts[r.Status] {
			t.Errorf("%s: want trust %s, got %s", id, trusts[r.Status], of.Trust)
		}
		return r
	}
	equal := func(id string, want, got any) {
		t.Helper()
		if fmt.Sprint(want) != fmt.Sprint(got) {
			t.Errorf("%s: want %v, got %v", id, want, got)
		}
	}
	for _, f := range trichinae.Freezings() {
		id := fmt.Sprintf("fz%g", f.Warmest.Fahrenheit())
		r := take(id, f.Source)
		equal(id, map[int]int{1: r.Group1, 2: r.Group2}[f.Group], f.Days)
		equal(id, map[int]float64{1: 6, 2: 27}[f.Group], inches(f.Thickest))
	}
	for _, c := range trichinae.Centres() {
		id := fmt.Sprintf("alt%g", c.Warmest.Fahrenheit())
		equal(id, take(id, c.Source).Hours, c.Span.Hours())
	}
	for _, h := range trichinae.Heatings() {
		id := fmt.Sprintf("ht%g", h.Core.Least.Fahrenheit())
		r := take(id, h.Source)
		equal(id, heldFor(t, decode[string](t, r.Value)), h.Span)
		if printed := regexp.MustCompile(`\(([\d.]+) C`).FindStringSubmatch(r.Subject); printed != nil {
			// The higher of what is printed and what is exact.
			want := math.Max((h.Core.Least.Fahrenheit()-32)/1.8, decode[float64](t, json.RawMessage(printed[1])))
			if math.Abs(want-h.Core.Surely.Celsius()) > 1e-9 {
				t.Errorf("%s: want %v °C, got %v", id, want, h.Core.Surely)
			}
		}
	}
	for _, m := range trichinae.Methods() {
		checkMethod(t, m, take, equal)
	}
	for _, r := range trichinae.Reductions() {
		id := fmt.Sprintf("3B-%g", r.Held.Hours())
		row := take(id, r.Source)
		equal(id, decode[[]int](t, row.Value), r.Percent)
		for i, c := range trichinae.Columns() {
			equal(id, row.Columns[i], c.Fahrenheit())
		}
	}
	for _, r := range trichinae.Increases() {
		id := fmt.Sprintf("T4-%.1f", float64(r.Tenths)/10)
		row := take(id, r.Source)
		equal(id, decode[int](t, row.Value), r.Percent)
		equal(id, row.Salt, float64(r.Tenths)/10)
	}
	checkStudy(t, take)
	for id := range rows {
		if !used[id] {
			t.Errorf("no table has the row %s", id)
		}
	}
}

// inches drops the last bits of a length in inches.
func inches(l quantity.Length) float64 { return math.Round(l.Inches()*1e9) / 1e9 }

// heldFor reads "9.5 h", "30 min" and "instant".
func heldFor(t *testing.T, text string) time.Duration {
	t.Helper()
	var number float64
	var unit string
	if text == "instant" {
		return 0
	}
	if _, err := fmt.Sscan(text, &number, &unit); err != nil {
		t.Fatal(err)
	}
	return time.Duration(number * float64(map[string]time.Duration{"h": time.Hour, "min": time.Minute}[unit]))
}

func checkMethod(t *testing.T, m trichinae.Method, take func(string, source.Citation) referenceRow, equal func(string, any, any)) {
	t.Helper()
	id := strings.Replace(m.ID, "method-", "m", 1)
	switch m.ID {
	case "method-7-large", "method-7-small":
		var stages []struct {
			Fahrenheit float64 `json:"temp_F"`
			Hours      float64 `json:"hours"`
			Then       string  `json:"then"`
		}
		r := take(id, m.Source)
		if err := json.Unmarshal(r.Value, &stages); err != nil {
			t.Fatal(err)
		}
		equal(id, fmt.Sprintf("dry >=50 F >=%d days", m.Rows[0].Dry), stages[len(m.Before)].Then)
		for i, w := range m.Before {
			equal(id, stages[i].Fahrenheit, w.Floor.Least.Fahrenheit())
			equal(id, stages[i].Hours, w.Span.Hours())
		}
	case "method-6":
		take(id, m.Source)
		for _, row := range m.Rows {
			r := take(fmt.Sprintf("3A-%g", inches(row.UpTo)), m.Source)
			equal(r.ID, decode[int](t, r.Value), row.Dry)
			equal(r.ID, r.Inches, inches(row.UpTo))
		}
	default:
		var rows []struct {
			Inches float64 `json:"max_dia_in"`
			Only   string  `json:"only"`
			Dry    int     `json:"dry_days"`
			Total  int     `json:"min_total_days"`
			Cure   int     `json:"cure_days"`
		}
		r := take(id, m.Source)
		if err := json.Unmarshal(r.Value, &rows); err != nil {
			t.Fatal(err)
		}
		for i, row := range m.Rows {
			if math.Abs(rows[i].Inches-row.UpTo.Inches()) > 1e-4 {
				t.Errorf("%s: want up to %v in, got %v", id, rows[i].Inches, row.UpTo.Inches())
			}
			equal(id, rows[i].Only, row.Only)
			equal(id, rows[i].Dry, row.Dry)
			if m.ID == "method-5" { // its days are a hold, not a room
				equal(id, float64(rows[i].Total*24), m.Before[0].Span.Hours())
				continue
			}
			equal(id, rows[i].Total, row.Total)
			if rows[i].Cure > 0 {
				equal(id, float64(rows[i].Cure*24), m.Before[0].Span.Hours())
			}
		}
		// The rest stands in the subject: "salt >=3 1/3", "pieces <=3/4 in", ">=45 F".
		if room := fmt.Sprintf(">=%g F", m.Room.Least.Fahrenheit()); !strings.Contains(r.Subject, room) {
			t.Errorf("%s: the reference has no room of %s: %s", id, room, r.Subject)
		}
		for _, w := range m.Before {
			if floor := fmt.Sprintf(">=%g F", w.Floor.Least.Fahrenheit()); !strings.Contains(r.Subject, floor) {
				t.Errorf("%s: the reference has no floor of %s: %s", id, floor, r.Subject)
			}
		}
	}
}

func checkStudy(t *testing.T, take func(string, source.Citation) referenceRow) {
	t.Helper()
	var rows []struct {
		PH      string  `json:"pH"`
		AtLeast float64 `json:"NaCl_min"`
		Below   float64 `json:"NaCl_lt"`
		Days    int     `json:"days"`
	}
	published := trichinae.Published()
	if err := json.Unmarshal(take("hill2017", published[0].Source).Value, &rows); err != nil {
		t.Fatal(err)
	}
	for i, r := range published {
		ph := "=4.6"
		if r.Above.Float() > 0 {
			ph = fmt.Sprintf(">%g<=%g", r.Above.Float(), r.UpTo.Float())
		}
		if rows[i].PH != ph || rows[i].AtLeast != r.AtLeast.Percent() || rows[i].Below != r.Below.Percent() || rows[i].Days != r.Days {
			t.Errorf("row %d: want %+v, got %+v", i, rows[i], r)
		}
	}
}

// Each worked example, by the look-up that it is about.
func TestWorkedExamples(t *testing.T) {
	t.Parallel()
	var examples []struct {
		ID     string                     `json:"id"`
		Source string                     `json:"source"`
		Inputs map[string]json.RawMessage `json:"inputs"`
		Want   map[string]any             `json:"expected"`
	}
	if err := json.Unmarshal(workedExamples, &examples); err != nil {
		t.Fatal(err)
	}
	if len(examples) != 8 {
		t.Fatalf("want 8 examples, got %d", len(examples))
	}
	for _, e := range examples {
		t.Run(e.ID, func(t *testing.T) {
			t.Parallel()
			in := func(name string) float64 {
				if e.Inputs[name] == nil {
					return 0
				}
				return decode[float64](t, e.Inputs[name])
			}
			got := map[string]any{}
			put := func(name string, v float64) { got[name] = v }
			diameter := quantity.MustInches(in("diameter_in"))
			if mm := in("diameter_mm"); mm > 0 {
				diameter = quantity.MustMillimetres(mm)
				put("diameter_in", diameter.Inches())
			}
			switch calc := decode[string](t, e.Inputs["calc"]); calc {
			case "m6_days":
				held := trichinae.Held{Span: time.Duration(in("hold_h")) * time.Hour}
				if f := in("hold_temp_F"); f > 0 {
					held.Coldest = quantity.MustFahrenheit(f)
				}
				d, ok := trichinae.DaysByMethod6(diameter, held, quantity.MustPPM(in("salt_lb_per_cwt")*1e4))
				if !ok {
					t.Fatal("no days")
				}
				put("table3A_days", float64(d.Row.Dry))
				put("row_in", d.Row.UpTo.Inches())
				put("reduction_pct", float64(d.Reduction))
				put("increase_pct", float64(d.Increase))
				put("deducted_days", float64(d.Deducted))
				put("added_days", float64(d.Added))
				put("days", float64(d.Days))
			case "m1_days", "m2_days":
				m, _ := trichinae.MethodByID("method-" + calc[1:2])
				row, ok := m.RowFor(diameter)
				if !ok {
					t.Fatal("no row")
				}
				put("dry_days", float64(row.Dry))
				put("min_total_days", float64(row.Total))
			case "freeze_days":
				r, ok := trichinae.FreezingFor(quantity.MustCelsius(in("temp_C")), quantity.MustMillimetres(in("thickness_cm")*10))
				if !ok {
					t.Fatal("no row")
				}
				put("row_F", r.Warmest.Fahrenheit())
				put("group", float64(r.Group))
				put("days", float64(r.Days))
			case "freeze_hours_internal":
				r, ok := trichinae.CentreFor(quantity.MustCelsius(in("centre_temp_C")))
				if !ok {
					t.Fatal("no row")
				}
				put("hours", r.Span.Hours())
			case "hill_days":
				r, ok := trichinae.PublishedFor(trichinae.Process{
					PH: quantity.MustPH(in("pH")), Salt: quantity.MustPPM(in("NaCl_pct") * 1e4), Fermentation: quantity.MustCelsius(23.8), Drying: quantity.MustCelsius(15.5),
				})
				got["valid"] = ok
				put("days", float64(r.Days))
			default:
				t.Fatalf("nothing computes %s", calc)
			}
			for name, want := range e.Want {
				w, number := want.(float64)
				g, _ := got[name].(float64)
				// The tolerance of the examples: 0.001 in of a diameter, 0 of the rest.
				if number && math.Abs(w-g) > 0.001 || !number && want != got[name] {
					t.Errorf("%s: want %v, got %v (%s)", name, want, got[name], e.Source)
				}
			}
		})
	}
}
