package sqlstore

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/database"
	"github.com/pressly/goose/v3/lock"

	"greenweight/service/store"
)

const (
	poolSize     = 10
	connectWait  = 10 * time.Second // for a connection, made or given back
	commitWait   = 15 * time.Second // for the answer to a COMMIT, then it is uncertain
	rollbackWait = 5 * time.Second
	attempts     = 5 // of one transaction
)

// postgresStore is a PostgreSQL database, or what speaks like one, also behind a
// pooler that lends a connection for one transaction at a time.
type postgresStore struct {
	options Options
	logger  *slog.Logger
	server  string // for people, without user and password
	pool    *pgxpool.Pool
	db      *sql.DB // the same connections
}

// openPostgres opens the database.
func openPostgres(ctx context.Context, dsn string, options Options) (_ *postgresStore, err error) {
	if options.Migrate {
		if _, _, err := migratePostgres(ctx, dsn, latest()); err != nil {
			return nil, err
		}
	}
	s, err := poolOf(ctx, dsn, options)
	if err != nil {
		return nil, err
	}
	version, err := s.version(ctx)
	if err == nil {
		err = schemaFault(version, latest())
	}
	if err != nil {
		return nil, errors.Join(err, s.close())
	}
	return s, nil
}

// poolOf makes the pool of connections, none of which is opened yet.
func poolOf(ctx context.Context, dsn string, options Options) (*postgresStore, error) {
	config, err := poolConfig(dsn, options)
	if err != nil {
		return nil, err
	}
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, fmt.Errorf("%w: the address of the PostgreSQL server can't be used", ErrAddress)
	}
	s := &postgresStore{options: options, logger: options.Logger, pool: pool, db: stdlib.OpenDBFromPool(pool)}
	if s.logger == nil {
		s.logger = slog.New(slog.DiscardHandler)
	}
	if s.options.commits == 0 {
		s.options.commits = commitWait
	}
	c := config.ConnConfig
	s.server = fmt.Sprintf("database %s at %s", c.Database, net.JoinHostPort(c.Host, strconv.Itoa(int(c.Port))))
	return s, nil
}

// poolConfig reads the DSN of a server. What it does not say is set so that it
// works behind a pooler and fails within seconds.
func poolConfig(dsn string, options Options) (*pgxpool.Config, error) {
	config, err := pgxpool.ParseConfig(dsn)
	if err != nil {
		return nil, serverFault(dsn, err)
	}
	given := url.Values{}
	if u, err := url.Parse(dsn); err == nil {
		given = u.Query()
	}
	if !given.Has("default_query_exec_mode") {
		config.ConnConfig.DefaultQueryExecMode = pgx.QueryExecModeCacheDescribe
	}
	if !given.Has("connect_timeout") {
		config.ConnConfig.ConnectTimeout = connectWait
	}
	switch {
	case options.PoolSize > 0:
		config.MaxConns = int32(min(options.PoolSize, 1<<16))
	case !given.Has("pool_max_conns"):
		config.MaxConns = poolSize
	}
	return config, nil
}

// serverFault says why the DSN of a server can't be read, with the cause when
// there is no password in it.
func serverFault(dsn string, cause error) error {
	known, readable := secrets(dsn)
	text := cause.Error()
	if !readable || slices.ContainsFunc(known, func(secret string) bool { return secret != "" && strings.Contains(text, secret) }) {
		return fmt.Errorf("%w: what follows %s is no URL; in user, password and database every character but letters, digits, - and _ "+
			"must be percent-encoded; %s", ErrAddress, serverPrefix, forms)
	}
	return fmt.Errorf("%w: %s", ErrAddress, text)
}

// verdict says what an error of PostgreSQL means for the transaction.
type verdict int

const (
	final    verdict = iota // it would be the same again
	conflict                // another transaction was in the way
	lost                    // the server or the connection went away
	standby                 // the server can only be read: another has taken over, or will
)

// judge looks at the code of an error, or for signs that the connection broke.
func judge(err error) verdict {
	var told *pgconn.PgError
	if errors.As(err, &told) {
		switch {
		case told.Code == "40001", told.Code == "40P01":
			return conflict
		case told.Code == "25006":
			return standby
		case told.Code == "53300", told.Code == "25P03", strings.HasPrefix(told.Code, "57P"), strings.HasPrefix(told.Code, "08"):
			return lost
		}
		return final
	}
	var network net.Error
	var connecting *pgconn.ConnectError
	switch {
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return final
	case errors.As(err, &network), errors.As(err, &connecting), pgconn.SafeToRetry(err), errors.Is(err, io.EOF),
		errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, net.ErrClosed), errors.Is(err, driver.ErrBadConn), errors.Is(err, sql.ErrConnDone),
		errors.Is(err, errUnsent):
		return lost
	}
	return final
}

// postgresDialect knows the errors of PostgreSQL.
type postgresDialect struct{}

func (postgresDialect) sentinel(err error) error {
	switch judge(err) {
	case conflict, lost:
		return store.ErrUnavailable
	case standby:
		return store.ErrReadOnly
	case final:
	}
	var told *pgconn.PgError
	if !errors.As(err, &told) {
		return nil
	}
	switch {
	case told.Code == "53100":
		return store.ErrFull
	case told.Code == "57014", told.Code == "3D000",
		strings.HasPrefix(told.Code, "28"), strings.HasPrefix(told.Code, "53"), strings.HasPrefix(told.Code, "58"):
		return store.ErrUnavailable
	}
	return nil
}

// Two ways to begin. A View sees one moment; an Update has the isolation that
// the server is set to, and is right under all of them. The server ends an Update
// that asks nothing for a while, and with it what it holds: a service that is
// frozen, or cut off, must not keep others from a lot. Both statements go in one
// message.
const (
	beginView   = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
	beginUpdate = "BEGIN; SET LOCAL idle_in_transaction_session_timeout = '5s'"
)

func (s *postgresStore) view(ctx context.Context, read func(*transaction) error) error {
	return s.retry(ctx, func() (verdict, error) { return s.attempt(ctx, beginView, read) })
}

func (s *postgresStore) update(ctx context.Context, write func(*transaction) error) error {
	return s.retry(ctx, func() (verdict, error) { return s.attempt(ctx, beginUpdate, write) })
}

// retry runs a transaction again for as long as that may help.
func (s *postgresStore) retry(ctx context.Context, attempt func() (verdict, error)) error {
	for try := 1; ; try++ {
		kind, err := attempt()
		if kind == lost || kind == standby {
			s.pool.Reset() // the other connections are likely no better
		}
		if err == nil || kind == final || try == attempts {
			return err
		}
		s.logger.Warn("a transaction is tried again", slog.Int("try", try), slog.Any("error", err))
		if !pause(ctx, kind, try) {
			return err
		}
	}
}

// pause waits before the next try: some 10 ms after a conflict, 100 ms when the
// server went away, twice as long each time, and by chance half as much more or
// less, so that those who collided don't collide again. It returns false when
// the caller went away.
func pause(ctx context.Context, kind verdict, try int) bool {
	longest := 10 * time.Millisecond
	if kind != conflict {
		longest = 100 * time.Millisecond
	}
	longest <<= try - 1
	wait := time.NewTimer(longest/2 + rand.N(longest)) //nolint:gosec // chance is all that is asked of it
	defer wait.Stop()
	select {
	case <-wait.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// attempt runs a transaction once. The verdict is final for what must not be run
// again.
func (s *postgresStore) attempt(ctx context.Context, begin string, run func(*transaction) error) (verdict, error) {
	conn, err := s.connection(ctx)
	if err != nil {
		return judge(err), err
	}
	defer conn.Close() //nolint:errcheck // it goes back to the pool, which looks at it
	t := &transaction{session: plainSession{conn}, dialect: postgresDialect{}}
	committing := false
	defer func() {
		t.ended.Store(true)
		if !committing { // a panic too
			s.takeBack(ctx, conn)
		}
	}()
	if _, err := t.session.exec(ctx, begin, []any{pgx.QueryExecModeSimpleProtocol}); err != nil {
		err = t.outcome(t.fail(ctx, err))
		return judge(t.failed), err
	}
	err = t.outcome(run(t))
	switch {
	case t.failed != nil:
		return judge(t.failed), err
	case err != nil, begin == beginView:
		return final, err
	case ctx.Err() != nil:
		return final, ctx.Err()
	}
	committing = true
	return s.commit(ctx, conn)
}

// connection takes a connection from the pool, or makes one.
func (s *postgresStore) connection(ctx context.Context) (*sql.Conn, error) {
	wait := max(connectWait, s.pool.Config().ConnConfig.ConnectTimeout)
	bounded, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	conn, err := s.db.Conn(bounded)
	switch {
	case err == nil:
		return conn, nil
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case bounded.Err() != nil:
		return nil, fmt.Errorf("%w: no connection to the %s within %s", store.ErrUnavailable, s.server, wait)
	}
	return nil, s.problem(err)
}

// problem says in words for people what an error on connecting means.
func (s *postgresStore) problem(err error) error {
	meaning := postgresDialect{}.sentinel(err)
	if meaning == nil {
		meaning = store.ErrUnavailable
	}
	advice := "can't be reached; see whether it runs, and the host and port"
	var told *pgconn.PgError
	if errors.As(err, &told) {
		switch {
		case strings.HasPrefix(told.Code, "28"):
			advice = "does not let the user in; see user and password"
		case told.Code == "3D000":
			advice = "is not there; create it"
		case told.Code == "42501":
			advice = "does not let the user make tables; grant it that, or migrate as its owner"
		default:
			advice = "can't be used now"
		}
	}
	return fmt.Errorf("%w: the %s %s: %w", meaning, s.server, advice, err)
}

// commit commits, whether the caller has gone away meanwhile or not: an answer
// that nobody waits for is one that nobody knows.
func (s *postgresStore) commit(ctx context.Context, conn *sql.Conn) (verdict, error) {
	bounded, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.options.commits)
	defer cancel()
	tag, err := command(bounded, conn, "COMMIT")
	if err == nil && tag != "COMMIT" {
		return final, fmt.Errorf("%w: the server took the transaction back", store.ErrUnavailable)
	}
	if err != nil {
		return committed(err)
	}
	if s.options.loseAnswers {
		return final, errSilent
	}
	return final, nil
}

// errUnsent is the cause of a COMMIT that the server never got.
var errUnsent = errors.New("the connection was lost before the commit")

// committed says what an error on COMMIT means. Only a server that says so has
// not committed: one that goes away, also by saying that it does, may have. What
// pgconn.SafeToRetry says is no help: it holds for a connection that was lost
// while waiting for the answer, too.
func committed(err error) (verdict, error) {
	var told *pgconn.PgError
	if errors.As(err, &told) {
		class := told.Code[:min(len(told.Code), 2)]
		if told.Code != "40003" && slices.Contains([]string{"22", "23", "25", "40", "53", "54"}, class) {
			return judge(err), explain(postgresDialect{}, err)
		}
	}
	if errors.Is(err, errUnsent) {
		return judge(err), explain(postgresDialect{}, err)
	}
	return final, fmt.Errorf("%w: %w", store.ErrUncertain, err)
}

func (s *postgresStore) takeBack(ctx context.Context, conn *sql.Conn) {
	bounded, cancel := context.WithTimeout(context.WithoutCancel(ctx), rollbackWait)
	defer cancel()
	// When that fails the connection is broken, and the pool throws it away.
	if _, err := command(bounded, conn, "ROLLBACK"); err != nil && judge(err) != lost {
		s.logger.Warn("take a transaction back", slog.Any("error", err))
	}
}

// command runs a statement without parameters and returns what the server says
// that it did, which database/sql does not tell.
func command(ctx context.Context, conn *sql.Conn, text string) (string, error) {
	var tag pgconn.CommandTag
	err := conn.Raw(func(inner any) (err error) {
		c, is := inner.(*stdlib.Conn)
		if !is {
			return fmt.Errorf("a connection of %T", inner)
		}
		if c.Conn().IsClosed() {
			return errUnsent
		}
		tag, err = c.Conn().Exec(ctx, text)
		return err
	})
	return tag.String(), err
}

func (s *postgresStore) close() error {
	err := s.db.Close()
	s.pool.Close()
	return err
}

// version returns the version of the schema, zero when there is none. There may
// be tables of others beside ours.
func (s *postgresStore) version(ctx context.Context) (version int64, err error) {
	err = s.view(ctx, func(t *transaction) error {
		version, _, err = versionOf(ctx, t, postgresTables)
		return err
	})
	return version, err
}

func askPostgres(ctx context.Context, dsn string) (int64, error) {
	s, err := poolOf(ctx, dsn, Options{PoolSize: 1})
	if err != nil {
		return 0, err
	}
	defer s.close() //nolint:errcheck // it was read
	return s.version(ctx)
}

// migratePostgres runs the steps, one program at a time: a row in a table says
// who, and is renewed for as long as it lives. There are no advisory locks behind
// a pooler.
func migratePostgres(ctx context.Context, dsn string, to int64) (from, reached int64, err error) {
	s, err := poolOf(ctx, dsn, Options{PoolSize: 4}) // goose holds one and asks for the lock on others
	if err != nil {
		return 0, 0, err
	}
	defer s.close() //nolint:errcheck // all steps are committed
	silent := slog.New(slog.DiscardHandler)
	turn, err := lock.NewPostgresTableLocker(lock.WithTableLogger(silent), lock.WithTableLockTimeout(500*time.Millisecond, 600))
	if err != nil {
		return 0, 0, fmt.Errorf("prepare the lock of the steps: %w", err)
	}
	ask := func() (int64, error) { return s.version(ctx) }
	from, reached, err = climb(ctx, s.db, database.DialectPostgres, postgresSteps, to, ask, goose.WithLocker(turn))
	var told *pgconn.PgError
	if errors.As(err, &told) && !errors.Is(err, store.ErrUnavailable) {
		err = s.problem(err)
	}
	return from, reached, err
}
