package panel

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Method is how the samples are served. The zero value is invalid.
type Method int

// The methods.
const (
	Triangle       Method = iota + 1 // three cups, two of them alike: which is the odd one?
	PairedOneSided                   // two cups: which has more of it, where only one answer was expected
	PairedTwoSided                   // two cups: which has more of it, where either may
	DuoTrio                          // a reference and two cups: which is like the reference?
)

var methodWords = [...]string{Triangle: "triangle", PairedOneSided: "paired-one-sided", PairedTwoSided: "paired-two-sided", DuoTrio: "duo-trio"}

// String returns the word used on the wire.
func (m Method) String() string {
	if m < Triangle || m > DuoTrio {
		return fmt.Sprintf("Method(%d)", int(m))
	}
	return methodWords[m]
}

// Methods returns all methods.
func Methods() []Method { return []Method{Triangle, PairedOneSided, PairedTwoSided, DuoTrio} }

func (m Method) guess() float64 {
	if m == Triangle {
		return 1.0 / 3
	}
	return 0.5
}

// Source returns the standard of the method.
func (m Method) Source() source.Citation {
	const note = "recalled, not opened; the probabilities are computed, not taken from its tables"
	switch m {
	case Triangle:
		return source.Citation{Title: "ISO 4120, Sensory analysis, Methodology, Triangle test", Year: 2021, Trust: source.Memory, Note: note}
	case DuoTrio:
		return source.Citation{Title: "ISO 10399, Sensory analysis, Methodology, Duo-trio test", Year: 2017, Trust: source.Memory, Note: note}
	default:
		return source.Citation{Title: "ISO 5495, Sensory analysis, Methodology, Paired comparison test", Year: 2005, Trust: source.Memory, Note: note}
	}
}

// Goal is what is to be shown. The zero value is invalid.
type Goal int

// The goals.
const (
	Difference Goal = iota + 1 // that tasters tell the two apart
	Similarity                 // that no more than a stated share of them do
)

// String returns the word used on the wire.
func (g Goal) String() string {
	switch g {
	case Difference:
		return "difference"
	case Similarity:
		return "similarity"
	}
	return fmt.Sprintf("Goal(%d)", int(g))
}

// MostAnswers is the largest number of answers that are judged.
const MostAnswers = 5000

// Trial is a test as it was made.
type Trial struct {
	Method  Method
	Goal    Goal
	Answers int
	Correct int // right answers; with PairedTwoSided those for the first sample
	Tasters int // 0 means as many as there are answers

	Alpha          quantity.Fraction // risk of telling a difference where there is none
	Beta           quantity.Fraction // risk of missing that share of discriminators
	Discriminators quantity.Fraction // the share that matters
}

// Verdict is what a trial shows. The zero value is invalid.
type Verdict int

// The verdicts.
const (
	DifferenceShown Verdict = iota + 1
	DifferenceNotShown
	SimilarityShown
	SimilarityNotShown
)

// String returns the word used on the wire.
func (v Verdict) String() string {
	switch v {
	case DifferenceShown:
		return "difference-shown"
	case DifferenceNotShown:
		return "difference-not-shown"
	case SimilarityShown:
		return "similarity-shown"
	case SimilarityNotShown:
		return "similarity-not-shown"
	}
	return fmt.Sprintf("Verdict(%d)", int(v))
}

// Result is what a trial shows, and what it could have shown.
type Result struct {
	Verdict Verdict

	// P is the probability of a result at least as far off, if nobody can tell the
	// two apart; for Similarity, of so few right answers or fewer, if the stated
	// share of tasters can.
	P quantity.Fraction

	// Critical is the fewest right answers that show a difference, or the most that
	// show similarity; -1 when no number of them would.
	Critical int

	// Missed is the probability of not showing what was to be shown: a difference
	// with the stated share of discriminators, or similarity with none.
	Missed quantity.Fraction

	Needed Needed

	// Discriminators is their share with its interval of 95 percent.
	Discriminators quantity.Estimate[quantity.Fraction]
	AtMost         quantity.Fraction // upper end of the one-sided interval of 1 - Beta
	Notes          []finding.Note
}

// Needed is how many tasters keep both risks.
type Needed struct {
	First int // the fewest

	// Always is the fewest from which every larger number does too: the risk falls
	// in saw teeth, since only whole answers count, and a few more tasters can be
	// worse than a few less.
	Always int
}

// Evaluate answers a trial.
//
//		P(X >= k) = sum over i = k..n of C(n,i) c^i (1-c)^(n-i) = I(c; k, n-k+1)
//
//	  - X: right answers, n: answers, c: probability of a right one
//	  - I: regularised incomplete beta function, to some 1e-12
//
// It reports fault.Invalid with every member at fault: method, goal, answers
// (none, or more than MostAnswers), correct, tasters, alpha_percent,
// beta_percent and discriminators_percent. A trial costs a millisecond, with the
// smallest risks and share a fifth of a second.
func Evaluate(t Trial) (Result, error) {
	if err := t.check(); err != nil {
		return Result{}, err
	}
	n, k := t.Answers, t.Correct
	if t.Method == PairedTwoSided {
		k = max(k, n-k)
	}
	r := Result{Critical: t.critical(n)}
	if t.Goal == Difference {
		r.Verdict = DifferenceNotShown
		if r.Critical >= 0 && k >= r.Critical {
			r.Verdict = DifferenceShown
		}
		r.P = fraction(t.falsely(n, k))
	} else {
		r.Verdict = SimilarityNotShown
		if k <= r.Critical {
			r.Verdict = SimilarityShown
		}
		r.P = fraction(atMost(n, k, t.right()))
	}
	r.Missed = fraction(t.missed(n, r.Critical))
	r.Needed = t.needed()
	r.Discriminators, r.AtMost = t.interval(k)
	r.Notes = t.notes(r)
	return r, nil
}

func (t Trial) check() error {
	var bad fault.Collector
	if t.Method < Triangle || t.Method > DuoTrio {
		bad.Add(fault.At("method"), "invalid-value", "%v is no method", t.Method)
	}
	if t.Goal != Difference && t.Goal != Similarity {
		bad.Add(fault.At("goal"), "invalid-value", "%v is no goal", t.Goal)
	}
	if t.Answers < 1 || t.Answers > MostAnswers {
		bad.Add(fault.At("answers"), "out-of-range", "%d answers are not 1 to %d", t.Answers, MostAnswers)
	}
	if t.Correct < 0 || t.Correct > t.Answers {
		bad.Add(fault.At("correct"), "out-of-range", "%d right answers are not 0 to the %d answers", t.Correct, t.Answers)
	}
	if t.Tasters < 0 || t.Tasters > t.Answers {
		bad.Add(fault.At("tasters"), "out-of-range", "%d tasters did not give the %d answers", t.Tasters, t.Answers)
	}
	for _, risk := range []struct {
		member string
		of     quantity.Fraction
	}{{"alpha_percent", t.Alpha}, {"beta_percent", t.Beta}} {
		if f := risk.of.Float(); f < 0.001 || f > 0.5 {
			bad.Add(fault.At(risk.member), "out-of-range", "a risk of %v is not within 0.1 to 50 %%", risk.of)
		}
	}
	if d := t.Discriminators.Float(); d < 0.05 || d > 1 {
		bad.Add(fault.At("discriminators_percent"), "out-of-range", "a share of %v is not within 5 to 100 %%", t.Discriminators)
	}
	return bad.Err("invalid-value", "the trial has no meaning as it stands")
}

// right returns the probability of a right answer with the stated share.
func (t Trial) right() float64 {
	g := t.Method.guess()
	return g + (1-g)*t.Discriminators.Float()
}

// falsely returns the probability of k or more where nobody can tell.
func (t Trial) falsely(n, k int) float64 {
	p := atLeast(n, k, t.Method.guess())
	if t.Method == PairedTwoSided {
		return math.Min(1, 2*p)
	}
	return p
}

// slack keeps a probability that is a limit exactly from missing it by the last
// bits of the incomplete beta function.
const slack = 1e-12

// critical returns the fewest right answers that show a difference, or the most
// that show similarity; -1 for none.
func (t Trial) critical(n int) int { return t.ofEdge(n, t.edge(n, 0, n+1)) }

// edge returns the fewest right answers in low..high that show a difference, or
// that are too many for similarity; high when those below are not. One answer more
// leaves it where it is or moves it up by one.
func (t Trial) edge(n, low, high int) int {
	c := t.right()
	for low < high {
		k := (low + high) / 2
		past := t.Goal == Difference && t.falsely(n, k) <= t.Alpha.Float()+slack ||
			t.Goal == Similarity && atMost(n, k, c) > t.Beta.Float()+slack
		if past {
			high = k
		} else {
			low = k + 1
		}
	}
	return low
}

// ofEdge returns the critical number that an edge is.
func (t Trial) ofEdge(n, edge int) int {
	switch {
	case t.Goal == Difference && edge <= n:
		return edge
	case t.Goal == Similarity && (t.Method != PairedTwoSided || edge-1 >= (n+1)/2): // of two sides one always has half of the answers
		return edge - 1
	}
	return -1
}

// missed returns the probability of not showing what was to be shown.
func (t Trial) missed(n, critical int) float64 {
	if critical < 0 {
		return 1
	}
	if t.Goal == Difference {
		p := 1 - atLeast(n, critical, t.right())
		if t.Method == PairedTwoSided {
			p -= atMost(n, n-critical, t.right())
		}
		return math.Max(0, p)
	}
	return t.falsely(n, critical+1)
}

// needed looks at one number after the other. For normal risks z the number is
// near (z (sqrt(g(1-g)) + sqrt(c(1-c))) / (c-g))^2; both sums of z are at most
// 3.3 + 3.1, so that it ends. A tooth is one answer deep, and half again the
// number and 60 more lie beyond the last that can fail.
func (t Trial) needed() Needed {
	limit := t.Beta.Float()
	if t.Goal == Similarity {
		limit = t.Alpha.Float()
	}
	const mostNeeded = 60_000
	var need Needed
	edge, end := t.edge(0, 0, 1), mostNeeded
	for n := 1; n <= end; n++ {
		edge = t.edge(n, edge, edge+1)
		switch kept := t.missed(n, t.ofEdge(n, edge)) <= limit+slack; {
		case kept && need.First == 0:
			need = Needed{First: n, Always: n}
			end = n + n/2 + 60
		case !kept && need.First > 0:
			need.Always = n + 1
		}
	}
	return need
}

// interval returns the share of discriminators with the interval of Clopper and
// Pearson of the right answers carried through, and its one-sided upper end.
func (t Trial) interval(k int) (quantity.Estimate[quantity.Fraction], quantity.Fraction) {
	const tail = 0.025
	g, n := t.Method.guess(), t.Answers
	share := func(c float64) quantity.Fraction { return fraction((c - g) / (1 - g)) }
	e := quantity.Estimate[quantity.Fraction]{
		Low: share(lower(n, k, tail)), Mid: share(float64(k) / float64(n)), High: share(upper(n, k, tail)), Coverage: fraction(1 - 2*tail),
	}
	return e, share(upper(n, k, t.Beta.Float()))
}

// lower and upper are the ends of the interval of Clopper and Pearson.
func lower(n, k int, tail float64) float64 {
	if k == 0 {
		return 0
	}
	return mathext.InvRegIncBeta(float64(k), float64(n-k+1), tail)
}

func upper(n, k int, tail float64) float64 {
	if k == n {
		return 1
	}
	return mathext.InvRegIncBeta(float64(k+1), float64(n-k), 1-tail)
}

func (t Trial) notes(r Result) []finding.Note {
	var notes []finding.Note
	add := func(code, member, text string) {
		n := finding.Note{Code: code, Text: text}
		if member != "" {
			n.Member = []string{member}
		}
		notes = append(notes, n)
	}
	if t.Tasters > 0 && t.Tasters < t.Answers {
		add("replicated", "tasters", fmt.Sprintf("%d tasters gave %d answers: answers of one taster are not independent of each other, and the figures are too sure. Count each taster once, or read them as a hint.", t.Tasters, t.Answers))
	}
	if r.Verdict == DifferenceNotShown && r.Missed.Float() > t.Beta.Float() {
		add("weak", "answers", fmt.Sprintf("So few answers miss a share of %v discriminators in %v of cases: that no difference is shown does not show that there is none.", t.Discriminators, r.Missed))
	}
	if r.Critical < 0 {
		add("too-few", "answers", "With so few answers no result could show it.")
	}
	if t.Method == PairedTwoSided {
		add("either-side", "correct", "The side that was chosen more often is counted; the share of discriminators is that towards this side, and its interval is of one side chosen beforehand.")
	}
	return notes
}

// atLeast returns P(X >= k) of a binomial X.
func atLeast(n, k int, p float64) float64 {
	switch {
	case k <= 0:
		return 1
	case k > n:
		return 0
	case p >= 1:
		return 1
	}
	return mathext.RegIncBeta(float64(k), float64(n-k+1), p)
}

// atMost returns P(X <= k), without the loss of digits of a difference from 1.
func atMost(n, k int, p float64) float64 {
	switch {
	case k < 0:
		return 0
	case k >= n:
		return 1
	}
	return mathext.RegIncBeta(float64(n-k), float64(k+1), 1-p)
}

// fraction returns a share, cut to 0..1.
func fraction(f float64) quantity.Fraction {
	cut, err := quantity.NewFraction(math.Max(0, math.Min(1, f)))
	if err != nil { // not a number, which no sum here is
		return quantity.Fraction{}
	}
	return cut
}
