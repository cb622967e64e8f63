package stream_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/iotest"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/api/stream"
)

// echo answers a line by its number and text, or its error. It takes a while for
// some lines, so that workers overtake each other.
type echo struct {
	slow bool
}

func (e echo) Answer(dst []byte, line stream.Line) []byte {
	if e.slow && line.Number%7 == 0 {
		for range rand.IntN(50) { //nolint:gosec // G404: how long it takes is no secret
			runtime.Gosched()
		}
	}
	dst = strconv.AppendInt(dst, line.Number, 10)
	if line.Err != nil {
		return append(append(append(dst, " ! "...), line.Err.Error()...), '\n')
	}
	return append(append(append(dst, ' '), line.Text...), '\n')
}

func echoes(n int) []stream.Worker {
	workers := make([]stream.Worker, n)
	for i := range workers {
		workers[i] = echo{slow: n > 1}
	}
	return workers
}

// page is an output that counts its flushes.
type page struct {
	bytes.Buffer
	flushes int
}

func (p *page) Flush() error { p.flushes++; return nil }

const most = 32

func linesOf(in io.Reader) stream.Source { return stream.Lines(in, most) }

func longLinesOf(in io.Reader) stream.Source { return stream.Lines(in, 64<<10) }

// want is what echo answers to a text, in the plain way.
func want(text string) string {
	var out strings.Builder
	all := strings.Split(text, "\n")
	for i, line := range all {
		switch {
		case strings.Trim(line, " \t\r") == "" && len(line) <= most:
		case len(line) > most:
			fmt.Fprintf(&out, "%d ! the line is longer than %d bytes\n", i+1, most)
		default:
			fmt.Fprintf(&out, "%d %s\n", i+1, line)
		}
	}
	return out.String()
}

func TestRun(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("x", most)
	for _, tc := range []struct{ name, text, want string }{
		{"nothing", "", ""},
		{"one line", "a\n", "1 a\n"},
		{"last line without its end", "a\nb", "1 a\n2 b\n"},
		{"empty lines count", "\n\na\n \t\r\nb\n\n", "3 a\n5 b\n"},
		{"as long as may be", long + "\n" + long, "1 " + long + "\n2 " + long + "\n"},
		{"one byte more", long + "x\nb\n", "1 ! the line is longer than 32 bytes\n2 b\n"},
		{"the last of one byte more", "a\n" + long + "x", "1 a\n2 ! the line is longer than 32 bytes\n"},
		{"much more", "a\n" + strings.Repeat(long, 5000) + "\nb\n", "1 a\n2 ! the line is longer than 32 bytes\n3 b\n"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			var out page
			err := stream.Stream{In: strings.NewReader(tc.text), Lines: linesOf, Workers: echoes(3), Out: &out}.Run(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(tc.want, out.String()); d != "" {
				t.Errorf("answers (-want +got):\n%s", d)
			}
		})
	}
}

// However the text comes and however many workers there are, each line is
// answered once and in order.
func TestEachLineIsAnsweredOnceInOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		line := rapid.OneOf(rapid.StringMatching(`[ a-z]{0,40}`), rapid.Just(""), rapid.StringMatching(`[x]{31,34}`))
		text := strings.Join(rapid.SliceOfN(line, 0, 400).Draw(t, "lines"), "\n")
		var in io.Reader = strings.NewReader(text)
		switch rapid.IntRange(0, 3).Draw(t, "how it comes") {
		case 0:
			in = iotest.OneByteReader(in)
		case 1:
			in = iotest.HalfReader(in)
		case 2:
			in = iotest.DataErrReader(in)
		}
		var out page
		workers := echoes(rapid.IntRange(1, 8).Draw(t, "workers"))
		if err := (stream.Stream{In: in, Lines: linesOf, Workers: workers, Out: &out}).Run(t.Context()); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want(text), out.String()); d != "" {
			t.Fatalf("answers (-want +got):\n%s", d)
		}
	})
}

// Whoever sends one line and waits gets its answer before the next is sent.
func TestAnswersComeWithoutWaitingForMore(t *testing.T) {
	t.Parallel()
	in, send := io.Pipe()
	receive, out := io.Pipe()
	done := make(chan error, 1)
	go func() {
		done <- stream.Stream{In: in, Lines: linesOf, Workers: echoes(2), Out: flushing{out}}.Run(t.Context())
	}()
	buffer := make([]byte, 100)
	for i := range 100 {
		if _, err := fmt.Fprintf(send, "line %d\n", i); err != nil {
			t.Fatal(err)
		}
		n, err := receive.Read(buffer)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(fmt.Sprintf("%d line %d\n", i+1, i), string(buffer[:n])); d != "" {
			t.Fatalf("answer (-want +got):\n%s", d)
		}
	}
	if err := send.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// flushing is a pipe as an output: what is written is there for the reader.
type flushing struct{ io.Writer }

func (flushing) Flush() error { return nil }

// What is written is flushed before the next answer is waited for, and not after
// each chunk of an input that is all there.
func TestFlushesAreFew(t *testing.T) {
	t.Parallel()
	var out page
	text := strings.Repeat("a line of text\n", 100_000)
	if err := (stream.Stream{In: strings.NewReader(text), Lines: longLinesOf, Workers: echoes(1), Out: &out}).Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	if chunks := 100_000 / 64; out.flushes > chunks {
		t.Errorf("%d flushes of some %d chunks", out.flushes, chunks)
	}
}

// endless gives the same line for ever and counts it.
type endless struct{ read atomic.Int64 }

func (e *endless) Read(p []byte) (int, error) {
	n := 0
	for n+8 <= len(p) {
		n += copy(p[n:], "abcdefg\n")
	}
	e.read.Add(int64(n))
	return n, nil
}

// Where nobody takes the answers nothing more is read, and when they give up the
// work ends, with all that runs for it.
func TestNothingIsReadThatNobodyTakes(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		in := new(endless)
		_, out := io.Pipe()
		done := make(chan error, 1)
		go func() {
			done <- stream.Stream{In: in, Lines: linesOf, Workers: echoes(2), Out: flushing{out}}.Run(ctx)
		}()
		synctest.Wait() // until everything waits
		before := in.read.Load()
		if limit := int64(7 * 64 * 8 * 2); before == 0 || before > limit {
			t.Errorf("%d bytes were read, want some and at most about %d", before, limit)
		}
		time.Sleep(time.Hour) // of the bubble
		synctest.Wait()
		if now := in.read.Load(); now != before {
			t.Errorf("%d bytes were read, and then %d more", before, now-before)
		}
		cancel()
		if err := out.CloseWithError(errors.New("gone")); err != nil {
			t.Fatal(err)
		}
		if err := <-done; err == nil {
			t.Error("a stream that was given up ends without an error")
		}
		synctest.Wait() // and Test fails when anything still runs
	})
}

// A reader that waits is interrupted when the output breaks.
func TestInterrupt(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		in, send := io.Pipe()
		var once sync.Once
		gone := errors.New("the client is gone")
		done := make(chan error, 1)
		go func() {
			done <- stream.Stream{
				In: in, Interrupt: func() { once.Do(func() { _ = in.CloseWithError(context.Canceled) }) },
				Lines: linesOf, Workers: echoes(2), Out: broken{gone},
			}.Run(t.Context())
		}()
		if _, err := io.WriteString(send, "one line\n"); err != nil {
			t.Fatal(err)
		}
		if err := <-done; !errors.Is(err, gone) {
			t.Errorf("error is %v, want that of the output", err)
		}
		if _, err := io.WriteString(send, "another\n"); err == nil {
			t.Error("the input is still read")
		}
	})
}

type broken struct{ err error }

func (b broken) Write([]byte) (int, error) { return 0, b.err }
func (b broken) Flush() error              { return b.err }

// A body that breaks off is told with its line, after the answers to all before.
func TestReadErrors(t *testing.T) {
	t.Parallel()
	torn := errors.New("torn")
	for _, tc := range []struct {
		name string
		in   io.Reader
		line int64
		want string
	}{
		{"at once", iotest.ErrReader(torn), 1, ""},
		{"between lines", io.MultiReader(strings.NewReader("a\nb\n"), iotest.ErrReader(torn)), 3, "1 a\n2 b\n"},
		{"in a line", io.MultiReader(strings.NewReader("a\nb\nc"), iotest.ErrReader(torn)), 3, "1 a\n2 b\n"},
		{"in a long line", io.MultiReader(strings.NewReader("a\n"+strings.Repeat("b", 999)), iotest.ErrReader(torn)), 2, "1 a\n"},
		{"panic", io.MultiReader(strings.NewReader("a\nb\n"), panicking{}), 3, "1 a\n2 b\n"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			var out page
			err := stream.Stream{In: tc.in, Lines: linesOf, Workers: echoes(2), Out: &out}.Run(t.Context())
			read, ok := errors.AsType[*stream.ReadError](err)
			if !ok {
				t.Fatalf("error is %v, want one of reading", err)
			}
			if read.Line != tc.line || tc.name != "panic" && !errors.Is(err, torn) {
				t.Errorf("error is %v, want that of line %d", err, tc.line)
			}
			if d := cmp.Diff(tc.want, out.String()); d != "" {
				t.Errorf("answers (-want +got):\n%s", d)
			}
		})
	}
}

type panicking struct{}

func (panicking) Read([]byte) (int, error) { panic("a reader that breaks") }

// The memory of a stream does not grow with it.
func TestMemoryIsFlat(t *testing.T) { // not in parallel: it counts what the process allocates
	const bytes = 64 << 20
	in := new(endless)
	run := stream.Stream{In: io.LimitReader(in, bytes), Lines: longLinesOf, Workers: echoes(1), Out: flushing{io.Discard}}
	if n := testing.AllocsPerRun(1, func() {
		if err := run.Run(t.Context()); err != nil {
			t.Error(err)
		}
	}); n > 2000 { // of 16 million lines in two runs
		t.Errorf("%v allocations", n)
	}
}
