package pathogen

import (
	"slices"

	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Variable is what a bound is of. The zero value is invalid.
type Variable int

// The variables.
const (
	Acidity     Variable = iota + 1 // pH
	Activity                        // of water
	Temperature                     // of the product, where it is kept
)

var variableWords = []string{"", "ph", "water-activity", "temperature"}

var variableNames = []string{"", "pH", "water activity", "temperature"}

// String returns the word used on the wire.
func (v Variable) String() string { return word(variableWords, int(v), "unstated") }

func (v Variable) name() string { return word(variableNames, int(v), "what is not stated") }

// Bound is one side of one variable. Where a text prints a span of figures,
// Limit is the one that is surely on this side, and Begins is where the span
// begins: what lies between both is near it and no more.
type Bound struct {
	Of         Variable
	Comparator rulebook.Comparator
	Limit      quantity.Measure
	Begins     quantity.Measure // zero where one figure is printed
}

// All is bounds of which every one must be kept.
type All []Bound

// Sort is what a row says. The zero value is invalid.
type Sort int

// The sorts.
const (
	Growth    Sort = iota + 1 // where it grows: beyond a bound it was not seen to
	Toxin                     // where it makes its toxin
	NoGrowth                  // a study that saw it not grow there
	Criterion                 // what a law or an authority takes for no growth
)

var sortWords = []string{"", "growth", "toxin", "no-growth", "criterion"}

// String returns the word used on the wire.
func (s Sort) String() string { return word(sortWords, int(s), "unstated") }

// Limit is a row of limits of one pathogen: kept when any of its lists is kept
// whole.
type Limit struct {
	ID        string
	Organism  Organism
	Sort      Sort
	Any       []All
	Printed   string
	Rulebooks []rulebook.Jurisdiction // whose criterion it is
	Authority finding.Authority
	Source    source.Citation
	Note      string
}

// Limits returns the rows, ordered by organism. They are copies, free to be
// changed.
func Limits() []Limit {
	all := slices.Clone(limits)
	for i := range all {
		all[i].Any, all[i].Rulebooks = slices.Clone(all[i].Any), slices.Clone(all[i].Rulebooks)
		for j := range all[i].Any {
			all[i].Any[j] = slices.Clone(all[i].Any[j])
		}
	}
	return all
}

func ph(v float64) quantity.Measure   { return quantity.MustPH(v).Measure() }
func aw(v float64) quantity.Measure   { return quantity.MustWaterActivity(v).Measure() }
func degC(v float64) quantity.Measure { return quantity.MustCelsius(v).In(quantity.UnitDegC) }

// one makes a list of one bound.
func one(of Variable, c rulebook.Comparator, limit quantity.Measure, begins ...quantity.Measure) All {
	b := Bound{Of: of, Comparator: c, Limit: limit}
	for _, m := range begins {
		b.Begins = m
	}
	return All{b}
}

const factorsAlone = "each bound is of one factor while the others favour growth"

var (
	handbook = source.Citation{
		Title: "M. R. Adams and M. O. Moss, Food Microbiology", Section: "table 7.8", Trust: source.ReadSecondary, Note: "read as quoted in another text",
	}
	notermans = source.Citation{
		Title: "S. Notermans and C. J. Heuvelman, Journal of Food Science", Year: 1983, Section: "abstract", Trust: source.Read,
	}
	guideline = source.Citation{
		Title: "American Meat Institute Foundation, Good Manufacturing Practices for Fermented Dry and Semi-Dry Sausage Products", Section: "front matter", Trust: source.Read,
	}
	cardinal = source.Citation{
		Title: "Medvedova and others, Italian Journal of Food Safety 8, 8287", Year: 2019, Trust: source.Read, Note: "parameters of a model of growth, fitted",
	}
	healthDirectorate = source.Citation{
		Title: "European Commission, Directorate-General for Health and Consumers, guidance on studies of the shelf life of ready-to-eat foods for Listeria monocytogenes",
		Year:  2008, Section: "table of limits of growth", Trust: source.ReadSecondary, Note: "read as quoted in another text",
	}
	criteria = source.Citation{
		Title: "Commission Regulation (EC) No 2073/2005 on microbiological criteria for foodstuffs", Year: 2005,
		Section: "annex I, chapter 1, note 8 to food categories 1.2 and 1.3", Trust: source.Read, Note: "in the version in force at the end of 2020",
	}
	inspection = source.Citation{
		Title: "Food Safety and Inspection Service (United States), figures on growth of Listeria monocytogenes", Trust: source.ReadSecondary,
		Note: "read as quoted in another text",
	}
	hauschild = source.Citation{
		Title: "Hauschild, as quoted in a summary of data on pathogens", Year: 1989, Trust: source.ReadSecondary, Note: "read as quoted in another text",
	}
	botulinumRecalled = source.Citation{
		Title: "Limits of growth of proteolytic Clostridium botulinum, as handbooks print them", Trust: source.Memory,
		Note: "recalled, not read: verify before relying on it",
	}
)

var limits = []Limit{
	{
		ID: "listeria-2073", Organism: Listeria, Sort: Criterion, Authority: finding.Law,
		Rulebooks: []rulebook.Jurisdiction{rulebook.EuropeanUnion, rulebook.GreatBritain},
		Any: []All{
			one(Acidity, rulebook.AtMost, ph(4.4)), one(Activity, rulebook.AtMost, aw(0.92)),
			{{Of: Acidity, Comparator: rulebook.AtMost, Limit: ph(5)}, {Of: Activity, Comparator: rulebook.AtMost, Limit: aw(0.94)}},
		},
		Printed: "pH ≤ 4.4, or water activity ≤ 0.92, or pH ≤ 5.0 and water activity ≤ 0.94", Source: criteria,
		Note: "what keeps it counts as unable to support growth; other food may, with a scientific justification, which is not judged here. " +
			"A shelf life of less than 5 days counts too, as read in another text. What is asked of food that does support growth " +
			"was tightened by Regulation (EU) 2024/2895 from 1 July 2026. It limits growth: Listeria may be there all the same.",
	},
	{
		ID: "listeria-fsis", Organism: Listeria, Sort: Criterion, Authority: finding.Guidance, Rulebooks: []rulebook.Jurisdiction{rulebook.UnitedStates},
		Any:     []All{one(Activity, rulebook.Below, aw(0.92)), one(Acidity, rulebook.Below, ph(4.39))},
		Printed: "water activity < 0.92 or pH < 4.39", Source: inspection,
	},
	{
		ID: "listeria-growth", Organism: Listeria, Sort: Growth, Authority: finding.Guidance,
		Any: []All{
			one(Temperature, rulebook.Below, degC(-1.5), degC(3)), one(Temperature, rulebook.Above, degC(45)),
			one(Acidity, rulebook.Below, ph(4.2), ph(4.3)), one(Activity, rulebook.Below, aw(0.90), aw(0.93)),
		},
		Printed: "grows at -1.5 or 3 to 45 °C, pH 4.2 or 4.3 and above, water activity 0.90 to 0.93 and above", Source: healthDirectorate, Note: factorsAlone,
	},
	{
		ID: "staphylococcus-growth", Organism: StaphylococcusAureus, Sort: Growth, Authority: finding.Practice,
		Any: []All{
			one(Temperature, rulebook.Below, degC(7)), one(Temperature, rulebook.Above, degC(48)), one(Acidity, rulebook.Below, ph(4)),
			one(Acidity, rulebook.Above, ph(9.8)), one(Activity, rulebook.Below, aw(0.83)),
		},
		Printed: "grows at 7 to 48 °C, pH 4.0 to 9.8, water activity 0.83 and above, with air", Source: handbook, Note: factorsAlone,
	},
	{
		ID: "staphylococcus-toxin", Organism: StaphylococcusAureus, Sort: Toxin, Authority: finding.Practice,
		Any: []All{
			one(Temperature, rulebook.Below, degC(10)), one(Temperature, rulebook.Above, degC(45)), one(Acidity, rulebook.Below, ph(4.8)),
			one(Acidity, rulebook.Above, ph(9)), one(Activity, rulebook.Below, aw(0.86)),
		},
		Printed: "makes enterotoxin at 10 to 45 °C, pH 4.8 to 9.0, water activity 0.86 and above", Source: handbook,
		Note: factorsAlone + "; enterotoxin A most at pH 5.3 to 6.8. What toxin was made before stays.",
	},
	{
		ID: "staphylococcus-no-growth", Organism: StaphylococcusAureus, Sort: NoGrowth, Authority: finding.Practice,
		Any: []All{
			one(Activity, rulebook.AtMost, aw(0.85)), one(Acidity, rulebook.AtMost, ph(4.3)), one(Temperature, rulebook.AtMost, degC(8)),
			{{Of: Temperature, Comparator: rulebook.AtMost, Limit: degC(12)}, {Of: Activity, Comparator: rulebook.AtMost, Limit: aw(0.90)}},
			{
				{Of: Temperature, Comparator: rulebook.AtMost, Limit: degC(12)}, {Of: Activity, Comparator: rulebook.AtMost, Limit: aw(0.93)},
				{Of: Acidity, Comparator: rulebook.Below, Limit: ph(5.5)},
			},
			{{Of: Activity, Comparator: rulebook.AtMost, Limit: aw(0.96)}, {Of: Acidity, Comparator: rulebook.AtMost, Limit: ph(4.9)}},
		},
		Printed: "no growth at water activity 0.85, at pH 4.3, at 8 °C; none at 12 °C with water activity 0.90, or 0.93 and pH < 5.5; none at water activity 0.96 with pH ≤ 4.9",
		Source:  notermans,
		Note:    "a study: it holds for what is no wetter, no less sour and no warmer. Enterotoxin A came wherever there was growth, B hardly at water activity 0.93, C and F not at 12 °C.",
	},
	{
		ID: "staphylococcus-air", Organism: StaphylococcusAureus, Sort: Growth, Authority: finding.Practice,
		Any:     []All{one(Activity, rulebook.Below, aw(0.86))},
		Printed: "grows at water activity 0.86 and above with air, 0.90 and above without", Source: guideline,
		Note: "the figure with air is held: the surface has air. Nitrite is a weak hurdle.",
	},
	{
		ID: "staphylococcus-cardinal", Organism: StaphylococcusAureus, Sort: Growth, Authority: finding.Practice,
		Any: []All{
			one(Temperature, rulebook.Below, degC(7.7)), one(Temperature, rulebook.Above, degC(46.7)), one(Activity, rulebook.Below, aw(0.808)),
		},
		Printed: "grows at 7.7 to 46.7 °C and water activity 0.808 and above", Source: cardinal,
		Note: "most at 40.6 °C and water activity 0.994, 1.97 per hour; " + factorsAlone,
	},
	{
		ID: "botulinum-proteolytic", Organism: ProteolyticBotulinum, Sort: Growth, Authority: finding.Practice,
		Any: []All{
			one(Temperature, rulebook.Below, degC(10)), one(Temperature, rulebook.Above, degC(48)), one(Acidity, rulebook.AtMost, ph(4.6)),
			one(Activity, rulebook.Below, aw(0.94)),
		},
		Printed: "grows at 10 to 48 °C, above pH 4.6, water activity 0.94 and above (10 % brine)", Source: botulinumRecalled, Note: factorsAlone,
	},
	{
		ID: "botulinum-non-proteolytic", Organism: NonProteolyticBotulinum, Sort: Growth, Authority: finding.Practice,
		Any: []All{
			one(Temperature, rulebook.Below, degC(3.3)), one(Temperature, rulebook.Above, degC(45)), one(Acidity, rulebook.Below, ph(5)),
			one(Activity, rulebook.Below, aw(0.97)),
		},
		Printed: "grows at 3.3 to 45 °C, pH 5.0 and above, water activity 0.97 and above", Source: hauschild, Note: factorsAlone,
	},
}
