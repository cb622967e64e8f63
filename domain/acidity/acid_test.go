package acidity_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"greenweight/domain/acidity"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

func near(t *testing.T, what string, want, got, within float64) {
	t.Helper()
	if !(math.Abs(want-got) <= within) {
		t.Errorf("%s is %v, want %v within %v", what, got, want, within)
	}
}

// The row sugar-to-acid of the reference: 3 g/kg of dextrose, all of it: 33.3 mmol/kg, gram for gram 3.0 g/kg.
func TestSugarToAcid(t *testing.T) {
	t.Parallel()
	a, err := acidity.LacticAcid(quantity.MustPPM(3000), quantity.MustPercent(100))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "sugar-to-acid", 33.3, a.MillimolesPerKilogram(), 0.1)
	g, err := acidity.InGrams(a)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "grams", 3, g.GramsPerKilogram(), 0.001)
}

// exactly is assumptions without ranges.
func exactly(buffer, efficiency float64) acidity.Assumptions {
	by := acidity.Usual()
	by.Buffer = quantity.Exactly(quantity.MustMillimolesPerKilogramPH(buffer))
	by.Efficiency = quantity.Exactly(quantity.MustPercent(efficiency))
	by.OwnSugar = quantity.Between[quantity.PPM]{}
	return by
}

func ground(grams, lean, ph float64) acidity.Ground {
	return acidity.Ground{
		Sugar: quantity.Exactly(quantity.MustPPM(grams * 1000)), Lean: quantity.MustPercent(lean), Start: quantity.Exactly(quantity.MustPH(ph)), Sour: true,
	}
}

// The row sugar-limited-endpoint: 1 g/kg at 0.9 is 9.99 mmol/kg against 45: 0.222 of a unit if all of the acid
// gives its proton off, so pH 5.578; and 5.3 is out of reach. Of what stays whole
// at 5.58, 1.9 percent, it is 0.004 less.
func TestTheSugarLimitsTheEnd(t *testing.T) {
	t.Parallel()
	f, err := acidity.FinalPH(ground(1, 100, 5.8), exactly(45, 90))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "sugar-limited-endpoint", 5.578, f.High.PH.Float(), 0.01)
	near(t, "end with what stays whole", 5.8-9.9914/45*(1-0.0188), f.High.PH.Float(), 2e-4)
	if f.High.Limit != acidity.SugarUsed || f.High.PH.Compare(quantity.MustPH(5.3)) <= 0 {
		t.Errorf("the end is %+v", f.High)
	}
}

// At pH 4.6 lactic acid of pKa 3.86 keeps 1/(1 + 10^0.74) = 15.4 percent of its
// protons. 20 g/kg would be far below: acid stops first.
func TestWhatStaysWhole(t *testing.T) {
	t.Parallel()
	by := exactly(50, 100)
	by.Stop = quantity.Exactly(quantity.MustPH(4.6))
	f, err := acidity.FinalPH(ground(20, 75, 5.8), by)
	if err != nil {
		t.Fatal(err)
	}
	if f.High.Limit != acidity.AcidStops || f.High.PH != quantity.MustPH(4.6) {
		t.Errorf("the end is %+v", f.High)
	}
	near(t, "what stays whole", 15.4, f.High.Undissociated.Percent(), 0.05)
}

// The whole balance of charges, with the free protons and by bisection: protons
// that the acid gave off are those that the buffer took and those that are free,
//
//	T Ka/(Ka + h) = b l (pH0 - pH) + (h - h0) 1000
//
// with a litre for a kilogram. The pH without the free ones is at most 0.003
// lower.
func TestTheBalanceOfCharges(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ grams, lean, start, buffer float64 }{
		{0.5, 60, 5.5, 45}, {2, 75, 5.8, 50}, {3.5, 90, 6.1, 60}, {4, 100, 5.9, 45}, {3, 70, 5.6, 52},
	} {
		const ka = 1.3803842646028852e-4 // 10^-3.86
		acid := c.grams * 2000 / 180.156 * 0.9
		balance := func(ph float64) float64 {
			h := math.Exp(-ph * math.Ln10)
			return acid*ka/(ka+h) - c.buffer*c.lean/100*(c.start-ph) - (h-math.Exp(-c.start*math.Ln10))*1000
		}
		low, high := 2.0, c.start
		for range 80 {
			if middle := (low + high) / 2; balance(middle) > 0 {
				high = middle
			} else {
				low = middle
			}
		}
		root, err := numeric.Root(balance, 2, c.start, 1e-12)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "both searches", low, root, 1e-9)
		by := exactly(c.buffer, 90)
		by.Stop = quantity.Exactly(quantity.MustPH(2))
		f, err := acidity.FinalPH(ground(c.grams, c.lean, c.start), by)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "pH", root, f.Low.PH.Float(), 0.003)
	}
}

// No culture that makes acid, no acid; and what begins below where acid stops
// stays there.
func TestNothingHappens(t *testing.T) {
	t.Parallel()
	g := ground(10, 75, 5.8)
	g.Sour = false
	f, err := acidity.FinalPH(g, acidity.Usual())
	if err != nil {
		t.Fatal(err)
	}
	if f.Low.PH != g.Start.Low || f.High.PH != g.Start.High || f.Low.Limit != acidity.NoCulture {
		t.Errorf("the ends are %+v", f)
	}
	f, err = acidity.FinalPH(ground(10, 75, 4.4), acidity.Usual())
	if err != nil {
		t.Fatal(err)
	}
	if f.Low.PH != quantity.MustPH(4.4) || f.High.PH != quantity.MustPH(4.4) {
		t.Errorf("the ends are %+v", f)
	}
	if n := acidity.NeedFor(quantity.MustPH(5.9), quantity.MustPercent(75), quantity.Exactly(quantity.MustPH(5.8)), acidity.Usual()); n != (acidity.Need{}) {
		t.Errorf("what is reached takes %+v", n)
	}
}

func drawGround(t *rapid.T) acidity.Ground {
	start := rapid.Float64Range(5.2, 6.6).Draw(t, "start")
	least := rapid.Float64Range(0, 12).Draw(t, "sugar")
	return acidity.Ground{
		Sugar: quantity.Between[quantity.PPM]{Low: quantity.MustPPM(least * 1000), High: quantity.MustPPM((least + rapid.Float64Range(0, 3).Draw(t, "more")) * 1000)},
		Lean:  quantity.MustPercent(rapid.Float64Range(5, 100).Draw(t, "lean")),
		Start: quantity.Between[quantity.PH]{Low: quantity.MustPH(start), High: quantity.MustPH(start + rapid.Float64Range(0, 0.4).Draw(t, "wide"))},
		Sour:  true,
	}
}

func final(t *rapid.T, g acidity.Ground) acidity.Final {
	f, err := acidity.FinalPH(g, acidity.Usual())
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// What the bisection may be off by.
const tolerance = 1e-8

// More sugar never raises an end and more lean never lowers one; the low end is
// below the high one, and none is above where it starts or below where acid
// stops.
func TestSugarAndLeanWorkTheirWays(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		g := drawGround(t)
		f := final(t, g)
		more := g
		by := rapid.Float64Range(0, 5).Draw(t, "and more")
		more.Sugar.Low = quantity.MustPPM(g.Sugar.Low.MilligramsPerKilogram() + by*1000)
		more.Sugar.High = quantity.MustPPM(g.Sugar.High.MilligramsPerKilogram() + by*1000)
		if m := final(t, more); m.Low.PH.Float() > f.Low.PH.Float()+tolerance || m.High.PH.Float() > f.High.PH.Float()+tolerance {
			t.Fatalf("more sugar takes %v to %v", f.Range(), m.Range())
		}
		leaner := g
		leaner.Lean = quantity.MustPercent(rapid.Float64Range(g.Lean.Percent(), 100).Draw(t, "leaner"))
		if m := final(t, leaner); m.Low.PH.Float() < f.Low.PH.Float()-tolerance || m.High.PH.Float() < f.High.PH.Float()-tolerance {
			t.Fatalf("more lean takes %v to %v", f.Range(), m.Range())
		}
		stop := acidity.Usual().Stop
		if f.Low.PH.Float() > f.High.PH.Float()+tolerance || g.Start.High.Compare(f.High.PH) < 0 || f.Low.PH.Compare(stop.Low) < 0 || f.High.PH.Compare(stop.High) < 0 {
			t.Fatalf("the ends are %v", f.Range())
		}
	})
}

// The sugar for a pH takes it there, and a lower one takes more: the most by the
// chemistry is the inverse of the high end, the least of the low one.
func TestThereAndBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		g := drawGround(t)
		wanted := quantity.MustPH(rapid.Float64Range(4.85, g.Start.Low.Float()).Draw(t, "wanted"))
		n := acidity.NeedFor(wanted, g.Lean, g.Start, acidity.Usual())
		g.Sugar = n.Stoichiometry
		g.Sugar.Low, g.Sugar.High = n.Stoichiometry.High, n.Stoichiometry.Low // the most is for the high end
		f := final(t, g)
		if n.Stoichiometry.High.MilligramsPerKilogram() > 0 && math.Abs(f.High.PH.Float()-wanted.Float()) > tolerance {
			t.Fatalf("%s takes %+v, which takes it to %v", wanted, n, f.Range())
		}
		if n.Stoichiometry.Low.MilligramsPerKilogram() > 0 && math.Abs(f.Low.PH.Float()-wanted.Float()) > tolerance {
			t.Fatalf("%s takes %+v, which takes it to %v", wanted, n, f.Range())
		}
		lower := quantity.MustPH(wanted.Float() - rapid.Float64Range(0, 0.5).Draw(t, "lower"))
		m := acidity.NeedFor(lower, g.Lean, g.Start, acidity.Usual())
		for _, pair := range [][2]quantity.PPM{
			{n.Stoichiometry.Low, m.Stoichiometry.Low}, {n.Stoichiometry.High, m.Stoichiometry.High},
			{n.Handbook.Low, m.Handbook.Low}, {n.Handbook.High, m.Handbook.High},
		} {
			if pair[1].MilligramsPerKilogram() < pair[0].MilligramsPerKilogram()-tolerance {
				t.Fatalf("%s takes %+v and %s takes %+v", wanted, n, lower, m)
			}
		}
	})
}

// 1 g/kg for a tenth of a unit, which is 10 g/kg for a unit: 7 g/kg from 5.9 to
// 5.2.
func TestTheHandbook(t *testing.T) {
	t.Parallel()
	n := acidity.NeedFor(quantity.MustPH(5.2), quantity.MustPercent(75), acidity.Usual().Start, acidity.Usual())
	near(t, "least", 3, n.Handbook.Low.GramsPerKilogram(), 1e-9)
	near(t, "most", 7, n.Handbook.High.GramsPerKilogram(), 1e-9)
	got, err := acidity.ByHandbook(ground(7, 75, 5.9), acidity.Usual())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "back", 5.2, got.High.Float(), 1e-9)
	got, err = acidity.ByHandbook(ground(15, 75, 5.9), acidity.Usual())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "where acid stops, low", 4.5, got.Low.Float(), 1e-9)
	near(t, "where acid stops, high", 4.8, got.High.Float(), 1e-9)
}

func mat(t *testing.T, key string) material.Material {
	t.Helper()
	m, ok := material.ByKey(key)
	if !ok {
		t.Fatalf("no material %s", key)
	}
	return m
}

func sausage(t *testing.T, sugar string, grams float64, species ...string) formula.Formula {
	t.Helper()
	m := mat(t, sugar)
	culture := formula.Addition{Name: "culture", Role: formula.Culture, Rate: formula.ShareOfMeat(quantity.MustRatio(0.0002))}
	for _, key := range species {
		s, ok := rulebook.CultureByKey(key)
		if !ok {
			t.Fatalf("no species %s", key)
		}
		culture.Species = append(culture.Species, s)
	}
	return formula.Formula{
		Name: "Test", Product: rulebook.DrySausage,
		Parts: []formula.Part{{Name: "lean", Material: mat(t, "pork-leg-lean-only"), Share: quantity.MustPercent(100)}},
		Additions: []formula.Addition{
			{Name: "sugar", Role: formula.Sugar, Material: &m, Rate: formula.ShareOfMeat(quantity.MustRatio(grams / 1000))}, culture,
		},
	}
}

// Sucrose makes 11.69 mmol/g for the 11.10 of glucose, and the monohydrates less
// for their water: 180.156/198.171 and 342.296/360.311 of it. Lactose may be left
// by any culture, sucrose by those that are slow on it.
func TestSugarsOfAFormula(t *testing.T) {
	t.Parallel()
	const sakei, acidilactici = "latilactobacillus-sakei", "pediococcus-acidilactici"
	for _, c := range []struct {
		name, sugar string
		species     []string
		low, high   float64 // g/kg of glucose for 4 g/kg
	}{
		{"dextrose", "dextrose-anhydrous", nil, 4, 4},
		{"its monohydrate", "dextrose-monohydrate", []string{sakei}, 4 * 0.90909, 4 * 0.90909},
		{"lactose", "lactose-monohydrate", []string{sakei}, 0, 4 * 0.95000 * 1.05263},
		{"lactose and no species", "lactose-monohydrate", nil, 0, 4 * 0.95000 * 1.05263},
		{"honey", "honey", []string{sakei}, 4 * 0.8212, 4 * 0.8212 * 1.05263},
		{"slow on dextrose is none", "dextrose-anhydrous", []string{acidilactici}, 4, 4},
	} {
		a, err := acidity.Estimate(acidity.Order{Formula: sausage(t, c.sugar, 4, c.species...)})
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.name+", surely", c.low, a.Glucose.Low.GramsPerKilogram(), 1e-3)
		near(t, c.name+", at most", c.high, a.Glucose.High.GramsPerKilogram(), 1e-3)
	}
	sucrose := func(species ...string) quantity.Between[quantity.PPM] {
		a, err := acidity.Estimate(acidity.Order{Formula: sausage(t, "sugar-granulated", 4, species...)})
		if err != nil {
			t.Fatal(err)
		}
		return a.Glucose
	}
	sugars, _ := mat(t, "sugar-granulated").Composition.Sugars.Get()
	all := 4 * sugars.Float() * 1.05263
	near(t, "sucrose", all, sucrose(sakei).Low.GramsPerKilogram(), 1e-3)
	near(t, "sucrose and a slow species", 0, sucrose(acidilactici).Low.GramsPerKilogram(), 0)
	near(t, "sucrose and a slow species, at most", all, sucrose(acidilactici).High.GramsPerKilogram(), 1e-3)
	near(t, "a slow one beside another", all, sucrose(acidilactici, sakei).Low.GramsPerKilogram(), 1e-3)
}
