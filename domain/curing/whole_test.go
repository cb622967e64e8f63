package curing_test

import (
	"fmt"
	"math"
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

// wholeProducts are those that are no sausage.
var wholeProducts = []rulebook.Class{
	rulebook.DryCuredMuscle, rulebook.ImmersionCuredMuscle, rulebook.PumpedMuscle,
	rulebook.DryCuredBacon, rulebook.ImmersionCuredBacon, rulebook.PumpedBacon,
}

// anyWhole draws a whole piece, dry cured or in a pickle.
func anyWhole(t *rapid.T) formula.Formula {
	product := rapid.SampledFrom(wholeProducts).Draw(t, "product")
	f := cured(assay(rapid.Float64Range(3, 6.25).Draw(t, "nitrite"), rapid.SampledFrom([]float64{0, 0, 2}).Draw(t, "nitrate")),
		per(rapid.Float64Range(0.5, 10).Draw(t, "cure"), 1000))
	f.Product = product
	f.Parts = []formula.Part{{Name: "meat", Material: *mat("pork-belly"), Share: quantity.MustPercent(100), SkinOn: rapid.Bool().Draw(t, "skin on")}}
	if rapid.IntRange(0, 3).Draw(t, "potassium") == 0 {
		f.Additions[0].Cure = potassium(rapid.Float64Range(3, 7).Draw(t, "KNO2"), 0)
	}
	times := 1.0
	if formula.Pickled(product) {
		times = 10
		f.Additions[0].Rate = per(rapid.Float64Range(5, 60).Draw(t, "cure in the pickle"), 1000)
		f.Additions = append(f.Additions, added("water", formula.Liquid, "water", per(rapid.Float64Range(500, 1500).Draw(t, "water"), 1000)))
		f.Pickle = &formula.Pickle{Method: formula.Equilibrium}
		if method := rapid.SampledFrom([]formula.PickleMethod{formula.Pumped, formula.PickUp, formula.Equilibrium}).Draw(t, "method"); method != formula.Equilibrium {
			f.Pickle = &formula.Pickle{Method: method, Uptake: quantity.MustPercent(rapid.Float64Range(3, 30).Draw(t, "uptake"))}
		}
	}
	if rapid.Bool().Draw(t, "salted") {
		f.Additions = append(f.Additions, added("salt", formula.Salt, "salt-table", per(times*rapid.Float64Range(10, 40).Draw(t, "salt"), 1000)))
	}
	if rapid.Bool().Draw(t, "erythorbate") {
		f.Additions = append(f.Additions, added("erythorbate", formula.Accelerator, "sodium-erythorbate",
			per(times*rapid.Float64Range(0.2, 1).Draw(t, "erythorbate dose"), 1000)))
	}
	f.Plan.LabelStorageIsKnown, f.Plan.KeepRefrigerated = true, rapid.Bool().Draw(t, "keep refrigerated")
	return f
}

var wholeRulebooks = []rulebook.Jurisdiction{rulebook.UnitedStates, rulebook.Canada, rulebook.EuropeanUnion, rulebook.Denmark}

// What a remedy of a whole piece says it resolves is resolved when the remedied
// formula is checked anew, and there is none once it is cured.
func TestRemediesOfWholePiecesHold(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyWhole(t)
		asked := rapid.Permutation(wholeRulebooks).Draw(t, "rulebooks")[:rapid.IntRange(1, 3).Draw(t, "how many")]
		o := weighed(f, rapid.SampledFrom([]float64{1000, 5000, 50000}).Draw(t, "meat"), asked...)
		o.Scaling.Scale = formula.Divisions{{Division: quantity.MustGrams(rapid.SampledFrom([]float64{0.01, 0.1, 1}).Draw(t, "division"))}}
		a, err := curing.Check(o)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range a.Remedies {
			if r.When == curing.AfterMixing {
				t.Fatalf("a remedy after curing: %s", r.Text)
			}
			if !strings.HasPrefix(r.Text, "Before curing: ") {
				t.Fatalf("%s is not said of curing", r.Text)
			}
		}
		remediesHold(t, o, a)
	})
}

// More cure never makes a ceiling that was not met met, on whatever base.
func TestCeilingsOfWholePiecesAreMonotone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyWhole(t)
		more := f
		more.Additions = slices.Clone(f.Additions)
		more.Additions[0].Rate = per(61*rapid.Float64Range(1, 2).Draw(t, "more"), 1000) // above any that is drawn
		a, b := must(curing.Check(order(f, wholeRulebooks...))), must(curing.Check(order(more, wholeRulebooks...)))
		for _, x := range a.Findings {
			if x.Rulebook == "" || x.Limit.Comparator != "<=" || x.Status != finding.NotMet || !strings.Contains(x.Limit.Basis.Agent, "nitr") {
				continue
			}
			k := slices.IndexFunc(b.Findings, func(y finding.Finding) bool { return y.Key() == x.Key() })
			if k < 0 || b.Findings[k].Status == finding.Met {
				t.Fatalf("%s: not met, and met with more cure", x.Key())
			}
		}
	})
}

// The order of the additions, the unit of the rates and the mass that is made
// change nothing that is found.
func TestWhatIsFoundDependsOnTheFormulaAlone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyWhole(t)
		if rapid.Bool().Draw(t, "sausage") {
			f = anyCured(t)
		}
		f.Additions = slices.DeleteFunc(f.Additions, func(a formula.Addition) bool { return a.Name == "spooned salt" })
		want := told(must(curing.Check(order(f, wholeRulebooks...))).Findings)
		shuffled := f
		shuffled.Additions = rapid.Permutation(f.Additions).Draw(t, "additions")
		compare(t, "in another order", want, told(must(curing.Check(order(shuffled, wholeRulebooks...))).Findings))

		pounds := f
		pounds.Additions = slices.Clone(f.Additions)
		for i, a := range f.Additions { // ounces for 100 lb
			s := must(formula.Scale(formula.Order{
				Formula: f, Amount: formula.Amount{Meat: must(quantity.Pounds(100))}, Scale: formula.Divisions{{Division: quantity.MustGrams(1e-9)}},
			}))
			k := slices.IndexFunc(s.Lines, func(l formula.Line) bool { return l.Name == a.Name })
			pounds.Additions[i].Rate = must(formula.MassPer(must(quantity.Ounces(s.Lines[k].Exact.Ounces())), must(quantity.Pounds(100))))
		}
		compare(t, "in ounces for 100 lb", want, told(must(curing.Check(order(pounds, wholeRulebooks...))).Findings))

		times := rapid.Float64Range(0.5, 400).Draw(t, "times")
		o := weighed(f, 1000*times, wholeRulebooks...)
		o.Scaling.Scale = formula.Divisions{{Division: quantity.MustGrams(1e-9)}}
		large := must(curing.Check(o))
		for i, x := range must(curing.Check(order(f, wholeRulebooks...))).Findings {
			if y := large.Findings[i]; x.Status != y.Status || math.Abs(x.Measured.Value.Value()-y.Measured.Value.Value()) > 1e-6*x.Measured.Value.Value() {
				t.Fatalf("%s: %s with %s, of %v times as much %s with %s", x.Key(), x.Status, x.Measured.Value, times, y.Status, y.Measured.Value)
			}
		}
	})
}

func compare(t *rapid.T, what string, want, got []string) {
	if d := cmp.Diff(want, got); d != "" {
		t.Fatalf("%s (-want +got):\n%s", what, d)
	}
}

// Rounding to the scale never lifts nitrite or nitrate over what the rates ask
// for, on any base of a whole piece.
func TestRoundingLiftsNoDoseOfAWholePiece(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyWhole(t)
		s := must(formula.Scale(formula.Order{
			Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(rapid.Float64Range(200, 20000).Draw(t, "meat"))},
			Scale: formula.Divisions{{Division: quantity.MustGrams(rapid.SampledFrom([]float64{0.01, 0.1, 1, 5}).Draw(t, "division"))}},
		}))
		bases := []rulebook.Base{rulebook.MeatBlock, rulebook.SkinlessBelly}
		if f.Pickle != nil {
			bases = append(bases, rulebook.Batch, rulebook.Pickle)
		}
		for _, base := range bases {
			for _, agent := range []rulebook.Agent{rulebook.Nitrite, rulebook.Nitrate} {
				in, ok := curing.IngoingOf(s, agent, rulebook.AsAdded, base)
				asked, also := curing.IngoingOf(s.AsAsked(), agent, rulebook.AsAdded, base)
				if !ok || !also {
					t.Fatalf("%s on %s is not computed", agent, base)
				}
				if asked.Amount.High.Compare(in.Amount.High) < 0 {
					t.Fatalf("%s on %s: %s is asked for and %s goes in", agent, base, asked.Amount.High, in.Amount.High)
				}
			}
		}
	})
}

// What goes in does not change by what leaves.
func TestDryingRebasesNothingThatGoesIn(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := anyWhole(t)
		if rapid.Bool().Draw(t, "sausage") {
			f = anyCured(t)
		}
		before := must(curing.Check(order(f, wholeRulebooks...)))
		loss := must(quantity.Percent(rapid.Float64Range(1, 60).Draw(t, "loss")))
		f.Plan.Loss = &loss
		after := must(curing.Check(order(f, wholeRulebooks...)))
		compare(t, "the table", figures(before.Ingoing), figures(after.Ingoing))
		for _, x := range before.Findings {
			k := slices.IndexFunc(after.Findings, func(y finding.Finding) bool { return y.Key() == x.Key() && y.Rulebook == x.Rulebook })
			if x.Limit.Basis.Phase == "ingoing" && (x.Status != after.Findings[k].Status || x.Measured != after.Findings[k].Measured) {
				t.Fatalf("%s: %s with %s, and with a loss %s with %s", x.Key(), x.Status, x.Measured.Value, after.Findings[k].Status, after.Findings[k].Measured.Value)
			}
		}
	})
}

func figures(all []finding.Figure) []string {
	lines := make([]string, 0, len(all))
	for _, f := range all {
		lines = append(lines, fmt.Sprintf("%s %s on %s: %s", f.Basis.Agent, f.Basis.Species, f.Basis.Base, f.Value))
	}
	return lines
}

// Each base natively: a belly of 1000 g with the skin on, pumped at 12 % with a
// pickle of 1000 g that holds 1 g of sodium nitrite and 1 g of potassium nitrite.
// As NaNO2 they are 1 + 0.810719 = 1.810719 g, 1810.719 mg/kg of pickle; on the
// green weight 217.286, without the skin 241.429, on the meat with its pickle
// 194.006. As ion times 0.666792, as KNO2 times 1.233473.
func TestEachBaseOfAPickleIsShown(t *testing.T) {
	t.Parallel()
	f := cured(assay(10, 0), per(10, 1000),
		formula.Addition{Name: "potassium cure", Role: formula.Cure, Cure: potassium(10, 0), Rate: per(10, 1000)},
		added("water", formula.Liquid, "water", per(980, 1000)))
	f.Product, f.Pickle = rulebook.PumpedBacon, &formula.Pickle{Method: formula.Pumped, Uptake: quantity.MustPercent(12)}
	f.Parts[0].SkinOn = true
	got := map[string]float64{}
	for _, i := range check(t, order(f, rulebook.UnitedStates)).Ingoing {
		got[i.Basis.Agent+" "+i.Basis.Species+" "+i.Basis.Base] = i.Value.Value()
	}
	for basis, want := range map[string]float64{
		"nitrite NaNO2 pickle": 1810.719, "nitrite NaNO2 meat": 217.2863, "nitrite NaNO2 skinless-belly": 241.4292, "nitrite NaNO2 batch": 194.0056,
		"nitrite NO2-ion meat": 144.8847, "nitrite KNO2 meat": 268.0168, "nitrite KNO2 pickle": 2233.473,
		"salt NaCl pickle": 1.8, "salt NaCl meat": 0.216,
	} {
		quantitytest.Near(t, basis, want, got[basis], 0.001)
	}
}

// Salt in the water phase: pork leg of the table with salt, by hand in the row.
func TestWaterPhaseSalt(t *testing.T) {
	t.Parallel()
	water, known := mat("pork-shoulder-whole-lean-and-fat").Composition.Water.Get()
	if !known {
		t.Fatal("the water of the meat is not known")
	}
	formulaOf := func(loss float64, more ...formula.Addition) formula.Formula {
		f := cured(assay(6.25, 0), per(2.5, 1000), append(more, added("salt", formula.Salt, "salt-table", per(26, 1000)))...)
		l := quantity.MustPercent(loss)
		f.Plan.Loss = &l
		return f
	}
	// 26 + 2.34375 g of salt in 1028.5 g; the water of the meat and the little that
	// is in the salt; at a loss of 35 % 359.975 g less of it.
	damp, _ := mat("salt-table").Composition.Water.Get()
	salt, left := 28.34375, 1000*water.Float()+26*damp.Float()-359.975
	got := by(t, check(t, order(formulaOf(35), rulebook.UnitedStates)), "water-phase-salt")
	quantitytest.Near(t, "of the water phase", 100*salt/(salt+left), got.Measured.Value.Value(), 1e-6)
	if got.Status != finding.NotShown {
		t.Errorf("within the usual range: want not shown, got %s: %s", got.Status, got.Reason)
	}
	// 100 g of water more.
	watered := by(t, check(t, order(formulaOf(35, added("water", formula.Liquid, "water", per(100, 1000))), rulebook.UnitedStates)), "water-phase-salt")
	left = 1000*water.Float() + 26*damp.Float() + 100 - 0.35*1128.5
	quantitytest.Near(t, "with water added", 100*salt/(salt+left), watered.Measured.Value.Value(), 1e-6)

	little := by(t, check(t, order(formulaOf(5), rulebook.UnitedStates)), "water-phase-salt")
	if little.Status != finding.NotMet {
		t.Fatalf("too little loss: want not met, got %s: %s", little.Status, little.Reason)
	}
	// The loss that it names gives the wanted share.
	var loss float64
	if _, err := fmt.Sscanf(little.Remedy, "A loss of %f percent", &loss); err != nil {
		t.Fatalf("%q: %v", little.Remedy, err)
	}
	quantitytest.Near(t, "at the loss that it names", 8, by(t, check(t, order(formulaOf(loss), rulebook.UnitedStates)), "water-phase-salt").Measured.Value.Value(), 0.02)

	for _, loss := range []float64{5, 15} { // one part of one way: neither kept nor broken is shown by a plan
		semi := formulaOf(loss)
		semi.Product = rulebook.SemiDrySausage
		if got := by(t, check(t, order(semi, rulebook.UnitedStates)), "water-phase-salt"); got.Status != finding.NotShown || got.Limit.Value.Value() != 5 {
			t.Errorf("semi-dry: want not shown against 5 %%, got %s: %s", got.Status, got.Reason)
		}
	}

	mix := formula.Addition{Name: "mix", Role: formula.Other, Rate: per(9, 1000)}
	if got := by(t, check(t, order(formulaOf(35, mix), rulebook.UnitedStates)), "water-phase-salt"); got.Status != finding.NotShown || !got.Measured.IsZero() {
		t.Errorf("a mix of unknown water: want no amount, got %s: %s", got.Status, got.Reason)
	}
}

func TestCulturesAndTheirWork(t *testing.T) {
	t.Parallel()
	culture := func(keys ...string) formula.Addition {
		a := added("culture", formula.Culture, "culture-carrier", per(0.2, 1000))
		for _, key := range keys {
			s, ok := rulebook.CultureByKey(key)
			if !ok {
				t.Fatalf("no species %s", key)
			}
			a.Species = append(a.Species, s)
		}
		return a
	}
	plan := func(f formula.Formula, celsius float64, days int) formula.Formula {
		step := formula.Step{Span: 48 * time.Hour}
		step.Temperature = known(quantity.MustCelsius(celsius))
		f.Plan.Fermentation = []formula.Step{step}
		f.Plan.Drying = []formula.Step{{Span: time.Duration(days) * 24 * time.Hour}}
		return f
	}
	dextrose := func(g float64) formula.Addition {
		return added("dextrose", formula.Sugar, "dextrose-anhydrous", per(g, 1000))
	}
	wanting := func(f formula.Formula, ph float64) formula.Formula {
		p := quantity.MustPH(ph)
		f.Plan.WantedPH = &p
		return f
	}
	nitrate, both := assay(0, 10), assay(6, 1)
	const sakei, acidilactici, xylosus = "latilactobacillus-sakei", "pediococcus-acidilactici", "staphylococcus-xylosus"
	for _, c := range []struct {
		name string
		f    formula.Formula
		rule string
		want finding.Status
	}{
		{"nitrate alone with a reducing species and time", plan(cured(nitrate, per(1, 1000), culture(sakei, xylosus)), 20, 30), "nitrate-reduction", finding.NotShown},
		{"nitrate alone without such a species", plan(cured(nitrate, per(1, 1000), culture(sakei)), 20, 30), "nitrate-reduction", finding.NotMet},
		{"nitrate alone without a culture", plan(cured(nitrate, per(1, 1000)), 20, 30), "nitrate-reduction", finding.NotMet},
		{"species not stated", plan(cured(nitrate, per(1, 1000), culture()), 20, 30), "nitrate-reduction", finding.NotShown},
		{"too short a time: 2 + 15 days", plan(cured(nitrate, per(1, 1000), culture(xylosus)), 20, 15), "nitrate-reduction", finding.NotMet},
		{"with nitrite too", plan(cured(both, per(2, 1000), culture(sakei)), 20, 15), "nitrate-reduction", finding.NotShown},

		// Pediococcus acidilactici grows from 10 to 15 °C, by text, and up to 50 to 52.
		{"too cold", plan(cured(both, per(2, 1000), culture(acidilactici)), 9, 30), "culture-temperature", finding.NotMet},
		{"cold by some texts", plan(cured(both, per(2, 1000), culture(acidilactici)), 12, 30), "culture-temperature", finding.Near},
		{"within", plan(cured(both, per(2, 1000), culture(acidilactici)), 30, 30), "culture-temperature", finding.NotShown},
		{"hot by some texts", plan(cured(both, per(2, 1000), culture(acidilactici)), 51, 30), "culture-temperature", finding.Near},
		{"too hot", plan(cured(both, per(2, 1000), culture(acidilactici)), 53, 30), "culture-temperature", finding.NotMet},

		{"species that make no acid need no sugar", cured(both, per(2, 1000), culture(xylosus)), "sugar-for-acid", finding.NotApplicable},
		{"and reach no pH", wanting(cured(both, per(2, 1000), culture(xylosus), dextrose(8)), 5.2), "sugar-for-wanted-ph", finding.NotMet},
		{"nor do a yeast and a mould", wanting(cured(both, per(2, 1000), culture("debaryomyces-hansenii", "penicillium-nalgiovense"), dextrose(8)), 5.2), "sugar-for-wanted-ph", finding.NotMet},
		{"which need no sugar", cured(both, per(2, 1000), culture("debaryomyces-hansenii")), "sugar-for-acid", finding.NotApplicable},
		{"and reduce no nitrate", plan(cured(nitrate, per(1, 1000), culture("debaryomyces-hansenii")), 20, 30), "nitrate-reduction", finding.NotMet},
		// (5.9 - 5.2) x 10 = 7 g/kg by the handbook's rule.
		{"the handbook's sugar", wanting(cured(both, per(2, 1000), culture(sakei), dextrose(7)), 5.2), "sugar-for-wanted-ph", finding.Met},
		{"less than that", wanting(cured(both, per(2, 1000), culture(sakei), dextrose(6.9)), 5.2), "sugar-for-wanted-ph", finding.Near},
		{"none, for a low pH", wanting(cured(both, per(2, 1000), culture(sakei)), 4.6), "sugar-for-wanted-ph", finding.NotMet},
		{"a pH where acid stops", wanting(cured(both, per(2, 1000), culture(sakei), dextrose(15)), 4.6), "sugar-for-wanted-ph", finding.NotShown},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := by(t, check(t, order(c.f, rulebook.UnitedStates)), c.rule)
			if got.Status != c.want {
				t.Errorf("want %s, got %s: %s", c.want, got.Status, got.Reason)
			}
			if (got.Status == finding.NotMet || got.Status == finding.Near) && got.Remedy == "" {
				t.Error("fails and has no remedy")
			}
		})
	}
	// 7 - 2 g/kg of 5 kg are 25 g of dry dextrose, 27.5 g as the monohydrate
	// (198.17/180.156).
	got := by(t, check(t, weighed(wanting(cured(both, per(2, 1000), culture(sakei), dextrose(2)), 5.2), 5000, rulebook.UnitedStates)), "sugar-for-wanted-ph")
	if want := "Add 27.5 g of dextrose, as the monohydrate, to this meat for the whole of it."; got.Remedy != want {
		t.Errorf("want %q, got %q", want, got.Remedy)
	}
}

// The least sugar for pH 4.6, by hand: fat of the meat known, so with 1 - fat of
// lean (5.5 - 4.6) x 45 x lean x (1 + 10^(3.86 - 4.6)) / (11.1013 x 0.95) - 2 g/kg:
// at pH 4.6 lactic acid keeps 0.182 of its proton for each one given off.
func TestTheLeastSugarIsChemistry(t *testing.T) {
	t.Parallel()
	fat, _ := mat("pork-shoulder-whole-lean-and-fat").Composition.Fat.Get()
	least := (5.5-4.6)*45*(1-fat.Float())*1.18197/(11.1013*0.95) - 2
	for _, c := range []struct {
		grams float64
		want  finding.Status
	}{{least * 0.99, finding.NotMet}, {least * 1.01, finding.Near}} {
		f := cured(assay(6, 0), per(2, 1000), added("culture", formula.Culture, "culture-carrier", per(0.0001, 1000)),
			added("dextrose", formula.Sugar, "dextrose-anhydrous", per(c.grams, 1000)))
		p := quantity.MustPH(4.6)
		f.Plan.WantedPH = &p
		if got := by(t, check(t, order(f, rulebook.UnitedStates)), "sugar-for-wanted-ph"); got.Status != c.want {
			t.Errorf("%v g/kg: want %s, got %s: %s", c.grams, c.want, got.Status, got.Reason)
		}
	}
}

// Salt alone is how some whole pieces are cured, and no sausage.
func TestNoCureInAWholePiece(t *testing.T) {
	t.Parallel()
	for product, want := range map[rulebook.Class]finding.Status{
		rulebook.DryCuredMuscle: finding.NotShown, rulebook.PumpedBacon: finding.NotShown, rulebook.DrySausage: finding.NotMet,
		rulebook.SterilisedSausage: finding.NotApplicable, rulebook.MeatPreparation: finding.NotApplicable,
	} {
		f := formula.Formula{
			Product: product, Parts: cured(nil, formula.Rate{}).Parts,
			Additions: []formula.Addition{added("salt", formula.Salt, "salt-table", per(30, 1000))},
		}
		if got := by(t, check(t, order(f, rulebook.UnitedStates)), "cure-present"); got.Status != want {
			t.Errorf("%s: want %s, got %s: %s", product, want, got.Status, got.Reason)
		}
	}
}

// Rows for curing preparations sold for use at home are held where the formula
// says that its cure is one, and only there.
func TestHomeCure(t *testing.T) {
	t.Parallel()
	f := cured(generic("cure-2"), per(2, 1000))
	has := func(a curing.Answer) bool {
		return slices.ContainsFunc(a.Findings, func(x finding.Finding) bool { return strings.HasPrefix(x.LimitID, "us-home-") })
	}
	if has(check(t, order(f, rulebook.UnitedStates))) {
		t.Error("not said to be one: want no row for home curing")
	}
	f.HomeCure = true
	a := check(t, order(f, rulebook.UnitedStates))
	for _, rule := range []string{"us-home-nitrite", "us-home-nitrate"} {
		if got := by(t, a, rule); got.Status != finding.NotShown || !strings.Contains(got.Reason, "analysis") {
			t.Errorf("%s: want not shown with what to analyse, got %s: %s", rule, got.Status, got.Reason)
		}
	}
}

func known(t quantity.Temperature) material.Known[quantity.Temperature] { return material.Is(t) }
