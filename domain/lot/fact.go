package lot

import (
	"time"

	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Told is what the body of an entry says.
type Told struct {
	HappenedAt time.Time // zero when it is not told
	By         string    // who did or saw it, when that is not the person behind the key
	LateReason string    // why it is recorded late
	Fact       Fact
}

// Fact is what an entry tells: one of the types below, one for each kind.
type Fact interface {
	// Kind returns the kind of the entries that tell such a fact.
	Kind() Kind
}

// Planned opens a lot.
type Planned struct {
	Name         string
	Formula      formula.Formula
	Jurisdiction rulebook.Jurisdiction // whose rules the lot is made by
	RulesOn      time.Time             // the day whose rules count; zero for the day it was opened
}

// Mixed is the batch coming about.
type Mixed struct {
	Batch      material.Known[quantity.Mass] // all of it
	WeighedOut []WeighedOut
}

// WeighedOut is what was really put on the scale of one thing.
type WeighedOut struct {
	Name        string
	Weight      quantity.Mass
	SupplierLot string // as on its packing; empty when not told
}

// Stuffed is pieces coming about.
type Stuffed struct{ Pieces []Piece }

// Piece is one sausage as it was stuffed, tied and weighed. Its name is unique
// in the lot.
type Piece struct {
	Name     string
	Weight   quantity.Mass // as the scale showed, with the tare
	Tare     quantity.Mass // what hangs with it: hook, string, net
	Casing   string
	Diameter material.Known[quantity.Length]
	Means    Means
	Division material.Known[quantity.Mass] // of the scale
}

// Hung is pieces being hung to dry, which starts their drying clock.
type Hung struct {
	Pieces   []string // when empty all that were stuffed by then, by what had been recorded, and do not hang yet
	Room     string
	Position string
}

// Weighed is a weigh-in of one piece.
type Weighed struct {
	Piece    string
	Weight   quantity.Mass                 // as the scale showed, with the tare
	Tare     material.Known[quantity.Mass] // that of the piece when not told
	Means    Means
	Division material.Known[quantity.Mass] // of the scale
}

// Place is where something was measured. The zero value is invalid.
type Place int

// The places.
const (
	Air  Place = iota + 1 // of the chamber or room
	Core                  // in the middle of a piece
)

// String returns the word used on the wire.
func (p Place) String() string {
	switch p {
	case Air:
		return "air"
	case Core:
		return "core"
	default:
		return "unstated"
	}
}

// Measured is anything measured but a weight, at least one thing.
type Measured struct {
	Place         Place  // of the temperature
	Piece         string // empty when it is not of one piece
	Temperature   material.Known[quantity.Temperature]
	Humidity      material.Known[quantity.RelativeHumidity]
	AirSpeed      material.Known[quantity.Speed]
	PH            material.Known[quantity.PH]
	WaterActivity material.Known[quantity.WaterActivity]
	Means         Means

	// How far off the value may be, either way; not told where not known.
	TemperatureWithin   material.Known[quantity.TemperatureDelta]
	HumidityWithin      material.Known[quantity.Fraction]
	PHWithin            material.Known[quantity.Between[quantity.PH]] // both ends
	WaterActivityWithin material.Known[quantity.Between[quantity.WaterActivity]]
}

// Means is what something was measured with, as far as it was told.
type Means struct {
	Method       Method
	Instrument   string // the maker's name for it
	CalibratedAt time.Time
}

// Method is how something was measured; the zero value means that it was not
// told.
type Method int

// The methods.
const (
	Meter Method = iota + 1
	Scale
	Strip
	Laboratory
	ByEstimate
)

var methodWords = []string{"", "meter", "scale", "strip", "laboratory", "estimate"}

// String returns the word used on the wire, "unstated" for the zero value.
func (m Method) String() string {
	if m <= 0 || int(m) >= len(methodWords) {
		return "unstated"
	}
	return methodWords[m]
}

// ParseMethod reads the word used on the wire.
func ParseMethod(word string) (Method, bool) {
	for m := Meter; m <= ByEstimate; m++ {
		if methodWords[m] == word {
			return m, true
		}
	}
	return 0, false
}

// Observed is what was seen, smelt or felt.
type Observed struct {
	About string // what of: mould, colour, smell and so on, as on the wire
	Piece string // empty when it is not of one piece
	Text  string
}

// Noted is anything else worth keeping.
type Noted struct{ Text string }

// Corrected puts what is right in the place of what an earlier entry told. That
// entry stays readable. What it puts there is of the same kind, and takes the
// place of earlier corrections too.
type Corrected struct {
	Entry  int // sequence of the entry that was wrong
	Reason string
	Right  Told // a HappenedAt that is not told stays as it was
}

// Retracted takes back an earlier entry, which stays readable.
type Retracted struct {
	Entry  int
	Reason string
}

// Confirmed says that a doubtful entry, or any weigh-in, was looked at and is
// right; one that was corrected, that it is right as it was corrected.
type Confirmed struct {
	Entry  int
	Reason string
}

// Kind returns KindPlanned.
func (Planned) Kind() Kind { return KindPlanned }

// Kind returns KindMixed.
func (Mixed) Kind() Kind { return KindMixed }

// Kind returns KindStuffed.
func (Stuffed) Kind() Kind { return KindStuffed }

// Kind returns KindHung.
func (Hung) Kind() Kind { return KindHung }

// Kind returns KindWeighed.
func (Weighed) Kind() Kind { return KindWeighed }

// Kind returns KindMeasured.
func (Measured) Kind() Kind { return KindMeasured }

// Kind returns KindObserved.
func (Observed) Kind() Kind { return KindObserved }

// Kind returns KindNoted.
func (Noted) Kind() Kind { return KindNoted }

// Kind returns KindCorrected.
func (Corrected) Kind() Kind { return KindCorrected }

// Kind returns KindRetracted.
func (Retracted) Kind() Kind { return KindRetracted }

// Kind returns KindConfirmed.
func (Confirmed) Kind() Kind { return KindConfirmed }
