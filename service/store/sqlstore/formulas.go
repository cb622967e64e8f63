package sqlstore

import (
	"context"
	"errors"
	"fmt"

	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/service/store"
)

const formulaByID = `
SELECT shop_id, id, name, product, created_us, saved_us, last_version, last_digest, notes
FROM formula WHERE shop_id = $1 AND id = $2`

// Formula implements store.Reader.
func (t *transaction) Formula(ctx context.Context, shop store.ShopID, id formula.ID) (store.Formula, error) {
	f, err := one(ctx, t, scanFormula, formulaByID, string(shop), string(id))
	if err != nil {
		return store.Formula{}, fmt.Errorf("read formula %s: %w", id, err)
	}
	return f, nil
}

func scanFormula(row scanner) (store.Formula, error) {
	var f store.Formula
	var created, saved int64
	var last digest
	if err := row.Scan(&f.Shop, &f.ID, &f.Name, &f.Product, &created, &saved, &f.Version, &last, &f.Notes); err != nil {
		return store.Formula{}, err
	}
	f.CreatedAt, f.SavedAt, f.Digest = instant(created), instant(saved), lot.Digest(last)
	return f, nil
}

// Two texts, so that each finds the index that ends in what the list is paged
// by.
const (
	formulasAfter = `
SELECT shop_id, id, name, product, created_us, saved_us, last_version, last_digest, notes
FROM formula
WHERE shop_id = $1 AND (name_folded, id) > ($2, $3) AND name_folded LIKE $4 ESCAPE '\'
ORDER BY name_folded, id LIMIT $5`

	formulasOfProductAfter = `
SELECT shop_id, id, name, product, created_us, saved_us, last_version, last_digest, notes
FROM formula
WHERE shop_id = $1 AND (name_folded, id) > ($2, $3) AND name_folded LIKE $4 ESCAPE '\' AND product = $5
ORDER BY name_folded, id LIMIT $6`
)

// Formulas implements store.Reader.
func (t *transaction) Formulas(ctx context.Context, shop store.ShopID, filter store.FormulaFilter, after store.FormulaMark, limit int) ([]store.Formula, error) {
	text, args := formulasAfter, []any{string(shop), fold(after.Name), string(after.ID), containing(filter.NameContains)}
	if filter.Product != "" {
		text, args = formulasOfProductAfter, append(args, filter.Product)
	}
	found, err := all(ctx, t, scanFormula, text, append(args, max(limit, 0))...)
	if err != nil {
		return nil, fmt.Errorf("list the formulas of shop %s: %w", shop, err)
	}
	return found, nil
}

const formulaVersionsAfter = `
SELECT version, saved_us, actor_key, actor_person, request_id, rulebook, reason, body, previous_digest, digest
FROM formula_version WHERE shop_id = $1 AND formula_id = $2 AND version > $3 ORDER BY version LIMIT $4`

// FormulaVersions implements store.Reader.
func (t *transaction) FormulaVersions(ctx context.Context, shop store.ShopID, id formula.ID, after, limit int) ([]store.FormulaVersion, error) {
	found, err := all(ctx, t, scanFormulaVersion, formulaVersionsAfter, string(shop), string(id), after, max(limit, 0))
	if err != nil {
		return nil, fmt.Errorf("read the versions of formula %s: %w", id, err)
	}
	return found, nil
}

func scanFormulaVersion(row scanner) (store.FormulaVersion, error) {
	var v store.FormulaVersion
	var saved int64
	var previous, own digest
	if err := row.Scan(&v.Version, &saved, &v.Actor.Key, &v.Actor.Person, &v.RequestID, &v.Rulebook, &v.Reason, &v.Body, &previous, &own); err != nil {
		return store.FormulaVersion{}, err
	}
	v.SavedAt, v.Previous, v.Digest = instant(saved), lot.Digest(previous), lot.Digest(own)
	return v, nil
}

const formulaNotesAfter = `
SELECT number, version, noted_us, actor_key, actor_person, request_id, body
FROM formula_note WHERE shop_id = $1 AND formula_id = $2 AND number > $3 ORDER BY number LIMIT $4`

// FormulaNotes implements store.Reader.
func (t *transaction) FormulaNotes(ctx context.Context, shop store.ShopID, id formula.ID, after, limit int) ([]store.FormulaNote, error) {
	found, err := all(ctx, t, func(row scanner) (store.FormulaNote, error) {
		var n store.FormulaNote
		var noted int64
		err := row.Scan(&n.Number, &n.Version, &noted, &n.Actor.Key, &n.Actor.Person, &n.RequestID, &n.Text)
		n.NotedAt = instant(noted)
		return n, err
	}, formulaNotesAfter, string(shop), string(id), after, max(limit, 0))
	if err != nil {
		return nil, fmt.Errorf("read the notes of formula %s: %w", id, err)
	}
	return found, nil
}

const addFormula = `
INSERT INTO formula (shop_id, id, name, name_folded, product, created_us, saved_us, last_version, last_digest)
SELECT shop_id, $1, $2, $3, $4, $5, $6, 1, $7 FROM shop WHERE shop_id = $8
ON CONFLICT DO NOTHING`

const addFormulaVersion = `
INSERT INTO formula_version (shop_id, formula_id, version, saved_us, actor_key, actor_person, request_id, rulebook, reason, body,
	previous_digest, digest)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`

// AddFormula implements store.Writer.
func (t *transaction) AddFormula(ctx context.Context, f store.Formula, first store.FormulaVersion) error {
	if err := t.addFormula(ctx, f, first); err != nil {
		return fmt.Errorf("add formula %s: %w", f.ID, err)
	}
	return nil
}

func (t *transaction) addFormula(ctx context.Context, f store.Formula, first store.FormulaVersion) error {
	row, err := t.versionRow(f, first)
	if err != nil {
		return err
	}
	if first.Version != 1 {
		return fmt.Errorf("the first version is numbered %d", first.Version)
	}
	added, err := t.exec(ctx, addFormula, string(f.ID), f.Name, fold(f.Name), f.Product, f.CreatedAt.UnixMicro(), f.SavedAt.UnixMicro(),
		f.Digest[:], string(f.Shop))
	if err == nil && added == 0 {
		err = t.refused(ctx, f.Shop)
	}
	if err != nil {
		return err
	}
	_, err = t.exec(ctx, addFormulaVersion, row...)
	return err
}

// versionRow returns the columns of a version, unless it is not what the store
// keeps: a chain that is broken from the start.
func (t *transaction) versionRow(f store.Formula, v store.FormulaVersion) ([]any, error) {
	switch {
	case v.Version < 1 || v.Version != f.Version || v.Digest != f.Digest:
		return nil, fmt.Errorf("version %d is not the one that the formula ends in, %d", v.Version, f.Version)
	case v.Digest.IsZero():
		return nil, errors.New("it has no digest")
	case (v.Version == 1) != v.Previous.IsZero():
		return nil, fmt.Errorf("version %d does not begin or go on with a formula", v.Version)
	}
	row := []any{
		string(f.Shop), string(f.ID), v.Version, v.SavedAt.UnixMicro(), v.Actor.Key, v.Actor.Person, v.RequestID, v.Rulebook, v.Reason, v.Body,
		v.Previous[:], v.Digest[:],
	}
	return row, t.ready(append(row, f.Name, f.Product))
}

// The row is changed so that both engines lock it and tell of it as it is then.
const holdFormula = `
UPDATE formula SET notes = notes WHERE shop_id = $1 AND id = $2
RETURNING shop_id, id, name, product, created_us, saved_us, last_version, last_digest, notes`

// HoldFormula implements store.Writer.
func (t *transaction) HoldFormula(ctx context.Context, shop store.ShopID, id formula.ID) (store.Formula, error) {
	f, err := one(ctx, t, scanFormula, holdFormula, string(shop), string(id))
	if err != nil {
		return store.Formula{}, fmt.Errorf("hold formula %s: %w", id, err)
	}
	return f, nil
}

// The row is changed only when the latest version is the one right before.
const moveFormula = `
UPDATE formula SET name = $1, name_folded = $2, product = $3, saved_us = $4, last_version = $5, last_digest = $6
WHERE shop_id = $7 AND id = $8 AND last_version = $9 AND last_digest = $10`

// AddFormulaVersion implements store.Writer.
func (t *transaction) AddFormulaVersion(ctx context.Context, f store.Formula, next store.FormulaVersion) error {
	if err := t.addNextVersion(ctx, f, next); err != nil {
		return fmt.Errorf("add version %d of formula %s: %w", next.Version, f.ID, err)
	}
	return nil
}

func (t *transaction) addNextVersion(ctx context.Context, f store.Formula, next store.FormulaVersion) error {
	row, err := t.versionRow(f, next)
	if err != nil {
		return err
	}
	moved, err := t.exec(ctx, moveFormula, f.Name, fold(f.Name), f.Product, f.SavedAt.UnixMicro(), next.Version, next.Digest[:],
		string(f.Shop), string(f.ID), next.Version-1, next.Previous[:])
	if err != nil {
		return err
	}
	if moved == 0 {
		return t.staleFormula(ctx, f.Shop, f.ID)
	}
	_, err = t.exec(ctx, addFormulaVersion, row...)
	return err
}

// staleFormula says why the row of a formula was not changed.
func (t *transaction) staleFormula(ctx context.Context, shop store.ShopID, id formula.ID) error {
	if _, err := t.Formula(ctx, shop, id); err != nil {
		return err
	}
	return store.ErrStale
}

const countFormulaNote = `UPDATE formula SET notes = $1 WHERE shop_id = $2 AND id = $3 AND notes = $4`

const addFormulaNote = `
INSERT INTO formula_note (shop_id, formula_id, number, version, noted_us, actor_key, actor_person, request_id, body)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`

// AddFormulaNote implements store.Writer.
func (t *transaction) AddFormulaNote(ctx context.Context, shop store.ShopID, id formula.ID, note store.FormulaNote) error {
	if err := t.addNote(ctx, shop, id, note); err != nil {
		return fmt.Errorf("add note %d of formula %s: %w", note.Number, id, err)
	}
	return nil
}

func (t *transaction) addNote(ctx context.Context, shop store.ShopID, id formula.ID, note store.FormulaNote) error {
	row := []any{
		string(shop), string(id), note.Number, note.Version, note.NotedAt.UnixMicro(), note.Actor.Key, note.Actor.Person, note.RequestID, note.Text,
	}
	if err := t.ready(row); err != nil {
		return err
	}
	of, err := t.FormulaVersions(ctx, shop, id, note.Version-1, 1)
	if err == nil && (len(of) == 0 || of[0].Version != note.Version) {
		err = store.ErrNotFound
	}
	if err != nil {
		return err
	}
	counted, err := t.exec(ctx, countFormulaNote, note.Number, string(shop), string(id), note.Number-1)
	if err != nil {
		return err
	}
	if counted == 0 {
		return t.staleFormula(ctx, shop, id)
	}
	_, err = t.exec(ctx, addFormulaNote, row...)
	return err
}
