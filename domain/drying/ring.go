package drying

import (
	"fmt"
	"math"
	"strings"
	"time"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// RingLevel is how much speaks for a dry ring: a hard dry rim over a wet core. The
// zero value is invalid.
type RingLevel int

// The levels.
const (
	RingNoneSeen RingLevel = iota + 1 // what was looked at shows none
	RingWatch                         // something makes one likely to come, or it can't be told from another cause
	RingLikely                        // the piece slowed down in air that should still draw water from it
	RingNotShown                      // too little is known
)

var ringWords = []string{"", "none-seen", "watch", "likely", "not-shown"}

// String returns the word used on the wire.
func (l RingLevel) String() string { return wordOf(ringWords, int(l)) }

// Ring is the risk of a dry ring, with what it was judged from.
type Ring struct {
	Level     RingLevel
	Signature Signature
	Rim       material.Known[Rim]
	History   History
	Why       string
	Source    source.Citation

	asks   bool // the humidity decides, and was not read
	ask    string
	beyond bool // in the air that was told no piece, however quick inside, loses what was weighed
}

// SignatureVerdict is what the loss in the last interval says. The zero value is
// invalid.
type SignatureVerdict int

// The verdicts.
const (
	AsFitted        SignatureVerdict = iota + 1 // not below half of what was expected
	SlowedInDryAir                              // below half, and the air should still draw water: a dry ring
	SlowedInDampAir                             // below half, and the air explains it
	SlowedUnclear                               // below half, and piece and air are too close to tell, or the air was not read
	SlowingNotShown                             // too little was weighed, or too close together
)

var signatureWords = []string{"", "as-fitted", "slowed-in-dry-air", "slowed-in-damp-air", "slowed-unclear", "not-shown"}

// String returns the word used on the wire.
func (v SignatureVerdict) String() string { return wordOf(signatureWords, int(v)) }

// Signature holds the loss of the last interval against what the weigh-ins before
// it led to.
type Signature struct {
	Verdict  SignatureVerdict
	Measured material.Known[Interval]
	Expected material.Known[Band[quantity.LossRate]] // in the interval, by what was weighed before it
	Halved   material.Known[quantity.Fraction]       // chance that the rate was below half of it
	Drives   material.Known[quantity.Fraction]       // chance that the water activity is more than leastDrive above the air
	Activity material.Known[quantity.Estimate[quantity.WaterActivity]]
}

// History is what a rim was made by before: how fast it dried in its first week,
// and in how dry an air.
type History struct {
	FastFirstWeek material.Known[Interval] // the fastest of that week, where it was beyond the limit
	DryAir        material.Known[quantity.RelativeHumidity]
}

// What makes a signature: ringSource. The chances are choices of this project: at
// 0.9 and 0.8 both have to be told apart from the scatter of scale and meter.
const (
	halved     = 0.5
	leastDrive = 0.08
	sureHalved = 0.9
	mayBe      = 0.3 // from where a halved rate can't be ruled out
	sureDrive  = 0.8
	// driest is the humidity below which no published process dries sausage: 60 to
	// 85 percent, of a chorizo with a geographical indication (BOE 54, 4 March
	// 2006, summary). Two logs of hobby makers hardened at 40 to 50.
	driestProcess = 60.0
	// forgotten is after how many days a fast first week says nothing more, when
	// the piece dries on as fitted: a choice of this project.
	forgotten = 28.0
)

// ring judges the risk of a dry ring.
func (a *adviser) ring(pace Pace) (Ring, error) {
	out := Ring{Level: RingNotShown, Source: ringSource, History: a.history()}
	var err error
	if out.Signature, err = a.signature(); err != nil {
		return Ring{}, err
	}
	if out.Rim, out.beyond, err = a.rim(); err != nil {
		return Ring{}, err
	}
	var why []string
	s := &out.Signature
	switch s.Verdict {
	case AsFitted:
		out.Level = RingNoneSeen
	case SlowedInDampAir:
		out.Level = RingNoneSeen
		why = append(why, a.slowed(s)+" The air explains it: it is almost in balance with the piece. It tells of no dry ring.")
	case SlowedInDryAir:
		out.Level = RingLikely
		why = append(why, a.slowed(s)+" The air should still draw water from it: that is how a dry rim over a wet core shows on the scale.")
	case SlowedUnclear:
		_, read, _ := a.humidity()
		if read {
			out.Level = RingWatch
			why = append(why, a.slowed(s)+" Piece and air are too close to each other to tell a dry rim from a humid room: check the hygrometer, and cut a piece.")
			break
		}
		out.asks, out.ask = a.projection.Outcome != AlreadyThere, a.decides()
		why = append(why, a.slowed(s)+" Whether that is a dry rim or a room gone humid, only the humidity tells, and nobody read it.")
	case SlowingNotShown:
	}
	raised := a.raised(&out, pace)
	if len(raised) > 0 && out.Level != RingLikely {
		out.Level = RingWatch
	}
	why = append(why, raised...)
	switch {
	case len(why) > 0:
	case out.Level == RingNoneSeen:
		why = append(why, "The last weigh-ins go with the ones before them: nothing on the scale tells of a dry rim. The scale does not show all: a cut does.")
	case known(s.Halved):
		why = append(why, a.slowing(s))
	default:
		why = append(why, "Too little was weighed to hold the last weigh-ins against the ones before.")
	}
	out.Why = strings.Join(why, " ")
	return out, nil
}

// raised returns what makes a dry ring likely to come, whatever the last weigh-ins
// show.
func (a *adviser) raised(r *Ring, pace Pace) []string {
	var why []string
	forgets := r.Signature.Verdict == AsFitted && inDays(a.projection.Now.Since) > forgotten || a.equalisedSince(week)
	if i, is := r.History.FastFirstWeek.Get(); is && !forgets {
		why = append(why, fmt.Sprintf("In its first week it lost up to %.1f %% a day, a sign of a dry rim to come.", i.Rate.PercentPerDay()))
	} else if pace.Verdict == TooFast {
		why = append(why, "It dries faster than its inside can follow.")
	}
	if h, is := r.History.DryAir.Get(); is {
		why = append(why, fmt.Sprintf("The air, at %.0f %%, is drier than any process that was published.", h.Percent()))
	}
	if rim, is := r.Rim.Get(); is && rim.Steep {
		why = append(why, rim.words())
	}
	return why
}

// slowing says that it can't be told whether the piece slowed down.
func (a *adviser) slowing(s *Signature) string {
	i, _ := s.Measured.Get()
	e, _ := s.Expected.Get()
	return fmt.Sprintf("In the last %s it lost %.2f %% a day, and the weigh-ins before led to %.2f: it may have slowed down, or that is the scatter of scale and piece. The next weigh-in tells.",
		lasting(i.To-i.From), spoken(i.Rate.PercentPerDay()), e.Median.PercentPerDay())
}

// slowed puts a slowed loss into words.
func (a *adviser) slowed(s *Signature) string {
	i, _ := s.Measured.Get()
	e, _ := s.Expected.Get()
	return fmt.Sprintf("In the last %s it lost %.2f %% a day, less than half of the %.2f that the weigh-ins before led to.", lasting(i.To-i.From), spoken(i.Rate.PercentPerDay()), e.Median.PercentPerDay())
}

// decides says which humidity would mean what.
func (a *adviser) decides() string {
	if !a.activity.told {
		return "in damp air the room is the cause, in dry air a dry rim is likely."
	}
	balance := 100 * a.activity.aw
	return fmt.Sprintf("near %.0f %%, where piece and air are in balance, the room is the cause; at %.0f %% or below, a dry rim is likely.", balance, math.Max(balance-100*leastDrive-100*activitySD, 0))
}

// history looks at the first week and at the air.
func (a *adviser) history() History {
	var out History
	fastest := 0.0
	for k, from := range a.weighed {
		for _, to := range a.weighed[k+1:] {
			if from.day < -nearHanging.Hours()/24 || from.day >= week || to.day > week+2 || to.dried-from.dried < 1 {
				continue
			}
			i := a.between(from, to)
			_, _, tooFast := a.limits((from.day+to.day)/2, to.loss)
			if a.scaled && i.rate-cut*i.sd > tooFast && i.rate > fastest {
				fastest = i.rate
				out.FastFirstWeek = material.Is(a.interval(i))
			}
		}
	}
	lowest := math.Inf(1)
	for _, h := range []material.Known[quantity.RelativeHumidity]{a.air.Humidity, a.read} {
		if v, told := h.Get(); told {
			lowest = math.Min(lowest, v.Percent())
		}
	}
	if lowest+2*a.seen.hygrometer() < driestProcess {
		h, err := quantity.HumidityPercent(lowest)
		a.keep(err)
		out.DryAir = material.Is(h)
	}
	return out
}

func (a *adviser) interval(i interval) Interval {
	return Interval{
		From: since(i.from.day), To: since(i.to.day), Rate: a.rate(i.rate),
		Within: quantity.Between[quantity.LossRate]{Low: a.rate(i.rate - cut*i.sd), High: a.rate(i.rate + cut*i.sd)},
	}
}

// signature holds the last interval against what the weigh-ins before it led to:
// the projection of the same order without the weigh-ins in it.
func (a *adviser) signature() (Signature, error) {
	out := Signature{Verdict: SlowingNotShown}
	if a.activity.told {
		e, err := a.activity.estimate()
		if err != nil {
			return out, err
		}
		out.Activity = material.Is(e)
	}
	i, there := a.last()
	if !there || i.from.index < 0 || i.from.dried*24 < leastHanging.Hours() || a.equalisedSince(i.to.day) ||
		i.to.day-i.from.day > i.days() {
		return out, nil // it was sealed in that time, or since: what it does now is another course
	}
	before, err := Project(a.order.until(i.from.index))
	if err != nil {
		return out, fmt.Errorf("what the weigh-ins before led to: %w", err)
	}
	if !before.Fitted || before.Latest != i.from.index {
		return out, nil
	}
	expected := before.during(i)
	out.Measured, out.Expected = material.Is(a.interval(i)), material.Is(Band[quantity.LossRate]{
		Median: a.rate(expected[3]), P50: quantity.Between[quantity.LossRate]{Low: a.rate(expected[2]), High: a.rate(expected[4])},
		P80: quantity.Between[quantity.LossRate]{Low: a.rate(expected[1]), High: a.rate(expected[5])},
		P90: quantity.Between[quantity.LossRate]{Low: a.rate(expected[0]), High: a.rate(expected[6])},
	})
	slow := below(i, expected)
	out.Halved = material.Is(a.fraction(slow))
	drive, driven := a.drive()
	if driven {
		out.Drives = material.Is(a.fraction(drive))
	}
	out.Verdict = verdictOf(slow, drive, driven)
	return out, nil
}

// verdictOf judges by the chance that the rate was halved and, where the air was
// read, by the chance that it should still draw water.
func verdictOf(slow, drive float64, driven bool) SignatureVerdict {
	switch {
	case slow < mayBe:
		return AsFitted
	case slow < sureHalved:
		return SlowingNotShown
	case !driven:
		return SlowedUnclear
	case drive >= sureDrive:
		return SlowedInDryAir
	case drive <= 1-sureDrive:
		return SlowedInDampAir
	default:
		return SlowedUnclear
	}
}

// until returns the order as it stood at one of its weigh-ins.
func (o Order) until(index int) Order {
	o.WeighIns = o.WeighIns[: index+1 : index+1]
	o.AsOf = time.Time{}
	return o
}

// during returns the quantiles, at tails, of the rate in an interval, at the
// beginning of which the course begins: that at its middle, moved so that its median
// is the mean of the course.
func (out *Projection) during(i interval) [7]float64 {
	from, to := i.from.day, i.to.day
	course := out.Course
	at := func(day float64) (int, float64) {
		for k := range len(course) - 1 {
			a, b := inDays(course[k].Since), inDays(course[k+1].Since)
			if day <= b {
				return k, math.Min(math.Max((day-a)/(b-a), 0), 1)
			}
		}
		return max(len(course)-2, 0), 1
	}
	value := func(day float64, of func(Point) float64) float64 {
		k, part := at(day)
		next := min(k+1, len(course)-1)
		return of(course[k])*(1-part) + of(course[next])*part
	}
	mid := (from + to) / 2
	loss := func(p Point) float64 { return p.Loss.Median.Percent() }
	median := math.Max((value(to, loss)-value(from, loss))/i.days(), 0)
	rates := [7]func(Point) float64{}
	for k, of := range [7]func(b Band[quantity.LossRate]) quantity.LossRate{
		func(b Band[quantity.LossRate]) quantity.LossRate { return b.P90.Low },
		func(b Band[quantity.LossRate]) quantity.LossRate { return b.P80.Low },
		func(b Band[quantity.LossRate]) quantity.LossRate { return b.P50.Low },
		func(b Band[quantity.LossRate]) quantity.LossRate { return b.Median },
		func(b Band[quantity.LossRate]) quantity.LossRate { return b.P50.High },
		func(b Band[quantity.LossRate]) quantity.LossRate { return b.P80.High },
		func(b Band[quantity.LossRate]) quantity.LossRate { return b.P90.High },
	} {
		rates[k] = func(p Point) float64 { return of(p.Rate).PercentPerDay() }
	}
	var all [7]float64
	middle := value(mid, rates[3])
	for k := range all {
		r := value(mid, rates[k])
		if middle > 0 {
			r *= median / middle
		}
		all[k] = math.Max(r, 0)
	}
	return all
}

// below returns the chance that the rate of an interval was below half of the one
// that was expected: over the quantiles of the latter, the chance that what two
// weighings may be off makes it so.
func below(i interval, expected [7]float64) float64 {
	const nodes = 40
	sum := 0.0
	for n := range nodes {
		p := (float64(n) + 0.5) / nodes
		sum += beyond(halved*quantileAt(expected, p)-i.rate, i.sd)
	}
	return sum / nodes
}

// quantileAt returns a quantile between those at tails, in straight lines, and at
// the ends the ones there.
func quantileAt(at [7]float64, p float64) float64 {
	for k := range len(tails) - 1 {
		if p <= tails[k+1] {
			part := math.Max((p-tails[k])/(tails[k+1]-tails[k]), 0)
			return at[k] + part*(at[k+1]-at[k])
		}
	}
	return at[6]
}

// drive returns the chance that the piece is more than leastDrive above the air, as
// far as a hygrometer tells.
func (a *adviser) drive() (float64, bool) {
	h, read := a.read.Get()
	if !read || !a.activity.told {
		return 0, false
	}
	return beyond(a.activity.aw-h.Float()-leastDrive, math.Hypot(a.activity.sd, a.seen.hygrometer()/100)), true
}

// estimate returns the water activity with the interval that holds 80 of 100 cases.
func (v activity) estimate() (quantity.Estimate[quantity.WaterActivity], error) {
	var out quantity.Estimate[quantity.WaterActivity]
	for _, of := range []struct {
		to *quantity.WaterActivity
		aw float64
	}{{&out.Low, v.aw - cut*v.sd}, {&out.Mid, v.aw}, {&out.High, v.aw + cut*v.sd}} {
		aw, err := quantity.NewWaterActivity(math.Min(math.Max(of.aw, 0), 1))
		if err != nil {
			return out, err
		}
		*of.to = aw
	}
	out.Coverage = quantity.MustPercent(80)
	return out, nil
}
