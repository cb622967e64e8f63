package rulebook

import (
	"slices"
	"time"

	"greenweight/domain/source"
)

// canadianLimits are the rules of Canada, on the batch as mixed, counted before
// smoking, cooking or fermentation, as the salts that were added.
func canadianLimits() []Limit {
	manual := source.Citation{
		Title:   "Canadian Food Inspection Agency, Meat Hygiene Manual of Procedures, chapter 4 (archived)",
		Section: "glossary, Curing", Trust: source.ReadSecondary,
		Note: "as quoted elsewhere; the archived chapter was not opened",
	}
	const base = "the sum of nitrite and nitrate salts, added to the batch, calculated before smoking, cooking or fermentation"
	cured := slices.Concat(choppedClasses, muscleClasses)
	return in(Canada,
		Limit{
			ID: "ca-curing-floor", Subject: "least nitrite and nitrate in a product called cured",
			Agent: NitriteAndNitrate, Species: AsAdded, Phase: Ingoing, Base: Batch,
			Classes: slices.Concat(cured, baconClasses),
			Kind:    Floor, Comparator: AtLeast, Unit: MilligramsPerKilogram,
			Value: milligramsPerKilogram(100, 1, "100 ppm"), Source: manual, Note: base,
		},
		Limit{
			ID: "ca-curing-ceiling", Subject: "most nitrite and nitrate in a cured product",
			Agent: NitriteAndNitrate, Species: AsAdded, Phase: Ingoing, Base: Batch,
			Classes: slices.Concat(cured, baconClasses),
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value: milligramsPerKilogram(200, 1, "200 ppm"), Source: manual, Note: base,
		},
		Limit{
			ID: "ca-sidebacon", Subject: "nitrite in side bacon",
			Agent: Nitrite, Species: AsAdded, Phase: Ingoing, Base: Batch, Classes: baconClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value: milligramsPerKilogram(120, 1, "120 ppm"), Source: manual,
			Note: "as the salts, added to the batch, calculated before smoking or cooking",
		},
		Limit{
			ID: "ca-nitrate-slow", Subject: "nitrate in dry sausage, semi-dry sausage and slow-cured meat",
			Agent: Nitrate, Species: AsAdded, Phase: Ingoing, Base: Batch,
			Classes: []Class{DrySausage, SemiDrySausage, DryCuredMuscle},
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value: ouncesPerHundredPounds(32, 100, "200 ppm (0.32 oz per 100 lb)"),
			Source: source.Citation{
				Title:   "Health Canada, List of Permitted Preservatives",
				Section: "part 1, potassium nitrate", Trust: source.ReadSecondary,
				Note: "as quoted elsewhere: the figure was read on the row for slow-cure pickle; the row for dry sausage was cut off after the same opening words",
			},
			Note: "sodium and potassium nitrate together, per batch, before smoking, cooking or fermentation",
		},
	)
}

// australianLimits are the rules of Australia and New Zealand, for the food as
// sold.
func australianLimits() []Limit {
	schedule := func(items string) source.Citation {
		return source.Citation{
			Title:   "Australia New Zealand Food Standards Code, Schedule 15",
			Section: items, Trust: source.Memory, Note: recalled,
		}
	}
	const total = "recalled, not read; nitrite and nitrate in total, calculated as sodium nitrite, in the food as sold"
	return in(AustraliaNewZealand,
		Limit{
			ID: "anz-nitrite", Subject: "nitrites in cured, dried and fermented meat",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Residual, Base: FinishedProduct,
			Classes: slices.Concat(rawClasses, []Class{CookedSausage}, muscleClasses, baconClasses),
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value: milligramsPerKilogram(125, 1, "125 mg/kg"), Source: schedule("items 8.2 and 8.3"), Note: total,
		},
		Limit{
			ID: "anz-nitrite-sterile", Subject: "nitrites in canned, commercially sterile cured meat",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Residual, Base: FinishedProduct, Classes: []Class{SterilisedSausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value: milligramsPerKilogram(50, 1, "50 mg/kg"), Source: schedule("items 8.2 and 8.3"), Note: total,
		},
		Limit{
			ID: "anz-nitrate", Subject: "nitrates in slow-dried cured meat and fermented, uncooked, chopped meat",
			Agent: Nitrate, Species: SodiumNitrite, Phase: Residual, Base: FinishedProduct,
			Classes: slices.Concat(rawClasses, []Class{DryCuredMuscle}),
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value: milligramsPerKilogram(500, 1, "500 mg/kg"), Source: schedule("items 8.2.3.1 and 8.3.1"), Note: total,
		},
	)
}

// codexLimits are those of the Codex General Standard for Food Additives.
func codexLimits() []Limit {
	standard := func(section, note string) source.Citation {
		return source.Citation{
			Title:   "Codex General Standard for Food Additives, CXS 192-1995",
			Section: section, Trust: source.Read, Note: note,
		}
	}
	return in(CodexAlimentarius,
		Limit{
			ID: "codex-0831", Subject: "nitrite in chopped meat products without heat treatment: dry and fermented sausage",
			Agent: Nitrite, Species: NoSpecies, Phase: NoPhase, Base: NoBase, Classes: rawClasses,
			Kind: Absent, Comparator: NoComparison, Unit: NoUnit,
			Value: said("no adopted provision"),
			Source: standard("category 08.3.1, and additive INS 249 in category 08.3, note 286",
				"the category lists three provisions and none is for nitrite"),
			Note: "note 286 keeps the provision of category 08.3 to luncheon meat and cooked cured chopped meat, so there is no figure for dry sausage",
		},
		Limit{
			ID: "codex-heat", Subject: "nitrite left in cooked cured ham and shoulder, luncheon meat and cooked cured chopped meat",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct,
			Classes: []Class{CookedSausage, SterilisedSausage, ImmersionCuredMuscle, PumpedMuscle},
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(80, 1, "80 mg/kg"),
			Applies: Applies{OnlyNamedProduct: "products that follow CXS 96 or 97 (cooked cured ham, pork shoulder) or CXS 89 or 98 (luncheon meat, cooked cured chopped meat)"},
			Source:  standard("additive INS 249, categories 08.2.2 (notes 288, 32) and 08.3 (notes 286, 287, 32)", ""),
			Note:    "as residual nitrite ion",
		},
		Limit{
			ID: "codex-corned-beef", Subject: "nitrite left in corned beef",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct,
			Classes: []Class{CookedSausage, SterilisedSausage},
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(30, 1, "30 mg/kg"),
			Applies: Applies{OnlyNamedProduct: "corned beef"}, Replaces: "codex-heat",
			Source: standard("additive INS 249, category 08.3, note 287", ""),
			Note:   "as residual nitrite ion",
		},
	)
}

// danishGeneral names the products that the general Danish figure is for; which
// have the higher ones was not read.
const danishGeneral = "products to which none of the derogations at 100 and 150 mg/kg applies"

// danishLimits are the national rules that Denmark keeps beside those of the
// European Union.
func danishLimits() []Limit {
	cite := source.Citation{
		Title: "Commission Decision (EU) 2024/1225 on national provisions of Denmark on nitrite in meat products",
		Year:  2024, Trust: source.ReadSecondary,
		Note: "the opening of the decision was read; the figures and the last days are as summarised elsewhere in 2016 and 2024",
	}
	const note = "kept under Article 114(4) of the Treaty, beside the European limits; there are exceptions at 100 and 150 mg/kg, and which products have them was not read"
	row := Limit{
		Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: Batch,
		Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram, Source: cite,
	}
	raw, heated := row, row
	raw.ID, raw.Subject = "dk-nitrite", "nitrite added to meat products without heat treatment, general figure"
	raw.Classes = slices.Concat(rawClasses, []Class{DryCuredMuscle, DryCuredBacon})
	raw.Value = milligramsPerKilogram(60, 1, "60 mg/kg")
	raw.Applies = Applies{OnlyNamedProduct: danishGeneral}
	raw.Note = note + ". The permission holds until European limits at or below the Danish ones apply"
	heated.ID, heated.Subject = "dk-nitrite-heated", "nitrite added to heat-treated meat products, general figure"
	heated.Classes = []Class{CookedSausage, SterilisedSausage}
	heated.Value = milligramsPerKilogram(60, 1, "60 mg/kg")
	heated.Applies = Applies{OnlyNamedProduct: danishGeneral}
	heated.Until = time.Date(2025, time.October, 9, 0, 0, 0, 0, time.UTC)
	heated.Note = note + ". The permission ran to 9 October 2025"
	return in(Denmark, raw, heated)
}

// germanLimits are the national rules that Germany has beside those of the
// European Union.
func germanLimits() []Limit {
	return in(Germany, Limit{
		ID: "de-pure-nitrite", Subject: "undiluted nitrite may not be brought into or kept in food businesses",
		Agent: Nitrite, Species: NoSpecies, Phase: PlacingOnMarket, Base: NoBase, Classes: everyClass,
		Kind: Condition, Comparator: NoComparison, Unit: NoUnit,
		Value: said("only makers of nitrite curing salt may hold it"),
		Source: source.Citation{
			Title:   "Lebensmittelzusatzstoff-Durchführungsverordnung (LMZDV), Germany",
			Section: "section 4(1)", Trust: source.Read, Note: "read in a copy of the text",
		},
		Note: "a formula with undiluted sodium nitrite can't be made in a German food business",
	})
}

// brazilianLimits are the rules of Brazil, for the product as sold.
func brazilianLimits() []Limit {
	cite := func(trust source.Trust, note string) source.Citation {
		return source.Citation{
			Title: "Brazilian rules on additives of meat products", Section: "nitrite and nitrate", Trust: trust, Note: note,
		}
	}
	return in(Brazil,
		Limit{
			ID: "br-sum", Subject: "nitrite and nitrate left in cured meat products, together",
			Agent: NitriteAndNitrate, Species: SodiumNitrite, Phase: Residual, Base: FinishedProduct,
			Classes: slices.Concat(choppedClasses, muscleClasses, baconClasses),
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(150, 1, "0.015 g per 100 g"),
			Source: cite(source.ReadSecondary, "as quoted elsewhere; the rule itself was not opened"),
		},
		Limit{
			ID: "br-nitrate", Subject: "nitrate left in cured meat products",
			Agent: Nitrate, Species: SodiumNitrate, Phase: Residual, Base: FinishedProduct,
			Classes: slices.Concat(choppedClasses, muscleClasses, baconClasses),
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(300, 1, "0.03 g per 100 g"),
			Source: cite(source.Memory, "the figure as quoted elsewhere; that it is counted as sodium nitrate is recalled"),
			Note:   "counted as sodium nitrate by recollection, not read",
		},
	)
}
