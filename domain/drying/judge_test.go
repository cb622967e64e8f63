package drying_test

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

func doubtsOf(weighed []drying.Weighed) []string {
	doubts := make([]string, len(weighed))
	for i, w := range weighed {
		doubts[i] = w.Doubt
	}
	return doubts
}

// confirm returns the order with some of its weigh-ins confirmed.
func confirm(o drying.Order, which ...int) drying.Order {
	o.WeighIns = append([]drying.WeighIn(nil), o.WeighIns...)
	for _, i := range which {
		o.WeighIns[i].Confirmed = true
	}
	return o
}

func TestJudge(t *testing.T) {
	t.Parallel()
	const counts = ""
	for _, row := range []struct {
		name      string
		days      []float64
		losses    []float64
		confirmed []int
		want      []string
	}{
		{"none", nil, nil, nil, []string{}},
		{"all good", []float64{1, 3, 6}, []float64{4, 9, 15}, nil, []string{counts, counts, counts}},
		{"a gain of a point is a scale and damp air", []float64{1, 3}, []float64{5, 4.1}, nil, []string{counts, counts}},
		{"one slip", []float64{1, 3, 6, 9}, []float64{4, 1, 15, 19}, nil, []string{counts, drying.DoubtGain, counts, counts}},
		// In a day 60 points and 2 of weighing are possible: from 4 to 66 and not to 66.1.
		{"as fast as any air", []float64{1, 2}, []float64{4, 66}, nil, []string{counts, counts}},
		{"faster, and the next decides", []float64{1, 2, 3}, []float64{4, 66.1, 10}, nil, []string{counts, drying.DoubtTooFast, counts}},
		{"all the water of the leanest meat", []float64{2, 9}, []float64{10, 76}, nil, []string{counts, counts}},
		{"more", []float64{2, 9}, []float64{10, 76.1}, nil, []string{counts, drying.DoubtNoWater}},
		{"another unit", []float64{2, 9}, []float64{10, -1500}, nil, []string{counts, drying.DoubtUnit}},
		{"once more", []float64{1, 1, 3}, []float64{4, 4, 9}, nil, []string{counts, drying.NotRepeated, counts}},
		{"the green weight again", []float64{0, 3}, []float64{0, 9}, nil, []string{drying.NotDrying, counts}},

		{"a slip confirmed puts the others in doubt", []float64{1, 3, 6, 9}, []float64{4, 1, 15, 19}, []int{1}, []string{drying.DoubtTooFast, counts, counts, counts}},
		{"a gain confirmed is held against what follows", []float64{1, 3, 6}, []float64{10, 2, 0.5}, []int{1}, []string{drying.DoubtTooFast, counts, drying.DoubtGain}},
		{"another unit confirmed", []float64{2, 9, 12}, []float64{10, -1500, 20}, []int{1}, []string{drying.DoubtTooFast, counts, drying.DoubtTooFast}},
		{"more than all water confirmed", []float64{2, 9}, []float64{10, 80}, []int{1}, []string{counts, counts}},
		{"two confirmed that contradict each other", []float64{1, 3, 6}, []float64{20, 5, 15}, []int{0, 1}, []string{counts, counts, counts}},
		{"what lies between them goes with both or is out", []float64{1, 3, 5, 6}, []float64{10, 20, 11, 12}, []int{0, 3}, []string{counts, drying.DoubtTooFast, counts, counts}},
		{"confirmed and once more", []float64{1, 1, 3}, []float64{4, 4, 9}, []int{1}, []string{drying.NotRepeated, counts, counts}},
		{"confirmed twice", []float64{1, 1, 3}, []float64{4, 4, 9}, []int{0, 1}, []string{counts, drying.NotRepeated, counts}},
		{"confirmed green weight", []float64{0, 3}, []float64{0, 9}, []int{0}, []string{drying.NotDrying, counts}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			got, err := drying.Judge(confirm(order(35, row.days, row.losses), row.confirmed...))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(row.want, doubtsOf(got)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			for i, w := range got {
				if (w.Doubt == "") != (w.Why == "") {
					t.Errorf("weigh-in %d is %q because %q", i, w.Doubt, w.Why)
				}
			}
		})
	}
}

// Judge needs no target, room or present, and reports what is at fault with the
// rest as Project does.
func TestJudgeReadsTheWeighInsAlone(t *testing.T) {
	t.Parallel()
	o := order(35, []float64{1, 3}, []float64{4, 9})
	o.Target, o.AsOf = quantity.Loss{}, stuffed.Add(-time.Hour)
	if _, err := drying.Judge(o); err != nil {
		t.Errorf("want what is not read not to matter, got %v", err)
	}
	bad := drying.Order{Stuffed: stuffed, Hung: stuffed.Add(-time.Hour), WeighIns: []drying.WeighIn{
		{At: on(-1), Weight: quantity.MustGrams(1)}, {At: on(2), Weight: quantity.MustGrams(1)}, {At: on(1), Weight: quantity.MustGrams(1)},
		{At: on(2), Weight: quantity.MustGrams(2)},
	}}
	_, err := drying.Judge(bad)
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Invalid {
		t.Fatalf("want it refused, got %v", err)
	}
	var got []string
	for _, v := range f.Violations {
		got = append(got, v.Path.Pointer()+" "+v.Code)
	}
	want := []string{
		"#/green_weight minimum", "#/hung_at before-stuffing", "#/weigh_ins/0/at before-stuffing", "#/weigh_ins/2/at out-of-order",
		"#/weigh_ins/3/weight conflicting-instant",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// A weigh-in far from where the others lead is left out when it is the last, and
// not when it was confirmed.
func TestProjectBelievesWhatWasConfirmed(t *testing.T) {
	t.Parallel()
	o := room(order(35, []float64{3, 7, 12, 18}, []float64{6, 12, 17, 50}), 78)
	before := project(t, o)
	if got := before.Weighed[3].Doubt; got != drying.DoubtOffCurve {
		t.Fatalf("want the last in doubt, got %q", got)
	}
	after := project(t, confirm(o, 3))
	if diff := cmp.Diff([]string{"", "", "", ""}, doubtsOf(after.Weighed)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if after.Outcome != drying.AlreadyThere || after.Latest != 3 {
		t.Errorf("want it there by what was confirmed, got %v by %d", after.Outcome, after.Latest)
	}
	// The others are held against it: what it has gained on can't be.
	gained := project(t, confirm(room(order(35, []float64{3, 7, 12}, []float64{10, 4, 7}), 78), 1))
	if diff := cmp.Diff([]string{drying.DoubtTooFast, "", ""}, doubtsOf(gained.Weighed)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// Whatever is confirmed is never doubted.
func TestWhatIsConfirmedIsNeverDoubted(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := order(35, nil, nil)
		hours := 0
		for range rapid.IntRange(0, 12).Draw(t, "weigh-ins") {
			hours += rapid.IntRange(1, 150).Draw(t, "hours")
			g := rapid.OneOf(rapid.Float64Range(500, 1020), rapid.SampledFrom([]float64{0.001, 1, 35, 1e5, 1e9})).Draw(t, "grams")
			o.WeighIns = append(o.WeighIns, drying.WeighIn{
				At: stuffed.Add(time.Duration(hours) * time.Hour), Weight: quantity.MustGrams(g), Confirmed: rapid.IntRange(0, 2).Draw(t, "confirmed") == 2,
			})
		}
		judged, err := drying.Judge(o)
		if err != nil {
			t.Fatal(err)
		}
		for i, w := range judged {
			if w.Confirmed && w.Doubt != "" {
				t.Fatalf("weigh-in %d was confirmed, and is %q", i, w.Doubt)
			}
		}
	})
}

// However absurd it is what was confirmed, there is an answer, and it is of
// numbers.
func TestProjectWithAbsurdWeighInsConfirmed(t *testing.T) {
	t.Parallel()
	for _, grams := range []float64{0.001, 100, 1500, 1e5, 1e12} {
		for _, in := range []string{"any room", "a room"} {
			t.Run(fmt.Sprintf("%g g in %s", grams, in), func(t *testing.T) {
				t.Parallel()
				o := order(35, []float64{3, 7, 12}, []float64{6, 12, 17})
				if in == "a room" {
					o = room(o, 78)
				}
				o.WeighIns[1].Weight = quantity.MustGrams(grams)
				p := project(t, confirm(o, 1))
				if p.Weighed[1].Doubt != "" || p.Latest < 1 {
					t.Errorf("it was confirmed: %+v", p.Weighed)
				}
				for _, point := range append(append(p.Course, p.Fit...), p.Now) {
					for _, v := range []float64{point.Loss.Median.Percent(), point.Loss.P90.Low.Percent(), point.Loss.P90.High.Percent(), point.Rate.Median.PercentPerDay()} {
						if math.IsNaN(v) || math.IsInf(v, 0) {
							t.Fatalf("at %v: %+v", point.Since, point)
						}
					}
				}
			})
		}
	}
}

// Is it likely that the piece weighs 970 g again, after 940 g two days before?
func ExampleJudge() {
	judged, err := drying.Judge(drying.Order{
		Green: quantity.MustGrams(1000), Stuffed: stuffed,
		WeighIns: []drying.WeighIn{
			{At: on(2), Weight: quantity.MustGrams(960)}, {At: on(4), Weight: quantity.MustGrams(940)}, {At: on(6), Weight: quantity.MustGrams(970)},
		},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(judged[2].Doubt)
	// Output: gain
}
