package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"runtime/pprof"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/go-json-experiment/json"

	"greenweight/deploy/boot"
	"greenweight/openapi"
)

// different is how many different lines a collection has; they come over and
// over, so that making them is not measured.
const different = 4096

// leastRatio is what the stream is held to on all processors, of the rate at
// which the same lines are read and written as JSON values. What is read straight
// into a Formula is quicker, because it knows what to expect; that is shown beside.
const leastRatio = 0.5

// bulkOptions are what the command line says.
type bulkOptions struct {
	lines, rounds      int
	rulebooks, profile string
	seed               uint64
}

// bulk prints the rate of a collection through the service beside the rate of
// reading and writing its lines, and the memory that it takes.
func bulk(ctx context.Context, args []string, out io.Writer) (err error) {
	var o bulkOptions
	flags := flag.NewFlagSet("bulk", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.IntVar(&o.lines, "lines", 200_000, "")
	flags.IntVar(&o.rounds, "rounds", 3, "")
	flags.StringVar(&o.rulebooks, "rulebooks", "us", "")
	flags.Uint64Var(&o.seed, "seed", 1, "")
	flags.StringVar(&o.profile, "profile", "", "")
	switch err := flags.Parse(args); {
	case err != nil:
		return err
	case o.lines < 1 || o.rounds < 1 || flags.NArg() > 0:
		return errors.New("bulk takes --lines and --rounds of at least 1, and nothing else")
	}
	lines := invent(o.seed, min(different, o.lines))
	url, stop, err := serve(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, stop()) }()
	if o.profile != "" {
		file, err := os.Create(o.profile)
		if err != nil {
			return err
		}
		defer func() { _ = file.Close() }()
		if err := pprof.StartCPUProfile(file); err != nil {
			return err
		}
		defer pprof.StopCPUProfile()
	}
	size := 0
	for _, l := range lines {
		size += len(l)
	}
	say := func(format string, args ...any) { // a failing output fails at the end
		_, werr := fmt.Fprintf(out, format+"\n", args...)
		err = errors.Join(err, werr)
	}
	say("%d lines of %d bytes in the mean, rulebooks %s, best of %d", o.lines, size/len(lines), o.rulebooks, o.rounds)
	var fastest [2]float64
	for i, processors := range []int{runtime.GOMAXPROCS(0), 1} {
		f, merr := measure(ctx, o, lines, url, processors)
		if merr != nil {
			return merr
		}
		fastest[i] = f.through.rate
		say("\non %d processors                     lines/s   processor time   ratio of rates   of processor time", processors)
		for _, row := range []struct {
			name string
			figure
		}{{"through the service", f.through}, {"read and written as Formula", f.typed}, {"read and written as any", f.untyped}} {
			say("  %-27s %12.0f %13.1f us %16.2f %19.2f", row.name, row.rate, float64(row.worked.Nanoseconds())/1e3,
				f.through.rate/row.rate, row.worked.Seconds()/f.through.worked.Seconds())
		}
		say("  most memory %d MB", f.memory>>20)
		if i == 0 && f.through.rate < leastRatio*f.untyped.rate {
			err = errors.Join(err, fmt.Errorf("the ratio of rates is less than %.1f on all processors", leastRatio))
		}
	}
	say("\nall processors against one: %.2f", fastest[0]/fastest[1])
	return err
}

// figure is how fast lines were done with, and how long processors worked on each:
// the second hardly depends on what else the machine does meanwhile.
type figure struct {
	rate   float64 // lines a second
	worked time.Duration
}

func (f figure) better(than figure) figure {
	if than.worked > 0 && (f.worked == 0 || than.worked < f.worked) {
		f.worked = than.worked
	}
	f.rate = max(f.rate, than.rate)
	return f
}

// figures are what was measured on a number of processors. What goes through the
// service is sent and taken by the same process, whose work counts.
type figures struct {
	through, typed, untyped figure
	memory                  int64 // the most that the process held while lines went through, in bytes
}

func measure(ctx context.Context, o bulkOptions, lines [][]byte, url string, processors int) (figures, error) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors))
	var best figures
	for range o.rounds {
		typed, err := timed(o.lines, func() error { return rewrite[openapi.Formula](lines, o.lines, processors) })
		if err != nil {
			return best, err
		}
		untyped, err := timed(o.lines, func() error { return rewrite[any](lines, o.lines, processors) })
		if err != nil {
			return best, err
		}
		most := watchMemory()
		through, err := timed(o.lines, func() error { return stream(ctx, url+"/v1/formula-checks?rulebooks="+o.rulebooks, lines, o.lines) })
		best.memory = max(best.memory, most())
		if err != nil {
			return best, err
		}
		best.typed, best.untyped, best.through = best.typed.better(typed), best.untyped.better(untyped), best.through.better(through)
	}
	return best, nil
}

// timed measures what is done to so many lines.
func timed(count int, do func() error) (figure, error) {
	runtime.GC()
	start, worked := time.Now(), processorTime()
	if err := do(); err != nil {
		return figure{}, err
	}
	took := time.Since(start)
	return figure{float64(count) / took.Seconds(), (processorTime() - worked) / time.Duration(count)}, nil
}

// rewrite reads lines into values of type T and writes them, on so many
// goroutines.
func rewrite[T any](lines [][]byte, count, goroutines int) error {
	var next atomic.Int64
	var running sync.WaitGroup
	errs := make([]error, goroutines)
	for i := range goroutines {
		running.Go(func() {
			var written bytes.Buffer
			for n := next.Add(1); n <= int64(count) && errs[i] == nil; n = next.Add(1) {
				var value T
				written.Reset()
				if errs[i] = json.Unmarshal(lines[int(n)%len(lines)], &value); errs[i] == nil {
					errs[i] = openapi.WriteJSON(&written, value)
				}
			}
		})
	}
	running.Wait()
	return errors.Join(errs...)
}

// stream sends a collection to the service and takes the answer, at the same
// time.
func stream(ctx context.Context, url string, lines [][]byte, count int) error {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, url, &collection{lines: lines, left: count})
	if err != nil {
		return err
	}
	req.Header.Set("Content-Type", "application/x-ndjson")
	client := http.Client{Transport: &http.Transport{DisableCompression: true}}
	defer client.CloseIdleConnections()
	res, err := client.Do(req)
	if err != nil {
		return err
	}
	defer func() { _ = res.Body.Close() }()
	answers, last, err := readAnswers(res.Body)
	if err != nil {
		return err
	}
	var final openapi.FormulaCheckFinal
	if err := json.Unmarshal(last, &final); err != nil || !final.Final || res.StatusCode != http.StatusOK {
		return fmt.Errorf("status %d, and the last line is not the final one: %.500s", res.StatusCode, last)
	}
	if answers != count+1 || final.Formulas != int64(count) || final.Problems != 0 {
		return fmt.Errorf("%d lines were answered of %d: %s", answers-1, count, last)
	}
	return nil
}

// readAnswers counts the lines of an answer and returns the last.
func readAnswers(body io.Reader) (count int, last []byte, err error) {
	in := bufio.NewReaderSize(body, 1<<20)
	for {
		line, err := in.ReadSlice('\n')
		if errors.Is(err, io.EOF) {
			return count, last, nil
		}
		if err != nil {
			return count, last, err
		}
		count++
		last = append(last[:0], line...)
	}
}

// serve starts the service on a free port of this machine, with a store in a
// folder of its own.
func serve(ctx context.Context) (url string, stop func() error, err error) {
	folder, err := os.MkdirTemp("", "greenweight-bench-")
	if err != nil {
		return "", nil, err
	}
	cfg, err := boot.ReadConfig([]string{
		"GREENWEIGHT_LISTEN=127.0.0.1:0", "GREENWEIGHT_METRICS_LISTEN=off",
		"GREENWEIGHT_DATABASE=sqlite:" + filepath.Join(folder, "bench.db"),
	})
	if err != nil {
		return "", nil, err
	}
	service, err := boot.Open(ctx, cfg, io.Discard)
	if err != nil {
		return "", nil, err
	}
	ctx, end := context.WithCancel(ctx)
	served := make(chan error, 1)
	go func() { served <- service.Serve(ctx) }()
	return service.URL(), func() error {
		end()
		return errors.Join(<-served, os.RemoveAll(folder))
	}, nil
}

// watchMemory looks at the memory of the process until the function that it
// returns is called, which tells the most that it was.
func watchMemory() (most func() int64) {
	const often = 20 * time.Millisecond
	end, told := make(chan struct{}), make(chan int64)
	go func() {
		tick := time.NewTicker(often)
		defer tick.Stop()
		seen := memory()
		for {
			select {
			case <-tick.C:
				seen = max(seen, memory())
			case <-end:
				told <- max(seen, memory())
				return
			}
		}
	}()
	return func() int64 {
		close(end)
		return <-told
	}
}

// processorTime is how long processors have worked for this process.
func processorTime() time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		return 0
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// memory is what the process holds of the machine's memory in bytes; where the
// system does not tell, what Go has taken of it.
func memory() int64 {
	status, err := os.ReadFile("/proc/self/status")
	if err == nil {
		for line := range strings.Lines(string(status)) {
			if text, ok := strings.CutPrefix(line, "VmRSS:"); ok {
				if kilobytes, err := strconv.ParseInt(strings.Fields(text)[0], 10, 64); err == nil {
					return kilobytes << 10
				}
			}
		}
	}
	var stats runtime.MemStats
	runtime.ReadMemStats(&stats)
	return int64(stats.Sys - stats.HeapReleased) //nolint:gosec // far from its end
}
