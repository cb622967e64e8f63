package drydown

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/drying"
	"greenweight/integration/backtest/scoring"
)

const inventedFile = "testdata/invented.json"

func TestReadOptions(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, args string
		want       Options
	}{
		{"one file", "--series a", Options{files: []string{"a"}, every: true, left: true, lots: 500, seed: 1907}},
		{"more after it", "--series a b c", Options{files: []string{"a", "b", "c"}, every: true, left: true, lots: 500, seed: 1907}},
		{"the flag again", "--series a --series b", Options{files: []string{"a", "b"}, every: true, left: true, lots: 500, seed: 1907}},
		{"the highest alone", "--series a --targets last", Options{files: []string{"a"}, left: true, lots: 500, seed: 1907}},
		{"a floor", "--series a --require-floor", Options{files: []string{"a"}, every: true, floor: true, left: true, lots: 500, seed: 1907}},
		{"no file", "--synthetic 12 --seed 3", Options{every: true, left: true, lots: 12, seed: 3}},
		{
			"flags between", "--json --series a --cases b --targets every --synthetic 0 --leave-one-out=false c",
			Options{files: []string{"a", "b", "c"}, json: true, cases: true, every: true, seed: 1907},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := ReadOptions(strings.Fields(c.args))
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(c.want, got, cmp.AllowUnexported(Options{})); d != "" {
				t.Errorf("options (-want +got):\n%s", d)
			}
		})
	}
	for _, args := range []string{"--synthetic 0", "--synthetic -1", "--synthetic 10001", "--series a --targets some", "--series a --unheard-of", "--series"} {
		if _, err := ReadOptions(strings.Fields(args)); err == nil || errors.Is(err, flag.ErrHelp) {
			t.Errorf("%q: want an error, got %v", args, err)
		}
	}
}

// The invented file has 5 series of 4 studies and a computed one of which every
// stage has a weigh-in, but for one of study D: its losses are 17, 36, 67 and 100
// percent of the highest.
func TestReport(t *testing.T) {
	t.Parallel()
	var stdout bytes.Buffer
	if err := Measure(Options{files: []string{inventedFile}, json: true}, &stdout, fakes); err != nil {
		t.Fatal(err)
	}
	var got report
	decoder := json.NewDecoder(&stdout)
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&got); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]stageCount{{30, 15, 37.5, 6, 0}, {45, 37.5, 52.5, 5, 1}, {60, 52.5, 75, 6, 0}}, got.Stages); d != "" {
		t.Errorf("stages (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]studyCount{
		{"Invented for this example A", []string{"invented-a1", "invented-a2"}, 6, false, false},
		{"Invented for this example B", []string{"invented-b1"}, 3, false, false},
		{"Invented for this example C", []string{"invented-c1"}, 3, false, false},
		{"Invented for this example D", []string{"invented-d1"}, 2, true, false},
		{"SYNTHETIC: invented for this example", []string{"invented-e1"}, 3, false, true},
	}, got.Studies); d != "" {
		t.Errorf("studies (-want +got):\n%s", d)
	}
	type size struct {
		Group          string
		Stage          float64
		Cases, Studies int
	}
	var sizes []size
	for _, s := range got.Summaries {
		stage := 0.0
		if s.Stage != nil {
			stage = *s.Stage
		}
		sizes = append(sizes, size{s.Group, stage, s.Rows[0].Cases, s.Rows[0].Studies})
		if len(s.Rows) != 13 {
			t.Errorf("%s at %v: want 13 rows, got %d", s.Group, stage, len(s.Rows))
		}
	}
	if d := cmp.Diff([]size{
		{groupSausage, 30, 3, 2}, {groupSausage, 45, 3, 2}, {groupSausage, 60, 3, 2}, {groupSausage, 0, 9, 2},
		{groupWeighed, 30, 4, 3}, {groupWeighed, 45, 4, 3}, {groupWeighed, 60, 4, 3}, {groupWeighed, 0, 12, 3},
		{groupAnalogues, 30, 1, 1}, {groupAnalogues, 60, 1, 1}, {groupAnalogues, 0, 2, 1},
		{groupComputed, 30, 1, 1}, {groupComputed, 45, 1, 1}, {groupComputed, 60, 1, 1}, {groupComputed, 0, 3, 1},
	}, sizes); d != "" {
		t.Errorf("summaries (-want +got):\n%s", d)
	}
	// At 30 % of the weighed series the fake tells 39.1, 35.7, 40.4 and 31.4 days
	// where it was 35, 35, 30 and 40: errors of 11.71, 2, 34.67 and -21.5 percent.
	ours := got.Summaries[4].Rows[0]
	near(t, "bias", (2+11.71)/2, *ours.MedianRelative, 0.01)
	near(t, "median", (11.71+21.5)/2, *ours.MedianAbs, 0.01)
	near(t, "mean", 17.47, *ours.MeanAbsRelative, 0.01)
	near(t, "counted", 17.47, ours.MeanError, 0.01)
	near(t, "by series", 17.47, ours.MeanBySeries, 0.01)               // one case each
	near(t, "90 %", 21.5+0.7*(34.67-21.5), *ours.P90AbsRelative, 0.01) // at 2.7 of 0..3 in order
	// Bands of 10, 20 and 30 percent around them hold the second; the first and the
	// second (the fourth does not: 31.4·1.2 < 40); all four.
	for i, want := range []int{1, 2, 4} {
		if got := ours.Coverage[i].Held; got != want {
			t.Errorf("band %d: want %d held, got %d", i, want, got)
		}
	}
	near(t, "80 % held by series", 50, ours.Coverage[1].BySeries, 1e-9)
	if ours.Before != 1 || ours.After != 1 { // 30 is before 32.3, 40 after 37.7
		t.Errorf("want one day before and one after the band, got %d and %d", ours.Before, ours.After)
	}
	// Each is 40 percent of the day told wide: 40 (39.1/35 + 35.7/35 + 40.4/30 + 31.4/40)/4.
	near(t, "width", 42.69, *ours.Width, 0.01)
	total := 0
	for _, n := range ours.PIT {
		total += n
	}
	if total != 4 {
		t.Errorf("want 4 cases in the histogram, got %v", ours.PIT)
	}
	line := got.Summaries[0].Rows[3]
	if line.Model != straightLine || *line.ToLine != 1 || line.ToLineBootstrap != nil || line.Coverage != nil {
		t.Errorf("want the straight line to be its own measure, got %+v", line)
	}
}

func TestEveryLossAsATarget(t *testing.T) {
	t.Parallel()
	count := func(every bool) int {
		all, _, err := readFile(inventedFile)
		if err != nil {
			t.Fatal(err)
		}
		cases, _, err := makeCases(all, every)
		if err != nil {
			t.Fatal(err)
		}
		return len(cases)
	}
	if last, every := count(false), count(true); every <= last {
		t.Errorf("want more cases than %d, got %d", last, every)
	}
}

func TestTextReport(t *testing.T) {
	t.Parallel()
	var stdout bytes.Buffer
	if err := Measure(Options{files: []string{inventedFile}, cases: true, left: true}, &stdout, fakes); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"7 entries in the files named", "1 skipped (1 of kind ph)", "FERMENTED SAUSAGE", "WITHOUT ANALOGUES", "ANALOGUES", "COMPUTED SERIES",
		"Lowest CRPS, fermented sausage:", "ONE STUDY LEFT OUT", "FLOOR AND GOAL", "NOT HELD", "invented-c1", "Palumbo, dressed",
	} {
		if !strings.Contains(strings.Join(strings.Fields(stdout.String()), " "), want) {
			t.Errorf("want %q in the text, got:\n%s", want, stdout.String())
		}
	}
}

// The real projection answers a case with a day and quantiles in order.
func TestTheProjectionAnswers(t *testing.T) {
	t.Parallel()
	all, _, err := readFile(inventedFile)
	if err != nil {
		t.Fatal(err)
	}
	cases, _, err := makeCases(all[:1], false)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range cases[1].question.forecasts(drying.Project)[:2] {
		if f.Refused != "" || f.Bands == nil || len(f.Quantiles) != scoring.Levels {
			t.Fatalf("%s: want a distribution, got %+v", f.Model, f)
		}
		for i := 1; i < scoring.Levels; i++ {
			if f.Quantiles[i] < f.Quantiles[i-1] {
				t.Fatalf("%s: quantile %d is below the one before", f.Model, i)
			}
		}
		// The 10 and the 90 percent quantile lie between the two next to them.
		for _, end := range []struct {
			day float64
			at  int
		}{{f.Bands[1].Low, scoring.Levels / 10}, {f.Bands[1].High, scoring.Levels - scoring.Levels/10}} {
			if end.day < f.Quantiles[end.at-1] || end.day > f.Quantiles[end.at] {
				t.Errorf("%s: want an end of the 80 percent band between %v and %v, got %v", f.Model, f.Quantiles[end.at-1], f.Quantiles[end.at], end.day)
			}
		}
	}
}
