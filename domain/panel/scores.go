package panel

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/stat/distuv"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Bounds of a score sheet.
const (
	MostTasters    = 200
	MostAttributes = 30
	farthest       = 1000 // end of a scale
)

// Sheet is what tasters gave two samples for each of several attributes.
type Sheet struct {
	Samples    [2]string
	Attributes []string
	Scale      quantity.Between[quantity.Ratio]
	Scores     []Score
}

// Score is what one taster gave one sample for one attribute.
type Score struct {
	Taster, Sample, Attribute string
	Score                     quantity.Ratio
}

// Summary is an attribute of a sheet.
type Summary struct {
	Attribute string
	Samples   [2]Scored

	Pairs int // tasters who scored both

	// Difference is the mean of second less first with its interval of 95 percent
	// (t with Pairs - 1 degrees of freedom); nil with fewer than two pairs.
	Difference *PairedDifference
}

// Scored is what one sample was given.
type Scored struct {
	Count        int
	Mean, Median *quantity.Ratio // nil with none
	SD           *quantity.Ratio // between tasters, nil with fewer than two
}

// PairedDifference is that of one attribute between the samples.
type PairedDifference struct {
	Mean, Low, High quantity.Ratio
	Coverage        quantity.Fraction
	P               quantity.Fraction // two-sided, of the signed ranks, exact
	Corrected       quantity.Fraction // the same, after Holm for all attributes
	Shown           bool              // whether Corrected is at most 5 percent
}

// Summarise summarises a sheet. A score that is missing is left out: means are of
// all who scored the sample, differences of those who scored both.
//
// It reports fault.Invalid for samples, attributes, scale and, of scores/0, 1 and
// so on, taster, sample and attribute that are empty or not on the sheet, a score
// off the scale, and the second score of a taster for the same (duplicate-score).
func Summarise(s Sheet) ([]Summary, []finding.Note, error) {
	table, err := s.read()
	if err != nil {
		return nil, nil, err
	}
	summaries := make([]Summary, len(s.Attributes))
	var notes []finding.Note
	for a, name := range s.Attributes {
		var given [2][]float64
		var differences []float64
		for _, taster := range table {
			for side := range given {
				if v := taster[a][side]; v != nil {
					given[side] = append(given[side], *v)
				}
			}
			if first, second := taster[a][0], taster[a][1]; first != nil && second != nil {
				differences = append(differences, *second-*first)
			}
		}
		summaries[a] = Summary{
			Attribute: name, Samples: [2]Scored{scored(given[0]), scored(given[1])}, Pairs: len(differences), Difference: differenceOf(differences),
		}
		if missing := 2*len(table) - len(given[0]) - len(given[1]); missing > 0 {
			notes = append(notes, finding.Note{Code: "missing-scores", Member: []string{"attributes", strconv.Itoa(a)}, Text: fmt.Sprintf("%d of %d scores of %q are missing; a taster who lacks one is left out of the difference.", missing, 2*len(table), name)})
		}
		if summaries[a].Difference == nil {
			notes = append(notes, finding.Note{Code: "too-few-pairs", Member: []string{"attributes", strconv.Itoa(a)}, Text: fmt.Sprintf("Fewer than two tasters scored both samples for %q: no difference can be told.", name)})
		}
	}
	holm(summaries)
	return summaries, notes, nil
}

// pairs is what a taster gave, by attribute and sample; nil is missing.
type pairs [][2]*float64

// read returns the table of the sheet, a row for each taster in the order of the
// names, so that the order of the scores does not matter.
func (s Sheet) read() ([]pairs, error) {
	var bad fault.Collector
	if s.Samples[0] == "" || s.Samples[0] == s.Samples[1] || s.Samples[1] == "" {
		bad.Add(fault.At("samples"), "invalid-value", "two samples have two different names")
	}
	if len(s.Attributes) == 0 || len(s.Attributes) > MostAttributes {
		bad.Add(fault.At("attributes"), "out-of-range", "%d attributes are not 1 to %d", len(s.Attributes), MostAttributes)
	}
	for i, a := range s.Attributes {
		if a == "" || slices.Index(s.Attributes, a) < i {
			bad.Add(fault.At("attributes", i), "invalid-value", "%q is empty or on the sheet twice", a)
		}
	}
	low, high := s.Scale.Low.Float(), s.Scale.High.Float()
	if low < -farthest || high > farthest {
		bad.Add(fault.At("scale"), "out-of-range", "a scale from %v to %v is not within -%v to %v", low, high, farthest, farthest)
	}
	if low >= high {
		bad.Add(fault.At("scale"), "invalid-value", "the scale ends at %v, not above its start %v", high, low)
	}
	table := make(map[string]pairs)
	for i, given := range s.Scores {
		at := fault.At("scores", i)
		side, a := slices.Index(s.Samples[:], given.Sample), slices.Index(s.Attributes, given.Attribute)
		if given.Taster == "" {
			bad.Add(fault.At("taster").Under(at), "invalid-value", "a taster has a name")
		}
		if side < 0 {
			bad.Add(fault.At("sample").Under(at), "unknown-sample", "%q is no sample of the sheet", given.Sample)
		}
		if a < 0 {
			bad.Add(fault.At("attribute").Under(at), "unknown-attribute", "%q is no attribute of the sheet", given.Attribute)
		}
		v := given.Score.Float()
		if v < low || v > high {
			bad.Add(fault.At("score").Under(at), "off-the-scale", "%v is not on the scale, %v to %v", v, low, high)
		}
		if side < 0 || a < 0 {
			continue
		}
		if table[given.Taster] == nil {
			table[given.Taster] = make(pairs, len(s.Attributes))
		}
		if cell := &table[given.Taster][a][side]; *cell == nil {
			*cell = &v
		} else {
			bad.Add(fault.At("taster").Under(at), "duplicate-score", "%q scored %q of %q before", given.Taster, given.Attribute, given.Sample)
		}
	}
	if len(table) > MostTasters {
		bad.Add(fault.At("scores"), "out-of-range", "%d tasters are more than %d", len(table), MostTasters)
	}
	if err := bad.Err("invalid-value", "the score sheet has no meaning as it stands"); err != nil {
		return nil, err
	}
	names := make([]string, 0, len(table))
	for name := range table {
		names = append(names, name)
	}
	slices.Sort(names)
	rows := make([]pairs, 0, len(names))
	for _, name := range names {
		rows = append(rows, table[name])
	}
	return rows, nil
}

func scored(v []float64) Scored {
	s := Scored{Count: len(v)}
	if len(v) == 0 {
		return s
	}
	v = slices.Sorted(slices.Values(v))
	mean, sd := meanSD(v)
	s.Mean, s.Median = ratio(mean), ratio((v[(len(v)-1)/2]+v[len(v)/2])/2)
	if len(v) > 1 {
		s.SD = ratio(sd)
	}
	return s
}

func meanSD(v []float64) (mean, sd float64) {
	n := float64(len(v))
	for _, x := range v {
		mean += x / n
	}
	if n < 2 {
		return mean, 0
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean) / (n - 1)
	}
	return mean, math.Sqrt(sd)
}

func ratio(v float64) *quantity.Ratio {
	r, err := quantity.NewRatio(v)
	if err != nil { // scores are bounded by their scale
		return nil
	}
	return &r
}

func differenceOf(d []float64) *PairedDifference {
	if len(d) < 2 {
		return nil
	}
	const tail = 0.025
	mean, sd := meanSD(d)
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(len(d) - 1)}.Quantile(1-tail) * sd / math.Sqrt(float64(len(d)))
	return &PairedDifference{
		Mean: *ratio(mean), Low: *ratio(mean - half), High: *ratio(mean + half), Coverage: fraction(1 - 2*tail), P: fraction(signedRanks(d)),
	}
}

// signedRanks returns the two-sided probability of signed ranks at least as far
// from the middle, each sign being as likely as the other.
//
// Differences of nothing are left out, ties share the mean of their ranks. The
// ranks are doubled so that they are whole, and the distribution of the sum of
// the positive ones is built up rank by rank: exact, n^3 additions.
// Source: Wilcoxon, Biometrics Bulletin 1 (1945), 80-83.
func signedRanks(d []float64) float64 {
	const same = 1e-9 // differences of decimal scores that are meant to be equal
	kept := slices.DeleteFunc(slices.Clone(d), func(v float64) bool { return math.Abs(v) < same })
	if len(kept) == 0 {
		return 1
	}
	slices.SortFunc(kept, func(a, b float64) int {
		switch {
		case math.Abs(a) < math.Abs(b):
			return -1
		case math.Abs(a) > math.Abs(b):
			return 1
		}
		return 0
	})
	n := len(kept)
	share := make([]float64, n*(n+1)+1) // of the sign patterns, by doubled sum
	share[0] = 1
	sum, most := 0, 0
	for i := 0; i < n; {
		j := i + 1
		for j < n && math.Abs(kept[j])-math.Abs(kept[i]) < same {
			j++
		}
		rank := i + 1 + j // twice the mean of i+1..j
		for _, v := range kept[i:j] {
			most += rank
			if v > 0 {
				sum += rank
			}
			for s := most; s >= 0; s-- {
				share[s] /= 2
				if s >= rank {
					share[s] += share[s-rank] / 2
				}
			}
		}
		i = j
	}
	p := 0.0
	for s := 0; s <= min(sum, most-sum); s++ {
		p += share[s]
	}
	return math.Min(1, 2*p)
}

// holm corrects the probabilities for how many attributes were looked at: the
// smallest times their number, the next times one less, and none below the one
// before. Source: Holm, Scandinavian Journal of Statistics 6 (1979), 65-70.
func holm(summaries []Summary) {
	const level = 0.05
	var told []*PairedDifference
	for i := range summaries {
		if d := summaries[i].Difference; d != nil {
			told = append(told, d)
		}
	}
	slices.SortStableFunc(told, func(a, b *PairedDifference) int {
		switch x, y := a.P.Float(), b.P.Float(); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	before := 0.0
	for i, d := range told {
		before = math.Max(before, float64(len(told)-i)*d.P.Float())
		d.Corrected = fraction(before)
		d.Shown = d.Corrected.Float() <= level
	}
}

// Sources returns where the methods of a score sheet are from.
func Sources() []source.Citation {
	const note = "recalled, not opened; the test is computed exactly and checked against an enumeration of all signs"
	return []source.Citation{
		{Title: "Wilcoxon, F., Individual comparisons by ranking methods. Biometrics Bulletin 1, 80-83", Year: 1945, Trust: source.Memory, Note: note},
		{Title: "Holm, S., A simple sequentially rejective multiple test procedure. Scandinavian Journal of Statistics 6, 65-70", Year: 1979, Trust: source.Memory},
	}
}
