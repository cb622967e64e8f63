package lot

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// What a ledger takes. Choices of this project.
const (
	// MostEntries is how many entries a ledger has at most.
	MostEntries = 10_000
	// mostPieces is how many pieces a lot has at most. A choice of this project.
	mostPieces = 2000
	// notForMeasured is how many places at its end are not for what is measured:
	// an instrument that measures too often leaves room for weigh-ins and
	// corrections.
	notForMeasured = 500
	// lateAfter is how long after it happened an entry may be recorded before it
	// counts as late: hands are washed first.
	lateAfter = time.Hour
	// ahead is how far clocks of instruments may go ahead of that of the service.
	ahead = 5 * time.Minute
)

// What a piece may be. Lighter is no sausage and heavier a slip of unit: choices
// of this project. The diameters are those of package drying.
var (
	lightest, heaviest = quantity.MustGrams(5), quantity.MustGrams(20_000)
	thinnest, thickest = quantity.MustMillimetres(5), quantity.MustMillimetres(250)
)

// Codes of what can't be appended because it has no meaning.
const (
	codeInvalid        = "invalid-value"
	codeUntold         = "required"
	codeNotOpened      = "not-opened"
	codeOpened         = "already-opened"
	codeOpening        = "opening"
	codeFuture         = "in-the-future"
	codeBeforeMixing   = "before-mixing"
	codeAfterStuffing  = "after-stuffing"
	codeBeforeStuffing = "before-stuffing"
	codeUnknownPiece   = "unknown-piece"
	codeDuplicate      = "duplicate"
	codeOutOfRange     = "out-of-range"
	codeNoWeight       = "no-weight"
	codeUnknownEntry   = "unknown-entry"
	codeNotKeptYet     = "not-kept-yet"
	codeNotAFact       = "not-a-fact"
	codeWrongKind      = "wrong-kind"
)

// Codes of what can't be appended because of what is there.
const (
	codeConflict    = "conflict"
	codeMixed       = "already-mixed"
	codeHung        = "already-hung"
	codeInstant     = "conflicting-instant"
	codeRetracted   = "retracted"
	codeNotDoubtful = "not-doubtful"
	codeContradicts = "contradicts"
	codeFull        = "ledger-full"
	codeManyPieces  = "too-many-pieces"
)

// Admitted is what is to be kept of what was posted.
type Admitted struct {
	Told       Told
	HappenedAt time.Time // as told, else now; to the microsecond
	Late       bool      // recorded more than an hour after it happened
	Doubts     []Doubt   // as it looks beside what is there by now
	Repeats    int       // sequence of the entry that tells the same already; 0 for a new one
}

// Admit judges what is to be appended, each as if what stands before it were
// appended already, and returns what is to be kept of it, in its order.
//
// A weight or a measurement that can't be right is admitted with doubts: whoever
// sends it may be an instrument, which would send it again for ever. One that
// tells the same of the same instant as an entry before is admitted as a repeat
// of that, which is not appended: it is the same weight and tare of a
// piece, or the same values of the same instrument, place and piece, as first
// told or as corrected. One that was taken back is repeated too: what sends again
// does not know of it, and is not to put it back. Who wants it back tells another
// instant.
//
// It reports every violation at once, at the index of what was posted and the
// member from there on, as 1/pieces/2/piece. fault.Invalid, when there is any of
// these:
//
//   - required: nothing is told
//   - not-opened, already-opened: planned is the first entry of a ledger, alone,
//     and no other
//   - in-the-future: by more than 5 minutes
//   - before-mixing, before-stuffing, after-stuffing: it can't have happened by
//     then; a batch may go unrecorded, but can't come after its pieces
//   - unknown-piece, duplicate: a name that no piece has, or another has already
//   - no-weight: the tare of a piece leaves nothing of its weight
//   - out-of-range: a piece under 5 g or over 20 kg, or not 5 to 250 mm thick
//   - unknown-entry, not-a-fact, wrong-kind: what is judged is not there, judges
//     itself, or is of another kind than what is to stand in its place
//   - not-kept-yet: what is judged stands in the same list; whoever judges an
//     entry has seen it
//   - opening: a lot's opening can be corrected, and not taken back
//
// Otherwise fault.Conflict:
//
//   - already-mixed, already-hung: that happened before
//   - conflicting-instant: another entry tells of this instant otherwise
//   - retracted: what is judged was taken back
//   - not-doubtful: there is no doubt to clear; a weigh-in can be confirmed as long
//     as it is not, doubted or not, because what is asked of a lot may leave out
//     more than is doubted here
//   - no-weight: a weighing that showed no more than the tare can't be confirmed
//   - contradicts: other entries can't stand with what would be left
//   - too-many-pieces: the lot would have more than 2000
//   - ledger-full: it would have more than MostEntries; the last 500 places are not
//     for what is measured
//
// The cost grows with the length of the ledger times that of what is posted: on a
// full ledger some milliseconds for one entry, a second for 500 weights, and some
// seconds for 500 that take back pieces among thousands.
func (r Record) Admit(now time.Time, posted []Told) ([]Admitted, error) {
	a := admission{now: now, kept: len(r.entries), record: r.copied(len(posted))}
	if len(r.entries) == 0 && !a.opens(posted) {
		return nil, a.err()
	}
	all := make([]Admitted, 0, len(posted))
	for i, told := range posted {
		all = append(all, a.admit(fault.At(i), told))
	}
	if err := a.err(); err != nil {
		return nil, err
	}
	return all, nil
}

// fits reports whether there is a place for one more entry.
func (a *admission) fits(path fault.Path, kind Kind) bool {
	switch n := len(a.record.entries) + 1; {
	case n > MostEntries:
		a.conflicts.Add(path, codeFull, "a ledger has at most %d entries", MostEntries)
	case n > MostEntries-notForMeasured && kind == KindMeasured:
		a.conflicts.Add(path, codeFull, "a ledger has at most %d entries, and the last %d are not for what is measured, so that weigh-ins and corrections "+
			"still fit: measure at longer intervals", MostEntries, notForMeasured)
	default:
		return true
	}
	return false
}

// admission is the judging of a list.
type admission struct {
	now       time.Time
	kept      int    // entries of the ledger, without the list
	record    Record // with what was judged so far; it is the admission's own
	known     *making
	invalid   fault.Collector
	conflicts fault.Collector
}

// err returns what was found.
func (a *admission) err() error {
	invalid := a.invalid.Err(codeInvalid, "the entries have no meaning as they stand")
	conflicts := a.conflicts.Err(codeConflict, "what is in the ledger forbids it")
	f, is := errors.AsType[*fault.Error](conflicts)
	if !is {
		return invalid
	}
	if worse, is := errors.AsType[*fault.Error](invalid); is {
		worse.Violations = append(worse.Violations, f.Violations...)
		return worse
	}
	f.Kind = fault.Conflict
	return f
}

// opens reports whether a list opens a lot.
func (a *admission) opens(posted []Told) bool {
	opens := true
	for i, told := range posted {
		_, planned := told.Fact.(Planned)
		switch {
		case i == 0 && planned:
		case planned:
			a.invalid.Add(fault.At(i, "kind"), codeOpened, "the lot is opened by the entry before it")
			opens = false
		default:
			a.invalid.Add(fault.At(i, "kind"), codeNotOpened, "nothing can be recorded of a lot before it is opened")
			opens = false
		}
	}
	return opens
}

// admit judges one of the list, and appends it to the record.
func (a *admission) admit(path fault.Path, told Told) Admitted {
	out := Admitted{Told: told, HappenedAt: instant(told.HappenedAt)}
	if told.HappenedAt.IsZero() {
		out.HappenedAt = instant(a.now)
	}
	out.Late = a.now.Sub(out.HappenedAt) > lateAfter
	a.checkPast(path, out.HappenedAt)
	works := true
	switch f := told.Fact.(type) {
	case nil:
		a.invalid.Add(under(path, "kind"), codeUntold, "it is not told what happened")
		return out
	case Planned:
		if len(a.record.entries) > 0 {
			a.invalid.Add(under(path, "kind"), codeOpened, "the lot is opened already, by entry 1; that one can be corrected")
			return out
		}
	case Corrected:
		out.Doubts, works = a.correct(path, f)
	case Retracted:
		works = a.retract(path, f)
	case Confirmed:
		works = a.confirm(path, f)
	default:
		out.Repeats, out.Doubts = a.tell(path, f, out.HappenedAt, 0)
	}
	if out.Repeats == 0 && a.fits(path, told.Fact.Kind()) {
		a.append(entryOf(a.record, told, out), works)
	}
	return out
}

// entryOf returns the entry that would come of what was admitted, without what
// the ledger adds to it.
func entryOf(r Record, told Told, as Admitted) Read {
	return Read{Told: told, Entry: Entry{
		Sequence: len(r.entries) + 1, Kind: told.Fact.Kind(), HappenedAt: as.HappenedAt, Doubts: as.Doubts,
	}}
}

// append appends an entry to the record; one that does not work takes its place
// there and nothing else, so that what follows is judged as it would be without.
func (a *admission) append(e Read, works bool) {
	if !works {
		a.record.entries = append(a.record.entries, e)
		a.record.lines = append(a.record.lines, line{told: e.Told, happenedAt: e.HappenedAt})
		return
	}
	a.record.append(e)
	kind := e.Kind
	if judged, judges := judgedBy(e.Told.Fact); judges {
		kind = a.record.entries[judged-1].Kind
	}
	if making := kind == KindMixed || kind == KindStuffed || kind == KindHung; making {
		a.known = nil
	}
}

// making returns how the pieces came about, but for an entry; 0 for none.
func (a *admission) making(but int) *making {
	if but != 0 {
		switch a.record.entries[but-1].Kind {
		case KindMixed, KindStuffed, KindHung:
			m := a.record.making(but)
			return &m
		default: // pieces do not come from the others
		}
	}
	if a.known == nil {
		m := a.record.making(0)
		a.known = &m
	}
	return a.known
}

func (a *admission) checkPast(path fault.Path, happenedAt time.Time) {
	if by := happenedAt.Sub(a.now); by > ahead {
		a.invalid.Add(under(path, "happened_at"), codeFuture, "it can't have happened %s from now: look at the clock and at the offset",
			lasting(by))
	}
}

// tell judges a fact; but is the sequence of an entry in whose place it is told,
// 0 for none. It returns the entry that it repeats, and its doubts.
func (a *admission) tell(path fault.Path, f Fact, at time.Time, but int) (repeats int, doubts []Doubt) {
	switch f := f.(type) {
	case Mixed:
		m := a.making(but)
		if len(m.mixed) > 0 {
			a.conflicts.Add(path, codeMixed, "the lot was mixed already, by entry %d", m.mixed[0])
		}
		if len(m.pieces) > 0 && m.pieces[0].stuffedAt.Before(at) {
			a.invalid.Add(under(path, "happened_at"), codeAfterStuffing, "pieces were stuffed already %s before, by entry %d: when was it mixed?",
				lasting(at.Sub(m.pieces[0].stuffedAt)), m.pieces[0].stuffed)
		}
	case Stuffed:
		a.stuff(path, f, at, a.making(but))
	case Hung:
		a.hang(path, f, at, but)
	case Weighed:
		if p, is := a.piece(path, f.Piece, at, but); is {
			return a.weigh(path, f, p, at, but)
		}
	case Measured:
		if f.Piece != "" {
			a.piece(path, f.Piece, at, but)
		}
		if repeats = a.repeats(path, f, at, but); repeats == 0 {
			doubts = f.doubts()
		}
	case Observed:
		if f.Piece != "" {
			a.piece(path, f.Piece, at, but)
		}
	}
	return repeats, doubts
}

// piece returns the piece of a name that was there at a time, and false when
// there is none.
func (a *admission) piece(path fault.Path, name string, at time.Time, but int) (made, bool) {
	m := a.making(but)
	p, there := m.piece(name)
	switch {
	case !there:
		a.invalid.Add(under(path, "piece"), codeUnknownPiece, "there is no piece %q: %s", name, m.known())
		return p, false
	case at.Before(p.stuffedAt):
		a.invalid.Add(under(path, "happened_at"), codeBeforeStuffing, "piece %q was stuffed only %s later, by entry %d",
			name, lasting(p.stuffedAt.Sub(at)), p.stuffed)
		return p, false
	}
	return p, true
}

// known says for people which pieces there are.
func (m *making) known() string {
	names := make([]string, len(m.pieces))
	for i, p := range m.pieces {
		names[i] = p.Name
	}
	if len(names) == 0 {
		return "nothing was stuffed yet"
	}
	return "there are " + listed(names, 20)
}

func (a *admission) stuff(path fault.Path, f Stuffed, at time.Time, m *making) {
	// A batch may go unrecorded, but can't come after its pieces.
	if len(m.mixed) > 0 && at.Before(m.mixedAt) {
		a.invalid.Add(under(path, "happened_at"), codeBeforeMixing, "the lot was mixed only %s later, by entry %d", lasting(m.mixedAt.Sub(at)), m.mixed[0])
	}
	if n := len(m.pieces) + len(f.Pieces); n > mostPieces {
		a.conflicts.Add(under(path, "pieces"), codeManyPieces, "a lot has at most %d pieces, and would have %d: open another", mostPieces, n)
	}
	named := make(map[string]int, len(f.Pieces))
	for i, p := range f.Pieces {
		at := under(path, "pieces", i)
		a.checkPiece(at, p)
		if first, taken := m.piece(p.Name); taken {
			a.invalid.Add(under(at, "piece"), codeDuplicate, "there is a piece %q already, by entry %d", p.Name, first.stuffed)
		} else if first, taken := named[p.Name]; taken {
			a.invalid.Add(under(at, "piece"), codeDuplicate, "%q is the name of pieces/%d already", p.Name, first)
		}
		named[p.Name] = i
	}
}

func (a *admission) checkPiece(path fault.Path, p Piece) {
	switch green := p.Weight.Minus(p.Tare); {
	case !weighs(green):
		a.invalid.Add(under(path, "tare"), codeNoWeight, "a tare of %s leaves nothing of %s", p.Tare, p.Weight)
	case green.Less(lightest) || heaviest.Less(green):
		a.invalid.Add(under(path, "weight"), codeOutOfRange, "a piece weighs from %s to %s, got %s: look at the unit", lightest, heaviest, green)
	}
	if d, told := p.Diameter.Get(); told && (d.Less(thinnest) || thickest.Less(d)) {
		a.invalid.Add(under(path, "diameter"), codeOutOfRange, "a piece is from %s to %s thick, got %s: look at the unit", thinnest, thickest, d)
	}
}

// hang judges hanging; but is the sequence of an entry in whose place it is told,
// 0 for none. What that entry hung is free, and no other is to take it meanwhile:
// so the record is asked as it is.
func (a *admission) hang(path fault.Path, f Hung, at time.Time, but int) {
	m := a.making(0)
	if len(f.Pieces) == 0 {
		a.hangAll(path, at, m, but)
		return
	}
	named := make(map[string]int, len(f.Pieces))
	for i, name := range f.Pieces {
		to := under(path, "pieces", i)
		p, there := m.piece(name)
		first, twice := named[name]
		switch {
		case twice:
			a.invalid.Add(to, codeDuplicate, "%q is at pieces/%d already", name, first)
		case !there:
			a.invalid.Add(to, codeUnknownPiece, "there is no piece %q: %s", name, m.known())
		case at.Before(p.stuffedAt):
			a.invalid.Add(to, codeBeforeStuffing, "piece %q was stuffed only %s later, by entry %d", name, lasting(p.stuffedAt.Sub(at)), p.stuffed)
		case p.hung != 0 && p.hung != but:
			a.conflicts.Add(to, codeHung, "piece %q hangs already, by entry %d: that one can be corrected to name its pieces", name, p.hung)
		}
		if !twice {
			named[name] = i
		}
	}
}

// hangAll judges hanging what was stuffed by a time and does not hang by then;
// but is the sequence of an entry in whose place it is told, 0 for none.
func (a *admission) hangAll(path fault.Path, at time.Time, m *making, but int) {
	stuffed, hangs := false, true
	for _, p := range m.pieces {
		if at.Before(p.stuffedAt) || but != 0 && p.stuffed > but {
			continue
		}
		stuffed = true
		switch {
		case p.hung == 0 || p.hung == but:
			hangs = false
		case at.Before(p.hungAt):
			hangs = false
			a.conflicts.Add(path, codeHung, "piece %q was hung only later, by entry %d: name the pieces that were hung", p.Name, p.hung)
		}
	}
	switch {
	case !stuffed:
		a.invalid.Add(under(path, "happened_at"), codeBeforeStuffing, "nothing was stuffed by then")
	case hangs:
		a.conflicts.Add(path, codeHung, "all that was stuffed by then hangs already: the entry by which a piece hangs can be corrected to name its pieces")
	}
}

// correct judges a correction, and returns its doubts and whether it works.
func (a *admission) correct(path fault.Path, c Corrected) (doubts []Doubt, works bool) {
	right := under(path, "right")
	if c.Right.Fact == nil {
		a.invalid.Add(under(right, "kind"), codeUntold, "it is not told what is right")
		return nil, false
	}
	l, is := a.judged(path, c.Entry)
	if !is {
		return nil, false
	}
	if kind := l.told.Fact.Kind(); c.Right.Fact.Kind() != kind {
		a.invalid.Add(under(right, "kind"), codeWrongKind, "entry %d is %s, and can't become %s", c.Entry, kind, c.Right.Fact.Kind())
		return nil, false
	}
	at := l.happenedAt
	if !c.Right.HappenedAt.IsZero() {
		at = instant(c.Right.HappenedAt)
		a.checkPast(right, at)
	}
	before := a.violations()
	_, doubts = a.tell(right, c.Right.Fact, at, c.Entry)
	if a.violations() > before {
		return nil, false
	}
	return doubts, a.leavesNoClash(path, c, doubts)
}

func (a *admission) retract(path fault.Path, f Retracted) bool {
	l, is := a.judged(path, f.Entry)
	if !is {
		return false
	}
	if l.told.Fact.Kind() == KindPlanned {
		a.invalid.Add(under(path, "entry"), codeOpening, "entry %d opened the lot: it can be corrected, and not taken back", f.Entry)
		return false
	}
	return a.leavesNoClash(path, f, nil)
}

func (a *admission) confirm(path fault.Path, f Confirmed) bool {
	l, is := a.judged(path, f.Entry)
	if !is {
		return false
	}
	w, is := l.told.Fact.(Weighed)
	switch {
	case is && l.confirmed:
		a.conflicts.Add(under(path, "entry"), codeNotDoubtful, "entry %d was confirmed already, by entry %d", f.Entry, l.confirmedBy)
		return false
	case !is && len(l.doubts) == 0:
		a.conflicts.Add(under(path, "entry"), codeNotDoubtful, "there is no doubt about entry %d", f.Entry)
		return false
	}
	if is {
		if p, there := a.making(0).piece(w.Piece); there && !weighs(w.net(p)) {
			a.conflicts.Add(under(path, "entry"), codeNoWeight, "entry %d shows no more than the tare: correct it, or take it back", f.Entry)
			return false
		}
	}
	return true
}

// judged returns what is made of an entry that is to be judged, and false when it
// can't be.
func (a *admission) judged(path fault.Path, entry int) (line, bool) {
	path = under(path, "entry")
	if entry < 1 || entry > len(a.record.entries) {
		a.invalid.Add(path, codeUnknownEntry, "there is no entry %d before this one", entry)
		return line{}, false
	}
	if entry > a.kept {
		a.invalid.Add(path, codeNotKeptYet, "entry %d would be one of this list: look at how it was kept first, and then judge it", entry)
		return line{}, false
	}
	l := a.record.lines[entry-1]
	switch e := a.record.entries[entry-1]; {
	case e.Kind.Judges():
		a.invalid.Add(path, codeNotAFact, "entry %d is %s and judges another: judge that one again", entry, e.Kind)
	case l.retractedBy != 0:
		a.conflicts.Add(path, codeRetracted, "entry %d was taken back by entry %d", entry, l.retractedBy)
	default:
		return l, true
	}
	return line{}, false
}

// leavesNoClash judges whether what is there can stand once a correction or a
// retraction works.
func (a *admission) leavesNoClash(path fault.Path, f Fact, doubts []Doubt) bool {
	judged, _ := judgedBy(f)
	switch a.record.entries[judged-1].Kind {
	case KindMixed, KindStuffed, KindHung:
	default: // nothing stands on the others
		return true
	}
	// The entries may be shared: what is appended to them is written over by the
	// next one, which is this one if it works.
	trial := Record{entries: a.record.entries, lines: append(make([]line, 0, len(a.record.lines)+1), a.record.lines...)}
	trial.append(entryOf(trial, Told{Fact: f}, Admitted{HappenedAt: a.now, Doubts: doubts}))
	clashes := trial.clashes()
	if len(clashes) > 0 {
		clashes = more(clashes, a.record.clashes())
	}
	clashes = append(clashes, moved(a.making(0), new(trial.making(0)), judged)...)
	if len(clashes) == 0 {
		return true
	}
	const most = 10
	var told []string
	for _, c := range clashes[:min(most, len(clashes))] {
		told = append(told, c.String())
	}
	if rest := len(clashes) - len(told); rest > 0 {
		told = append(told, fmt.Sprintf("and %d more", rest))
	}
	a.conflicts.Add(under(path, "entry"), codeContradicts, "what is in the ledger can't stand with it; %s", strings.Join(told, "; "))
	return false
}

// lasting prints a time for people, in the two largest units that it has: days,
// hours, minutes and seconds, and a part of a second as one.
func lasting(d time.Duration) string {
	left := int64((d + time.Second - 1) / time.Second)
	var parts []string
	for _, unit := range []struct {
		name    string
		seconds int64
	}{{"day", 24 * 60 * 60}, {"hour", 60 * 60}, {"minute", 60}, {"second", 1}} {
		n := left / unit.seconds
		left %= unit.seconds
		if n > 0 {
			parts = append(parts, counted(int(n), unit.name))
		}
		if len(parts) == 2 || len(parts) == 1 && n == 0 {
			break
		}
	}
	return strings.Join(parts, " and ")
}

// violations returns how many were found so far.
func (a *admission) violations() int {
	f, is := errors.AsType[*fault.Error](a.err())
	if !is {
		return 0
	}
	return len(f.Violations)
}

// under returns a path below another.
func under(path fault.Path, steps ...any) fault.Path { return fault.At(steps...).Under(path) }
