// Package sqlstore keeps what package store promises: in one SQLite file, for a
// maker at home or a shop with one service, or in a PostgreSQL database, for
// several services side by side.
//
// The SQL is written once, in what both engines understand. It names every
// parameter by its number in the order of first appearance, because SQLite
// counts them so; it breaks no constraint, because that ends a transaction on
// one engine and not on the other; and it uses nothing that a distributed or
// pooled PostgreSQL lacks. A test reads all texts and refuses the rest.
//
// What differs stands apart: how a transaction is begun, committed and tried
// again (sqlite.go, postgres.go), and what the errors of an engine mean.
//
// On SQLite one connection writes, and what many ask for at once is committed
// together, so that one sync of the disk serves them all. Readers have
// connections of their own and never wait for it.
package sqlstore

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"greenweight/service/store"
)

// Options say how a store is opened. The zero value is fit for use.
type Options struct {
	// Migrate brings the schema up to the one of this program, and makes the file
	// of an SQLite store when there is none.
	Migrate bool
	// Logger is told of what is tried again; nil for nobody.
	Logger *slog.Logger
	// PoolSize is how many connections to PostgreSQL there may be; zero for 10, or
	// for what the DSN says with pool_max_conns.
	PoolSize int

	turn        time.Duration // how long an Update waits for its turn; zero for turnWait
	commits     time.Duration // how long PostgreSQL may take to answer a COMMIT; zero for commitWait
	driver      []string      // more parameters of fileURI
	loseAnswers bool          // fall silent after each commit, as if killed at that moment: for tests
}

// Store is a store.Store.
type Store struct {
	engine engine

	mu      sync.Mutex
	closed  bool
	running sync.WaitGroup
}

var _ store.Store = (*Store)(nil)

// engine runs transactions.
type engine interface {
	view(ctx context.Context, read func(*transaction) error) error
	update(ctx context.Context, write func(*transaction) error) error
	close() error
}

// Open opens the store that a DSN names: sqlite:PATH, or postgres://…, also
// spelt postgresql://…, with what pgx takes as parameters.
//
// It returns ErrAddress for any other DSN, ErrNoFile, ErrNotDatabase or
// ErrDamaged for a file that can't be used, ErrOlderSchema or ErrNewerSchema
// when the program does not fit the store, store.ErrReadOnly for a file that
// can't be written and store.ErrUnavailable for a server that can't be reached
// within seconds.
func Open(ctx context.Context, dsn string, options Options) (*Store, error) {
	if options.Logger == nil {
		options.Logger = slog.New(slog.DiscardHandler)
	}
	place, err := parseAddress(dsn)
	if err != nil {
		return nil, err
	}
	s := &Store{}
	if place.file != "" {
		s.engine, err = openSQLite(ctx, place.file, options)
	} else {
		s.engine, err = openPostgres(ctx, place.server, options)
	}
	if err != nil {
		return nil, fmt.Errorf("open the store: %w", err)
	}
	return s, nil
}

// enter counts what runs, so that Close can wait for it.
func (s *Store) enter() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return fmt.Errorf("%w: it was closed", store.ErrUnavailable)
	}
	s.running.Add(1)
	return nil
}

// View implements store.Store.
func (s *Store) View(ctx context.Context, read func(store.Reader) error) error {
	if err := s.enter(); err != nil {
		return err
	}
	defer s.running.Done()
	return s.engine.view(ctx, func(t *transaction) error { return read(t) })
}

// Update implements store.Store. On SQLite write keeps all other writers
// waiting, so it does nothing else that takes time, and no Update of its own.
func (s *Store) Update(ctx context.Context, write func(store.Writer) error) error {
	if err := s.enter(); err != nil {
		return err
	}
	defer s.running.Done()
	return s.engine.update(ctx, func(t *transaction) error { return write(t) })
}

// Check implements store.Store. A store that was migrated by a newer program
// while this one runs is as good as before: migrations only add as long as older
// programs may run.
func (s *Store) Check(ctx context.Context) error {
	if err := s.enter(); err != nil {
		return err
	}
	defer s.running.Done()
	return s.engine.view(ctx, func(t *transaction) error {
		version, err := t.schemaVersion(ctx)
		if err != nil {
			return err
		}
		return schemaFault(min(version, latest()), latest())
	})
}

// Close implements store.Store. Updates that have begun or wait for their turn
// are run first; whoever comes later gets store.ErrUnavailable.
func (s *Store) Close() error {
	s.mu.Lock()
	already := s.closed
	s.closed = true
	s.mu.Unlock()
	s.running.Wait()
	if already {
		return nil
	}
	if err := s.engine.close(); err != nil {
		return fmt.Errorf("close the store: %w", err)
	}
	return nil
}
