package fermentation

import (
	"math"
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Longest is how long a chamber may be at one temperature from the start until
// pH 5.3. The time must stay below it: at it the limit is reached.
type Longest struct {
	Temperature quantity.Temperature
	Time        *time.Duration // nil when the limit is never reached
	By          string         // id of the rule that gives it
	Class       rulebook.DegreeHourClass
}

// LongestAt returns how long a chamber may be at a constant temperature by a
// rule.
//
//		t = L / (T - B)
//
//	  - L: limit of the class of T, B: base
//
// At or below the base the limit is never reached, and neither is it where that
// would take longer than a time.Duration can count, 292 years.
//
// For the Celsius rule it is the shorter of this and what the Fahrenheit rule
// gives, and By says which. The table of longest times printed with the Celsius
// rule was made by the Fahrenheit rule: all of its 19 rows are L/(T - 60 °F) to a
// tenth of an hour, and the rule's own figures give up to 1.1 h more (151.1 h at
// 20 °C, where 150.0 h are printed). The printed table of the Fahrenheit rule is
// cut off to whole hours; where the quotient is whole, as at 75 °F with 80 h, it
// allows the time at which the limit is reached, and the text does not.
//
// Sources: the rule's own; University of Wisconsin, Fermentation Log, 2012 (the
// table in °F, read); Canadian Food Inspection Agency, Meat Hygiene Manual of
// Procedures, chapter 4, 4.16 (the table in °C, recalled; the comparison is
// derived).
func LongestAt(set rulebook.DegreeHourSet, t quantity.Temperature) Longest {
	own := longestAt(set, t)
	if set.Scale != rulebook.CelsiusScale {
		return own
	}
	fahrenheit, ok := rulebook.DegreeHourSetFor(rulebook.UnitedStates)
	if !ok {
		return own
	}
	if other := longestAt(fahrenheit, t); other.Time != nil && (own.Time == nil || *other.Time < *own.Time) {
		return other
	}
	return own
}

func longestAt(set rulebook.DegreeHourSet, t quantity.Temperature) Longest {
	class := set.ClassOf(t)
	return Longest{Temperature: t, Time: lasts(set, class.Limit, t), By: set.ID, Class: class}
}

// lasts returns how long degree-hours last at a temperature: nil when for ever.
// It divides in the scale of the rule, so that 1200 °F h last exactly 80 h at
// 75 °F.
func lasts(set rulebook.DegreeHourSet, rest quantity.DegreeHours, t quantity.Temperature) *time.Duration {
	const countable = 2_562_047 // hours, as long as a time.Duration can count
	r := reader{set}
	switch span := r.degreeHours(rest) / (r.degrees(t) - r.degrees(set.Base)); {
	case rest.Compare(quantity.DegreeHours{}) <= 0:
		return new(time.Duration(0))
	case t.Compare(set.Base) <= 0 || !(span <= countable):
		return nil
	default:
		return new(time.Duration(math.Round(span * float64(time.Hour))))
	}
}

// LongestTable returns the longest times at the usual temperatures, in the scale
// of the rule: 65 to 110 °F in steps of 5, or 18 to 44 °C in steps of 2.
func LongestTable(set rulebook.DegreeHourSet) []Longest {
	var table []Longest
	if set.Scale == rulebook.FahrenheitScale {
		for t := 65; t <= 110; t += 5 {
			table = append(table, LongestAt(set, quantity.MustFahrenheit(float64(t))))
		}
		return table
	}
	for t := 18; t <= 44; t += 2 {
		table = append(table, LongestAt(set, quantity.MustCelsius(float64(t))))
	}
	return table
}
