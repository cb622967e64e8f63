package api

import (
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// Each answer says in its description how it was checked by hand.
func TestExamplesOfFinish(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"finish-core-and-rim", "finish-at-home", "finish-dry-rim"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathFinish, readExample(t, name+".request").Value), near)
		})
	}
}

// goodFinish is an order with every member but those that exclude others, of
// invented values.
const goodFinish = `{"formula":{"name":"Test stick (invented)","product":"dry-sausage",` +
	`"parts":[{"material":"pork-shoulder-whole-lean-and-fat","share_percent":100}],` +
	`"additions":[{"role":"salt","material":"salt-table","rate":{"value":27,"unit":"g_per_kg"}},{"role":"cure","cure":{"key":"cure-1"},"rate":{"value":2.4,"unit":"g_per_kg"}}],` +
	`"plan":{"loss_percent":35}},` +
	`"carried_out":{"freezing":[{"temperature":{"value":-18,"unit":"degC"},"days":24,"thickness":{"value":90,"unit":"mm"}}]},` +
	`"rulebooks":["us","eu","ca"],"date":"2026-11-25","identity":"dry-sausage",` +
	`"water_activity":[{"water_activity":0.849,"uncertainty_water_activity":0.002,"method":"meter","place":"core","when":"finished","piece":"a","at":"2026-11-24T10:00:00Z"},` +
	`{"water_activity":0.84,"method":"meter","place":"rim","piece":"a","temperature":{"value":25,"unit":"degC"},"equilibrated":true,"at":"2026-11-24T11:00:00Z"}],` +
	`"ph":[{"ph":4.95,"uncertainty_ph":0.04,"method":"laboratory","place":"core","when":"finished","piece":"a","at":"2026-11-24T12:00:00Z"},` +
	`{"ph":4.9,"method":"meter","place":"rim","piece":"a","at":"2026-11-24T13:00:00Z"}],` +
	`"analyses":[{"method":"laboratory","place":"mixed","piece":"a","moisture_percent":35,"uncertainty_moisture_percent":0.4,"protein_percent":22,"uncertainty_protein_percent":0.3,` +
	`"salt_percent":4,"uncertainty_salt_percent":0.15,"fat_percent":33}],` +
	`"weights":[{"piece":"a","green":{"value":600,"unit":"g"},"now":{"value":390,"unit":"g"},"division":{"value":1,"unit":"g"}}],` +
	`"stated_fermentation":{"degf_hours":500,"highest_temperature":{"value":22,"unit":"degC"},"ph":5.2,"uncertainty_ph":0.06},` +
	`"residual_nitrite":{"amount_mg_per_kg":61,"uncertainty_mg_per_kg":4,"species":"NaNO2"},` +
	`"laboratory":[{"of":"staphylococcus-aureus","found":true,"count_cfu_per_g":900,"samples_count":5,"report":"L-17"},{"of":"salmonella","found":false,"samples_count":5}],` +
	`"packaging":{"intact":false,"vacuum":true,"sliced":true},"smoked":true,` +
	`"storage":{"refrigerated":false,"temperature":{"value":6,"unit":"degC"},"temperature_uncertainty":{"value":0.4,"unit":"degC"}},"since_stuffing_days":40}`

func TestEveryMemberOfFinishIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathFinish, goodFinish, []change{
		{`"product":"dry-sausage"`, `"product":"cooked-sausage"`},
		{`"loss_percent":35`, `"loss_percent":36`},
		{`"days":24`, `"days":14`},
		{`["us","eu","ca"]`, `["us","eu"]`},
		{`"date":"2026-11-25"`, `"date":"2024-11-25"`},
		{`"identity":"dry-sausage"`, `"identity":"pepperoni"`},
		{`"water_activity":0.849,`, `"water_activity":0.846,`},
		{`"uncertainty_water_activity":0.002`, `"uncertainty_water_activity":0.001`},
		{`0.002,"method":"meter"`, `0.002,"method":"estimate"`},
		{`"method":"meter","place":"core"`, `"method":"meter","place":"rim"`},
		{`"place":"core","when":"finished","piece":"a","at":"2026-11-24T10:00:00Z"`, `"place":"core","when":"after-fermentation","piece":"a","at":"2026-11-24T10:00:00Z"`},
		{`"piece":"a","at":"2026-11-24T10:00:00Z"`, `"piece":"b","at":"2026-11-24T10:00:00Z"`},
		{`"water_activity":0.84,"method":"meter"`, `"water_activity":0.84,"method":"strip"`},
		{`"value":25,"unit":"degC"},"equilibrated":true`, `"value":8,"unit":"degC"},"equilibrated":true`},
		{`"equilibrated":true`, `"equilibrated":false`},
		{`"ph":4.95,`, `"ph":4.85,`},
		{`"uncertainty_ph":0.04`, `"uncertainty_ph":0.08`},
		{`"method":"laboratory","place":"core"`, `"method":"estimate","place":"core"`},
		{`"laboratory","place":"core"`, `"laboratory","place":"mixed"`},
		{`"when":"finished","piece":"a","at":"2026-11-24T12:00:00Z"`, `"when":"after-fermentation","piece":"a","at":"2026-11-24T12:00:00Z"`},
		{`"piece":"a","at":"2026-11-24T12:00:00Z"`, `"piece":"b","at":"2026-11-24T12:00:00Z"`},
		{`"ph":4.9,"method":"meter"`, `"ph":4.9,"method":"strip"`},
		{`"laboratory","place":"mixed"`, `"laboratory","place":"rim"`},
		{`"moisture_percent":35,`, `"moisture_percent":36,`},
		{`"uncertainty_moisture_percent":0.4`, `"uncertainty_moisture_percent":0.5`},
		{`"protein_percent":22,`, `"protein_percent":21,`},
		{`"uncertainty_protein_percent":0.3`, `"uncertainty_protein_percent":0.4`},
		{`"salt_percent":4,`, `"salt_percent":3.9,`},
		{`"uncertainty_salt_percent":0.15`, `"uncertainty_salt_percent":0.2`},
		{`"value":600,"unit":"g"`, `"value":610,"unit":"g"`},
		{`"value":390,"unit":"g"`, `"value":391,"unit":"g"`},
		{`"division":{"value":1,"unit":"g"}`, `"division":{"value":5,"unit":"g"}`},
		{`"degf_hours":500`, `"degc_hours":500`},
		{`"degf_hours":500`, `"degf_hours":1100`},
		{`"highest_temperature":{"value":22,`, `"highest_temperature":{"value":41,`},
		{`"ph":5.2,"uncertainty_ph":0.06`, `"ph":5.25,"uncertainty_ph":0.06`},
		{`"uncertainty_ph":0.06`, `"uncertainty_ph":0.2`},
		{`"amount_mg_per_kg":61`, `"amount_mg_per_kg":62`},
		{`"uncertainty_mg_per_kg":4`, `"uncertainty_mg_per_kg":40`},
		{`"species":"NaNO2"`, `"species":"NO2-ion"`},
		{`"of":"staphylococcus-aureus"`, `"of":"listeria-monocytogenes"`},
		{`"of":"salmonella","found":false`, `"of":"salmonella","found":true`},
		{`"count_cfu_per_g":900`, `"count_cfu_per_g":90000`},
		{`false,"samples_count":5`, `false,"samples_count":3`},
		{`"report":"L-17"`, `"report":"L-18"`},
		{`"intact":false,"vacuum":true,"sliced":true`, `"intact":false,"vacuum":false,"sliced":true`},
		{`"vacuum":true,"sliced":true`, `"sliced":true`},
		{`"smoked":true`, `"smoked":false`},
		{`"refrigerated":false`, `"refrigerated":true`},
		{`"temperature":{"value":6,`, `"temperature":{"value":5,`},
		{`"temperature_uncertainty":{"value":0.4,`, `"temperature_uncertainty":{"value":0.3,`},
	})
	whole := strings.Replace(goodFinish, `"vacuum":true,"sliced":true`, `"sliced":false`, 1)
	membersAreRead(t, pathFinish, whole, []change{{`"intact":false`, `"intact":true`}})
	named := strings.NewReplacer(`"product":"dry-sausage"`, `"product":"traditional-product","traditional_name":"saucisson-sec"`).Replace(goodFinish)
	membersAreRead(t, pathFinish, named, []change{{`"since_stuffing_days":40`, `"since_stuffing_days":14`}, {`"traditional_name":"saucisson-sec"`, `"traditional_name":"other"`}})
	early := strings.NewReplacer(`"2026-11-24T11:00:00Z"`, `"2026-11-24T09:00:00Z"`, `"place":"rim"`, `"place":"core"`).Replace(goodFinish)
	membersAreRead(t, pathFinish, early, []change{{`"2026-11-24T09:00:00Z"`, `"2026-11-24T13:00:00Z"`}, {`"2026-11-24T12:00:00Z"`, `"2026-11-24T14:00:00Z"`}})
}

// The course of a fermentation is read as by /v1/fermentation/degree-hours, and
// pointed to where it stands.
func TestFinishReadsACourse(t *testing.T) {
	t.Parallel()
	body := `{"rulebooks":["ca"],"fermentation":{"steps":[{"temperature":{"value":24,"unit":"degC"},"hours":40}],"ph_readings":[{"ph":5.1,"after_hours":30}]}}`
	answer := apitest.Decode[openapi.FinishAnswer](t, testClient(t).Post(t, pathFinish, []byte(body)))
	i := slices.IndexFunc(answer.Findings, func(f openapi.Finding) bool { return f.Code == "degree-hours" })
	if i < 0 {
		t.Fatal("no finding on degree-hours")
	}
	// (24 - 15.6) * 30 = 252 °C h of 665.
	f := answer.Findings[i]
	if f.Status != openapi.FindingStatusMet || f.Measured.Value != 252 || !slices.Equal(f.Pointers, []openapi.Pointer{"#/fermentation/steps", "#/fermentation/ph_readings/0"}) {
		t.Errorf("got %+v", f)
	}
	membersAreRead(t, pathFinish, body, []change{{`"value":24`, `"value":26`}, {`"after_hours":30`, `"after_hours":31`}, {`"ph":5.1`, `"ph":5.5`}})
}

func TestFinishFaults(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, body string
		want       refused
	}{
		{"nothing asked", `{}`, invalid("#/rulebooks required")},
		{"a rulebook twice", `{"rulebooks":["us","eu","us"]}`, invalid("#/rulebooks/2 duplicate")},
		{"water activity in percent", `{"rulebooks":["us"],"water_activity":[{"water_activity":85,"method":"meter"}]}`, invalid("#/water_activity/0/water_activity maximum")},
		{"no method", `{"rulebooks":["us"],"ph":[{"ph":5}]}`, invalid("#/ph/0/method required")},
		{"a place that is none", `{"rulebooks":["us"],"ph":[{"ph":5,"method":"meter","place":"end"}]}`, invalid("#/ph/0/place enum")},
		{"a moment of another age", `{"rulebooks":["us"],"ph":[{"ph":5,"method":"meter","at":"0026-11-25T10:00:00Z"}],` +
			`"water_activity":[{"water_activity":0.9,"method":"meter","at":"0026-11-25T10:00:00Z"}]}`, invalid("#/ph/0/at out-of-range", "#/water_activity/0/at out-of-range")},
		{"a scale for a pH", `{"rulebooks":["us"],"ph":[{"ph":5,"method":"scale"}],"water_activity":[{"water_activity":0.9,"method":"scale"}]}`,
			invalid("#/ph/0/method enum", "#/water_activity/0/method enum")},
		{"nothing analysed", `{"rulebooks":["us"],"analyses":[{"method":"laboratory"}]}`, invalid("#/analyses/0 required")},
		{"off by, of nothing", `{"rulebooks":["us"],"analyses":[{"method":"laboratory","fat_percent":30,"uncertainty_salt_percent":0.2}]}`,
			invalid("#/analyses/0/uncertainty_salt_percent additional-member")},
		{"more than all", `{"rulebooks":["us"],"analyses":[{"method":"laboratory","moisture_percent":60,"protein_percent":30,"fat_percent":20}]}`, invalid("#/analyses/0 maximum")},
		{"no green weight", `{"rulebooks":["us"],"weights":[{"green":{"value":0,"unit":"g"},"now":{"value":300,"unit":"g"}}]}`, invalid("#/weights/0/green/value minimum")},
		{"both rules", `{"rulebooks":["us"],"stated_fermentation":{"degf_hours":500,"degc_hours":300,"highest_temperature":{"value":22,"unit":"degC"},"ph":5.2}}`,
			invalid("#/stated_fermentation oneOf")},
		{"course and result", `{"rulebooks":["us"],"stated_fermentation":{"degf_hours":500,"highest_temperature":{"value":22,"unit":"degC"},"ph":5.2},` +
			`"fermentation":{"steps":[{"temperature":{"value":22,"unit":"degC"},"hours":9}]}}`, invalid("#/stated_fermentation oneOf")},
		{"a course without a temperature", `{"rulebooks":["us"],"fermentation":{}}`, invalid("#/fermentation oneOf")},
		{"an oven", `{"rulebooks":["us","ca"],"fermentation":{"steps":[{"temperature":{"value":200,"unit":"degC"},"hours":9}]}}`, invalid("#/fermentation/steps/0/temperature out-of-range")},
		{"a pH out of order", `{"rulebooks":["us"],"fermentation":{"steps":[{"temperature":{"value":22,"unit":"degC"},"hours":9}],"ph_readings":[{"ph":5.5,"after_hours":8},{"ph":5.6,"after_hours":2}]}}`,
			invalid("#/fermentation/ph_readings/1/after_hours out-of-order")},
		{"done of no formula", `{"rulebooks":["us"],"carried_out":{"loss_percent":30}}`, invalid("#/carried_out additional-member")},
		{"whole and sliced", `{"rulebooks":["us"],"packaging":{"intact":true,"sliced":true}}`, invalid("#/packaging/intact oneOf")},
		{"an uncertainty of no temperature", `{"rulebooks":["us"],"storage":{"temperature_uncertainty":{"value":1,"unit":"degC"}}}`, invalid("#/storage/temperature_uncertainty additional-member")},
		{"a poison that is none", `{"rulebooks":["us"],"laboratory":[{"of":"mould","found":true}]}`, invalid("#/laboratory/0/of enum")},
		{"shares that make no whole", string(instead(t, goodFinish, `"share_percent":100`, `"share_percent":50`)), invalid("#/formula/parts sum")},
		{"an unknown member", `{"rulebooks":["us"],"aw":0.9}`, invalid("#/aw additional-member")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathFinish, Body: []byte(tc.body), Bad: true})
			if diff := cmp.Diff(tc.want, refusedBy(a), cmp.AllowUnexported(refused{})); diff != "" {
				t.Errorf("(-want +got)\n%s\n%s", diff, a.Body)
			}
		})
	}
}

// No answer says that food is safe, and each carries the cautions.
func TestFinishNeverSaysSafe(t *testing.T) {
	t.Parallel()
	for _, body := range []string{goodFinish, `{"rulebooks":["br"]}`} {
		a := testClient(t).Post(t, pathFinish, []byte(body))
		answer := apitest.Decode[openapi.FinishAnswer](t, a)
		if len(answer.Cautions) < 2 || answer.Cautions[0] != notSafe || answer.Cautions[1] != localCodes {
			t.Error("the cautions are not there")
		}
		rest := strings.ReplaceAll(strings.ReplaceAll(string(a.Body), notSafe, ""), localCodes, "")
		rest = strings.ReplaceAll(rest, "Food Safety", "")
		if i := strings.Index(strings.ToLower(rest), " safe "); i >= 0 {
			t.Errorf("it says safe: %s", rest[max(0, i-60):i+20])
		}
	}
}

// Every pointer of an answer leads to a member of the question.
func TestFinishPointsIntoTheQuestion(t *testing.T) {
	t.Parallel()
	var question any
	if err := json.Unmarshal([]byte(goodFinish), &question); err != nil {
		t.Fatal(err)
	}
	answer := apitest.Decode[openapi.FinishAnswer](t, testClient(t).Post(t, pathFinish, []byte(goodFinish)))
	var all []openapi.Pointer
	for _, f := range answer.Findings {
		all = append(all, f.Pointers...)
	}
	for _, tree := range answer.Trees {
		for _, n := range tree.Nodes {
			all = append(all, n.Pointers...)
		}
	}
	for _, o := range answer.Organisms {
		for _, f := range o.Findings {
			all = append(all, f.Pointers...)
		}
	}
	if len(all) < 50 {
		t.Fatalf("only %d pointers", len(all))
	}
	for _, p := range all {
		at := question
		for _, step := range strings.Split(p, "/")[1:] {
			switch v := at.(type) {
			case map[string]any:
				at = v[step]
			case []any:
				if i, err := strconv.Atoi(step); err == nil && i < len(v) {
					at = v[i]
				} else {
					at = nil
				}
			}
		}
		if at == nil {
			t.Errorf("%s leads nowhere", p)
		}
	}
}
