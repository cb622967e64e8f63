package comparison

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

var hungOn = time.Date(2026, time.November, 2, 16, 0, 0, 0, time.UTC)

// pieceOf weighs a piece of 1000 g, which lost so many percent by those days.
func pieceOf(days, losses []float64) HungPiece {
	p := HungPiece{Green: quantity.MustGrams(1000), Hung: hungOn}
	for i, d := range days {
		p.WeighIns = append(p.WeighIns, drying.WeighIn{At: hungOn.Add(daysOf(d)), Weight: quantity.MustGrams(1000 - 10*losses[i])})
	}
	return p
}

func compare(tb testing.TB, o Order) Answer {
	tb.Helper()
	a, err := Compare(o)
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

func within(tb testing.TB, what string, want, got, tolerance float64) {
	tb.Helper()
	if !(math.Abs(want-got) <= tolerance) {
		tb.Errorf("%s: want %v, got %v", what, want, got)
	}
}

// crank is a curve of diffusion in a cylinder with a fixed surface, Crank (1975), 5.3:
// loss = 40 (1 - sum 4/z^2 exp(-z^2 Fo)), with the first zeros of J0 from Abramowitz
// and Stegun, table 9.5.
func crank(fourier float64) float64 {
	y := 0.0
	for _, z := range []float64{2.4048255577, 5.5200781103, 8.6537279129, 11.7915344391, 14.9309177086, 18.0710639679, 21.2116366299, 24.3524715308} {
		y += 4 / (z * z) * math.Exp(-z*z*fourier)
	}
	return 40 * (1 - y)
}

// The same analytic curve, slower by 1.7: weighed on the days that are slower as
// well, the ratio is exact; weighed on the same days, it is right to a hundredth,
// which is what the interpolation between weigh-ins costs.
func TestRatioOfAScaledCurve(t *testing.T) {
	t.Parallel()
	days := []float64{1, 2, 4, 7, 11, 16, 22, 30}
	course := func(slower float64, days []float64) HungPiece {
		var losses []float64
		for _, d := range days {
			losses = append(losses, crank(0.008*d/slower))
		}
		return pieceOf(days, losses)
	}
	later := make([]float64, len(days))
	for i, d := range days {
		later[i] = 1.7 * d
	}
	for _, row := range []struct {
		days      []float64
		tolerance float64
	}{{later, 1e-9}, {append(slices.Clone(days), 40, 51), 0.017}} {
		a := compare(t, Order{Ways: []Way{
			{Name: "room", Pieces: []HungPiece{course(1, days)}}, {Name: "bag", Pieces: []HungPiece{course(1.7, row.days)}},
		}})
		if len(a.Differ[0].Ratios) < 2 {
			t.Fatalf("too few losses: %+v", a.Differ[0].Ratios)
		}
		for _, r := range a.Differ[0].Ratios {
			within(t, "ratio at "+r.Loss.String(), 1.7, r.Ratio.Mid.Float(), row.tolerance)
			if !r.Assumed {
				t.Error("the spread of one piece was assumed, and not said")
			}
		}
	}
}

// By hand. Room: 20 % after 16 and 25 days; bag: after 36 and 49 days; straight in
// the root of time, so that 10 % takes a quarter. Logarithms of the times to 20 %:
// means ln 20 and ln 42, ratio 2.1. Half differences d are ln(25/16)/2 = 0.223144 and
// ln(49/36)/2 = 0.154151; s^2/n is d^2 each, so that their sum is 0.073556, the root
// 0.271211 and the freedom 0.073556^2 / (d1^4 + d2^4) = 1.7751. On day 16 the pieces
// have lost 20 and 20 * 4/5 = 16 %: mean 18, sd 4/sqrt(2).
func TestComparisonByHand(t *testing.T) {
	t.Parallel()
	a := compare(t, twoByTwo())
	r := a.Differ[0].Ratios
	if len(r) != 2 {
		t.Fatalf("want 10 and 20 %%, got %+v", r)
	}
	within(t, "ratio", 2.1, r[1].Ratio.Mid.Float(), 1e-9)
	half := math.Log(r[1].Ratio.High.Float() / r[1].Ratio.Mid.Float())
	// t at 0.975 falls from 12.7062 to 4.3027 between one degree of freedom and two.
	if q := half / 0.271211; q < 4.3027 || q > 12.7062 {
		t.Errorf("half width %v is t = %v", half, q)
	}
	within(t, "symmetric", half, math.Log(r[1].Ratio.Mid.Float()/r[1].Ratio.Low.Float()), 1e-9)
	if r[1].Apart || r[1].Assumed {
		t.Errorf("two pieces each do not tell a ratio of 2.1 from this spread: %+v", r[1])
	}
	within(t, "days to 10 %", 5, a.Ways[0].Times[0].Time.Mid.Hours()/24, 1e-6)
	within(t, "days to 20 %", 42, a.Ways[1].Times[1].Time.Mid.Hours()/24, 1e-6)
	within(t, "common time", 16, a.CommonTime.Hours()/24, 1e-9)
	day := a.Ways[0].Days[len(a.Ways[0].Days)-1]
	spread, _ := day.Spread.Get()
	within(t, "mean on day 16", 18, day.Mean.Percent(), 1e-9)
	within(t, "sd on day 16", 4/math.Sqrt2, spread.Percent(), 1e-9)
}

func twoByTwo() Order {
	return Order{Ways: []Way{
		{Name: "room", Pieces: []HungPiece{pieceOf([]float64{16}, []float64{20}), pieceOf([]float64{25}, []float64{20})}},
		{Name: "bag", Pieces: []HungPiece{pieceOf([]float64{36}, []float64{20}), pieceOf([]float64{49}, []float64{20})}},
	}}
}

// Swapping the ways turns the ratio over, and the order of pieces changes nothing.
func TestComparisonTurnedOver(t *testing.T) {
	t.Parallel()
	o := twoByTwo()
	one := compare(t, o).Differ[0].Ratios[1].Ratio
	slices.Reverse(o.Ways[0].Pieces)
	slices.Reverse(o.Ways[1].Pieces)
	if again := compare(t, o).Differ[0].Ratios[1].Ratio; again != one {
		t.Errorf("want %v, got %v", one, again)
	}
	slices.Reverse(o.Ways)
	over := compare(t, o).Differ[0].Ratios[1].Ratio
	within(t, "middle", 1, one.Mid.Float()*over.Mid.Float(), 1e-12)
	within(t, "ends", 1, one.Low.Float()*over.High.Float(), 1e-12)
}

// Twice the diameter is four times the time: at the same diameter nothing is left
// of a ratio of 4, and airs with half the drive make a ratio of 2.
func TestWhatExplainsTheRatio(t *testing.T) {
	t.Parallel()
	thin, thick := pieceOf([]float64{9}, []float64{15}), pieceOf([]float64{36}, []float64{15})
	thin.Diameter, thick.Diameter = material.Is(quantity.MustMillimetres(40)), material.Is(quantity.MustMillimetres(80))
	warm := material.Is(quantity.MustCelsius(13))
	dry, err := quantity.HumidityPercent(75)
	if err != nil {
		t.Fatal(err)
	}
	damp, err := quantity.HumidityPercent(85)
	if err != nil {
		t.Fatal(err)
	}
	a := compare(t, Order{Ways: []Way{
		{Name: "thin", Pieces: []HungPiece{thin}, Temperature: warm, Humidity: material.Is(dry)},
		{Name: "thick", Pieces: []HungPiece{thick}, Temperature: warm, Humidity: material.Is(damp)},
	}}).Differ[0]
	same, ok := a.Ratios[1].AtSameDiameter.Get()
	if !ok {
		t.Fatal("no ratio at the same diameter")
	}
	within(t, "ratio", 4, a.Ratios[1].Ratio.Mid.Float(), 1e-9)
	within(t, "at the same diameter", 1, same.Mid.Float(), 1e-9)
	drive, _ := a.Air.Get() // (0.95 - 0.75) / (0.95 - 0.85)
	within(t, "air", 2, drive.Float(), 1e-9)
	// One piece each: sqrt(2) * 0.166667 * 1.959964 = 0.461968 on either side.
	within(t, "assumed spread", 0.461968, math.Log(a.Ratios[1].Ratio.High.Float()/4), 1e-6)
}

// By hand: 0.90 and 0.92 against 0.86 and 0.88 differ by 0.04; s^2/n is 0.0001 each,
// the root of the sum 0.0141421, and t of two degrees of freedom 4.302653.
func TestSamplesByHand(t *testing.T) {
	t.Parallel()
	o := twoByTwo()
	for k, of := range [][]float64{{0.86, 0.88}, {0.90, 0.92}} {
		for _, v := range of {
			o.Ways[k].Samples = append(o.Ways[k].Samples, Sample{Place: Core, WaterActivity: material.Is(quantity.MustWaterActivity(v))})
		}
	}
	s := compare(t, o).Differ[0].Samples
	if len(s) != 1 || s[0].Place != Core {
		t.Fatalf("want the core alone, got %+v", s)
	}
	d, _ := s[0].WaterActivity.Get()
	ends, ok := d.Interval.Get()
	if !ok {
		t.Fatal("no interval")
	}
	within(t, "difference", 0.04, d.Mean.Float(), 1e-9)
	within(t, "low end", 0.04-0.0141421*4.302653, ends.Low.Float(), 1e-6)
	within(t, "high end", 0.04+0.0141421*4.302653, ends.High.Float(), 1e-6)
}

// Of 4000 seeded pairs of lots, three pieces against five whose logarithms of time
// scatter by 0.1 and 0.2, the interval of 95 percent holds the truth in 95 percent,
// within 1.5: two and a half standard errors of the count are 0.9, and the freedom of
// Satterthwaite is an approximation.
func TestIntervalHoldsTheTruth(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 2)) //nolint:gosec // seeded, so that the test repeats
	const lots = 4000
	held := 0
	for range lots {
		a, b := make([]float64, 3), make([]float64, 5)
		for i := range a {
			a[i] = 3 + 0.1*random.NormFloat64()
		}
		for i := range b {
			b[i] = 3.5 + 0.2*random.NormFloat64()
		}
		if e := welch(b, a, 0); e.low <= 0.5 && 0.5 <= e.high {
			held++
		}
	}
	within(t, "percent held", 95, 100*float64(held)/lots, 1.5)
}

func TestComparisonsWithoutMeaning(t *testing.T) {
	t.Parallel()
	o := twoByTwo()
	o.Ways[1].Name = "room"
	o.Ways[1].Pieces[1].WeighIns = nil
	o.Ways[0].Pieces[0].WeighIns[0].At = hungOn.Add(-time.Hour)
	_, err := Compare(o)
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.Invalid {
		t.Fatal(err)
	}
	var got []string
	for _, v := range f.Violations {
		got = append(got, v.Path.Pointer()+" "+v.Code)
	}
	want := "#/courses/0/pieces/0/weigh_ins/0/at before-stuffing, #/courses/1/name duplicate, #/courses/1/pieces/1/weigh_ins none-counts"
	if joined := strings.Join(got, ", "); joined != want {
		t.Errorf("want %s\ngot %s", want, joined)
	}
}

// A way that has not come as far: only what both reached is compared.
func TestCommonRange(t *testing.T) {
	t.Parallel()
	o := twoByTwo()
	o.Ways[0].Pieces = []HungPiece{pieceOf([]float64{4, 16, 36}, []float64{10, 20, 30})}
	a := compare(t, o)
	for _, r := range a.Differ[0].Ratios {
		if r.Loss.Percent() > 20 {
			t.Errorf("compared at %v, which the bag has not reached", r.Loss)
		}
	}
	within(t, "common loss", 20, a.CommonLoss.Percent(), 1e-9)
	if last := a.Ways[0].Times[len(a.Ways[0].Times)-1]; math.Abs(last.Loss.Percent()-30) > 1e-9 {
		t.Errorf("the room reached 30 %%, its times end at %v", last.Loss)
	}
}

// Two pieces that weigh alike, by chance or because one was copied, tell no two ways
// apart that the scale can't. By hand: at 20 percent of loss half a point is
// 2*0.5/20 = 0.05 of the logarithm of the time; of two means of two the root of the
// sum of the squares is 0.05 again, with two degrees of freedom 0.05*4.302653.
func TestPiecesThatAreAlike(t *testing.T) {
	t.Parallel()
	alike := func(days float64) []HungPiece {
		p := pieceOf([]float64{days}, []float64{20})
		return []HungPiece{p, p}
	}
	a := compare(t, Order{Ways: []Way{{Name: "room", Pieces: alike(16)}, {Name: "bag", Pieces: alike(17)}}})
	r := a.Differ[0].Ratios[len(a.Differ[0].Ratios)-1]
	within(t, "ratio", 17.0/16, r.Ratio.Mid.Float(), 1e-9)
	within(t, "half width", 0.05*4.302653, math.Log(r.Ratio.High.Float()/r.Ratio.Mid.Float()), 1e-6)
	if r.Apart {
		t.Errorf("a day in 16 is told apart: %+v", r)
	}
	a = compare(t, Order{Ways: []Way{{Name: "room", Pieces: alike(16)}, {Name: "bag", Pieces: alike(32)}}})
	if r := a.Differ[0].Ratios[len(a.Differ[0].Ratios)-1]; !r.Apart {
		t.Errorf("twice the time is not told apart: %+v", r)
	}
}
