// Package lots keeps lots: it opens them, appends to their ledgers, and reads
// what they have come to.
//
// The rules of what may be appended, and all that follows from a ledger, are in
// package domain/lot; here is what a service adds to them: transactions, the
// chain of digests, idempotency, paging, and a memory of ledgers read before.
package lots

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"

	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/domain/rulebook"
	"greenweight/service/request"
	"greenweight/service/store"
)

const (
	// readAtOnce is how many entries are read from the store at once.
	readAtOnce = 1000
	// keptRecords is how many ledgers are kept in memory.
	keptRecords = 256
)

// Codes of the faults that this package reports besides those of domain/lot.
const (
	codeNotFound = "unknown-lot"
	codeStale    = "stale"
)

// errPrecondition says that an entry judges another and the request does not
// tell which version of the lot it has seen.
var errPrecondition = request.PreconditionError{What: "an entry that judges another", Of: "the lot"}

// Reader reads what the body of an entry tells; an error for a body that it
// would not have let pass when it was posted.
type Reader func(kind lot.Kind, body string) (lot.Told, error)

// Settings are what the service needs; all of it.
type Settings struct {
	Store store.Store
	Clock func() time.Time
	NewID func() string // a new UUID of version 7, as text
	Read  Reader
}

// Service keeps lots. It may be used by many at once.
type Service struct {
	store   store.Store
	clock   func() time.Time
	newID   func() string
	read    Reader
	cursors request.Cursors
	// records are ledgers that were read, as far as they had grown by then: what
	// was appended since is all that has to be read. Ledgers only grow.
	records *lru.Cache[recordKey, lot.Record]
}

type recordKey struct {
	shop store.ShopID
	id   lot.ID
}

// New returns the service. It writes the secret that cursors are signed with to
// the store when there is none, and returns the errors of the store.
func New(ctx context.Context, s Settings) (*Service, error) {
	if s.Store == nil || s.Clock == nil || s.NewID == nil || s.Read == nil {
		return nil, errors.New("keep lots: a setting is missing")
	}
	records, err := lru.New[recordKey, lot.Record](keptRecords)
	if err != nil {
		return nil, fmt.Errorf("make the memory of ledgers: %w", err)
	}
	cursors, err := request.NewCursors(ctx, s.Store)
	if err != nil {
		return nil, err
	}
	return &Service{store: s.Store, clock: s.Clock, newID: s.NewID, read: s.Read, cursors: cursors, records: records}, nil
}

// Kept is a lot as it is kept, and its ledger.
type Kept struct {
	Lot    store.Lot
	Record lot.Record
}

// Version names what a lot has come to: it changes with every entry.
func (k Kept) Version() string { return Version(k.Lot.Head) }

// versionDigits is how much of the digest stands in a version.
const versionDigits = 16

// Version names what a ledger with this head holds.
func Version(h lot.Head) string {
	return fmt.Sprintf("%d-%s", h.Sequence, h.Digest.String()[:versionDigits])
}

// Opened is a lot that was opened.
type Opened struct {
	Kept
	Replayed bool // it was opened by the same request before
}

// Open opens a lot with its first entry, whose body was read into told. It
// reports fault.Invalid as [lot.Record.Admit] does, with the members of the body
// as paths, and [request.KeyReusedError].
func (s *Service) Open(ctx context.Context, by request.By, body string, told lot.Told, once request.Once) (Opened, error) {
	const operation = "open"
	id := lot.ID(s.newID())
	var out Opened
	err := request.Again(func() error {
		var replayOf lot.ID
		err := s.store.Update(ctx, func(w store.Writer) error {
			out, replayOf = Opened{}, ""
			now := s.now()
			// The counter of the shop comes first: it holds off others with the same key.
			number, err := w.NextLotNumber(ctx, by.Shop)
			if err != nil {
				return err
			}
			var before result
			if found, err := request.Remembered(ctx, w, by, operation, once, now, &before); err != nil {
				return err
			} else if found {
				replayOf = before.Lot
				return errReplay // takes the number back
			}
			l := store.Lot{Shop: by.Shop, ID: id, Number: number}
			admitted, err := lot.Record{}.Admit(now, []lot.Told{told})
			if err != nil {
				return withoutIndex(err)
			}
			record, entries, err := s.extend(l, lot.Record{}, by, now, []Posted{{Body: body, Told: told}}, admitted)
			if err != nil {
				return err
			}
			grown(&l, record, now)
			empty := l
			empty.Head = lot.Head{}
			if err := w.AddLot(ctx, empty); err != nil {
				return err
			}
			if err := w.AddEntries(ctx, l, entries); err != nil {
				return err
			}
			out.Kept = Kept{l, record}
			return request.Remember(ctx, w, by, operation, once, now, result{Lot: id, Head: l.Head.Sequence})
		})
		if !errors.Is(err, errReplay) {
			return err
		}
		out.Replayed = true
		out.Kept, err = s.asOf(ctx, by.Shop, replayOf, 1)
		return err
	})
	return out, err
}

// errReplay ends a transaction whose work was done before.
var errReplay = errors.New("done before")

// withoutIndex takes the index of the only thing posted from the paths of a
// fault.
func withoutIndex(err error) error {
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		return err
	}
	again := *f
	again.Violations = slices.Clone(f.Violations)
	for i, v := range again.Violations {
		if len(v.Path) > 0 {
			again.Violations[i].Path = v.Path[1:]
		}
	}
	return &again
}

// now returns the time as the store keeps it.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// Posted is an entry to append: its body, and what was read from it.
type Posted struct {
	Body string
	Told lot.Told
}

// Appended is what came of appending.
type Appended struct {
	Lot      lot.ID
	Head     lot.Head // by then
	Entries  []lot.Entry
	Repeated []bool // for each entry: it was there already
	Replayed bool   // by the same request
}

// Append appends entries to the ledger of a lot, all or none. It reports the
// faults of [lot.Record.Admit], fault.NotFound when the shop has no such lot,
// fault.Stale when the lot has another version than match says,
// [request.PreconditionError] when an entry judges another and match says nothing, and
// [request.KeyReusedError].
func (s *Service) Append(ctx context.Context, by request.By, id lot.ID, posted []Posted, match request.Match, once request.Once) (Appended, error) {
	operation := "append " + string(id)
	if !match.Told() && slices.ContainsFunc(posted, func(p Posted) bool { return p.Told.Fact.Kind().Judges() }) {
		return Appended{}, errPrecondition
	}
	var out Appended
	err := request.Again(func() error {
		return s.store.Update(ctx, func(w store.Writer) error {
			out = Appended{}
			now := s.now()
			l, err := w.HoldLot(ctx, by.Shop, id) // holds off others, those with the same key too
			if err != nil {
				return unknownLot(err)
			}
			var before result
			found, err := request.Remembered(ctx, w, by, operation, once, now, &before)
			if err != nil {
				return err
			}
			record, err := s.record(ctx, w, l)
			if err != nil {
				return err
			}
			if found {
				out, err = before.appended(record)
				return err
			}
			if match.Told() && !match.Holds(Version(l.Head)) {
				return &fault.Error{Kind: fault.Stale, Code: codeStale, Detail: fmt.Sprintf(
					"the lot has changed since it was read: its version is %q now", Version(l.Head))}
			}
			all := make([]lot.Told, len(posted))
			for i, p := range posted {
				all[i] = p.Told
			}
			admitted, err := record.Admit(now, all)
			if err != nil {
				return err
			}
			grownRecord, entries, err := s.extend(l, record, by, now, posted, admitted)
			if err != nil {
				return err
			}
			if len(entries) > 0 {
				grown(&l, grownRecord, now)
				if err := w.AddEntries(ctx, l, entries); err != nil {
					return err
				}
			}
			done := result{Lot: id, Head: l.Head.Sequence}
			next := record.Head().Sequence
			for _, a := range admitted {
				sequence := a.Repeats
				if sequence == 0 {
					next++
					sequence = next
				}
				done.Sequences = append(done.Sequences, sequence)
				done.Repeated = append(done.Repeated, a.Repeats != 0)
			}
			if out, err = done.appended(grownRecord); err != nil {
				return err
			}
			out.Replayed = false
			return request.Remember(ctx, w, by, operation, once, now, done)
		})
	})
	return out, err
}

// extend makes the entries of what was admitted of what was posted, one for one,
// and is new, each with its digest, and the record with them.
func (s *Service) extend(l store.Lot, record lot.Record, by request.By, now time.Time, posted []Posted, admitted []lot.Admitted) (lot.Record, []lot.Entry, error) {
	head := record.Head()
	var entries []lot.Entry
	var reads []lot.Read
	for i, p := range posted {
		a := admitted[i]
		if a.Repeats != 0 {
			continue
		}
		e, err := seal(l.Shop, l.ID, lot.Entry{
			Sequence: head.Sequence + 1, Kind: a.Told.Fact.Kind(), HappenedAt: kept(a.HappenedAt), RecordedAt: now, Actor: by.Actor,
			RequestID: by.RequestID, Rulebook: rulebook.Version(), Late: a.Late, Doubts: a.Doubts, Body: p.Body,
			Previous: head.Digest,
		})
		if err != nil {
			return lot.Record{}, nil, err
		}
		head = lot.Head{Sequence: e.Sequence, Digest: e.Digest}
		entries = append(entries, e)
		reads = append(reads, lot.Read{Entry: e, Told: a.Told})
	}
	record, err := record.With(reads...)
	if err != nil {
		return lot.Record{}, nil, fmt.Errorf("append to lot %s: %w", l.ID, err)
	}
	return record, entries, nil
}

// kept returns an instant as the store keeps it: to the microsecond, in an offset
// of whole minutes.
func kept(t time.Time) time.Time {
	_, offset := t.Zone()
	offset -= offset % 60
	if offset == 0 {
		return t.UTC().Truncate(time.Microsecond)
	}
	return t.In(time.FixedZone("", offset)).Truncate(time.Microsecond)
}

// grown brings what is kept beside the ledger up to it.
func grown(l *store.Lot, record lot.Record, now time.Time) {
	state := record.State()
	l.Name, l.Stage, l.OpenedAt, l.RecordedAt, l.Head = state.Planned.Name, state.Stage.String(), state.OpenedAt, now, record.Head()
}

// result is what is remembered of a request that was done. The entries stay as
// they are, so that their numbers are all that has to be remembered.
type result struct {
	Lot       lot.ID `json:"lot"`
	Head      int    `json:"head"` // sequence of the last entry by then
	Sequences []int  `json:"sequences,omitempty"`
	Repeated  []bool `json:"repeated,omitempty"`
}

// appended returns what was done, from a record that has it.
func (r result) appended(record lot.Record) (Appended, error) {
	all := record.Entries()
	out := Appended{Lot: r.Lot, Repeated: r.Repeated, Replayed: true}
	for _, sequence := range append(slices.Clone(r.Sequences), r.Head) {
		if sequence < 1 || sequence > len(all) {
			return Appended{}, fmt.Errorf("find entry %d of lot %s: it is not in the ledger", sequence, r.Lot)
		}
		out.Entries = append(out.Entries, all[sequence-1].Entry)
	}
	last := len(out.Entries) - 1
	out.Head = lot.Head{Sequence: out.Entries[last].Sequence, Digest: out.Entries[last].Digest}
	out.Entries = out.Entries[:last]
	return out, nil
}

// unknownLot makes a fault of a lot that the shop does not have.
func unknownLot(err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return &fault.Error{Kind: fault.NotFound, Code: codeNotFound, Detail: "the shop has no lot of this id"}
	}
	return err
}
