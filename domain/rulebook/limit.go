package rulebook

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Jurisdiction is whose rules a rulebook holds. The zero value is invalid.
type Jurisdiction int

// The jurisdictions with rows.
const (
	UnitedStates Jurisdiction = iota + 1
	EuropeanUnion
	GreatBritain
	Canada
	AustraliaNewZealand
	CodexAlimentarius
	Denmark
	Germany
	Brazil
)

var jurisdictionWords = []string{"", "us", "eu", "gb", "ca", "anz", "codex", "dk", "de", "br"}

// String returns the word used on the wire.
func (j Jurisdiction) String() string { return word(jurisdictionWords, int(j)) }

// ParseJurisdiction reads the word used on the wire.
func ParseJurisdiction(s string) (Jurisdiction, bool) {
	i := parse(jurisdictionWords, s)
	return Jurisdiction(i), i > 0
}

// Jurisdictions returns all of them, in order.
func Jurisdictions() []Jurisdiction {
	return []Jurisdiction{
		UnitedStates, EuropeanUnion, GreatBritain, Canada, AustraliaNewZealand,
		CodexAlimentarius, Denmark, Germany, Brazil,
	}
}

// Agent is what a limit is about. The zero value is invalid.
type Agent int

// The agents with rows.
const (
	Nitrite Agent = iota + 1
	Nitrate
	NitriteAndNitrate           // the sum, in the species that the row names
	AscorbicOrErythorbicAcid    // the sum of the two acids
	AscorbateOrErythorbate      // the sum of the two sodium salts
	ErythorbicAcidOrErythorbate // the sum, as erythorbic acid
	FumaricAcid
	GluconoDeltaLactone
	SodiumAcidPyrophosphate
	Phosphates
	Salt
	CureAccelerators // the group, where a row gives several figures at once
)

var agentWords = []string{
	"", "nitrite", "nitrate", "nitrite-and-nitrate", "ascorbic-or-erythorbic-acid", "ascorbate-or-erythorbate",
	"erythorbic-acid-or-erythorbate", "fumaric-acid", "glucono-delta-lactone", "sodium-acid-pyrophosphate",
	"phosphates", "salt", "cure-accelerators",
}

// String returns the word used on the wire.
func (a Agent) String() string { return word(agentWords, int(a)) }

// Species is the chemical form an amount is expressed as. The zero value is
// invalid. 80 mg/kg as nitrite ion and 80 mg/kg as sodium nitrite are different
// amounts.
type Species int

// The species that rows are printed in.
const (
	AsAdded             Species = iota + 1 // the substance as weighed; of a salt, whichever metal: sodium or potassium
	SodiumNitrite                          // NaNO2
	SodiumNitrate                          // NaNO3
	NitriteIon                             // NO2-
	NitrateIon                             // NO3-
	SodiumChloride                         // NaCl
	ErythorbicAcid                         // C6H8O6
	PhosphorusPentoxide                    // P2O5
	NoSpecies                              // the row has no amount
)

var speciesWords = []string{"", "as-added", "NaNO2", "NaNO3", "NO2-ion", "NO3-ion", "NaCl", "erythorbic-acid", "P2O5", "none"}

// String returns the word used on the wire.
func (s Species) String() string { return word(speciesWords, int(s)) }

// Phase is when in the life of a product an amount counts. The zero value is
// invalid. An ingoing amount is not a residual one.
type Phase int

// The phases.
const (
	Ingoing         Phase = iota + 1 // what goes in, whatever becomes of it
	Residual                         // what an analysis finds in the product
	Finished                         // what is in the finished product by calculation
	PlacingOnMarket                  // how an additive may be sold or kept
	NoPhase                          // the row is about no phase: there is no provision, or it is about people
)

var phaseWords = []string{"", "ingoing", "residual", "finished", "placing-on-market", "none"}

// String returns the word used on the wire.
func (p Phase) String() string { return word(phaseWords, int(p)) }

// Base is the mass that an amount is divided by. The zero value is invalid.
type Base int

// The bases.
const (
	MeatBlock       Base = iota + 1 // raw meat, fat and by-products; not water, salt, spice, extender
	Batch                           // everything mixed, as made
	FinishedProduct                 // the product as sold
	SkinlessBelly                   // green weight of the belly, less a tenth when the skin is on
	Pickle                          // the whole pickle, at a stated pump percentage
	NoBase                          // the row has no amount, or one per body mass
	WaterPhase                      // salt and water together, of the product as sold
)

var baseWords = []string{"", "meat", "batch", "finished-product", "skinless-belly", "pickle", "none", "water-phase"}

// String returns the word used on the wire.
func (b Base) String() string { return word(baseWords, int(b)) }

// Class is a kind of product that rows are written for. The zero value is
// invalid.
type Class int

// The classes.
const (
	DrySausage           Class = iota + 1 // chopped, raw, fermented or not, dried
	SemiDrySausage                        // chopped, fermented, dried little
	SpreadableRawSausage                  // chopped, raw, short-ripened, soft
	CookedSausage                         // chopped, heat-treated
	SterilisedSausage                     // chopped, heat-treated to Fo 3 or more
	MeatPreparation                       // raw, the few named preparations that may be cured
	DryCuredMuscle                        // whole muscle, dry cured
	ImmersionCuredMuscle                  // whole muscle in pickle
	PumpedMuscle                          // whole muscle, pumped or massaged
	DryCuredBacon
	ImmersionCuredBacon
	PumpedBacon
	TraditionalProduct // a product that the row names
	HomeCure           // curing preparations sold for use at home
)

var classWords = []string{
	"", "dry-sausage", "semi-dry-sausage", "spreadable-raw-sausage", "cooked-sausage", "sterilised-sausage",
	"meat-preparation", "dry-cured-muscle", "immersion-cured-muscle", "pumped-muscle", "dry-cured-bacon",
	"immersion-cured-bacon", "pumped-bacon", "traditional-product", "home-cure",
}

// String returns the word used on the wire.
func (c Class) String() string { return word(classWords, int(c)) }

// ParseClass reads the word used on the wire.
func ParseClass(s string) (Class, bool) {
	i := parse(classWords, s)
	return Class(i), i > 0
}

// Classes returns all of them, in order.
func Classes() []Class { return slices.Clone(everyClass) }

// Kind is what a row does. The zero value is invalid.
type Kind int

// The kinds.
const (
	Ceiling     Kind = iota + 1 // not more than
	Floor                       // not less than
	Required                    // this much must be there, no more and no less
	Investigate                 // above it the maker must find out why
	Prohibited                  // must not be there at all
	Condition                   // a rule without an amount
	Absent                      // the jurisdiction has no provision: nothing to judge by
	Window                      // from a low value to a high one; guides only, a law's window is two rows
)

var kindWords = []string{"", "ceiling", "floor", "required", "investigate", "prohibited", "condition", "absent", "window"}

// String returns the word used on the wire.
func (k Kind) String() string { return word(kindWords, int(k)) }

// Comparator is how a measured amount is held against a value. The zero value
// is invalid.
type Comparator int

// The comparators.
const (
	AtMost Comparator = iota + 1
	Below
	AtLeast
	Above
	Equal
	NoComparison
)

var comparatorWords = []string{"", "<=", "<", ">=", ">", "=", "none"}

// String returns the sign used on the wire.
func (c Comparator) String() string { return word(comparatorWords, int(c)) }

// Unit is what a value is printed in. The zero value is invalid.
type Unit int

// The units that rows are printed in.
const (
	MilligramsPerKilogram Unit = iota + 1 // of the base; what the laws call ppm
	PercentOfBase
	PerHundredGallons     // avoirdupois ounces of the agent in 100 US gallons of pickle
	MilligramsPerBodyMass // milligrams of the ion per kilogram of body mass
	NoUnit                // the row has no amount
)

var unitWords = []string{"", "mg_per_kg", "percent", "oz_per_100_gal", "mg_per_kg_body_mass", "none"}

// String returns the word used on the wire.
func (u Unit) String() string { return word(unitWords, int(u)) }

// Value is an amount as the law means it and as it is printed. Where a law
// gives a fraction of old units, Exact is that fraction: 1/4 ounce in 100 pounds
// is 625/4 mg/kg and printed 156. The zero value is no amount.
type Value struct {
	Exact   *big.Rat // mg/kg of the row's Base; nil without an amount or in a unit that is no mass fraction
	Amount  *big.Rat // the same in the row's Unit, in any unit; nil without an amount
	Printed string   // figure and unit as printed, or what the row says
}

// PPM returns the exact value as a mass fraction, and false when the row has
// none.
func (v Value) PPM() (quantity.PPM, bool) {
	if v.Exact == nil {
		return quantity.PPM{}, false
	}
	f, _ := v.Exact.Float64()
	p, err := quantity.PartsPerMillion(f)
	return p, err == nil
}

// IsZero reports whether the value says nothing at all.
func (v Value) IsZero() bool { return v.Exact == nil && v.Amount == nil && v.Printed == "" }

// clone returns a copy that shares no memory with v.
func (v Value) clone() Value {
	if v.Exact != nil {
		v.Exact = new(big.Rat).Set(v.Exact)
	}
	if v.Amount != nil {
		v.Amount = new(big.Rat).Set(v.Amount)
	}
	return v
}

// milligramsPerKilogram is the fraction n/d of a milligram in a kilogram.
func milligramsPerKilogram(n, d int64, printed string) Value {
	return Value{Exact: big.NewRat(n, d), Amount: big.NewRat(n, d), Printed: printed}
}

// ouncesPerHundredPounds is n/d ounces in 100 pounds, which are 1600 ounces: a
// whole ounce is 625 mg/kg. The amount stands in mg/kg, as handbooks print it.
func ouncesPerHundredPounds(n, d int64, printed string) Value {
	return milligramsPerKilogram(n*625, d, printed)
}

// percentOfBase is n/d percent.
func percentOfBase(n, d int64, printed string) Value {
	return Value{Exact: big.NewRat(n*10000, d), Amount: big.NewRat(n, d), Printed: printed}
}

// otherAmount is n/d of a unit that is no mass fraction.
func otherAmount(n, d int64, printed string) Value {
	return Value{Amount: big.NewRat(n, d), Printed: printed}
}

// said is a value without an amount.
func said(printed string) Value { return Value{Printed: printed} }

// Applies says which formulas a row is for, beyond its class. A condition that
// is not set asks nothing.
type Applies struct {
	OnlyWithoutNitrite    bool   // the product is made without added nitrite
	OnlyKeepRefrigerated  bool   // the label says to keep it refrigerated
	OnlyNamedProduct      string // the row names its products; the maker must verify
	OnlyUnderProcessRules string // ripening or process that the row asks for
}

// Limit is one row of a rulebook.
type Limit struct {
	ID           string // stable, kebab-case
	Jurisdiction Jurisdiction
	Subject      string // what the row is about, for people
	Agent        Agent
	Species      Species
	Phase        Phase
	Base         Base
	Classes      []Class
	Kind         Kind
	Comparator   Comparator
	Unit         Unit
	Value        Value
	Potassium    Value // the figure that the row prints for the potassium salt, never recomputed; zero when it prints none
	Applies      Applies
	Replaces     string    // id of the general row that this one takes the place of where it applies; empty when none
	From         time.Time // first day of validity, zero when it is not known or has always been
	Until        time.Time // last day of validity, zero when it is in force
	Source       source.Citation
	Note         string
}

// On reports whether the row is in force on the day of date, read in UTC.
func (l Limit) On(date time.Time) bool { return holds(l.From, l.Until, dayOf(date)) }

// For reports whether the row is written for a class of product.
func (l Limit) For(c Class) bool { return slices.Contains(l.Classes, c) }

// Limits returns every row of every jurisdiction, past and present, grouped by
// jurisdiction. The rows are copies, free to be changed.
func Limits() []Limit {
	rows := make([]Limit, 0, len(limits))
	for _, l := range limits {
		rows = append(rows, l.clone())
	}
	return rows
}

// LimitByID returns the row with an id, and false when there is none.
func LimitByID(id string) (Limit, bool) {
	i := slices.IndexFunc(limits, func(l Limit) bool { return l.ID == id })
	if i < 0 {
		return Limit{}, false
	}
	return limits[i].clone(), true
}

// InForce returns the rows of a jurisdiction on a date, ordered by id.
func InForce(j Jurisdiction, date time.Time) []Limit {
	day := dayOf(date)
	var rows []Limit
	for _, i := range byID {
		if l := &limits[i]; l.Jurisdiction == j && holds(l.From, l.Until, day) {
			rows = append(rows, l.clone())
		}
	}
	return rows
}

// dayOf returns the first moment of the day of date, read in UTC.
func dayOf(date time.Time) time.Time { return date.UTC().Truncate(24 * time.Hour) }

// holds reports whether a day lies from one day to another, either of which may
// be missing.
func holds(from, until, day time.Time) bool {
	return (from.IsZero() || !day.Before(from)) && (until.IsZero() || !day.After(until))
}

// limits is the table. It is never handed out, only copies of its rows are.
var limits = slices.Concat(
	unitedStatesLimits(), europeanLimits(), britishLimits(), canadianLimits(), australianLimits(),
	codexLimits(), danishLimits(), germanLimits(), brazilianLimits(),
)

// byID is the order of the table's rows by id.
var byID = func() []int {
	order := make([]int, len(limits))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(limits[a].ID, limits[b].ID) })
	return order
}()

// clone returns a copy that shares no memory with l.
func (l Limit) clone() Limit {
	l.Classes = slices.Clone(l.Classes)
	l.Value = l.Value.clone()
	l.Potassium = l.Potassium.clone()
	return l
}

// in sets the jurisdiction of rows.
func in(j Jurisdiction, rows ...Limit) []Limit {
	for i := range rows {
		rows[i].Jurisdiction = j
	}
	return rows
}

// Groups of classes that rows of several jurisdictions are written for.
var (
	choppedClasses = []Class{DrySausage, SemiDrySausage, SpreadableRawSausage, CookedSausage, SterilisedSausage}
	rawClasses     = []Class{DrySausage, SemiDrySausage, SpreadableRawSausage}
	muscleClasses  = []Class{DryCuredMuscle, ImmersionCuredMuscle, PumpedMuscle}
	baconClasses   = []Class{DryCuredBacon, ImmersionCuredBacon, PumpedBacon}
	everyClass     = slices.Concat(
		choppedClasses, []Class{MeatPreparation}, muscleClasses, baconClasses, []Class{TraditionalProduct, HomeCure},
	)
)

func word(words []string, i int) string {
	if i <= 0 || i >= len(words) {
		return "unstated"
	}
	return words[i]
}

func parse(words []string, s string) int {
	if strings.TrimSpace(s) == "" {
		return 0
	}
	return max(slices.Index(words, s), 0)
}
