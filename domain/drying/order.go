package drying

import (
	"time"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Order is a question: a piece, the air it hangs in, what it weighed when, and
// the loss that it is to reach. Green, Stuffed and one of Target, Activity and
// Ratio are needed; what is not known of the rest widens the answer.
type Order struct {
	Green    quantity.Mass // stuffed and tied, less tare
	Stuffed  time.Time     // when the green weight was taken
	Hung     time.Time     // when the drying clock starts; the zero time means as stuffed
	AsOf     time.Time     // the present; the zero time means the last weigh-in that counts, or Hung
	Target   quantity.Loss // zero where it is to be done by another measure alone
	WeighIns []WeighIn     // in order of time

	Diameter    material.Known[quantity.Length] // of the stuffed piece
	Temperature material.Known[quantity.Temperature]
	Humidity    material.Known[quantity.RelativeHumidity]
	AirSpeed    material.Known[quantity.Speed]
	Composition Composition

	// Airs are the airs one after the other, those so far and those planned: each
	// from its instant until the next, the last one on. Before the first, and for
	// what one does not tell, the three above hold. Readings are what was read of
	// the air, each until the next; they go before Airs. After the last of them
	// their mean over the last week goes on, or over what there is of the step, until
	// the next of Airs that is later. Both stand in order of time.
	Airs, Readings []Air
	// Equalising are times in which the piece is sealed and does not dry, those so
	// far and those planned, in order of time. What is weighed in them tells what
	// is lost and not how fast.
	Equalising []Pause

	// Activity and Ratio, moisture per protein, are wanted beside or in place of
	// Target: the piece is done when it is there by all of them.
	Activity material.Known[quantity.WaterActivity]
	Ratio    material.Known[quantity.Ratio]

	// Learned is what earlier lots in the same room and casing tell: see [Learn].
	Learned Learned

	// StopsAt is the loss at which earlier lots of the same formula stopped
	// drying in the same air; where airs change, in the last.
	StopsAt material.Known[quantity.Loss]
}

// WeighIn is one weighing of the piece, less the same tare as the green weight.
type WeighIn struct {
	At     time.Time
	Weight quantity.Mass

	// Confirmed says that somebody looked at it and found it right: it is never
	// doubted, and the others are held against it.
	Confirmed bool
}

// Composition is what is known of the mixture as stuffed, each as a part of the
// green weight.
type Composition struct {
	Water, Protein, Fat, Salt, Sugar material.Known[quantity.Fraction]
}
