package air

import (
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Salt is one over whose wet paste, in a closed jar, air comes to a known
// humidity. The zero value is invalid.
type Salt int

// The salts.
const (
	SodiumChloride Salt = iota + 1
	PotassiumChloride
	PotassiumNitrate
	PotassiumSulfate
)

// String returns the word used on the wire.
func (s Salt) String() string {
	switch s {
	case SodiumChloride:
		return "sodium-chloride"
	case PotassiumChloride:
		return "potassium-chloride"
	case PotassiumNitrate:
		return "potassium-nitrate"
	case PotassiumSulfate:
		return "potassium-sulfate"
	default:
		return "unstated"
	}
}

// ParseSalt reads the word used on the wire.
func ParseSalt(word string) (Salt, bool) {
	for s := SodiumChloride; s <= PotassiumSulfate; s++ {
		if s.String() == word {
			return s, true
		}
	}
	return 0, false
}

// saltHumidity holds the relative humidity in percent at 0, 5, … 30 °C: SaltSource.
var saltHumidity = map[Salt][7]float64{
	SodiumChloride:    {75.51, 75.65, 75.67, 75.61, 75.47, 75.29, 75.09},
	PotassiumChloride: {88.61, 87.67, 86.77, 85.92, 85.11, 84.34, 83.62},
	PotassiumNitrate:  {96.33, 96.27, 95.96, 95.41, 94.62, 93.58, 92.31},
	PotassiumSulfate:  {98.77, 98.48, 98.18, 97.89, 97.59, 97.30, 97.00},
}

// warmestSalt is where its rows end, apart is how far apart they are, in °C.
const warmestSalt, apart = 30.0, 5.0

// OverSalt returns the humidity of air over the wet paste of a salt, on a straight
// line between the rows of the table, 0 to 30 °C. It reports fault.OutsideModel
// ("temperature") outside of them, and fault.Invalid for what is no salt.
func OverSalt(s Salt, t quantity.Temperature) (quantity.RelativeHumidity, error) {
	rows, known := saltHumidity[s]
	if !known {
		return quantity.RelativeHumidity{}, &fault.Error{Kind: fault.Invalid, Code: "invalid-value", Detail: "no such salt"}
	}
	at := t.Celsius() / apart
	if !(at >= 0 && at <= warmestSalt/apart) {
		return quantity.RelativeHumidity{}, &fault.Error{
			Kind: fault.OutsideModel, Code: "temperature", Detail: "the table of the salts goes from 0 to 30 °C, got " + t.String(),
		}
	}
	i := min(int(at), len(rows)-2)
	beyond := at - float64(i)
	return quantity.HumidityPercent(rows[i]*(1-beyond) + rows[i+1]*beyond)
}

// SaltCheck is what a hygrometer showed over a salt.
type SaltCheck struct {
	Name        string // of the hygrometer; may be empty
	Salt        Salt
	Temperature quantity.Temperature
	Reading     quantity.RelativeHumidity
}

// Offset is what a check found.
type Offset struct {
	Check  SaltCheck
	Should quantity.RelativeHumidity // have been shown
	Add    quantity.Ratio            // to what it shows near there, as a part of 1
}

func (c SaltCheck) validate(bad *fault.Collector, path fault.Path) {
	if _, known := saltHumidity[c.Salt]; !known {
		bad.Add(fault.At("salt").Under(path), "enum", "no such salt")
	}
	if at := c.Temperature.Celsius(); !(at >= 0 && at <= warmestSalt) {
		bad.Add(fault.At("temperature").Under(path), "out-of-range", "the table of the salts goes from 0 to 30 °C, got %s", c.Temperature)
	}
}

func (c SaltCheck) offset() (Offset, error) {
	should, err := OverSalt(c.Salt, c.Temperature)
	if err != nil {
		return Offset{}, err
	}
	const digits = 1e12 // a difference of two percentages, without the last bits
	add, err := quantity.NewRatio(math.Round((should.Float()-c.Reading.Float())*digits) / digits)
	return Offset{Check: c, Should: should, Add: add}, err
}

// SaltSource cites the humidities over salts.
func SaltSource() source.Citation {
	return source.Citation{
		Title: "Greenspan, Humidity fixed points of binary saturated aqueous solutions, J. Res. Natl. Bur. Stand. 81A(1), 89-96",
		Year:  1977, Section: "table 2", Trust: source.Memory,
		Note: "0 to 30 °C; the printed doubt is 0.1 to 0.2 points for sodium chloride and 0.3 to 0.5 for potassium chloride, and up to 3 for potassium nitrate in the cold",
	}
}
