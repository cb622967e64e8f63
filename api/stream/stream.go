// Package stream answers a long input line by line while it still comes, on all
// processors and in memory that does not grow with it.
//
// One goroutine reads lines into chunks, workers answer chunks, and the caller's
// goroutine writes the answers in the order of the lines. The chunks are few and
// used over and over: where the answers are not taken, no chunk comes free and
// nothing more is read. A chunk is handed on as soon as the input would have to
// be waited for, and what is written is flushed as soon as the next answer would:
// whoever sends one line and waits gets its answer.
package stream

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"sync"
)

const (
	// chunkLines and chunkBytes are when a chunk is full: enough work that handing
	// it over is no part of it, and little enough that a worker is not waited for.
	chunkLines = 64
	chunkBytes = 64 << 10
	// chunksPerWorker is one that is answered, one that waits, and one that is
	// written or filled.
	chunksPerWorker = 3
	// maxKept is the largest buffer that a chunk keeps for its next use.
	maxKept = 1 << 20
)

// Line is one line of the input. Its Text is good until the line is answered.
type Line struct {
	Number int64 // counted from 1
	Text   []byte
	Err    error // why there is no text; nil for most
	Origin any   // what else its source knows of it; nil where nothing
}

// Source gives the lines of an input one after the other.
type Source interface {
	// Next returns the next line, whose Text is good until the next call. The
	// error is [io.EOF] after the last line; any other ends the reading, and the
	// Number of the line that comes with it says where.
	Next() (Line, error)
}

// Worker answers lines. Each worker is used by one goroutine.
type Worker interface {
	// Answer appends the answer to a line to dst and returns it. It must not
	// panic.
	Answer(dst []byte, line Line) []byte
}

// Output takes answers.
type Output interface {
	io.Writer
	// Flush sends what was written.
	Flush() error
}

// Stream is an input, who answers it, and where the answers go.
type Stream struct {
	// In is read until its end. Interrupt makes a Read that waits return, and may
	// be nil where none ever does.
	In        io.Reader
	Interrupt func()
	// Lines makes lines of In.
	Lines func(io.Reader) Source
	// Workers answer them, at the same time.
	Workers []Worker
	Out     Output
}

// ReadError says that an input could not be read to its end.
type ReadError struct {
	Line int64 // where
	Err  error
}

// Error says what happened, for logs.
func (e *ReadError) Error() string { return fmt.Sprintf("read line %d: %v", e.Line, e.Err) }

// Unwrap returns the cause.
func (e *ReadError) Unwrap() error { return e.Err }

// Run answers the input. It returns once nothing of it runs any more: nil when
// every line was answered and written; a *[ReadError] when that holds of all lines
// before the place where the input broke off; the error of the output, or of ctx,
// when the work was given up.
func (s Stream) Run(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	if s.Interrupt != nil {
		defer context.AfterFunc(ctx, s.Interrupt)()
	}
	chunks := chunksPerWorker*len(s.Workers) + 1
	r := &run{
		in:    s.In,
		free:  make(chan *chunk, chunks),
		work:  make(chan *chunk, chunks),
		order: make(chan *chunk, chunks),
	}
	for range chunks {
		r.free <- &chunk{done: make(chan struct{}, 1)}
	}
	var running sync.WaitGroup
	var readErr error
	running.Go(func() {
		defer close(r.order)
		defer close(r.work)
		readErr = r.read(ctx, s.Lines)
	})
	for _, w := range s.Workers {
		running.Go(func() { r.answer(ctx, w) })
	}
	err := r.write(ctx, s.Out)
	if err != nil {
		cancel()
	}
	running.Wait()
	if err != nil {
		return err
	}
	return readErr
}

// chunk is some lines that follow each other, with their answers.
type chunk struct {
	lines []place
	text  []byte
	out   []byte
	done  chan struct{} // gets one value when the lines are answered
}

// place is a line in the text of its chunk.
type place struct {
	number     int64
	start, end int
	err        error
	origin     any
}

func (c *chunk) add(l Line) {
	start := len(c.text)
	c.text = append(c.text, l.Text...)
	c.lines = append(c.lines, place{l.Number, start, len(c.text), l.Err, l.Origin})
}

func (c *chunk) full() bool { return len(c.lines) >= chunkLines || len(c.text) >= chunkBytes }

// reset empties the chunk and lets go of what grew beyond use.
func (c *chunk) reset() {
	clear(c.lines) // of what they hold
	c.lines, c.text, c.out = c.lines[:0], kept(c.text), kept(c.out)
}

func kept(buffer []byte) []byte {
	if cap(buffer) > maxKept {
		return nil
	}
	return buffer[:0]
}

// run is a stream at work. The channels hold all chunks, so that only taking one
// from free ever waits.
type run struct {
	in      io.Reader
	filling *chunk // by the reader; nil between chunks
	free    chan *chunk
	work    chan *chunk
	order   chan *chunk
}

// read makes chunks of the input until its end.
func (r *run) read(ctx context.Context, lines func(io.Reader) Source) (err error) {
	var last int64
	defer func() {
		if value := recover(); value != nil {
			err = &ReadError{last + 1, fmt.Errorf("panic: %v\n%s", value, debug.Stack())}
		}
	}()
	defer r.handOn()
	source := lines(readerFunc(r.readIn))
	for {
		line, err := source.Next()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return &ReadError{max(line.Number, last+1), err}
		}
		last = line.Number
		if r.filling == nil {
			select {
			case r.filling = <-r.free:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		if r.filling.add(line); r.filling.full() {
			r.handOn()
		}
	}
}

// readIn reads the input, which may have to be waited for: the lines that are
// there already do not wait with it.
func (r *run) readIn(p []byte) (int, error) {
	r.handOn()
	return r.in.Read(p)
}

type readerFunc func(p []byte) (int, error)

// Read implements [io.Reader].
func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

// handOn gives the chunk that is being filled to the workers.
func (r *run) handOn() {
	if r.filling == nil {
		return
	}
	r.order <- r.filling
	r.work <- r.filling
	r.filling = nil
}

// answer answers chunks until there are no more. Once ctx has ended it only lets
// them pass.
func (r *run) answer(ctx context.Context, w Worker) {
	for c := range r.work {
		for _, p := range c.lines {
			if ctx.Err() != nil {
				break
			}
			line := Line{Number: p.number, Text: c.text[p.start:p.end:p.end], Err: p.err, Origin: p.origin}
			c.out = w.Answer(c.out, line)
		}
		c.done <- struct{}{}
	}
}

// write writes the answers in their order.
func (r *run) write(ctx context.Context, out Output) error {
	written := false
	pause := func() error {
		if !written {
			return nil
		}
		written = false
		return out.Flush()
	}
	for {
		c, err := waitFor(ctx, r.order, pause)
		if c == nil || err != nil {
			return err
		}
		if _, err := waitFor(ctx, c.done, pause); err != nil {
			return err
		}
		if err := ctx.Err(); err != nil { // the chunk may be answered in part
			return err
		}
		if len(c.out) > 0 {
			if _, err := out.Write(c.out); err != nil {
				return err
			}
			written = true
		}
		c.reset()
		r.free <- c
	}
}

// waitFor receives from a channel; when there is nothing yet, pause comes first.
func waitFor[T any](ctx context.Context, from <-chan T, pause func() error) (T, error) {
	select {
	case v := <-from:
		return v, nil
	default:
	}
	var none T
	if err := pause(); err != nil {
		return none, err
	}
	select {
	case v := <-from:
		return v, nil
	case <-ctx.Done():
		return none, ctx.Err()
	}
}
