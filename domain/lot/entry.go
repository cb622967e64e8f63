package lot

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"
)

// ID names a lot: a UUID in its usual text form. The ids are made outside; the
// domain only carries them.
type ID string

// Kind is what an entry tells. The zero value is invalid.
type Kind int

// The kinds of entries, in the order of a lot's life. The last three judge
// another entry; the rest tell a fact.
const (
	KindPlanned   Kind = iota + 1 // the lot was opened, with its formula and plan
	KindMixed                     // meat and additions became a batch
	KindStuffed                   // pieces were stuffed, tied and weighed: their green weights
	KindHung                      // pieces were hung to dry
	KindWeighed                   // a piece was weighed
	KindMeasured                  // something else was measured
	KindObserved                  // something was seen, smelt or felt
	KindNoted                     // anything else worth keeping
	KindCorrected                 // an entry was wrong; what is right stands in this one
	KindRetracted                 // an entry should not have been made
	KindConfirmed                 // a doubtful entry was looked at and is right
)

var kindWords = []string{
	"", "planned", "mixed", "stuffed", "hung", "weighed", "measured", "observed", "noted", "corrected", "retracted", "confirmed",
}

// Kinds returns all kinds, in order.
func Kinds() []Kind {
	var all []Kind
	for k := KindPlanned; k <= KindConfirmed; k++ {
		all = append(all, k)
	}
	return all
}

// String returns the word used on the wire and in the store.
func (k Kind) String() string {
	if k <= 0 || int(k) >= len(kindWords) {
		return "unstated"
	}
	return kindWords[k]
}

// ParseKind reads the word used on the wire and in the store.
func ParseKind(word string) (Kind, bool) {
	for _, k := range Kinds() {
		if kindWords[k] == word {
			return k, true
		}
	}
	return 0, false
}

// Judges reports whether entries of this kind say something of another entry
// and nothing of the lot.
func (k Kind) Judges() bool { return k >= KindCorrected && k <= KindConfirmed }

// Digest is the SHA-256 of an entry's canonical form. The zero value stands for
// the entry before the first, which there is not.
type Digest [sha256.Size]byte

// DigestOf returns the digest of an entry's canonical form.
func DigestOf(canonical []byte) Digest { return sha256.Sum256(canonical) }

// IsZero reports whether this is the digest of nothing.
func (d Digest) IsZero() bool { return d == Digest{} }

// String returns the digest as 64 hexadecimal digits, lower case.
func (d Digest) String() string { return hex.EncodeToString(d[:]) }

// ParseDigest reads what String returns.
func ParseDigest(text string) (Digest, error) {
	var d Digest
	raw, err := hex.DecodeString(text)
	if err != nil || len(raw) != len(d) || hex.EncodeToString(raw) != text {
		return Digest{}, fmt.Errorf("digest %q is not %d hexadecimal digits in lower case", text, 2*len(d))
	}
	copy(d[:], raw)
	return d, nil
}

// Head is the last entry of a ledger: how many entries there are, and the
// digest of the last, which stands for all of them.
type Head struct {
	Sequence int
	Digest   Digest
}

// Actor is who made an entry: the person behind the key that it came with.
type Actor struct {
	Key    string // id of the key; empty when the service was open to whoever could reach it
	Person string // name of the person behind the key; empty with Key
}

// Entry is one fact about a lot as the ledger keeps it. Nothing in it ever
// changes; what it tells is in Body, and is read into a Fact.
type Entry struct {
	Sequence   int // 1 for the entry that opened the lot, then without a gap
	Kind       Kind
	HappenedAt time.Time // as told, to the microsecond, its offset to the minute
	RecordedAt time.Time // by the clock of the service, UTC, to the microsecond
	Actor      Actor
	RequestID  string
	Rulebook   string  // version of the rulebook by which it was judged when it was recorded
	Late       bool    // recorded long after it happened
	Doubts     []Doubt // why it looks wrong, as it was judged when it was recorded
	Body       string  // JSON, as posted
	Previous   Digest  // of the entry before; zero for the first
	Digest     Digest  // of this one
}

// Doubt is why an entry looks wrong: a stable code in kebab-case, and the same
// for people.
type Doubt struct{ Code, Detail string }
