package drawing

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var comparePoints = cmp.AllowUnexported(point{})

func TestThinnedKeepsExtremes(t *testing.T) {
	t.Parallel()
	short := make([]point, mostPoints)
	if got := thinned(short); len(got) != mostPoints {
		t.Errorf("of %d points %d are left, want all", mostPoints, len(got))
	}
	for _, n := range []int{mostPoints + 1, 2999, 100_000} {
		line := make([]point, n)
		for i := range line {
			line[i] = point{float64(i), math.Sin(float64(i) * float64(i))}
		}
		line[n/3].y, line[n/2].y = 50, -50
		got := thinned(line)
		if len(got) > mostPoints || len(got) < mostPoints/2 {
			t.Errorf("%d of %d points", len(got), n)
		}
		if got[0] != line[0] || got[len(got)-1] != line[n-1] {
			t.Errorf("%d: the ends are %v and %v", n, got[0], got[len(got)-1])
		}
		found := 0
		for i, p := range got {
			if i > 0 && p.x <= got[i-1].x {
				t.Fatalf("%d: %v after %v", n, p, got[i-1])
			}
			if p != line[int(p.x)] {
				t.Fatalf("%d: %v is not of the line", n, p)
			}
			if p.y == 50 || p.y == -50 {
				found++
			}
		}
		if found != 2 {
			t.Errorf("%d: %d of two peaks are left", n, found)
		}
	}
}

func TestSplitAndAbove(t *testing.T) {
	t.Parallel()
	line := []point{{0, 0}, {2, 4}, {2, 6}, {4, 2}} // up to 4, a step to 6, down to 2
	tests := []struct {
		name          string
		x             float64
		before, after []point
	}{
		{"between two", 1, []point{{0, 0}, {1, 2}}, []point{{1, 2}, {2, 4}, {2, 6}, {4, 2}}},
		{"at a step", 2, []point{{0, 0}, {2, 4}, {2, 6}, {2, 6}}, []point{{2, 6}, {4, 2}}},
		{"at the end", 4, line, nil},
		{"past the end", 9, line, nil},
		{"before the start", -1, nil, line},
	}
	for _, tc := range tests {
		before, after := split(line, tc.x)
		if diff := cmp.Diff([][]point{tc.before, tc.after}, [][]point{before, after}, comparePoints); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tc.name, diff)
		}
	}
	heights := []struct {
		name   string
		height float64
		want   [][]point
	}{
		{"one hill", 2, [][]point{{{1, 2}, {2, 4}, {2, 6}, {4, 2}}}},
		{"its top, from the step down", 5, [][]point{{{2, 5}, {2, 6}, {2.5, 5}}}},
		{"nothing", 6, nil},
		{"all", -1, [][]point{line}},
	}
	for _, tc := range heights {
		if diff := cmp.Diff(tc.want, above(line, tc.height), comparePoints); diff != "" {
			t.Errorf("above %v, %s (-want +got):\n%s", tc.height, tc.name, diff)
		}
	}
	// A valley parts two hills.
	valley := above([]point{{0, 3}, {1, 1}, {2, 3}}, 2)
	if diff := cmp.Diff([][]point{{{0, 3}, {0.5, 2}}, {{1.5, 2}, {2, 3}}}, valley, comparePoints); diff != "" {
		t.Errorf("valley (-want +got):\n%s", diff)
	}
}

func TestTicks(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name      string
		low, high float64
		steps     []float64 // nil: round
		most      int
		want      []string
	}{
		{"two days of hours", 0, 50, hourSteps, 7, []string{"0", "12", "24", "36", "48"}},
		{"six hours", 0, 6, hourSteps, 7, []string{"0", "1", "2", "3", "4", "5", "6"}},
		{"a month", 0, 31, daySteps, 7, []string{"0", "7", "14", "21", "28"}},
		{"before hanging", -4, 10, daySteps, 8, []string{"−4", "−2", "0", "2", "4", "6", "8", "10"}},
		{"beyond the table", 0, 9000, daySteps, 7, []string{"0", "1456", "2912", "4368", "5824", "7280", "8736"}},
		{"round", 0, 1400, nil, 5, []string{"0", "500", "1000"}},
		{"tenths", 0, 0.9, nil, 5, []string{"0", "0.2", "0.4", "0.6", "0.8"}},
		{"about zero", -12, 18, nil, 4, []string{"−10", "0", "10"}},
	}
	for _, tc := range tests {
		a := axis{low: tc.low, high: tc.high}
		step := a.roundStep(tc.most)
		if tc.steps != nil {
			step = a.step(tc.steps, tc.most)
		}
		if diff := cmp.Diff(tc.want, figures(a, step)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tc.name, diff)
		}
	}
}

// Whether a line passes a box, by hand, with the box from 0,0 to 4,2.
func TestCrosses(t *testing.T) {
	t.Parallel()
	b := box{0, 0, 4, 2}
	tests := []struct {
		name     string
		from, to point
		want     bool
	}{
		{"inside", point{1, 1}, point{2, 1}, true},
		{"through", point{-1, 1}, point{5, 1}, true},
		{"down through", point{2, -5}, point{2, 5}, true},
		{"ends before", point{-3, 1}, point{-1, 1}, false},
		{"beside", point{-1, 3}, point{5, 3}, false},
		{"past the corner", point{-2, 1}, point{1, 4}, false},
		{"over the corner", point{-1, 1}, point{1, 3}, true},
		{"a point inside", point{1, 1}, point{1, 1}, true},
		{"a point outside", point{9, 1}, point{9, 1}, false},
	}
	for _, tc := range tests {
		if got := crosses(b, tc.from, tc.to); got != tc.want {
			t.Errorf("%s: want %v, got %v", tc.name, tc.want, got)
		}
		if got := crosses(b, tc.to, tc.from); got != tc.want {
			t.Errorf("%s, the other way: want %v, got %v", tc.name, tc.want, got)
		}
	}
}

func TestPlacerKeepsLabelsApart(t *testing.T) {
	t.Parallel()
	area := box{0, 0, 400, 100}
	p := placer{area: area}
	s := &scene{}
	for range 40 {
		p.place(s, "label", "label", small, ink, along(area.x0, area.x1, 50, small.width("label")))
	}
	// Seven places above the line and seven below; labels of 40 pixels do not touch
	// at steps of 58.
	if got := len(s.texts()); got != 14 {
		t.Errorf("%d labels, want 14", got)
	}
	if faults := laidOut(s); len(faults) > 0 {
		t.Error(faults)
	}
}
