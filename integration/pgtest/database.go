package pgtest

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/testcontainers/testcontainers-go"
)

// Main runs the tests of a package and removes what they started; its result
// is the status to exit with. It is called in TestMain, once:
//
//	func TestMain(m *testing.M) { os.Exit(pgtest.Main(m)) }
//
// The binary of the tests is started a second time to remove containers when
// the tests end, however they do. What TestMain does before Main is then done
// twice.
func Main(m *testing.M) int {
	if setting(role) != "" {
		if err := beKeeper(context.Background(), os.Stdin); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		return 0
	}
	theKeeper.employ()
	code := m.Run()
	if err := theKeeper.end(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return max(code, 1)
	}
	return code
}

// shared is the server of all databases of this test binary.
var shared struct {
	once sync.Once
	dsn  string // of a database that stays, for CREATE and DROP DATABASE
	err  error
}

// share finds or starts the server of all databases.
func share(tb testing.TB) (string, error) {
	tb.Helper()
	found, err := choice{
		server: setting("GREENWEIGHT_TEST_POSTGRES"),
		image:  setting("GREENWEIGHT_TEST_POSTGRES_IMAGE"),
		engine: engine,
		build:  built,
	}.find()
	if err != nil {
		return "", err
	}
	if found.server != "" {
		if _, err := rename(found.server, "postgres"); err != nil {
			return "", fmt.Errorf("read GREENWEIGHT_TEST_POSTGRES: %w", err)
		}
		return found.server, nil
	}
	// The server outlives the test that happens to ask first.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(tb.Context()), 2*patience)
	defer cancel()
	// No test restarts this server, so it lives in memory and waits for no disk: a database is there three times as soon.
	server, err := start(ctx, tb, found.image,
		Options{Settings: []string{"fsync=off", "synchronous_commit=off", "full_page_writes=off", "max_wal_size=128MB"}},
		testcontainers.WithTmpfs(map[string]string{"/scratch": ""}),
		testcontainers.WithEnv(map[string]string{"PGDATA": "/scratch/data"}),
	)
	if err != nil {
		return "", err
	}
	return server.DSN(ctx)
}

// Database creates an empty database for the test and returns its address,
// postgres://…; it is dropped when the test ends, whoever is still connected.
// Tests that run in parallel each have their own. Without a server the test is
// skipped or fails.
func Database(tb testing.TB) string {
	tb.Helper()
	shared.once.Do(func() { shared.dsn, shared.err = share(tb) })
	if shared.err != nil {
		giveUp(tb, shared.err)
	}
	name := "greenweight_test_" + strings.ToLower(rand.Text())
	dsn, err := rename(shared.dsn, name)
	if err != nil {
		tb.Fatal(err)
	}
	administer := func(ctx context.Context, statement string) {
		tb.Helper()
		ctx, cancel := context.WithTimeout(ctx, patience)
		defer cancel()
		if err := execute(ctx, shared.dsn, statement); err != nil {
			tb.Fatalf("%s: %v", statement, err)
		}
	}
	quoted := pgx.Identifier{name}.Sanitize()
	// template1 of a server in use may hold somebody's tables; template0 never does.
	administer(tb.Context(), "CREATE DATABASE "+quoted+" TEMPLATE template0 ENCODING 'UTF8'")
	tb.Cleanup(func() {
		administer(context.WithoutCancel(tb.Context()), "DROP DATABASE "+quoted+" WITH (FORCE)")
	})
	return dsn
}

// rename returns the address of another database on the same server.
func rename(dsn, database string) (string, error) {
	address, err := url.Parse(dsn)
	if err != nil {
		return "", errors.New("the address is no URL") // the error would tell the password
	}
	if address.Scheme != "postgres" && address.Scheme != "postgresql" {
		return "", errors.New("the address does not begin with postgres://")
	}
	if address.Query().Has("dbname") || address.Query().Has("database") {
		return "", errors.New("the address names its database among the parameters; it belongs into the path")
	}
	address.Path = "/" + database
	return address.String(), nil
}
