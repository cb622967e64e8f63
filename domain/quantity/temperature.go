package quantity

import (
	"math"
	"time"
)

// Exact offsets and factors of the scales of temperature (NIST SP 811, 2008,
// appendix B.9).
const (
	kelvinAtZeroCelsius       = 273.15
	fahrenheitAtZeroCelsius   = 32
	kelvinPerFahrenheitDegree = 5.0 / 9
)

// readable drops the last bits of a number in degrees. A temperature given in
// one scale and read in the same or the other passes through a few float
// operations, which leave some 1e-13 of error; a reading of exactly 90 °F must
// stay one, because a class of a rule begins there. No thermometer of the trade
// resolves a billionth of a degree.
func readable(degrees float64) float64 { return rounded(degrees, 1e9) }

// rounded returns v to one part in parts of a unit. Numbers so large that floats
// are spaced wider than that are left as they are.
func rounded(v, parts float64) float64 {
	const whole = 1 << 52 // from here on every float is a whole number
	if !(math.Abs(v) < whole/parts) {
		return v
	}
	return math.Round(v*parts)/parts + 0
}

// Temperature is how warm something is, above absolute zero. Differences are
// TemperatureDelta, so that 5 °C of warming can't be taken for 5 °C on a
// thermometer. Zero value: absolute zero, which no constructor returns.
type Temperature struct{ kelvin float64 }

// Celsius returns the temperature t °C; *RangeError at or below absolute zero
// and when t is not finite.
func Celsius(t float64) (Temperature, error) {
	if !(t > -kelvinAtZeroCelsius) || math.IsInf(t, 1) {
		return Temperature{}, &RangeError{
			Quantity: "temperature", Value: t, Low: -kelvinAtZeroCelsius, High: math.Inf(1), LowOpen: true, Unit: "°C",
		}
	}
	return Temperature{t + kelvinAtZeroCelsius}, nil
}

// Fahrenheit returns the temperature t °F; *RangeError at or below absolute
// zero and when t is not finite.
func Fahrenheit(t float64) (Temperature, error) {
	const zero = fahrenheitAtZeroCelsius - kelvinAtZeroCelsius/kelvinPerFahrenheitDegree
	// Next to absolute zero the sum may round to it.
	kelvin := (t-fahrenheitAtZeroCelsius)*kelvinPerFahrenheitDegree + kelvinAtZeroCelsius
	if !(t > zero && kelvin > 0) || math.IsInf(t, 1) {
		return Temperature{}, &RangeError{
			Quantity: "temperature", Value: t, Low: readable(zero), High: math.Inf(1), LowOpen: true, Unit: "°F",
		}
	}
	return Temperature{kelvin}, nil
}

// MustCelsius is Celsius for tables and tests; it panics on an error.
func MustCelsius(t float64) Temperature { return must(Celsius(t)) }

// MustFahrenheit is Fahrenheit for tables and tests; it panics on an error.
func MustFahrenheit(t float64) Temperature { return must(Fahrenheit(t)) }

// Celsius returns the temperature in °C, to a billionth of a degree.
func (t Temperature) Celsius() float64 { return readable(t.kelvin - kelvinAtZeroCelsius) }

// Fahrenheit returns the temperature in °F, to a billionth of a degree.
func (t Temperature) Fahrenheit() float64 {
	return readable((t.kelvin-kelvinAtZeroCelsius)/kelvinPerFahrenheitDegree + fahrenheitAtZeroCelsius)
}

// Kelvin returns the absolute temperature.
func (t Temperature) Kelvin() float64 { return t.kelvin }

// Compare returns -1, 0 or 1 as t is below, at or above u, to a billionth of a
// degree.
func (t Temperature) Compare(u Temperature) int {
	switch d := readable(t.kelvin - u.kelvin); {
	case d < 0:
		return -1
	case d > 0:
		return 1
	default:
		return 0
	}
}

// Minus returns how much warmer t is than u, negative where it is colder.
func (t Temperature) Minus(u Temperature) TemperatureDelta {
	return TemperatureDelta{t.kelvin - u.kelvin}
}

// Plus returns the temperature d warmer; *RangeError where that would be at or
// below absolute zero, or not finite.
func (t Temperature) Plus(d TemperatureDelta) (Temperature, error) {
	return Celsius(t.kelvin - kelvinAtZeroCelsius + d.kelvin)
}

// IsZero reports whether no temperature is known.
func (t Temperature) IsZero() bool { return t.kelvin == 0 }

// String prints the temperature in °C.
func (t Temperature) String() string { return format(t.Celsius()) + " °C" }

// MarshalJSON refuses.
func (Temperature) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// TemperatureDelta is a difference of temperatures. Zero value: none.
type TemperatureDelta struct{ kelvin float64 }

// CelsiusDegrees returns a difference of d Celsius degrees, which are kelvins;
// *RangeError when it is not finite.
func CelsiusDegrees(d float64) (TemperatureDelta, error) {
	v, err := bounded("temperature difference", d, math.Inf(-1), math.Inf(1), "°C")
	return TemperatureDelta{v}, err
}

// FahrenheitDegrees returns a difference of d Fahrenheit degrees, nine to five
// Celsius degrees; *RangeError when it is not finite.
func FahrenheitDegrees(d float64) (TemperatureDelta, error) {
	v, err := bounded("temperature difference", d, math.Inf(-1), math.Inf(1), "°F")
	return TemperatureDelta{v * kelvinPerFahrenheitDegree}, err
}

// MustCelsiusDegrees is CelsiusDegrees for tables and tests; it panics on an
// error.
func MustCelsiusDegrees(d float64) TemperatureDelta { return must(CelsiusDegrees(d)) }

// CelsiusDegrees returns the difference in Celsius degrees.
func (d TemperatureDelta) CelsiusDegrees() float64 { return readable(d.kelvin) }

// FahrenheitDegrees returns the difference in Fahrenheit degrees.
func (d TemperatureDelta) FahrenheitDegrees() float64 {
	return readable(d.kelvin / kelvinPerFahrenheitDegree)
}

// IsZero reports whether there is no difference.
func (d TemperatureDelta) IsZero() bool { return d.kelvin == 0 }

// Negative returns the difference the other way.
func (d TemperatureDelta) Negative() TemperatureDelta { return TemperatureDelta{-d.kelvin + 0} }

// For returns what the difference comes to when it lasts: degree-hours.
func (d TemperatureDelta) For(span time.Duration) DegreeHours {
	return DegreeHours{d.kelvin * span.Hours()}
}

// String prints the difference in Celsius degrees.
func (d TemperatureDelta) String() string { return format(d.CelsiusDegrees()) + " °C" }

// MarshalJSON refuses.
func (TemperatureDelta) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// DegreeHours is a difference of temperature from a base, added up over time:
// what a fermenting sausage has been through. It means nothing without the
// base, which stands beside it. Zero value: none.
type DegreeHours struct{ kelvinHours float64 }

// CelsiusHours returns n Celsius degree-hours; *RangeError when n is negative
// or not finite.
func CelsiusHours(n float64) (DegreeHours, error) {
	v, err := amount("degree-hours", n, 1, "°C h")
	return DegreeHours{v}, err
}

// FahrenheitHours returns n Fahrenheit degree-hours; *RangeError when n is
// negative or not finite.
func FahrenheitHours(n float64) (DegreeHours, error) {
	v, err := amount("degree-hours", n, kelvinPerFahrenheitDegree, "°F h")
	return DegreeHours{v}, err
}

// MustCelsiusHours is CelsiusHours for tables and tests; it panics on an error.
func MustCelsiusHours(n float64) DegreeHours { return must(CelsiusHours(n)) }

// MustFahrenheitHours is FahrenheitHours for tables and tests; it panics on an
// error.
func MustFahrenheitHours(n float64) DegreeHours { return must(FahrenheitHours(n)) }

// CelsiusHours returns the Celsius degree-hours, to a millionth of one.
func (d DegreeHours) CelsiusHours() float64 { return readableHours(d.kelvinHours) }

// FahrenheitHours returns the Fahrenheit degree-hours, to a millionth of one.
func (d DegreeHours) FahrenheitHours() float64 {
	return readableHours(d.kelvinHours / kelvinPerFahrenheitDegree)
}

// Compare returns -1, 0 or 1 as d is below, at or above e. They are at each
// other when they differ by at most a millionth of a degree-hour: a sum of many
// readings differs by less than that from its exact value, and 80 hours at 75 °F
// must be exactly at 1200.
func (d DegreeHours) Compare(e DegreeHours) int {
	switch diff := readableHours(d.kelvinHours - e.kelvinHours); {
	case diff < 0:
		return -1
	case diff > 0:
		return 1
	default:
		return 0
	}
}

// Plus returns the sum.
func (d DegreeHours) Plus(e DegreeHours) DegreeHours {
	return DegreeHours{d.kelvinHours + e.kelvinHours}
}

// Minus returns the difference, negative where more has been used than there
// was.
func (d DegreeHours) Minus(e DegreeHours) DegreeHours {
	return DegreeHours{d.kelvinHours - e.kelvinHours}
}

// At returns how long the degree-hours last at a difference from the base;
// *RangeError when the difference is not positive, or the time so long that a
// time.Duration can't hold it.
func (d DegreeHours) At(excess TemperatureDelta) (time.Duration, error) {
	if err := positive("temperature above the base", excess.kelvin, "°C"); err != nil {
		return 0, err
	}
	hours, err := bounded("time", d.kelvinHours/excess.kelvin, -longestHours, longestHours, "h")
	return time.Duration(math.Round(hours * float64(time.Hour))), err
}

// longestHours is as long as a time.Duration can count, rounded down.
const longestHours = 2_562_047

// IsZero reports whether there are none.
func (d DegreeHours) IsZero() bool { return d.kelvinHours == 0 }

// String prints the Celsius degree-hours.
func (d DegreeHours) String() string { return format(d.CelsiusHours()) + " °C h" }

// MarshalJSON refuses.
func (DegreeHours) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

func readableHours(degreeHours float64) float64 { return rounded(degreeHours, 1e6) }
