package drying

import (
	"fmt"
	"math"
	"testing"

	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func cylinder(biot float64) Cylinder {
	if math.IsInf(biot, 1) {
		return FixedSurface()
	}
	c, err := NewCylinder(quantity.MustRatio(biot))
	if err != nil {
		panic(err)
	}
	return c
}

var endless = math.Inf(1)

// The mean moisture ratio of an infinite cylinder, from the series of Crank
// (1975), chapter 5, summed over 400 terms in double precision by another
// program.
func TestMeanMoistureRatioAgainstCrank(t *testing.T) {
	t.Parallel()
	biots := []float64{0.5, 1, 2, 5, 10, 50, endless}
	for _, row := range []struct {
		fourier float64
		want    [7]float64
	}{
		{0.005, [7]float64{0.995133, 0.990520, 0.981987, 0.960945, 0.936409, 0.877092, 0.845493}},
		{0.01, [7]float64{0.990376, 0.981457, 0.965471, 0.928807, 0.890752, 0.816584, 0.784526}},
		{0.02, [7]float64{0.981065, 0.964068, 0.934910, 0.874126, 0.819381, 0.732921, 0.701436}},
		{0.05, [7]float64{0.954217, 0.915693, 0.854970, 0.748064, 0.671102, 0.576780, 0.547879}},
		{0.1, [7]float64{0.911968, 0.843266, 0.744572, 0.597397, 0.509984, 0.419331, 0.394176}},
		{0.2, [7]float64{0.834131, 0.718516, 0.572699, 0.396197, 0.311676, 0.236787, 0.217852}},
		{0.3, [7]float64{0.763356, 0.613365, 0.442828, 0.266027, 0.193392, 0.135642, 0.122028}},
		{0.5, [7]float64{0.639489, 0.447384, 0.265390, 0.120455, 0.074765, 0.044636, 0.038379}},
		{1.0, [7]float64{0.410815, 0.203347, 0.073852, 0.016636, 0.006954, 0.002774, 0.002130}},
	} {
		for i, biot := range biots {
			got, err := cylinder(biot).MeanMoistureRatio(quantity.MustRatio(row.fourier))
			if err != nil {
				t.Fatal(err)
			}
			quantitytest.Near(t, fmt.Sprintf("Y at Fo %v, Bi %v", row.fourier, biot), row.want[i], got.Float(), 1e-6)
		}
	}
}

// The same series at the axis, and its roots: Abramowitz and Stegun, table 9.5
// for the zeros of J0, Carslaw and Jaeger (1959), appendix IV, for the others.
func TestCentreAndRootsAgainstCrank(t *testing.T) {
	t.Parallel()
	for i, fourier := range []float64{0.05, 0.1, 0.2, 0.3, 0.5, 1} {
		want := []float64{0.987099, 0.848355, 0.501487, 0.282487, 0.08889, 0.004932}[i]
		got, err := FixedSurface().CentreMoistureRatio(quantity.MustRatio(fourier))
		if err != nil {
			t.Fatal(err)
		}
		quantitytest.Near(t, fmt.Sprintf("centre at Fo %v", fourier), want, got.Float(), 1e-6)
	}
	for _, row := range []struct {
		biot float64
		want []float64
	}{
		{endless, []float64{2.404826, 5.520078, 8.653728, 11.791534, 14.930918}},
		{1, []float64{1.255784, 4.079478, 7.155799, 10.270985, 13.398397}},
		{10, []float64{2.179497, 5.033212, 7.956883, 10.93633, 13.95803}},
		{0.1, []float64{0.441682}},
		{0.5, []float64{0.940771}},
		{2, []float64{1.599449}},
		{5, []float64{1.989815}},
		{20, []float64{2.288048}},
		{50, []float64{2.357242}},
		{100, []float64{2.380902}},
	} {
		for i, got := range cylinder(row.biot).Roots(len(row.want)) {
			quantitytest.Near(t, fmt.Sprintf("root %d of Bi %v", i, row.biot), row.want[i], got.Float(), 1e-6)
		}
	}
}

// Short times with a fixed surface: E = 4/sqrt(pi) sqrt(Fo) - Fo - Fo^1.5/(3
// sqrt(pi)) (Crank 1975, equation 5.24).
func TestShortTimesAgainstCrank(t *testing.T) {
	t.Parallel()
	for _, fourier := range []float64{1e-6, 1e-5, 1e-4, 1e-3} {
		got, err := FixedSurface().MeanMoistureRatio(quantity.MustRatio(fourier))
		if err != nil {
			t.Fatal(err)
		}
		want := 1 - (4/math.SqrtPi*math.Sqrt(fourier) - fourier - math.Pow(fourier, 1.5)/(3*math.SqrtPi))
		quantitytest.Near(t, fmt.Sprintf("Y at Fo %v", fourier), want, got.Float(), 1e-4)
	}
}

// A sausage of 50 mm with D 5e-11 m²/s and a fixed surface after 7, 14 and 28
// days: the same series, summed elsewhere. And the similarity of cylinders: with
// the surface fixed, 60 mm take (60/40)² times the 14 days of 40 mm, 31.5.
func TestMeanMoistureRatioOfSausages(t *testing.T) {
	t.Parallel()
	fourier := func(days, mm float64) quantity.Ratio {
		return quantity.MustRatio(5e-11 * days * 86400 / square(mm/2000))
	}
	for i, days := range []float64{7, 14, 28} {
		got, err := FixedSurface().MeanMoistureRatio(fourier(days, 50))
		if err != nil {
			t.Fatal(err)
		}
		quantitytest.Near(t, fmt.Sprintf("Y after %v days", days), []float64{0.554356, 0.402148, 0.226204}[i], got.Float(), 1e-6)
	}
	thin, err := FixedSurface().MeanMoistureRatio(fourier(14, 40))
	if err != nil {
		t.Fatal(err)
	}
	thick, err := FixedSurface().MeanMoistureRatio(fourier(31.5, 60))
	if err != nil {
		t.Fatal(err)
	}
	quantitytest.Near(t, "thick after 31.5 days as thin after 14", thin.Float(), thick.Float(), 1e-12)
}

// The curves that projections use against the series they were made from, off
// their nodes too; and the series against the Fourier numbers at which given
// parts of the water are gone, solved for elsewhere.
func TestCurvesAgainstSeries(t *testing.T) {
	t.Parallel()
	all := curvesByBiot()
	for _, c := range all {
		exact := cylinder(math.Exp(c.logBiot))
		for _, fourier := range []float64{1e-4, 3.3e-4, 0.001, 0.0123, 0.1, 0.47, 1, 3.21, 10} {
			y, err := exact.MeanMoistureRatio(quantity.MustRatio(fourier))
			if err != nil {
				t.Fatal(err)
			}
			quantitytest.Near(t, fmt.Sprintf("E at Fo %v, Bi %v", fourier, exact.biot), 1-y.Float(), c.at(math.Log(fourier)), 2e-4)
		}
	}
	for _, row := range []struct {
		biot, fo, part float64
	}{
		{biot: 1, fo: 0.1730, part: 0.25}, {biot: 1, fo: 1.4501, part: 0.9},
		{biot: 5, fo: 0.1426, part: 0.5}, {biot: 10, fo: 0.2461, part: 0.75},
	} {
		y, err := cylinder(row.biot).MeanMoistureRatio(quantity.MustRatio(row.fo))
		if err != nil {
			t.Fatal(err)
		}
		quantitytest.Near(t, fmt.Sprintf("part gone at Fo %v, Bi %v", row.fo, row.biot), row.part, 1-y.Float(), 1e-4)
	}
}

func TestCylinderRefuses(t *testing.T) {
	t.Parallel()
	for _, biot := range []float64{-1, 0, 1e-4, 2e4} {
		if _, err := NewCylinder(quantity.MustRatio(biot)); err == nil {
			t.Errorf("want a fault for a Biot number of %v, got none", biot)
		}
	}
	if _, err := cylinder(5).MeanMoistureRatio(quantity.MustRatio(-0.1)); err == nil {
		t.Error("want a fault for a negative Fourier number, got none")
	}
	if _, err := cylinder(5).CentreMoistureRatio(quantity.MustRatio(1e-5)); err == nil {
		t.Error("want a fault for the axis before anything reaches it, got none")
	}
}

// FuzzCylinder: what is left falls with time, from all to nothing, and more
// slowly the smaller the Biot number is.
func FuzzCylinder(f *testing.F) {
	f.Add(1.0, 0.1, 2.0)
	f.Add(1e-3, 1e-7, 1.0)
	f.Add(9e3, 50.0, 1.5)
	f.Fuzz(func(t *testing.T, biot, fourier, longer float64) {
		if !(biot >= leastBiot && biot <= mostBiot/2 && fourier >= 0 && fourier < 1e6 && longer >= 1 && longer < 1e6) {
			t.Skip()
		}
		at := func(c Cylinder, fo float64) float64 {
			y, err := c.MeanMoistureRatio(quantity.MustRatio(fo))
			if err != nil {
				t.Fatal(err)
			}
			return y.Float()
		}
		const truncated = 2e-4
		now, later, faster := at(cylinder(biot), fourier), at(cylinder(biot), fourier*longer), at(cylinder(biot*2), fourier)
		if now < -truncated || now > 1+truncated || later > now+truncated || faster > now+truncated {
			t.Errorf("Bi %v, Fo %v: %v now, %v after %v times as long, %v with twice the Biot number", biot, fourier, now, later, longer, faster)
		}
	})
}
