package sqlstore

import (
	"context"
	"fmt"
	"math"
	"strings"
	"unicode"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

const lotByID = `
SELECT shop_id, id, number, name, stage, opened_us, recorded_us, head_sequence, head_digest
FROM lot WHERE shop_id = $1 AND id = $2`

// Lot implements store.Reader.
func (t *transaction) Lot(ctx context.Context, shop store.ShopID, id lot.ID) (store.Lot, error) {
	l, err := one(ctx, t, scanLot, lotByID, string(shop), string(id))
	if err != nil {
		return store.Lot{}, fmt.Errorf("read lot %s: %w", id, err)
	}
	return l, nil
}

// Two texts, so that each finds the index that ends in what the list is paged
// by. A limit that is not asked for is one that lets all pass. In the second the
// plus keeps SQLite, which knows nothing of how many lots are in a stage, from
// taking the index of the first for the sake of the lower limit.
const (
	lotsAfter = `
SELECT shop_id, id, number, name, stage, opened_us, recorded_us, head_sequence, head_digest
FROM lot
WHERE shop_id = $1 AND (opened_us, id) < ($2, $3) AND opened_us >= $4 AND name_folded LIKE $5 ESCAPE '\'
ORDER BY opened_us DESC, id DESC LIMIT $6`

	lotsOfStageAfter = `
SELECT shop_id, id, number, name, stage, opened_us, recorded_us, head_sequence, head_digest
FROM lot
WHERE shop_id = $1 AND (opened_us, id) < ($2, $3) AND +opened_us >= $4 AND name_folded LIKE $5 ESCAPE '\' AND stage = $6
ORDER BY opened_us DESC, id DESC LIMIT $7`
)

// Lots implements store.Reader.
func (t *transaction) Lots(ctx context.Context, shop store.ShopID, filter store.LotFilter, after store.LotMark, limit int) ([]store.Lot, error) {
	from, below, id := int64(math.MinInt64), int64(math.MaxInt64), ""
	if !filter.OpenedFrom.IsZero() {
		from = filter.OpenedFrom.UnixMicro()
	}
	if !after.OpenedAt.IsZero() || after.ID != "" {
		below, id = after.OpenedAt.UnixMicro(), string(after.ID)
	}
	if !filter.OpenedBefore.IsZero() && filter.OpenedBefore.UnixMicro() <= below {
		below, id = filter.OpenedBefore.UnixMicro(), "" // no id is before the empty one
	}
	text, args := lotsAfter, []any{string(shop), below, id, from, containing(filter.NameContains)}
	if filter.Stage != "" {
		text, args = lotsOfStageAfter, append(args, filter.Stage)
	}
	found, err := all(ctx, t, scanLot, text, append(args, max(limit, 0))...)
	if err != nil {
		return nil, fmt.Errorf("list the lots of shop %s: %w", shop, err)
	}
	return found, nil
}

// fold returns a name without regard to case: letters that differ only in case
// become the same, in every script that has cases.
func fold(name string) string {
	return strings.Map(func(r rune) rune { return unicode.ToLower(unicode.ToUpper(r)) }, name)
}

// wild escapes what LIKE would not take as itself.
var wild = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// containing returns the pattern of the folded names that contain a part.
func containing(part string) string { return "%" + wild.Replace(fold(part)) + "%" }

func scanLot(row scanner) (store.Lot, error) {
	var l store.Lot
	var opened, recorded int64
	var head digest
	if err := row.Scan(&l.Shop, &l.ID, &l.Number, &l.Name, &l.Stage, &opened, &recorded, &l.Head.Sequence, &head); err != nil {
		return store.Lot{}, err
	}
	l.OpenedAt, l.RecordedAt, l.Head.Digest = instant(opened), instant(recorded), lot.Digest(head)
	return l, nil
}

const addLot = `
INSERT INTO lot (shop_id, id, number, name, name_folded, stage, opened_us, recorded_us, head_sequence, head_digest)
SELECT shop_id, $1, $2, $3, $4, $5, $6, $7, 0, $8 FROM shop WHERE shop_id = $9
ON CONFLICT DO NOTHING`

// AddLot implements store.Writer.
func (t *transaction) AddLot(ctx context.Context, l store.Lot) error {
	var none lot.Digest
	added, err := t.exec(ctx, addLot, string(l.ID), l.Number, l.Name, fold(l.Name), l.Stage,
		l.OpenedAt.UnixMicro(), l.RecordedAt.UnixMicro(), none[:], string(l.Shop))
	if err == nil && added == 0 {
		err = t.refused(ctx, l.Shop)
	}
	if err != nil {
		return fmt.Errorf("add lot %s: %w", l.ID, err)
	}
	return nil
}

// The row is changed so that both engines lock it and tell of it as it is then,
// which a SELECT with a lock does on one of them only.
const holdLot = `
UPDATE lot SET holds = holds + 1 WHERE shop_id = $1 AND id = $2
RETURNING shop_id, id, number, name, stage, opened_us, recorded_us, head_sequence, head_digest`

// HoldLot implements store.Writer.
func (t *transaction) HoldLot(ctx context.Context, shop store.ShopID, id lot.ID) (store.Lot, error) {
	l, err := one(ctx, t, scanLot, holdLot, string(shop), string(id))
	if err != nil {
		return store.Lot{}, fmt.Errorf("hold lot %s: %w", id, err)
	}
	return l, nil
}
