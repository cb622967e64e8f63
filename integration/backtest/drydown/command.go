// Package drydown measures the projection of package drying on dry-down series
// whose end is known.
//
// A course is shown to a model up to a weigh-in and no further: see question for
// what a model is told, baselines for the simple methods, forecast for what is
// asked of all, score for how it is judged. testdata has an invented file.
package drydown

import (
	"errors"
	"flag"
	"fmt"
	"io"

	"greenweight/integration/backtest/entries"
)

// Options are what the command line says.
type Options struct {
	files []string
	every bool // each loss of a series is a target
	floor bool // it is an error when the floor is not held
	left  bool // choose spreads again without each study
	lots  int  // drawn
	seed  uint64
	cases bool
	json  bool
}

// What is drawn unless the command line says otherwise, and at most.
const (
	usualSeed = 1907
	usualLots = 500
	mostLots  = 10000
)

// ReadOptions reads flags and files in any order: a name without a flag is one
// more file, and flags may follow it.
func ReadOptions(args []string) (Options, error) {
	var (
		o       Options
		targets string
		err     error
	)
	flags := flag.NewFlagSet("drying", flag.ContinueOnError)
	flags.StringVar(&targets, "targets", "every", "")
	flags.IntVar(&o.lots, "synthetic", usualLots, "")
	flags.Uint64Var(&o.seed, "seed", usualSeed, "")
	flags.BoolVar(&o.floor, "require-floor", false, "")
	flags.BoolVar(&o.left, "leave-one-out", true, "")
	flags.BoolVar(&o.cases, "cases", false, "")
	flags.BoolVar(&o.json, "json", false, "")
	if o.files, err = entries.Flags(flags, args); err != nil {
		return Options{}, err
	}
	o.every = targets == "every"
	switch {
	case o.lots < 0 || o.lots > mostLots:
		return Options{}, fmt.Errorf("--synthetic must be from 0 to %d, got %d", mostLots, o.lots)
	case len(o.files) == 0 && o.lots == 0:
		return Options{}, errors.New("nothing to measure: give --series, or --synthetic above 0")
	case targets != "last" && targets != "every":
		return Options{}, fmt.Errorf("--targets must be last or every, got %q", targets)
	}
	return o, nil
}

// Models are what is measured.
type Models struct {
	Project Projector
	Retuned Retuned
	Rack    RackProjector // nil: no racks are drawn
}

// Measure reads the files, draws lots, asks every model and prints the scores.
func Measure(o Options, stdout io.Writer, models Models) error {
	var (
		all   []series
		files []entries.Count
	)
	for _, name := range o.files {
		read, count, err := readFile(name)
		if err != nil {
			return err
		}
		all = append(all, read...)
		files = append(files, count)
	}
	if err := distinct(all); err != nil {
		return err
	}
	lots, err := drawLots(o.seed, o.lots, solve)
	if err != nil {
		return err
	}
	all = append(all, lots...)
	if models.Rack != nil {
		racks, err := drawRacks(o.seed, o.lots/lotsPerRack, solve)
		if err != nil {
			return err
		}
		all = append(all, racks...)
	}
	cases, missing, err := makeCases(all, o.every)
	if err != nil {
		return err
	}
	cases, never := reachedOnly(cases)
	forecastAll(cases, models.Project, models.Rack)
	forecastAll(never, models.Project, models.Rack)
	r := newReport(o, files, all, cases, missing)
	if o.left {
		if r.LeftOut, err = leaveOneOut(cases, models.Retuned); err != nil {
			return err
		}
	}
	r.Beyond = beyondOf(never, cases)
	write := func() error { return r.writeText(stdout, o.cases) }
	if o.json {
		write = func() error { return r.writeJSON(stdout) }
	}
	if err := write(); err != nil || !o.floor {
		return err
	}
	return r.missedFloor()
}

func readFile(name string) ([]series, entries.Count, error) {
	text, err := entries.File(name)
	if err != nil {
		return nil, entries.Count{}, err
	}
	return readSeries(name, text)
}
