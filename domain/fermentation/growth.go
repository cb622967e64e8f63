package fermentation

import (
	"math"

	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Growth is how much a course would let Staphylococcus aureus grow, as an index:
// what a culture at its best pace for each temperature would gain, in powers of
// ten. Nothing slows it down, neither a lag, nor acid, nor nitrite, nor another
// culture, so that it is no count in a sausage; it compares courses.
type Growth struct {
	Index  quantity.Ratio
	Usual  quantity.Between[quantity.Ratio] // what the Celsius rule allows from 20 to 32 °C
	Source source.Citation
}

// The cardinal parameters of Staphylococcus aureus, and its pace at its best:
// Medvedova et al., Italian Journal of Food Safety 8:8287, 2019 (read).
const (
	aureusLeast, aureusBest, aureusMost = 7.7, 40.6, 46.7 // °C
	aureusPace                          = 1.97            // per hour
	aureusDriest, aureusBestWater       = 0.808, 0.994    // water activity
)

// mixtureWater is the water activity of a fresh mixture that the index is for: 0.95
// to 0.97 is told of fresh sausage (Techniques de l'Ingénieur F6507, read), of which
// the high end is the cautious one.
const mixtureWater = 0.97

// usual is the index at the limit of the Celsius rule from 20 to 32 °C, derived:
// 19.9 at 24 °C, 22.1 at 20 °C.
var usual = quantity.Between[quantity.Ratio]{Low: quantity.MustRatio(20), High: quantity.MustRatio(22)}

// growth adds up the pace over a course.
type growth struct{ sum float64 }

// add adds a piece by Gauss and Legendre with three points, over parts of at most
// two degrees: exact to a millionth where the pace is smooth, to a thousandth of
// the part in which it ends.
func (g *growth) add(p piece) {
	start, end := p.start.Kelvin()-zeroCelsius, p.end.Kelvin()-zeroCelsius
	if start == end {
		g.sum += pace(start) * p.hours()
		return
	}
	const (
		finest       = 2.0
		away, middle = 0.7745966692414834, 8.0 / 18 // sqrt(3/5)
		side         = 5.0 / 18
	)
	parts := math.Ceil(math.Abs(end-start) / finest)
	for i := range int(parts) {
		half := (end - start) / parts / 2
		centre := start + (2*float64(i)+1)*half
		g.sum += (side*(pace(centre-away*half)+pace(centre+away*half)) + middle*pace(centre)) * p.hours() / parts
	}
}

// zeroCelsius is 0 °C in kelvins, exact.
const zeroCelsius = 273.15

// pace returns how fast Staphylococcus aureus grows at a temperature in °C, per
// hour, by the cardinal temperature model with inflection
//
//	g(T) = (T-Tmax)(T-Tmin)² / ((Topt-Tmin) ((Topt-Tmin)(T-Topt) - (Topt-Tmax)(Topt+Tmin-2T)))
//
// times the pace at its best and (aw-awmin)/(awopt-awmin); zero outside Tmin and
// Tmax. Source: Rosso, Lobry and Flandrois, An unexpected correlation between
// cardinal temperatures of microbial growth highlighted by a new model, Journal of
// Theoretical Biology 162, 1993 (recalled).
func pace(t float64) float64 {
	if t <= aureusLeast || t >= aureusMost {
		return 0
	}
	const (
		range1 = aureusBest - aureusLeast
		water  = (mixtureWater - aureusDriest) / (aureusBestWater - aureusDriest)
	)
	from := t - aureusLeast
	shape := (t - aureusMost) * from * from / (range1 * (range1*(t-aureusBest) - (aureusBest-aureusMost)*(aureusBest+aureusLeast-2*t)))
	return aureusPace * water * shape
}

// total returns the index.
func (g *growth) total() Growth {
	index, err := quantity.NewRatio(g.sum / math.Ln10)
	if err != nil { // a pace is finite
		index = quantity.Ratio{}
	}
	return Growth{
		Index: index, Usual: usual,
		Source: source.Citation{
			Title: "Growth by the cardinal parameters of Medvedova et al., Italian Journal of Food Safety 8:8287",
			Year:  2019, Trust: source.Derived,
			Note: "at a water activity of 0.97, without lag, acid, nitrite and competition: an index and no count in sausage. At the limit of the Celsius rule " +
				"it is 112 at 16 °C, 29 at 18 °C, 20 to 22 from 20 to 32 °C",
		},
	}
}
