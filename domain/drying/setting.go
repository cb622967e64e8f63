package drying

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/air"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Action is what to do with the humidity of a room. The zero value is invalid.
type Action int

// The actions.
const (
	Keep Action = iota + 1
	Raise
	Lower
	Equalise  // damp still air until the moisture inside is even
	NoSetting // too little is known
)

var actionWords = []string{"", "keep", "raise", "lower", "equalise", "not-shown"}

// String returns the word used on the wire.
func (v Action) String() string { return wordOf(actionWords, int(v)) }

// Setting is the humidity to set now, and in the weeks to come.
type Setting struct {
	Action   Action
	Range    material.Known[quantity.Between[quantity.RelativeHumidity]] // where the air is kept outside of the guide's, it reaches there
	Value    material.Known[quantity.RelativeHumidity]                   // in whole percent: no hygrometer tells more
	Air      material.Known[quantity.RelativeHumidity]                   // what the air was taken to be at
	Read     bool                                                        // a hygrometer says so
	Activity material.Known[quantity.Estimate[quantity.WaterActivity]]
	SlowAir  bool   // it is damp enough and moves too fast
	Weeks    []Week // from now on; none when the target is reached, and while something else comes first
	Why      string
}

// Week is a week to come, from the projection in the present air.
type Week struct {
	From, To time.Duration // since hanging; the last ends with the target
	Humidity quantity.RelativeHumidity
	Loss     Band[quantity.Loss] // at its end
}

// The gap of the guide (guideSource), in points, and the one in the middle of it
// that is advised in usual air; in fast air the small one. From where air is fast is
// this project's own; 0.5 m/s is the most of early drying (recalled).
const (
	leastGap, middleGap, mostGap = 3.0, 4.0, 5.0
	fastAir                      = 0.3
	// dampest is the top of what the guide has, at the start.
	dampest = 93.0
	// equalLow and equalHigh are the air in which a dry rim softens: equalSource.
	equalLow, equalHigh = 85.0, 90.0
	// dryEnough is the humidity below which air is raised although the piece loses
	// at a comfortable rate; published processes dry at 75 to 85. A choice of this
	// project.
	dryEnough = 70.0
	mostWeeks = 8
)

// setting says which humidity to set now. The weights come first: a piece that
// loses at a comfortable rate needs no other air, whatever the guide has.
func (a *adviser) setting(pace Pace, ring Ring) (Setting, error) {
	out := Setting{Action: NoSetting, Activity: ring.Signature.Activity}
	percent, read, told := a.humidity()
	if told {
		out.Air, out.Read = material.Is(a.humid(percent)), read
	}
	if a.sealedUntil > 0 {
		out.Why = "The piece is sealed, so that its moisture becomes even: the air of the room does not matter to it."
		return out, nil
	}
	if !a.activity.told {
		out.Why = "By its loss the piece is drier than the model of its water activity reaches, so that no humidity can be told for it. Measure it."
		return out, nil
	}
	most, err := a.mostGap(pace)
	if err != nil {
		return out, err
	}
	low, value, high := a.gapped(a.activity.aw, most)
	if a.equalises(ring) {
		low, high = equalLow, equalHigh
		value = math.Min(math.Max(value, low), high)
	}
	if told && percent > low && a.stopsShort(pace, ring) {
		value, high = low, low
	}
	out.Value = material.Is(a.humid(value))
	a.act(&out, pace, ring, percent, told, low, high)
	held := math.Inf(1)
	if out.Action == Keep && told && a.projection.Outcome != AlreadyThere {
		held = math.Round(percent)
		low, high, value = math.Min(low, held), math.Max(high, held), held
		out.Value = material.Is(a.humid(value))
	}
	out.Range = material.Is(quantity.Between[quantity.RelativeHumidity]{Low: a.humid(low), High: a.humid(high)})
	if a.projection.Outcome == AlreadyThere || a.equalises(ring) || ring.asks {
		return out, nil
	}
	a.comeDown(&out, value)
	out.Weeks, err = a.weeks(most, held)
	return out, err
}

// comeDown says how dry the air has to become for the target.
func (a *adviser) comeDown(out *Setting, value float64) {
	stops, target := a.projection.Stops.Median.Percent(), a.projection.Target.Percent()
	needed, told := a.order.needed(a.projection.Target)
	if !told || stops >= target+closeToStop || value <= needed.Percent() {
		return
	}
	out.Why += fmt.Sprintf(" In the present air the drying stops at about %.0f %%, and %.0f %% are aimed at: the air has to come down to %.0f %% by then.", stops, target, math.Floor(needed.Percent()))
}

// equalises reports whether the moisture inside has to become even first.
func (a *adviser) equalises(ring Ring) bool {
	return ring.Level == RingLikely && a.projection.Outcome != AlreadyThere
}

// stopsShort reports whether a slow piece stops before its target in the air that
// was told, and nothing speaks for a dry rim: the damp end of the guide's gap is no
// use to it.
func (a *adviser) stopsShort(pace Pace, ring Ring) bool {
	return (pace.Verdict == Slow || pace.Verdict == Stopped) && a.projection.Outcome == NotAtThisHumidity &&
		ring.Level != RingWatch && ring.Level != RingLikely && ring.Signature.Verdict != SlowedUnclear
}

// gapped returns the humidity for a water activity: the ends of the guide's gap, in
// whole percent, and the value within.
func (a *adviser) gapped(aw, most float64) (low, value, high float64) {
	const hundred = 100
	gap := middleGap
	if v, told := a.air.AirSpeed.Get(); told && v.MetresPerSecond() > fastAir {
		gap = leastGap
	}
	gap = math.Min(gap, most)
	whole := func(h float64) float64 { return math.Min(math.Max(math.Round(h), 0), dampest) }
	return whole(hundred*aw - most), whole(hundred*aw - gap), whole(hundred*aw - leastGap)
}

// mostGap returns the largest gap that does not bring more than what is too fast,
// while the surface is as wet as the piece; at least the smallest of the guide, in
// which it may yet do so: the casing and the inside hold water back too.
func (a *adviser) mostGap(pace Pace) (float64, error) {
	limits, scaled := pace.Limits.Get()
	diameter, _ := a.order.Diameter.Get()
	temperature, warm := a.air.Temperature.Get()
	if !scaled || !warm {
		return mostGap, nil
	}
	const points = 1.0
	per, err := air.DryingBound(diameter, temperature, a.humid(100-points), quantity.MustWaterActivity(1),
		a.air.AirSpeed.Or(quantity.MustMetresPerSecond(usedSpeed)), quantity.MustGramsPerMillilitre(mixtureDensity))
	if err != nil {
		return 0, fmt.Errorf("what a point of humidity takes: %w", err)
	}
	if !(per.PercentPerDay() > 0) {
		return mostGap, nil
	}
	return math.Min(math.Max(limits.TooFast.PercentPerDay()/per.PercentPerDay(), leastGap), mostGap), nil
}

// act decides what to do, and says why.
func (a *adviser) act(out *Setting, pace Pace, ring Ring, percent float64, told bool, low, high float64) {
	value, _ := out.Value.Get()
	off := a.seen.hygrometer()
	wanted := fmt.Sprintf("%.0f to %.0f %%", low, high)
	if low == high {
		wanted = fmt.Sprintf("%.0f %%", low)
	}
	of := fmt.Sprintf("3 to 5 points under the piece, whose water activity is estimated at %.2f, give or take %.2f", a.activity.aw, cut*a.activity.sd)
	about := fmt.Sprintf("about %.0f %% (%s)", value.Percent(), wanted)
	if low == high {
		about = "about " + wanted
	}
	said := "The air"
	if told {
		said = fmt.Sprintf("The air, said to be at %.0f %%,", percent)
		if out.Read {
			said = fmt.Sprintf("The air, read at %.0f %%,", percent)
		}
	}
	slow := pace.Verdict == Slow || pace.Verdict == Stopped
	dry, damp := told && percent < low-off, told && (percent > high+off || slow && percent > high)
	fast := pace.Verdict == TooFast || pace.Verdict == Fast
	rim := ring.Level == RingWatch && ring.Signature.Verdict != SlowedUnclear
	switch {
	case a.projection.Outcome == AlreadyThere:
		out.Action, out.Why = Keep, "The loss that was aimed at is reached: nothing in the air needs to change for it."
	case a.equalises(ring):
		out.Action = Equalise
		out.Why = fmt.Sprintf("Let the moisture inside become even: %s of humidity and still air for 2 to 7 days, or seal it and keep it cold for 1 to 4 weeks, then dry on. "+
			"The weight hardly moves in that time: tell those days as equalising, so that they do not count as drying.", wanted)
		if rim, is := ring.Rim.Get(); is {
			if even, is := rim.Even.Get(); is && even > 0 {
				out.Why += fmt.Sprintf(" By the model it takes about %s, sealed and at %.0f °C, until the outer third is within %.0f points of the rest.", lasting(even), sealedCelsius, evenGap)
			}
		}
	case ring.asks:
		out.Action = NoSetting
		out.Why = fmt.Sprintf("Read the humidity first: a dry rim wants damper air, a humid room drier. Later %s, which is %s.", wanted, of)
	case fast && told && percent >= low:
		out.Action, out.SlowAir = Keep, true
		out.Why = fmt.Sprintf("%s is not below the %s that are %s, and the piece still loses fast: check the hygrometer, and how fast the air moves.", said, wanted, of)
	case rim && told && percent >= low:
		out.Action = Keep
		out.Why = fmt.Sprintf("%s is not below the %s that are %s: leave it so that the rim can soften.", said, wanted, of)
	case fast, rim:
		why := "It loses faster than is comfortable."
		if !fast {
			why = "A dry rim is likely to come."
		}
		out.Action = Raise
		out.Why = fmt.Sprintf("Raise the humidity to %s, a few points a day: that is %s. %s", about, of, why)
	case damp && pace.Verdict != Comfortable:
		out.Action = Lower
		out.Why = fmt.Sprintf("Lower the humidity to %s, by one or two points a day: that is %s. %s hardly draws water from it.", about, of, said)
	case told && percent+off < dryEnough, dry && pace.Verdict == PaceNotShown && ring.Signature.Verdict != AsFitted:
		out.Action = Raise
		out.Why = fmt.Sprintf("Raise the humidity to %s: that is %s. %s is drier than that, and may harden the rim before the inside follows.", about, of, said)
	case dry && slow:
		out.Action = Keep
		out.Why = fmt.Sprintf("%s is below the %s that are %s: drier air would not hasten the inside, and makes a dry rim.", said, wanted, of)
	case dry || damp:
		but := "the piece loses at a comfortable rate, and no other air is needed for it now"
		if pace.Verdict == PaceNotShown {
			but = "the piece dries on as its weigh-ins led to; with its diameter it could be told whether that is comfortable"
		}
		out.Action = Keep
		out.Why = fmt.Sprintf("The guide would have %s, %s. %s is outside of that; but %s.", wanted, of, said, but)
	case told:
		out.Action = Keep
		out.Why = fmt.Sprintf("%s is at the %s that are %s, as far as a hygrometer tells.", said, wanted, of)
	default:
		out.Action = NoSetting
		out.Why = fmt.Sprintf("Nobody told the humidity of the room. For the piece as it is %s are advised, %s.", wanted, of)
	}
}

// weeks returns the humidity of the weeks to come: the gap under what the piece
// will be in the middle of each, no damper than the air that is held, and in the
// week of the target not so damp that the drying stops before it. Where the drying
// stops before it in the present air, the humidity comes down evenly, in the weeks
// that are told, to one in which it does not.
func (a *adviser) weeks(most, held float64) ([]Week, error) {
	p := a.projection
	now := inDays(p.Now.Since)
	end := now + mostWeeks*week
	if d := p.Day.Median; d != Never {
		end = math.Min(end, math.Max(inDays(d), now+1))
	}
	var all []Week
	needed, told := a.order.needed(p.Target)
	first := math.Inf(1)
	const least = 1.0 / 24 // no week is shorter
	for k := range mostWeeks {
		from := now + float64(k)*week
		to := math.Min(from+week, end)
		if to-from < least {
			break
		}
		middle, err := a.activityAt(p.lossAt((from + to) / 2).Median)
		if err != nil {
			return nil, err
		}
		if !middle.told {
			break
		}
		_, value, _ := a.gapped(middle.aw, most)
		value = math.Min(value, held)
		first = math.Min(first, value)
		switch last := math.Floor(needed.Percent()); {
		case !told:
		case p.Day.Median == Never:
			value = math.Min(value, math.Round(first+(math.Min(last, first)-first)*float64(k)/(mostWeeks-1)))
		case to >= end && end < now+mostWeeks*week:
			value = math.Min(value, last)
		}
		all = append(all, Week{From: since(from), To: since(to), Humidity: a.humid(value), Loss: p.lossAt(to)})
	}
	return all, nil
}

// lossAt returns the loss at a day of the course, between two of its points in
// straight lines.
func (out *Projection) lossAt(day float64) Band[quantity.Loss] {
	course := out.Course
	for k := 1; k < len(course); k++ {
		from, to := inDays(course[k-1].Since), inDays(course[k].Since)
		if day > to {
			continue
		}
		part := math.Min(math.Max((day-from)/(to-from), 0), 1)
		between := func(a, b quantity.Loss) quantity.Loss {
			l, err := quantity.LossPercent(a.Percent()*(1-part) + b.Percent()*part)
			if err != nil { // it lies between two
				return b
			}
			return l
		}
		ends := func(a, b quantity.Between[quantity.Loss]) quantity.Between[quantity.Loss] {
			return quantity.Between[quantity.Loss]{Low: between(a.Low, b.Low), High: between(a.High, b.High)}
		}
		a, b := course[k-1].Loss, course[k].Loss
		return Band[quantity.Loss]{Median: between(a.Median, b.Median), P50: ends(a.P50, b.P50), P80: ends(a.P80, b.P80), P90: ends(a.P90, b.P90)}
	}
	return course[len(course)-1].Loss
}

// humid returns a relative humidity, at the end of the scale where it would be
// beyond.
func (w *writer) humid(percent float64) quantity.RelativeHumidity {
	h, err := quantity.HumidityPercent(math.Min(math.Max(percent, 0), 100))
	w.keep(err)
	return h
}
