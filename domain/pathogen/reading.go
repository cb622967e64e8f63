package pathogen

import (
	"fmt"
	"slices"
	"strings"

	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Reading is something measured once.
type Reading[T any] struct {
	Value T
	Off   *T // how far off it may be, either way; nil for what is usual
}

// What readings may be off by when that is not stated: common practice, no
// source.
const (
	usualPH       = 0.1
	usualActivity = 0.01
	usualCelsius  = 0.5 // of a thermometer that nobody checked
)

// TemperatureReading is a temperature measured once.
type TemperatureReading struct {
	Value quantity.Temperature
	Off   *quantity.TemperatureDelta // nil for what is usual
}

// Measured is what was measured of a product, or of where it is kept. What was
// not is nil.
type Measured struct {
	PH          *Reading[quantity.PH]
	Activity    *Reading[quantity.WaterActivity]
	Temperature *TemperatureReading
	Stage       finding.Stage // Process or Finish: whether it is done
}

// Notes returns of which organisms nothing is shown, and on each reading of which
// it is not stated how far off it may be, what is assumed. Nothing is returned when
// nothing was measured.
func (m Measured) Notes() []finding.Note {
	if m.empty() {
		return nil
	}
	var without []string
	for _, o := range Organisms() {
		if !slices.ContainsFunc(limits, func(l Limit) bool { return l.Organism == o }) {
			without = append(without, o.Name())
		}
	}
	notes := []finding.Note{{
		Code: "no-limits-of", Text: "Of " + strings.Join(without, " and ") + ", and of others, no limits of growth are known here: what was measured shows nothing of them.",
	}}
	for _, v := range []Variable{Acidity, Activity, Temperature} {
		open := v == Acidity && m.PH != nil && m.PH.Off == nil || v == Activity && m.Activity != nil && m.Activity.Off == nil ||
			v == Temperature && m.Temperature != nil && m.Temperature.Off == nil
		if open {
			s := m.of(v)
			notes = append(notes, finding.Note{
				Code: "uncertainty-assumed", Member: memberOf(v),
				Text:   fmt.Sprintf("The %s is taken to be off by up to %s%s: state what yours is off.", v.name(), short(s.off), s.unit),
				Source: source.CommonPractice("a meter that was calibrated, a thermometer that nobody checked"),
			})
		}
	}
	return notes
}

func (m Measured) empty() bool { return m.PH == nil && m.Activity == nil && m.Temperature == nil }

// span is what a reading may be, in the unit of its limits.
type span struct {
	value, off float64
	known      bool
	unit       string // after the number
}

func (s span) low() float64  { return s.value - s.off }
func (s span) high() float64 { return s.value + s.off }

// text names a reading with what it may be off by.
func (s span) text(name string) string {
	if s.off == 0 {
		return fmt.Sprintf("%s %s%s", name, short(s.value), s.unit)
	}
	return fmt.Sprintf("%s %s%s, which may be %s to %s", name, short(s.value), s.unit, short(s.low()), short(s.high()))
}

func phSpan(r Reading[quantity.PH]) span {
	s := span{value: r.Value.Float(), off: usualPH, known: true}
	if r.Off != nil {
		s.off = r.Off.Float()
	}
	return s
}

// of returns what was measured of a variable.
func (m Measured) of(v Variable) span {
	switch {
	case v == Acidity && m.PH != nil:
		return phSpan(*m.PH)
	case v == Activity && m.Activity != nil:
		s := span{value: m.Activity.Value.Float(), off: usualActivity, known: true}
		if m.Activity.Off != nil {
			s.off = m.Activity.Off.Float()
		}
		return s
	case v == Temperature && m.Temperature != nil:
		s := span{value: m.Temperature.Value.Celsius(), off: usualCelsius, known: true, unit: " °C"}
		if m.Temperature.Off != nil {
			s.off = m.Temperature.Off.CelsiusDegrees()
		}
		return s
	default:
		return span{}
	}
}

// hold returns whether a reading is on the side of a bound: met with all that it
// may be off, not met when it is on the other side with all of that, near in
// between and on a limit that must not be reached, not shown when there is no
// reading.
func (b Bound) hold(s span) finding.Status {
	if !s.known {
		return finding.NotShown
	}
	const rounding = 1e-9
	sign := 1.0 // turns a bound from above into one from below
	low, high := s.low(), s.high()
	if b.Comparator == rulebook.Above || b.Comparator == rulebook.AtLeast {
		sign, low, high = -1, -high, -low
	}
	limit := sign * b.Limit.Value()
	begins := limit
	if !b.Begins.IsZero() {
		begins = sign * b.Begins.Value()
	}
	open := b.Comparator == rulebook.Below || b.Comparator == rulebook.Above
	switch {
	case high < limit-rounding, !open && high <= limit+rounding:
		return finding.Met
	case low > begins+rounding:
		return finding.NotMet
	default:
		return finding.Near
	}
}
