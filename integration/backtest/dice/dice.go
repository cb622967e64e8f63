// Package dice draws the lots that the backtests compute: the same from the same
// seed in each run.
package dice

import (
	"math"
	"math/rand/v2"
)

// Dice draws numbers.
type Dice struct{ *rand.Rand }

// New returns the dice of lot number i of a seed. They depend on nothing else,
// so that more lots leave those before as they were.
func New(seed, i uint64) Dice {
	return Dice{rand.New(rand.NewPCG(seed, i))} //nolint:gosec // a fixed seed is meant: the same lots in each run
}

// Between draws evenly from between two ends.
func (d Dice) Between(ends [2]float64) float64 { return ends[0] + (ends[1]-ends[0])*d.Float64() }

// Around draws from a normal distribution.
func (d Dice) Around(mean, sd float64) float64 { return mean + sd*d.NormFloat64() }

// Times draws from around a median, with the standard deviation of the logarithm.
func (d Dice) Times(median, sd float64) float64 { return median * math.Exp(sd*d.NormFloat64()) }

// One returns a number below len(shares), as often as its share says.
func (d Dice) One(shares ...float64) int {
	at := d.Float64()
	for i, s := range shares[:len(shares)-1] {
		if at < s {
			return i
		}
		at -= s
	}
	return len(shares) - 1
}
