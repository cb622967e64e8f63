package drying

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Earlier is a piece of an earlier lot, as far as it was weighed: best to its
// finish. Pieces of one lot have the same name of it; one without a name is a lot
// of its own. What it was to reach does not matter.
type Earlier struct {
	Lot   string
	Order Order
}

// Learned is what earlier lots in the same room and casing tell of the next one,
// beyond what its diameter, air and composition say. The zero value is nothing.
type Learned struct {
	lots   int
	off    [3]float64 // of the logarithms of rate and Biot number, and of z
	spread *mat.SymDense
	told   []lotTold
}

// Lots returns from how many lots something was learned.
func (l Learned) Lots() int { return l.lots }

// lotTold is what the weigh-ins of a lot say, without what was known before: the
// precision and what it weighs, of the three unknowns.
type lotTold struct {
	precision *mat.SymDense
	weighted  *mat.VecDense
	rate      float64
}

// How lots of one room and casing differ, as standard deviations of the three
// unknowns, this project's own: a lot is not the same again, for its meat, its
// grind and its season are others.
var betweenLots = [3]float64{0.25, 0.4, 0.5}

// mostEarlier bounds the work of learning.
const mostEarlier = 60

// Learn returns what earlier pieces tell. Each is fitted by itself; what its
// weigh-ins add to the prior is told apart from the prior, so that a lot that was
// weighed once tells little. Lots lie about a mean of the room with a spread
// between them,
//
//	unknowns of a lot = mean of the room + its own, normal
//
// and the next lot is another one of them: its prior is the mean as far as it is
// known, and never narrower than the spread between lots, which is widened where
// the lots at hand lie farther apart. Several pieces of a lot count as ProjectRack
// has it. Few lots move little; with many the mean of the room is known, and the
// spread between lots is left.
//
// It reports the faults of Project below earlier/0, 1 and so on, and earlier
// itself where there are more than 60. The cost is that of a fit for each.
func Learn(earlier []Earlier) (Learned, error) {
	var bad fault.Collector
	if len(earlier) > mostEarlier {
		bad.Add(fault.At("earlier"), "out-of-range", "at most %d earlier pieces are learned from, got %d", mostEarlier, len(earlier))
		return Learned{}, bad.Err("invalid-value", "nothing can be learned")
	}
	var names []string
	lots := map[string][]lotTold{}
	for i, e := range earlier {
		told, seen, err := e.Order.tells()
		if err != nil {
			bad.AddError(fault.At("earlier", i), "invalid-value", err)
			continue
		}
		if !seen {
			continue
		}
		name := "lot " + e.Lot
		if e.Lot == "" {
			name = fmt.Sprintf("piece %d", i)
		}
		if _, is := lots[name]; !is {
			names = append(names, name)
		}
		lots[name] = append(lots[name], told)
	}
	if err := bad.Err("invalid-value", "nothing can be learned"); err != nil {
		return Learned{}, err
	}
	var l Learned
	for _, name := range names {
		l.told = append(l.told, joined(lots[name]))
	}
	l.lots = len(l.told)
	return l, nil
}

// joined returns what the pieces of a lot say together.
func joined(pieces []lotTold) lotTold {
	n := float64(len(pieces))
	part := 1 / (1 + (n-1)*sharedPart)
	all := lotTold{mat.NewSymDense(3, nil), mat.NewVecDense(3, nil), 0}
	for _, p := range pieces {
		all.precision.AddSym(all.precision, scaled(p.precision, part))
		all.weighted.AddScaledVec(all.weighted, part, p.weighted)
		all.rate += p.rate / n
	}
	return all
}

func scaled(m *mat.SymDense, by float64) *mat.SymDense {
	out := mat.NewSymDense(3, nil)
	out.ScaleSym(by, m)
	return out
}

// tells fits a piece and returns what its weigh-ins say; false where none counts.
func (o Order) tells() (lotTold, bool, error) {
	o.Learned = Learned{}
	o.Activity, o.Ratio = Order{}.Activity, Order{}.Ratio
	o.Target = quantity.MustLossPercent(mostWater / 2) // it does not matter
	_, seen, post, err := o.fitted()
	if err != nil || len(seen) == 0 {
		return lotTold{}, false, err
	}
	p := &post.prior
	var mean [3]float64
	var second [3][3]float64
	first := 0
	for _, nd := range post.nodes {
		for _, c := range post.cells[first:nd.end] {
			at := [3]float64{nd.logRate - p.logRate, curvesByBiot()[nd.curve].logBiot - p.logBiot, c.z}
			for i := range at {
				mean[i] += c.weight * at[i]
				for j := range at {
					second[i][j] += c.weight * at[i] * at[j]
				}
			}
		}
		first = nd.end
	}
	covariance := mat.NewSymDense(3, nil)
	for i := range mean {
		for j := range i + 1 {
			covariance.SetSym(i, j, second[i][j]-mean[i]*mean[j])
		}
	}
	var after mat.SymDense
	if !invert(&after, covariance) {
		return lotTold{}, false, nil
	}
	t := lotTold{mat.NewSymDense(3, nil), mat.NewVecDense(3, nil), mean[0]}
	t.weighted.MulVec(&after, mat.NewVecDense(3, mean[:]))
	t.precision.CopySym(&after)
	for i, sd := range p.spreads() {
		t.precision.SetSym(i, i, after.At(i, i)-1/square(sd))
	}
	positive(t.precision)
	return t, true, nil
}

// spreads returns the standard deviations of the three unknowns before any
// weigh-in.
func (p *prior) spreads() [3]float64 { return [3]float64{p.logRateSD, p.logBiotSD, 1} }

// invert puts the inverse of a positive definite matrix into to; false where it is
// none.
func invert(to, of *mat.SymDense) bool {
	var c mat.Cholesky
	return c.Factorize(of) && c.InverseTo(to) == nil
}

// positive leaves out what a precision says with less than nothing: where a piece
// left an unknown as wide as it was, errors of rounding may make it so.
func positive(m *mat.SymDense) {
	var e mat.EigenSym
	if !e.Factorize(m, true) {
		m.Zero()
		return
	}
	values := e.Values(nil)
	var v mat.Dense
	e.VectorsTo(&v)
	for i := range 3 {
		for j := range i + 1 {
			sum := 0.0
			for k, value := range values {
				sum += math.Max(value, 0) * v.At(i, k) * v.At(j, k)
			}
			m.SetSym(i, j, sum)
		}
	}
}

// after puts what was learned into a prior. With T the spread between lots, B that
// of the mean of the room before, and of each lot the precision W and what it
// weighs w:
//
//	precision of the mean = 1/B + sum of W (1 + T W)^-1
//	the mean, times that  = sum of (1 + W T)^-1 w
//	spread of the next    = that of the mean + T
func (l *Learned) after(p *prior) {
	if l.lots == 0 {
		return
	}
	between := betweenLots
	rates := 0.0
	for _, t := range l.told {
		rates += t.rate / float64(l.lots)
	}
	apart := 0.0
	for _, t := range l.told {
		apart += square(t.rate - rates)
	}
	const asSureAs = 4 // lots
	between[0] = math.Sqrt(math.Max(square(between[0]), (asSureAs*square(between[0])+apart)/(asSureAs+float64(l.lots)-1)))
	precision, weighted := mat.NewSymDense(3, nil), mat.NewVecDense(3, nil)
	spread := mat.NewDense(3, 3, nil)
	for i, sd := range p.spreads() {
		between[i] = math.Min(between[i], 0.9*sd)
		spread.Set(i, i, square(between[i]))
		precision.SetSym(i, i, 1/(square(sd)-square(between[i])))
	}
	for _, t := range l.told {
		var product, one mat.Dense
		product.Mul(t.precision, spread) // W T
		for i := range 3 {
			product.Set(i, i, product.At(i, i)+1)
		}
		if one.Inverse(&product) != nil { // it is 1 and a product of what is positive
			continue
		}
		var weight mat.Dense
		weight.Mul(&one, t.precision) // (1 + W T)^-1 W, which is W (1 + T W)^-1
		for i := range 3 {
			for j := range i + 1 {
				precision.SetSym(i, j, precision.At(i, j)+(weight.At(i, j)+weight.At(j, i))/2)
			}
		}
		var w mat.VecDense
		w.MulVec(&one, t.weighted)
		weighted.AddVec(weighted, &w)
	}
	var covariance mat.SymDense
	if !invert(&covariance, precision) {
		return
	}
	var mean mat.VecDense
	mean.MulVec(&covariance, weighted)
	l.spread = mat.NewSymDense(3, nil)
	for i := range 3 {
		l.off[i] = mean.AtVec(i)
		for j := range i + 1 {
			l.spread.SetSym(i, j, covariance.At(i, j)+spread.At(i, j))
		}
	}
	p.logRate += l.off[0]
	p.logBiot += l.off[1]
	p.logRateSD, p.logBiotSD = math.Sqrt(l.spread.At(0, 0)), math.Sqrt(l.spread.At(1, 1))
	p.tilt = l.spread.At(0, 1) / (p.logRateSD * p.logBiotSD)
	for i := range p.spells {
		s := &p.spells[i]
		s.stops = math.Min(math.Max(s.stops+l.off[2]*s.stopsSD, 0), p.mostStops)
		s.stopsSD *= math.Sqrt(l.spread.At(2, 2))
	}
}

// note says what was learned.
func (l Learned) note() finding.Note {
	lots := "one earlier lot"
	if l.lots > 1 {
		lots = fmt.Sprintf("%d earlier lots", l.lots)
	}
	how := fmt.Sprintf("%.2g times as fast as", math.Exp(l.off[0]))
	if math.Abs(l.off[0]) < 0.05 {
		how = "about as fast as"
	}
	return finding.Note{
		Code: "learned", Member: fault.At("earlier"),
		Text:   fmt.Sprintf("Learned from %s: water moves %s diameter, air and composition alone would say. The next lot is another one, and the bands keep how lots differ.", lots, how),
		Source: source.CommonPractice("the project's own spread between lots of one room and casing"),
	}
}
