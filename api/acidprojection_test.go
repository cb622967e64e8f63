package api

import (
	"math"
	"net/http"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// Each answer says in its description how its main figures were checked.
func TestExamplesOfAcidProjection(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"four-readings", "plan", "spontaneous", "already-there"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			name := "acid-projection-" + name
			golden(t, name+".answer", testClient(t).Post(t, pathAcidProjection, readExample(t, name+".request").Value), nearFit)
		})
	}
}

func acidProjection(t *testing.T, body string) openapi.AcidProjectionAnswer {
	t.Helper()
	a := testClient(t).Post(t, pathAcidProjection, []byte(body))
	if a.Status != http.StatusOK {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	return apitest.Decode[openapi.AcidProjectionAnswer](t, a)
}

// By hand: at 24 °C the limits are reached after 665/(24 - 15.6) h and 1200/(75.2 -
// 60) h, and with a thermometer that reads half a degree too low, 0.9 °F, after
// 665/8.9 h and 1200/16.1 h. No finding is met.
func TestAPlanBesideItsLimits(t *testing.T) {
	t.Parallel()
	a := acidProjection(t, string(readExample(t, "acid-projection-plan.request").Value))
	limits := map[openapi.DegreeHourRule]openapi.AcidLimit{}
	for _, l := range a.To[0].Limits {
		limits[l.Rule] = l
	}
	wantNear(t, "Fahrenheit limit", 1200/15.2, limits[openapi.DegreeHourRuleFahrenheit].Reached.AfterHours)
	wantNear(t, "Celsius limit", 665/8.4, limits[openapi.DegreeHourRuleCelsius].Reached.AfterHours)
	wantNear(t, "Fahrenheit limit if warmer", 1200/16.1, limits[openapi.DegreeHourRuleFahrenheit].ReachedIfWarmer.AfterHours)
	wantNear(t, "Celsius limit if warmer", 665/8.9, limits[openapi.DegreeHourRuleCelsius].ReachedIfWarmer.AfterHours)
	if d := cmp.Diff([]string{"degf-60 not-shown", "degc-15.6 not-shown"}, statuses(a.Findings)); d != "" {
		t.Errorf("findings (-want +got):\n%s", d)
	}
	if a.Fitted || *a.Decides != openapi.DegreeHourRuleCelsius {
		t.Errorf("want no fit and the Celsius rule to decide, got %v and %v", a.Fitted, *a.Decides)
	}
	wantNear(t, "hours to read before", 665/8.9, a.Advice.ReadBefore.AfterHours)
}

// By hand: 5.45 at 36 h and 5.20 at 44 h are at 5.3 after 40.8 h on a straight
// line.
func TestAnAcidThatIsThere(t *testing.T) {
	t.Parallel()
	a := acidProjection(t, string(readExample(t, "acid-projection-already-there.request").Value))
	first := a.To[0]
	if first.Outcome != openapi.AcidOutcomeAlreadyThere || first.Read == nil || *first.Read != "#/ph_readings/3" {
		t.Fatalf("want it to have been read at #/ph_readings/3, got %+v", first)
	}
	wantNear(t, "estimated crossing", 40.8, first.Estimated.AfterHours)
	last := a.Readings[len(a.Readings)-1]
	if last.Counts || last.Doubt == nil || last.Doubt.Code != "after-lowest" {
		t.Errorf("want the rise to be left out, got %+v", last)
	}
	if a.Advice != nil {
		t.Errorf("want no advice, got %+v", *a.Advice)
	}
}

// The same order of a log and of steps, and in both units, is answered alike.
func TestAcidOfALogAndInUSUnits(t *testing.T) {
	t.Parallel()
	steps := acidProjection(t, `{"steps":[{"temperature":{"value":22,"unit":"degC"},"hours":30}],
		"ph_readings":[{"ph":5.8,"after_hours":0},{"ph":5.5,"after_hours":28}],"diameter":{"value":2,"unit":"in"}}`)
	log := acidProjection(t, `{"log":[{"at":"2026-11-02T08:00:00+01:00","temperature":{"value":71.6,"unit":"degF"}},
		{"at":"2026-11-03T14:00:00+01:00","temperature":{"value":71.6,"unit":"degF"}}],
		"ph_readings":[{"ph":5.8,"at":"2026-11-02T08:00:00+01:00"},{"ph":5.5,"at":"2026-11-03T12:00:00+01:00"}],
		"diameter":{"value":50.8,"unit":"mm"}}`)
	if want, got := steps.To[0].Median.AfterHours, log.To[0].Median.AfterHours; math.Abs(want-got) > 1e-3*want {
		t.Errorf("want %v h, got %v h", want, got)
	}
	if log.To[0].Median.At == nil || steps.To[0].Median.At != nil {
		t.Error("want moments of a log, and none of steps")
	}
}

func TestAcidProjectionRefuses(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		body string
		want []string
	}{
		"nothing":            {`{}`, []string{"#/ahead required"}},
		"both histories":     {`{"steps":[{"temperature":{"value":22,"unit":"degC"},"hours":3}],"log":[{"at":"2026-11-02T08:00:00Z","temperature":{"value":22,"unit":"degC"}}]}`, []string{"#/log oneOf"}},
		"an oven ahead":      {`{"ahead":[{"temperature":{"value":180,"unit":"degC"},"hours":3}]}`, []string{"#/ahead/0/temperature out-of-range"}},
		"a wild culture":     {`{"ahead":[{"temperature":{"value":22,"unit":"degC"},"hours":3}],"spontaneous":true,"cultures":["latilactobacillus-sakei"]}`, []string{"#/spontaneous contradicts-cultures"}},
		"an upturned range":  {`{"ahead":[{"temperature":{"value":22,"unit":"degC"},"hours":3}],"lowest_ph":{"low":5,"high":4.6}}`, []string{"#/lowest_ph out-of-range"}},
		"a barrel":           {`{"ahead":[{"temperature":{"value":22,"unit":"degC"},"hours":3}],"diameter":{"value":1,"unit":"m"}}`, []string{"#/diameter out-of-range"}},
		"a time without log": {`{"ahead":[{"temperature":{"value":22,"unit":"degC"},"hours":3}],"ph_readings":[{"ph":5.8,"at":"2026-11-02T08:00:00Z"}]}`, []string{"#/ph_readings/0/after_hours required", "#/ph_readings/0/at additional-member"}},
		"soap":               {`{"steps":[{"temperature":{"value":22,"unit":"degC"},"hours":3}],"ph_readings":[{"ph":9.5,"after_hours":1}]}`, []string{"#/ph_readings/0/ph out-of-range"}},
		"readings backwards": {`{"steps":[{"temperature":{"value":22,"unit":"degC"},"hours":3}],"ph_readings":[{"ph":5.5,"after_hours":2},{"ph":5.5,"after_hours":1}]}`, []string{"#/ph_readings/1/after_hours out-of-order"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Post(t, pathAcidProjection, []byte(row.body))
			if d := cmp.Diff(refused{http.StatusUnprocessableEntity, "invalid-value", row.want}, refusedBy(a), cmp.AllowUnexported(refused{})); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
}

// The chart says what the answer says.
func TestAcidChart(t *testing.T) {
	t.Parallel()
	text := string(picture(t, pathAcidProjection, readExample(t, "acid-projection-four-readings.request").Value, mediaTypeSVG).Body)
	for _, want := range []string{"pH 5.3 at hour", `class="band-90"`, `class="reading"`, `class="off"`, `class="target"`, `class="chamber"`} {
		if !strings.Contains(text, want) {
			t.Errorf("the chart lacks %q", want)
		}
	}
	text = string(picture(t, pathAcidProjection, readExample(t, "acid-projection-plan.request").Value, mediaTypeSVG).Body)
	if !strings.Contains(text, "degree-hours used up at 79 h") { // 79.2 h by the Celsius rule, by hand above
		t.Error("the chart lacks the limit")
	}
	text = string(picture(t, pathAcidProjection, readExample(t, "acid-projection-spontaneous.request").Value, mediaTypeSVG).Body)
	if !strings.Contains(text, "likely not reached") || strings.Contains(text, "degree-hours used up") {
		t.Error("want a pH that is not reached, and no limit below the base")
	}
}
