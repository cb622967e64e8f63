package moisture

import (
	"fmt"
	"math"
	"slices"
	"time"

	"greenweight/domain/air"
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// How fast water moves. Sources: DiffusivitySource.
const (
	usedDiffusivity = 4.5e-11 // m²/s at 13 °C and 20 percent of fat
	perFat          = 0.015   // what each point of fat takes of it: -18 percent over 12 points
	usedFat         = 20.0
	leastByFat      = 0.3  // as far as that is carried: this project's own
	activation      = 30e3 // J/mol, 25 to 35 (recalled)
)

// DiffusivitySource cites how fast water moves in a sausage.
func DiffusivitySource() source.Citation {
	return source.Citation{
		Title: "Palumbo, Komanowsky, Metzger and Smith, Kinetics of pepperoni drying, Journal of Food Science 42(4)", Year: 1977,
		Section: "pages 1029 to 1033, abstract", Trust: source.Read,
		Note: "5.7, 5.6 and 4.7e-11 m²/s at 13.3, 17.4 and 25.1 percent of fat; the median of 4.5e-11 at 13 °C for use with a surface that resists, and the fall with temperature, are this project's reading of it and of practice",
	}
}

// EstimatedDiffusivity returns how fast water moves in a mix at 13 °C.
//
//	4.5e-11 m²/s * max(1 - 0.015 (fat - 20), 0.3),  fat in percent of the green mass
func EstimatedDiffusivity(fat quantity.Fraction) (quantity.Diffusivity, error) {
	return quantity.SquareMetresPerSecond(usedDiffusivity * math.Max(1-perFat*(fat.Percent()-usedFat), leastByFat))
}

// Conductance returns how well the membrane lets vapour through at a temperature,
// per difference of its concentration: P R T with the permeance P.
func (m Membrane) Conductance(t quantity.Temperature) (quantity.Speed, error) {
	p, err := m.Permeance()
	if err != nil {
		return quantity.Speed{}, err
	}
	return quantity.MetresPerSecond(p.KilogramsPerSquareMetreSecondPascal() * gasVapour * 1000 * t.Kelvin())
}

// Permeance returns the vapour that passes the membrane per difference of its
// pressure: the transmission over the saturation pressure at the temperature of
// the test times the difference of humidity. It is taken not to change with
// temperature.
func (m Membrane) Permeance() (quantity.Permeance, error) {
	if err := m.Validate(); err != nil {
		return quantity.Permeance{}, err
	}
	saturated, err := air.SaturationPressure(m.TestTemperature)
	if err != nil {
		return quantity.Permeance{}, err
	}
	return quantity.KilogramsPerSquareMetreSecondPascal(
		m.Transmission.GramsPerSquareMetreDay() / 1000 / secondsPerDay / (saturated.Kilopascals() * 1000 * m.TestDifference.Float()))
}

// Course is what becomes of a piece.
type Course struct {
	Points []Point // at the times asked for, in their order
	Steps  int     // that the solver took, refused ones too
}

// Point is a piece at a time.
type Point struct {
	At       time.Duration
	Loss     quantity.Loss
	Rate     quantity.LossRate
	Moisture quantity.Fraction // of what is left of the piece
	// Thickness is the diameter of a cylinder.
	Thickness quantity.Length
	// Water activity at the surface; of the outer 3 mm, of the outer third (of the
	// radius, or of the thickness to the side that dries) and of the centre, each
	// of its mean moisture; and of the mean moisture of the whole, which is what a
	// minced sample would show.
	Surface, Rim, OuterThird, Core, Mean quantity.WaterActivity
	// RimMoisture and CoreMoisture are water per mass, of the outer third and of
	// the rest.
	RimMoisture, CoreMoisture quantity.Fraction
	// Biot is how much the inside resists against the surface: R k rho (daw/dX) /
	// (D rho_s) at the surface. Below 1 the surface rules, above 10 the inside.
	Biot quantity.Ratio
	// FourierPerDay is D/R², of the temperature, moisture and radius of then, per
	// day.
	FourierPerDay quantity.Ratio

	state   state
	surface float64
	piece   *body
}

// body is a piece as the solver sees it.
type body struct {
	problem
	solids      float64 // per green mass
	green       float64 // green radius, or thickness to the side that dries, m
	thickness   float64 // green, m
	diffusivity float64 // at 13 °C, m²/s
	perSolids   float64 // green volume of a kg of dry solids, m³
	casing      float64 // resistance, s/m
	membrane    float64 // resistance times temperature, s K/m
	isothermal  bool
}

func (p Piece) body() (*body, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	iso, err := newTable(p.Mix)
	if err != nil {
		return nil, err
	}
	estimate, err := EstimatedDiffusivity(p.Mix.Fat)
	if err != nil {
		return nil, err
	}
	water := p.Mix.Water.Float()
	density := p.Density.Or(quantity.MustGramsPerMillilitre(usedDensity)).GramsPerMillilitre()
	b := &body{
		problem: problem{
			cells: p.Cells, cylinder: p.Shape == Cylinder, iso: iso, fall: p.MoistureFall.Float(),
			x0: water / (1 - water), beta: (1 - water) * density,
		},
		solids: 1 - water, green: p.Thickness.Metres() / 2, thickness: p.Thickness.Metres(), isothermal: p.Isothermal,
		perSolids:   1 / (1000 * density * (1 - water)),
		diffusivity: p.Diffusivity.Or(estimate).SquareMetresPerSecond() * p.Quicker.Or(quantity.MustRatio(1)).Float(),
	}
	if p.Shape == SlabOneSide {
		b.green = b.thickness
	}
	if b.cells == 0 {
		b.cells = usedCells
	}
	if k, resists := p.Casing.Conductance(); resists {
		b.casing = 1 / k.Mid.MetresPerSecond()
	}
	if k, known := p.CasingConductance.Get(); known {
		b.casing = 1 / k.MetresPerSecond()
	}
	if m, known := p.Membrane.Get(); known {
		k, err := m.Conductance(quantity.MustCelsius(0))
		if err != nil {
			return nil, err
		}
		b.membrane = freezing / k.MetresPerSecond()
	}
	return b, nil
}

const (
	freezing = 273.15
	// thinner is the diameter, over the green one, with which the film's power of
	// the diameter is found: about that at 40 percent of loss.
	thinner = 0.75
)

// forcing returns what air does to the body.
func (b *body) forcing(w weather, speed quantity.Speed, sealed bool) (forcing, error) {
	f := forcing{d: b.diffusivity * w.quickness / (b.green * b.green), sealed: sealed}
	if sealed {
		return f, nil
	}
	f.vapour, f.drawn = w.vapour, w.drawn
	f.area = b.perSolids / b.green
	if b.cylinder {
		f.area *= 2
	}
	t, err := quantity.Celsius(w.kelvin - freezing)
	if err != nil {
		return f, err
	}
	moving, err := quantity.MetresPerSecond(max(speed.MetresPerSecond(), stillest))
	if err != nil {
		return f, err
	}
	film := func(metres float64) (float64, error) {
		d, err := quantity.Metres(metres)
		if err != nil {
			return 0, err
		}
		k, err := air.FilmConductance(d, t, moving)
		if err != nil {
			return 0, fmt.Errorf("the film on the piece: %w", err)
		}
		return k.MetresPerSecond(), nil
	}
	k, err := film(b.thickness)
	if err != nil {
		return f, err
	}
	f.film = 1 / k
	if b.cylinder {
		thin, err := film(thinner * b.thickness)
		if err != nil {
			return f, err
		}
		f.power = math.Log(thin/k) / -math.Log(thinner)
	}
	f.other = b.casing + b.membrane/w.kelvin
	if !b.isothermal {
		f.cooling = cooling(w, k)
	}
	return f, nil
}

// cooling returns what evaporation takes of the flux by cooling the surface, as a
// resistance at aw 1. The heat for a flux J comes through the film and by
// radiation, so that the surface is J L/h colder than the room; there the vapour
// of saturated air is less by the part e J L/h, and
//
//	J = (rho aw (1 - e J L/h) - drawn)/R,  or  J = (rho aw - drawn)/(R + rho aw e L/h)
//
// in which
//
//   - rho: vapour of saturated air at the temperature of the room, kg/m³
//   - e: its relative slope by temperature, 17.62*243.12/(243.12+t)² - 1/T
//   - L: heat of evaporation, 2501 - 2.36 t kJ/kg
//   - h: k rho_air c (Le)^(2/3) by the analogy of heat and vapour, Le 0.85, and
//     half of a black surface's radiation, because half of what a hanging piece
//     sees is as cold as itself (this project's own)
//
// Sources: Lewis analogy, Incropera and DeWitt, Fundamentals of Heat and Mass
// Transfer, section 6.7 (recalled); slope of the Magnus formula, as in package air.
func cooling(w weather, film float64) float64 {
	const (
		density   = 101325 / 287.05 // kg K/m³ of air
		heat      = 1006            // J/(kg K)
		lewis     = 0.85
		radiation = 4 * 5.670374e-8 * 0.5
	)
	celsius := w.kelvin - freezing
	slope := 17.62*243.12/((243.12+celsius)*(243.12+celsius)) - 1/w.kelvin
	latent := 1e3 * (2501 - 2.36*celsius)
	h := film*density/w.kelvin*heat*math.Pow(lewis, 2.0/3) + radiation*w.kelvin*w.kelvin*w.kelvin
	return w.vapour * slope * latent / h
}

func (b *body) spans(schedule []Step) ([]span, error) {
	var all []span
	for _, s := range schedule {
		means, err := s.averages()
		if err != nil {
			return nil, err
		}
		for _, w := range means {
			f, err := b.forcing(w, s.Air.Speed, s.Sealed)
			if err != nil {
				return nil, err
			}
			all = append(all, span{s.For.Seconds() / float64(len(means)), f})
		}
	}
	return all, nil
}

// Simulate returns what becomes of a piece at the times asked for, counted from
// when it is hung; those after the end of the schedule are left out. It takes a
// few hundred steps of the solver, each of some ten operations per cell, and at
// most 100 000.
//
// It reports fault.Invalid for a piece ("piece") or a schedule ("steps") that has
// no meaning, what the air reports of itself, and fault.NoSolution ("no-course")
// when the steps do not suffice.
func Simulate(p Piece, schedule []Step, at []time.Duration) (Course, error) {
	var bad fault.Collector
	b, err := p.body()
	if kind(err) == fault.Invalid {
		bad.AddError(fault.At("piece"), codeInvalid, err)
	} else if err != nil {
		return Course{}, err
	}
	if _, err := validate(schedule); err != nil {
		bad.AddError(fault.At("steps"), codeInvalid, err)
	}
	if err := bad.Err(codeInvalid, "the course has no meaning as it is asked for"); err != nil {
		return Course{}, err
	}
	spans, err := b.spans(schedule)
	if err != nil {
		return Course{}, err
	}
	var c Course
	seconds := make([]float64, len(at))
	for i, t := range at {
		seconds[i] = t.Seconds()
	}
	c.Steps, err = b.run(spans, seconds, tolerance, func(i int, s state, r *rates, a *forcing) error {
		point, err := b.point(s, r, a)
		point.At = at[i]
		c.Points = append(c.Points, point)
		return err
	})
	if err != nil {
		return Course{}, err
	}
	slices.SortStableFunc(c.Points, func(a, b Point) int { return int(min(max(a.At-b.At, -1), 1)) })
	return c, nil
}

func kind(err error) fault.Kind {
	if f, ok := err.(*fault.Error); ok { //nolint:errorlint // Validate returns it bare
		return f.Kind
	}
	return 0
}

const (
	// tolerance of a step, as a part of the green moisture: see the tests for what
	// it comes to over a course.
	tolerance = 2e-4
	mostTried = 100_000
)

// run follows a body through spans and calls see at each of the times, in order of
// time, and with the forcing before it. It returns how many steps it tried.
func (p *problem) run(spans []span, at []float64, tol float64, see func(int, state, *rates, *forcing) error) (int, error) {
	order := make([]int, len(at))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case at[i] < at[j]:
			return -1
		case at[i] > at[j]:
			return 1
		}
		return 0
	})
	st := newStepper(p)
	now, next := state{x: make([]float64, p.cells)}, state{x: make([]float64, p.cells)}
	for i := range now.x {
		now.x[i] = p.x0
	}
	tried, begun := 0, 0.0
	step := firstStep
	for k := range spans {
		sp := &spans[k]
		t := 0.0
		for {
			for len(order) > 0 && at[order[0]] <= begun+t+sp.seconds*1e-12 {
				st.evaluate(now.x, &sp.forcing, st.at, false)
				if err := see(order[0], now, st.at, &sp.forcing); err != nil {
					return tried, err
				}
				order = order[1:]
			}
			left := sp.seconds - t
			if left <= sp.seconds*1e-12 {
				break
			}
			until := left
			if len(order) > 0 {
				until = min(until, at[order[0]]-begun-t)
			}
			dt := min(step, until)
			if dt < until && dt > until/2 { // no last sliver
				dt = until / 2
			}
			if tried++; tried > mostTried {
				return tried, &fault.Error{Kind: fault.NoSolution, Code: "no-course", Detail: "the water could not be followed to the end of the schedule"}
			}
			e := st.try(&now, &next, &sp.forcing, dt) / tol
			if !(e <= 1) {
				step = dt * max(0.2, 0.9/math.Sqrt(e))
				if math.IsNaN(e) || math.IsInf(e, 0) {
					step = dt / 5
				}
				continue
			}
			grown := dt * min(4, 0.9/math.Sqrt(max(e, 1e-6)))
			if dt < until || grown > step {
				step = grown
			}
			now, next = next, now
			t += dt
			if dt >= until {
				if until == left {
					t = sp.seconds
				}
			}
		}
		begun += sp.seconds
	}
	return tried, nil
}

const firstStep = 60.0 // s
