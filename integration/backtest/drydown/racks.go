package drydown

import (
	"fmt"
	"math"
	"runtime"
	"strconv"
	"sync"

	"greenweight/domain/drying"
	"greenweight/domain/quantity"
	"greenweight/integration/backtest/dice"
)

// RackProjector tells when the last of several pieces of one lot is done, counted
// from when they were hung together.
type RackProjector func([]drying.Order) (drying.Day, error)

// hung is one piece of a rack as a model sees it.
type hung struct {
	green quantity.Mass
	seen  []point // none where it is never weighed
}

// Racks are drawn as lots are, with the same numbers of pieces each as often, one
// for every so many lots: a rack costs as much as many lots. Their dice are others than those of the lots.
const (
	fewestPieces, mostPieces = 3, 6
	lotsPerRack              = 12
	rackDice                 = 1 << 32
	weighsAll                = 0.7 // of the makers weigh every piece; the others weigh two
	weighsFew                = 2
)

// drawRacks returns n racks of a seed, each with the courses that are weighed.
func drawRacks(seed uint64, n int, solve func(lot, piece) (course, error)) ([]series, error) {
	all, errs := make([]series, n), make([]error, n)
	gate := make(chan struct{}, runtime.GOMAXPROCS(0))
	var working sync.WaitGroup
	for i := range all {
		working.Go(func() {
			gate <- struct{}{}
			defer func() { <-gate }()
			all[i], errs[i] = drawRack(dice.New(seed, rackDice+uint64(i)), i, solve) //nolint:gosec // an index is not negative
		})
	}
	working.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("drawn rack %d of seed %d: %w", i+1, seed, err)
		}
	}
	return all, nil
}

func drawRack(random dice.Dice, i int, solve func(lot, piece) (course, error)) (series, error) {
	d := lotDice{random}
	pieces := fewestPieces + d.IntN(mostPieces-fewestPieces+1)
	l, err := drawLot(random, pieces)
	if err != nil {
		return series{}, err
	}
	name := fmt.Sprintf("drawn-rack-%04d", i+1)
	weighed, how := len(l.pieces), "all"
	if d.Float64() >= weighsAll {
		weighed, how = weighsFew, "two"
	}
	s := series{
		id: name, file: drawn, study: name, synthetic: true, drawn: true, facts: l.told,
		labels: append(l.labels, label{"pieces", pieces, strconv.Itoa(pieces)}, label{"pieces that are weighed", count(how == "all"), how}),
	}
	last := 0.0
	courses := make([]course, 0, len(l.pieces))
	for _, p := range l.pieces {
		c, err := solve(l, p)
		if err != nil {
			return series{}, err
		}
		last = math.Max(last, c.reaches(l.target))
		courses = append(courses, c)
	}
	for k, p := range l.pieces {
		green, err := quantity.Grams(p.green)
		if err != nil {
			return series{}, err
		}
		h := hung{green: green}
		if k < weighed {
			h.seen = d.weighIns(l, courses[k], last)
		}
		s.rack = append(s.rack, h)
	}
	// The course of the rack is the mean of what is weighed, which tells the stage.
	s.points = make([]point, len(s.rack[0].seen))
	for k := range s.points {
		s.points[k].day = s.rack[0].seen[k].day
		for _, h := range s.rack[:weighed] {
			s.points[k].loss += h.seen[k].loss / float64(weighed)
		}
	}
	s.named = []goal{{l.target, &last}}
	return s, nil
}

// upTo returns the pieces of a rack with what was weighed by a day.
func upTo(rack []hung, day float64) []hung {
	all := make([]hung, 0, len(rack))
	for _, h := range rack {
		shown := hung{green: h.green}
		for _, p := range weighIns(h.seen) {
			if p.day <= day {
				shown.seen = append(shown.seen, p)
			}
		}
		all = append(all, shown)
	}
	return all
}

// orders returns an order for each piece of a rack.
func (q question) orders(weighed bool) ([]drying.Order, error) {
	all := make([]drying.Order, 0, len(q.rack))
	for _, h := range q.rack {
		one := q
		one.facts.green, one.seen = h.green, h.seen
		if len(h.seen) == 0 {
			one.seen = q.seen[len(q.seen)-1:] // for what was read of the room by then
		}
		o, err := one.order(weighed)
		if err != nil {
			return nil, err
		}
		if len(h.seen) == 0 {
			o.WeighIns = nil
		}
		all = append(all, o)
	}
	return all, nil
}

// rackBefore returns the day without weigh-ins, which all stages of a target share.
func (q question) rackBefore(day func(weighed bool) (drying.Day, error)) (drying.Day, error) {
	if q.unweighed == nil {
		return day(false)
	}
	u := q.unweighed
	u.rackOnce.Do(func() { u.last, u.errLast = day(false) })
	return u.last, u.errLast
}

// rackForecasts returns the answers of all models for the last piece of a rack.
// The simple methods know no rack: of the pieces that are weighed the latest day
// counts.
func (q question) rackForecasts(project Projector, rack RackProjector) []forecast {
	day := func(weighed bool) (drying.Day, error) {
		orders, err := q.orders(weighed)
		if err != nil {
			return drying.Day{}, err
		}
		return rack(orders)
	}
	before, errBefore := q.rackBefore(day)
	after, errAfter := day(true)
	answers := []forecast{
		projectedDay(ours, after, errAfter), givenDay(oursReached, after, errAfter), projectedDay(oursUnfitted, before, errBefore),
	}
	stops, errStops := q.asymptote(q.before(project))
	for _, b := range baselines() {
		latest := forecast{Model: b.name}
		for _, h := range q.rack {
			if len(h.seen) == 0 {
				continue
			}
			one := q
			one.seen = h.seen
			f := one.ask(b, stops, errStops)
			if f.Refused != "" {
				latest = f
				break
			}
			latest.Median = math.Max(latest.Median, f.Median)
		}
		answers = append(answers, latest)
	}
	return answers
}
