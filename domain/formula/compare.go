package formula

import (
	"fmt"
	"math"
	"reflect"

	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// ID names a saved formula: a UUID in its usual text form.
type ID string

// Fate is what has become of an ingredient between two formulas. The zero value
// is invalid.
type Fate int

// The fates.
const (
	Kept    Fate = iota + 1 // it is as it was
	Changed                 // it is there in both, with another amount or something else about it
	Added                   // it is new
	Removed                 // it is gone
)

// String returns the word used on the wire.
func (f Fate) String() string {
	switch f {
	case Kept:
		return "kept"
	case Changed:
		return "changed"
	case Added:
		return "added"
	case Removed:
		return "removed"
	default:
		return "unstated"
	}
}

// Compared is one ingredient of two formulas.
type Compared struct {
	Fate          Fate
	Before, After fault.Path // from the formula down; nil where it is not in that one
	Name          string     // as it is called afterwards, or was before it was removed
	Role          Role       // likewise

	// Amount is its share of the meat block as written, for a part, or what goes in
	// for the meat block. Water is that in which a culture is rehydrated.
	Amount, Water AmountChange
}

// AmountChange is an amount for the meat block in two formulas. Both ends are
// alike when it is known exactly; a powder by the spoon is a range.
type AmountChange struct {
	Before, After *quantity.Between[quantity.Ratio] // nil where there is none
}

// Difference returns how much more there is afterwards, each end against the same
// end: the same spoonful is off to the same side in both. It reports false where
// one of the two has no amount.
func (c AmountChange) Difference() (quantity.Between[quantity.Ratio], bool) {
	if c.Before == nil || c.After == nil {
		return quantity.Between[quantity.Ratio]{}, false
	}
	low, errLow := quantity.NewRatio(c.After.Low.Float() - c.Before.Low.Float())
	high, errHigh := quantity.NewRatio(c.After.High.Float() - c.Before.High.Float())
	if errLow != nil || errHigh != nil {
		return quantity.Between[quantity.Ratio]{}, false
	}
	return quantity.Between[quantity.Ratio]{Low: low, High: high}, true
}

// same reports whether both are the same to a billionth: a rate of 2.5 percent is
// one of 25 g/kg.
func (c AmountChange) same() bool {
	if c.Before == nil || c.After == nil {
		return c.Before == c.After
	}
	near := func(a, b quantity.Ratio) bool {
		const billionth = 1e-9
		return math.Abs(a.Float()-b.Float()) <= billionth*max(math.Abs(a.Float()), math.Abs(b.Float()))
	}
	return near(c.Before.Low, c.After.Low) && near(c.Before.High, c.After.High)
}

// Comparison is how one formula differs from another, ingredient by ingredient:
// those of the later in its order, then those that were removed in the order of
// the earlier.
type Comparison struct {
	Parts, Additions []Compared
}

// Compare compares two formulas that pass [Formula.Check]; it returns the faults
// of that one, with paths below before or after.
//
// An ingredient is the same in both by its name, which a formula has once; of
// those left over one of the same material or cure and role is taken for it, and
// then its name has changed. Rates are compared as what goes in for the same meat
// block, so that a rate in other units, or on the batch, can be held against the
// one before; a rate that stands on another base is a change nevertheless, because
// it moves otherwise with the rest.
func Compare(before, after Formula) (Comparison, error) {
	var bad fault.Collector
	bad.AddError(fault.At("before"), "invalid-value", before.Check())
	bad.AddError(fault.At("after"), "invalid-value", after.Check())
	if err := bad.Err("invalid-value", "the formulas can't be compared as they stand"); err != nil {
		return Comparison{}, err
	}
	return Comparison{
		Parts: comparePartsOf(before, after),
	}.withAdditions(before, after)
}

func comparePartsOf(before, after Formula) []Compared {
	var all []Compared
	for _, p := range pairs(len(before.Parts), len(after.Parts),
		func(i, k int) bool { return before.Parts[i].Name == after.Parts[k].Name },
		func(i, k int) bool { return before.Parts[i].Material.Key == after.Parts[k].Material.Key },
	) {
		c := p.compared("parts")
		c.Role = Meat
		var was, is Part
		if c.Before != nil {
			was = before.Parts[p.before]
			c.Name, c.Amount.Before = was.Name, exactly(was.Share.Ratio())
		}
		if c.After != nil {
			is = after.Parts[p.after]
			c.Name, c.Amount.After = is.Name, exactly(is.Share.Ratio())
		}
		was.Share, is.Share = quantity.Fraction{}, quantity.Fraction{}
		c.judge(reflect.DeepEqual(was, is))
		all = append(all, c)
	}
	return all
}

func exactly(r quantity.Ratio) *quantity.Between[quantity.Ratio] {
	exact := quantity.Exactly(r)
	return &exact
}

func (c Comparison) withAdditions(before, after Formula) (Comparison, error) {
	dosesBefore, err := before.doses()
	if err != nil {
		return Comparison{}, err
	}
	dosesAfter, err := after.doses()
	if err != nil {
		return Comparison{}, err
	}
	for _, p := range pairs(len(before.Additions), len(after.Additions),
		func(i, k int) bool { return before.Additions[i].Name == after.Additions[k].Name },
		func(i, k int) bool { return before.Additions[i].sameThing(after.Additions[k]) },
	) {
		one := p.compared("additions")
		var was, is Addition
		if one.Before != nil {
			was = before.Additions[p.before]
			one.Name, one.Role = was.Name, was.Role
			one.Amount.Before, one.Water.Before = dosesBefore[p.before].own, dosesBefore[p.before].water
		}
		if one.After != nil {
			is = after.Additions[p.after]
			one.Name, one.Role = is.Name, is.Role
			one.Amount.After, one.Water.After = dosesAfter[p.after].own, dosesAfter[p.after].water
		}
		sameBase := (was.Rate.kind == shareOfBatch) == (is.Rate.kind == shareOfBatch)
		was.Rate, is.Rate, was.RehydrationWater, is.RehydrationWater = Rate{}, Rate{}, nil, nil
		one.judge(sameBase && reflect.DeepEqual(was, is))
		c.Additions = append(c.Additions, one)
	}
	return c, nil
}

// sameThing reports whether two additions are of one material or cure, in one
// role.
func (a Addition) sameThing(b Addition) bool {
	switch {
	case a.Role != b.Role:
		return false
	case a.Cure != nil && b.Cure != nil:
		return a.Cure.Key == b.Cure.Key && a.Cure.Key != ""
	case a.Material != nil && b.Material != nil:
		return a.Material.Key == b.Material.Key
	}
	return false
}

// judge says what has become of an ingredient whose other members are alike or
// not.
func (c *Compared) judge(alike bool) {
	switch {
	case c.Before == nil:
		c.Fate = Added
	case c.After == nil:
		c.Fate = Removed
	case alike && c.Amount.same() && c.Water.same():
		c.Fate = Kept
	default:
		c.Fate = Changed
	}
}

// dose is what goes in of an addition for the meat block.
type dose struct {
	own, water *quantity.Between[quantity.Ratio]
}

// doses returns what goes in of each addition.
func (f Formula) doses() ([]dose, error) {
	meat := quantity.MustGrams(1000)
	onMeat, left, err := f.rates(meat)
	if err != nil {
		return nil, err
	}
	batch, err := meat.Plus(onMeat).DividedBy(left)
	if err != nil {
		return nil, fmt.Errorf("batch for the meat: %w", err)
	}
	of := func(r Rate, density quantity.Between[quantity.Density]) (*quantity.Between[quantity.Ratio], error) {
		mass, err := r.forMeat(meat, density)
		if err != nil {
			return nil, err
		}
		if share := r.ofBatch(); !share.IsZero() {
			mass = quantity.Exactly(share.Of(batch))
		}
		if r.byVolume() && !spread(density) {
			mass = quantity.Exactly(middle(mass))
		}
		low, err := mass.Low.Over(meat)
		if err != nil {
			return nil, err
		}
		high, err := mass.High.Over(meat)
		return &quantity.Between[quantity.Ratio]{Low: low, High: high}, err
	}
	all := make([]dose, len(f.Additions))
	for i, a := range f.Additions {
		if all[i].own, err = of(a.Rate, a.density()); err != nil {
			return nil, fmt.Errorf("rate of %s: %w", a.Name, err)
		}
		if a.RehydrationWater == nil {
			continue
		}
		if all[i].water, err = of(*a.RehydrationWater, material.Water().BulkDensity); err != nil {
			return nil, fmt.Errorf("water for %s: %w", a.Name, err)
		}
	}
	return all, nil
}

// pair is the place of one thing in two lists; -1 where it is not in one.
type pair struct{ before, after int }

func (p pair) compared(list string) Compared {
	var c Compared
	if p.before >= 0 {
		c.Before = fault.At(list, p.before)
	}
	if p.after >= 0 {
		c.After = fault.At(list, p.after)
	}
	return c
}

// pairs pairs the things of two lists, by the first test that holds: all by the
// first test before any by the next.
func pairs(before, after int, tests ...func(before, after int) bool) []pair {
	partner := make([]int, after)
	for k := range partner {
		partner[k] = -1
	}
	taken := make([]bool, before)
	for _, test := range tests {
		for k := range partner {
			for i := 0; i < before && partner[k] < 0; i++ {
				if !taken[i] && test(i, k) {
					partner[k], taken[i] = i, true
				}
			}
		}
	}
	all := make([]pair, 0, max(before, after))
	for k, i := range partner {
		all = append(all, pair{i, k})
	}
	for i, is := range taken {
		if !is {
			all = append(all, pair{i, -1})
		}
	}
	return all
}
