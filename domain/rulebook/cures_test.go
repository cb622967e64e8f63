package rulebook_test

import (
	"testing"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

func TestBuiltInCures(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, c := range rulebook.Cures() {
		if seen[c.Key] || !kebab.MatchString(c.Key) {
			t.Errorf("key %q stands twice or is not in kebab-case", c.Key)
		}
		seen[c.Key] = true
		if c.Name == "" || c.Source.Title == "" || c.Source.Trust == 0 || c.Note == "" {
			t.Errorf("%s lacks name, source or note", c.Key)
		}
		least, most := 0.0, 0.0
		for _, compound := range rulebook.Compounds() {
			part := c.Content(compound)
			if part.High.Float() < part.Low.Float() {
				t.Errorf("%s: %s from %s to %s", c.Key, compound, part.Low, part.High)
			}
			least += part.Low.Percent()
			most += part.High.Percent()
		}
		if least > 100+1e-9 || most < 95-1e-9 {
			t.Errorf("%s: the salts come to %v to %v percent", c.Key, least, most)
		}
		known := !c.BulkDensity.High.IsZero()
		if known != (c.DensitySource.Title != "") || known && !(c.BulkDensity.Low.GramsPerMillilitre() < c.BulkDensity.High.GramsPerMillilitre()) {
			t.Errorf("%s: density %v from %q", c.Key, c.BulkDensity, c.DensitySource.Title)
		}
		if c.Source.Trust == source.Memory && c.Source.Note == "" {
			t.Errorf("%s is recalled and does not say so", c.Key)
		}
	}
	undiluted := map[string]bool{"sodium-nitrite": true, "potassium-nitrite": true}
	for _, c := range rulebook.Cures() {
		if c.Undiluted() != undiluted[c.Key] {
			t.Errorf("%s: undiluted is %t", c.Key, c.Undiluted())
		}
	}
	if len(seen) != 7 {
		t.Errorf("want 7 cures, got %d", len(seen))
	}
}

// Five level teaspoons of curing salt no. 1 are an ounce, 28.35 g: the usual
// figure of the trade lies in the middle of the range.
func TestSpoonOfCure(t *testing.T) {
	t.Parallel()
	c, _ := rulebook.CureByKey("cure-1")
	spoons, err := quantity.Teaspoons(5)
	if err != nil {
		t.Fatal(err)
	}
	low, high := c.BulkDensity.Low.Of(spoons).Grams(), c.BulkDensity.High.Of(spoons).Grams()
	quantitytest.Near(t, "grams in five teaspoons", 28.35, (low+high)/2, 0.01)
	quantitytest.Near(t, "10 percent to either side", 2.835, (high-low)/2, 0.001)
}

func TestNewCure(t *testing.T) {
	t.Parallel()
	pct := quantity.MustPercent
	for _, c := range []struct {
		name     string
		label    string
		assay    rulebook.Assay
		pointers []string
	}{
		{"a blend", "my blend", rulebook.Assay{SodiumNitrite: pct(5.9), SodiumChloride: pct(94.1)}, nil},
		{"a filler is allowed", "with sugar", rulebook.Assay{SodiumNitrite: pct(0.6), SodiumChloride: pct(60)}, nil},
		{"rounded label", "rounded", rulebook.Assay{SodiumNitrite: pct(0.61), SodiumChloride: pct(99.4)}, nil},
		{"potassium nitrate alone", "nitrate", rulebook.Assay{PotassiumNitrate: pct(1)}, nil},
		{"too much", "over", rulebook.Assay{SodiumNitrite: pct(6.25), SodiumChloride: pct(95)},
			[]string{"#/sodium_nitrite_percent", "#/salt_percent"}},
		{"just too much", "over", rulebook.Assay{PotassiumNitrite: pct(0.62), SodiumNitrate: pct(0.01), SodiumChloride: pct(99.4)},
			[]string{"#/potassium_nitrite_percent", "#/sodium_nitrate_percent", "#/salt_percent"}},
		{"no agent", "salt", rulebook.Assay{SodiumChloride: pct(100)}, []string{"#/sodium_nitrite_percent"}},
		{"nothing at all", " ", rulebook.Assay{}, []string{"#/name", "#/sodium_nitrite_percent"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := rulebook.NewCure(c.label, c.assay)
			if c.pointers != nil {
				wantFault(t, err, fault.Invalid, "invalid-cure", c.pointers...)
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if got.Name != c.label || got.Key != "" || got.Source.Title == "" || got.Source.Trust == 0 {
				t.Errorf("name %q, key %q, source %v", got.Name, got.Key, got.Source)
			}
			for compound, want := range map[rulebook.Compound]quantity.Fraction{
				rulebook.CompoundNaNO2: c.assay.SodiumNitrite, rulebook.CompoundKNO2: c.assay.PotassiumNitrite,
				rulebook.CompoundNaNO3: c.assay.SodiumNitrate, rulebook.CompoundKNO3: c.assay.PotassiumNitrate,
				rulebook.CompoundNaCl: c.assay.SodiumChloride, rulebook.CompoundNO2: {},
			} {
				if part := got.Content(compound); part.Low != want || part.High != want {
					t.Errorf("%s: want %s, got %s to %s", compound, want, part.Low, part.High)
				}
			}
		})
	}
}

func TestOwnUndilutedCure(t *testing.T) {
	t.Parallel()
	for percent, want := range map[float64]bool{0.6: false, 6.25: false, 20: false, 49.9: false, 50: true, 98: true} {
		c, err := rulebook.NewCure("mine", rulebook.Assay{SodiumNitrite: quantity.MustPercent(percent)})
		if err != nil {
			t.Fatal(err)
		}
		if c.Undiluted() != want {
			t.Errorf("%v percent nitrite: undiluted is %t", percent, c.Undiluted())
		}
	}
	both, err := rulebook.NewCure("mine", rulebook.Assay{
		SodiumNitrite: quantity.MustPercent(30), PotassiumNitrite: quantity.MustPercent(30),
	})
	if err != nil {
		t.Fatal(err)
	}
	if !both.Undiluted() {
		t.Error("30 percent of each nitrite is a blend")
	}
}

func FuzzNewCure(f *testing.F) {
	f.Add("mine", 6.25, 0.0, 4.0, 0.0, 89.75)
	f.Add("", 0.0, 0.0, 0.0, 0.0, 0.0)
	f.Add("over", 100.0, 100.0, 100.0, 100.0, 100.0)
	f.Fuzz(func(t *testing.T, name string, a, b, c, d, e float64) {
		var parts [5]quantity.Fraction
		sum := 0.0
		for i, p := range []float64{a, b, c, d, e} {
			part, err := quantity.Percent(p)
			if err != nil {
				t.Skip("not a percentage")
			}
			parts[i], sum = part, sum+part.Percent()
		}
		cure, err := rulebook.NewCure(name, rulebook.Assay{
			SodiumNitrite: parts[0], PotassiumNitrite: parts[1], SodiumNitrate: parts[2], PotassiumNitrate: parts[3], SodiumChloride: parts[4],
		})
		if err != nil {
			return
		}
		if !(sum <= 100.011) || a+b+c+d == 0 {
			t.Errorf("%v percent of salts passed, of them %v percent agents", sum, a+b+c+d)
		}
		if cure.Undiluted() != (cure.Contents.SodiumNitrite.High.Float()+cure.Contents.PotassiumNitrite.High.Float() >= 0.5) {
			t.Errorf("undiluted is %t at %v and %v percent of nitrite", cure.Undiluted(), a, b)
		}
	})
}
