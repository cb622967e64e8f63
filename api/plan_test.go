package api

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// One row for each member of a plan, with where it comes to stand: what is
// written beside it is what a slip of copying would break.
func TestEveryMemberOfAPlanIsRead(t *testing.T) {
	t.Parallel()
	known := func(celsius float64) material.Known[quantity.Temperature] {
		return material.Is(quantity.MustCelsius(celsius))
	}
	damp := material.Is(quantity.MustHumidityPercent(85))
	mm := quantity.MustMillimetres
	for _, c := range []struct {
		name, plan string
		want       formula.Plan
	}{
		{"refrigeration", `{"label_keep_refrigerated":false}`, formula.Plan{LabelStorageIsKnown: true}},
		{"declared low acid", `{"low_acid_traditional":true}`, formula.Plan{LowAcid: true}},
		{"not declared", `{"low_acid_traditional":false}`, formula.Plan{}},
		{"fermentation", `{"fermentation":[{"temperature":{"value":20,"unit":"degC"},"relative_humidity_percent":85,"hours":48}]}`, formula.Plan{
			Fermentation: []formula.Step{{Temperature: known(20), Humidity: damp, Span: 48 * time.Hour}},
		}},
		{"drying", `{"drying":[{"temperature":{"value":12,"unit":"degC"},"relative_humidity_percent":85,"air_speed_m_per_s":0.2,"days":2}]}`, formula.Plan{
			Drying: []formula.Step{{
				Temperature: known(12), Humidity: damp, AirSpeed: material.Is(quantity.MustMetresPerSecond(0.2)), Span: 48 * time.Hour,
			}},
		}},
		{"freezing in days", `{"freezing":[{"temperature":{"value":5,"unit":"degF"},"days":1.5,"thickness":{"value":10,"unit":"cm"}}]}`, formula.Plan{
			Freezing: []formula.Freezing{{Temperature: quantity.MustFahrenheit(5), Span: 36 * time.Hour, Thickness: mm(100)}},
		}},
		{"freezing in hours", `{"freezing":[{"temperature":{"value":-18,"unit":"degC"},"measured_in":"centre","hours":106},{"temperature":{"value":-18,"unit":"degC"},"measured_in":"chamber","hours":1}]}`, formula.Plan{
			Freezing: []formula.Freezing{
				{Temperature: quantity.MustCelsius(-18), Span: 106 * time.Hour, AtCentre: true}, {Temperature: quantity.MustCelsius(-18), Span: time.Hour},
			},
		}},
		{"plate", `{"grind":{"plate":{"value":6,"unit":"mm"}}}`, formula.Plan{Grind: formula.Grind{Plate: mm(6)}}},
		{"largest piece", `{"grind":{"largest_piece":{"value":6,"unit":"mm"}}}`, formula.Plan{Grind: formula.Grind{LargestPiece: mm(6)}}},
		{"casing", `{"casing":{"kind":"collagen","stuffed_diameter":{"value":60,"unit":"mm"}}}`, formula.Plan{
			Casing: formula.PlannedCasing{Kind: formula.CollagenCasing, Diameter: mm(60)},
		}},
		{"flat width", `{"casing":{"flat_width":{"value":60,"unit":"mm"}}}`, formula.Plan{Casing: formula.PlannedCasing{FlatWidth: mm(60)}}},
		{"hold", `{"hold":[{"of":"mixed","temperature":{"value":4,"unit":"degC"},"relative_humidity_percent":85,"hours":36,"depth":{"value":15,"unit":"cm"}}]}`, formula.Plan{
			Hold: []formula.Hold{{Of: formula.Mixed, Temperature: known(4), Humidity: damp, Span: 36 * time.Hour, Depth: mm(150)}},
		}},
		{"smoke", `{"smoke":[{"temperature":{"value":27,"unit":"degC"},"relative_humidity_percent":85,"hours":40,"core_temperature":{"value":25,"unit":"degC"},"core_hours":2}]}`, formula.Plan{
			Smoke: []formula.Warmth{{Temperature: known(27), Humidity: damp, Span: 40 * time.Hour, Core: known(25), CoreHeld: 2 * time.Hour}},
		}},
		{"heat", `{"heat":[{"temperature":{"value":70,"unit":"degC"},"hours":3,"core_temperature":{"value":60,"unit":"degC"},"core_hours":0.5}]}`, formula.Plan{
			Heat: []formula.Warmth{{Temperature: known(70), Span: 3 * time.Hour, Core: known(60), CoreHeld: 30 * time.Minute}},
		}},
		{"a method", `{"trichinae_route":{"route":"drying-method","method":"coppa"}}`, formula.Plan{
			Trichinae: formula.TrichinaeRoute{Route: formula.RouteDryingMethod, Method: formula.MethodCoppa},
		}},
		{"a certificate", `{"trichinae_route":{"route":"carcass-testing","certificate":"report 17","issued_by":"the district laboratory"}}`, formula.Plan{
			Trichinae: formula.TrichinaeRoute{Route: formula.RouteCarcassTesting, Certificate: "report 17", IssuedBy: "the district laboratory"},
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var w openapi.Plan
			if err := json.Unmarshal([]byte(c.plan), &w, json.RejectUnknownMembers(true)); err != nil {
				t.Fatal(err)
			}
			var bad fault.Collector
			got := readPlan(&bad, nil, w)
			if err := bad.Err("invalid-value", ""); err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(c.want, got, cmp.Exporter(func(reflect.Type) bool { return true })); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

// The closed words of a plan are those of the contract, and each can be read.
func TestWordsOfAPlan(t *testing.T) {
	t.Parallel()
	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	words := func(schema, member string) []string {
		s := document.Components.Schemas[schema].Value
		if member != "" {
			s = s.Properties[member].Value
		}
		var all []string
		for _, w := range s.Enum {
			text, _ := w.(string)
			all = append(all, text)
		}
		return all
	}
	for _, w := range words("TrichinaeRouteKind", "") {
		if r, ok := formula.ParseRoute(w); !ok || r.String() != w {
			t.Errorf("route %s is read as %s", w, r)
		}
	}
	for _, w := range words("TrichinaeMethodKey", "") {
		if m, ok := formula.ParseDryingMethod(w); !ok || m.String() != w {
			t.Errorf("method %s is read as %s", w, m)
		}
	}
	for _, w := range words("PlannedHold", "of") {
		if h, ok := formula.ParseHoldOf(w); !ok || h.String() != w {
			t.Errorf("hold of %s is read as %s", w, h)
		}
	}
	for _, w := range words("PlannedCasing", "kind") {
		if k, ok := formula.ParseCasingKind(w); !ok || k.String() != w {
			t.Errorf("casing %s is read as %s", w, k)
		}
	}
}

// What a plan changes in the answer, member by member.
func TestPlansChangeTheAnswer(t *testing.T) {
	t.Parallel()
	const good = `{"formula":{"name":"Test","product":"dry-sausage","parts":[` +
		`{"material":"pork-leg-lean-only","share_percent":80,"received":{"temperature":{"value":3,"unit":"degC"},"ph":5.6}},` +
		`{"material":"pork-backfat","share_percent":20,"freezing":[{"temperature":{"value":-20,"unit":"degC"},"days":9,"thickness":{"value":50,"unit":"mm"}}]}],` +
		`"additions":[{"role":"salt","material":"salt-table","rate":{"value":3.6,"unit":"percent"}}],` +
		`"plan":{"freezing":[{"temperature":{"value":-18,"unit":"degC"},"measured_in":"centre","hours":100,"thickness":{"value":60,"unit":"mm"}}],` +
		`"grind":{"plate":{"value":20,"unit":"mm"}},"casing":{"stuffed_diameter":{"value":61,"unit":"mm"}},` +
		`"hold":[{"of":"mixed","temperature":{"value":1,"unit":"degC"},"hours":24}],` +
		`"smoke":[{"temperature":{"value":15,"unit":"degC"},"hours":12}],"heat":[{"core_temperature":{"value":55,"unit":"degC"},"core_hours":0.1}],` +
		`"drying":[{"temperature":{"value":14,"unit":"degC"},"days":10}]}},"rulebooks":["us"],"date":"2026-11-25"}`
	membersAreRead(t, pathCheck, good, []change{
		{`"received":{"temperature":{"value":3,`, `"received":{"temperature":{"value":8,`},
		{`"ph":5.6`, `"ph":6.1`},
		{`"value":-20,"unit":"degC"`, `"value":-30,"unit":"degC"`},
		{`"days":9`, `"days":25`},
		{`"value":50,"unit":"mm"`, `"value":500,"unit":"mm"`},
		{`"value":-18,"unit":"degC"`, `"value":-28,"unit":"degC"`},
		{`"measured_in":"centre"`, `"measured_in":"chamber"`},
		{`"hours":100`, `"hours":110`},
		{`"plate":{"value":20`, `"plate":{"value":6`},
		{`"plate":{"value":20`, `"largest_piece":{"value":19`},
		{`"stuffed_diameter":{"value":61`, `"flat_width":{"value":150`},
		{`"of":"mixed","temperature":{"value":1,"unit":"degC"},"hours":24`, `"of":"mixed","temperature":{"value":1,"unit":"degC"},"hours":400`},
		{`"core_temperature":{"value":55`, `"core_temperature":{"value":63`},
		{`"core_hours":0.1`, `"core_hours":0.5`},
		{`"value":14,"unit":"degC"`, `"value":4,"unit":"degC"`},
		{`"days":10`, `"days":11`},
	})
	route := func(r string) change { return change{`"drying":[`, `"trichinae_route":` + r + `,"drying":[`} }
	membersAreRead(t, pathCheck, good, []change{
		route(`{"route":"freezing"}`), route(`{"route":"heating"}`), route(`{"route":"carcass-testing"}`),
		route(`{"route":"carcass-testing","certificate":"report 17"}`),
		route(`{"route":"carcass-testing","certificate":"report 17","issued_by":"the district laboratory"}`),
		route(`{"route":"drying-method","method":"method-2"}`), route(`{"route":"drying-method","method":"method-3"}`),
	})
}

func TestRulesBetweenMembersOfAPlan(t *testing.T) {
	t.Parallel()
	const freezing = `{"temperature":{"value":-18,"unit":"degC"}`
	for _, c := range []struct {
		name, with string
		want       []string
	}{
		{"freezing without a time", `"freezing":[` + freezing + `}]`, []string{"#/formula/plan/freezing/0 oneOf"}},
		{"freezing with two times", `"freezing":[` + freezing + `,"days":1},` + freezing + `,"days":1,"hours":1}]`, []string{"#/formula/plan/freezing/1 oneOf"}},
		{"a drying method without its name", `"trichinae_route":{"route":"drying-method"}`, []string{"#/formula/plan/trichinae_route/method required"}},
		{"freezing by a method", `"trichinae_route":{"route":"freezing","method":"method-1"}`, []string{"#/formula/plan/trichinae_route/method additional-member"}},
		{"issued by somebody, and nothing", `"trichinae_route":{"route":"freezing","issued_by":"x"}`, []string{"#/formula/plan/trichinae_route/issued_by additional-member"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Post(t, pathCheck, replace(t, `"additions":`, `"plan":{`+c.with+`},"additions":`))
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
	part := testClient(t).Post(t, pathCheck, replace(t, `"share_percent":100`, `"share_percent":100,"freezing":[`+freezing+`}]`))
	if d := cmp.Diff([]string{"#/formula/parts/0/freezing/0 oneOf"}, part.Pointers()); d != "" {
		t.Errorf("of a part (-want +got):\n%s", d)
	}
}

// The tables of /v1/reference/trichinae, /v1/reference/pathogens and of the rules on
// degree-hours in /v1/reference/rulebooks have a row for each limit_id that the
// findings on a plan name.
func TestFindingsNameRowsOfTheTables(t *testing.T) {
	t.Parallel()
	tables := apitest.Decode[openapi.TrichinaeTables](t, testClient(t).Get(t, "/v1/reference/trichinae"))
	var ids []string
	for _, r := range tables.Freezing {
		ids = append(ids, r.ID)
	}
	for _, r := range tables.Methods {
		ids = append(ids, r.ID)
	}
	for _, o := range apitest.Decode[openapi.PathogenTables](t, testClient(t).Get(t, "/v1/reference/pathogens")).FiveLog {
		ids = append(ids, o.ID)
	}
	for _, r := range apitest.Decode[openapi.Rulebooks](t, testClient(t).Get(t, "/v1/reference/rulebooks")).DegreeHours {
		ids = append(ids, r.ID)
	}
	for name, body := range requestExamples(t, pathCheck) {
		answer := apitest.Decode[openapi.CheckAnswer](t, testClient(t).Post(t, pathCheck, body))
		for _, f := range answer.Findings {
			if f.Stage == openapi.StageProcess && f.LimitID != nil && !slices.Contains(ids, *f.LimitID) {
				t.Errorf("%s: %s names the row %s, and no table has it", name, f.Code, *f.LimitID)
			}
		}
	}
	if len(tables.Method6Reductions) != 50 || len(tables.Method6Increases) != 14 || len(tables.Heating) != 13 || len(tables.FreezingByCentre) != 8 {
		t.Errorf("want 50, 14, 13 and 8 rows, got %d, %d, %d and %d",
			len(tables.Method6Reductions), len(tables.Method6Increases), len(tables.Heating), len(tables.FreezingByCentre))
	}
}

// The longest names, of as many things as the contract takes, still keep the
// contract: the client judges the answer.
func TestManyPartsAndAdditionsWithLongNames(t *testing.T) {
	t.Parallel()
	long := func(i int) string { return strings.Repeat("ä", 115) + fmt.Sprintf("%05d", i) }
	var parts, additions []string
	for i := range 20 {
		parts = append(parts, fmt.Sprintf(`{"name":%q,"material":%q,"share_percent":5,"received":{"temperature":{"value":9,"unit":"degC"},"ph":6.2}}`,
			long(i), []string{"wild-boar", "pork-backfat"}[i%2]))
	}
	for i, m := range slices.Concat(slices.Repeat([]string{"milk-powder-nonfat", "soy-flour-defatted", "mustard-seed-ground", "wine-table-red", ""}, 8)) {
		material := `,"material":"` + m + `"`
		if m == "" {
			material = ""
		}
		additions = append(additions, fmt.Sprintf(`{"role":"other","name":%q%s,"rate":{"value":1,"unit":"g_per_kg"}}`, long(i), material))
	}
	for _, route := range []string{`{"route":"freezing"}`, `{"route":"drying-method","method":"method-7"}`, `{"route":"controlled-housing","certificate":"` + strings.Repeat("x", 400) + `"}`} {
		body := `{"formula":{"name":"x","product":"dry-sausage","parts":[` + strings.Join(parts, ",") + `],"additions":[` + strings.Join(additions, ",") +
			`],"plan":{"freezing":[{"temperature":{"value":-100,"unit":"degF"},"hours":1}],"drying":[{"temperature":{"value":-50,"unit":"degC"}}],` +
			`"heat":[{"core_temperature":{"value":60,"unit":"degC"}}],"trichinae_route":` + route + `}},"rulebooks":["us","eu","gb"]}`
		if a := testClient(t).Post(t, pathCheck, []byte(body)); a.Status != 200 {
			t.Errorf("status %d: %s", a.Status, a.Body)
		}
	}
}
