package drying_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// trialStart is when the invented pieces below were hung.
func trialStart() time.Time { return time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC) }

func afterDays(days float64) time.Time {
	return trialStart().Add(time.Duration(math.Round(days * 24 * float64(time.Hour))))
}

// trialPiece is a piece of 1 kg that was hung when it was stuffed and had these
// losses on these days.
func trialPiece(name string, days, losses []float64) drying.TrialPiece {
	p := drying.TrialPiece{Name: name, Green: quantity.MustGrams(1000), Stuffed: trialStart()}
	for i, day := range days {
		p.WeighIns = append(p.WeighIns, drying.WeighIn{At: afterDays(day), Weight: quantity.MustGrams(1000 * (1 - losses[i]/100))})
	}
	return p
}

func trialCourse(name string, pieces ...drying.TrialPiece) drying.TrialCourse {
	return drying.TrialCourse{Name: name, Pieces: pieces}
}

func compareTrial(t *testing.T, trial drying.Trial) drying.Comparison {
	t.Helper()
	c, err := drying.CompareTrial(trial)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func timeRatio(t *testing.T, c drying.Contrast) drying.Told[quantity.Ratio] {
	t.Helper()
	times, is := c.Time.Get()
	if !is {
		t.Fatal("the times were not compared")
	}
	return times
}

// lostBy returns what a cylinder of Biot number 3 that stops at 42 points has
// lost by a day, D/R² being 0.006 a day: the series of Crank.
func lostBy(t *testing.T) func(day float64) float64 {
	t.Helper()
	gone, err := drying.NewCylinder(quantity.MustRatio(3))
	if err != nil {
		t.Fatal(err)
	}
	const step, most = 0.1, 200.0
	table := make([]float64, int(most/step)+2)
	for i := range table {
		left, err := gone.MeanMoistureRatio(quantity.MustRatio(0.006 * step * float64(i)))
		if err != nil {
			t.Fatal(err)
		}
		table[i] = 42 * (1 - left.Float())
	}
	return func(day float64) float64 {
		x := day / step
		i := min(int(x), len(table)-2)
		return table[i] + (x-float64(i))*(table[i+1]-table[i])
	}
}

// A course whose pieces go through the same losses 1.7 times as slowly has a
// ratio of 1.7, whatever the curve between the weigh-ins is.
func TestRatioOfAStretchedCurve(t *testing.T) {
	t.Parallel()
	lost := lostBy(t)
	var one, other drying.TrialCourse
	one.Name, other.Name = "one", "other"
	for k, pace := range []float64{0.85, 1, 1.2} {
		var days, later, losses []float64
		for _, day := range []float64{2, 5, 9, 16, 27, 40} {
			days, later, losses = append(days, day/pace), append(later, 1.7*day/pace), append(losses, lost(day))
		}
		one.Pieces = append(one.Pieces, trialPiece(strconv.Itoa(k), days, losses))
		other.Pieces = append(other.Pieces, trialPiece(strconv.Itoa(k), later, losses))
	}
	c := compareTrial(t, drying.Trial{Courses: []drying.TrialCourse{one, other}})
	if got := timeRatio(t, c.Against[0]).Mid.Float(); math.Abs(got-1.7) > 1e-9 {
		t.Errorf("want 1.7, got %v", got)
	}
	if len(c.Against[0].Levels) < 2 {
		t.Error("fewer than two losses are compared")
	}
	for _, l := range c.Against[0].Levels {
		if got := l.Time.Mid.Float(); math.Abs(got-1.7) > 1e-9 {
			t.Errorf("to %v: want 1.7, got %v", l.Loss, got)
		}
	}
}

// Weighed on the same days, such courses lie on other parts of the curve between
// the weigh-ins, and the ratio is off by what the interpolation is: a few
// percent, with weigh-ins a week apart.
func TestRatioBetweenWeighIns(t *testing.T) {
	t.Parallel()
	lost := lostBy(t)
	days := []float64{7, 14, 21, 28, 35, 42}
	at := func(pace float64) []float64 {
		var losses []float64
		for _, day := range days {
			losses = append(losses, lost(pace*day))
		}
		return losses
	}
	c := compareTrial(t, drying.Trial{Courses: []drying.TrialCourse{
		trialCourse("one", trialPiece("a", days, at(1)), trialPiece("b", days, at(1.1))),
		trialCourse("other", trialPiece("a", days, at(1/1.7)), trialPiece("b", days, at(1.1/1.7))),
	}})
	if got := timeRatio(t, c.Against[0]).Mid.Float(); math.Abs(got/1.7-1) > 0.02 {
		t.Errorf("want about 1.7, got %v", got)
	}
}

// By hand. Every piece is weighed once, at a loss of 20, so that its loss goes
// evenly with time and the logarithm of its time to any loss is that of the day
// plus the same for all. Days 20 e^-0.1 and 20 e^0.1, against 40 e^-0.1 and 40
// e^0.1: the difference of the means is ln 2; each variance is 2*0.1² = 0.02, so
// the standard error is sqrt(0.02/2 + 0.02/2) = 0.141421, with (2*0.01)²/(2*0.01²)
// = 2 degrees of freedom, whose quantiles are 0.8/sqrt(0.18) = 1.885618 at 90 and
// 4.302653 at 97.5 percent. So 2 e^∓0.266667 and 2 e^∓0.608487.
func TestRatioByHand(t *testing.T) {
	t.Parallel()
	one := func(name string, day float64) drying.TrialPiece {
		return trialPiece(name, []float64{day}, []float64{20})
	}
	c := compareTrial(t, drying.Trial{
		Target: material.Is(quantity.MustLossPercent(15)),
		Courses: []drying.TrialCourse{
			trialCourse("room", one("a", 20*math.Exp(-0.1)), one("b", 20*math.Exp(0.1))),
			trialCourse("refrigerator", one("a", 40*math.Exp(-0.1)), one("b", 40*math.Exp(0.1))),
		},
	})
	a := c.Against[0]
	times := timeRatio(t, a)
	for _, row := range []struct {
		name      string
		got, want float64
	}{
		{"ratio", times.Mid.Float(), 2},
		{"low of 80", times.P80.Low.Float(), 1.531857}, {"high of 80", times.P80.High.Float(), 2.611210},
		{"low of 95", times.P95.Low.Float(), 1.088347}, {"high of 95", times.P95.High.Float(), 3.675298},
	} {
		if math.Abs(row.got-row.want) > 2e-5 {
			t.Errorf("%s: want %v, got %v", row.name, row.want, row.got)
		}
	}
	if a.Slower != drying.IsHigher || a.Basis != drying.FromPieces {
		t.Errorf("%v from %v", a.Slower, a.Basis)
	}
	span, _ := a.Range.Get()
	if math.Abs(span.Low.Percent()-10) > 1e-9 || math.Abs(span.High.Percent()-20) > 1e-9 {
		t.Errorf("compared over %v to %v", span.Low, span.High)
	}
	// The days to 15 points are three quarters of those to 20; 30 is not reached.
	var asked []string
	for _, to := range c.Courses[1].Times {
		text := fmt.Sprintf("%v %t %d", to.Loss, to.Asked, to.Reached)
		if mean, is := to.Mean.Get(); is {
			text += fmt.Sprintf(" %.3f", mean.Mid.Hours()/24)
		}
		asked = append(asked, text)
	}
	if d := cmp.Diff([]string{"10 % false 2 20.000", "15 % true 2 30.000", "20 % false 2 40.000", "30 % false 0"}, asked); d != "" {
		t.Errorf("days (-want +got):\n%s", d)
	}
}

// By hand. With one piece each, the logarithm of the time of an even loss has at
// 20 points, the last that is compared, a slope of 4 ln(4/3)/20 = 0.0575364. Times
// 2.5 points that is 0.143841, and sqrt 2 of it 0.203422 for both. With 2*12 degrees
// of freedom the 97.5 percent quantile is 2.063899. So 2 e^∓0.419842.
func TestOnePieceEach(t *testing.T) {
	t.Parallel()
	c := compareTrial(t, drying.Trial{Courses: []drying.TrialCourse{
		trialCourse("room", trialPiece("a", []float64{20}, []float64{20})), trialCourse("refrigerator", trialPiece("a", []float64{40}, []float64{20})),
	}})
	times := timeRatio(t, c.Against[0])
	if math.Abs(times.P95.Low.Float()-1.314301) > 1e-4 || math.Abs(times.P95.High.Float()-3.043443) > 3e-4 {
		t.Errorf("95 %%: %v to %v", times.P95.Low, times.P95.High)
	}
	if c.Against[0].Basis != drying.FromNothing {
		t.Errorf("basis is %v", c.Against[0].Basis)
	}
	if got := trialNotes(c); !slices.Contains(got, "one-piece") {
		t.Errorf("notes are %v", got)
	}
	for _, at := range c.Courses[0].Curve {
		if _, shown := at.Spread.Get(); shown {
			t.Errorf("a spread of one piece on %v", at.Since)
		}
	}
}

func trialNotes(c drying.Comparison) []string {
	var codes []string
	for _, n := range c.Notes {
		codes = append(codes, n.Code)
	}
	return codes
}

// anyTrial is an invented trial of two courses with slips and spread in them.
func anyTrial() drying.Trial {
	room := trialCourse("room",
		trialPiece("a", []float64{3, 7, 14, 21}, []float64{6, 11.5, 18, 24}), trialPiece("b", []float64{3, 7, 14, 21}, []float64{5, 10, 17.5, 22.5}),
		trialPiece("c", []float64{3, 7, 14, 21}, []float64{6.5, 99.9, 20, 26}))
	cold := trialCourse("refrigerator",
		trialPiece("d", []float64{3, 7, 14, 28, 42}, []float64{3, 5.5, 10, 17, 23}), trialPiece("e", []float64{3, 7, 14, 28, 42}, []float64{2.5, 6, 9, 15, 20}))
	for i, aw := range []float64{0.9, 0.92, 0.905} {
		room.Pieces[i].Final = drying.Final{
			Core: material.Is(quantity.MustWaterActivity(aw)), Rim: material.Is(quantity.MustWaterActivity(aw - 0.03)), Moisture: material.Is(quantity.MustPercent(40 + aw)),
		}
	}
	for i, aw := range []float64{0.91, 0.925} {
		cold.Pieces[i].Final = drying.Final{Core: material.Is(quantity.MustWaterActivity(aw)), Rim: material.Is(quantity.MustWaterActivity(aw - 0.01))}
	}
	room.Temperature, room.Humidity = material.Is(quantity.MustCelsius(13)), material.Is(quantity.MustHumidityPercent(78))
	cold.Temperature, cold.Humidity = material.Is(quantity.MustCelsius(4)), material.Is(quantity.MustHumidityPercent(78))
	return drying.Trial{Courses: []drying.TrialCourse{room, cold}}
}

func TestSwappingInvertsTheRatio(t *testing.T) {
	t.Parallel()
	trial := anyTrial()
	one := timeRatio(t, compareTrial(t, trial).Against[0])
	slices.Reverse(trial.Courses)
	swapped := compareTrial(t, trial).Against[0]
	other := timeRatio(t, swapped)
	rate, _ := swapped.Rate.Get()
	for _, row := range [][3]float64{
		{one.Mid.Float(), other.Mid.Float(), rate.Mid.Float()},
		{one.P80.Low.Float(), other.P80.High.Float(), rate.P80.Low.Float()}, {one.P80.High.Float(), other.P80.Low.Float(), rate.P80.High.Float()},
		{one.P95.Low.Float(), other.P95.High.Float(), rate.P95.Low.Float()}, {one.P95.High.Float(), other.P95.Low.Float(), rate.P95.High.Float()},
	} {
		if math.Abs(row[0]*row[1]-1) > 1e-12 || math.Abs(row[0]/row[2]-1) > 1e-12 {
			t.Errorf("%v swapped is %v, and the rate %v", row[0], row[1], row[2])
		}
	}
	if one.Mid.Float() < 1.5 {
		t.Errorf("the refrigerator takes only %v times as long", one.Mid)
	}
}

func TestOrderOfPiecesChangesNothing(t *testing.T) {
	t.Parallel()
	trial := anyTrial()
	one := compareTrial(t, trial)
	trial.Courses = slices.Clone(trial.Courses)
	p := trial.Courses[0].Pieces
	trial.Courses[0].Pieces = []drying.TrialPiece{p[2], p[0], p[1]}
	other := compareTrial(t, trial)
	if got, want := fmt.Sprintf("%+v", other.Against), fmt.Sprintf("%+v", one.Against); got != want {
		t.Errorf("want %s\ngot %s", want, got)
	}
	if got, want := fmt.Sprintf("%+v", other.Courses[0].Curve), fmt.Sprintf("%+v", one.Courses[0].Curve); got != want {
		t.Errorf("want %s\ngot %s", want, got)
	}
}

// A weigh-in that can't be right is left out: the answer is the one without it.
func TestSlipsAreLeftOut(t *testing.T) {
	t.Parallel()
	trial := anyTrial()
	one := compareTrial(t, trial)
	if w := one.Courses[0].Pieces[2].Weighed[1]; w.Doubt != drying.DoubtUnit {
		t.Errorf("the slip has the doubt %q", w.Doubt)
	}
	slipped := &trial.Courses[0].Pieces[2]
	slipped.WeighIns = slices.Delete(slices.Clone(slipped.WeighIns), 1, 2)
	if got, want := fmt.Sprintf("%+v", compareTrial(t, trial).Against), fmt.Sprintf("%+v", one.Against); got != want {
		t.Errorf("want %s\ngot %s", want, got)
	}
}

// Intervals hold the true ratio as often as they say. Pieces follow the cylinder
// of lostBy at paces that are log-normal about that of their course, and are
// weighed to 0.3 points. Of 600 trials a coverage of 80 percent is off by 1.6 (one
// standard error), one of 95 by 0.9; the tolerances are some three of them. Welch's
// interval itself is off by a percent or two with samples as small.
func TestCoverage(t *testing.T) {
	t.Parallel()
	lost := lostBy(t)
	random := rand.New(rand.NewPCG(7, 11)) //nolint:gosec // trials are drawn alike at every run, and nothing is secret
	const trials = 600
	const stretch = 1.4
	days := []float64{3, 7, 11, 16, 22, 30}
	drawn := func(name string, n int, pace, sd float64) drying.TrialCourse {
		c := drying.TrialCourse{Name: name}
		for k := range n {
			own := pace * math.Exp(sd*random.NormFloat64())
			var losses []float64
			for _, day := range days {
				losses = append(losses, lost(own*day)+0.3*random.NormFloat64())
			}
			c.Pieces = append(c.Pieces, trialPiece(strconv.Itoa(k), days, losses))
		}
		return c
	}
	// What spread of the pace is one of 2.5 points of loss about a day.
	usual := func(day float64) float64 { return 2.5 / ((lost(1.01*day) - lost(0.99*day)) / 0.02) }
	for _, row := range []struct {
		name          string
		first, other  int
		spread, wider float64
		least, most   [2]float64 // of the coverage of 80 and of 95 percent
	}{
		{"three and four", 3, 4, 0.1, 0.2, [2]float64{0.75, 0.92}, [2]float64{0.87, 0.985}},
		{"two and six", 2, 6, 0.15, 0.15, [2]float64{0.75, 0.91}, [2]float64{0.88, 0.995}},
		{"one and one", 1, 1, usual(20), usual(28), [2]float64{0.74, 0.9}, [2]float64{0.91, 0.99}},
	} {
		held80, held95 := 0, 0
		for range trials {
			c := compareTrial(t, drying.Trial{Courses: []drying.TrialCourse{
				drawn("first", row.first, 1, row.spread), drawn("other", row.other, 1/stretch, row.wider),
			}})
			times := timeRatio(t, c.Against[0])
			if times.P80.Low.Float() <= stretch && stretch <= times.P80.High.Float() {
				held80++
			}
			if times.P95.Low.Float() <= stretch && stretch <= times.P95.High.Float() {
				held95++
			}
		}
		got80, got95 := float64(held80)/trials, float64(held95)/trials
		t.Logf("%s: %v and %v", row.name, got80, got95)
		if got80 < row.least[0] || got80 > row.least[1] || got95 < row.most[0] || got95 > row.most[1] {
			t.Errorf("%s: held in %v and %v", row.name, got80, got95)
		}
	}
}

// Where nothing differs, about one in twenty is told apart.
func TestNothingToTell(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 5)) //nolint:gosec // as above
	const trials = 600
	told := 0
	for range trials {
		drawn := func(name string) drying.TrialCourse {
			c := drying.TrialCourse{Name: name}
			for k := range 4 {
				c.Pieces = append(c.Pieces, trialPiece(strconv.Itoa(k), []float64{20 * math.Exp(0.15*random.NormFloat64())}, []float64{20}))
			}
			return c
		}
		if a := compareTrial(t, drying.Trial{Courses: []drying.TrialCourse{drawn("one"), drawn("other")}}).Against[0].Slower; a == drying.IsHigher || a == drying.IsLower {
			told++
		}
	}
	if got := float64(told) / trials; got < 0.02 || got > 0.08 {
		t.Errorf("%v are told apart", got)
	}
}

// Published pairs, one series each. Dry-cured sausage with 0 and with all of its
// back fat replaced (Foods 10(7), 1460, 2021, table 3, losses from its
// moistures): to the 39.19 points that the control had lost by day 4 the other
// takes sqrt(t) = 1 + (39.19-33.93)/(50.53-33.93) of the way from 1 to 2, so 1.734
// days and a ratio of 0.4335. Pork loin aged dry in two kinds of earthenware (Food
// Sci. Anim. Resour. 43(5), 901, 2023, table 3): to the 8.59 points of day 20 the
// porous one takes 35.0 days, a ratio of 1.75, which standard deviations of 2 to 5
// points between its pieces do not bear out.
func TestPublishedPairs(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name         string
		first, other drying.TrialPiece
		target, want float64
		apart        drying.Apart
	}{
		{
			"fat replaced", trialPiece("control", []float64{1, 4, 7}, []float64{19.59, 39.19, 47.53}),
			trialPiece("all", []float64{1, 4, 7}, []float64{33.93, 50.53, 55.77}), 39.19, 0.4335, drying.IsLower,
		},
		{
			"earthenware", trialPiece("ordinary", []float64{10, 20, 30}, []float64{4.17, 8.59, 10.16}),
			trialPiece("porous", []float64{10, 20, 30, 40}, []float64{4.92, 7.5, 7.58, 9.53}), 8.59, 1.75, drying.NotTold,
		},
	} {
		c := compareTrial(t, drying.Trial{
			Courses: []drying.TrialCourse{trialCourse("first", row.first), trialCourse("other", row.other)},
			Target:  material.Is(quantity.MustLossPercent(row.target)),
		})
		got := math.NaN()
		for _, l := range c.Against[0].Levels {
			if l.Asked {
				got = l.Time.Mid.Float()
			}
		}
		if math.Abs(got-row.want) > 0.001 {
			t.Errorf("%s: want %v, got %v", row.name, row.want, got)
		}
		if c.Against[0].Slower != row.apart {
			t.Errorf("%s: %v, with %v to %v", row.name, c.Against[0].Slower, timeRatio(t, c.Against[0]).P95.Low, timeRatio(t, c.Against[0]).P95.High)
		}
	}
}

// By hand, of anyTrial: on day 21 the room has lost 24, 22.5 and 26, the
// refrigerator what lies between its weigh-ins of days 14 and 28. Core less rim is
// 0.03 and 0.01. The higher end is 0.90833 and 0.9175. No moisture of the
// refrigerator was measured.
func TestDifferences(t *testing.T) {
	t.Parallel()
	c := compareTrial(t, anyTrial())
	share := (math.Sqrt(21) - math.Sqrt(14)) / (math.Sqrt(28) - math.Sqrt(14))
	cold := (10+share*7)/2 + (9+share*6)/2
	want := map[drying.Figure][3]float64{
		drying.LossOnDay: {72.5 / 3, cold, cold - 72.5/3}, drying.LastLoss: {72.5 / 3, 21.5, 21.5 - 72.5/3},
		drying.WetterEnd:   {100 * 2.725 / 3, 91.75, 91.75 - 100*2.725/3},
		drying.CoreOverRim: {3, 1, -2},
	}
	for _, d := range c.Against[0].Differences {
		w, is := want[d.Figure]
		if !is {
			t.Errorf("%v was not measured of both", d.Figure)
			continue
		}
		delete(want, d.Figure)
		got := [3]float64{d.First.Percent(), d.Course.Percent(), d.Difference.Percent()}
		for i := range w {
			if math.Abs(got[i]-w[i]) > 1e-9 {
				t.Errorf("%v: want %v, got %v", d.Figure, w, got)
			}
		}
		told, is := d.Interval.Get()
		if !is {
			t.Fatalf("%v has no interval", d.Figure)
		}
		outside := told.P95.Low.Float() > 0 || told.P95.High.Float() < 0
		if outside != (d.Apart == drying.IsHigher || d.Apart == drying.IsLower) {
			t.Errorf("%v: %v, with %v to %v", d.Figure, d.Apart, told.P95.Low, told.P95.High)
		}
	}
	if len(want) > 0 {
		t.Errorf("without %v", want)
	}
	if r := c.Courses[0].Rim; r.Pieces != 3 {
		t.Errorf("core and rim of %d pieces", r.Pieces)
	}
}

// By hand: air of 4 °C holds 0.81351/1.49799 = 0.5431 of the vapour of that of 13 °C
// (IAPWS, as tabled), and the humidity is the same, so that the drive is 0.5431.
// Inside, exp(-30000/8.314463 (1/277.15 - 1/286.15)) = 0.664; 0.711 and 0.620 with
// 25 and 35 kJ/mol. With a gap g the drive may be 0.5431 (g-0.06)/g to 0.5431
// g/(g-0.06), the worse of the two water activities being the lower one.
func TestAirOfTwoRooms(t *testing.T) {
	t.Parallel()
	a := compareTrial(t, anyTrial()).Against[0].Air
	for name, row := range map[string]struct {
		of   material.Known[quantity.Ratio]
		want float64
	}{"warmth": {a.Warmth, 0.5431}, "gap": {a.Gap, 1}, "drive": {a.Drive, 0.5431}, "inside": {a.Inside, 0.664}} {
		if got, is := row.of.Get(); !is || math.Abs(got.Float()-row.want) > 5e-4 {
			t.Errorf("%s: want %v, got %v", name, row.want, got)
		}
	}
	activity, _ := a.Activity.Get()
	g := activity.Float() - 0.78
	low, high := 0.5431*(g-0.06)/g, 0.5431*g/(g-0.06)
	within, _ := a.DriveWithin.Get()
	if math.Abs(within.Low.Float()-low) > 1e-3 || math.Abs(within.High.Float()-high) > 1e-3 {
		t.Errorf("drive: want %v to %v, got %v to %v", low, high, within.Low, within.High)
	}
	inside, _ := a.InsideWithin.Get()
	if math.Abs(inside.Low.Float()-0.620) > 1e-3 || math.Abs(inside.High.Float()-0.711) > 1e-3 {
		t.Errorf("inside: %v to %v", inside.Low, inside.High)
	}
	expected, _ := a.Expected.Get()
	if a.Verdict != drying.AirExplains || expected.Low != within.Low || expected.High.Float() != max(within.High.Float(), inside.High.Float()) {
		t.Errorf("%v, expected %v to %v", a.Verdict, expected.Low, expected.High)
	}
	// Air of 0.3 and 0.1 m/s along 40 mm at 13 °C lets through 0.0083 and 0.0048 m/s, as
	// tabled for a cylinder in cross flow.
	blown := anyTrial()
	for i, speed := range []float64{0.1, 0.3} {
		blown.Courses[i].AirSpeed, blown.Courses[i].Temperature = material.Is(quantity.MustMetresPerSecond(speed)), material.Is(quantity.MustCelsius(13))
		for j := range blown.Courses[i].Pieces {
			blown.Courses[i].Pieces[j].Diameter = material.Is(quantity.MustMillimetres(40))
		}
	}
	b := compareTrial(t, blown).Against[0].Air
	if got, is := b.Film.Get(); !is || math.Abs(got.Float()-0.0083/0.0048) > 0.02 {
		t.Errorf("film: want %v, got %v", 0.0083/0.0048, got)
	}
	drives, _ := b.DriveWithin.Get()
	film, _ := b.Film.Get()
	if e, _ := b.Expected.Get(); math.Abs(e.High.Float()-film.Float()*drives.High.Float()) > 1e-12 || e.Low != drives.Low {
		t.Errorf("in air of one warmth and humidity, expected %v to %v", e.Low, e.High)
	}
	// Three times as far from its balance, the same room can't be explained by the air.
	trial := anyTrial()
	trial.Courses[1].Humidity = material.Is(quantity.MustHumidityPercent(40))
	if a := compareTrial(t, trial).Against[0].Air; a.Verdict == drying.FasterThanAir || a.Verdict == drying.AirNotShown {
		t.Errorf("%v", a.Verdict)
	}
	trial.Courses[1].Humidity = material.Is(quantity.MustHumidityPercent(99))
	c := compareTrial(t, trial)
	if a := c.Against[0].Air; a.Verdict != drying.AirNotShown || !slices.Contains(trialNotes(c), "no-drive") {
		t.Errorf("%v, %v", a.Verdict, trialNotes(c))
	}
}

// What is not shown is said.
func TestNotShown(t *testing.T) {
	t.Parallel()
	c := compareTrial(t, drying.Trial{Courses: []drying.TrialCourse{
		trialCourse("room", trialPiece("a", []float64{20}, []float64{20}), trialPiece("b", nil, nil)),
		trialCourse("refrigerator", trialPiece("a", []float64{5}, []float64{1.5})),
		trialCourse("cellar", trialPiece("a", nil, nil)),
	}})
	for i, a := range c.Against {
		if _, is := a.Time.Get(); is || a.Slower != drying.NotShown || a.Air.Verdict != drying.AirNotShown {
			t.Errorf("contrast %d: %v, %v", i, a.Slower, a.Air.Verdict)
		}
	}
	if d := c.Against[1].Differences; len(d) != 0 {
		t.Errorf("differences of nothing: %v", d)
	}
	got := trialNotes(c)
	for _, want := range []string{"no-common-loss", "no-weigh-in", "one-piece", "air-not-given", "several-comparisons"} {
		if !slices.Contains(got, want) {
			t.Errorf("no %s among %v", want, got)
		}
	}
}

func TestTrialFaults(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name   string
		change func(*drying.Trial)
		want   []string
	}{
		{"one course", func(t *drying.Trial) { t.Courses = t.Courses[:1] }, []string{"#/courses count"}},
		{"a target of all water", func(t *drying.Trial) { t.Target = material.Is(quantity.MustLossPercent(77)) }, []string{"#/target_loss_percent out-of-range"}},
		{"one name twice", func(t *drying.Trial) { t.Courses[1].Name = "room" }, []string{"#/courses/1/name duplicate"}},
		{"no name", func(t *drying.Trial) { t.Courses[1].Pieces[0].Name = " " }, []string{"#/courses/1/pieces/0/name required"}},
		{"a hot room, and a gram too many", func(t *drying.Trial) {
			t.Courses[1].Temperature = material.Is(quantity.MustCelsius(60))
			t.Courses[0].Pieces[1].Green = quantity.Mass{}
			t.Courses[0].Pieces[2].Hung = trialStart().Add(-time.Hour)
			t.Courses[0].Pieces[2].Diameter = material.Is(quantity.MustMillimetres(2))
		}, []string{
			"#/courses/0/pieces/1/green_weight minimum", "#/courses/0/pieces/2/diameter out-of-range",
			"#/courses/0/pieces/2/hung_at before-stuffing", "#/courses/1/room/temperature out-of-range",
		}},
		{"three centuries", func(t *drying.Trial) {
			w := slices.Clone(t.Courses[0].Pieces[0].WeighIns)
			w[3].At = w[3].At.AddDate(300, 0, 0)
			t.Courses[0].Pieces[0].WeighIns = w
		}, []string{"#/courses/0/pieces/0/weigh_ins/3/at out-of-range"}},
		{"more than the whole", func(t *drying.Trial) {
			t.Composition = drying.Composition{Water: material.Is(quantity.MustPercent(70)), Fat: material.Is(quantity.MustPercent(40))}
		}, []string{"#/composition/fat_percent sum", "#/composition/water_percent sum"}},
	} {
		trial := anyTrial()
		row.change(&trial)
		_, err := drying.CompareTrial(trial)
		f, is := errors.AsType[*fault.Error](err)
		if !is || f.Kind != fault.Invalid {
			t.Errorf("%s: want an invalid trial, got %v", row.name, err)
			continue
		}
		var got []string
		for _, v := range f.Violations {
			got = append(got, strings.TrimSpace(v.Path.Pointer()+" "+v.Code))
		}
		slices.Sort(got)
		if d := cmp.Diff(row.want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", row.name, d)
		}
	}
}

// Whatever was weighed, there is an answer: its intervals lie within each other,
// the rate is the inverse of the time, curves climb, and a swapped trial says the
// opposite.
func TestAnyTrial(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		span := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(r, name) }
		var trial drying.Trial
		for i := range 2 {
			c := drying.TrialCourse{Name: strconv.Itoa(i)}
			if rapid.Bool().Draw(r, "room") {
				c.Temperature, c.Humidity = material.Is(quantity.MustCelsius(span("temperature", -5, 40))), material.Is(quantity.MustHumidityPercent(span("humidity", 0, 100)))
				c.AirSpeed = material.Is(quantity.MustMetresPerSecond(span("speed", 0, 10)))
			}
			for j := range rapid.IntRange(1, 4).Draw(r, "pieces") {
				p := drying.TrialPiece{Name: strconv.Itoa(j), Green: quantity.MustGrams(1000), Stuffed: trialStart()}
				p.Hung = afterDays(span("hung", 0, 4))
				day, loss := 0.0, 0.0
				for range rapid.IntRange(0, 5).Draw(r, "weigh-ins") {
					day, loss = day+math.Pow(10, span("log of days", -3, 3)), loss+span("lost", -2, 15)
					p.WeighIns = append(p.WeighIns, drying.WeighIn{At: afterDays(day), Weight: quantity.MustGrams(1000 * (1 - math.Min(loss, 70)/100))})
				}
				p.Diameter = material.Is(quantity.MustMillimetres(span("diameter", 5, 250)))
				p.Final.Core, p.Final.Rim = material.Is(quantity.MustWaterActivity(span("core", 0, 1))), material.Is(quantity.MustWaterActivity(span("rim", 0, 1)))
				p.Final.Moisture = material.Is(quantity.MustPercent(span("moisture", 0, 100)))
				c.Pieces = append(c.Pieces, p)
			}
			trial.Courses = append(trial.Courses, c)
		}
		trial.Target = material.Is(quantity.MustLossPercent(span("target", 0.001, 75)))
		c, err := drying.CompareTrial(trial)
		if err != nil {
			r.Fatal(err)
		}
		a := c.Against[0]
		nested := func(what string, told drying.Told[quantity.Ratio]) {
			ends := []float64{told.P95.Low.Float(), told.P80.Low.Float(), told.Mid.Float(), told.P80.High.Float(), told.P95.High.Float()}
			if !slices.IsSorted(ends) {
				r.Errorf("%s: ends are %v", what, ends)
			}
		}
		times, compared := a.Time.Get()
		rate, also := a.Rate.Get()
		if compared != also || compared == (a.Slower == drying.NotShown) {
			r.Errorf("compared: %t, %t and %v", compared, also, a.Slower)
		}
		if compared {
			nested("time", times)
			nested("rate", rate)
			if math.Abs(times.Mid.Float()*rate.Mid.Float()-1) > 1e-9 {
				r.Errorf("time %v and rate %v", times.Mid, rate.Mid)
			}
		}
		for _, d := range a.Differences {
			if told, is := d.Interval.Get(); is {
				nested(d.Figure.String(), told)
			}
		}
		for _, course := range c.Courses {
			for k := 1; k < len(course.Curve); k++ {
				if one, next := course.Curve[k-1], course.Curve[k]; next.Since <= one.Since || next.Mean.Percent() < one.Mean.Percent()-1e-9 {
					r.Errorf("the curve goes from %v at %v to %v at %v", one.Mean, one.Since, next.Mean, next.Since)
				}
			}
		}
		slices.Reverse(trial.Courses)
		swapped, err := drying.CompareTrial(trial)
		if err != nil {
			r.Fatal(err)
		}
		opposite := map[drying.Apart]drying.Apart{drying.IsHigher: drying.IsLower, drying.IsLower: drying.IsHigher, drying.NotTold: drying.NotTold, drying.NotShown: drying.NotShown}
		if got := swapped.Against[0].Slower; got != opposite[a.Slower] {
			r.Errorf("%v, and swapped %v", a.Slower, got)
		}
	})
}

// A trial of the largest size is compared in a third of a second.
func BenchmarkCompareTrial(b *testing.B) {
	var trial drying.Trial
	for i := range 12 {
		c := drying.TrialCourse{Name: strconv.Itoa(i)}
		for j := range 24 {
			p := drying.TrialPiece{Name: strconv.Itoa(j), Green: quantity.MustGrams(1000), Stuffed: trialStart()}
			for k := range 300 {
				p.WeighIns = append(p.WeighIns, drying.WeighIn{At: afterDays(float64(k+1) / 10), Weight: quantity.MustGrams(1000 - float64(k+j))})
			}
			c.Pieces = append(c.Pieces, p)
		}
		trial.Courses = append(trial.Courses, c)
	}
	for b.Loop() {
		if _, err := drying.CompareTrial(trial); err != nil {
			b.Fatal(err)
		}
	}
}
