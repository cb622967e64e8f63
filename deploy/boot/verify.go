package boot

import (
	"context"
	"fmt"
	"strings"

	"greenweight/domain/lot"
	"greenweight/service/formulas"
	"greenweight/service/lots"
	"greenweight/service/store"
)

const (
	// rowsAtOnce is how many shops, keys and lots are read from a store at once.
	rowsAtOnce = 200
	// entriesAtOnce is how many entries are.
	entriesAtOnce = 1000
	// brokenShown is how many ledgers that do not hold are named.
	brokenShown = 20
)

// tally counts what a store keeps.
type tally struct{ Shops, Keys, Lots, Entries, Formulas, Versions, Remembered int }

// ledgers says how many ledgers there are.
func (t tally) ledgers() string {
	return fmt.Sprintf("%s with %s in %s", count(t.Lots, "ledger", "ledgers"), count(t.Entries, "entry", "entries"), count(t.Shops, "shop", "shops"))
}

// saved says how many formulas there are.
func (t tally) saved() string {
	return fmt.Sprintf("%s in %s", count(t.Formulas, "formula", "formulas"), count(t.Versions, "version", "versions"))
}

// count says how many there are of something.
func count(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

// ChainError says which ledgers and saved formulas do not hold.
type ChainError struct {
	Broken []string // at most some of them, a line for each
	Of     tally
	Count  int
}

func (e *ChainError) add(what string) {
	e.Count++
	if len(e.Broken) < brokenShown {
		e.Broken = append(e.Broken, what)
	}
}

// Error says so, on several lines.
func (e *ChainError) Error() string {
	of := count(e.Of.Lots, "ledger", "ledgers")
	if e.Of.Formulas > 0 {
		of += " and " + count(e.Of.Formulas, "formula", "formulas")
	}
	text := fmt.Sprintf("%d of %s do not hold: they are not as they were recorded\n  %s", e.Count, of, strings.Join(e.Broken, "\n  "))
	if more := e.Count - len(e.Broken); more > 0 {
		text += fmt.Sprintf("\n  and %d more", more)
	}
	return text
}

// verifyStore computes all digests of all ledgers and saved formulas anew. It
// returns a [ChainError] when some do not hold.
func verifyStore(ctx context.Context, st store.Store) (tally, error) {
	var found tally
	wrong := &ChainError{}
	err := eachShop(ctx, st, func(shop store.Shop) error {
		found.Shops++
		err := eachFormula(ctx, st, shop.ID, func(f savedFormula) error {
			found.Formulas++
			found.Versions += len(f.versions)
			if broken := formulas.VerifyChain(f.formula, f.versions); broken != "" {
				wrong.add(fmt.Sprintf("formula %s (%s) of shop %s: %s", f.formula.ID, f.formula.Name, shop.ID, broken))
			}
			return nil
		})
		if err != nil {
			return err
		}
		return eachLot(ctx, st, shop.ID, func(l store.Lot) error {
			now, entries, err := ledgerOf(ctx, st, l)
			if err != nil {
				return err
			}
			found.Lots++
			found.Entries += len(entries)
			if _, broken := lots.VerifyChain(now, entries); broken != nil {
				wrong.add(fmt.Sprintf("lot %d (%s) of shop %s: %s", l.Number, l.ID, l.Shop, broken.Detail))
			}
			return nil
		})
	})
	if err == nil && wrong.Count > 0 {
		wrong.Of = found
		err = wrong
	}
	return found, err
}

// eachShop calls do for each shop, by id.
func eachShop(ctx context.Context, st store.Store, do func(store.Shop) error) error {
	var after store.ShopID
	for {
		var page []store.Shop
		err := st.View(ctx, func(r store.Reader) (err error) {
			page, err = r.Shops(ctx, after, rowsAtOnce)
			return err
		})
		if err != nil {
			return err
		}
		for _, shop := range page {
			if err := do(shop); err != nil {
				return err
			}
		}
		if len(page) < rowsAtOnce {
			return nil
		}
		after = page[len(page)-1].ID
	}
}

// eachLot calls do for each lot of a shop, those opened last first.
func eachLot(ctx context.Context, st store.Store, shop store.ShopID, do func(store.Lot) error) error {
	var after store.LotMark
	for {
		var page []store.Lot
		err := st.View(ctx, func(r store.Reader) (err error) {
			page, err = r.Lots(ctx, shop, store.LotFilter{}, after, rowsAtOnce)
			return err
		})
		if err != nil {
			return err
		}
		for _, l := range page {
			if err := do(l); err != nil {
				return err
			}
		}
		if len(page) < rowsAtOnce {
			return nil
		}
		last := page[len(page)-1]
		after = store.LotMark{OpenedAt: last.OpenedAt, ID: last.ID}
	}
}

// ledgerOf returns a lot, as it is now, with all its entries.
func ledgerOf(ctx context.Context, st store.Store, l store.Lot) (store.Lot, []lot.Entry, error) {
	var now store.Lot
	var all []lot.Entry
	err := st.View(ctx, func(r store.Reader) (err error) {
		all = nil
		if now, err = r.Lot(ctx, l.Shop, l.ID); err != nil {
			return err
		}
		for after := 0; ; after = all[len(all)-1].Sequence {
			page, err := r.Entries(ctx, l.Shop, l.ID, after, entriesAtOnce)
			if err != nil {
				return err
			}
			all = append(all, page...)
			if len(page) < entriesAtOnce {
				return nil
			}
		}
	})
	return now, all, err
}

// savedFormula is a saved formula with all that is kept of it.
type savedFormula struct {
	formula  store.Formula
	versions []store.FormulaVersion
	notes    []store.FormulaNote
}

// eachFormula calls do for each saved formula of a shop, by name.
func eachFormula(ctx context.Context, st store.Store, shop store.ShopID, do func(savedFormula) error) error {
	var after store.FormulaMark
	for {
		var page []store.Formula
		err := st.View(ctx, func(r store.Reader) (err error) {
			page, err = r.Formulas(ctx, shop, store.FormulaFilter{}, after, rowsAtOnce)
			return err
		})
		if err != nil {
			return err
		}
		for _, f := range page {
			whole, err := formulaOf(ctx, st, f)
			if err != nil {
				return err
			}
			if err := do(whole); err != nil {
				return err
			}
		}
		if len(page) < rowsAtOnce {
			return nil
		}
		last := page[len(page)-1]
		after = store.FormulaMark{Name: last.Name, ID: last.ID}
	}
}

// formulaOf returns a saved formula, as it is now, with all its versions and
// notes.
func formulaOf(ctx context.Context, st store.Store, f store.Formula) (savedFormula, error) {
	var whole savedFormula
	err := st.View(ctx, func(r store.Reader) (err error) {
		whole = savedFormula{}
		if whole.formula, err = r.Formula(ctx, f.Shop, f.ID); err != nil {
			return err
		}
		for {
			page, err := r.FormulaVersions(ctx, f.Shop, f.ID, len(whole.versions), entriesAtOnce)
			if err != nil {
				return err
			}
			whole.versions = append(whole.versions, page...)
			if len(page) < entriesAtOnce {
				break
			}
		}
		for {
			page, err := r.FormulaNotes(ctx, f.Shop, f.ID, len(whole.notes), entriesAtOnce)
			if err != nil {
				return err
			}
			whole.notes = append(whole.notes, page...)
			if len(page) < entriesAtOnce {
				return nil
			}
		}
	})
	return whole, err
}
