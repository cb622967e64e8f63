package drying

import (
	"fmt"
	"math"
	"testing"
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

var anInstant = time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)

// shells dries a cylinder of radius 1 by another method than its series: the mean
// moisture of rings of even width, with water moving between neighbours in
// proportion to their difference, and through the film at the side (finite volumes
// of second order, small explicit steps). Moisture is counted as what is lost of
// it, and end is where it is in balance with the air.
type shells struct {
	biot float64
	lost []float64
}

func (s *shells) dry(fourier, end float64) {
	n := len(s.lost)
	width := 1 / float64(n)
	steps := int(math.Ceil(fourier / (0.2 * width * width)))
	dt := fourier / float64(steps)
	flows := make([]float64, n+1)
	for range steps {
		for i := 1; i < n; i++ {
			flows[i] = float64(i) * width * (s.lost[i] - s.lost[i-1]) / width
		}
		// Half a ring and the film, one behind the other.
		flows[n] = (end - s.lost[n-1]) / (width/2 + 1/s.biot)
		for i := range n {
			s.lost[i] += dt * (flows[i+1] - flows[i]) / ((float64(i) + 0.5) * width * width)
		}
	}
}

func (s *shells) mean() float64 {
	sum, n := 0.0, float64(len(s.lost))
	for i, l := range s.lost {
		sum += l * (2*float64(i) + 1) / (n * n)
	}
	return sum
}

// Through a warm damp air, a cool drier one, a driest and a damper one that still
// takes water: superposition against rings, whose diffusivity changes with the
// air. With 80 rings they are right to some hundredths of a point.
func TestSuperpositionAgainstFiniteVolumes(t *testing.T) {
	t.Parallel()
	for _, k := range []curve{curvesByBiot()[6], curvesByBiot()[13], curvesByBiot()[17]} {
		p := prior{mostStops: 70, clock: newClock([]float64{0, 3, 20, 50}, []float64{1, 0.6, 0.6, 0.8}, nil, anInstant)}
		for i, s := range []spell{{stops: 18, rate: 1}, {stops: 38, rate: 0.6}, {stops: 46, rate: 0.6}, {stops: 41, rate: 0.8}} {
			s.stopsSD = 3
			_, s.from = p.clock.at([]float64{0, 3, 20, 50}[i])
			p.spells = append(p.spells, s)
		}
		const rate = 0.012
		f := newFitter(&p, modelError, nil)
		f.settle(k, onset{power: 1}, math.Log(rate), 0)
		rings := shells{math.Exp(k.logBiot), make([]float64, 80)}
		before := 0.0
		for _, at := range []struct{ day, end float64 }{{1, 18}, {3, 18}, {6, 38}, {20, 38}, {30, 46}, {50, 46}, {60, 41}, {100, 41}} {
			_, counted := p.clock.at(at.day)
			rings.dry(rate*(counted-before), at.end)
			before = counted
			quantitytest.Near(t, fmt.Sprintf("Biot number %.2g, day %v", math.Exp(k.logBiot), at.day),
				rings.mean(), f.lost(k, onset{power: 1}, math.Log(rate), counted).base, 0.04)
		}
	}
}

// Two airs by the closed series of Cylinder: 30 points of the end for all of the
// time and 12 more from day 10 on, at D/R² of 0.01 a day and a Biot number of one
// of the curves. With an onset the clock is another and the sum the same.
func TestSuperpositionAgainstTheSeries(t *testing.T) {
	t.Parallel()
	k := curvesByBiot()[12]
	c, err := NewCylinder(quantity.MustRatio(math.Exp(k.logBiot)))
	if err != nil {
		t.Fatal(err)
	}
	gone := func(fourier float64) float64 {
		left, err := c.MeanMoistureRatio(quantity.MustRatio(fourier))
		if err != nil {
			t.Fatal(err)
		}
		return 1 - left.Float()
	}
	for _, on := range onsets {
		p := prior{mostStops: 70, spells: []spell{{stops: 30, stopsSD: 3, rate: 1}, {from: 10, stops: 42, stopsSD: 3, rate: 1}}}
		f := newFitter(&p, modelError, nil)
		f.settle(k, on, math.Log(0.01), 0)
		fourier := func(day float64) float64 { return 0.15 * math.Pow(0.01*day/0.15, on.power) }
		for _, day := range []float64{4, 10, 11, 15, 40, 90} {
			want := 30 * gone(fourier(day))
			if day > 10 {
				want += 12 * gone(fourier(day)-fourier(10))
			}
			got := f.lost(k, on, math.Log(0.01), day)
			quantitytest.Near(t, fmt.Sprintf("power %v, day %v", on.power, day), want, got.base, 0.005)
			// z moves both ends alike, and so is one cylinder from hanging on.
			quantitytest.Near(t, fmt.Sprintf("power %v, day %v, by z", on.power, day), 3*gone(fourier(day)), got.slope, 0.001)
		}
	}
}

// Air that takes nothing: the piece stays as it is, and goes on in drier air.
func TestDampAirLeavesTheLossAsItIs(t *testing.T) {
	t.Parallel()
	p := prior{
		logRate: math.Log(0.01), logRateSD: 0.1, logBiot: 1, logBiotSD: 0.3, mostStops: 70,
		spells: []spell{{stops: 42, stopsSD: 1, rate: 1}, {from: 30, stops: 3, stopsSD: 1, rate: 1}, {from: 40, stops: 42, stopsSD: 1, rate: 1}},
	}
	post := fit(p, modelError, nil)
	var out outlook
	at := func(day float64) float64 {
		post.at(day, &out)
		return out.mean
	}
	for _, day := range []float64{31, 35, 40} {
		quantitytest.Near(t, fmt.Sprintf("day %v", day), at(30), at(day), 1e-9)
	}
	if at(50) < at(40)+1 {
		t.Errorf("want it to go on in dry air, got %v on day 40 and %v on day 50", at(40), at(50))
	}
}

// A log of many airs is followed through a few of them: what is taken together
// moves the loss by hundredths of a point. The airs swing by the day, and are
// lowered slowly.
func TestManyAirsAreTakenTogether(t *testing.T) {
	t.Parallel()
	const days, perDay = 60, 12
	end := func(i int) float64 { return 30 + 12*float64(i)/(days*perDay) + 6*math.Sin(2*math.Pi*float64(i)/perDay) }
	var all []spell
	for i := range days * perDay {
		all = append(all, spell{from: float64(i) / perDay, stops: end(i), stopsSD: 3, rate: 1})
	}
	k, on := curvesByBiot()[13], onset{power: 1}
	const rate = 0.008
	few := prior{mostStops: 70, spells: merged(append([]spell(nil), all...))}
	if n := len(few.spells); n > mostSpells || few.spells[0].from != 0 || few.last() != all[len(all)-1] {
		t.Fatalf("want at most %d airs, with the first and the last as they are, got %d", mostSpells, n)
	}
	f := newFitter(&few, modelError, nil)
	f.settle(k, on, math.Log(rate), 0)
	for _, day := range []float64{5, 20, 40, 60} {
		want, before := 0.0, 0.0
		for _, s := range all {
			if s.from < day {
				want += (s.stops - before) * k.at(math.Log(rate*(day-s.from)))
				before = s.stops
			}
		}
		quantitytest.Near(t, fmt.Sprintf("day %v", day), want, f.lost(k, on, math.Log(rate), day).base, 0.25)
	}
}
