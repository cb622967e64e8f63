package main

import (
	"bytes"
	"strings"
	"testing"
)

// The judgement comes to what the plain loop adds up, prints each figure, and asks
// for no more memory for a longer log. How fast it is is for a quiet machine to tell.
func TestFermentation(t *testing.T) { //nolint:paralleltest // counts what the process allocates
	var out, complaints bytes.Buffer
	if code := run(t.Context(), []string{"fermentation", "--readings", "5000", "--rounds", "1"}, &out, &complaints); code != exitDone {
		t.Fatalf("exit code %d: %s", code, complaints.String())
	}
	for _, want := range []string{"5000 readings", "the whole judgement", "a plain loop", "ratio", "allocations of a judgement"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("it does not print %q:\n%s", want, out.String())
		}
	}
	for _, args := range [][]string{{"--readings", "1"}, {"--readings", "1000000"}, {"--rounds", "0"}, {"more"}} {
		if code := run(t.Context(), append([]string{"fermentation"}, args...), &out, &complaints); code != exitFailed {
			t.Errorf("%v: exit code %d", args, code)
		}
	}
}
