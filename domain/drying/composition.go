package drying

import (
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// How much of the batch may be of things of which it is not known what they hold
// of a part, before the part is not known either, in percent. It is counted as
// holding none. Of salt and sugar, which are a few percent, less matters. A
// choice of this project.
const (
	littleOfMost  = 1.0
	littleOfSweet = 0.2
)

// CompositionOf returns what is known of the composition that follows from a
// formula, and the names, in the order of its weigh sheet, of what leaves a part
// of it unknown. It returns the faults of formula.Scale.
func CompositionOf(f formula.Formula) (Composition, []string, error) {
	sheet, err := formula.Scale(formula.Order{
		Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(1000)}, Scale: formula.Divisions{{Division: quantity.MustGrams(1e-6)}},
	})
	if err != nil {
		return Composition{}, nil, err
	}
	b := blend{unknown: make(map[string]bool)}
	for _, l := range sheet.Lines {
		b.add(l)
	}
	return b.composition(), b.names(sheet), nil
}

// blend is a mixture as it comes together, in grams.
type blend struct {
	batch                            float64
	water, protein, fat, salt, sugar part
	unknown                          map[string]bool // names of what holds nobody knows how much of a part
}

// part is a part of a mixture.
type part struct {
	grams   float64
	unknown float64 // grams of things of which it is not known
}

func (p *part) add(grams float64, of material.Known[quantity.Fraction]) bool {
	f, is := of.Get()
	if !is {
		p.unknown += grams
		return false
	}
	p.grams += grams * f.Float()
	return true
}

// share returns the part of the batch, not known when more than a little of it,
// in percent, is of things of which it is not known.
func (p part) share(batch, little float64) material.Known[quantity.Fraction] {
	if p.unknown*100 > little*batch {
		return material.Known[quantity.Fraction]{}
	}
	f, err := quantity.NewFraction(p.grams / batch)
	if err != nil { // of nothing there is no part
		return material.Known[quantity.Fraction]{}
	}
	return material.Is(f)
}

// add adds a line of a weigh sheet.
func (b *blend) add(l formula.Line) {
	grams := l.Exact.Grams()
	b.batch += grams
	c := contentOf(l)
	all := b.water.add(grams, c.Water)
	all = b.protein.add(grams, c.Protein) && all
	all = b.fat.add(grams, c.Fat) && all
	all = b.salt.add(grams, c.Salt) && all
	if all = b.sugar.add(grams, c.Sugar) && all; !all {
		b.unknown[l.Name] = true
	}
}

// composition returns what of it is known.
func (b *blend) composition() Composition {
	return Composition{
		Water: b.water.share(b.batch, littleOfMost), Protein: b.protein.share(b.batch, littleOfMost), Fat: b.fat.share(b.batch, littleOfMost),
		Salt: b.salt.share(b.batch, littleOfSweet), Sugar: b.sugar.share(b.batch, littleOfSweet),
	}
}

// names returns the names, in the order of the sheet, of what leaves a part of
// the composition unknown; none when all are known.
func (b *blend) names(s formula.Sheet) []string {
	c := b.composition()
	for _, k := range []material.Known[quantity.Fraction]{c.Water, c.Protein, c.Fat, c.Salt, c.Sugar} {
		if _, is := k.Get(); is {
			continue
		}
		var names []string
		for _, l := range s.Lines {
			if b.unknown[l.Name] {
				names = append(names, l.Name)
			}
		}
		return names
	}
	return nil
}

// contentOf returns what is known to be in a line of a weigh sheet. Salt is what
// counts as added, and that of a cure; the little sugar of meat counts as none.
// A spice by name alone, and what is said to bring none, bring no salt or sugar.
func contentOf(l formula.Line) Composition {
	none := material.Is(quantity.Fraction{})
	switch {
	case l.Part != nil:
		return contentOfMaterial(l.Part.Material)
	case l.Role == formula.RehydrationWater:
		return contentOfMaterial(material.Water())
	case l.Addition == nil:
		return Composition{}
	case l.Addition.Cure != nil:
		salt := l.Addition.Cure.Contents.SodiumChloride
		middle, err := quantity.NewFraction((salt.Low.Float() + salt.High.Float()) / 2)
		if err != nil { // between two fractions lies a third
			return Composition{}
		}
		return Composition{Water: none, Protein: none, Fat: none, Salt: material.Is(middle), Sugar: none}
	case l.Addition.Material != nil:
		return contentOfMaterial(*l.Addition.Material)
	case !l.Addition.Unknown():
		return Composition{Salt: none, Sugar: none}
	default:
		return Composition{}
	}
}

func contentOfMaterial(m material.Material) Composition {
	c := Composition{
		Water: m.Composition.Water, Protein: m.Composition.Protein, Fat: m.Composition.Fat,
		Salt: material.Is(m.AddedSalt()), Sugar: m.Composition.Sugars,
	}
	if m.Meat() {
		c.Sugar = material.Is(c.Sugar.Or(quantity.Fraction{}))
	}
	return c
}
