package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/labstack/echo/v4"
	"github.com/prometheus/client_golang/prometheus"

	"greenweight/api/apitest"
)

func TestRequestID(t *testing.T) {
	t.Parallel()
	fresh := regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`) // RFC 9562, version 7
	for _, tc := range []struct {
		name, given string
		kept        bool
	}{
		{"none", "", false},
		{"of the client", "scale-7_A.b", true},
		{"shortest", "12345678", true},
		{"longest", strings.Repeat("a", 64), true},
		{"too short", "1234567", false},
		{"too long", strings.Repeat("a", 65), false},
		{"with a space", "1234 5678", false},
		{"with a line feed", "12345678\n", false},
		{"with markup", "<script>1</script>", false},
		{"not ASCII", "scale-\u00e4\u00e4\u00e4", false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			header := http.Header{}
			if tc.given != "" {
				header.Set("X-Request-Id", tc.given)
			}
			got := testClient(t).Do(t, apitest.Request{Path: "/livez", Header: header}).Header.Get("X-Request-Id")
			switch {
			case tc.kept && got != tc.given:
				t.Errorf("id is %q, want that of the client", got)
			case !tc.kept && !fresh.MatchString(got):
				t.Errorf("id is %q, want a fresh UUID of version 7", got)
			}
		})
	}
}

// One line for each request, with what helps to find it and nothing of what was
// in it.
func TestLog(t *testing.T) {
	t.Parallel()
	var log bytes.Buffer
	ticks := testTime()
	client := clientOf(t, Config{
		Clock:  func() time.Time { ticks = ticks.Add(250 * time.Millisecond); return ticks },
		Logger: slog.New(slog.NewJSONHandler(&log, nil)),
	})
	header := http.Header{"X-Request-Id": {"test-request"}, "Authorization": {"Bearer hush"}}
	client.Do(t, apitest.Request{Method: http.MethodPost, Path: pathCheck + "?units=us", Body: []byte(goodCheck), Header: header})
	client.Do(t, apitest.Request{Path: "/problems/no-such-thing", Header: header, Bad: true})
	client.Do(t, apitest.Request{Path: "/hush", Header: header, Bad: true})
	client.Do(t, apitest.Request{Method: "BREW", Path: "/v1/reference/cures", Header: header, Bad: true})
	client.Get(t, "/livez") // a probe, which is not worth a line

	if found := regexp.MustCompile(`hush|Test ring|cure-1|no-such-thing|BREW`).FindString(log.String()); found != "" {
		t.Errorf("the log tells %q:\n%s", found, &log)
	}
	line := func(level, method, route string, status, seconds float64) map[string]any {
		return map[string]any{
			"level": level, "msg": "request", "request_id": "test-request", "method": method, "route": route, "status": status,
			"duration_seconds": seconds,
		}
	}
	want := []map[string]any{
		line("INFO", "POST", "/v1/formulas/check", 200, 0.5), // the handler looks at the clock as well
		line("INFO", "GET", "/problems/:slug", 404, 0.25),
		line("INFO", "GET", "none", 404, 0.25),
		line("INFO", "other", "/v1/reference/cures", 405, 0.25),
	}
	var got []map[string]any
	for text := range strings.Lines(log.String()) {
		var entry map[string]any
		if err := json.Unmarshal([]byte(text), &entry); err != nil {
			t.Fatal(err)
		}
		delete(entry, "time")
		got = append(got, entry)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("lines (-want +got):\n%s", diff)
	}
}

func TestMetrics(t *testing.T) {
	t.Parallel()
	registry := prometheus.NewRegistry()
	client := clientOf(t, Config{Registerer: registry})
	for range 3 {
		client.Get(t, "/v1/reference/cures")
	}
	client.Do(t, apitest.Request{Path: "/made/up", Bad: true})
	client.Do(t, apitest.Request{Method: "BREW", Path: "/version", Bad: true})
	families, err := registry.Gather()
	if err != nil {
		t.Fatal(err)
	}
	if len(families) != 1 || families[0].GetName() != "greenweight_http_request_duration_seconds" {
		t.Fatalf("metrics are %v", families)
	}
	var got []string
	counts := map[string]uint64{}
	for _, metric := range families[0].GetMetric() {
		var labels []string
		for _, label := range metric.GetLabel() {
			labels = append(labels, label.GetValue())
		}
		key := strings.Join(labels, " ")
		got = append(got, key)
		counts[key] = metric.GetHistogram().GetSampleCount()
	}
	slices.Sort(got)
	want := []string{"200 GET /v1/reference/cures", "404 GET none", "405 other /version"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("series, by code, method and route (-want +got):\n%s", diff)
	}
	if counts[want[0]] != 3 {
		t.Errorf("%d requests were counted, not 3", counts[want[0]])
	}
	cfg, err := theKeeping()
	if err != nil {
		t.Fatal(err)
	}
	cfg.Registerer = registry
	if _, err := New(cfg); err == nil {
		t.Error("two services share their metrics")
	}
}

func TestNewNeeds(t *testing.T) {
	t.Parallel()
	whole, err := theKeeping()
	if err != nil {
		t.Fatal(err)
	}
	for name, without := range map[string]func(*Config){
		"a clock": func(c *Config) { c.Clock = nil }, "lots": func(c *Config) { c.Lots = nil }, "shops": func(c *Config) { c.Shops = nil },
	} {
		cfg := whole
		without(&cfg)
		if _, err := New(cfg); err == nil {
			t.Errorf("there is no error without %s", name)
		}
	}
}

// The panic that means to end a connection does end it.
func TestAbort(t *testing.T) {
	t.Parallel()
	s, err := newServer(keepingWith(t, Config{}))
	if err != nil {
		t.Fatal(err)
	}
	s.echo.GET("/test", func(echo.Context) error { panic(http.ErrAbortHandler) })
	defer func() {
		cause, ok := recover().(error)
		if !ok || !errors.Is(cause, http.ErrAbortHandler) {
			t.Errorf("panic is %v, want http.ErrAbortHandler", cause)
		}
	}()
	s.echo.ServeHTTP(httptest.NewRecorder(), httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/test", http.NoBody))
}
