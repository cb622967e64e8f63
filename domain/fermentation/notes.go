package fermentation

import (
	"fmt"
	"math"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// notes returns what is to be known beside the findings.
func (e *Exposure) notes(c Course, h history, ph []phReading) []finding.Note {
	var notes []finding.Note
	if e.failed() {
		notes = append(notes, FailedLot()...)
	}
	notes = append(notes, e.gapNotes(c)...)
	notes = append(notes, e.spike(c)...)
	notes = append(notes, e.disagreement()...)
	notes = append(notes, e.guidanceOnly(c)...)
	notes = append(notes, e.statedEnd()...)
	notes = append(notes, e.coolAndLong()...)
	notes = append(notes, e.phNotes(ph)...)
	notes = append(notes, e.usualAdvice(h)...)
	if c.Thermometer == nil {
		notes = append(notes, finding.Note{
			Code: "thermometer-assumed", Member: []string{"thermometer_uncertainty"},
			Text:   fmt.Sprintf("The thermometer is taken to be off by up to %s: state what yours is off.", DefaultThermometer()),
			Source: source.CommonPractice("a household thermometer that nobody checked"),
		})
	}
	return append(notes, scope())
}

// scope says what degree-hours are about.
func scope() finding.Note {
	return finding.Note{
		Code: "one-organism",
		Text: "Degree-hours are about Staphylococcus aureus and its toxin. They show nothing of Escherichia coli, Salmonella, Listeria or parasites.",
		Source: source.Citation{
			Title: "Scope of the rules on degree-hours", Trust: source.Derived, Note: "they are written for Staphylococcus aureus",
		},
	}
}

// failed reports whether a limit that is to be kept is exceeded.
func (e *Exposure) failed() bool {
	for _, s := range e.Counting() {
		if s.exceeded() {
			return true
		}
	}
	return false
}

// FailedLot returns what is to be done with a lot whose degree-hours exceed the
// limit. It never becomes a matter of cooking: the toxin survives heat. The
// authority decides.
func FailedLot() []finding.Note {
	manual := func(trust source.Trust, note string) source.Citation {
		return source.Citation{
			Title:   "Canadian Food Inspection Agency, Meat Hygiene Manual of Procedures, chapter 4 (archived)",
			Section: "4.16.2.1.2", Trust: trust, Note: note,
		}
	}
	const recalled = "recalled, not read: verify before relying on it"
	return []finding.Note{
		{
			Code: "failed-notify", Text: "Hold the lot and notify the authority, whatever the excess: it decides what becomes of the lot.",
			Source: manual(source.ReadSecondary, "the duty to notify, as read in copies of the archived page"),
		},
		{
			Code: "failed-sample",
			Text: "After drying, have a laboratory look for Staphylococcus aureus and its enterotoxin, and for Escherichia coli O157:H7, Salmonella, " +
				"Clostridium botulinum and Listeria monocytogenes. Samples are to be of the outer layer: Staphylococcus aureus grows where there is air.",
			Source: manual(source.Memory, recalled),
		},
		{
			Code: "failed-few", Text: "With less than 10^4 CFU/g of Staphylococcus aureus, no enterotoxin and no pathogen, Canada's archived manual let the authority release " +
				"such a lot to be kept refrigerated. That is recalled, shows nothing here, and is the authority's to decide.",
			Source: manual(source.Memory, recalled),
		},
		{
			Code: "failed-many",
			Text: "With 10^4 CFU/g of Staphylococcus aureus or more but no enterotoxin, or with a pathogen, the same manual left only a product cooked so that every " +
				"pathogen in it is killed, if the authority agrees.",
			Source: manual(source.Memory, recalled),
		},
		{
			Code: "failed-toxin", Text: "With enterotoxin it must be destroyed.",
			Source: manual(source.Memory, recalled),
		},
		{
			Code: "failed-cooking", Text: "Cooking alone never rescues such a lot: the enterotoxin survives it, so a laboratory comes first. Without a laboratory, discard it.",
			Source: manual(source.Memory, recalled+"; to discard it without a laboratory is this project's conclusion"),
		},
	}
}

// disagreement says that the rules come to different results.
func (e *Exposure) disagreement() []finding.Note {
	var texts []string
	differ := false
	for i, s := range e.Sums {
		differ = differ || e.Findings[i].Status != e.Findings[0].Status
		texts = append(texts, fmt.Sprintf("%s is %s: %s, limit %s for a highest temperature of %s.",
			s.Set.ID, e.Findings[i].Status, s.in(s.DegreeHours), s.Class.Printed, s.Class.Highest))
	}
	if !differ {
		return nil
	}
	decides := "Neither decides here; the stricter, " + e.Stricter + ", is the caution."
	if e.Deciding != "" {
		decides = e.Deciding + " decides here; the other is a caution."
	}
	return []finding.Note{{
		Code: "rules-disagree",
		Text: strings.Join(append(texts, decides), " "),
		Source: source.Citation{
			Title: "Comparison of both rules on degree-hours", Trust: source.Derived,
			Note: "their classes do not begin at the same temperatures: 90 °F is 32.2 °C, and 100 °F is 37.8 °C; nor are their limits the same",
		},
	}}
}

// guidanceOnly says that the rulebook asked for has no rule of its own.
func (e *Exposure) guidanceOnly(c Course) []finding.Note {
	if e.Deciding != "" {
		return nil
	}
	where := "No rulebook was asked for, so that neither rule decides"
	if c.Rulebook != 0 {
		where = fmt.Sprintf("The rulebook %s has no rule on degree-hours of its own, so that neither decides", c.Rulebook)
	}
	return []finding.Note{{
		Code: "guidance-only", Member: fault.At("rulebook"),
		Text: where + ": both are guidance, of the United States and of Canada, and the one that came out worse is the caution. What is asked for where you are " +
			"the authority says.",
		Source: source.Citation{Title: "Scope of the rules on degree-hours", Trust: source.Derived, Note: "each is the guidance of one country"},
	}}
}

// statedEnd says what an end of the clock that was not read is worth.
func (e *Exposure) statedEnd() []finding.Note {
	if e.Clock.Stated == nil {
		return nil
	}
	text := fmt.Sprintf("That pH 5.3 was reached at %s is stated, and was not read then: an estimate, which ends no clock and changes no result.", Hours(*e.Clock.Stated))
	var sums []string
	for _, s := range e.Sums {
		if s.Stated != nil {
			sums = append(sums, s.in(*s.Stated).String())
		}
	}
	if len(sums) > 0 {
		text += " Until then the sums would be " + strings.Join(sums, " and ") + "."
	}
	return []finding.Note{{
		Code: "end-stated", Member: fault.At("stated_end"), Text: text,
		Source: source.Citation{Title: "Choice of this project", Trust: source.Derived, Note: "the rules count until a pH of 5.3 is reached, and only a reading shows that"},
	}}
}

// What counts as long and cool. At 18 °C the limit lets Staphylococcus aureus
// grow 29 by the index of the note, against 20 to 22 at 20 to 32 °C: it comes to
// 22 after 22/29 of the 277 h that the Celsius rule gives, 210 h.
const longAndCool = 200 * time.Hour

var coolest = quantity.MustCelsius(18)

// coolAndLong says that just above the base the rule is weak.
func (e *Exposure) coolAndLong() []finding.Note {
	for _, s := range e.Sums {
		if s.AboveBase >= longAndCool && s.Highest.Compare(coolest) <= 0 {
			return []finding.Note{{
				Code: "cool-and-long",
				Text: fmt.Sprintf("%s above the base at no more than %s: so close above it the rule is weak. Counted as growth of Staphylococcus aureus, "+
					"what it allows at 16 to 18 °C is more than at 20 to 32 °C; pH, water activity, nitrite and the culture must carry it. The index of growth "+
					"is %s here, and %s to %s where the limit is reached at 20 to 32 °C.", Hours(s.AboveBase), degrees(s.Set, s.Highest),
					number(math.Round(e.Growth.Index.Float())), number(e.Growth.Usual.Low.Float()), number(e.Growth.Usual.High.Float())),
				Source: e.Growth.Source,
			}}
		}
	}
	return nil
}

// phNotes says what is odd about the pH readings.
func (e *Exposure) phNotes(ph []phReading) []finding.Note {
	if !e.Clock.Ended() {
		return nil
	}
	var notes []finding.Note
	if e.Clock.End == e.Clock.Start {
		notes = append(notes, finding.Note{
			Code: "acid-at-start", Member: []string{"ph_readings"},
			Text: "The pH was 5.3 or below when the clock starts, so that nothing counts. Raw meat is usually at 5.5 to 6.0: check the meter, " +
				"unless an acid was added.",
			Source: source.CommonPractice("pH of raw meat"),
		})
	}
	target := e.Sums[0].Set.TargetPH
	for _, r := range ph {
		if r.index > e.Clock.Reading && !atOrBelow(r.PH, target) {
			notes = append(notes, finding.Note{
				Code: "ph-rose", Member: []string{"ph_readings"},
				Text: fmt.Sprintf("%s at %s is above 5.3 again. Degree-hours end with the first reading at or below it; a rise in ripening does not reopen them.",
					r.PH, Hours(r.At)),
				Source: e.Sums[0].Set.Source,
			})
			break
		}
	}
	return notes
}

// The usual advice for fermenting: common practice, no source.
const (
	adviceCold, adviceWarm = 65, 85 // °F
	adviceShort            = 48 * time.Hour
	adviceLong             = 72 * time.Hour
)

// usualAdvice says where the usual advice does not keep the Fahrenheit rule, when
// the fermentation is of that kind or that rule decides.
func (e *Exposure) usualAdvice(h history) []finding.Note {
	set, ok := rulebook.DegreeHourSetFor(rulebook.UnitedStates)
	cold, warm := quantity.MustFahrenheit(adviceCold), quantity.MustFahrenheit(adviceWarm)
	if !ok || e.Deciding != set.ID && !passes(h, e.Clock, cold, warm) {
		return nil
	}
	texts := []string{fmt.Sprintf("The usual advice of %s to %s at %d to %d °F, mostly 50 to 60 h, to pH 5.0 to 5.3, does not keep the limit "+
		"over all of its range: %s at %d °F come to %s.", Hours(adviceShort), Hours(adviceLong), adviceCold, adviceWarm,
		Hours(adviceLong), adviceWarm, warm.Minus(set.Base).For(adviceLong).In(set.Scale.DegreeHourUnit()))}
	for t := adviceWarm; t > adviceCold; t -= 5 {
		if l := LongestAt(set, quantity.MustFahrenheit(float64(t))); l.Time != nil {
			texts = append(texts, fmt.Sprintf("At %s the limit is reached in %s.", chamberFahrenheit(l.Temperature), HoursAtMost(*l.Time)))
		}
	}
	return []finding.Note{{Code: "usual-advice", Text: strings.Join(texts, " "), Source: source.CommonPractice("the advice; the times are computed from the rule " + set.ID)}}
}

// passes reports whether a chamber was within a range of temperatures while the
// clock ran.
func passes(h history, clock Clock, cold, warm quantity.Temperature) bool {
	for p := range h.pieces(clock.Start, clock.Counted) {
		if warmer(p.start, p.end).Compare(cold) >= 0 && (p.start.Compare(warm) <= 0 || p.end.Compare(warm) <= 0) {
			return true
		}
	}
	return false
}

// chamberFahrenheit prints a temperature in both scales, °F first.
func chamberFahrenheit(t quantity.Temperature) string {
	return fmt.Sprintf("%s °F (%.1f °C)", number(t.Fahrenheit()), t.Celsius())
}
