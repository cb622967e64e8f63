package api

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// update rewrites the layout of the examples. A figure that changes by it has to
// be checked against its outside source again; the sources stand in the tests
// below.
var update = flag.Bool("update", false, "write the answers of the service into the examples of the contract")

// near lets the last shown digit differ: the fused multiply-add of some
// processors rounds differently.
var near = cmpopts.EquateApprox(2e-6, 0)

// nearFit lets differ what a fit makes of that: the fourth digit, and some
// minutes of an instant.
var nearFit = cmp.Options{
	cmpopts.EquateApprox(1e-3, 1e-3),
	cmp.FilterValues(func(a, b string) bool { return instantOf(a) != nil && instantOf(b) != nil }, cmp.Comparer(func(a, b string) bool {
		return instantOf(a).Sub(*instantOf(b)).Abs() <= 5*time.Minute
	})),
}

// instantOf returns nil for what is no instant.
func instantOf(text string) *time.Time {
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return nil
	}
	return &at
}

// example is a file of openapi/examples.
type example struct {
	Summary     string          `json:"summary"`
	Description string          `json:"description,omitempty"` // how the main figures of an answer were checked
	Value       json.RawMessage `json:"value"`
}

func exampleFile(name string) string { return "../openapi/examples/" + name + ".json" }

func readExample(t *testing.T, name string) example {
	t.Helper()
	text, err := os.ReadFile(exampleFile(name))
	if err != nil {
		t.Fatal(err)
	}
	var e example
	if err := json.Unmarshal(text, &e); err != nil {
		t.Fatal(err)
	}
	return e
}

// golden holds an answer against the example of the contract, within a tolerance.
func golden(t *testing.T, name string, a apitest.Answer, within cmp.Option) {
	t.Helper()
	goldenStatus(t, name, a, http.StatusOK, within)
}

// goldenStatus is golden for an answer of another status.
func goldenStatus(t *testing.T, name string, a apitest.Answer, status int, within cmp.Option) {
	t.Helper()
	if a.Status != status {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	want := readExample(t, name)
	if want.Description == "" {
		t.Errorf("%s does not say how its figures were checked", name)
	}
	if *update {
		text, err := json.MarshalIndent(example{Summary: want.Summary, Description: want.Description, Value: a.Body}, "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(exampleFile(name), append(text, '\n'), 0o600); err != nil {
			t.Fatal(err)
		}
		return
	}
	var w, g any
	if err := json.Unmarshal(want.Value, &w); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(a.Body, &g); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(w, g, within); d != "" {
		t.Errorf("%s (-want +got):\n%s", name, d)
	}
}

func TestExamplesOfFormulas(t *testing.T) {
	t.Parallel()
	for name, path := range map[string]string{
		"scale-five-pounds": pathScale, "scale-undiluted-nitrite": pathScale, "scale-finished-mass": pathScale,
		"check-one-kilogram": pathCheck, "check-undiluted-nitrite": pathCheck, "check-spoons": pathCheck,
		"check-skin-on-bacon": pathCheck, "check-pumped-ham": pathCheck, "check-nitrite-salt-alone": pathCheck,
		"check-planned-freezing": pathCheck, "check-wild-boar": pathCheck, "check-low-acid": pathCheck,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, path, readExample(t, name+".request").Value), near)
		})
	}
}

// The weigh sheet of the example scale-five-pounds, by hand. 5 lb are 2267.96 g:
// 80 % are 1814.37, on the scale 1814 g, and 20 % are 453.59, on the scale 454 g,
// so 2268 g of meat. Salt 2.6 % is 58.968; cure 2.5 g/kg is 5.67, rounded down;
// dextrose 0.5 % 11.34; pepper 0.3 % 6.804; garlic 0.1 % 2.268; water half a US
// cup of 236.588 mL for 5 lb is 118.3 mL of 0.9985 g/mL, 118.1 g.
func TestFivePounds(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.ScaleAnswer](t, testClient(t).Post(t, pathScale, readExample(t, "scale-five-pounds.request").Value))
	var got []string
	for _, l := range a.WeighSheet.Lines {
		if l.OnScale != nil {
			got = append(got, fmt.Sprintf("%s %v %s", l.Role, l.OnScale.Value, l.OnScale.Unit))
		} else {
			got = append(got, fmt.Sprintf("%s %v %s", l.Role, l.Spoons.Value, l.Spoons.Unit))
		}
	}
	want := []string{
		"meat 1814 g", "meat 454 g", "salt 59 g", "cure 5.6 g", "sugar 11.3 g", "spice 6.8 g", "spice 2.3 g",
		"rehydration-water 118.1 g", "culture 0.25 tsp",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("weigh sheet (-want +got):\n%s", d)
	}
	// 59/2268 and, at 40 % loss, 0.6 of the batch.
	if l := a.WeighSheet.Lines[2]; math.Abs(l.OfMeatPercent-2.60141) > 1e-5 {
		t.Errorf("want 2.60141 %% of salt on the meat, got %v", l.OfMeatPercent)
	}
	if want, got := 0.6*2.4718, a.WeighSheet.ExpectedFinished.Value; math.Abs(want-got) > 1e-5 {
		t.Errorf("want %v kg finished, got %v", want, got)
	}
}

// US units for the answer: ounces below a pound and pounds above, exact by NIST
// SP 811; the scale keeps its own unit.
func TestUnitsOfTheAnswer(t *testing.T) {
	t.Parallel()
	body := []byte(`{"formula":{"name":"u","product":"dry-sausage","parts":[{"material":"beef-ground-80-20","share_percent":100}],
		"additions":[{"role":"salt","material":"salt-table","rate":{"value":2.5,"unit":"percent"}}]},
		"amount":{"meat":{"value":4,"unit":"lb"}},"scale":[{"division":{"value":0.05,"unit":"oz"}}]}`)
	a := apitest.Decode[openapi.ScaleAnswer](t, testClient(t).Post(t, pathScale+"?units=us", body))
	salt := a.WeighSheet.Lines[1]
	if d := cmp.Diff(openapi.Mass{Value: 1.6, Unit: "oz"}, *salt.OnScale); d != "" { // 2.5 % of 64 oz
		t.Errorf("on the scale (-want +got):\n%s", d)
	}
	if d := cmp.Diff(openapi.Mass{Value: 4, Unit: "lb"}, a.WeighSheet.Meat, near); d != "" {
		t.Errorf("meat (-want +got):\n%s", d)
	}
	if d := cmp.Diff(openapi.Mass{Value: 0.05, Unit: "oz"}, *salt.Division); d != "" {
		t.Errorf("division (-want +got):\n%s", d)
	}
	metric := apitest.Decode[openapi.ScaleAnswer](t, testClient(t).Post(t, pathScale, body))
	if d := cmp.Diff(openapi.Mass{Value: 1.81437, Unit: "kg"}, metric.WeighSheet.Meat, near); d != "" {
		t.Errorf("meat, metric (-want +got):\n%s", d)
	}
}

// A check without an amount is of the formula as written, for one kilogram and
// unrounded; without a date it is of today.
func TestCheckAsWritten(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.CheckAnswer](t, testClient(t).Post(t, pathCheck, replace(t, `,"date":"2026-11-25"`, "")))
	if a.CheckedAs != openapi.CheckAnswerCheckedAsAsWritten || a.Date.String() != "2026-11-25" {
		t.Errorf("want as written on 2026-11-25, got %s on %s", a.CheckedAs, a.Date)
	}
	if d := cmp.Diff(openapi.Mass{Value: 1, Unit: "kg"}, a.Meat); d != "" {
		t.Errorf("meat (-want +got):\n%s", d)
	}
	i := slices.IndexFunc(a.Findings, func(f openapi.Finding) bool { return f.LimitID != nil && *f.LimitID == "us-nitrite-comminuted" })
	if i < 0 || a.Findings[i].Status != openapi.FindingStatusMet || a.Findings[i].Measured.Value != 156.25 {
		t.Errorf("want 156.25 met, got %+v", a.Findings[i])
	}
	if d := cmp.Diff([]string{"#/formula/additions/0"}, a.Findings[i].Pointers); d != "" {
		t.Errorf("pointers (-want +got):\n%s", d)
	}
}

func TestNoAnswerSaysSafe(t *testing.T) {
	t.Parallel()
	for _, path := range orderPaths {
		for name, body := range requestExamples(t, path) {
			a := testClient(t).Post(t, path, body)
			text := strings.ReplaceAll(string(a.Body), "Nothing here says that food is safe to eat", "")
			if strings.Contains(strings.ToLower(text), "is safe") {
				t.Errorf("%s, %s claims safety", path, name)
			}
			if !strings.Contains(text, "Local codes and licensed practice decide") {
				t.Errorf("%s, %s lacks the deferral", path, name)
			}
		}
	}
}

// One row for each member that the mapping reads, with what it changes in the
// answer.
func TestEveryMemberIsRead(t *testing.T) {
	t.Parallel()
	const good = `{"formula":{"name":"Test","product":"dry-sausage","parts":[{"name":"Lean","material":"pork-leg-lean-only","share_percent":80},{"material":"pork-backfat","share_percent":20}],` +
		`"additions":[{"role":"salt","material":"salt-table","rate":{"value":2.5,"unit":"percent","base":"meat"}},` +
		`{"role":"cure","name":"Own","cure":{"assay":{"sodium_nitrite_percent":5,"potassium_nitrite_percent":1,"sodium_nitrate_percent":2,"potassium_nitrate_percent":3,"salt_percent":80}},"rate":{"value":1,"unit":"g","per":{"value":1,"unit":"kg"}}},` +
		`{"role":"culture","name":"C","culture":{"label_dose_g_per_kg":0.2},"rate":{"value":0.2,"unit":"g_per_kg"},"rehydration_water":{"value":5,"unit":"mL","per":{"value":1,"unit":"kg"}}}],` +
		`"plan":{"loss_percent":40,"label_keep_refrigerated":true}},` +
		`"amount":{"meat":{"value":10,"unit":"kg"}},"scale":[{"up_to":{"value":100,"unit":"g"},"division":{"value":0.01,"unit":"g"}},{"division":{"value":1,"unit":"g"}}],"rulebooks":["us","eu"],"date":"2026-11-25"}`
	membersAreRead(t, pathCheck, good, []change{
		{`"product":"dry-sausage"`, `"product":"cooked-sausage"`},
		{`"value":2.5,"unit":"percent","base":"meat"`, `"value":2.4,"unit":"percent","base":"meat"`},
		{`"value":2.5,"unit":"percent","base":"meat"`, `"value":2.5,"unit":"g_per_kg","base":"meat"`},
		{`"value":2.5,"unit":"percent","base":"meat"`, `"value":2.5,"unit":"percent","base":"batch"`},
		{`"role":"salt","material":"salt-table"`, `"role":"sugar","material":"dextrose-monohydrate"`},
		{`"role":"salt","material":"salt-table"`, `"role":"other","name":"mix"`},
		{`"role":"salt","material":"salt-table"`, `"role":"other","name":"mix","brings_none":true`},
		{`"sodium_nitrite_percent":5`, `"sodium_nitrite_percent":4`},
		{`"potassium_nitrite_percent":1`, `"potassium_nitrite_percent":2`},
		{`"sodium_nitrate_percent":2`, `"sodium_nitrate_percent":1`},
		{`"potassium_nitrate_percent":3`, `"potassium_nitrate_percent":1`},
		{`"salt_percent":80`, `"salt_percent":70`},
		{`"cure":{"assay":{"sodium_nitrite_percent":5,"potassium_nitrite_percent":1,"sodium_nitrate_percent":2,"potassium_nitrate_percent":3,"salt_percent":80}}`, `"cure":{"key":"cure-1"}`},
		{`"value":1,"unit":"g","per":{"value":1,"unit":"kg"}`, `"value":2,"unit":"g","per":{"value":1,"unit":"kg"}`},
		{`"value":1,"unit":"g","per":{"value":1,"unit":"kg"}`, `"value":1,"unit":"g","per":{"value":1,"unit":"lb"}`},
		{`"label_dose_g_per_kg":0.2`, `"label_dose_g_per_kg":0.3`},
		{`"label_dose_g_per_kg":0.2`, `"activity_cfu_per_g":1e10`},
		{`"value":0.2,"unit":"g_per_kg"`, `"value":300,"unit":"mg_per_kg"`},
		{`"value":5,"unit":"mL"`, `"value":1,"unit":"floz"`},
		{`"label_keep_refrigerated":true`, `"label_keep_refrigerated":false`},
		{`"meat":{"value":10,"unit":"kg"}`, `"meat":{"value":10,"unit":"lb"}`},
		{`"meat":{"value":10,"unit":"kg"}`, `"batch":{"value":10,"unit":"kg"}`},
		{`"meat":{"value":10,"unit":"kg"}`, `"finished":{"value":10,"unit":"kg"}`},
		{`"value":0.01,"unit":"g"`, `"value":0.5,"unit":"g"`},
		{`"up_to":{"value":100,"unit":"g"}`, `"up_to":{"value":1,"unit":"g"}`},
		{`"rulebooks":["us","eu"]`, `"rulebooks":["us"]`},
		{`"date":"2026-11-25"`, `"date":"2025-10-08"`},
	})
}

// The members that a product in a pickle, of a name or with a stated culture
// has.
func TestEveryMemberOfAPickleIsRead(t *testing.T) {
	t.Parallel()
	const good = `{"formula":{"name":"Test","product":"pumped-bacon","pickle":{"method":"pumped","uptake_percent":10,"density_kg_per_m3":1100},` +
		`"parts":[{"material":"pork-belly","share_percent":100,"skin_on":true}],` +
		`"additions":[{"role":"liquid","material":"water","rate":{"value":1000,"unit":"g_per_kg"}},` +
		`{"role":"accelerator","material":"sodium-acid-pyrophosphate","rate":{"value":1,"unit":"g_per_kg"}},` +
		`{"role":"accelerator","material":"ascorbic-acid","rate":{"value":1,"unit":"g_per_kg"}},` +
		`{"role":"cure","cure":{"key":"cure-1"},"rate":{"value":20,"unit":"g_per_kg"}}]},"rulebooks":["us"],"date":"2026-11-25"}`
	membersAreRead(t, pathCheck, good, []change{
		{`"product":"pumped-bacon"`, `"product":"immersion-cured-bacon"`},
		{`"method":"pumped","uptake_percent":10`, `"method":"immersion-equilibrium"`},
		{`"uptake_percent":10`, `"uptake_percent":12`},
		{`,"skin_on":true`, `,"skin_on":false`},
		{`"formula":{`, `"formula":{"home_cure":true,`},
	})
	membersAreRead(t, pathCheck, strings.NewReplacer("pumped-bacon", "pumped-muscle", `,"skin_on":true`, "").Replace(good), []change{
		{`"density_kg_per_m3":1100`, `"density_kg_per_m3":1200`},
	})
	membersAreRead(t, pathCheck, strings.NewReplacer(
		`"dry-sausage"`, `"traditional-product","traditional_name":"czech-slovak-dried-sausage"`, `["us"]`, `["eu"]`,
	).Replace(goodCheck), []change{
		{`czech-slovak-dried-sausage`, `soft-spreadable-sausage`},
	})
	const culture = `{"formula":{"name":"Test","product":"dry-sausage","parts":[{"material":"pork-leg-lean-only","share_percent":100}],` +
		`"additions":[{"role":"culture","name":"C","culture":{"species":["pediococcus-acidilactici"]},"rate":{"value":0.2,"unit":"g_per_kg"}}],` +
		`"plan":{"wanted_ph":5.2,"fermentation":[{"temperature":{"value":20,"unit":"degC"}}]}},"rulebooks":["us"],"date":"2026-11-25"}`
	membersAreRead(t, pathCheck, culture, []change{
		{`"pediococcus-acidilactici"`, `"staphylococcus-xylosus"`},
		{`"wanted_ph":5.2`, `"wanted_ph":5.0`},
		{`"value":20,"unit":"degC"`, `"value":20,"unit":"degF"`},
	})
}

// Only the findings of the statuses asked for are listed; all are counted.
func TestFindingsOfStatuses(t *testing.T) {
	t.Parallel()
	all := apitest.Decode[openapi.CheckAnswer](t, testClient(t).Post(t, pathCheck, []byte(goodCheck)))
	some := apitest.Decode[openapi.CheckAnswer](t, testClient(t).Post(t, pathCheck+"?statuses=not-met,met", []byte(goodCheck)))
	want := slices.DeleteFunc(slices.Clone(all.Findings), func(f openapi.Finding) bool {
		return f.Status != openapi.FindingStatusMet && f.Status != openapi.FindingStatusNotMet
	})
	if len(want) == 0 || len(want) == len(all.Findings) {
		t.Fatalf("the question shows nothing: %d of %d", len(want), len(all.Findings))
	}
	if d := cmp.Diff(want, some.Findings); d != "" {
		t.Errorf("findings (-want +got):\n%s", d)
	}
	if d := cmp.Diff(all.Summary, some.Summary); d != "" {
		t.Errorf("summary (-all +some):\n%s", d)
	}
	none := apitest.Decode[openapi.CheckAnswer](t, testClient(t).Post(t, pathCheck+"?statuses=hazard", []byte(goodCheck)))
	if len(none.Findings) != 0 {
		t.Errorf("want none listed, got %d", len(none.Findings))
	}
	if a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathCheck + "?statuses=passed", Body: []byte(goodCheck), Bad: true}); a.Status != 400 {
		t.Errorf("want 400 for a status that there is not, got %d", a.Status)
	}
}

// The sheet of a pumped ham, by hand: 10 kg of meat at 10 % take up 1 kg of a
// pickle of 1271 g for a kilogram, 12.71 kg; at 20 % planned loss 8.8 kg are
// left of 11.
func TestTheSheetOfAPickle(t *testing.T) {
	t.Parallel()
	question := string(readExample(t, "check-pumped-ham.request").Value)
	question = strings.NewReplacer(`"label_keep_refrigerated": true`, `"loss_percent": 20`, `"rulebooks": [`, `"amount": {"meat": {"value": 10, "unit": "kg"}}, "rulebooks": [`).Replace(question)
	at := strings.Index(question, `"rulebooks"`)
	body := strings.TrimRight(strings.TrimSpace(question[:at]), ",") + "}"
	a := apitest.Decode[openapi.ScaleAnswer](t, testClient(t).Post(t, pathScale, []byte(body)))
	if a.WeighSheet == nil || a.WeighSheet.Pickle == nil {
		t.Fatalf("no pickle in %+v", a)
	}
	want := openapi.WeighedPickle{
		Made: openapi.Mass{Value: 12.71, Unit: "kg"}, TakenUp: &openapi.Mass{Value: 1, Unit: "kg"}, LeftOver: &openapi.Mass{Value: 11.71, Unit: "kg"},
	}
	if d := cmp.Diff(want, *a.WeighSheet.Pickle, near); d != "" {
		t.Errorf("pickle (-want +got):\n%s", d)
	}
	if d := cmp.Diff(openapi.Mass{Value: 8.8, Unit: "kg"}, *a.WeighSheet.ExpectedFinished, near); d != "" {
		t.Errorf("finished (-want +got):\n%s", d)
	}
	// 320 g of cure in 12,710 g.
	i := slices.IndexFunc(a.WeighSheet.Lines, func(l openapi.WeighLine) bool { return l.Role == "cure" })
	if got := *a.WeighSheet.Lines[i].OfPicklePercent; math.Abs(got-2.51770) > 1e-4 {
		t.Errorf("want 2.5177 %% of the pickle, got %v", got)
	}
	if !slices.ContainsFunc(a.Notes, func(n openapi.Note) bool { return n.Code == "pickle" }) {
		t.Errorf("want to be told what the additions are, got %+v", a.Notes)
	}
}

func TestReadingFaults(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, old, with string
		want            []string
	}{
		{"meat as an addition", `"role":"cure","cure":{"key":"cure-1"}`, `"role":"other","material":"pork-backfat"`, []string{"#/formula/additions/0/material is-meat"}},
		{"a curing salt as an addition", `"role":"cure","cure":{"key":"cure-1"}`, `"role":"other","material":"sodium-nitrite"`, []string{"#/formula/additions/0/material is-cure"}},
		{"a spice as meat", `"pork-shoulder-whole-lean-and-fat"`, `"pepper-black"`, []string{"#/formula/parts/0/material not-meat"}},
		{"a finished product as meat", `"pork-shoulder-whole-lean-and-fat"`, `"check-pepperoni"`, []string{"#/formula/parts/0/material not-an-ingredient"}},
		{"an assay over the whole", `{"key":"cure-1"}`, `{"assay":{"sodium_nitrite_percent":60,"salt_percent":60}}`, []string{
			"#/formula/additions/0/cure/assay/salt_percent above-whole", "#/formula/additions/0/cure/assay/sodium_nitrite_percent above-whole",
		}},
		{"an assay of nothing", `{"key":"cure-1"}`, `{"assay":{"salt_percent":60}}`, []string{"#/formula/additions/0/cure/assay/sodium_nitrite_percent no-curing-agent"}},
		{"a pickle of a sausage", `"product":"dry-sausage"`, `"product":"dry-sausage","pickle":{"method":"pumped"}`, []string{
			"#/formula/additions no-liquid", "#/formula/pickle no-pickle", "#/formula/pickle/uptake_percent required",
		}},
		{"an uptake at an equilibrium", `"product":"dry-sausage"`, `"product":"pumped-muscle","pickle":{"method":"immersion-equilibrium","uptake_percent":3}`, []string{
			"#/formula/additions no-liquid", "#/formula/pickle/uptake_percent additional-member",
		}},
		{"a traditional name of what is none", `"product":"dry-sausage"`, `"product":"dry-sausage","traditional_name":"other"`, []string{"#/formula/traditional_name additional-member"}},
		{"sugar as salt", `"role":"cure","cure":{"key":"cure-1"}`, `"role":"salt","material":"sugar-granulated"`, []string{"#/formula/additions/0/material wrong-role"}},
		{"salt as sugar", `"role":"cure","cure":{"key":"cure-1"}`, `"role":"sugar","material":"salt-table"`, []string{"#/formula/additions/0/material wrong-role"}},
		{"a scale with nothing to weigh", `"rulebooks"`, `"scale":[{"division":{"value":1,"unit":"g"}}],"rulebooks"`, []string{"#/scale no-amount"}},
		{"a rulebook twice", `["us"]`, `["us","us"]`, []string{"#/rulebooks/1 duplicate"}},
		{
			"faults of several kinds at once", `"role":"cure","cure":{"key":"cure-1"},"rate":{"value":2.5,"unit":"g_per_kg"}`,
			`"role":"cure","cure":{"key":"no-such"},"rate":{"value":2.5,"unit":"tsp"}`,
			[]string{"#/formula/additions/0/cure/key unknown-cure", "#/formula/additions/0/rate/per required"},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Post(t, pathCheck, replace(t, c.old, c.with))
			if a.Status != 422 {
				t.Fatalf("want 422, got %d: %s", a.Status, a.Body)
			}
			got := a.Pointers()
			slices.Sort(got)
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("violations (-want +got):\n%s", d)
			}
		})
	}
}

// Orders at the ends of what the contract allows have an answer that keeps the
// contract, or a problem: never an error of ours.
func TestExtremeOrders(t *testing.T) {
	t.Parallel()
	for _, rate := range []string{
		`{"value":1000000,"unit":"percent"}`, `{"value":0.000001,"unit":"mg_per_kg"}`, `{"value":99.9999,"unit":"percent","base":"batch"}`,
		`{"value":1000000,"unit":"lb","per":{"value":0.000001,"unit":"mg"}}`, `{"value":1000000,"unit":"cup","per":{"value":0.001,"unit":"g"}}`,
	} {
		for _, amount := range []string{`{"value":1000000,"unit":"lb"}`, `{"value":0.000001,"unit":"mg"}`, `{"value":1,"unit":"g"}`} {
			for _, division := range []string{`{"value":0.000001,"unit":"mg"}`, `{"value":1000000,"unit":"kg"}`} {
				for _, kind := range []string{"meat", "batch", "finished"} {
					body := `{"formula":{"name":"x","product":"dry-sausage","parts":[{"material":"pork-backfat","share_percent":100}],` +
						`"additions":[{"role":"salt","material":"salt-table","rate":` + rate + `},{"role":"cure","cure":{"key":"cure-1"},"rate":{"value":2.5,"unit":"g_per_kg"}}],` +
						`"plan":{"loss_percent":80}},"amount":{"` + kind + `":` + amount + `},"scale":[{"division":` + division + `}]`
					for path, end := range map[string]string{pathScale: `}`, pathCheck: `,"rulebooks":["us","eu","ca"]}`} {
						a := testClient(t).Post(t, path, []byte(body+end))
						if a.Status != 200 && a.Status != 422 {
							t.Errorf("%s: status %d for %s: %s", path, a.Status, body, a.Body)
						}
					}
				}
			}
		}
	}
}
