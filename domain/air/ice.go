package air

import (
	"fmt"
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// SaturationPressureOverIce returns the pressure of vapour in balance with ice:
//
//	p = exp(9.550426 - 5723.265/T + 3.53068 ln T - 0.00728332 T) Pa,  T in K
//
// It reports fault.OutsideModel ("temperature") below -40 °C and ("no-ice")
// above 0.01 °C. See [IceSource].
func SaturationPressureOverIce(t quantity.Temperature) (quantity.Pressure, error) {
	if err := covered(t); err != nil {
		return quantity.Pressure{}, err
	}
	if t.Kelvin() > triplePoint+meeting {
		return quantity.Pressure{}, &fault.Error{
			Kind: fault.OutsideModel, Code: "no-ice", Detail: fmt.Sprintf("there is no ice at %s", t),
		}
	}
	return quantity.Kilopascals(overIce(t.Kelvin()))
}

// overIce returns the pressure in kPa.
func overIce(kelvin float64) float64 {
	const pascals = 1000
	return math.Exp(9.550426-5723.265/kelvin+3.53068*math.Log(kelvin)-0.00728332*kelvin) / pascals
}

// IceSource cites the pressure over ice.
func IceSource() source.Citation {
	return source.Citation{
		Title: "Murphy and Koop, Review of the vapour pressures of ice and supercooled water for atmospheric applications, Q. J. R. Meteorol. Soc. 131, 1539-1565",
		Year:  2005, Section: "equation 7", Trust: source.Memory,
	}
}
