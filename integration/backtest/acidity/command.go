// Package acidity measures the projection of package acidification on
// fermentations whose end is known: when the pH reaches 5.3.
//
// A course is shown to a model up to a reading and no further: see question for
// what a model is told, growth for the computed truth, baselines for the simple
// methods, score for how all are judged. testdata has an invented file.
package acidity

import (
	"errors"
	"flag"
	"fmt"
	"io"

	"greenweight/integration/backtest/entries"
)

// Options are what the command line says.
type Options struct {
	files  []string
	seed   uint64
	lots   int // computed
	cases  bool
	asJSON bool
}

// What is computed unless the command line says otherwise, and at most.
const (
	usualSeed = 1907
	usualLots = 240
	mostLots  = 10000
)

// ReadOptions reads flags and files in any order: a name without a flag is one
// more file, and flags may follow it.
func ReadOptions(args []string) (Options, error) {
	var (
		o   Options
		err error
	)
	flags := flag.NewFlagSet("fermentation", flag.ContinueOnError)
	flags.Uint64Var(&o.seed, "seed", usualSeed, "")
	flags.IntVar(&o.lots, "synthetic", usualLots, "")
	flags.BoolVar(&o.cases, "cases", false, "")
	flags.BoolVar(&o.asJSON, "json", false, "")
	if o.files, err = entries.Flags(flags, args); err != nil {
		return Options{}, err
	}
	switch {
	case o.lots < 0 || o.lots > mostLots:
		return Options{}, fmt.Errorf("--synthetic must be from 0 to %d, got %d", mostLots, o.lots)
	case len(o.files) == 0 && o.lots == 0:
		return Options{}, errors.New("nothing to measure: give --series, or --synthetic above 0")
	}
	return o, nil
}

// Measure reads the files, computes lots, asks every model and prints the
// scores.
func Measure(o Options, stdout io.Writer, project Projector) error {
	var (
		all   []course
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
	all = append(all, computed(o.seed, o.lots)...)
	if err := distinct(all); err != nil {
		return err
	}
	cases := makeCases(all)
	forecastAll(cases, project)
	r := newReport(o, files, all, cases)
	if o.asJSON {
		return r.writeJSON(stdout)
	}
	return r.writeText(stdout, o.cases)
}

func readFile(name string) ([]course, entries.Count, error) {
	text, err := entries.File(name)
	if err != nil {
		return nil, entries.Count{}, err
	}
	return readCourses(name, text)
}
