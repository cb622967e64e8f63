package finish

import (
	"cmp"
	"math/bits"
	"slices"

	"greenweight/domain/finding"
	"greenweight/domain/rulebook"
)

// Measurement is something to measure, or to state from the record. The zero
// value is invalid.
type Measurement int

// The measurements, from the easiest.
const (
	StateFormula Measurement = iota + 1
	StateSmoke
	StatePacking
	WeighPieces
	StateFermentation
	StateTrichinae
	MeasurePH
	MeasureActivity
	MeasureMoistureProtein
	MeasureSalt
	MeasureResidualNitrite
	RecallPH       // as the fermentation ended, which is past
	RecallActivity // alike
)

var measurementWords = []string{
	"", "formula", "smoke", "packaging", "weights", "fermentation-record", "trichinae-record", "ph", "water-activity", "moisture-and-protein",
	"salt-and-moisture", "residual-nitrite", "ph-after-fermentation", "water-activity-after-fermentation",
}

// String returns the word used on the wire.
func (m Measurement) String() string { return word(measurementWords, int(m)) }

// EveryMeasurement returns all of them, in order.
func EveryMeasurement() []Measurement {
	var all []Measurement
	for m := StateFormula; m <= RecallActivity; m++ {
		all = append(all, m)
	}
	return all
}

// Measurements is a set of them. The zero value is none.
type Measurements uint32

func only(m Measurement) Measurements { return 1 << m }

// Has reports whether one is in the set.
func (s Measurements) Has(m Measurement) bool { return s&only(m) != 0 }

// Count returns how many there are.
func (s Measurements) Count() int { return bits.OnesCount32(uint32(s)) }

// List returns them in order.
func (s Measurements) List() []Measurement {
	var all []Measurement
	for _, m := range EveryMeasurement() {
		if s.Has(m) {
			all = append(all, m)
		}
	}
	return all
}

// within reports whether all of s are in t.
func (s Measurements) within(t Measurements) bool { return s&^t == 0 }

// how says how each is done well.
var how = [...]string{
	StateFormula: "Send the formula with its additions and rates: cure, salt and the sorts of meat are read off it.",
	StateSmoke:   "State in smoked, or with its steps in carried_out, whether it was smoked.",
	StatePacking: "State in packaging whether the pieces stay whole in their casing, or are packed under vacuum.",
	WeighPieces:  "Weigh each piece, with string and casing as at stuffing, and state green weight and weight now.",
	StateFermentation: "Send the temperatures of the chamber, as steps or the log of a thermometer, with each pH that was read until 5.3; " +
		"or the result of /v1/fermentation/degree-hours.",
	StateTrichinae: "State in carried_out what was done against trichinae: the freezing with its temperature, days and thickness, the drying room with its temperatures, " +
		"the heating of the core, or the certificate of the carcass testing.",
	MeasurePH: "Calibrate the meter on two buffers, pH 4.00 and 7.00, at the temperature of the sample. Read the core of the slowest piece and its rim, or a slice ground with an equal weight of distilled water.",
	MeasureActivity: "Check the meter with solutions of water activity 0.920 and 0.760. Cut a slice from the core and one from the rim of the thickest piece, dice them, " +
		"fill the cup half, close it at once and let it come to 25 °C and to rest in the meter.",
	MeasureMoistureProtein: "Have a laboratory analyse moisture and protein of one ground whole slice, both of the same sample. The ratio is compared unrounded.",
	MeasureSalt:            "Have a laboratory analyse salt and moisture of one ground whole slice, both of the same sample.",
	MeasureResidualNitrite: "Have a laboratory analyse the residual nitrite, and state as what it is expressed: sodium nitrite, or the ion.",
	RecallPH:               "Only if it was read then: state the pH at the end of the fermentation, with when after-fermentation.",
	RecallActivity:         "Only if it was read then: state the water activity at the end of the fermentation, with when after-fermentation.",
}

// How says how it is done well.
func (m Measurement) How() string {
	if m <= 0 || int(m) >= len(how) {
		return ""
	}
	return how[m]
}

// Next is something to measure next.
type Next struct {
	Measurement Measurement
	Trees       []Completion // that it would help to complete, the nearest first
}

// Completion is the smallest set of measurements that, were they all favourable,
// would complete a tree.
type Completion struct {
	Tree string
	With Measurements // beside the measurement itself
}

// completions returns the smallest sets that would complete a node: none of them
// holds another. Nothing when no measurement would.
func (t *Tree) completions(at int) []Measurements {
	n := t.Nodes[at]
	switch {
	case n.Status == finding.Met, n.Status == finding.NotApplicable:
		return []Measurements{0}
	case n.Rule.Join == 0 && n.Missing != 0 && (n.Status == finding.NotShown || n.Status == finding.Near):
		return []Measurements{n.Missing}
	case n.Rule.Join == 0:
		return nil
	}
	var sets []Measurements
	if n.Rule.Join == rulebook.AllOf {
		sets = []Measurements{0}
	}
	for _, b := range t.branches(at) {
		of := t.completions(b)
		if n.Rule.Join == rulebook.AnyOf {
			if t.Nodes[b].Status != finding.NotApplicable {
				sets = append(sets, of...)
			}
			continue
		}
		var crossed []Measurements
		for _, s := range sets {
			for _, o := range of {
				crossed = append(crossed, s|o)
			}
		}
		sets = crossed
	}
	return smallest(sets)
}

// smallest drops the sets that hold another, and orders the rest by how many
// there are in each and how easy they are.
func smallest(sets []Measurements) []Measurements {
	slices.SortFunc(sets, func(a, b Measurements) int { return cmp.Or(cmp.Compare(a.Count(), b.Count()), cmp.Compare(a, b)) })
	var kept []Measurements
	for _, s := range sets {
		if !slices.ContainsFunc(kept, func(k Measurements) bool { return k.within(s) }) {
			kept = append(kept, s)
		}
	}
	return kept
}

// past is what can be stated only where it was read at the time.
const past = Measurements(1<<RecallPH | 1<<RecallActivity)

// present drops the sets that need what is past, where there is one that does not.
func present(sets []Measurements) []Measurements {
	now := slices.DeleteFunc(slices.Clone(sets), func(s Measurements) bool { return s&past != 0 })
	if len(now) == 0 {
		return sets
	}
	return now
}

// next returns what to measure, the most useful first: what needs the fewest
// others to complete a tree, then what helps more trees, then what is easier.
func next(trees []Tree) []Next {
	var all []Next
	for _, m := range EveryMeasurement() {
		n := Next{Measurement: m}
		for i := range trees {
			t := &trees[i]
			if t.Status != finding.NotShown && t.Status != finding.Near {
				continue
			}
			for _, s := range present(t.completions(0)) {
				if s.Has(m) {
					n.Trees = append(n.Trees, Completion{Tree: t.Rule.ID, With: s &^ only(m)})
					break
				}
			}
		}
		if len(n.Trees) > 0 {
			slices.SortStableFunc(n.Trees, func(a, b Completion) int { return cmp.Compare(a.With.Count(), b.With.Count()) })
			all = append(all, n)
		}
	}
	slices.SortStableFunc(all, func(a, b Next) int {
		return cmp.Or(cmp.Compare(a.Trees[0].With.Count(), b.Trees[0].With.Count()), cmp.Compare(len(b.Trees), len(a.Trees)))
	})
	return all
}
