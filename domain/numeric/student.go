package numeric

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// StudentQuantile returns the value below which a variable of Student's t
// distribution falls with a probability in 0..1, for any number of degrees of
// freedom above 0, whole or not; NaN for other numbers, an infinity at
// probabilities of 0 and 1. It is odd about a probability of a half to the last
// bit.
func StudentQuantile(probability, degrees float64) float64 {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: degrees}
	if !(probability >= 0 && probability <= 1) || !(degrees > 0) {
		return math.NaN()
	}
	if probability > 0.5 {
		return -t.Quantile(1 - probability)
	}
	return t.Quantile(probability)
}
