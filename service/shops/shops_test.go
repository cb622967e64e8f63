package shops_test

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/service/shops"
	"greenweight/service/store"
	"greenweight/service/store/sqlstore"
)

// noon is when the tests take place, with more digits than a store keeps.
var noon = time.Date(2026, 11, 2, 12, 0, 0, 123_456_789, time.UTC)

// clock tells a time that tests move on.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) tell() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// keep opens a store in an empty folder.
func keep(t *testing.T) store.Store {
	t.Helper()
	st, err := sqlstore.Open(t.Context(), "sqlite:"+filepath.Join(t.TempDir(), "shops.db"), sqlstore.Options{Migrate: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	return st
}

// prepared returns a service with its first shop, its store and its clock.
func prepared(t *testing.T) (*shops.Service, store.Store, *clock) {
	t.Helper()
	st, c := keep(t), &clock{now: noon}
	s := shops.New(st, c.tell)
	if err := s.Prepare(t.Context()); err != nil {
		t.Fatal(err)
	}
	return s, st, c
}

// order asks for a key of the first shop that may do everything.
func order(change ...func(*shops.KeyOrder)) shops.KeyOrder {
	o := shops.KeyOrder{Shop: store.FirstShop, Name: "Scale", Person: "R. Invented", Scopes: shops.Scopes()}
	for _, c := range change {
		c(&o)
	}
	return o
}

func addKey(t *testing.T, s *shops.Service, o shops.KeyOrder) (store.Key, string) {
	t.Helper()
	key, token, err := s.AddKey(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	return key, token.Reveal()
}

// faultOf returns the kind and code of a fault, and the codes of its violations
// by pointer.
func faultOf(t *testing.T, err error) (fault.Kind, string, map[string]string) {
	t.Helper()
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		t.Fatalf("error is %v, want a fault", err)
	}
	var members map[string]string
	for _, v := range f.Violations {
		if members == nil {
			members = map[string]string{}
		}
		members[v.Path.Pointer()] = v.Code
	}
	return f.Kind, f.Code, members
}

// The first shop is there once it was prepared, however many do so at once.
func TestPrepare(t *testing.T) {
	t.Parallel()
	st, c := keep(t), &clock{now: noon}
	const replicas = 8
	failed := make(chan error, replicas)
	for range replicas {
		go func() { failed <- shops.New(st, c.tell).Prepare(t.Context()) }()
	}
	for range replicas {
		if err := <-failed; err != nil {
			t.Error(err)
		}
	}
	got, err := shops.New(st, c.tell).Shops(t.Context())
	want := []store.Shop{{ID: store.FirstShop, Name: "Home", CreatedAt: noon.Truncate(time.Microsecond)}}
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Errorf("shops (-want +got):\n%s%v", diff, err)
	}
}

func TestAddShop(t *testing.T) {
	t.Parallel()
	s, _, c := prepared(t)
	want := []store.Shop{{ID: store.FirstShop, Name: "Home", CreatedAt: noon.Truncate(time.Microsecond)}}
	// More than one page of the store's lists.
	for i := range 201 {
		c.pass(time.Minute)
		made, err := s.AddShop(t.Context(), fmt.Sprintf("Cellar %d (invented)", i))
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, made)
	}
	got, err := s.Shops(t.Context())
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Errorf("shops (-want +got):\n%s%v", diff, err)
	}
	for name, code := range map[string]string{"": "required", " ": "required", "two\nlines": "text", "\xff": "text", strings.Repeat("ü", 81): "length"} {
		_, err := s.AddShop(t.Context(), name)
		kind, _, members := faultOf(t, err)
		if diff := cmp.Diff(map[string]string{"#/name": code}, members); kind != fault.Invalid || diff != "" {
			t.Errorf("%q: %v, members at fault (-want +got):\n%s", name, kind, diff)
		}
	}
	if _, err := s.AddShop(t.Context(), strings.Repeat("ü", 80)); err != nil {
		t.Errorf("a name of 80 characters: %v", err)
	}
}

// A key that was made lets its holder in, as what it was made for and no more.
func TestKeyRoundTrip(t *testing.T) {
	t.Parallel()
	s, st, _ := prepared(t)
	other, err := s.AddShop(t.Context(), "Cellar (invented)")
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		name  string
		order shops.KeyOrder
		want  []shops.Scope
	}{
		{"everything", order(), []shops.Scope{"lots:read", "lots:record", "lots:correct", "formulas:read", "formulas:write"}},
		{"to read", order(func(o *shops.KeyOrder) { o.Scopes = []shops.Scope{"lots:read"} }), []shops.Scope{shops.ScopeRead}},
		{"in any order, twice", order(func(o *shops.KeyOrder) {
			o.Scopes = []shops.Scope{"lots:correct", "lots:record", "lots:correct"}
		}), []shops.Scope{shops.ScopeRecord, shops.ScopeCorrect}},
		{"of another shop", order(func(o *shops.KeyOrder) { o.Shop = other.ID }), shops.Scopes()},
		{"for an hour", order(func(o *shops.KeyOrder) { o.ExpiresAt = noon.Add(time.Hour) }), shops.Scopes()},
		{"long names", order(func(o *shops.KeyOrder) { o.Person, o.Name = strings.Repeat("é", 80), strings.Repeat("秤", 80) }), shops.Scopes()},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			key, token := addKey(t, s, tc.order)
			if !strings.HasPrefix(token, "gwk_") || len(token) != 47 || strings.ContainsAny(token, "+/=") {
				t.Errorf("the key is not gwk_ and 43 characters of base64url")
			}
			if key.Hash != sha256.Sum256([]byte(token)) {
				t.Error("what is kept is not the SHA-256 of the key")
			}
			got, err := s.Authenticate(t.Context(), token)
			if err != nil {
				t.Fatal(err)
			}
			want := shops.Holder{Shop: tc.order.Shop, Actor: lot.Actor{Key: string(key.ID), Person: tc.order.Person}, Scopes: tc.want}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("holder (-want +got):\n%s", diff)
			}
			for _, scope := range shops.Scopes() {
				may := false
				for _, w := range tc.want {
					may = may || w == scope
				}
				if got.May(scope) != may {
					t.Errorf("may %s: %t, want %t", scope, got.May(scope), may)
				}
			}
			if got.May("lots:burn") || got.May("") {
				t.Error("the holder may do what there is not")
			}
			var kept store.Key
			if err := st.View(t.Context(), func(r store.Reader) (err error) { kept, err = r.KeyByHash(t.Context(), key.Hash); return err }); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(key, kept); diff != "" {
				t.Errorf("kept (-told +kept):\n%s", diff)
			}
		})
	}
}

func TestAddKeyRefuses(t *testing.T) {
	t.Parallel()
	s, _, _ := prepared(t)
	for _, tc := range []struct {
		name   string
		change func(*shops.KeyOrder)
		want   map[string]string
	}{
		{"nobody", func(o *shops.KeyOrder) { o.Person = "" }, map[string]string{"#/person": "required"}},
		{"blanks", func(o *shops.KeyOrder) { o.Name = "   " }, map[string]string{"#/name": "required"}},
		{"too long", func(o *shops.KeyOrder) { o.Name = strings.Repeat("秤", 81) }, map[string]string{"#/name": "length"}},
		{"no text", func(o *shops.KeyOrder) { o.Person = "A\x00B" }, map[string]string{"#/person": "text"}},
		{"no scope", func(o *shops.KeyOrder) { o.Scopes = nil }, map[string]string{"#/scopes": "required"}},
		{"unknown scope", func(o *shops.KeyOrder) { o.Scopes = []shops.Scope{"lots:read", "lots"} }, map[string]string{"#/scopes/1": "unknown"}},
		{"expires now", func(o *shops.KeyOrder) { o.ExpiresAt = noon.Truncate(time.Microsecond) }, map[string]string{"#/expires_at": "past"}},
		{"all at once", func(o *shops.KeyOrder) {
			*o = shops.KeyOrder{Shop: o.Shop, Scopes: []shops.Scope{""}, ExpiresAt: noon.Add(-time.Hour)}
		}, map[string]string{"#/person": "required", "#/name": "required", "#/scopes/0": "unknown", "#/expires_at": "past"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			_, _, err := s.AddKey(t.Context(), order(tc.change))
			kind, code, members := faultOf(t, err)
			if diff := cmp.Diff(tc.want, members); kind != fault.Invalid || code != "invalid-key" || diff != "" {
				t.Errorf("%v %s, members at fault (-want +got):\n%s", kind, code, diff)
			}
		})
	}
	t.Cleanup(func() {
		if keys, err := s.Keys(context.WithoutCancel(t.Context()), store.FirstShop); err != nil || len(keys) != 0 {
			t.Errorf("keys that were refused are kept: %v, %v", keys, err)
		}
	})
}

func TestUnknown(t *testing.T) {
	t.Parallel()
	s, _, _ := prepared(t)
	key, token := addKey(t, s, order())
	other, err := s.AddShop(t.Context(), "Cellar (invented)")
	if err != nil {
		t.Fatal(err)
	}
	const nowhere store.ShopID = "00000000-0000-7000-8000-00000000000f"
	for _, tc := range []struct {
		name string
		do   func() error
		code string
	}{
		{"a key for no shop", func() error {
			_, _, err := s.AddKey(t.Context(), order(func(o *shops.KeyOrder) { o.Shop = nowhere }))
			return err
		}, "unknown-shop"},
		{"the keys of no shop", func() error { _, err := s.Keys(t.Context(), nowhere); return err }, "unknown-shop"},
		{"a key of no shop", func() error { return s.Revoke(t.Context(), nowhere, key.ID) }, "no-such-key"},
		{"a key of another shop", func() error { return s.Revoke(t.Context(), other.ID, key.ID) }, "no-such-key"},
		{"no key", func() error { return s.Revoke(t.Context(), store.FirstShop, "x") }, "no-such-key"},
	} {
		if kind, code, _ := faultOf(t, tc.do()); kind != fault.NotFound || code != tc.code {
			t.Errorf("%s: %v %s, want not-found %s", tc.name, kind, code, tc.code)
		}
	}
	if _, err := s.Authenticate(t.Context(), token); err != nil {
		t.Errorf("the key does not work any more: %v", err)
	}
}

// Keys of one shop are listed for it alone, in the order of making.
func TestKeys(t *testing.T) {
	t.Parallel()
	s, _, c := prepared(t)
	other, err := s.AddShop(t.Context(), "Cellar (invented)")
	if err != nil {
		t.Fatal(err)
	}
	elsewhere, _ := addKey(t, s, order(func(o *shops.KeyOrder) { o.Shop = other.ID }))
	var want []store.Key
	for i := range 201 {
		c.pass(time.Second)
		key, _ := addKey(t, s, order(func(o *shops.KeyOrder) { o.Name = fmt.Sprintf("Scale %d", i) }))
		want = append(want, key)
	}
	c.pass(time.Hour)
	if err := s.Revoke(t.Context(), store.FirstShop, want[3].ID); err != nil {
		t.Fatal(err)
	}
	want[3].RevokedAt = c.tell().Truncate(time.Microsecond)
	c.pass(time.Hour)
	if err := s.Revoke(t.Context(), store.FirstShop, want[3].ID); err != nil { // stays as it was
		t.Fatal(err)
	}
	got, err := s.Keys(t.Context(), store.FirstShop)
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Errorf("keys (-want +got):\n%s%v", diff, err)
	}
	got, err = s.Keys(t.Context(), other.ID)
	if diff := cmp.Diff([]store.Key{elsewhere}, got); err != nil || diff != "" {
		t.Errorf("keys of the other shop (-want +got):\n%s%v", diff, err)
	}
}

func TestAuthenticateRefuses(t *testing.T) {
	t.Parallel()
	s, _, c := prepared(t)
	_, good := addKey(t, s, order())
	revoked, revokedToken := addKey(t, s, order(func(o *shops.KeyOrder) { o.ExpiresAt = noon.Add(time.Minute) }))
	if err := s.Revoke(t.Context(), store.FirstShop, revoked.ID); err != nil {
		t.Fatal(err)
	}
	_, expired := addKey(t, s, order(func(o *shops.KeyOrder) { o.ExpiresAt = noon.Add(time.Hour) }))
	c.pass(time.Hour - time.Microsecond)
	if _, err := s.Authenticate(t.Context(), expired); err != nil {
		t.Fatalf("a microsecond before it expires: %v", err)
	}
	c.pass(time.Microsecond)
	_, foreign := addKey(t, shops.New(anotherStore(t), c.tell), order())
	last := good[len(good)-1]
	for _, tc := range []struct{ name, token, code string }{
		{"of another store", foreign, "unknown-key"},
		{"with other random bytes", "gwk_" + strings.Repeat("A", 43), "unknown-key"},
		{"revoked, and expired since", revokedToken, "revoked-key"},
		{"expired", expired, "expired-key"},
		{"nothing", "", "malformed-key"},
		{"the prefix alone", "gwk_", "malformed-key"},
		{"without the prefix", good[4:], "malformed-key"},
		{"with another prefix", "GWK_" + good[4:], "malformed-key"},
		{"too short", good[:46], "malformed-key"},
		{"too long", good + "A", "malformed-key"},
		{"padded", good + "=", "malformed-key"},
		{"a blank before it", " " + good, "malformed-key"},
		{"a line break in it", good[:46] + "\n", "malformed-key"},
		{"with bits that say nothing", good[:46] + string(last+1), "malformed-key"},
		{"the other alphabet", "gwk_" + strings.Repeat("/", 43), "malformed-key"},
		{"binary", "gwk_" + strings.Repeat("\x00", 43), "malformed-key"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			holder, err := s.Authenticate(t.Context(), tc.token)
			kind, code, _ := faultOf(t, err)
			if kind != fault.Unauthenticated || code != tc.code {
				t.Errorf("%v %s, want unauthenticated %s", kind, code, tc.code)
			}
			if diff := cmp.Diff(shops.Holder{}, holder); diff != "" {
				t.Errorf("a holder all the same:\n%s", diff)
			}
			if len(tc.token) > len("gwk_") && strings.Contains(err.Error(), tc.token) {
				t.Error("the error repeats the key")
			}
		})
	}
}

// anotherStore returns another store that has the first shop.
func anotherStore(t *testing.T) store.Store {
	t.Helper()
	_, st, _ := prepared(t)
	return st
}

// deaf fails the test when it is asked anything.
type deaf struct {
	store.Store
	t *testing.T
}

func (d deaf) View(context.Context, func(store.Reader) error) error {
	d.t.Error("the store was asked")
	return store.ErrUnavailable
}

// Text that has not the form of a key never reaches the store: no query, and
// nothing that an engine would choke on.
func TestMalformedNeverReachesTheStore(t *testing.T) {
	t.Parallel()
	s := shops.New(deaf{t: t}, (&clock{now: noon}).tell)
	rapid.Check(t, func(r *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`gwk_[A-Za-z0-9_-]{0,42}`), rapid.StringMatching(`gwk_[A-Za-z0-9_-]{44,60}`)).Draw(r, "text")
		if _, err := s.Authenticate(t.Context(), text); err == nil {
			r.Fatalf("%q was taken for a key", text)
		}
	})
}

// broken can't be asked.
type broken struct{ store.Store }

func (broken) View(context.Context, func(store.Reader) error) error { return store.ErrUnavailable }

// A store that can't be asked is no key that is wrong, and opens nothing.
func TestStoreUnavailable(t *testing.T) {
	t.Parallel()
	s := shops.New(broken{}, (&clock{now: noon}).tell)
	if _, err := s.Authenticate(t.Context(), "gwk_"+strings.Repeat("A", 43)); !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("Authenticate: %v", err)
	}
	if _, err := s.Open(t.Context()); !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("Open: %v", err)
	}
	if err := s.Prepare(t.Context()); !errors.Is(err, store.ErrUnavailable) {
		t.Errorf("Prepare: %v", err)
	}
}

// An open service closes with the first key, whoever makes it, and stays closed.
func TestOpen(t *testing.T) {
	t.Parallel()
	s, st, c := prepared(t)
	other, err := s.AddShop(t.Context(), "Cellar (invented)")
	if err != nil {
		t.Fatal(err)
	}
	got, err := s.Open(t.Context())
	if diff := cmp.Diff(shops.Holder{Shop: store.FirstShop, Scopes: shops.Scopes()}, got); err != nil || diff != "" {
		t.Errorf("holder of the open service (-want +got):\n%s%v", diff, err)
	}
	if keyed, err := s.Keyed(t.Context()); err != nil || keyed {
		t.Errorf("a key is known before there is one: %t, %v", keyed, err)
	}
	elsewhere := shops.New(st, c.tell) // another process, which makes a key for another shop
	key, _ := addKey(t, elsewhere, order(func(o *shops.KeyOrder) { o.Shop = other.ID }))
	closed := func(what string, s *shops.Service) {
		t.Helper()
		_, err := s.Open(t.Context())
		if kind, code, _ := faultOf(t, err); kind != fault.Unauthenticated || code != "no-key" {
			t.Errorf("%s: %v %s, want unauthenticated no-key", what, kind, code)
		}
		if keyed, err := s.Keyed(t.Context()); err != nil || !keyed {
			t.Errorf("%s: keyed is %t, %v", what, keyed, err)
		}
	}
	closed("after the first key", s)
	if err := elsewhere.Revoke(t.Context(), other.ID, key.ID); err != nil {
		t.Fatal(err)
	}
	closed("after it was revoked", s)
	closed("in the process that made it", elsewhere)
	closed("in a new process", shops.New(st, c.tell))
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	closed("without asking the store again", s)
}

// However a key is printed, it does not show.
func TestTokenHides(t *testing.T) {
	t.Parallel()
	s, _, _ := prepared(t)
	_, token, err := s.AddKey(t.Context(), order())
	if err != nil {
		t.Fatal(err)
	}
	secret := strings.TrimPrefix(token.Reveal(), "gwk_")
	type holds struct {
		Seen   shops.Token
		unseen shops.Token // fmt reaches it without asking its methods
	}
	inside := holds{token, token}
	var log strings.Builder
	slog.New(slog.NewTextHandler(&log, nil)).Info("made", "token", token, "inside", inside, "unseen", inside.unseen)
	asJSON, err := json.Marshal(map[string]any{"a": token, "b": &token, "c": inside})
	if err != nil {
		t.Fatal(err)
	}
	for name, printed := range map[string]string{
		"String": token.String(), "%v": fmt.Sprint(token), "%+v": fmt.Sprintf("%+v", inside), "%#v": fmt.Sprintf("%#v %#v", token, inside),
		"%s %q %x": fmt.Sprintf("%s %q %x", token, token, token), "pointer": fmt.Sprintf("%v %+v", &token, &inside),
		"log": log.String(), "JSON": string(asJSON), "error": fmt.Errorf("wrapped: %v", token).Error(),
	} {
		if printed == "" || strings.Contains(printed, secret) || strings.Contains(printed, fmt.Sprintf("%x", secret)) {
			t.Errorf("%s shows the key", name)
		}
	}
	if (shops.Token{}).Reveal() != "" {
		t.Error("the zero value reveals something")
	}
}

func TestParseScope(t *testing.T) {
	t.Parallel()
	for word, want := range map[string]bool{"lots:read": true, "lots:record": true, "lots:correct": true, "formulas:read": true, "formulas:write": true, "lots": false, "": false, "LOTS:READ": false} {
		got, ok := shops.ParseScope(word)
		if ok != want || ok && string(got) != word {
			t.Errorf("ParseScope(%q) is %q, %t", word, got, ok)
		}
	}
}
