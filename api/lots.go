package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/oapi-codegen/runtime/types"

	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/openapi"
	"greenweight/service/lots"
	"greenweight/service/request"
	"greenweight/service/shops"
	"greenweight/service/store"
)

// lotCautions stand in every answer on a lot.
var lotCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"A record says what was told to it. It shows nothing of what was not measured, and is no decision that a lot is finished or may be sold.",
}

const (
	pathLots = "/v1/lots"
	// defaultLimit is how many a page lists when no limit is given.
	defaultLimit = 50
)

// CreateLot answers POST /v1/lots.
func (h *handlers) CreateLot(ctx context.Context, req openapi.CreateLotRequestObject) (openapi.CreateLotResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	body, err := h.withSavedFormula(ctx, who, bodyOf(ctx))
	if err != nil {
		return nil, err
	}
	told, err := entryReader{h.rules}.read(lot.KindPlanned, body)
	if err != nil {
		return nil, err
	}
	if err := checkPlanned(told); err != nil {
		return nil, err
	}
	opened, err := h.lots.Open(ctx, who.by(), string(body), told, onceOf(req.Params.IdempotencyKey, bodyOf(ctx)))
	if err != nil {
		return nil, err
	}
	u := unitsOf(req.Params.Units)
	w, err := writeLot(opened.Kept, u)
	if err != nil {
		return nil, err
	}
	return openapi.CreateLot201JSONResponse{Body: w, Headers: openapi.CreateLot201ResponseHeaders{
		Location: pointerTo(pathLots + "/" + string(opened.Lot.ID)), ETag: pointerTo(lotTag(opened.Version(), u)),
		IdempotencyReplayed: replayed(opened.Replayed),
	}}, nil
}

// checkPlanned reports what has no meaning in the opening of a lot: a formula
// that can't be scaled, or a name that can't be written in a list.
func checkPlanned(told lot.Told) error {
	planned, ok := told.Fact.(lot.Planned)
	if !ok {
		return nil
	}
	var bad fault.Collector
	if !printable(planned.Name) || strings.TrimSpace(planned.Name) == "" {
		bad.Add(fault.At("name"), codeText, "needs a letter or figure, and may have no control character")
	}
	bad.AddError(fault.At("formula"), codeInvalidValue, planned.Formula.Check())
	return bad.Err(codeInvalidValue, "the opening has no meaning as it stands")
}

// codeText is the code of a text that has something in it that is none.
const codeText = "text"

// printable reports whether a text is without control characters.
func printable(text string) bool { return !strings.ContainsFunc(text, unicode.IsControl) }

// onceOf names a request by its idempotency key and its body.
func onceOf(key *string, body []byte) request.Once {
	if key == nil {
		return request.Once{}
	}
	return request.Once{Key: *key, Request: sha256.Sum256(body)}
}

// replayed returns the header that says so; nil when it was done now.
func replayed(is bool) *string {
	if !is {
		return nil
	}
	return pointerTo("true")
}

// usTag is what the tag of a lot ends in when it is written in US units.
const usTag = "-us"

// lotTag returns the entity tag of a lot in a version.
func lotTag(version string, u units) string {
	if u.us {
		version += usTag
	}
	return `"` + version + `"`
}

// matchOf reads If-Match. A weak tag matches nothing there (RFC 9110, section
// 13.1.1), nor does what is no tag, and the units that a lot was read in do not
// matter.
func matchOf(field *string) request.Match {
	if field == nil {
		return request.Match{}
	}
	if strings.TrimSpace(*field) == "*" {
		return request.Match{Any: true}
	}
	m := request.Match{Versions: []string{}}
	for tag := range strings.SplitSeq(*field, ",") {
		opened, begins := strings.CutPrefix(strings.TrimSpace(tag), `"`)
		version, ends := strings.CutSuffix(opened, `"`)
		if begins && ends {
			m.Versions = append(m.Versions, strings.TrimSuffix(version, usTag))
		}
	}
	return m
}

// holds tells whether a tag is among those of If-None-Match (RFC 9110, section
// 13.1.2).
func holds(ifNoneMatch *string, tag string) bool { return (&document{etag: tag}).holds(ifNoneMatch) }

// ListLots answers GET /v1/lots.
func (h *handlers) ListLots(ctx context.Context, req openapi.ListLotsRequestObject) (openapi.ListLotsResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	p := req.Params
	if p.Name != nil && !printable(*p.Name) {
		return nil, &refusal{slug: slugInvalidValue, entries: []openapi.ProblemEntry{entry("", "name", codeText, "has a control character in it")}}
	}
	filter := store.LotFilter{NameContains: given(p.Name), OpenedFrom: given(p.OpenedFromAt), OpenedBefore: given(p.OpenedBeforeAt)}
	if p.Stage != nil {
		filter.Stage = string(*p.Stage)
	}
	page, err := h.lots.List(ctx, who.Shop, filter, given(p.Cursor), limitOf(p.Limit))
	if err != nil {
		return nil, err
	}
	w := openapi.LotPage{Lots: make([]openapi.LotSummary, 0, len(page.Lots)), NextCursor: optional[string](page.Next)}
	of := []string{string(who.Shop), page.Next}
	for _, l := range page.Lots {
		of = append(of, string(l.ID), lots.Version(l.Head))
	}
	tag := madeOf(of...)
	if holds(p.IfNoneMatch, tag) {
		return openapi.ListLots304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	for _, l := range page.Lots {
		w.Lots = append(w.Lots, openapi.LotSummary{
			ID: string(l.ID), Number: int(l.Number), Name: l.Name, Stage: openapi.LotStage(l.Stage), OpenedAt: l.OpenedAt,
			RecordedAt: l.RecordedAt, Entries: l.Head.Sequence,
		})
	}
	return openapi.ListLots200JSONResponse{Body: w, Headers: openapi.ListLots200ResponseHeaders{ETag: &tag, Link: who.linkToNext(page.Next)}}, nil
}

func limitOf(limit *int) int {
	if limit == nil {
		return defaultLimit
	}
	return *limit
}

// linkToNext returns the link to the next page (RFC 8288); nil on the last. The
// cursor takes the place of that of the request.
func (a asker) linkToNext(cursor string) *string {
	if cursor == "" {
		return nil
	}
	query := a.url.Query()
	query.Set("cursor", cursor)
	next := url.URL{Path: a.url.Path, RawQuery: query.Encode()}
	return pointerTo("<" + next.String() + `>; rel="next"`)
}

// GetLot answers GET /v1/lots/{lot_id}.
func (h *handlers) GetLot(ctx context.Context, req openapi.GetLotRequestObject) (openapi.GetLotResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := h.lots.Lot(ctx, who.Shop, lot.ID(req.LotID))
	if err != nil {
		return nil, err
	}
	u := unitsOf(req.Params.Units)
	tag := lotTag(kept.Version(), u)
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.GetLot304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	w, err := writeLot(kept, u)
	if err != nil {
		return nil, err
	}
	return openapi.GetLot200JSONResponse{Body: w, Headers: openapi.GetLot200ResponseHeaders{ETag: &tag}}, nil
}

// AppendEntries answers POST /v1/lots/{lot_id}/entries.
func (h *handlers) AppendEntries(ctx context.Context, req openapi.AppendEntriesRequestObject) (openapi.AppendEntriesResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	posted, err := h.readPosted(req.Body.Entries)
	if err != nil {
		return nil, err
	}
	if err := h.checkSavedFormulas(ctx, who, req.Body.Entries); err != nil {
		return nil, err
	}
	for _, p := range posted {
		if p.Told.Fact.Kind().Judges() && !who.May(shops.ScopeCorrect) {
			return nil, lacks(shops.ScopeCorrect)
		}
	}
	appended, err := h.lots.Append(
		ctx, who.by(), lot.ID(req.LotID), posted, matchOf(req.Params.IfMatch), onceOf(req.Params.IdempotencyKey, bodyOf(ctx)))
	if err != nil {
		return nil, underEntries(err)
	}
	w := openapi.AppendAnswer{LotID: string(appended.Lot), Head: writeHead(appended.Head)}
	for i, e := range appended.Entries {
		w.Entries = append(w.Entries, openapi.AppendedEntry{Entry: writeEntry(who.Shop, appended.Lot, e), Repeated: appended.Repeated[i]})
	}
	return openapi.AppendEntries201JSONResponse{Body: w, Headers: openapi.AppendEntries201ResponseHeaders{
		ETag: pointerTo(lotTag(lots.Version(appended.Head), units{})), IdempotencyReplayed: replayed(appended.Replayed),
	}}, nil
}

// readPosted reads the entries of a request, with every violation of all of
// them.
func (h *handlers) readPosted(bodies []jsontext.Value) ([]lots.Posted, error) {
	var bad fault.Collector
	posted := make([]lots.Posted, 0, len(bodies))
	for i, body := range bodies {
		kind, err := kindOf(body)
		if err != nil {
			return nil, err
		}
		told, err := entryReader{h.rules}.read(kind, body)
		bad.AddError(fault.At("entries", i), codeInvalidValue, err)
		if corrected, ok := told.Fact.(lot.Corrected); ok && err == nil {
			bad.AddError(fault.At("entries", i, "right"), codeInvalidValue, checkPlanned(corrected.Right))
		}
		posted = append(posted, lots.Posted{Body: string(body), Told: told})
	}
	return posted, bad.Err(codeInvalidValue, "the entries have no meaning as they stand")
}

// underEntries puts the paths of a fault of the ledger, which begin at the list,
// under the member of the request that holds it.
func underEntries(err error) error {
	f, ok := err.(*fault.Error) //nolint:errorlint // what was wrapped around a fault is for logs, and would be lost
	if !ok || len(f.Violations) == 0 {
		return err
	}
	again := *f
	again.Violations = make([]fault.Violation, 0, len(f.Violations))
	for _, v := range f.Violations {
		v.Path = v.Path.Under(fault.At("entries"))
		again.Violations = append(again.Violations, v)
	}
	return &again
}

// ListEntries answers GET /v1/lots/{lot_id}/entries.
func (h *handlers) ListEntries(ctx context.Context, req openapi.ListEntriesRequestObject) (openapi.ListEntriesResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	var kind lot.Kind
	if req.Params.Kind != nil {
		kind, _ = lot.ParseKind(string(*req.Params.Kind))
	}
	page, err := h.lots.Entries(ctx, who.Shop, lot.ID(req.LotID), kind, given(req.Params.Cursor), limitOf(req.Params.Limit))
	if err != nil {
		return nil, err
	}
	tag := madeOf(page.Kept.Version(), page.Next)
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.ListEntries304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	w := openapi.EntryPage{
		LotID: req.LotID, Head: writeHead(page.Kept.Lot.Head), Entries: make([]openapi.LedgerEntry, 0, len(page.Entries)),
		NextCursor: optional[string](page.Next),
	}
	for _, e := range page.Entries {
		entry := writeEntry(who.Shop, page.Kept.Lot.ID, e.Entry)
		entry.Judged = writeFate(page.Kept.Record, e.Sequence)
		w.Entries = append(w.Entries, entry)
	}
	return openapi.ListEntries200JSONResponse{Body: w, Headers: openapi.ListEntries200ResponseHeaders{
		ETag: &tag, Link: who.linkToNext(page.Next),
	}}, nil
}

// VerifyLedger answers GET /v1/lots/{lot_id}/ledger/verification.
func (h *handlers) VerifyLedger(ctx context.Context, req openapi.VerifyLedgerRequestObject) (openapi.VerifyLedgerResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	v, err := h.lots.Verify(ctx, who.Shop, lot.ID(req.LotID))
	if err != nil {
		return nil, err
	}
	tag := madeOf(lots.Version(v.Lot.Head), strconv.Itoa(v.Held), strconv.FormatBool(v.Broken == nil))
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.VerifyLedger304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	w := openapi.LedgerVerification{
		LotID: req.LotID, Outcome: openapi.LedgerVerificationOutcomeIntact, Entries: v.Held, Head: writeHead(v.Lot.Head),
	}
	if v.Broken != nil {
		w.Outcome, w.BrokenAt, w.Detail = openapi.LedgerVerificationOutcomeBroken, &v.Broken.Sequence, &v.Broken.Detail
	}
	return openapi.VerifyLedger200JSONResponse{Body: w, Headers: openapi.VerifyLedger200ResponseHeaders{ETag: &tag}}, nil
}

func writeHead(h lot.Head) openapi.LedgerHead {
	return openapi.LedgerHead{Sequence: h.Sequence, Digest: h.Digest.String()}
}

// writeEntry writes an entry as its digest covers it: [lots.Canonical] has the
// same members.
func writeEntry(shop store.ShopID, id lot.ID, e lot.Entry) openapi.LedgerEntry {
	w := openapi.LedgerEntry{
		ShopID: string(shop), LotID: string(id), Sequence: e.Sequence, Kind: openapi.EntryKind(e.Kind.String()),
		HappenedAt: e.HappenedAt, RecordedAt: e.RecordedAt, RequestID: e.RequestID, RulebookVersion: e.Rulebook,
		RecordedBy: openapi.RecordedBy{
			Open: e.Actor.Key == "", Person: optional[string](e.Actor.Person), KeyID: optional[string](e.Actor.Key),
		},
		Late: e.Late, Doubts: writeDoubts(e.Doubts), Body: jsontext.Value(e.Body), Digest: e.Digest.String(),
	}
	if !e.Previous.IsZero() {
		w.PreviousDigest = pointerTo(e.Previous.String())
	}
	return w
}

// writeDoubts returns an empty list for none.
func writeDoubts(doubts []lot.Doubt) []openapi.Doubt {
	w := make([]openapi.Doubt, 0, len(doubts))
	for _, d := range doubts {
		w = append(w, openapi.Doubt(d))
	}
	return w
}

// writeFate returns nil for an entry of which nothing was said since.
func writeFate(record lot.Record, sequence int) *openapi.EntryFate {
	corrected, retracted, confirmed := record.Fate(sequence)
	if corrected == 0 && retracted == 0 && confirmed == 0 {
		return nil
	}
	by := func(judge int) *int {
		if judge == 0 {
			return nil
		}
		return &judge
	}
	return &openapi.EntryFate{CorrectedBy: by(corrected), RetractedBy: by(retracted), ConfirmedBy: by(confirmed)}
}

// writeLot writes what a lot has come to.
func writeLot(kept lots.Kept, u units) (openapi.Lot, error) {
	state := kept.Record.State()
	order, err := lotOrderOf(kept.Record)
	if err != nil {
		return openapi.Lot{}, err
	}
	hazards, err := curing.Hazards(state.Planned.Formula)
	if err != nil {
		return openapi.Lot{}, err
	}
	w := openapi.Lot{
		ID: string(kept.Lot.ID), Number: int(kept.Lot.Number), Name: state.Planned.Name, Stage: openapi.LotStage(state.Stage.String()),
		OpenedAt: state.OpenedAt, RecordedAt: kept.Lot.RecordedAt, Rulebook: openapi.RulebookKey(state.Planned.Jurisdiction.String()),
		RulebookVersion: state.Rulebook, RulesOn: types.Date{Time: state.RulesOn}, Formula: order.Formula, SavedFormula: order.SavedFormula, Hazards: writeFindings(hazards, pointerInFormula),
		MixedAt: optionalInstant(state.MixedAt), StuffedAt: optionalInstant(state.StuffedAt), HungAt: optionalInstant(state.HungAt),
		Pieces: make([]openapi.LotPiece, 0, len(state.Pieces)), Doubtful: state.Doubtful, Head: writeHead(kept.Lot.Head), Cautions: lotCautions,
	}
	if w.Doubtful == nil {
		w.Doubtful = []openapi.Sequence{}
	}
	for _, p := range state.Pieces {
		w.Pieces = append(w.Pieces, writeLotPiece(p, u))
	}
	return w, nil
}

// optionalInstant returns nil for what has not happened.
func optionalInstant(t time.Time) *openapi.Instant {
	if t.IsZero() {
		return nil
	}
	return &t
}

// lotOrderOf returns the order of a lot as it stands: as it was posted, or as it
// was corrected last.
func lotOrderOf(record lot.Record) (openapi.LotOrder, error) {
	all := record.Entries()
	body := jsontext.Value(all[0].Body)
	if corrected, _, _ := record.Fate(1); corrected != 0 {
		var w openapi.CorrectedEntry
		if err := json.Unmarshal([]byte(all[corrected-1].Body), &w); err != nil {
			return openapi.LotOrder{}, err
		}
		body = w.Right
	}
	var order openapi.LotOrder
	return order, json.Unmarshal(body, &order) // the kind of a correction is passed over
}

func writeLotPiece(p lot.PieceState, u units) openapi.LotPiece {
	w := openapi.LotPiece{
		Piece: p.Name, GreenWeight: u.mass(p.Green), Tare: u.mass(p.Tare), Casing: optional[string](p.Casing),
		StuffedAt: p.StuffedAt, HungAt: optionalInstant(p.HungAt), Room: optional[string](p.Room), Position: optional[string](p.Position),
		WeighIns: make([]openapi.LotWeighIn, 0, len(p.WeighIns)),
	}
	if d, known := p.Diameter.Get(); known {
		w.Diameter = pointerTo(u.length(d))
	}
	for _, in := range p.WeighIns {
		w.WeighIns = append(w.WeighIns, writeLotWeighIn(in, u))
	}
	if p.Latest != nil {
		w.Latest = pointerTo(writeLotWeighIn(*p.Latest, u))
	}
	return w
}

func writeLotWeighIn(in lot.WeighIn, u units) openapi.LotWeighIn {
	w := openapi.LotWeighIn{
		Entry: in.Sequence, At: in.At, Weight: u.mass(in.Weight), LossPercent: shown(in.Loss.Percent()), Counts: in.Counts,
	}
	if len(in.Doubts) > 0 {
		w.Doubts = writeDoubts(in.Doubts)
	}
	return w
}

// madeOf returns the entity tag of an answer that is made of these and of nothing
// else.
func madeOf(parts ...string) string {
	digest := sha256.New()
	for _, part := range parts {
		digest.Write([]byte(part)) // writing to a hash does not fail
		digest.Write([]byte{0})
	}
	const digits = 16
	return `"` + hex.EncodeToString(digest.Sum(nil)[:digits]) + `"`
}
