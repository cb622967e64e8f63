package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"greenweight/domain/air"
	"greenweight/domain/material"
	"greenweight/domain/moisture"
	"greenweight/domain/quantity"
	"greenweight/domain/wateractivity"
)

const (
	courseCells = 60
	// mostForCourse is how often memory may be asked for in a course that is told once,
	// whatever its length: for its table, its air and its answer.
	mostForCourse = 100
	// mostGrowth is how much longer twice the days may take.
	mostGrowth = 2.5
)

// hung is a piece of 55 mm without casing in air of 13 °C and 78 percent, as warm as
// the air, which a plain loop can follow.
func hung() (moisture.Piece, moisture.Air, error) {
	d, err := quantity.Millimetres(55)
	if err != nil {
		return moisture.Piece{}, moisture.Air{}, err
	}
	var a moisture.Air
	var errs [4]error
	a.Temperature, errs[0] = quantity.Celsius(13)
	a.Humidity, errs[1] = quantity.HumidityPercent(78)
	a.Speed, errs[2] = quantity.MetresPerSecond(0.15)
	of, err := quantity.SquareMetresPerSecond(4.5e-11)
	errs[3] = err
	return moisture.Piece{
		Shape: moisture.Cylinder, Thickness: d, Casing: moisture.Bare, Mix: wateractivity.TypicalMix(), Isothermal: true,
		Cells: courseCells, Diffusivity: material.Is(of),
	}, a, errors.Join(errs[:]...)
}

// moistureCourse prints what the course of moisture takes, beside a plain explicit
// loop.
func moistureCourse(ctx context.Context, b dryingBench, out io.Writer) error {
	piece, room, err := hung()
	if err != nil {
		return err
	}
	lost := func(days int) (float64, error) {
		whole := time.Duration(days) * 24 * time.Hour
		c, err := moisture.Simulate(piece, []moisture.Step{{For: whole, Air: room}}, []time.Duration{whole})
		if err != nil {
			return 0, err
		}
		return c.Points[0].Loss.Percent(), nil
	}
	var plain, once, twice, bands, allocated float64
	least := func(to *float64, took float64) {
		if *to == 0 || took < *to {
			*to = took
		}
	}
	for range b.rounds {
		if err := ctx.Err(); err != nil {
			return err
		}
		took, loss, asked := clocked(func() (float64, error) { return lost(b.days) })
		longer, _, _ := clocked(func() (float64, error) { return lost(2 * b.days) })
		all, _, _ := clocked(func() (float64, error) {
			whole := time.Duration(b.days) * 24 * time.Hour
			_, err := moisture.Project(moisture.Order{Piece: piece, Schedule: []moisture.Step{{For: whole, Air: room}}, At: []time.Duration{whole}})
			return 0, err
		})
		simple, want, _ := clocked(func() (float64, error) { return explicitLoss(piece, room, b.days) })
		if !(math.Abs(loss-want) < 0.05) {
			return fmt.Errorf("the course comes to %v percent, and the loop to %v", loss, want)
		}
		least(&once, took)
		least(&twice, longer)
		least(&bands, all)
		least(&plain, simple)
		allocated = max(allocated, asked)
	}
	ms := func(ns float64) float64 { return ns / 1e6 }
	_, err = fmt.Fprintf(out, `a course of %d days on %d cells, best of %d                      ms
  the course                                    %19.2f
  a plain explicit loop, the same to 0.05 points %18.2f
  ratio                                         %19.3f
  twice the days over once                      %19.2f
  with its bands, 64 courses                    %19.2f
  the same over one course                      %19.1f
  allocations of a course, whatever its length  %19.0f

`, b.days, courseCells, b.rounds, ms(once), ms(plain), once/plain, twice/once, ms(bands), bands/once, allocated)
	if allocated > mostForCourse {
		err = errors.Join(err, fmt.Errorf("more than %d allocations", mostForCourse))
	}
	if b.days >= 30 && b.rounds > 1 && twice > mostGrowth*once {
		err = errors.Join(err, fmt.Errorf("twice the days take more than %g times as long", mostGrowth))
	}
	return err
}

// explicitLoss follows the same equations by the shortest program: equal steps of
// Euler's forward method, as long as they are stable, with the surface found by
// halving once a step and the film anew once a day.
func explicitLoss(p moisture.Piece, a moisture.Air, days int) (float64, error) {
	const (
		n         = courseCells
		density   = 1.03
		perDay    = 480 // steps of 3 minutes
		dt        = 86400.0 / perDay
		gasVapour = 0.46152
	)
	w0 := p.Mix.Water.Float()
	solids := 1 - w0
	x0, beta := w0/solids, solids*density
	radius := p.Thickness.Metres() / 2
	d := p.Diffusivity.Or(quantity.Diffusivity{}).SquareMetresPerSecond() / (radius * radius)
	saturated, err := air.SaturationPressure(a.Temperature)
	if err != nil {
		return 0, err
	}
	vapour := saturated.Kilopascals() / (gasVapour * a.Temperature.Kelvin())
	area := 2 / (1000 * density * solids) / radius
	// The isotherm by moisture, straight between many points.
	const points = 2000
	var aw [points + 1]float64
	for i := range aw {
		loss, err := quantity.LossPercent(100 * w0 * float64(i) / points * 0.83)
		if err != nil {
			return 0, err
		}
		at, err := p.Mix.At(loss)
		if err != nil { // drier than the air here ever makes it
			aw[i] = aw[max(i-1, 0)]
			continue
		}
		aw[i] = at.Float()
	}
	activity := func(x float64) float64 {
		at := (w0 - x*solids) / w0 / 0.83 * points
		i := min(max(int(at), 0), points-1)
		return aw[i] + (at-float64(i))*(aw[i+1]-aw[i])
	}
	var x [n]float64
	for i := range x {
		x[i] = x0
	}
	lost, film := 0.0, 0.0
	for step := range days * perDay {
		y := 0.0
		var flow [n + 1]float64
		for i := 1; i < n; i++ {
			before, next := 1-beta*(x0-x[i-1]), 1-beta*(x0-x[i])
			y += before / n
			flow[i] = 4 * d * y * (1/(before*before) + 1/(next*next)) / 2 * (x[i-1] - x[i]) * n
		}
		last := 1 - beta*(x0-x[n-1])
		y += last / n
		if step%perDay == 0 {
			now, err := quantity.Metres(p.Thickness.Metres() * math.Sqrt(y))
			if err != nil {
				return 0, err
			}
			k, err := air.FilmConductance(now, a.Temperature, a.Speed)
			if err != nil {
				return 0, err
			}
			film = k.MetresPerSecond()
		}
		low, high := 0.2*x0, x[n-1]
		for range 20 {
			xs := (low + high) / 2
			g := 1 - beta*(x0-xs)
			inner := 4 * d * y * (1/(last*last) + 1/(g*g)) / 2 * (x[n-1] - xs) * 2 * n
			outer := area * math.Sqrt(y) * vapour * (activity(xs) - a.Humidity.Float()) * film
			if flow[n] = outer; inner > outer {
				low = xs
			} else {
				high = xs
			}
		}
		for i := range x {
			x[i] += dt * n * (flow[i] - flow[i+1])
		}
		lost += dt * flow[n]
	}
	return 100 * solids * lost, nil
}
