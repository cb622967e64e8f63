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

// My thermometer was off from the second hour to the fifth. What is taken for that
// time, and what does it show? (26 °C are 10.4 °C above the base: 8.4, 3 * 10.4 and
// 10.4.)
func ExampleDegreeHours_gap() {
	reading := func(hour int, celsius float64) fermentation.Reading {
		return fermentation.Reading{At: time.Duration(hour) * time.Hour, Temperature: quantity.MustCelsius(celsius)}
	}
	answer, err := fermentation.DegreeHours(fermentation.Course{
		Log:        []fermentation.Reading{reading(0, 24), reading(1, 24), reading(4, 26), reading(5, 26)},
		PHReadings: []fermentation.PHReading{{At: 5 * time.Hour, PH: quantity.MustPH(5.2)}},
		Rulebook:   rulebook.Canada,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	sum := answer.Sums[1]
	fmt.Println(answer.Findings[1].Status, sum.DegreeHours, "or", sum.Joined, "joined")
	for _, gap := range answer.Gaps {
		fmt.Println(gap.From, "to", gap.To, "taken as", gap.Temperature, "adds", gap.Adds[1])
	}
	// Output:
	// not-shown 50 °C h or 47 °C h joined
	// 1h0m0s to 4h0m0s taken as 26 °C adds 3 °C h
}

// How long may I ferment at 30 °C, by each rule and by its printed table?
func ExampleAtConstant() {
	longest, err := fermentation.AtConstant(quantity.MustCelsius(30))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, rule := range longest.ByRule {
		fmt.Printf("%s: %.2f h, printed %.1f\n", rule.By, rule.Time.Hours(), rule.Printed.Hours())
	}
	fmt.Printf("less than %.2f h\n", longest.Shorter.Time.Hours())
	// Output:
	// degf-60: 46.15 h, printed 46.0
	// degc-15.6: 46.18 h, printed 46.2
	// less than 46.15 h
}
