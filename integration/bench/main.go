// Command bench prints how fast the service is and how much memory it needs, as
// ratios to something that is measured in the same run on the same machine, so
// that they mean the same on another.
//
//	go run ./integration/bench bulk
//	go run ./integration/bench fermentation
//	go run ./integration/bench drying
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
)

// Exit codes of the program.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

const usage = `bench measures the service beside something known, in one run.

usage: bench bulk [--lines 200000] [--rounds 3] [--rulebooks us] [--seed 1] [--profile FILE]
       bench fermentation [--readings 525600] [--rounds 20]
       bench drying [--days 90] [--rounds 20]

  bulk       a collection of formulas through POST /v1/formula-checks, on all processors and on one, beside reading and
             writing the same lines with the same JSON library; and the most memory that the stream took
  fermentation
             a chamber's log of a reading a minute, judged by both rules on degree-hours, beside a plain loop that adds up
             the same readings by one; and how often memory was asked for
  drying     the course of moisture in a piece on 60 cells, beside a plain explicit loop of the same equations; how it grows
             with the days, what the 64 courses of its bands take, and how often memory was asked for; and projections from
             weigh-ins, of pieces, racks and earlier lots, beside the plain series of a cylinder, how they grow with weigh-ins
             and days, and the memory
  --lines    lines of the collection, about 1 kB each
  --readings readings of the log; 525600 are a year
  --days     how long the piece hangs
  --rounds   how often each is measured; the best counts
  --profile  write a profile of the processors' time here, for go tool pprof
`

// commands are what can be measured, by name.
var commands = map[string]func(ctx context.Context, args []string, out io.Writer) error{
	"bulk":         bulk,
	"fermentation": degreeHours,
	"drying":       dryDown,
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run is the program: args without its name. It returns the exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	if len(args) == 0 || commands[args[0]] == nil {
		_, _ = io.WriteString(stderr, usage)
		return exitUsage
	}
	err := commands[args[0]](ctx, args[1:], stdout)
	switch {
	case errors.Is(err, flag.ErrHelp):
		_, _ = io.WriteString(stdout, usage)
		return exitDone
	case err != nil:
		_, _ = fmt.Fprintf(stderr, "bench: %v\n", err)
		return exitFailed
	}
	return exitDone
}
