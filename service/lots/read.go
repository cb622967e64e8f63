package lots

import (
	"context"
	"errors"
	"fmt"
	"time"

	"greenweight/domain/lot"
	"greenweight/service/request"
	"greenweight/service/store"
)

// BrokenError is a ledger that does not hold: it was changed in the store.
// [Service.Verify] says where.
type BrokenError struct {
	Lot lot.ID
	Why string // for logs
}

// Error says so.
func (e *BrokenError) Error() string {
	return fmt.Sprintf("the ledger of lot %s does not hold: %s", e.Lot, e.Why)
}

// Lot returns a lot with its ledger; fault.NotFound when the shop has none of
// this id, [BrokenError] when its ledger does not hold.
func (s *Service) Lot(ctx context.Context, shop store.ShopID, id lot.ID) (Kept, error) {
	return s.asOf(ctx, shop, id, 0)
}

// Bounds on what is read of other lots to learn from them, choices of this project.
const (
	mostEarlier        = 60     // lots
	mostEarlierEntries = 20_000 // in their ledgers together
)

// Course is a lot with those that were opened before it.
type Course struct {
	Kept
	Earlier []Kept   // opened last first
	Broken  []lot.ID // of those before, whose ledgers do not hold
}

// LotAfterOthers returns a lot as Lot does, and with it the lots of the shop that
// were opened before it and hang: of the last 60 that were opened, as many as have no
// more than 20,000 entries together; one that has more than what is left of them is
// passed over. All is as it was at one moment. One whose ledger does not hold is
// named, and left out.
func (s *Service) LotAfterOthers(ctx context.Context, shop store.ShopID, id lot.ID) (Course, error) {
	return s.afterOthers(ctx, shop, id, mostEarlier, mostEarlierEntries)
}

func (s *Service) afterOthers(ctx context.Context, shop store.ShopID, id lot.ID, mostLots, mostEntries int) (Course, error) {
	var out Course
	err := s.store.View(ctx, func(r store.Reader) error {
		out = Course{}
		l, err := r.Lot(ctx, shop, id)
		if err != nil {
			return unknownLot(err)
		}
		record, err := s.record(ctx, r, l)
		if err != nil {
			return err
		}
		out.Kept = Kept{l, record}
		before, err := r.Lots(ctx, shop, store.LotFilter{}, store.LotMark{OpenedAt: l.OpenedAt, ID: l.ID}, mostLots)
		if err != nil {
			return err
		}
		entries := 0
		for _, e := range before {
			if stage, known := lot.ParseStage(e.Stage); known && stage < lot.StageDrying {
				continue
			}
			if entries+e.Head.Sequence > mostEntries {
				continue
			}
			entries += e.Head.Sequence
			record, err := s.record(ctx, r, e)
			if _, broken := errors.AsType[*BrokenError](err); broken {
				out.Broken = append(out.Broken, e.ID)
				continue
			}
			if err != nil {
				return err
			}
			out.Earlier = append(out.Earlier, Kept{e, record})
		}
		return nil
	})
	return out, err
}

// asOf returns a lot as it was when its ledger had so many entries; as it is for
// 0.
func (s *Service) asOf(ctx context.Context, shop store.ShopID, id lot.ID, entries int) (Kept, error) {
	var out Kept
	err := s.store.View(ctx, func(r store.Reader) error {
		l, err := r.Lot(ctx, shop, id)
		if err != nil {
			return unknownLot(err)
		}
		record, err := s.record(ctx, r, l)
		out = Kept{l, record}
		return err
	})
	if err != nil || entries == 0 || entries == out.Lot.Head.Sequence {
		return out, err
	}
	all := out.Record.Entries()
	record, err := lot.Record{}.With(all[:entries]...)
	if err != nil {
		return Kept{}, fmt.Errorf("read lot %s as it was: %w", id, err)
	}
	out.Record = record
	grown(&out.Lot, record, all[entries-1].RecordedAt)
	return out, nil
}

// record returns the ledger of a lot. What was read before is not read again,
// unless it does not fit any more, as when another database was put in place.
func (s *Service) record(ctx context.Context, r store.Reader, l store.Lot) (lot.Record, error) {
	key := recordKey{l.Shop, l.ID}
	known, _ := s.records.Get(key)
	if known.Head().Sequence > l.Head.Sequence || known.Head().Sequence == l.Head.Sequence && known.Head() != l.Head {
		known = lot.Record{}
	}
	record, err := s.readOn(ctx, r, l, known)
	if err != nil && known.Head().Sequence > 0 {
		record, err = s.readOn(ctx, r, l, lot.Record{})
	}
	if err != nil {
		return lot.Record{}, err
	}
	s.records.Add(key, record)
	return record, nil
}

// readOn reads the entries after those of a record, up to the head of the lot.
func (s *Service) readOn(ctx context.Context, r store.Reader, l store.Lot, record lot.Record) (lot.Record, error) {
	for record.Head().Sequence < l.Head.Sequence {
		entries, err := r.Entries(ctx, l.Shop, l.ID, record.Head().Sequence, min(readAtOnce, l.Head.Sequence-record.Head().Sequence))
		if err != nil {
			return lot.Record{}, err
		}
		if len(entries) == 0 {
			break
		}
		reads := make([]lot.Read, len(entries))
		for i, e := range entries {
			again, err := seal(l.Shop, l.ID, e)
			if err != nil || again.Digest != e.Digest {
				return lot.Record{}, &BrokenError{l.ID, fmt.Sprintf("entry %d has another digest than it was recorded with", e.Sequence)}
			}
			told, err := s.read(e.Kind, e.Body)
			if err != nil {
				return lot.Record{}, fmt.Errorf("read entry %d of lot %s: %w", e.Sequence, l.ID, err)
			}
			reads[i] = lot.Read{Entry: e, Told: told}
		}
		if record, err = record.With(reads...); err != nil {
			return lot.Record{}, &BrokenError{l.ID, err.Error()}
		}
	}
	if record.Head() != l.Head {
		return lot.Record{}, &BrokenError{l.ID, fmt.Sprintf("it ends with entry %d (%s), and the lot says %d (%s)",
			record.Head().Sequence, record.Head().Digest, l.Head.Sequence, l.Head.Digest)}
	}
	return record, nil
}

// Verification is whether the chain of a ledger holds.
type Verification struct {
	Lot    store.Lot
	Held   int // entries that were verified
	Broken *Break
}

// Verify reads the ledger of a lot from the store, whatever is in memory, and
// verifies its chain; fault.NotFound when the shop has no such lot.
func (s *Service) Verify(ctx context.Context, shop store.ShopID, id lot.ID) (Verification, error) {
	var out Verification
	err := s.store.View(ctx, func(r store.Reader) error {
		l, err := r.Lot(ctx, shop, id)
		if err != nil {
			return unknownLot(err)
		}
		var all []lot.Entry
		for {
			after := 0
			if len(all) > 0 {
				after = all[len(all)-1].Sequence
			}
			entries, err := r.Entries(ctx, shop, id, after, readAtOnce)
			if err != nil {
				return err
			}
			all = append(all, entries...)
			if len(entries) < readAtOnce {
				break
			}
		}
		out = Verification{Lot: l}
		out.Held, out.Broken = VerifyChain(l, all)
		return nil
	})
	return out, err
}

// Page is a page of lots.
type Page struct {
	Lots []store.Lot
	Next string // cursor of the next page; empty on the last
}

// List returns a page of the shop's lots that pass the filter, those opened last
// first, from the place that the cursor says; the first page for "". A cursor
// that is not one of this list is fault.Malformed.
func (s *Service) List(ctx context.Context, shop store.ShopID, filter store.LotFilter, cursor string, limit int) (Page, error) {
	list, err := request.List(shop, filter)
	if err != nil {
		return Page{}, err
	}
	var place lotPlace
	if err := s.cursors.Read(cursor, list, &place); err != nil {
		return Page{}, err
	}
	mark := store.LotMark{ID: place.ID}
	if place.ID != "" {
		mark.OpenedAt = time.UnixMicro(place.OpenedUs).UTC()
	}
	var page Page
	err = s.store.View(ctx, func(r store.Reader) error {
		lots, err := r.Lots(ctx, shop, filter, mark, limit+1)
		page = Page{Lots: lots}
		return err
	})
	if err != nil || len(page.Lots) <= limit {
		return page, err
	}
	page.Lots = page.Lots[:limit]
	last := page.Lots[limit-1]
	page.Next, err = s.cursors.Write(list, lotPlace{last.OpenedAt.UnixMicro(), last.ID})
	return page, err
}

// lotPlace is a place in the list of lots.
type lotPlace struct {
	OpenedUs int64  `json:"o"`
	ID       lot.ID `json:"i"`
}

// EntryPage is a page of a ledger.
type EntryPage struct {
	Kept    Kept
	Entries []lot.Read
	Next    string // cursor of the next page; empty on the last
}

// Entries returns a page of the ledger of a lot, of one kind of entries or of
// all for 0, from the place that the cursor says. fault.NotFound when the shop has no
// such lot, fault.Malformed for a cursor that is not one of this ledger.
func (s *Service) Entries(ctx context.Context, shop store.ShopID, id lot.ID, kind lot.Kind, cursor string, limit int) (EntryPage, error) {
	list, err := request.List(shop, id, kind)
	if err != nil {
		return EntryPage{}, err
	}
	var after int
	if err := s.cursors.Read(cursor, list, &after); err != nil {
		return EntryPage{}, err
	}
	k, err := s.Lot(ctx, shop, id)
	if err != nil {
		return EntryPage{}, err
	}
	page := EntryPage{Kept: k}
	for _, e := range k.Record.Entries() {
		if e.Sequence <= after || kind != 0 && e.Kind != kind {
			continue
		}
		if len(page.Entries) == limit {
			page.Next, err = s.cursors.Write(list, page.Entries[limit-1].Sequence)
			return page, err
		}
		page.Entries = append(page.Entries, e)
	}
	return page, nil
}
