package air_test

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"testing"

	"greenweight/domain/air"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// Worked rows on air, each by its id: computed apart from this package, or
// printed, as its source says.
//
//go:embed testdata/reference.json
var referenceRows []byte

type referenceRow struct {
	ID     string
	Inputs struct {
		Temperature json.RawMessage `json:"temperature_c"` // a number or a list
		Humidity    json.RawMessage `json:"relative_humidity_percent"`
		AirSpeed    json.RawMessage `json:"air_speed_m_per_s"`
		Diameter    float64         `json:"diameter_mm"`
		Surface     float64         `json:"surface_water_activity"`
		Density     float64         `json:"density_kg_per_m3"`
		Salt        []string        `json:"salt"`
	}
	Expected struct {
		Saturation []float64       `json:"saturation_vapour_pressure_kpa"`
		DewPoint   []float64       `json:"dew_point_c"`
		WetBulb    []float64       `json:"wet_bulb_c"`
		Absolute   []float64       `json:"absolute_humidity_g_per_m3"`
		Film       []float64       `json:"mass_transfer_m_per_s"`
		Most       float64         `json:"max_loss_percent_of_green_weight_per_day"`
		Humidity   json.RawMessage `json:"relative_humidity_percent"`
	}
	Tolerance struct {
		Relative, Absolute float64
		DewPoint           float64 `json:"dew_point_c"`
		WetBulb            float64 `json:"wet_bulb_c"`
		AbsoluteHumidity   float64 `json:"absolute_humidity_g_per_m3"`
	}
}

// list reads a number or a list of them.
func list(t *testing.T, raw json.RawMessage) []float64 {
	t.Helper()
	var many []float64
	if json.Unmarshal(raw, &many) == nil {
		return many
	}
	var one float64
	if err := json.Unmarshal(raw, &one); err != nil {
		t.Fatal(err)
	}
	return []float64{one}
}

func TestEveryRowOfTheReference(t *testing.T) {
	t.Parallel()
	var rows []referenceRow
	if err := json.Unmarshal(referenceRows, &rows); err != nil {
		t.Fatal(err)
	}
	if len(rows) != 5 {
		t.Fatalf("the reference has 5 rows on air, got %d", len(rows))
	}
	checks := map[string]func(*testing.T, referenceRow){
		"svp": func(t *testing.T, r referenceRow) {
			t.Helper()
			for i, celsius := range list(t, r.Inputs.Temperature) {
				want := r.Expected.Saturation[i]
				got := ok(air.SaturationPressure(quantity.MustCelsius(celsius)))(t)
				quantitytest.Near(t, fmt.Sprintf("kPa at %v °C", celsius), want, got.Kilopascals(), r.Tolerance.Relative*want)
			}
		},
		"dew-wet-e": func(t *testing.T, r referenceRow) {
			t.Helper()
			for i, celsius := range list(t, r.Inputs.Temperature) {
				s := state(t, air.Place{Temperature: quantity.MustCelsius(celsius), Humidity: relative(list(t, r.Inputs.Humidity)[i])})
				quantitytest.Near(t, "dew point", r.Expected.DewPoint[i], s.DewPoint.Value.Celsius(), r.Tolerance.DewPoint)
				quantitytest.Near(t, "wet bulb", r.Expected.WetBulb[i], s.WetBulb.Value.Celsius(), r.Tolerance.WetBulb)
				quantitytest.Near(t, "g/m³", r.Expected.Absolute[i], s.Density.Value.GramsPerMillilitre()*1e6, r.Tolerance.AbsoluteHumidity)
			}
		},
		"film-coefficient": func(t *testing.T, r referenceRow) {
			t.Helper()
			for i, speed := range list(t, r.Inputs.AirSpeed) {
				got := ok(air.FilmConductance(quantity.MustMillimetres(r.Inputs.Diameter), quantity.MustCelsius(list(t, r.Inputs.Temperature)[0]),
					quantity.MustMetresPerSecond(speed)))(t)
				quantitytest.Near(t, fmt.Sprintf("film at %v m/s", speed), r.Expected.Film[i], got.MetresPerSecond(), r.Tolerance.Relative*r.Expected.Film[i])
			}
		},
		"first-day-upper-bound": func(t *testing.T, r referenceRow) {
			t.Helper()
			got := ok(air.DryingBound(
				quantity.MustMillimetres(r.Inputs.Diameter), quantity.MustCelsius(list(t, r.Inputs.Temperature)[0]),
				quantity.MustHumidityPercent(list(t, r.Inputs.Humidity)[0]), quantity.MustWaterActivity(r.Inputs.Surface),
				quantity.MustMetresPerSecond(list(t, r.Inputs.AirSpeed)[0]), quantity.MustGramsPerMillilitre(r.Inputs.Density/1000)))(t)
			quantitytest.Near(t, "percent a day", r.Expected.Most, got.PercentPerDay(), r.Tolerance.Relative*r.Expected.Most)
		},
		"salt-rh-standards": func(t *testing.T, r referenceRow) {
			t.Helper()
			salts := map[string]air.Salt{"NaCl": air.SodiumChloride, "KCl": air.PotassiumChloride}
			for i, want := range list(t, r.Expected.Humidity) {
				got := ok(air.OverSalt(salts[r.Inputs.Salt[i]], quantity.MustCelsius(list(t, r.Inputs.Temperature)[i])))(t)
				// The rows are those of the same table: to its last digit.
				quantitytest.Near(t, r.Inputs.Salt[i], want, got.Percent(), 0.005)
			}
		},
	}
	for _, r := range rows {
		t.Run(r.ID, func(t *testing.T) {
			t.Parallel()
			check, known := checks[r.ID]
			if !known {
				t.Fatalf("nothing checks %s", r.ID)
			}
			check(t, r)
		})
	}
}
