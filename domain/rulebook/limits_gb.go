package rulebook

import (
	"slices"
	"strings"
	"time"

	"greenweight/domain/source"
)

// britishInstrument cites the British instrument that carried the European
// limits of 2006.
func britishInstrument(section string) source.Citation {
	return source.Citation{
		Title: "United Kingdom Statutory Instrument 2007/1778, as made (transposes Directive 2006/52/EC)",
		Year:  2007, Section: section, Trust: source.Read,
		Note: "as made; the figures now stand in Regulation (EC) No 1333/2008 as retained, whose British text was not opened",
	}
}

// britishLimits are the rules of Great Britain, which retained the European
// ones as they stood and not the change of October 2025. They have no end.
//
// Where the British instrument of 2007 was read the row is cited from it; else
// the figure is that of the European text it was retained from, and its trust is
// that of a quotation.
func britishLimits() []Limit {
	read := []string{
		"gb-nitrate-0831", "gb-trad-drybacon", "gb-trad-dryham", "gb-trad-rohschinken", "gb-trad-cz", "gb-salt-only",
	}
	var rows []Limit
	for _, l := range slices.Concat(oldEuropeanLimits(), oldTraditionalLimits(), undatedEuropeanLimits()) {
		if l.ID == "eu-nitrite-082-old" {
			continue // what Great Britain retained of category 08.2 is not known
		}
		l.ID = "gb-" + strings.TrimSuffix(strings.TrimPrefix(l.ID, "eu-"), "-old")
		l.From, l.Until = time.Time{}, time.Time{}
		if slices.Contains(read, l.ID) {
			l.Source = britishInstrument(instrumentSection(l.ID))
		} else {
			l.Source.Title = "Regulation (EC) No 1333/2008 on food additives, as retained in Great Britain"
			l.Source.Year = 2008
			l.Source.Trust = source.ReadSecondary
			l.Source.Note = "as the European text prints the row that was retained; the British text and its later changes were not opened"
		}
		if l.ID == "gb-trad-rohschinken" {
			l.Note = ""
		}
		rows = append(rows, l)
	}
	return in(GreatBritain, rows...)
}

// instrumentSection returns where in the instrument of 2007 a row was read.
func instrumentSection(id string) string {
	if id == "gb-salt-only" {
		return "Schedule 1, note (x)"
	}
	return "Schedule 1"
}
