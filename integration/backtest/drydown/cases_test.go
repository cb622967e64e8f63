package drydown

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestReached(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		points []point
		loss   float64
		want   float64 // +Inf: not reached
	}{
		{"on a point", []point{{0, 0}, {4, 8}, {8, 12}}, 12, 8},
		{"between points", []point{{0, 0}, {4, 8}, {8, 12}}, 9, 5},
		{"before the first", []point{{4, 8}, {8, 12}}, 2, 1},
		{"the first time of two", []point{{0, 0}, {4, 8}, {6, 7}, {8, 12}}, 7.5, 3.75},
		{"never", []point{{0, 0}, {4, 8}}, 9, math.Inf(1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, reached := series{points: c.points}.reached(c.loss)
			if reached == math.IsInf(c.want, 1) {
				t.Fatalf("want reached on day %v, got %v, %v", c.want, got, reached)
			}
			if reached {
				near(t, "day", c.want, got, 1e-12)
			}
		})
	}
}

// Of a target of 100 points the loss is its own share in percent. (The reader
// allows no such loss; the arithmetic does.)
func TestPrefix(t *testing.T) {
	t.Parallel()
	s := stages()
	for _, c := range []struct {
		name   string
		points []point
		st     stage
		want   int
	}{
		{"the nearest", []point{{0, 0}, {1, 20}, {2, 28}, {3, 35}, {4, 100}}, s[0], 3},
		{"of two as near the earlier", []point{{0, 0}, {1, 25}, {2, 35}, {3, 100}}, s[0], 2},
		{"the lower bound is in", []point{{0, 0}, {1, 15}, {3, 100}}, s[0], 2},
		{"below it is out", []point{{0, 0}, {1, 14.9}, {3, 100}}, s[0], 0},
		{"the upper bound is out", []point{{0, 0}, {1, 37.5}, {3, 100}}, s[0], 0},
		{"and in the next", []point{{0, 0}, {1, 37.5}, {3, 100}}, s[1], 2},
		{"the bound of the last", []point{{0, 0}, {1, 52.5}, {3, 100}}, s[2], 2},
		{"its end", []point{{0, 0}, {1, 75}, {3, 100}}, s[2], 0},
		{"not after the target", []point{{0, 0}, {1, 60}, {3, 100}, {4, 61}}, s[2], 2},
		{"after a gain", []point{{0, 0}, {1, 31}, {2, 30}, {3, 100}}, s[0], 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			truth, _ := series{points: c.points}.reached(100)
			if got := prefix(c.points, 100, truth, c.st); got != c.want {
				t.Errorf("want %d points, got %d", c.want, got)
			}
		})
	}
}

func TestGoals(t *testing.T) {
	t.Parallel()
	points := []point{{0, 0}, {1, 10}, {2, 9}, {3, 20}}
	losses := func(goals []goal) []float64 {
		var all []float64
		for _, g := range goals {
			all = append(all, g.loss)
		}
		return all
	}
	for _, c := range []struct {
		name  string
		named []goal
		every bool
		want  []float64
	}{
		{"the highest", nil, false, []float64{20}},
		{"those named", []goal{{loss: 15}}, false, []float64{15}},
		{"every new highest", nil, true, []float64{10, 20}},
		{"every, and those named once", []goal{{loss: 20}, {loss: 15}}, true, []float64{20, 15, 10}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if d := cmp.Diff(c.want, losses(series{points: points, named: c.named}.goals(c.every))); d != "" {
				t.Errorf("goals (-want +got):\n%s", d)
			}
		})
	}
	if got := (series{points: []point{{0, 0}, {1, -1}}}).goals(true); len(got) != 0 {
		t.Errorf("a course that only gains: want no goal, got %v", got)
	}
}

func TestMakeCases(t *testing.T) {
	t.Parallel()
	told := 30.0
	all := []series{
		{id: "a", points: []point{{0, 0}, {2, 6}, {4, 12}, {10, 20}}},                                        // 30 and 60 %
		{id: "b", points: []point{{0, 0}, {5, 18}, {8, 22}}, named: []goal{{40, &told}}},                     // 45 and 55 %
		{id: "c", points: []point{{0, 0}, {5, 18}}},                                                          // one interval
		{id: "d", points: []point{{0, 0}, {1, 4}, {5, 20}, {9, 21}}, named: []goal{{loss: 9}, {loss: 19.5}}}, // 44 %; 21 %
	}
	cases, missing, err := makeCases(all, false)
	if err != nil {
		t.Fatal(err)
	}
	type made struct {
		ID            string
		Stage         float64
		Seen          int
		Target, Truth float64
	}
	var got []made
	for _, c := range cases {
		got = append(got, made{c.series.id, c.stage.Share, len(c.question.seen), c.question.target, c.truth})
	}
	want := []made{
		{"a", 30, 1, 20, 10}, {"a", 60, 2, 20, 10},
		{"b", 45, 1, 40, 30}, {"b", 60, 2, 40, 30},
		{"d", 45, 1, 9, 2.25}, {"d", 30, 1, 19.5, 4.875},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("cases (-want +got):\n%s", d)
	}
	s := stages()
	if missing[s[0]] != 3 || missing[s[1]] != 3 || missing[s[2]] != 3 {
		t.Errorf("want 3 targets missing at each stage, got %v", missing)
	}

	_, _, err = makeCases([]series{{id: "x", file: "f", points: []point{{0, 0}, {1, 5}}, named: []goal{{loss: 9}}}}, false)
	if err == nil || !strings.HasPrefix(err.Error(), `f: id "x": the target of 9 percent is not reached`) {
		t.Errorf("a target beyond the course: want an error that names it, got %v", err)
	}
}
