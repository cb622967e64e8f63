package pathogen

import (
	"math"
	"strconv"
	"time"

	"greenweight/domain/quantity"
)

// both prints a temperature in both scales.
func both(t quantity.Temperature) string {
	return hundredths(t.Celsius()) + " °C (" + hundredths(t.Fahrenheit()) + " °F)"
}

// degreesBetween prints how much warmer one temperature is, rounded up to a
// tenth.
func degreesBetween(from, to quantity.Temperature) string {
	const tenths = 10
	up := func(d float64) string { return strconv.FormatFloat(math.Ceil(d*tenths-1e-9)/tenths, 'f', -1, 64) }
	d := to.Minus(from)
	return up(d.CelsiusDegrees()) + " °C (" + up(d.FahrenheitDegrees()) + " °F)"
}

// hoursOf prints a time in hours, or in days where it is whole days.
func hoursOf(d time.Duration) string {
	if d >= 2*day && d%day == 0 {
		return strconv.Itoa(int(d/day)) + " days"
	}
	return short(d.Hours()) + " h"
}

// hundredths prints a number of degrees to a hundredth.
func hundredths(v float64) string {
	const parts = 100
	return strconv.FormatFloat(math.Round(v*parts)/parts+0, 'f', -1, 64)
}

// short prints a number to a thousandth.
func short(v float64) string {
	const parts = 1000
	return strconv.FormatFloat(math.Round(v*parts)/parts+0, 'f', -1, 64)
}
