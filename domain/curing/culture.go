package curing

import (
	"fmt"
	"time"

	"greenweight/domain/acidity"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// acidifies reports whether a culture of the formula may make acid: one does of
// which no species is stated.
func (q question) acidifies() bool {
	return acidity.SournessOf(&q.sheet).Sours()
}

// anyCulture reports whether a species of a culture is what is wanted; a culture
// whose species are not stated counts as unstated.
func (q question) anyCulture(wanted func(rulebook.CultureSpecies) bool, unstated bool) bool {
	for i := range q.sheet.Lines {
		l := &q.sheet.Lines[i]
		if l.Role != formula.Culture || l.Addition == nil || l.Range.High.IsZero() {
			continue
		}
		if len(l.Addition.Species) == 0 && unstated {
			return true
		}
		for _, s := range l.Addition.Species {
			if wanted(s) {
				return true
			}
		}
	}
	return false
}

// leastRipening is the least ripening of dry sausage that may be made with
// nitrate alone in the European Union.
const leastRipening = 21 * 24 * time.Hour

// nitrateAlone cites what is asked of products made with nitrate alone.
func nitrateAlone() source.Citation {
	return source.Citation{
		Title: "Regulation (EC) No 1333/2008 on food additives, consolidated text of 18 August 2026", Year: 2026,
		Section: "Annex II, part E, category 08.3.4.3, notes (40) (59)", Trust: source.Read,
		Note: "what it asks of named dry sausages made with nitrate and no nitrite: at least 3 weeks of ripening, of some 4 weeks or 30 days; taken here for what nitrate needs, which the text does not say",
	}
}

// reduction judges that nitrate becomes nitrite: by bacteria, in time. It
// reports false when no nitrate is added.
func (q question) reduction() (finding.Finding, bool) {
	if !q.has(rulebook.Nitrate) {
		return finding.Finding{}, false
	}
	f := finding.Finding{
		Code: "nitrate-reduction", Stage: finding.Process, Authority: finding.Practice, Status: finding.NotShown,
		Subject: "nitrate turned into nitrite, by bacteria and in time", Members: members(bringing(q.sheet, rulebook.Nitrate)),
		Source: source.CommonPractice("nitrate does nothing until staphylococci or kocuriae have made nitrite of it, which takes weeks and stops in acid"),
	}
	reduces := func(s rulebook.CultureSpecies) bool { return s.Reduces }
	named, open := q.anyCulture(reduces, false), q.anyCulture(reduces, true)
	alone := !q.has(rulebook.Nitrite)
	planned, known := q.formula.Plan.Span()
	switch {
	case alone && q.rawSausage() && known && planned < leastRipening:
		f.Status, f.Source = finding.NotMet, nitrateAlone()
		f.Reason = fmt.Sprintf("nitrate is the only cure and the plan has %.3g days in all, less than the 21 that the shortest of the sausages allowed to be made so has to ripen",
			planned.Hours()/24)
		f.Remedy = "Use a cure that brings nitrite, or plan a longer ripening."
	case alone && q.rawSausage() && !open:
		f.Status = finding.NotMet
		f.Reason = "nitrate is the only cure, and no culture is added of a species that reduces it; what the meat brings of such bacteria is left to chance"
		f.Remedy = "Add a culture of a species that reduces nitrate (see /v1/reference/cultures), or use a cure that brings nitrite."
	case named:
		f.Reason = "a species that reduces nitrate is added; how much it reduces, and when, a formula does not show"
	case open:
		f.Reason = "the species of the culture are not stated: name them to show whether any reduces nitrate"
	default:
		f.Reason = "no species that reduces nitrate is added; what the meat brings of such bacteria, a formula does not show"
	}
	return f, true
}

// warmth judges each stated species of a culture in the temperatures of the
// planned fermentation; none where nothing is stated of either.
func (q question) warmth() []finding.Finding {
	var found []finding.Finding
	for i := range q.sheet.Lines {
		l := &q.sheet.Lines[i]
		if l.Role != formula.Culture || l.Addition == nil {
			continue
		}
		for _, s := range l.Addition.Species {
			f, step, stated := CultureWarmth(s, q.formula.Plan.Fermentation)
			if !stated {
				continue
			}
			f.Members = [][]string{l.Member}
			if step >= 0 {
				f.Members = append(f.Members, fault.At("plan", "fermentation", step, "temperature"))
			}
			found = append(found, f)
		}
	}
	return found
}

// CultureWarmth finds the worst of the steps of a fermentation for a species: too
// cold or too warm for it to grow by every text, or by some. It returns which step
// that is, -1 when all are within the range, and false where no temperature is
// stated. The finding names no members.
func CultureWarmth(s rulebook.CultureSpecies, steps []formula.Step) (f finding.Finding, at int, stated bool) {
	f = finding.Finding{
		Code: "culture-temperature", Stage: finding.Process, Authority: finding.Practice, Status: finding.NotShown,
		Subject: "temperatures of the planned fermentation, for " + s.Name, Source: s.Source,
	}
	worst := 0
	at = -1
	for i, step := range steps {
		t, known := step.Temperature.Get()
		if !known {
			continue
		}
		stated = true
		out, beyond, said := 0, s.Least, ""
		switch {
		case t.Compare(s.Least.Low) < 0:
			out, said = 2, fmt.Sprintf("%s is colder than the %s from which %s grows", t, s.Least.Low, s.Name)
		case s.Most.High.Compare(t) < 0:
			out, beyond, said = 2, s.Most, fmt.Sprintf("%s is warmer than the %s up to which %s grows", t, s.Most.High, s.Name)
		case t.Compare(s.Least.High) < 0:
			out, said = 1, fmt.Sprintf("%s is where %s stops growing in the cold, by some texts (%s to %s)", t, s.Name, s.Least.Low, s.Least.High)
		case s.Most.Low.Compare(t) < 0:
			out, beyond, said = 1, s.Most, fmt.Sprintf("%s is where %s stops growing in the heat, by some texts (%s to %s)", t, s.Name, s.Most.Low, s.Most.High)
		}
		if out <= worst {
			continue
		}
		worst, at, f.Reason = out, i, said
		f.Measured = finding.Figure{Value: t.In(quantity.UnitDegC)}
		f.Limit = finding.Limit{Comparator: rulebook.AtLeast.String(), Value: beyond.Low.In(quantity.UnitDegC)}
		if beyond == s.Most {
			f.Limit = finding.Limit{Comparator: rulebook.AtMost.String(), Value: beyond.High.In(quantity.UnitDegC)}
		}
		f.Limit.Printed = beyond.Low.String()
		if beyond.Low != beyond.High {
			f.Limit.Printed = fmt.Sprintf("%s to %s", beyond.Low, beyond.High)
		}
	}
	switch worst {
	case 2:
		f.Status, f.Remedy = finding.NotMet, "Ferment within its range, or choose a culture for this temperature (see /v1/reference/cultures)."
	case 1:
		f.Status, f.Remedy = finding.Near, "Ferment within its range, or choose a culture for this temperature (see /v1/reference/cultures)."
	default:
		f.Reason = fmt.Sprintf("all planned temperatures are within the range of %s; the culture's own label decides, and the ranges are not verified", s.Name)
	}
	return f, at, stated
}
