package drying

import (
	"errors"
	"math"
	"slices"
	"time"

	"greenweight/domain/air"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
	"greenweight/domain/wateractivity"
)

// Where the numbers of the prior come from.
var (
	cylinderSource = source.Citation{
		Title: "Crank, The Mathematics of Diffusion, 2nd edition", Year: 1975, Section: "chapter 5, equations 5.22, 5.23 and 5.47",
		Trust: source.Memory, Note: "the equations are recalled; tables computed from them elsewhere agree to 1e-6",
	}
	diffusivitySource = source.Citation{
		Title: "Palumbo, Komanowsky, Metzger and Smith, Kinetics of pepperoni drying, Journal of Food Science 42(4)", Year: 1977,
		Section: "pages 1029 to 1033, abstract", Trust: source.Read,
		Note: "5.7, 5.6 and 4.7e-11 m²/s at 13.3, 17.4 and 25.1 percent of fat; the spread, the fall with temperature and the surface are this project's reading of it and of practice",
	}
	ownSource = source.CommonPractice("the project's own spread, from analysed drying series of four papers and the times that makers give")
)

// Sources returns the citations behind a projection: the cylinder, how fast water
// moves, where drying stops, the most that air can take, and the project's own
// spreads.
func Sources() []source.Citation {
	return []source.Citation{cylinderSource, diffusivitySource, wateractivity.BrineSource(), wateractivity.SorptionSource(), air.FilmSource(), ownSource}
}

// The prior, before anything is known of the piece.
const (
	// diffusivity at 13 °C and 20 percent of fat, m²/s, for use with a surface
	// that resists: diffusivitySource.
	diffusivity = 4.5e-11
	// perFat is how much less of it there is for each point of fat:
	// diffusivitySource, -18 percent over 12 points.
	perFat  = 0.015
	usedFat = 20.0
	// leastByFat is as far as that is carried beyond the 25 percent it was read
	// to: this project's own.
	leastByFat = 0.3
	// activation is its fall with temperature, J/mol (recalled, 25 to 35 kJ/mol).
	activation, gasConstant = 30e3, 8.314462618
	usedCelsius             = 13
	usedKelvin              = 273.15 + usedCelsius
	// shrinking: the cylinder of the model keeps its radius, and the sausage does
	// not, which makes it as fast as one of a third more diffusivity. Derived from
	// a shrinking cylinder at 30 to 40 percent of loss.
	shrinking     = 1.35
	secondsPerDay = 86400
	// usedMillimetres and usedSpeed are a sausage and the air around it where
	// nothing is said of them; usedBiot is the Biot number of that sausage in its
	// casing. Practice: 55 mm takes some two months to 35 percent, 35 mm one month
	// (Foods 12(4), 727, 2023, table 1).
	usedMillimetres, usedSpeed, usedBiot = 55.0, 0.15, 3.0
	// The spreads: standard deviations of the natural logarithms.
	spreadKnown       = 0.6 // diameter and temperature are given
	spreadHalf        = 0.75
	spreadUnknown     = 1.2 // no diameter
	biotSpread        = 1.0 // a diameter is given
	biotSpreadUnknown = 1.4
	// All of them, and those below, are this project's own: ownSource.
	// stopsKnown and stopsGuessed are how far the loss at which drying stops is
	// off, in points, when composition and humidity are given and when one is a
	// guess; stopsSeen when earlier lots show it.
	stopsKnown, stopsGuessed, stopsSeen = 2.1, 3.0, 2.0
	// usedHumidity is taken where the humidity is not given, percent: common
	// practice.
	usedHumidity = 75.0
	// crystallises is the water activity of a saturated salt solution, below which
	// the model of it ends: Greenspan, J. Res. NBS 81A (1977) 89, 0.753 to 0.757 at
	// 10 to 25 °C (recalled), rounded down.
	crystallises = 0.75
)

// before returns what is known before any weigh-in, with what a reader must know
// of it.
func (o Order) before() (prior, []finding.Note, error) {
	p := prior{logBiot: math.Log(usedBiot), logBiotSD: biotSpread, mostStops: mostWater}
	var notes []finding.Note
	note := func(code string, member []string, text string, from source.Citation) {
		notes = append(notes, finding.Note{Code: code, Member: member, Text: text, Source: from})
	}
	airs := o.airs()
	warm, humid := true, true
	for _, a := range airs {
		warm, humid = warm && known(a.Temperature), humid && known(a.Humidity)
	}
	if !warm {
		note("temperature-not-given", fault.At("room", "temperature"),
			"The room is taken to be at 13 °C; in a refrigerator at 4 °C everything takes about half as long again.", ownSource)
	}
	millimetres := usedMillimetres
	diameter, sized := o.Diameter.Get()
	if sized {
		millimetres = diameter.Millimetres()
	}
	d := diffusivity * shrinking * byTemperature(airs[0].Temperature)
	if fat, known := o.Composition.Fat.Get(); known {
		d *= math.Max(1-perFat*(fat.Percent()-usedFat), leastByFat)
	}
	p.logRate = math.Log(d * secondsPerDay / square(millimetres/2000))
	switch {
	case !sized:
		p.logRateSD, p.logBiotSD = spreadUnknown, biotSpreadUnknown
		note("diameter-not-given", fault.At("diameter"),
			"Without a diameter the days before the first weigh-ins are little more than a guess: twice the diameter takes two to four times as long.", ownSource)
	case warm:
		p.logRateSD = spreadKnown
	default:
		p.logRateSD = spreadHalf
	}
	mix, guessed, err := o.Composition.Mix()
	if err != nil {
		return prior{}, nil, err
	}
	if guessed {
		note("composition-not-given", fault.At("composition"),
			"What is not given of the composition is taken as of three parts lean pork and one part back fat with 2.7 % of salt; fatter or leaner mixtures stop drying up to 5 points of loss earlier or later.",
			wateractivity.TypicalMixSource())
	}
	if !humid && !known(o.StopsAt) {
		note("humidity-not-given", fault.At("room", "relative_humidity_percent"),
			"Without the humidity of the room nobody can say at which loss the drying stops: 75 % is taken, and more doubt.", ownSource)
	}
	if known(o.Composition.Water) {
		p.mostStops = math.Min(mix.Water.Percent(), mostWater)
	}
	if err := o.through(&p, airs, mix, guessed); err != nil {
		return prior{}, nil, err
	}
	p.logBiot += math.Log(millimetres / usedMillimetres)
	if learned := o.Learned; learned.lots > 0 {
		told := slices.Clone(p.spells)
		learned.after(&p)
		if known(o.StopsAt) { // which is what earlier lots tell of it
			p.spells = told
		}
		notes = append(notes, learned.note())
	}
	return p, notes, nil
}

// byTemperature returns how fast water moves inside at a temperature, over how
// fast at the usual one.
func byTemperature(temperature material.Known[quantity.Temperature]) float64 {
	t, is := temperature.Get()
	if !is {
		return 1
	}
	return math.Exp(-activation / gasConstant * (1/t.Kelvin() - 1/usedKelvin))
}

// through puts the airs into what is known: the clock, where the drying stops in
// each air and what it can take, and the Biot number, which is the mean of its
// logarithm until most is dried.
func (o Order) through(p *prior, airs []Air, mix wateractivity.Mix, guessed bool) error {
	hung := o.hung()
	days, rates := make([]float64, len(airs)), make([]float64, len(airs))
	first := byTemperature(airs[0].Temperature)
	for i, a := range airs {
		days[i], rates[i] = inDays(a.From.Sub(hung)), byTemperature(a.Temperature)/first
	}
	p.clock = newClock(days, rates, o.Equalising, hung)
	type told struct {
		spell
		surface float64
	}
	seen := make(map[Air]told, min(len(airs), fewAirs))
	p.spells = make([]spell, 0, len(airs))
	var surface mean
	for i, a := range airs {
		if len(airs) > fewAirs {
			a = a.rounded()
		}
		a.From = time.Time{}
		t, is := seen[a]
		if !is {
			var err error
			if t.spell, t.surface, err = o.in(a).spell(p.mostStops, mix, guessed); err != nil {
				return err
			}
			seen[a] = t
		}
		t.rate = rates[i]
		_, t.from = p.clock.at(days[i])
		p.spells = append(p.spells, t.spell)
		early := earlyFourier / math.Exp(p.logRate)
		to := early
		if i+1 < len(airs) {
			_, to = p.clock.at(days[i+1])
		}
		surface.add(t.surface, math.Max(math.Min(to, early)-t.from, 0))
	}
	p.spells, p.ahead = merged(p.spells), airs[len(airs)-1]
	if surface.weight > 0 {
		p.logBiot += surface.sum / surface.weight
	}
	if seen, known := o.StopsAt.Get(); known {
		off := seen.Percent() - p.last().stops
		for i := range p.spells {
			s := &p.spells[i]
			s.stops, s.stopsSD = math.Min(math.Max(s.stops+off, 0), p.mostStops), stopsSeen
		}
	}
	return nil
}

// in returns the order in one air.
func (o Order) in(a Air) Order {
	o.Temperature, o.Humidity, o.AirSpeed = a.Temperature, a.Humidity, a.AirSpeed
	o.Airs, o.Readings = nil, nil
	return o
}

// rounded returns an air with its figures to half a degree, half a point and
// 0.05 m/s.
func (a Air) rounded() Air {
	a.Temperature = roundedTo(a.Temperature, 0.5, quantity.Temperature.Celsius, quantity.Celsius)
	a.Humidity = roundedTo(a.Humidity, 0.5, quantity.RelativeHumidity.Percent, quantity.HumidityPercent)
	a.AirSpeed = roundedTo(a.AirSpeed, 0.05, quantity.Speed.MetresPerSecond, quantity.MetresPerSecond)
	return a
}

func roundedTo[Q any](k material.Known[Q], step float64, read func(Q) float64, of func(float64) (Q, error)) material.Known[Q] {
	q, is := k.Get()
	if !is {
		return k
	}
	near, err := of(math.Round(read(q)/step) * step)
	if err != nil { // beside the end of its range
		return k
	}
	return material.Is(near)
}

// spell returns the one air of an order as the fit sees it, and the logarithm of
// how the Biot number in it compares with the usual one.
func (o Order) spell(most float64, mix wateractivity.Mix, guessed bool) (s spell, surface float64, err error) {
	millimetres := o.Diameter.Or(quantity.MustMillimetres(usedMillimetres)).Millimetres()
	if surface, err = o.surface(millimetres, byTemperature(o.Temperature)); err != nil {
		return s, 0, err
	}
	humidity, humid := o.Humidity.Get()
	if !humid {
		humidity = quantity.MustHumidityPercent(usedHumidity)
	}
	if s.stops, err = stops(mix, humidity); err != nil {
		return s, 0, err
	}
	s.stopsSD = stopsKnown
	if guessed || !humid || humidity.Float() < crystallises {
		s.stopsSD = stopsGuessed
	}
	around, err := hygrometer(mix, humidity)
	if err != nil {
		return s, 0, err
	}
	s.stopsSD = math.Hypot(s.stopsSD, around)
	if !humid {
		if s.stops, err = o.wished(s.stops, s.stopsSD); err != nil {
			return s, 0, err
		}
	}
	s.stops = math.Min(math.Max(s.stops, 0), most)
	bound, told, err := o.fastest()
	if told {
		s.fastest = bound.PercentPerDay()
	}
	return s, surface, err
}

// wished returns where drying stops in a room of which no humidity is given: in
// usual air, or where a target asks for drier, so far beyond it that the target is
// not reached in one case of ten. What a maker sets out to reach tells of the room.
func (o Order) wished(usual, sd float64) (float64, error) {
	goals, err := o.goals()
	if err != nil || len(goals) == 0 {
		return usual, err
	}
	const nineOfTen = 1.2815515655446004 // standard deviations of a normal distribution
	return math.Max(usual, farthest(goals).Percent()+nineOfTen*sd), nil
}

// Mix returns the composition with what is not given filled in, and whether
// anything was.
func (c Composition) Mix() (mix wateractivity.Mix, guessed bool, err error) {
	typical := wateractivity.TypicalMix()
	_, knowsWater := c.Water.Get()
	_, knowsProtein := c.Protein.Get()
	_, knowsFat := c.Fat.Get()
	_, knowsSalt := c.Salt.Get()
	mix = wateractivity.Mix{
		Salt: c.Salt.Or(typical.Salt), Sugar: c.Sugar.Or(typical.Sugar), Fat: c.Fat.Or(typical.Fat),
	}
	// Lean meat has its water and protein in one proportion, whatever the fat.
	perProtein := typical.Water.Float() / typical.Protein.Float()
	other := 1 - typical.Water.Float() - typical.Protein.Float() - typical.Fat.Float() - typical.Salt.Float() - typical.Sugar.Float()
	dry := mix.Salt.Float() + mix.Sugar.Float() + other // ash and spice are dry
	lean := math.Max(1-mix.Fat.Float()-dry, 0)
	switch {
	case knowsWater:
		mix.Water = c.Water.Or(mix.Water)
	case knowsProtein:
		mix.Water, err = quantity.NewFraction(math.Min(c.Protein.Or(mix.Protein).Float()*perProtein, lean))
	default:
		mix.Water, err = quantity.NewFraction(lean * perProtein / (1 + perProtein))
	}
	if err != nil {
		return mix, false, err
	}
	mix.Protein = c.Protein.Or(mix.Protein)
	if !knowsProtein {
		rest := math.Max(1-dry-mix.Water.Float(), 0)
		if knowsFat {
			rest = math.Max(rest-mix.Fat.Float(), 0)
		}
		mix.Protein, err = quantity.NewFraction(math.Min(mix.Water.Float()/perProtein, rest))
		if err != nil {
			return mix, false, err
		}
	}
	if !knowsFat {
		mix.Fat, err = quantity.NewFraction(math.Max(1-dry-mix.Water.Float()-mix.Protein.Float(), 0))
		if err != nil {
			return mix, false, err
		}
	}
	return mix, !knowsWater || !knowsProtein || !knowsSalt, mix.Validate()
}

// stops returns the loss, in points, at which the mixture is in balance with the
// air. In air so dry that salt would crystallise the model of the water activity
// ends; there the loss goes on in a straight line to that at a humidity of
// driest, this project's own, where all the water that is left is what protein
// holds.
func stops(mix wateractivity.Mix, humidity quantity.RelativeHumidity) (float64, error) {
	const driest = 0.5
	at := humidity.WaterActivity()
	if at.Float() >= crystallises {
		loss, err := mix.LossAt(at)
		var f *fault.Error
		if errors.As(err, &f) && f.Kind == fault.NoSolution {
			return 0, nil // air so damp that the mixture takes up water
		}
		return loss.Percent(), err
	}
	end, err := mix.LossAt(quantity.MustWaterActivity(crystallises))
	if err != nil {
		return 0, err
	}
	held, err := wateractivity.Held(quantity.MustWaterActivity(driest))
	if err != nil {
		return 0, err
	}
	bare := math.Max(mix.Water.Percent()-held.Float()*mix.Protein.Percent(), end.Percent())
	part := math.Min((crystallises-at.Float())/(crystallises-driest), 1)
	return end.Percent() + part*(bare-end.Percent()), nil
}

// hygrometer returns what a hygrometer that is half its error off changes of the
// loss at which drying stops, in points: little in dry air and much in damp air.
func hygrometer(mix wateractivity.Mix, humidity quantity.RelativeHumidity) (float64, error) {
	var ends [2]float64
	for i, off := range []float64{-hygrometerError / 2, hygrometerError / 2} {
		read, err := quantity.HumidityPercent(math.Min(math.Max(humidity.Percent()+off, 0), 100))
		if err != nil {
			return 0, err
		}
		if ends[i], err = stops(mix, read); err != nil {
			return 0, err
		}
	}
	return math.Abs(ends[0]-ends[1]) / 2, nil
}

// known returns whether a value is known, for notes.
func known[T any](k material.Known[T]) bool {
	_, ok := k.Get()
	return ok
}
