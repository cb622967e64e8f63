package formula

import (
	"slices"
	"strings"

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
	SkinOn   bool              // of a belly: weighed with its skin, of which a tenth counts as skin
	SkinOpen bool              // it is not stated whether it is weighed with its skin
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
	RehydrationWater *Rate                     // of a culture; nil when it goes in dry or is not stated
	Species          []rulebook.CultureSpecies // of a culture; nil when they are not stated
	BringsNone       bool                      // states that it brings no salt, sugar, nitrite, nitrate or other curing aid
}

// Unknown reports whether only the name of the addition is known and it may
// bring anything: a spice is taken to be what its role says.
func (a Addition) Unknown() bool {
	return a.Material == nil && a.Cure == nil && !a.BringsNone && (a.Role != Spice || curing(a.Name))
}

// curing reports whether a name sounds as if it cured: such a spice is no spice
// alone.
func curing(name string) bool {
	lower := strings.ToLower(name)
	for _, word := range []string{"cure", "curing", "nitrit", "nitrat", "saltpet", "salpet", "celery", "pink salt"} {
		if strings.Contains(lower, word) {
			return true
		}
	}
	return false
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
	Tradition rulebook.Tradition // of a traditional product; zero when it is not stated
	HomeCure  bool               // the cure is a curing preparation sold for use at home
	Parts     []Part
	Additions []Addition
	Pickle    *Pickle // nil when the additions make no pickle, or nothing is stated of it
	Plan      Plan
}

// PickleMethod is how a pickle comes into the meat. The zero value is invalid.
type PickleMethod int

// The methods.
const (
	Pumped      PickleMethod = iota + 1 // pumped or massaged in
	PickUp                              // immersed for a short time: what the meat gains is pickle
	Equilibrium                         // immersed until meat and pickle are alike
)

var pickleWords = []string{"", "pumped", "immersion-pick-up", "immersion-equilibrium"}

// String returns the word used on the wire.
func (m PickleMethod) String() string {
	if m <= 0 || int(m) >= len(pickleWords) {
		return "unstated"
	}
	return pickleWords[m]
}

// ParsePickleMethod reads the word used on the wire.
func ParsePickleMethod(s string) (PickleMethod, bool) {
	i := slices.Index(pickleWords, s)
	return PickleMethod(i), i > 0
}

// Pickle is what becomes of the additions of a product that is cured in a
// pickle: all of them make it, with the salt, the sugar and the cure.
type Pickle struct {
	Method  PickleMethod
	Uptake  quantity.Fraction // pickle pumped in or picked up, of the green weight; zero for an equilibrium
	Density quantity.Density  // zero when it is not stated
}

// Pickled reports whether a product may be cured in a pickle.
func Pickled(product rulebook.Class) bool {
	switch product {
	case rulebook.ImmersionCuredMuscle, rulebook.PumpedMuscle, rulebook.ImmersionCuredBacon, rulebook.PumpedBacon, rulebook.TraditionalProduct:
		return true
	default:
		return false
	}
}

// Whole reports whether a product is whole muscle: nothing is mixed.
func Whole(product rulebook.Class) bool {
	switch product {
	case rulebook.DryCuredMuscle, rulebook.ImmersionCuredMuscle, rulebook.PumpedMuscle,
		rulebook.DryCuredBacon, rulebook.ImmersionCuredBacon, rulebook.PumpedBacon:
		return true
	default:
		return false
	}
}

// checkPickle records what has no meaning in the facts of a pickle.
func (f Formula) checkPickle(bad *fault.Collector) {
	if f.Pickle == nil {
		return
	}
	if !Pickled(f.Product) {
		bad.Add(fault.At("pickle"), "no-pickle", "a %s is not cured in a pickle", f.Product)
	}
	switch at := fault.At("pickle", "uptake_percent"); {
	case f.Pickle.Method == Equilibrium && !f.Pickle.Uptake.IsZero():
		bad.Add(at, "additional-member", "has no meaning at an equilibrium, where meat and pickle are alike")
	case f.Pickle.Method != Equilibrium && f.Pickle.Uptake.IsZero():
		bad.Add(at, "required", "is missing: how much of the green weight is taken up of the pickle")
	}
	if !slices.ContainsFunc(f.Additions, func(a Addition) bool { return a.Role == Liquid }) {
		bad.Add(fault.At("additions"), "no-liquid", "a pickle needs an addition of the role liquid")
	}
}

// What is more than this is a slip of a unit and no sausage: an addition of ten
// times the meat, or rates on the batch that leave less than a tenth for meat.
const (
	mostOfMeat  = 10.0
	mostOfBatch = 0.9
)

// checkRate records a rate that is beyond mostOfMeat, and returns the share of
// the batch that it takes.
func (a *Addition) checkRate(bad *fault.Collector, place int, member string, r Rate, density quantity.Between[quantity.Density]) float64 {
	kilogram := quantity.MustGrams(1000)
	mass, err := r.forMeat(kilogram, density)
	if err == nil {
		var share quantity.Ratio
		if share, err = mass.High.Over(kilogram); err == nil && share.Float() <= mostOfMeat {
			return r.ofBatch().Float()
		}
	}
	bad.Add(fault.At("additions", place, member, "value"), "maximum", "%s comes to more than %.6g times the meat", a.Name, mostOfMeat)
	return r.ofBatch().Float()
}

// firstNamed returns the place of the first of the names that is the same as
// that at a place.
func firstNamed(place int, name string, at func(int) string) int {
	for i := range place {
		if at(i) == name {
			return i
		}
	}
	return place
}

// Check reports, as a fault.Invalid with paths from the formula down, what has
// no meaning: shares that do not sum to the whole within one percent of it, a
// part or addition named twice, a rate by volume of something whose density is
// not known, a rate of more than ten times the meat, rates on the batch of more
// than nine tenths of it, a pickle of a product that has none, without a liquid
// or without what is taken up of it, a traditional name of what is none. A nil
// error means that it can be scaled.
func (f Formula) Check() error {
	var bad fault.Collector
	sum := 0.0
	for i := range f.Parts {
		p := &f.Parts[i]
		sum += p.Share.Percent()
		if first := firstNamed(i, p.Name, func(j int) string { return f.Parts[j].Name }); first < i {
			bad.Add(fault.At("parts", i, "name"), "duplicate", "%q is named at parts/%d already; give the two different names or one share", p.Name, first)
		}
	}
	const slack = 1.0 // percent: shares are often written to whole percents
	if sum < 100-slack || sum > 100+slack {
		bad.Add(fault.At("parts"), "sum", "the shares must sum to 100 percent, within 1 percent for rounded shares; they sum to %.6g", sum)
	}
	onBatch := 0.0
	for i := range f.Additions {
		a := &f.Additions[i]
		if first := firstNamed(i, a.Name, func(j int) string { return f.Additions[j].Name }); first < i {
			bad.Add(fault.At("additions", i, "name"), "duplicate", "%q is named at additions/%d already; give the two different names or one rate", a.Name, first)
		}
		if a.Rate.byVolume() && a.density().High.IsZero() {
			bad.Add(fault.At("additions", i, "rate", "unit"), "density-unknown", "no density is known for %q: give its rate by mass", a.Name)
		}
		onBatch += a.checkRate(&bad, i, "rate", a.Rate, a.density())
		if a.RehydrationWater != nil {
			onBatch += a.checkRate(&bad, i, "rehydration_water", *a.RehydrationWater, material.Water().BulkDensity)
		}
	}
	f.checkPickle(&bad)
	if f.Tradition != 0 && f.Product != rulebook.TraditionalProduct {
		bad.Add(fault.At("traditional_name"), "additional-member", "is for a traditional-product only, and this is a %s", f.Product)
	}
	if onBatch > mostOfBatch {
		bad.Add(fault.At("additions"), "sum", "the rates on the batch sum to %.6g percent, and may be at most %.6g", onBatch*100, mostOfBatch*100)
	}
	return bad.Err("invalid-value", "the formula has no meaning as it stands")
}
