// Package store is the storage contract: what is kept, and what a store has to
// do so that nothing acknowledged is lost, nothing is half-written and no shop
// sees what belongs to another.
//
// Everything belongs to a shop, whose id leads every key and every query.
// Package sqlstore is the one implementation, for two engines; package
// storetest holds the suite that every store must pass.
package store

import (
	"context"
	"errors"
	"time"

	"greenweight/domain/formula"
	"greenweight/domain/lot"
)

// What a store reports. A store wraps them; callers ask with errors.Is.
var (
	// ErrNotFound: the shop has no such thing.
	ErrNotFound = errors.New("not found")
	// ErrExists: there is one with this key already.
	ErrExists = errors.New("exists already")
	// ErrStale: it has changed since it was read.
	ErrStale = errors.New("changed since it was read")
	// ErrUnavailable: the store can't be asked now, or gave up after several
	// tries. Nothing was written.
	ErrUnavailable = errors.New("the store can't be reached")
	// ErrUncertain: the connection was lost while the commit was under way, so
	// that nobody knows whether it was written. Asking again with the same
	// idempotency key tells.
	ErrUncertain = errors.New("the store did not say whether it was written")
	// ErrFull: there is no room left to write. Nothing was written.
	ErrFull = errors.New("there is no room left to store")
	// ErrReadOnly: the store can be read but not written, such as a file
	// without permission. Nothing was written.
	ErrReadOnly = errors.New("the store can't be written")
)

// ShopID names a shop: a UUID in its usual text form.
type ShopID string

// KeyID names a key: a UUID in its usual text form.
type KeyID string

// FirstShop is the shop that is there from the start, for a maker at home who
// never makes another. The id is a fixed UUID of version 7, older than any that
// is made, so that two services that start on one empty store make the same.
const FirstShop ShopID = "00000000-0000-7000-8000-000000000001"

// Shop owns everything below it.
type Shop struct {
	ID        ShopID
	Name      string
	CreatedAt time.Time
}

// Key lets its holder act for a shop, within its scopes, in the name of a
// person. The key itself is not kept, only its hash.
type Key struct {
	Shop      ShopID
	ID        KeyID
	Name      string // what it is for
	Person    string // who answers for what is done with it
	Scopes    []string
	Hash      [32]byte // SHA-256 of the key
	CreatedAt time.Time
	ExpiresAt time.Time // from then on it is not valid; zero: never
	RevokedAt time.Time // zero: not revoked
}

// Lot is what is kept of a lot beside its ledger: what lists and filters need.
// All of it follows from the ledger.
type Lot struct {
	Shop       ShopID
	ID         lot.ID
	Number     int64 // counts the lots of the shop, from 1
	Name       string
	Stage      string // the word of the stage
	OpenedAt   time.Time
	RecordedAt time.Time // of the last entry
	Head       lot.Head
}

// LotFilter says which lots to list; a zero member lets all pass.
type LotFilter struct {
	Stage        string
	NameContains string    // without regard to case
	OpenedFrom   time.Time // not before
	OpenedBefore time.Time
}

// LotMark is a place in the list of lots: the lot after which to go on. The zero
// value is the place before the first.
type LotMark struct {
	OpenedAt time.Time
	ID       lot.ID
}

// Formula is what is kept of a saved formula beside its versions: what lists and
// filters need. All of it follows from the versions and notes.
type Formula struct {
	Shop      ShopID
	ID        formula.ID
	Name      string // by the latest version, like the product
	Product   string // the word of the class
	CreatedAt time.Time
	SavedAt   time.Time  // of the latest version
	Version   int        // the latest, from 1
	Digest    lot.Digest // of the latest version
	Notes     int        // how many there are, of all versions
}

// FormulaVersion is a version of a saved formula. It is never changed.
type FormulaVersion struct {
	Version   int // from 1
	SavedAt   time.Time
	Actor     lot.Actor
	RequestID string
	Rulebook  string     // version of the rulebook then
	Reason    string     // why it was made; may be empty
	Body      string     // the formula as it was posted: JSON text
	Previous  lot.Digest // of the version before; zero for the first
	Digest    lot.Digest // of this one
}

// FormulaNote is what somebody noted of a version later. It is never changed.
type FormulaNote struct {
	Number    int // counts the notes of the formula, from 1
	Version   int
	NotedAt   time.Time
	Actor     lot.Actor
	RequestID string
	Text      string
}

// FormulaFilter says which formulas to list; a zero member lets all pass.
type FormulaFilter struct {
	NameContains string // without regard to case
	Product      string
}

// FormulaMark is a place in the list of formulas: the one after which to go on.
// The zero value is the place before the first.
type FormulaMark struct {
	Name string
	ID   formula.ID
}

// Remembered is what was done for an idempotency key, so that the same request
// sent again does nothing more.
type Remembered struct {
	Shop      ShopID
	Key       string   // as the client sent it
	Operation string   // what was asked for, with the lot
	Request   [32]byte // digest of the body
	Result    string   // what came of it, in the words of whoever remembers
	CreatedAt time.Time
	ExpiresAt time.Time // from then on it is as if it had never been
}

// Reader reads what is kept, all of it as it was at one moment. Instants come
// back in UTC to the microsecond, those of entries in their own offset.
type Reader interface {
	// Shop returns a shop; ErrNotFound when there is none of this id.
	Shop(ctx context.Context, id ShopID) (Shop, error)
	// Shops returns at most limit shops whose id is after the given one, by id;
	// none is no error.
	Shops(ctx context.Context, after ShopID, limit int) ([]Shop, error)

	// AnyKey reports whether a key was ever made, in any shop, revoked or not.
	AnyKey(ctx context.Context) (bool, error)
	// KeyByHash returns the key with this hash, of whichever shop, expired and
	// revoked ones too; ErrNotFound when there is none. It is the one question
	// that names no shop, because its answer tells the shop.
	KeyByHash(ctx context.Context, hash [32]byte) (Key, error)
	// Keys returns at most limit keys of a shop whose id is after the given one,
	// by id; none is no error.
	Keys(ctx context.Context, shop ShopID, after KeyID, limit int) ([]Key, error)

	// Lot returns a lot; ErrNotFound when the shop has none of this id.
	Lot(ctx context.Context, shop ShopID, id lot.ID) (Lot, error)
	// Lots returns at most limit lots that pass the filter and stand after the
	// mark: those opened last first, those opened at the same instant by
	// descending id. None is no error.
	Lots(ctx context.Context, shop ShopID, filter LotFilter, after LotMark, limit int) ([]Lot, error)
	// Entries returns at most limit entries of a lot with a sequence after the
	// given one, in order. None is no error, nor is a lot that there is not.
	Entries(ctx context.Context, shop ShopID, id lot.ID, after, limit int) ([]lot.Entry, error)

	// Formula returns a saved formula; ErrNotFound when the shop has none of this
	// id.
	Formula(ctx context.Context, shop ShopID, id formula.ID) (Formula, error)
	// Formulas returns at most limit formulas that pass the filter and stand after
	// the mark, by their names without regard to case, those of one name by id. None
	// is no error.
	Formulas(ctx context.Context, shop ShopID, filter FormulaFilter, after FormulaMark, limit int) ([]Formula, error)
	// FormulaVersions returns at most limit versions of a formula after the given
	// one, in order. None is no error, nor is a formula that there is not.
	FormulaVersions(ctx context.Context, shop ShopID, id formula.ID, after, limit int) ([]FormulaVersion, error)
	// FormulaNotes returns at most limit notes of a formula, of all its versions,
	// after the one of the given number, in order. None is no error, nor is a formula
	// that there is not.
	FormulaNotes(ctx context.Context, shop ShopID, id formula.ID, after, limit int) ([]FormulaNote, error)

	// Remembered returns what was done for an idempotency key, unless it has
	// expired by now; ErrNotFound when nothing was.
	Remembered(ctx context.Context, shop ShopID, key string, now time.Time) (Remembered, error)
	// AllRemembered returns at most limit of what is remembered for a shop, by
	// key, after the given one, expired or not. None is no error.
	AllRemembered(ctx context.Context, shop ShopID, after string, limit int) ([]Remembered, error)

	// Setting returns a setting of the store itself; ErrNotFound when it was
	// never set.
	Setting(ctx context.Context, name string) (string, error)
}

// Writer also writes. Either all that a transaction writes is kept or nothing.
type Writer interface {
	Reader

	// AddShop keeps a new shop; ErrExists when there is one of this id.
	AddShop(ctx context.Context, s Shop) error

	// AddKey keeps a new key; ErrExists when there is one of this id or hash,
	// ErrNotFound when there is no such shop.
	AddKey(ctx context.Context, k Key) error
	// RevokeKey ends a key from an instant on; one that was revoked before stays
	// as it is. ErrNotFound when the shop has none of this id.
	RevokeKey(ctx context.Context, shop ShopID, id KeyID, at time.Time) error

	// NextLotNumber returns the next number of the shop's lots; no two
	// transactions that are kept get the same, and none is left out.
	// ErrNotFound when there is no such shop.
	NextLotNumber(ctx context.Context, shop ShopID) (int64, error)
	// AddLot keeps a new lot without entries: its head is zero. ErrExists when
	// there is one of this id or number, ErrNotFound when there is no such shop.
	AddLot(ctx context.Context, l Lot) error
	// HoldLot returns a lot as Lot does and keeps other transactions from
	// appending to it until this one ends.
	HoldLot(ctx context.Context, shop ShopID, id lot.ID) (Lot, error)
	// AddEntries appends entries to the ledger of the lot, of which there is at
	// least one, in sequence and each with the digest of the one before. l is
	// the lot as it is from then on, its head that of the last of them. ErrStale
	// when the ledger does not end right before the first of them, ErrNotFound
	// when there is no such lot. An entry that is kept is never changed or
	// removed; there is no method for it.
	AddEntries(ctx context.Context, l Lot, entries []lot.Entry) error

	// AddFormula keeps a new formula with its first version, which is that of f and
	// has the digest of f. ErrExists when there is one of this id, ErrNotFound when
	// there is no such shop. It has no notes yet, whatever f says.
	AddFormula(ctx context.Context, f Formula, first FormulaVersion) error
	// HoldFormula returns a formula as Formula does and keeps other transactions
	// from adding to it until this one ends.
	HoldFormula(ctx context.Context, shop ShopID, id formula.ID) (Formula, error)
	// AddFormulaVersion keeps the next version of a formula; f is the formula as it
	// is from then on. ErrStale when the latest is not the one right before, with the
	// digest that the version names, ErrNotFound when there is no such formula. A
	// version that is kept is never changed or removed; there is no method for it.
	AddFormulaVersion(ctx context.Context, f Formula, next FormulaVersion) error
	// AddFormulaNote keeps the next note of a formula. ErrStale when the last does
	// not have the number right before, ErrNotFound when there is no such formula or
	// version.
	AddFormulaNote(ctx context.Context, shop ShopID, id formula.ID, note FormulaNote) error

	// Remember keeps what was done for an idempotency key, in place of one that
	// has expired by its CreatedAt; ErrExists when there is one that has not.
	Remember(ctx context.Context, r Remembered) error
	// Forget removes at most limit of what has expired by an instant, of one
	// shop, and returns how many that were.
	Forget(ctx context.Context, shop ShopID, by time.Time, limit int) (int, error)

	// SetSetting sets a setting of the store itself, whether it was set or not.
	SetSetting(ctx context.Context, name, value string) error
}

// Store keeps everything. Its methods may be used by many at once.
type Store interface {
	// View runs read on what is kept at one moment. read may run again when the
	// store had to begin anew, so it touches nothing else until it returned nil.
	View(ctx context.Context, read func(Reader) error) error
	// Update runs write in one transaction, which is kept when write returns nil
	// and Update does; it is on disk by then. write may run again after a
	// conflict with another transaction or a lost connection, so it touches
	// nothing else. Update returns the error of write when that is not one of
	// the store's own, and then nothing was kept.
	Update(ctx context.Context, write func(Writer) error) error
	// Check returns nil when the store can be asked and has the schema that this
	// program needs; ErrUnavailable when it can't be asked.
	Check(ctx context.Context) error
	// Close ends the store; what runs comes to its end.
	Close() error
}
