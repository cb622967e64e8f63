package acidity

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/integration/backtest/entries"
)

// entry is one member of a file's list. What it does not name is ignored.
type entry struct {
	ID       string          `json:"id"`
	Kind     string          `json:"kind"`
	Source   string          `json:"source"`
	Analogue bool            `json:"analogue"`
	Inputs   json.RawMessage `json:"inputs"`
	Series   json.RawMessage `json:"series"`
}

type entryInputs struct {
	Kind         string       `json:"kind"`
	Method       string       `json:"method"`
	Species      string       `json:"species"`
	Culture      string       `json:"culture"`
	Temp         *float64     `json:"temp_c"`
	Temperature  *float64     `json:"temperature_c"`
	Temperatures [][]*float64 `json:"temperature_profile_c"`
	Diameter     *float64     `json:"diameter_mm"`
}

// entrySeries are the readings of an entry of kind ph; a pointer for each number
// tells a null from a 0.
type entrySeries struct {
	Hour  []*float64 `json:"hour"`
	Day   []*float64 `json:"day"`
	Value []*float64 `json:"value"`
}

// entryReading is a reading of an entry without a kind.
type entryReading struct {
	Hour *float64 `json:"t_h"`
	PH   *float64 `json:"ph"`
}

// Why an entry is skipped, beside its kind.
const (
	skippedNone  = "without a series of pH"
	skippedBelow = "at or below pH 5.3 from the first reading"
)

// readCourses reads a JSON list of entries. A course is an entry of kind "ph"
// with series.hour or series.day and series.value, or one without a kind with a
// list inputs.series of t_h and ph; every other entry is skipped and counted, and
// so is a course that was never read above the target, of which nothing can be
// foretold.
func readCourses(file string, in io.Reader) ([]course, entries.Count, error) {
	var all []course
	count, err := entries.Read(file, in, func(raw json.RawMessage) (id, skipped string, err error) {
		c, skipped, err := readEntry(raw)
		if err == nil && skipped == "" {
			c.file = file
			all = append(all, c)
		}
		return c.id, skipped, err
	})
	if err != nil {
		return nil, entries.Count{}, err
	}
	return all, count, nil
}

// readEntry returns the course of an entry, or why it is skipped. The id is set
// in any case, as far as it can be read.
func readEntry(raw json.RawMessage) (c course, skipped string, err error) {
	var e entry
	if err := json.Unmarshal(raw, &e); err != nil {
		return course{id: e.ID}, "", err
	}
	c = course{id: e.ID, study: entries.Study(e.Source), origin: originSausage}
	readings, skipped, err := readingsOf(e)
	if err != nil || skipped != "" {
		return c, skipped, err
	}
	if c.id == "" || c.study == "" {
		return c, "", errors.New("a series needs an id and a source")
	}
	if c.readings, err = checkReadings(readings); err != nil {
		return c, "", err
	}
	var in entryInputs
	if err := entries.Optional(e.Inputs, &in); err != nil {
		return c, "", fmt.Errorf("inputs: %w", err)
	}
	if c.facts, err = factsOf(in, e.Source); err != nil {
		return c, "", fmt.Errorf("inputs: %w", err)
	}
	if c.facts.grade > 0 {
		c.facts.grade = gradeOf(c.readings)
	}
	if e.Analogue || isNoSausage(in.Kind) {
		c.origin = originAnalogue
	}
	if c.readings[0].ph <= target {
		return c, skippedBelow, nil
	}
	c.truth = truthOf(c.readings)
	return c, "", nil
}

// readingsOf returns the readings of either form, or why there are none.
func readingsOf(e entry) ([]entryReading, string, error) {
	switch e.Kind {
	case "ph":
		return tableOf(e)
	case "":
		var holder struct {
			Series json.RawMessage `json:"series"`
		}
		if err := entries.Optional(e.Inputs, &holder); err != nil || !entries.IsList(holder.Series) {
			return nil, skippedNone, nil //nolint:nilerr // inputs that are no object are those of another sort of entry
		}
		var readings []entryReading
		if err := json.Unmarshal(holder.Series, &readings); err != nil {
			return nil, "", fmt.Errorf("inputs.series: %w", err)
		}
		for _, r := range readings {
			if r.PH != nil {
				return readings, "", nil
			}
		}
		return nil, skippedNone, nil
	default:
		return nil, "of kind " + e.Kind, nil
	}
}

func tableOf(e entry) ([]entryReading, string, error) {
	var s entrySeries
	if err := entries.Optional(e.Series, &s); err != nil {
		return nil, "", fmt.Errorf("series: %w", err)
	}
	hours, each := s.Hour, 1.0
	if hours == nil {
		const hoursPerDay = 24
		hours, each = s.Day, hoursPerDay
	}
	switch {
	case hours == nil || s.Value == nil:
		return nil, "", errors.New("it is of kind ph, but has no series.hour or series.day with series.value")
	case s.Hour != nil && s.Day != nil:
		return nil, "", errors.New("it has both series.hour and series.day")
	case len(hours) != len(s.Value):
		return nil, "", fmt.Errorf("%d times, but %d values", len(hours), len(s.Value))
	}
	readings := make([]entryReading, len(hours))
	for i := range hours {
		readings[i].PH = s.Value[i]
		if hours[i] != nil {
			hour := *hours[i] * each
			readings[i].Hour = &hour
		}
	}
	return readings, "", nil
}

// Bounds of what can be a fermentation or an analogue of one: they keep out
// slips of unit.
const (
	mostHours = 8784 // of a leap year
	leastPH   = 2
	mostPH    = 9
)

// checkReadings returns the readings in order of time, with the mean of those
// taken at the same time.
func checkReadings(read []entryReading) ([]reading, error) {
	if len(read) == 0 {
		return nil, errors.New("the series is empty")
	}
	var readings []reading
	same := 0.0 // how many there are at the last hour
	for i, r := range read {
		if r.Hour == nil || r.PH == nil {
			return nil, fmt.Errorf("reading %d is not two numbers", i)
		}
		last := len(readings) - 1
		switch {
		case *r.Hour < 0 || *r.Hour > mostHours:
			return nil, fmt.Errorf("reading %d: the hour must be from 0 to %d, got %v", i, mostHours, *r.Hour)
		case *r.PH < leastPH || *r.PH > mostPH:
			return nil, fmt.Errorf("reading %d: the pH must be from %d to %d, got %v", i, leastPH, mostPH, *r.PH)
		case last >= 0 && *r.Hour < readings[last].hour:
			return nil, fmt.Errorf("reading %d: hour %v comes before hour %v", i, *r.Hour, readings[last].hour)
		case last >= 0 && *r.Hour == readings[last].hour:
			same++
			readings[last].ph += (*r.PH - readings[last].ph) / same
		default:
			same = 1
			readings = append(readings, reading{*r.Hour, *r.PH})
		}
	}
	return readings, nil
}

// What is taken where nobody told how warm it was, °C: a usual room for
// fermenting, and a refrigerator where the entry says that it is cold storage.
const (
	assumedRoom = usual
	assumedCold = 4
)

func factsOf(in entryInputs, source string) (facts, error) {
	var f facts
	c, err := chamberOf(in)
	if err != nil {
		return facts{}, err
	}
	switch kind := strings.ToLower(in.Kind); {
	case c != nil:
		f.chamber = c
	case strings.Contains(kind, "cold storage"):
		f.chamber, f.assumed = flat(assumedCold), true
	default:
		f.chamber, f.assumed = flat(assumedRoom), true
	}
	f.species = speciesOf(in.Species + " " + in.Culture)
	if strings.Contains(strings.ToLower(in.Method+" "+source), "strip") {
		f.grade = 1 // the readings tell which
	}
	if in.Diameter != nil {
		diameter, err := quantity.Millimetres(*in.Diameter)
		if err != nil {
			return facts{}, err
		}
		f.diameter = material.Is(diameter)
	}
	return f, nil
}

// chamberOf returns the temperatures that are told, nil for none.
func chamberOf(in entryInputs) (chamber, error) {
	if in.Temperature == nil {
		in.Temperature = in.Temp
	}
	var c chamber
	for i, point := range in.Temperatures {
		if len(point) != 2 || point[0] == nil || point[1] == nil {
			return nil, fmt.Errorf("point %d of the temperatures is not an hour and degrees", i)
		}
		w := warmth{*point[0], *point[1]}
		if i > 0 && w.hour <= c[i-1].hour || w.hour < 0 || w.hour > mostHours {
			return nil, fmt.Errorf("point %d of the temperatures: hour %v is out of order", i, w.hour)
		}
		c = append(c, w)
	}
	if c == nil && in.Temperature != nil {
		c = flat(*in.Temperature)
	}
	const coldest, hottest = -20, 60
	for _, w := range c {
		if w.celsius < coldest || w.celsius > hottest {
			return nil, fmt.Errorf("a chamber must be from %d to %d °C, got %v", coldest, hottest, w.celsius)
		}
	}
	return c, nil
}

// names of species in entries, with what they are called now. Pediococcus
// cerevisiae is not a species any more: what was sold by the name for sausage
// was of P. acidilactici and P. pentosaceus, and the first is what warm, fast
// fermentations are made with (recalled).
var names = []struct{ part, key string }{
	{"sakei", "latilactobacillus-sakei"},
	{"curvatus", "latilactobacillus-curvatus"},
	{"plantarum", "lactiplantibacillus-plantarum"},
	{"pentosaceus", "pediococcus-pentosaceus"},
	{"acidilactici", "pediococcus-acidilactici"},
	{"cerevisiae", "pediococcus-acidilactici"},
}

// speciesOf returns the key of the one species that the words name, and nothing
// where they name none or more than one.
func speciesOf(words string) string {
	key := ""
	for _, n := range names {
		if strings.Contains(strings.ToLower(words), n.part) {
			if key != "" {
				return ""
			}
			key = n.key
		}
	}
	return key
}

// isNoSausage reports whether the words on the kind of a product say that it is
// something else.
func isNoSausage(kind string) bool {
	kind = strings.ToLower(kind)
	return strings.Contains(kind, "not meat") || strings.Contains(kind, "not a fermentation")
}

// gradeOf returns the distance of the fields of the strip that the readings were
// taken by.
func gradeOf(readings []reading) float64 {
	const fine, coarse = 0.25, 0.5
	for _, r := range readings {
		if math.Mod(r.ph, coarse) != 0 {
			return fine
		}
	}
	return coarse
}

// turned is how much a pH must have come down before a rise counts as its end.
const turned = 0.2

// truthOf returns when the readings came down to the target. The truth lies
// between the last reading above it and the first at or below it. A course that
// stayed above never comes down when it had come down by a fifth of a unit and
// has risen again since; otherwise nobody knows.
func truthOf(readings []reading) truth {
	lowest := readings[0]
	for i, r := range readings {
		if r.ph <= target {
			a := readings[i-1]
			return truth{After: a.hour, By: r.hour, Point: a.hour + (a.ph-target)/(a.ph-r.ph)*(r.hour-a.hour)}
		}
		if r.ph < lowest.ph {
			lowest = r
		}
	}
	last := readings[len(readings)-1]
	return truth{
		After: last.hour, By: math.Inf(1), Point: math.Inf(1),
		Never: last.ph > lowest.ph && readings[0].ph-lowest.ph >= turned,
	}
}
