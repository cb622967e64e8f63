package formula

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Making is one batch to shop for.
type Making struct {
	Sheet   Sheet
	Yields  []Yield
	OnHand  *OnHand    // what the batch is made of and nobody buys; nil when nothing is listed
	Filling *Filling   // nil when it is not told how it is stuffed
	At      fault.Path // the formula, from the question down
}

// Stocked is what is known of a thing to buy, by its name.
type Stocked struct {
	Name   string
	OnHand quantity.Mass // as bought, with bone and trim
	Pack   quantity.Mass // it is sold in whole packs of this; zero when in any amount
	Price  *Price        // nil when it is not known
}

// Purchase is one thing to buy for all batches.
type Purchase struct {
	Name     string
	Role     Role
	Material string         // its key; empty for a cure and for what has a name alone
	Cure     *rulebook.Cure // nil for what is no cure
	For      []fault.Path   // the lines it is for, from the question down

	Needed quantity.Mass // as bought, with bone and trim
	OnHand quantity.Mass // of that
	ToBuy  quantity.Mass // what is missing, in whole packs where it is sold in packs
	Pack   quantity.Mass
	Packs  int64
	Over   quantity.Mass // what is left of the packs
	Cost   *quantity.Rational
}

// CasingPurchase is the casing of one size that all batches take.
type CasingPurchase struct {
	Diameter quantity.Length // stuffed
	Pieces   int64
	Length   Spread[quantity.Length]
	For      []fault.Path // the formulas, from the question down
}

// Shopping is a shopping list.
type Shopping struct {
	Purchases []Purchase
	Casings   []CasingPurchase // the thinnest first
	Sum       quantity.Rational
	Unpriced  []string // names of what is to be bought without a price; the sum is not the total when there are any
}

// sameThing tells things to buy apart: by name, and by what they are.
type sameThing struct {
	name, material, cure string
	contents             rulebook.Contents
}

// thing returns what a line is, and false for what is not bought: the water for
// a culture comes from the tap.
func thing(l Line) (sameThing, bool) {
	is := sameThing{name: l.Name}
	switch {
	case l.Role == RehydrationWater:
		return is, false
	case l.Part != nil:
		is.material = l.Part.Material.Key
	case l.Addition != nil && l.Addition.Cure != nil:
		is.cure, is.contents = l.Addition.Cure.Key, l.Addition.Cure.Contents
	case l.Addition != nil && l.Addition.Material != nil:
		is.material = l.Addition.Material.Key
	}
	return is, true
}

// mostPacks is more than anybody carries home.
const mostPacks = 1e6

// List sums what batches need to one list: lines of the same name and of the
// same material or cure are one thing. Of what is spooned the most that the
// spoons may hold is counted. A part that a batch is made of because it is on hand
// is not on the list. What else is on hand is taken off, and what is sold in
// packs is rounded up to whole ones, which is what it costs.
//
// It returns a fault.Invalid with paths from stocked down for a name that is on
// no line of batches or others, one that means two things, and one given twice;
// and for more packs than a million. Others is what a name may mean beside: what is
// in formulas that no list is made for.
func List(batches []Making, stocked []Stocked, others []string) (Shopping, error) {
	places := map[sameThing]int{}
	others = slices.Clone(others)
	var list Shopping
	for _, b := range batches {
		bought, err := b.Sheet.Bought(b.Yields)
		if err != nil {
			return Shopping{}, err
		}
		part := -1
		for i, l := range b.Sheet.Lines {
			is, ok := thing(l)
			if !ok {
				continue
			}
			if l.Role == Meat {
				part++
				if b.OnHand.has(part) { // no more of it is weighed than there is
					others = append(others, l.Name)
					continue
				}
			}
			need := bought[i]
			if l.Spooned() {
				need = l.Range.High
			}
			place, ok := places[is]
			if !ok {
				place = len(list.Purchases)
				places[is] = place
				p := Purchase{Name: l.Name, Role: l.Role, Material: is.material}
				if l.Addition != nil {
					p.Cure = l.Addition.Cure
				}
				list.Purchases = append(list.Purchases, p)
			}
			p := &list.Purchases[place]
			p.Needed = p.Needed.Plus(need)
			p.Role = min(p.Role, l.Role)
			p.For = append(p.For, l.Member.Under(b.At))
		}
	}
	if err := list.stock(stocked, others); err != nil {
		return Shopping{}, err
	}
	if err := list.addCasings(batches); err != nil {
		return Shopping{}, err
	}
	slices.SortStableFunc(list.Purchases, func(a, b Purchase) int {
		return cmp.Or(cmp.Compare(a.Role, b.Role), cmp.Compare(a.Name, b.Name), cmp.Compare(a.Material, b.Material))
	})
	for _, p := range list.Purchases {
		switch {
		case p.Cost != nil:
			list.Sum = list.Sum.Plus(*p.Cost)
		case !p.ToBuy.IsZero():
			list.Unpriced = append(list.Unpriced, p.Name)
		}
	}
	return list, nil
}

// addCasings sums the casing of the batches, by the stuffed diameter to a
// thousandth of a millimetre: a flat width and its diameter are one size.
func (s *Shopping) addCasings(batches []Making) error {
	const sizes = 1000 // in a millimetre
	places := map[int64]int{}
	for _, b := range batches {
		if b.Filling == nil {
			continue
		}
		size := int64(math.Round(b.Filling.Diameter.Millimetres() * sizes))
		place, ok := places[size]
		if !ok {
			place = len(s.Casings)
			places[size] = place
			s.Casings = append(s.Casings, CasingPurchase{Diameter: b.Filling.Diameter})
		}
		c := &s.Casings[place]
		c.Pieces += b.Filling.Count
		c.For = append(c.For, b.At)
		for _, end := range []struct {
			to   *quantity.Length
			more quantity.Length
		}{{&c.Length.Low, b.Filling.Casing.Low}, {&c.Length.Middle, b.Filling.Casing.Middle}, {&c.Length.High, b.Filling.Casing.High}} {
			var err error
			if *end.to, err = quantity.Metres(end.to.Metres() + end.more.Metres()); err != nil {
				return fmt.Errorf("casing of %s: %w", c.Diameter, err)
			}
		}
	}
	slices.SortStableFunc(s.Casings, func(a, b CasingPurchase) int { return cmp.Compare(a.Diameter.Metres(), b.Diameter.Metres()) })
	return nil
}

// stock fills in what is on hand, the packs and the cost.
func (s *Shopping) stock(stocked []Stocked, others []string) error {
	var bad fault.Collector
	known := map[string]int{}
	for i, k := range stocked {
		if first, ok := known[k.Name]; ok {
			bad.Add(fault.At(i, "item"), "duplicate", "%q is listed at %d already", k.Name, first)
			continue
		}
		known[k.Name] = i
		count := 0
		for _, p := range s.Purchases {
			if p.Name == k.Name {
				count++
			}
		}
		switch {
		case count == 0 && !slices.Contains(others, k.Name):
			bad.Add(fault.At(i, "item"), "unknown-item", "no formula has a part or addition named %q", k.Name)
		case count > 1:
			bad.Add(fault.At(i, "item"), "ambiguous-item", "%q is the name of %d different materials", k.Name, count)
		}
	}
	if err := bad.Err("invalid-value", "what is known of the things to buy has no meaning"); err != nil {
		return err
	}
	for i := range s.Purchases {
		p := &s.Purchases[i]
		place, ok := known[p.Name]
		if !ok {
			p.ToBuy = p.Needed
			continue
		}
		if err := p.stock(stocked[place]); err != nil {
			bad.AddError(fault.At(place), "maximum", err)
		}
	}
	return bad.Err("invalid-value", "what is known of the things to buy has no meaning")
}

func (p *Purchase) stock(k Stocked) error {
	p.OnHand = k.OnHand
	p.ToBuy = atLeastNothing(p.Needed.Minus(k.OnHand))
	if !k.Pack.IsZero() {
		missing := p.ToBuy
		packs, count, err := missing.RoundTo(k.Pack, quantity.Up)
		if err != nil || count > mostPacks {
			return fmt.Errorf("%s in packs of %s are more than %g", missing, k.Pack, math.Round(mostPacks))
		}
		p.Pack, p.Packs, p.ToBuy, p.Over = k.Pack, count, packs, atLeastNothing(packs.Minus(missing))
	}
	if k.Price != nil {
		cost, err := k.Price.of(p.ToBuy)
		if err != nil {
			return err
		}
		p.Cost = &cost
	}
	return nil
}
