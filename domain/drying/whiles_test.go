package drying_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/drying"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

func while(celsius, humidity, hours float64) drying.While {
	return drying.While{
		Temperature: quantity.MustCelsius(celsius), Humidity: quantity.MustHumidityPercent(humidity), Span: time.Duration(hours * float64(time.Hour)),
	}
}

// In one air the expectation is the projection before any weigh-in: the same
// prior by another integration, so that medians and ends agree to tenths of a
// point.
func TestExpectInOneAirIsTheProjection(t *testing.T) {
	t.Parallel()
	for _, w := range []drying.While{while(22, 90, 48), while(13, 78, 24*20), while(24, 80, 72)} {
		diameter := material.Is(quantity.MustMillimetres(55))
		got, err := drying.Expect(drying.Hanging{Diameter: diameter, Whiles: []drying.While{w}}, w.Span)
		if err != nil {
			t.Fatal(err)
		}
		stuffed := time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)
		p, err := drying.Project(drying.Order{
			Green: quantity.MustGrams(1000), Stuffed: stuffed, AsOf: stuffed.Add(w.Span), Target: quantity.MustLossPercent(35),
			Diameter: diameter, Temperature: material.Is(w.Temperature), Humidity: material.Is(w.Humidity),
		})
		if err != nil {
			t.Fatal(err)
		}
		want := p.Now.Loss
		for _, pair := range [][2]quantity.Loss{{want.Median, got[0].Median}, {want.P80.Low, got[0].P80.Low}, {want.P80.High, got[0].P80.High}} {
			t.Log(fmt.Sprint(w.Temperature, w.Humidity, w.Span), pair[0], pair[1])
			if off := math.Abs(pair[0].Percent() - pair[1].Percent()); off > 0.15+0.05*pair[0].Percent() {
				t.Errorf("%v %v %v: the projection says %v, got %v", w.Temperature, w.Humidity, w.Span, pair[0], pair[1])
			}
		}
	}
}

// A while cut in two is the same while, and time takes nothing back.
func TestExpectKeepsWhenAWhileIsCut(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		h := drying.Hanging{Diameter: material.Is(quantity.MustMillimetres(rapid.Float64Range(20, 110).Draw(t, "mm")))}
		for range rapid.IntRange(1, 4).Draw(t, "whiles") {
			h.Whiles = append(h.Whiles, while(rapid.Float64Range(2, 40).Draw(t, "celsius"), rapid.Float64Range(60, 99).Draw(t, "humidity"),
				rapid.Float64Range(1, 100).Draw(t, "hours")))
		}
		var end time.Duration
		cut := drying.Hanging{Diameter: h.Diameter}
		for _, w := range h.Whiles {
			end += w.Span
			part := w
			part.Span = time.Duration(rapid.Float64Range(0.1, 0.9).Draw(t, "part") * float64(w.Span))
			rest := w
			rest.Span = w.Span - part.Span
			cut.Whiles = append(cut.Whiles, part, rest)
		}
		whole, err := drying.Expect(h, end/3, end)
		if err != nil {
			t.Fatal(err)
		}
		same, err := drying.Expect(cut, end/3, end)
		if err != nil {
			t.Fatal(err)
		}
		for i := range whole {
			for _, pair := range [][2]quantity.Loss{{whole[i].Median, same[i].Median}, {whole[i].P90.High, same[i].P90.High}} {
				if math.Abs(pair[0].Percent()-pair[1].Percent()) > 1e-4 {
					t.Fatalf("whole %v, cut %v", pair[0], pair[1])
				}
			}
		}
		if whole[1].Median.Percent() < whole[0].Median.Percent()-1e-9 {
			t.Fatalf("a third %v, whole %v", whole[0].Median, whole[1].Median)
		}
	})
}

// Whatever the air, what is expected lies between nothing and all the water, the
// ends of the bands in their order.
func TestExpectInAnyAir(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var h drying.Hanging
		if rapid.Bool().Draw(t, "sized") {
			h.Diameter = material.Is(quantity.MustMillimetres(rapid.Float64Range(1, 400).Draw(t, "mm")))
		}
		var end time.Duration
		for range rapid.IntRange(1, 5).Draw(t, "whiles") {
			w := while(rapid.Float64Range(-10, 60).Draw(t, "celsius"), rapid.Float64Range(0, 100).Draw(t, "humidity"), rapid.Float64Range(0.01, 2000).Draw(t, "hours"))
			if rapid.Bool().Draw(t, "blown") {
				w.AirSpeed = material.Is(quantity.MustMetresPerSecond(rapid.Float64Range(0, 10).Draw(t, "speed")))
			}
			h.Whiles = append(h.Whiles, w)
			end += w.Span
		}
		bands, err := drying.Expect(h, 0, end/2, end, 2*end)
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range bands {
			ends := []quantity.Loss{b.P90.Low, b.P80.Low, b.P50.Low, b.Median, b.P50.High, b.P80.High, b.P90.High}
			var before quantity.Loss
			for _, l := range ends {
				if p := l.Percent(); !(p >= 0 && p <= 100) || l.Less(before) {
					t.Fatalf("ends %v", ends)
				}
				before = l
			}
		}
		if bands[0].P90.High.Percent() != 0 || math.Abs(bands[3].Median.Percent()-bands[2].Median.Percent()) > 1e-6 {
			t.Fatalf("at the start %v, at the end %v and after it %v", bands[0], bands[2], bands[3])
		}
	})
}
