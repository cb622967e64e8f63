package material

import (
	"slices"

	"greenweight/domain/source"
)

// Allergen is a food that a label has to name as such. The zero value is invalid.
type Allergen int

// The allergens of the United States and of the European Union.
const (
	Milk Allergen = iota + 1
	Egg
	Fish
	Crustaceans
	TreeNuts
	Peanuts
	WheatOrGluten // wheat in the United States, cereals with gluten in the European Union
	Soy
	Sesame
	Celery
	Mustard
	Sulphites
	Lupin
	Molluscs
)

var allergenWords = []string{
	"", "milk", "egg", "fish", "crustaceans", "tree-nuts", "peanuts", "wheat-or-gluten", "soy", "sesame", "celery", "mustard", "sulphites", "lupin",
	"molluscs",
}

// String returns the word used on the wire.
func (a Allergen) String() string { return word(allergenWords, int(a)) }

// UnitedStates reports whether it is one of the nine of the United States.
func (a Allergen) UnitedStates() bool { return a >= Milk && a <= Sesame }

// EuropeanUnion reports whether it is one of the fourteen of the European Union:
// all are.
func (a Allergen) EuropeanUnion() bool { return a >= Milk && a <= Molluscs }

// Allergens returns every allergen, in a fixed order.
func Allergens() []Allergen {
	var all []Allergen
	for a := Milk; a <= Molluscs; a++ {
		all = append(all, a)
	}
	return all
}

// AllergenSources returns the lists that the allergens are of: the nine of the
// United States and the fourteen of the European Union.
func AllergenSources() []source.Citation {
	return []source.Citation{
		{Title: "United States Code, title 21", Section: "321(qq) and 343(w); sesame since 1 January 2023 by the FASTER Act of 2021", Trust: source.Read},
		{Title: "Regulation (EU) No 1169/2011", Section: "annex II", Trust: source.Read},
	}
}

// Brought is an allergen that a material brings, or may bring.
type Brought struct {
	Allergen Allergen
	Certain  bool   // false: it depends on the maker of the material
	Why      string // why it may, or how it does; empty where the name says it
}

// AllergensBrought returns the allergens that a material brings or may bring of
// itself. What it may have picked up from other goods is not known here. Derived
// from what the materials are made of.
func (m Material) AllergensBrought() []Brought { return slices.Clone(allergens[m.Key]) }

// AllergensCertain reports whether it is certain which allergens the material
// brings of itself.
func (m Material) AllergensCertain() bool {
	return !slices.ContainsFunc(allergens[m.Key], func(b Brought) bool { return !b.Certain })
}

var allergens = func() map[string][]Brought {
	of := func(a Allergen) []Brought { return []Brought{{Allergen: a, Certain: true}} }
	may := func(a Allergen, why string) Brought { return Brought{Allergen: a, Why: why} }
	wine := []Brought{
		may(Sulphites, "wine mostly has them; they count from 10 mg/kg in what is sold"),
		may(Milk, "wine may be fined with it"), may(Egg, "wine may be fined with it"), may(Fish, "wine may be fined with it"),
	}
	starch := []Brought{may(WheatOrGluten, "may be made from wheat: exempt in the European Union, not in the United States unless free of protein")}
	carrier := []Brought{may(Milk, "the carrier of the culture may be of milk"), may(Soy, "the culture may have been grown on soy")}
	blend := []Brought{may(Mustard, "a ready blend"), may(Celery, "a ready blend"), may(WheatOrGluten, "a ready blend")}
	return map[string][]Brought{
		"milk-powder-nonfat": of(Milk), "milk-powder-whole": of(Milk), "whey-sweet-dried": of(Milk), "parmesan-hard": append(of(Milk),
			may(Egg, "hard cheese may be made with lysozyme of egg")),
		keyLactose:            {{Allergen: Milk, Certain: true, Why: "lactose is made from milk"}},
		"soy-flour-defatted":  of(Soy),
		"mustard-seed-ground": of(Mustard),
		"wine-table-red":      wine, "wine-table-white": wine, "wine-dessert-sweet": wine,
		"vinegar-red-wine":   {may(Sulphites, "wine vinegar mostly has them; they count from 10 mg/kg in what is sold")},
		"dextrose-anhydrous": starch, "dextrose-monohydrate": starch, "corn-syrup-light": {may(Sulphites, "glucose syrup may have them; they count from 10 mg/kg in what is sold")},
		"gelatin-dry":     {may(Fish, "gelatin may be of fish")},
		"culture-carrier": carrier,
		"chili-powder":    blend,
	}
}()
