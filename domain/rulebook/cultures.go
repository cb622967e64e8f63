package rulebook

import (
	"slices"

	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Organism is what kind of organism a culture is. The zero value is invalid.
type Organism int

// The organisms.
const (
	Bacterium Organism = iota + 1
	Yeast
	Mould
)

// String returns the word used on the wire.
func (o Organism) String() string {
	switch o {
	case Bacterium:
		return "bacterium"
	case Yeast:
		return "yeast"
	case Mould:
		return "mould"
	default:
		return "unstated"
	}
}

// Sugar is what acid is made of. The zero value is invalid.
type Sugar int

// The sugars. MixedSugar is that of honey, syrup, wine and spices, of which only
// the sum is known.
const (
	Dextrose Sugar = iota + 1
	Sucrose
	Lactose
	MixedSugar
)

// String returns the word used on the wire.
func (s Sugar) String() string {
	switch s {
	case Dextrose:
		return "dextrose"
	case Sucrose:
		return "sucrose"
	case Lactose:
		return "lactose"
	case MixedSugar:
		return "mixed"
	default:
		return "unstated"
	}
}

// CultureSpecies is an organism that starter cultures are made of, with the
// temperatures at which it grows. Where texts differ an end is a range.
type CultureSpecies struct {
	Key       string // stable, kebab-case
	Name      string
	Organism  Organism
	Acidifies bool // makes acid of sugar, which takes the pH down
	Reduces   bool // turns nitrate into nitrite
	Surface   bool // grows on the casing, into which it is not mixed

	LeastPH            *quantity.PH            // below which it does not grow; nil when it is not known
	LeastWaterActivity *quantity.WaterActivity // the same
	Slow               []Sugar                 // that many strains use slowly or not at all, as far as it is known
	GrowthSource       source.Citation         // of these three; zero when none is known

	Least  quantity.Between[quantity.Temperature]
	Best   quantity.Between[quantity.Temperature] // zero when it is not known
	Most   quantity.Between[quantity.Temperature]
	Source source.Citation
	Note   string
}

// Cultures returns every species, in a fixed order. The slice is the caller's.
func Cultures() []CultureSpecies {
	all := slices.Clone(cultures)
	for i := range all {
		all[i].Slow = slices.Clone(all[i].Slow)
	}
	return all
}

// CultureByKey returns the species with a key, and false when there is none.
func CultureByKey(key string) (CultureSpecies, bool) {
	i := slices.IndexFunc(cultures, func(c CultureSpecies) bool { return c.Key == key })
	if i < 0 {
		return CultureSpecies{}, false
	}
	return cultures[i], true
}

// degrees is a range of temperatures, in degrees Celsius.
func degrees(low, high float64) quantity.Between[quantity.Temperature] {
	return quantity.Between[quantity.Temperature]{Low: quantity.MustCelsius(low), High: quantity.MustCelsius(high)}
}

// handbookRange cites ranges of growth that are known from memory.
func handbookRange(note string) source.Citation {
	return source.Citation{Title: "Ranges of growth of lactic acid bacteria and staphylococci, handbooks of bacteriology", Trust: source.Memory, Note: note}
}

func leastPH(v float64) *quantity.PH {
	ph := quantity.MustPH(v)
	return &ph
}

func leastWater(aw float64) *quantity.WaterActivity {
	a := quantity.MustWaterActivity(aw)
	return &a
}

const reducesNitrate = "reduces nitrate and makes flavour and colour; it makes no acid that counts"

// cultures is the table. It is never handed out, only copies of its rows are.
var cultures = []CultureSpecies{
	{
		Key: "latilactobacillus-sakei", Name: "Latilactobacillus sakei", Organism: Bacterium, Acidifies: true,
		LeastPH: leastPH(4.2), LeastWaterActivity: leastWater(0.928), Slow: []Sugar{Lactose},
		GrowthSource: source.Citation{
			Title: "F. Leroy and L. De Vuyst (1999); O. Mejlholm and P. Dalgaard (2007, 2013), psychrotolerant lactic acid bacteria like it", Trust: source.Memory,
			Note: "pH 4.2 and aw 0.928 recalled; that many strains use little lactose is recalled with low confidence",
		},
		Least: degrees(-3, 3), Best: degrees(30, 34), Most: degrees(36, 40),
		Source: source.Citation{
			Title: "F. Leroy and L. De Vuyst, Applied and Environmental Microbiology 65:974, and others", Year: 1999, Trust: source.Memory,
			Note: "recalled with low confidence; that meat strains of the group grow under -1 °C and up to 36.6 to 39.8 °C was read in the abstract of J. Food Prot. 53:793 (1990)",
		},
		Note: "the usual culture of slow, mild sausage",
	},
	{
		Key: "latilactobacillus-curvatus", Name: "Latilactobacillus curvatus", Organism: Bacterium, Acidifies: true,
		Slow: []Sugar{Sucrose, Lactose}, GrowthSource: handbookRange("recalled; strains differ"),
		Least: degrees(-3, 3), Most: degrees(36.6, 39.8),
		Source: source.Citation{
			Title: "Journal of Food Protection 53:793, abstract (meat strains of the sakei and curvatus group)", Year: 1990, Trust: source.Read,
			Note: "growth below -1 °C and the highest temperatures; the low end is taken to be that of sakei, recalled",
		},
	},
	{
		Key: "lactiplantibacillus-plantarum", Name: "Lactiplantibacillus plantarum", Organism: Bacterium, Acidifies: true,
		Least: degrees(3.99, 3.99), Best: degrees(35, 36), Most: degrees(43.7, 43.7),
		Source: source.Citation{
			Title: "M. H. Zwietering and others, Applied and Environmental Microbiology 57:1094", Year: 1991, Trust: source.Memory, Note: "recalled",
		},
	},
	{
		Key: "pediococcus-pentosaceus", Name: "Pediococcus pentosaceus", Organism: Bacterium, Acidifies: true,
		Slow: []Sugar{Sucrose, Lactose}, GrowthSource: handbookRange("recalled; strains differ"),
		Least: degrees(8, 10), Best: degrees(28, 35), Most: degrees(39, 45), Source: handbookRange("recalled"),
	},
	{
		Key: "pediococcus-acidilactici", Name: "Pediococcus acidilactici", Organism: Bacterium, Acidifies: true,
		Slow: []Sugar{Sucrose, Lactose}, GrowthSource: handbookRange("recalled; strains differ"),
		Least: degrees(10, 15), Best: degrees(40, 40), Most: degrees(50, 52), Source: handbookRange("recalled"),
		Note: "of warm, fast fermentations; slow in a cool room",
	},
	{
		Key: "staphylococcus-xylosus", Name: "Staphylococcus xylosus", Organism: Bacterium, Reduces: true,
		LeastPH: leastPH(5), GrowthSource: handbookRange("about pH 5.0, recalled"),
		Least: degrees(8, 10), Best: degrees(25, 35), Most: degrees(40, 45), Source: handbookRange("recalled"), Note: reducesNitrate,
	},
	{
		Key: "staphylococcus-carnosus", Name: "Staphylococcus carnosus", Organism: Bacterium, Reduces: true,
		LeastPH: leastPH(5), GrowthSource: handbookRange("about pH 5.0, recalled"),
		Least: degrees(10, 15), Best: degrees(30, 37), Most: degrees(42, 45), Source: handbookRange("recalled"), Note: reducesNitrate,
	},
	{
		Key: "kocuria-varians", Name: "Kocuria varians", Organism: Bacterium, Reduces: true, //nolint:misspell // the name of the species
		Least: degrees(5, 10), Best: degrees(25, 37), Most: degrees(40, 45), Source: handbookRange("recalled with low confidence"), Note: reducesNitrate,
	},
	{
		Key: "debaryomyces-hansenii", Name: "Debaryomyces hansenii", Organism: Yeast,
		LeastWaterActivity: leastWater(0.83), GrowthSource: handbookRange("recalled with low confidence; it stands much salt"),
		Least: degrees(0, 5), Best: degrees(20, 26), Most: degrees(30, 35), Source: handbookRange("recalled with low confidence"),
		Note: "for flavour, inside or on the casing; it uses up acid and makes none, so the pH rises with it",
	},
	{
		Key: "penicillium-nalgiovense", Name: "Penicillium nalgiovense", Organism: Mould, Surface: true,
		LeastWaterActivity: leastWater(0.86), GrowthSource: handbookRange("recalled with low confidence"),
		Least: degrees(2, 8), Best: degrees(18, 25), Most: degrees(28, 35), Source: handbookRange("recalled with low confidence"),
		Note: "dipped or sprayed onto the casing and not mixed in; it uses up acid, so the pH of the rim rises under it",
	},
}
