package rulebook

import (
	"slices"
	"time"

	"greenweight/domain/source"
)

// Days on which the European limits changed: Regulation (EU) 2023/2108 set new
// ones, as ions, from 9 October 2025.
var (
	lastOldEuropeanDay  = time.Date(2025, time.October, 8, 0, 0, 0, 0, time.UTC)
	firstNewEuropeanDay = time.Date(2025, time.October, 9, 0, 0, 0, 0, time.UTC)
)

// additives cites the European regulation on food additives.
func additives(section, note string) source.Citation {
	return source.Citation{
		Title: "Regulation (EC) No 1333/2008 on food additives, consolidated text of 18 August 2026",
		Year:  2026, Section: "Annex II, part E, " + section, Trust: source.Read, Note: note,
	}
}

// oldAdditives cites a row that the consolidated text still shows with its last
// day.
func oldAdditives(section string) source.Citation {
	return additives(section, `row with the period "until 9 October 2025"`)
}

// newAdditives cites a row set by Regulation (EU) 2023/2108.
func newAdditives(section string) source.Citation {
	return additives(section, "row set by Regulation (EU) 2023/2108")
}

// dated sets the days of validity of rows.
func dated(from, until time.Time, rows ...Limit) []Limit {
	for i := range rows {
		rows[i].From, rows[i].Until = from, until
	}
	return rows
}

// Names of products that European rows are reserved for, as the regulation
// lists them or describes them.
const (
	dryCuredBaconName  = "traditional dry cured bacon: dry cured, then matured for at least 4 days, and similar products"
	dryCuredHamName    = "dry cured ham, jamón, paleta, lomo, cecina, presunto and similar products"
	rohschinkenName    = "Rohschinken, dry or wet cured, and similar products"
	czechSausageName   = "Vysočina, selský salám, turistický trvanlivý salám, Poličan, Herkules, Lovecký salám, Dunajská klobása, Paprikáš and similar products"
	spreadableName     = "Mettwurst, Teewurst and similar soft, spreadable, short-ripened raw sausages"
	rohwurstName       = "Rohwurst (salami and Kantwurst) made without nitrite"
	saucissonName      = "saucisson sec, salchichón and chorizo tradicionales de larga curación and similar products made without nitrite"
	generalTradition   = "traditionally cured products of categories 08.3.4.1 to 08.3.4.3 without a row of their own"
	namedPreparations  = "raw white kielbasa, metka, Kasseler, Bräte, Surfleisch, tatar wołowy and the others that the row names"
	organicName        = "products sold as organic"
	rohwurstProcess    = "at least 4 weeks of ripening and a water to protein ratio below 1.7"
	saucissonProcess   = "saucisson sec: fermented at 18 to 22 °C or lower (10 to 12 °C), at least 3 weeks of ripening and a water to protein ratio below 1.7; salchichón and chorizo: at least 30 days of ripening"
	residualNote       = "from all sources, in the product ready for marketing, throughout its shelf life"
	investigateNote    = "not a ban: above it the maker must find out why; "
	asMadeNote         = "added during manufacturing, on the whole product as made"
	europeanUnionAlone = "category 08.3.4.1, 08.3.4.2 and 08.3.4.3"
)

// europeanLimits are the rules of the European Union, those that ended on 8
// October 2025 and those that began the day after.
//
// The old rows count the sodium salt, the new ones the ion: 80 mg/kg as nitrite
// ion are 120 as sodium nitrite. Both count on the product as made, and the new
// ones also limit what is left in the product as sold.
func europeanLimits() []Limit {
	return in(EuropeanUnion, slices.Concat(
		dated(time.Time{}, lastOldEuropeanDay, oldEuropeanLimits()...),
		dated(time.Time{}, lastOldEuropeanDay, oldTraditionalLimits()...),
		dated(firstNewEuropeanDay, time.Time{}, newEuropeanLimits()...),
		dated(firstNewEuropeanDay, time.Time{}, newTraditionalLimits()...),
		undatedEuropeanLimits(),
		organicLimits(),
	)...)
}

// oldEuropeanLimits are the general rows that ended, also retained in Great
// Britain.
func oldEuropeanLimits() []Limit {
	return []Limit{
		{
			ID: "eu-nitrite-0831-old", Subject: "nitrite in meat products without heat treatment: dry and fermented sausage",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: Batch, Classes: rawClasses, Recalled: wholeMuscleClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(150, 1, "150 mg/kg"),
			Source: additives("category 08.3.1, note (7)", `row with the period "until 9 October 2025"; the same figure in EFSA Journal 2017;15(6):4786, table 5`),
			Note:   asMadeNote,
		},
		{
			ID: "eu-nitrate-0831-old", Subject: "nitrate in meat products without heat treatment: dry and fermented sausage",
			Agent: Nitrate, Species: SodiumNitrate, Phase: Ingoing, Base: Batch, Classes: rawClasses, Recalled: wholeMuscleClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(150, 1, "150 mg/kg"),
			Source: oldAdditives("category 08.3.1, note (7)"),
			Note:   asMadeNote,
		},
		{
			ID: "eu-nitrite-0832-old", Subject: "nitrite in heat-treated meat products, not sterilised",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: Batch, Classes: []Class{CookedSausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(150, 1, "150 mg/kg"),
			Source: oldAdditives("category 08.3.2, notes (7) (58) (59)"),
			Note:   asMadeNote,
		},
		{
			ID: "eu-nitrite-0832-ster-old", Subject: "nitrite in sterilised meat products (Fo above 3.00)",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: Batch, Classes: []Class{SterilisedSausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(100, 1, "100 mg/kg"),
			Source: oldAdditives("category 08.3.2, notes (7) (58) (59)"),
			Note:   asMadeNote,
		},
		{
			ID: "eu-nitrite-082-old", Subject: "nitrite in the few meat preparations that may be cured",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: Batch, Classes: []Class{MeatPreparation},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(150, 1, "150 mg/kg"),
			Applies: Applies{OnlyNamedProduct: namedPreparations},
			Source:  oldAdditives("category 08.2"),
			Note:    asMadeNote + "; other fresh sausages (meat preparations) may hold no nitrite",
		},
	}
}

// oldTraditionalLimits are the rows of named traditional products that ended,
// also retained in Great Britain.
func oldTraditionalLimits() []Limit {
	traditional := []Class{TraditionalProduct}
	return []Limit{
		{
			ID: "eu-trad-drybacon", Subject: "nitrite left in traditional dry cured bacon",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(175, 1, "175 mg/kg"),
			Applies: Applies{OnlyNamedProduct: dryCuredBaconName},
			Source:  oldAdditives("category 08.3.4.2, note (39)"),
			Note:    "at the point of sale",
		},
		{
			ID: "eu-trad-dryham", Subject: "nitrite left in traditional dry cured ham",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(100, 1, "100 mg/kg"),
			Applies: Applies{OnlyNamedProduct: dryCuredHamName},
			Source:  oldAdditives("category 08.3.4.2, note (39)"),
		},
		{
			ID: "eu-trad-rohschinken", Subject: "nitrite left in Rohschinken",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(50, 1, "50 mg/kg"),
			Applies: Applies{OnlyNamedProduct: rohschinkenName},
			Source:  oldAdditives("categories 08.3.4.1 to 08.3.4.3, note (39)"),
			Note:    "in the European Union it has no nitrite row of its own from 9 October 2025: the general 30 mg/kg as ion applies",
		},
		{
			ID: "eu-trad-cz", Subject: "nitrite in Czech and Slovak dried fermented sausages",
			Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: Batch, Classes: []Class{TraditionalProduct, DrySausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(180, 1, "180 mg/kg"),
			Applies: Applies{OnlyNamedProduct: czechSausageName},
			Source:  oldAdditives("category 08.3.4.3, note (7)"),
			Note:    asMadeNote,
		},
		{
			ID: "eu-trad-salamikantwurst", Subject: "nitrate in Rohwurst made without nitrite",
			Agent: Nitrate, Species: SodiumNitrate, Phase: Ingoing, Base: Batch, Classes: []Class{TraditionalProduct, DrySausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(300, 1, "300 mg/kg"),
			Applies: Applies{OnlyWithoutNitrite: true, OnlyNamedProduct: rohwurstName, OnlyUnderProcessRules: rohwurstProcess},
			Source:  oldAdditives("category 08.3.4.3, notes (40) (7)"),
			Note:    asMadeNote,
		},
		{
			ID: "eu-trad-saucisson", Subject: "nitrate in saucisson sec and long-cured salchichón and chorizo made without nitrite",
			Agent: Nitrate, Species: SodiumNitrate, Phase: Ingoing, Base: Batch, Classes: []Class{TraditionalProduct, DrySausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(250, 1, "250 mg/kg"),
			Applies: Applies{OnlyWithoutNitrite: true, OnlyNamedProduct: saucissonName, OnlyUnderProcessRules: saucissonProcess},
			Source:  oldAdditives("category 08.3.4.3, notes (40) (7) (59)"),
			Note:    asMadeNote,
		},
	}
}

// newEuropeanLimits are the general rows in force.
func newEuropeanLimits() []Limit {
	return []Limit{
		{
			ID: "eu-nitrite-0831", Subject: "nitrite in meat products without heat treatment: dry and fermented sausage",
			Agent: Nitrite, Species: NitriteIon, Phase: Ingoing, Base: Batch, Classes: rawClasses, Recalled: wholeMuscleClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(80, 1, "80 mg/kg"),
			Source: newAdditives("category 08.3.1, notes (XC) (XD)"),
			Note:   asMadeNote + "; 120.0 as sodium nitrite, 148.0 as potassium nitrite. What is left in the product has a limit of its own",
		},
		{
			ID: "eu-nitrite-0831-res", Subject: "nitrite left in meat products without heat treatment",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct, Classes: rawClasses, Recalled: wholeMuscleClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(45, 1, "45 mg/kg"),
			Source: newAdditives("category 08.3.1, note (XD)"),
			Note:   residualNote,
		},
		{
			ID: "eu-nitrate-0831", Subject: "nitrate in meat products without heat treatment: dry and fermented sausage",
			Agent: Nitrate, Species: NitrateIon, Phase: Ingoing, Base: Batch, Classes: rawClasses, Recalled: wholeMuscleClasses,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(90, 1, "90 mg/kg"),
			Source: newAdditives("category 08.3.1, notes (XA) (XE)"),
			Note:   asMadeNote + "; 123.4 as sodium nitrate, 146.8 as potassium nitrate. Dry sausage made without nitrite has a row of its own",
		},
		{
			ID: "eu-nitrate-0831-dry", Subject: "nitrate in dry sausage made without added nitrite",
			Agent: Nitrate, Species: NitrateIon, Phase: Ingoing, Base: Batch, Classes: []Class{DrySausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(110, 1, "110 mg/kg"),
			Applies: Applies{OnlyWithoutNitrite: true}, Replaces: "eu-nitrate-0831",
			Source: newAdditives("category 08.3.1, notes (XA) (XF)"),
			Note:   asMadeNote + "; 150.8 as sodium nitrate, 179.4 as potassium nitrate. The row is also for large primals of bacon; with any added nitrite the general 90 applies",
		},
		{
			ID: "eu-nitrate-0831-res", Subject: "nitrate left in meat products without heat treatment",
			Agent: Nitrate, Species: NitrateIon, Phase: Residual, Base: FinishedProduct, Classes: rawClasses, Recalled: wholeMuscleClasses,
			Kind: Investigate, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(90, 1, "90 mg/kg"),
			Source: newAdditives("category 08.3.1, note (XE)"),
			Note:   investigateNote + residualNote,
		},
		{
			ID: "eu-nitrate-0831-dry-res", Subject: "nitrate left in dry sausage made without added nitrite",
			Agent: Nitrate, Species: NitrateIon, Phase: Residual, Base: FinishedProduct, Classes: []Class{DrySausage},
			Kind: Investigate, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(110, 1, "110 mg/kg"),
			Applies: Applies{OnlyWithoutNitrite: true}, Replaces: "eu-nitrate-0831-res",
			Source: newAdditives("category 08.3.1, note (XF)"),
			Note:   investigateNote + residualNote,
		},
		{
			ID: "eu-nitrite-0832", Subject: "nitrite in heat-treated meat products, not sterilised",
			Agent: Nitrite, Species: NitriteIon, Phase: Ingoing, Base: Batch, Classes: []Class{CookedSausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(80, 1, "80 mg/kg"),
			Source: newAdditives("category 08.3.2, notes (59) (XC) (XD)"),
			Note:   asMadeNote,
		},
		{
			ID: "eu-nitrite-0832-res", Subject: "nitrite left in heat-treated meat products, not sterilised",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct, Classes: []Class{CookedSausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(45, 1, "45 mg/kg"),
			Source: newAdditives("category 08.3.2, note (XD)"),
			Note:   residualNote,
		},
		{
			ID: "eu-nitrite-0832-ster", Subject: "nitrite in sterilised meat products (Fo above 3.00)",
			Agent: Nitrite, Species: NitriteIon, Phase: Ingoing, Base: Batch, Classes: []Class{SterilisedSausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(55, 1, "55 mg/kg"),
			Source: newAdditives("category 08.3.2, notes (58) (59) (XC) (XG)"),
			Note:   asMadeNote,
		},
		{
			ID: "eu-nitrite-0832-ster-res", Subject: "nitrite left in sterilised meat products (Fo above 3.00)",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct, Classes: []Class{SterilisedSausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(25, 1, "25 mg/kg"),
			Source: newAdditives("category 08.3.2, note (XG)"),
			Note:   residualNote,
		},
		{
			ID: "eu-nitrite-082", Subject: "nitrite in the few meat preparations that may be cured",
			Agent: Nitrite, Species: NitriteIon, Phase: Ingoing, Base: Batch, Classes: []Class{MeatPreparation},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(80, 1, "80 mg/kg"),
			Applies: Applies{OnlyNamedProduct: namedPreparations},
			Source:  newAdditives("category 08.2, notes (XC) (XD)"),
			Note:    asMadeNote + "; a closed list: other fresh sausages (meat preparations) may hold no nitrite",
		},
		{
			ID: "eu-nitrite-082-res", Subject: "nitrite left in the few meat preparations that may be cured",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct, Classes: []Class{MeatPreparation},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(45, 1, "45 mg/kg"),
			Applies: Applies{OnlyNamedProduct: namedPreparations},
			Source:  newAdditives("category 08.2, note (XD)"),
			Note:    residualNote,
		},
	}
}

// newTraditionalLimits are the rows of named traditional products in force.
func newTraditionalLimits() []Limit {
	traditional := []Class{TraditionalProduct}
	return []Limit{
		{
			ID: "eu-trad-generic", Subject: "nitrite left in traditionally cured products without a row of their own",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(30, 1, "30 mg/kg"),
			Applies: Applies{OnlyNamedProduct: generalTradition},
			Source:  newAdditives(europeanUnionAlone + ", note (XH)"),
			Note:    residualNote,
		},
		{
			ID: "eu-trad-drybacon-new", Subject: "nitrite left in traditional dry cured bacon",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(105, 1, "105 mg/kg"),
			Applies: Applies{OnlyNamedProduct: dryCuredBaconName}, Replaces: "eu-trad-generic",
			Source: newAdditives("category 08.3.4.2, note (XH)"),
			Note:   residualNote,
		},
		{
			ID: "eu-trad-drybacon-nitrate-new", Subject: "nitrate left in traditional dry cured bacon",
			Agent: Nitrate, Species: NitrateIon, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(150, 1, "150 mg/kg"),
			Applies: Applies{OnlyNamedProduct: dryCuredBaconName},
			Source:  newAdditives("category 08.3.4.2, note (XI)"),
			Note:    residualNote,
		},
		{
			ID: "eu-trad-dryham-new", Subject: "nitrite left in traditional dry cured ham",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(65, 1, "65 mg/kg"),
			Applies: Applies{OnlyNamedProduct: dryCuredHamName}, Replaces: "eu-trad-generic",
			Source: newAdditives("category 08.3.4.2, note (XH)"),
			Note:   residualNote + "; jambon sec, jambon sel and similar products are made with nitrate only",
		},
		{
			ID: "eu-trad-dryham-nitrate-new", Subject: "nitrate left in traditional dry cured ham",
			Agent: Nitrate, Species: NitrateIon, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(150, 1, "150 mg/kg"),
			Applies: Applies{OnlyNamedProduct: dryCuredHamAndOnly},
			Source:  newAdditives("category 08.3.4.2, note (XI)"),
			Note:    residualNote,
		},
		{
			ID: "eu-trad-cz-new", Subject: "nitrite in Czech and Slovak dried fermented sausages",
			Agent: Nitrite, Species: NitriteIon, Phase: Ingoing, Base: Batch, Classes: []Class{TraditionalProduct, DrySausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(105, 1, "105 mg/kg"),
			Applies: Applies{OnlyNamedProduct: czechSausageName},
			Source:  newAdditives("category 08.3.4.3, notes (XC) (XJ)"),
			Note:    asMadeNote + "; 157.5 as sodium nitrite",
		},
		{
			ID: "eu-trad-cz-res-new", Subject: "nitrite left in Czech and Slovak dried fermented sausages",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(50, 1, "50 mg/kg"),
			Applies: Applies{OnlyNamedProduct: czechSausageName}, Replaces: "eu-trad-generic",
			Source: newAdditives("category 08.3.4.3, note (XJ)"),
			Note:   residualNote,
		},
		{
			ID: "eu-trad-spreadable", Subject: "nitrite in soft, spreadable, short-ripened raw sausages",
			Agent: Nitrite, Species: NitriteIon, Phase: Ingoing, Base: Batch, Classes: []Class{TraditionalProduct, SpreadableRawSausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(100, 1, "100 mg/kg"),
			Applies: Applies{OnlyNamedProduct: spreadableName},
			Source:  newAdditives("category 08.3.4.3, notes (XC) (XJ)"),
			Note:    asMadeNote + "; 150.0 as sodium nitrite",
		},
		{
			ID: "eu-trad-spreadable-res", Subject: "nitrite left in soft, spreadable, short-ripened raw sausages",
			Agent: Nitrite, Species: NitriteIon, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(50, 1, "50 mg/kg"),
			Applies: Applies{OnlyNamedProduct: spreadableName}, Replaces: "eu-trad-generic",
			Source: newAdditives("category 08.3.4.3, note (XJ)"),
			Note:   residualNote,
		},
		{
			ID: "eu-trad-salami-new", Subject: "nitrate in Rohwurst made without nitrite",
			Agent: Nitrate, Species: NitrateIon, Phase: Ingoing, Base: Batch, Classes: []Class{TraditionalProduct, DrySausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(180, 1, "180 mg/kg"),
			Applies: Applies{OnlyWithoutNitrite: true, OnlyNamedProduct: rohwurstName, OnlyUnderProcessRules: rohwurstProcess},
			Source:  newAdditives("category 08.3.4.3, notes (40) (XA) (XK)"),
			Note:    asMadeNote + "; 246.7 as sodium nitrate",
		},
		{
			ID: "eu-trad-salami-res-new", Subject: "nitrate left in Rohwurst made without nitrite",
			Agent: Nitrate, Species: NitrateIon, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Investigate, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(95, 1, "95 mg/kg"),
			Applies: Applies{OnlyWithoutNitrite: true, OnlyNamedProduct: rohwurstName, OnlyUnderProcessRules: rohwurstProcess},
			Source:  newAdditives("category 08.3.4.3, note (XK)"),
			Note:    investigateNote + residualNote,
		},
		{
			ID: "eu-trad-saucisson-new", Subject: "nitrate in saucisson sec and long-cured salchichón and chorizo made without nitrite",
			Agent: Nitrate, Species: NitrateIon, Phase: Ingoing, Base: Batch, Classes: []Class{TraditionalProduct, DrySausage},
			Kind: Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(180, 1, "180 mg/kg"),
			Applies: Applies{OnlyWithoutNitrite: true, OnlyNamedProduct: saucissonName, OnlyUnderProcessRules: saucissonProcess},
			Source:  newAdditives("category 08.3.4.3, notes (40) (59) (XA) (XK)"),
			Note:    asMadeNote + "; 246.7 as sodium nitrate",
		},
		{
			ID: "eu-trad-saucisson-res-new", Subject: "nitrate left in saucisson sec and long-cured salchichón and chorizo made without nitrite",
			Agent: Nitrate, Species: NitrateIon, Phase: Residual, Base: FinishedProduct, Classes: traditional,
			Kind: Investigate, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:   milligramsPerKilogram(95, 1, "95 mg/kg"),
			Applies: Applies{OnlyWithoutNitrite: true, OnlyNamedProduct: saucissonName, OnlyUnderProcessRules: saucissonProcess},
			Source:  newAdditives("category 08.3.4.3, note (XK)"),
			Note:    investigateNote + residualNote,
		},
	}
}

// undatedEuropeanLimits are rows that the change of October 2025 left alone, also
// retained in Great Britain.
func undatedEuropeanLimits() []Limit {
	return []Limit{
		{
			ID: "eu-salt-only", Subject: "nitrite for food use is sold only mixed with salt or a salt substitute",
			Agent: Nitrite, Species: NoSpecies, Phase: PlacingOnMarket, Base: NoBase, Classes: everyClass,
			Kind: Condition, Comparator: NoComparison, Unit: NoUnit,
			Value:  said("only in a mixture with salt or a salt substitute"),
			Source: britishInstrument("Schedule 1, note (x)"),
		},
		{
			ID: "eu-erythorbate", Subject: "erythorbic acid and sodium erythorbate in cured and preserved meat products",
			Agent: ErythorbicAcidOrErythorbate, Species: ErythorbicAcid, Phase: Ingoing, Base: Batch,
			Classes: slices.Concat(rawClasses, []Class{CookedSausage, SterilisedSausage}),
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(500, 1, "500 mg/kg"),
			Source: additives("categories 08.3.1 and 08.3.2, E 315 and E 316, note (9)", ""),
			Note:   "alone or together, as erythorbic acid; ascorbates have no figure (quantum satis)",
		},
		{
			ID: "eu-phosphate", Subject: "phosphates in meat products",
			Agent: Phosphates, Species: PhosphorusPentoxide, Phase: Finished, Base: FinishedProduct,
			Classes: slices.Concat(rawClasses, []Class{CookedSausage, SterilisedSausage}),
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram,
			Value:  milligramsPerKilogram(5000, 1, "5000 mg/kg"),
			Source: additives("categories 08.3.1 and 08.3.2, E 338 to E 452, notes (1) (4)", ""),
			Note:   "alone or together, as P2O5; category 08.3.2 leaves out foie gras products. That the level is for the food as marketed is Article 11(3), recalled",
		},
	}
}

// organicLimits are the rows for products sold as organic.
func organicLimits() []Limit {
	cite := source.Citation{
		Title: "EU rules on organic production, additives of organic meat products: in 2017 those under Regulation (EC) No 834/2007",
		Year:  2017, Section: "E 250 and E 252", Trust: source.ReadSecondary,
		Note: "figures as explained by a public authority in 2017; check them against the rules under Regulation (EU) 2018/848, such as Implementing Regulation (EU) 2021/1165",
	}
	row := func(id, subject string, agent Agent, species Species, phase Phase, base Base, v Value, note string) Limit {
		return Limit{
			ID: id, Subject: subject, Agent: agent, Species: species, Phase: phase, Base: base,
			Classes: slices.Concat(rawClasses, []Class{CookedSausage, SterilisedSausage}, muscleClasses, baconClasses),
			Kind:    Ceiling, Comparator: AtMost, Unit: MilligramsPerKilogram, Value: v,
			Applies: Applies{OnlyNamedProduct: organicName}, Source: cite, Note: note,
		}
	}
	const indicative = "an indicative ingoing amount"
	return []Limit{
		row("eu-organic-nitrite", "sodium nitrite in organic meat products", Nitrite, SodiumNitrite, Ingoing, Batch,
			milligramsPerKilogram(80, 1, "80 mg/kg"), indicative),
		row("eu-organic-nitrite-res", "nitrite left in organic meat products", Nitrite, SodiumNitrite, Residual, FinishedProduct,
			milligramsPerKilogram(50, 1, "50 mg/kg"), ""),
		row("eu-organic-nitrate", "potassium nitrate in organic meat products", Nitrate, SodiumNitrate, Ingoing, Batch,
			milligramsPerKilogram(80, 1, "80 mg/kg"), indicative),
		row("eu-organic-nitrate-res", "nitrate left in organic meat products", Nitrate, SodiumNitrate, Residual, FinishedProduct,
			milligramsPerKilogram(50, 1, "50 mg/kg"), ""),
	}
}
