package pathogen

import (
	"slices"
	"strconv"
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Warm is a temperature of a table that is printed in °F, with a rounded figure
// in °C beside it. The figure in °F is what is asked; where the one in °C is
// lower, what lies between both is near it and no more.
type Warm struct {
	Fahrenheit quantity.Temperature // what is asked
	Celsius    quantity.Temperature // as printed beside it
}

// printed makes a temperature of both figures as a table prints them.
func printed(fahrenheit, celsius float64) Warm {
	return Warm{quantity.MustFahrenheit(fahrenheit), quantity.MustCelsius(celsius)}
}

// near returns the lower of both figures.
func (w Warm) near() quantity.Temperature {
	if w.Celsius.Compare(w.Fahrenheit) < 0 {
		return w.Celsius
	}
	return w.Fahrenheit
}

// String prints both figures as the table does.
func (w Warm) String() string {
	return short(w.Fahrenheit.Fahrenheit()) + " °F (" + short(w.Celsius.Celsius()) + " °C)"
}

// Act is what is done in a stage after the fermentation. The zero value is
// invalid.
type Act int

// The acts.
const (
	Hold Act = iota + 1 // kept in warm air
	Heat                // kept in warmer air
	Core                // the core is kept as warm
	Dry                 // dried in a room until enough water is lost
)

var actWords = []string{"", "hold", "heat", "core", "dry"}

// String returns the word used on the wire.
func (a Act) String() string { return word(actWords, int(a), "unstated") }

// Stage is what an option asks for after the fermentation.
type Stage struct {
	Act      Act
	Warm     Warm
	Span     time.Duration             // at least; 0 for Dry
	Humidity quantity.RelativeHumidity // of the room, for Dry
	Moisture quantity.Ratio            // to protein at the end, at most, for Dry
}

// Acid is a pH at the end of the fermentation, on one side of a figure.
type Acid struct {
	Comparator rulebook.Comparator
	PH         quantity.PH
}

// String prints the condition, with the tenths that tables print.
func (a Acid) String() string {
	side := "of at most"
	if a.Comparator == rulebook.Above {
		side = "above"
	}
	return "pH " + side + " " + strconv.FormatFloat(a.PH.Float(), 'f', 1, 64)
}

// keeps reports whether a pH is on the right side.
func (a Acid) keeps(ph quantity.PH) bool {
	if a.Comparator == rulebook.Above {
		return ph.Compare(a.PH) > 0
	}
	return ph.Compare(a.PH) <= 0
}

// Option is a row of the table of processes that reduced Escherichia coli
// O157:H7 by 5 log.
type Option struct {
	ID      string
	Chamber Warm            // of the fermentation
	Acid    Acid            // at its end
	Above   quantity.Length // the casing is thicker than this; zero for the thin class
	UpTo    quantity.Length // and at most as thick as this
	Then    []Stage         // in order
	Printed string          // the casing and the stages as the table has them
	Source  source.Citation
	Note    string
}

// Options returns the table, the coolest chamber first. The rows are copies, free
// to be changed.
func Options() []Option {
	all := slices.Clone(options)
	for i := range all {
		all[i].Then = slices.Clone(all[i].Then)
	}
	return all
}

const (
	day        = 24 * time.Hour
	unverified = "recalled, not read: verify it in the report before any claim that it kills"
)

var (
	taskForce = source.Citation{
		Title: "R. Nickelson, J. Luchansky, C. Kaspar and E. Johnson, Dry fermented sausage and E. coli O157:H7, Blue Ribbon Task Force, " +
			"National Cattlemen's Beef Association, report 11-316",
		Year: 1996, Trust: source.Memory,
		Note: unverified + "; the table is also given, as recalled, as option 1 of chapter 4.16 of the Canadian Food Inspection Agency's manual, archived",
	}
	hinkens = source.Citation{
		Title: "Hinkens and others, as a row of the table of option 1 of chapter 4.16 of the Canadian Food Inspection Agency's manual, archived", Year: 1996,
		Trust: source.Memory, Note: unverified,
	}

	thin, thick = quantity.MustMillimetres(55), quantity.MustMillimetres(105)

	f90, f100, f110, f120, f125 = printed(90, 32), printed(100, 38), printed(110, 43), printed(120, 49), printed(125, 52)
)

const (
	thinPrinted  = "casing up to 55 mm"
	thickPrinted = "casing of 56 to 105 mm"
	shortHeat    = "heat 1 h at 110 °F (43 °C), then 6 h at 125 °F (52 °C)"
	longHeat     = "heat 1 h at 100 °F (38 °C), 1 h at 110 °F (43 °C), 1 h at 120 °F (49 °C), then 7 h at 125 °F (52 °C)"
	hold90       = "hold at 90 °F (32 °C) for 6 days or more"
	hold110      = "hold at 110 °F (43 °C) for 4 days or more"
)

var options = []Option{
	thinOption("five-log-70f-above-5.0-55mm-heat", printed(70, 21), above5(), shortHeat, shortly()...),
	thinOption("five-log-90f-4.6-55mm-hold", f90, atMost(4.6), hold90, Stage{Act: Hold, Warm: f90, Span: 6 * day}),
	thinOption("five-log-90f-4.6-55mm-heat", f90, atMost(4.6), shortHeat, shortly()...),
	thickOption("five-log-90f-4.6-105mm-heat", f90, atMost(4.6), longHeat, slowly()...),
	thinOption("five-log-90f-above-5.0-55mm-heat", f90, above5(), shortHeat, shortly()...),
	thickOption("five-log-90f-above-5.0-105mm-heat", f90, above5(), longHeat, slowly()...),
	{
		ID: "five-log-96f-5.0-55mm-core", Chamber: printed(96, 36), Acid: atMost(5), UpTo: thin,
		Then: []Stage{
			{Act: Core, Warm: printed(128, 53), Span: time.Hour},
			{Act: Dry, Warm: printed(55, 13), Humidity: quantity.MustHumidityPercent(65), Moisture: quantity.MustRatio(1.6)},
		},
		Printed: thinPrinted + ", heat to 128 °F (53 °C) inside for 60 min, then dry at 55 °F (13 °C) and 65 % relative humidity to a moisture to protein of 1.6:1 or less",
		Source:  hinkens,
	},
	thinOption("five-log-110f-4.6-55mm-hold", f110, atMost(4.6), hold110, Stage{Act: Hold, Warm: f110, Span: 4 * day}),
	thickOption("five-log-110f-4.6-105mm-hold", f110, atMost(4.6), hold110, Stage{Act: Hold, Warm: f110, Span: 4 * day}),
	thinOption("five-log-110f-above-5.0-55mm-hold", f110, above5(), hold110, Stage{Act: Hold, Warm: f110, Span: 4 * day}),
}

func above5() Acid             { return Acid{rulebook.Above, quantity.MustPH(5)} }
func atMost(ph float64) Acid   { return Acid{rulebook.AtMost, quantity.MustPH(ph)} }
func shortly() []Stage         { return []Stage{heat(f110, 1), heat(f125, 6)} }
func slowly() []Stage          { return []Stage{heat(f100, 1), heat(f110, 1), heat(f120, 1), heat(f125, 7)} }
func heat(w Warm, h int) Stage { return Stage{Act: Heat, Warm: w, Span: time.Duration(h) * time.Hour} }

const airIsTaken = "as recalled the table does not say that a stage is of the core: it is held against the air"

func thinOption(id string, chamber Warm, acid Acid, then string, stages ...Stage) Option {
	return Option{
		ID: id, Chamber: chamber, Acid: acid, UpTo: thin, Then: stages, Printed: thinPrinted + ", " + then, Source: taskForce, Note: airIsTaken,
	}
}

func thickOption(id string, chamber Warm, acid Acid, then string, stages ...Stage) Option {
	o := thinOption(id, chamber, acid, then, stages...)
	o.Above, o.UpTo, o.Printed = thin, thick, thickPrinted+", "+then
	return o
}
