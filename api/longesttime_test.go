package api

import (
	"math"
	"net/http"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

const pathLongestTime = "/v1/fermentation/longest-time"

// The answer says in its description how its figures were checked.
func TestExamplesOfLongestTimes(t *testing.T) {
	t.Parallel()
	golden(t, "longest-time.answer", testClient(t).Get(t, pathLongestTime+"?value=32.5&unit=degC"), near)
}

// By hand, limit over excess: 0 is never, and -1 not printed.
func TestLongestTimes(t *testing.T) {
	t.Parallel()
	const never, unprinted = 0.0, -1.0
	type times struct{ f, c, printedF, printedC float64 }
	for query, row := range map[string]struct {
		times
		by    openapi.DegreeHourRule
		notes []string
	}{
		"value=75&unit=degF":   {times{80, 665 / (43/1.8 - 15.6), 80, 80}, "fahrenheit", nil},                                      // 23.889 °C
		"value=30&unit=degC":   {times{1200.0 / 26, 665 / 14.4, 46, 46.2}, "fahrenheit", nil},                                      // 86 °F
		"value=37.5&unit=degC": {times{1000 / 39.5, 500 / 21.9, 25, 25.3}, "celsius", nil},                                         // 99.5 °F
		"value=18&unit=degC":   {times{1200 / 4.4, 665 / 2.4, unprinted, unprinted}, "fahrenheit", nil},                            // 64.4 °F
		"value=48&unit=degC":   {times{900 / 58.4, 500 / 32.4, unprinted, 15.4}, "fahrenheit", []string{"hotter-than-table"}},      // 118.4 °F
		"value=55&unit=degC":   {times{900 / 71.0, 500 / 39.4, unprinted, unprinted}, "fahrenheit", []string{"hotter-than-table"}}, // 131 °F
		"value=60&unit=degF":   {times{never, never, unprinted, unprinted}, "fahrenheit", []string{"at-or-below-base"}},
		"value=15.6&unit=degC": {times{15000, never, unprinted, unprinted}, "fahrenheit", []string{"at-or-below-base"}}, // 60.08 °F
		"value=4&unit=degC":    {times{never, never, unprinted, unprinted}, "fahrenheit", []string{"at-or-below-base"}},
	} {
		t.Run(query, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Get(t, pathLongestTime+"?"+query)
			if a.Status != http.StatusOK {
				t.Fatalf("status %d: %s", a.Status, a.Body)
			}
			w := apitest.Decode[openapi.LongestTimeAnswer](t, a)
			shorter := math.Inf(1)
			for name, of := range map[string]struct {
				openapi.LongestTimeByRule
				want, printed float64
			}{"°F": {w.Fahrenheit, row.f, row.printedF}, "°C": {w.Celsius, row.c, row.printedC}} {
				if (of.Hours == nil) != (of.want == never) || (of.Never != nil) != (of.want == never) || (of.PrintedHours == nil) != (of.printed == unprinted) {
					t.Fatalf("%s: want %v h, %v printed, got %+v", name, of.want, of.printed, of.LongestTimeByRule)
				}
				if of.Hours != nil {
					wantNear(t, name, of.want, *of.Hours)
					shorter = min(shorter, of.want)
				}
				if of.PrintedHours != nil {
					wantNear(t, name+" printed", of.printed, *of.PrintedHours)
				}
			}
			if w.Shorter.Hours != nil {
				wantNear(t, "the shorter", shorter, *w.Shorter.Hours)
			}
			if w.Shorter.By != row.by || (w.Shorter.Hours == nil) != math.IsInf(shorter, 1) {
				t.Errorf("want %v h by %s, got %+v", shorter, row.by, w.Shorter)
			}
			codes := make([]string, 0, len(w.Notes))
			for _, n := range w.Notes {
				codes = append(codes, n.Code)
			}
			if d := cmp.Diff(slices.Concat([]string{"table-rounding"}, row.notes, []string{"one-organism"}), codes); d != "" {
				t.Errorf("notes (-want +got):\n%s", d)
			}
		})
	}
}

func TestTemperaturesOfNoChamber(t *testing.T) {
	t.Parallel()
	for query, want := range map[string]string{
		"value=400&unit=degF": "out-of-range", "value=-300&unit=degC": "out-of-range", "value=-11&unit=degC": "out-of-range",
		"value=20&unit=K": "enum", "value=2000&unit=degC": "maximum", "unit=degC": "required",
	} {
		a := testClient(t).Do(t, apitest.Request{Method: http.MethodGet, Path: pathLongestTime + "?" + query, Bad: true})
		p := apitest.Decode[openapi.Problem](t, a)
		if a.Status != http.StatusUnprocessableEntity && a.Status != http.StatusBadRequest || len(p.Errors) != 1 || p.Errors[0].Code != want || p.Errors[0].Parameter == nil {
			t.Errorf("%s: want %s, got status %d: %s", query, want, a.Status, a.Body)
		}
	}
}
