// Command backtest asks how good the projections of this module are: it lets
// them forecast courses whose end is known, and prints the errors beside those
// of simple methods fitted to the same data in the same run.
//
//	go run ./integration/backtest drying --series FILE...
//
// A course is shown to a model up to a weigh-in and no further: see question for
// what a model is told, baselines for the simple methods, forecast for what is
// asked of all, score for how it is judged. testdata has an invented file.
package main

import (
	"os"

	"greenweight/domain/drying"
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr, drying.Project))
}
