package sqlstore

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/ncruces/go-sqlite3/driver"

	"greenweight/service/store"
	"greenweight/service/store/storetest"
)

// connected opens a file as somebody else would, for the length of a test.
func connected(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := driver.Open(fileURI(path))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func TestBackupAndRestore(t *testing.T) {
	t.Parallel()
	p := file(t)
	s := opened(t, p, Options{})
	storetest.Tell(t, s)
	want := storetest.Recount(t, s)
	folder := t.TempDir()
	kept := filepath.Join(folder, "backup 1?.db")
	if err := Backup(t.Context(), string(p), kept); err != nil {
		t.Fatalf("backup: %v", err)
	}
	if info, err := os.Stat(kept); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("want a file for its owner, got %v, %v", info.Mode(), err)
	}
	target := place(filePrefix + filepath.Join(folder, "restored.db"))
	if err := Restore(t.Context(), kept, string(target)); err != nil {
		t.Fatalf("restore: %v", err)
	}
	again := opened(t, target, Options{})
	if d := cmp.Diff(want, storetest.Recount(t, again)); d != "" {
		t.Errorf("the store (-) and what was restored (+) differ:\n%s", d)
	}
	if err := set(t.Context(), again, "a", "b"); err != nil {
		t.Errorf("write what was restored: %v", err)
	}
	// Nothing is written over, and nothing is left lying about.
	for name, try := range map[string]func() error{
		"backup":                func() error { return Backup(t.Context(), string(p), kept) },
		"restore":               func() error { return Restore(t.Context(), kept, string(target)) },
		"restore in a folder":   func() error { return Restore(t.Context(), kept, filePrefix+folder) },
		"backup onto the store": func() error { return Backup(t.Context(), string(p), p.path()) },
		"restore of the store":  func() error { return Restore(t.Context(), p.path(), string(p)) },
		"restore beside its log": func() error {
			write(t, filepath.Join(folder, "c.db-wal"), "x")
			return Restore(t.Context(), kept, filePrefix+filepath.Join(folder, "c.db"))
		},
	} {
		if err := try(); !errors.Is(err, fs.ErrExist) && (name != "restore of the store" || !errors.Is(err, ErrNotDatabase)) {
			t.Errorf("%s: want a refusal, got %v", name, err)
		}
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), "restored.db-") { // the log of the store that is open
			names = append(names, e.Name())
		}
	}
	if d := cmp.Diff([]string{"backup 1?.db", "c.db-wal", "restored.db"}, names); d != "" {
		t.Errorf("files, want (-) got (+):\n%s", d)
	}
}

// A backup that is made while many write is the store as it was at one moment.
func TestBackupWhileItIsWritten(t *testing.T) {
	t.Parallel()
	p := file(t)
	s := opened(t, p, Options{})
	begun(t, s, 2)
	var stop atomic.Bool
	var acknowledged [3]atomic.Int64
	var all sync.WaitGroup
	for n := int64(1); n <= 2; n++ {
		all.Go(func() {
			for i := 0; !stop.Load(); i++ {
				if _, err := storetest.Once(t.Context(), s, n, fmt.Sprintf("lot %d, entry %d", n, i)); err != nil {
					t.Errorf("append: %v", err)
					return
				}
				acknowledged[n].Add(1)
			}
		})
	}
	folder := t.TempDir()
	for i := range 5 {
		before := acknowledged[1].Load()
		kept := filepath.Join(folder, fmt.Sprintf("%d.db", i))
		if err := Backup(t.Context(), string(p), kept); err != nil {
			t.Errorf("backup %d: %v", i, err)
			continue
		}
		restored := place(filePrefix + filepath.Join(folder, fmt.Sprintf("restored %d.db", i)))
		if err := Restore(t.Context(), kept, string(restored)); err != nil {
			t.Errorf("restore %d: %v", i, err)
			continue
		}
		again := opened(t, restored, Options{})
		storetest.Kept(t, again, 2)
		if got := int64(len(storetest.Kept(t, again, 1))); got < before {
			t.Errorf("backup %d: %d were acknowledged before it, and %d are in it", i, before, got)
		}
	}
	stop.Store(true)
	all.Wait()
}

func TestRestoreRefuses(t *testing.T) {
	t.Parallel()
	sound := func(t *testing.T, folder string) string {
		t.Helper()
		p := place(filePrefix + filepath.Join(folder, "store.db"))
		s := p.open(t, Options{})
		storetest.Tell(t, s)
		kept := filepath.Join(folder, "backup.db")
		if err := errors.Join(Backup(t.Context(), string(p), kept), s.Close()); err != nil {
			t.Fatal(err)
		}
		return kept
	}
	for _, c := range []struct {
		name    string
		prepare func(t *testing.T, folder string) string
		want    error
	}{
		{"no file", func(_ *testing.T, folder string) string { return filepath.Join(folder, "none.db") }, ErrNoFile},
		{"text", func(t *testing.T, folder string) string {
			t.Helper()
			write(t, filepath.Join(folder, "text.db"), strings.Repeat("no database", 1000))
			return filepath.Join(folder, "text.db")
		}, ErrNotDatabase},
		{"nothing", func(t *testing.T, folder string) string {
			t.Helper()
			write(t, filepath.Join(folder, "empty.db"), "")
			return filepath.Join(folder, "empty.db")
		}, ErrNotDatabase},
		{"another program's", func(t *testing.T, folder string) string {
			t.Helper()
			alter(t, filepath.Join(folder, "other.db"), "CREATE TABLE stranger (a TEXT)")
			return filepath.Join(folder, "other.db")
		}, ErrNotDatabase},
		{"cut short", func(t *testing.T, folder string) string {
			t.Helper()
			kept := sound(t, folder)
			raw, err := os.ReadFile(kept)
			if err != nil {
				t.Fatal(err)
			}
			write(t, kept, string(raw[:len(raw)/2]))
			return kept
		}, ErrDamaged},
		{"a page overwritten", func(t *testing.T, folder string) string {
			t.Helper()
			kept := sound(t, folder)
			raw, err := os.ReadFile(kept)
			if err != nil {
				t.Fatal(err)
			}
			copy(raw[3*4096:4*4096], strings.Repeat("\xa5", 4096))
			write(t, kept, string(raw))
			return kept
		}, ErrDamaged},
		{"newer", func(t *testing.T, folder string) string {
			t.Helper()
			kept := sound(t, folder)
			alter(t, kept, "INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, 1)")
			return kept
		}, ErrNewerSchema},
		{"rows of nothing", func(t *testing.T, folder string) string {
			t.Helper()
			kept := sound(t, folder)
			db := connected(t, kept)
			db.SetMaxOpenConns(1)
			for _, text := range []string{"PRAGMA foreign_keys = off", "DELETE FROM shop"} {
				if _, err := db.ExecContext(t.Context(), text); err != nil {
					t.Fatal(err)
				}
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			return kept
		}, ErrDamaged},
		{"in use", func(t *testing.T, folder string) string {
			t.Helper()
			p := place(filePrefix + filepath.Join(folder, "used.db"))
			begun(t, opened(t, p, Options{}), 1)
			return p.path()
		}, ErrNotDatabase},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			folder := t.TempDir()
			from := c.prepare(t, folder)
			target := filepath.Join(folder, "new", "target.db")
			if err := os.Mkdir(filepath.Dir(target), 0o700); err != nil {
				t.Fatal(err)
			}
			if err := Restore(t.Context(), from, filePrefix+target); !errors.Is(err, c.want) {
				t.Errorf("want %v, got %v", c.want, err)
			}
			if left, err := os.ReadDir(filepath.Dir(target)); err != nil || len(left) != 0 {
				t.Errorf("want nothing left, got %v, %v", left, err)
			}
		})
	}
}

// A backup of an older program is restored as it is and migrated when opened.
func TestRestoreOlder(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	older := filePrefix + filepath.Join(folder, "older.db")
	if _, _, err := MigrateTo(t.Context(), older, 1); err != nil {
		t.Fatal(err)
	}
	kept, target := filepath.Join(folder, "backup.db"), filePrefix+filepath.Join(folder, "new.db")
	if err := errors.Join(Backup(t.Context(), older, kept), Restore(t.Context(), kept, target)); err != nil {
		t.Fatal(err)
	}
	if is, _, err := SchemaVersions(t.Context(), target); err != nil || is != 1 {
		t.Errorf("want the version 1, got %d, %v", is, err)
	}
	begun(t, opened(t, place(target), Options{}), 1)
}

func TestBackupIsOfFiles(t *testing.T) {
	t.Parallel()
	const server = "postgres://u:hunter2@h/d" //nolint:gosec // no password is one
	for name, c := range map[string]struct {
		err  error
		want error
		says string
	}{
		"backup of a server":   {Backup(t.Context(), server, "b.db"), ErrFileOnly, "pg_dump"},
		"restore of a server":  {Restore(t.Context(), "b.db", server), ErrFileOnly, "pg_restore"},
		"backup of nothing":    {Backup(t.Context(), filePrefix+filepath.Join(t.TempDir(), "a.db"), "b.db"), ErrNoFile, "there is no"},
		"backup to no folder":  {Backup(t.Context(), made(t), filepath.Join(t.TempDir(), "a", "b.db")), ErrNoFile, "does not exist"},
		"restore to no folder": {Restore(t.Context(), strings.TrimPrefix(made(t), filePrefix), filePrefix+filepath.Join(t.TempDir(), "a", "b.db")), ErrNoFile, "does not exist"},
		"no address":           {Backup(t.Context(), "a.db", "b.db"), ErrAddress, "sqlite:"},
	} {
		if !errors.Is(c.err, c.want) || !strings.Contains(c.err.Error(), c.says) || strings.Contains(c.err.Error(), "hunter2") {
			t.Errorf("%s: want %v that says %q, got %v", name, c.want, c.says, c.err)
		}
	}
}

// made returns the DSN of a store that is closed.
func made(t *testing.T) string {
	t.Helper()
	p := file(t)
	var s store.Store = p.open(t, Options{})
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return string(p)
}
