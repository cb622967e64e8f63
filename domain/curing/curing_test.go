package curing_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/curing"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
)

func mat(key string) *material.Material {
	m, ok := material.ByKey(key)
	if !ok {
		panic("no material " + key)
	}
	return &m
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// assay is a cure with so many percent of sodium nitrite and nitrate, the rest
// salt.
func assay(nitrite, nitrate float64) *rulebook.Cure {
	c := must(rulebook.NewCure("cure", rulebook.Assay{
		SodiumNitrite: quantity.MustPercent(nitrite), SodiumNitrate: quantity.MustPercent(nitrate),
		SodiumChloride: quantity.MustPercent(100 - nitrite - nitrate),
	}))
	return &c
}

func generic(key string) *rulebook.Cure {
	c, ok := rulebook.CureByKey(key)
	if !ok {
		panic("no cure " + key)
	}
	return &c
}

// per is a mass for a mass of meat, both in grams.
func per(g, meat float64) formula.Rate {
	return must(formula.MassPer(quantity.MustGrams(g), quantity.MustGrams(meat)))
}

func cured(c *rulebook.Cure, rate formula.Rate, more ...formula.Addition) formula.Formula {
	return formula.Formula{
		Name: "invented", Product: rulebook.DrySausage,
		Parts:     []formula.Part{{Name: "meat", Material: *mat("pork-shoulder-whole-lean-and-fat"), Share: quantity.MustPercent(100)}},
		Additions: append([]formula.Addition{{Name: "cure", Role: formula.Cure, Cure: c, Rate: rate}}, more...),
	}
}

func added(name string, role formula.Role, key string, rate formula.Rate) formula.Addition {
	return formula.Addition{Name: name, Role: role, Material: mat(key), Rate: rate}
}

var today = time.Date(2026, time.November, 25, 0, 0, 0, 0, time.UTC)

func order(f formula.Formula, rulebooks ...rulebook.Jurisdiction) curing.Order {
	return curing.Order{Scaling: formula.Order{Formula: f}, Rulebooks: rulebooks, Date: today}
}

// weighed asks for a meat block, in grams, on a scale of a tenth of a gram.
func weighed(f formula.Formula, meat float64, rulebooks ...rulebook.Jurisdiction) curing.Order {
	o := order(f, rulebooks...)
	o.Scaling.Amount.Meat = quantity.MustGrams(meat)
	o.Scaling.Scale = formula.Divisions{{Division: quantity.MustGrams(0.1)}}
	return o
}

func check(t *testing.T, o curing.Order) curing.Answer {
	t.Helper()
	a, err := curing.Check(o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// by returns the finding of a rule by its key.
func by(t *testing.T, a curing.Answer, key string) finding.Finding {
	t.Helper()
	i := slices.IndexFunc(a.Findings, func(f finding.Finding) bool { return f.Key() == key })
	if i < 0 {
		t.Fatalf("no finding %s", key)
	}
	return a.Findings[i]
}

// Worked cases, each with where its expected figure comes from. The formula is
// checked as written, so nothing is rounded.
func TestWorkedCases(t *testing.T) {
	t.Parallel()
	const pound, ounce = 453.59237, 28.349523125
	for _, c := range []struct {
		name, source string
		formula      formula.Formula
		rulebook     rulebook.Jurisdiction
		date         time.Time
		rule         string
		want         float64
		tolerance    float64
		status       finding.Status
	}{
		{
			name: "pure nitrite on the meat block, cx-com-1", source: "published curing arithmetic: 1 g in 5000 g is 200 ppm",
			formula: cured(assay(99.999, 0), per(1, 5000)), rulebook: rulebook.UnitedStates, rule: "us-nitrite-comminuted",
			want: 200, tolerance: 0.01, status: finding.NotMet,
		},
		{
			name: "European nitrite salt, cx-com-2", source: "published curing arithmetic: 30 g of 0.6 % in 1000 g is 180 ppm",
			formula: cured(assay(0.6, 0), per(30, 1000)), rulebook: rulebook.UnitedStates, rule: "us-nitrite-comminuted",
			want: 180, tolerance: 0.01, status: finding.NotMet,
		},
		{
			name: "the legal fraction itself, cx-reg-1", source: "9 CFR 424.21(c): 1/4 oz of nitrite in 100 lb is 156.25 ppm, printed 156",
			formula: cured(assay(6.25, 0), per(4*ounce, 100*pound)), rulebook: rulebook.UnitedStates, rule: "us-nitrite-comminuted",
			want: 156.25, tolerance: 1e-9, status: finding.Met,
		},
		{
			name: "the trade's rule, cx-inv-2", source: "trade rule: 1 oz of cure no. 1 for 25 lb is 156.25 ppm",
			formula: cured(generic("cure-1"), per(ounce, 25*pound)), rulebook: rulebook.UnitedStates, rule: "us-nitrite-comminuted",
			want: 156.25, tolerance: 1e-9, status: finding.Met,
		},
		{
			name: "nitrite of cure no. 2, cx-cure2-1", source: "published assay variants: 25 g in 10 kg gives 156.25 ppm of nitrite",
			formula: cured(generic("cure-2"), per(25, 10000)), rulebook: rulebook.UnitedStates, rule: "us-nitrite-comminuted",
			want: 156.25, tolerance: 1e-9, status: finding.Met,
		},
		{
			name: "nitrate of cure no. 2, cx-cure2-1", source: "published assay variants: 25 g in 10 kg gives 100 ppm of nitrate",
			formula: cured(generic("cure-2"), per(25, 10000)), rulebook: rulebook.UnitedStates, rule: "us-nitrate-comminuted",
			want: 100, tolerance: 1e-9, status: finding.Met,
		},
		{
			name: "28 g/kg of 0.5 % on the batch, new limit, cx-eu-1", source: "arithmetic: 28 x 0.005 / 1.038 kg = 134.875 as NaNO2 = 89.933 as ion",
			formula: cured(assay(0.5, 0), per(28, 1000),
				added("dextrose", formula.Sugar, "dextrose-monohydrate", per(5, 1000)), added("spice", formula.Spice, "pepper-black", per(5, 1000))),
			rulebook: rulebook.EuropeanUnion, date: time.Date(2025, time.November, 1, 0, 0, 0, 0, time.UTC), rule: "eu-nitrite-0831",
			want: 89.933, tolerance: 0.001, status: finding.NotMet,
		},
		{
			name: "the same under the old limit, cx-eu-1", source: "arithmetic: 134.875 as NaNO2 against 150 until 8 October 2025",
			formula: cured(assay(0.5, 0), per(28, 1000),
				added("dextrose", formula.Sugar, "dextrose-monohydrate", per(5, 1000)), added("spice", formula.Spice, "pepper-black", per(5, 1000))),
			rulebook: rulebook.EuropeanUnion, date: time.Date(2025, time.October, 8, 0, 0, 0, 0, time.UTC), rule: "eu-nitrite-0831-old",
			want: 134.875, tolerance: 0.001, status: finding.Met,
		},
		{
			// 1.9196 g in a kilogram of the batch: 1.9196 for 998.0804 g of meat.
			name: "the largest dose of a 6.25 % cure on the batch, cx-eu-2", source: "arithmetic: 80 / 0.666792 / 62500 = 1.9196 g/kg of the batch",
			formula:  cured(assay(6.25, 0), formula.ShareOfBatch(must(quantity.NewFraction(1.9196e-3)))),
			rulebook: rulebook.EuropeanUnion, rule: "eu-nitrite-0831", want: 80, tolerance: 0.01, status: finding.Met,
		},
		{
			name: "one step over it", source: "the same",
			formula:  cured(assay(6.25, 0), formula.ShareOfBatch(must(quantity.NewFraction(1.9197e-3)))),
			rulebook: rulebook.EuropeanUnion, rule: "eu-nitrite-0831", want: 80.004, tolerance: 0.01, status: finding.NotMet,
		},
		{
			// 1040 g of batch with 2.5 g of cure in it: 1037.5 g of meat.
			name: "Canada's window on the batch, cx-ca-1", source: "arithmetic: 2.5 x 0.0625 / 1.040 kg = 150.24",
			formula: cured(assay(6.25, 0), per(2.5, 1037.5)), rulebook: rulebook.Canada, rule: "ca-curing-ceiling",
			want: 150.24, tolerance: 0.005, status: finding.Met,
		},
		{
			name: "Canada's floor, cx-ca-1", source: "arithmetic: 2.5 x 0.0625 / 1.040 kg = 150.24",
			formula: cured(assay(6.25, 0), per(2.5, 1037.5)), rulebook: rulebook.Canada, rule: "ca-curing-floor",
			want: 150.24, tolerance: 0.005, status: finding.Met,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			o := order(c.formula, c.rulebook)
			if !c.date.IsZero() {
				o.Date = c.date
			}
			f := by(t, check(t, o), c.rule)
			quantitytest.Near(t, c.source, c.want, f.Measured.Value.Value(), c.tolerance)
			if f.Status != c.status {
				t.Errorf("want %s, got %s: %s", c.status, f.Status, f.Reason)
			}
		})
	}
}

// The base matters, cx-base-1 (arithmetic): 2.5 g of a 6.25 % cure, 25.66 g
// salt, 5 g dextrose, 6 g spice and 20 g wine on a kilogram of meat are 156.25
// on the meat block and 147.523 on everything.
func TestEachBaseIsShown(t *testing.T) {
	t.Parallel()
	f := cured(assay(6.25, 0), per(2.5, 1000),
		added("salt", formula.Salt, "salt-table", per(25.66, 1000)), added("dextrose", formula.Sugar, "dextrose-monohydrate", per(5, 1000)),
		added("spice", formula.Spice, "pepper-black", per(6, 1000)), added("wine", formula.Liquid, "wine-table-red", per(20, 1000)))
	got := map[string]float64{}
	for _, i := range check(t, order(f, rulebook.UnitedStates)).Ingoing {
		got[i.Basis.Agent+" "+i.Basis.Species+" "+i.Basis.Base] = i.Value.Value()
	}
	for basis, want := range map[string]float64{
		"nitrite NaNO2 meat": 156.25, "nitrite NaNO2 batch": 147.523,
		// times 0.666792, the ratio of the molar masses
		"nitrite NO2-ion meat": 104.186, "nitrite NO2-ion batch": 98.367,
		// 25.66 + 2.5 x 0.9375 on 1000 and on 1059.16
		"salt NaCl meat": 2.800375, "salt NaCl batch": 2.643958,
	} {
		quantitytest.Near(t, basis, want, got[basis], 0.001)
	}
}

// 2.5 g of a 6.25 % cure in a kilogram of meat: at the US limit, on the meat;
// over the EU's from 9 October 2025, 104 mg/kg as ion on the meat and less on
// the batch, which is the base.
func TestTheSameDoseInTwoRulebooks(t *testing.T) {
	t.Parallel()
	f := cured(generic("cure-1"), per(2.5, 1000), added("salt", formula.Salt, "salt-table", per(26, 1000)))
	a := check(t, weighed(f, 1000, rulebook.UnitedStates, rulebook.EuropeanUnion))

	us := by(t, a, "us-nitrite-comminuted")
	if us.Status != finding.Met || us.Measured.Value.Value() != 156.25 && us.Measured.Value.String() != "156.25 mg/kg" {
		t.Errorf("want 156.25 mg/kg met in us, got %s %s", us.Measured.Value, us.Status)
	}
	eu := by(t, a, "eu-nitrite-0831")
	if eu.Status != finding.NotMet || eu.Measured.Basis.Base != "batch" || eu.Measured.Basis.Species != "NO2-ion" {
		t.Errorf("want the ion on the batch not met in eu, got %+v %s", eu.Measured.Basis, eu.Status)
	}
	// 156.25 x 0.666792 x 1000 / 1028.5
	quantitytest.Near(t, "on the batch", 101.299, eu.Measured.Value.Value(), 0.001)
	i := slices.IndexFunc(eu.Also, func(f finding.Figure) bool { return f.Basis.Base == "meat" && f.Basis.Species == "NO2-ion" })
	if i < 0 {
		t.Fatal("want the ion on the meat beside it")
	}
	quantitytest.Near(t, "on the meat", 104.186, eu.Also[i].Value.Value(), 0.001)

	if len(a.Remedies) != 2 {
		t.Fatalf("want a remedy before and one after mixing, got %d", len(a.Remedies))
	}
	// Before mixing, by hand: 80/0.666792 = 119.977 mg of NaNO2 in a kilogram of
	// a batch of 1028.5 g is 123.397 mg, that is 1.974 g of cure, 1.9 g on the
	// scale. It brings 0.5625 g of salt less, which is 0.6 g on the scale.
	want := []string{"salt 26.6", "cure 1.9"}
	var got []string
	for _, c := range a.Remedies[0].Changes {
		got = append(got, fmt.Sprintf("%s %.4g", c.Name, c.To.Grams()))
	}
	slices.Sort(got)
	slices.Sort(want)
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("remedy before mixing (-want +got):\n%s", d)
	}
	// After mixing, by hand: 104.186 mg of ion must be 80 mg/kg of the batch, so
	// the batch is 1302.3 g instead of 1028.5. Each gram of meat brings 0.026 g
	// of salt: (1302.3 - 1028.5) / 1.026 = 266.9 g of meat, rounded up to tenths.
	after := a.Remedies[1]
	for _, c := range after.Changes {
		if c.Name == "meat" {
			quantitytest.Near(t, "meat to add", 266.9, c.To.Minus(c.From).Grams(), 0.2)
		}
		if c.Name == "cure" {
			t.Error("nothing of the cure can change after mixing")
		}
	}
}

// A floor that a label raises, cx-min-1: FSIS Directive 7620.3, rev. 1995, ch.
// 3, p. 12: 120 ppm where the label says to keep refrigerated; 1.5 g of a 6.25 %
// cure in a kilogram is 93.75.
func TestTheFloorDependsOnTheLabel(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name        string
		known, cold bool
		want        finding.Status
	}{
		{"keep refrigerated", true, true, finding.NotMet},
		{"not", true, false, finding.NotApplicable},
		{"not said", false, false, finding.NotShown},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f := cured(generic("cure-1"), per(1.5, 1000))
			f.Plan.LabelStorageIsKnown, f.Plan.KeepRefrigerated = c.known, c.cold
			got := by(t, check(t, order(f, rulebook.UnitedStates)), "us-nitrite-min-keeprefrig")
			if got.Status != c.want {
				t.Errorf("want %s, got %s: %s", c.want, got.Status, got.Reason)
			}
		})
	}
}

// Undiluted nitrite at the dose of a blend, cx-pure-1 (arithmetic): 2.5 g in a
// kilogram are 2500 mg/kg.
func TestUndilutedNitriteIsAHazard(t *testing.T) {
	t.Parallel()
	f := cured(generic("sodium-nitrite"), per(2.5, 1000))
	sheet, hazards, err := curing.WeighOut(weighed(f, 1000).Scaling)
	if err != nil {
		t.Fatal(err)
	}
	if sheet != nil || len(hazards) != 1 {
		t.Fatalf("want one hazard and no sheet, got %d and %v", len(hazards), sheet)
	}
	quantitytest.Near(t, "nitrite", 2500, hazards[0].Measured.Value.Value(), 1e-9)
	if hazards[0].Status != finding.Hazard || hazards[0].Code != "nitrite-hazard" {
		t.Errorf("want a nitrite hazard, got %s %s", hazards[0].Code, hazards[0].Status)
	}
	a := check(t, weighed(f, 1000, rulebook.EuropeanUnion, rulebook.Germany))
	if len(a.Remedies) > 0 {
		t.Error("want no remedy for a hazard")
	}
	for _, rule := range []string{"eu-salt-only", "de-pure-nitrite", "undiluted-nitrite"} {
		if got := by(t, a, rule); got.Status != finding.NotMet {
			t.Errorf("want %s not met, got %s", rule, got.Status)
		}
	}
}

func TestHazardEdges(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		cure *rulebook.Cure
		dose float64 // g in a kilogram
		want int
	}{
		{"625 mg/kg of nitrite, the highest row of all", assay(6.25, 0), 10, 0},
		{"over it", assay(6.25, 0), 10.1, 1},
		{"2187.5 mg/kg of nitrate", assay(0, 50), 4.375, 0},
		{"over it", assay(0, 50), 4.4, 1},
		{"both over", assay(30, 50), 5, 2},
	} {
		_, hazards, err := curing.WeighOut(formula.Order{
			Formula: cured(c.cure, per(c.dose, 1000)), Amount: formula.Amount{Meat: quantity.MustGrams(1000)},
			Scale: formula.Divisions{{Division: quantity.MustGrams(0.001)}},
		})
		if err != nil {
			t.Fatal(err)
		}
		if len(hazards) != c.want {
			t.Errorf("%s: want %d hazards, got %d", c.name, c.want, len(hazards))
		}
	}
}

// A level teaspoon of cure no. 1 for 5 lb, cx-tsp-1: 5.67 g, give or take a
// tenth, is 156.25 ppm give or take a tenth at 6.25 % nitrite, and at the 5.9 %
// that some have 147.5, give or take a tenth. The limit lies between, so it is
// near, and a floor of 120 is met at both ends.
func TestASpoonOfCureIsARange(t *testing.T) {
	t.Parallel()
	rate := must(formula.VolumePer(must(quantity.Teaspoons(1)), must(quantity.Pounds(5))))
	f := cured(generic("cure-1"), rate)
	f.Plan.LabelStorageIsKnown, f.Plan.KeepRefrigerated = true, true
	a := check(t, order(f, rulebook.UnitedStates))
	got := by(t, a, "us-nitrite-comminuted")
	if got.Status != finding.Near {
		t.Errorf("want near, got %s: %s", got.Status, got.Reason)
	}
	quantitytest.Near(t, "low end", 132.75, got.Measured.Range.Low.Value(), 0.1)
	quantitytest.Near(t, "high end", 171.9, got.Measured.Range.High.Value(), 0.1)
	if floor := by(t, a, "us-nitrite-min-keeprefrig"); floor.Status != finding.Met {
		t.Errorf("want the floor met, got %s: %s", floor.Status, floor.Reason)
	}
}

// The worst combination of ranges, found by trying every corner of the box.
func TestRangesAreTheWorstCombination(t *testing.T) {
	t.Parallel()
	spoons := func(n float64) formula.Rate {
		return must(formula.VolumePer(must(quantity.Teaspoons(n)), must(quantity.Pounds(5))))
	}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.SliceOfN(rapid.Float64Range(0.1, 12), 3, 3).Draw(t, "spoons")
		f := cured(generic("nitrite-salt"), spoons(n[0]),
			added("salt", formula.Salt, "salt-table", spoons(n[1])), added("pepper", formula.Spice, "pepper-black", spoons(n[2])))
		sheet, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(2000)}})
		if err != nil {
			t.Fatal(err)
		}
		for _, base := range []rulebook.Base{rulebook.MeatBlock, rulebook.Batch} {
			in, ok := curing.IngoingOf(sheet, rulebook.Nitrite, rulebook.SodiumNitrite, base)
			if !ok {
				t.Fatal("not computed")
			}
			low, high := corners(sheet, base)
			if d := in.Amount.Low.MilligramsPerKilogram() - low; d > 1e-9*low || d < -1e-9*low {
				t.Fatalf("low on %s: want %v, got %v", base, low, in.Amount.Low)
			}
			if d := in.Amount.High.MilligramsPerKilogram() - high; d > 1e-9*high || d < -1e-9*high {
				t.Fatalf("high on %s: want %v, got %v", base, high, in.Amount.High)
			}
		}
	})
}

// corners returns the least and the most nitrite of every combination of ends.
func corners(s formula.Sheet, base rulebook.Base) (low, high float64) {
	low = 1e300
	n := len(s.Lines)
	for corner := range 1 << n {
		for _, end := range []float64{0.004, 0.009} { // the range of the generic nitrite salt
			nitrite, total := 0.0, 0.0
			for i, l := range s.Lines {
				m := l.Range.Low.Grams()
				if corner>>i&1 == 1 {
					m = l.Range.High.Grams()
				}
				if l.Role == formula.Cure {
					nitrite += end * m
				}
				if base == rulebook.Batch || l.Role == formula.Meat {
					total += m
				}
			}
			low, high = min(low, 1e6*nitrite/total), max(high, 1e6*nitrite/total)
		}
	}
	return low, high
}

// A limit that is known from memory only can withhold, it can't pass.
func TestMemoryNeverPasses(t *testing.T) {
	t.Parallel()
	salted := func(g float64) formula.Formula {
		return cured(generic("cure-1"), per(2, 1000), added("salt", formula.Salt, "salt-table", per(g, 1000)))
	}
	kept := check(t, order(salted(26), rulebook.UnitedStates))
	for _, rule := range []string{"salt-floor", "salt-ceiling"} {
		if got := by(t, kept, rule); got.Status != finding.NotShown {
			t.Errorf("%s kept: want not shown, got %s", rule, got.Status)
		}
	}
	if got := by(t, check(t, order(salted(10), rulebook.UnitedStates)), "salt-floor"); got.Status != finding.NotMet {
		t.Errorf("salt under the floor: want not met, got %s", got.Status)
	}
	if got := by(t, check(t, order(salted(50), rulebook.UnitedStates)), "salt-ceiling"); got.Status != finding.NotMet {
		t.Errorf("salt over the ceiling: want not met, got %s", got.Status)
	}
	for _, j := range rulebook.Jurisdictions() {
		for _, f := range check(t, order(salted(26), j)).Findings {
			if f.Status == finding.Met && f.Source.Trust.String() == "memory" {
				t.Errorf("%s is met by a limit from memory", f.Key())
			}
		}
	}
}

// The salt of the cure counts, cx-salt-1 (arithmetic): 25.65625 g of plain salt
// and 2.5 g of a cure with 93.75 % salt are 2.8 % of a kilogram.
func TestTheSaltOfTheCureCounts(t *testing.T) {
	t.Parallel()
	f := cured(assay(6.25, 0), per(2.5, 1000), added("salt", formula.Salt, "salt-table", per(25.65625, 1000)))
	got := by(t, check(t, order(f, rulebook.UnitedStates)), "salt-floor")
	quantitytest.Near(t, "salt", 2.8, got.Measured.Value.Value(), 1e-9)
}

// Nitrate without nitrite has a row of its own in the EU from 9 October 2025:
// 110 mg/kg as ion for dry sausage, in place of 90.
func TestARowTakesThePlaceOfAnother(t *testing.T) {
	t.Parallel()
	f := cured(assay(0, 10), per(1.4, 1000)) // 140 mg of NaNO3, 102 of ion
	a := check(t, order(f, rulebook.EuropeanUnion))
	if got := by(t, a, "eu-nitrate-0831-dry"); got.Status != finding.Met {
		t.Errorf("want the row for products without nitrite met, got %s: %s", got.Status, got.Reason)
	}
	if got := by(t, a, "eu-nitrate-0831"); got.Status != finding.NotApplicable {
		t.Errorf("want the general row not applicable, got %s", got.Status)
	}
	both := cured(assay(5, 10), per(1.4, 1000))
	a = check(t, order(both, rulebook.EuropeanUnion))
	if got := by(t, a, "eu-nitrate-0831"); got.Status != finding.NotMet {
		t.Errorf("with nitrite: want the general row not met, got %s", got.Status)
	}
}

func TestWhatAFormulaCannotShow(t *testing.T) {
	t.Parallel()
	f := cured(generic("cure-1"), per(2, 1000))
	a := check(t, order(f, rulebook.EuropeanUnion, rulebook.AustraliaNewZealand, rulebook.CodexAlimentarius, rulebook.Brazil))
	for _, rule := range []string{"eu-nitrite-0831-res", "anz-nitrite", "br-sum"} {
		if got := by(t, a, rule); got.Status != finding.NotShown {
			t.Errorf("%s: want not shown, got %s", rule, got.Status)
		}
	}
	for _, j := range []string{"anz", "codex", "br"} {
		i := slices.IndexFunc(a.Findings, func(f finding.Finding) bool { return f.Rulebook == j && f.LimitID == "" })
		if i < 0 || a.Findings[i].Status != finding.NotShown {
			t.Errorf("%s has no row for ingoing nitrite: want that said", j)
		}
	}
	organic := by(t, a, "eu-organic-nitrite")
	if organic.Status != finding.NotShown {
		t.Errorf("a row that names its products: want not shown, got %s", organic.Status)
	}
}

func TestPractice(t *testing.T) {
	t.Parallel()
	dextrose := func(g float64) formula.Addition {
		return added("dextrose", formula.Sugar, "dextrose-anhydrous", per(g, 1000))
	}
	culture := func(change func(*formula.Addition)) formula.Addition {
		a := added("culture", formula.Culture, "culture-carrier", per(0.25, 1000))
		change(&a)
		return a
	}
	none := func(*formula.Addition) {}
	for _, c := range []struct {
		name string
		f    formula.Formula
		rule string
		want finding.Status
	}{
		{"no culture asks for no sugar", cured(generic("cure-1"), per(2.5, 1000)), "sugar-for-acid", finding.NotApplicable},
		{"too little sugar", cured(generic("cure-1"), per(2.5, 1000), culture(none), dextrose(1)), "sugar-for-acid", finding.NotMet},
		{"usual sugar", cured(generic("cure-1"), per(2.5, 1000), culture(none), dextrose(5)), "sugar-for-acid", finding.Met},
		{"a lot of sugar", cured(generic("cure-1"), per(2.5, 1000), culture(none), dextrose(30)), "sugar-for-acid", finding.NotMet},
		{
			"a spice by name only brings no sugar",
			cured(generic("cure-1"), per(2.5, 1000), culture(none), formula.Addition{Name: "pepper", Role: formula.Spice, Rate: per(3, 1000)}),
			"sugar-for-acid", finding.NotMet,
		},
		{
			"sugar of which nothing is known",
			cured(generic("cure-1"), per(2.5, 1000), culture(none), formula.Addition{Name: "mix", Role: formula.Other, Rate: per(9, 1000)}),
			"sugar-for-acid", finding.NotShown,
		},
		{"no culture", cured(generic("cure-1"), per(2.5, 1000)), "culture-dose", finding.NotApplicable},
		{"a dose without a label", cured(generic("cure-1"), per(2.5, 1000), culture(none)), "culture-dose", finding.NotShown},
		{
			"less than the label",
			cured(generic("cure-1"), per(2.5, 1000), culture(func(a *formula.Addition) { a.LabelDose = quantity.MustPPM(300) })),
			"culture-dose", finding.NotMet,
		},
		{
			"the label's dose",
			cured(generic("cure-1"), per(2.5, 1000), culture(func(a *formula.Addition) { a.LabelDose = quantity.MustPPM(250) })),
			"culture-dose", finding.Met,
		},
		{
			"too few cells: 10^9 x 0.25/1002.75 is 2.5 x 10^5",
			cured(generic("cure-1"), per(2.5, 1000), culture(func(a *formula.Addition) { a.Activity = quantity.MustCFUPerGram(1e9) })),
			"culture-dose", finding.NotMet,
		},
		{
			"cells enough, by a figure from memory",
			cured(generic("cure-1"), per(2.5, 1000), culture(func(a *formula.Addition) { a.Activity = quantity.MustCFUPerGram(1e11) })),
			"culture-dose", finding.NotShown,
		},
		{
			"no cure in a raw sausage",
			formula.Formula{Product: rulebook.DrySausage, Parts: cured(nil, formula.Rate{}).Parts},
			"cure-present", finding.NotMet,
		},
		{"nitrite is there", cured(generic("cure-1"), per(2.5, 1000)), "cure-present", finding.NotShown},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := by(t, check(t, order(c.f, rulebook.UnitedStates)), c.rule)
			if got.Status != c.want {
				t.Errorf("want %s, got %s: %s", c.want, got.Status, got.Reason)
			}
		})
	}
}

func TestAccelerators(t *testing.T) {
	t.Parallel()
	// 9 CFR 424.21(c): 3/4 oz of ascorbic acid in 100 lb is 468.75 ppm.
	f := cured(generic("cure-1"), per(2.5, 1000), added("ascorbic acid", formula.Accelerator, "ascorbic-acid", per(0.46875, 1000)),
		added("salt", formula.Salt, "salt-table", per(26, 1000)))
	a := check(t, order(f, rulebook.UnitedStates))
	if got := by(t, a, "us-accel-1"); got.Status != finding.Met {
		t.Errorf("at the limit: want met, got %s: %s", got.Status, got.Reason)
	}
	f.Additions[1].Rate = per(0.5, 1000)
	a = check(t, weighed(f, 10000, rulebook.UnitedStates))
	if got := by(t, a, "us-accel-1"); got.Status != finding.NotMet {
		t.Errorf("over it: want not met, got %s", got.Status)
	}
	if len(a.Remedies) != 2 || len(a.Remedies[0].Changes) != 1 {
		t.Fatalf("want a remedy before mixing with one change and one after, got %+v", a.Remedies)
	}
	// 468.75 mg/kg of 10 kg is 4.6875 g, on a scale of a tenth 4.6 g.
	quantitytest.Near(t, "ascorbic acid", 4.6, a.Remedies[0].Changes[0].To.Grams(), 1e-9)

	bare := formula.Formula{
		Product: rulebook.DrySausage, Parts: f.Parts,
		Additions: []formula.Addition{added("ascorbic acid", formula.Accelerator, "ascorbic-acid", per(0.4, 1000))},
	}
	if got := by(t, check(t, order(bare, rulebook.UnitedStates)), "us-accel-only-cured"); got.Status == finding.Met {
		t.Error("an accelerator without a cure must not be met")
	}
}

func TestARulebookTwiceIsAFault(t *testing.T) {
	t.Parallel()
	if _, err := curing.Check(order(cured(generic("cure-1"), per(2.5, 1000)), rulebook.Canada, rulebook.Canada)); err == nil {
		t.Error("want a fault")
	}
}

// anyCured draws a formula with one or two cures, salt and dextrose.
func anyCured(t *rapid.T) formula.Formula {
	f := cured(assay(rapid.Float64Range(0.4, 6.25).Draw(t, "nitrite"), rapid.SampledFrom([]float64{0, 1, 4}).Draw(t, "nitrate")),
		per(rapid.Float64Range(0.5, 8).Draw(t, "cure"), 1000))
	if rapid.Bool().Draw(t, "salted") {
		f.Additions = append(f.Additions, added("salt", formula.Salt, "salt-table", per(rapid.Float64Range(10, 40).Draw(t, "salt"), 1000)))
	}
	if rapid.IntRange(0, 3).Draw(t, "spooned") == 0 {
		f.Additions = append(f.Additions, added("spooned salt", formula.Salt, "sea-salt-fine",
			must(formula.VolumePer(must(quantity.Teaspoons(rapid.Float64Range(0.5, 8).Draw(t, "spoons"))), quantity.MustGrams(1000)))))
	}
	if rapid.Bool().Draw(t, "saltpetre") {
		f.Additions = append(f.Additions, formula.Addition{
			Name: "saltpetre", Role: formula.Cure, Cure: generic("saltpetre"), Rate: per(rapid.Float64Range(0.05, 1).Draw(t, "saltpetre dose"), 1000),
		})
	}
	if rapid.Bool().Draw(t, "erythorbate") {
		f.Additions = append(f.Additions, added("erythorbate", formula.Accelerator, "sodium-erythorbate",
			per(rapid.Float64Range(0.2, 1).Draw(t, "erythorbate dose"), 1000)))
	}
	if rapid.Bool().Draw(t, "culture") {
		f.Additions = append(f.Additions, added("culture", formula.Culture, "culture-carrier", per(rapid.Float64Range(0.05, 0.5).Draw(t, "culture dose"), 1000)))
	}
	f.Additions = append(f.Additions, added("dextrose", formula.Sugar, "dextrose-monohydrate", per(rapid.Float64Range(1, 8).Draw(t, "dextrose"), 1000)))
	f.Plan.LabelStorageIsKnown, f.Plan.KeepRefrigerated = true, rapid.Bool().Draw(t, "keep refrigerated")
	return f
}

// What a remedy says it resolves is resolved when the remedied formula is
// checked anew, from its weights; it makes nothing of its rulebooks or of the
// trade fail, tells what it breaks elsewhere, takes no cure out whole, takes
// nothing out after mixing, and asks for whole divisions of the scale.
func TestRemediesHold(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyCured(t)
		asked := rapid.Permutation([]rulebook.Jurisdiction{
			rulebook.UnitedStates, rulebook.EuropeanUnion, rulebook.GreatBritain, rulebook.Canada,
		}).Draw(t, "rulebooks")[:rapid.IntRange(1, 3).Draw(t, "how many")]
		o := weighed(f, rapid.SampledFrom([]float64{300, 1000, 5000, 50000}).Draw(t, "meat"), asked...)
		o.Scaling.Scale = formula.Divisions{{Division: quantity.MustGrams(rapid.SampledFrom([]float64{0.01, 0.1, 1, 5}).Draw(t, "division"))}}
		a, err := curing.Check(o)
		if err != nil {
			t.Fatal(err)
		}
		remediesHold(t, o, a)
	})
}

// remediesHold checks each remedy of an answer anew, from its weights.
func remediesHold(t *rapid.T, o curing.Order, a curing.Answer) {
	before := map[string]finding.Status{}
	for _, x := range a.Findings {
		before[x.Key()] = x.Status
	}
	for _, r := range a.Remedies {
		checkChanges(t, r)
		if r.When == curing.AfterMixing && slices.ContainsFunc(o.Scaling.Formula.Additions, func(a formula.Addition) bool { return a.Name == "spooned salt" }) {
			continue // what is spooned and then added to by weight can't be posted again as one formula
		}
		again, err := curing.Check(remedied(o, r))
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range again.Findings {
			bad := x.Status == finding.NotMet || x.Status == finding.Near
			was := before[x.Key()] == finding.NotMet || before[x.Key()] == finding.Near
			ours := x.Rulebook == "" || slices.ContainsFunc(r.Rulebooks, func(j rulebook.Jurisdiction) bool { return j.String() == x.Rulebook })
			switch {
			case bad && slices.Contains(r.Resolves, x.Key()):
				t.Fatalf("%s says it resolves %s, which is %s: %s", r.Text, x.Key(), x.Status, x.Reason)
			case bad && ours && !was:
				t.Fatalf("%s breaks %s: %s", r.Text, x.Key(), x.Reason)
			case bad && was && !slices.Contains(r.Unresolved, x.Key()):
				t.Fatalf("%s leaves %s unsaid: %s", r.Text, x.Key(), x.Reason)
			case bad && !ours && !was && !slices.Contains(r.Breaks, x.Key()):
				t.Fatalf("%s breaks %s and does not say so: %s", r.Text, x.Key(), x.Reason)
			}
		}
	}
}

func checkChanges(t *rapid.T, r curing.Remedy) {
	for _, c := range r.Changes {
		steps := c.OnScale.Grams() / c.Division.Grams()
		if d := steps - float64(int64(steps+0.5)); d > 1e-6 || d < -1e-6 {
			t.Fatalf("%s: %s of %s is no whole number of divisions of %s", r.Text, c.OnScale, c.Name, c.Division)
		}
		if r.When == curing.AfterMixing && c.To.Less(c.From) {
			t.Fatalf("%s takes out %s", r.Text, c.Name)
		}
		if c.Name == "cure" && c.To.IsZero() {
			t.Fatalf("%s takes the cure out whole", r.Text)
		}
	}
}

// remedied is an order for the weights of a remedy.
func remedied(o curing.Order, r curing.Remedy) curing.Order {
	sheet := must(formula.Scale(o.Scaling))
	to := map[string]quantity.Mass{}
	for _, l := range sheet.Lines {
		to[l.Name] = l.OnScale()
	}
	for _, c := range r.Changes {
		to[c.Name] = c.To
	}
	f := o.Scaling.Formula
	meat := to["meat"]
	f.Additions = slices.Clone(f.Additions)
	for i, a := range f.Additions {
		spooned := slices.ContainsFunc(sheet.Lines, func(l formula.Line) bool { return l.Name == a.Name && l.Spooned() })
		if spooned && !slices.ContainsFunc(r.Changes, func(c curing.Change) bool { return c.Name == a.Name }) {
			continue // still to be spooned
		}
		f.Additions[i].Rate = must(formula.MassPer(to[a.Name], meat))
	}
	for name, key := range map[string]string{"Plain salt": "salt-table", "Dextrose, monohydrate": "dextrose-monohydrate"} {
		if m, ok := to[name]; ok {
			f.Additions = append(f.Additions, added(name, formula.Spice, key, must(formula.MassPer(m, meat))))
		}
	}
	f.Additions = slices.DeleteFunc(f.Additions, func(a formula.Addition) bool { return to[a.Name].IsZero() })
	o.Scaling.Formula = f
	o.Scaling.Amount.Meat = meat
	return o
}

// More of a cure never makes a ceiling that was not met met.
func TestCeilingsAreMonotone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		dose := rapid.Float64Range(0.1, 9).Draw(t, "dose")
		more := dose * rapid.Float64Range(1, 3).Draw(t, "more")
		for _, j := range []rulebook.Jurisdiction{rulebook.UnitedStates, rulebook.EuropeanUnion, rulebook.Canada} {
			a, err := curing.Check(order(cured(generic("cure-2"), per(dose, 1000)), j))
			if err != nil {
				t.Fatal(err)
			}
			b, err := curing.Check(order(cured(generic("cure-2"), per(more, 1000)), j))
			if err != nil {
				t.Fatal(err)
			}
			for i, f := range a.Findings {
				if f.Rulebook == "" || f.Limit.Comparator != "<=" || f.Status != finding.NotMet {
					continue
				}
				k := slices.IndexFunc(b.Findings, func(g finding.Finding) bool { return g.Key() == f.Key() })
				if k < 0 || b.Findings[k].Status == finding.Met {
					t.Fatalf("%s: not met at %v g/kg, met at %v", a.Findings[i].Key(), dose, more)
				}
			}
		}
	})
}

// However coarse the scale: rounding can't hide a hazard.
func TestACoarseScaleHidesNoHazard(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		cure           *rulebook.Cure
		dose           float64 // g in a kilogram
		meat, division float64
	}{
		{generic("sodium-nitrite"), 2.5, 200, 1},  // 0.5 g, rounds to nothing
		{generic("sodium-nitrite"), 2.5, 1900, 5}, // 4.75 g, rounds to nothing
		{generic("sodium-nitrite"), 0.7, 1900, 1}, // 1.33 g, rounds to 1
		{assay(6.25, 0), 20, 240, 5},              // 4.8 g, rounds to nothing
	} {
		o := weighed(cured(c.cure, per(c.dose, 1000)), c.meat, rulebook.UnitedStates)
		o.Scaling.Scale = formula.Divisions{{Division: quantity.MustGrams(c.division)}}
		sheet, hazards, err := curing.WeighOut(o.Scaling)
		if err != nil || sheet != nil || len(hazards) != 1 {
			t.Errorf("%s at %v g/kg on %v g: want one hazard and no sheet, got %d, %v", c.cure.Name, c.dose, c.meat, len(hazards), err)
		}
		if got := by(t, check(t, o), "nitrite-hazard"); got.Status != finding.Hazard {
			t.Errorf("want the check to say so too, got %s", got.Status)
		}
	}
}

// 1.25 g of a 6.25 % cure on 500 g weighs 1 g on a scale of 1 g, 81 mg/kg of ion
// against 80: the next weight is nothing, which is no remedy.
func TestNoCureAtAllIsNoRemedy(t *testing.T) {
	t.Parallel()
	o := weighed(cured(assay(6.25, 0), per(2.5, 1000), added("salt", formula.Salt, "salt-table", per(26, 1000))), 500, rulebook.EuropeanUnion)
	o.Scaling.Scale = formula.Divisions{{Division: quantity.MustGrams(1)}}
	a := check(t, o)
	if got := by(t, a, "eu-nitrite-0831"); got.Status != finding.NotMet || got.Remedy == "" {
		t.Errorf("want not met with a word on it, got %s and %q", got.Status, got.Remedy)
	}
	for _, r := range a.Remedies {
		if r.When == curing.BeforeMixing {
			t.Errorf("want no remedy before mixing, got %s", r.Text)
		}
	}
}

// One remedy for all the rulebooks asked for where there is one: with a finer
// scale 1.93 g keep 80 mg/kg of ion on the batch and 120 mg/kg of NaNO2 on the
// meat; with a scale of 0.1 g nothing keeps both, and each says what it breaks.
func TestRulebooksTogether(t *testing.T) {
	t.Parallel()
	f := cured(assay(6.25, 0), per(2.4, 1000), added("salt", formula.Salt, "salt-table", per(26, 1000)))
	f.Plan.LabelStorageIsKnown, f.Plan.KeepRefrigerated = true, true
	o := weighed(f, 1000, rulebook.UnitedStates, rulebook.EuropeanUnion)
	coarse := check(t, o).Remedies
	if len(coarse) == 0 || len(coarse[0].Rulebooks) != 1 || !slices.Contains(coarse[0].Breaks, "us-nitrite-min-keeprefrig") {
		t.Errorf("on a coarse scale: want a remedy for eu that says what it breaks in us, got %+v", coarse)
	}
	o.Scaling.Scale = formula.Divisions{{Division: quantity.MustGrams(0.01)}}
	fine := check(t, o).Remedies
	if len(fine) == 0 || len(fine[0].Rulebooks) != 2 || len(fine[0].Unresolved)+len(fine[0].Breaks) != 0 {
		t.Errorf("on a fine scale: want one remedy for both, got %+v", fine)
	}
}

// What is to be spooned and would be right when weighed is a change.
func TestWeighingInsteadOfSpooningIsAChange(t *testing.T) {
	t.Parallel()
	spoon := must(formula.VolumePer(must(quantity.Tablespoons(1.8)), quantity.MustGrams(1000)))
	f := cured(assay(6.25, 0), per(1, 1000), added("salt", formula.Salt, "salt-table", spoon))
	a := check(t, weighed(f, 1000, rulebook.UnitedStates))
	if got := by(t, a, "salt-ceiling"); got.Status != finding.Near {
		t.Fatalf("want the spoon near the ceiling, got %s: %s", got.Status, got.Reason)
	}
	if len(a.Remedies) == 0 || len(a.Remedies[0].Changes) != 1 || !a.Remedies[0].Changes[0].Spooned {
		t.Fatalf("want to weigh the salt, got %+v", a.Remedies)
	}
}

// Nitrate in a cooked sausage has no row in the EU: nothing shows that it is
// allowed, and silence would read as a pass.
func TestWhatARulebookHasNoRowForIsNotShown(t *testing.T) {
	t.Parallel()
	f := cured(generic("saltpetre"), per(1.5, 1000))
	f.Product = rulebook.CookedSausage
	for _, j := range []rulebook.Jurisdiction{rulebook.EuropeanUnion, rulebook.GreatBritain} {
		if got := by(t, check(t, order(f, j)), "nitrate-ingoing-ceiling"); got.Status != finding.NotShown {
			t.Errorf("%s: want not shown, got %s", j, got.Status)
		}
	}
	none := check(t, order(formula.Formula{Product: rulebook.DrySausage, Parts: f.Parts}, rulebook.CodexAlimentarius))
	if i := slices.IndexFunc(none.Findings, func(f finding.Finding) bool { return f.Code == "nitrite-ingoing-ceiling" }); i >= 0 {
		t.Error("want no word on ingoing nitrite when none is added")
	}
}

// Nitrate ends as nitrite in the product, which is what the residual rows count.
func TestNitrateCountsForResidualNitrite(t *testing.T) {
	t.Parallel()
	a := check(t, order(cured(generic("saltpetre"), per(0.1, 1000)), rulebook.EuropeanUnion, rulebook.AustraliaNewZealand))
	for _, rule := range []string{"eu-nitrite-0831-res", "anz-nitrite"} {
		if got := by(t, a, rule); got.Status != finding.NotShown {
			t.Errorf("%s: want not shown, got %s: %s", rule, got.Status, got.Reason)
		}
	}
}

// A mix of which only the name is known may bring anything: a ceiling is then
// not shown, unless the maker states that it brings none.
func TestAnUnknownMixWithholds(t *testing.T) {
	t.Parallel()
	mix := formula.Addition{Name: "mix", Role: formula.Other, Rate: per(20, 1000)}
	if got := by(t, check(t, order(cured(assay(6.25, 0), per(2.5, 1000), mix), rulebook.UnitedStates)), "us-nitrite-comminuted"); got.Status != finding.NotShown {
		t.Errorf("want not shown, got %s: %s", got.Status, got.Reason)
	}
	if got := by(t, check(t, order(cured(assay(6.25, 0), per(3, 1000), mix), rulebook.UnitedStates)), "us-nitrite-comminuted"); got.Status != finding.NotMet {
		t.Errorf("over the limit without it: want not met, got %s", got.Status)
	}
	mix.BringsNone = true
	if got := by(t, check(t, order(cured(assay(6.25, 0), per(2.5, 1000), mix), rulebook.UnitedStates)), "us-nitrite-comminuted"); got.Status != finding.Met {
		t.Errorf("stated to bring none: want met, got %s: %s", got.Status, got.Reason)
	}
}

// 0.25 tsp for 2268 g of a culture of 4 x 10^9 CFU/g: 0.35 to 1.05 g in a batch
// of 2273.7 g are 6.2 x 10^5 to 1.8 x 10^6 CFU/g, around the target, and by hand
// 2273.7 g x 10^6 / (4 x 10^9) = 0.568 g, 0.6 g on the scale, reach it.
func TestCellsOfASpoonful(t *testing.T) {
	t.Parallel()
	culture := added("culture", formula.Culture, "culture-carrier", must(formula.VolumePer(must(quantity.Teaspoons(0.25)), quantity.MustGrams(2268))))
	culture.Activity = quantity.MustCFUPerGram(4e9)
	f := cured(assay(6.25, 0), per(2.2, 1000), culture, added("dextrose", formula.Sugar, "dextrose-anhydrous", per(5, 1000)),
		added("salt", formula.Salt, "salt-table", per(26, 1000)))
	a := check(t, weighed(f, 2268, rulebook.UnitedStates))
	got := by(t, a, "culture-dose")
	if got.Status != finding.Near {
		t.Errorf("want near, got %s: %s", got.Status, got.Reason)
	}
	quantitytest.Near(t, "low end", 6e5, got.Measured.Range.Low.Value(), 5e4)
	if len(a.Remedies) == 0 || len(a.Remedies[0].Changes) != 1 {
		t.Fatalf("want to weigh the culture, got %+v", a.Remedies)
	}
	quantitytest.Near(t, "culture", 0.6, a.Remedies[0].Changes[0].OnScale.Grams(), 1e-9)
}

// What a spoonful weighs is recalled for cure no. 2: it can't pass a ceiling.
func TestARecalledSpoonfulWithholds(t *testing.T) {
	t.Parallel()
	spoon := must(formula.VolumePer(must(quantity.Teaspoons(0.35)), quantity.MustGrams(1000)))
	got := by(t, check(t, order(cured(generic("cure-2"), spoon), rulebook.UnitedStates)), "us-nitrite-comminuted")
	if got.Status != finding.NotShown {
		t.Errorf("want not shown, got %s: %s", got.Status, got.Reason)
	}
}

// A cure that the scale can't weigh is no cure, and the answer says why.
func TestACureThatRoundsToNothing(t *testing.T) {
	t.Parallel()
	o := weighed(cured(assay(6.25, 0), per(2.5, 1000)), 200, rulebook.EuropeanUnion)
	o.Scaling.Scale = formula.Divisions{{Division: quantity.MustGrams(1)}}
	a := check(t, o)
	if got := by(t, a, "cure-present"); got.Status != finding.NotMet || got.Remedy != "Use a finer scale, or make more." {
		t.Errorf("want not met with the scale to blame, got %s: %s %s", got.Status, got.Reason, got.Remedy)
	}
	if got := by(t, a, "eu-nitrite-0831"); got.Status != finding.NotApplicable || got.Reason == "none is added" {
		t.Errorf("want the rounding told, got %s: %s", got.Status, got.Reason)
	}
}

// Next to no cure is not a cure: 6 mg/kg, against the 40 from which nitrite is
// described as having some effect (FSIS Directive 7620.3, rev. 1995, p. 12).
func TestNextToNoCure(t *testing.T) {
	t.Parallel()
	got := by(t, check(t, order(cured(assay(6.25, 0), per(0.1, 1000)), rulebook.UnitedStates)), "cure-present")
	if got.Status != finding.NotMet {
		t.Errorf("want not met, got %s: %s", got.Status, got.Reason)
	}
}

// What an unknown mix brings may be cure: a floor is not shown to be missed, and
// no remedy weighs more cure beside it. A ceiling that is exceeded without it is
// exceeded with it.
func TestAnUnknownMixAndAFloor(t *testing.T) {
	t.Parallel()
	mix := formula.Addition{Name: "mix", Role: formula.Other, Rate: per(8, 1000)}
	f := cured(assay(6.25, 0), per(1, 1000), mix, added("salt", formula.Salt, "salt-table", per(20, 1000)))
	a := check(t, weighed(f, 5000, rulebook.Canada))
	for _, rule := range []string{"ca-curing-floor", "salt-floor"} {
		if got := by(t, a, rule); got.Status != finding.NotShown {
			t.Errorf("%s: want not shown, got %s: %s", rule, got.Status, got.Reason)
		}
	}
	if len(a.Remedies) > 0 {
		t.Errorf("want no remedy, got %s", a.Remedies[0].Text)
	}
	if got := by(t, a, "ca-nitrate-slow"); got.Status != finding.NotShown {
		t.Errorf("nitrate of which none is counted: want not shown, got %s", got.Status)
	}
}

// Where lowering the cure to its ceiling would break its floor, because the
// assay is a range, what else fails is mended all the same, and the answer says
// to state the assay.
func TestWhatElseIsMended(t *testing.T) {
	t.Parallel()
	f := cured(generic("nitrite-salt"), per(32, 1000), added("acid", formula.Accelerator, "ascorbic-acid", per(2, 1000)))
	f.Plan.LabelStorageIsKnown, f.Plan.KeepRefrigerated = true, true
	a := check(t, weighed(f, 5000, rulebook.UnitedStates))
	if got := by(t, a, "us-accel-1"); len(a.Remedies) == 0 || !slices.Contains(a.Remedies[0].Resolves, "us-accel-1") {
		t.Errorf("want the acid mended, got %+v and %q", a.Remedies, got.Remedy)
	}
	if got := by(t, a, "us-nitrite-comminuted"); got.Remedy == "" || slices.ContainsFunc(a.Remedies, func(r curing.Remedy) bool { return r.Text == got.Remedy }) {
		t.Errorf("want to be told to state the assay, got %q", got.Remedy)
	}
}

// Both guides of the hazards exist; a hazard must not be lost to a misspelt id.
func TestTheGuidesOfTheHazards(t *testing.T) {
	t.Parallel()
	for id, want := range map[string]float64{"hardstop": 625, "hardstop-nitrate": 2187.5} {
		g, ok := rulebook.GuideByID(id)
		if p, known := g.Low.PPM(); !ok || !known || p.MilligramsPerKilogram() != want {
			t.Errorf("%s: want %v mg/kg, got %v", id, want, g.Low)
		}
	}
}

// Three equal parts of 203 g on a scale of 5 g weigh 70, 70 and 65 g or less:
// the cure is dosed on what they weigh, so 612.5 mg/kg is no hazard and 643.75
// is one, however the parts round.
func TestHazardsOnRoundedMeat(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		dose, meat float64
		want       int
	}{{9.8, 203, 0}, {10.3, 202, 1}} {
		f := cured(assay(6.25, 0), per(c.dose, 1000))
		f.Parts = nil
		for _, name := range []string{"a", "b", "c"} {
			f.Parts = append(f.Parts, formula.Part{Name: name, Material: *mat("pork-backfat"), Share: quantity.MustPercent(33.33)})
		}
		_, hazards, err := curing.WeighOut(formula.Order{
			Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(c.meat)}, Scale: formula.Divisions{{Division: quantity.MustGrams(5)}},
		})
		if err != nil || len(hazards) != c.want {
			t.Errorf("%v g/kg on %v g: want %d hazards, got %d, %v", c.dose, c.meat, c.want, len(hazards), err)
		}
	}
}

// The batch grows by what is added of a culture: by hand, 0.2 g/kg of 10^9 CFU/g
// in a batch of 50 kg x 1.0312 has 0.001 of it wanted, 51.6 g and a little more.
func TestCellsOfALargeBatch(t *testing.T) {
	t.Parallel()
	culture := added("culture", formula.Culture, "culture-carrier", per(0.2, 1000))
	culture.Activity = quantity.MustCFUPerGram(1e9)
	f := cured(assay(6.25, 0), per(2, 1000), culture, added("dextrose", formula.Sugar, "dextrose-anhydrous", per(3, 1000)),
		added("salt", formula.Salt, "salt-table", per(26, 1000)))
	a := check(t, weighed(f, 50000, rulebook.UnitedStates))
	if len(a.Remedies) == 0 || !slices.Contains(a.Remedies[0].Resolves, "culture-dose") {
		t.Fatalf("want the culture raised, got %+v", a.Remedies)
	}
	quantitytest.Near(t, "culture", 51.6, a.Remedies[0].Changes[0].OnScale.Grams(), 0.2)
}

func TestTextsForPeopleCountTheirZeros(t *testing.T) {
	t.Parallel()
	culture := added("culture", formula.Culture, "culture-carrier", per(0.2, 1000))
	culture.Activity = quantity.MustCFUPerGram(4e9)
	a := check(t, weighed(cured(assay(6.25, 0), per(3, 1000), culture), 400000, rulebook.UnitedStates, rulebook.EuropeanUnion))
	for _, f := range a.Findings {
		if strings.Contains(f.Reason+f.Remedy, "e+") {
			t.Errorf("%s: %s %s", f.Key(), f.Reason, f.Remedy)
		}
		if (f.Status == finding.NotMet || f.Status == finding.Near) && f.Remedy == "" {
			t.Errorf("%s fails and has no remedy", f.Key())
		}
	}
}

// The same of rules without an amount: that every cure seen is a blend does not
// show what a mix brings, and a cure that is not seen may be in it. What is seen
// to break a rule breaks it whatever the mix brings.
func TestAnUnknownMixAndConditions(t *testing.T) {
	t.Parallel()
	mix := formula.Addition{Name: "mix", Role: formula.Other, Rate: per(8, 1000)}
	acid := added("acid", formula.Accelerator, "ascorbic-acid", per(0.4, 1000))
	bare := formula.Formula{Product: rulebook.DrySausage, Parts: cured(nil, formula.Rate{}).Parts, Additions: []formula.Addition{acid, mix}}
	for _, c := range []struct {
		name, rule string
		f          formula.Formula
		in         rulebook.Jurisdiction
		want       finding.Status
	}{
		{"blends and a mix", "eu-salt-only", cured(assay(6.25, 0), per(1.5, 1000), mix), rulebook.EuropeanUnion, finding.NotShown},
		{"blends alone", "eu-salt-only", cured(assay(6.25, 0), per(1.5, 1000)), rulebook.EuropeanUnion, finding.Met},
		{"undiluted and a mix", "eu-salt-only", cured(generic("sodium-nitrite"), per(0.1, 1000), mix), rulebook.EuropeanUnion, finding.NotMet},
		{"an accelerator, no cure seen and a mix", "us-accel-only-cured", bare, rulebook.UnitedStates, finding.NotShown},
	} {
		if got := by(t, check(t, order(c.f, c.in)), c.rule); got.Status != c.want {
			t.Errorf("%s: want %s, got %s: %s", c.name, c.want, got.Status, got.Reason)
		}
	}
}

// What Find finds, Check finds too, and finds it alike but for remedies.
func TestFindIsCheckWithoutRemedies(t *testing.T) {
	t.Parallel()
	for _, nitrite := range []float64{1, 2.5, 5, 40} {
		f := cured(assay(6.25, 0), per(nitrite, 1000))
		asked := []rulebook.Jurisdiction{rulebook.UnitedStates, rulebook.EuropeanUnion}
		o := order(f, asked...)
		found, err := curing.Find(f, asked, o.Date)
		if err != nil || len(found) == 0 {
			t.Fatalf("found %d: %v", len(found), err)
		}
		all := check(t, o).Findings
		for _, g := range found {
			if !slices.ContainsFunc(all, func(h finding.Finding) bool {
				return h.Key() == g.Key() && h.Rulebook == g.Rulebook && h.Status == g.Status
			}) {
				t.Errorf("%g g: only Find has %s %s %s", nitrite, g.Rulebook, g.Key(), g.Status)
			}
		}
	}
	if _, err := curing.Find(cured(assay(6.25, 0), per(1, 1000)), []rulebook.Jurisdiction{rulebook.Canada, rulebook.Canada}, time.Time{}); err == nil {
		t.Error("a rulebook asked for twice is taken")
	}
}
