package drydown

import (
	"math"
	"slices"
	"testing"

	"greenweight/domain/quantity"
	"greenweight/integration/backtest/dice"
)

// plain is a piece of 55 mm in its casing in a steady room: 75 parts of lean pork
// and 25 of back fat at 13 °C and 78 percent, which practice has at 35 percent
// after some two months (Foods 12(4), 727, 2023, table 1: 55 mm, 20 % of fat, 60
// days).
func plain() (lot, piece) {
	return lot{
		mix: mixture{water: 55.5, protein: 14.2, fat: 25.5, salt: 2.7, sugar: 0.5}, casing: usualCasing, fall: 1,
		room: room{plan: []span{{days: horizonDays, celsius: 13, humidity: 78, speed: 0.15}}},
	}, piece{diameter: 55, diffusion: 1, draught: 1, green: 800}
}

func solved(t *testing.T, l lot, p piece) course {
	t.Helper()
	c, err := solve(l, p)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestAPlainPieceDriesAsInPractice(t *testing.T) {
	t.Parallel()
	l, p := plain()
	if day := solved(t, l, p).reaches(35); day < 25 || day > 75 {
		t.Errorf("55 mm: want 35 percent in one to two and a half months, got day %v", day)
	}
}

// What makes a piece dry sooner does, and what is lost is water.
func TestCoursesGoTheRightWay(t *testing.T) {
	t.Parallel()
	l, p := plain()
	usual := solved(t, l, p)
	day := usual.reaches(30)
	for name, sooner := range map[string]func(*lot, *piece){
		"thinner":                  func(_ *lot, p *piece) { p.diameter = 45 },
		"quicker inside":           func(_ *lot, p *piece) { p.diffusion = 1.5 },
		"more draught":             func(_ *lot, p *piece) { p.draught = 2 },
		"a casing that lets more":  func(l *lot, _ *piece) { l.casing *= 2 },
		"drier":                    func(l *lot, _ *piece) { l.room.plan = []span{{horizonDays, 13, 72, 0.15, false}} },
		"warmer":                   func(l *lot, _ *piece) { l.room.plan = []span{{horizonDays, 16, 78, 0.15, false}} },
		"wetter, and as much lost": func(l *lot, _ *piece) { l.mix.water += 3; l.mix.fat -= 3 },
	} {
		other, q := l, p
		sooner(&other, &q)
		if got := solved(t, other, q).reaches(30); got >= day {
			t.Errorf("%s: want 30 percent before day %v, got day %v", name, day, got)
		}
	}
	for i, loss := range usual.losses {
		if loss < 0 || loss > l.mix.water || i > 0 && loss < usual.losses[i-1]-1e-6 {
			t.Fatalf("day %v: a loss of %v after %v, of %v of water", usual.days[i], loss, usual.losses[max(i-1, 0)], l.mix.water)
		}
	}
	// In the end it is in balance with the room.
	mix, err := l.mix.mix()
	if err != nil {
		t.Fatal(err)
	}
	stops, err := mix.LossAt(quantity.MustWaterActivity(0.78))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "loss after eight months", stops.Percent(), usual.at(horizonDays), 1.5)
}

// Nothing is lost in a tight wrapping, and it costs the days it lasts or fewer.
func TestSealedDays(t *testing.T) {
	t.Parallel()
	l, p := plain()
	without := solved(t, l, p).reaches(30)
	l.room.plan = []span{{10, 13, 78, 0.15, false}, {4, 13, 78, 0.15, true}, {horizonDays, 13, 78, 0.15, false}}
	c := solved(t, l, p)
	near(t, "loss in the wrapping", c.at(10), c.at(14), 1e-9)
	if later := c.reaches(30) - without; later <= 0.5 || later > 4 {
		t.Errorf("want 30 percent up to four days later, got %v", later)
	}
}

// A day is good to a hundredth: twice the cells and readings change it less.
func TestTheTruthIsFineEnough(t *testing.T) {
	t.Parallel()
	for i := range uint64(6) {
		l, err := drawLot(dice.New(21, i), 1)
		if err != nil {
			t.Fatal(err)
		}
		coarse := solved(t, l, l.pieces[0]).reaches(25)
		fine, err := solveIn(l, l.pieces[0], 3*solveCells)
		if err != nil {
			t.Fatal(err)
		}
		if day := fine.reaches(25); !(math.Abs(day-coarse) <= 0.015*day) && !(math.IsInf(day, 1) && math.IsInf(coarse, 1)) {
			t.Errorf("lot %d: day %v with %d cells, %v with three times as many", i, coarse, solveCells, day)
		}
	}
}

// Drawn lots dry as lots do: by size, half of them have lost a quarter of their
// weight in days that practice knows (35 mm in one to four weeks, 90 mm in one to
// four months), and most reach what their makers want.
func TestDrawnLotsDryAsLotsDo(t *testing.T) {
	t.Parallel()
	bySize := map[float64][]float64{}
	reached, all := 0, 0
	for i := range uint64(90) {
		l, err := drawLot(dice.New(33, i), 1)
		if err != nil {
			t.Fatal(err)
		}
		c := solved(t, l, l.pieces[0])
		size := 35.0
		switch d := l.pieces[0].diameter; {
		case d > 70:
			size = 90
		case d > 47:
			size = 55
		}
		bySize[size] = append(bySize[size], c.reaches(25))
		all++
		if !math.IsInf(c.reaches(l.target), 1) {
			reached++
		}
		for j, loss := range c.losses {
			if loss < -3 || loss > l.mix.water {
				t.Fatalf("lot %d, day %v: a loss of %v of %v of water", i, c.days[j], loss, l.mix.water)
			}
		}
	}
	for size, ends := range map[float64][2]float64{35: {7, 28}, 55: {14, 60}, 90: {30, 120}} {
		slices.Sort(bySize[size])
		if middle := bySize[size][len(bySize[size])/2]; middle < ends[0] || middle > ends[1] {
			t.Errorf("about %v mm: want half of %d lots at 25 percent between days %v and %v, got day %v", size, len(bySize[size]), ends[0], ends[1], middle)
		}
	}
	if reached < all*8/10 || reached == all {
		t.Errorf("want most of %d lots to reach their target, and not all, got %d", all, reached)
	}
}

// Pieces of one lot differ as links of a batch do: by 1.3 to 3 points (standard
// deviation) when they have lost about 20 percent.
func TestPiecesOfALotDiffer(t *testing.T) {
	t.Parallel()
	const lots, pieces, mid = 12, 5, 20
	spread := 0.0
	for i := range uint64(lots) {
		l, err := drawLot(dice.New(1907, rackDice+i), pieces)
		if err != nil {
			t.Fatal(err)
		}
		var courses []course
		day := 0.0
		for _, p := range l.pieces {
			c := solved(t, l, p)
			day += math.Min(c.reaches(mid), horizonDays) / pieces
			courses = append(courses, c)
		}
		mean, squares := 0.0, 0.0
		for _, c := range courses {
			mean += c.at(day) / pieces
		}
		for _, c := range courses {
			squares += square(c.at(day)-mean) / (pieces - 1)
		}
		spread += math.Sqrt(squares) / lots
	}
	if spread < 1.3 || spread > 3 {
		t.Errorf("want pieces to differ by 1.3 to 3 points, got %v", spread)
	}
}
