package air_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"greenweight/domain/air"
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func relative(percent float64) air.Humidity {
	h := quantity.MustHumidityPercent(percent)
	return air.Humidity{Relative: &h}
}

func celsius(t float64) *quantity.Temperature {
	c := quantity.MustCelsius(t)
	return &c
}

func degrees(d float64) *quantity.TemperatureDelta {
	c := quantity.MustCelsiusDegrees(d)
	return &c
}

func points(p float64) *quantity.RelativeHumidity {
	h := quantity.MustHumidityPercent(p)
	return &h
}

// exact is a place whose instruments are right.
func exact(t float64, h air.Humidity) air.Place {
	return air.Place{Name: "here", Temperature: quantity.MustCelsius(t), Humidity: h, Hygrometer: points(0), Thermometer: degrees(0)}
}

// state returns what is told of one place.
func state(tb rapid.TB, p air.Place) air.State {
	tb.Helper()
	return ok(air.Tell(air.Order{Places: []air.Place{p}}))(tb).States[0]
}

// signed is a drive in kPa, negative where it wets.
func signed(d air.Drive) float64 {
	if d.Wetting {
		return -d.Pressure.Kilopascals()
	}
	return d.Pressure.Kilopascals()
}

// effect is what a place does to a product of this water activity.
func effect(tb rapid.TB, p air.Place, surface float64) air.Effect {
	tb.Helper()
	a := ok(air.Tell(air.Order{Places: []air.Place{p}, Product: &air.Product{Surface: quantity.MustWaterActivity(surface)}}))(tb)
	return *a.States[0].Effect
}

// Over ice, in Pa: WMO and CRC tables, after Goff and Gratch (recalled): 611.15 at 0
// °C, 401.76 at -5, 259.90 at -10, 103.26 at -20, 38.01 at -30, 12.84 at -40. They
// and equation 7 of Murphy and Koop differ by 0.1 percent.
func TestSaturationPressureOverIce(t *testing.T) {
	t.Parallel()
	for at, want := range map[float64]float64{0: 611.15, -5: 401.76, -10: 259.90, -20: 103.26, -30: 38.01, -40: 12.84} {
		got := ok(air.SaturationPressureOverIce(quantity.MustCelsius(at)))(t)
		quantitytest.Near(t, fmt.Sprintf("Pa at %v °C", at), want, got.Kilopascals()*1000, 0.002*want)
	}
	_, warm := air.SaturationPressureOverIce(quantity.MustCelsius(0.1))
	isFault(t, warm, fault.OutsideModel, "no-ice")
	_, cold := air.SaturationPressureOverIce(quantity.MustCelsius(-41))
	isFault(t, cold, fault.OutsideModel, "temperature")
	// At the triple point ice, water and vapour are in balance.
	triple := quantity.MustCelsius(0.01)
	ice, water := ok(air.SaturationPressureOverIce(triple))(t), ok(air.SaturationPressure(triple))(t)
	quantitytest.Near(t, "at the triple point", water.Kilopascals(), ice.Kilopascals(), 1e-5)
}

// The same air told in four ways. A household refrigerator at 4 °C: off a wet coil
// at 0 °C 0.61121/0.81351 = 75.1 percent, off an iced one at -5 °C 0.40176/0.81351 =
// 49.4. The room at 13 °C and 75 percent has its dew point at 8.68 °C and its wet
// bulb at 10.61 °C.
func TestWaysToTellHumidity(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name      string
		place     air.Place
		want, off float64 // percent
	}{
		{"off a wet coil", exact(4, air.Humidity{Coil: &air.Coil{Temperature: *celsius(0)}}), 75.1, 0.05},
		{"off an iced coil", exact(4, air.Humidity{Coil: &air.Coil{Temperature: *celsius(-5), Iced: true}}), 49.4, 0.05},
		{"by its dew point", exact(13, air.Humidity{DewPoint: celsius(8.68)}), 75, 0.05},
		{"by its wet bulb", exact(13, air.Humidity{WetBulb: celsius(10.61)}), 75, 0.05},
		{"by a hygrometer", exact(13, relative(75)), 75, 1e-9},
	} {
		s := state(t, row.place)
		quantitytest.Near(t, row.name, row.want, s.Humidity.Value.Percent(), row.off)
		if s.Humidity.Within.Low != s.Humidity.Value || s.Humidity.Within.High != s.Humidity.Value {
			t.Errorf("%s: right instruments leave %v", row.name, s.Humidity.Within)
		}
	}
}

// Tables for a ventilated psychrometer at sea level, as printed in handbooks of the
// weather services (recalled, to a point): humidity by how much colder the wick is.
// And Sprung's formula, e = es(w) - 0.000653 (1 + 0.000944 w) 1013.25 hPa (t - w), the
// one of WMO-No. 8 (recalled), which is of measurements and not of the balance here.
func TestWetBulbAgainstPrintedTables(t *testing.T) {
	t.Parallel()
	for dry, row := range map[float64][]float64{10: {88, 77, 66, 55, 44}, 15: {90, 80, 71, 61, 53}, 20: {91, 82, 74, 66, 58}} {
		for i, want := range row {
			wick := dry - float64(i+1)
			got := state(t, exact(dry, air.Humidity{WetBulb: celsius(wick)})).Humidity.Value.Percent()
			quantitytest.Near(t, fmt.Sprintf("%v °C, wick at %v", dry, wick), want, got, 1.2)
			over := ok(air.SaturationPressure(*celsius(wick)))(t).Kilopascals()
			sprung := over - 0.000653*(1+0.000944*wick)*101.325*(dry-wick)
			quantitytest.Near(t, "by Sprung", 100*sprung/ok(air.SaturationPressure(*celsius(dry)))(t).Kilopascals(), got, 0.6)
		}
	}
}

// What is told of a place lies within what is told of it with doubt, wherever
// inside the doubt its instruments stand: the ends at the corners are ends.
func TestEndsHoldEveryReading(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		at, surface := draw("temperature", -10, 40), draw("aw", 0.5, 1)
		off, by := draw("thermometer", 0, 2), draw("hygrometer", 0, 8)
		way := rapid.IntRange(0, 3).Draw(t, "way")
		reading := draw("reading", 5, 100)
		diameter, speed := quantity.MustMillimetres(draw("diameter", 10, 120)), quantity.MustMetresPerSecond(draw("speed", 0.05, 2))
		product := &air.Product{Surface: quantity.MustWaterActivity(surface), Diameter: &diameter}
		doubted := exact(at, air.Humidity{})
		doubted.AirSpeed, doubted.Thermometer, doubted.Hygrometer = &speed, degrees(off), points(by)
		told := at - draw("colder", 0, 5)
		inside := doubted
		inside.Thermometer, inside.Hygrometer = degrees(0), points(0)
		warmer := at + off*draw("shift", -1, 1)
		inside.Temperature = *celsius(warmer)
		shifted := math.Min(warmer, told+off*draw("shift of the other", -1, 1))
		switch way {
		case 0:
			doubted.Humidity = relative(reading)
			inside.Humidity = relative(math.Max(0, math.Min(100, reading+by*draw("points", -1, 1))))
		case 1:
			doubted.Humidity.DewPoint, inside.Humidity.DewPoint = celsius(told), celsius(shifted)
		case 2:
			doubted.Humidity.WetBulb, inside.Humidity.WetBulb = celsius(told), celsius(shifted)
		default:
			iced := told < -3
			doubted.Humidity.Coil = &air.Coil{Temperature: *celsius(told), Iced: iced}
			inside.Humidity.Coil = &air.Coil{Temperature: *celsius(shifted), Iced: iced}
		}
		whole, err := air.Tell(air.Order{Places: []air.Place{doubted}, Product: product})
		if err != nil {
			t.Skip("no such air")
		}
		one, err := air.Tell(air.Order{Places: []air.Place{inside}, Product: product})
		if err != nil {
			t.Skip("no such air")
		}
		w, o := whole.States[0], one.States[0]
		// A thermometer is read to a billionth of a degree.
		holds := func(what string, low, v, high float64) {
			if slack := 1e-7 * (1 + math.Abs(v)); !(low <= v+slack && v <= high+slack) {
				t.Errorf("%s: %v is not within %v to %v", what, v, low, high)
			}
		}
		holds("humidity", w.Humidity.Within.Low.Percent(), o.Humidity.Value.Percent(), w.Humidity.Within.High.Percent())
		holds("vapour", w.Vapour.Within.Low.Kilopascals(), o.Vapour.Value.Kilopascals(), w.Vapour.Within.High.Kilopascals())
		holds("saturation", w.Saturation.Within.Low.Kilopascals(), o.Saturation.Value.Kilopascals(), w.Saturation.Within.High.Kilopascals())
		holds("density", w.Density.Within.Low.GramsPerMillilitre(), o.Density.Value.GramsPerMillilitre(), w.Density.Within.High.GramsPerMillilitre())
		holds("drive", signed(w.Effect.Drive.Within.Low), signed(o.Effect.Drive.Value), signed(w.Effect.Drive.Within.High))
		holds("gap", w.Effect.Gap.Within.Low.Float(), o.Effect.Gap.Value.Float(), w.Effect.Gap.Within.High.Float())
		holds("film", w.Effect.Film.Within.Low.MetresPerSecond(), o.Effect.Film.Value.MetresPerSecond(), w.Effect.Film.Within.High.MetresPerSecond())
		holds("most", w.Effect.Most.Within.Low.PercentPerDay(), o.Effect.Most.Value.PercentPerDay(), w.Effect.Most.Within.High.PercentPerDay())
		for what, pair := range map[string][2]air.Points{"dew point": {w.DewPoint, o.DewPoint}, "wet bulb": {w.WetBulb, o.WetBulb}} {
			if a, b := pair[0], pair[1]; a.Low != nil && b.Value != nil {
				holds(what, a.Low.Celsius()-1e-6, b.Value.Celsius(), a.High.Celsius()+1e-6)
			}
		}
		// The answers by yes or no hold there too.
		if g := w.Effect.Gains; g == air.Yes && !(o.Effect.Gap.Value.Float() < 1e-12) || g == air.No && o.Effect.Gap.Value.Float() < -1e-12 {
			t.Errorf("gains water: %v, with a gap of %v", g, o.Effect.Gap.Value)
		}
	})
}

// The room and the refrigerator, by hand. Room: (0.90-0.75)*1.49799 = 0.2247 kPa; with
// the hygrometer off by 3 points and the thermometer by half a degree the ends are
// 0.12*1.4499 = 0.174 and 0.18*1.5475 = 0.2786, with p_sat(12.5) = 1.4499 and
// p_sat(13.5) = 1.5475. Refrigerator at the same 75 percent: 0.15*0.81351 = 0.1220,
// 0.54 of it. Water moves exp(-3608*(1/277.15-1/286.15)) = 0.664 times as fast inside
// at 30 kJ/mol, and between 0.62 and 0.71 at 35 and 25.
func TestRoomAndRefrigerator(t *testing.T) {
	t.Parallel()
	room, cold := exact(13, relative(75)), exact(4, relative(75))
	doubted := room
	doubted.Hygrometer, doubted.Thermometer = points(3), degrees(0.5)
	d := effect(t, doubted, 0.90).Drive
	quantitytest.Near(t, "drive", 0.2247, d.Value.Pressure.Kilopascals(), 0.00005)
	quantitytest.Near(t, "its low end", 0.1740, d.Within.Low.Pressure.Kilopascals(), 0.0001)
	quantitytest.Near(t, "its high end", 0.2786, d.Within.High.Pressure.Kilopascals(), 0.0001)

	product := air.Product{Surface: quantity.MustWaterActivity(0.90)}
	a := ok(air.Tell(air.Order{Places: []air.Place{room, cold}, Product: &product}))(t)
	c := a.Comparisons[0]
	quantitytest.Near(t, "drive against the room's", 0.543, c.Drive.Value.Float(), 0.0005)
	quantitytest.Near(t, "vapour against the room's", 0.543, c.Vapour.Value.Float(), 0.0005)
	quantitytest.Near(t, "diffusion inside", 0.664, c.Diffusivity.Value.Float(), 0.0005)
	quantitytest.Near(t, "its low end", 0.620, c.Diffusivity.Within.Low.Float(), 0.001)
	quantitytest.Near(t, "its high end", 0.711, c.Diffusivity.Within.High.Float(), 0.001)
	if c.Place != 1 || c.Moves != air.FromFirst {
		t.Errorf("place %d, vapour moves %v", c.Place, c.Moves)
	}
	// To dry as the room does the refrigerator must be at 0.90 - 0.2247/0.81351 = 62.4
	// percent.
	quantitytest.Near(t, "dries as the room at", 62.38, c.Same.Humidity.Value.Percent(), 0.02)
	if c.Same.Possible != air.Yes {
		t.Errorf("possible: %v", c.Same.Possible)
	}
	// Its dew point at 75 percent is -0.01 °C, and the room's 8.68.
	quantitytest.Near(t, "dew point", -8.69, c.DewPoint.Value.CelsiusDegrees(), 0.05)
}

// At a water activity of 0.90 and 85 percent the gap is 5 points; a hygrometer that
// nobody checked is off by 3.5 there, which takes more than half of it. At 75 it is
// off by 3, at 100 by 5.
func TestHygrometersGrowWorse(t *testing.T) {
	t.Parallel()
	for at, want := range map[float64]float64{0: 3, 75: 3, 80: 3, 85: 3.5, 90: 4, 100: 5} {
		quantitytest.Near(t, fmt.Sprintf("at %v %%", at), want, air.DefaultHygrometer(quantity.MustHumidityPercent(at)).Percent(), 1e-9)
	}
	damp := exact(13, relative(85))
	damp.Hygrometer = nil
	e := effect(t, damp, 0.90)
	quantitytest.Near(t, "gap", 5, e.Gap.Value.Percent(), 1e-9)
	quantitytest.Near(t, "its low end", 1.5, e.Gap.Within.Low.Percent(), 1e-9)
	quantitytest.Near(t, "its high end", 8.5, e.Gap.Within.High.Percent(), 1e-9)
}

func TestGainsWater(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		humidity, off, surface float64
		want                   air.Told
	}{
		{75, 3, 0.90, air.No}, {95, 3, 0.90, air.Yes}, {89, 3, 0.90, air.NotTold}, {92, 3, 0.90, air.NotTold}, {90, 0, 0.90, air.No},
	} {
		p := exact(13, relative(row.humidity))
		p.Hygrometer = points(row.off)
		if got := effect(t, p, row.surface).Gains; got != row.want {
			t.Errorf("%v %% off by %v at aw %v: want %v, got %v", row.humidity, row.off, row.surface, row.want, got)
		}
	}
}

// A piece from the cold into a room of 13 °C and 75 percent, whose dew point is 8.7 °C
// and with a hygrometer off by 3 points 8.1 to 9.2 °C.
func TestWaterOnAColdPiece(t *testing.T) {
	t.Parallel()
	room := exact(13, relative(75))
	room.Hygrometer = points(3)
	for piece, want := range map[float64]air.Told{4: air.Yes, 8: air.Yes, 8.5: air.NotTold, 9: air.NotTold, 9.5: air.No, 12.9: air.No} {
		a := ok(air.Tell(air.Order{Places: []air.Place{room}, Product: &air.Product{Surface: quantity.MustWaterActivity(0.9), Temperature: celsius(piece)}}))(t)
		if got := *a.States[0].Effect.Drips; got != want {
			t.Errorf("a piece at %v °C: want %v, got %v", piece, want, got)
		}
	}
	if e := effect(t, room, 0.9); e.Drips != nil {
		t.Error("water on a piece as warm as the air")
	}
}

// Which way vapour goes is not told where the doubts overlap.
func TestWhichWayVapourMoves(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		first, second, off float64
		want               air.Movement
	}{
		{75, 60, 3, air.FromFirst}, {60, 75, 3, air.ToFirst}, {75, 72, 3, air.EitherWay}, {75, 75, 0, air.EitherWay},
	} {
		one, two := exact(13, relative(row.first)), exact(13, relative(row.second))
		one.Hygrometer, two.Hygrometer = points(row.off), points(row.off)
		a := ok(air.Tell(air.Order{Places: []air.Place{one, two}}))(t)
		if got := a.Comparisons[0].Moves; got != row.want {
			t.Errorf("%v and %v %% off by %v: want %v, got %v", row.first, row.second, row.off, row.want, got)
		}
	}
}

// A ratio to what may be nothing has no upper end, and one to what wets is none.
func TestRatiosWithoutAnEnd(t *testing.T) {
	t.Parallel()
	compare := func(first, off float64) air.Comparison {
		one, two := exact(13, relative(first)), exact(13, relative(70))
		one.Hygrometer = points(off)
		return ok(air.Tell(air.Order{Places: []air.Place{one, two}, Product: &air.Product{Surface: quantity.MustWaterActivity(0.9)}}))(t).Comparisons[0]
	}
	// 0.20/0.10 = 2, and with 5 points 0.20/0.15 = 1.33 to 0.20/0.05 = 4.
	closed := compare(80, 5)
	quantitytest.Near(t, "ratio", 2, closed.Drive.Value.Float(), 1e-9)
	quantitytest.Near(t, "its low end", 4.0/3, closed.Drive.Low.Float(), 1e-9)
	quantitytest.Near(t, "its high end", 4, closed.Drive.High.Float(), 1e-9)
	open := compare(88, 3) // 0.20/0.05 = 4 at least
	quantitytest.Near(t, "low end of an open one", 4, open.Drive.Low.Float(), 1e-9)
	// -0.02/0.02 = -1, and as the first may draw nothing, there is no end either way.
	wet := func() air.Comparison {
		one, two := exact(13, relative(88)), exact(13, relative(92))
		one.Hygrometer, two.Hygrometer = points(3), points(3)
		return ok(air.Tell(air.Order{Places: []air.Place{one, two}, Product: &air.Product{Surface: quantity.MustWaterActivity(0.9)}}))(t).Comparisons[0]
	}()
	quantitytest.Near(t, "what may wet against what may be nothing", -1, wet.Drive.Value.Float(), 1e-9)
	if wet.Drive.Low != nil || wet.Drive.High != nil {
		t.Errorf("ends of %v and %v", wet.Drive.Low, wet.Drive.High)
	}
	if open.Drive.High != nil {
		t.Errorf("an end of %v", *open.Drive.High)
	}
	if wets := compare(95, 1); wets.Drive != nil {
		t.Errorf("a ratio of %v to what wets", wets.Drive.Value)
	}
	// No air of a freezer draws as a warm dry room does: 0.9*3.17 kPa at 25 °C.
	warm, freezer := exact(25, relative(0)), exact(-18, relative(50))
	none := ok(air.Tell(air.Order{Places: []air.Place{warm, freezer}, Product: &air.Product{Surface: quantity.MustWaterActivity(0.9)}}))(t).Comparisons[0]
	if none.Same.Possible != air.No || none.Same.Humidity != nil {
		t.Errorf("a freezer that dries as a warm room: %+v", none.Same)
	}
}

// same is quantitytest.Near for what draws its cases.
func same(tb rapid.TB, what string, want, got, tolerance float64) {
	tb.Helper()
	if d := math.Abs(want - got); !(d <= tolerance) {
		tb.Errorf("%s: want %v, got %v", what, want, got)
	}
}

// What is asked for comes out when it is put in.
func TestInverses(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		surface, wanted := draw("aw", 0.8, 1), draw("drive", 0, 0.3)
		first, second := exact(draw("first", 2, 30), relative(draw("humidity", 40, 95))), exact(draw("second", 2, 30), relative(50))
		drive, err := quantity.Kilopascals(wanted)
		if err != nil {
			t.Fatal(err)
		}
		a := ok(air.Tell(air.Order{
			Places: []air.Place{first, second}, Product: &air.Product{Surface: quantity.MustWaterActivity(surface)},
			Wanted: &air.Wanted{Drive: drive, Surface: quantity.MustWaterActivity(surface)},
		}))(t)
		if h := a.States[1].Wanted; h != nil {
			second.Humidity = relative(h.Value.Percent())
			same(t, "the wanted drive", wanted, signed(effect(t, second, surface).Drive.Value), 1e-9)
		}
		if s := a.Comparisons[0].Same; s.Humidity != nil {
			second.Humidity = relative(s.Humidity.Value.Percent())
			same(t, "the drive of the first", signed(a.States[0].Effect.Drive.Value), signed(effect(t, second, surface).Drive.Value), 1e-9)
		}
		// And the four ways to tell the humidity agree.
		for what, told := range map[string]air.Humidity{
			"dew point": {DewPoint: a.States[0].DewPoint.Value}, "wet bulb": {WetBulb: a.States[0].WetBulb.Value},
		} {
			p := first
			p.Humidity = told
			same(t, what, a.States[0].Humidity.Value.Percent(), state(t, p).Humidity.Value.Percent(), 0.005)
		}
	})
}

// Greenspan 1977, table 2 (recalled): sodium chloride 75.47 at 20 °C, 75.29 at 25;
// halfway 75.38. Potassium nitrate 93.58 and potassium sulfate 97.30 at 25 °C.
func TestSaltChecks(t *testing.T) {
	t.Parallel()
	check := func(s air.Salt, at, reading float64) air.SaltCheck {
		return air.SaltCheck{Salt: s, Temperature: quantity.MustCelsius(at), Reading: quantity.MustHumidityPercent(reading)}
	}
	a := ok(air.Tell(air.Order{
		Places: []air.Place{exact(13, relative(75))},
		Checks: []air.SaltCheck{
			check(air.SodiumChloride, 20, 72), check(air.SodiumChloride, 22.5, 78.38), check(air.PotassiumNitrate, 25, 93.58),
			check(air.PotassiumSulfate, 25, 95), check(air.PotassiumChloride, 0, 88.61), check(air.PotassiumChloride, 30, 80),
		},
	}))(t)
	for i, want := range []float64{3.47, -3, 0, 2.3, 0, 3.62} {
		quantitytest.Near(t, fmt.Sprintf("check %d", i), want, a.Checks[i].Add.Percent(), 1e-9)
	}
	for s := air.SodiumChloride; s <= air.PotassiumSulfate; s++ {
		if got, known := air.ParseSalt(s.String()); !known || got != s {
			t.Errorf("%v is read as %v", s, got)
		}
	}
	_, none := air.OverSalt(0, quantity.MustCelsius(20))
	isFault(t, none, fault.Invalid, "invalid-value")
	_, hot := air.OverSalt(air.SodiumChloride, quantity.MustCelsius(31))
	isFault(t, hot, fault.OutsideModel, "temperature")
}

func TestPlacesAtFault(t *testing.T) {
	t.Parallel()
	order := func(p air.Place) air.Order { return air.Order{Places: []air.Place{p}} }
	far := exact(13, relative(75))
	far.Thermometer = degrees(6)
	thick, thin := quantity.MustMillimetres(251), quantity.MustMillimetres(4)
	for _, row := range []struct {
		name  string
		order air.Order
		at    []string
	}{
		{"no place", air.Order{}, []string{"#/places"}},
		{"a kiln", order(exact(61, relative(10))), []string{"#/places/0/temperature"}},
		{"nothing told", order(exact(13, air.Humidity{})), []string{"#/places/0"}},
		{"told twice", order(exact(13, air.Humidity{DewPoint: celsius(5), WetBulb: celsius(9)})), []string{"#/places/0"}},
		{"a dew point above the air", order(exact(13, air.Humidity{DewPoint: celsius(14)})), []string{"#/places/0/dew_point"}},
		{"a wick above the air", order(exact(13, air.Humidity{WetBulb: celsius(14)})), []string{"#/places/0/wet_bulb"}},
		// Bone-dry air at 20 °C has a wet bulb of about 6 °C.
		{"a wick below bone-dry air", order(exact(20, air.Humidity{WetBulb: celsius(4)})), []string{"#/places/0/wet_bulb"}},
		{"a coil above the air", order(exact(4, air.Humidity{Coil: &air.Coil{Temperature: *celsius(5)}})), []string{"#/places/0/coil/temperature"}},
		{"warm ice", order(exact(4, air.Humidity{Coil: &air.Coil{Temperature: *celsius(2), Iced: true}})), []string{"#/places/0/coil/temperature"}},
		{"a thermometer far off", order(far), []string{"#/places/0/thermometer_uncertainty"}},
		{"a barrel in an oven", air.Order{
			Places: order(exact(13, relative(75))).Places, Product: &air.Product{Diameter: &thick, Temperature: celsius(90)},
		}, []string{"#/product/diameter", "#/product/temperature"}},
		{"a thread", air.Order{Places: order(exact(13, relative(75))).Places, Product: &air.Product{Diameter: &thin}}, []string{"#/product/diameter"}},
		{"a salt out of its table", air.Order{
			Places: order(exact(13, relative(75))).Places, Checks: []air.SaltCheck{{Salt: air.SodiumChloride, Temperature: *celsius(-1)}, {Temperature: *celsius(20)}},
		}, []string{"#/salt_checks/0/temperature", "#/salt_checks/1/salt"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			_, err := air.Tell(row.order)
			isFault(t, err, fault.Invalid, "invalid-value", row.at...)
		})
	}
}

// Bone-dry air has no dew point, and its end may have none.
func TestAirWithoutADewPoint(t *testing.T) {
	t.Parallel()
	if s := state(t, exact(13, relative(0))); s.DewPoint != (air.Points{}) || s.WetBulb.Value == nil {
		t.Errorf("a dew point of %v, a wet bulb of %v", s.DewPoint, s.WetBulb)
	}
	dry := exact(13, relative(2))
	dry.Hygrometer = points(3)
	if s := state(t, dry); s.DewPoint.Value == nil || s.DewPoint.Low != nil || s.DewPoint.High == nil {
		t.Errorf("dew points %v, %v, %v", s.DewPoint.Value, s.DewPoint.Low, s.DewPoint.High)
	}
	both := ok(air.Tell(air.Order{Places: []air.Place{exact(13, relative(0)), exact(13, relative(50))}}))(t)
	if c := both.Comparisons[0]; c.DewPoint != nil || c.Vapour != nil || c.Moves != air.ToFirst {
		t.Errorf("against bone-dry air: %+v", c)
	}
}

// Sources are named, and each word of the wire is one of its own.
func TestWordsOfAir(t *testing.T) {
	t.Parallel()
	for _, from := range air.Sources() {
		if from.Title == "" || from.Trust == 0 {
			t.Errorf("a source without title or trust: %+v", from)
		}
	}
	seen := make(map[string]bool)
	for _, word := range []fmt.Stringer{air.Yes, air.No, air.NotTold, air.FromFirst, air.ToFirst} {
		if text := word.String(); text == "unstated" || seen[text] {
			t.Errorf("%q", text)
		} else {
			seen[text] = true
		}
	}
	for _, none := range []fmt.Stringer{air.Told(0), air.Movement(9), air.Salt(0)} {
		if none.String() != "unstated" {
			t.Errorf("%q", none.String())
		}
	}
}

// Whatever is asked, there is an answer whose figures are in order, or a fault that names
// a member.
func FuzzTell(f *testing.F) {
	f.Add(13.0, 75.0, 0.9, 55.0, 0.15, 0.5, 3.0, uint8(0))
	f.Add(60.0, 60.0, 1.0, 5.0, 0.0, 5.0, 0.0, uint8(1))
	f.Add(-30.0, -30.0, 0.0, 250.0, 10.0, 5.0, 20.0, uint8(2))
	f.Add(4.0, -5.0, 0.5, 50.0, 0.5, 0.0, 0.0, uint8(3))
	f.Add(0.01, 0.01, 0.5, 50.0, 5e-324, 5e-324, 1e-300, uint8(7))
	f.Fuzz(func(t *testing.T, at, told, surface, millimetres, speed, off, points float64, way uint8) {
		temperature, noTemperature := quantity.Celsius(at)
		aw, noSurface := quantity.NewWaterActivity(surface)
		diameter, noDiameter := quantity.Millimetres(millimetres)
		wind, noWind := quantity.MetresPerSecond(math.Min(speed, 10))
		doubt, noDoubt := quantity.CelsiusDegrees(off)
		hygrometer, noHygrometer := quantity.HumidityPercent(points)
		if errors.Join(noTemperature, noSurface, noDiameter, noWind, noDoubt, noHygrometer) != nil {
			t.Skip()
		}
		p := air.Place{Temperature: temperature, AirSpeed: &wind, Hygrometer: &hygrometer, Thermometer: &doubt}
		other, noOther := quantity.Celsius(told)
		humidity, noHumidity := quantity.HumidityPercent(told)
		switch way % 4 {
		case 0:
			p.Humidity.Relative, noOther = &humidity, noHumidity
		case 1:
			p.Humidity.DewPoint = &other
		case 2:
			p.Humidity.WetBulb = &other
		default:
			p.Humidity.Coil = &air.Coil{Temperature: other, Iced: way&4 != 0}
		}
		if noOther != nil {
			t.Skip()
		}
		second := exact(4, relative(60))
		a, err := air.Tell(air.Order{Places: []air.Place{p, second}, Product: &air.Product{Surface: aw, Diameter: &diameter}})
		if err != nil {
			if f, is := errors.AsType[*fault.Error](err); !is || len(f.Violations) == 0 {
				t.Fatalf("not a fault that names a member: %v", err)
			}
			return
		}
		s := a.States[0]
		inOrder := func(what string, low, v, high float64) {
			if !(low <= v && v <= high) || math.IsInf(high, 1) {
				t.Errorf("%s: %v, %v, %v", what, low, v, high)
			}
		}
		inOrder("humidity", s.Humidity.Within.Low.Percent(), s.Humidity.Value.Percent(), s.Humidity.Within.High.Percent())
		inOrder("vapour", s.Vapour.Within.Low.Kilopascals(), s.Vapour.Value.Kilopascals(), s.Vapour.Within.High.Kilopascals())
		inOrder("drive", signed(s.Effect.Drive.Within.Low), signed(s.Effect.Drive.Value), signed(s.Effect.Drive.Within.High))
		inOrder("most", s.Effect.Most.Within.Low.PercentPerDay(), s.Effect.Most.Value.PercentPerDay(), s.Effect.Most.Within.High.PercentPerDay())
		c := a.Comparisons[0]
		inOrder("diffusion", c.Diffusivity.Within.Low.Float(), c.Diffusivity.Value.Float(), c.Diffusivity.Within.High.Float())
		if v := c.Vapour; v != nil && v.Low != nil && v.High != nil {
			inOrder("vapour against the first", v.Low.Float(), v.Value.Float(), v.High.Float())
		}
		if d := c.Drive; d != nil && d.Low != nil && d.High != nil {
			inOrder("drive against the first", d.Low.Float(), d.Value.Float(), d.High.Float())
		}
	})
}
