package drying

import (
	"math"
	"slices"
	"sync"
)

// The numbers of this file are days and points: a point is one percent of the
// green weight.

// onset is how a piece begins to dry. In air that is dry from the start it is a
// cylinder. In air that begins damp and is lowered over the first week, as most
// makers have it, or with a casing that first has to dry, it begins slower than
// any cylinder and then catches up: the Fourier number grows with a power of
// time,
//
//	Fo = half * (D t / (R² half))^power
//
// so that around the middle of drying it is as far as it would be. It is found
// from the weigh-ins as the other unknowns are.
type onset struct{ power, logPrior float64 }

// onsets are the ones that are weighed, with their weight before any weigh-in.
// They are this project's own, chosen on the few series that its accuracy is
// measured on, which flatters it there.
var onsets = [...]onset{{1, math.Log(0.6)}, {1.4, math.Log(0.25)}, {2, math.Log(0.15)}}

// logHalf is the logarithm of a Fourier number in the middle of drying: half of
// the removable water is gone at 0.143 for a Biot number of 5 (Crank, as in
// Cylinder).
var logHalf = math.Log(0.15)

// at returns the logarithm of the Fourier number that stands for D t / R².
func (on onset) at(logFourier float64) float64 { return logHalf + on.power*(logFourier-logHalf) }

// prior is what is known before any weigh-in. The unknowns are taken as
// independent; log means the natural logarithm. The third of them is how far the
// losses at which drying stops, of all airs alike, are off, in their standard
// deviations: z.
type prior struct {
	logRate, logRateSD float64 // of D/R² in the air at hanging, per day
	logBiot, logBiotSD float64
	tilt               float64 // correlation of the two
	spells             []spell // the airs from hanging on, at least one
	clock              clock
	ahead              Air     // the last of them
	mostStops          float64 // all the water there is
	start              float64 // loss at hanging
}

// last returns the air that goes on.
func (p *prior) last() spell { return p.spells[len(p.spells)-1] }

// fastest returns the most that any of the airs can take in a day, in points; 0
// when that cannot be told.
func (p *prior) fastest() float64 {
	most := math.Inf(1)
	for i, s := range p.spells {
		switch {
		case s.fastest == 0:
			return 0
		case i == 0:
			most = s.fastest
		default:
			most = math.Max(most, s.fastest)
		}
	}
	return most
}

// begin sets what is lost at hanging.
func (p *prior) begin(lost float64) {
	p.start = lost
	for i := range p.spells {
		p.spells[i].stops = math.Max(p.spells[i].stops, lost)
	}
}

// observation is a weigh-in that counts, at a day since hanging.
type observation struct{ day, loss float64 }

// The model's own error. A sausage does not follow the cylinder: its surface
// changes, the room drifts, the fat is not even. misfit is the standard
// deviation of its departure from the best curve, which lasts: departures at
// times t and u, in days of drying, are correlated by
//
//	(t/u)^(1/memory), t < u
//
// so that with a memory of 1 half of a departure is left when the age of the
// piece has doubled, at any age. It is sd from a loss of wholeAt on and in proportion to
// the loss before. weighing is what one weigh-in is off on its own.
type misfit struct{ sd, memory, weighing float64 }

const wholeAt, leastPart = 10, 0.02

// part returns what part of sd holds at a loss.
func (n misfit) part(loss float64) float64 { return math.Min(math.Max(loss/wholeAt, leastPart), 1) }

// node is a Biot number, an onset and a rate. The rest follows from them in
// closed form: what is lost is linear in z and in the departure, whose errors are
// normal.
type node struct {
	curve   int
	onset   int
	logRate float64
	weight  float64   // its logarithm, times what is integrated over
	begins  []float64 // Fourier number, after the onset, at the beginning of each air but the first
	end     int       // of its cells

	z          float64 // mean of z by the weigh-ins
	precision  float64 // one over its variance
	low, high  float64 // between which z lies
	departs    float64 // departure at the last observation for z = 0
	departsByZ float64 // and what it is less for each z
}

// cell is a node with a z.
type cell struct {
	z      float64
	offset float64 // departure at the last observation in standard deviations, as far as it is known
	weight float64
}

// posterior is what is known after the observations.
type posterior struct {
	prior prior
	noise misfit
	nodes []node
	cells []cell // in the order of the nodes
	// ends and floors are, for each cell and each air, by how much the loss at
	// which drying stops changes when the air begins, and what is lost by then,
	// since hanging.
	ends, floors []float64
	last         float64 // days of drying at the last observation, 0 when there is none
	lastDay      float64 // day of it
	lastLoss     float64 // and what it showed
	variance     float64 // of the departure at last, in squares of its standard deviation

	work workspace
}

// What the answer is told from.
const (
	firstRates  = 20 // of a Biot number and an onset, over the prior
	localRates  = 11 // around where the weigh-ins lead
	mostNarrows = 6
	zCells      = 7 // of a node
	// reach is how many standard deviations the unknowns span on either side.
	reach = 3.2
	// small is the logarithm of the weight, relative to the largest, below which a
	// node is left out.
	small = -8.0
	// fewCurves is of how many Biot numbers the ones between are looked at too.
	fewCurves = 4
)

// fitter weighs nodes by observations.
type fitter struct {
	p       *prior
	filter  filter
	seen    []observation
	counted []float64
	low     float64 // bounds of z
	high    float64
	bounded bool // by what the air can take
	gone    []float64
	pattern []affine // by how much the end changes with each air
	floors  []affine
	begins  []float64
}

// affine is a number that is linear in z.
type affine struct{ base, slope float64 }

func (a affine) at(z float64) float64 { return a.base + a.slope*z }

// fit weighs the unknowns by the observations, which must be in order of time and
// after hanging.
func fit(p prior, n misfit, seen []observation) posterior {
	post := posterior{prior: p, noise: n}
	f := newFitter(&post.prior, n, seen)
	nodes := f.scan(everySecond())
	if len(nodes) == 0 { // all of them too fast for the air, and so the air is not what was said
		f.bounded = false
		nodes = f.scan(everySecond())
	}
	low, high, few := curvesOf(nodes)
	if few {
		nodes = f.scan(neighbours(low, high))
	}
	post.variance = f.filter.final
	if k := len(seen); k > 0 {
		post.lastDay, post.lastLoss = seen[k-1].day, seen[k-1].loss
		post.last, _ = p.clock.at(post.lastDay)
	}
	post.fill(nodes)
	return post
}

func newFitter(p *prior, n misfit, seen []observation) *fitter {
	f := &fitter{p: p, filter: newFilter(n, p, seen), seen: seen, bounded: true}
	k := len(p.spells)
	f.gone, f.pattern, f.floors, f.begins = make([]float64, k), make([]affine, k), make([]affine, k), make([]float64, k)
	for _, o := range seen {
		_, counted := p.clock.at(o.day)
		f.counted = append(f.counted, counted)
	}
	// It does not stop before half a point, or before what is lost, in the driest
	// air that there was by then; nor beyond all the water.
	f.low, f.high = -reach, reach
	floor := func(loss, counted float64) {
		best := math.Inf(1)
		for _, s := range p.spells {
			if s.from < counted || s.from == 0 {
				best = math.Min(best, (loss-s.stops)/s.stopsSD)
			}
		}
		f.low = math.Max(f.low, best)
	}
	floor(p.start+0.5, math.Inf(1))
	for _, s := range p.spells {
		f.high = math.Min(f.high, (p.mostStops-s.stops)/s.stopsSD)
	}
	for i, o := range seen {
		floor(o.loss-n.weighing, f.counted[i])
	}
	// Where more is lost than was thought possible, the prior was wrong.
	f.high = math.Max(f.high, f.low+2)
	return f
}

func everySecond() []int {
	var curves []int
	for i := 0; i < curveCount; i += 2 {
		curves = append(curves, i)
	}
	return curves
}

func neighbours(low, high int) []int {
	var curves []int
	for i := max(low-1, 0); i <= min(high+1, curveCount-1); i++ {
		curves = append(curves, i)
	}
	return curves
}

// curvesOf returns the ends of the Biot numbers of nodes, and whether they are
// few.
func curvesOf(nodes []node) (low, high int, few bool) {
	if len(nodes) == 0 {
		return 0, curveCount - 1, false
	}
	low, high = nodes[0].curve, nodes[len(nodes)-1].curve
	return low, high, high-low < 2*fewCurves
}

func spread(low, high float64, n int) []float64 {
	at := make([]float64, n)
	for i := range at {
		at[i] = low + (high-low)*float64(i)/float64(n-1)
	}
	return at
}

// scan returns the nodes that have weight. For each Biot number and onset the
// rates are narrowed to where the weigh-ins lead, which for each is a narrow
// ridge.
func (f *fitter) scan(curves []int) []node {
	p := f.p
	all := make([]node, 0, len(curves)*len(onsets)*localRates)
	best := math.Inf(-1)
	logBiots := curvesByBiot()
	local := make([]node, 0, firstRates)
	for _, k := range curves {
		for o := range onsets {
			middle := p.logRate + p.tilt*p.logRateSD*(logBiots[k].logBiot-p.logBiot)/p.logBiotSD
			low, high, n := middle-reach*p.logRateSD, middle+reach*p.logRateSD, firstRates
			for round := 0; ; round++ {
				step := (high - low) / float64(n-1)
				local = local[:0]
				top := math.Inf(-1)
				for i := range n {
					nd := node{curve: k, onset: o, logRate: low + step*float64(i)}
					f.weigh(&nd)
					nd.weight += math.Log(step)
					top = math.Max(top, nd.weight)
					local = append(local, nd)
				}
				if math.IsInf(top, -1) {
					break
				}
				first, last := -1, 0
				for i, nd := range local {
					if nd.weight >= top+small {
						if first < 0 {
							first = i
						}
						last = i
					}
				}
				if round > 0 && last-first >= localRates/2 || round == mostNarrows {
					best = math.Max(best, top)
					all = append(all, local...)
					break
				}
				low, high, n = local[max(first-1, 0)].logRate, local[min(last+1, n-1)].logRate, localRates
			}
		}
	}
	kept := all[:0]
	for _, nd := range all {
		if nd.weight >= best+small {
			nd.weight = math.Exp(nd.weight - best)
			kept = append(kept, nd)
		}
	}
	return kept
}

// filter holds what a departure with memory and weighing errors make of
// residuals: numbers that depend on the observations and not on the unknowns, so
// that they are worked out once for all nodes. It is a Kalman filter whose one
// state is the departure, in standard deviations.
type filter struct {
	carry, part, gain, inverse []float64
	final                      float64 // variance of the state after the last
}

func newFilter(n misfit, p *prior, seen []observation) filter {
	f := filter{}
	variance, before := 1.0, 0.0
	for i, o := range seen {
		dried, _ := p.clock.at(o.day)
		carry := 0.0
		if i > 0 {
			carry = n.correlation(before, dried)
			variance = carry*carry*variance + 1 - carry*carry
		}
		before = dried
		part := n.sd * n.part(o.loss-p.start)
		total := part*part*variance + square(n.weighing)
		gain := variance * part / total
		f.carry = append(f.carry, carry)
		f.part = append(f.part, part)
		f.gain = append(f.gain, gain)
		f.inverse = append(f.inverse, 1/total)
		variance *= 1 - gain*part
	}
	f.final = variance
	return f
}

// correlation returns that of the departures after two times of drying, in any
// order; none where one of them is hanging.
func (n misfit) correlation(a, b float64) float64 {
	if a <= 0 || b <= 0 {
		return 0
	}
	return math.Pow(math.Min(a, b)/math.Max(a, b), 1/n.memory)
}

// weigh sets the weight of a node. With z and the departure integrated over it is
//
//	exp(-(C - B²/A)/2) times the part of the normal distribution of z, with the
//	mean B/A and the variance 1/A, that is within its bounds, over the root of A
//
// where the sum over the surprises of the filter, over their variances, is
// C - 2 B z + (A - 1) z².
func (f *fitter) weigh(nd *node) {
	p := f.p
	k := curvesByBiot()[nd.curve]
	x, y := (nd.logRate-p.logRate)/p.logRateSD, (k.logBiot-p.logBiot)/p.logBiotSD
	c := (x*x - 2*p.tilt*x*y + y*y) / (1 - p.tilt*p.tilt)
	nd.low, nd.high = f.low, f.high
	if f.bounded {
		if nd.high = math.Min(nd.high, f.most(k, nd.logRate)); nd.high <= nd.low {
			nd.weight = math.Inf(-1)
			return
		}
	}
	on := onsets[nd.onset]
	f.settle(k, on, nd.logRate, math.Min(math.Max(0, nd.low), nd.high))
	likely := likelihood{}
	f.likelihood(k, on, nd.logRate, &likely)
	a, b := 1+likely.a, likely.b
	c += likely.c
	nd.z, nd.precision, nd.departs, nd.departsByZ = b/a, a, likely.departs, likely.byZ
	root := math.Sqrt(a)
	within := normal((nd.high-nd.z)*root) - normal((nd.low-nd.z)*root)
	if !(within > 1e-300) { // far beyond the bound: by the density there, over how fast it falls
		at := math.Min(math.Max(nd.z, nd.low), nd.high)
		away := math.Abs(at-nd.z) * root
		nd.weight = -(c-b*b/a)/2 - away*away/2 - math.Log(root*(away+1)) + on.logPrior
		return
	}
	nd.weight = -(c-b*b/a)/2 + math.Log(within/root) + on.logPrior
}

// most returns the largest z with which a wet surface gives no more water than
// the air can take.
func (f *fitter) most(k curve, logRate float64) float64 {
	high := math.Inf(1)
	for _, s := range f.p.spells {
		if s.fastest > 0 {
			most := f.p.start + s.fastest/(2*s.rate*math.Exp(k.logBiot+logRate))
			high = math.Min(high, (most-s.stops)/s.stopsSD)
		}
	}
	return high
}

// likelihood is what the weigh-ins say of z, for one rate: its logarithm is
// -(c - 2 b z + a z²)/2 and a constant. The departure at the last of them is
// departs - byZ z.
type likelihood struct{ a, b, c, departs, byZ float64 }

// likelihood works out what the weigh-ins say, for the airs that were settled.
func (f *fitter) likelihood(k curve, on onset, logRate float64, l *likelihood) {
	for i, o := range f.seen {
		loss := f.lost(k, on, logRate, f.counted[i])
		l.departs *= f.filter.carry[i]
		l.byZ *= f.filter.carry[i]
		part, gain, inverse := f.filter.part[i], f.filter.gain[i], f.filter.inverse[i]
		u := o.loss - f.p.start - loss.base - part*l.departs
		v := loss.slope - part*l.byZ
		l.c += u * u * inverse
		l.b += u * v * inverse
		l.a += v * v * inverse
		l.departs += gain * u
		l.byZ += gain * v
	}
}

// settle works out how the loss at which drying stops changes from air to air,
// linear in z, with the choices of how it is at one z: air that would take nothing
// leaves the loss as it is. A piece that is in balance with such air gives off
// nothing to it and takes up nothing.
func (f *fitter) settle(k curve, on onset, logRate, z float64) {
	p := f.p
	floor, before := affine{}, affine{}
	for i, s := range p.spells {
		f.begins[i] = 0
		if i > 0 {
			f.begins[i] = math.Exp(on.at(logRate + math.Log(s.from)))
			reached := affine{}
			for j := range i {
				gone := k.at(math.Log(f.begins[i] - f.begins[j]))
				reached.base += f.pattern[j].base * gone
				reached.slope += f.pattern[j].slope * gone
			}
			if reached.at(z) > floor.at(z) {
				floor = reached
			}
		}
		end := affine{s.stops - p.start, s.stopsSD}
		if len(p.spells) > 1 && end.at(z) < floor.at(z) {
			end = floor
		}
		f.pattern[i] = affine{end.base - before.base, end.slope - before.slope}
		f.floors[i] = floor
		before = end
	}
}

// lost returns what is lost since hanging, for the airs that were settled. By
// superposition a change of the end is a cylinder of its own (Duhamel), which is
// exact for a surface that resists all the time alike:
//
//	L(t) = sum (Linf[k] - Linf[k-1]) E(Fo(t) - Fo(t[k]))
func (f *fitter) lost(k curve, on onset, logRate, counted float64) affine {
	if counted <= 0 {
		return affine{}
	}
	logFourier := on.at(logRate + math.Log(counted))
	gone := k.at(logFourier)
	loss := affine{f.pattern[0].base * gone, f.pattern[0].slope * gone}
	if len(f.pattern) == 1 {
		return loss
	}
	fourier, floor := math.Exp(logFourier), f.floors[0]
	for i := 1; i < len(f.pattern) && f.p.spells[i].from < counted; i++ {
		gone := k.at(math.Log(fourier - f.begins[i]))
		loss.base += f.pattern[i].base * gone
		loss.slope += f.pattern[i].slope * gone
		floor = f.floors[i]
	}
	if at := math.Min(math.Max(0, f.low), f.high); floor.at(at) > loss.at(at) {
		return floor
	}
	return loss
}

func square(x float64) float64 { return x * x }

// fill makes the cells of the nodes, whose weights sum to one.
func (post *posterior) fill(nodes []node) {
	spells := len(post.prior.spells)
	post.nodes = nodes
	post.cells = make([]cell, 0, len(nodes)*zCells)
	begins := make([]float64, len(nodes)*spells)
	total := 0.0
	for i := range post.nodes {
		nd := &post.nodes[i]
		nd.begins = begins[i*spells : (i+1)*spells]
		post.begin(nd)
		nd.cut(zCells, func(z, weight float64) {
			post.cells = append(post.cells, cell{z: z, offset: nd.departs - nd.departsByZ*z, weight: weight})
		})
		total += nd.weight
		nd.end = len(post.cells)
	}
	for i := range post.cells {
		post.cells[i].weight /= total
	}
	for i := range post.nodes {
		post.nodes[i].weight /= total
	}
	post.walk()
}

// cut yields so many values of z in the middles of even parts of where it may be,
// with weights that sum to that of the node.
func (nd *node) cut(parts int, yield func(z, weight float64)) {
	sd := 1 / math.Sqrt(nd.precision)
	low, high := math.Max(nd.low, nd.z-reach*sd), math.Min(nd.high, nd.z+reach*sd)
	if low >= high { // beyond its bounds
		low, high = math.Max(nd.low, math.Min(nd.z, nd.high-sd)), math.Min(nd.high, math.Max(nd.z, nd.low+sd))
	}
	step := (high - low) / float64(parts)
	nearest := math.Min(math.Max(nd.z, low+step/2), high-step/2) // of which the density is one, lest all of them vanish
	density := func(i int) (z, d float64) {
		z = low + (float64(i)+0.5)*step
		return z, math.Exp((nearest - z) * (nearest + z - 2*nd.z) * nd.precision / 2)
	}
	sum := 0.0
	for i := range parts {
		_, d := density(i)
		sum += d
	}
	for i := range parts {
		z, d := density(i)
		yield(z, nd.weight*d/sum)
	}
}

// begin sets the Fourier numbers at which the airs of a node begin.
func (post *posterior) begin(nd *node) {
	on := onsets[nd.onset]
	for i, s := range post.prior.spells {
		if i > 0 {
			nd.begins[i] = math.Exp(on.at(nd.logRate + math.Log(s.from)))
		}
	}
}

// walk works out, for each cell, how the loss at which drying stops changes from
// air to air, as settle does.
func (post *posterior) walk() {
	p := &post.prior
	n := len(p.spells)
	post.ends, post.floors = make([]float64, n*len(post.cells)), make([]float64, n*len(post.cells))
	gone := make([]float64, n*n)
	first := 0
	for _, nd := range post.nodes {
		k := curvesByBiot()[nd.curve]
		for i := 1; i < n; i++ {
			for j := range i {
				gone[i*n+j] = k.at(math.Log(nd.begins[i] - nd.begins[j]))
			}
		}
		for c := first; c < nd.end; c++ {
			ends, floors := post.ends[c*n:(c+1)*n], post.floors[c*n:(c+1)*n]
			floor, before := 0.0, 0.0
			for i, s := range p.spells {
				if i > 0 {
					reached := 0.0
					for j := range i {
						reached += ends[j] * gone[i*n+j]
					}
					floor = math.Max(floor, reached)
				}
				end := math.Max(s.stops+s.stopsSD*post.cells[c].z-p.start, floor)
				ends[i], floors[i] = end-before, floor
				before = end
			}
		}
		first = nd.end
	}
}

// outlook is the loss at one day, of every cell.
type outlook struct {
	losses []float64 // in the order of the cells
	mean   float64
	sd     float64 // that remains around each
}

// at fills the outlook of a day.
func (post *posterior) at(day float64, out *outlook) {
	p, n := &post.prior, post.noise
	dried, counted := p.clock.at(day)
	spells := 1
	for spells < len(p.spells) && p.spells[spells].from < counted {
		spells++
	}
	all := curvesByBiot()
	var gone [mostSpells]float64
	logCounted := math.Log(counted)
	out.losses, out.mean = slices.Grow(out.losses[:0], len(post.cells)), 0
	first, stride := 0, len(p.spells)
	for _, nd := range post.nodes {
		k := &all[nd.curve]
		logFourier := onsets[nd.onset].at(nd.logRate + logCounted)
		gone[0] = 0
		if counted > 0 {
			gone[0] = k.at(logFourier)
		}
		if spells > 1 {
			fourier := math.Exp(logFourier)
			for i := 1; i < spells; i++ {
				gone[i] = k.at(math.Log(fourier - nd.begins[i]))
			}
		}
		for c := first; c < nd.end; c++ {
			loss := post.ends[c*stride] * gone[0]
			for i := 1; i < spells; i++ {
				loss += post.ends[c*stride+i] * gone[i]
			}
			loss = p.start + math.Max(loss, post.floors[c*stride+spells-1])
			out.losses = append(out.losses, loss)
			out.mean += post.cells[c].weight * loss
		}
		first = nd.end
	}
	carry := n.correlation(post.last, dried)
	whole := n.sd * n.part(out.mean-p.start)
	if counted <= 0 {
		whole = 0 // at hanging the loss is what it is
	}
	if carry > 0 && whole > 0 {
		out.mean = 0
		for i, c := range post.cells {
			out.losses[i] += whole * carry * c.offset
			out.mean += c.weight * out.losses[i]
		}
	}
	out.sd = whole * math.Sqrt(math.Max(carry*carry*post.variance+1-carry*carry, 0))
}

// change returns the standard deviation of what the departure adds in the day
// after a day, at this loss since hanging. The departure has no steps from day
// to day: it moves by about its own size while the age of the piece doubles.
func (post *posterior) change(day, loss float64) float64 {
	now, _ := post.prior.clock.at(day)
	later, _ := post.prior.clock.at(day + 1)
	if later <= now {
		return 0
	}
	return post.noise.sd * post.noise.part(loss) * (1 - post.noise.correlation(now, later))
}

// reached returns the probability that a loss is reached by a day.
func (post *posterior) reached(target, day float64, out *outlook) float64 {
	post.at(day, out)
	return post.beyond(target, out)
}

// beyond returns the probability that an outlook is beyond a loss.
func (post *posterior) beyond(target float64, out *outlook) float64 {
	per := 1 / math.Max(out.sd, 1e-9)
	total := 0.0
	for i, c := range post.cells {
		total += c.weight * quickNormal((out.losses[i]-target)*per)
	}
	return total
}

func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// normals are of the distribution function of a normal distribution, at steps of
// a 64th from -normalsTo to normalsTo.
const normalsTo, perNormal = 6, 64

var normals = sync.OnceValue(func() []float64 {
	at := make([]float64, 2*normalsTo*perNormal+2)
	for i := range at {
		at[i] = normal(float64(i)/perNormal - normalsTo)
	}
	return at
})

// quickNormal is normal to within 1e-5, by straight lines in a table.
func quickNormal(z float64) float64 {
	switch x := (z + normalsTo) * perNormal; {
	case !(x > 0):
		return 0
	case x >= 2*normalsTo*perNormal:
		return 1
	default:
		i := int(x)
		table := normals()
		return table[i] + (x-float64(i))*(table[i+1]-table[i])
	}
}
