// Package request holds what the requests of all use cases have in common: who
// asks, how often a thing is done that is asked for twice, which version a
// request was made for, and where a list goes on.
package request

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/go-json-experiment/json"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

const (
	// rememberFor is how long an idempotency key is kept.
	rememberFor = 24 * time.Hour
	// forgetAtOnce is how many expired keys one write clears away.
	forgetAtOnce = 20
)

// PreconditionError says that a request does not tell which version it was made
// for, and must.
type PreconditionError struct {
	What string // what needs it, such as an entry that judges another
	Of   string // what has the version, such as the lot
}

// Error says so.
func (e PreconditionError) Error() string {
	return "precondition-required: " + e.What + " needs the version of " + e.Of + " that was read"
}

// KeyReusedError says that an idempotency key came with another request before.
type KeyReusedError struct{}

// Error says so.
func (KeyReusedError) Error() string {
	return "idempotency-key-reused: the key came with another request before"
}

// By is who asks for a change, and in which request.
type By struct {
	Shop      store.ShopID
	Actor     lot.Actor
	RequestID string
}

// scoped names an idempotency key of whoever asks: two people may choose the
// same.
func (b By) scoped(key string) string { return b.Actor.Key + "/" + key }

// Once names a request that is to be done once, however often it is sent. The
// zero value is a request that is done each time.
type Once struct {
	Key     string   // the idempotency key
	Request [32]byte // digest of the body
}

// Match says which versions of a thing a request was made for. The zero value
// says nothing.
type Match struct {
	Any      bool     // whichever there is
	Versions []string // one of these; empty and not nil: none that there could be
}

// Told reports whether it says anything.
func (m Match) Told() bool { return m.Any || m.Versions != nil }

// Holds reports whether the request was made for a version.
func (m Match) Holds(version string) bool { return m.Any || slices.Contains(m.Versions, version) }

// errTaken is a key that was remembered between looking and writing.
var errTaken = errors.New("the idempotency key was taken meanwhile")

// Again runs do, and runs it again when somebody else was quicker with the same
// idempotency key: then it finds what that one did.
func Again(do func() error) error {
	err := do()
	if errors.Is(err, errTaken) {
		err = do()
	}
	if errors.Is(err, errTaken) {
		return fmt.Errorf("remember a request: %w", err)
	}
	return err
}

// Remembered reads what was done for a request that was sent before, as
// [Remember] was told it, and reports whether it was. A key that came with
// another request is a [KeyReusedError].
func Remembered(ctx context.Context, r store.Reader, by By, operation string, once Once, now time.Time, done any) (bool, error) {
	if once.Key == "" {
		return false, nil
	}
	before, err := r.Remembered(ctx, by.Shop, by.scoped(once.Key), now)
	if errors.Is(err, store.ErrNotFound) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if before.Operation != operation || before.Request != once.Request {
		return false, KeyReusedError{}
	}
	if err := json.Unmarshal([]byte(before.Result), done); err != nil {
		return false, fmt.Errorf("read what was done for an idempotency key: %w", err)
	}
	return true, nil
}

// Remember keeps what was done for a request, and clears away some of what has
// expired. It runs within [Again].
func Remember(ctx context.Context, w store.Writer, by By, operation string, once Once, now time.Time, done any) error {
	if once.Key == "" {
		return nil
	}
	if _, err := w.Forget(ctx, by.Shop, now, forgetAtOnce); err != nil {
		return err
	}
	text, err := json.Marshal(done)
	if err != nil {
		return fmt.Errorf("write what was done for an idempotency key: %w", err)
	}
	err = w.Remember(ctx, store.Remembered{
		Shop: by.Shop, Key: by.scoped(once.Key), Operation: operation, Request: once.Request, Result: string(text), CreatedAt: now,
		ExpiresAt: now.Add(rememberFor),
	})
	if errors.Is(err, store.ErrExists) {
		return errTaken
	}
	return err
}
