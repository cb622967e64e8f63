package drying

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
)

// Rack is pieces of one making that hang together. What each is asked is an order
// of its own: the pieces may be of other diameters, or hung on other days. They
// share the targets, which are those of the first.
type Rack struct {
	Pieces []RackPiece
	Share  quantity.Fraction // of the pieces, of which it is asked when so many are done; all when zero
}

// RackPiece is a piece, or several that are weighed as one.
type RackPiece struct {
	Order Order
	Count int // how many pieces the weights are of; 0 and 1 are one
}

// RackProjection is the answer to a Rack.
type RackProjection struct {
	Model  string
	Pieces []Projection // in the order of the rack; each borrows from the others
	From   time.Time    // the first hanging, from which the days below are counted
	Last   Day          // when the last piece is done
	Enough Day          // when so many pieces are done
	Needed int          // how many those are
	Of     int          // of how many
}

// NotesOf returns what a reader must know of a piece: what is of all alike is told
// with the first, and what is of its weigh-ins below pieces/0, 1 and so on.
func (out *RackProjection) NotesOf(i int) []finding.Note {
	var notes []finding.Note
	for _, n := range out.Pieces[i].Notes {
		own := len(n.Member) > 0 && n.Member[0] == "weigh_ins"
		switch {
		case own:
			n.Member = fault.Path(n.Member).Under(fault.At("pieces", i))
		case i > 0:
			continue
		}
		notes = append(notes, n)
	}
	return notes
}

// How pieces of one making differ, this project's own: with these two, pieces of
// which half of the water is lost differ by about 2.5 points of loss (standard
// deviation), where 2 to 3 are usual and links of one home batch were seen to
// spread from 35 to 40 percent on one day.
const (
	rateBetween  = 0.18 // standard deviation of the logarithm of the rate
	stopsBetween = 1.0  // of the loss at which they stop, in points
	// sharedPart is which part of the variance of a departure from the cylinder
	// pieces of one making share: their room and their mixture. It was 0.7 until the
	// bands of the last piece held in 76 of 100 stages of 12 computed racks, and in
	// 58 early on.
	sharedPart = 0.9
	// mostPieces bounds the work.
	mostPieces = 60
)

// The lattices that a rack is told from.
const (
	latticeStep  = rateBetween / 1.5
	latticeReach = 4 // steps on either side that a piece may be off the mean
	latticeEnds  = 13
	mostShared   = 150
	// roughly is how far the chance may move between two days that are asked for.
	roughly = 0.04
)

// rackPiece is a piece on the way through.
type rackPiece struct {
	out   Projection
	order Order
	count int
	prior prior
	seen  []int
	fit   *fitter
	after float64 // days from the first hanging to its own
	shift int     // of the Biot number, in curves
	ends  float64 // stopsBetween in standard deviations of z
	last  float64 // days of drying at its last observation
}

// shared is one set of what the pieces share.
type shared struct {
	group, rate, end int
	weight           float64
}

// group is a Biot number and an onset: for each piece and rate what its weigh-ins
// say of z, and what is needed to tell its loss.
type group struct {
	curve, onset int
	pieces       [][]latticeNode
}

type latticeNode struct {
	likelihood
	likely            [latticeEnds]float64 // at each z of the lattice, over that of the best
	best              float64              // the logarithm of that; -Inf where the air can't take as much
	pattern, floors   []affine
	begins            []float64
	off               float64 // its rate, off the middle of the prior
	weight, sum, sum2 float64 // of the piece: over z, times z, times z²
}

// ProjectRack answers a rack. Each piece has its own rate and its own end of
// drying, which lie around those of the lot with a spread between pieces; the lot's
// are found from all of them. The weigh-ins of n pieces tell of the lot as much as
// those of n/(1 + (n-1) r) pieces would that share nothing else, with r the part
// of their departures that they share (the design effect of Kish, Survey
// Sampling, 1965, section 5.4), so that ten pieces in one room do not count as ten
// rooms. One piece is the same as Project.
//
// The last day is that of the latest of the pieces given what they share, which
// is later than that of a piece in the middle, the more so the more pieces there
// are.
//
// It reports the faults of Project, those of green_weight and weigh_ins below
// pieces/0, 1 and so on, and pieces itself when there are none or more than 60. The
// cost grows with the pieces: some 20 ms and a megabyte for each.
func ProjectRack(r Rack) (RackProjection, error) {
	all, err := r.prepared()
	if err != nil {
		return RackProjection{}, err
	}
	out := RackProjection{Model: Model, From: all[0].order.hung()}
	for _, p := range all {
		if h := p.order.hung(); h.Before(out.From) {
			out.From = h
		}
		out.Of += p.count
	}
	for i := range all {
		all[i].after = inDays(all[i].order.hung().Sub(out.From))
	}
	out.Needed = out.Of
	if s := r.Share.Float(); s > 0 {
		out.Needed = max(int(math.Ceil(s*float64(out.Of)-1e-9)), 1)
	}
	groups, rates, ends := lattice(all)
	sets := weighTogether(all, groups, rates, ends)
	for i := range all {
		p := &all[i]
		if err := p.out.tell(p.order, p.posterior(i, groups, rates), p.seen); err != nil {
			return RackProjection{}, fmt.Errorf("tell piece %d: %w", i, err)
		}
		out.Pieces = append(out.Pieces, p.out)
	}
	var w writer
	out.days(&w, all, groups, sets, ends)
	return out, w.err
}

// blame records the faults of a piece: those of its weights below pieces/0, 1 and
// so on, and what all pieces share as it is, once. It returns false for an error
// that is no fault. told holds what was recorded of what is shared.
func blame(bad *fault.Collector, told map[string]bool, i int, err error) bool {
	f, is := errors.AsType[*fault.Error](err)
	if !is || len(f.Violations) == 0 {
		return false
	}
	for _, v := range f.Violations {
		own := len(v.Path) > 0 && (v.Path[0] == "green_weight" || v.Path[0] == "weigh_ins" || i > 0 && v.Path[0] == "diameter")
		switch {
		case own:
			bad.Add(v.Path.Under(fault.At("pieces", i)), v.Code, "%s", v.Detail)
		case !told[v.Path.Pointer()+v.Code]:
			told[v.Path.Pointer()+v.Code] = true
			bad.Add(v.Path, v.Code, "%s", v.Detail)
		}
	}
	return true
}

// prepared judges the weigh-ins of every piece on its own.
func (r Rack) prepared() ([]rackPiece, error) {
	var bad fault.Collector
	if n := len(r.Pieces); n == 0 || n > mostPieces {
		bad.Add(fault.At("pieces"), "out-of-range", "a rack has from 1 to %d pieces, got %d", mostPieces, n)
		return nil, bad.Err("invalid-value", "the rack has no meaning as it stands")
	}
	all := make([]rackPiece, 0, len(r.Pieces))
	told := map[string]bool{}
	for i, piece := range r.Pieces {
		o := piece.Order
		first := r.Pieces[0].Order
		o.Target, o.Activity, o.Ratio = first.Target, first.Activity, first.Ratio
		p := rackPiece{order: o, count: max(piece.Count, 1)}
		post, err := p.begin()
		if err != nil {
			if !blame(&bad, told, i, err) {
				return nil, fmt.Errorf("piece %d: %w", i, err)
			}
			continue
		}
		p.prior = post.prior
		all = append(all, p)
	}
	if err := bad.Err("invalid-value", "the rack has no meaning as it stands"); err != nil {
		return nil, err
	}
	for i := range all {
		p := &all[i]
		p.shift = int(math.Round((p.prior.logBiot - all[0].prior.logBiot) / (curvesByBiot()[1].logBiot - curvesByBiot()[0].logBiot)))
		p.ends = stopsBetween / p.prior.last().stopsSD / math.Sqrt(float64(p.count))
		p.fit = newFitter(&p.prior, modelError, p.out.observations(p.seen))
		if n := len(p.seen); n > 0 {
			p.last, _ = p.prior.clock.at(inDays(p.out.Weighed[p.seen[n-1]].Since))
		}
	}
	return all, nil
}

// begin does for one piece what Project does before it tells.
func (p *rackPiece) begin() (posterior, error) {
	var err error
	var post posterior
	p.out, p.seen, post, err = p.order.fitted()
	return post, err
}

// lattice returns the Biot numbers and onsets, with the likelihood of each piece at
// every rate; rates are off the middle of the prior, ends are values of z.
func lattice(all []rackPiece) (groups []group, rates, ends []float64) {
	reachOfRates := 0.0
	low, high := -reach, reach
	for i := range all {
		reachOfRates = math.Max(reachOfRates, reach*all[i].prior.logRateSD)
		low = math.Max(low, all[i].fit.low-2*all[i].ends)
		high = math.Min(high, all[i].fit.high)
	}
	high = math.Max(high, low+2)
	n := int(math.Ceil(reachOfRates/latticeStep)) + latticeReach
	for i := -n; i <= n; i++ {
		rates = append(rates, float64(i)*latticeStep)
	}
	ends = make([]float64, latticeEnds)
	for i := range ends {
		ends[i] = low + (high-low)*(float64(i)+0.5)/latticeEnds
	}
	for curve := 0; curve < curveCount; curve += 2 {
		for o := range onsets {
			g := group{curve: curve, onset: o}
			for i := range all {
				g.pieces = append(g.pieces, all[i].likelihoods(curve, o, rates, ends))
			}
			groups = append(groups, g)
		}
	}
	return groups, rates, ends
}

// likelihoods returns what the weigh-ins of a piece say at every rate.
func (p *rackPiece) likelihoods(curve, o int, rates, ends []float64) []latticeNode {
	k := curvesByBiot()[min(max(curve+p.shift, 0), curveCount-1)]
	spells := len(p.prior.spells)
	nodes := make([]latticeNode, len(rates))
	for j, off := range rates {
		nd := &nodes[j]
		rate := p.prior.logRate + off
		nd.off = off
		p.fit.settle(k, onsets[o], rate, math.Min(math.Max(0, p.fit.low), p.fit.high))
		if spells > 1 {
			nd.pattern, nd.floors, nd.begins = slices.Clone(p.fit.pattern), slices.Clone(p.fit.floors), slices.Clone(p.fit.begins)
		} else {
			nd.pattern = []affine{p.fit.pattern[0]}
		}
		p.fit.likelihood(k, onsets[o], rate, &nd.likelihood)
		most := math.Inf(1)
		if p.fit.bounded {
			most = p.fit.most(k, rate)
		}
		// With the spread of the end between pieces integrated over.
		wide := 1 + nd.a*square(p.ends)
		a, b, c := nd.a/wide, nd.b/wide, nd.c-square(nd.b*p.ends)/wide+math.Log(wide)
		nd.best = math.Inf(-1)
		var logs [latticeEnds]float64
		for e, z := range ends {
			logs[e] = math.Inf(-1)
			if z <= most {
				logs[e] = -(c - 2*b*z + a*z*z) / 2
			}
			nd.best = math.Max(nd.best, logs[e])
		}
		if math.IsInf(nd.best, -1) {
			continue
		}
		for e := range ends {
			nd.likely[e] = math.Exp(logs[e] - nd.best)
		}
	}
	return nodes
}

// kernel returns how likely a piece is so many steps off the mean of the lot.
func (p *rackPiece) kernel() [2*latticeReach + 1]float64 {
	var k [2*latticeReach + 1]float64
	sd := rateBetween / math.Sqrt(float64(p.count))
	sum := 0.0
	for i := range k {
		k[i] = math.Exp(-square(float64(i-latticeReach)*latticeStep/sd) / 2)
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	return k
}

// weighTogether weighs what the pieces share, gives every piece its part of it,
// and returns the sets that carry the weight.
func weighTogether(all []rackPiece, groups []group, rates, ends []float64) []shared {
	informed := 0
	for _, p := range all {
		if len(p.seen) > 0 {
			informed++
		}
	}
	temper := 1.0
	if informed > 1 {
		temper = 1 / (1 + float64(informed-1)*sharedPart)
	}
	first := &all[0].prior
	meanSD := math.Sqrt(math.Max(square(first.logRateSD)-square(rateBetween), square(first.logRateSD)/2))
	sharedEnd := math.Max(1-square(stopsBetween/first.last().stopsSD), 0.5)
	curves := curvesByBiot()
	var sets []shared
	kernels := make([][2*latticeReach + 1]float64, len(all))
	for i := range all {
		kernels[i] = all[i].kernel()
	}
	best := math.Inf(-1)
	logs := make([]float64, len(ends))
	visit := func(gr *group, m int) {
		x, y := rates[m]/meanSD, (curves[gr.curve].logBiot-first.logBiot)/first.logBiotSD
		before := -(x*x-2*first.tilt*x*y+y*y)/(2*(1-square(first.tilt))) + onsets[gr.onset].logPrior
		for e, z := range ends {
			logs[e] = before - square(z)/(2*sharedEnd)
		}
		for i := range all {
			nodes := gr.pieces[i][m-latticeReach : m+latticeReach+1]
			top := math.Inf(-1)
			for j := range nodes {
				top = math.Max(top, nodes[j].best)
			}
			var sums [latticeEnds]float64
			for j := range nodes {
				part := kernels[i][j] * math.Exp(nodes[j].best-top)
				if !(part > 0) { // no z fits the air
					continue
				}
				for e := range sums {
					sums[e] += part * nodes[j].likely[e]
				}
			}
			for e, sum := range sums {
				logs[e] += temper * (math.Log(sum) + top)
			}
		}
	}
	for g := range groups {
		for m := latticeReach; m < len(rates)-latticeReach; m++ {
			visit(&groups[g], m)
			for e, log := range logs {
				if log > best+small-2 { // not for what is no number
					best = math.Max(best, log)
					sets = append(sets, shared{g, m, e, log})
				}
			}
		}
	}
	kept := sets[:0]
	total := 0.0
	for _, s := range sets {
		if s.weight > best+small {
			s.weight = math.Exp(s.weight - best)
			total += s.weight
			kept = append(kept, s)
		}
	}
	sets = kept
	for i := range sets {
		s := &sets[i]
		s.weight /= total
		gr := &groups[s.group]
		for i := range all {
			nodes := gr.pieces[i]
			conditional(nodes, kernels[i], s.rate, s.end, func(j int, part float64) {
				nd := &nodes[j]
				w := s.weight * part
				wide := 1 + nd.a*square(all[i].ends)
				z := ends[s.end]
				z += square(all[i].ends) * (nd.b - nd.a*z) / wide
				nd.weight += w
				nd.sum += w * z
				nd.sum2 += w * (z*z + square(all[i].ends)/wide)
			})
		}
	}
	return all[0].inTurn(sets, groups, rates, ends)
}

// conditional yields how likely a piece has each rate, given what is shared.
func conditional(nodes []latticeNode, kernel [2*latticeReach + 1]float64, rate, end int, yield func(j int, part float64)) {
	var parts [2*latticeReach + 1]float64
	top := math.Inf(-1)
	for i := range parts {
		if j := rate + i - latticeReach; j >= 0 && j < len(nodes) {
			top = math.Max(top, nodes[j].best)
		}
	}
	sum := 0.0
	for i := range parts {
		if j := rate + i - latticeReach; j >= 0 && j < len(nodes) && !math.IsInf(top, -1) {
			parts[i] = kernel[i] * nodes[j].likely[end] * math.Exp(nodes[j].best-top)
			sum += parts[i]
		}
	}
	if !(sum > 0) {
		return
	}
	for i, p := range parts {
		if p > 1e-3*sum {
			yield(rate+i-latticeReach, p/sum)
		}
	}
}

// inTurn returns sets that stand for all of them, of even weight: every so much of
// the weight, in the order in which a piece in the middle would be done, one stands
// for its neighbours. So the days that follow are those of all sets but for one in
// so many.
func (p *rackPiece) inTurn(sets []shared, groups []group, rates, ends []float64) []shared {
	if len(sets) <= mostShared {
		return sets
	}
	type turn struct {
		shared
		done float64
	}
	turns := make([]turn, 0, len(sets))
	for _, s := range sets {
		turns = append(turns, turn{s, p.turn(groups[s.group], rates[s.rate], ends[s.end])})
	}
	slices.SortStableFunc(turns, func(a, b turn) int { return cmp.Compare(a.done, b.done) })
	const each = 1.0 / mostShared
	kept := make([]shared, 0, mostShared)
	sum, next := 0.0, each/2
	for _, s := range turns {
		sum += s.weight
		times := 0.0
		for ; next < sum && next < 1; next += each {
			times++
		}
		if times > 0 {
			s.weight = times * each
			kept = append(kept, s.shared)
		}
	}
	return kept
}

// turn returns a number that grows with the day on which a piece is done that is
// in the middle of what is shared, in the air that goes on: the logarithm of that
// day, and beyond all of them, where it is never done, how far it falls short.
func (p *rackPiece) turn(g group, off, z float64) float64 {
	const beyond = 100.0
	s := p.prior.last()
	need := (p.out.Target.Percent() - p.prior.start) / math.Max(s.stops+s.stopsSD*z-p.prior.start, 0.01)
	gone := curvesByBiot()[min(max(g.curve+p.shift, 0), curveCount-1)].gone
	i := sort.SearchFloat64s(gone, need)
	if need >= 1 || i == len(gone) {
		return beyond + need - off/beyond
	}
	at := float64(i)
	if i > 0 {
		at -= (gone[i] - need) / (gone[i] - gone[i-1])
	}
	logFourier := math.Log(curveLeastFourier) + at/perLogFourier
	return logHalf + (logFourier-logHalf)/onsets[g.onset].power - off
}

// posterior returns what is known of a piece with what it borrows.
func (p *rackPiece) posterior(i int, groups []group, rates []float64) posterior {
	post := posterior{prior: p.prior, noise: modelError, variance: p.fit.filter.final}
	if n := len(p.seen); n > 0 {
		w := p.out.Weighed[p.seen[n-1]]
		post.last, post.lastDay, post.lastLoss = p.last, inDays(w.Since), w.Loss.Percent()
	}
	var nodes []node
	top := 0.0
	for g := range groups {
		for j := range rates {
			top = math.Max(top, groups[g].pieces[i][j].weight)
		}
	}
	for g := range groups {
		gr := &groups[g]
		for j := range rates {
			nd := &gr.pieces[i][j]
			if nd.weight < top*1e-3 {
				continue
			}
			z := nd.sum / nd.weight
			nodes = append(nodes, node{
				curve: min(max(gr.curve+p.shift, 0), curveCount-1), onset: gr.onset, logRate: p.prior.logRate + rates[j], weight: nd.weight,
				z: z, precision: 1 / math.Max(nd.sum2/nd.weight-z*z, 1e-4), low: -2 * reach, high: 2 * reach, departs: nd.departs, departsByZ: nd.byZ,
			})
		}
	}
	post.fill(nodes)
	return post
}

// lossOf returns the loss of a piece at a day since its hanging, of a node and z,
// with the departure as far as it is known, and the standard deviation that
// remains.
func (p *rackPiece) lossOf(k curve, on onset, nd *latticeNode, z, counted, carry float64) (loss, sd float64) {
	if counted <= 0 {
		return p.prior.start, 0
	}
	logFourier := on.at(p.prior.logRate + nd.off + math.Log(counted))
	lost := nd.pattern[0].at(z) * k.at(logFourier)
	if len(nd.pattern) > 1 {
		fourier, floor := math.Exp(logFourier), 0.0
		for i := 1; i < len(nd.pattern) && p.prior.spells[i].from < counted; i++ {
			lost += nd.pattern[i].at(z) * k.at(math.Log(fourier-nd.begins[i]))
			floor = nd.floors[i].at(z)
		}
		lost = math.Max(lost, floor)
	}
	whole := modelError.sd * modelError.part(lost)
	final := p.fit.filter.final
	return p.prior.start + lost + whole*carry*(nd.departs-nd.byZ*z), whole * math.Sqrt(math.Max(carry*carry*final+1-carry*carry, 0))
}

// shocks are what the departures of all pieces share after the present: the
// places and weights of a quadrature of the normal distribution of three points
// (Gauss and Hermite; Abramowitz & Stegun 1964, table 25.10, times the root of 2).
var shocks = [...]struct{ at, weight float64 }{{-1.7320508075688772, 1.0 / 6}, {0, 2.0 / 3}, {1.7320508075688772, 1.0 / 6}}

// unseen returns by how many steps of rate each of several pieces that were
// weighed as one may be off their mean, with the weights of a quadrature of three
// points.
func (p *rackPiece) unseen() (off [3]int, weights [3]float64) {
	if p.count == 1 {
		return off, [3]float64{1}
	}
	sd := rateBetween * math.Sqrt(1-1/float64(p.count))
	for i, s := range shocks {
		off[i], weights[i] = int(math.Round(s.at*sd/latticeStep)), s.weight
	}
	return off, weights
}

// reached returns the probability that a piece is beyond a loss by a day, for one
// set of what is shared and each of the shocks.
func (p *rackPiece) reached(i int, g *group, s shared, z, aim, day float64, kernel [2*latticeReach + 1]float64) (q [len(shocks)]float64) {
	if day -= p.after; day <= 0 {
		return q
	}
	k := curvesByBiot()[min(max(g.curve+p.shift, 0), curveCount-1)]
	dried, counted := p.prior.clock.at(day)
	carry := modelError.correlation(p.last, dried)
	off, weights := p.unseen()
	nodes := g.pieces[i]
	conditional(nodes, kernel, s.rate, s.end, func(j int, part float64) {
		nd := &nodes[j]
		wide := 1 + nd.a*square(p.ends)
		own := z + square(p.ends)*(nd.b-nd.a*z)/wide
		for h, steps := range off {
			if weights[h] == 0 {
				continue
			}
			one := &nodes[min(max(j+steps, 0), len(nodes)-1)]
			loss, sd := p.lossOf(k, onsets[g.onset], one, own, counted, carry)
			ends := stopsBetween
			if p.count == 1 {
				ends /= math.Sqrt(wide)
			}
			apart := math.Hypot(sd*math.Sqrt(1-sharedPart), ends*lossPart(loss, p.prior.last().stops))
			for u, shock := range shocks {
				q[u] += part * weights[h] * quickNormal((loss+sd*math.Sqrt(sharedPart)*shock.at-aim)/math.Max(apart, 1e-9))
			}
		}
	})
	return q
}

// days tells when the last piece is done, and when so many are.
func (out *RackProjection) days(w *writer, all []rackPiece, groups []group, sets []shared, ends []float64) {
	aims := together(all[0].out.Goals)
	kernels := make([][2*latticeReach + 1]float64, len(all))
	present, seen := make([]float64, len(all)), make([]float64, len(all))
	latest := 1.0 / 24
	for i := range all {
		p := &all[i]
		kernels[i] = p.kernel()
		seen[i] = math.Inf(-1)
		if n := len(p.seen); n > 0 {
			last := p.out.Weighed[p.seen[n-1]]
			present[i], seen[i] = inDays(last.Since)+p.after, last.Loss.Percent()
			latest = math.Max(latest, present[i])
		}
	}
	reached := func(a, s, i int, day float64) [len(shocks)]float64 {
		set := sets[s]
		return all[i].reached(i, &groups[set.group], set, ends[set.end], aims[a].loss, day, kernels[i])
	}
	already := make([][len(shocks)]float64, len(aims)*len(sets)*len(all))
	at := func(a, s, i int) int { return (a*len(sets)+s)*len(all) + i }
	for a := range aims {
		for s := range sets {
			for i := range all {
				if present[i] > 0 && seen[i] < aims[a].loss {
					already[at(a, s, i)] = reached(a, s, i, present[i])
				}
			}
		}
	}
	var counts [len(shocks)][]float64
	for u := range counts {
		counts[u] = make([]float64, out.Of+1)
	}
	rowOfDays(latest, roughly, func(day float64) float64 {
		last, enough := 0.0, 0.0
		for a, aim := range aims {
			for s, set := range sets {
				for u := range counts {
					clear(counts[u])
					counts[u][0] = 1
				}
				n := 0
				for i := range all {
					q := [len(shocks)]float64{1, 1, 1}
					if seen[i] < aim.loss {
						q = reached(a, s, i, day)
						was := already[at(a, s, i)]
						for u := range q {
							before := math.Min(was[u], 0.99)
							q[u] = math.Min(math.Max((q[u]-before)/(1-before), 0), 1)
						}
					}
					for range all[i].count {
						n++
						count(&counts, n, q)
					}
				}
				for u, shock := range shocks {
					weight := aim.weight * set.weight * shock.weight
					last += weight * counts[u][out.Of]
					for _, c := range counts[u][out.Needed:] {
						enough += weight * c
					}
				}
			}
		}
		out.Last.days, out.Last.chance = append(out.Last.days, day), append(out.Last.chance, last)
		out.Enough.days, out.Enough.chance = append(out.Enough.days, day), append(out.Enough.chance, enough)
		return last
	})
	out.Last.settle(w)
	out.Enough.settle(w)
}

// count adds the n-th piece to the probabilities of how many are done.
func count(counts *[len(shocks)][]float64, n int, q [len(shocks)]float64) {
	for u, c := range counts {
		for k := n; k > 0; k-- {
			c[k] = c[k]*(1-q[u]) + c[k-1]*q[u]
		}
		c[0] *= 1 - q[u]
	}
}

// lossPart returns which part of a difference of the end shows at a loss.
func lossPart(loss, stops float64) float64 {
	return math.Min(math.Max(loss/math.Max(stops, 1), 0), 1)
}
