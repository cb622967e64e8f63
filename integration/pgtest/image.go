package pgtest

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// recipe is what the image is built from. It is embedded, as a test binary
// knows of no folder of the repository but the one it runs in.
//
//go:embed build-image Dockerfile pg-entrypoint.sh
var recipe embed.FS

// unable is the status with which build-image ends where it cannot build.
const unable = 69

// script runs build-image against the engine at an address. It returns the
// name of the image.
func script(ctx context.Context, engine string, arguments ...string) (name string, err error) {
	folder, err := os.MkdirTemp("", "greenweight-postgres-")
	if err != nil {
		return "", fmt.Errorf("make a folder for the image of PostgreSQL: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	if err := os.CopyFS(folder, recipe); err != nil {
		return "", fmt.Errorf("unpack the recipe of the image of PostgreSQL: %w", err)
	}
	//nolint:gosec // our own script, in our own folder
	command := exec.CommandContext(ctx, "bash", append([]string{filepath.Join(folder, "build-image")}, arguments...)...)
	command.Env = append(command.Environ(), "DOCKER_HOST="+engine)                // the library may have found another than the command would
	command.Cancel = func() error { return command.Process.Signal(os.Interrupt) } // it then removes what it has begun
	command.WaitDelay = time.Minute
	output, err := command.Output()
	if failed, ok := errors.AsType[*exec.ExitError](err); ok {
		said := strings.TrimSpace(string(failed.Stderr))
		if failed.ExitCode() == unable {
			err = fmt.Errorf("%w: %s", errAbsent, said)
		} else {
			err = fmt.Errorf("%w\n%s", err, said)
		}
	} else if errors.Is(err, exec.ErrNotFound) {
		err = fmt.Errorf("%w: %w", errAbsent, err)
	}
	if err != nil {
		return "", fmt.Errorf("build the image of PostgreSQL: %w", err)
	}
	return strings.TrimSpace(string(output)), nil
}

// built is the name of the image of our own, built when the engine lacks it;
// it is asked for once. Another test binary may be building it already, which
// is waited for.
var built = sync.OnceValues(func() (string, error) {
	address, err := engine()
	if err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(context.Background(), 8*time.Minute)
	defer cancel()
	return script(ctx, address)
})

// choice is what decides where tests find PostgreSQL.
type choice struct {
	server string                 // GREENWEIGHT_TEST_POSTGRES
	image  string                 // GREENWEIGHT_TEST_POSTGRES_IMAGE
	engine func() (string, error) // the address of the Docker engine
	build  func() (string, error) // the image of our own
}

// place is where tests find PostgreSQL: at a server that runs already, or else
// in an image.
type place struct {
	server string // address of the server, postgres://…
	image  string // name of the image
}

// find decides in the order that the package comment tells. It asks for
// nothing that it does not need, and wraps errAbsent when there is nothing.
func (c choice) find() (place, error) {
	if c.server != "" {
		return place{server: c.server}, nil
	}
	const server = "name a server on which databases may be created in GREENWEIGHT_TEST_POSTGRES (postgres://…)"
	if _, err := c.engine(); err != nil {
		return place{}, remedy(err, "Start one", server)
	}
	if c.image != "" {
		return place{image: c.image}, nil
	}
	image, err := c.build()
	if err != nil {
		return place{}, remedy(err, "Install what is missing", server,
			"name a public image in GREENWEIGHT_TEST_POSTGRES_IMAGE (postgres:17-alpine)")
	}
	return place{image: image}, nil
}

// Image returns the name of an image of PostgreSQL, built when it has to be.
// It understands POSTGRES_USER, POSTGRES_PASSWORD and POSTGRES_DB, takes
// settings (-c name=value) as its command, keeps its data over a restart and
// ends on SIGINT. Without one the test is skipped or fails.
func Image(tb testing.TB) string {
	tb.Helper()
	found, err := choice{image: setting("GREENWEIGHT_TEST_POSTGRES_IMAGE"), engine: engine, build: built}.find()
	if err != nil {
		giveUp(tb, err)
	}
	return found.image
}
