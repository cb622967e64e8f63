package finish

import (
	"time"

	"greenweight/domain/fermentation"
	"greenweight/domain/formula"
	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Order asks whether a lot may be finished. What is not known is zero or nil.
type Order struct {
	Formula    *formula.Formula
	CarriedOut *formula.Plan // what was done of it, of the same form as a plan
	Rulebooks  []rulebook.Jurisdiction
	Date       time.Time // the day whose rules count
	Identity   string    // the name on the label, by its word; empty when none is asked for

	Activity      []Sample[quantity.WaterActivity]
	PH            []Sample[quantity.PH]
	Analyses      []Analysis
	Weights       []Weight
	Course        *fermentation.Course // how warm the fermentation was, and what was read of the pH
	Stated        *StatedFermentation  // its result, where the course is not at hand
	Residual      *ResidualNitrite
	Results       []Result // of a laboratory
	Packed        Packing
	Smoked        *bool
	Cold          *bool // kept under refrigeration from now on
	KeptAt        *pathogen.TemperatureReading
	SinceStuffing time.Duration // zero when it is not stated
}

// Method is how something was measured. The zero value is invalid.
type Method int

// The methods.
const (
	ByMeter Method = iota + 1
	ByStrip
	ByLaboratory
	ByScale
	ByEstimate // shows nothing
)

var methodWords = []string{"", "meter", "strip", "laboratory", "scale", "estimate"}

// String returns the word used on the wire.
func (m Method) String() string { return word(methodWords, int(m)) }

// ParseMethod reads the word used on the wire.
func ParseMethod(s string) (Method, bool) { return parse[Method](methodWords, s) }

// Place is where in a piece something was measured. The zero value is not stated.
type Place int

// The places.
const (
	Core  Place = iota + 1 // the middle
	Rim                    // the outer part
	Mixed                  // a whole slice, ground or cut up
)

var placeWords = []string{"", "core", "rim", "mixed"}

// String returns the word used on the wire.
func (p Place) String() string { return word(placeWords, int(p)) }

// ParsePlace reads the word used on the wire.
func ParsePlace(s string) (Place, bool) { return parse[Place](placeWords, s) }

// whole reports whether a reading at the place speaks for the whole piece: the
// core is what dries last, and a mixed slice holds all.
func (p Place) whole() bool { return p == Core || p == Mixed }

// When is the time of the work at which something was measured. The zero value is
// that of the finished lot.
type When int

// The times.
const (
	Finished          When = iota
	AfterFermentation      // as the fermentation ended
)

var whenWords = []string{"finished", "after-fermentation"}

// String returns the word used on the wire.
func (w When) String() string {
	if w < 0 || int(w) >= len(whenWords) {
		return "unstated"
	}
	return whenWords[w]
}

// ParseWhen reads the word used on the wire.
func ParseWhen(s string) (When, bool) {
	for i, w := range whenWords {
		if w == s {
			return When(i), true
		}
	}
	return 0, false
}

// Sample is something measured once, on one piece.
type Sample[T any] struct {
	Value        T
	Off          *T // how far off it may be, either way; nil for what is usual
	Method       Method
	Place        Place
	When         When
	Piece        string                // empty when it is not stated
	At           time.Time             // zero when it is not stated
	Temperature  *quantity.Temperature // of the sample as it was read; nil when it is not stated
	Equilibrated bool                  // the sample had come to rest in the meter
}

// Share is a part of a sample by mass, with what it may be off.
type Share struct {
	Of  quantity.Fraction
	Off *quantity.Fraction // nil for what is usual
}

// Analysis is what a laboratory, or a quick method, found in one sample.
type Analysis struct {
	Method                       Method
	Place                        Place
	Piece                        string
	Moisture, Protein, Salt, Fat *Share
}

// Weight is a piece on the scale.
type Weight struct {
	Piece      string
	Green, Now quantity.Mass
	Division   quantity.Mass // of the scale; zero when it is not stated
}

// StatedFermentation is a result of a fermentation that was computed elsewhere.
type StatedFermentation struct {
	Scale       rulebook.Scale
	DegreeHours quantity.DegreeHours
	Highest     quantity.Temperature // of the chamber, before pH 5.3
	PH          quantity.PH          // that was read to end it
	Off         *quantity.PH         // nil for what is usual
}

// ResidualNitrite is what an analysis finds of nitrite in the product.
type ResidualNitrite struct {
	Amount  quantity.PPM
	Off     *quantity.PPM    // nil for what is usual
	Species rulebook.Species // SodiumNitrite or NitriteIon
}

// Packing is how it is packed, or to be packed. What is not stated is nil.
type Packing struct {
	Intact *bool // in its casing, uncut
	Vacuum *bool
	Sliced *bool
}

func word(words []string, i int) string {
	if i <= 0 || i >= len(words) {
		return "unstated"
	}
	return words[i]
}

func parse[T ~int](words []string, s string) (T, bool) {
	for i, w := range words {
		if i > 0 && w == s {
			return T(i), true
		}
	}
	return 0, false
}
