// Package formulas keeps formulas: each with versions that never change, so that
// what a lot was made by, and what was tried before, can be read as it was.
//
// A version is kept as it was posted, with a digest over all that is kept of it
// and the digest of the version before, like the entries of a lot's ledger. Notes
// can be added to a version later; they are beside it and change nothing of it.
// Whether a formula means anything is for the caller to judge: here it is a text
// with a name and a product.
package formulas

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/domain/rulebook"
	"greenweight/service/request"
	"greenweight/service/store"
)

const (
	codeUnknownFormula = "unknown-formula"
	codeUnknownVersion = "unknown-version"
	codeStale          = "stale"
	codeSame           = "same-formula"
	codeManyVersions   = "many-versions"
	codeManyNotes      = "many-notes"

	// maxVersions and maxNotes are how many a formula may have: more than anybody
	// tries, and few enough to read at once.
	maxVersions = 1000
	maxNotes    = 1000
	// readAtOnce is how many notes are read from the store at once.
	readAtOnce = 1000
)

// errPrecondition says that a new version does not tell which one it follows.
var errPrecondition = request.PreconditionError{What: "a new version", Of: "the formula"}

// Settings are what the service needs; all of it.
type Settings struct {
	Store store.Store
	Clock func() time.Time
	NewID func() string // a new UUID of version 7, as text
}

// Service keeps formulas. It may be used by many at once.
type Service struct {
	store   store.Store
	clock   func() time.Time
	newID   func() string
	cursors request.Cursors
}

// New returns the service, and the errors of [request.NewCursors].
func New(ctx context.Context, s Settings) (*Service, error) {
	if s.Store == nil || s.Clock == nil || s.NewID == nil {
		return nil, errors.New("keep formulas: a setting is missing")
	}
	cursors, err := request.NewCursors(ctx, s.Store)
	if err != nil {
		return nil, err
	}
	return &Service{store: s.Store, clock: s.Clock, newID: s.NewID, cursors: cursors}, nil
}

// Draft is a formula to be saved.
type Draft struct {
	Name    string
	Product string // the word of the class
	Body    string // the formula as it was posted: a JSON object
	Reason  string // why; may be empty
}

// Saved is a version of a formula as it is kept.
type Saved struct {
	Formula  store.Formula // as it is now
	Version  store.FormulaVersion
	Notes    []store.FormulaNote // of this version
	Replayed bool                // by the same request
}

// versionDigits is how much of the digest stands in the name of a version.
const versionDigits = 16

// Name names what a formula has come to: it changes with every version, but not
// with notes.
func Name(f store.Formula) string {
	return fmt.Sprintf("%d-%s", f.Version, f.Digest.String()[:versionDigits])
}

// result is what is remembered of a request that was done. Versions and notes
// stay as they are, so that their numbers are all that has to be remembered.
type result struct {
	Formulas []formula.ID `json:"formulas"`
	Version  int          `json:"version,omitempty"`
	Note     int          `json:"note,omitempty"`
}

// Create saves drafts as new formulas, each with its first version: all or none.
// They come back in the order of the drafts. It reports [request.KeyReusedError].
func (s *Service) Create(ctx context.Context, by request.By, drafts []Draft, once request.Once) ([]Saved, error) {
	const operation = "create formulas"
	ids := make([]formula.ID, len(drafts))
	for i := range ids {
		ids[i] = formula.ID(s.newID())
	}
	var out []Saved
	err := request.Again(func() error {
		return s.store.Update(ctx, func(w store.Writer) error {
			out = nil
			now := s.now()
			var before result
			found, err := request.Remembered(ctx, w, by, operation, once, now, &before)
			if err != nil {
				return err
			}
			if found {
				for _, id := range before.Formulas {
					again, err := savedAt(ctx, w, by.Shop, id, 1)
					if err != nil {
						return err
					}
					again.Replayed = true
					out = append(out, again)
				}
				return nil
			}
			for i, d := range drafts {
				f := store.Formula{Shop: by.Shop, ID: ids[i], CreatedAt: now}
				next, v, err := d.follow(f, by, now)
				if err != nil {
					return err
				}
				if err := w.AddFormula(ctx, next, v); err != nil {
					return err
				}
				out = append(out, Saved{Formula: next, Version: v})
			}
			return request.Remember(ctx, w, by, operation, once, now, result{Formulas: ids})
		})
	})
	return out, err
}

// Revise saves a draft as the next version of a formula. It reports
// fault.NotFound when the shop has no such formula, fault.Stale when its latest
// version is none that match names, [request.PreconditionError] when match says
// nothing, fault.Conflict when the draft is the latest version word for word, and
// [request.KeyReusedError].
func (s *Service) Revise(ctx context.Context, by request.By, id formula.ID, d Draft, match request.Match, once request.Once) (Saved, error) {
	operation := "revise " + string(id)
	var out Saved
	err := request.Again(func() error {
		return s.store.Update(ctx, func(w store.Writer) error {
			now := s.now()
			f, err := w.HoldFormula(ctx, by.Shop, id) // holds off others, those with the same key too
			if err != nil {
				return unknownFormula(err)
			}
			var before result
			found, err := request.Remembered(ctx, w, by, operation, once, now, &before)
			if err != nil {
				return err
			}
			if found {
				out, err = savedAt(ctx, w, by.Shop, id, before.Version)
				out.Replayed = true
				return err
			}
			if err := mayFollow(ctx, w, f, d, match); err != nil {
				return err
			}
			next, v, err := d.follow(f, by, now)
			if err != nil {
				return err
			}
			if err := w.AddFormulaVersion(ctx, next, v); err != nil {
				return err
			}
			out = Saved{Formula: next, Version: v}
			return request.Remember(ctx, w, by, operation, once, now, result{Formulas: []formula.ID{id}, Version: v.Version})
		})
	})
	return out, err
}

// mayFollow refuses a draft that must not become the next version.
func mayFollow(ctx context.Context, r store.Reader, f store.Formula, d Draft, match request.Match) error {
	switch {
	case !match.Told():
		return errPrecondition
	case !match.Holds(Name(f)):
		return &fault.Error{Kind: fault.Stale, Code: codeStale, Detail: fmt.Sprintf(
			"the formula has changed since it was read: its latest version is %d (%s) now", f.Version, Name(f))}
	case f.Version >= maxVersions:
		return &fault.Error{Kind: fault.Conflict, Code: codeManyVersions, Detail: fmt.Sprintf("the formula has %d versions, and may not have more", f.Version)}
	}
	latest, err := savedAt(ctx, r, f.Shop, f.ID, f.Version)
	if err != nil {
		return err
	}
	same, err := Same(latest.Version.Body, d.Body)
	if err != nil {
		return err
	}
	if same {
		return &fault.Error{Kind: fault.Conflict, Code: codeSame, Detail: fmt.Sprintf(
			"version %d is the same formula: nothing would change; what there is to say of it can be noted", f.Version)}
	}
	return nil
}

// Same tells whether two texts are the same formula: the same value of JSON. It
// returns an error for a text that is none.
func Same(a, b string) (bool, error) {
	one, other := jsontext.Value(a), jsontext.Value(b)
	err := errors.Join(one.Canonicalize(), other.Canonicalize())
	if err != nil {
		return false, fmt.Errorf("compare two versions: %w", err)
	}
	return string(one) == string(other), nil
}

// Noted is a note as it is kept, and the formula as it is with it.
type Noted struct {
	Formula  store.Formula
	Note     store.FormulaNote
	Replayed bool // by the same request
}

// Note adds a note to a version of a formula. It reports fault.NotFound when
// the shop has no such formula or version, and [request.KeyReusedError].
func (s *Service) Note(ctx context.Context, by request.By, id formula.ID, version int, text string, once request.Once) (Noted, error) {
	operation := fmt.Sprintf("note %s %d", id, version)
	var out Noted
	err := request.Again(func() error {
		return s.store.Update(ctx, func(w store.Writer) error {
			now := s.now()
			f, err := w.HoldFormula(ctx, by.Shop, id)
			if err != nil {
				return unknownFormula(err)
			}
			var before result
			found, err := request.Remembered(ctx, w, by, operation, once, now, &before)
			if err != nil {
				return err
			}
			if found {
				notes, err := w.FormulaNotes(ctx, by.Shop, id, before.Note-1, 1)
				if err != nil || len(notes) == 0 {
					return errors.Join(err, fmt.Errorf("read note %d of formula %s", before.Note, id))
				}
				out = Noted{f, notes[0], true}
				return nil
			}
			if f.Notes >= maxNotes {
				return &fault.Error{Kind: fault.Conflict, Code: codeManyNotes, Detail: fmt.Sprintf("the formula has %d notes, and may not have more", f.Notes)}
			}
			f.Notes++
			out = Noted{f, store.FormulaNote{
				Number: f.Notes, Version: version, NotedAt: now, Actor: by.Actor, RequestID: by.RequestID, Text: text,
			}, false}
			if err := w.AddFormulaNote(ctx, by.Shop, id, out.Note); err != nil {
				return unknownVersion(version, err)
			}
			return request.Remember(ctx, w, by, operation, once, now, result{Formulas: []formula.ID{id}, Note: f.Notes})
		})
	})
	return out, err
}

// now returns the time as the store keeps it.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// follow returns a formula as it is with a draft as its next version, and that
// version.
func (d Draft) follow(f store.Formula, by request.By, now time.Time) (store.Formula, store.FormulaVersion, error) {
	f.Name, f.Product, f.SavedAt, f.Version = d.Name, d.Product, now, f.Version+1
	v := store.FormulaVersion{
		Version: f.Version, SavedAt: now, Actor: by.Actor, RequestID: by.RequestID, Rulebook: rulebook.Version(), Reason: d.Reason, Body: d.Body,
		Previous: f.Digest,
	}
	canonical, err := Canonical(f.Shop, f.ID, v)
	if err != nil {
		return f, v, err
	}
	v.Digest = lot.DigestOf(canonical)
	f.Digest = v.Digest
	return f, v, nil
}

// sealed is what the digest of a version covers: all that is kept of it, named
// as on the wire, so that whoever has the version from the API can compute the
// digest anew.
type sealed struct {
	ShopID          store.ShopID   `json:"shop_id"`
	ID              formula.ID     `json:"id"`
	Version         int            `json:"version"`
	SavedAt         time.Time      `json:"saved_at"`
	SavedBy         sealedActor    `json:"saved_by"`
	RequestID       string         `json:"request_id"`
	RulebookVersion string         `json:"rulebook_version"`
	Reason          string         `json:"reason,omitempty"`
	Formula         jsontext.Value `json:"formula"`
	PreviousDigest  string         `json:"previous_digest,omitempty"`
}

type sealedActor struct {
	Open   bool   `json:"open"`
	Person string `json:"person,omitempty"`
	KeyID  string `json:"key_id,omitempty"`
}

// Canonical returns what the digest of a version covers, in the canonical form
// of RFC 8785. It returns an error for a body that is not JSON.
func Canonical(shop store.ShopID, id formula.ID, v store.FormulaVersion) ([]byte, error) {
	s := sealed{
		ShopID: shop, ID: id, Version: v.Version, SavedAt: v.SavedAt, RequestID: v.RequestID, RulebookVersion: v.Rulebook, Reason: v.Reason,
		SavedBy: sealedActor{Open: v.Actor.Key == "", Person: v.Actor.Person, KeyID: v.Actor.Key}, Formula: jsontext.Value(v.Body),
	}
	if !v.Previous.IsZero() {
		s.PreviousDigest = v.Previous.String()
	}
	text, err := json.Marshal(s)
	if err != nil {
		return nil, fmt.Errorf("write version %d of formula %s: %w", v.Version, id, err)
	}
	canonical := jsontext.Value(text)
	if err := canonical.Canonicalize(); err != nil {
		return nil, fmt.Errorf("canonical form of version %d of formula %s: %w", v.Version, id, err)
	}
	return canonical, nil
}

// unknownFormula makes a fault of a formula that the shop does not have.
func unknownFormula(err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return &fault.Error{Kind: fault.NotFound, Code: codeUnknownFormula, Detail: "the shop has no formula of this id"}
	}
	return err
}

func unknownVersion(version int, err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return &fault.Error{Kind: fault.NotFound, Code: codeUnknownVersion, Detail: fmt.Sprintf("the formula has no version %d", version)}
	}
	return err
}
