package drydown

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
)

// groupOf returns cases of a series that all happened on day 100, where the
// projection told ours, with an 80 % band of half to times it, and the five
// simple methods told theirs.
func groupOf(s *series, theirs [5]float64, times float64, ours ...float64) []*oneCase {
	var cases []*oneCase
	for _, day := range ours {
		c := &oneCase{series: s, stage: stages()[0], truth: 100, question: question{seen: []point{{10, 10}}, target: 30}}
		for _, model := range []string{"projection", oursReached, oursUnfitted} {
			f := forecast{Model: model, Median: day, Bands: &[3]band{{day, day}, {day / 2, day * times}, {day / 3, day * times * 2}}, Quantiles: []float64{day}}
			if math.IsInf(day, 1) {
				f.Bands[1].Low, f.Bands[2].Low = 50, 40
			}
			c.forecasts = append(c.forecasts, f)
		}
		for i, b := range baselines() {
			c.forecasts = append(c.forecasts, forecast{Model: b.name, Median: theirs[i]})
		}
		for _, f := range c.forecasts {
			c.scores = append(c.scores, judge(f, c.truth, 10))
		}
		cases = append(cases, c)
	}
	return cases
}

func judgedOf(cases []*oneCase) report {
	return newReport(Options{}, nil, []series{*cases[0].series}, cases, nil)
}

// What a projection must do, one condition at a time: eight of ten bands hold,
// the errors are 10 % where the best of the simple methods has 15.
func TestFloorAndGoal(t *testing.T) {
	t.Parallel()
	sausage := &series{study: "A"}
	five := [5]float64{50, 60, 70, 85, 130}
	good := []float64{90, 110, 90, 110, 90, 110, 90, 110, 49, 49} // 100 is in half to twice but for 49
	never := math.Inf(1)
	for _, c := range []struct {
		name        string
		theirs      [5]float64
		ours        []float64
		floor, goal string // what is missed, in part
	}{
		{"all held", [5]float64{50, 60, 70, 75, 150}, good, "", ""}, // error 18.2 against 25: 73 %, but above 12
		{"one simple method is nearer", five, good, "that of Page", ""},
		{"equal is not nearer", [5]float64{10, 10, 10, 110, 10}, []float64{110}, "that of Page", ""},
		{"bands hold too often", five, good[:8], "80 % bands hold", ""},
		{"bands hold too seldom", five, []float64{90, 49, 49}, "80 % bands hold", ""},
		{"never counts as 100 %", [5]float64{50, 60, 70, 79, 130}, append([]float64{never, never}, good[:8]...), "that of Page", ""}, // 28 against 21
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := judgedOf(groupOf(sausage, c.theirs, 2, c.ours...))
			if r.Judged[0].Group != groupSausage {
				t.Fatalf("want fermented sausage to be judged, got %+v", r.Judged)
			}
			var missed []string
			for _, condition := range r.Judged[0].Conditions {
				if !condition.Goal && !condition.Held {
					missed = append(missed, condition.What)
				}
			}
			if got := strings.Join(missed, "; "); c.floor == "" && got != "" || !strings.Contains(got, c.floor) {
				t.Errorf("want missed %q, got %q", c.floor, got)
			}
		})
	}
	// Error 10 % against 15: at most 12, and 67 % of the best.
	for _, c := range judgedOf(groupOf(sausage, five, 2, good[:8]...)).Judged[0].Conditions {
		if c.Goal && !c.Held {
			t.Errorf("want the goal held, got %+v", c)
		}
	}
	// Against 13 it is 77 %; and 14 is above 12 whatever the others do.
	for _, r := range []report{
		judgedOf(groupOf(sausage, [5]float64{50, 60, 70, 87, 130}, 2, good[:8]...)), judgedOf(groupOf(sausage, [5]float64{1, 1, 1, 1, 1}, 2, 86)),
	} {
		missed := 0
		for _, c := range r.Judged[0].Conditions {
			if c.Goal && !c.Held {
				missed++
			}
		}
		if missed != 1 {
			t.Errorf("want one of the goals missed, got %+v", r.Judged[0].Conditions)
		}
	}
}

// Analogues are held to two things only, and a group without cases shows
// nothing.
func TestRequiredFloor(t *testing.T) {
	t.Parallel()
	five := [5]float64{50, 60, 70, 75, 150}
	good := []float64{90, 110, 90, 110, 90, 110, 90, 110, 49, 49}
	sausage, analogue := &series{study: "A"}, &series{study: "B", analogue: true}
	drawn := &series{study: "C", synthetic: true, drawn: true}
	both := func(sausages, analogues []*oneCase) error {
		cases := slices.Concat(sausages, analogues, groupOf(drawn, five, 2, good...))
		return newReport(Options{}, nil, []series{*sausage, *analogue, *drawn}, cases, nil).missedFloor()
	}
	if err := both(groupOf(sausage, five, 2, good...), groupOf(analogue, five, 2, 190, 190, 190, 40, 40)); err != nil {
		t.Errorf("sausage near and analogues in three of five bands: want it held, got %v", err)
	}
	narrow := both(groupOf(sausage, five, 2, good...), groupOf(analogue, five, 2, 190, 40))
	if !errors.Is(narrow, errFloor) || !strings.Contains(narrow.Error(), "analogues: 80 % bands hold at the stage where they hold least, 50.0") {
		t.Errorf("analogues in one of two bands: want the floor missed there, got %v", narrow)
	}
	// Two of two at one stage do not make up for one of two at another.
	other := groupOf(analogue, five, 2, 110, 110)
	for _, c := range other {
		c.stage = stages()[1]
	}
	if err := both(groupOf(sausage, five, 2, good...), slices.Concat(groupOf(analogue, five, 2, 190, 40), other)); !errors.Is(err, errFloor) {
		t.Errorf("analogues narrow at one stage: want the floor missed, got %v", err)
	}
	broken := groupOf(analogue, five, 2, 190)
	broken[0].forecasts[0].Bands[0].Low = math.NaN()
	if err := both(groupOf(sausage, five, 2, good...), broken); !errors.Is(err, errFloor) || !strings.Contains(err.Error(), "good order") {
		t.Errorf("a band that is no number: want the floor missed, got %v", err)
	}
	if err := judgedOf(groupOf(sausage, five, 2, good...)).missedFloor(); !errors.Is(err, errFloor) || !strings.Contains(err.Error(), "analogues: no case") {
		t.Errorf("no analogues: want nothing shown, got %v", err)
	}
}

func TestInOrder(t *testing.T) {
	t.Parallel()
	answer := func(change func(*forecast)) forecast {
		f := forecast{Median: 10, Bands: &[3]band{{9, 11}, {8, 12}, {7, math.Inf(1)}}, Quantiles: []float64{8, 10, 10, 12}}
		change(&f)
		return f
	}
	if !answer(func(*forecast) {}).inOrder() {
		t.Error("want an answer in order, never at its end")
	}
	for name, change := range map[string]func(*forecast){
		"refused":             func(f *forecast) { f.Refused = "why" },
		"no bands":            func(f *forecast) { f.Bands = nil },
		"a median outside":    func(f *forecast) { f.Median = 13 },
		"a band in a band":    func(f *forecast) { f.Bands[1].Low = 6 },
		"no time at all":      func(f *forecast) { f.Bands[2].Low = 0 },
		"quantiles that fall": func(f *forecast) { f.Quantiles[2] = 9 },
		"not a number":        func(f *forecast) { f.Quantiles[0] = math.NaN() },
		"no quantiles":        func(f *forecast) { f.Quantiles = nil },
	} {
		if answer(change).inOrder() {
			t.Errorf("%s: want it out of order", name)
		}
	}
}
