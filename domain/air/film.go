package air

import (
	"fmt"
	"math"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// FilmConductance returns how well the film of air on a sausage lets vapour
// through, when air flows across it: vapour in kg through a m² and second, per
// kg/m³ of difference, which is m/s.
//
//	Sh = 0.3 + 0.62 Re^(1/2) Sc^(1/3) / (1 + (0.4/Sc)^(2/3))^(1/4) * (1 + (Re/282000)^(5/8))^(4/5)
//	k = Sh D/d,  Re = u d/v,  Sc = v/D
//
// in which
//
//   - d: diameter, u: speed of the air
//   - v: kinematic viscosity of air, m²/s, by Sutherland's formula
//     1.716e-5 (T/273.15)^1.5 (273.15 + 110.4)/(T + 110.4) Pa s, over p/(287.05 T)
//   - D: diffusivity of vapour in air, 2.178e-5 (T/273.15)^1.81 m²/s
//
// It was fitted for a single cylinder of heat, and is good to 20 percent for Re
// Sc > 0.2; sausages that shade each other have less, and air that stands still
// more, because it moves by itself. It reports fault.Invalid when there is no
// diameter, and fault.OutsideModel for air that is too still ("air-speed") or as
// fast as Re > 10 million. See [FilmSource].
func FilmConductance(diameter quantity.Length, t quantity.Temperature, speed quantity.Speed) (quantity.Speed, error) {
	if err := covered(t); err != nil {
		return quantity.Speed{}, err
	}
	var bad fault.Collector
	if diameter.IsZero() {
		bad.Add(fault.At("diameter"), "minimum", "there must be more than 0 mm of diameter")
		return quantity.Speed{}, bad.Err("invalid-value", "air flows round something")
	}
	const slowest, fastest = 0.2, 1e7
	viscosity, diffusivity := kinematicViscosity(t.Kelvin()), vapourDiffusivity(t.Kelvin())
	re, sc := speed.MetresPerSecond()*diameter.Metres()/viscosity, viscosity/diffusivity
	if !(re*sc > slowest && re <= fastest) {
		return quantity.Speed{}, &fault.Error{
			Kind: fault.OutsideModel, Code: "air-speed",
			Detail: fmt.Sprintf("the flow of %s round %s is outside what the film is known for", speed, diameter),
		}
	}
	return quantity.MetresPerSecond(conductance(diameter.Metres(), t.Kelvin(), speed.MetresPerSecond()))
}

// conductance is FilmConductance of a diameter in m and a speed in m/s, without
// its bounds.
func conductance(metres, kelvin, speed float64) float64 {
	viscosity, diffusivity := kinematicViscosity(kelvin), vapourDiffusivity(kelvin)
	return sherwood(speed*metres/viscosity, viscosity/diffusivity) * diffusivity / metres
}

func sherwood(re, sc float64) float64 {
	return 0.3 + 0.62*math.Sqrt(re)*math.Cbrt(sc)/math.Pow(1+math.Pow(0.4/sc, 2.0/3), 0.25)*
		math.Pow(1+math.Pow(re/282000, 0.625), 0.8)
}

// kinematicViscosity returns that of dry air at the standard pressure, in m²/s.
func kinematicViscosity(kelvin float64) float64 {
	const (
		atFreezing = 1.716e-5 // Pa s
		sutherland = 110.4    // K
		gasAir     = 0.28705  // kJ/(kg K)
	)
	dynamic := atFreezing * math.Pow(kelvin/freezing, 1.5) * (freezing + sutherland) / (kelvin + sutherland)
	return dynamic / (standard / (gasAir * kelvin))
}

// vapourDiffusivity returns that of vapour in air at the standard pressure, in
// m²/s.
func vapourDiffusivity(kelvin float64) float64 {
	const atFreezing, exponent = 2.178e-5, 1.81
	return atFreezing * math.Pow(kelvin/freezing, exponent)
}

// slowestBound is the speed of air below which DryingBound takes this one: along
// a surface that evaporation has cooled by 2 K, air moves by itself, and does
// what 0.03 to 0.04 m/s would do (by hand, after Churchill and Chu's formula of
// 1975 for free convection on a cylinder).
const slowestBound = 0.05

// DryingBound returns the most that a sausage can lose in a day while its
// surface is as wet as surface says, and as warm as the air: what the film lets
// through, from the surface of a long cylinder of the density.
//
//	100 * 86400 * k (aw - humidity) rho_sat * 4/(density * d)   percent of its weight a day
//
// in which k is that of FilmConductance, and rho_sat the vapour in saturated air,
// kg/m³. Evaporation cools the surface, the casing and the meat hold water back
// and sausages shade each other: real first days are a third or half of it.
// A loss above it comes from a wrong weight, or from other air than was said. It
// is negative where the air is wetter than the surface. A speed below 0.05 m/s
// counts as that.
//
// It reports what FilmConductance reports, and fault.Invalid when there is no
// density.
func DryingBound(
	diameter quantity.Length, t quantity.Temperature, humidity quantity.RelativeHumidity,
	surface quantity.WaterActivity, speed quantity.Speed, density quantity.Density,
) (quantity.LossRate, error) {
	var bad fault.Collector
	if density.IsZero() {
		bad.Add(fault.At("density"), "minimum", "there must be more than 0 g/mL of density")
	}
	if diameter.IsZero() {
		bad.Add(fault.At("diameter"), "minimum", "there must be more than 0 mm of diameter")
	}
	if err := bad.Err("invalid-value", "there must be something that dries"); err != nil {
		return quantity.LossRate{}, err
	}
	if speed.MetresPerSecond() < slowestBound {
		least, err := quantity.MetresPerSecond(slowestBound)
		if err != nil {
			return quantity.LossRate{}, err
		}
		speed = least
	}
	if _, err := FilmConductance(diameter, t, speed); err != nil {
		return quantity.LossRate{}, err
	}
	return quantity.LossPercentPerDay(mostLoss(
		diameter.Metres(), t.Kelvin(), speed.MetresPerSecond(), surface.Float()-humidity.Float(), density.GramsPerMillilitre()))
}

// mostLoss is DryingBound in percent a day, without its bounds; gap is that of
// the water activity to the humidity.
func mostLoss(metres, kelvin, speed, gap, gramsPerMillilitre float64) float64 {
	const secondsPerDay, percent, kgPerCubicMetre = 86400, 100, 1000
	flux := conductance(metres, kelvin, speed) * gap * vapourDensity(kelvin, 1)
	return percent * secondsPerDay * flux * 4 / (gramsPerMillilitre * kgPerCubicMetre * metres)
}

// FilmSource cites the film of air round a cylinder.
func FilmSource() source.Citation {
	return source.Citation{
		Title: "Churchill and Bernstein, A correlating equation for forced convection from gases and liquids to a circular cylinder in crossflow, J. Heat Transfer 99(2), 300-306",
		Year:  1977, Trust: source.Memory,
		Note: "in the form for mass, with the Schmidt number; good to 20 percent",
	}
}

// DiffusivitySource cites the diffusivity of vapour in air.
func DiffusivitySource() source.Citation {
	return source.Citation{
		Title: "Massman, A review of the molecular diffusivities of H2O, CO2, CH4, CO, O3, SO2, NH3, N2O, NO, and NO2 in air, O2 and N2 near STP, Atmospheric Environment 32(6), 1111-1127",
		Year:  1998, Trust: source.Memory,
	}
}
