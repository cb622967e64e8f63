package api

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// goodDryDown is a small order for a projection, of an invented piece, whose
// parts the tests replace.
const goodDryDown = `{"green_weight":{"value":1000,"unit":"g"},"stuffed_at":"2026-11-02T16:00:00+01:00","hung_at":"2026-11-03T16:00:00+01:00",` +
	`"as_of_at":"2026-11-12T16:00:00+01:00","target_loss_percent":35,` +
	`"weigh_ins":[{"at":"2026-11-06T16:00:00+01:00","weight":{"value":940,"unit":"g"}},{"at":"2026-11-10T16:00:00+01:00","weight":{"value":880,"unit":"g"}}],` +
	`"diameter":{"value":55,"unit":"mm"},"room":{"temperature":{"value":13,"unit":"degC"},"relative_humidity_percent":78,"air_speed_m_per_s":0.2},` +
	`"composition":{"water_percent":60,"protein_percent":17,"fat_percent":18.5,"salt_percent":2.7,"sugar_percent":0.5},"stops_at_loss_percent":43}`

// instead returns an order with one part of it replaced, which must be there
// once.
func instead(t *testing.T, good, old, with string) []byte {
	t.Helper()
	if n := strings.Count(good, old); n != 1 {
		t.Fatalf("%q is in the good order %d times, not once", old, n)
	}
	return []byte(strings.Replace(good, old, with, 1))
}

// Each answer says in its description how its main figures were checked.
func TestExamplesOfDrying(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"dry-down-before-weighing", "dry-down-five-weigh-ins", "dry-down-damp-room", "dry-down-lowered-and-sealed", "dry-down-slowed"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathDryDown, readExample(t, name+".request").Value), nearFit)
		})
	}
}

// The example with five weigh-ins, by hand: of 1000 g are left 940, 880, 785 and
// 740 g, which is a loss of 6, 12, 21.5 and 26 percent after 3, 7, 18 and 25
// days; 0.83 g would be 99.917. The last two are 4.5 percent in 7 days. At 35
// percent 650 g are left.
func TestFiveWeighIns(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.DryDownAnswer](t, testClient(t).Post(t, pathDryDown, readExample(t, "dry-down-five-weigh-ins.request").Value))
	var got []string
	for _, w := range a.WeighIns {
		line := fmt.Sprintf("%s day %v: %v %%, counts %t", w.Pointer, w.SinceHangingDays, w.LossPercent, w.Counts)
		if w.Doubt != nil {
			line += ", " + w.Doubt.Code
		}
		got = append(got, line)
	}
	want := []string{
		"#/weigh_ins/0 day 3: 6 %, counts true", "#/weigh_ins/1 day 7: 12 %, counts true",
		"#/weigh_ins/2 day 12: 99.917 %, counts false, wrong-unit",
		"#/weigh_ins/3 day 18: 21.5 %, counts true", "#/weigh_ins/4 day 25: 26 %, counts true",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("weigh-ins (-want +got):\n%s", d)
	}
	if want, got := 4.5/7, *a.MeasuredPercentPerDay; math.Abs(want-got) > 1e-5 {
		t.Errorf("want %v %% a day measured, got %v", want, got)
	}
	if d := cmp.Diff(openapi.Mass{Value: 650, Unit: "g"}, a.Target.Weight); d != "" {
		t.Errorf("weight at the target (-want +got):\n%s", d)
	}
	if !a.Fitted || *a.Latest != "#/weigh_ins/4" || a.Now.SinceHangingDays != 25 {
		t.Errorf("want fitted up to #/weigh_ins/4 on day 25, got %t %s %v", a.Fitted, *a.Latest, a.Now.SinceHangingDays)
	}
	for i, p := range a.Course {
		if want := 1000 * (1 - p.LossPercent.Median/100); math.Abs(inGrams(p.Weight)-want) > 0.01 {
			t.Errorf("point %d: a loss of %v %% is %v, want %v g", i, p.LossPercent.Median, p.Weight, want)
		}
		if i > 0 && p.LossPercent.Median < a.Course[i-1].LossPercent.Median {
			t.Errorf("point %d gains", i)
		}
	}
}

// In US units 40 percent of 2 lb leave 1.2 lb, and 1.86 lb are what was weighed.
func TestUnitsOfADryDown(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.DryDownAnswer](t, testClient(t).Post(t, pathDryDown+"?units=us", readExample(t, "dry-down-damp-room.request").Value))
	got := []openapi.Mass{a.GreenWeight, a.Target.Weight, a.WeighIns[0].Weight}
	want := []openapi.Mass{{Value: 2, Unit: "lb"}, {Value: 1.2, Unit: "lb"}, {Value: 1.86, Unit: "lb"}}
	if d := cmp.Diff(want, got, near); d != "" {
		t.Errorf("masses (-want +got):\n%s", d)
	}
}

func inGrams(m openapi.Mass) float64 {
	if m.Unit == openapi.MassUnitKg {
		return 1000 * m.Value
	}
	return m.Value
}

// Intervals lie within each other, instants are where the days are, and what does
// not come is absent.
func TestTargetDay(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"dry-down-before-weighing", "dry-down-five-weigh-ins", "dry-down-damp-room", "dry-down-lowered-and-sealed"} {
		a := apitest.Decode[openapi.DryDownAnswer](t, testClient(t).Post(t, pathDryDown, readExample(t, name+".request").Value))
		day := a.Target.Day
		hung := a.Now.At.Add(-time.Duration(a.Now.SinceHangingDays * 24 * float64(time.Hour)))
		// Days and instants of the ends, the earliest first.
		var days []*openapi.DaysSinceHanging
		var instants []*openapi.Instant
		add := func(d *openapi.DaysSinceHanging, at *openapi.Instant) {
			days, instants = append(days, d), append(instants, at)
		}
		add(day.P90.LowDays, day.P90.LowAt)
		add(day.P80.LowDays, day.P80.LowAt)
		add(day.P50.LowDays, day.P50.LowAt)
		add(day.MedianDays, day.MedianAt)
		add(day.P50.HighDays, day.P50.HighAt)
		add(day.P80.HighDays, day.P80.HighAt)
		add(day.P90.HighDays, day.P90.HighAt)
		comes := 0
		for i, d := range days {
			if (d == nil) != (instants[i] == nil) {
				t.Errorf("%s: end %d has a day or an instant alone", name, i)
			}
			if d == nil {
				continue
			}
			comes++
			if i > 0 && (days[i-1] == nil || *days[i-1] > *d) {
				t.Errorf("%s: end %d is before the one inside of it", name, i)
			}
			if off := instants[i].Sub(hung.Add(time.Duration(*d * 24 * float64(time.Hour)))); off.Abs() > 2*time.Minute {
				t.Errorf("%s: end %d is %v off its day", name, i, off)
			}
		}
		// An end at probability p is there exactly when the target is reached with
		// at least that probability.
		for i, p := range []float64{5, 10, 25, 50, 75, 90, 95} {
			if reached := 100 - day.NotReachedPercent; days[i] != nil != (reached >= p) {
				t.Errorf("%s: end %d at %v %% is there: %t, and the target is reached with %v %%", name, i, p, days[i] != nil, reached)
			}
		}
		if name == "dry-down-damp-room" && (comes == len(days) || a.Outcome != openapi.DryDownOutcomeNotAtThisHumidity) {
			t.Errorf("%s: outcome %s with %d of the ends", name, a.Outcome, comes)
		}
	}
}

// Instants of the answer have the offset of the hanging, also where summer time
// begins in between; those of weigh-ins are as they were given.
func TestInstantsKeepTheirOffset(t *testing.T) {
	t.Parallel()
	body := instead(t, goodDryDown, `"hung_at":"2026-11-03T16:00:00+01:00"`, `"hung_at":"2026-11-03T20:30:00+05:30"`)
	a := apitest.Decode[openapi.DryDownAnswer](t, testClient(t).Post(t, pathDryDown, body))
	for name, at := range map[string]openapi.Instant{"now": a.Now.At, "median": *a.Target.Day.MedianAt, "course": a.Course[len(a.Course)-1].At} {
		if got := at.Format("-07:00"); got != "+05:30" {
			t.Errorf("%s has the offset %s", name, got)
		}
	}
	if got := a.WeighIns[0].At.Format(time.RFC3339); got != "2026-11-06T16:00:00+01:00" {
		t.Errorf("the weigh-in is at %s", got)
	}
	if want := "2026-11-12T20:30:00+05:30"; a.Now.At.Format(time.RFC3339) != want {
		t.Errorf("now is %s, want %s", a.Now.At.Format(time.RFC3339), want)
	}
}

func TestEveryMemberOfADryDownIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathDryDown, goodDryDown, []change{
		{`"green_weight":{"value":1000,"unit":"g"}`, `"green_weight":{"value":1010,"unit":"g"}`},
		{`"green_weight":{"value":1000,"unit":"g"}`, `"green_weight":{"value":2.2,"unit":"lb"}`},
		{`"stuffed_at":"2026-11-02T16:00:00+01:00","hung_at":"2026-11-03T16:00:00+01:00"`, `"stuffed_at":"2026-11-02T16:00:00+01:00"`},
		{`"hung_at":"2026-11-03T16:00:00+01:00"`, `"hung_at":"2026-11-03T18:00:00+01:00"`},
		{`"as_of_at":"2026-11-12T16:00:00+01:00"`, `"as_of_at":"2026-11-13T16:00:00+01:00"`},
		{`"target_loss_percent":35`, `"target_loss_percent":36`},
		{`"at":"2026-11-06T16:00:00+01:00"`, `"at":"2026-11-06T12:00:00+01:00"`},
		{`"value":940,"unit":"g"`, `"value":935,"unit":"g"`},
		{`"value":940,"unit":"g"`, `"value":0.935,"unit":"kg"`},
		{`"diameter":{"value":55,"unit":"mm"}`, `"diameter":{"value":50,"unit":"mm"}`},
		{`"diameter":{"value":55,"unit":"mm"}`, `"diameter":{"value":5,"unit":"cm"}`},
		{`"temperature":{"value":13,"unit":"degC"}`, `"temperature":{"value":4,"unit":"degC"}`},
		{`"temperature":{"value":13,"unit":"degC"}`, `"temperature":{"value":40,"unit":"degF"}`},
		{`"relative_humidity_percent":78,`, `"relative_humidity_percent":70,`},
		{`"air_speed_m_per_s":0.2`, `"air_speed_m_per_s":1`},
		{`"fat_percent":18.5`, `"fat_percent":10`},
		{`"stops_at_loss_percent":43`, `"stops_at_loss_percent":40`},
	})
}

// Where earlier lots do not tell at which loss the drying stops, all of the
// composition counts; where the hanging is not given, the stuffing does.
func TestEveryMemberOfADryDownIsReadWhereItCounts(t *testing.T) {
	t.Parallel()
	good := string(instead(t, goodDryDown, `,"stops_at_loss_percent":43`, ``))
	good = string(instead(t, good, `"hung_at":"2026-11-03T16:00:00+01:00",`, ``))
	membersAreRead(t, pathDryDown, good, []change{
		{`"stuffed_at":"2026-11-02T16:00:00+01:00"`, `"stuffed_at":"2026-11-02T16:00:00-01:00"`},
		{`"water_percent":60`, `"water_percent":55`},
		{`"protein_percent":17`, `"protein_percent":15`},
		{`"salt_percent":2.7`, `"salt_percent":3.5`},
		{`"sugar_percent":0.5`, `"sugar_percent":1.5`},
	})
}

// Weigh-ins that can't be right are named and left out, and no error.
func TestDoubtfulWeighIns(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ name, old, with, pointer, doubt string }{
		{"another unit", `"value":940,"unit":"g"`, `"value":940,"unit":"kg"`, "#/weigh_ins/0", "wrong-unit"},
		{"a thousandth", `"value":940,"unit":"g"`, `"value":940,"unit":"mg"`, "#/weigh_ins/0", "wrong-unit"},
		{"a gain of 30 percent", `"value":880,"unit":"g"`, `"value":1300,"unit":"g"`, "#/weigh_ins/1", "gain"},
		{"more than there is water", `"value":880,"unit":"g"`, `"value":300,"unit":"g"`, "#/weigh_ins/1", "more-than-water"},
		{
			"the green weight again", `[{"at":"2026-11-06T16:00:00+01:00","weight":{"value":940,"unit":"g"}}`,
			`[{"at":"2026-11-02T16:00:00+01:00","weight":{"value":1000,"unit":"g"}}`, "#/weigh_ins/0", "no-time-to-dry",
		},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := apitest.Decode[openapi.DryDownAnswer](t, testClient(t).Post(t, pathDryDown, instead(t, goodDryDown, tc.old, tc.with)))
			for _, w := range a.WeighIns {
				if (w.Pointer == tc.pointer) != (w.Doubt != nil) || w.Counts == (w.Doubt != nil) {
					t.Errorf("%s counts: %t, doubt %v", w.Pointer, w.Counts, w.Doubt)
				}
				if w.Doubt != nil && (w.Doubt.Code != tc.doubt || w.Doubt.Detail == "") {
					t.Errorf("%s: want %s, got %+v", w.Pointer, tc.doubt, *w.Doubt)
				}
			}
		})
	}
}

// One weigh-in at the moment of the green weight says nothing of the drying: the
// answer is the one without, and a note says so.
func TestWeighInAtTimeZero(t *testing.T) {
	t.Parallel()
	const without = `{"green_weight":{"value":1000,"unit":"g"},"stuffed_at":"2026-11-02T16:00:00+01:00","target_loss_percent":35}`
	with := instead(t, without, `35}`, `35,"weigh_ins":[{"at":"2026-11-02T15:00:00Z","weight":{"value":1,"unit":"kg"}}]}`)
	one := apitest.Decode[openapi.DryDownAnswer](t, testClient(t).Post(t, pathDryDown, []byte(without)))
	other := apitest.Decode[openapi.DryDownAnswer](t, testClient(t).Post(t, pathDryDown, with))
	if other.Fitted {
		t.Error("fitted to nothing")
	}
	if d := cmp.Diff(one.Target, other.Target, near); d != "" {
		t.Errorf("target (-without +with):\n%s", d)
	}
	if !strings.Contains(fmt.Sprint(codesOf(other.Notes)), "no-time-to-dry") {
		t.Errorf("notes are %v", codesOf(other.Notes))
	}
}

func codesOf(notes openapi.Notes) []string {
	var codes []string
	for _, n := range notes {
		codes = append(codes, n.Code)
	}
	return codes
}

func TestDryDownFaults(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, old, with string
		want            refused
	}{
		{"out of order", `"at":"2026-11-10T16:00:00+01:00"`, `"at":"2026-11-05T16:00:00+01:00"`, invalid("#/weigh_ins/1/at out-of-order")},
		{"before stuffing", `"at":"2026-11-06T16:00:00+01:00"`, `"at":"2026-11-01T16:00:00+01:00"`, invalid("#/weigh_ins/0/at before-stuffing")},
		{"one instant, two weights", `"at":"2026-11-10T16:00:00+01:00"`, `"at":"2026-11-06T15:00:00Z"`, invalid("#/weigh_ins/1/weight conflicting-instant")},
		{"another green weight", `"at":"2026-11-06T16:00:00+01:00"`, `"at":"2026-11-02T16:00:00+01:00"`, invalid("#/weigh_ins/0/weight conflicting-instant")},
		{"hung before stuffed", `"hung_at":"2026-11-03T16:00:00+01:00"`, `"hung_at":"2026-11-01T16:00:00+01:00"`, invalid("#/hung_at before-stuffing")},
		{"present before the last weigh-in", `"as_of_at":"2026-11-12T16:00:00+01:00"`, `"as_of_at":"2026-11-08T16:00:00+01:00"`, invalid("#/as_of_at before-the-facts")},
		{"target of nothing", `"target_loss_percent":35`, `"target_loss_percent":0`, invalid("#/target_loss_percent exclusiveMinimum")},
		{"target of all water", `"target_loss_percent":35`, `"target_loss_percent":80`, invalid("#/target_loss_percent out-of-range")},
		{"target of more", `"target_loss_percent":35`, `"target_loss_percent":81`, invalid("#/target_loss_percent maximum")},
		{"target NaN", `"target_loss_percent":35`, `"target_loss_percent":NaN`, malformed("#/target_loss_percent syntax")},
		{"no target", `"target_loss_percent":35,`, ``, invalid("#/target_loss_percent required")},
		{"green weight of nothing", `"value":1000`, `"value":0`, invalid("#/green_weight/value minimum")},
		{"green weight less than nothing", `"value":1000`, `"value":-1000`, invalid("#/green_weight/value minimum")},
		{"temperature as a weight", `"value":940,"unit":"g"`, `"value":940,"unit":"degC"`, invalid("#/weigh_ins/0/weight/unit enum")},
		{"an oven", `"value":13,"unit":"degC"`, `"value":400,"unit":"degF"`, invalid("#/room/temperature out-of-range")},
		{"a room of 60 °C", `"value":13,"unit":"degC"`, `"value":60,"unit":"degC"`, invalid("#/room/temperature out-of-range")},
		{"a freezer", `"value":13,"unit":"degC"`, `"value":0,"unit":"degF"`, invalid("#/room/temperature out-of-range")},
		{"humidity of more than all", `"relative_humidity_percent":78`, `"relative_humidity_percent":101`, invalid("#/room/relative_humidity_percent maximum")},
		{"a storm", `"air_speed_m_per_s":0.2`, `"air_speed_m_per_s":40`, invalid("#/room/air_speed_m_per_s maximum")},
		{"a thread", `"value":55,"unit":"mm"`, `"value":1,"unit":"mm"`, invalid("#/diameter out-of-range")},
		{"a barrel", `"value":55,"unit":"mm"`, `"value":55,"unit":"in"`, invalid("#/diameter out-of-range")},
		{"composition over the whole", `"water_percent":60`, `"water_percent":80`, invalid(
			"#/composition/fat_percent sum", "#/composition/protein_percent sum", "#/composition/salt_percent sum",
			"#/composition/sugar_percent sum", "#/composition/water_percent sum")},
		{"a moment without an offset", `"stuffed_at":"2026-11-02T16:00:00+01:00"`, `"stuffed_at":"2026-11-02T16:00:00"`, invalid("#/stuffed_at format")},
		{"a year of five digits ahead", `"as_of_at":"2026-11-12T16:00:00+01:00"`, `"as_of_at":"9999-11-12T16:00:00+01:00"`, invalid("#/as_of_at out-of-range")},
		{"a year of the pharaohs", `"stuffed_at":"2026-11-02T16:00:00+01:00"`, `"stuffed_at":"0001-01-01T00:00:00Z"`, invalid("#/stuffed_at out-of-range")},
		{"several at once", `"hung_at":"2026-11-03T16:00:00+01:00"`, `"hung_at":"1026-11-03T16:00:00+01:00"`, invalid("#/hung_at out-of-range")},
		{"a misspelt member", `"diameter"`, `"diametre"`, invalid("#/diametre additional-member")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathDryDown, Body: instead(t, goodDryDown, tc.old, tc.with), Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
}

// Orders at the ends of what the contract allows have an answer that keeps the
// contract, or a problem: never an error of ours.
func TestExtremeDryDowns(t *testing.T) {
	t.Parallel()
	const piece = `{"green_weight":%s,"stuffed_at":"1970-01-01T00:00:00+23:59","target_loss_percent":%s%s%s}`
	for green, target := range map[string]string{`{"value":0.000001,"unit":"mg"}`: `75.999999`, `{"value":1000000,"unit":"kg"}`: `0.000001`} {
		for _, room := range []string{
			``, `,"diameter":{"value":5,"unit":"mm"},"room":{"temperature":{"value":40,"unit":"degC"},"relative_humidity_percent":0,"air_speed_m_per_s":10}`,
			`,"diameter":{"value":250,"unit":"mm"},"room":{"temperature":{"value":-5,"unit":"degC"},"relative_humidity_percent":100,"air_speed_m_per_s":0}`,
			`,"composition":{"water_percent":0.001,"protein_percent":0,"fat_percent":99.9,"salt_percent":0,"sugar_percent":0},"room":{"relative_humidity_percent":50}`,
			`,"composition":{"water_percent":100,"protein_percent":0,"fat_percent":0,"salt_percent":0,"sugar_percent":0},"room":{"relative_humidity_percent":99}`,
			`,"stops_at_loss_percent":0.000001`, `,"stops_at_loss_percent":80`, `,"as_of_at":"2199-12-31T23:59:59Z"`,
		} {
			for _, weighed := range []string{
				``, `,"weigh_ins":[{"at":"2199-12-31T00:00:00-23:59","weight":` + green + `}]`,
				`,"weigh_ins":[{"at":"1970-01-01T00:00:00Z","weight":{"value":1000000,"unit":"kg"}},{"at":"1970-01-01T00:00:00.000000001Z","weight":{"value":0.000001,"unit":"mg"}}]`,
			} {
				body := fmt.Sprintf(piece, green, target, room, weighed)
				a := testClient(t).Post(t, pathDryDown, []byte(body))
				if a.Status != http.StatusOK && a.Status != http.StatusUnprocessableEntity {
					t.Errorf("status %d for %s: %s", a.Status, body, a.Body)
				}
			}
		}
	}
}

// As many weigh-ins as the contract lets in are fitted, one an hour.
func TestManyWeighIns(t *testing.T) {
	t.Parallel()
	start := time.Date(2026, time.November, 2, 16, 0, 0, 0, time.UTC)
	var weighIns []string
	for i := range 1000 {
		at := start.Add(time.Duration(i+1) * time.Hour)
		weighIns = append(weighIns, fmt.Sprintf(`{"at":%q,"weight":{"value":%v,"unit":"g"}}`, at.Format(time.RFC3339), 1000-0.25*float64(i)))
	}
	body := `{"green_weight":{"value":1000,"unit":"g"},"stuffed_at":"2026-11-02T16:00:00Z","target_loss_percent":35,"weigh_ins":[` +
		strings.Join(weighIns, ",") + `]}`
	a := testClient(t).Post(t, pathDryDown, []byte(body))
	if a.Status != http.StatusOK {
		t.Fatalf("status %d: %.300s", a.Status, a.Body)
	}
	if got := apitest.Decode[openapi.DryDownAnswer](t, a); len(got.WeighIns) != len(weighIns) || !got.Fitted {
		t.Errorf("%d weigh-ins, fitted %t", len(got.WeighIns), got.Fitted)
	}
}

// Earlier lots that were at 35 percent in half the days move the day earlier, and
// the answer says that it was learned.
func TestDryDownLearns(t *testing.T) {
	t.Parallel()
	const alone = `{"green_weight":{"value":1000,"unit":"g"},"stuffed_at":"2026-11-02T16:00:00Z","target_loss_percent":35,` +
		`"diameter":{"value":55,"unit":"mm"},"room":{"temperature":{"value":13,"unit":"degC"},"relative_humidity_percent":78}`
	earlier := func(lot string) string {
		return `{"lot":"` + lot + `","green_weight":{"value":1000,"unit":"g"},"stuffed_at":"2026-09-01T16:00:00Z","diameter":{"value":55,"unit":"mm"},` +
			`"room":{"temperature":{"value":13,"unit":"degC"},"relative_humidity_percent":78},"weigh_ins":[` +
			`{"at":"2026-09-06T16:00:00Z","weight":{"value":870,"unit":"g"}},{"at":"2026-09-13T16:00:00Z","weight":{"value":770,"unit":"g"}},` +
			`{"at":"2026-09-22T16:00:00Z","weight":{"value":690,"unit":"g"}},{"at":"2026-10-01T16:00:00Z","weight":{"value":640,"unit":"g"}}]}`
	}
	c := testClient(t)
	before := apitest.Decode[openapi.DryDownAnswer](t, c.Post(t, pathDryDown, []byte(alone+`}`)))
	after := apitest.Decode[openapi.DryDownAnswer](t, c.Post(t, pathDryDown, []byte(alone+`,"earlier":[`+earlier("a")+`,`+earlier("b")+`]}`)))
	if was, is := *before.Target.Day.MedianDays, *after.Target.Day.MedianDays; is > 0.75*was {
		t.Errorf("want the day well before %v, got %v", was, is)
	}
	if !slices.ContainsFunc(after.Notes, func(n openapi.Note) bool { return n.Code == "learned" }) {
		t.Errorf("want it to say that it was learned, got %v", after.Notes)
	}
	bad := strings.Replace(earlier("c"), `"value":870`, `"value":0`, 1)
	a := c.Do(t, apitest.Request{Method: http.MethodPost, Path: pathDryDown, Body: []byte(alone + `,"earlier":[` + bad + `]}`), Bad: true})
	if d := cmp.Diff(invalid("#/earlier/0/weigh_ins/0/weight/value minimum"), refusedBy(a)); d != "" {
		t.Errorf("a weight of nothing (-want +got):\n%s%s", d, a.Body)
	}
	bad = strings.Replace(earlier("c"), `"at":"2026-09-06`, `"at":"2026-08-06`, 1)
	a = c.Do(t, apitest.Request{Method: http.MethodPost, Path: pathDryDown, Body: []byte(alone + `,"earlier":[` + bad + `]}`), Bad: true})
	if d := cmp.Diff(invalid("#/earlier/0/weigh_ins/0/at before-stuffing"), refusedBy(a)); d != "" {
		t.Errorf("a weigh-in before stuffing (-want +got):\n%s%s", d, a.Body)
	}
}

// What is at fault with the airs is told of each of them.
func TestAirsOfADryDownAtFault(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, with string
		want       refused
	}{
		{"an oven", `"airs":[{"from_at":"2026-11-03T16:00:00Z","temperature":{"value":60,"unit":"degC"}}]`, invalid("#/airs/0/temperature out-of-range")},
		{"out of order", `"air_readings":[{"at":"2026-11-03T16:00:00Z"},{"at":"2026-11-03T15:00:00Z"}]`, invalid("#/air_readings/1/at out-of-order")},
		{"more than all", `"airs":[{"from_at":"2026-11-03T16:00:00Z","relative_humidity_percent":101}]`, invalid("#/airs/0/relative_humidity_percent maximum")},
		{"sealed for nothing", `"equalising":[{"from_at":"2026-11-03T16:00:00Z","to_at":"2026-11-03T16:00:00Z"}]`, invalid("#/equalising/0/to_at before-it-begins")},
		{"no such water activity", `"target_water_activity":0.5`, invalid("#/target_water_activity minimum")},
		{"there when fresh", `"target_moisture_protein_ratio":9`, invalid("#/target_moisture_protein_ratio already-fresh")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			body := instead(t, goodDryDown, `"target_loss_percent":35`, `"target_loss_percent":35,`+tc.with)
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathDryDown, Body: body, Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
}
