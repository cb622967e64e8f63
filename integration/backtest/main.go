// Command backtest asks how good the projections of this module are: it lets
// them forecast courses whose end is known, and prints the errors beside those
// of simple methods fitted to the same data in the same run.
//
//	go run ./integration/backtest drying --series FILE...
//	go run ./integration/backtest fermentation --series FILE...
//
// Package drydown measures the first, package acidity the second; what they
// share is in entries (files), scoring (scores) and textout (tables).
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"slices"

	"greenweight/domain/acidification"
	"greenweight/domain/drying"
	"greenweight/integration/backtest/acidity"
	"greenweight/integration/backtest/drydown"
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// Exit codes of the program.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

const usage = `backtest measures how good the projections are, on courses whose end is known.

usage: backtest drying [--series FILE...] [--synthetic N] [--seed N] [--targets last|every] [--require-floor]
                       [--leave-one-out=false] [--cases] [--json]
       backtest fermentation [--series FILE...] [--synthetic N] [--seed N] [--cases] [--json]

  --series     files with series, each a JSON list; more than one may follow
  --targets    every: each loss of a series that is higher than all before it (default)
               last: the highest alone, or those that the series names
  --require-floor
               exit code 1 when the projection does not hold the floor that the report ends with
  --synthetic  how many computed lots there are besides: of drying 500 unless told, of fermentation 240
  --seed       which ones, 1907 unless told
  --leave-one-out=false
               do not choose the spreads again without each study
  --cases      list each case
  --json       print all of it as JSON
`

// run is the program: args without its name. It returns the exit code; what was
// asked for goes to stdout, complaints go to stderr.
func run(args []string, stdout, stderr io.Writer) int {
	if len(args) > 0 && slices.Contains([]string{"help", "-h", "-help", "--help"}, args[0]) {
		return written(io.WriteString(stdout, usage))
	}
	measure, err := command(args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		return written(io.WriteString(stdout, usage))
	case err != nil:
		written(fmt.Fprintf(stderr, "backtest: %v\n\n%s", err, usage))
		return exitUsage
	}
	if err := measure(stdout); err != nil {
		written(fmt.Fprintf(stderr, "backtest: %v\n", err))
		return exitFailed
	}
	return exitDone
}

// command returns what args ask for.
func command(args []string) (func(io.Writer) error, error) {
	name := ""
	if len(args) > 0 {
		name = args[0]
	}
	switch name {
	case "drying":
		o, err := drydown.ReadOptions(args[1:])
		models := drydown.Models{Project: drying.Project, Retuned: drying.Study.Project, Rack: lastPiece}
		return func(out io.Writer) error { return drydown.Measure(o, out, models) }, err
	case "fermentation":
		o, err := acidity.ReadOptions(args[1:])
		return func(out io.Writer) error { return acidity.Measure(o, out, acidification.Project) }, err
	default:
		return nil, errors.New("say what to measure: drying or fermentation")
	}
}

// lastPiece tells when the last of the pieces of a rack is done.
func lastPiece(orders []drying.Order) (drying.Day, error) {
	var r drying.Rack
	for _, o := range orders {
		r.Pieces = append(r.Pieces, drying.RackPiece{Order: o})
	}
	p, err := drying.ProjectRack(r)
	return p.Last, err
}

// written is the exit code after an output.
func written(_ int, err error) int {
	if err != nil {
		return exitFailed
	}
	return exitDone
}
