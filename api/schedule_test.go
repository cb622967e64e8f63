package api

import (
	"net/http"
	"reflect"
	"testing"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/schedule"
	"greenweight/openapi"
)

// Each answer says in its description how its main figures were checked.
func TestExamplesOfSchedule(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"schedule-falling", "schedule-warm", "schedule-low-acid"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathSchedule, readExample(t, name+".request").Value), near)
		})
	}
}

func scheduled(t *testing.T, body []byte) openapi.ScheduleAnswer {
	t.Helper()
	a := testClient(t).Post(t, pathSchedule, body)
	if a.Status != http.StatusOK {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	return apitest.Decode[openapi.ScheduleAnswer](t, a)
}

// The examples, by hand as their descriptions have it.
func TestSchedulesByHand(t *testing.T) {
	t.Parallel()
	falling := scheduled(t, readExample(t, "schedule-falling.request").Value)
	wantNear(t, "°F h", 705.6, falling.Fahrenheit.AccumulatedDegfHours.Value)
	wantNear(t, "°C h", 388.8, falling.Celsius.AccumulatedDegcHours.Value)
	for i, want := range [][2]float64{{556.8, 307.2}, {705.6, 388.8}, {705.6, 388.8}} {
		wantNear(t, "°F h by a step", want[0], falling.Steps[i].AccumulatedDegfHours)
		wantNear(t, "°C h by a step", want[1], falling.Steps[i].AccumulatedDegcHours)
	}
	wantNear(t, "gap", 96.2-86, falling.Steps[2].HumidityGap.GapPercent)
	wantNear(t, "wanted at least", 91.2, falling.Steps[2].HumidityGap.WantedLowPercent)
	if falling.Celsius.Latest.Never == nil || falling.Celsius.Latest.Hours != nil || falling.Celsius.Decides {
		t.Errorf("latest %+v", falling.Celsius)
	}
	warm := scheduled(t, readExample(t, "schedule-warm.request").Value)
	wantNear(t, "latest", 80, *warm.Fahrenheit.Latest.Hours)
	wantNear(t, "latest if warmer", 1200/15.9, *warm.Fahrenheit.LatestIfWarmer.Hours)
	wantNear(t, "latest in °C", 665/((75.0-32)/1.8-15.6), *warm.Celsius.Latest.Hours)
	if !warm.Fahrenheit.Decides || !warm.Fahrenheit.Latest.InPlan {
		t.Errorf("latest %+v", warm.Fahrenheit)
	}
	lowAcid := scheduled(t, readExample(t, "schedule-low-acid.request").Value)
	if !lowAcid.LowAcidTraditional || lowAcid.Batter.Origin != openapi.BatterWaterActivityOriginEstimated || lowAcid.Diameter.Value != 45 {
		t.Errorf("declared %v, batter %+v, casing %+v", lowAcid.LowAcidTraditional, lowAcid.Batter, lowAcid.Diameter)
	}
}

// One row for each member of the order, with where it comes to stand.
func TestEveryMemberOfAScheduleIsRead(t *testing.T) {
	t.Parallel()
	celsius := func(c float64) material.Known[quantity.Temperature] { return material.Is(quantity.MustCelsius(c)) }
	off := quantity.MustCelsiusDegrees(0.3)
	xylosus, _ := rulebook.CultureByKey("staphylococcus-xylosus")
	const ofFormula = `{"name":"bare (invented)","product":"dry-sausage","parts":[{"material":"pork-backfat","share_percent":100}],"additions":[]}`
	for _, c := range []struct {
		name, order string
		want        schedule.Plan
	}{
		{"a step", `{"steps":[{"temperature":{"value":22,"unit":"degC"},"relative_humidity_percent":91,"air_speed_m_per_s":0.2,"hours":36}]}`, schedule.Plan{
			Steps: []formula.Step{{
				Temperature: celsius(22), Humidity: material.Is(quantity.MustHumidityPercent(91)), AirSpeed: material.Is(quantity.MustMetresPerSecond(0.2)), Span: 36 * time.Hour,
			}},
		}},
		{"casing", `{"diameter":{"value":4.5,"unit":"cm"}}`, schedule.Plan{Diameter: material.Is(quantity.MustMillimetres(45))}},
		{"culture", `{"cultures":["staphylococcus-xylosus"]}`, schedule.Plan{Cultures: []rulebook.CultureSpecies{xylosus}}},
		{"rulebooks", `{"rulebooks":["ca","us"]}`, schedule.Plan{Rulebooks: []rulebook.Jurisdiction{rulebook.Canada, rulebook.UnitedStates}}},
		{"water activity", `{"water_activity":0.955}`, schedule.Plan{WaterActivity: material.Is(quantity.MustWaterActivity(0.955))}},
		{"start", `{"start_temperature":{"value":5,"unit":"degC"}}`, schedule.Plan{AtStart: celsius(5)}},
		{"thermometer", `{"thermometer_uncertainty":{"value":0.3,"unit":"degC"}}`, schedule.Plan{Thermometer: &off}},
		{"hygrometer", `{"hygrometer_uncertainty_percent":2}`, schedule.Plan{Hygrometer: material.Is(quantity.MustHumidityPercent(2))}},
		{"formula", `{"formula":` + ofFormula + `}`, schedule.Plan{Formula: &formula.Formula{}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var order openapi.ScheduleOrder
			if err := json.Unmarshal([]byte(c.order), &order); err != nil {
				t.Fatal(err)
			}
			got, err := (&handlers{rules: newMemberRules()}).readSchedule(order)
			if err != nil {
				t.Fatal(err)
			}
			if c.want.Formula != nil {
				if got.Formula == nil || got.Formula.Name != "bare (invented)" {
					t.Fatalf("formula %+v", got.Formula)
				}
				got.Formula = c.want.Formula
			}
			if !reflect.DeepEqual(c.want, got) {
				t.Errorf("want %+v, got %+v", c.want, got)
			}
		})
	}
}

// The same schedule in other units is the same schedule.
func TestScheduleInOtherUnits(t *testing.T) {
	t.Parallel()
	const celsius = `{"steps":[{"temperature":{"value":25,"unit":"degC"},"relative_humidity_percent":92,"hours":40},{"temperature":{"value":20,"unit":"degC"},"relative_humidity_percent":90,"hours":24}],` +
		`"diameter":{"value":50.8,"unit":"mm"},"thermometer_uncertainty":{"value":0.5,"unit":"degC"},"start_temperature":{"value":5,"unit":"degC"}}`
	const mixed = `{"steps":[{"temperature":{"value":77,"unit":"degF"},"relative_humidity_percent":92,"hours":40},{"temperature":{"value":20,"unit":"degC"},"relative_humidity_percent":90,"hours":24}],` +
		`"diameter":{"value":2,"unit":"in"},"thermometer_uncertainty":{"value":0.9,"unit":"degF"},"start_temperature":{"value":41,"unit":"degF"}}`
	if diff := cmp.Diff(scheduled(t, []byte(celsius)), scheduled(t, []byte(mixed))); diff != "" {
		t.Errorf("(-metric +mixed):\n%s", diff)
	}
}

func TestSchedulesThatHaveNoMeaning(t *testing.T) {
	t.Parallel()
	const step = `{"temperature":{"value":22,"unit":"degC"},"hours":48}`
	for _, tc := range []struct{ name, body, pointer, code string }{
		{"no steps", `{}`, "#/steps", "no-steps"},
		{"an oven", `{"steps":[{"temperature":{"value":59.8,"unit":"degC"},"hours":48}]}`, "#/steps/0/temperature", "out-of-range"},
		{"longer than a year", `{"steps":[` + lasting + `,` + lasting + `,` + lasting + `,` + lasting + `,` + lasting + `]}`, "#/steps/4/hours", "out-of-range"},
		{"a culture twice", `{"steps":[` + step + `],"cultures":["latilactobacillus-sakei","latilactobacillus-sakei"]}`, "#/cultures/1", "duplicate"},
		{"a rulebook twice", `{"steps":[` + step + `],"rulebooks":["us","us"]}`, "#/rulebooks/1", "duplicate"},
		{"a thermometer that shows nothing", `{"steps":[` + step + `],"thermometer_uncertainty":{"value":12,"unit":"degC"}}`, "#/thermometer_uncertainty", "out-of-range"},
		{"a sausage from the oven", `{"steps":[` + step + `],"start_temperature":{"value":70,"unit":"degC"}}`, "#/start_temperature", "out-of-range"},
		{"a step of the formula without an end", `{"formula":{"name":"bare (invented)","product":"dry-sausage","parts":[{"material":"pork-backfat","share_percent":100}],"additions":[],` +
			`"plan":{"fermentation":[{"temperature":{"value":22,"unit":"degC"}}]}}}`, "#/formula/plan/fermentation/0/hours", "missing"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Post(t, pathSchedule, []byte(tc.body))
			if a.Status != http.StatusUnprocessableEntity {
				t.Fatalf("status %d: %s", a.Status, a.Body)
			}
			p := apitest.Decode[openapi.Problem](t, a)
			if len(p.Errors) != 1 || *p.Errors[0].Pointer != tc.pointer || p.Errors[0].Code != tc.code {
				t.Errorf("errors %+v", p.Errors)
			}
		})
	}
}

// lasting is a step of 2000 h, the longest.
const lasting = `{"temperature":{"value":12,"unit":"degC"},"hours":2000}`
