package pgtest

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"
	"github.com/moby/moby/client"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
	containernetwork "github.com/testcontainers/testcontainers-go/network"
	"github.com/testcontainers/testcontainers-go/wait"
)

// connect opens a connection that ends with the test.
func connect(t *testing.T, dsn string) *pgx.Conn {
	t.Helper()
	connection, err := pgx.Connect(t.Context(), dsn)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := connection.Close(context.WithoutCancel(t.Context())); err != nil {
			t.Logf("close a connection, the server of which the test may have ended: %v", err)
		}
	})
	return connection
}

// value asks for one value.
func value[T any](t *testing.T, connection *pgx.Conn, query string, arguments ...any) T {
	t.Helper()
	var got T
	if err := connection.QueryRow(t.Context(), query, arguments...).Scan(&got); err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	return got
}

// run runs a statement.
func run(t *testing.T, connection *pgx.Conn, statement string, arguments ...any) {
	t.Helper()
	if _, err := connection.Exec(t.Context(), statement, arguments...); err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
}

// Tests in parallel each have an empty database, and none is left when they
// are through, not even one that is still in use.
func TestDatabase(t *testing.T) { //nolint:tparallel // what is left is looked at when those in parallel are through
	t.Parallel()
	names := make(chan string, 2)
	t.Run("each its own", func(t *testing.T) {
		for _, name := range []string{"one", "two"} {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				dsn := Database(t)
				connection := connect(t, dsn) // closed before the database is dropped
				if tables := value[int](t, connection, "SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace"); tables != 0 {
					t.Errorf("a fresh database holds %d tables and indexes", tables)
				}
				run(t, connection, "CREATE TABLE kept (told text PRIMARY KEY)")
				run(t, connection, "INSERT INTO kept VALUES ($1)", "grüne Wurst in "+name)
				if rows := value[int](t, connection, "SELECT count(*) FROM kept"); rows != 1 {
					t.Errorf("%d rows, want the one of this test", rows)
				}
				if version := value[int](t, connection, "SELECT current_setting('server_version_num')::int"); version < 130000 {
					t.Errorf("version %d of the server has no DROP DATABASE .. WITH (FORCE)", version)
				}
				if encoding := value[string](t, connection, "SELECT current_setting('server_encoding')"); encoding != "UTF8" {
					t.Errorf("text is kept as %s, want UTF8", encoding)
				}
				names <- value[string](t, connection, "SELECT current_database()")
				// This one stays open while the database is dropped.
				open, err := pgx.Connect(context.WithoutCancel(t.Context()), dsn)
				if err != nil {
					t.Fatal(err)
				}
				run(t, open, "BEGIN")
			})
		}
	})
	if t.Failed() || t.Skipped() || len(names) == 0 {
		return // said already by the subtests
	}
	one, two := <-names, <-names
	if one == two {
		t.Errorf("two tests had the same database %s", one)
	}
	left := value[int](t, connect(t, shared.dsn), "SELECT count(*) FROM pg_database WHERE datname = ANY($1)", []string{one, two})
	if left != 0 {
		t.Errorf("%d databases are left of 2", left)
	}
}

// The servers are as the package says: that of Database fast, those of Run
// durable.
func TestSettings(t *testing.T) {
	t.Parallel()
	settings := func(t *testing.T, dsn string) map[string]string {
		t.Helper()
		got := map[string]string{}
		connection := connect(t, dsn)
		for _, name := range []string{"fsync", "synchronous_commit", "full_page_writes", "max_connections"} {
			got[name] = value[string](t, connection, "SELECT current_setting($1)", name)
		}
		return got
	}
	t.Run("Database", func(t *testing.T) {
		t.Parallel()
		if setting("GREENWEIGHT_TEST_POSTGRES") != "" {
			t.Skip("SKIPPED: the server is given, and set as its owner likes")
		}
		want := map[string]string{"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off", "max_connections": "200"}
		if diff := cmp.Diff(want, settings(t, Database(t))); diff != "" {
			t.Errorf("settings (-want +got):\n%s", diff)
		}
	})
	t.Run("Run", func(t *testing.T) {
		t.Parallel()
		dsn, err := Run(t.Context(), t, Options{Settings: []string{"max_connections=50"}}).DSN(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]string{"fsync": "on", "synchronous_commit": "on", "full_page_writes": "on", "max_connections": "50"}
		if diff := cmp.Diff(want, settings(t, dsn)); diff != "" {
			t.Errorf("settings (-want +got):\n%s", diff)
		}
	})
}

// A server on a network is reached by its alias, and what was committed
// outlives its stop and its crash.
func TestRestart(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(t.Context(), 3*patience)
	defer cancel()
	network := NewNetwork(ctx, t)
	server := Run(ctx, t, Options{Network: network, Alias: "database"})
	reach := func() *pgx.Conn {
		t.Helper()
		dsn, err := server.DSN(ctx)
		if err != nil {
			t.Fatal(err)
		}
		return connect(t, dsn)
	}
	connection := reach()
	run(t, connection, "CREATE TABLE kept (n int)")

	for round, end := range []struct {
		name string
		end  func(context.Context) error
	}{{"stop", server.Stop}, {"kill", server.Kill}, {"kill again", server.Kill}} {
		run(t, connection, "INSERT INTO kept VALUES ($1)", round)
		if err := end.end(ctx); err != nil {
			t.Fatalf("%s: %v", end.name, err)
		}
		if err := connection.Ping(ctx); err == nil {
			t.Errorf("%s: the server still answers", end.name)
		}
		if err := server.Start(ctx); err != nil {
			t.Fatalf("start after %s: %v", end.name, err)
		}
		connection = reach()
		if rows := value[int](t, connection, "SELECT count(*) FROM kept"); rows != round+1 {
			t.Errorf("after %s there are %d rows, want %d", end.name, rows, round+1)
		}
	}

	if want := net.JoinHostPort("database", port); !strings.Contains(server.NetworkDSN(), "@"+want+"/") {
		t.Errorf("%s does not lead to %s", server.NetworkDSN(), want)
	}
	asking, err := testcontainers.Run(ctx, Image(t),
		testcontainers.WithLogger(log.TestLogger(t)),
		testcontainers.WithCmd("psql", "--no-psqlrc", "--command=INSERT INTO kept VALUES (99)", server.NetworkDSN()),
		containernetwork.WithNetwork(nil, network),
		testcontainers.WithWaitStrategyAndDeadline(patience, wait.ForExit()),
	)
	testcontainers.CleanupContainer(t, asking)
	if err != nil {
		t.Fatal(err)
	}
	if rows := value[int](t, connection, "SELECT count(*) FROM kept WHERE n = 99"); rows != 1 {
		t.Errorf("a container on the network has added %d rows, want 1", rows)
	}
}

// The name of the image is told by the contents of its recipe alone.
func TestName(t *testing.T) {
	t.Parallel()
	if _, err := exec.LookPath("bash"); err != nil {
		t.Skip("SKIPPED: the script of the image is not tested, as there is no bash")
	}
	first, err := script(t.Context(), "", "--name")
	if errors.Is(err, errAbsent) {
		t.Skipf("SKIPPED: the script of the image is not tested: %v", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	if !regexp.MustCompile(`^localhost/greenweight-postgres:[a-z]+-[0-9a-f]{12}$`).MatchString(first) {
		t.Errorf("%q names no image of ours", first)
	}
	told := func(folder string) string {
		t.Helper()
		output, err := exec.CommandContext(t.Context(), "bash", folder+"/build-image", "--name").Output()
		if err != nil {
			t.Fatal(err)
		}
		return strings.TrimSuffix(string(output), "\n")
	}
	if here := told("."); here != first {
		t.Errorf("%s is told in the repository and %s elsewhere", here, first)
	}
	for _, name := range []string{"build-image", "Dockerfile", "pg-entrypoint.sh"} {
		folder := t.TempDir()
		if err := os.CopyFS(folder, recipe); err != nil {
			t.Fatal(err)
		}
		file, err := os.OpenFile(folder+"/"+name, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := file.WriteString("# changed\n"); err != nil {
			t.Fatal(err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
		if changed := told(folder); changed == first {
			t.Errorf("a change of %s leaves the name %s", name, changed)
		}
	}
}

// Where Main does not run nobody would remove a container, so none is started.
func TestKeeperNeedsMain(t *testing.T) {
	t.Parallel()
	var idle keeper
	if err := idle.keep(keptContainer, "greenweight-postgres-none"); err == nil || idle.command != nil {
		t.Errorf("a keeper was started, error %v", err)
	}
	if err := idle.end(); err != nil {
		t.Errorf("end of a keeper that never began: %v", err)
	}
}

// way is the variable that has TestEnd end its process.
const way = "GREENWEIGHT_PGTEST_END"

// TestEnd is what TestKeeper starts: it starts a server and a container of
// another kind on a network, tells of them and ends without a chance to clean
// up.
func TestEnd(t *testing.T) {
	how := setting(way)
	if how == "" {
		t.Skip("only TestKeeper asks for an end")
	}
	network := NewNetwork(t.Context(), t)
	server := Run(t.Context(), t, Options{Network: network, Alias: "database"})
	other, err := testcontainers.Run(t.Context(), Image(t), containernetwork.WithNetwork(nil, network), testcontainers.WithCmd("sleep", "600"))
	if err != nil {
		t.Fatal(err)
	}
	_, err = fmt.Fprintf(os.Stdout, "\nmade %s\nmade %s\nmade %s\n", server.container.GetContainerID(), other.GetContainerID(), network.ID)
	if err != nil {
		t.Fatal(err)
	}
	switch how {
	case "panic":
		panic("the end that was asked for")
	case "exit":
		os.Exit(3)
	case "kill":
		self, err := os.FindProcess(os.Getpid())
		if err != nil {
			t.Fatal(err)
		}
		if err := self.Kill(); err != nil {
			t.Fatal(err)
		}
		select {}
	default:
		t.Fatalf("%s=%s is no end", way, how)
	}
}

// Nothing stays of tests that end without cleaning up.
func TestKeeper(t *testing.T) {
	t.Parallel()
	Image(t) // or there is nothing to test on
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	for _, how := range []string{"panic", "exit", "kill"} {
		t.Run(how, func(t *testing.T) {
			t.Parallel()
			ctx, cancel := context.WithTimeout(t.Context(), patience)
			defer cancel()
			command := exec.CommandContext(ctx, program, "-test.run=^TestEnd$")
			command.Env = append(command.Environ(), way+"="+how)
			var complaint strings.Builder
			command.Stderr = &complaint
			said, err := command.Output()
			var made []string
			for _, line := range strings.Split(string(said), "\n") {
				if id, is := strings.CutPrefix(line, "made "); is {
					made = append(made, id)
				}
			}
			if err == nil || len(made) != 3 {
				t.Fatalf("made %q, end %v; want two containers, a network and a bad end\n%s%s", made, err, said, complaint.String())
			}

			docker, err := testcontainers.NewDockerClientWithOpts(ctx)
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() {
				if err := docker.Close(); err != nil {
					t.Error(err)
				}
			})
			again := time.NewTicker(50 * time.Millisecond)
			defer again.Stop()
			for {
				filter := make(client.Filters).Add("id", made...)
				containers, err := docker.ContainerList(ctx, client.ContainerListOptions{All: true, Filters: filter})
				if err != nil {
					t.Fatal(err)
				}
				networks, err := docker.NetworkList(ctx, client.NetworkListOptions{Filters: filter})
				if err != nil {
					t.Fatal(err)
				}
				if len(containers.Items)+len(networks.Items) == 0 {
					return
				}
				select {
				case <-ctx.Done():
					t.Fatalf("%d containers and %d networks are left of tests that ended by %s", len(containers.Items), len(networks.Items), how)
				case <-again.C:
				}
			}
		})
	}
}
