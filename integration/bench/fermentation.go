package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"runtime"
	"time"

	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
)

// mostAllocated is how often memory may be asked for to judge a course, however long
// it is: for the texts of the answer, and for no copy of the log.
const mostAllocated = 1000

// degreeHours prints what it costs to judge a log of a reading a minute, beside a
// plain loop that adds up the same readings by one rule.
func degreeHours(ctx context.Context, args []string, out io.Writer) error {
	var readings, rounds int
	flags := flag.NewFlagSet("fermentation", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.IntVar(&readings, "readings", 525_600, "")
	flags.IntVar(&rounds, "rounds", 20, "")
	switch err := flags.Parse(args); {
	case err != nil:
		return err
	case readings < 2 || readings > 527_040 || rounds < 1 || flags.NArg() > 0:
		return errors.New("fermentation takes --readings of 2 to 527040, --rounds of at least 1, and nothing else")
	}
	course := fermentation.Course{Log: minutely(readings)}
	var plain, whole, allocated float64
	for range rounds {
		if err := ctx.Err(); err != nil {
			return err
		}
		took, sum, _ := clocked(func() (float64, error) { return added(course.Log, 15.6), nil })
		judged, exact, asked := clocked(func() (float64, error) {
			e, err := fermentation.DegreeHours(course)
			if err != nil {
				return 0, err
			}
			return e.Sums[1].DegreeHours.CelsiusHours(), nil
		})
		if math.IsNaN(exact) || math.Abs(exact-sum) > 1e-5*sum {
			return fmt.Errorf("the loop comes to %v °C h, and the rule to %v", sum, exact)
		}
		if plain == 0 || took < plain {
			plain = took
		}
		if whole == 0 || judged < whole {
			whole = judged
		}
		allocated = max(allocated, asked)
	}
	each := func(ns float64) float64 { return ns / float64(readings) }
	_, err := fmt.Fprintf(out, `%d readings, one a minute, best of %d                     ns per reading
  the whole judgement, both rules              %19.1f
  a plain loop, one rule                       %19.1f
  ratio                                        %19.1f
  allocations of a judgement, whatever its length %16.0f

Judged are: every reading checked; by each rule the sum, with the thermometer too high and too low, and what gaps add;
the highest temperature, the time above the base, the index of growth, and the warmest hour.
`, readings, rounds, each(whole), each(plain), whole/plain, allocated)
	if allocated > mostAllocated {
		err = errors.Join(err, fmt.Errorf("more than %d allocations", mostAllocated))
	}
	return err
}

// minutely returns readings of a chamber that swings by the day between 14.5 and
// 17.5 °C.
func minutely(n int) []fermentation.Reading {
	const day, middle, swing = 24 * 60, 16.0, 1.5
	log := make([]fermentation.Reading, n)
	for i := range log {
		t, err := quantity.Celsius(middle + swing*math.Sin(2*math.Pi*float64(i)/day))
		if err != nil { // it is far from absolute zero
			return nil
		}
		log[i] = fermentation.Reading{At: time.Duration(i) * time.Minute, Temperature: t}
	}
	return log
}

// added adds up readings by trapezia with both ends clamped to the base, as a
// script would: on a reading a minute it is off by little.
func added(log []fermentation.Reading, base float64) float64 {
	var sum float64
	for i := 1; i < len(log); i++ {
		a, b := log[i-1].Temperature.Celsius()-base, log[i].Temperature.Celsius()-base
		sum += (max(a, 0) + max(b, 0)) / 2 * (log[i].At - log[i-1].At).Hours()
	}
	return sum
}

// clocked measures what is done once: how many nanoseconds it took, what it came to,
// NaN for an error, and how often it asked for memory.
func clocked(do func() (float64, error)) (ns, result, allocated float64) {
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	start := time.Now()
	result, err := do()
	took := time.Since(start)
	runtime.ReadMemStats(&after)
	if err != nil {
		result = math.NaN()
	}
	return float64(took.Nanoseconds()), result, float64(after.Mallocs - before.Mallocs)
}
