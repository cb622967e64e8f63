package lot_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/lot"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

func TestStages(t *testing.T) {
	t.Parallel()
	humid := lot.Measured{Place: lot.Air, Humidity: humidity(90)}
	core := lot.Measured{Place: lot.Core, Piece: "A", Temperature: celsius(12)}
	for _, row := range []struct {
		name  string
		story []lot.Told
		want  lot.Stage
	}{
		{"opened", []lot.Told{planned()}, lot.StagePlanned},
		{"a note says nothing of it", []lot.Told{planned(), told(1, lot.Noted{Text: "soon"})}, lot.StagePlanned},
		{"mixed", begun()[:2], lot.StageMixed},
		{"stuffed", begun(), lot.StageStuffed},
		{"measured before stuffing", append(begun(), told(4, airAt(4)), told(4, acidOf(5.8))), lot.StageStuffed},
		{"air read", append(begun(), told(6, airAt(24))), lot.StageFermenting},
		{"air read at the moment of stuffing", append(begun(), told(5, airAt(24))), lot.StageFermenting},
		{"acid read", append(begun(), told(6, acidOf(5.6))), lot.StageFermenting},
		{"a core is no chamber", append(begun(), told(6, core)), lot.StageStuffed},
		{"nor is humidity", append(begun(), told(6, humid)), lot.StageStuffed},
		{"what is doubtful does not count", append(begun(), told(6, airAt(75))), lot.StageStuffed},
		{"what was confirmed does", append(begun(), told(6, airAt(75)), told(7, lot.Confirmed{Entry: 4})), lot.StageFermenting},
		{"what was taken back does not", append(begun(), told(6, airAt(24)), told(7, lot.Retracted{Entry: 4})), lot.StageStuffed},
		{"weighed", append(begun(), told(6, weighed("A", 611))), lot.StageStuffed},
		{"hung", append(begun(), told(6, airAt(24)), told(53, lot.Hung{Pieces: []string{"A"}})), lot.StageDrying},
		{"hung without fermentation", append(begun(), told(53, lot.Hung{})), lot.StageDrying},
		{"hung by a slip", append(begun(), told(53, lot.Hung{}), told(54, lot.Retracted{Entry: 4})), lot.StageStuffed},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			if got := keep(t, row.story...).record.State().Stage; got != row.want {
				t.Errorf("want %s, got %s", row.want, got)
			}
		})
	}
}

func TestRulesOn(t *testing.T) {
	t.Parallel()
	midnight := func(year int, month time.Month, day int) time.Time {
		return time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	}
	said := planned()
	fact := said.Fact.(lot.Planned)
	fact.RulesOn = midnight(2026, 7, 1)
	said.Fact = fact
	// Half past midnight in Tokyo is still the day before in Greenwich.
	early := planned()
	early.HappenedAt = time.Date(2026, 11, 3, 0, 30, 0, 0, time.FixedZone("", 9*3600))
	for _, row := range []struct {
		name string
		open []lot.Told
		want time.Time
	}{
		{"not told", []lot.Told{planned()}, midnight(2026, 11, 2)},
		{"told", []lot.Told{said}, midnight(2026, 7, 1)},
		{"the day of the place", []lot.Told{early}, midnight(2026, 11, 3)},
		{"told later", []lot.Told{planned(), told(1, lot.Corrected{Entry: 1, Right: lot.Told{Fact: fact}})}, midnight(2026, 7, 1)},
		{"opened another day", []lot.Told{early, told(1, lot.Corrected{Entry: 1, Right: planned()})}, midnight(2026, 11, 2)},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			s := keep(t, row.open...).record.State()
			if !s.RulesOn.Equal(row.want) || s.Rulebook != "2026.11" {
				t.Errorf("want the rules of %v, got those of %v and %q", row.want, s.RulesOn, s.Rulebook)
			}
		})
	}
}

// Two goes of stuffing, recorded in the wrong order, and hung in two goes, of
// which the first names its pieces.
func TestPieces(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()[:2]...)
	k.post(told(6, stuffed("C")), told(5, stuffed("B", "A")))                                                    // 3, 4
	k.post(told(50, lot.Hung{Pieces: []string{"A"}, Room: "cellar", Position: "left"}), told(53, lot.Hung{}))    // 5, 6
	k.post(told(54, stuffed("D")), told(29, weighed("A", 582)), told(197, weighed("A", 552)))                    // 7, 8, 9
	k.post(told(101, lot.Weighed{Piece: "A", Weight: grams(560), Tare: isGrams(2)}), told(102, weighed("B", 6))) // 10, 11
	s := k.record.State()

	type piece struct {
		Name, Room, Position  string
		Entry                 int
		Stuffed, Hung         float64 // hours since the opening; -1 for never
		Green, Tare, Latest   float64 // g
		WeighIns, LatestEntry int
	}
	hours := func(when time.Time) float64 {
		if when.IsZero() {
			return -1
		}
		return when.Sub(opened).Hours()
	}
	var got []piece
	for _, p := range s.Pieces {
		one := piece{
			Name: p.Name, Room: p.Room, Position: p.Position, Entry: p.Entry, Stuffed: hours(p.StuffedAt), Hung: hours(p.HungAt),
			Green: p.Green.Grams(), Tare: p.Tare.Grams(), WeighIns: len(p.WeighIns),
		}
		if p.Latest != nil {
			one.Latest, one.LatestEntry = p.Latest.Weight.Grams(), p.Latest.Sequence
		}
		got = append(got, one)
	}
	want := []piece{
		{Name: "B", Entry: 4, Stuffed: 5, Hung: 53, Green: 600, Tare: 12, WeighIns: 1},
		{Name: "A", Entry: 4, Room: "cellar", Position: "left", Stuffed: 5, Hung: 50, Green: 600, Tare: 12, WeighIns: 3, Latest: 540, LatestEntry: 9},
		{Name: "C", Entry: 3, Stuffed: 6, Hung: 53, Green: 600, Tare: 12},
		{Name: "D", Entry: 7, Stuffed: 54, Hung: -1, Green: 600, Tare: 12},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if hours(s.MixedAt) != 2 || hours(s.StuffedAt) != 5 || hours(s.HungAt) != 50 || s.Entries != 11 || s.Head != k.record.Head() {
		t.Errorf("got mixed %v, stuffed %v, hung %v, %d entries, head %v", s.MixedAt, s.StuffedAt, s.HungAt, s.Entries, s.Head)
	}
	if diff := cmp.Diff([]lot.Mixed{{Batch: isGrams(4140)}}, s.Mixed, whole); diff != "" {
		t.Errorf("mixed (-want +got):\n%s", diff)
	}

	// By hand, of 600 g: 582 - 12 = 570 g is 5 %; 560 - 2 = 558 g is 7 %; 552 - 12 =
	// 540 g is 10 %. The 6 g of B are no more than its tare, and so a doubt.
	for i, want := range []struct {
		entry       int
		grams, loss float64
	}{{8, 570, 5}, {10, 558, 7}, {9, 540, 10}} {
		in := s.Pieces[1].WeighIns[i]
		if in.Sequence != want.entry || !in.Counts || in.Weight.Grams() != want.grams {
			t.Errorf("weigh-in %d: want entry %d with %v g, got %+v", i, want.entry, want.grams, in)
		}
		quantitytest.Near(t, "loss", want.loss, in.Loss.Percent(), 1e-9) // float rounding
	}
	none := s.Pieces[0].WeighIns[0]
	if none.Counts || len(none.Doubts) != 1 || none.Weight != (quantity.Mass{}) || none.Loss.Percent() != 100 {
		t.Errorf("want a doubtful weigh-in of nothing, got %+v", none)
	}
	if diff := cmp.Diff([]int{11}, s.Doubtful); diff != "" {
		t.Errorf("doubtful (-want +got):\n%s", diff)
	}
	if _, there := s.Piece("E"); there {
		t.Error("there is a piece E")
	}
}

// The green weight and the tare of a piece are those that stand: the losses
// follow.
func TestACorrectedGreenWeight(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()...)
	k.post(told(29, weighed("A", 552)))
	right := stuffed("A", "B")
	right.Pieces[0].Weight, right.Pieces[0].Tare = grams(732), grams(12)
	k.post(told(30, lot.Corrected{Entry: 3, Right: lot.Told{Fact: right}}))
	// 540 of 720 g are left: 25 %.
	p, _ := k.record.State().Piece("A")
	quantitytest.Near(t, "loss", 25, p.Latest.Loss.Percent(), 1e-9)
	if !p.StuffedAt.Equal(at(5)) || p.Entry != 3 {
		t.Errorf("want it stuffed at %v by entry 3, got %v by %d", at(5), p.StuffedAt, p.Entry)
	}
}

// The doubts about weigh-ins are those of all that stands now, with the green
// weight as it stands; each is of the entry that is wrong.
func TestWeighInsAreJudgedAnew(t *testing.T) {
	t.Parallel()
	green := func(g float64) lot.Told {
		return told(5, lot.Stuffed{Pieces: []lot.Piece{{Name: "A", Weight: grams(g)}}})
	}
	weights := func(all ...float64) []lot.Told { // on days 4, 6, 8 and so on: entries 3 on
		var story []lot.Told
		for i, g := range all {
			story = append(story, told(5+24*float64(4+2*i), weighed("A", g)))
		}
		return story
	}
	for _, row := range []struct {
		name     string
		green    float64
		weights  []lot.Told
		judged   []lot.Told
		doubtful []int
		codes    []string
		latest   int // entry; 0 for none
	}{
		{"520 was typed for 570", 600, weights(520, 560, 550, 540, 530), nil, []int{3}, []string{"too-fast"}, 7},
		{"and is corrected", 600, weights(520, 560, 550, 540, 530), []lot.Told{corrected(3, lot.Told{Fact: weighed("A", 570)})}, nil, nil, 7},
		{"and is confirmed", 600, weights(520, 560, 550, 540, 530), []lot.Told{confirmed(3)}, []int{4, 5, 6, 7}, []string{"gain", "gain", "gain", "gain"}, 3},
		{"and is taken back", 600, weights(520, 560, 550, 540, 530), []lot.Told{retracted(3)}, nil, nil, 7},
		{"one that nobody doubts is confirmed", 600, weights(520, 560, 550, 540, 530), []lot.Told{confirmed(4)}, []int{3}, []string{"too-fast"}, 7},
		{"6 g were typed for 600", 6, weights(570, 560, 550), nil, []int{3, 4, 5}, []string{"wrong-unit", "wrong-unit", "wrong-unit"}, 0},
		{"and are corrected", 6, weights(570, 560, 550), []lot.Told{corrected(2, green(600))}, nil, nil, 5},
		{"512 g were typed for 600 in a correction", 600, weights(570, 560, 550), []lot.Told{corrected(2, green(512))}, []int{3, 4, 5}, []string{"gain", "gain", "gain"}, 0},
		{"the tare leaves nothing, and is confirmed", 600, append(weights(570), told(200, lot.Weighed{Piece: "A", Weight: grams(50), Tare: isGrams(50)})),
			nil, []int{4}, []string{"no-weight"}, 3},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			k := keep(t, planned(), green(row.green))
			for _, one := range append(row.weights, row.judged...) {
				k.post(one)
			}
			s := k.record.State()
			if diff := cmp.Diff(row.doubtful, s.Doubtful); diff != "" {
				t.Errorf("doubtful (-want +got):\n%s", diff)
			}
			var codes []string
			latest := 0
			for _, in := range s.Pieces[0].WeighIns {
				for _, d := range in.Doubts {
					codes = append(codes, d.Code)
				}
				if in.Counts != (len(in.Doubts) == 0) {
					t.Errorf("entry %d counts %v, with the doubts %v", in.Sequence, in.Counts, in.Doubts)
				}
			}
			if in := s.Pieces[0].Latest; in != nil {
				latest = in.Sequence
			}
			if diff := cmp.Diff(row.codes, codes); diff != "" || latest != row.latest {
				t.Errorf("want entry %d the latest, got %d; codes (-want +got):\n%s", row.latest, latest, diff)
			}
			for _, one := range k.record.Standing() {
				if slices.Contains(s.Doubtful, one.Sequence) != (len(one.Doubts) > 0) {
					t.Errorf("entry %d stands with the doubts %v", one.Sequence, one.Doubts)
				}
			}
		})
	}
}

// A ledger full of weigh-ins of one piece is judged bit by bit: a slip is found
// wherever it is, at the seams too, and nothing else is doubted.
func TestAFullLedgerIsJudgedAnew(t *testing.T) {
	t.Parallel()
	story := append(begun(), told(5.5, hung()))
	// A hundred are judged at once: the slips begin at the first of a hundred, and
	// end at one that is alone in the last.
	const all, firstSlip, between, each = 9901, 100, 196, 0.1 // of weigh-ins; hours
	for i := range all {
		g := 600 - 0.01*float64(i)
		if i%between == firstSlip { // nobody's 300 g comes back
			g -= 300
		}
		story = append(story, told(6+each*float64(i), weighed("A", g)))
	}
	var want []int
	for i := firstSlip; i < all; i += between {
		want = append(want, i+5)
	}
	record := fold(t, raw(nil, story...)...)
	s := record.State()
	if diff := cmp.Diff(want, s.Doubtful); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if n := len(s.Pieces[0].WeighIns); n != all || s.Pieces[0].Latest.Sequence != all+3 {
		t.Errorf("got %d weigh-ins, the latest that counts %+v", n, s.Pieces[0].Latest)
	}
}

// A ledger that nobody judged may tell two weights of one instant: one counts, that
// which was confirmed before others.
func TestTwoWeightsOfOneInstant(t *testing.T) {
	t.Parallel()
	story := append(begun(), told(29, weighed("A", 582)), told(29, weighed("A", 572)), told(53, weighed("A", 570)), told(5, weighed("A", 600)))
	for _, row := range []struct {
		name   string
		judged []lot.Told
		want   []int
	}{
		{"the first", nil, []int{5, 7}},
		{"the confirmed one", []lot.Told{told(60, lot.Confirmed{Entry: 5})}, []int{4, 7}},
		{"the first of two that were confirmed", []lot.Told{told(60, lot.Confirmed{Entry: 5}), told(60, lot.Confirmed{Entry: 4})}, []int{5, 7}},
		{"the one that is left", []lot.Told{told(60, lot.Retracted{Entry: 4})}, []int{7}},
	} {
		s := fold(t, raw(nil, append(slices.Clone(story), row.judged...)...)...).State()
		if diff := cmp.Diff(row.want, s.Doubtful); diff != "" {
			t.Errorf("%s (-want +got):\n%s", row.name, diff)
		}
	}
}

// What a hanging took that names no pieces is what had been recorded by then, and
// stays so.
func TestAHangingOfAllTakesWhatWasRecorded(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()...)
	k.post(told(50, lot.Hung{Room: "cellar"}))
	k.post(told(40, stuffed("C")))
	c, _ := k.record.State().Piece("C")
	if !c.HungAt.IsZero() {
		t.Errorf("C was recorded later, and hangs since %v", c.HungAt)
	}
	k.post(told(55, lot.Hung{Room: "loft"})) // it takes what is left
	for name, room := range map[string]string{"A": "cellar", "B": "cellar", "C": "loft"} {
		if p, _ := k.record.State().Piece(name); p.Room != room {
			t.Errorf("want %s in the %s, got %q", name, room, p.Room)
		}
	}
}
