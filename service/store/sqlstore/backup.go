package sqlstore

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/ncruces/go-sqlite3/driver"

	"greenweight/service/store"
)

// Backup writes the SQLite store that a DSN names, as it is at one moment, to a
// file that there is not yet. Whoever uses the store goes on meanwhile. The file
// gets its name once it is whole, was checked and is on disk.
//
// It returns ErrFileOnly for PostgreSQL, an error that is fs.ErrExist when there
// is such a file, ErrDamaged when the copy is not sound, and otherwise the errors
// of Open.
func Backup(ctx context.Context, dsn, toFile string) error {
	place, err := parseAddress(dsn)
	if err != nil {
		return err
	}
	if place.file == "" {
		return fmt.Errorf("%w; for PostgreSQL use pg_dump", ErrFileOnly)
	}
	if err := backup(ctx, place.file, toFile); err != nil {
		return fmt.Errorf("back up %s to %s: %w", place.file, toFile, err)
	}
	return nil
}

func backup(ctx context.Context, from, to string) error {
	if err := prepareFile(from, false); err != nil {
		return err
	}
	part, err := newPart(to)
	if err != nil {
		return err
	}
	defer part.remove()
	if err := copyInto(ctx, from, part.path); err != nil {
		return sqliteProblem(from, err)
	}
	if _, err := sound(ctx, part.path); err != nil {
		return err
	}
	return part.keep(to)
}

// copyInto copies the store as it is at one moment into a file that is empty.
func copyInto(ctx context.Context, from, to string) error {
	db, err := driver.Open(copyURI(from))
	if err != nil {
		return err
	}
	defer db.Close() //nolint:errcheck // it was read
	if _, err := sqliteVersion(ctx, plainSession{db}); err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, `VACUUM INTO $1`, to)
	return err
}

// Restore makes the SQLite store that a DSN names of a file that Backup wrote.
// There must be no such store yet. Its schema may be older than this program's;
// it is migrated as any other.
//
// It returns ErrFileOnly for PostgreSQL, an error that is fs.ErrExist when there
// is a store already, ErrNoFile when there is no backup, ErrNotDatabase or
// ErrDamaged when it is none or not sound, and ErrNewerSchema when it was made by
// a newer program.
func Restore(ctx context.Context, fromFile, dsn string) error {
	place, err := parseAddress(dsn)
	if err != nil {
		return err
	}
	if place.file == "" {
		return fmt.Errorf("%w; for PostgreSQL use pg_restore", ErrFileOnly)
	}
	if err := restore(ctx, fromFile, place.file); err != nil {
		return fmt.Errorf("restore %s from %s: %w", place.file, fromFile, err)
	}
	return nil
}

func restore(ctx context.Context, from, to string) error {
	for _, beside := range []string{from + "-wal", from + "-journal"} {
		if info, err := os.Stat(beside); err == nil && info.Size() > 0 {
			return fmt.Errorf("%w: beside it is %s, so it is a store in use or half of one; restore what `greenweight backup` wrote",
				ErrNotDatabase, beside)
		}
	}
	source, err := os.Open(from) //nolint:gosec // the file is the one that whoever starts the program names
	if err != nil {
		return fmt.Errorf("%w: the backup can't be read: %w", ErrNoFile, err)
	}
	defer source.Close() //nolint:errcheck // it was read
	part, err := newPart(to)
	if err != nil {
		return err
	}
	defer part.remove()
	if err := part.fill(source); err != nil {
		return err
	}
	version, err := sound(ctx, part.path) // the copy, which is what will be used
	if err != nil {
		return err
	}
	if err := schemaFault(max(version, latest()), latest()); err != nil {
		return err
	}
	return part.keep(to)
}

// sound checks a copy of a store and returns the version of its schema.
func sound(ctx context.Context, path string) (int64, error) {
	version, complaints, err := examine(ctx, path)
	switch {
	case err != nil:
		return 0, sqliteProblem("the copy", err)
	case version == 0:
		return 0, fmt.Errorf("%w: there is nothing in it", ErrNotDatabase)
	case len(complaints) > 0:
		return 0, fmt.Errorf("%w: %s", ErrDamaged, strings.Join(complaints, "; "))
	}
	return version, nil
}

// Both return a row for each fault; the first a single "ok" when there is none.
const (
	integrityCheck  = `PRAGMA integrity_check(10)`
	foreignKeyCheck = `SELECT 'a row of ' || "table" || ' is of nothing in ' || parent FROM pragma_foreign_key_check LIMIT 10`
)

func examine(ctx context.Context, path string) (version int64, complaints []string, err error) {
	db, err := driver.Open(copyURI(path))
	if err != nil {
		return 0, nil, err
	}
	defer db.Close() //nolint:errcheck // it was read
	session := plainSession{db}
	if version, err = sqliteVersion(ctx, session); err != nil {
		return 0, nil, err
	}
	t := &transaction{session: session, dialect: sqliteDialect{}}
	for _, check := range []string{integrityCheck, foreignKeyCheck} {
		found, err := all(ctx, t, func(row scanner) (text string, err error) { return text, row.Scan(&text) }, check)
		if err != nil {
			return 0, nil, err
		}
		for _, text := range found {
			if text != "ok" {
				complaints = append(complaints, text)
			}
		}
	}
	return version, complaints, nil
}

// copyURI names a file to the driver without changing the way it keeps its log.
func copyURI(path string) string {
	query := "_pragma=busy_timeout(5000)&_pragma=temp_store(memory)&vfs=" + files()
	return (&url.URL{Scheme: "file", Path: absolute(path), RawQuery: query}).String()
}

// absolute returns a path from the root; one that can't be found is left to
// whoever opens it.
func absolute(path string) string {
	if whole, err := filepath.Abs(path); err == nil {
		return whole
	}
	return path
}

// part is a file that is being written beside the one that it will become.
type part struct{ path string }

// newPart makes an empty one, for its owner only, unless there is the file.
func newPart(to string) (part, error) {
	for _, name := range []string{to, to + "-wal", to + "-shm", to + "-journal"} {
		switch _, err := os.Lstat(name); {
		case err == nil:
			return part{}, fmt.Errorf("%s is there already and is not written over: %w", name, fs.ErrExist)
		case !errors.Is(err, fs.ErrNotExist):
			return part{}, fmt.Errorf("%w: %s can't be looked for: %w", ErrNoFile, name, err)
		}
	}
	folder := filepath.Dir(to)
	file, err := os.CreateTemp(folder, filepath.Base(to)+".part-*")
	if err == nil {
		err = file.Close()
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return part{}, fmt.Errorf("%w: the folder %s does not exist; make it, or name a file in another", ErrNoFile, folder)
	case err != nil:
		return part{}, unwritten(err)
	}
	return part{absolute(file.Name())}, nil
}

// unwritten says what an error on writing a file means.
func unwritten(err error) error {
	if full(err) {
		return fmt.Errorf("%w: %w", store.ErrFull, err)
	}
	return fmt.Errorf("%w: %w", store.ErrReadOnly, err)
}

func (p part) fill(from io.Reader) error {
	file, err := os.OpenFile(p.path, os.O_WRONLY, 0)
	if err != nil {
		return unwritten(err)
	}
	_, err = io.Copy(file, from)
	if err = errors.Join(err, file.Close()); err != nil {
		return unwritten(err)
	}
	return nil
}

// keep gives the file its name once it is on disk. A file that has come to be
// there meanwhile is not written over.
func (p part) keep(as string) error {
	file, err := os.OpenFile(p.path, os.O_RDWR, 0)
	if err != nil {
		return unwritten(err)
	}
	if err := errors.Join(file.Sync(), file.Close()); err != nil {
		return unwritten(err)
	}
	switch err := os.Link(p.path, as); {
	case errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%s has come to be there and is not written over: %w", as, fs.ErrExist)
	case err != nil: // a file system without links
		if err := os.Rename(p.path, as); err != nil {
			return unwritten(err)
		}
	}
	if err := syncFolder(filepath.Dir(as)); err != nil {
		return unwritten(err)
	}
	return nil
}

// remove leaves nothing of a file that got its name or did not become one.
func (p part) remove() {
	for _, name := range []string{p.path, p.path + "-wal", p.path + "-shm", p.path + "-journal"} {
		os.Remove(name) //nolint:errcheck,gosec // most of them are not there
	}
}
