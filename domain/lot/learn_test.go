package lot_test

import (
	"math"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/drying"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/domain/quantity/quantitytest"
)

// hungIn is a lot whose pieces hang in a room and casing from 50 h on, and that weighed
// so much every fourth day.
func hungIn(t *testing.T, name, room, casing string, pieces []string, grams ...float64) lot.Record {
	t.Helper()
	open := planned()
	p := open.Fact.(lot.Planned)
	p.Name = name
	open.Fact = p
	s := stuffed(pieces...)
	for i := range s.Pieces {
		s.Pieces[i].Casing = casing
	}
	k := keep(t, open, told(2, lot.Mixed{}), told(5, s), told(50, lot.Hung{Room: room}))
	for i, g := range grams {
		for _, piece := range pieces {
			k.post(told(50+96*float64(i+1), weighed(piece, g+12)))
		}
	}
	return k.record
}

// dried are weights of 600 g that came to a loss of 36.4 percent in 16 days: past the
// 35 of the plan.
var dried = []float64{506, 445, 407, 382}

// laterLot is a lot that was hung eight days after those of hungIn; at asOf they have
// all been weighed.
func laterLot(t *testing.T, pieces ...lot.Piece) lot.State {
	t.Helper()
	s := lot.Stuffed{}
	k := keep(t, planned(), told(2, lot.Mixed{}))
	for _, p := range pieces {
		p.Weight, p.Diameter = grams(600), mm(45)
		s.Pieces = append(s.Pieces, p)
	}
	k.post(told(5, s), told(242, lot.Hung{Room: "Pantry"}))
	return k.record.State()
}

var asOf = at(50 + 20*24)

// from are the lots and pieces that a lesson is from, by id.
func from(l lot.Lesson) map[string][]string {
	all := map[string][]string{}
	for _, t := range l.From {
		all[string(t.ID)] = t.Pieces
	}
	return all
}

// What teaches: the same room and casing, else the same room, and only what got far.
func TestLearnFrom(t *testing.T) {
	t.Parallel()
	a := []string{"A"}
	late := keep(t, planned(), told(2, lot.Mixed{}), told(5, stuffed("A")), told(242, lot.Hung{Room: "Pantry"}),
		told(300, weighed("A", 500)), told(400, weighed("A", 390)))
	doubtful := keep(t, planned(), told(2, lot.Mixed{}), told(5, stuffed("A")), told(50, lot.Hung{Room: "Pantry"}),
		told(146, weighed("A", 590)), told(154, weighed("A", 200)))
	lots := map[string]lot.Record{
		"same":          hungIn(t, "same", "pantry", " Middle ", []string{"A", "B"}, dried...),
		"other casing":  hungIn(t, "other casing", "Pantry", "collagen", a, dried...),
		"no casing":     hungIn(t, "no casing", "Pantry", "", a, dried...),
		"other room":    hungIn(t, "other room", "Cellar", "middle", a, dried...),
		"no room":       hungIn(t, "no room", "", "middle", a, dried...),
		"a quarter":     hungIn(t, "a quarter", "Pantry", "middle", a, 540, 480, 449),     // 25.2 %
		"not a quarter": hungIn(t, "not a quarter", "Pantry", "middle", a, 540, 480, 451), // 24.8 %
		"weighed twice": hungIn(t, "weighed twice", "Pantry", "middle", a, 500, 440),      // 26.7 %
		"reached":       hungIn(t, "reached", "Pantry", "middle", a, 480, 389),            // 35.2 %
		"never weighed": hungIn(t, "never weighed", "Pantry", "middle", a),
		"doubtful":      doubtful.record,
		"hung as late":  late.record,
	}
	for _, row := range []struct {
		name   string
		casing string
		lots   []string
		want   map[string][]string
		same   bool
	}{
		{"the same casing goes before any", "middle", []string{"same", "other casing", "no casing"}, map[string][]string{"same": {"A", "B"}}, true},
		{"else any in the room", "hog", []string{"same", "other casing", "no casing"},
			map[string][]string{"same": {"A", "B"}, "other casing": {"A"}, "no casing": {"A"}}, false},
		{"a casing that was not told", "", []string{"same", "no casing"}, map[string][]string{"same": {"A", "B"}, "no casing": {"A"}}, false},
		{"no other room", "middle", []string{"other room", "no room"}, map[string][]string{}, false},
		{"a quarter and three weigh-ins", "middle", []string{"a quarter", "not a quarter", "weighed twice"}, map[string][]string{"a quarter": {"A"}}, true},
		{"or the loss of the plan", "middle", []string{"reached", "never weighed"}, map[string][]string{"reached": {"A"}}, true},
		{"nothing doubtful", "middle", []string{"doubtful"}, map[string][]string{}, false},
		{"nothing hung at the same time", "middle", []string{"hung as late"}, map[string][]string{}, false},
	} {
		var earlier []lot.Earlier
		for _, name := range row.lots {
			earlier = append(earlier, lot.Earlier{ID: lot.ID(name), Record: lots[name]})
		}
		s := laterLot(t, lot.Piece{Name: "A", Casing: row.casing})
		lessons := s.Learn([]string{"A"}, asOf, earlier)
		if len(lessons.All) != 1 {
			t.Fatalf("%s: want one lesson, got %+v", row.name, lessons)
		}
		l := lessons.All[0]
		if diff := cmp.Diff(row.want, from(l)); diff != "" || l.SameCasing != row.same || l.Learned.Lots() != len(row.want) {
			t.Errorf("%s: same casing %v, %d lots (-want +got):\n%s", row.name, l.SameCasing, l.Learned.Lots(), diff)
		}
	}
	// What was weighed later than the present that is asked for was not known then.
	s := laterLot(t, lot.Piece{Name: "A", Casing: "middle"})
	l := s.Learn([]string{"A"}, at(50+12*24+1), []lot.Earlier{{ID: "x", Record: lots["reached"]}, {ID: "y", Record: hungIn(t, "y", "Pantry", "middle", a, 540, 520, 500, 382)}})
	if diff := cmp.Diff(map[string][]string{"x": {"A"}}, from(l.All[0])); diff != "" {
		t.Errorf("by an earlier present (-want +got):\n%s", diff)
	}
}

// At most ten lots and twenty pieces, those of each lot in turn, and six rooms and
// casings; what is in excess is said.
func TestLearnIsBounded(t *testing.T) {
	t.Parallel()
	var earlier []lot.Earlier
	many := []string{"A", "B", "C", "D"}
	for i := range 12 {
		earlier = append(earlier, lot.Earlier{ID: lot.ID(strconv.Itoa(i)), Record: hungIn(t, strconv.Itoa(i), "Pantry", "middle", many, dried...)})
	}
	s := laterLot(t, lot.Piece{Name: "A", Casing: "middle"}, lot.Piece{Name: "B", Casing: "MIDDLE"}, lot.Piece{Name: "C", Casing: "hog"},
		lot.Piece{Name: "D", Casing: "collagen"}, lot.Piece{Name: "E", Casing: "bung"}, lot.Piece{Name: "F", Casing: "runner"},
		lot.Piece{Name: "G", Casing: "fibrous"}, lot.Piece{Name: "H", Casing: "bladder"})
	all := s.Learn([]string{"A", "B"}, asOf, earlier)
	if len(all.All) != 1 || len(all.All[0].From) != 10 {
		t.Fatalf("want one lesson of ten lots, got %+v", all.All)
	}
	for i, l := range all.All[0].From {
		if string(l.ID) != strconv.Itoa(i) || !slices.Equal(l.Pieces, []string{"A", "B"}) {
			t.Errorf("want two pieces of lot %d, got %v", i, l)
		}
	}
	all = s.Learn([]string{"A", "B", "C", "D", "E", "F", "G", "H"}, asOf, earlier[:1])
	if len(all.All) != 6 {
		t.Errorf("want six lessons, got %d", len(all.All))
	}
	for _, row := range []struct{ piece, code string }{
		{"A", "learned-from-lots"}, {"B", "learned-from-lots"}, {"C", "learned-from-lots"}, {"G", "learned-from-lots"}, {"H", "not-learned"},
	} {
		q, err := s.DryDown(row.piece, asOf)
		if err != nil {
			t.Fatal(err)
		}
		p, _ := s.Piece(row.piece)
		q.Teach(p, all)
		if !slices.Contains(codesOf(q.Notes), row.code) {
			t.Errorf("piece %s: want %s, got %v", row.piece, row.code, codesOf(q.Notes))
		}
	}
}

// What a lot teaches is what package drying learns of the same pieces, written by hand;
// and a lot whose plan tells no loss teaches too.
func TestLearnAsByHand(t *testing.T) {
	t.Parallel()
	var in []drying.WeighIn
	for i, g := range dried {
		in = append(in, drying.WeighIn{At: at(50 + 96*float64(i+1)), Weight: grams(g)})
	}
	s := laterLot(t, lot.Piece{Name: "A", Casing: "middle"})
	q, err := s.DryDown("A", asOf)
	if err != nil {
		t.Fatal(err)
	}
	day := func(l drying.Learned) float64 {
		o := q.Order
		o.Learned = l
		p, err := drying.Project(o)
		if err != nil {
			t.Fatal(err)
		}
		return p.Day.Median.Hours() / 24
	}
	byHand, err := drying.Learn([]drying.Earlier{{Lot: "x", Order: drying.Order{
		Green: grams(600), Stuffed: at(5), Hung: at(50), WeighIns: in, Diameter: mm(45),
		Temperature: celsius(13), Humidity: humidity(78), Composition: q.Order.Composition,
	}}})
	if err != nil {
		t.Fatal(err)
	}
	learned := s.Learn([]string{"A"}, asOf, []lot.Earlier{{ID: "x", Record: hungIn(t, "x", "Pantry", "middle", []string{"A"}, dried...)}}).All[0].Learned
	quantitytest.Near(t, "day", day(byHand), day(learned), 1e-9)
	if alone := day(drying.Learned{}); math.Abs(alone-day(learned)) < 0.5 {
		t.Errorf("what was learned does not move day %v", alone)
	}

	open := changed(func(f *formula.Formula) { f.Plan.Loss = nil })
	k := keep(t, open, told(2, lot.Mixed{}), told(5, stuffed("A")), told(50, lot.Hung{Room: "Pantry"}))
	for i, g := range dried {
		k.post(told(50+96*float64(i+1), weighed("A", g+12)))
	}
	if l := s.Learn([]string{"A"}, asOf, []lot.Earlier{{ID: "x", Record: k.record}}).All[0]; l.Learned.Lots() != 1 {
		t.Errorf("a lot whose plan tells no loss taught %+v", l)
	}
}

// A piece without a room, or that does not hang, learns nothing.
func TestLearnWithoutARoom(t *testing.T) {
	t.Parallel()
	earlier := []lot.Earlier{{ID: "x", Record: hungIn(t, "x", "Pantry", "middle", []string{"A"}, dried...)}}
	for _, row := range []struct {
		name  string
		after []lot.Told
		want  bool // said
	}{{"no room", []lot.Told{told(242, lot.Hung{})}, true}, {"not hung", nil, false}} {
		s := keep(t, append(begun(), row.after...)...).record.State()
		l := s.Learn([]string{"A"}, time.Time{}, earlier)
		q, err := s.DryDown("A", asOf)
		if err != nil {
			t.Fatal(err)
		}
		p, _ := s.Piece("A")
		q.Teach(p, l)
		if len(l.All) != 0 || slices.Contains(codesOf(q.Notes), "no-room-told") != row.want {
			t.Errorf("%s: got %+v, %v", row.name, l.All, codesOf(q.Notes))
		}
	}
}
