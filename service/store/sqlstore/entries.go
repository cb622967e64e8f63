package sqlstore

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"
	"unicode/utf8"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

const entriesAfter = `
SELECT sequence, kind, happened_us, happened_offset_min, recorded_us, actor_key, actor_person, request_id, rulebook, late,
	doubts, body, previous_digest, digest
FROM entry WHERE shop_id = $1 AND lot_id = $2 AND sequence > $3 ORDER BY sequence LIMIT $4`

// Entries implements store.Reader.
func (t *transaction) Entries(ctx context.Context, shop store.ShopID, id lot.ID, after, limit int) ([]lot.Entry, error) {
	found, err := all(ctx, t, scanEntry, entriesAfter, string(shop), string(id), after, max(limit, 0))
	if err != nil {
		return nil, fmt.Errorf("read the entries of lot %s: %w", id, err)
	}
	return found, nil
}

// doubt is how a lot.Doubt is kept.
type doubt struct {
	Code   string `json:"code"`
	Detail string `json:"detail"`
}

func scanEntry(row scanner) (lot.Entry, error) {
	var e lot.Entry
	var kind, doubts string
	var happened, recorded, late int64
	var offset int
	var previous, own digest
	if err := row.Scan(&e.Sequence, &kind, &happened, &offset, &recorded, &e.Actor.Key, &e.Actor.Person, &e.RequestID, &e.Rulebook,
		&late, &doubts, &e.Body, &previous, &own); err != nil {
		return lot.Entry{}, err
	}
	var known bool
	if e.Kind, known = lot.ParseKind(kind); !known {
		return lot.Entry{}, fmt.Errorf("entry %d is of the kind %q, which this program does not know", e.Sequence, kind)
	}
	var kept []doubt
	if err := json.Unmarshal([]byte(doubts), &kept); err != nil {
		return lot.Entry{}, fmt.Errorf("doubts of entry %d: %w", e.Sequence, err)
	}
	for _, d := range kept {
		e.Doubts = append(e.Doubts, lot.Doubt(d))
	}
	e.HappenedAt, e.RecordedAt, e.Late = instant(happened), instant(recorded), late != 0
	if offset != 0 {
		e.HappenedAt = e.HappenedAt.In(time.FixedZone("", offset*60))
	}
	e.Previous, e.Digest = lot.Digest(previous), lot.Digest(own)
	return e, nil
}

// The row is changed only when the ledger still ends where the entries begin.
// The number of a lot is not changed: it was given to it for good.
const moveHead = `
UPDATE lot
SET name = $1, name_folded = $2, stage = $3, opened_us = $4, recorded_us = $5, head_sequence = $6, head_digest = $7
WHERE shop_id = $8 AND id = $9 AND head_sequence = $10 AND head_digest = $11`

const addEntry = `
INSERT INTO entry (shop_id, lot_id, sequence, kind, happened_us, happened_offset_min, recorded_us, actor_key, actor_person, request_id,
	rulebook, late, doubts, body, previous_digest, digest)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)`

// AddEntries implements store.Writer.
func (t *transaction) AddEntries(ctx context.Context, l store.Lot, entries []lot.Entry) error {
	if err := t.addEntries(ctx, l, entries); err != nil {
		return fmt.Errorf("add entries to lot %s: %w", l.ID, err)
	}
	return nil
}

// addEntries refuses what it must before it changes anything, so that a caller
// who goes on after an error has no half of it in the transaction.
func (t *transaction) addEntries(ctx context.Context, l store.Lot, entries []lot.Entry) error {
	if err := chained(l.Head, entries); err != nil {
		return err
	}
	rows := make([][]any, 0, len(entries))
	for _, e := range entries {
		row, err := entryRow(l, e)
		if err == nil {
			err = t.ready(row)
		}
		if err != nil {
			return fmt.Errorf("entry %d: %w", e.Sequence, err)
		}
		rows = append(rows, row)
	}
	moved, err := t.exec(ctx, moveHead, l.Name, fold(l.Name), l.Stage, l.OpenedAt.UnixMicro(), l.RecordedAt.UnixMicro(),
		l.Head.Sequence, l.Head.Digest[:], string(l.Shop), string(l.ID), entries[0].Sequence-1, entries[0].Previous[:])
	if err != nil {
		return err
	}
	if moved == 0 {
		if _, err := t.Lot(ctx, l.Shop, l.ID); err != nil {
			return err
		}
		return store.ErrStale
	}
	for _, row := range rows {
		if _, err := t.exec(ctx, addEntry, row...); err != nil {
			return err
		}
	}
	return nil
}

// entryRow returns the columns of an entry.
func entryRow(l store.Lot, e lot.Entry) ([]any, error) {
	kept := make([]doubt, 0, len(e.Doubts))
	for _, d := range e.Doubts {
		if !utf8.ValidString(d.Code) || !utf8.ValidString(d.Detail) {
			return nil, errText // JSON would mend it, and the digest would not hold
		}
		kept = append(kept, doubt(d))
	}
	doubts, err := json.Marshal(kept)
	if err != nil {
		return nil, fmt.Errorf("write the doubts: %w", err)
	}
	late := 0
	if e.Late {
		late = 1
	}
	_, offset := e.HappenedAt.Zone()
	return []any{
		string(l.Shop), string(l.ID), e.Sequence, e.Kind.String(), e.HappenedAt.UnixMicro(), offset / 60, e.RecordedAt.UnixMicro(),
		e.Actor.Key, e.Actor.Person, e.RequestID, e.Rulebook, late, string(doubts), e.Body, e.Previous[:], e.Digest[:],
	}, nil
}

// chained refuses entries that are not what AddEntries takes: the store keeps
// no ledger that is broken from the start.
func chained(head lot.Head, entries []lot.Entry) error {
	if len(entries) == 0 {
		return errors.New("there are none")
	}
	for i, e := range entries {
		if e.Kind.String() == lot.Kind(0).String() {
			return fmt.Errorf("entry %d has no kind", e.Sequence)
		}
		if e.Digest.IsZero() {
			return fmt.Errorf("entry %d has no digest", e.Sequence)
		}
		if i > 0 && e.Sequence != entries[i-1].Sequence+1 {
			return fmt.Errorf("entry %d comes after entry %d", e.Sequence, entries[i-1].Sequence)
		}
		if i > 0 && e.Previous != entries[i-1].Digest {
			return fmt.Errorf("entry %d does not have the digest of the one before", e.Sequence)
		}
	}
	if first := entries[0]; first.Sequence < 1 || (first.Sequence == 1) != first.Previous.IsZero() {
		return fmt.Errorf("entry %d does not begin or go on with a ledger", first.Sequence)
	}
	if last := entries[len(entries)-1]; head != (lot.Head{Sequence: last.Sequence, Digest: last.Digest}) {
		return fmt.Errorf("the head of the lot is entry %d and not the last of them, entry %d", head.Sequence, last.Sequence)
	}
	return nil
}
