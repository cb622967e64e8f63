package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
)

// Exit codes of the program.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

const usage = `backtest measures how good the projections are, on courses whose end is known.

usage: backtest drying --series FILE... [--targets last|every] [--cases] [--json]

  --series   files with dry-down series, each a JSON list; more than one may follow
  --targets  last: the highest loss of each series, or those that it names (default)
             every: each loss of the series as well
  --cases    list each case
  --json     print all of it as JSON
`

// run is the program: args without its name. It returns the exit code; what was
// asked for goes to stdout, complaints go to stderr.
func run(args []string, stdout, stderr io.Writer, project projector) int {
	if len(args) == 0 || args[0] != "drying" {
		if len(args) > 0 && slices.Contains([]string{"help", "-h", "-help", "--help"}, args[0]) {
			return written(io.WriteString(stdout, usage))
		}
		written(fmt.Fprint(stderr, "backtest: say what to measure: drying\n\n", usage))
		return exitUsage
	}
	o, err := readOptions(args[1:])
	switch {
	case errors.Is(err, flag.ErrHelp):
		return written(io.WriteString(stdout, usage))
	case err != nil:
		written(fmt.Fprintf(stderr, "backtest: %v\n\n%s", err, usage))
		return exitUsage
	}
	if err := measure(o, stdout, project); err != nil {
		written(fmt.Fprintf(stderr, "backtest: %v\n", err))
		return exitFailed
	}
	return exitDone
}

// written is the exit code after an output.
func written(_ int, err error) int {
	if err != nil {
		return exitFailed
	}
	return exitDone
}

// options are what the command line says.
type options struct {
	files []string
	every bool // each loss of a series is a target
	cases bool
	json  bool
}

type fileList []string

func (l *fileList) String() string     { return strings.Join(*l, " ") }
func (l *fileList) Set(s string) error { *l = append(*l, s); return nil }

// readOptions reads flags and files in any order: a name without a flag is one
// more file, and flags may follow it.
func readOptions(args []string) (options, error) {
	var (
		o       options
		files   fileList
		targets string
	)
	flags := flag.NewFlagSet("drying", flag.ContinueOnError)
	flags.SetOutput(io.Discard) // the caller prints the error with the usage
	flags.Var(&files, "series", "")
	flags.StringVar(&targets, "targets", "last", "")
	flags.BoolVar(&o.cases, "cases", false, "")
	flags.BoolVar(&o.json, "json", false, "")
	for {
		if err := flags.Parse(args); err != nil {
			return options{}, err
		}
		if flags.NArg() == 0 {
			break
		}
		files = append(files, flags.Arg(0))
		args = flags.Args()[1:]
	}
	o.files, o.every = files, targets == "every"
	switch {
	case len(o.files) == 0:
		return options{}, errors.New("no file with series: give --series")
	case targets != "last" && targets != "every":
		return options{}, fmt.Errorf("--targets must be last or every, got %q", targets)
	}
	return o, nil
}

// measure reads the files, asks every model and prints the scores.
func measure(o options, stdout io.Writer, project projector) error {
	var (
		all   []series
		files []fileCount
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
	cases, missing, err := makeCases(all, o.every)
	if err != nil {
		return err
	}
	forecastAll(cases, project)
	r := newReport(o, files, all, cases, missing)
	if o.json {
		return r.writeJSON(stdout)
	}
	return r.writeText(stdout, o.cases)
}

func readFile(name string) ([]series, fileCount, error) {
	text, err := os.ReadFile(name) //nolint:gosec // the file that the user of this command names
	if err != nil {
		return nil, fileCount{}, err
	}
	return readSeries(name, bytes.NewReader(text))
}
