package rulebook

import (
	"math/big"
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Compound is a substance or ion that amounts are converted between. The zero
// value is invalid.
type Compound int

// The compounds.
const (
	CompoundNaNO2             Compound = iota + 1 // sodium nitrite
	CompoundKNO2                                  // potassium nitrite
	CompoundNO2                                   // nitrite ion
	CompoundNaNO3                                 // sodium nitrate
	CompoundKNO3                                  // potassium nitrate
	CompoundNO3                                   // nitrate ion
	CompoundNaCl                                  // sodium chloride
	CompoundErythorbicAcid                        // C6H8O6, also called isoascorbic acid
	CompoundSodiumErythorbate                     // C6H7NaO6·H2O, the monohydrate that is sold
	CompoundAscorbicAcid                          // C6H8O6
	CompoundSodiumAscorbate                       // C6H7NaO6

	compounds // one more than the last
)

var compoundWords = []string{
	"", "NaNO2", "KNO2", "NO2-ion", "NaNO3", "KNO3", "NO3-ion", "NaCl", "erythorbic-acid",
	"sodium-erythorbate-monohydrate", "ascorbic-acid", "sodium-ascorbate",
}

// String returns the word used on the wire.
func (c Compound) String() string { return word(compoundWords, int(c)) }

// Compounds returns all of them, in order.
func Compounds() []Compound {
	return []Compound{
		CompoundNaNO2, CompoundKNO2, CompoundNO2, CompoundNaNO3, CompoundKNO3, CompoundNO3, CompoundNaCl,
		CompoundErythorbicAcid, CompoundSodiumErythorbate, CompoundAscorbicAcid, CompoundSodiumAscorbate,
	}
}

// Compound returns the compound that amounts of the species are counted as, and
// false for a species that is not one compound.
func (s Species) Compound() (Compound, bool) {
	switch s {
	case SodiumNitrite:
		return CompoundNaNO2, true
	case SodiumNitrate:
		return CompoundNaNO3, true
	case NitriteIon:
		return CompoundNO2, true
	case NitrateIon:
		return CompoundNO3, true
	case SodiumChloride:
		return CompoundNaCl, true
	case ErythorbicAcid:
		return CompoundErythorbicAcid, true
	case AsAdded, PhosphorusPentoxide, NoSpecies:
		return 0, false
	default:
		return 0, false
	}
}

// Atomic weights in hundred-thousandths of a gram per mole: hydrogen 1.00794,
// carbon 12.0107, nitrogen 14.0067, oxygen 15.9994, sodium 22.98977, chlorine
// 35.453, potassium 39.0983. They are the standard atomic weights of IUPAC's
// table of 2007. Its later abridged values (O 15.999, Na 22.990, ...) change no
// factor of this package by more than 2 in 100 000.
const (
	hydrogen  = 100794
	carbon    = 1201070
	nitrogen  = 1400670
	oxygen    = 1599940
	sodium    = 2298977
	chlorine  = 3545300
	potassium = 3909830

	water      = 2*hydrogen + oxygen
	ascorbate  = 6*carbon + 7*hydrogen + 6*oxygen // C6H7O6, also of erythorbate
	perMole    = 100_000                          // units of the constants above in a gram per mole
	nitriteIon = nitrogen + 2*oxygen
	nitrateIon = nitrogen + 3*oxygen
)

// molar holds the molar mass of each compound in the unit of the atomic weights.
var molar = map[Compound]int64{
	CompoundNaNO2:             sodium + nitriteIon,
	CompoundKNO2:              potassium + nitriteIon,
	CompoundNO2:               nitriteIon,
	CompoundNaNO3:             sodium + nitrateIon,
	CompoundKNO3:              potassium + nitrateIon,
	CompoundNO3:               nitrateIon,
	CompoundNaCl:              sodium + chlorine,
	CompoundErythorbicAcid:    ascorbate + hydrogen,
	CompoundSodiumErythorbate: ascorbate + sodium + water,
	CompoundAscorbicAcid:      ascorbate + hydrogen,
	CompoundSodiumAscorbate:   ascorbate + sodium,
}

// MolarMass returns the mass of a mole in grams, exact for the atomic weights
// of [MolarMassSource]. It is nil for an invalid compound.
func (c Compound) MolarMass() *big.Rat {
	m, ok := molar[c]
	if !ok {
		return nil
	}
	return big.NewRat(m, perMole)
}

// MolarMassSource cites the atomic weights behind every molar mass and factor.
func MolarMassSource() source.Citation {
	return source.Citation{
		Title: "IUPAC, Atomic weights of the elements 2007, Pure Appl. Chem. 81(11)",
		Year:  2009, Section: "table 2", Trust: source.Derived,
		Note: "molar masses are sums and factors are ratios of them; the atomic weights are recalled, and the abridged ones of 2021 give the same factors to 2 in 100 000",
	}
}

// families are the compounds that hold the same ion, so that an amount of one
// stands for an amount of another, mole for mole.
var families = [][]Compound{
	{CompoundNaNO2, CompoundKNO2, CompoundNO2},
	{CompoundNaNO3, CompoundKNO3, CompoundNO3},
	{CompoundNaCl},
	{CompoundErythorbicAcid, CompoundSodiumErythorbate},
	{CompoundAscorbicAcid, CompoundSodiumAscorbate},
}

// Factor returns what a mass of one compound is multiplied by to get the mass
// of another that holds the same ion, mole for mole:
//
//	factor = M(to) / M(from)
//
// so that 1 mg of sodium nitrite holds 0.6668 mg of nitrite ion. It reports
// fault.Invalid for compounds that do not hold the same ion: nitrate is not
// nitrite, for that see [NitriteFromNitrate], and a limit for erythorbate says
// nothing of ascorbate. Source: [MolarMassSource].
func Factor(from, to Compound) (quantity.Ratio, error) {
	if from > 0 && from < compounds && to > 0 && to < compounds && factors[from][to] != (quantity.Ratio{}) {
		return factors[from][to], nil
	}
	var bad fault.Collector
	bad.Add(fault.At("to"), "no-common-ion", "%s can't be expressed as %s: they do not hold the same ion", from, to)
	return quantity.Ratio{}, bad.Err("no-common-ion", "the two compounds do not hold the same ion")
}

// factors holds every answer of [Factor], by from and to; nothing for two that
// hold no common ion.
var factors = func() [compounds][compounds]quantity.Ratio {
	var all [compounds][compounds]quantity.Ratio
	for _, family := range families {
		for _, from := range family {
			for _, to := range family {
				f, _ := big.NewRat(molar[to], molar[from]).Float64()
				all[from][to] = quantity.MustRatio(f)
			}
		}
	}
	return all
}()

// Convert returns the mass fraction p of one compound as that of another with
// the same ion. The errors are those of [Factor].
func Convert(p quantity.PPM, from, to Compound) (quantity.PPM, error) {
	f, err := Factor(from, to)
	if err != nil {
		return quantity.PPM{}, err
	}
	return p.Times(f)
}

// NitriteFromNitrate returns the nitrite, as the compound to, that an amount of
// nitrate would become if bacteria reduced all of it. It is an upper bound:
// nitrate reduces partly, and how much depends on culture, temperature and time.
// It reports fault.Invalid when from is no nitrate or to no nitrite.
func NitriteFromNitrate(p quantity.PPM, from, to Compound) (quantity.PPM, error) {
	var bad fault.Collector
	if !slices.Contains(families[1], from) {
		bad.Add(fault.At("from"), "not-nitrate", "%s holds no nitrate", from)
	}
	if !slices.Contains(families[0], to) {
		bad.Add(fault.At("to"), "not-nitrite", "%s holds no nitrite", to)
	}
	if err := bad.Err("not-nitrate-to-nitrite", "only nitrate can become nitrite"); err != nil {
		return quantity.PPM{}, err
	}
	f, err := molarRatio(from, to)
	if err != nil {
		return quantity.PPM{}, err
	}
	return p.Times(f)
}

// molarRatio returns M(to)/M(from); both are valid.
func molarRatio(from, to Compound) (quantity.Ratio, error) {
	f, _ := big.NewRat(molar[to], molar[from]).Float64()
	return quantity.NewRatio(f)
}
