package acidity

import "math"

// target is the pH that a fermentation has to reach.
const target = 5.3

// horizon is how long a computed lot is followed, in hours from the start: one
// that has not reached the target by then never does.
const horizon = 240

// ground is what any truth stands on: the core of a piece that comes out of the
// cold and follows the chamber with a delay.
type ground struct {
	chamber chamber
	core    float64 // temperature at the start, °C
	delay   float64 // time constant of warming, h
	species cardinal
}

// growth is a truth that is made of what happens, not of a curve: bacteria with
// a lag grow up to a most, make acid while they grow and after (Luedeking and
// Piret), of a sugar that runs out, in a meat that buffers, and are held back by
// the acid. Nothing of it is what the projection computes with.
//
//		dn/dt = m q/(1+q) (1-n) n,  dq/dt = m q,  m = rate γ(T) h(pH)
//		dP/dt = (a dn/dt + b γ(T) h(pH) n) S/(S+half),  S = sugar - P
//		dpH/dt = -(dP/dt)/B(pH),  B = buffer (1 + bend (5.5 - pH))
//		dT/dt = (chamber - T)/delay
//
//	  - n: bacteria as a part of the most there can be, q: how ready they are
//	  - P, S: acid made and sugar left, as mmol of acid in a kg
//	  - h: the cardinal pH model with 4.3, 6.2 and 8.5, 1 at its best
//
// Sources: Baranyi and Roberts, A dynamic approach to predicting bacterial growth
// in food, International Journal of Food Microbiology 23, 1994, 277-294;
// Luedeking and Piret, A kinetic study of the lactic acid fermentation, Journal
// of Biochemical and Microbiological Technology and Engineering 1, 1959, 393-412
// (both recalled). The numbers are drawn, see draw.go.
type growth struct {
	ground
	start     float64 // n at the start
	readiness float64 // q at the start
	rate      float64 // at the best temperature and pH, /h
	a         float64 // acid of growth, mmol/kg from none to the most
	b         float64 // acid of the most bacteria at the best temperature and pH, mmol/kg h
	sugar     float64 // mmol/kg of acid
	buffer    float64 // mmol/(kg pH) at pH 5.5
	bend      float64 // how much more it buffers for each pH below
	ph        float64 // at the start
}

// halfSugar is the sugar at which acid comes half as fast, mmol/kg of acid.
const halfSugar = 1.5

// acidity is h.
func acidityGamma(ph float64) float64 {
	const least, best, most = 4.3, 6.2, 8.5
	if ph <= least || ph >= most {
		return 0
	}
	product := (ph - least) * (ph - most)
	return product / (product - (ph-best)*(ph-best))
}

// state is where a growth is: ln n, ln q, P, pH and the temperature of the core.
type state [5]float64

const (
	lnBacteria = iota
	lnReadiness
	acid
	acidPH
	core
)

func (g growth) initial() state {
	return state{math.Log(g.start), math.Log(g.readiness), 0, g.ph, g.core}
}

// slope is the right side of the equations at an hour.
func (g growth) slope(hour float64, s state) state {
	n, q := math.Exp(s[lnBacteria]), math.Exp(s[lnReadiness])
	held := g.species.gamma(s[core]) * acidityGamma(s[acidPH])
	m := g.rate * held
	growing := m * q / (1 + q) * (1 - n) // of ln n
	left := math.Max(g.sugar-s[acid], 0)
	made := (g.a*growing*n + g.b*held*n) * left / (left + halfSugar)
	return state{growing, m, made, -made / (g.buffer * (1 + g.bend*(5.5-s[acidPH]))), (g.chamber.at(hour) - s[core]) / g.delay}
}

// curve is the pH at hours 0, step, 2 step and so on.
type curve struct {
	step float64
	ph   []float64
}

// solve integrates the equations with the classical method of Runge and Kutta,
// order 4, up to the horizon.
func (g growth) solve(step float64) curve {
	s := g.initial()
	c := curve{step: step, ph: []float64{s[acidPH]}}
	for k := 0; float64(k)*step < horizon; k++ {
		s = advance(g.slope, float64(k)*step, step, s)
		c.ph = append(c.ph, s[acidPH])
	}
	return c
}

func advance(slope func(float64, state) state, hour, step float64, s state) state {
	k1 := slope(hour, s)
	k2 := slope(hour+step/2, s.plus(step/2, k1))
	k3 := slope(hour+step/2, s.plus(step/2, k2))
	k4 := slope(hour+step, s.plus(step, k3))
	for i := range s {
		s[i] += step / 6 * (k1[i] + 2*k2[i] + 2*k3[i] + k4[i])
	}
	return s
}

func (s state) plus(step float64, slope state) state {
	for i := range s {
		s[i] += step * slope[i]
	}
	return s
}

// at returns the pH at an hour, on straight lines.
func (c curve) at(hour float64) float64 {
	at := math.Min(hour/c.step, float64(len(c.ph)-1))
	i := min(int(at), len(c.ph)-2)
	return c.ph[i] + (at-float64(i))*(c.ph[i+1]-c.ph[i])
}

// reaches returns the hour at which the pH first is at the target, +Inf when it
// is not by the horizon.
func (c curve) reaches() float64 {
	if c.ph[0] <= target {
		return 0
	}
	for i := 1; i < len(c.ph); i++ {
		if before, now := c.ph[i-1], c.ph[i]; now <= target {
			return c.step * (float64(i-1) + (before-target)/(before-now))
		}
	}
	return math.Inf(1)
}

// sigmoid is a truth that is a curve, in the time of a warm core: for comparison
// with growth, since fitted models are made of such curves.
//
//	pH(t) = pH0 - drop F(τ),  τ = ∫ γ(T) dt / γ(24 °C)
//	Gompertz: F = exp(-exp(fastest e/drop (lag - τ) + 1))
//	logistic: F = 1/(1 + exp(4 fastest/drop (lag - τ) + 2))
//
// Source: Zwietering and others, Modeling of the bacterial growth curve, Applied
// and Environmental Microbiology 56, 1990, 1875-1881 (recalled).
type sigmoid struct {
	ground
	logistic bool
	ph       float64 // at the start, but for what F is at 0
	drop     float64
	fastest  float64 // pH/h at 24 °C
	lag      float64 // h at 24 °C
}

// usual is the temperature at which rates are told, °C.
const usual = 24

func (s sigmoid) part(tau float64) float64 {
	if s.logistic {
		return 1 / (1 + math.Exp(4*s.fastest/s.drop*(s.lag-tau)+2))
	}
	return math.Exp(-math.Exp(s.fastest*math.E/s.drop*(s.lag-tau) + 1))
}

func (s sigmoid) solve(step float64) curve {
	warm := state{core: s.core} // acid stands for τ
	slope := func(hour float64, w state) state {
		return state{acid: s.species.gamma(w[core]) / s.species.gamma(usual), core: (s.chamber.at(hour) - w[core]) / s.delay}
	}
	c := curve{step: step, ph: []float64{s.ph - s.drop*s.part(0)}}
	for k := 0; float64(k)*step < horizon; k++ {
		warm = advance(slope, float64(k)*step, step, warm)
		c.ph = append(c.ph, s.ph-s.drop*s.part(warm[acid]))
	}
	return c
}
