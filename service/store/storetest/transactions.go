package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

func testAllOrNothing(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l, first := openLot(t, s, newLot(shopA, 1, "Fennel"))
	mind := errors.New("changed my mind")
	steps := []func(context.Context, store.Writer) error{
		func(ctx context.Context, w store.Writer) error {
			return w.AddShop(ctx, store.Shop{ID: "0195e0a0-0000-7000-8000-00000000000c", Name: "C", CreatedAt: start})
		},
		func(ctx context.Context, w store.Writer) error { return w.AddKey(ctx, newKey(shopA, 1)) },
		func(ctx context.Context, w store.Writer) error {
			n, err := w.NextLotNumber(ctx, shopA)
			if err == nil && n != 1 {
				err = fmt.Errorf("want lot number 1, got %d: an earlier one was kept", n)
			}
			return err
		},
		func(ctx context.Context, w store.Writer) error { return w.AddLot(ctx, newLot(shopA, 2, "Pepper")) },
		func(ctx context.Context, w store.Writer) error {
			held, err := w.HoldLot(ctx, shopA, l.ID)
			if err != nil {
				return err
			}
			held.Name, held.Stage = "another", "drying"
			return appendTo(ctx, w, held, `{"n":2}`)
		},
		remember(newRemembered(shopA, "key")),
		func(ctx context.Context, w store.Writer) error { return w.SetSetting(ctx, "setting", "value") },
	}
	for kept := range len(steps) + 1 { // give up after that many steps
		err := attempt(t.Context(), s, func(ctx context.Context, w store.Writer) error {
			for _, step := range steps[:kept] {
				if err := step(ctx, w); err != nil {
					return err
				}
			}
			return fmt.Errorf("after %d steps: %w", kept, mind)
		})
		if err == nil || err.Error() != fmt.Sprintf("after %d steps: %v", kept, mind) {
			t.Fatalf("want the error of the function as it was, got %v", err)
		}
		wantError(t, mind, err)
	}
	wantEqual(t, l, view(t, s, lotOf(shopA, l.ID)))
	wantEqual(t, []lot.Entry{first}, ledger(t, s, shopA, l.ID))
	unseen(t, store.ErrNotFound, s, lotOf(shopA, lotID(2)))
	unseen(t, store.ErrNotFound, s, rememberedFor(shopA, "key", start))
	unseen(t, store.ErrNotFound, s, setting("setting"))
	if view(t, s, func(ctx context.Context, r store.Reader) (bool, error) { return r.AnyKey(ctx) }) {
		t.Error("a key was kept")
	}
	shops := view(t, s, func(ctx context.Context, r store.Reader) ([]store.Shop, error) { return r.Shops(ctx, "", 10) })
	if len(shops) != 2 {
		t.Errorf("want 2 shops, got %d", len(shops))
	}
	update(t, s, func(ctx context.Context, w store.Writer) error { // and all of it, when it is kept
		for _, step := range steps {
			if err := step(ctx, w); err != nil {
				return err
			}
		}
		return nil
	})
	if got := ledger(t, s, shopA, l.ID); len(got) != 2 {
		t.Errorf("want 2 entries, got %d", len(got))
	}
	wantEqual(t, "value", view(t, s, setting("setting")))
}

// An error that tells what is there is an answer: the transaction goes on, and
// sees what it wrote before.
func testHandledError(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l, _ := openLot(t, s, newLot(shopA, 1, "Fennel"))
	update(t, s, func(ctx context.Context, w store.Writer) error {
		if err := w.AddKey(ctx, newKey(shopA, 1)); err != nil {
			return err
		}
		stale := noted(shopA, l.ID, lot.Head{}, `{}`)
		absent := newKey(store.ShopID(newID()), 2)
		for _, c := range []struct {
			want, got error
		}{
			{store.ErrExists, w.AddShop(ctx, store.Shop{ID: shopA, Name: "again", CreatedAt: start})},
			{store.ErrExists, w.AddKey(ctx, newKey(shopA, 1))},
			{store.ErrNotFound, w.AddKey(ctx, absent)},
			{store.ErrExists, w.AddLot(ctx, newLot(shopA, 1, "again"))},
			{store.ErrStale, w.AddEntries(ctx, follow(l, stale), []lot.Entry{stale})},
			{store.ErrNotFound, w.RevokeKey(ctx, shopB, newKey(shopA, 1).ID, start)},
		} {
			wantError(t, c.want, c.got)
		}
		if _, err := w.KeyByHash(ctx, newKey(shopA, 1).Hash); err != nil {
			return fmt.Errorf("what was written before is not there: %w", err)
		}
		return w.SetSetting(ctx, "after", "all")
	})
	wantEqual(t, "all", view(t, s, setting("after")))
	wantEqual(t, newKey(shopA, 1), view(t, s, func(ctx context.Context, r store.Reader) (store.Key, error) {
		return r.KeyByHash(ctx, newKey(shopA, 1).Hash)
	}))
}

func testPanic(t *testing.T, p Place) {
	s := openWithShops(t, p)
	for range 3 {
		func() {
			defer func() {
				if got := recover(); got != "dropped the sausage" {
					t.Errorf("want the panic in its caller, got %v", got)
				}
			}()
			err := s.Update(t.Context(), func(w store.Writer) error {
				if err := w.SetSetting(t.Context(), "half", "written"); err != nil {
					return err
				}
				panic("dropped the sausage")
			})
			t.Errorf("Update returned: %v", err)
		}()
		func() {
			defer func() {
				if got := recover(); got != "dropped it again" {
					t.Errorf("want the panic in its caller, got %v", got)
				}
			}()
			err := s.View(t.Context(), func(store.Reader) error { panic("dropped it again") })
			t.Errorf("View returned: %v", err)
		}()
	}
	unseen(t, store.ErrNotFound, s, setting("half"))
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.SetSetting(ctx, "half", "whole") })
	wantEqual(t, "whole", view(t, s, setting("half")))
}

func testContexts(t *testing.T, p Place) {
	s := openWithShops(t, p)
	over, cancel := context.WithCancel(t.Context())
	cancel()
	if err := s.Update(over, func(w store.Writer) error { return w.SetSetting(over, "a", "b") }); !errors.Is(err, context.Canceled) {
		t.Errorf("Update: want context.Canceled, got %v", err)
	}
	if err := s.View(over, func(r store.Reader) error { _, err := r.AnyKey(over); return err }); !errors.Is(err, context.Canceled) {
		t.Errorf("View: want context.Canceled, got %v", err)
	}
	within, cancel := context.WithCancel(t.Context())
	defer cancel()
	err := s.Update(within, func(w store.Writer) error {
		if err := w.SetSetting(within, "a", "b"); err != nil {
			return err
		}
		cancel()
		_, err := w.Setting(within, "a")
		return err
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("Update that was cancelled in the middle: want context.Canceled, got %v", err)
	}
	unseen(t, store.ErrNotFound, s, setting("a"))
	if err := s.Check(t.Context()); err != nil {
		t.Errorf("check: %v", err)
	}
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.SetSetting(ctx, "a", "c") })
	wantEqual(t, "c", view(t, s, setting("a")))
}

// Nobody sees what is not committed, and readers don't wait for writers.
func testUncommitted(t *testing.T, p Place) {
	s := openWithShops(t, p)
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.SetSetting(ctx, "a", "old") })
	update(t, s, func(ctx context.Context, w store.Writer) error {
		if err := w.SetSetting(ctx, "a", "new"); err != nil {
			return err
		}
		wantEqual(t, "old", view(t, s, setting("a")))
		got, err := w.Setting(ctx, "a")
		wantEqual(t, "new", got)
		return err
	})
	wantEqual(t, "new", view(t, s, setting("a")))
}

func testUsedAfterEnd(t *testing.T, p Place) {
	s := openWithShops(t, p)
	var kept store.Reader
	var written store.Writer
	if err := s.View(t.Context(), func(r store.Reader) error { kept = r; return nil }); err != nil {
		t.Fatal(err)
	}
	if err := s.Update(t.Context(), func(w store.Writer) error { written = w; return nil }); err != nil {
		t.Fatal(err)
	}
	if _, err := kept.AnyKey(t.Context()); err == nil {
		t.Error("a Reader answers after its View has ended")
	}
	if err := written.SetSetting(t.Context(), "late", "written"); err == nil {
		t.Error("a Writer writes after its Update has ended")
	}
	unseen(t, store.ErrNotFound, s, setting("late"))
}

// All that one View reads is of one moment, however much is written meanwhile.
func testOneMoment(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l, _ := openLot(t, s, newLot(shopA, 1, "Fennel"))
	const moments = 20
	var stop atomic.Bool
	var all sync.WaitGroup
	all.Go(func() {
		defer stop.Store(true)
		for !stop.Load() {
			err := attempt(t.Context(), s, func(ctx context.Context, w store.Writer) error {
				held, err := w.HoldLot(ctx, shopA, l.ID)
				if err != nil {
					return err
				}
				if err := appendTo(ctx, w, held, `{}`); err != nil {
					return err
				}
				return w.SetSetting(ctx, "entries", strconv.Itoa(held.Head.Sequence+1))
			})
			if err != nil {
				t.Errorf("append: %v", err)
				return
			}
		}
	})
	seen := map[int]bool{}
	for len(seen) < moments && !stop.Load() {
		err := s.View(t.Context(), func(r store.Reader) error {
			ctx := t.Context()
			before, err := r.Lot(ctx, shopA, l.ID)
			if err != nil {
				return err
			}
			entries, err := r.Entries(ctx, shopA, l.ID, 0, 1<<20)
			if err != nil {
				return err
			}
			said, err := r.Setting(ctx, "entries")
			if err != nil && (!errors.Is(err, store.ErrNotFound) || len(entries) > 1) {
				return err
			}
			after, err := r.Lot(ctx, shopA, l.ID)
			if err != nil {
				return err
			}
			if before.Head != after.Head || len(entries) != before.Head.Sequence || (len(entries) > 1 && said != strconv.Itoa(len(entries))) {
				return fmt.Errorf("two moments: the lot has %d entries and then %d, its ledger %d, the setting says %s",
					before.Head.Sequence, after.Head.Sequence, len(entries), said)
			}
			seen[len(entries)] = true
			return nil
		})
		if err != nil {
			t.Errorf("view: %v", err)
			break
		}
	}
	stop.Store(true)
	all.Wait()
}

const (
	writers = 10
	each    = 8
)

// Many append to one lot, each after holding it: one chain, and nothing that
// was acknowledged is missing.
func testManyAppenders(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l, _ := openLot(t, s, newLot(shopA, 1, "Fennel"))
	var kept sync.Map
	var all sync.WaitGroup
	for n := range writers {
		all.Go(func() {
			for i := range each {
				body := fmt.Sprintf(`{"writer":%d,"entry":%d}`, n, i)
				err := attempt(t.Context(), s, func(ctx context.Context, w store.Writer) error {
					held, err := w.HoldLot(ctx, shopA, l.ID)
					if err != nil {
						return err
					}
					return appendTo(ctx, w, held, body)
				})
				if err != nil {
					t.Errorf("writer %d, entry %d: %v", n, i, err)
					return
				}
				kept.Store(body, true)
			}
		})
	}
	all.Wait()
	last := make([]int, writers)
	entries := ledger(t, s, shopA, l.ID)[1:]
	for _, e := range entries {
		var n, i int
		if _, err := fmt.Sscanf(e.Body, `{"writer":%d,"entry":%d}`, &n, &i); err != nil {
			t.Fatalf("entry %d has the body %s", e.Sequence, e.Body)
		}
		if i != last[n] {
			t.Errorf("writer %d: want entry %d next, got %d", n, last[n], i)
		}
		last[n]++
		kept.Delete(e.Body)
	}
	if len(entries) != writers*each {
		t.Errorf("want %d entries, got %d", writers*each, len(entries))
	}
	kept.Range(func(body, _ any) bool {
		t.Errorf("acknowledged, and not there: %v", body)
		return true
	})
}

// Whoever holds a lot knows its head until the end: another that held it at the
// same time goes on after it, and one that did not hold it is refused.
func testHeldLot(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l, _ := openLot(t, s, newLot(shopA, 1, "Fennel"))
	var others sync.WaitGroup
	var outcomes [2]error
	update(t, s, func(ctx context.Context, w store.Writer) error {
		held, err := w.HoldLot(ctx, shopA, l.ID)
		if err != nil {
			return err
		}
		begun := make(chan struct{}, 2)
		others.Wait() // of an earlier run
		others.Go(func() {
			begun <- struct{}{}
			outcomes[0] = attempt(t.Context(), s, func(ctx context.Context, w store.Writer) error {
				again, err := w.HoldLot(ctx, shopA, l.ID)
				if err != nil {
					return err
				}
				return appendTo(ctx, w, again, `{"n":3}`)
			})
		})
		others.Go(func() {
			begun <- struct{}{}
			outcomes[1] = attempt(t.Context(), s, func(ctx context.Context, w store.Writer) error { return appendTo(ctx, w, l, `{"n":0}`) })
		})
		<-begun
		<-begun
		return appendTo(ctx, w, held, `{"n":2}`)
	})
	others.Wait()
	if outcomes[0] != nil {
		t.Errorf("the other that holds it: %v", outcomes[0])
	}
	wantError(t, store.ErrStale, outcomes[1])
	var got []string
	for _, e := range ledger(t, s, shopA, l.ID)[1:] {
		got = append(got, e.Body)
	}
	wantEqual(t, []string{`{"n":2}`, `{"n":3}`}, got)
}

// Many count lots at once, some of whom give up.
func testManyNumbers(t *testing.T, p Place) {
	s := openWithShops(t, p)
	mind := errors.New("changed my mind")
	var mu sync.Mutex
	var got []int64
	var all sync.WaitGroup
	for n := range writers {
		all.Go(func() {
			for i := range each {
				var number int64
				err := attempt(t.Context(), s, func(ctx context.Context, w store.Writer) (err error) {
					if number, err = w.NextLotNumber(ctx, shopA); err != nil {
						return err
					}
					if err := w.AddLot(ctx, newLot(shopA, number, "lot")); err != nil {
						return err
					}
					if (n+i)%4 == 0 {
						return mind
					}
					return nil
				})
				switch {
				case errors.Is(err, mind):
				case err != nil:
					t.Errorf("writer %d: %v", n, err)
				default:
					mu.Lock()
					got = append(got, number)
					mu.Unlock()
				}
			}
		})
	}
	all.Wait()
	slices.Sort(got)
	for i, n := range got {
		if n != int64(i+1) {
			t.Fatalf("want the numbers from 1 without a gap, got %v", got)
		}
	}
	if lots := list(t, s, shopA, store.LotFilter{}, store.LotMark{}, 1000); len(lots) != len(got) || len(got) == 0 {
		t.Errorf("want %d lots, got %d", len(got), len(lots))
	}
}

// The same request is sent many times at once.
func testManyRetries(t *testing.T, p Place) {
	s := open(t, p)
	begin(t, s)
	var want []string
	for round := range 5 {
		key := fmt.Sprintf("key %d", round)
		want = append(want, key)
		var did atomic.Int32
		var all sync.WaitGroup
		for range writers {
			all.Go(func() {
				done, err := Once(t.Context(), s, 1, key)
				if err != nil {
					t.Errorf("%s: %v", key, err)
				}
				if done {
					did.Add(1)
				}
			})
		}
		all.Wait()
		if did.Load() != 1 {
			t.Errorf("%s: want it done once, was done %d times", key, did.Load())
		}
		wantEqual(t, want, Kept(t, s, 1))
	}
}

func testOpenedAgain(t *testing.T, p Place) {
	s := p.Open(t)
	Tell(t, s)
	want := Recount(t, s)
	for range 2 {
		if err := s.Close(); err != nil {
			t.Fatalf("close: %v", err)
		}
		s = p.Open(t)
		wantEqual(t, want, Recount(t, s))
	}
	if err := s.Check(t.Context()); err != nil {
		t.Errorf("check: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Fatalf("close: %v", err)
	}
}

func testClosed(t *testing.T, p Place) {
	s := p.Open(t)
	begun, release, ended := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() {
		ended <- s.Update(t.Context(), func(w store.Writer) error {
			if err := w.SetSetting(t.Context(), "a", "b"); err != nil {
				return err
			}
			close(begun)
			<-release
			return nil
		})
	}()
	<-begun
	closed := make(chan error, 1)
	go func() { closed <- s.Close() }()
	// Close has begun when nobody else gets in; it must still wait for the one.
	for s.Check(t.Context()) == nil {
		time.Sleep(time.Millisecond)
	}
	select {
	case err := <-closed:
		t.Fatalf("Close returned %v while an Update was running", err)
	default:
	}
	close(release)
	if err := <-ended; err != nil {
		t.Errorf("the Update that was running: %v", err)
	}
	if err := <-closed; err != nil {
		t.Errorf("close: %v", err)
	}
	wantError(t, store.ErrUnavailable, s.Update(t.Context(), func(store.Writer) error { return nil }))
	wantError(t, store.ErrUnavailable, s.View(t.Context(), func(store.Reader) error { return nil }))
	wantError(t, store.ErrUnavailable, s.Check(t.Context()))
	if err := s.Close(); err != nil {
		t.Errorf("close again: %v", err)
	}
	wantEqual(t, "b", view(t, open(t, p), setting("a")))
}

// A request whose answer was lost is sent again to a store that was opened
// anew, and does nothing more.
func testSilence(t *testing.T, p Place) {
	s := p.Open(t)
	begin(t, s)
	if err := s.Close(); err != nil {
		t.Fatalf("close: %v", err)
	}
	silent := p.OpenSilent(t)
	_, err := Once(t.Context(), silent, 1, "key")
	wantError(t, store.ErrUncertain, err)
	if err := silent.Close(); err != nil {
		t.Fatalf("close: %v", err)
	}
	s = open(t, p)
	wantEqual(t, newRemembered(shopA, "key"), view(t, s, rememberedFor(shopA, "key", start)))
	if did, err := Once(t.Context(), s, 1, "key"); err != nil || did {
		t.Errorf("the same request again: want nothing done, got %v, %v", did, err)
	}
	if did, err := Once(t.Context(), s, 1, "another key"); err != nil || !did {
		t.Errorf("another request: want it done, got %v, %v", did, err)
	}
	wantEqual(t, []string{"key", "another key"}, Kept(t, s, 1))
}

func begin(t *testing.T, s store.Store) {
	t.Helper()
	if err := Begin(t.Context(), s, 1); err != nil {
		t.Fatalf("open a lot: %v", err)
	}
}
