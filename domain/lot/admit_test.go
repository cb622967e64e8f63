package lot_test

import (
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// with returns a story that goes on.
// manyPieces is a stuffing of so many pieces.
func manyPieces(n int) lot.Stuffed {
	names := make([]string, n)
	for i := range names {
		names[i] = "piece-" + strconv.Itoa(i)
	}
	return stuffed(names...)
}

func with(story []lot.Told, more ...lot.Told) []lot.Told { return slices.Concat(story, more) }

func hung(names ...string) lot.Hung { return lot.Hung{Pieces: names} }

// piece returns the stuffing of one piece that is otherwise as usual.
func piece(change func(*lot.Piece)) lot.Stuffed {
	s := stuffed("P")
	change(&s.Pieces[0])
	return s
}

func by(instrument string, m lot.Measured) lot.Measured {
	m.Means.Instrument = instrument
	return m
}

func corrected(entry int, right lot.Told) lot.Told {
	return told(50, lot.Corrected{Entry: entry, Reason: "a slip", Right: right})
}

func retracted(entry int) lot.Told {
	return told(50, lot.Retracted{Entry: entry, Reason: "a slip"})
}

func confirmed(entry int) lot.Told {
	return told(50, lot.Confirmed{Entry: entry, Reason: "looked"})
}

func TestAdmitRefuses(t *testing.T) {
	t.Parallel()
	begun := begun()
	for _, row := range []struct {
		name   string
		story  []lot.Told
		posted []lot.Told
		want   refusal
	}{
		{"a fact of a lot that is not open", nil, []lot.Told{told(1, lot.Noted{})}, invalid("/0/kind not-opened")},
		{"an opening with more", nil, []lot.Told{planned(), told(1, lot.Noted{})}, invalid("/1/kind not-opened")},
		{"an opening behind", nil, []lot.Told{told(1, lot.Noted{}), planned()}, invalid("/0/kind not-opened", "/1/kind already-opened")},
		{"two openings", nil, []lot.Told{planned(), planned()}, invalid("/1/kind already-opened")},
		{"a second opening", begun, []lot.Told{planned()}, invalid("/0/kind already-opened")},
		{"nothing", begun, []lot.Told{{}}, invalid("/0/kind required")},

		{"in the future", begun, []lot.Told{told(60*24+0.1, lot.Noted{})}, invalid("/0/happened_at in-the-future")},
		{"a correction in the future", begun, []lot.Told{told(60*24+0.1, lot.Corrected{Entry: 2, Right: told(2, lot.Mixed{})})},
			invalid("/0/happened_at in-the-future")},
		{"what is right in the future", with(begun, told(6, lot.Noted{})), []lot.Told{corrected(4, told(60*24+0.1, lot.Noted{}))}, invalid("/0/right/happened_at in-the-future")},

		{"mixed twice", begun[:2], []lot.Told{told(6, lot.Mixed{})}, conflict("/0 already-mixed")},
		{"mixed after stuffing", []lot.Told{planned(), told(5, stuffed("A"))}, []lot.Told{told(5.1, lot.Mixed{})}, invalid("/0/happened_at after-stuffing")},
		{"mixed twice at once", begun[:1], []lot.Told{told(2, lot.Mixed{}), told(2, lot.Mixed{})}, conflict("/1 already-mixed")},
		{"stuffed before it was mixed", begun[:2], []lot.Told{told(1.9, stuffed("A"))}, invalid("/0/happened_at before-mixing")},
		{"a name twice", begun, []lot.Told{told(6, stuffed("C", "A", "C"))}, invalid("/0/pieces/1/piece duplicate", "/0/pieces/2/piece duplicate")},
		{"a name twice in a list", begun[:2], []lot.Told{told(6, stuffed("C")), told(7, stuffed("C"))}, invalid("/1/pieces/0/piece duplicate")},
		{"all tare", begun, []lot.Told{told(6, piece(func(p *lot.Piece) { p.Tare = p.Weight }))}, invalid("/0/pieces/0/tare no-weight")},
		{"more than all tare", begun, []lot.Told{told(6, piece(func(p *lot.Piece) { p.Tare = grams(613) }))}, invalid("/0/pieces/0/tare no-weight")},
		{"too many pieces", with(begun, told(5, manyPieces(1998))), []lot.Told{told(6, stuffed("one-more"))}, conflict("/0/pieces too-many-pieces")},
		{"a light piece", begun, []lot.Told{told(6, piece(func(p *lot.Piece) { p.Weight = grams(16.9) }))}, invalid("/0/pieces/0/weight out-of-range")},
		{"a heavy piece", begun, []lot.Told{told(6, piece(func(p *lot.Piece) { p.Weight = grams(20012.1) }))}, invalid("/0/pieces/0/weight out-of-range")},
		{"a thin piece", begun, []lot.Told{told(6, piece(func(p *lot.Piece) { p.Diameter = mm(4.9) }))}, invalid("/0/pieces/0/diameter out-of-range")},
		{"a thick piece", begun, []lot.Told{told(6, piece(func(p *lot.Piece) { p.Diameter = mm(250.1) }))}, invalid("/0/pieces/0/diameter out-of-range")},

		{"no piece to hang", begun, []lot.Told{told(50, hung("A", "C"))}, invalid("/0/pieces/1 unknown-piece")},
		{"hung before stuffing", begun, []lot.Told{told(4.9, hung("A"))}, invalid("/0/pieces/0 before-stuffing")},
		{"all hung before stuffing", begun, []lot.Told{told(4.9, hung())}, invalid("/0/happened_at before-stuffing")},
		{"all hung with none stuffed", begun[:2], []lot.Told{told(50, hung())}, invalid("/0/happened_at before-stuffing")},
		{"hung twice", with(begun, told(50, hung("A"))), []lot.Told{told(60, hung("B", "A"))}, conflict("/0/pieces/1 already-hung")},
		{"named twice", begun, []lot.Told{told(60, hung("A", "A"))}, invalid("/0/pieces/1 duplicate")},
		{"all hung twice", with(begun, told(50, hung())), []lot.Told{told(60, hung())}, conflict("/0 already-hung")},
		{"all hung, and one of them later", with(begun, told(50, hung("A"))), []lot.Told{told(49, hung())}, conflict("/0 already-hung")},
		{"hung earlier than all", with(begun, told(50, hung())), []lot.Told{told(49, hung("A"))}, conflict("/0/pieces/0 already-hung")},

		{"a weighing of no piece", begun, []lot.Told{told(6, weighed("C", 600))}, invalid("/0/piece unknown-piece")},
		{"a weighing when there are none", begun[:2], []lot.Told{told(6, weighed("A", 600))}, invalid("/0/piece unknown-piece")},
		{"a weighing before stuffing", begun, []lot.Told{told(4.9, weighed("A", 600))}, invalid("/0/happened_at before-stuffing")},
		{"a core of no piece", begun, []lot.Told{told(6, lot.Measured{Place: lot.Core, Piece: "C", PH: isPH(5.5)})}, invalid("/0/piece unknown-piece")},
		{"an observation of no piece", begun, []lot.Told{told(6, lot.Observed{Piece: "C"})}, invalid("/0/piece unknown-piece")},
		{"an observation before stuffing", begun, []lot.Told{told(4, lot.Observed{Piece: "A"})}, invalid("/0/happened_at before-stuffing")},

		{"another weight of the instant", with(begun, told(24, weighed("A", 582))), []lot.Told{told(24, weighed("A", 583))}, conflict("/0 conflicting-instant")},
		{"another tare of the instant", with(begun, told(24, weighed("A", 582))),
			[]lot.Told{told(24, lot.Weighed{Piece: "A", Weight: grams(582), Tare: isGrams(10)})}, conflict("/0 conflicting-instant")},
		{"another weight in the list", begun, []lot.Told{told(24, weighed("A", 582)), told(24, weighed("A", 583))}, conflict("/1 conflicting-instant")},
		{"another weight than the green one", begun, []lot.Told{told(5, weighed("A", 611))}, conflict("/0 conflicting-instant")},
		{"another value of a doubtful instant", with(begun, told(24, weighed("A", 5820))), []lot.Told{told(24, weighed("A", 582))}, conflict("/0 conflicting-instant")},
		{"another temperature of the instant", with(begun, told(24, by("probe", airAt(24)))), []lot.Told{told(24, by("probe", airAt(25)))}, conflict("/0 conflicting-instant")},
		{"another pH of the instant", with(begun, told(24, acidOf(5.5))), []lot.Told{told(24, acidOf(5.4))}, conflict("/0 conflicting-instant")},
		{"another doubt of the thermometer", with(begun, told(24, airAt(24))), []lot.Told{told(24, lot.Measured{
			Place: lot.Air, Temperature: celsius(24), TemperatureWithin: material.Is(quantity.MustCelsiusDegrees(1))})}, conflict("/0 conflicting-instant")},

		{"a judgement of nothing", begun, []lot.Told{retracted(4), confirmed(0), corrected(9, told(1, lot.Noted{}))},
			invalid("/0/entry unknown-entry", "/1/entry unknown-entry", "/2/entry unknown-entry")},
		{"a judgement of a judgement", with(begun, told(6, lot.Noted{}), retracted(4)), []lot.Told{retracted(5), confirmed(5), corrected(5, told(1, lot.Noted{}))},
			invalid("/0/entry not-a-fact", "/1/entry not-a-fact", "/2/entry not-a-fact")},
		{"a judgement of what was taken back", with(begun, told(6, lot.Noted{}), retracted(4)), []lot.Told{retracted(4), confirmed(4), corrected(4, told(1, lot.Noted{}))},
			conflict("/0/entry retracted", "/1/entry retracted", "/2/entry retracted")},
		{"a doubt that there is not", begun, []lot.Told{confirmed(2)}, conflict("/0/entry not-doubtful")},
		{"a weighing confirmed twice", with(begun, told(24, weighed("A", 582)), confirmed(4)), []lot.Told{confirmed(4)}, conflict("/0/entry not-doubtful")},
		{"a measurement without a doubt", with(begun, told(24, airAt(24))), []lot.Told{confirmed(4)}, conflict("/0/entry not-doubtful")},
		{"a judgement of what the list tells", begun, []lot.Told{told(24, weighed("A", 6120)), confirmed(4), retracted(4), corrected(4, told(24, weighed("A", 582)))},
			invalid("/1/entry not-kept-yet", "/2/entry not-kept-yet", "/3/entry not-kept-yet")},
		{"a judgement of what is behind the list", begun, []lot.Told{told(24, weighed("A", 582)), retracted(5)}, invalid("/1/entry unknown-entry")},
		{"a doubt cleared before", with(begun, told(6, weighed("A", 6120)), confirmed(4)), []lot.Told{confirmed(4)}, conflict("/0/entry not-doubtful")},
		{"a weighing of nothing confirmed", with(begun, told(6, weighed("A", 12))), []lot.Told{confirmed(4)}, conflict("/0/entry no-weight")},
		{"another kind", begun, []lot.Told{corrected(3, told(5, lot.Mixed{}))}, invalid("/0/right/kind wrong-kind")},
		{"nothing right", begun, []lot.Told{corrected(3, lot.Told{})}, invalid("/0/right/kind required")},
		{"the opening taken back", begun, []lot.Told{retracted(1)}, invalid("/0/entry opening")},
		{"what is right is of no piece", with(begun, told(24, weighed("A", 582))), []lot.Told{corrected(4, told(24, weighed("C", 582)))}, invalid("/0/right/piece unknown-piece")},
		{"what is right is before stuffing", with(begun, told(24, weighed("A", 582))), []lot.Told{corrected(4, told(4, weighed("A", 582)))},
			invalid("/0/right/happened_at before-stuffing")},
		{"what is right is all tare", begun, []lot.Told{corrected(3, told(5, piece(func(p *lot.Piece) { p.Tare = p.Weight })))}, invalid("/0/right/pieces/0/tare no-weight")},
		{"a name that another has", with(begun, told(6, stuffed("C"))), []lot.Told{corrected(4, told(6, stuffed("A")))}, invalid("/0/right/pieces/0/piece duplicate")},
		{"an instant that another has", with(begun, told(24, weighed("A", 582)), told(25, weighed("A", 581))), []lot.Told{corrected(5, told(24, weighed("A", 581)))},
			conflict("/0/right conflicting-instant")},
		{"a correction to what another tells", with(begun, told(24, weighed("A", 582)), told(25, weighed("A", 581))), []lot.Told{corrected(5, told(24, weighed("A", 582)))},
			conflict("/0/right conflicting-instant")},
		{"a correction to what another doubtful one tells", with(begun, told(24, weighed("A", 5820)), told(25, weighed("A", 582))),
			[]lot.Told{corrected(5, told(24, weighed("A", 5820)))}, conflict("/0/right conflicting-instant")},
		{"a correction to what another was corrected to", with(begun, told(24, weighed("A", 583)), told(25, weighed("A", 581)), corrected(4, told(26, weighed("A", 582)))),
			[]lot.Told{corrected(5, told(26, weighed("A", 582)))}, conflict("/0/right conflicting-instant")},
		{"a measurement corrected to what another tells", with(begun, told(24, airAt(24)), told(25, airAt(24))), []lot.Told{corrected(5, told(24, airAt(24)))},
			conflict("/0/right conflicting-instant")},

		{"mixing moved behind the stuffing", begun, []lot.Told{corrected(2, told(6, lot.Mixed{}))}, invalid("/0/right/happened_at after-stuffing")},
		{"stuffing moved before the mixing", begun, []lot.Told{corrected(3, told(1, stuffed("A", "B")))}, invalid("/0/right/happened_at before-mixing")},
		{"a piece taken back that was weighed", with(begun, told(24, weighed("A", 582))), []lot.Told{retracted(3)}, conflict("/0/entry contradicts")},
		{"a piece taken back that hangs", with(begun, told(24, hung("B"))), []lot.Told{retracted(3)}, conflict("/0/entry contradicts")},
		{"pieces taken back of which all were hung", with(begun, told(24, hung())), []lot.Told{retracted(3)}, conflict("/0/entry contradicts")},
		{"a piece renamed that was weighed", with(begun, told(24, weighed("A", 582))), []lot.Told{corrected(3, told(5, stuffed("a", "B")))}, conflict("/0/entry contradicts")},
		{"a piece renamed that was measured", with(begun, told(24, lot.Measured{Place: lot.Core, Piece: "A", PH: isPH(5.2)})),
			[]lot.Told{corrected(3, told(5, stuffed("a", "B")))}, conflict("/0/entry contradicts")},
		{"stuffing moved behind a weighing", with(begun, told(24, weighed("A", 582))), []lot.Told{corrected(3, told(25, stuffed("A", "B")))}, conflict("/0/entry contradicts")},
		{"stuffing moved behind the hanging", with(begun, told(24, hung("A"))), []lot.Told{corrected(3, told(25, stuffed("A", "B")))}, conflict("/0/entry contradicts")},
		{"stuffing moved onto a weighing", with(begun, told(24, weighed("A", 582))), []lot.Told{corrected(3, told(24, stuffed("A", "B")))}, conflict("/0/entry contradicts")},
		{"stuffing moved under a hanging of all, of a piece hung later", with(begun, told(60, stuffed("C")), told(50, hung()), told(70, hung("C"))),
			[]lot.Told{corrected(4, told(45, stuffed("C")))}, conflict("/0/entry contradicts")},
		{"a hanging of all taken back, whose pieces would fall to the next", with(begun, told(50, hung()), told(60, stuffed("C")), told(70, hung())),
			[]lot.Told{retracted(4)}, conflict("/0/entry contradicts")},
		{"a hanging corrected, which would leave a piece to the next", with(begun, told(50, hung("A", "B")), told(60, stuffed("C")), told(70, hung())),
			[]lot.Told{corrected(4, told(50, hung("A")))}, conflict("/0/entry contradicts")},
		{"a hanging corrected to all, when what was stuffed by then was recorded later", with(begun, told(50, hung("A")), told(3, stuffed("C"))),
			[]lot.Told{corrected(4, told(4, hung()))}, invalid("/0/right/happened_at before-stuffing")},
		{"a hanging moved behind the next, which would take its pieces", with(begun, told(50, hung()), told(60, stuffed("C")), told(70, hung())),
			[]lot.Told{corrected(4, told(80, hung()))}, conflict("/0/entry contradicts")},
		{"a hanging corrected to what the next took", with(begun, told(50, hung("A")), told(70, hung())),
			[]lot.Told{corrected(4, told(50, hung("A", "B")))}, conflict("/0/right/pieces/1 already-hung")},
		{"a tare that leaves nothing of a weighing", with(begun, told(24, weighed("A", 582))),
			[]lot.Told{corrected(3, told(5, lot.Stuffed{Pieces: []lot.Piece{{Name: "A", Weight: grams(1182), Tare: grams(582)}}}))}, conflict("/0/entry contradicts")},
		{"all hung instead of one, with one hung later", with(begun, told(24, hung("A")), told(30, hung("B"))), []lot.Told{corrected(4, told(24, hung()))},
			conflict("/0/right already-hung")},

		{"what has no meaning wins, and all is told", with(begun, told(24, hung())),
			[]lot.Told{told(30, hung("A")), told(60*24+1, lot.Noted{}), told(30, weighed("C", 600))},
			invalid("/0/pieces/0 already-hung", "/1/happened_at in-the-future", "/2/piece unknown-piece")},
		{"what follows a slip is judged as if it were none", begun[:2],
			[]lot.Told{told(5, piece(func(p *lot.Piece) { p.Diameter = mm(1) })), told(6, weighed("P", 600)), told(7, retracted(4).Fact)},
			invalid("/0/pieces/0/diameter out-of-range", "/2/entry not-kept-yet")},
		{"what follows a judgement that fails is judged without it", with(begun, told(24, weighed("A", 582))),
			[]lot.Told{retracted(3), told(30, weighed("A", 580)), told(30, weighed("D", 580))}, invalid("/0/entry contradicts", "/2/piece unknown-piece")},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			k := keep(t, row.story...)
			before := k.record.State()
			admitted, err := k.record.Admit(k.now, row.posted)
			if err == nil {
				t.Fatalf("it was admitted: %+v", admitted)
			}
			want := row.want
			slices.Sort(want.Codes)
			if diff := cmp.Diff(want, refusalOf(t, err)); diff != "" {
				t.Errorf("(-want +got):\n%s\n%v", diff, err)
			}
			if diff := cmp.Diff(before, k.record.State(), whole); diff != "" {
				t.Errorf("judging changed the record (-want +got):\n%s", diff)
			}
		})
	}
}

func TestAdmitTakes(t *testing.T) {
	t.Parallel()
	begun := begun()
	for _, row := range []struct {
		name   string
		story  []lot.Told
		posted []lot.Told
	}{
		{"all of it in one list", begun[:1], begun[1:]},
		{"stuffed as it is mixed, hung and weighed as it is stuffed", begun[:1], []lot.Told{
			told(2, lot.Mixed{}), told(2, stuffed("A", "B")), told(2, hung("A")), told(2, hung()), told(2, weighed("A", 612)),
		}},
		{"stuffed with nothing mixed, and mixed in time later", begun[:1], []lot.Told{told(5, stuffed("A")), told(5, lot.Mixed{})}},
		{"mixing taken back under pieces", begun, []lot.Told{retracted(2)}},
		{"the smallest and the largest piece", begun, []lot.Told{
			told(6, piece(func(p *lot.Piece) { p.Name, p.Weight, p.Diameter = "S", grams(17), mm(5) })),
			told(6, piece(func(p *lot.Piece) { p.Name, p.Weight, p.Diameter = "L", grams(20012), mm(250) })),
		}},
		{"five minutes ahead", begun, []lot.Told{told(60*24+5.0/60, lot.Noted{})}},
		{"hung in two goes", with(begun, told(50, hung("A"))), []lot.Told{told(60, hung())}},
		{"stuffed late, under a hanging of all", with(begun, told(50, hung())), []lot.Told{told(40, stuffed("C"))}},
		{"two instruments at one instant", with(begun, told(24, by("left", airAt(24)))), []lot.Told{told(24, by("right", airAt(25)))}},
		{"two places at one instant", with(begun, told(24, airAt(24))), []lot.Told{told(24, lot.Measured{Place: lot.Core, Temperature: celsius(22)})}},
		{"two pieces at one instant", begun, []lot.Told{
			told(24, lot.Measured{Place: lot.Air, Piece: "A", PH: isPH(5.3)}), told(24, lot.Measured{Place: lot.Air, Piece: "B", PH: isPH(5.4)}),
		}},
		{"two things at one instant", with(begun, told(24, airAt(24))), []lot.Told{told(24, acidOf(5.4))}},
		{"another weight of an instant that was taken back", with(begun, told(24, weighed("A", 582)), retracted(4)), []lot.Told{told(24, weighed("A", 583))}},
		{"another weight of an instant that was corrected away", with(begun, told(24, weighed("A", 582)), corrected(4, told(25, weighed("A", 582)))),
			[]lot.Told{told(24, weighed("A", 583))}},
		{"the green weight again", begun, []lot.Told{told(5, weighed("A", 612))}},
		{"a piece renamed that nobody named", begun, []lot.Told{corrected(3, told(5, stuffed("a", "b")))}},
		{"what stands on a piece first, then the piece", with(begun, told(24, weighed("A", 582)), told(25, hung("A"))),
			[]lot.Told{retracted(5), retracted(4), retracted(3), retracted(2)}},
		{"a correction to what another told before it was taken back", with(begun, told(24, weighed("A", 582)), told(25, weighed("A", 581)), retracted(4)),
			[]lot.Told{corrected(5, told(24, weighed("A", 582)))}},
		{"a weighing confirmed that nobody doubts", with(begun, told(24, weighed("A", 582))), []lot.Told{confirmed(4)}},
		{"one confirmed again, as it was corrected", with(begun, told(24, weighed("A", 582)), confirmed(4), corrected(4, told(24, weighed("A", 581)))),
			[]lot.Told{confirmed(4)}},
		{"a room corrected, of what the next hanging of all would take", with(begun, told(50, hung()), told(60, stuffed("C")), told(70, hung())),
			[]lot.Told{corrected(4, told(51, lot.Hung{Pieces: []string{"B", "A"}, Room: "loft"})), corrected(4, told(50, lot.Hung{Room: "loft"}))}},
		{"the later of two hangings of all taken back, then the first", with(begun, told(50, hung()), told(60, stuffed("C")), told(70, hung())),
			[]lot.Told{retracted(6), retracted(4)}},
		{"the later of two hangings of all named, then the first taken back", with(begun, told(50, hung()), told(60, stuffed("C")), told(70, hung())),
			[]lot.Told{corrected(6, told(70, hung("C"))), retracted(4)}},
		{"stuffing moved under a hanging of all that was recorded before", with(begun, told(50, hung()), told(60, stuffed("C")), told(70, hung("C"))),
			[]lot.Told{corrected(5, told(45, stuffed("C")))}},
		{"stuffed late, under a hanging of all, and hung by itself", with(begun, told(50, hung()), told(40, stuffed("C"))), []lot.Told{told(50, hung("C"))}},
		{"a judgement of what was there, behind what is new", with(begun, told(24, weighed("A", 582))), []lot.Told{told(26, lot.Noted{}), retracted(4)}},
		{"the opening corrected", begun, []lot.Told{corrected(1, planned())}},
		{"mixing moved within its time", begun, []lot.Told{corrected(2, told(5, lot.Mixed{}))}},
		{"a correction to the same", with(begun, told(24, weighed("A", 582))), []lot.Told{corrected(4, told(24, weighed("A", 582)))}},
		{"stuffing moved onto the green weight again", with(begun, told(24, weighed("A", 612))), []lot.Told{corrected(3, told(24, stuffed("A", "B")))}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			k := keep(t, row.story...)
			admitted := k.post(row.posted...)
			if len(admitted) != len(row.posted) || k.record.Head().Sequence != len(row.story)+len(row.posted) {
				t.Errorf("want %d entries more, got %+v", len(row.posted), admitted)
			}
		})
	}
}

func TestRepeats(t *testing.T) {
	t.Parallel()
	begun := begun()
	full := lot.Measured{
		Place: lot.Air, Temperature: celsius(24), Humidity: humidity(90), PH: isPH(5.4),
		PHWithin: material.Is(quantity.Between[quantity.PH]{Low: quantity.MustPH(5.3), High: quantity.MustPH(5.5)}),
	}
	for _, row := range []struct {
		name   string
		story  []lot.Told // from entry 4 on
		posted []lot.Told
		want   []int
	}{
		{"a weight", []lot.Told{told(24, weighed("A", 582))}, []lot.Told{told(24, weighed("A", 582))}, []int{4}},
		{"the tare told and not told", []lot.Told{told(24, weighed("A", 582))}, []lot.Told{told(24, lot.Weighed{Piece: "A", Weight: grams(582), Tare: isGrams(12)})}, []int{4}},
		{"to the microsecond", []lot.Told{told(24, weighed("A", 582))},
			[]lot.Told{{HappenedAt: at(24).Add(999), Fact: weighed("A", 582)}, {HappenedAt: at(24).Add(1000), Fact: weighed("A", 582)}}, []int{4, 0}},
		{"in the list, which is counted without it", nil, []lot.Told{
			told(24, weighed("A", 582)), told(24, weighed("A", 582)), told(25, weighed("A", 581)), told(25, weighed("A", 581)),
		}, []int{0, 4, 0, 5}},
		{"in another offset", []lot.Told{told(24, weighed("A", 582))}, []lot.Told{{HappenedAt: at(24).UTC(), Fact: weighed("A", 582)}}, []int{4}},
		{"a doubtful one", []lot.Told{told(24, weighed("A", 5820))}, []lot.Told{told(24, weighed("A", 5820))}, []int{4}},
		{"one that was corrected, as it was told first", []lot.Told{told(24, weighed("A", 5820)), corrected(4, told(24, weighed("A", 582)))},
			[]lot.Told{told(24, weighed("A", 5820))}, []int{4}},
		{"one that was corrected, as it stands", []lot.Told{told(24, weighed("A", 5820)), corrected(4, told(24, weighed("A", 582)))},
			[]lot.Told{told(24, weighed("A", 582))}, []int{4}},
		{"one that was corrected twice, as it was between", []lot.Told{
			told(24, weighed("A", 5820)), corrected(4, lot.Told{Fact: weighed("A", 580)}), corrected(4, told(26, weighed("A", 582))),
		}, []lot.Told{told(24, weighed("A", 580))}, []int{4}},
		{"one that was taken back", []lot.Told{told(24, weighed("A", 582)), retracted(4)}, []lot.Told{told(24, weighed("A", 582))}, []int{4}},
		{"one that was corrected and taken back, as it was told first", []lot.Told{told(24, weighed("A", 5820)), corrected(4, told(24, weighed("A", 582))), retracted(4)},
			[]lot.Told{told(24, weighed("A", 5820)), told(24, weighed("A", 582))}, []int{4, 4}},
		{"one that was taken back, with another in its place", []lot.Told{told(24, weighed("A", 582)), retracted(4), told(24, weighed("A", 583))},
			[]lot.Told{told(24, weighed("A", 582)), told(24, weighed("A", 583))}, []int{4, 6}},
		{"one that stands before one that was taken back", []lot.Told{
			told(24, weighed("A", 582)), told(25, weighed("A", 581)), retracted(4), corrected(5, told(24, weighed("A", 582))),
		}, []lot.Told{told(24, weighed("A", 582))}, []int{5}},
		{"a measurement that was taken back", []lot.Told{told(24, full), retracted(4)}, []lot.Told{told(24, full)}, []int{4}},
		{"not another piece", []lot.Told{told(24, weighed("A", 582))}, []lot.Told{told(24, weighed("B", 582))}, []int{0}},
		{"a measurement", []lot.Told{told(24, full)}, []lot.Told{told(24, full)}, []int{4}},
		{"not one that tells more", []lot.Told{told(24, airAt(24))}, []lot.Told{told(24, full)}, []int{0}},
		{"not one of another instrument", []lot.Told{told(24, full)}, []lot.Told{told(24, by("other", full))}, []int{0}},
		{"not a note", []lot.Told{told(24, lot.Noted{Text: "x"})}, []lot.Told{told(24, lot.Noted{Text: "x"})}, []int{0}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			k := keep(t, with(begun, row.story...)...)
			before := k.record.Head().Sequence
			var got []int
			news := 0
			for _, a := range k.post(row.posted...) {
				got = append(got, a.Repeats)
				if a.Repeats == 0 {
					news++
				}
			}
			if diff := cmp.Diff(row.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			if after := k.record.Head().Sequence; after != before+news {
				t.Errorf("want %d entries, got %d", before+news, after)
			}
		})
	}
}

func TestWhenItHappened(t *testing.T) {
	t.Parallel()
	k := keep(t, planned())
	const micro = time.Microsecond
	for _, row := range []struct {
		name string
		now  time.Time
		told time.Time
		want time.Time
		late bool
	}{
		{"not told", at(100).Add(123456789), time.Time{}, at(100).Add(123456 * micro), false},
		{"just now, to the microsecond", at(100), at(99.5).Add(1999), at(99.5).Add(micro), false},
		{"an hour before", at(100), at(99), at(99), false},
		{"more than an hour before", at(100), at(99).Add(-micro), at(99).Add(-micro), true},
		{"long before the lot was opened", at(100), at(-1000), at(-1000), true},
		{"a little ahead", at(100), at(100).Add(5 * time.Minute), at(100).Add(5 * time.Minute), false},
	} {
		got, err := k.record.Admit(row.now, []lot.Told{{HappenedAt: row.told, Fact: lot.Noted{Text: "x"}}})
		if err != nil || !got[0].HappenedAt.Equal(row.want) || got[0].Late != row.late {
			t.Errorf("%s: want %v, late %v, got %+v and %v", row.name, row.want, row.late, got, err)
		}
	}
}

// A ledger that holds what would be refused today can be gone on with: only what
// is new is judged.
func TestWhatClashedBeforeIsNoMatter(t *testing.T) {
	t.Parallel()
	story := append(begun(), told(24, weighed("Z", 500)), told(25, weighed("A", 582)))
	k := &keeper{TB: t, now: at(100), record: fold(t, raw(nil, story...)...)}
	if len(k.record.Clashes()) != 1 {
		t.Fatalf("want one clash, got %v", k.record.Clashes())
	}
	k.post(corrected(3, told(5, stuffed("A", "C"))))
	_, err := k.try(corrected(3, told(5, stuffed("B"))))
	if diff := cmp.Diff(conflict("/0/entry contradicts"), refusalOf(t, err)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// What a refusal must name is named: the pieces there are, and the entries that
// stand against it.
func TestRefusalsNameWhatThereIs(t *testing.T) {
	t.Parallel()
	var many []string
	for i := range 25 {
		many = append(many, "P"+strconv.Itoa(i+1))
	}
	for _, row := range []struct {
		name   string
		story  []lot.Told
		posted lot.Told
		want   string
	}{
		{"two pieces", begun(), told(6, weighed("C", 600)), "A, B"},
		{"many pieces", with(begun()[:2], told(5, stuffed(many...))), told(6, weighed("C", 600)), "P19, P20 and 5 more"},
		{"the entries that stand against it", with(begun(), told(24, weighed("A", 582)), told(25, hung("B"))), retracted(3), "entry 5"},
		{"the first of the instant", with(begun(), told(24, weighed("A", 582))), told(24, weighed("A", 583)), "entry 4"},
	} {
		_, err := keep(t, row.story...).try(row.posted)
		if err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: want %q named, got %v", row.name, row.want, err)
		}
	}
}

func TestDoubts(t *testing.T) {
	t.Parallel()
	begun := begun()
	within := func(d float64) lot.Measured {
		m := airAt(24)
		m.TemperatureWithin = material.Is(quantity.MustCelsiusDegrees(d))
		return m
	}
	speed := func(v float64) lot.Measured {
		return lot.Measured{Place: lot.Air, AirSpeed: material.Is(quantity.MustMetresPerSecond(v))}
	}
	wateractivity := func(aw float64) lot.Measured {
		return lot.Measured{Place: lot.Core, WaterActivity: material.Is(quantity.MustWaterActivity(aw))}
	}
	core := func(t float64) lot.Measured { return lot.Measured{Place: lot.Core, Temperature: celsius(t)} }
	const day = 24
	dried := with(begun, told(5+day, weighed("A", 582)), told(5+3*day, weighed("A", 558)), told(5+6*day, weighed("A", 540))) // 4 to 6
	for _, row := range []struct {
		name  string
		story []lot.Told
		told  lot.Told
		want  []string // codes
	}{
		// Green 600 g. 5 % in a day, 9 % in three, 12 % in six are nothing odd.
		{"a weight as it should be", dried, told(5+10*day, weighed("A", 520)), nil},
		{"between two", dried, told(5+4*day, weighed("A", 551)), nil},
		{"read in kilograms", dried, told(5+10*day, weighed("A", 12.52)), []string{"wrong-unit"}},
		{"read in ounces as grams", dried, told(5+10*day, weighed("A", 600.0/28.35+12)), []string{"wrong-unit"}},
		// 612 - 12 = 600 g is a loss of 0 after 12 %: a gain of 12 points.
		{"heavier than before", dried, told(5+10*day, weighed("A", 612)), []string{"gain"}},
		// 150 g of 600 are a loss of 75 %, 140 g one of 76.7 %, more than the water of lean meat.
		{"nearly all water", dried, told(5+10*day, weighed("A", 162)), nil},
		{"more than all water", dried, told(5+10*day, weighed("A", 152)), []string{"more-than-water"}},
		// From 12 % to 75 % in a day are 63 points, and at most 62 are possible.
		{"faster than any air", dried, told(5+7*day, weighed("A", 162)), []string{"too-fast"}},
		{"no more than the tare", dried, told(5+10*day, weighed("A", 12)), []string{"no-weight"}},
		{"less than the tare", dried, told(5+10*day, weighed("A", 2)), []string{"no-weight"}},
		{"the green weight again", begun, told(5, weighed("A", 612)), nil},
		{"against one that is doubtful", with(dried, told(5+9*day, weighed("A", 612))), told(5+10*day, weighed("A", 611)), []string{"gain"}},
		// The one of 612 g was confirmed, so that 540 g a day after would be 12 points lost in a day, which air can take; and what is heavier is none.
		{"against one that was confirmed", with(dried, told(5+9*day, weighed("A", 612)), confirmed(7)), told(5+10*day, weighed("A", 611)), nil},
		{"another piece does not matter", with(dried, told(5+9*day, weighed("B", 612))), told(5+10*day, weighed("B", 552)), nil},
		{"a correction", dried, corrected(6, told(5+6*day, weighed("A", 5400))), []string{"wrong-unit"}},
		{"a correction is not held against what it corrects", with(begun, told(5+day, weighed("A", 400))), corrected(4, told(5+day, weighed("A", 582))), nil},
		{"what the corrected one was doubted for", with(dried, told(5+9*day, weighed("A", 612))), corrected(7, told(5+9*day, weighed("A", 530))), nil},

		{"cold air", begun, told(6, airAt(-10)), nil},
		{"colder", begun, told(6, airAt(-10.1)), []string{"out-of-range"}},
		{"hot air", begun, told(6, airAt(60)), nil},
		{"a humidity that was a share", begun, told(6, lot.Measured{Place: lot.Air, Humidity: humidity(0.78)}), []string{"out-of-range"}},
		{"a dry room", begun, told(6, lot.Measured{Place: lot.Air, Humidity: humidity(10)}), nil},
		{"hotter, of another scale", begun, told(6, airAt(75)), []string{"out-of-range"}},
		{"a freezing core", begun, told(6, core(-30)), nil},
		{"a colder one", begun, told(6, core(-30.1)), []string{"out-of-range"}},
		{"a boiling core", begun, told(6, core(100)), nil},
		{"a hotter one", begun, told(6, core(100.1)), []string{"out-of-range"}},
		{"a thermometer off by ten degrees", begun, told(6, within(10)), nil},
		{"by more", begun, told(6, within(10.1)), []string{"out-of-range"}},
		{"low pH", begun, told(6, acidOf(3.5)), nil},
		{"lower", begun, told(6, acidOf(3.4)), []string{"out-of-range"}},
		{"high pH", begun, told(6, acidOf(8.5)), nil},
		{"higher", begun, told(6, acidOf(8.6)), []string{"out-of-range"}},
		{"dry", begun, told(6, wateractivity(0.5)), nil},
		{"drier", begun, told(6, wateractivity(0.092)), []string{"out-of-range"}},
		{"a storm", begun, told(6, speed(10)), nil},
		{"more", begun, told(6, speed(12)), []string{"out-of-range"}},
		{"all of it", begun, told(6, lot.Measured{
			Place: lot.Air, Temperature: celsius(-40), PH: isPH(0.53), WaterActivity: material.Is(quantity.MustWaterActivity(0)),
			AirSpeed: material.Is(quantity.MustMetresPerSecond(30)),
		}), []string{"out-of-range", "out-of-range", "out-of-range", "out-of-range"}},
		{"a correction of a measurement", with(begun, told(6, airAt(24))), corrected(4, told(6, airAt(75))), []string{"out-of-range"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			k := keep(t, row.story...)
			var got []string
			for _, d := range k.post(row.told)[0].Doubts {
				got = append(got, d.Code)
				if d.Detail == "" {
					t.Errorf("%s has no detail", d.Code)
				}
			}
			if diff := cmp.Diff(row.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			entry := k.record.Head().Sequence
			if c, is := row.told.Fact.(lot.Corrected); is {
				entry = c.Entry
			}
			if doubtful := k.record.State().Doubtful; slices.Contains(doubtful, entry) != (len(row.want) > 0) {
				t.Errorf("the doubtful entries are %v", doubtful)
			}
		})
	}
}

// What a doubt says was likely meant.
func TestWhatWasMeant(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()...)
	for _, row := range []struct {
		m    lot.Measured
		want string
	}{
		{airAt(75), "the air of a chamber or room is from -10 °C to 60 °C, got 75 °C: 75 °F would be 23.9 °C"},                                                                       // (75 - 32) / 1.8
		{lot.Measured{Place: lot.Air, Temperature: material.Is(quantity.MustFahrenheit(13))}, ""},                                                                                    // -10.6 °C
		{airAt(300), "the air of a chamber or room is from -10 °C to 60 °C, got 300 °C: look at the thermometer"},                                                                    // 149 °C, 572 °C
		{acidOf(0.53), "the pH of meat is from 3.5 to 8.5, got 0.53: was it 5.3?"},                                                                                                   //
		{acidOf(14), "the pH of meat is from 3.5 to 8.5, got 14: look at the meter"},                                                                                                 //
		{lot.Measured{Place: lot.Core, WaterActivity: material.Is(quantity.MustWaterActivity(0.0092))}, "a sausage has a water activity of more than 0.5, got 0.0092: was it 0.92?"}, //
		// 36 km/h are 10 m/s, and 36 ft/min 36 * 0.3048 / 60 = 0.183 m/s.
		{lot.Measured{Place: lot.Air, AirSpeed: material.Is(quantity.MustMetresPerSecond(36))},
			"air in a room is not faster than 10 m/s, got 36 m/s: 36 km/h would be 10 m/s, and 36 ft/min 0.18 m/s"},
	} {
		got, err := k.record.Admit(k.now, []lot.Told{told(6, row.m)})
		if err != nil || len(got[0].Doubts) != 1 {
			t.Errorf("want one doubt about %+v, got %+v and %v", row.m, got, err)
			continue
		}
		if detail := got[0].Doubts[0].Detail; row.want != "" && detail != row.want {
			t.Errorf("want %q, got %q", row.want, detail)
		}
	}
}

// A right weight that comes after a wrong one is doubted at first; once there are
// two, it is the wrong one. What was doubted when it was recorded stays there.
func TestAWrongWeightDoesNotBlockTheRightOnes(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()...)
	k.post(told(29, weighed("A", 312))) // half of it in a day: no air takes more than 60 points, so that it may be
	for i, g := range []float64{582, 576, 570} {
		k.post(told(53+24*float64(i), weighed("A", g)))
	}
	if diff := cmp.Diff([]int{4}, k.record.State().Doubtful); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if doubts := k.record.Entries()[4].Doubts; len(doubts) != 1 {
		t.Errorf("want one doubt in the entry, as it was recorded, got %v", doubts)
	}
	k.post(confirmed(4))
	if diff := cmp.Diff([]int{5, 6, 7}, k.record.State().Doubtful); diff != "" {
		t.Errorf("with the first confirmed (-want +got):\n%s", diff)
	}
}

func TestAFullLedger(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()...)
	var notes []lot.Told
	for i := range lot.MostEntries - 4 {
		notes = append(notes, told(6, lot.Noted{Text: strconv.Itoa(i)}))
	}
	k.post(notes...)
	one := told(24, weighed("A", 582))
	_, err := k.try(one, told(25, weighed("A", 581)))
	if diff := cmp.Diff(conflict("/1 ledger-full"), refusalOf(t, err)); diff != "" {
		t.Errorf("two more (-want +got):\n%s", diff)
	}
	k.post(one)
	if got := k.post(one); got[0].Repeats != lot.MostEntries { // which takes no room
		t.Errorf("want a repeat of the last, got %+v", got)
	}
	_, err = k.try(told(26, lot.Noted{}))
	if diff := cmp.Diff(conflict("/0 ledger-full"), refusalOf(t, err)); diff != "" {
		t.Errorf("one more (-want +got):\n%s", diff)
	}
	_, err = k.try(told(26, weighed("Z", 1)), told(26, lot.Noted{}))
	if got := refusalOf(t, err); got.Kind != fault.Invalid {
		t.Errorf("want what has no meaning told first, got %+v", got)
	}
}

// The last places of a ledger are kept from instruments that measure too often.
func TestTheLastPlacesAreNotForMeasurements(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()...)
	var all []lot.Told
	for i := range lot.MostEntries - 500 - 3 - 1 {
		all = append(all, told(6, lot.Noted{Text: strconv.Itoa(i)}))
	}
	k.post(all...)
	k.post(told(24, airAt(24)))
	last := k.record.Head().Sequence
	_, err := k.try(told(25, airAt(24)), told(25, weighed("A", 582)), told(26, airAt(24)))
	if diff := cmp.Diff(conflict("/0 ledger-full", "/2 ledger-full"), refusalOf(t, err)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if !strings.Contains(err.Error(), "longer intervals") {
		t.Errorf("want it told what to do, got %v", err)
	}
	k.post(told(25, weighed("A", 582)), corrected(last, told(24, airAt(23))))
	if got := k.post(told(24, airAt(24))); got[0].Repeats != last {
		t.Errorf("want a repeat of %d, which takes no place, got %+v", last, got)
	}
}

func TestTimesAreToldInWords(t *testing.T) {
	t.Parallel()
	story := with(begun()[:2], told(1000, stuffed("C")))
	for _, row := range []struct {
		before time.Duration // the stuffing
		want   string
	}{
		{time.Nanosecond * 1500, "only 1 second later"},
		{59 * time.Second, "only 59 seconds later"},
		{time.Minute, "only 1 minute later"},
		{2*time.Hour + 30*time.Second, "only 2 hours later"},
		{3*time.Hour + 5*time.Minute, "only 3 hours and 5 minutes later"},
		{556*time.Hour + 55*time.Minute + 22138894*time.Microsecond, "only 23 days and 4 hours later"}, // 23 days are 552 hours
		{24 * time.Hour, "only 1 day later"},
		{24*time.Hour + 59*time.Minute, "only 1 day later"},
	} {
		_, err := keep(t, story...).try(lot.Told{HappenedAt: at(1000).Add(-row.before), Fact: weighed("C", 600)})
		if err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%v: want %q, got %v", row.before, row.want, err)
		}
	}
}
