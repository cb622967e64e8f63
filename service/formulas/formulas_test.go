package formulas_test

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/service/formulas"
	"greenweight/service/request"
	"greenweight/service/store"
	"greenweight/service/store/sqlstore"
)

const other store.ShopID = "00000000-0000-7000-8000-000000000002"

var me = request.By{Shop: store.FirstShop, Actor: lot.Actor{Key: "k1", Person: "Ada Example"}, RequestID: "request-1"}

// newService returns a service on a store of its own, which has two shops.
func newService(t *testing.T) (*formulas.Service, store.Store) {
	t.Helper()
	kept, err := sqlstore.Open(t.Context(), "sqlite:"+filepath.Join(t.TempDir(), "formulas.db"), sqlstore.Options{Migrate: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	now := time.Date(2026, 11, 25, 9, 30, 0, 0, time.UTC)
	for _, id := range []store.ShopID{store.FirstShop, other} {
		err := kept.Update(t.Context(), func(w store.Writer) error {
			return w.AddShop(t.Context(), store.Shop{ID: id, Name: "Test (invented)", CreatedAt: now})
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return serviceOn(t, kept), kept
}

func serviceOn(t *testing.T, kept store.Store) *formulas.Service {
	t.Helper()
	s, err := formulas.New(t.Context(), formulas.Settings{
		Store: kept, Clock: func() time.Time { return time.Date(2026, 11, 25, 9, 30, 0, 1234, time.UTC) },
		NewID: func() string { return uuid.Must(uuid.NewV7()).String() },
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func draft(name string) formulas.Draft {
	return formulas.Draft{Name: name, Product: "dry-sausage", Body: fmt.Sprintf(`{"name": %q}`, name)}
}

func create(t *testing.T, s *formulas.Service, names ...string) []formulas.Saved {
	t.Helper()
	var drafts []formulas.Draft
	for _, name := range names {
		drafts = append(drafts, draft(name))
	}
	saved, err := s.Create(t.Context(), me, drafts, request.Once{})
	if err != nil || len(saved) != len(names) {
		t.Fatalf("%d saved, %v", len(saved), err)
	}
	return saved
}

func once(key string) request.Once {
	return request.Once{Key: key, Request: sha256.Sum256([]byte("body of " + key))}
}

func isKind(err error, kind fault.Kind) bool {
	f, ok := errors.AsType[*fault.Error](err)
	return ok && f.Kind == kind
}

func TestBodyIsKeptToTheByte(t *testing.T) {
	t.Parallel()
	s, _ := newService(t)
	d := draft("Ring")
	d.Body = "{ \"name\":\"Ring\",\n\t\"share\": 1.50e0 }"
	saved, err := s.Create(t.Context(), me, []formulas.Draft{d}, request.Once{})
	if err != nil {
		t.Fatal(err)
	}
	latest, err := s.Latest(t.Context(), me.Shop, saved[0].Formula.ID)
	if err != nil || latest.Version.Body != d.Body || latest.Version.Actor != me.Actor || latest.Version.RequestID != me.RequestID || latest.Version.Version != 1 {
		t.Errorf("%+v, %v", latest, err)
	}
}

func TestRevise(t *testing.T) {
	t.Parallel()
	s, _ := newService(t)
	ctx := t.Context()
	first := create(t, s, "Ring")[0]
	id := first.Formula.ID
	seen := request.Match{Versions: []string{formulas.Name(first.Formula)}}
	for _, tc := range []struct {
		name  string
		by    request.By
		id    formula.ID
		draft formulas.Draft
		match request.Match
		want  func(error) bool
	}{
		{"no version", me, id, draft("b"), request.Match{}, func(err error) bool { return errors.As(err, new(request.PreconditionError)) }},
		{"another version", me, id, draft("b"), request.Match{Versions: []string{"1-x"}}, func(err error) bool { return isKind(err, fault.Stale) }},
		{"no version that could be", me, id, draft("b"), request.Match{Versions: []string{}}, func(err error) bool { return isKind(err, fault.Stale) }},
		{"the same formula, written otherwise", me, id, formulas.Draft{Name: "Ring", Product: "dry-sausage", Body: "{\"name\":\"Ring\"}"}, seen,
			func(err error) bool { return isKind(err, fault.Conflict) }},
		{"no such formula", me, "x", draft("b"), seen, func(err error) bool { return isKind(err, fault.NotFound) }},
		{"another shop", request.By{Shop: other}, id, draft("b"), seen, func(err error) bool { return isKind(err, fault.NotFound) }},
		{"no JSON", me, id, formulas.Draft{Name: "b", Product: "dry-sausage", Body: "{"}, seen, func(err error) bool { return err != nil }},
	} {
		if _, err := s.Revise(ctx, tc.by, tc.id, tc.draft, tc.match, request.Once{}); !tc.want(err) {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
	second, err := s.Revise(ctx, me, id, draft("Second"), seen, once("a"))
	if err != nil || second.Version.Version != 2 || second.Version.Previous != first.Version.Digest || second.Formula.Name != "Second" {
		t.Fatalf("%+v, %v", second, err)
	}
	again, err := s.Revise(ctx, me, id, draft("Second"), seen, once("a"))
	if err != nil || !again.Replayed || again.Version != second.Version {
		t.Errorf("sent again: %+v, %v", again, err)
	}
	reused := once("a")
	reused.Request[0]++
	if _, err := s.Revise(ctx, me, id, draft("Third"), request.Match{Any: true}, reused); !errors.As(err, new(request.KeyReusedError)) {
		t.Errorf("the key with another request: %v", err)
	}
	back, err := s.Version(ctx, me.Shop, id, 1)
	if err != nil || back.Version != first.Version || back.Formula.Version != 2 {
		t.Errorf("the first is not as it was: %+v, %v", back, err)
	}
	for _, none := range []int{3, 1000} {
		if _, err := s.Version(ctx, me.Shop, id, none); !isKind(err, fault.NotFound) {
			t.Errorf("version %d: %v", none, err)
		}
	}
}

func TestCreateAllOrNone(t *testing.T) {
	t.Parallel()
	s, _ := newService(t)
	bad := draft("bad")
	bad.Body = "no JSON"
	if _, err := s.Create(t.Context(), me, []formulas.Draft{draft("good"), bad}, request.Once{}); err == nil {
		t.Fatal("it was saved")
	}
	page, err := s.List(t.Context(), me.Shop, store.FormulaFilter{}, "", 10)
	if err != nil || len(page.Formulas) != 0 {
		t.Errorf("half of it was kept: %+v, %v", page, err)
	}
	if _, err := s.Create(t.Context(), me, []formulas.Draft{draft("a"), draft("b")}, once("c")); err != nil {
		t.Fatal(err)
	}
	again, err := s.Create(t.Context(), me, []formulas.Draft{draft("a"), draft("b")}, once("c"))
	if err != nil || len(again) != 2 || !again[0].Replayed || again[0].Formula.Name != "a" || again[1].Formula.Name != "b" {
		t.Errorf("sent again: %+v, %v", again, err)
	}
}

func TestNotes(t *testing.T) {
	t.Parallel()
	s, _ := newService(t)
	ctx := t.Context()
	saved := create(t, s, "Ring")[0]
	id := saved.Formula.ID
	if _, err := s.Revise(ctx, me, id, draft("Second"), request.Match{Any: true}, request.Once{}); err != nil {
		t.Fatal(err)
	}
	for i, version := range []int{2, 1, 2} {
		n, err := s.Note(ctx, me, id, version, strconv.Itoa(i), once(fmt.Sprint("note ", i)))
		if err != nil || n.Note.Number != i+1 || n.Formula.Notes != i+1 || formulas.Name(n.Formula) == formulas.Name(saved.Formula) {
			t.Fatalf("%+v, %v", n, err)
		}
	}
	again, err := s.Note(ctx, me, id, 1, "1", once("note 1"))
	if err != nil || !again.Replayed || again.Note.Number != 2 || again.Note.Text != "1" {
		t.Errorf("sent again: %+v, %v", again, err)
	}
	latest, err := s.Latest(ctx, me.Shop, id)
	if err != nil || len(latest.Notes) != 2 || latest.Notes[0].Text != "0" || latest.Notes[1].Text != "2" {
		t.Errorf("%+v, %v", latest.Notes, err)
	}
	for _, tc := range []struct {
		by      request.By
		version int
	}{{me, 3}, {request.By{Shop: other}, 1}} {
		if _, err := s.Note(ctx, tc.by, id, tc.version, "x", request.Once{}); !isKind(err, fault.NotFound) {
			t.Errorf("%+v: %v", tc, err)
		}
	}
}

func TestPages(t *testing.T) {
	t.Parallel()
	s, _ := newService(t)
	ctx := t.Context()
	saved := create(t, s, "b", "A", "c", "B ring")
	var names []string
	for cursor := ""; ; {
		page, err := s.List(ctx, me.Shop, store.FormulaFilter{}, cursor, 3)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range page.Formulas {
			names = append(names, f.Name)
		}
		if cursor = page.Next; cursor == "" {
			break
		}
		if _, err := s.List(ctx, other, store.FormulaFilter{}, cursor, 3); !isKind(err, fault.Malformed) {
			t.Errorf("the cursor of another shop: %v", err)
		}
	}
	if !slices.Equal(names, []string{"A", "b", "B ring", "c"}) {
		t.Errorf("got %v", names)
	}
	id := saved[0].Formula.ID
	for i := range 4 {
		if _, err := s.Revise(ctx, me, id, draft(fmt.Sprint("try ", i)), request.Match{Any: true}, request.Once{}); err != nil {
			t.Fatal(err)
		}
	}
	var versions []int
	for cursor := ""; ; {
		page, err := s.Versions(ctx, me.Shop, id, cursor, 2)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range page.Versions {
			versions = append(versions, v.Version.Version)
		}
		if cursor = page.Next; cursor == "" {
			break
		}
	}
	if !slices.Equal(versions, []int{1, 2, 3, 4, 5}) {
		t.Errorf("got %v", versions)
	}
	bodies, err := s.Bodies(ctx, me.Shop, []formula.ID{saved[2].Formula.ID, id})
	if err != nil || !slices.Equal(bodies, []string{draft("c").Body, draft("try 3").Body}) {
		t.Errorf("%q, %v", bodies, err)
	}
	if _, err := s.Bodies(ctx, other, []formula.ID{id}); !isKind(err, fault.NotFound) {
		t.Errorf("another shop: %v", err)
	}
	before, after, err := s.Two(ctx, me.Shop, id, 2, 0)
	if err != nil || before.Version.Version != 2 || after.Version.Version != 5 {
		t.Errorf("%+v, %+v, %v", before.Version, after.Version, err)
	}
}

// Whatever is sent at once with one key by two services is done once.
func TestSentAtOnce(t *testing.T) {
	t.Parallel()
	s, kept := newService(t)
	two := serviceOn(t, kept)
	id := create(t, s, "Ring")[0].Formula.ID
	var all sync.WaitGroup
	for n := range 8 {
		all.Go(func() {
			of := []*formulas.Service{s, two}[n%2]
			if _, err := of.Create(t.Context(), me, []formulas.Draft{draft("once")}, once("create")); err != nil {
				t.Error(err)
			}
			if _, err := of.Revise(t.Context(), me, id, draft("revised"), request.Match{Any: true}, once("revise")); err != nil {
				t.Error(err)
			}
			if _, err := of.Note(t.Context(), me, id, 1, "noted", once("note")); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	page, err := s.List(t.Context(), me.Shop, store.FormulaFilter{}, "", 10)
	if err != nil || len(page.Formulas) != 2 || page.Formulas[1].Version != 2 || page.Formulas[1].Notes != 1 {
		t.Errorf("%+v, %v", page.Formulas, err)
	}
}

func TestVerifyChain(t *testing.T) {
	t.Parallel()
	s, kept := newService(t)
	id := create(t, s, "Ring")[0].Formula.ID
	for i := range 2 {
		if _, err := s.Revise(t.Context(), me, id, draft(strconv.Itoa(i)), request.Match{Any: true}, request.Once{}); err != nil {
			t.Fatal(err)
		}
	}
	var f store.Formula
	var versions []store.FormulaVersion
	err := kept.View(t.Context(), func(r store.Reader) (err error) {
		if f, err = r.Formula(t.Context(), me.Shop, id); err != nil {
			return err
		}
		versions, err = r.FormulaVersions(t.Context(), me.Shop, id, 0, 10)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if broken := formulas.VerifyChain(f, versions); broken != "" {
		t.Error(broken)
	}
	for name, change := range map[string]func(f *store.Formula, all []store.FormulaVersion) []store.FormulaVersion{
		"another body": func(_ *store.Formula, all []store.FormulaVersion) []store.FormulaVersion {
			all[1].Body = "{}"
			return all
		},
		"another person": func(_ *store.Formula, all []store.FormulaVersion) []store.FormulaVersion {
			all[0].Actor.Person = "x"
			return all
		},
		"another time": func(_ *store.Formula, all []store.FormulaVersion) []store.FormulaVersion {
			all[2].SavedAt = all[2].SavedAt.Add(time.Hour)
			return all
		},
		"one left out": func(_ *store.Formula, all []store.FormulaVersion) []store.FormulaVersion {
			return slices.Delete(all, 1, 2)
		},
		"the last gone": func(_ *store.Formula, all []store.FormulaVersion) []store.FormulaVersion { return all[:2] },
		"another head":  func(f *store.Formula, all []store.FormulaVersion) []store.FormulaVersion { f.Digest[0]++; return all },
		"another before": func(_ *store.Formula, all []store.FormulaVersion) []store.FormulaVersion {
			all[1].Previous[0]++
			return all
		},
	} {
		of := f
		all := change(&of, slices.Clone(versions))
		if formulas.VerifyChain(of, all) == "" {
			t.Errorf("%s is not seen", name)
		}
	}
}

func TestSettingsAreNeeded(t *testing.T) {
	t.Parallel()
	if _, err := formulas.New(t.Context(), formulas.Settings{}); err == nil {
		t.Error("a service of nothing")
	}
}
