package quantity

import "math"

// RelativeHumidity is the vapour pressure of air over that of saturated air of
// the same temperature, 0..1. Zero value: bone-dry air.
type RelativeHumidity struct{ fraction float64 }

// HumidityPercent returns the relative humidity p percent; *RangeError outside
// 0..100.
func HumidityPercent(p float64) (RelativeHumidity, error) {
	v, err := bounded("relative humidity", p, 0, 100, "%")
	return RelativeHumidity{v / 100}, err
}

// MustHumidityPercent is HumidityPercent for tables and tests; it panics on an
// error.
func MustHumidityPercent(p float64) RelativeHumidity { return must(HumidityPercent(p)) }

// Percent returns the relative humidity in percent.
func (h RelativeHumidity) Percent() float64 { return h.fraction * 100 }

// Float returns the relative humidity as a plain number, 0..1.
func (h RelativeHumidity) Float() float64 { return h.fraction }

// WaterActivity returns the water activity of a product that neither gives
// water to air of this humidity nor takes any.
func (h RelativeHumidity) WaterActivity() WaterActivity { return WaterActivity(h) }

// String prints the relative humidity in percent.
func (h RelativeHumidity) String() string { return format(h.Percent()) + " %" }

// MarshalJSON refuses.
func (RelativeHumidity) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// WaterActivity is the vapour pressure of the water in a product over that of
// pure water of the same temperature, 0..1. Zero value: no free water.
type WaterActivity struct{ fraction float64 }

// NewWaterActivity returns the water activity aw; *RangeError outside 0..1.
func NewWaterActivity(aw float64) (WaterActivity, error) {
	v, err := bounded("water activity", aw, 0, 1, "")
	return WaterActivity{v}, err
}

// MustWaterActivity is NewWaterActivity for tables and tests; it panics on an
// error.
func MustWaterActivity(aw float64) WaterActivity { return must(NewWaterActivity(aw)) }

// Float returns the water activity as a plain number, 0..1.
func (a WaterActivity) Float() float64 { return a.fraction }

// Humidity returns the relative humidity of air that the product neither gives
// water to nor takes any from: its equilibrium relative humidity.
func (a WaterActivity) Humidity() RelativeHumidity { return RelativeHumidity(a) }

// String prints the water activity.
func (a WaterActivity) String() string { return format(a.fraction) }

// MarshalJSON refuses.
func (WaterActivity) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// PH is the acidity as a pH meter shows it, 0..14. Zero value: the strongest
// acid of the scale.
type PH struct{ value float64 }

// NewPH returns the pH v; *RangeError outside 0..14.
func NewPH(v float64) (PH, error) {
	p, err := bounded("pH", v, 0, 14, "")
	return PH{p}, err
}

// MustPH is NewPH for tables and tests; it panics on an error.
func MustPH(v float64) PH { return must(NewPH(v)) }

// Float returns the pH as a plain number.
func (p PH) Float() float64 { return p.value }

// Compare returns -1, 0 or 1 as p is below, at or above q.
func (p PH) Compare(q PH) int {
	switch {
	case p.value < q.value:
		return -1
	case p.value > q.value:
		return 1
	default:
		return 0
	}
}

// String prints the pH.
func (p PH) String() string { return "pH " + format(p.value) }

// MarshalJSON refuses.
func (PH) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Pressure is a pressure of vapour. Zero value: none.
type Pressure struct{ kilopascals float64 }

// Kilopascals returns a pressure of p kPa; *RangeError when it is negative or
// not finite.
func Kilopascals(p float64) (Pressure, error) {
	v, err := bounded("pressure", p, 0, math.Inf(1), "kPa")
	return Pressure{v}, err
}

// Kilopascals returns the pressure in kPa.
func (p Pressure) Kilopascals() float64 { return p.kilopascals }

// String prints the pressure in kPa.
func (p Pressure) String() string { return format(p.kilopascals) + " kPa" }

// MarshalJSON refuses.
func (Pressure) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Speed is the speed of air, or a conductance of vapour, which has its unit:
// vapour flowing through a surface per difference of its concentration in air.
// Zero value: still, or none.
type Speed struct{ metresPerSecond float64 }

// MetresPerSecond returns a speed of v m/s; *RangeError when it is negative or
// not finite.
func MetresPerSecond(v float64) (Speed, error) {
	s, err := bounded("speed", v, 0, math.Inf(1), "m/s")
	return Speed{s}, err
}

// MustMetresPerSecond is MetresPerSecond for tables and tests; it panics on an
// error.
func MustMetresPerSecond(v float64) Speed { return must(MetresPerSecond(v)) }

// MetresPerSecond returns the speed in m/s.
func (s Speed) MetresPerSecond() float64 { return s.metresPerSecond }

// String prints the speed in m/s.
func (s Speed) String() string { return format(s.metresPerSecond) + " m/s" }

// MarshalJSON refuses.
func (Speed) MarshalJSON() ([]byte, error) { return nil, errNoJSON }
