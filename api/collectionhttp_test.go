package api

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// pipes is a network in memory, so that the tests below have the time of a
// synctest bubble.
type pipes struct {
	dialled chan net.Conn
	closed  chan struct{}
	once    sync.Once
}

func newPipes() *pipes { return &pipes{dialled: make(chan net.Conn), closed: make(chan struct{})} }

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.dialled:
		return c, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error { p.once.Do(func() { close(p.closed) }); return nil }

func (p *pipes) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1)} }

func (p *pipes) dial(ctx context.Context, _, _ string) (net.Conn, error) {
	ours, theirs := net.Pipe()
	select {
	case p.dialled <- theirs:
		return ours, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// requestLog keeps the lines of the log.
type requestLog struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *requestLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *requestLog) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// timed serves in a bubble, with the timeouts that the program has, and returns
// a client and the log.
func timed(t *testing.T, timeout time.Duration) (*http.Client, *requestLog) {
	t.Helper()
	logged := new(requestLog)
	handler, err := New(keepingWith(t, Config{Timeout: timeout, Logger: slog.New(slog.NewTextHandler(logged, nil))}))
	if err != nil {
		t.Fatal(err)
	}
	network := newPipes()
	server := &http.Server{Handler: handler, ReadHeaderTimeout: time.Second, ReadTimeout: time.Second + timeout, WriteTimeout: time.Second + timeout}
	served := make(chan error, 1)
	go func() { served <- server.Serve(network) }()
	transport := &http.Transport{DialContext: network.dial, DisableCompression: true}
	t.Cleanup(func() {
		transport.CloseIdleConnections()
		if err := server.Close(); err != nil {
			t.Error(err)
		}
		if err := <-served; !errors.Is(err, http.ErrServerClosed) {
			t.Error(err)
		}
	})
	return &http.Client{Transport: transport}, logged
}

// outsideBubbles makes what all tests share before one of them has a bubble.
func outsideBubbles(t *testing.T) {
	t.Helper()
	if _, err := theKeeping(); err != nil {
		t.Fatal(err)
	}
}

func collectionRequest(ctx context.Context, t *testing.T, base string, body io.Reader) *http.Request {
	t.Helper()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, base+pathFormulaChecks+"?rulebooks=us", body)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", mediaTypeNDJSON)
	return req
}

// conversation sends lines and reads their answers one by one.
type conversation struct {
	t       *testing.T
	send    *io.PipeWriter
	answers *bufio.Reader
	close   func() error
}

// converse begins a conversation by a first line.
func converse(ctx context.Context, t *testing.T, client *http.Client, base string) *conversation {
	t.Helper()
	body, send := io.Pipe()
	go func() { _, _ = io.WriteString(send, goodLine+"\n") }()   // fails with the request
	res, err := client.Do(collectionRequest(ctx, t, base, body)) //nolint:bodyclose // the conversation closes it
	if err != nil {
		t.Fatal(err)
	}
	c := &conversation{t, send, bufio.NewReader(res.Body), res.Body.Close}
	c.hears(`"line":1,`)
	return c
}

func (c *conversation) says(line string) {
	c.t.Helper()
	if _, err := io.WriteString(c.send, line+"\n"); err != nil {
		c.t.Fatal(err)
	}
}

func (c *conversation) hears(what string) {
	c.t.Helper()
	line, err := c.answers.ReadString('\n')
	if err != nil || !strings.Contains(line, what) {
		c.t.Fatalf("heard %q, %v, want %s", line, err, what)
	}
}

// hangsUp ends the collection and wants the final line.
func (c *conversation) hangsUp() {
	c.t.Helper()
	if err := c.send.Close(); err != nil {
		c.t.Fatal(err)
	}
	c.hears(`"final":true`)
	if rest, err := io.ReadAll(c.answers); err != nil || len(rest) > 0 {
		c.t.Errorf("after the final line comes %q, %v", rest, err)
	}
	if err := c.close(); err != nil {
		c.t.Error(err)
	}
}

// Whoever sends a line and waits is answered before the next line is sent, over
// a real connection, compressed or not.
func TestCollectionIsAConversation(t *testing.T) {
	t.Parallel()
	handler, err := theHandler()
	if err != nil {
		t.Fatal(err)
	}
	for name, transport := range map[string]*http.Transport{"plain": {DisableCompression: true}, "compressed": {}} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			server := httptest.NewServer(handler)
			defer server.Close()
			defer transport.CloseIdleConnections()
			c := converse(t.Context(), t, &http.Client{Transport: transport}, server.URL)
			for i := 2; i <= 20; i++ {
				c.says(goodLine)
				c.hears(fmt.Sprintf(`"line":%d,`, i))
			}
			c.says("a recipe")
			c.hears(`"status":400`)
			c.hangsUp()
		})
	}
}

// A client that goes away is worked for no longer: the request ends, and with it
// all that ran for it.
func TestCollectionWithoutItsClient(t *testing.T) {
	t.Parallel()
	logged := new(requestLog)
	handler, err := New(keepingWith(t, Config{Logger: slog.New(slog.NewTextHandler(logged, nil))}))
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(handler)
	transport := &http.Transport{DisableCompression: true}
	ctx, cancel := context.WithCancel(t.Context())
	c := converse(ctx, t, &http.Client{Transport: transport}, server.URL)
	cancel()
	server.Close() // waits for the request to end
	_ = c.close()
	if got := logged.String(); !strings.Contains(got, "lines=1 lines_refused=0 whole=false") || strings.Contains(got, "level=ERROR") {
		t.Errorf("logged %s", got)
	}
}

// A stream may take longer than a request as long as it moves; one that stands
// still is ended, and says so.
func TestCollectionMayTakeLong(t *testing.T) {
	t.Parallel()
	outsideBubbles(t)
	synctest.Test(t, func(t *testing.T) {
		client, logged := timed(t, time.Second)
		c := converse(t.Context(), t, client, "http://127.0.0.1")
		for i := 2; i <= 20; i++ {
			time.Sleep(3 * time.Second) // of the bubble
			c.says(goodLine)
			c.hears(fmt.Sprintf(`"line":%d,`, i))
		}
		began := time.Now() //nolint:forbidigo // of the bubble
		c.hears(`"problem":{"detail":"nothing more of the body came within 4s"`)
		if took := time.Since(began); took != patience*time.Second {
			t.Errorf("it stood still for %s", took)
		}
		if rest, err := io.ReadAll(c.answers); err != nil || len(rest) > 0 {
			t.Errorf("after the last line comes %q, %v", rest, err)
		}
		_ = c.close()
		_ = c.send.Close()
		synctest.Wait()
		if got := logged.String(); !strings.Contains(got, "lines=20 lines_refused=0 whole=false") {
			t.Errorf("logged %s", got)
		}
	})
}

// A request whose body does not begin is refused with a status, as any other.
func TestCollectionThatDoesNotBegin(t *testing.T) {
	t.Parallel()
	outsideBubbles(t)
	synctest.Test(t, func(t *testing.T) {
		client, _ := timed(t, time.Second)
		body, send := io.Pipe()
		res, err := client.Do(collectionRequest(t.Context(), t, "http://127.0.0.1", body))
		if err != nil {
			t.Fatal(err)
		}
		if res.StatusCode != http.StatusRequestTimeout {
			t.Errorf("status %d", res.StatusCode)
		}
		_ = res.Body.Close()
		_ = send.Close()
	})
}

// recipes is a collection without an end, which counts what is read of it.
type recipes struct {
	rest string
	read atomic.Int64
}

func (r *recipes) Read(p []byte) (int, error) {
	if r.rest == "" {
		r.rest = goodLine + "\n"
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	r.read.Add(int64(n))
	return n, nil
}

// A client that does not read is not read from either, and is not waited for for
// ever.
func TestCollectionThatNobodyReads(t *testing.T) {
	t.Parallel()
	outsideBubbles(t)
	synctest.Test(t, func(t *testing.T) {
		client, logged := timed(t, time.Second)
		in := new(recipes)
		res, err := client.Do(collectionRequest(t.Context(), t, "http://127.0.0.1", in))
		if err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		before := in.read.Load()
		if most := int64(4 << 20); before > most {
			t.Errorf("%d bytes were read and nothing taken", before)
		}
		time.Sleep((patience - 1) * time.Second)
		synctest.Wait()
		if now := in.read.Load(); now != before {
			t.Errorf("%d more bytes were read", now-before)
		}
		time.Sleep(2 * time.Second)
		synctest.Wait()
		if got := logged.String(); !strings.Contains(got, "whole=false") {
			t.Errorf("it still waits: %s", got)
		}
		_ = res.Body.Close()
	})
}
