package curing

import (
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Written is what a formula brings to its meat block, by its rates.
type Written struct {
	Salt    Ingoing // plain salt and that of the cure, as sodium chloride
	Nitrite Ingoing // as sodium nitrite
	Nitrate Ingoing // as sodium nitrate
	Sugar   Ingoing // fermentable sugar that is added; of no species

	// SugarUnknown names an addition that may bring more sugar; empty where there
	// is none.
	SugarUnknown string
}

// WrittenOf returns what a formula brings as it is written, before any rounding,
// with the range that assays and spoons leave. It returns the faults of
// formula.Scale.
func WrittenOf(f formula.Formula) (Written, error) {
	order := formula.Order{Formula: f, Scale: unroundedScale()}
	order.Amount.Meat = quantity.MustGrams(1000)
	s, err := formula.Scale(order)
	if err != nil {
		return Written{}, err
	}
	var w Written
	for _, of := range []struct {
		into    *Ingoing
		agent   rulebook.Agent
		species rulebook.Species
	}{
		{&w.Salt, rulebook.Salt, rulebook.SodiumChloride},
		{&w.Nitrite, rulebook.Nitrite, rulebook.SodiumNitrite},
		{&w.Nitrate, rulebook.Nitrate, rulebook.SodiumNitrate},
	} {
		*of.into, _ = IngoingOf(s, of.agent, of.species, rulebook.MeatBlock) // each agent has its species, and there is meat
	}
	w.Sugar, _, w.SugarUnknown = fermentable(s)
	return w, nil
}
