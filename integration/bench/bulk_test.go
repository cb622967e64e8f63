package main

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The command answers all that it sends, prints each figure, and needs as much
// memory as it says. How fast it is is for a quiet machine to tell.
func TestBulk(t *testing.T) {
	t.Parallel()
	var out, complaints bytes.Buffer
	code := run(t.Context(), []string{"bulk", "--lines", "2000", "--rounds", "1"}, &out, &complaints)
	slow := code == exitFailed && strings.HasPrefix(complaints.String(), "bench: the ratio")
	if code != exitDone && !slow {
		t.Fatalf("exit code %d: %s", code, complaints.String())
	}
	for _, want := range []string{"2000 lines of 1", "on 1 processors", "through the service", "as Formula", "as any", "most memory", "all processors against one"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("it does not print %q:\n%s", want, out.String())
		}
	}
}

// The memory of the whole process does not grow with the collection: ten times
// the lines take no more than a little beside.
func TestBulkMemoryIsFlat(t *testing.T) {
	const short, most = 3_000, 40 << 20
	url, stop, err := serve(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := stop(); err != nil {
			t.Error(err)
		}
	}()
	lines := invent(1, short)
	through := func(count int) int64 {
		most := watchMemory()
		err := stream(t.Context(), url+"/v1/formula-checks?rulebooks=us", lines, count)
		memory := most()
		if err != nil {
			t.Fatal(err)
		}
		return memory
	}
	through(short) // what is made once
	before := through(short)
	if after := through(10 * short); after > before+most {
		t.Errorf("%d MB for ten times the lines, %d MB before", after>>20, before>>20)
	}
}

func TestUsage(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		args []string
		want int
	}{
		{nil, exitUsage}, {[]string{"all"}, exitUsage}, {[]string{"bulk", "--help"}, exitDone}, {[]string{"bulk", "--lines", "0"}, exitFailed},
		{[]string{"bulk", "more"}, exitFailed},
	} {
		var out, complaints bytes.Buffer
		if got := run(t.Context(), tc.args, &out, &complaints); got != tc.want {
			t.Errorf("%q: exit code %d, want %d", tc.args, got, tc.want)
		}
		if out.Len()+complaints.Len() == 0 {
			t.Errorf("%q: it says nothing", tc.args)
		}
	}
}

// The lines are the same for the same seed, and come over and over.
func TestCollection(t *testing.T) {
	t.Parallel()
	lines := invent(7, 3)
	if d := cmp.Diff(lines, invent(7, 3)); d != "" {
		t.Errorf("the same seed makes other lines:\n%s", d)
	}
	text, err := io.ReadAll(&collection{lines: lines, left: 5})
	if err != nil {
		t.Fatal(err)
	}
	want := bytes.Join([][]byte{lines[0], lines[1], lines[2], lines[0], lines[1]}, nil)
	if d := cmp.Diff(string(want), string(text)); d != "" {
		t.Errorf("collection (-want +got):\n%s", d)
	}
}
