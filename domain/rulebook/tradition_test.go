package rulebook_test

import (
	"slices"
	"testing"

	"greenweight/domain/rulebook"
)

// Each traditional product that can be named has a row, and each row for
// traditional products names one.
func TestTraditionsAndTheirRows(t *testing.T) {
	t.Parallel()
	used := map[rulebook.Tradition]bool{}
	for _, l := range rulebook.Limits() {
		named := false
		for _, tradition := range rulebook.Traditions() {
			names, is := l.ReservedFor(tradition)
			if is {
				used[tradition] = true
			}
			named = named || names && is
		}
		if l.For(rulebook.TraditionalProduct) && !named && l.Kind != rulebook.Condition {
			t.Errorf("%s is for traditional products and names none: %q", l.ID, l.Applies.OnlyNamedProduct)
		}
		if named && !l.For(rulebook.TraditionalProduct) {
			t.Errorf("%s names a traditional product and is not for them", l.ID)
		}
	}
	for _, tradition := range rulebook.Traditions() {
		if !used[tradition] {
			t.Errorf("no row is reserved for %s", tradition)
		}
		if got, ok := rulebook.ParseTradition(tradition.String()); !ok || got != tradition {
			t.Errorf("%s is read as %s", tradition, got)
		}
	}
	for _, word := range []string{"", " ", "unstated", "salami"} {
		if got, ok := rulebook.ParseTradition(word); ok {
			t.Errorf("%q is read as %s", word, got)
		}
	}
}

// Regulation (EC) No 1333/2008, category 08.3.4.3, note (40) and the rows of
// Rohwurst, saucisson sec, salchichón and chorizo.
func TestRipeningThatRowsAskFor(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		row       string
		tradition rulebook.Tradition
		want      rulebook.Ripening
	}{
		{"eu-trad-salami-new", rulebook.RohwurstTradition, rulebook.Ripening{Days: 28, Another: true}},
		{"eu-trad-saucisson-new", rulebook.SaucissonSecTradition, rulebook.Ripening{Days: 21, Another: true}},
		{"eu-trad-saucisson-new", rulebook.LongCuredChorizoTradition, rulebook.Ripening{Days: 30}},
		{"eu-trad-cz-new", rulebook.CzechSlovakTradition, rulebook.Ripening{}},
		{"us-bacon-pumped-pqc", rulebook.OtherTradition, rulebook.Ripening{Another: true}},
	} {
		l, ok := rulebook.LimitByID(c.row)
		if got := l.RipeningOf(c.tradition); !ok || got != c.want {
			t.Errorf("%s of %s: want %+v, got %+v", c.row, c.tradition, c.want, got)
		}
	}
}

// Each bacterium does something, its temperatures rise from the least to the most,
// and one that reduces nitrate counts for no acid.
func TestCultures(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, c := range rulebook.Cultures() {
		if seen[c.Key] || c.Name == "" || c.Source.Title == "" || c.Source.Trust == 0 {
			t.Errorf("%s is there twice or not whole", c.Key)
		}
		seen[c.Key] = true
		switch c.Organism {
		case rulebook.Bacterium:
			if c.Acidifies == c.Reduces {
				t.Errorf("%s: makes acid %v, reduces nitrate %v", c.Key, c.Acidifies, c.Reduces)
			}
		case rulebook.Yeast, rulebook.Mould:
			if c.Acidifies || c.Reduces {
				t.Errorf("%s: makes acid %v, reduces nitrate %v", c.Key, c.Acidifies, c.Reduces)
			}
		default:
			t.Errorf("%s is no organism", c.Key)
		}
		if c.Surface && c.Acidifies {
			t.Errorf("%s makes acid on the casing", c.Key)
		}
		if told := c.LeastPH != nil || c.LeastWaterActivity != nil || len(c.Slow) > 0; told != (c.GrowthSource.Title != "") {
			t.Errorf("%s: what is known of its growth and where it is from do not go together", c.Key)
		}
		ends := []float64{c.Least.Low.Celsius(), c.Least.High.Celsius()}
		if !c.Best.High.IsZero() {
			ends = append(ends, c.Best.Low.Celsius(), c.Best.High.Celsius())
		}
		ends = append(ends, c.Most.Low.Celsius(), c.Most.High.Celsius())
		if !slices.IsSorted(ends) {
			t.Errorf("%s: %v do not rise", c.Key, ends)
		}
		if got, ok := rulebook.CultureByKey(c.Key); !ok || got.Name != c.Name {
			t.Errorf("%s is not found by its key", c.Key)
		}
	}
	if _, ok := rulebook.CultureByKey("no-such"); ok {
		t.Error("want no species for an unknown key")
	}
}

// The phosphorus of a diphosphate as the pentoxide: 141.9445 / 221.9390 by the
// atomic weights of 2007, 0.639565.
func TestPhosphorusOfADiphosphate(t *testing.T) {
	t.Parallel()
	f, err := rulebook.Factor(rulebook.CompoundDisodiumDiphosphate, rulebook.CompoundP2O5)
	if err != nil || f.Float() < 0.63956 || f.Float() > 0.63957 {
		t.Errorf("want 0.639565, got %v, %v", f, err)
	}
}
