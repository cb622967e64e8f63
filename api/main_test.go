package api

import (
	"encoding/json"
	"net/http"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

func TestMain(m *testing.M) { os.Exit(apitest.Main(m, ProblemTypes())) }

const (
	pathCheck = "/v1/formulas/check"
	pathScale = "/v1/formulas/scale"

	pathDegreeHours = "/v1/fermentation/degree-hours"
	pathDryDown     = "/v1/dry-down/projection"
)

// orderPaths are the paths that take an order.
var orderPaths = []string{pathCheck, pathScale, pathDegreeHours, pathDryDown}

// goodCheck is a small order for a check, of an invented formula, whose parts
// the tests of bad input replace.
const goodCheck = `{"formula":{"name":"Test ring (invented)","product":"dry-sausage",` +
	`"parts":[{"material":"pork-shoulder-whole-lean-and-fat","share_percent":100}],` +
	`"additions":[{"role":"cure","cure":{"key":"cure-1"},"rate":{"value":2.5,"unit":"g_per_kg"}}]},` +
	`"rulebooks":["us"],"date":"2026-11-25"}`

// testTime is what the clock of the tests shows.
func testTime() time.Time { return time.Date(2026, time.November, 25, 9, 30, 0, 0, time.UTC) }

// theHandler is the service with its defaults, for the tests that need no other.
var theHandler = sync.OnceValues(func() (http.Handler, error) { return New(Config{Clock: testTime}) })

// testClient returns a client of the service with its defaults.
func testClient(t *testing.T) *apitest.Client {
	t.Helper()
	handler, err := theHandler()
	if err != nil {
		t.Fatal(err)
	}
	return apitest.New(handler)
}

// clientOf returns a client of a service of its own.
func clientOf(t *testing.T, cfg Config) *apitest.Client {
	t.Helper()
	if cfg.Clock == nil {
		cfg.Clock = testTime
	}
	handler, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return apitest.New(handler)
}

// replace returns goodCheck with one part of it replaced, which must be there
// once.
func replace(t *testing.T, old, with string) []byte {
	t.Helper()
	if n := strings.Count(goodCheck, old); n != 1 {
		t.Fatalf("%q is in the good order %d times, not once", old, n)
	}
	return []byte(strings.Replace(goodCheck, old, with, 1))
}

// change is a part of a good order, and what takes its place.
type change struct{ old, with string }

// membersAreRead fails for each change of a good order that changes nothing in
// the answer.
func membersAreRead(t *testing.T, path, good string, changes []change) {
	t.Helper()
	for _, c := range changes {
		t.Run(c.with, func(t *testing.T) {
			t.Parallel()
			if strings.Count(good, c.old) != 1 {
				t.Fatalf("%q is in the good order %d times, not once", c.old, strings.Count(good, c.old))
			}
			one := testClient(t).Post(t, path, []byte(good))
			other := testClient(t).Post(t, path, []byte(strings.Replace(good, c.old, c.with, 1)))
			if one.Status != 200 || other.Status != 200 {
				t.Fatalf("status %d and %d: %s", one.Status, other.Status, other.Body)
			}
			if string(one.Body) == string(other.Body) {
				t.Error("the member changes nothing")
			}
		})
	}
}

// requestExamples returns the body of each request example that the contract
// has for a POST, by its name.
func requestExamples(tb testing.TB, path string) map[string][]byte {
	tb.Helper()
	document, err := openapi.Document()
	if err != nil {
		tb.Fatal(err)
	}
	bodies := make(map[string][]byte)
	for name, example := range document.Paths.Value(path).Post.RequestBody.Value.Content["application/json"].Examples {
		if bodies[name], err = json.Marshal(example.Value.Value); err != nil {
			tb.Fatal(err)
		}
	}
	return bodies
}
