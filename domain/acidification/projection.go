package acidification

import (
	"math"
	"time"

	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Model is the name and version of the model, which changes whenever the same
// order would get another answer.
const Model = "acidification-thermal-2026.1"

// Never stands for a time that does not come.
const Never time.Duration = math.MaxInt64

// Outcome is what kind of answer a crossing is. The zero value is invalid.
type Outcome int

// The outcomes.
const (
	Projected    Outcome = iota + 1 // the pH is reached at a time that can be told within bounds
	AlreadyThere                    // a pH at or below it was read
	MayNotReach                     // it is rather reached than not, and may well not be
	WillNotReach                    // more likely than not it is not reached within the horizon
)

// String returns the word used on the wire.
func (o Outcome) String() string {
	switch o {
	case Projected:
		return "projected"
	case AlreadyThere:
		return "already-there"
	case MayNotReach:
		return "may-not-reach"
	case WillNotReach:
		return "will-not-reach"
	default:
		return "unstated"
	}
}

// Projection is the answer to an Order.
type Projection struct {
	Model    string
	Fitted   bool          // false: at most one reading counts, and every band is little more than the one before any
	Readings []Seen        // those of the course, in its order
	Now      time.Duration // the end of the temperatures so far or the last reading, whichever is later
	Course   []Point       // from the start on, through Now, at most mostPoints
	To       []Crossing    // to 5.3, then to the target where it is another
	Floor    Band[quantity.PH]
	Deciding string // id of the rule on degree-hours that is the guidance of the rulebook; empty where neither is
	Findings []finding.Finding
	Notes    []finding.Note
}

// Seen is a reading of the pH as the fit saw it.
type Seen struct {
	At     time.Duration
	PH     quantity.PH
	Within quantity.Between[quantity.PH] // what it may be
	Doubt  string                        // code of the reason why it was left out; empty when it counts
	Why    string                        // the same for people
}

// Band is a quantity with nested intervals, each of which is claimed to hold the
// truth in that share of cases.
type Band[T any] struct {
	Median        T
	P50, P80, P90 quantity.Between[T]
}

// Point is the sausage at one time.
type Point struct {
	At      time.Duration
	PH      Band[quantity.PH]
	Chamber quantity.Temperature
	Core    quantity.Temperature
}

// Crossing is when a pH is reached, counted from the start. Where it may not be
// reached, the end of an interval, or the median, may not exist: it is Never.
type Crossing struct {
	PH            quantity.PH
	Outcome       Outcome
	Median        time.Duration
	P50, P80, P90 quantity.Between[time.Duration]
	NotReached    quantity.Fraction // probability that it is not reached within the horizon

	// Reading is the index of the first reading at or below the pH, -1 while there
	// is none, and Estimated where a straight line from the reading before it
	// crosses; nil without one. With such a reading the times are those of the line
	// and the reading, not of the curve.
	Reading   int
	Estimated *time.Duration

	Limits []Limit // on degree-hours, in the order of rulebook.DegreeHourSets; of 5.3 alone

	hours, chance []float64 // distribution: ascending both
}

// Limit is a limit on degree-hours beside the time at which 5.3 is reached.
type Limit struct {
	Set      rulebook.DegreeHourSet
	Reached  time.Duration // along the temperatures so far and to come; Never when it is not
	Cautious time.Duration // the same if the thermometer reads too low by its uncertainty
	Before   quantity.Fraction
	Surely   quantity.Fraction // probability that the pH comes before Reached, and before Cautious
}

// Quantile returns the time by which the pH is reached with probability p, Never
// when the probability that it is reached at all is smaller.
func (c Crossing) Quantile(p quantity.Fraction) time.Duration { return c.quantile(p.Float()) }

// Project answers an order. It reports fault.Invalid with every member at fault.
func Project(o Order) (Projection, error) {
	return Projection{Model: Model}, nil
}

func (c Crossing) quantile(p float64) time.Duration {
	for i, reached := range c.chance {
		if reached < p {
			continue
		}
		if i == 0 {
			return fromHours(c.hours[0])
		}
		part := 1.0
		if reached > c.chance[i-1] {
			part = (p - c.chance[i-1]) / (reached - c.chance[i-1])
		}
		return fromHours(c.hours[i-1] + part*(c.hours[i]-c.hours[i-1]))
	}
	return Never
}

func fromHours(h float64) time.Duration { return time.Duration(math.Round(h * float64(time.Hour))) }
