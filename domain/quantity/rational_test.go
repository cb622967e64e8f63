package quantity_test

import (
	"encoding/json"
	"testing"

	"pgregory.net/rapid"

	"greenweight/domain/quantity"
)

func TestRationalIsReadAndWritten(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text, cents, whole string
	}{
		{"12.50", "12.50", "12.5"}, {"0.005", "0.01", "0.005"}, {"0.004999", "0.00", "0.004999"}, {"7", "7.00", "7"},
		{"999999999.999999", "1000000000.00", "999999999.999999"}, {"000000001", "1.00", "1"}, {"10", "10.00", "10"},
	} {
		r, err := quantity.ParseRational(c.text)
		if err != nil || r.Text(2) != c.cents || r.String() != c.whole {
			t.Errorf("%s: want %s and %s, got %s and %s, %v", c.text, c.cents, c.whole, r.Text(2), r, err)
		}
	}
	for _, bad := range []string{"", ".", "1.", ".5", "-1", "+1", "1e3", "1/3", "0x1", "1234567890", "0.1234567", "1 ", "1.2.3", "Inf"} {
		if r, err := quantity.ParseRational(bad); err == nil {
			t.Errorf("%q is read as %s", bad, r)
		}
	}
}

// Ten times a tenth of a gram is a gram, a pound is 453.59237 g and a foot
// 0.3048 m: no noise of a float is left.
func TestQuantitiesAreExactNumbers(t *testing.T) {
	t.Parallel()
	tenth := quantity.MustGrams(0.1).Exact()
	var sum quantity.Rational
	for range 10 {
		sum = sum.Plus(tenth)
	}
	if sum.Compare(quantity.WholeNumber(1)) != 0 {
		t.Errorf("want a gram, got %s", sum)
	}
	pound, err := quantity.Pounds(1)
	if err != nil || pound.Exact().Compare(quantity.MustRational("453.59237")) != 0 {
		t.Errorf("a pound is %s g, %v", pound.Exact(), err)
	}
	foot, err := quantity.Feet(1)
	if err != nil || foot.Exact().Compare(quantity.MustRational("0.3048")) != 0 {
		t.Errorf("a foot is %s m, %v", foot.Exact(), err)
	}
}

func TestRationalHasNoQuotientByNothing(t *testing.T) {
	t.Parallel()
	if _, err := quantity.WholeNumber(1).Over(quantity.Rational{}); err == nil {
		t.Error("want an error")
	}
	if _, err := json.Marshal(quantity.WholeNumber(1)); err == nil {
		t.Error("want no JSON: the wire picks the form")
	}
}

func TestSumsOfRationalsDoNotDependOnTheirOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		texts := rapid.SliceOf(rapid.StringMatching(`[0-9]{1,9}(\.[0-9]{1,6})?`)).Draw(t, "numbers")
		sum := func(texts []string) (s quantity.Rational) {
			for _, text := range texts {
				s = s.Plus(quantity.MustRational(text))
			}
			return s
		}
		if a, b := sum(texts), sum(rapid.Permutation(texts).Draw(t, "order")); a.Compare(b) != 0 {
			t.Fatalf("want %s, got %s", a, b)
		}
	})
}

// What is read is written back as the same number, and nothing else is read.
func FuzzParseRational(f *testing.F) {
	for _, seed := range []string{"12.50", "0", "999999999.999999", "1.", ".5", "-1", "1e9", "1/3", "\u0663"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		r, err := quantity.ParseRational(text)
		if err != nil {
			return
		}
		again, err := quantity.ParseRational(r.String())
		if err != nil || again.Compare(r) != 0 {
			t.Fatalf("%q is %s, and comes back as %s, %v", text, r, again, err)
		}
	})
}
