package fermentation_test

import (
	"fmt"
	"time"

	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// My chamber was at 24 °C for 10 h, at 30 °C for 10 h and then at 37 °C until
// the meter showed 5.3, after 38 h. Was that fast enough in Canada? (The worked
// example of the Canadian manual: 84 + 144 + 385.2 = 613.2.)
func ExampleDegreeHours() {
	answer, err := fermentation.DegreeHours(fermentation.Course{
		Steps: []fermentation.Step{
			{Temperature: quantity.MustCelsius(24), Span: 10 * time.Hour},
			{Temperature: quantity.MustCelsius(30), Span: 10 * time.Hour},
			{Temperature: quantity.MustCelsius(37), Span: 18 * time.Hour},
		},
		PHReadings: []fermentation.PHReading{{At: 0, PH: quantity.MustPH(5.7)}, {At: 38 * time.Hour, PH: quantity.MustPH(5.3)}},
		Rulebook:   rulebook.Canada,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range answer.Findings {
		if f.LimitID == answer.Deciding {
			fmt.Println(f.Status, f.Measured.Value, f.Limit.Comparator, f.Limit.Value)
			fmt.Println(f.Remedy)
		}
	}
	// Output:
	// not-met 613.2 °C h < 555 °C h
	// Hold the lot and ask the authority; cooking does not undo it. The next one must be at pH 5.3 in less than 25.9 h at 37 °C, or be cooler.
}

// It is at 75 °F since 30 h, and I want to go to 85 °F. How long has the acid?
// (450 of 1200 °F h are used: 750/15 and 750/25 h.)
func ExampleDegreeHours_timeLeft() {
	answer, err := fermentation.DegreeHours(fermentation.Course{
		Steps:       []fermentation.Step{{Temperature: quantity.MustFahrenheit(75), Span: 30 * time.Hour}},
		PHReadings:  []fermentation.PHReading{{At: 30 * time.Hour, PH: quantity.MustPH(5.6)}},
		Thermometer: new(quantity.TemperatureDelta{}), // checked in ice water
		Planned:     quantity.MustFahrenheit(85),
		Rulebook:    rulebook.UnitedStates,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	sum := answer.Sums[0]
	fmt.Println(answer.Findings[0].Status, sum.Set.ID, *sum.AtPresent.Left, *sum.AtPlanned.Left)
	// Output: not-shown degf-60 50h0m0s 30h0m0s
}

// How long may I ferment at 85 °F, and at 32.5 °C?
func ExampleLongestAt() {
	fahrenheit, _ := rulebook.DegreeHourSetByID("degf-60")
	celsius, _ := rulebook.DegreeHourSetByID("degc-15.6")
	warm := fermentation.LongestAt(fahrenheit, quantity.MustFahrenheit(85))
	edge := fermentation.LongestAt(celsius, quantity.MustCelsius(32.5))
	fmt.Println(warm.Time.Round(time.Minute), warm.By)
	fmt.Println(edge.Time.Round(time.Minute), edge.By) // 90.5 °F, where the hotter class begins at 90
	// Output:
	// 48h0m0s degf-60
	// 32h47m0s degf-60
}

// Which times must I keep below at the usual temperatures?
func ExampleLongestTable() {
	fahrenheit, _ := rulebook.DegreeHourSetByID("degf-60")
	for _, row := range fermentation.LongestTable(fahrenheit)[2:6] {
		fmt.Printf("%.0f °F: %.1f h, %s\n", row.Temperature.Fahrenheit(), row.Time.Hours(), row.Class.Printed)
	}
	// Output:
	// 75 °F: 80.0 h, less than 1200
	// 80 °F: 60.0 h, less than 1200
	// 85 °F: 48.0 h, less than 1200
	// 90 °F: 33.3 h, less than 1000
}

// What is done with a lot that was warm too long?
func ExampleFailedLot() {
	for _, note := range fermentation.FailedLot()[:1] {
		fmt.Println(note.Text)
	}
	// Output: Hold the lot and notify the authority, whatever the excess: it decides what becomes of the lot.
}
