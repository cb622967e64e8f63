package pgtest

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"sync"
	"syscall"

	"github.com/moby/moby/client"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
)

// role is the variable that tells a test binary that it is not to test but to
// be the keeper.
const role = "GREENWEIGHT_PGTEST_ROLE"

// keeper is a second process of the test binary. It is told what the tests
// make on the engine and removes it when its input ends, which happens when
// the tests close it and as well when their process is gone, however it went:
// no deferred call outlives a panic in a test, a time limit or a signal.
type keeper struct {
	mutex   sync.Mutex
	ready   bool // Main runs, so that the binary can be a keeper
	command *exec.Cmd
	input   io.WriteCloser
	said    bytes.Buffer
}

var theKeeper keeper

// employ lets the keeper be started from now on.
func (k *keeper) employ() {
	k.mutex.Lock()
	defer k.mutex.Unlock()
	k.ready = true
}

// What the keeper is told of, by its name or id.
const (
	keptContainer = "container"
	keptNetwork   = "network" // goes with all containers that are on it
)

// keep has the keeper remove something at the end, if it is still there. A
// container has its name before it is made, and is told before.
func (k *keeper) keep(kind, name string) error {
	k.mutex.Lock()
	defer k.mutex.Unlock()
	if !k.ready {
		return errors.New("these tests start PostgreSQL, so their package needs func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }")
	}
	if k.command == nil {
		if err := k.begin(); err != nil {
			return fmt.Errorf("start what removes containers: %w", err)
		}
	}
	if _, err := fmt.Fprintln(k.input, kind, name); err != nil {
		return fmt.Errorf("tell what removes containers: %w", err)
	}
	return nil
}

func (k *keeper) begin() error {
	program, err := os.Executable()
	if err != nil {
		return err
	}
	command := exec.CommandContext(context.Background(), program) //nolint:gosec // this very program; it ends with its input
	command.Env = append(command.Environ(), role+"=keeper")
	command.Stderr = &k.said
	input, err := command.StdinPipe()
	if err != nil {
		return err
	}
	if err := command.Start(); err != nil {
		return err
	}
	k.command, k.input = command, input
	return nil
}

// end has everything removed and waits for it.
func (k *keeper) end() error {
	k.mutex.Lock()
	defer k.mutex.Unlock()
	k.ready = false
	if k.command == nil {
		return nil
	}
	if err := errors.Join(k.input.Close(), k.command.Wait()); err != nil {
		return fmt.Errorf("remove what the tests have left on the engine: %w\n%s", err, k.said.String())
	}
	return nil
}

// beKeeper is what the keeper does: it reads what it is told of, a line each,
// until there is no more, and then removes it. Signals that end the tests do
// not end it before.
func beKeeper(ctx context.Context, input io.Reader) (err error) {
	signal.Ignore(os.Interrupt, syscall.SIGHUP, syscall.SIGTERM)
	log.SetDefault(log.NewNoopLogger())
	kept := map[string][]string{}
	lines := bufio.NewScanner(input)
	for lines.Scan() {
		kind, name, _ := strings.Cut(lines.Text(), " ")
		kept[kind] = append(kept[kind], name)
	}
	if err := lines.Err(); err != nil || len(kept) == 0 {
		return err
	}
	if err := PrepareEngine(); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	docker, err := testcontainers.NewDockerClientWithOpts(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, docker.Close()) }()
	for _, name := range kept[keptContainer] {
		err = errors.Join(err, removeContainers(ctx, docker, "name", "^/"+name+"$")) // the filter takes an expression
	}
	for _, id := range kept[keptNetwork] {
		err = errors.Join(err, removeNetwork(ctx, docker, id))
	}
	return err
}

// removeContainers removes the containers that a filter of the engine lets
// through; there may be none.
func removeContainers(ctx context.Context, docker *testcontainers.DockerClient, filter, value string) error {
	found, err := docker.ContainerList(ctx, client.ContainerListOptions{All: true, Filters: make(client.Filters).Add(filter, value)})
	for _, each := range found.Items {
		_, failed := docker.ContainerRemove(ctx, each.ID, client.ContainerRemoveOptions{Force: true, RemoveVolumes: true})
		err = errors.Join(err, failed)
	}
	return err
}

// removeNetwork removes a network, if it is still there, with all containers
// that are on it: a network of a test has nobody else's.
func removeNetwork(ctx context.Context, docker *testcontainers.DockerClient, id string) error {
	found, err := docker.NetworkList(ctx, client.NetworkListOptions{Filters: make(client.Filters).Add("id", id)})
	for _, each := range found.Items {
		err = errors.Join(err, removeContainers(ctx, docker, "network", each.ID))
		_, failed := docker.NetworkRemove(ctx, each.ID, client.NetworkRemoveOptions{})
		err = errors.Join(err, failed)
	}
	return err
}
