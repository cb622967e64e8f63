package sqlstore

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"path"
	"strconv"
	"strings"

	"github.com/ncruces/go-sqlite3/driver"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/database"
)

// migrations holds the same steps for both engines.
//
//go:embed migrations
var migrations embed.FS

// The folders of the steps.
const (
	sqliteSteps   = "migrations/sqlite"
	postgresSteps = "migrations/postgres"
)

// Migrate brings the schema of the store that a DSN names up to the one of this
// program, and returns the versions before and after. Several may do so at once;
// each step is done once. The file of an SQLite store is made when there is none.
//
// It returns the errors of Open; with ErrNewerSchema nothing was changed.
func Migrate(ctx context.Context, dsn string) (from, to int64, err error) {
	return MigrateTo(ctx, dsn, latest())
}

// MigrateTo is Migrate up to a version. It is for tests of upgrades, which begin
// with the schema of an older program.
func MigrateTo(ctx context.Context, dsn string, version int64) (from, to int64, err error) {
	place, err := parseAddress(dsn)
	if err != nil {
		return 0, 0, err
	}
	if place.file == "" {
		from, to, err = migratePostgres(ctx, place.server, version)
	} else if err = prepareFile(place.file, true); err == nil {
		from, to, err = migrateSQLite(ctx, place.file, version)
	}
	if err != nil {
		return from, to, fmt.Errorf("migrate the store: %w", err)
	}
	return from, to, nil
}

// SchemaVersions returns the version of the schema of the store that a DSN
// names, zero for one without, and the version that this program needs. It
// changes nothing.
func SchemaVersions(ctx context.Context, dsn string) (is, needed int64, err error) {
	place, err := parseAddress(dsn)
	if err != nil {
		return 0, 0, err
	}
	if place.file == "" {
		is, err = askPostgres(ctx, place.server)
	} else if err = prepareFile(place.file, false); err == nil {
		is, err = askSQLite(ctx, place.file)
	}
	if err != nil {
		return 0, 0, fmt.Errorf("ask the store for its schema: %w", err)
	}
	return is, latest(), nil
}

// latest returns the number of the last step, which is the version of the
// schema that this program needs.
func latest() int64 {
	var last int64
	names, err := fs.Glob(migrations, sqliteSteps+"/*.sql")
	if err != nil {
		return 0 // the pattern is sound
	}
	for _, name := range names {
		number, _, _ := strings.Cut(path.Base(name), "_")
		if n, err := strconv.ParseInt(number, 10, 64); err == nil {
			last = max(last, n)
		}
	}
	return last
}

// versionTable is where the steps that were done are kept.
const versionTable = goose.DefaultTablename

// How the engines tell whether there are steps that were done, and tables of
// somebody else.
const (
	sqliteTables   = `SELECT COUNT(*), COUNT(CASE WHEN name = $1 THEN 1 END) FROM sqlite_master WHERE type = 'table'`
	postgresTables = `SELECT COUNT(*), COUNT(CASE WHEN tablename = $1 THEN 1 END) FROM pg_tables WHERE schemaname = current_schema()`
	lastStep       = `SELECT COALESCE(MAX(version_id), 0) FROM goose_db_version`
)

// schemaVersion returns the version of the schema of a store that has one.
func (t *transaction) schemaVersion(ctx context.Context) (int64, error) {
	version, err := one(ctx, t, func(row scanner) (n int64, err error) { return n, row.Scan(&n) }, lastStep)
	if err != nil {
		return 0, fmt.Errorf("ask for the version of the schema: %w", err)
	}
	return version, nil
}

// versionOf returns the version of a schema, zero when there is none, and
// whether there are tables of somebody else instead.
func versionOf(ctx context.Context, t *transaction, tables string) (version int64, foreign bool, err error) {
	type counts struct{ all, ours int }
	found, err := one(ctx, t, func(row scanner) (c counts, err error) { return c, row.Scan(&c.all, &c.ours) }, tables, versionTable)
	if err != nil || found.ours == 0 {
		return 0, found.all > 0, err
	}
	version, err = t.schemaVersion(ctx)
	return version, false, err
}

// sqliteVersion returns the version of the schema of a file, which may hold
// nothing but a store.
func sqliteVersion(ctx context.Context, db plainSession) (int64, error) {
	version, foreign, err := versionOf(ctx, &transaction{session: db, dialect: sqliteDialect{}}, sqliteTables)
	if err == nil && foreign {
		err = fmt.Errorf("%w: the file holds the tables of another program", ErrNotDatabase)
	}
	return version, err
}

func askSQLite(ctx context.Context, path string) (int64, error) {
	db, err := driver.Open(fileURI(path, "_pragma", "query_only(on)"))
	if err != nil {
		return 0, sqliteProblem(path, err)
	}
	defer db.Close() //nolint:errcheck // it was read
	version, err := sqliteVersion(ctx, plainSession{db})
	if err != nil {
		return 0, sqliteProblem(path, err)
	}
	return version, nil
}

// migrateSQLite runs the steps, each in a transaction that has the lock for
// writing from its beginning, so that two processes take turns.
func migrateSQLite(ctx context.Context, path string, to int64) (from, reached int64, err error) {
	// Another may take its time over a step.
	db, err := driver.Open(fileURI(path, "_txlock", "immediate", "_pragma", "busy_timeout(60000)"))
	if err != nil {
		return 0, 0, sqliteProblem(path, err)
	}
	defer db.Close() //nolint:errcheck // all steps are committed
	ask := func() (int64, error) { return sqliteVersion(ctx, plainSession{db}) }
	// Ask first: a file of somebody else stays as it is.
	if _, err := ask(); err != nil {
		return 0, 0, sqliteProblem(path, err)
	}
	if err := logAhead(ctx, plainSession{db}); err != nil {
		return 0, 0, sqliteProblem(path, err)
	}
	from, reached, err = climb(ctx, db, database.DialectSQLite3, sqliteSteps, to, ask)
	if err != nil {
		return from, reached, sqliteProblem(path, err)
	}
	return from, reached, nil
}

// climb runs the steps up to a version, and again when another process was
// faster with one of them.
func climb(ctx context.Context, db *sql.DB, engine database.Dialect, folder string, to int64, ask func() (int64, error),
	options ...goose.ProviderOption,
) (from, reached int64, err error) {
	if from, err = ask(); err != nil {
		return 0, 0, err
	}
	if err := schemaFault(max(from, latest()), latest()); err != nil {
		return from, from, err
	}
	for reached = from; reached < to; {
		steps, err := stepper(db, engine, folder, options...)
		if err != nil {
			return from, reached, err
		}
		_, failed := steps.UpTo(ctx, to)
		before := reached
		if reached, err = ask(); err != nil {
			return from, before, errors.Join(failed, err)
		}
		if reached == before {
			return from, reached, errors.Join(failed, fmt.Errorf("stopped at version %d of the schema", reached))
		}
	}
	return from, reached, nil
}

func stepper(db *sql.DB, engine database.Dialect, folder string, options ...goose.ProviderOption) (*goose.Provider, error) {
	files, err := fs.Sub(migrations, folder)
	if err != nil {
		return nil, fmt.Errorf("read the steps: %w", err)
	}
	kept, err := database.NewStore(engine, versionTable)
	if err != nil {
		return nil, fmt.Errorf("name the engine: %w", err)
	}
	options = append(options, goose.WithStore(onceStore{kept}), goose.WithDisableGlobalRegistry(true), goose.WithSlog(slog.New(slog.DiscardHandler)))
	return goose.NewProvider(database.DialectCustom, db, files, options...)
}

// onceStore refuses a step that was done already, in the transaction of the
// step: who lists the steps and then waits for the lock may find that another
// process was faster.
type onceStore struct{ database.Store }

// errDone is why a step is taken back.
var errDone = errors.New("this step was done by another process")

// Insert implements database.Store.
func (s onceStore) Insert(ctx context.Context, db database.DBTxConn, step database.InsertRequest) error {
	_, err := s.GetMigration(ctx, db, step.Version)
	switch {
	case err == nil:
		return errDone
	case !errors.Is(err, database.ErrVersionNotFound):
		return err
	}
	return s.Store.Insert(ctx, db, step)
}

// TableExists implements database.StoreExtender, without which goose would find
// out by a statement that fails.
func (s onceStore) TableExists(ctx context.Context, db database.DBTxConn) (bool, error) {
	if extended, is := s.Store.(database.StoreExtender); is {
		return extended.TableExists(ctx, db)
	}
	return false, errors.ErrUnsupported
}
