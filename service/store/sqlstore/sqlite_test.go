package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"

	"greenweight/service/store"
	"greenweight/service/store/storetest"
)

// opened opens the store of a place for the length of a test.
func opened(t *testing.T, p place, options Options) *Store {
	t.Helper()
	s := p.open(t, options)
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close the store: %v", err)
		}
	})
	return s
}

func (p place) path() string { return strings.TrimPrefix(string(p), filePrefix) }

func begun(t *testing.T, s store.Store, lots int) {
	t.Helper()
	if err := storetest.Begin(t.Context(), s, lots); err != nil {
		t.Fatalf("begin: %v", err)
	}
}

// set sets a setting in an Update of its own.
func set(ctx context.Context, s store.Store, name, value string) error {
	return s.Update(ctx, func(w store.Writer) error { return w.SetSetting(ctx, name, value) })
}

// get reads a setting; "" when it was never set.
func get(t *testing.T, s store.Store, name string) string {
	t.Helper()
	var got string
	err := s.View(t.Context(), func(r store.Reader) (err error) {
		got, err = r.Setting(t.Context(), name)
		return err
	})
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		t.Fatalf("read a setting: %v", err)
	}
	return got
}

// Many clients share a commit, and each gets what is its own: those whose
// function fails take nothing of the others with them.
func TestGroupCommit(t *testing.T) {
	t.Parallel()
	s := opened(t, file(t), Options{})
	engine := s.engine.(*sqliteStore)
	before := engine.accepted.Load()
	const clients, each = 64, 20
	mind := errors.New("changed my mind")
	var all sync.WaitGroup
	for n := range clients {
		all.Go(func() {
			for i := range each {
				name, fails := fmt.Sprintf("%d %d", n, i), (n+i)%5 == 0
				err := s.Update(t.Context(), func(w store.Writer) error {
					if err := w.SetSetting(t.Context(), name, "kept"); err != nil || !fails {
						return err
					}
					return mind
				})
				if fails != errors.Is(err, mind) || (!fails && err != nil) {
					t.Errorf("client %d, update %d: got %v", n, i, err)
				}
			}
		})
	}
	all.Wait()
	for n := range clients {
		for i := range each {
			want := "kept"
			if (n+i)%5 == 0 {
				want = ""
			}
			if got := get(t, s, fmt.Sprintf("%d %d", n, i)); got != want {
				t.Errorf("client %d, update %d: want %q, got %q", n, i, want, got)
			}
		}
	}
	commits, accepted := engine.commits.Load(), engine.accepted.Load()-before
	if accepted != clients*each*4/5 {
		t.Errorf("want %d updates kept, got %d", clients*each*4/5, accepted)
	}
	if commits*4 > accepted {
		t.Errorf("%d updates took %d commits: they are not grouped", accepted, commits)
	}
	t.Logf("%d updates of %d clients in %d commits", accepted, clients, commits)
}

// hold runs an Update until it is released, and returns once it is running.
func hold(t *testing.T, s store.Store) (release func()) {
	t.Helper()
	running, may, ended := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() {
		ended <- s.Update(t.Context(), func(w store.Writer) error {
			close(running)
			<-may
			return w.SetSetting(t.Context(), "held", "kept")
		})
	}()
	<-running
	return func() {
		t.Helper()
		close(may)
		if err := <-ended; err != nil {
			t.Errorf("the Update that took long: %v", err)
		}
	}
}

func TestTurns(t *testing.T) {
	t.Parallel()
	t.Run("a caller who goes away before the turn", func(t *testing.T) {
		t.Parallel()
		s := opened(t, file(t), Options{})
		release := hold(t, s)
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- set(ctx, s, "a", "written") }()
		cancel()
		if err := <-ended; !errors.Is(err, context.Canceled) || errors.Is(err, store.ErrUnavailable) {
			t.Errorf("want context.Canceled at once, got %v", err)
		}
		release()
		if err := set(t.Context(), s, "b", "written"); err != nil {
			t.Errorf("the next: %v", err)
		}
		if a, b := get(t, s, "a"), get(t, s, "b"); a != "" || b != "written" {
			t.Errorf("want nothing and written, got %q and %q", a, b)
		}
	})
	t.Run("one that waits too long", func(t *testing.T) {
		t.Parallel()
		s := opened(t, file(t), Options{turn: 20 * time.Millisecond})
		release := hold(t, s)
		if err := set(t.Context(), s, "a", "written"); !errors.Is(err, store.ErrUnavailable) {
			t.Errorf("want store.ErrUnavailable, got %v", err)
		}
		release()
		if got := get(t, s, "a"); got != "" {
			t.Errorf("want nothing, got %q", got)
		}
	})
	t.Run("one within another", func(t *testing.T) {
		t.Parallel()
		s := opened(t, file(t), Options{turn: 20 * time.Millisecond})
		err := s.Update(t.Context(), func(w store.Writer) error {
			if err := set(t.Context(), s, "inner", "written"); !errors.Is(err, store.ErrUnavailable) {
				t.Errorf("the inner: want store.ErrUnavailable, got %v", err)
			}
			return w.SetSetting(t.Context(), "outer", "written")
		})
		if err != nil || get(t, s, "outer") != "written" || get(t, s, "inner") != "" {
			t.Errorf("want the outer alone, got %v", err)
		}
	})
	t.Run("a goroutine that ends", func(t *testing.T) {
		t.Parallel()
		s := opened(t, file(t), Options{})
		var all sync.WaitGroup
		all.Go(func() {
			err := s.Update(t.Context(), func(w store.Writer) error {
				if err := w.SetSetting(t.Context(), "a", "written"); err != nil {
					return err
				}
				runtime.Goexit()
				return nil
			})
			t.Errorf("Update returned: %v", err)
		})
		all.Wait()
		if err := set(t.Context(), s, "b", "written"); err != nil || get(t, s, "a") != "" {
			t.Errorf("want the second alone, got %v", err)
		}
	})
	t.Run("more readers than connections", func(t *testing.T) {
		t.Parallel()
		s := opened(t, file(t), Options{turn: 20 * time.Millisecond})
		release := make(chan struct{})
		var running, all sync.WaitGroup
		for range readers {
			running.Add(1)
			all.Go(func() {
				if err := s.View(t.Context(), func(store.Reader) error { running.Done(); <-release; return nil }); err != nil {
					t.Errorf("a reader: %v", err)
				}
			})
		}
		running.Wait()
		if err := s.View(t.Context(), func(store.Reader) error { return nil }); !errors.Is(err, store.ErrUnavailable) {
			t.Errorf("one more: want store.ErrUnavailable, got %v", err)
		}
		close(release)
		all.Wait()
		if err := s.Check(t.Context()); err != nil {
			t.Errorf("afterwards: %v", err)
		}
	})
}

// Another process, such as `greenweight keys`, may write beside the service.
func TestAnotherProcessWrites(t *testing.T) {
	t.Parallel()
	p := file(t)
	s := opened(t, p, Options{})
	other, err := driver.Open(fileURI(p.path()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = other.Close() })
	conn, err := other.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	run := func(text string) {
		t.Helper()
		if _, err := conn.ExecContext(t.Context(), text); err != nil {
			t.Fatalf("%s: %v", text, err)
		}
	}
	run("BEGIN IMMEDIATE")
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	if err := set(ctx, s, "a", "1"); !errors.Is(err, store.ErrUnavailable) || !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("want store.ErrUnavailable at the end of the context, got %v", err)
	}
	if got := get(t, s, "a"); got != "" {
		t.Errorf("readers: want nothing, got %q", got)
	}
	ended := make(chan error, 2)
	go func() { ended <- set(t.Context(), s, "b", "2") }()
	go func() { ended <- set(t.Context(), s, "c", "3") }()
	run("INSERT INTO setting (name, value) VALUES ('other', 'written')")
	run("COMMIT")
	for range 2 {
		if err := <-ended; err != nil {
			t.Errorf("once the other is done: %v", err)
		}
	}
	if got := get(t, s, "a") + get(t, s, "b") + get(t, s, "c") + get(t, s, "other"); got != "23written" {
		t.Errorf("want 23written, got %q", got)
	}
	// Two stores on one file, as two processes have them.
	second := opened(t, p, Options{})
	begun(t, s, 1)
	var all sync.WaitGroup
	for n := range 8 {
		all.Go(func() {
			for i := range 10 {
				if _, err := storetest.Once(t.Context(), []store.Store{s, second}[n%2], 1, fmt.Sprintf("%d %d", n, i)); err != nil {
					t.Errorf("two stores: %v", err)
				}
			}
		})
	}
	all.Wait()
	if got := storetest.Kept(t, second, 1); len(got) != 80 {
		t.Errorf("want 80 entries, got %d", len(got))
	}
}

// A disk that turns read-only keeps answering what was kept.
func TestTurnsReadOnly(t *testing.T) {
	t.Parallel()
	s := opened(t, file(t), Options{})
	if err := set(t.Context(), s, "a", "1"); err != nil {
		t.Fatal(err)
	}
	writer := s.engine.(*sqliteStore).writer
	if err := writer.run(t.Context(), "PRAGMA query_only = on"); err != nil {
		t.Fatal(err)
	}
	if err := set(t.Context(), s, "a", "2"); !errors.Is(err, store.ErrReadOnly) {
		t.Errorf("want store.ErrReadOnly, got %v", err)
	}
	// Whatever the function makes of the error, nothing is kept.
	err := s.Update(t.Context(), func(w store.Writer) error {
		_ = w.SetSetting(t.Context(), "a", "2")
		return nil
	})
	if !errors.Is(err, store.ErrReadOnly) {
		t.Errorf("want store.ErrReadOnly although it was swallowed, got %v", err)
	}
	if got := get(t, s, "a"); got != "1" {
		t.Errorf("want 1, got %s", got)
	}
	if err := writer.run(t.Context(), "PRAGMA query_only = off"); err != nil {
		t.Fatal(err)
	}
	if err := set(t.Context(), s, "a", "3"); err != nil || get(t, s, "a") != "3" {
		t.Errorf("once it can be written again: %v", err)
	}
}

func TestUnfitFiles(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		prepare func(t *testing.T, folder string) (path string)
		migrate bool
		want    error
		says    string
	}{
		{"no folder", func(_ *testing.T, folder string) string { return filepath.Join(folder, "a", "b.db") }, true, ErrNoFile, "does not exist"},
		{"a file as a folder", func(t *testing.T, folder string) string {
			t.Helper()
			write(t, filepath.Join(folder, "a"), "text")
			return filepath.Join(folder, "a", "b.db")
		}, true, ErrNoFile, "folder"},
		{"a folder as a file", func(_ *testing.T, folder string) string { return folder }, true, ErrNotDatabase, "is a folder"},
		{"no file, and none to be made", func(_ *testing.T, folder string) string { return filepath.Join(folder, "b.db") }, false, ErrNoFile, "greenweight migrate"},
		{"text", func(t *testing.T, folder string) string {
			t.Helper()
			write(t, filepath.Join(folder, "b.db"), strings.Repeat("this is no database\n", 1000))
			return filepath.Join(folder, "b.db")
		}, true, ErrNotDatabase, "no SQLite database"},
		{"an empty file, not to be migrated", func(t *testing.T, folder string) string {
			t.Helper()
			write(t, filepath.Join(folder, "b.db"), "")
			return filepath.Join(folder, "b.db")
		}, false, ErrOlderSchema, "greenweight migrate"},
		{"the database of another program", func(t *testing.T, folder string) string {
			t.Helper()
			alter(t, filepath.Join(folder, "b.db"), "CREATE TABLE stranger (a TEXT)")
			return filepath.Join(folder, "b.db")
		}, true, ErrNotDatabase, "another program"},
		{"a damaged file", func(t *testing.T, folder string) string {
			t.Helper()
			path := filepath.Join(folder, "b.db")
			if _, _, err := Migrate(t.Context(), filePrefix+path); err != nil {
				t.Fatal(err)
			}
			raw, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			copy(raw[100:4096], strings.Repeat("\xa5", 4096)) // the table of tables
			write(t, path, string(raw))
			return path
		}, true, ErrDamaged, "restore a backup"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			path := c.prepare(t, t.TempDir())
			_, err := Open(t.Context(), filePrefix+path, Options{Migrate: c.migrate})
			if !errors.Is(err, c.want) {
				t.Fatalf("want %v, got %v", c.want, err)
			}
			if !strings.Contains(err.Error(), c.says) {
				t.Errorf("want an error that says %q, got %v", c.says, err)
			}
			if !c.migrate && errors.Is(c.want, ErrNoFile) {
				if _, err := os.Stat(path); err == nil {
					t.Error("a file was made")
				}
			}
		})
	}
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil { //nolint:gosec // in the folder of the test
		t.Fatal(err)
	}
}

// alter runs a statement on a file as somebody else would.
func alter(t *testing.T, path, text string) {
	t.Helper()
	db := connected(t, path)
	_, err := db.ExecContext(t.Context(), text)
	if err = errors.Join(err, db.Close()); err != nil {
		t.Fatalf("%s: %v", text, err)
	}
}

// What is kept is for the eyes of its owner, the log beside it too.
func TestFilesAreForTheirOwner(t *testing.T) {
	t.Parallel()
	p := file(t)
	begun(t, opened(t, p, Options{}), 1)
	for _, name := range []string{p.path(), p.path() + "-wal"} {
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		if got := info.Mode().Perm(); got != 0o600 {
			t.Errorf("%s: want the mode 0600, got %o", filepath.Base(name), got)
		}
	}
}

// A power cut loses nothing that was acknowledged, and no row is of nothing.
func TestPragmas(t *testing.T) {
	t.Parallel()
	s := opened(t, file(t), Options{})
	engine := s.engine.(*sqliteStore)
	reader, err := engine.take(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { engine.idle <- reader }()
	for who, c := range map[string]*connection{"writer": engine.writer, "reader": reader} {
		for name, want := range map[string]string{
			"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "temp_store": "2", "busy_timeout": "5000",
			"query_only": map[string]string{"writer": "0", "reader": "1"}[who],
		} {
			var got string
			if err := c.conn.QueryRowContext(t.Context(), "PRAGMA "+name).Scan(&got); err != nil || got != want {
				t.Errorf("%s of the %s: want %s, got %s, %v", name, who, want, got, err)
			}
		}
	}
}

// Each list is read along an index that ends in what it is paged by.
func TestPlans(t *testing.T) {
	t.Parallel()
	s := opened(t, file(t), Options{})
	writer := s.engine.(*sqliteStore).writer
	for _, c := range []struct{ name, text, index string }{
		{"shopByID", shopByID, "autoindex_shop"}, {"shopsAfter", shopsAfter, "autoindex_shop"},
		{"keyByHash", keyByHash, "access_key_by_hash"}, {"keysAfter", keysAfter, "autoindex_access_key"},
		{"lotByID", lotByID, "autoindex_lot"}, {"lotsAfter", lotsAfter, "lot_by_opening"}, {"lotsOfStageAfter", lotsOfStageAfter, "lot_by_stage"},
		{"holdLot", holdLot, "autoindex_lot"}, {"moveHead", moveHead, "autoindex_lot"}, {"entriesAfter", entriesAfter, "autoindex_entry"},
		{"formulaByID", formulaByID, "autoindex_formula"}, {"formulasAfter", formulasAfter, "formula_by_name"},
		{"formulasOfProductAfter", formulasOfProductAfter, "formula_by_product"}, {"holdFormula", holdFormula, "autoindex_formula"},
		{"moveFormula", moveFormula, "autoindex_formula"}, {"countFormulaNote", countFormulaNote, "autoindex_formula"},
		{"formulaVersionsAfter", formulaVersionsAfter, "autoindex_formula_version"}, {"formulaNotesAfter", formulaNotesAfter, "autoindex_formula_note"},
		{"rememberedByKey", rememberedByKey, "autoindex_remembered"}, {"rememberedAfter", rememberedAfter, "autoindex_remembered"},
		{"forget", forget, "remembered_by_expiry"}, {"settingByName", settingByName, "autoindex_setting"},
	} {
		rows, err := writer.conn.QueryContext(t.Context(), "EXPLAIN QUERY PLAN "+c.text)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		plan := planOf(t, rows)
		whole := strings.Join(plan, "; ")
		if !strings.Contains(whole, c.index) || strings.Contains(whole, "SCAN") || strings.Contains(whole, "TEMP B-TREE") {
			t.Errorf("%s: want it along %s, got %s", c.name, c.index, whole)
		}
	}
}

func planOf(t *testing.T, rows *sql.Rows) (plan []string) {
	t.Helper()
	defer rows.Close() //nolint:errcheck // what went wrong is in rows.Err
	for rows.Next() {
		var id, parent, unused int
		var step string
		if err := rows.Scan(&id, &parent, &unused, &step); err != nil {
			t.Fatal(err)
		}
		plan = append(plan, step)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return plan
}

func TestMeaningsSQLite(t *testing.T) {
	t.Parallel()
	others := errors.New("something else")
	for _, c := range []struct {
		err       error
		want      error
		uncertain bool // when it comes of a COMMIT
	}{
		{sqlite3.FULL, store.ErrFull, false},
		{errors.Join(sqlite3.IOERR_WRITE, syscall.ENOSPC), store.ErrFull, false},
		{errors.Join(sqlite3.IOERR_WRITE, syscall.EDQUOT), store.ErrFull, false},
		{errors.Join(sqlite3.IOERR_FSYNC, syscall.ENOSPC), store.ErrFull, true},
		{sqlite3.IOERR_WRITE, store.ErrUnavailable, false},
		{sqlite3.IOERR_FSYNC, store.ErrUnavailable, true},
		{sqlite3.IOERR_SHMMAP, store.ErrUnavailable, true},
		{sqlite3.IOERR_SHMSIZE, store.ErrFull, true},
		{sqlite3.READONLY, store.ErrReadOnly, false},
		{sqlite3.READONLY_DBMOVED, store.ErrReadOnly, false},
		{errors.Join(sqlite3.IOERR_WRITE, syscall.EROFS), store.ErrReadOnly, false},
		{sqlite3.CANTOPEN, store.ErrReadOnly, false},
		{errors.Join(sqlite3.CANTOPEN, syscall.EMFILE), store.ErrUnavailable, false},
		{sqlite3.PERM, store.ErrReadOnly, false},
		{sqlite3.BUSY, store.ErrUnavailable, false},
		{sqlite3.BUSY_RECOVERY, store.ErrUnavailable, false},
		{sqlite3.LOCKED, store.ErrUnavailable, false},
		{sqlite3.NOMEM, store.ErrUnavailable, false},
		{sqlite3.INTERRUPT, store.ErrUnavailable, false},
		{sqlite3.CORRUPT, ErrDamaged, false},
		{sqlite3.NOTADB, ErrNotDatabase, false},
		{sqlite3.CONSTRAINT, nil, false},
		{others, nil, false},
	} {
		if got := (sqliteDialect{}).sentinel(fmt.Errorf("wrapped: %w", c.err)); !errors.Is(got, c.want) {
			t.Errorf("%v: want %v, got %v", c.err, c.want, got)
		}
		if got := uncertain(c.err); got != c.uncertain {
			t.Errorf("%v: want uncertain %v, got %v", c.err, c.uncertain, got)
		}
		explained := explain(sqliteDialect{}, c.err)
		if !errors.Is(explained, c.err) || (c.want != nil && !errors.Is(explained, c.want)) {
			t.Errorf("%v: explained as %v", c.err, explained)
		}
		if c.want == nil && slices.ContainsFunc(ownErrors, func(own error) bool { return errors.Is(explained, own) }) {
			t.Errorf("%v: explained as one of the store's own: %v", c.err, explained)
		}
	}
}
