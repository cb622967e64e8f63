package fermentation

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Constant is how long a chamber may be at one temperature from the start until
// pH 5.3, by each rule and by its printed table.
type Constant struct {
	Temperature quantity.Temperature
	ByRule      []ConstantByRule // in the order of rulebook.DegreeHourSets
	Shorter     Longest          // of both rules
	Notes       []finding.Note
}

// ConstantByRule is how long a temperature may last by one rule, by its own
// limit and base alone.
type ConstantByRule struct {
	Longest
	Set rulebook.DegreeHourSet

	// Printed is what the printed table of the rule has at the temperature, or would
	// have between two of its rows, by the way it is rounded: hours that may be those
	// at which the limit is reached, or beyond it. nil outside the table.
	Printed *time.Duration
}

// AtConstant returns how long a chamber may be at a temperature. It reports
// fault.Invalid for one that no fermentation chamber has.
//
// The table in °F is printed cut off to whole hours, from 75 to 110 °F. That in
// °C, from 20 to 50 °C, follows the Fahrenheit rule and is rounded to a tenth of
// an hour, up or down: at 30 °C the limit is reached in 46.15 h, and 46.2 are
// printed. The figures of this package are not rounded, and the time must stay
// below them.
func AtConstant(t quantity.Temperature) (Constant, error) {
	if r := ChamberRange(); t.Compare(r.Low) < 0 || t.Compare(r.High) > 0 {
		return Constant{}, &fault.Error{Kind: fault.Invalid, Code: "out-of-range", Detail: fmt.Sprintf(
			"a fermentation chamber is from %s to %s, got %s: a slip of the unit, or an oven", chamber(r.Low), chamber(r.High), chamber(t))}
	}
	k := Constant{Temperature: t}
	for i, set := range rulebook.DegreeHourSets() {
		own := longestAt(set, t)
		k.ByRule = append(k.ByRule, ConstantByRule{Longest: own, Set: set, Printed: printed(set, t)})
		if i == 0 || own.Time != nil && (k.Shorter.Time == nil || *own.Time < *k.Shorter.Time) {
			k.Shorter = own
		}
	}
	k.Notes = k.notes()
	return k, nil
}

// table is the range and the rounding of the printed table of longest times of a
// rule; its source is that of LongestAt.
type table struct {
	coldest, hottest quantity.Temperature
	round            func(hours float64) float64
}

var tables = map[rulebook.Scale]table{
	rulebook.FahrenheitScale: {quantity.MustFahrenheit(75), quantity.MustFahrenheit(110), wholeHours},
	rulebook.CelsiusScale:    {quantity.MustCelsius(20), quantity.MustCelsius(50), func(h float64) float64 { return math.Round(h*10) / 10 }},
}

// wholeHours cuts off to whole hours; 80 h stay so, whatever a float lost.
func wholeHours(h float64) float64 { return math.Floor(h + 1e-9) }

// printed returns what the printed table of a rule has at a temperature. Both
// follow the Fahrenheit rule.
func printed(set rulebook.DegreeHourSet, t quantity.Temperature) *time.Duration {
	rows := tables[set.Scale]
	fahrenheit, ok := rulebook.DegreeHourSetFor(rulebook.UnitedStates)
	if !ok || t.Compare(rows.coldest) < 0 || t.Compare(rows.hottest) > 0 {
		return nil
	}
	exact := longestAt(fahrenheit, t)
	if exact.Time == nil { // both tables begin above the base
		return nil
	}
	return new(time.Duration(math.Round(rows.round(exact.Time.Hours()) * float64(time.Hour))))
}

// notes says what is to be known of the times.
func (k Constant) notes() []finding.Note {
	derived := source.Citation{
		Title: "Comparison of the printed tables with the rules on degree-hours", Trust: source.Derived,
		Note: "all 8 rows in °F are the quotient cut off to whole hours; all 19 rows in °C are that of the Fahrenheit rule to a tenth of an hour",
	}
	notes := []finding.Note{{
		Code: "table-rounding",
		Text: "The printed table in °F is cut off to whole hours, and that in °C is rounded to a tenth of an hour and follows the Fahrenheit rule, not its own limits. " +
			"A printed time can be one at which a limit is reached or just exceeded (80 h at 75 °F, 46.2 h at 30 °C): the time must stay below the unrounded one.",
		Source: derived,
	}}
	var never, beyond bool
	for _, r := range k.ByRule {
		never = never || r.Time == nil
		beyond = beyond || k.Temperature.Compare(tables[r.Set.Scale].hottest) > 0
	}
	if never {
		notes = append(notes, finding.Note{
			Code: "at-or-below-base",
			Text: fmt.Sprintf("At %s a rule counts nothing, so that its limit is never reached however long it lasts: the bases are 60 °F (15.56 °C) and 15.6 °C. "+
				"That shows nothing of acid: cold does not bring it, and Staphylococcus aureus still grows slowly down to about 8 °C.", chamber(k.Temperature)),
			Source: source.Citation{Title: "The bases of the rules on degree-hours, and the least temperature of growth by Medvedova et al., Italian Journal of Food Safety 8:8287", Year: 2019, Trust: source.Derived},
		})
	}
	if beyond {
		notes = append(notes, finding.Note{
			Code:   "hotter-than-table",
			Text:   chamber(k.Temperature) + " is hotter than a printed table goes, 110 °F or 50 °C: the time is computed by the limit of the hottest class, and nobody printed it.",
			Source: derived,
		})
	}
	return append(notes, scope())
}
