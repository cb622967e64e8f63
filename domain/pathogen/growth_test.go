package pathogen_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"greenweight/domain/finding"
	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

func wet(aw, off float64) *pathogen.Reading[quantity.WaterActivity] {
	by := quantity.MustWaterActivity(off)
	return &pathogen.Reading[quantity.WaterActivity]{Value: quantity.MustWaterActivity(aw), Off: &by}
}

func kept(celsius, off float64) *pathogen.TemperatureReading {
	by := quantity.MustCelsiusDegrees(off)
	return &pathogen.TemperatureReading{Value: quantity.MustCelsius(celsius), Off: &by}
}

// failer is what tests and properties have in common.
type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

// rowOf returns the finding of a row.
func rowOf(tb failer, m pathogen.Measured, id string, asked ...rulebook.Jurisdiction) finding.Finding {
	tb.Helper()
	for _, o := range pathogen.Grow(m, asked...) {
		for _, f := range o.Findings {
			if f.LimitID == id {
				return f
			}
		}
	}
	tb.Fatalf("no finding of %s", id)
	return finding.Finding{}
}

// The criteria of Regulation (EC) No 2073/2005, held against what they say, for
// every pair of readings and of what those may be off by on a grid around their
// limits. The criteria are kept wherever the true values lie when they are kept at
// the highest of both, and broken when they are broken at the lowest of both.
func TestListeriaCriteriaByBruteForce(t *testing.T) {
	t.Parallel()
	says := func(ph, aw int) bool { return ph <= 440 || aw <= 9200 || ph <= 500 && aw <= 9400 } // in hundredths, and ten-thousandths
	counts := map[finding.Status]int{}
	for ph := 430; ph <= 510; ph += 5 {
		for aw := 9150; aw <= 9450; aw += 25 {
			for _, phOff := range []int{0, 5, 10, 70} {
				for _, awOff := range []int{0, 25, 50, 300} {
					want := finding.Near
					switch {
					case says(ph+phOff, aw+awOff):
						want = finding.Met
					case !says(ph-phOff, aw-awOff):
						want = finding.NotMet
					}
					m := pathogen.Measured{
						PH: read(float64(ph)/100, float64(phOff)/100), Activity: wet(float64(aw)/10000, float64(awOff)/10000), Stage: finding.Finish,
					}
					got := rowOf(t, m, "listeria-2073", rulebook.EuropeanUnion)
					counts[want]++
					if got.Status != want || got.Rulebook != "eu" || got.Authority != finding.Law {
						t.Fatalf("pH %d ± %d, aw %d ± %d: want %s, got %+v", ph, phOff, aw, awOff, want, got)
					}
				}
			}
		}
	}
	if counts[finding.Met] < 100 || counts[finding.Near] < 100 || counts[finding.NotMet] < 100 {
		t.Errorf("the grid has too few of some: %v", counts)
	}
}

// What is missing is never a pass, unless the other reading is enough by itself.
func TestListeriaWithOneReading(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name string
		m    pathogen.Measured
		want finding.Status
	}{
		{"dry enough", pathogen.Measured{Activity: wet(0.915, 0.005)}, finding.Met},
		{"perhaps dry enough", pathogen.Measured{Activity: wet(0.92, 0.005)}, finding.Near},
		{"dry enough with some acid", pathogen.Measured{Activity: wet(0.93, 0.005)}, finding.NotShown},
		{"wet", pathogen.Measured{Activity: wet(0.97, 0.005)}, finding.NotShown},
		{"sour enough", pathogen.Measured{PH: read(4.3, 0.1)}, finding.Met},
		{"not sour", pathogen.Measured{PH: read(5.6, 0.1)}, finding.NotShown},
		{"the temperature alone", pathogen.Measured{Temperature: kept(3, 0.5)}, finding.NotShown},
	} {
		tc.m.Stage = finding.Finish
		if got := rowOf(t, tc.m, "listeria-2073"); got.Status != tc.want {
			t.Errorf("%s: want %s, got %s: %s", tc.name, tc.want, got.Status, got.Reason)
		}
	}
}

// In a sausage that still dries the criteria show nothing, kept or not.
func TestCriteriaAreForTheFinishedProduct(t *testing.T) {
	t.Parallel()
	for _, aw := range []float64{0.85, 0.97} {
		m := pathogen.Measured{PH: read(5.2, 0.05), Activity: wet(aw, 0.005), Stage: finding.Process}
		for _, id := range []string{"listeria-2073", "listeria-fsis"} {
			if got := rowOf(t, m, id); got.Status != finding.NotShown || got.Stage != finding.Process {
				t.Errorf("%s at %v: want not-shown, got %s", id, aw, got.Status)
			}
		}
	}
}

// Each row at its limits, by hand: a limit that must not be reached is near when
// it is, a span that is printed is near within, and a row that is recalled shows
// nothing when it is kept. Where an organism grows is never not met.
func TestRowsAtTheirLimits(t *testing.T) {
	t.Parallel()
	aw := func(v float64) pathogen.Measured { return pathogen.Measured{Activity: wet(v, 0)} }
	ph := func(v float64) pathogen.Measured { return pathogen.Measured{PH: read(v, 0)} }
	at := func(v float64) pathogen.Measured { return pathogen.Measured{Temperature: kept(v, 0)} }
	all := func(p, a, c float64) pathogen.Measured {
		return pathogen.Measured{PH: read(p, 0), Activity: wet(a, 0), Temperature: kept(c, 0)}
	}
	for _, tc := range []struct {
		id   string
		m    pathogen.Measured
		want finding.Status
	}{
		{"listeria-fsis", aw(0.919), finding.Met}, {"listeria-fsis", aw(0.92), finding.Near}, {"listeria-fsis", all(4.5, 0.93, 10), finding.NotMet},
		{"listeria-fsis", ph(4.38), finding.Met}, {"listeria-fsis", ph(4.39), finding.Near},
		{"listeria-growth", aw(0.899), finding.Met}, {"listeria-growth", aw(0.90), finding.Near}, {"listeria-growth", aw(0.93), finding.Near},
		{"listeria-growth", all(5, 0.931, 10), finding.NotShown}, {"listeria-growth", at(-1.6), finding.Met}, {"listeria-growth", at(3), finding.Near},
		{"listeria-growth", ph(4.25), finding.Near}, {"listeria-growth", at(45.1), finding.Met},
		{"staphylococcus-growth", aw(0.829), finding.Met}, {"staphylococcus-growth", aw(0.83), finding.Near}, {"staphylococcus-growth", ph(3.9), finding.Met},
		{"staphylococcus-growth", at(6.9), finding.Met}, {"staphylococcus-growth", all(5, 0.93, 20), finding.NotShown},
		{"staphylococcus-toxin", aw(0.859), finding.Met}, {"staphylococcus-toxin", ph(4.79), finding.Met}, {"staphylococcus-toxin", at(9.9), finding.Met},
		{"staphylococcus-toxin", all(4.9, 0.90, 12), finding.NotShown},
		{"staphylococcus-no-growth", aw(0.85), finding.Met}, {"staphylococcus-no-growth", ph(4.3), finding.Met}, {"staphylococcus-no-growth", at(8), finding.Met},
		{"staphylococcus-no-growth", all(5.6, 0.90, 12), finding.Met}, {"staphylococcus-no-growth", all(5.6, 0.91, 12), finding.NotShown},
		{"staphylococcus-no-growth", all(5.4, 0.93, 12), finding.Met}, {"staphylococcus-no-growth", all(5.5, 0.93, 12), finding.Near},
		{"staphylococcus-no-growth", all(4.9, 0.96, 30), finding.Met}, {"staphylococcus-no-growth", all(4.91, 0.96, 30), finding.NotShown},
		{"staphylococcus-air", aw(0.859), finding.Met}, {"staphylococcus-air", aw(0.87), finding.NotShown},
		{"staphylococcus-cardinal", aw(0.807), finding.Met}, {"staphylococcus-cardinal", at(7.6), finding.Met},
		{"botulinum-non-proteolytic", at(3.2), finding.Met}, {"botulinum-non-proteolytic", at(3.3), finding.Near}, {"botulinum-non-proteolytic", ph(4.9), finding.Met},
		{"botulinum-non-proteolytic", aw(0.96), finding.Met},
		{"botulinum-proteolytic", ph(4.6), finding.NotShown}, {"botulinum-proteolytic", at(9), finding.NotShown}, {"botulinum-proteolytic", aw(0.93), finding.NotShown},
	} {
		tc.m.Stage = finding.Finish
		if got := rowOf(t, tc.m, tc.id); got.Status != tc.want {
			t.Errorf("%s: want %s, got %s: %s", tc.id, tc.want, got.Status, got.Reason)
		}
	}
}

// Criteria are those of the rulebooks asked for; in Germany those of the European
// Union hold.
func TestWhoseCriteria(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		asked []rulebook.Jurisdiction
		want  string
	}{
		{nil, "listeria-2073 listeria-fsis"},
		{[]rulebook.Jurisdiction{rulebook.UnitedStates}, "listeria-fsis@us"},
		{[]rulebook.Jurisdiction{rulebook.Germany}, "listeria-2073@eu"},
		{[]rulebook.Jurisdiction{rulebook.GreatBritain, rulebook.EuropeanUnion}, "listeria-2073@eu listeria-2073@gb"},
		{[]rulebook.Jurisdiction{rulebook.Canada}, ""},
	} {
		var got []string
		for _, o := range pathogen.Grow(pathogen.Measured{PH: read(5, 0), Stage: finding.Finish}, tc.asked...) {
			for _, f := range o.Findings {
				if strings.HasSuffix(f.Code, "-criterion") {
					got = append(got, strings.TrimSuffix(f.LimitID+"@"+f.Rulebook, "@"))
				}
			}
		}
		if strings.Join(got, " ") != tc.want {
			t.Errorf("%v: want %q, got %q", tc.asked, tc.want, got)
		}
	}
	if got := pathogen.Grow(pathogen.Measured{Stage: finding.Finish}); got != nil {
		t.Errorf("nothing was measured, and yet %v", got)
	}
}

// order is how much a status shows.
var order = map[finding.Status]int{finding.NotMet: 0, finding.NotShown: 1, finding.Near: 2, finding.Met: 3}

// statuses returns the status of each row.
func statuses(m pathogen.Measured) map[string]finding.Status {
	all := map[string]finding.Status{}
	for _, o := range pathogen.Grow(m) {
		for _, f := range o.Findings {
			all[f.LimitID] = f.Status
		}
	}
	return all
}

// A drier and a sourer product never comes out worse by any row but one with an
// upper end of pH, nor does a better meter turn what is kept into what is not.
// Without a statement of what a reading may be off by, it is not taken as exact.
func TestDrierAndSourerIsNeverWorse(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		grid := func(low, high int, per float64, name string) float64 {
			return float64(rapid.IntRange(low, high).Draw(t, name)) / per
		}
		p, a, c := grid(380, 900, 100, "pH"), grid(780, 1000, 1000, "aw"), grid(-30, 600, 10, "°C")
		pOff, aOff, cOff := grid(0, 30, 100, "pH off"), grid(0, 30, 1000, "aw off"), grid(0, 30, 10, "°C off")
		before := pathogen.Measured{PH: read(p, pOff), Activity: wet(a, aOff), Temperature: kept(c, cOff), Stage: finding.Finish}
		if rapid.Bool().Draw(t, "no pH") {
			before.PH = nil
		}
		if rapid.Bool().Draw(t, "no temperature") {
			before.Temperature = nil
		}
		drier, sourer, better := before, before, before
		drier.Activity = wet(a-grid(0, 200, 1000, "drier"), aOff)
		better.Activity = wet(a, aOff*grid(0, 10, 10, "of the uncertainty"))
		if before.PH != nil {
			sourer.PH = read(p-grid(0, 300, 100, "sourer"), pOff)
		}
		was, dry, sour, sharp := statuses(before), statuses(drier), statuses(sourer), statuses(better)
		for _, l := range pathogen.Limits() {
			was := was[l.ID]
			if now := dry[l.ID]; order[now] < order[was] {
				t.Fatalf("%s: drier makes %s of %s", l.ID, now, was)
			}
			alkaline := l.Organism == pathogen.StaphylococcusAureus // whose rows have an upper end of pH
			if now := sour[l.ID]; !alkaline && order[now] < order[was] {
				t.Fatalf("%s: sourer makes %s of %s", l.ID, now, was)
			}
			if now := sharp[l.ID]; was == finding.Met && now != finding.Met {
				t.Fatalf("%s: a better meter makes %s of %s", l.ID, now, was)
			}
			if was == finding.Met && l.Source.Trust == source.Memory || was == finding.NotMet && l.Sort != pathogen.Criterion {
				t.Fatalf("%s is %s", l.ID, was)
			}
		}
		for _, o := range pathogen.Grow(before) {
			for _, f := range o.Findings {
				if order[f.Status] < order[o.Status] {
					t.Fatalf("%s is %s, and %s is %s", o.Organism, o.Status, f.LimitID, f.Status)
				}
			}
		}
	})
}

// 0.01 is taken of a meter for water activity that says nothing: 0.915 may be
// 0.925. Of a pH 0.1, of a temperature 0.5 °C.
func TestUsualUncertainty(t *testing.T) {
	t.Parallel()
	m := pathogen.Measured{
		PH: &pathogen.Reading[quantity.PH]{Value: quantity.MustPH(4.29)}, Activity: &pathogen.Reading[quantity.WaterActivity]{Value: quantity.MustWaterActivity(0.915)},
		Temperature: &pathogen.TemperatureReading{Value: quantity.MustCelsius(2.9)}, Stage: finding.Finish,
	}
	onlyActivity := m
	onlyActivity.PH, onlyActivity.Temperature = nil, nil
	if got := rowOf(t, onlyActivity, "listeria-2073"); got.Status != finding.Near {
		t.Errorf("0.915: want near, got %s", got.Status)
	}
	if got := rowOf(t, m, "listeria-2073"); got.Status != finding.Met { // 4.29 may be 4.39
		t.Errorf("pH 4.29: want met, got %s", got.Status)
	}
	onlyCold := pathogen.Measured{Temperature: m.Temperature, Stage: finding.Finish}
	if got := rowOf(t, onlyCold, "botulinum-non-proteolytic"); got.Status != finding.Near { // 2.9 may be 3.4
		t.Errorf("2.9 °C: want near, got %s", got.Status)
	}
	notes := m.Notes()
	if len(notes) != 4 || notes[0].Code != "no-limits-of" || !strings.Contains(notes[0].Text, "Escherichia coli O157:H7 and Salmonella,") {
		t.Errorf("want what no limits are known of, and 3 notes, got %v", notes)
	}
	if got := (pathogen.Measured{}).Notes(); got != nil {
		t.Errorf("nothing was measured, and yet %v", got)
	}
}

// Whatever was measured, each row has an answer, and the figures of it are in
// their scales.
func FuzzGrow(f *testing.F) {
	f.Add(4.9, 0.05, 0.93, 0.005, 12.0, 0.5)
	f.Add(0.0, 14.0, 1.0, 1.0, -273.0, 1e300)
	f.Add(14.0, 0.0, 0.0, 1.0, 1.7e308, 1.7e308)
	f.Fuzz(func(t *testing.T, p, pOff, a, aOff, c, cOff float64) {
		acid, err1 := quantity.NewPH(p)
		acidOff, err2 := quantity.NewPH(pOff)
		activity, err3 := quantity.NewWaterActivity(a)
		activityOff, err4 := quantity.NewWaterActivity(aOff)
		warmth, err5 := quantity.Celsius(c)
		warmthOff, err6 := quantity.CelsiusDegrees(cOff)
		for _, err := range []error{err1, err2, err3, err4, err5, err6} {
			if err != nil || cOff < 0 {
				return
			}
		}
		m := pathogen.Measured{
			PH: &pathogen.Reading[quantity.PH]{Value: acid, Off: &acidOff}, Stage: finding.Finish,
			Activity:    &pathogen.Reading[quantity.WaterActivity]{Value: activity, Off: &activityOff},
			Temperature: &pathogen.TemperatureReading{Value: warmth, Off: &warmthOff},
		}
		for _, o := range pathogen.Grow(m) {
			for _, f := range o.Findings {
				if f.Status < finding.Met || f.Status > finding.NotShown || f.Reason == "" || f.Measured.IsZero() {
					t.Errorf("%+v", f)
				}
			}
		}
	})
}
