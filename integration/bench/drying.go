package main

import (
	"context"
	"errors"
	"flag"
	"io"
)

// dryingBench is what the measurements of drying share.
type dryingBench struct{ days, rounds int }

// dryingParts are the measurements of drying, in the order in which they are
// printed.
var dryingParts = []func(context.Context, dryingBench, io.Writer) error{
	moistureCourse,
	fitted,
}

// dryDown prints what the answers on drying cost.
func dryDown(ctx context.Context, args []string, out io.Writer) error {
	var b dryingBench
	flags := flag.NewFlagSet("drying", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.IntVar(&b.days, "days", 90, "")
	flags.IntVar(&b.rounds, "rounds", 20, "")
	switch err := flags.Parse(args); {
	case err != nil:
		return err
	case b.days < 2 || b.days > 180 || b.rounds < 1 || flags.NArg() > 0:
		return errors.New("drying takes --days of 2 to 180, --rounds of at least 1, and nothing else")
	}
	for _, part := range dryingParts {
		if err := part(ctx, b, out); err != nil {
			return err
		}
	}
	return nil
}
