package api

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"net/http"
	"regexp"
	"runtime"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"
	"go.yaml.in/yaml/v3"

	"greenweight/api/apitest"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

func TestHealth(t *testing.T) {
	t.Parallel()
	ready := errors.New("the service is starting")
	client := clientOf(t, Config{Ready: func(context.Context) error { return ready }})
	if got := apitest.Decode[openapi.Health](t, client.Get(t, "/livez")).Status; got != openapi.HealthStatusLive {
		t.Errorf("status is %s, want live", got)
	}
	a := client.Get(t, "/readyz")
	if diff := cmp.Diff(refused{Status: 503, Slug: "unavailable"}, refusedBy(a)); diff != "" {
		t.Errorf("before it is ready (-want +got):\n%s", diff)
	}
	ready = nil
	if got := apitest.Decode[openapi.Health](t, client.Get(t, "/readyz")).Status; got != openapi.HealthStatusReady {
		t.Errorf("status is %s, want ready", got)
	}
}

func TestVersion(t *testing.T) {
	t.Parallel()
	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	want := openapi.Version{
		Program: "1.2.3", Contract: document.Info.Version, Rulebook: rulebook.Version(), Go: new(runtime.Version()),
	}
	got := apitest.Decode[openapi.Version](t, clientOf(t, Config{Version: "1.2.3"}).Get(t, "/version"))
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("version (-want +got):\n%s", diff)
	}
	if got := apitest.Decode[openapi.Version](t, testClient(t).Get(t, "/version")).Program; got != "development" {
		t.Errorf("version of a program without one is %q", got)
	}
}

// Every text says the same contract, and a client that has it is told so.
func TestDocuments(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	paths := []string{"/openapi.json", "/openapi-3.1.json", "/openapi.yaml", "/docs", "/problems"}
	for _, slug := range ProblemTypes() {
		paths = append(paths, "/problems/"+slug)
	}
	tags := map[string]string{}
	for _, path := range paths {
		first := client.Get(t, path)
		tag := first.Header.Get("ETag")
		if first.Status != http.StatusOK || tag == "" {
			t.Errorf("%s: status %d, ETag %q", path, first.Status, tag)
			continue
		}
		if other, taken := tags[tag]; taken {
			t.Errorf("%s and %s have the same tag", path, other)
		}
		tags[tag] = path
		for _, tc := range []struct {
			name, tags string
			want       int
		}{
			{"same", tag, 304},
			{"same among others", `"x", ` + tag, 304},
			{"same, as if it were strong", strings.TrimPrefix(tag, "W/"), 304},
			{"any", "*", 304},
			{"other", `W/"x"`, 200},
		} {
			a := client.Do(t, apitest.Request{Path: path, Header: http.Header{"If-None-Match": {tc.tags}}})
			if a.Status != tc.want || a.Header.Get("ETag") != tag || (len(a.Body) == 0) != (tc.want == 304) {
				t.Errorf("%s, %s: status %d, ETag %q, %d bytes; want status %d", path, tc.name, a.Status, a.Header.Get("ETag"), len(a.Body), tc.want)
			}
		}
	}
}

func TestContractIsServed(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	read := func(path string) *openapi3.T {
		document, err := openapi3.NewLoader().LoadFromData(client.Get(t, path).Body)
		if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		return document
	}
	asJSON, as31 := read("/openapi.json"), read("/openapi-3.1.json")
	for _, document := range []*openapi3.T{asJSON, as31} {
		if err := document.Validate(t.Context()); err != nil {
			t.Errorf("version %s: %v", document.OpenAPI, err)
		}
	}
	if diff := cmp.Diff([]string{"3.0.3", "3.1.1"}, []string{asJSON.OpenAPI, as31.OpenAPI}); diff != "" {
		t.Errorf("versions (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(asJSON.Paths.InMatchingOrder(), as31.Paths.InMatchingOrder()); diff != "" {
		t.Errorf("paths of 3.0 and 3.1 (-3.0 +3.1):\n%s", diff)
	}
	if s := as31.Components.Schemas["Part"].Value.Properties["share_percent"].Value; s.ExclusiveMin.Value == nil || *s.ExclusiveMin.Value != 0 {
		t.Errorf("the 3.1 copy has the exclusive minimum of 3.0: %+v", s.ExclusiveMin)
	}
	var fromYAML, fromJSON any
	if err := yaml.Unmarshal(client.Get(t, "/openapi.yaml").Body, &fromYAML); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(client.Get(t, "/openapi.json").Body, &fromJSON); err != nil {
		t.Fatal(err)
	}
	// Through JSON, which has one kind of number.
	text, err := json.Marshal(fromYAML)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &fromYAML); err != nil {
		t.Fatal(err)
	}
	dropDefaults(fromYAML)
	if diff := cmp.Diff(fromYAML, fromJSON); diff != "" {
		t.Errorf("the contract as YAML and as JSON (-YAML +JSON):\n%s", diff)
	}
}

// dropDefaults takes out what says no more than its absence (OpenAPI
// Specification 3.0.3, sections "Schema Object" and "Parameter Object"), which
// the JSON does not have.
func dropDefaults(value any) {
	switch value := value.(type) {
	case map[string]any:
		for name, of := range value {
			if of == false && name == "required" || of == 0.0 && (name == "minItems" || name == "minLength") {
				delete(value, name)
			}
			dropDefaults(of)
		}
	case []any:
		for _, of := range value {
			dropDefaults(of)
		}
	}
}

var (
	outsideHost = regexp.MustCompile(`(?i)(?:src|href|action|content)\s*=\s*["']?\s*(?:https?:)?//|url\(\s*["']?(?:https?:)?//|@import`)
	scriptTag   = regexp.MustCompile(`(?s)<script([^>]*)>(.*?)</script>`)
	styleTag    = regexp.MustCompile(`(?s)<style>(.*?)</style>`)
	assetLink   = regexp.MustCompile(`(?:src|href)="([^"]*)"`)
)

func hash(text string) string {
	digest := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(digest[:]) + "'"
}

// The page needs no other host, its policy allows none, and every script and
// style in it is one that the policy names.
func TestDocsPage(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	page := client.Get(t, "/docs")
	text, policy := string(page.Body), page.Header.Get("Content-Security-Policy")
	if found := outsideHost.FindString(text); found != "" {
		t.Errorf("the page leads to another host: %s", found)
	}
	if strings.Contains(policy, "http") || strings.Contains(policy, "*") || !strings.HasPrefix(policy, "default-src 'none'; ") {
		t.Errorf("the policy allows another host: %s", policy)
	}
	inline := 0
	for _, script := range scriptTag.FindAllStringSubmatch(text, -1) {
		if strings.Contains(script[1], "src=") {
			continue
		}
		inline++
		if !strings.Contains(policy, hash(script[2])) {
			t.Errorf("the policy does not name the script %.100s", script[2])
		}
	}
	links := assetLink.FindAllStringSubmatch(text, -1)
	if inline == 0 || len(links) < 3 {
		t.Errorf("the page has %d scripts in it and %d links", inline, len(links))
	}
	for _, link := range links {
		if !strings.HasPrefix(link[1], "/docs/") {
			t.Errorf("the page loads %s, which is not below /docs/", link[1])
			continue
		}
		asset := client.Get(t, link[1])
		if asset.Status != http.StatusOK || len(asset.Body) == 0 {
			t.Errorf("%s: status %d, %d bytes", link[1], asset.Status, len(asset.Body))
		}
	}
	for _, want := range []string{"/openapi.yaml", `name="viewport"`, "<title>greenweight: documentation</title>"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %s", want)
		}
	}
	if a := client.Get(t, "/docs/"); a.Status != http.StatusPermanentRedirect || a.Header.Get("Location") != "/docs" {
		t.Errorf("/docs/ answers %d to %q", a.Status, a.Header.Get("Location"))
	}
}

func TestProblemPages(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	list := string(client.Get(t, "/problems").Body)
	for _, problem := range catalogue {
		path := "/problems/" + string(problem.Slug)
		if !strings.Contains(list, `href="`+path+`"`) {
			t.Errorf("the list lacks %s", path)
		}
		page := client.Get(t, path)
		text, policy := string(page.Body), page.Header.Get("Content-Security-Policy")
		if found := outsideHost.FindString(text); found != "" || strings.Contains(text, "<script") {
			t.Errorf("%s has a script or leads to another host: %s", path, found)
		}
		style := styleTag.FindStringSubmatch(text)
		if style == nil || !strings.Contains(policy, hash(style[1])) {
			t.Errorf("%s: the policy does not name the style: %s", path, policy)
		}
		if got := page.Header.Get("Content-Type"); got != "text/html; charset=utf-8" {
			t.Errorf("%s: Content-Type is %s", path, got)
		}
		if !strings.Contains(text, "What to do") || !strings.Contains(text, http.StatusText(problem.Status)) && !strings.Contains(text, "Status ") {
			t.Errorf("%s is not whole:\n%s", path, text)
		}
	}
}

// The type of a problem leads to its page.
func TestTypeLeadsToPage(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	a := client.Do(t, apitest.Request{Path: "/nowhere", Bad: true})
	if page := client.Get(t, a.Problem.Type); page.Status != http.StatusOK || !strings.Contains(string(page.Body), a.Problem.Title) {
		t.Errorf("%s: status %d, without the title %q", a.Problem.Type, page.Status, a.Problem.Title)
	}
}
