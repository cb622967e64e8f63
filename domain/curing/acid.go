package curing

import (
	"fmt"
	"math"
	"strconv"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// What sugar does to the pH of meat. The least that can do it comes from the
// chemistry, at the ends that ask for least; the most from the rule of a
// handbook, which is known to be two to three times too careful at low sugar.
const (
	// acidPerGlucose is 2 mol of lactic acid of a mol of glucose, 180.156 g: 11.10
	// mmol/g.
	acidPerGlucose = 2 * 1000 / 180.156
	// bufferLow is in mmol of acid for a kilogram of lean meat and a unit of pH, the
	// low end of 45 to 60.
	bufferLow = 45.0
	// yieldHigh is the part of the sugar that becomes acid at best, of 0.8 to 0.95.
	yieldHigh = 0.95
	// ownSugar is what meat brings of glucose and glycogen at most, of 0.5 to 2
	// g/kg.
	ownSugar = 2.0
	// phLow and phHigh are where raw meat starts.
	phLow, phHigh = 5.5, 5.9
	// perTenth is the handbook's rule: a gram of dextrose in a kilogram for a tenth
	// of a unit.
	perTenth = 1.0
	// acidStops is where acid stops by itself: no sugar takes sausage reliably below.
	acidStops = 4.8
)

var acidSource = source.Citation{
	Title: "S. and A. Marianski, The Art of Making Fermented Sausages", Section: "acidification", Trust: source.ReadSecondary,
	Note: "1 g/kg of dextrose for a tenth of a unit of pH, as quoted; the low end is stoichiometry with the buffer of meat of " +
		"E. Puolanne and R. Kivikari, Meat Science 56:7-13 (2000), 45 to 60 mmol for a kilogram of lean and a unit of pH, recalled",
}

// wantedAcid judges the sugar on the meat against the pH that the plan wants. It
// reports false when it wants none.
func (q question) wantedAcid() (finding.Finding, bool) {
	wanted := q.formula.Plan.WantedPH
	if wanted == nil {
		return finding.Finding{}, false
	}
	f := finding.Finding{
		Code: "sugar-for-wanted-ph", Stage: finding.Process, Authority: finding.Practice, Status: finding.NotShown,
		Subject: fmt.Sprintf("fermentable sugar on the meat, for %s", wanted.Measure()), Source: acidSource,
	}
	if !q.acidifies() {
		f.Status, f.Reason = finding.NotMet, "a pH is wanted and no culture is added that makes acid of sugar"
		f.Remedy = "Add a culture of a species that makes acid (see /v1/reference/cultures)."
		return f, true
	}
	lean, known := leanOf(&q.sheet)
	in, lines, unknown := fermentable(q.sheet)
	f.Members = members(lines)
	if len(lines) == 0 {
		f.Members = nil
	}
	if !known {
		f.Reason = "the fat of the meat is not known, and with it how much acid the lean takes"
		return f, true
	}
	least, most := sugarFor(*wanted, lean, rawPH(q.formula))
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
	case in.Amount.Low.Compare(most) >= 0 && wanted.Float() < acidStops:
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

// sugarFor returns the least and the most fermentable sugar on the meat that
// takes it to a pH, with a part of lean.
//
//	least = (5.5 - pH) 45 lean / (11.10 x 0.95) - 2   g/kg
//	most  = (5.9 - pH) / 0.1 x 1                      g/kg
//
// Where the pH of the meat was read when it came in, that of the sourest part takes
// the place of 5.5, and that of the least sour the place of 5.9.
func sugarFor(wanted quantity.PH, lean float64, raw quantity.Between[float64]) (least, most quantity.PPM) {
	low := (raw.Low-wanted.Float())*bufferLow*lean/(acidPerGlucose*yieldHigh) - ownSugar
	high := (raw.High - wanted.Float()) * 10 * perTenth
	return gramsPerKilogram(low), gramsPerKilogram(high)
}

// rawPH returns the lowest and the highest pH that the meat may begin at: as it
// was read, and as raw meat is where it was not.
func rawPH(f formula.Formula) quantity.Between[float64] {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range f.Parts {
		if f.Parts[i].Share.IsZero() {
			continue
		}
		least, most := phLow, phHigh
		if read, known := f.Parts[i].Received.PH.Get(); known {
			least, most = read.Float(), read.Float()
		}
		low, high = min(low, least), max(high, most)
	}
	if low > high {
		return quantity.Between[float64]{Low: phLow, High: phHigh}
	}
	return quantity.Between[float64]{Low: low, High: high}
}

// gramsPerKilogram returns a mass fraction, nothing for less than nothing.
func gramsPerKilogram(g float64) quantity.PPM {
	p, err := quantity.PartsPerMillion(max(g, 0) * 1000)
	if err != nil {
		return quantity.PPM{}
	}
	return p
}

// rounded prints a mass fraction to a tenth of a gram in a kilogram.
func rounded(p quantity.PPM) string { return trimmed(math.Round(p.GramsPerKilogram()*10)/10) + " g/kg" }

// leanOf returns what of the meat block is not fat, and false when that is not
// known.
func leanOf(s *formula.Sheet) (float64, bool) {
	lean, meat := 0.0, 0.0
	for i := range s.Lines {
		l := &s.Lines[i]
		if l.Role != formula.Meat || l.Part == nil {
			continue
		}
		fat, known := l.Part.Material.Composition.Fat.Get()
		if !known {
			return 0, false
		}
		m := l.OnScale().Grams()
		lean, meat = lean+m*fat.Complement().Float(), meat+m
	}
	if meat == 0 {
		return 0, false
	}
	return lean / meat, true
}

// trimmed prints a number without more digits than it needs.
func trimmed(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
