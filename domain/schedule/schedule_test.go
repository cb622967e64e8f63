package schedule_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
	"greenweight/domain/rulebook"
	"greenweight/domain/schedule"
)

// step is a step in °C, percent of relative humidity (0 for not planned) and
// hours.
func step(celsius, humidity, hours float64) formula.Step {
	s := formula.Step{Temperature: material.Is(quantity.MustCelsius(celsius)), Span: time.Duration(hours * float64(time.Hour))}
	if humidity > 0 {
		s.Humidity = material.Is(quantity.MustHumidityPercent(humidity))
	}
	return s
}

// salchichon is the beginning of a published process: 2 days at 22 °C and 90 %,
// one at 19 °C and 88 %, one at 15 °C and 86 %, 65 mm.
func salchichon() schedule.Plan {
	sakei, _ := rulebook.CultureByKey("latilactobacillus-sakei")
	acidilactici, _ := rulebook.CultureByKey("pediococcus-acidilactici")
	return schedule.Plan{
		Steps: []formula.Step{step(22, 90, 48), step(19, 88, 24), step(15, 86, 24)}, Diameter: material.Is(quantity.MustMillimetres(65)),
		Cultures: []rulebook.CultureSpecies{sakei, acidilactici}, Rulebooks: []rulebook.Jurisdiction{rulebook.EuropeanUnion},
	}
}

func check(tb rapid.TB, p schedule.Plan) schedule.Outlook {
	tb.Helper()
	o, err := schedule.Check(p)
	if err != nil {
		tb.Fatal(err)
	}
	return o
}

// statuses are those of the findings, by key, or by the row of a guide.
func statuses(o schedule.Outlook) map[string]finding.Status {
	all := make(map[string]finding.Status)
	for _, f := range o.Findings {
		key := f.Key()
		switch {
		case f.GuideID != "":
			key = f.GuideID
		case f.Code == "culture-temperature":
			_, species, _ := strings.Cut(f.Subject, ", for ")
			key += " " + species
		}
		all[key] = f.Status
	}
	return all
}

func by(tb testing.TB, o schedule.Outlook, key string) finding.Finding {
	tb.Helper()
	i := slices.IndexFunc(o.Findings, func(f finding.Finding) bool { return f.Key() == key })
	if i < 0 {
		tb.Fatalf("no finding %s", key)
	}
	return o.Findings[i]
}

// By hand, in °C above 15.6: 48 * 6.4 = 307.2, then 24 * 3.4 = 81.6 more, and
// nothing at 15 °C. In °F above 60: 22 °C are 71.6 and 48 * 11.6 = 556.8; 19 °C are
// 66.2 and 24 * 6.2 = 148.8; 15 °C are 59.
func TestAPublishedProcessByHand(t *testing.T) {
	t.Parallel()
	o := check(t, salchichon())
	fahrenheit, celsius := o.Sums[0], o.Sums[1]
	for i, want := range []float64{556.8, 705.6, 705.6} {
		quantitytest.Near(t, "°F h", want, fahrenheit.Ends[i].DegreeHours.FahrenheitHours(), 1e-6)
	}
	for i, want := range []float64{307.2, 388.8, 388.8} {
		quantitytest.Near(t, "°C h", want, celsius.Ends[i].DegreeHours.CelsiusHours(), 1e-6)
	}
	// With a thermometer that reads half a degree too low: 48 * 6.9 + 24 * 3.9 = 424.8,
	// and 15.5 °C are still below 15.6.
	quantitytest.Near(t, "°C h at most", 424.8, celsius.Range.High.CelsiusHours(), 1e-6)
	// At 15 °C neither limit is ever reached; half a degree warmer the Fahrenheit rule
	// still has 15.5 °C below its 15.56.
	if fahrenheit.Latest.At != nil || celsius.Latest.At != nil || celsius.Surely.At != nil {
		t.Errorf("deadlines %v, %v and %v", fahrenheit.Latest.At, celsius.Latest.At, celsius.Surely.At)
	}
	// Were it to stay at 22 °C it would be 1200/11.6 = 103.4 h, as the printed table has it.
	if f := by(t, o, "degc-15.6"); !strings.Contains(f.Remedy, "stay at 22 °C") || !strings.Contains(f.Remedy, "103.4 h") {
		t.Errorf("remedy %q", f.Remedy)
	}
	want := map[string]finding.Status{
		"degf-60": finding.NotShown, "degc-15.6": finding.NotShown, "ph-5.3": finding.NotShown,
		// sakei grows from -3..3 to 36..40 °C; acidilactici stops at 10 to 15 by some texts, which 15 °C is just not.
		"culture-temperature Latilactobacillus sakei": finding.NotShown, "culture-temperature Pediococcus acidilactici": finding.NotShown,
		// 48 h at 21 to 24 °C are within 48 to 72. 22 to 26 °C is a row from memory.
		"usual-21-24": finding.Met, "usual-22-26": finding.NotShown,
		"start-temperature": finding.Met, "falling-temperature": finding.Met,
		// 96 - 90 = 6 points at the start and 10 at the end. The hygrometer is off by 3 and
		// the batter by 1: 10 is 6 to 14, over 5; 6 is 2 to 10, around 3.
		"air-too-dry": finding.NotMet, "air-too-damp": finding.Near,
		"condensation": finding.NotShown, "early-loss": finding.NotShown,
	}
	if diff := cmp.Diff(want, statuses(o)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	// 1 d 15 °C 86 % has its dew point at 12.7 °C, 22 °C and 90 % at 20.3 °C (Magnus
	// formula by hand: 243.12 g/(17.62 - g), g = ln h + 17.62 t/(243.12 + t)).
	for i, want := range []float64{20.28, 16.97, 12.69} {
		d, known := o.Steps[i].Dew.Get()
		if !known || math.Abs(d.Point.Celsius()-want) > 0.02 {
			t.Errorf("dew point of step %d: %v, want %v", i+1, d.Point, want)
		}
	}
	// The trade says 2 to 5 percent at 90 percent and more, and 5 to 12 in three days
	// in drier air and thin casings; 65 mm are thick. What is expected has to lie
	// between the two.
	if got := o.Loss.End.Median.Percent(); got < 2 || got > 7 {
		t.Errorf("a loss of %v", o.Loss.End.Median)
	}
	if o.Loss.Published == nil || o.Loss.Published.High.Percent() != 12 {
		t.Errorf("published %v", o.Loss.Published)
	}
}

// By hand: at 24 °C the 665 °C h are there after 665/8.4 = 79.17 h, and the 1200
// °F h after 1200/15.2 = 78.95 h. Half a degree warmer they are after 665/8.9 =
// 74.72 and 1200/16.1 = 74.53 h.
func TestDeadlines(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name           string
		hours          float64
		inPlan         bool
		want           finding.Status
		beyondTheLimit string
	}{
		{"two days", 48, false, finding.NotShown, "the last temperature going on"},
		{"75 h", 75, false, finding.Near, "the last temperature going on"},
		{"four days", 96, true, finding.NotMet, "Plan it sooner"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			o := check(t, schedule.Plan{Steps: []formula.Step{step(24, 92, row.hours)}, Rulebooks: []rulebook.Jurisdiction{rulebook.Canada}})
			for i, want := range [][2]float64{{1200 / 15.2, 1200 / 16.1}, {665 / 8.4, 665 / 8.9}} {
				s := o.Sums[i]
				quantitytest.Near(t, "latest", want[0], s.Latest.At.Hours(), 1e-6)
				quantitytest.Near(t, "surely", want[1], s.Surely.At.Hours(), 1e-6)
				if s.Latest.InPlan != row.inPlan {
					t.Errorf("%s lies in the plan: %v", s.Set.ID, s.Latest.InPlan)
				}
			}
			f := by(t, o, "degc-15.6")
			if f.Status != row.want || f.Authority != finding.Guidance || !strings.Contains(f.Remedy, "79.1 h") || !strings.Contains(f.Remedy, "74.7 h") ||
				!strings.Contains(f.Remedy, row.beyondTheLimit) {
				t.Errorf("got %s by %s: %s", f.Status, f.Authority, f.Remedy)
			}
			if other := by(t, o, "degf-60"); other.Authority != finding.Practice {
				t.Errorf("the rule that does not decide is by %s", other.Authority)
			}
		})
	}
	if f := by(t, check(t, schedule.Plan{Steps: []formula.Step{step(14, 92, 96)}}), "degf-60"); f.Status != finding.NotApplicable {
		t.Errorf("at 14 °C: %+v", f)
	}
}

// The guide has 91 to 93 percent for 0.96. With instruments that are not off all
// that is within is met, and what is without is not.
func TestHumidityOfTheGuide(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		humidity, off float64
		dry, damp     finding.Status
	}{
		{92, 0.5, finding.Met, finding.Met},        // 4 points, 3.2 to 4.8
		{91, 0.5, finding.Near, finding.Met},       // 5, 4.2 to 5.8
		{93, 0.5, finding.Met, finding.Near},       // 3, 2.2 to 3.8
		{90, 0.5, finding.NotMet, finding.Met},     // 6, 5.2 to 6.8
		{94, 0.5, finding.Met, finding.NotMet},     // 2, 1.2 to 2.8
		{98, 0.5, finding.Met, finding.NotMet},     // it takes up water
		{92, 3, finding.Near, finding.Near},        // 0.7 to 7.3
		{85, 3, finding.NotMet, finding.Met},       // 11, 7.7 to 14.3
		{0, 3, finding.NotShown, finding.NotShown}, // not planned
	} {
		p := schedule.Plan{
			Steps: []formula.Step{step(22, row.humidity, 48)}, WaterActivity: material.Is(quantity.MustWaterActivity(0.96)),
			Hygrometer: material.Is(quantity.MustHumidityPercent(row.off)),
		}
		o := check(t, p)
		if dry, damp := by(t, o, "air-too-dry").Status, by(t, o, "air-too-damp").Status; dry != row.dry || damp != row.damp {
			t.Errorf("%v %% ± %v: dry %s, damp %s; want %s and %s", row.humidity, row.off, dry, damp, row.dry, row.damp)
		}
		if g, known := o.Steps[0].Gap.Get(); known {
			quantitytest.Near(t, "wanted at least", 91, g.Wanted.Low.Percent(), 1e-9)
			quantitytest.Near(t, "wanted at most", 93, g.Wanted.High.Percent(), 1e-9)
		}
	}
	// What is not planned of one step withholds what is kept in another.
	o := check(t, schedule.Plan{
		Steps: []formula.Step{step(22, 92, 48), step(18, 0, 24)}, WaterActivity: material.Is(quantity.MustWaterActivity(0.96)),
		Hygrometer: material.Is(quantity.MustHumidityPercent(0.5)),
	})
	if f := by(t, o, "air-too-dry"); f.Status != finding.NotShown || !strings.Contains(f.Reason, "step 2") {
		t.Errorf("a step without humidity: %+v", f)
	}
	if f := by(t, o, "early-loss"); f.Status != finding.NotShown || o.Loss.End != nil || o.Loss.Published != nil {
		t.Errorf("a loss without humidity: %+v", f)
	}
}

// 22 °C and 92 % have their dew point at 20.6 °C: a sausage of 4 °C gets wet. Air
// at 22 °C in which nothing settles on 4 °C is at 8.13/26.45 = 31 % at most (hPa
// of saturated vapour in the steam tables).
func TestCondensation(t *testing.T) {
	t.Parallel()
	at := func(celsius float64, steps ...formula.Step) finding.Finding {
		return by(t, check(t, schedule.Plan{Steps: steps, AtStart: material.Is(quantity.MustCelsius(celsius))}), "condensation")
	}
	f := at(4, step(22, 92, 48))
	if f.Status != finding.NotMet || !strings.Contains(f.Remedy, "at most 31 %") || !strings.Contains(f.Reason, "20.6 °C") {
		t.Errorf("from 4 °C: %+v", f)
	}
	for _, row := range []struct {
		name string
		got  finding.Finding
		want finding.Status
	}{
		{"as warm as the dew point", at(20.6, step(22, 92, 48)), finding.Near},
		{"as warm as the air", at(22, step(22, 97, 48)), finding.Met},
		{"into dry air", at(12, step(22, 45, 48)), finding.Met}, // its dew point is at 9.5 °C
		{"falling", at(22, step(22, 92, 48), step(18, 92, 24)), finding.Met},
		{"rising", at(12, step(12, 90, 24), step(24, 90, 24)), finding.NotMet},
		{"into air of which nothing is known", at(4, step(22, 0, 48)), finding.NotShown},
	} {
		if row.got.Status != row.want {
			t.Errorf("%s: %s, want %s: %s", row.name, row.got.Status, row.want, row.got.Reason)
		}
	}
	if f := by(t, check(t, schedule.Plan{Steps: []formula.Step{step(22, 92, 48)}}), "condensation"); f.Status != finding.NotShown {
		t.Errorf("of a sausage of which nothing is known: %+v", f)
	}
}

func TestUsualTimes(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name  string
		steps []formula.Step
		want  map[string]finding.Status
	}{
		{"short", []formula.Step{step(21, 92, 24)}, map[string]finding.Status{"usual-21-24": finding.NotMet}},
		{"long", []formula.Step{step(21, 92, 96)}, map[string]finding.Status{"usual-21-24": finding.NotMet}},
		{"going on elsewhere", []formula.Step{step(21, 92, 24), step(18, 92, 48)}, map[string]finding.Status{"usual-21-24": finding.Near}},
		{"warm", []formula.Step{step(30, 92, 14)}, map[string]finding.Status{"usual-29-32": finding.Met}},
		{"at the end of two rows", []formula.Step{step(32, 92, 14)}, map[string]finding.Status{"usual-29-32": finding.Met, "usual-32-46": finding.NotMet}},
		{"100 °F", []formula.Step{step((100.0-32)/1.8, 92, 12)}, map[string]finding.Status{"usual-32-46": finding.Met, "usual-37-40": finding.Met}},
		{"covered by none", []formula.Step{step(18, 92, 72)}, map[string]finding.Status{"usual-time": finding.NotShown}},
	} {
		got := make(map[string]finding.Status)
		for key, s := range statuses(check(t, schedule.Plan{Steps: row.steps})) {
			if strings.HasPrefix(key, "usual-") {
				got[key] = s
			}
		}
		if diff := cmp.Diff(row.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", row.name, diff)
		}
	}
}

func TestStartAndFall(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		steps       []formula.Step
		start, fall finding.Status
	}{
		{[]formula.Step{step(22, 92, 48)}, finding.Met, finding.NotApplicable},
		{[]formula.Step{step(23, 92, 48)}, finding.Near, finding.NotApplicable},
		{[]formula.Step{step(24, 92, 48), step(24, 92, 12), step(18, 90, 24)}, finding.NotMet, finding.Met},
		{[]formula.Step{step(20, 92, 48), step(18, 92, 12), step(22, 90, 24)}, finding.Met, finding.NotMet},
	} {
		o := check(t, schedule.Plan{Steps: row.steps})
		if start, fall := by(t, o, "start-temperature").Status, by(t, o, "falling-temperature").Status; start != row.start || fall != row.fall {
			t.Errorf("%v: start %s, fall %s; want %s and %s", row.steps, start, fall, row.start, row.fall)
		}
	}
}

// A thin sausage in dry moving air at 26 °C loses more than the trade has as the
// most.
func TestEarlyLoss(t *testing.T) {
	t.Parallel()
	dry := step(26, 60, 72)
	dry.AirSpeed = material.Is(quantity.MustMetresPerSecond(0.8))
	o := check(t, schedule.Plan{Steps: []formula.Step{dry}, Diameter: material.Is(quantity.MustMillimetres(28))})
	if f := by(t, o, "early-loss"); f.Status != finding.NotMet || o.Loss.Early.Median.Percent() <= 12 {
		t.Errorf("got %+v", f)
	}
	if !slices.ContainsFunc(o.Notes, func(n finding.Note) bool { return n.Code == "fast-air" }) {
		t.Error("nothing is said of the fast air")
	}
}

// drawn is any plan.
func drawn(t *rapid.T) schedule.Plan {
	p := schedule.Plan{Diameter: material.Is(quantity.MustMillimetres(rapid.Float64Range(20, 110).Draw(t, "mm")))}
	for range rapid.IntRange(1, 4).Draw(t, "steps") {
		s := step(rapid.Float64Range(5, 45).Draw(t, "celsius"), 0, rapid.Float64Range(1, 120).Draw(t, "hours"))
		if rapid.IntRange(0, 4).Draw(t, "planned") > 0 {
			s.Humidity = material.Is(quantity.MustHumidityPercent(rapid.Float64Range(60, 99).Draw(t, "humidity")))
		}
		p.Steps = append(p.Steps, s)
	}
	p.AtStart = material.Is(quantity.MustCelsius(rapid.Float64Range(-1, 20).Draw(t, "start")))
	return p
}

// Cutting steps in two changes nothing that is found.
func TestCuttingAStepChangesNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		cut := p
		cut.Steps = nil
		for _, s := range p.Steps {
			first, second := s, s
			first.Span = time.Duration(rapid.Float64Range(0.1, 0.9).Draw(t, "part") * float64(s.Span))
			second.Span = s.Span - first.Span
			cut.Steps = append(cut.Steps, first, second)
		}
		whole, parts := check(t, p), check(t, cut)
		if diff := cmp.Diff(statuses(whole), statuses(parts)); diff != "" {
			t.Fatalf("(-whole +cut):\n%s", diff)
		}
		for i, s := range whole.Sums {
			if off := s.DegreeHours.CelsiusHours() - parts.Sums[i].DegreeHours.CelsiusHours(); math.Abs(off) > 1e-6 {
				t.Fatalf("the sums are %v °C h apart", off)
			}
			if (s.Latest.At == nil) != (parts.Sums[i].Latest.At == nil) || s.Latest.At != nil && math.Abs(s.Latest.At.Hours()-parts.Sums[i].Latest.At.Hours()) > 1e-6 {
				t.Fatalf("latest %v and %v", s.Latest.At, parts.Sums[i].Latest.At)
			}
		}
	})
}

// A warmer step never leaves more time, but for what a difference of a billionth
// of a degree just above the base makes, and nothing about acid is ever met.
func TestWarmerLeavesNoMoreTime(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		i := rapid.IntRange(0, len(p.Steps)-1).Draw(t, "which")
		warm := p
		warm.Steps = slices.Clone(p.Steps)
		warm.Steps[i].Temperature = material.Is(quantity.MustCelsius(p.Steps[i].Temperature.Or(quantity.Temperature{}).Celsius() + rapid.Float64Range(0, 10).Draw(t, "warmer")))
		now, warmer := check(t, p), check(t, warm)
		for k := range now.Sums {
			for _, pair := range [][2]schedule.Deadline{{now.Sums[k].Latest, warmer.Sums[k].Latest}, {now.Sums[k].Surely, warmer.Sums[k].Surely}, {now.Sums[k].Latest, now.Sums[k].Surely}} {
				if pair[0].At != nil && (pair[1].At == nil || *pair[1].At > *pair[0].At+time.Second) {
					t.Fatalf("%s: %v, and %v when warmer", now.Sums[k].Set.ID, pair[0].At, pair[1].At)
				}
			}
		}
		for _, f := range append(now.Findings, warmer.Findings...) {
			if (f.Code == "degree-hours" || f.Code == "ph-5.3") && f.Status == finding.Met {
				t.Fatalf("a plan meets %s", f.Key())
			}
		}
	})
}
