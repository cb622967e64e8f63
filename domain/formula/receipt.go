package formula

import (
	"fmt"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Receipt is what was measured of a meat when it came in.
type Receipt struct {
	Temperature material.Known[quantity.Temperature]
	PH          material.Known[quantity.PH]
}

// What meat may be when it comes in.
var (
	warmestMeat    = quantity.MustCelsius(7)
	warmestPoultry = quantity.MustCelsius(4)
	coldRoom       = quantity.MustFahrenheit(40)
	watchPH        = quantity.MustPH(5.8)
	unfitPH        = quantity.MustPH(6)

	meatSource = source.Citation{
		Title: "Regulation (EC) No 853/2004", Section: "annex III, section I, chapter VII, points 1 and 3", Trust: source.ReadSecondary,
		Note: "read as quoted: not more than 7 °C throughout the meat (3 °C for offal), before it is carried and while it is",
	}
	poultrySource = source.Citation{
		Title: "Regulation (EC) No 853/2004", Section: "annex III, section II", Trust: source.Memory, Note: "recalled, not read: 4 °C for poultry",
	}
	coldRoomSource = source.Citation{
		Title: "Food Safety and Inspection Service (United States), advice on keeping meat cold", Trust: source.Memory,
		Note: "recalled: bacteria grow fast between 40 and 140 °F",
	}
)

// JudgeReceipt holds what was measured of each part when it came in against what
// it may be: how warm by the rules of the European Union, kept in Great Britain,
// and by advice of the United States, as far as their rulebooks are asked for and
// by both when neither is; and its pH by what the trade holds to. Nothing is found
// of a part of which nothing was measured.
func (f Formula) JudgeReceipt(asked ...rulebook.Jurisdiction) []finding.Finding {
	var found []finding.Finding
	for i, p := range f.Parts {
		if t, ok := p.Received.Temperature.Get(); ok {
			at := fault.At("parts", i, "received", "temperature")
			var judged []finding.Finding
			for _, j := range asked {
				switch j {
				case rulebook.EuropeanUnion, rulebook.GreatBritain:
					judged = append(judged, receivedByLaw(p, at, t, j.String()))
				case rulebook.UnitedStates:
					judged = append(judged, receivedByAdvice(p, at, t, j.String()))
				default:
				}
			}
			if len(judged) == 0 {
				judged = []finding.Finding{receivedByLaw(p, at, t, ""), receivedByAdvice(p, at, t, "")}
			}
			found = append(found, judged...)
		}
		if ph, ok := p.Received.PH.Get(); ok {
			found = append(found, rawPH(p, fault.At("parts", i, "received", "ph"), ph))
		}
	}
	return found
}

func receivedByAdvice(p Part, at fault.Path, t quantity.Temperature, by string) finding.Finding {
	f := finding.Finding{Code: "received-cold", Rulebook: by, Authority: finding.Guidance, Source: coldRoomSource}
	return received(p, at, t, f, coldRoom, "40 °F (4.4 °C)")
}

func receivedByLaw(p Part, at fault.Path, t quantity.Temperature, by string) finding.Finding {
	f := finding.Finding{Code: "received-temperature", Rulebook: by, Authority: finding.Law, Source: meatSource}
	if p.Material.Group == material.PoultryMeat {
		f.Source = poultrySource
		return received(p, at, t, f, warmestPoultry, "4 °C")
	}
	return received(p, at, t, f, warmestMeat, "7 °C")
}

func received(p Part, at fault.Path, t quantity.Temperature, f finding.Finding, most quantity.Temperature, printed string) finding.Finding {
	f.Stage, f.Subject, f.Members = finding.Process, "temperature of "+p.Name+" when it came in", [][]string{at}
	f.Measured = finding.Figure{Value: t.In(quantity.UnitDegC)}
	f.Limit = finding.Limit{Comparator: "<=", Value: most.In(quantity.UnitDegC), Printed: printed}
	f.Status, f.Reason = finding.Met, fmt.Sprintf("%s when it came in, against at most %s", t, printed)
	switch {
	case t.Compare(most) > 0:
		f.Status = finding.NotMet
		f.Remedy = fmt.Sprintf("Refuse it, or ask how long it was warmer than %s; chill what is kept to that at once.", printed)
	case f.Source.Trust == source.Memory:
		f.Status = finding.NotShown
		f.Reason += "; but the limit is known from memory only, so this shows nothing"
	}
	return f
}

// rawPH judges the pH of a raw meat: one that is high binds water, sours late
// and spoils early.
func rawPH(p Part, at fault.Path, ph quantity.PH) finding.Finding {
	f := finding.Finding{
		Code: "raw-ph", Stage: finding.Process, Authority: finding.Practice, Subject: "pH of raw " + p.Name, Members: [][]string{at},
		Measured: finding.Figure{Value: ph.Measure()}, Limit: finding.Limit{Comparator: "<", Value: watchPH.Measure(), Printed: "below 5.8; 6.0 and above is unfit"},
		Source: source.CommonPractice("meat of pH 6.0 and above is not dried raw; 5.8 to 6.0 is watched"),
	}
	switch {
	case ph.Compare(unfitPH) >= 0:
		f.Status, f.Reason = finding.NotMet, fmt.Sprintf("%s: dark, firm meat that gives off its water badly, sours late and spoils early; the trade does not dry it raw", ph)
		f.Remedy = "Take meat of a pH below 5.8, and cook this."
		f.Limit.Value = unfitPH.Measure()
	case ph.Compare(watchPH) >= 0:
		f.Status, f.Reason = finding.Near, fmt.Sprintf("%s is on the high side: the pH has further to fall", ph)
		f.Remedy = "Mix it with meat of a pH below 5.8, or watch the acid more closely."
	default:
		f.Status, f.Reason = finding.NotShown, fmt.Sprintf("%s, below 5.8 as wanted; but that is common practice and no verified limit, so this shows nothing", ph)
	}
	return f
}
