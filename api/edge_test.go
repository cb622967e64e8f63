package api

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
)

// refused is what a client is told of a bad request.
type refused struct {
	Status   int
	Slug     string
	Pointers []string
}

func refusedBy(a apitest.Answer) refused { return refused{a.Status, a.Slug(), a.Pointers()} }

func malformed(pointers ...string) refused { return refused{400, "malformed-request", pointers} }

func invalid(pointers ...string) refused { return refused{422, "invalid-value", pointers} }

// Each request example of the contract, in both systems of units, and each list
// is answered as the contract says. What the answers must say is tested beside
// their handlers.
func TestExamplesAreAnswered(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	for _, path := range orderPaths {
		for name, body := range requestExamples(t, path) {
			for _, units := range []string{"", "?units=metric", "?units=us"} {
				if units != "" && slices.Contains(unitlessPaths, path) {
					continue
				}
				if a := client.Post(t, path+units, body); a.Status != http.StatusOK {
					t.Errorf("%s%s, example %s: status %d\n%s", path, units, name, a.Status, a.Body)
				}
			}
		}
	}
	for _, path := range []string{
		"/v1/reference/rulebooks", "/v1/reference/rulebooks?rulebook=eu&date=2026-11-25", "/v1/reference/cures", "/v1/reference/cultures",
		"/v1/reference/materials", "/v1/reference/materials?group=pork",
	} {
		if a := client.Get(t, path); a.Status != http.StatusOK {
			t.Errorf("%s: status %d\n%s", path, a.Status, a.Body)
		}
	}
}

func TestBadBody(t *testing.T) {
	t.Parallel()
	const (
		rate  = "#/formula/additions/0/rate"
		value = rate + "/value"
	)
	number := func(text string) []byte { return replace(t, `"value":2.5`, `"value":`+text) }
	for _, tc := range []struct {
		name string
		body []byte
		want refused
	}{
		{"negative number", number("-2.5"), invalid(value + " minimum")},
		{"nothing", number("0"), invalid(value + " minimum")},
		{"negative nothing", number("-0"), invalid(value + " minimum")},
		{"too much", number("1e9"), invalid(value + " maximum")},
		{"more than a number can hold", number("1e400"), invalid(value + " maximum")},
		{"number of 300 digits", number(strings.Repeat("9", 300)), invalid(value + " type")},
		{"NaN", number("NaN"), malformed(value + " syntax")},
		{"nan", number("nan"), malformed(value + " syntax")},
		{"Infinity", number("Infinity"), malformed(value + " syntax")},
		{"negative Infinity", number("-Infinity"), malformed(value + " syntax")},
		{"hexadecimal", number("0x1p4"), malformed(value + " syntax")},
		{"with a plus", number("+2.5"), malformed(value + " syntax")},
		{"without a leading zero", number(".5"), malformed(value + " syntax")},
		{"with a leading zero", number("02"), malformed(value + " syntax")},
		{"decimal comma", number("2,5"), malformed(value + " syntax")},
		{"NaN as text", number(`"NaN"`), invalid(value + " type")},
		{"number as text", number(`"2.5"`), invalid(value + " type")},
		{"null", number("null"), invalid(value + " type")},
		{"no number", replace(t, `"value":2.5,`, ``), invalid(value + " required")},
		{"no unit", replace(t, `,"unit":"g_per_kg"`, ``), invalid(rate + "/unit required")},
		{"wrong unit", replace(t, `"g_per_kg"`, `"degC"`), invalid(rate + "/unit enum")},
		{"unit in capitals", replace(t, `"g_per_kg"`, `"G_PER_KG"`), invalid(rate + "/unit enum")},
		{"misspelt member", replace(t, `"value":2.5`, `"vlaue":2.5`), invalid(value+" required", rate+"/vlaue additional-member")},
		{"member in capitals", replace(t, `"value":2.5`, `"Value":2.5`), invalid(rate+"/Value additional-member", value+" required")},
		{"member twice", replace(t, `"value":2.5`, `"value":2.5,"value":2.5`), malformed(value + " duplicate-member")},
		{"member twice and another missing", replace(t, `"value":2.5,"unit":"g_per_kg"`, `"value":1,"value":2`), malformed(rate+"/unit required", value+" duplicate-member")},
		{"rules between members", replace(t, `"g_per_kg"`, `"g"`), invalid(rate + "/per required")},
		{"shares of 130 percent", replace(t, `"share_percent":100}`, `"share_percent":70},{"material":"pork-belly","share_percent":60}`), invalid("#/formula/parts sum")},
		{"unknown cure", replace(t, `"cure-1"`, `"cure-99"`), invalid("#/formula/additions/0/cure/key unknown-cure")},
		{"unknown material", replace(t, `"pork-shoulder-whole-lean-and-fat"`, `"unicorn"`), invalid("#/formula/parts/0/material unknown-material")},
		{"not a day", replace(t, `"2026-11-25"`, `"2026-02-30"`), invalid("#/date format")},
		{"10,000 arrays deep", replace(t, `["us"]`, strings.Repeat("[", 10_000)+strings.Repeat("]", 10_000)), malformed("#/rulebooks/0 syntax")},
		{"10,000 objects deep", []byte(strings.Repeat(`{"formula":`, 10_000) + "1" + strings.Repeat("}", 10_000)), malformed("#/formula/formula syntax")},
		{"invalid UTF-8", replace(t, "Test ring", "Test \xff ring"), malformed("#/formula/name syntax")},
		{"invalid UTF-8 in a name", replace(t, `"name"`, "\"n\xffme\""), malformed("#/formula syntax")},
		{"half a surrogate pair", replace(t, "Test ring", `Test \ud800 ring`), malformed("#/formula/name syntax")},
		{"text after the value", []byte(goodCheck + "x"), malformed("# syntax")},
		{"two values", []byte(goodCheck + goodCheck), malformed("# syntax")},
		{"byte order mark", []byte("\uFEFF" + goodCheck), malformed("# syntax")},
		{"cut off", []byte(goodCheck[:len(goodCheck)-30]), malformed("#/formula syntax")},
		{"array", []byte("[]"), invalid("# type")},
		{"null body", []byte("null"), invalid("# type")},
		{"empty object", []byte("{}"), invalid("#/formula required", "#/rulebooks required")},
		{"blank", []byte("  "), malformed("# syntax")},
		{"no body", nil, malformed("# required")},
		{"many at once", []byte(`{"formula":{"name":"","product":"cheese","parts":[],"additions":[]},"rulebooks":["mars"],"x":1}`), invalid("#/formula/name minLength", "#/formula/parts minItems", "#/formula/product enum", "#/rulebooks/0 enum", "#/x additional-member")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathCheck, Body: tc.body, Bad: true})
			if diff := cmp.Diff(tc.want, refusedBy(a)); diff != "" {
				t.Errorf("refusal (-want +got):\n%s%s", diff, a.Body)
			}
		})
	}
}

// A problem tells at most 100 places, in order, however many there are.
func TestEntriesAreBounded(t *testing.T) {
	t.Parallel()
	wrong := `{"material":"pork-belly"}` + strings.Repeat(`,{"material":"pork-belly","x":1}`, 39)
	additions := `{}` + strings.Repeat(`,{}`, 99)
	body := []byte(`{"formula":{"name":"x","product":"dry-sausage","parts":[` + wrong + `],"additions":[` + additions + `]},"rulebooks":["us"]}`)
	a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathCheck, Body: body, Bad: true})
	if a.Problem == nil || len(a.Problem.Errors) != maxEntries {
		t.Fatalf("problem is %+v, want %d entries", a.Problem, maxEntries)
	}
	for i, e := range a.Problem.Errors[1:] {
		if before := a.Problem.Errors[i]; *before.Pointer >= *e.Pointer {
			t.Errorf("%s stands before %s", *before.Pointer, *e.Pointer)
		}
	}
}

func TestParameters(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, path string
		want       refused
	}{
		{"unknown", "/v1/reference/cures?colour=pink", malformed("colour additional-parameter")},
		{"misspelt", "/v1/reference/rulebooks?rulebok=us", malformed("rulebok additional-parameter")},
		{"repeated", "/v1/reference/rulebooks?rulebook=us&rulebook=eu", malformed("rulebook duplicate-parameter")},
		{"not one of the list", "/v1/reference/materials?group=stone", malformed("group enum")},
		{"not a day", "/v1/reference/rulebooks?date=yesterday", malformed("date format")},
		{"two at once", "/v1/reference/rulebooks?date=x&rulebook=y", malformed("date format", "rulebook enum")},
		{"escape that is none", "/v1/reference/rulebooks?date=%zz", malformed()},
		{"semicolon", "/v1/reference/rulebooks?date=2026-11-25;rulebook=us", malformed()},
		{"invalid UTF-8", "/v1/reference/rulebooks?%ff=1", malformed("\uFFFD additional-parameter")},
		{"without a name", "/v1/reference/cures?=1", malformed(" additional-parameter")},
		{"of a probe", "/livez?verbose", malformed("verbose additional-parameter")},
		{"in the path", "/problems/Not%20a%20slug", malformed("slug pattern")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Path: tc.path, Bad: true})
			if diff := cmp.Diff(tc.want, refusedBy(a)); diff != "" {
				t.Errorf("refusal (-want +got):\n%s%s", diff, a.Body)
			}
		})
	}
}

// What is at fault in the query and in the body is told in one problem.
func TestParametersAndBodyTogether(t *testing.T) {
	t.Parallel()
	a := testClient(t).Do(t, apitest.Request{
		Method: http.MethodPost, Path: pathCheck + "?units=stone", Body: replace(t, `"value":2.5`, `"value":-1`), Bad: true,
	})
	want := malformed("units enum", "#/formula/additions/0/rate/value minimum")
	if diff := cmp.Diff(want, refusedBy(a)); diff != "" {
		t.Errorf("refusal (-want +got):\n%s", diff)
	}
}

func TestContentType(t *testing.T) {
	t.Parallel()
	unsupported := refused{Status: 415, Slug: "unsupported-media-type"}
	for _, tc := range []struct {
		name   string
		values []string
		want   refused
	}{
		{"JSON", []string{"application/json"}, refused{Status: 200}},
		{"JSON in UTF-8", []string{"Application/JSON; charset=UTF-8"}, refused{Status: 200}},
		{"none", []string{}, unsupported},
		{"text", []string{"text/plain"}, unsupported},
		{"form", []string{"application/x-www-form-urlencoded"}, unsupported},
		{"other JSON", []string{"application/problem+json"}, unsupported},
		{"JSON in Latin-1", []string{"application/json; charset=iso-8859-1"}, unsupported},
		{"two", []string{"application/json", "application/json"}, unsupported},
		{"no media type", []string{"application/json; ;="}, unsupported},
		{"very long", []string{strings.Repeat("a", 9000)}, unsupported},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{
				Method: http.MethodPost, Path: pathCheck, Body: []byte(goodCheck), Bad: tc.want.Status != 200,
				Header: http.Header{"Content-Type": tc.values},
			})
			if diff := cmp.Diff(tc.want, refusedBy(a)); diff != "" {
				t.Errorf("refusal (-want +got):\n%s%s", diff, a.Body)
			}
			if got := a.Header.Get("Accept-Post"); tc.want.Status == 415 && got != "application/json" {
				t.Errorf("Accept-Post is %q", got)
			}
		})
	}
}

func zip(t *testing.T, text []byte) []byte {
	t.Helper()
	var zipped bytes.Buffer
	w := gzip.NewWriter(&zipped)
	if _, err := w.Write(text); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return zipped.Bytes()
}

func TestContentEncodingAndSize(t *testing.T) {
	t.Parallel()
	spaces := func(n int) []byte { return bytes.Repeat([]byte(" "), n) }
	fits := append([]byte(goodCheck), spaces(defaultMaxBody-len(goodCheck))...)
	zipped := zip(t, []byte(goodCheck))
	for _, tc := range []struct {
		name   string
		coding []string
		body   []byte
		want   refused
	}{
		{"gzip", []string{"gzip"}, zipped, refused{Status: 200}},
		{"identity", []string{"identity"}, []byte(goodCheck), refused{Status: 200}},
		{"as large as may be", nil, fits, refused{Status: 200}},
		{"as large as may be, zipped", []string{"gzip"}, zip(t, fits), refused{Status: 200}},
		{"a byte too large", nil, append(fits, ' '), refused{Status: 413, Slug: "too-large"}},
		{"a byte too large, zipped", []string{"gzip"}, zip(t, append(fits, ' ')), refused{Status: 413, Slug: "too-large"}},
		{"2 MB", nil, spaces(2 << 20), refused{Status: 413, Slug: "too-large"}},
		{"bomb of 16 MiB", []string{"gzip"}, zip(t, spaces(16<<20)), refused{Status: 413, Slug: "too-large"}},
		{"bomb in a bomb", []string{"gzip, gzip"}, zip(t, zip(t, spaces(16<<20))), refused{Status: 415, Slug: "unsupported-media-type"}},
		{"gzip that is none", []string{"gzip"}, []byte(goodCheck), malformed()},
		{"gzip cut off", []string{"gzip"}, zipped[:len(zipped)-9], malformed()},
		{"gzip with a wrong sum", []string{"gzip"}, append(zipped[:len(zipped)-8:len(zipped)-8], 0, 0, 0, 0, 0, 0, 0, 0), malformed()},
		{"gzip not announced", nil, zipped, malformed("# syntax")},
		{"empty gzip", []string{"gzip"}, zip(t, nil), malformed("# required")},
		{"other coding", []string{"br"}, []byte("x"), refused{Status: 415, Slug: "unsupported-media-type"}},
		{"two fields", []string{"gzip", "gzip"}, zipped, refused{Status: 415, Slug: "unsupported-media-type"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			// The validator does not decompress, so it can't judge a zipped
			// request; the answer of a good one is judged all the same.
			handler, err := theHandler()
			if err != nil {
				t.Fatal(err)
			}
			good := tc.want.Status == 200
			client := apitest.New(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				if good {
					r.Body = io.NopCloser(bytes.NewReader(tc.body))
					r.ContentLength = int64(len(tc.body))
					r.Header["Content-Encoding"] = tc.coding
				}
				handler.ServeHTTP(w, r)
			}))
			req := apitest.Request{Method: http.MethodPost, Path: pathCheck, Body: tc.body, Bad: !good, Header: http.Header{"Content-Encoding": tc.coding}}
			if good {
				req.Body, req.Header = []byte(goodCheck), nil
			}
			a := client.Do(t, req)
			if diff := cmp.Diff(tc.want, refusedBy(a)); diff != "" {
				t.Errorf("refusal (-want +got):\n%s%.500s", diff, a.Body)
			}
			if got := a.Header.Get("Accept-Encoding"); tc.want.Status == 415 && got != "gzip" {
				t.Errorf("Accept-Encoding is %q", got)
			}
		})
	}
}

// A body whose length is not announced is cut where it gets too large.
func TestSizeNotAnnounced(t *testing.T) {
	t.Parallel()
	handler, err := theHandler()
	if err != nil {
		t.Fatal(err)
	}
	endless := &counter{}
	req := httptest.NewRequestWithContext(t.Context(), http.MethodPost, pathCheck, endless)
	req.ContentLength = -1
	req.Header.Set("Content-Type", "application/json")
	recorder := httptest.NewRecorder()
	handler.ServeHTTP(recorder, req)
	if recorder.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("status is %d, want 413: %s", recorder.Code, recorder.Body)
	}
	if endless.read > 2*defaultMaxBody {
		t.Errorf("%d bytes were read, of at most %d", endless.read, defaultMaxBody)
	}
}

// counter is an endless body of spaces.
type counter struct{ read int }

func (c *counter) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}
	c.read += len(p)
	return len(p), nil
}

func TestNotAcceptable(t *testing.T) {
	t.Parallel()
	for _, path := range []string{"/version", "/docs", "/openapi.yaml", "/v1/reference/cures"} {
		a := testClient(t).Do(t, apitest.Request{Path: path, Bad: true, Header: http.Header{"Accept": {"image/png"}}})
		if diff := cmp.Diff(refused{Status: 406, Slug: "not-acceptable"}, refusedBy(a)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", path, diff)
		}
	}
}

func TestPathsAndMethods(t *testing.T) {
	t.Parallel()
	notFound := refused{Status: 404, Slug: "not-found"}
	notAllowed := refused{Status: 405, Slug: "method-not-allowed"}
	for _, tc := range []struct {
		method, path string
		want         refused
		allow        string
	}{
		{"GET", "/", notFound, ""},
		{"GET", "/v1", notFound, ""},
		{"GET", "/v1/formula", notFound, ""},
		{"GET", "/v1/formulas/import", notAllowed, "OPTIONS, POST"},
		{"GET", "/v1/reference/cures/", notFound, ""},
		{"GET", "/V1/reference/cures", notFound, ""},
		{"POST", "/nowhere", notFound, ""},
		{"GET", "/problems/no-such-thing", notFound, ""},
		{"GET", "/docs/no-such-file.js", notFound, ""},
		{"GET", "/docs/..%2f..%2fgo.mod", notFound, ""},
		{"GET", "/" + strings.Repeat("long/", 2000), notFound, ""},
		{"GET", "/%00%ff", notFound, ""},
		{"GET", pathCheck, notAllowed, "OPTIONS, POST"},
		{"HEAD", pathCheck, refused{Status: 405}, "OPTIONS, POST"},
		{"DELETE", "/livez", notAllowed, "OPTIONS, GET, HEAD"},
		{"POST", "/docs/", notAllowed, "OPTIONS, GET, HEAD"},
		{"BREW", "/livez", notAllowed, "OPTIONS, GET, HEAD"},
		{"OPTIONS", "/livez", refused{Status: 204}, "OPTIONS, GET, HEAD"},
		{"OPTIONS", pathCheck, refused{Status: 204}, "OPTIONS, POST"},
		{"HEAD", "/livez", refused{Status: 200}, ""},
		{"HEAD", "/docs", refused{Status: 200}, ""},
		{"HEAD", "/v1/reference/cures", refused{Status: 200}, ""},
		{"HEAD", "/nowhere", refused{Status: 404}, ""},
	} {
		t.Run(tc.method+" "+strconv.Quote(shorten(tc.path, 40)), func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: tc.method, Path: tc.path, Bad: tc.want.Status >= 400})
			if diff := cmp.Diff(tc.want, refusedBy(a)); diff != "" {
				t.Errorf("refusal (-want +got):\n%s%s", diff, a.Body)
			}
			if diff := cmp.Diff(tc.allow, a.Header.Get("Allow")); diff != "" {
				t.Errorf("Allow (-want +got):\n%s", diff)
			}
		})
	}
}

func TestTimeout(t *testing.T) {
	t.Parallel()
	client := clientOf(t, Config{Timeout: time.Nanosecond})
	a := client.Post(t, pathCheck, []byte(goodCheck))
	if diff := cmp.Diff(refused{Status: 503, Slug: "unavailable"}, refusedBy(a)); diff != "" {
		t.Errorf("refusal (-want +got):\n%s", diff)
	}
	if got := a.Header.Get("Retry-After"); got == "" {
		t.Error("there is no Retry-After")
	}
}

// A client that stops in the middle of its body hears of it when its time is
// over, and does not hold the service.
func TestSlowBody(t *testing.T) {
	t.Parallel()
	cfg, err := theKeeping()
	if err != nil {
		t.Fatal(err)
	}
	cfg.Timeout = 50 * time.Millisecond
	handler, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(handler)
	t.Cleanup(server.Close)
	// The rest of the body never comes: the transport waits for it until the
	// answer is there.
	stalled, release := io.Pipe()
	t.Cleanup(func() { _ = release.Close() })
	transport := roundTripper(func(req *http.Request) (*http.Response, error) {
		req.Body = stalled
		req.ContentLength = int64(len(goodCheck))
		go func() { _, _ = release.Write([]byte(goodCheck[:20])) }()
		return server.Client().Transport.RoundTrip(req)
	})
	client := apitest.NewRemote(server.URL, &http.Client{Transport: transport})
	a := client.Do(t, apitest.Request{Method: http.MethodPost, Path: pathCheck, Body: []byte(goodCheck), Bad: true})
	if diff := cmp.Diff(refused{Status: 408, Slug: "request-timeout"}, refusedBy(a)); diff != "" {
		t.Errorf("refusal (-want +got):\n%s", diff)
	}
}

type roundTripper func(*http.Request) (*http.Response, error)

func (f roundTripper) RoundTrip(req *http.Request) (*http.Response, error) { return f(req) }

func TestCompression(t *testing.T) {
	t.Parallel()
	handler, err := theHandler()
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ path, accept, want string }{
		{"/openapi.json", "gzip", "gzip"},
		{"/openapi.json", "zstd", "zstd"},
		{"/openapi.json", "identity", ""},
		{"/openapi.json", "br", ""},
		{"/docs/swagger-ui.css", "gzip", "gzip"},
		{"/livez", "gzip", ""}, // too small
	} {
		req := httptest.NewRequestWithContext(t.Context(), http.MethodGet, tc.path, http.NoBody)
		req.Header.Set("Accept-Encoding", tc.accept)
		recorder := httptest.NewRecorder()
		handler.ServeHTTP(recorder, req)
		if got := recorder.Header().Get("Content-Encoding"); got != tc.want || recorder.Code != http.StatusOK {
			t.Errorf("%s accepting %s: status %d, Content-Encoding %q, want %q", tc.path, tc.accept, recorder.Code, got, tc.want)
		}
	}
}

func TestCrossOrigin(t *testing.T) {
	t.Parallel()
	const mine, other = "https://shop.example", "https://evil.example"
	preflight := func(origin string) apitest.Request {
		return apitest.Request{Method: http.MethodOptions, Path: pathCheck, Header: http.Header{
			"Origin": {origin}, "Access-Control-Request-Method": {"POST"}, "Access-Control-Request-Headers": {"content-type"},
		}}
	}
	with, without := clientOf(t, Config{Origins: []string{mine}}), testClient(t)
	for _, tc := range []struct {
		name   string
		client *apitest.Client
		origin string
		want   string
	}{
		{"allowed", with, mine, mine},
		{"other", with, other, ""},
		{"none set", without, mine, ""},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := tc.client.Do(t, preflight(tc.origin))
			if got := a.Header.Get("Access-Control-Allow-Origin"); got != tc.want {
				t.Errorf("preflight allows %q, want %q", got, tc.want)
			}
			if got := a.Header.Get("Access-Control-Allow-Methods"); tc.want != "" && got != "OPTIONS, POST" {
				t.Errorf("preflight allows the methods %q", got)
			}
			if got := a.Header.Get("Access-Control-Allow-Headers"); tc.want != "" && !strings.Contains(got, "Content-Type") {
				t.Errorf("preflight allows the headers %q", got)
			}
			a = tc.client.Do(t, apitest.Request{Path: "/version", Header: http.Header{"Origin": {tc.origin}}})
			if got := a.Header.Get("Access-Control-Allow-Origin"); got != tc.want {
				t.Errorf("answer is for %q, want %q", got, tc.want)
			}
			if got := a.Header.Get("Access-Control-Expose-Headers"); tc.want != "" && got != "ETag,Idempotency-Replayed,Link,Location,Retry-After,X-Request-Id" {
				t.Errorf("exposed headers are %q", got)
			}
			if got := a.Header.Get("Access-Control-Allow-Credentials"); got != "" {
				t.Errorf("credentials are %q", got)
			}
		})
	}
}

// Whatever the body, the answer is the operation's or a problem, and never an
// internal one: what passed the checks can be decoded and computed.
func FuzzBody(f *testing.F) {
	for _, path := range orderPaths {
		for _, body := range requestExamples(f, path) {
			f.Add(body)
		}
	}
	for _, body := range []string{goodCheck, goodDryDown, goodSteps, goodLog} {
		f.Add([]byte(body))
	}
	f.Add([]byte("{\"formula\":{\"name\":\"\xff\"}}"))
	f.Fuzz(func(t *testing.T, body []byte) {
		handler, err := theHandler()
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range orderPaths {
			req := httptest.NewRequestWithContext(t.Context(), http.MethodPost, path, bytes.NewReader(body))
			req.Header.Set("Content-Type", "application/json")
			recorder := httptest.NewRecorder()
			handler.ServeHTTP(recorder, req)
			switch recorder.Code {
			case http.StatusOK, http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusUnprocessableEntity:
			default:
				t.Errorf("%s: status %d\n%s", path, recorder.Code, recorder.Body)
			}
		}
	})
}
