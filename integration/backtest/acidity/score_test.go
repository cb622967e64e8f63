package acidity

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"greenweight/integration/backtest/scoring"
)

var never = math.Inf(1)

func normalQuantiles(mean, sd float64) []float64 {
	at := make([]float64, scoring.Levels)
	for i := range at {
		at[i] = distuv.Normal{Mu: mean, Sigma: sd}.Quantile(scoring.Level(i))
	}
	return at
}

// Where the truth is known the score is that of Gneiting and Raftery, Journal of
// the American Statistical Association 102, 2007, equation 5, for a normal
// distribution: sd 0.233695 at its mean, sd 0.602441 one sd off.
func TestCRPSOfAKnownTruth(t *testing.T) {
	t.Parallel()
	q := normalQuantiles(20, 2)
	for _, c := range []struct{ y, want float64 }{{20, 2 * 0.233695}, {22, 2 * 0.602441}, {18, 2 * 0.602441}} {
		near(t, fmt.Sprintf("at %v", c.y), c.want, crpsApart(q, c.y, c.y), 1e-3)
		near(t, fmt.Sprintf("at %v, by the other formula", c.y), scoring.CRPS(q, c.y), crpsApart(q, c.y, c.y), 1e-9)
	}
	for _, y := range []float64{0, 1, 1.5, 2, 3.9, 4, 10} {
		near(t, fmt.Sprintf("three values, %v", y), scoring.CRPS([]float64{1, 2, 4}, y), crpsApart([]float64{1, 2, 4}, y, y), 1e-12)
	}
}

func TestCRPSOfAnInterval(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name            string
		quantiles       []float64
		after, by, want float64
	}{
		// F is 1/3 from 1, 2/3 from 2 and 1 from 4: (1/3)² up to 2, (1-2/3)² from 3 to 4.
		{"three values", []float64{1, 2, 4}, 2, 3, 2.0 / 9},
		{"a point too late", []float64{5}, 1, 2, 3},
		{"a point too early", []float64{5}, 6, 8, 1},
		{"a point inside", []float64{5}, 4, 8, 0},
		{"all inside", []float64{5, 6, 7}, 4, 8, 0},
		{"open to the latest", []float64{5, 50}, 10, 60, 0.25 * 5}, // F is 1/2 from 5 on
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			near(t, "CRPS", c.want, crpsApart(c.quantiles, c.after, c.by), 1e-12)
		})
	}
}

func TestPart(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		b, other band
		want     float64
	}{
		{band{0.2, 0.4}, band{0.1, 0.9}, 1},
		{band{0.05, 0.15}, band{0.1, 0.9}, 0.5},
		{band{0, 1}, band{0.1, 0.9}, 0.8},
		{band{0, 0.1}, band{0.25, 0.75}, 0},
		{band{0.5, 0.5}, band{0.25, 0.75}, 1},
		{band{0.8, 0.8}, band{0.25, 0.75}, 0},
	} {
		near(t, fmt.Sprint(c.b, " in ", c.other), c.want, c.b.part(c.other), 1e-12)
	}
}

// Of a right forecast the bands hold what they claim, and each tenth of the
// distribution has a tenth of the cases: whether the truth is known or that it
// never comes, or only the readings that it lies between or that it had not come
// yet. (Drawn with a fixed seed, within four standard errors.)
func TestARightForecastHoldsItsClaims(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 4)) //nolint:gosec // a fixed seed is meant
	law := distuv.Normal{Mu: 3, Sigma: 0.6}
	const chance, n, watched = 0.15, 6000, 60
	at := func(p float64) float64 {
		if p >= 1-chance {
			return never
		}
		return math.Exp(law.Quantile(p / (1 - chance)))
	}
	f := forecast{Never: chance}
	f.fill(at)
	var held [3]float64
	pit := make([]float64, pitTenths)
	for range n {
		hour, every := at(random.Float64()), math.Exp(3*random.Float64())
		var tr truth
		switch seen := random.Float64() < 0.5; {
		case !seen && hour > watched:
			tr = truth{After: watched, By: never, Point: never}
		case !seen:
			after := math.Floor(hour/every) * every
			tr = truth{After: after, By: math.Min(after+every, watched), Point: after}
		case math.IsInf(hour, 1):
			tr = truth{After: watched, By: never, Point: never, Never: true}
		default:
			tr = truth{After: hour, By: hour, Point: hour}
		}
		s := judge(f, tr, 5)
		for i := range held {
			held[i] += s.Held[i]
		}
		pit = s.PIT.tenths(pit)
	}
	for i, share := range scoring.Shares() {
		near(t, fmt.Sprintf("%v percent band", 100*share), share*n, held[i], 4*math.Sqrt(share*(1-share)*n))
	}
	for i := range pit {
		near(t, fmt.Sprintf("tenth %d", i), 0.1*n, pit[i], 4*math.Sqrt(0.09*n))
	}
}

func TestJudge(t *testing.T) {
	t.Parallel()
	exactly := truth{After: 20, By: 20, Point: 20}
	between := truth{After: 18, By: 24, Point: 21}
	open := truth{After: 30, By: never, Point: never}
	stuck := truth{After: 100, By: never, Point: never, Never: true}
	for _, c := range []struct {
		name string
		f    forecast
		of   truth
		want score
	}{
		{
			"an hour", forecast{Median: 26}, exactly,
			score{Reached: true, Told: true, Off: 6, OffPoint: 6, HasCRPS: true, CRPS: 6, LogCRPS: math.Log(1.3), HasNever: true, Log: -math.Log(0.99)},
		},
		{
			"after the interval", forecast{Median: 26}, between,
			score{Reached: true, Told: true, Off: 2, OffPoint: 5, HasCRPS: true, CRPS: 2, LogCRPS: math.Log(26.0 / 24), HasNever: true, Log: -math.Log(0.99)},
		},
		{
			"before it", forecast{Median: 15}, between,
			score{Reached: true, Told: true, Off: -3, OffPoint: -6, HasCRPS: true, CRPS: 3, LogCRPS: math.Log(18.0 / 15), HasNever: true, Log: -math.Log(0.99)},
		},
		{
			"inside it", forecast{Median: 19}, between,
			score{Reached: true, Told: true, OffPoint: -2, HasCRPS: true, HasNever: true, Log: -math.Log(0.99)},
		},
		{
			"never, wrongly", forecast{Median: never, Never: 1}, exactly,
			score{Reached: true, Off: 220, OffPoint: 220, HasCRPS: true, CRPS: 220, LogCRPS: math.Log(12), HasNever: true, Never: 1, Brier: 1, Log: -math.Log(0.01)},
		},
		{"never, rightly", forecast{Median: never, Never: 1}, stuck, score{HasNever: true, Never: 1, Log: -math.Log(0.99)}},
		{"perhaps never", forecast{Median: 30, Never: 0.3}, stuck, score{Told: true, HasNever: true, Never: 0.3, Brier: 0.49, Log: -math.Log(0.3)}},
		{"before an open end", forecast{Median: 25}, open, score{Told: true, HasCRPS: true, CRPS: 5, LogCRPS: math.Log(1.2)}},
		{"after an open end", forecast{Median: 40}, open, score{Told: true, HasCRPS: true}},
		{"not asked", forecast{Median: never, NotAsked: true}, exactly, score{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := judge(c.f, c.of, 10)
			c.want.Asked = !c.f.NotAsked
			for _, v := range []struct {
				what      string
				want, got float64
			}{
				{"off", c.want.Off, got.Off}, {"off the point", c.want.OffPoint, got.OffPoint}, {"CRPS", c.want.CRPS, got.CRPS},
				{"CRPS of the logarithm", c.want.LogCRPS, got.LogCRPS}, {"never", c.want.Never, got.Never}, {"Brier", c.want.Brier, got.Brier},
				{"log score", c.want.Log, got.Log},
			} {
				near(t, v.what, v.want, v.got, 1e-9)
			}
			if got.Asked != c.want.Asked || got.Reached != c.want.Reached || got.Told != c.want.Told || got.HasCRPS != c.want.HasCRPS || got.HasNever != c.want.HasNever || got.Spread {
				t.Errorf("want %+v, got %+v", c.want, got)
			}
		})
	}
}

// A distribution of four values and a quarter of never.
func TestJudgeADistribution(t *testing.T) {
	t.Parallel()
	f := forecast{
		Median: 20, Bands: &[3]band{{15, 25}, {10, never}, {10, never}}, Quantiles: []float64{10, 20, 30, never}, Never: 0.25,
	}
	exactly := judge(f, truth{After: 25, By: 25, Point: 25}, 5)
	if exactly.Held != [3]float64{1, 1, 1} || exactly.PIT != (band{0.5, 0.5}) {
		t.Errorf("want the truth in all bands and half of the probability before it, got %+v", exactly)
	}
	near(t, "width, never as 240 h", 230, exactly.Width, 1e-12)
	// Given that it comes, each of 10, 20 and 30 h has a third: (15+5+5)/3 - (10+20+10)/9.
	near(t, "CRPS", 25.0/3-40.0/9, exactly.CRPS, 1e-9)
	late := judge(f, truth{After: 26, By: 26, Point: 26}, 5)
	if late.Held != [3]float64{0, 1, 1} {
		t.Errorf("want the truth out of the first band, got %+v", late.Held)
	}
	// Between 5 and 15 h lies the first quarter, of which the bands of 50, 80 and
	// 90 percent have none, 0.15 and 0.2.
	between := judge(f, truth{After: 5, By: 15, Point: 10}, 5)
	if between.PIT != (band{0, 0.25}) {
		t.Errorf("want the first quarter, got %v", between.PIT)
	}
	for i, want := range []float64{0, 0.6, 0.8} {
		near(t, "part held", want, between.Held[i], 1e-9)
	}
	// Never is the last quarter, all after 25 h the last two.
	if got := judge(f, truth{After: 90, By: never, Point: never, Never: true}, 5).PIT; got != (band{0.75, 1}) {
		t.Errorf("never: want the last quarter, got %v", got)
	}
	if got := judge(f, truth{After: 25, By: never, Point: never}, 5).PIT; got != (band{0.5, 1}) {
		t.Errorf("open: want the last half, got %v", got)
	}
}

// Ten days, or four times the last hour.
func TestLatest(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ last, want float64 }{{0, 240}, {60, 240}, {61, 244}, {192, 768}} {
		if got := latest(c.last); got != c.want {
			t.Errorf("last reading at %v h: want %v, got %v", c.last, c.want, got)
		}
	}
}
