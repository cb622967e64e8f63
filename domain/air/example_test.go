package air_test

import (
	"fmt"

	"greenweight/domain/air"
	"greenweight/domain/quantity"
)

// My room is at 13 °C and 75 percent. On a pipe of which temperature does water
// form?
func ExampleDewPoint() {
	dew, err := air.DewPoint(quantity.MustCelsius(13), quantity.MustHumidityPercent(75))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f °C\n", dew.Celsius())
	// Output: 8.7 °C
}

// How cold does the wet skin of a sausage get there?
func ExampleWetBulb() {
	wet, err := air.WetBulb(quantity.MustCelsius(13), quantity.MustHumidityPercent(75))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f °C\n", wet.Celsius())
	// Output: 10.6 °C
}

// How much more does the room draw from a sausage than a refrigerator of 4 °C at
// the same humidity?
func ExampleDryingDrive() {
	humidity, surface := quantity.MustHumidityPercent(75), quantity.MustWaterActivity(0.90)
	for _, celsius := range []float64{13, 4} {
		drive, err := air.DryingDrive(quantity.MustCelsius(celsius), humidity, surface)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%v °C: %.3f kPa\n", celsius, drive.Pressure.Kilopascals())
	}
	// Output:
	// 13 °C: 0.225 kPa
	// 4 °C: 0.122 kPa
}

// What is in the air of that room?
func ExampleAbsoluteHumidity() {
	vapour, err := air.AbsoluteHumidity(quantity.MustCelsius(13), quantity.MustHumidityPercent(75))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f g/m³\n", vapour.GramsPerMillilitre()*1e6)
	// Output: 8.5 g/m³
}

// A salami of 55 mm hangs at 13 °C and 78 percent in a slow draught. How much can
// it lose on its first day at most?
func ExampleDryingBound() {
	most, err := air.DryingBound(
		quantity.MustMillimetres(55), quantity.MustCelsius(13), quantity.MustHumidityPercent(78),
		quantity.MustWaterActivity(0.96), quantity.MustMetresPerSecond(0.15), quantity.MustGramsPerMillilitre(1.03),
	)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f %% of its weight\n", most.PercentPerDay())
	// Output: 6 % of its weight
}

// How well does the film of air on it let vapour through?
func ExampleFilmConductance() {
	film, err := air.FilmConductance(quantity.MustMillimetres(40), quantity.MustCelsius(13), quantity.MustMetresPerSecond(0.3))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f mm/s\n", film.MetresPerSecond()*1000)
	// Output: 8 mm/s
}

// What pressure has the vapour at 20 °C, when the air holds all it can and when it
// holds half of that?
func ExampleVapourPressure() {
	at := quantity.MustCelsius(20)
	all, err := air.SaturationPressure(at)
	if err != nil {
		fmt.Println(err)
		return
	}
	half, err := air.VapourPressure(at, quantity.MustHumidityPercent(50))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(all, half)
	// Output: 2.33919 kPa 1.1696 kPa
}

// I dry in a room at 13 °C and 75 percent. At which humidity does a refrigerator of
// 4 °C dry as strongly, and how much slower is it inside all the same?
func ExampleTell() {
	room, cold := quantity.MustHumidityPercent(75), quantity.MustHumidityPercent(75)
	a, err := air.Tell(air.Order{
		Places: []air.Place{
			{Name: "Room", Temperature: quantity.MustCelsius(13), Humidity: air.Humidity{Relative: &room}},
			{Name: "Refrigerator", Temperature: quantity.MustCelsius(4), Humidity: air.Humidity{Relative: &cold}},
		},
		Product: &air.Product{Surface: quantity.MustWaterActivity(0.90)},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	drive, other := a.States[0].Effect.Drive, a.Comparisons[0]
	fmt.Printf("the room draws %.2f kPa, %.2f to %.2f\n", drive.Value.Pressure.Kilopascals(), drive.Within.Low.Pressure.Kilopascals(), drive.Within.High.Pressure.Kilopascals())
	fmt.Printf("the refrigerator draws %.2f of it, and as much at %.0f %%\n", other.Drive.Value.Float(), other.Same.Humidity.Value.Percent())
	fmt.Printf("inside water moves %.2f times as fast\n", other.Diffusivity.Value.Float())
	// Output:
	// the room draws 0.22 kPa, 0.17 to 0.28
	// the refrigerator draws 0.54 of it, and as much at 62 %
	// inside water moves 0.66 times as fast
}

// My hygrometer shows 72 percent over wet salt at 20 °C. What does it lack?
func ExampleOverSalt() {
	should, err := air.OverSalt(air.SodiumChloride, quantity.MustCelsius(20))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f points\n", should.Percent()-72)
	// Output: 3.5 points
}

// How dry is the air of a refrigerator at 4 °C whose coil is iced at -5 °C?
func ExampleSaturationPressureOverIce() {
	coil, err := air.SaturationPressureOverIce(quantity.MustCelsius(-5))
	if err != nil {
		fmt.Println(err)
		return
	}
	full, err := air.SaturationPressure(quantity.MustCelsius(4))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f %%\n", 100*coil.Kilopascals()/full.Kilopascals())
	// Output: 49 %
}
