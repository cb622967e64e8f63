package quantity_test

import (
	"errors"
	"math"
	"math/big"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// rounding is how far a few float operations may be off, as a part of the
// number: each by half of 2^-52.
const rounding = 1e-15

// unit is a constructor with its bounds and what its value gives back.
type unit struct {
	name      string
	quantity  string // as its errors call it
	low, high float64
	symbol    string
	// to is what its getters round to, in the base unit; 0 for not at all.
	to float64
	// of returns the value made of v in the base unit, and in the unit again.
	of func(v float64) (base, again float64, err error)
}

// with makes unit.of of a constructor and two getters.
func with[T any](construct func(float64) (T, error), base, again func(T) float64) func(float64) (float64, float64, error) {
	return func(v float64) (float64, float64, error) {
		t, err := construct(v)
		return base(t), again(t), err
	}
}

// units returns every constructor that takes a number, but for those of
// Temperature, whose scales do not begin at nothing.
func units() []unit {
	inf := math.Inf(1)
	grams, millilitres, metres := quantity.Mass.Grams, quantity.Volume.Millilitres, quantity.Length.Metres
	degrees, hours := quantity.TemperatureDelta.CelsiusDegrees, quantity.DegreeHours.CelsiusHours
	return []unit{
		{"Grams", "mass", 0, inf, "g", 0, with(quantity.Grams, grams, quantity.Mass.Grams)},
		{"Kilograms", "mass", 0, inf, "kg", 0, with(quantity.Kilograms, grams, quantity.Mass.Kilograms)},
		{"Milligrams", "mass", 0, inf, "mg", 0, with(quantity.Milligrams, grams, quantity.Mass.Milligrams)},
		{"Pounds", "mass", 0, inf, "lb", 0, with(quantity.Pounds, grams, quantity.Mass.Pounds)},
		{"Ounces", "mass", 0, inf, "oz", 0, with(quantity.Ounces, grams, quantity.Mass.Ounces)},
		{"Millilitres", "volume", 0, inf, "mL", 0, with(quantity.Millilitres, millilitres, quantity.Volume.Millilitres)},
		{"Litres", "volume", 0, inf, "L", 0, with(quantity.Litres, millilitres, quantity.Volume.Litres)},
		{"Teaspoons", "volume", 0, inf, "tsp", 0, with(quantity.Teaspoons, millilitres, quantity.Volume.Teaspoons)},
		{"Tablespoons", "volume", 0, inf, "tbsp", 0, with(quantity.Tablespoons, millilitres, quantity.Volume.Tablespoons)},
		{"Cups", "volume", 0, inf, "cup", 0, with(quantity.Cups, millilitres, quantity.Volume.Cups)},
		{"FluidOunces", "volume", 0, inf, "fl oz", 0, with(quantity.FluidOunces, millilitres, quantity.Volume.FluidOunces)},
		{
			"GramsPerMillilitre", "density", 0, 25, "g/mL", 0,
			with(quantity.GramsPerMillilitre, quantity.Density.GramsPerMillilitre, quantity.Density.GramsPerMillilitre),
		},
		{"NewFraction", "fraction", 0, 1, "", 0, with(quantity.NewFraction, quantity.Fraction.Float, quantity.Fraction.Float)},
		{"Percent", "percentage", 0, 100, "%", 0, with(quantity.Percent, quantity.Fraction.Float, quantity.Fraction.Percent)},
		{"NewRatio", "ratio", -inf, inf, "", 0, with(quantity.NewRatio, quantity.Ratio.Float, quantity.Ratio.Float)},
		{
			"PartsPerMillion", "mass fraction", 0, inf, "mg/kg", 0,
			with(quantity.PartsPerMillion, quantity.PPM.MilligramsPerKilogram, quantity.PPM.MilligramsPerKilogram),
		},
		{"CFUPerGram", "cell count", 0, 1e13, "CFU/g", 0, with(quantity.CFUPerGram, quantity.CellCount.CFUPerGram, quantity.CellCount.CFUPerGram)},
		{"Metres", "length", 0, inf, "m", 0, with(quantity.Metres, metres, quantity.Length.Metres)},
		{"Centimetres", "length", 0, inf, "cm", 0, with(quantity.Centimetres, metres, quantity.Length.Centimetres)},
		{"Millimetres", "length", 0, inf, "mm", 0, with(quantity.Millimetres, metres, quantity.Length.Millimetres)},
		{"Inches", "length", 0, inf, "in", 0, with(quantity.Inches, metres, quantity.Length.Inches)},
		{"Feet", "length", 0, inf, "ft", 0, with(quantity.Feet, metres, quantity.Length.Feet)},
		{
			"SquareMetresPerSecond", "diffusivity", 0, inf, "m²/s", 0,
			with(quantity.SquareMetresPerSecond, quantity.Diffusivity.SquareMetresPerSecond, quantity.Diffusivity.SquareMetresPerSecond),
		},
		{"LossPercent", "loss", -inf, 100, "%", 0, with(quantity.LossPercent, quantity.Loss.Float, quantity.Loss.Percent)},
		{
			"LossPercentPerDay", "loss per day", -inf, inf, "% per day", 0,
			with(quantity.LossPercentPerDay, quantity.LossRate.PercentPerDay, quantity.LossRate.PercentPerDay),
		},
		{
			"HumidityPercent", "relative humidity", 0, 100, "%", 0,
			with(quantity.HumidityPercent, quantity.RelativeHumidity.Float, quantity.RelativeHumidity.Percent),
		},
		{"NewWaterActivity", "water activity", 0, 1, "", 0, with(quantity.NewWaterActivity, quantity.WaterActivity.Float, quantity.WaterActivity.Float)},
		{"NewPH", "pH", 0, 14, "", 0, with(quantity.NewPH, quantity.PH.Float, quantity.PH.Float)},
		{"Kilopascals", "pressure", 0, inf, "kPa", 0, with(quantity.Kilopascals, quantity.Pressure.Kilopascals, quantity.Pressure.Kilopascals)},
		{"MetresPerSecond", "speed", 0, inf, "m/s", 0, with(quantity.MetresPerSecond, quantity.Speed.MetresPerSecond, quantity.Speed.MetresPerSecond)},
		{
			"GramsPerSquareMetreDay", "vapour transmission", 0, inf, "g/(m² day)", 0,
			with(quantity.GramsPerSquareMetreDay, quantity.VapourTransmission.GramsPerSquareMetreDay, quantity.VapourTransmission.GramsPerSquareMetreDay),
		},
		{
			"KilogramsPerSquareMetreSecondPascal", "permeance", 0, inf, "kg/(m² s Pa)", 0,
			with(quantity.KilogramsPerSquareMetreSecondPascal, quantity.Permeance.KilogramsPerSquareMetreSecondPascal, quantity.Permeance.KilogramsPerSquareMetreSecondPascal),
		},
		{"CelsiusDegrees", "temperature difference", -inf, inf, "°C", 1e-9, with(quantity.CelsiusDegrees, degrees, quantity.TemperatureDelta.CelsiusDegrees)},
		{
			"FahrenheitDegrees", "temperature difference", -inf, inf, "°F", 1e-9,
			with(quantity.FahrenheitDegrees, degrees, quantity.TemperatureDelta.FahrenheitDegrees),
		},
		{"CelsiusHours", "degree-hours", 0, inf, "°C h", 1e-6, with(quantity.CelsiusHours, hours, quantity.DegreeHours.CelsiusHours)},
		{"FahrenheitHours", "degree-hours", 0, inf, "°F h", 1e-6, with(quantity.FahrenheitHours, hours, quantity.DegreeHours.FahrenheitHours)},
	}
}

// ok returns v, and fails the test on an error.
func ok[T any](v T, err error) func(rapid.TB) T {
	return func(tb rapid.TB) T {
		tb.Helper()
		if err != nil {
			tb.Fatal(err)
		}
		return v
	}
}

// near checks a result of a few float operations.
func near(tb testing.TB, what string, want, got float64) {
	tb.Helper()
	quantitytest.Near(tb, what, want, got, 4*rounding*math.Abs(want))
}

// rangeErrorOf returns the RangeError in err, and fails the test without one.
func rangeErrorOf(tb rapid.TB, err error) quantity.RangeError {
	tb.Helper()
	out, found := errors.AsType[*quantity.RangeError](err)
	if !found {
		tb.Fatalf("want a RangeError, got %v", err)
	}
	return *out
}

// The factors follow from definitions: the pound of 453.59237 g and the inch of
// 2.54 cm of the agreement of 1959; the gallon of 231 cubic inches, which holds
// 4 quarts of 192 teaspoons, and the kitchen measures in teaspoons, all of NIST
// SP 430 (Household Weights and Measures), table 1. A foot is 12 inches, and 9
// degrees Fahrenheit are 5 Celsius (NIST SP 811, 2008, appendix B.8).
func TestOneOfEachUnit(t *testing.T) {
	t.Parallel()
	pound := big.NewRat(45359237, 100000)
	inch := big.NewRat(254, 100)
	gallon := new(big.Rat).Mul(big.NewRat(231, 1), new(big.Rat).Mul(inch, new(big.Rat).Mul(inch, inch)))
	part := func(of *big.Rat, num, den int64) *big.Rat { return new(big.Rat).Mul(of, big.NewRat(num, den)) }
	want := map[string]*big.Rat{
		"Grams": big.NewRat(1, 1), "Kilograms": big.NewRat(1000, 1), "Milligrams": big.NewRat(1, 1000),
		"Pounds": pound, "Ounces": part(pound, 1, 16),
		"Millilitres": big.NewRat(1, 1), "Litres": big.NewRat(1000, 1),
		"Teaspoons": part(gallon, 1, 4*192), "Tablespoons": part(gallon, 3, 4*192), "FluidOunces": part(gallon, 6, 4*192),
		"Cups":               part(gallon, 48, 4*192),
		"GramsPerMillilitre": big.NewRat(1, 1), "NewFraction": big.NewRat(1, 1), "Percent": big.NewRat(1, 100),
		"NewRatio": big.NewRat(1, 1), "PartsPerMillion": big.NewRat(1, 1), "CFUPerGram": big.NewRat(1, 1),
		"Metres": big.NewRat(1, 1), "Centimetres": big.NewRat(1, 100), "Millimetres": big.NewRat(1, 1000),
		"Inches": part(inch, 1, 100), "Feet": part(inch, 12, 100), "SquareMetresPerSecond": big.NewRat(1, 1),
		"LossPercent": big.NewRat(1, 100), "LossPercentPerDay": big.NewRat(1, 1), "HumidityPercent": big.NewRat(1, 100),
		"NewWaterActivity": big.NewRat(1, 1), "NewPH": big.NewRat(1, 1), "Kilopascals": big.NewRat(1, 1), "MetresPerSecond": big.NewRat(1, 1),
		"GramsPerSquareMetreDay": big.NewRat(1, 1), "KilogramsPerSquareMetreSecondPascal": big.NewRat(1, 1),
		"CelsiusDegrees": big.NewRat(1, 1), "FahrenheitDegrees": big.NewRat(5, 9), "CelsiusHours": big.NewRat(1, 1), "FahrenheitHours": big.NewRat(5, 9),
	}
	for _, u := range units() {
		t.Run(u.name, func(t *testing.T) {
			t.Parallel()
			if want[u.name] == nil {
				t.Fatal("nothing says how large this unit is")
			}
			base, again, err := u.of(1)
			if err != nil {
				t.Fatal(err)
			}
			exact, _ := want[u.name].Float64()
			if math.Abs(base-exact) <= u.to/2 {
				base = exact
			}
			if diff := cmp.Diff([]float64{exact, 1}, []float64{base, again}); diff != "" {
				t.Errorf("in the base unit, and again (-want +got):\n%s", diff)
			}
		})
	}
}

// A slip in the definitions above would be a slip in both: the figures as
// printed, for a reader. 16 oz to the lb; 2 tbsp, 6 tsp to the fl oz.
func TestPrintedFactors(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]float64{
		"Pounds": 453.59237, "Ounces": 28.349523125, "Teaspoons": 4.92892159375, "Tablespoons": 14.78676478125,
		"Cups": 236.5882365, "FluidOunces": 29.5735295625, "Inches": 0.0254, "Feet": 0.3048,
		"FahrenheitDegrees": 0.555555556, "FahrenheitHours": 0.555556, // 5.555556 E-01, as their getters round it
	} {
		for _, u := range units() {
			if u.name != name {
				continue
			}
			got, _, err := u.of(1)
			if err != nil || got != want {
				t.Errorf("%s: want %v, got %v, %v", name, want, got, err)
			}
		}
	}
}

func TestConstructorsKeepTheirBounds(t *testing.T) {
	t.Parallel()
	for _, u := range units() {
		t.Run(u.name, func(t *testing.T) {
			t.Parallel()
			inside := []float64{max(u.low, -math.MaxFloat64), 0, math.Copysign(0, -1), 1, min(u.high, 1e300)}
			for _, v := range inside {
				base, _, err := u.of(v)
				if err != nil {
					t.Errorf("%v: %v", v, err)
				}
				if v == 0 && math.Signbit(base) {
					t.Errorf("%v is kept as a minus zero", v)
				}
			}
			outside := []float64{math.NaN(), math.Inf(1), math.Inf(-1)}
			if !math.IsInf(u.low, -1) {
				outside = append(outside, math.Nextafter(u.low, math.Inf(-1)), u.low-1, -math.MaxFloat64)
			}
			if !math.IsInf(u.high, 1) {
				outside = append(outside, math.Nextafter(u.high, math.Inf(1)), u.high*10, math.MaxFloat64)
			}
			for _, v := range outside {
				base, _, err := u.of(v)
				want := quantity.RangeError{Quantity: u.quantity, Value: v, Low: u.low, High: u.high, Unit: u.symbol}
				if diff := cmp.Diff(want, rangeErrorOf(t, err), cmpopts.EquateNaNs()); diff != "" {
					t.Errorf("%v (-want +got):\n%s", v, diff)
				}
				if base != 0 {
					t.Errorf("%v is refused, and yet gives %v", v, base)
				}
			}
		})
	}
}

// What is finite in its unit but not in the base unit is told of in its unit.
func TestConstructorsRefuseOverflow(t *testing.T) {
	t.Parallel()
	for _, u := range units() {
		base, _, err := u.of(1)
		if err != nil {
			t.Fatal(err)
		}
		if base <= 1 {
			continue
		}
		t.Run(u.name, func(t *testing.T) {
			t.Parallel()
			_, _, err := u.of(math.MaxFloat64)
			got := rangeErrorOf(t, err)
			if got.Unit != u.symbol || got.Value != math.MaxFloat64 || !(got.High < got.Value) {
				t.Errorf("%+v", got)
			}
			if _, _, err := u.of(got.High * (1 - 1e-9)); err != nil {
				t.Errorf("just under the bound that was named: %v", err)
			}
		})
	}
}

func FuzzConstructors(f *testing.F) {
	for _, v := range []float64{
		0, math.Copysign(0, -1), 1, -1, 100, 100.00000000000001, 1e13, 25, math.MaxFloat64, -math.MaxFloat64,
		math.SmallestNonzeroFloat64, -math.SmallestNonzeroFloat64, math.NaN(), math.Inf(1), math.Inf(-1), 1.7e305, 3.9e305,
	} {
		f.Add(v)
	}
	f.Fuzz(func(t *testing.T, v float64) {
		for _, u := range units() {
			base, again, err := u.of(v)
			for _, kept := range []float64{base, again} {
				if math.IsNaN(kept) || math.IsInf(kept, 0) {
					t.Errorf("%s(%v) keeps %v", u.name, v, kept)
				}
			}
			if inside := v >= u.low && v <= u.high && !math.IsInf(v, 0); !inside && err == nil {
				t.Errorf("%s(%v) is let in", u.name, v)
			}
			if err == nil && base < u.low {
				t.Errorf("%s(%v) keeps %v", u.name, v, base)
			}
			if err != nil {
				rangeErrorOf(t, err)
			}
		}
	})
}

func TestUnitsRoundTrip(t *testing.T) {
	t.Parallel()
	for _, u := range units() {
		t.Run(u.name, rapid.MakeCheck(func(t *rapid.T) {
			v := rapid.Float64Range(max(u.low, -1e12), min(u.high, 1e12)).Draw(t, "v")
			base, again, err := u.of(v)
			if err != nil {
				t.Fatal(err)
			}
			one, _, _ := u.of(1) // TestOneOfEachUnit has no error for it
			// One of each is known to what its getter rounds to, and so is each result.
			// Below the least normal number, 2e-308, a float has fewer digits.
			slack := 2*rounding*math.Abs(v) + u.to*(1+math.Abs(v))/one + 1e-300
			for what, off := range map[string]float64{"again": again - v, "in base units": (base - v*one) / one} {
				if !(math.Abs(off) <= slack) {
					t.Errorf("%v %s is off by %v", v, what, off)
				}
			}
		}))
	}
}

func TestMassArithmetic(t *testing.T) {
	t.Parallel()
	a, b := quantity.MustGrams(1500), quantity.MustGrams(600)
	for _, row := range []struct {
		name      string
		want, got float64
	}{
		{"1500 g and 600 g", 2100, a.Plus(b).Grams()},
		{"1500 g less 600 g", 900, a.Minus(b).Grams()},
		{"600 g less 1500 g is a deficit", -900, b.Minus(a).Grams()},
		{"2.5 times 600 g", 1500, b.Times(quantity.MustRatio(2.5)).Grams()},
		{"the mass of which 600 g is 2.5 times", 240, ok(b.DividedBy(quantity.MustRatio(2.5)))(t).Grams()},
		{"600 g in 1500 g", 2.5, ok(a.Over(b))(t).Float()},
		{"a deficit over 600 g", -1.5, ok(b.Minus(a).Over(b))(t).Float()},
		{"2.8 % of 1500 g", 42, quantity.MustPercent(2.8).Of(a).Grams()},
		{"1.2 times 1500 g", 1800, quantity.MustRatio(1.2).Of(a).Grams()},
		{"156.25 mg/kg in 1500 g, in mg", 234.375, quantity.MustPPM(156.25).Of(a).Milligrams()},
		{"1.2 g/mL in 3 tbsp of 14.78676478125 mL", 53.2323532125, quantity.MustGramsPerMillilitre(1.2).Of(ok(quantity.Tablespoons(3))(t)).Grams()},
		{"6 g to the teaspoon in 2 tsp", 12, quantity.MustGramsPerTeaspoon(6).Of(ok(quantity.Teaspoons(2))(t)).Grams()},
		{"a quarter of a cup of 236.5882365 mL", 59.147059125, ok(quantity.Cups(1))(t).Times(quantity.MustRatio(0.25)).Millilitres()},
	} {
		near(t, row.name, row.want, row.got)
	}
	if !b.Less(a) || a.Less(b) || a.Less(a) {
		t.Error("600 g is less than 1500 g, and nothing less than itself")
	}
}

func TestDivisorsMustBePositive(t *testing.T) {
	t.Parallel()
	inf, tiny := math.Inf(1), math.SmallestNonzeroFloat64
	kilogram := quantity.MustGrams(1000)
	deficit := quantity.Mass{}.Minus(kilogram)
	dividedBy := func(k float64) error { _, err := kilogram.DividedBy(quantity.MustRatio(k)); return err }
	over := func(n quantity.Mass) error { _, err := kilogram.Over(n); return err }
	roundTo := func(d quantity.Mass) error { _, _, err := kilogram.RoundTo(d, quantity.Down); return err }
	for _, row := range []struct {
		name string
		err  error
		want quantity.RangeError
	}{
		{"divided by nothing", dividedBy(0), quantity.RangeError{Quantity: "divisor", High: inf, LowOpen: true}},
		{"divided by less", dividedBy(-2), quantity.RangeError{Quantity: "divisor", Value: -2, High: inf, LowOpen: true}},
		{"divided by next to nothing", dividedBy(tiny), quantity.RangeError{Quantity: "mass", Value: inf, Low: -inf, High: inf, Unit: "g"}},
		{"over nothing", over(quantity.Mass{}), quantity.RangeError{Quantity: "divisor mass", High: inf, LowOpen: true, Unit: "g"}},
		{"over a deficit", over(deficit), quantity.RangeError{Quantity: "divisor mass", Value: -1000, High: inf, LowOpen: true, Unit: "g"}},
		{"over next to nothing", over(quantity.MustGrams(tiny)), quantity.RangeError{Quantity: "ratio", Value: inf, Low: -inf, High: inf}},
		{"no division", roundTo(quantity.Mass{}), quantity.RangeError{Quantity: "scale division", High: inf, LowOpen: true, Unit: "g"}},
		{"a division of less", roundTo(deficit), quantity.RangeError{Quantity: "scale division", Value: -1000, High: inf, LowOpen: true, Unit: "g"}},
		{
			"a division of next to nothing", roundTo(quantity.MustGrams(tiny)),
			quantity.RangeError{Quantity: "count of scale divisions in the mass", Value: inf, Low: -1e15, High: 1e15},
		},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff(row.want, rangeErrorOf(t, row.err)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestNothingIsZero(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name          string
		nothing, some bool
	}{
		{"mass", quantity.Mass{}.IsZero(), quantity.MustGrams(0.001).IsZero()},
		{"density", quantity.Density{}.IsZero(), quantity.MustGramsPerMillilitre(0.3).IsZero()},
		{"fraction", quantity.Fraction{}.IsZero(), quantity.MustPercent(0.1).IsZero()},
		{"mass fraction", quantity.PPM{}.IsZero(), quantity.MustPPM(0.1).IsZero()},
		{"measure", quantity.Measure{}.IsZero(), quantity.PPM{}.In(quantity.UnitPercent).IsZero()}, // 0 % was measured
		{"temperature", quantity.Temperature{}.IsZero(), quantity.MustCelsius(0).IsZero()},
		{"temperature difference", quantity.TemperatureDelta{}.IsZero(), quantity.MustCelsiusDegrees(-0.1).IsZero()},
		{"degree-hours", quantity.DegreeHours{}.IsZero(), quantity.MustCelsiusHours(0.1).IsZero()},
		{"length", quantity.Length{}.IsZero(), quantity.MustMillimetres(0.1).IsZero()},
	} {
		if !row.nothing || row.some {
			t.Errorf("%s: nothing is zero %v, something is zero %v", row.name, row.nothing, row.some)
		}
	}
}

// The same share of a mass, as a fraction, a ratio and a mass fraction.
func TestSharesConvert(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := ok(quantity.Percent(rapid.Float64Range(0, 100).Draw(t, "percent")))(t)
		m := ok(quantity.Grams(rapid.Float64Range(0, 1e9).Draw(t, "grams")))(t)
		ratio := f.Ratio()
		ppm := ok(ratio.PPM())(t)
		for name, pair := range map[string][2]float64{
			"ratio":                {f.Float(), ratio.Float()},
			"ratio in percent":     {f.Percent(), ratio.Percent()},
			"ppm in percent":       {f.Percent(), ppm.Percent()},
			"ppm in g/kg":          {f.Percent() * 10, ppm.GramsPerKilogram()},
			"ppm in mg/kg":         {f.Percent() * 1e4, ppm.MilligramsPerKilogram()},
			"mass of the ratio":    {f.Of(m).Grams(), ratio.Of(m).Grams()},
			"mass of the ppm":      {f.Of(m).Grams(), ppm.Of(m).Grams()},
			"the mass, multiplied": {f.Of(m).Grams(), m.Times(ratio).Grams()},
			"what is left of it":   {m.Grams() - f.Of(m).Grams(), f.Complement().Of(m).Grams()},
		} {
			if tolerance := 4 * rounding * math.Max(math.Abs(pair[0]), m.Grams()); !(math.Abs(pair[0]-pair[1]) <= tolerance) {
				t.Errorf("%s: want %v, got %v", name, pair[0], pair[1])
			}
		}
	})
}

// A negative share, or one without an end, is no mass fraction and no count.
func TestProductsKeepTheirBounds(t *testing.T) {
	t.Parallel()
	inf := math.Inf(1)
	times := func(k float64) error { _, err := quantity.MustPPM(100).Times(quantity.MustRatio(k)); return err }
	ppm := func(k float64) error { _, err := quantity.MustRatio(k).PPM(); return err }
	diluted := func(k float64) error {
		_, err := quantity.MustCFUPerGram(1e10).Diluted(quantity.MustRatio(k))
		return err
	}
	for _, row := range []struct {
		name string
		err  error
		want quantity.RangeError
	}{
		{"a negative multiple", times(-2), quantity.RangeError{Quantity: "mass fraction", Value: -200, High: inf, Unit: "mg/kg"}},
		{"an endless multiple", times(1e307), quantity.RangeError{Quantity: "mass fraction", Value: inf, High: inf, Unit: "mg/kg"}},
		{"a negative ratio", ppm(-2), quantity.RangeError{Quantity: "mass fraction", Value: -2e6, High: inf, Unit: "mg/kg"}},
		{"an endless ratio", ppm(1e303), quantity.RangeError{Quantity: "mass fraction", Value: inf, High: inf, Unit: "mg/kg"}},
		{"a negative share of a culture", diluted(-1), quantity.RangeError{Quantity: "cell count", Value: -1e10, High: 1e13, Unit: "CFU/g"}},
		{"more cells than a gram holds", diluted(1e4), quantity.RangeError{Quantity: "cell count", Value: 1e14, High: 1e13, Unit: "CFU/g"}},
	} {
		if diff := cmp.Diff(row.want, rangeErrorOf(t, row.err)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", row.name, diff)
		}
	}
	near(t, "100 mg/kg 2.5 times", 250, ok(quantity.MustPPM(100).Times(quantity.MustRatio(2.5)))(t).MilligramsPerKilogram())
	near(t, "1e10 CFU/g at 0.25 g/kg", 2.5e6, ok(quantity.MustCFUPerGram(1e10).Diluted(quantity.MustRatio(0.00025)))(t).CFUPerGram())
}

// On a limit means on it whatever way it was computed; a millionth off is not.
func TestComparePPM(t *testing.T) {
	t.Parallel()
	// In variables, as a constant expression would be exact.
	cure, assay, meat, million := 2.5, 0.0625, 1000.0, 1e6
	half, sixth := 0.5, 0.0625/0.1
	for _, row := range []struct {
		name string
		p, q float64
		want int
	}{
		{"2.5 g of a 6.25 % cure in 1000 g of meat", cure * assay / meat * million, 156.25, 0},
		{"the same by way of a share", cure / meat * assay * million, 156.25, 0},
		{"the same by way of 0.1 g divisions", 25 * 0.1 * sixth * 0.1 / meat * million, 156.25, 0},
		{"the least number above", math.Nextafter(156.25, 200), 156.25, 0},
		{"a billionth above, at the edge", 1e9 + half, 1e9, 0},
		{"two billionths above", 156.25 * (1 + 2e-9), 156.25, 1},
		{"two billionths below", 156.25 * (1 - 2e-9), 156.25, -1},
		{"a tenth of a gram of cure in a tonne above", 156.25625, 156.25, 1},
		{"none and none", 0, 0, 0},
		{"none and a trace", 0, 1e-300, -1},
		{"a trace and none", 1e-300, 0, 1},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			p, q := quantity.MustPPM(row.p), quantity.MustPPM(row.q)
			if diff := cmp.Diff([]int{row.want, -row.want}, []int{p.Compare(q), q.Compare(p)}); diff != "" {
				t.Errorf("either way round (-want +got):\n%s", diff)
			}
		})
	}
	if p := quantity.MustPPM(1); p.Less(p) || !p.Less(quantity.MustPPM(1.5)) {
		t.Error("1 mg/kg is less than 1.5 mg/kg and not than itself")
	}
}

func TestMustPanicsOutsideTheBounds(t *testing.T) {
	t.Parallel()
	for name, must := range map[string]func(){
		"MustGrams":              func() { quantity.MustGrams(-1) },
		"MustPercent":            func() { quantity.MustPercent(101) },
		"MustRatio":              func() { quantity.MustRatio(math.NaN()) },
		"MustPPM":                func() { quantity.MustPPM(-1) },
		"MustCFUPerGram":         func() { quantity.MustCFUPerGram(1e14) },
		"MustGramsPerMillilitre": func() { quantity.MustGramsPerMillilitre(26) },
		"MustGramsPerTeaspoon":   func() { quantity.MustGramsPerTeaspoon(-1) },
		"MustCelsius":            func() { quantity.MustCelsius(-273.15) },
		"MustFahrenheit":         func() { quantity.MustFahrenheit(-459.67) },
		"MustCelsiusDegrees":     func() { quantity.MustCelsiusDegrees(math.NaN()) },
		"MustCelsiusHours":       func() { quantity.MustCelsiusHours(-1) },
		"MustFahrenheitHours":    func() { quantity.MustFahrenheitHours(-1) },
		"MustMillimetres":        func() { quantity.MustMillimetres(-1) },
		"MustLossPercent":        func() { quantity.MustLossPercent(100.1) },
		"MustHumidityPercent":    func() { quantity.MustHumidityPercent(100.1) },
		"MustWaterActivity":      func() { quantity.MustWaterActivity(1.01) },
		"MustPH":                 func() { quantity.MustPH(14.1) },
		"MustMetresPerSecond":    func() { quantity.MustMetresPerSecond(-1) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			defer func() {
				err, _ := recover().(error)
				rangeErrorOf(t, err)
			}()
			must()
		})
	}
}

func TestExactlyHoldsOneValue(t *testing.T) {
	t.Parallel()
	b := quantity.Exactly(quantity.MustGrams(3))
	if b.Low != b.High || b.Low != quantity.MustGrams(3) {
		t.Errorf("want 3 g at both ends, got %v to %v", b.Low, b.High)
	}
}
