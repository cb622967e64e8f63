package quantity

import "math"

// AcidContent is an amount of an acid of one proton in a mass. Zero value: none.
type AcidContent struct{ millimolesPerKilogram float64 }

// MillimolesPerKilogram returns the content of n mmol in a kilogram; *RangeError
// for a negative one.
func MillimolesPerKilogram(n float64) (AcidContent, error) {
	v, err := bounded("acid", n, 0, math.MaxFloat64, "mmol/kg")
	return AcidContent{v}, err
}

// MustMillimolesPerKilogram is MillimolesPerKilogram for tables and tests; it
// panics on an error.
func MustMillimolesPerKilogram(n float64) AcidContent { return must(MillimolesPerKilogram(n)) }

// MillimolesPerKilogram returns the content in mmol in a kilogram.
func (a AcidContent) MillimolesPerKilogram() float64 { return a.millimolesPerKilogram }

// Times returns k times the content.
func (a AcidContent) Times(k Ratio) AcidContent {
	return AcidContent{a.millimolesPerKilogram * k.value}
}

// Of returns the mass fraction of an acid of which a mol weighs molar grams.
func (a AcidContent) Of(molar Mass) (PPM, error) {
	return PartsPerMillion(a.millimolesPerKilogram * molar.grams)
}

// String prints the content in mmol in a kilogram.
func (a AcidContent) String() string { return format(a.millimolesPerKilogram) + " mmol/kg" }

// MarshalJSON refuses.
func (AcidContent) MarshalJSON() ([]byte, error) { return nil, errNoJSON }

// BufferCapacity is the acid that a mass takes for a unit of pH. Zero value:
// none, so that any acid is too much.
type BufferCapacity struct{ millimolesPerKilogramPH float64 }

// MillimolesPerKilogramPH returns the capacity of n mmol for a kilogram and a
// unit of pH; *RangeError for a negative one.
func MillimolesPerKilogramPH(n float64) (BufferCapacity, error) {
	v, err := bounded("buffer capacity", n, 0, math.MaxFloat64, "mmol/(kg pH)")
	return BufferCapacity{v}, err
}

// MustMillimolesPerKilogramPH is MillimolesPerKilogramPH for tables and tests;
// it panics on an error.
func MustMillimolesPerKilogramPH(n float64) BufferCapacity { return must(MillimolesPerKilogramPH(n)) }

// MillimolesPerKilogramPH returns the capacity in mmol for a kilogram and a unit
// of pH.
func (b BufferCapacity) MillimolesPerKilogramPH() float64 { return b.millimolesPerKilogramPH }

// String prints the capacity in mmol for a kilogram and a unit of pH.
func (b BufferCapacity) String() string { return format(b.millimolesPerKilogramPH) + " mmol/(kg pH)" }

// MarshalJSON refuses.
func (BufferCapacity) MarshalJSON() ([]byte, error) { return nil, errNoJSON }
