package lot

import (
	"slices"
	"time"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// Stage is how far a lot has come. The zero value is that of no lot.
type Stage int

// The stages, in order.
const (
	StagePlanned    Stage = iota + 1
	StageMixed            // there is a batch
	StageStuffed          // there are pieces
	StageFermenting       // a temperature of the air or a pH was measured since, and nothing hangs yet
	StageDrying           // a piece hangs
)

var stageWords = []string{"", "planned", "mixed", "stuffed", "fermenting", "drying"}

// Stages returns all stages, in order.
func Stages() []Stage {
	var all []Stage
	for s := StagePlanned; s <= StageDrying; s++ {
		all = append(all, s)
	}
	return all
}

// String returns the word used on the wire and in the store.
func (s Stage) String() string {
	if s <= 0 || int(s) >= len(stageWords) {
		return "unstated"
	}
	return stageWords[s]
}

// ParseStage reads the word used on the wire and in the store.
func ParseStage(word string) (Stage, bool) {
	for _, s := range Stages() {
		if stageWords[s] == word {
			return s, true
		}
	}
	return 0, false
}

// State is what follows from a record: the facts that stand, in order of
// happening, put together. What looks wrong and is not confirmed is listed, and
// counts for nothing. A weigh-in looks wrong by all weigh-ins of its piece and its
// green weight as they stand, whatever it was doubted for when it was recorded:
// a later entry may raise such a doubt and may lay it.
type State struct {
	Planned  Planned   // as it stands
	RulesOn  time.Time // the day whose rules count, at midnight UTC: the one that was told, else the day of opening where it was opened
	Rulebook string    // version of the rulebook by which the opening was judged
	OpenedAt time.Time
	Stage    Stage

	MixedAt   time.Time // the zero time when it was not mixed yet
	StuffedAt time.Time // of the first pieces; the zero time when there are none
	HungAt    time.Time // of the first piece that was hung; the zero time when none hangs

	Mixed    []Mixed      // one, once it was mixed
	Pieces   []PieceState // in order of stuffing
	Doubtful []int        // sequences of the entries that look wrong and wait to be confirmed, ascending

	Head    Head
	Entries int // in the ledger, whatever became of them

	readings []reading // in order of happening; only those that count
	doubted  []reading // those that do not
}

// PieceState is what a piece has come to.
type PieceState struct {
	Name     string
	Entry    int           // sequence of the entry that tells of its stuffing
	Green    quantity.Mass // weight at stuffing less the tare
	Tare     quantity.Mass // what hangs with it
	Casing   string        // in the maker's words; empty when not told
	Diameter material.Known[quantity.Length]

	StuffedAt time.Time
	HungAt    time.Time // the zero time when it does not hang yet
	Room      string    // where it hangs; empty when not told
	Position  string    // where in the room; empty when not told

	WeighIns []WeighIn // in order of happening
	Latest   *WeighIn  // the last of them that counts; nil when none does
}

// WeighIn is a weighing of a piece.
type WeighIn struct {
	Sequence  int // of the entry that tells it
	At        time.Time
	Weight    quantity.Mass // less the tare
	Loss      quantity.Loss // since stuffing, of the green weight
	Doubts    []Doubt       // that are open, as all weigh-ins that stand are judged now
	Confirmed bool          // it was looked at, and found right
	Counts    bool          // no doubt is open, and there is a weight
}

// reading is something that was measured.
type reading struct {
	sequence int // of the entry that tells it
	at       time.Time
	Measured
}

// State returns what follows from the record; the zero value for that of an empty
// ledger. It judges all weigh-ins: a tenth of a second for a ledger full of those
// of one piece, and some milliseconds for one full of measurements.
func (r Record) State() State {
	if len(r.entries) == 0 {
		return State{}
	}
	opening := r.lines[0]
	s := State{OpenedAt: opening.happenedAt, Rulebook: r.entries[0].Rulebook, Head: r.Head(), Entries: len(r.entries)}
	s.Planned, _ = opening.told.Fact.(Planned) // the first entry is always of that kind
	s.RulesOn = s.Planned.RulesOn
	if s.RulesOn.IsZero() {
		year, month, day := s.OpenedAt.Date()
		s.RulesOn = time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	}
	m := r.making(0)
	doubts := r.doubts(m)
	s.made(r, m)
	for _, i := range r.inOrder(KindWeighed, KindMeasured) {
		switch f := r.lines[i].told.Fact.(type) {
		case Weighed:
			if p, there := m.piece(f.Piece); there && !r.lines[i].happenedAt.Before(p.stuffedAt) {
				s.weighed(&s.Pieces[m.named[f.Piece]], p, i+1, r.lines[i], f, doubts[i])
			}
		case Measured:
			one := reading{i + 1, r.lines[i].happenedAt, f}
			if len(doubts[i]) > 0 {
				s.doubted = append(s.doubted, one)
			} else {
				s.readings = append(s.readings, one)
			}
		}
	}
	for i := range r.lines {
		if len(doubts[i]) > 0 {
			s.Doubtful = append(s.Doubtful, i+1)
		}
	}
	s.Stage = s.stage()
	return s
}

// made fills in what was mixed, stuffed and hung.
func (s *State) made(r Record, m making) {
	s.MixedAt = m.mixedAt
	for _, entry := range m.mixed {
		if mixed, is := r.lines[entry-1].told.Fact.(Mixed); is {
			s.Mixed = append(s.Mixed, mixed)
		}
	}
	for _, p := range m.pieces {
		s.Pieces = append(s.Pieces, PieceState{
			Name: p.Name, Entry: p.stuffed, Green: p.green(), Tare: p.Tare, Casing: p.Casing, Diameter: p.Diameter,
			StuffedAt: p.stuffedAt, HungAt: p.hungAt, Room: p.room, Position: p.position,
		})
		if p.hung != 0 && (s.HungAt.IsZero() || p.hungAt.Before(s.HungAt)) {
			s.HungAt = p.hungAt
		}
	}
	if len(m.pieces) > 0 {
		s.StuffedAt = m.pieces[0].stuffedAt
	}
}

// weighed adds a weigh-in of a piece.
func (s *State) weighed(to *PieceState, p made, entry int, l line, w Weighed, doubts []Doubt) {
	in := WeighIn{Sequence: entry, At: l.happenedAt, Weight: w.net(p), Doubts: doubts, Confirmed: l.confirmed}
	in.Counts = len(in.Doubts) == 0 && weighs(in.Weight)
	if !weighs(in.Weight) {
		in.Weight = quantity.Mass{}
	}
	var err error
	if in.Loss, err = quantity.LossTo(in.Weight, to.Green); err != nil { // of a piece that weighed nothing there is no loss
		in.Counts = false
	}
	to.WeighIns = append(to.WeighIns, in)
	if in.Counts {
		to.Latest = &in
	}
}

func (s *State) stage() Stage {
	switch {
	case !s.HungAt.IsZero():
		return StageDrying
	case len(s.Pieces) > 0 && slices.ContainsFunc(s.readings, s.fermenting):
		return StageFermenting
	case len(s.Pieces) > 0:
		return StageStuffed
	case len(s.Mixed) > 0:
		return StageMixed
	default:
		return StagePlanned
	}
}

// fermenting reports whether a reading is of the fermentation: the air of the
// chamber or the acid in the sausage, since stuffing.
func (s *State) fermenting(r reading) bool {
	_, acid := r.PH.Get()
	return !r.at.Before(s.StuffedAt) && (acid || r.ofAir())
}

// ofAir reports whether a temperature of the air was read.
func (r reading) ofAir() bool {
	_, read := r.Temperature.Get()
	return read && r.Place == Air
}

// Piece returns a piece by its name, and false when there is none.
func (s State) Piece(name string) (PieceState, bool) {
	i := slices.IndexFunc(s.Pieces, func(p PieceState) bool { return p.Name == name })
	if i < 0 {
		return PieceState{}, false
	}
	return s.Pieces[i], true
}
