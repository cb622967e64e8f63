package curing

import (
	"fmt"
	"math"
	"strconv"

	"greenweight/domain/acidity"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// wantedAcid judges the sugar on the meat against the pH that the plan wants. It
// reports false when it wants none.
func (q question) wantedAcid() (finding.Finding, bool) {
	wanted := q.formula.Plan.WantedPH
	if wanted == nil {
		return finding.Finding{}, false
	}
	f := finding.Finding{
		Code: "sugar-for-wanted-ph", Stage: finding.Process, Authority: finding.Practice, Status: finding.NotShown,
		Subject: fmt.Sprintf("fermentable sugar on the meat, for %s", wanted.Measure()), Source: acidSource(),
	}
	if !q.acidifies() {
		f.Status, f.Reason = finding.NotMet, "a pH is wanted and no culture is added that makes acid of sugar"
		f.Remedy = "Add a culture of a species that makes acid (see /v1/reference/cultures)."
		return f, true
	}
	lean, known := acidity.LeanOf(&q.sheet)
	in, lines, unknown := fermentable(q.sheet)
	f.Members = members(lines)
	if len(lines) == 0 {
		f.Members = nil
	}
	if !known {
		f.Reason = "the fat of the meat is not known, and with it how much acid the lean takes"
		return f, true
	}
	by := acidity.Usual()
	least, most := acidity.NeedFor(*wanted, lean, acidity.StartOf(q.formula), by).Ends()
	unit := quantity.UnitGramsPerKilogram
	f.Measured = in.figure(in.Amount.Low, unit)
	f.Measured.Basis.Agent, f.Measured.Basis.Species = "fermentable-sugar", ""
	f.Limit = finding.Limit{
		Comparator: rulebook.AtLeast.String(), Value: most.In(unit), Basis: f.Measured.Basis,
		Printed: fmt.Sprintf("from %s, the least that chemistry allows, to %s by the rule of a handbook", rounded(least), rounded(most)),
	}
	amounts := fmt.Sprintf("%s of fermentable sugar on the meat; %s takes %s", f.Measured.Value, wanted.Measure(), f.Limit.Printed)
	missing := most.Of(q.sheet.Meat()).Minus(in.Amount.Low.Of(q.sheet.Meat()))
	switch {
	case in.Amount.Low.Compare(most) >= 0 && wanted.Compare(by.Stop.High) < 0:
		f.Reason = amounts + "; but acid stops at about 4.5 to 4.8 by itself, so more sugar does not show it"
	case in.Amount.Low.Compare(most) >= 0:
		f.Status, f.Reason = finding.Met, amounts
	case unknown != "":
		f.Reason = fmt.Sprintf("%s; but what sugar %s brings is not known", amounts, unknown)
	case in.Amount.Low.Compare(least) >= 0:
		f.Status, f.Reason = finding.Near, amounts
		f.Remedy = moreSugar(missing)
	default:
		f.Status, f.Reason = finding.NotMet, amounts
		f.Remedy = moreSugar(missing)
	}
	return f, true
}

// acidSource cites both rules.
func acidSource() source.Citation {
	from := acidity.Sources()
	c := from.Handbook
	c.Note += "; the low end is stoichiometry with the buffer of meat of " + from.Buffer.Title + ", " + from.Buffer.Note
	return c
}

// moreSugar says how much dextrose brings a mass of fermentable sugar: that of
// commerce is the monohydrate.
func moreSugar(missing quantity.Mass) string {
	m, ok := dextrose()
	if !ok {
		return ""
	}
	dry := m.FermentableSugar().Or(quantity.MustPercent(100))
	more, err := missing.DividedBy(dry.Ratio())
	if err != nil {
		return ""
	}
	const tenths = 10
	up := math.Ceil(more.Grams()*tenths-1e-9) / tenths
	return fmt.Sprintf("Add %s g of dextrose, as the monohydrate, to this meat for the whole of it.", trimmed(up))
}

// rounded prints a mass fraction to a tenth of a gram in a kilogram.
func rounded(p quantity.PPM) string { return trimmed(math.Round(p.GramsPerKilogram()*10)/10) + " g/kg" }

// trimmed prints a number without more digits than it needs.
func trimmed(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
