package lot

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// DryDown is the question when a piece is done, as the record of its lot asks
// it of package drying.
type DryDown struct {
	Order   drying.Order
	Seen    drying.Seen    // what a hygrometer read of late, for advice
	Entries []int          // for each weigh-in of the order, the sequence of the entry that tells it
	Notes   []finding.Note // on what the order was made of; members from the order down
}

// mostWeighIns is how many weigh-ins of a piece are projected from: more say no
// more, and take their time. A choice of this project.
const mostWeighIns = 250

// DryDown asks when a piece is done, with asOf as the present; the zero time
// means the last that is known of the piece. A present before that is moved up
// to it.
//
// The order holds what was told of the piece and what counts of its weigh-ins;
// of more than 250, as many spread evenly over their time, those that were
// confirmed among them. A piece that does not hang counts from stuffing. The
// composition follows from the formula, as far as it is known what is in
// everything. The air is what was measured since hanging, reading by reading, and
// before the first and for what was not read their mean over time, else that of the
// last step of the plan.
//
// It reports fault.NotFound, unknown-piece, when there is no such piece, and
// fault.NoSolution, no-target, when the plan has no loss to reach. What drying
// does not take is left to it.
func (s State) DryDown(piece string, asOf time.Time) (DryDown, error) {
	p, there := s.Piece(piece)
	if !there {
		return DryDown{}, &fault.Error{Kind: fault.NotFound, Code: codeUnknownPiece, Detail: fmt.Sprintf("the lot has no piece %q", piece)}
	}
	loss := s.Planned.Formula.Plan.Loss
	if loss == nil {
		return DryDown{}, &fault.Error{
			Kind: fault.NoSolution, Code: "no-target", Detail: "the plan of the formula states no loss to reach, plan/loss_percent: correct the opening of the lot",
		}
	}
	target, err := quantity.LossPercent(loss.Percent())
	if err != nil {
		return DryDown{}, fmt.Errorf("loss of the plan: %w", err)
	}
	return s.asks(p, asOf, target)
}

// asks asks when a piece has lost so much.
func (s State) asks(p PieceState, asOf time.Time, target quantity.Loss) (DryDown, error) {
	q := DryDown{Order: drying.Order{
		Green: p.Green, Stuffed: p.StuffedAt, Hung: p.HungAt, AsOf: asOf, Target: target, Diameter: p.Diameter,
	}}
	if p.HungAt.IsZero() {
		q.note("not-hung", fault.At("hung_at"), "The piece does not hang yet, as far as it was recorded: days count from stuffing, as if it had been hung then.")
	}
	q.weighed(p)
	q.compose(s.Planned.Formula)
	if err := q.air(s, p); err != nil {
		return DryDown{}, fmt.Errorf("air of the piece: %w", err)
	}
	if err := q.see(s, p); err != nil {
		return DryDown{}, fmt.Errorf("what was seen beside the piece: %w", err)
	}
	q.present()
	return q, nil
}

// compose puts the composition that follows from a formula into the order.
func (q *DryDown) compose(f formula.Formula) {
	composition, unknown, err := drying.CompositionOf(f)
	if err != nil { // it was not checked when the lot was opened
		q.note("composition-unknown", fault.At("composition"), "The formula can't be scaled, so that it does not tell what is in the piece.")
		return
	}
	q.Order.Composition = composition
	if len(unknown) > 0 {
		q.note("composition-unknown", fault.At("composition"), "What %s would bring is not known, so that it is not told in full what is in the piece.", listed(unknown, 10))
	}
}

func (q *DryDown) note(code string, member fault.Path, format string, args ...any) {
	q.Notes = append(q.Notes, finding.Note{Code: code, Member: member, Text: fmt.Sprintf(format, args...)})
}

// weighed puts the weigh-ins that count into the order.
func (q *DryDown) weighed(p PieceState) {
	var counts []WeighIn
	var doubted []int
	for _, in := range p.WeighIns {
		if in.Counts {
			counts = append(counts, in)
		} else {
			doubted = append(doubted, in.Sequence)
		}
	}
	if len(doubted) > 0 {
		q.note("doubtful-left-out", fault.At("weigh_ins"), "%s: such weigh-ins are left out until they are confirmed or corrected.", lookWrong(doubted))
	}
	taken := spread(counts)
	if len(taken) < len(counts) {
		q.note("weigh-ins-spread", fault.At("weigh_ins"), "Of %d weigh-ins, %d are projected from, spread evenly over their time.", len(counts), len(taken))
	}
	for _, in := range taken {
		q.Order.WeighIns = append(q.Order.WeighIns, drying.WeighIn{At: in.At, Weight: in.Weight, Confirmed: in.Confirmed})
		q.Entries = append(q.Entries, in.Sequence)
	}
}

// lookWrong says for people which entries are doubtful; there is one.
func lookWrong(entries []int) string {
	names := make([]string, len(entries))
	for i, e := range entries {
		names[i] = strconv.Itoa(e)
	}
	if len(names) == 1 {
		return "Entry " + names[0] + " looks wrong"
	}
	return "Entries " + listed(names, 20) + " look wrong"
}

// listed prints names, so many at most.
func listed(names []string, most int) string {
	if more := len(names) - most; more > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), more)
	}
	return strings.Join(names, ", ")
}

// spread returns as many weigh-ins as are projected from: the first and the last,
// those that were confirmed, and the first at or after each of so many instants
// between them, in their order.
func spread(all []WeighIn) []WeighIn {
	if len(all) <= mostWeighIns {
		return all
	}
	first, last := all[0].At, all[len(all)-1].At
	sure := 0
	for _, in := range all {
		if in.Confirmed {
			sure++
		}
	}
	places := max(mostWeighIns-sure, 2)
	step := max(last.Sub(first)/time.Duration(places-1), 1)
	var taken []WeighIn
	next := first
	for i, in := range all {
		due := !in.At.Before(next)
		if due {
			next = first.Add(in.At.Sub(first).Truncate(step) + step)
		}
		if due || in.Confirmed || i == len(all)-1 {
			taken = append(taken, in)
		}
	}
	return taken
}

// present moves the present up to the last that is known of the piece.
func (q *DryDown) present() {
	o := &q.Order
	if o.AsOf.IsZero() {
		return
	}
	last := o.Stuffed
	if o.Hung.After(last) {
		last = o.Hung
	}
	if n := len(o.WeighIns); n > 0 && o.WeighIns[n-1].At.After(last) {
		last = o.WeighIns[n-1].At
	}
	if o.AsOf.Before(last) {
		o.AsOf = last
	}
}

// air puts the air that the piece hangs in into the order.
func (q *DryDown) air(s State, p PieceState) error {
	var plan formula.Step
	if steps := s.Planned.Formula.Plan.Drying; len(steps) > 0 {
		plan = steps[len(steps)-1]
	}
	var err error
	a := airOf{question: q, state: s, piece: p}
	q.Order.Temperature, err = airOr(&a, "temperature", plan.Temperature, quantity.Celsius, func(m Measured) (float64, bool) {
		t, told := m.Temperature.Get()
		return t.Celsius(), told && m.Place == Air
	})
	if err != nil {
		return err
	}
	q.Order.Humidity, err = airOr(&a, "relative_humidity_percent", plan.Humidity, quantity.HumidityPercent, func(m Measured) (float64, bool) {
		h, told := m.Humidity.Get()
		return h.Percent(), told
	})
	if err != nil {
		return err
	}
	q.Order.AirSpeed, err = airOr(&a, "air_speed_m_per_s", plan.AirSpeed, quantity.MetresPerSecond, func(m Measured) (float64, bool) {
		v, told := m.AirSpeed.Get()
		return v.MetresPerSecond(), told
	})
	if err != nil {
		return err
	}
	if q.Order.Readings, err = a.readings(); err != nil {
		return err
	}
	if n := len(s.Planned.Formula.Plan.Drying); a.usedPlan && n > 1 {
		q.note("last-step", fault.At("room"), "The plan dries in %d steps: what is taken from it is the air of the last.", n)
	}
	if rooms := s.rooms(); a.usedReadings && len(rooms) > 1 {
		q.note("several-rooms", fault.At("room"), "Pieces of the lot hang in %s, and a reading does not say in which: each counts for all of them, unless it names another piece.", listed(rooms, 10))
	}
	return nil
}

// airOf is the air of a piece, and where it was found.
type airOf struct {
	question               *DryDown
	state                  State
	piece                  PieceState
	usedPlan, usedReadings bool
}

// airOr returns the mean over time of what was measured of the air, and not
// estimated, since the piece was hung, else what was planned.
func airOr[Q any](
	a *airOf, member string, plan material.Known[Q], of func(float64) (Q, error), read func(Measured) (float64, bool),
) (material.Known[Q], error) {
	var samples []sample
	for _, r := range a.state.readings {
		if !r.about(a.piece) {
			continue
		}
		if value, is := read(r.Measured); is {
			samples = append(samples, sample{r.at, value})
		}
	}
	path := fault.At("room", member)
	if len(samples) > 0 {
		a.usedReadings = true
		mean, err := of(meanOverTime(samples))
		if err != nil {
			return material.Known[Q]{}, err
		}
		a.question.note("air-measured", path, "%v is the mean over time of %s since hanging.", mean, counted(len(samples), "reading"))
		return material.Is(mean), nil
	}
	if value, is := plan.Get(); is {
		a.usedPlan = true
		a.question.note("air-as-planned", path, "Nothing was measured of this since hanging that counts: %v is what the plan says.", value)
	}
	return plan, nil
}

// mostReadings is how many airs of a piece are told apart.
const mostReadings = 200

// readings returns what was measured of the air since hanging, in order of time,
// each with what the one before told of what it does not tell; none where it was
// read at fewer than two instants. Of more than 200 those of even parts of the time
// are taken together as their mean.
func (a *airOf) readings() ([]drying.Air, error) {
	var all []reading
	for _, r := range a.state.readings {
		if r.about(a.piece) {
			all = append(all, r)
		}
	}
	if len(all) < 2 || !all[len(all)-1].at.After(all[0].at) {
		return nil, nil
	}
	part := all[len(all)-1].at.Sub(all[0].at)/mostReadings + 1
	var out []drying.Air
	for len(all) > 0 {
		n := 1
		for n < len(all) && (all[n].at.Equal(all[0].at) || len(a.state.readings) > mostReadings && all[n].at.Sub(all[0].at) < part) {
			n++
		}
		next := drying.Air{From: all[0].at}
		if len(out) > 0 {
			next = out[len(out)-1]
			next.From = all[0].at
		}
		if err := errors.Join(
			meanInto(&next.Temperature, all[:n], quantity.Celsius, func(m Measured) (float64, bool) {
				t, told := m.Temperature.Get()
				return t.Celsius(), told && m.Place == Air
			}),
			meanInto(&next.Humidity, all[:n], quantity.HumidityPercent, func(m Measured) (float64, bool) {
				h, told := m.Humidity.Get()
				return h.Percent(), told
			}),
			meanInto(&next.AirSpeed, all[:n], quantity.MetresPerSecond, func(m Measured) (float64, bool) {
				v, told := m.AirSpeed.Get()
				return v.MetresPerSecond(), told
			}),
		); err != nil {
			return nil, err
		}
		if next.Temperature != (material.Known[quantity.Temperature]{}) || next.Humidity != (material.Known[quantity.RelativeHumidity]{}) ||
			next.AirSpeed != (material.Known[quantity.Speed]{}) {
			out = append(out, next)
		}
		all = all[n:]
	}
	return out, nil
}

// meanInto sets the mean of what readings tell; what none of them tells is left.
func meanInto[Q any](to *material.Known[Q], all []reading, of func(float64) (Q, error), read func(Measured) (float64, bool)) error {
	sum, n := 0.0, 0
	for _, r := range all {
		if value, is := read(r.Measured); is {
			sum, n = sum+value, n+1
		}
	}
	if n == 0 {
		return nil
	}
	mean, err := of(sum / float64(n))
	*to = material.Is(mean)
	return err
}

// about reports whether a reading may tell of the air about a piece since it was
// hung.
func (r reading) about(p PieceState) bool {
	return r.measured() && !p.HungAt.IsZero() && !r.at.Before(p.HungAt) && (r.Piece == "" || r.Piece == p.Name)
}

// counted prints how many there are of a thing.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// sample is a value at an instant.
type sample struct {
	at    time.Time
	value float64
}

// meanOverTime returns the mean of samples in order of time, of which there must
// be one, joined by straight lines from the first to the last; those of one
// instant count as their mean, and when there is but one instant that is the
// mean.
//
//	mean = sum of (v[i] + v[i+1]) / 2 * (t[i+1] - t[i]) / (t[n] - t[0])
func meanOverTime(samples []sample) float64 {
	var points []sample
	for i := 0; i < len(samples); {
		sum, n := 0.0, 0
		for ; i+n < len(samples) && samples[i+n].at.Equal(samples[i].at); n++ {
			sum += samples[i+n].value
		}
		points = append(points, sample{samples[i].at, sum / float64(n)})
		i += n
	}
	first, last := points[0], points[len(points)-1]
	whole := last.at.Sub(first.at).Seconds()
	if whole == 0 {
		return first.value
	}
	mean := 0.0
	for i := range len(points) - 1 {
		from, to := points[i], points[i+1]
		mean += (from.value + to.value) / 2 * (to.at.Sub(from.at).Seconds() / whole)
	}
	return mean
}

// rooms returns the rooms that pieces hang in, as they are named, sorted.
func (s State) rooms() []string {
	var names []string
	for _, p := range s.Pieces {
		if p.Room != "" {
			names = append(names, p.Room)
		}
	}
	slices.SortFunc(names, cmp.Compare[string])
	return slices.Compact(names)
}
