package formula

import (
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// Price is an amount of money, in whatever currency, for a mass.
type Price struct {
	Amount quantity.Rational
	Per    quantity.Mass // more than nothing
}

// of returns what a mass costs.
func (p Price) of(m quantity.Mass) (quantity.Rational, error) {
	each, err := p.Amount.Over(p.Per.Exact())
	return each.Times(m.Exact()), err
}

// PricedLine is the price of a line of a sheet.
type PricedLine struct {
	Member fault.Path // from the formula down
	Price  Price
}

// Yield is how much of a part can be used of what is bought, after bone, skin
// and trim.
type Yield struct {
	Part   int // its place among the parts of the formula
	Usable quantity.Fraction
}

// CasingPrice is an amount of money for a length of casing.
type CasingPrice struct {
	Amount quantity.Rational
	Per    quantity.Length // more than nothing
}

// Prices is what is known of what things cost, all in one currency.
type Prices struct {
	Lines  []PricedLine
	Yields []Yield
	Casing *CasingPrice
}

// LineCost is what a line costs.
type LineCost struct {
	Member fault.Path
	Name   string
	Bought quantity.Mass // what is on the scale, with bone and trim; the middle for what is spooned
	Cost   quantity.Rational
}

// Costs is what a batch costs. Money is exact: nothing is rounded.
type Costs struct {
	Lines   []LineCost
	Casing  *quantity.Rational // nil when its price or its length is not known
	Sum     quantity.Rational  // of what has a price
	Missing []fault.Path       // lines without a price; the sum is not the total when there are any
}

// Total returns what it all costs; false when a line has no price.
func (c Costs) Total() (quantity.Rational, bool) { return c.Sum, len(c.Missing) == 0 }

// Each returns what a mass of it costs when there is so much of it, such as a
// kilogram of the batch; an error when there is nothing.
func (c Costs) Each(per, of quantity.Mass) (quantity.Rational, error) {
	share, err := per.Exact().Over(of.Exact())
	return c.Sum.Times(share), err
}

// usable returns how much of a bought part can be used.
func usable(yields []Yield, part int) quantity.Fraction {
	for _, y := range yields {
		if y.Part == part {
			return y.Usable
		}
	}
	return quantity.Fraction{}.Complement()
}

// Bought returns what must be bought for each line of the sheet: of a part more
// than is weighed, by its yield. It returns a fault.Invalid for a yield of nothing.
func (s Sheet) Bought(yields []Yield) ([]quantity.Mass, error) {
	bought := make([]quantity.Mass, 0, len(s.Lines))
	part := 0
	for _, l := range s.Lines {
		m := l.OnScale()
		if l.Role == Meat {
			var err error
			if m, err = m.DividedBy(usable(yields, part).Ratio()); err != nil {
				return nil, &fault.Error{Kind: fault.Invalid, Code: "invalid-value", Detail: "nothing can be used of " + l.Name, Violations: []fault.Violation{
					{Path: fault.At("yields"), Code: "minimum", Detail: "nothing can be used of " + l.Name},
				}}
			}
			part++
		}
		bought = append(bought, m)
	}
	return bought, nil
}

// CostOf returns what a sheet costs, with the casing that a filling takes when
// there is one. Bone and trim are paid for. The water for a culture costs nothing
// unless it has a price.
func CostOf(s Sheet, filling *Filling, p Prices) (Costs, error) {
	var c Costs
	bought, err := s.Bought(p.Yields)
	if err != nil {
		return Costs{}, err
	}
	for i, l := range s.Lines {
		place := slices.IndexFunc(p.Lines, func(q PricedLine) bool { return slices.Equal(q.Member, l.Member) })
		if place < 0 {
			if l.Role != RehydrationWater {
				c.Missing = append(c.Missing, l.Member)
			}
			continue
		}
		cost, err := p.Lines[place].Price.of(bought[i])
		if err != nil {
			return Costs{}, err
		}
		c.Lines = append(c.Lines, LineCost{Member: l.Member, Name: l.Name, Bought: bought[i], Cost: cost})
		c.Sum = c.Sum.Plus(cost)
	}
	if p.Casing != nil && filling != nil {
		each, err := p.Casing.Amount.Over(p.Casing.Per.Exact())
		if err != nil {
			return Costs{}, err
		}
		cost := each.Times(filling.Casing.Middle.Exact())
		c.Casing, c.Sum = &cost, c.Sum.Plus(cost)
	}
	return c, nil
}
