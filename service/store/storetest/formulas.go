package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/service/store"
)

// formulaID returns the id of the formula with a number, the same in each shop.
func formulaID(number int) formula.ID {
	return formula.ID(fmt.Sprintf("0195e0a3-%04x-7000-8000-000000000001", number))
}

// newFormula returns a formula with its first version.
func newFormula(shop store.ShopID, number int, name string) (store.Formula, store.FormulaVersion) {
	f := store.Formula{
		Shop: shop, ID: formulaID(number), Name: name, Product: "dry-sausage", CreatedAt: start.Add(time.Duration(number) * time.Minute),
	}
	return nextVersion(f, fmt.Sprintf(`{"name":%q}`, name))
}

// nextVersion returns a formula as it is with its next version, and that one.
func nextVersion(f store.Formula, body string) (store.Formula, store.FormulaVersion) {
	f.Version++
	f.SavedAt = f.CreatedAt.Add(time.Duration(f.Version-1) * time.Hour)
	v := store.FormulaVersion{
		Version: f.Version, SavedAt: f.SavedAt, Actor: lot.Actor{Key: "0195e0a2-0000-7000-8000-000000000001", Person: "R. Invented"},
		RequestID: fmt.Sprintf("request %d", f.Version), Rulebook: "2026-03", Reason: "less salt ✓", Body: body, Previous: f.Digest,
	}
	v.Digest = lot.DigestOf([]byte(string(f.Shop) + string(f.ID) + body + v.Previous.String()))
	f.Digest = v.Digest
	return f, v
}

// newNote returns the next note of a formula, on a version.
func newNote(f store.Formula, version int, text string) store.FormulaNote {
	return store.FormulaNote{
		Number: f.Notes + 1, Version: version, NotedAt: f.SavedAt.Add(time.Duration(f.Notes+1) * time.Minute),
		Actor: lot.Actor{Person: "R. Invented"}, RequestID: newID(), Text: text,
	}
}

func formulaOf(shop store.ShopID, id formula.ID) func(context.Context, store.Reader) (store.Formula, error) {
	return func(ctx context.Context, r store.Reader) (store.Formula, error) { return r.Formula(ctx, shop, id) }
}

func versionsOf(shop store.ShopID, id formula.ID, after, limit int) func(context.Context, store.Reader) ([]store.FormulaVersion, error) {
	return func(ctx context.Context, r store.Reader) ([]store.FormulaVersion, error) {
		return r.FormulaVersions(ctx, shop, id, after, limit)
	}
}

func notesOf(shop store.ShopID, id formula.ID, after, limit int) func(context.Context, store.Reader) ([]store.FormulaNote, error) {
	return func(ctx context.Context, r store.Reader) ([]store.FormulaNote, error) {
		return r.FormulaNotes(ctx, shop, id, after, limit)
	}
}

func addFormula(f store.Formula, v store.FormulaVersion) func(context.Context, store.Writer) error {
	return func(ctx context.Context, w store.Writer) error { return w.AddFormula(ctx, f, v) }
}

func testFormulas(t *testing.T, p Place) {
	s := openWithShops(t, p)
	f, first := newFormula(shopA, 1, "Fennel, thin (invented) ✓ %_\\")
	given := f
	given.Notes = 7 // it has none
	update(t, s, addFormula(given, first))
	wantEqual(t, f, view(t, s, formulaOf(shopA, f.ID)))
	wantEqual(t, []store.FormulaVersion{first}, view(t, s, versionsOf(shopA, f.ID, 0, 10)))
	unseen(t, store.ErrNotFound, s, formulaOf(shopB, f.ID))
	unseen(t, store.ErrNotFound, s, formulaOf(shopA, formulaID(2)))
	for _, none := range [][]store.FormulaVersion{
		view(t, s, versionsOf(shopB, f.ID, 0, 10)), view(t, s, versionsOf(shopA, formulaID(2), 0, 10)), view(t, s, versionsOf(shopA, f.ID, 1, 10)),
		view(t, s, versionsOf(shopA, f.ID, 0, 0)),
	} {
		wantEqual(t, 0, len(none))
	}

	// The same id in another shop is another formula.
	other, otherFirst := newFormula(shopB, 1, "Of another shop")
	update(t, s, addFormula(other, otherFirst))

	again, againFirst := newFormula(shopA, 1, "the same id")
	refuse(t, store.ErrExists, s, addFormula(again, againFirst))
	nowhere, nowhereFirst := newFormula(store.ShopID(newID()), 1, "no such shop")
	refuse(t, store.ErrNotFound, s, addFormula(nowhere, nowhereFirst))

	next, second := nextVersion(f, bodies()[0])
	next.Name, next.Product = "Fennel, thick", "semi-dry-sausage"
	update(t, s, func(ctx context.Context, w store.Writer) error {
		held, err := w.HoldFormula(ctx, shopA, f.ID)
		if err != nil {
			return err
		}
		wantEqual(t, f, held)
		return w.AddFormulaVersion(ctx, next, second)
	})
	wantEqual(t, next, view(t, s, formulaOf(shopA, f.ID)))
	wantEqual(t, []store.FormulaVersion{first, second}, view(t, s, versionsOf(shopA, f.ID, 0, 10)))
	wantEqual(t, []store.FormulaVersion{second}, view(t, s, versionsOf(shopA, f.ID, 1, 1)))
	wantEqual(t, other, view(t, s, formulaOf(shopB, f.ID)))
	refuse(t, store.ErrNotFound, s, func(ctx context.Context, w store.Writer) error {
		_, err := w.HoldFormula(ctx, shopA, formulaID(2))
		return err
	})
}

func testFormulasRefused(t *testing.T, p Place) {
	s := openWithShops(t, p)
	f, first := newFormula(shopA, 1, "Ring")
	update(t, s, addFormula(f, first))
	next, second := nextVersion(f, "{}")
	for _, c := range []struct {
		name   string
		change func(f *store.Formula, v *store.FormulaVersion)
		want   error // nil: one that is not of package store
	}{
		{"of another version than is kept", func(_ *store.Formula, v *store.FormulaVersion) { v.Previous = lot.DigestOf([]byte("x")) }, store.ErrStale},
		{"two further", func(f *store.Formula, v *store.FormulaVersion) { f.Version, v.Version = 3, 3 }, store.ErrStale},
		{"of no formula", func(f *store.Formula, _ *store.FormulaVersion) { f.ID = formulaID(9) }, store.ErrNotFound},
		{"of another shop", func(f *store.Formula, _ *store.FormulaVersion) { f.Shop = shopB }, store.ErrNotFound},
		{"not the end of the formula", func(f *store.Formula, _ *store.FormulaVersion) { f.Version = 3 }, nil},
		{"another digest than the formula", func(f *store.Formula, _ *store.FormulaVersion) { f.Digest = lot.Digest{1} }, nil},
		{"without a digest", func(f *store.Formula, v *store.FormulaVersion) { f.Digest, v.Digest = lot.Digest{}, lot.Digest{} }, nil},
		{"without one before", func(_ *store.Formula, v *store.FormulaVersion) { v.Previous = lot.Digest{} }, nil},
		{"a NUL in the body", func(_ *store.Formula, v *store.FormulaVersion) { v.Body = "\x00" }, nil},
		{"a reason that is no text", func(_ *store.Formula, v *store.FormulaVersion) { v.Reason = "\xff" }, nil},
		{"a name that is no text", func(f *store.Formula, _ *store.FormulaVersion) { f.Name = "\xff" }, nil},
	} {
		g, v := next, second
		c.change(&g, &v)
		err := attempt(t.Context(), s, func(ctx context.Context, w store.Writer) error { return w.AddFormulaVersion(ctx, g, v) })
		if c.want == nil {
			wantOther(t, err)
		} else {
			wantError(t, c.want, err)
		}
		if t.Failed() {
			t.Fatalf("in %q", c.name)
		}
	}
	wantEqual(t, f, view(t, s, formulaOf(shopA, f.ID)))
	wantEqual(t, 1, len(view(t, s, versionsOf(shopA, f.ID, 0, 10))))

	g, v := newFormula(shopA, 2, "begins in the middle")
	g.Version, v.Version, v.Previous = 2, 2, lot.Digest{1}
	wantOther(t, attempt(t.Context(), s, addFormula(g, v)))
	unseen(t, store.ErrNotFound, s, formulaOf(shopA, g.ID))
}

func testFormulaNotes(t *testing.T, p Place) {
	s := openWithShops(t, p)
	f, first := newFormula(shopA, 1, "Ring")
	update(t, s, addFormula(f, first))
	next, second := nextVersion(f, "{}")
	update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddFormulaVersion(ctx, next, second) })
	f = next
	var want []store.FormulaNote
	for i, version := range []int{1, 2, 1} {
		note := newNote(f, version, fmt.Sprintf("note %d ✓\nmore", i))
		update(t, s, func(ctx context.Context, w store.Writer) error { return w.AddFormulaNote(ctx, shopA, f.ID, note) })
		f.Notes++
		want = append(want, note)
	}
	wantEqual(t, f, view(t, s, formulaOf(shopA, f.ID)))
	wantEqual(t, want, view(t, s, notesOf(shopA, f.ID, 0, 10)))
	wantEqual(t, want[1:2], view(t, s, notesOf(shopA, f.ID, 1, 1)))
	wantEqual(t, 0, len(view(t, s, notesOf(shopB, f.ID, 0, 10))))
	wantEqual(t, 2, len(view(t, s, versionsOf(shopA, f.ID, 0, 10)))) // which are as they were

	for _, c := range []struct {
		name string
		shop store.ShopID
		note store.FormulaNote
		want error
	}{
		{"the number of another", shopA, want[2], store.ErrStale},
		{"a number left out", shopA, func() store.FormulaNote { n := newNote(f, 1, "x"); n.Number = 5; return n }(), store.ErrStale},
		{"a version that there is not", shopA, newNote(f, 3, "x"), store.ErrNotFound},
		{"version 0", shopA, newNote(f, 0, "x"), store.ErrNotFound},
		{"another shop", shopB, newNote(f, 1, "x"), store.ErrNotFound},
	} {
		refuse(t, c.want, s, func(ctx context.Context, w store.Writer) error { return w.AddFormulaNote(ctx, c.shop, f.ID, c.note) })
	}
	wantEqual(t, want, view(t, s, notesOf(shopA, f.ID, 0, 10)))
}

func testListOfFormulas(t *testing.T, p Place) {
	s := openWithShops(t, p)
	formulas := func(filter store.FormulaFilter, after store.FormulaMark, limit int) []store.Formula {
		return view(t, s, func(ctx context.Context, r store.Reader) ([]store.Formula, error) {
			return r.Formulas(ctx, shopA, filter, after, limit)
		})
	}
	wantEqual(t, 0, len(formulas(store.FormulaFilter{}, store.FormulaMark{}, 10)))
	// Names differ in case, script and signs; two are the same.
	names := []string{"fennel", "Fennel", "FENNEL thin", "Ärmel", "zeta", "Zeta 50%_", "秤", "a", "B", "Ω end"}
	var want []store.Formula
	for i, name := range names {
		f, v := newFormula(shopA, i+1, name)
		f.Product = []string{"dry-sausage", "cooked-sausage"}[i%2]
		update(t, s, addFormula(f, v))
		want = append(want, f)
		other, otherFirst := newFormula(shopB, i+1, name)
		update(t, s, addFormula(other, otherFirst))
	}
	// By the name without regard to case, in the order of the code points; by hand.
	order := []string{"a", "B", "fennel", "Fennel", "FENNEL thin", "zeta", "Zeta 50%_", "Ärmel", "Ω end", "秤"}
	slices.SortFunc(want, func(a, b store.Formula) int { return slices.Index(order, a.Name) - slices.Index(order, b.Name) })
	wantEqual(t, want, formulas(store.FormulaFilter{}, store.FormulaMark{}, 100))
	wantEqual(t, 0, len(formulas(store.FormulaFilter{}, store.FormulaMark{}, 0)))
	for size := 1; size <= 11; size++ {
		for _, filter := range []store.FormulaFilter{{}, {Product: "cooked-sausage"}, {NameContains: "eN"}, {NameContains: "%_"}, {NameContains: "e", Product: "dry-sausage"}} {
			var got []store.Formula
			for mark := (store.FormulaMark{}); ; {
				page := formulas(filter, mark, size)
				got = append(got, page...)
				if len(page) < size {
					break
				}
				last := page[len(page)-1]
				mark = store.FormulaMark{Name: last.Name, ID: last.ID}
			}
			passed := slices.DeleteFunc(slices.Clone(want), func(f store.Formula) bool {
				return filter.Product != "" && f.Product != filter.Product || !strings.Contains(strings.ToLower(f.Name), strings.ToLower(filter.NameContains))
			})
			if len(passed) == 0 {
				t.Fatalf("the filter %+v lets nothing pass", filter)
			}
			wantEqual(t, passed, got)
		}
	}
}

// Many add a version at once, each after the latest: all are kept, one after the
// other.
func testManyVersions(t *testing.T, p Place) {
	const writers, each = 4, 5
	s := openWithShops(t, p)
	f, first := newFormula(shopA, 1, "Ring")
	update(t, s, addFormula(f, first))
	var all sync.WaitGroup
	errs := make(chan error, writers*each)
	for n := range writers {
		all.Go(func() {
			for i := range each {
				errs <- attempt(t.Context(), s, func(ctx context.Context, w store.Writer) error {
					held, err := w.HoldFormula(ctx, shopA, f.ID)
					if err != nil {
						return err
					}
					next, v := nextVersion(held, fmt.Sprintf(`{"writer":%d,"version":%d}`, n, i))
					return w.AddFormulaVersion(ctx, next, v)
				})
			}
		})
	}
	all.Wait()
	close(errs)
	for err := range errs {
		if err != nil {
			t.Error(err)
		}
	}
	var before lot.Digest
	kept := view(t, s, versionsOf(shopA, f.ID, 0, 100))
	wantEqual(t, writers*each+1, len(kept))
	for i, v := range kept {
		if v.Version != i+1 || v.Previous != before {
			t.Fatalf("version %d does not go on with the one before", v.Version)
		}
		before = v.Digest
	}
}

// tellFormulas is the part of the story that is of formulas.
func tellFormulas(ctx context.Context, w store.Writer, shop store.ShopID, i int) error {
	for n := range 4 {
		f, v := newFormula(shop, n+1, fmt.Sprintf("Ring %d von %d, Größe 50%%_ 秤", n, i))
		if err := w.AddFormula(ctx, f, v); err != nil {
			return err
		}
		for _, body := range bodies()[:n] {
			f, v = nextVersion(f, body)
			note := newNote(f, f.Version-1, "noted ✓")
			note.RequestID = fmt.Sprintf("request %d", f.Version)
			f.Notes++
			if err := errors.Join(w.AddFormulaVersion(ctx, f, v), w.AddFormulaNote(ctx, shop, f.ID, note)); err != nil {
				return err
			}
		}
	}
	return nil
}

// recountFormulas is the part of the recount that is of formulas.
func recountFormulas(ctx context.Context, r store.Reader, shop store.ShopID, page int, line func(any)) error {
	for after := (store.FormulaMark{}); ; {
		formulas, err := r.Formulas(ctx, shop, store.FormulaFilter{}, after, page)
		if err != nil {
			return err
		}
		for _, f := range formulas {
			line(f)
			versions, err := r.FormulaVersions(ctx, shop, f.ID, 0, 100)
			if err != nil {
				return err
			}
			for _, v := range versions {
				line(v)
			}
			notes, err := r.FormulaNotes(ctx, shop, f.ID, 0, 100)
			if err != nil {
				return err
			}
			for _, n := range notes {
				line(n)
			}
			after = store.FormulaMark{Name: f.Name, ID: f.ID}
		}
		if len(formulas) < page {
			return nil
		}
	}
}
