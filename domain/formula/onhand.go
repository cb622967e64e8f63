package formula

import (
	"fmt"
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// PartOnHand is how much there is of a part, trimmed and ready to be ground.
type PartOnHand struct {
	Part int // its place among the parts of the formula
	Mass quantity.Mass
}

// OnHand is what there is of some of the parts; the others are bought.
type OnHand struct{ Parts []PartOnHand }

// check reports, as a fault.Invalid with paths from the list down, a part that
// the formula does not have and one that is listed twice.
func (o *OnHand) check(parts int) error {
	var bad fault.Collector
	seen := make(map[int]int, len(o.Parts))
	for i, p := range o.Parts {
		if p.Part < 0 || p.Part >= parts {
			bad.Add(fault.At(i), "unknown-item", "the formula has no part %d", p.Part)
			continue
		}
		if first, ok := seen[p.Part]; ok {
			bad.Add(fault.At(i), "duplicate", "the part is listed at %d already", first)
			continue
		}
		seen[p.Part] = i
	}
	if len(o.Parts) == 0 {
		bad.Add(nil, "required", "nothing is on hand")
	}
	return bad.Err("invalid-value", "what is on hand has no meaning")
}

// has reports whether a part is listed.
func (o *OnHand) has(part int) bool {
	_, listed := o.of(part)
	return listed
}

// of returns what is on hand of a part, and false when it is not listed.
func (o *OnHand) of(part int) (quantity.Mass, bool) {
	if o == nil {
		return quantity.Mass{}, false
	}
	for _, p := range o.Parts {
		if p.Part == part {
			return p.Mass, true
		}
	}
	return quantity.Mass{}, false
}

// meats returns the meat block that each listed part is enough for: its mass by
// its share.
func (o *OnHand) meats(f Formula) ([]quantity.Mass, error) {
	sum := f.whole()
	meats := make([]quantity.Mass, 0, len(o.Parts))
	for _, p := range o.Parts {
		share, err := quantity.NewRatio(f.Parts[p.Part].Share.Float() / sum)
		if err != nil {
			return nil, fmt.Errorf("share of %s: %w", f.Parts[p.Part].Name, err)
		}
		meat, err := p.Mass.DividedBy(share)
		if err != nil {
			return nil, fmt.Errorf("meat block for %s of %s: %w", p.Mass, f.Parts[p.Part].Name, err)
		}
		meats = append(meats, meat)
	}
	return meats, nil
}

// meat returns the largest meat block that needs no more of any listed part
// than is on hand.
func (o *OnHand) meat(f Formula) (quantity.Mass, error) {
	meats, err := o.meats(f)
	if err != nil {
		return quantity.Mass{}, err
	}
	least, most := ends(meats)
	if mostMeat.Less(most) {
		return quantity.Mass{}, tooMuch(most, "on_hand")
	}
	return least, nil
}

// mostMeat is more than anybody makes: what is beyond it is a slip of a unit or
// of a share.
var mostMeat = quantity.MustGrams(1e12)

func tooMuch(m quantity.Mass, member string) error {
	return &fault.Error{Kind: fault.Invalid, Code: "invalid-value", Detail: "nobody makes so much", Violations: []fault.Violation{{
		Path: fault.At("amount", member), Code: "maximum", Detail: fmt.Sprintf("it comes to %s, and may come to %s at most", m, mostMeat),
	}}}
}

// ends returns the least and the most of masses.
func ends(masses []quantity.Mass) (least, most quantity.Mass) {
	return slices.MinFunc(masses, compareMasses), slices.MaxFunc(masses, compareMasses)
}

// PartUse is what becomes of what is on hand of a part.
type PartUse struct {
	Member fault.Path // from the formula down
	Name   string
	Listed bool // whether it was said how much is on hand

	OnHand   quantity.Mass // nothing when it is not listed
	Used     quantity.Mass // on the scale
	LeftOver quantity.Mass // of a listed part
	Limits   bool          // a larger batch would need more of it than there is
	ToBuy    quantity.Mass // of a part that is not listed, before bone and trim
	Missing  quantity.Mass // what it takes beside what is on hand to use up all that is
}

// HandUse is what becomes of what is on hand.
type HandUse struct {
	Parts     []PartUse     // in the order of the formula
	MeatOfAll quantity.Mass // the meat block that would use up all that is on hand
}

// equalMasses is how near two meat blocks must be to be the same one: a share is
// a float, and comes back to within a few of its last bits.
const equalMasses = 1e-9

// UseOf says which part limits a sheet that was scaled to what is on hand, what
// is left over, and what is missing to use everything up. With m the mass on
// hand and s the share of a listed part, the meat block is the least m/s, and
// the one that uses up all is the largest; a part of share s then lacks s times
// that, less m.
func (o *OnHand) UseOf(f Formula, s Sheet) (HandUse, error) {
	meats, err := o.meats(f)
	if err != nil {
		return HandUse{}, err
	}
	least, most := ends(meats)
	limit := least.Times(quantity.MustRatio(1 + equalMasses))
	u := HandUse{MeatOfAll: most}
	sum := f.whole()
	for i, p := range f.Parts {
		share, err := quantity.NewRatio(p.Share.Float() / sum)
		if err != nil {
			return HandUse{}, fmt.Errorf("share of %s: %w", p.Name, err)
		}
		use := PartUse{Member: fault.At("parts", i), Name: p.Name, Used: s.partOnScale(i)}
		use.OnHand, use.Listed = o.of(i)
		if use.Listed {
			use.LeftOver = atLeastNothing(use.OnHand.Minus(use.Used))
			own, err := use.OnHand.DividedBy(share)
			use.Limits = err == nil && !limit.Less(own)
		} else {
			use.ToBuy = use.Used
		}
		needed := share.Of(most)
		use.Missing = needed.Minus(use.OnHand)
		if use.Missing.Less(needed.Times(quantity.MustRatio(equalMasses))) {
			use.Missing = quantity.Mass{}
		}
		u.Parts = append(u.Parts, use)
	}
	return u, nil
}

// partOnScale returns what is weighed of a part.
func (s Sheet) partOnScale(part int) quantity.Mass {
	place := 0
	for _, l := range s.Lines {
		if l.Role != Meat {
			continue
		}
		if place == part {
			return l.OnScale()
		}
		place++
	}
	return quantity.Mass{}
}

func atLeastNothing(m quantity.Mass) quantity.Mass {
	if m.Less(quantity.Mass{}) {
		return quantity.Mass{}
	}
	return m
}
