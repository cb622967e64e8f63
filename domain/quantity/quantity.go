// Package quantity holds the measures a sausage maker works with as types: a
// value of one can't be taken for another, can't be forged from a bare number
// outside its bounds, and names its unit when it leaves the type.
//
// Each type is a struct around one unexported field in one base unit. The
// constructors enforce the bounds and return a *RangeError; nothing is clamped.
// Values travel unrounded. Quantities refuse to be marshalled to JSON, because
// the unit of an answer is chosen where it is written.
//
// Unit factors are exact. The pound is 453.59237 g and the inch 2.54 cm
// (international yard and pound agreement, 1959); the US gallon is 231 cubic
// inches, and spoons, cups and fluid ounces are parts of it (NIST SP 430,
// Household Weights and Measures). NIST SP 811 (2008), appendix B.8, prints the
// same to seven digits.
package quantity

import (
	"errors"
	"math"
	"strconv"
	"strings"
)

// RangeError reports a value outside the bounds of a quantity. Value, Low and
// High are in Unit, the one that the caller used, which is empty for a plain
// number. An infinite bound is none; High is inclusive, and so is Low unless
// LowOpen is set.
type RangeError struct {
	Quantity  string
	Value     float64
	Low, High float64
	LowOpen   bool
	Unit      string
}

// Error says the value seen, the bounds and the unit. The value has all its
// digits: rounded, it could look as if it were inside.
func (e *RangeError) Error() string {
	in := func(v float64) string {
		return strings.TrimSpace(strconv.FormatFloat(v, 'g', -1, 64) + " " + e.Unit)
	}
	bounds := "from " + strconv.FormatFloat(e.Low, 'g', -1, 64) + " to " + in(e.High)
	switch {
	case math.IsInf(e.High, 1) && math.IsInf(e.Low, -1):
		bounds = "a finite number"
	case math.IsInf(e.High, 1) && e.LowOpen:
		bounds = "a finite number of more than " + in(e.Low)
	case math.IsInf(e.High, 1):
		bounds = "a finite number of at least " + in(e.Low)
	}
	return e.Quantity + " must be " + bounds + ", got " + in(e.Value)
}

// errNoJSON is what every MarshalJSON of this package returns.
var errNoJSON = errors.New("a quantity has no JSON form of its own: choose its unit where it is written")

// format prints six significant digits as people write them: with an exponent
// only where the zeros could not be counted any more.
func format(v float64) string {
	const small, large = 1e-6, 1e15
	text := strconv.FormatFloat(v, 'g', 6, 64)
	if abs := math.Abs(v); abs < small || abs >= large || math.IsNaN(v) {
		return text
	}
	rounded, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

func bounded(quantity string, v, low, high float64, unit string) (float64, error) {
	if math.IsNaN(v) || math.IsInf(v, 0) || v < low || v > high {
		return 0, &RangeError{Quantity: quantity, Value: v, Low: low, High: high, Unit: unit}
	}
	return v + 0, nil // the sum makes a minus zero, which would be printed as one, a plain zero
}

// amount returns v units as an amount in base units, of which unit holds
// factor. The error is in unit, also where only the product has no finite value.
func amount(quantity string, v, factor float64, unit string) (float64, error) {
	v, err := bounded(quantity, v, 0, math.Inf(1), unit)
	if err != nil {
		return 0, err
	}
	if base := v * factor; !math.IsInf(base, 1) {
		return base, nil
	}
	return 0, &RangeError{Quantity: quantity, Value: v, Low: 0, High: math.MaxFloat64 / factor, Unit: unit}
}

// positive returns an error when v, which something is to be divided by, is not.
func positive(quantity string, v float64, unit string) error {
	if v > 0 {
		return nil
	}
	return &RangeError{Quantity: quantity, Value: v, Low: 0, High: math.Inf(1), LowOpen: true, Unit: unit}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// Exact factors to the base units.
const (
	gramsPerKilogram    = 1000
	gramsPerPound       = 453.59237 // international pound, 1959
	gramsPerOunce       = gramsPerPound / 16
	millilitresPerLitre = 1000
	millilitresPerCup   = 236.5882365 // US cup, half a US pint
	millilitresPerTsp   = 4.92892159375
	millilitresPerTbsp  = 14.78676478125
	millilitresPerFloz  = 29.5735295625
)

// Mass is an amount of matter. Constructors reject negative input; a difference
// may be negative and then means a deficit. Zero value: no mass.
type Mass struct{ grams float64 }

// Grams returns a mass of g grams; as those for the other units, it returns a
// *RangeError in its unit when the number is negative or the mass not finite.
func Grams(g float64) (Mass, error) {
	v, err := amount("mass", g, 1, "g")
	return Mass{v}, err
}

// MustGrams is Grams for tables and tests; it panics on an error.
func MustGrams(g float64) Mass { return must(Grams(g)) }

// Kilograms returns a mass of kg kilograms.
func Kilograms(kg float64) (Mass, error) {
	v, err := amount("mass", kg, gramsPerKilogram, "kg")
	return Mass{v}, err
}

// Milligrams returns a mass of mg milligrams.
func Milligrams(mg float64) (Mass, error) {
	v, err := amount("mass", mg, 1, "mg")
	return Mass{v / 1000}, err
}

// Pounds returns a mass of lb avoirdupois pounds of 453.59237 g.
func Pounds(lb float64) (Mass, error) {
	v, err := amount("mass", lb, gramsPerPound, "lb")
	return Mass{v}, err
}

// Ounces returns a mass of oz avoirdupois ounces, 16 to the pound.
func Ounces(oz float64) (Mass, error) {
	v, err := amount("mass", oz, gramsPerOunce, "oz")
	return Mass{v}, err
}

// Grams returns the mass in grams.
func (m Mass) Grams() float64 { return m.grams }

// Kilograms returns the mass in kilograms.
func (m Mass) Kilograms() float64 { return m.grams / 1000 }

// Milligrams returns the mass in milligrams.
func (m Mass) Milligrams() float64 { return m.grams * 1000 }

// Pounds returns the mass in avoirdupois pounds.
func (m Mass) Pounds() float64 { return m.grams / gramsPerPound }

// Ounces returns the mass in avoirdupois ounces.
func (m Mass) Ounces() float64 { return m.grams / gramsPerOunce }

// Plus returns the sum.
func (m Mass) Plus(n Mass) Mass { return Mass{m.grams + n.grams} }

// Minus returns the difference, negative for a deficit.
func (m Mass) Minus(n Mass) Mass { return Mass{m.grams - n.grams} }

// Times returns the mass k times over.
func (m Mass) Times(k Ratio) Mass { return Mass{m.grams * k.value} }

// DividedBy returns the mass of which m is k times as much; *RangeError when k
// is not positive, or so small that the mass would not be finite.
func (m Mass) DividedBy(k Ratio) (Mass, error) {
	if err := positive("divisor", k.value, ""); err != nil {
		return Mass{}, err
	}
	v, err := bounded("mass", m.grams/k.value, math.Inf(-1), math.Inf(1), "g")
	return Mass{v}, err
}

// Less reports whether m is smaller than n.
func (m Mass) Less(n Mass) bool { return m.grams < n.grams }

// IsZero reports whether there is no mass at all.
func (m Mass) IsZero() bool { return m.grams == 0 }

// Over returns how many times n goes into m; *RangeError when n is not
// positive, or so small that the ratio would not be finite.
func (m Mass) Over(n Mass) (Ratio, error) {
	if err := positive("divisor mass", n.grams, "g"); err != nil {
		return Ratio{}, err
	}
	return NewRatio(m.grams / n.grams)
}

// String prints the mass in grams.
func (m Mass) String() string { return format(m.grams) + " g" }

// MarshalJSON refuses.
func (Mass) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// RoundDirection says which way a mass is moved to reach a division of a scale.
type RoundDirection int

// The directions. The zero value rounds to the nearest division, ties up.
const (
	ToNearest RoundDirection = iota
	Down
	Up
)

// RoundTo returns the multiple of division nearest to m in the given direction,
// and how many divisions that is; halves are rounded up.
//
// A mass within a billionth of a division of a multiple, or within 1e-14 of
// itself where that is more, counts as that multiple: a mass computed from
// exact rates by a few float operations is off by about 1e-15 of itself, and
// must not fall a whole division for it. This slack is never more than a
// hundredth of a division, so that Down never gives more than that above m and
// Up never more than that below. It returns a *RangeError when division is not
// positive, when it goes into m more than 1e15 times, where a float has no
// digits left for a part of a division, and when the result is not finite.
func (m Mass) RoundTo(division Mass, direction RoundDirection) (Mass, int64, error) {
	if err := positive("scale division", division.grams, "g"); err != nil {
		return Mass{}, 0, err
	}
	const (
		most       = 1e15
		ofDivision = 1e-9
		ofMass     = 1e-14
		slack      = 1e-2
		half       = 0.5
	)
	steps := m.grams / division.grams
	if !(math.Abs(steps) <= most) {
		return Mass{}, 0, &RangeError{Quantity: "count of scale divisions in the mass", Value: steps, Low: -most, High: most}
	}
	tolerance := min(max(ofDivision, ofMass*math.Abs(steps)), slack)
	switch direction {
	case Down:
		steps = math.Floor(steps + tolerance)
	case Up:
		steps = math.Ceil(steps - tolerance)
	case ToNearest:
		steps = math.Floor(steps + half + tolerance)
	}
	n := int64(steps)
	v, err := bounded("rounded mass", float64(n)*division.grams, math.Inf(-1), math.Inf(1), "g")
	if err != nil {
		return Mass{}, 0, err
	}
	return Mass{v}, n, nil
}

// Volume is a space filled by a liquid or a spooned powder. Zero value: none.
type Volume struct{ millilitres float64 }

// Millilitres returns a volume of ml millilitres; as those for the other units,
// it returns a *RangeError in its unit when the number is negative or the
// volume not finite.
func Millilitres(ml float64) (Volume, error) {
	v, err := amount("volume", ml, 1, "mL")
	return Volume{v}, err
}

// Litres returns a volume of l litres.
func Litres(l float64) (Volume, error) {
	v, err := amount("volume", l, millilitresPerLitre, "L")
	return Volume{v}, err
}

// Teaspoons returns a volume of US customary teaspoons of 4.92892159375 mL.
func Teaspoons(n float64) (Volume, error) {
	v, err := amount("volume", n, millilitresPerTsp, "tsp")
	return Volume{v}, err
}

// Tablespoons returns a volume of US customary tablespoons, 3 teaspoons each.
func Tablespoons(n float64) (Volume, error) {
	v, err := amount("volume", n, millilitresPerTbsp, "tbsp")
	return Volume{v}, err
}

// MustMillilitres is Millilitres for tables and tests; it panics on an error.
func MustMillilitres(ml float64) Volume { return must(Millilitres(ml)) }

// MustTablespoons is Tablespoons for tables and tests; it panics on an error.
func MustTablespoons(n float64) Volume { return must(Tablespoons(n)) }

// Cups returns a volume of US customary cups of 236.5882365 mL.
func Cups(n float64) (Volume, error) {
	v, err := amount("volume", n, millilitresPerCup, "cup")
	return Volume{v}, err
}

// FluidOunces returns a volume of US fluid ounces of 29.5735295625 mL.
func FluidOunces(n float64) (Volume, error) {
	v, err := amount("volume", n, millilitresPerFloz, "fl oz")
	return Volume{v}, err
}

// Millilitres returns the volume in millilitres.
func (v Volume) Millilitres() float64 { return v.millilitres }

// Litres returns the volume in litres.
func (v Volume) Litres() float64 { return v.millilitres / 1000 }

// Teaspoons returns the volume in US customary teaspoons.
func (v Volume) Teaspoons() float64 { return v.millilitres / millilitresPerTsp }

// Tablespoons returns the volume in US customary tablespoons.
func (v Volume) Tablespoons() float64 { return v.millilitres / millilitresPerTbsp }

// Cups returns the volume in US customary cups.
func (v Volume) Cups() float64 { return v.millilitres / millilitresPerCup }

// FluidOunces returns the volume in US fluid ounces.
func (v Volume) FluidOunces() float64 { return v.millilitres / millilitresPerFloz }

// Times returns the volume k times over.
func (v Volume) Times(k Ratio) Volume { return Volume{v.millilitres * k.value} }

// String prints the volume in millilitres.
func (v Volume) String() string { return format(v.millilitres) + " mL" }

// MarshalJSON refuses.
func (Volume) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Density is mass in a filled volume: of a liquid, or in bulk of a powder
// levelled in a spoon. Zero value: none.
type Density struct{ gramsPerMillilitre float64 }

// GramsPerMillilitre returns a density; *RangeError outside 0..25 (the bound
// keeps out slips of unit: no food is denser than metal).
func GramsPerMillilitre(d float64) (Density, error) {
	v, err := bounded("density", d, 0, 25, "g/mL")
	return Density{v}, err
}

// MustGramsPerTeaspoon returns the density of a powder of which a level US
// teaspoon weighs g grams. For tables and tests; it panics on an error.
func MustGramsPerTeaspoon(g float64) Density {
	return must(GramsPerMillilitre(g / millilitresPerTsp))
}

// MustGramsPerMillilitre is GramsPerMillilitre for tables and tests.
func MustGramsPerMillilitre(d float64) Density { return must(GramsPerMillilitre(d)) }

// GramsPerMillilitre returns the density in grams per millilitre.
func (d Density) GramsPerMillilitre() float64 { return d.gramsPerMillilitre }

// Of returns the mass of a volume at this density.
func (d Density) Of(v Volume) Mass { return Mass{d.gramsPerMillilitre * v.millilitres} }

// IsZero reports whether no density is known.
func (d Density) IsZero() bool { return d.gramsPerMillilitre == 0 }

// String prints the density in grams per millilitre.
func (d Density) String() string { return format(d.gramsPerMillilitre) + " g/mL" }

// MarshalJSON refuses.
func (Density) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Fraction is a part of a whole, 0..1. Zero value: nothing of it.
type Fraction struct{ part float64 }

// NewFraction returns the fraction f; *RangeError outside 0..1.
func NewFraction(f float64) (Fraction, error) {
	v, err := bounded("fraction", f, 0, 1, "")
	return Fraction{v}, err
}

// Percent returns the fraction p/100; *RangeError outside 0..100.
func Percent(p float64) (Fraction, error) {
	v, err := bounded("percentage", p, 0, 100, "%")
	return Fraction{v / 100}, err
}

// MustPercent is Percent for tables and tests; it panics on an error.
func MustPercent(p float64) Fraction { return must(Percent(p)) }

// Float returns the fraction as a plain number, 0..1.
func (f Fraction) Float() float64 { return f.part }

// Percent returns the fraction in percent.
func (f Fraction) Percent() float64 { return f.part * 100 }

// Of returns the part of m.
func (f Fraction) Of(m Mass) Mass { return Mass{f.part * m.grams} }

// Complement returns what is left of the whole.
func (f Fraction) Complement() Fraction { return Fraction{1 - f.part} }

// Ratio returns the fraction as a ratio.
func (f Fraction) Ratio() Ratio { return Ratio{f.part} }

// IsZero reports whether it is nothing of the whole.
func (f Fraction) IsZero() bool { return f.part == 0 }

// String prints the fraction in percent.
func (f Fraction) String() string { return format(f.Percent()) + " %" }

// MarshalJSON refuses.
func (Fraction) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Ratio is a finite number without unit: one amount over another. It may be
// larger than one, and negative where an amount is a deficit.
type Ratio struct{ value float64 }

// NewRatio returns the ratio v; *RangeError when it is not finite.
func NewRatio(v float64) (Ratio, error) {
	v, err := bounded("ratio", v, math.Inf(-1), math.Inf(1), "")
	return Ratio{v}, err
}

// MustRatio is NewRatio for tables and tests; it panics on an error.
func MustRatio(v float64) Ratio { return must(NewRatio(v)) }

// Float returns the ratio as a plain number.
func (r Ratio) Float() float64 { return r.value }

// Percent returns the ratio in percent.
func (r Ratio) Percent() float64 { return r.value * 100 }

// Of returns the mass r times m.
func (r Ratio) Of(m Mass) Mass { return Mass{r.value * m.grams} }

// PPM returns the ratio as a mass fraction; *RangeError when it is negative or
// the mass fraction not finite.
func (r Ratio) PPM() (PPM, error) { return PartsPerMillion(r.value * 1e6) }

// String prints the number.
func (r Ratio) String() string { return format(r.value) }

// MarshalJSON refuses.
func (Ratio) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// PPM is mass in mass in parts per million, which is mg/kg. It says nothing of
// which substance in which base: that stands beside it. It is not negative.
type PPM struct{ milligramsPerKilogram float64 }

// PartsPerMillion returns a mass fraction; *RangeError when it is negative or
// not finite. It may exceed a million where the base is not the whole.
func PartsPerMillion(v float64) (PPM, error) {
	v, err := bounded("mass fraction", v, 0, math.Inf(1), "mg/kg")
	return PPM{v}, err
}

// MustPPM is PartsPerMillion for tables and tests; it panics on an error.
func MustPPM(v float64) PPM { return must(PartsPerMillion(v)) }

// MilligramsPerKilogram returns the mass fraction in mg/kg.
func (p PPM) MilligramsPerKilogram() float64 { return p.milligramsPerKilogram }

// GramsPerKilogram returns the mass fraction in g/kg.
func (p PPM) GramsPerKilogram() float64 { return p.milligramsPerKilogram / 1000 }

// Percent returns the mass fraction in percent.
func (p PPM) Percent() float64 { return p.milligramsPerKilogram / 1e4 }

// Of returns the mass of the substance in m.
func (p PPM) Of(m Mass) Mass { return Mass{p.milligramsPerKilogram * m.grams / 1e6} }

// Times returns the mass fraction k times over; *RangeError when k is negative
// or the product not finite.
func (p PPM) Times(k Ratio) (PPM, error) { return PartsPerMillion(p.milligramsPerKilogram * k.value) }

// Less reports whether p is smaller than q.
func (p PPM) Less(q PPM) bool { return p.milligramsPerKilogram < q.milligramsPerKilogram }

// Compare returns -1, 0 or 1 as p is below, at or above q. They are at each
// other when they differ by at most a billionth of the larger: amounts that
// come from exact rates by a few float operations differ by about 1e-15, and no
// scale in a kitchen or shop resolves a billionth.
func (p PPM) Compare(q PPM) int {
	const slack = 1e-9
	d := p.milligramsPerKilogram - q.milligramsPerKilogram
	switch {
	case math.Abs(d) <= slack*math.Max(p.milligramsPerKilogram, q.milligramsPerKilogram):
		return 0
	case d < 0:
		return -1
	default:
		return 1
	}
}

// IsZero reports whether there is none of the substance.
func (p PPM) IsZero() bool { return p.milligramsPerKilogram == 0 }

// String prints the mass fraction in mg/kg.
func (p PPM) String() string { return format(p.milligramsPerKilogram) + " mg/kg" }

// MarshalJSON refuses.
func (PPM) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// CellCount is living cells of a culture in a gram, CFU/g.
type CellCount struct{ perGram float64 }

// CFUPerGram returns a cell count; *RangeError outside 0..1e13 (a gram of pure
// bacteria holds about 1e12 cells of a cubic micrometre).
func CFUPerGram(n float64) (CellCount, error) {
	v, err := bounded("cell count", n, 0, 1e13, "CFU/g")
	return CellCount{v}, err
}

// MustCFUPerGram is CFUPerGram for tables and tests; it panics on an error.
func MustCFUPerGram(n float64) CellCount { return must(CFUPerGram(n)) }

// CFUPerGram returns the count per gram.
func (c CellCount) CFUPerGram() float64 { return c.perGram }

// Diluted returns the count in the mixture when the culture is a share of it;
// *RangeError when share is negative or the product more than a gram can hold.
func (c CellCount) Diluted(share Ratio) (CellCount, error) {
	return CFUPerGram(c.perGram * share.value)
}

// String prints the count.
func (c CellCount) String() string { return format(c.perGram) + " CFU/g" }

// MarshalJSON refuses.
func (CellCount) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// Between is a closed interval of a quantity: what is known when an amount is
// not known exactly, such as a spoonful. Low is not above High.
type Between[T any] struct{ Low, High T }

// Exactly returns the interval that holds only v.
func Exactly[T any](v T) Between[T] { return Between[T]{v, v} }
