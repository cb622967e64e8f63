package formula

import (
	"math"
	"slices"
	"time"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Plan is how it is meant to be made. What is not stated is zero or unknown.
// That a plan was carried out is for the record of the lot.
type Plan struct {
	Loss                *quantity.Fraction // planned loss of the green weight; nil when it is not stated
	KeepRefrigerated    bool               // what the label will say
	LabelStorageIsKnown bool               // whether KeepRefrigerated was stated at all
	WantedPH            *quantity.PH       // what the fermentation is to reach; nil when it is not stated

	// LowAcid declares a cool, low-acid traditional sausage: no acid down to pH 5.3
	// is intended, and cold, time, the cure and the final water activity are to
	// carry it. It is never inferred.
	LowAcid bool

	Freezing     []Freezing // of every part that has no freezing of its own, one while after the other
	Grind        Grind
	Casing       PlannedCasing
	Hold         []Hold // before drying, one while after the other
	Fermentation []Step // one after the other
	Smoke, Heat  []Warmth
	Drying       []Step // one after the other
	Trichinae    TrichinaeRoute
}

// Span returns how long fermentation and drying are planned to last together,
// and false when a step is open-ended or none is planned.
func (p Plan) Span() (time.Duration, bool) {
	var span time.Duration
	for _, s := range slices.Concat(p.Fermentation, p.Drying) {
		if s.Span == 0 {
			return 0, false
		}
		span += s.Span
	}
	return span, span > 0
}

// Step is a while in one air.
type Step struct {
	Temperature material.Known[quantity.Temperature]
	Humidity    material.Known[quantity.RelativeHumidity]
	AirSpeed    material.Known[quantity.Speed]
	Span        time.Duration // 0 when it lasts until something else is shown
}

// Grind is how small the meat is cut. A zero Length is not stated.
type Grind struct {
	Plate        quantity.Length // holes of the plate
	LargestPiece quantity.Length // what no piece exceeds, where that is not the plate
}

// Largest returns what no piece exceeds: the largest piece as stated, or the
// holes of the plate; no Length when neither is.
func (g Grind) Largest() quantity.Length {
	if !g.LargestPiece.IsZero() {
		return g.LargestPiece
	}
	return g.Plate
}

// Freezing is a while that meat is kept frozen, counted from when the meat
// itself had come down to the temperature.
type Freezing struct {
	Temperature quantity.Temperature // the warmest of the while
	AtCentre    bool                 // read at the centre of the meat, not in the chamber
	Span        time.Duration
	Thickness   quantity.Length // of the thickest piece, layer or box; zero when it is not stated
}

// CasingKind is what a casing is made of. The zero value is not stated.
type CasingKind int

// The kinds of casing.
const (
	NaturalCasing CasingKind = iota + 1
	CollagenCasing
	FibrousCasing
	CelluloseCasing
	ClothCasing
	PlasticCasing
	NoCasing // whole muscle, hung bare
)

var casingWords = []string{"", "natural", "collagen", "fibrous", "cellulose", "cloth", "plastic", "none"}

// String returns the word used on the wire.
func (k CasingKind) String() string {
	if k <= 0 || int(k) >= len(casingWords) {
		return "unstated"
	}
	return casingWords[k]
}

// ParseCasingKind reads the word used on the wire.
func ParseCasingKind(s string) (CasingKind, bool) { return parse[CasingKind](casingWords, s) }

// PlannedCasing is what the mixture is stuffed into. A zero Length is not
// stated.
type PlannedCasing struct {
	Kind      CasingKind
	Diameter  quantity.Length // of the sausage, when it is stuffed
	FlatWidth quantity.Length // of the empty casing, laid flat
}

// stretch is what a casing may widen by on stuffing, as a share of what it is
// unstuffed: a choice of this project, to err towards the thicker sausage.
const stretch = 0.1

// Stuffed returns the diameter when stuffed, and whether it was stated. From the
// flat width w it is at most
//
//	d = (2 w / π) (1 + s)
//
// with s a tenth for what the casing stretches. No Length when neither is
// known.
func (c PlannedCasing) Stuffed() (diameter quantity.Length, stated bool) {
	if !c.Diameter.IsZero() || c.FlatWidth.IsZero() {
		return c.Diameter, !c.Diameter.IsZero()
	}
	d, err := quantity.Millimetres(2 * c.FlatWidth.Millimetres() / math.Pi * (1 + stretch))
	if err != nil {
		return quantity.Length{}, false
	}
	return d, false
}

// HoldOf is what is held. The zero value is invalid.
type HoldOf int

// What may be held before drying.
const (
	InDryCure HoldOf = iota + 1 // whole muscle, salted
	Mixed                       // the mixture, before stuffing
	Stuffed                     // the sausages
)

var holdWords = []string{"", "dry-cure", "mixed", "stuffed"}

// String returns the word used on the wire.
func (h HoldOf) String() string {
	if h <= 0 || int(h) >= len(holdWords) {
		return "unstated"
	}
	return holdWords[h]
}

// ParseHoldOf reads the word used on the wire.
func ParseHoldOf(s string) (HoldOf, bool) { return parse[HoldOf](holdWords, s) }

// Hold is a while that the salted meat, the mixture or the sausages are kept
// before they dry.
type Hold struct {
	Of          HoldOf
	Temperature material.Known[quantity.Temperature] // the coldest of the while
	Humidity    material.Known[quantity.RelativeHumidity]
	Span        time.Duration
	Depth       quantity.Length // of the mixture; zero when it is not stated
}

// Warmth is a while in warm air, with smoke or without.
type Warmth struct {
	Temperature material.Known[quantity.Temperature] // of the air, the coldest of the while
	Humidity    material.Known[quantity.RelativeHumidity]
	Span        time.Duration
	Core        material.Known[quantity.Temperature] // what the core reaches
	CoreHeld    time.Duration                        // how long the core is kept there or above; 0 when it only reaches it
}

// Route is a way to deal with trichinae. The zero value is none.
type Route int

// The routes.
const (
	RouteFreezing Route = iota + 1
	RouteHeating
	RouteDryingMethod // one of the prescribed methods of salting and drying
	RouteCarcassTesting
	RouteControlledHousing
	RouteValidatedTreatment
)

var routeWords = []string{
	"", "freezing", "heating", "drying-method", "carcass-testing", "controlled-housing", "validated-treatment",
}

// String returns the word used on the wire.
func (r Route) String() string {
	if r <= 0 || int(r) >= len(routeWords) {
		return "unstated"
	}
	return routeWords[r]
}

// ParseRoute reads the word used on the wire.
func ParseRoute(s string) (Route, bool) { return parse[Route](routeWords, s) }

// DryingMethod is one of the prescribed methods of salting and drying. The zero
// value is none.
type DryingMethod int

// The methods, by their numbers, and those for whole muscle by their names.
const (
	Method1 DryingMethod = iota + 1
	Method2
	Method3
	Method4
	Method5
	Method6
	Method7
	MethodCoppa
	MethodCapocollo
)

var methodWords = []string{
	"", "method-1", "method-2", "method-3", "method-4", "method-5", "method-6", "method-7", "coppa", "capocollo",
}

// String returns the word used on the wire.
func (m DryingMethod) String() string {
	if m <= 0 || int(m) >= len(methodWords) {
		return "unstated"
	}
	return methodWords[m]
}

// ParseDryingMethod reads the word used on the wire.
func ParseDryingMethod(s string) (DryingMethod, bool) { return parse[DryingMethod](methodWords, s) }

// TrichinaeRoute is the way that the plan takes, with what shows it where that
// is a paper.
type TrichinaeRoute struct {
	Route       Route        // zero when none is chosen
	Method      DryingMethod // of RouteDryingMethod
	Certificate string       // what shows it: the number of a report, mark or certificate
	IssuedBy    string       // who gave the certificate
}

// parse returns the place of a word, and false when it is none.
func parse[T ~int](words []string, s string) (T, bool) {
	for i, w := range words {
		if i > 0 && w == s {
			return T(i), true
		}
	}
	return 0, false
}
