package wateractivity

import (
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// How far an estimate may be from what a meter would show. They were judged
// from published sausages and not fitted; see EstimateSource.
const (
	either80 = 0.03
	either95 = 0.05
)

// Estimate80 returns an estimated water activity with the interval of 0.03 to
// either side that is claimed to hold about 80 percent of products; its high end
// is not above 1. The claim is symmetric, but what is known of the error is not:
// ordinary sausages were found 0 to 0.03 below the estimate, long ripened or
// heavily seasoned ones 0.03 to 0.09 below.
func Estimate80(aw quantity.WaterActivity) (quantity.Estimate[quantity.WaterActivity], error) {
	return around(aw, either80, quantity.MustPercent(80))
}

// Estimate95 is Estimate80 with 0.05 to either side, for about 95 percent.
func Estimate95(aw quantity.WaterActivity) (quantity.Estimate[quantity.WaterActivity], error) {
	return around(aw, either95, quantity.MustPercent(95))
}

func around(aw quantity.WaterActivity, either float64, coverage quantity.Fraction) (quantity.Estimate[quantity.WaterActivity], error) {
	low, err := quantity.NewWaterActivity(max(0, aw.Float()-either))
	if err != nil {
		return quantity.Estimate[quantity.WaterActivity]{}, err
	}
	high, err := quantity.NewWaterActivity(min(1, aw.Float()+either))
	if err != nil {
		return quantity.Estimate[quantity.WaterActivity]{}, err
	}
	return quantity.Estimate[quantity.WaterActivity]{Low: low, Mid: aw, High: high, Coverage: coverage}, nil
}

// EstimateSource cites what the intervals were judged from.
func EstimateSource() source.Citation {
	return source.Citation{
		Title: "Comparison of the model with published series of moisture and water activity", Trust: source.Derived,
		Note: "dry sausage of 20 percent fat (Techniques de l'Ingénieur F6507, section 5.1), Harbin dry sausage (Foods 10(7) 1460, 2021, table 3), kulen; salt was assumed where the text gives none",
	}
}
