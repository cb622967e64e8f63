package drying_test

import (
	"fmt"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/quantity"
)

// Two pieces hung in a room and two in a refrigerator, each weighed when it had
// lost about a fifth. Does the refrigerator take longer? (Invented pieces.)
func ExampleCompareTrial() {
	stuffed := time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)
	piece := func(name string, day int, grams float64) drying.TrialPiece {
		return drying.TrialPiece{Name: name, Green: quantity.MustGrams(1000), Stuffed: stuffed, WeighIns: []drying.WeighIn{
			{At: stuffed.AddDate(0, 0, day), Weight: quantity.MustGrams(grams)},
		}}
	}
	c, err := drying.CompareTrial(drying.Trial{Courses: []drying.TrialCourse{
		{Name: "room", Pieces: []drying.TrialPiece{piece("one", 20, 800), piece("two", 20, 790)}},
		{Name: "refrigerator", Pieces: []drying.TrialPiece{piece("one", 40, 800), piece("two", 40, 795)}},
	}})
	if err != nil {
		fmt.Println(err)
		return
	}
	times, _ := c.Against[0].Time.Get()
	fmt.Printf("%.2f times as long, 95 %%: %.2f to %.2f\n", times.Mid.Float(), times.P95.Low.Float(), times.P95.High.Float())
	fmt.Println("its times are", c.Against[0].Slower)
	// Output:
	// 2.02 times as long, 95 %: 1.70 to 2.41
	// its times are higher
}
