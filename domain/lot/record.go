package lot

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Read is an entry together with what its body tells.
type Read struct {
	Entry
	Told Told
}

// Record is a ledger that was read: what its entries tell, with what was
// corrected, retracted and confirmed. It never changes; With makes another. The
// zero value is the record of an empty ledger.
type Record struct {
	entries []Read
	lines   []line // what is made of each entry; as many
}

// line is what is made of an entry.
type line struct {
	told       Told      // as it stands; of a correction that counts what it put in another's place
	happenedAt time.Time // the same
	doubts     []Doubt   // as recorded, until confirmed; those of weigh-ins are judged anew by doubts
	confirmed  bool      // since it was last corrected

	correctedBy, retractedBy, confirmedBy int // sequences of the last entry that did so; 0 for none
	corrects                              int // sequence of the entry that it corrects; 0 when it corrects none, or to no effect
}

// stands reports whether it is a fact that was not retracted.
func (l line) stands() bool {
	return l.told.Fact != nil && !l.told.Fact.Kind().Judges() && l.corrects == 0 && l.retractedBy == 0
}

// With returns the record with more entries at its end; the record itself stays
// as it is. The cost is that of copying the ledger once.
//
// An error says that the entries do not follow: a gap in the sequence, a digest
// that is not that of the entry before, a first entry that opens no lot, an entry
// whose body was not read or tells another kind of fact than it says, or one that
// judges an entry that is not there before it. Everything else that a ledger may
// hold is taken; what has no meaning counts for nothing.
func (r Record) With(entries ...Read) (Record, error) {
	next := r.copied(len(entries))
	for _, e := range entries {
		if err := next.follows(e); err != nil {
			return r, err
		}
		next.append(e)
	}
	return next, nil
}

// copied returns a record that shares no list with this one, with room for more
// entries.
func (r Record) copied(room int) Record {
	return Record{
		entries: append(make([]Read, 0, len(r.entries)+room), r.entries...),
		lines:   append(make([]line, 0, len(r.lines)+room), r.lines...),
	}
}

// follows reports whether an entry is the next one.
func (r Record) follows(e Read) error {
	head := r.Head()
	switch {
	case e.Sequence != head.Sequence+1:
		return fmt.Errorf("entry %d of the ledger follows entry %d", e.Sequence, head.Sequence)
	case e.Previous != head.Digest:
		return fmt.Errorf("entry %d of the ledger follows the digest %s, and the entry before has %s", e.Sequence, e.Previous, head.Digest)
	case e.Told.Fact == nil:
		return fmt.Errorf("entry %d of the ledger was not read", e.Sequence)
	case e.Told.Fact.Kind() != e.Kind:
		return fmt.Errorf("entry %d of the ledger says that it is %s and tells what is %s", e.Sequence, e.Kind, e.Told.Fact.Kind())
	case e.Sequence == 1 && e.Kind != KindPlanned:
		return fmt.Errorf("the ledger begins with an entry that is %s, and opens no lot", e.Kind)
	}
	if judged, judges := judgedBy(e.Told.Fact); judges && (judged < 1 || judged >= e.Sequence) {
		return fmt.Errorf("entry %d of the ledger judges entry %d, which is not there before it", e.Sequence, judged)
	}
	return nil
}

// judgedBy returns the sequence of the entry that a fact judges, and false for
// one that judges none.
func judgedBy(f Fact) (int, bool) {
	switch f := f.(type) {
	case Corrected:
		return f.Entry, true
	case Retracted:
		return f.Entry, true
	case Confirmed:
		return f.Entry, true
	default:
		return 0, false
	}
}

// append appends an entry that follows.
func (r *Record) append(e Read) {
	r.entries = append(r.entries, e)
	r.lines = append(r.lines, line{told: e.Told, happenedAt: instant(e.HappenedAt), doubts: e.Doubts})
	judged, judges := judgedBy(e.Told.Fact)
	if !judges {
		return
	}
	l := &r.lines[judged-1]
	if !l.stands() {
		return
	}
	switch f := e.Told.Fact.(type) {
	case Corrected:
		r.correct(l, e, f)
	case Retracted:
		if l.told.Fact.Kind() != KindPlanned {
			l.retractedBy = e.Sequence
		}
	case Confirmed:
		l.doubts, l.confirmed, l.confirmedBy = nil, true, e.Sequence
	}
}

// correct puts what a correction says in the place of what a line tells, when it
// is of the same kind.
func (r *Record) correct(l *line, e Read, c Corrected) {
	if c.Right.Fact == nil || c.Right.Fact.Kind() != l.told.Fact.Kind() {
		return
	}
	l.told, l.doubts, l.confirmed, l.correctedBy = c.Right, e.Doubts, false, e.Sequence
	if !c.Right.HappenedAt.IsZero() {
		l.happenedAt = instant(c.Right.HappenedAt)
	}
	put := &r.lines[e.Sequence-1]
	put.told, put.happenedAt, put.corrects = l.told, l.happenedAt, c.Entry
}

// instant returns an instant as the ledger keeps it, to the microsecond.
func instant(t time.Time) time.Time { return t.Truncate(time.Microsecond) }

// Entries returns the entries, in order. They are shared and must not be
// changed.
func (r Record) Entries() []Read { return slices.Clip(r.entries) }

// Head returns the last entry's sequence and digest; the zero value for an empty
// ledger.
func (r Record) Head() Head {
	if len(r.entries) == 0 {
		return Head{}
	}
	last := r.entries[len(r.entries)-1]
	return Head{Sequence: last.Sequence, Digest: last.Digest}
}

// Standing is a fact that stands: it was not retracted, and it is as it was
// corrected last.
type Standing struct {
	Sequence    int       // of the entry that told it first
	HappenedAt  time.Time // as it stands, to the microsecond
	Told        Told      // as it stands; its HappenedAt is zero when a correction did not tell it
	Doubts      []Doubt   // that are open; about a weigh-in as all that stands is judged now
	Confirmed   bool      // it was looked at, and found right
	CorrectedBy int       // sequence of the correction that stands; 0 when it is as it was first told
	Entry       Entry     // that told it first
}

// Standing returns the facts that stand, in order of happening; what happened at
// the same instant in the order in which it was recorded. It judges all weigh-ins,
// as [Record.State] does.
func (r Record) Standing() []Standing {
	order, doubts := r.inOrder(), r.doubts(r.making(0))
	all := make([]Standing, 0, len(order))
	for _, i := range order {
		l := r.lines[i]
		all = append(all, Standing{
			Sequence: i + 1, HappenedAt: l.happenedAt, Told: l.told, Doubts: doubts[i], Confirmed: l.confirmed,
			CorrectedBy: l.correctedBy, Entry: r.entries[i].Entry,
		})
	}
	return all
}

// inOrder returns the indices of the facts that stand, in order of happening; of
// some kinds alone when any are named.
func (r Record) inOrder(kinds ...Kind) []int {
	var order []int
	for i, l := range r.lines {
		if l.stands() && (len(kinds) == 0 || slices.Contains(kinds, l.told.Fact.Kind())) {
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(i, j int) int {
		return cmp.Or(r.lines[i].happenedAt.Compare(r.lines[j].happenedAt), cmp.Compare(i, j))
	})
	return order
}

// Fate returns the sequences of the entries that judged an entry since, of
// several the last; 0 for none, and for one that judged it to no effect.
func (r Record) Fate(sequence int) (correctedBy, retractedBy, confirmedBy int) {
	if sequence < 1 || sequence > len(r.lines) {
		return 0, 0, 0
	}
	l := r.lines[sequence-1]
	return l.correctedBy, l.retractedBy, l.confirmedBy
}
