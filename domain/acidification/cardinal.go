package acidification

import (
	"math"

	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// cardinalSource is that of the model of growth by temperature.
func cardinalSource() source.Citation {
	return source.Citation{
		Title: "L. Rosso, J. R. Lobry and J. P. Flandrois, An unexpected correlation between cardinal temperatures of microbial growth, Journal of Theoretical Biology 162:447",
		Year:  1993, Trust: source.Memory, Note: "cardinal temperature model with inflection; recalled",
	}
}

// cardinal are the temperatures of a culture in °C: it grows between least and
// most, and best at best.
type cardinal struct{ least, best, most float64 }

// cardinalOf returns the temperatures of a species, the middle of each range.
// Where the best is not known, it is taken as a sixth of the way below the
// highest, as it is with the others.
func cardinalOf(c rulebook.CultureSpecies) cardinal {
	middle := func(b quantity.Between[quantity.Temperature]) float64 {
		return (b.Low.Celsius() + b.High.Celsius()) / 2
	}
	k := cardinal{least: middle(c.Least), most: middle(c.Most)}
	if c.Best.Low.IsZero() {
		const below = 1.0 / 6
		k.best = k.most - below*(k.most-k.least)
		return k
	}
	k.best = middle(c.Best)
	return k
}

// growth returns how fast a culture grows, as a part of its growth at the best
// temperature; 0 from least down and from most up.
//
//	g(T) = (T - Tmax)(T - Tmin)² / ((To - Tmin) ((To - Tmin)(T - To) - (To - Tmax)(To + Tmin - 2T)))
func (c cardinal) growth(t float64) float64 {
	if t <= c.least || t >= c.most {
		return 0
	}
	above := c.best - c.least
	of := above * (above*(t-c.best) - (c.best-c.most)*(c.best+c.least-2*t))
	g := (t - c.most) * (t - c.least) * (t - c.least) / of
	return math.Min(math.Max(g, 0), 1)
}
