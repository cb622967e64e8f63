package main

import (
	"bytes"
	"strings"
	"testing"
)

// Every kind of projection is measured, and that of a piece keeps within its memory.
// How fast it is is for a quiet machine to tell.
func TestFitted(t *testing.T) { //nolint:paralleltest // counts what the process allocates
	var out, complaints bytes.Buffer
	if code := run(t.Context(), []string{"fitted", "--rounds", "1"}, &out, &complaints); code != exitDone {
		t.Fatalf("exit code %d: %s", code, complaints.String())
	}
	for _, want := range []string{"20 weigh-ins", "200 weigh-ins", "12 airs", "readings of the air", "a rack of 20", "A plain series"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("it does not print %q:\n%s", want, out.String())
		}
	}
	for _, args := range [][]string{{"--rounds", "0"}, {"more"}} {
		if code := run(t.Context(), append([]string{"fitted"}, args...), &out, &complaints); code != exitFailed {
			t.Errorf("%v: exit code %d", args, code)
		}
	}
}
