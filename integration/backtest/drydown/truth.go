package drydown

import (
	"errors"
	"fmt"
	"math"
	"time"

	"greenweight/domain/material"
	"greenweight/domain/moisture"
	"greenweight/domain/quantity"
	"greenweight/domain/wateractivity"
)

// solve returns the course of a piece of a lot as package moisture computes it:
// water that moves the slower the drier a place is, a rim in balance with what
// casing and air take, shrinking, in a room that changes all the time.
func solve(l lot, p piece) (course, error) { return solveIn(l, p, solveCells) }

// solveCells is how finely a piece is cut; a test has more.
const solveCells = 24

func solveIn(l lot, p piece, cells int) (course, error) {
	sausage, err := l.sausage(p, cells)
	if err != nil {
		return course{}, err
	}
	steps, err := l.steps(p)
	if err != nil {
		return course{}, err
	}
	var at []time.Duration
	for t := time.Duration(0); t <= horizonDays*hoursPerDay*time.Hour; t += lookEvery {
		at = append(at, t)
	}
	solved, err := moisture.Simulate(sausage, steps, at)
	if err != nil {
		return course{}, err
	}
	var c course
	for _, point := range solved.Points {
		c.days = append(c.days, daysOf(point.At))
		c.losses = append(c.losses, point.Loss.Percent())
	}
	if len(c.days) < 2 {
		return course{}, errors.New("the course ends as it begins")
	}
	return c, nil
}

// lookEvery is how often a course is looked at; between, it is as good as
// straight.
const lookEvery = 12 * time.Hour

// sausage is a piece as package moisture sees it.
func (l lot) sausage(p piece, cells int) (moisture.Piece, error) {
	mix, errMix := l.mix.mix()
	diameter, errDiameter := quantity.Millimetres(p.diameter)
	casing, errCasing := quantity.MetresPerSecond(l.casing)
	// A diffusivity that falls on the way has to begin higher for the whole course
	// to be as fast: over most of it, a third of the water is gone in the mean.
	quicker, errQuicker := quantity.NewRatio(p.diffusion * math.Exp(l.fall/3))
	fall, errFall := quantity.NewRatio(l.fall)
	return moisture.Piece{
		Shape: moisture.Cylinder, Casing: moisture.Natural, Thickness: diameter, Mix: mix,
		CasingConductance: material.Is(casing), Quicker: material.Is(quicker), MoistureFall: fall, Cells: cells,
	}, errors.Join(errMix, errDiameter, errCasing, errQuicker, errFall)
}

func (m mixture) mix() (wateractivity.Mix, error) {
	water, errWater := quantity.Percent(m.water)
	protein, errProtein := quantity.Percent(m.protein)
	fat, errFat := quantity.Percent(m.fat)
	salt, errSalt := quantity.Percent(m.salt)
	sugar, errSugar := quantity.Percent(m.sugar)
	return wateractivity.Mix{Water: water, Protein: protein, Fat: fat, Salt: salt, Sugar: sugar},
		errors.Join(errWater, errProtein, errFat, errSalt, errSugar)
}

// steps is the room of a lot where a piece of it hangs.
func (l lot) steps(p piece) ([]moisture.Step, error) {
	var steps []moisture.Step
	begins := 0.0
	for i, s := range l.room.plan {
		speed, err := quantity.MetresPerSecond(s.speed * p.draught)
		if err != nil {
			return nil, fmt.Errorf("the air of step %d: %w", i, err)
		}
		step := moisture.Step{For: spanOf(s.days), Air: moisture.Air{Speed: speed}, Sealed: s.sealed}
		for _, a := range l.room.log(s, begins) {
			temperature, errTemperature := quantity.Celsius(a.celsius)
			humidity, errHumidity := quantity.HumidityPercent(a.humidity)
			if err := errors.Join(errTemperature, errHumidity); err != nil {
				return nil, fmt.Errorf("the air of step %d: %w", i, err)
			}
			at := min(spanOf(a.day-begins), step.For)
			step.Log = append(step.Log, moisture.Reading{At: at, Temperature: temperature, Humidity: humidity})
		}
		steps = append(steps, step)
		begins += s.days
	}
	return steps, nil
}
