package lot

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
)

// Earlier is another lot of the same maker, by its record.
type Earlier struct {
	ID     ID
	Record Record
}

// Lesson is what earlier lots tell of the pieces that hang in one room in one
// casing.
type Lesson struct {
	Room       string // as the pieces of this lot have it
	Casing     string // empty where it was not told
	SameCasing bool   // only pieces in this casing were learned from
	Learned    drying.Learned
	From       []Taught // those opened last first; none where nothing was learned
}

// Taught is an earlier lot that something was learned from.
type Taught struct {
	ID     ID
	Name   string
	Pieces []string
}

// Lessons are what earlier lots tell of the pieces of a lot.
type Lessons struct {
	All []Lesson // one for each room and casing of the pieces asked about, in their order; six at most

	left bool // there are more rooms and casings
}

// Bounds on learning, choices of this project: a piece takes some 2 ms.
const (
	mostLessons      = 6  // rooms and casings of a lot
	mostTeachers     = 10 // lots that one lesson is learned from
	mostTaughtPieces = 20 // pieces of them
)

// A piece teaches once it got far: it reached the loss of its plan, or lost a
// quarter and was weighed three times. Choices of this project: until then its
// weigh-ins tell little of where drying stops.
const (
	farLossPercent = 25
	farWeighIns    = 3
)

// Learn returns what earlier lots, those opened last first, tell of pieces of this
// one. It learns from pieces that were hung before any of this lot, in a room of the
// same name and in the same casing; where none of those got far by asOf, from those
// in the same room in any casing. Names count without regard to case and to white
// space about them. A piece got far when it reached the loss of its plan, or lost 25 %
// and was weighed three times; what is doubtful or later than asOf does not count.
//
// Of each room and casing it takes at most the first 10 lots that there is anything
// to learn from, and 20 pieces: of each lot in turn the one that was weighed most
// often. Of a lot in more than six rooms and casings, the first six learn. A
// piece of which no room was told learns nothing. The cost is that of 120 fits at most,
// and of the states of the lots up to the last that is needed. A piece that drying
// can't be asked about is passed over, and so is this lot itself.
func (s State) Learn(pieces []string, asOf time.Time, earlier []Earlier) Lessons {
	var all Lessons
	var found []*pupils
	for _, name := range pieces {
		p, there := s.Piece(name)
		if !there || p.Room == "" || slices.ContainsFunc(found, func(g *pupils) bool { return g.of(p) }) {
			continue
		}
		if len(found) == mostLessons {
			all.left = true
			break
		}
		found = append(found, &pupils{room: p.Room, casing: p.Casing})
	}
	for _, e := range earlier {
		if !slices.ContainsFunc(found, (*pupils).wants) {
			break
		}
		state := e.Record.State()
		far := state.far(s.HungAt, asOf)
		for _, g := range found {
			g.look(e.ID, state, far)
		}
	}
	for _, g := range found {
		all.All = append(all.All, g.learn())
	}
	return all
}

// Of returns what was learned for a piece; false where it learns nothing.
func (l Lessons) Of(p PieceState) (Lesson, bool) {
	for _, one := range l.All {
		if p.Room != "" && sameName(one.Room, p.Room) && sameName(one.Casing, p.Casing) {
			return one, len(one.From) > 0
		}
	}
	return Lesson{}, false
}

// Teach puts what was learned into the question about a piece, and says from what.
func (q *DryDown) Teach(p PieceState, l Lessons) {
	room := fault.At("room")
	one, learned := l.Of(p)
	switch {
	case learned:
		q.Order.Learned = one.Learned
		pieces := 0
		var names []string
		for _, t := range one.From {
			pieces += len(t.Pieces)
			names = append(names, t.Name)
		}
		how := "in the same casing"
		switch {
		case one.SameCasing:
		case one.Casing == "":
			how = "whatever their casing, as that of this piece was not told"
		default:
			how = "whatever their casing, as none in the same one got far"
		}
		q.note("learned-from-lots", room, "Learned from %s of %s that hung in a room of this name, %s: %s.",
			counted(pieces, "piece"), counted(len(one.From), "earlier lot"), how, listed(names, mostTeachers))
	case p.HungAt.IsZero():
	case p.Room == "":
		q.note("no-room-told", room, "It was not told in which room the piece hangs, so that nothing is learned from earlier lots.")
	case l.left && !slices.ContainsFunc(l.All, func(one Lesson) bool { return sameName(one.Room, p.Room) && sameName(one.Casing, p.Casing) }):
		q.note("not-learned", room, "The lot hangs in more than %d rooms and casings: ask for this piece alone, so that it learns from earlier lots.", mostLessons)
	}
}

// sameName reports whether two names are the same to a maker.
func sameName(a, b string) bool {
	return strings.EqualFold(strings.Join(strings.Fields(a), " "), strings.Join(strings.Fields(b), " "))
}

// farPiece is a piece that got far.
type farPiece struct {
	PieceState
	order drying.Order
}

// far returns the pieces that were hung before an instant and got far by another,
// those weighed most often first.
func (s State) far(before, asOf time.Time) []farPiece {
	var all []farPiece
	for _, p := range s.Pieces {
		if p.Room == "" || p.HungAt.IsZero() || !p.HungAt.Before(before) {
			continue
		}
		p.WeighIns = slices.DeleteFunc(slices.Clone(p.WeighIns), func(in WeighIn) bool { return !in.Counts || !asOf.IsZero() && in.At.After(asOf) })
		if !s.gotFar(p) {
			continue
		}
		q, err := s.asks(p, time.Time{}, quantity.MustLossPercent(farLossPercent)) // which does not matter
		if err != nil {
			continue
		}
		judged, err := drying.Judge(q.Order)
		if err == nil && slices.ContainsFunc(judged, func(w drying.Weighed) bool { return w.Doubt == "" }) {
			all = append(all, farPiece{p, q.Order})
		}
	}
	slices.SortStableFunc(all, func(a, b farPiece) int { return cmp.Compare(len(b.WeighIns), len(a.WeighIns)) })
	return all
}

// gotFar reports whether a piece, with the weigh-ins that count, got far.
func (s State) gotFar(p PieceState) bool {
	n := len(p.WeighIns)
	if n == 0 {
		return false
	}
	lost := p.WeighIns[n-1].Loss
	if planned := s.Planned.Formula.Plan.Loss; planned != nil && lost.Percent() >= planned.Percent() {
		return true
	}
	return n >= farWeighIns && lost.Percent() >= farLossPercent
}

// pupils are the pieces of a lot in one room and casing, and what may teach them.
type pupils struct {
	room, casing string
	same, other  []teacher // in the same casing, and in any
}

type teacher struct {
	id     ID
	name   string
	pieces []farPiece
}

func (g *pupils) of(p PieceState) bool {
	return sameName(g.room, p.Room) && sameName(g.casing, p.Casing)
}

// wants reports whether a further lot could teach.
func (g *pupils) wants() bool {
	if g.casing == "" {
		return len(g.other) < mostTeachers
	}
	return len(g.same) < mostTeachers
}

// look takes what a lot may teach.
func (g *pupils) look(id ID, s State, far []farPiece) {
	same, other := teacher{id: id, name: s.Planned.Name}, teacher{id: id, name: s.Planned.Name}
	for _, p := range far {
		if !sameName(p.Room, g.room) {
			continue
		}
		other.pieces = append(other.pieces, p)
		if g.casing != "" && sameName(p.Casing, g.casing) {
			same.pieces = append(same.pieces, p)
		}
	}
	if len(same.pieces) > 0 && len(g.same) < mostTeachers {
		g.same = append(g.same, same)
	}
	if len(other.pieces) > 0 && len(g.other) < mostTeachers {
		g.other = append(g.other, other)
	}
}

// learn fits what was found.
func (g *pupils) learn() Lesson {
	l := Lesson{Room: g.room, Casing: g.casing, SameCasing: len(g.same) > 0}
	from := g.other
	if l.SameCasing {
		from = g.same
	}
	taught := make([]Taught, len(from))
	var earlier []drying.Earlier
	for turn := range mostTaughtPieces {
		for i, t := range from {
			if turn < len(t.pieces) && len(earlier) < mostTaughtPieces {
				earlier = append(earlier, drying.Earlier{Lot: string(t.id), Order: t.pieces[turn].order})
				taught[i].ID, taught[i].Name = t.id, t.name
				taught[i].Pieces = append(taught[i].Pieces, t.pieces[turn].Name)
			}
		}
	}
	learned, err := drying.Learn(earlier)
	if err != nil || learned.Lots() == 0 {
		return l
	}
	l.Learned, l.From = learned, taught
	return l
}
