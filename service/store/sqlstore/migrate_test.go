package sqlstore

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/integration/pgtest"
	"greenweight/service/store"
	"greenweight/service/store/storetest"
)

// places makes an empty place on each engine that there is.
func places(t *testing.T, test func(t *testing.T, p place)) {
	t.Helper()
	t.Run("SQLite", func(t *testing.T) { t.Parallel(); test(t, file(t)) })
	t.Run("PostgreSQL", func(t *testing.T) { t.Parallel(); test(t, place(pgtest.Database(t))) })
}

// Both folders hold the same steps.
func TestStepsAreTheSame(t *testing.T) {
	t.Parallel()
	var names [2][]string
	for i, folder := range []string{sqliteSteps, postgresSteps} {
		entries, err := fs.ReadDir(migrations, folder)
		if err != nil {
			t.Fatal(err)
		}
		for n, e := range entries {
			if want := fmt.Sprintf("%05d_", n+1); !strings.HasPrefix(e.Name(), want) || path.Ext(e.Name()) != ".sql" {
				t.Errorf("%s: want a step %s….sql, got %s", folder, want, e.Name())
			}
			names[i] = append(names[i], e.Name())
		}
	}
	if d := cmp.Diff(names[0], names[1]); d != "" {
		t.Errorf("SQLite (-) and PostgreSQL (+) differ:\n%s", d)
	}
	if int64(len(names[0])) != latest() {
		t.Errorf("want %d as the latest version, got %d", len(names[0]), latest())
	}
}

// The texts that list the columns of all tables, on each engine.
const (
	sqliteColumns = `
SELECT m.name || '.' || c.name || ' ' ||
	CASE c.type WHEN 'TEXT' THEN 'text' WHEN 'INTEGER' THEN 'integer' WHEN 'BLOB' THEN 'bytes' ELSE 'unknown ' || c.type END ||
	CASE c."notnull" WHEN 1 THEN '' ELSE ' or null' END ||
	CASE m.strict WHEN 1 THEN '' ELSE ' not strict' END
FROM pragma_table_list AS m JOIN pragma_table_info(m.name) AS c
WHERE m.schema = 'main' AND m.type = 'table' AND m.name NOT LIKE 'sqlite_%' AND m.name NOT LIKE 'goose_%' ORDER BY m.name, c.name`
	postgresColumns = `
SELECT table_name || '.' || column_name || ' ' ||
	CASE data_type WHEN 'text' THEN 'text' WHEN 'bigint' THEN 'integer' WHEN 'integer' THEN 'integer' WHEN 'bytea' THEN 'bytes' ELSE 'unknown ' || data_type END ||
	CASE is_nullable WHEN 'NO' THEN '' ELSE ' or null' END
FROM information_schema.columns WHERE table_schema = current_schema() AND table_name NOT LIKE 'goose_%' ORDER BY table_name, column_name`
)

// lines asks a store for texts.
func lines(t *testing.T, s *Store, text string) []string {
	t.Helper()
	var got []string
	err := s.engine.view(t.Context(), func(tx *transaction) (err error) {
		got, err = all(t.Context(), tx, func(row scanner) (line string, err error) { return line, row.Scan(&line) }, text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestColumnsAreTheSame(t *testing.T) {
	t.Parallel()
	onServer := place(pgtest.Database(t))
	inFile := file(t)
	for version := int64(1); version <= latest(); version++ {
		for _, p := range []place{inFile, onServer} {
			if from, to, err := MigrateTo(t.Context(), string(p), version); err != nil || from != version-1 || to != version {
				t.Fatalf("migrate to %d: from %d to %d, %v", version, from, to, err)
			}
		}
	}
	ours, theirs := lines(t, opened(t, inFile, Options{}), sqliteColumns), lines(t, opened(t, onServer, Options{}), postgresColumns)
	if d := cmp.Diff(ours, theirs); d != "" {
		t.Errorf("SQLite (-) and PostgreSQL (+) differ:\n%s", d)
	}
	if len(ours) < 40 || strings.Contains(strings.Join(ours, "\n"), "unknown") || strings.Contains(strings.Join(ours, "\n"), "not strict") {
		t.Errorf("want some 50 columns of three kinds, got %s", strings.Join(ours, ", "))
	}
}

// A story is the same on both engines, byte for byte.
func TestStoryIsTheSame(t *testing.T) {
	t.Parallel()
	var recounts [2][]string
	for i, p := range []place{file(t), place(pgtest.Database(t))} {
		s := opened(t, p, Options{})
		storetest.Tell(t, s)
		recounts[i] = storetest.Recount(t, s)
	}
	if d := cmp.Diff(recounts[0], recounts[1]); d != "" {
		t.Errorf("SQLite (-) and PostgreSQL (+) differ:\n%s", d)
	}
	if len(recounts[0]) < 60 {
		t.Errorf("want a story of some 70 lines, got %d", len(recounts[0]))
	}
}

func TestSchemaVersions(t *testing.T) {
	t.Parallel()
	places(t, func(t *testing.T, p place) {
		t.Helper()
		ctx := t.Context()
		dsn := string(p)
		if _, _, err := SchemaVersions(ctx, dsn); strings.HasPrefix(dsn, filePrefix) && !errors.Is(err, ErrNoFile) {
			t.Errorf("want ErrNoFile before there is a file, got %v", err)
		}
		if from, to, err := MigrateTo(ctx, dsn, 1); err != nil || from != 0 || to != 1 {
			t.Fatalf("migrate to 1: from %d to %d, %v", from, to, err)
		}
		if is, needed, err := SchemaVersions(ctx, dsn); err != nil || is != 1 || needed != latest() {
			t.Errorf("want 1 of %d, got %d of %d, %v", latest(), is, needed, err)
		}
		if _, err := Open(ctx, dsn, Options{}); !errors.Is(err, ErrOlderSchema) || !strings.Contains(err.Error(), "greenweight migrate") {
			t.Errorf("want ErrOlderSchema with advice, got %v", err)
		}
		for range 2 { // the second finds nothing to do
			if _, to, err := Migrate(ctx, dsn); err != nil || to != latest() {
				t.Fatalf("migrate: to %d, %v", to, err)
			}
		}
		old := opened(t, p, Options{})
		begun(t, old, 1)

		// A newer program migrates the store while this one runs.
		err := old.engine.update(ctx, func(tx *transaction) error {
			_, err := tx.exec(ctx, `INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, $1)`, strings.HasPrefix(dsn, "postgres"))
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, migrate := range []bool{false, true} {
			if _, err := Open(ctx, dsn, Options{Migrate: migrate}); !errors.Is(err, ErrNewerSchema) || !strings.Contains(err.Error(), "99") {
				t.Errorf("open: want ErrNewerSchema that tells the version, got %v", err)
			}
		}
		if _, _, err := Migrate(ctx, dsn); !errors.Is(err, ErrNewerSchema) {
			t.Errorf("migrate: want ErrNewerSchema, got %v", err)
		}
		if is, _, err := SchemaVersions(ctx, dsn); err != nil || is != 99 {
			t.Errorf("want 99, got %d, %v", is, err)
		}
		if err := old.Check(ctx); err != nil {
			t.Errorf("the program that was running already: %v", err)
		}
		if did, err := storetest.Once(ctx, old, 1, "key"); err != nil || !did {
			t.Errorf("the program that was running already: %v", err)
		}
	})
}

// What was kept under an older schema is there under the next.
func TestUpgradeKeeps(t *testing.T) {
	t.Parallel()
	places(t, func(t *testing.T, p place) {
		t.Helper()
		ctx := t.Context()
		if _, _, err := MigrateTo(ctx, string(p), 1); err != nil {
			t.Fatal(err)
		}
		var older engine
		var err error
		if strings.HasPrefix(string(p), filePrefix) {
			db := connected(t, p.path())
			older = runs{plainSession{db}, sqliteDialect{}}
		} else {
			var s *postgresStore
			if s, err = poolOf(ctx, string(p), Options{}); err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { _ = s.close() })
			older = s
		}
		if err := older.update(ctx, func(tx *transaction) error {
			return errors.Join(tx.AddShop(ctx, store.Shop{ID: store.FirstShop, Name: "first"}), tx.SetSetting(ctx, "a", "kept"))
		}); err != nil {
			t.Fatal(err)
		}
		s := opened(t, p, Options{})
		if got := get(t, s, "a"); got != "kept" {
			t.Errorf("want kept, got %q", got)
		}
		begun(t, s, 1)
	})
}

// Many programs start at once on an empty place: each step is done once.
func TestMigrateAtOnce(t *testing.T) {
	t.Parallel()
	places(t, func(t *testing.T, p place) {
		t.Helper()
		const programs = 6
		var all sync.WaitGroup
		for n := range programs {
			all.Go(func() {
				if n%2 == 0 {
					if _, to, err := Migrate(t.Context(), string(p)); err != nil || to != latest() {
						t.Errorf("migrate: to %d, %v", to, err)
					}
					return
				}
				s, err := Open(t.Context(), string(p), Options{Migrate: true})
				if err != nil {
					t.Errorf("open: %v", err)
					return
				}
				if err := errors.Join(s.Check(t.Context()), s.Close()); err != nil {
					t.Error(err)
				}
			})
		}
		all.Wait()
		s := opened(t, p, Options{})
		done := lines(t, s, `SELECT CAST(version_id AS TEXT) FROM goose_db_version ORDER BY version_id`)
		var want []string
		for n := range latest() + 1 {
			want = append(want, strconv.FormatInt(n, 10))
		}
		if d := cmp.Diff(want, done); d != "" {
			t.Errorf("steps that were done, want (-) got (+):\n%s", d)
		}
		begun(t, s, 1)
	})
}

// runs runs transactions on a file without more ado.
type runs struct {
	session plainSession
	dialect dialect
}

func (r runs) view(context.Context, func(*transaction) error) error { return errors.ErrUnsupported }
func (r runs) close() error                                         { return nil }
func (r runs) update(_ context.Context, write func(*transaction) error) error {
	return write(&transaction{session: r.session, dialect: r.dialect})
}
