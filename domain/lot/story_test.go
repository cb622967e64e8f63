package lot_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// names are the pieces that stories are of: few, so that they meet.
var names = []string{"A", "B", "C"}

// drawTold draws something that may be told of a lot whose ledger has so many
// entries, with sense or without.
func drawTold(t *rapid.T, entries int) lot.Told {
	told := lot.Told{HappenedAt: drawTime(t), Fact: drawFact(t)}
	judged := entries + 1 - rapid.IntRange(0, entries+1).Draw(t, "entries before the one judged")
	switch rapid.IntRange(0, 9).Draw(t, "judgement") {
	case 3:
		right := lot.Told{Fact: drawFact(t)}
		if rapid.Bool().Draw(t, "moved") {
			right.HappenedAt = drawTime(t)
		}
		told.Fact = lot.Corrected{Entry: judged, Right: right}
	case 4:
		told.Fact = lot.Retracted{Entry: judged}
	case 5:
		told.Fact = lot.Confirmed{Entry: judged}
	}
	return told
}

// drawTime draws one of few instants, so that they meet; now and then none.
func drawTime(t *rapid.T) time.Time {
	before := rapid.IntRange(0, 41).Draw(t, "steps of 3 h before the last")
	if before == 41 {
		return time.Time{}
	}
	return at(float64(40-before) * 3)
}

func drawFact(t *rapid.T) lot.Fact {
	name := rapid.SampledFrom(names).Draw(t, "piece")
	switch rapid.IntRange(0, 9).Draw(t, "kind") {
	case 8:
		return lot.Mixed{}
	case 6, 7:
		return lot.Stuffed{Pieces: rapid.SliceOfNDistinct(rapid.Custom(drawPiece), 1, 3, func(p lot.Piece) string { return p.Name }).Draw(t, "pieces")}
	case 5:
		return lot.Hung{Pieces: rapid.SliceOfN(rapid.SampledFrom(names), 0, 2).Draw(t, "hung"), Room: rapid.SampledFrom([]string{"", "cellar"}).Draw(t, "room")}
	case 0, 1, 2:
		w := lot.Weighed{Piece: name, Weight: quantity.MustGrams(rapid.SampledFrom([]float64{5, 300, 520, 560, 580, 600, 6000}).Draw(t, "weight"))}
		if rapid.Bool().Draw(t, "tare told") {
			w.Tare = material.Is(quantity.MustGrams(10))
		}
		return w
	case 3:
		m := airAt(rapid.SampledFrom([]float64{12, 24, 75}).Draw(t, "temperature"))
		m.Means.Method = rapid.SampledFrom([]lot.Method{0, lot.Meter, lot.ByEstimate}).Draw(t, "method")
		return m
	case 4:
		m := acidOf(rapid.SampledFrom([]float64{1, 5.0, 5.3, 5.6}).Draw(t, "pH"))
		if rapid.Bool().Draw(t, "of a piece") {
			m.Piece = name
		}
		return m
	default:
		return lot.Observed{Piece: rapid.SampledFrom(append([]string{""}, names...)).Draw(t, "observed piece"), Text: "white"}
	}
}

func drawPiece(t *rapid.T) lot.Piece {
	return lot.Piece{
		Name: rapid.SampledFrom(names).Draw(t, "name"), Weight: quantity.MustGrams(rapid.SampledFrom([]float64{10, 600, 612}).Draw(t, "green weight")),
		Tare: quantity.MustGrams(rapid.SampledFrom([]float64{0, 10}).Draw(t, "tare")),
	}
}

// drawStory keeps a ledger of what was admitted of a story.
func drawStory(t *rapid.T) *keeper {
	beginning := begun()
	if rapid.IntRange(0, 3).Draw(t, "without the usual beginning") == 3 {
		beginning = beginning[:1]
	}
	k := keep(t, beginning...)
	k.now = at(130)
	for range 40 - rapid.IntRange(0, 40).Draw(t, "posts under 40") {
		posted := make([]lot.Told, 1+rapid.IntRange(0, 4).Draw(t, "at once")/3)
		for i := range posted {
			posted[i] = drawTold(t, k.record.Head().Sequence)
		}
		k.tryDrawn(posted)
	}
	return k
}

// tryDrawn posts what was drawn, and holds the answer against what every answer
// is like.
func (k *keeper) tryDrawn(posted []lot.Told) {
	k.Helper()
	before := k.record.Head().Sequence
	admitted, err := k.try(posted...)
	if err != nil {
		var f *fault.Error
		if !errors.As(err, &f) || f.Kind != fault.Invalid && f.Kind != fault.Conflict || len(f.Violations) == 0 || k.record.Head().Sequence != before {
			k.Fatalf("want a fault with violations, and nothing kept, got %v", err)
		}
		return
	}
	news := 0
	for i, a := range admitted {
		switch {
		case a.HappenedAt.IsZero() || a.HappenedAt.After(k.now.Add(5*time.Minute)):
			k.Fatalf("it happened at %v", a.HappenedAt)
		case a.Repeats < 0 || a.Repeats > before+news || a.Repeats > 0 && len(a.Doubts) > 0:
			k.Fatalf("it repeats %d of %d with doubts %v", a.Repeats, before+news, a.Doubts)
		case a.Repeats == 0:
			news++
		}
		if diff := cmp.Diff(posted[i], a.Told, whole); diff != "" {
			k.Fatalf("what is kept is not what was posted (-want +got):\n%s", diff)
		}
	}
	if got := k.record.Head().Sequence; got != before+news {
		k.Fatalf("want %d entries, got %d", before+news, got)
	}
}

// However a ledger is cut into pieces, it comes to the same.
func TestAnySplitFoldsToTheSame(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var entries []lot.Read
		if rapid.Bool().Draw(t, "admitted") {
			entries = drawStory(t).record.Entries()
		} else {
			entries = drawLedger(t)
		}
		want := fold(t, entries...)
		var got lot.Record
		for rest := entries; len(rest) > 0; {
			n := rapid.IntRange(1, len(rest)).Draw(t, "read at once")
			var err error
			if got, err = got.With(rest[:n]...); err != nil {
				t.Fatalf("entry %d: %v", rest[0].Sequence, err)
			}
			rest = rest[n:]
		}
		if diff := cmp.Diff(want.State(), got.State(), whole); diff != "" {
			t.Fatalf("state (-want +got):\n%s", diff)
		}
		if diff := cmp.Diff(want.Standing(), got.Standing(), whole); diff != "" {
			t.Fatalf("standing (-want +got):\n%s", diff)
		}
	})
}

// drawLedger draws a ledger that nobody judged.
func drawLedger(t *rapid.T) []lot.Read {
	story := []lot.Told{planned()}
	doubts := make(map[int]lot.Doubt)
	for range 30 - rapid.IntRange(0, 30).Draw(t, "entries under 30") {
		one := drawTold(t, len(story))
		if one.HappenedAt.IsZero() {
			one.HappenedAt = at(50)
		}
		switch f := one.Fact.(type) { // it must name one that is there
		case lot.Corrected:
			f.Entry = min(max(f.Entry, 1), len(story))
			one.Fact = f
		case lot.Retracted:
			f.Entry = min(max(f.Entry, 1), len(story))
			one.Fact = f
		case lot.Confirmed:
			f.Entry = min(max(f.Entry, 1), len(story))
			one.Fact = f
		}
		story = append(story, one)
		if rapid.IntRange(0, 4).Draw(t, "doubtful") == 0 {
			doubts[len(story)] = lot.Doubt{Code: "gain", Detail: "heavier"}
		}
	}
	return raw(doubts, story...)
}

// Every ledger can be read and asked, whatever is in it; what it says holds
// together.
func TestEveryLedgerIsReadable(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) { checkState(t, fold(t, drawLedger(t)...)) })
}

func TestWhatIsAdmittedHoldsTogether(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		k := drawStory(t)
		if clashes := k.record.Clashes(); len(clashes) > 0 {
			t.Fatalf("entries were admitted that can't stand with the others: %v", clashes)
		}
		checkState(t, k.record)
		for _, s := range k.record.Standing() {
			name := ""
			switch f := s.Told.Fact.(type) {
			case lot.Weighed:
				name = f.Piece
			case lot.Measured:
				name = f.Piece
			case lot.Observed:
				name = f.Piece
			}
			if p, there := k.record.State().Piece(name); name != "" && (!there || s.HappenedAt.Before(p.StuffedAt)) {
				t.Fatalf("entry %d is of piece %q, which is there from %v on", s.Sequence, name, p.StuffedAt)
			}
		}
	})
}

// checkState holds the state of a record against its ledger.
func checkState(t *rapid.T, record lot.Record) {
	t.Helper()
	s := record.State()
	standing := make(map[int]lot.Standing)
	var doubtful []int
	for i, one := range record.Standing() {
		if i > 0 && one.HappenedAt.Before(record.Standing()[i-1].HappenedAt) {
			t.Fatal("what stands is out of order")
		}
		standing[one.Sequence] = one
		if len(one.Doubts) > 0 {
			doubtful = append(doubtful, one.Sequence)
		}
	}
	slices.Sort(doubtful)
	if diff := cmp.Diff(doubtful, s.Doubtful); diff != "" {
		t.Fatalf("doubtful (-want +got):\n%s", diff)
	}
	if s.Entries != len(record.Entries()) || s.Head != record.Head() || s.Stage < lot.StagePlanned || s.Stage > lot.StageDrying {
		t.Fatalf("got %d entries, head %v, stage %v", s.Entries, s.Head, s.Stage)
	}
	if (s.Stage == lot.StageDrying) != !s.HungAt.IsZero() || (len(s.Pieces) > 0) != !s.StuffedAt.IsZero() || (len(s.Mixed) > 0) != !s.MixedAt.IsZero() {
		t.Fatalf("stage %v does not go with mixed %v, stuffed %v, hung %v", s.Stage, s.MixedAt, s.StuffedAt, s.HungAt)
	}
	known := make(map[string]bool)
	for i, p := range s.Pieces {
		if known[p.Name] || i > 0 && p.StuffedAt.Before(s.Pieces[i-1].StuffedAt) || !p.HungAt.IsZero() && p.HungAt.Before(p.StuffedAt) {
			t.Fatalf("piece %q stuffed %v, hung %v", p.Name, p.StuffedAt, p.HungAt)
		}
		known[p.Name] = true
		checkWeighIns(t, p, standing)
		checkQuestions(t, s, p.Name)
	}
	if _, err := s.Fermentation(); err != nil {
		checkFault(t, err)
	}
}

func checkWeighIns(t *rapid.T, p lot.PieceState, standing map[int]lot.Standing) {
	t.Helper()
	var latest *lot.WeighIn
	for i, in := range p.WeighIns {
		one, stands := standing[in.Sequence]
		w, is := one.Told.Fact.(lot.Weighed)
		if !stands || !is || w.Piece != p.Name || !one.HappenedAt.Equal(in.At) || len(one.Doubts) != len(in.Doubts) || in.At.Before(p.StuffedAt) {
			t.Fatalf("weigh-in %+v of %q is none that stands", in, p.Name)
		}
		if i > 0 && in.At.Before(p.WeighIns[i-1].At) || in.Counts && (len(in.Doubts) > 0 || in.Weight.IsZero()) || in.Weight.Grams() < 0 {
			t.Fatalf("weigh-in %+v", in)
		}
		if in.Counts {
			latest = &p.WeighIns[i]
		}
	}
	if diff := cmp.Diff(latest, p.Latest, whole); diff != "" {
		t.Fatalf("latest (-want +got):\n%s", diff)
	}
}

func checkQuestions(t *rapid.T, s lot.State, name string) {
	t.Helper()
	q, err := s.DryDown(name, at(20))
	if err != nil {
		checkFault(t, err)
		return
	}
	if len(q.Entries) != len(q.Order.WeighIns) || !slices.IsSortedFunc(q.Order.WeighIns, func(a, b drying.WeighIn) int { return a.At.Compare(b.At) }) {
		t.Fatalf("%d entries tell of the weigh-ins %+v", len(q.Entries), q.Order.WeighIns)
	}
}

func checkFault(t *rapid.T, err error) {
	t.Helper()
	var f *fault.Error
	if !errors.As(err, &f) || f.Kind != fault.NoSolution {
		t.Fatalf("want it told what is missing, got %v", err)
	}
}

// Whatever was told of a lot: when all of it is taken back, in the order in which
// nothing stands on what goes, the lot is as it was opened.
func TestTakingAllBackLeavesThePlan(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		k := drawStory(t)
		before := k.record.State()
		last := func(k lot.Kind) int { // those on which others stand go last
			return slices.Index([]lot.Kind{lot.KindHung, lot.KindStuffed, lot.KindMixed}, k)
		}
		all := k.record.Standing()
		slices.Reverse(all) // of two hangings the later goes first, or it would have to take what the earlier had hung
		slices.SortStableFunc(all, func(a, b lot.Standing) int { return last(a.Told.Fact.Kind()) - last(b.Told.Fact.Kind()) })
		for _, s := range all {
			if s.Sequence == 1 {
				continue
			}
			k.post(lot.Told{HappenedAt: at(130), Fact: lot.Retracted{Entry: s.Sequence}})
		}
		want := lot.State{
			Planned: before.Planned, RulesOn: before.RulesOn, Rulebook: before.Rulebook, OpenedAt: before.OpenedAt, Stage: lot.StagePlanned,
			Head: k.record.Head(), Entries: len(k.record.Entries()),
		}
		if diff := cmp.Diff(want, k.record.State(), whole); diff != "" {
			t.Fatalf("(-want +got):\n%s", diff)
		}
	})
}

// What happened counts by when it happened: facts that do not need each other
// come to the same in whatever order they were recorded, and so do the doubts about
// weigh-ins, which were recorded otherwise each time. A hanging that names no pieces
// needs the stuffing that was recorded before it.
func TestTheOrderOfRecordingDoesNotMatter(t *testing.T) {
	t.Parallel()
	stages := [][]lot.Told{
		{planned()},
		{told(2, lot.Mixed{}), told(5, stuffed("A")), told(6, stuffed("B"))},
		{
			told(50, hung("A")), told(51, hung("B")), told(6, airAt(24)), told(30, airAt(25)), told(60, airAt(13)), told(29, acidOf(5.3)),
			told(20, lot.Noted{Text: "x"}), told(21, lot.Observed{Piece: "B", Text: "white"}),
			told(53, weighed("A", 588)), told(77, weighed("A", 576)), told(90, weighed("A", 592)), told(101, weighed("A", 567)), told(149, weighed("A", 552)), told(150, weighed("B", 549)),
		},
	}
	want := keep(t, slices.Concat(stages...)...).record.State()
	rapid.Check(t, func(t *rapid.T) {
		k := keep(t)
		for _, posted := range stages {
			k.post(rapid.Permutation(posted).Draw(t, "recorded")...)
		}
		if diff := cmp.Diff(unnumbered(want), unnumbered(k.record.State()), whole); diff != "" {
			t.Fatalf("(-want +got):\n%s", diff)
		}
	})
}

// unnumbered returns a state without the numbers of the entries that it came from.
func unnumbered(s lot.State) any {
	type piece struct {
		lot.PieceState
		Latest   lot.WeighIn
		WeighIns []lot.WeighIn
	}
	var pieces []piece
	for _, p := range s.Pieces {
		one := piece{PieceState: p, WeighIns: slices.Clone(p.WeighIns)}
		for i := range one.WeighIns {
			one.WeighIns[i].Sequence = 0
		}
		if p.Latest != nil {
			one.Latest = *p.Latest
			one.Latest.Sequence = 0
		}
		one.PieceState.WeighIns, one.PieceState.Latest, one.Entry = nil, nil, 0
		pieces = append(pieces, one)
	}
	course, err := s.Fermentation()
	course.LogEntries, course.PHEntries = nil, nil
	return []any{s.Stage, s.OpenedAt, s.MixedAt, s.StuffedAt, s.HungAt, s.Mixed, len(s.Doubtful), s.Entries, pieces, course, err}
}
