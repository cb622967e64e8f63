package lot_test

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/lot"
)

func TestWithRefusesWhatDoesNotFollow(t *testing.T) {
	t.Parallel()
	good := raw(nil, append(begun(), told(6, weighed("A", 600)))...)
	for _, row := range []struct {
		name   string
		spoilt func([]lot.Read) []lot.Read
	}{
		{"a gap", func(e []lot.Read) []lot.Read { return append(e[:1:1], e[2:]...) }},
		{"one twice", func(e []lot.Read) []lot.Read { return append(e[:2:2], e[1:]...) }},
		{"it begins late", func(e []lot.Read) []lot.Read { return e[1:] }},
		{"another digest before", func(e []lot.Read) []lot.Read { e[2].Previous[0] ^= 1; return e }},
		{"a digest before the first", func(e []lot.Read) []lot.Read { e[0].Previous[0] = 1; return e }},
		{"the one before was rewritten", func(e []lot.Read) []lot.Read { e[1].Digest[31] ^= 1; return e }},
		{"it opens no lot", func(e []lot.Read) []lot.Read {
			e[0].Kind, e[0].Told.Fact = lot.KindNoted, lot.Noted{}
			return e
		}},
		{"it was not read", func(e []lot.Read) []lot.Read { e[3].Told.Fact = nil; return e }},
		{"it tells another kind", func(e []lot.Read) []lot.Read { e[3].Told.Fact = lot.Noted{}; return e }},
		{"it judges none", func(e []lot.Read) []lot.Read {
			e[3].Kind, e[3].Told.Fact = lot.KindRetracted, lot.Retracted{Entry: 0}
			return e
		}},
		{"it judges itself", func(e []lot.Read) []lot.Read {
			e[3].Kind, e[3].Told.Fact = lot.KindConfirmed, lot.Confirmed{Entry: 4}
			return e
		}},
		{"it judges a later one", func(e []lot.Read) []lot.Read {
			e[2].Kind, e[2].Told.Fact = lot.KindCorrected, lot.Corrected{Entry: 4, Right: told(6, lot.Noted{})}
			return e
		}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			entries := row.spoilt(append([]lot.Read(nil), good...))
			if r, err := (lot.Record{}).With(entries...); err == nil || r.Head() != (lot.Head{}) {
				t.Errorf("it was taken, up to %v", r.Head())
			}
		})
	}
}

// What has no meaning where it stands counts for nothing: a ledger that was kept
// is readable whatever is in it.
func TestWithTakesWhatHasNoMeaning(t *testing.T) {
	t.Parallel()
	story := append(begun(), told(24, weighed("A", 582))) // entries 1 to 4
	want := fold(t, raw(nil, story...)...).State()
	for _, row := range []struct {
		name  string
		added []lot.Told
	}{
		{"a second opening", []lot.Told{told(7, lot.Planned{Name: "another"})}},
		{"the opening taken back", []lot.Told{told(7, lot.Retracted{Entry: 1})}},
		{"a correction to another kind", []lot.Told{told(7, lot.Corrected{Entry: 4, Right: told(7, lot.Noted{Text: "no"})})}},
		{"a correction to nothing", []lot.Told{told(7, lot.Corrected{Entry: 4})}},
		{"a weighing of no piece", []lot.Told{told(7, weighed("C", 500))}},
		{"a weighing before stuffing", []lot.Told{told(4, weighed("A", 500))}},
		{"hung before stuffing", []lot.Told{told(4, lot.Hung{Pieces: []string{"A"}})}},
		{"all hung before stuffing", []lot.Told{told(4, lot.Hung{})}},
		{"no piece hung", []lot.Told{told(7, lot.Hung{Pieces: []string{"C"}})}},
		{"stuffed again", []lot.Told{told(7, stuffed("A"))}},
		{"a judgement judged", []lot.Told{
			told(7, lot.Noted{Text: "so"}), told(8, lot.Retracted{Entry: 5}), told(9, lot.Retracted{Entry: 6}), told(9, lot.Confirmed{Entry: 6}),
			told(9, lot.Corrected{Entry: 6, Right: told(9, lot.Retracted{Entry: 4})}),
		}},
		{"a correction after a retraction", []lot.Told{
			told(7, weighed("A", 400)), told(8, lot.Retracted{Entry: 5}), told(9, lot.Corrected{Entry: 5, Right: told(7, weighed("A", 300))}),
		}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			record := fold(t, raw(nil, append(append([]lot.Told(nil), story...), row.added...)...)...)
			got := record.State()
			if got.Entries != len(story)+len(row.added) || got.Head != record.Head() {
				t.Errorf("want %d entries with the head of the record, got %d and %v", len(story)+len(row.added), got.Entries, got.Head)
			}
			got.Entries, got.Head = want.Entries, want.Head
			if diff := cmp.Diff(want, got, whole); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			for sequence := 0; sequence <= len(story)+1; sequence++ {
				if sequence == 5 {
					continue // the noted or retracted one of some rows
				}
				if c, r, b := record.Fate(sequence); c != 0 || r != 0 || b != 0 {
					t.Errorf("entry %d was judged by %d, %d, %d", sequence, c, r, b)
				}
			}
		})
	}
}

// A mixing that is told twice counts from the first.
func TestWithTakesTwoMixings(t *testing.T) {
	t.Parallel()
	s := fold(t, raw(nil, append(begun(), told(3, lot.Mixed{Batch: isGrams(1)}))...)...).State()
	if !s.MixedAt.Equal(at(2)) || len(s.Mixed) != 2 {
		t.Errorf("want it mixed at %v and told twice, got %v and %v", at(2), s.MixedAt, s.Mixed)
	}
}

// fate is what was made of an entry.
type fate struct {
	Hours                             float64 // since the opening
	Degrees                           float64 // °C, as told
	Doubts                            int
	Confirmed                         bool
	CorrectedBy, RetractedBy, ClearBy int
}

func TestJudgements(t *testing.T) {
	t.Parallel()
	doubt := lot.Doubt{Code: "gain", Detail: "heavier"}
	right := func(hours, t float64) lot.Told {
		if hours == 0 {
			return lot.Told{Fact: airAt(t)}
		}
		return told(hours, airAt(t))
	}
	for _, row := range []struct {
		name    string
		doubted []int // of entries 4 and on
		judged  []lot.Fact
		want    fate // of entry 4, measured at 24 h with 70 °C; of one that stands no more the judges alone
	}{
		{"nothing", nil, nil, fate{Hours: 24, Degrees: 70}},
		{"doubted", []int{4}, nil, fate{Hours: 24, Degrees: 70, Doubts: 1}},
		{"confirmed", []int{4}, []lot.Fact{lot.Confirmed{Entry: 4}}, fate{Hours: 24, Degrees: 70, Confirmed: true, ClearBy: 5}},
		{"corrected", nil, []lot.Fact{lot.Corrected{Entry: 4, Right: right(0, 57)}}, fate{Hours: 24, Degrees: 57, CorrectedBy: 5}},
		{"moved", nil, []lot.Fact{lot.Corrected{Entry: 4, Right: right(30, 70)}}, fate{Hours: 30, Degrees: 70, CorrectedBy: 5}},
		{"moved, then corrected: it stays moved", nil, []lot.Fact{
			lot.Corrected{Entry: 4, Right: right(30, 70)}, lot.Corrected{Entry: 4, Right: right(0, 57)},
		}, fate{Hours: 30, Degrees: 57, CorrectedBy: 6}},
		{"corrected, which clears the doubt", []int{4}, []lot.Fact{lot.Corrected{Entry: 4, Right: right(0, 57)}}, fate{Hours: 24, Degrees: 57, CorrectedBy: 5}},
		{"corrected to what is doubted again", []int{4, 5}, []lot.Fact{lot.Corrected{Entry: 4, Right: right(0, 69)}},
			fate{Hours: 24, Degrees: 69, Doubts: 1, CorrectedBy: 5}},
		{"that confirmed", []int{4, 5}, []lot.Fact{lot.Corrected{Entry: 4, Right: right(0, 69)}, lot.Confirmed{Entry: 4}},
			fate{Hours: 24, Degrees: 69, Confirmed: true, CorrectedBy: 5, ClearBy: 6}},
		{"confirmed, then corrected: the new one is not confirmed", []int{4}, []lot.Fact{lot.Confirmed{Entry: 4}, lot.Corrected{Entry: 4, Right: right(0, 57)}},
			fate{Hours: 24, Degrees: 57, CorrectedBy: 6, ClearBy: 5}},
		{"retracted", []int{4}, []lot.Fact{lot.Retracted{Entry: 4}}, fate{RetractedBy: 5}},
		{"corrected, then retracted", nil, []lot.Fact{lot.Corrected{Entry: 4, Right: right(0, 57)}, lot.Retracted{Entry: 4}}, fate{CorrectedBy: 5, RetractedBy: 6}},
		{"retracted, then judged to no effect", []int{4}, []lot.Fact{lot.Retracted{Entry: 4}, lot.Confirmed{Entry: 4}, lot.Retracted{Entry: 4}}, fate{RetractedBy: 5}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			story := append(begun(), told(24, airAt(70)))
			for _, f := range row.judged {
				story = append(story, told(48, f))
			}
			doubts := make(map[int]lot.Doubt)
			for _, entry := range row.doubted {
				doubts[entry] = doubt
			}
			record := fold(t, raw(doubts, story...)...)
			var got fate
			for _, s := range record.Standing() {
				if s.Sequence != 4 {
					continue
				}
				degrees, _ := s.Told.Fact.(lot.Measured).Temperature.Get()
				got = fate{
					Hours: s.HappenedAt.Sub(opened).Hours(), Degrees: math.Round(degrees.Celsius()), Doubts: len(s.Doubts), Confirmed: s.Confirmed,
				}
				if got.CorrectedBy = s.CorrectedBy; s.Entry.Sequence != 4 || s.Entry.Digest != record.Entries()[3].Digest {
					t.Errorf("it is of entry %d", s.Entry.Sequence)
				}
			}
			got.CorrectedBy, got.RetractedBy, got.ClearBy = record.Fate(4)
			if diff := cmp.Diff(row.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			doubtful := row.want.Doubts > 0
			if s := record.State(); doubtful != (len(s.Doubtful) == 1 && s.Doubtful[0] == 4) || !doubtful && len(s.Doubtful) > 0 {
				t.Errorf("want entry 4 doubtful %v, got %v", doubtful, s.Doubtful)
			}
		})
	}
}

// Two ledgers that go on from one share nothing that shows.
func TestBranchesShareNothing(t *testing.T) {
	t.Parallel()
	trunk := keep(t, begun()...)
	trunk.post(told(24, weighed("A", 582)), told(24, weighed("B", 588)))
	before := trunk.record.State()
	left, right := *trunk, *trunk
	left.post(told(48, weighed("A", 570)), told(49, lot.Corrected{Entry: 5, Right: told(25, weighed("B", 590))}))
	right.post(told(48, weighed("A", 560)), told(49, lot.Retracted{Entry: 5}))
	if diff := cmp.Diff(before, trunk.record.State(), whole); diff != "" {
		t.Errorf("the trunk changed (-want +got):\n%s", diff)
	}
	for _, row := range []struct {
		branch *keeper
		latest float64 // of A, in g with the tare
		b      int     // weigh-ins of B
	}{{&left, 570, 1}, {&right, 560, 0}} {
		s := row.branch.record.State()
		if got := s.Pieces[0].Latest.Weight.Grams() + 12; got != row.latest || len(s.Pieces[1].WeighIns) != row.b {
			t.Errorf("want A at %v g and %d weigh-ins of B, got %v and %d", row.latest, row.b, got, len(s.Pieces[1].WeighIns))
		}
		if got := row.branch.record.Head().Sequence; got != 7 {
			t.Errorf("want 7 entries, got %d", got)
		}
	}
	// What is handed in, and what is handed out and appended to, is nobody else's.
	entries := raw(nil, begun()...)
	record := fold(t, entries...)
	want := record.Head()
	entries[2] = lot.Read{}
	out := record.Entries()
	_ = append(out, lot.Read{Entry: lot.Entry{Sequence: 99}})
	if next, err := record.With(); err != nil || next.Head() != want || record.Head() != want {
		t.Errorf("want %v, got %v, %v and %v", want, record.Head(), next.Head(), err)
	}
}

func TestStandingIsInOrderOfHappening(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()...)
	k.post(told(30, lot.Noted{Text: "4"}), told(1, lot.Noted{Text: "5"}), told(30, lot.Noted{Text: "6"}), told(20, lot.Noted{Text: "7"}))
	k.post(told(31, lot.Corrected{Entry: 7, Right: told(40, lot.Noted{Text: "7 was later"})}), told(31, lot.Retracted{Entry: 6}))
	var got []int
	last := time.Time{}
	for _, s := range k.record.Standing() {
		got = append(got, s.Sequence)
		if s.HappenedAt.Before(last) {
			t.Errorf("entry %d happened before the one ahead of it", s.Sequence)
		}
		last = s.HappenedAt
	}
	if diff := cmp.Diff([]int{1, 5, 2, 3, 4, 7}, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestAnEmptyLedger(t *testing.T) {
	t.Parallel()
	var r lot.Record
	if r.Head() != (lot.Head{}) || len(r.Entries()) != 0 || len(r.Standing()) != 0 {
		t.Error("there is something in it")
	}
	if diff := cmp.Diff(lot.State{}, r.State(), whole); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if r, err := r.With(); err != nil || r.Head() != (lot.Head{}) {
		t.Errorf("want nothing appended to nothing, got %v and %v", r, err)
	}
}
