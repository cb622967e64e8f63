package drying_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"greenweight/domain/air"
	"greenweight/domain/drying"
	"greenweight/domain/finding"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func advise(tb testing.TB, o drying.Order, seen drying.Seen) drying.Advice {
	tb.Helper()
	a, err := drying.Advise(o, project(tb, o), seen)
	if err != nil {
		tb.Fatalf("advise: %v", err)
	}
	return a
}

// read is a hygrometer beside the piece; 0 for none.
func read(percent float64) drying.Seen {
	if percent == 0 {
		return drying.Seen{}
	}
	return drying.Seen{Humidity: material.Is(quantity.MustHumidityPercent(percent))}
}

func stepsOf(a drying.Advice) []string { return notesOf(a.Steps) }

func notesOf(notes []finding.Note) []string {
	codes := make([]string, 0, len(notes))
	for _, n := range notes {
		codes = append(codes, n.Code)
	}
	return codes
}

// A piece of 55 mm that lost 1.1 to 2 points a day and then 0.4 in a week.
func stalled() drying.Order {
	return room(order(35, []float64{2, 4, 7, 10, 14, 21}, []float64{4, 7.5, 11.5, 15, 18.5, 18.9}), 78)
}

// The same weights are a dry ring in dry air and a humid room in damp air. By hand:
// at 19 percent of loss the water activity of three parts lean and one of fat is
// 0.941 (table of recipes, 75/25: 0.940 at 20 percent). Air of 75 percent is 0.19
// under it, twice and more the 0.08 that is asked for with an error of 0.034 + 0.025;
// 93 percent is 0.01 under it; 86 percent is 0.08 under it, and tells nothing.
func TestTheSameWeightsInDryAndDampAir(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name   string
		read   float64
		level  drying.RingLevel
		is     drying.SignatureVerdict
		action drying.Action
		steps  []string
	}{
		{"nobody read the air", 0, drying.RingNotShown, drying.SlowedUnclear, drying.NoSetting, []string{drying.StepReadHumidity, drying.StepWeigh}},
		{"dry air", 75, drying.RingLikely, drying.SlowedInDryAir, drying.Equalise, []string{drying.StepEqualise, drying.StepWeigh}},
		{"neither", 86, drying.RingWatch, drying.SlowedUnclear, drying.Keep, []string{drying.StepKeep, drying.StepWeigh}},
		{"damp air", 93, drying.RingNoneSeen, drying.SlowedInDampAir, drying.Lower, []string{drying.StepLower, drying.StepWeigh}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			a := advise(t, stalled(), read(row.read))
			if a.Ring.Level != row.level || a.Ring.Signature.Verdict != row.is || a.Humidity.Action != row.action || !slices.Equal(stepsOf(a), row.steps) {
				t.Errorf("want %v %v %v %v, got %v %v %v %v: %s", row.level, row.is, row.action, row.steps,
					a.Ring.Level, a.Ring.Signature.Verdict, a.Humidity.Action, stepsOf(a), a.Ring.Why)
			}
			// (18.9 - 18.5)/7 = 0.0571 a day; 1.2816 * sqrt(2) * 0.5/7 = 0.129 to either side.
			i, _ := a.Ring.Signature.Measured.Get()
			quantitytest.Near(t, "measured", 0.0571, i.Rate.PercentPerDay(), 1e-4)
			quantitytest.Near(t, "at most", 0.0571+0.1295, i.Within.High.PercentPerDay(), 2e-4)
		})
	}
}

// The air in which a dry ring is softened is 85 to 90 percent (recalled practice).
func TestEqualisingAir(t *testing.T) {
	t.Parallel()
	a := advise(t, stalled(), read(75))
	between, _ := a.Humidity.Range.Get()
	if between.Low.Percent() != 85 || between.High.Percent() != 90 || len(a.Humidity.Weeks) != 0 {
		t.Errorf("got %v and %d weeks", between, len(a.Humidity.Weeks))
	}
	if rim, known := a.Ring.Rim.Get(); !known || !(rim.Outer.Float() < rim.Inner.Float() && rim.Surface.Float() < rim.Core.Float()) {
		t.Errorf("the rim is no drier than the inside: %+v, known %v", rim, known)
	}
	// 55.5 percent of water less 18.9 of 100 less 18.9: the whole is at 45.1 percent,
	// and so between the outer third and the rest.
	rim, _ := a.Ring.Rim.Get()
	if !(rim.Outer.Percent() < 45.1 && rim.Inner.Percent() > 45.1) {
		t.Errorf("outer third %v, rest %v about a whole of 45.1 %%", rim.Outer, rim.Inner)
	}
}

// A week at 2.3 to 3 percent a day is beyond what practice has for 60 mm: 2.0 times
// (55/60)^1.5 = 1.755.
func TestFastFirstWeek(t *testing.T) {
	t.Parallel()
	o := room(order(35, []float64{1, 2, 4, 6}, []float64{3, 6, 11, 15}), 75)
	o.Diameter = material.Is(quantity.MustMillimetres(60))
	a := advise(t, o, drying.Seen{})
	limits, _ := a.Pace.Limits.Get()
	quantitytest.Near(t, "too fast", 1.755, limits.TooFast.PercentPerDay(), 1e-3)
	if a.Pace.Verdict != drying.TooFast || a.Ring.Level != drying.RingWatch || a.Humidity.Action != drying.Raise {
		t.Errorf("got %v %v %v", a.Pace.Verdict, a.Ring.Level, a.Humidity.Action)
	}
	if !slices.Contains(notesOf(a.Cautions), "air-not-as-told") {
		t.Error("air of 75 percent and 0.15 m/s takes no 15 points in six days from 60 mm in a casing, and nobody says so")
	}
	// In air that is damp enough it can only be the air's speed.
	a = advise(t, o, read(92))
	if a.Humidity.Action != drying.Keep || !slices.Contains(stepsOf(a), drying.StepSlowAir) {
		t.Errorf("in damp air: %v %v", a.Humidity.Action, stepsOf(a))
	}
}

// It stopped where mixture and air are in balance, at about 39 percent in air of 85
// (table of recipes, 75/25: 39.3), and 42 are aimed at: no dry ring, and drier air.
func TestStoppedInBalance(t *testing.T) {
	t.Parallel()
	o := room(order(42, []float64{4, 10, 20, 30, 45, 60, 70, 80}, []float64{9, 18, 27, 32, 36.5, 38.6, 38.9, 39}), 85)
	o.Diameter = material.Is(quantity.MustMillimetres(45))
	a := advise(t, o, read(85))
	if a.Pace.Verdict != drying.Stopped || a.Ring.Level == drying.RingLikely || a.Ring.Level == drying.RingWatch || a.Humidity.Action != drying.Lower {
		t.Errorf("got %v %v %v: %s", a.Pace.Verdict, a.Ring.Level, a.Humidity.Action, a.Humidity.Why)
	}
	value, _ := a.Humidity.Value.Get()
	if !(value.Percent() < 85) {
		t.Errorf("lower the air to %v?", value)
	}
}

// A log of a hobby maker: 719 g hung for 11 days at about 40 percent lost 46.2
// percent. Another hardened in 15 days while its air went from 50 to 40. In a
// refrigerator the remedy is a bag or a box.
func TestDryRefrigerator(t *testing.T) {
	t.Parallel()
	o := room(order(50, []float64{3, 7, 11}, []float64{15, 31, 46.2}), 40)
	o.Diameter, o.Temperature = material.Is(quantity.MustMillimetres(45)), material.Is(quantity.MustCelsius(4))
	a := advise(t, o, read(40))
	if a.Pace.Verdict != drying.TooFast || a.Ring.Level != drying.RingWatch || !slices.Contains(notesOf(a.Cautions), "air-not-as-told") {
		t.Errorf("got %v %v %v", a.Pace.Verdict, a.Ring.Level, notesOf(a.Cautions))
	}
	slow := room(order(40, []float64{3, 6, 10, 15}, []float64{4, 7, 10, 13}), 45)
	slow.Temperature = o.Temperature
	a = advise(t, slow, read(45))
	air, dry := a.Ring.History.DryAir.Get()
	if !dry || air.Percent() != 45 || a.Humidity.Action != drying.Raise || !slices.Contains(stepsOf(a), drying.StepWrap) {
		t.Errorf("got %v %v %v", air, a.Humidity.Action, stepsOf(a))
	}
}

// What is comfortable is held against the ripening times of three published salami:
// 35 percent at 35 mm in 30 days and at 55 mm in 60, 30 percent at 80 mm in 75 (Foods
// 12(4), 727, 2023, table 1). Their rates on the whole lie between slow and
// comfortable.
func TestComfortableIsThatOfPublishedTimes(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ mm, loss, days float64 }{{35, 35, 30}, {55, 35, 60}, {80, 30, 75}} {
		o := room(order(row.loss, []float64{8, 12}, []float64{10, 12}), 78)
		o.Diameter = material.Is(quantity.MustMillimetres(row.mm))
		limits, known := advise(t, o, drying.Seen{}).Pace.Limits.Get()
		if rate := row.loss / row.days; !known || limits.FirstWeek || !(rate > limits.Slow.PercentPerDay() && rate < limits.Comfortable.PercentPerDay()) {
			t.Errorf("%v mm: %.2f a day is not within %v to %v", row.mm, rate, limits.Slow, limits.Comfortable)
		}
	}
}

// One air with one gap brings pieces of other diameters what the power of 1.5 says:
// the film of Churchill and Bernstein, at 0.15 m/s and 13 °C, within a tenth.
func TestThicknessIsThatOfTheFilm(t *testing.T) {
	t.Parallel()
	bound := func(mm float64) float64 {
		r, err := air.DryingBound(quantity.MustMillimetres(mm), quantity.MustCelsius(13), quantity.MustHumidityPercent(90), quantity.MustWaterActivity(0.94),
			quantity.MustMetresPerSecond(0.15), quantity.MustGramsPerMillilitre(1.03))
		if err != nil {
			t.Fatal(err)
		}
		return r.PercentPerDay()
	}
	limit := func(mm float64) float64 {
		o := room(order(35, []float64{8, 12}, []float64{10, 12}), 78)
		o.Diameter = material.Is(quantity.MustMillimetres(mm))
		limits, _ := advise(t, o, drying.Seen{}).Pace.Limits.Get()
		return limits.Comfortable.PercentPerDay()
	}
	for _, mm := range []float64{35, 80, 110} {
		want := bound(mm) / bound(55)
		quantitytest.Near(t, fmt.Sprintf("%v mm", mm), want, limit(mm)/limit(55), 0.1*want)
	}
	// And the gap of the guide, 3 to 5 points, brings 55 mm at the most what practice
	// calls comfortable to a little above: 6.24 a day at 0.18 (first-day bound, by hand)
	// are 1.04 to 1.73 at 0.03 to 0.05.
	quantitytest.Near(t, "four points", 6.24*0.04/0.18, bound(55), 0.15*1.39)
}

// published are analysed losses of sausage that nobody found a dry ring in: chorizo
// (Foods 9(12), 1813, 2020, table 1, control), dry sausage of northern China (Foods
// 10(7), 1460, 2021, table 3, and 11(5), 650, 2022, table 3), bacon (J. Food Sci.
// Technol. 53(10), 3795, 2016, table 1), and cooked sausage in cold store (J. Food
// Process. Technol. 6:436, 2015, table 1), from their moisture; no room and no calibre
// is told.
func published() map[string][2][]float64 {
	return map[string][2][]float64{
		"chorizo":          {{2, 5, 9, 14, 21, 30}, {11, 23.05, 28.45, 37.31, 44.12, 48.52}},
		"northern dry 1":   {{1, 4, 7}, {19.59, 39.19, 47.53}},
		"northern dry 2":   {{1, 4, 7}, {27.98, 44.62, 50.79}},
		"northern dry 3":   {{4, 8, 12}, {53.13, 61.87, 63.99}},
		"bacon":            {{6, 12}, {32.91, 50.8}},
		"cold store, even": {{5, 10, 15, 20, 25, 30}, {4.08, 8.08, 12.16, 14.59, 18.04, 20.04}},
		"cold store, odd":  {{5, 10, 15, 20, 25, 30}, {3.02, 2.73, 5.45, 9.2, 13.83, 16.9}},
	}
}

// No ordinary series is called a dry ring at any of its weigh-ins, in air that is as
// dry as it takes to call one.
func TestNoAlarmOnOrdinarySeries(t *testing.T) {
	t.Parallel()
	for name, s := range published() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for n := 1; n <= len(s[0]); n++ {
				a := advise(t, order(66, s[0][:n], s[1][:n]), read(70))
				if a.Ring.Level == drying.RingLikely || a.Ring.Level == drying.RingWatch || a.Humidity.Action == drying.Equalise {
					t.Errorf("day %v: %v: %s", s[0][n-1], a.Ring.Level, a.Ring.Why)
				}
			}
		})
	}
}

// The gap of the guide, by the table of recipes (75/25, 2.7 percent of salt): 0.961
// green and 0.915 at 30 percent, so 91 to 93 and 87 to 89 percent; in fast air the
// small gap.
func TestSettingIsTheGapOfTheGuide(t *testing.T) {
	t.Parallel()
	composition := drying.Composition{Water: percent(55.54), Protein: percent(14.24), Fat: percent(25.49), Salt: percent(2.7), Sugar: percent(0.48)}
	for _, row := range []struct {
		name                         string
		days, losses                 []float64
		speed, gapLow, gapHigh, wish float64
	}{
		{"as hung", nil, nil, 0.1, 91, 93, 92},
		{"at 30 percent", []float64{5, 10, 20, 30}, []float64{9, 15, 24, 30}, 0.1, 87, 89, 88},
		{"at 30 percent in fast air", []float64{5, 10, 20, 30}, []float64{9, 15, 24, 30}, 0.4, 88, 89, 89},
	} {
		o := room(order(35, row.days, row.losses), 80)
		o.Composition, o.AirSpeed, o.Humidity = composition, material.Is(quantity.MustMetresPerSecond(row.speed)), material.Known[quantity.RelativeHumidity]{}
		s := advise(t, o, drying.Seen{}).Humidity
		between, _ := s.Range.Get()
		value, _ := s.Value.Get()
		quantitytest.Near(t, row.name+", low", row.gapLow, between.Low.Percent(), 1)
		quantitytest.Near(t, row.name+", high", row.gapHigh, between.High.Percent(), 1)
		quantitytest.Near(t, row.name+", value", row.wish, value.Percent(), 1)
	}
}

// The weeks to come go with the piece: no damper from week to week, and in the week
// of the target no damper than the air in which the target is reached. By the table
// of recipes (75/25) a mixture is at 0.878 at 37 percent, two points beyond 35.
func TestWeeksComeDown(t *testing.T) {
	t.Parallel()
	weeks := advise(t, room(order(35, []float64{4, 8, 14}, []float64{8, 13, 19}), 90), read(91)).Humidity.Weeks
	if len(weeks) < 3 {
		t.Fatalf("got %d weeks", len(weeks))
	}
	for i, w := range weeks {
		if i > 0 && (w.From != weeks[i-1].To || w.Humidity.Percent() > weeks[i-1].Humidity.Percent() || w.Loss.Median.Less(weeks[i-1].Loss.Median)) {
			t.Errorf("week %d: %+v after %+v", i, w, weeks[i-1])
		}
	}
	soon := advise(t, room(order(35, []float64{5, 10, 20, 30, 36}, []float64{10, 17, 26, 32, 34}), 80), read(80)).Humidity.Weeks
	if last := soon[len(soon)-1]; last.Humidity.Percent() > 87.8 || last.Loss.Median.Percent() < 34.5 {
		t.Errorf("the week of the target: %v, %v", last.Humidity, last.Loss.Median)
	}
}

// Weights in another unit, or of a larger piece, say the same.
func TestScaleOfTheWeightsChangesNothing(t *testing.T) {
	t.Parallel()
	for _, humidity := range []float64{0, 75, 93} {
		o := stalled()
		want := advise(t, o, read(humidity))
		o.Green = quantity.MustGrams(3.7 * o.Green.Grams())
		for i := range o.WeighIns {
			o.WeighIns[i].Weight = quantity.MustGrams(3.7 * o.WeighIns[i].Weight.Grams())
		}
		got := advise(t, o, read(humidity))
		if got.Pace.Verdict != want.Pace.Verdict || got.Ring.Level != want.Ring.Level || got.Humidity.Action != want.Humidity.Action || !slices.Equal(stepsOf(got), stepsOf(want)) {
			t.Errorf("%v %%: want %v, got %v", humidity, stepsOf(want), stepsOf(got))
		}
	}
}

// Whatever is weighed and read, advice does not contradict itself: one thing to do
// with the humidity, none drier in a dry ring, nothing twice, few at once; and what is
// slow only is so by more than the scale.
func TestAdviceDoesNotContradictItself(t *testing.T) {
	t.Parallel()
	humidity := []string{drying.StepEqualise, drying.StepRaise, drying.StepLower, drying.StepKeep}
	random := rand.New(rand.NewPCG(7, 11)) //nolint:gosec // the same series every time
	for n := range 20 {
		var at, losses []float64
		day, loss := 0.0, 0.0
		for range 1 + random.IntN(6) {
			step := 0.3 + 6*random.Float64()
			day += step
			loss = min(loss+step*random.Float64()*2.5, 60)
			at, losses = append(at, day), append(losses, loss+random.NormFloat64()*0.4)
		}
		o := room(order(20+30*random.Float64(), at, losses), 45+50*random.Float64())
		o.Diameter = material.Is(quantity.MustMillimetres(25 + 90*random.Float64()))
		seen := drying.Seen{}
		if random.IntN(3) > 0 {
			seen = read(40 + 58*random.Float64())
		}
		a := advise(t, o, seen)
		said := stepsOf(a)
		count := 0
		for _, code := range said {
			if slices.Contains(humidity, code) {
				count++
			}
		}
		if count > 1 || len(said) > 5 || len(slices.Compact(slices.Sorted(slices.Values(said)))) != len(said) {
			t.Errorf("%d: steps %v", n, said)
		}
		if a.Ring.Level == drying.RingLikely && a.Humidity.Action == drying.Lower {
			t.Errorf("%d: a dry ring, and drier air", n)
		}
		if a.Humidity.Action == drying.Lower && a.Humidity.SlowAir || slices.Contains(said, drying.StepReadHumidity) && count > 0 {
			t.Errorf("%d: steps %v", n, said)
		}
		between, told := a.Humidity.Range.Get()
		value, _ := a.Humidity.Value.Get()
		now, known := a.Humidity.Air.Get()
		if told && (value.Percent() < between.Low.Percent() || value.Percent() > between.High.Percent()) {
			t.Errorf("%d: %v is not within %v", n, value, between)
		}
		if known && (a.Humidity.Action == drying.Lower && value.Percent() >= now.Percent() || a.Humidity.Action == drying.Raise && value.Percent() <= now.Percent()) {
			t.Errorf("%d: %v from %v to %v", n, a.Humidity.Action, now, value)
		}
		for _, text := range []string{a.Pace.Why, a.Ring.Why} {
			if strings.Contains(text, " -") {
				t.Errorf("%d: less than nothing is lost: %s", n, text)
			}
		}
		if a.Next.At < project(t, o).Now.Since {
			t.Errorf("%d: weigh before now", n)
		}
	}
}

// A piece at 6.5 percent of loss is at a water activity of 0.96 (table of recipes),
// and the guide has 91 to 93 percent for it. At 92 percent it lost 0.2 a day in its
// third week and stops at about 24 percent of loss: with 33 aimed at it is no use to
// keep the air, and the weeks to come have to end where 33 is reached. A piece that
// only has to come to 12 percent keeps it.
func TestAirInWhichThePieceStopsShortIsLowered(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		target float64
		action drying.Action
	}{{33, drying.Lower}, {12, drying.Keep}} {
		o := room(order(row.target, []float64{7, 14, 21}, []float64{3, 5, 6.5}), 92)
		a := advise(t, o, read(92))
		value, _ := a.Humidity.Value.Get()
		if a.Humidity.Action != row.action || a.Humidity.Action == drying.Lower && !(value.Percent() < 92) {
			t.Errorf("target %g: want %v, got %v to %v: %s", row.target, row.action, a.Humidity.Action, value, a.Humidity.Why)
		}
		if row.action == drying.Keep {
			continue
		}
		weeks := a.Humidity.Weeks
		for i := 1; i < len(weeks); i++ {
			if weeks[i].Humidity.Percent() > weeks[i-1].Humidity.Percent() {
				t.Errorf("target %g: week %d is damper than the one before", row.target, i)
			}
		}
		o.Humidity = material.Is(weeks[len(weeks)-1].Humidity)
		if p := project(t, o); p.Outcome == drying.NotAtThisHumidity {
			t.Errorf("target %g: the last week's %v still is too damp for it", row.target, weeks[len(weeks)-1].Humidity)
		}
	}
}

// A piece of which the only weight is in doubt is weighed again now, and not on the day
// after it was hung, which is gone.
func TestADoubtfulWeightIsWeighedAgainNow(t *testing.T) {
	t.Parallel()
	a := advise(t, room(order(35, []float64{1.5}, []float64{40}), 78), drying.Seen{})
	if !slices.Contains(stepsOf(a), drying.StepWeighAgain) || a.Next.At != on(1.5).Sub(stuffed) || a.Next.Overdue {
		t.Errorf("got %+v, steps %v", a.Next, stepsOf(a))
	}
}

// A piece that gained two grams in the last week lost nothing, in words; the figure
// keeps its sign.
func TestAGainIsNoLossInWords(t *testing.T) {
	t.Parallel()
	o := room(order(35, []float64{2, 4, 7, 10, 14, 21}, []float64{4, 7.5, 11.5, 15, 18.5, 18.3}), 78)
	a := advise(t, o, read(75))
	if i, _ := a.Ring.Signature.Measured.Get(); !(i.Rate.PercentPerDay() < 0) {
		t.Errorf("measured %v", i.Rate)
	}
	for _, text := range []string{a.Pace.Why, a.Ring.Why} {
		if strings.Contains(text, "-0") || !strings.Contains(text, "0.0") {
			t.Errorf("got %q", text)
		}
	}
}

// A piece that dried well for a month and then hung at 92 percent for two weeks, of
// which it lost 0.2 points, is 10 points short of its target: it is not at a
// comfortable pace because it is near to where that air stops it.
func TestNearTheEndOfDampAirIsNoComfort(t *testing.T) {
	t.Parallel()
	o := room(order(35, []float64{3, 7, 12, 18, 25, 30, 37, 44}, []float64{5.9, 10.7, 15.2, 19.1, 22.7, 24.9, 25, 25.1}), 78)
	o.Airs = []drying.Air{{From: on(30), Temperature: o.Temperature, Humidity: humid(92)}}
	a := advise(t, o, read(92))
	if a.Pace.Verdict != drying.Slow && a.Pace.Verdict != drying.Stopped {
		t.Errorf("pace %v: %s", a.Pace.Verdict, a.Pace.Why)
	}
	if a.Humidity.Action != drying.Lower {
		t.Errorf("want it lowered, got %v: %s", a.Humidity.Action, a.Humidity.Why)
	}
}

// By hand: one weighing is off by 1 point, so that the scale tells 3; at the fitted
// rate that takes 3/rate days. In the first week it is a day; with a scale that is off
// by 0.2 points, 0.6 are enough; and past due is now.
func TestNextWeighIn(t *testing.T) {
	t.Parallel()
	at, losses := []float64{4, 8, 12, 16}, []float64{7, 12, 16, 19}
	o := room(order(35, at, losses), 78)
	p := project(t, o)
	rate := p.Now.Rate.Median.PercentPerDay()
	quantitytest.Near(t, "three points", 16+3/rate, days(advise(t, o, drying.Seen{}).Next.At), 0.01)
	fine := advise(t, o, drying.Seen{WeighingWithin: material.Is(quantity.MustGrams(2))})
	quantitytest.Near(t, "a fine scale", 16+max(0.6/rate, 1), days(fine.Next.At), 0.01)
	quantitytest.Near(t, "the first week", 5, days(advise(t, room(order(35, at[:1], losses[:1]), 78), drying.Seen{}).Next.At), 1e-6)
	quantitytest.Near(t, "as hung", 1, days(advise(t, room(order(35, nil, nil), 78), drying.Seen{}).Next.At), 1e-6)
	o.AsOf = on(30)
	if next := advise(t, o, drying.Seen{}).Next; !next.Overdue || days(next.At) != 30 || next.Expected.Percent() != 0 {
		t.Errorf("past due: %+v", next)
	}
	if last := advise(t, room(order(21, at, losses), 78), drying.Seen{}).Next; days(last.At) > 18 {
		t.Errorf("two points before the target: %+v", last)
	}
}

// A doubtful last weigh-in comes first, and no dry ring is made of it.
func TestDoubtfulWeighInComesFirst(t *testing.T) {
	t.Parallel()
	a := advise(t, room(order(35, []float64{3, 7, 11, 15, 18}, []float64{6, 11, 15, 18, 5}), 78), read(70))
	if said := stepsOf(a); len(said) == 0 || said[0] != drying.StepWeighAgain || a.Ring.Level == drying.RingLikely {
		t.Errorf("got %v, %v", said, a.Ring.Level)
	}
}

// How fast a sausage of 55 mm dries, and whether that is comfortable, is asked after
// its third weigh-in.
func ExampleAdvise() {
	o := room(order(35, []float64{4, 10, 17}, []float64{7, 14, 20}), 78)
	p, err := drying.Project(o)
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := drying.Advise(o, p, drying.Seen{Humidity: material.Is(quantity.MustHumidityPercent(79))})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(a.Pace.Verdict, a.Ring.Level, a.Humidity.Action)
	fmt.Println(a.Pace.Why)
	// Output:
	// comfortable none-seen keep
	// It loses 0.86 % a day over the last 7 days, give or take 0.13; for 55 mm at this age practice has 0.50 to 1.00 as comfortable.
}

// Readings of the air that the projection is given serve as the hygrometer; those from
// before the weigh-in before the last tell nothing of what happened since.
func TestReadingsOfTheOrderAreRead(t *testing.T) {
	t.Parallel()
	reading := func(day, humidity float64) drying.Air {
		return drying.Air{From: on(day), Humidity: material.Is(quantity.MustHumidityPercent(humidity))}
	}
	o := stalled()
	o.Readings = []drying.Air{reading(15, 76), reading(18, 74)}
	if a := advise(t, o, drying.Seen{}); a.Ring.Level != drying.RingLikely || !a.Humidity.Read {
		t.Errorf("dry of late: %v, read %v", a.Ring.Level, a.Humidity.Read)
	}
	o.Readings = []drying.Air{reading(3, 76), reading(6, 74)}
	if a := advise(t, o, drying.Seen{}); a.Ring.Level == drying.RingLikely || a.Humidity.Read || !slices.Contains(stepsOf(a), drying.StepReadHumidity) {
		t.Errorf("read a week before: %v, read %v, %v", a.Ring.Level, a.Humidity.Read, stepsOf(a))
	}
}

// A piece that is sealed loses nothing, and nobody is told that it slowed down: not
// while it is sealed, nor of the time before once it was; and its pace counts the days
// of drying alone: three of them since day 14 lose less than the 3 points that the scale
// tells, and since day 10 they are (22 - 15)/(21 - 10 - 4) = 1.0 a day.
func TestSealedDaysAreNoDryRing(t *testing.T) {
	t.Parallel()
	o := stalled()
	o.AsOf, o.Equalising = on(24), []drying.Pause{{From: on(21), To: on(28)}}
	a := advise(t, o, read(75))
	if a.Pace.Verdict != drying.PaceNotShown || a.Humidity.Action != drying.NoSetting || a.Ring.Level == drying.RingLikely || days(a.Next.At) != 28 {
		t.Errorf("while sealed: %v %v %v, next on day %v", a.Pace.Verdict, a.Humidity.Action, a.Ring.Level, days(a.Next.At))
	}
	o.AsOf = on(29)
	if a := advise(t, o, read(75)); a.Ring.Level == drying.RingLikely || a.Humidity.Action == drying.Equalise {
		t.Errorf("once it was sealed: %v %v", a.Ring.Level, a.Humidity.Action)
	}
	o = room(order(35, []float64{2, 4, 7, 10, 14, 21}, []float64{4, 7.5, 11.5, 15, 18.5, 22}), 78)
	o.Equalising = []drying.Pause{{From: on(15), To: on(19)}}
	a = advise(t, o, read(78))
	i, _ := a.Pace.Measured.Get()
	quantitytest.Near(t, "measured", 1.0, i.Rate.PercentPerDay(), 1e-6)
	if a.Ring.Level == drying.RingLikely {
		t.Errorf("sealed in between: %s", a.Ring.Why)
	}
}

// A first week of up to 3 points a day is remembered while the piece loses a
// comfortable (20 - 15)/7 = 0.71 a day, and until four weeks are over or it was sealed.
func TestFastFirstWeekIsRemembered(t *testing.T) {
	t.Parallel()
	at, losses := []float64{1, 2, 4, 6, 13, 20, 27, 34}, []float64{3, 6, 11, 15, 20, 23.5, 26.5, 29}
	of := func(n int) drying.Order {
		o := room(order(35, at[:n], losses[:n]), 78)
		o.Diameter = material.Is(quantity.MustMillimetres(60))
		return o
	}
	a := advise(t, of(5), drying.Seen{})
	i, fast := a.Ring.History.FastFirstWeek.Get()
	if !fast || a.Pace.Verdict != drying.Comfortable || a.Ring.Level != drying.RingWatch {
		t.Errorf("known %v, %v, %v: %s", fast, a.Pace.Verdict, a.Ring.Level, a.Ring.Why)
	}
	quantitytest.Near(t, "of the first day", 3, i.Rate.PercentPerDay(), 1e-9)
	if later := advise(t, of(8), drying.Seen{}); later.Ring.Level != drying.RingNoneSeen {
		t.Errorf("after five weeks: %v: %s", later.Ring.Level, later.Ring.Why)
	}
	sealed := of(5)
	sealed.AsOf, sealed.Equalising = on(15), []drying.Pause{{From: on(13), To: on(15)}}
	if after := advise(t, sealed, drying.Seen{}); after.Ring.Level == drying.RingWatch {
		t.Errorf("after it was sealed: %s", after.Ring.Why)
	}
}

// A water activity that is estimated is off by 0.05 in 5 of 100 cases, two standard
// deviations of 0.025; a guessed composition adds 0.02: 1.2816 times 0.025, or the root
// of the sum of both squares, 0.032, holds 80 of 100.
func TestEstimatedActivityHasItsBand(t *testing.T) {
	t.Parallel()
	o := room(order(35, []float64{5, 10, 16}, []float64{9, 15, 21}), 78)
	for _, row := range []struct {
		composition drying.Composition
		within      float64
	}{
		{drying.Composition{}, 0.0410},
		{drying.Composition{Water: percent(55.54), Protein: percent(14.24), Fat: percent(25.49), Salt: percent(2.7)}, 0.0320},
	} {
		o.Composition = row.composition
		e, known := advise(t, o, drying.Seen{}).Humidity.Activity.Get()
		if !known || e.Coverage.Percent() != 80 {
			t.Fatalf("known %v, coverage %v", known, e.Coverage)
		}
		quantitytest.Near(t, "below", row.within, e.Mid.Float()-e.Low.Float(), 1e-3)
		quantitytest.Near(t, "above", row.within, e.High.Float()-e.Mid.Float(), 1e-3)
	}
}
