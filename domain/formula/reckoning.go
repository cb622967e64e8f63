package formula

import (
	"strconv"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Wishes is what else is asked of a sheet.
type Wishes struct {
	Stuffing *Stuffing // nil when it is not told; casings that the amount names stand for it
	Yields   []Yield
	Prices   *Prices // nil when no cost is asked for
}

// PartToBuy is what to buy of a part whose yield is stated.
type PartToBuy struct {
	Member fault.Path
	Name   string
	Usable quantity.Fraction
	Needed quantity.Mass // on the scale
	Bought quantity.Mass
}

// Reckoning is what else there is to say of a sheet; what was not asked is nil.
type Reckoning struct {
	HandUse *HandUse
	Filling *Filling
	ToBuy   []PartToBuy
	Costs   *Costs
}

// Reckon answers the wishes that go with a sheet. It returns the faults of Stuff
// below stuffing, and a fault.Invalid for a yield of nothing.
func Reckon(o Order, s Sheet, w Wishes) (Reckoning, error) {
	var r Reckoning
	if o.Amount.OnHand != nil {
		use, err := o.Amount.OnHand.UseOf(o.Formula, s)
		if err != nil {
			return Reckoning{}, err
		}
		r.HandUse = &use
	}
	var err error
	if r.Filling, err = FillingOf(o, s, w.Stuffing); err != nil {
		return Reckoning{}, err
	}
	if err := r.buy(o, s, w.Yields); err != nil {
		return Reckoning{}, err
	}
	if w.Prices == nil {
		return r, nil
	}
	prices := *w.Prices
	prices.Yields = w.Yields
	costs, err := CostOf(s, r.Filling, prices)
	if err != nil {
		return Reckoning{}, err
	}
	r.Costs = &costs
	return r, nil
}

// FillingOf returns what stuffing the sheet of an order comes to: as stated, or
// into the casings that its amount names; nil when neither tells. It returns the
// faults of Stuff, below stuffing or below the casings of the amount.
func FillingOf(o Order, s Sheet, stated *Stuffing) (*Filling, error) {
	at := fault.At("stuffing")
	if stated == nil && o.Amount.Casings != nil {
		stuffing := o.Amount.Casings.AsStuffing()
		stated, at = &stuffing, fault.At("amount", "casings")
	}
	if stated == nil {
		return nil, nil //nolint:nilnil // not told is no fault
	}
	filling, err := Stuff(o.Formula, s, *stated)
	var bad fault.Collector
	bad.AddError(at, "invalid-value", err)
	return &filling, bad.Err("invalid-value", "the batch can't be stuffed like that")
}

// buy fills in what to buy of the parts of which nothing is on hand.
func (r *Reckoning) buy(o Order, s Sheet, yields []Yield) error {
	bought, err := s.Bought(yields)
	if err != nil {
		return err
	}
	part := -1
	for i, l := range s.Lines {
		if l.Role != Meat {
			continue
		}
		part++
		if o.Amount.OnHand.has(part) {
			continue
		}
		if r.HandUse != nil {
			r.HandUse.Parts[part].ToBuy = bought[i]
		}
		for _, y := range yields {
			if y.Part == part {
				r.ToBuy = append(r.ToBuy, PartToBuy{Member: l.Member, Name: l.Name, Usable: y.Usable, Needed: l.OnScale(), Bought: bought[i]})
			}
		}
	}
	return nil
}

// waterFor names the water for a culture.
func waterFor(culture string) string { return "Water for " + culture }

// Find returns the members, from the formula down, that an item means: a part
// or addition by its name or by its JSON pointer below "#/formula", and the water for
// a culture. None or more than one means that the item is not known or can't be
// told.
func (f Formula) Find(item string) []fault.Path {
	var found []fault.Path
	below := fault.At("formula")
	add := func(member fault.Path, name string) {
		if item == name || item == member.Under(below).Pointer() {
			found = append(found, member)
		}
	}
	for i, p := range f.Parts {
		add(fault.At("parts", i), p.Name)
	}
	for i, a := range f.Additions {
		add(fault.At("additions", i), a.Name)
		if a.RehydrationWater != nil {
			add(fault.At("additions", i, "rehydration_water"), waterFor(a.Name))
		}
	}
	return found
}

// PartAt returns the place of a part that a member from the formula down means;
// false when it is no part.
func PartAt(member fault.Path) (int, bool) {
	const steps = 2 // parts, and which of them
	if len(member) != steps || member[0] != "parts" {
		return 0, false
	}
	place, err := strconv.Atoi(member[1])
	return place, err == nil
}

// Volume returns the volume of a weighed line whose rate is a volume, at the
// middle of the density; false for all else.
func (l Line) Volume() (quantity.Volume, bool) {
	if l.Spooned() || !l.Asked.byVolume() || l.Addition == nil {
		return quantity.Volume{}, false
	}
	d := l.Addition.density()
	if l.Role == RehydrationWater {
		d = material.Water().BulkDensity
	}
	const half = 0.5
	v, err := quantity.Millilitres(l.OnScale().Grams() / (half * (d.Low.GramsPerMillilitre() + d.High.GramsPerMillilitre())))
	return v, err == nil
}
