package drying

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// While is a time in one air.
type While struct {
	Temperature quantity.Temperature
	Humidity    quantity.RelativeHumidity
	AirSpeed    material.Known[quantity.Speed]
	Span        time.Duration
}

// Hanging is a piece of which nothing is weighed yet, and the airs that it is to
// hang in, one after the other.
type Hanging struct {
	Diameter    material.Known[quantity.Length]
	Composition Composition
	Whiles      []While
}

// Expect returns what a piece is expected to lose by times counted from the
// beginning of the first while; a time after the last one is taken as its end.
// It is the projection before any weigh-in, through airs that change. Air so damp
// that it would take no more leaves the loss as it is, and cutting a while in two
// changes nothing.
//
// It needs an Order that Project would take: of the diameter, the temperatures
// and the composition it reports the same faults. The cost is that of one
// projection without weigh-ins.
func Expect(h Hanging, at ...time.Duration) ([]Band[quantity.Loss], error) {
	var from time.Time
	o := Order{Stuffed: from, Diameter: h.Diameter, Composition: h.Composition}
	end := time.Duration(0)
	for _, w := range h.Whiles {
		o.Airs = append(o.Airs, Air{
			From: from.Add(end), Temperature: material.Is(w.Temperature), Humidity: material.Is(w.Humidity), AirSpeed: w.AirSpeed,
		})
		end += w.Span
	}
	p, _, err := o.before()
	if err != nil {
		return nil, fmt.Errorf("what is known before weighing: %w", err)
	}
	post := fit(p, modelError, nil)
	bands := make([]Band[quantity.Loss], 0, len(at))
	var w writer
	for _, t := range at {
		post.at(math.Max(inDays(min(t, end)), 0), &post.work.now)
		bands = append(bands, w.losses(post.lossAt(&post.work.now)))
	}
	return bands, w.err
}
