package acidity

import (
	"slices"

	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// LeanOf returns what of the meat block is not fat, and false when that is not
// known.
func LeanOf(s *formula.Sheet) (quantity.Fraction, bool) {
	lean, meat := 0.0, 0.0
	for i := range s.Lines {
		l := &s.Lines[i]
		if l.Role != formula.Meat || l.Part == nil {
			continue
		}
		fat, known := l.Part.Material.Composition.Fat.Get()
		if !known {
			return quantity.Fraction{}, false
		}
		m := l.OnScale().Grams()
		lean, meat = lean+m*fat.Complement().Float(), meat+m
	}
	if meat == 0 {
		return quantity.Fraction{}, false
	}
	part, err := quantity.NewFraction(min(lean/meat, 1))
	return part, err == nil
}

// StartOf returns the lowest and the highest pH that the meat of a formula may
// begin at: as it was read when it came in, and as raw meat is where it was not.
func StartOf(f formula.Formula) quantity.Between[quantity.PH] {
	raw := usual.Start
	found, start := false, raw
	for i := range f.Parts {
		if f.Parts[i].Share.IsZero() {
			continue
		}
		of := raw
		if read, known := f.Parts[i].Received.PH.Get(); known {
			of = quantity.Exactly(read)
		}
		switch {
		case !found:
			found, start = true, of
		default:
			start.Low = lower(start.Low, of.Low)
			if start.High.Compare(of.High) < 0 {
				start.High = of.High
			}
		}
	}
	return start
}

func lower(p, q quantity.PH) quantity.PH {
	if q.Compare(p) < 0 {
		return q
	}
	return p
}

// Sourness is whether something is added that makes acid. The zero value is
// invalid.
type Sourness int

// What is known of the cultures.
const (
	NoneAdded   Sourness = iota + 1 // there is no culture
	NoneSours                       // no species of any makes acid
	TakenToSour                     // a culture's species are not stated: it is taken to make acid
	SurelySours                     // a stated species makes acid
)

// String returns the word used on the wire.
func (s Sourness) String() string {
	switch s {
	case NoneAdded:
		return "no-culture"
	case NoneSours:
		return "no"
	case TakenToSour:
		return "taken-to"
	case SurelySours:
		return "yes"
	default:
		return "unstated"
	}
}

// Sours reports whether acid is counted on.
func (s Sourness) Sours() bool { return s == TakenToSour || s == SurelySours }

// SournessOf returns whether a culture of a sheet makes acid.
func SournessOf(s *formula.Sheet) Sourness {
	known := NoneAdded
	for i := range s.Lines {
		l := &s.Lines[i]
		if l.Role == formula.Culture && l.Addition != nil && !l.Range.High.IsZero() {
			known = max(known, sournessOf(l.Addition.Species))
		}
	}
	return known
}

// sournessOf is that of one culture.
func sournessOf(species []rulebook.CultureSpecies) Sourness {
	switch {
	case len(species) == 0:
		return TakenToSour
	case slices.ContainsFunc(species, func(s rulebook.CultureSpecies) bool { return s.Acidifies }):
		return SurelySours
	default:
		return NoneSours
	}
}

// slowOn reports whether a sugar may be left by the species that make acid. It
// may be lactose whatever they are; another one when all of them are known to be
// slow on it.
func slowOn(s rulebook.Sugar, sours []rulebook.CultureSpecies) bool {
	if s == rulebook.Lactose {
		return true
	}
	for i := range sours {
		if !slices.Contains(sours[i].Slow, s) {
			return false
		}
	}
	return len(sours) > 0
}
