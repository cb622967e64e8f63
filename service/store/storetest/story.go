package storetest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"testing"
	"time"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

// Tell writes the same story, fixed to the last byte, into an empty store: two
// shops with keys, lots and ledgers, in many offsets and scripts. A store of any
// engine that was told it must give the same Recount.
func Tell(t *testing.T, s store.Store) {
	t.Helper()
	for i, shop := range []store.ShopID{shopA, shopB} {
		update(t, s, func(ctx context.Context, w store.Writer) error {
			k := keyOf(shop)
			k.ExpiresAt = start.AddDate(0, 0, i)
			return errors.Join(
				w.AddShop(ctx, store.Shop{ID: shop, Name: fmt.Sprintf("Cellar %d, invented ✓", i), CreatedAt: start}),
				w.AddKey(ctx, k),
				w.SetSetting(ctx, fmt.Sprintf("setting of %d", i), "value ✓"),
			)
		})
		for n := range 4 {
			update(t, s, func(ctx context.Context, w store.Writer) error { return tellLot(ctx, w, shop, i, n) })
		}
		update(t, s, func(ctx context.Context, w store.Writer) error { return tellFormulas(ctx, w, shop, i) })
	}
}

// keyOf returns the key of each shop.
func keyOf(shop store.ShopID) store.Key {
	if shop == shopA {
		return newKey(shop, 1)
	}
	return newKey(shop, 2)
}

func tellLot(ctx context.Context, w store.Writer, shop store.ShopID, i, n int) error {
	number, err := w.NextLotNumber(ctx, shop)
	if err != nil {
		return err
	}
	l := newLot(shop, number, fmt.Sprintf("Lot %d von %d, Größe 50%%_ 秤", number, i))
	if err := w.AddLot(ctx, l); err != nil {
		return err
	}
	var entries []lot.Entry
	for m, body := range bodies()[:3*n+2] {
		zone := time.FixedZone("", (m*345-720)*60%(24*3600))
		e := lot.Entry{
			Sequence: m + 1, Kind: lot.Kinds()[m%len(lot.Kinds())], HappenedAt: start.AddDate(0, 0, m).Add(time.Duration(m) * time.Microsecond).In(zone),
			RecordedAt: start.AddDate(0, 0, m+1), Actor: lot.Actor{Key: string(keyOf(shop).ID), Person: "R. Invented"},
			RequestID: fmt.Sprintf("request %d", m), Rulebook: "2026-03", Late: m%2 == 0, Body: body, Previous: l.Head.Digest,
		}
		for d := range m % 3 {
			e.Doubts = append(e.Doubts, lot.Doubt{Code: fmt.Sprintf("code-%d", d), Detail: "was <1> & \"2\" ✓"})
		}
		e = sealed(shop, l.ID, e)
		l = follow(l, e)
		l.Stage = e.Kind.String()
		entries = append(entries, e)
	}
	return errors.Join(
		w.AddEntries(ctx, l, entries),
		w.Remember(ctx, newRemembered(shop, fmt.Sprintf("Key-%d ✓", number))),
	)
}

// Recount reads all that is kept, in order, and returns it as lines of text of
// which each tells one thing whole. It computes the digest of each entry anew.
func Recount(t *testing.T, s store.Store) []string {
	t.Helper()
	const page = 3
	return view(t, s, func(ctx context.Context, r store.Reader) (lines []string, err error) {
		line := func(of any) {
			text := fmt.Sprintf("%#v", of)
			if len(text) > 1000 {
				sum := sha256.Sum256([]byte(text))
				text = text[:500] + " … " + hex.EncodeToString(sum[:])
			}
			lines = append(lines, text)
		}
		for after := store.ShopID(""); ; {
			shops, err := r.Shops(ctx, after, page)
			if err != nil {
				return nil, err
			}
			for _, shop := range shops {
				line(shop)
				if err := recountShop(ctx, r, shop.ID, page, line); err != nil {
					return nil, err
				}
				after = shop.ID
			}
			if len(shops) < page {
				return lines, nil
			}
		}
	})
}

func recountShop(ctx context.Context, r store.Reader, shop store.ShopID, page int, line func(any)) error {
	for after := store.KeyID(""); ; {
		keys, err := r.Keys(ctx, shop, after, page)
		if err != nil {
			return err
		}
		for _, k := range keys {
			line(k)
			after = k.ID
		}
		if len(keys) < page {
			break
		}
	}
	for after := (store.LotMark{}); ; {
		lots, err := r.Lots(ctx, shop, store.LotFilter{}, after, page)
		if err != nil {
			return err
		}
		for _, l := range lots {
			line(l)
			if err := recountLot(ctx, r, l, page, line); err != nil {
				return err
			}
			after = markOf(l)
		}
		if len(lots) < page {
			break
		}
	}
	if err := recountFormulas(ctx, r, shop, page, line); err != nil {
		return err
	}
	for after := ""; ; {
		remembered, err := r.AllRemembered(ctx, shop, after, page)
		if err != nil {
			return err
		}
		for _, m := range remembered {
			line(m)
			after = m.Key
		}
		if len(remembered) < page {
			return nil
		}
	}
}

func recountLot(ctx context.Context, r store.Reader, l store.Lot, page int, line func(any)) error {
	for after := 0; ; {
		entries, err := r.Entries(ctx, l.Shop, l.ID, after, page)
		if err != nil {
			return err
		}
		for _, e := range entries {
			if again := sealed(l.Shop, l.ID, e).Digest; again != e.Digest {
				return fmt.Errorf("entry %d of lot %s has the digest %s and is kept with %s", e.Sequence, l.ID, again, e.Digest)
			}
			line(e)
			after = e.Sequence
		}
		if len(entries) < page {
			return nil
		}
	}
}
