package storetest

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

// Begin makes a shop with lots for Once.
func Begin(ctx context.Context, s store.Store, lots int) error {
	return attempt(ctx, s, func(ctx context.Context, w store.Writer) error {
		if err := w.AddShop(ctx, store.Shop{ID: shopA, Name: "Cellar A (invented)", CreatedAt: start}); err != nil {
			return err
		}
		for n := range lots {
			l := newLot(shopA, int64(n+1), fmt.Sprintf("lot %d", n+1))
			e := noted(shopA, l.ID, lot.Head{}, `{"text":"opened"}`)
			if err := errors.Join(w.AddLot(ctx, l), w.AddEntries(ctx, follow(l, e), []lot.Entry{e})); err != nil {
				return err
			}
		}
		return nil
	})
}

// Once is a request as a service handles it: it appends an entry, of which the
// idempotency key is the body, to the lot with a number unless that was done for
// the key before. It reports whether it did.
func Once(ctx context.Context, s store.Store, number int64, key string) (did bool, err error) {
	err = attempt(ctx, s, func(ctx context.Context, w store.Writer) error {
		did = false
		if _, err := w.Remembered(ctx, shopA, key, start); err == nil || !errors.Is(err, store.ErrNotFound) {
			return err
		}
		held, err := w.HoldLot(ctx, shopA, lotID(number))
		if err != nil {
			return err
		}
		if err := appendTo(ctx, w, held, key); err != nil {
			return err
		}
		did = true
		return w.Remember(ctx, newRemembered(shopA, key))
	})
	if errors.Is(err, store.ErrExists) { // another was faster with the same key
		return false, nil
	}
	return did && err == nil, err
}

// Kept returns the keys of the requests that were done to the lot with a number,
// in order. It fails when the ledger is no whole chain, or when it and what is
// remembered don't tell the same.
func Kept(t *testing.T, s store.Store, number int64) []string {
	t.Helper()
	var keys []string
	for _, e := range ledger(t, s, shopA, lotID(number))[1:] {
		keys = append(keys, e.Body)
		if got := view(t, s, rememberedFor(shopA, e.Body, start)); got.Key != e.Body {
			t.Errorf("of the key %s another is remembered: %s", e.Body, got.Key)
		}
	}
	return keys
}
