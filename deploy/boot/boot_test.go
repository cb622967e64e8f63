package boot

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// output is a buffer that may be read while it is written.
type output struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (o *output) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.text.Write(p)
}

func (o *output) String() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.text.String()
}

// file returns the address of a store in a folder of its own.
func file(t *testing.T) string {
	t.Helper()
	return "sqlite:" + filepath.Join(t.TempDir(), "lots.db")
}

// apart are settings that take free ports and a store of their own.
func apart(t *testing.T, more ...string) []string {
	t.Helper()
	return append([]string{prefix + "LISTEN=127.0.0.1:0", prefix + "METRICS_LISTEN=127.0.0.1:0", prefix + "DATABASE=" + file(t)}, more...)
}

// open opens a service with these settings.
func open(t *testing.T, environ []string, logs io.Writer) (*Service, error) {
	t.Helper()
	cfg, err := ReadConfig(environ)
	if err != nil {
		t.Fatal(err)
	}
	return Open(t.Context(), cfg, logs)
}

// start starts a service and returns it with what ends it and waits.
func start(t *testing.T, logs io.Writer, more ...string) (s *Service, stop func() error) {
	t.Helper()
	s, err := open(t, apart(t, more...), logs)
	if err != nil {
		t.Fatal(err)
	}
	return s, serve(t, s)
}

// serve serves until the end of the test, or until it is stopped.
func serve(t *testing.T, s *Service) (stop func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx) }()
	stop = sync.OnceValue(func() error {
		cancel()
		return <-done
	})
	t.Cleanup(func() { _ = stop() })
	return stop
}

// get returns the status and the body of a URL; 0 when nobody answers.
func get(t *testing.T, url string) (status int, body string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, http.NoBody)
	if err != nil {
		t.Fatal(err)
	}
	transport := &http.Transport{DisableKeepAlives: true}
	response, err := (&http.Client{Timeout: 10 * time.Second, Transport: transport}).Do(req)
	if err != nil {
		return 0, err.Error()
	}
	text, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	if err := response.Body.Close(); err != nil {
		t.Fatal(err)
	}
	return response.StatusCode, string(text)
}

// eventually waits until a condition holds.
func eventually(t *testing.T, what string, holds func() bool) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for !holds() {
		select {
		case <-tick.C:
		case <-ctx.Done():
			t.Fatalf("still not: %s", what)
		}
	}
}

func TestServeAndStop(t *testing.T) {
	t.Parallel()
	var logs output
	s, stop := start(t, &logs)
	eventually(t, "ready", func() bool { status, _ := get(t, s.URL()+"/readyz"); return status == http.StatusOK })
	client := apitest.NewRemote(s.URL(), &http.Client{Timeout: 10 * time.Second})
	if a := client.Post(t, "/v1/formulas/check", []byte(example)); a.Status != http.StatusOK {
		t.Errorf("the example is answered with %d: %s", a.Status, a.Body)
	}
	status, metrics := get(t, s.MetricsURL())
	for _, want := range []string{
		`greenweight_http_request_duration_seconds_count{code="200",method="POST",route="/v1/formulas/check"} 1`, "go_goroutines", "process_",
	} {
		if status != http.StatusOK || !strings.Contains(metrics, want) {
			t.Errorf("status %d, the metrics lack %s:\n%s", status, want, metrics)
		}
	}
	if status, _ := get(t, s.URL()+"/metrics"); status != http.StatusNotFound {
		t.Errorf("the API answers /metrics with %d", status)
	}
	if err := stop(); err != nil {
		t.Errorf("stop: %v", err)
	}
	for _, url := range []string{s.URL() + "/livez", s.MetricsURL()} {
		if status, _ := get(t, url); status != 0 {
			t.Errorf("%s answers %d after the end", url, status)
		}
	}
	if !strings.Contains(logs.String(), `"msg":"stopped"`) {
		t.Errorf("the log does not tell of the end:\n%s", &logs)
	}
}

// At shutdown readiness is off while requests are still answered.
func TestReadinessIsOffFirst(t *testing.T) {
	t.Parallel()
	s, stop := start(t, io.Discard, prefix+"SHUTDOWN_DELAY=1s")
	eventually(t, "ready", func() bool { status, _ := get(t, s.URL()+"/readyz"); return status == http.StatusOK })
	ended := make(chan error, 1)
	go func() { ended <- stop() }()
	eventually(t, "not ready", func() bool { status, _ := get(t, s.URL()+"/readyz"); return status == http.StatusServiceUnavailable })
	if status, body := get(t, s.URL()+"/v1/reference/cures"); status != http.StatusOK {
		t.Errorf("status is %d within the delay: %s", status, body)
	}
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// What has begun when the service is told to stop is answered.
func TestDrain(t *testing.T) {
	t.Parallel()
	s, stop := start(t, io.Discard)
	eventually(t, "ready", func() bool { status, _ := get(t, s.URL()+"/readyz"); return status == http.StatusOK })
	conn, err := new(net.Dialer).DialContext(t.Context(), "tcp", strings.TrimPrefix(s.URL(), "http://"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	half := len(example) / 2
	head := "POST /v1/formulas/check HTTP/1.1\r\nHost: test\r\nConnection: close\r\nContent-Type: application/json\r\nContent-Length: "
	if _, err := io.WriteString(conn, head+strconv.Itoa(len(example))+"\r\n\r\n"+example[:half]); err != nil {
		t.Fatal(err)
	}
	// Connections are taken in turn: once a later one is answered, ours is open.
	eventually(t, "begun", func() bool { status, _ := get(t, s.URL()+"/livez"); return status == http.StatusOK })
	ended := make(chan error, 1)
	go func() { ended <- stop() }()
	eventually(t, "closed", func() bool { status, _ := get(t, s.URL()+"/livez"); return status == 0 })
	if _, err := io.WriteString(conn, example[half:]); err != nil {
		t.Fatal(err)
	}
	answer, err := io.ReadAll(conn)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(answer, []byte("HTTP/1.1 200 OK\r\n")) {
		t.Errorf("the answer is %.200s", answer)
	}
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// What does not end within the time to drain is cut off, and told of.
func TestDrainTimeout(t *testing.T) {
	t.Parallel()
	s, stop := start(t, io.Discard, prefix+"DRAIN_TIMEOUT=100ms")
	eventually(t, "ready", func() bool { status, _ := get(t, s.URL()+"/readyz"); return status == http.StatusOK })
	conn, err := new(net.Dialer).DialContext(t.Context(), "tcp", strings.TrimPrefix(s.URL(), "http://"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	if _, err := io.WriteString(conn, "POST /v1/formulas/check HTTP/1.1\r\nHost: test\r\nContent-Type: application/json\r\nContent-Length: 9\r\n\r\n{"); err != nil {
		t.Fatal(err)
	}
	eventually(t, "begun", func() bool { status, _ := get(t, s.URL()+"/livez"); return status == http.StatusOK })
	if err := stop(); err == nil {
		t.Error("nothing is told of the request that was cut off")
	}
}

func TestAddressTaken(t *testing.T) {
	t.Parallel()
	taken, err := new(net.ListenConfig).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = taken.Close() })
	address := taken.Addr().String()

	_, err = open(t, apart(t, prefix+"LISTEN="+address, prefix+"METRICS_LISTEN=off"), io.Discard)
	if err == nil || !strings.Contains(err.Error(), address) || !strings.Contains(err.Error(), "GREENWEIGHT_LISTEN") {
		t.Errorf("error is %v, want one that names the address and the setting", err)
	}
	_, err = open(t, apart(t, prefix+"METRICS_LISTEN="+address), io.Discard)
	if err == nil || !strings.Contains(err.Error(), address) || !strings.Contains(err.Error(), "GREENWEIGHT_METRICS_LISTEN") {
		t.Errorf("error is %v, want one that names the address and the setting", err)
	}
	// The same address as a default, which nobody asked for.
	cfg, err := ReadConfig([]string{prefix + "LISTEN=127.0.0.1:0", prefix + "DATABASE=" + file(t)})
	if err != nil {
		t.Fatal(err)
	}
	cfg.MetricsListen = address
	var logs output
	s, err := Open(t.Context(), cfg, &logs)
	if err != nil {
		t.Fatalf("without metrics: %v", err)
	}
	if s.MetricsURL() != "" {
		t.Errorf("the metrics are at %s", s.MetricsURL())
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx) }()
	eventually(t, "the warning", func() bool { return strings.Contains(logs.String(), "there are no metrics") })
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

func TestReachable(t *testing.T) {
	t.Parallel()
	for address, want := range map[string]string{
		"127.0.0.1:80": "127.0.0.1:80", ":80": "127.0.0.1:80", "0.0.0.0:80": "127.0.0.1:80", "[::]:80": "127.0.0.1:80", "[::1]:80": "[::1]:80",
		"shop.example:80": "shop.example:80",
	} {
		if got := reachable(address); got != want {
			t.Errorf("reachable(%s) is %s, want %s", address, got, want)
		}
	}
}

// The program as a newcomer meets it: it is started, says where it is, the curl
// it prints is pasted into a shell, and it is interrupted.
func TestMainServes(t *testing.T) {
	t.Parallel()
	var stdout, stderr output
	ctx, cancel := context.WithCancel(t.Context())
	code := make(chan int, 1)
	go func() { code <- Main(ctx, nil, apart(t, prefix+"MISSPELT=1"), &stdout, &stderr) }()
	eventually(t, "the greeting", func() bool { return strings.Contains(stdout.String(), "Ctrl-C") })
	base := regexp.MustCompile(`API +(http://\S+)`).FindStringSubmatch(stdout.String())
	docs := regexp.MustCompile(`Documentation +(http://\S+)`).FindStringSubmatch(stdout.String())
	if base == nil || docs == nil || docs[1] != base[1]+"/docs" {
		t.Fatalf("the greeting does not say where it is:\n%s", &stdout)
	}
	if status, _ := get(t, docs[1]); status != http.StatusOK {
		t.Errorf("%s: status %d", docs[1], status)
	}
	command := regexp.MustCompile(`(?m)^curl .*$`).FindString(stdout.String())
	if _, err := exec.LookPath("curl"); err != nil {
		t.Log("without curl on this machine the command is not pasted")
	} else {
		answer, err := exec.CommandContext(t.Context(), "sh", "-c", command).Output()
		if err != nil {
			t.Fatalf("%s: %v", command, err)
		}
		var check openapi.CheckAnswer
		if err := json.Unmarshal(answer, &check); err != nil || len(check.Findings) == 0 {
			t.Errorf("%s: %v\n%s", command, err, answer)
		}
	}
	health := func(environ ...string) int {
		return Main(t.Context(), []string{"healthcheck"}, environ, io.Discard, io.Discard)
	}
	if got := health(prefix + "LISTEN=" + strings.TrimPrefix(base[1], "http://")); got != 0 {
		t.Errorf("healthcheck of a ready service exits with %d", got)
	}
	cancel()
	if got := <-code; got != 0 {
		t.Errorf("exit code is %d:\n%s", got, &stderr)
	}
	if got := health(prefix + "LISTEN=" + strings.TrimPrefix(base[1], "http://")); got != 1 {
		t.Errorf("healthcheck of no service exits with %d", got)
	}
	if !strings.Contains(stderr.String(), "GREENWEIGHT_MISSPELT") {
		t.Errorf("nothing is said of the setting that there is not:\n%s", &stderr)
	}
}

func TestMainCommands(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name           string
		args, environ  []string
		code           int
		stdout, stderr string // what they hold
	}{
		{"version", []string{"version"}, nil, 0, Version() + "\n", ""},
		{"help", []string{"help"}, nil, 0, "usage: greenweight [command]", ""},
		{"help as a flag", []string{"--help"}, nil, 0, "usage: greenweight [command]", ""},
		{"contract", []string{"openapi"}, nil, 0, "openapi: 3.0.3\n", ""},
		{"contract as YAML", []string{"openapi", "-format", "yaml"}, nil, 0, "openapi: 3.0.3\n", ""},
		{"contract as JSON", []string{"openapi", "-format=json"}, nil, 0, `"openapi":"3.0.3"`, ""},
		{"contract as something else", []string{"openapi", "-format", "toml"}, nil, 2, "", `no format "toml"`},
		{"contract with a flag that is none", []string{"openapi", "-x"}, nil, 2, "", "not defined"},
		{"contract with an argument", []string{"openapi", "json"}, nil, 2, "", `"json" is not understood`},
		{"unknown", []string{"srve"}, nil, 2, "", `no command "srve"`},
		{"argument too many", []string{"version", "1"}, nil, 2, "", "usage: greenweight"},
		{"bad settings", nil, []string{prefix + "LISTEN=:8080", prefix + "LOG_FORMAT=xml"}, 1, "", "GREENWEIGHT_LOG_FORMAT"},
		{"healthcheck with bad settings", []string{"healthcheck"}, []string{prefix + "LISTEN=x"}, 1, "", "GREENWEIGHT_LISTEN"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			var stdout, stderr output
			code := Main(t.Context(), tc.args, tc.environ, &stdout, &stderr)
			if code != tc.code {
				t.Errorf("exit code is %d, want %d", code, tc.code)
			}
			if got := stdout.String(); !strings.Contains(got, tc.stdout) || tc.stdout == "" && got != "" {
				t.Errorf("stdout lacks %q:\n%.300s", tc.stdout, got)
			}
			if got := stderr.String(); !strings.Contains(got, tc.stderr) || tc.stderr == "" && got != "" {
				t.Errorf("stderr lacks %q:\n%.300s", tc.stderr, got)
			}
		})
	}
}

// The command for a shell must stand on one line and keep its quotes.
func TestExampleCanBePasted(t *testing.T) {
	t.Parallel()
	if strings.ContainsAny(example, "'\n") || !strings.Contains(example, "invented") {
		t.Errorf("the example has a quote or a line break, or does not say that it is invented: %s", example)
	}
}
