package api

import (
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// goodDryingTrial is a small trial of two courses, of invented pieces, whose parts the
// tests replace.
const goodDryingTrial = `{"courses":[` +
	`{"name":"room","room":{"temperature":{"value":13,"unit":"degC"},"relative_humidity_percent":78,"air_speed_m_per_s":0.2},"pieces":[` +
	`{"name":"R1","green_weight":{"value":1000,"unit":"g"},"stuffed_at":"2026-02-01T09:00:00+01:00","hung_at":"2026-02-01T15:00:00+01:00","diameter":{"value":52,"unit":"mm"},` +
	`"weigh_ins":[{"at":"2026-02-11T09:00:00+01:00","weight":{"value":850,"unit":"g"}},{"at":"2026-02-21T09:00:00+01:00","weight":{"value":750,"unit":"g"}}],` +
	`"final":{"core_water_activity":0.91,"rim_water_activity":0.88,"moisture_percent":40}},` +
	`{"name":"R2","green_weight":{"value":2.2,"unit":"lb"},"stuffed_at":"2026-02-01T09:00:00+01:00","diameter":{"value":52,"unit":"mm"},` +
	`"weigh_ins":[{"at":"2026-02-21T10:00:00+01:00","weight":{"value":1.7,"unit":"lb"}}]}]},` +
	`{"name":"cellar","room":{"temperature":{"value":10,"unit":"degC"},"relative_humidity_percent":75,"air_speed_m_per_s":0.1},"pieces":[` +
	`{"name":"C1","green_weight":{"value":990,"unit":"g"},"stuffed_at":"2026-02-01T09:00:00+01:00","diameter":{"value":54,"unit":"mm"},` +
	`"weigh_ins":[{"at":"2026-03-01T09:00:00+01:00","weight":{"value":770,"unit":"g"}}],` +
	`"final":{"core_water_activity":0.92,"rim_water_activity":0.9,"moisture_percent":41}}]}],` +
	`"composition":{"water_percent":58,"protein_percent":16,"fat_percent":21,"salt_percent":2.7,"sugar_percent":0.5},"target_loss_percent":15}`

// Each answer says in its description how its main figures were checked.
func TestExamplesOfComparisons(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"comparison-bag-or-room", "comparison-three-casings"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathComparison, readExample(t, name+".request").Value), near)
		})
	}
}

func compared(t *testing.T, body []byte) openapi.DryingComparison {
	t.Helper()
	a := testClient(t).Post(t, pathComparison, body)
	if a.Status != http.StatusOK {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	return apitest.Decode[openapi.DryingComparison](t, a)
}

// By hand: at the end the room is at 25 and 22.727 percent, the cellar at 22.222;
// the diameters are 54 to 52; core less rim is 0.03 and 0.02, the higher end 0.91
// and 0.92. A single piece of either has no interval of core less rim.
func TestFiguresOfAComparison(t *testing.T) {
	t.Parallel()
	c := compared(t, []byte(goodDryingTrial))
	x := c.Contrasts[0]
	got := map[openapi.ComparedFigureKind][3]float64{}
	for _, d := range x.Differences {
		got[d.Kind] = [3]float64{d.First, d.Course, d.Difference}
		if d.Kind == openapi.ComparedFigureKindCoreOverRim && (d.Told != nil || d.Is != openapi.ToldApartNotShown) {
			t.Errorf("core over rim of one piece each is told: %+v", d)
		}
	}
	r2, c1 := 100*(1-1.7/2.2), 100*(1-770.0/990)
	for kind, want := range map[openapi.ComparedFigureKind][3]float64{
		openapi.ComparedFigureKindLastLoss:      {(25 + r2) / 2, c1, c1 - (25+r2)/2},
		openapi.ComparedFigureKindWaterActivity: {0.91, 0.92, 0.01}, openapi.ComparedFigureKindMoisture: {40, 41, 1},
		openapi.ComparedFigureKindCoreOverRim: {0.03, 0.02, -0.01},
	} {
		if d := cmp.Diff(want, got[kind], cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-4 })); d != "" {
			t.Errorf("%s (-want +got):\n%s", kind, d)
		}
	}
	if want := 54.0 / 52; math.Abs(*x.Air.DiameterRatio-want) > 1e-5 {
		t.Errorf("diameters are %v, want %v", *x.Air.DiameterRatio, want)
	}
	if x.Basis != openapi.SpreadBasisOnePiece || x.Course != "#/courses/1" || x.Name != "cellar" {
		t.Errorf("%s of %s %s", x.Basis, x.Course, x.Name)
	}
	if got := c.Courses[0].Pieces[0].WeighIns[1].Pointer; got != "#/courses/0/pieces/0/weigh_ins/1" {
		t.Errorf("the weigh-in is at %s", got)
	}
	if math.Abs(x.Time.ValueRatio*x.Rate.ValueRatio-1) > 1e-5 {
		t.Errorf("time %v and rate %v", x.Time.ValueRatio, x.Rate.ValueRatio)
	}
}

func TestEveryMemberOfATrialIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathComparison, goodDryingTrial, []change{
		{`"name":"cellar"`, `"name":"barn"`},
		{`"name":"C1"`, `"name":"C2"`},
		{`"temperature":{"value":13,"unit":"degC"}`, `"temperature":{"value":50,"unit":"degF"}`},
		{`"relative_humidity_percent":75`, `"relative_humidity_percent":70`},
		{`"air_speed_m_per_s":0.1`, `"air_speed_m_per_s":0.5`},
		{`"green_weight":{"value":990,"unit":"g"}`, `"green_weight":{"value":1,"unit":"kg"}`},
		{`"hung_at":"2026-02-01T15:00:00+01:00"`, `"hung_at":"2026-02-02T15:00:00+01:00"`},
		{`"diameter":{"value":54,"unit":"mm"}`, `"diameter":{"value":5,"unit":"cm"}`},
		{`"at":"2026-03-01T09:00:00+01:00"`, `"at":"2026-03-02T09:00:00+01:00"`},
		{`"value":770,"unit":"g"`, `"value":760,"unit":"g"`},
		{`"core_water_activity":0.92`, `"core_water_activity":0.93`},
		{`"rim_water_activity":0.9,`, `"rim_water_activity":0.91,`},
		{`"moisture_percent":41`, `"moisture_percent":42`},
		{`"water_percent":58`, `"water_percent":57`},
		{`"salt_percent":2.7`, `"salt_percent":3`},
		{`"sugar_percent":0.5`, `"sugar_percent":1`},
		{`"target_loss_percent":15`, `"target_loss_percent":16`},
	})
}

func TestUnitsOfAComparison(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.DryingComparison](t, testClient(t).Post(t, pathComparison+"?units=us", []byte(goodDryingTrial)))
	if got := a.Courses[0].Pieces[1].WeighIns[0].Weight; got.Unit != "lb" || math.Abs(got.Value-1.7) > 1e-5 {
		t.Errorf("weighed %v", got)
	}
}

func TestFaultsOfATrial(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, old, with string
		want            refused
	}{
		{"one name twice", `"name":"cellar"`, `"name":"room"`, invalid("#/courses/1/name duplicate")},
		{"one piece twice", `"name":"R2"`, `"name":"R1"`, invalid("#/courses/0/pieces/1/name duplicate")},
		{"a name of blanks", `"name":"R2"`, `"name":"  "`, invalid("#/courses/0/pieces/1/name required")},
		{"no name", `"name":"cellar",`, ``, invalid("#/courses/1/name required")},
		{"an empty name", `"name":"cellar"`, `"name":""`, invalid("#/courses/1/name minLength")},
		{"out of order", `"at":"2026-02-21T09:00:00+01:00"`, `"at":"2026-02-10T09:00:00+01:00"`, invalid("#/courses/0/pieces/0/weigh_ins/1/at out-of-order")},
		{"before stuffing", `"at":"2026-03-01T09:00:00+01:00"`, `"at":"2026-01-01T09:00:00+01:00"`, invalid("#/courses/1/pieces/0/weigh_ins/0/at before-stuffing")},
		{"hung before stuffed", `"hung_at":"2026-02-01T15:00:00+01:00"`, `"hung_at":"2026-02-01T05:00:00+01:00"`, invalid("#/courses/0/pieces/0/hung_at before-stuffing")},
		{"a year of the pharaohs", `"hung_at":"2026-02-01T15:00:00+01:00"`, `"hung_at":"1026-02-01T15:00:00+01:00"`, invalid("#/courses/0/pieces/0/hung_at out-of-range")},
		{"a weigh-in of a far year", `"at":"2026-03-01T09:00:00+01:00"`, `"at":"9026-03-01T09:00:00+01:00"`, invalid("#/courses/1/pieces/0/weigh_ins/0/at out-of-range")},
		{"an oven", `"value":10,"unit":"degC"`, `"value":60,"unit":"degC"`, invalid("#/courses/1/room/temperature out-of-range")},
		{"a temperature that can't be", `"value":10,"unit":"degC"`, `"value":-300,"unit":"degC"`, invalid("#/courses/1/room/temperature/value minimum")},
		{"humidity of more than all", `"relative_humidity_percent":75`, `"relative_humidity_percent":101`, invalid("#/courses/1/room/relative_humidity_percent maximum")},
		{"a barrel", `"value":54,"unit":"mm"`, `"value":54,"unit":"in"`, invalid("#/courses/1/pieces/0/diameter out-of-range")},
		{"a green weight of nothing", `"value":990`, `"value":0`, invalid("#/courses/1/pieces/0/green_weight/value minimum")},
		{"an activity above one", `"core_water_activity":0.92`, `"core_water_activity":1.2`, invalid("#/courses/1/pieces/0/final/core_water_activity maximum")},
		{"moisture of more than all", `"moisture_percent":41`, `"moisture_percent":141`, invalid("#/courses/1/pieces/0/final/moisture_percent maximum")},
		{"composition over the whole", `"water_percent":58`, `"water_percent":80`, invalid(
			"#/composition/fat_percent sum", "#/composition/protein_percent sum", "#/composition/salt_percent sum",
			"#/composition/sugar_percent sum", "#/composition/water_percent sum")},
		{"a target of all water", `"target_loss_percent":15`, `"target_loss_percent":80`, invalid("#/target_loss_percent out-of-range")},
		{"a target NaN", `"target_loss_percent":15`, `"target_loss_percent":NaN`, malformed("#/target_loss_percent syntax")},
		{"a misspelt member", `"target_loss_percent"`, `"target_los_percent"`, invalid("#/target_los_percent additional-member")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathComparison, Body: instead(t, goodDryingTrial, tc.old, tc.with), Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
	for name, body := range map[string]string{
		"one course": `{"courses":[{"name":"a","pieces":[{"name":"b","green_weight":{"value":1,"unit":"kg"},"stuffed_at":"2026-02-01T09:00:00Z"}]}]}`,
		"no pieces":  `{"courses":[{"name":"a","pieces":[]},{"name":"b","pieces":[]}]}`,
	} {
		a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathComparison, Body: []byte(body), Bad: true})
		if a.Status != http.StatusUnprocessableEntity || !strings.Contains(string(a.Body), "minItems") {
			t.Errorf("%s: status %d: %s", name, a.Status, a.Body)
		}
	}
}

// Trials at the ends of what the contract allows have an answer that keeps the
// contract, as JSON and as a picture, or a problem that says why there is none.
func TestExtremeTrials(t *testing.T) {
	t.Parallel()
	const piece = `{"name":"p%d","green_weight":%s,"stuffed_at":"1970-01-01T00:00:00Z"%s}`
	for i, room := range []string{
		``, `,"room":{"temperature":{"value":40,"unit":"degC"},"relative_humidity_percent":0,"air_speed_m_per_s":10}`,
		`,"room":{"temperature":{"value":-5,"unit":"degC"},"relative_humidity_percent":100}`,
	} {
		for _, weighed := range []string{
			``, `,"weigh_ins":[]`, `,"hung_at":"2199-12-31T23:59:59Z"`,
			`,"weigh_ins":[{"at":"2199-12-31T00:00:00Z","weight":{"value":500,"unit":"g"}}],"diameter":{"value":5,"unit":"mm"}`,
			`,"weigh_ins":[{"at":"1970-01-01T00:15:00.000000001Z","weight":{"value":980,"unit":"g"}}],"diameter":{"value":250,"unit":"mm"}`,
			`,"weigh_ins":[{"at":"1970-01-01T01:00:00Z","weight":{"value":1009,"unit":"g"}},{"at":"1970-01-09T01:00:00Z","weight":{"value":1000,"unit":"g"}}],"final":{"core_water_activity":0,"rim_water_activity":1,"moisture_percent":100}`,
			`,"hung_at":"1970-03-01T00:00:00Z","weigh_ins":[{"at":"1970-02-01T01:00:00Z","weight":{"value":700,"unit":"g"}},{"at":"1970-03-02T01:00:00Z","weight":{"value":240,"unit":"g"}}]`,
			`,"weigh_ins":[{"at":"1970-01-01T01:00:00Z","weight":{"value":0.000001,"unit":"mg"}},{"at":"1970-01-01T02:00:00Z","weight":{"value":1000000,"unit":"kg"}}]`,
		} {
			first := fmt.Sprintf(piece, 1, `{"value":1000,"unit":"g"}`, `,"weigh_ins":[{"at":"1970-01-03T00:00:00Z","weight":{"value":940,"unit":"g"}},{"at":"1970-01-21T00:00:00Z","weight":{"value":700,"unit":"g"}}]`)
			other := fmt.Sprintf(piece, 2, `{"value":1000,"unit":"g"}`, weighed)
			for _, pieces := range []string{other, first + "," + other} {
				body := fmt.Sprintf(`{"courses":[{"name":"a","pieces":[%s]%s},{"name":"b","pieces":[%s]%s}],"target_loss_percent":%s}`,
					first, room, pieces, room, []string{"0.000001", "75.999999", "30"}[i])
				a := testClient(t).Post(t, pathComparison, []byte(body))
				if a.Status != http.StatusOK {
					t.Errorf("status %d: %s\n%s", a.Status, a.Body, body)
				}
				svg := picture(t, pathComparison, []byte(body), mediaTypeSVG)
				if svg.Status != http.StatusOK && svg.Status != http.StatusUnprocessableEntity {
					t.Errorf("status %d of the picture: %s\n%s", svg.Status, svg.Body, body)
				}
			}
		}
	}
}

// However many pieces there is something to say of, the notes stay few.
func TestNotesOfManyPieces(t *testing.T) {
	t.Parallel()
	var courses []string
	for c := range 12 {
		var pieces []string
		for p := range 24 {
			pieces = append(pieces, fmt.Sprintf(`{"name":"%02d%s","green_weight":{"value":1,"unit":"kg"},"stuffed_at":"2026-02-01T00:00:00Z","hung_at":"2026-02-04T00:00:00Z",`+
				`"weigh_ins":[{"at":"2026-02-%02dT00:00:00Z","weight":{"value":900,"unit":"g"}}]}`, p, strings.Repeat(`\u0001`, 78), 3+p))
		}
		courses = append(courses, fmt.Sprintf(`{"name":"%02d%s","pieces":[%s]}`, c, strings.Repeat(`\u0001`, 78), strings.Join(pieces, ",")))
	}
	c := compared(t, []byte(`{"courses":[`+strings.Join(courses, ",")+`]}`))
	count := map[string]int{}
	for _, n := range c.Notes {
		count[n.Code]++
	}
	for code, want := range map[string]int{"no-weigh-in": 12, "ends-early": 12, "loss-at-hanging-unknown": 12} {
		if count[code] != want {
			t.Errorf("%s is said %d times, want %d", code, count[code], want)
		}
	}
}

// The largest trial is answered in bounded time and within the contract.
func TestLargestTrial(t *testing.T) {
	t.Parallel()
	var courses []string
	for c := range 12 {
		var pieces []string
		for p := range 24 {
			var weighed []string
			for w := range 12 {
				weighed = append(weighed, fmt.Sprintf(`{"at":"2026-02-%02dT0%d:00:00Z","weight":{"value":%d,"unit":"g"}}`, 2+2*w, p%10, 1000-(20+c)*(w+1)+p))
			}
			pieces = append(pieces, fmt.Sprintf(`{"name":"%d","green_weight":{"value":1030,"unit":"g"},"stuffed_at":"2026-02-01T00:00:00Z","weigh_ins":[%s]}`, p, strings.Join(weighed, ",")))
		}
		courses = append(courses, fmt.Sprintf(`{"name":"course %d","pieces":[%s]}`, c, strings.Join(pieces, ",")))
	}
	c := compared(t, []byte(`{"courses":[`+strings.Join(courses, ",")+`]}`))
	if len(c.Contrasts) != 11 || c.Courses[11].Counts != 24 {
		t.Errorf("%d contrasts, %d pieces", len(c.Contrasts), c.Courses[11].Counts)
	}
	for i, x := range c.Contrasts[1:] {
		if !(x.Time.ValueRatio < c.Contrasts[i].Time.ValueRatio) || x.TimeIs != openapi.ToldApartLower {
			t.Errorf("contrast %d: %v, %s", i+1, x.Time.ValueRatio, x.TimeIs)
		}
	}
}
