package formula

import (
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// WaterLine is the water that a line of a sheet brings.
type WaterLine struct {
	Member fault.Path
	Name   string
	Mass   quantity.Mass // of the line
	Water  quantity.Mass // in it
}

// AddedWater is the water that liquids bring to the meat, which has to dry out
// again.
type AddedWater struct {
	Lines   []WaterLine
	Sum     quantity.Mass
	Unknown []fault.Path // liquids of which it is not known how much water is in them
}

// wet is how much water makes an addition count as a liquid whatever its role: a
// wine as a spice, a vinegar as an acidulant. A choice of this project.
const wet = 0.5

// AddedWater returns the water brought by liquids, by the water for a culture,
// and by whatever else is mostly water, such as raw garlic. Of a pickle it is what
// the meat takes up; where that is not stated, and at an equilibrium, all
// of them are unknown.
func (s Sheet) AddedWater() AddedWater {
	var w AddedWater
	up := quantity.Fraction{}.Complement().Ratio()
	known := s.Pickle != nil || !Pickled(s.Product) || !Whole(s.Product)
	if s.Pickle != nil {
		var err error
		taken, stated := s.TakenUp()
		up, err = taken.Over(s.PickleMade())
		known = stated && err == nil
	}
	for _, l := range s.Lines {
		share, told := waterOf(l)
		if l.Role != Liquid && l.Role != RehydrationWater && !(told && share.Float() >= wet) || l.Role == Meat {
			continue
		}
		if !told || !known {
			w.Unknown = append(w.Unknown, l.Member)
			continue
		}
		water := share.Of(up.Of(l.OnScale()))
		w.Lines = append(w.Lines, WaterLine{Member: l.Member, Name: l.Name, Mass: l.OnScale(), Water: water})
		w.Sum = w.Sum.Plus(water)
	}
	return w
}

func waterOf(l Line) (quantity.Fraction, bool) {
	switch {
	case l.Role == RehydrationWater:
		return quantity.Fraction{}.Complement(), true
	case l.Addition == nil || l.Addition.Material == nil:
		return quantity.Fraction{}, false
	default:
		return l.Addition.Material.Composition.Water.Get()
	}
}
