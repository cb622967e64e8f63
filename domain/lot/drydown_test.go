package lot_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
)

// changed opens the lot with another formula.
func changed(change func(*formula.Formula)) lot.Told {
	open := planned()
	p := open.Fact.(lot.Planned)
	p.Formula.Additions = slices.Clone(p.Formula.Additions)
	change(&p.Formula)
	open.Fact = p
	return open
}

func codesOf(notes []finding.Note) []string {
	var codes []string
	for _, n := range notes {
		codes = append(codes, n.Code)
	}
	return codes
}

// dryDown asks about piece A.
func dryDown(tb testing.TB, k *keeper, asOf time.Time) lot.DryDown {
	tb.Helper()
	q, err := k.record.State().DryDown("A", asOf)
	if err != nil {
		tb.Fatalf("ask about the drying: %v", err)
	}
	return q
}

func TestDryDownAsksFromTheRecord(t *testing.T) {
	t.Parallel()
	k := keep(t, begun()...)
	k.post(told(53, hung()))                                            // 4
	k.post(told(77, weighed("A", 576)), told(125, weighed("A", 558)))   // 5, 6
	k.post(told(149, weighed("A", 5520)), told(173, weighed("A", 570))) // 7 and 8 are doubtful
	k.post(confirmed(8))                                                // 9: 8 is right, and so 6 is not
	k.post(told(74, weighed("A", 582)), told(200, weighed("B", 500)))   // 10 late; B is another piece
	k.post(retracted(11))
	q := dryDown(t, k, at(300))
	want := drying.Order{
		Green: grams(600), Stuffed: at(5), Hung: at(53), AsOf: at(300), Target: quantity.MustLossPercent(35), Diameter: mm(45),
		WeighIns: []drying.WeighIn{
			{At: at(74), Weight: grams(570)}, {At: at(77), Weight: grams(564)}, {At: at(173), Weight: grams(558), Confirmed: true},
		},
		Temperature: celsius(13), Humidity: humidity(78), Composition: q.Order.Composition,
	}
	if diff := cmp.Diff(want, q.Order, whole); diff != "" {
		t.Errorf("order (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]int{10, 5, 8}, q.Entries); diff != "" {
		t.Errorf("entries (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string{"doubtful-left-out", "air-as-planned", "air-as-planned"}, codesOf(q.Notes)); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
	// What is asked can be answered, and the confirmed one counts whatever it shows.
	p, err := drying.Project(q.Order)
	if err != nil {
		t.Fatalf("project: %v", err)
	}
	if p.Latest != 2 || p.Weighed[2].Doubt != "" {
		t.Errorf("want the confirmed weigh-in to be the latest, got %+v", p.Weighed)
	}
}

func TestDryDownPresent(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name  string
		story []lot.Told
		asOf  time.Time
		want  time.Time
	}{
		{"not told", begun(), time.Time{}, time.Time{}},
		{"after all", begun(), at(300), at(300)},
		{"before stuffing", begun(), at(1), at(5)},
		{"before hanging", with(begun(), told(53, hung())), at(6), at(53)},
		{"before the last weigh-in", with(begun(), told(53, hung()), told(77, weighed("A", 576))), at(60), at(77)},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			q := dryDown(t, keep(t, row.story...), row.asOf)
			if !q.Order.AsOf.Equal(row.want) {
				t.Errorf("want %v, got %v", row.want, q.Order.AsOf)
			}
			if _, err := drying.Project(q.Order); err != nil {
				t.Errorf("project: %v", err)
			}
		})
	}
}

func TestDryDownSaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	aimless := changed(func(f *formula.Formula) { f.Plan.Loss = nil })
	for _, row := range []struct {
		name  string
		story []lot.Told
		piece string
		want  refusal
	}{
		{"no such piece", begun(), "C", refusal{fault.NotFound, []string{"unknown-piece"}}},
		{"none stuffed", begun()[:2], "A", refusal{fault.NotFound, []string{"unknown-piece"}}},
		{"no loss to reach", with([]lot.Told{aimless}, begun()[1:]...), "A", refusal{fault.NoSolution, []string{"no-target"}}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			_, err := keep(t, row.story...).record.State().DryDown(row.piece, time.Time{})
			if diff := cmp.Diff(row.want, refusalOf(t, err)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestDryDownOfAPieceThatDoesNotHang(t *testing.T) {
	t.Parallel()
	q := dryDown(t, keep(t, with(begun(), told(6, airAt(24)))...), time.Time{})
	// The chamber is no drying room.
	if !q.Order.Hung.IsZero() || !slices.Contains(codesOf(q.Notes), "not-hung") || q.Order.Temperature != celsius(13) {
		t.Errorf("got %+v", q)
	}
}

func TestDryDownAir(t *testing.T) {
	t.Parallel()
	room := func(t, rh float64) lot.Measured {
		return lot.Measured{Place: lot.Air, Temperature: celsius(t), Humidity: humidity(rh)}
	}
	of := func(piece string, m lot.Measured) lot.Measured {
		m.Piece = piece
		return m
	}
	unplanned := with([]lot.Told{changed(func(f *formula.Formula) { f.Plan.Drying = nil })}, begun()[1:]...)
	stepped := with([]lot.Told{changed(func(f *formula.Formula) {
		f.Plan.Drying = []formula.Step{
			{Temperature: celsius(16), Humidity: humidity(85), Span: 72 * time.Hour},
			{Temperature: celsius(12), AirSpeed: material.Is(quantity.MustMetresPerSecond(0.2))},
		}
	})}, begun()[1:]...)
	hang := told(53, hung())
	const unknown = -1.0
	for _, row := range []struct {
		name                        string
		story                       []lot.Told
		temperature, humidity, wind float64
		notes                       []string
	}{
		{"as planned", with(begun(), hang), 13, 78, unknown, []string{"air-as-planned", "air-as-planned"}},
		{"nothing planned", with(unplanned, hang), unknown, unknown, unknown, nil},
		{"the last of several steps", with(stepped, hang), 12, unknown, 0.2, []string{"air-as-planned", "air-as-planned", "last-step"}},
		{"one reading", with(begun(), hang, told(60, room(12, 80))), 12, 80, unknown, []string{"air-measured", "air-measured"}},
		{"a temperature alone", with(begun(), hang, told(60, airAt(12))), 12, 78, unknown, []string{"air-measured", "air-as-planned"}},
		// (12 + 14)/2 over 2 h and 14 over 48 h: (26 + 672)/50 = 13.96. (80 + 70)/2 and (70
		// + 75)/2 are 75 and 72.5: (150 + 3480)/50 = 72.6.
		{"the mean over time", with(begun(), hang, told(60, room(12, 80)), told(62, room(14, 70)), told(110, room(14, 75))), 13.96, 72.6, unknown,
			[]string{"air-measured", "air-measured"}},
		// Two at 60 h count as 13: (13 + 15)/2 = 14.
		{"two at one instant", with(begun(), hang, told(60, by("left", airAt(12))), told(60, by("right", airAt(14))), told(70, airAt(15))), 14, 78, unknown,
			[]string{"air-measured", "air-as-planned"}},
		{"all at one instant", with(begun(), hang, told(60, by("left", airAt(12))), told(60, by("right", airAt(14)))), 13, 78, unknown,
			[]string{"air-measured", "air-as-planned"}},
		{"before hanging", with(begun(), hang, told(52, room(24, 92))), 13, 78, unknown, []string{"air-as-planned", "air-as-planned"}},
		{"a core", with(begun(), hang, told(60, lot.Measured{Place: lot.Core, Piece: "A", Temperature: celsius(5)})), 13, 78, unknown,
			[]string{"air-as-planned", "air-as-planned"}},
		{"of this piece", with(begun(), hang, told(60, of("A", room(12, 80)))), 12, 80, unknown, []string{"air-measured", "air-measured"}},
		{"of another piece", with(begun(), hang, told(60, of("B", room(12, 80)))), 13, 78, unknown, []string{"air-as-planned", "air-as-planned"}},
		{"doubtful", with(begun(), hang, told(60, room(75, 80))), 13, 78, unknown, []string{"air-as-planned", "air-as-planned"}},
		{"in several rooms", with(begun(), told(53, lot.Hung{Pieces: []string{"A"}, Room: "cellar"}), told(53, lot.Hung{Room: "attic"}), told(60, airAt(12))), 12, 78, unknown,
			[]string{"air-measured", "air-as-planned", "several-rooms"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			q := dryDown(t, keep(t, row.story...), time.Time{})
			check := func(what string, want, got float64, known bool) {
				t.Helper()
				if known != (want != unknown) {
					t.Errorf("%s: want it known %v", what, want != unknown)
				}
				if known {
					quantitytest.Near(t, what, want, got, 1e-9) // float rounding
				}
			}
			temperature, known := q.Order.Temperature.Get()
			check("temperature", row.temperature, temperature.Celsius(), known)
			damp, known := q.Order.Humidity.Get()
			check("humidity", row.humidity, damp.Percent(), known)
			wind, known := q.Order.AirSpeed.Get()
			check("air speed", row.wind, wind.MetresPerSecond(), known)
			if diff := cmp.Diff(row.notes, codesOf(q.Notes)); diff != "" {
				t.Errorf("notes (-want +got):\n%s", diff)
			}
		})
	}
}

// By hand, of 800 g of shoulder (64.02 % water, 17.18 % protein, 17.99 % fat),
// 200 g of back fat (7.69, 2.92, 88.69) and 26 g of salt (0.2 % water), which are
// 1026 g: 512.16 + 15.38 + 0.05 = 527.59 g of water, 137.44 + 5.84 = 143.28 of
// protein, 143.92 + 177.38 = 321.30 of fat. Sources: those of package material.
func TestDryDownComposition(t *testing.T) {
	t.Parallel()
	const unknown = -1.0
	type composition [5]float64 // water, protein, fat, salt, sugar in percent
	perKilogram := func(g float64) formula.Rate { return formula.ShareOfMeat(quantity.MustRatio(g / 1000)) }
	ofMaterial := func(key string, role formula.Role, g float64) formula.Addition {
		m, there := material.ByKey(key)
		if !there {
			t.Fatalf("there is no material %q", key)
		}
		return formula.Addition{Name: key, Role: role, Material: &m, Rate: perKilogram(g)}
	}
	cure, err := rulebook.NewCure("bag", rulebook.Assay{SodiumNitrite: quantity.MustPercent(6.25), SodiumChloride: quantity.MustPercent(93.75)})
	if err != nil {
		t.Fatal(err)
	}
	water := perKilogram(10)
	for _, row := range []struct {
		name  string
		added []formula.Addition
		want  composition
		notes []string
	}{
		{"meat and salt", nil, composition{52759.2 / 1026, 14328.0 / 1026, 32130.0 / 1026, 2600.0 / 1026, 0}, nil},
		// 4 g of the cure are 3.75 g of salt, in 1030 g.
		{"with a cure", []formula.Addition{{Name: "cure", Role: formula.Cure, Cure: &cure, Rate: perKilogram(4)}},
			composition{52759.2 / 1030, 14328.0 / 1030, 32130.0 / 1030, 2975.0 / 1030, 0}, nil},
		// 11 g of the hydrate are 10 g of glucose (180.16 of 198.17) and 1 g of water, in 1037.
		{"with sugar", []formula.Addition{ofMaterial("dextrose-monohydrate", formula.Sugar, 11)},
			composition{52859.2 / 1037, 14328.0 / 1037, 32130.0 / 1037, 2600.0 / 1037, 1000.0 / 1037}, nil},
		// 50 g of red wine: 86.49 % water, 0.07 protein, 0.62 sugar, in 1076.
		{"with wine", []formula.Addition{ofMaterial("wine-table-red", formula.Liquid, 50)},
			composition{57083.7 / 1076, 14331.5 / 1076, 32130.0 / 1076, 2600.0 / 1076, 31.0 / 1076}, nil},
		// A culture by its name is 0.25 g in 1036.25, and counts as nothing; its 10 g of water as what they are.
		{"with a culture and its water", []formula.Addition{{Name: "culture", Role: formula.Culture, Rate: perKilogram(0.25), RehydrationWater: &water}},
			composition{53759.2 / 1036.25, 14328.0 / 1036.25, 32130.0 / 1036.25, 2600.0 / 1036.25, 0}, nil},
		// 5 g are under 1 %, and over 0.2 %: they may be sugar.
		{"with a little of a secret", []formula.Addition{{Name: "secret", Role: formula.Other, Rate: perKilogram(5)}},
			composition{52759.2 / 1031, 14328.0 / 1031, 32130.0 / 1031, unknown, unknown}, []string{"composition-unknown"}},
		{"with more of it", []formula.Addition{{Name: "secret", Role: formula.Liquid, Rate: perKilogram(50)}},
			composition{unknown, unknown, unknown, unknown, unknown}, []string{"composition-unknown"}},
		{"with spice by its name", []formula.Addition{{Name: "pepper", Role: formula.Spice, Rate: perKilogram(5)}},
			composition{52759.2 / 1031, 14328.0 / 1031, 32130.0 / 1031, 2600.0 / 1031, 0}, nil},
		{"with much that brings no salt or sugar", []formula.Addition{{Name: "juice", Role: formula.Liquid, BringsNone: true, Rate: perKilogram(50)}},
			composition{unknown, unknown, unknown, 2600.0 / 1076, 0}, []string{"composition-unknown"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			open := changed(func(f *formula.Formula) { f.Additions = append(f.Additions, row.added...) })
			q := dryDown(t, keep(t, with([]lot.Told{open}, begun()[1:]...)...), time.Time{})
			c := q.Order.Composition
			for i, got := range []material.Known[quantity.Fraction]{c.Water, c.Protein, c.Fat, c.Salt, c.Sugar} {
				part, known := got.Get()
				if known != (row.want[i] != unknown) {
					t.Errorf("part %d: want it known %v, got %v", i, row.want[i] != unknown, part)
				}
				if known {
					quantitytest.Near(t, fmt.Sprint("part ", i), row.want[i], part.Percent(), 0.002) // rounding of the hand calculation
				}
			}
			var notes []string
			for _, n := range q.Notes {
				if n.Code == "composition-unknown" {
					notes = append(notes, n.Code)
				}
			}
			if diff := cmp.Diff(row.notes, notes); diff != "" {
				t.Errorf("notes (-want +got):\n%s", diff)
			}
			if _, err := drying.Project(q.Order); err != nil {
				t.Errorf("project: %v", err)
			}
		})
	}
}

// A formula that was never checked is asked of all the same.
func TestDryDownOfAFormulaThatCannotBeScaled(t *testing.T) {
	t.Parallel()
	open := changed(func(f *formula.Formula) { f.Parts = f.Parts[:1] }) // 80 %
	q := dryDown(t, keep(t, with([]lot.Told{open}, begun()[1:]...)...), time.Time{})
	if q.Order.Composition != (drying.Composition{}) || !slices.Contains(codesOf(q.Notes), "composition-unknown") {
		t.Errorf("got %+v", q)
	}
}

// A piece that is admitted can be projected, and one that is not could not be: the
// bounds are those of package drying.
func TestPiecesAreAdmittedAsDryingTakesThem(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		thick float64
		taken bool
	}{{4.99, false}, {5, true}, {250, true}, {250.01, false}} {
		s := stuffed("P")
		s.Pieces[0].Diameter = mm(row.thick)
		_, admitted := keep(t, begun()...).try(told(6, s))
		_, projected := drying.Project(drying.Order{Green: grams(600), Stuffed: opened, Target: quantity.MustLossPercent(35), Diameter: mm(row.thick)})
		if (admitted == nil) != row.taken || (projected == nil) != row.taken {
			t.Errorf("%v mm: want it taken %v, got %v and %v", row.thick, row.taken, admitted, projected)
		}
	}
	for _, row := range []struct {
		metresPerSecond float64
		taken           bool
	}{{10, true}, {10.01, false}} {
		wind := material.Is(quantity.MustMetresPerSecond(row.metresPerSecond))
		doubts := keep(t, begun()...).post(told(6, lot.Measured{Place: lot.Air, AirSpeed: wind}))[0].Doubts
		_, projected := drying.Project(drying.Order{Green: grams(600), Stuffed: opened, Target: quantity.MustLossPercent(35), AirSpeed: wind})
		if (len(doubts) == 0) != row.taken || (projected == nil) != row.taken {
			t.Errorf("%v m/s: want it taken %v, got %v and %v", row.metresPerSecond, row.taken, doubts, projected)
		}
	}
}

// A scale that hangs on a piece weighs it more often than is projected from.
func TestDryDownSpreadsWeighIns(t *testing.T) {
	t.Parallel()
	const all, each = 1000, 0.5 // every half hour
	story := with(begun(), told(5.5, hung()))
	for i := range all {
		story = append(story, told(6+each*float64(i), weighed("A", 600-0.1*float64(i))))
	}
	doubt := lot.Doubt{Code: "gain", Detail: "heavier"}
	reads := raw(map[int]lot.Doubt{300: doubt, 301: doubt, 302: doubt},
		append(story, told(1000, lot.Confirmed{Entry: 300}), told(1000, lot.Confirmed{Entry: 301}), told(1000, lot.Confirmed{Entry: 302}))...)
	k := &keeper{TB: t, record: fold(t, reads...)}
	q := dryDown(t, k, time.Time{})
	if n := len(q.Entries); n < 200 || n > 260 || n != len(q.Order.WeighIns) {
		t.Errorf("want some 250 weigh-ins, got %d of %d", n, len(q.Order.WeighIns))
	}
	if first, last := q.Entries[0], q.Entries[len(q.Entries)-1]; first != 5 || last != all+4 ||
		!slices.Contains(q.Entries, 300) || !slices.Contains(q.Entries, 301) || !slices.Contains(q.Entries, 302) {
		t.Errorf("want the first, the last and the confirmed ones among %v", q.Entries)
	}
	widest := time.Duration(0)
	for i, w := range q.Order.WeighIns[1:] {
		widest = max(widest, w.At.Sub(q.Order.WeighIns[i].At))
	}
	if widest > 3*time.Hour { // 500 h in 249 steps are 2 h each
		t.Errorf("want them spread evenly, got %v between two", widest)
	}
	if !slices.Contains(codesOf(q.Notes), "weigh-ins-spread") {
		t.Errorf("want a note of it, got %v", codesOf(q.Notes))
	}
}

// The readings of the air since hanging are told one by one, what one leaves out as
// before; of many, those of even parts of the time together, their mean kept.
func TestDryDownReadings(t *testing.T) {
	t.Parallel()
	both := func(t, rh float64) lot.Measured {
		return lot.Measured{Place: lot.Air, Temperature: celsius(t), Humidity: humidity(rh)}
	}
	hang := told(53, hung())
	q := dryDown(t, keep(t, with(begun(), hang, told(60, both(12, 80)), told(84, lot.Measured{Place: lot.Air, Humidity: humidity(76)}))...), time.Time{})
	want := []drying.Air{
		{From: at(60), Temperature: celsius(12), Humidity: humidity(80)}, {From: at(84), Temperature: celsius(12), Humidity: humidity(76)},
	}
	if diff := cmp.Diff(want, q.Order.Readings, cmp.Comparer(func(a, b drying.Air) bool { return a.From.Equal(b.From) && a.Temperature == b.Temperature && a.Humidity == b.Humidity })); diff != "" {
		t.Errorf("readings (-want +got):\n%s", diff)
	}
	if q := dryDown(t, keep(t, with(begun(), hang, told(60, both(12, 80)))...), time.Time{}); len(q.Order.Readings) != 0 {
		t.Errorf("want one reading told as the air, got %v", q.Order.Readings)
	}
	story := with(begun(), hang)
	const hours = 600
	for i := range hours {
		story = append(story, told(60+float64(i), both(12, 70+float64(i%11))))
	}
	q = dryDown(t, keep(t, story...), time.Time{})
	sum := 0.0
	for _, a := range q.Order.Readings {
		h, _ := a.Humidity.Get()
		sum += h.Percent() / float64(len(q.Order.Readings))
	}
	if n := len(q.Order.Readings); n > 201 || n < 100 {
		t.Errorf("want about 200 airs of %d readings, got %d", hours, n)
	}
	quantitytest.Near(t, "their mean", 75, sum, 0.2)
	if _, err := drying.Project(q.Order); err != nil {
		t.Errorf("want it projected, got %v", err)
	}
}
