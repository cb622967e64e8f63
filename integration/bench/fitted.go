package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"strconv"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// mostFittedBytes is how much memory a projection may ask for: its working space,
// which does not grow with the log of the air but for the log itself.
const mostFittedBytes = 2 << 20

// cylinderCosts is how many values of the plain series a ratio is told in.
const cylinderCosts = 1000

// fittedRow is one kind of projection.
type fittedRow struct {
	name string
	do   func() error
}

// fitted prints what fitted projections cost, as ratios to a thousand values of the
// closed series of a drying cylinder, summed plainly, in the same run; and how they
// grow with weigh-ins and days.
func fitted(ctx context.Context, bench dryingBench, out io.Writer) error {
	rows, err := fittedRows()
	if err != nil {
		return err
	}
	plain := math.Inf(1)
	for range bench.rounds {
		ns, _, _, err := costOf(plainSeries)
		if err != nil {
			return err
		}
		plain = min(plain, ns)
	}
	if _, err := fmt.Fprintf(out, "%-58s %6s %14s %5s %10s\n", fmt.Sprintf("fitted projections, best of %d", bench.rounds), "ms", "/plain series", "kB", "asked"); err != nil {
		return err
	}
	var wrong error
	took := map[string]float64{}
	for _, row := range rows {
		best, bytes, asked := math.Inf(1), 0.0, 0.0
		for range bench.rounds {
			if err := ctx.Err(); err != nil {
				return err
			}
			ns, b, n, err := costOf(row.do)
			if err != nil {
				return fmt.Errorf("%s: %w", row.name, err)
			}
			best, bytes, asked = min(best, ns), b, n
		}
		took[row.name] = best
		if _, err := fmt.Fprintf(out, "  %-56s %6.1f %14.1f %5.0f %10.0f\n", row.name, best/1e6, best/plain, bytes/1024, asked); err != nil {
			return err
		}
		if row.name == twenty && bytes > mostFittedBytes {
			wrong = fmt.Errorf("%s: %.0f bytes, more than %d", row.name, bytes, mostFittedBytes)
		}
	}
	if _, err := fmt.Fprintf(out, "times as long as %s\n", twenty); err != nil {
		return err
	}
	for _, grown := range []struct {
		name string
		most float64
	}{{twoHundred, mostFittedGrowth}, {longer, mostFittedGrowth}, {learned, mostLearnedGrowth}} {
		times := took[grown.name] / took[twenty]
		if _, err := fmt.Fprintf(out, "  %-56s %6.1f\n", grown.name, times); err != nil {
			return err
		}
		if bench.rounds > 1 && times > grown.most {
			wrong = errors.Join(wrong, fmt.Errorf("%s takes %.1f times as long as %s, more than %g", grown.name, times, twenty, grown.most))
		}
	}
	_, err = fmt.Fprintf(out, "A plain series is %d values of the mean moisture of a cylinder, its roots sought anew for each: %.1f ms.\n", cylinderCosts, plain/1e6)
	return errors.Join(err, wrong)
}

// The projections that are held against each other.
const (
	twenty     = "one piece, 20 weigh-ins"
	twoHundred = "one piece, 200 weigh-ins"
	longer     = "one piece, 20 weigh-ins over 80 days"
	learned    = "learning from 20 pieces, 20 weigh-ins each"
)

// How many times as long as one projection ten times the weigh-ins or four times the
// days may take, and learning from twenty pieces, which fits each once and tells no days.
const (
	mostFittedGrowth  = 4
	mostLearnedGrowth = 20
)

func fittedRows() ([]fittedRow, error) {
	one, err := pieceOf(20, 20)
	if err != nil {
		return nil, err
	}
	ten, err := pieceOf(200, 20)
	if err != nil {
		return nil, err
	}
	long, err := pieceOf(20, 80)
	if err != nil {
		return nil, err
	}
	var earlier []drying.Earlier
	for i := range 20 {
		earlier = append(earlier, drying.Earlier{Lot: strconv.Itoa(i / 2), Order: one})
	}
	lowered := one
	for day := range 12 {
		h, err := quantity.HumidityPercent(90 - float64(day))
		if err != nil {
			return nil, err
		}
		lowered.Airs = append(lowered.Airs, drying.Air{From: one.Stuffed.AddDate(0, 0, 2*day), Humidity: material.Is(h)})
	}
	logged := one
	for hour := range 24 * 60 {
		h, err := quantity.HumidityPercent(78 + 6*math.Sin(float64(hour)/4))
		if err != nil {
			return nil, err
		}
		logged.Readings = append(logged.Readings, drying.Air{From: one.Stuffed.Add(time.Duration(hour) * time.Hour), Humidity: material.Is(h)})
	}
	project := func(o drying.Order) func() error {
		return func() error {
			_, err := drying.Project(o)
			return err
		}
	}
	racked := func(n int) func() error {
		var r drying.Rack
		for range n {
			r.Pieces = append(r.Pieces, drying.RackPiece{Order: one})
		}
		return func() error {
			_, err := drying.ProjectRack(r)
			return err
		}
	}
	return []fittedRow{
		{twenty, project(one)},
		{twoHundred, project(ten)},
		{longer, project(long)},
		{"one piece, 20 weigh-ins, 12 airs", project(lowered)},
		{"one piece, 20 weigh-ins, 1,440 readings of the air", project(logged)},
		{learned, func() error {
			_, err := drying.Learn(earlier)
			return err
		}},
		{"a rack of 5, 20 weigh-ins each", racked(5)},
		{"a rack of 20, 20 weigh-ins each", racked(20)},
	}, nil
}

// pieceOf returns a piece of 55 mm with so many weigh-ins over so many days.
func pieceOf(n, days int) (drying.Order, error) {
	o := drying.Order{Stuffed: time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)}
	var errs [5]error
	var diameter quantity.Length
	var temperature quantity.Temperature
	var humidity quantity.RelativeHumidity
	o.Green, errs[0] = quantity.Grams(1000)
	o.Target, errs[1] = quantity.LossPercent(35)
	diameter, errs[2] = quantity.Millimetres(55)
	temperature, errs[3] = quantity.Celsius(13)
	humidity, errs[4] = quantity.HumidityPercent(78)
	o.Diameter, o.Temperature, o.Humidity = material.Is(diameter), material.Is(temperature), material.Is(humidity)
	for i := range n {
		hours := 24 * float64(days) * float64(i+1) / float64(n)
		weight, err := quantity.Grams(1000 - 400*(1-math.Exp(-0.04*hours/24)))
		if err != nil {
			return o, err
		}
		o.WeighIns = append(o.WeighIns, drying.WeighIn{At: o.Stuffed.Add(time.Duration(hours * float64(time.Hour))), Weight: weight})
	}
	return o, errors.Join(errs[:]...)
}

// plainSeries sums the closed series of a cylinder as it stands in the books.
func plainSeries() error {
	biot, err := quantity.NewRatio(5)
	if err != nil {
		return err
	}
	c, err := drying.NewCylinder(biot)
	if err != nil {
		return err
	}
	for i := range cylinderCosts {
		fourier, err := quantity.NewRatio(0.01 + 0.001*float64(i))
		if err != nil {
			return err
		}
		if _, err := c.MeanMoistureRatio(fourier); err != nil {
			return err
		}
	}
	return nil
}

// costOf measures what is done once: nanoseconds, bytes and how often memory was
// asked for.
func costOf(do func() error) (ns, bytes, allocated float64, err error) {
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	start := time.Now()
	err = do()
	took := time.Since(start)
	runtime.ReadMemStats(&after)
	return float64(took.Nanoseconds()), float64(after.TotalAlloc - before.TotalAlloc), float64(after.Mallocs - before.Mallocs), err
}
