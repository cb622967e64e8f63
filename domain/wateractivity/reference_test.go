package wateractivity_test

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/wateractivity"
)

// Worked rows on water activity, each by its id.
//
//go:embed testdata/reference.json
var referenceRows []byte

type referenceRow struct {
	ID     string
	Inputs struct {
		Molality []float64 `json:"nacl_mol_per_kg_water"`
		Grams    []float64 `json:"salt_g_per_100g_water"`
		Brine    []float64 `json:"salt_percent_of_brine"`
		Solute   []string  `json:"solute"`
		Percent  []float64 `json:"percent_w_w"`
		Losses   []float64 `json:"loss_percent"`
		Moisture []float64 `json:"moisture_percent"`
	}
	Expected struct {
		Activity []float64 `json:"water_activity"`
		Low      []float64 `json:"water_activity_low"`
		High     []float64 `json:"water_activity_high"`
	}
	Tolerance struct{ Absolute float64 }
}

func TestEveryRowOfTheReference(t *testing.T) {
	t.Parallel()
	var rows []referenceRow
	if err := json.Unmarshal(referenceRows, &rows); err != nil {
		t.Fatal(err)
	}
	if len(rows) != 6 {
		t.Fatalf("the reference has 6 rows on water activity, got %d", len(rows))
	}
	brine := func(t *testing.T, perWater float64) float64 {
		t.Helper()
		return ok(wateractivity.Brine(quantity.MustRatio(perWater)))(t).Float()
	}
	checks := map[string]func(*testing.T, referenceRow){
		// Robinson and Stokes; the formula of Pitzer is within 0.0006 of every row.
		"aw-nacl-molal": func(t *testing.T, r referenceRow) {
			t.Helper()
			for i, m := range r.Inputs.Molality {
				quantitytest.Near(t, fmt.Sprintf("%v mol/kg", m), r.Expected.Activity[i], brine(t, m*58.443/1000), math.Min(0.0006, r.Tolerance.Absolute))
			}
		},
		"aw-nacl-grams": func(t *testing.T, r referenceRow) {
			t.Helper()
			for i, g := range r.Inputs.Grams {
				quantitytest.Near(t, fmt.Sprintf("%v g", g), r.Expected.Activity[i], brine(t, g/100), r.Tolerance.Absolute)
			}
		},
		// The rows are those of the formula of Resnik and Chirife, which is 0.0005 above
		// the table of Robinson and Stokes up to 10 percent of brine and 0.001 at 15; from
		// that table Pitzer's is up to 0.0006 off the other way.
		"aw-resnik-chirife": func(t *testing.T, r referenceRow) {
			t.Helper()
			for i, s := range r.Inputs.Brine {
				formula := 1 - 0.0052471*s - 0.00012206*s*s
				quantitytest.Near(t, fmt.Sprintf("the formula at %v %%", s), r.Expected.Activity[i], formula, r.Tolerance.Absolute)
				quantitytest.Near(t, fmt.Sprintf("%v %% brine", s), r.Expected.Activity[i], brine(t, s/(100-s)), 0.0016)
			}
		},
		"norrish": func(t *testing.T, r referenceRow) {
			t.Helper()
			for i, p := range r.Inputs.Percent {
				s, known := wateractivity.ParseSolute(r.Inputs.Solute[i])
				if !known {
					t.Fatalf("%s is no solute", r.Inputs.Solute[i])
				}
				got := ok(wateractivity.Solution(s, quantity.MustRatio(p/(100-p))))(t)
				quantitytest.Near(t, r.Inputs.Solute[i], r.Expected.Activity[i], got.Float(), r.Tolerance.Absolute)
			}
		},
		// Four parts of lean and one of fat.
		"aw-anchor-dry-sausage": func(t *testing.T, r referenceRow) {
			t.Helper()
			for i, l := range r.Inputs.Losses {
				got := ok(blend(80).At(quantity.MustLossPercent(l)))(t).Float()
				if got < r.Expected.Low[i]-r.Tolerance.Absolute || got > r.Expected.High[i]+r.Tolerance.Absolute {
					t.Errorf("at %v %%: want %v to %v, got %v", l, r.Expected.Low[i], r.Expected.High[i], got)
				}
			}
		},
		// Green moisture 65.53 percent. Salt and protein are not printed; 1.8 percent and
		// 18 are assumed, as with 2.5 of salt the last row would be below 0.75, where
		// nothing is told. 47.83 percent of moisture is a loss of (65.53-47.83)/(1-0.4783).
		"aw-vs-moisture-harbin-fs4": func(t *testing.T, r referenceRow) {
			t.Helper()
			green := r.Inputs.Moisture[0]
			m := percent(green, 18, 100-green-18-1.8, 1.8, 0)
			for i, moisture := range r.Inputs.Moisture {
				loss := quantity.MustLossPercent((green - moisture) / (1 - moisture/100))
				got := ok(m.At(loss))(t)
				quantitytest.Near(t, fmt.Sprintf("at %v %% of moisture", moisture), r.Expected.Activity[i], got.Float(), r.Tolerance.Absolute)
			}
		},
	}
	for _, r := range rows {
		t.Run(r.ID, func(t *testing.T) {
			t.Parallel()
			check, known := checks[r.ID]
			if !known {
				t.Fatalf("nothing checks %s", r.ID)
			}
			check(t, r)
		})
	}
}

// A line that has been used for fermented sausage in Belgium (recalled, trust low),
// 1.0014 - 0.6039 of salt to water, is the salt alone within 0.0035 up to 0.15: it has
// no term of the meat.
func TestOtherLinesOfSaltAlone(t *testing.T) {
	t.Parallel()
	for ratio := 0.02; ratio <= 0.15; ratio += 0.01 {
		got := ok(wateractivity.Brine(quantity.MustRatio(ratio)))(t)
		quantitytest.Near(t, fmt.Sprintf("%.2f of salt to water", ratio), 1.0014-0.6039*ratio, got.Float(), 0.0035)
	}
}

// Glycerol of 1 percent in the typical mix, by hand: 10/92.094 = 0.1086 mol/kg, which
// takes exp(-0.0180153*0.1086/0.555) = 0.99648 of the fresh water activity, and at 35
// percent of loss, with 0.205 of water, exp(-0.0180153*0.1086/0.205) = 0.99050.
// Potassium chloride of 0.5 percent: 5/74.551 = 0.0671 mol/kg, which is 0.392 percent of
// salt.
func TestWithSolutes(t *testing.T) {
	t.Parallel()
	typical := wateractivity.TypicalMix()
	sweet := ok(typical.With(wateractivity.Glycerol, quantity.MustPercent(1)))(t)
	for loss, part := range map[float64]float64{0: 0.99648, 35: 0.99050} {
		at := quantity.MustLossPercent(loss)
		quantitytest.Near(t, fmt.Sprintf("glycerol at %v %%", loss), part*ok(typical.At(at))(t).Float(), ok(sweet.At(at))(t).Float(), 2e-5)
	}
	potash := ok(typical.With(wateractivity.PotassiumChloride, quantity.MustPercent(0.5)))(t)
	salter := typical
	salter.Salt = quantity.MustPercent(2.7 + 0.5*58.443/74.551)
	at := quantity.MustLossPercent(30)
	quantitytest.Near(t, "potassium chloride", ok(salter.At(at))(t).Float(), ok(potash.At(at))(t).Float(), 1e-12)

	_, none := typical.With(0, quantity.MustPercent(1))
	isFault(t, none, fault.Invalid, "invalid-value")
	_, much := typical.With(wateractivity.PotassiumChloride, quantity.MustPercent(1.1))
	isFault(t, much, fault.OutsideModel, "too-much-potassium")
	half := ok(typical.With(wateractivity.PotassiumChloride, quantity.MustPercent(0.6)))(t)
	_, twice := half.With(wateractivity.PotassiumChloride, quantity.MustPercent(0.6))
	isFault(t, twice, fault.OutsideModel, "too-much-potassium")
	// What is dissolved has a weight too: 98.4 percent are taken.
	full := ok(typical.With(wateractivity.Sorbitol, quantity.MustPercent(2)))(t)
	isFault(t, full.Validate(), fault.Invalid, "invalid-value", "#/water_percent", "#/protein_percent", "#/fat_percent", "#/salt_percent", "#/sugar_percent")
	_, salt := wateractivity.Solution(wateractivity.PotassiumChloride, quantity.MustRatio(0.1))
	isFault(t, salt, fault.Invalid, "invalid-value")
	_, less := wateractivity.Solution(wateractivity.Glycerol, quantity.MustRatio(-0.1))
	isFault(t, less, fault.Invalid, "invalid-value")
	for s := wateractivity.Glycerol; s <= wateractivity.PotassiumChloride; s++ {
		if got, known := wateractivity.ParseSolute(s.String()); !known || got != s {
			t.Errorf("%v is read as %v", s, got)
		}
	}
	if _, known := wateractivity.ParseSolute("unstated"); known || wateractivity.Solute(0).String() != "unstated" {
		t.Error("nothing is a solute")
	}
}

// At what a sausage holds of them, up to 3 g in 100 g of its water, a mole of each
// counts as any other: the simple rule is within 0.001 of Norrish.
func TestSolutesAtTheLevelsOfSausage(t *testing.T) {
	t.Parallel()
	grams := map[wateractivity.Solute]float64{
		wateractivity.Glycerol: 92.094, wateractivity.Sorbitol: 182.172, wateractivity.Xylose: 150.13, wateractivity.Sucrose: 342.297,
		wateractivity.Maltose: 342.297, wateractivity.Lactose: 342.297, wateractivity.Glucose: 180.156, wateractivity.LacticAcid: 90.078, wateractivity.Glycine: 75.067,
	}
	for s, mole := range grams {
		for _, perWater := range []float64{0.005, 0.01, 0.03} {
			simple := math.Exp(-0.0180153 * perWater * 1000 / mole)
			got := ok(wateractivity.Solution(s, quantity.MustRatio(perWater)))(t)
			quantitytest.Near(t, fmt.Sprintf("%v, %v of it to the water", s, perWater), simple, got.Float(), 0.001)
		}
	}
}

// More of anything dissolved is less water activity, and a target of it comes at less
// loss.
func TestSolutesLowerIt(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := wateractivity.TypicalMix()
		s := wateractivity.Solute(rapid.IntRange(int(wateractivity.Glycerol), int(wateractivity.PotassiumChloride)).Draw(t, "solute"))
		more := ok(m.With(s, quantity.MustPercent(rapid.Float64Range(0.05, 1).Draw(t, "percent"))))(t)
		loss := quantity.MustLossPercent(rapid.Float64Range(0, 40).Draw(t, "loss"))
		if a, b := ok(m.At(loss))(t), ok(more.At(loss))(t); !(b.Float() < a.Float()) {
			t.Errorf("%v more %v: from %v to %v", loss, s, a, b)
		}
		aw := quantity.MustWaterActivity(rapid.Float64Range(0.76, 0.95).Draw(t, "aw"))
		if a, b := ok(m.LossAt(aw))(t), ok(more.LossAt(aw))(t); !b.Less(a) {
			t.Errorf("aw %v at %v without and %v with %v", aw, a, b, s)
		}
	})
}

// What protein takes at some ratios of water to it, read off the isotherm by hand: with y
// = 0.96 aw the isotherm gives 1.304 at 0.99, and so on; to the two digits that are known.
func TestFactorOfProtein(t *testing.T) {
	t.Parallel()
	for ratio, want := range map[float64]float64{1.3: 0.99, 1.1: 0.98, 0.75: 0.95, 0.55: 0.92} {
		got := ok(wateractivity.Sorption(quantity.MustRatio(ratio)))(t)
		quantitytest.Near(t, fmt.Sprintf("at %v of water", ratio), want, got.Float(), 0.005)
	}
}

// Raoult's law, which counts every ion alike, is 0.0016 low at 1 mol of salt to the
// kilogram of water, 0.0013 high at 2, 0.009 at 3 and 0.022 at 4 (reckoned apart from
// Robinson and Stokes): why the brine is not told by it.
func TestRaoultFailsBeyondTwoMoles(t *testing.T) {
	t.Parallel()
	for molality, off := range map[float64]float64{1: -0.0016, 2: 0.0013, 3: 0.009, 4: 0.022} {
		raoult := 1 / (1 + 2*molality*0.0180153)
		got := ok(wateractivity.Brine(quantity.MustRatio(molality * 58.443 / 1000)))(t)
		quantitytest.Near(t, fmt.Sprintf("%v mol/kg", molality), off, raoult-got.Float(), 0.0008)
	}
}

// The solution of 0.5 mol/kg of potassium chloride that meters are checked with is 0.984.
// In a mixture of water with a trace of salt, 0.5 percent of it in 13.41 of water are 0.5
// mol/kg.
func TestPotassiumChlorideAsSalt(t *testing.T) {
	t.Parallel()
	got := ok(wateractivity.Brine(quantity.MustRatio(0.5 * 58.443 / 1000)))(t)
	quantitytest.Near(t, "counted as salt", 0.984, got.Float(), 0.001)
	m := ok(percent(13.414, 0, 80, 0, 0).With(wateractivity.PotassiumChloride, quantity.MustPercent(0.5)))(t)
	// The juice takes exp(-0.0180153*0.56) = 0.98996 besides.
	quantitytest.Near(t, "in a mixture", 0.984*0.98996, ok(m.At(quantity.Loss{}))(t).Float(), 0.001)
}
