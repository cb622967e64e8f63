package acidity

import (
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// course is a fermentation whose end is known, as far as it is.
type course struct {
	id, file string
	study    string // where it was published; a computed lot stands for itself
	origin   origin
	facts    facts
	readings []reading // in order of time
	truth    truth

	kind, climate, schedule string // of a computed lot: how its truth is made, its chamber, its readings
}

// origin is where a course is from.
type origin int

const (
	originSausage  origin = iota + 1 // measured on dry sausage
	originAnalogue                   // measured on something else that sours
	originGrowth                     // computed from growth, acid and buffer
	originCurve                      // computed from a curve
)

// computed reports whether nobody measured it.
func (o origin) computed() bool { return o == originGrowth || o == originCurve }

// facts are what a maker may know at the start.
type facts struct {
	chamber  chamber // as a thermometer reads it
	plan     chamber // as it is meant to be, where that is another; nil where not
	assumed  bool    // nobody told how warm the chamber was
	species  string  // key of the species; empty when it is not known
	grade    float64 // between the fields of a strip, 0 for a meter
	diameter material.Known[quantity.Length]
}

// reading is a pH at an hour from the start.
type reading struct{ hour, ph float64 }

// truth is when the pH came down to the target: after one hour and by another,
// which are the same where it is known exactly.
type truth struct {
	After, By float64 // +Inf as By: not by After, and nobody knows whether ever
	Point     float64 // the hour that one would name: on the straight line between both, +Inf where By is
	Never     bool    // it never does; After is +Inf for a computed lot, the last hour for a measured one
}

// exact reports whether the hour is known.
func (t truth) exact() bool { return !t.Never && t.After == t.By }
