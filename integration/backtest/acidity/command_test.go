package acidity

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestReadOptions(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, args string
		want       Options
	}{
		{"nothing told", "", Options{seed: usualSeed, lots: usualLots}},
		{"files", "--series a b", Options{files: []string{"a", "b"}, seed: usualSeed, lots: usualLots}},
		{"all", "--json --series a --cases b --seed 7 --synthetic 0 c", Options{files: []string{"a", "b", "c"}, seed: 7, asJSON: true, cases: true}},
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
	for _, args := range []string{"--synthetic 0", "--synthetic -1", "--synthetic 10001", "--seed x", "--unheard-of", "--series"} {
		if _, err := ReadOptions(strings.Fields(args)); err == nil || errors.Is(err, flag.ErrHelp) {
			t.Errorf("%q: want an error, got %v", args, err)
		}
	}
}

// The fake tells ten hours after the last reading. Of invented-meter, seen up to
// 0, 8, 14, 20 and 26 h, that is 10, 18, 24, 30 and 36, and the truth lies
// between 26 and 32: off by -16, -8, -2, 0 and +4 h. The line through the last
// two tells 8 + 0.48/0.03 8 = 136, 14 + 0.39/0.09 6 = 40, 20 + 0.26/0.13 6 = 32 and
// 26 + 0.11/0.15 6 = 30.4: off by 104, 8, 0 and 0.
func TestReport(t *testing.T) {
	t.Parallel()
	var stdout bytes.Buffer
	if err := Measure(Options{files: []string{inventedFile}, asJSON: true}, &stdout, fake); err != nil {
		t.Fatal(err)
	}
	var got report
	decoder := json.NewDecoder(&stdout)
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&got); err != nil {
		t.Fatal(err)
	}
	type seen struct {
		ID    string
		Group string
		Cases int
		Never bool
	}
	var courses []seen
	for _, c := range got.Courses {
		courses = append(courses, seen{c.ID, c.Group, c.Cases, c.Never})
	}
	if d := cmp.Diff([]seen{
		{"invented-meter", "measured dry sausage", 5, false}, {"invented-strip", "measured analogues", 3, false},
		{"invented-stuck", "measured dry sausage", 3, true}, {"invented-open", "measured dry sausage", 2, false},
	}, courses); d != "" {
		t.Errorf("courses (-want +got):\n%s", d)
	}
	all := got.Summaries[0]
	if all.Group != "measured dry sausage" || all.Part != everyCase {
		t.Fatalf("want all of the sausage first, got %s, %s", all.Group, all.Part)
	}
	us, line := all.Rows[0], all.Rows[2]
	if us.Cases != 10 || us.Lots != 2 || us.Reached != 5 || us.Told != 5 || us.NeverCases != 8 || us.Nevers != 3 {
		t.Errorf("want 10 cases of 2 sources, 5 of which come down, 3 never and 2 are open, got %+v", us)
	}
	near(t, "bias", -22.0/5, *us.Bias.Mean, 1e-9)
	near(t, "mean absolute error", 30.0/5, *us.Absolute.Mean, 1e-9)
	near(t, "median absolute error", 4, *us.Absolute.Median, 1e-9)
	near(t, "said never", 10, *us.SaidNever, 1e-9)
	near(t, "Brier", (5*0.01+3*0.81)/8, *us.Brier, 1e-9)
	if line.Model != straightLine || line.Cases != 7 || line.Reached != 4 || line.Told != 4 {
		t.Errorf("want a line from two readings on, got %+v", line)
	}
	near(t, "error of the line", 112.0/4, *line.Absolute.Mean, 1e-6)
	near(t, "ratio of the line to itself", 1, *line.ErrorToLine, 1e-12)
	// To the point, 30.714286 h: 12.714286, 6.714286, 0.714286 and 5.285714 of ours
	// beside 105.285714, 9.285714, 1.285714 and 0.314286.
	near(t, "ratio of ours to the line", 25.428572/116.171428, *us.ErrorToLine, 1e-6)
	if len(got.Verdicts) != 2 || !got.Verdicts[0].Beats {
		t.Errorf("want the fake to beat the line on sausage, got %+v", got.Verdicts)
	}
}

// The same seed prints the same text, with and without cases, and all parts have
// their place.
func TestTextReport(t *testing.T) {
	t.Parallel()
	printed := func(o Options) string {
		var stdout bytes.Buffer
		if err := Measure(o, &stdout, fake); err != nil {
			t.Fatal(err)
		}
		return stdout.String()
	}
	o := Options{files: []string{inventedFile}, seed: 3, lots: 24, cases: true}
	got := printed(o)
	if again := printed(o); again != got {
		t.Error("want the same text again")
	}
	for _, want := range []string{
		"6 entries in the files named 4 are courses of the pH, 2 skipped (1 at or below pH 5.3 from the first reading, 1 of kind loss)",
		"24 lots, seed 3", "MEASURED DRY SAUSAGE", "MEASURED ANALOGUES", "COMPUTED FROM GROWTH AND ACID", "COMPUTED FROM CURVES",
		"invented-stuck", "computed-0024", "read above 5.5 only", "by strip", "IN SHORT", "The projection beats the straight line",
	} {
		if !strings.Contains(strings.Join(strings.Fields(got), " "), want) {
			t.Errorf("want %q in the text, got:\n%s", want, got)
		}
	}
}

func TestMeasureRefuses(t *testing.T) {
	t.Parallel()
	for _, files := range [][]string{{"testdata/absent.json"}, {inventedFile, inventedFile}} {
		if err := Measure(Options{files: files}, &bytes.Buffer{}, fake); err == nil {
			t.Errorf("%v: want an error", files)
		}
	}
}
