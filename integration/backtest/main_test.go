package main

import (
	"bytes"
	"errors"
	"strings"
	"testing"
)

const (
	inventedDrying       = "drydown/testdata/invented.json"
	inventedFermentation = "acidity/testdata/invented.json"
)

func TestRunExitCodes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, args     string
		want           int
		stdout, stderr string
	}{
		{"nothing", "", exitUsage, "", "say what to measure"},
		{"another measure", "curing", exitUsage, "", "say what to measure"},
		{"help", "help", exitDone, "usage: backtest drying", ""},
		{"help on drying", "drying -h", exitDone, "usage: backtest drying", ""},
		{"nothing to dry", "drying --synthetic 0", exitUsage, "", "nothing to measure"},
		{"a file that is not there", "drying --series drydown/testdata/absent.json", exitFailed, "", "absent.json"},
		{"the same twice", "drying --series " + inventedDrying + " " + inventedDrying, exitFailed, "", "was read already"},
		{"done", "drying --synthetic 0 --leave-one-out=false --targets last --series " + inventedDrying, exitDone, "Counted: 17 cases", ""},
		{"a floor that is not held", "drying --require-floor --synthetic 0 --leave-one-out=false --targets last --series " + inventedDrying, exitFailed, "FLOOR AND GOAL", "the floor is not held: fermented sausage: "},
		{"help on fermentation", "fermentation --help", exitDone, "backtest fermentation [--series", ""},
		{"nothing to ferment", "fermentation --synthetic 0", exitUsage, "", "nothing to measure"},
		{"a fermentation that is not there", "fermentation --series acidity/testdata/absent.json", exitFailed, "", "absent.json"},
		{"fermented", "fermentation --synthetic 2 --series " + inventedFermentation, exitDone, "6 entries in the files named 4 are courses", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var stdout, stderr bytes.Buffer
			if got := run(strings.Fields(c.args), &stdout, &stderr); got != c.want {
				t.Errorf("want exit code %d, got %d", c.want, got)
			}
			if !strings.Contains(stdout.String(), c.stdout) || !strings.Contains(stderr.String(), c.stderr) {
				t.Errorf("want %q and %q, got %q and %q", c.stdout, c.stderr, stdout.String(), stderr.String())
			}
			if c.stderr == "" && stderr.Len() > 0 {
				t.Errorf("want no complaint, got %q", stderr.String())
			}
		})
	}
}

type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { return 0, errors.New("broken pipe") }

func TestRunTellsThatItCouldNotWrite(t *testing.T) {
	t.Parallel()
	for _, args := range []string{"help", "drying --synthetic 0 --leave-one-out=false --targets last --series " + inventedDrying, "drying --synthetic 0 --leave-one-out=false --targets last --json --series " + inventedDrying, "fermentation --synthetic 1"} {
		var stderr bytes.Buffer
		if got := run(strings.Fields(args), brokenPipe{}, &stderr); got != exitFailed {
			t.Errorf("%q: want exit code %d, got %d", args, exitFailed, got)
		}
	}
}
