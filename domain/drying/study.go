package drying

import (
	"greenweight/domain/quantity"
)

// Study is the projection with other spreads, for the project's own studies of
// its accuracy: what it would say had the constants that were chosen on data been
// chosen otherwise, for example on all studies but the one that it is held
// against. Each number multiplies a spread; zero leaves it as it is, so that the
// zero value is [Project]. It is not for answers: nothing that a user says may
// reach it.
//
// What was chosen on what: the memory of the misfit, the error of a weigh-in and the
// onsets on the analysed series of fermented sausage and bacon that the accuracy
// command is run on, and the end of drying where no humidity is told by its score
// on fermented sausage (figures for those series are flattered by both); the misfit
// and the spread of the end of drying on lots drawn with the seed 301, the latter
// also on each study of the analysed series by itself; what pieces of a rack share of
// their departure on drawn racks of the seed 1907, which flatters it there; the
// spreads of rate and surface are this project's own, from those series and from the
// days that makers give. Nothing was chosen on analogues.
type Study struct {
	Misfit  quantity.Ratio // departure of a piece from the best curve
	Rate    quantity.Ratio // ln(D/R²) before any weigh-in
	Surface quantity.Ratio // ln(Bi) before any weigh-in
	Stops   quantity.Ratio // loss at which the drying stops, before any weigh-in
}

// Project answers an order as [Project] does.
func (s Study) Project(o Order) (Projection, error) { return project(o, s) }

func (s Study) misfit() misfit {
	n := modelError
	n.sd *= timesOrOne(s.Misfit)
	return n
}

// spread widens what is known before any weigh-in.
func (s Study) spread(p *prior) {
	p.logRateSD *= timesOrOne(s.Rate)
	p.logBiotSD *= timesOrOne(s.Surface)
	for i := range p.spells {
		p.spells[i].stopsSD *= timesOrOne(s.Stops)
	}
}

func timesOrOne(r quantity.Ratio) float64 {
	if times := r.Float(); times > 0 {
		return times
	}
	return 1
}
