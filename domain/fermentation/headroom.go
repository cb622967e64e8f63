package fermentation

import (
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Headroom is what would be left if the chamber came into the next hotter class
// now, at its lower edge.
type Headroom struct {
	Class     rulebook.DegreeHourClass
	Edge      quantity.Temperature // where it begins; where EdgeCooler, just above
	Remaining quantity.DegreeHours // up to its limit, negative where more is used already
	Left      time.Duration        // at the edge until the limit is reached, zero when it is

	// EdgeCooler says that the edge itself is still in the cooler class.
	EdgeCooler bool
}

// ifHotter returns the headroom of a sum; nil in the hottest class.
func (s *Sum) ifHotter() *Headroom {
	edge := s.Class.UpTo
	if edge.IsZero() {
		return nil
	}
	for i, c := range s.Set.Classes[:len(s.Set.Classes)-1] {
		if c.UpTo != edge {
			continue
		}
		next := s.Set.Classes[i+1]
		rest := next.Limit.Minus(s.DegreeHours)
		left := lasts(s.Set, rest, edge)
		if left == nil { // every edge is above the base
			return nil
		}
		return &Headroom{Class: next, Edge: edge, EdgeCooler: c.UpToBelongs, Remaining: rest, Left: *left}
	}
	return nil
}
