package lot

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Bounds of what can be measured, beside those of package fermentation: beyond
// is a slip of unit or of the pen. Choices of this project.
var (
	coldestCore, hottestCore = quantity.MustCelsius(-30), quantity.MustCelsius(100)
	driest                   = quantity.MustWaterActivity(0.5)  // salami dried to the bone is at 0.7
	driestAir                = quantity.MustHumidityPercent(10) // a heated room in frost has more
	stormiest                = quantity.MustMetresPerSecond(10) // what package drying takes
)

// version is what an entry told or tells.
type version struct {
	entry   int // sequence of the entry that told it first
	fact    Fact
	stands  bool // it is as it stands, and was not taken back
	happens time.Time
}

// versionsAt returns what entries told of an instant, first or as corrected, those
// that were taken back too, but for an entry; 0 for none.
func (r Record) versionsAt(at time.Time, but int) []version {
	var found []version
	for i, l := range r.lines {
		of, told, happened := i+1, r.entries[i].Told, r.entries[i].HappenedAt
		if l.corrects != 0 {
			of, told, happened = l.corrects, l.told, l.happenedAt
		}
		if !instant(happened).Equal(at) || of == but || told.Fact.Kind().Judges() {
			continue
		}
		now := r.lines[of-1]
		stands := now.correctedBy == 0 && of == i+1 || now.correctedBy == i+1
		found = append(found, version{of, told.Fact, stands && now.retractedBy == 0, happened})
	}
	return found
}

// repeats returns the entry that tells the same as a fact of the same instant, one
// that stands before others, 0 for none; it records one that tells otherwise, and
// for what is to stand in the place of an entry one that tells the same, which
// would count twice.
func (a *admission) repeats(path fault.Path, f Fact, at time.Time, but int) int {
	repeated, other := 0, 0
	for _, v := range a.record.versionsAt(at, but) {
		switch same, otherwise := a.compare(v.fact, f); {
		case same && but == 0 && v.stands:
			return v.entry
		case same && but == 0:
			repeated = cmp.Or(repeated, v.entry)
		case same && v.stands:
			a.conflicts.Add(path, codeInstant, "entry %d tells the same of the same instant, and both would count: take entry %d back instead", v.entry, but)
			return 0
		case otherwise && v.stands && other == 0:
			other = v.entry
		}
	}
	if repeated != 0 {
		return repeated
	}
	if other != 0 {
		a.conflicts.Add(path, codeInstant, "entry %d tells of the same instant otherwise, and stays: correct that one if it is wrong; "+
			"if both are right, name what they are of or from", other)
	}
	return 0
}

// compare reports whether two facts of one instant tell the same, and whether
// they can't both be.
func (a *admission) compare(f, g Fact) (same, otherwise bool) {
	switch f := f.(type) {
	case Weighed:
		g, is := g.(Weighed)
		p, there := a.making(0).piece(f.Piece)
		if !is || !there || g.Piece != f.Piece {
			return false, false
		}
		same = f.Weight == g.Weight && f.net(p) == g.net(p)
		return same, !same
	case Measured:
		g, is := g.(Measured)
		if !is || f.Means.Instrument != g.Means.Instrument || f.Place != g.Place || f.Piece != g.Piece {
			return false, false
		}
		return f.compare(g)
	default:
		return false, false
	}
}

// compare reports whether two measurements tell the same, and whether they tell
// one thing differently.
func (m Measured) compare(n Measured) (same, otherwise bool) {
	none := material.Known[struct{}]{}
	pairs := []pair{
		pairOf(m.Temperature, m.TemperatureWithin, n.Temperature, n.TemperatureWithin),
		pairOf(m.Humidity, m.HumidityWithin, n.Humidity, n.HumidityWithin),
		pairOf(m.AirSpeed, none, n.AirSpeed, none),
		pairOf(m.PH, m.PHWithin, n.PH, n.PHWithin),
		pairOf(m.WaterActivity, m.WaterActivityWithin, n.WaterActivity, n.WaterActivityWithin),
	}
	same = true
	for _, p := range pairs {
		same = same && p.same
		otherwise = otherwise || p.both && !p.same
	}
	return same, otherwise
}

// pair is one thing as two measurements tell it.
type pair struct {
	both bool // both tell it
	same bool // and the same of it, or neither does
}

func pairOf[V, W comparable](value material.Known[V], within material.Known[W], other material.Known[V], otherWithin material.Known[W]) pair {
	_, is := value.Get()
	_, otherIs := other.Get()
	return pair{both: is && otherIs, same: value == other && within == otherWithin}
}

// weigh judges a weighing of a piece that was there.
func (a *admission) weigh(path fault.Path, f Weighed, p made, at time.Time, but int) (repeats int, doubts []Doubt) {
	net := f.net(p)
	if at.Equal(p.stuffedAt) && net != p.green() {
		a.conflicts.Add(path, codeInstant, "entry %d tells that piece %q weighed %s at this instant, when it was stuffed: correct that one if it is wrong",
			p.stuffed, f.Piece, p.green())
		return 0, nil
	}
	before := a.violations()
	if repeats = a.repeats(path, f, at, but); repeats != 0 || a.violations() > before {
		return repeats, nil
	}
	return 0, a.doubtsOf(weighIn{WeighIn: drying.WeighIn{At: at, Weight: net}, shown: f.Weight}, p, but)
}

// Weigh-ins are judged in their order in time, so many at once: those further off
// say nothing that these do not, and the cost of judging grows with the square.
const (
	window = 50  // how many before those that are judged they are held against, and how many after
	atOnce = 100 // how many are judged at once, beside these
)

// doubtsOf returns why a new weigh-in of a piece can't be right, held against
// those around it; but is the sequence of an entry in whose place it is told, 0
// for none.
func (a *admission) doubtsOf(in weighIn, p made, but int) []Doubt {
	order := a.record.inOrder(KindWeighed)
	later, _ := slices.BinarySearchFunc(order, in.At, func(i int, at time.Time) int { // the first one after it
		if a.record.lines[i].happenedAt.After(at) {
			return 1
		}
		return -1
	})
	slices.Reverse(order[:later])
	before, after := a.nearest(order[:later], p, but), a.nearest(order[later:], p, but)
	slices.Reverse(before)
	return p.judge(slices.Concat(before, []weighIn{in}, after))[len(before)]
}

// nearest returns the first weigh-ins of a piece in an order of lines, so many as
// one is held against, but for an entry; 0 for none.
func (a *admission) nearest(order []int, p made, but int) []weighIn {
	var all []weighIn
	for _, i := range order {
		w, is := a.record.lines[i].told.Fact.(Weighed)
		if !is || w.Piece != p.Name || i == but-1 || a.record.lines[i].happenedAt.Before(p.stuffedAt) {
			continue
		}
		if all = append(all, a.record.weighIn(i, w, p)); len(all) == window {
			break
		}
	}
	return all
}

// weighIn is a weigh-in that stands, its weight less the tare.
type weighIn struct {
	drying.WeighIn
	line  int // index
	shown quantity.Mass
}

// weighIn returns the weigh-in of a line.
func (r Record) weighIn(i int, w Weighed, p made) weighIn {
	l := r.lines[i]
	return weighIn{drying.WeighIn{At: l.happenedAt, Weight: w.net(p), Confirmed: l.confirmed}, i, w.Weight}
}

// doubts returns the doubts that are open, for each line. What was measured is
// doubted as it was when it was recorded. A weigh-in is doubted for what all that
// stands of its piece says of it now, so that what was recorded before what
// speaks against it, or was judged by a green weight that was wrong, is seen
// again; one of no piece counts for nothing, and is not doubted.
func (r Record) doubts(m making) [][]Doubt {
	open := make([][]Doubt, len(r.lines))
	of := make([][]weighIn, len(m.pieces))
	for _, i := range r.inOrder() {
		w, is := r.lines[i].told.Fact.(Weighed)
		if !is {
			open[i] = r.lines[i].doubts
			continue
		}
		if p, there := m.piece(w.Piece); there && !r.lines[i].happenedAt.Before(p.stuffedAt) {
			of[m.named[w.Piece]] = append(of[m.named[w.Piece]], r.weighIn(i, w, p))
		}
	}
	for k, all := range of {
		for from := 0; from < len(all); from += atOnce {
			to := min(from+atOnce, len(all))
			first := max(from-window, 0)
			judged := m.pieces[k].judge(all[first:min(to+window, len(all))])
			for i, in := range all[from:to] {
				open[in.line] = judged[from-first+i]
			}
		}
	}
	return open
}

// judge returns the doubts about weigh-ins of the piece, which stand in order of
// time, none before stuffing.
func (m made) judge(all []weighIn) [][]Doubt {
	doubts := make([][]Doubt, len(all))
	o := drying.Order{Green: m.green(), Stuffed: m.stuffedAt}
	var judged []int // indices in all
	for i, in := range all {
		at := m.weightAt(all, i)
		switch {
		case !weighs(in.Weight):
			doubts[i] = []Doubt{{codeNoWeight, fmt.Sprintf("the scale showed %s, no more than the tare of %s: look at the unit, and weigh again",
				in.shown, in.shown.Minus(in.Weight))}}
		case at != in.Weight: // nothing that was admitted, but a ledger is read whatever is in it
			doubts[i] = []Doubt{{codeInstant, fmt.Sprintf("the piece can't weigh %s and %s at the same instant", at, in.Weight)}}
		default:
			judged = append(judged, i)
			o.WeighIns = append(o.WeighIns, in.WeighIn)
		}
	}
	weighed, err := drying.Judge(o)
	for k, i := range judged {
		if err != nil {
			doubts[i] = []Doubt{{codeInvalid, fmt.Sprintf("it can't be judged: %v", err)}}
			continue
		}
		switch w := weighed[k]; w.Doubt {
		case "", drying.NotRepeated, drying.NotDrying:
		default:
			doubts[i] = []Doubt{{w.Doubt, w.Why}}
		}
	}
	return doubts
}

// weightAt returns the weight that counts at the instant of a weigh-in: the green
// one at stuffing; else of those that weigh something the first that was
// confirmed, or just the first.
func (m made) weightAt(all []weighIn, i int) quantity.Mass {
	at := all[i].At
	if at.Equal(m.stuffedAt) {
		return m.green()
	}
	from := i
	for from > 0 && all[from-1].At.Equal(at) {
		from--
	}
	found, weight := false, all[i].Weight
	for _, in := range all[from:] {
		if !in.At.Equal(at) {
			break
		}
		if !weighs(in.Weight) {
			continue
		}
		if in.Confirmed {
			return in.Weight
		}
		if !found {
			found, weight = true, in.Weight
		}
	}
	return weight
}

// doubts returns what can't be right of a measurement.
func (m Measured) doubts() []Doubt {
	var all []Doubt
	doubt := func(format string, args ...any) {
		all = append(all, Doubt{codeOutOfRange, fmt.Sprintf(format, args...)})
	}
	if t, told := m.Temperature.Get(); told && m.Place == Air {
		if r := fermentation.ChamberRange(); t.Compare(r.Low) < 0 || t.Compare(r.High) > 0 {
			doubt("the air of a chamber or room is from %s to %s, got %s%s", r.Low, r.High, t, meantDegrees(t, r))
		}
	} else if r := coreRange(); told && (t.Compare(r.Low) < 0 || t.Compare(r.High) > 0) {
		doubt("the core of a piece is from %s to %s, got %s%s", r.Low, r.High, t, meantDegrees(t, r))
	}
	if d, worst := m.TemperatureWithin.Or(quantity.TemperatureDelta{}), fermentation.WorstThermometer(); m.Place == Air && d.CelsiusDegrees() > worst.CelsiusDegrees() {
		doubt("a thermometer that may be off by %s tells nothing: at most %s", d, worst)
	}
	if h, told := m.Humidity.Get(); told && h.Float() < driestAir.Float() {
		doubt("air in a chamber or room has a relative humidity of more than %s, got %s: was it a share of 1, and %.3g %% meant?",
			driestAir, h, h.Percent()*100)
	}
	if ph, told := m.PH.Get(); told {
		if r := fermentation.PHRange(); ph.Compare(r.Low) < 0 || ph.Compare(r.High) > 0 {
			doubt("the pH of meat is from %v to %v, got %v%s", r.Low.Float(), r.High.Float(), ph.Float(), meantPoint(ph.Float(), r.Low.Float(), r.High.Float()))
		}
	}
	if aw, told := m.WaterActivity.Get(); told && aw.Float() < driest.Float() {
		doubt("a sausage has a water activity of more than %v, got %v%s", driest.Float(), aw.Float(), meantPoint(aw.Float(), driest.Float(), 1))
	}
	if v, told := m.AirSpeed.Get(); told && stormiest.MetresPerSecond() < v.MetresPerSecond() {
		const perHour, perMinute = 1 / 3.6, 0.00508 // of a kilometre, and of a foot (exact), in m/s
		n := v.MetresPerSecond()
		doubt("air in a room is not faster than %s, got %s: %.4g km/h would be %.2g m/s, and %.4g ft/min %.2g m/s", stormiest, v, n, n*perHour, n, n*perMinute)
	}
	return all
}

func coreRange() quantity.Between[quantity.Temperature] {
	return quantity.Between[quantity.Temperature]{Low: coldestCore, High: hottestCore}
}

// meantDegrees says what a temperature that is out of a range would be if its
// number were in the other scale; empty when that is out of it too.
func meantDegrees(t quantity.Temperature, r quantity.Between[quantity.Temperature]) string {
	within := func(t quantity.Temperature, err error) bool {
		return err == nil && t.Compare(r.Low) >= 0 && t.Compare(r.High) <= 0
	}
	if f, err := quantity.Fahrenheit(t.Celsius()); within(f, err) {
		return fmt.Sprintf(": %.4g °F would be %.1f °C", t.Celsius(), f.Celsius())
	}
	if c, err := quantity.Celsius(t.Fahrenheit()); within(c, err) {
		return fmt.Sprintf(", which is %.4g °F: was it in °C?", t.Fahrenheit())
	}
	return ": look at the thermometer"
}

// meantPoint says what a number below a range would be with its decimal point
// one or two places on; or to look at the meter.
func meantPoint(v, low, high float64) string {
	for _, times := range []float64{10, 100} {
		if meant := v * times; meant >= low && meant <= high {
			return fmt.Sprintf(": was it %.4g?", meant)
		}
	}
	return ": look at the meter"
}
