package acidity

import (
	"math"
	"testing"

	"greenweight/domain/acidification"
	"greenweight/integration/backtest/scoring"
)

// The real projection answers every case of the invented file and of some
// computed lots with quantiles in order and bands that go with them.
func TestTheProjectionAnswers(t *testing.T) {
	t.Parallel()
	all, _, err := readFile(inventedFile)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range makeCases(append(all, computed(11, 4)...)) {
		f := c.question.project(ours, acidification.Project)
		if f.Refused != "" || f.Bands == nil || len(f.Quantiles) != scoring.Levels {
			t.Fatalf("%s, %d readings: want a distribution, got %+v", c.course.id, len(c.question.seen), f)
		}
		for i := 1; i < scoring.Levels; i++ {
			if f.Quantiles[i] < f.Quantiles[i-1] {
				t.Fatalf("%s: quantile %d is below the one before", c.course.id, i)
			}
		}
		// The 10 and the 90 percent quantile lie between the two next to them.
		for _, end := range []struct {
			hour float64
			at   int
		}{{f.Bands[1].Low, scoring.Levels / 10}, {f.Bands[1].High, scoring.Levels - scoring.Levels/10}} {
			if end.hour < f.Quantiles[end.at-1]-1e-6 || end.hour > f.Quantiles[end.at]+1e-6 {
				t.Errorf("%s: want an end of the 80 percent band between %v and %v, got %v", c.course.id, f.Quantiles[end.at-1], f.Quantiles[end.at], end.hour)
			}
		}
		never := 0
		for _, q := range f.Quantiles {
			never += count(math.IsInf(q, 1))
		}
		near(t, c.course.id+": never among the quantiles", f.Never, float64(never)/scoring.Levels, 0.01)
	}
}
