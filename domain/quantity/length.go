package quantity

import "math"

// Exact factors to the metre.
const (
	metresPerMillimetre = 0.001
	metresPerCentimetre = 0.01
	metresPerInch       = 0.0254 // international inch, 1959
	metresPerFoot       = 0.3048
)

// Length is a length. Constructors reject negative input. Zero value: none.
type Length struct{ metres float64 }

// Metres returns a length of m metres; as those for the other units, it returns
// a *RangeError in its unit when the number is negative or the length not
// finite.
func Metres(m float64) (Length, error) { return length(m, 1, "m") }

// Centimetres returns a length of cm centimetres.
func Centimetres(cm float64) (Length, error) { return length(cm, metresPerCentimetre, "cm") }

// Millimetres returns a length of mm millimetres.
func Millimetres(mm float64) (Length, error) { return length(mm, metresPerMillimetre, "mm") }

// Inches returns a length of in inches of 25.4 mm.
func Inches(in float64) (Length, error) { return length(in, metresPerInch, "in") }

// Feet returns a length of ft feet of 12 inches.
func Feet(ft float64) (Length, error) { return length(ft, metresPerFoot, "ft") }

// MustMillimetres is Millimetres for tables and tests; it panics on an error.
func MustMillimetres(mm float64) Length { return must(Millimetres(mm)) }

// MustInches is Inches for tables and tests; it panics on an error.
func MustInches(in float64) Length { return must(Inches(in)) }

func length(v, factor float64, unit string) (Length, error) {
	m, err := amount("length", v, factor, unit)
	return Length{m}, err
}

// Metres returns the length in metres.
func (l Length) Metres() float64 { return l.metres }

// Centimetres returns the length in centimetres.
func (l Length) Centimetres() float64 { return l.metres / metresPerCentimetre }

// Millimetres returns the length in millimetres.
func (l Length) Millimetres() float64 { return l.metres / metresPerMillimetre }

// Inches returns the length in inches.
func (l Length) Inches() float64 { return l.metres / metresPerInch }

// Feet returns the length in feet.
func (l Length) Feet() float64 { return l.metres / metresPerFoot }

// IsZero reports whether there is no length.
func (l Length) IsZero() bool { return l.metres == 0 }

// Less reports whether l is shorter than m.
func (l Length) Less(m Length) bool { return l.metres < m.metres }

// Compare returns -1, 0 or 1 as l is shorter than, as long as or longer than m,
// to a billionth of a metre, so that 88.9 mm are exactly 3.5 inches.
func (l Length) Compare(m Length) int {
	switch d := rounded(l.metres-m.metres, 1e9); {
	case d < 0:
		return -1
	case d > 0:
		return 1
	default:
		return 0
	}
}

// String prints the length in millimetres.
func (l Length) String() string { return format(l.Millimetres()) + " mm" }

// MarshalJSON refuses.
func (Length) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Diffusivity is how fast something evens out inside a body. Zero value: not at
// all.
type Diffusivity struct{ squareMetresPerSecond float64 }

// SquareMetresPerSecond returns a diffusivity of d m²/s; *RangeError when it is
// negative or not finite.
func SquareMetresPerSecond(d float64) (Diffusivity, error) {
	v, err := bounded("diffusivity", d, 0, math.Inf(1), "m²/s")
	return Diffusivity{v}, err
}

// SquareMetresPerSecond returns the diffusivity in m²/s.
func (d Diffusivity) SquareMetresPerSecond() float64 { return d.squareMetresPerSecond }

// String prints the diffusivity in m²/s.
func (d Diffusivity) String() string { return format(d.squareMetresPerSecond) + " m²/s" }

// MarshalJSON refuses.
func (Diffusivity) MarshalJSON() ([]byte, error) { return nil, errNoJSON }
