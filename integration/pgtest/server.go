package pgtest

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/moby/moby/api/types/container"
	"github.com/moby/moby/api/types/network"
	"github.com/moby/moby/client"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
	containernetwork "github.com/testcontainers/testcontainers-go/network"
	"github.com/testcontainers/testcontainers-go/wait"
)

const (
	port = "5432"        // port of the server in its container
	user = "greenweight" // name of the user and of the first database
)

// Options say how a server is started.
type Options struct {
	// Network is where other containers find the server, mostly one of
	// NewNetwork; nil means that none need to.
	Network *testcontainers.DockerNetwork

	// Alias is the host name of the server on Network.
	Alias string

	// Settings of the server beside its own, as name=value. Its own keep a
	// commit durable and allow 200 connections.
	Settings []string
}

// NewNetwork makes a network for the containers of one test, on which they
// find each other by their aliases. It is removed when the test ends. The test
// is skipped or fails without an engine.
func NewNetwork(ctx context.Context, tb testing.TB) *testcontainers.DockerNetwork {
	tb.Helper()
	RequireEngine(tb)
	made, err := containernetwork.New(ctx)
	testcontainers.CleanupNetwork(tb, made)
	if err == nil {
		err = theKeeper.keep(keptNetwork, made.ID)
	}
	if err != nil {
		tb.Fatalf("make a network: %v", err)
	}
	return made
}

// Server is a PostgreSQL in a container of its own. Its data last as long as
// the container, over each Stop, Kill and Start. The methods may be called
// from any goroutine, but those three not at the same time.
type Server struct {
	container testcontainers.Container
	password  string
	alias     string
}

// Run starts a server with one empty database and waits until it answers. It
// is removed when the test ends. The test is skipped or fails without one.
func Run(ctx context.Context, tb testing.TB, options Options) *Server {
	tb.Helper()
	image := Image(tb)
	server, err := start(ctx, tb, image, options)
	if server != nil {
		testcontainers.CleanupContainer(tb, server.container)
	}
	if err != nil {
		tb.Fatal(err)
	}
	return server
}

// start starts a server whose container the keeper knows. With an error too it
// returns what there is of the server, to be removed.
func start(ctx context.Context, tb testing.TB, image string, options Options, more ...testcontainers.ContainerCustomizer) (*Server, error) {
	tb.Helper()
	name := "greenweight-postgres-" + strings.ToLower(rand.Text())
	if err := theKeeper.keep(keptContainer, name); err != nil {
		return nil, err
	}
	server := &Server{password: rand.Text(), alias: options.Alias}
	var command []string
	for _, each := range append([]string{"max_connections=200"}, options.Settings...) {
		command = append(command, "-c", each)
	}
	customizers := []testcontainers.ContainerCustomizer{
		testcontainers.WithLogger(log.TestLogger(tb)),
		testcontainers.WithName(name),
		testcontainers.WithEnv(map[string]string{"POSTGRES_USER": user, "POSTGRES_PASSWORD": server.password, "POSTGRES_DB": user}),
		testcontainers.WithCmd(command...),
		testcontainers.WithExposedPorts(port + "/tcp"),
		testcontainers.WithHostConfigModifier(func(config *container.HostConfig) {
			// An engine may publish on different ports for IPv4 and IPv6, and the library takes the first: one is enough.
			config.PortBindings = network.PortMap{network.MustParsePort(port + "/tcp"): {{HostIP: netip.IPv4Unspecified()}}}
		}),
		testcontainers.WithWaitStrategyAndDeadline(patience, answer{server}),
	}
	if options.Network != nil {
		customizers = append(customizers, containernetwork.WithNetwork([]string{options.Alias}, options.Network))
	}
	started, err := testcontainers.Run(ctx, image, append(customizers, more...)...)
	if started == nil {
		return nil, fmt.Errorf("start PostgreSQL from %s: %w", image, err)
	}
	server.container = started
	if err != nil {
		return server, fmt.Errorf("start PostgreSQL from %s: %w", image, err)
	}
	return server, nil
}

// DSN returns the address of the database as it is reached from the tests. It
// holds until the server is stopped: the engine publishes on another port
// after each start.
func (s *Server) DSN(ctx context.Context) (string, error) {
	return s.published(ctx, s.container)
}

// NetworkDSN returns the address of the database as the containers on the
// network of the server reach it. It outlives a restart.
func (s *Server) NetworkDSN() string {
	return s.address(net.JoinHostPort(s.alias, port))
}

// Stop shuts the server down in good order: open transactions are rolled back
// and connections closed.
func (s *Server) Stop(ctx context.Context) error {
	grace := patience
	if err := s.container.Stop(ctx, &grace); err != nil {
		return fmt.Errorf("stop PostgreSQL: %w", err)
	}
	return nil
}

// Kill ends all processes of the server at once, as if it had crashed, and
// returns when they are gone.
func (s *Server) Kill(ctx context.Context) (err error) {
	docker, err := testcontainers.NewDockerClientWithOpts(ctx)
	if err != nil {
		return fmt.Errorf("kill PostgreSQL: %w", err)
	}
	defer func() { err = errors.Join(err, docker.Close()) }()
	if _, err := docker.ContainerKill(ctx, s.container.GetContainerID(), client.ContainerKillOptions{}); err != nil {
		return fmt.Errorf("kill PostgreSQL: %w", err)
	}
	waiting := docker.ContainerWait(ctx, s.container.GetContainerID(),
		client.ContainerWaitOptions{Condition: container.WaitConditionNotRunning})
	select {
	case <-waiting.Result:
		return nil
	case err := <-waiting.Error:
		return fmt.Errorf("wait for the end of PostgreSQL: %w", err)
	}
}

// Start starts a server that was stopped or killed and waits until it answers.
func (s *Server) Start(ctx context.Context) error {
	if err := s.container.Start(ctx); err != nil {
		return fmt.Errorf("start PostgreSQL again: %w", err)
	}
	return nil
}

// address is that of the database at a host and port.
func (s *Server) address(at string) string {
	return (&url.URL{
		Scheme:   "postgres",
		User:     url.UserPassword(user, s.password),
		Host:     at,
		Path:     "/" + user,
		RawQuery: "sslmode=disable",
	}).String()
}

// published is the address at which the engine publishes the database.
func (s *Server) published(ctx context.Context, target wait.StrategyTarget) (string, error) {
	host, err := target.Host(ctx)
	if err != nil {
		return "", fmt.Errorf("ask where PostgreSQL is published: %w", err)
	}
	mapped, err := target.MappedPort(ctx, port+"/tcp")
	if err != nil {
		return "", fmt.Errorf("ask where PostgreSQL is published: %w", err)
	}
	return s.address(net.JoinHostPort(host, mapped.Port())), nil
}

// answer waits until a server answers a query over its published port. A line
// of its log would not do: after a restart those of the first start are still
// there.
type answer struct{ server *Server }

// WaitUntilReady implements wait.Strategy.
func (a answer) WaitUntilReady(ctx context.Context, target wait.StrategyTarget) error {
	again := time.NewTicker(50 * time.Millisecond)
	defer again.Stop()
	for {
		refused := a.query(ctx, target)
		if refused == nil {
			return nil
		}
		state, err := target.State(ctx)
		if err != nil {
			return errors.Join(refused, err)
		}
		if !state.Running {
			return fmt.Errorf("PostgreSQL ended with %d before it answered: %w", state.ExitCode, refused)
		}
		select {
		case <-ctx.Done():
			return errors.Join(ctx.Err(), refused)
		case <-again.C:
		}
	}
}

// query asks the server something.
func (a answer) query(ctx context.Context, target wait.StrategyTarget) error {
	dsn, err := a.server.published(ctx, target)
	if err != nil {
		return err
	}
	return execute(ctx, dsn, "SELECT 1")
}

// execute runs one statement over a connection of its own.
func execute(ctx context.Context, dsn, statement string) (err error) {
	connection, err := pgx.Connect(ctx, dsn)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, connection.Close(ctx)) }()
	_, err = connection.Exec(ctx, statement)
	return err
}
