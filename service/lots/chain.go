package lots

import (
	"fmt"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"greenweight/domain/lot"
	"greenweight/service/store"
)

// sealed is what the digest of an entry covers: all that is kept of it, named
// as on the wire, so that whoever has the entry from the API can compute the
// digest anew.
type sealed struct {
	ShopID          store.ShopID   `json:"shop_id"`
	LotID           lot.ID         `json:"lot_id"`
	Sequence        int            `json:"sequence"`
	Kind            string         `json:"kind"`
	HappenedAt      time.Time      `json:"happened_at"`
	RecordedAt      time.Time      `json:"recorded_at"`
	RecordedBy      sealedActor    `json:"recorded_by"`
	RequestID       string         `json:"request_id"`
	RulebookVersion string         `json:"rulebook_version"`
	Late            bool           `json:"late"`
	Doubts          []sealedDoubt  `json:"doubts"`
	Body            jsontext.Value `json:"body"`
	PreviousDigest  string         `json:"previous_digest,omitempty"`
}

type sealedActor struct {
	Open   bool   `json:"open"`
	Person string `json:"person,omitempty"`
	KeyID  string `json:"key_id,omitempty"`
}

type sealedDoubt struct {
	Code   string `json:"code"`
	Detail string `json:"detail"`
}

// Canonical returns what the digest of an entry covers, in the canonical form of
// RFC 8785: equal on every engine, whatever it keeps. It returns an error for a
// body that is not JSON.
func Canonical(shop store.ShopID, id lot.ID, e lot.Entry) ([]byte, error) {
	s := sealed{
		ShopID: shop, LotID: id, Sequence: e.Sequence, Kind: e.Kind.String(), HappenedAt: e.HappenedAt, RecordedAt: e.RecordedAt,
		RecordedBy: sealedActor{Open: e.Actor.Key == "", Person: e.Actor.Person, KeyID: e.Actor.Key},
		RequestID:  e.RequestID, RulebookVersion: e.Rulebook, Late: e.Late, Doubts: make([]sealedDoubt, 0, len(e.Doubts)),
		Body: jsontext.Value(e.Body),
	}
	for _, d := range e.Doubts {
		s.Doubts = append(s.Doubts, sealedDoubt(d))
	}
	if !e.Previous.IsZero() {
		s.PreviousDigest = e.Previous.String()
	}
	text, err := json.Marshal(s)
	if err != nil {
		return nil, fmt.Errorf("write entry %d of lot %s: %w", e.Sequence, id, err)
	}
	canonical := jsontext.Value(text)
	if err := canonical.Canonicalize(); err != nil {
		return nil, fmt.Errorf("canonical form of entry %d of lot %s: %w", e.Sequence, id, err)
	}
	return canonical, nil
}

// seal returns the entry with its digest.
func seal(shop store.ShopID, id lot.ID, e lot.Entry) (lot.Entry, error) {
	canonical, err := Canonical(shop, id, e)
	if err != nil {
		return lot.Entry{}, err
	}
	e.Digest = lot.DigestOf(canonical)
	return e, nil
}

// Break is where a chain of digests does not hold.
type Break struct {
	Sequence int    // of the entry; of a ledger that ends early, of the one that is missing
	Detail   string // what is wrong, for people
}

// VerifyChain computes the digests of a lot's entries anew, from the first on,
// and holds them against those that were kept, those that the next entries name,
// and the head that is kept beside the ledger. It returns how many entries held,
// and where the chain is broken; nil when it is not.
func VerifyChain(l store.Lot, entries []lot.Entry) (held int, broken *Break) {
	var before lot.Digest
	for i, e := range entries {
		if e.Sequence != i+1 {
			return i, &Break{i + 1, fmt.Sprintf("entry %d is missing; what comes next is entry %d", i+1, e.Sequence)}
		}
		if e.Previous != before {
			return i, &Break{e.Sequence, fmt.Sprintf("entry %d names another digest for the entry before it than that one has", e.Sequence)}
		}
		again, err := seal(l.Shop, l.ID, e)
		if err != nil {
			return i, &Break{e.Sequence, fmt.Sprintf("entry %d can't be read: what was posted is not JSON", e.Sequence)}
		}
		if again.Digest != e.Digest {
			return i, &Break{e.Sequence, fmt.Sprintf("entry %d has another digest than was computed when it was recorded: it was changed", e.Sequence)}
		}
		before = e.Digest
	}
	switch {
	case l.Head.Sequence != len(entries):
		return min(l.Head.Sequence, len(entries)), &Break{
			min(l.Head.Sequence, len(entries)) + 1,
			fmt.Sprintf("the ledger has %d entries, and the lot says that it has %d", len(entries), l.Head.Sequence),
		}
	case l.Head.Digest != before:
		return max(len(entries)-1, 0), &Break{len(entries), "the last entry has another digest than the lot says"}
	}
	return len(entries), nil
}
