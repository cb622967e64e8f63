package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"greenweight/api/table"
	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
	"greenweight/service/formulas"
	"greenweight/service/request"
)

const (
	// maxImported is how many formulas one request may bring.
	maxImported      = 200
	codeManyFormulas = "many-formulas"
	codeReplay       = "read-otherwise"
)

// ImportFormulas answers POST /v1/formulas/import.
func (h *handlers) ImportFormulas(ctx context.Context, req openapi.ImportFormulasRequestObject) (openapi.ImportFormulasResponseObject, error) {
	body := bodyOf(ctx)
	read, err := h.readImport(req.JSONBody, body)
	if err != nil {
		return nil, err
	}
	w := openapi.ImportAnswer{RulebookVersion: rulebook.Version(), Formulas: make([]openapi.ImportedFormula, 0, len(read)), Cautions: formulaCautions}
	var drafts []formulas.Draft
	var of []int
	for i, r := range read {
		one, err := h.judgeImported(r)
		if err != nil {
			return nil, err
		}
		w.Summary.Formulas++
		switch one.Outcome {
		case openapi.ImportOutcomeGood:
			w.Summary.Good++
			drafts, of = append(drafts, formulas.Draft{Name: one.Formula.Name, Product: string(one.Formula.Product), Body: string(r.body)}), append(of, i)
		case openapi.ImportOutcomeHazard:
			w.Summary.Hazard++
		case openapi.ImportOutcomeRefused:
			w.Summary.Refused++
		}
		w.Formulas = append(w.Formulas, one)
	}
	var headers openapi.ImportFormulas200ResponseHeaders
	if given(req.Params.Save) {
		who, err := askerOf(ctx)
		if err != nil {
			return nil, err
		}
		saved, err := h.saveImported(ctx, who, drafts, onceOf(req.Params.IdempotencyKey, body))
		if err != nil {
			return nil, err
		}
		for i, s := range saved {
			w.Formulas[of[i]].Saved = &openapi.ImportedAs{ID: string(s.Formula.ID), Version: s.Version.Version}
			headers.IdempotencyReplayed = replayed(s.Replayed)
		}
		w.Summary.Saved = len(saved)
	}
	return openapi.ImportFormulas200JSONResponse{Body: w, Headers: headers}, nil
}

func (h *handlers) saveImported(ctx context.Context, who asker, drafts []formulas.Draft, once request.Once) ([]formulas.Saved, error) {
	if len(drafts) == 0 {
		return nil, nil
	}
	saved, err := h.saved.Create(ctx, who.by(), drafts, once)
	if err == nil && len(saved) != len(drafts) {
		err = &fault.Error{Kind: fault.Conflict, Code: codeReplay, Detail: fmt.Sprintf(
			"this request saved %d formulas before, and has %d that can be saved by now; send it with another Idempotency-Key", len(saved), len(drafts))}
	}
	return saved, err
}

// imported is a formula as it came: as JSON, or why it is none.
type imported struct {
	body   jsontext.Value
	record *table.Record // of a table
	err    error
}

// readImport reads the formulas of a body: those of a list, or else of a table.
func (h *handlers) readImport(list *openapi.ImportOrder, body []byte) ([]imported, error) {
	var all []imported
	if list != nil {
		for _, draft := range list.Formulas {
			all = append(all, imported{body: draft})
		}
		return all, nil
	}
	in, err := table.NewReader(bytes.NewReader(body), h.layout)
	if err != nil {
		return nil, err
	}
	for {
		record, err := in.Next()
		switch {
		case errors.Is(err, io.EOF):
			return all, nil
		case err != nil:
			return nil, err
		case len(all) == maxImported:
			return nil, &fault.Error{Kind: fault.Invalid, Code: codeManyFormulas, Detail: fmt.Sprintf(
				"the table has more than the %d formulas that one request may bring; those from line %d on are too many", maxImported, record.Line)}
		}
		all = append(all, imported{body: record.Formula, record: &record, err: record.Err})
		tear(all)
	}
}

// tear refuses the earlier pieces of a formula of which the last record is a piece
// too: none of them is the formula, and one alone may lack its cure.
func tear(all []imported) {
	last := all[len(all)-1]
	for i := range all[:len(all)-1] {
		if piece := &all[i]; last.record.Apart > 0 && piece.record.Line == last.record.Apart && piece.err == nil {
			var bad fault.Collector
			bad.Add(nil, "apart", "rows of one formula must follow each other, and this name stands again on line %d; sort the table by the column formula", last.record.Line)
			piece.err = bad.Err(codeInvalidValue, "")
		}
	}
}

// judgeImported reads one formula and says what it is.
func (h *handlers) judgeImported(r imported) (openapi.ImportedFormula, error) {
	w := openapi.ImportedFormula{
		Outcome: openapi.ImportOutcomeRefused, Hazards: []openapi.Finding{}, Notes: openapi.Notes{}, Violations: []openapi.ImportViolation{},
	}
	if r.record != nil {
		w.Line, w.Name = &r.record.Line, optional[string](r.record.Name)
	}
	if wrong := r.violations(r.err); len(wrong) > 0 {
		w.Violations = wrong
		return w, nil
	}
	if w.Name == nil {
		w.Name = nameIn(r.body)
	}
	if found := h.formulas.Check(r.body); len(found) > 0 {
		for _, v := range found {
			w.Violations = append(w.Violations, r.violation(v.Pointer, v.Code, v.Detail))
		}
		return w, nil
	}
	var formula openapi.Formula
	if err := json.Unmarshal(r.body, &formula); err != nil {
		return w, fmt.Errorf("decode a formula that was checked: %w", err)
	}
	var bad fault.Collector
	bad.AddError(fault.At("formula"), codeInvalidValue, h.rules.check(formula))
	f := readFormula(&bad, formula)
	checkName(&bad, fault.At("formula", "name"), formula.Name)
	if bad.Err("", "") == nil {
		bad.AddError(fault.At("formula"), codeInvalidValue, f.Check())
	}
	if wrong := r.violations(fromFormula(bad.Err(codeInvalidValue, ""))); len(wrong) > 0 {
		w.Violations = wrong
		return w, nil
	}
	hazards, err := curing.Hazards(f)
	if err != nil {
		return w, err
	}
	order := curing.Order{Date: h.clock().UTC()}
	order.Scaling.Formula = f
	checked, err := curing.Check(order)
	if err != nil {
		return w, err
	}
	w.Formula, w.Hazards, w.Notes = &formula, writeFindings(hazards, pointerInFormula), writeNotes(checked.Notes, pointerInFormula)
	w.Outcome = openapi.ImportOutcomeGood
	if len(hazards) > 0 {
		w.Outcome = openapi.ImportOutcomeHazard
	}
	return w, nil
}

// nameIn returns the name that a draft has, if it has one.
func nameIn(draft jsontext.Value) *string {
	var w struct {
		Name jsontext.Value `json:"name"`
	}
	var name string
	if json.Unmarshal(draft, &w) != nil || w.Name.Kind() != '"' || json.Unmarshal(w.Name, &name) != nil || name == "" {
		return nil
	}
	const most = 1000
	return pointerTo(shorten(name, most))
}

// fromFormula takes the member formula from the beginning of the paths of a
// fault.
func fromFormula(err error) error {
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		return err
	}
	again := *f
	again.Violations = slices.Clone(f.Violations)
	for i, v := range again.Violations {
		if len(v.Path) > 0 {
			again.Violations[i].Path = v.Path[1:]
		}
	}
	return &again
}

// violations writes the violations of a fault; none for nil.
func (r imported) violations(err error) []openapi.ImportViolation {
	w := []openapi.ImportViolation{}
	if err == nil {
		return w
	}
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		return append(w, r.violation("#", codeInvalidValue, err.Error()))
	}
	for _, v := range f.Violations {
		if len(w) < maxEntries {
			w = append(w, r.violation(v.Path.Pointer(), v.Code, v.Detail))
		}
	}
	return w
}

// decimalComma finds a number that was written with a comma, as programs for
// spreadsheets do in many languages, or with its unit behind it.
var decimalComma = regexp.MustCompile(`^is the string "[0-9.,]+ ?[%a-z]*", but must be a number$`)

// violation writes one, with its place in the table where there is one. A cell
// that gives no member has no pointer but the formula.
func (r imported) violation(pointer, code, detail string) openapi.ImportViolation {
	e := entry(pointer, "", code, detail)
	w := openapi.ImportViolation{Pointer: pointer, Code: e.Code, Detail: e.Detail}
	if e.Pointer != nil {
		w.Pointer = *e.Pointer
	}
	if r.record == nil {
		return w
	}
	if decimalComma.MatchString(w.Detail) {
		w.Detail += ", written with a point and without a unit"
	}
	cell := r.record.CellAt(pointer)
	w.Line, w.Column = &cell.Line, optional[string](shorten(cell.Column, maxPointer))
	if strings.HasPrefix(pointer, "#/row/") {
		w.Pointer = "#"
	}
	return w
}
