package acidity

import "math"

// warmth is a temperature of the chamber at an hour from the start.
type warmth struct{ hour, celsius float64 }

// chamber is a course of temperature: joined by straight lines, as cold as its
// first point before it and as its last after it. It has at least one point.
type chamber []warmth

// at returns the temperature at an hour.
func (c chamber) at(hour float64) float64 {
	if hour <= c[0].hour {
		return c[0].celsius
	}
	for i := 1; i < len(c); i++ {
		if b := c[i]; hour < b.hour {
			a := c[i-1]
			return a.celsius + (hour-a.hour)/(b.hour-a.hour)*(b.celsius-a.celsius)
		}
	}
	return c[len(c)-1].celsius
}

// off returns the course that a thermometer tells which reads too high by degrees.
func (c chamber) off(degrees float64) chamber {
	read := make(chamber, len(c))
	for i, w := range c {
		read[i] = warmth{w.hour, w.celsius + degrees}
	}
	return read
}

func flat(celsius float64) chamber { return chamber{{0, celsius}} }

// stepped is a chamber that is set lower after some hours, twice; half an hour
// passes until it is.
func stepped(first, second, third, hours, more float64) chamber {
	const turning = 0.5
	return chamber{
		{0, first}, {hours, first}, {hours + turning, second}, {hours + more, second}, {hours + more + turning, third},
	}
}

// sawtooth is a chamber that goes up and down about a mean, for example that of
// a thermostat with a wide gap, or of day and night.
func sawtooth(mean, swing, period, until float64) chamber {
	c := chamber{{0, mean}}
	for k := 0; ; k++ {
		hour := (float64(k) + 0.5) * period / 2
		if hour > until {
			return c
		}
		c = append(c, warmth{hour, mean + swing*math.Pow(-1, float64(k))})
	}
}

// cardinal are the temperatures that bound the growth of a bacterium, in °C.
type cardinal struct{ least, best, most float64 }

// gamma is the growth at a temperature as a part of that at the best one:
//
//	(T-Tmax)(T-Tmin)² / ((Topt-Tmin)((Topt-Tmin)(T-Topt) - (Topt-Tmax)(Topt+Tmin-2T)))
//
// between Tmin and Tmax, 0 outside. Source: Rosso, Lobry and Flandrois, An
// unexpected correlation between cardinal temperatures of microbial growth,
// Journal of Theoretical Biology 162, 1993, 447-463 (recalled).
func (c cardinal) gamma(t float64) float64 {
	if t <= c.least || t >= c.most {
		return 0
	}
	span := c.best - c.least
	return (t - c.most) * (t - c.least) * (t - c.least) /
		(span * (span*(t-c.best) - (c.best-c.most)*(c.best+c.least-2*t)))
}
