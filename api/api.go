package api

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/go-json-experiment/json"
	"github.com/klauspost/compress/gzhttp"
	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"
	"github.com/prometheus/client_golang/prometheus"

	"greenweight/api/contract"
	"greenweight/api/table"
	"greenweight/openapi"
	"greenweight/service/formulas"
	"greenweight/service/lots"
	"greenweight/service/shops"
)

const (
	// defaultMaxBody is 1 MiB: about 500 times the largest example.
	defaultMaxBody = 1 << 20
	defaultTimeout = 15 * time.Second
	// minCompressed is the size in bytes from which compressing saves a packet.
	minCompressed = 1024
	// preflightSeconds is how long a browser may remember a preflight answer.
	preflightSeconds = 600
)

// Config holds what the edge needs from outside. Clock, Formulas, Lots and Shops
// are needed; the zero value of any other field means what is said there.
type Config struct {
	// Clock tells the time.
	Clock func() time.Time
	// Formulas keeps the saved formulas.
	Formulas *formulas.Service
	// Lots keeps the lots, and reads their entries with [ReadEntry].
	Lots *lots.Service
	// Shops knows the keys.
	Shops *shops.Service
	// OpenShop lets whoever can reach the service use the first shop without a
	// key until the first key is made: for a service that listens on a loopback
	// address alone.
	OpenShop bool
	// Version is the version of the program; "development" when empty.
	Version string
	// Ready returns nil when the service takes requests, else why not, for
	// people; it always does when nil.
	Ready func(context.Context) error
	// Logger gets one line for each request, and the causes of internal
	// problems; nothing is logged when nil.
	Logger *slog.Logger
	// Registerer gets the metrics; they are not kept when nil.
	Registerer prometheus.Registerer
	// Origins are the web origins (scheme://host:port) whose pages may read
	// answers; "*" stands for all. None when empty.
	Origins []string
	// MaxBody is the largest body in bytes, before and after decompression;
	// 1 MiB when 0.
	MaxBody int64
	// Timeout is how long reading and computing one request may take; 15 s
	// when 0.
	Timeout time.Duration
}

// handlers answers the operations of the contract. It does not change, so that
// any number of requests may use it.
type handlers struct {
	clock     func() time.Time
	ready     func(context.Context) error
	saved     *formulas.Service
	lots      *lots.Service
	rules     *memberRules
	formulas  contract.Schema // checks one formula of a collection
	layout    *table.Layout   // of a table of formulas
	version   openapi.Version
	documents documents
}

var _ openapi.StrictServerInterface = (*handlers)(nil)

// New returns the handler of all the service's paths. It returns an error for a
// Config without what is needed, and for a contract that cannot be read, has a rule
// that would not be checked, or has an operation twice.
func New(cfg Config) (http.Handler, error) {
	s, err := newServer(cfg)
	if err != nil {
		return nil, err
	}
	return s.handler()
}

// server is the router with what its middleware needs.
type server struct {
	echo     *echo.Echo
	log      *slog.Logger
	clock    func() time.Time
	shops    *shops.Service
	openShop bool
	maxBody  int64
	timeout  time.Duration
	streams  map[string]bool // paths whose bodies are read while they are answered
	handlers *handlers
}

// contractual is what follows from the contract alone. Nobody changes it.
type contractual struct {
	document  *openapi3.T
	checks    *contract.Contract
	formulas  contract.Schema
	layout    *table.Layout
	documents documents
}

// fromContract reads the contract once, however many servers there are.
var fromContract = sync.OnceValues(func() (of contractual, err error) {
	if of.document, err = openapi.Document(); err != nil {
		return of, err
	}
	if of.checks, err = contract.Compile(of.document); err != nil {
		return of, fmt.Errorf("compile the contract: %w", err)
	}
	var known bool
	if of.formulas, known = of.checks.Schema("Formula"); !known {
		return of, errors.New("make the edge: the contract has no schema Formula that is asked for")
	}
	if of.layout, err = table.NewLayout(of.document); err != nil {
		return of, err
	}
	of.documents, err = makeDocuments(of.document)
	return of, err
})

func newServer(cfg Config) (*server, error) {
	if cfg.Clock == nil || cfg.Formulas == nil || cfg.Lots == nil || cfg.Shops == nil {
		return nil, errors.New("make the edge: it needs a clock, formulas, lots and shops")
	}
	if cfg.Ready == nil {
		cfg.Ready = func(context.Context) error { return nil }
	}
	of, err := fromContract()
	if err != nil {
		return nil, err
	}
	s := &server{
		echo:  echo.New(),
		log:   cmp.Or(cfg.Logger, slog.New(slog.DiscardHandler)),
		clock: cfg.Clock,
		shops: cfg.Shops, openShop: cfg.OpenShop,
		maxBody: cmp.Or(cfg.MaxBody, defaultMaxBody),
		timeout: cmp.Or(cfg.Timeout, defaultTimeout),
		streams: make(map[string]bool),
		handlers: &handlers{
			clock:     cfg.Clock,
			ready:     cfg.Ready,
			saved:     cfg.Formulas,
			lots:      cfg.Lots,
			rules:     newMemberRules(),
			formulas:  of.formulas,
			layout:    of.layout,
			version:   versions(cmp.Or(cfg.Version, "development"), of.document.Info.Version),
			documents: of.documents,
		},
	}
	observe, err := s.observe(cfg.Registerer)
	if err != nil {
		return nil, err
	}
	s.echo.Logger.SetOutput(io.Discard)
	s.echo.IPExtractor = echo.ExtractIPDirect() // the default believes any X-Forwarded-For
	s.echo.HTTPErrorHandler = s.writeProblem
	s.echo.Binder = decoder{}
	s.echo.Use(identify, observe, recoverPanic)
	if len(cfg.Origins) > 0 {
		s.echo.Use(crossOrigin(cfg.Origins))
	}
	s.echo.Use(s.limitTime)

	routes := &router{EchoRouter: s.echo, server: s, document: of.document, checks: of.checks}
	openapi.RegisterHandlers(routes, openapi.NewStrictHandler(s.handlers, nil))
	if err := errors.Join(routes.errs...); err != nil {
		return nil, err
	}
	s.echo.GET(docsAssets, s.getDocsAsset)
	s.echo.HEAD(docsAssets, s.getDocsAsset)
	return s, nil
}

// handler returns the router with compression of answers around it.
func (s *server) handler() (http.Handler, error) {
	compress, err := gzhttp.NewWrapper(gzhttp.MinSize(minCompressed), gzhttp.EnableZstd(true), gzhttp.ContentTypeFilter(compressible))
	if err != nil {
		return nil, fmt.Errorf("make the compressor: %w", err)
	}
	return compress(s.echo), nil
}

// compressible tells whether an answer of this media type gets smaller: a PNG is
// compressed already.
func compressible(mediaType string) bool {
	return gzhttp.DefaultContentTypeFilter(mediaType) && !strings.HasPrefix(mediaType, mediaTypePNG)
}

// router registers the operations of the contract, each behind its own checks,
// and answers HEAD wherever it answers GET.
type router struct {
	openapi.EchoRouter
	server   *server
	document *openapi3.T
	checks   *contract.Contract
	errs     []error
}

// GET registers an operation.
func (r *router) GET(path string, h echo.HandlerFunc, m ...echo.MiddlewareFunc) *echo.Route {
	m = slices.Concat(m, r.edge(http.MethodGet, path))
	r.HEAD(path, h, m...)
	return r.EchoRouter.GET(path, h, m...)
}

// POST registers an operation.
func (r *router) POST(path string, h echo.HandlerFunc, m ...echo.MiddlewareFunc) *echo.Route {
	return r.EchoRouter.POST(path, h, slices.Concat(m, r.edge(http.MethodPost, path))...)
}

// edge returns the checks of the operation with this method and this path as
// the router writes it.
func (r *router) edge(method, path string) []echo.MiddlewareFunc {
	template := pathTemplate(path)
	checks, ok := r.checks.Operation(method, template)
	if !ok {
		r.errs = append(r.errs, fmt.Errorf("%s %s is not in the contract", method, template))
		return nil
	}
	op := operation{checks: checks, consumes: checks.BodyTypes()}
	described := r.document.Paths.Value(template).GetOperation(method)
	for status, response := range described.Responses.Map() {
		if !strings.HasPrefix(status, "2") {
			continue
		}
		for mediaType := range response.Value.Content {
			op.produces = append(op.produces, mediaType)
		}
	}
	inOrder(op.produces)
	if op.streams, _ = described.Extensions[extensionStream].(bool); op.streams {
		r.server.streams[path] = true
	}
	var first []echo.MiddlewareFunc
	if template != path {
		first = append(first, r.refuseOthers)
	}
	scope, always, err := scopeOf(described)
	switch {
	case err != nil:
		r.errs = append(r.errs, err)
		return nil
	case scope != "" && !always:
		return append(first, r.server.authenticateLater(scope), r.server.check(op))
	case scope != "":
		return append(first, r.server.authenticate(scope), r.server.check(op))
	}
	return append(first, r.server.check(op))
}

// refuseOthers refuses a request of a path that is in the contract by itself,
// where the router takes a part of it for a parameter because the path has no
// operation with this method: GET /v1/formulas/check is no question for a formula.
func (r *router) refuseOthers(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		item := r.document.Paths.Value(c.Request().URL.Path)
		if item == nil || strings.Contains(c.Request().URL.Path, "{") {
			return next(c)
		}
		allowed := []string{http.MethodOptions}
		for _, method := range slices.Sorted(maps.Keys(item.Operations())) {
			allowed = append(allowed, method)
			if method == http.MethodGet {
				allowed = append(allowed, http.MethodHead)
			}
		}
		c.Response().Header().Set(echo.HeaderAllow, strings.Join(allowed, ", "))
		return echo.ErrMethodNotAllowed
	}
}

// pathTemplate turns the router's /problems/:slug into the contract's
// /problems/{slug}.
func pathTemplate(path string) string {
	parts := strings.Split(path, "/")
	for i, part := range parts {
		if name, ok := strings.CutPrefix(part, ":"); ok {
			parts[i] = "{" + name + "}"
		}
	}
	return strings.Join(parts, "/")
}

// crossOrigin lets pages of the origins read answers. The headers are those
// that this service sends or reads.
func crossOrigin(origins []string) echo.MiddlewareFunc {
	return middleware.CORSWithConfig(middleware.CORSConfig{
		AllowOrigins: origins,
		AllowHeaders: []string{
			"Authorization", "Content-Type", "Content-Encoding", "Idempotency-Key", "If-Match", "If-None-Match", headerRequestID,
		},
		ExposeHeaders: []string{"ETag", "Idempotency-Replayed", "Link", "Location", "Retry-After", headerRequestID},
		MaxAge:        preflightSeconds,
	})
}

// decoder reads a body that was checked into the generated types. An error of
// it is a fault of this service: after the checks there is nothing left that
// could not be read.
type decoder struct{}

// Bind implements [echo.Binder].
func (decoder) Bind(into any, c echo.Context) error {
	body, ok := c.Get(contextBody).([]byte)
	if !ok {
		return errors.New("decode the body: it was not read")
	}
	if err := json.Unmarshal(body, into, json.RejectUnknownMembers(true)); err != nil {
		return fmt.Errorf("decode a body that was checked: %w", err)
	}
	return nil
}
