package quantity

import "time"

// Unit is the unit that a Measure is shown in. The zero value is invalid.
type Unit int

// The units, with the words used on the wire.
const (
	UnitMilligramsPerKilogram   Unit = iota + 1 // mg_per_kg
	UnitGramsPerKilogram                        // g_per_kg
	UnitPercent                                 // percent
	UnitCFUPerGram                              // cfu_per_g
	UnitDegCHours                               // degc_hours
	UnitDegFHours                               // degf_hours
	UnitPH                                      // ph
	UnitHours                                   // hours
	UnitDays                                    // days
	UnitDegC                                    // degC
	UnitDegF                                    // degF
	UnitMillimetres                             // mm
	UnitInches                                  // in
	UnitOuncesPerHundredGallons                 // oz_per_100_gal
	UnitWaterActivity                           // water_activity
	UnitRatio                                   // ratio
)

// String returns the word used on the wire.
func (u Unit) String() string {
	switch u {
	case UnitMilligramsPerKilogram:
		return "mg_per_kg"
	case UnitGramsPerKilogram:
		return "g_per_kg"
	case UnitPercent:
		return "percent"
	case UnitCFUPerGram:
		return "cfu_per_g"
	case UnitDegCHours:
		return "degc_hours"
	case UnitDegFHours:
		return "degf_hours"
	case UnitPH:
		return "ph"
	case UnitHours:
		return "hours"
	case UnitDays:
		return "days"
	case UnitDegC:
		return "degC"
	case UnitDegF:
		return "degF"
	case UnitMillimetres:
		return "mm"
	case UnitInches:
		return "in"
	case UnitOuncesPerHundredGallons:
		return "oz_per_100_gal"
	case UnitWaterActivity:
		return "water_activity"
	case UnitRatio:
		return "ratio"
	default:
		return "unstated"
	}
}

// Measure is a quantity together with the unit that people want to see it in.
// A finding shows amounts of many kinds; this is what they have in common.
type Measure struct {
	value float64
	unit  Unit
}

// In returns the mass fraction as a measure in one of the units of mass in
// mass; a unit that is not one counts as milligrams per kilogram.
func (p PPM) In(u Unit) Measure {
	switch u {
	case UnitPercent:
		return Measure{p.Percent(), UnitPercent}
	case UnitGramsPerKilogram:
		return Measure{p.GramsPerKilogram(), UnitGramsPerKilogram}
	default:
		return Measure{p.milligramsPerKilogram, UnitMilligramsPerKilogram}
	}
}

// Measure returns the count as a measure.
func (c CellCount) Measure() Measure { return Measure{c.perGram, UnitCFUPerGram} }

// In returns the degree-hours as a measure, in Fahrenheit degree-hours or, for
// any other unit, in Celsius degree-hours.
func (d DegreeHours) In(u Unit) Measure {
	if u == UnitDegFHours {
		return Measure{d.FahrenheitHours(), UnitDegFHours}
	}
	return Measure{d.CelsiusHours(), UnitDegCHours}
}

// Measure returns the pH as a measure.
func (p PH) Measure() Measure { return Measure{p.value, UnitPH} }

// Measure returns the water activity as a measure.
func (a WaterActivity) Measure() Measure { return Measure{a.fraction, UnitWaterActivity} }

// Measure returns the ratio as a measure.
func (r Ratio) Measure() Measure { return Measure{r.value, UnitRatio} }

// In returns the temperature as a measure, in degrees Fahrenheit or, for any
// other unit, in degrees Celsius.
func (t Temperature) In(u Unit) Measure {
	if u == UnitDegF {
		return Measure{t.Fahrenheit(), UnitDegF}
	}
	return Measure{t.Celsius(), UnitDegC}
}

// In returns the length as a measure, in inches or, for any other unit, in
// millimetres.
func (l Length) In(u Unit) Measure {
	if u == UnitInches {
		return Measure{l.Inches(), UnitInches}
	}
	return Measure{l.Millimetres(), UnitMillimetres}
}

// Measure returns the loss as a measure, in percent.
func (l Loss) Measure() Measure { return Measure{l.Percent(), UnitPercent} }

// Measure returns the humidity as a measure, in percent.
func (h RelativeHumidity) Measure() Measure { return Measure{h.Percent(), UnitPercent} }

// SpanIn returns a time as a measure, in days of 24 hours or, for any other unit,
// in hours.
func SpanIn(span time.Duration, u Unit) Measure {
	if u == UnitDays {
		return Measure{span.Hours() / 24, UnitDays}
	}
	return Measure{span.Hours(), UnitHours}
}

// Value returns the number, in the measure's unit.
func (m Measure) Value() float64 { return m.value }

// Unit returns the unit.
func (m Measure) Unit() Unit { return m.unit }

// IsZero reports whether the measure holds nothing: not even a unit.
func (m Measure) IsZero() bool { return m.unit == 0 }

// String prints the number and the unit for people.
func (m Measure) String() string {
	switch m.unit {
	case UnitMilligramsPerKilogram:
		return format(m.value) + " mg/kg"
	case UnitGramsPerKilogram:
		return format(m.value) + " g/kg"
	case UnitPercent:
		return format(m.value) + " %"
	case UnitCFUPerGram:
		return format(m.value) + " CFU/g"
	case UnitDegCHours:
		return format(m.value) + " °C h"
	case UnitDegFHours:
		return format(m.value) + " °F h"
	case UnitPH:
		return "pH " + format(m.value)
	case UnitHours:
		return format(m.value) + " h"
	case UnitDays:
		return format(m.value) + " days"
	case UnitDegC:
		return format(m.value) + " °C"
	case UnitDegF:
		return format(m.value) + " °F"
	case UnitMillimetres:
		return format(m.value) + " mm"
	case UnitInches:
		return format(m.value) + " in"
	case UnitOuncesPerHundredGallons:
		return format(m.value) + " oz per 100 gal"
	case UnitWaterActivity:
		return "water activity " + format(m.value)
	case UnitRatio:
		return format(m.value) + " to 1"
	default:
		return "nothing measured"
	}
}

// MarshalJSON refuses.
func (Measure) MarshalJSON() ([]byte, error) { return nil, errNoJSON }
