package rulebook

import (
	"slices"

	"greenweight/domain/source"
)

// Guide is a figure that no jurisdiction sets: an intake value, a usual range,
// a point at which this project refuses. A guide that has both ends is a window.
type Guide struct {
	ID      string // stable, kebab-case
	Subject string // what it is about, for people
	Agent   Agent
	Species Species
	Phase   Phase
	Base    Base
	Kind    Kind
	Unit    Unit
	Low     Value // zero when there is no lower end
	High    Value // zero when there is no upper end
	Source  source.Citation
	Note    string
}

// Guides returns every guide, in a fixed order. The rows are copies, free to be
// changed.
func Guides() []Guide {
	rows := make([]Guide, 0, len(guides))
	for _, g := range guides {
		rows = append(rows, g.clone())
	}
	return rows
}

// GuideByID returns the guide with an id, and false when there is none.
func GuideByID(id string) (Guide, bool) {
	i := slices.IndexFunc(guides, func(g Guide) bool { return g.ID == id })
	if i < 0 {
		return Guide{}, false
	}
	return guides[i].clone(), true
}

func (g Guide) clone() Guide {
	g.Low, g.High = g.Low.clone(), g.High.clone()
	return g
}

// guides is the table. It is never handed out, only copies of its rows are.
var guides = []Guide{
	{
		ID: "salt-range", Subject: "salt in dry fermented sausage, all of it: plain salt and the salt of the cure",
		Agent: Salt, Species: SodiumChloride, Phase: Ingoing, Base: MeatBlock, Kind: Window, Unit: PercentOfBase,
		Low: percentOfBase(5, 2, "2.5 percent"), High: percentOfBase(7, 2, "3.5 percent"),
		Source: source.CommonPractice("recalled; the upper part agrees with the salt that old methods against trichinae ask for, 3.33 lb in 100 lb"),
		Note:   "of the meat; the finished sausage then holds 3.5 to 5 percent",
	},
	{
		ID: "salt-least", Subject: "least salt in sausage that is not cooked",
		Agent: Salt, Species: SodiumChloride, Phase: Ingoing, Base: MeatBlock, Kind: Floor, Unit: PercentOfBase,
		Low:    percentOfBase(2, 1, "2.0 percent"),
		Source: source.CommonPractice("recalled"),
		Note:   "of the meat; below it an uncooked sausage is not to be made unless trichinae are dealt with in another way",
	},
	{
		ID: "salt-wps", Subject: "salt in the water phase of finished dry sausage, as usual",
		Agent: Salt, Species: SodiumChloride, Phase: Finished, Base: WaterPhase, Kind: Window, Unit: PercentOfBase,
		Low: percentOfBase(8, 1, "8 percent"), High: percentOfBase(13, 1, "13 percent"),
		Source: source.Citation{
			Title: "Arithmetic from 3.5 to 5 percent salt at 30 to 40 percent moisture", Trust: source.Derived,
			Note: "from the usual range of salt, which is recalled",
		},
		Note: "salt / (salt + moisture); a brine of at least 5 percent inside is one criterion of semi-dry, shelf-stable sausage",
	},
	{
		ID: "nitrite-adi", Subject: "acceptable daily intake of nitrite",
		Agent: Nitrite, Species: NitriteIon, Phase: NoPhase, Base: NoBase, Kind: Ceiling, Unit: MilligramsPerBodyMass,
		High: otherAmount(7, 100, "0.07 mg/kg body weight per day"),
		Source: source.Citation{
			Title: "EFSA, Statement on nitrites in meat products, EFSA Journal 8(5):1538", Year: 2010, Trust: source.Read,
			Note: "the same value in EFSA's opinion of 2017, recalled",
		},
		Note: "per day, over a lifetime",
	},
	{
		ID: "nitrate-adi", Subject: "acceptable daily intake of nitrate",
		Agent: Nitrate, Species: NitrateIon, Phase: NoPhase, Base: NoBase, Kind: Ceiling, Unit: MilligramsPerBodyMass,
		High: otherAmount(37, 10, "3.7 mg/kg body weight per day"),
		Source: source.Citation{
			Title: "EFSA and JECFA, acceptable daily intake of nitrate", Trust: source.Memory, Note: recalled,
		},
		Note: "recalled, not read; per day, over a lifetime",
	},
	{
		ID: "nitrite-lethal", Subject: "estimated lethal dose of nitrite by mouth, people",
		Agent: Nitrite, Species: NitriteIon, Phase: NoPhase, Base: NoBase, Kind: Window, Unit: MilligramsPerBodyMass,
		Low: otherAmount(33, 1, "33 mg/kg body weight"), High: otherAmount(250, 1, "250 mg/kg body weight"),
		Source: drinkingWater(),
		Note:   "a single dose; the low end for children and old people",
	},
	{
		ID: "nitrite-methb", Subject: "doses of nitrite by mouth that gave methaemoglobinaemia, people",
		Agent: Nitrite, Species: NitriteIon, Phase: NoPhase, Base: NoBase, Kind: Window, Unit: MilligramsPerBodyMass,
		Low: otherAmount(4, 10, "0.4 mg/kg body weight"), High: otherAmount(200, 1, "200 mg/kg body weight"),
		Source: drinkingWater(),
		Note:   "a single dose; 0.5 to 5 mg/kg body weight taken as a medicine had no toxic effect",
	},
	{
		ID: "hardstop", Subject: "nitrite above which this project refuses, and at which it warns of poison",
		Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: MeatBlock, Kind: Window, Unit: MilligramsPerKilogram,
		Low: milligramsPerKilogram(625, 1, "625 mg/kg"), High: milligramsPerKilogram(1000, 1, "1000 mg/kg"),
		Source: source.Citation{
			Title: "Choice of this project: the highest ceiling of any rulebook here (dry cured muscle, United States)", Trust: source.Derived,
			Note: "the alarm is a round figure above it",
		},
		Note: "refused above the low end, an alarm from the high end on. 100 g of meat with 2500 mg/kg, undiluted nitrite at the dose of a blend, carry 250 mg of sodium nitrite, 167 mg as nitrite ion",
	},
	{
		ID: "nitrite-effect", Subject: "nitrite that is described as having some preservative effect",
		Agent: Nitrite, Species: SodiumNitrite, Phase: Ingoing, Base: MeatBlock, Kind: Floor, Unit: MilligramsPerKilogram,
		Low: milligramsPerKilogram(40, 1, "40 ppm"),
		Source: source.Citation{
			Title: "FSIS Directive 7620.3, Processing Inspectors' Calculations Handbook", Year: 1995, Section: "chapter 3, page 12",
			Trust: source.ReadSecondary, Note: quoted,
		},
		Note: "no law asks for it in products that keep without refrigeration",
	},
	{
		ID: "hardstop-nitrate", Subject: "nitrate above which this project refuses",
		Agent: Nitrate, Species: AsAdded, Phase: Ingoing, Base: MeatBlock, Kind: Ceiling, Unit: MilligramsPerKilogram,
		Low: milligramsPerKilogram(4375, 2, "2187.5 mg/kg"),
		Source: source.Citation{
			Title: "Choice of this project: the highest ceiling of any rulebook here (dry cured muscle, United States)", Trust: source.Derived,
			Note: "3 1/2 oz in 100 lb, row us-nitrate-drycured",
		},
		Note: "refused above it",
	},
}

func drinkingWater() source.Citation {
	return source.Citation{
		Title: "WHO, Guidelines for drinking-water quality, rolling revision: nitrate and nitrite", Trust: source.Read,
		Note: "read in a copy",
	}
}
