package api

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/labstack/echo/v4"

	"greenweight/api/contract"
)

const (
	// contextBody is the key under which the bytes of a checked body stand.
	contextBody = "body"
	// maxPooledBody is the largest buffer that is kept for later bodies.
	maxPooledBody = 64 << 10
)

// closeConnection is sent where the rest of a body is not read.
var closeConnection = map[string]string{echo.HeaderConnection: "close"}

// bodies keeps the buffers that bodies are read into.
var bodies = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// bodyKey is the key of the context under which the bytes of a body stand as
// they were sent, decompressed. They are for others once the request is done.
type bodyKey struct{}

// bodyOf returns the bytes of the body as it was sent; nil without one.
func bodyOf(ctx context.Context) []byte {
	body, _ := ctx.Value(bodyKey{}).([]byte)
	return body
}

// operation is one operation of the contract, as the edge sees it.
type operation struct {
	checks   *contract.Operation
	consumes []string // media types of the body, sorted
	produces []string // media types of the answers that are no problem, the usual one first
	streams  bool     // the body is read and checked while it is answered
}

// limitTime ends the context of a request after the time that one may take. A
// handler that has its answer by then gives it; one that has not begun is not
// begun. A stream may take longer, as long as it moves: see [flow].
func (s *server) limitTime(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if s.streams[c.Path()] {
			return next(c)
		}
		ctx, cancel := context.WithTimeout(c.Request().Context(), s.timeout)
		defer cancel()
		c.SetRequest(c.Request().WithContext(ctx))
		return next(c)
	}
}

// check lets a request pass to the operation when it is what the contract
// allows. Everything at fault in parameters and body is told in one problem.
func (s *server) check(op operation) echo.MiddlewareFunc {
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if err := op.negotiate(c); err != nil {
				return err
			}
			req := c.Request()
			var found []contract.Violation
			if op.checks.HasBody() {
				mediaType, err := op.mediaType(req)
				if err != nil {
					return err
				}
				if op.streams {
					err = s.openFlow(c, mediaType)
				} else {
					var release func()
					found, release, err = s.takeBody(c, op, mediaType)
					defer release()
				}
				if err != nil {
					return err
				}
				req = c.Request()
			}
			query, err := url.ParseQuery(req.URL.RawQuery)
			if err != nil {
				return &refusal{slug: slugMalformedRequest, detail: "the query can't be read: " + err.Error()}
			}
			found = slices.Concat(op.checks.CheckParameters(c.Param, query, req.Header), found)
			if len(found) > 0 {
				return &violationsError{found}
			}
			if err := req.Context().Err(); err != nil {
				return err
			}
			return next(c)
		}
	}
}

// takeBody reads the whole body of a request, checks it, and puts its bytes where
// the operation finds them. They are good until release is called, which is never
// nil.
func (s *server) takeBody(c echo.Context, op operation, mediaType string) (found []contract.Violation, release func(), err error) {
	body, ok := bodies.Get().(*bytes.Buffer)
	if !ok {
		body = new(bytes.Buffer)
	}
	body.Reset()
	release = func() {
		if body.Cap() <= maxPooledBody {
			bodies.Put(body)
		}
	}
	if err := s.readBody(c, body); err != nil {
		return nil, release, err
	}
	c.Set(contextBody, body.Bytes())
	c.SetRequest(c.Request().WithContext(context.WithValue(c.Request().Context(), bodyKey{}, body.Bytes())))
	return op.checks.CheckBody(mediaType, body.Bytes()), release, nil
}

// mediaType returns the media type that the body of a request has. A request
// without one is taken to mean the operation's own when it has no body either,
// so that it hears of the missing body.
func (op operation) mediaType(req *http.Request) (string, error) {
	refuse := func(what string) error {
		return &refusal{
			slug:   slugUnsupportedMediaType,
			detail: what + "; the body must be " + strings.Join(op.consumes, " or ") + ", in UTF-8",
			header: map[string]string{"Accept-Post": strings.Join(op.consumes, ", ")},
		}
	}
	given := req.Header.Values(echo.HeaderContentType)
	switch {
	case len(given) == 0 && req.ContentLength == 0:
		return op.consumes[0], nil
	case len(given) == 0:
		return "", refuse("Content-Type is missing")
	case len(given) > 1:
		return "", refuse("Content-Type is given " + strconv.Itoa(len(given)) + " times")
	}
	mediaType, parameters, err := mime.ParseMediaType(given[0])
	if err != nil || !slices.Contains(op.consumes, mediaType) {
		return "", refuse("Content-Type is " + quote(given[0]))
	}
	if charset, ok := parameters["charset"]; ok && !strings.EqualFold(charset, "utf-8") {
		return "", refuse("the charset is " + quote(charset))
	}
	return mediaType, nil
}

// readBody reads the body of a request, decompressed, into a buffer. No more
// than the largest body is read or decompressed.
func (s *server) readBody(c echo.Context, into *bytes.Buffer) error {
	req := c.Request()
	zipped, err := isZipped(req)
	if err != nil {
		return err
	}
	if req.ContentLength > s.maxBody {
		return s.tooLarge(strconv.FormatInt(req.ContentLength, 10) + " bytes are announced")
	}
	// A client that stops in the middle of its body is not waited for. Writers
	// of tests have no deadlines, which is no harm.
	control := http.NewResponseController(c.Response())
	if deadline, ok := req.Context().Deadline(); ok {
		_ = control.SetReadDeadline(deadline)
		defer func() { _ = control.SetReadDeadline(time.Time{}) }()
	}
	var body io.Reader = http.MaxBytesReader(c.Response().Writer, req.Body, s.maxBody)
	if zipped {
		unzipped, err := gzip.NewReader(body)
		if err != nil {
			return s.bodyError(err)
		}
		body = unzipped
	}
	if _, err := into.ReadFrom(io.LimitReader(body, s.maxBody+1)); err != nil {
		return s.bodyError(err)
	}
	if int64(into.Len()) > s.maxBody {
		return s.tooLarge("decompressed it is larger")
	}
	return nil
}

// isZipped tells whether a body is compressed; an error for a coding that is not
// read here.
func isZipped(req *http.Request) (bool, error) {
	switch coding := strings.ToLower(strings.Join(req.Header.Values(echo.HeaderContentEncoding), ",")); coding {
	case "", "identity":
		return false, nil
	case "gzip", "x-gzip":
		return true, nil
	default:
		return false, &refusal{
			slug:   slugUnsupportedMediaType,
			detail: "Content-Encoding is " + quote(coding) + "; the body may be sent as it is, or as gzip",
			header: map[string]string{echo.HeaderAcceptEncoding: "gzip"}, // RFC 7694
		}
	}
}

func (s *server) tooLarge(what string) error {
	return &refusal{
		slug:   slugTooLarge,
		detail: fmt.Sprintf("the body may have at most %d bytes; %s", s.maxBody, what),
		header: closeConnection,
	}
}

// bodyError says why a body could not be read.
func (s *server) bodyError(err error) error {
	var larger *http.MaxBytesError
	switch {
	case errors.As(err, &larger):
		return s.tooLarge("it is larger")
	case errors.Is(err, os.ErrDeadlineExceeded):
		return &refusal{
			slug:   slugRequestTimeout,
			detail: "the body did not arrive within " + s.timeout.String(),
			header: closeConnection,
		}
	}
	return &refusal{slug: slugMalformedRequest, detail: "the body can't be read to its end: " + err.Error()}
}
