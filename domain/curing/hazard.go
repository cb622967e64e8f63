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
	in, ok := IngoingOf(s, g.Agent, g.Species, rulebook.MeatBlock)
	if asked, also := ingoing(s, g.Agent, g.Species, rulebook.MeatBlock, (*formula.Line).AsAsked); also && (!ok || in.Amount.High.Less(asked.Amount.High)) {
		in, ok = asked, true
	}
	if !ok || in.Amount.High.Compare(stop.low) <= 0 {
		return finding.Finding{}, false
	}
	pure, lines := undiluted(s), bringing(s, g.Agent)
	if g.Agent == rulebook.Nitrite {
		if in.Amount.High.Compare(stop.high) >= 0 {
			why = "nitrite at the level of a poison"
		}
		if slices.ContainsFunc(lines, func(p fault.Path) bool { return containsPath(pure, p) }) {
			why += "; the formula uses undiluted nitrite, whose dose is not that of a blend"
		}
	}
	unit := quantity.UnitMilligramsPerKilogram
	basis := finding.Basis{
		Agent: g.Agent.String(), Species: g.Species.String(), Phase: rulebook.Ingoing.String(), Base: rulebook.MeatBlock.String(),
	}
	f := finding.Finding{
		Code: g.Agent.String() + "-hazard", GuideID: g.ID, Status: finding.Hazard, Stage: finding.Formula, Authority: finding.Practice,
		Subject: "ingoing " + g.Agent.String() + ", as a hazard", Measured: in.figure(in.Amount.High, unit),
		Limit:   finding.Limit{Comparator: rulebook.AtMost.String(), Value: stop.low.In(unit), Printed: g.Low.Printed, Basis: basis},
		Members: members(lines), Source: g.Source,
		Remedy: "Do not make this. If it has been mixed, do not taste, sell or give it away. Look at the label of the cure: its assay decides the dose.",
	}
	f.Also = others(forms(s, g.Agent, false), basis)
	f.Reason = fmt.Sprintf("%s: %s", why, verdict(f.Status, f.Measured, f.Limit))
	return f, true
}

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

func containsPath(paths []fault.Path, p fault.Path) bool {
	return slices.ContainsFunc(paths, func(q fault.Path) bool { return slices.Equal(p, q) })
}
