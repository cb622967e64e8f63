package rulebook

import (
	"slices"

	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// CultureSpecies is a bacterium that starter cultures are made of, with the
// temperatures at which it grows. Where texts differ an end is a range.
type CultureSpecies struct {
	Key       string // stable, kebab-case
	Name      string
	Acidifies bool // makes acid of sugar, which takes the pH down
	Reduces   bool // turns nitrate into nitrite
	Least     quantity.Between[quantity.Temperature]
	Best      quantity.Between[quantity.Temperature] // zero when it is not known
	Most      quantity.Between[quantity.Temperature]
	Source    source.Citation
	Note      string
}

// Cultures returns every species, in a fixed order. The slice is the caller's.
func Cultures() []CultureSpecies { return slices.Clone(cultures) }

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

const reducesNitrate = "reduces nitrate and makes flavour and colour; it makes no acid that counts"

// cultures is the table. It is never handed out, only copies of its rows are.
var cultures = []CultureSpecies{
	{
		Key: "latilactobacillus-sakei", Name: "Latilactobacillus sakei", Acidifies: true,
		Least: degrees(-3, 3), Best: degrees(30, 34), Most: degrees(36, 40),
		Source: source.Citation{
			Title: "F. Leroy and L. De Vuyst, Applied and Environmental Microbiology 65:974, and others", Year: 1999, Trust: source.Memory,
			Note: "recalled with low confidence; that meat strains of the group grow under -1 °C and up to 36.6 to 39.8 °C was read in the abstract of J. Food Prot. 53:793 (1990)",
		},
		Note: "the usual culture of slow, mild sausage",
	},
	{
		Key: "latilactobacillus-curvatus", Name: "Latilactobacillus curvatus", Acidifies: true,
		Least: degrees(-3, 3), Most: degrees(36.6, 39.8),
		Source: source.Citation{
			Title: "Journal of Food Protection 53:793, abstract (meat strains of the sakei and curvatus group)", Year: 1990, Trust: source.Read,
			Note: "growth below -1 °C and the highest temperatures; the low end is taken to be that of sakei, recalled",
		},
	},
	{
		Key: "lactiplantibacillus-plantarum", Name: "Lactiplantibacillus plantarum", Acidifies: true,
		Least: degrees(3.99, 3.99), Best: degrees(35, 36), Most: degrees(43.7, 43.7),
		Source: source.Citation{
			Title: "M. H. Zwietering and others, Applied and Environmental Microbiology 57:1094", Year: 1991, Trust: source.Memory, Note: "recalled",
		},
	},
	{
		Key: "pediococcus-pentosaceus", Name: "Pediococcus pentosaceus", Acidifies: true,
		Least: degrees(8, 10), Best: degrees(28, 35), Most: degrees(39, 45), Source: handbookRange("recalled"),
	},
	{
		Key: "pediococcus-acidilactici", Name: "Pediococcus acidilactici", Acidifies: true,
		Least: degrees(10, 15), Best: degrees(40, 40), Most: degrees(50, 52), Source: handbookRange("recalled"),
		Note: "of warm, fast fermentations; slow in a cool room",
	},
	{
		Key: "staphylococcus-xylosus", Name: "Staphylococcus xylosus", Reduces: true,
		Least: degrees(8, 10), Best: degrees(25, 35), Most: degrees(40, 45), Source: handbookRange("recalled"), Note: reducesNitrate,
	},
	{
		Key: "staphylococcus-carnosus", Name: "Staphylococcus carnosus", Reduces: true,
		Least: degrees(10, 15), Best: degrees(30, 37), Most: degrees(42, 45), Source: handbookRange("recalled"), Note: reducesNitrate,
	},
	{
		Key: "kocuria-varians", Name: "Kocuria varians", Reduces: true, //nolint:misspell // the name of the species
		Least: degrees(5, 10), Best: degrees(25, 37), Most: degrees(40, 45), Source: handbookRange("recalled with low confidence"), Note: reducesNitrate,
	},
}
