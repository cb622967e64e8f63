package acidification

import (
	"fmt"
	"math"
	"slices"
	"time"

	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Model is the name and version of the model, which changes whenever the same
// order would get another answer.
const Model = "acidification-thermal-2026.1"

// Never stands for a time that does not come.
const Never time.Duration = math.MaxInt64

// Outcome is what kind of answer a crossing is. The zero value is invalid.
type Outcome int

// The outcomes.
const (
	Projected    Outcome = iota + 1 // the pH is reached at a time that can be told within bounds
	AlreadyThere                    // a pH at or below it was read
	MayNotReach                     // it is rather reached than not, and may well not be
	WillNotReach                    // more likely than not it is not reached within the horizon
)

// String returns the word used on the wire.
func (o Outcome) String() string {
	switch o {
	case Projected:
		return "projected"
	case AlreadyThere:
		return "already-there"
	case MayNotReach:
		return "may-not-reach"
	case WillNotReach:
		return "will-not-reach"
	default:
		return "unstated"
	}
}

// Projection is the answer to an Order.
type Projection struct {
	Model    string
	Fitted   bool          // false: at most one reading counts, and every band is little more than the one before any
	Readings []Seen        // those of the course, in its order
	Now      time.Duration // the end of the temperatures so far or the last reading, whichever is later
	Course   []Point       // from the start on, through Now, at most mostPoints; up to the last reading that counts where the pH rose after its lowest
	To       []Crossing    // to 5.3, then to the target where it is another
	Floor    Band[quantity.PH]
	Advice   *Advice // nil where 5.3 was read
	Deciding string  // id of the rule on degree-hours that is the guidance of the rulebook; empty where neither is
	Findings []finding.Finding
	Notes    []finding.Note
}

// Seen is a reading of the pH as the fit saw it.
type Seen struct {
	At     time.Duration
	PH     quantity.PH
	Within quantity.Between[quantity.PH] // what it may be
	Doubt  string                        // code of the reason why it was left out; empty when it counts
	Why    string                        // the same for people
}

// Band is a quantity with nested intervals, each of which is claimed to hold the
// truth in that share of cases.
type Band[T any] struct {
	Median        T
	P50, P80, P90 quantity.Between[T]
}

// Point is the sausage at one time.
type Point struct {
	At      time.Duration
	PH      Band[quantity.PH]
	Chamber quantity.Temperature
	Core    quantity.Temperature
}

// Crossing is when a pH is reached, counted from the start. Where it may not be
// reached, the end of an interval, or the median, may not exist: it is Never.
type Crossing struct {
	PH            quantity.PH
	Outcome       Outcome
	Median        time.Duration
	P50, P80, P90 quantity.Between[time.Duration]
	NotReached    quantity.Fraction // probability that it is not reached within the horizon

	// Reading is the index of the first reading at or below the pH, -1 while there
	// is none, and Estimated where a straight line from the reading before it
	// crosses; nil without one. With such a reading the times are those of the line
	// and the reading, not of the curve.
	Reading   int
	Estimated *time.Duration

	Limits []Limit // on degree-hours, in the order of rulebook.DegreeHourSets; of 5.3 alone

	hours, chance []float64 // distribution: ascending both
}

// Limit is a limit on degree-hours beside the time at which 5.3 is reached.
type Limit struct {
	Set      rulebook.DegreeHourSet
	Reached  time.Duration // along the temperatures so far and to come; Never when it is not
	Cautious time.Duration // the same if the thermometer reads too low by its uncertainty
	Before   quantity.Fraction
	Surely   quantity.Fraction // probability that the pH comes before Reached, and before Cautious
}

// Quantile returns the time by which the pH is reached with probability p, Never
// when the probability that it is reached at all is smaller.
func (c Crossing) Quantile(p quantity.Fraction) time.Duration { return c.quantile(p.Float()) }

// The answer's bounds. Choices of this project.
const (
	// horizon is how far ahead of the last reading a time is told.
	horizon = 30 * 24 * time.Hour
	// nodes is how many times the chance of having crossed is computed at, from
	// soonest on in equal parts of themselves.
	nodes   = 150
	soonest = 0.1 // h
	// mostPoints bounds Course.
	mostPoints = 100
	// enough is how many readings make a fit.
	enough = 2
	// mayNot and willNot are the probabilities of not reaching a pH from which the
	// outcome says so.
	mayNot, willNot = 0.1, 0.5
	// surest bounds the probability that a pH was crossed before the last reading,
	// which is above it.
	surest = 0.99
)

// Project answers an order. It reports fault.Invalid with every member at fault,
// as described at Order. Readings that can't belong to the fall of the pH are no
// fault: they are left out, and Readings says which and why.
//
// One projection weighs at most some 43,000 curves against at most mostSeen
// readings: some tens of milliseconds with twenty readings.
func Project(o Order) (Projection, error) {
	way, err := o.read()
	if err != nil {
		return Projection{}, err
	}
	out := Projection{Model: Model, Readings: o.judged()}
	counts := counting(out.Readings)
	out.Fitted = len(counts) >= enough
	out.Now = max(way.end, 0)
	from := time.Duration(0)
	for _, r := range counts {
		from = max(from, r.At)
	}
	out.Now = max(out.Now, from)
	p := o.before()
	t := teller{
		way: way, from: from, prior: &p,
		clock: run(way.stretches, way.last, (out.Now + horizon).Hours(), way.lag, p.rate),
	}
	t.post = fit(&p, t.observations(counts))
	t.scan()
	if err := t.tell(o, &out, counts); err != nil {
		return Projection{}, fmt.Errorf("tell the projection: %w", err)
	}
	return out, nil
}

// teller puts what the fit says into the answer.
type teller struct {
	way   way
	from  time.Duration // of the last reading that counts, or the start
	prior *prior
	clock *clock
	post  *posterior
	nodes []node
}

// node is a time with the pH of all curves then.
type node struct {
	hours, sd float64
	phs       []float64
}

// scan computes the nodes.
func (t *teller) scan() {
	growth := math.Pow(horizon.Hours()/soonest, 1.0/(nodes-2))
	ahead := 0.0
	for i := range nodes {
		n := node{hours: t.from.Hours() + ahead}
		thermal, _, _ := t.clock.at(n.hours)
		n.phs, n.sd = t.post.phs(thermal, nil)
		t.nodes = append(t.nodes, n)
		ahead = soonest * math.Pow(growth, float64(i))
	}
}

// tell fills in the answer.
func (t *teller) tell(o Order, out *Projection, counts []Seen) error {
	var w writer
	targets := []quantity.PH{clockPH()}
	if o.Target != (quantity.PH{}) && o.Target != clockPH() {
		targets = append(targets, o.Target)
	}
	for _, target := range targets {
		out.To = append(out.To, t.crossing(&w, target, out.Readings, counts))
	}
	limits, err := t.way.limits(o, out.Now+horizon)
	if err != nil {
		return err
	}
	if set, ok := rulebook.DegreeHourSetFor(o.Course.Rulebook); ok {
		out.Deciding = set.ID
	}
	first := &out.To[0]
	for _, l := range limits {
		l.Before, l.Surely = w.fraction(first.before(l.Reached)), w.fraction(first.before(l.Cautious))
		first.Limits = append(first.Limits, l)
	}
	floors := make([]float64, 0, len(t.post.curves))
	for _, c := range t.post.curves {
		floors = append(floors, c.floor)
	}
	out.Floor = w.phs(quantiles(floors, misfit))
	end := out.modelled()
	for i, at := range t.times(out) {
		if i > 0 && at > end {
			break
		}
		thermal, chamber, core := t.clock.at(at.Hours())
		phs, sd := t.post.phs(thermal, nil)
		out.Course = append(out.Course, Point{At: at, PH: w.phs(quantiles(phs, sd)), Chamber: w.celsius(chamber), Core: w.celsius(core)})
	}
	out.advise()
	out.judge(o)
	out.remark(o, t)
	return w.err
}

// crossing returns when a pH is reached. Where the last reading is above it, what
// is told is of the time after.
func (t *teller) crossing(w *writer, target quantity.PH, readings, counts []Seen) Crossing {
	c := Crossing{PH: target, Reading: -1}
	if c.read(w, readings) {
		return c
	}
	already, most := 0.0, 0.0
	for i, n := range t.nodes {
		chance := reached(target.Float(), n.phs, n.sd)
		if i == 0 && len(counts) > 0 {
			already = math.Min(chance, surest)
		}
		most = math.Max(most, (chance-already)/(1-already))
		c.hours, c.chance = append(c.hours, n.hours), append(c.chance, most)
	}
	c.NotReached = w.fraction(1 - most)
	c.Median = c.quantile(tails[3])
	for i, to := range []*quantity.Between[time.Duration]{&c.P90, &c.P80, &c.P50} {
		to.Low, to.High = c.quantile(tails[i]), c.quantile(tails[len(tails)-1-i])
	}
	switch not := 1 - most; {
	case not > willNot:
		c.Outcome = WillNotReach
	case not > mayNot:
		c.Outcome = MayNotReach
	default:
		c.Outcome = Projected
	}
	return c
}

// read tells the crossing by the readings that count, and reports whether one of
// them is at or below the pH.
func (c *Crossing) read(w *writer, readings []Seen) bool {
	var before *Seen
	for i := range readings {
		r := &readings[i]
		switch {
		case r.Doubt != "":
			continue
		case r.PH.Float() > c.PH.Float()+equal:
			before = r
			continue
		}
		c.Outcome, c.Reading = AlreadyThere, i
		at := max(r.At, 0)
		c.Median = at
		between := quantity.Between[time.Duration]{High: at}
		if before != nil {
			part := (before.PH.Float() - c.PH.Float()) / (before.PH.Float() - r.PH.Float())
			c.Estimated = new(max(0, before.At+time.Duration(part*float64(r.At-before.At))))
			c.Median, between.Low = *c.Estimated, max(before.At, 0)
		}
		c.P50, c.P80, c.P90 = between, between, between
		c.NotReached = w.fraction(0)
		c.hours, c.chance = []float64{between.Low.Hours(), at.Hours()}, []float64{0, 1}
		return true
	}
	return false
}

// equal is by how much a pH may be above another and count as at it.
const equal = 1e-9

// before returns the probability that the pH is reached before a time; of one
// that was read, by when it was read.
func (c *Crossing) before(limit time.Duration) float64 {
	n := len(c.hours)
	if limit == Never {
		return c.chance[n-1]
	}
	at := limit.Hours()
	if c.Outcome == AlreadyThere {
		if c.hours[n-1] < at {
			return 1
		}
		return 0
	}
	i, _ := slices.BinarySearch(c.hours, at)
	switch i {
	case 0:
		return 0
	case n:
		return c.chance[n-1]
	}
	part := (at - c.hours[i-1]) / (c.hours[i] - c.hours[i-1])
	return c.chance[i-1] + part*(c.chance[i]-c.chance[i-1])
}

// given returns the quantile of the cases in which the pH is reached; Never where
// these are few.
func (c *Crossing) given(p float64) time.Duration {
	const few = 0.1
	reached := 1 - c.NotReached.Float()
	if reached < few {
		return Never
	}
	return c.quantile(p * reached)
}

// late returns the late end of 90 % of the cases in which the pH is reached;
// Never where it is not, more likely than not.
func (c *Crossing) late() time.Duration {
	if c.Outcome == WillNotReach {
		return Never
	}
	return c.given(tails[len(tails)-1])
}

// times returns those of the course: from the start until the late end of the
// times to come, at most two weeks ahead, with the present among them.
func (t *teller) times(out *Projection) []time.Duration {
	const (
		least   = 24 * time.Hour
		longest = 14 * 24 * time.Hour
	)
	end := out.Now + least
	for _, c := range out.To {
		reach := out.Now + longest/2
		if late := c.late(); late != Never {
			reach = late
			for _, b := range []quantity.Between[time.Duration]{c.P50, c.P80, c.P90} {
				if b.High != Never {
					reach = max(reach, b.High)
				}
			}
		}
		end = max(end, min(reach+time.Hour, out.Now+longest))
	}
	step := max(time.Hour, (end/(mostPoints-4)).Truncate(time.Hour)+time.Hour)
	if end <= (mostPoints-4)*time.Hour {
		step = time.Hour
	}
	var times []time.Duration
	for at := time.Duration(0); at < end+step; at += step {
		if len(times) > 0 && times[len(times)-1] < out.Now && out.Now < at {
			times = append(times, out.Now)
		}
		times = append(times, at)
	}
	return times
}

func (c Crossing) quantile(p float64) time.Duration {
	for i, reached := range c.chance {
		if reached < p {
			continue
		}
		if i == 0 {
			return fromHours(c.hours[0])
		}
		part := 1.0
		if reached > c.chance[i-1] {
			part = (p - c.chance[i-1]) / (reached - c.chance[i-1])
		}
		return fromHours(c.hours[i-1] + part*(c.hours[i]-c.hours[i-1]))
	}
	return Never
}

func fromHours(h float64) time.Duration { return time.Duration(math.Round(h * float64(time.Hour))) }

// writer turns floats into quantities and keeps the first error.
type writer struct{ err error }

func (w *writer) keep(err error) {
	if w.err == nil {
		w.err = err
	}
}

func (w *writer) fraction(f float64) quantity.Fraction {
	v, err := quantity.NewFraction(math.Min(math.Max(f, 0), 1))
	w.keep(err)
	return v
}

func (w *writer) celsius(t float64) quantity.Temperature {
	v, err := quantity.Celsius(t)
	w.keep(err)
	return v
}

func (w *writer) ph(v float64) quantity.PH {
	const highest = 14
	ph, err := quantity.NewPH(math.Min(math.Max(v, 0), highest))
	w.keep(err)
	return ph
}

func (w *writer) phs(at [7]float64) Band[quantity.PH] {
	between := func(i int) quantity.Between[quantity.PH] {
		return quantity.Between[quantity.PH]{Low: w.ph(at[i]), High: w.ph(at[len(at)-1-i])}
	}
	return Band[quantity.PH]{Median: w.ph(at[3]), P90: between(0), P80: between(1), P50: between(2)}
}
