package lots

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	_ "github.com/ncruces/go-sqlite3/driver" // whoever changes the file behind the service's back

	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/service/request"
	"greenweight/service/store"
	"greenweight/service/store/sqlstore"
)

// readSimply reads the few bodies of these tests: the text is the name of a lot,
// or the note.
func readSimply(kind lot.Kind, body string) (lot.Told, error) {
	var w struct {
		Text  string
		Entry int
	}
	if err := json.Unmarshal([]byte(body), &w, json.MatchCaseInsensitiveNames(true)); err != nil {
		return lot.Told{}, err
	}
	switch kind { //nolint:exhaustive // the others are not posted here
	case lot.KindPlanned:
		return lot.Told{Fact: lot.Planned{Name: w.Text, Jurisdiction: rulebook.UnitedStates}}, nil
	case lot.KindStuffed:
		return lot.Told{Fact: lot.Stuffed{Pieces: []lot.Piece{{Name: "A", Weight: quantity.MustGrams(500)}}}}, nil
	case lot.KindHung:
		return lot.Told{Fact: lot.Hung{Room: w.Text}}, nil
	case lot.KindNoted:
		return lot.Told{Fact: lot.Noted{Text: w.Text}}, nil
	case lot.KindRetracted:
		return lot.Told{Fact: lot.Retracted{Entry: w.Entry, Reason: w.Text}}, nil
	}
	return lot.Told{}, fmt.Errorf("no kind %s here", kind)
}

// bench is a store with services on it.
type bench struct {
	file  string
	store store.Store
	now   time.Time
}

func newBench(t *testing.T) *bench {
	t.Helper()
	b := &bench{file: filepath.Join(t.TempDir(), "lots.db"), now: time.Date(2026, 11, 25, 9, 30, 0, 0, time.UTC)}
	kept, err := sqlstore.Open(t.Context(), "sqlite:"+b.file, sqlstore.Options{Migrate: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	b.store = kept
	for _, id := range []store.ShopID{store.FirstShop, "00000000-0000-7000-8000-000000000002"} {
		err := kept.Update(t.Context(), func(w store.Writer) error {
			return w.AddShop(t.Context(), store.Shop{ID: id, Name: "Test (invented)", CreatedAt: b.now})
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return b
}

// service returns another service on the same store.
func (b *bench) service(t *testing.T) *Service {
	t.Helper()
	s, err := New(t.Context(), Settings{
		Store: b.store, Clock: func() time.Time { return b.now }, NewID: func() string { return uuid.Must(uuid.NewV7()).String() }, Read: readSimply,
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

var me = request.By{Shop: store.FirstShop, Actor: lot.Actor{Key: "k1", Person: "Ada Example"}, RequestID: "request-1"}

func posted(t *testing.T, kind lot.Kind, body string) Posted {
	t.Helper()
	told, err := readSimply(kind, body)
	if err != nil {
		t.Fatal(err)
	}
	return Posted{Body: body, Told: told}
}

func open(t *testing.T, s *Service) lot.ID {
	t.Helper()
	const body = `{"text":"Ring (invented)"}`
	opened, err := s.Open(t.Context(), me, body, posted(t, lot.KindPlanned, body).Told, request.Once{})
	if err != nil {
		t.Fatal(err)
	}
	return opened.Lot.ID
}

// Several services append to one lot at once, as replicas do, each with requests
// that it sends twice: one chain, each request once.
func TestManyAppendToOneLot(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	services := []*Service{b.service(t), b.service(t), b.service(t)}
	id := open(t, services[0])
	const each = 20
	var wait sync.WaitGroup
	for i, s := range services {
		for range 2 { // the same requests from two clients at once
			wait.Go(func() {
				for n := range each {
					body := fmt.Sprintf(`{"text":"%d of %d"}`, n, i)
					once := request.Once{Key: body, Request: sha256.Sum256([]byte(body))}
					if _, err := s.Append(t.Context(), me, id, []Posted{posted(t, lot.KindNoted, body)}, request.Match{}, once); err != nil {
						t.Errorf("%s: %v", body, err)
					}
				}
			})
		}
	}
	wait.Wait()
	v, err := services[1].Verify(t.Context(), me.Shop, id)
	if err != nil || v.Broken != nil || v.Held != 1+each*len(services) {
		t.Errorf("want %d entries in one chain, got %d, broken %+v, %v", 1+each*len(services), v.Held, v.Broken, err)
	}
	for _, s := range services {
		kept, err := s.Lot(t.Context(), me.Shop, id)
		if err != nil || kept.Record.Head() != v.Lot.Head {
			t.Errorf("a service sees the head %v, want %v: %v", kept.Record.Head(), v.Lot.Head, err)
		}
	}
}

// The same opening from two clients at once, through two services, opens one lot
// and leaves no number out.
func TestManyOpenTheSame(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	services := []*Service{b.service(t), b.service(t)}
	const body = `{"text":"Ring (invented)"}`
	once := request.Once{Key: "open", Request: sha256.Sum256([]byte(body))}
	told := posted(t, lot.KindPlanned, body).Told
	var mutex sync.Mutex
	var ids []lot.ID
	replayed := 0
	var wait sync.WaitGroup
	for i := range 8 {
		wait.Go(func() {
			opened, err := services[i%2].Open(t.Context(), me, body, told, once)
			mutex.Lock()
			defer mutex.Unlock()
			if err != nil {
				t.Error(err)
			}
			ids = append(ids, opened.Lot.ID)
			if opened.Replayed {
				replayed++
			}
		})
	}
	wait.Wait()
	slices.Sort(ids)
	if ids = slices.Compact(ids); len(ids) != 1 || replayed != 7 {
		t.Errorf("%d lots, %d replays; want 1 and 7", len(ids), replayed)
	}
	second, err := services[0].Open(t.Context(), me, body, told, request.Once{})
	if err != nil || second.Lot.Number != 2 {
		t.Errorf("the next lot has the number %d, want 2: %v", second.Lot.Number, err)
	}
}

// What a request did is told again as it was, whatever came since.
func TestReplayTellsWhatWasDone(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	s := b.service(t)
	id := open(t, s)
	body := `{"text":"once"}`
	once := request.Once{Key: "note", Request: sha256.Sum256([]byte(body))}
	list := []Posted{posted(t, lot.KindNoted, body), posted(t, lot.KindNoted, `{"text":"and this"}`)}
	first, err := s.Append(t.Context(), me, id, list, request.Match{}, once)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(t.Context(), me, id, []Posted{posted(t, lot.KindNoted, `{"text":"more"}`)}, request.Match{}, request.Once{}); err != nil {
		t.Fatal(err)
	}
	// A version that was right the first time does not refuse the replay.
	again, err := b.service(t).Append(t.Context(), me, id, list, request.Match{Versions: []string{"1-0000000000000000"}}, once)
	if err != nil {
		t.Fatal(err)
	}
	if !again.Replayed || first.Replayed {
		t.Errorf("replayed: first %t, again %t", first.Replayed, again.Replayed)
	}
	first.Replayed = true
	if diff := cmp.Diff(first, again, cmp.AllowUnexported(time.Time{}), cmp.Comparer(func(a, b time.Time) bool { return a.Equal(b) })); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	s := b.service(t)
	id := open(t, s)
	note := []Posted{posted(t, lot.KindNoted, `{"text":"x"}`)}
	kept, err := s.Lot(t.Context(), me.Shop, id)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(t.Context(), me, id, note, request.Match{Versions: []string{kept.Version()}}, request.Once{Key: "a"}); err != nil {
		t.Fatalf("a fact for the version that there is: %v", err)
	}
	other := me
	other.Shop = "00000000-0000-7000-8000-000000000002"
	retract := []Posted{posted(t, lot.KindRetracted, `{"entry":2,"text":"x"}`)}
	for name, row := range map[string]struct {
		by     request.By
		posted []Posted
		match  request.Match
		once   request.Once
		want   func(error) bool
	}{
		"an older version":         {me, note, request.Match{Versions: []string{kept.Version()}}, request.Once{}, isKind(fault.Stale)},
		"no version":               {me, retract, request.Match{}, request.Once{}, func(err error) bool { return errors.As(err, new(request.PreconditionError)) }},
		"no version that could be": {me, retract, request.Match{Versions: []string{}}, request.Once{}, isKind(fault.Stale)},
		"another shop":             {other, note, request.Match{}, request.Once{}, isKind(fault.NotFound)},
		"the key of another":       {me, note, request.Match{}, request.Once{Key: "a", Request: [32]byte{1}}, func(err error) bool { return errors.As(err, new(request.KeyReusedError)) }},
		"a contradiction":          {me, []Posted{posted(t, lot.KindRetracted, `{"entry":9,"text":"x"}`)}, request.Match{Any: true}, request.Once{}, isKind(fault.Invalid)},
		"the opening once more":    {me, []Posted{posted(t, lot.KindPlanned, `{"text":"x"}`)}, request.Match{}, request.Once{}, func(err error) bool { return err != nil }},
	} {
		if _, err := s.Append(t.Context(), row.by, id, row.posted, row.match, row.once); !row.want(err) {
			t.Errorf("%s: got %v", name, err)
		}
	}
	if after, err := s.Lot(t.Context(), me.Shop, id); err != nil || after.Lot.Head.Sequence != 2 {
		t.Errorf("%d entries, want 2: %v", after.Lot.Head.Sequence, err)
	}
	// The same key is each person's own.
	you := me
	you.Actor = lot.Actor{Key: "k2", Person: "Ben Example"}
	if yours, err := s.Append(t.Context(), you, id, note, request.Match{}, request.Once{Key: "a"}); err != nil || yours.Replayed || yours.Entries[0].Actor != you.Actor {
		t.Errorf("the key of another person: %+v, %v", yours, err)
	}
	// And each shop's.
	if _, err := s.Append(t.Context(), other, id, note, request.Match{}, request.Once{Key: "a"}); !isKind(fault.NotFound)(err) {
		t.Errorf("the key of another shop: %v", err)
	}
}

func isKind(kind fault.Kind) func(error) bool {
	return func(err error) bool {
		f, ok := errors.AsType[*fault.Error](err)
		return ok && f.Kind == kind
	}
}

// A file that somebody changed: reading refuses a broken chain, and verifying
// says where it breaks, whatever is in memory.
func TestChangedBehindItsBack(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	s := b.service(t)
	id := open(t, s)
	for range 3 {
		if _, err := s.Append(t.Context(), me, id, []Posted{posted(t, lot.KindNoted, `{"text":"x"}`)}, request.Match{}, request.Once{}); err != nil {
			t.Fatal(err)
		}
	}
	db, err := sql.Open("sqlite3", "file:"+b.file)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	change(t, db, `UPDATE entry SET body = '{"text":"y"}' WHERE sequence = 3`)
	v, err := s.Verify(t.Context(), me.Shop, id)
	if err != nil || v.Broken == nil || v.Broken.Sequence != 3 || v.Held != 2 {
		t.Errorf("want a break at 3, got %+v, %v", v, err)
	}
	if _, err := b.service(t).Lot(t.Context(), me.Shop, id); !isBroken(err) {
		t.Errorf("an entry that was changed was read: %v", err)
	}
	change(t, db, `UPDATE entry SET previous_digest = zeroblob(32) WHERE sequence = 4`)
	if _, err := b.service(t).Lot(t.Context(), me.Shop, id); !isBroken(err) {
		t.Errorf("a ledger whose chain does not hold was read: %v", err)
	}
}

// A lot is read with those of its shop that were opened before it and hang, opened
// last first: so many at most are looked at, and so many entries of theirs read. One
// that is broken is named, and the others are read.
func TestLotAfterOthers(t *testing.T) {
	t.Parallel()
	b := newBench(t)
	s := b.service(t)
	hang := func(notes int) lot.ID {
		id := open(t, s)
		all := []Posted{posted(t, lot.KindStuffed, `{"text":"x"}`), posted(t, lot.KindHung, `{"text":"Pantry"}`)}
		for range notes {
			all = append(all, posted(t, lot.KindNoted, `{"text":"x"}`))
		}
		if _, err := s.Append(t.Context(), me, id, all, request.Match{}, request.Once{}); err != nil {
			t.Fatal(err)
		}
		b.now = b.now.Add(time.Hour)
		return id
	}
	first, long := hang(0), hang(7) // of 3 and 10 entries
	open(t, s)                      // does not hang
	b.now = b.now.Add(time.Hour)
	third, asked := hang(0), hang(0)
	hang(0) // opened later
	other := me
	other.Shop = "00000000-0000-7000-8000-000000000002"
	const body = `{"text":"Theirs (invented)"}`
	if _, err := s.Open(t.Context(), other, body, posted(t, lot.KindPlanned, body).Told, request.Once{}); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name          string
		lots, entries int
		want          []lot.ID
	}{
		{"all", 60, 100, []lot.ID{third, long, first}},
		{"of three that were opened before, the one that was only opened among them", 3, 100, []lot.ID{third, long}},
		{"one that has too many entries is passed over", 60, 12, []lot.ID{third, first}},
		{"just as many", 60, 16, []lot.ID{third, long, first}},
		{"none", 60, 2, nil},
	} {
		c, err := s.afterOthers(t.Context(), me.Shop, asked, row.lots, row.entries)
		if err != nil || c.Lot.ID != asked || c.Broken != nil {
			t.Fatalf("%s: got %s, broken %v, %v", row.name, c.Lot.ID, c.Broken, err)
		}
		var got []lot.ID
		for _, e := range c.Earlier {
			got = append(got, e.Lot.ID)
			if e.Record.Head() != e.Lot.Head {
				t.Errorf("%s: lot %s was not read to its end", row.name, e.Lot.ID)
			}
		}
		if diff := cmp.Diff(row.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", row.name, diff)
		}
	}
	db, err := sql.Open("sqlite3", "file:"+b.file)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	change(t, db, `UPDATE entry SET body = '{"text":"y"}' WHERE sequence = 5`) // only that lot has as many
	c, err := b.service(t).LotAfterOthers(t.Context(), me.Shop, asked)
	if err != nil || len(c.Earlier) != 2 || !slices.Equal(c.Broken, []lot.ID{long}) {
		t.Errorf("beside a broken one: %d lots, broken %v, %v", len(c.Earlier), c.Broken, err)
	}
	if _, err := s.LotAfterOthers(t.Context(), other.Shop, asked); !isUnknown(err) {
		t.Errorf("another shop's lot: %v", err)
	}
}

func isUnknown(err error) bool {
	f, is := errors.AsType[*fault.Error](err)
	return is && f.Kind == fault.NotFound
}

func isBroken(err error) bool {
	_, is := errors.AsType[*BrokenError](err)
	return is
}

func change(t *testing.T, db *sql.DB, statement string) {
	t.Helper()
	result, err := db.ExecContext(context.WithoutCancel(t.Context()), statement)
	if err != nil {
		t.Fatal(err)
	}
	if n, err := result.RowsAffected(); err != nil || n != 1 {
		t.Fatalf("%d rows were changed: %v", n, err)
	}
}
