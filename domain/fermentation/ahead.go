package fermentation

import "greenweight/domain/quantity"

// Ahead returns what the sum comes to at the end of each of the steps that follow
// it, while no pH ends the clock.
func (s Sum) Ahead(steps []Step) []quantity.DegreeHours {
	sums := make([]quantity.DegreeHours, 0, len(steps))
	sum := s.DegreeHours
	for _, step := range steps {
		if step.Temperature.Compare(s.Set.Base) > 0 {
			sum = sum.Plus(step.Temperature.Minus(s.Set.Base).For(step.Span))
		}
		sums = append(sums, sum)
	}
	return sums
}
