package api

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"greenweight/api/table"
	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/lot"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
	"greenweight/service/formulas"
	"greenweight/service/request"
	"greenweight/service/shops"
	"greenweight/service/store"
)

const (
	pathFormulas  = "/v1/formulas"
	mediaTypeCSV  = "text/csv"
	codeNoTable   = "no-table"
	notesShown    = 200
	maxMemberText = 4000
)

// CreateFormula answers POST /v1/formulas.
func (h *handlers) CreateFormula(ctx context.Context, req openapi.CreateFormulaRequestObject) (openapi.CreateFormulaResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	body := bodyOf(ctx)
	draft, err := h.readDraft(body, *req.Body)
	if err != nil {
		return nil, err
	}
	saved, err := h.saved.Create(ctx, who.by(), []formulas.Draft{draft}, onceOf(req.Params.IdempotencyKey, body))
	if err != nil {
		return nil, err
	}
	w, err := writeSaved(saved[0])
	if err != nil {
		return nil, err
	}
	return openapi.CreateFormula201JSONResponse{Body: w, Headers: openapi.CreateFormula201ResponseHeaders{
		Location: pointerTo(pathFormulas + "/" + w.ID), ETag: pointerTo(formulaTag(saved[0], mediaTypeJSON)),
		IdempotencyReplayed: replayed(saved[0].Replayed),
	}}, nil
}

// readDraft reads a formula to be saved. It reports fault.Invalid for one that
// means nothing; a hazard means something.
func (h *handlers) readDraft(body []byte, w openapi.FormulaOrder) (formulas.Draft, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	f := readFormula(&bad, w.Formula)
	checkName(&bad, fault.At("formula", "name"), w.Formula.Name)
	if w.Reason != nil && !printable(*w.Reason) {
		bad.Add(fault.At("reason"), codeText, "may have no control character")
	}
	if bad.Err("", "") == nil {
		bad.AddError(fault.At("formula"), codeInvalidValue, f.Check())
	}
	if err := bad.Err(codeInvalidValue, "the formula has no meaning as it stands"); err != nil {
		return formulas.Draft{}, err
	}
	var raw struct {
		Formula jsontext.Value `json:"formula"`
	}
	if err := json.Unmarshal(body, &raw); err != nil {
		return formulas.Draft{}, fmt.Errorf("take the formula out of a body that was checked: %w", err)
	}
	return formulas.Draft{Name: w.Formula.Name, Product: f.Product.String(), Body: string(raw.Formula), Reason: given(w.Reason)}, nil
}

// checkName reports a name that can't be written in a list.
func checkName(bad *fault.Collector, at fault.Path, name string) {
	if !printable(name) || strings.TrimSpace(name) == "" {
		bad.Add(at, codeText, "needs a letter or figure, and may have no control character")
	}
}

// formulaTag returns the entity tag of a version as one media type. All that
// an answer on it is made of is in it: the version, and which there are besides
// and how many notes.
func formulaTag(s formulas.Saved, mediaType string) string {
	at := s.Formula
	at.Version, at.Digest = s.Version.Version, s.Version.Digest
	tag := fmt.Sprintf("%s%s%d-n%d", formulas.Name(at), tagOf, s.Formula.Version, s.Formula.Notes)
	if mediaType == mediaTypeCSV {
		tag += "-csv"
	}
	return `"` + tag + `"`
}

// tagOf stands behind the name of the version in an entity tag; what follows does
// not matter to whoever wants to follow the version.
const tagOf = "-of"

// matchFormula reads If-Match for a new version.
func matchFormula(field *string) request.Match {
	m := matchOf(field)
	for i, v := range m.Versions {
		m.Versions[i], _, _ = strings.Cut(v, tagOf)
	}
	return m
}

// readKept reads the formula of a version as it is kept.
func readKept(v store.FormulaVersion) (openapi.Formula, formula.Formula, error) {
	w, f, err := readBody([]byte(v.Body))
	if err != nil {
		return w, f, fmt.Errorf("read version %d of a formula: %w", v.Version, err)
	}
	return w, f, nil
}

// readBody reads the text of a formula that was kept. What is wrong with it is no
// fault of who asks.
func readBody(body []byte) (openapi.Formula, formula.Formula, error) {
	var w openapi.Formula
	if err := json.Unmarshal(body, &w); err != nil {
		return w, formula.Formula{}, err
	}
	var bad fault.Collector
	f := readFormula(&bad, w)
	if err := bad.Err("", ""); err != nil {
		return w, f, errors.New(err.Error())
	}
	return w, f, nil
}

func writeSaved(s formulas.Saved) (openapi.SavedFormula, error) {
	written, f, err := readKept(s.Version)
	if err != nil {
		return openapi.SavedFormula{}, err
	}
	hazards, err := curing.Hazards(f)
	if err != nil {
		return openapi.SavedFormula{}, err
	}
	w := openapi.SavedFormula{
		ShopID: string(s.Formula.Shop), ID: string(s.Formula.ID), Version: s.Version.Version, LatestVersion: s.Formula.Version,
		CreatedAt: s.Formula.CreatedAt, SavedAt: s.Version.SavedAt, SavedBy: writeActor(s.Version.Actor), RequestID: s.Version.RequestID,
		RulebookVersion: s.Version.Rulebook, Reason: optional[string](s.Version.Reason), Formula: written,
		Hazards: writeFindings(hazards, pointerInFormula), Notes: writeFormulaNotes(s.Notes), Digest: s.Version.Digest.String(), Cautions: formulaCautions,
	}
	if !s.Version.Previous.IsZero() {
		w.PreviousDigest = pointerTo(s.Version.Previous.String())
	}
	return w, nil
}

func writeActor(a lot.Actor) openapi.RecordedBy {
	return openapi.RecordedBy{Open: a.Key == "", Person: optional[string](a.Person), KeyID: optional[string](a.Key)}
}

// writeFormulaNotes writes the last notes.
func writeFormulaNotes(notes []store.FormulaNote) []openapi.FormulaNote {
	notes = notes[max(0, len(notes)-notesShown):]
	w := make([]openapi.FormulaNote, 0, len(notes))
	for _, n := range notes {
		w = append(w, writeFormulaNote(n))
	}
	return w
}

func writeFormulaNote(n store.FormulaNote) openapi.FormulaNote {
	return openapi.FormulaNote{Number: n.Number, Version: n.Version, Text: n.Text, NotedAt: n.NotedAt, NotedBy: writeActor(n.Actor)}
}

// writeTable writes formulas as a table.
func (h *handlers) writeTable(bodies ...[]byte) (*bytes.Buffer, error) {
	var text bytes.Buffer
	if err := table.Write(&text, h.layout, bodies...); err != nil {
		return nil, &fault.Error{Kind: fault.OutsideModel, Code: codeNoTable, Detail: err.Error() + "; the answer can be had as " + mediaTypeJSON}
	}
	return &text, nil
}

// GetFormula answers GET /v1/formulas/{formula_id}.
func (h *handlers) GetFormula(ctx context.Context, req openapi.GetFormulaRequestObject) (openapi.GetFormulaResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	saved, err := h.saved.Latest(ctx, who.Shop, formula.ID(req.FormulaID))
	if err != nil {
		return nil, err
	}
	tag := formulaTag(saved, answerType(ctx))
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.GetFormula304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	headers := openapi.GetFormula200ResponseHeaders{ETag: &tag}
	if answerType(ctx) == mediaTypeCSV {
		text, err := h.writeTable([]byte(saved.Version.Body))
		if err != nil {
			return nil, err
		}
		return openapi.GetFormula200TextCsvResponse{Body: text, ContentLength: int64(text.Len()), Headers: headers}, nil
	}
	w, err := writeSaved(saved)
	if err != nil {
		return nil, err
	}
	return openapi.GetFormula200JSONResponse{Body: w, Headers: headers}, nil
}

// GetFormulaVersion answers GET /v1/formulas/{formula_id}/versions/{version}.
func (h *handlers) GetFormulaVersion(ctx context.Context, req openapi.GetFormulaVersionRequestObject) (openapi.GetFormulaVersionResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	saved, err := h.saved.Version(ctx, who.Shop, formula.ID(req.FormulaID), req.Version)
	if err != nil {
		return nil, err
	}
	tag := formulaTag(saved, answerType(ctx))
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.GetFormulaVersion304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	headers := openapi.GetFormulaVersion200ResponseHeaders{ETag: &tag}
	if answerType(ctx) == mediaTypeCSV {
		text, err := h.writeTable([]byte(saved.Version.Body))
		if err != nil {
			return nil, err
		}
		return openapi.GetFormulaVersion200TextCsvResponse{Body: text, ContentLength: int64(text.Len()), Headers: headers}, nil
	}
	w, err := writeSaved(saved)
	if err != nil {
		return nil, err
	}
	return openapi.GetFormulaVersion200JSONResponse{Body: w, Headers: headers}, nil
}

// SaveFormulaVersion answers POST /v1/formulas/{formula_id}/versions.
func (h *handlers) SaveFormulaVersion(ctx context.Context, req openapi.SaveFormulaVersionRequestObject) (openapi.SaveFormulaVersionResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	body := bodyOf(ctx)
	draft, err := h.readDraft(body, *req.Body)
	if err != nil {
		return nil, err
	}
	saved, err := h.saved.Revise(
		ctx, who.by(), formula.ID(req.FormulaID), draft, matchFormula(req.Params.IfMatch), onceOf(req.Params.IdempotencyKey, body))
	if err != nil {
		return nil, err
	}
	w, err := writeSaved(saved)
	if err != nil {
		return nil, err
	}
	return openapi.SaveFormulaVersion201JSONResponse{Body: w, Headers: openapi.SaveFormulaVersion201ResponseHeaders{
		Location: pointerTo(pathFormulas + "/" + w.ID + "/versions/" + strconv.Itoa(w.Version)), ETag: pointerTo(formulaTag(saved, mediaTypeJSON)),
		IdempotencyReplayed: replayed(saved.Replayed),
	}}, nil
}

// AddFormulaNote answers POST /v1/formulas/{formula_id}/versions/{version}/notes.
func (h *handlers) AddFormulaNote(ctx context.Context, req openapi.AddFormulaNoteRequestObject) (openapi.AddFormulaNoteResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	if text := req.Body.Text; strings.TrimSpace(text) == "" || strings.ContainsFunc(text, func(r rune) bool { return unicode.IsControl(r) && !strings.ContainsRune("\t\r\n", r) }) {
		return nil, &refusal{slug: slugInvalidValue, entries: []openapi.ProblemEntry{
			entry("#/text", "", codeText, "needs a letter or figure, and may have no control character but ends of lines and tabs"),
		}}
	}
	noted, err := h.saved.Note(
		ctx, who.by(), formula.ID(req.FormulaID), req.Version, req.Body.Text, onceOf(req.Params.IdempotencyKey, bodyOf(ctx)))
	if err != nil {
		return nil, err
	}
	return openapi.AddFormulaNote201JSONResponse{Body: writeFormulaNote(noted.Note), Headers: openapi.AddFormulaNote201ResponseHeaders{
		IdempotencyReplayed: replayed(noted.Replayed),
	}}, nil
}

// ListFormulas answers GET /v1/formulas.
func (h *handlers) ListFormulas(ctx context.Context, req openapi.ListFormulasRequestObject) (openapi.ListFormulasResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	p := req.Params
	if p.Name != nil && !printable(*p.Name) {
		return nil, &refusal{slug: slugInvalidValue, entries: []openapi.ProblemEntry{entry("", "name", codeText, "has a control character in it")}}
	}
	filter := store.FormulaFilter{NameContains: given(p.Name), Product: string(given(p.Product))}
	page, err := h.saved.List(ctx, who.Shop, filter, given(p.Cursor), limitOf(p.Limit))
	if err != nil {
		return nil, err
	}
	of := []string{string(who.Shop), page.Next, answerType(ctx)}
	for _, f := range page.Formulas {
		of = append(of, string(f.ID), formulas.Name(f), strconv.Itoa(f.Notes))
	}
	tag := madeOf(of...)
	if holds(p.IfNoneMatch, tag) {
		return openapi.ListFormulas304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	headers := openapi.ListFormulas200ResponseHeaders{ETag: &tag, Link: who.linkToNext(page.Next)}
	if answerType(ctx) == mediaTypeCSV {
		text, err := h.tableOf(ctx, who, page.Formulas)
		if err != nil {
			return nil, err
		}
		return openapi.ListFormulas200TextCsvResponse{Body: text, ContentLength: int64(text.Len()), Headers: headers}, nil
	}
	w := openapi.FormulaPage{Formulas: make([]openapi.FormulaSummary, 0, len(page.Formulas)), NextCursor: optional[string](page.Next)}
	bodies, err := h.bodiesOf(ctx, who, page.Formulas)
	if err != nil {
		return nil, err
	}
	for i, f := range page.Formulas {
		hazard, err := isHazard(bodies[i])
		if err != nil {
			return nil, fmt.Errorf("read formula %s: %w", f.ID, err)
		}
		w.Formulas = append(w.Formulas, openapi.FormulaSummary{
			ID: string(f.ID), Name: f.Name, Product: openapi.Product(f.Product), LatestVersion: f.Version, IsHazard: hazard, Notes: f.Notes, CreatedAt: f.CreatedAt,
			SavedAt: f.SavedAt,
		})
	}
	return openapi.ListFormulas200JSONResponse{Body: w, Headers: headers}, nil
}

// bodiesOf returns the latest version of each formula.
func (h *handlers) bodiesOf(ctx context.Context, who asker, page []store.Formula) ([][]byte, error) {
	ids := make([]formula.ID, 0, len(page))
	for _, f := range page {
		ids = append(ids, f.ID)
	}
	texts, err := h.saved.Bodies(ctx, who.Shop, ids)
	if err != nil {
		return nil, err
	}
	bodies := make([][]byte, 0, len(texts))
	for _, text := range texts {
		bodies = append(bodies, []byte(text))
	}
	return bodies, nil
}

// isHazard reports whether a formula that was kept must not be made at all.
func isHazard(body []byte) (bool, error) {
	_, f, err := readBody(body)
	if err != nil {
		return false, err
	}
	hazards, err := curing.Hazards(f)
	return len(hazards) > 0, err
}

// tableOf writes the latest version of each formula as one table.
func (h *handlers) tableOf(ctx context.Context, who asker, page []store.Formula) (*bytes.Buffer, error) {
	bodies, err := h.bodiesOf(ctx, who, page)
	if err != nil {
		return nil, err
	}
	return h.writeTable(bodies...)
}

// ListFormulaVersions answers GET /v1/formulas/{formula_id}/versions.
func (h *handlers) ListFormulaVersions(ctx context.Context, req openapi.ListFormulaVersionsRequestObject) (openapi.ListFormulaVersionsResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	page, err := h.saved.Versions(ctx, who.Shop, formula.ID(req.FormulaID), given(req.Params.Cursor), limitOf(req.Params.Limit))
	if err != nil {
		return nil, err
	}
	tag := madeOf(string(page.Formula.ID), formulas.Name(page.Formula), strconv.Itoa(page.Formula.Notes), page.Next, strconv.Itoa(len(page.Versions)))
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.ListFormulaVersions304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	w := openapi.FormulaVersionPage{
		ID: string(page.Formula.ID), LatestVersion: page.Formula.Version, Versions: make([]openapi.FormulaVersionSummary, 0, len(page.Versions)),
		NextCursor: optional[string](page.Next),
	}
	for _, saved := range page.Versions {
		s, err := writeSaved(saved)
		if err != nil {
			return nil, err
		}
		w.Versions = append(w.Versions, openapi.FormulaVersionSummary{
			Version: s.Version, Name: s.Formula.Name, Product: s.Formula.Product, SavedAt: s.SavedAt, SavedBy: s.SavedBy, Reason: s.Reason,
			IsHazard: len(s.Hazards) > 0, Notes: s.Notes, PreviousDigest: s.PreviousDigest, Digest: s.Digest,
		})
	}
	return openapi.ListFormulaVersions200JSONResponse{Body: w, Headers: openapi.ListFormulaVersions200ResponseHeaders{
		ETag: &tag, Link: who.linkToNext(page.Next),
	}}, nil
}

// CompareFormulaVersions answers GET /v1/formulas/{formula_id}/comparison.
func (h *handlers) CompareFormulaVersions(ctx context.Context, req openapi.CompareFormulaVersionsRequestObject) (openapi.CompareFormulaVersionsResponseObject, error) {
	who, err := askerOf(ctx)
	if err != nil {
		return nil, err
	}
	before, after, err := h.saved.Two(ctx, who.Shop, formula.ID(req.FormulaID), req.Params.From, given(req.Params.To))
	if err != nil {
		return nil, err
	}
	tag := madeOf(before.Version.Digest.String(), after.Version.Digest.String())
	if holds(req.Params.IfNoneMatch, tag) {
		return openapi.CompareFormulaVersions304Response{Headers: openapi.NotModifiedResponseHeaders{ETag: &tag}}, nil
	}
	w, err := writeComparison(before, after)
	if err != nil {
		return nil, err
	}
	return openapi.CompareFormulaVersions200JSONResponse{Body: w, Headers: openapi.CompareFormulaVersions200ResponseHeaders{ETag: &tag}}, nil
}

// unfolded is a version in every form that a comparison needs.
type unfolded struct {
	members map[string]jsontext.Value
	lists   map[string][]jsontext.Value
	formula formula.Formula
	written curing.Written
	hazards []finding.Finding
}

func unfold(v store.FormulaVersion) (unfolded, error) {
	t := unfolded{lists: map[string][]jsontext.Value{}}
	var err error
	if _, t.formula, err = readKept(v); err != nil {
		return t, err
	}
	if t.written, err = curing.WrittenOf(t.formula); err != nil {
		return t, err
	}
	if t.hazards, err = curing.Hazards(t.formula); err != nil {
		return t, err
	}
	if err := json.Unmarshal([]byte(v.Body), &t.members); err != nil {
		return t, err
	}
	for _, name := range []string{"parts", "additions"} {
		var list []jsontext.Value
		if err := json.Unmarshal(t.members[name], &list); err != nil {
			return t, err
		}
		t.lists[name] = list
		delete(t.members, name)
	}
	return t, nil
}

// member returns the text of a part or addition by its path; nil for none.
func (t unfolded) member(path fault.Path) jsontext.Value {
	if path == nil {
		return nil
	}
	i, _ := strconv.Atoi(path[1]) // the domain made it of a number
	return t.lists[path[0]][i]
}

func writeComparison(before, after formulas.Saved) (openapi.FormulaComparison, error) {
	was, err := unfold(before.Version)
	if err != nil {
		return openapi.FormulaComparison{}, err
	}
	is, err := unfold(after.Version)
	if err != nil {
		return openapi.FormulaComparison{}, err
	}
	compared, err := formula.Compare(was.formula, is.formula)
	if err != nil {
		return openapi.FormulaComparison{}, err
	}
	w := openapi.FormulaComparison{
		ID: string(after.Formula.ID), From: before.Version.Version, To: after.Version.Version, Members: []openapi.MemberChange{},
		Parts: []openapi.ComparedIngredient{}, Additions: []openapi.ComparedIngredient{}, Totals: writeTotals(was.written, is.written),
		HazardsBefore: writeFindings(was.hazards, pointerInBody), HazardsAfter: writeFindings(is.hazards, pointerInBody), Cautions: formulaCautions,
	}
	changesOf(&w.Members, nil, was.members, is.members)
	for _, c := range compared.Parts {
		w.Parts = append(w.Parts, writeCompared(c, was, is))
	}
	for _, c := range compared.Additions {
		w.Additions = append(w.Additions, writeCompared(c, was, is))
	}
	return w, nil
}

func writeCompared(c formula.Compared, was, is unfolded) openapi.ComparedIngredient {
	w := openapi.ComparedIngredient{
		Outcome: openapi.IngredientOutcome(c.Fate.String()), Name: c.Name, Role: openapi.ComparedIngredientRole(c.Role.String()),
		Amount: writeAmountChange(c.Amount), Members: []openapi.MemberChange{},
	}
	if c.Before != nil {
		w.Before = pointerTo(c.Before.Pointer())
	}
	if c.After != nil {
		w.After = pointerTo(c.After.Pointer())
	}
	if c.Water.Before != nil || c.Water.After != nil {
		w.RehydrationWater = pointerTo(writeAmountChange(c.Water))
	}
	if c.Before != nil && c.After != nil {
		addChange(&w.Members, c.After, was.member(c.Before), is.member(c.After))
	}
	return w
}

// writeAmountChange writes shares of the meat in percent.
func writeAmountChange(c formula.AmountChange) openapi.AmountChange {
	w := openapi.AmountChange{Unit: openapi.FigureUnitPercent}
	of := func(b *quantity.Between[quantity.Ratio]) *openapi.AmountRange {
		if b == nil {
			return nil
		}
		return &openapi.AmountRange{Low: shown(b.Low.Percent()), High: shown(b.High.Percent())}
	}
	w.Before, w.After = of(c.Before), of(c.After)
	if d, ok := c.Difference(); ok {
		w.Difference = &openapi.AmountDifference{Low: shown(d.Low.Percent()), High: shown(d.High.Percent())}
	}
	return w
}

// writeTotals writes what two formulas bring to the meat.
func writeTotals(was, is curing.Written) []openapi.ComparedTotal {
	total := func(agent openapi.ComparedTotalAgent, species string, unit quantity.Unit, before, after curing.Ingoing) openapi.ComparedTotal {
		of := func(in curing.Ingoing) *openapi.AmountRange {
			return &openapi.AmountRange{Low: shown(in.Amount.Low.In(unit).Value()), High: shown(in.Amount.High.In(unit).Value())}
		}
		return openapi.ComparedTotal{
			Agent: agent, Species: optional[openapi.Species](species), Base: openapi.BaseMeat, Amount: openapi.AmountChange{
				Unit: openapi.FigureUnit(unit.String()), Before: of(before), After: of(after), Difference: &openapi.AmountDifference{
					Low:  shown(after.Amount.Low.In(unit).Value() - before.Amount.Low.In(unit).Value()),
					High: shown(after.Amount.High.In(unit).Value() - before.Amount.High.In(unit).Value()),
				},
			},
		}
	}
	sugar := total(openapi.ComparedTotalAgentFermentableSugar, "", quantity.UnitPercent, was.Sugar, is.Sugar)
	sugar.UnknownBefore, sugar.UnknownAfter = optional[string](was.SugarUnknown), optional[string](is.SugarUnknown)
	return []openapi.ComparedTotal{
		total(openapi.ComparedTotalAgentSalt, rulebook.SodiumChloride.String(), quantity.UnitPercent, was.Salt, is.Salt),
		sugar,
		total(openapi.ComparedTotalAgentNitrite, rulebook.SodiumNitrite.String(), quantity.UnitMilligramsPerKilogram, was.Nitrite, is.Nitrite),
		total(openapi.ComparedTotalAgentNitrate, rulebook.SodiumNitrate.String(), quantity.UnitMilligramsPerKilogram, was.Nitrate, is.Nitrate),
	}
}

// addChange adds the members that differ between two texts that are JSON, nil
// where there is none: each by itself where both have it, else as a whole.
func addChange(into *[]openapi.MemberChange, at fault.Path, before, after jsontext.Value) {
	kind := before.Kind()
	if kind == after.Kind() && kind == '{' {
		var was, is map[string]jsontext.Value
		if json.Unmarshal(before, &was) == nil && json.Unmarshal(after, &is) == nil {
			changesOf(into, at, was, is)
			return
		}
	}
	if kind == after.Kind() && kind == '[' {
		var was, is []jsontext.Value
		if json.Unmarshal(before, &was) == nil && json.Unmarshal(after, &is) == nil {
			for i := range max(len(was), len(is)) {
				addChange(into, fault.At(i).Under(at), itemOf(was, i), itemOf(is, i))
			}
			return
		}
	}
	one, other := before.Clone(), after.Clone()
	if one != nil && other != nil && one.Canonicalize() == nil && other.Canonicalize() == nil && bytes.Equal(one, other) {
		return
	}
	text := func(v jsontext.Value) *string {
		if v == nil {
			return nil
		}
		v = v.Clone()
		_ = v.Compact() // what is kept is valid
		return pointerTo(shorten(string(v), maxMemberText))
	}
	*into = append(*into, openapi.MemberChange{Pointer: at.Pointer(), Before: text(before), After: text(after)})
}

func itemOf(list []jsontext.Value, i int) jsontext.Value {
	if i >= len(list) {
		return nil
	}
	return list[i]
}

// changesOf adds the members that differ between two objects.
func changesOf(into *[]openapi.MemberChange, at fault.Path, was, is map[string]jsontext.Value) {
	names := make([]string, 0, len(was)+len(is))
	for name := range was {
		names = append(names, name)
	}
	for name := range is {
		if _, both := was[name]; !both {
			names = append(names, name)
		}
	}
	slices.SortFunc(names, cmp.Compare[string])
	for _, name := range names {
		addChange(into, fault.At(name).Under(at), was[name], is[name])
	}
}

// Codes of a lot that names a saved formula.
const (
	codeUnknownSaved = "unknown-formula"
	codeAnother      = "another-formula"
)

// named is what a body says of the formula of a lot.
type named struct {
	Formula jsontext.Value               `json:"formula"`
	Saved   *openapi.SavedFormulaVersion `json:"saved_formula"`
}

// withSavedFormula returns the body that opens a lot with the formula that it
// names put into it, if it names one and has none. It reports fault.Invalid for
// one that the shop does not have or that is another than the body has, and
// fault.Forbidden for a key that may not read formulas.
func (h *handlers) withSavedFormula(ctx context.Context, who asker, body []byte) ([]byte, error) {
	var w named
	if err := json.Unmarshal(body, &w); err != nil {
		return nil, fmt.Errorf("look for the formula of a lot: %w", err)
	}
	saved, err := h.savedFormula(ctx, who, nil, w)
	if err != nil || saved == "" || w.Formula != nil {
		return body, err
	}
	object := bytes.TrimRight(body, " \t\r\n")
	return slices.Concat(object[:len(object)-1], []byte(`,"formula":`), []byte(saved), []byte("}")), nil
}

// savedFormula returns the text of the formula that a body at a path names; ""
// where it names none.
func (h *handlers) savedFormula(ctx context.Context, who asker, at fault.Path, w named) (string, error) {
	if w.Saved == nil {
		return "", nil
	}
	if !who.May(shops.ScopeReadFormulas) {
		return "", lacks(shops.ScopeReadFormulas)
	}
	var bad fault.Collector
	saved, err := h.saved.Version(ctx, who.Shop, formula.ID(w.Saved.FormulaID), w.Saved.Version)
	if f, ok := errors.AsType[*fault.Error](err); ok && f.Kind == fault.NotFound {
		bad.Add(fault.At("saved_formula").Under(at), codeUnknownSaved, "%s", f.Detail)
		return "", bad.Err(codeInvalidValue, "")
	}
	if err != nil {
		return "", err
	}
	if w.Formula == nil {
		return saved.Version.Body, nil
	}
	same, err := formulas.Same(string(w.Formula), saved.Version.Body)
	if err == nil && !same {
		bad.Add(fault.At("formula").Under(at), codeAnother, "is another formula than version %d of the saved one; leave out one of the two", w.Saved.Version)
		err = bad.Err(codeInvalidValue, "")
	}
	return saved.Version.Body, err
}

// checkSavedFormulas checks what corrections of the opening of a lot say of the
// saved formula that it is.
func (h *handlers) checkSavedFormulas(ctx context.Context, who asker, bodies []jsontext.Value) error {
	for i, body := range bodies {
		var w struct {
			Right jsontext.Value `json:"right"`
		}
		var right named
		if json.Unmarshal(body, &w) != nil || w.Right == nil || json.Unmarshal(w.Right, &right) != nil {
			continue // it corrects nothing
		}
		if _, err := h.savedFormula(ctx, who, fault.At("entries", i, "right"), right); err != nil {
			return err
		}
	}
	return nil
}
