package moisture_test

import (
	"fmt"
	"time"

	"greenweight/domain/material"
	"greenweight/domain/moisture"
	"greenweight/domain/quantity"
	"greenweight/domain/wateractivity"
)

// A salami of 55 mm hangs at 13 °C and 78 percent. How wet are its rim and its core
// after a month?
func ExampleSimulate() {
	piece := moisture.Piece{
		Shape: moisture.Cylinder, Thickness: quantity.MustMillimetres(55), Casing: moisture.Natural, Mix: wateractivity.TypicalMix(),
	}
	air := moisture.Air{Temperature: quantity.MustCelsius(13), Humidity: quantity.MustHumidityPercent(78), Speed: quantity.MustMetresPerSecond(0.15)}
	month := 30 * 24 * time.Hour
	course, err := moisture.Simulate(piece, []moisture.Step{{For: month, Air: air}}, []time.Duration{month})
	if err != nil {
		fmt.Println(err)
		return
	}
	at := course.Points[0]
	fmt.Printf("%.0f %% lost, %.0f %% of water in the outer third and %.0f %% further in\n",
		at.Loss.Percent(), at.RimMoisture.Percent(), at.CoreMoisture.Percent())
	// Output: 31 % lost, 30 % of water in the outer third and 41 % further in
}

// When has it lost 30 percent, as far as that can be told before it is weighed?
func ExampleProject() {
	f, err := moisture.Project(moisture.Order{
		Piece: moisture.Piece{
			Shape: moisture.Cylinder, Thickness: quantity.MustMillimetres(55), Casing: moisture.Natural, Mix: wateractivity.TypicalMix(),
		},
		Schedule: []moisture.Step{{For: 120 * 24 * time.Hour, Air: moisture.Air{
			Temperature: quantity.MustCelsius(13), Humidity: quantity.MustHumidityPercent(78), Speed: quantity.MustMetresPerSecond(0.15),
		}}},
		Target: moisture.Target{Loss: material.Is(quantity.MustLossPercent(30))},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	day, _ := f.ByLoss.Get()
	fmt.Printf("day %.0f, in 80 of 100 cases between %.0f and %.0f\n", day.Median.Hours()/24, day.P80.Low.Hours()/24, day.P80.High.Hours()/24)
	// Output: day 27, in 80 of 100 cases between 21 and 48
}

// A bag is sold with 5000 g/(m² day), tested at 38 °C with 50 percent of difference.
// What does it let through in a refrigerator?
func ExampleMembrane_Permeance() {
	bag := moisture.Membrane{
		Transmission: quantity.MustGramsPerSquareMetreDay(5000), TestTemperature: quantity.MustCelsius(38), TestDifference: quantity.MustPercent(50),
	}
	p, err := bag.Permeance()
	fmt.Printf("%.2g kg/(m² s Pa) %v\n", p.KilogramsPerSquareMetreSecondPascal(), err)
	// Output: 1.7e-08 kg/(m² s Pa) <nil>
}

// Which diffusivity is taken for 25 percent of fat?
func ExampleEstimatedDiffusivity() {
	d, err := moisture.EstimatedDiffusivity(quantity.MustPercent(25))
	fmt.Println(d, err)
	// Output: 4.1625e-11 m²/s <nil>
}
