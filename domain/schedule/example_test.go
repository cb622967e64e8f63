package schedule_test

import (
	"fmt"

	"greenweight/domain/formula"
	"greenweight/domain/rulebook"
	"greenweight/domain/schedule"
)

// Three days at 26 °C: by when must pH 5.3 have been read?
func ExampleCheck() {
	o, err := schedule.Check(schedule.Plan{
		Steps: []formula.Step{step(26, 92, 72)}, Rulebooks: []rulebook.Jurisdiction{rulebook.Canada},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range o.Findings {
		if f.LimitID == "degc-15.6" {
			fmt.Println(f.Status, f.Measured.Value, "of", f.Limit.Value)
			fmt.Println(f.Remedy)
		}
	}
	// Output:
	// not-met 748.8 °C h of 665 °C h
	// pH 5.3 must have been read in less than 63.9 h; in less than 61 h if the thermometer reads 0.5 °C too low. Plan it sooner, or go cooler.
}
