package apitest

import (
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The judge must see what is wrong: each row is an answer of a service that is
// not as its contract.
func TestExchange(t *testing.T) {
	t.Parallel()
	const id = "test-request"
	problem := func(member string) string {
		return `{"type":"/problems/not-found","title":"t","status":404,"request_id":"` + id + `"` + member + `}`
	}
	get := func(path string) Request { return Request{Path: path} }
	post := func(body string, bad bool) Request {
		return Request{Method: http.MethodPost, Path: "/v1/formulas/scale", Body: []byte(body), Bad: bad}
	}
	for _, tc := range []struct {
		name      string
		request   Request
		status    int
		mediaType string
		body      string
		ok        bool
	}{
		{"good", get("/livez"), 200, "application/json", `{"status":"live"}`, true},
		{"good page", get("/docs"), 200, "text/html; charset=utf-8", `<p>`, true},
		{"good problem", get("/livez"), 404, mediaTypeProblem, problem(``), true},
		{"good problem elsewhere", get("/nowhere"), 404, mediaTypeProblem, problem(``), true},
		{"good HEAD", Request{Method: http.MethodHead, Path: "/livez"}, 200, "application/json", ``, true},
		{"value out of the list", get("/livez"), 200, "application/json", `{"status":"dead"}`, false},
		{"member missing", get("/livez"), 200, "application/json", `{}`, false},
		{"member too many", get("/livez"), 200, "application/json", `{"status":"live","x":1}`, false},
		{"no JSON", get("/livez"), 200, "application/json", `live`, false},
		{"other media type", get("/livez"), 200, "text/html", `live`, false},
		{"error that is no problem", get("/livez"), 500, "text/plain", `oops`, false},
		{"problem with a status of success", get("/livez"), 200, mediaTypeProblem, problem(``), false},
		{"problem with another status", get("/livez"), 500, mediaTypeProblem, problem(``), false},
		{"problem with another request id", get("/livez"), 404, mediaTypeProblem, strings.Replace(problem(``), id, "other-request", 1), false},
		{"problem with a member too many", get("/livez"), 404, mediaTypeProblem, problem(`,"stack":"x"`), false},
		{"problem elsewhere against the contract", get("/nowhere"), 404, mediaTypeProblem, problem(`,"errors":[]`), false},
		{"answer elsewhere", get("/nowhere"), 200, "application/json", `{}`, false},
		{"parameter that there is not", get("/v1/reference/materials?group=stone"), 200, "application/json", `{"materials":[]}`, false},
		{"bad request refused", post(`{}`, true), 404, mediaTypeProblem, problem(``), true},
		{"bad request not refused", post(`{}`, true), 200, "application/json", `{}`, false},
		{"request against the contract, not meant so", post(`{}`, false), 404, mediaTypeProblem, problem(``), false},
		{"good request unreadable", get("/livez"), 400, mediaTypeProblem, strings.Replace(problem(``), "404", "400", 1), false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			client := New(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
				w.Header().Set("Content-Type", tc.mediaType)
				w.Header().Set("X-Request-Id", id)
				w.Header().Set("ETag", `"tag"`)
				w.WriteHeader(tc.status)
				if _, err := w.Write([]byte(tc.body)); err != nil {
					t.Error(err)
				}
			}))
			if _, err := client.exchange(t.Context(), tc.request); (err == nil) != tc.ok {
				t.Errorf("error is %v, want one: %t", err, !tc.ok)
			}
		})
	}
}

// A test that leaves something out is told what.
func TestMissing(t *testing.T) {
	t.Parallel()
	oracle, err := theOracle()
	if err != nil {
		t.Fatal(err)
	}
	var l ledger
	l.know(oracle.document)
	all := len(l.missing(nil))
	l.enter("GET /livez", Answer{Status: 200})
	l.enter("GET /readyz", Answer{Status: 503})
	l.enter("GET /readyz", Answer{Status: 404}) // the default answer
	missing := l.missing(nil)
	if len(missing) != all-2 {
		t.Errorf("%d are missing of %d, after two were reached", len(missing), all)
	}
	for _, want := range []string{"answer GET /readyz 200", "answer GET /docs 304", "answer POST /v1/formulas/scale 200"} {
		if !slices.Contains(missing, want) {
			t.Errorf("%q is not among what is missing", want)
		}
	}
	for key := range maps.Keys(l.answers) {
		if !isDefault(key) {
			l.answers[key] = 1
		}
	}
	l.problems = map[string]int{"a": 1, "c": 1}
	want := []string{"problem type b", "a page for the problem type c"}
	if diff := cmp.Diff(want, l.missing([]string{"a", "b"})); diff != "" {
		t.Errorf("missing (-want +got):\n%s", diff)
	}
}
