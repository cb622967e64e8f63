package schedule

import (
	"errors"
	"fmt"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Loss is what is expected to be lost during the fermentation, by the model of
// drying and by what is usual.
type Loss struct {
	End       *drying.Band[quantity.Loss]      // by the end of the plan; nil where the model can't tell
	Early     *drying.Band[quantity.Loss]      // by 48 h, or by the end where that is sooner
	Published *quantity.Between[quantity.Loss] // what is usual in such air; nil where its humidity is not planned
	When      string                           // for which air and time that is
	Source    source.Citation                  // of what is usual

	ends    []drying.Band[quantity.Loss]
	unknown string // why the model can't tell
}

// early is the time for which the trade has a most.
const early = 48 * time.Hour

// The most that is lost in 48 h before a dry rim is to be suspected.
const (
	watchedLoss = 10.0
	mostLoss    = 12.0
	dampAir     = 90.0 // percent, in which little is lost
)

var lossSource = source.Citation{
	Title: "Common practice of the trade, no source", Trust: source.Memory,
	Note: "recalled with low confidence: 2 to 5 percent at 90 percent of humidity or more; 5 to 12 percent in three days in thin casings or drier air; more than 10 to 12 percent in 48 h speaks for a dry rim",
}

// expected returns what is lost.
func (r resolved) expected() (Loss, error) {
	l := Loss{Source: lossSource}
	driest := 100.0
	var whiles []drying.While
	for i, s := range r.Steps {
		h, known := s.Humidity.Get()
		if !known {
			l.unknown = fmt.Sprintf("no humidity is planned in step %d", i+1)
			return l, nil
		}
		driest = min(driest, h.Percent())
		whiles = append(whiles, drying.While{Temperature: temperatureOf(s), Humidity: h, AirSpeed: s.AirSpeed, Span: s.Span})
	}
	l.Published, l.When = usualLoss(driest)
	at := []time.Duration{min(early, r.end())}
	var end time.Duration
	for _, s := range r.Steps {
		end += s.Span
		at = append(at, end)
	}
	bands, err := drying.Expect(drying.Hanging{Diameter: r.Diameter, Composition: r.composition, Whiles: whiles}, at...)
	if wrong, ok := errors.AsType[*fault.Error](err); ok {
		l.unknown = "the model of drying does not cover it: " + wrong.Detail
		return l, nil
	}
	if err != nil {
		return l, err
	}
	l.Early, l.ends, l.End = &bands[0], bands[1:], &bands[len(bands)-1]
	return l, nil
}

// usualLoss returns what is usual by the driest air of the plan.
func usualLoss(driest float64) (*quantity.Between[quantity.Loss], string) {
	if driest >= dampAir {
		return &quantity.Between[quantity.Loss]{Low: quantity.MustLossPercent(2), High: quantity.MustLossPercent(5)},
			"the whole fermentation, in air of 90 % or more"
	}
	return &quantity.Between[quantity.Loss]{Low: quantity.MustLossPercent(5), High: quantity.MustLossPercent(12)},
		"three days, in thin casings or air below 90 %; thick ones lose less"
}

// judgeLoss holds what is lost in the first 48 h against what the trade has as
// the most. That is from memory: kept it is not shown.
func (r resolved) judgeLoss(l Loss) finding.Finding {
	f := finding.Finding{
		Code: "early-loss", Status: finding.NotShown, Stage: finding.Process, Authority: finding.Practice, Subject: "the loss of the first 48 h",
		Limit:   finding.Limit{Comparator: rulebook.AtMost.String(), Value: quantity.MustLossPercent(mostLoss).Measure(), Printed: "10 to 12 percent in 48 h"},
		Members: [][]string{r.steps()}, Source: lossSource, Reason: l.unknown,
	}
	if l.Early == nil {
		f.Remedy = "Plan the humidity of every step."
		return f
	}
	m := l.Early.Median
	f.Measured = finding.Figure{Value: m.Measure(), Range: quantity.Between[quantity.Measure]{Low: l.Early.P80.Low.Measure(), High: l.Early.P80.High.Measure()}}
	f.Reason = fmt.Sprintf("about %.2g %% are expected by %s, %.2g to %.2g in 80 of 100 cases, before anything was weighed",
		m.Percent(), hours(min(early, r.end())), l.Early.P80.Low.Percent(), l.Early.P80.High.Percent())
	switch {
	case m.Percent() > mostLoss:
		f.Status = finding.NotMet
		f.Reason += ": that fast the rim hardens"
		f.Remedy = "Plan damper or stiller air, and weigh a piece every day."
	case l.Early.P80.High.Percent() > watchedLoss:
		f.Status = finding.Near
		f.Reason += ": it may be so fast that the rim hardens"
		f.Remedy = "Weigh a piece after a day: more than 5 to 6 % by then is too fast."
	default:
		f.Reason += "; the limit of the trade is recalled and not verified"
	}
	return f
}

// lossNotes say what the expectation rests on.
func (r resolved) lossNotes(l Loss) []finding.Note {
	var notes []finding.Note
	if _, sized := r.Diameter.Get(); !sized && l.End != nil {
		notes = append(notes, finding.Note{
			Code: "diameter-not-given", Member: fault.At("diameter"), Source: drying.Sources()[len(drying.Sources())-1],
			Text: "Without a diameter the loss is little more than a guess: a sausage of 55 mm is taken, and wide bands.",
		})
	}
	if _, guessed, err := r.composition.Mix(); (guessed || err != nil) && l.End != nil {
		notes = append(notes, finding.Note{
			Code: "composition-usual", Member: fault.At("formula"), Source: source.CommonPractice("three parts of lean pork and one of back fat, with 2.7 percent of salt"),
			Text: "What is not known of the mixture is taken as usual for the loss: give the formula.",
		})
	}
	return notes
}
