package formula

import (
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Role is what an addition is for. The zero value is invalid.
type Role int

// The roles, in the order of work: salt and cure go to the meat first, the
// culture last, so that it does not meet the cure undiluted.
const (
	Meat Role = iota + 1
	Salt
	Cure
	Sugar
	Accelerator
	Acidulant
	Spice
	Binder
	Other
	Liquid
	Culture
	RehydrationWater
)

var roleWords = []string{
	"", "meat", "salt", "cure", "sugar", "accelerator", "acidulant", "spice", "binder", "other", "liquid", "culture",
	"rehydration-water",
}

// String returns the word used on the wire.
func (r Role) String() string {
	if r <= 0 || int(r) >= len(roleWords) {
		return "unstated"
	}
	return roleWords[r]
}

// ParseRole reads the word used on the wire for an addition.
func ParseRole(s string) (Role, bool) {
	for r := Salt; r <= Culture; r++ {
		if roleWords[r] == s {
			return r, true
		}
	}
	return 0, false
}

// rounding returns the direction in which a weight of this role is rounded to
// the scale: a dose with a ceiling never up, a dose with a floor never down.
func (r Role) rounding() quantity.RoundDirection {
	switch r {
	case Cure, Accelerator:
		return quantity.Down
	case Culture:
		return quantity.Up
	default:
		return quantity.ToNearest
	}
}

// Part is a meat or fat of the meat block.
type Part struct {
	Name     string
	Material material.Material
	Share    quantity.Fraction // of the meat block
	Freezing []Freezing        // before it was cut, one while after the other; that of the plan when empty
	Received Receipt
}

// Frozen returns the freezing of a part: its own, or that of the plan.
func (f Formula) Frozen(p Part) []Freezing {
	if len(p.Freezing) > 0 {
		return p.Freezing
	}
	return f.Plan.Freezing
}

// Addition is anything mixed in that is not meat.
type Addition struct {
	Name             string
	Role             Role
	Material         *material.Material // nil when only a name is known
	Cure             *rulebook.Cure     // set for the role Cure alone
	Activity         quantity.CellCount // of a culture; zero when it is not stated
	LabelDose        quantity.PPM       // of a culture, on the meat; zero when it is not stated
	Rate             Rate
	RehydrationWater *Rate // of a culture; nil when it goes in dry or is not stated
	BringsNone       bool  // states that it brings no salt, sugar, nitrite, nitrate or other curing aid
}

// Unknown reports whether only the name of the addition is known and it may
// bring anything: a spice is taken to be what its role says.
func (a Addition) Unknown() bool {
	return a.Material == nil && a.Cure == nil && a.Role != Spice && !a.BringsNone
}

// densitySource returns where the bulk density comes from.
func (a Addition) densitySource() source.Citation {
	switch {
	case a.Cure != nil:
		return a.Cure.DensitySource
	case a.Material != nil:
		return a.Material.DensitySource
	default:
		return source.Citation{}
	}
}

// density returns the bulk density of the addition, zero when it is not known.
func (a Addition) density() quantity.Between[quantity.Density] {
	switch {
	case a.Cure != nil:
		return a.Cure.BulkDensity
	case a.Material != nil:
		return a.Material.BulkDensity
	default:
		return quantity.Between[quantity.Density]{}
	}
}

// Formula is meat parts with shares, additions with rates, and as much of the
// plan as scaling and checking need.
type Formula struct {
	Name      string
	Product   rulebook.Class
	Parts     []Part
	Additions []Addition
	Plan      Plan
}

// What is more than this is a slip of a unit and no sausage: an addition of ten
// times the meat, or rates on the batch that leave less than a tenth for meat.
const (
	mostOfMeat  = 10.0
	mostOfBatch = 0.9
)

// checkRate records a rate that is beyond mostOfMeat, and returns the share of
// the batch that it takes.
func (a Addition) checkRate(bad *fault.Collector, path fault.Path, r Rate, density quantity.Between[quantity.Density]) float64 {
	kilogram := quantity.MustGrams(1000)
	mass, err := r.forMeat(kilogram, density)
	if err == nil {
		var share quantity.Ratio
		if share, err = mass.High.Over(kilogram); err == nil && share.Float() <= mostOfMeat {
			return r.ofBatch().Float()
		}
	}
	bad.Add(fault.At("value").Under(path), "maximum", "%s comes to more than %.6g times the meat", a.Name, mostOfMeat)
	return r.ofBatch().Float()
}

// Check reports, as a fault.Invalid with paths from the formula down, what has
// no meaning: shares that do not sum to the whole within one percent of it, a
// part or addition named twice, a rate by volume of something whose density is
// not known, a rate of more than ten times the meat, rates on the batch of more
// than nine tenths of it. A nil error means that it can be scaled.
func (f Formula) Check() error {
	var bad fault.Collector
	sum := 0.0
	seen := map[string]int{}
	for i, p := range f.Parts {
		sum += p.Share.Percent()
		if first, ok := seen[p.Name]; ok {
			bad.Add(fault.At("parts", i, "name"), "duplicate", "%q is named at parts/%d already; give the two different names or one share", p.Name, first)
			continue
		}
		seen[p.Name] = i
	}
	const slack = 1.0 // percent: shares are often written to whole percents
	if sum < 100-slack || sum > 100+slack {
		bad.Add(fault.At("parts"), "sum", "the shares must sum to 100 percent, within 1 percent for rounded shares; they sum to %.6g", sum)
	}
	additions := map[string]int{}
	onBatch := 0.0
	for i, a := range f.Additions {
		if first, ok := additions[a.Name]; ok {
			bad.Add(fault.At("additions", i, "name"), "duplicate", "%q is named at additions/%d already; give the two different names or one rate", a.Name, first)
		} else {
			additions[a.Name] = i
		}
		if a.Rate.byVolume() && a.density().High.IsZero() {
			bad.Add(fault.At("additions", i, "rate", "unit"), "density-unknown", "no density is known for %q: give its rate by mass", a.Name)
		}
		onBatch += a.checkRate(&bad, fault.At("additions", i, "rate"), a.Rate, a.density())
		if a.RehydrationWater != nil {
			onBatch += a.checkRate(&bad, fault.At("additions", i, "rehydration_water"), *a.RehydrationWater, material.Water().BulkDensity)
		}
	}
	if onBatch > mostOfBatch {
		bad.Add(fault.At("additions"), "sum", "the rates on the batch sum to %.6g percent, and may be at most %.6g", onBatch*100, mostOfBatch*100)
	}
	return bad.Err("invalid-value", "the formula has no meaning as it stands")
}
