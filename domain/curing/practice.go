package curing

import (
	"fmt"
	"slices"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Guide values of the trade for sugar and culture, with their sources.
var (
	// sugarFloor is 3 g/kg of meat: 3 to 5 g/kg is ordinary in raw sausage.
	sugarFloor       = quantity.MustPPM(3000)
	sugarFloorSource = source.Citation{
		Title: "Federal programme for organic farming (Germany), information portal, raw sausage: ripening", Trust: source.Read,
		Note: "sugar of 3 to 5 g/kg is ordinary in German raw sausage; other texts have 5 to 10",
	}
	// sugarCeiling is 20 g/kg of meat.
	sugarCeiling       = quantity.MustPPM(20000)
	sugarCeilingSource = source.Citation{
		Title: "F. Toldra, Dry-Cured Meat Products", Year: 2002, Section: "pp. 6 and 93", Trust: source.ReadSecondary,
		Note: "5 to 10 g/kg is usual and up to 20 g/kg for semi-dry sausage, as quoted",
	}
	// packDose is 25 g of freeze-dried culture for 200 kg, 0.125 g/kg: a usual
	// dose on a pack.
	packDose       = rulebook.Dosing().Pack.High
	packDoseSource = rulebook.Dosing().Pack.Source
	// cellFloor is 10^6 CFU in a gram of the mixture, the low end of 10^6 to 10^7.
	cellFloor       = rulebook.Dosing().Target.Low
	cellFloorSource = rulebook.Dosing().Target.Source
)

// useABlend is the remedy for undiluted nitrite.
const useABlend = "Use a curing blend of known assay."

// saltJudged holds a formula against what the trade holds to for salt.
func (q question) saltJudged() []judgement {
	judged := make([]judgement, 0, len(q.rules.salt))
	for _, r := range q.rules.salt {
		judged = append(judged, q.judge(r, ""))
	}
	return judged
}

// practice judges what is nobody's law in particular besides salt: cure, sugar
// and culture.
func (q question) practice(tell func(finding.Finding)) {
	maybe := func(f finding.Finding, ok bool) {
		if ok {
			tell(f)
		}
	}
	tell(q.cure())
	maybe(q.undilutedNitrite())
	tell(q.sugar())
	q.cultures(tell)
	maybe(q.wantedAcid())
	maybe(q.reduction())
	maybe(q.waterPhaseSalt())
	for _, f := range q.warmth() {
		tell(f)
	}
}

// wordless reports whether nobody reads what a finding of this status says.
func (q question) wordless(s finding.Status) bool { return q.short && !s.NeedsAttention() }

// cure judges that there is any, and not next to nothing.
func (q question) cure() finding.Finding {
	f := finding.Finding{
		Code: "cure-present", Stage: finding.Formula, Authority: finding.Practice, Subject: "nitrite or nitrate in a raw sausage that is held for days",
		Source: source.CommonPractice("raw sausage that ferments or dries for days is made with nitrite or nitrate, against Clostridium botulinum above all"),
	}
	g, least, known := nitriteEffect.guide, nitriteEffect.low, nitriteEffect.ok
	in, computed := q.ingoing(g.Agent, g.Species, g.Base)
	whole := !q.rawSausage()
	if whole {
		f.Subject = "nitrite or nitrate in a raw product that is held for days"
	}
	switch {
	case q.formula.Product == rulebook.CookedSausage || q.formula.Product == rulebook.SterilisedSausage:
		f.Status, f.Reason = finding.NotApplicable, "the product is heat-treated"
	case q.formula.Product == rulebook.MeatPreparation:
		f.Status, f.Reason = finding.NotApplicable, "a meat preparation is not held for days"
	case !q.has(rulebook.NitriteAndNitrate) && q.unknown() != "":
		f.Status, f.Reason = finding.NotShown, fmt.Sprintf("none is counted; what %s brings is not known", q.unknown())
	case !q.has(rulebook.NitriteAndNitrate) && q.asked().has(rulebook.NitriteAndNitrate):
		f.Status, f.Reason = finding.NotMet, "the cure that the formula asks for rounds to nothing on this scale"
		f.Remedy = "Use a finer scale, or make more."
	case !q.has(rulebook.NitriteAndNitrate) && whole:
		f.Status = finding.NotShown
		f.Reason = "neither nitrite nor nitrate is added; there are whole pieces that are cured with salt alone, cold and for months, and a formula does not show that this is one"
	case !q.has(rulebook.NitriteAndNitrate):
		f.Status, f.Reason, f.Remedy = finding.NotMet, "neither nitrite nor nitrate is added to a raw sausage that is held for days", addACure
	case !q.has(rulebook.Nitrite):
		f.Status, f.Reason = finding.NotShown, "only nitrate is added: it works once bacteria have reduced it, which takes time and a culture that does; a formula does not show that"
	case known && computed && in.Amount.Low.Compare(least) < 0 && q.unknown() != "":
		f.Status, f.Reason = finding.NotShown, fmt.Sprintf("little nitrite is counted; what %s brings is not known", q.unknown())
	case known && computed && in.Amount.Low.Compare(least) < 0:
		s, counts := compare(rulebook.AtLeast, in.Amount, least)
		unit := quantity.UnitMilligramsPerKilogram
		f.Status, f.Measured, f.GuideID, f.Source, f.Remedy = s, in.figure(counts, unit), g.ID, g.Source, addACure
		f.Limit = finding.Limit{Comparator: rulebook.AtLeast.String(), Value: least.In(unit), Printed: g.Low.Printed, Basis: f.Measured.Basis}
		f.Members = members(bringing(q.sheet, g.Agent))
		f.Reason = verdict(s, f.Measured, f.Limit) + ", from which nitrite is described as having some effect"
	default:
		f.Status, f.Reason = finding.NotShown, "nitrite is added; that it is enough is for the rulebooks and the whole process to show"
	}
	return f
}

// undilutedNitrite warns of a cure that is not blended, at whatever dose.
func (q question) undilutedNitrite() (finding.Finding, bool) {
	paths := undiluted(q.sheet)
	if len(paths) == 0 {
		return finding.Finding{}, false
	}
	return finding.Finding{
		Code: "undiluted-nitrite", Status: finding.NotMet, Stage: finding.Formula, Authority: finding.Practice,
		Subject: "nitrite that is not blended with salt", Members: members(paths), Remedy: useABlend,
		Reason: "undiluted nitrite is a poison in the amount of a spoon, is weighed in milligrams, and is taken for salt or for a blend",
		Source: source.CommonPractice("nitrite is handled as a blend with salt"),
	}, true
}

// sugar judges the fermentable sugar on the meat of a formula with a culture.
func (q question) sugar() finding.Finding {
	f := finding.Finding{
		Code: "sugar-for-acid", Stage: finding.Formula, Authority: finding.Practice,
		Subject: "fermentable sugar on the meat, for the culture", Source: sugarFloorSource,
	}
	switch {
	case !q.hasCulture():
		f.Status, f.Reason = finding.NotApplicable, "no culture is added: nothing is planned to make acid of sugar"
		return f
	case !q.acidifies():
		f.Status, f.Reason = finding.NotApplicable, "none of the species of the culture makes acid of sugar that counts"
		return f
	}
	in, lines, unknown := fermentable(q.sheet)
	if s, _ := compare(rulebook.AtLeast, in.Amount, sugarFloor); q.wordless(s) && in.Amount.High.Compare(sugarCeiling) <= 0 {
		f.Status = s
		return f
	}
	unit := quantity.UnitGramsPerKilogram
	hold := func(c rulebook.Comparator, counts, limit quantity.PPM, printed string) {
		f.Measured = in.figure(counts, unit)
		f.Measured.Basis.Agent, f.Measured.Basis.Species = "fermentable-sugar", ""
		f.Limit = finding.Limit{Comparator: c.String(), Value: limit.In(unit), Printed: printed, Basis: f.Measured.Basis}
	}
	f.Members = members(lines)
	if s, counts := compare(rulebook.AtMost, in.Amount, sugarCeiling); s != finding.Met {
		hold(rulebook.AtMost, counts, sugarCeiling, "up to 20 g/kg")
		f.Status, f.Source = s, sugarCeilingSource
		f.Reason = fmt.Sprintf("%s is more than is usual: the culture may go far below pH 5, and sugar be left over", f.Measured.Value)
		return f
	}
	var counts quantity.PPM
	f.Status, counts = compare(rulebook.AtLeast, in.Amount, sugarFloor)
	hold(rulebook.AtLeast, counts, sugarFloor, "3 to 5 g/kg")
	switch {
	case f.Status != finding.Met && unknown != "":
		f.Status = finding.NotShown
		f.Reason = fmt.Sprintf("%s is counted; what sugar %s brings is not known", f.Measured.Value, unknown)
	case f.Status == finding.NotMet:
		f.Reason = fmt.Sprintf("%s is less than the trade uses to reach pH 5.3; what the meat brings is little and not counted", f.Measured.Value)
	case f.Status == finding.Near:
		f.Reason = "the spoonful may be less than the trade uses"
	default:
		f.Reason = fmt.Sprintf("%s is not less than the trade uses; that the acid comes in time is for the fermentation to show", f.Measured.Value)
	}
	return f
}

func (q question) hasCulture() bool {
	for _, l := range q.sheet.Lines {
		if l.Role == formula.Culture {
			return true
		}
	}
	return false
}

// sugarOf returns the fraction of a line that every acidifying culture
// ferments, and false when that is not known.
func sugarOf(l formula.Line) (quantity.Fraction, bool) {
	switch {
	case l.Role == formula.Meat || l.Role == formula.RehydrationWater || l.Role == formula.Culture || l.Addition.Cure != nil:
		return quantity.Fraction{}, true
	case l.Addition.Material == nil:
		return quantity.Fraction{}, !l.Addition.Unknown()
	default:
		f, known := l.Addition.Material.FermentableSugar().Get()
		return f, known || l.Role == formula.Spice // a spice without a figure brings too little to matter
	}
}

// fermentable returns the sugar on the meat that every acidifying culture uses,
// the lines that bring it, and the name of a line whose sugar is not known, or
// nothing.
func fermentable(s formula.Sheet) (in Ingoing, lines []fault.Path, unknown string) {
	in.Base = rulebook.MeatBlock
	by, shown := divisorOf(&s, rulebook.MeatBlock)
	terms := make([]term, 0, len(s.Lines))
	for _, l := range s.Lines {
		f, known := sugarOf(l)
		if !known && !l.Range.High.IsZero() {
			unknown = l.Name
		}
		if !f.IsZero() && l.Member != nil {
			lines = append(lines, l.Member)
		}
		terms = append(terms, term{
			content: content{f.Float(), f.Float()}, low: l.Range.Low.Grams(), high: l.Range.High.Grams(), inBase: by.weight(&l),
		})
	}
	if !shown {
		return in, lines, "the pickle"
	}
	k, err := quantity.NewRatio(by.times)
	if err != nil {
		return in, lines, "the pickle"
	}
	low, _ := share(terms, false)
	high, _ := share(terms, true)
	low, _ = low.Times(k)
	high, _ = high.Times(k)
	in.Amount = quantity.Between[quantity.PPM]{Low: low, High: high}
	return in, lines, unknown
}

// cultures judges the dose of each culture against what its label asks for, or
// by its cells.
func (q question) cultures(tell func(finding.Finding)) {
	none := true
	for i := range q.sheet.Lines {
		if l := &q.sheet.Lines[i]; l.Role == formula.Culture {
			f, _ := cultureDose(q.sheet, *l, q.short)
			tell(f)
			none = false
		}
	}
	if none {
		tell(finding.Finding{
			Code: "culture-dose", Status: finding.NotApplicable, Stage: finding.Formula, Authority: finding.Practice,
			Subject: "dose of the culture", Reason: "no culture is added", Source: packDoseSource,
		})
	}
}

// cultureDose judges one culture, and returns the mass of it that the dose it
// is held against asks for. In short it says nothing of a dose that needs no
// attention.
func cultureDose(s formula.Sheet, l formula.Line, short bool) (finding.Finding, quantity.Mass) {
	f := finding.Finding{
		Code: "culture-dose", Stage: finding.Formula, Authority: finding.Practice, Subject: "dose of the culture", Members: [][]string{l.Member},
		Source: packDoseSource,
	}
	if l.Addition.LabelDose == (quantity.PPM{}) && l.Addition.Activity != (quantity.CellCount{}) {
		return cellDose(s, l, f)
	}
	amount := quantity.Between[quantity.PPM]{Low: on(l.Range.Low, s.Meat()), High: on(l.Range.High, s.Meat())}
	limit, printed := packDose, "25 g for 200 kg, a usual dose on a pack"
	labelled := l.Addition.LabelDose != (quantity.PPM{})
	unit := quantity.UnitGramsPerKilogram
	if short && !labelled {
		f.Status = finding.NotShown
		return f, limit.Of(s.Meat())
	}
	if labelled {
		limit = l.Addition.LabelDose
		printed = limit.In(unit).String() + ", from the label as stated"
		f.Source = source.Citation{Title: "The label of the culture, as stated in the question", Trust: source.Read}
	}
	var counts quantity.PPM
	f.Status, counts = compare(rulebook.AtLeast, amount, limit)
	f.Measured = Ingoing{Base: rulebook.MeatBlock, Amount: amount}.figure(counts, unit)
	f.Measured.Basis.Agent, f.Measured.Basis.Species = "culture", ""
	f.Limit = finding.Limit{Comparator: rulebook.AtLeast.String(), Value: limit.In(unit), Printed: printed, Basis: f.Measured.Basis}
	f.Reason = fmt.Sprintf("%s of meat, against %s", f.Measured.Value, printed)
	switch {
	case !labelled:
		f.Status = finding.NotShown
		f.Reason += "; this culture's own label decides: state its dose or its cells"
	case f.Status == finding.Met && l.SpoonSource().Trust == source.Memory:
		f.Status = finding.NotShown
		f.Reason += "; but what a spoonful weighs is known from memory only: weigh it"
	}
	return f, limit.Of(s.Meat())
}

// cellDose judges a culture by the living cells that it brings into a gram of
// the mixture.
func cellDose(s formula.Sheet, l formula.Line, f finding.Finding) (finding.Finding, quantity.Mass) {
	f.Source = cellFloorSource
	basis := finding.Basis{Agent: "culture", Phase: rulebook.Ingoing.String(), Base: rulebook.Batch.String()}
	f.Limit = finding.Limit{Comparator: rulebook.AtLeast.String(), Value: cellFloor.Measure(), Printed: "10^6 CFU/g", Basis: basis}
	low, errLow := cells(l.Addition.Activity, l.Range.Low, s.BatchRange().High)
	high, errHigh := cells(l.Addition.Activity, l.Range.High, s.BatchRange().Low)
	needed, errNeeded := quantity.NewRatio(cellFloor.CFUPerGram() / l.Addition.Activity.CFUPerGram())
	if errLow != nil || errHigh != nil || errNeeded != nil {
		f.Status, f.Reason = finding.NotShown, "the cells can't be counted"
		return f, quantity.Mass{}
	}
	f.Measured = finding.Figure{Value: low.Measure(), Basis: basis}
	if low != high {
		f.Measured.Range = quantity.Between[quantity.Measure]{Low: low.Measure(), High: high.Measure()}
	}
	f.Status = status(low.CFUPerGram() >= cellFloor.CFUPerGram(), high.CFUPerGram() < cellFloor.CFUPerGram())
	f.Reason = fmt.Sprintf("%s in the batch, against the usual target of %s", low, cellFloor)
	switch {
	case f.Status != finding.NotMet:
	case len(l.Addition.Species) > 0 && !slices.ContainsFunc(l.Addition.Species, func(c rulebook.CultureSpecies) bool { return c.Acidifies }):
		f.Reason += ": what it does comes later"
	default:
		f.Reason += ": the acid comes later"
	}
	// The batch grows by what is added of the culture: m + x reaches a share n of
	// the batch B + x at m + x = n (B - m) / (1 - n).
	rest := s.BatchRange().High.Minus(l.Range.High)
	wanted, err := needed.Of(rest).DividedBy(quantity.MustRatio(1 - min(needed.Float(), mostCulture)))
	if err != nil {
		return unverified(f, cellFloorSource), quantity.Mass{}
	}
	return unverified(f, cellFloorSource), wanted
}

// mostCulture is the share of the batch beyond which no culture is dosed.
const mostCulture = 0.5

// cells returns the cells that a mass of a culture brings into a gram of a
// batch.
func cells(activity quantity.CellCount, culture, batch quantity.Mass) (quantity.CellCount, error) {
	part, err := culture.Over(batch)
	if err != nil {
		return quantity.CellCount{}, err
	}
	return activity.Diluted(part)
}

// on returns a mass as a share of the meat.
func on(m, meat quantity.Mass) quantity.PPM {
	r, err := m.Over(meat)
	if err != nil {
		return quantity.PPM{}
	}
	p, err := r.PPM()
	if err != nil {
		return quantity.PPM{}
	}
	return p
}

// dextrose is what a remedy adds where a formula has no sugar.
func dextrose() (material.Material, bool) { return material.ByKey("dextrose-monohydrate") }
