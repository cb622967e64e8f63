package lot

import (
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
	stormiest                = quantity.MustMetresPerSecond(10) // what package drying takes
)

// version is what an entry told or tells.
type version struct {
	entry   int // sequence of the entry that told it first
	fact    Fact
	stands  bool // it is as it stands
	happens time.Time
}

// versionsAt returns what entries that were not retracted told of an instant, first
// or as corrected, but for an entry; 0 for none.
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
		if now := r.lines[of-1]; now.retractedBy == 0 {
			stands := now.correctedBy == 0 && of == i+1 || now.correctedBy == i+1
			found = append(found, version{of, told.Fact, stands, happened})
		}
	}
	return found
}

// repeats returns the entry that tells the same as a fact of the same instant, 0
// for none; it records one that tells otherwise.
func (a *admission) repeats(path fault.Path, f Fact, at time.Time, but int) int {
	other := 0
	for _, v := range a.record.versionsAt(at, but) {
		switch same, otherwise := a.compare(v.fact, f); {
		case same && but == 0:
			return v.entry
		case otherwise && v.stands && other == 0:
			other = v.entry
		}
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
	if !weighs(net) {
		return 0, []Doubt{{codeNoWeight, fmt.Sprintf("the scale showed %s, no more than the tare of %s: look at the unit, and weigh again", f.Weight, f.Weight.Minus(net))}}
	}
	return 0, a.doubtsOf(path, drying.WeighIn{At: at, Weight: net}, p, f.Piece, but)
}

// window is how many weigh-ins before a new one it is held against, and how many
// after it; those further off say nothing that these do not.
const window = 50

// doubtsOf returns why a weigh-in of a piece can't be right, held against those
// around it that count.
func (a *admission) doubtsOf(path fault.Path, in drying.WeighIn, p made, name string, but int) []Doubt {
	var before, after []drying.WeighIn
	for _, i := range a.record.inOrder(KindWeighed) {
		l := a.record.lines[i]
		w, is := l.told.Fact.(Weighed)
		if !is || w.Piece != name || i == but-1 || len(l.doubts) > 0 || l.happenedAt.Before(p.stuffedAt) || !weighs(w.net(p)) {
			continue
		}
		one := drying.WeighIn{At: l.happenedAt, Weight: w.net(p), Confirmed: l.confirmed}
		if one.At.After(in.At) {
			after = append(after, one)
		} else {
			before = append(before, one)
		}
	}
	before, after = before[max(len(before)-window, 0):], after[:min(window, len(after))]
	all, err := drying.Judge(drying.Order{
		Green: p.green(), Stuffed: p.stuffedAt, WeighIns: slices.Concat(before, []drying.WeighIn{in}, after),
	})
	if a.invalid.AddError(path, codeInvalid, err) {
		return nil
	}
	switch w := all[len(before)]; w.Doubt {
	case "", drying.NotRepeated, drying.NotDrying:
		return nil
	default:
		return []Doubt{{w.Doubt, w.Why}}
	}
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
