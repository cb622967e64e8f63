package finish_test

import (
	"fmt"
	"time"

	"greenweight/domain/finish"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// A lot of which the water activity of a dry rim alone was read: nothing is shown,
// and the fewest measurements that would complete a tree come first.
func ExampleCheck() {
	answer, err := finish.Check(finish.Order{
		Rulebooks: []rulebook.Jurisdiction{rulebook.EuropeanUnion}, Date: time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC),
		Activity: []finish.Sample[quantity.WaterActivity]{{Value: quantity.MustWaterActivity(0.85), Method: finish.ByMeter, Place: finish.Rim}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, tree := range answer.Trees {
		fmt.Println(tree.Rule.ID, tree.Status)
	}
	for _, n := range answer.Next {
		fmt.Println("measure", n.Measurement, "for", n.Trees[0].Tree)
	}
	// Output:
	// leistner not-shown
	// eu-listeria-2073 not-shown
	// measure ph for eu-listeria-2073
	// measure water-activity for eu-listeria-2073
}
