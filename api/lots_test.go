package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"greenweight/api/apitest"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/openapi"
	"greenweight/service/lots"
	"greenweight/service/shops"
	"greenweight/service/store"
)

const pathOfLots = "/v1/lots"

// keeping is a service with a store of its own, whose clock the test moves.
type keeping struct {
	client *apitest.Client
	store  store.Store
	cfg    Config
	now    time.Time
	made   int // ids
}

// newKeeping returns a service whose clock shows the test time, and whose ids
// count up.
func newKeeping(t *testing.T) *keeping {
	t.Helper()
	k := &keeping{now: testTime()}
	var err error
	k.cfg, k.store, err = keep(t.Context(), t.TempDir(), func() time.Time { return k.now }, func() string {
		k.made++
		return fmt.Sprintf("019aa000-0000-7000-8000-%012d", k.made)
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := k.store.Close(); err != nil {
			t.Error(err)
		}
	})
	k.client = clientOf(t, k.cfg)
	return k
}

// at moves the clock.
func (k *keeping) at(t *testing.T, instant string) {
	t.Helper()
	at, err := time.Parse(time.RFC3339, instant)
	if err != nil {
		t.Fatal(err)
	}
	k.now = at
}

// send sends a request under a request id that is the same in each run.
func (k *keeping) send(t *testing.T, r apitest.Request) apitest.Answer {
	t.Helper()
	if r.Header == nil {
		r.Header = http.Header{}
	}
	r.Header.Set(headerRequestID, "example-request")
	return k.client.Do(t, r)
}

func (k *keeping) post(t *testing.T, path, body string, header ...string) apitest.Answer {
	t.Helper()
	return k.send(t, apitest.Request{Method: http.MethodPost, Path: path, Body: []byte(body), Header: headerOf(header)})
}

// headerOf makes a header of names and values.
func headerOf(pairs []string) http.Header {
	header := http.Header{}
	for pair := range slices.Chunk(pairs, 2) {
		header.Set(pair[0], pair[1])
	}
	return header
}

// open opens a lot of the example, and returns its path.
func (k *keeping) open(t *testing.T) string {
	t.Helper()
	a := k.post(t, pathOfLots, string(readExample(t, "lot.request").Value))
	if a.Status != http.StatusCreated {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	return a.Header.Get("Location")
}

// append appends entries that have to be taken.
func (k *keeping) append(t *testing.T, path string, entries ...string) apitest.Answer {
	t.Helper()
	a := k.post(t, path+"/entries", `{"entries":[`+strings.Join(entries, ",")+`]}`)
	if a.Status != http.StatusCreated {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	return a
}

// The examples of lots are one story, told with the clock at each moment.
func TestExamplesOfLots(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	k.at(t, "2026-11-02T08:00:05+01:00")
	opened := k.post(t, pathOfLots, string(readExample(t, "lot.request").Value))
	goldenStatus(t, "lot-opened.answer", opened, http.StatusCreated, near)
	path := opened.Header.Get("Location")

	k.at(t, "2026-11-02T13:10:00+01:00")
	stuffed := k.post(t, path+"/entries", string(readExample(t, "entries-stuffed.request").Value))
	goldenStatus(t, "entries-stuffed.answer", stuffed, http.StatusCreated, near)

	for _, hour := range []string{"02T14", "02T22", "03T06", "03T14", "03T22", "04T06"} {
		k.at(t, "2026-11-"+hour+":00:00+01:00")
		k.append(t, path, `{"kind":"measured","temperature":{"value":24,"unit":"degC"},"relative_humidity_percent":90,"instrument":"Chamber"}`)
	}
	k.at(t, "2026-11-04T08:00:00+01:00")
	k.append(t, path,
		`{"kind":"measured","temperature":{"value":24,"unit":"degC"},"instrument":"Chamber"}`,
		`{"kind":"measured","piece":"B","ph":5.21,"uncertainty_ph":0.05,"method":"meter","instrument":"Pocket meter"}`)
	goldenStatus(t, "lot-fermentation.answer", k.client.Get(t, path+"/fermentation"), http.StatusOK, near)

	k.at(t, "2026-11-04T09:00:00+01:00")
	k.append(t, path, `{"kind":"hung","room":"Pantry","position":"upper rod"}`)
	k.append(t, path, `{"kind":"measured","temperature":{"value":13,"unit":"degC"},"relative_humidity_percent":78,"instrument":"Pantry"}`)

	k.at(t, "2026-11-08T09:00:30+01:00")
	weighed := k.post(t, path+"/entries", string(readExample(t, "entries-weighed.request").Value), "Idempotency-Key", "scale-2026-11-08")
	goldenStatus(t, "entries-weighed.answer", weighed, http.StatusCreated, near)
	k.append(t, path, `{"kind":"weighed","piece":"B","weight":{"value":558,"unit":"g"}}`)

	k.at(t, "2026-11-15T09:00:00+01:00")
	k.append(t, path, `{"kind":"weighed","piece":"A","weight":{"value":0.485,"unit":"kg"}}`, `{"kind":"weighed","piece":"B","weight":{"value":501,"unit":"g"}}`)
	k.at(t, "2026-11-22T09:00:00+01:00")
	k.append(t, path, `{"kind":"weighed","piece":"A","weight":{"value":0.447,"unit":"g"}}`, `{"kind":"weighed","piece":"B","weight":{"value":462,"unit":"g"}}`)

	k.at(t, "2026-11-22T09:20:00+01:00")
	seen := k.client.Get(t, path)
	corrected := k.post(t, path+"/entries", string(readExample(t, "entries-corrected.request").Value), "If-Match", seen.Header.Get("ETag"))
	goldenStatus(t, "entries-corrected.answer", corrected, http.StatusCreated, near)

	k.at(t, "2026-11-23T09:00:00+01:00")
	goldenStatus(t, "lot.answer", k.client.Get(t, path), http.StatusOK, near)
	goldenStatus(t, "lots.answer", k.client.Get(t, pathOfLots), http.StatusOK, near)
	listed := k.client.Get(t, path+"/entries?kind=weighed")
	goldenStatus(t, "entries.answer", listed, http.StatusOK, near)
	goldenStatus(t, "ledger-verification.answer", k.client.Get(t, path+"/ledger/verification"), http.StatusOK, near)
	dryDown := k.client.Get(t, path+"/dry-down")
	goldenStatus(t, "lot-dry-down.answer", dryDown, http.StatusOK, nearFit)
	sameAsAsked(t, k, dryDown)
}

// The example of a lot that ferments. By hand: 24 °C is 75.2 °F, 15.2 above the base
// of 60, so that 1200 are reached after 78.95 h; with the thermometer half a degree
// too low 16.1 above it and 74.53 h: from 13:00 that is 15:32 two days on and a day
// more. Half of the time from the last reading at 12 h to there is at 43.3 h, so that
// the projection or a day without a reading asks for the pH first.
func TestExampleOfALotThatFerments(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	k.at(t, "2026-11-02T08:00:05+01:00")
	path := k.post(t, pathOfLots, string(readExample(t, "lot.request").Value)).Header.Get("Location")
	k.at(t, "2026-11-02T13:10:00+01:00")
	k.post(t, path+"/entries", string(readExample(t, "entries-stuffed.request").Value))
	k.at(t, "2026-11-03T01:00:00+01:00")
	k.append(t, path,
		`{"kind":"measured","happened_at":"2026-11-02T13:00:00+01:00","temperature":{"value":24,"unit":"degC"},"relative_humidity_percent":90,"instrument":"Chamber"}`,
		`{"kind":"measured","happened_at":"2026-11-02T13:30:00+01:00","piece":"B","ph":5.82,"uncertainty_ph":0.05,"method":"meter"}`,
		`{"kind":"measured","temperature":{"value":24,"unit":"degC"},"relative_humidity_percent":90,"instrument":"Chamber"}`,
		`{"kind":"measured","piece":"B","ph":5.66,"uncertainty_ph":0.05,"method":"meter"}`)
	answer := k.client.Get(t, path+"/fermentation")
	goldenStatus(t, "lot-fermenting.answer", answer, http.StatusOK, near)
	w := apitest.Decode[openapi.LotFermentation](t, answer)
	if len(w.Due) != 2 || w.Due[0].Code != openapi.DueCodeReadPh && w.Due[0].Code != openapi.DueCodeReadTemperature || w.Projection.To[0].Limits[0].ReachedIfWarmer == nil {
		t.Fatalf("got %+v", w.Due)
	}
	reached := w.Projection.To[0].Limits[0]
	want := time.Date(2026, 11, 5, 15, 32, 3, 0, time.FixedZone("", 3600))
	if !reached.ReachedIfWarmer.At.Equal(want) {
		t.Errorf("want the limit at %v, got %v", want, reached.ReachedIfWarmer.At)
	}
	for _, d := range w.Due {
		if d.ByAt == nil || d.ByAt.After(*reached.ReachedIfWarmer.At) {
			t.Errorf("%s is due by %v, after the limit", d.Code, d.ByAt)
		}
	}
	for _, accept := range []string{mediaTypeSVG, mediaTypePNG} {
		chart := k.client.Do(t, apitest.Request{Method: http.MethodGet, Path: path + "/fermentation", Header: http.Header{"Accept": {accept}}})
		if chart.Status != http.StatusOK || chart.Header.Get("Content-Type") != accept {
			t.Errorf("%s: status %d, %s", accept, chart.Status, chart.Header.Get("Content-Type"))
		}
		if accept == mediaTypeSVG && !bytes.Contains(chart.Body, []byte("Degree-hours above 60 °F")) {
			t.Error("the chart lacks the degree-hours")
		}
	}
}

// sameAsAsked asks /v1/dry-down/projection what the record of each piece asked,
// which has to be answered alike, and holds what was asked against a calculation
// by hand. Of a kilogram of meat 800 g of shoulder and 200 g of back fat, 26 g of
// salt, 2.4 g of cure, 5 g of dextrose, 3 g of fennel and 0.25 g of culture are
// 1036.65 g. By the table (USDA SR28, 2015) the shoulder has 64.02 % of water,
// 17.18 % of protein and 17.99 % of fat (NDB 10070), the back fat 7.69, 2.92 and
// 88.69 (NDB 10004); fennel and dextrose bring a gram of the rest. So 528.3 g of
// water, 143.8 of protein, 321.8 of fat and 28.2 of salt. The table does not know
// the sugar of fennel, so that the sugar is not known.
func sameAsAsked(t *testing.T, k *keeping, got apitest.Answer) {
	t.Helper()
	pieces := apitest.Decode[openapi.LotDryDown](t, got).Pieces
	if len(pieces) != 2 || pieces[0].Projection == nil || pieces[1].Projection == nil {
		t.Fatalf("not two projections: %s", got.Body)
	}
	for i, p := range pieces {
		question, err := json.Marshal(p.Question)
		if err != nil {
			t.Fatal(err)
		}
		want := apitest.Decode[openapi.DryDownAnswer](t, k.post(t, pathDryDown, string(question)))
		have := *p.Projection
		for n := range have.WeighIns {
			have.WeighIns[n].Entry = nil
		}
		have.Notes, want.Notes = nil, nil // a record says where it has its figures from
		// The question is written with six digits, and a fit makes more of the seventh.
		if diff := cmp.Diff(want, have, cmpopts.EquateApprox(2e-3, 2e-3), cmpopts.EquateApproxTime(time.Hour)); diff != "" {
			t.Errorf("piece %d (-as asked +of the lot):\n%s", i, diff)
		}
	}
	asked := pieces[0].Question
	for _, of := range []struct {
		name string
		want float64
		have *float64
	}{
		{"green weight", 600, &asked.GreenWeight.Value}, {"first weight", 528, &asked.WeighIns[0].Weight.Value},
		{"last weight", 435, &asked.WeighIns[2].Weight.Value}, {"target", 35, asked.TargetLossPercent}, {"diameter", 45, &asked.Diameter.Value},
		{"temperature", 13, &asked.Room.Temperature.Value}, {"humidity", 78, asked.Room.RelativeHumidityPercent},
		{"water", 50.96, asked.Composition.WaterPercent}, {"protein", 13.87, asked.Composition.ProteinPercent},
		{"fat", 31.04, asked.Composition.FatPercent}, {"salt", 2.72, asked.Composition.SaltPercent},
	} {
		if of.have == nil || math.Abs(*of.have-of.want) > 0.01 {
			t.Errorf("%s: want %v, got %v", of.name, of.want, text(of.have))
		}
	}
	if asked.Composition.SugarPercent != nil || len(asked.WeighIns) != 3 {
		t.Errorf("asked %+v", asked)
	}
}

func text(v *float64) string {
	if v == nil {
		return "none"
	}
	return fmt.Sprint(*v)
}

// Whoever has a ledger from the API can compute each digest: the entry as it is
// listed, without digest and judged, in the canonical form of RFC 8785.
func TestDigestsCanBeComputedFromTheWire(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path := k.open(t)
	k.append(t, path, `{ "kind" : "noted", "text" : "Blanks, \u00e9 and 1e2 are as they were posted" }`,
		`{"kind":"stuffed","pieces":[{"piece":"A","weight":{"value":1.50e3,"unit":"g"}}],"happened_at":"2026-11-25T10:00:00.25+01:00"}`)
	var page struct {
		Head    struct{ Digest string }
		Entries []map[string]jsontext.Value
	}
	if err := json.Unmarshal(k.client.Get(t, path+"/entries").Body, &page); err != nil {
		t.Fatal(err)
	}
	before := ""
	for _, e := range page.Entries {
		digest, previous := unquote(t, e["digest"]), unquote(t, e["previous_digest"])
		if previous != before {
			t.Errorf("entry %s names %q as the one before it, want %q", e["sequence"], previous, before)
		}
		delete(e, "digest")
		delete(e, "judged")
		whole, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		canonical := jsontext.Value(whole)
		if err := canonical.Canonicalize(); err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(canonical)
		if got := hex.EncodeToString(sum[:]); got != digest {
			t.Errorf("entry %s: the digest of what is listed is %s, and it says %s:\n%s", e["sequence"], got, digest, canonical)
		}
		before = digest
	}
	if len(page.Entries) != 3 || page.Head.Digest != before {
		t.Errorf("%d entries, head %s, last %s", len(page.Entries), page.Head.Digest, before)
	}
}

func unquote(t *testing.T, value jsontext.Value) string {
	t.Helper()
	if value == nil {
		return ""
	}
	var text string
	if err := json.Unmarshal(value, &text); err != nil {
		t.Fatal(err)
	}
	return text
}

// What the service refuses to keep: the problem, and that nothing was kept.
func TestRefusedEntries(t *testing.T) {
	t.Parallel()
	const stuffed = `{"kind":"stuffed","pieces":[{"piece":"A","weight":{"value":500,"unit":"g"}}],"happened_at":"2026-11-24T09:00:00Z"}`
	for _, row := range []struct {
		name, entries string
		header        []string
		status        int
		slug          problemSlug
		places        []string
	}{
		{"weighed before stuffing", `{"kind":"weighed","piece":"A","weight":{"value":400,"unit":"g"}}`, nil, 422, slugInvalidValue,
			[]string{"#/entries/0/piece unknown-piece"}},
		{"an unknown piece", stuffed + `,{"kind":"weighed","piece":"B","weight":{"value":400,"unit":"g"}}`, nil, 422, slugInvalidValue,
			[]string{"#/entries/1/piece unknown-piece"}},
		{"earlier than the stuffing", stuffed + `,{"kind":"weighed","piece":"A","weight":{"value":400,"unit":"g"},"happened_at":"2026-11-24T08:00:00Z"}`,
			nil, 422, slugInvalidValue, []string{"#/entries/1/happened_at before-stuffing"}},
		{"a clock in the future", `{"kind":"noted","text":"x","happened_at":"2026-11-25T09:35:01Z"}`, nil, 422, slugInvalidValue,
			[]string{"#/entries/0/happened_at in-the-future"}},
		{"a slip in the year", `{"kind":"noted","text":"x","happened_at":"1926-11-25T09:35:01Z"}`, nil, 422, slugInvalidValue,
			[]string{"#/entries/0/happened_at out-of-range"}},
		{"nothing measured", `{"kind":"measured","instrument":"Chamber"}`, nil, 422, slugInvalidValue, []string{"#/entries/0 required"}},
		{"an uncertainty of nothing", `{"kind":"measured","ph":5.5,"temperature_uncertainty":{"value":1,"unit":"degC"}}`, nil, 422, slugInvalidValue,
			[]string{"#/entries/0/temperature_uncertainty additional-member"}},
		{"a correction without a version", `{"kind":"retracted","entry":1,"reason":"x"}`, nil, 428, slugPreconditionRequired, nil},
		{"a correction of an older version", stuffed + `,{"kind":"retracted","entry":2,"reason":"x"}`, []string{"If-Match", `"1-0000000000000000"`},
			412, slugStale, nil},
		{"a correction by a weak tag", `{"kind":"retracted","entry":1,"reason":"x"}`, []string{"If-Match", `W/"1-0000000000000000"`}, 412, slugStale, nil},
		{"the opening retracted", `{"kind":"retracted","entry":1,"reason":"x"}`, []string{"If-Match", "*"}, 422, slugInvalidValue,
			[]string{"#/entries/0/entry opening"}},
		{"two batches", `{"kind":"mixed"},{"kind":"mixed"}`, nil, 409, slugConflict, nil},
		{"a kind that there is not", `{"kind":"salted"}`, nil, 422, slugInvalidValue, []string{"#/entries/0/kind enum"}},
		{"a formula whose shares do not sum", `{"kind":"corrected","entry":1,"reason":"x","right":{"kind":"planned","name":"x","rulebook":"us",` +
			`"formula":{"name":"x","product":"dry-sausage","parts":[{"material":"pork-backfat","share_percent":50}],"additions":[]}}}`,
			[]string{"If-Match", "*"}, 422, slugInvalidValue, []string{"#/entries/0/right/formula/parts sum"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			k := newKeeping(t)
			path := k.open(t)
			a := k.send(t, apitest.Request{
				Method: http.MethodPost, Path: path + "/entries", Body: []byte(`{"entries":[` + row.entries + `]}`), Header: headerOf(row.header), Bad: true,
			})
			if a.Status != row.status || a.Slug() != string(row.slug) {
				t.Errorf("want %d %s, got %d %s: %s", row.status, row.slug, a.Status, a.Slug(), a.Body)
			}
			if row.places != nil {
				if diff := cmp.Diff(row.places, a.Pointers()); diff != "" {
					t.Errorf("places (-want +got):\n%s", diff)
				}
			}
			if after := apitest.Decode[openapi.EntryPage](t, k.client.Get(t, path+"/entries")); len(after.Entries) != 1 {
				t.Errorf("%d entries are kept, want the opening alone", len(after.Entries))
			}
		})
	}
}

// A request that is sent again with its key is done once, and answered as it was
// the first time, whatever came since.
func TestSentAgain(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	order := string(readExample(t, "lot.request").Value)
	first := k.post(t, pathOfLots, order, "Idempotency-Key", "open-1")
	path := first.Header.Get("Location")
	note := `{"entries":[{"kind":"noted","text":"once"}]}`
	noted := k.post(t, path+"/entries", note, "Idempotency-Key", "note-1")
	k.append(t, path, `{"kind":"noted","text":"more"}`)
	k.now = k.now.Add(23 * time.Hour)

	again := k.post(t, pathOfLots, order, "Idempotency-Key", "open-1")
	if again.Status != http.StatusCreated || again.Header.Get("Idempotency-Replayed") != "true" || string(again.Body) != string(first.Body) {
		t.Errorf("the opening again: status %d, replayed %q (-want +got):\n%s", again.Status, again.Header.Get("Idempotency-Replayed"),
			cmp.Diff(string(first.Body), string(again.Body)))
	}
	if first.Header.Get("Idempotency-Replayed") != "" {
		t.Error("the first answer says that it was given before")
	}
	if a := k.post(t, path+"/entries", note, "Idempotency-Key", "note-1"); a.Header.Get("Idempotency-Replayed") != "true" || string(a.Body) != string(noted.Body) {
		t.Errorf("the note again (-want +got):\n%s", cmp.Diff(string(noted.Body), string(a.Body)))
	}
	for name, r := range map[string]apitest.Request{
		"another body": {Path: pathOfLots, Body: []byte(strings.Replace(order, "Fennel ring, first", "Fennel ring, second", 1)), Header: headerOf([]string{"Idempotency-Key", "open-1"})},
		"another path": {Path: path + "/entries", Body: []byte(note), Header: headerOf([]string{"Idempotency-Key", "open-1"})},
	} {
		r.Method, r.Bad = http.MethodPost, true
		if a := k.send(t, r); a.Status != http.StatusUnprocessableEntity || a.Slug() != string(slugIdempotencyKeyReused) {
			t.Errorf("%s: status %d, %s", name, a.Status, a.Slug())
		}
	}
	listed := apitest.Decode[openapi.LotPage](t, k.client.Get(t, pathOfLots)).Lots
	if len(listed) != 1 || listed[0].Entries != 3 || listed[0].Number != 1 {
		t.Errorf("want one lot of three entries, got %+v", listed)
	}

	k.now = k.now.Add(2 * time.Hour) // 25 h after the first
	if a := k.post(t, pathOfLots, order, "Idempotency-Key", "open-1"); a.Header.Get("Idempotency-Replayed") != "" || a.Header.Get("Location") == path {
		t.Error("the key is still remembered after 24 hours")
	}
	if listed := apitest.Decode[openapi.LotPage](t, k.client.Get(t, pathOfLots)).Lots; len(listed) != 2 || listed[0].Number != 2 {
		t.Errorf("want lots 2 and 1, got %+v", listed)
	}
}

// The same weight at the same moment is kept once; another one is refused.
func TestTheSameMoment(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path := k.open(t)
	k.append(t, path, `{"kind":"stuffed","happened_at":"2026-11-20T09:00:00Z","pieces":[{"piece":"A","weight":{"value":500,"unit":"g"}}]}`)
	const weighed = `{"kind":"weighed","piece":"A","weight":{"value":450,"unit":"g"},"happened_at":"2026-11-25T09:00:00Z"}`
	first := apitest.Decode[openapi.AppendAnswer](t, k.append(t, path, weighed))
	again := apitest.Decode[openapi.AppendAnswer](t, k.append(t, path, weighed))
	if again.Head != first.Head || !again.Entries[0].Repeated || again.Entries[0].Entry.Sequence != first.Entries[0].Entry.Sequence {
		t.Errorf("want entry %d again, got %+v", first.Entries[0].Entry.Sequence, again)
	}
	a := k.send(t, apitest.Request{
		Method: http.MethodPost, Path: path + "/entries", Bad: true,
		Body: []byte(`{"entries":[` + strings.Replace(weighed, "450", "440", 1) + `]}`),
	})
	if a.Status != http.StatusConflict || !slices.Equal(a.Pointers(), []string{"#/entries/0 conflicting-instant"}) {
		t.Errorf("status %d, %v: %s", a.Status, a.Pointers(), a.Body)
	}
}

// A weight that can't be right is kept, marked, and left out until somebody has
// looked.
func TestDoubtfulUntilConfirmed(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path := k.open(t)
	k.append(t, path, `{"kind":"stuffed","happened_at":"2026-11-20T09:00:00Z","pieces":[{"piece":"A","weight":{"value":500,"unit":"g"}}]}`,
		`{"kind":"weighed","piece":"A","weight":{"value":450,"unit":"g"},"happened_at":"2026-11-24T09:00:00Z"}`)
	kept := apitest.Decode[openapi.AppendAnswer](t, k.append(t, path, `{"kind":"weighed","piece":"A","weight":{"value":480,"unit":"g"}}`)).Entries[0].Entry
	if len(kept.Doubts) != 1 || kept.Doubts[0].Code != "gain" {
		t.Errorf("want the doubt gain, got %+v", kept.Doubts)
	}
	read := func() openapi.Lot { return apitest.Decode[openapi.Lot](t, k.client.Get(t, path)) }
	before := read()
	if p := before.Pieces[0]; p.Latest.Entry != 3 || p.WeighIns[1].Counts || !slices.Equal(before.Doubtful, []int{4}) {
		t.Errorf("the doubtful weight counts: %+v", before)
	}
	tag := k.client.Get(t, path+"?units=us").Header.Get("ETag") // in whatever units it was read
	a := k.post(t, path+"/entries", `{"entries":[{"kind":"confirmed","entry":4,"reason":"fell on a wet shelf"}]}`, "If-Match", tag)
	if a.Status != http.StatusCreated {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	// One of the two can't be right, and now it is the other.
	if after := read(); after.Pieces[0].Latest.Entry != 4 || !slices.Equal(after.Doubtful, []int{3}) || after.Pieces[0].WeighIns[1].Doubts != nil {
		t.Errorf("the confirmed weight does not count: %+v", after)
	}
	down := apitest.Decode[openapi.LotDryDown](t, k.client.Get(t, path+"/dry-down")).Pieces[0].Projection
	if down == nil || len(down.WeighIns) != 1 || !down.WeighIns[0].Counts || *down.WeighIns[0].Entry != 4 {
		t.Errorf("the confirmed weight is not projected from: %+v", down)
	}
}

// Pages follow each other without a gap, and a cursor belongs to its list.
func TestPages(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	var paths []string
	for range 5 {
		paths = append(paths, k.open(t))
		k.now = k.now.Add(time.Second)
	}
	var seen []int
	next := pathOfLots + "?limit=2"
	for next != "" {
		a := k.client.Get(t, next)
		page := apitest.Decode[openapi.LotPage](t, a)
		for _, l := range page.Lots {
			seen = append(seen, l.Number)
		}
		link := a.Header.Get("Link")
		if (page.NextCursor == nil) != (link == "") {
			t.Fatalf("cursor and link do not agree: %v, %q", page.NextCursor, link)
		}
		next = strings.TrimSuffix(strings.TrimPrefix(link, "<"), `>; rel="next"`)
		if len(seen) > 10 {
			t.Fatal("the pages do not end")
		}
	}
	if want := []int{5, 4, 3, 2, 1}; !slices.Equal(seen, want) {
		t.Errorf("want %v, got %v", want, seen)
	}
	cursor := *apitest.Decode[openapi.LotPage](t, k.client.Get(t, pathOfLots+"?limit=2")).NextCursor
	for name, path := range map[string]string{
		"another list":   paths[0] + "/entries?cursor=" + cursor,
		"another filter": pathOfLots + "?stage=planned&cursor=" + cursor,
		"forged":         pathOfLots + "?cursor=" + strings.ToUpper(cursor),
		"nonsense":       pathOfLots + "?cursor=x",
	} {
		if a := k.client.Do(t, apitest.Request{Path: path, Bad: true}); a.Status != http.StatusBadRequest {
			t.Errorf("%s: status %d", name, a.Status)
		}
	}

	for i := range 7 {
		k.append(t, paths[0], fmt.Sprintf(`{"kind":"noted","text":"%d"}`, i))
	}
	first := apitest.Decode[openapi.EntryPage](t, k.client.Get(t, paths[0]+"/entries?limit=5&kind=noted"))
	rest := apitest.Decode[openapi.EntryPage](t, k.client.Get(t, paths[0]+"/entries?limit=5&kind=noted&cursor="+*first.NextCursor))
	if len(first.Entries) != 5 || len(rest.Entries) != 2 || rest.Entries[0].Sequence != 7 || rest.NextCursor != nil {
		t.Errorf("pages of %d and %d, cursor %v", len(first.Entries), len(rest.Entries), rest.NextCursor)
	}
}

// A name that no store can keep, or no list can show, is refused before.
func TestNamesWithControlCharacters(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	order := string(readExample(t, "lot.request").Value)
	for _, bad := range []string{`\u0000`, `\n`, `\u0085`} {
		a := k.send(t, apitest.Request{
			Method: http.MethodPost, Path: pathOfLots, Body: []byte(strings.Replace(order, "Fennel ring, first", bad, 1)), Bad: true,
		})
		if a.Status != 422 || !slices.Equal(a.Pointers(), []string{"#/name text"}) {
			t.Errorf("%s: status %d, %v", bad, a.Status, a.Pointers())
		}
	}
	if a := k.client.Do(t, apitest.Request{Path: pathOfLots + "?name=%00", Bad: true}); a.Status != 422 || !slices.Equal(a.Pointers(), []string{"name text"}) {
		t.Errorf("in a filter: status %d, %v", a.Status, a.Pointers())
	}
	k.append(t, k.open(t), `{"kind":"noted","text":"a body may have \u0000 in it, as it was posted"}`)
}

func TestFilters(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	order := string(readExample(t, "lot.request").Value)
	k.post(t, pathOfLots, order)
	second := k.post(t, pathOfLots, strings.Replace(strings.Replace(order, "Fennel ring, first of November", "100% VENISON_ring", 1),
		"2026-11-02T08:00:00+01:00", "2026-11-20T08:00:00+01:00", 1)).Header.Get("Location")
	k.append(t, second, `{"kind":"mixed"}`)
	for query, want := range map[string][]int{
		"":                                       {2, 1},
		"?stage=mixed":                           {2},
		"?stage=drying":                          {},
		"?name=fennel":                           {1},
		"?name=venison_":                         {2},
		"?name=%25":                              {2},
		"?name=_ring":                            {2},
		"?opened_from_at=2026-11-20T07:00:00Z":   {2},
		"?opened_before_at=2026-11-20T07:00:00Z": {1},
		"?opened_from_at=2026-11-02T08:00:00%2B01:00&opened_before_at=2026-11-03T00:00:00Z&name=RING": {1},
	} {
		got := []int{}
		for _, l := range apitest.Decode[openapi.LotPage](t, k.client.Get(t, pathOfLots+query)).Lots {
			got = append(got, l.Number)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%q: want %v, got %v", query, want, got)
		}
	}
}

// A copy that still holds is not sent again; one in other units is another.
func TestTagsOfLots(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path := k.open(t)
	tag := k.client.Get(t, path).Header.Get("ETag")
	ask := func(path, tag string) int {
		return k.client.Do(t, apitest.Request{Path: path, Header: headerOf([]string{"If-None-Match", tag})}).Status
	}
	if got := ask(path, tag); got != http.StatusNotModified {
		t.Errorf("status %d for the same", got)
	}
	if got := ask(path+"?units=us", tag); got != http.StatusOK {
		t.Errorf("status %d for other units", got)
	}
	paths := []string{pathOfLots, path + "/entries", path + "/ledger/verification", path + "/dry-down", path + "/fermentation"}
	tags := make(map[string]string)
	for _, of := range paths {
		tags[of] = k.client.Get(t, of).Header.Get("ETag")
		if got := ask(of, tags[of]); got != http.StatusNotModified {
			t.Errorf("%s: status %d for the same", of, got)
		}
	}
	k.append(t, path, `{"kind":"mixed"}`)
	if got := ask(path, tag); got != http.StatusOK {
		t.Errorf("status %d after a change", got)
	}
	for _, of := range paths {
		if got := ask(of, tags[of]); got != http.StatusOK {
			t.Errorf("%s: status %d after a change", of, got)
		}
	}
}

// A lot without what a question needs shows nothing, and says what is missing.
func TestNothingToShow(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path := k.open(t)
	if f := apitest.Decode[openapi.LotFermentation](t, k.client.Get(t, path+"/fermentation")); f.NotShown == nil || f.DegreeHours != nil {
		t.Errorf("the fermentation of nothing: %+v", f)
	}
	if d := apitest.Decode[openapi.LotDryDown](t, k.client.Get(t, path+"/dry-down")); len(d.Pieces) != 0 {
		t.Errorf("pieces of nothing: %+v", d)
	}
	picture := func(path string) apitest.Answer {
		return k.client.Do(t, apitest.Request{Path: path, Header: headerOf([]string{"Accept", "image/svg+xml"}), Bad: true})
	}
	for _, of := range []string{"/fermentation", "/dry-down"} {
		if a := picture(path + of); a.Status != 422 || a.Slug() != string(slugNoSolution) {
			t.Errorf("%s as a picture: %d %s", of, a.Status, a.Slug())
		}
	}
	k.append(t, path, `{"kind":"stuffed","pieces":[{"piece":"A","weight":{"value":500,"unit":"g"}},{"piece":"B","weight":{"value":500,"unit":"g"}}]}`)
	if a := picture(path + "/dry-down"); a.Status != 422 || !slices.Equal(a.Pointers(), []string{"piece required"}) {
		t.Errorf("a picture of two pieces: %d %v", a.Status, a.Pointers())
	}
	if a := k.client.Do(t, apitest.Request{Path: path + "/dry-down?piece=C", Bad: true}); a.Status != http.StatusNotFound {
		t.Errorf("a piece that there is not: %d", a.Status)
	}
	k.append(t, path, `{"kind":"noted","text":"later than what is asked below"}`)
	if a := k.client.Get(t, path+"/dry-down?as_of_at=2026-11-25T09:30:00Z"); a.Status != http.StatusOK {
		t.Errorf("a present with a note after it: %d %s", a.Status, a.Body)
	}
	early := k.client.Do(t, apitest.Request{Path: path + "/dry-down?as_of_at=2026-11-01T00:00:00Z", Bad: true})
	if early.Status != 422 || !slices.Equal(early.Pointers(), []string{"as_of_at before-the-facts"}) {
		t.Errorf("a present before the facts: %d %v", early.Status, early.Pointers())
	}
}

// Charts of a lot are the charts of the same questions.
func TestChartsOfLots(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path := k.open(t)
	k.append(t, path,
		`{"kind":"stuffed","happened_at":"2026-11-02T12:00:00Z","pieces":[{"piece":"A","weight":{"value":500,"unit":"g"},"diameter":{"value":45,"unit":"mm"}}]}`,
		`{"kind":"measured","happened_at":"2026-11-02T12:00:00Z","temperature":{"value":22,"unit":"degC"}}`,
		`{"kind":"measured","happened_at":"2026-11-04T12:00:00Z","temperature":{"value":22,"unit":"degC"},"ph":5.2}`,
		`{"kind":"hung","happened_at":"2026-11-04T13:00:00Z"}`,
		`{"kind":"weighed","piece":"A","happened_at":"2026-11-12T13:00:00Z","weight":{"value":430,"unit":"g"}}`)
	for _, of := range []string{"/fermentation", "/dry-down", "/dry-down?piece=A&units=us"} {
		for accept, begins := range map[string]string{"image/svg+xml": "<svg", "image/png": "\x89PNG"} {
			a := k.client.Do(t, apitest.Request{Path: path + of, Header: headerOf([]string{"Accept", accept})})
			if a.Status != http.StatusOK || a.Header.Get("Content-Type") != accept || !strings.HasPrefix(string(a.Body), begins) {
				t.Errorf("%s as %s: %d, %.40q", of, accept, a.Status, a.Body)
			}
		}
	}
}

// addKey makes a key in the name of an invented person.
func addKey(t *testing.T, k *keeping, shop store.ShopID, scopes ...shops.Scope) string {
	t.Helper()
	_, token, err := k.cfg.Shops.AddKey(t.Context(), shops.KeyOrder{Shop: shop, Name: "Test", Person: "Ada Example", Scopes: scopes})
	if err != nil {
		t.Fatal(err)
	}
	return token.Reveal()
}

// Lots of one shop are not there for another, and each key does what its scopes
// let it.
func TestKeysAndShops(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path := k.open(t) // while it is open
	ctx := t.Context()
	other, err := k.cfg.Shops.AddShop(ctx, "Other (invented)")
	if err != nil {
		t.Fatal(err)
	}
	mine := addKey(t, k, store.FirstShop, "lots:read", "lots:record", "lots:correct")
	scale := addKey(t, k, store.FirstShop, "lots:record")
	theirs := addKey(t, k, other.ID, "lots:read", "lots:record", "lots:correct")
	ask := func(method, path, body, authorization string, bad bool) apitest.Answer {
		r := apitest.Request{Method: method, Path: path, Header: http.Header{}, Bad: bad}
		if body != "" {
			r.Body = []byte(body)
		}
		if authorization != "" {
			r.Header.Set("Authorization", authorization)
		}
		return k.client.Do(t, r)
	}
	note, retract := `{"entries":[{"kind":"noted","text":"x"}]}`, `{"entries":[{"kind":"retracted","entry":2,"reason":"x"}]}`
	for _, row := range []struct {
		name, method, path, body, key string
		status                        int
		challenge                     string
	}{
		{"no key", "GET", path, "", "", 401, `Bearer realm="greenweight"`},
		{"a key that was never made", "GET", path, "", "Bearer gwk_" + strings.Repeat("A", 43), 401, `Bearer realm="greenweight", error="invalid_token"`},
		{"another scheme", "GET", path, "", "Basic eDp5", 401, `Bearer realm="greenweight"`},
		{"own key", "GET", path, "", "Bearer " + mine, 200, ""},
		{"own key, the scheme in small letters", "GET", path, "", "bearer " + mine, 200, ""},
		{"the key of another shop", "GET", path, "", "Bearer " + theirs, 404, ""},
		{"another shop's entry", "POST", path + "/entries", note, "Bearer " + theirs, 404, ""},
		{"another shop's ledger", "GET", path + "/ledger/verification", "", "Bearer " + theirs, 404, ""},
		{"another shop's course", "GET", path + "/dry-down", "", "Bearer " + theirs, 404, ""},
		{"another shop's fermentation", "GET", path + "/fermentation", "", "Bearer " + theirs, 404, ""},
		{"another shop's entries", "GET", path + "/entries", "", "Bearer " + theirs, 404, ""},
		{"a scale reads", "GET", path, "", "Bearer " + scale, 403, `Bearer realm="greenweight", error="insufficient_scope"`},
		{"a scale records", "POST", path + "/entries", note, "Bearer " + scale, 201, ""},
		{"a scale retracts", "POST", path + "/entries", retract, "Bearer " + scale, 403, `Bearer realm="greenweight", error="insufficient_scope"`},
		{"a calculation needs none", "GET", "/v1/reference/cures", "", "", 200, ""},
	} {
		a := ask(row.method, row.path, row.body, row.key, row.status >= 400)
		if a.Status != row.status || a.Header.Get("WWW-Authenticate") != row.challenge {
			t.Errorf("%s: want %d %q, got %d %q: %s", row.name, row.status, row.challenge, a.Status, a.Header.Get("WWW-Authenticate"), a.Body)
		}
	}
	if listed := apitest.Decode[openapi.LotPage](t, ask("GET", pathOfLots, "", "Bearer "+theirs, false)).Lots; len(listed) != 0 {
		t.Errorf("another shop's list: %+v", listed)
	}
	entries := apitest.Decode[openapi.EntryPage](t, ask("GET", path+"/entries", "", "Bearer "+mine, false)).Entries
	if by := entries[0].RecordedBy; !by.Open || by.Person != nil {
		t.Errorf("the opening was recorded by %+v, want by nobody known", by)
	}
	if by := entries[1].RecordedBy; by.Open || by.Person == nil || *by.Person != "Ada Example" || by.KeyID == nil {
		t.Errorf("the note was recorded by %+v", by)
	}
}

// A service without keys answers by the names of its own machine alone: a page
// whose name was made to point there gets nothing.
func TestOpenByItsOwnNameOnly(t *testing.T) {
	t.Parallel()
	for host, want := range map[string]bool{
		"localhost": true, "LocalHost:8080": true, "127.0.0.1:8080": true, "[::1]:8080": true, "::1": true, "127.9.9.9": true,
		"shop.example": false, "localhost.example:8080": false, "192.0.2.1": false, "": false, "[::2]:8080": false,
	} {
		if got := isOwnName(host); got != want {
			t.Errorf("%q: want %t, got %t", host, want, got)
		}
	}
	k := newKeeping(t)
	handler, err := New(k.cfg)
	if err != nil {
		t.Fatal(err)
	}
	a := apitest.New(http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
		req.Host = "shop.example"
		handler.ServeHTTP(w, req)
	})).Do(t, apitest.Request{Path: pathOfLots, Bad: true})
	if a.Status != http.StatusForbidden || a.Slug() != string(slugForbidden) {
		t.Errorf("status %d, %s", a.Status, a.Slug())
	}
	k.cfg.OpenShop = false
	if a := clientOf(t, k.cfg).Do(t, apitest.Request{Path: pathOfLots, Bad: true}); a.Status != http.StatusUnauthorized {
		t.Errorf("not open: status %d", a.Status)
	}
}

// failing is a store that does not write.
type failing struct {
	store.Store
	err error
}

// Update implements store.Store.
func (f *failing) Update(ctx context.Context, write func(store.Writer) error) error {
	if f.err != nil {
		return f.err
	}
	return f.Store.Update(ctx, write)
}

// A ledger that was changed behind the service's back is not answered from, and
// what it was changed in is told by its verification alone.
func TestBrokenLedger(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path := k.open(t)
	broken := &changed{Store: k.store}
	var err error
	k.cfg.Lots, err = lots.New(t.Context(), lots.Settings{Store: broken, Clock: testTime, NewID: func() string { return "x" }, Read: ReadEntry})
	if err != nil {
		t.Fatal(err)
	}
	client := clientOf(t, k.cfg)
	for _, of := range []string{"", "/entries", "/dry-down", "/fermentation"} {
		if a := client.Do(t, apitest.Request{Path: path + of, Bad: true}); a.Status != 500 || a.Slug() != string(slugBrokenLedger) {
			t.Errorf("%s: status %d, %s", of, a.Status, a.Slug())
		}
	}
	v := apitest.Decode[openapi.LedgerVerification](t, client.Get(t, path+"/ledger/verification"))
	if v.Outcome != openapi.LedgerVerificationOutcomeBroken || v.BrokenAt == nil || *v.BrokenAt != 1 {
		t.Errorf("verified: %+v", v)
	}
}

// changed is a store in which somebody has written another name of who recorded
// what.
type changed struct{ store.Store }

// View implements store.Store.
func (c *changed) View(ctx context.Context, read func(store.Reader) error) error {
	return c.Store.View(ctx, func(r store.Reader) error { return read(changedReader{r}) })
}

type changedReader struct{ store.Reader }

// Entries implements store.Reader.
func (r changedReader) Entries(ctx context.Context, shop store.ShopID, id lot.ID, after, limit int) ([]lot.Entry, error) {
	entries, err := r.Reader.Entries(ctx, shop, id, after, limit)
	for i := range entries {
		entries[i].Actor.Person = "Somebody Else"
	}
	return entries, err
}

// FormulaVersions implements store.Reader.
func (r changedReader) FormulaVersions(ctx context.Context, shop store.ShopID, id formula.ID, after, limit int) ([]store.FormulaVersion, error) {
	versions, err := r.Reader.FormulaVersions(ctx, shop, id, after, limit)
	for i := range versions {
		versions[i].Reason = "somebody's else"
	}
	return versions, err
}

// A store that can't write is told of as what it is, and the cause is not.
func TestStoreThatDoesNotWrite(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path := k.open(t)
	broken := &failing{Store: k.store}
	var err error
	if k.cfg.Lots, err = lots.New(t.Context(), lots.Settings{Store: broken, Clock: testTime, NewID: func() string { return "x" }, Read: ReadEntry}); err != nil {
		t.Fatal(err)
	}
	client := clientOf(t, k.cfg)
	for _, row := range []struct {
		err    error
		status int
		slug   problemSlug
		retry  bool
	}{
		{store.ErrFull, 507, slugNoRoom, false},
		{store.ErrUnavailable, 503, slugUnavailable, true},
		{store.ErrUncertain, 503, slugUnavailable, true},
		{store.ErrReadOnly, 503, slugUnavailable, true},
		{errors.New("password of somebody"), 500, slugInternal, false},
	} {
		broken.err = fmt.Errorf("write to host secret.example: %w", row.err)
		a := client.Do(t, apitest.Request{Method: http.MethodPost, Path: path + "/entries", Body: []byte(`{"entries":[{"kind":"mixed"}]}`), Bad: true})
		if a.Status != row.status || a.Slug() != string(row.slug) || (a.Header.Get("Retry-After") != "") != row.retry {
			t.Errorf("%v: status %d, %s, Retry-After %q", row.err, a.Status, a.Slug(), a.Header.Get("Retry-After"))
		}
		if strings.Contains(string(a.Body), "secret") || strings.Contains(string(a.Body), "password") {
			t.Errorf("%v: the cause is told: %s", row.err, a.Body)
		}
		if a := client.Get(t, path); a.Status != http.StatusOK {
			t.Errorf("%v: reading: status %d", row.err, a.Status)
		}
	}
}
