package drying

import (
	"fmt"
	"math"

	"greenweight/domain/air"
	"greenweight/domain/quantity"
)

// What the bound of a day's loss takes where it is not told, each on the side
// that lets the air take more.
const (
	// boundSpeed is the fastest air of early drying, m/s (recalled).
	boundSpeed = 0.5
	// boundHumidity is a room in dry frost, percent: common practice.
	boundHumidity = 25.0
	// hygrometerError is what a hygrometer may read high, in points, and
	// correlationError what the correlation of the film may read low. Sources:
	// common practice, and that of air.FilmConductance.
	hygrometerError, correlationError = 5.0, 1.3
	// wetSurface is the water activity of fresh mixture, rounded up: 0.95 to 0.97
	// (Techniques de l'Ingénieur F6507, section 5.1).
	wetSurface = 0.98
	// mixtureDensity in g/mL of stuffed sausage (recalled, 1.0 to 1.06).
	mixtureDensity = 1.03
)

// fastest returns the most that the piece can lose in a day, and whether enough
// is known to tell: its diameter and the temperature of the room.
func (o Order) fastest() (rate quantity.LossRate, told bool, err error) {
	diameter, sized := o.Diameter.Get()
	temperature, warm := o.Temperature.Get()
	if !sized || !warm {
		return rate, false, nil
	}
	humidity, err := quantity.HumidityPercent(math.Max(o.Humidity.Or(quantity.MustHumidityPercent(boundHumidity)).Percent()-hygrometerError, 0))
	if err != nil {
		return rate, false, err
	}
	bound, err := air.DryingBound(
		diameter, temperature, humidity, quantity.MustWaterActivity(wetSurface),
		o.AirSpeed.Or(quantity.MustMetresPerSecond(boundSpeed)), quantity.MustGramsPerMillilitre(mixtureDensity))
	if err != nil {
		return rate, false, fmt.Errorf("the most that the air can take: %w", err)
	}
	rate, err = quantity.LossPercentPerDay(bound.PercentPerDay() * correlationError)
	return rate, rate.PercentPerDay() > 0, err
}

// surface returns the natural logarithm of how the Biot number of a room
// compares with that of the usual one: with the vapour that the air can hold, and
// the film of air in series with a casing that resists as much as the usual
// film. The diffusivity, which stands in the Biot number too, is that of the
// room's temperature over the usual one's.
func (o Order) surface(millimetres, diffusivities float64) (float64, error) {
	usual := quantity.MustCelsius(usedCelsius)
	temperature := o.Temperature.Or(usual)
	here, err := air.SaturationPressure(temperature)
	if err != nil {
		return 0, fmt.Errorf("the vapour in the room: %w", err)
	}
	there, err := air.SaturationPressure(usual)
	if err != nil {
		return 0, err
	}
	log := math.Log(here.Kilopascals() / there.Kilopascals() / diffusivities)
	speed, told := o.AirSpeed.Get()
	if !told {
		return log, nil
	}
	diameter, err := quantity.Millimetres(millimetres)
	if err != nil {
		return 0, err
	}
	// Air that stands still moves by itself.
	const stillest = 0.05
	moving, err := quantity.MetresPerSecond(math.Max(speed.MetresPerSecond(), stillest))
	if err != nil {
		return 0, err
	}
	film, err := air.FilmConductance(diameter, temperature, moving)
	if err != nil {
		return 0, fmt.Errorf("the film on the piece: %w", err)
	}
	usualFilm, err := air.FilmConductance(diameter, temperature, quantity.MustMetresPerSecond(usedSpeed))
	if err != nil {
		return 0, err
	}
	ratio := film.MetresPerSecond() / usualFilm.MetresPerSecond()
	return log + math.Log(2*ratio/(1+ratio)), nil
}
