package drying

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/quantity"
)

// Next is when to weigh a piece again.
type Next struct {
	At       time.Duration // since hanging; the present when it is past due
	Overdue  bool
	Expected quantity.Loss // to be lost from the present until then
	Why      string
}

// When to weigh: once enough is lost that the scale tells it, three times what one
// weighing may be off; daily in the first week, when pace can still be put right;
// and no less than weekly. Every other day where a dry rim is watched. Choices of
// this project, but for the first week: common practice.
const (
	leastWait, watchWait, mostWait = 1.0, 2.0, 7.0
	tellingTimes                   = 3.0
)

// next says when to weigh again: so long after the last weigh-in.
func (a *adviser) next(ring Ring) Next {
	p := a.projection
	now := inDays(p.Now.Since)
	last := 0.0
	if n := len(a.weighed); n > 0 {
		last = math.Max(a.weighed[n-1].day, 0)
	}
	const double = 2 // standard deviations in what a weighing may be off
	telling := tellingTimes * double * a.weighing
	wait := mostWait
	if rate := p.Now.Rate.Median.PercentPerDay(); rate > 0 {
		wait = math.Min(math.Max(telling/rate, leastWait), mostWait)
	}
	if a.sealedUntil > 0 {
		at := math.Max(a.sealedUntil, now)
		return Next{At: since(at), Why: "Weigh it when it is opened, and a day or two after: sealed it does not dry, and its weight tells nothing of its pace."}
	}
	if doubted, is := a.doubted(); is {
		// The present of the projection may be that of the weigh-in before.
		at := math.Max(inDays(doubted.Since), now)
		return Next{At: since(at), Why: "Weigh the piece now: its last weight is in doubt, and is left out."}
	}
	why := fmt.Sprintf("by then it should have lost enough for the scale to tell, three times the %s that one weighing may be off", pointsOf(double*a.weighing))
	switch {
	case last < week:
		wait, why = leastWait, "daily in the first week, when too fast a pace can still be put right"
	case ring.Level == RingLikely || ring.Level == RingWatch || ring.Signature.Verdict == SlowedUnclear:
		wait, why = math.Min(wait, watchWait), "a dry rim is watched closely"
	case wait >= mostWait:
		why = "it loses little, and once a week is often enough"
	}
	at := last + wait
	if d := p.Day.P80.Low; d != Never && inDays(d) > last && inDays(d) < at {
		at, why = math.Max(inDays(d), last+leastWait), "from then on the target may be reached"
	}
	out := Next{At: since(at)}
	if at <= now {
		out.At, out.Overdue, at = p.Now.Since, at < now, now
	}
	loss, err := quantity.LossPercent(math.Max(p.lossAt(at).Median.Percent()-p.Now.Loss.Median.Percent(), 0))
	a.keep(err)
	out.Expected = loss
	days := at - now
	switch {
	case out.Overdue || days <= 0:
		out.Why = "Weigh the piece now: " + why + "."
	case days < 2:
		out.Why = fmt.Sprintf("Weigh it again in %.0f hours: %s.", math.Round(days*24), why)
	default:
		out.Why = fmt.Sprintf("Weigh it again in %.0f days: %s.", math.Round(days), why)
	}
	return out
}
