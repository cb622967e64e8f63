package sqlstore

import (
	"context"
	"fmt"

	"greenweight/service/store"
)

const shopByID = `SELECT shop_id, name, created_us FROM shop WHERE shop_id = $1`

// Shop implements store.Reader.
func (t *transaction) Shop(ctx context.Context, id store.ShopID) (store.Shop, error) {
	s, err := one(ctx, t, scanShop, shopByID, string(id))
	if err != nil {
		return store.Shop{}, fmt.Errorf("read shop %s: %w", id, err)
	}
	return s, nil
}

const shopsAfter = `SELECT shop_id, name, created_us FROM shop WHERE shop_id > $1 ORDER BY shop_id LIMIT $2`

// Shops implements store.Reader.
func (t *transaction) Shops(ctx context.Context, after store.ShopID, limit int) ([]store.Shop, error) {
	found, err := all(ctx, t, scanShop, shopsAfter, string(after), max(limit, 0))
	if err != nil {
		return nil, fmt.Errorf("list shops: %w", err)
	}
	return found, nil
}

func scanShop(row scanner) (store.Shop, error) {
	var s store.Shop
	var created int64
	err := row.Scan(&s.ID, &s.Name, &created)
	s.CreatedAt = instant(created)
	return s, err
}

const addShop = `INSERT INTO shop (shop_id, name, created_us) VALUES ($1, $2, $3) ON CONFLICT (shop_id) DO NOTHING`

// AddShop implements store.Writer.
func (t *transaction) AddShop(ctx context.Context, s store.Shop) error {
	added, err := t.exec(ctx, addShop, string(s.ID), s.Name, s.CreatedAt.UnixMicro())
	if err == nil && added == 0 {
		err = store.ErrExists
	}
	if err != nil {
		return fmt.Errorf("add shop %s: %w", s.ID, err)
	}
	return nil
}

// refused says why a row of a shop was not added: a statement that adds one
// takes the shop from its table and does nothing on a conflict, so that no
// constraint is ever broken, which would end the transaction on one engine and
// not on the other.
func (t *transaction) refused(ctx context.Context, shop store.ShopID) error {
	if _, err := t.Shop(ctx, shop); err != nil {
		return err
	}
	return store.ErrExists
}

const nextLotNumber = `UPDATE shop SET last_lot_number = last_lot_number + 1 WHERE shop_id = $1 RETURNING last_lot_number`

// NextLotNumber implements store.Writer.
func (t *transaction) NextLotNumber(ctx context.Context, shop store.ShopID) (int64, error) {
	number, err := one(ctx, t, func(row scanner) (n int64, err error) { return n, row.Scan(&n) }, nextLotNumber, string(shop))
	if err != nil {
		return 0, fmt.Errorf("count the lots of shop %s: %w", shop, err)
	}
	return number, nil
}
