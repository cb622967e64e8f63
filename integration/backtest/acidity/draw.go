package acidity

import (
	"fmt"
	"math"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/integration/backtest/dice"
)

// solveStep is the step of the integration in hours; a test halves it.
const solveStep = 0.05

// culture is a species with what is drawn of it: between the ends of its cardinal
// temperatures, around its usual rate. Source of the temperatures: those of the
// project's list of species; of the rates: choice of this project, such that the
// hours to pH 5.3 are those that texts tell (see the test).
type culture struct {
	key               string
	least, best, most [2]float64 // °C
	rate              float64    // median of m at its best, /h
	cold, warm        float64    // chambers it is used in, °C
	share             float64    // of the lots
}

var cultures = []culture{
	{"latilactobacillus-sakei", [2]float64{-3, 3}, [2]float64{30, 34}, [2]float64{36, 40}, 0.42, 17, 27, 0.35},
	{"latilactobacillus-curvatus", [2]float64{-3, 3}, [2]float64{30, 34}, [2]float64{36.6, 39.8}, 0.40, 17, 26, 0.1},
	{"lactiplantibacillus-plantarum", [2]float64{3, 5}, [2]float64{35, 36}, [2]float64{42, 45}, 0.62, 20, 32, 0.2},
	{"pediococcus-pentosaceus", [2]float64{8, 10}, [2]float64{28, 35}, [2]float64{39, 45}, 0.75, 21, 32, 0.2},
	{"pediococcus-acidilactici", [2]float64{10, 15}, [2]float64{39, 41}, [2]float64{50, 52}, 0.85, 27, 40, 0.15},
}

// Kinds of computed lots. Of four lots three grow and one is a curve, every other
// of those a logistic one.
const (
	kindGrowth   = "growth"
	kindGompertz = "Gompertz"
	kindLogistic = "logistic"
)

const curveEvery = 4

func kindOf(i int) string {
	switch {
	case i%curveEvery != curveEvery-1:
		return kindGrowth
	case i%(2*curveEvery) == curveEvery-1:
		return kindGompertz
	default:
		return kindLogistic
	}
}

// computed returns n lots whose truth is computed. Lot i depends on the seed and
// on i alone, so that more lots leave those before as they were.
func computed(seed uint64, n int) []course {
	all := make([]course, n)
	for i := range all {
		all[i] = drawLot(dice.New(seed, uint64(i)), i)
	}
	return all
}

// lotDice draws computed lots.
type lotDice struct{ dice.Dice }

// How much of what the maker is told is off, and how lots are kept. Choice of
// this project.
const (
	thermometerSD = 0.3  // °C, lasting
	meterSD       = 0.03 // pH, of each reading
	stripSD       = 0.1  // pH, of the eye before it takes the nearest field
	knownSpecies  = 0.7  // of the lots; of the others the maker knows no species
	fails         = 0.25 // of the lots have too little sugar or too weak a culture
)

func drawLot(random dice.Dice, i int) course {
	d := lotDice{random}
	shares := make([]float64, len(cultures))
	for k, c := range cultures {
		shares[k] = c.share
	}
	species := cultures[d.One(shares...)]
	diameter := []float64{32, 45, 55, 65, 90}[d.One(0.15, 0.3, 0.3, 0.15, 0.1)]
	g, plan, climate := d.ground(species, diameter)
	thermometer := d.Around(0, thermometerSD)
	kind := kindOf(i)
	var c curve
	switch kind {
	case kindGrowth:
		c = d.growth(g, species).solve(solveStep)
	default:
		c = d.sigmoid(g, kind == kindLogistic).solve(solveStep)
	}
	reaches := c.reaches()
	lot := course{
		id: fmt.Sprintf("computed-%04d", i+1), file: "computed", study: fmt.Sprintf("computed-%04d", i+1), origin: originCurve,
		kind: kind, climate: climate,
		truth: truth{After: reaches, By: reaches, Point: reaches, Never: math.IsInf(reaches, 1)},
		facts: facts{
			chamber: g.chamber.off(thermometer), plan: plan.off(thermometer), diameter: material.Is(quantity.MustMillimetres(diameter)), //nolint:forbidigo // one of five
		},
	}
	if kind == kindGrowth {
		lot.origin = originGrowth
	}
	if d.Float64() < knownSpecies {
		lot.facts.species = species.key
	}
	d.read(&lot, c, reaches)
	return lot
}

// Chambers of computed lots.
const (
	constantChamber = "constant"
	steppedChamber  = "stepped"
	sawtoothChamber = "sawtooth"
	dailyChamber    = "day-and-night"
)

var climates = []string{constantChamber, steppedChamber, sawtoothChamber, dailyChamber}

// ground draws the chamber, how it is planned, and how the core follows it: it
// is about as warm after 2.5 h at 55 mm, and after the square of the diameter, as
// a trade rule has it (recalled).
func (d lotDice) ground(c culture, diameter float64) (ground, chamber, string) {
	mean := d.Between([2]float64{c.cold, c.warm})
	const usualDiameter, usualDelay = 55, 1.2
	wider := diameter / usualDiameter
	g := ground{
		core: d.Between([2]float64{1, 10}), delay: d.Times(usualDelay*wider*wider, 0.2),
		species: cardinal{d.Between(c.least), d.Between(c.best), d.Between(c.most)},
	}
	climate := climates[d.One(0.4, 0.3, 0.15, 0.15)]
	switch climate {
	case constantChamber:
		g.chamber = flat(mean)
		return g, g.chamber, climate
	case steppedChamber:
		g.chamber = stepped(mean, mean-d.Between([2]float64{2, 4}), mean-d.Between([2]float64{5, 8}),
			d.Between([2]float64{20, 48}), d.Between([2]float64{20, 30}))
		return g, g.chamber, climate
	case sawtoothChamber:
		g.chamber = sawtooth(mean, d.Between([2]float64{1, 2.5}), d.Between([2]float64{1.5, 4}), horizon)
		return g, flat(mean), climate
	default:
		const day = 24
		g.chamber = sawtooth(mean, d.Between([2]float64{1.5, 4}), day, horizon)
		return g, flat(mean), climate
	}
}

// growth draws how bacteria grow and sour on a ground.
func (d lotDice) growth(on ground, c culture) growth {
	bacteria, most := d.Between([2]float64{5.8, 7.3}), d.Between([2]float64{8.3, 9}) // log10 of a gram
	g := growth{
		ground: on, rate: d.Times(c.rate, 0.25), a: d.Between([2]float64{5, 16}), b: d.Times(3.5, 0.3),
		sugar: d.Between([2]float64{45, 110}), buffer: d.Times(40, 0.15), bend: d.Between([2]float64{0, 0.5}),
		ph: math.Min(math.Max(d.Around(5.8, 0.12), 5.5), 6.2),
	}
	// The lag is the time in which a culture at its own rate would have grown by
	// these powers of e.
	g.readiness = 1 / math.Expm1(d.Between([2]float64{0.4, 2.2}))
	if d.Float64() < fails {
		switch d.One(0.55, 0.45) {
		case 0: // sugar for a little less than it takes, or a little more
			g.sugar = g.made(d.Between([2]float64{5.22, 5.55}))
		default: // only what is in the meat
			bacteria = d.Between([2]float64{2.5, 4.5})
			g.rate *= 0.8
		}
	}
	g.start = math.Pow(10, bacteria-most)
	return g
}

// made returns the acid that takes the meat down to a pH, mmol/kg: the integral
// of the buffer.
func (g growth) made(ph float64) float64 {
	const at = 5.5
	return g.buffer * ((1+g.bend*at)*(g.ph-ph) - g.bend/2*(g.ph*g.ph-ph*ph))
}

// sigmoid draws a curve of the pH on a ground, with the same chance to fall short.
func (d lotDice) sigmoid(on ground, logistic bool) sigmoid {
	s := sigmoid{
		ground: on, logistic: logistic, ph: math.Min(math.Max(d.Around(5.8, 0.12), 5.5), 6.2),
		drop: d.Between([2]float64{0.75, 1.3}), fastest: d.Times(0.043, 0.4), lag: d.Times(11, 0.5),
	}
	if d.Float64() < fails {
		s.drop = s.ph - d.Between([2]float64{5.22, 5.55})
	}
	return s
}

// Schedules by which makers read, as hours between two readings, how much the
// hour varies, and when they give up on a lot that does not come down.
type schedule struct {
	name           string
	every, jitter  float64
	givesUp, share float64
}

var schedules = []schedule{
	{"twice a day", 12, 1.5, 144, 0.5},
	{"every 4 h", 4, 0.4, 96, 0.3},
	{"every hour", 1, 0.1, 60, 0.2},
}

// read lets a maker read the pH, until it is read to be at the target.
func (d lotDice) read(lot *course, c curve, reaches float64) {
	s := schedules[d.One(schedules[0].share, schedules[1].share, schedules[2].share)]
	lot.schedule = s.name
	lot.facts.grade = []float64{0, 0.25, 0.5}[d.One(0.6, 0.2, 0.2)]
	for k := 0; ; k++ {
		hour := 0.0
		if k > 0 {
			hour = float64(k)*s.every + d.Between([2]float64{-s.jitter, s.jitter})
		}
		if hour > s.givesUp && (math.IsInf(reaches, 1) || hour > reaches+s.every) || hour > horizon {
			return
		}
		ph := d.look(c.at(hour), lot.facts.grade)
		lot.readings = append(lot.readings, reading{hour, ph})
		if ph <= target {
			return
		}
	}
}

// look returns what is read where the pH is as told: to hundredths by a meter,
// to the nearest field of a strip.
func (d lotDice) look(ph, grade float64) float64 {
	sd, division := meterSD, 0.01
	if grade > 0 {
		sd, division = stripSD, grade
	}
	return math.Round(d.Around(ph, sd)/division) * division
}
