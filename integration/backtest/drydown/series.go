package drydown

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/integration/backtest/entries"
)

// series is a dry-down whose end is known.
type series struct {
	id, file  string
	study     string // where it was published; series of one study share their errors
	analogue  bool   // of something else than a dry sausage
	synthetic bool   // computed, not weighed
	drawn     bool   // computed by this program
	product   string // what it is where it is no fermented sausage; empty for one
	rack      []hung // the pieces, where it is of a rack; points are then their mean
	labels    []label
	facts     facts
	points    []point // in order of time; a point at day 0 has lost nothing
	named     []goal  // targets that the entry names
}

// facts are what a maker may know at hanging.
type facts struct {
	green                            quantity.Mass
	water, protein, fat, salt, sugar material.Known[quantity.Fraction]
	diameter                         material.Known[quantity.Length]
	temperature                      material.Known[quantity.Temperature]
	humidity                         material.Known[quantity.RelativeHumidity]
	airSpeed                         material.Known[quantity.Speed]
	stopsAt                          material.Known[quantity.Loss]

	// The airs that are planned, those that are read (a model sees none that comes
	// after its last weigh-in), and when the piece is in a tight wrapping.
	plan, readings []air
	sealed         []pause
}

// hangs reports whether it is of several pieces, of which the last one counts.
func (s *series) hangs() bool { return len(s.rack) > 0 }

// pause is a time from one day to another.
type pause struct{ from, to float64 }

// point is a weigh-in: the loss in percent of the green weight, some days after
// hanging.
type point struct{ day, loss float64 }

// goal is a loss that is to be reached, with the day on which it was when the
// entry tells it.
type goal struct {
	loss float64
	day  *float64
}

// usualGreenGrams is the green weight where none is told: the models see losses
// only, so that it does not matter.
const usualGreenGrams = 1000

// entry is one member of a file's list. What it does not name is ignored.
type entry struct {
	ID       string          `json:"id"`
	Kind     string          `json:"kind"`
	Source   string          `json:"source"`
	Analogue bool            `json:"analogue"`
	Inputs   json.RawMessage `json:"inputs"`
	Series   json.RawMessage `json:"series"`
	Expected json.RawMessage `json:"expected"`
}

type entryInputs struct {
	Product     string   `json:"product"` // named where it is no sausage
	GreenWeight *float64 `json:"green_weight_g"`
	Water       *float64 `json:"green_water_percent"`
	Protein     *float64 `json:"green_protein_percent"`
	Fat         *float64 `json:"green_fat_percent"`
	Salt        *float64 `json:"green_salt_percent"`
	Sugar       *float64 `json:"green_sugar_percent"`
	Diameter    *float64 `json:"diameter_mm"`
	Temperature *float64 `json:"temperature_c"`
	Humidity    *float64 `json:"relative_humidity_percent"`
	AirSpeed    *float64 `json:"air_speed_m_per_s"`
	StopsAt     *float64 `json:"asymptotic_loss_percent_known_from_composition"`
	Target      *float64 `json:"target_loss_percent"`
}

// entrySeries are the points; a pointer for each number tells a null from a 0.
type entrySeries struct {
	Day   []*float64 `json:"day"`
	Value []*float64 `json:"value"`
	Loss  []*float64 `json:"loss_percent"`
}

type entryExpected struct {
	Target       *float64 `json:"target_loss_percent"`
	Day          *float64 `json:"day_reached"`
	SecondTarget *float64 `json:"second_target_loss_percent"`
	SecondDay    *float64 `json:"second_day_reached"`
}

// readSeries reads a JSON list of entries. A series is an entry of kind "loss"
// with series.day and series.value, or one without a kind with inputs.series.day
// and inputs.series.loss_percent; every other entry is skipped and counted.
func readSeries(file string, in io.Reader) ([]series, entries.Count, error) {
	var all []series
	count, err := entries.Read(file, in, func(raw json.RawMessage) (id, skipped string, err error) {
		s, skipped, err := readEntry(raw)
		if err == nil && skipped == "" {
			s.file = file
			all = append(all, s)
		}
		return s.id, skipped, err
	})
	if err != nil {
		return nil, entries.Count{}, err
	}
	return all, count, nil
}

// readEntry returns the series of an entry, or why it is skipped. The id is set
// in any case, as far as it can be read.
func readEntry(raw json.RawMessage) (s series, skipped string, err error) {
	var e entry
	if err := json.Unmarshal(raw, &e); err != nil {
		return series{id: e.ID}, "", err
	}
	s = series{id: e.ID, analogue: e.Analogue, study: entries.Study(e.Source), synthetic: entries.Synthetic(e.Source)}
	points, skipped, err := pointsOf(e)
	if err != nil || skipped != "" {
		return s, skipped, err
	}
	if s.id == "" || s.study == "" {
		return s, "", errors.New("a series needs an id and a source")
	}
	if s.points, err = checkPoints(points); err != nil {
		return s, "", err
	}
	var inputs entryInputs
	if err := entries.Optional(e.Inputs, &inputs); err != nil {
		return s, "", fmt.Errorf("inputs: %w", err)
	}
	if s.facts, err = factsOf(inputs); err != nil {
		return s, "", fmt.Errorf("inputs: %w", err)
	}
	s.product = inputs.Product
	var expected entryExpected
	if err := entries.Optional(e.Expected, &expected); err != nil {
		return s, "", fmt.Errorf("expected: %w", err)
	}
	s.named, err = goalsOf(inputs, expected)
	return s, "", err
}

// pointsOf returns the points of either form, or why there are none.
func pointsOf(e entry) (points entrySeries, skipped string, err error) {
	switch e.Kind {
	case "loss":
		if err := entries.Optional(e.Series, &points); err != nil {
			return points, "", fmt.Errorf("series: %w", err)
		}
		if points.Day == nil || points.Value == nil {
			return points, "", errors.New("it is of kind loss, but has no series.day and series.value")
		}
		points.Loss = points.Value
		return points, "", nil
	case "":
		const none = "without a series of losses"
		var holder struct {
			Series json.RawMessage `json:"series"`
		}
		if err := entries.Optional(e.Inputs, &holder); err != nil || !entries.IsObject(holder.Series) {
			return points, none, nil //nolint:nilerr // inputs that are no object are those of another sort of entry
		}
		if err := json.Unmarshal(holder.Series, &points); err != nil {
			return points, "", fmt.Errorf("inputs.series: %w", err)
		}
		if points.Day == nil || points.Loss == nil {
			return points, none, nil
		}
		return points, "", nil
	default:
		return points, "of kind " + e.Kind, nil
	}
}

// Bounds of what can be a dry-down: they keep out slips of unit.
const (
	mostDays = 3650
	mostLoss = 95
	mostGain = 20
)

func checkPoints(read entrySeries) ([]point, error) {
	if len(read.Day) != len(read.Loss) {
		return nil, fmt.Errorf("%d days, but %d losses", len(read.Day), len(read.Loss))
	}
	if len(read.Day) == 0 {
		return nil, errors.New("the series is empty")
	}
	points := make([]point, 0, len(read.Day))
	for i := range read.Day {
		if read.Day[i] == nil || read.Loss[i] == nil {
			return nil, fmt.Errorf("point %d is not a number", i)
		}
		p := point{*read.Day[i], *read.Loss[i]}
		switch {
		case p.day < 0 || p.day > mostDays:
			return nil, fmt.Errorf("point %d: the day must be from 0 to %d, got %v", i, mostDays, p.day)
		case i > 0 && p.day <= points[i-1].day:
			return nil, fmt.Errorf("point %d: day %v does not come after day %v", i, p.day, points[i-1].day)
		case p.day == 0 && p.loss != 0:
			return nil, fmt.Errorf("point %d: losses count from day 0, where none can be, got %v", i, p.loss)
		case p.loss < -mostGain || p.loss > mostLoss:
			return nil, fmt.Errorf("point %d: the loss must be from %d to %d percent, got %v", i, -mostGain, mostLoss, p.loss)
		}
		points = append(points, p)
	}
	return points, nil
}

func factsOf(in entryInputs) (facts, error) {
	green := in.GreenWeight
	if green == nil {
		usual := float64(usualGreenGrams)
		green = &usual
	}
	weight, errGreen := quantity.Grams(*green)
	if errGreen == nil && weight.IsZero() {
		errGreen = errors.New("the green weight is nothing")
	}
	water, errWater := known(in.Water, quantity.Percent)
	protein, errProtein := known(in.Protein, quantity.Percent)
	fat, errFat := known(in.Fat, quantity.Percent)
	salt, errSalt := known(in.Salt, quantity.Percent)
	sugar, errSugar := known(in.Sugar, quantity.Percent)
	diameter, errDiameter := known(in.Diameter, quantity.Millimetres)
	temperature, errTemperature := known(in.Temperature, quantity.Celsius)
	humidity, errHumidity := known(in.Humidity, quantity.HumidityPercent)
	airSpeed, errAirSpeed := known(in.AirSpeed, quantity.MetresPerSecond)
	stopsAt, errStopsAt := known(in.StopsAt, quantity.LossPercent)
	return facts{
			green: weight, water: water, protein: protein, fat: fat, salt: salt, sugar: sugar, diameter: diameter,
			temperature: temperature, humidity: humidity, airSpeed: airSpeed, stopsAt: stopsAt,
		}, errors.Join(errGreen, errWater, errProtein, errFat, errSalt, errSugar, errDiameter, errTemperature, errHumidity,
			errAirSpeed, errStopsAt)
}

func known[T any](v *float64, read func(float64) (T, error)) (material.Known[T], error) {
	if v == nil {
		return material.Known[T]{}, nil
	}
	q, err := read(*v)
	if err != nil {
		return material.Known[T]{}, err
	}
	return material.Is(q), nil
}

// goalsOf returns the targets that an entry names: in expected, where the first
// may stand in inputs instead.
func goalsOf(in entryInputs, e entryExpected) ([]goal, error) {
	if e.Target == nil {
		e.Target = in.Target
	}
	var goals []goal
	for _, g := range []struct{ loss, day *float64 }{{e.Target, e.Day}, {e.SecondTarget, e.SecondDay}} {
		switch {
		case g.loss == nil && g.day == nil:
			continue
		case g.loss == nil:
			return nil, errors.New("expected: a day without a target")
		case !(*g.loss > 0) || *g.loss > mostLoss:
			return nil, fmt.Errorf("the target must be above 0 and at most %d percent, got %v", mostLoss, *g.loss)
		case g.day != nil && (!(*g.day > 0) || *g.day > mostDays):
			return nil, fmt.Errorf("expected: the day must be above 0 and at most %d, got %v", mostDays, *g.day)
		}
		goals = append(goals, goal{*g.loss, g.day})
	}
	return goals, nil
}

// distinct returns an error when two series have the same id: one would count
// twice.
func distinct(all []series) error {
	seen := map[string]string{}
	for _, s := range all {
		if other, ok := seen[s.id]; ok {
			return fmt.Errorf("%s: id %q was read already, from %s", s.file, s.id, other)
		}
		seen[s.id] = s.file
	}
	return nil
}

// reached returns the day on which straight lines between the points, from no
// loss at day 0, first reach a loss; false when they do not.
func (s series) reached(loss float64) (float64, bool) {
	before := point{}
	for _, p := range s.points {
		if p.loss >= loss && p.day > before.day {
			return before.day + (loss-before.loss)/(p.loss-before.loss)*(p.day-before.day), true
		}
		before = p
	}
	return math.Inf(1), false
}

// goals returns what is to be forecast: the targets that the entry names, or the
// highest loss of the series; with every, also each loss that is higher than all
// before it.
func (s series) goals(every bool) []goal {
	goals := slices.Clone(s.named)
	add := func(loss float64) {
		const same = 1e-9
		if loss > 0 && !slices.ContainsFunc(goals, func(g goal) bool { return math.Abs(g.loss-loss) < same }) {
			goals = append(goals, goal{loss: loss})
		}
	}
	highest := math.Inf(-1)
	for _, p := range s.points {
		if p.loss > highest {
			highest = p.loss
			if every {
				add(highest)
			}
		}
	}
	if len(goals) == 0 {
		add(highest)
	}
	return goals
}
