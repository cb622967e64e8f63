package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"log/slog"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/labstack/echo/v4"

	"greenweight/api/apitest"
	"greenweight/api/contract"
	"greenweight/domain/fault"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// Each error that a handler may return, through the router to the client. The
// route is one of the test: no question to the service ends in all of these.
func TestErrorBecomesProblem(t *testing.T) {
	t.Parallel()
	_, outOfRange := quantity.Grams(-1)
	violations := []fault.Violation{
		{Path: fault.At("b", 1), Code: "second", Detail: "is wrong"},
		{Path: fault.At("a~b", "c/d"), Code: "first", Detail: "is wrong too"},
		{Path: fault.At("b", 1), Code: "third", Detail: "is told of already"},
	}
	ofKind := func(kind fault.Kind) error {
		return fmt.Errorf("work on it: %w", &fault.Error{Kind: kind, Code: "some-code", Detail: "why", Violations: violations})
	}
	entries := []string{"#/a~0b/c~1d first", "#/b/1 second"}
	for _, tc := range []struct {
		name   string
		err    error
		want   refused
		detail string
	}{
		{"malformed", ofKind(fault.Malformed), refused{400, "malformed-request", entries}, "why"},
		{"invalid", ofKind(fault.Invalid), refused{422, "invalid-value", entries}, "why"},
		{"outside the model", ofKind(fault.OutsideModel), refused{422, "outside-model", entries}, "why"},
		{"no solution", ofKind(fault.NoSolution), refused{422, "no-solution", entries}, "why"},
		{"not found", ofKind(fault.NotFound), refused{404, "not-found", entries}, "why"},
		{"fault of no kind", ofKind(0), refused{Status: 500, Slug: "internal"}, ""},
		{"out of range", fmt.Errorf("read it: %w", outOfRange), refused{Status: 422, Slug: "invalid-value"}, outOfRange.Error()},
		{"violations", &violationsError{[]contract.Violation{{Parameter: "p", Code: "type", Detail: "is no number", Malformed: true}, {Pointer: "#/x", Code: "enum", Detail: "is y"}}}, malformed("p type", "#/x enum"), "the parameter p is no number; errors has 1 more"},
		{"violation of the body", &violationsError{[]contract.Violation{{Pointer: "#/x", Code: "enum", Detail: "is y"}}}, invalid("#/x enum"), "#/x is y"},
		{"deadline", fmt.Errorf("wait: %w", context.DeadlineExceeded), refused{Status: 503, Slug: "unavailable"}, "there was no answer in the time that a request may take"},
		{"client gone", context.Canceled, refused{Status: 503, Slug: "unavailable"}, "there was no answer in the time that a request may take"},
		{"router: not found", echo.ErrNotFound, refused{Status: 404, Slug: "not-found"}, "there is nothing at this path; the documentation is at /docs"},
		{"router: bad request", echo.NewHTTPError(400, "Invalid format for parameter x"), malformed(), "Invalid format for parameter x"},
		{"router: too large", echo.ErrStatusRequestEntityTooLarge, refused{Status: 413, Slug: "too-large"}, ""},
		{"router: media type", echo.ErrUnsupportedMediaType, refused{Status: 415, Slug: "unsupported-media-type"}, ""},
		{"router: unavailable", echo.ErrServiceUnavailable, refused{Status: 503, Slug: "unavailable"}, ""},
		{"router: another", echo.ErrTeapot, refused{Status: 500, Slug: "internal"}, ""},
		{"any other", errors.New("the secret cause"), refused{Status: 500, Slug: "internal"}, ""},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := clientOfRoute(t, nil, func(echo.Context) error { return tc.err }).Do(t, apitest.Request{Path: "/test", Bad: true})
			if diff := cmp.Diff(tc.want, refusedBy(a)); diff != "" {
				t.Errorf("problem (-want +got):\n%s%s", diff, a.Body)
			}
			want := tc.detail
			if want == "" {
				want = problemSlug(tc.want.Slug).problemType().Means
			}
			if diff := cmp.Diff(want, *a.Problem.Detail); diff != "" {
				t.Errorf("detail (-want +got):\n%s", diff)
			}
		})
	}
}

// clientOfRoute returns a client of a service that has one more route, /test.
func clientOfRoute(t *testing.T, log *slog.Logger, handle echo.HandlerFunc) *apitest.Client {
	t.Helper()
	s, err := newServer(keepingWith(t, Config{Logger: log}))
	if err != nil {
		t.Fatal(err)
	}
	s.echo.GET("/test", handle)
	handler, err := s.handler()
	if err != nil {
		t.Fatal(err)
	}
	return apitest.New(handler)
}

// A client is told the request id of a mistake of ours and nothing else; the
// log has the cause beside the same id.
func TestInternalShowsNoCause(t *testing.T) {
	t.Parallel()
	for name, handle := range map[string]echo.HandlerFunc{
		"error":          func(echo.Context) error { return errors.New("the secret cause") },
		"panic":          func(echo.Context) error { panic("the secret cause") },
		"panic of error": func(echo.Context) error { panic(errors.New("the secret cause")) },
		"body not read":  func(c echo.Context) error { return fmt.Errorf("the secret cause: %w", c.Bind(new(openapi.ScaleOrder))) },
		"header prepared": func(c echo.Context) error {
			c.Response().Header().Set("ETag", `"x"`)
			return errors.New("the secret cause")
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var log bytes.Buffer
			a := clientOfRoute(t, slog.New(slog.NewTextHandler(&log, nil)), handle).Do(t, apitest.Request{Path: "/test", Bad: true})
			if diff := cmp.Diff(refused{Status: 500, Slug: "internal"}, refusedBy(a)); diff != "" {
				t.Errorf("problem (-want +got):\n%s", diff)
			}
			for _, hidden := range []string{"secret", "goroutine", ".go:"} {
				if bytes.Contains(a.Body, []byte(hidden)) {
					t.Errorf("the answer shows %q: %s", hidden, a.Body)
				}
			}
			if a.Header.Get("ETag") != "" {
				t.Error("the problem has the tag of another answer")
			}
			for _, kept := range []string{"the secret cause", a.Problem.RequestID} {
				if !strings.Contains(log.String(), kept) {
					t.Errorf("the log lacks %q: %s", kept, &log)
				}
			}
		})
	}
}

// After the beginning of an answer a problem would only spoil it.
func TestErrorAfterBeginning(t *testing.T) {
	t.Parallel()
	var log bytes.Buffer
	s, err := newServer(keepingWith(t, Config{Logger: slog.New(slog.NewTextHandler(&log, nil))}))
	if err != nil {
		t.Fatal(err)
	}
	s.echo.GET("/docs/begun", func(c echo.Context) error {
		return errors.Join(c.String(http.StatusOK, "begun"), errors.New("the secret cause"))
	})
	a := apitest.New(s.echo).Get(t, "/docs/begun")
	if a.Status != http.StatusOK || string(a.Body) != "begun" {
		t.Errorf("answer is %d %q, want what was begun", a.Status, a.Body)
	}
	if !strings.Contains(log.String(), "the secret cause") {
		t.Errorf("the log lacks the cause: %s", &log)
	}
}

func TestEntryIsWithinTheContract(t *testing.T) {
	t.Parallel()
	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	bound := func(schema, member string) int {
		s := document.Components.Schemas[schema].Value
		if member != "" {
			s = s.Properties[member].Value
		}
		return int(*s.MaxLength) //nolint:gosec // G115: a bound of a text
	}
	want := map[string]int{
		"detail": bound("Text", ""), "pointer": bound("Pointer", ""), "parameter": bound("ProblemEntry", "parameter"),
		"code": bound("Code", ""), "instance": bound("Problem", "instance"),
	}
	got := map[string]int{"detail": maxDetail, "pointer": maxPointer, "parameter": maxParameter, "code": maxCode, "instance": maxInstance}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("bounds of the contract and of the code (-want +got):\n%s", diff)
	}
	long := strings.Repeat("\u00e4", 5000)
	e := entry(long, long, long, "")
	for name, text := range map[string]string{"pointer": *e.Pointer, "parameter": *e.Parameter, "code": e.Code} {
		if n := len([]rune(text)); n != want[name] {
			t.Errorf("%s has %d characters, want %d", name, n, want[name])
		}
	}
	if e.Detail == "" {
		t.Error("the detail is empty")
	}
	if got := shorten("a\xffb", 10); got != "a\uFFFDb" {
		t.Errorf("invalid UTF-8 became %q", got)
	}
}

// Each slug that the code has is in the catalogue, and is used somewhere else:
// no problem without a page, no page without a problem.
func TestCatalogueIsWhole(t *testing.T) {
	t.Parallel()
	files, err := fs.Glob(os.DirFS("."), "*.go")
	if err != nil {
		t.Fatal(err)
	}
	declared := map[string]string{} // name of the constant to slug
	used := map[string]int{}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.ValueSpec:
				kind, ok := n.Type.(*ast.Ident)
				if !ok || kind.Name != "problemSlug" {
					return true
				}
				for i, constant := range n.Names {
					literal, ok := n.Values[i].(*ast.BasicLit)
					if !ok {
						t.Errorf("%s is not a plain text", constant.Name)
						continue
					}
					slug, err := strconv.Unquote(literal.Value)
					if err != nil {
						t.Error(err)
					}
					declared[constant.Name] = slug
				}
			case *ast.Ident:
				used[n.Name]++
			}
			return true
		})
	}
	for name := range declared {
		if used[name] < 3 { // declared, in the catalogue, and where it is found
			t.Errorf("no problem is made with %s", name)
		}
	}
	var want []string
	for _, slug := range declared {
		want = append(want, slug)
	}
	slices.Sort(want)
	if diff := cmp.Diff(want, slices.Sorted(slices.Values(ProblemTypes()))); diff != "" {
		t.Errorf("slugs of the code and of the catalogue (-want +got):\n%s", diff)
	}
	for i, problem := range catalogue {
		if i > 0 && problem.Status < catalogue[i-1].Status {
			t.Errorf("%s stands after a larger status", problem.Slug)
		}
		if problem.Title == "" || problem.Means == "" || problem.Do == "" || http.StatusText(problem.Status) == "" {
			t.Errorf("%s lacks something", problem.Slug)
		}
	}
}
