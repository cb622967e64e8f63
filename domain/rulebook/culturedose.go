package rulebook

import (
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// CultureGuide is a figure of the trade on dosing a culture, with its source.
type CultureGuide[T any] struct {
	quantity.Between[T]

	Source source.Citation
}

// CultureDosing is how cultures are dosed and woken.
type CultureDosing struct {
	Target      CultureGuide[quantity.CellCount] // living cells in a gram of the mixture
	Natural     CultureGuide[quantity.CellCount] // of lactic acid bacteria that meat brings
	Pack        CultureGuide[quantity.PPM]       // freeze-dried, on the meat
	FreezeDried CultureGuide[quantity.CellCount] // living cells in a gram of it; only the high end is printed
	Frozen      CultureGuide[quantity.CellCount] // in a mL of it, taken for a gram
	Spoon       CultureGuide[quantity.Mass]      // half a teaspoon of it, as the hobby has it
	Water       CultureGuide[quantity.Volume]    // for a small batch, to wake it in
	MostWater   CultureGuide[quantity.Fraction]  // of the mixture, the generous figure of a handbook
	Waking      CultureGuide[time.Duration]
	Store       CultureGuide[quantity.Temperature]
}

// Dosing returns how cultures are dosed and woken.
func Dosing() CultureDosing {
	handbook := source.Citation{
		Title: "S. and A. Marianski, The Art of Making Fermented Sausages", Section: "starter cultures", Trust: source.ReadSecondary,
	}
	quoted := func(note string) source.Citation {
		c := handbook
		c.Note = note
		return c
	}
	hutkins := source.Citation{Title: "R. W. Hutkins, Microbiology and Technology of Fermented Foods", Year: 2006, Section: "chapter 6", Trust: source.ReadSecondary}
	cells := func(low, high float64) quantity.Between[quantity.CellCount] {
		return quantity.Between[quantity.CellCount]{Low: quantity.MustCFUPerGram(low), High: quantity.MustCFUPerGram(high)}
	}
	return CultureDosing{
		Target: CultureGuide[quantity.CellCount]{cells(1e6, 1e7), source.Citation{
			Title: "Starter cultures in fermented sausage: 10^6 to 10^7 CFU in a gram of the mixture", Trust: source.Memory,
			Note: "recalled as the usual target; trials with 10^5 and with 6 x 10^5 CFU/g are known to have worked",
		}},
		Natural: CultureGuide[quantity.CellCount]{cells(1e3, 1e4), source.CommonPractice("lactic acid bacteria of fresh meat, recalled")},
		Pack: CultureGuide[quantity.PPM]{
			quantity.Between[quantity.PPM]{Low: quantity.MustPPM(120), High: quantity.MustPPM(125)},
			quoted("25 g of freeze-dried culture for 200 kg, as quoted; a culture's own label decides"),
		},
		FreezeDried: CultureGuide[quantity.CellCount]{cells(0, 1e10), func() source.Citation {
			c := hutkins
			c.Trust, c.Note = source.Derived, "up to 10^10 CFU in a gram, derived from the doses that are quoted"
			return c
		}()},
		Frozen: CultureGuide[quantity.CellCount]{cells(1e8, 1e9), hutkins},
		Spoon: CultureGuide[quantity.Mass]{
			quantity.Between[quantity.Mass]{Low: quantity.MustGrams(1.2), High: quantity.MustGrams(2.5)},
			quoted("half a teaspoon is about 1.2 to 2.5 g; what it weighs differs two- to threefold with the carrier, so weigh"),
		},
		Water: CultureGuide[quantity.Volume]{
			quantity.Between[quantity.Volume]{Low: quantity.MustTablespoons(1), High: quantity.MustMillilitres(150)},
			quoted("a tablespoon is enough for a small batch; 150 mL for 4.5 kg is the generous figure of the handbook"),
		},
		MostWater: CultureGuide[quantity.Fraction]{
			quantity.Between[quantity.Fraction]{High: quantity.MustPercent(3.3)}, quoted("150 mL for 4.5 kg, 3.3 percent of added water"),
		},
		Waking: CultureGuide[time.Duration]{
			quantity.Between[time.Duration]{Low: 15 * time.Minute, High: 30 * time.Minute},
			quoted("in water without chlorine: distilled, or boiled and cooled"),
		},
		Store: CultureGuide[quantity.Temperature]{
			quantity.Between[quantity.Temperature]{High: quantity.MustCelsius(-18)}, source.CommonPractice("keep it frozen, at -18 °C or below, until it is used; recalled"),
		},
	}
}
