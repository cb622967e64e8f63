package storetest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

func testShops(t *testing.T, p Place) {
	s := open(t, p)
	all := func(after store.ShopID, limit int) []store.Shop {
		return view(t, s, func(ctx context.Context, r store.Reader) ([]store.Shop, error) { return r.Shops(ctx, after, limit) })
	}
	if got := all("", 10); len(got) != 0 {
		t.Errorf("an empty store has shops: %v", got)
	}
	var shops []store.Shop
	for i := range 5 {
		shops = append(shops, store.Shop{
			ID: store.ShopID(fmt.Sprintf("0195e0a0-000%d-7000-8000-000000000000", i)), Name: fmt.Sprintf("Räucherkammer %d 'invented'", i),
			CreatedAt: start.Add(-time.Duration(i) * time.Hour),
		})
	}
	for _, i := range []int{3, 0, 4, 2, 1} { // in no order
		update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddShop(ctx, shops[i]) })
	}
	wantEqual(t, shops, all("", 10))
	wantEqual(t, shops[:2], all("", 2))
	wantEqual(t, shops[2:4], all(shops[1].ID, 2))
	if got := all(shops[4].ID, 2); len(got) != 0 {
		t.Errorf("shops after the last: %v", got)
	}
	if got := all("", 0); len(got) != 0 {
		t.Errorf("shops when none may come: %v", got)
	}
	byID := func(id store.ShopID) func(context.Context, store.Reader) (store.Shop, error) {
		return func(ctx context.Context, r store.Reader) (store.Shop, error) { return r.Shop(ctx, id) }
	}
	wantEqual(t, shops[3], view(t, s, byID(shops[3].ID)))
	unseen(t, store.ErrNotFound, s, byID(shopA))
	again := shops[3]
	again.Name = "another"
	refuse(t, store.ErrExists, s, func(ctx context.Context, w store.Writer) error { return w.AddShop(ctx, again) })
	wantEqual(t, shops[3], view(t, s, byID(shops[3].ID)))
}

func newKey(shop store.ShopID, n uint8) store.Key {
	return store.Key{
		Shop: shop, ID: store.KeyID(fmt.Sprintf("0195e0a2-00%02x-7000-8000-000000000000", n)), Name: fmt.Sprintf("scale %d", n),
		Person: "R. Invented", Scopes: []string{"read", "record"}, Hash: [32]byte{0: 0xff, 15: n, 31: 0x01}, CreatedAt: start,
	}
}

func testKeys(t *testing.T, p Place) {
	s := openWithShops(t, p)
	anyKey := func() bool {
		return view(t, s, func(ctx context.Context, r store.Reader) (bool, error) { return r.AnyKey(ctx) })
	}
	all := func(after store.KeyID, limit int) []store.Key {
		return view(t, s, func(ctx context.Context, r store.Reader) ([]store.Key, error) {
			return r.Keys(ctx, shopA, after, limit)
		})
	}
	byHash := func(hash [32]byte) func(context.Context, store.Reader) (store.Key, error) {
		return func(ctx context.Context, r store.Reader) (store.Key, error) { return r.KeyByHash(ctx, hash) }
	}
	if anyKey() {
		t.Error("a store in which no key was made has one")
	}
	if got := all("", 10); len(got) != 0 {
		t.Errorf("a shop in which no key was made has some: %v", got)
	}
	keys := []store.Key{newKey(shopA, 0), newKey(shopA, 1), newKey(shopA, 2), newKey(shopA, 3), newKey(shopA, 4)}
	keys[0].Hash = [32]byte{}
	keys[1].ExpiresAt = start.Add(-time.Hour)
	keys[2].RevokedAt = start.Add(time.Microsecond)
	keys[3].Name, keys[3].Person, keys[3].Scopes = "Waage \"Süd\" \\ 秤", "", []string{"Ünïcode", `a"b\c`, "<&>"}
	keys[4].Scopes = []string{"*"}
	for _, i := range []int{4, 2, 0, 3, 1} {
		update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddKey(ctx, keys[i]) })
	}
	if !anyKey() {
		t.Error("a store in which a key was made has none")
	}
	wantEqual(t, keys, all("", 10))
	wantEqual(t, keys[:3], all("", 3))
	wantEqual(t, keys[2:3], all(keys[1].ID, 1))
	if got := all(keys[4].ID, 3); len(got) != 0 {
		t.Errorf("keys after the last: %v", got)
	}
	for _, k := range keys { // expired and revoked ones too
		wantEqual(t, k, view(t, s, byHash(k.Hash)))
	}
	unseen(t, store.ErrNotFound, s, byHash([32]byte{0: 0xfe, 15: 1, 31: 0x01}))

	revoke := func(shop store.ShopID, id store.KeyID, at time.Time) func(context.Context, store.Writer) error {
		return func(ctx context.Context, w store.Writer) error { return w.RevokeKey(ctx, shop, id, at) }
	}
	update(t, s, revoke(shopA, keys[0].ID, start.Add(time.Minute)))
	keys[0].RevokedAt = start.Add(time.Minute)
	wantEqual(t, keys[0], view(t, s, byHash(keys[0].Hash)))
	update(t, s, revoke(shopA, keys[0].ID, start.Add(time.Hour))) // stays as it is
	wantEqual(t, keys[0], view(t, s, byHash(keys[0].Hash)))
	refuse(t, store.ErrNotFound, s, revoke(shopB, keys[1].ID, start))
	refuse(t, store.ErrNotFound, s, revoke(shopA, "0195e0a2-0099-7000-8000-000000000000", start))
	wantEqual(t, keys, all("", 10))
	for _, k := range keys {
		update(t, s, revoke(shopA, k.ID, start))
	}
	if !anyKey() {
		t.Error("a store in which all keys are revoked says that none was ever made")
	}
}

func testKeysRefused(t *testing.T, p Place) {
	s := openWithShops(t, p)
	first := newKey(shopA, 1)
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddKey(ctx, first) })
	for _, c := range []struct {
		name   string
		change func(*store.Key)
		want   error
	}{
		{"same id and hash", func(*store.Key) {}, store.ErrExists},
		{"same id", func(k *store.Key) { k.Hash[7]++ }, store.ErrExists},
		{"same hash", func(k *store.Key) { k.ID = "0195e0a2-0002-7000-8000-000000000000" }, store.ErrExists},
		{"same hash in another shop", func(k *store.Key) { k.Shop, k.ID = shopB, "0195e0a2-0002-7000-8000-000000000000" }, store.ErrExists},
		{"no such shop", func(k *store.Key) { k.Shop = store.ShopID(newID()); k.Hash[7]++ }, store.ErrNotFound},
	} {
		k := newKey(shopA, 1)
		c.change(&k)
		k.Name = c.name
		refuse(t, c.want, s, func(ctx context.Context, w store.Writer) error { return w.AddKey(ctx, k) })
	}
	other := newKey(shopB, 1) // ids are of a shop
	other.Hash[7]++
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddKey(ctx, other) })
	for _, k := range []store.Key{first, other} {
		got := view(t, s, func(ctx context.Context, r store.Reader) ([]store.Key, error) { return r.Keys(ctx, k.Shop, "", 10) })
		wantEqual(t, []store.Key{k}, got)
	}
}

func lotOf(shop store.ShopID, id lot.ID) func(context.Context, store.Reader) (store.Lot, error) {
	return func(ctx context.Context, r store.Reader) (store.Lot, error) { return r.Lot(ctx, shop, id) }
}

func testLots(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l := newLot(shopA, 1, "Fennel, thin (invented)")
	l.OpenedAt = l.OpenedAt.In(time.FixedZone("", 2*3600)) // comes back in UTC
	l.Head = lot.Head{Sequence: 3, Digest: lot.DigestOf([]byte("nothing"))}
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddLot(ctx, l) })
	l.OpenedAt = l.OpenedAt.UTC()
	l.Head = lot.Head{} // it has no entries
	wantEqual(t, l, view(t, s, lotOf(shopA, l.ID)))
	unseen(t, store.ErrNotFound, s, lotOf(shopB, l.ID))
	unseen(t, store.ErrNotFound, s, lotOf(shopA, lotID(2)))

	for _, c := range []struct {
		name string
		lot  store.Lot
		want error
	}{
		{"same id", store.Lot{Shop: shopA, ID: l.ID, Number: 2}, store.ErrExists},
		{"same number", store.Lot{Shop: shopA, ID: lotID(2), Number: 1}, store.ErrExists},
		{"no such shop", store.Lot{Shop: store.ShopID(newID()), ID: lotID(2), Number: 2}, store.ErrNotFound},
	} {
		c.lot.Name, c.lot.Stage, c.lot.OpenedAt, c.lot.RecordedAt = c.name, "planned", start, start
		refuse(t, c.want, s, func(ctx context.Context, w store.Writer) error { return w.AddLot(ctx, c.lot) })
	}
	other := newLot(shopB, 1, "the same id and number in another shop")
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddLot(ctx, other) })
	wantEqual(t, l, view(t, s, lotOf(shopA, l.ID)))
	wantEqual(t, other, view(t, s, lotOf(shopB, l.ID)))

	update(t, s, func(ctx context.Context, w store.Writer) error {
		held, err := w.HoldLot(ctx, shopA, l.ID)
		if err == nil {
			wantEqual(t, l, held)
		}
		return err
	})
	wantEqual(t, l, view(t, s, lotOf(shopA, l.ID)))
	for _, id := range []lot.ID{lotID(2), ""} {
		refuse(t, store.ErrNotFound, s, func(ctx context.Context, w store.Writer) error {
			_, err := w.HoldLot(ctx, shopA, id)
			return err
		})
	}
}

// nextNumber counts a lot within an Update that ends with an error or none.
func nextNumber(t *testing.T, s store.Store, shop store.ShopID, then error) int64 {
	t.Helper()
	var number int64
	err := attempt(t.Context(), s, func(ctx context.Context, w store.Writer) (err error) {
		if number, err = w.NextLotNumber(ctx, shop); err != nil {
			return err
		}
		return then
	})
	if !errors.Is(err, then) {
		t.Fatalf("count a lot: want error %v, got %v", then, err)
	}
	return number
}

func testLotNumbers(t *testing.T, p Place) {
	s := openWithShops(t, p)
	changed := errors.New("changed my mind")
	for _, c := range []struct {
		shop store.ShopID
		then error
		want int64
	}{
		{shopA, nil, 1},
		{shopA, nil, 2},
		{shopB, nil, 1}, // each shop counts its own
		{shopA, changed, 3},
		{shopA, nil, 3}, // and none is left out
		{shopB, changed, 2},
		{shopA, nil, 4},
		{shopB, nil, 2},
	} {
		if got := nextNumber(t, s, c.shop, c.then); got != c.want {
			t.Errorf("lot number of shop %s: want %d, got %d", c.shop, c.want, got)
		}
	}
	var both []int64
	update(t, s, func(ctx context.Context, w store.Writer) error {
		both = nil
		for range 2 {
			n, err := w.NextLotNumber(ctx, shopA)
			if err != nil {
				return err
			}
			both = append(both, n)
		}
		return nil
	})
	wantEqual(t, []int64{5, 6}, both)
	refuse(t, store.ErrNotFound, s, func(ctx context.Context, w store.Writer) error {
		_, err := w.NextLotNumber(ctx, store.ShopID(newID()))
		return err
	})
}

// list reads a page of a shop's lots.
func list(t *testing.T, s store.Store, shop store.ShopID, f store.LotFilter, after store.LotMark, limit int) []store.Lot {
	t.Helper()
	return view(t, s, func(ctx context.Context, r store.Reader) ([]store.Lot, error) {
		return r.Lots(ctx, shop, f, after, limit)
	})
}

func markOf(l store.Lot) store.LotMark { return store.LotMark{OpenedAt: l.OpenedAt, ID: l.ID} }

func testListOfLots(t *testing.T, p Place) {
	s := openWithShops(t, p)
	if got := list(t, s, shopA, store.LotFilter{}, store.LotMark{}, 10); len(got) != 0 {
		t.Errorf("a shop without lots has some: %v", got)
	}
	// Numbers rise; lots 4 to 8 were opened at the same instant, some before 1970.
	var want []store.Lot
	for n := int64(1); n <= 12; n++ {
		l := newLot(shopA, n, "lot")
		switch {
		case n >= 4 && n <= 8:
			l.OpenedAt = start
		case n == 10:
			l.OpenedAt = time.Date(1969, time.July, 1, 12, 0, 0, 1000, time.UTC)
		case n == 11:
			l.OpenedAt = start.Add(time.Microsecond)
		}
		l.Stage = []string{"planned", "drying"}[n%2]
		want = append(want, l)
	}
	for _, i := range []int{5, 0, 11, 3, 8, 1, 10, 7, 2, 9, 4, 6} {
		update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddLot(ctx, want[i]) })
	}
	slices.SortFunc(want, func(a, b store.Lot) int {
		if c := b.OpenedAt.Compare(a.OpenedAt); c != 0 {
			return c
		}
		return strings.Compare(string(b.ID), string(a.ID))
	})
	wantEqual(t, want, list(t, s, shopA, store.LotFilter{}, store.LotMark{}, 100))
	if got := list(t, s, shopB, store.LotFilter{}, store.LotMark{}, 100); len(got) != 0 {
		t.Errorf("another shop sees the lots: %v", got)
	}
	if got := list(t, s, shopA, store.LotFilter{}, store.LotMark{}, 0); len(got) != 0 {
		t.Errorf("lots when none may come: %v", got)
	}
	filters := []store.LotFilter{
		{},
		{Stage: "drying"},
		{OpenedFrom: start, OpenedBefore: start.Add(2 * time.Minute)},
		{OpenedBefore: start},
		{OpenedBefore: start.Add(time.Microsecond), Stage: "planned"},
		{OpenedFrom: start.Add(time.Microsecond)},
	}
	for size := 1; size <= 13; size++ {
		for _, f := range filters {
			var got []store.Lot
			for mark := (store.LotMark{}); ; {
				page := list(t, s, shopA, f, mark, size)
				if len(page) > size {
					t.Fatalf("a page of %d has %d lots", size, len(page))
				}
				got = append(got, page...)
				if len(page) < size {
					break
				}
				mark = markOf(page[len(page)-1])
			}
			passed := slices.DeleteFunc(slices.Clone(want), func(l store.Lot) bool {
				return (f.Stage != "" && l.Stage != f.Stage) || l.OpenedAt.Before(f.OpenedFrom) ||
					(!f.OpenedBefore.IsZero() && !l.OpenedAt.Before(f.OpenedBefore))
			})
			if len(passed) == 0 || len(got) == 0 {
				t.Fatalf("the filter %+v lets nothing pass", f)
			}
			wantEqual(t, passed, got)
		}
	}
	// A mark need not be a lot that there is: the list goes on below it.
	at := list(t, s, shopA, store.LotFilter{}, store.LotMark{OpenedAt: start.Add(time.Nanosecond * 1500), ID: "0"}, 1)
	wantEqual(t, lotID(8), at[0].ID)
	if got := list(t, s, shopA, store.LotFilter{}, markOf(want[len(want)-1]), 5); len(got) != 0 {
		t.Errorf("lots after the last: %v", got)
	}
}

func testFilters(t *testing.T, p Place) {
	s := openWithShops(t, p)
	names := map[int64]string{
		1: "Fennel, thin", 2: "FENNEL thick", 3: "50% pork", 4: "50 of pork", 5: "a_b", 6: "axb", 7: `back\slash`, 8: "Größe ÄÖÜ",
		9: "ΣΑΛΑΜΙ", 10: "колбаса", 11: "'; DROP TABLE lot; --", 12: "",
	}
	for n, name := range names {
		l := newLot(shopA, n, name)
		l.Stage = []string{"drying", "planned", "stuffed"}[n%3]
		update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddLot(ctx, l) })
	}
	opened := func(n int64) time.Time { return newLot(shopA, n, "").OpenedAt }
	for _, c := range []struct {
		name   string
		filter store.LotFilter
		want   []int64
	}{
		{"nothing asked", store.LotFilter{}, []int64{12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1}},
		{"stage", store.LotFilter{Stage: "drying"}, []int64{12, 9, 6, 3}},
		{"no such stage", store.LotFilter{Stage: "Drying"}, nil},
		{"part of a name", store.LotFilter{NameContains: "thi"}, []int64{2, 1}},
		{"whole name", store.LotFilter{NameContains: "Fennel, thin"}, []int64{1}},
		{"other case", store.LotFilter{NameContains: "fENNEL"}, []int64{2, 1}},
		{"percent", store.LotFilter{NameContains: "50%"}, []int64{3}},
		{"percent alone", store.LotFilter{NameContains: "%"}, []int64{3}},
		{"underscore", store.LotFilter{NameContains: "a_b"}, []int64{5}},
		{"underscore alone", store.LotFilter{NameContains: "_"}, []int64{5}},
		{"backslash", store.LotFilter{NameContains: `\`}, []int64{7}},
		{"backslash and letter", store.LotFilter{NameContains: `K\S`}, []int64{7}},
		{"backslash and percent", store.LotFilter{NameContains: `\%`}, nil},
		{"umlauts", store.LotFilter{NameContains: "größe äöü"}, []int64{8}},
		{"Greek, both small sigmas", store.LotFilter{NameContains: "ςαλαμι"}, []int64{9}},
		{"Cyrillic", store.LotFilter{NameContains: "КОЛБ"}, []int64{10}},
		{"quotes", store.LotFilter{NameContains: "'; drop"}, []int64{11}},
		{"no such name", store.LotFilter{NameContains: "pepper"}, nil},
		{"from, that instant too", store.LotFilter{OpenedFrom: opened(11)}, []int64{12, 11}},
		{"from just after", store.LotFilter{OpenedFrom: opened(11).Add(time.Microsecond)}, []int64{12}},
		{"before, not that instant", store.LotFilter{OpenedBefore: opened(2)}, []int64{1}},
		{"before just after", store.LotFilter{OpenedBefore: opened(2).Add(time.Microsecond)}, []int64{2, 1}},
		{"between, in another offset", store.LotFilter{
			OpenedFrom: opened(3).In(time.FixedZone("", -5*3600)), OpenedBefore: opened(6).In(time.FixedZone("", 5*3600)),
		}, []int64{5, 4, 3}},
		{"an empty span", store.LotFilter{OpenedFrom: opened(6), OpenedBefore: opened(6)}, nil},
		{"all at once", store.LotFilter{Stage: "planned", NameContains: "PORK", OpenedFrom: opened(1), OpenedBefore: opened(9)}, []int64{4}},
	} {
		var got []int64
		for _, l := range list(t, s, shopA, c.filter, store.LotMark{}, 100) {
			got = append(got, l.Number)
			if l.Name != names[l.Number] {
				t.Errorf("%s: want name %q, got %q", c.name, names[l.Number], l.Name)
			}
		}
		if !slices.Equal(c.want, got) {
			t.Errorf("%s: want lots %v, got %v", c.name, c.want, got)
		}
	}
}

func testEntries(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l := newLot(shopA, 1, "Fennel")
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddLot(ctx, l) })
	some := func(id lot.ID, after, limit int) []lot.Entry {
		return view(t, s, func(ctx context.Context, r store.Reader) ([]lot.Entry, error) {
			return r.Entries(ctx, shopA, id, after, limit)
		})
	}
	for _, id := range []lot.ID{l.ID, lotID(2)} { // none yet; no such lot
		if got := some(id, 0, 10); len(got) != 0 {
			t.Errorf("lot %s has entries: %v", id, got)
		}
	}
	var want []lot.Entry
	var head lot.Head
	for i, k := range lot.Kinds() {
		e := noted(shopA, l.ID, head, fmt.Sprintf(`{"n":%d}`, i))
		e.Kind = k
		e.Late = i%2 == 1
		switch i % 3 {
		case 0:
			e.Actor = lot.Actor{}
		case 1:
			e.Doubts = []lot.Doubt{{Code: "weight-rises", Detail: `was 1 kg, is 2 kg "or so"`}, {Code: "late", Detail: "<ä> & 秤"}}
		case 2:
			e.RequestID, e.Rulebook = "", ""
		}
		e = sealed(shopA, l.ID, e)
		want = append(want, e)
		head = lot.Head{Sequence: e.Sequence, Digest: e.Digest}
	}
	// The first alone, then three, then the rest, each with what the lot is then.
	from := 0
	for i, to := range []int{1, 4, len(want)} {
		part := want[from:to]
		l.Name, l.Stage = fmt.Sprintf("Fennel, named anew %d", i), []string{"planned", "stuffed", "drying"}[i]
		l.OpenedAt = start.Add(time.Duration(i) * time.Second)
		l = follow(l, part[len(part)-1])
		update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddEntries(ctx, l, part) })
		wantEqual(t, l, view(t, s, lotOf(shopA, l.ID)))
		wantEqual(t, want[:to], ledger(t, s, shopA, l.ID))
		from = to
	}
	wantEqual(t, []store.Lot{l}, list(t, s, shopA, store.LotFilter{Stage: "drying", NameContains: "ANEW 2"}, store.LotMark{}, 5))
	if got := list(t, s, shopA, store.LotFilter{NameContains: "anew 1"}, store.LotMark{}, 5); len(got) != 0 {
		t.Errorf("the lot is still found by an earlier name: %v", got)
	}
	wantEqual(t, want, some(l.ID, 0, 100))
	wantEqual(t, want[:3], some(l.ID, 0, 3))
	wantEqual(t, want[4:6], some(l.ID, 4, 2))
	if got := some(l.ID, len(want), 5); len(got) != 0 {
		t.Errorf("entries after the last: %v", got)
	}
	if got := some(l.ID, 0, 0); len(got) != 0 {
		t.Errorf("entries when none may come: %v", got)
	}
}

func testEntriesRefused(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l, first := openLot(t, s, newLot(shopA, 1, "Fennel"))
	second := noted(shopA, l.ID, l.Head, `{"n":2}`)
	third := noted(shopA, l.ID, follow(l, second).Head, `{"n":3}`)
	elsewhere := newLot(shopA, 9, "not there")
	stray := noted(shopA, elsewhere.ID, lot.Head{}, `{}`)
	strange := noted(shopA, l.ID, lot.Head{Sequence: 1, Digest: lot.DigestOf([]byte("another first"))}, `{}`)
	unkind := second
	unkind.Kind = 0
	undigested := second
	undigested.Digest = lot.Digest{}

	for _, c := range []struct {
		name    string
		lot     store.Lot
		entries []lot.Entry
		want    error // nil for an error that is none of the store's
	}{
		{"one that is there already", follow(l, first), []lot.Entry{first}, store.ErrStale},
		{"after one that is not there", follow(l, third), []lot.Entry{third}, store.ErrStale},
		{"after another than is there", follow(l, strange), []lot.Entry{strange}, store.ErrStale},
		{"to a lot that is not there", follow(elsewhere, stray), []lot.Entry{stray}, store.ErrNotFound},
		{"to a lot of another shop", store.Lot{Shop: shopB, ID: l.ID, Stage: "planned", Head: follow(l, second).Head}, []lot.Entry{second}, store.ErrNotFound},
		{"none", l, nil, nil},
		{"with a gap", follow(l, third), []lot.Entry{third, second}, nil},
		{"in no order", follow(l, second), []lot.Entry{third, second}, nil},
		{"the same twice", follow(l, second), []lot.Entry{second, second}, nil},
		{"with another head", l, []lot.Entry{second}, nil},
		{"without a kind", follow(l, unkind), []lot.Entry{unkind}, nil},
		{"without a digest", follow(l, undigested), []lot.Entry{undigested}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.lot.Name = c.name
			err := attempt(t.Context(), s, func(ctx context.Context, w store.Writer) error { return w.AddEntries(ctx, c.lot, c.entries) })
			if c.want == nil {
				wantOther(t, err)
			} else {
				wantError(t, c.want, err)
			}
			wantEqual(t, l, view(t, s, lotOf(shopA, l.ID)))
			wantEqual(t, []lot.Entry{first}, ledger(t, s, shopA, l.ID))
		})
	}
	update(t, s, func(ctx context.Context, w store.Writer) error {
		return w.AddEntries(ctx, follow(l, third), []lot.Entry{second, third})
	})
	wantEqual(t, []lot.Entry{first, second, third}, ledger(t, s, shopA, l.ID))
}

func testInstants(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l := newLot(shopA, 1, "Fennel")
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddLot(ctx, l) })
	for _, c := range []struct{ told, want string }{
		{"2026-03-29T01:59:59.999999+01:00", "2026-03-29T01:59:59.999999+01:00"}, // the last instant before summer time
		{"2026-03-29T03:00:00+02:00", "2026-03-29T03:00:00+02:00"},
		{"2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+02:00"},
		{"2026-10-25T02:30:00+01:00", "2026-10-25T02:30:00+01:00"},
		{"2026-01-01T00:00:00Z", "2026-01-01T00:00:00Z"},
		{"2026-01-01T00:00:00+05:30", "2026-01-01T00:00:00+05:30"},
		{"2026-01-01T00:00:00-03:30", "2026-01-01T00:00:00-03:30"},
		{"2026-01-01T00:00:00+14:00", "2026-01-01T00:00:00+14:00"},
		{"2026-01-01T00:00:00-12:00", "2026-01-01T00:00:00-12:00"},
		{"2026-01-01T00:00:00-00:45", "2026-01-01T00:00:00-00:45"},
		{"2026-01-01T00:00:00+23:59", "2026-01-01T00:00:00+23:59"},
		{"2026-01-01T00:00:00.000001Z", "2026-01-01T00:00:00.000001Z"},
		{"2026-01-01T00:00:00.123456789+01:00", "2026-01-01T00:00:00.123456+01:00"}, // to the microsecond
		{"1969-12-31T23:59:59.9999999Z", "1969-12-31T23:59:59.999999Z"},
		{"1901-02-03T04:05:06.789+09:00", "1901-02-03T04:05:06.789+09:00"},
		{"2199-12-31T23:59:59.999999-11:00", "2199-12-31T23:59:59.999999-11:00"},
	} {
		told, err := time.Parse(time.RFC3339Nano, c.told)
		if err != nil {
			t.Fatal(err)
		}
		l = view(t, s, lotOf(shopA, l.ID))
		e := noted(shopA, l.ID, l.Head, `{}`)
		e.HappenedAt, e.RecordedAt = told, told
		l = follow(l, e)
		l.OpenedAt = told
		update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddEntries(ctx, l, []lot.Entry{e}) })
		got := view(t, s, func(ctx context.Context, r store.Reader) ([]lot.Entry, error) {
			return r.Entries(ctx, shopA, l.ID, e.Sequence-1, 1)
		})[0]
		kept := view(t, s, lotOf(shopA, l.ID))
		utc := told.UTC().Truncate(time.Microsecond)
		if told.Year() < 1970 { // Truncate rounds towards year 1, as the store does
			utc = time.UnixMicro(told.UnixMicro()).UTC()
		}
		for what, pair := range map[string][2]string{
			"happened": {c.want, got.HappenedAt.Format(time.RFC3339Nano)},
			"recorded": {utc.Format(time.RFC3339Nano), got.RecordedAt.Format(time.RFC3339Nano)},
			"opened":   {utc.Format(time.RFC3339Nano), kept.OpenedAt.Format(time.RFC3339Nano)},
			"of lot":   {utc.Format(time.RFC3339Nano), kept.RecordedAt.Format(time.RFC3339Nano)},
		} {
			if pair[0] != pair[1] {
				t.Errorf("%s, %s: want %s, got %s", c.told, what, pair[0], pair[1])
			}
		}
	}
}

// bodies are texts that a store may be tempted to mend.
func bodies() []string {
	return []string{
		`{}`, ``, ` { "b" : 1.0 , "a":1e2, "a2":1E+02 } `, "{\r\n\t\"text\": \"zwei\r\nZeilen\"\n}\n",
		`{"text":"\u0000\ud83d\ude00 \\u0000 \/ \" "}`, `{"text":"Größe ß ﬁ İ ı"}`, "{\"text\":\"e\u0301 é \u00e9\"}", "{\"text\":\"שלום \u202e עולם\"}",
		`{"text":"🥩🧂👩🏽‍🔬"}`, "{\"text\":\"\ufeff\u200b\u2028\u2029\ufffd\"}", "{\"text\":\"\U0010FFFF\x7f\"}", `{"text":"'; DROP TABLE entry; -- $1 ? :a @b"}`,
		`{"n":123456789012345678901234567890.00000000000000000001}`, strings.Repeat(`{"long":"`+strings.Repeat("ä秤🥩", 1000)+`"}`, 20),
	}
}

func testTexts(t *testing.T, p Place) {
	s := openWithShops(t, p)
	for i, body := range bodies() {
		l := newLot(shopA, int64(i+1), "name "+body[:min(len(body), 8)]+".")
		l.Name = strings.ToValidUTF8(l.Name, "")
		e := noted(shopA, l.ID, lot.Head{}, body)
		e.Actor, e.RequestID, e.Rulebook = lot.Actor{Key: "key " + body, Person: "person " + body}, "request "+body, "rules "+body
		e.Doubts = []lot.Doubt{{Code: "code " + body, Detail: "detail " + body}}
		e = sealed(shopA, l.ID, e)
		r := store.Remembered{
			Shop: shopA, Key: fmt.Sprintf("key %d %s", i, body[:min(len(body), 100)]), Operation: "op " + body, Result: body,
			Request: e.Digest, CreatedAt: start, ExpiresAt: start.Add(time.Hour),
		}
		r.Key = strings.ToValidUTF8(r.Key, "")
		name := strings.ToValidUTF8(body[:min(len(body), 100)], "")
		update(t, s, func(ctx context.Context, w store.Writer) error {
			return errors.Join(w.AddLot(ctx, l), w.AddEntries(ctx, follow(l, e), []lot.Entry{e}), w.Remember(ctx, r), w.SetSetting(ctx, "s "+name, body))
		})
		wantEqual(t, []lot.Entry{e}, ledger(t, s, shopA, l.ID))
		wantEqual(t, follow(l, e), view(t, s, lotOf(shopA, l.ID)))
		wantEqual(t, r, view(t, s, rememberedFor(shopA, r.Key, start)))
		wantEqual(t, body, view(t, s, setting("s "+name)))
		got := view(t, s, func(ctx context.Context, r store.Reader) ([]lot.Entry, error) {
			return r.Entries(ctx, shopA, l.ID, 0, 1)
		})
		if !bytes.Equal([]byte(body), []byte(got[0].Body)) {
			t.Errorf("body %d came back changed: %q", i, got[0].Body)
		}
	}
}

func testTextsRefused(t *testing.T, p Place) {
	s := openWithShops(t, p)
	l, e := openLot(t, s, newLot(shopA, 1, "Fennel"))
	next := func(change func(*lot.Entry)) func(context.Context, store.Writer, string) error {
		return func(ctx context.Context, w store.Writer, _ string) error {
			e := noted(shopA, l.ID, l.Head, `{}`)
			change(&e)
			return w.AddEntries(ctx, follow(l, e), []lot.Entry{e})
		}
	}
	for _, bad := range []string{"a\x00b", "a\xffb", "a\xed\xa0\x80b", "cut \xc3"} {
		for name, write := range map[string]func(context.Context, store.Writer, string) error{
			"name of a shop": func(ctx context.Context, w store.Writer, bad string) error {
				return w.AddShop(ctx, store.Shop{ID: store.ShopID(newID()), Name: bad, CreatedAt: start})
			},
			"name of a lot": func(ctx context.Context, w store.Writer, bad string) error {
				l := newLot(shopA, 2, bad)
				return w.AddLot(ctx, l)
			},
			"body":      next(func(e *lot.Entry) { e.Body = bad }),
			"person":    next(func(e *lot.Entry) { e.Actor.Person = bad }),
			"setting":   func(ctx context.Context, w store.Writer, bad string) error { return w.SetSetting(ctx, "s", bad) },
			"a look-up": func(ctx context.Context, w store.Writer, bad string) error { _, err := w.Setting(ctx, bad); return err },
		} {
			var refusal error
			err := attempt(t.Context(), s, func(ctx context.Context, w store.Writer) error {
				refusal = write(ctx, w, bad)
				return nil
			})
			wantOther(t, refusal)
			if err != nil {
				t.Errorf("%s with %q: want the transaction to go on, got %v", name, bad, err)
			}
		}
	}
	wantEqual(t, []lot.Entry{e}, ledger(t, s, shopA, l.ID))
}

func setting(name string) func(context.Context, store.Reader) (string, error) {
	return func(ctx context.Context, r store.Reader) (string, error) { return r.Setting(ctx, name) }
}

func testSettings(t *testing.T, p Place) {
	s := open(t, p)
	unseen(t, store.ErrNotFound, s, setting("cursor-key"))
	for _, value := range []string{"first", "", "zweite ✓"} {
		update(t, s, func(ctx context.Context, w store.Writer) error { return w.SetSetting(ctx, "cursor-key", value) })
		wantEqual(t, value, view(t, s, setting("cursor-key")))
	}
	unseen(t, store.ErrNotFound, s, setting("Cursor-Key"))
}

func rememberedFor(shop store.ShopID, key string, now time.Time) func(context.Context, store.Reader) (store.Remembered, error) {
	return func(ctx context.Context, r store.Reader) (store.Remembered, error) {
		return r.Remembered(ctx, shop, key, now)
	}
}

func remember(r store.Remembered) func(context.Context, store.Writer) error {
	return func(ctx context.Context, w store.Writer) error { return w.Remember(ctx, r) }
}

func newRemembered(shop store.ShopID, key string) store.Remembered {
	return store.Remembered{
		Shop: shop, Key: key, Operation: "open lot", Request: [32]byte{1, 31: 2}, Result: `{"lot":"1"}`, CreatedAt: start, ExpiresAt: start.Add(time.Hour),
	}
}

func testRemembered(t *testing.T, p Place) {
	s := openWithShops(t, p)
	first := newRemembered(shopA, "key")
	unseen(t, store.ErrNotFound, s, rememberedFor(shopA, "key", start))
	update(t, s, remember(first))
	wantEqual(t, first, view(t, s, rememberedFor(shopA, "key", start)))
	wantEqual(t, first, view(t, s, rememberedFor(shopA, "key", first.ExpiresAt.Add(-time.Microsecond))))
	unseen(t, store.ErrNotFound, s, rememberedFor(shopA, "key", first.ExpiresAt))
	unseen(t, store.ErrNotFound, s, rememberedFor(shopA, "key", first.ExpiresAt.Add(time.Hour)))
	unseen(t, store.ErrNotFound, s, rememberedFor(shopA, "Key", start))
	unseen(t, store.ErrNotFound, s, rememberedFor(shopB, "key", start))

	second := first
	second.Operation, second.Request, second.Result = "append", [32]byte{9}, "other"
	second.CreatedAt, second.ExpiresAt = first.ExpiresAt.Add(-time.Microsecond), first.ExpiresAt.Add(time.Hour)
	refuse(t, store.ErrExists, s, remember(second))
	wantEqual(t, first, view(t, s, rememberedFor(shopA, "key", start)))
	second.CreatedAt = first.ExpiresAt // by then it has expired
	update(t, s, remember(second))
	wantEqual(t, second, view(t, s, rememberedFor(shopA, "key", second.CreatedAt)))
	nobody := newRemembered(store.ShopID(newID()), "key")
	refuse(t, store.ErrNotFound, s, remember(nobody))

	// By key, by its bytes: capitals before small letters, ASCII before the rest.
	keys := []string{"A", "Z", "a", "a b", "a-b", "a1", "aa", "key", "z", "ä", "秤"}
	for _, k := range slices.Backward(keys) {
		if k != "key" {
			update(t, s, remember(newRemembered(shopA, k)))
		}
	}
	all := func(shop store.ShopID, after string, limit int) []string {
		var got []string
		for _, r := range view(t, s, func(ctx context.Context, r store.Reader) ([]store.Remembered, error) {
			return r.AllRemembered(ctx, shop, after, limit)
		}) {
			got = append(got, r.Key)
		}
		return got
	}
	wantEqual(t, keys, all(shopA, "", 100))
	wantEqual(t, keys[:4], all(shopA, "", 4))
	wantEqual(t, keys[4:6], all(shopA, keys[3], 2))
	wantEqual(t, nil, all(shopA, keys[len(keys)-1], 2))
	wantEqual(t, nil, all(shopA, "", 0))
	wantEqual(t, nil, all(shopB, "", 10))
}

func testForgotten(t *testing.T, p Place) {
	s := openWithShops(t, p)
	for i, key := range []string{"e", "d", "c", "b", "a"} { // a expires last
		r := newRemembered(shopA, key)
		r.ExpiresAt = start.Add(time.Duration(i+1) * time.Hour)
		update(t, s, remember(r))
		r.Shop = shopB
		update(t, s, remember(r))
	}
	for _, c := range []struct {
		name  string
		by    time.Time
		limit int
		want  int
		left  string
	}{
		{"before any", start.Add(time.Hour - time.Microsecond), 10, 0, "abcde"},
		{"just expired", start.Add(time.Hour), 10, 1, "abcd"},
		{"no more than may go", start.Add(4 * time.Hour), 2, 2, "ab"},
		{"none may go", start.Add(4 * time.Hour), 0, 0, "ab"},
		{"the rest that has expired", start.Add(4 * time.Hour), 10, 1, "a"},
		{"nothing again", start.Add(4 * time.Hour), 10, 0, "a"},
		{"all", start.Add(time.Hour * 1000), 10, 1, ""},
	} {
		var got int
		update(t, s, func(ctx context.Context, w store.Writer) (err error) {
			got, err = w.Forget(ctx, shopA, c.by, c.limit)
			return err
		})
		left := func(shop store.ShopID) string {
			var keys strings.Builder
			for _, r := range view(t, s, func(ctx context.Context, r store.Reader) ([]store.Remembered, error) {
				return r.AllRemembered(ctx, shop, "", 100)
			}) {
				keys.WriteString(r.Key)
			}
			return keys.String()
		}
		if a, b := left(shopA), left(shopB); got != c.want || a != c.left || b != "abcde" {
			t.Errorf("%s: want %d gone and %q left, got %d and %q; of the other shop %q", c.name, c.want, c.left, got, a, b)
		}
	}
}

// Two shops with the same ids, numbers, keys and names never see each other's.
func testShopsApart(t *testing.T, p Place) {
	s := openWithShops(t, p)
	shops := []store.ShopID{shopA, shopB}
	lots := map[store.ShopID]store.Lot{}
	entries := map[store.ShopID][]lot.Entry{}
	for _, shop := range shops {
		l, first := openLot(t, s, newLot(shop, 1, "the same name"))
		e := noted(shop, l.ID, l.Head, fmt.Sprintf(`{"of":%q}`, shop))
		l = follow(l, e)
		r := newRemembered(shop, "the same key")
		r.Result = string(shop)
		update(t, s, func(ctx context.Context, w store.Writer) error {
			return errors.Join(w.AddEntries(ctx, l, []lot.Entry{e}), w.Remember(ctx, r))
		})
		lots[shop], entries[shop] = l, []lot.Entry{first, e}
	}
	for _, shop := range shops {
		wantEqual(t, lots[shop], view(t, s, lotOf(shop, lotID(1))))
		wantEqual(t, []store.Lot{lots[shop]}, list(t, s, shop, store.LotFilter{NameContains: "same"}, store.LotMark{}, 10))
		wantEqual(t, entries[shop], ledger(t, s, shop, lotID(1)))
		wantEqual(t, string(shop), view(t, s, rememberedFor(shop, "the same key", start)).Result)
	}
	// What one shop does to its own leaves the other's alone.
	update(t, s, func(ctx context.Context, w store.Writer) error {
		held, err := w.HoldLot(ctx, shopA, lotID(1))
		if err != nil {
			return err
		}
		held.Name = "another name"
		if err := appendTo(ctx, w, held, `{}`); err != nil {
			return err
		}
		_, err = w.Forget(ctx, shopA, start.Add(time.Hour*1000), 100)
		return err
	})
	wantEqual(t, lots[shopB], view(t, s, lotOf(shopB, lotID(1))))
	wantEqual(t, entries[shopB], ledger(t, s, shopB, lotID(1)))
	wantEqual(t, string(shopB), view(t, s, rememberedFor(shopB, "the same key", start)).Result)
	unseen(t, store.ErrNotFound, s, rememberedFor(shopA, "the same key", start))
}
