package acidification

import (
	"math"
	"sort"
	"time"

	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// How the core follows the chamber.
const (
	// diffusivity of heat in meat, m²/s: 1.2 to 1.4e-7 (handbooks, recalled).
	heatDiffusivity = 1.3e-7
	// root is the square of the first root of x J1(x) = Bi J0(x) at a Biot number
	// of 1: of a cylinder in moving moist air, h about 15 W/m²K, 0.4 W/mK and half
	// of 55 mm. It is kept for all diameters, so that the lag grows with their
	// square. Choice of this project; see coreLag.
	root = 1.2558 * 1.2558
	// stuffedCelsius is how cold the core is at the start. Common practice: batter
	// is stuffed at 0 to 5 °C.
	stuffedCelsius = 4.0
)

// coreSource is that of how the core follows the chamber.
func coreSource() source.Citation {
	return source.Citation{
		Title: "Crank, The Mathematics of Diffusion, 2nd edition", Year: 1975, Section: "chapter 5, cylinder with a surface that resists",
		Trust: source.Derived, Note: "first term of the series at a Biot number of 1 and a diffusivity of heat of 1.3e-7 m²/s (recalled, 1.2 to 1.4e-7); " +
			"practice (recalled): a core is warm after 2 to 3 h at 55 mm, 5 to 8 h at 90 to 100 mm",
	}
}

// coreLag returns the time constant, in hours, with which the core of a cylinder
// follows the chamber: R² / (1.577 a). At 55 mm it is 1.0 h, so that nine tenths
// of a step are there after 2.4 h; at 95 mm 3.1 h and 7.0 h.
func coreLag(diameter quantity.Length) float64 {
	const half, secondsPerHour = 0.5, 3600
	r := half * diameter.Metres()
	return r * r / (root * heatDiffusivity) / secondsPerHour
}

// clock is the thermal time along the temperatures so far and to come: hours at
// the best temperature that would bring as much. All arrays have one length;
// hours and thermal ascend. It begins at 0 h; before that nothing happens.
type clock struct {
	hours, thermal, chamber, core []float64
}

// pace returns how much thermal time an hour at a temperature brings.
type pace func(celsius float64) float64

// mostSteps bounds the steps of a clock beside one for each stretch, and
// longestStep is the longest one, in hours.
const (
	mostSteps   = 8000
	longestStep = 0.25
)

// run returns the clock along stretches up to a horizon in hours, at the end of
// which the last temperature has held on. The core follows by a first-order lag
// in hours, exactly for straight lines; 0 is no lag. The thermal time is summed
// by Simpson's rule, whose error is of the fourth order of the step.
func run(stretches []fermentation.Stretch, last quantity.Temperature, horizon, lag float64, rate pace) *clock {
	k := &clock{}
	span := horizon
	if n := len(stretches); n > 0 {
		span = math.Max(span, stretches[n-1].To.Hours())
	}
	step := math.Max(longestStep, span/mostSteps)
	core := stuffedCelsius
	total := 0.0
	mark := func(hours, chamber float64) {
		k.hours, k.thermal = append(k.hours, hours), append(k.thermal, total)
		k.chamber, k.core = append(k.chamber, chamber), append(k.core, core)
	}
	at := 0.0
	along := func(to, start, end float64) {
		if lag == 0 {
			core = start
		}
		mark(at, start)
		if to <= at {
			return
		}
		n := int(math.Ceil((to - at) / step))
		h := (to - at) / float64(n)
		slope := (end - start) / (to - at)
		from := at
		for i := range n {
			t0 := start + slope*h*float64(i)
			middle := follow(core, t0, slope, h/2, lag)
			next := follow(core, t0, slope, h, lag)
			total += h / 6 * (rate(core) + 4*rate(middle) + rate(next))
			core = next
			at = from + h*float64(i+1)
			if i == n-1 {
				at = to
			}
			mark(at, t0+slope*h)
		}
	}
	for _, s := range stretches {
		along(s.To.Hours(), s.Start.Celsius(), s.End.Celsius())
	}
	along(horizon, last.Celsius(), last.Celsius())
	return k
}

// follow returns a core after h hours in a chamber that starts at t and changes
// by slope an hour: c' = (T - c) / lag.
func follow(core, t, slope, h, lag float64) float64 {
	if lag == 0 {
		return t + slope*h
	}
	settled := t - slope*lag
	return settled + slope*h + (core-settled)*math.Exp(-h/lag)
}

// at returns values of the clock at a time in hours; at most those at its end.
func (k *clock) at(hours float64) (thermal, chamber, core float64) {
	i := sort.SearchFloat64s(k.hours, hours)
	switch {
	case i == 0:
		return k.thermal[0], k.chamber[0], k.core[0]
	case i == len(k.hours):
		i--
		return k.thermal[i], k.chamber[i], k.core[i]
	}
	part := (hours - k.hours[i-1]) / (k.hours[i] - k.hours[i-1])
	between := func(v []float64) float64 { return v[i-1] + part*(v[i]-v[i-1]) }
	return between(k.thermal), between(k.chamber), between(k.core)
}

// thermalAt returns the thermal time at a time.
func (k *clock) thermalAt(d time.Duration) float64 {
	thermal, _, _ := k.at(d.Hours())
	return thermal
}
