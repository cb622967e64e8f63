package api

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"greenweight/api/apitest"
	"greenweight/openapi"
	"greenweight/service/formulas"
	"greenweight/service/lots"
	"greenweight/service/shops"
	"greenweight/service/store"
	"greenweight/service/store/sqlstore"
)

func TestMain(m *testing.M) { os.Exit(run(m)) }

// scratch is a folder that lives as long as the tests of this package, for the
// store that several of them share.
var scratch string

func run(m *testing.M) (code int) {
	folder, err := os.MkdirTemp("", "greenweight-api-")
	if err != nil {
		fmt.Fprintln(os.Stderr, "make a folder for the store:", err)
		return 1
	}
	defer func() {
		if err := os.RemoveAll(folder); err != nil {
			fmt.Fprintln(os.Stderr, "remove the folder of the store:", err)
			code = 1
		}
	}()
	scratch = folder
	return apitest.Main(m, ProblemTypes())
}

const (
	pathCheck = "/v1/formulas/check"
	pathScale = "/v1/formulas/scale"
	pathBlend = "/v1/formulas/blend"

	pathShopping = "/v1/formulas/shopping-list"

	pathDegreeHours    = "/v1/fermentation/degree-hours"
	pathPathogens      = "/v1/pathogens/check"
	pathFinish         = "/v1/finish/check"
	pathAcid           = "/v1/fermentation/acid"
	pathCultureDose    = "/v1/fermentation/culture-dose"
	pathSchedule       = "/v1/fermentation/schedule"
	pathDryDown        = "/v1/dry-down/projection"
	pathCourse         = "/v1/dry-down/course"
	pathAcidProjection = "/v1/fermentation/projection"
	pathAir            = "/v1/air"
	pathTarget         = "/v1/dry-down/target"
	pathComparison     = "/v1/dry-down/comparison"
	pathPanel          = "/v1/panel/evaluate"
	pathServingPlan    = "/v1/panel/serving-plan"
)

// orderPaths are the paths that take an order.
var orderPaths = []string{
	pathCheck, pathScale, pathBlend, pathShopping, pathDegreeHours, pathPathogens, pathDryDown, pathAcid, pathCultureDose, pathAcidProjection, pathSchedule,
	pathAir, pathTarget, pathCourse, pathFinish, pathPanel, pathServingPlan, pathComparison,
}

// unitlessPaths are those of them whose answers are percent and numbers, so
// that there are no units to ask for.
var unitlessPaths = []string{pathPanel, pathServingPlan}

// goodCheck is a small order for a check, of an invented formula, whose parts
// the tests of bad input replace.
const goodCheck = `{"formula":{"name":"Test ring (invented)","product":"dry-sausage",` +
	`"parts":[{"material":"pork-shoulder-whole-lean-and-fat","share_percent":100}],` +
	`"additions":[{"role":"cure","cure":{"key":"cure-1"},"rate":{"value":2.5,"unit":"g_per_kg"}}]},` +
	`"rulebooks":["us"],"date":"2026-11-25"}`

// testTime is what the clock of the tests shows.
func testTime() time.Time { return time.Date(2026, time.November, 25, 9, 30, 0, 0, time.UTC) }

// theKeeping is what keeps lots for the tests that need no store of their own.
var theKeeping = sync.OnceValues(func() (Config, error) {
	cfg, _, err := keep(context.Background(), scratch, testTime, nil)
	return cfg, err
})

// keep returns the settings of an open service that keeps its lots in a folder,
// and its store. Ids are made by newID, or anew.
func keep(ctx context.Context, folder string, clock func() time.Time, newID func() string) (Config, store.Store, error) {
	kept, err := sqlstore.Open(ctx, "sqlite:"+filepath.Join(folder, "lots.db"), sqlstore.Options{Migrate: true})
	if err != nil {
		return Config{}, nil, err
	}
	tenants := shops.New(kept, clock)
	if err := tenants.Prepare(ctx); err != nil {
		return Config{}, nil, err
	}
	if newID == nil {
		newID = func() string { return uuid.Must(uuid.NewV7()).String() }
	}
	keeper, err := lots.New(ctx, lots.Settings{Store: kept, Clock: clock, NewID: newID, Read: ReadEntry})
	if err != nil {
		return Config{}, nil, err
	}
	saver, err := formulas.New(ctx, formulas.Settings{Store: kept, Clock: clock, NewID: newID})
	return Config{Clock: clock, Formulas: saver, Lots: keeper, Shops: tenants, OpenShop: true}, kept, err
}

// theHandler is the service with its defaults, for the tests that need no other.
var theHandler = sync.OnceValues(func() (http.Handler, error) {
	cfg, err := theKeeping()
	if err != nil {
		return nil, err
	}
	return New(cfg)
})

// testClient returns a client of the service with its defaults.
func testClient(t *testing.T) *apitest.Client {
	t.Helper()
	handler, err := theHandler()
	if err != nil {
		t.Fatal(err)
	}
	return apitest.New(handler)
}

// keepingWith returns the settings with what they lack of the shared ones.
func keepingWith(t *testing.T, cfg Config) Config {
	t.Helper()
	shared, err := theKeeping()
	if err != nil {
		t.Fatal(err)
	}
	if cfg.Clock == nil {
		cfg.Clock = testTime
	}
	if cfg.Lots == nil {
		cfg.Formulas, cfg.Lots, cfg.Shops = shared.Formulas, shared.Lots, shared.Shops
	}
	return cfg
}

// clientOf returns a client of a service of its own.
func clientOf(t *testing.T, cfg Config) *apitest.Client {
	t.Helper()
	handler, err := New(keepingWith(t, cfg))
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
// has for a POST, by its name, but for those of which it says that they have no
// answer.
func requestExamples(tb testing.TB, path string) map[string][]byte {
	tb.Helper()
	document, err := openapi.Document()
	if err != nil {
		tb.Fatal(err)
	}
	bodies := make(map[string][]byte)
	for name, example := range document.Paths.Value(path).Post.RequestBody.Value.Content["application/json"].Examples {
		if refused := document.Paths.Value(path).Post.Responses.Value("422"); refused != nil && refused.Value.Content["application/problem+json"].Examples[name] != nil {
			continue
		}
		if bodies[name], err = json.Marshal(example.Value.Value); err != nil {
			tb.Fatal(err)
		}
	}
	return bodies
}
