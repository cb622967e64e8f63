package drying

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"greenweight/domain/air"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/moisture"
	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Rim is how wet the rim and the inside of the piece are now, by the model of
// package moisture in the air that was told, so quick that it has lost by now what
// was weighed.
type Rim struct {
	Outer, Inner  quantity.Fraction      // water per mass of the outer third of the radius, and of the rest
	Surface, Core quantity.WaterActivity // at the surface and in the middle
	Quicker       quantity.Ratio         // how much quicker water moves than is estimated of the mixture
	Steep         bool                   // the outer third is more than steepGap points below the rest
	// Even is how long the piece, sealed and at 4 °C, takes until the outer third is
	// within evenGap points of the rest; not known where that takes more than
	// eight weeks, and zero where it is.
	Even   material.Known[time.Duration]
	Source source.Citation
}

// What is steep, in points of moisture. In sausage that dried as it should the outer
// third was measured 5 to 7 points below the rest (gradedSource). The model reads
// more: up to 16 in the air that published processes have, 75 to 85 percent, for 35
// to 80 mm and water that moves half to twice as quick as estimated; 20 to 27 in air
// of 60 to 40 percent. Derived from package moisture, at 13 °C and 0.15 m/s.
const (
	evenGap, steepGap = 7.0, 18.0
	sealedCelsius     = 4.0
	mostEven          = 56 // days
	rimCells          = 25
	// The model is so quick, at most and at least.
	leastQuicker, mostQuicker = 0.05, 20.0
	// leastForRim is the loss, in points, below which a rim tells nothing.
	leastForRim = 3.0
)

// rim follows the piece from stuffing to now. It is not known without a diameter and
// a humidity, before a weigh-in counts, and where no quickness leads to what was
// weighed. beyond is whether more was weighed than any leads to.
func (a *adviser) rim() (rim material.Known[Rim], beyond bool, err error) {
	var none material.Known[Rim]
	p := a.projection
	diameter, sized := a.order.Diameter.Get()
	loss := p.Now.Loss.Median.Percent()
	now := p.Now.Since + a.order.hung().Sub(a.order.Stuffed)
	if !sized || !p.Fitted || loss < leastForRim || now > moisture.Longest-mostEven*24*time.Hour {
		return none, false, nil
	}
	steps, told := a.soFar(now)
	if !told {
		return none, false, nil
	}
	mix, _, err := a.order.Composition.Mix()
	if err != nil {
		return none, false, fmt.Errorf("composition of the piece: %w", err)
	}
	// A casing that resists as much as the film of usual air, as the prior has it.
	casing, err := air.FilmConductance(diameter, a.air.Temperature.Or(quantity.MustCelsius(usedCelsius)), quantity.MustMetresPerSecond(usedSpeed))
	if err != nil {
		return none, false, fmt.Errorf("the film on the piece: %w", err)
	}
	m := modelled{
		piece: moisture.Piece{Shape: moisture.Cylinder, Thickness: diameter, Mix: mix, CasingConductance: material.Is(casing), Casing: moisture.Bare, Cells: rimCells},
		steps: steps,
	}
	if err := m.quicken(now, loss); err != nil {
		if isFault(err) || errors.Is(err, numeric.ErrNoSignChange) {
			return none, errors.Is(err, numeric.ErrNoSignChange) && !m.tooMuch, nil // the model does not reach there
		}
		return none, false, fmt.Errorf("the moisture inside: %w", err)
	}
	m.steps = append(m.steps, moisture.Step{
		For: mostEven * 24 * time.Hour, Sealed: true, Air: moisture.Air{Temperature: quantity.MustCelsius(sealedCelsius)},
	})
	at := []time.Duration{now}
	for day := 1; day <= mostEven; day++ {
		at = append(at, now+time.Duration(day)*24*time.Hour)
	}
	course, err := moisture.Simulate(m.piece, m.steps, at)
	if err != nil {
		return none, false, fmt.Errorf("the moisture inside: %w", err)
	}
	return material.Is(m.rimOf(course)), false, nil
}

// mostAirs is how many airs the rim is followed through; of more, as many equal
// times are, each in the air at its middle.
const mostAirs = 200

// soFar returns the airs from stuffing to now, with the times in which the piece
// was sealed; false where the humidity of one is not known. Where no air was told by
// its time, what a hygrometer read of late stands for it.
func (a *adviser) soFar(now time.Duration) ([]moisture.Step, bool) {
	o := a.order
	airs := o.airs()
	end := o.Stuffed.Add(now)
	edges := []time.Time{o.Stuffed, end}
	for _, b := range airs {
		edges = append(edges, b.From)
	}
	for _, pause := range o.Equalising {
		edges = append(edges, pause.From, pause.To)
	}
	edges = slices.DeleteFunc(edges, func(t time.Time) bool { return t.Before(o.Stuffed) || t.After(end) })
	slices.SortFunc(edges, time.Time.Compare)
	edges = slices.CompactFunc(edges, time.Time.Equal)
	if len(edges) > mostAirs+1 {
		edges = edges[:0]
		for k := range mostAirs + 1 {
			edges = append(edges, o.Stuffed.Add(now/mostAirs*time.Duration(k)))
		}
		edges[mostAirs] = end
	}
	var steps []moisture.Step
	for k := range len(edges) - 1 {
		span := edges[k+1].Sub(edges[k])
		middle := edges[k].Add(span / 2)
		of := airs[0]
		for _, b := range airs {
			if !b.From.After(middle) {
				of = b
			}
		}
		humidity, told := of.Humidity.Get()
		if !told {
			if humidity, told = a.read.Get(); !told {
				return nil, false
			}
		}
		steps = append(steps, moisture.Step{For: span, Sealed: o.driedBetween(edges[k], edges[k+1]) < inDays(span)/2, Air: moisture.Air{
			Temperature: of.Temperature.Or(quantity.MustCelsius(usedCelsius)), Humidity: humidity, Speed: of.AirSpeed.Or(quantity.MustMetresPerSecond(usedSpeed)),
		}})
	}
	return steps, true
}

// isFault reports whether the model refuses what it is asked.
func isFault(err error) bool {
	var f *fault.Error
	return errors.As(err, &f)
}

// modelled is a piece as package moisture follows it.
type modelled struct {
	piece moisture.Piece
	steps []moisture.Step

	tooMuch bool // the slowest one that was tried loses more than was weighed
}

// quicken makes the piece so quick that it has lost that much by a time. It reports
// numeric.ErrNoSignChange where none is.
func (m *modelled) quicken(by time.Duration, loss float64) error {
	var failed error
	log, err := numeric.Root(func(log float64) float64 {
		m.quicker(log, &failed)
		course, err := moisture.Simulate(m.piece, m.steps, []time.Duration{by})
		if err != nil || len(course.Points) == 0 {
			if failed == nil {
				failed = err
			}
			return 0
		}
		over := course.Points[0].Loss.Percent() - loss
		m.tooMuch = m.tooMuch || log <= math.Log(leastQuicker) && over > 0
		return over
	}, math.Log(leastQuicker), math.Log(mostQuicker), 1e-3)
	if failed != nil {
		return failed
	}
	if err != nil {
		return err
	}
	m.quicker(log, &failed)
	return failed
}

func (m *modelled) quicker(log float64, failed *error) {
	r, err := quantity.NewRatio(math.Exp(log))
	if err != nil && *failed == nil {
		*failed = err
	}
	m.piece.Quicker = material.Is(r)
}

// gapOf is how far the outer third is below the rest, in points.
func gapOf(p moisture.Point) float64 { return p.CoreMoisture.Percent() - p.RimMoisture.Percent() }

// rimOf tells the rim of a course whose first point is now.
func (m *modelled) rimOf(c moisture.Course) Rim {
	now := c.Points[0]
	quicker, _ := m.piece.Quicker.Get()
	out := Rim{
		Outer: now.RimMoisture, Inner: now.CoreMoisture, Surface: now.Surface, Core: now.Core,
		Quicker: quicker, Steep: gapOf(now) > steepGap, Source: gradedSource,
	}
	for _, p := range c.Points {
		if gapOf(p) <= evenGap {
			out.Even = material.Is(p.At - now.At)
			break
		}
	}
	return out
}

// words says what the rim is.
func (r Rim) words() string {
	gap := r.Inner.Percent() - r.Outer.Percent()
	return fmt.Sprintf("By the model, made as quick as the weights, the outer third holds %.0f %% of water and the rest %.0f %%; in sausage that dried as it should 5 to 7 points of difference were measured, and %.0f is more than the model reads in the air of any published process.",
		r.Outer.Percent(), r.Inner.Percent(), gap)
}
