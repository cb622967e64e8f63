package drying

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Seen is what was seen beside a piece that the projection does not need: what
// tells a dry ring from a room gone humid, and both from the scale.
type Seen struct {
	// Humidity is what a hygrometer beside the piece read, the mean since the
	// weigh-in before the last. What was planned or set is none.
	Humidity material.Known[quantity.RelativeHumidity]
	// HumidityWithin is how far off that hygrometer may be, either way, in points.
	HumidityWithin material.Known[quantity.RelativeHumidity]
	// WeighingWithin is how far off one weighing may be, either way.
	WeighingWithin material.Known[quantity.Mass]
}

// What is taken where it is not told; both are meant as two standard deviations.
const (
	// usualWeighing is how far one weighing may be off, in points: the scale is off
	// by 0.1 to 0.5 percent, and a damp casing, string and mould come on top. It is
	// mostGain: what a piece may seem to gain between two weigh-ins.
	usualWeighing = mostGain
	// usualHygrometer is hygrometerError: above 80 percent household hygrometers
	// are off by 3 to 5 points.
	usualHygrometer = hygrometerError
)

func (s Seen) weighing(green quantity.Mass) float64 {
	within, told := s.WeighingWithin.Get()
	if !told {
		return usualWeighing / 2
	}
	const all = 100 // the piece as a whole: more says nothing else
	return math.Min(100*within.Grams()/green.Grams(), all) / 2
}

func (s Seen) hygrometer() float64 {
	within, told := s.HumidityWithin.Get()
	if !told {
		return usualHygrometer / 2
	}
	return within.Percent() / 2
}

// Advice is whether a piece dries well, and what to do about it now. All of it is
// practice: no rule of it bears on whether the piece may be eaten.
type Advice struct {
	Pace     Pace
	Ring     Ring
	Humidity Setting
	Next     Next           // when to weigh it again
	Steps    []finding.Note // what to do, the most urgent first, mostSteps at most
	Cautions []finding.Note // what to look out for in this air
}

// mostSteps is how much anybody does at once.
const mostSteps = 5

// Codes of what to do. No advice has more than one of StepEqualise, StepRaise,
// StepLower and StepKeep.
const (
	StepWeighAgain   = "weigh-again"    // the last weigh-in is in doubt
	StepReadHumidity = "read-humidity"  // it decides between a dry ring and a humid room
	StepEqualise     = "equalise"       // damp still air, or sealed and cold, until the moisture is even
	StepRaise        = "raise-humidity" //
	StepLower        = "lower-humidity" //
	StepKeep         = "keep-humidity"  //
	StepSlowAir      = "slow-air"       // the air is damp enough, and moves too fast
	StepWrap         = "wrap"           // the air can't be set
	StepMeasure      = "measure-core"   // the target is reached, and a loss shows no water activity
	StepWeigh        = "weigh-by"       // the next weigh-in
)

// Advise says whether the piece of a projection dries well, from the projection of
// the same order and what was seen beside the piece.
//
// Nothing is held against the scatter of the scale: a rate counts as beyond a limit
// when it is with what two weighings may be off. Without a hygrometer's reading no
// slow piece is told to have a dry ring, and it is asked for first.
//
// To hold the last weigh-ins against what the ones before them led to it projects
// once more: it costs what Project does.
func Advise(o Order, p Projection, seen Seen) (Advice, error) {
	w := &writer{}
	a := adviser{writer: w, order: o, projection: p, seen: seen, weighing: seen.weighing(o.Green)}
	if err := a.look(); err != nil {
		return Advice{}, err
	}
	out := Advice{Pace: a.pace()}
	ring, err := a.ring(out.Pace)
	if err != nil {
		return Advice{}, err
	}
	out.Ring = ring
	if out.Humidity, err = a.setting(out.Pace, out.Ring); err != nil {
		return Advice{}, err
	}
	out.Next = a.next(out.Ring)
	out.Steps = a.steps(out)
	out.Cautions = a.cautions(out)
	return out, w.err
}

// adviser is what advice is made of, in days and points.
type adviser struct {
	*writer
	order      Order
	projection Projection
	seen       Seen
	weighing   float64 // standard deviation of one weighing

	weighed     []weighed // that count, from the green weight on
	air         Air       // at present
	read        material.Known[quantity.RelativeHumidity]
	sealedUntil float64 // when the pause ends in which it is sealed at present; 0 where it is not
	scale       float64 // of what is comfortable with the diameter, 1 at usedMillimetres
	scaled      bool
	activity    activity
}

// weighed is a weigh-in that counts, index -1 for the green weight.
type weighed struct {
	index            int
	day, dried, loss float64 // dried are the days without those on which it was sealed
}

// activity is the water activity of the piece as a whole by its composition and
// loss; not told where the model does not reach.
type activity struct {
	aw, sd float64
	told   bool
}

// How far the estimate of a water activity may be off: half the 0.05 of
// wateractivity.Estimate95; and what a guessed composition adds: mixtures of 20 and
// 30 percent of back fat lie some 0.02 to either side of the one between at 35
// percent of loss. Derived from the table of recipes that package wateractivity is
// tested against.
const activitySD, guessedSD = 0.025, 0.02

// look gathers what the parts of the advice share.
func (a *adviser) look() error {
	o, p := a.order, a.projection
	hung := o.hung()
	before := inDays(o.Stuffed.Sub(hung))
	a.weighed = append(a.weighed, weighed{-1, before, before, 0})
	for i, w := range p.Weighed {
		if w.Doubt == "" {
			a.weighed = append(a.weighed, weighed{i, inDays(w.Since), before + o.driedBetween(o.Stuffed, w.At), w.Loss.Percent()})
		}
	}
	now := hung.Add(p.Now.Since)
	for _, air := range o.airs() {
		if !air.From.After(now) {
			a.air = air
		}
	}
	for _, pause := range o.Equalising {
		if !pause.From.After(now) && pause.To.After(now) {
			a.sealedUntil = inDays(pause.To.Sub(hung))
		}
	}
	a.read = a.readHumidity()
	a.scale = 1
	if d, sized := o.Diameter.Get(); sized {
		a.scale, a.scaled = math.Pow(usedMillimetres/d.Millimetres(), thickness), true
	}
	var err error
	a.activity, err = a.activityAt(p.Now.Loss.Median)
	return err
}

// activityAt returns the water activity of the piece after a loss.
func (a *adviser) activityAt(loss quantity.Loss) (activity, error) {
	mix, guessed, err := a.order.Composition.Mix()
	if err != nil {
		return activity{}, fmt.Errorf("composition of the piece: %w", err)
	}
	if loss.Percent() < 0 {
		loss = quantity.Loss{} // a gain is the scale's
	}
	aw, err := mix.At(loss)
	if err != nil {
		return activity{}, nil //nolint:nilerr // more is lost than the model of the water activity reaches to
	}
	out := activity{aw: aw.Float(), sd: activitySD, told: true}
	if guessed {
		out.sd = math.Hypot(activitySD, guessedSD)
	}
	return out, nil
}

// readHumidity returns what a hygrometer read of late: what was seen or, where the
// order holds readings, their mean since the weigh-in before the last.
func (a *adviser) readHumidity() material.Known[quantity.RelativeHumidity] {
	var none material.Known[quantity.RelativeHumidity]
	if known(a.seen.Humidity) || len(a.order.Readings) == 0 {
		return a.seen.Humidity
	}
	from := a.order.hung()
	if n := len(a.weighed); n > 1 {
		from = from.Add(since(a.weighed[n-2].day))
	}
	if a.order.Readings[len(a.order.Readings)-1].From.Before(from) {
		return none
	}
	return a.order.mean(from).Humidity
}

// humidity returns what the air is taken to be at, in percent, and whether a
// hygrometer says so; not told where nobody says anything.
func (a *adviser) humidity() (percent float64, read, told bool) {
	if h, is := a.read.Get(); is {
		return h.Percent(), true, true
	}
	h, is := a.air.Humidity.Get()
	return h.Percent(), false, is
}

// equalisedSince reports whether the piece was sealed for a day or more after a day
// since hanging.
func (a *adviser) equalisedSince(day float64) bool {
	for _, pause := range a.order.Equalising {
		from, to := inDays(pause.From.Sub(a.order.hung())), inDays(pause.To.Sub(a.order.hung()))
		if to = math.Min(to, inDays(a.projection.Now.Since)); to-math.Max(from, day) >= 1 {
			return true
		}
	}
	return false
}

// interval is what was lost between two weigh-ins that count.
type interval struct {
	from, to weighed
	rate, sd float64 // a day; the standard deviation by two weighings
}

// days are those of drying.
func (i interval) days() float64 { return i.to.dried - i.from.dried }

// between returns the interval between two weigh-ins.
func (a *adviser) between(from, to weighed) interval {
	i := interval{from: from, to: to}
	i.rate = (to.loss - from.loss) / i.days()
	i.sd = math.Sqrt2 * a.weighing / i.days()
	return i
}

// Which weigh-ins an interval is made of: at least half a day apart and, where
// there are such, so far that what is lost is several times what one weighing may
// be off, but not longer than a week or two. Choices of this project.
const (
	leastApart = 0.5
	tellsFrom  = 6.0 // standard deviations of a weighing: three times what it may be off
	lookBack   = 10.0
)

// last returns the last interval that tells something.
func (a *adviser) last() (interval, bool) {
	n := len(a.weighed)
	if n < 2 {
		return interval{}, false
	}
	last := a.weighed[n-1]
	var out interval
	found := false
	for k := n - 2; k >= 0; k-- {
		from := a.weighed[k]
		days := last.dried - from.dried
		if days < leastApart {
			continue
		}
		if found && days > lookBack {
			break
		}
		out, found = a.between(from, last), true
		if days*a.projection.Now.Rate.Median.PercentPerDay() >= tellsFrom*a.weighing {
			break
		}
	}
	return out, found
}

// cut is the part of a normal distribution that an end of an 80 percent interval
// leaves to one side.
const cut = 1.2816

// Where the advice comes from.
var (
	paceSource   = source.CommonPractice("0.5 to 1.0 percent a day after the first week at 50 to 60 mm, less for thicker; more than 1.5 to 2 in the first week at 50 mm or more makes a dry ring (recalled, medium)")
	ringSource   = source.CommonPractice("a rate below half of the fitted curve while the water activity is more than 0.08 above the air tells of a dry ring (recalled, medium)")
	equalSource  = source.CommonPractice("85 to 90 percent and still air for 2 to 7 days, or sealed and cold for 1 to 4 weeks (recalled, medium)")
	gradedSource = source.Citation{
		Title: "Effect of meat particle size and casing diameter on summer sausage properties during drying", Section: "abstract", Trust: source.ReadSecondary,
		Note: "the outer third 5 to 7 points of moisture below the inner two thirds, from day 5 to day 45, in sausage that dried as it should",
	}
	guideSource = source.Citation{
		Title: "Bundesanstalt für Landwirtschaft und Ernährung (Germany), guide to making organic sausage: raw sausage", Section: "ripening (Reifung)",
		Trust: source.Read, Note: "the air 3 to 5 points under a hundred times the water activity of the sausage, 91 to 93 percent at the start and about 85 at the end; less of a gap in faster air",
	}
)

// AdviceSources returns the citations behind advice.
func AdviceSources() []source.Citation {
	return []source.Citation{paceSource, ringSource, equalSource, gradedSource, guideSource}
}

// steps puts what to do in order.
func (a *adviser) steps(out Advice) []finding.Note {
	var all []finding.Note
	add := func(code string, member fault.Path, from source.Citation, format string, args ...any) {
		all = append(all, finding.Note{Code: code, Member: member, Text: fmt.Sprintf(format, args...), Source: from})
	}
	p := a.projection
	if _, doubted := a.doubted(); doubted {
		add(StepWeighAgain, fault.At("weigh_ins", len(p.Weighed)-1), source.Citation{}, "Weigh the piece again, after a known weight on the same scale: the last weigh-in is left out, and this advice goes by the ones before it.")
	}
	if p.Outcome == AlreadyThere {
		add(StepMeasure, nil, source.Citation{}, "The loss that was aimed at is reached. Take a piece and measure the water activity of its core and of its rim: the higher one counts, and a loss does not show it.")
	}
	if out.Ring.asks {
		add(StepReadHumidity, fault.At("hygrometer"), ringSource, "Read the humidity beside the pieces before anything is changed: %s", out.Ring.ask)
	}
	a.stepHumidity(out, add)
	if p.Outcome != AlreadyThere {
		add(StepWeigh, fault.At("weigh_ins"), ownSource, "%s", out.Next.Why)
	}
	return all[:min(len(all), mostSteps)]
}

// doubted returns the last weigh-in where its weight is in doubt.
func (a *adviser) doubted() (Weighed, bool) {
	n := len(a.projection.Weighed)
	if n == 0 {
		return Weighed{}, false
	}
	last := a.projection.Weighed[n-1]
	return last, last.Doubt != "" && last.Doubt != NotRepeated && last.Doubt != NotDrying
}

// stepHumidity says what to do with the air.
func (a *adviser) stepHumidity(out Advice, add func(code string, member fault.Path, from source.Citation, format string, args ...any)) {
	s := out.Humidity
	at := fault.At("room", "relative_humidity_percent")
	switch s.Action {
	case Equalise:
		add(StepEqualise, at, equalSource, "%s", s.Why)
	case Raise:
		add(StepRaise, at, guideSource, "%s", s.Why)
	case Lower:
		add(StepLower, at, guideSource, "%s", s.Why)
	case Keep:
		add(StepKeep, at, guideSource, "%s", s.Why)
	case NoSetting:
	}
	if s.SlowAir {
		add(StepSlowAir, fault.At("room", "air_speed_m_per_s"), guideSource, "Slow the air down: it is damp enough, and the piece still loses more than is comfortable. In faster air the gap between piece and air has to be smaller.")
	}
	if a.cold() && (s.Action == Raise || s.Action == Equalise) {
		add(StepWrap, fault.At("room"), source.CommonPractice("a membrane bag, or a closed box with salt that is kept wet: 75 percent over table salt, 85 to 87 over potassium chloride at 10 to 20 °C (Greenspan 1977, recalled)"),
			"A refrigerator can't be set to a humidity. Slow the piece instead: in a bag that lets vapour through, or in a closed box over a dish of potassium chloride that is kept wet, which holds 85 to 87 %%; table salt holds 75 %%.")
	}
}

// cold reports whether the piece hangs in a refrigerator, as far as its temperature
// tells.
func (a *adviser) cold() bool {
	const refrigerator = 8
	t, told := a.air.Temperature.Get()
	return told && t.Celsius() <= refrigerator
}

// cautions says what to look out for in this air.
func (a *adviser) cautions(out Advice) []finding.Note {
	var all []finding.Note
	add := func(code string, member fault.Path, text string) {
		all = append(all, finding.Note{Code: code, Member: member, Text: text, Source: source.CommonPractice("cautions of the trade, recalled")})
	}
	at := fault.At("room", "relative_humidity_percent")
	const damp, firstDays, windy = 92.0, 3.0, 0.5
	if h, _, told := a.humidity(); told && h >= damp && inDays(a.projection.Now.Since) > firstDays {
		add("damp-surface", at, "In air of 92 percent and more for days surfaces turn slimy, and unwanted mould grows: look at them every day, and wipe or move the air before lowering it fast.")
	}
	if out.Humidity.Action == Equalise || out.Humidity.Action == Raise {
		add("wet-surface", at, "Damp air must not settle as water: nothing colder than the dew point of the air may hang in it, and a surface that turns tacky or slimy says that it is too damp.")
	}
	if out.Ring.Level == RingLikely || out.Ring.Level == RingWatch {
		add("wet-core", nil, "A piece with a dry rim can reach its loss over a core that is still wet: before it is called done, measure the water activity of the core and of the rim, and go by the higher.")
	}
	if out.Ring.beyond {
		add("air-not-as-told", fault.At("room"), "In the air that was told a piece in a usual casing would not lose as much as was weighed, however quick its inside: the air is drier, warmer or faster, or a weight is wrong.")
	}
	if v, told := a.air.AirSpeed.Get(); told && v.MetresPerSecond() > windy {
		add("fast-air", fault.At("room", "air_speed_m_per_s"), "Air above half a metre a second dries the side that it blows on: turn the pieces, or slow it down.")
	}
	return all
}

// beyond is the probability that a normal distribution is above nothing, of which
// the mean is so much over it; 0 or 1 where there is no spread.
func beyond(over, sd float64) float64 {
	if sd <= 0 {
		if over > 0 {
			return 1
		}
		return 0
	}
	return normal(over / sd)
}

// since returns a time of the piece counted from hanging.
func since(day float64) time.Duration { return fromDays(day) }
