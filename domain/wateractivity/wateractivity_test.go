package wateractivity_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/wateractivity"
)

// percent makes a mix of percentages of the green mass.
func percent(water, protein, fat, salt, sugar float64) wateractivity.Mix {
	return wateractivity.Mix{
		Water: quantity.MustPercent(water), Protein: quantity.MustPercent(protein), Fat: quantity.MustPercent(fat),
		Salt: quantity.MustPercent(salt), Sugar: quantity.MustPercent(sugar),
	}
}

// blend is a hundred grams of lean pork and back fat with 2.8 g of salt, 0.5 g
// of dextrose and 0.5 g of spice. Lean has 74.31 % of water, 18.73 % of protein
// and 5.71 % of fat; back fat 7.69, 2.92 and 88.69 (USDA SR28, NDB 10084 and
// 10004).
func blend(lean float64) wateractivity.Mix {
	of := func(inLean, inFat float64) float64 { return (lean*inLean + (100-lean)*inFat) / 103.8 }
	return percent(of(74.31, 7.69), of(18.73, 2.92), of(5.71, 88.69), 280/103.8, 50/103.8)
}

func ok[T any](v T, err error) func(rapid.TB) T {
	return func(tb rapid.TB) T {
		tb.Helper()
		if err != nil {
			tb.Fatal(err)
		}
		return v
	}
}

// Robinson and Stokes, Electrolyte Solutions, 2nd rev. ed. 1965, appendix 8.3,
// 25 °C. The solution of 2.33 mol/kg is sold as 0.920 to check meters with, that
// of 6 mol/kg as 0.760.
func TestBrineOfTheTable(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ molality, want float64 }{
		{0, 1},
		{0.1, 0.99665},
		{0.5, 0.98355},
		{1, 0.96686},
		{1.2, 0.9601},
		{1.6, 0.9461},
		{2, 0.9316},
		{2.33, 0.920},
		{2.4, 0.9166},
		{3, 0.8932},
		{4, 0.8515},
		{5, 0.8068},
		{6, 0.7598},
		{6.144, 0.753},
	} {
		t.Run(fmt.Sprintf("%v mol/kg", row.molality), func(t *testing.T) {
			t.Parallel()
			salt := quantity.MustRatio(row.molality * 58.443 / 1000)
			// 0.001: what the fit is good to, and the digits of the table.
			quantitytest.Near(t, "aw", row.want, ok(wateractivity.Brine(salt))(t).Float(), 0.001)
		})
	}
}

// The same table in grams, by interpolation.
func TestBrineByWeight(t *testing.T) {
	t.Parallel()
	for grams, want := range map[float64]float64{4: 0.9774, 6: 0.9659, 8: 0.9541, 10: 0.942, 12: 0.9296} {
		got := ok(wateractivity.Brine(quantity.MustRatio(grams / 100)))(t)
		quantitytest.Near(t, fmt.Sprintf("%v g in 100 g of water", grams), want, got.Float(), 0.001)
	}
}

func TestBrineRefuses(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name string
		salt float64
		kind fault.Kind
		code string
	}{
		{"a deficit", -1e-9, fault.Invalid, "invalid-value"},
		{"more than water holds", 0.3592, fault.OutsideModel, "salt-saturated"}, // 6.144 mol/kg is 0.35907
		{"without end", math.MaxFloat64, fault.OutsideModel, "salt-saturated"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			_, err := wateractivity.Brine(quantity.MustRatio(row.salt))
			isFault(t, err, row.kind, row.code)
		})
	}
}

// isFault checks the kind and the code of an error, and that the members at
// fault are those named.
func isFault(tb rapid.TB, err error, kind fault.Kind, code string, members ...string) {
	tb.Helper()
	f, found := errors.AsType[*fault.Error](err)
	if !found {
		tb.Fatalf("want a fault, got %v", err)
	}
	var at []string
	for _, v := range f.Violations {
		at = append(at, v.Path.Pointer())
	}
	if f.Kind != kind || f.Code != code {
		tb.Errorf("want %s %s, got %s %s", kind, code, f.Kind, f.Code)
	}
	if diff := cmp.Diff(members, at); diff != "" {
		tb.Errorf("members at fault (-want +got):\n%s", diff)
	}
}

// Usual figures of an isotherm of lean meat, in grams of water to a gram of
// protein; and by hand at 0.99: 0.065*10*0.9504/(0.0496*(0.0496+9.504)) = 1.304,
// at 1: 0.624/(0.04*9.64) = 1.6183.
func TestHeldByProtein(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ aw, want, tolerance float64 }{
		{0, 0, 0},
		{0.5, 0.11, 0.006},
		{0.8, 0.27, 0.006},
		{0.9, 0.47, 0.006},
		{0.95, 0.73, 0.006},
		{0.99, 1.304, 0.0005},
		{1, 1.6183, 0.00005},
	} {
		got := ok(wateractivity.Held(quantity.MustWaterActivity(row.aw)))(t)
		quantitytest.Near(t, fmt.Sprintf("held at %v", row.aw), row.want, got.Float(), row.tolerance)
		if row.aw > 0.5 {
			back := ok(wateractivity.Sorption(quantity.MustRatio(row.want)))(t)
			quantitytest.Near(t, fmt.Sprintf("aw of %v", row.want), row.aw, back.Float(), row.tolerance)
		}
	}
	for what, water := range map[string]float64{"more than it holds": 1.62, "an ocean": math.MaxFloat64} {
		if got := ok(wateractivity.Sorption(quantity.MustRatio(water)))(t); got.Float() != 1 {
			t.Errorf("%s: want 1, got %v", what, got)
		}
	}
	if got := ok(wateractivity.Sorption(quantity.Ratio{}))(t); got.Float() != 0 {
		t.Errorf("dry protein: want 0, got %v", got)
	}
	_, err := wateractivity.Sorption(quantity.MustRatio(-1e-9))
	isFault(t, err, fault.Invalid, "invalid-value")
}

func TestSorptionIsTheInverseOfHeld(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		aw := quantity.MustWaterActivity(rapid.Float64Range(0, 1).Draw(t, "aw"))
		back := ok(wateractivity.Sorption(ok(wateractivity.Held(aw))(t)))(t)
		if !(math.Abs(back.Float()-aw.Float()) <= 1e-12) {
			t.Errorf("want %v, got %v", aw.Float(), back.Float())
		}
	})
}

// Water activity by loss of three blends, computed by hand from the formula of
// the package comment with an independent program, to three decimals; moisture
// and moisture to protein by mass balance. 0.003 is what counting the water of
// the back fat as lean may add (0.0015), and the rounding.
func TestWaterActivityByLoss(t *testing.T) {
	t.Parallel()
	losses := []float64{0, 20, 30, 35, 38, 40}
	for _, row := range []struct {
		lean                   float64
		moisture, ratio, brine []float64
		want                   []float64
	}{
		{
			80,
			[]float64{58.8, 48.4, 41.1, 36.5, 33.5, 31.3},
			[]float64{3.92, 2.58, 1.92, 1.58, 1.38, 1.25},
			[]float64{0.974, 0.960, 0.946, 0.934, 0.923, 0.914},
			[]float64{0.963, 0.944, 0.924, 0.907, 0.887, 0.871},
		},
		{
			75,
			[]float64{55.5, 44.4, 36.5, 31.6, 28.3, 25.9},
			[]float64{3.90, 2.50, 1.79, 1.44, 1.23, 1.09},
			[]float64{0.973, 0.957, 0.939, 0.922, 0.908, 0.894},
			[]float64{0.961, 0.940, 0.915, 0.890, 0.864, 0.841},
		},
		{
			70,
			[]float64{52.3, 40.4, 31.9, 26.7, 23.1, 20.6},
			[]float64{3.88, 2.40, 1.66, 1.29, 1.06, 0.92},
			[]float64{0.971, 0.952, 0.929, 0.906, 0.884, 0.863},
			[]float64{0.960, 0.935, 0.904, 0.866, 0.830, 0.795},
		},
	} {
		for i, l := range losses {
			t.Run(fmt.Sprintf("%v lean, %v %%", row.lean, l), func(t *testing.T) {
				t.Parallel()
				m, loss := blend(row.lean), quantity.MustLossPercent(l)
				quantitytest.Near(t, "aw", row.want[i], ok(m.At(loss))(t).Float(), 0.003)
				quantitytest.Near(t, "moisture", row.moisture[i], ok(m.Moisture(loss))(t).Percent(), 0.06)
				quantitytest.Near(t, "moisture to protein", row.ratio[i], ok(m.MoistureProteinRatio(loss))(t).Float(), 0.006)
				alone := ok(wateractivity.Brine(ok(m.SaltInWater(loss))(t)))(t)
				quantitytest.Near(t, "salt alone", row.brine[i], alone.Float(), 0.0015)
			})
		}
	}
}

// Where drying stops in air, from the same independent program.
func TestLossInBalanceWithAir(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		lean float64
		want map[float64]float64
	}{
		{80, map[float64]float64{75: 47.9, 80: 45.6, 85: 42.1, 88: 39.0}},
		{75, map[float64]float64{75: 44.9, 80: 42.7, 85: 39.3, 88: 36.2}},
		{70, map[float64]float64{75: 41.9, 80: 39.8, 85: 36.5, 88: 33.5}},
	} {
		for humidity, want := range row.want {
			t.Run(fmt.Sprintf("%v lean, %v %%", row.lean, humidity), func(t *testing.T) {
				t.Parallel()
				got := ok(blend(row.lean).LossAt(quantity.MustHumidityPercent(humidity).WaterActivity()))(t)
				quantitytest.Near(t, "loss in percent", want, got.Percent(), 0.5)
			})
		}
	}
	// A loss of 38 % is reached by the fattest of them at 75 and 80 % humidity,
	// never at 85 and 88 %.
	for humidity, reached := range map[float64]bool{75: true, 80: true, 85: false, 88: false} {
		end := ok(blend(70).LossAt(quantity.MustHumidityPercent(humidity).WaterActivity()))(t)
		if got := quantity.MustLossPercent(38).Less(end); got != reached {
			t.Errorf("at %v %%: want 38 %% reached %v, got an end at %v", humidity, reached, end)
		}
	}
}

// A dry sausage of 20 percent fat has aw 0.95 to 0.97 fresh, 0.92 to 0.94
// part-dried and 0.87 to 0.90 at about 40 percent of loss (Techniques de
// l'Ingénieur F6507, section 5.1). Its salt is assumed: 2.8 % on the meat.
// Part-dried is taken as 25 percent. Lean pork and back fat of 20 percent fat
// are four to one.
func TestPublishedDrySausage(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ loss, low, high float64 }{{0, 0.95, 0.97}, {25, 0.92, 0.94}, {40, 0.87, 0.90}} {
		got := ok(blend(80).At(quantity.MustLossPercent(row.loss)))(t).Float()
		if got < row.low || got > row.high {
			t.Errorf("at %v %%: want %v to %v, got %v", row.loss, row.low, row.high, got)
		}
	}
}

// Harbin dry sausage had 0.95, 0.92, 0.87 and 0.84 at 62.5, 53.4, 38.4 and
// 28.6 % of moisture (Foods 10(7) 1460, 2021, table 3). Salt of 2.5 % of the green
// mass and protein of 18 % are assumed, sugar and seasoning are not counted, so
// that the model may read up to 0.05 high: within what Estimate95 claims.
func TestPublishedHarbinSausage(t *testing.T) {
	t.Parallel()
	m := percent(62.5, 18, 17, 2.5, 0)
	for moisture, want := range map[float64]float64{62.5: 0.95, 53.4: 0.92, 38.4: 0.87, 28.6: 0.84} {
		// (62.5 - l)/(100 - l) = moisture/100
		loss := quantity.MustLossPercent(100 * (62.5 - moisture) / (100 - moisture))
		quantitytest.Near(t, "moisture", moisture, ok(m.Moisture(loss))(t).Percent(), 1e-9)
		e := ok(wateractivity.Estimate95(ok(m.At(loss))(t)))(t)
		if want < e.Low.Float() || want > e.High.Float() {
			t.Errorf("at %v %% of moisture: want %v, got %v to %v", moisture, want, e.Low, e.High)
		}
	}
}

// The typical mix is the blend of three to one, to a tenth of a percent.
func TestTypicalMix(t *testing.T) {
	t.Parallel()
	exact, typical := blend(75), wateractivity.TypicalMix()
	for name, pair := range map[string][2]quantity.Fraction{
		"water": {exact.Water, typical.Water}, "protein": {exact.Protein, typical.Protein}, "fat": {exact.Fat, typical.Fat},
		"salt": {exact.Salt, typical.Salt}, "sugar": {exact.Sugar, typical.Sugar},
	} {
		quantitytest.Near(t, name, pair[0].Percent(), pair[1].Percent(), 0.05)
	}
	if err := typical.Validate(); err != nil {
		t.Error(err)
	}
	for _, cite := range []struct{ title string }{
		{wateractivity.TypicalMixSource().Title}, {wateractivity.BrineSource().Title}, {wateractivity.SorptionSource().Title},
		{wateractivity.JuiceSource().Title}, {wateractivity.EstimateSource().Title},
	} {
		if cite.title == "" {
			t.Error("a source has no title")
		}
	}
}

// Fresh lean meat has aw 0.990: juice alone, exp(-0.0180153*0.56) = 0.98996.
func TestFreshLeanMeat(t *testing.T) {
	t.Parallel()
	lean := percent(74.31, 18.73, 5.71, 0, 0)
	quantitytest.Near(t, "aw", 0.990, ok(lean.At(quantity.Loss{}))(t).Float(), 0.0005)
}

func TestValidateNamesTheMembers(t *testing.T) {
	t.Parallel()
	all := []string{"#/water_percent", "#/protein_percent", "#/fat_percent", "#/salt_percent", "#/sugar_percent"}
	for _, row := range []struct {
		name string
		mix  wateractivity.Mix
		want []string
	}{
		{"nothing", wateractivity.Mix{}, all[:1]},
		{"no water", percent(0, 20, 50, 3, 1), all[:1]},
		{"more than the whole", percent(60, 20, 20, 3, 1), all},
		{"more than the whole, of three", percent(60, 20, 20.0001, 0, 0), all[:3]},
		{"salt that water can't hold", percent(10, 20, 20, 3.6, 0), []string{"#/salt_percent"}}, // 35.907 g in 100 g
		{"both", percent(10, 40, 60, 3.6, 0), []string{"#/salt_percent", "#/water_percent", "#/protein_percent", "#/fat_percent", "#/salt_percent"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			isFault(t, row.mix.Validate(), fault.Invalid, "invalid-value", row.want...)
			_, at := row.mix.At(quantity.Loss{})
			_, lossAt := row.mix.LossAt(quantity.MustWaterActivity(0.9))
			_, moisture := row.mix.Moisture(quantity.Loss{})
			_, ratio := row.mix.LossAtRatio(quantity.MustRatio(1.9))
			for _, err := range []error{at, lossAt, moisture, ratio} {
				isFault(t, err, fault.Invalid, "invalid-value", row.want...)
			}
		})
	}
	for name, m := range map[string]wateractivity.Mix{
		"just the whole":      percent(60, 20, 17, 2.5, 0.5),
		"by parts of a third": percent(100.0/3, 100.0/3, 100.0/3, 0, 0),
		"water alone":         percent(100, 0, 0, 0, 0),
		"just saturated":      percent(10, 20, 20, 3.59, 0),
	} {
		if err := m.Validate(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAtRefuses(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name    string
		mix     wateractivity.Mix
		loss    float64
		kind    fault.Kind
		code    string
		members []string
	}{
		{"all the water", wateractivity.TypicalMix(), 55.5, fault.Invalid, "invalid-value", []string{"#/loss_percent"}},
		{"more than the water", wateractivity.TypicalMix(), 60, fault.Invalid, "invalid-value", []string{"#/loss_percent"}},
		{"drier than salt allows", wateractivity.TypicalMix(), 46, fault.OutsideModel, "too-dry", nil}, // 44.9 % is 0.75
		{"less water than the salt needs", wateractivity.TypicalMix(), 55.499999999, fault.OutsideModel, "too-dry", nil},
		{"dry without salt", percent(50, 20, 30, 0, 0), 49.9, fault.OutsideModel, "too-dry", nil},
		{"twice its weight", wateractivity.TypicalMix(), -100.1, fault.OutsideModel, "too-wet", nil},
		{"a green mix that is too salt", percent(10, 20, 20, 3.59, 0), 0, fault.OutsideModel, "too-dry", nil},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			_, err := row.mix.At(quantity.MustLossPercent(row.loss))
			isFault(t, err, row.kind, row.code, row.members...)
		})
	}
}

func TestLossAtRefuses(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name string
		mix  wateractivity.Mix
		aw   float64
		kind fault.Kind
		code string
	}{
		{"drier than salt allows", wateractivity.TypicalMix(), 0.749, fault.OutsideModel, "too-dry"},
		{"air that is wetter than any brine", wateractivity.TypicalMix(), 1, fault.NoSolution, "no-balance"},
		{"more than its green weight of water", wateractivity.TypicalMix(), 0.99, fault.NoSolution, "no-balance"},
		// By hand: 155.5 g of water to 2.7 g of salt are 0.297 mol/kg, aw 0.990.
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			_, err := row.mix.LossAt(quantity.MustWaterActivity(row.aw))
			isFault(t, err, row.kind, row.code)
		})
	}
}

// Air wetter than the product makes it heavier.
func TestLossAtIsNegativeInWetAir(t *testing.T) {
	t.Parallel()
	got := ok(wateractivity.TypicalMix().LossAt(quantity.MustWaterActivity(0.97)))(t)
	if !(got.Float() < -0.1) { // fresh aw 0.961; at 0.97 the water holds a quarter less of everything
		t.Errorf("want a gain of more than 10 %%, got a loss of %v", got)
	}
}

// Water 58.75, protein 15.0 and salt 2.7 % of the green mass: mass balance by
// hand, (58.75 - l)/(100 - l), (58.75 - l)/15, 2.7/(58.75 - l).
func TestBalance(t *testing.T) {
	t.Parallel()
	m := percent(58.75, 15, 23, 2.7, 0)
	for _, row := range []struct{ loss, moisture, ratio, salt float64 }{
		{30, 41.07, 1.917, 9.39},
		{35, 36.54, 1.583, 11.37},
		{40, 31.25, 1.25, 14.4},
		{-10, 62.5, 4.583, 3.927}, // 68.75/110, 68.75/15, 2.7/68.75
	} {
		loss := quantity.MustLossPercent(row.loss)
		what := loss.String()
		quantitytest.Near(t, "moisture at "+what, row.moisture, ok(m.Moisture(loss))(t).Percent(), 0.005)
		quantitytest.Near(t, "moisture to protein at "+what, row.ratio, ok(m.MoistureProteinRatio(loss))(t).Float(), 0.0005)
		quantitytest.Near(t, "salt in water at "+what, row.salt, ok(m.SaltInWater(loss))(t).Percent(), 0.005)
	}
	for ratio, want := range map[float64]float64{3.1: 12.25, 2.3: 24.25, 1.9: 30.25, 1.6: 34.75, 4.0: -1.25} {
		got := ok(m.LossAtRatio(quantity.MustRatio(ratio)))(t)
		quantitytest.Near(t, fmt.Sprintf("loss for %v to 1", ratio), want, got.Percent(), 1e-9)
	}
}

func TestBalanceRefuses(t *testing.T) {
	t.Parallel()
	m, lean := percent(58.75, 15, 23, 2.7, 0), percent(50, 0, 40, 2, 0)
	all := quantity.MustLossPercent(58.75)
	_, moisture := m.Moisture(all)
	_, ratio := m.MoistureProteinRatio(all)
	_, salt := m.SaltInWater(all)
	_, noProtein := lean.MoistureProteinRatio(quantity.Loss{})
	_, noProteinLoss := lean.LossAtRatio(quantity.MustRatio(1.9))
	_, zeroRatio := m.LossAtRatio(quantity.Ratio{})
	for _, row := range []struct {
		name, member string
		err          error
	}{
		{"moisture of nothing", "#/loss_percent", moisture},
		{"nothing to protein", "#/loss_percent", ratio},
		{"salt in nothing", "#/loss_percent", salt},
		{"no protein", "#/protein_percent", noProtein},
		{"a loss for no protein", "#/protein_percent", noProteinLoss},
		{"a ratio of nothing", "#/moisture_protein_ratio", zeroRatio},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			isFault(t, row.err, fault.Invalid, "invalid-value", row.member)
		})
	}
}

func TestEstimates(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name                string
		of                  func(quantity.WaterActivity) (quantity.Estimate[quantity.WaterActivity], error)
		aw, low, high, part float64
	}{
		{"80 %", wateractivity.Estimate80, 0.90, 0.87, 0.93, 80},
		{"95 %", wateractivity.Estimate95, 0.90, 0.85, 0.95, 95},
		{"80 %, wet", wateractivity.Estimate80, 0.98, 0.95, 1, 80},
		{"95 %, as dry as may be", wateractivity.Estimate95, 0, 0, 0.05, 95},
	} {
		e := ok(row.of(quantity.MustWaterActivity(row.aw)))(t)
		quantitytest.Near(t, row.name+": low", row.low, e.Low.Float(), 1e-12)
		quantitytest.Near(t, row.name+": mid", row.aw, e.Mid.Float(), 0)
		quantitytest.Near(t, row.name+": high", row.high, e.High.Float(), 1e-12)
		quantitytest.Near(t, row.name+": coverage", row.part, e.Coverage.Percent(), 1e-12)
	}
}

// drawMix draws a mix that could be a sausage, or hardly one.
func drawMix(t *rapid.T) wateractivity.Mix {
	water := rapid.Float64Range(30, 75).Draw(t, "water")
	protein := rapid.Float64Range(0, 19).Draw(t, "protein")
	return percent(water, protein, 0, rapid.Float64Range(0, 0.06*water).Draw(t, "salt"), rapid.Float64Range(0, 0.5).Draw(t, "sugar"))
}

// The drier, the lower; the salter, sweeter or leaner in water, the lower.
func TestActivityFalls(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := drawMix(t)
		end := ok(m.LossAt(quantity.MustWaterActivity(0.75)))(t).Percent()
		first := rapid.Float64Range(-100, end).Draw(t, "first")
		second := rapid.Float64Range(first, end).Draw(t, "second")
		wet := ok(m.At(quantity.MustLossPercent(first)))(t)
		dry := ok(m.At(quantity.MustLossPercent(second)))(t)
		if second > first+1e-6 && !(dry.Float() < wet.Float()) {
			t.Errorf("a loss of %v %% has aw %v, one of %v %% has %v", first, wet.Float(), second, dry.Float())
		}
		for name, more := range map[string]wateractivity.Mix{
			"salt":    {Water: m.Water, Protein: m.Protein, Salt: quantity.MustPercent(m.Salt.Percent() + 0.1), Sugar: m.Sugar},
			"sugar":   {Water: m.Water, Protein: m.Protein, Salt: m.Salt, Sugar: quantity.MustPercent(m.Sugar.Percent() + 0.1)},
			"protein": {Water: m.Water, Protein: quantity.MustPercent(m.Protein.Percent() + 0.1), Salt: m.Salt, Sugar: m.Sugar},
		} {
			got, err := more.At(quantity.MustLossPercent(first))
			if err == nil && got.Float() > wet.Float()*(1+1e-12) {
				t.Errorf("more %s takes aw from %v to %v", name, wet.Float(), got.Float())
			}
		}
	})
}

// Fat and what is left of the whole do nothing.
func TestFatIsInert(t *testing.T) {
	t.Parallel()
	loss := quantity.MustLossPercent(20)
	without := ok(percent(50, 15, 0, 2.5, 0.5).At(loss))(t)
	if with := ok(percent(50, 15, 32, 2.5, 0.5).At(loss))(t); with != without {
		t.Errorf("want %v, got %v", without, with)
	}
}

func TestLossAtIsTheInverseOfAt(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := drawMix(t)
		end := ok(m.LossAt(quantity.MustWaterActivity(0.75)))(t).Percent()
		loss := rapid.Float64Range(-100, end).Draw(t, "loss")
		aw := ok(m.At(quantity.MustLossPercent(loss)))(t)
		back, err := m.LossAt(aw)
		if err != nil && loss < -99.9999 {
			return // the floor, to rounding
		}
		// Where aw is nearly flat its last digits decide the loss: a piece far
		// from its salt moves by less than 1e-5 a percent.
		if got := ok(back, err)(t); !(math.Abs(got.Percent()-loss) <= 1e-6) {
			t.Errorf("want %v %%, got %v %%, at aw %v", loss, got.Percent(), aw.Float())
		}
	})
}

func FuzzMix(f *testing.F) {
	f.Add(55.5, 14.2, 25.5, 2.7, 0.5, 35.0, 0.85)
	f.Add(100.0, 0.0, 0.0, 0.0, 0.0, 99.999, 1.0)
	f.Add(10.0, 20.0, 20.0, 3.59, 0.0, 0.0, 0.75)
	f.Add(1e-300, 1e-310, 0.0, 1e-305, 5e-324, -100.0, 0.75)
	f.Add(50.0, 5e-324, 0.0, 0.0, 50.0, 49.99999999999999, 0.999)
	f.Fuzz(func(t *testing.T, water, protein, fat, salt, sugar, lost, activity float64) {
		var parts [5]quantity.Fraction
		for i, p := range []float64{water, protein, fat, salt, sugar} {
			part, err := quantity.Percent(p)
			if err != nil {
				t.Skip()
			}
			parts[i] = part
		}
		loss, err := quantity.LossPercent(lost)
		if err != nil {
			t.Skip()
		}
		aw, err := quantity.NewWaterActivity(activity)
		if err != nil {
			t.Skip()
		}
		m := wateractivity.Mix{Water: parts[0], Protein: parts[1], Fat: parts[2], Salt: parts[3], Sugar: parts[4]}
		if got, err := m.At(loss); err != nil {
			anyFault(t, err)
		} else if got.Float() < 0.7499 || got.Float() > 1 {
			t.Errorf("aw %v at a loss of %v", got.Float(), loss)
		}
		if got, err := m.LossAt(aw); err != nil {
			anyFault(t, err)
		} else if back, err := m.At(got); err != nil || math.Abs(back.Float()-aw.Float()) > 1e-6 {
			t.Errorf("a loss of %v for aw %v, which has %v, %v", got.Percent(), aw.Float(), back.Float(), err)
		}
	})
}

// anyFault checks that an error is a fault.
func anyFault(tb testing.TB, err error) {
	tb.Helper()
	if _, found := errors.AsType[*fault.Error](err); !found {
		tb.Errorf("want a fault, got %v", err)
	}
}
