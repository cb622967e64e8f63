package material

import (
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Known is a value that a source may not give. The zero value is unknown, which
// is not zero.
type Known[T any] struct {
	value T
	known bool
}

// Is returns a known value.
func Is[T any](v T) Known[T] { return Known[T]{v, true} }

// Get returns the value, and false when it is not known.
func (k Known[T]) Get() (T, bool) { return k.value, k.known }

// Or returns the value, or instead when it is not known.
func (k Known[T]) Or(instead T) T {
	if !k.known {
		return instead
	}
	return k.value
}

// Group is what sort of material it is. The zero value is invalid.
type Group int

// The groups.
const (
	PorkMeat Group = iota + 1
	BeefMeat
	VealMeat
	LambMeat
	GameMeat
	PoultryMeat
	AnimalFat
	SaltOrSugar
	Dairy
	Wine // and vinegar
	WaterGroup
	Spice
	Binder
	Additive     // acids, their salts, curing salts
	CultureGroup // starter cultures
	CheckProduct // finished goods to check a computation with, no ingredients
)

var groupWords = []string{
	"", "pork", "beef", "veal", "lamb", "game", "poultry", "fat", "salt-sugar", "dairy", "wine", "water", "spice",
	"binder", "additive", "culture", "check-product",
}

// String returns the word used on the wire.
func (g Group) String() string { return word(groupWords, int(g)) }

// Species is the animal that a material comes from, where that decides how it
// is to be treated. The zero value is invalid.
type Species int

// The species.
const (
	NoSpecies Species = iota + 1 // no meat or fat of one animal, or it is not known which
	Pork
	Beef
	Veal
	Lamb
	Venison
	WildBoar
	Chicken
	Duck
	Goose
	Bear
	Horse
)

var speciesWords = []string{
	"", "none", "pork", "beef", "veal", "lamb", "venison", "wild-boar", "chicken", "duck", "goose", "bear", "horse",
}

// String returns the word used on the wire.
func (s Species) String() string { return word(speciesWords, int(s)) }

// ParseSpecies reads the word used on the wire for an animal.
func ParseSpecies(animal string) (Species, bool) {
	for s := Pork; int(s) < len(speciesWords); s++ {
		if speciesWords[s] == animal {
			return s, true
		}
	}
	return 0, false
}

// Energy is food energy in 100 g. Tables give both units, each rounded on its
// own, so neither is computed from the other. Zero value: none.
type Energy struct{ kilocalories, kilojoules int }

// KilocaloriesPer100g returns the energy in kilocalories in 100 g.
func (e Energy) KilocaloriesPer100g() int { return e.kilocalories }

// KilojoulesPer100g returns the energy in kilojoules in 100 g.
func (e Energy) KilojoulesPer100g() int { return e.kilojoules }

// Composition is what is in the edible part, per mass of it, as the source
// gives it. Mass fractions of the main parts need not come to exactly one: each
// was analysed alone, and some parts (the acid of vinegar, the fibre of some
// spices) are not counted in any.
type Composition struct {
	NitrogenFactor Known[quantity.Ratio] // protein per nitrogen, as the source used it

	Water        Known[quantity.Fraction]
	Protein      Known[quantity.Fraction]
	Fat          Known[quantity.Fraction]
	Ash          Known[quantity.Fraction]
	Carbohydrate Known[quantity.Fraction] // by difference, fibre and organic acids within
	Fibre        Known[quantity.Fraction]
	Sugars       Known[quantity.Fraction] // mono- and disaccharides, lactose within
	Alcohol      Known[quantity.Fraction] // ethanol

	Energy Known[Energy]

	SaturatedFat       Known[quantity.Fraction]
	TransFat           Known[quantity.Fraction]
	MonounsaturatedFat Known[quantity.Fraction]
	PolyunsaturatedFat Known[quantity.Fraction]

	Cholesterol Known[quantity.PPM]
	Sodium      Known[quantity.PPM]
	Potassium   Known[quantity.PPM]
	Calcium     Known[quantity.PPM]
	Iron        Known[quantity.PPM]
	Phosphorus  Known[quantity.PPM]
	VitaminD    Known[quantity.PPM]
}

// Material is a meat or an addition that the service knows.
type Material struct {
	Key           string // stable, kebab-case
	Group         Group
	Description   string
	Species       Species
	Composition   Composition
	BulkDensity   quantity.Between[quantity.Density] // of a liquid, or level in a spoon; zero when it is not known
	DensitySource source.Citation                    // zero when there is no density
	NDB           string                             // number in the USDA release, empty for other sources
	FoodDataID    string                             // the same food in USDA FoodData Central; empty means not verified
	Source        source.Citation
	Note          string
}

// Ingredient reports whether it can go into a formula. Check products are
// finished goods.
func (m Material) Ingredient() bool { return m.Group != CheckProduct }

// Meat reports whether it is meat or animal fat, which is what the meat block
// of a formula is made of.
func (m Material) Meat() bool {
	switch m.Group {
	case PorkMeat, BeefMeat, VealMeat, LambMeat, GameMeat, PoultryMeat, AnimalFat:
		return true
	default:
		return false
	}
}

// FermentableSugar returns the mass fraction of sugar that any lactic culture
// used for sausage ferments: dextrose, sucrose and the sugars of honey, syrup,
// wine and spices. Lactose is counted apart, see [Material.Lactose], because not
// every culture uses it; a few cultures are slow on sucrose too. Carbohydrate
// that is no sugar counts as none, and so does the little glucose and glycogen
// that meat brings, which the tables do not give.
func (m Material) FermentableSugar() Known[quantity.Fraction] {
	if m.lactic() {
		return Is(quantity.Fraction{})
	}
	return m.Composition.Sugars
}

// Lactose returns the mass fraction of lactose, anhydrous. All the sugar of
// milk, whey and cheese counts as lactose.
func (m Material) Lactose() Known[quantity.Fraction] {
	if m.lactic() {
		return m.Composition.Sugars
	}
	return Is(quantity.Fraction{})
}

func (m Material) lactic() bool { return m.Group == Dairy || m.Key == keyLactose }

// sodiumChloridePerSodium is M(NaCl)/M(Na) = 58.44277/22.98977, by the IUPAC
// atomic weights of 2007; tables of food composition use 2.54.
var sodiumChloridePerSodium = quantity.MustRatio(58.44277 / 22.98977)

// AddedSalt returns the mass fraction that counts as salt that a maker added.
// Salt itself counts whole: food salt is at least 97 percent sodium chloride
// (Codex CXS 150-1985, recalled), and rates of salt are stated for the salt as
// weighed. Spice blends and cheese that are made with salt count by their
// sodium, at 2.542 times it. Sodium that meat, milk, spices and additives have of
// themselves counts as none.
func (m Material) AddedSalt() quantity.Fraction {
	switch m.Key {
	case keyTableSalt, keySeaSalt, keyPicklingSalt:
		return quantity.MustPercent(100)
	case "chili-powder", "parmesan-hard":
		sodium := m.Composition.Sodium.Or(quantity.PPM{})
		return quantity.MustPercent(sodium.Percent() * sodiumChloridePerSodium.Float())
	default:
		return quantity.Fraction{}
	}
}

func word(words []string, i int) string {
	if i <= 0 || i >= len(words) {
		return "unstated"
	}
	return words[i]
}
