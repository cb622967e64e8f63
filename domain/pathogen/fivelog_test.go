package pathogen_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// hours makes a time of so many hours.
func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// of is a dry sausage with a plan.
func of(p formula.Plan) formula.Formula {
	return formula.Formula{Name: "Invented example", Product: rulebook.DrySausage, Plan: p}
}

func air(f, h float64) formula.Step {
	return formula.Step{Temperature: material.Is(quantity.MustFahrenheit(f)), Span: hours(h)}
}

func warmed(f, h float64) formula.Warmth {
	return formula.Warmth{Temperature: material.Is(quantity.MustFahrenheit(f)), Span: hours(h)}
}

// made is how far a plan departs from what a row prints.
type made struct{ chamber, casing, stage, hours float64 }

// plan does what a row of the collection prints, with departures of °F, mm and
// hours; the departure of a stage is that of its last.
func (r fiveLogRow) plan(t *testing.T, by made) formula.Plan {
	t.Helper()
	diameter := map[string]float64{"<=55": 55, "56-105": 105}[r.Casing]
	p := formula.Plan{
		Fermentation: []formula.Step{air(r.F+by.chamber, 30)}, Casing: formula.PlannedCasing{Diameter: quantity.MustMillimetres(diameter + by.casing)},
	}
	stages := r.stages(t)
	last := len(stages) - 1
	for i, s := range stages {
		if i == last || s.act == "core" {
			s.f, s.hours = s.f+by.stage, s.hours+by.hours
		}
		switch s.act {
		case "hold":
			p.Hold = append(p.Hold, formula.Hold{Of: formula.Stuffed, Temperature: material.Is(quantity.MustFahrenheit(s.f)), Span: hours(s.hours)})
		case "heat":
			p.Heat = append(p.Heat, warmed(s.f, s.hours))
		case "core":
			p.Heat = append(p.Heat, formula.Warmth{Core: material.Is(quantity.MustFahrenheit(s.f)), CoreHeld: hours(s.hours)})
		case "dry":
			p.Drying = append(p.Drying, formula.Step{
				Temperature: material.Is(quantity.MustFahrenheit(s.f)), Humidity: material.Is(quantity.MustHumidityPercent(s.humidity)), Span: hours(480),
			})
		}
	}
	return p
}

func read(ph, off float64) *pathogen.Reading[quantity.PH] {
	by := quantity.MustPH(off)
	return &pathogen.Reading[quantity.PH]{Value: quantity.MustPH(ph), Off: &by}
}

// ended is a pH of the class of a row.
func (r fiveLogRow) ended() *pathogen.Reading[quantity.PH] {
	return map[string]*pathogen.Reading[quantity.PH]{"<=4.6": read(4.6, 0), "<=5.0": read(5, 0), ">5.0": read(5.01, 0)}[r.PH]
}

func matchOf(t *testing.T, l pathogen.FiveLog, id string) pathogen.Match {
	t.Helper()
	i := slices.IndexFunc(l.Matches, func(m pathogen.Match) bool { return m.Option.ID == id })
	if i < 0 {
		t.Fatalf("no row %s", id)
	}
	return l.Matches[i]
}

func statusOf(t *testing.T, m pathogen.Match, code string) finding.Status {
	t.Helper()
	for _, c := range m.Conditions {
		if c.Code == code {
			return c.Status
		}
	}
	t.Fatalf("%s has no condition %s", m.Option.ID, code)
	return 0
}

// What does exactly what a row prints follows it, and shows nothing: the rows are
// recalled. A hundredth of a degree, a minute or a tenth of a millimetre less than
// a row asks does not follow it, nor does a pH on the other side of its class.
func TestEachRowFromBothSides(t *testing.T) {
	t.Parallel()
	for _, r := range reference(t).FiveLog {
		t.Run(r.ID, func(t *testing.T) {
			t.Parallel()
			l := pathogen.LookUp(of(r.plan(t, made{})), r.ended())
			if m := matchOf(t, l, r.ID); !m.Follows() || !l.Matches[l.Closest].Follows() {
				t.Errorf("it does not follow its row: %+v", m.Conditions)
			}
			if l.Finding.Status != finding.NotShown || !strings.Contains(l.Finding.Reason, "memory") {
				t.Errorf("want not-shown, from memory, got %s: %s", l.Finding.Status, l.Finding.Reason)
			}
			for name, by := range map[string]made{
				"a cooler chamber": {chamber: -0.01}, "a thicker casing": {casing: 0.1}, "a cooler stage": {stage: -0.01}, "a shorter stage": {hours: -1.0 / 60},
			} {
				if m := matchOf(t, pathogen.LookUp(of(r.plan(t, by)), r.ended()), r.ID); m.Follows() {
					t.Errorf("%s: it follows all the same: %+v", name, m.Conditions)
				}
			}
			other := map[string]*pathogen.Reading[quantity.PH]{"<=4.6": read(4.61, 0), "<=5.0": read(5.01, 0), ">5.0": read(5, 0)}[r.PH]
			if m := matchOf(t, pathogen.LookUp(of(r.plan(t, made{})), other), r.ID); m.Follows() {
				t.Errorf("at %s it follows all the same", other.Value)
			}
		})
	}
}

// A pH that is wanted is not measured: the condition is not shown inside the
// class, and not met outside.
func TestWantedPHIsNotMeasured(t *testing.T) {
	t.Parallel()
	for _, r := range reference(t).FiveLog {
		for ph, in := range map[float64]map[string]bool{
			4.6: {"<=4.6": true, "<=5.0": true}, 4.8: {"<=5.0": true}, 5: {"<=5.0": true}, 5.2: {">5.0": true},
		} {
			p := r.plan(t, made{})
			wanted := quantity.MustPH(ph)
			p.WantedPH = &wanted
			m := matchOf(t, pathogen.LookUp(of(p), nil), r.ID)
			want := finding.NotMet
			if in[r.PH] {
				want = finding.NotShown
			}
			if got := statusOf(t, m, "acid"); got != want || m.Follows() != in[r.PH] {
				t.Errorf("%s, %v wanted: want %s, got %s; follows: %v", r.ID, ph, want, got, m.Follows())
			}
		}
	}
}

// The printed °F is asked. By hand: 90 °F are 32.22 °C, printed 32; 96 °F are
// 35.56, printed 36; 110 °F are 43.33, printed 43; 125 °F are 51.67, printed 52.
// A plan in °C that is within the lower figure is near, and no more.
func TestChamberInCelsius(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		id      string
		celsius float64
		want    finding.Status
	}{
		{"five-log-70f-above-5.0-55mm-heat", 20.99, finding.NotMet}, {"five-log-70f-above-5.0-55mm-heat", 21, finding.Near},
		{"five-log-70f-above-5.0-55mm-heat", 21.12, finding.Met},
		{"five-log-90f-4.6-55mm-hold", 31.99, finding.NotMet}, {"five-log-90f-4.6-55mm-hold", 32, finding.Near},
		{"five-log-90f-4.6-55mm-hold", 32.2, finding.Near}, {"five-log-90f-4.6-55mm-hold", 32.23, finding.Met},
		{"five-log-96f-5.0-55mm-core", 35.55, finding.NotMet}, {"five-log-96f-5.0-55mm-core", 35.56, finding.Met},
		{"five-log-96f-5.0-55mm-core", 36, finding.Met},
		{"five-log-110f-4.6-55mm-hold", 42.99, finding.NotMet}, {"five-log-110f-4.6-55mm-hold", 43, finding.Near},
		{"five-log-110f-4.6-55mm-hold", 43.34, finding.Met},
	} {
		p := formula.Plan{Fermentation: []formula.Step{{Temperature: material.Is(quantity.MustCelsius(tc.celsius)), Span: hours(24)}}}
		if got := statusOf(t, matchOf(t, pathogen.LookUp(of(p), nil), tc.id), "chamber"); got != tc.want {
			t.Errorf("%s at %v °C: want %s, got %s", tc.id, tc.celsius, tc.want, got)
		}
	}
}

// The same of the stages: 6 h at 51.66 °C is less than 125 °F, 51.67 is more. A
// hold at 32 °C in place of 90 °F is near.
func TestStagesInCelsius(t *testing.T) {
	t.Parallel()
	heat := func(celsius, h float64) formula.Warmth {
		return formula.Warmth{Temperature: material.Is(quantity.MustCelsius(celsius)), Span: hours(h)}
	}
	for _, tc := range []struct {
		id    string
		steps []formula.Warmth
		want  finding.Status
	}{
		{"five-log-90f-4.6-55mm-heat", []formula.Warmth{heat(44, 1), heat(51.66, 6)}, finding.NotMet},
		{"five-log-90f-4.6-55mm-heat", []formula.Warmth{heat(44, 1), heat(51.67, 6)}, finding.Met},
		{"five-log-90f-4.6-55mm-heat", []formula.Warmth{heat(43, 1), heat(52, 6)}, finding.Near},
		{"five-log-90f-4.6-55mm-heat", []formula.Warmth{heat(42.9, 1), heat(52, 6)}, finding.NotMet},
		{"five-log-90f-4.6-55mm-heat", []formula.Warmth{heat(52, 7)}, finding.Met},                              // 1 h and 6 h of it
		{"five-log-90f-4.6-55mm-heat", []formula.Warmth{heat(52, 6), heat(44, 1)}, finding.NotMet},              // the other way round
		{"five-log-90f-4.6-55mm-heat", []formula.Warmth{heat(44, 1), heat(20, 1), heat(52, 6)}, finding.NotMet}, // broken off
		{"five-log-90f-4.6-55mm-heat", []formula.Warmth{heat(44, 1), heat(52, 3), heat(55, 3)}, finding.Met},    // in two steps
		{"five-log-90f-4.6-55mm-heat", nil, finding.NotShown},
		{"five-log-90f-4.6-55mm-hold", []formula.Warmth{heat(32, 144)}, finding.Near},
		{"five-log-90f-4.6-55mm-hold", []formula.Warmth{heat(33, 143)}, finding.NotMet},
		{"five-log-90f-4.6-55mm-hold", []formula.Warmth{heat(33, 72), heat(34, 72)}, finding.Met},
	} {
		m := matchOf(t, pathogen.LookUp(of(formula.Plan{Heat: tc.steps}), nil), tc.id)
		if got := statusOf(t, m, "stages"); got != tc.want {
			t.Errorf("%s, %v: want %s, got %s", tc.id, tc.steps, tc.want, got)
		}
	}
}

// What lies between both classes is looked up in the thicker one; what is thicker
// than both, in none.
func TestCasingClasses(t *testing.T) {
	t.Parallel()
	for mm, want := range map[float64][2]finding.Status{
		30: {finding.Met, finding.NotMet}, 55: {finding.Met, finding.NotMet}, 55.01: {finding.NotMet, finding.Met}, 56: {finding.NotMet, finding.Met},
		105: {finding.NotMet, finding.Met}, 105.01: {finding.NotMet, finding.NotMet},
	} {
		l := pathogen.LookUp(of(formula.Plan{Casing: formula.PlannedCasing{Diameter: quantity.MustMillimetres(mm)}}), nil)
		got := [2]finding.Status{
			statusOf(t, matchOf(t, l, "five-log-90f-4.6-55mm-heat"), "casing"), statusOf(t, matchOf(t, l, "five-log-90f-4.6-105mm-heat"), "casing"),
		}
		if got != want {
			t.Errorf("%v mm: want %v, got %v", mm, want, got)
		}
	}
	// 80 mm flat is 2 * 80 / π = 50.9 mm, and 56.0 with a tenth for stretching.
	flat := formula.Plan{Casing: formula.PlannedCasing{FlatWidth: quantity.MustMillimetres(80)}}
	if got := statusOf(t, matchOf(t, pathogen.LookUp(of(flat), nil), "five-log-90f-4.6-105mm-heat"), "casing"); got != finding.Met {
		t.Errorf("80 mm flat: want the thicker class, got %s", got)
	}
}

// The row of a core, condition by condition.
func TestCoreAndDrying(t *testing.T) {
	t.Parallel()
	const id = "five-log-96f-5.0-55mm-core"
	core := func(celsius, h float64) formula.Plan {
		return formula.Plan{Smoke: []formula.Warmth{{Core: material.Is(quantity.MustCelsius(celsius)), CoreHeld: hours(h)}}}
	}
	room := func(celsius, humidity float64) formula.Plan {
		return formula.Plan{Drying: []formula.Step{{
			Temperature: material.Is(quantity.MustCelsius(celsius)), Humidity: material.Is(quantity.MustHumidityPercent(humidity)), Span: hours(480),
		}}}
	}
	for _, tc := range []struct {
		name, code string
		plan       formula.Plan
		want       finding.Status
	}{
		{"128 °F are 53.33 °C", "core", core(53.34, 1), finding.Met},
		{"printed 53", "core", core(53, 1), finding.Near},
		{"too cool", "core", core(52.9, 2), finding.NotMet},
		{"too short", "core", core(54, 0.99), finding.NotMet},
		{"reached only", "core", core(60, 0), finding.NotMet},
		{"no core", "core", formula.Plan{Heat: []formula.Warmth{warmed(128, 1)}}, finding.NotShown},
		{"as dry and warm, and the moisture is to be measured", "drying", room(13, 65), finding.NotShown},
		{"too damp", "drying", room(13, 66), finding.NotMet},
		{"55 °F are 12.78 °C", "drying", room(12.7, 65), finding.NotMet},
		{"no drying", "drying", core(54, 1), finding.NotShown},
	} {
		if got := statusOf(t, matchOf(t, pathogen.LookUp(of(tc.plan), nil), id), tc.code); got != tc.want {
			t.Errorf("%s: want %s, got %s", tc.name, tc.want, got)
		}
	}
}

// A bare recipe has one finding, without a row; what is no raw sausage has none to
// keep. The short verdict says the same.
func TestProducts(t *testing.T) {
	t.Parallel()
	raw := []rulebook.Class{rulebook.DrySausage, rulebook.SemiDrySausage, rulebook.SpreadableRawSausage}
	for _, asked := range [][]rulebook.Jurisdiction{nil, {rulebook.EuropeanUnion}, {rulebook.Canada, rulebook.EuropeanUnion}, {rulebook.UnitedStates}} {
		authority := finding.Practice
		if slices.Contains(asked, rulebook.Canada) || slices.Contains(asked, rulebook.UnitedStates) {
			authority = finding.Guidance
		}
		for _, product := range rulebook.Classes() {
			for _, tradition := range []rulebook.Tradition{0, rulebook.SaucissonSecTradition, rulebook.DryCuredHamTradition} {
				f := formula.Formula{Product: product, Tradition: tradition}
				want := finding.NotApplicable
				if slices.Contains(raw, product) || product == rulebook.TraditionalProduct && tradition == rulebook.SaucissonSecTradition {
					want = finding.NotShown
				}
				got := pathogen.Judge(f, asked...)
				status, by := pathogen.Verdict(f, asked...)
				if got.Status != want || status != want || got.Authority != authority || by != authority || got.LimitID != "" || got.Stage != finding.Process {
					t.Errorf("%s, %v: want %s by %s, got %s by %s; in short %s by %s", product, asked, want, authority, got.Status, got.Authority, status, by)
				}
			}
		}
	}
}

// The row that a plan comes nearest to. By hand: at 24 °C, of 60 mm and pH 5.2,
// the row of 70 °F fails the casing, and that of 90 °F for 56 to 105 mm the
// chamber; 24 °C are nearer to 70 °F (21.1 °C) than to 90. At 31 °C they are nearer
// to 90 °F (32.2 °C).
func TestClosest(t *testing.T) {
	t.Parallel()
	wanted := quantity.MustPH(5.2)
	for celsius, want := range map[float64]string{24: "five-log-70f-above-5.0-55mm-heat", 31: "five-log-90f-above-5.0-105mm-heat"} {
		l := pathogen.LookUp(of(formula.Plan{
			WantedPH: &wanted, Casing: formula.PlannedCasing{Diameter: quantity.MustMillimetres(60)},
			Fermentation: []formula.Step{{Temperature: material.Is(quantity.MustCelsius(celsius)), Span: hours(48)}},
		}), nil)
		if got := l.Matches[l.Closest].Option.ID; got != want || l.Finding.LimitID != want {
			t.Errorf("%v °C: want %s, got %s", celsius, want, got)
		}
	}
}

// Of two rows that are as near otherwise, it is the one of whose time less is
// missing: of 1 h and 5 h of heat, the row with heat lacks 1 of 7 h, and that with a
// hold of 6 days at 90 °F 138 of 144 h.
func TestClosestByTheTimeThatIsMissing(t *testing.T) {
	t.Parallel()
	wanted := quantity.MustPH(4.5)
	l := pathogen.LookUp(of(formula.Plan{
		WantedPH: &wanted, Casing: formula.PlannedCasing{Diameter: quantity.MustMillimetres(50)},
		Fermentation: []formula.Step{air(90, 30)}, Heat: []formula.Warmth{warmed(110, 1), warmed(125, 5)},
	}), nil)
	if got, want := l.Matches[l.Closest].Option.ID, "five-log-90f-4.6-55mm-heat"; got != want || !strings.Contains(l.Finding.Remedy, "keep it 1 h longer at 125 °F (52 °C).") {
		t.Errorf("want %s, got %s: %s", want, got, l.Finding.Remedy)
	}
}

func drawnSteps(t *rapid.T, name string) []formula.Warmth {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) formula.Warmth {
		return warmed(float64(rapid.SampledFrom([]int{60, 89, 90, 95, 100, 110, 115, 120, 125, 130}).Draw(t, "°F")), float64(rapid.IntRange(0, 100).Draw(t, "hours")))
	}), 0, 6).Draw(t, name)
}

// A step in heat that is longer or hotter never loses a row, and nothing that is
// planned or read is ever met as a whole.
func TestMoreHeatNeverLosesARow(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := formula.Plan{
			Heat: drawnSteps(t, "heat"), Fermentation: []formula.Step{air(float64(rapid.IntRange(60, 120).Draw(t, "chamber")), 30)},
			Casing: formula.PlannedCasing{Diameter: quantity.MustMillimetres(float64(rapid.IntRange(20, 120).Draw(t, "mm")))},
		}
		ended := read(rapid.SampledFrom([]float64{4.5, 4.8, 5.2}).Draw(t, "pH"), 0)
		before := pathogen.LookUp(of(p), ended)
		if before.Finding.Status != finding.NotShown {
			t.Fatalf("want not-shown, got %s", before.Finding.Status)
		}
		if len(p.Heat) == 0 {
			return
		}
		more := p
		more.Heat = slices.Clone(p.Heat)
		i := rapid.IntRange(0, len(p.Heat)-1).Draw(t, "step")
		was := p.Heat[i].Temperature.Or(quantity.Temperature{}).Fahrenheit()
		more.Heat[i] = warmed(was+float64(rapid.IntRange(0, 30).Draw(t, "hotter")), p.Heat[i].Span.Hours()+float64(rapid.IntRange(0, 50).Draw(t, "longer")))
		after := pathogen.LookUp(of(more), ended)
		for j, m := range before.Matches {
			if m.Follows() && !after.Matches[j].Follows() {
				t.Fatalf("%s is followed by %v and lost by %v", m.Option.ID, p.Heat, more.Heat)
			}
		}
	})
}

// Which studies are told of. By hand: 80, 100 and 110 °F for 8, 24 and 24 h is
// that of the bologna; 36 °C is as warm as 35.6 and 30 °C; a plan that is only
// dried, at 50 mm, is told of those.
func TestStudiesThatAreTold(t *testing.T) {
	t.Parallel()
	told := func(f formula.Formula) string {
		var codes []string
		for _, n := range pathogen.Told(f) {
			if !strings.Contains(n.Text, "It shows nothing of this plan.") {
				t.Errorf("%s: %s", n.Code, n.Text)
			}
			codes = append(codes, strings.TrimPrefix(n.Code, "study-"))
		}
		return strings.Join(codes, " ")
	}
	dry := []formula.Step{air(55, 480)}
	thin := formula.PlannedCasing{Diameter: quantity.MustMillimetres(50)}
	const always = "salami-staphylococci-1981"
	for name, tc := range map[string]struct {
		plan formula.Plan
		want string
	}{
		"bologna":             {formula.Plan{Fermentation: []formula.Step{air(80, 8), air(100, 24), air(110, 24)}}, "lebanon-bologna-1998 " + always},
		"a shorter one":       {formula.Plan{Fermentation: []formula.Step{air(80, 8), air(100, 24), air(110, 23)}}, always},
		"warm":                {formula.Plan{Fermentation: []formula.Step{air(96.8, 24)}}, "shane-2018 salmonella-listeria-2006 " + always},
		"warm and short":      {formula.Plan{Fermentation: []formula.Step{air(96.8, 23)}}, "shane-2018 " + always},
		"dried":               {formula.Plan{Fermentation: []formula.Step{air(70, 60)}, Drying: dry, Casing: thin}, "glass-1992 drying-days-2016 " + always},
		"dried, of no casing": {formula.Plan{Fermentation: []formula.Step{air(70, 60)}, Drying: dry}, "glass-1992 " + always},
		"heated and dried":    {formula.Plan{Fermentation: []formula.Step{air(70, 60)}, Drying: dry, Heat: []formula.Warmth{warmed(110, 1)}, Casing: thin}, always},
		"not fermented":       {formula.Plan{Drying: dry, Casing: thin}, ""},
	} {
		if got := told(of(tc.plan)); got != tc.want {
			t.Errorf("%s: want %q, got %q", name, tc.want, got)
		}
	}
	ham := of(formula.Plan{Fermentation: []formula.Step{air(96.8, 24)}})
	ham.Product = rulebook.DryCuredMuscle
	if got := told(ham); got != "" {
		t.Errorf("ham: want nothing, got %q", got)
	}
	if notes := pathogen.Told(of(formula.Plan{Fermentation: []formula.Step{air(70, 60)}, Drying: dry, Casing: thin})); !strings.Contains(notes[1].Text, "55 mm, with 39 days") {
		t.Errorf("want the days of 55 mm, got %s", notes[1].Text)
	}
}
