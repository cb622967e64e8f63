package curing

import (
	"fmt"
	"math"
	"slices"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// The water activities at which growth and toxin stop, and the pH at which a
// sausage is sour enough for the rules on degree-hours.
var (
	toxinSource = source.Citation{
		Title: "American Meat Institute Foundation, Good Manufacturing Practices for Fermented Dry and Semi-Dry Sausage Products", Year: 1997,
		Section: "front matter", Trust: source.ReadSecondary,
		Note: "Staphylococcus aureus: 0.86 with air and 0.90 without, and nitrite a weak hurdle; 0.86 is the limit of its toxin in handbooks too",
	}
	listeriaSource = source.Citation{
		Title: "Regulation (EC) No 2073/2005 on microbiological criteria for foodstuffs", Section: "annex I, chapter 1, note 8", Trust: source.Read,
		Note: "Listeria monocytogenes is taken not to grow at a water activity of 0.92 or less, at pH 4.4 or less, or at pH 5.0 or less with 0.94 or less",
	}
	rawMaterial     = quantity.MustCelsius(7)
	rawMaterialSays = source.CommonPractice("meat for sausage of little acid goes in at 5 to 7 °C or colder")
)

// routeOfLowAcid says where a low-acid sausage would be let keep without cold.
func routeOfLowAcid() source.Citation {
	return source.Citation{
		Title: "Safe Food for Canadians Regulations, SOR/2018-108", Year: 2025, Section: "section 286 (b), (c) and (e)", Trust: source.Read,
		Note: "the ways it knows to a sausage that keeps without cold: pH 4.6 or less; a water activity of 0.85 or less; or pH 5.3 and 0.90 or less, fermented. " +
			"None of the rulebooks was found to have a way for a sausage that is neither sour nor that dry",
	}
}

// lowAcid judges a declared cool, low-acid traditional sausage; nothing is found
// of a formula that does not declare it.
func (q question) lowAcid(asked []rulebook.Jurisdiction) []finding.Finding {
	if !q.formula.Plan.LowAcid {
		return nil
	}
	if !q.rawSausage() {
		f := q.lowAcidRoute()
		f.Status, f.Remedy = finding.NotApplicable, ""
		f.Reason = "the declaration is for raw, dried sausage, and this product is none"
		return []finding.Finding{f}
	}
	found := []finding.Finding{q.lowAcidRoute(), q.lowAcidCure(), q.lowAcidStart()}
	for _, set := range rulebook.DegreeHourSets() {
		found = append(found, q.lowAcidWarmth(set, asked))
	}
	return append(found, lowAcidDryness("low-acid-toxin", "a water activity of 0.86 or less, at which Staphylococcus aureus makes no toxin",
		"0.90 stops it where there is no air, which is not at the surface", toxinSource),
		lowAcidDryness("low-acid-listeria", "a water activity of 0.92 or less, at which Listeria monocytogenes is taken not to grow",
			"without acid there is no other way to that rule", listeriaSource))
}

// lowAcidRoute is the finding about the declaration as a whole.
func (q question) lowAcidRoute() finding.Finding {
	f := finding.Finding{
		Code: "low-acid-route", Status: finding.NotShown, Stage: finding.Process, Authority: finding.Practice,
		Subject: "a declared cool, low-acid traditional sausage", Members: [][]string{fault.At("plan", "low_acid_traditional")}, Source: routeOfLowAcid(),
		Reason: "it is declared that no acid down to pH 5.3 is intended, so that it counts nowhere as fermented; no source read covers such a sausage as a whole, " +
			"so that it rests on its temperature, its time, its cure and its final water activity, each judged apart",
		Remedy: "What could show it: a process that an authority or a laboratory validated for this product, or a measured water activity of 0.85 or less. Until then keep it cold.",
	}
	if span, known := q.formula.Plan.Span(); known {
		const hoursPerDay = 24
		f.Reason += fmt.Sprintf("; %.3g days of fermentation and drying are planned", span.Hours()/hoursPerDay)
	} else {
		f.Reason += "; how long it ferments and dries is not planned to its end"
	}
	if wanted := q.formula.Plan.WantedPH; wanted != nil && atMostTarget(*wanted) {
		f.Reason += fmt.Sprintf("; but the plan wants %s, which is a fermentation: one of the two is a slip", *wanted)
	} else if q.acidifies() {
		f.Reason += "; a culture goes in that may make acid all the same, and a pH that is read counts whatever was intended"
	}
	return f
}

// atMostTarget reports whether a pH ends the clock of the rules on degree-hours.
func atMostTarget(ph quantity.PH) bool {
	return ph.Compare(rulebook.DegreeHourSets()[0].TargetPH) <= 0
}

// lowAcidCure asks for nitrite or nitrate; how much, other findings judge.
func (q question) lowAcidCure() finding.Finding {
	f := finding.Finding{
		Code: "low-acid-cure", Status: finding.NotShown, Stage: finding.Process, Authority: finding.Practice,
		Subject: "nitrite or nitrate in a low-acid sausage", Members: members(bringing(q.sheet, rulebook.NitriteAndNitrate)),
		Source: source.CommonPractice("without acid, cure and salt are what holds Clostridium botulinum back until the sausage is dry"),
		Reason: "a cure goes in; whether it is enough, the findings on nitrite and nitrate say, and against Staphylococcus aureus nitrite is a weak hurdle",
	}
	if !q.has(rulebook.NitriteAndNitrate) {
		f.Status = finding.NotMet
		f.Members = [][]string{fault.At("plan", "low_acid_traditional")}
		f.Reason = "neither nitrite nor nitrate goes in, and no acid is intended: nothing holds Clostridium botulinum back while it is wet"
		f.Remedy = "Add a cure (see /v1/reference/cures), or let it sour: take the declaration out and plan a fermentation."
	}
	return f
}

// lowAcidStart judges how cold the meat goes in, by what was measured of it at
// receipt.
func (q question) lowAcidStart() finding.Finding {
	f := finding.Finding{
		Code: "low-acid-cold-start", Status: finding.NotShown, Stage: finding.Process, Authority: finding.Practice, Subject: "a cold start, of meat without acid to come",
		Limit:  finding.Limit{Comparator: rulebook.AtMost.String(), Value: rawMaterial.In(quantity.UnitDegC), Printed: "5 to 7 °C"},
		Source: rawMaterialSays, Members: [][]string{fault.At("plan", "low_acid_traditional")},
	}
	warmest, at := quantity.Temperature{}, 0
	for i, p := range q.formula.Parts {
		t, known := p.Received.Temperature.Get()
		if !known {
			f.Reason = fmt.Sprintf("how cold %s was is not stated", p.Name)
			f.Remedy = "State what was measured at receipt, and cut and mix it as cold."
			f.Members = [][]string{fault.At("parts", i)}
			return f
		}
		if warmest.IsZero() || t.Compare(warmest) > 0 {
			warmest, at = t, i
		}
	}
	f.Members = [][]string{fault.At("parts", at, "received", "temperature")}
	f.Measured = finding.Figure{Value: warmest.In(quantity.UnitDegC)}
	if warmest.Compare(rawMaterial) > 0 {
		f.Status = finding.NotMet
		f.Reason = fmt.Sprintf("%s is warmer than the 7 °C that such meat is to have at most", warmest)
		f.Remedy = "Chill it before it is cut."
		return f
	}
	f.Reason = fmt.Sprintf("%s is within what is usual, which no source read lays down", warmest)
	return f
}

// lowAcidDryness asks for a water activity that only a measurement shows.
func lowAcidDryness(code, subject, because string, from source.Citation) finding.Finding {
	return finding.Finding{
		Code: code, Status: finding.NotShown, Stage: finding.Finish, Authority: finding.Guidance, Subject: subject,
		Members: [][]string{fault.At("plan", "low_acid_traditional")}, Source: from,
		Reason: "no water activity was measured; " + because,
		Remedy: "Measure it at the end of drying, at the core; a loss in percent is no water activity.",
	}
}

// warmed is what a plan brings of degree-hours when no acid ends their count.
type warmed struct {
	sum     quantity.DegreeHours
	above   time.Duration
	highest quantity.Temperature
	worst   fault.Path           // the warmest step
	open    quantity.Temperature // of a step above the base that lasts until something else is shown
	unknown string               // what is not stated
}

// warmedOver adds up the fermentation and the drying above the base of a rule.
func (q question) warmedOver(set rulebook.DegreeHourSet) warmed {
	var w warmed
	plan := q.formula.Plan
	all := slices.Concat(plan.Fermentation, plan.Drying)
	if len(all) == 0 {
		w.unknown = "no temperature is planned, neither of the fermentation nor of the drying"
	}
	for i, s := range all {
		at := fault.At("plan", "fermentation", i)
		if i >= len(plan.Fermentation) {
			at = fault.At("plan", "drying", i-len(plan.Fermentation))
		}
		t, known := s.Temperature.Get()
		if !known {
			w.unknown = "the plan has a step without a temperature"
			continue
		}
		if w.highest.IsZero() || t.Compare(w.highest) > 0 {
			w.highest, w.worst = t, fault.At("temperature").Under(at)
		}
		if t.Compare(set.Base) <= 0 {
			continue
		}
		w.above += s.Span
		if s.Span == 0 {
			w.open = t
			continue
		}
		w.sum = w.sum.Plus(t.Minus(set.Base).For(s.Span))
	}
	if len(plan.Drying) == 0 && w.unknown == "" {
		w.unknown = "no drying is planned, and how warm it is while it is wet counts too"
	}
	return w
}

// lowAcidWarmth holds fermentation and drying against the base of a rule on
// degree-hours. At or below it the rule counts nothing; above it the count goes
// on, because no acid ends it, until the sausage is dry.
func (q question) lowAcidWarmth(set rulebook.DegreeHourSet, asked []rulebook.Jurisdiction) finding.Finding {
	unit, degree := quantity.UnitDegC, set.Scale.DegreeHourUnit()
	if set.Scale == rulebook.FahrenheitScale {
		unit = quantity.UnitDegF
	}
	f := finding.Finding{
		Code: "low-acid-temperature", LimitID: set.ID, Status: finding.NotShown, Stage: finding.Process, Authority: finding.Guidance,
		Subject: "warmth above " + set.Base.In(unit).String() + ", which no acid ends", Members: [][]string{fault.At("plan", "low_acid_traditional")}, Source: set.Source,
	}
	if slices.Contains(asked, set.Jurisdiction) {
		f.Rulebook = set.Jurisdiction.String()
	}
	w := q.warmedOver(set)
	if w.worst != nil {
		f.Members = [][]string{w.worst}
	}
	class := set.ClassOf(w.highest)
	switch used := w.sum.Compare(class.Limit); {
	case w.above == 0 && w.open.IsZero() && w.unknown != "":
		f.Reason = w.unknown
		f.Remedy = fmt.Sprintf("Plan every step, at %s or colder.", set.Base.In(unit))
		return f
	case w.above == 0 && w.open.IsZero():
		f.Status = finding.Met
		f.Measured = finding.Figure{Value: w.highest.In(unit)}
		f.Limit = finding.Limit{Comparator: rulebook.AtMost.String(), Value: set.Base.In(unit), Printed: set.Base.In(unit).String()}
		f.Reason = "as planned it is never above the base, where the rule takes Staphylococcus aureus not to make its toxin; handbooks know it to grow from 7 °C, and its toxin from 10 °C, slowly"
		return f
	case used > 0:
		f.Status = finding.NotMet
	case used == 0:
		f.Status = finding.Near
	}
	f.Measured = finding.Figure{Value: w.sum.In(degree)}
	f.Limit = finding.Limit{Comparator: set.Comparator.String(), Value: class.Limit.In(degree), Printed: class.Printed}
	f.Reason = fmt.Sprintf("%.4g h are planned above the base, up to %s, and come to %s of %s; no acid ends the count, only dryness does, which is to be measured",
		w.above.Hours(), w.highest.In(unit), w.sum.In(degree), class.Limit.In(degree))
	if !w.open.IsZero() {
		f.Reason += fmt.Sprintf("; and a step at %s has no end", w.open.In(unit))
	}
	if w.unknown != "" {
		f.Reason += "; " + w.unknown
	}
	f.Remedy = fmt.Sprintf("Keep it at %s or colder", set.Base.In(unit))
	if span, err := class.Limit.At(w.highest.Minus(set.Base)); err == nil {
		const tenths = 10
		f.Remedy += fmt.Sprintf(", or at %s for less than %g h in all", w.highest.In(unit), math.Floor(span.Hours()*tenths+1e-9)/tenths)
	}
	f.Remedy += "; or let it sour, and read pH 5.3 before that."
	return f
}
