package api

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"github.com/go-json-experiment/json"

	"greenweight/api/stream"
	"greenweight/api/table"
	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

const (
	pathFormulaChecks = "/v1/formula-checks"

	mediaTypeNDJSON = "application/x-ndjson"

	// maxLine is the longest line of a collection in bytes: thirty times the
	// longest formula that anybody wrote us.
	maxLine = 64 << 10
)

// CheckFormulas answers POST /v1/formula-checks. The answer is computed while it
// is written.
func (h *handlers) CheckFormulas(ctx context.Context, req openapi.CheckFormulasRequestObject) (openapi.CheckFormulasResponseObject, error) {
	f, err := flowOf(ctx)
	if err != nil {
		return nil, err
	}
	c := &collection{ctx: context.WithoutCancel(ctx), h: h, flow: f, date: h.clock().UTC().Truncate(24 * time.Hour), shown: openapi.FindingsShownAttention}
	if req.Params.Date != nil {
		c.date = req.Params.Date.Time
	}
	if req.Params.Findings != nil {
		c.shown = *req.Params.Findings
	}
	for i, key := range req.Params.Rulebooks {
		if slices.Index(req.Params.Rulebooks, key) < i {
			return nil, &refusal{slug: slugInvalidValue, entries: []openapi.ProblemEntry{
				entry("", "rulebooks", "duplicate", "names "+string(key)+" more than once"),
			}}
		}
		j, _ := rulebook.ParseJurisdiction(string(key))
		c.rulebooks = append(c.rulebooks, j)
	}
	c.rules, err = curing.Prepare(c.rulebooks, c.date)
	return c, err
}

// collection is a collection of formulas that is checked as it comes.
type collection struct {
	// ctx does not end with the request's, which ends as soon as the body can't be
	// read on, although its sender may well be told. Who is gone takes no answer,
	// and that is noticed.
	ctx       context.Context
	h         *handlers
	flow      *flow
	rulebooks []rulebook.Jurisdiction
	date      time.Time
	rules     *curing.Rules // of the rulebooks on the date
	shown     openapi.FindingsShown
}

// VisitCheckFormulasResponse reads the collection and writes what is found. An
// error that it returns comes before the beginning of the answer. After that, a
// body that can't be read on is told in the last line, and nothing is told to
// whoever is gone; the log has that the answer is not whole.
func (c *collection) VisitCheckFormulasResponse(http.ResponseWriter) error {
	if c.asTable() {
		c.flow.heading = appendRow(nil, tableHeadings...)
	}
	workers := make([]stream.Worker, runtime.GOMAXPROCS(0))
	checkers := make([]*lineChecker, len(workers))
	for i := range workers {
		checkers[i] = &lineChecker{collection: c, decoder: newTextDecoder[openapi.Formula]()}
		workers[i] = checkers[i]
	}
	err := stream.Stream{In: c.flow, Interrupt: c.flow.interrupt, Lines: c.lines, Workers: workers, Out: c.flow}.Run(c.ctx)
	broken, isBroken := errors.AsType[*stream.ReadError](err)
	var last []byte
	switch {
	case isBroken && !c.flow.begun():
		c.flow.allowWriting() // of the problem
		return c.flow.readError(broken.Err)
	case isBroken:
		last = c.writeProblem(nil, stream.Line{Number: broken.Line}, c.flow.readError(broken.Err))
	case err != nil:
		return nil //nolint:nilerr // nobody is there to hear of it
	default:
		var sum tally
		for _, w := range checkers {
			sum.add(w.tally)
		}
		last = c.writeFinal(sum)
	}
	if _, err = c.flow.Write(last); err == nil {
		err = c.flow.Flush()
	}
	c.flow.whole = !isBroken && err == nil
	return nil
}

// lines makes lines of the body, or of the formulas of a table.
func (c *collection) lines(in io.Reader) stream.Source {
	if c.flow.mediaType == mediaTypeCSV {
		return &rows{in: bufio.NewReaderSize(in, maxLine), layout: c.h.layout}
	}
	return stream.Lines(in, maxLine)
}

// rows gives the formulas of a table as lines of JSON.
type rows struct {
	in     io.Reader
	layout *table.Layout
	table  *table.Reader // nil before the first row
}

// Next implements [stream.Source].
func (r *rows) Next() (stream.Line, error) {
	if r.table == nil {
		var err error
		if r.table, err = table.NewReader(r.in, r.layout); err != nil {
			return stream.Line{}, err
		}
	}
	record, err := r.table.Next()
	return stream.Line{Number: int64(record.Line), Text: record.Formula, Err: record.Err, Origin: record}, err
}

// tally counts the lines of a collection.
type tally struct {
	status   [finding.Hazard + 1]int64 // formulas of each
	problems int64
}

func (t *tally) add(u tally) {
	for i, n := range u.status {
		t.status[i] += n
	}
	t.problems += u.problems
}

// formulas is how many lines there were.
func (t *tally) formulas() int64 {
	sum := t.problems
	for _, n := range t.status {
		sum += n
	}
	return sum
}

// lineChecker checks one line after the other.
type lineChecker struct {
	*collection
	tally     tally
	decoder   *textDecoder[openapi.Formula]
	parts     []formula.Part // of the line before, for the next
	additions []formula.Addition
}

// Answer implements [stream.Worker]. A line that breaks the program spoils itself
// alone, like one that breaks the contract.
func (c *lineChecker) Answer(dst []byte, line stream.Line) (answer []byte) {
	before := len(dst)
	fail := func(err error) []byte {
		c.tally.problems++
		c.flow.refused.Add(1)
		return c.writeProblem(dst[:before], line, err)
	}
	defer func() {
		if value := recover(); value != nil {
			err := &panicError{value, debug.Stack()}
			c.flow.fail(err)
			answer = fail(err)
		}
	}()
	r, err := c.check(line)
	if err != nil {
		return fail(err)
	}
	c.tally.status[r.status]++
	c.flow.answered.Add(1)
	if c.asTable() {
		return appendResultRow(dst, r)
	}
	return appendResult(dst, r)
}

// result is what was found of the formula of a line.
type result struct {
	line     int64
	name     string
	status   finding.Status
	summary  finding.Summary
	findings []finding.Finding // those to be shown
}

// check returns what is found of the formula of a line.
func (c *lineChecker) check(line stream.Line) (result, error) {
	switch {
	case errors.As(line.Err, new(*stream.TooLongError)):
		return result{}, &refusal{slug: slugTooLarge, detail: line.Err.Error()}
	case line.Err != nil:
		return result{}, line.Err
	}
	if broken := c.h.formulas.Check(line.Text); len(broken) > 0 {
		return result{}, &violationsError{broken}
	}
	asked, quick := c.decoder.decode(line.Text)
	if !quick {
		asked = new(openapi.Formula)
		if err := json.Unmarshal(line.Text, asked); err != nil {
			return result{}, fmt.Errorf("decode a line that was checked: %w", err)
		}
	}
	f, err := c.readFormulaAlone(asked)
	if err != nil {
		return result{}, err
	}
	r := result{line: line.Number, name: asked.Name}
	r.summary, r.findings, err = c.judge(f)
	r.status = statusOf(r.summary)
	return r, fromFormula(err)
}

// judge holds a formula against the rules and returns all findings counted, and
// those to be shown.
func (c *collection) judge(f formula.Formula) (finding.Summary, []finding.Finding, error) {
	if c.shown == openapi.FindingsShownAll {
		whole, err := curing.Check(curing.Order{Scaling: formula.Order{Formula: f}, Rulebooks: c.rulebooks, Date: c.date})
		return finding.Summarise(whole.Findings), whole.Findings, err
	}
	short, err := c.rules.Verdict(f)
	if c.shown == openapi.FindingsShownNone {
		short.Attention = nil
	}
	return short.Summary, short.Attention, err
}

// readFormulaAlone reads a formula that is the whole question, good until the next
// call. Most have nothing wrong with them; only for one that has the places are
// looked for.
func (c *lineChecker) readFormulaAlone(w *openapi.Formula) (formula.Formula, error) {
	var bad fault.Collector
	if keepsRules(w) {
		f := readFormulaInto(&bad, nil, *w, c.parts, c.additions)
		c.parts, c.additions = f.Parts, f.Additions
		if bad.Err(codeInvalidValue, "") == nil {
			return f, nil
		}
		bad = fault.Collector{}
	}
	bad.AddError(nil, codeInvalidValue, c.h.rules.check(*w))
	f := readFormulaAt(&bad, fault.Path{}, *w)
	return f, bad.Err(codeInvalidValue, "the formula has no meaning as it stands")
}

// statusOf returns the status of a formula: the worst of the findings of its own
// stage. One of which nothing can be asked shows nothing.
func statusOf(s finding.Summary) finding.Status {
	if worst := s.Worst(finding.Formula); worst != 0 && worst != finding.NotApplicable {
		return worst
	}
	return finding.NotShown
}

// asTable tells whether the answer is a table.
func (c *collection) asTable() bool { return c.flow.answerType == mediaTypeCSV }

// writeProblem appends the answer to a line that could not be checked.
func (c *collection) writeProblem(dst []byte, line stream.Line, err error) []byte {
	r := refusalOf(err)
	if record, ok := line.Origin.(table.Record); ok {
		r = inTable(r, record)
	}
	problem := problemOf(r, c.flow.requestID)
	if c.asTable() {
		return appendProblemRow(dst, line.Number, r.slug, problem)
	}
	return appendLine(dst, openapi.FormulaCheckProblem{Line: line.Number, Problem: problem})
}

// inTable returns the refusal of a formula with the cell of each member at fault.
func inTable(of *refusal, record table.Record) *refusal {
	told := *of
	told.entries = slices.Clone(of.entries)
	for i, e := range told.entries {
		if e.Pointer == nil {
			continue
		}
		detail := e.Detail
		if decimalComma.MatchString(detail) {
			detail += ", written with a point and without a unit"
		}
		told.entries[i].Detail = shorten(detail+" ("+record.CellAt(*e.Pointer).String()+")", maxDetail)
		if strings.HasPrefix(*e.Pointer, "#/row/") { // a cell that gives no member
			told.entries[i].Pointer = pointerTo("#")
		}
	}
	return &told
}

// writeFinal returns the last line.
func (c *collection) writeFinal(sum tally) []byte {
	if c.asTable() {
		return c.appendFinalRow(nil, sum)
	}
	final := openapi.FormulaCheckFinal{
		Final: true, Formulas: sum.formulas(), Problems: sum.problems,
		ByStatus: openapi.FormulaCounts{
			Hazard: sum.status[finding.Hazard], NotMet: sum.status[finding.NotMet], Near: sum.status[finding.Near],
			NotShown: sum.status[finding.NotShown], Met: sum.status[finding.Met],
		},
		RulebookVersion: rulebook.Version(), Cautions: formulaCautions,
	}
	final.Date.Time = c.date
	for _, j := range c.rulebooks {
		final.Rulebooks = append(final.Rulebooks, openapi.RulebookKey(j.String()))
	}
	return appendLine(nil, final)
}

// appendLine appends a value as a line of JSON.
func appendLine(dst []byte, value any) []byte {
	text := bytes.NewBuffer(dst)
	if err := openapi.WriteJSON(text, value); err != nil {
		panic(fmt.Errorf("write a line: %w", err))
	}
	return text.Bytes()
}
