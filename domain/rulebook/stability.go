package rulebook

import (
	"slices"

	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Fact is what a condition of a tree asks of a finished lot. The zero value is
// invalid.
type Fact int

// The facts.
const (
	CureInside          Fact = iota + 1 // nitrite, or nitrate that became nitrite, inside its rulebook
	AcidInTime                          // a pH of 5.3 or below, read inside the limit on degree-hours
	DegreeHoursKept                     // the limit on degree-hours of the rulebook
	SaltGoesIn                          // the salt of the plan, of which the rule prints no figure
	TrichinaeDealtWith                  // by a lawful route, as it was carried out
	MoistureToProtein                   // of the finished product
	FinalPH                             // of the finished product
	FinalActivity                       // of water, measured in the finished product
	BrineInside                         // salt in the water phase, measured
	Smoked                              // at all
	WholeOrVacuum                       // an intact casing, or packed under vacuum
	CureAdded                           // how much nitrite or nitrate went in
	SaltAdded                           // how much salt went in
	ByDrying                            // that the water was taken out by drying
	FermentedTo                         // the pH at the end of the fermentation
	FermentedToActivity                 // the water activity at the end of the fermentation
)

var factWords = []string{
	"", "cure", "acid-in-time", "degree-hours", "salt", "trichinae", "moisture-protein", "ph", "water-activity", "brine", "smoked",
	"intact-or-vacuum-packed", "cure-added", "salt-added", "dried", "ph-after-fermentation", "water-activity-after-fermentation",
}

// String returns the word used on the wire.
func (f Fact) String() string { return word(factWords, int(f)) }

// Facts returns all of them, in order.
func Facts() []Fact {
	all := make([]Fact, 0, len(factWords)-1)
	for f := CureInside; f <= FermentedToActivity; f++ {
		all = append(all, f)
	}
	return all
}

// Join is how the branches of a node come together. The zero value is that of a
// condition, which has none.
type Join int

// The joins.
const (
	AllOf Join = iota + 1 // every branch is asked
	AnyOf                 // one branch is enough
)

var joinWords = []string{"", "all", "any"}

// String returns the word used on the wire.
func (j Join) String() string {
	if j == 0 {
		return "condition"
	}
	return word(joinWords, int(j))
}

// Node is a condition, or branches that come together.
type Node struct {
	ID   string // unique in its tree, kebab-case
	Says string // for people
	Join Join
	Of   []Node

	// Of a condition:
	Fact       Fact
	Comparator Comparator       // zero where the fact is held or not
	Limit      quantity.Measure // zero alike
	Source     source.Citation  // zero for that of the tree
}

// Claim is what a tree shows when it is met. The zero value is invalid.
type Claim int

// The claims.
const (
	KeepsWithoutCold Claim = iota + 1 // it may be kept, or sold, without cold
	NoListeriaGrowth                  // it counts as unable to support the growth of Listeria monocytogenes
)

var claimWords = []string{"", "keeps-without-cold", "no-listeria-growth"}

// String returns the word used on the wire.
func (c Claim) String() string { return word(claimWords, int(c)) }

// Stability is a rule on a finished product, as a tree of conditions.
type Stability struct {
	ID           string
	Jurisdiction Jurisdiction // zero where it is practice, nobody's law
	Subject      string
	Claim        Claim
	Authority    finding.Authority
	Root         Node
	Source       source.Citation
	Note         string
}

// Stabilities returns the trees. They are copies, free to be changed.
func Stabilities() []Stability {
	all := make([]Stability, 0, len(stabilities))
	for _, s := range stabilities {
		s.Root = s.Root.clone()
		all = append(all, s)
	}
	return all
}

// StabilityByID returns the tree with an id, and false when there is none.
func StabilityByID(id string) (Stability, bool) {
	i := slices.IndexFunc(stabilities, func(s Stability) bool { return s.ID == id })
	if i < 0 {
		return Stability{}, false
	}
	s := stabilities[i]
	s.Root = s.Root.clone()
	return s, true
}

func (n Node) clone() Node {
	of := n.Of
	n.Of = nil
	for _, b := range of {
		n.Of = append(n.Of, b.clone())
	}
	return n
}

func allOf(id, says string, of ...Node) Node { return Node{ID: id, Says: says, Join: AllOf, Of: of} }
func anyOf(id, says string, of ...Node) Node { return Node{ID: id, Says: says, Join: AnyOf, Of: of} }

func held(fact Fact, says string) Node { return Node{ID: fact.String(), Says: says, Fact: fact} }

func bound(id string, fact Fact, c Comparator, limit quantity.Measure, says string) Node {
	return Node{ID: id, Says: says, Fact: fact, Comparator: c, Limit: limit}
}

func phOf(v float64) quantity.Measure       { return quantity.MustPH(v).Measure() }
func activityOf(v float64) quantity.Measure { return quantity.MustWaterActivity(v).Measure() }
func ratioOf(v float64) quantity.Measure    { return quantity.MustRatio(v).Measure() }

// beforeStability are the conditions that every tree of the United States begins
// with. The policy book speaks of cured, fermented and dried sausage; that each of
// these is to be shown is the cautious reading of it.
func beforeStability() []Node {
	return []Node{
		held(CureInside, "cured: nitrite, or nitrate with a reducing culture and time, inside its rulebook"),
		held(AcidInTime, "fermented: a pH of 5.3 or below, read inside the limit on degree-hours"),
		held(SaltGoesIn, "the salt of the plan"),
		held(TrichinaeDealtWith, "trichinae dealt with by a lawful route, where pork, horse or game is used"),
	}
}

func after(before []Node, more ...Node) []Node { return slices.Concat(before, more) }

var (
	policyBook = source.Citation{
		Title: "FSIS, Food Standards and Labeling Policy Book", Section: "shelf-stable dry and semi-dry sausage", Trust: source.ReadSecondary,
		Note: "read as quoted elsewhere; the book itself was not opened",
	}
	policyBookBrine = source.Citation{
		Title: "FSIS, Food Standards and Labeling Policy Book", Section: "shelf-stable, non-refrigerated semi-dry sausage", Trust: source.ReadSecondary,
		Note: "read as quoted elsewhere, in part in a summary in another language; the entry was not opened",
	}
	canadaStable = source.Citation{
		Title: "Safe Food for Canadians Regulations, SOR/2018-108", Year: 2025, Section: "section 286 (b), (c) and (e)", Trust: source.Read,
		Note: "as amended by SOR/2022-144, section 44; consolidated to 30 September 2025",
	}
	canadaManual = source.Citation{
		Title:   "Canadian Food Inspection Agency, Meat Hygiene Manual of Procedures, chapter 4 (archived)",
		Section: "4.16, fermented and dried meat", Trust: source.ReadSecondary, Note: "read in copies of the archived page",
	}
	leistnerRoedel = source.Citation{
		Title: "L. Leistner and W. Rödel, stability of meat products by pH and water activity; Directive 77/99/EEC", Year: 1975, Trust: source.Memory,
		Note: "recalled; one pair of the figures, pH 5.2 with water activity 0.95, was read quoted elsewhere",
	}
)

// from gives a condition a source of its own.
func (n Node) from(c source.Citation) Node {
	n.Source = c
	return n
}

// stabilities is the table. It is never handed out, only copies of its rows are.
// A rule that the United Kingdom has for hams of countries with an animal disease
// (SSI 2006/44, schedule 5: water activity 0.93 and pH 6.0 after nine months) is
// none of shelf stability, and not here.
var stabilities = []Stability{
	{
		ID: "us-dry", Jurisdiction: UnitedStates, Subject: "shelf-stable dry sausage", Claim: KeepsWithoutCold, Authority: finding.Guidance, Source: policyBook,
		Root: allOf("us-dry", "dry sausage that keeps without cold", after(beforeStability(),
			bound("moisture-protein", MoistureToProtein, AtMost, ratioOf(1.9), "moisture to protein at most 1.9 to 1"),
			anyOf("acid-or-dry", "sour, or dry",
				bound("ph", FinalPH, AtMost, phOf(5), "pH at most 5.0"),
				bound("water-activity", FinalActivity, AtMost, activityOf(0.85), "measured water activity at most 0.85")))...),
		Note: "the 1.9 of the policy book is a name on a label; that acid or a low water activity is asked beside it, and all that comes before, is the cautious reading: " +
			"one quotation has pH 5.0 or less, the book itself is recalled not to. Moisture to protein alone shows nothing.",
	},
	{
		ID: "us-semidry", Jurisdiction: UnitedStates, Subject: "shelf-stable semi-dry sausage", Claim: KeepsWithoutCold, Authority: finding.Guidance, Source: policyBook,
		Root: allOf("us-semidry", "semi-dry sausage that keeps without cold", after(beforeStability(),
			bound("moisture-protein", MoistureToProtein, AtMost, ratioOf(3.1), "moisture to protein at most 3.1 to 1"),
			bound("ph", FinalPH, AtMost, phOf(5), "pH at most 5.0"))...),
		Note: "what is commercially sterile keeps too, which is not judged here",
	},
	{
		ID: "us-semidry-alt", Jurisdiction: UnitedStates, Subject: "shelf-stable semi-dry sausage, the other way", Claim: KeepsWithoutCold, Authority: finding.Guidance, Source: policyBookBrine,
		Root: allOf("us-semidry-alt", "semi-dry sausage that keeps without cold, by acid, brine, smoke and a whole casing or vacuum", after(beforeStability(),
			held(Smoked, "smoked"),
			held(WholeOrVacuum, "in an intact casing, or packed under vacuum"),
			bound("brine", BrineInside, AtLeast, quantity.MustPPM(50_000).In(quantity.UnitPercent), "salt in the water phase at least 5 percent"),
			anyOf("very-sour", "very sour",
				bound("ph-alone", FinalPH, AtMost, phOf(4.5), "pH at most 4.5"),
				allOf("sour-and-drier", "a little less sour, and drier",
					bound("ph-with-activity", FinalPH, AtMost, phOf(4.6), "pH at most 4.6"),
					bound("water-activity", FinalActivity, Below, activityOf(0.91), "measured water activity below 0.91"))))...),
	},
	{
		ID: "ca-stable", Jurisdiction: Canada, Subject: "fermented sausage that needs no keep-refrigerated statement", Claim: KeepsWithoutCold, Authority: finding.Law, Source: canadaStable,
		Root: allOf("ca-stable", "fermented sausage without a keep-refrigerated statement",
			bound("cure-added", CureAdded, AtLeast, quantity.MustPPM(100).In(quantity.UnitMilligramsPerKilogram), "nitrite or nitrate added, at least 100 ppm").from(canadaManual),
			bound("salt-added", SaltAdded, AtLeast, quantity.MustPPM(25_000).In(quantity.UnitPercent), "salt added, at least 2.5 percent").from(canadaManual),
			held(DegreeHoursKept, "the limit on degree-hours kept").from(canadaManual),
			anyOf("one-of", "one of three ways",
				bound("ph", FinalPH, AtMost, phOf(4.6), "pH at most 4.6"),
				allOf("dried", "dried",
					bound("water-activity", FinalActivity, AtMost, activityOf(0.85), "water activity at most 0.85"),
					Node{ID: "by-drying", Says: "reached by drying", Fact: ByDrying}),
				allOf("fermented", "fermented, at the end of the fermentation",
					bound("ph-after-fermentation", FermentedTo, AtMost, phOf(5.3), "pH at most 5.3 at the end of the fermentation"),
					bound("water-activity-after-fermentation", FermentedToActivity, AtMost, activityOf(0.90), "water activity at most 0.90 at the end of the fermentation")))),
		Note: "it lifts the duty to print a statement, and is no proof of more: degree-hours and pathogens are apart. The duty is lifted too for hermetic, commercially sterile packs and for what is packed in salt.",
	},
	{
		ID: "leistner", Subject: "no refrigeration needed, by pH and water activity", Claim: KeepsWithoutCold, Authority: finding.Practice, Source: leistnerRoedel,
		Root: anyOf("leistner", "sour, or dry, or a little of both",
			allOf("sour-and-dry", "a little of both",
				bound("ph-with-activity", FinalPH, AtMost, phOf(5.2), "pH at most 5.2"),
				bound("activity-with-ph", FinalActivity, AtMost, activityOf(0.95), "water activity at most 0.95")),
			bound("ph", FinalPH, Below, phOf(5), "pH below 5.0"),
			bound("water-activity", FinalActivity, Below, activityOf(0.91), "water activity below 0.91")),
		Note: "its further classes: easily perishable above pH 5.2 and water activity 0.95, kept at 5 °C or below; perishable at pH 5.0 to 5.2 or water activity 0.91 to 0.95, kept at 10 °C or below",
	},
}
