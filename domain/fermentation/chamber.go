package fermentation

import (
	"time"

	"greenweight/domain/quantity"
)

// Stretch is a time over which the temperature of the chamber changes in a
// straight line.
type Stretch struct {
	From, To   time.Duration
	Start, End quantity.Temperature

	// Taken is what DegreeHours takes for all of a gap of the log, the hotter of both
	// readings; zero where there is none.
	Taken quantity.Temperature
}

// Chamber returns the temperatures of the course: stretches that follow each
// other from the start without a hole, and what the chamber is at when they end.
// It returns a fault.Invalid with every violation of the whole course, as
// described at Course.
func (c Course) Chamber() ([]Stretch, quantity.Temperature, error) {
	h, _, err := c.read()
	if err != nil {
		return nil, quantity.Temperature{}, err
	}
	var stretches []Stretch
	for p := range h.pieces(0, h.end) {
		s := Stretch{From: p.from, To: p.to, Start: p.joined.start, End: p.joined.end}
		if p.gap {
			s.Taken = p.start
		}
		stretches = append(stretches, s)
	}
	return stretches, h.last, nil
}
