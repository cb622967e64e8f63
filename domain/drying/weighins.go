package drying

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// Codes of a weigh-in that does not count.
const (
	DoubtUnit     = "wrong-unit"      // so far off that another unit is likely
	DoubtGain     = "gain"            // heavier than before by more than a scale and damp air explain
	DoubtTooFast  = "too-fast"        // lost more than the air, or the weigh-ins around it, leave room for
	DoubtNoWater  = "more-than-water" // lost more than there was water
	DoubtOffCurve = "off-the-curve"   // the last one, far from where what is known without it leads
	NotRepeated   = "repeated"        // the same again: counted once
	NotDrying     = "no-time-to-dry"  // at the moment of the green weight: says nothing of the drying
)

// Bounds between a measurement and a doubt.
const (
	// mostGain is how many points a piece may seem to gain from one weigh-in to
	// the next: a hand scale and a damp casing. Common practice.
	mostGain = 1.0
	// unitFactor is how many times off a weight is that was read in another
	// unit; the nearest units of mass in use are 16 (oz, lb) and 28 (g, oz) times
	// apart.
	unitFactor = 8.0
	// mostWater is the water of the leanest raw meat, in percent: no mixture
	// loses more. USDA SR28 (2015), NDB 10084, pork shoulder separable lean, holds
	// 74.3.
	mostWater = 76.0
	// freeRate, in points a day, is taken where too little is known to tell what
	// the air can take: thin sausage in dry summer air was analysed to lose 34
	// points in its first day (Foods 10(7), 1460, 2021, table 3, from its
	// moistures).
	freeRate = 60.0
	// freeJump, in points, is what is never called too fast: a weigh-in soon
	// after another has its weighing errors divided by little time.
	freeJump = 2.0
)

// validated reports what is at fault with an order.
func (o Order) validated() error {
	var bad fault.Collector
	o.validateGreen(&bad)
	o.validateGoals(&bad)
	o.validateRoom(&bad)
	last := o.validateTimes(&bad)
	if !o.AsOf.IsZero() && (o.AsOf.Before(last) || o.AsOf.Before(o.hung())) {
		bad.Add(fault.At("as_of_at"), "before-the-facts", "the present can't be before the piece hung or was last weighed")
	}
	if _, _, err := o.Composition.Mix(); err != nil {
		var f *fault.Error
		if !errors.As(err, &f) {
			return err
		}
		told := false
		for _, v := range f.Violations {
			if !o.Composition.gives(v.Path) {
				continue
			}
			told = true
			bad.Add(v.Path.Under(fault.At("composition")), v.Code, "%s", v.Detail)
		}
		if !told {
			bad.Add(fault.At("composition"), f.Code, "what is given leaves no room for the rest of a sausage: %s", f.Detail)
		}
	}
	return bad.Err("invalid-value", "the order has no meaning as it stands")
}

func (o Order) validateGreen(bad *fault.Collector) {
	if !(o.Green.Grams() > 0) {
		bad.Add(fault.At("green_weight"), "minimum", "the green weight must be more than nothing, got %v", o.Green)
	}
}

// validateTimes reports what is at fault with the hanging and the weigh-ins, and
// returns when the piece was last weighed.
func (o Order) validateTimes(bad *fault.Collector) time.Time {
	if hung := o.hung(); hung.Before(o.Stuffed) {
		bad.Add(fault.At("hung_at"), "before-stuffing", "the piece can't hang before it was stuffed, %s earlier", lasting(o.Stuffed.Sub(hung)))
	}
	before, weight := o.Stuffed, o.Green
	for i, w := range o.WeighIns {
		at := fault.At("weigh_ins", i, "at")
		switch {
		case w.At.Before(o.Stuffed):
			bad.Add(at, "before-stuffing", "the weigh-in is %s before the green weight was taken", lasting(o.Stuffed.Sub(w.At)))
			continue
		case w.At.Before(before):
			bad.Add(at, "out-of-order", "the weigh-in is %s before the one ahead of it: weigh-ins stand in order of time", lasting(before.Sub(w.At)))
			continue
		case w.At.Equal(before) && w.Weight != weight:
			bad.Add(fault.At("weigh_ins", i, "weight"), "conflicting-instant",
				"the piece can't weigh %v and %v at the same instant", weight, w.Weight)
			continue
		}
		before, weight = w.At, w.Weight
	}
	return before
}

// gives reports whether the order gives the member of its composition that a
// path of [wateractivity.Mix.Validate] names.
func (c Composition) gives(path fault.Path) bool {
	member := ""
	if len(path) > 0 {
		member = path[0]
	}
	switch member {
	case "water_percent":
		return known(c.Water)
	case "protein_percent":
		return known(c.Protein)
	case "fat_percent":
		return known(c.Fat)
	case "salt_percent":
		return known(c.Salt)
	case "sugar_percent":
		return known(c.Sugar)
	default:
		return false
	}
}

// What hangs in what: the bounds of piece and room that the model was held
// against, and then some. Thinner is jerky, thicker a ham; colder it freezes and
// warmer it is no drying room.
const (
	thinnest, thickest = 5.0, 250.0 // mm
	coldest, warmest   = -5.0, 40.0 // °C
	stormiest          = 10.0       // m/s
)

func (o Order) validateRoom(bad *fault.Collector) {
	if d, is := o.Diameter.Get(); is && (d.Millimetres() < thinnest || d.Millimetres() > thickest) {
		bad.Add(fault.At("diameter"), "out-of-range", "the diameter must be from %v to %v mm, got %v", thinnest, thickest, d)
	}
	validateAir(bad, fault.At("room"), o.Temperature, o.AirSpeed)
	o.validateAirs(bad)
}

func (o Order) hung() time.Time {
	if o.Hung.IsZero() {
		return o.Stuffed
	}
	return o.Hung
}

// Judge returns the weigh-ins of an order with their losses and doubts, as far as
// they can be told whatever is in the piece and wherever it hangs: no mixture
// loses more than the water of the leanest meat, and no air takes more than 60
// points a day. So a weigh-in that Judge doubts is a slip in any room; Project
// knows more and may doubt more, but for what is Confirmed, which neither
// doubts.
//
// Only Green, Stuffed, Hung and WeighIns are read. It reports fault.Invalid for
// them as Project does. The cost grows with the square of the number of
// weigh-ins: a millisecond for some two hundred.
func Judge(o Order) ([]Weighed, error) {
	var bad fault.Collector
	o.validateGreen(&bad)
	o.validateTimes(&bad)
	if err := bad.Err("invalid-value", "the weigh-ins have no meaning as they stand"); err != nil {
		return nil, err
	}
	return o.judged(mostWater, freeRate)
}

// judged returns the weigh-ins with their losses and doubts: what counts is the
// longest run of them in which none gains more than mostGain on the one before
// and none loses faster than the air can take, counted from the green weight;
// of several as long, the smoothest. So one slip is left out, and not those that
// it contradicts. What was confirmed is part of the run, whatever it shows. most
// is the loss of all water, fastest the rate that the air can take, both in
// points.
func (o Order) judged(most, fastest float64) ([]Weighed, error) {
	hung := o.hung()
	all := make([]Weighed, len(o.WeighIns))
	lost := make([]float64, len(all))
	days := make([]float64, len(all))
	for i, w := range o.WeighIns {
		all[i] = Weighed{WeighIn: w, Since: w.At.Sub(hung)}
		days[i] = o.driedBetween(o.Stuffed, w.At)
		times, err := w.Weight.Over(o.Green)
		if err != nil {
			return nil, fmt.Errorf("weigh-in %d over the green weight: %w", i, err)
		}
		if all[i].Loss, err = quantity.LossTo(w.Weight, o.Green); err != nil {
			return nil, fmt.Errorf("loss of weigh-in %d: %w", i, err)
		}
		lost[i] = all[i].Loss.Percent()
		switch f := times.Float(); {
		case !w.Confirmed && (f > unitFactor || f < 1/unitFactor):
			all[i].Doubt = DoubtUnit
			all[i].Why = fmt.Sprintf("it is %.3g times the green weight: look at the unit of both, and weigh again", f)
		case !w.Confirmed && lost[i] > most:
			all[i].Doubt = DoubtNoWater
			all[i].Why = fmt.Sprintf("a loss of %.1f %% is more than the %.1f %% of water that there can be: weigh again", lost[i], most)
		case o.repeated(i) != "":
			all[i].Doubt, all[i].Why = NotRepeated, o.repeated(i)
		case w.At.Equal(o.Stuffed):
			all[i].Doubt, all[i].Why = NotDrying, "it is the green weight again, and says nothing of the drying"
		}
	}
	chain := longestRun(all, days, lost, fastest)
	last, lastDay := 0.0, 0.0
	for i := range all {
		w := &all[i]
		if w.Doubt != "" {
			continue
		}
		if chain[i] {
			last, lastDay = lost[i], days[i]
			continue
		}
		if gain := last - lost[i]; gain > mostGain {
			w.Doubt = DoubtGain
			if last == 0 {
				w.Why = fmt.Sprintf("it is %.1f points heavier than the green weight: look at that first, every loss counts from it", gain)
				continue
			}
			w.Why = fmt.Sprintf("it is %.1f points of the green weight heavier than the weigh-ins around it: weigh again", gain)
			continue
		}
		w.Doubt = DoubtTooFast
		w.Why = fmt.Sprintf(
			"the weigh-ins around it speak against it: %.1f points lost in the %.1f days before it are more than they leave room for: weigh again",
			lost[i]-last, days[i]-lastDay)
	}
	return all, nil
}

// repeated returns why a weigh-in says only what another at the same instant
// does: one before it or, unless it is confirmed, a confirmed one after it. It
// returns "" for one that does not.
func (o Order) repeated(i int) string {
	w := o.WeighIns[i]
	same := func(j int) bool {
		return j >= 0 && j < len(o.WeighIns) && w.At.Equal(o.WeighIns[j].At) && w.Weight == o.WeighIns[j].Weight
	}
	for j := i - 1; same(j); j-- {
		if !w.Confirmed || o.WeighIns[j].Confirmed {
			return "the same weight at the same instant stands before it and is counted once"
		}
	}
	for j := i + 1; !w.Confirmed && same(j); j++ {
		if o.WeighIns[j].Confirmed {
			return "the same weight at the same instant stands after it, confirmed, and is counted once"
		}
	}
	return ""
}

// longestRun marks the weigh-ins of the longest run without a contradiction
// through all that are confirmed, which may contradict each other; of
// several as long, the one that bends least away from a loss that grows with the
// square root of time, as that of a drying piece does for most of its way: its
// slope is the median over the weigh-ins. With n weigh-ins it takes n²/2
// comparisons.
func longestRun(all []Weighed, days, lost []float64, fastest float64) []bool {
	const none = -1
	slope := usualSlope(all, days, lost)
	length, before, bend := make([]int, len(all)), make([]int, len(all)), make([]float64, len(all))
	best, sure := none, none // sure is the last confirmed one so far: no run goes past it
	for i := range all {
		before[i] = none
		if all[i].Doubt != "" {
			continue
		}
		link := func(after int, day, loss float64) {
			both := all[i].Confirmed && after == sure
			if !both && !follows(day, loss, days[i], lost[i], fastest) {
				return
			}
			n, b := 1, 0.0
			if after != none {
				n, b = length[after]+1, bend[after]
			}
			// At least an hour apart, or a second weigh-in of the day decides all.
			span := math.Max(math.Sqrt(days[i])-math.Sqrt(day), math.Sqrt(days[i]+1.0/24)-math.Sqrt(days[i]))
			b += square(lost[i]-loss-slope*span) / span
			if n > length[i] || n == length[i] && b < bend[i] {
				length[i], before[i], bend[i] = n, after, b
			}
		}
		if sure == none {
			link(none, 0, 0)
		}
		for j := max(sure, 0); j < i; j++ {
			if length[j] > 0 {
				link(j, days[j], lost[j])
			}
		}
		if all[i].Confirmed {
			best, sure = i, i
			continue
		}
		if length[i] > 0 && (best == none || length[i] > length[best] || length[i] == length[best] && bend[i] < bend[best]) {
			best = i
		}
	}
	in := make([]bool, len(all))
	for i := best; i != none; i = before[i] {
		in[i] = true
	}
	return in
}

// usualSlope returns the median of the losses over the square roots of the days,
// which a few slips do not move.
func usualSlope(all []Weighed, days, lost []float64) float64 {
	var slopes []float64
	for i, w := range all {
		if w.Doubt == "" && days[i] > 0 {
			slopes = append(slopes, lost[i]/math.Sqrt(days[i]))
		}
	}
	if len(slopes) == 0 {
		return 0
	}
	slices.Sort(slopes)
	return (slopes[(len(slopes)-1)/2] + slopes[len(slopes)/2]) / 2
}

// follows reports whether a piece can have lost that much by a day after
// another weigh-in.
func follows(day, lost, laterDay, laterLost, fastest float64) bool {
	change := laterLost - lost
	return change >= -mostGain && change <= freeJump+fastest*(laterDay-day)
}

// lasting prints a time for people.
func lasting(d time.Duration) string {
	const aDay = 48 * time.Hour
	switch {
	case d >= aDay:
		return fmt.Sprintf("%.3g days", inDays(d))
	case d >= time.Hour:
		return fmt.Sprintf("%.3g hours", d.Hours())
	default:
		return fmt.Sprintf("%.3g minutes", d.Minutes())
	}
}

func inDays(d time.Duration) float64 { return d.Hours() / 24 }
