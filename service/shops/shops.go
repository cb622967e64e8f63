// Package shops knows the tenants of a service and who may act for them: whom a
// key belongs to, in whose name it acts and what it may do.
//
// Everything that is kept belongs to a shop. A maker at home has one,
// [store.FirstShop], and never meets the word. A key is a random text that acts
// for one shop; only its SHA-256 is kept, so that nobody can read a key out of a
// database or a backup. A service that is open to whoever can reach it stays so
// until the first key is made, and never becomes so again.
package shops

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/google/uuid"

	"greenweight/domain/fault"
	"greenweight/service/store"
)

const (
	// firstName is what the first shop is called.
	firstName = "Home"
	// maxName is how many characters a name may have.
	maxName = 80
	// readAtOnce is how many rows are read from the store at once.
	readAtOnce = 200
)

// Codes of the faults that this package reports.
const (
	codeInvalidKey   = "invalid-key"
	codeInvalidShop  = "invalid-shop"
	codeUnknownShop  = "unknown-shop"
	codeNoSuchKey    = "no-such-key"
	codeMalformedKey = "malformed-key"
	codeUnknownKey   = "unknown-key"
	codeRevokedKey   = "revoked-key"
	codeExpiredKey   = "expired-key"
	codeNoKey        = "no-key"

	violationRequired = "required"
	violationLength   = "length"
	violationText     = "text"
	violationUnknown  = "unknown"
	violationPast     = "past"
)

// Service keeps shops and keys. It may be used by many at once.
type Service struct {
	store store.Store
	clock func() time.Time
	// keyed is set once a key was seen: the service is not open then, and never
	// will be again.
	keyed atomic.Bool
}

// New returns the service.
func New(st store.Store, clock func() time.Time) *Service { return &Service{store: st, clock: clock} }

// now returns the time as the store keeps it.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// Prepare makes the first shop when it is not there. Several services may do so
// at once.
func (s *Service) Prepare(ctx context.Context) error {
	err := s.store.View(ctx, func(r store.Reader) error {
		_, err := r.Shop(ctx, store.FirstShop)
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		err = s.store.Update(ctx, func(w store.Writer) error {
			return w.AddShop(ctx, store.Shop{ID: store.FirstShop, Name: firstName, CreatedAt: s.now()})
		})
		if errors.Is(err, store.ErrExists) {
			return nil
		}
	}
	if err != nil {
		return fmt.Errorf("prepare the first shop: %w", err)
	}
	return nil
}

// Shops returns all shops, by id.
func (s *Service) Shops(ctx context.Context) ([]store.Shop, error) {
	var all []store.Shop
	err := s.store.View(ctx, func(r store.Reader) error {
		all = nil
		var after store.ShopID
		for {
			page, err := r.Shops(ctx, after, readAtOnce)
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
		return nil, fmt.Errorf("list the shops: %w", err)
	}
	return all, nil
}

// AddShop makes a shop and returns it. It reports fault.Invalid for a name that
// is blank, longer than 80 characters or no plain text.
func (s *Service) AddShop(ctx context.Context, name string) (store.Shop, error) {
	var bad fault.Collector
	checkName(&bad, "name", name)
	if err := bad.Err(codeInvalidShop, "the shop can't be made as it is told"); err != nil {
		return store.Shop{}, err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return store.Shop{}, fmt.Errorf("make the id of a shop: %w", err)
	}
	shop := store.Shop{ID: store.ShopID(id.String()), Name: name, CreatedAt: s.now()}
	if err := s.store.Update(ctx, func(w store.Writer) error { return w.AddShop(ctx, shop) }); err != nil {
		return store.Shop{}, fmt.Errorf("make a shop: %w", err)
	}
	return shop, nil
}

// checkName reports what is wrong with a name, at the member it stands in.
func checkName(bad *fault.Collector, member, name string) {
	path := fault.At(member)
	blank := true
	for _, r := range name {
		if unicode.IsControl(r) || r == utf8.RuneError {
			bad.Add(path, violationText, "a %s is plain text on one line", member)
			return
		}
		blank = blank && unicode.IsSpace(r)
	}
	switch length := utf8.RuneCountInString(name); {
	case blank:
		bad.Add(path, violationRequired, "a %s is needed", member)
	case length > maxName:
		bad.Add(path, violationLength, "a %s has at most %d characters, and this one has %d", member, maxName, length)
	}
}

// unknownShop makes a fault of a shop that there is not.
func unknownShop(id store.ShopID, err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return &fault.Error{Kind: fault.NotFound, Code: codeUnknownShop, Detail: fmt.Sprintf("there is no shop with the id %q", id)}
	}
	return err
}
