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

// goodAir is a small order on air, of invented places, whose parts the tests replace.
const goodAir = `{"places":[` +
	`{"name":"Room","temperature":{"value":13,"unit":"degC"},"relative_humidity_percent":75,"air_speed_m_per_s":0.2,"hygrometer_uncertainty_percent":2,"thermometer_uncertainty":{"value":0.3,"unit":"degC"}},` +
	`{"name":"Cellar","temperature":{"value":54,"unit":"degF"},"wet_bulb":{"value":51,"unit":"degF"}},` +
	`{"name":"Yard","temperature":{"value":20,"unit":"degC"},"dew_point":{"value":12,"unit":"degC"}},` +
	`{"name":"Box","temperature":{"value":4,"unit":"degC"},"coil":{"temperature":{"value":-5,"unit":"degC"},"iced":true}}],` +
	`"product":{"water_activity":0.9,"diameter":{"value":55,"unit":"mm"},"temperature":{"value":9,"unit":"degC"}},` +
	`"wanted":{"drive_kpa":0.12,"water_activity":0.92},` +
	`"salt_checks":[{"name":"Old one","salt":"sodium-chloride","temperature":{"value":21,"unit":"degC"},"reading_percent":72}]}`

// Each answer says in its description how its main figures were checked.
func TestExamplesOfAir(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"air-room-and-refrigerator", "air-wet-bulb", "air-one-room"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathAir, readExample(t, name+".request").Value), near)
		})
	}
}

func TestEveryMemberOfAirIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathAir, goodAir, []change{
		{`"name":"Room"`, `"name":"Loft"`},
		{`"temperature":{"value":13,"unit":"degC"}`, `"temperature":{"value":13,"unit":"degF"}`},
		{`"relative_humidity_percent":75`, `"relative_humidity_percent":74`},
		{`"air_speed_m_per_s":0.2`, `"air_speed_m_per_s":0.3`},
		{`"hygrometer_uncertainty_percent":2`, `"hygrometer_uncertainty_percent":3`},
		{`"thermometer_uncertainty":{"value":0.3,"unit":"degC"}`, `"thermometer_uncertainty":{"value":0.3,"unit":"degF"}`},
		{`"wet_bulb":{"value":51,"unit":"degF"}`, `"wet_bulb":{"value":50,"unit":"degF"}`},
		{`"dew_point":{"value":12,"unit":"degC"}`, `"dew_point":{"value":11,"unit":"degC"}`},
		{`{"value":-5,"unit":"degC"}`, `{"value":-6,"unit":"degC"}`},
		{`,"iced":true`, ``},
		{`"product":{"water_activity":0.9,`, `"product":{"water_activity":0.91,`},
		{`"diameter":{"value":55,"unit":"mm"}`, `"diameter":{"value":2,"unit":"in"}`},
		{`"temperature":{"value":9,"unit":"degC"}`, `"temperature":{"value":5,"unit":"degC"}`},
		{`"drive_kpa":0.12`, `"drive_kpa":0.13`},
		{`"water_activity":0.92`, `"water_activity":0.93`},
		{`"name":"Old one"`, `"name":"New one"`},
		{`"salt":"sodium-chloride"`, `"salt":"potassium-chloride"`},
		{`"temperature":{"value":21,"unit":"degC"}`, `"temperature":{"value":22,"unit":"degC"}`},
		{`"reading_percent":72`, `"reading_percent":73`},
	})
}

func TestAirFaults(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, old, with string
		want            refused
	}{
		{"no place", `"places":[`, `"places":[],"rooms":[`, invalid("#/places minItems", "#/rooms additional-member")},
		{"humidity told twice", `"relative_humidity_percent":75`, `"relative_humidity_percent":75,"dew_point":{"value":8,"unit":"degC"}`, invalid("#/places/0 oneOf")},
		{"humidity not told", `,"dew_point":{"value":12,"unit":"degC"}`, ``, invalid("#/places/2 oneOf")},
		{"a hygrometer that nobody read", `"dew_point":{"value":12,"unit":"degC"}`, `"dew_point":{"value":12,"unit":"degC"},"hygrometer_uncertainty_percent":3`, invalid("#/places/2/hygrometer_uncertainty_percent additional-member")},
		{"a wick warmer than the air", `"wet_bulb":{"value":51,"unit":"degF"}`, `"wet_bulb":{"value":55,"unit":"degF"}`, invalid("#/places/1/wet_bulb too-warm")},
		{"a wick colder than any air makes it", `"wet_bulb":{"value":51,"unit":"degF"}`, `"wet_bulb":{"value":20,"unit":"degF"}`, invalid("#/places/1/wet_bulb too-cold")},
		{"a dew point above the air", `"dew_point":{"value":12,"unit":"degC"}`, `"dew_point":{"value":21,"unit":"degC"}`, invalid("#/places/2/dew_point too-warm")},
		{"ice above its melting point", `{"value":-5,"unit":"degC"}`, `{"value":2,"unit":"degC"}`, invalid("#/places/3/coil/temperature too-warm")},
		{"an oven", `"temperature":{"value":13,"unit":"degC"}`, `"temperature":{"value":130,"unit":"degC"}`, invalid("#/places/0/temperature out-of-range")},
		{"more than all of it", `"relative_humidity_percent":75`, `"relative_humidity_percent":101`, invalid("#/places/0/relative_humidity_percent maximum")},
		{"a storm", `"air_speed_m_per_s":0.2`, `"air_speed_m_per_s":11`, invalid("#/places/0/air_speed_m_per_s maximum")},
		{"a thermometer of no use", `"thermometer_uncertainty":{"value":0.3,"unit":"degC"}`, `"thermometer_uncertainty":{"value":6,"unit":"degC"}`, invalid("#/places/0/thermometer_uncertainty out-of-range")},
		{"a barrel", `"diameter":{"value":55,"unit":"mm"}`, `"diameter":{"value":55,"unit":"cm"}`, invalid("#/product/diameter out-of-range")},
		{"sugar", `"salt":"sodium-chloride"`, `"salt":"sugar"`, invalid("#/salt_checks/0/salt enum")},
		{"salt in an oven", `"temperature":{"value":21,"unit":"degC"}`, `"temperature":{"value":40,"unit":"degC"}`, invalid("#/salt_checks/0/temperature out-of-range")},
		{"two at once", `"relative_humidity_percent":75,"air_speed_m_per_s":0.2`, `"relative_humidity_percent":175,"air_speed_m_per_s":-1`, invalid("#/places/0/air_speed_m_per_s minimum", "#/places/0/relative_humidity_percent maximum")},
		{"a misspelt member", `"dew_point"`, `"dewpoint"`, invalid("#/places/2/dewpoint additional-member")},
		{"not a number", `"relative_humidity_percent":75`, `"relative_humidity_percent":NaN`, malformed("#/places/0/relative_humidity_percent syntax")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathAir, Body: instead(t, goodAir, tc.old, tc.with), Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
}

// In US units 13 °C are 55.4 °F, and a difference of dew points is in their degrees.
func TestUnitsOfAir(t *testing.T) {
	t.Parallel()
	metric := apitest.Decode[openapi.AirAnswer](t, testClient(t).Post(t, pathAir, []byte(goodAir)))
	us := apitest.Decode[openapi.AirAnswer](t, testClient(t).Post(t, pathAir+"?units=us", []byte(goodAir)))
	if d := cmp.Diff(openapi.Temperature{Value: 55.4, Unit: "degF"}, us.Places[0].Temperature, near); d != "" {
		t.Errorf("temperature (-want +got):\n%s", d)
	}
	for i := range metric.Places {
		c, f := metric.Places[i].DewPoint.Value, us.Places[i].DewPoint.Value
		if want := c.Value*1.8 + 32; math.Abs(want-f.Value) > 1e-3 {
			t.Errorf("dew point of place %d: want %v °F, got %v", i, want, f.Value)
		}
	}
	c, f := metric.Comparisons[0].DewPointDifference.Value, us.Comparisons[0].DewPointDifference.Value
	if want := 1.8 * c.Value; math.Abs(want-f.Value) > 1e-4 || f.Unit != "degF" {
		t.Errorf("difference: want %v, got %+v", want, f)
	}
	if d := cmp.Diff(metric.Places[0].VapourPressure, us.Places[0].VapourPressure); d != "" {
		t.Errorf("vapour (-metric +us):\n%s", d)
	}
}

// The places stand in the answer as in the question, and the others are compared with
// the first.
func TestPlacesAreCompared(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.AirAnswer](t, testClient(t).Post(t, pathAir, []byte(goodAir)))
	var names, pointers []string
	for _, p := range a.Places {
		names = append(names, p.Name)
	}
	for _, c := range a.Comparisons {
		pointers = append(pointers, c.Place)
	}
	if d := cmp.Diff([]string{"Room", "Cellar", "Yard", "Box"}, names); d != "" {
		t.Errorf("places (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{"#/places/1", "#/places/2", "#/places/3"}, pointers); d != "" {
		t.Errorf("compared (-want +got):\n%s", d)
	}
	// The piece of 9 °C is above the dew point of the room, 8.7 °C, and below that of the
	// yard; in the box it is the warmer one.
	for i, want := range []*openapi.ToldOrNot{pointerTo(openapi.ToldOrNotNotTold), nil, pointerTo(openapi.ToldOrNotYes), nil} {
		if i == 1 {
			continue // a cellar of 12.2 °C whose dew point is about as cold as the piece
		}
		if d := cmp.Diff(want, a.Places[i].Product.Drips); d != "" {
			t.Errorf("drips in place %d (-want +got):\n%s", i, d)
		}
	}
}

// Orders at the ends of what the contract allows have an answer that keeps the
// contract, or a problem: never an error of ours. So do their pictures.
func TestExtremeAir(t *testing.T) {
	t.Parallel()
	var places []string
	for _, temperature := range []string{"-30", "0.01", "60"} {
		for _, humidity := range []string{`"relative_humidity_percent":0`, `"relative_humidity_percent":100`, `"dew_point":{"value":-30,"unit":"degC"}`,
			`"wet_bulb":{"value":` + temperature + `,"unit":"degC"}`, `"coil":{"temperature":{"value":-30,"unit":"degC"},"iced":true}`} {
			for _, off := range []string{`{"value":0,"unit":"degC"}`, `{"value":5,"unit":"degC"}`} {
				places = append(places, fmt.Sprintf(`{"name":"é%d","temperature":{"value":%s,"unit":"degC"},%s,"thermometer_uncertainty":%s}`, len(places), temperature, humidity, off))
			}
		}
	}
	for _, product := range []string{``, `,"product":{"water_activity":0}`, `,"product":{"water_activity":1,"diameter":{"value":5,"unit":"mm"}}`,
		`,"product":{"water_activity":0.9,"diameter":{"value":250,"unit":"mm"},"temperature":{"value":-30,"unit":"degC"}},"wanted":{"drive_kpa":100,"water_activity":0}`} {
		for from := 0; from < len(places); from += 6 {
			body := []byte(`{"places":[` + strings.Join(places[from:from+6], ",") + `]` + product + `}`)
			for _, accept := range []string{mediaTypeJSON, mediaTypeSVG} {
				a := picture(t, pathAir, body, accept)
				if a.Status != http.StatusOK && a.Status != http.StatusUnprocessableEntity {
					t.Errorf("status %d for %s: %s", a.Status, body, a.Body)
				}
			}
		}
	}
}

// As many places as the contract allows are answered and drawn.
func TestTwelvePlaces(t *testing.T) {
	t.Parallel()
	var places []string
	for i := range 12 {
		places = append(places, fmt.Sprintf(`{"name":"Place %d","temperature":{"value":%d,"unit":"degC"},"relative_humidity_percent":%d}`, i, 2+i, 60+2*i))
	}
	body := []byte(`{"places":[` + strings.Join(places, ",") + `],"product":{"water_activity":0.9}}`)
	a := apitest.Decode[openapi.AirAnswer](t, testClient(t).Post(t, pathAir, body))
	if len(a.Places) != 12 || len(a.Comparisons) != 11 {
		t.Errorf("%d places, %d compared", len(a.Places), len(a.Comparisons))
	}
	text := string(picture(t, pathAir, body, mediaTypeSVG).Body)
	for _, want := range []string{`class="place"`, `class="bar"`, `class="surface"`, `class="saturated"`, "and 9 more"} {
		if !strings.Contains(text, want) {
			t.Errorf("the chart has no %s", want)
		}
	}
	if got := strings.Count(text, `class="place"`); got != 12 {
		t.Errorf("%d places in the chart", got)
	}
}
