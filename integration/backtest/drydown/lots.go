package drydown

import (
	"fmt"
	"math"
	"slices"

	"greenweight/domain/quantity"
	"greenweight/integration/backtest/dice"
)

// drawn is the file that drawn lots say they are of. Each lot is a study of its
// own: no two share a room, a mixture or a maker.
const drawn = "drawn"

// horizonDays is how long a drawn lot hangs at most.
const horizonDays = 240

// mixture are the parts of a green mixture in percent.
type mixture struct{ water, protein, fat, salt, sugar float64 }

// piece is one sausage of a lot.
type piece struct {
	diameter  float64 // mm, as stuffed
	diffusion float64 // how many times as fast as usual water moves inside
	draught   float64 // how many times as fast as in the middle of the room the air moves here
	green     float64 // g
}

// lot is a lot as it is. What the maker knows of it is in told; nothing else of
// it reaches a model.
type lot struct {
	mix    mixture
	casing float64 // how well the casing lets vapour through, m/s
	fall   float64 // how steeply water moves slower as a place dries: exp(-fall (1 - X/X0))
	room   room
	pieces []piece

	told   facts
	target float64 // percent
	days   []float64
	scale  float64 // standard deviation of a weight, percent of it
	labels []label
}

// lotDice draws drawn lots. All its numbers are choices of this project: the
// diameters, mixtures and rooms that makers have (reference of the project,
// practice), wider than the projection believes where it believes something.
type lotDice struct{ dice.Dice }

// Medians and spreads of what is drawn, sd of ln where it says times.
const (
	// diffusionSpread is more than the projection's 0.6 (ln) for a piece of known
	// diameter and temperature: nature is not bound by what a model believes.
	diffusionSpread = 0.7
	stuffedSpread   = 0.03  // of the diameter, ln: what the casing says against what is stuffed
	usualCasing     = 0.006 // m/s, about what a film of slow air lets through (package moisture)
	casingSpread    = 0.7
	mostFall        = 2.5
	// Between pieces of one lot: where they have lost 20 percent they so differ by
	// some 2 points (standard deviation), as links of one batch do (practice, 2 to 3).
	pieceSpread   = 0.25
	draughtSpread = 0.45
	hygrometerSD  = 2.5 // points, lasting
	thermometerSD = 0.4 // °C, lasting
)

// drawLot draws a lot with so many pieces.
func drawLot(random dice.Dice, pieces int) (lot, error) {
	d := lotDice{random}
	var l lot
	l.mix = d.mixture()
	plan, kind, steps := d.plan()
	l.room = room{plan, d.waves()}
	l.casing, l.fall = d.Times(usualCasing, casingSpread), d.Between([2]float64{0, mostFall})
	nominal := []float64{35, 40, 43, 50, 55, 60, 65, 75, 90, 100}[d.One(0.08, 0.1, 0.12, 0.12, 0.16, 0.14, 0.1, 0.08, 0.06, 0.04)]
	diffusion := d.Times(1, diffusionSpread)
	for range pieces {
		p := piece{diameter: nominal * d.Times(1, stuffedSpread), diffusion: diffusion * d.Times(1, pieceSpread), draught: d.Times(1, draughtSpread)}
		p.green = math.Pi / 4 * p.diameter * p.diameter * d.Between([2]float64{250, 450}) * 1.05e-3 // mm³ at 1.05 g/ml
		l.pieces = append(l.pieces, p)
	}
	l.scale = math.Exp(d.Between([2]float64{math.Log(0.1), math.Log(1)}))
	told, err := d.tell(&l, nominal)
	if err != nil {
		return lot{}, fmt.Errorf("what the maker knows: %w", err)
	}
	if err := d.aim(&l); err != nil {
		return lot{}, err
	}
	rhythm := d.weigh(&l)
	l.labels = slices.Concat(told, []label{
		kind, steps, rhythm,
		within("noise of the scale", l.scale, "% of the weight", 0.2, 0.5),
		within("true diffusion over the usual", diffusion, "", 0.5, 1, 2),
	})
	return l, nil
}

// mixture draws what is in it: lean meat of 77 to 79 parts of water to its
// protein, fat, and what is dry.
func (d lotDice) mixture() mixture {
	m := mixture{fat: d.Between([2]float64{12, 38}), salt: d.Between([2]float64{2.2, 3.3}), sugar: d.Between([2]float64{0, 0.8})}
	other := d.Between([2]float64{0.8, 2})
	lean := 100 - m.fat - m.salt - m.sugar - other
	m.water = lean * d.Between([2]float64{0.77, 0.8})
	m.protein = lean - m.water
	return m
}

// plan draws how the room is set. The last stretch is longer than any lot hangs.
func (d lotDice) plan() (plan []span, kind, steps label) {
	final := span{days: horizonDays, celsius: d.Between([2]float64{11, 16}), humidity: d.Between([2]float64{74, 85}), speed: d.speed()}
	kind = label{"room", 0, "steady"}
	switch d.One(0.2, 0.1, 0.2, 0.5) {
	case 0:
		plan = []span{final}
	case 1:
		kind = label{"room", 1, "refrigerator"}
		final.celsius, final.humidity = d.Between([2]float64{3, 7}), d.Between([2]float64{68, 82})
		plan = []span{final}
	case 2:
		kind = label{"room", 2, "one step"}
		first := final
		first.days, first.humidity = d.Between([2]float64{3, 14}), d.Between([2]float64{86, 93})
		plan = []span{first, final}
	default:
		kind = label{"room", 3, "damp start, lowered in steps"}
		at := span{
			days: d.Between([2]float64{1, 3}), celsius: d.Between([2]float64{17, 23}), humidity: d.Between([2]float64{90, 95}),
			speed: final.speed * d.Between([2]float64{0.7, 1.5}),
		}
		for at.humidity > final.humidity+2 {
			plan = append(plan, at)
			at.days = d.Between([2]float64{1.5, 5})
			at.celsius = math.Max(at.celsius-d.Between([2]float64{1, 4}), final.celsius)
			at.humidity -= d.Between([2]float64{2, 5})
		}
		plan = append(plan, final)
	}
	rank := len(plan) - 1
	if d.Float64() < equalises {
		plan = d.equalising(plan)
		kind = label{"room", 4, "with equalising days"}
	}
	return plan, kind, within("steps of the humidity", float64(rank), "", 1, 2, 4)
}

// equalises is how many of the lots hang some days in damp air or in a tight
// wrapping on their way, so that the rim softens.
const equalises = 0.12

func (d lotDice) equalising(plan []span) []span {
	final := plan[len(plan)-1]
	before, damp := final, final
	before.days = d.Between([2]float64{6, 20})
	damp.days, damp.humidity, damp.speed = d.Between([2]float64{2, 5}), d.Between([2]float64{88, 94}), stillest
	damp.sealed = d.Float64() < 0.5
	return append(slices.Clone(plan[:len(plan)-1]), before, damp, final)
}

// Air that is said to stand still moves by itself.
const stillest, stormiest = 0.05, 0.6

func (d lotDice) speed() float64 { return math.Min(math.Max(d.Times(0.15, 0.5), stillest), stormiest) }

// waves draws how the room swings: by day, and in two slow drifts.
func (d lotDice) waves() []wave {
	phase := func() float64 { return d.Between([2]float64{0, 2 * math.Pi}) }
	// Warmer is drier in the same air: humidity swings the other way by day.
	return []wave{
		{1, phase(), d.Times(0.5, 0.6), -d.Times(1.5, 0.6)},
		{d.Between([2]float64{9, 20}), phase(), d.Around(0, 0.6), d.Around(0, 1.5)},
		{d.Between([2]float64{25, 80}), phase(), d.Around(0, 0.8), d.Around(0, 2)},
	}
}

// tell sets what the maker knows: what the casing says; the room, on instruments
// that are off, as it is set in the end, as it is set all the way, or as it is
// read as well; and a composition that is analysed, reckoned from the recipe, or
// not known.
func (d lotDice) tell(l *lot, nominal float64) ([]label, error) {
	final := l.room.plan[len(l.room.plan)-1]
	in := entryInputs{GreenWeight: &l.pieces[0].green}
	knows := func(share, v float64, at **float64) {
		if d.Float64() < share {
			*at = &v
		}
	}
	show := instruments{thermometer: d.Around(0, thermometerSD), hygrometer: d.Around(0, hygrometerSD)}
	celsius, humidity := show.of(final.celsius, final.humidity)
	knows(0.93, nominal, &in.Diameter)
	knows(0.93, celsius, &in.Temperature)
	knows(0.9, humidity, &in.Humidity)
	knows(0.25, d.Times(final.speed, 0.3), &in.AirSpeed)
	composition := label{"composition told", 0, "none"}
	m := l.mix
	switch d.One(0.25, 0.5, 0.25) {
	case 1:
		composition = label{"composition told", 1, "fat by eye and salt by recipe"}
		knows(1, math.Round(math.Min(math.Max(d.Around(m.fat, 5), 5), 45)), &in.Fat)
		knows(1, math.Round(10*m.salt)/10, &in.Salt)
	case 2:
		composition = label{"composition told", 2, "analysed"}
		wetter, more := d.Around(0, 1), d.Around(0, 0.3)
		knows(1, m.water+wetter, &in.Water)
		knows(1, m.protein+more, &in.Protein)
		knows(1, m.fat-wetter-more, &in.Fat)
		knows(1, m.salt+d.Around(0, 0.05), &in.Salt)
	}
	var err error
	if l.told, err = factsOf(in); err != nil {
		return nil, err
	}
	told := label{"room told", 0, "as set in the end"}
	how := d.One(0.3, 0.45, 0.25)
	if how > 0 && in.Temperature != nil && in.Humidity != nil {
		told = label{"room told", 1, "as set all the way"}
		l.told.plan, l.told.sealed = l.room.asSet(show)
		if how == 2 {
			told = label{"room told", 2, "as set and as read"}
			l.told.readings = d.read(l.room, show)
		}
	}
	return []label{composition, told}, nil
}

// instruments are off by a lasting error each.
type instruments struct{ thermometer, hygrometer float64 }

// of returns what is shown, to half a degree and a whole point.
func (i instruments) of(celsius, humidity float64) (shownCelsius, shownHumidity float64) {
	return math.Round(2*(celsius+i.thermometer)) / 2, math.Round(math.Min(math.Max(humidity+i.hygrometer, driestRoom), dampestRoom))
}

// asSet returns the airs of a plan and the times in a tight wrapping.
func (r room) asSet(show instruments) (airs []air, sealed []pause) {
	begins := 0.0
	for _, s := range r.plan {
		if s.sealed {
			sealed = append(sealed, pause{begins, begins + s.days})
		}
		celsius, humidity := show.of(s.celsius, s.humidity)
		airs = append(airs, air{begins, celsius, humidity})
		begins += s.days
	}
	return airs, sealed
}

// read returns what a logger in the room shows twice a day.
func (d lotDice) read(r room, show instruments) []air {
	const every, thermometer, hygrometer = 0.5, 0.1, 0.5 // days; noise of a reading
	var all []air
	begins, next := 0.0, 0.0
	for _, s := range r.plan {
		for _, a := range r.log(s, begins) {
			if a.day < next {
				continue
			}
			celsius, humidity := show.of(d.Around(a.celsius, thermometer), d.Around(a.humidity, hygrometer))
			all = append(all, air{a.day, celsius, humidity})
			next = a.day + every
		}
		begins += s.days
	}
	return slices.DeleteFunc(all, func(a air) bool { return a.day >= horizonDays })
}

// aim draws the loss that the maker wants: 28 to 42 percent, and at least four
// points before the one at which the drying would stop by what he knows.
func (d lotDice) aim(l *lot) error {
	mix, _, err := l.told.composition().Mix()
	if err != nil {
		return fmt.Errorf("what is told of the mixture: %w", err)
	}
	stops, err := mix.LossAt(l.told.humidity.Or(quantity.MustHumidityPercent(78)).WaterActivity()) //nolint:forbidigo // a constant
	const leastTarget, before = 18, 4
	l.target = d.Between([2]float64{28, 42})
	if err == nil {
		l.target = math.Min(l.target, stops.Percent()-before)
	}
	l.target = math.Round(math.Max(l.target, leastTarget))
	return nil
}

// weigh draws the days on which the maker weighs.
func (d lotDice) weigh(l *lot) label {
	rhythm := label{"weighed", 0, "every second day"}
	every, jitter := 2.0, 0.3
	switch d.One(0.2, 0.3, 0.3, 0.2) {
	case 1:
		rhythm, every, jitter = label{"weighed", 1, "twice a week"}, 3.5, 0.6
	case 2:
		rhythm, every, jitter = label{"weighed", 2, "once a week"}, 7, 0.8
	case 3:
		rhythm, every, jitter = label{"weighed", 3, "when there is time"}, 0, 0
	}
	for day := 0.0; ; {
		if every > 0 {
			day += every + d.Between([2]float64{-jitter, jitter})
		} else {
			day += 1 + 4*d.ExpFloat64()
		}
		if day >= horizonDays {
			return rhythm
		}
		l.days = append(l.days, day)
	}
}
