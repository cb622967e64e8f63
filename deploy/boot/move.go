package boot

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/service/request"
	"greenweight/service/store"
	"greenweight/service/store/sqlstore"
)

const (
	// moveAtOnce is how many entries are written in one transaction, and how many
	// lots at most.
	moveAtOnce = 500
	// progressEvery is how often people are told how far a move has come.
	progressEvery = 5 * time.Second
	// settingCursor is the setting that signs cursors. It is moved, so that those
	// that clients hold go on, and is what tells one store from another: it is
	// made at random.
	settingCursor = request.SettingCursorSecret
)

// move copies a store into another.
func (c call) move(ctx context.Context, args []string) error {
	flags := newFlags("move")
	from := flags.String("from", "", "")
	to := flags.String("to", "", "")
	if _, err := parse(flags, args, 0); err != nil {
		return err
	}
	if *from == "" || *to == "" {
		return &usageError{"move needs --from and --to, each with the address of a store"}
	}
	source, err := readAddress(*from)
	if err != nil {
		return err
	}
	target, err := readAddress(*to)
	if err != nil {
		return err
	}
	found, err := moveStore(ctx, source, target, func(text string) { _ = printTo(c.stderr, text+"\n") }, nil)
	if err != nil {
		return err
	}
	return printTo(c.stdout, fmt.Sprintf("%s: %s, %s, %s and %s, all ledgers verified and equal to those of %s\n",
		placeOf(target), found.ledgers(), found.saved(), count(found.Keys, "key", "keys"),
		count(found.Remembered, "remembered request", "remembered requests"), placeOf(source)))
}

// readAddress returns the address of a store, which may stand in a file.
func readAddress(given string) (string, error) {
	path, inFile := strings.CutPrefix(given, "@")
	if !inFile {
		return given, nil
	}
	text, err := os.ReadFile(path) //nolint:gosec // whoever runs the program names it
	if err != nil {
		return "", fmt.Errorf("read the address of a store: %w", err)
	}
	return strings.TrimSpace(string(text)), nil
}

// moveStore copies all that the store at one address keeps into the one at
// another, verifies every ledger there and compares both. say gets what people
// should know meanwhile, and between is called after each transaction that wrote
// into the target; nil for nothing.
//
// The target must be empty, or hold the beginning of a move from the same
// source: how far it came is seen from what is there, so that a move can end at
// any point and be done again.
func moveStore(ctx context.Context, source, target string, say func(string), between func() error) (found tally, err error) {
	if source == target || placeOf(source) == placeOf(target) && strings.HasPrefix(source, "sqlite:") {
		return tally{}, errors.New("move a store: --from and --to are the same")
	}
	from, err := sqlstore.Open(ctx, source, sqlstore.Options{})
	if err != nil {
		return tally{}, fmt.Errorf("--from (%s): %w", placeOf(source), err)
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	to, err := sqlstore.Open(ctx, target, sqlstore.Options{Migrate: true})
	if err != nil {
		return tally{}, fmt.Errorf("--to (%s): %w", placeOf(target), err)
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	m := mover{from: from, to: to, say: say, between: between, told: time.Now()}
	return m.move(ctx, placeOf(source), placeOf(target))
}

// mover copies a store.
type mover struct {
	from, to store.Store
	say      func(string)
	between  func() error
	told     time.Time // when progress was told last
	done     tally     // of what was copied or was there already
}

func (m *mover) move(ctx context.Context, source, target string) (tally, error) {
	mark, err := m.begin(ctx, source, target)
	if err != nil {
		return tally{}, err
	}
	m.say("Nothing may write to " + source + " until this is done: stop the service.")
	if err := m.copyAll(ctx); err != nil {
		return tally{}, fmt.Errorf("move into %s: %w\n  run the same command again to go on", target, err)
	}
	m.say("All is copied. Now every ledger is verified and compared.")
	found, err := verifyStore(ctx, m.to)
	if err != nil {
		return tally{}, fmt.Errorf("verify %s: %w", target, err)
	}
	if err := m.compare(ctx, source); err != nil {
		return tally{}, err
	}
	mark.DoneAt = time.Now().UTC()
	if err := m.to.Update(ctx, func(w store.Writer) error { return mark.write(ctx, w) }); err != nil {
		return tally{}, fmt.Errorf("say in %s that the move is done: %w", target, err)
	}
	found.Keys, found.Remembered = m.done.Keys, m.done.Remembered
	return found, nil
}

// begin sees whether the target may be moved into, and marks it.
func (m *mover) begin(ctx context.Context, source, target string) (moveMark, error) {
	// A source that a move did not fill yet is nothing to move on.
	before, err := readMark(ctx, m.from)
	if err == nil && before.unfinished() {
		err = fmt.Errorf("the move from %s into it did not come to its end", before.From)
	}
	if err != nil {
		return moveMark{}, fmt.Errorf("move from %s: %w", source, err)
	}
	name, err := m.fingerprint(ctx)
	if err != nil {
		return moveMark{}, fmt.Errorf("move from %s: %w", source, err)
	}
	mark, err := readMark(ctx, m.to)
	switch {
	case err != nil:
		return moveMark{}, fmt.Errorf("move into %s: %w", target, err)
	case mark.unfinished() && mark.Source == name:
		m.say("Going on with the move that was begun at " + mark.BegunAt.Format(time.RFC3339) + ".")
		return mark, nil
	case mark.unfinished():
		return moveMark{}, fmt.Errorf("move into %s: it holds the beginning of a move from another store, %s; name an empty one", target, mark.From)
	}
	if err := m.wantEmpty(ctx); err != nil {
		return moveMark{}, fmt.Errorf("move into %s: %w", target, err)
	}
	mark = moveMark{From: source, Source: name, BegunAt: time.Now().UTC()}
	if err := m.write(ctx, func(w store.Writer) error { return mark.write(ctx, w) }); err != nil {
		return moveMark{}, fmt.Errorf("move into %s: %w", target, err)
	}
	return mark, nil
}

// fingerprint returns what tells the source from other stores.
func (m *mover) fingerprint(ctx context.Context) (string, error) {
	var text string
	err := m.from.View(ctx, func(r store.Reader) (err error) {
		text, err = r.Setting(ctx, settingCursor)
		if !errors.Is(err, store.ErrNotFound) {
			return err
		}
		// It was never served: its shops will do, which are older than their lots.
		first, err := r.Shops(ctx, "", rowsAtOnce)
		text = fmt.Sprint(first)
		return err
	})
	sum := sha256.Sum256([]byte("source of a move\n" + text))
	return hex.EncodeToString(sum[:]), err
}

// wantEmpty returns an error for a target that keeps anything: more than the
// first shop, which a service makes as soon as it is started.
func (m *mover) wantEmpty(ctx context.Context) error {
	empty := true
	err := m.to.View(ctx, func(r store.Reader) error {
		keyed, err := r.AnyKey(ctx)
		if err != nil {
			return err
		}
		all, err := r.Shops(ctx, "", 2)
		if err != nil {
			return err
		}
		empty = !keyed && len(all) < 2
		for _, shop := range all {
			kept, err := r.Lots(ctx, shop.ID, store.LotFilter{}, store.LotMark{}, 1)
			if err != nil {
				return err
			}
			remembered, err := r.AllRemembered(ctx, shop.ID, "", 1)
			if err != nil {
				return err
			}
			saved, err := r.Formulas(ctx, shop.ID, store.FormulaFilter{}, store.FormulaMark{}, 1)
			if err != nil {
				return err
			}
			empty = empty && shop.ID == store.FirstShop && len(kept) == 0 && len(saved) == 0 && len(remembered) == 0
		}
		return nil
	})
	if err == nil && !empty {
		err = errors.New("it is not empty; name a store that is")
	}
	return err
}

// write runs one transaction on the target.
func (m *mover) write(ctx context.Context, write func(store.Writer) error) error {
	if err := m.to.Update(ctx, write); err != nil {
		return err
	}
	if m.between == nil {
		return nil
	}
	return m.between()
}

// ignoring returns err unless it says that there is one already.
func ignoring(err error) error {
	if errors.Is(err, store.ErrExists) {
		return nil
	}
	return err
}

func (m *mover) copyAll(ctx context.Context) error {
	if err := m.copySetting(ctx, settingCursor); err != nil {
		return err
	}
	return eachShop(ctx, m.from, func(shop store.Shop) error {
		if err := m.write(ctx, func(w store.Writer) error { return ignoring(w.AddShop(ctx, shop)) }); err != nil {
			return err
		}
		for _, step := range []func(context.Context, store.ShopID) error{m.copyKeys, m.copyFormulas, m.copyLots, m.copyRemembered} {
			if err := step(ctx, shop.ID); err != nil {
				return err
			}
		}
		return nil
	})
}

func (m *mover) copySetting(ctx context.Context, name string) error {
	var value string
	err := m.from.View(ctx, func(r store.Reader) (err error) {
		value, err = r.Setting(ctx, name)
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	return m.write(ctx, func(w store.Writer) error { return w.SetSetting(ctx, name, value) })
}

// copyKeys copies the keys of a shop. One that was revoked since it was copied
// is revoked.
func (m *mover) copyKeys(ctx context.Context, shop store.ShopID) error {
	var after store.KeyID
	for {
		var page []store.Key
		err := m.from.View(ctx, func(r store.Reader) (err error) {
			page, err = r.Keys(ctx, shop, after, rowsAtOnce)
			return err
		})
		if err != nil || len(page) == 0 {
			return err
		}
		err = m.write(ctx, func(w store.Writer) error {
			for _, key := range page {
				err := w.AddKey(ctx, key)
				if errors.Is(err, store.ErrExists) {
					err = nil
					if !key.RevokedAt.IsZero() {
						err = w.RevokeKey(ctx, shop, key.ID, key.RevokedAt)
					}
				}
				if err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		m.done.Keys += len(page)
		after = page[len(page)-1].ID
	}
}

// copyFormulas copies the saved formulas of a shop, each in one transaction with
// all that is not there yet.
func (m *mover) copyFormulas(ctx context.Context, shop store.ShopID) error {
	return eachFormula(ctx, m.from, shop, func(f savedFormula) error {
		err := m.write(ctx, func(w store.Writer) error { return f.write(ctx, w) })
		if err != nil {
			return fmt.Errorf("formula %s of shop %s: %w", f.formula.ID, shop, err)
		}
		return nil
	})
}

// write adds what of the formula is not there yet.
func (f savedFormula) write(ctx context.Context, w store.Writer) error {
	there, err := w.Formula(ctx, f.formula.Shop, f.formula.ID)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	for _, v := range f.versions[min(there.Version, len(f.versions)):] {
		then := f.formula // what lists show of it is that of the whole
		then.Version, then.Digest = v.Version, v.Digest
		if v.Version == 1 {
			err = w.AddFormula(ctx, then, v)
		} else {
			err = w.AddFormulaVersion(ctx, then, v)
		}
		if err != nil {
			return err
		}
	}
	for _, n := range f.notes[min(there.Notes, len(f.notes)):] {
		if err := w.AddFormulaNote(ctx, f.formula.Shop, f.formula.ID, n); err != nil {
			return err
		}
	}
	return nil
}

// copyRemembered copies what was done for idempotency keys, so that a request
// that was sent to the source is known in the target.
func (m *mover) copyRemembered(ctx context.Context, shop store.ShopID) error {
	after := ""
	for {
		var page []store.Remembered
		err := m.from.View(ctx, func(r store.Reader) (err error) {
			page, err = r.AllRemembered(ctx, shop, after, rowsAtOnce)
			return err
		})
		if err != nil || len(page) == 0 {
			return err
		}
		err = m.write(ctx, func(w store.Writer) error {
			for _, r := range page {
				if err := ignoring(w.Remember(ctx, r)); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		m.done.Remembered += len(page)
		after = page[len(page)-1].Key
	}
}

// numbered is a lot in the order in which they were numbered.
type numbered struct {
	number int64
	id     lot.ID
}

// copyLots copies the lots of a shop in the order of their numbers, so that the
// target counts them out again and goes on where the source stopped.
func (m *mover) copyLots(ctx context.Context, shop store.ShopID) error {
	var all []numbered
	err := eachLot(ctx, m.from, shop, func(l store.Lot) error {
		all = append(all, numbered{l.Number, l.ID})
		return nil
	})
	if err != nil {
		return err
	}
	slices.SortFunc(all, func(a, b numbered) int { return cmp.Compare(a.number, b.number) })
	var waiting []piece
	entries := 0
	flush := func() error {
		if len(waiting) == 0 {
			return nil
		}
		err := m.write(ctx, func(w store.Writer) error {
			for _, p := range waiting {
				if err := p.write(ctx, w); err != nil {
					return fmt.Errorf("lot %d (%s) of shop %s: %w", p.lot.Number, p.lot.ID, shop, err)
				}
			}
			return nil
		})
		waiting, entries = waiting[:0], 0
		return err
	}
	for i, n := range all {
		head, err := m.headOf(ctx, m.to, shop, n.id)
		if err != nil {
			return err
		}
		m.progress(i, len(all))
		for complete := false; !complete; {
			var p piece
			if p, complete, err = m.read(ctx, shop, n.id, head.Sequence); err != nil {
				return err
			}
			if len(p.entries) == 0 {
				break
			}
			head = p.lot.Head
			waiting = append(waiting, p)
			if entries += len(p.entries); entries >= moveAtOnce {
				if err := flush(); err != nil {
					return err
				}
			}
		}
	}
	return flush()
}

// headOf returns how far a ledger has come; nothing when there is none.
func (m *mover) headOf(ctx context.Context, st store.Store, shop store.ShopID, id lot.ID) (lot.Head, error) {
	var head lot.Head
	err := st.View(ctx, func(r store.Reader) error {
		l, err := r.Lot(ctx, shop, id)
		head = l.Head
		if errors.Is(err, store.ErrNotFound) {
			head, err = lot.Head{}, nil
		}
		return err
	})
	return head, err
}

// progress tells people how far a shop has come.
func (m *mover) progress(lots, of int) {
	if time.Since(m.told) >= progressEvery {
		m.told = time.Now()
		m.say(fmt.Sprintf("%d of %s", lots, count(of, "lot", "lots")))
	}
}

// piece is a part of a ledger, and the lot as it is with it as its end: what
// lists show of it is that of the whole.
type piece struct {
	lot     store.Lot
	entries []lot.Entry
}

// read returns the entries of a lot after a sequence, as many as are written at
// once, and whether they are its last.
func (m *mover) read(ctx context.Context, shop store.ShopID, id lot.ID, after int) (piece, bool, error) {
	var p piece
	complete := false
	err := m.from.View(ctx, func(r store.Reader) (err error) {
		if p.lot, err = r.Lot(ctx, shop, id); err != nil {
			return err
		}
		if p.entries, err = r.Entries(ctx, shop, id, after, moveAtOnce); err != nil || len(p.entries) == 0 {
			return err
		}
		last := p.entries[len(p.entries)-1]
		complete = last.Sequence == p.lot.Head.Sequence
		p.lot.Head = lot.Head{Sequence: last.Sequence, Digest: last.Digest}
		return nil
	})
	return p, complete, err
}

// write appends what of the piece is not there yet.
func (p piece) write(ctx context.Context, w store.Writer) error {
	there, err := w.Lot(ctx, p.lot.Shop, p.lot.ID)
	if errors.Is(err, store.ErrNotFound) {
		there, err = store.Lot{}, p.open(ctx, w)
	}
	if err != nil {
		return err
	}
	entries := p.entries
	for len(entries) > 0 && entries[0].Sequence <= there.Head.Sequence {
		entries = entries[1:]
	}
	if len(entries) == 0 {
		return nil
	}
	return w.AddEntries(ctx, p.lot, entries)
}

// open makes the lot, with its own number.
func (p piece) open(ctx context.Context, w store.Writer) error {
	for number := int64(0); number != p.lot.Number; {
		var err error
		if number, err = w.NextLotNumber(ctx, p.lot.Shop); err != nil {
			return err
		}
		if number > p.lot.Number {
			return fmt.Errorf("the store counts on from %d: somebody else has opened lots in it", number)
		}
	}
	empty := p.lot
	empty.Head = lot.Head{}
	return w.AddLot(ctx, empty)
}

// errGone is a row that one store has and the other has not.
var errGone = errors.New("the two do not keep the same: has something been written to the source? Stop the service and run the same command again")

// compare holds all shops, keys and lots of both stores against each other.
func (m *mover) compare(ctx context.Context, source string) error {
	err := eachShop(ctx, m.from, func(shop store.Shop) error {
		var there store.Shop
		err := m.to.View(ctx, func(r store.Reader) (err error) {
			there, err = r.Shop(ctx, shop.ID)
			return err
		})
		if errors.Is(err, store.ErrNotFound) || err == nil && there.Name != shop.Name {
			return fmt.Errorf("shop %s: %w", shop.ID, errGone)
		}
		if err != nil {
			return err
		}
		return m.compareShop(ctx, shop.ID)
	})
	if err != nil {
		return fmt.Errorf("compare with %s: %w", source, err)
	}
	return nil
}

func (m *mover) compareShop(ctx context.Context, shop store.ShopID) error {
	keys, err := allKeys(ctx, m.from, shop)
	if err != nil {
		return err
	}
	there, err := allKeys(ctx, m.to, shop)
	if err != nil {
		return err
	}
	if !slices.EqualFunc(keys, there, equalKeys) {
		return fmt.Errorf("keys of shop %s: %w", shop, errGone)
	}
	if err := m.compareFormulas(ctx, shop); err != nil {
		return err
	}
	lots := map[lot.ID]store.Lot{}
	err = eachLot(ctx, m.to, shop, func(l store.Lot) error {
		lots[l.ID] = l
		return nil
	})
	if err != nil {
		return err
	}
	err = eachLot(ctx, m.from, shop, func(l store.Lot) error {
		if lots[l.ID] != l {
			return fmt.Errorf("lot %d (%s) of shop %s: %w", l.Number, l.ID, shop, errGone)
		}
		delete(lots, l.ID)
		return nil
	})
	if err == nil && len(lots) > 0 {
		err = fmt.Errorf("%s of shop %s: %w", count(len(lots), "lot", "lots"), shop, errGone)
	}
	return err
}

func (m *mover) compareFormulas(ctx context.Context, shop store.ShopID) error {
	there := map[formula.ID]savedFormula{}
	err := eachFormula(ctx, m.to, shop, func(f savedFormula) error {
		there[f.formula.ID] = f
		return nil
	})
	if err != nil {
		return err
	}
	err = eachFormula(ctx, m.from, shop, func(f savedFormula) error {
		other := there[f.formula.ID]
		if other.formula != f.formula || !slices.Equal(other.versions, f.versions) || !slices.Equal(other.notes, f.notes) {
			return fmt.Errorf("formula %s of shop %s: %w", f.formula.ID, shop, errGone)
		}
		delete(there, f.formula.ID)
		return nil
	})
	if err == nil && len(there) > 0 {
		err = fmt.Errorf("%s of shop %s: %w", count(len(there), "formula", "formulas"), shop, errGone)
	}
	return err
}

func allKeys(ctx context.Context, st store.Store, shop store.ShopID) ([]store.Key, error) {
	var all []store.Key
	err := st.View(ctx, func(r store.Reader) error {
		all = nil
		var after store.KeyID
		for {
			page, err := r.Keys(ctx, shop, after, rowsAtOnce)
			if err != nil {
				return err
			}
			all = append(all, page...)
			if len(page) < rowsAtOnce {
				return nil
			}
			after = page[len(page)-1].ID
		}
	})
	return all, err
}

func equalKeys(a, b store.Key) bool {
	return a.ID == b.ID && a.Shop == b.Shop && a.Hash == b.Hash && a.Name == b.Name && a.Person == b.Person && slices.Equal(a.Scopes, b.Scopes) &&
		a.CreatedAt.Equal(b.CreatedAt) && a.ExpiresAt.Equal(b.ExpiresAt) && a.RevokedAt.Equal(b.RevokedAt)
}
