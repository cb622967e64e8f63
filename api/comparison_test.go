package api

import (
	"bytes"
	"math"
	"net/http"
	"testing"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// The answer says in its description how its main figures were checked.
func TestExampleOfAComparison(t *testing.T) {
	t.Parallel()
	golden(t, "dry-down-comparison.answer", testClient(t).Post(t, pathComparison, readExample(t, "dry-down-comparison.request").Value), near)
}

const goodComparison = `{"target_loss_percent":25,"courses":[{"name":"room","pieces":[{"green_weight":{"value":1000,"unit":"g"},"hung_at":"2026-11-02T16:00:00+01:00",` +
	`"weigh_ins":[{"at":"2026-11-18T16:00:00+01:00","weight":{"value":800,"unit":"g"}},{"at":"2026-11-29T16:00:00+01:00","weight":{"value":740,"unit":"g"}}],"diameter":{"value":55,"unit":"mm"}}],` +
	`"room":{"temperature":{"value":13,"unit":"degC"},"relative_humidity_percent":78},"samples":[{"place":"core","water_activity":0.9,"moisture_percent":44}]},` +
	`{"name":"bag","pieces":[{"green_weight":{"value":1,"unit":"kg"},"hung_at":"2026-11-02T16:00:00+01:00",` +
	`"weigh_ins":[{"at":"2026-12-08T16:00:00+01:00","weight":{"value":790,"unit":"g"}},{"at":"2026-12-29T16:00:00+01:00","weight":{"value":735,"unit":"g"}}],"diameter":{"value":60,"unit":"mm"}}],` +
	`"room":{"temperature":{"value":4,"unit":"degC"},"relative_humidity_percent":80},"samples":[{"place":"core","water_activity":0.88,"moisture_percent":41}]}]}`

func TestMembersOfAComparisonAreRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathComparison, goodComparison, []change{
		{`"target_loss_percent":25`, `"target_loss_percent":22`}, {`"name":"bag"`, `"name":"sack"`}, {`"value":1,"unit":"kg"`, `"value":1010,"unit":"g"`},
		{`"2026-12-08T16:00:00+01:00"`, `"2026-12-07T16:00:00+01:00"`}, {`"value":790`, `"value":780`}, {`"value":60`, `"value":65`},
		{`"value":4,"unit":"degC"`, `"value":40,"unit":"degF"`}, {`"relative_humidity_percent":80`, `"relative_humidity_percent":82`},
		{`{"place":"core","water_activity":0.88`, `{"place":"rim","water_activity":0.88`}, {`0.88`, `0.87`}, {`"moisture_percent":41`, `"moisture_percent":40`},
		{`1000,"unit":"g"},"hung_at":"2026-11-02`, `1000,"unit":"g"},"hung_at":"2026-11-01`},
	})
}

// By hand: at the airs of 13 and 4 °C the drives at 0.95 are 0.17 * 1.498 and
// 0.15 * 0.8135 kPa (saturation pressures of the steam tables), a ratio of 2.087; the
// core differs by 0.88 - 0.90 and 41 - 44; one piece each is said.
func TestComparisonOnTheWire(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.ComparisonAnswer](t, testClient(t).Post(t, pathComparison, []byte(goodComparison)))
	d := a.Differences[0]
	if got := *d.AirRatio; math.Abs(got-2.087) > 0.005 {
		t.Errorf("want an air ratio of 2.087, got %v", got)
	}
	wantNear(t, "water activity", -0.02, d.Samples[0].WaterActivity.Mean)
	wantNear(t, "moisture", -3, d.Samples[0].MoisturePercent.Mean)
	if d.Samples[0].WaterActivity.Low != nil {
		t.Error("one sample a side has no interval")
	}
	if len(a.Notes) != 2 || a.Notes[0].Code != "one-piece" || *a.Notes[1].Pointer != "#/courses/1/pieces" {
		t.Errorf("want a note for each single piece, got %+v", a.Notes)
	}
	last := d.Ratios[len(d.Ratios)-1]
	// 55 to 60 mm is (60/55)^2 of the time.
	wantNear(t, "diameter", last.Ratio.MidRatio*(55.0*55)/(60.0*60), last.SameDiameter.MidRatio)
	if !last.Assumed {
		t.Error("the spread was assumed, and not said")
	}
}

func TestComparisonsWithoutMeaning(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct{ old, with, pointer, code string }{
		"a name twice":       {`"name":"bag"`, `"name":"room"`, "#/courses/1/name", "duplicate"},
		"before the hanging": {`"2026-12-08T16:00:00+01:00"`, `"2026-10-08T16:00:00+01:00"`, "#/courses/1/pieces/0/weigh_ins/0/at", "before-stuffing"},
		"no mass":            {`"value":1,"unit":"kg"`, `"value":0,"unit":"kg"`, "#/courses/1/pieces/0/green_weight/value", "minimum"},
		"no such moment":     {`1000,"unit":"g"},"hung_at":"2026-11-02`, `1000,"unit":"g"},"hung_at":"1926-11-02`, "#/courses/0/pieces/0/hung_at", "out-of-range"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathComparison, Body: instead(t, goodComparison, tc.old, tc.with), Bad: true})
			p := apitest.Decode[openapi.Problem](t, a)
			found := false
			for _, e := range p.Errors {
				found = found || e.Pointer != nil && *e.Pointer == tc.pointer && e.Code == tc.code
			}
			if a.Status != http.StatusUnprocessableEntity || !found {
				t.Errorf("want %s %s, got %d: %s", tc.pointer, tc.code, a.Status, a.Body)
			}
		})
	}
}

// The picture names both ways and tells the ratio that the answer has.
func TestPictureOfAComparison(t *testing.T) {
	t.Parallel()
	svg := picture(t, pathComparison, readExample(t, "dry-down-comparison.request").Value, mediaTypeSVG).Body
	for _, want := range []string{">room<", "bag in refrigerator: 1.7", `class="course"`} {
		if !bytes.Contains(svg, []byte(want)) {
			t.Errorf("no %s in the picture", want)
		}
	}
}
