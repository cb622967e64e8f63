package trichinae

import (
	"math"
	"slices"
	"time"

	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// FreezingFor returns the row for meat of a thickness in a freezer: the coldest
// that the freezer reaches, of the thinnest group that the meat is in. It is
// never taken between two rows. False when the freezer is too warm, the meat too
// thick or the thickness not known (a zero Length).
func FreezingFor(freezer quantity.Temperature, thickness quantity.Length) (FreezingRow, bool) {
	var found FreezingRow
	if thickness.IsZero() {
		return found, false
	}
	for _, r := range freezings {
		if freezer.Compare(r.Warmest) > 0 || thickness.Compare(r.Thickest) > 0 {
			continue
		}
		if found.ID == "" || r.Days < found.Days {
			found = r
		}
	}
	return found, found.ID != ""
}

// CentreFor returns the row for meat whose centre is as cold: the coldest that it
// reaches, at any thickness. False when it is too warm for all.
func CentreFor(centre quantity.Temperature) (CentreRow, bool) {
	var found CentreRow
	for _, r := range centres {
		if centre.Compare(r.Warmest) <= 0 {
			found = r
		}
	}
	return found, found.ID != ""
}

// HeatingFor returns the row for a core that is as hot: the hottest that it
// reaches in every text. False when it is too cool for all.
func HeatingFor(core quantity.Temperature) (HeatingRow, bool) {
	return heatingFor(core, func(f Floor) quantity.Temperature { return f.Surely })
}

// heatingFor is HeatingFor by the floor of one text.
func heatingFor(core quantity.Temperature, of func(Floor) quantity.Temperature) (HeatingRow, bool) {
	var found HeatingRow
	for _, r := range heatings {
		if core.Compare(of(r.Core)) >= 0 {
			found = r
		}
	}
	return found, found.ID != ""
}

// RowFor returns the row of a method for a diameter at stuffing: the thinnest
// that the sausage is not thicker than. Rows for one product alone are passed
// over. False when it is too thick for all, or the diameter not known and
// needed.
func (m Method) RowFor(diameter quantity.Length) (DryingRow, bool) {
	for _, r := range m.Rows {
		if r.Only == "" && (r.UpTo.IsZero() || !diameter.IsZero() && diameter.Compare(r.UpTo) <= 0) {
			return r, true
		}
	}
	return DryingRow{}, false
}

// MethodByID returns the method with an id, and false when there is none.
func MethodByID(id string) (Method, bool) {
	for _, m := range Methods() {
		if m.ID == id {
			return m, true
		}
	}
	return Method{}, false
}

// Held is a while at a temperature that was not gone below.
type Held struct {
	Coldest quantity.Temperature
	Span    time.Duration
}

// ReductionFor returns what a hold before drying takes off the days of method 6,
// in whole percent: the most that a row and a column give which it reaches; none
// when it reaches none.
func ReductionFor(h Held) int {
	most := 0
	for _, r := range reductions {
		if h.Span < r.Held {
			continue
		}
		for i, c := range columns {
			if h.Coldest.Compare(c) >= 0 {
				most = max(most, r.Percent[i])
			}
		}
	}
	return most
}

// method6Salt is the salt from which method 6 adds no days.
var method6Salt = quantity.MustPPM(33300)

// IncreaseFor returns what method 6 adds to its days for a salt content, in whole
// percent. The salt is rounded down to a tenth of a percent. False for less than
// 2.0 percent, with which there is no method 6.
func IncreaseFor(salt quantity.PPM) (int, bool) {
	if salt.Compare(method6Salt) >= 0 {
		return 0, true
	}
	i := slices.IndexFunc(increases, func(r Increase) bool { return r.Tenths == tenths(salt) })
	if i < 0 {
		return 0, false
	}
	return increases[i].Percent, true
}

// tenths returns a salt content in tenths of a percent, rounded down. What lacks
// a billionth of a tenth is a float's last bit and counts as whole.
func tenths(salt quantity.PPM) int {
	const noise = 1e-9
	return int(math.Floor(math.Min(salt.Percent(), 100)*10 + noise))
}

// Method6Days is how long a sausage dries by method 6, and how that comes about.
type Method6Days struct {
	Row       DryingRow // of table 3A
	Reduction int       // percent
	Increase  int       // percent
	Deducted  int       // days, rounded down
	Added     int       // days, rounded up
	Days      int
}

// DaysByMethod6 returns how long a sausage dries by method 6,
//
//		days = d - floor(d r / 100) + ceil(d i / 100)
//
//	  - d: days of table 3A for the diameter at stuffing, the next larger row
//	  - r: percent of table 3B for a hold before drying
//	  - i: percent of table 4 for less salt than 3.33 percent, without dry goods
//
// False when the sausage is too thick, or the salt too little.
func DaysByMethod6(diameter quantity.Length, before Held, salt quantity.PPM) (Method6Days, bool) {
	i := slices.IndexFunc(methods, func(m Method) bool { return m.Method == formula.Method6 })
	row, ok := methods[i].RowFor(diameter)
	increase, salted := IncreaseFor(salt)
	if !ok || !salted {
		return Method6Days{}, false
	}
	const whole = 100
	d := Method6Days{Row: row, Reduction: ReductionFor(before), Increase: increase}
	d.Deducted = row.Dry * d.Reduction / whole
	d.Added = (row.Dry*increase + whole - 1) / whole
	d.Days = row.Dry - d.Deducted + d.Added
	return d, true
}

// Process is a sausage as a study has it: its pH and salt, and how warm it is
// fermented and dried at the least.
type Process struct {
	PH           quantity.PH
	Salt         quantity.PPM // of the sausage
	Fermentation quantity.Temperature
	Drying       quantity.Temperature
}

// PublishedFor returns the row of the study for a process. False outside what was
// studied: at another pH, with less salt, or colder. Warmer counts, since warmth
// does not spare larvae.
func PublishedFor(p Process) (PublishedRow, bool) {
	lowest := quantity.MustPH(4.6)
	for _, r := range published {
		acid := p.PH.Compare(lowest) >= 0 && p.PH.Compare(r.Above) > 0 && p.PH.Compare(r.UpTo) <= 0
		salted := p.Salt.Compare(r.AtLeast) >= 0 && (r.Below.IsZero() || p.Salt.Compare(r.Below) < 0)
		warm := p.Fermentation.Compare(r.Ferment) >= 0 && p.Drying.Compare(r.Dry) >= 0
		if acid && salted && warm {
			return r, true
		}
	}
	return PublishedRow{}, false
}

// SaltOf returns the salt of a sheet on a base, at both ends: plain salt and the
// salt of the cure. Salt that the meat has of itself is not counted, nor what an
// addition may bring of which only the name is known.
func SaltOf(s formula.Sheet, base SaltBase) quantity.Between[quantity.PPM] {
	salt, of := saltAndBase(s, base)
	return quantity.Between[quantity.PPM]{Low: share(salt.Low, of.High), High: share(salt.High, of.Low)}
}

func saltAndBase(s formula.Sheet, base SaltBase) (salt, of quantity.Between[quantity.Mass]) {
	for _, l := range s.Lines {
		content := saltIn(l)
		salt.Low, salt.High = salt.Low.Plus(content.Low.Of(l.Range.Low)), salt.High.Plus(content.High.Of(l.Range.High))
		if counts(l, base) {
			of.Low, of.High = of.Low.Plus(l.Range.Low), of.High.Plus(l.Range.High)
		}
	}
	return salt, of
}

func saltIn(l formula.Line) quantity.Between[quantity.Fraction] {
	switch {
	case l.Role == formula.RehydrationWater || l.Addition == nil:
		return quantity.Between[quantity.Fraction]{}
	case l.Addition.Cure != nil:
		return l.Addition.Cure.Content(rulebook.CompoundNaCl)
	case l.Addition.Material != nil:
		return quantity.Exactly(l.Addition.Material.AddedSalt())
	default:
		return quantity.Between[quantity.Fraction]{}
	}
}

// wet is the water from which a spice is no dry ingredient: fresh garlic, herbs.
const wet = 0.5

// counts reports whether a line is in the base. What may be dry or not is taken
// to be in it, so that the salt is rather less.
func counts(l formula.Line, base SaltBase) bool {
	switch {
	case base == OfMeat:
		return l.Role == formula.Meat
	case base != WithoutDryGoods:
		return true
	}
	switch l.Role {
	case formula.Salt, formula.Cure, formula.Sugar, formula.Accelerator:
		return false
	case formula.Spice:
		return l.Addition.Material != nil && l.Addition.Material.Composition.Water.Or(quantity.Fraction{}).Float() > wet
	default:
		return true
	}
}

func share(part, whole quantity.Mass) quantity.PPM {
	r, err := part.Over(whole)
	if err != nil {
		return quantity.PPM{}
	}
	p, err := r.PPM()
	if err != nil {
		return quantity.PPM{}
	}
	return p
}
