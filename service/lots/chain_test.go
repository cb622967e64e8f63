package lots

import (
	"crypto/sha256"
	"encoding/hex"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

// The canonical form by hand, after RFC 8785: members sorted by their names in
// UTF-16, no blanks, numbers as ECMAScript writes them (sections 3.2.2.3 and
// appendix B: 1e30, 4.5, 0.002, 1e-27), strings with as few escapes as there
// can be (section 3.2.2.2).
func TestCanonical(t *testing.T) {
	t.Parallel()
	e := lot.Entry{
		Sequence: 2, Kind: lot.KindNoted, HappenedAt: time.Date(2026, 11, 2, 13, 0, 0, 250_000_000, time.FixedZone("", 3600)),
		RecordedAt: time.Date(2026, 11, 2, 12, 0, 1, 0, time.UTC), Actor: lot.Actor{Key: "k1", Person: "Zoë Example"}, RequestID: "r-1",
		Rulebook: "2026.11.2", Late: true, Doubts: []lot.Doubt{{Code: "gain", Detail: "more"}},
		Body: ` {"text":"\u20ac \/ \u000a<", "kind":"noted", "numbers":[333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001]} `,
	}
	e.Previous[0] = 0xab
	const want = `{"body":{"kind":"noted","numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"text":"€ / \n<"},` +
		`"doubts":[{"code":"gain","detail":"more"}],"happened_at":"2026-11-02T13:00:00.25+01:00","kind":"noted","late":true,"lot_id":"l1",` +
		`"previous_digest":"ab00000000000000000000000000000000000000000000000000000000000000","recorded_at":"2026-11-02T12:00:01Z",` +
		`"recorded_by":{"key_id":"k1","open":false,"person":"Zoë Example"},"request_id":"r-1","rulebook_version":"2026.11.2","sequence":2,"shop_id":"s1"}`
	got, err := Canonical("s1", "l1", e)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	sealed, err := seal("s1", "l1", e)
	if err != nil {
		t.Fatal(err)
	}
	if sum := sha256.Sum256([]byte(want)); sealed.Digest.String() != hex.EncodeToString(sum[:]) {
		t.Error("the digest is not the SHA-256 of the canonical form")
	}
	e.Body = "{"
	if _, err := Canonical("s1", "l1", e); err == nil {
		t.Error("a body that is not JSON was taken")
	}
}

// ledger returns a lot with a ledger of so many entries, whose chain holds.
func ledger(t *testing.T, entries int) (store.Lot, []lot.Entry) {
	t.Helper()
	l := store.Lot{Shop: "s1", ID: "l1"}
	var all []lot.Entry
	for i := range entries {
		e, err := seal(l.Shop, l.ID, lot.Entry{
			Sequence: i + 1, Kind: lot.KindNoted, HappenedAt: time.Unix(int64(i), 0).UTC(), RecordedAt: time.Unix(int64(i), 0).UTC(),
			Body: `{"kind":"noted","text":"x"}`, Previous: l.Head.Digest,
		})
		if err != nil {
			t.Fatal(err)
		}
		l.Head = lot.Head{Sequence: e.Sequence, Digest: e.Digest}
		all = append(all, e)
	}
	return l, all
}

// Whatever is changed, left out or put in shows, and where.
func TestVerifyChain(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name   string
		change func(l *store.Lot, all []lot.Entry) []lot.Entry
		held   int
		broken int // sequence, 0 for none
	}{
		{"untouched", func(_ *store.Lot, all []lot.Entry) []lot.Entry { return all }, 4, 0},
		{"a body", func(_ *store.Lot, all []lot.Entry) []lot.Entry {
			all[1].Body = `{"kind":"noted","text":"y"}`
			return all
		}, 1, 2},
		{"blanks in a body", func(_ *store.Lot, all []lot.Entry) []lot.Entry {
			all[1].Body = `{"text":"x", "kind":"noted"}`
			return all
		}, 4, 0},
		{"a body that is cut", func(_ *store.Lot, all []lot.Entry) []lot.Entry { all[3].Body = `{"kind":`; return all }, 3, 4},
		{"who", func(_ *store.Lot, all []lot.Entry) []lot.Entry { all[2].Actor.Person = "x"; return all }, 2, 3},
		{"when", func(_ *store.Lot, all []lot.Entry) []lot.Entry {
			all[0].HappenedAt = all[0].HappenedAt.Add(time.Microsecond)
			return all
		}, 0, 1},
		{"the offset", func(_ *store.Lot, all []lot.Entry) []lot.Entry {
			all[0].HappenedAt = all[0].HappenedAt.In(time.FixedZone("", 3600))
			return all
		}, 0, 1},
		{"late", func(_ *store.Lot, all []lot.Entry) []lot.Entry { all[2].Late = true; return all }, 2, 3},
		{"the doubts", func(_ *store.Lot, all []lot.Entry) []lot.Entry { all[2].Doubts = []lot.Doubt{{}}; return all }, 2, 3},
		{"the rulebook", func(_ *store.Lot, all []lot.Entry) []lot.Entry { all[2].Rulebook = "x"; return all }, 2, 3},
		{"the kind", func(_ *store.Lot, all []lot.Entry) []lot.Entry { all[2].Kind = lot.KindObserved; return all }, 2, 3},
		{"one left out", func(_ *store.Lot, all []lot.Entry) []lot.Entry { return append(all[:1], all[2:]...) }, 1, 2},
		{"the last left out", func(_ *store.Lot, all []lot.Entry) []lot.Entry { return all[:3] }, 3, 4},
		{"the last left out and the head with it", func(l *store.Lot, all []lot.Entry) []lot.Entry {
			l.Head.Sequence = 3
			return all[:3]
		}, 2, 3},
		{"the head", func(l *store.Lot, all []lot.Entry) []lot.Entry { l.Head.Digest[5]++; return all }, 3, 4},
		{"rewritten from one on", func(l *store.Lot, all []lot.Entry) []lot.Entry {
			before := all[0].Digest
			for i := 1; i < len(all); i++ {
				all[i].Body, all[i].Previous = `{"kind":"noted","text":"z"}`, before
				all[i], _ = seal(l.Shop, l.ID, all[i])
				before = all[i].Digest
			}
			return all
		}, 3, 4}, // only the head that is kept elsewhere tells
		{"the shop", func(l *store.Lot, all []lot.Entry) []lot.Entry { l.Shop = "s2"; return all }, 0, 1},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			l, all := ledger(t, 4)
			held, broken := VerifyChain(l, row.change(&l, all))
			at := 0
			if broken != nil {
				at = broken.Sequence
			}
			if held != row.held || at != row.broken {
				t.Errorf("want %d entries that hold and a break at %d, got %d and %d: %+v", row.held, row.broken, held, at, broken)
			}
		})
	}
}
