package fermentation_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
)

// What is added ahead is what it comes to once it has happened.
func TestAheadIsWhatItComesTo(t *testing.T) {
	t.Parallel()
	step := rapid.Custom(func(t *rapid.T) fermentation.Step {
		return fermentation.Step{
			Temperature: quantity.MustCelsius(rapid.Float64Range(5, 45).Draw(t, "°C")),
			Span:        time.Duration(rapid.IntRange(1, 3000).Draw(t, "minutes")) * time.Minute,
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		before := rapid.SliceOfN(step, 1, 4).Draw(t, "before")
		ahead := rapid.SliceOfN(step, 1, 4).Draw(t, "ahead")
		first, err := fermentation.DegreeHours(fermentation.Course{Steps: before})
		if err != nil {
			t.Fatal(err)
		}
		for n := range ahead {
			whole, err := fermentation.DegreeHours(fermentation.Course{Steps: append(before[:len(before):len(before)], ahead[:n+1]...)})
			if err != nil {
				t.Fatal(err)
			}
			for i, s := range first.Sums {
				want, got := whole.Sums[i].DegreeHours.CelsiusHours(), s.Ahead(ahead)[n].CelsiusHours()
				if math.Abs(want-got) > 1e-6*(1+want) {
					t.Fatalf("%s: want %v, got %v", s.Set.ID, want, got)
				}
			}
		}
	})
}
