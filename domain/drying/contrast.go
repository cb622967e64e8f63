package drying

import (
	"math"
	"time"

	"greenweight/domain/air"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
	"greenweight/domain/wateractivity"
)

// rims returns how much wetter the core is than the rim.
func (c *comparer) rims(i int) Rims {
	s := c.coreOverRim(i)
	out := Rims{Pieces: len(s.values)}
	if out.Pieces == 0 {
		return out
	}
	out.Difference = material.Is(c.ratio(s.mean()))
	if out.Pieces > 1 {
		out.Interval = material.Is(toldOf(s.alone(), c.ratio))
	}
	return out
}

// coreOverRim returns it of each piece that both were measured of. No usual
// spread of it is known.
func (c *comparer) coreOverRim(i int) sample {
	s := sample{least: math.Sqrt2 * meterError}
	for _, p := range c.trial.Courses[i].Pieces {
		core, cored := p.Final.Core.Get()
		rim, rimmed := p.Final.Rim.Get()
		if cored && rimmed {
			s.values = append(s.values, core.Float()-rim.Float())
		}
	}
	return s
}

// differences holds the figures of a course against those of the first.
func (c *comparer) differences(i int) []Difference {
	var out []Difference
	add := func(f Figure, first, other sample, day material.Known[time.Duration]) {
		if len(first.values) == 0 || len(other.values) == 0 {
			return
		}
		e := against(other, first)
		d := Difference{
			Figure: f, Day: day, FirstPieces: len(first.values), CoursePieces: len(other.values),
			First: c.ratio(first.mean()), Course: c.ratio(other.mean()), Difference: c.ratio(e.mid),
			Basis: basisOf(len(first.values), len(other.values)), Apart: NotShown,
		}
		if first.has() && other.has() {
			d.Interval, d.Apart = material.Is(toldOf(e, c.ratio)), e.apart()
		}
		out = append(out, d)
	}
	if end := math.Min(c.ends[0], c.ends[i]); end > 0 {
		onDay := func(i int) sample {
			return points(each(c.told(i), func(k track) float64 { return k.at(end) / 100 }))
		}
		add(LossOnDay, onDay(0), onDay(i), material.Is(fromDays(end)))
	}
	last := func(i int) sample {
		return points(each(c.told(i), func(k track) float64 { return k.last().loss / 100 }))
	}
	add(LastLoss, last(0), last(i), material.Known[time.Duration]{})
	add(WetterEnd, c.wetter(0), c.wetter(i), material.Known[time.Duration]{})
	add(MoistureEnd, c.moisture(0), c.moisture(i), material.Known[time.Duration]{})
	add(CoreOverRim, c.coreOverRim(0), c.coreOverRim(i), material.Known[time.Duration]{})
	return out
}

// has reports whether an interval can be told.
func (s sample) has() bool { return len(s.values) > 1 || s.usual > 0 }

// points returns losses as a sample.
func points(losses []float64) sample {
	return sample{values: losses, usual: usualBetween / 100, least: leastBetween / 100}
}

// wetter returns of each piece the water activity of core or rim, whichever is
// higher, of which one at least was measured.
func (c *comparer) wetter(i int) sample {
	s := sample{least: meterError}
	for _, p := range c.trial.Courses[i].Pieces {
		core, cored := p.Final.Core.Get()
		rim, rimmed := p.Final.Rim.Get()
		switch {
		case cored && rimmed:
			s.values = append(s.values, math.Max(core.Float(), rim.Float()))
		case cored:
			s.values = append(s.values, core.Float())
		case rimmed:
			s.values = append(s.values, rim.Float())
		}
	}
	if slope, ok := c.slope(i, func(mix wateractivity.Mix, loss quantity.Loss) (float64, error) {
		activity, err := mix.At(loss)
		return activity.Float(), err
	}); ok {
		s.usual = math.Hypot(usualBetween*slope, meterError)
	}
	return s
}

func (c *comparer) moisture(i int) sample {
	s := sample{least: laboratoryError / 100}
	for _, p := range c.trial.Courses[i].Pieces {
		if m, is := p.Final.Moisture.Get(); is {
			s.values = append(s.values, m.Float())
		}
	}
	if slope, ok := c.slope(i, func(mix wateractivity.Mix, loss quantity.Loss) (float64, error) {
		moisture, err := mix.Moisture(loss)
		return moisture.Float(), err
	}); ok {
		s.usual = math.Hypot(usualBetween*slope, laboratoryError/100)
	}
	return s
}

// slope returns how a property of the mixture falls with a point of loss, where
// the pieces of a course ended.
func (c *comparer) slope(i int, of func(wateractivity.Mix, quantity.Loss) (float64, error)) (float64, bool) {
	told := c.told(i)
	mix, _, err := c.trial.Composition.Mix()
	if err != nil || len(told) == 0 {
		return 0, false
	}
	ended := sample{values: each(told, func(k track) float64 { return k.last().loss })}.mean()
	const either = 0.5
	before, errBefore := of(mix, c.loss(ended-either))
	after, errAfter := of(mix, c.loss(ended+either))
	return math.Abs(before - after), errBefore == nil && errAfter == nil
}

// AirVerdict says whether the air and the size of the pieces explain how the
// rates compare. The zero value is invalid.
type AirVerdict int

// The verdicts.
const (
	AirExplains   AirVerdict = iota + 1 // what was measured may be what they lead to
	SlowerThanAir                       // something else holds the course back, or helps the first
	FasterThanAir                       // something else helps the course, or holds the first back
	AirNotShown                         // the rooms are not known, or the times not compared
)

// String returns the word used on the wire.
func (v AirVerdict) String() string {
	switch v {
	case AirExplains:
		return "explains"
	case SlowerThanAir:
		return "slower-than-air"
	case FasterThanAir:
		return "faster-than-air"
	case AirNotShown:
		return "not-shown"
	default:
		return "unstated"
	}
}

// AirContrast is what the air of two rooms leads one to expect of the rates, a
// course over the first. While the surface rules, a sausage dries as fast as air
// draws on it,
//
//	(aw - humidity) p(T)
//
// times what the film of air lets through, where casing and bag let through much
// more, and the time goes with the diameter; while the inside rules, as fast as water
// moves in it, which goes with the temperature alone, and the time with the
// square of the diameter. The truth lies between the two, or outside where a bag,
// a casing or a dry rim has a say.
type AirContrast struct {
	Loss     quantity.Loss // for which the water activity is
	Activity material.Known[quantity.WaterActivity]
	Guessed  bool // some of the composition is taken as usual

	First, Course material.Known[air.Drive]
	// Drive is Warmth times Gap: that of the vapour that the air can hold, and
	// that of what lies between the product and the air.
	Drive, Warmth, Gap material.Known[quantity.Ratio]
	// DriveWithin is where Drive may lie with either hygrometer and the estimated
	// water activity off, each by 3 hundredths, all in the worst way. Rooms of which
	// the same is said are taken as one, in which nothing is off.
	DriveWithin  material.Known[quantity.Between[quantity.Ratio]]
	Inside       material.Known[quantity.Ratio]                   // of how fast water moves inside
	InsideWithin material.Known[quantity.Between[quantity.Ratio]] // with what is known of how that goes with the temperature
	Size         material.Known[quantity.Ratio]                   // of the diameters
	Film         material.Known[quantity.Ratio]                   // of how well the film of air lets vapour through
	Expected     material.Known[quantity.Between[quantity.Ratio]]
	Verdict      AirVerdict
}

// airContrastSources returns the citations behind an AirContrast.
func airContrastSources() []source.Citation {
	return []source.Citation{air.PressureSource(), wateractivity.EstimateSource(), air.FilmSource(), diffusivitySource}
}

// airContrast compares the air of a course with that of the first, at the middle
// of a range of losses; without one, as the pieces were hung.
func (c *comparer) airContrast(i int, span material.Known[quantity.Between[quantity.Loss]], rate material.Known[Told[quantity.Ratio]]) AirContrast {
	out := AirContrast{Verdict: AirNotShown}
	within := span.Or(quantity.Between[quantity.Loss]{})
	out.Loss = c.loss((within.Low.Percent() + within.High.Percent()) / 2)
	mix, guessed, err := c.trial.Composition.Mix()
	if err != nil {
		return out
	}
	out.Guessed = guessed
	if activity, err := mix.At(out.Loss); err == nil {
		out.Activity = material.Is(activity)
	}
	if err := c.size(i, &out); err != nil {
		c.keep(err)
		return out
	}
	if !c.rooms(i, &out) {
		return out
	}
	c.aired = true
	drive, driven := out.Drive.Get()
	inside, warm := out.Inside.Get()
	if !driven || !warm {
		return out
	}
	size, film := out.Size.Or(c.ratio(1)).Float(), out.Film.Or(c.ratio(1)).Float()
	drives := out.DriveWithin.Or(quantity.Exactly(drive))
	insides := out.InsideWithin.Or(quantity.Exactly(inside))
	expected := quantity.Between[quantity.Ratio]{
		Low:  c.ratio(min(drives.Low.Float()/size*min(film, 1), insides.Low.Float()/square(size))),
		High: c.ratio(max(drives.High.Float()/size*max(film, 1), insides.High.Float()/square(size))),
	}
	out.Expected = material.Is(expected)
	measured, is := rate.Get()
	switch {
	case !is:
	case measured.P95.High.Float() < expected.Low.Float():
		out.Verdict = SlowerThanAir
	case measured.P95.Low.Float() > expected.High.Float():
		out.Verdict = FasterThanAir
	default:
		out.Verdict = AirExplains
	}
	return out
}

// size sets the ratio of the mean diameters, where all of both are known, and
// that of the films of air around such pieces, where the speeds are known too.
func (c *comparer) size(i int, out *AirContrast) error {
	mean := func(i int) (float64, bool) {
		var s sample
		for j, p := range c.trial.Courses[i].Pieces {
			d, is := p.Diameter.Get()
			if c.tracks[i][j] != nil && is {
				s.values = append(s.values, d.Millimetres())
			}
		}
		if n := len(s.values); n == 0 || n < len(c.told(i)) {
			return 0, false
		}
		return s.mean(), true
	}
	first, sized := mean(0)
	other, also := mean(i)
	if !sized || !also {
		return nil
	}
	out.Size = material.Is(c.ratio(other / first))
	film := func(i int, millimetres float64) (float64, error) {
		course := c.trial.Courses[i]
		diameter, err := quantity.Millimetres(millimetres)
		if err != nil {
			return 0, err
		}
		const stillest = 0.05 // m/s: air that stands still moves by itself
		speed, err := quantity.MetresPerSecond(math.Max(course.AirSpeed.Or(quantity.Speed{}).MetresPerSecond(), stillest))
		if err != nil {
			return 0, err
		}
		k, err := air.FilmConductance(diameter, course.Temperature.Or(quantity.MustCelsius(usedCelsius)), speed)
		return k.MetresPerSecond(), err
	}
	if !known(c.trial.Courses[0].AirSpeed) || !known(c.trial.Courses[i].AirSpeed) {
		return nil
	}
	one, err := film(0, first)
	if err != nil {
		return err
	}
	two, err := film(i, other)
	if err != nil {
		return err
	}
	out.Film = material.Is(c.ratio(two / one))
	return nil
}

// rooms sets what the two rooms say, and reports whether they say anything.
func (c *comparer) rooms(i int, out *AirContrast) bool {
	first, other := c.trial.Courses[0], c.trial.Courses[i]
	warm, isWarm := first.Temperature.Get()
	warmOther, isWarmOther := other.Temperature.Get()
	if !isWarm || !isWarmOther {
		c.note("air-not-given", fault.At("courses", i, "room"), source.Citation{},
			"What the air has to do with it can't be told without the temperature and the humidity of both rooms.")
		return false
	}
	inside := func(activation float64) float64 {
		return math.Exp(-activation / gasConstant * (1/warmOther.Kelvin() - 1/warm.Kelvin()))
	}
	const either = 5e3 // J/mol: 25 to 35 kJ/mol are usual (recalled, as activation)
	weak, strong := inside(activation-either), inside(activation+either)
	out.Inside = material.Is(c.ratio(inside(activation)))
	out.InsideWithin = material.Is(quantity.Between[quantity.Ratio]{Low: c.ratio(min(weak, strong)), High: c.ratio(max(weak, strong))})
	vapour, err := air.SaturationPressure(warm)
	c.keep(err)
	vapourOther, err := air.SaturationPressure(warmOther)
	c.keep(err)
	if c.err != nil {
		return false
	}
	out.Warmth = material.Is(c.ratio(vapourOther.Kilopascals() / vapour.Kilopascals()))
	humid, isHumid := first.Humidity.Get()
	humidOther, isHumidOther := other.Humidity.Get()
	activity, isActive := out.Activity.Get()
	switch {
	case !isHumid || !isHumidOther:
		c.note("air-not-given", fault.At("courses", i, "room"), source.Citation{},
			"How strongly the air draws can't be compared without the humidity of both rooms.")
		return true
	case !isActive:
		c.note("outside-model", fault.At("courses", i), wateractivity.EstimateSource(),
			"By its composition the product would be drier at a loss of %.3g %% than the model of its water activity reaches.", out.Loss.Percent())
		return true
	}
	drive, err := air.DryingDrive(warm, humid, activity)
	c.keep(err)
	driveOther, err := air.DryingDrive(warmOther, humidOther, activity)
	c.keep(err)
	out.First, out.Course = material.Is(drive), material.Is(driveOther)
	const least = 0.01 // of water activity: less than a hygrometer tells
	gap, gapOther := activity.Float()-humid.Float(), activity.Float()-humidOther.Float()
	if gap < least || gapOther < least {
		c.note("no-drive", fault.At("courses", i, "room"), wateractivity.EstimateSource(),
			"At a loss of %.3g %% the product, at a water activity of about %.3f, is in balance with one of the rooms or takes water from it: their drives can't be compared.",
			out.Loss.Percent(), activity.Float())
		return true
	}
	warmth := vapourOther.Kilopascals() / vapour.Kilopascals()
	out.Gap = material.Is(c.ratio(gapOther / gap))
	out.Drive = material.Is(c.ratio(gapOther / gap * warmth))
	// What a hygrometer is off, by common practice 3 to 5 points where it is damp, and
	// what the estimate of the water activity is in four of five cases.
	const hygrometer, estimated = 0.03, 0.03
	if first.Temperature == other.Temperature && first.Humidity == other.Humidity && first.AirSpeed == other.AirSpeed {
		out.DriveWithin = material.Is(quantity.Exactly(c.ratio(1))) // one room: what is off is off for both
		return true
	}
	low, high := math.Inf(1), 0.0
	for _, activity := range []float64{-estimated, estimated} {
		for _, way := range []float64{-hygrometer, hygrometer} {
			r := math.Max(gapOther+activity-way, least) / math.Max(gap+activity+way, least) * warmth
			low, high = math.Min(low, r), math.Max(high, r)
		}
	}
	out.DriveWithin = material.Is(quantity.Between[quantity.Ratio]{Low: c.ratio(low), High: c.ratio(high)})
	return true
}
