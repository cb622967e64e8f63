package formula

import (
	"greenweight/domain/quantity"
)

// Rate is how much of an addition. The zero value is no rate; the constructors
// make the kinds there are.
type Rate struct {
	share  quantity.Fraction // of the batch
	onMeat quantity.Ratio    // of the meat
	volume quantity.Volume   // for a mass of meat
	mass   quantity.Mass     // for a mass of meat
	per    quantity.Mass
	kind   rateKind
}

type rateKind int

const (
	shareOfMeat rateKind = iota + 1
	shareOfBatch
	massPerMeat
	volumePerMeat
)

// ShareOfMeat returns a rate that is a share of the meat block; it may exceed
// the whole of it.
func ShareOfMeat(share quantity.Ratio) Rate { return Rate{kind: shareOfMeat, onMeat: share} }

// ShareOfBatch returns a rate that is a share of everything mixed, itself
// included.
func ShareOfBatch(share quantity.Fraction) Rate { return Rate{kind: shareOfBatch, share: share} }

// MassPer returns a rate of a mass for a mass of meat; an error when there is
// no meat, or so little that the share is no number.
func MassPer(m, meat quantity.Mass) (Rate, error) {
	_, err := m.Over(meat)
	return Rate{kind: massPerMeat, mass: m, per: meat}, err
}

// VolumePer returns a rate of a volume for a mass of meat; an error when there
// is no meat, or so little that the share is no number.
func VolumePer(v quantity.Volume, meat quantity.Mass) (Rate, error) {
	_, err := quantity.MustGramsPerMillilitre(1).Of(v).Over(meat)
	return Rate{kind: volumePerMeat, volume: v, per: meat}, err
}

func (r Rate) byVolume() bool { return r.kind == volumePerMeat }

// ofBatch returns the share of the batch, zero for the other kinds.
func (r Rate) ofBatch() quantity.Fraction { return r.share }

// forMeat returns the mass for a meat block, at both ends of the density where
// it is a volume; nothing for a share of the batch. An error when the mass is
// no number.
func (r Rate) forMeat(meat quantity.Mass, density quantity.Between[quantity.Density]) (quantity.Between[quantity.Mass], error) {
	switch r.kind {
	case shareOfMeat:
		return quantity.Exactly(r.onMeat.Of(meat)), nil
	case massPerMeat:
		k, err := meat.Over(r.per)
		return quantity.Exactly(r.mass.Times(k)), err
	case volumePerMeat:
		v, err := r.volumeFor(meat)
		return quantity.Between[quantity.Mass]{Low: density.Low.Of(v), High: density.High.Of(v)}, err
	default:
		return quantity.Between[quantity.Mass]{}, nil
	}
}

// volumeFor returns the volume for a meat block of a rate by volume.
func (r Rate) volumeFor(meat quantity.Mass) (quantity.Volume, error) {
	k, err := meat.Over(r.per)
	return r.volume.Times(k), err
}
