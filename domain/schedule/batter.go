package schedule

import (
	"fmt"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
	"greenweight/domain/wateractivity"
)

// meterError is what a meter of water activity is off, either way: as package
// wateractivity has it.
const meterError = 0.003

// ofBatter returns the water activity of the batter: as measured, else as
// estimated from a formula of which water, protein and salt are known, else the
// usual one.
func (r resolved) ofBatter() (Batter, error) {
	if aw, measured := r.WaterActivity.Get(); measured {
		low, errLow := quantity.NewWaterActivity(max(aw.Float()-meterError, 0))
		high, errHigh := quantity.NewWaterActivity(min(aw.Float()+meterError, 1))
		if errLow != nil || errHigh != nil {
			return Batter{}, fmt.Errorf("around a water activity of %s", aw)
		}
		return Batter{
			WaterActivity: aw, Within: quantity.Between[quantity.WaterActivity]{Low: low, High: high}, Origin: Measured,
			Source: source.CommonPractice("a meter of water activity is good to 0.003"),
		}, nil
	}
	if r.Formula == nil {
		return usualBatter, nil
	}
	mix, guessed, err := r.composition.Mix()
	if err != nil || guessed {
		return usualBatter, nil //nolint:nilerr // a formula that makes no mixture tells nothing of the batter
	}
	aw, err := mix.At(quantity.Loss{})
	if err != nil {
		return Batter{}, err
	}
	within, err := wateractivity.Estimate80(aw)
	if err != nil {
		return Batter{}, err
	}
	return Batter{
		WaterActivity: aw, Within: quantity.Between[quantity.WaterActivity]{Low: within.Low, High: within.High}, Origin: Estimated,
		Source: wateractivity.EstimateSource(),
	}, nil
}

// batterNotes say what the water activity of the batter was taken from.
func (r resolved) batterNotes() []finding.Note {
	switch {
	case r.batter.Origin == Estimated:
		return []finding.Note{{
			Code: "batter-estimated", Member: fault.At("formula"), Source: r.batter.Source,
			Text: fmt.Sprintf("The water activity of the batter is estimated from the formula at %.3f, %.2f to %.2f for some 80 in 100 products. A meter goes before it.",
				r.batter.WaterActivity.Float(), r.batter.Within.Low.Float(), r.batter.Within.High.Float()),
		}}
	case r.batter.Origin == Usual && len(r.unknown) > 0:
		return []finding.Note{{
			Code: "batter-usual", Member: fault.At("formula"), Source: r.batter.Source,
			Text: "What " + strings.Join(r.unknown[:min(len(r.unknown), mostNamed)], ", ") + " would bring is not known: the water activity of the batter is taken to be 0.96.",
		}}
	case r.batter.Origin == Usual:
		return []finding.Note{{
			Code: "batter-usual", Member: fault.At("water_activity"), Source: r.batter.Source,
			Text: "The water activity of the batter is taken to be 0.96: give what was measured, or the formula.",
		}}
	default:
		return nil
	}
}

const mostNamed = 10
