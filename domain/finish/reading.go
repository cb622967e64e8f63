package finish

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
)

// Usual is what a method may be off by where that is not stated.
type Usual struct {
	Of     string // water-activity, ph, moisture, protein, salt, residual-nitrite
	Method Method
	Off    quantity.Measure
	Note   string
}

// What readings may be off by when that is not stated: common practice of the
// trade, no source; but for the meter of water activity, at rest and at 25 °C,
// which its makers state.
const (
	activityAtRest  = 0.003
	activityByMeter = 0.01
	activityByStrip = 0.03
	phByMeter       = 0.1
	phByStrip       = 0.5
	phByLaboratory  = 0.05
	shareOff        = 0.5 // percent of the sample
	saltOff         = 0.2 // percent of the sample
	nitriteOff      = 5   // mg/kg
	nearRest        = 5.0 // °C from 25
	rest            = 25.0
)

// Usuals returns what the methods may be off by where that is not stated.
func Usuals() []Usual {
	aw := func(v float64) quantity.Measure { return quantity.MustWaterActivity(v).Measure() }
	ph := func(v float64) quantity.Measure { return quantity.MustPH(v).Measure() }
	percent := func(v float64) quantity.Measure { return quantity.MustPPM(v * 1e4).In(quantity.UnitPercent) }
	all := []Usual{
		{"water-activity", ByMeter, aw(activityAtRest), "of a sample that had come to rest, at 20 to 30 °C"},
		{"water-activity", ByMeter, aw(activityByMeter), "of any other"},
		{"water-activity", ByStrip, aw(activityByStrip), ""},
		{"water-activity", ByLaboratory, aw(activityAtRest), ""},
		{"ph", ByMeter, ph(phByMeter), "of a meter that was calibrated"},
		{"ph", ByStrip, ph(phByStrip), ""},
		{"ph", ByLaboratory, ph(phByLaboratory), ""},
	}
	for _, of := range []string{"moisture", "protein"} {
		all = append(all, Usual{of, ByLaboratory, percent(shareOff), "of the sample"})
	}
	return append(all, Usual{"salt", ByLaboratory, percent(saltOff), "of the sample"},
		Usual{"residual-nitrite", ByLaboratory, quantity.MustPPM(nitriteOff).In(quantity.UnitMilligramsPerKilogram), ""})
}

// reading is one sample as a span.
type reading struct {
	span
	place     Place
	piece     string
	estimated bool
	member    []string
	unit      string // after the number
	coarse    bool   // a better method is at hand
}

func (r reading) text() string {
	text := short(r.value) + r.unit
	if r.high > r.low {
		text += fmt.Sprintf(" (%s to %s)", short(r.low), short(r.high))
	}
	if r.place != 0 {
		text += " in the " + r.place.name()
	}
	return text
}

func (p Place) name() string {
	switch p {
	case Core:
		return "core"
	case Rim:
		return "rim"
	case Mixed:
		return "mixed slice"
	default:
		return "piece, where is not stated"
	}
}

// readings is what was measured of one thing at one time of the work.
type readings []reading

// latest drops what a later reading at the same place of the same piece replaced,
// and a coarse one where one that is better by half agrees with it. Readings whose
// piece is not named may be of different pieces, of which the wettest counts: no
// time replaces them.
func latest[T any](samples []Sample[T], when When, member string, of func(Sample[T]) reading) readings {
	var all readings
	for i, s := range samples {
		if s.When != when || slices.ContainsFunc(samples, func(o Sample[T]) bool {
			return o.When == when && s.Piece != "" && o.Piece == s.Piece && o.Place == s.Place && o.Method != ByEstimate && !s.At.IsZero() && o.At.After(s.At)
		}) {
			continue
		}
		r := of(s)
		r.place, r.piece, r.estimated, r.member = s.Place, s.Piece, s.Method == ByEstimate, fault.At(member, i)
		r.coarse = s.Method == ByStrip
		all = append(all, r)
	}
	return slices.DeleteFunc(slices.Clone(all), func(r reading) bool { return slices.ContainsFunc(all, r.coarserThan) })
}

// coarserThan reports whether another reading of the same place tells better what
// this one tells. Where no piece is named, that is so of a strip beside a meter
// alone.
func (r reading) coarserThan(o reading) bool {
	const half = 2
	return (r.piece != "" || r.coarse && !o.coarse) && !o.estimated && o.piece == r.piece && o.place == r.place && half*(o.high-o.low) <= r.high-r.low && r.high > r.low &&
		o.low <= r.high && r.low <= o.high
}

// activities returns what was read of the water activity.
func (o Order) activities(when When) readings {
	return latest(o.Activity, when, "water_activity", func(s Sample[quantity.WaterActivity]) reading {
		off := activityByMeter
		switch atRest := s.Equilibrated && (s.Temperature == nil || math.Abs(s.Temperature.Celsius()-rest) <= nearRest); {
		case s.Off != nil:
			off = s.Off.Float()
		case s.Method == ByLaboratory, s.Method == ByMeter && atRest:
			off = activityAtRest
		case s.Method == ByStrip:
			off = activityByStrip
		}
		return reading{span: around(s.Value.Float(), off)}
	})
}

// acids returns what was read of the pH.
func (o Order) acids(when When) readings {
	return latest(o.PH, when, "ph", func(s Sample[quantity.PH]) reading {
		off := phByMeter
		switch {
		case s.Off != nil:
			off = s.Off.Float()
		case s.Method == ByStrip:
			off = phByStrip
		case s.Method == ByLaboratory:
			off = phByLaboratory
		}
		return reading{span: around(s.Value.Float(), off)}
	})
}

// measured returns the readings that are no estimates.
func (all readings) measured() readings {
	return slices.DeleteFunc(slices.Clone(all), func(r reading) bool { return r.estimated })
}

// worst returns the reading that may be highest, and whether any speaks for a whole
// piece; false when there is none. A rim beside a core counts as it is: adding it
// never shows less unless it is worse.
func (all readings) worst() (worst reading, whole, known bool) {
	for _, r := range all.measured() {
		if !known || r.high > worst.high {
			worst, known = r, true
		}
		whole = whole || r.place.whole()
	}
	return worst, whole, known
}

// mostMembers is how many readings a result points to.
const mostMembers = 50

// members returns the paths to the readings, of many the first.
func (all readings) members() [][]string {
	paths := make([][]string, 0, len(all))
	for _, r := range all[:min(len(all), mostMembers)] {
		paths = append(paths, r.member)
	}
	return paths
}

// text puts readings into words.
func (all readings) text() string {
	words := make([]string, 0, len(all))
	for _, r := range all {
		words = append(words, r.text())
	}
	const most = 6
	if len(words) > most {
		words = append(words[:most:most], fmt.Sprintf("and %d more", len(words)-most))
	}
	return strings.Join(words, ", ")
}

// figure returns a reading with both ends, by a measure that keeps to its scale.
func (s span) figure(of func(float64) quantity.Measure) finding.Figure {
	f := finding.Figure{Value: of(s.value)}
	if s.high > s.low {
		f.Range = quantity.Between[quantity.Measure]{Low: of(s.low), High: of(s.high)}
	}
	return f
}

func activityMeasure(v float64) quantity.Measure {
	return quantity.MustWaterActivity(min(max(v, 0), 1)).Measure()
}

func phMeasure(v float64) quantity.Measure {
	const highest = 14
	return quantity.MustPH(min(max(v, 0), highest)).Measure()
}

func ratioMeasure(v float64) quantity.Measure {
	return quantity.MustRatio(min(max(v, 0), math.MaxFloat64)).Measure()
}

func percentMeasure(v float64) quantity.Measure {
	const percent = 1e4
	return quantity.MustPPM(max(v, 0) * percent).In(quantity.UnitPercent)
}

// short prints a number to a ten-thousandth.
func short(v float64) string {
	const parts = 1e4
	return strconv.FormatFloat(math.Round(v*parts)/parts+0, 'f', -1, 64)
}

// ratios returns moisture to protein of each analysis that has both, and brines
// salt in the water phase of each that has salt and moisture: the worst ends
// together, since nothing is known of how errors go together.
func (o Order) ratios() readings {
	return o.analysed(func(a Analysis) (reading, bool) {
		if a.Moisture == nil || a.Protein == nil || a.Protein.Of.IsZero() {
			return reading{}, false
		}
		m, p := a.Moisture.span(shareOff), a.Protein.span(shareOff)
		r := reading{span: span{value: m.value / p.value, low: max(m.low, 0) / p.high, high: math.MaxFloat64}}
		if p.low > 0 {
			r.high = m.high / p.low
		}
		return r, true
	})
}

func (o Order) brines() readings {
	return o.analysed(func(a Analysis) (reading, bool) {
		if a.Moisture == nil || a.Salt == nil {
			return reading{}, false
		}
		m, s := a.Moisture.span(shareOff), a.Salt.span(saltOff)
		phase := func(salt, moisture float64) float64 {
			salt, moisture = max(salt, 0), max(moisture, 0)
			if salt+moisture == 0 {
				return 0
			}
			const percent = 100
			return percent * salt / (salt + moisture)
		}
		return reading{span: span{phase(s.value, m.value), phase(s.low, m.high), phase(s.high, m.low)}, unit: " %"}, true
	})
}

func (o Order) analysed(of func(Analysis) (reading, bool)) readings {
	var all readings
	for i, a := range o.Analyses {
		r, ok := of(a)
		if !ok {
			continue
		}
		r.place, r.piece, r.estimated, r.member = a.Place, a.Piece, a.Method == ByEstimate, fault.At("analyses", i)
		if a.Place == 0 && a.Method == ByLaboratory {
			r.place = Mixed // a laboratory grinds what it is sent
		}
		all = append(all, r)
	}
	return all
}

// span returns a share with what it may be off, in percent.
func (s Share) span(usual float64) span {
	if s.Off != nil {
		usual = s.Off.Percent()
	}
	return around(s.Of.Percent(), usual)
}
