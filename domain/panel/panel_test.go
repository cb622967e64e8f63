package panel_test

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/fault"
	"greenweight/domain/panel"
	"greenweight/domain/quantity"
)

func trial(m panel.Method, g panel.Goal, n, k int, alpha, beta, share float64) panel.Trial {
	return panel.Trial{
		Method: m, Goal: g, Answers: n, Correct: k, Alpha: quantity.MustPercent(alpha), Beta: quantity.MustPercent(beta),
		Discriminators: quantity.MustPercent(share),
	}
}

func evaluate(tb testing.TB, t panel.Trial) panel.Result {
	tb.Helper()
	r, err := panel.Evaluate(t)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// The tables of critical numbers of ISO 4120 (triangle) and ISO 5495 (pairs), as
// recalled; every row is also held against exact sums in TestExactSums.
func TestCriticalNumbersOfTheStandards(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		method panel.Method
		n      int
		alpha  float64
		want   int
	}{
		{panel.Triangle, 6, 5, 5}, {panel.Triangle, 12, 5, 8}, {panel.Triangle, 18, 5, 10}, {panel.Triangle, 24, 5, 13},
		{panel.Triangle, 30, 5, 15}, {panel.Triangle, 36, 5, 18}, {panel.Triangle, 24, 1, 15}, {panel.Triangle, 30, 1, 17},
		{panel.PairedOneSided, 10, 5, 9}, {panel.PairedOneSided, 20, 5, 15}, {panel.PairedOneSided, 30, 5, 20},
		{panel.PairedTwoSided, 10, 5, 9}, {panel.PairedTwoSided, 20, 5, 15}, {panel.PairedTwoSided, 30, 5, 21},
		{panel.DuoTrio, 24, 5, 17},
	} {
		if got := evaluate(t, trial(row.method, panel.Difference, row.n, 0, row.alpha, 5, 30)).Critical; got != row.want {
			t.Errorf("%v of %d at %v %%: want %d, got %d", row.method, row.n, row.alpha, row.want, got)
		}
	}
}

// exactly returns P(X >= k) as a sum of exact fractions, p being num/den.
func exactly(n, k int, num, den int64) float64 {
	p, q := big.NewRat(num, den), big.NewRat(den-num, den)
	sum := new(big.Rat)
	for i := max(k, 0); i <= n; i++ {
		term := new(big.Rat).SetInt(new(big.Int).Binomial(int64(n), int64(i)))
		for j := range n {
			if j < i {
				term.Mul(term, p)
			} else {
				term.Mul(term, q)
			}
		}
		sum.Add(sum, term)
	}
	f, _ := sum.Float64()
	return f
}

// Probability, critical number and missed share by sums of exact fractions, which
// share nothing with the incomplete beta function of the code.
func TestExactSums(t *testing.T) {
	t.Parallel()
	for _, n := range []int{1, 2, 6, 17, 30} {
		for k := range n + 1 {
			// A share of 40 percent: c is 1/3 + 2/3 * 2/5 = 3/5, and 1/2 + 1/5 = 7/10.
			tri := evaluate(t, trial(panel.Triangle, panel.Difference, n, k, 5, 10, 40))
			wantNear(t, "triangle", exactly(n, k, 1, 3), tri.P)
			duo := evaluate(t, trial(panel.DuoTrio, panel.Similarity, n, k, 5, 10, 40))
			wantNear(t, "duo-trio", 1-exactly(n, k+1, 7, 10), duo.P)
			side := max(k, n-k)
			both := evaluate(t, trial(panel.PairedTwoSided, panel.Difference, n, k, 5, 10, 40))
			wantNear(t, "pairs", math.Min(1, 2*exactly(n, side, 1, 2)), both.P)
			if c := tri.Critical; c >= 0 {
				if exactly(n, c, 1, 3) > 0.05 || exactly(n, c-1, 1, 3) <= 0.05 {
					t.Errorf("n %d: %d is not the fewest", n, c)
				}
				wantNear(t, "missed", 1-exactly(n, c, 3, 5), tri.Missed)
			} else if exactly(n, n, 1, 3) <= 0.05 {
				t.Errorf("n %d: all right would show it", n)
			}
			if c := duo.Critical; 1-exactly(n, c+1, 7, 10) > 0.1 || 1-exactly(n, c+2, 7, 10) <= 0.1 {
				t.Errorf("n %d: %d is not the most", n, c)
			}
		}
	}
}

// One number less than needed misses too much, and the needed one does not, by the
// result of a trial of so many.
func TestNeededKeepsTheRisk(t *testing.T) {
	t.Parallel()
	for _, m := range panel.Methods() {
		for _, g := range []panel.Goal{panel.Difference, panel.Similarity} {
			for _, share := range []float64{10, 30, 100} {
				need := evaluate(t, trial(m, g, 10, 5, 5, 10, share)).Needed
				limit := map[panel.Goal]float64{panel.Difference: 10, panel.Similarity: 5}[g]
				missed := func(n int) float64 { return evaluate(t, trial(m, g, n, 0, 5, 10, share)).Missed.Percent() }
				if missed(need.First) > limit || missed(max(need.First-1, 1)) <= limit && need.First > 1 || missed(need.Always) > limit ||
					need.Always > need.First && missed(need.Always-1) <= limit {
					t.Errorf("%v %v %v %%: %+v", m, g, share, need)
				}
			}
		}
	}
}

func wantNear(tb testing.TB, what string, want float64, got quantity.Fraction) {
	tb.Helper()
	if math.Abs(want-got.Float()) > 1e-10 { // of the incomplete beta function
		tb.Errorf("%s: want %v, got %v", what, want, got.Float())
	}
}

// The first number of tasters that keeps both risks, and the last that does not,
// by exact sums for every number on the way.
func TestTastersNeeded(t *testing.T) {
	t.Parallel()
	kept := func(n int) bool {
		c := 0
		for exactly(n, c, 1, 3) > 0.05 {
			c++
		}
		return c <= n && 1-exactly(n, c, 2, 3) <= 0.2 // a share of 50 percent
	}
	var first, last int
	for n := 1; n < 60; n++ {
		switch ok := kept(n); {
		case ok && first == 0:
			first = n
		case !ok:
			last = n
		}
	}
	got := evaluate(t, trial(panel.Triangle, panel.Difference, 30, 12, 5, 20, 50)).Needed
	if want := (panel.Needed{First: first, Always: last + 1}); got != want {
		t.Errorf("want %+v, got %+v", want, got)
	}
	// ISO 4120, table of assessors, as recalled: 66 for 5 % both and a share of 30 %.
	if got := evaluate(t, trial(panel.Triangle, panel.Difference, 30, 12, 5, 5, 30)).Needed; got.First > 66 || got.Always < 66 {
		t.Errorf("want 66 within the saw teeth, got %+v", got)
	}
}

// The interval of Clopper and Pearson ends where the sums are 2.5 percent: by
// hand for all right and none right, c^n = 0.025, and by exact sums between.
func TestIntervalOfDiscriminators(t *testing.T) {
	t.Parallel()
	all := evaluate(t, trial(panel.Triangle, panel.Difference, 10, 10, 5, 5, 30)).Discriminators
	wantNear(t, "all right", (math.Pow(0.025, 0.1)-1.0/3)*1.5, all.Low)
	none := evaluate(t, trial(panel.DuoTrio, panel.Similarity, 4, 0, 5, 5, 30)).Discriminators
	wantNear(t, "none right", math.Max(0, 2*(1-math.Pow(0.025, 0.25))-1), none.High)
	r := evaluate(t, trial(panel.Triangle, panel.Similarity, 30, 14, 5, 5, 30))
	back := func(d quantity.Fraction) int64 { return int64(math.Round((1 + 2*d.Float()) / 3 * 1e9)) }
	more := evaluate(t, trial(panel.Triangle, panel.Similarity, 30, 20, 5, 5, 30)) // its low end is above guessing
	if got := exactly(30, 20, back(more.Discriminators.Low), 1e9); math.Abs(got-0.025) > 1e-6 {
		t.Errorf("low end: %v is not 2.5 %%", got)
	}
	if got := 1 - exactly(30, 15, back(r.Discriminators.High), 1e9); math.Abs(got-0.025) > 1e-6 {
		t.Errorf("high end: %v is not 2.5 %%", got)
	}
	if got := 1 - exactly(30, 15, back(r.AtMost), 1e9); math.Abs(got-0.05) > 1e-6 {
		t.Errorf("one-sided end: %v is not 5 %%", got)
	}
}

func TestVerdictsAndNotes(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		trial panel.Trial
		want  string
	}{
		{trial(panel.Triangle, panel.Difference, 24, 13, 5, 5, 30), "difference-shown"},
		{trial(panel.Triangle, panel.Difference, 24, 12, 5, 5, 30), "difference-not-shown weak"},
		{trial(panel.Triangle, panel.Difference, 2, 2, 5, 5, 30), "difference-not-shown weak too-few"},
		{trial(panel.Triangle, panel.Similarity, 66, 25, 5, 5, 30), "similarity-shown"},
		{trial(panel.Triangle, panel.Similarity, 66, 40, 5, 5, 30), "similarity-not-shown"},
		{trial(panel.PairedTwoSided, panel.Difference, 30, 9, 5, 5, 30), "difference-shown either-side"}, // 21 for the other
		{trial(panel.PairedOneSided, panel.Difference, 30, 9, 5, 5, 30), "difference-not-shown weak"},
	} {
		r := evaluate(t, row.trial)
		words := []string{r.Verdict.String()}
		for _, n := range r.Notes {
			words = append(words, n.Code)
		}
		if got := strings.Join(words, " "); got != row.want {
			t.Errorf("%v %d/%d: want %s, got %s", row.trial.Method, row.trial.Correct, row.trial.Answers, row.want, got)
		}
	}
	again := trial(panel.Triangle, panel.Difference, 24, 13, 5, 5, 30)
	again.Tasters = 8
	if r := evaluate(t, again); len(r.Notes) != 1 || r.Notes[0].Code != "replicated" {
		t.Errorf("want a warning of replicates, got %+v", r.Notes)
	}
}

func members(err error) []string {
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Invalid {
		return []string{fmt.Sprint(err)}
	}
	var at []string
	for _, v := range f.Violations {
		at = append(at, v.Path.Pointer()+" "+v.Code)
	}
	return at
}

func TestTrialsWithoutMeaning(t *testing.T) {
	t.Parallel()
	_, err := panel.Evaluate(panel.Trial{Answers: 0, Correct: 3, Tasters: 2})
	want := []string{
		"#/method invalid-value", "#/goal invalid-value", "#/answers out-of-range", "#/correct out-of-range", "#/tasters out-of-range",
		"#/alpha_percent out-of-range", "#/beta_percent out-of-range", "#/discriminators_percent out-of-range",
	}
	if d := cmp.Diff(want, members(err)); d != "" {
		t.Error(d)
	}
	if _, err = panel.Serve(0, 0, 1); !slices.Equal(members(err), []string{"#/method invalid-value", "#/tasters out-of-range"}) {
		t.Error(err)
	}
}

func sheet(first, second []float64) panel.Sheet {
	s := panel.Sheet{
		Samples: [2]string{"bag", "room"}, Attributes: []string{"firmness"},
		Scale: quantity.Between[quantity.Ratio]{Low: quantity.MustRatio(0), High: quantity.MustRatio(10)},
	}
	for side, scores := range [][]float64{first, second} {
		for i, v := range scores {
			s.Scores = append(s.Scores, panel.Score{Taster: fmt.Sprintf("t%02d", i), Sample: s.Samples[side], Attribute: "firmness", Score: quantity.MustRatio(v)})
		}
	}
	return s
}

// By hand: differences 1, 2, 2, 3 and one missing; mean 2, sd sqrt(2/3), and the
// table of t has 3.182 at three degrees of freedom. All four signs alike have a
// probability of 2/16.
func TestScoresByHand(t *testing.T) {
	t.Parallel()
	got, notes, err := panel.Summarise(sheet([]float64{3, 3, 4, 4, 9}, []float64{4, 5, 6, 7}))
	if err != nil {
		t.Fatal(err)
	}
	d := got[0].Difference
	half := 3.182446 * math.Sqrt(2.0/3) / 2
	for what, pair := range map[string][2]float64{
		"mean": {2, d.Mean.Float()}, "low": {2 - half, d.Low.Float()}, "high": {2 + half, d.High.Float()}, "p": {0.125, d.P.Float()},
		"mean of first": {4.6, got[0].Samples[0].Mean.Float()}, "median of first": {4, got[0].Samples[0].Median.Float()},
		"median of second": {5.5, got[0].Samples[1].Median.Float()}, "sd of second": {math.Sqrt(5.0 / 3), got[0].Samples[1].SD.Float()},
	} {
		if math.Abs(pair[0]-pair[1]) > 1e-5 {
			t.Errorf("%s: want %v, got %v", what, pair[0], pair[1])
		}
	}
	if got[0].Pairs != 4 || got[0].Samples[0].Count != 5 || len(notes) != 1 || notes[0].Code != "missing-scores" {
		t.Errorf("want 4 pairs of 5 and a note, got %+v %+v", got[0], notes)
	}
}

// The exact test against an enumeration of all signs, with ties and nothings.
func TestSignedRanksByEnumeration(t *testing.T) {
	t.Parallel()
	d := []float64{0.5, -1, 1, 2, 2, -2, 3, 0, 4.5}
	first, second := make([]float64, len(d)), make([]float64, len(d))
	for i, v := range d {
		first[i], second[i] = 4, 4+v
	}
	got, _, err := panel.Summarise(sheet(first, second))
	if err != nil {
		t.Fatal(err)
	}
	ranks := []float64{1, 2.5, 2.5, 5, 5, 5, 7, 8} // of 0.5 1 1 2 2 2 3 4.5
	const total, positive = 36.0, 1 + 2.5 + 5 + 5 + 7 + 8
	far := math.Abs(positive - total/2)
	count := 0
	for signs := range 1 << len(ranks) {
		sum := 0.0
		for i, r := range ranks {
			if signs>>i&1 == 1 {
				sum += r
			}
		}
		if math.Abs(sum-total/2) >= far-1e-9 {
			count++
		}
	}
	if want := float64(count) / 256; math.Abs(want-got[0].Difference.P.Float()) > 1e-12 {
		t.Errorf("want %v, got %v", want, got[0].Difference.P.Float())
	}
}

// Holm by hand: with 6 tasters of one mind p is 2/64, and with 5 of one mind and one
// of no difference 2/32; of two attributes the smaller is doubled to 4/64, and the
// other, 2/32, not below that.
func TestHolm(t *testing.T) {
	t.Parallel()
	s := sheet([]float64{1, 1, 1, 1, 1, 1}, []float64{2, 3, 4, 5, 6, 7})
	s.Attributes = append(s.Attributes, "aroma")
	for i, v := range []float64{1, 2, 3, 4, 5, 6} {
		for side, name := range s.Samples {
			s.Scores = append(s.Scores, panel.Score{Taster: fmt.Sprintf("t%02d", i), Sample: name, Attribute: "aroma", Score: quantity.MustRatio(1 + float64(side)*(v-1))})
		}
	}
	got, _, err := panel.Summarise(s)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range [][2]float64{{2.0 / 64, 4.0 / 64}, {2.0 / 32, 4.0 / 64}} {
		d := got[i].Difference
		wantNear(t, got[i].Attribute, want[0], d.P)
		wantNear(t, got[i].Attribute+" corrected", want[1], d.Corrected)
		if d.Shown {
			t.Errorf("%s: not shown after the correction", got[i].Attribute)
		}
	}
	slices.Reverse(s.Scores)
	again, _, err := panel.Summarise(s)
	if err != nil || again[0].Difference.Mean != got[0].Difference.Mean {
		t.Errorf("the order of scores matters: %v", err)
	}
}

func TestSheetsWithoutMeaning(t *testing.T) {
	t.Parallel()
	s := sheet([]float64{3, 11}, []float64{4})
	s.Scores = append(s.Scores, s.Scores[0], panel.Score{Sample: "cellar", Attribute: "colour", Score: quantity.MustRatio(1)})
	_, _, err := panel.Summarise(s)
	want := []string{
		"#/scores/1/score off-the-scale", "#/scores/3/taster duplicate-score", "#/scores/4/taster invalid-value",
		"#/scores/4/sample unknown-sample", "#/scores/4/attribute unknown-attribute",
	}
	if d := cmp.Diff(want, members(err)); d != "" {
		t.Error(d)
	}
}

// Every order comes as often as another, but for the last block; codes are of
// three digits and differ before a taster; the seed decides.
func TestServing(t *testing.T) {
	t.Parallel()
	for _, m := range panel.Methods() {
		plan, err := panel.Serve(m, 26, 7)
		if err != nil {
			t.Fatal(err)
		}
		counts := make(map[string]int)
		for _, s := range plan {
			order, codes := "", make(map[string]bool)
			for _, c := range s.Cups {
				order = fmt.Sprint(order, "AB"[c.Sample:c.Sample+1])
				codes[c.Code] = true
				if (len(c.Code) == 3) == c.Reference {
					t.Errorf("%v: code %q", m, c.Code)
				}
			}
			if len(codes) != len(s.Cups) {
				t.Errorf("%v: a code twice in %+v", m, s)
			}
			counts[order]++
		}
		orders := map[panel.Method]int{panel.Triangle: 6, panel.DuoTrio: 4}[m]
		if orders == 0 {
			orders = 2
		}
		if len(counts) != orders {
			t.Errorf("%v: want %d orders, got %v", m, orders, counts)
		}
		for order, n := range counts {
			if n < 26/orders || n > 26/orders+1 {
				t.Errorf("%v: %s %d times of 26", m, order, n)
			}
		}
		same, _ := panel.Serve(m, 26, 7)
		other, _ := panel.Serve(m, 26, 8)
		if !cmp.Equal(plan, same) || cmp.Equal(plan, other) {
			t.Errorf("%v: the seed does not decide", m)
		}
	}
}

func ExampleEvaluate() {
	// 24 tasters, three cups each, one dried otherwise: 13 found the odd one.
	r, err := panel.Evaluate(panel.Trial{
		Method: panel.Triangle, Goal: panel.Difference, Answers: 24, Correct: 13,
		Alpha: quantity.MustPercent(5), Beta: quantity.MustPercent(20), Discriminators: quantity.MustPercent(40),
	})
	if err != nil {
		panic(err)
	}
	fmt.Printf("%v from %d right answers on; %.1f %% by chance\n", r.Verdict, r.Critical, r.P.Percent())
	// Output: difference-shown from 13 right answers on; 2.8 % by chance
}
