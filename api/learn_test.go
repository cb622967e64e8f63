package api

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"greenweight/api/apitest"
	"greenweight/domain/lot"
	"greenweight/openapi"
	"greenweight/service/lots"
	"greenweight/service/shops"
	"greenweight/service/store"
)

// dries opens a lot on a day at eight, stuffs two pieces at one and hangs them two days
// later, and weighs them every fourth day for so many days since: they lose 44 % of
// the green weight with so much of a day's rate. It returns the path.
func (k *keeping) dries(t *testing.T, on, room, casing string, rate float64, days int, header ...string) string {
	t.Helper()
	k.at(t, on+"T08:00:00+01:00")
	body := strings.NewReplacer("first of November", "of "+on, "2026-11-02", on).Replace(string(readExample(t, "lot.request").Value))
	opening := k.post(t, pathOfLots, body, header...)
	if opening.Status != http.StatusCreated {
		t.Fatalf("status %d: %s", opening.Status, opening.Body)
	}
	path := opening.Header.Get("Location")
	tell := func(entries ...string) {
		if a := k.post(t, path+"/entries", `{"entries":[`+strings.Join(entries, ",")+`]}`, header...); a.Status != http.StatusCreated {
			t.Fatalf("status %d: %s", a.Status, a.Body)
		}
	}
	k.now = k.now.Add(5 * time.Hour)
	piece := `{"piece":"%s","weight":{"value":600,"unit":"g"},"diameter":{"value":45,"unit":"mm"}` + casing + `}`
	tell(`{"kind":"stuffed","pieces":[` + fmt.Sprintf(piece, "A") + `,` + fmt.Sprintf(piece, "B") + `]}`)
	k.now = k.now.Add(48 * time.Hour)
	tell(`{"kind":"hung"` + room + `}`)
	hung := k.now
	for day := 4; day <= days; day += 4 {
		k.now = hung.AddDate(0, 0, day)
		weight := 600 * (1 - 0.44*(1-math.Exp(-rate*float64(day))))
		tell(fmt.Sprintf(`{"kind":"weighed","piece":"A","weight":{"value":%.0f,"unit":"g"}}`, weight),
			fmt.Sprintf(`{"kind":"weighed","piece":"B","weight":{"value":%.0f,"unit":"g"}}`, weight+3))
	}
	return path
}

const (
	inPantry = `,"room":"Pantry"`
	inMiddle = `,"casing":"Beef middle"`
)

func dryDownOf(t *testing.T, k *keeping, path string) openapi.LotDryDown {
	t.Helper()
	return apitest.Decode[openapi.LotDryDown](t, k.client.Get(t, path))
}

// A lot learns from lots that dried faster in its room and casing: its day comes
// earlier and its band is narrower, and it says from what. Asked with `earlier` the
// questions that the earlier lots asked, the projection says the same. By hand: 44 %
// · (1 - e^(-0.11 · 16)) = 36.4 %, past the 35 % of the plan.
func TestLotLearnsFromEarlierLots(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	first := k.dries(t, "2026-08-03", `,"room":"pantry "`, `,"casing":"beef middle"`, 0.11, 16)
	second := k.dries(t, "2026-09-07", inPantry, inMiddle, 0.10, 20)
	path := k.dries(t, "2026-11-02", inPantry, inMiddle, 0.11, 4)
	answer := k.client.Get(t, path+"/dry-down")
	goldenStatus(t, "lot-dry-down-learned.answer", answer, http.StatusOK, nearFit)
	learned, alone := apitest.Decode[openapi.LotDryDown](t, answer), dryDownOf(t, k, path+"/dry-down?learn=false")

	id := func(path string) openapi.LotID { return strings.TrimPrefix(path, pathOfLots+"/") }
	casing := "Beef middle"
	want := []openapi.DryDownLesson{{Room: "Pantry", Casing: &casing, SameCasing: true, Lots: []openapi.TeachingLot{
		{LotID: id(second), Name: "Fennel ring, of 2026-09-07 (invented example)", Pieces: []openapi.PieceName{"A", "B"}},
		{LotID: id(first), Name: "Fennel ring, of 2026-08-03 (invented example)", Pieces: []openapi.PieceName{"A", "B"}},
	}}}
	if diff := cmp.Diff(want, learned.LearnedFrom); diff != "" {
		t.Errorf("learned from (-want +got):\n%s", diff)
	}
	if alone.LearnedFrom != nil || notedIn(alone.Pieces[0].Projection.Notes, "learned") {
		t.Errorf("learn=false: %+v", alone.LearnedFrom)
	}
	width := func(d openapi.TargetDay) float64 {
		if d.P80.HighDays == nil { // it may not come
			return math.Inf(1)
		}
		return *d.P80.HighDays - *d.P80.LowDays
	}
	for i, p := range learned.Pieces {
		if !notedIn(p.Projection.Notes, "learned") || !notedIn(p.Projection.Notes, "learned-from-lots") {
			t.Errorf("piece %s does not say what it learned: %v", p.Piece, p.Projection.Notes)
		}
		with, without := p.Projection.Target.Day, alone.Pieces[i].Projection.Target.Day
		if *with.MedianDays >= *without.MedianDays || width(with) >= width(without) {
			t.Errorf("piece %s: want it before day %v and narrower than %v, got %v and %v", p.Piece, *without.MedianDays, width(without), *with.MedianDays, width(with))
		}
	}
	if !learned.Together.Last.MedianAt.Before(*alone.Together.Last.MedianAt) {
		t.Errorf("want the last piece earlier than %v, got %v", alone.Together.Last.MedianAt, learned.Together.Last.MedianAt)
	}
	chart := func(query string) string {
		a := k.client.Do(t, apitest.Request{Path: path + "/dry-down?piece=A" + query, Header: headerOf([]string{"Accept", mediaTypeSVG})})
		if a.Status != http.StatusOK {
			t.Fatalf("chart: status %d", a.Status)
		}
		return string(a.Body)
	}
	if chart("") == chart("&learn=false") {
		t.Error("the chart is not of what was learned")
	}

	var earlier openapi.EarlierPieces
	for _, of := range want[0].Lots { // in turns, as they are learned from
		for _, p := range dryDownOf(t, k, pathOfLots+"/"+of.LotID+"/dry-down?learn=false").Pieces {
			q := p.Question
			name := of.LotID
			earlier = append(earlier, openapi.EarlierPiece{
				Lot: &name, GreenWeight: q.GreenWeight, StuffedAt: q.StuffedAt, HungAt: q.HungAt, WeighIns: q.WeighIns,
				Diameter: q.Diameter, Room: q.Room, Composition: q.Composition,
			})
		}
	}
	for _, p := range learned.Pieces {
		question := *p.Question
		question.Earlier = &earlier
		body, err := json.Marshal(question)
		if err != nil {
			t.Fatal(err)
		}
		asked, have := apitest.Decode[openapi.DryDownAnswer](t, k.post(t, pathDryDown, string(body))), *p.Projection
		for n := range have.WeighIns {
			have.WeighIns[n].Entry = nil
		}
		if !notedIn(asked.Notes, "learned") {
			t.Error("what was asked with earlier pieces did not learn")
		}
		have.Notes, asked.Notes = nil, nil
		if diff := cmp.Diff(asked, have, cmpopts.EquateApprox(2e-3, 2e-3), cmpopts.EquateApproxTime(time.Hour)); diff != "" {
			t.Errorf("piece %s (-as asked with earlier +of the lot):\n%s", p.Piece, diff)
		}
	}
}

func notedIn(notes openapi.Notes, code string) bool {
	return slices.ContainsFunc(notes, func(n openapi.Note) bool { return n.Code == code })
}

// The tag of the answer stands for the lots that it was learned from too: it is not
// the same once one of them changed, though this lot did not. Without learning that
// does not matter.
func TestTagOfALotThatLearns(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	first := k.dries(t, "2026-09-07", inPantry, inMiddle, 0.11, 16)
	path := k.dries(t, "2026-11-02", inPantry, inMiddle, 0.11, 4)
	ask := func(query, tag string) apitest.Answer {
		return k.client.Do(t, apitest.Request{Path: path + "/dry-down" + query, Header: headerOf([]string{"If-None-Match", tag})})
	}
	learned, alone := k.client.Get(t, path+"/dry-down"), k.client.Get(t, path+"/dry-down?learn=false")
	tag, tagAlone := learned.Header.Get("ETag"), alone.Header.Get("ETag")
	if tag == tagAlone {
		t.Error("one tag for two answers")
	}
	if got := ask("", tag).Status; got != http.StatusNotModified {
		t.Errorf("the same: status %d", got)
	}
	for _, entry := range []int{4, 5} {
		seen := k.client.Get(t, first)
		a := k.post(t, first+"/entries", fmt.Sprintf(`{"entries":[{"kind":"retracted","entry":%d,"reason":"the wrong scale"}]}`, entry), "If-Match", seen.Header.Get("ETag"))
		if a.Status != http.StatusCreated {
			t.Fatalf("status %d: %s", a.Status, a.Body)
		}
	}
	after := ask("", tag)
	if after.Status != http.StatusOK || after.Header.Get("ETag") == tag {
		t.Fatalf("after a change of the lot learned from: status %d, tag %s", after.Status, after.Header.Get("ETag"))
	}
	if was, is := apitest.Decode[openapi.LotDryDown](t, learned).Pieces[0].Projection.Target, apitest.Decode[openapi.LotDryDown](t, after).Pieces[0].Projection.Target; cmp.Equal(was, is) {
		t.Error("what was learned did not change")
	}
	if got := ask("?learn=false", tagAlone).Status; got != http.StatusNotModified {
		t.Errorf("without learning: status %d", got)
	}
}

// Nothing is learned from another shop, from lots opened later, or from those whose
// ledger does not hold, which is said; without a room nothing either, which is said.
func TestLotLearnsFromNoOthers(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	other, err := k.cfg.Shops.AddShop(t.Context(), "Other (invented)")
	if err != nil {
		t.Fatal(err)
	}
	scopes := []shops.Scope{"lots:read", "lots:record"}
	mine := []string{"Authorization", "Bearer " + addKey(t, k, store.FirstShop, scopes...)}
	theirs := []string{"Authorization", "Bearer " + addKey(t, k, other.ID, scopes...)}
	of := func(path string) openapi.LotDryDown {
		return apitest.Decode[openapi.LotDryDown](t, k.client.Do(t, apitest.Request{Path: path + "/dry-down", Header: headerOf(mine)}))
	}
	k.dries(t, "2026-08-03", inPantry, inMiddle, 0.11, 16, theirs...)
	path := k.dries(t, "2026-09-07", inPantry, inMiddle, 0.11, 4, mine...)
	nowhere := k.dries(t, "2026-09-08", "", inMiddle, 0.11, 4, mine...)
	k.dries(t, "2026-09-09", inPantry, inMiddle, 0.11, 16, mine...)
	if l := of(path).LearnedFrom; l != nil {
		t.Errorf("learned from another shop's lot or a later one: %+v", l)
	}
	d := of(nowhere)
	if d.LearnedFrom != nil || !notedIn(d.Pieces[0].Projection.Notes, "no-room-told") {
		t.Errorf("without a room: %+v, %v", d.LearnedFrom, d.Pieces[0].Projection.Notes)
	}
}

// A lot before it whose ledger does not hold teaches nothing, which is said; the
// others do.
func TestLotLearnsBesideABrokenLedger(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	sound := k.dries(t, "2026-08-03", inPantry, inMiddle, 0.11, 16)
	broken := k.dries(t, "2026-09-07", inPantry, inMiddle, 0.11, 16)
	path := k.dries(t, "2026-11-02", inPantry, inMiddle, 0.11, 4)
	idOf := func(path string) lot.ID { return lot.ID(strings.TrimPrefix(path, pathOfLots+"/")) }
	var err error
	k.cfg.Lots, err = lots.New(t.Context(), lots.Settings{
		Store: &oneChanged{changed{k.store}, idOf(broken)}, Clock: func() time.Time { return k.now }, NewID: func() string { return "x" }, Read: ReadEntry,
	})
	if err != nil {
		t.Fatal(err)
	}
	k.client = clientOf(t, k.cfg)
	d := dryDownOf(t, k, path+"/dry-down")
	if len(d.LearnedFrom) != 1 || len(d.LearnedFrom[0].Lots) != 1 || d.LearnedFrom[0].Lots[0].LotID != string(idOf(sound)) || !notedIn(d.Notes, "broken-left-out") {
		t.Errorf("learned from %+v, notes %v", d.LearnedFrom, d.Notes)
	}
}

// A lot that hangs in two rooms, of which one has dried before: only the piece there
// learns, and together they are told as without, which is said.
func TestPiecesThatDoNotLearnAlike(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	k.dries(t, "2026-09-07", inPantry, "", 0.11, 16)
	k.at(t, "2026-11-02T08:00:05+01:00")
	path := k.open(t)
	k.append(t, path, `{"kind":"stuffed","pieces":[
		{"piece":"A","weight":{"value":600,"unit":"g"},"diameter":{"value":45,"unit":"mm"}},
		{"piece":"B","weight":{"value":600,"unit":"g"},"diameter":{"value":45,"unit":"mm"}}]}`)
	k.now = k.now.Add(time.Hour)
	k.append(t, path, `{"kind":"hung","pieces":["A"],"room":"Pantry"}`, `{"kind":"hung","pieces":["B"],"room":"Cellar"}`)
	with, without := dryDownOf(t, k, path+"/dry-down"), dryDownOf(t, k, path+"/dry-down?learn=false")
	if !notedIn(with.Pieces[0].Projection.Notes, "learned-from-lots") || notedIn(with.Pieces[1].Projection.Notes, "learned") {
		t.Errorf("want A alone to learn: %v, %v", with.Pieces[0].Projection.Notes, with.Pieces[1].Projection.Notes)
	}
	if *with.Pieces[0].Projection.Target.Day.MedianDays >= *without.Pieces[0].Projection.Target.Day.MedianDays {
		t.Error("what A learned does not bring its day forward")
	}
	if diff := cmp.Diff(without.Together, with.Together); diff != "" || !notedIn(with.Notes, "together-not-learned") || notedIn(without.Notes, "together-not-learned") {
		t.Errorf("together: notes %v (-without learning +with):\n%s", with.Notes, diff)
	}
}

// Of a lot of many pieces 12 are shown and compared and 24 told together, and the notes
// say so.
func TestManyPiecesAreBoundedAndSaid(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	k.at(t, "2026-11-02T08:00:05+01:00")
	path := k.open(t)
	const many = 26
	var stuffed, weighed []string
	for i := range many {
		stuffed = append(stuffed, fmt.Sprintf(`{"piece":"%d","weight":{"value":600,"unit":"g"},"diameter":{"value":45,"unit":"mm"}}`, i))
		weighed = append(weighed, fmt.Sprintf(`{"kind":"weighed","piece":"%d","weight":{"value":520,"unit":"g"}}`, i))
	}
	k.append(t, path, `{"kind":"stuffed","pieces":[`+strings.Join(stuffed, ",")+`]}`)
	k.now = k.now.Add(time.Hour)
	k.append(t, path, `{"kind":"hung","room":"Pantry"}`)
	k.now = k.now.AddDate(0, 0, 5)
	k.append(t, path, weighed...)
	d := dryDownOf(t, k, path+"/dry-down")
	if len(d.Pieces) != mostProjected || len(d.Evenness) != 1 || len(d.Evenness[0].Pieces) != mostProjected || d.Together == nil || d.Together.Count != mostTogether {
		t.Fatalf("%d pieces, %d compared", len(d.Pieces), len(d.Evenness))
	}
	for _, code := range []string{"more-pieces", "more-together", "more-compared"} {
		if !notedIn(d.Notes, code) {
			t.Errorf("want a note %s, got %v", code, d.Notes)
		}
	}
	one := dryDownOf(t, k, path+"/dry-down?piece=25")
	if len(one.Pieces) != 1 || len(one.Notes) != 0 {
		t.Errorf("one piece: %d, %v", len(one.Pieces), one.Notes)
	}
}

// oneChanged is a store in which somebody has changed the ledger of one lot.
type oneChanged struct {
	changed

	id lot.ID
}

// View implements store.Store.
func (c *oneChanged) View(ctx context.Context, read func(store.Reader) error) error {
	return c.Store.View(ctx, func(r store.Reader) error { return read(oneChangedReader{r, c.id}) })
}

type oneChangedReader struct {
	store.Reader

	id lot.ID
}

// Entries implements store.Reader.
func (r oneChangedReader) Entries(ctx context.Context, shop store.ShopID, id lot.ID, after, limit int) ([]lot.Entry, error) {
	if id == r.id {
		return changedReader{r.Reader}.Entries(ctx, shop, id, after, limit)
	}
	return r.Reader.Entries(ctx, shop, id, after, limit)
}
