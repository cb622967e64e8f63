package wateractivity

import (
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// Moisture returns the water of the product after a loss, per mass of what is
// left of it.
//
//	(w0 - l) / (1 - l)
//
// in which
//
//   - w0: green water, per green mass
//   - l:  loss, per green mass
//
// It reports fault.Invalid for a mix that Validate refuses, and at loss_percent
// when the loss is all the water or more. Source: mass balance, no constant.
func (m Mix) Moisture(loss quantity.Loss) (quantity.Fraction, error) {
	left, err := m.valid(loss)
	if err != nil {
		return quantity.Fraction{}, err
	}
	return quantity.NewFraction(min(1, left/(1-loss.Float())))
}

// MoistureProteinRatio returns the water after a loss over the protein,
// (w0 - l) / p. It reports what Moisture reports, and fault.Invalid at
// protein_percent when there is no protein.
func (m Mix) MoistureProteinRatio(loss quantity.Loss) (quantity.Ratio, error) {
	left, err := m.valid(loss)
	if err != nil {
		return quantity.Ratio{}, err
	}
	if err := m.someProtein(); err != nil {
		return quantity.Ratio{}, err
	}
	return quantity.NewRatio(left / m.Protein.Float())
}

// LossAtRatio returns the loss that leaves so much water to the protein:
// l = w0 - ratio * p, negative for a ratio above that of the green mix. It
// reports fault.Invalid for a mix that Validate refuses, without protein, and
// for a ratio that is not positive.
func (m Mix) LossAtRatio(moistureProtein quantity.Ratio) (quantity.Loss, error) {
	if err := m.Validate(); err != nil {
		return quantity.Loss{}, err
	}
	if err := m.someProtein(); err != nil {
		return quantity.Loss{}, err
	}
	if !(moistureProtein.Float() > 0) {
		var bad fault.Collector
		bad.Add(fault.At("moisture_protein_ratio"), "minimum", "the ratio must be more than 0, got %v", moistureProtein)
		return quantity.Loss{}, bad.Err(codeInvalid, "no loss leaves less than no water")
	}
	return quantity.LossPercent(100 * (m.Water.Float() - moistureProtein.Float()*m.Protein.Float()))
}

// SaltInWater returns the salt per mass of water after a loss, s / (w0 - l). It
// reports what Moisture reports.
func (m Mix) SaltInWater(loss quantity.Loss) (quantity.Ratio, error) {
	left, err := m.valid(loss)
	if err != nil {
		return quantity.Ratio{}, err
	}
	return quantity.NewRatio(m.Salt.Float() / left)
}

// valid returns the water left after a loss, of a mix that Validate accepts.
func (m Mix) valid(loss quantity.Loss) (float64, error) {
	if err := m.Validate(); err != nil {
		return 0, err
	}
	return m.left(loss)
}

func (m Mix) someProtein() error {
	if !m.Protein.IsZero() {
		return nil
	}
	var bad fault.Collector
	bad.Add(fault.At("protein_percent"), "minimum", "there must be more than 0 %% of protein")
	return bad.Err(codeInvalid, "a ratio to protein needs some")
}
