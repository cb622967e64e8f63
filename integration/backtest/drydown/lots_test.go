package drydown

import (
	"bytes"
	"math"
	"reflect"
	"strings"
	"testing"

	"greenweight/domain/quantity"
	"greenweight/integration/backtest/dice"
)

// simple lets a piece dry as 1 - exp(-t/20 days) towards what the water allows:
// no physics, but quick.
func simple(l lot, _ piece) (course, error) {
	var c course
	for day := 0.0; day <= horizonDays; day++ {
		c.days = append(c.days, day)
		c.losses = append(c.losses, (l.mix.water-14)*-math.Expm1(-day/20))
	}
	return c, nil
}

func mustDraw(t *testing.T, seed uint64, n int) []series {
	t.Helper()
	all, err := drawLots(seed, n, simple)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestTheSeedDecides(t *testing.T) {
	t.Parallel()
	lots := mustDraw(t, 7, 20)
	if !reflect.DeepEqual(lots, mustDraw(t, 7, 20)) {
		t.Error("want the same lots of the same seed")
	}
	if !reflect.DeepEqual(lots, mustDraw(t, 7, 40)[:20]) {
		t.Error("want more lots to leave those before as they were")
	}
	if reflect.DeepEqual(lots, mustDraw(t, 8, 20)) {
		t.Error("want other lots of another seed")
	}
}

// What is drawn is a sausage in a room that there can be, and what is told of it
// is what the maker may know: every sort of lot, of room and of telling is there.
func TestDrawnLots(t *testing.T) {
	t.Parallel()
	found := map[label]int{}
	const n = 600
	for i := range uint64(n) {
		l, err := drawLot(dice.New(5, i), 4)
		if err != nil {
			t.Fatalf("lot %d: %v", i, err)
		}
		for _, b := range l.labels {
			found[b]++
		}
		m := l.mix
		if whole := m.water + m.protein + m.fat + m.salt + m.sugar; whole >= 100 || whole < 97 {
			t.Errorf("lot %d: want 97 to 100 percent in parts, got %v", i, whole)
		}
		if m.water < 42 || m.water > 70 || m.protein < 9 || m.protein > 20 || m.protein/m.water < 0.24 || m.protein/m.water > 0.31 {
			t.Errorf("lot %d: no mixture of meat, %+v", i, m)
		}
		if l.target < 18 || l.target > 42 || l.scale < 0.1 || l.scale > 1 || l.casing <= 0 || len(l.pieces) != 4 {
			t.Errorf("lot %d: target %v, scale %v, casing %v, %d pieces", i, l.target, l.scale, l.casing, len(l.pieces))
		}
		for _, p := range l.pieces {
			if p.diameter < 30 || p.diameter > 120 || p.green < 150 || p.green > 5000 {
				t.Errorf("lot %d: a piece of %v mm and %v g", i, p.diameter, p.green)
			}
		}
		days := 0.0
		for _, s := range l.room.plan {
			log := l.room.log(s, days)
			if first, last := log[0].day, log[len(log)-1].day; first != days || math.Abs(last-days-s.days) > 1e-9 || s.speed < 0.03 || s.speed > 1 {
				t.Fatalf("lot %d: a room from day %v to %v in air of %v m/s", i, first, last, s.speed)
			}
			for _, a := range log {
				if a.celsius < coldestRoom || a.celsius > warmestRoom || a.humidity < driestRoom || a.humidity > dampestRoom {
					t.Fatalf("lot %d: a room of %+v", i, a)
				}
			}
			days += s.days
		}
		if days < horizonDays {
			t.Errorf("lot %d: the room ends on day %v", i, days)
		}
		for j := 1; j < len(l.days); j++ {
			if l.days[j] <= l.days[j-1] {
				t.Fatalf("lot %d: day %v comes after %v", i, l.days[j], l.days[j-1])
			}
		}
	}
	kinds := map[string]int{}
	for b := range found {
		kinds[b.by]++
	}
	for by, want := range map[string]int{
		"room": 5, "room told": 3, "steps of the humidity": 4, "composition told": 3, "weighed": 4, "noise of the scale": 3, "true diffusion over the usual": 4,
	} {
		if kinds[by] != want {
			t.Errorf("%s: want %d sorts, got %d: %v", by, want, kinds[by], found)
		}
	}
	if spoiled := found[label{"room", 4, "with equalising days"}]; math.Abs(float64(spoiled)-equalises*n) > 3*math.Sqrt(equalises*n) {
		t.Errorf("want about %v lots with equalising days, got %d", equalises*n, spoiled)
	}
}

// The diffusion that is drawn is spread more than the projection believes: an sd
// of 0.7 (ln) between lots and 0.25 between pieces, together 0.74, of which 600
// draws show 0.74 ± 0.02.
func TestDiffusionIsDrawnWide(t *testing.T) {
	t.Parallel()
	const n = 600
	squares := 0.0
	for i := range uint64(n) {
		l, err := drawLot(dice.New(11, i), 1)
		if err != nil {
			t.Fatal(err)
		}
		squares += square(math.Log(l.pieces[0].diffusion)) / n
	}
	near(t, "spread", 0.743, math.Sqrt(squares), 0.065)
}

func square(x float64) float64 { return x * x }

// The true day is that of the piece, not of the scale, and what the scale shows
// is off by its noise: of 50 weigh-ins of 1 percent of the weight at a loss of 20
// the mean square of the error is about (0.8 %)² and the green weight's share.
func TestWeighInsAreOffByTheScaleAlone(t *testing.T) {
	t.Parallel()
	c := course{days: []float64{0, 10, 300}, losses: []float64{0, 20, 20}}
	l := lot{scale: 1}
	for day := 11.0; day < 200; day++ {
		l.days = append(l.days, day)
	}
	sum, n := 0.0, 0.0
	for i := range uint64(200) {
		for _, p := range (lotDice{dice.New(1, i)}).weighIns(l, c, math.Inf(1))[1:] {
			sum += square(p.loss - 20)
			n++
		}
	}
	// ln(W/W0) is off by √2 %, of 80 points left.
	near(t, "sd", 0.8*math.Sqrt2, math.Sqrt(sum/n), 0.08)
	l.scale = 0
	for _, p := range (lotDice{dice.New(1, 1)}).weighIns(l, c, 15)[1:] {
		near(t, "loss without noise", 20, p.loss, 1e-9)
		if p.day > 16 {
			t.Errorf("want no weigh-in after the one that shows the target, got day %v", p.day)
		}
	}
}

func TestCourse(t *testing.T) {
	t.Parallel()
	c := course{days: []float64{0, 2, 4}, losses: []float64{0, 10, 12}}
	for _, x := range []struct{ day, loss float64 }{{0, 0}, {1, 5}, {2, 10}, {3, 11}, {4, 12}, {9, 12}} {
		near(t, "loss", x.loss, c.at(x.day), 1e-12)
	}
	for _, x := range []struct{ loss, day float64 }{{5, 1}, {10, 2}, {11, 3}, {13, math.Inf(1)}, {0, 0}} {
		if got := c.reaches(x.loss); got != x.day {
			t.Errorf("loss %v: want day %v, got %v", x.loss, x.day, got)
		}
	}
}

// Drawn lots are cases of their own group, one target each; one that is never
// reached stands apart.
func TestDrawnLotsAreScoredApart(t *testing.T) {
	t.Parallel()
	all := mustDraw(t, 3, 8)
	want := 0
	for i := range all {
		if all[i].named[0].loss = 20; math.IsInf(*all[i].named[0].day, 1) {
			day := 30.0
			all[i].named[0].day = &day
		}
		if i < 2 {
			never := math.Inf(1)
			all[i].named[0].day = &never
			want += len(prefixes(all[i]))
		}
	}
	cases, _, err := makeCases(all, true)
	if err != nil {
		t.Fatal(err)
	}
	reached, beyond := reachedOnly(cases)
	if len(beyond) != want || len(reached) == 0 || len(reached)+len(beyond) != len(cases) || len(cases) > 8*len(stages()) {
		t.Fatalf("want %d cases of the lots that never do and others, got %d and %d", want, len(beyond), len(reached))
	}
	forecastAll(reached, fake, fakeRack)
	forecastAll(beyond, fake, fakeRack)
	r := newReport(Options{lots: 8}, nil, all, reached, map[stage]int{})
	if len(r.Summaries) == 0 || r.Summaries[0].Group != groupDrawn || len(r.Studies) != 1 || r.Studies[0].Cases != len(reached) {
		t.Errorf("want drawn lots alone, got %+v", r.Studies)
	}
	// The fake tells a median day and bands, and a distribution that never comes.
	b := beyondOf(beyond, reached)
	if b.Lots != 2 || b.Cases != len(beyond) || b.ToldNever != 0 || b.OpenEnded != 0 {
		t.Errorf("want two lots beyond, told a day by the fake, got %+v", b)
	}
	near(t, "chance", 100, b.Chance, 1e-9)
	near(t, "chance overall", 100, b.Overall, 1e-9)
	near(t, "share", 100*float64(want)/float64(len(cases)), b.Share, 1e-9)
	if beyondOf(nil, reached) != nil {
		t.Error("want nothing to tell of none")
	}
	var text bytes.Buffer
	if err := r.writeText(&text, false); err != nil || !strings.Contains(text.String(), "DRAWN LOTS") {
		t.Errorf("want drawn lots in the text, got %v, %s", err, text.String())
	}
}

// prefixes returns the stages that a drawn lot has a weigh-in for.
func prefixes(s series) []stage {
	var all []stage
	for _, st := range stages() {
		if prefix(s.points, s.named[0].loss, *s.named[0].day, st) > 0 {
			all = append(all, st)
		}
	}
	return all
}

// The plan is told as the instruments show it, with when a piece is wrapped; of
// what is read no model sees more than was read by its last weigh-in.
func TestTheRoomIsTold(t *testing.T) {
	t.Parallel()
	r := room{plan: []span{{4, 20.2, 92, 0.1, false}, {3, 12, 90, 0.1, true}, {30, 12, 78, 0.1, false}}}
	airs, sealed := r.asSet(instruments{thermometer: 0.4, hygrometer: -2})
	if d := []air{{0, 20.5, 90}, {4, 12.5, 88}, {7, 12.5, 76}}; !reflect.DeepEqual(d, airs) {
		t.Errorf("want the plan as shown, %v, got %v", d, airs)
	}
	if !reflect.DeepEqual([]pause{{4, 7}}, sealed) {
		t.Errorf("want the wrapping from day 4 to 7, got %v", sealed)
	}
	readings := (lotDice{dice.New(1, 1)}).read(r, instruments{})
	for i := 1; i < len(readings); i++ {
		if between := readings[i].day - readings[i-1].day; between < 0.5-1e-9 || between > 0.7 {
			t.Fatalf("want a reading about twice a day, got days %v and %v", readings[i-1].day, readings[i].day)
		}
	}
	q := question{
		facts: facts{green: quantity.MustGrams(800), plan: airs, sealed: sealed, readings: readings}, seen: []point{{3, 5}, {9.2, 14}}, target: 30,
	}
	for _, weighed := range []bool{true, false} {
		o, err := q.order(weighed)
		if err != nil {
			t.Fatal(err)
		}
		if len(o.Airs) != 3 || len(o.Equalising) != 1 || o.Equalising[0].To.Sub(o.Equalising[0].From) != spanOf(3) {
			t.Errorf("weighed %v: want the plan and the wrapping, got %+v and %+v", weighed, o.Airs, o.Equalising)
		}
		if !weighed && len(o.Readings) > 0 {
			t.Errorf("before any weigh-in nothing is read, got %d", len(o.Readings))
		}
		for _, a := range o.Readings {
			if a.From.Sub(hanging) > spanOf(9.2) {
				t.Errorf("a reading of day %v is shown on day 9.2", daysOf(a.From.Sub(hanging)))
			}
		}
		if weighed && len(o.Readings) < 15 {
			t.Errorf("want some 18 readings in 9.2 days, got %d", len(o.Readings))
		}
	}
}
