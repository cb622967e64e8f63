package rulebook

import (
	"slices"

	"greenweight/domain/source"
)

// Notes that several citations share.
const (
	copiesNote = "fractions as quoted in several public documents; the primary page was not opened"
	recalled   = "recalled, not read: verify before relying on it"
)

// cfr424 cites the table of restricted ingredients of the US meat regulations.
func cfr424(part string, trust source.Trust, note string) source.Citation {
	return source.Citation{
		Title:   "Code of Federal Regulations, title 9 (Animals and Animal Products)",
		Section: "section 424.21(c), table, " + part, Trust: trust, Note: note,
	}
}

// cfrBacon cites the US rule on nitrite in bacon.
func cfrBacon(paragraph string, trust source.Trust, note string) source.Citation {
	return source.Citation{
		Title:   "Code of Federal Regulations, title 9 (Animals and Animal Products)",
		Section: "section " + paragraph, Trust: trust, Note: note,
	}
}

// handbook cites the US inspectors' handbook of curing calculations.
func handbook(section string, trust source.Trust, note string) source.Citation {
	return source.Citation{
		Title: "FSIS Directive 7620.3, Processing Inspectors' Calculations Handbook",
		Year:  1995, Section: section, Trust: trust, Note: note,
	}
}

// homeCuring cites the US rule on curing preparations for home use.
func homeCuring(section, note string) source.Citation {
	return source.Citation{
		Title: "Code of Federal Regulations, title 21 (Food and Drugs)",
		Year:  2006, Section: section, Trust: source.Read, Note: note,
	}
}

const (
	bellyBase   = "the base is the green weight of skinless bellies; with the skin on, nine tenths of it"
	baconChange = "90 FR 27973 of 1 July 2025 dropped the sampling for nitrosamines and may have moved paragraph numbers; it does not name these limits as changed"
	roundedUp   = "the printed figure is rounded, where those for nitrate are cut off; citric acid or sodium citrate may replace up to half of it"
)

// unitedStatesLimits are the federal rules for meat products of the United
// States.
//
// Nitrite and nitrate count on the green weight of the meat block, and as the
// salt that was weighed, sodium or potassium with the same figure, except for
// bacon, where the rule prints a pair. The exact figures are the fractions of an
// ounce in 100 pounds that the regulation gives; the handbook prints them in ppm,
// some rounded, some cut off.
func unitedStatesLimits() []Limit {
	const cut = "the printed figure is cut off, not rounded; it is recalled, the fraction was read"
	agents := "curing agents"
	return in(UnitedStates,
		Limit{
			ID: "us-nitrite-comminuted", Subject: "nitrite in chopped or ground meat: all sausage, dry fermented sausage too",
			Agent: Nitrite, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Classes: choppedClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  ouncesPerHundredPounds(1, 4, "156 ppm"),
			Source: cfr424(agents, source.ReadSecondary, copiesNote),
			Note: "1/4 oz in 100 lb is 156.25 mg/kg exactly and allowed; the same figure holds for potassium nitrite. " +
				"FSIS planned in 2024 to move this table to Directive 7120.1 (RIN 0583-AD92): check where it stands now",
		},
		Limit{
			ID: "us-nitrite-pumped", Subject: "nitrite in immersion cured, pumped or massaged meat, not bacon",
			Agent: Nitrite, Species: AsAdded, Phase: Ingoing, Base: MeatBlock,
			Classes: []Class{ImmersionCuredMuscle, PumpedMuscle},
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(200, 1, "200 ppm"),
			Source: cfr424(agents, source.ReadSecondary, copiesNote),
			Note: "given as 2 lb in 100 gal of pickle at 10 percent pump, which is 200 ppm when a gallon of pickle weighs 10 lb; " +
				"at the density of water it would come to about 240. The printed 200 is the limit",
		},
		Limit{
			ID: "us-nitrite-drycured", Subject: "nitrite in dry cured whole muscle, not bacon",
			Agent: Nitrite, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Classes: []Class{DryCuredMuscle},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  ouncesPerHundredPounds(1, 1, "625 ppm"),
			Source: cfr424(agents, source.ReadSecondary, copiesNote),
		},
		Limit{
			ID: "us-nitrite-finished", Subject: "nitrite in the finished product, from nitrite, nitrate or both, not bacon",
			Agent: NitriteAndNitrate, Species: SodiumNitrite, Phase: Finished, Base: FinishedProduct,
			Classes: slices.Concat(choppedClasses, muscleClasses),
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(200, 1, "200 ppm"),
			Source: cfr424(agents, source.ReadSecondary, copiesNote),
			Note:   "of the finished product: it is not to be held against what went in, neither for a dry cure nor for nitrate that has yet to turn into nitrite",
		},
		Limit{
			ID: "us-nitrite-min-keeprefrig", Subject: "least nitrite in cured products labelled to be kept refrigerated",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: MeatBlock,
			Classes: slices.Concat(choppedClasses, muscleClasses),
			Kind:    Floor, Comparator: AtLeast, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(120, 1, "120 ppm"),
			Applies: Applies{OnlyKeepRefrigerated: true},
			Source:  handbook("chapter 3, page 12", source.ReadSecondary, "as quoted elsewhere; the page was not opened"),
			Note: "agency policy, not regulation; there is no floor for shelf-stable products. " +
				"40 ppm is described there as having some preservative effect; bacon has its own rows",
		},
		Limit{
			ID: "us-nitrate-comminuted", Subject: "nitrate in chopped or ground meat",
			Agent: Nitrate, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Classes: choppedClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  ouncesPerHundredPounds(11, 4, "1718 ppm"),
			Source: cfr424(agents, source.ReadSecondary, copiesNote),
			Note:   "2 3/4 oz in 100 lb is 1718.75 mg/kg; " + cut,
		},
		Limit{
			ID: "us-nitrate-drycured", Subject: "nitrate in dry cured whole muscle, not bacon",
			Agent: Nitrate, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Classes: []Class{DryCuredMuscle},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  ouncesPerHundredPounds(7, 2, "2187 ppm"),
			Source: cfr424(agents, source.ReadSecondary, copiesNote),
			Note:   "3 1/2 oz in 100 lb is 2187.5 mg/kg; " + cut,
		},
		Limit{
			ID: "us-nitrate-pumped", Subject: "nitrate in immersion cured, pumped or massaged meat, not bacon",
			Agent: Nitrate, Species: AsAdded, Phase: Ingoing, Base: MeatBlock,
			Classes: []Class{ImmersionCuredMuscle, PumpedMuscle},
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(700, 1, "700 ppm"),
			Source: cfr424(agents, source.ReadSecondary, copiesNote),
			Note:   "given as 7 lb in 100 gal of pickle at 10 percent pump, a gallon of pickle weighing 10 lb",
		},
		Limit{
			ID: "us-nitrate-bacon", Subject: "nitrate in bacon of any kind",
			Agent: Nitrate, Species: AsAdded, Phase: Ingoing, Base: SkinlessBelly, Classes: baconClasses,
			Kind: Prohibited, Comparator: Equal, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(0, 1, "not permitted"),
			Source: cfr424(agents, source.ReadSecondary, copiesNote),
			Note:   "nitrate is listed only for cured products other than bacon",
		},
		Limit{
			ID: "us-bacon-pumped", Subject: "nitrite in pumped or massaged bacon, with ascorbate or erythorbate",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: SkinlessBelly, Classes: []Class{PumpedBacon},
			Kind: Required, Comparator: Equal, Unit: MilligramsPerKilogram,
			Value:     milligramsPerKilogram(120, 1, "120 ppm"),
			Potassium: milligramsPerKilogram(148, 1, "148 ppm"),
			Source: cfrBacon("424.22(b)(1)", source.ReadSecondary,
				"as quoted in public texts that rest on the FSIS fact sheet on bacon; the section was not opened"),
			Note: "a required amount, not only a ceiling; " + bellyBase + ". A variation of 20 percent at injection is mentioned in practice, not read. " + baconChange,
		},
		Limit{
			ID: "us-bacon-pumped-ascorbate", Subject: "sodium ascorbate or erythorbate in pumped or massaged bacon",
			Agent: AscorbateOrErythorbate, Species: AsAdded, Phase: Ingoing, Base: SkinlessBelly, Classes: []Class{PumpedBacon},
			Kind: Required, Comparator: Equal, Unit: MilligramsPerKilogram,
			Value: milligramsPerKilogram(550, 1, "550 ppm"),
			Source: cfrBacon("424.22(b)(1)", source.ReadSecondary,
				"as quoted in public texts that rest on the FSIS fact sheet on bacon; the section was not opened"),
			Note: "goes with the nitrite of pumped bacon; " + bellyBase,
		},
		Limit{
			ID: "us-bacon-pumped-pqc", Subject: "nitrite in pumped bacon under an approved process control programme",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: SkinlessBelly, Classes: []Class{PumpedBacon},
			Kind: Required, Comparator: Equal, Unit: MilligramsPerKilogram,
			Value:     milligramsPerKilogram(100, 1, "100 ppm"),
			Potassium: milligramsPerKilogram(123, 1, "123 ppm"),
			Applies:   Applies{OnlyUnderProcessRules: "a process control programme that the inspection service has approved, and 550 ppm of sodium ascorbate or erythorbate"},
			Replaces:  "us-bacon-pumped",
			Source:    cfrBacon("424.22(b)", source.Memory, recalled),
			Note:      "recalled, not read; " + bellyBase,
		},
		Limit{
			ID: "us-bacon-immersion", Subject: "nitrite in immersion cured bacon",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: SkinlessBelly, Classes: []Class{ImmersionCuredBacon},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:     milligramsPerKilogram(120, 1, "120 ppm"),
			Potassium: milligramsPerKilogram(148, 1, "148 ppm"),
			Source: cfrBacon("424.22(b)", source.ReadSecondary,
				"as quoted in public texts that rest on the FSIS fact sheet on bacon; the section was not opened"),
			Note: bellyBase,
		},
		Limit{
			ID: "us-bacon-drycured", Subject: "nitrite in dry cured bacon",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: SkinlessBelly, Classes: []Class{DryCuredBacon},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:     milligramsPerKilogram(200, 1, "200 ppm"),
			Potassium: milligramsPerKilogram(246, 1, "246 ppm"),
			Source: cfrBacon("424.22(b)", source.ReadSecondary,
				"as quoted in public texts that rest on the FSIS fact sheet on bacon; the section was not opened"),
			Note: bellyBase + ". As potassium nitrite 200 come to 246.7, printed 246",
		},
		Limit{
			ID: "us-bacon-pumped-lab-floor", Subject: "least nitrite in bacon pumped with sugar and a lactic starter",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: SkinlessBelly, Classes: []Class{PumpedBacon},
			Kind: Floor, Comparator: AtLeast, Unit: MilligramsPerKilogram,
			Value:     milligramsPerKilogram(40, 1, "40 ppm"),
			Potassium: milligramsPerKilogram(49, 1, "49 ppm"),
			Applies:   Applies{OnlyUnderProcessRules: lacticBacon}, Replaces: "us-bacon-pumped",
			Source: cfrBacon("424.22(b)", source.Memory, recalled),
			Note:   lacticBaconNote,
		},
		Limit{
			ID: "us-bacon-pumped-lab-ceiling", Subject: "most nitrite in bacon pumped with sugar and a lactic starter",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: SkinlessBelly, Classes: []Class{PumpedBacon},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:     milligramsPerKilogram(80, 1, "80 ppm"),
			Potassium: milligramsPerKilogram(99, 1, "99 ppm"),
			Applies:   Applies{OnlyUnderProcessRules: lacticBacon}, Replaces: "us-bacon-pumped",
			Source: cfrBacon("424.22(b)", source.Memory, recalled),
			Note:   lacticBaconNote,
		},
		Limit{
			ID: "us-home-nitrite", Subject: "nitrite from curing preparations sold for use at home",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Finished, Base: FinishedProduct, Classes: []Class{HomeCure},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(200, 1, "200 parts per million"),
			Source: homeCuring("section 172.170(a)(2)", "edition of 1 April 2006; section 172.175 is its twin for nitrite, recalled"),
			Note:   "in the finished meat product when the directions on the label are followed",
		},
		Limit{
			ID: "us-home-nitrate", Subject: "nitrate from curing preparations sold for use at home",
			Agent: Nitrate, Species: SodiumNitrate, Phase: Finished, Base: FinishedProduct, Classes: []Class{HomeCure},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(500, 1, "500 parts per million"),
			Source: homeCuring("section 172.170(a)(2)", "edition of 1 April 2006"),
			Note:   "in the finished meat product when the directions on the label are followed",
		},
		Limit{
			ID: "us-accel-1", Subject: "ascorbic or erythorbic acid in cured meat",
			Agent: AscorbicOrErythorbicAcid, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Classes: choppedClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  ouncesPerHundredPounds(3, 4, "469 ppm"),
			Source: cfr424("cure accelerators", source.ReadSecondary, "the printed figure as quoted elsewhere; the primary page was not opened"),
			Note:   "3/4 oz in 100 lb is 468.75 mg/kg; " + roundedUp,
		},
		Limit{
			ID: "us-accel-2", Subject: "sodium ascorbate or sodium erythorbate in cured meat",
			Agent: AscorbateOrErythorbate, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Classes: choppedClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  ouncesPerHundredPounds(7, 8, "547 ppm"),
			Source: cfr424("cure accelerators", source.Memory, recalled),
			Note:   "recalled, not read; 7/8 oz in 100 lb is 546.875 mg/kg; " + roundedUp,
		},
		Limit{
			ID: "us-accel-pickle-acid", Subject: "ascorbic or erythorbic acid in pickle",
			Agent: AscorbicOrErythorbicAcid, Species: AsAdded, Phase: Ingoing, Base: Pickle,
			Classes: []Class{ImmersionCuredMuscle, PumpedMuscle},
			Kind:    Ceiling, Comparator: AtMost, Unit: PerHundredGallons,
			Value:  otherAmount(75, 1, "75 oz per 100 gal"),
			Source: cfr424("cure accelerators", source.Memory, recalled),
			Note:   "recalled, not read; at 10 percent pump",
		},
		Limit{
			ID: "us-accel-pickle-salt", Subject: "sodium ascorbate or sodium erythorbate in pickle",
			Agent: AscorbateOrErythorbate, Species: AsAdded, Phase: Ingoing, Base: Pickle,
			Classes: []Class{ImmersionCuredMuscle, PumpedMuscle},
			Kind:    Ceiling, Comparator: AtMost, Unit: PerHundredGallons,
			Value:  otherAmount(175, 2, "87.5 oz per 100 gal"),
			Source: cfr424("cure accelerators", source.Memory, recalled),
			Note:   "recalled, not read; at 10 percent pump",
		},
		Limit{
			ID: "us-accel-only-cured", Subject: "cure accelerators belong in cured products only",
			Agent: CureAccelerators, Species: NoSpecies, Phase: Ingoing, Base: NoBase,
			Classes: slices.Concat(choppedClasses, muscleClasses),
			Kind:    Condition, Comparator: NoComparison, Unit: NoUnit,
			Value:  said("only with a curing agent"),
			Source: cfr424("cure accelerators", source.Memory, recalled),
			Note:   "recalled, not read",
		},
		Limit{
			ID: "us-fumaric", Subject: "fumaric acid in cured chopped meat",
			Agent: FumaricAcid, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Classes: choppedClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: PercentOfBase,
			Value:  percentOfBase(65, 1000, "0.065 percent"),
			Source: cfr424("cure accelerators", source.Memory, recalled),
			Note:   "recalled, not read; of the weight of the meat before processing",
		},
		Limit{
			ID: "us-gdl", Subject: "glucono-delta-lactone in cured chopped meat",
			Agent: GluconoDeltaLactone, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Classes: choppedClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  ouncesPerHundredPounds(8, 1, "8 oz per 100 lb"),
			Source: cfr424("cure accelerators", source.Memory, recalled),
			Note:   "recalled, not read",
		},
		Limit{
			ID: "us-gdl-genoa", Subject: "glucono-delta-lactone in Genoa salami",
			Agent: GluconoDeltaLactone, Species: AsAdded, Phase: Ingoing, Base: MeatBlock,
			Classes: []Class{DrySausage, SemiDrySausage},
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   ouncesPerHundredPounds(16, 1, "16 oz per 100 lb"),
			Applies: Applies{OnlyNamedProduct: "Genoa salami"}, Replaces: "us-gdl",
			Source: cfr424("cure accelerators", source.Memory, recalled),
			Note:   "recalled, not read",
		},
		Limit{
			ID: "us-sapp", Subject: "sodium acid pyrophosphate as a cure accelerator",
			Agent: SodiumAcidPyrophosphate, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Classes: choppedClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  ouncesPerHundredPounds(8, 1, "8 oz per 100 lb"),
			Source: cfr424("cure accelerators", source.Memory, recalled),
			Note:   "recalled, not read",
		},
		Limit{
			ID: "us-phosphate", Subject: "phosphates",
			Agent: Phosphates, Species: AsAdded, Phase: Finished, Base: FinishedProduct,
			Classes: slices.Concat(choppedClasses, muscleClasses, baconClasses),
			Kind:    Ceiling, Comparator: AtMost, Unit: PercentOfBase,
			Value:  percentOfBase(1, 2, "0.5 percent"),
			Source: cfr424("phosphates", source.Memory, recalled),
			Note:   "recalled, not read; of the total product, another base than that of nitrite",
		},
		Limit{
			ID: "us-phosphate-pickle", Subject: "phosphates in pickle",
			Agent: Phosphates, Species: AsAdded, Phase: Ingoing, Base: Pickle,
			Classes: []Class{ImmersionCuredMuscle, PumpedMuscle, ImmersionCuredBacon, PumpedBacon},
			Kind:    Ceiling, Comparator: AtMost, Unit: PercentOfBase,
			Value:  percentOfBase(5, 1, "5 percent"),
			Source: cfr424("phosphates", source.Memory, recalled),
			Note:   "recalled, not read; at 10 percent pump",
		},
		Limit{
			ID: "us-countryham-salt", Subject: "salt in dry cured ham and shoulder with nitrite or nitrate",
			Agent: Salt, Species: SodiumChloride, Phase: Finished, Base: FinishedProduct, Classes: []Class{DryCuredMuscle},
			Kind: Floor, Comparator: AtLeast, Unit: PercentOfBase,
			Value:   percentOfBase(4, 1, "4 percent"),
			Applies: Applies{OnlyNamedProduct: "country ham, country style ham, dry cured ham and the same of pork shoulder"},
			Source: source.Citation{
				Title:   "Code of Federal Regulations, title 9 (Animals and Animal Products)",
				Section: "section 319.106(c)(3)", Trust: source.Read,
			},
			Note: "salt inside the finished piece",
		},
	)
}

const (
	lacticBacon     = "bacon pumped with sugar and a lactic acid starter"
	lacticBaconNote = "the range is recalled, not read; " + bellyBase +
		". The process itself (40 or 80 mg/kg with 0.7 percent sucrose and Pediococcus acidilactici, against 120 without) was read in the abstract of J. Food Prot. 48(8):687 (1985). " +
		"The printed pairs with potassium nitrite are rounded both ways and are not to be recomputed"
)
