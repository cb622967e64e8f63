package moisture

import (
	"math"
	"slices"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
	"greenweight/domain/wateractivity"
)

// Band is a median and three nested intervals, claimed to hold the truth in 50, 80
// and 90 of 100 cases.
type Band[T any] struct {
	Median        T
	P50, P80, P90 quantity.Between[T]
}

// Never is a time that does not come within the schedule.
const Never = time.Duration(math.MaxInt64)

// Day is when a target is reached, since hanging.
type Day struct {
	Band[time.Duration]
	NotReached quantity.Fraction // share of the courses that do not reach it within the schedule
}

// Target is what a piece is to reach. Each is told by itself.
type Target struct {
	Loss          material.Known[quantity.Loss]
	Core          material.Known[quantity.WaterActivity] // at the centre, or drier
	MoistureRatio material.Known[quantity.Ratio]         // moisture to protein, of the whole, or less
}

// Order is a question for a forecast.
type Order struct {
	Piece    Piece
	Schedule []Step
	// At is when the course is told, since hanging.
	At     []time.Duration
	Target Target
	// Guessed says that the composition, or a part of it, is a guess.
	Guessed bool
}

// Forecast is a course with how far it may be wrong.
type Forecast struct {
	// Course is the one with everything that is not known at its median.
	Course Course
	Loss   []Band[quantity.Loss]          // at the points of the course
	Core   []Band[quantity.WaterActivity] // the same
	// ByLoss, ByCore and ByRatio are when the targets are reached.
	ByLoss, ByCore, ByRatio material.Known[Day]
	Notes                   []finding.Note
}

// How far the unknowns are off, as standard deviations: this project's own, from
// the sources named. See SpreadSource.
const (
	// doubtDiffusivity, of its logarithm: 0.4 between products (DiffusivitySource),
	// and 0.3 by grind, acid and smear, which moved 45 days' loss from 34 to 40
	// percent in one study; sqrt(0.16 + 0.09).
	doubtDiffusivity = 0.5
	// doubtKnown is left of it when the diffusivity is given.
	doubtKnown = 0.3
	// doubtCasing, of the logarithm of its conductance: its 80 percent range is a
	// factor of 2.4; doubtGiven when it was given, and doubtMembrane that of a
	// membrane, tested warm and used cold, that may lie badly.
	doubtCasing, doubtGiven, doubtMembrane = 0.68, 0.25, 0.4
	// doubtFilm, of the logarithm of the film's resistance, which grows where pieces
	// shade each other.
	doubtFilm = 0.3
	// doubtHumidity is that of a hygrometer, 3 to 5 points for its worst.
	doubtHumidity = 0.02
	// doubtActivity is that of the estimated water activity, of which 0.03 to either
	// side hold 80 percent (wateractivity.Estimate80); doubtGuess when the composition is a guess.
	doubtActivity, doubtGuess = 0.0234, 0.04
	// doubtShape, as a part of the loss: what the model itself is off, and what a
	// scale sees of fat, drip and string.
	doubtShape = 0.04
)

// SpreadSource cites how far the unknowns are off.
func SpreadSource() source.Citation {
	return source.CommonPractice("the project's own spreads: diffusivity within a factor of 1.65, casing 2, film 1.35 and humidity 2 points (one standard deviation each), the model 4 percent of the loss")
}

// Sources returns the citations behind a course.
func Sources() []source.Citation {
	return []source.Citation{
		DiffusivitySource(), CasingSource(), MembraneSource(), SpreadSource(), schemeSource,
		wateractivity.BrineSource(), wateractivity.SorptionSource(),
	}
}

// MembraneSource cites how a membrane's test is read.
func MembraneSource() source.Citation {
	return source.Citation{
		Title: "ASTM E96/E96M, Standard test methods for water vapor transmission of materials", Trust: source.Memory,
		Note: "permeance is the transmission over the difference of vapour pressure of the test, which must be stated with it",
	}
}

var schemeSource = source.Citation{
	Title: "Crank, The Mathematics of Diffusion, 2nd edition", Year: 1975, Section: "chapters 4, 5 and 10 (diffusion with shrinking, in the coordinate of what stays)",
	Trust: source.Memory, Note: "the course agrees with the series of chapters 4 and 5 within 0.0005 of the moisture ratio",
}

const (
	nodes     = 64 // half of them mirror the others
	nodeCells = 24
	unknowns  = 6
	// nodeWidth and nodeSpans are finest and mostSpans of a course among many.
	nodeWidth = 6 * time.Hour
	nodeSpans = 400
	// nodePoints are the times at which those courses are told, beside the order's.
	nodePoints = 120
)

// draws returns the standard normal deviates of each course: a sequence that fills
// the space evenly, each point with its mirror image, so that what is linear in
// the unknowns has its median in the middle.
//
// Source: Roberts, The unreasonable effectiveness of quasirandom sequences, 2018
// (recalled): multiples of the powers of 1/g, g^(d+1) = g + 1.
func draws() [nodes][unknowns]float64 {
	g := 1.0
	for range 60 {
		g = math.Pow(1+g, 1.0/(unknowns+1))
	}
	var z [nodes][unknowns]float64
	for i := range nodes / 2 {
		a := 1.0
		for j := range unknowns {
			a /= g
			_, u := math.Modf(0.5 + a*float64(i+1))
			z[i][j] = math.Sqrt2 * math.Erfinv(2*u-1)
			z[nodes-1-i][j] = -z[i][j]
		}
	}
	return z
}

// outcome is a course among many: its losses, and the water activity of its core.
type outcome struct{ loss, core []float64 }

// Project returns the course of a piece with its bands: the solver is run for 64
// sets of what is not known, see the spreads above, which takes about a tenth of a
// second for 90 days.
//
// It reports what Simulate reports; for a target without meaning fault.Invalid
// ("target").
func Project(o Order) (Forecast, error) {
	course, err := Simulate(o.Piece, o.Schedule, o.At)
	if err != nil {
		return Forecast{}, err
	}
	whole, err := validate(o.Schedule)
	if err != nil {
		return Forecast{}, err
	}
	f := Forecast{Course: course, Notes: o.notes()}
	goals, err := o.goals()
	if err != nil {
		return Forecast{}, err
	}
	times := make([]time.Duration, 0, len(course.Points)+nodePoints+1)
	for _, p := range course.Points {
		times = append(times, p.At)
	}
	for i := range nodePoints + 1 {
		times = append(times, whole*time.Duration(i)/nodePoints)
	}
	p := o.Piece
	p.Cells = nodeCells
	b, err := p.body()
	if err != nil {
		return Forecast{}, err
	}
	parts, err := averaged(o.Schedule, max(nodeWidth, whole/nodeSpans))
	if err != nil {
		return Forecast{}, err
	}
	middle, err := o.follow(*b, parts, times, [unknowns]float64{})
	if err != nil {
		return Forecast{}, err
	}
	all := make([]outcome, 0, nodes)
	for _, z := range draws() {
		out, err := o.follow(*b, parts, times, z)
		if err != nil {
			return Forecast{}, err
		}
		all = append(all, out)
	}
	for i, point := range course.Points {
		middle.loss[i], middle.core[i] = point.Loss.Float(), point.Core.Float()
		loss, err := bandOf(all, middle, func(o outcome) float64 { return 100 * o.loss[i] }, quantity.LossPercent)
		if err != nil {
			return Forecast{}, err
		}
		core, err := bandOf(all, middle, func(o outcome) float64 { return o.core[i] }, quantity.NewWaterActivity)
		if err != nil {
			return Forecast{}, err
		}
		f.Loss, f.Core = append(f.Loss, loss), append(f.Core, core)
	}
	// From here on in the order of time.
	first := len(course.Points)
	for _, g := range goals {
		reached := func(o outcome) float64 {
			series := o.loss
			if g.core {
				series = o.core
			}
			return crossing(times[first:], series[first:], g.at, g.core)
		}
		day, err := dayOf(all, middle, reached)
		if err != nil {
			return Forecast{}, err
		}
		*g.into(&f) = material.Is(day)
	}
	return f, nil
}

// goal is a target as a loss, or as the water activity of the core.
type goal struct {
	at   float64
	core bool
	into func(*Forecast) *material.Known[Day]
}

func (o Order) goals() ([]goal, error) {
	var all []goal
	var bad fault.Collector
	if loss, known := o.Target.Loss.Get(); known {
		if loss.Float() >= o.Piece.Mix.Water.Float() || loss.Float() <= 0 {
			bad.Add(fault.At("target", "loss_percent"), "range", "must be more than 0 and less than the %v of water, got %v", o.Piece.Mix.Water, loss)
		}
		all = append(all, goal{loss.Float(), false, func(f *Forecast) *material.Known[Day] { return &f.ByLoss }})
	}
	if aw, known := o.Target.Core.Get(); known {
		if aw.Float() < crystallises {
			bad.Add(fault.At("target", "core_aw"), "minimum", "must be at least %g, where salt crystallises, got %v", crystallises, aw)
		}
		all = append(all, goal{aw.Float(), true, func(f *Forecast) *material.Known[Day] { return &f.ByCore }})
	}
	if ratio, known := o.Target.MoistureRatio.Get(); known {
		loss, err := o.Piece.Mix.LossAtRatio(ratio)
		bad.AddError(fault.At("target", "moisture_protein_ratio"), codeInvalid, err)
		all = append(all, goal{loss.Float(), false, func(f *Forecast) *material.Known[Day] { return &f.ByRatio }})
	}
	return all, bad.Err(codeInvalid, "the target has no meaning as it stands")
}

// follow returns the course of a body for a set of deviates. A positive one makes
// the piece dry further.
func (o Order) follow(b body, parts []part, times []time.Duration, z [unknowns]float64) (outcome, error) {
	p := o.Piece
	spread := doubtDiffusivity
	if _, given := p.Diffusivity.Get(); given {
		spread = doubtKnown
	}
	b.diffusivity *= math.Exp(spread * z[0])
	spread = doubtCasing
	if _, given := p.CasingConductance.Get(); given {
		spread = doubtGiven
	}
	b.casing *= math.Exp(-spread * z[1])
	b.membrane *= math.Exp(-doubtMembrane * z[1])
	b.shade = math.Exp(-doubtFilm * z[2])
	activity := doubtActivity
	if o.Guessed {
		activity = doubtGuess
	}
	// A mixture of a higher water activity than was estimated is to the surface what
	// drier air is.
	higher := activity * z[4]
	b.wetter = -doubtHumidity*z[3] - higher
	shape := 1 + doubtShape*z[5]
	spans, err := b.spans(parts)
	if err != nil {
		return outcome{}, err
	}
	out := outcome{loss: make([]float64, len(times)), core: make([]float64, len(times))}
	_, err = b.run(spans, inSeconds(times), nodeTolerance, func(i int, s state, _ *rates, _ *forcing) error {
		out.loss[i] = min(b.solids*s.lost*shape, b.x0*b.solids)
		aw, _ := b.iso.at(b.centre(s.x))
		out.core[i] = min(max(aw+higher, 0), 1)
		return nil
	})
	return out, err
}

// nodeTolerance is that of a course among many, of which the bands are wider.
const nodeTolerance = 5e-4

// crossing returns when a series first comes to a value, from below or from above,
// in seconds; infinity when it does not. Between its times it is taken as straight.
func crossing(at []time.Duration, series []float64, value float64, falling bool) float64 {
	sign := 1.0
	if falling {
		sign = -1
	}
	for i, v := range series {
		if sign*(v-value) < 0 {
			continue
		}
		if i == 0 {
			return at[0].Seconds()
		}
		before := series[i-1]
		from, until := at[i-1].Seconds(), at[i].Seconds()
		return from + (until-from)*(value-before)/(v-before)
	}
	return math.Inf(1)
}

// quantile returns that of an ascending series, between the middles of its steps.
func quantile(sorted []float64, p float64) float64 {
	at := min(max(p*float64(len(sorted))-0.5, 0), float64(len(sorted)-1))
	low := int(at)
	if low == len(sorted)-1 || at == float64(low) {
		return sorted[low]
	}
	if math.IsInf(sorted[low+1], 1) {
		return sorted[low+1]
	}
	return sorted[low] + (at-float64(low))*(sorted[low+1]-sorted[low])
}

// bandOf returns the band of a figure. Its median is that of the course in the
// middle, which a reader sees beside it, so long as it lies in the middle half.
func bandOf[T any](all []outcome, middle outcome, figure func(outcome) float64, of func(float64) (T, error)) (Band[T], error) {
	sorted := make([]float64, len(all))
	for i, o := range all {
		sorted[i] = figure(o)
	}
	slices.Sort(sorted)
	var first error
	at := func(v float64) T {
		t, err := of(v)
		if first == nil {
			first = err
		}
		return t
	}
	between := func(share float64) quantity.Between[T] {
		return quantity.Between[T]{Low: at(quantile(sorted, (1-share)/2)), High: at(quantile(sorted, (1+share)/2))}
	}
	median := min(max(figure(middle), quantile(sorted, 0.25)), quantile(sorted, 0.75))
	return Band[T]{Median: at(median), P50: between(0.5), P80: between(0.8), P90: between(0.9)}, first
}

func dayOf(all []outcome, middle outcome, reached func(outcome) float64) (Day, error) {
	band, err := bandOf(all, middle, reached, func(seconds float64) (time.Duration, error) {
		if math.IsInf(seconds, 1) {
			return Never, nil
		}
		return time.Duration(seconds * float64(time.Second)), nil
	})
	if err != nil {
		return Day{}, err
	}
	never := 0
	for _, o := range all {
		if math.IsInf(reached(o), 1) {
			never++
		}
	}
	share, err := quantity.NewFraction(float64(never) / float64(len(all)))
	return Day{Band: band, NotReached: share}, err
}

// notes says what a reader must know of the question.
func (o Order) notes() []finding.Note {
	var notes []finding.Note
	note := func(code string, member []string, text string, from source.Citation) {
		notes = append(notes, finding.Note{Code: code, Member: member, Text: text, Source: from})
	}
	p := o.Piece
	if length, known := p.Length.Get(); known && p.Shape == Cylinder && length.Metres() <= shortPiece*p.Thickness.Metres() {
		note("short-piece", fault.At("piece", "length"),
			"The ends are not in the model, and a short piece dries faster than this: with open ends its loss in the first week is up to a twelfth larger at four diameters of length, and up to a sixth at two.", schemeSource)
	}
	if _, known := p.Membrane.Get(); known {
		note("membrane-gaps", fault.At("piece", "membrane"),
			"The membrane is taken to lie on the meat everywhere. Where air is between them it lets far less water through: press the air out, and expect longer.", MembraneSource())
	}
	if _, given := p.CasingConductance.Get(); p.Casing == Plastic && !given {
		note("tight-casing", fault.At("piece", "casing"), "A plastic casing lets next to no water through: this piece does not dry.", CasingSource())
	}
	if p.Shape != Cylinder {
		note("wide-slab", fault.At("piece", "shape"),
			"The edges are not in the model: a piece that is less than four times as wide as thick dries faster than this.", schemeSource)
	}
	if o.Guessed {
		note("composition-not-given", fault.At("piece", "composition"),
			"What is not given of the composition is taken as usual, with more doubt: fatter or leaner mixtures stop drying up to 5 points of loss earlier or later.", wateractivity.TypicalMixSource())
	}
	for i, s := range o.Schedule {
		if !s.Sealed && len(s.Log) == 0 && s.Air.Speed.MetresPerSecond() < stillest {
			note("still-air", fault.At("steps", i, "air_speed_m_per_s"), "Air this still moves by itself along a cool piece: 0.05 m/s is taken.", SpreadSource())
			break
		}
	}
	return notes
}

const shortPiece = 4
