package moisture

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/air"
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// Air is what a piece hangs in. A speed below 0.05 m/s counts as that: still air
// moves by itself along a cool surface.
type Air struct {
	Temperature quantity.Temperature
	Humidity    quantity.RelativeHumidity
	Speed       quantity.Speed
}

// Reading is air as a logger saw it, so long after the start of its step.
type Reading struct {
	At          time.Duration
	Temperature quantity.Temperature
	Humidity    quantity.RelativeHumidity
}

// Step is a time in one sort of air.
type Step struct {
	For time.Duration
	Air Air
	// Sealed is a step without any loss, in a tight wrapping: the water evens out.
	// Only the temperature of the air matters.
	Sealed bool
	// Log goes before the temperature and humidity of Air: readings in the order of
	// time, between which the air is taken to change evenly; before the first and
	// after the last it is as they say.
	Log []Reading
}

const (
	// MostSteps is how many steps a schedule may have.
	MostSteps = 500
	// MostReadings is how many readings they may have together.
	MostReadings = 20000
	// Longest is how long a course may be.
	Longest  = 731 * 24 * time.Hour
	stillest = 0.05 // m/s
	fastest  = 10.0 // m/s
	// finest is the least time over which a log is averaged, and mostSpans how
	// many such times there are at most.
	finest    = time.Hour
	mostSpans = 1000
)

// validate reports every member of a schedule at fault, and how long it is.
func validate(schedule []Step) (time.Duration, error) {
	var bad fault.Collector
	if len(schedule) == 0 || len(schedule) > MostSteps {
		bad.Add(fault.At(), "range", "there must be 1 to %d steps, got %d", MostSteps, len(schedule))
		return 0, bad.Err(codeInvalid, "the schedule has no meaning as it stands")
	}
	whole, readings := time.Duration(0), 0
	for i, s := range schedule {
		if s.For <= 0 || s.For > Longest {
			bad.Add(fault.At(i, "days"), "range", "must be more than 0 and at most %g days, got %v", Longest.Hours()/24, s.For)
			continue
		}
		whole += s.For
		if whole > Longest {
			bad.Add(fault.At(i, "days"), "maximum", "the steps together may take %g days", Longest.Hours()/24)
			break
		}
		if len(s.Log) == 0 {
			warmth(&bad, fault.At(i, "temperature"), s.Air.Temperature)
		}
		if v := s.Air.Speed.MetresPerSecond(); v > fastest {
			bad.Add(fault.At(i, "air_speed_m_per_s"), "maximum", "must be at most %g m/s, got %.6g", fastest, v)
		}
		readings += len(s.Log)
		for j, r := range s.Log {
			warmth(&bad, fault.At(i, "log", j, "temperature"), r.Temperature)
			if r.At < 0 || r.At > s.For || j > 0 && r.At <= s.Log[j-1].At {
				bad.Add(fault.At(i, "log", j, "at"), "order", "readings stand in the order of time, within their step")
			}
		}
	}
	if readings > MostReadings {
		bad.Add(fault.At(), "maximum", "there may be %d readings, got %d", MostReadings, readings)
	}
	return whole, bad.Err(codeInvalid, "the schedule has no meaning as it stands")
}

func warmth(bad *fault.Collector, at fault.Path, t quantity.Temperature) {
	if t.IsZero() || !(t.Celsius() >= leastCelsius && t.Celsius() <= mostAirC) {
		bad.Add(at, "range", "must be %g to %g °C, got %v", leastCelsius, mostAirC, t)
	}
}

// span is a time over which the forcing does not change.
type span struct {
	seconds float64
	forcing forcing
}

// weather is what of the air enters the solver evenly, so that its mean over a
// time is what the piece meets.
type weather struct{ kelvin, vapour, drawn, quickness float64 }

// weatherOf returns that of air; the diffusivity is that of Arrhenius over that
// at 13 °C.
func weatherOf(t quantity.Temperature, humidity quantity.RelativeHumidity) (weather, error) {
	saturated, err := air.SaturationPressure(t)
	if err != nil {
		return weather{}, fmt.Errorf("the vapour in the air: %w", err)
	}
	kelvin := t.Kelvin()
	vapour := saturated.Kilopascals() / (gasVapour * kelvin)
	return weather{
		kelvin: kelvin, vapour: vapour, drawn: vapour * humidity.Float(),
		quickness: math.Exp(-activation / gasConstant * (1/kelvin - 1/usedKelvin)),
	}, nil
}

func (w weather) plus(o weather, times float64) weather {
	return weather{
		w.kelvin + times*o.kelvin, w.vapour + times*o.vapour, w.drawn + times*o.drawn, w.quickness + times*o.quickness,
	}
}

const (
	gasVapour     = 0.46152 // kJ/(kg K), water vapour
	gasConstant   = 8.314462618
	secondsPerDay = 86400.0
	usedKelvin    = 273.15 + 13
)

// averages returns the mean weather of equal parts of a step, which follow each
// other: one when there is no log. Between readings what enters evenly is taken to
// change evenly.
func (s Step) averages() ([]weather, error) {
	if len(s.Log) == 0 {
		w, err := weatherOf(s.Air.Temperature, s.Air.Humidity)
		return []weather{w}, err
	}
	seen := make([]weather, len(s.Log))
	for i, r := range s.Log {
		var err error
		if seen[i], err = weatherOf(r.Temperature, r.Humidity); err != nil {
			return nil, err
		}
	}
	count := int(min(max((s.For+finest-1)/finest, 1), mostSpans))
	width := s.For.Seconds() / float64(count)
	means := make([]weather, count)
	add := func(from, until float64, a, b weather) {
		// Evenly from a to b, cut at the ends of the parts.
		for from < until {
			part := min(int(from/width), count-1)
			end := until
			if part < count-1 {
				end = min(until, float64(part+1)*width)
			}
			if end <= from { // rounding at the end of a part
				part = min(part+1, count-1)
				end = min(until, float64(part+1)*width)
				if end <= from {
					end = until
				}
			}
			span := until - from
			u := (end - from) / span
			cut := a.plus(a, -u).plus(b, u)
			means[part] = means[part].plus(a, (end-from)/2/width).plus(cut, (end-from)/2/width)
			from, a = end, cut
		}
	}
	last := len(seen) - 1
	add(0, s.Log[0].At.Seconds(), seen[0], seen[0])
	for i := range last {
		add(s.Log[i].At.Seconds(), s.Log[i+1].At.Seconds(), seen[i], seen[i+1])
	}
	add(s.Log[last].At.Seconds(), s.For.Seconds(), seen[last], seen[last])
	return means, nil
}
