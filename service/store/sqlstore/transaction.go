package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"greenweight/service/store"
)

// session is a connection with a transaction under way.
type session interface {
	query(ctx context.Context, text string, args []any) (*sql.Rows, error)
	exec(ctx context.Context, text string, args []any) (sql.Result, error)
}

// plainSession asks a connection, or a database, without more ado.
type plainSession struct {
	db interface {
		QueryContext(ctx context.Context, text string, args ...any) (*sql.Rows, error)
		ExecContext(ctx context.Context, text string, args ...any) (sql.Result, error)
	}
}

func (s plainSession) query(ctx context.Context, text string, args []any) (*sql.Rows, error) {
	return s.db.QueryContext(ctx, text, args...)
}

func (s plainSession) exec(ctx context.Context, text string, args []any) (sql.Result, error) {
	return s.db.ExecContext(ctx, text, args...)
}

// dialect holds what the engines differ in, besides opening and migrating.
type dialect interface {
	// sentinel returns the error of package store or of this package that an
	// error of the engine stands for; nil when it stands for none.
	sentinel(err error) error
}

// transaction is a Reader and a Writer. What differs between the engines is
// below it.
type transaction struct {
	session session
	dialect dialect
	failed  error       // of the engine, the first; nothing is kept then, whatever the caller makes of it
	ended   atomic.Bool // nobody may use it any more
}

// transaction is what the callers of Store get.
var _ store.Writer = (*transaction)(nil)

// fail keeps an error of the engine and returns what the store says of it.
func (t *transaction) fail(ctx context.Context, err error) error {
	if ended := ctx.Err(); ended != nil {
		err = ended // the engine says it in words of its own
	}
	if t.failed == nil {
		t.failed = err
	}
	return explain(t.dialect, err)
}

// explain wraps an error of the engine in what it stands for.
func explain(d dialect, err error) error {
	if meaning := d.sentinel(err); meaning != nil && !errors.Is(err, meaning) {
		return fmt.Errorf("%w: %w", meaning, err)
	}
	return err
}

// exec changes rows and returns how many there were.
func (t *transaction) exec(ctx context.Context, text string, args ...any) (int64, error) {
	if err := t.ready(args); err != nil {
		return 0, err
	}
	result, err := t.session.exec(ctx, text, args)
	if err != nil {
		return 0, t.fail(ctx, err)
	}
	rows, err := result.RowsAffected()
	if err != nil {
		return 0, t.fail(ctx, err)
	}
	return rows, nil
}

// scanner reads the columns of a row.
type scanner interface{ Scan(into ...any) error }

// all returns what scan makes of the rows that a text asks for.
func all[T any](ctx context.Context, t *transaction, scan func(scanner) (T, error), text string, args ...any) ([]T, error) {
	if err := t.ready(args); err != nil {
		return nil, err
	}
	rows, err := t.session.query(ctx, text, args)
	if err != nil {
		return nil, t.fail(ctx, err)
	}
	defer rows.Close() //nolint:errcheck // what went wrong is in rows.Err
	var found []T
	for rows.Next() {
		row, err := scan(rows)
		if err != nil {
			return nil, t.fail(ctx, err)
		}
		found = append(found, row)
	}
	if err := rows.Err(); err != nil {
		return nil, t.fail(ctx, err)
	}
	return found, nil
}

// one returns what scan makes of the one row that a text asks for;
// store.ErrNotFound when there is none.
func one[T any](ctx context.Context, t *transaction, scan func(scanner) (T, error), text string, args ...any) (T, error) {
	found, err := all(ctx, t, scan, text, args...)
	if err == nil && len(found) == 0 {
		err = store.ErrNotFound
	}
	if err != nil {
		var none T
		return none, err
	}
	return found[0], nil
}

// ready refuses what must not reach the engine.
func (t *transaction) ready(args []any) error {
	if t.ended.Load() {
		return errEnded
	}
	for _, a := range args {
		if text, is := a.(string); is && (strings.IndexByte(text, 0) >= 0 || !utf8.ValidString(text)) {
			return errText
		}
	}
	return nil
}

// outcome is what becomes of the transaction after the caller's function has
// returned an error or none: the failure of the store when there was one, which
// the caller can't overrule.
func (t *transaction) outcome(err error) error {
	switch {
	case t.failed == nil, errors.Is(err, t.failed):
		return err
	case err != nil:
		return fmt.Errorf("%w (and then: %v)", explain(t.dialect, t.failed), err) //nolint:errorlint // what was made of a failure must not hide it
	}
	return explain(t.dialect, t.failed)
}

// Instants are kept as microseconds since 1970 in UTC.

func instant(us int64) time.Time { return time.UnixMicro(us).UTC() }

// maybe keeps an instant that there may not be.
func maybe(t time.Time) sql.NullInt64 {
	return sql.NullInt64{Int64: t.UnixMicro(), Valid: !t.IsZero()}
}

func maybeInstant(us sql.NullInt64) time.Time {
	if !us.Valid {
		return time.Time{}
	}
	return instant(us.Int64)
}

// digest reads a column of 32 bytes; the schema lets in no other length.
type digest [32]byte

// Scan implements sql.Scanner.
func (d *digest) Scan(value any) error {
	raw, is := value.([]byte)
	if !is || len(raw) != len(d) {
		return fmt.Errorf("a digest of %T instead of %d bytes", value, len(d))
	}
	copy(d[:], raw)
	return nil
}
