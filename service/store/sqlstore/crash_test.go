package sqlstore

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"

	"greenweight/integration/pgtest"
	"greenweight/service/store"
	"greenweight/service/store/storetest"
)

// crashWriters is how many write at once in the program that is killed.
const crashWriters = 8

// writeUntilKilled appends to a lot from several goroutines and prints each key
// once it is acknowledged.
func writeUntilKilled(ctx context.Context, dsn string) error {
	s, err := Open(ctx, dsn, Options{})
	if err != nil {
		return err
	}
	ended := make(chan error, crashWriters)
	var all sync.WaitGroup
	for n := range crashWriters {
		all.Go(func() {
			for i := 0; ; i++ {
				key := fmt.Sprintf("writer %d, entry %d, process %d", n, i, os.Getpid())
				_, err := storetest.Once(ctx, s, 1, key)
				if err == nil {
					_, err = fmt.Fprintln(os.Stdout, key)
				}
				if err != nil {
					ended <- err
					return
				}
			}
		})
	}
	all.Wait()
	return <-ended
}

// A program is killed while it writes, three times over: what it acknowledged is
// there, once, and the ledger is one chain.
func TestKilled(t *testing.T) {
	t.Parallel()
	places(t, func(t *testing.T, p place) {
		t.Helper()
		s := p.open(t, Options{})
		begun(t, s, 1)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		acknowledged := map[string]bool{}
		for round := range 3 {
			for _, key := range killAfter(t, p, 100+50*round) {
				acknowledged[key] = true
			}
			s := p.open(t, Options{})
			kept := map[string]int{}
			for _, key := range storetest.Kept(t, s, 1) {
				kept[key]++
			}
			for key := range acknowledged {
				if kept[key] != 1 {
					t.Errorf("%s was acknowledged, and is there %d times", key, kept[key])
				}
			}
			// At most one of each writer was under way.
			if lost := len(kept) - len(acknowledged); lost < 0 || lost > crashWriters*(round+1) {
				t.Errorf("%d were acknowledged, and %d are there", len(acknowledged), len(kept))
			}
			if did, err := storetest.Once(t.Context(), s, 1, fmt.Sprintf("after round %d", round)); err != nil || !did {
				t.Errorf("writing goes on: %v", err)
			}
			acknowledged[fmt.Sprintf("after round %d", round)] = true
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		}
	})
}

// killAfter starts the program and kills it once it has acknowledged so many
// updates; it returns all that were.
func killAfter(t *testing.T, p place, updates int) (acknowledged []string) {
	t.Helper()
	program := exec.CommandContext(t.Context(), os.Args[0], "-crash", string(p)) //nolint:gosec // these tests
	var complaints strings.Builder
	program.Stderr = &complaints
	out, err := program.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := program.Start(); err != nil {
		t.Fatal(err)
	}
	for read := bufio.NewScanner(out); read.Scan(); {
		if strings.HasPrefix(read.Text(), "writer ") {
			acknowledged = append(acknowledged, read.Text())
		}
		if len(acknowledged) == updates {
			if err := program.Process.Kill(); err != nil {
				t.Fatal(err)
			}
		}
	}
	var ended *exec.ExitError
	if err := program.Wait(); !errors.As(err, &ended) || ended.Exited() || complaints.Len() > 0 {
		t.Fatalf("want the program killed, got %v: %s", err, complaints.String())
	}
	return acknowledged
}

// BenchmarkUpdates tells what durable updates cost with so many clients at once,
// each on a lot of its own.
func BenchmarkUpdates(b *testing.B) {
	for name, dsn := range map[string]func(b *testing.B) string{
		"SQLite":     func(b *testing.B) string { b.Helper(); return filePrefix + b.TempDir() + "/greenweight.db" },
		"PostgreSQL": func(b *testing.B) string { b.Helper(); return pgtest.Database(b) },
	} {
		for _, clients := range []int{1, 8, 64} {
			b.Run(fmt.Sprintf("%s/%d", name, clients), func(b *testing.B) {
				s, err := Open(b.Context(), dsn(b), Options{Migrate: true})
				if err != nil {
					b.Fatal(err)
				}
				defer s.Close() //nolint:errcheck // it is thrown away
				if err := storetest.Begin(b.Context(), s, clients); err != nil {
					b.Fatal(err)
				}
				b.ResetTimer()
				run(b, s, clients)
				b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "updates/s")
				if engine, is := s.engine.(*sqliteStore); is {
					b.ReportMetric(float64(engine.accepted.Load())/float64(engine.commits.Load()), "updates/commit")
				}
			})
		}
	}
}

func run(b *testing.B, s store.Store, clients int) {
	b.Helper()
	var all sync.WaitGroup
	for n := range clients {
		all.Go(func() {
			for i := n; i < b.N; i += clients {
				if _, err := storetest.Once(b.Context(), s, int64(n+1), fmt.Sprintf("client %d, update %d", n, i)); err != nil {
					b.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
}
