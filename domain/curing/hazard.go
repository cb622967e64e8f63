package curing

import (
	"fmt"
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// mark is a guide value as an amount.
type mark struct {
	guide     rulebook.Guide
	low, high quantity.PPM // high is nothing where the guide has one end
	ok        bool         // a test makes sure of each
}

func markOf(id string) mark {
	g, known := rulebook.GuideByID(id)
	low, ok := g.Low.PPM()
	high, _ := g.High.PPM()
	return mark{guide: g, low: low, high: high, ok: known && ok}
}

// The guide values that are asked of every formula.
var (
	nitriteStop   = markOf("hardstop")
	nitrateStop   = markOf("hardstop-nitrate")
	nitriteEffect = markOf("nitrite-effect")
)

// hazards returns what must not be made at all: more nitrite or nitrate on the
// meat block than any row of any rulebook allows for any class of product, by
// the guide values "hardstop" and "hardstop-nitrate". The rates asked for count
// as well as the weights, so that no coarse scale can hide one.
func hazards(s formula.Sheet) []finding.Finding {
	var found []finding.Finding
	if f, ok := hazard(s, nitriteStop, "more ingoing nitrite than any rulebook allows in any meat"); ok {
		found = append(found, f)
	}
	if f, ok := hazard(s, nitrateStop, "more ingoing nitrate than any rulebook allows in any meat"); ok {
		found = append(found, f)
	}
	return found
}

func hazard(s formula.Sheet, stop mark, why string) (finding.Finding, bool) {
	g := &stop.guide
	in, ok := mostOnMeat(s, g.Agent, g.Species)
	low, high, as := stop.low, stop.high, ""
	if !ok && needsPickle(s.Product) && s.Pickle == nil {
		in, ok = withoutPickle(s, g.Agent, g.Species)
		as = ", if the meat takes up a fifth of its weight or becomes as the pickle is, since nothing is stated of that"
	}
	if !ok || in.Amount.High.Compare(low) <= 0 {
		return finding.Finding{}, false
	}
	pure, lines := undiluted(s), bringing(s, g.Agent)
	if g.Agent == rulebook.Nitrite {
		if in.Amount.High.Compare(high) >= 0 {
			why = "nitrite at the level of a poison"
		}
		if slices.ContainsFunc(lines, func(p fault.Path) bool { return containsPath(pure, p) }) {
			why += "; the formula uses undiluted nitrite, whose dose is not that of a blend"
		}
	}
	unit := quantity.UnitMilligramsPerKilogram
	basis := finding.Basis{
		Agent: g.Agent.String(), Species: g.Species.String(), Phase: rulebook.Ingoing.String(), Base: in.Base.String(),
	}
	f := finding.Finding{
		Code: g.Agent.String() + "-hazard", GuideID: g.ID, Status: finding.Hazard, Stage: finding.Formula, Authority: finding.Practice,
		Subject: "ingoing " + g.Agent.String() + ", as a hazard", Measured: in.figure(in.Amount.High, unit),
		Limit:   finding.Limit{Comparator: rulebook.AtMost.String(), Value: low.In(unit), Printed: g.Low.Printed, Basis: basis},
		Members: members(lines), Source: g.Source,
		Remedy: "Do not make this. If it has been mixed, do not taste, sell or give it away. Look at the label of the cure: its assay decides the dose.",
	}
	f.Also = others(forms(s, g.Agent, false), basis)
	f.Reason = fmt.Sprintf("%s%s: %s", why, as, verdict(f.Status, f.Measured, f.Limit))
	return f, true
}

// mostOnMeat returns the ingoing amount on the meat block, by the weights or by
// what the rates ask for, whichever is more.
func mostOnMeat(s formula.Sheet, agent rulebook.Agent, species rulebook.Species) (Ingoing, bool) {
	in, ok := IngoingOf(s, agent, species, rulebook.MeatBlock)
	if asked, also := ingoing(s, agent, species, rulebook.MeatBlock, (*formula.Line).AsAsked); also && (!ok || in.Amount.High.Less(asked.Amount.High)) {
		return asked, true
	}
	return in, ok
}

// mostUptake is what a piece takes up of a pickle where nothing is stated: a
// fifth of its green weight, twice the pump that rows are printed at. A choice of
// this project: more is pumped into cooked hams, and a pickle for that is weaker.
var mostUptake = quantity.MustPercent(20)

// withoutPickle returns the most that may come on the meat of a pickle of which
// nothing is stated: by the uptake of a pump or of a short immersion, or where
// meat and pickle become alike.
func withoutPickle(s formula.Sheet, agent rulebook.Agent, species rulebook.Species) (most Ingoing, some bool) {
	ways := []formula.Pickle{{Method: formula.Pumped, Uptake: mostUptake}}
	if s.Product != rulebook.PumpedMuscle && s.Product != rulebook.PumpedBacon {
		ways = append(ways, formula.Pickle{Method: formula.Equilibrium})
	}
	for i := range ways {
		s.Pickle = &ways[i]
		if in, ok := mostOnMeat(s, agent, species); ok && (!some || most.Amount.High.Less(in.Amount.High)) {
			most, some = in, true
		}
	}
	return most, some
}

// printedPump is the pump that rows on pickles are printed at.
const printedPump = 0.10

// undiluted returns the lines that are nitrite not blended with salt.
func undiluted(s formula.Sheet) []fault.Path {
	var paths []fault.Path
	for _, l := range s.Lines {
		if l.Role == formula.Cure && l.Addition.Cure.Undiluted() {
			paths = append(paths, l.Member)
		}
	}
	return paths
}

// withoutSalt returns the lines that bring nitrite in a cure whose assay names no
// salt.
func withoutSalt(s formula.Sheet) []fault.Path {
	var paths []fault.Path
	for i := range s.Lines {
		if l := &s.Lines[i]; brings(*l, rulebook.Nitrite) && saltContent(l).isZero() {
			paths = append(paths, l.Member)
		}
	}
	return paths
}

func containsPath(paths []fault.Path, p fault.Path) bool {
	return slices.ContainsFunc(paths, func(q fault.Path) bool { return slices.Equal(p, q) })
}
