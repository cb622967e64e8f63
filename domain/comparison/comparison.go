// Package comparison answers whether two ways of drying one formula differ: a
// refrigerator with a bag and a room, or two casings. Each piece is a unit; what is
// compared is the time to the same loss, as a ratio with its interval by the spread
// between pieces, and what was measured of the finished pieces. What the air alone
// makes of it stands beside. It does not say which sausage is the better one: that
// is tasted, see package panel.
package comparison

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"greenweight/domain/air"
	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Way is one way of drying: pieces that hung in one air, in one casing.
type Way struct {
	Name        string
	Pieces      []HungPiece
	Temperature material.Known[quantity.Temperature]
	Humidity    material.Known[quantity.RelativeHumidity]
	Samples     []Sample
}

// HungPiece is one piece and what it weighed; it lost nothing before it was hung.
type HungPiece struct {
	Green    quantity.Mass
	Hung     time.Time
	WeighIns []drying.WeighIn
	Diameter material.Known[quantity.Length]
}

// Place is where a sample was cut. The zero value is invalid.
type Place int

// The places.
const (
	Whole Place = iota + 1 // the slice as it is
	Core
	Rim
)

// String returns the word used on the wire.
func (p Place) String() string {
	switch p {
	case Whole:
		return "whole"
	case Core:
		return "core"
	case Rim:
		return "rim"
	}
	return fmt.Sprintf("Place(%d)", int(p))
}

// Places returns all places.
func Places() []Place { return []Place{Whole, Core, Rim} }

// Sample is a measurement of a finished piece.
type Sample struct {
	Place         Place
	WaterActivity material.Known[quantity.WaterActivity]
	Moisture      material.Known[quantity.Fraction]
}

// Order asks how ways of drying differ from the first of them.
type Order struct {
	Ways   []Way
	Target material.Known[quantity.Loss]
}

// Answer is the answer to an Order.
type Answer struct {
	Ways       []WayCourse
	Differ     []WayDifference // of the second way and those after it from the first
	CommonLoss quantity.Loss   // the largest that every piece of every way has reached
	CommonTime time.Duration   // the longest for which every piece was weighed
	Notes      []finding.Note
}

// WayCourse is how one way went.
type WayCourse struct {
	Pieces  [][]Reached  // what each piece had lost when, from hanging on, without the weigh-ins left out
	Days    []LossOnDay  // at the same days for all ways
	Times   []TimeToLoss // to the same losses for all ways, where every piece of this way reached them
	Samples []SampleMean
}

// Reached is what a piece had lost at a time since hanging.
type Reached struct {
	Since time.Duration
	Loss  quantity.Loss
}

// LossOnDay is the mean of the pieces on a day, and their standard deviation.
type LossOnDay struct {
	Since  time.Duration
	Mean   quantity.Loss
	Spread material.Known[quantity.Loss] // between pieces; of one piece it is not known
}

// TimeToLoss is how long the pieces took, as their geometric mean with its interval.
type TimeToLoss struct {
	Loss quantity.Loss
	Time quantity.Estimate[time.Duration]
}

// SampleMean is what the samples of one place show.
type SampleMean struct {
	Place         Place
	WaterActivity material.Known[quantity.Ratio]
	Moisture      material.Known[quantity.Ratio] // of the mass of the sample
}

// WayDifference is how one way differs from the first.
type WayDifference struct {
	Way     int         // index in Ways
	Ratios  []TimeRatio // at the losses that every piece of both reached, the largest last
	Air     material.Known[quantity.Ratio]
	Samples []SampleDifference
}

// TimeRatio is the time of one way over that of the first, to the same loss.
type TimeRatio struct {
	Loss  quantity.Loss
	Ratio quantity.Estimate[quantity.Ratio]

	// AtSameDiameter is the same, less what the square of the diameters makes of
	// it; known where all diameters are.
	AtSameDiameter material.Known[quantity.Estimate[quantity.Ratio]]
	Apart          bool // 1 lies outside the interval
	Assumed        bool // the spread of a way with one piece was assumed
}

// SampleDifference is that of the means of the samples of a place.
type SampleDifference struct {
	Place         Place
	WaterActivity material.Known[MeanDifference]
	Moisture      material.Known[MeanDifference]
}

// MeanDifference is a difference of means, with its interval of 95 percent where
// both ways have two samples or more.
type MeanDifference struct {
	Mean     quantity.Ratio
	Interval material.Known[quantity.Between[quantity.Ratio]]
}

// assumedSpread is the standard deviation between pieces of the logarithm of the
// time to a loss, for a way with one piece: 2.5 points at a loss of 30 percent, of
// which the time is about the square, 2 * 2.5 / 30.
const assumedSpread = 2 * 2.5 / 30

// Pieces that are alike may be so by chance, or because the scale tells no more, or
// one was copied: no standard deviation is believed below these. Half a point of
// loss is what one weighing may be off in package drying, as one standard deviation;
// the time goes as the square of the loss. A meter of water activity is off by 0.003,
// and a laboratory's moisture by half a point: choices of this project.
const (
	leastLoss     = 0.5 // points
	leastActivity = 0.003
	leastMoisture = 0.005
)

// leastAt is the least standard deviation of the logarithm of the time to a loss.
func leastAt(loss float64) float64 { return 2 * leastLoss / loss }

// SpreadSource returns where the spread between pieces is from, for a way with one piece.
func SpreadSource() source.Citation {
	return source.CommonPractice("pieces of one lot differ by 2 to 3 points of loss; not measured for this shop")
}

// freshSurface is the water activity at which the drive of two airs is compared.
var freshSurface = quantity.MustWaterActivity(0.95)

// Bounds of a comparison.
const (
	mostWays   = 6
	mostPieces = 24
)

// Compare answers an order.
//
// Each piece is a unit. Between two weigh-ins its loss is linear in the square root
// of the time, as is the early course of diffusion (Crank, The Mathematics of
// Diffusion, 1975, 5.3). The ratio of two ways is exp of the difference of the means
// of the logarithms of their times to the same loss, with the interval of Welch at
// 95 percent; its degrees of freedom are those of Satterthwaite. So a way that is
// the same curve in another time has exactly the ratio of the times. A way of one
// piece shows no spread, and assumedSpread takes its place.
//
// It reports fault.Invalid with every member at fault: courses (fewer than two, a
// name twice), and of each piece what drying.Judge reports, green_weight, or weigh_ins when
// none counts.
func Compare(o Order) (Answer, error) {
	curves, err := o.read()
	if err != nil {
		return Answer{}, err
	}
	common, last := math.Inf(1), math.Inf(1)
	for _, way := range curves {
		for _, c := range way {
			common, last = min(common, c.highest()), min(last, c[len(c)-1].days)
		}
	}
	var a Answer
	a.CommonLoss, a.CommonTime = lossOf(common), daysOf(last)
	for i, way := range curves {
		a.Ways = append(a.Ways, courseOfWay(o, way, last, common))
		a.Ways[i].Samples = sampleMeans(o.Ways[i].Samples)
		if len(way) == 1 {
			a.Notes = append(a.Notes, finding.Note{
				Code: "one-piece", Member: []string{"courses", strconv.Itoa(i), "pieces"}, Source: SpreadSource(),
				Text: fmt.Sprintf("%q is one piece: how much pieces of it differ is not shown, and a usual spread is assumed.", o.Ways[i].Name),
			})
		}
	}
	for i := 1; i < len(curves); i++ {
		a.Differ = append(a.Differ, differenceOfWays(o, curves, i))
	}
	if common < reachedLoss {
		a.Notes = append(a.Notes, finding.Note{Code: "little-in-common", Text: "Some piece has lost next to nothing: there is no loss at which the ways could be compared."})
	}
	return a, nil
}

// reachedLoss is the smallest loss, in percent, at which times are compared.
const reachedLoss = 1

// at is a point of the curve of a piece.
type at struct{ days, loss float64 } // loss in percent

type pieceCurve []at

func (o Order) read() ([][]pieceCurve, error) {
	var bad fault.Collector
	if n := len(o.Ways); n < 2 || n > mostWays {
		bad.Add(fault.At("courses"), "out-of-range", "%d courses are not 2 to %d", n, mostWays)
	}
	var curves [][]pieceCurve
	for i, way := range o.Ways {
		path := fault.At("courses", i)
		if slices.IndexFunc(o.Ways, func(w Way) bool { return w.Name == way.Name }) < i {
			bad.Add(fault.At("name").Under(path), "duplicate", "%q is the name of another course", way.Name)
		}
		if n := len(way.Pieces); n < 1 || n > mostPieces {
			bad.Add(fault.At("pieces").Under(path), "out-of-range", "%d pieces are not 1 to %d", n, mostPieces)
		}
		var of []pieceCurve
		for j, piece := range way.Pieces {
			under := fault.At("pieces", j).Under(path)
			weighed, err := drying.Judge(drying.Order{Green: piece.Green, Stuffed: piece.Hung, Hung: piece.Hung, WeighIns: piece.WeighIns})
			if bad.AddError(under, "invalid-value", err) {
				continue
			}
			c := pieceCurve{{}}
			for _, w := range weighed {
				if w.Doubt == "" && w.Since > 0 {
					c = append(c, at{w.Since.Hours() / 24, w.Loss.Percent()})
				}
			}
			if len(c) == 1 {
				bad.Add(fault.At("weigh_ins").Under(under), "none-counts", "no weigh-in after hanging counts")
			}
			of = append(of, c)
		}
		curves = append(curves, of)
	}
	return curves, bad.Err("invalid-value", "the comparison has no meaning as it stands")
}

func (c pieceCurve) highest() float64 {
	high := 0.0
	for _, p := range c {
		high = max(high, p.loss)
	}
	return high
}

// lossAt returns the loss on a day that the curve has.
func (c pieceCurve) lossAt(days float64) float64 {
	for i := 1; i < len(c); i++ {
		if days <= c[i].days {
			a, b := math.Sqrt(c[i-1].days), math.Sqrt(c[i].days)
			return c[i-1].loss + (c[i].loss-c[i-1].loss)*(math.Sqrt(days)-a)/(b-a)
		}
	}
	return c[len(c)-1].loss
}

// daysTo returns when the curve first comes to a loss that it reaches.
func (c pieceCurve) daysTo(loss float64) float64 {
	for i := 1; i < len(c); i++ {
		if c[i].loss >= loss {
			a, b := math.Sqrt(c[i-1].days), math.Sqrt(c[i].days)
			root := a + (b-a)*(loss-c[i-1].loss)/(c[i].loss-c[i-1].loss)
			return root * root
		}
	}
	return c[len(c)-1].days
}

// losses returns the losses to compare at, up to the largest that is reached.
func (o Order) losses(reached float64) []float64 {
	if reached < reachedLoss {
		return nil
	}
	at := []float64{10, 20, 30, reached}
	if target, ok := o.Target.Get(); ok {
		at = append(at, target.Percent())
	}
	slices.Sort(at)
	at = slices.DeleteFunc(at, func(l float64) bool { return l > reached || l <= 0 })
	return slices.CompactFunc(at, func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })
}

func reachedByAll(ways ...[]pieceCurve) float64 {
	reached := math.Inf(1)
	for _, way := range ways {
		for _, c := range way {
			reached = min(reached, c.highest())
		}
	}
	return reached
}

const interval = 0.95

func courseOfWay(o Order, way []pieceCurve, last, common float64) WayCourse {
	var w WayCourse
	for _, c := range way {
		points := make([]Reached, 0, len(c))
		for _, p := range c {
			points = append(points, Reached{daysOf(p.days), lossOf(p.loss)})
		}
		w.Pieces = append(w.Pieces, points)
	}
	const rows = 12
	step := max(1, math.Ceil(last/rows))
	for day := step; day <= last; day += step {
		losses := make([]float64, 0, len(way))
		for _, c := range way {
			losses = append(losses, c.lossAt(day))
		}
		mean, sd := meanSpread(losses)
		row := LossOnDay{Since: daysOf(day), Mean: lossOf(mean)}
		if len(way) > 1 {
			row.Spread = material.Is(lossOf(sd))
		}
		w.Days = append(w.Days, row)
	}
	levels := append(o.losses(reachedByAll(way)), common)
	slices.Sort(levels)
	for _, loss := range slices.Compact(levels) {
		if loss < reachedLoss {
			continue
		}
		e := welch(logTimes(way, loss, nil), nil, leastAt(loss))
		w.Times = append(w.Times, TimeToLoss{lossOf(loss), quantity.Estimate[time.Duration]{
			Low: daysOf(math.Exp(e.low)), Mid: daysOf(math.Exp(e.mid)), High: daysOf(math.Exp(e.high)), Coverage: fractionOf(interval),
		}})
	}
	return w
}

func logTimes(way []pieceCurve, loss float64, diameters []float64) []float64 {
	logs := make([]float64, 0, len(way))
	for i, c := range way {
		l := math.Log(c.daysTo(loss))
		if diameters != nil {
			l -= 2 * math.Log(diameters[i])
		}
		logs = append(logs, l)
	}
	return logs
}

func differenceOfWays(o Order, curves [][]pieceCurve, i int) WayDifference {
	d := WayDifference{Way: i}
	first, other := curves[0], curves[i]
	thick0, known0 := diametersOf(o.Ways[0])
	thick, known := diametersOf(o.Ways[i])
	for _, loss := range o.losses(reachedByAll(first, other)) {
		e := welch(logTimes(other, loss, nil), logTimes(first, loss, nil), leastAt(loss))
		r := TimeRatio{Loss: lossOf(loss), Ratio: e.ratio(), Apart: e.low > 0 || e.high < 0, Assumed: len(first) == 1 || len(other) == 1}
		if known0 && known {
			r.AtSameDiameter = material.Is(welch(logTimes(other, loss, thick), logTimes(first, loss, thick0), leastAt(loss)).ratio())
		}
		d.Ratios = append(d.Ratios, r)
	}
	d.Air = driveRatio(o.Ways[0], o.Ways[i])
	for _, place := range Places() {
		s := SampleDifference{Place: place}
		s.WaterActivity = differOf(activities(o.Ways[0].Samples, place), activities(o.Ways[i].Samples, place), leastActivity)
		s.Moisture = differOf(moistures(o.Ways[0].Samples, place), moistures(o.Ways[i].Samples, place), leastMoisture)
		_, hasActivity := s.WaterActivity.Get()
		_, hasMoisture := s.Moisture.Get()
		if hasActivity || hasMoisture {
			d.Samples = append(d.Samples, s)
		}
	}
	return d
}

func diametersOf(w Way) ([]float64, bool) {
	var of []float64
	for _, p := range w.Pieces {
		d, ok := p.Diameter.Get()
		if !ok {
			return nil, false
		}
		of = append(of, d.Millimetres())
	}
	return of, true
}

// spanOf is a mean with its interval.
type spanOf struct{ low, mid, high float64 }

func (s spanOf) ratio() quantity.Estimate[quantity.Ratio] {
	return quantity.Estimate[quantity.Ratio]{
		Low: ratioOf(math.Exp(s.low)), Mid: ratioOf(math.Exp(s.mid)), High: ratioOf(math.Exp(s.high)), Coverage: fractionOf(interval),
	}
}

// welch returns the mean of a less that of b, nothing where b is nil, with its
// interval; a single value has assumedSpread, which counts as known exactly, and no
// standard deviation counts as less than least.
// Source: Welch, Biometrika 34 (1947), 28-35; Satterthwaite, Biometrics Bulletin 2
// (1946), 110-114.
func welch(a, b []float64, least float64) spanOf {
	mid, half := welchOf(a, b, 0)
	if least > 0 { // more freedom comes with it, which must not make an interval narrower
		_, wider := welchOf(a, b, least)
		half = math.Max(half, wider)
	}
	return spanOf{mid - half, mid, mid + half}
}

func welchOf(a, b []float64, least float64) (mid, half float64) {
	variance, freedom := 0.0, 0.0
	for k, v := range [][]float64{a, b} {
		if v == nil {
			continue
		}
		mean, sd := meanSpread(v)
		mid += mean * float64(1-2*k)
		if len(v) == 1 {
			variance += assumedSpread * assumedSpread
			continue
		}
		sd = math.Max(sd, least)
		part := sd * sd / float64(len(v))
		variance += part
		freedom += part * part / float64(len(v)-1)
	}
	q := distuv.UnitNormal.Quantile(0.5 + interval/2)
	if freedom > 0 {
		q = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: variance * variance / freedom}.Quantile(0.5 + interval/2)
	}
	return mid, q * math.Sqrt(variance)
}

// meanSpread adds in order of size, so that the order of pieces changes nothing.
func meanSpread(v []float64) (mean, sd float64) {
	v = slices.Sorted(slices.Values(v))
	n := float64(len(v))
	for _, x := range v {
		mean += x / n
	}
	if n < 2 {
		return mean, 0
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean) / (n - 1)
	}
	return mean, math.Sqrt(sd)
}

// driveRatio returns the time of other over that of first that the airs alone would
// make, if drying went with the drive at a fresh surface.
func driveRatio(first, other Way) material.Known[quantity.Ratio] {
	var drive [2]float64
	for k, w := range []Way{first, other} {
		t, warm := w.Temperature.Get()
		h, damp := w.Humidity.Get()
		if !warm || !damp {
			return material.Known[quantity.Ratio]{}
		}
		d, err := air.DryingDrive(t, h, freshSurface)
		if err != nil || d.Wetting || d.Pressure.Kilopascals() <= 0 {
			return material.Known[quantity.Ratio]{}
		}
		drive[k] = d.Pressure.Kilopascals()
	}
	return material.Is(ratioOf(drive[0] / drive[1]))
}

func activities(samples []Sample, place Place) []float64 {
	var of []float64
	for _, s := range samples {
		if v, ok := s.WaterActivity.Get(); ok && s.Place == place {
			of = append(of, v.Float())
		}
	}
	return of
}

func moistures(samples []Sample, place Place) []float64 {
	var of []float64
	for _, s := range samples {
		if v, ok := s.Moisture.Get(); ok && s.Place == place {
			of = append(of, v.Float())
		}
	}
	return of
}

func sampleMeans(samples []Sample) []SampleMean {
	var means []SampleMean
	for _, place := range Places() {
		aw, moisture := activities(samples, place), moistures(samples, place)
		if len(aw)+len(moisture) == 0 {
			continue
		}
		means = append(means, SampleMean{place, meanOf(aw), meanOf(moisture)})
	}
	return means
}

func meanOf(v []float64) material.Known[quantity.Ratio] {
	if len(v) == 0 {
		return material.Known[quantity.Ratio]{}
	}
	mean, _ := meanSpread(v)
	return material.Is(ratioOf(mean))
}

func differOf(first, other []float64, least float64) material.Known[MeanDifference] {
	if len(first) == 0 || len(other) == 0 {
		return material.Known[MeanDifference]{}
	}
	a, _ := meanSpread(other)
	b, _ := meanSpread(first)
	d := MeanDifference{Mean: ratioOf(a - b)}
	if len(first) > 1 && len(other) > 1 {
		e := welch(other, first, least)
		d.Interval = material.Is(quantity.Between[quantity.Ratio]{Low: ratioOf(e.low), High: ratioOf(e.high)})
	}
	return material.Is(d)
}

// longest keeps the end of an interval that is open for practical purposes, as
// that of two pieces that differ much, from being no time or number at all.
const longest = 1e5

func daysOf(days float64) time.Duration {
	return time.Duration(min(days, longest) * 24 * float64(time.Hour))
}

func ratioOf(v float64) quantity.Ratio {
	r, err := quantity.NewRatio(max(-longest, min(v, longest)))
	if err != nil { // times and means of bounded numbers are finite
		return quantity.Ratio{}
	}
	return r
}

func lossOf(percent float64) quantity.Loss {
	l, err := quantity.LossPercent(percent)
	if err != nil { // it was a loss before it was averaged
		return quantity.Loss{}
	}
	return l
}

func fractionOf(f float64) quantity.Fraction {
	v, err := quantity.NewFraction(f)
	if err != nil {
		return quantity.Fraction{}
	}
	return v
}

// Sources returns the citations behind a comparison.
func Sources() []source.Citation {
	return []source.Citation{
		{Title: "Welch, B. L., The generalization of Student's problem when several different population variances are involved. Biometrika 34, 28-35", Year: 1947, Trust: source.Memory, Note: "recalled; its coverage is shown by simulation"},
		{Title: "Crank, J., The Mathematics of Diffusion, 2nd edition", Year: 1975, Section: "5.3", Trust: source.Memory, Note: "the early loss goes with the root of the time"},
		SpreadSource(),
	}
}
