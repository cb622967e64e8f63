package curing

import (
	"fmt"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

var usualBrine = markOf("salt-wps")

// stableBrine is the brine inside that is one part of one way to a semi-dry
// sausage that keeps without cold, with acid, cure, smoke and a whole casing or
// vacuum.
var (
	stableBrine       = quantity.MustPPM(50_000)
	stableBrineSource = source.Citation{
		Title: "FSIS, Food Standards and Labeling Policy Book", Section: "shelf-stable, non-refrigerated semi-dry sausage", Trust: source.ReadSecondary,
		Note: "an internal brine of at least 5 percent, as quoted elsewhere; the entry was not opened",
	}
)

// waterPhaseSalt computes the salt in the water of the product after the planned
// loss, all of it water:
//
//	wps = S / (S + W - L)
//
// with S the salt that is added, W the water of meat and additions, L the loss,
// all for a mass of what is made. It reports false when no loss is planned.
func (q question) waterPhaseSalt() (finding.Finding, bool) {
	g := &usualBrine.guide
	if q.sheet.Loss == nil || !usualBrine.ok {
		return finding.Finding{}, false
	}
	f := finding.Finding{
		Code: "water-phase-salt", GuideID: g.ID, Status: finding.NotShown, Stage: finding.Finish, Authority: finding.Practice,
		Subject: "salt in the water phase after the planned loss", Source: g.Source,
	}
	water, salt, unknown := phases(&q.sheet)
	if !q.short {
		f.Members = members(bringing(q.sheet, rulebook.Salt))
	}
	switch {
	case unknown != "":
		f.Reason = fmt.Sprintf("the water that %s brings is not known", unknown)
		return f, true
	case q.sheet.Pickle != nil && q.sheet.Pickle.Method == formula.Equilibrium:
		f.Reason = "what the meat gains in a pickle at an equilibrium is not stated, so the loss has no base"
		return f, true
	}
	left := water - q.sheet.Loss.Float()
	if left <= 0 {
		f.Reason = fmt.Sprintf("the planned loss is more than the water there is, %.3g percent of what is made", water*100)
		return f, true
	}
	gram := quantity.MustGrams(1)
	inSalt, errSalt := quantity.NewRatio(salt)
	inWater, errWater := quantity.NewRatio(left)
	amount, err := rulebook.WaterPhaseSalt(inSalt.Of(gram), inWater.Of(gram))
	if errSalt != nil || errWater != nil || err != nil {
		f.Reason = "what is known of salt and water makes no amount of it"
		return f, true
	}
	if q.wordless(finding.NotShown) && q.formula.Product == rulebook.DrySausage && amount.Compare(usualBrine.low) >= 0 {
		return f, true
	}
	f.Members = members(bringing(q.sheet, rulebook.Salt))
	unit := quantity.UnitPercent
	basis := finding.Basis{Agent: g.Agent.String(), Species: g.Species.String(), Phase: g.Phase.String(), Base: g.Base.String()}
	f.Measured = finding.Figure{Value: amount.In(unit), Basis: basis}
	if q.formula.Product == rulebook.SemiDrySausage {
		f.GuideID, f.Source = "", stableBrineSource
		f.Limit = finding.Limit{Comparator: rulebook.AtLeast.String(), Value: stableBrine.In(unit), Printed: "5 percent", Basis: basis}
		s, _ := compare(rulebook.AtLeast, quantity.Exactly(amount), stableBrine)
		f.Reason = verdict(s, f.Measured, f.Limit) + ", which is one part of one way to a semi-dry sausage that keeps without cold; by mass balance at the planned loss, so this shows nothing"
		return f, true
	}
	if q.formula.Product != rulebook.DrySausage {
		f.GuideID, f.Status = "", finding.NotApplicable
		f.Reason = fmt.Sprintf("%s of the water phase at the planned loss; what is usual is known of dry sausage only", f.Measured.Value)
		return f, true
	}
	const because = "; that is by mass balance at the planned loss, and only an analysis of the product shows it"
	f.Limit = finding.Limit{Comparator: rulebook.AtLeast.String(), Value: usualBrine.low.In(unit), Printed: g.Low.Printed, Basis: basis}
	switch {
	case amount.Compare(usualBrine.low) < 0:
		f.Status = finding.NotMet
		f.Reason = verdict(f.Status, f.Measured, f.Limit) + because
		f.Remedy = lossFor(water, salt, usualBrine.low)
	case amount.Compare(usualBrine.high) > 0:
		f.Reason = fmt.Sprintf("%s, and more than the %s up to which is usual%s", verdict(finding.Met, f.Measured, f.Limit), usualBrine.high.In(unit), because)
	default:
		f.Reason = verdict(finding.Met, f.Measured, f.Limit) + because
	}
	return f, true
}

// lossFor says which loss would give a share of salt in the water phase:
//
//	L = W + S - S / wps
func lossFor(water, salt float64, wanted quantity.PPM) string {
	loss := water + salt - salt/(wanted.MilligramsPerKilogram()/1e6)
	if loss <= 0 || loss >= water {
		return "No loss gives that with this salt: change the salt."
	}
	return fmt.Sprintf("A loss of %.3g percent would give %s with this salt; or change the salt.", loss*100, wanted.In(quantity.UnitPercent))
}

// phases returns the water and the added salt of what is made, as parts of its
// mass, and the name of a line of which the water is not known, or nothing. What
// a spoonful weighs is taken at its middle, and an assay in the middle.
func phases(s *formula.Sheet) (water, salt float64, unknown string) {
	total := 0.0
	scale := 1.0 // of an addition to a pickle: what the meat takes up of it
	if s.Pickle != nil {
		up, _ := s.TakenUp()
		if made := s.PickleMade(); !made.IsZero() {
			scale = up.Grams() / made.Grams()
		}
	}
	for i := range s.Lines {
		l := &s.Lines[i]
		m := l.OnScale().Grams()
		if m == 0 {
			continue
		}
		if l.Role != formula.Meat {
			m *= scale
		}
		w, known := waterOf(l)
		if !known {
			return 0, 0, l.Name
		}
		c := saltContent(l)
		water, salt, total = water+w*m, salt+(c.low+c.high)/2*m, total+m
	}
	return water / total, salt / total, ""
}

// waterOf returns the water in a line, and false when it is not known. A cure is
// dry.
func waterOf(l *formula.Line) (float64, bool) {
	switch {
	case l.Role == formula.Meat && l.Part != nil:
		w, known := l.Part.Material.Composition.Water.Get()
		return w.Float(), known
	case l.Role == formula.RehydrationWater:
		return 1, true
	case l.Addition == nil:
		return 0, false
	case l.Addition.Cure != nil:
		return 0, true
	case l.Addition.Material == nil:
		return 0, false
	default:
		w, known := l.Addition.Material.Composition.Water.Get()
		return w.Float(), known
	}
}
