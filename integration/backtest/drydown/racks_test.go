package drydown

import (
	"math"
	"reflect"
	"testing"

	"greenweight/domain/drying"
	"greenweight/domain/quantity"
)

// Every rack has three to six pieces of one lot, all or two of which are weighed
// on the same days, and its day is that of its last piece, weighed or not.
func TestDrawnRacks(t *testing.T) {
	t.Parallel()
	bySpeed := func(_ lot, p piece) (course, error) {
		end := 60 / p.draught
		return course{days: []float64{0, end}, losses: []float64{0, 45}}, nil
	}
	racks, err := drawRacks(9, 40, bySpeed)
	if err != nil {
		t.Fatal(err)
	}
	again, err := drawRacks(9, 40, bySpeed)
	if err != nil || !reflect.DeepEqual(racks, again) {
		t.Errorf("want the same racks of the same seed, got %v", err)
	}
	pieces, weighed := map[int]int{}, map[bool]int{}
	for _, s := range racks {
		pieces[len(s.rack)]++
		n := 0
		for _, h := range s.rack {
			if len(h.seen) > 0 {
				n++
				if len(h.seen) != len(s.points) || h.seen[1].day != s.points[1].day {
					t.Errorf("%s: want the pieces weighed on the same days", s.id)
				}
			}
		}
		weighed[n == len(s.rack)]++
		if n != len(s.rack) && n != 2 {
			t.Errorf("%s: want all or two weighed, got %d of %d", s.id, n, len(s.rack))
		}
		mean := 0.0
		for _, h := range s.rack {
			if len(h.seen) > 0 {
				mean += h.seen[1].loss / float64(n)
			}
		}
		near(t, "mean of the first weigh-in", mean, s.points[1].loss, 1e-9)
		if !s.hangs() || !s.drawn || s.named[0].day == nil {
			t.Errorf("%s: want a drawn rack with its day, got %+v", s.id, s.named)
		}
	}
	if len(pieces) != 4 || len(weighed) != 2 {
		t.Errorf("want racks of 3 to 6 pieces, all or two weighed, got %v, %v", pieces, weighed)
	}
}

func TestTheLastPieceCounts(t *testing.T) {
	t.Parallel()
	days := []float64{40, 70, 50}
	k := -1
	one := func(lot, piece) (course, error) {
		k++
		return course{days: []float64{0, days[k%3]}, losses: []float64{0, 60}}, nil
	}
	for seed := range uint64(20) {
		k = -1
		racks, err := drawRacks(seed, 1, one)
		if err != nil {
			t.Fatal(err)
		}
		if s := racks[0]; len(s.rack) >= 3 {
			near(t, "day of the last piece", 70*s.named[0].loss/60, *s.named[0].day, 1e-9)
		}
	}
}

// A model sees of each piece what was weighed by the day of the case, an order
// for each, and none of a piece that nobody weighs; the simple methods tell the
// latest day of the pieces that are weighed.
func TestRackForecasts(t *testing.T) {
	t.Parallel()
	grams := quantity.MustGrams
	s := series{
		id: "r", study: "r", synthetic: true, drawn: true, facts: facts{green: grams(500)},
		rack: []hung{
			{grams(500), []point{{0, 0}, {4, 8}, {8, 14}, {12, 40}}}, {grams(700), []point{{0, 0}, {4, 6}, {8, 10}, {12, 40}}}, {green: grams(600)},
		},
		points: []point{{0, 0}, {4, 7}, {8, 12}, {12, 40}},
	}
	day := 30.0
	s.named = []goal{{30, &day}}
	cases, _, err := makeCases([]series{s}, true)
	if err != nil {
		t.Fatal(err)
	}
	if len(cases) != 2 { // 7 and 12 of 30 are 23 and 40 percent
		t.Fatalf("want cases at 30 and 45 percent, got %d", len(cases))
	}
	c := cases[1]
	var asked [][]drying.Order
	c.forecasts = c.question.rackForecasts(fake, func(all []drying.Order) (drying.Day, error) {
		asked = append(asked, all)
		return fakeRack(all)
	})
	if len(asked) != 2 || len(asked[0]) != 3 || len(asked[1]) != 3 {
		t.Fatalf("want three orders before and after weighing, got %d", len(asked))
	}
	for i, want := range []int{2, 2, 0} {
		if got := len(asked[1][i].WeighIns); got != want || len(asked[0][i].WeighIns) != 0 {
			t.Errorf("piece %d: want %d weigh-ins, got %d", i, want, got)
		}
		for _, w := range asked[1][i].WeighIns {
			if w.At.Sub(hanging) > spanOf(8) {
				t.Errorf("piece %d: a weigh-in of day %v is shown on day 8", i, daysOf(w.At.Sub(hanging)))
			}
		}
	}
	near(t, "green", 700, asked[1][1].Green.Grams(), 1e-9)
	// On lines through days 4 and 8: 16 points at 1.5 a day, and 20 at 1 a day.
	near(t, "straight line", 28, find(t, c.forecasts, straightLine).Median, 1e-9)
	near(t, "ours", 31, find(t, c.forecasts, ours).Median, 1e-9)
	// A piece that is there already waits for the others.
	c.question.rack[0].seen[1].loss = 31
	c.forecasts = c.question.rackForecasts(fake, fakeRack)
	near(t, "one is there", 28, find(t, c.forecasts, straightLine).Median, 1e-9)
	if !c.in(groupRacks) || c.in(groupDrawn) || math.IsInf(c.truth, 1) {
		t.Error("want the case among the racks alone")
	}
}
