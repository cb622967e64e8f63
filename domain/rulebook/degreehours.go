package rulebook

import (
	"slices"

	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Scale is the scale of temperature that a rule is printed in. The zero value
// is invalid. A rule is computed in its own: neither its edges nor its limits
// convert to round figures of another.
type Scale int

// The scales.
const (
	FahrenheitScale Scale = iota + 1
	CelsiusScale
)

var scaleWords = []string{"", "degF", "degC"}

// String returns the word used on the wire.
func (s Scale) String() string { return word(scaleWords, int(s)) }

// DegreeHourUnit returns the unit that degree-hours of the scale are shown in.
func (s Scale) DegreeHourUnit() quantity.Unit {
	if s == FahrenheitScale {
		return quantity.UnitDegFHours
	}
	return quantity.UnitDegCHours
}

// DegreeHourClass is what a fermentation may use up whose highest temperature
// lies in a class. A class begins where the cooler one ends.
type DegreeHourClass struct {
	UpTo        quantity.Temperature // upper edge; the zero Temperature in the hottest class, which has none
	UpToBelongs bool                 // the upper edge itself is in the class
	Limit       quantity.DegreeHours // the sum must stay below it
	Highest     string               // the highest temperature of the class, as printed
	Printed     string               // the limit, as printed
}

// holds reports whether a highest temperature that is in no cooler class is in
// this one.
func (c DegreeHourClass) holds(highest quantity.Temperature) bool {
	return c.UpTo.IsZero() || highest.Compare(c.UpTo) < 0 || c.UpToBelongs && highest.Compare(c.UpTo) == 0
}

// DegreeHourSet is one published rule on how long a sausage may be warm before
// its pH is low enough: the sum over the time before TargetPH of the chamber's
// temperature above Base must stay below the limit of the class that the highest
// temperature of that time is in. Time below the base earns nothing back.
type DegreeHourSet struct {
	ID           string       // stable, kebab-case
	Jurisdiction Jurisdiction // where it is the guidance
	Scale        Scale
	Base         quantity.Temperature
	TargetPH     quantity.PH // the time ends at the first pH at or below it
	Classes      []DegreeHourClass
	Comparator   Comparator // how the sum is held against a limit
	Source       source.Citation
	Note         string
}

// ClassOf returns the class that a highest temperature is in, the coolest that
// holds it; the hottest has no upper edge, so that there is always one. It
// returns the zero class for a set that is not from the table.
func (s DegreeHourSet) ClassOf(highest quantity.Temperature) DegreeHourClass {
	i := slices.IndexFunc(s.Classes, func(c DegreeHourClass) bool { return c.holds(highest) })
	if i < 0 {
		return DegreeHourClass{}
	}
	return s.Classes[i]
}

// DegreeHourSets returns the rules on degree-hours, in a fixed order. The rows
// are copies, free to be changed.
func DegreeHourSets() []DegreeHourSet {
	sets := make([]DegreeHourSet, 0, len(degreeHourSets))
	for _, s := range degreeHourSets {
		sets = append(sets, s.clone())
	}
	return sets
}

// DegreeHourSetByID returns the rule with an id, and false when there is none.
func DegreeHourSetByID(id string) (DegreeHourSet, bool) {
	return firstSet(func(s DegreeHourSet) bool { return s.ID == id })
}

// DegreeHourSetFor returns the rule that is the guidance of a jurisdiction, and
// false where none is.
func DegreeHourSetFor(j Jurisdiction) (DegreeHourSet, bool) {
	return firstSet(func(s DegreeHourSet) bool { return s.Jurisdiction == j })
}

func firstSet(is func(DegreeHourSet) bool) (DegreeHourSet, bool) {
	i := slices.IndexFunc(degreeHourSets, is)
	if i < 0 {
		return DegreeHourSet{}, false
	}
	return degreeHourSets[i].clone(), true
}

func (s DegreeHourSet) clone() DegreeHourSet {
	s.Classes = slices.Clone(s.Classes)
	return s
}

// degreeHourSets is the table. It is never handed out, only copies of its rows
// are. Both rules are for Staphylococcus aureus, which multiplies and makes its
// toxin above the base until the acid stops it at pH 5.3. Neither was seen
// changed: the Canadian manual was archived in 2019 and its matter moved to
// guidance under the newer regulations; of the US guideline FSIS-GD-2023-0002
// only the scope was read.
var degreeHourSets = []DegreeHourSet{
	{
		ID: "degf-60", Jurisdiction: UnitedStates, Scale: FahrenheitScale,
		Base: quantity.MustFahrenheit(60), TargetPH: quantity.MustPH(5.3), Comparator: Below,
		Classes: []DegreeHourClass{
			{
				UpTo: quantity.MustFahrenheit(90), Limit: quantity.MustFahrenheitHours(1200),
				Highest: "less than 90 °F", Printed: "less than 1200",
			},
			{
				UpTo: quantity.MustFahrenheit(100), UpToBelongs: true, Limit: quantity.MustFahrenheitHours(1000),
				Highest: "90 to 100 °F", Printed: "less than 1000",
			},
			{Limit: quantity.MustFahrenheitHours(900), Highest: "more than 100 °F", Printed: "less than 900"},
		},
		Source: source.Citation{
			Title: "American Meat Institute Foundation, Good Manufacturing Practices for Fermented Dry and Semi-Dry Sausage Products",
			Year:  1997, Section: "degree-hours", Trust: source.ReadSecondary,
			Note: "base and limits are quoted alike in several texts, among them a fermentation log of the University of Wisconsin of 2012; " +
				"the wording of the text itself is recalled, it was not opened",
		},
		Note: "the temperature is that of the chamber; the product stays in it until pH 5.3",
	},
	{
		ID: "degc-15.6", Jurisdiction: Canada, Scale: CelsiusScale,
		Base: quantity.MustCelsius(15.6), TargetPH: quantity.MustPH(5.3), Comparator: Below,
		Classes: []DegreeHourClass{
			{
				UpTo: quantity.MustCelsius(33), Limit: quantity.MustCelsiusHours(665),
				Highest: "less than 33 °C", Printed: "less than 665",
			},
			{
				UpTo: quantity.MustCelsius(37), UpToBelongs: true, Limit: quantity.MustCelsiusHours(555),
				Highest: "33 to 37 °C", Printed: "less than 555",
			},
			{Limit: quantity.MustCelsiusHours(500), Highest: "more than 37 °C", Printed: "less than 500"},
		},
		Source: source.Citation{
			Title:   "Canadian Food Inspection Agency, Meat Hygiene Manual of Procedures, chapter 4 (archived)",
			Section: "4.16, fermented and dried meat", Trust: source.ReadSecondary,
			Note: "limits are quoted alike in several texts, and recalled from the manual; read in copies of the archived page: the base, that the " +
				"highest temperature before pH 5.3 decides, that the temperature is the room's, and that each excess must be notified",
		},
		Note: "its printed table of longest times follows the Fahrenheit rule, not its own limits: the shorter time of both is told",
	},
}
