package api

import (
	"fmt"
	"net/http"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// goodPathogens is an order with every member, of invented values; the plan
// follows a row of the table.
const goodPathogens = `{"formula":{"name":"Test ring (invented)","product":"semi-dry-sausage",` +
	`"parts":[{"material":"pork-shoulder-whole-lean-and-fat","share_percent":100}],` +
	`"additions":[{"role":"cure","cure":{"key":"cure-1"},"rate":{"value":2.5,"unit":"g_per_kg"}}],` +
	`"plan":{"casing":{"stuffed_diameter":{"value":50,"unit":"mm"}},"fermentation":[{"temperature":{"value":90,"unit":"degF"},"hours":30}],` +
	`"hold":[{"of":"stuffed","temperature":{"value":90,"unit":"degF"},"hours":144}]}},` +
	`"fermented_to":{"ph":4.5,"uncertainty_ph":0.05},` +
	`"measured":{"stage":"finish","ph":4.9,"uncertainty_ph":0.05,"water_activity":0.93,"uncertainty_water_activity":0.005,` +
	`"temperature":{"value":12,"unit":"degC"},"temperature_uncertainty":{"value":0.5,"unit":"degC"}},"rulebooks":["eu"]}`

// Each answer says in its description how it was checked by hand.
func TestExamplesOfPathogens(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"pathogens-held-at-90", "pathogens-cool-and-raw", "pathogens-finished"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathPathogens, readExample(t, name+".request").Value), near)
		})
	}
}

func TestEveryMemberOfPathogensIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathPathogens, goodPathogens, []change{
		{`"product":"semi-dry-sausage"`, `"product":"cooked-sausage"`},
		{`"value":50,"unit":"mm"`, `"value":60,"unit":"mm"`},
		{`"value":90,"unit":"degF"},"hours":30`, `"value":80,"unit":"degF"},"hours":30`},
		{`"hours":144`, `"hours":143`},
		{`"ph":4.5`, `"ph":4.7`},
		{`"ph":4.5,"uncertainty_ph":0.05`, `"ph":4.5,"uncertainty_ph":0.2`},
		{`"stage":"finish"`, `"stage":"process"`},
		{`"ph":4.9,`, `"ph":5.1,`},
		{`"ph":4.9,"uncertainty_ph":0.05`, `"ph":4.9,"uncertainty_ph":0.2`},
		{`"water_activity":0.93,`, `"water_activity":0.95,`},
		{`"uncertainty_water_activity":0.005`, `"uncertainty_water_activity":0.02`},
		{`"value":12,"unit":"degC"`, `"value":5,"unit":"degC"`},
		{`"value":0.5,"unit":"degC"`, `"value":3,"unit":"degC"`},
		{`"rulebooks":["eu"]`, `"rulebooks":["us"]`},
		{`,"rulebooks":["eu"]`, ``},
	})
}

func TestPathogenFaults(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, body string
		want       refused
	}{
		{"nothing asked", `{}`, invalid("# required")},
		{"rulebooks alone", `{"rulebooks":["eu"]}`, invalid("# required")},
		{"nothing measured", `{"measured":{}}`, invalid("#/measured required")},
		{"a pH of no plan", `{"measured":{"ph":5},"fermented_to":{"ph":5}}`, invalid("#/fermented_to additional-member")},
		{"off by, of nothing", `{"measured":{"temperature":{"value":5,"unit":"degC"},"uncertainty_ph":0.1,"uncertainty_water_activity":0.01}}`,
			invalid("#/measured/uncertainty_ph additional-member", "#/measured/uncertainty_water_activity additional-member")},
		{"off by, of no temperature", `{"measured":{"ph":5,"temperature_uncertainty":{"value":1,"unit":"degC"}}}`,
			invalid("#/measured/temperature_uncertainty additional-member")},
		{"water activity in percent", `{"measured":{"water_activity":92}}`, invalid("#/measured/water_activity maximum")},
		{"pH of 49", `{"measured":{"ph":49}}`, invalid("#/measured/ph maximum")},
		{"an uncertainty below nothing", `{"measured":{"ph":4.9,"uncertainty_ph":-0.1}}`, invalid("#/measured/uncertainty_ph minimum")},
		{"colder than can be", `{"measured":{"temperature":{"value":-300,"unit":"degC"}}}`, invalid("#/measured/temperature/value minimum")},
		{"a rulebook twice", `{"measured":{"ph":5},"rulebooks":["eu","us","eu"]}`, invalid("#/rulebooks/2 duplicate")},
		{"a stage before mixing", `{"measured":{"stage":"formula","ph":5}}`, invalid("#/measured/stage enum")},
		{"an unknown member", `{"measured":{"ph":5,"aw":0.9}}`, invalid("#/measured/aw additional-member")},
		{"shares that make no whole", string(instead(t, goodPathogens, `"share_percent":100`, `"share_percent":50`)), invalid("#/formula/parts sum")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathPathogens, Body: []byte(tc.body), Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
}

// Readings at the ends of what the contract takes have an answer that keeps it.
func TestExtremeReadings(t *testing.T) {
	t.Parallel()
	for _, body := range []string{
		`{"measured":{"ph":0,"uncertainty_ph":2,"water_activity":0,"uncertainty_water_activity":0.5}}`,
		`{"measured":{"ph":14,"uncertainty_ph":2,"water_activity":1,"uncertainty_water_activity":0.5}}`,
		`{"measured":{"temperature":{"value":-100,"unit":"degC"},"temperature_uncertainty":{"value":50,"unit":"degC"}}}`,
		`{"measured":{"ph":5e-324,"uncertainty_ph":5e-324}}`,
	} {
		a := testClient(t).Post(t, pathPathogens, []byte(body))
		if a.Status != http.StatusOK {
			t.Errorf("%s: status %d: %s", body, a.Status, a.Body)
		}
	}
}

// A reading that says not how far off it may be is told what is assumed.
func TestAssumedUncertainty(t *testing.T) {
	t.Parallel()
	answer := apitest.Decode[openapi.PathogenAnswer](t, testClient(t).Post(t, pathPathogens, []byte(`{"measured":{"ph":4.4,"water_activity":0.98}}`)))
	var pointers []string
	for _, n := range answer.Notes {
		if n.Code == "uncertainty-assumed" {
			pointers = append(pointers, *n.Pointer)
		}
	}
	if d := cmp.Diff([]string{"#/measured/ph", "#/measured/water_activity"}, pointers); d != "" {
		t.Errorf("notes (-want +got):\n%s", d)
	}
	// 4.4 and a tenth reaches over 4.4.
	listeria := answer.Organisms[slices.IndexFunc(answer.Organisms, func(o openapi.OrganismFindings) bool { return o.Organism == "listeria-monocytogenes" })]
	if f := listeria.Findings[0]; *f.LimitID != "listeria-2073" || f.Status != openapi.FindingStatusNear || *f.Measured.Low != 4.3 || *f.Measured.High != 4.5 {
		t.Errorf("want listeria-2073 near, at 4.3 to 4.5, got %+v", f)
	}
	if answer.FiveLog != nil {
		t.Errorf("no formula, and yet %+v", answer.FiveLog)
	}
}

// A check has one finding on Escherichia coli, not-shown for a sausage that is
// eaten raw and not-applicable for others.
func TestCheckAsksForFiveLog(t *testing.T) {
	t.Parallel()
	for product, want := range map[string]openapi.FindingStatus{
		"dry-sausage": openapi.FindingStatusNotShown, "spreadable-raw-sausage": openapi.FindingStatusNotShown,
		"cooked-sausage": openapi.FindingStatusNotApplicable, "dry-cured-muscle": openapi.FindingStatusNotApplicable,
	} {
		answer := apitest.Decode[openapi.CheckAnswer](t, testClient(t).Post(t, pathCheck, instead(t, goodCheck, "dry-sausage", product)))
		var got []openapi.FindingStatus
		for _, f := range answer.Findings {
			if f.Code == "ecoli-five-log" {
				got = append(got, f.Status)
			}
		}
		if d := cmp.Diff([]openapi.FindingStatus{want}, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", product, d)
		}
	}
}

// 12 °C are 53.6 °F, and 7 °C 44.6; what has no temperature stays as it is.
func TestUnitsOfReadings(t *testing.T) {
	t.Parallel()
	for query, want := range map[string]string{"": "12 7 degC", "?units=metric": "12 7 degC", "?units=us": "53.6 44.6 degF"} {
		answer := apitest.Decode[openapi.PathogenAnswer](t, testClient(t).Post(t, pathPathogens+query, []byte(goodPathogens)))
		for _, o := range answer.Organisms {
			for _, f := range o.Findings {
				switch *f.LimitID {
				case "staphylococcus-growth":
					if got := fmt.Sprintf("%g %g %s", f.Measured.Value, f.Limit.Value, f.Measured.Unit); got != want || f.Limit.Unit != f.Measured.Unit {
						t.Errorf("%q: want %s, got %s", query, want, got)
					}
				case "staphylococcus-air":
					if f.Measured.Value != 0.93 || f.Measured.Unit != openapi.FigureUnitWaterActivity {
						t.Errorf("%q: want a water activity of 0.93, got %+v", query, f.Measured)
					}
				}
			}
		}
	}
}
