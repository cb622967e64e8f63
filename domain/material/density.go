package material

import (
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// density is a bulk density with its source.
type density struct {
	between quantity.Between[quantity.Density]
	source  source.Citation
}

// spread is how far a spoon may lie from the usual figure, to either side.
const (
	grainSpread = 0.10 // salts and sugars: grain and hand
	spiceSpread = 0.20 // spices: grind, age and hand
)

// spoonful is a powder of which a level US teaspoon weighs g grams, give or take
// spread.
func spoonful(g, spread float64, cite source.Citation) density {
	return spoonfuls((1-spread)*g, (1+spread)*g, cite)
}

// spoonfuls is a powder of which a level US teaspoon weighs from low to high
// grams.
func spoonfuls(low, high float64, cite source.Citation) density {
	return density{
		between: quantity.Between[quantity.Density]{
			Low: quantity.MustGramsPerTeaspoon(low), High: quantity.MustGramsPerTeaspoon(high),
		},
		source: cite,
	}
}

// liquid is a liquid of low to high grams in a millilitre.
func liquid(low, high float64, cite source.Citation) density {
	return density{
		between: quantity.Between[quantity.Density]{
			Low: quantity.MustGramsPerMillilitre(low), High: quantity.MustGramsPerMillilitre(high),
		},
		source: cite,
	}
}

// Where the densities come from.
var (
	saltSpoons = source.Citation{
		Title: "Weights of a quarter cup of salt, usual figures of the trade", Trust: source.ReadSecondary,
		Note: "grain and hand make it 10 percent more or less; coarse and flake salt weigh from half to nine tenths of table salt",
	}
	householdWeights = source.Citation{
		Title: "USDA National Nutrient Database for Standard Reference, Release 28", Year: 2015,
		Section: "household weights", Trust: source.Memory,
		Note: "weight of a teaspoon, recalled; hand, grain and grind make it 10 percent (sugar) to 20 percent (spices) more or less",
	}
	recalledSpoon = source.Citation{
		Title: "Weight of a level US teaspoon, usual figures of the trade", Trust: source.Memory, Note: "low confidence",
	}
	recalledLiquid = source.Citation{
		Title: "Density at room temperature, usual figures", Trust: source.Memory, Note: "recalled",
	}
	waterDensity = source.Citation{
		Title: "Density of water between 0 and 25 °C, 0.997 to 1.000 g/mL, physical tables", Trust: source.Memory, Note: "recalled",
	}
)

// densities are the bulk densities of materials, by key. Meat has none: it is
// weighed.
var densities = map[string]density{
	keyTableSalt:    spoonful(6.33, grainSpread, saltSpoons), // 76.0 g in a quarter cup
	keyPicklingSalt: spoonful(6.17, grainSpread, saltSpoons), // 74.0 g in a quarter cup
	keySeaSalt:      spoonful(5.4, grainSpread, saltSpoons),  // 64.8 g in a quarter cup

	"sugar-granulated":     spoonful(4.2, grainSpread, householdWeights),
	"sugar-brown":          spoonfuls(3.0, 4.6, householdWeights), // loose to packed
	"dextrose-anhydrous":   spoonfuls(2.5, 3.3, recalledSpoon),
	"dextrose-monohydrate": spoonfuls(2.5, 3.3, recalledSpoon),
	"culture-carrier": spoonfuls(1.4, 4.2, source.Citation{
		Title: "Weight of a level US teaspoon, usual figures of the trade", Trust: source.Memory,
		Note: "low confidence: about 2.5 g, and spoons of different cultures differ two- to threefold",
	}),

	"pepper-black":        spoonful(2.3, spiceSpread, householdWeights),
	"pepper-white":        spoonful(2.4, spiceSpread, householdWeights),
	"pepper-cayenne":      spoonful(1.8, spiceSpread, householdWeights),
	"paprika":             spoonful(2.3, spiceSpread, householdWeights),
	"fennel-seed":         spoonful(2.0, spiceSpread, householdWeights),
	"anise-seed":          spoonful(2.1, spiceSpread, householdWeights),
	"garlic-powder":       spoonful(3.1, spiceSpread, householdWeights),
	"garlic-raw":          spoonful(2.8, spiceSpread, householdWeights),
	"onion-powder":        spoonful(2.4, spiceSpread, householdWeights),
	"coriander-seed":      spoonful(1.8, spiceSpread, householdWeights),
	"caraway-seed":        spoonful(2.1, spiceSpread, householdWeights),
	"cumin-seed":          spoonful(2.1, spiceSpread, householdWeights),
	"mustard-seed-ground": spoonful(2.0, spiceSpread, householdWeights),
	"nutmeg":              spoonful(2.2, spiceSpread, householdWeights),
	"mace":                spoonful(1.7, spiceSpread, householdWeights),
	"allspice":            spoonful(1.9, spiceSpread, householdWeights),
	"cloves-ground":       spoonful(2.1, spiceSpread, householdWeights),
	"cinnamon-ground":     spoonful(2.6, spiceSpread, householdWeights),
	"cardamom":            spoonful(2.0, spiceSpread, householdWeights),
	"oregano-dried":       spoonful(1.0, spiceSpread, householdWeights),
	"marjoram-dried":      spoonful(0.6, spiceSpread, householdWeights),
	"thyme-dried":         spoonful(1.0, spiceSpread, householdWeights),
	"rosemary-dried":      spoonful(1.2, spiceSpread, householdWeights),
	"parsley-dried":       spoonful(0.5, spiceSpread, householdWeights),
	"ginger-ground":       spoonful(1.8, spiceSpread, householdWeights),
	"chili-powder":        spoonful(2.7, spiceSpread, householdWeights),

	"milk-powder-nonfat": spoonful(2.5, spiceSpread, householdWeights),
	"milk-powder-whole":  spoonful(2.7, spiceSpread, householdWeights),
	"cornstarch":         spoonful(2.67, spiceSpread, householdWeights),
	"gelatin-dry":        spoonful(2.33, spiceSpread, householdWeights),

	keyWater:             liquid(0.997, 1.0, waterDensity),
	"water-bottled":      liquid(0.997, 1.0, waterDensity),
	"wine-table-red":     liquid(0.985, 1.0, recalledLiquid),
	"wine-table-white":   liquid(0.985, 1.0, recalledLiquid),
	"wine-dessert-sweet": liquid(1.0, 1.06, recalledLiquid),
	"vinegar-red-wine":   liquid(1.0, 1.02, recalledLiquid),
	"honey":              liquid(1.38, 1.45, recalledLiquid),
	"corn-syrup-light":   liquid(1.33, 1.45, recalledLiquid),
}
