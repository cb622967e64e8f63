package shops

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"greenweight/domain/fault"
	"greenweight/service/store"
)

// KeyOrder asks for a key.
type KeyOrder struct {
	Shop      store.ShopID
	Name      string // what it is for
	Person    string // who answers for what is done with it
	Scopes    []Scope
	ExpiresAt time.Time // zero: never
}

// AddKey makes a key. The token is shown here and never again; what is kept is
// its hash. It reports fault.Invalid with the members person, name, scopes and
// expires_at, and fault.NotFound when there is no such shop.
func (s *Service) AddKey(ctx context.Context, o KeyOrder) (store.Key, Token, error) {
	now := s.now()
	if err := o.check(now); err != nil {
		return store.Key{}, Token{}, err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return store.Key{}, Token{}, fmt.Errorf("make the id of a key: %w", err)
	}
	token := newToken()
	hash, _ := hashOf(token.Reveal())
	key := store.Key{
		Shop: o.Shop, ID: store.KeyID(id.String()), Name: o.Name, Person: o.Person, Hash: hash, CreatedAt: now,
	}
	if !o.ExpiresAt.IsZero() {
		key.ExpiresAt = o.ExpiresAt.UTC().Truncate(time.Microsecond)
	}
	for _, scope := range Scopes() {
		if slices.Contains(o.Scopes, scope) {
			key.Scopes = append(key.Scopes, string(scope))
		}
	}
	if err := s.store.Update(ctx, func(w store.Writer) error { return w.AddKey(ctx, key) }); err != nil {
		return store.Key{}, Token{}, fmt.Errorf("make a key: %w", unknownShop(o.Shop, err))
	}
	s.keyed.Store(true)
	return key, token, nil
}

func (o KeyOrder) check(now time.Time) error {
	var bad fault.Collector
	checkName(&bad, "person", o.Person)
	checkName(&bad, "name", o.Name)
	if len(o.Scopes) == 0 {
		bad.Add(fault.At("scopes"), violationRequired, "at least one scope is needed: %s", scopeWords())
	}
	for i, scope := range o.Scopes {
		if _, known := ParseScope(string(scope)); !known {
			bad.Add(fault.At("scopes", i), violationUnknown, "%q is no scope; there are %s", scope, scopeWords())
		}
	}
	if !o.ExpiresAt.IsZero() && !o.ExpiresAt.After(now) {
		bad.Add(fault.At("expires_at"), violationPast, "a key expires in the future, and not at %s", o.ExpiresAt.Format(time.RFC3339))
	}
	return bad.Err(codeInvalidKey, "the key can't be made as it is told")
}

// Keys returns all keys of a shop, by id, which is in the order of making;
// expired and revoked ones too. It reports fault.NotFound when there is no such
// shop.
func (s *Service) Keys(ctx context.Context, shop store.ShopID) ([]store.Key, error) {
	var all []store.Key
	err := s.store.View(ctx, func(r store.Reader) error {
		all = nil
		if _, err := r.Shop(ctx, shop); err != nil {
			return unknownShop(shop, err)
		}
		var after store.KeyID
		for {
			page, err := r.Keys(ctx, shop, after, readAtOnce)
			if err != nil {
				return err
			}
			all = append(all, page...)
			if len(page) < readAtOnce {
				return nil
			}
			after = page[len(page)-1].ID
		}
	})
	if err != nil {
		return nil, fmt.Errorf("list the keys: %w", err)
	}
	return all, nil
}

// Revoke ends a key from now on. One that was revoked before stays as it is. It
// reports fault.NotFound when the shop has no such key.
func (s *Service) Revoke(ctx context.Context, shop store.ShopID, id store.KeyID) error {
	err := s.store.Update(ctx, func(w store.Writer) error { return w.RevokeKey(ctx, shop, id, s.now()) })
	if errors.Is(err, store.ErrNotFound) {
		return &fault.Error{Kind: fault.NotFound, Code: codeNoSuchKey, Detail: fmt.Sprintf("the shop %s has no key with the id %q", shop, id)}
	}
	if err != nil {
		return fmt.Errorf("revoke a key: %w", err)
	}
	return nil
}
