package lot

import (
	"fmt"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// see puts what a hygrometer read beside a piece into the question: the mean over
// time of the readings since the weigh-in before the last, or since hanging, and
// the most that any of them may be off. What was estimated is no reading.
func (q *DryDown) see(s State, p PieceState) error {
	if p.HungAt.IsZero() {
		return nil
	}
	from := p.HungAt
	if n := len(q.Order.WeighIns); n > 1 && q.Order.WeighIns[n-2].At.After(from) {
		from = q.Order.WeighIns[n-2].At
	}
	var samples []sample
	within := 0.0
	for _, r := range s.readings {
		h, told := r.Humidity.Get()
		if !told || !r.measured() || r.at.Before(from) || r.Piece != "" && r.Piece != p.Name {
			continue
		}
		samples = append(samples, sample{r.at, h.Percent()})
		if off, known := r.HumidityWithin.Get(); known {
			within = max(within, off.Percent())
		}
	}
	if len(samples) == 0 {
		return nil
	}
	h, err := quantity.HumidityPercent(meanOverTime(samples))
	if err != nil {
		return fmt.Errorf("humidity: %w", err)
	}
	q.Seen.Humidity = material.Is(h)
	q.note("humidity-of-late", fault.At("hygrometer"), "%v is the mean over time of %s since the weigh-in before the last.", h, counted(len(samples), "reading"))
	if within > 0 {
		off, err := quantity.HumidityPercent(within)
		if err != nil {
			return fmt.Errorf("what the hygrometer may be off: %w", err)
		}
		q.Seen.HumidityWithin = material.Is(off)
	}
	return nil
}
