package sqlstore

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"
	"unicode/utf8"

	"greenweight/service/store"
)

const anyKey = `SELECT name FROM access_key LIMIT 1`

// AnyKey implements store.Reader.
func (t *transaction) AnyKey(ctx context.Context) (bool, error) {
	found, err := all(ctx, t, func(row scanner) (name string, err error) { return name, row.Scan(&name) }, anyKey)
	if err != nil {
		return false, fmt.Errorf("look for keys: %w", err)
	}
	return len(found) > 0, nil
}

const keyByHash = `
SELECT shop_id, id, name, person, scopes, hash, created_us, expires_us, revoked_us
FROM access_key WHERE hash = $1`

// KeyByHash implements store.Reader.
func (t *transaction) KeyByHash(ctx context.Context, hash [32]byte) (store.Key, error) {
	k, err := one(ctx, t, scanKey, keyByHash, hash[:])
	if err != nil {
		return store.Key{}, fmt.Errorf("read a key by its hash: %w", err)
	}
	return k, nil
}

const keysAfter = `
SELECT shop_id, id, name, person, scopes, hash, created_us, expires_us, revoked_us
FROM access_key WHERE shop_id = $1 AND id > $2 ORDER BY id LIMIT $3`

// Keys implements store.Reader.
func (t *transaction) Keys(ctx context.Context, shop store.ShopID, after store.KeyID, limit int) ([]store.Key, error) {
	found, err := all(ctx, t, scanKey, keysAfter, string(shop), string(after), max(limit, 0))
	if err != nil {
		return nil, fmt.Errorf("list the keys of shop %s: %w", shop, err)
	}
	return found, nil
}

func scanKey(row scanner) (store.Key, error) {
	var k store.Key
	var scopes string
	var hash digest
	var created int64
	var expires, revoked sql.NullInt64
	if err := row.Scan(&k.Shop, &k.ID, &k.Name, &k.Person, &scopes, &hash, &created, &expires, &revoked); err != nil {
		return store.Key{}, err
	}
	if err := json.Unmarshal([]byte(scopes), &k.Scopes); err != nil {
		return store.Key{}, fmt.Errorf("scopes of key %s: %w", k.ID, err)
	}
	k.Hash = hash
	k.CreatedAt, k.ExpiresAt, k.RevokedAt = instant(created), maybeInstant(expires), maybeInstant(revoked)
	return k, nil
}

const addKey = `
INSERT INTO access_key (shop_id, id, name, person, scopes, hash, created_us, expires_us, revoked_us)
SELECT shop_id, $1, $2, $3, $4, $5, $6, $7, $8 FROM shop WHERE shop_id = $9
ON CONFLICT DO NOTHING`

// AddKey implements store.Writer.
func (t *transaction) AddKey(ctx context.Context, k store.Key) error {
	scopes, err := texts(k.Scopes)
	if err != nil {
		return fmt.Errorf("add key %s: %w", k.ID, err)
	}
	added, err := t.exec(ctx, addKey, string(k.ID), k.Name, k.Person, scopes, k.Hash[:],
		k.CreatedAt.UnixMicro(), maybe(k.ExpiresAt), maybe(k.RevokedAt), string(k.Shop))
	if err == nil && added == 0 {
		err = t.refused(ctx, k.Shop)
	}
	if err != nil {
		return fmt.Errorf("add key %s: %w", k.ID, err)
	}
	return nil
}

const revokeKey = `UPDATE access_key SET revoked_us = COALESCE(revoked_us, $1) WHERE shop_id = $2 AND id = $3`

// RevokeKey implements store.Writer.
func (t *transaction) RevokeKey(ctx context.Context, shop store.ShopID, id store.KeyID, at time.Time) error {
	found, err := t.exec(ctx, revokeKey, at.UnixMicro(), string(shop), string(id))
	if err == nil && found == 0 {
		err = store.ErrNotFound
	}
	if err != nil {
		return fmt.Errorf("revoke key %s: %w", id, err)
	}
	return nil
}

// texts writes a list of texts as it is kept.
func texts(list []string) (string, error) {
	for _, text := range list {
		if !utf8.ValidString(text) {
			return "", errText
		}
	}
	if list == nil {
		list = []string{}
	}
	raw, err := json.Marshal(list)
	return string(raw), err
}
