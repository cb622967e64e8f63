// Package storetest holds the suite that every store must pass: what the
// comments of package store promise, sentence by sentence, from the outside.
//
// It covers order, paging, filters, every error, shops that never see each
// other, transactions that are kept whole or not at all, many writers at once,
// and what is left when a store is closed or dies between a commit and the
// answer. It does not cover what only one engine can have, such as a full disk.
package storetest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

// Place is where a store keeps what it is given: it can be opened, closed and
// opened again.
type Place interface {
	// Open opens the store. The suite closes it.
	Open(t *testing.T) store.Store
	// OpenSilent opens a store that falls silent after each commit, as if it were
	// killed at that moment: what Update was given is kept, and Update returns
	// store.ErrUncertain.
	OpenSilent(t *testing.T) store.Store
}

// Run runs the suite; empty makes a place where nothing was kept yet, another
// at each call.
func Run(t *testing.T, empty func(t *testing.T) Place) {
	t.Helper()
	for _, c := range []struct {
		name string
		test func(t *testing.T, p Place)
	}{
		{"shops", testShops},
		{"keys", testKeys},
		{"keys that are refused", testKeysRefused},
		{"lots", testLots},
		{"lot numbers", testLotNumbers},
		{"list of lots", testListOfLots},
		{"filters of lots", testFilters},
		{"entries", testEntries},
		{"entries that are refused", testEntriesRefused},
		{"instants", testInstants},
		{"texts", testTexts},
		{"texts that are refused", testTextsRefused},
		{"formulas", testFormulas},
		{"formulas that are refused", testFormulasRefused},
		{"notes of formulas", testFormulaNotes},
		{"list of formulas", testListOfFormulas},
		{"remembered", testRemembered},
		{"forgotten", testForgotten},
		{"settings", testSettings},
		{"shops apart", testShopsApart},
		{"all or nothing", testAllOrNothing},
		{"an error that is handled", testHandledError},
		{"a function that panics", testPanic},
		{"contexts", testContexts},
		{"uncommitted", testUncommitted},
		{"used after its end", testUsedAfterEnd},
		{"one moment", testOneMoment},
		{"one ledger, many writers", testManyAppenders},
		{"one formula, many writers", testManyVersions},
		{"one lot that is held", testHeldLot},
		{"lot numbers, many writers", testManyNumbers},
		{"one idempotency key, many writers", testManyRetries},
		{"opened again", testOpenedAgain},
		{"closed", testClosed},
		{"killed between commit and answer", testSilence},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.test(t, empty(t))
		})
	}
}

// start is the instant at which the stories of the suite begin.
var start = time.Date(2026, time.March, 29, 0, 59, 59, 999999000, time.UTC)

// Two shops of whom each must not know of the other.
const (
	shopA store.ShopID = "0195e0a0-0000-7000-8000-00000000000a"
	shopB store.ShopID = "0195e0a0-0000-7000-8000-00000000000b"
)

// open opens a store for the length of a test.
func open(t *testing.T, p Place) store.Store {
	t.Helper()
	s := p.Open(t)
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("close the store: %v", err)
		}
	})
	return s
}

// openWithShops opens a store that has both shops.
func openWithShops(t *testing.T, p Place) store.Store {
	t.Helper()
	s := open(t, p)
	update(t, s, func(ctx context.Context, w store.Writer) error {
		return errors.Join(
			w.AddShop(ctx, store.Shop{ID: shopA, Name: "Cellar A (invented)", CreatedAt: start}),
			w.AddShop(ctx, store.Shop{ID: shopB, Name: "Cellar B (invented)", CreatedAt: start}),
		)
	})
	return s
}

// tries is how often an Update is given again that gave up for others in its
// way, of which nothing was written.
const tries = 50

// attempt runs an Update, again when it gave up.
func attempt(ctx context.Context, s store.Store, write func(context.Context, store.Writer) error) error {
	var err error
	for range tries {
		err = s.Update(ctx, func(w store.Writer) error { return write(ctx, w) })
		if !errors.Is(err, store.ErrUnavailable) {
			return err
		}
	}
	return err
}

// update runs an Update that must be kept.
func update(t *testing.T, s store.Store, write func(context.Context, store.Writer) error) {
	t.Helper()
	if err := attempt(t.Context(), s, write); err != nil {
		t.Fatalf("update: %v", err)
	}
}

// refuse runs an Update that must fail with an error.
func refuse(t *testing.T, want error, s store.Store, write func(context.Context, store.Writer) error) {
	t.Helper()
	wantError(t, want, attempt(t.Context(), s, write))
}

// view reads what must be readable.
func view[T any](t *testing.T, s store.Store, read func(context.Context, store.Reader) (T, error)) T {
	t.Helper()
	var got T
	err := s.View(t.Context(), func(r store.Reader) (err error) {
		got, err = read(t.Context(), r)
		return err
	})
	if err != nil {
		t.Fatalf("view: %v", err)
	}
	return got
}

// unseen reads what must fail with an error.
func unseen[T any](t *testing.T, want error, s store.Store, read func(context.Context, store.Reader) (T, error)) {
	t.Helper()
	wantError(t, want, s.View(t.Context(), func(r store.Reader) error {
		_, err := read(t.Context(), r)
		return err
	}))
}

// wantError wants an error and none of the others of package store.
func wantError(t *testing.T, want, got error) {
	t.Helper()
	for _, e := range []error{
		store.ErrNotFound, store.ErrExists, store.ErrStale, store.ErrUnavailable, store.ErrUncertain, store.ErrFull, store.ErrReadOnly,
	} {
		if is := errors.Is(got, e); is != (want == e) { //nolint:errorlint // which of them it is
			t.Errorf("want error %v, got %v", want, got)
			return
		}
	}
	if !errors.Is(got, want) {
		t.Errorf("want error %v, got %v", want, got)
	}
}

// wantOther wants an error that is none of package store.
func wantOther(t *testing.T, got error) {
	t.Helper()
	if got == nil {
		t.Error("want an error")
	}
	ours := errors.New("of nobody else")
	wantError(t, ours, errors.Join(ours, got))
}

// exactly compares instants by what they say, offset included, and lists without
// regard to whether an empty one is nil.
var exactly = cmp.Options{
	cmp.Transformer("said", func(at time.Time) string { return at.Format(time.RFC3339Nano) }),
	cmp.Transformer("empty", func(list []lot.Doubt) []lot.Doubt { return append([]lot.Doubt{}, list...) }),
}

func wantEqual[T any](t *testing.T, want, got T) {
	t.Helper()
	if d := cmp.Diff(want, got, exactly...); d != "" {
		t.Errorf("want (-) got (+):\n%s", d)
	}
}

// newLot returns a lot that has no entries yet.
func newLot(shop store.ShopID, number int64, name string) store.Lot {
	return store.Lot{
		Shop: shop, ID: lotID(number), Number: number, Name: name, Stage: "planned",
		OpenedAt: start.Add(time.Duration(number) * time.Minute), RecordedAt: start.Add(time.Duration(number) * time.Minute),
	}
}

// lotID returns the id of the lot with a number, the same in each shop and later
// for a higher number.
func lotID(number int64) lot.ID {
	return lot.ID(fmt.Sprintf("0195e0a1-%04x-7000-8000-000000000001", number))
}

// newID returns an id that nobody has.
func newID() string { return uuid.Must(uuid.NewV7()).String() }

// noted returns the entry that goes on with the ledger of a lot.
func noted(shop store.ShopID, id lot.ID, head lot.Head, body string) lot.Entry {
	at := start.Add(time.Duration(head.Sequence) * time.Hour)
	return sealed(shop, id, lot.Entry{
		Sequence: head.Sequence + 1, Kind: lot.KindNoted, HappenedAt: at, RecordedAt: at.Add(time.Minute),
		Actor: lot.Actor{Key: "0195e0a2-0000-7000-8000-000000000001", Person: "R. Invented"}, RequestID: newID(), Rulebook: "2026-03",
		Body: body, Previous: head.Digest,
	})
}

// sealed returns an entry with its digest, over all that is kept of it.
func sealed(shop store.ShopID, id lot.ID, e lot.Entry) lot.Entry {
	e.Digest = lot.Digest{}
	text, err := json.Marshal(struct {
		Shop                   store.ShopID
		Lot                    lot.ID
		Entry                  lot.Entry
		HappenedAt, RecordedAt string
		Doubts                 []lot.Doubt
	}{shop, id, e, e.HappenedAt.Format(time.RFC3339Nano), e.RecordedAt.Format(time.RFC3339Nano), append([]lot.Doubt{}, e.Doubts...)})
	if err != nil {
		panic(err) // there is nothing in it that JSON lacks
	}
	e.Digest = lot.DigestOf(text)
	return e
}

// follow returns a lot as it is after an entry.
func follow(l store.Lot, e lot.Entry) store.Lot {
	l.Head = lot.Head{Sequence: e.Sequence, Digest: e.Digest}
	l.RecordedAt = e.RecordedAt
	return l
}

// openLot adds a lot with its first entry and returns both.
func openLot(t *testing.T, s store.Store, l store.Lot) (store.Lot, lot.Entry) {
	t.Helper()
	e := noted(l.Shop, l.ID, lot.Head{}, `{"text":"opened"}`)
	after := follow(l, e)
	update(t, s, func(ctx context.Context, w store.Writer) error {
		return errors.Join(w.AddLot(ctx, l), w.AddEntries(ctx, after, []lot.Entry{e}))
	})
	return after, e
}

// appendTo goes on with a ledger within an Update.
func appendTo(ctx context.Context, w store.Writer, l store.Lot, body string) error {
	e := noted(l.Shop, l.ID, l.Head, body)
	return w.AddEntries(ctx, follow(l, e), []lot.Entry{e})
}

// ledger reads all entries of a lot, a few at a time, and the lot, at one
// moment, and fails when they are not one chain that ends in its head.
func ledger(t *testing.T, s store.Store, shop store.ShopID, id lot.ID) []lot.Entry {
	t.Helper()
	var entries []lot.Entry
	l := view(t, s, func(ctx context.Context, r store.Reader) (store.Lot, error) {
		entries = nil
		for {
			some, err := r.Entries(ctx, shop, id, len(entries), 7)
			if err != nil {
				return store.Lot{}, err
			}
			entries = append(entries, some...)
			if len(some) < 7 {
				return r.Lot(ctx, shop, id)
			}
		}
	})
	var head lot.Head
	for i, e := range entries {
		if e.Sequence != i+1 || e.Previous != head.Digest || sealed(shop, id, e).Digest != e.Digest {
			t.Fatalf("entry %d does not go on with the chain after entry %d", e.Sequence, i)
		}
		head = lot.Head{Sequence: e.Sequence, Digest: e.Digest}
	}
	wantEqual(t, head, l.Head)
	return entries
}
