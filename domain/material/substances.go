package material

import (
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Keys that code refers to.
const (
	keyWater        = "water"
	keyTableSalt    = "salt-table"
	keySeaSalt      = "sea-salt-fine"
	keyPicklingSalt = "pickling-salt"
	keyLactose      = "lactose-monohydrate"
)

// Molar masses in g/mol, sums of the IUPAC standard atomic weights of 2007 (H
// 1.00794, C 12.0107, N 14.0067, O 15.9994, Na 22.98977, P 30.973762, Cl 35.453,
// K 39.0983), recalled.
const (
	molarSodium    = 22.98977
	molarPotassium = 39.0983
	molarPhosphor  = 30.973762
	molarWater     = 18.01528

	molarGlucose          = 180.15588 // C6H12O6
	molarDextroseHydrate  = molarGlucose + molarWater
	molarLactose          = 342.29648 // C12H22O11
	molarLactoseHydrate   = molarLactose + molarWater
	molarSodiumAscorbate  = 198.10589 // C6H7NaO6
	molarErythorbate      = molarSodiumAscorbate + molarWater
	molarAcidPyrophosphat = 2*molarSodium + 2*1.00794 + 2*molarPhosphor + 7*15.9994 // Na2H2P2O7
	molarSodiumChloride   = molarSodium + 35.453
	molarSodiumNitrite    = 68.99527
	molarPotassiumNitrite = 85.1038
	molarSodiumNitrate    = 84.99467
	molarPotassiumNitrate = 101.1032
)

// chemistry cites the formula of a pure substance.
func chemistry(formula string) source.Citation {
	return source.Citation{
		Title:   "Composition of the pure substance by molar masses, IUPAC atomic weights 2007",
		Section: formula, Trust: source.Derived, Note: "the atomic weights are recalled; goods as sold are a little less than pure",
	}
}

// part is the percentage that part is of whole.
func part(part, whole float64) Known[quantity.Fraction] {
	return Is(quantity.MustPercent(100 * part / whole))
}

// mineral is the mass fraction of an element, mg/kg.
func mineral(part, whole float64) Known[quantity.PPM] {
	return Is(quantity.MustPPM(1e6 * part / whole))
}

// inorganic is a dry salt without protein, fat, carbohydrate, alcohol and
// energy.
func inorganic() Composition {
	none := Is(quantity.Fraction{})
	return Composition{
		Water: none, Protein: none, Fat: none, Carbohydrate: none, Fibre: none, Sugars: none, Alcohol: none,
		Energy: Is(Energy{}), SaturatedFat: none, TransFat: none, MonounsaturatedFat: none, PolyunsaturatedFat: none,
		Cholesterol: Is(quantity.PPM{}),
	}
}

// organic is a dry organic substance without protein, fat and alcohol. Its ash,
// carbohydrate, sugars and energy are set by the caller or unknown.
func organic() Composition {
	none := Is(quantity.Fraction{})
	return Composition{
		Water: none, Protein: none, Fat: none, Fibre: none, Sugars: none, Alcohol: none,
		SaturatedFat: none, TransFat: none, MonounsaturatedFat: none, PolyunsaturatedFat: none,
		Cholesterol: Is(quantity.PPM{}),
	}
}

// sugar is a sugar with its crystal water. Energy by 4 kcal and 17 kJ in a gram
// of carbohydrate, Regulation (EU) No 1169/2011, annex XIV (recalled).
func sugar(anhydrous, whole float64) Composition {
	c := organic()
	c.Carbohydrate = part(anhydrous, whole)
	c.Sugars = c.Carbohydrate
	c.Water = part(whole-anhydrous, whole)
	c.Ash = Is(quantity.Fraction{})
	c.Sodium, c.Potassium, c.Calcium = Is(quantity.PPM{}), Is(quantity.PPM{}), Is(quantity.PPM{})
	grams := 100 * anhydrous / whole
	c.Energy = Is(Energy{int(4*grams + 0.5), int(17*grams + 0.5)})
	return c
}

// acid is an organic acid, which tables count as carbohydrate by difference.
func acid() Composition {
	c := organic()
	c.Carbohydrate = Is(quantity.MustPercent(100))
	c.Ash = Is(quantity.Fraction{})
	c.Sodium = Is(quantity.PPM{})
	return c
}

// sodiumOnly is an organic sodium salt with crystal water; what its ash would be
// is not stated.
func sodiumOnly(crystalWater, whole float64) Composition {
	c := organic()
	c.Water = part(crystalWater, whole)
	c.Sodium = mineral(molarSodium, whole)
	return c
}

// curingSalt is an undiluted nitrite or nitrate.
func curingSalt(sodium, potassium, whole float64) Composition {
	c := inorganic()
	c.Ash = Is(quantity.MustPercent(100))
	c.Sodium = mineral(sodium, whole)
	c.Potassium = mineral(potassium, whole)
	return c
}

// plainSalt is sodium chloride.
func plainSalt() Composition {
	c := inorganic()
	c.Ash = Is(quantity.MustPercent(100))
	c.Sodium = mineral(molarSodium, molarSodiumChloride)
	c.Potassium = Is(quantity.PPM{})
	return c
}

func waterOnly() Composition {
	none := Is(quantity.Fraction{})
	c := inorganic()
	c.Water, c.Ash = Is(quantity.MustPercent(100)), none
	c.Sodium, c.Potassium = Is(quantity.PPM{}), Is(quantity.PPM{})
	return c
}

func pyrophosphate() Composition {
	c := inorganic()
	c.Sodium = mineral(2*molarSodium, molarAcidPyrophosphat)
	c.Potassium = Is(quantity.PPM{})
	c.Phosphorus = mineral(2*molarPhosphor, molarAcidPyrophosphat)
	return c
}

// substances are the materials added by chemistry, none of which is in the
// table.
func substances() []Material {
	rows := []Material{
		{Key: keyWater, Group: WaterGroup, Description: "Water", Composition: waterOnly(), Source: chemistry("H2O"),
			Note: "tap water as pure water"},
		{Key: "dextrose-anhydrous", Group: SaltOrSugar, Description: "Dextrose, anhydrous",
			Composition: sugar(molarGlucose, molarGlucose), Source: chemistry("C6H12O6")},
		{Key: "dextrose-monohydrate", Group: SaltOrSugar, Description: "Dextrose, monohydrate",
			Composition: sugar(molarGlucose, molarDextroseHydrate), Source: chemistry("C6H12O6·H2O"),
			Note: "what is mostly sold as dextrose powder: 90.9 percent sugar, 9.1 percent crystal water"},
		{Key: keyLactose, Group: SaltOrSugar, Description: "Lactose, monohydrate",
			Composition: sugar(molarLactose, molarLactoseHydrate), Source: chemistry("C12H22O11·H2O"),
			Note: "not every culture ferments lactose"},
		{Key: keySeaSalt, Group: SaltOrSugar, Description: "Sea salt, fine", Composition: plainSalt(), Source: chemistry("NaCl"),
			Note: "as pure sodium chloride; sea salt holds a few percent of moisture and other salts (common practice, no source)"},
		{Key: keyPicklingSalt, Group: SaltOrSugar, Description: "Pickling salt, fine", Composition: plainSalt(), Source: chemistry("NaCl"),
			Note: "as pure sodium chloride"},
		{Key: "ascorbic-acid", Group: Additive, Description: "Ascorbic acid", Composition: acid(), Source: chemistry("C6H8O6")},
		{Key: "sodium-ascorbate", Group: Additive, Description: "Sodium ascorbate",
			Composition: sodiumOnly(0, molarSodiumAscorbate), Source: chemistry("C6H7NaO6")},
		{Key: "erythorbic-acid", Group: Additive, Description: "Erythorbic acid", Composition: acid(), Source: chemistry("C6H8O6")},
		{Key: "sodium-erythorbate", Group: Additive, Description: "Sodium erythorbate, monohydrate",
			Composition: sodiumOnly(molarWater, molarErythorbate), Source: chemistry("C6H7NaO6·H2O")},
		{Key: "glucono-delta-lactone", Group: Additive, Description: "Glucono-delta-lactone", Composition: acid(), Source: chemistry("C6H10O6"),
			Note: "turns into gluconic acid in water; no culture needs to ferment it"},
		{Key: "fumaric-acid", Group: Additive, Description: "Fumaric acid", Composition: acid(), Source: chemistry("C4H4O4")},
		{Key: "sodium-acid-pyrophosphate", Group: Additive, Description: "Sodium acid pyrophosphate",
			Composition: pyrophosphate(), Source: chemistry("Na2H2P2O7")},
		{Key: "sodium-nitrite", Group: Additive, Description: "Sodium nitrite, undiluted",
			Composition: curingSalt(molarSodium, 0, molarSodiumNitrite), Source: chemistry("NaNO2"), Note: undiluted},
		{Key: "potassium-nitrite", Group: Additive, Description: "Potassium nitrite, undiluted",
			Composition: curingSalt(0, molarPotassium, molarPotassiumNitrite), Source: chemistry("KNO2"), Note: undiluted},
		{Key: "sodium-nitrate", Group: Additive, Description: "Sodium nitrate, undiluted",
			Composition: curingSalt(molarSodium, 0, molarSodiumNitrate), Source: chemistry("NaNO3"), Note: undiluted},
		{Key: "potassium-nitrate", Group: Additive, Description: "Potassium nitrate, undiluted",
			Composition: curingSalt(0, molarPotassium, molarPotassiumNitrate), Source: chemistry("KNO3"), Note: undiluted},
		{Key: "culture-carrier", Group: CultureGroup, Description: "Freeze-dried starter culture on a sugar carrier",
			Composition: Composition{Water: Is(quantity.Fraction{}), Alcohol: Is(quantity.Fraction{})},
			Source:      source.CommonPractice("freeze-dried, so without water; what the carrier is differs and is not known"),
			Note:        "dose by activity or by the supplier's weight, not by the spoon"},
	}
	for i := range rows {
		rows[i].Species = NoSpecies
	}
	return rows
}

const undiluted = "for the composition of curing blends; a formula doses it as a cure, never as an additive of its own"
