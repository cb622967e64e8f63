package api

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"regexp"
	"runtime/debug"
	"strconv"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
	"github.com/prometheus/client_golang/prometheus"
)

const headerRequestID = "X-Request-Id"

// requestID is what an id given by the client must be, to be kept.
var requestID = regexp.MustCompile(`^[A-Za-z0-9._-]{8,64}$`)

// durationBuckets are the upper bounds in seconds of the histogram: a check
// takes well under a millisecond, a projection may take seconds.
var durationBuckets = []float64{0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30}

// identify gives each request its id, in the header of the answer.
func identify(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		id := c.Request().Header.Get(headerRequestID)
		if !requestID.MatchString(id) {
			fresh, err := uuid.NewV7()
			if err != nil {
				return fmt.Errorf("make a request id: %w", err)
			}
			id = fresh.String()
		}
		c.Response().Header().Set(headerRequestID, id)
		return next(c)
	}
}

// observe returns the middleware that writes one line to the log and counts in
// the metrics, for each request. It never sees a body.
func (s *server) observe(registerer prometheus.Registerer) (echo.MiddlewareFunc, error) {
	durations := prometheus.NewHistogramVec(prometheus.HistogramOpts{
		Name:    "greenweight_http_request_duration_seconds",
		Help:    "Time from the head of a request to the end of its answer.",
		Buckets: durationBuckets,
	}, []string{"method", "route", "code"})
	lines := prometheus.NewCounterVec(prometheus.CounterOpts{
		Name: "greenweight_stream_lines_total",
		Help: "Lines of bodies that are answered line by line, by whether a line was answered or refused.",
	}, []string{"route", "outcome"})
	if registerer != nil {
		for _, metric := range []prometheus.Collector{durations, lines} {
			if err := registerer.Register(metric); err != nil {
				return nil, fmt.Errorf("register the metrics: %w", err)
			}
		}
	}
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			start := s.clock()
			if err := next(c); err != nil {
				c.Error(err) // writes the problem, so that its status is known below
			}
			took := s.clock().Sub(start)
			method, route, status := methodLabel(c.Request().Method), routeLabel(c.Path()), c.Response().Status
			durations.WithLabelValues(method, route, strconv.Itoa(status)).Observe(took.Seconds())
			said := []slog.Attr{
				slog.String("request_id", c.Response().Header().Get(headerRequestID)),
				slog.String("method", method), slog.String("route", route),
				slog.Int("status", status), slog.Float64("duration_seconds", took.Seconds()),
			}
			if f, ok := c.Get(contextFlow).(*flow); ok {
				answered, refused := f.answered.Load(), f.refused.Load()
				lines.WithLabelValues(route, "answered").Add(float64(answered))
				lines.WithLabelValues(route, "refused").Add(float64(refused))
				said = append(said, slog.Int64("lines", answered+refused), slog.Int64("lines_refused", refused), slog.Bool("whole", f.whole))
			}
			s.log.LogAttrs(c.Request().Context(), levelOf(route, status), "request", said...)
			return nil
		}
	}, nil
}

// methodLabel keeps what a client may make up out of log and metrics.
func methodLabel(method string) string {
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return method
	}
	return "other"
}

func routeLabel(path string) string {
	if path == "" {
		return "none"
	}
	return path
}

// levelOf returns the level of a request's line. Probes come every few seconds
// and say little.
func levelOf(route string, status int) slog.Level {
	switch {
	case route == "/livez" || route == "/readyz":
		return slog.LevelDebug
	case status >= http.StatusInternalServerError:
		return slog.LevelError
	}
	return slog.LevelInfo
}

// panicError is a panic of a handler. Its text is for the log alone.
type panicError struct {
	value any
	stack []byte
}

// Error returns the value and the stack.
func (e *panicError) Error() string { return fmt.Sprintf("panic: %v\n%s", e.value, e.stack) }

// recoverPanic makes an error of a panic. The one that means to end the
// connection goes on.
func recoverPanic(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		defer func() {
			value := recover()
			if value == nil {
				return
			}
			if cause, ok := value.(error); ok && errors.Is(cause, http.ErrAbortHandler) {
				panic(value)
			}
			err = &panicError{value, debug.Stack()}
		}()
		return next(c)
	}
}

// logCause writes to the log what a problem does not show.
func (s *server) logCause(ctx context.Context, id string, err error) {
	s.log.LogAttrs(ctx, slog.LevelError, "no answer", slog.String("request_id", id), slog.String("cause", err.Error()))
}
