package quantity_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"greenweight/domain/quantity"
)

// t/°C = T/K - 273.15 and t/°C = (t/°F - 32)/1.8 (NIST SP 811, 2008, appendix
// B.8). Water freezes at 32 and boils at 212 °F, the scales meet at -40, and
// 90 °F is 290/9 = 32.222222222 °C.
func TestScalesOfTemperature(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name                        string
		of                          quantity.Temperature
		celsius, fahrenheit, kelvin float64
	}{
		{"freezing", quantity.MustCelsius(0), 0, 32, 273.15},
		{"freezing, in Fahrenheit", quantity.MustFahrenheit(32), 0, 32, 273.15},
		{"boiling", quantity.MustFahrenheit(212), 100, 212, 373.15},
		{"where the scales meet", quantity.MustCelsius(-40), -40, -40, 233.15},
		{"where the scales meet, in Fahrenheit", quantity.MustFahrenheit(-40), -40, -40, 233.15},
		{"90 °F", quantity.MustFahrenheit(90), 32.222222222, 90, 305.372222222},
		{"60 °F", quantity.MustFahrenheit(60), 15.555555556, 60, 288.705555556},
		{"15.6 °C", quantity.MustCelsius(15.6), 15.6, 60.08, 288.75},
		{"32.9 °C", quantity.MustCelsius(32.9), 32.9, 91.22, 306.05},
		{"37.8 °C", quantity.MustCelsius(37.8), 37.8, 100.04, 310.95},
		{"-17.8 °C", quantity.MustCelsius(-17.8), -17.8, -0.04, 255.35},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			want, got := []float64{row.celsius, row.fahrenheit}, []float64{row.of.Celsius(), row.of.Fahrenheit()}
			if diff := cmp.Diff(want, got); diff != "" { // to the last digit
				t.Errorf("°C and °F (-want +got):\n%s", diff)
			}
			if off := row.of.Kelvin() - row.kelvin; !(math.Abs(off) <= 1e-9) {
				t.Errorf("kelvin: want %v, got %v", row.kelvin, row.of.Kelvin())
			}
		})
	}
}

// A reading stays what was read: any number with up to six decimals, in the
// scale that it was given in.
func TestReadingsStayExact(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		v := float64(rapid.Int64Range(-200e6, 400e6).Draw(t, "millionths")) / 1e6
		if got := quantity.MustCelsius(v).Celsius(); got != v {
			t.Errorf("want %v °C, got %v", v, got)
		}
		if got := quantity.MustFahrenheit(v).Fahrenheit(); got != v {
			t.Errorf("want %v °F, got %v", v, got)
		}
		other := quantity.MustFahrenheit(quantity.MustCelsius(v).Fahrenheit())
		if got := other.Compare(quantity.MustCelsius(v)); got != 0 {
			t.Errorf("%v °C by way of Fahrenheit is %v", v, other)
		}
		if got := quantity.MustCelsiusDegrees(v).CelsiusDegrees(); got != v {
			t.Errorf("want %v degrees, got %v", v, got)
		}
	})
}

// A class of a rule begins at 90 °F, and a reading of exactly that is in it,
// whatever way it came.
func TestCompareTemperatures(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name string
		t, u quantity.Temperature
		want int
	}{
		{"the same", quantity.MustFahrenheit(90), quantity.MustFahrenheit(90), 0},
		{"by the other scale", quantity.MustCelsius(quantity.MustFahrenheit(90).Celsius()), quantity.MustFahrenheit(90), 0},
		{"by a difference", ok(quantity.MustFahrenheit(60).Plus(ok(quantity.FahrenheitDegrees(30))(t)))(t), quantity.MustFahrenheit(90), 0},
		{"a thousandth below", quantity.MustFahrenheit(89.999), quantity.MustFahrenheit(90), -1},
		{"a thousandth above", quantity.MustFahrenheit(90.001), quantity.MustFahrenheit(90), 1},
		{"two billionths above", quantity.MustCelsius(20.000000002), quantity.MustCelsius(20), 1},
		{"15.6 °C is not 60 °F", quantity.MustCelsius(15.6), quantity.MustFahrenheit(60), 1},
		{"colder", quantity.MustCelsius(-20), quantity.MustCelsius(-10), -1},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff([]int{row.want, -row.want}, []int{row.t.Compare(row.u), row.u.Compare(row.t)}); diff != "" {
				t.Errorf("either way round (-want +got):\n%s", diff)
			}
		})
	}
}

func TestTemperaturesKeepTheirBounds(t *testing.T) {
	t.Parallel()
	inf := math.Inf(1)
	for _, row := range []struct {
		symbol string
		zero   float64
		of     func(float64) (quantity.Temperature, error)
	}{
		{"°C", -273.15, quantity.Celsius},
		{"°F", -459.67, quantity.Fahrenheit},
	} {
		t.Run(row.symbol, func(t *testing.T) {
			t.Parallel()
			for _, v := range []float64{row.zero, math.Nextafter(row.zero, -inf), -1e300, -math.MaxFloat64, math.NaN(), inf, -inf} {
				got, err := row.of(v)
				want := quantity.RangeError{Quantity: "temperature", Value: v, Low: row.zero, High: inf, LowOpen: true, Unit: row.symbol}
				if diff := cmp.Diff(want, rangeErrorOf(t, err), cmpopts.EquateNaNs()); diff != "" {
					t.Errorf("%v (-want +got):\n%s", v, diff)
				}
				if got != (quantity.Temperature{}) {
					t.Errorf("%v is refused, and yet gives %v", v, got)
				}
			}
			for _, v := range []float64{row.zero + 1e-9, 0, math.Copysign(0, -1), 1e300} {
				if got, err := row.of(v); err != nil || !(got.Kelvin() > 0) {
					t.Errorf("%v: got %v, %v", v, got, err)
				}
			}
		})
	}
	if got := quantity.MustCelsius(math.Copysign(0, -1)).Celsius(); math.Signbit(got) {
		t.Error("a minus zero is printed as one")
	}
}

func FuzzTemperature(f *testing.F) {
	for _, v := range []float64{
		-273.15, -459.67, math.Nextafter(-273.15, 0), math.Nextafter(-459.67, 0), -459.66999999999996, 90, 15.6, 1e17, 4.6e6,
		math.MaxFloat64, -math.MaxFloat64, math.NaN(), math.Inf(1), math.SmallestNonzeroFloat64,
	} {
		f.Add(v)
	}
	f.Fuzz(func(t *testing.T, v float64) {
		celsius, errC := quantity.Celsius(v)
		fahrenheit, errF := quantity.Fahrenheit(v)
		for _, row := range []struct {
			symbol string
			of     quantity.Temperature
			err    error
			again  float64
		}{{"°C", celsius, errC, celsius.Celsius()}, {"°F", fahrenheit, errF, fahrenheit.Fahrenheit()}} {
			switch {
			case row.err != nil:
				rangeErrorOf(t, row.err)
			case !(row.of.Kelvin() > 0) || math.IsInf(row.of.Kelvin(), 0):
				t.Errorf("%v %s is %v K", v, row.symbol, row.of.Kelvin())
			case !(math.Abs(row.again-v) <= 1e-9+4*rounding*math.Abs(v)):
				t.Errorf("%v %s is %v again", v, row.symbol, row.again)
			}
		}
	})
}

func TestTemperatureArithmetic(t *testing.T) {
	t.Parallel()
	warm, cool := quantity.MustCelsius(24), quantity.MustCelsius(13.5)
	for _, row := range []struct {
		name      string
		want, got float64
	}{
		{"24 less 13.5 °C", 10.5, warm.Minus(cool).CelsiusDegrees()},
		{"13.5 less 24 °C", -10.5, cool.Minus(warm).CelsiusDegrees()},
		{"the other way", 10.5, cool.Minus(warm).Negative().CelsiusDegrees()},
		{"10.5 Celsius degrees in Fahrenheit", 18.9, warm.Minus(cool).FahrenheitDegrees()},
		{"30 Fahrenheit degrees", 16.666666667, ok(quantity.FahrenheitDegrees(30))(t).CelsiusDegrees()},
		{"75 less 60 °F", 15, quantity.MustFahrenheit(75).Minus(quantity.MustFahrenheit(60)).FahrenheitDegrees()},
		{"13.5 °C and 10.5 degrees", 24, ok(cool.Plus(quantity.MustCelsiusDegrees(10.5)))(t).Celsius()},
		{"24 °C less 10.5 degrees", 13.5, ok(warm.Plus(quantity.MustCelsiusDegrees(-10.5)))(t).Celsius()},
	} {
		if row.want != row.got {
			t.Errorf("%s: want %v, got %v", row.name, row.want, row.got)
		}
	}
	_, err := cool.Plus(quantity.MustCelsiusDegrees(-286.65))
	want := quantity.RangeError{Quantity: "temperature", Value: -273.15, Low: -273.15, High: math.Inf(1), LowOpen: true, Unit: "°C"}
	if diff := cmp.Diff(want, rangeErrorOf(t, err), cmpopts.EquateApprox(0, 1e-9)); diff != "" {
		t.Errorf("to absolute zero (-want +got):\n%s", diff)
	}
}

// 80 hours at 75 °F, 15 °F above the base of 60, are exactly 1200 °F h.
func TestDegreeHoursAreExact(t *testing.T) {
	t.Parallel()
	limit := quantity.MustFahrenheitHours(1200)
	excess := quantity.MustFahrenheit(75).Minus(quantity.MustFahrenheit(60))
	fifteen := ok(quantity.FahrenheitDegrees(15))(t)
	var hourly, minutely quantity.DegreeHours
	for range 80 {
		hourly = hourly.Plus(excess.For(time.Hour))
	}
	for range 80 * 60 {
		minutely = minutely.Plus(excess.For(time.Minute))
	}
	for _, row := range []struct {
		name string
		of   quantity.DegreeHours
		want int
	}{
		{"80 h of 15 °F", fifteen.For(80 * time.Hour), 0},
		{"80 h from 60 to 75 °F", excess.For(80 * time.Hour), 0},
		{"an hour at a time", hourly, 0},
		{"a minute at a time", minutely, 0},
		{"in Celsius", quantity.MustCelsiusHours(2000.0 / 3), 0}, // 1200 * 5/9
		{"a second more", excess.For(80*time.Hour + time.Second), 1},
		{"a second less", excess.For(80*time.Hour - time.Second), -1},
		{"nothing", quantity.DegreeHours{}, -1},
		{"in Celsius by mistake", quantity.MustCelsiusHours(1200), 1},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff([]int{row.want, -row.want}, []int{row.of.Compare(limit), limit.Compare(row.of)}); diff != "" {
				t.Errorf("either way round (-want +got):\n%s", diff)
			}
			if row.want == 0 && row.of.FahrenheitHours() != 1200 {
				t.Errorf("want 1200 °F h, got %v", row.of.FahrenheitHours())
			}
		})
	}
}

func TestDegreeHourArithmetic(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name      string
		want, got float64
	}{
		{"8.5 degrees for 90 minutes", 12.75, quantity.MustCelsiusDegrees(8.5).For(90 * time.Minute).CelsiusHours()},
		{"below the base", -12.75, quantity.MustCelsiusDegrees(-8.5).For(90 * time.Minute).CelsiusHours()},
		{"100 and 50 °C h", 150, quantity.MustCelsiusHours(100).Plus(quantity.MustCelsiusHours(50)).CelsiusHours()},
		{"what is left of 100 after 30", 70, quantity.MustCelsiusHours(100).Minus(quantity.MustCelsiusHours(30)).CelsiusHours()},
		{"used more than there was", -20, quantity.MustCelsiusHours(100).Minus(quantity.MustCelsiusHours(120)).CelsiusHours()},
		{"1000 °F h in Celsius", 555.555556, quantity.MustFahrenheitHours(1000).CelsiusHours()},
	} {
		if row.want != row.got {
			t.Errorf("%s: want %v, got %v", row.name, row.want, row.got)
		}
	}
}

// How long degree-hours last.
func TestDegreeHoursAtATemperature(t *testing.T) {
	t.Parallel()
	fahrenheit := func(d float64) quantity.TemperatureDelta { return ok(quantity.FahrenheitDegrees(d))(t) }
	for _, row := range []struct {
		name   string
		of     quantity.DegreeHours
		excess quantity.TemperatureDelta
		want   time.Duration
	}{
		{"1200 °F h at 15 °F", quantity.MustFahrenheitHours(1200), fahrenheit(15), 80 * time.Hour},
		{"1000 °F h at 30 °F", quantity.MustFahrenheitHours(1000), fahrenheit(30), 33*time.Hour + 20*time.Minute},
		{"12.75 °C h at 8.5 °C", quantity.MustCelsiusHours(12.75), quantity.MustCelsiusDegrees(8.5), 90 * time.Minute},
		{"none", quantity.DegreeHours{}, fahrenheit(15), 0},
		{"a debt", quantity.MustCelsiusHours(10).Minus(quantity.MustCelsiusHours(30)), quantity.MustCelsiusDegrees(10), -2 * time.Hour},
		{"longer than people live", quantity.MustCelsiusHours(2_562_047), quantity.MustCelsiusDegrees(1), 2_562_047 * time.Hour},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			if got, err := row.of.At(row.excess); err != nil || got != row.want {
				t.Errorf("want %v, got %v, %v", row.want, got, err)
			}
		})
	}
	inf := math.Inf(1)
	for _, row := range []struct {
		name   string
		of     quantity.DegreeHours
		excess quantity.TemperatureDelta
		want   quantity.RangeError
	}{
		{
			"at the base", quantity.MustCelsiusHours(1), quantity.TemperatureDelta{},
			quantity.RangeError{Quantity: "temperature above the base", High: inf, LowOpen: true, Unit: "°C"},
		},
		{
			"below the base", quantity.MustCelsiusHours(1), quantity.MustCelsiusDegrees(-2),
			quantity.RangeError{Quantity: "temperature above the base", Value: -2, High: inf, LowOpen: true, Unit: "°C"},
		},
		{
			"for ever", quantity.MustCelsiusHours(2_562_048), quantity.MustCelsiusDegrees(1),
			quantity.RangeError{Quantity: "time", Value: 2_562_048, Low: -2_562_047, High: 2_562_047, Unit: "h"},
		},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			got, err := row.of.At(row.excess)
			if diff := cmp.Diff(row.want, rangeErrorOf(t, err)); diff != "" || got != 0 {
				t.Errorf("%v (-want +got):\n%s", got, diff)
			}
		})
	}
}

// What lasts d at an excess lasts d again.
func TestDegreeHoursLastAsLong(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		excess := quantity.MustCelsiusDegrees(rapid.Float64Range(0.1, 40).Draw(t, "excess"))
		span := time.Duration(rapid.Int64Range(0, int64(1000*time.Hour)).Draw(t, "span"))
		got, err := excess.For(span).At(excess)
		if err != nil || (got-span).Abs() > time.Microsecond {
			t.Errorf("want %v, got %v, %v", span, got, err)
		}
	})
}

// It stood 80 hours at 75 °F. How many degree-hours above 60 °F is that?
func ExampleTemperatureDelta_For() {
	excess := quantity.MustFahrenheit(75).Minus(quantity.MustFahrenheit(60))
	fmt.Println(excess.For(80 * time.Hour).In(quantity.UnitDegFHours))
	// Output: 1200 °F h
}

// There are 600 °F h left. How long may it stay at 80 °F, counted from 60?
func ExampleDegreeHours_At() {
	left, err := quantity.MustFahrenheitHours(600).At(quantity.MustFahrenheit(80).Minus(quantity.MustFahrenheit(60)))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(left)
	// Output: 30h0m0s
}
