package acidification_test

import (
	"fmt"
	"time"

	"greenweight/domain/acidification"
	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// When will the pH be 5.3, and before when must it have been read? At 22 °C the
// limit of 1200 °F h is reached after 1200/(71.6 - 60) = 103.4 h; a thermometer
// that reads half a degree too low, 0.9 °F, leaves 96 h.
func ExampleProject() {
	sakei, _ := rulebook.CultureByKey("latilactobacillus-sakei")
	p, err := acidification.Project(acidification.Order{
		Course: fermentation.Course{
			Steps: []fermentation.Step{{Temperature: quantity.MustCelsius(22), Span: 24 * time.Hour}},
			PHReadings: []fermentation.PHReading{
				{At: 0, PH: quantity.MustPH(5.8)},
				{At: 14 * time.Hour, PH: quantity.MustPH(5.7)},
				{At: 24 * time.Hour, PH: quantity.MustPH(5.45)},
			},
			Rulebook: rulebook.UnitedStates,
		},
		Cultures: []rulebook.CultureSpecies{sakei},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	first := p.To[0]
	fmt.Println(first.Outcome, "in the next twelve hours:", first.Median > 24*time.Hour && first.Median < 36*time.Hour)
	fmt.Printf("limit after %.1f h, %.1f h with that thermometer\n", first.Limits[0].Reached.Hours(), first.Limits[0].Cautious.Hours())
	fmt.Printf("read 5.3 before %.1f h\n", p.Advice.By.Hours())
	// Output:
	// projected in the next twelve hours: true
	// limit after 103.4 h, 96.0 h with that thermometer
	// read 5.3 before 96.0 h
}
