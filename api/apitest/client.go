// Package apitest sends requests to the service in tests and judges every
// exchange, request and answer, against the contract with an independent
// validator. The whole test binary keeps account of what was reached: [Main]
// fails it when the contract has an operation, an answer, or the service a
// problem type that no test has seen.
//
// A request that is meant to be refused is marked so ([Request.Bad]); then only
// the answer is judged, and that it is a problem.
package apitest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/legacy"
	"github.com/go-json-experiment/json"

	"greenweight/openapi"
)

const (
	mediaTypeJSON    = "application/json"
	mediaTypeProblem = "application/problem+json"
	headerType       = "Content-Type"
)

// Client sends requests. It may be used by several goroutines.
type Client struct {
	send func(*http.Request) (*http.Response, error)
	base string
}

// New returns a client of a handler, without a network between.
func New(handler http.Handler) *Client {
	return &Client{base: "http://localhost", send: func(req *http.Request) (*http.Response, error) {
		recorder := httptest.NewRecorder()
		handler.ServeHTTP(recorder, req)
		return recorder.Result(), nil
	}}
}

// NewRemote returns a client of the service at a base URL such as
// http://127.0.0.1:8080.
func NewRemote(base string, client *http.Client) *Client {
	return &Client{base: strings.TrimSuffix(base, "/"), send: client.Do}
}

// Request is a request to send.
type Request struct {
	Method string // GET when empty
	Path   string // with the query
	Header http.Header
	// Body is sent as it is; Content-Type is application/json unless Header
	// names one, even an empty one.
	Body []byte
	// Bad marks a request that the contract does not allow, or that the service
	// must refuse for another reason: its answer must be a problem.
	Bad bool
	// BadLines marks a body of lines of which some are not as the contract wants
	// them, or which is compressed: such a request is answered, each line for
	// itself, and only the answer is judged.
	BadLines bool
}

// Answer is what came back.
type Answer struct {
	Status int
	Header http.Header
	Body   []byte
	// Problem is the problem that was answered; nil when there was none.
	Problem *openapi.Problem
}

// Pointers returns the pointer, or the parameter, of each entry of the problem
// with its code, such as "#/amount required" or "units enum".
func (a Answer) Pointers() []string {
	if a.Problem == nil || len(a.Problem.Errors) == 0 {
		return nil
	}
	places := make([]string, 0, len(a.Problem.Errors))
	for _, e := range a.Problem.Errors {
		place := ""
		if e.Pointer != nil {
			place = *e.Pointer
		}
		if e.Parameter != nil {
			place = *e.Parameter
		}
		places = append(places, place+" "+e.Code)
	}
	return places
}

// Slug returns the last part of the problem's type; "" when there was none.
func (a Answer) Slug() string {
	if a.Problem == nil {
		return ""
	}
	return slugOf(a.Problem.Type)
}

func slugOf(problemType string) string {
	return problemType[strings.LastIndexByte(problemType, '/')+1:]
}

// Get gets a path.
func (c *Client) Get(t *testing.T, path string) Answer {
	t.Helper()
	return c.Do(t, Request{Path: path})
}

// Post posts a JSON body.
func (c *Client) Post(t *testing.T, path string, body []byte) Answer {
	t.Helper()
	return c.Do(t, Request{Method: http.MethodPost, Path: path, Body: body})
}

// Decode reads the JSON body of an answer into a generated type.
func Decode[T any](t *testing.T, a Answer) T {
	t.Helper()
	var value T
	if err := json.Unmarshal(a.Body, &value, json.RejectUnknownMembers(true)); err != nil {
		t.Fatalf("decode the answer (status %d): %v\n%s", a.Status, err, a.Body)
	}
	return value
}

// Do sends a request and judges the exchange. Whatever the contract does not
// allow fails the test; so does a bad request that is not refused, and a good
// one that is refused as unreadable.
func (c *Client) Do(t *testing.T, r Request) Answer {
	t.Helper()
	a, err := c.exchange(t.Context(), r)
	if err != nil {
		t.Fatalf("%s %.200s: status %d: %v\n%.2000s", r.Method, r.Path, a.Status, err, a.Body)
	}
	return a
}

// exchange sends a request and returns the answer, and an error for an exchange
// that is not as it should be.
func (c *Client) exchange(ctx context.Context, r Request) (Answer, error) {
	oracle, err := theOracle()
	if err != nil {
		return Answer{}, err
	}
	req, err := c.request(ctx, r)
	if err != nil {
		return Answer{}, err
	}
	judged, err := c.request(ctx, r) // with a body that is still to be read
	if err != nil {
		return Answer{}, err
	}
	response, err := c.send(req)
	if err != nil {
		return Answer{}, err
	}
	body, err := io.ReadAll(response.Body)
	if err = errors.Join(err, response.Body.Close()); err != nil {
		return Answer{}, err
	}
	a := Answer{Status: response.StatusCode, Header: response.Header, Body: body}
	if req.Method == http.MethodHead {
		a.Body = nil // a recorder keeps what a server would not send
	}
	if a.Problem, err = problemIn(a); err != nil {
		return a, err
	}
	return a, oracle.judge(judged, a, r)
}

func (c *Client) request(ctx context.Context, r Request) (*http.Request, error) {
	method := r.Method
	if method == "" {
		method = http.MethodGet
	}
	// The path goes in as it is, even one that a URL may not have.
	req, err := http.NewRequestWithContext(ctx, method, c.base, bytes.NewReader(r.Body))
	if err != nil {
		return nil, err
	}
	path, query, _ := strings.Cut(r.Path, "?")
	if req.URL.Path, err = url.PathUnescape(path); err != nil {
		return nil, err
	}
	req.URL.RawPath, req.URL.RawQuery = path, query
	for name, values := range r.Header {
		if len(values) > 0 {
			req.Header[http.CanonicalHeaderKey(name)] = values
		}
	}
	if _, named := r.Header[headerType]; !named && len(r.Body) > 0 {
		req.Header.Set(headerType, mediaTypeJSON)
	}
	if len(r.Body) == 0 {
		req.Body = http.NoBody
	}
	return req, nil
}

// problemIn reads the problem of an answer, which every answer from 400 on must
// be.
func problemIn(a Answer) (*openapi.Problem, error) {
	mediaType, _, err := mime.ParseMediaType(a.Header.Get(headerType))
	isProblem := err == nil && mediaType == mediaTypeProblem
	switch {
	case a.Status < http.StatusBadRequest && !isProblem:
		return nil, nil
	case a.Status < http.StatusBadRequest:
		return nil, errors.New("a problem with a status of success")
	case !isProblem:
		return nil, errors.New("an error that is no problem document")
	case a.Body == nil: // HEAD
		return nil, nil
	}
	problem := new(openapi.Problem)
	if err := json.Unmarshal(a.Body, problem, json.RejectUnknownMembers(true)); err != nil {
		return nil, err
	}
	switch {
	case problem.Status != a.Status:
		return nil, errors.New("a problem with another status than the answer")
	case problem.RequestID != a.Header.Get("X-Request-Id"):
		return nil, errors.New("a problem with another request id than the answer")
	}
	return problem, nil
}

// oracle judges exchanges by the contract, with kin-openapi.
type oracle struct {
	document *openapi3.T
	router   routers.Router
}

var theOracle = sync.OnceValues(func() (*oracle, error) {
	// The validator has no reader for these media types; a text is one string.
	openapi3filter.RegisterBodyDecoder("text/html", openapi3filter.PlainBodyDecoder)
	openapi3filter.RegisterBodyDecoder("text/csv", openapi3filter.PlainBodyDecoder)
	openapi3filter.RegisterBodyDecoder("image/svg+xml", openapi3filter.PlainBodyDecoder)
	openapi3filter.RegisterBodyDecoder("image/png", openapi3filter.FileBodyDecoder)
	openapi3filter.RegisterBodyDecoder("application/x-ndjson", decodeLines)
	openapi3filter.RegisterBodyDecoder("application/vnd.oai.openapi", openapi3filter.PlainBodyDecoder)
	openapi3filter.RegisterBodyDecoder("application/vnd.oai.openapi+json", openapi3filter.JSONBodyDecoder)
	openapi3.DefineStringFormatValidator("uuid", openapi3.NewRegexpFormatValidator(openapi3.FormatOfStringForUUIDOfRFC9562))

	document, err := openapi.Document()
	if err != nil {
		return nil, err
	}
	document.Servers = nil                                                          // paths are whole
	router, err := legacy.NewRouter(document, openapi3.DisableExamplesValidation()) // Document has validated them
	if err != nil {
		return nil, err
	}
	account.know(document)
	return &oracle{document, router}, nil
})

var options = &openapi3filter.Options{
	MultiError:                        true,
	IncludeResponseStatus:             true,
	RejectWhenRequestBodyNotSpecified: true,
	SkipSettingDefaults:               true,
	AuthenticationFunc:                openapi3filter.NoopAuthenticationFunc, // a service that is open asks for no key
}

// judge judges an exchange and enters it into the account.
func (o *oracle) judge(req *http.Request, a Answer, r Request) error {
	asked := req
	if req.Method == http.MethodHead { // answered like GET, without the body
		asked = req.Clone(req.Context())
		asked.Method = http.MethodGet
	}
	route, path, err := o.router.FindRoute(asked)
	if err != nil {
		return o.judgeElsewhere(req, a)
	}
	input := &openapi3filter.RequestValidationInput{Request: asked, PathParams: path, Route: route, Options: options}
	if r.Bad && a.Status < http.StatusBadRequest {
		return errors.New("a bad request was not refused")
	}
	if !r.Bad && !r.BadLines {
		if err := openapi3filter.ValidateRequest(req.Context(), input); err != nil {
			return errors.Join(errors.New("the request is against the contract; is it meant to be bad?"), err)
		}
	}
	if !r.Bad && a.Status == http.StatusBadRequest {
		return errors.New("a good request was refused as unreadable")
	}
	account.enter(route.Method+" "+route.Path, a)
	if req.Method == http.MethodHead {
		return nil
	}
	answer := &openapi3filter.ResponseValidationInput{
		RequestValidationInput: input, Status: a.Status, Header: a.Header, Options: options,
	}
	return openapi3filter.ValidateResponse(req.Context(), answer.SetBodyBytes(a.Body))
}

// judgeElsewhere judges an answer to what is no operation of the contract: a
// problem, an answer to OPTIONS, or a file of the documentation page.
func (o *oracle) judgeElsewhere(req *http.Request, a Answer) error {
	account.enter("", a)
	switch {
	case a.Problem != nil:
		problem := o.document.Components.Schemas["Problem"]
		var value any
		if err := json.Unmarshal(a.Body, &value); err != nil {
			return err
		}
		return problem.Value.VisitJSON(value, openapi3.MultiErrors())
	case req.Method == http.MethodOptions, req.Method == http.MethodHead, strings.HasPrefix(req.URL.Path, "/docs/"):
		return nil
	}
	return errors.New("the contract does not have what was answered")
}

// decodeLines judges each line of a body of JSON lines by the schema, which in
// this contract is the schema of one line, and returns the value of the last for
// the validator to judge. It is an [openapi3filter.BodyDecoder].
func decodeLines(body io.Reader, _ http.Header, schema *openapi3.SchemaRef, _ openapi3filter.EncodingFn) (any, error) {
	text, err := io.ReadAll(body)
	if err != nil {
		return nil, err
	}
	var last any
	number := 0
	for line := range bytes.Lines(text) {
		number++
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		last = nil
		if err := json.Unmarshal(line, &last); err != nil {
			return nil, fmt.Errorf("line %d: %w", number, err)
		}
		if err := schema.Value.VisitJSON(last, openapi3.MultiErrors()); err != nil {
			return nil, fmt.Errorf("line %d: %w", number, err)
		}
	}
	return last, nil
}
