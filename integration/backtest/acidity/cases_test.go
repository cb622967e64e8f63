package acidity

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func hourly(ph ...float64) []reading {
	readings := make([]reading, len(ph))
	for i, v := range ph {
		readings[i] = reading{float64(i), v}
	}
	return readings
}

func TestMakeCases(t *testing.T) {
	t.Parallel()
	late := truth{After: 99, By: 99, Point: 99}
	for _, c := range []struct {
		name     string
		origin   origin
		truth    truth
		readings []reading
		want     []int // readings shown
		early    []int // of those the early ones
	}{
		{"to the last above", originSausage, late, hourly(5.8, 5.8, 5.7, 5.6, 5.45, 5.2), []int{1, 2, 3, 4, 5}, []int{4}},
		{"a reading at the target ends it", originSausage, late, hourly(5.8, 5.3, 5.6), []int{1}, []int{1}},
		{"never shown: the last", originSausage, late, hourly(5.8, 5.6, 5.4, 5.45), []int{1, 2, 3}, []int{2}},
		{"computed: all", originGrowth, late, hourly(5.8, 5.6, 5.45, 5.45), []int{1, 2, 3, 4}, []int{2}},
		{
			"not every count", originGrowth, late, hourly(5.9, 5.9, 5.9, 5.9, 5.9, 5.8, 5.8, 5.8, 5.8, 5.8, 5.7, 5.7, 5.7, 5.6, 5.4, 5.35, 5.32, 5.31, 5.2),
			[]int{1, 2, 3, 4, 6, 8, 12, 14, 16, 18}, []int{14},
		},
		{"below 5.5 from the start", originGrowth, late, hourly(5.45, 5.4, 5.2), []int{1, 2}, nil},
		{"not after the truth", originGrowth, truth{After: 1.5, By: 1.5, Point: 1.5}, hourly(5.6, 5.4, 5.4, 5.2), []int{1, 2}, []int{1}},
		{"one reading, and no end", originSausage, late, hourly(5.8), nil, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var seen, early []int
			for _, k := range makeCases([]course{{id: "a", origin: c.origin, truth: c.truth, readings: c.readings}}) {
				seen = append(seen, len(k.question.seen))
				if k.early {
					early = append(early, len(k.question.seen))
				}
			}
			if d := cmp.Diff(c.want, seen); d != "" {
				t.Errorf("readings shown (-want +got):\n%s", d)
			}
			if d := cmp.Diff(c.early, early); d != "" {
				t.Errorf("early cases (-want +got):\n%s", d)
			}
		})
	}
}

func TestEachCaseIsAtOneStage(t *testing.T) {
	t.Parallel()
	for n, want := range map[int]string{1: "1 reading", 2: "2 readings", 3: "3 readings", 4: "4 to 6 readings", 6: "4 to 6 readings", 7: "7 or more readings", 99: "7 or more readings"} {
		c := oneCase{question: question{seen: make([]reading, n)}}
		if got := c.stage().Name; got != want {
			t.Errorf("%d readings: want %q, got %q", n, want, got)
		}
	}
}

func TestDistinct(t *testing.T) {
	t.Parallel()
	if err := distinct([]course{{id: "a", file: "1"}, {id: "b", file: "2"}}); err != nil {
		t.Errorf("want no error, got %v", err)
	}
	err := distinct([]course{{id: "a", file: "1"}, {id: "a", file: "2"}})
	if err == nil || !strings.HasPrefix(err.Error(), `2: id "a" was read already, from 1`) {
		t.Errorf("want an error that names both files, got %v", err)
	}
}
