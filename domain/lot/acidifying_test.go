package lot_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/acidification"
	"greenweight/domain/fermentation"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
)

// ahead is a step to come: °C and hours.
type ahead struct{ Celsius, Hours float64 }

func stepsOf(steps []fermentation.Step) []ahead {
	var all []ahead
	for _, s := range steps {
		all = append(all, ahead{s.Temperature.Celsius(), s.Span.Hours()})
	}
	return all
}

func species(t *testing.T, keys ...string) []rulebook.CultureSpecies {
	t.Helper()
	var all []rulebook.CultureSpecies
	for _, key := range keys {
		s, ok := rulebook.CultureByKey(key)
		if !ok {
			t.Fatalf("no species %q", key)
		}
		all = append(all, s)
	}
	return all
}

// opening returns the opening of a lot by a plan of 20 h at 26 °C, 30 h at 20 °C
// and then 15 °C, and with cultures of these species; a nil one is of none
// stated.
func opening(t *testing.T, cultures ...[]rulebook.CultureSpecies) lot.Told {
	t.Helper()
	return changed(func(f *formula.Formula) {
		f.Plan.Fermentation = []formula.Step{
			{Temperature: celsius(26), Span: 20 * time.Hour}, {Temperature: celsius(20), Span: 30 * time.Hour}, {Temperature: celsius(15)},
		}
		for _, c := range cultures {
			f.Additions = append(f.Additions, formula.Addition{Name: "culture", Role: formula.Culture, Species: c})
		}
	})
}

// What a lot asks about its acid: what is left of the plan, the rest of the
// present step as warm as it is, and what was added.
func TestAcidificationAsksFromTheRecord(t *testing.T) {
	t.Parallel()
	sakei, xylosus := species(t, "latilactobacillus-sakei"), species(t, "staphylococcus-xylosus")
	for _, row := range []struct {
		name        string
		cultures    [][]rulebook.CultureSpecies
		story       []lot.Told // stuffed at 5 h
		ahead       []ahead
		species     int
		spontaneous bool
	}{
		{"in the first step", [][]rulebook.CultureSpecies{sakei}, []lot.Told{told(5, airAt(24)), told(17, airAt(25))},
			[]ahead{{25, 8}, {20, 30}, {15, 24}}, 1, false},
		{"the first temperature came late", [][]rulebook.CultureSpecies{sakei}, []lot.Told{told(7, airAt(24)), told(17, airAt(25))},
			[]ahead{{25, 8}, {20, 30}, {15, 24}}, 1, false},
		{"in the second step", [][]rulebook.CultureSpecies{sakei}, []lot.Told{told(5, airAt(24)), told(35, airAt(21))},
			[]ahead{{21, 20}, {15, 24}}, 1, false},
		{"in the last step", [][]rulebook.CultureSpecies{sakei}, []lot.Told{told(5, airAt(24)), told(56, airAt(16))}, nil, 1, false},
		{"before any temperature", [][]rulebook.CultureSpecies{sakei}, []lot.Told{told(9, acidOf(5.7))}, []ahead{{26, 20}, {20, 30}, {15, 24}}, 1, false},
		{"no culture", nil, []lot.Told{told(5, airAt(24)), told(56, airAt(16))}, nil, 0, true},
		{"a culture that makes no acid", [][]rulebook.CultureSpecies{xylosus}, []lot.Told{told(5, airAt(24)), told(56, airAt(16))}, nil, 1, true},
		{"one that makes acid beside it", [][]rulebook.CultureSpecies{xylosus, sakei}, []lot.Told{told(5, airAt(24)), told(56, airAt(16))}, nil, 2, false},
		{"one of which nothing is stated", [][]rulebook.CultureSpecies{sakei, nil}, []lot.Told{told(5, airAt(24)), told(56, airAt(16))}, nil, 0, false},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			s := keep(t, with([]lot.Told{opening(t, row.cultures...)}, append(begun()[1:], row.story...)...)...).record.State()
			q, err := s.Acidification()
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(row.ahead, stepsOf(q.Order.Ahead)); d != "" {
				t.Errorf("what is to come (-want +got):\n%s", d)
			}
			if len(q.Order.Cultures) != row.species || q.Order.Spontaneous != row.spontaneous {
				t.Errorf("want %d species and spontaneous %v, got %d and %v", row.species, row.spontaneous, len(q.Order.Cultures), q.Order.Spontaneous)
			}
			if d := q.Order.Diameter.Or(quantity.Length{}).Millimetres(); d != 45 {
				t.Errorf("want the thickest piece, 45 mm, got %v", d)
			}
			p, err := acidification.Project(q.Order)
			if err != nil || len(p.To) == 0 {
				t.Errorf("what is asked can't be answered: %v", err)
			}
		})
	}
}

// With no sugar but what the meat brings the acid can't go far, and with enough the
// culture stops it. By hand for 1 kg of 80 % shoulder and 20 % fat: at most 2 g/kg of
// the meat's own, 2 x 11.10 x 0.95 = 21.1 mmol, against 45 x lean; at least 0.5 x 11.10
// x 0.8 = 4.4 mmol against 60 x lean. So the high end is within 0.2 of the 5.9 that
// raw meat may begin at. With 10 g/kg the handbook's rule gives 5.9 - 1 = 4.9.
func TestAcidificationKnowsTheSugar(t *testing.T) {
	t.Parallel()
	sakei := species(t, "latilactobacillus-sakei")
	floor := func(dextrose float64) quantity.Between[quantity.PH] {
		sugar, _ := material.ByKey("dextrose-anhydrous")
		open := changed(func(f *formula.Formula) {
			f.Additions = append(f.Additions,
				formula.Addition{Name: "culture", Role: formula.Culture, Species: sakei, Rate: formula.ShareOfMeat(quantity.MustRatio(0.0002))},
				formula.Addition{Name: "dextrose", Role: formula.Sugar, Material: &sugar, Rate: formula.ShareOfMeat(quantity.MustRatio(dextrose))})
		})
		q, err := keep(t, with([]lot.Told{open}, append(begun()[1:], told(5, airAt(24)), told(17, airAt(24)))...)...).record.State().Acidification()
		if err != nil {
			t.Fatal(err)
		}
		f, known := q.Order.Floor.Get()
		if !known {
			t.Fatal("the floor is not known")
		}
		return f
	}
	if none, plenty := floor(0), floor(0.01); none.High.Float() < 5.7 || plenty.High.Float() > 4.91 || plenty.Low.Float() < 4.49 {
		t.Errorf("got %v without and %v with dextrose", none, plenty)
	}
}

// Before the stuffing there is nothing to ask, and without a temperature that was
// read or planned neither.
func TestAcidificationSaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, want string
		story      []lot.Told
	}{
		{"not stuffed", "not-stuffed", []lot.Told{opening(t)}},
		{"low acid is declared", "low-acid-declared", append([]lot.Told{changed(func(f *formula.Formula) { f.Plan.LowAcid = true })},
			append(begun()[1:], told(5, airAt(14)), told(17, airAt(14)))...)},
		{"no temperatures", "no-temperatures", append([]lot.Told{changed(func(f *formula.Formula) { f.Plan.Fermentation = nil })}, begun()[1:]...)},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			_, err := keep(t, row.story...).record.State().Acidification()
			if got := refusalOf(t, err).Codes; !slices.Equal(got, []string{row.want}) {
				t.Errorf("want %s, got %v", row.want, got)
			}
		})
	}
}

// What is due, and when where a hand calculation tells it. By the Fahrenheit rule
// that decides, with the thermometer half a degree too low: 24.5 °C is 76.1 °F,
// 16.1 °F above the base, so that 1200 are reached after 74.53 h and half of what
// is left after 12 h is at 43.27 h; 38.5 °C is 101.3 °F, 41.3 above it, so that 900
// are reached after 21.79 h, and half of what is left is at 16.90 h.
func TestDue(t *testing.T) {
	t.Parallel()
	const atOnce, unasked = -1.0, 0.0
	for _, row := range []struct {
		name   string
		open   lot.Told
		story  []lot.Told // stuffed at 5 h
		due    []string
		latest float64 // hours from stuffing, when the first is due at the latest; the projection may ask for it sooner
	}{
		{"a warm chamber", planned(), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(17, acidOf(5.75))},
			[]string{lot.DueReadPH, lot.DueReadTemperature}, 36},
		{"a hot chamber", planned(), []lot.Told{told(5, airAt(38)), told(17, airAt(38)), told(17, acidOf(5.75))},
			[]string{lot.DueReadPH, lot.DueReadTemperature}, 16.9},
		{"a cold chamber", planned(), []lot.Told{told(5, airAt(12)), told(17, airAt(12))}, []string{lot.DueReadTemperature, lot.DueReadPH}, unasked},
		{"the limit is reached", planned(), []lot.Told{told(5, airAt(38)), told(17, airAt(38)), told(29, airAt(38))},
			[]string{lot.DueHoldLot, lot.DueReadTemperature}, atOnce},
		{"a gap that may have used up the limit", planned(), []lot.Told{told(5, airAt(24)), told(11, airAt(24)), told(36, airAt(38)), told(37, airAt(20))},
			[]string{lot.DueReadPH, lot.DueReadTemperature}, atOnce},
		{"acid behind a gap", planned(), []lot.Told{told(5, airAt(24)), told(13, airAt(24)), told(35, airAt(24)), told(45, airAt(24)), told(45, acidOf(5.1))},
			[]string{lot.DueHoldLot}, atOnce},
		{"acid behind the end of the temperatures", planned(), []lot.Told{told(5, airAt(24)), told(13, airAt(24)), told(45, acidOf(5.0))},
			[]string{lot.DueHoldLot}, atOnce},
		// 78 h at 15.2 °F come to 1185.6, and to 1255.8 with the thermometer too low.
		{"acid as near the limit as a thermometer", planned(), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(29, airAt(24)), told(41, airAt(24)),
			told(53, airAt(24)), told(65, airAt(24)), told(77, airAt(24)), told(83, airAt(24)), told(83, acidOf(5.1))}, []string{lot.DueHoldLot}, atOnce},
		{"acid after hours of which nothing is known", planned(), []lot.Told{told(25, airAt(24)), told(33, airAt(24)), told(41, airAt(24)), told(41, acidOf(5.1))},
			[]string{lot.DueHoldLot}, atOnce},
		{"acid that is not shown, and they hang", planned(), []lot.Told{told(25, airAt(24)), told(33, airAt(24)), told(41, airAt(24)), told(41, acidOf(5.1)), told(42, hung())},
			[]string{lot.DueHoldLot}, atOnce},
		{"a pH that rose again", planned(), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(29, airAt(24)), told(29, ofPiece("A", acidOf(5.1))),
			told(41, airAt(24)), told(41, ofPiece("A", acidOf(5.6)))}, []string{lot.DueReadPH}, atOnce},
		// A slow piece stays slow until it is read sour itself.
		{"a slow piece that nobody read again", planned(), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(29, airAt(24)), told(41, airAt(24)),
			told(29, ofPiece("A", acidOf(5.2))), told(29.1, ofPiece("B", acidOf(5.6))), told(41, ofPiece("A", acidOf(5.2)))}, []string{lot.DueReadPH, lot.DueReadTemperature}, unasked},
		{"a slow piece that came", planned(), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(29, airAt(24)), told(41, airAt(24)),
			told(29, ofPiece("A", acidOf(5.2))), told(29.1, ofPiece("B", acidOf(5.6))), told(41, ofPiece("B", acidOf(5.2)))}, []string{lot.DueHang}, atOnce},
		// The hot thermometer was not read for 13 h before the acid.
		{"a cooler thermometer beside a hot one", planned(), []lot.Told{told(5, by("b", airAt(39))), told(16, by("b", airAt(39))), told(5.1, by("a", airAt(24))),
			told(16.1, by("a", airAt(24))), told(29, by("a", airAt(24))), told(29, acidOf(5.2))}, []string{lot.DueHoldLot}, atOnce},
		{"acid came too late", planned(), []lot.Told{told(5, airAt(38)), told(17, airAt(38)), told(29, airAt(38)), told(29, acidOf(5.2))},
			[]string{lot.DueHoldLot}, atOnce},
		{"acid by a strip", planned(), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(17, acidWithin(0.5, 5.2))},
			[]string{lot.DueReadPH, lot.DueReadTemperature}, atOnce},
		{"acid came", planned(), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(17, acidOf(5.2))}, []string{lot.DueHang}, atOnce},
		{"acid came, and they hang", planned(), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(17, acidOf(5.2)), told(18, hung())}, nil, unasked},
		{"acid came, and the plan wants more", changed(func(f *formula.Formula) { f.Plan.WantedPH = new(quantity.MustPH(4.9)) }),
			[]lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(11, acidOf(5.6)), told(17, acidOf(5.2))}, []string{lot.DueReadPH}, unasked},
		{"no temperatures", planned(), []lot.Told{told(17, acidOf(5.75))}, []string{lot.DueReadTemperature}, atOnce},
		{"low acid that is declared", changed(func(f *formula.Formula) { f.Plan.LowAcid = true }), []lot.Told{told(5, airAt(14)), told(17, airAt(14))},
			[]string{lot.DueReadTemperature}, unasked},
		// 77 h come to 1170.4 and to 1239.7 with the thermometer too low.
		{"low acid at the limit of a thermometer", changed(func(f *formula.Formula) { f.Plan.LowAcid = true }), []lot.Told{told(5, airAt(24)), told(17, airAt(24)),
			told(29, airAt(24)), told(41, airAt(24)), told(53, airAt(24)), told(65, airAt(24)), told(77, airAt(24)), told(82, airAt(24))},
			[]string{lot.DueCoolChamber, lot.DueReadTemperature}, unasked},
		// 1200 / 16.1 = 74.53 h.
		{"low acid in a chamber above the base", changed(func(f *formula.Formula) { f.Plan.LowAcid = true }), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(29, airAt(24)),
			told(41, airAt(24)), told(53, airAt(24)), told(65, airAt(24)), told(77, airAt(24))}, []string{lot.DueCoolChamber, lot.DueReadTemperature}, 74.54},
		{"low acid in a warm chamber", changed(func(f *formula.Formula) { f.Plan.LowAcid = true }), []lot.Told{told(5, airAt(30)), told(17, airAt(30)), told(29, airAt(30)),
			told(41, airAt(30)), told(53, airAt(30)), told(65, airAt(30))}, []string{lot.DueHoldLot, lot.DueReadTemperature}, atOnce},
		{"a plan that goes on", opening(t), []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(17, acidOf(5.75))},
			[]string{lot.DueChangeChamber, lot.DueReadPH, lot.DueReadTemperature}, 20},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			s := keep(t, with([]lot.Told{row.open}, append(begun()[1:], row.story...)...)...).record.State()
			due := dueOf(t, s)
			var codes []string
			for _, d := range due {
				codes = append(codes, d.Code)
			}
			slices.Sort(codes)
			if want := slices.Sorted(slices.Values(row.due)); !slices.Equal(want, codes) {
				t.Errorf("want %v, got %+v", want, due)
			}
			switch {
			case row.latest == atOnce && !due[0].By.IsZero():
				t.Errorf("want it at once, got %v", due[0])
			case row.latest > 0:
				if got := due[0].By.Sub(at(5)).Hours(); got > row.latest || got < row.latest-13 {
					t.Errorf("want %s soon and by %v h, got %v", due[0].Code, row.latest, got)
				}
			}
		})
	}
}

// Where the projection sees no acid coming, half of the time that is left decides:
// no culture and one reading at the start, so that 43.27 h would be it, and a day
// without a reading comes first.
func TestDueByTheLimit(t *testing.T) {
	t.Parallel()
	s := keep(t, with(begun(), told(5, airAt(38)), told(15, airAt(38)), told(15, acidOf(5.85)))...).record.State()
	for _, d := range dueOf(t, s) {
		if d.Code != lot.DueReadPH {
			continue
		}
		// 900 / 41.3 = 21.79 h; (10 + 21.79) / 2 = 15.896 h, cut off to the minute.
		quantitytest.Near(t, "hours", 15.883, d.By.Sub(at(5)).Hours(), 0.01)
		return
	}
	t.Error("the pH is not due")
}

func dueOf(t *testing.T, s lot.State) []lot.Due {
	t.Helper()
	o, err := s.Outlook()
	if err != nil {
		t.Fatal(err)
	}
	return o.Due
}

// In whatever order readings are recorded, what follows from them is the same.
func TestOrderOfReadingsDoesNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var story []lot.Told
		for i := range rapid.IntRange(2, 8).Draw(t, "temperatures") {
			story = append(story, told(5+float64(i)*rapid.Float64Range(1, 16).Draw(t, "hours apart"), airAt(rapid.Float64Range(10, 40).Draw(t, "°C"))))
		}
		for i := range rapid.IntRange(0, 4).Draw(t, "readings of the pH") {
			m := acidOf(rapid.SampledFrom([]float64{5.1, 5.2, 5.4, 5.7}).Draw(t, "pH"))
			m.Piece = rapid.SampledFrom([]string{"", "A", "B"}).Draw(t, "piece")
			story = append(story, told(5.5+float64(i)*rapid.Float64Range(1, 16).Draw(t, "hours apart"), m))
		}
		slices.SortStableFunc(story, func(a, b lot.Told) int { return a.HappenedAt.Compare(b.HappenedAt) })
		for i := range story[1:] { // of one instant the first recorded one counts
			if !story[i+1].HappenedAt.After(story[i].HappenedAt) {
				story[i+1].HappenedAt = story[i].HappenedAt.Add(time.Minute)
			}
		}
		outlook := func(story []lot.Told) lot.Outlook {
			o, err := keep(t, with(begun(), story...)...).record.State().Outlook()
			if err != nil {
				t.Fatal(err)
			}
			return o
		}
		want, got := outlook(story), outlook(rapid.Permutation(story).Draw(t, "recorded"))
		if d := cmp.Diff(want.Question.Course, got.Question.Course, whole); d != "" {
			t.Fatalf("the course (-want +got):\n%s", d)
		}
		if d := cmp.Diff(want.Exposure, got.Exposure, whole); d != "" {
			t.Fatalf("the degree-hours (-want +got):\n%s", d)
		}
		if d := cmp.Diff(want.Projection, got.Projection, whole); d != "" {
			t.Fatalf("the projection (-want +got):\n%s", d)
		}
		if d := cmp.Diff(want.Due, got.Due); d != "" {
			t.Fatalf("what is due (-want +got):\n%s", d)
		}
	})
}
