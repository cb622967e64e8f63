package trichinae

import (
	"slices"
	"time"

	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

const day = 24 * time.Hour

// Floor is a temperature that must not be gone below. Texts print it in two
// scales that do not agree to the last digit; what lies between both is near it
// and no more.
type Floor struct {
	Least   quantity.Temperature // in the scale of the first text
	Surely  quantity.Temperature // the warmest that any text prints for it; never below Least
	Printed string
}

// fahrenheit is a floor that is printed in °F, and by one text in °C as well.
func fahrenheit(f float64, celsius ...float64) Floor {
	at := quantity.MustFahrenheit(f)
	floor := Floor{Least: at, Surely: at, Printed: both(at)}
	for _, c := range celsius {
		if other := quantity.MustCelsius(c); other.Compare(floor.Surely) > 0 {
			floor.Surely, floor.Printed = other, at.In(quantity.UnitDegF).String()+" ("+other.String()+" as printed)"
		}
	}
	return floor
}

// Host is an animal whose meat may carry trichinae. Meat of the others in the
// catalogue is not judged.
type Host struct {
	Species material.Species
	Swine   bool // of the species pig, wild or not
	Game    bool // lives wild or eats what does: its trichinae may survive freezing
	Source  source.Citation
}

// FreezingRow says how long meat of one thickness is kept how cold.
type FreezingRow struct {
	ID       string
	Group    int
	Warmest  quantity.Temperature // of the freezer, once the meat is as cold
	Thickest quantity.Length      // piece, layer or box
	Days     int
	Source   source.Citation
	Note     string
}

// CentreRow says how long the centre of the meat is kept how cold, at any
// thickness.
type CentreRow struct {
	ID      string
	Warmest quantity.Temperature
	Span    time.Duration
	Source  source.Citation
}

// HeatingRow says how long the core is held how hot.
type HeatingRow struct {
	ID     string
	Core   Floor
	Span   time.Duration // 0: reached is enough
	Source source.Citation
	Note   string
}

// SaltBase is what the salt of a method is a share of. The zero value is
// invalid.
type SaltBase int

// The bases.
const (
	OfUnstuffed     SaltBase = iota + 1 // everything mixed
	OfMeat                              // the meat block
	WithoutDryGoods                     // everything mixed but salt, sugar, spices and cure
)

var saltBaseWords = []string{"", "batch", "meat", "batch-without-dry-goods"}

// String returns the word used on the wire.
func (b SaltBase) String() string {
	if b <= 0 || int(b) >= len(saltBaseWords) {
		return "unstated"
	}
	return saltBaseWords[b]
}

// Of is what a while before drying is about. The zero value is invalid.
type Of int

// What is counted.
const (
	OfMixture  Of = iota + 1 // held before stuffing
	OfDryCure                // whole muscle in salt
	OfSausage                // held, fermented and dried after stuffing
	OfSmoke                  // in smoke
	SinceCure                // all of it from when the cure is added, but for the drying
	OfSchedule               // fermented, smoked and heated, warm enough for the stage and those after it
)

var ofWords = []string{"", "mixture", "dry-cure", "sausage", "smoke", "since-cure", "schedule"}

// String returns the word used on the wire.
func (o Of) String() string {
	if o <= 0 || int(o) >= len(ofWords) {
		return "unstated"
	}
	return ofWords[o]
}

// While is what a method asks for before the drying, or beside it.
type While struct {
	Of      Of
	Floor   Floor
	Span    time.Duration
	Deepest quantity.Length // of the mixture; zero when it does not matter
}

// DryingRow is the drying of a method up to a diameter at stuffing.
type DryingRow struct {
	UpTo  quantity.Length // the zero Length for whole muscle
	Only  string          // the one product that the row is for; empty for all
	Dry   int             // days in the room
	Total int             // days since the cure was added, at least; 0 when the text has none
}

// Method is one of the prescribed methods of salting and drying.
type Method struct {
	ID           string
	Method       formula.DryingMethod
	Subject      string
	LargestPiece quantity.Length // zero for whole muscle
	Salt         quantity.PPM    // at least
	SaltBase     SaltBase
	SaltPrinted  string
	Before       []While
	Room         Floor
	Rows         []DryingRow // the thinnest first
	Source       source.Citation
	Note         string
}

// Reduction is a row of what method 6 takes off its days for warmth before
// drying, in whole percent by the columns of the table.
type Reduction struct {
	ID      string
	Held    time.Duration // at least
	Percent []int         // by Columns
	Source  source.Citation
}

// Increase is what method 6 adds to its days for less salt.
type Increase struct {
	ID      string
	Tenths  int // salt, rounded down, in tenths of a percent
	Percent int
	Source  source.Citation
}

// PublishedRow is a row of the day rule of a study of fermented sausage.
type PublishedRow struct {
	ID             string
	Above, UpTo    quantity.PH  // pH, from above the one up to the other
	AtLeast, Below quantity.PPM // salt; Below is zero where there is no upper end
	Days           int
	Ferment, Dry   quantity.Temperature // what the study did; colder shows nothing
	Source         source.Citation
	Note           string
}

// RouteRow is a route that is a paper: what it needs, and for which animals.
type RouteRow struct {
	ID      string
	Route   formula.Route
	Subject string
	Game    bool // counts for game too
	Source  source.Citation
	Note    string
}

// Hosts returns the animals that may carry trichinae.
func Hosts() []Host { return slices.Clone(hosts) }

// Freezings returns the table of freezing by thickness, the warmest first.
func Freezings() []FreezingRow { return slices.Clone(freezings) }

// Centres returns the table of freezing by the temperature of the centre, the
// warmest first.
func Centres() []CentreRow { return slices.Clone(centres) }

// Heatings returns the table of heating, the coolest first.
func Heatings() []HeatingRow { return slices.Clone(heatings) }

// Methods returns the methods of salting and drying. The rows are copies, free
// to be changed.
func Methods() []Method {
	all := make([]Method, 0, len(methods))
	for _, m := range methods {
		m.Before, m.Rows = slices.Clone(m.Before), slices.Clone(m.Rows)
		all = append(all, m)
	}
	return all
}

// Columns returns the temperatures of the columns of a Reduction, which the hold
// must not have been below.
func Columns() []quantity.Temperature { return slices.Clone(columns) }

// Reductions returns what method 6 takes off, the shortest hold first.
func Reductions() []Reduction {
	all := make([]Reduction, 0, len(reductions))
	for _, r := range reductions {
		r.Percent = slices.Clone(r.Percent)
		all = append(all, r)
	}
	return all
}

// Increases returns what method 6 adds, the most salt first.
func Increases() []Increase { return slices.Clone(increases) }

// Published returns the day rule of a study.
func Published() []PublishedRow { return slices.Clone(published) }

// Papers returns the routes that a paper shows.
func Papers() []RouteRow { return slices.Clone(papers) }

const formerSection = "former section 318.10"

const since2018 = "the section was removed in 2018 (83 FR 25302), recalled; its tables are kept as guidance"

// The sources.
var (
	regulation = source.Citation{
		Title: "Code of Federal Regulations, title 9 (Animals and Animal Products)", Section: formerSection + ", paragraphs (a) and (b)",
		Trust: source.Read, Note: "read in copies of earlier editions; " + since2018,
	}
	freezingSource = source.Citation{
		Title: "Code of Federal Regulations, title 9 (Animals and Animal Products)", Section: formerSection + "(c)(2), table 1", Trust: source.Read,
		Note: "the same days in Control of trichinosis by refrigeration of pork, JAMA 155 (1954) 1394, abstract; " + since2018,
	}
	centreSource = source.Citation{
		Title: "Code of Federal Regulations, title 9 (Animals and Animal Products)", Section: formerSection + "(c)(2)(iv), table 2",
		Trust: source.ReadSecondary, Note: "all rows as quoted in a review on trichinae in Rev. sci. tech. OIE; " + since2018,
	}
	heatingSource = source.Citation{
		Title: "Code of Federal Regulations, title 9 (Animals and Animal Products)", Section: formerSection + "(c)(1), table",
		Trust: source.ReadSecondary, Note: "quoted in full from editions of 1998 and later in three places, all alike; " + since2018,
	}
	recalled = source.Citation{
		Title: "Code of Federal Regulations, title 9 (Animals and Animal Products)", Section: formerSection + "(c)(3)", Trust: source.Memory,
		Note: "recalled, not read: verify before relying on it; " + since2018,
	}
	newYork = source.Citation{
		Title: "New York Codes, Rules and Regulations, title 1", Section: "section 318.10(3)(i), method 1", Trust: source.Read,
		Note: "the same as the former 9 CFR 318.10(c)(3)(i)",
	}
	canada = source.Citation{
		Title:   "Canadian Food Inspection Agency, Control recommendations for the inactivation of Trichinella spiralis in pork products",
		Section: "A.1", Trust: source.Read, Note: "the same as the former 9 CFR 318.10(c)(3)(i), method 2, with temperatures in °C",
	}
	study = source.Citation{
		Title: "D. E. Hill and others, Food and Waterborne Parasitology 6-7, 1-8, doi 10.1016/j.fawpar.2017.06.001", Year: 2017,
		Trust: source.ReadSecondary, Note: "the day rule as quoted; the abstract, which was read, has all larvae dead in 7 to 10 days",
	}
	coldHardy = source.Citation{
		Title: "O. C. Iacob and others, Controlled freezing inactivates Trichinella britovi in wild boar meat, Veterinary World 18, 1667-1674, " +
			"doi 10.14202/vetworld.2025.1667-1674", Year: 2025, Section: "abstract", Trust: source.Read,
		Note: "larvae of T. britovi in wild boar tolerate freezing; those of T. nativa in bears more so, recalled",
	}
	european = source.Citation{
		Title: "Commission Implementing Regulation (EU) 2015/1375", Section: "recital 3 and article 3", Trust: source.ReadSecondary,
		Note: "read as quoted: swine, wild boar, horses and others may be infested; domestic swine are exempt from testing when frozen by annex II " +
			"under the competent authority's eye, or from holdings under controlled housing",
	}
	american = source.Citation{
		Title: "Code of Federal Regulations, title 9 (Animals and Animal Products)", Section: formerSection + "(a)(2)", Trust: source.Read,
		Note: "meat of carcasses found free of trichinae needs no treatment; and see Commission Implementing Regulation (EU) 2015/1375",
	}
	validation = source.Citation{
		Title: "Federal Register 83 FR 25302, Elimination of trichinae control regulations", Year: 2018, Trust: source.Memory,
		Note: "recalled: an establishment may use any treatment that it can show to work",
	}
)

var hosts = []Host{
	{Species: material.Pork, Swine: true, Source: regulation},
	{Species: material.WildBoar, Swine: true, Game: true, Source: european},
	{Species: material.Bear, Game: true, Source: coldHardy},
	{Species: material.Horse, Game: true, Source: european},
	{Species: material.Venison, Game: true, Source: source.CommonPractice("deer eat no meat and seldom carry trichinae; no text that was read says that they never do")},
}

var freezings = []FreezingRow{
	freezing("freezing-5f-group-1", 5, 1, 20), freezing("freezing-5f-group-2", 5, 2, 30),
	freezing("freezing-minus-10f-group-1", -10, 1, 10), freezing("freezing-minus-10f-group-2", -10, 2, 20),
	freezing("freezing-minus-20f-group-1", -20, 1, 6), freezing("freezing-minus-20f-group-2", -20, 2, 12),
}

func freezing(id string, fahrenheit float64, group, days int) FreezingRow {
	thickest := quantity.MustInches(6)
	if group > 1 {
		thickest = quantity.MustInches(27)
	}
	return FreezingRow{
		ID: id, Group: group, Warmest: quantity.MustFahrenheit(fahrenheit), Thickest: thickest, Days: days, Source: freezingSource,
		Note: "counted from when the meat itself is as cold; not for game",
	}
}

var centres = []CentreRow{
	centre("centre-0f", 0, 106*time.Hour), centre("centre-minus-5f", -5, 82*time.Hour), centre("centre-minus-10f", -10, 63*time.Hour),
	centre("centre-minus-15f", -15, 48*time.Hour), centre("centre-minus-20f", -20, 35*time.Hour), centre("centre-minus-25f", -25, 22*time.Hour),
	centre("centre-minus-30f", -30, 8*time.Hour), centre("centre-minus-35f", -35, time.Hour/2),
}

func centre(id string, fahrenheit float64, span time.Duration) CentreRow {
	return CentreRow{ID: id, Warmest: quantity.MustFahrenheit(fahrenheit), Span: span, Source: centreSource}
}

var heatings = []HeatingRow{
	heating("heating-120f", 120, 49.0, 21*time.Hour), heating("heating-122f", 122, 50.0, 9*time.Hour+time.Hour/2),
	heating("heating-124f", 124, 51.1, 4*time.Hour+time.Hour/2), heating("heating-126f", 126, 52.2, 2*time.Hour),
	heating("heating-128f", 128, 53.4, time.Hour), heating("heating-130f", 130, 54.5, 30*time.Minute),
	heating("heating-132f", 132, 55.6, 15*time.Minute), heating("heating-134f", 134, 56.7, 6*time.Minute),
	heating("heating-136f", 136, 57.8, 3*time.Minute), heating("heating-138f", 138, 58.9, 2*time.Minute),
	heating("heating-140f", 140, 60.0, time.Minute), heating("heating-142f", 142, 61.1, time.Minute),
	heating("heating-144f", 144, 62.2, 0),
}

func heating(id string, f, celsius float64, span time.Duration) HeatingRow {
	row := HeatingRow{ID: id, Core: fahrenheit(f, celsius), Span: span, Source: heatingSource}
	if row.Core.Surely.Minus(row.Core.Least).CelsiusDegrees() > 0 {
		row.Note = "printed in °C as the higher figure, which is kept to; in between is near"
	}
	return row
}

// Salts of the methods.
var (
	threeAndAThird = quantity.MustPPM(1e6 / 30) // 3 1/3 lb in 100 lb
	fourAndAHalf   = quantity.MustPPM(45000)
)

const (
	threeAndAThirdPrinted = "3 1/3 lb in 100 lb of unstuffed sausage"
	fourAndAHalfPrinted   = "4.5 lb in 100 lb of meat"
)

var (
	threeQuarters = quantity.MustInches(0.75)
	quarter       = quantity.MustInches(0.25)
)

var methods = []Method{
	{
		ID: "method-1", Method: formula.Method1, Subject: "salted and dried", LargestPiece: threeQuarters, Salt: threeAndAThird, SaltBase: OfUnstuffed,
		SaltPrinted: threeAndAThirdPrinted, Room: fahrenheit(45), Source: newYork,
		Rows: []DryingRow{
			{UpTo: quantity.MustInches(1.375), Only: "pepperoni", Dry: 15, Total: 20},
			{UpTo: quantity.MustInches(3.5), Dry: 20, Total: 25},
			{UpTo: quantity.MustInches(4), Dry: 35, Total: 40},
		},
	},
	{
		ID: "method-2", Method: formula.Method2, Subject: "salted, smoked and dried", LargestPiece: threeQuarters, Salt: threeAndAThird,
		SaltBase: OfUnstuffed, SaltPrinted: threeAndAThirdPrinted, Room: fahrenheit(45, 7.3), Source: canada,
		Before: []While{{Of: OfSmoke, Floor: fahrenheit(80, 26.7), Span: 40 * time.Hour}},
		Rows: []DryingRow{
			{UpTo: quantity.MustInches(3.5), Dry: 10, Total: 18},
			{UpTo: quantity.MustInches(4), Dry: 25, Total: 33},
		},
		Note: "the copies print 7.3 °C for 45 °F and 26.7 °C for 80 °F: the higher is kept to, in between is near",
	},
	{
		ID: "method-3", Method: formula.Method3, Subject: "salted, held and dried", LargestPiece: threeQuarters, Salt: threeAndAThird,
		SaltBase: OfUnstuffed, SaltPrinted: threeAndAThirdPrinted, Room: fahrenheit(45), Source: recalled,
		Before: []While{
			{Of: OfMixture, Floor: fahrenheit(34), Span: 36 * time.Hour},
			{Of: SinceCure, Floor: fahrenheit(34), Span: 144 * time.Hour},
		},
		Rows: []DryingRow{{UpTo: quantity.MustInches(3.5), Dry: 20}, {UpTo: quantity.MustInches(4), Dry: 35}},
	},
	{
		ID: "method-4", Method: formula.Method4, Subject: "finely cut, held as a mixture and dried", LargestPiece: quarter, Salt: quantity.MustPPM(25000),
		SaltBase: OfUnstuffed, SaltPrinted: "2 1/2 lb in 100 lb of unstuffed sausage", Room: fahrenheit(45), Source: recalled,
		Before: []While{{Of: OfMixture, Floor: fahrenheit(36), Span: 10 * day, Deepest: quantity.MustInches(6)}},
		Rows:   []DryingRow{{UpTo: quantity.MustMillimetres(25.4 * 10 / 3), Total: 35}},
		Note:   "time in smoke or warm water does not count towards the 35 days",
	},
	{
		ID: "method-5", Method: formula.Method5, Subject: "salted and held long", LargestPiece: threeQuarters, Salt: threeAndAThird,
		SaltBase: OfUnstuffed, SaltPrinted: threeAndAThirdPrinted, Room: fahrenheit(45), Source: recalled,
		Before: []While{{Of: OfSausage, Floor: fahrenheit(45), Span: 65 * day}},
		Rows:   []DryingRow{{UpTo: quantity.Length{}}},
		Note:   "of any diameter; the only method in which casings may be waxed",
	},
	{
		ID: "method-6", Method: formula.Method6, Subject: "salted, held and dried by tables", LargestPiece: threeQuarters, Salt: quantity.MustPPM(33300),
		SaltBase: WithoutDryGoods, SaltPrinted: "3.33 lb in 100 lb without dry ingredients; down to 2.0 with more days", Room: fahrenheit(50), Source: recalled,
		Before: []While{{Of: SinceCure, Floor: fahrenheit(35), Span: 48 * time.Hour}},
		Rows: []DryingRow{
			{UpTo: quantity.MustInches(1), Dry: 14}, {UpTo: quantity.MustInches(1.5), Dry: 15}, {UpTo: quantity.MustInches(2), Dry: 16},
			{UpTo: quantity.MustInches(2.5), Dry: 18}, {UpTo: quantity.MustInches(3), Dry: 20}, {UpTo: quantity.MustInches(3.5), Dry: 23},
			{UpTo: quantity.MustInches(4), Dry: 25}, {UpTo: quantity.MustInches(4.5), Dry: 30}, {UpTo: quantity.MustInches(5), Dry: 35},
			{UpTo: quantity.MustInches(5.5), Dry: 43}, {UpTo: quantity.MustInches(6), Dry: 50},
		},
		Note: "the days are table 3A, less table 3B rounded down, and more by table 4 rounded up",
	},
	{
		ID: "method-7-large", Method: formula.Method7, Subject: "warmed in stages, then dried; casings up to 105 mm", LargestPiece: quarter,
		Salt: quantity.MustPPM(27000), SaltBase: OfMeat, SaltPrinted: "2.7 lb in 100 lb of meat", Room: fahrenheit(50), Source: recalled,
		Before: stages([]float64{50, 90, 100, 110, 120, 125}, []int{12, 1, 1, 1, 1, 7}),
		Rows:   []DryingRow{{UpTo: quantity.MustMillimetres(105), Dry: 7}},
		Note:   "the hours of the stages are recalled with little confidence",
	},
	{
		ID: "method-7-small", Method: formula.Method7, Subject: "warmed in stages, then dried; casings up to 55 mm", LargestPiece: quarter,
		Salt: quantity.MustPPM(27000), SaltBase: OfMeat, SaltPrinted: "2.7 lb in 100 lb of meat", Room: fahrenheit(50), Source: recalled,
		Before: stages([]float64{50, 100, 125}, []int{12, 1, 6}),
		Rows:   []DryingRow{{UpTo: quantity.MustMillimetres(55), Dry: 4}},
		Note:   "the hours of the stages are recalled with little confidence",
	},
	{
		ID: "coppa", Method: formula.MethodCoppa, Subject: "whole muscle, dry-cured and dried", Salt: fourAndAHalf, SaltBase: OfMeat,
		SaltPrinted: fourAndAHalfPrinted, Room: fahrenheit(45), Source: recalled,
		Before: []While{{Of: OfDryCure, Floor: fahrenheit(36), Span: 18 * day}}, Rows: []DryingRow{{Dry: 35}},
	},
	{
		ID: "capocollo", Method: formula.MethodCapocollo, Subject: "whole muscle, dry-cured, smoked and dried", Salt: fourAndAHalf, SaltBase: OfMeat,
		SaltPrinted: fourAndAHalfPrinted, Room: fahrenheit(45), Source: recalled,
		Before: []While{
			{Of: OfDryCure, Floor: fahrenheit(36), Span: 25 * day}, {Of: OfSmoke, Floor: fahrenheit(80), Span: 30 * time.Hour},
		},
		Rows: []DryingRow{{Dry: 20}},
	},
}

// stages are the stages of a schedule, by °F and hours. Time in a warmer stage
// counts for those before it.
func stages(at []float64, hours []int) []While {
	all := make([]While, 0, len(at))
	for i, f := range at {
		all = append(all, While{Of: OfSchedule, Floor: fahrenheit(f), Span: time.Duration(hours[i]) * time.Hour})
	}
	return all
}

var columns = []quantity.Temperature{
	quantity.MustFahrenheit(70), quantity.MustFahrenheit(75), quantity.MustFahrenheit(80), quantity.MustFahrenheit(85), quantity.MustFahrenheit(90),
	quantity.MustFahrenheit(95), quantity.MustFahrenheit(100), quantity.MustFahrenheit(105), quantity.MustFahrenheit(110), quantity.MustFahrenheit(120),
}

var reductions = []Reduction{
	reduction("method-6-3b-24", 24, 4, 5, 8, 10, 15, 23, 37, 57, 90, 100),
	reduction("method-6-3b-48", 48, 9, 12, 18, 25, 35, 49, 88, 100, 100, 100),
	reduction("method-6-3b-72", 72, 14, 19, 28, 39, 55, 74, 100, 100, 100, 100),
	reduction("method-6-3b-96", 96, 19, 26, 38, 53, 75, 98, 100, 100, 100, 100),
	reduction("method-6-3b-120", 120, 24, 33, 48, 67, 95, 100, 100, 100, 100, 100),
}

func reduction(id string, hours int, percent ...int) Reduction {
	return Reduction{ID: id, Held: time.Duration(hours) * time.Hour, Percent: percent, Source: recalled}
}

var increases = []Increase{
	increase("method-6-4-3.3", 33, 1), increase("method-6-4-3.2", 32, 4), increase("method-6-4-3.1", 31, 7), increase("method-6-4-3.0", 30, 10),
	increase("method-6-4-2.9", 29, 13), increase("method-6-4-2.8", 28, 16), increase("method-6-4-2.7", 27, 19), increase("method-6-4-2.6", 26, 22),
	increase("method-6-4-2.5", 25, 25), increase("method-6-4-2.4", 24, 28), increase("method-6-4-2.3", 23, 31), increase("method-6-4-2.2", 22, 34),
	increase("method-6-4-2.1", 21, 37), increase("method-6-4-2.0", 20, 40),
}

func increase(id string, tenths, percent int) Increase {
	return Increase{ID: id, Tenths: tenths, Percent: percent, Source: recalled}
}

var published = []PublishedRow{
	publishedRow("published-ph-4.6", quantity.PH{}, quantity.MustPH(4.6), quantity.MustPPM(13000), quantity.PPM{}, 8),
	publishedRow("published-salt-1.3", quantity.MustPH(4.6), quantity.MustPH(5.2), quantity.MustPPM(13000), quantity.MustPPM(18000), 11),
	publishedRow("published-salt-1.8", quantity.MustPH(4.6), quantity.MustPH(5.2), quantity.MustPPM(18000), quantity.MustPPM(28000), 9),
	publishedRow("published-salt-2.8", quantity.MustPH(4.6), quantity.MustPH(5.2), quantity.MustPPM(28000), quantity.PPM{}, 8),
}

func publishedRow(id string, above, upTo quantity.PH, atLeast, below quantity.PPM, days int) PublishedRow {
	return PublishedRow{
		ID: id, Above: above, UpTo: upTo, AtLeast: atLeast, Below: below, Days: days, Ferment: quantity.MustCelsius(23.8), Dry: quantity.MustCelsius(15.5),
		Source: study, Note: "fermented at 23.8 °C and dried at 15.5 °C; outside that, below pH 4.6, above pH 5.2 or with less than 1.3 percent of salt it shows nothing",
	}
}

var papers = []RouteRow{
	{
		ID: "carcass-testing", Route: formula.RouteCarcassTesting, Subject: "every carcass was tested for trichinae by an official or accredited laboratory",
		Game: true, Source: american, Note: "the only route that is not a treatment and holds for game",
	},
	{
		ID: "controlled-housing", Route: formula.RouteControlledHousing, Subject: "domestic pigs of a holding that an authority recognised as free of the risk",
		Source: european,
	},
	{
		ID: "validated-treatment", Route: formula.RouteValidatedTreatment, Subject: "a treatment of one's own, shown to work by a study or a process authority",
		Game: true, Source: validation, Note: "what the study shows is not judged here",
	},
}
