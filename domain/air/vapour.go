package air

import (
	"errors"
	"fmt"
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

const (
	coldest         = -40.0   // °C
	warmest         = 100.0   // °C
	triplePoint     = 273.16  // K, of water
	meeting         = 1e-6    // K, more than rounding takes from 0.01 °C
	freezing        = 273.15  // K
	gasVapour       = 0.46152 // kJ/(kg K), water vapour: 8.314463 / 18.0153
	gramsPerKg      = 1000
	standard        = 101.325 // kPa
	kelvinTolerance = 1e-9    // of a temperature that is searched for
)

// SaturationPressure returns the pressure of vapour in balance with liquid water.
// From the triple point, 0.01 °C, up:
//
//	ln(p/pc) = (Tc/T) (a1 v + a2 v^1.5 + a3 v^3 + a4 v^3.5 + a5 v^4 + a6 v^7.5),  v = 1 - T/Tc
//
// in which Tc = 647.096 K, pc = 22.064 MPa, a1 = -7.85951783, a2 = 1.84408259,
// a3 = -11.7866497, a4 = 22.6807411, a5 = -15.9618719 and a6 = 1.80122502. Below
// it, over super-cooled water, p = 0.6112 exp(17.62 t/(243.12 + t)) kPa with t in
// °C, which reads up to 0.2 percent high at -10 and 0.6 at -40; where the two meet
// they differ by 2 in 100 000. See [PressureSource] and
// [ColdPressureSource].
func SaturationPressure(t quantity.Temperature) (quantity.Pressure, error) {
	if err := covered(t); err != nil {
		return quantity.Pressure{}, err
	}
	return quantity.Kilopascals(saturation(t.Kelvin()))
}

// saturation returns the pressure in kPa.
func saturation(kelvin float64) float64 {
	if kelvin < triplePoint-meeting {
		const a, b, at0 = 17.62, 243.12, 0.6112
		t := kelvin - freezing
		return at0 * math.Exp(a*t/(b+t))
	}
	const (
		critical         = 647.096 // K
		criticalPressure = 22064   // kPa
	)
	v := 1 - kelvin/critical
	root := math.Sqrt(v)
	sum := -7.85951783*v + 1.84408259*v*root - 11.7866497*v*v*v +
		22.6807411*v*v*v*root - 15.9618719*v*v*v*v + 1.80122502*v*v*v*v*v*v*v*root
	return criticalPressure * math.Exp(critical/kelvin*sum)
}

// covered reports fault.OutsideModel for a temperature that the package does not
// cover.
func covered(t quantity.Temperature) error {
	if c := t.Celsius(); !(c >= coldest && c <= warmest) {
		return &fault.Error{
			Kind: fault.OutsideModel, Code: "temperature",
			Detail: fmt.Sprintf("air is covered from %g to %g °C, got %s", coldest, warmest, t),
		}
	}
	return nil
}

// VapourPressure returns the pressure of the vapour in air: the relative
// humidity times the saturation pressure.
func VapourPressure(t quantity.Temperature, humidity quantity.RelativeHumidity) (quantity.Pressure, error) {
	if err := covered(t); err != nil {
		return quantity.Pressure{}, err
	}
	return quantity.Kilopascals(humidity.Float() * saturation(t.Kelvin()))
}

// AbsoluteHumidity returns the mass of vapour in a volume of air, p/(R T) with
// R = 0.46152 kJ/(kg K). A gram in a cubic metre is a millionth of a gram in a
// millilitre.
func AbsoluteHumidity(t quantity.Temperature, humidity quantity.RelativeHumidity) (quantity.Density, error) {
	if err := covered(t); err != nil {
		return quantity.Density{}, err
	}
	return quantity.GramsPerMillilitre(vapourDensity(t.Kelvin(), humidity.Float()) / gramsPerKg)
}

// vapourDensity returns the mass of vapour in kg/m³.
func vapourDensity(kelvin, humidity float64) float64 {
	return humidity * saturation(kelvin) / (gasVapour * kelvin)
}

// DewPoint returns the temperature to which air must be cooled for water to
// drip from it, within a billionth of a degree. Below 0 °C it is the dew point
// over super-cooled water; frost forms a little sooner. It reports
// fault.OutsideModel ("too-dry") when that is colder than -40 °C.
func DewPoint(t quantity.Temperature, humidity quantity.RelativeHumidity) (quantity.Temperature, error) {
	if err := covered(t); err != nil {
		return quantity.Temperature{}, err
	}
	pressure := humidity.Float() * saturation(t.Kelvin())
	if pressure < saturation(freezing+coldest) {
		return quantity.Temperature{}, &fault.Error{
			Kind: fault.OutsideModel, Code: "too-dry",
			Detail: fmt.Sprintf("air of %s and %s has no dew point above %g °C", t, humidity, coldest),
		}
	}
	return search(t, func(kelvin float64) float64 { return saturation(kelvin) - pressure })
}

// search returns the temperature between the coldest that is covered and t at
// which f changes its sign.
func search(t quantity.Temperature, f func(kelvin float64) float64) (quantity.Temperature, error) {
	low, high := freezing+coldest, t.Kelvin()
	if !(low < high) {
		return t, nil
	}
	kelvin, err := numeric.Root(f, low, high, kelvinTolerance)
	if errors.Is(err, numeric.ErrNoSignChange) {
		return t, nil // saturated air, by rounding
	}
	if err != nil {
		return quantity.Temperature{}, err
	}
	return quantity.Celsius(kelvin - freezing)
}

// WetBulb returns the temperature that a wet wick takes in moving air, and a
// wet sausage nearly: where the heat it draws from the air evaporates as much
// as the air takes up, within a billionth of a degree.
//
//	W = ((2501 - 2.326 w) Ws(w) - 1.006 (t - w)) / (2501 + 1.86 t - 4.186 w)
//
// in which
//
//   - t, w: temperature of the air and of the wick, °C
//   - W: kg of vapour in the air to a kg of dry air, 0.621945 p/(101.325 - p)
//   - Ws: the same of saturated air
//
// Below 0 °C the wick counts as wet, not iced. It reports fault.OutsideModel
// ("too-dry") for a wet bulb colder than -40 °C and for air that would be nothing
// but vapour. See [WetBulbSource].
func WetBulb(t quantity.Temperature, humidity quantity.RelativeHumidity) (quantity.Temperature, error) {
	if err := covered(t); err != nil {
		return quantity.Temperature{}, err
	}
	pressure := humidity.Float() * saturation(t.Kelvin())
	dry := t.Celsius()
	// What the wick would say the air holds, times a positive number, less that
	// of what the air holds: it rises with the temperature of the wick.
	balance := func(kelvin float64) float64 {
		w := kelvin - freezing
		return (2501-2.326*w)*content(saturation(kelvin)) - 1.006*(dry-w) - content(pressure)*(2501+1.86*dry-4.186*w)
	}
	if saturation(t.Kelvin()) >= standard || balance(freezing+coldest) > 0 {
		return quantity.Temperature{}, &fault.Error{
			Kind: fault.OutsideModel, Code: "too-dry",
			Detail: fmt.Sprintf("air of %s and %s has no wet bulb between %g °C and boiling", t, humidity, coldest),
		}
	}
	return search(t, balance)
}

// molarRatio is that of vapour to dry air.
const molarRatio = 0.621945

// content returns the kg of vapour to a kg of dry air.
func content(pressure float64) float64 { return molarRatio * pressure / (standard - pressure) }

// byWetBulb returns the pressure of vapour, in kPa, of air in which a wick has a
// temperature: WetBulb, solved for what the air holds. It is negative for a wick
// colder than any air makes it.
func byWetBulb(kelvin, wick float64) float64 {
	t, w := kelvin-freezing, wick-freezing
	held := ((2501-2.326*w)*content(saturation(wick)) - 1.006*(t-w)) / (2501 + 1.86*t - 4.186*w)
	return held * standard / (molarRatio + held)
}

// Drive is what moves water between a surface and air: the difference of the
// pressures of vapour, and its direction.
type Drive struct {
	Pressure quantity.Pressure
	Wetting  bool // water goes from the air to the surface
}

// DryingDrive returns how strongly air draws water from a surface that is as
// warm as the air: (aw - humidity) times the saturation pressure.
func DryingDrive(t quantity.Temperature, humidity quantity.RelativeHumidity, surface quantity.WaterActivity) (Drive, error) {
	if err := covered(t); err != nil {
		return Drive{}, err
	}
	difference := surface.Float() - humidity.Float()
	p, err := quantity.Kilopascals(math.Abs(difference) * saturation(t.Kelvin()))
	return Drive{Pressure: p, Wetting: difference < 0}, err
}

// PressureSource cites the saturation pressure from the triple point up.
func PressureSource() source.Citation {
	return source.Citation{
		Title: "Wagner and Pruß, The IAPWS formulation 1995 for the thermodynamic properties of ordinary water substance, J. Phys. Chem. Ref. Data 31(2), 387",
		Year:  2002, Section: "equation 2.5", Trust: source.Memory,
		Note: "the coefficients are recalled; they give 2.33919 kPa at 20 °C, which was read in another text",
	}
}

// ColdPressureSource cites the saturation pressure below the triple point.
func ColdPressureSource() source.Citation {
	return source.Citation{
		Title: "WMO, Guide to Meteorological Instruments and Methods of Observation, WMO-No. 8", Year: 2008,
		Section: "part I, chapter 4, annex 4.B", Trust: source.ReadSecondary,
		Note: "Magnus form over water, -45 to 60 °C; the edition is recalled",
	}
}

// WetBulbSource cites the balance of the wet bulb.
func WetBulbSource() source.Citation {
	return source.Citation{
		Title: "ASHRAE Handbook, Fundamentals", Year: 2017, Section: "chapter 1, equations 20 and 33", Trust: source.Memory,
		Note: "edition and numbers of the equations are recalled",
	}
}
