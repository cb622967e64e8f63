package formulas

import (
	"context"
	"fmt"

	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/service/request"
	"greenweight/service/store"
)

// ChangedError is a version that is not as it was saved: it was changed in the
// store.
type ChangedError struct {
	Formula formula.ID
	Version int
}

// Error says so.
func (e *ChangedError) Error() string {
	return fmt.Sprintf("version %d of formula %s has another digest than it was saved with", e.Version, e.Formula)
}

// Latest returns the latest version of a formula; fault.NotFound when the shop
// has none of this id, and [ChangedError].
func (s *Service) Latest(ctx context.Context, shop store.ShopID, id formula.ID) (Saved, error) {
	return s.at(ctx, shop, id, 0)
}

// Version returns a version of a formula; fault.NotFound when the shop has no
// such formula or the formula no such version, and [ChangedError].
func (s *Service) Version(ctx context.Context, shop store.ShopID, id formula.ID, version int) (Saved, error) {
	return s.at(ctx, shop, id, version)
}

func (s *Service) at(ctx context.Context, shop store.ShopID, id formula.ID, version int) (Saved, error) {
	var out Saved
	err := s.store.View(ctx, func(r store.Reader) (err error) {
		out, err = savedAt(ctx, r, shop, id, version)
		return err
	})
	return out, err
}

// Two returns two versions of a formula as they are at one moment, with the
// errors of Version.
func (s *Service) Two(ctx context.Context, shop store.ShopID, id formula.ID, from, to int) (before, after Saved, err error) {
	err = s.store.View(ctx, func(r store.Reader) (err error) {
		if before, err = savedAt(ctx, r, shop, id, from); err != nil {
			return err
		}
		after, err = savedAt(ctx, r, shop, id, to)
		return err
	})
	return before, after, err
}

// savedAt returns a version of a formula, the latest for 0.
func savedAt(ctx context.Context, r store.Reader, shop store.ShopID, id formula.ID, version int) (Saved, error) {
	f, err := r.Formula(ctx, shop, id)
	if err != nil {
		return Saved{}, unknownFormula(err)
	}
	if version == 0 {
		version = f.Version
	}
	out := Saved{Formula: f}
	found, err := r.FormulaVersions(ctx, shop, id, version-1, 1)
	if err == nil && (len(found) == 0 || found[0].Version != version) {
		err = store.ErrNotFound
	}
	if err != nil {
		return Saved{}, unknownVersion(version, err)
	}
	out.Version = found[0]
	if err := verify(f, out.Version); err != nil {
		return Saved{}, err
	}
	notes, err := allNotes(ctx, r, f)
	if err != nil {
		return Saved{}, err
	}
	for _, n := range notes {
		if n.Version == version {
			out.Notes = append(out.Notes, n)
		}
	}
	return out, nil
}

func allNotes(ctx context.Context, r store.Reader, f store.Formula) ([]store.FormulaNote, error) {
	var all []store.FormulaNote
	for len(all) < f.Notes {
		page, err := r.FormulaNotes(ctx, f.Shop, f.ID, len(all), readAtOnce)
		if err != nil {
			return nil, err
		}
		if len(page) == 0 {
			break
		}
		all = append(all, page...)
	}
	return all, nil
}

// verify computes the digest of a version anew.
func verify(f store.Formula, v store.FormulaVersion) error {
	canonical, err := Canonical(f.Shop, f.ID, v)
	if err != nil || lot.DigestOf(canonical) != v.Digest || v.Version == f.Version && v.Digest != f.Digest {
		return &ChangedError{f.ID, v.Version}
	}
	return nil
}

// VerifyChain computes the digests of all versions of a formula anew, and holds
// them against those that were kept, those that the next versions name, and the one
// of the formula. It says for people what does not hold; "" when all does.
func VerifyChain(f store.Formula, versions []store.FormulaVersion) string {
	var before lot.Digest
	for i, v := range versions {
		if v.Version != i+1 {
			return fmt.Sprintf("version %d is missing; what comes next is version %d", i+1, v.Version)
		}
		if v.Previous != before {
			return fmt.Sprintf("version %d names another digest for the version before it than that one has", v.Version)
		}
		canonical, err := Canonical(f.Shop, f.ID, v)
		if err != nil || lot.DigestOf(canonical) != v.Digest {
			return fmt.Sprintf("version %d has another digest than was computed when it was saved: it was changed", v.Version)
		}
		before = v.Digest
	}
	if f.Version != len(versions) || f.Digest != before {
		return fmt.Sprintf("it has %d versions, and says that the latest is version %d", len(versions), f.Version)
	}
	return ""
}

// VersionPage is a page of the versions of a formula.
type VersionPage struct {
	Formula  store.Formula
	Versions []Saved
	Next     string // cursor of the next page; empty on the last
}

// Versions returns a page of the versions of a formula, from the place that the
// cursor says; the first page for "". It reports fault.NotFound when the shop has
// no such formula, fault.Malformed for a cursor that is not one of this list, and
// [ChangedError].
func (s *Service) Versions(ctx context.Context, shop store.ShopID, id formula.ID, cursor string, limit int) (VersionPage, error) {
	list, err := request.List("versions", shop, id)
	if err != nil {
		return VersionPage{}, err
	}
	var after int
	if err := s.cursors.Read(cursor, list, &after); err != nil {
		return VersionPage{}, err
	}
	var page VersionPage
	err = s.store.View(ctx, func(r store.Reader) error {
		f, err := r.Formula(ctx, shop, id)
		if err != nil {
			return unknownFormula(err)
		}
		page = VersionPage{Formula: f}
		versions, err := r.FormulaVersions(ctx, shop, id, after, limit+1)
		if err != nil {
			return err
		}
		notes, err := allNotes(ctx, r, f)
		if err != nil {
			return err
		}
		of := map[int][]store.FormulaNote{}
		for _, n := range notes {
			of[n.Version] = append(of[n.Version], n)
		}
		for _, v := range versions {
			if err := verify(f, v); err != nil {
				return err
			}
			page.Versions = append(page.Versions, Saved{Formula: f, Version: v, Notes: of[v.Version]})
		}
		return nil
	})
	if err != nil || len(page.Versions) <= limit {
		return page, err
	}
	page.Versions = page.Versions[:limit]
	page.Next, err = s.cursors.Write(list, page.Versions[limit-1].Version.Version)
	return page, err
}

// Page is a page of formulas.
type Page struct {
	Formulas []store.Formula
	Next     string // cursor of the next page; empty on the last
}

// List returns a page of the shop's formulas that pass the filter, by their
// names, from the place that the cursor says; the first page for "". A cursor that
// is not one of this list is fault.Malformed.
func (s *Service) List(ctx context.Context, shop store.ShopID, filter store.FormulaFilter, cursor string, limit int) (Page, error) {
	list, err := request.List("formulas", shop, filter)
	if err != nil {
		return Page{}, err
	}
	var mark store.FormulaMark
	if err := s.cursors.Read(cursor, list, &mark); err != nil {
		return Page{}, err
	}
	var page Page
	err = s.store.View(ctx, func(r store.Reader) error {
		found, err := r.Formulas(ctx, shop, filter, mark, limit+1)
		page = Page{Formulas: found}
		return err
	})
	if err != nil || len(page.Formulas) <= limit {
		return page, err
	}
	page.Formulas = page.Formulas[:limit]
	last := page.Formulas[limit-1]
	page.Next, err = s.cursors.Write(list, store.FormulaMark{Name: last.Name, ID: last.ID})
	return page, err
}

// Bodies returns the latest version of each of some formulas of a shop, in their
// order, as they are now; fault.NotFound when there is one that the shop does not
// have, and [ChangedError].
func (s *Service) Bodies(ctx context.Context, shop store.ShopID, ids []formula.ID) ([]string, error) {
	var out []string
	err := s.store.View(ctx, func(r store.Reader) error {
		out = make([]string, 0, len(ids))
		for _, id := range ids {
			saved, err := savedAt(ctx, r, shop, id, 0)
			if err != nil {
				return err
			}
			out = append(out, saved.Version.Body)
		}
		return nil
	})
	return out, err
}
