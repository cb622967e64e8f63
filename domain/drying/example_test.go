package drying_test

import (
	"fmt"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/wateractivity"
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

// A mixture of 58.75 percent of water and 15 of protein hangs in a room of 80 percent.
// How much must it lose for 1.9 parts of moisture to one of protein, and for a water
// activity of 0.88? (An invented mixture.)
func ExampleLossForTarget() {
	a, err := drying.LossForTarget(drying.TargetOrder{
		Composition: drying.Composition{
			Water: material.Is(quantity.MustPercent(58.75)), Protein: material.Is(quantity.MustPercent(15)), Salt: material.Is(quantity.MustPercent(2.7)),
		},
		Ratio:         material.Is(quantity.MustRatio(1.9)),
		WaterActivity: material.Is(quantity.MustWaterActivity(0.88)),
		Humidity:      material.Is(quantity.MustHumidityPercent(80)),
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	percent := func(l material.Known[quantity.Loss]) float64 { return l.Or(quantity.Loss{}).Percent() }
	fmt.Printf("%.2f %% for the ratio\n", percent(a.Ratio.Loss.Median))
	dry := a.WaterActivity
	fmt.Printf("%.0f %% for the water activity, likely %.0f to %.0f\n", percent(dry.Loss.Median), percent(dry.Loss.P80.Low), percent(dry.Loss.P80.High))
	fmt.Println("reached in the room:", dry.Reached)
	// Output:
	// 30.25 % for the ratio
	// 39 % for the water activity, likely 34 to 42
	// reached in the room: yes
}

// What is a piece of lean, fat and salt made of when it has lost a third?
func ExampleMakeupOf() {
	m, err := drying.MakeupOf(wateractivity.TypicalMix(), quantity.MustLossPercent(33))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("moisture %.0f %%, protein %.0f %%, salt %.1f %%\n", m.Moisture.Percent(), m.Protein.Percent(), m.Salt.Percent())
	// (55.5 - 33)/67, 14.2/67, 2.7/67
	// Output: moisture 34 %, protein 21 %, salt 4.0 %
}
