package integration

import (
	"archive/tar"
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"net"
	"net/netip"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/moby/moby/api/types/container"
	"github.com/moby/moby/api/types/network"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
	"github.com/testcontainers/testcontainers-go/wait"
)

// servicePort is the port that the image listens on.
const servicePort = "8080/tcp"

// prepareEngine sets what the container library needs on engines without a
// registry, where the caller has not set it:
//
//   - Its reaper would be pulled from a registry. Only the word "true" switches
//     it off; the tests end what they start themselves.
//   - In a place that has /.dockerenv the library takes the gateway of the
//     network for the engine's address. That is right when the engine is
//     outside. An engine that runs beside the tests in the same place is known
//     by its bridge, which is then an interface here, and publishes its ports
//     on this very host.
//
// The version of the engine's interface needs no setting: the client asks, and
// goes down to 1.41 (engine 20.10) when it must.
func prepareEngine() error {
	defaults := map[string]string{"TESTCONTAINERS_RYUK_DISABLED": "true"}
	if _, err := net.InterfaceByName("docker0"); err == nil {
		defaults["TESTCONTAINERS_HOST_OVERRIDE"] = "127.0.0.1"
	}
	for name, value := range defaults {
		if _, given := os.LookupEnv(name); given { //nolint:forbidigo // a setting of the tests, not of the service
			continue
		}
		if err := os.Setenv(name, value); err != nil {
			return err
		}
	}
	return nil
}

// requireEngine skips the test without a container engine, or fails it where
// there has to be one, so that nothing passes by being skipped.
func requireEngine(t *testing.T) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	provider, err := testcontainers.NewDockerProvider(testcontainers.WithLogger(log.TestLogger(t)))
	if err == nil {
		err = errors.Join(provider.Health(ctx), provider.Close())
	}
	if err == nil {
		return
	}
	for _, name := range []string{"CI", "GREENWEIGHT_REQUIRE_DOCKER"} {
		if value := os.Getenv(name); value == "true" || value == "1" { //nolint:forbidigo // a setting of the tests, not of the service
			t.Fatalf("no Docker engine answers, and %s=%s says that there is one: %v", name, value, err)
		}
	}
	t.Skipf("SKIPPED: the image of the program is not tested, as no Docker engine answers: %v", err)
}

// buildContext packs the Dockerfile and the binary the way an image is built
// from them.
func buildContext(t *testing.T) *bytes.Reader {
	t.Helper()
	program, err := os.ReadFile(binary(t))
	if err != nil {
		t.Fatal(err)
	}
	var archive bytes.Buffer
	writer := tar.NewWriter(&archive)
	for _, file := range []struct {
		name string
		mode int64
		text []byte
	}{
		{"Dockerfile", 0o644, []byte(readFile(t, "deploy", "image", "Dockerfile"))},
		{"greenweight", 0o755, program},
	} {
		if err := writer.WriteHeader(&tar.Header{Name: file.name, Mode: file.mode, Size: int64(len(file.text))}); err != nil {
			t.Fatal(err)
		}
		if _, err := writer.Write(file.text); err != nil {
			t.Fatal(err)
		}
	}
	if err := writer.Close(); err != nil {
		t.Fatal(err)
	}
	return bytes.NewReader(archive.Bytes())
}

// The image is built, started as somebody who may do nothing, becomes healthy
// by its own health check, answers a check of a formula and stops when told.
func TestImage(t *testing.T) { //nolint:tparallel // the steps share one container and end with its stop
	t.Parallel()
	requireEngine(t)
	archive := buildContext(t)

	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	defer cancel()
	service, err := testcontainers.Run(ctx, "",
		testcontainers.WithLogger(log.TestLogger(t)),
		testcontainers.WithDockerfile(testcontainers.FromDockerfile{
			ContextArchive: archive,
			Repo:           "localhost/greenweight-test", // no registry has it, so none is asked
			Tag:            strings.ToLower(rand.Text()), // runs side by side do not take each other's image away
		}),
		testcontainers.WithEnv(map[string]string{"GREENWEIGHT_ALLOW_OPEN": "true", "GREENWEIGHT_LOG_LEVEL": "debug"}),
		testcontainers.WithExposedPorts(servicePort),
		testcontainers.WithConfigModifier(func(config *container.Config) {
			// The command of the check stays that of the image; only the first look comes sooner.
			config.Healthcheck = &container.HealthConfig{Interval: time.Second}
		}),
		testcontainers.WithHostConfigModifier(func(config *container.HostConfig) {
			config.ReadonlyRootfs = true
			config.CapDrop = []string{"ALL"}
			config.SecurityOpt = []string{"no-new-privileges"}
		}),
		testcontainers.WithWaitStrategyAndDeadline(patience, wait.ForHealthCheck()),
	)
	testcontainers.CleanupContainer(t, service)
	if err != nil {
		t.Fatal(err)
	}

	t.Run("confined", func(t *testing.T) {
		inspected, err := service.Inspect(ctx)
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]any{
			"user":         inspected.Config.User,
			"read-only":    inspected.HostConfig.ReadonlyRootfs,
			"privileged":   inspected.HostConfig.Privileged,
			"capabilities": strings.Join(inspected.HostConfig.CapAdd, " "),
			"dropped":      strings.Join(inspected.HostConfig.CapDrop, " "),
			"command":      strings.Join(inspected.Config.Entrypoint, " ") + " " + strings.Join(inspected.Config.Cmd, " "),
			"health":       string(inspected.State.Health.Status),
			"health check": strings.Join(inspected.Config.Healthcheck.Test, " "),
		}
		want := map[string]any{
			"user":         "65532:65532",
			"read-only":    true,
			"privileged":   false,
			"capabilities": "",
			"dropped":      "ALL",
			"command":      "/greenweight serve",
			"health":       "healthy",
			"health check": "CMD /greenweight healthcheck",
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("how the container runs (-want +got):\n%s", diff)
		}
	})

	base := "http://" + published(ctx, t, service)
	t.Run("answers", func(t *testing.T) {
		for _, path := range []string{"/livez", "/readyz", "/version"} {
			expectJSON(t, get(ctx, t, base+path))
		}
		checkOneKilogram(ctx, t, base)
	})

	t.Run("stops when told", func(t *testing.T) {
		grace := 20 * time.Second
		if err := service.Stop(ctx, &grace); err != nil {
			t.Fatal(err)
		}
		state, err := service.State(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if state.Running || state.ExitCode != 0 {
			t.Errorf("after SIGTERM and %s: running %t, exit code %d; want ended with 0", grace, state.Running, state.ExitCode)
		}
	})
}

// published returns host and port at which the service is reached from here.
// An engine may publish on different ports for IPv4 and IPv6; IPv4 is taken.
func published(ctx context.Context, t *testing.T, service testcontainers.Container) string {
	t.Helper()
	host, err := service.Host(ctx)
	if err != nil {
		t.Fatal(err)
	}
	inspected, err := service.Inspect(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, binding := range inspected.NetworkSettings.Ports[network.MustParsePort(servicePort)] {
		if binding.HostIP == (netip.Addr{}) || binding.HostIP.Is4() {
			return net.JoinHostPort(host, binding.HostPort)
		}
	}
	t.Fatalf("port %s is not published: %v", servicePort, inspected.NetworkSettings.Ports)
	return ""
}
