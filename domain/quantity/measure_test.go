package quantity_test

import (
	"testing"
	"time"

	"greenweight/domain/quantity"
)

func TestUnitWords(t *testing.T) {
	t.Parallel()
	// The words are those of FigureUnit in the contract.
	for unit, want := range map[quantity.Unit]string{
		0: "unstated", quantity.UnitMilligramsPerKilogram: "mg_per_kg", quantity.UnitGramsPerKilogram: "g_per_kg",
		quantity.UnitPercent: "percent", quantity.UnitCFUPerGram: "cfu_per_g", quantity.UnitDegCHours: "degc_hours", quantity.UnitDegFHours: "degf_hours",
		quantity.UnitPH: "ph", quantity.UnitHours: "hours", quantity.UnitDays: "days", quantity.UnitDegC: "degC", quantity.UnitDegF: "degF",
		quantity.UnitMillimetres: "mm", quantity.UnitInches: "in", quantity.UnitOuncesPerHundredGallons: "oz_per_100_gal", quantity.UnitWaterActivity: "water_activity", quantity.UnitRatio: "ratio", quantity.UnitRatio + 1: "unstated", -1: "unstated",
	} {
		if got := unit.String(); got != want {
			t.Errorf("%d: want %q, got %q", int(unit), want, got)
		}
	}
}

func TestMeasuresKeepTheirAmount(t *testing.T) {
	t.Parallel()
	salt := quantity.MustPPM(28000)            // 2.8 % is 28 g/kg
	heat := quantity.MustFahrenheitHours(1200) // * 5/9, to a millionth
	for _, row := range []struct {
		name    string
		measure quantity.Measure
		want    float64
		unit    quantity.Unit
	}{
		{"in mg/kg", salt.In(quantity.UnitMilligramsPerKilogram), 28000, quantity.UnitMilligramsPerKilogram},
		{"in g/kg", salt.In(quantity.UnitGramsPerKilogram), 28, quantity.UnitGramsPerKilogram},
		{"in percent", salt.In(quantity.UnitPercent), 2.8, quantity.UnitPercent},
		{"in a unit of something else", salt.In(quantity.UnitCFUPerGram), 28000, quantity.UnitMilligramsPerKilogram},
		{"in no unit", salt.In(0), 28000, quantity.UnitMilligramsPerKilogram},
		{"cells", quantity.MustCFUPerGram(1e7).Measure(), 1e7, quantity.UnitCFUPerGram},
		{"degree-hours", heat.In(quantity.UnitDegCHours), 666.666667, quantity.UnitDegCHours},
		{"a temperature", quantity.MustFahrenheit(5).In(quantity.UnitDegC), -15, quantity.UnitDegC},
		{"a temperature in Fahrenheit", quantity.MustCelsius(-15).In(quantity.UnitDegF), 5, quantity.UnitDegF},
		{"a length", quantity.MustInches(3.5).In(quantity.UnitMillimetres), 88.9, quantity.UnitMillimetres},
		{"a length in inches", quantity.MustMillimetres(88.9).In(quantity.UnitInches), 3.5, quantity.UnitInches},
		{"a time in days", quantity.SpanIn(36*time.Hour, quantity.UnitDays), 1.5, quantity.UnitDays},
		{"a time", quantity.SpanIn(90*time.Minute, quantity.UnitHours), 1.5, quantity.UnitHours},
		{"degree-hours in Fahrenheit", heat.In(quantity.UnitDegFHours), 1200, quantity.UnitDegFHours},
		{"degree-hours in a unit of something else", heat.In(quantity.UnitPercent), 666.666667, quantity.UnitDegCHours},
		{"pH", quantity.MustPH(5.3).Measure(), 5.3, quantity.UnitPH},
		{"nothing", quantity.Measure{}, 0, 0},
	} {
		near(t, row.name, row.want, row.measure.Value())
		if got := row.measure.Unit(); got != row.unit {
			t.Errorf("%s: want %s, got %s", row.name, row.unit, got)
		}
	}
}
