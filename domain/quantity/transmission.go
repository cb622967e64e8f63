package quantity

import "math"

// VapourTransmission is the water that passes a film in a test, per area and
// time. It means nothing without the temperature and humidities of the test.
// Zero value: tight.
type VapourTransmission struct{ gramsPerSquareMetreDay float64 }

// GramsPerSquareMetreDay returns a transmission of g grams through a m² in a day;
// *RangeError when it is negative or not finite.
func GramsPerSquareMetreDay(g float64) (VapourTransmission, error) {
	v, err := bounded("vapour transmission", g, 0, math.Inf(1), "g/(m² day)")
	return VapourTransmission{v}, err
}

// MustGramsPerSquareMetreDay is GramsPerSquareMetreDay for tables and tests; it
// panics on an error.
func MustGramsPerSquareMetreDay(g float64) VapourTransmission {
	return must(GramsPerSquareMetreDay(g))
}

// GramsPerSquareMetreDay returns the transmission in g/(m² day).
func (v VapourTransmission) GramsPerSquareMetreDay() float64 { return v.gramsPerSquareMetreDay }

// String prints the transmission in g/(m² day).
func (v VapourTransmission) String() string {
	return format(v.gramsPerSquareMetreDay) + " g/(m² day)"
}

// MarshalJSON refuses.
func (VapourTransmission) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Permeance is the vapour that passes a film per area, time and difference of its
// pressure. Zero value: tight.
type Permeance struct{ si float64 }

// KilogramsPerSquareMetreSecondPascal returns a permeance of p kg/(m² s Pa);
// *RangeError when it is negative or not finite.
func KilogramsPerSquareMetreSecondPascal(p float64) (Permeance, error) {
	v, err := bounded("permeance", p, 0, math.Inf(1), "kg/(m² s Pa)")
	return Permeance{v}, err
}

// KilogramsPerSquareMetreSecondPascal returns the permeance in kg/(m² s Pa).
func (p Permeance) KilogramsPerSquareMetreSecondPascal() float64 { return p.si }

// String prints the permeance in kg/(m² s Pa).
func (p Permeance) String() string { return format(p.si) + " kg/(m² s Pa)" }

// MarshalJSON refuses.
func (Permeance) MarshalJSON() ([]byte, error) { return nil, errNoJSON }
