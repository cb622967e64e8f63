package fermentation

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Course is how a fermentation went so far: the temperatures of the chamber,
// either as steps or as a log, and the pH that was read. Time counts from the
// start, where the temperatures begin.
//
// Violations name the members by these paths: `steps/0/temperature`,
// `steps/0/hours`, `log/3/at`, `log/3/temperature`, `ph_readings/1/at`,
// `ph_readings/1/ph`, `longest_gap`, `clock_start`, `stated_end`,
// `thermometer_uncertainty`, `planned_temperature`, and `steps` or `log` for the
// whole of either.
type Course struct {
	Steps []Step    // temperatures held, one after the other; without Log
	Log   []Reading // what a thermometer read, at least twice, the first time at 0; without Steps

	// Held says that each reading of Log holds until the next one, as with a
	// thermometer that reports changes only. Otherwise the readings are joined by
	// straight lines.
	Held bool

	// LongestGap is the longest time between two readings of Log for which the
	// temperature is known. Over a longer one the hotter of both counts all the time,
	// and no rule is met. Zero for DefaultLongestGap.
	LongestGap time.Duration

	PHReadings []PHReading // in order; before the start is allowed

	// ClockStart is when the time that counts begins, such as at stuffing, where that
	// came later than the first temperature.
	ClockStart time.Duration

	// StatedEnd is when pH 5.3 is said to have been reached without having been
	// read: an estimate, which changes no result. nil for none.
	StatedEnd *time.Duration

	// Thermometer is how far off the thermometer may be, either way and all the
	// time; nil for DefaultThermometer.
	Thermometer *quantity.TemperatureDelta

	Planned  quantity.Temperature  // how warm the chamber is to be from now on; zero when nothing is planned
	Rulebook rulebook.Jurisdiction // whose guidance decides; zero for nobody's in particular
}

// Step is a temperature that the chamber is held at.
type Step struct {
	Temperature quantity.Temperature
	Span        time.Duration
}

// Reading is the temperature of the chamber at a time from the start.
type Reading struct {
	At          time.Duration
	Temperature quantity.Temperature
}

// PHReading is a pH of the sausage at a time from the start; of several pieces
// the highest.
type PHReading struct {
	At     time.Duration
	PH     quantity.PH
	Within quantity.Between[quantity.PH] // both ends of what it may be; the zero value for a reading taken as exact
}

// ends returns both ends of what the pH may be.
func (r PHReading) ends() quantity.Between[quantity.PH] {
	if r.Within == (quantity.Between[quantity.PH]{}) {
		return quantity.Exactly(r.PH)
	}
	return r.Within
}

// DefaultThermometer is how far off a household thermometer may be when nobody
// checked it: 0.5 °C. Common practice, no source.
func DefaultThermometer() quantity.TemperatureDelta { return quantity.MustCelsiusDegrees(0.5) }

// DefaultLongestGap is how long a thermometer that keeps a log may be silent
// before it is not known how warm the chamber was: an hour, and a quarter for one
// that is late. A chamber follows its heater within an hour, so that a silence
// must be about as short; what the hottest chamber would hide in this one is 55 °C h,
// a twelfth of the limit. A chamber that is read by a person, twice a day, is to
// be asked about with a longer gap on purpose. Choice of this project.
const DefaultLongestGap = 75 * time.Minute

// LongestCourse is how far from its start a course may reach, either way: no
// fermentation lasts a year. Choice of this project.
const LongestCourse = 366 * 24 * time.Hour

// What a course may hold. The bounds keep out slips of unit and of the pen:
// 400 °F is an oven, and pH 0 a forgotten figure.
// Choices of this project.
const (
	coldestChamber      = -10.0 // °C
	hottestChamber      = 60.0  // °C
	worstThermometer    = 10.0  // °C
	lowestPH, highestPH = 3.5, 8.5
)

// ChamberRange returns the coldest and the hottest that a course takes a chamber
// to be.
func ChamberRange() quantity.Between[quantity.Temperature] {
	return quantity.Between[quantity.Temperature]{Low: quantity.MustCelsius(coldestChamber), High: quantity.MustCelsius(hottestChamber)}
}

// PHRange returns the lowest and the highest that a course takes the pH of meat
// to be.
func PHRange() quantity.Between[quantity.PH] {
	return quantity.Between[quantity.PH]{Low: quantity.MustPH(lowestPH), High: quantity.MustPH(highestPH)}
}

// WorstThermometer returns how far off a thermometer may be that a course still
// takes.
func WorstThermometer() quantity.TemperatureDelta {
	return quantity.MustCelsiusDegrees(worstThermometer)
}

// thermometer returns how far off the thermometer may be.
func (c Course) thermometer() quantity.TemperatureDelta {
	if c.Thermometer == nil {
		return DefaultThermometer()
	}
	return *c.Thermometer
}

// longestGap returns the longest time between two readings that is no gap.
func (c Course) longestGap() time.Duration {
	if c.LongestGap == 0 {
		return DefaultLongestGap
	}
	return c.LongestGap
}

// read returns the temperatures and the pH readings of the course, each instant
// once; fault.Invalid with every violation.
func (c Course) read() (history, []phReading, error) {
	var bad fault.Collector
	h := history{steps: c.Steps, log: c.Log, held: c.Held, gap: c.longestGap()}
	switch {
	case len(c.Steps) > 0 && len(c.Log) > 0:
		bad.Add(fault.At("log"), "two-histories", "give the temperatures as steps or as a log, not as both")
	case len(c.Steps) > 0:
		h.end, h.last = c.readSteps(&bad)
	case len(c.Log) > 0:
		h.end, h.last = c.readLog(&bad)
	default:
		bad.Add(nil, "no-history", "the temperatures of the chamber are missing: give steps, or a log of at least two readings")
	}
	ph := c.readPH(&bad)
	c.readClock(&bad, h.end)
	if c.LongestGap < 0 {
		bad.Add(fault.At("longest_gap"), "out-of-range", "the longest time between two readings can't be less than nothing, got %s", Hours(c.LongestGap))
	}
	if d := c.thermometer().CelsiusDegrees(); d < 0 || d > worstThermometer {
		bad.Add(fault.At("thermometer_uncertainty"), "out-of-range", "the thermometer's uncertainty must be from 0 to %s °C, got %s °C",
			number(worstThermometer), number(d))
	}
	if !c.Planned.IsZero() {
		checkChamber(&bad, c.Planned, func() fault.Path { return fault.At("planned_temperature") })
	}
	return h, ph, bad.Err("invalid-value", "the question has no meaning as it stands")
}

// readSteps returns where the steps end, laid end to end, and the last of them.
func (c Course) readSteps(bad *fault.Collector) (end time.Duration, last quantity.Temperature) {
	for i, s := range c.Steps {
		checkChamber(bad, s.Temperature, func() fault.Path { return fault.At("steps", i, "temperature") })
		switch {
		case s.Span <= 0:
			bad.Add(fault.At("steps", i, "hours"), "out-of-range", "a step must last some time, got %s", Hours(s.Span))
			continue
		case s.Span > LongestCourse-end:
			bad.Add(fault.At("steps", i, "hours"), "out-of-range", "the steps must not last longer than %s together", Hours(LongestCourse))
			return end, last
		}
		end += s.Span
		last = s.Temperature
	}
	return end, last
}

// readLog returns the last reading, and when it was.
func (c Course) readLog(bad *fault.Collector) (end time.Duration, temperature quantity.Temperature) {
	last, apart := c.Log[0], false
	for i, r := range c.Log {
		checkChamber(bad, r.Temperature, func() fault.Path { return fault.At("log", i, "temperature") })
		at := func() fault.Path { return fault.At("log", i, "at") }
		if i == 0 && r.At != 0 {
			bad.Add(at(), "not-at-start", "time counts from the first reading, so that it is at 0 h; got %s", Hours(r.At))
		}
		checkTime(bad, r.At, last.At, at)
		if r.At == last.At && r.Temperature != last.Temperature && r.Temperature.Compare(last.Temperature) != 0 {
			bad.Add(at(), "duplicate", "there is another reading at %s, and they differ: %s and %s",
				Hours(r.At), chamber(last.Temperature), chamber(r.Temperature))
		}
		apart = apart || r.At > last.At
		last = r
	}
	if !apart {
		bad.Add(fault.At("log"), "no-history", "a log needs readings at two times at least: what the chamber was at after a single one is not known")
	}
	return last.At, last.Temperature
}

// readClock checks the start and the stated end of the clock.
func (c Course) readClock(bad *fault.Collector, end time.Duration) {
	if c.ClockStart < 0 || end > 0 && c.ClockStart >= end {
		bad.Add(fault.At("clock_start"), "out-of-range", "the clock can start only while temperatures are known, from 0 h to before %s; got %s",
			Hours(end), Hours(c.ClockStart))
	}
	switch s := c.StatedEnd; {
	case s == nil:
	case *s > LongestCourse:
		bad.Add(fault.At("stated_end"), "out-of-range", "a time must be within %s of the start", Hours(LongestCourse))
	case *s < c.ClockStart:
		bad.Add(fault.At("stated_end"), "out-of-range", "the clock can't end before it starts, at %s; got %s", Hours(c.ClockStart), Hours(*s))
	}
}

// phReading is a pH reading with its place among those of the course.
type phReading struct {
	PHReading
	index int
}

// readPH returns the pH readings, each instant once.
func (c Course) readPH(bad *fault.Collector) []phReading {
	var ph []phReading
	for i, r := range c.PHReadings {
		at := fault.At("ph_readings", i, "at")
		value := fault.At("ph_readings", i, "ph")
		ends := r.ends()
		switch {
		case r.PH.Float() < lowestPH || r.PH.Float() > highestPH:
			bad.Add(value, "out-of-range", "the pH of meat is from %s to %s, got %s", number(lowestPH), number(highestPH), number(r.PH.Float()))
		case ends.Low.Compare(r.PH) > 0 || ends.High.Compare(r.PH) < 0:
			bad.Add(value, "out-of-range", "the reading must lie between its ends, got %s between %s and %s", r.PH, ends.Low, ends.High)
		}
		last := PHReading{At: -LongestCourse}
		if len(ph) > 0 {
			last = ph[len(ph)-1].PHReading
		}
		checkTime(bad, r.At, last.At, func() fault.Path { return at })
		if len(ph) > 0 && r.At == last.At {
			if r.PH != last.PH || ends != last.ends() {
				bad.Add(at, "duplicate", "there is another reading at %s, and they differ: %s and %s; of several pieces give the highest",
					Hours(r.At), last.PH, r.PH)
			}
			continue
		}
		ph = append(ph, phReading{r, i})
	}
	return ph
}

// checkTime records a time that is before the one that it follows, or beyond
// every fermentation. The path is made only for a wrong one, here and below: a log
// may have half a million readings.
func checkTime(bad *fault.Collector, at, last time.Duration, path func() fault.Path) {
	switch {
	case at > LongestCourse || at < -LongestCourse:
		bad.Add(path(), "out-of-range", "a time must be within %s of the start", Hours(LongestCourse))
	case at < last:
		bad.Add(path(), "out-of-order", "readings must follow each other in time: %s comes after %s", Hours(at), Hours(last))
	}
}

// checkChamber records a temperature that no fermentation chamber has.
func checkChamber(bad *fault.Collector, t quantity.Temperature, path func() fault.Path) {
	switch c := t.Celsius(); {
	case t.IsZero():
		bad.Add(path(), "missing", "the temperature is missing")
	case c < coldestChamber || c > hottestChamber:
		bad.Add(path(), "out-of-range", "a fermentation chamber is from %s to %s °C, got %s: a slip of the unit, or an oven",
			number(coldestChamber), number(hottestChamber), chamber(t))
	}
}

// chamber prints a temperature in both scales.
func chamber(t quantity.Temperature) string {
	return fmt.Sprintf("%s °C (%s °F)", number(t.Celsius()), number(t.Fahrenheit()))
}

// Hours prints a time in hours, to a tenth.
func Hours(d time.Duration) string {
	return strconv.FormatFloat(math.Round(d.Hours()*10)/10+0, 'f', -1, 64) + " h"
}

// HoursAtMost prints a time in hours that must not be overrun: cut off to a
// tenth.
func HoursAtMost(d time.Duration) string {
	return strconv.FormatFloat(math.Floor(d.Hours()*10+1e-9)/10+0, 'f', -1, 64) + " h"
}

// number prints at most two decimals.
func number(v float64) string {
	return strconv.FormatFloat(math.Round(v*100)/100+0, 'f', -1, 64)
}
