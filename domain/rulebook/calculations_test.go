package rulebook_test

import (
	_ "embed"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
)

// cureExamples are worked examples of curing arithmetic, most of them printed
// by others; each names where it comes from, the figures it starts from and
// those it must give, within a tolerance that its printing allows.
//
//go:embed testdata/cure-examples.json
var cureExamples []byte

type example struct {
	ID        string         `json:"id"`
	Source    string         `json:"source"`
	Trust     string         `json:"trust"`
	Inputs    map[string]any `json:"inputs"`
	Expected  map[string]any `json:"expected"`
	Tolerance float64        `json:"tolerance"`
	Note      string         `json:"note"`
}

// inputs hands out the figures of an example and remembers which were asked
// for, so that none is left out of a computation unnoticed.
type inputs struct {
	tb     testing.TB
	values map[string]any
	used   map[string]bool
}

func (in inputs) has(name string) bool { _, ok := in.values[name]; return ok }

func (in inputs) number(name string) float64 {
	in.tb.Helper()
	in.used[name] = true
	f, ok := in.values[name].(float64)
	if !ok {
		in.tb.Fatalf("%s is no number: %v", name, in.values[name])
	}
	return f
}

func (in inputs) word(name string) string {
	in.used[name] = true
	s, _ := in.values[name].(string)
	return s
}

// mass reads a mass whose name ends in its unit, and none when it is not there.
func (in inputs) mass(name string) quantity.Mass {
	in.tb.Helper()
	for unit, make := range map[string]func(float64) (quantity.Mass, error){
		"_g": quantity.Grams, "_oz": quantity.Ounces, "_lb": quantity.Pounds,
	} {
		if in.has(name + unit) {
			return ok(make(in.number(name + unit)))(in.tb)
		}
	}
	return quantity.Mass{}
}

func (in inputs) percent(name string) quantity.Fraction {
	in.tb.Helper()
	return ok(quantity.Percent(in.number(name)))(in.tb)
}

// nitrite is the sodium nitrite of the example: as such, or in a cure.
func (in inputs) nitrite() quantity.Mass {
	in.tb.Helper()
	if in.has("cure_NaNO2_pct") {
		return in.percent("cure_NaNO2_pct").Of(in.mass("cure"))
	}
	return in.mass("NaNO2")
}

// ok returns v, and fails the test on an error.
func ok[T any](v T, err error) func(testing.TB) T {
	return func(tb testing.TB) T {
		tb.Helper()
		if err != nil {
			tb.Fatal(err)
		}
		return v
	}
}

// within reports whether an amount keeps the ceiling or floor of a row.
func within(tb testing.TB, id string, p quantity.PPM) bool {
	tb.Helper()
	l, found := rulebook.LimitByID(id)
	if !found {
		tb.Fatalf("no row %s", id)
	}
	limit, found := l.Value.PPM()
	if !found {
		tb.Fatalf("row %s has no figure", id)
	}
	switch l.Comparator {
	case rulebook.AtMost:
		return p.Compare(limit) <= 0
	case rulebook.AtLeast:
		return p.Compare(limit) >= 0
	default:
		tb.Fatalf("row %s compares by %s", id, l.Comparator)
		return false
	}
}

// calculations answer the examples by what they ask for.
var calculations = map[string]func(inputs) map[string]any{
	"ppm_comminuted": func(in inputs) map[string]any {
		in.word("substance")
		nitrite := in.nitrite()
		p := ok(rulebook.IngoingOnMeat(nitrite, in.mass("meat_block")))(in.tb)
		got := map[string]any{"NaNO2_g": nitrite.Grams(), "nitrite_ppm": p.MilligramsPerKilogram()}
		if id := in.word("check"); id != "" {
			got["within_limit"] = within(in.tb, id, p)
		}
		stop, _ := rulebook.GuideByID("hardstop")
		if most, _ := stop.Low.PPM(); most.Less(p) {
			got["severity"] = "refuse"
		}
		return got
	},
	"ppm_drycure": func(in inputs) map[string]any {
		green := in.mass("green_weight")
		if in.has("skin_on") {
			in.used["skin_on"] = true
			if in.values["skin_on"] == true {
				green = rulebook.SkinlessWeight(green)
			}
		}
		p := ok(rulebook.IngoingDryCured(in.nitrite(), green))(in.tb)
		got := map[string]any{"nitrite_ppm": p.MilligramsPerKilogram(), "printed": math.Round(p.MilligramsPerKilogram())}
		if id := in.word("check"); id != "" {
			got["within_limit"] = within(in.tb, id, p)
		}
		return got
	},
	"ppm_accelerator": func(in inputs) map[string]any {
		p := ok(rulebook.IngoingOnMeat(in.mass("sodium_erythorbate"), in.mass("meat_block")))(in.tb)
		return map[string]any{"ppm": p.MilligramsPerKilogram(), "printed_rounded": math.Round(p.MilligramsPerKilogram())}
	},
	"ppm_pumped": func(in inputs) map[string]any {
		pickle := in.mass("pickle")
		if in.has("water_g") {
			pickle = in.mass("water").Plus(in.mass("salt")).Plus(in.mass("sugar")).Plus(in.mass("cure"))
		}
		if in.has("pickle_gal_US") {
			pickle = ok(quantity.Pounds(in.number("pickle_gal_US") * in.number("pickle_density_lb_per_gal")))(in.tb)
		}
		nitrite := in.nitrite()
		p := ok(rulebook.IngoingPumped(nitrite, pickle, in.percent("pump_pct_of_green")))(in.tb)
		return map[string]any{
			"pickle_g": pickle.Grams(), "NaNO2_g": nitrite.Grams(), "nitrite_ppm": p.MilligramsPerKilogram(),
			"nitrite_ppm_rounded": math.Round(p.MilligramsPerKilogram()), "printed": math.Round(p.MilligramsPerKilogram()),
		}
	},
	"dose_pumped": func(in inputs) map[string]any {
		target := ok(quantity.PartsPerMillion(in.number("target_NaNO2_ppm")))(in.tb)
		n := ok(rulebook.AgentForPump(target, in.mass("pickle"), in.percent("pump_pct_of_green")))(in.tb)
		return map[string]any{"NaNO2_lb": n.Pounds()}
	},
	"ppm_immersion_method1": func(in inputs) map[string]any {
		pickle, pickUp := in.mass("pickle"), in.percent("pickup_pct_of_green")
		nitrate := ok(rulebook.IngoingImmersed(in.mass("KNO3"), pickle, pickUp))(in.tb)
		salt := ok(rulebook.IngoingImmersed(in.mass("salt"), pickle, pickUp))(in.tb)
		return map[string]any{"KNO3_ppm": nitrate.MilligramsPerKilogram(), "salt_pct_of_green": salt.Percent()}
	},
	"dose_from_blend": func(in inputs) map[string]any {
		target := ok(quantity.PartsPerMillion(in.number("target_NaNO2_ppm")))(in.tb)
		green, share := in.mass("green_weight"), in.percent("cure_NaNO2_pct")
		blend := ok(rulebook.BlendForMeat(target, green, share))(in.tb)
		return map[string]any{
			"NaNO2_g": share.Of(blend).Grams(), "cure_g": blend.Grams(), "printed_cure_g": math.Round(blend.Grams()),
			"cure_pct_of_meat": ok(blend.Over(green))(in.tb).Percent(),
		}
	},
	"dose_from_blend_total_base": func(in inputs) map[string]any {
		target := ok(quantity.PartsPerMillion(in.number("target_NaNO2_ppm")))(in.tb)
		blend := ok(rulebook.BlendForBatch(target, in.mass("rest_of_recipe"), in.percent("cure_NaNO2_pct")))(in.tb)
		return map[string]any{"cure_g": blend.Grams()}
	},
	"convert": func(in inputs) map[string]any {
		names := map[string]rulebook.Compound{
			"NaNO2": rulebook.CompoundNaNO2, "NO2": rulebook.CompoundNO2, "KNO2": rulebook.CompoundKNO2,
			"NaNO3": rulebook.CompoundNaNO3, "NO3": rulebook.CompoundNO3,
		}
		unit := "ppm"
		if in.has("mg_per_kg") {
			unit = "mg_per_kg"
		}
		p := ok(quantity.PartsPerMillion(in.number(unit)))(in.tb)
		q := ok(rulebook.Convert(p, names[in.word("from_species")], names[in.word("to_species")]))(in.tb)
		return map[string]any{unit: q.MilligramsPerKilogram(), "printed": math.Round(q.MilligramsPerKilogram())}
	},
	"check_eu_0831": func(in inputs) map[string]any {
		salt := in.mass("nitrite_salt")
		total := in.mass("meat").Plus(salt).Plus(in.mass("dextrose")).Plus(in.mass("spice"))
		p := ok(rulebook.IngoingOnMeat(in.percent("nitrite_salt_NaNO2_pct").Of(salt), total))(in.tb)
		ion := ok(rulebook.Convert(p, rulebook.CompoundNaNO2, rulebook.CompoundNO2))(in.tb)
		date := ok(time.Parse(time.DateOnly, in.word("date")))(in.tb)
		newRow, _ := rulebook.LimitByID("eu-nitrite-0831")
		if !newRow.On(date) {
			in.tb.Errorf("the new row is not in force on %s", date)
		}
		return map[string]any{
			"total_g": total.Grams(), "NaNO2_mg_per_kg": p.MilligramsPerKilogram(), "NO2_ion_mg_per_kg": ion.MilligramsPerKilogram(),
			"within_old_limit": within(in.tb, "eu-nitrite-0831-old", p), "within_new_limit": within(in.tb, "eu-nitrite-0831", ion),
		}
	},
	"max_blend_dose_eu": func(in inputs) map[string]any {
		in.word("base")
		ion := ok(quantity.PartsPerMillion(in.number("limit_NO2_ion_mg_per_kg")))(in.tb)
		p := ok(rulebook.Convert(ion, rulebook.CompoundNO2, rulebook.CompoundNaNO2))(in.tb)
		total := quantity.MustGrams(1000) // a kilogram of the whole batch, blend within
		blend := ok(rulebook.BlendForMeat(p, total, in.percent("cure_NaNO2_pct")))(in.tb)
		return map[string]any{"max_cure_g_per_kg_total": blend.Grams()}
	},
	"check_us_comminuted": func(in inputs) map[string]any {
		meat := in.mass("meat_block")
		nitrite := ok(rulebook.IngoingOnMeat(in.nitrite(), meat))(in.tb)
		got := map[string]any{
			"nitrite_ppm": nitrite.MilligramsPerKilogram(), "within_nitrite": within(in.tb, "us-nitrite-comminuted", nitrite),
		}
		if in.has("cure_NaNO3_pct") {
			nitrate := ok(rulebook.IngoingOnMeat(in.percent("cure_NaNO3_pct").Of(in.mass("cure")), meat))(in.tb)
			got["nitrate_ppm"] = nitrate.MilligramsPerKilogram()
			got["within_nitrate"] = within(in.tb, "us-nitrate-comminuted", nitrate)
		}
		if in.word("label") == "keep refrigerated" {
			got["meets_minimum"] = within(in.tb, "us-nitrite-min-keeprefrig", nitrite)
		}
		return got
	},
	"plain_salt": func(in inputs) map[string]any {
		cure, _ := rulebook.CureByKey("cure-1")
		content := cure.Content(rulebook.CompoundNaCl).Low
		quantitytest.Near(in.tb, "salt in curing salt no. 1, percent", in.number("cure_NaCl_pct"), content.Percent(), 1e-12)
		fromCure := content.Of(in.mass("cure"))
		wanted := in.percent("target_salt_pct_of_meat").Of(in.mass("meat"))
		return map[string]any{"salt_from_cure_g": fromCure.Grams(), "plain_salt_g": wanted.Minus(fromCure).Grams()}
	},
	"bases": func(in inputs) map[string]any {
		meat := in.mass("meat_block")
		total := meat.Plus(in.mass("salt")).Plus(in.mass("cure")).Plus(in.mass("dextrose")).Plus(in.mass("spice")).Plus(in.mass("wine"))
		onMeat := ok(rulebook.IngoingOnMeat(in.nitrite(), meat))(in.tb)
		onTotal := ok(rulebook.IngoingOnMeat(in.nitrite(), total))(in.tb)
		return map[string]any{"ppm_on_meat_block": onMeat.MilligramsPerKilogram(), "ppm_on_total": onTotal.MilligramsPerKilogram()}
	},
	"check_ca": func(in inputs) map[string]any {
		p := ok(rulebook.IngoingOnMeat(in.nitrite(), in.mass("batch")))(in.tb)
		return map[string]any{
			"ppm":           p.MilligramsPerKilogram(),
			"within_window": within(in.tb, "ca-curing-floor", p) && within(in.tb, "ca-curing-ceiling", p),
		}
	},
	"convert_unit": func(in inputs) map[string]any {
		if in.word("from_unit") != "oz" || in.word("to_unit") != "g" {
			in.tb.Fatalf("not ounces to grams: %v", in.values)
		}
		return map[string]any{"value": ok(quantity.Ounces(in.number("value")))(in.tb).Grams()}
	},
	"convert_rate": func(in inputs) map[string]any {
		if in.word("from_unit") != "lb/cwt_us" || in.word("to_unit") != "g/kg" {
			in.tb.Fatalf("not pounds per hundredweight to grams per kilogram: %v", in.values)
		}
		salt, meat := ok(quantity.Pounds(in.number("value")))(in.tb), ok(quantity.Pounds(100))(in.tb)
		return map[string]any{"value": ok(rulebook.IngoingOnMeat(salt, meat))(in.tb).GramsPerKilogram()}
	},
	"volume_dose": func(in inputs) map[string]any {
		cure := quantity.MustGramsPerTeaspoon(in.number("g_per_tsp")).Of(ok(quantity.Teaspoons(in.number("tsp")))(in.tb))
		p := ok(rulebook.IngoingOnMeat(in.percent("cure_NaNO2_pct").Of(cure), in.mass("meat")))(in.tb)
		return map[string]any{"cure_g": cure.Grams(), "nitrite_ppm": p.MilligramsPerKilogram()}
	},
	"water_phase_salt": func(in inputs) map[string]any {
		hundred := quantity.MustGrams(100)
		p := ok(rulebook.WaterPhaseSalt(in.percent("salt_pct").Of(hundred), in.percent("moisture_pct").Of(hundred)))(in.tb)
		return map[string]any{"wps_pct": p.Percent()}
	},
	"volume_to_mass": func(in inputs) map[string]any {
		cure := quantity.MustGramsPerTeaspoon(in.number("g_per_tsp")).Of(ok(quantity.Teaspoons(in.number("tsp")))(in.tb))
		return map[string]any{"grams": cure.Grams()}
	},
}

// elsewhere are the worked examples of the file that are about something else
// than curing, with what they are about.
var elsewhere = map[string]string{
	"cx-tri-1": "trichinae", "cx-tri-2": "trichinae", "cx-tri-3": "trichinae", "cx-tri-4": "trichinae", "cx-tri-5": "trichinae",
	"cx-frz-1": "freezing", "cx-frz-2": "freezing", "cx-hill-1": "trichinae",
	"cx-mpr-1": "moisture:protein", "cx-leis-1": "shelf stability", "cx-leis-2": "shelf stability", "cx-list-1": "shelf stability",
	"cx-pear-1": "blending", "cx-pear-2": "blending", "cx-pear-3": "blending",
	"cx-lp-1": "blending", "cx-lp-2": "blending", "cx-lp-3": "blending", "cx-lp-4": "blending",
}

func TestWorkedExamples(t *testing.T) {
	t.Parallel()
	var examples []example
	if err := json.Unmarshal(cureExamples, &examples); err != nil {
		t.Fatal(err)
	}
	if len(examples) != 50 {
		t.Fatalf("want 50 examples, got %d", len(examples))
	}
	examples = slices.DeleteFunc(examples, func(e example) bool { return elsewhere[e.ID] != "" })
	if len(examples)+len(elsewhere) != 50 {
		t.Errorf("%d examples are here and %d are said to be elsewhere, of 50", len(examples), len(elsewhere))
	}
	asked := map[string]bool{}
	for _, e := range examples {
		calc, _ := e.Inputs["calc"].(string)
		asked[calc] = true
	}
	for calc := range calculations {
		if !asked[calc] {
			t.Errorf("no example asks for %s", calc)
		}
	}
	for _, e := range examples {
		t.Run(e.ID, func(t *testing.T) {
			t.Parallel()
			if e.Source == "" || e.Trust == "" {
				t.Fatal("no source or trust")
			}
			in := inputs{tb: t, values: e.Inputs, used: map[string]bool{}}
			answer, known := calculations[in.word("calc")]
			if !known {
				t.Fatalf("no calculation %v", e.Inputs["calc"])
			}
			got := answer(in)
			for name := range e.Inputs {
				if !in.used[name] {
					t.Errorf("%s was not used", name)
				}
			}
			for name, want := range e.Expected {
				f, number := want.(float64)
				if !number {
					if got[name] != want {
						t.Errorf("%s (%s): want %v, got %v", name, e.Source, want, got[name])
					}
					continue
				}
				g, number := got[name].(float64)
				if !number {
					t.Errorf("%s (%s): want %v, got %v", name, e.Source, want, got[name])
					continue
				}
				quantitytest.Near(t, name+" ("+e.Source+")", f, g, e.Tolerance)
			}
		})
	}
}

// The pickle rows of the United States agree with those on the meat, when a
// gallon of pickle weighs the 10 lb of the handbook's convention and a tenth is
// pumped: 75 oz in 1000 lb of pickle, a tenth of that in the meat, are 3/4 oz in
// 100 lb. So do 87.5 oz and 7/8 oz, 2 lb and 200 ppm, 7 lb and 700 ppm.
func TestPickleRowsAgreeWithMeatRows(t *testing.T) {
	t.Parallel()
	ounces := func(id string) quantity.Mass {
		l, _ := rulebook.LimitByID(id)
		if l.Unit != rulebook.PerHundredGallons {
			t.Fatalf("%s is in %s", id, l.Unit)
		}
		f, _ := l.Value.Amount.Float64()
		return ok(quantity.Ounces(f))(t)
	}
	for _, c := range []struct {
		name  string
		agent quantity.Mass
		meat  string
	}{
		{"acid", ounces("us-accel-pickle-acid"), "us-accel-1"},
		{"sodium salt", ounces("us-accel-pickle-salt"), "us-accel-2"},
		{"nitrite", ok(quantity.Pounds(2))(t), "us-nitrite-pumped"},
		{"nitrate", ok(quantity.Pounds(7))(t), "us-nitrate-pumped"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := ok(rulebook.IngoingPumped(c.agent, ok(quantity.Pounds(1000))(t), quantity.MustPercent(10)))(t)
			l, _ := rulebook.LimitByID(c.meat)
			if want, _ := l.Value.PPM(); want.Compare(got) != 0 {
				t.Errorf("want %s, got %s", want, got)
			}
		})
	}
}

// Immersion until equilibrium: 1.26 g of nitrate, 600 g of pickle and 1400 g of
// meat are 1.26 g in 2000 g, 630 mg/kg. A belly of 5 kg with the skin on counts
// as 4.5 kg, and 0.9 g of nitrite on it are 200 mg/kg. By hand.
func TestEquilibriumAndSkin(t *testing.T) {
	t.Parallel()
	g := quantity.MustGrams
	p := ok(rulebook.IngoingAtEquilibrium(g(1.26), g(1400), g(600)))(t)
	quantitytest.Near(t, "at equilibrium, mg/kg", 630, p.MilligramsPerKilogram(), 1e-9)
	p = ok(rulebook.IngoingDryCured(g(0.9), rulebook.SkinlessWeight(g(5000))))(t)
	quantitytest.Near(t, "skin on, mg/kg", 200, p.MilligramsPerKilogram(), 1e-9)
}

func TestCalculationsWithoutAnAnswer(t *testing.T) {
	t.Parallel()
	g, none := quantity.MustGrams, quantity.Mass{}
	for _, c := range []struct {
		name    string
		kind    fault.Kind
		code    string
		pointer string
		err     func() error
	}{
		{"no meat", fault.Invalid, "not-positive", "#/meat_block", func() error { _, err := rulebook.IngoingOnMeat(g(1), none); return err }},
		{"no pickle", fault.Invalid, "not-positive", "#/pickle", func() error {
			_, err := rulebook.IngoingPumped(g(1), none, quantity.MustPercent(10))
			return err
		}},
		{"no pickle to dip in", fault.Invalid, "not-positive", "#/pickle", func() error {
			_, err := rulebook.IngoingImmersed(g(1), none, quantity.MustPercent(10))
			return err
		}},
		{"neither meat nor pickle", fault.Invalid, "not-positive", "#/meat", func() error {
			_, err := rulebook.IngoingAtEquilibrium(g(1), none, none)
			return err
		}},
		{"no green weight", fault.Invalid, "not-positive", "#/green_weight", func() error { _, err := rulebook.IngoingDryCured(g(1), none); return err }},
		{"blend without agent", fault.Invalid, "not-positive", "#/agent_in_blend", func() error {
			_, err := rulebook.BlendForMeat(quantity.MustPPM(100), g(1000), quantity.Fraction{})
			return err
		}},
		{"no pump", fault.Invalid, "not-positive", "#/pump", func() error {
			_, err := rulebook.AgentForPump(quantity.MustPPM(100), g(1000), quantity.Fraction{})
			return err
		}},
		{"blend as strong as the target", fault.NoSolution, "blend-too-weak", "#/agent_in_blend", func() error {
			_, err := rulebook.BlendForBatch(quantity.MustPPM(62500), g(1000), quantity.MustPercent(6.25))
			return err
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			wantFault(t, c.err(), c.kind, c.code, c.pointer)
		})
	}
}

// What the inverse says, the calculation gives back, and the blend counts in
// its own base.
func TestDosesGiveTheirTargets(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		target := quantity.MustPPM(rapid.Float64Range(1e-3, 2000).Draw(t, "target"))
		meat := quantity.MustGrams(rapid.Float64Range(1, 1e7).Draw(t, "grams of meat"))
		share := quantity.MustPercent(rapid.Float64Range(0.4, 100).Draw(t, "percent of agent"))
		near := func(what string, got quantity.PPM, err error) {
			if err != nil {
				t.Fatal(err)
			}
			if got.Compare(target) != 0 {
				t.Fatalf("%s: want %s, got %s", what, target, got)
			}
		}
		blend, err := rulebook.BlendForMeat(target, meat, share)
		if err != nil {
			t.Fatal(err)
		}
		p, err := rulebook.IngoingOnMeat(share.Of(blend), meat)
		near("on the meat", p, err)

		inBatch, err := rulebook.BlendForBatch(target, meat, share)
		if err != nil {
			t.Fatal(err)
		}
		p, err = rulebook.IngoingOnMeat(share.Of(inBatch), meat.Plus(inBatch))
		near("on the batch", p, err)
		if inBatch.Less(blend) {
			t.Fatalf("%s on the batch, less than %s on the meat", inBatch, blend)
		}

		agent, err := rulebook.AgentForPump(target, meat, share)
		if err != nil {
			t.Fatal(err)
		}
		p, err = rulebook.IngoingPumped(agent, meat, share)
		near("pumped", p, err)
	})
}

func TestCalculationsAreNamedInTheData(t *testing.T) {
	t.Parallel()
	for _, c := range rulebook.Calculations() {
		if !kebab.MatchString(c.ID) || strings.HasSuffix(c.Expression, ".") {
			t.Errorf("%s: %s", c.ID, c.Expression)
		}
	}
}
