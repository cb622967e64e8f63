package acidification

import (
	"errors"
	"math"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// way is the chamber so far and to come.
type way struct {
	stretches []fermentation.Stretch
	last      quantity.Temperature // holds on after them
	end       time.Duration        // of the temperatures so far
	lag       float64              // of the core, h
	course    fermentation.Course  // so far, without readings
	ahead     []fermentation.Step
}

// clockPH returns the pH at which the clock of the rules on degree-hours ends,
// 5.3 in both.
func clockPH() quantity.PH { return rulebook.DegreeHourSets()[0].TargetPH }

// The bounds of what an order may hold beside a course. Choices of this project.
const (
	lowestFloor, highestFloor    = 3.5, 7.0
	lowestTarget, highestTarget  = 3.8, 6.5
	thinnestPiece, thickestPiece = 10.0, 200.0 // mm
	longestAhead                 = fermentation.LongestCourse
)

// read returns the temperatures so far and to come; fault.Invalid with every
// violation.
func (o Order) read() (way, error) {
	var bad fault.Collector
	course := o.Course
	course.Planned = quantity.Temperature{}
	planned := len(course.Steps) == 0 && len(course.Log) == 0
	w := way{course: course, ahead: o.Ahead}
	if planned && len(o.Ahead) > 0 {
		course.Steps = o.Ahead
	}
	var err error
	w.stretches, w.last, err = course.Chamber()
	if planned && len(o.Ahead) > 0 {
		bad.AddError(nil, "invalid-value", under(err, "ahead"))
	} else {
		bad.AddError(nil, "invalid-value", err)
	}
	w.course.PHReadings = nil
	if !planned {
		if n := len(w.stretches); n > 0 {
			w.end = w.stretches[n-1].To
		}
		if len(o.Ahead) > 0 {
			ahead, last, err := fermentation.Course{Steps: o.Ahead}.Chamber()
			bad.AddError(nil, "invalid-value", under(err, "ahead"))
			for _, s := range ahead {
				s.From, s.To = s.From+w.end, s.To+w.end
				w.stretches = append(w.stretches, s)
			}
			w.last = last
			if n := len(w.stretches); err == nil && n > 0 && w.stretches[n-1].To > longestAhead {
				bad.Add(fault.At("ahead"), "out-of-range", "temperatures so far and to come must not last longer than a year together")
			}
		}
	}
	o.check(&bad)
	if diameter, known := o.Diameter.Get(); known {
		w.lag = coreLag(diameter)
	}
	return w, bad.Err("invalid-value", "the question has no meaning as it stands")
}

// check records what can't be of the members beside the course.
func (o Order) check(bad *fault.Collector) {
	acidify := 0
	for i, c := range o.Cultures {
		if _, known := rulebook.CultureByKey(c.Key); !known {
			bad.Add(fault.At("cultures", i), "unknown-culture", "no species has the key %q", c.Key)
		}
		if c.Acidifies {
			acidify++
		}
	}
	if o.Spontaneous && acidify > 0 {
		bad.Add(fault.At("spontaneous"), "contradicts-cultures", "a culture that acidifies is given, so that the fermentation is not spontaneous")
	}
	if diameter, known := o.Diameter.Get(); known {
		if mm := diameter.Millimetres(); mm < thinnestPiece || mm > thickestPiece {
			bad.Add(fault.At("diameter"), "out-of-range", "a diameter is from %g to %g mm, got %g mm", thinnestPiece, thickestPiece, mm)
		}
	}
	if floor, known := o.Floor.Get(); known {
		low, high := floor.Low.Float(), floor.High.Float()
		if low > high || low < lowestFloor || high > highestFloor {
			bad.Add(fault.At("lowest_ph"), "out-of-range", "the lowest pH is a range within %g to %g, got %g to %g", lowestFloor, highestFloor, low, high)
		}
	}
	if o.Target != (quantity.PH{}) {
		if v := o.Target.Float(); v < lowestTarget || v > highestTarget {
			bad.Add(fault.At("target_ph"), "out-of-range", "the pH that is wanted is from %g to %g, got %g", lowestTarget, highestTarget, v)
		}
	}
}

// under names the steps of a fault as those of a member.
func under(err error, member string) error {
	wrong, ok := errors.AsType[*fault.Error](err)
	if !ok {
		return err
	}
	named := *wrong
	named.Violations = nil
	for _, v := range wrong.Violations {
		if len(v.Path) > 0 && v.Path[0] == "steps" {
			v.Path = append(fault.Path{member}, v.Path[1:]...)
		}
		named.Violations = append(named.Violations, v)
	}
	return &named
}

// limits returns when the limits on degree-hours are reached along the
// temperatures so far and to come, if no pH ends their clock, up to a time.
func (w way) limits(o Order, until time.Duration) ([]Limit, error) {
	off := fermentation.DefaultThermometer()
	if o.Course.Thermometer != nil {
		off = *o.Course.Thermometer
	}
	var limits []Limit
	for i, low := range []quantity.TemperatureDelta{{}, off} {
		whole, err := w.whole(until, low)
		if err != nil {
			return nil, err
		}
		exposure, err := fermentation.DegreeHours(whole)
		if err != nil {
			return nil, err
		}
		for k, s := range exposure.Sums {
			at := Never
			if s.ReachedAt != nil {
				at = *s.ReachedAt
			}
			if i == 0 {
				limits = append(limits, Limit{Set: s.Set, Reached: at, Cautious: at})
				continue
			}
			limits[k].Cautious = min(limits[k].Reached, at)
		}
	}
	return limits, nil
}

// whole returns the course so far with what is to come, as a log of straight
// lines, when the thermometer reads too low by low. A jump of the temperature
// takes a nanosecond. Beyond the hottest chamber that a course takes it is as hot
// as that.
func (w way) whole(until time.Duration, low quantity.TemperatureDelta) (fermentation.Course, error) {
	course := fermentation.Course{
		Rulebook: w.course.Rulebook, ClockStart: w.course.ClockStart, Thermometer: &quantity.TemperatureDelta{}, LongestGap: fermentation.LongestCourse, // what gaps are taken for stands in the log
	}
	hottest := fermentation.ChamberRange().High
	var bad error
	add := func(at time.Duration, t quantity.Temperature) {
		warmer, err := t.Plus(low)
		if err != nil {
			bad = err
			return
		}
		if warmer.Compare(hottest) > 0 {
			warmer = hottest
		}
		if n := len(course.Log); n > 0 && at <= course.Log[n-1].At {
			if course.Log[n-1].Temperature.Compare(warmer) == 0 {
				return
			}
			at = course.Log[n-1].At + 1
		}
		if at > fermentation.LongestCourse {
			return
		}
		course.Log = append(course.Log, fermentation.Reading{At: at, Temperature: warmer})
	}
	for _, s := range w.stretches {
		if !s.Taken.IsZero() {
			s.Start, s.End = s.Taken, s.Taken
		}
		add(s.From, s.Start)
		add(s.To, s.End)
	}
	end := time.Duration(0)
	if n := len(w.stretches); n > 0 {
		end = w.stretches[n-1].To
	}
	add(end, w.last)
	add(max(min(until, fermentation.LongestCourse), end+2), w.last)
	return course, bad
}

// observations returns the readings that count in thermal time, at most mostSeen:
// of more, neighbours are taken together.
func (t *teller) observations(counts []Seen) []observation {
	if len(counts) == 0 {
		return nil
	}
	together := (len(counts) + mostSeen - 1) / mostSeen
	var seen []observation
	for i := 0; i < len(counts); i += together {
		part := counts[i:min(i+together, len(counts))]
		var sum observation
		weights := 0.0
		for _, r := range part {
			sd := r.sd()
			weight := 1 / (sd * sd)
			weights += weight
			sum.ph += weight * r.PH.Float()
			sum.thermal += weight * t.clock.thermalAt(r.At)
		}
		seen = append(seen, observation{sum.thermal / weights, sum.ph / weights, math.Sqrt(float64(len(part)) / weights)})
	}
	return seen
}

// mostSeen bounds the readings that a fit sees.
const mostSeen = 40
