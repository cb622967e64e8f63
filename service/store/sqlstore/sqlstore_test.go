package sqlstore

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"greenweight/integration/pgtest"
	"greenweight/service/store"
	"greenweight/service/store/storetest"
)

// crash is the DSN of the store that a second program of these tests writes
// until it is killed.
var crash = flag.String("crash", "", "write the store of this `DSN` until killed")

func TestMain(m *testing.M) {
	flag.Parse()
	if *crash != "" {
		fmt.Fprintln(os.Stderr, writeUntilKilled(context.Background(), *crash))
		os.Exit(1)
	}
	os.Exit(pgtest.Main(m))
}

// place is a DSN at which nothing was kept yet.
type place string

func (p place) open(t *testing.T, options Options) *Store {
	t.Helper()
	options.Migrate = true
	options.PoolSize = 4 // a server for tests takes some 100 connections, and tests run side by side
	s, err := Open(t.Context(), string(p), options)
	if err != nil {
		t.Fatalf("open: %v", err)
	}
	return s
}

// Open implements storetest.Place.
func (p place) Open(t *testing.T) store.Store {
	t.Helper()
	return p.open(t, Options{})
}

// OpenSilent implements storetest.Place.
func (p place) OpenSilent(t *testing.T) store.Store {
	t.Helper()
	return p.open(t, Options{loseAnswers: true})
}

// file returns a DSN of a file that there is not yet.
func file(t *testing.T) place {
	t.Helper()
	return place("sqlite:" + filepath.Join(t.TempDir(), "green weight %41.db"))
}

func TestSuiteSQLite(t *testing.T) {
	t.Parallel()
	storetest.Run(t, func(t *testing.T) storetest.Place { t.Helper(); return file(t) })
}

func TestSuitePostgres(t *testing.T) {
	t.Parallel()
	storetest.Run(t, func(t *testing.T) storetest.Place { t.Helper(); return place(pgtest.Database(t)) })
}

// The suite holds under the strictest isolation too, where a transaction that
// met another is run again.
func TestSuitePostgresSerializable(t *testing.T) {
	t.Parallel()
	storetest.Run(t, func(t *testing.T) storetest.Place {
		t.Helper()
		dsn := mustParse(t, pgtest.Database(t))
		query := dsn.Query()
		query.Set("default_transaction_isolation", "serializable")
		dsn.RawQuery = query.Encode()
		return place(dsn.String())
	})
}
