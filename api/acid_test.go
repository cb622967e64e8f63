package api

import (
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// goodMixture and goodDose are small orders, of an invented mixture, whose parts
// the tests replace.
const (
	goodMixture = `{"mixture":{"lean_percent":75,"sugars":[{"material":"dextrose-monohydrate","rate":{"value":2,"unit":"g_per_kg"}}],` +
		`"species":["latilactobacillus-sakei"]},"meat":{"value":5,"unit":"kg"},"start_ph":5.8,"uncertainty_ph":0.05,"wanted_ph":5.2}`
	goodDose = `{"batch":{"value":12,"unit":"kg"},"activity_cfu_per_g":2e10,"target_cfu_per_g":1e6,"rehydration_water":{"value":30,"unit":"mL"}}`
)

// Each answer says in its description how its main figures were checked.
func TestExamplesOfAcid(t *testing.T) {
	t.Parallel()
	for name, path := range map[string]string{
		"acid-formula": pathAcid, "acid-mixture": pathAcid, "acid-staphylococci": pathAcid,
		"culture-dose-by-cells": pathCultureDose, "culture-dose-by-weight": pathCultureDose,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, path, readExample(t, name+".request").Value), near)
		})
	}
}

func acid(t *testing.T, body []byte) openapi.AcidAnswer {
	t.Helper()
	a := testClient(t).Post(t, pathAcid, body)
	if a.Status != http.StatusOK {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	return apitest.Decode[openapi.AcidAnswer](t, a)
}

func wantAbout(t *testing.T, what string, want, got, within float64) {
	t.Helper()
	if !(math.Abs(want-got) <= within) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// The example with a mixture, by hand as its description says: figures to four
// digits, and the pH put into the balance of protons again.
func TestAMixtureByHand(t *testing.T) {
	t.Parallel()
	a := acid(t, readExample(t, "acid-mixture.request").Value)
	wantAbout(t, "acid at the high end", 20.588, a.LacticAcid.OnMeat.LowMmolPerKg, 0.005)
	wantAbout(t, "the same in grams", 20.588*0.090078, a.LacticAcid.OnMeat.LowGPerKg, 0.0005)
	wantAbout(t, "the same on the lean", 20.588/0.75, a.LacticAcid.OnLean.LowMmolPerKg, 0.005)
	wantAbout(t, "the same on the batch", 20.588/1.005, a.LacticAcid.OnBatch.LowMmolPerKg, 0.005)
	wantAbout(t, "acid at the low end", 71.91, a.LacticAcid.OnMeat.HighMmolPerKg, 0.01)
	ph := a.FinalPh.High.Ph
	wantAbout(t, "protons at the high end", 20.588, 45*(5.8-ph)*(1+math.Pow(10, 3.86-ph)), 0.005)
	wantAbout(t, "pH at the low end", 4.5, a.FinalPh.Low.Ph, 0)
	if a.FinalPh.High.LimitedBy != openapi.FinalPHEndLimitedBySugar || a.FinalPh.Low.LimitedBy != openapi.FinalPHEndLimitedByCulture {
		t.Errorf("limited by %s and %s", a.FinalPh.High.LimitedBy, a.FinalPh.Low.LimitedBy)
	}
	if a.Wanted == nil || a.Wanted.ByHandbook == nil || a.Wanted.Reach != openapi.WantedAcidReachCan {
		t.Fatalf("wanted is %+v", a.Wanted)
	}
	wantAbout(t, "dextrose by the handbook", 8.8001, a.Wanted.ByHandbook.Most.OnMeatGPerKg, 0.0005)
	wantAbout(t, "the same for 5 kg", 44.0, a.Wanted.ByHandbook.Most.Mass.Value, 0.005)
	wantAbout(t, "missing of it: lactose does not count", 44.0-10, a.Wanted.ByHandbook.Most.Missing.Value, 0.005)
	wantAbout(t, "the least by chemistry", 0.8201, a.Wanted.ByStoichiometry.Least.OnMeatGPerKg, 0.0005)
	wantAbout(t, "the most by chemistry", 4.2319, a.Wanted.ByStoichiometry.Most.OnMeatGPerKg, 0.0005)
	wantAbout(t, "missing of the least", 0, a.Wanted.ByStoichiometry.Least.Missing.Value, 0)
	wantAbout(t, "the handbook's highest pH: 5.8 - 0.18182", 5.61818, a.HandbookPh.High, 0.0001)
}

// A culture that makes no acid counts for none, whatever the sugar; nor does no
// culture. One of which no species is known is taken to make some.
func TestNoAcidWithoutACultureThatMakesIt(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name string
		body []byte
		want openapi.AcidAnswerMakesAcid
		acid bool
	}{
		{"staphylococci", instead(t, goodMixture, `latilactobacillus-sakei`, `staphylococcus-xylosus`), "no", false},
		{"a yeast", instead(t, goodMixture, `latilactobacillus-sakei`, `debaryomyces-hansenii`), "no", false},
		{"a mould", instead(t, goodMixture, `latilactobacillus-sakei`, `penicillium-nalgiovense`), "no", false},
		{"one beside another", instead(t, goodMixture, `"latilactobacillus-sakei"`, `"staphylococcus-xylosus","latilactobacillus-sakei"`), "yes", true},
		{"species not stated", instead(t, goodMixture, `,"species":["latilactobacillus-sakei"]`, ``), "taken-to", true},
		{"a formula without a culture", []byte(`{"formula":{"name":"Test ring (invented)","product":"dry-sausage","parts":[{"material":"pork-leg-lean-only","share_percent":100}],` +
			`"additions":[{"role":"sugar","material":"dextrose-monohydrate","rate":{"value":5,"unit":"g_per_kg"}}]},"wanted_ph":5.2}`), "no-culture", false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := acid(t, tc.body)
			if a.MakesAcid != tc.want {
				t.Errorf("makes acid: %s, want %s", a.MakesAcid, tc.want)
			}
			if soured := a.FinalPh.High.Ph < a.Start.High; soured != tc.acid {
				t.Errorf("from %v to %v", a.Start, a.FinalPh)
			}
			if can := a.Wanted.Reach != openapi.WantedAcidReachCannot; can != tc.acid || (a.Wanted.ByHandbook != nil) != tc.acid {
				t.Errorf("wanted is %+v", a.Wanted)
			}
		})
	}
}

// 2 g/kg are 0.2 percent, 2000 mg/kg, 10 g for 5 kg, and 0.032 oz for a pound:
// 2/1000 of 16 oz. All are the same sugar.
func TestUnitsOfSugar(t *testing.T) {
	t.Parallel()
	want := acid(t, []byte(goodMixture))
	for _, rate := range []string{
		`{"value":0.2,"unit":"percent"}`, `{"value":2000,"unit":"mg_per_kg"}`, `{"value":10,"unit":"g","per":{"value":5,"unit":"kg"}}`,
		`{"value":0.032,"unit":"oz","per":{"value":1,"unit":"lb"}}`,
	} {
		got := acid(t, instead(t, goodMixture, `{"value":2,"unit":"g_per_kg"}`, rate))
		if d := cmp.Diff(want, got, near); d != "" {
			t.Errorf("%s (-want +got):\n%s", rate, d)
		}
	}
	got := acid(t, instead(t, goodMixture, `"lean_percent":75`, `"fat_percent":25`))
	if d := cmp.Diff(want, got, near); d != "" {
		t.Errorf("by fat (-want +got):\n%s", d)
	}
}

func TestWhatIsNotCounted(t *testing.T) {
	t.Parallel()
	notes := func(a openapi.AcidAnswer) map[string]openapi.Pointer {
		codes := map[string]openapi.Pointer{}
		for _, n := range a.Notes {
			codes[n.Code] = ""
			if n.Pointer != nil {
				codes[n.Code] = *n.Pointer
			}
		}
		return codes
	}
	const of = `{"formula":{"name":"Test ring (invented)","product":"dry-sausage","parts":[{"material":"pork-leg-lean-only","share_percent":100}],` +
		`"additions":[{"role":"culture","name":"C","rate":{"value":0.2,"unit":"g_per_kg"}},`
	gdl := acid(t, []byte(of+`{"role":"acidulant","material":"glucono-delta-lactone","rate":{"value":5,"unit":"g_per_kg"}}]}}`))
	if at, ok := notes(gdl)["acidulant-not-counted"]; !ok || at != "#/formula/additions/1" {
		t.Errorf("notes are %v", notes(gdl))
	}
	mix := acid(t, []byte(of+`{"role":"other","name":"Ready mix","rate":{"value":5,"unit":"g_per_kg"}}]}}`))
	if at, ok := notes(mix)["sugar-unknown"]; !ok || at != "#/formula/additions/1" {
		t.Errorf("notes are %v", notes(mix))
	}
	if mix.FinalPh.Low.Ph != 4.5 || mix.FinalPh.Low.LimitedBy != openapi.FinalPHEndLimitedByUnknownSugar {
		t.Errorf("an unknown mix may bring any sugar, and the low end is %+v", mix.FinalPh.Low)
	}
	milk := acid(t, instead(t, goodMixture, `dextrose-monohydrate`, `lactose-monohydrate`))
	if at, ok := notes(milk)["slow-sugar"]; !ok || at != "#/mixture/sugars/0" {
		t.Errorf("notes are %v", notes(milk))
	}
}

func TestEveryMemberOfAcidIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathAcid, goodMixture, []change{
		{`"lean_percent":75`, `"lean_percent":70`},
		{`"lean_percent":75`, `"fat_percent":30`},
		{`dextrose-monohydrate`, `dextrose-anhydrous`},
		{`dextrose-monohydrate`, `sugar-granulated`},
		{`"value":2,"unit":"g_per_kg"`, `"value":3,"unit":"g_per_kg"`},
		{`latilactobacillus-sakei`, `staphylococcus-xylosus`},
		{`"value":5,"unit":"kg"`, `"value":5,"unit":"lb"`},
		{`"start_ph":5.8`, `"start_ph":5.7`},
		{`"start_ph":5.8,"uncertainty_ph":0.05,`, ``},
		{`"uncertainty_ph":0.05`, `"uncertainty_ph":0.1`},
		{`"wanted_ph":5.2`, `"wanted_ph":5.3`},
	})
	membersAreRead(t, pathCultureDose, goodDose, []change{
		{`"value":12,"unit":"kg"`, `"value":12,"unit":"lb"`},
		{`"activity_cfu_per_g":2e10`, `"activity_cfu_per_g":1e10`},
		{`"target_cfu_per_g":1e6`, `"target_cfu_per_g":2e6`},
		{`,"target_cfu_per_g":1e6`, ``},
		{`"target_cfu_per_g":1e6`, `"amount":{"value":1,"unit":"g"}`},
		{`"target_cfu_per_g":1e6`, `"spoons":{"value":1,"unit":"tsp"}`},
		{`"target_cfu_per_g":1e6`, `"dose_g_per_kg":0.1`},
		{`"value":30,"unit":"mL"`, `"value":30,"unit":"tbsp"`},
		{`,"rehydration_water":{"value":30,"unit":"mL"}`, ``},
	})
}

func TestAcidFaults(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, path, good, old, with string
		want                        refused
	}{
		{"neither", pathAcid, goodMixture, `"mixture":{"lean_percent":75,"sugars":[{"material":"dextrose-monohydrate","rate":{"value":2,"unit":"g_per_kg"}}],"species":["latilactobacillus-sakei"]},`, ``, invalid("# oneOf")},
		{"lean and fat", pathAcid, goodMixture, `"lean_percent":75`, `"lean_percent":75,"fat_percent":25`, invalid("#/mixture oneOf")},
		{"uncertain of nothing", pathAcid, goodMixture, `"start_ph":5.8,`, ``, invalid("#/uncertainty_ph additional-member")},
		{"no sugar", pathAcid, goodMixture, `dextrose-monohydrate`, `salt-table`, invalid("#/mixture/sugars/0/material wrong-role")},
		{"no material", pathAcid, goodMixture, `dextrose-monohydrate`, `no-such`, invalid("#/mixture/sugars/0/material unknown-material")},
		{"a mass for no meat", pathAcid, goodMixture, `"unit":"g_per_kg"`, `"unit":"oz"`, invalid("#/mixture/sugars/0/rate/per required")},
		{"more sugar than meat ten times", pathAcid, goodMixture, `"value":2,"unit":"g_per_kg"`, `"value":11000,"unit":"g_per_kg"`, invalid("#/mixture/sugars/0/rate/value maximum")},
		{"two doses", pathCultureDose, goodDose, `"target_cfu_per_g":1e6`, `"target_cfu_per_g":1e6,"dose_g_per_kg":1`, invalid("# oneOf")},
		{"a target of no cells", pathCultureDose, goodDose, `"activity_cfu_per_g":2e10,`, ``, invalid("#/activity_cfu_per_g required")},
		{"half of it culture", pathCultureDose, goodDose, `"target_cfu_per_g":1e6`, `"amount":{"value":7,"unit":"kg"}`, invalid("#/batch minimum")},
		{"half of it water", pathCultureDose, goodDose, `"value":30,"unit":"mL"`, `"value":7,"unit":"L"`, invalid("#/rehydration_water maximum")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: tc.path, Body: instead(t, tc.good, tc.old, tc.with), Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
}

// Orders at the ends of what the contract allows have an answer that keeps the
// contract, or a problem: never an error of ours.
func TestExtremeAcid(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	post := func(path, body string) {
		t.Helper()
		if a := client.Post(t, path, []byte(body)); a.Status != http.StatusOK && a.Status != http.StatusUnprocessableEntity {
			t.Errorf("status %d for %.300s: %s", a.Status, body, a.Body)
		}
	}
	for _, mass := range []string{`{"value":1e6,"unit":"kg"}`, `{"value":1e-6,"unit":"mg"}`} {
		for _, rate := range []string{`{"value":9999,"unit":"g_per_kg"}`, `{"value":1e-6,"unit":"mg_per_kg"}`, `{"value":89,"unit":"percent","base":"batch"}`, `{"value":1e-6,"unit":"tsp","per":{"value":1e6,"unit":"kg"}}`} {
			for _, meat := range []string{`"lean_percent":1`, `"lean_percent":100`, `"fat_percent":99`} {
				for _, start := range []string{``, `,"start_ph":4.5,"uncertainty_ph":1`, `,"start_ph":7.5,"uncertainty_ph":1`} {
					for _, wanted := range []string{`4`, `6`} {
						post(pathAcid, `{"mixture":{`+meat+`,"sugars":[{"material":"lactose-monohydrate","rate":`+rate+`}]},"meat":`+mass+start+`,"wanted_ph":`+wanted+`}`)
					}
				}
			}
		}
		for _, dose := range []string{``, `,"amount":{"value":1e-6,"unit":"mg"}`, `,"spoons":{"value":1e-6,"unit":"mL"}`, `,"dose_g_per_kg":500`, `,"dose_g_per_kg":1e-300`} {
			for _, activity := range []string{``, `,"activity_cfu_per_g":1e13`, `,"activity_cfu_per_g":1e-300`} {
				post(pathCultureDose, `{"batch":`+mass+dose+activity+`,"rehydration_water":{"value":1e-6,"unit":"mL"}}`)
			}
		}
	}
	spoon := `{"role":"sugar","name":"%d","material":"lactose-monohydrate","rate":{"value":1,"unit":"tsp","per":{"value":5,"unit":"kg"}}}`
	var many []string
	for i := range 100 {
		many = append(many, fmt.Sprintf(spoon, i))
	}
	post(pathAcid, `{"formula":{"name":"Test (invented)","product":"dry-sausage","parts":[{"material":"pork-leg-lean-only","share_percent":100}],"additions":[`+strings.Join(many, ",")+`]}}`)
}
