package lot

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Fermentation is the question whether acid came fast enough, as a lot's record
// asks it of package fermentation.
type Fermentation struct {
	Course     fermentation.Course
	Start      time.Time      // of the course: the stuffing, or the first temperature of the air where that came later than an hour after it
	Uncounted  time.Duration  // from stuffing to the start, of which no temperature is known
	Alone      []Alone        // where a thermometer that was warmer than the others began or ended
	LogEntries []int          // for each reading of the course's log, the sequence of the entry that tells it; the first may stand twice
	PHEntries  []int          // for each of its pH readings, the same
	LowAcid    bool           // the plan declares that no acid down to pH 5.3 is intended
	Notes      []finding.Note // on what the course was made of; members from the course down
}

// Alone is the first or the last reading of a thermometer that was clearly warmer
// than what was read next to it by others: how warm its place was on the other
// side of it nobody knows.
type Alone struct {
	Entry int           // sequence of the entry that tells the reading
	At    time.Duration // from the start of the course
	Ended bool          // it is the last; else the first
}

const (
	// soon is how long after stuffing the first temperature may be read before it
	// is remarked on, and long the longest gap between two: somebody who reads it
	// twice a day is somewhat late at times. Choices of this project.
	soon = time.Hour
	long = 14 * time.Hour
	// warmer is by how many °C a thermometer is clearly warmer than another one in
	// the same place: twice what two of the usual kind may differ. A choice of this
	// project.
	warmer = 2.0
)

// Fermentation asks whether acid came fast enough.
//
// The course begins with the first temperature of the air that was read at or
// after the first stuffing; within an hour after it that is taken for what it was
// until then. It goes on to the first hanging; after that for as
// long as no pH was read that is at or below 5.3 with all that it may be off,
// since until then the clock of the rules runs. Of several thermometers the
// warmest counts, and of several pieces the one whose pH is highest. What was estimated
// was not measured, and is left out with what is doubtful. The thermometer is
// taken to be off by the most that is told of any reading, and by no less than
// fermentation.DefaultThermometer where one does not tell it.
//
// It reports fault.NoSolution: not-stuffed when nothing was stuffed yet, and
// no-temperatures when there are not two readings to begin with. What
// fermentation does not take is left to it.
func (s State) Fermentation() (Fermentation, error) {
	if s.StuffedAt.IsZero() {
		return Fermentation{}, &fault.Error{
			Kind: fault.NoSolution, Code: "not-stuffed", Detail: "nothing was stuffed yet, so that there is no fermentation to judge",
		}
	}
	q := Fermentation{Course: fermentation.Course{Rulebook: s.Planned.Jurisdiction, LongestGap: long}}
	log, of := s.atmosphere()
	ph, contradicted := s.acids()
	log = log[:s.fermented(log, ph)]
	if len(log) < 2 {
		return Fermentation{}, &fault.Error{Kind: fault.NoSolution, Code: "no-temperatures", Detail: fmt.Sprintf(
			"at least two temperatures of the air are needed from stuffing on, at two instants, and %s: measured, with place air, and neither estimated nor doubtful",
			counts(len(log)))}
	}
	if since := log[0].at.Sub(s.StuffedAt); since > 0 && since <= soon {
		first := log[0]
		first.at = s.StuffedAt
		log = slices.Insert(log, 0, first)
		q.note("start-as-first-read", fault.At("log", 0), "The first temperature was read %.2g h after stuffing, and is taken for what it was until then.", since.Hours())
	}
	q.Start = log[0].at
	q.Uncounted = q.Start.Sub(s.StuffedAt)
	if len(of) > 1 {
		q.note("several-thermometers", fault.At("log"), "Several thermometers were read: where they differ the warmer one counts.")
		q.alone(s, log, of)
	}
	if len(contradicted) > 0 {
		q.note("slower-piece", fault.At("ph_readings"), "%s at or below %s, which counts for nothing yet: another piece was read above it in the same %s, "+
			"or within %s after, and not below since. The slowest piece decides.", areAcid(contradicted), targetPH(), inHours(oneRound), inHours(onceMore))
	}
	q.temperatures(log)
	q.readPH(ph)
	if steps := s.Planned.Formula.Plan.Fermentation; len(steps) > 0 {
		t, told := steps[0].Temperature.Get()
		if r := fermentation.ChamberRange(); told && t.Compare(r.Low) >= 0 && t.Compare(r.High) <= 0 {
			q.Course.Planned = t
		}
	}
	q.remark(s)
	q.declare(s)
	return q, nil
}

// areAcid names the entries of readings for people.
func areAcid(readings []reading) string {
	names := make([]string, 0, len(readings))
	for _, r := range readings {
		names = append(names, strconv.Itoa(r.sequence))
	}
	if len(names) == 1 {
		return "Entry " + names[0] + " is"
	}
	return "Entries " + strings.Join(names, ", ") + " are"
}

func inHours(d time.Duration) string { return fmt.Sprintf("%g h", d.Hours()) }

func counts(n int) string {
	if n == 1 {
		return "one counts"
	}
	return "none counts"
}

// measured reports whether it is a measurement and no guess.
func (r reading) measured() bool { return r.Means.Method != ByEstimate }

// atmosphere returns the readings of the temperature of the air since stuffing,
// the highest of each instant. Two thermometers may stand in two places, and the
// warmer one decides: a reading is left out that is below the line between two
// readings of another thermometer. What is left, joined by straight lines, is
// nowhere below any of them. of is all that each thermometer read; those that are
// not named are taken for one.
func (s State) atmosphere() (log []reading, of map[thermometer][]reading) {
	of = make(map[thermometer][]reading)
	var all []reading
	for _, r := range s.readings {
		if !r.ofAir() || !r.measured() || r.at.Before(s.StuffedAt) {
			continue
		}
		all = append(all, r)
		of[r.thermometer()] = append(of[r.thermometer()], r)
	}
	for _, r := range all {
		if r.belowAnother(of) {
			continue
		}
		if n := len(log); n > 0 && log[n-1].at.Equal(r.at) {
			if r.temperature().Compare(log[n-1].temperature()) > 0 {
				log[n-1] = r
			}
			continue
		}
		log = append(log, r)
	}
	return log, of
}

// thermometer tells one from another, as far as it was told.
type thermometer struct{ instrument, piece string }

func (r reading) thermometer() thermometer { return thermometer{r.Means.Instrument, r.Piece} }

// belowAnother reports whether another thermometer was surely warmer, by the
// line between its readings before and after.
func (r reading) belowAnother(of map[thermometer][]reading) bool {
	for name, others := range of {
		if name == r.thermometer() {
			continue
		}
		after, _ := slices.BinarySearchFunc(others, r.at, func(o reading, at time.Time) int { return o.at.Compare(at) })
		if after == 0 || after == len(others) {
			continue // it was not read by then, or no more
		}
		from, to := others[after-1], others[after]
		part := float64(r.at.Sub(from.at)) / float64(to.at.Sub(from.at))
		if there := from.celsius() + part*(to.celsius()-from.celsius()); r.celsius() < there {
			return true
		}
	}
	return false
}

func (r reading) celsius() float64 { return r.temperature().Celsius() }

func (r reading) temperature() quantity.Temperature { return r.Temperature.Or(quantity.Temperature{}) }

const (
	// oneRound is how far apart readings of the pH of several pieces are of one
	// round, of which the highest decides, and onceMore how long after a piece was
	// sour enough another that is not yet speaks against it: later, pH rises again
	// as the sausage ripens. Choices of this project.
	oneRound = 3 * time.Hour
	onceMore = 72 * time.Hour
)

// acids returns the pH readings since stuffing, the highest of each instant.
// The slowest piece decides: a reading at or below 5.3 is left out, and
// contradicted, while another piece is not as far, by a reading of the same
// round or by one soon after.
func (s State) acids() (ph, contradicted []reading) {
	var all []reading
	for _, r := range s.readings {
		if _, told := r.PH.Get(); told && r.measured() && !r.at.Before(s.StuffedAt) {
			all = append(all, r)
		}
	}
	var slow slowPieces
	for i, r := range all {
		if slow.see(r); r.acid() && (s.slower(all, i) || slow.other(r.Piece)) {
			slow.contradict(r)
			contradicted = append(contradicted, r)
			continue
		}
		value := r.PH.Or(quantity.PH{})
		if n := len(ph); n > 0 && ph[n-1].at.Equal(r.at) {
			if last := ph[n-1].PH.Or(quantity.PH{}); value.Compare(last) > 0 || value == last && r.highestPH().Compare(ph[n-1].highestPH()) > 0 {
				ph[n-1] = r
			}
			continue
		}
		ph = append(ph, r)
	}
	return ph, contradicted
}

// acid reports whether a pH is at or below that at which the clock of the rules
// ends.
func (r reading) acid() bool { return r.PH.Or(quantity.PH{}).Compare(targetPH()) <= 0 }

// slowPieces are the pieces that were read above 5.3, and not sour enough since,
// in the order of the readings.
type slowPieces struct {
	high map[string]reading // by name, the last reading above 5.3
	slow map[string]bool    // that spoke against the acid of another piece
	sour map[string]bool    // that were sour enough once: what rises later, ripens
	last time.Time          // of the last acid reading
}

// see takes up a reading.
func (p *slowPieces) see(r reading) {
	if p.high == nil {
		p.high, p.slow, p.sour = make(map[string]reading), make(map[string]bool), make(map[string]bool)
	}
	switch {
	case r.acid():
		delete(p.high, r.Piece)
		delete(p.slow, r.Piece)
		p.sour[r.Piece] = true
		p.last = r.at
	case r.Piece != "" && !p.sour[r.Piece]:
		p.high[r.Piece] = r
		if !p.last.IsZero() && r.at.Sub(p.last) <= onceMore {
			p.slow[r.Piece] = true
		}
	}
}

// contradict marks the pieces that spoke against an acid reading of another: they
// do so until they are sour enough themselves.
func (p *slowPieces) contradict(r reading) {
	for name, o := range p.high {
		if name != r.Piece && r.at.Sub(o.at) <= oneRound {
			p.slow[name] = true
		}
	}
}

// other reports whether another piece than one is known to be slow.
func (p *slowPieces) other(piece string) bool {
	for name := range p.slow {
		if name != piece {
			return true
		}
	}
	return false
}

// slower reports whether another piece was not sour enough when that of reading
// i was. Readings that name no piece may be of one that sours, or of another:
// only what comes after speaks against it.
func (State) slower(all []reading, i int) bool {
	r := all[i]
	done := make(map[string]bool) // pieces that were sour enough, in order of time
	for k, o := range all {
		if o.acid() {
			done[o.Piece] = true
			continue
		}
		other := o.Piece != r.Piece || o.Piece == "" && k != i
		if !other {
			continue
		}
		between := o.at.Sub(r.at)
		switch {
		case between <= 0 && -between <= oneRound && o.Piece != "" && !sourBy(all, o.Piece, o.at, r.at):
			return true
		case between > 0 && between <= oneRound && o.Piece == "": // pH does not rise so soon
			return true
		case between > 0 && between <= onceMore && !done[o.Piece]:
			return true
		}
	}
	return false
}

// sourBy reports whether a piece was read sour enough after one time and
// by another.
func sourBy(all []reading, piece string, after, by time.Time) bool {
	return slices.ContainsFunc(all, func(o reading) bool {
		return o.Piece == piece && o.acid() && o.at.After(after) && !o.at.After(by)
	})
}

// stripOff is how far off a pH by strip is taken to be, either way, where it is
// not told: strips are graded in thirds to halves, and read by eye. Common
// practice, no source.
const stripOff = 0.5

// withinPH returns both ends of what a pH may be: as told, by strip stripOff,
// and otherwise the reading alone.
func (r reading) withinPH() quantity.Between[quantity.PH] {
	read := r.PH.Or(quantity.PH{})
	within, told := r.PHWithin.Get()
	switch {
	case told:
		return within
	case r.Means.Method != Strip:
		return quantity.Exactly(read)
	}
	const lowest, highest = 0, 14
	low, errLow := quantity.NewPH(max(read.Float()-stripOff, lowest))
	high, errHigh := quantity.NewPH(min(read.Float()+stripOff, highest))
	if errLow != nil || errHigh != nil { // between the ends of the scale there is a pH
		return quantity.Exactly(read)
	}
	return quantity.Between[quantity.PH]{Low: low, High: high}
}

// highestPH returns the highest that a pH may be, by how far it may be off.
func (r reading) highestPH() quantity.PH { return r.withinPH().High }

// fermented returns how many of the temperatures are of the fermentation: up to
// hanging, and on to the first that was read when acid had surely come.
func (s State) fermented(log, ph []reading) int {
	const rounding = 1e-9 // an end is computed from a reading and how far it is off
	var acid time.Time
	for _, r := range ph {
		if r.highestPH().Float() <= targetPH().Float()+rounding {
			acid = r.at
			break
		}
	}
	for i, r := range log {
		hung := !s.HungAt.IsZero() && r.at.After(s.HungAt)
		known := i > 0 && !acid.IsZero() && !acid.After(log[i-1].at) // the temperatures are known until then
		if hung && known || r.at.Sub(log[0].at) > fermentation.LongestCourse {
			return i
		}
	}
	return len(log)
}

// targetPH returns the pH at which the clock of the rules ends, 5.3 in all of
// them.
func targetPH() quantity.PH { return rulebook.DegreeHourSets()[0].TargetPH }

// temperatures puts the temperatures into the course, with how far the
// thermometer may be off.
func (q *Fermentation) temperatures(log []reading) {
	var worst quantity.TemperatureDelta
	told, untold := false, false
	for _, r := range log {
		q.Course.Log = append(q.Course.Log, fermentation.Reading{At: r.at.Sub(q.Start), Temperature: r.temperature()})
		q.LogEntries = append(q.LogEntries, r.sequence)
		within, is := r.TemperatureWithin.Get()
		told, untold = told || is, untold || !is
		if within.CelsiusDegrees() > worst.CelsiusDegrees() {
			worst = within
		}
	}
	if usual := fermentation.DefaultThermometer(); untold && usual.CelsiusDegrees() > worst.CelsiusDegrees() {
		worst = usual
	}
	if told {
		q.Course.Thermometer = &worst
	}
}

// readPH puts the pH readings into the course.
func (q *Fermentation) readPH(ph []reading) {
	for _, r := range ph {
		at := r.at.Sub(q.Start)
		if at > fermentation.LongestCourse {
			return
		}
		q.Course.PHReadings = append(q.Course.PHReadings, fermentation.PHReading{
			At: at, PH: r.PH.Or(quantity.PH{}), Within: r.withinPH(),
		})
		q.PHEntries = append(q.PHEntries, r.sequence)
	}
}

func (q *Fermentation) note(code string, member fault.Path, format string, args ...any) {
	q.Notes = append(q.Notes, finding.Note{Code: code, Member: member, Text: fmt.Sprintf(format, args...)})
}

// Judge holds the course against the rules on degree-hours. Where it is not known
// how warm it was for longer than an hour after stuffing, or for longer than
// an hour on one side of the readings of a warmer thermometer, what would be
// met or near is not shown: an unknown hour may have been a hot one. What is not
// known between two readings the course has as gaps. Of a plan that declares no
// acid, the finding on the acid does not ask for it. It returns the faults of
// fermentation.DegreeHours.
func (q Fermentation) Judge() (fermentation.Exposure, error) {
	e, err := fermentation.DegreeHours(q.Course)
	if err != nil {
		return e, err
	}
	e.Findings = slices.Clone(e.Findings)
	if q.LowAcid {
		withoutAcid(e.Findings)
	}
	why := q.unknown(e.Clock.Counted)
	if why == "" {
		return e, nil
	}
	for i, f := range e.Findings {
		if f.Code != fermentation.CodeDegreeHours || f.Status != finding.Met && f.Status != finding.Near && f.Status != finding.NotApplicable {
			continue
		}
		f.Status = finding.NotShown
		f.Reason = why + " " + f.Reason
		f.Remedy = ""
		e.Findings[i] = f
	}
	return e, nil
}

// unknown says for people of which hours up to a time of the course it is not
// known how warm they were; nothing when it is known of enough.
func (q Fermentation) unknown(counted time.Duration) string {
	if q.Uncounted > soon {
		return fmt.Sprintf("Of the first %.1f h after stuffing no temperature is known, so that the sum below is not the whole.", q.Uncounted.Hours())
	}
	for _, a := range q.Alone {
		switch {
		case a.Ended && counted-a.At > soon:
			return fmt.Sprintf("A thermometer that was warmer than the others was not read any more after entry %d, so that the sum below may lack its place.", a.Entry)
		case !a.Ended && a.At > soon && a.At < counted:
			return fmt.Sprintf("A thermometer that was warmer than the others was not read before entry %d, so that the sum below may lack its place.", a.Entry)
		}
	}
	return ""
}

// alone finds where a thermometer that was clearly warmer than the reading of
// another beside it in the log began or ended. One that ends after pieces were
// hung stays behind in the chamber.
func (q *Fermentation) alone(s State, log []reading, of map[thermometer][]reading) {
	for i, r := range log {
		at, own := r.at.Sub(q.Start), of[r.thermometer()]
		if i > 0 && r.at.Equal(own[0].at) && r.celsius()-log[i-1].celsius() > warmer {
			q.Alone = append(q.Alone, Alone{Entry: r.sequence, At: at})
		}
		hung := !s.HungAt.IsZero() && i+1 < len(log) && !log[i+1].at.Before(s.HungAt)
		if i+1 < len(log) && !hung && r.at.Equal(own[len(own)-1].at) && r.celsius()-log[i+1].celsius() > warmer {
			q.Alone = append(q.Alone, Alone{Entry: r.sequence, At: at, Ended: true})
		}
	}
}

// remark says what a reader must know of what the course was made of.
func (q *Fermentation) remark(s State) {
	if q.Uncounted > soon {
		q.note("late-start", fault.At("log"), "The first temperature was read %.1f h after stuffing. How warm it was until then is not known and is not counted, "+
			"so that what is found of the degree-hours does not hold for these hours.", q.Uncounted.Hours())
	}
	var doubted []int
	for _, r := range s.doubted {
		if s.fermenting(r) {
			doubted = append(doubted, r.sequence)
		}
	}
	if len(doubted) > 0 {
		q.note("doubtful-left-out", nil, "%s: such readings are left out until they are confirmed or corrected.", lookWrong(doubted))
	}
	estimates := 0
	for _, r := range s.readings {
		if s.fermenting(r) && !r.measured() {
			estimates++
		}
	}
	if estimates > 0 {
		q.note("estimates-left-out", nil, "%s of temperature or pH was not measured, and is left out.", counted(estimates, "estimate"))
	}
}

// declare says of a plan without acid that degree-hours are told for information.
func (q *Fermentation) declare(s State) {
	q.LowAcid = s.Planned.Formula.Plan.LowAcid
	if q.LowAcid {
		q.note("low-acid-declared", nil, "The plan declares a cool, low-acid traditional sausage: no acid down to %s is intended, so that it counts nowhere as fermented. "+
			"The degree-hours are told for information; without acid nothing ends their count but dryness, and that is to be measured.", targetPH())
	}
}

// withoutAcid rewrites what is found of the acid of a sausage that is not meant
// to sour, unless a pH was read that shows acid all the same.
func withoutAcid(findings []finding.Finding) {
	for i, f := range findings {
		if f.Code == fermentation.CodeAcid && f.Status == finding.NotShown {
			findings[i].Reason = "the plan declares that no such acid is intended; " + f.Reason
			findings[i].Remedy = "Keep it cool and dry it: temperature, time, cure and a measured water activity have to carry it. A pH that is read counts all the same."
		}
	}
}
