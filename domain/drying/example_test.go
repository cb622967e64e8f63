package drying_test

import (
	"fmt"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// A piece of 1 kg and 55 mm hangs at 13 °C and 78 percent. When has it lost 35
// percent? (An invented piece.)
func ExampleProject() {
	stuffed := time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)
	o := drying.Order{
		Green: quantity.MustGrams(1000), Stuffed: stuffed, Target: quantity.MustLossPercent(35),
		Diameter:    material.Is(quantity.MustMillimetres(55)),
		Temperature: material.Is(quantity.MustCelsius(13)),
		Humidity:    material.Is(quantity.MustHumidityPercent(78)),
	}
	for _, w := range []struct {
		day   int
		grams float64
	}{{3, 940}, {7, 880}, {12, 830}, {18, 785}} {
		o.WeighIns = append(o.WeighIns, drying.WeighIn{At: stuffed.AddDate(0, 0, w.day), Weight: quantity.MustGrams(w.grams)})
	}
	p, err := drying.Project(o)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(p.Outcome)
	fmt.Println("lost so far:", p.Weighed[p.Latest].Loss)
	fmt.Println("in days, and not in hours or years:", p.Day.P80.Low > 20*24*time.Hour && p.Day.P80.High < 200*24*time.Hour)
	// Output:
	// projected
	// lost so far: 21.5 %
	// in days, and not in hours or years: true
}

// How much of the removable water has a sausage lost whose surface is in balance
// with the air from the start, at a Fourier number of 0.1? Crank's table says
// 60.6 percent.
func ExampleCylinder_MeanMoistureRatio() {
	left, err := drying.FixedSurface().MeanMoistureRatio(quantity.MustRatio(0.1))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f %%\n", 100-left.Percent())
	// Output: 60.6 %
}
