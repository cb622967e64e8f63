package main

import (
	"bytes"
	"strings"
	"testing"
)

// The course comes to what the plain loop does, and asks for no more memory for a
// longer one; every kind of projection is measured, and that of a piece keeps within
// its memory. How fast they are is for a quiet machine to tell.
func TestDrying(t *testing.T) { //nolint:paralleltest // counts what the process allocates
	var out, complaints bytes.Buffer
	if code := run(t.Context(), []string{"drying", "--days", "10", "--rounds", "1"}, &out, &complaints); code != exitDone {
		t.Fatalf("exit code %d: %s", code, complaints.String())
	}
	for _, want := range []string{"a course of 10 days on 60 cells", "a plain explicit loop", "ratio", "twice the days", "64 courses", "allocations of a course",
		"20 weigh-ins", "200 weigh-ins", "80 days", "12 airs", "readings of the air", "learning from 20 pieces", "a rack of 20", "A plain series"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("it does not print %q:\n%s", want, out.String())
		}
	}
	for _, args := range [][]string{{"--days", "1"}, {"--days", "1000"}, {"--rounds", "0"}, {"more"}} {
		if code := run(t.Context(), append([]string{"drying"}, args...), &out, &complaints); code != exitFailed {
			t.Errorf("%v: exit code %d", args, code)
		}
	}
}
