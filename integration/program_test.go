package integration

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/google/go-cmp/cmp"

	"greenweight/openapi"
)

// anyPort lets the system choose the ports, so that tests run side by side.
var anyPort = []string{"GREENWEIGHT_LISTEN=127.0.0.1:0", "GREENWEIGHT_METRICS_LISTEN=off"}

// pastedCurl finds the command that the program prints for trying it out. It
// may go over several lines, as a shell allows.
var pastedCurl = regexp.MustCompile(`(?m)^\s*(curl (?:.*\\\n)*.*)$`)

// serve starts the program and returns it with the base of its URLs.
func serve(t *testing.T, settings ...string) (*process, string) {
	t.Helper()
	p := start(t, t.TempDir(), append(anyPort[:len(anyPort):len(anyPort)], settings...), binary(t), "serve")
	return p, "http://" + p.await(t, docsURL)[1]
}

// What the program prints on start can be used as it stands: the page of the
// documentation, and a command to paste.
func TestServePrints(t *testing.T) {
	t.Parallel()

	p, base := serve(t)
	command := p.await(t, pastedCurl)[1]

	page := get(t.Context(), t, base+"/docs")
	if page.status != http.StatusOK || !strings.HasPrefix(page.header.Get("Content-Type"), "text/html") {
		t.Errorf("/docs: answered %d %s, want a page", page.status, page.header.Get("Content-Type"))
	}
	printed := shell(t, command)
	value, err := readAnswer(printed)
	if err != nil {
		t.Fatalf("%s: %v", command, err)
	}
	// Whatever the command asks, a problem (it would have a status) is no answer to show to a newcomer.
	members, ok := value.(map[string]any)
	if !ok || len(members) == 0 || members["status"] != nil {
		t.Errorf("%s answered:\n%s", command, printed)
	}
}

// Without a subcommand the program serves, as README.md starts it.
func TestServeIsTheDefault(t *testing.T) {
	t.Parallel()

	p := start(t, t.TempDir(), anyPort, binary(t))
	awaitReadiness(t.Context(), t, "http://"+p.await(t, docsURL)[1], http.StatusOK)
}

func TestServeAnswersACheck(t *testing.T) {
	t.Parallel()

	_, base := serve(t)
	checkOneKilogram(t.Context(), t, base)
}

// A service without keys is for the machine it runs on, unless somebody says
// otherwise on purpose.
func TestServeRefusesOpenAddress(t *testing.T) {
	t.Parallel()

	code, printed := execute(t, []string{"GREENWEIGHT_LISTEN=0.0.0.0:0", "GREENWEIGHT_METRICS_LISTEN=off"}, "serve")
	if code == 0 || !strings.Contains(printed, "GREENWEIGHT_ALLOW_OPEN") {
		t.Errorf("exit code %d, want another than 0 and the setting named:\n%s", code, printed)
	}

	p, _ := serve(t, "GREENWEIGHT_LISTEN=0.0.0.0:0", "GREENWEIGHT_ALLOW_OPEN=true")
	stop(t, p)
}

func TestSettingsAreChecked(t *testing.T) {
	t.Parallel()

	for _, setting := range []string{
		"GREENWEIGHT_LISTEN=nowhere",
		"GREENWEIGHT_METRICS_LISTEN=nowhere",
		"GREENWEIGHT_LOG_LEVEL=shout",
		"GREENWEIGHT_ALLOW_OPEN=perhaps",
	} {
		t.Run(setting, func(t *testing.T) {
			t.Parallel()
			name, _, _ := strings.Cut(setting, "=")
			code, printed := execute(t, append(anyPort[:len(anyPort):len(anyPort)], setting), "serve")
			if code == 0 || !strings.Contains(printed, name) {
				t.Errorf("exit code %d, want another than 0 and %s named:\n%s", code, name, printed)
			}
		})
	}
}

func TestUnknownSubcommand(t *testing.T) {
	t.Parallel()

	code, printed := execute(t, anyPort, "server")
	if code == 0 || !strings.Contains(printed, "serve") || !strings.Contains(printed, "healthcheck") {
		t.Errorf("exit code %d, want another than 0 and the subcommands named:\n%s", code, printed)
	}
}

func TestVersion(t *testing.T) {
	t.Parallel()

	code, printed := execute(t, nil, "version")
	if code != 0 || !regexp.MustCompile(`^\S+\n$`).MatchString(printed) {
		t.Errorf("exit code %d, want 0 and the version alone:\n%s", code, printed)
	}
}

// The subcommand prints the contract whole: readable without the repository.
func TestOpenAPI(t *testing.T) {
	t.Parallel()

	code, printed := execute(t, nil, "openapi")
	if code != 0 {
		t.Fatalf("exit code %d, want 0:\n%s", code, printed)
	}
	got, err := openapi3.NewLoader().LoadFromData([]byte(printed))
	if err != nil {
		t.Fatal(err)
	}
	want, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(operations(want), operations(got)); diff != "" {
		t.Errorf("operations (-want +got):\n%s", diff)
	}
}

// operations returns the operations of a contract by route.
func operations(document *openapi3.T) map[string]string {
	found := map[string]string{}
	for path, item := range document.Paths.Map() {
		for method, operation := range item.Operations() {
			found[method+" "+path] = operation.OperationID
		}
	}
	return found
}

// The subcommand is what a container engine runs to know whether the service
// in the same container is ready.
func TestHealthcheck(t *testing.T) {
	t.Parallel()

	p, base := serve(t)
	awaitReadiness(t.Context(), t, base, http.StatusOK)
	address := "GREENWEIGHT_LISTEN=" + strings.TrimPrefix(base, "http://")
	if code, printed := execute(t, []string{address}, "healthcheck"); code != 0 {
		t.Errorf("exit code %d while the service runs, want 0:\n%s", code, printed)
	}
	stop(t, p)
	if code, printed := execute(t, []string{address}, "healthcheck"); code == 0 || printed == "" {
		t.Errorf("exit code %d after the service has stopped, want another than 0 and a reason:\n%s", code, printed)
	}
}

func TestMetricsHaveTheirOwnPort(t *testing.T) {
	t.Parallel()

	p, base := serve(t, "GREENWEIGHT_METRICS_LISTEN=127.0.0.1:0")
	metrics := p.await(t, regexp.MustCompile(`http://127\.0\.0\.1:[0-9]+/metrics`))[0]

	expectJSON(t, get(t.Context(), t, base+"/livez"))
	got := get(t.Context(), t, metrics)
	if got.status != http.StatusOK || !bytes.Contains(got.body, []byte("go_goroutines")) {
		t.Errorf("%s: answered %d, want 200 and metrics:\n%s", metrics, got.status, got.body)
	}
	if got := get(t.Context(), t, base+"/metrics"); got.status != http.StatusNotFound {
		t.Errorf("/metrics on the port of the service: answered %d, want 404", got.status)
	}
}

// stop tells the program to stop and expects that it ends well.
func stop(t *testing.T, p *process) {
	t.Helper()
	if err := p.signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if code, printed := p.exit(t); code != 0 {
		t.Errorf("exit code %d after SIGTERM, want 0:\n%s", code, printed)
	}
}

// On SIGTERM the service first says that it is not ready and goes on answering
// for the delay that is set; then it takes no more, but those it has begun with
// are answered before it ends.
func TestShutdown(t *testing.T) {
	t.Parallel()

	p, base := serve(t, "GREENWEIGHT_SHUTDOWN_DELAY=3s")
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()

	// A question of which the service has read the first half when it is told to stop.
	question := oneKilogram(t)
	reader, writer := io.Pipe()
	answered := make(chan answer, 1)
	failed := make(chan error, 1)
	go func() {
		request, err := http.NewRequestWithContext(ctx, http.MethodPost, base+"/v1/formulas/check", reader)
		if err != nil {
			failed <- err
			return
		}
		request.Header.Set("Content-Type", "application/json")
		got, err := try(request)
		if err != nil {
			failed <- err
			return
		}
		answered <- got
	}()
	if _, err := writer.Write(question[:len(question)/2]); err != nil {
		t.Fatal(err)
	}
	if err := p.signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}

	awaitReadiness(ctx, t, base, http.StatusServiceUnavailable)
	awaitClosed(ctx, t, base)
	if _, err := writer.Write(question[len(question)/2:]); err != nil {
		t.Fatal(err)
	}
	if err := writer.Close(); err != nil {
		t.Fatal(err)
	}
	select {
	case got := <-answered:
		expectJSON(t, got)
	case err := <-failed:
		t.Fatalf("the question under way was not answered: %v", err)
	}
	if code, printed := p.exit(t); code != 0 {
		t.Errorf("exit code %d after SIGTERM, want 0:\n%s", code, printed)
	}
}

// awaitReadiness asks until readiness is answered with that status.
func awaitReadiness(ctx context.Context, t *testing.T, base string, status int) {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	ticker := time.NewTicker(5 * time.Millisecond)
	defer ticker.Stop()
	for {
		got := get(ctx, t, base+"/readyz")
		if got.status == status {
			return
		}
		select {
		case <-ctx.Done():
			t.Fatalf("readiness is answered with %d, want %d", got.status, status)
		case <-ticker.C:
		}
	}
}

// awaitClosed asks until the service takes no more.
func awaitClosed(ctx context.Context, t *testing.T, base string) {
	t.Helper()
	ticker := time.NewTicker(50 * time.Millisecond)
	defer ticker.Stop()
	for {
		request, err := http.NewRequestWithContext(ctx, http.MethodGet, base+"/livez", http.NoBody)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := try(request); err != nil {
			if ctx.Err() != nil {
				t.Fatalf("the service did not stop taking requests: %v", err)
			}
			return
		}
		<-ticker.C
	}
}
