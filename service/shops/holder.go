package shops

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/service/store"
)

// Scope is a thing that a key may do.
type Scope string

// The scopes.
const (
	ScopeRead    Scope = "lots:read"    // read lots and what follows from them
	ScopeRecord  Scope = "lots:record"  // open lots and append facts
	ScopeCorrect Scope = "lots:correct" // correct, retract and confirm entries

	ScopeReadFormulas  Scope = "formulas:read"  // read saved formulas
	ScopeWriteFormulas Scope = "formulas:write" // save formulas, their versions and notes
)

// Scopes returns all scopes, in order.
func Scopes() []Scope {
	return []Scope{ScopeRead, ScopeRecord, ScopeCorrect, ScopeReadFormulas, ScopeWriteFormulas}
}

// ParseScope reads the word that a scope is written with.
func ParseScope(word string) (Scope, bool) {
	if slices.Contains(Scopes(), Scope(word)) {
		return Scope(word), true
	}
	return "", false
}

func scopeWords() string {
	var words []string
	for _, scope := range Scopes() {
		words = append(words, string(scope))
	}
	return strings.Join(words, ", ")
}

// Holder is who asks: for which shop, in whose name, and what they may do.
type Holder struct {
	Shop   store.ShopID
	Actor  lot.Actor
	Scopes []Scope
}

// May reports whether the holder may do what a scope stands for.
func (h Holder) May(scope Scope) bool { return slices.Contains(h.Scopes, scope) }

// Authenticate returns the holder of a key. It reports fault.Unauthenticated
// with the code malformed-key, unknown-key, revoked-key or expired-key.
//
// A key is found by its hash, in an index of hashes. How long that takes tells
// at most how far the hash of a guess agrees with a hash that is kept, which
// says nothing of the key that it is the hash of: no comparison of secrets is
// left that would have to take the same time for all.
func (s *Service) Authenticate(ctx context.Context, token string) (Holder, error) {
	hash, ok := hashOf(token)
	if !ok {
		return Holder{}, unauthenticated(codeMalformedKey, "what was sent has not the form of a key, which is gwk_ and 43 characters")
	}
	var key store.Key
	err := s.store.View(ctx, func(r store.Reader) (err error) {
		key, err = r.KeyByHash(ctx, hash)
		return err
	})
	switch {
	case errors.Is(err, store.ErrNotFound):
		return Holder{}, unauthenticated(codeUnknownKey, "there is no such key")
	case err != nil:
		return Holder{}, fmt.Errorf("find a key: %w", err)
	}
	s.keyed.Store(true)
	switch {
	case !key.RevokedAt.IsZero():
		return Holder{}, unauthenticated(codeRevokedKey, "the key was revoked")
	case !key.ExpiresAt.IsZero() && !s.clock().Before(key.ExpiresAt):
		return Holder{}, unauthenticated(codeExpiredKey, "the key has expired")
	}
	holder := Holder{Shop: key.Shop, Actor: lot.Actor{Key: string(key.ID), Person: key.Person}}
	for _, word := range key.Scopes {
		if scope, known := ParseScope(word); known { // a newer program may know more
			holder.Scopes = append(holder.Scopes, scope)
		}
	}
	return holder, nil
}

// Open returns the holder of an open service, who may do everything for the
// first shop in nobody's name. Once a key was made, revoked since or not, it
// reports fault.Unauthenticated with the code no-key for good.
func (s *Service) Open(ctx context.Context) (Holder, error) {
	keyed, err := s.Keyed(ctx)
	if err != nil {
		return Holder{}, err
	}
	if keyed {
		return Holder{}, unauthenticated(codeNoKey, "a key of the shop is needed: Authorization: Bearer gwk_...")
	}
	return Holder{Shop: store.FirstShop, Scopes: Scopes()}, nil
}

// Keyed reports whether a key was ever made, in any shop. Once it was, the store
// is not asked again.
func (s *Service) Keyed(ctx context.Context) (bool, error) {
	if s.keyed.Load() {
		return true, nil
	}
	var keyed bool
	err := s.store.View(ctx, func(r store.Reader) (err error) {
		keyed, err = r.AnyKey(ctx)
		return err
	})
	if err != nil {
		return false, fmt.Errorf("look for keys: %w", err)
	}
	if keyed {
		s.keyed.Store(true)
	}
	return keyed, nil
}

func unauthenticated(code, detail string) error {
	return &fault.Error{Kind: fault.Unauthenticated, Code: code, Detail: detail}
}
