package api

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/api/drawing"
	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// picture asks for an answer as a picture.
func picture(t *testing.T, path string, body []byte, accept string) apitest.Answer {
	t.Helper()
	return testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: path, Body: body, Header: http.Header{"Accept": {accept}}})
}

// Every example can be had as both pictures, each can be decoded, and the same
// question is answered with the same bytes.
func TestPictures(t *testing.T) {
	t.Parallel()
	for _, path := range []string{pathDegreeHours, pathDryDown, pathAcidProjection, pathComparison} {
		for name, body := range requestExamples(t, path) {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				svg, raster := picture(t, path, body, mediaTypeSVG), picture(t, path, body, mediaTypePNG)
				for want, a := range map[string]apitest.Answer{mediaTypeSVG: svg, mediaTypePNG: raster} {
					if got := a.Header.Get("Content-Type"); a.Status != http.StatusOK || got != want {
						t.Fatalf("status %d, Content-Type %q, want %q", a.Status, got, want)
					}
					if got := strings.Join(a.Header.Values("Vary"), ", "); !strings.Contains(got, "Accept") {
						t.Errorf("Vary is %q", got)
					}
					if again := picture(t, path, body, want); !bytes.Equal(a.Body, again.Body) {
						t.Errorf("%s: two answers differ", want)
					}
				}
				wantSVG(t, svg.Body)
				image, err := png.Decode(bytes.NewReader(raster.Body))
				if err != nil {
					t.Fatal(err)
				}
				if got := image.Bounds().Size(); got.X != drawing.Width*drawing.PNGScale || got.Y != drawing.Height*drawing.PNGScale {
					t.Errorf("size is %v", got)
				}
			})
		}
	}
}

// wantSVG fails for what is no well-formed SVG with a title and a description.
func wantSVG(t *testing.T, text []byte) {
	t.Helper()
	decoder := xml.NewDecoder(bytes.NewReader(text))
	elements := map[string]int{}
	for first := true; ; {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if start, ok := token.(xml.StartElement); ok {
			if first && start.Name.Local != "svg" {
				t.Errorf("begins with %s", start.Name.Local)
			}
			first = false
			elements[start.Name.Local]++
		}
	}
	for _, name := range []string{"title", "desc", "path"} {
		if elements[name] == 0 {
			t.Errorf("there is no %s", name)
		}
	}
}

// The chart is of the rule that decides, or else of the stricter one; and what it
// says is what the JSON says. 30 h at 75.5 °F are 465 °F h of 1200, or 257 °C h of
// 665; 30*(75.5-60) = 465, 30*(24 1/6 - 15.6) = 257.
func TestChartOfTheDecidingRule(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ with, want string }{
		{`"rulebook":"us"`, "465 (443–487) of 1200 °F h"},
		{`"rulebook":"ca"`, "257 (245–269) of 665 °C h"},
		{`"rulebook":"eu"`, "465 (443–487) of 1200 °F h"},
	} {
		text := string(picture(t, pathDegreeHours, instead(t, goodSteps, `"rulebook":"us"`, tc.with), mediaTypeSVG).Body)
		if !strings.Contains(text, tc.want) {
			t.Errorf("%s: the chart lacks %q: %.700s", tc.with, tc.want, text)
		}
	}
}

// 24 h at 37.5 °C keep the Fahrenheit rule and exceed the Celsius rule: 24*(99.5-60) is
// 948 of 1000, 24*(37.5-15.6) is 525.6 of 500. Where neither decides, the chart must
// not say that all is well.
func TestChartOfTheStricterRule(t *testing.T) {
	t.Parallel()
	const body = `{"steps":[{"temperature":{"value":37.5,"unit":"degC"},"hours":24}],"ph_readings":[{"ph":5.2,"after_hours":24}],` +
		`"thermometer_uncertainty":{"value":0,"unit":"degC"}}`
	text := string(picture(t, pathDegreeHours, []byte(body), mediaTypeSVG).Body)
	if !strings.Contains(text, "of 500 °C h") || strings.Contains(text, "limit kept") {
		t.Errorf("want the Celsius rule, exceeded, got %.700s", text)
	}
}

// The sum starts with nothing, passes what the course had come to after each step
// or at readings of a log, and ends where the clock does. By hand: 10 h at 70 °F
// are 100 °F h, 20 h at 80 °F 400 more; of the last 10 h at 90 °F 5 are counted, 150
// more.
func TestSumsOfTheChart(t *testing.T) {
	t.Parallel()
	const steps = `{"steps":[{"temperature":{"value":70,"unit":"degF"},"hours":10},{"temperature":{"value":80,"unit":"degF"},"hours":20},` +
		`{"temperature":{"value":90,"unit":"degF"},"hours":10}],"ph_readings":[{"ph":5.2,"after_hours":35}],"thermometer_uncertainty":{"value":0,"unit":"degC"}}`
	wantSums(t, steps, []drawing.SumPoint{{}, {Hours: 10, DegreeHours: 100}, {Hours: 30, DegreeHours: 500}, {Hours: 35, DegreeHours: 650}})
	// From 70 to 90 °F over 10 h: 200 °F h, then 300 more, then the end at the same
	// temperature after 5 of 10 h.
	const log = `{"log":[{"at":"2026-11-02T00:00:00Z","temperature":{"value":70,"unit":"degF"}},{"at":"2026-11-02T10:00:00Z","temperature":{"value":90,"unit":"degF"}},` +
		`{"at":"2026-11-02T20:00:00Z","temperature":{"value":90,"unit":"degF"}},{"at":"2026-11-03T06:00:00Z","temperature":{"value":90,"unit":"degF"}}],` +
		`"longest_gap_hours":14,"ph_readings":[{"ph":5.2,"at":"2026-11-03T01:00:00Z"}],"thermometer_uncertainty":{"value":0,"unit":"degC"}}`
	wantSums(t, log, []drawing.SumPoint{{}, {Hours: 10, DegreeHours: 200}, {Hours: 20, DegreeHours: 500}, {Hours: 25, DegreeHours: 650}})
	// All three are gaps: 90 °F is taken for the first too.
	wantSums(t, string(instead(t, log, `"longest_gap_hours":14`, `"longest_gap_hours":9`)),
		[]drawing.SumPoint{{}, {Hours: 10, DegreeHours: 300}, {Hours: 20, DegreeHours: 600}, {Hours: 25, DegreeHours: 750}})
	// From 15 °F at 5 h on: 5 * (20 + 30)/2 = 125.
	wantSums(t, string(instead(t, log, `"longest_gap_hours":14`, `"longest_gap_hours":14,"clock_start":{"at":"2026-11-02T05:00:00Z"}`)),
		[]drawing.SumPoint{{Hours: 5}, {Hours: 10, DegreeHours: 125}, {Hours: 20, DegreeHours: 425}, {Hours: 25, DegreeHours: 575}})
}

// A gap is drawn as what is taken for it, from the reading before it to the one
// after.
func TestGapsOfTheChart(t *testing.T) {
	t.Parallel()
	reading := func(at time.Duration, celsius float64) fermentation.Reading {
		return fermentation.Reading{At: at, Temperature: quantity.MustCelsius(celsius)}
	}
	for _, row := range []struct {
		name    string
		held    bool
		log     []fermentation.Reading
		gaps    []drawing.Gap
		chamber []drawing.Reading
	}{
		{
			"warmer after it", false, []fermentation.Reading{reading(0, 20), reading(time.Hour, 22), reading(4*time.Hour, 25), reading(5*time.Hour, 21)},
			[]drawing.Gap{{From: 1, To: 4}}, []drawing.Reading{{Hours: 0, Temperature: 20}, {Hours: 1, Temperature: 22}, {Hours: 1, Temperature: 25},
				{Hours: 4, Temperature: 25}, {Hours: 4, Temperature: 25}, {Hours: 5, Temperature: 21}},
		},
		{
			"held, and warmer before it", true, []fermentation.Reading{reading(0, 26), reading(2*time.Hour, 22), reading(3*time.Hour, 21)},
			[]drawing.Gap{{From: 0, To: 2}}, []drawing.Reading{{Hours: 0, Temperature: 26}, {Hours: 0, Temperature: 26}, {Hours: 2, Temperature: 26},
				{Hours: 2, Temperature: 22}, {Hours: 3, Temperature: 22}, {Hours: 3, Temperature: 21}},
		},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			c := fermentation.Course{Log: row.log, Held: row.held, Rulebook: rulebook.Canada}
			e, err := fermentation.DegreeHours(c)
			if err != nil {
				t.Fatal(err)
			}
			chart := degreeHoursChart(c, e)
			if d := cmp.Diff(row.gaps, chart.Gaps); d != "" {
				t.Errorf("gaps (-want +got):\n%s", d)
			}
			if d := cmp.Diff(row.chamber, chart.Chamber, near); d != "" {
				t.Errorf("chamber (-want +got):\n%s", d)
			}
		})
	}
}

// wantSums fails for a chart with other sums, or with a range where there is no
// uncertainty.
func wantSums(t *testing.T, body string, want []drawing.SumPoint) {
	t.Helper()
	var asked openapi.DegreeHoursOrder
	if err := json.Unmarshal([]byte(body), &asked); err != nil {
		t.Fatal(err)
	}
	course, err := (&handlers{rules: newMemberRules()}).readCourse(asked)
	if err != nil {
		t.Fatal(err)
	}
	exposure, err := fermentation.DegreeHours(course)
	if err != nil {
		t.Fatal(err)
	}
	chart := degreeHoursChart(course, exposure)
	if d := cmp.Diff(want, chart.Sum, near); d != "" {
		t.Errorf("sums (-want +got):\n%s", d)
	}
	for i, r := range chart.Range {
		if r.Low != r.High || r.Hours != chart.Sum[i].Hours {
			t.Errorf("range %d is %+v beside %+v", i, r, chart.Sum[i])
		}
	}
}

// A chart has each kind of what the answer has: weigh-ins that count and that do
// not, the intervals, the target and its day.
func TestChartOfADryDown(t *testing.T) {
	t.Parallel()
	text := string(picture(t, pathDryDown, readExample(t, "dry-down-five-weigh-ins.request").Value, mediaTypeSVG).Body)
	for _, class := range []string{"band-50", "band-80", "band-90", "target"} {
		if !strings.Contains(text, `class="`+class) {
			t.Errorf("the chart has nothing of class %s", class)
		}
	}
}

// The present of a chart is where its past ends, at any instant: days are floats,
// and differ in the last bit where instants do not.
func TestChartsAtAnyInstant(t *testing.T) {
	t.Parallel()
	hung := time.Date(2026, time.January, 1, 0, 0, 0, 0, time.UTC)
	for minute := 10; minute < 20; minute++ {
		now := hung.Add(200*24*time.Hour + time.Duration(minute)*time.Minute)
		body := `{"green_weight":{"value":1,"unit":"kg"},"stuffed_at":"` + hung.Format(time.RFC3339) + `","as_of_at":"` + now.Format(time.RFC3339) +
			`","target_loss_percent":40}`
		if a := picture(t, pathDryDown, []byte(body), mediaTypeSVG); a.Status != http.StatusOK {
			t.Errorf("at %s: status %d: %s", now, a.Status, a.Body)
		}
	}
}

// What can be answered and not drawn is refused as a picture, and says how to
// have it.
func TestUndrawable(t *testing.T) {
	t.Parallel()
	body := instead(t, goodDryDown, `"as_of_at":"2026-11-12T16:00:00+01:00"`, `"as_of_at":"2199-11-12T16:00:00+01:00"`)
	if a := testClient(t).Post(t, pathDryDown, body); a.Status != http.StatusOK {
		t.Errorf("as JSON: status %d: %s", a.Status, a.Body)
	}
	for _, mediaType := range []string{mediaTypeSVG, mediaTypePNG} {
		a := picture(t, pathDryDown, body, mediaType)
		if a.Status != http.StatusUnprocessableEntity || a.Slug() != string(slugOutsideModel) {
			t.Errorf("as %s: status %d: %.300s", mediaType, a.Status, a.Body)
		}
	}
}

// What the client accepts decides; problems stay problems, and JSON says that it
// varies too.
func TestNegotiatedAnswers(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ name, accept, want string }{
		{"nothing said", "", mediaTypeJSON},
		{"anything", "*/*", mediaTypeJSON},
		{"any picture", "image/*", mediaTypeSVG},
		{"the heavier", "image/svg+xml;q=0.2, image/png;q=0.3", mediaTypePNG},
		{"JSON by weight", "image/*;q=0.2, application/json;q=0.3", mediaTypeJSON},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			req := apitest.Request{Method: http.MethodPost, Path: pathDegreeHours, Body: []byte(goodSteps)}
			if tc.accept != "" {
				req.Header = http.Header{"Accept": {tc.accept}}
			}
			a := testClient(t).Do(t, req)
			if got := a.Header.Get("Content-Type"); got != tc.want {
				t.Errorf("Content-Type is %q, want %q", got, tc.want)
			}
			if got := strings.Join(a.Header.Values("Vary"), ", "); !strings.Contains(got, "Accept") {
				t.Errorf("Vary is %q", got)
			}
		})
	}
	a := testClient(t).Do(t, apitest.Request{
		Method: http.MethodPost, Path: pathDegreeHours, Body: []byte(`{}`), Header: http.Header{"Accept": {mediaTypePNG}}, Bad: true,
	})
	if a.Slug() != string(slugInvalidValue) {
		t.Errorf("a bad order for a picture: %d %s", a.Status, a.Body)
	}
	for _, path := range []string{pathDegreeHours, pathDryDown, pathAcidProjection, pathComparison} {
		a := testClient(t).Do(t, apitest.Request{
			Method: http.MethodPost, Path: path, Body: []byte(goodSteps), Header: http.Header{"Accept": {"image/webp"}}, Bad: true,
		})
		if a.Status != http.StatusNotAcceptable || a.Slug() != string(slugNotAcceptable) {
			t.Errorf("%s as webp: %d %s", path, a.Status, a.Body)
		}
	}
}

// A PNG is compressed already; the others are worth it.
func TestPicturesAreCompressed(t *testing.T) {
	t.Parallel()
	handler, err := theHandler()
	if err != nil {
		t.Fatal(err)
	}
	for accept, want := range map[string]string{mediaTypeJSON: "gzip", mediaTypeSVG: "gzip", mediaTypePNG: ""} {
		req := httptest.NewRequestWithContext(t.Context(), http.MethodPost, pathDegreeHours, strings.NewReader(goodSteps))
		req.Header.Set("Content-Type", mediaTypeJSON)
		req.Header.Set("Accept", accept)
		req.Header.Set("Accept-Encoding", "gzip")
		recorder := httptest.NewRecorder()
		handler.ServeHTTP(recorder, req)
		if got := recorder.Header().Get("Content-Encoding"); got != want || recorder.Code != http.StatusOK {
			t.Errorf("%s: status %d, Content-Encoding %q, want %q", accept, recorder.Code, got, want)
		}
	}
}
