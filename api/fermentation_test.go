package api

import (
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// goodSteps and goodLog are small orders for degree-hours, of an invented
// chamber, whose parts the tests replace.
const (
	goodSteps = `{"steps":[{"temperature":{"value":75.5,"unit":"degF"},"hours":30}],"ph_readings":[{"ph":5.6,"after_hours":6,"uncertainty_ph":0.05}],` +
		`"planned_temperature":{"value":80,"unit":"degF"},"thermometer_uncertainty":{"value":0.4,"unit":"degC"},"rulebook":"us"}`
	goodLog = `{"log":[{"at":"2026-11-02T08:00:00+01:00","temperature":{"value":20,"unit":"degC"}},{"at":"2026-11-03T08:00:00+01:00","temperature":{"value":26,"unit":"degC"}}],` +
		`"between_readings":"linear","ph_readings":[{"ph":5.7,"at":"2026-11-02T20:00:00+01:00"}],"rulebook":"ca"}`
)

// Each answer says in its description how its main figures were checked.
func TestExamplesOfFermentation(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"degree-hours-steps", "degree-hours-log", "degree-hours-without-ph", "degree-hours-gap", "degree-hours-stated-end"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathDegreeHours, readExample(t, name+".request").Value), near)
		})
	}
}

func degreeHours(t *testing.T, body []byte) openapi.DegreeHoursAnswer {
	t.Helper()
	a := testClient(t).Post(t, pathDegreeHours, body)
	if a.Status != http.StatusOK {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	return apitest.Decode[openapi.DegreeHoursAnswer](t, a)
}

// wantNear fails for a number that is not what was computed by hand.
func wantNear(t *testing.T, what string, want, got float64) {
	t.Helper()
	if math.Abs(want-got) > 1e-5*math.Max(math.Abs(want), 1) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// statuses lists each finding with its status.
func statuses(findings []openapi.Finding) []string {
	var s []string
	for _, f := range findings {
		key := f.Code
		if f.LimitID != nil {
			key = *f.LimitID
		}
		s = append(s, key+" "+string(f.Status))
	}
	return s
}

// The example with steps, by hand: 50 h * (75.5 - 60) = 775 °F h of 1200; 75.5 °F
// are 24 1/6 °C, and 50 h * (24 1/6 - 15.6) = 428 1/3 °C h of 665.
func TestFiftyHours(t *testing.T) {
	t.Parallel()
	a := degreeHours(t, readExample(t, "degree-hours-steps.request").Value)
	wantNear(t, "Fahrenheit sum", 775, a.Fahrenheit.AccumulatedDegfHours.Value)
	wantNear(t, "Fahrenheit limit", 1200, a.Fahrenheit.LimitDegfHours)
	wantNear(t, "Fahrenheit rest", 425, a.Fahrenheit.RemainingDegfHours)
	wantNear(t, "Fahrenheit high end", 50*(75.5+0.9-60), a.Fahrenheit.AccumulatedDegfHours.High) // 0.5 °C are 0.9 °F
	wantNear(t, "Celsius sum", 428+1.0/3, a.Celsius.AccumulatedDegcHours.Value)
	wantNear(t, "Celsius limit", 665, a.Celsius.LimitDegcHours)
	wantNear(t, "hours of the clock", 50, a.Clock.End.AfterHours)
	// A line from pH 5.4 at 36 h to 5.2 at 50 h is at 5.3 in the middle.
	wantNear(t, "estimated end", 43, a.Clock.EstimatedEnd.AfterHours)
	wantNear(t, "estimated sum", 43*15.5, *a.Fahrenheit.EstimatedDegfHours)
	if d := cmp.Diff([]string{"degf-60 met", "degc-15.6 met", "ph-5.3 met"}, statuses(a.Findings)); d != "" {
		t.Errorf("findings (-want +got):\n%s", d)
	}
	if a.Decides == nil || *a.Decides != openapi.DegreeHourRuleFahrenheit || a.Fahrenheit.TimeLeft != nil {
		t.Errorf("want the Fahrenheit rule to decide and no time left to be told, got %v %v", a.Decides, a.Fahrenheit.TimeLeft)
	}
}

// The example with a log, by hand: 10 h from 20 to 30 °C and 62 h at 30 °C are
// 10*(4.4+14.4)/2 + 62*14.4 = 986.8 °C h of 665; in °F 10*(8+26)/2 + 62*26 = 1782
// of 1200. The Celsius limit is reached (665-94)/14.4 h after the tenth hour.
func TestThreeWarmDays(t *testing.T) {
	t.Parallel()
	a := degreeHours(t, readExample(t, "degree-hours-log.request").Value)
	wantNear(t, "Celsius sum", 986.8, a.Celsius.AccumulatedDegcHours.Value)
	wantNear(t, "Fahrenheit sum", 1782, a.Fahrenheit.AccumulatedDegfHours.Value)
	wantNear(t, "time of the limit", 10+571/14.4, a.Celsius.LimitReached.AfterHours)
	if want, got := "2026-11-04T09:39:10+01:00", a.Celsius.LimitReached.At.Format(time.RFC3339); got != want {
		t.Errorf("the limit is reached at %s, want %s", got, want)
	}
	if d := cmp.Diff([]string{"degf-60 not-met", "degc-15.6 not-met", "ph-5.3 met"}, statuses(a.Findings)); d != "" {
		t.Errorf("findings (-want +got):\n%s", d)
	}
	if a.Decides == nil || *a.Decides != openapi.DegreeHourRuleCelsius {
		t.Errorf("%v decides, want celsius", a.Decides)
	}
	for name, at := range map[string]*openapi.Instant{"end": a.Clock.End.At, "highest": a.Celsius.Highest.First.At} {
		if got := at.Format("-07:00"); got != "+01:00" {
			t.Errorf("%s has the offset %s", name, got)
		}
	}
}

// The example without a pH, by hand: 22 °C are 71.6 °F; 30*11.6 = 348, and
// (1200-348)/11.6 h are left; 26 °C are 78.8 °F, and (1200-348)/18.8 h. In °C
// 30*6.4 = 192, (665-192)/6.4 and (665-192)/10.4.
func TestTimeLeft(t *testing.T) {
	t.Parallel()
	a := degreeHours(t, readExample(t, "degree-hours-without-ph.request").Value)
	wantNear(t, "°F, present", 852/11.6, *a.Fahrenheit.TimeLeft.Present.Hours)
	wantNear(t, "°F, planned", 852/18.8, *a.Fahrenheit.TimeLeft.Planned.Hours)
	wantNear(t, "°F, planned, at least", (1200-30*12.5)/(18.8+0.9), *a.Fahrenheit.TimeLeft.Planned.AtLeastHours)
	wantNear(t, "°C, present", 473/6.4, *a.Celsius.TimeLeft.Present.Hours)
	wantNear(t, "°C, planned", 473/10.4, *a.Celsius.TimeLeft.Planned.Hours)
	if d := cmp.Diff([]string{"degf-60 not-shown", "degc-15.6 not-shown", "ph-5.3 not-shown"}, statuses(a.Findings)); d != "" {
		t.Errorf("findings (-want +got):\n%s", d)
	}
	if a.Decides != nil || a.Stricter != openapi.DegreeHourRuleFahrenheit || a.Clock.EndedBy != nil {
		t.Errorf("want neither rule to decide, the Fahrenheit rule stricter and no end, got %v %s %v", a.Decides, a.Stricter, a.Clock.EndedBy)
	}
	// University of Wisconsin, Fermentation Log (2012): 75 °F 80 h, 80 °F 60 h, 85
	// °F 48 h, 90 °F 33 h, 100 °F 25 h, 110 °F 18 h, cut off to whole hours.
	for _, l := range a.Fahrenheit.Longest {
		if printed, ok := map[float64]float64{75: 80, 80: 60, 85: 48, 90: 33, 100: 25, 110: 18}[l.Temperature.Value]; ok {
			wantNear(t, fmt.Sprint("longest at ", l.Temperature.Value), printed, math.Floor(*l.Hours))
		}
	}
	// Below the base no limit is reached.
	cold := degreeHours(t, instead(t, goodSteps, `{"value":80,"unit":"degF"}`, `{"value":14,"unit":"degC"}`))
	if p := cold.Fahrenheit.TimeLeft.Planned; p.Hours != nil || p.Never == nil || !*p.Never {
		t.Errorf("at 14 °C want never, got %+v", p)
	}
}

// The units asked for are those of what belongs to no rule.
func TestUnitsOfDegreeHours(t *testing.T) {
	t.Parallel()
	for query, want := range map[string]openapi.TemperatureDifference{
		"": {Value: 0.4, Unit: "degC"}, "?units=metric": {Value: 0.4, Unit: "degC"}, "?units=us": {Value: 0.72, Unit: "degF"},
	} {
		a := apitest.Decode[openapi.DegreeHoursAnswer](t, testClient(t).Post(t, pathDegreeHours+query, []byte(goodSteps)))
		if d := cmp.Diff(want, a.ThermometerUncertainty, near); d != "" {
			t.Errorf("%s (-want +got):\n%s", query, d)
		}
		if a.Celsius.Base.Unit != "degC" || a.Fahrenheit.Base.Unit != "degF" {
			t.Errorf("%s: bases are %v and %v", query, a.Celsius.Base, a.Fahrenheit.Base)
		}
	}
}

func TestEveryMemberOfDegreeHoursIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathDegreeHours, goodSteps, []change{
		{`"value":75.5,"unit":"degF"`, `"value":76,"unit":"degF"`},
		{`"value":75.5,"unit":"degF"`, `"value":26,"unit":"degC"`},
		{`"hours":30`, `"hours":31`},
		{`{"temperature":{"value":75.5,"unit":"degF"},"hours":30}`, `{"temperature":{"value":75.5,"unit":"degF"},"hours":30},{"temperature":{"value":75.5,"unit":"degF"},"hours":1}`},
		{`"ph":5.6`, `"ph":5.2`},
		{`"after_hours":6`, `"after_hours":7`},
		{`"uncertainty_ph":0.05`, `"uncertainty_ph":0.4`},
		{`,"planned_temperature":{"value":80,"unit":"degF"}`, ``},
		{`"planned_temperature":{"value":80,"unit":"degF"}`, `"planned_temperature":{"value":25,"unit":"degC"}`},
		{`"thermometer_uncertainty":{"value":0.4,"unit":"degC"}`, `"thermometer_uncertainty":{"value":0.4,"unit":"degF"}`},
		{`"thermometer_uncertainty":{"value":0.4,"unit":"degC"},`, ``},
		{`"rulebook":"us"`, `"rulebook":"ca"`},
		{`,"rulebook":"us"`, ``},
		{`"rulebook":"us"`, `"rulebook":"us","clock_start":{"after_hours":2}`},
		{`"rulebook":"us"`, `"rulebook":"us","stated_end":{"after_hours":20}`},
	})
	membersAreRead(t, pathDegreeHours, goodLog, []change{
		{`"at":"2026-11-02T08:00:00+01:00"`, `"at":"2026-11-02T08:00:00+00:00"`},
		{`"at":"2026-11-03T08:00:00+01:00"`, `"at":"2026-11-03T09:00:00+01:00"`},
		{`"value":26,"unit":"degC"`, `"value":80,"unit":"degF"`},
		{`"between_readings":"linear"`, `"between_readings":"held"`},
		{`"between_readings":"linear"`, `"between_readings":"linear","longest_gap_hours":14`},
		{`"between_readings":"linear"`, `"between_readings":"linear","clock_start":{"at":"2026-11-02T09:00:00+01:00"}`},
		{`"between_readings":"linear"`, `"between_readings":"linear","stated_end":{"at":"2026-11-02T21:00:00+01:00"}`},
		{`"at":"2026-11-02T20:00:00+01:00"`, `"at":"2026-11-02T21:00:00+01:00"`},
		{`"ph":5.7`, `"ph":5.1`},
	})
}

func TestDegreeHoursFaults(t *testing.T) {
	t.Parallel()
	const log = `"log":[{"at":"2026-11-02T08:00:00Z","temperature":{"value":20,"unit":"degC"}},{"at":"2026-11-03T08:00:00Z","temperature":{"value":20,"unit":"degC"}}]`
	for _, tc := range []struct {
		name, good, old, with string
		want                  refused
	}{
		{"steps and a log", goodSteps, `"rulebook":"us"`, `"rulebook":"us",` + log, invalid("# oneOf")},
		{"neither", goodSteps, `"steps":[{"temperature":{"value":75.5,"unit":"degF"},"hours":30}],`, ``, invalid("# oneOf")},
		{"held steps", goodSteps, `"rulebook":"us"`, `"rulebook":"us","between_readings":"held"`, invalid("#/between_readings additional-member")},
		{"an oven", goodSteps, `"value":75.5,"unit":"degF"`, `"value":400,"unit":"degF"`, invalid("#/steps/0/temperature out-of-range")},
		{"the wrong unit", goodSteps, `"value":75.5,"unit":"degF"`, `"value":75.5,"unit":"degC"`, invalid("#/steps/0/temperature out-of-range")},
		{"a weight as a temperature", goodSteps, `"value":75.5,"unit":"degF"`, `"value":75.5,"unit":"lb"`, invalid("#/steps/0/temperature/unit enum")},
		{"a plan in an oven", goodSteps, `"value":80,"unit":"degF"`, `"value":200,"unit":"degF"`, invalid("#/planned_temperature out-of-range")},
		{"no hours", goodSteps, `"hours":30`, `"hours":0`, invalid("#/steps/0/hours exclusiveMinimum")},
		{"hours NaN", goodSteps, `"hours":30`, `"hours":NaN`, malformed("#/steps/0/hours syntax")},
		{"too many hours", goodSteps, `"hours":30`, `"hours":2001`, invalid("#/steps/0/hours maximum")},
		{"hours of no time", goodSteps, `"hours":30`, `"hours":1e-300`, invalid("#/steps/0/hours out-of-range")},
		{"a forgotten figure", goodSteps, `"ph":5.6`, `"ph":0`, invalid("#/ph_readings/0/ph out-of-range")},
		{"a pH of 56", goodSteps, `"ph":5.6`, `"ph":56`, invalid("#/ph_readings/0/ph maximum")},
		{"a moment beside steps", goodSteps, `"after_hours":6`, `"at":"2026-11-02T08:00:00Z"`, invalid("#/ph_readings/0/after_hours required", "#/ph_readings/0/at additional-member")},
		{"both times", goodSteps, `"after_hours":6`, `"after_hours":6,"at":"2026-11-02T08:00:00Z"`, invalid("#/ph_readings/0/at additional-member")},
		{"hours beside a log", goodLog, `"at":"2026-11-02T20:00:00+01:00"`, `"after_hours":6`, invalid("#/ph_readings/0/after_hours additional-member", "#/ph_readings/0/at required")},
		{"no time", goodLog, `,"at":"2026-11-02T20:00:00+01:00"`, ``, invalid("#/ph_readings/0/at required")},
		{"pH out of order, in hours", goodSteps, `{"ph":5.6,"after_hours":6,"uncertainty_ph":0.05}`, `{"ph":5.6,"after_hours":6},{"ph":5.5,"after_hours":5}`, invalid("#/ph_readings/1/after_hours out-of-order")},
		{"pH out of order, as moments", goodLog, `{"ph":5.7,"at":"2026-11-02T20:00:00+01:00"}`, `{"ph":5.7,"at":"2026-11-02T20:00:00+01:00"},{"ph":5.7,"at":"2026-11-02T18:00:00Z"}`, invalid("#/ph_readings/1/at out-of-order")},
		{"one time, two pH", goodSteps, `{"ph":5.6,"after_hours":6,"uncertainty_ph":0.05}`, `{"ph":5.6,"after_hours":6},{"ph":5.5,"after_hours":6}`, invalid("#/ph_readings/1/after_hours duplicate")},
		{"log out of order", goodLog, `"at":"2026-11-03T08:00:00+01:00"`, `"at":"2026-11-01T08:00:00+01:00"`, invalid("#/log no-history", "#/log/1/at out-of-order")},
		{"one moment, two temperatures", goodLog, `"at":"2026-11-03T08:00:00+01:00"`, `"at":"2026-11-02T07:00:00Z"`, invalid("#/log no-history", "#/log/1/at duplicate")},
		{"a log of one reading", goodLog, `,{"at":"2026-11-03T08:00:00+01:00","temperature":{"value":26,"unit":"degC"}}`, ``, invalid("#/log no-history")},
		{"a year beyond", goodLog, `"at":"2026-11-03T08:00:00+01:00"`, `"at":"9999-11-03T08:00:00+01:00"`, invalid("#/log/1/at out-of-range")},
		{"two years", goodLog, `"at":"2026-11-03T08:00:00+01:00"`, `"at":"2028-11-03T08:00:00+01:00"`, invalid("#/log/1/at out-of-range")},
		{"a thermometer that is off by more than it can be", goodSteps, `"value":0.4,"unit":"degC"`, `"value":30,"unit":"degC"`, invalid("#/thermometer_uncertainty out-of-range")},
		{"a thermometer that is off by less than nothing", goodSteps, `"value":0.4,"unit":"degC"`, `"value":-0.4,"unit":"degC"`, invalid("#/thermometer_uncertainty/value minimum")},
		{"a gap beside steps", goodSteps, `"rulebook":"us"`, `"longest_gap_hours":2`, invalid("#/longest_gap_hours additional-member")},
		{"a gap of no time", goodLog, `"rulebook":"ca"`, `"longest_gap_hours":0`, invalid("#/longest_gap_hours exclusiveMinimum")},
		{"a gap of a day", goodLog, `"rulebook":"ca"`, `"longest_gap_hours":24`, invalid("#/longest_gap_hours maximum")},
		{"a clock that starts at a moment, beside steps", goodSteps, `"rulebook":"us"`, `"clock_start":{"at":"2026-11-02T08:00:00Z"}`, invalid("#/clock_start/after_hours required", "#/clock_start/at additional-member")},
		{"a clock that starts after hours, beside a log", goodLog, `"rulebook":"ca"`, `"clock_start":{"after_hours":2}`, invalid("#/clock_start/after_hours additional-member", "#/clock_start/at required")},
		{"a clock that starts at no time", goodSteps, `"rulebook":"us"`, `"clock_start":{}`, invalid("#/clock_start/after_hours required")},
		{"a clock that starts before the log", goodLog, `"rulebook":"ca"`, `"clock_start":{"at":"2026-11-02T07:59:00+01:00"}`, invalid("#/clock_start out-of-range")},
		{"a clock that starts at the end", goodSteps, `"rulebook":"us"`, `"clock_start":{"after_hours":30}`, invalid("#/clock_start out-of-range")},
		{"an end before the clock starts", goodSteps, `"rulebook":"us"`, `"clock_start":{"after_hours":3},"stated_end":{"after_hours":2}`, invalid("#/stated_end out-of-range")},
		{"an end in the year 9999", goodLog, `"rulebook":"ca"`, `"stated_end":{"at":"9999-11-02T08:00:00Z"}`, invalid("#/stated_end/at out-of-range")},
		{"a rulebook of nobody", goodSteps, `"rulebook":"us"`, `"rulebook":"mars"`, invalid("#/rulebook enum")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathDegreeHours, Body: instead(t, tc.good, tc.old, tc.with), Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
}

// Courses at the ends of what the contract allows have an answer that keeps the
// contract, or a problem: never an error of ours.
func TestExtremeCourses(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	post := func(body string) {
		t.Helper()
		if a := client.Post(t, pathDegreeHours, []byte(body)); a.Status != http.StatusOK && a.Status != http.StatusUnprocessableEntity {
			t.Errorf("status %d for %.300s: %s", a.Status, body, a.Body)
		}
	}
	for _, temperature := range []string{`{"value":-10,"unit":"degC"}`, `{"value":60,"unit":"degF"}`, `{"value":15.6000001,"unit":"degC"}`, `{"value":140,"unit":"degF"}`} {
		for _, uncertainty := range []string{`{"value":0,"unit":"degC"}`, `{"value":10,"unit":"degC"}`} {
			for _, ph := range []string{``, `{"ph":5.3,"after_hours":0}`, `{"ph":5.3,"after_hours":-8784,"uncertainty_ph":2}`, `{"ph":8.5,"after_hours":0},{"ph":3.5,"after_hours":8784}`} {
				rest := `,"planned_temperature":` + temperature + `,"thermometer_uncertainty":` + uncertainty + `,"ph_readings":[` + ph + `]}`
				step := `{"temperature":` + temperature + `,"hours":2000}`
				post(`{"steps":[` + step + `,` + step + `,` + step + `,` + step + `]` + rest)
				post(`{"steps":[{"temperature":` + temperature + `,"hours":1e-9}]` + rest)
			}
		}
	}
	// As many as the contract lets in, a reading a minute.
	start := time.Date(2026, time.November, 2, 8, 0, 0, 0, time.UTC)
	var log, ph []string
	for i := range 5000 {
		log = append(log, fmt.Sprintf(`{"at":%q,"temperature":{"value":%v,"unit":"degC"}}`, start.Add(time.Duration(i)*time.Minute).Format(time.RFC3339), 15+i%20))
	}
	for i := range 500 {
		ph = append(ph, fmt.Sprintf(`{"ph":%v,"at":%q}`, 6-0.0013*float64(i), start.Add(time.Duration(i)*10*time.Minute).Format(time.RFC3339)))
	}
	for _, held := range []string{"linear", "held"} {
		post(`{"log":[` + strings.Join(log, ",") + `],"between_readings":"` + held + `","ph_readings":[` + strings.Join(ph, ",") + `]}`)
	}
}
