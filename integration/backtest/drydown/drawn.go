package drydown

import (
	"fmt"
	"math"
	"runtime"
	"sort"
	"sync"

	"greenweight/integration/backtest/dice"
)

// course is the loss of a piece as it is, in percent, at days in order from 0.
type course struct{ days, losses []float64 }

// at returns the loss on a day, on straight lines between those there are.
func (c course) at(day float64) float64 {
	i := sort.SearchFloat64s(c.days, day)
	switch {
	case i == 0:
		return c.losses[0]
	case i == len(c.days):
		return c.losses[i-1]
	}
	part := (day - c.days[i-1]) / (c.days[i] - c.days[i-1])
	return c.losses[i-1] + part*(c.losses[i]-c.losses[i-1])
}

// reaches returns the day on which a loss is first reached, +Inf when it is not.
func (c course) reaches(loss float64) float64 {
	for i := range c.losses {
		if c.losses[i] < loss {
			continue
		}
		if i == 0 {
			return c.days[0]
		}
		return c.days[i-1] + (loss-c.losses[i-1])/(c.losses[i]-c.losses[i-1])*(c.days[i]-c.days[i-1])
	}
	return math.Inf(1)
}

// drawLots returns n lots of a seed as series, with the true day of their
// target. Lot i depends on the seed and on i alone.
func drawLots(seed uint64, n int, solve func(lot, piece) (course, error)) ([]series, error) {
	all, errs := make([]series, n), make([]error, n)
	gate := make(chan struct{}, runtime.GOMAXPROCS(0))
	var working sync.WaitGroup
	for i := range all {
		working.Go(func() {
			gate <- struct{}{}
			defer func() { <-gate }()
			all[i], errs[i] = drawSeries(dice.New(seed, uint64(i)), i, solve) //nolint:gosec // an index is not negative
		})
	}
	working.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("drawn lot %d of seed %d: %w", i+1, seed, err)
		}
	}
	return all, nil
}

func drawSeries(random dice.Dice, i int, solve func(lot, piece) (course, error)) (series, error) {
	l, err := drawLot(random, 1)
	if err != nil {
		return series{}, err
	}
	c, err := solve(l, l.pieces[0])
	if err != nil {
		return series{}, err
	}
	name := fmt.Sprintf("drawn-%04d", i+1)
	day := c.reaches(l.target)
	return series{
		id: name, file: drawn, study: name, synthetic: true, drawn: true, facts: l.told, labels: l.labels,
		points: lotDice{random}.weighIns(l, c, day), named: []goal{{l.target, &day}},
	}, nil
}

// weighIns returns what the scale shows, as losses from a green weight that it
// showed as well, until it has been weighed once after the day.
func (d lotDice) weighIns(l lot, c course, until float64) []point {
	shown := func(loss float64) float64 { return (100 - loss) * d.Around(1, l.scale/100) }
	green := shown(0)
	points := []point{{0, 0}}
	for _, day := range l.days {
		points = append(points, point{day, 100 * (1 - shown(c.at(day))/green)})
		if day > until {
			break
		}
	}
	return points
}
