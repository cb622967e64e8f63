package api

import (
	"bufio"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"sync/atomic"
	"time"

	"github.com/labstack/echo/v4"

	"greenweight/domain/fault"
)

const (
	// extensionStream is the member of an operation that says that its body is
	// read and checked while it is answered.
	extensionStream = "x-stream"
	// contextFlow is the key under which the flow of a request stands.
	contextFlow = "flow"
	// patience is for how many times the time of a request a stream may stand
	// still: sources that are slow are what streams are for.
	patience = 4
	// zipReader is the buffer that a compressed body is read by.
	zipReader = 32 << 10
	// mostUnzipped is how many times its size a body may have when it is
	// decompressed, once that is more than freelyUnzipped bytes: recipes come to 20
	// to 50, a text made to harm to 1000.
	mostUnzipped   = 250
	freelyUnzipped = 1 << 20
)

// flowKey is the key of the context under which the flow of a request stands.
type flowKey struct{}

// flowOf returns the flow of a request; an error for an operation that is no
// stream by the contract, which a test excludes.
func flowOf(ctx context.Context) (*flow, error) {
	f, ok := ctx.Value(flowKey{}).(*flow)
	if !ok {
		return nil, errors.New("stream: the operation is not one by the contract")
	}
	return f, nil
}

// flow is a request whose body is read while it is answered. It may take as long
// as it likes while it moves: each read and each write gets the time that a
// stream may stand still. A flow is the body, decompressed, and the answer.
type flow struct {
	requestID string
	mediaType string // of the body
	fail      func(error)

	control     *http.ResponseController
	patience    time.Duration
	interrupted atomic.Bool
	body        io.Reader    // as it comes
	came        int64        // bytes of it
	zipped      bool         // whether it is compressed
	unzip       *gzip.Reader // nil before its first byte
	unzipped    int64        // bytes that came of it

	writer     http.ResponseWriter
	answerType string
	heading    []byte // the first line of the answer; nil for most

	answered, refused atomic.Int64 // lines, for the log
	whole             bool         // whether the answer came to its end
}

// openFlow makes a flow of a request and puts it where the operation finds it.
// Nothing of the body is read yet.
func (s *server) openFlow(c echo.Context, mediaType string) error {
	req, res := c.Request(), c.Response()
	zipped, err := isZipped(req)
	if err != nil {
		return err
	}
	// Past Echo's own writer, whose Flush tells no error. Writers of tests have
	// neither deadlines nor two directions, and HTTP/2 always has the latter.
	control := http.NewResponseController(res.Writer)
	_ = control.EnableFullDuplex()
	id := res.Header().Get(headerRequestID)
	f := &flow{
		requestID: id, mediaType: mediaType, control: control, patience: patience * s.timeout,
		body: req.Body, zipped: zipped, writer: res, answerType: answerType(req.Context()),
	}
	ctx := context.WithValue(req.Context(), flowKey{}, f)
	f.fail = func(err error) { s.logCause(ctx, id, err) }
	c.Set(contextFlow, f)
	c.SetRequest(req.WithContext(ctx))
	return nil
}

// Read reads the body, decompressed.
func (f *flow) Read(p []byte) (int, error) {
	if !f.zipped {
		return f.readBody(p)
	}
	if f.unzip == nil {
		var err error
		if f.unzip, err = gzip.NewReader(bufio.NewReaderSize(readerFunc(f.readBody), zipReader)); err != nil {
			return 0, err
		}
	}
	n, err := f.unzip.Read(p)
	if f.unzipped += int64(n); f.unzipped > freelyUnzipped && f.unzipped > mostUnzipped*f.came {
		return 0, &refusal{slug: slugTooLarge, detail: fmt.Sprintf("decompressed it is more than %d times as large", mostUnzipped)}
	}
	return n, err
}

type readerFunc func(p []byte) (int, error)

// Read implements [io.Reader].
func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

// readBody reads the body as it comes.
func (f *flow) readBody(p []byte) (int, error) {
	_ = f.control.SetReadDeadline(f.deadline())
	if f.interrupted.Load() { // looked at after the deadline, which interrupt may have set before
		return 0, context.Canceled
	}
	n, err := f.body.Read(p)
	f.came += int64(n)
	return n, err
}

// deadline is when a stream that stands still from now on has stood still for
// too long.
func (f *flow) deadline() time.Time {
	return time.Now().Add(f.patience) //nolint:forbidigo // a connection knows no other clock, and answers nothing by it
}

// interrupt makes a Read that waits return, and each that follows.
func (f *flow) interrupt() {
	f.interrupted.Store(true)
	_ = f.control.SetReadDeadline(time.Unix(1, 0))
}

// Write writes a part of the answer, and the head before the first.
func (f *flow) Write(p []byte) (int, error) {
	f.allowWriting()
	if !f.begun() {
		header := f.writer.Header()
		header.Set(echo.HeaderContentType, f.answerType)
		header.Set(echo.HeaderXContentTypeOptions, "nosniff")
		header.Set(echo.HeaderCacheControl, "no-store")
		f.writer.WriteHeader(http.StatusOK)
		if _, err := f.writer.Write(f.heading); err != nil {
			return 0, err
		}
	}
	return f.writer.Write(p)
}

// allowWriting gives the next write its time.
func (f *flow) allowWriting() { _ = f.control.SetWriteDeadline(f.deadline()) }

// begun tells whether the answer has begun: then no other status can be told.
func (f *flow) begun() bool {
	r, ok := f.writer.(*echo.Response)
	return ok && r.Committed
}

// Flush sends what was written.
func (f *flow) Flush() error {
	f.allowWriting()
	if err := f.control.Flush(); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	return nil
}

// readError returns what a client is told of a body that could not be read on.
func (f *flow) readError(err error) error {
	switch {
	case errors.As(err, new(*refusal)), errors.As(err, new(*fault.Error)):
		return err
	case errors.Is(err, os.ErrDeadlineExceeded):
		return &refusal{
			slug: slugRequestTimeout, detail: "nothing more of the body came within " + f.patience.String(), header: closeConnection,
		}
	case errors.Is(err, context.Canceled):
		return err
	}
	return &refusal{slug: slugMalformedRequest, detail: "the body can't be read to its end: " + err.Error()}
}
