package schedule

import (
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Plan is a fermentation as it is meant to go. What is stated here goes before
// what the formula's own plan says of the same.
//
// Violations name the members by these paths: `steps/0/temperature`,
// `steps/0/hours`, `steps`, `thermometer_uncertainty`,
// `hygrometer_uncertainty_percent`, `start_temperature`, and, where the steps are
// those of the formula, `formula/plan/fermentation/0/hours` and so on.
type Plan struct {
	Steps     []formula.Step // each with a temperature and a span; none to take those of the formula
	Diameter  material.Known[quantity.Length]
	Cultures  []rulebook.CultureSpecies
	Rulebooks []rulebook.Jurisdiction
	Formula   *formula.Formula

	WaterActivity material.Known[quantity.WaterActivity]    // of the batter, as measured
	AtStart       material.Known[quantity.Temperature]      // of the sausage, when it comes into the first step
	Thermometer   *quantity.TemperatureDelta                // how far off it may be; nil for fermentation.DefaultThermometer
	Hygrometer    material.Known[quantity.RelativeHumidity] // how far off it may be, in points; DefaultHygrometer when not known
}

// MostSteps is how many steps a plan may have. Choice of this project.
const MostSteps = 40

// DefaultHygrometer is how far off a household hygrometer may be when nobody
// checked it: 3 points. Common practice, no source; above 80 percent some are
// off by 5.
func DefaultHygrometer() quantity.RelativeHumidity { return quantity.MustHumidityPercent(3) }

// Origin is where the water activity of the batter comes from. The zero value is
// invalid.
type Origin int

// The origins.
const (
	Measured  Origin = iota + 1
	Estimated        // from the formula
	Usual            // nothing is known
)

var originWords = []string{"", "measured", "estimated", "usual"}

// String returns the word used on the wire.
func (o Origin) String() string {
	if o <= 0 || int(o) >= len(originWords) {
		return "unstated"
	}
	return originWords[o]
}

// Batter is the water activity of the mixture as stuffed.
type Batter struct {
	WaterActivity quantity.WaterActivity
	Within        quantity.Between[quantity.WaterActivity]
	Origin        Origin
	Source        source.Citation
}

// usualBatter is what a batter has when nothing is known of it.
var usualBatter = Batter{
	WaterActivity: quantity.MustWaterActivity(0.96),
	Within:        quantity.Between[quantity.WaterActivity]{Low: quantity.MustWaterActivity(0.95), High: quantity.MustWaterActivity(0.97)},
	Origin:        Usual,
	Source: source.Citation{
		Title: "Techniques de l'Ingénieur, F6507, dry sausage: development during drying", Section: "5.1", Trust: source.Read,
		Note: "0.95 to 0.97 when fresh; the German guide takes about 0.96",
	},
}

// resolved is a plan with all that it can be judged by.
type resolved struct {
	Plan

	fromFormula      bool // the steps are those of the formula
	formulasCultures bool // and the cultures
	lowAcid          bool
	thermometer      quantity.TemperatureDelta
	hygrometer       quantity.RelativeHumidity
	batter           Batter
	composition      drying.Composition
	unknown          []string // what of the formula leaves its composition unknown
}

// resolve takes from the formula what is not stated, and reports fault.Invalid
// with every violation.
func (p Plan) resolve() (resolved, error) {
	r := resolved{Plan: p, thermometer: fermentation.DefaultThermometer(), hygrometer: p.Hygrometer.Or(DefaultHygrometer())}
	if p.Thermometer != nil {
		r.thermometer = *p.Thermometer
	}
	var bad fault.Collector
	if f := p.Formula; f != nil {
		r.lowAcid = f.Plan.LowAcid
		if len(r.Steps) == 0 {
			r.Steps, r.fromFormula = f.Plan.Fermentation, true
		}
		if _, stated := r.Diameter.Get(); !stated {
			if d, _ := f.Plan.Casing.Stuffed(); !d.IsZero() {
				r.Diameter = material.Is(d)
			}
		}
		if len(r.Cultures) == 0 {
			r.Cultures, r.formulasCultures = species(*f), true
		}
		var err error
		r.composition, r.unknown, err = drying.CompositionOf(*f)
		if err != nil {
			return r, err
		}
	}
	r.check(&bad)
	if err := bad.Err("invalid-value", "the plan has no meaning as it stands"); err != nil {
		return r, err
	}
	var err error
	r.batter, err = r.ofBatter()
	return r, err
}

// species returns the species of the cultures of a formula, each once.
func species(f formula.Formula) []rulebook.CultureSpecies {
	var all []rulebook.CultureSpecies
	seen := make(map[string]bool)
	for _, a := range f.Additions {
		for _, s := range a.Species {
			if !seen[s.Key] {
				seen[s.Key] = true
				all = append(all, s)
			}
		}
	}
	return all
}

// at returns the path of a member of a step.
func (r resolved) at(i int, member string) fault.Path {
	if r.fromFormula {
		return fault.At("formula", "plan", "fermentation", i, member)
	}
	return fault.At("steps", i, member)
}

// check records what keeps the plan from being judged.
func (r resolved) check(bad *fault.Collector) {
	if len(r.Steps) == 0 {
		bad.Add(fault.At("steps"), "no-steps", "the steps of the fermentation are missing: give them here, or in the plan of the formula")
	}
	if len(r.Steps) > MostSteps {
		bad.Add(fault.At("steps"), "too-many", "at most %d steps, got %d", MostSteps, len(r.Steps))
	}
	warmest := fermentation.ChamberRange().High
	var end time.Duration
	for i, s := range r.Steps {
		t, known := s.Temperature.Get()
		switch {
		case !known:
			bad.Add(r.at(i, "temperature"), "missing", "a step needs a temperature to be judged by")
		case t.Compare(fermentation.ChamberRange().Low) < 0 || shifted(t, r.thermometer).Compare(warmest) > 0:
			bad.Add(r.at(i, "temperature"), "out-of-range", "a fermentation chamber is from %s to %s, with what the thermometer may be off; got %s",
				fermentation.ChamberRange().Low, warmest, t)
		}
		if s.Span <= 0 {
			bad.Add(r.at(i, "hours"), "missing", "a step needs a time: until something else is shown can't be judged before the start")
			continue
		}
		if end += s.Span; end > fermentation.LongestCourse || end < 0 {
			bad.Add(r.at(i, "hours"), "out-of-range", "the steps must not last longer than %g h together", fermentation.LongestCourse.Hours())
			return
		}
	}
	if d := r.thermometer.CelsiusDegrees(); d < 0 || d > fermentation.WorstThermometer().CelsiusDegrees() {
		bad.Add(fault.At("thermometer_uncertainty"), "out-of-range", "the thermometer's uncertainty must be from 0 to %s, got %s",
			fermentation.WorstThermometer(), r.thermometer)
	}
	if t, known := r.AtStart.Get(); known && (t.Compare(fermentation.ChamberRange().Low) < 0 || t.Compare(warmest) > 0) {
		bad.Add(fault.At("start_temperature"), "out-of-range", "the sausage is from %s to %s, got %s", fermentation.ChamberRange().Low, warmest, t)
	}
}

// shifted returns a temperature that was read too low by d.
func shifted(t quantity.Temperature, d quantity.TemperatureDelta) quantity.Temperature {
	w, err := t.Plus(d)
	if err != nil { // no chamber is near absolute zero
		return t
	}
	return w
}
