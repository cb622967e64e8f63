package drawing

import (
	"errors"
	"fmt"
	"io"
	"math"
)

// The size of every chart. A PNG has PNGScale pixels for each CSS pixel, both
// ways, so that it is sharp on a phone.
const (
	Width    = 540 // CSS pixels
	Height   = 600 // CSS pixels
	PNGScale = 2
)

// Chart is a picture that can be written as SVG or PNG. Both report an error
// that wraps ErrUndrawable, before anything is written, when the data can't be
// drawn, and else the error of the writer.
type Chart interface {
	SVG(w io.Writer) error
	PNG(w io.Writer) error
}

// ErrUndrawable is wrapped by every error that says which of the data can't be
// drawn and why: not a number, infinite, out of order, outside its bounds, none
// at all.
var ErrUndrawable = errors.New("data can't be drawn")

// undrawable returns an error that wraps ErrUndrawable.
func undrawable(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrUndrawable, fmt.Sprintf(format, args...))
}

// within reports what is wrong with a value that must lie in an interval.
func within(what string, v, low, high float64) error {
	if math.IsNaN(v) || v < low || v > high {
		return undrawable("%s %v is not within %v to %v", what, v, low, high)
	}
	return nil
}

// allWithin reports the first of n values that is outside the interval.
func allWithin(what string, n int, at func(int) float64, low, high float64) error {
	for i := range n {
		if err := within(what, at(i), low, high); err != nil {
			return fmt.Errorf("number %d: %w", i, err)
		}
	}
	return nil
}

// ascending reports the first of n values that is outside the interval or less
// than the one before.
func ascending(what string, n int, at func(int) float64, low, high float64) error {
	if err := allWithin(what, n, at, low, high); err != nil {
		return err
	}
	for i := 1; i < n; i++ {
		if at(i) < at(i-1) {
			return undrawable("number %d: %s %v comes after %v", i, what, at(i), at(i-1))
		}
	}
	return nil
}
