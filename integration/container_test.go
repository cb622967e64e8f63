package integration

import (
	"archive/tar"
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/moby/moby/api/pkg/stdcopy"
	"github.com/moby/moby/api/types/container"
	"github.com/moby/moby/api/types/network"
	engine "github.com/moby/moby/client"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
	containernetwork "github.com/testcontainers/testcontainers-go/network"
	"github.com/testcontainers/testcontainers-go/wait"

	"greenweight/integration/pgtest"
)

// servicePort is the port that the image listens on.
const servicePort = "8080/tcp"

// imageRepository is what the image of the program is named, with a tag of its
// own in each run of the tests: runs side by side do not take each other's image
// away. No registry has it, so none is asked.
const imageRepository = "localhost/greenweight-test"

// imageBegun tells that there may be an image to remove.
var imageBegun atomic.Bool

func imageTag() string { return filepath.Base(scratch) }

// image builds the image of the program once, for all tests that run it, and
// returns its name. run removes it.
var image = sync.OnceValues(func() (string, error) {
	archive, err := buildContext()
	if err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience) // shared by tests, so it ends with none of them
	defer cancel()
	provider, err := testcontainers.NewDockerProvider()
	if err != nil {
		return "", fmt.Errorf("build the image: %w", err)
	}
	imageBegun.Store(true)
	name, err := provider.BuildImage(ctx, &testcontainers.ContainerRequest{FromDockerfile: testcontainers.FromDockerfile{
		ContextArchive: archive, Repo: imageRepository, Tag: imageTag(),
	}})
	if err = errors.Join(err, provider.Close()); err != nil {
		return "", fmt.Errorf("build the image: %w", err)
	}
	return name, nil
})

// removeImage removes the image, if it was built.
func removeImage() error {
	if !imageBegun.Load() {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	return onEngine(ctx, func(docker *testcontainers.DockerClient) error {
		found, err := docker.ImageList(ctx, engine.ImageListOptions{
			Filters: make(engine.Filters).Add("reference", imageRepository+":"+imageTag()),
		})
		for _, each := range found.Items {
			_, failed := docker.ImageRemove(ctx, each.ID, engine.ImageRemoveOptions{Force: true, PruneChildren: true})
			err = errors.Join(err, failed)
		}
		return err
	})
}

// onEngine does something on the container engine that the library has no
// method for.
func onEngine(ctx context.Context, do func(*testcontainers.DockerClient) error) error {
	docker, err := testcontainers.NewDockerClientWithOpts(ctx)
	if err != nil {
		return err
	}
	return errors.Join(do(docker), docker.Close())
}

// buildContext packs the Dockerfile and the binary the way an image is built
// from them.
func buildContext() (*bytes.Reader, error) {
	path, err := build()
	if err != nil {
		return nil, err
	}
	var archive bytes.Buffer
	writer := tar.NewWriter(&archive)
	for _, file := range []struct {
		name, path string
		mode       int64
	}{
		{"Dockerfile", filepath.Join(root, "deploy", "image", "Dockerfile"), 0o644},
		{"greenweight", path, 0o755},
	} {
		text, err := os.ReadFile(file.path)
		if err != nil {
			return nil, err
		}
		if err := writer.WriteHeader(&tar.Header{Name: file.name, Mode: file.mode, Size: int64(len(text))}); err != nil {
			return nil, err
		}
		if _, err := writer.Write(text); err != nil {
			return nil, err
		}
	}
	return bytes.NewReader(archive.Bytes()), writer.Close()
}

// contain runs the image on a network as somebody who may do nothing. What it
// printed is shown when the test fails; the container is removed when the test
// ends. It may be called from any goroutine.
func contain(ctx context.Context, t *testing.T, on *testcontainers.DockerNetwork, settings map[string]string, more ...testcontainers.ContainerCustomizer) (testcontainers.Container, error) {
	t.Helper()
	name, err := image()
	if err != nil {
		return nil, err
	}
	contained, err := testcontainers.Run(ctx, name, append([]testcontainers.ContainerCustomizer{
		testcontainers.WithLogger(log.TestLogger(t)),
		testcontainers.WithEnv(settings),
		containernetwork.WithNetwork(nil, on),
		testcontainers.WithHostConfigModifier(func(config *container.HostConfig) {
			config.ReadonlyRootfs = true
			config.CapDrop = []string{"ALL"}
			config.SecurityOpt = []string{"no-new-privileges"}
		}),
	}, more...)...)
	testcontainers.CleanupContainer(t, contained)
	if contained == nil {
		return nil, err
	}
	t.Cleanup(func() {
		if !t.Failed() {
			return
		}
		ctx, cancel := context.WithTimeout(context.WithoutCancel(t.Context()), time.Minute)
		defer cancel()
		stdout, stderr, err := printedBy(ctx, contained)
		t.Logf("the container %s printed (%v):\n%s%s", contained.GetContainerID(), err, stdout, stderr)
	})
	return contained, err
}

// printedBy returns what a container has printed.
func printedBy(ctx context.Context, contained testcontainers.Container) (stdout, stderr string, err error) {
	var out, complaints bytes.Buffer
	err = onEngine(ctx, func(docker *testcontainers.DockerClient) error {
		logs, err := docker.ContainerLogs(ctx, contained.GetContainerID(), engine.ContainerLogsOptions{ShowStdout: true, ShowStderr: true})
		if err != nil {
			return err
		}
		_, err = stdcopy.StdCopy(&out, &complaints, logs)
		return errors.Join(err, logs.Close())
	})
	return out.String(), complaints.String(), err
}

// The image is built, started as somebody who may do nothing, becomes healthy
// by its own health check, answers a check of a formula and stops when told.
func TestImage(t *testing.T) { //nolint:tparallel // the steps share one container and end with its stop
	t.Parallel()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	service, err := contain(ctx, t, pgtest.NewNetwork(ctx, t), map[string]string{"GREENWEIGHT_ALLOW_OPEN": "true", "GREENWEIGHT_LOG_LEVEL": "debug"},
		testcontainers.WithExposedPorts(servicePort),
		testcontainers.WithConfigModifier(func(config *container.Config) {
			// The command of the check stays that of the image; only the first look comes sooner.
			config.Healthcheck = &container.HealthConfig{Interval: time.Second}
		}),
		testcontainers.WithWaitStrategyAndDeadline(patience, wait.ForHealthCheck()),
	)
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

	address, err := published(ctx, service)
	if err != nil {
		t.Fatal(err)
	}
	base := "http://" + address
	t.Run("answers", func(t *testing.T) {
		for _, path := range []string{"/livez", "/readyz", "/version"} {
			expectJSON(t, get(ctx, t, base+path))
		}
		checkOneKilogram(ctx, t, base)
	})

	t.Run("stops when told", func(t *testing.T) { expectStop(ctx, t, service) })
}

// expectStop tells a container to stop and expects that it ends well.
func expectStop(ctx context.Context, t *testing.T, service testcontainers.Container) {
	t.Helper()
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
}

// published returns host and port at which the service is reached from here.
// An engine may publish on different ports for IPv4 and IPv6; IPv4 is taken.
func published(ctx context.Context, service testcontainers.Container) (string, error) {
	host, err := service.Host(ctx)
	if err != nil {
		return "", err
	}
	inspected, err := service.Inspect(ctx)
	if err != nil {
		return "", err
	}
	for _, binding := range inspected.NetworkSettings.Ports[network.MustParsePort(servicePort)] {
		if binding.HostIP == (netip.Addr{}) || binding.HostIP.Is4() {
			return net.JoinHostPort(host, binding.HostPort), nil
		}
	}
	return "", fmt.Errorf("port %s is not published: %v", servicePort, inspected.NetworkSettings.Ports)
}
