package lot_test

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// The lot of these tests is invented. It was opened on 2 November 2026 at eight
// in an offset of an hour, and everything is told in hours since.
var (
	offset = time.FixedZone("", 3600)
	opened = time.Date(2026, 11, 2, 8, 0, 0, 0, offset)
)

func at(hours float64) time.Time { return opened.Add(time.Duration(hours * float64(time.Hour))) }

// whole compares everything of a value, the unexported too.
var whole = cmp.Exporter(func(reflect.Type) bool { return true })

func grams(g float64) quantity.Mass { return quantity.MustGrams(g) }

func isGrams(g float64) material.Known[quantity.Mass] { return material.Is(grams(g)) }

func mm(d float64) material.Known[quantity.Length] { return material.Is(quantity.MustMillimetres(d)) }

func celsius(t float64) material.Known[quantity.Temperature] {
	return material.Is(quantity.MustCelsius(t))
}

func isPH(v float64) material.Known[quantity.PH] { return material.Is(quantity.MustPH(v)) }

func humidity(p float64) material.Known[quantity.RelativeHumidity] {
	return material.Is(quantity.MustHumidityPercent(p))
}

// told says what happened so many hours after the opening.
func told(hours float64, f lot.Fact) lot.Told { return lot.Told{HappenedAt: at(hours), Fact: f} }

// planned opens the lot.
func planned() lot.Told {
	shoulder, _ := material.ByKey("pork-shoulder-whole-lean-and-fat")
	backfat, _ := material.ByKey("pork-backfat")
	salt, _ := material.ByKey("salt-table")
	loss := quantity.MustPercent(35)
	return told(0, lot.Planned{
		Name: "first of November (invented)", Jurisdiction: rulebook.UnitedStates,
		Formula: formula.Formula{
			Name: "plain (invented)", Product: rulebook.DrySausage,
			Parts: []formula.Part{
				{Name: "shoulder", Material: shoulder, Share: quantity.MustPercent(80)},
				{Name: "fat", Material: backfat, Share: quantity.MustPercent(20)},
			},
			Additions: []formula.Addition{{Name: "salt", Role: formula.Salt, Material: &salt, Rate: formula.ShareOfMeat(quantity.MustRatio(0.026))}},
			Plan: formula.Plan{
				Loss:         &loss,
				Fermentation: []formula.Step{{Temperature: celsius(24), Span: 48 * time.Hour}},
				Drying:       []formula.Step{{Temperature: celsius(13), Humidity: humidity(78)}},
			},
		},
	})
}

// stuffed tells of pieces of 612 g with a tare of 12 g, and so of 600 g.
func stuffed(names ...string) lot.Stuffed {
	var s lot.Stuffed
	for _, name := range names {
		s.Pieces = append(s.Pieces, lot.Piece{Name: name, Weight: grams(612), Tare: grams(12), Casing: "middle", Diameter: mm(45)})
	}
	return s
}

func weighed(piece string, g float64) lot.Weighed { return lot.Weighed{Piece: piece, Weight: grams(g)} }

func airAt(t float64) lot.Measured { return lot.Measured{Place: lot.Air, Temperature: celsius(t)} }

func acidOf(ph float64) lot.Measured { return lot.Measured{Place: lot.Air, PH: isPH(ph)} }

// begun is a lot with pieces A and B, mixed at 2 h and stuffed at 5 h: entries 1
// to 3.
func begun() []lot.Told {
	return []lot.Told{planned(), told(2, lot.Mixed{Batch: isGrams(4140)}), told(5, stuffed("A", "B"))}
}

// keeper keeps the ledger of a lot, as a service does.
type keeper struct {
	rapid.TB
	now    time.Time
	record lot.Record
}

// keep returns a keeper of a ledger with entries in it, on which it is late: 60
// days after the opening.
func keep(tb rapid.TB, entries ...lot.Told) *keeper {
	tb.Helper()
	k := &keeper{TB: tb, now: at(60 * 24)}
	for _, e := range entries {
		k.post(e)
	}
	return k
}

// try appends what is admitted.
func (k *keeper) try(posted ...lot.Told) ([]lot.Admitted, error) {
	k.Helper()
	admitted, err := k.record.Admit(k.now, posted)
	if err != nil {
		return nil, err
	}
	var reads []lot.Read
	head := k.record.Head()
	for _, a := range admitted {
		if a.Repeats == 0 {
			read := sealed(head, a)
			head = lot.Head{Sequence: read.Sequence, Digest: read.Digest}
			reads = append(reads, read)
		}
	}
	if k.record, err = k.record.With(reads...); err != nil {
		k.Fatalf("what was admitted does not follow: %v", err)
	}
	return admitted, nil
}

// post appends what must be admitted.
func (k *keeper) post(posted ...lot.Told) []lot.Admitted {
	k.Helper()
	admitted, err := k.try(posted...)
	if err != nil {
		k.Fatalf("admit %+v: %v", posted, err)
	}
	return admitted
}

// sealed returns the entry of what was admitted. The digest is not that of a
// canonical form, and serves as well.
func sealed(head lot.Head, a lot.Admitted) lot.Read {
	e := lot.Entry{
		Sequence: head.Sequence + 1, Kind: a.Told.Fact.Kind(), HappenedAt: a.HappenedAt, RecordedAt: a.HappenedAt, Rulebook: "2026.11",
		Late: a.Late, Doubts: a.Doubts, Previous: head.Digest,
	}
	e.Digest = lot.DigestOf(fmt.Append(e.Previous[:], e.Sequence, e.Kind, e.HappenedAt))
	return lot.Read{Entry: e, Told: a.Told}
}

// raw returns a ledger of entries whoever admitted them, with doubts about some.
func raw(doubted map[int]lot.Doubt, entries ...lot.Told) []lot.Read {
	var reads []lot.Read
	var head lot.Head
	for _, e := range entries {
		a := lot.Admitted{Told: e, HappenedAt: e.HappenedAt}
		if d, is := doubted[head.Sequence+1]; is {
			a.Doubts = []lot.Doubt{d}
		}
		read := sealed(head, a)
		head = lot.Head{Sequence: read.Sequence, Digest: read.Digest}
		reads = append(reads, read)
	}
	return reads
}

func fold(tb rapid.TB, entries ...lot.Read) lot.Record {
	tb.Helper()
	r, err := lot.Record{}.With(entries...)
	if err != nil {
		tb.Fatalf("fold: %v", err)
	}
	return r
}

// refusal is what an error says, but for the sentences.
type refusal struct {
	Kind  fault.Kind
	Codes []string // path and code of each violation; the code of the fault where there is none
}

func refusalOf(tb rapid.TB, err error) refusal {
	tb.Helper()
	var f *fault.Error
	if !errors.As(err, &f) {
		tb.Fatalf("want a fault, got %v", err)
	}
	r := refusal{Kind: f.Kind}
	for _, v := range f.Violations {
		if v.Detail == "" {
			tb.Errorf("%s has no detail", v.Code)
		}
		r.Codes = append(r.Codes, v.Path.Pointer()[1:]+" "+v.Code)
	}
	if len(f.Violations) == 0 {
		r.Codes = []string{f.Code}
	}
	slices.Sort(r.Codes)
	return r
}

func invalid(codes ...string) refusal  { return refusal{fault.Invalid, codes} }
func conflict(codes ...string) refusal { return refusal{fault.Conflict, codes} }

func TestWords(t *testing.T) {
	t.Parallel()
	for _, k := range lot.Kinds() {
		if got, ok := lot.ParseKind(k.String()); !ok || got != k {
			t.Errorf("kind %v is read as %v", k, got)
		}
	}
	for _, s := range lot.Stages() {
		if got, ok := lot.ParseStage(s.String()); !ok || got != s {
			t.Errorf("stage %v is read as %v", s, got)
		}
	}
	for m := lot.Meter; m <= lot.ByEstimate; m++ {
		if got, ok := lot.ParseMethod(m.String()); !ok || got != m {
			t.Errorf("method %v is read as %v", m, got)
		}
	}
	for _, word := range []string{"", "unstated", "finished", "Planned"} {
		_, kind := lot.ParseKind(word)
		_, stage := lot.ParseStage(word)
		_, method := lot.ParseMethod(word)
		if kind || stage || method {
			t.Errorf("%q is read as something", word)
		}
	}
	want := []string{"unstated", "unstated", "unstated", "unstated", "unstated", "unstated", "air", "core"}
	got := []string{
		lot.Kind(0).String(), lot.Kind(99).String(), lot.Stage(0).String(), lot.Stage(99).String(), lot.Method(0).String(), lot.Place(0).String(),
		lot.Air.String(), lot.Core.String(),
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestDigests(t *testing.T) {
	t.Parallel()
	// SHA-256 of "abc", FIPS 180-4.
	const abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	d := lot.DigestOf([]byte("abc"))
	if d.String() != abc || d.IsZero() || !(lot.Digest{}).IsZero() {
		t.Errorf("want %s, got %s", abc, d)
	}
	if got, err := lot.ParseDigest(abc); err != nil || got != d {
		t.Errorf("want %s, got %s and %v", d, got, err)
	}
	for _, text := range []string{"", abc[2:], abc + "00", "BA" + abc[2:], "zz" + abc[2:]} {
		if _, err := lot.ParseDigest(text); err == nil {
			t.Errorf("%q is read as a digest", text)
		}
	}
}
