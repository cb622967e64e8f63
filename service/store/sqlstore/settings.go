package sqlstore

import (
	"context"
	"fmt"
)

const settingByName = `SELECT value FROM setting WHERE name = $1`

// Setting implements store.Reader.
func (t *transaction) Setting(ctx context.Context, name string) (string, error) {
	value, err := one(ctx, t, func(row scanner) (value string, err error) { return value, row.Scan(&value) }, settingByName, name)
	if err != nil {
		return "", fmt.Errorf("read the setting %s: %w", name, err)
	}
	return value, nil
}

const setSetting = `INSERT INTO setting (name, value) VALUES ($1, $2) ON CONFLICT (name) DO UPDATE SET value = excluded.value`

// SetSetting implements store.Writer.
func (t *transaction) SetSetting(ctx context.Context, name, value string) error {
	if _, err := t.exec(ctx, setSetting, name, value); err != nil {
		return fmt.Errorf("set the setting %s: %w", name, err)
	}
	return nil
}
