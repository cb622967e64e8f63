package lot

import (
	"fmt"
	"slices"
	"time"

	"greenweight/domain/quantity"
)

// making is how the pieces of a lot came about: what its entries on mixing,
// stuffing and hanging tell, in order of happening.
type making struct {
	mixed   []int // sequences
	mixedAt time.Time
	pieces  []made         // in order of stuffing
	named   map[string]int // index in pieces
	clashes []clash
}

// made is a piece that was stuffed.
type made struct {
	Piece
	stuffed   int // sequence of the entry that tells it
	stuffedAt time.Time
	hung      int // sequence of the entry that tells it; 0 when it does not hang
	hungAt    time.Time
	room      string
	position  string
}

// green returns the green weight.
func (m made) green() quantity.Mass { return m.Weight.Minus(m.Tare) }

// clash is an entry that can't stand with the others. Two are the same when all
// of it is.
type clash struct {
	entry int    // sequence
	why   string // what can't be, for people
}

func (c clash) String() string { return fmt.Sprintf("entry %d: %s", c.entry, c.why) }

// making returns how the pieces came about; but is the sequence of an entry that
// is to be passed over, 0 for none.
func (r Record) making(but int) making {
	m := making{named: make(map[string]int)}
	for _, i := range r.inOrder(KindMixed, KindStuffed, KindHung) {
		if i == but-1 {
			continue
		}
		switch f := r.lines[i].told.Fact.(type) {
		case Mixed:
			m.mix(i+1, r.lines[i].happenedAt)
		case Stuffed:
			m.stuff(i+1, r.lines[i].happenedAt, f)
		case Hung:
			m.hang(i+1, r.lines[i].happenedAt, f)
		}
	}
	return m
}

func (m *making) clash(entry int, format string, args ...any) {
	m.clashes = append(m.clashes, clash{entry, fmt.Sprintf(format, args...)})
}

func (m *making) mix(entry int, at time.Time) {
	if len(m.mixed) > 0 {
		m.clash(entry, "mixed already by entry %d", m.mixed[0])
	} else {
		m.mixedAt = at
	}
	if len(m.pieces) > 0 && m.pieces[0].stuffedAt.Before(at) {
		m.clash(entry, "mixed after the pieces of entry %d were stuffed", m.pieces[0].stuffed)
	}
	m.mixed = append(m.mixed, entry)
}

func (m *making) stuff(entry int, at time.Time, s Stuffed) {
	for _, p := range s.Pieces {
		if first, taken := m.piece(p.Name); taken {
			m.clash(entry, "a second piece %q beside that of entry %d", p.Name, first.stuffed)
			continue
		}
		m.named[p.Name] = len(m.pieces)
		m.pieces = append(m.pieces, made{Piece: p, stuffed: entry, stuffedAt: at})
	}
}

// hang hangs pieces. One that names none hangs all that were stuffed by then and
// do not hang, of those whose stuffing was recorded before it: what is recorded
// later was not there when whoever hung them looked. A stuffing counts by the
// entry that told it first, and so does the hanging, however they were corrected.
// What an earlier hanging took and no longer takes would fall to the next one
// that names none; [Record.Admit] refuses what would lead to that.
func (m *making) hang(entry int, at time.Time, h Hung) {
	names := h.Pieces
	if len(names) == 0 {
		names = m.notHung(entry)
		if len(names) == 0 {
			m.clash(entry, "nothing is there to hang")
		}
	}
	for _, name := range names {
		i, there := m.named[name]
		switch {
		case !there:
			m.clash(entry, "no piece %q was stuffed by then", name)
		case m.pieces[i].hung != 0 && m.pieces[i].hung != entry:
			m.clash(entry, "piece %q hangs already by entry %d", name, m.pieces[i].hung)
		default:
			p := &m.pieces[i]
			p.hung, p.hungAt, p.room, p.position = entry, at, h.Room, h.Position
		}
	}
}

// notHung returns the names of the pieces that do not hang, of those whose
// stuffing was recorded before an entry.
func (m *making) notHung(entry int) []string {
	var names []string
	for _, p := range m.pieces {
		if p.hung == 0 && p.stuffed < entry {
			names = append(names, p.Name)
		}
	}
	return names
}

// piece returns the piece of a name, and false when there is none.
func (m *making) piece(name string) (made, bool) {
	i, there := m.named[name]
	if !there {
		return made{}, false
	}
	return m.pieces[i], true
}

// clashes returns what can't stand with the rest of the record: nothing, in one
// of which every entry was admitted.
func (r Record) clashes() []clash {
	m := r.making(0)
	all := m.clashes
	for i, l := range r.lines {
		if !l.stands() {
			continue
		}
		name := pieceOf(l.told.Fact)
		if name == "" {
			continue
		}
		at := l.happenedAt
		p, there := m.piece(name)
		switch {
		case !there:
			all = append(all, clash{i + 1, fmt.Sprintf("there is no piece %q", name)})
			continue
		case at.Before(p.stuffedAt):
			all = append(all, clash{i + 1, fmt.Sprintf("piece %q was stuffed later, by entry %d", name, p.stuffed)})
			continue
		}
		w, is := l.told.Fact.(Weighed)
		if !is {
			continue
		}
		switch net := w.net(p); {
		case at.Equal(p.stuffedAt) && net != p.green():
			all = append(all, clash{i + 1, fmt.Sprintf("piece %q weighed %s when it was stuffed, by entry %d", name, p.green(), p.stuffed)})
		case !weighs(net) && len(l.doubts) == 0:
			all = append(all, clash{i + 1, fmt.Sprintf("the tare of piece %q leaves nothing of the weight", name)})
		}
	}
	return all
}

// moved returns a clash for each entry that hangs by another than before what it
// hung, once an entry is judged otherwise: that must be told, and not come about.
func moved(before, after *making, judged int) []clash {
	var all []clash
	for _, p := range after.pieces {
		was, there := before.piece(p.Name)
		if there && was.hung != 0 && p.hung != 0 && p.hung != was.hung && p.hung != judged {
			all = append(all, clash{p.hung, fmt.Sprintf(
				"it names no pieces, and would hang %q too, which entry %d hung: correct it first to name its pieces", p.Name, was.hung)})
		}
	}
	return all
}

// more returns the clashes that others do not have.
func more(clashes, others []clash) []clash {
	known := make(map[clash]bool, len(others))
	for _, c := range others {
		known[c] = true
	}
	return slices.DeleteFunc(slices.Clone(clashes), func(c clash) bool { return known[c] })
}

// pieceOf returns the name of the one piece that a fact is of; empty when it is
// of none or may be of several.
func pieceOf(f Fact) string {
	switch f := f.(type) {
	case Weighed:
		return f.Piece
	case Measured:
		return f.Piece
	case Observed:
		return f.Piece
	default:
		return ""
	}
}

// net returns the weight less the tare, which is that of the piece when it is
// not told; less than nothing when the scale showed less than the tare.
func (w Weighed) net(of made) quantity.Mass { return w.Weight.Minus(w.Tare.Or(of.Tare)) }

// weighs reports whether a net weight is that of anything.
func weighs(net quantity.Mass) bool { return quantity.Mass{}.Less(net) }
