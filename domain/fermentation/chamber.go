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
}

// Chamber returns the temperatures of the course: stretches that follow each
// other from the start without a gap, and what the chamber is at when they end.
// It returns a fault.Invalid with every violation of the whole course, as
// described at Course.
func (c Course) Chamber() ([]Stretch, quantity.Temperature, error) {
	h, _, err := c.read()
	if err != nil {
		return nil, quantity.Temperature{}, err
	}
	stretches := make([]Stretch, 0, len(h.pieces))
	for _, p := range h.pieces {
		stretches = append(stretches, Stretch{p.from, p.to, p.start, p.end})
	}
	return stretches, h.last, nil
}
