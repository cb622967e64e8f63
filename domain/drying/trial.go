package drying

import (
	"errors"
	"math"
	"slices"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Trial is one formula that was dried in several ways, and what came of it. The
// first course is the one that the others are held against.
type Trial struct {
	Courses     []TrialCourse
	Composition Composition                   // of the mixture as stuffed, the same in all
	Target      material.Known[quantity.Loss] // a loss of which the days are asked too
}

// TrialCourse is one way of drying: the pieces that hung together, and their
// room.
type TrialCourse struct {
	Name        string
	Pieces      []TrialPiece
	Temperature material.Known[quantity.Temperature]
	Humidity    material.Known[quantity.RelativeHumidity]
	AirSpeed    material.Known[quantity.Speed]
}

// TrialPiece is a piece, what it weighed when, and what was measured at its end.
type TrialPiece struct {
	Name     string
	Green    quantity.Mass // stuffed and tied, less tare
	Stuffed  time.Time     // when the green weight was taken
	Hung     time.Time     // when the drying clock starts; the zero time means as stuffed
	WeighIns []WeighIn     // in order of time
	Diameter material.Known[quantity.Length]
	Final    Final
}

// Final is what was measured of a finished piece.
type Final struct {
	Core, Rim material.Known[quantity.WaterActivity]
	Moisture  material.Known[quantity.Fraction]
}

// The bounds of a trial.
const (
	leastCourses, mostCourses = 2, 12
	mostTrialPieces           = 24
	mostTrialWeighIns         = 300
)

func (p TrialPiece) order() Order {
	return Order{Green: p.Green, Stuffed: p.Stuffed, Hung: p.Hung, WeighIns: p.WeighIns, Diameter: p.Diameter}
}

// validated returns the weigh-ins of every piece of every course as judged, or
// everything that is at fault.
func (t Trial) validated() ([][][]Weighed, error) {
	var bad fault.Collector
	if n := len(t.Courses); n < leastCourses || n > mostCourses {
		bad.Add(fault.At("courses"), "count", "two to twelve courses can be compared, got %d", n)
	}
	if target, is := t.Target.Get(); is && (target.Percent() <= 0 || target.Percent() >= mostWater) {
		bad.Add(fault.At("target_loss_percent"), "out-of-range",
			"the target must be a loss of more than 0 and less than %v %%, the water of the leanest meat; got %v", mostWater, target)
	}
	if err := t.Composition.validated(); err != nil {
		bad.AddError(fault.At("composition"), "invalid-value", err)
	}
	all := make([][][]Weighed, len(t.Courses))
	names := make(map[string]bool)
	for i, c := range t.Courses {
		at := fault.At("courses", i)
		onlyName(&bad, names, fault.At("name").Under(at), c.Name)
		var room fault.Collector
		Order{Temperature: c.Temperature, Humidity: c.Humidity, AirSpeed: c.AirSpeed}.validateRoom(&room)
		bad.AddError(at, "invalid-value", room.Err("invalid-value", "the room"))
		if n := len(c.Pieces); n == 0 || n > mostTrialPieces {
			bad.Add(fault.At("pieces").Under(at), "count", "a course has one to %d pieces, got %d", mostTrialPieces, n)
		}
		pieces := make(map[string]bool)
		for j, p := range c.Pieces {
			at := fault.At("pieces", j).Under(at)
			onlyName(&bad, pieces, fault.At("name").Under(at), p.Name)
			if n := len(p.WeighIns); n > mostTrialWeighIns {
				bad.Add(fault.At("weigh_ins").Under(at), "count", "at most %d weigh-ins of a piece are compared, got %d", mostTrialWeighIns, n)
				continue
			}
			var sized fault.Collector
			Order{Diameter: p.Diameter}.validateRoom(&sized)
			bad.AddError(at, "invalid-value", sized.Err("invalid-value", "the piece"))
			if tooLong(&bad, at, p) {
				continue
			}
			weighed, err := Judge(p.order())
			bad.AddError(at, "invalid-value", err)
			all[i] = append(all[i], weighed)
		}
	}
	return all, bad.Err("invalid-value", "the trial has no meaning as it stands")
}

// tooLong records times that are further apart than anything hangs, and reports
// whether there are any.
func tooLong(bad *fault.Collector, at fault.Path, p TrialPiece) bool {
	const most = mostDays * 24 * time.Hour
	found := false
	check := func(when time.Time, member fault.Path) {
		if when.Sub(p.Stuffed).Abs() > most {
			bad.Add(member.Under(at), "out-of-range", "times must lie within %v days of the stuffing", mostDays)
			found = true
		}
	}
	check(p.order().hung(), fault.At("hung_at"))
	for k, w := range p.WeighIns {
		check(w.At, fault.At("weigh_ins", k, "at"))
	}
	return found
}

// onlyName records a name that is missing or was there before.
func onlyName(bad *fault.Collector, names map[string]bool, at fault.Path, name string) {
	switch name = strings.TrimSpace(name); {
	case name == "":
		bad.Add(at, "required", "each needs a name to be told by")
	case names[name]:
		bad.Add(at, "duplicate", "the name %s is taken: each needs its own", quoted(name))
	}
	names[name] = true
}

// validated reports what is at fault with a composition, by its members.
func (c Composition) validated() error {
	_, _, err := c.Mix()
	if err == nil {
		return nil
	}
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		return err
	}
	var bad fault.Collector
	for _, v := range f.Violations {
		if c.gives(v.Path) {
			bad.Add(v.Path, v.Code, "%s", v.Detail)
		}
	}
	if given := bad.Err(f.Code, f.Detail); given != nil {
		return given
	}
	return &fault.Error{Kind: fault.Invalid, Code: f.Code, Detail: "what is given leaves no room for the rest of a sausage: " + f.Detail}
}

// knot is a loss, in points, at a time in days since hanging.
type knot struct{ day, loss float64 }

// track is the course of one piece: its weigh-ins that count, made to climb, from
// the green weight on. Between two of them it goes with the square root of the
// time since hanging, as a cylinder does while the inside rules, and evenly with
// time in the span that holds the hanging, while the surface does. Both keep
// their shape when time is stretched.
type track []knot

// trackOf returns the track of a piece, none when no weigh-in that counts is
// later than its hanging.
func trackOf(p TrialPiece, weighed []Weighed) track {
	start := inDays(p.Stuffed.Sub(p.order().hung()))
	knots := track{{start, 0}}
	told := false
	for _, w := range weighed {
		if w.Doubt != "" {
			continue
		}
		told = told || w.Since >= leastHanging
		day := inDays(w.Since)
		if last := &knots[len(knots)-1]; last.day == day {
			last.loss = w.Loss.Percent() // a second weight of an instant counts only when it was confirmed
			continue
		}
		knots = append(knots, knot{day, w.Loss.Percent()})
	}
	if !told {
		return nil
	}
	return knots.climbing()
}

// climbing returns the track in which no loss is below one before it, nor below
// nothing: neighbours that fall are taken at their mean, which is the closest
// such track by least squares (pool adjacent violators; Barlow and others,
// Statistical Inference under Order Restrictions, 1972, recalled).
func (k track) climbing() track {
	type pool struct {
		sum   float64
		count int
	}
	mean := func(p pool) float64 { return p.sum / float64(p.count) }
	var pools []pool
	for _, at := range k[1:] {
		pools = append(pools, pool{at.loss, 1})
		for n := len(pools); n > 1 && mean(pools[n-1]) < mean(pools[n-2]); n = len(pools) {
			pools[n-2] = pool{pools[n-2].sum + pools[n-1].sum, pools[n-2].count + pools[n-1].count}
			pools = pools[:n-1]
		}
	}
	out := slices.Clone(k)
	i := 1
	for _, p := range pools {
		for range p.count {
			out[i].loss = math.Max(mean(p), 0)
			i++
		}
	}
	return out
}

func (k track) last() knot { return k[len(k)-1] }

// at returns the loss at a day, which is that of the nearest end outside.
func (k track) at(day float64) float64 {
	if day <= k[0].day {
		return k[0].loss
	}
	for i := 1; i < len(k); i++ {
		if a, b := k[i-1], k[i]; day <= b.day {
			return a.loss + share(a.day, day, b.day)*(b.loss-a.loss)
		}
	}
	return k.last().loss
}

// hanging returns what was lost when the piece was hung.
func (k track) hanging() float64 { return k.at(0) }

// first returns the loss by the first weigh-in after hanging.
func (k track) first() float64 {
	i := slices.IndexFunc(k, func(at knot) bool { return at.day > 0 })
	return k[i].loss
}

// reaches returns the day at which a loss is first reached, and false when it is
// not, or was when the piece was hung.
func (k track) reaches(loss float64) (day float64, ok bool) {
	const rounding = 1e-9 // points: a loss that was weighed is reached, whatever its last digit
	if last := k.last().loss; loss > last && loss < last+rounding {
		loss = last
	}
	if loss <= k.hanging() {
		return 0, false
	}
	for i := 1; i < len(k); i++ {
		a, b := k[i-1], k[i]
		if b.loss < loss || b.day <= 0 {
			continue
		}
		portion := (loss - a.loss) / (b.loss - a.loss)
		if a.day <= 0 {
			day = a.day + portion*(b.day-a.day)
		} else {
			day = square(math.Sqrt(a.day) + portion*(math.Sqrt(b.day)-math.Sqrt(a.day)))
		}
		return day, day > 0
	}
	return 0, false
}

// share returns how far a day is between two others, in the scale of the track.
func share(from, day, to float64) float64 {
	if from <= 0 {
		return (day - from) / (to - from)
	}
	return (math.Sqrt(day) - math.Sqrt(from)) / (math.Sqrt(to) - math.Sqrt(from))
}
