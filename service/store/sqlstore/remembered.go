package sqlstore

import (
	"context"
	"fmt"
	"time"

	"greenweight/service/store"
)

const rememberedByKey = `
SELECT shop_id, idempotency_key, operation, request_digest, result, created_us, expires_us
FROM remembered WHERE shop_id = $1 AND idempotency_key = $2 AND expires_us > $3`

// Remembered implements store.Reader.
func (t *transaction) Remembered(ctx context.Context, shop store.ShopID, key string, now time.Time) (store.Remembered, error) {
	r, err := one(ctx, t, scanRemembered, rememberedByKey, string(shop), key, now.UnixMicro())
	if err != nil {
		return store.Remembered{}, fmt.Errorf("read what was done for an idempotency key: %w", err)
	}
	return r, nil
}

const rememberedAfter = `
SELECT shop_id, idempotency_key, operation, request_digest, result, created_us, expires_us
FROM remembered WHERE shop_id = $1 AND idempotency_key > $2 ORDER BY idempotency_key LIMIT $3`

// AllRemembered implements store.Reader.
func (t *transaction) AllRemembered(ctx context.Context, shop store.ShopID, after string, limit int) ([]store.Remembered, error) {
	found, err := all(ctx, t, scanRemembered, rememberedAfter, string(shop), after, max(limit, 0))
	if err != nil {
		return nil, fmt.Errorf("list what is remembered for shop %s: %w", shop, err)
	}
	return found, nil
}

func scanRemembered(row scanner) (store.Remembered, error) {
	var r store.Remembered
	var request digest
	var created, expires int64
	err := row.Scan(&r.Shop, &r.Key, &r.Operation, &request, &r.Result, &created, &expires)
	r.Request, r.CreatedAt, r.ExpiresAt = request, instant(created), instant(expires)
	return r, err
}

// An instant at which something expires is one at which it has expired.
const remember = `
INSERT INTO remembered (shop_id, idempotency_key, operation, request_digest, result, created_us, expires_us)
SELECT shop_id, $1, $2, $3, $4, $5, $6 FROM shop WHERE shop_id = $7
ON CONFLICT (shop_id, idempotency_key) DO UPDATE
SET operation = excluded.operation, request_digest = excluded.request_digest, result = excluded.result,
	created_us = excluded.created_us, expires_us = excluded.expires_us
WHERE remembered.expires_us <= excluded.created_us`

// Remember implements store.Writer. It also returns store.ErrNotFound when there
// is no such shop.
func (t *transaction) Remember(ctx context.Context, r store.Remembered) error {
	kept, err := t.exec(ctx, remember, r.Key, r.Operation, r.Request[:], r.Result, r.CreatedAt.UnixMicro(), r.ExpiresAt.UnixMicro(),
		string(r.Shop))
	if err == nil && kept == 0 {
		err = t.refused(ctx, r.Shop)
	}
	if err != nil {
		return fmt.Errorf("remember what was done for an idempotency key: %w", err)
	}
	return nil
}

// The instant is asked for twice, because one that was chosen may be replaced by
// another transaction before it is removed.
const forget = `
DELETE FROM remembered
WHERE shop_id = $1 AND expires_us <= $2 AND idempotency_key IN (
	SELECT idempotency_key FROM remembered WHERE shop_id = $1 AND expires_us <= $2 ORDER BY expires_us LIMIT $3
)`

// Forget implements store.Writer. What expired first goes first.
func (t *transaction) Forget(ctx context.Context, shop store.ShopID, by time.Time, limit int) (int, error) {
	gone, err := t.exec(ctx, forget, string(shop), by.UnixMicro(), max(limit, 0))
	if err != nil {
		return 0, fmt.Errorf("forget what has expired of shop %s: %w", shop, err)
	}
	return int(gone), nil
}
