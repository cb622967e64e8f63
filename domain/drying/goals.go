package drying

import (
	"errors"
	"fmt"
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/wateractivity"
)

// Measure is by what a piece is to be done. The zero value is invalid.
type Measure int

// The measures.
const (
	ByLoss     Measure = iota + 1
	ByActivity         // the estimated water activity
	ByRatio            // moisture per protein
)

// String returns the word used on the wire.
func (m Measure) String() string {
	switch m {
	case ByLoss:
		return "loss"
	case ByActivity:
		return "water-activity"
	case ByRatio:
		return "moisture-protein-ratio"
	default:
		return "unstated"
	}
}

// Goal is one thing that a piece is to reach, and when it does.
type Goal struct {
	By      Measure
	Loss    quantity.Estimate[quantity.Loss] // that stands for it, within 80 %: of a water activity, by the estimate
	Outcome Outcome
	Day     Day

	aim aim
}

// An estimated water activity is off by a normal error that is within 0.03 in 80
// of 100 cases (wateractivity.Estimate80). It is taken at the middles of five
// parts of even probability, moved out so that their variance is that of the
// whole.
var (
	activityError = 0.03 / 1.2815515655446004 // the 90th percentile of a normal distribution
	fifths        = [...]float64{-1.478, -0.562, 0, 0.562, 1.478}
)

// goals returns what an order wants, the loss first, or what is at fault with it.
func (o Order) goals() ([]Goal, error) {
	var bad fault.Collector
	var all []Goal
	mix, _, err := o.Composition.Mix()
	if err != nil {
		return nil, err
	}
	add := func(by Measure, path string, middle, low, high float64, a aim) {
		if middle <= 0 {
			bad.Add(fault.At(path), "already-fresh", "the mixture is there before it loses anything")
			return
		}
		var e quantity.Estimate[quantity.Loss]
		for _, part := range []struct {
			to   *quantity.Loss
			loss float64
		}{{&e.Low, low}, {&e.Mid, middle}, {&e.High, high}} {
			var err error
			*part.to, err = quantity.LossPercent(part.loss)
			bad.AddError(fault.At(path), "out-of-range", err)
		}
		e.Coverage = quantity.MustPercent(80)
		all = append(all, Goal{By: by, Loss: e, aim: a})
	}
	if t := o.Target.Percent(); t != 0 {
		add(ByLoss, "target_loss_percent", t, t, t, aim{{t, 1}})
	}
	if aw, is := o.Activity.Get(); is {
		at := func(aw float64) float64 {
			var loss float64
			var h quantity.RelativeHumidity
			if h, err = quantity.HumidityPercent(100 * math.Min(math.Max(aw, 0), 1)); err == nil {
				loss, err = stops(mix, h)
			}
			return loss
		}
		var a aim
		for _, off := range fifths {
			a = append(a, struct{ loss, weight float64 }{at(aw.Float() - off*activityError), 1.0 / float64(len(fifths))})
		}
		middle, low, high := at(aw.Float()), at(aw.Float()+0.03), at(aw.Float()-0.03)
		if err != nil {
			return nil, fmt.Errorf("loss at a water activity: %w", err)
		}
		add(ByActivity, "target_water_activity", middle, low, high, a)
	}
	if ratio, is := o.Ratio.Get(); is {
		loss, err := mix.LossAtRatio(ratio)
		if err != nil {
			var f *fault.Error
			if !errors.As(err, &f) {
				return nil, err
			}
			bad.Add(fault.At("target_moisture_protein_ratio"), f.Code, "%s", f.Detail)
		} else {
			l := loss.Percent()
			add(ByRatio, "target_moisture_protein_ratio", l, l, l, aim{{l, 1}})
		}
	}
	return all, bad.Err("invalid-value", "the order has no meaning as it stands")
}

// together returns the aim of all goals: the most that any asks for.
func together(all []Goal) aim {
	most := aim{{math.Inf(-1), 1}}
	for _, g := range all {
		var next aim
		for _, a := range most {
			for _, b := range g.aim {
				next = append(next, struct{ loss, weight float64 }{math.Max(a.loss, b.loss), a.weight * b.weight})
			}
		}
		most = next
	}
	return most
}

// farthest returns the loss that the goals ask for together, in the middle of
// what each may be.
func farthest(all []Goal) quantity.Loss {
	most := all[0].Loss.Mid
	for _, g := range all[1:] {
		if most.Less(g.Loss.Mid) {
			most = g.Loss.Mid
		}
	}
	return most
}

// validateGoals reports what is at fault with what an order wants, as far as that
// can be told from each alone.
func (o Order) validateGoals(bad *fault.Collector) {
	activity, byActivity := o.Activity.Get()
	ratio, byRatio := o.Ratio.Get()
	switch t := o.Target.Percent(); {
	case t == 0 && !byActivity && !byRatio:
		bad.Add(fault.At("target_loss_percent"), "required", "nothing is aimed at: a loss, a water activity or a moisture to protein is needed")
	case t < 0 || t >= mostWater:
		bad.Add(fault.At("target_loss_percent"), "out-of-range",
			"the target must be a loss of more than 0 and less than %v %%, the water of the leanest meat; got %v", mostWater, o.Target)
	}
	if byActivity && activity.Float() < crystallises {
		bad.Add(fault.At("target_water_activity"), "out-of-range", "below %v the salt crystallises and the estimate of the water activity ends; got %v", crystallises, activity)
	}
	if byRatio && !(ratio.Float() > 0) {
		bad.Add(fault.At("target_moisture_protein_ratio"), "out-of-range", "the ratio must be more than nothing; got %v", ratio)
	}
}

// remarkGoals says what a goal rests on.
func (out *Projection) remarkGoals() {
	for _, g := range out.Goals {
		if g.By == ByActivity {
			out.Notes = append(out.Notes, finding.Note{
				Code: "activity-is-an-estimate", Member: fault.At("target_water_activity"),
				Text: fmt.Sprintf("By the estimate, that water activity comes at a loss of about %.0f %%, %.0f to %.0f %% in 80 of 100 cases, and the day carries that doubt. Only a meter or a laboratory shows it.",
					g.Loss.Mid.Percent(), g.Loss.Low.Percent(), g.Loss.High.Percent()), Source: wateractivity.EstimateSource(),
			})
		}
	}
}
