package api

import (
	"strconv"
	"strings"
	"time"

	"greenweight/domain/finding"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// tableHeadings are the columns of the answer to a collection as a table.
var tableHeadings = []string{
	"kind", "line", "name", "status", "hazard", "not_met", "near", "not_shown", "met", "not_applicable", "attention", "problem", "detail",
}

// Words of the column kind.
const (
	rowFormula = "formula"
	rowProblem = "problem"
	rowFinal   = "final"
)

// tableOrder is the order of the counts in a row.
var tableOrder = []finding.Status{finding.Hazard, finding.NotMet, finding.Near, finding.NotShown, finding.Met, finding.NotApplicable}

// appendResultRow appends the row of a formula, with the counts of what its
// status was taken from.
func appendResultRow(dst []byte, r result) []byte {
	cells := make([]string, 0, len(tableHeadings))
	cells = append(cells, rowFormula, strconv.FormatInt(r.line, 10), r.name, r.status.String())
	for _, status := range tableOrder {
		count := 0
		for i := range r.summary {
			if r.summary[i].Stage == finding.Formula {
				count += r.summary[i].Of(status)
			}
		}
		cells = append(cells, strconv.Itoa(count))
	}
	var attention []string
	for i := range r.findings {
		if f := &r.findings[i]; f.NeedsAttention() {
			attention = append(attention, f.Key()+": "+f.Reason)
		}
	}
	return appendRow(dst, append(cells, strings.Join(attention, " | "), "", "")...)
}

// appendProblemRow appends the row of a formula that could not be checked.
func appendProblemRow(dst []byte, line int64, slug problemSlug, p openapi.Problem) []byte {
	details := make([]string, 0, len(p.Errors))
	for _, e := range p.Errors {
		detail := e.Detail
		if e.Pointer != nil {
			detail = *e.Pointer + " " + detail
		}
		details = append(details, detail)
	}
	if len(details) == 0 && p.Detail != nil {
		details = append(details, *p.Detail)
	}
	return appendRow(dst, rowProblem, strconv.FormatInt(line, 10), "", "", "", "", "", "", "", "", "", string(slug), strings.Join(details, " | "))
}

// appendFinalRow appends the last row, whose counts are of formulas by their
// status, and of those that could not be checked.
func (c *collection) appendFinalRow(dst []byte, sum tally) []byte {
	cells := make([]string, 0, len(tableHeadings))
	cells = append(cells, rowFinal, "", "", "")
	for _, status := range tableOrder {
		count := strconv.FormatInt(sum.status[status], 10)
		if status == finding.NotApplicable {
			count = "" // no formula has it
		}
		cells = append(cells, count)
	}
	rulebooks := make([]string, 0, len(c.rulebooks))
	for _, j := range c.rulebooks {
		rulebooks = append(rulebooks, j.String())
	}
	detail := "Rulebooks " + strings.Join(rulebooks, ", ") + " on " + c.date.Format(time.DateOnly) + ", version " + rulebook.Version() + ". " +
		notSafe + " " + localCodes
	return appendRow(dst, append(cells, "", strconv.FormatInt(sum.problems, 10), detail)...)
}

// appendRow appends a row of a table (RFC 4180).
func appendRow(dst []byte, cells ...string) []byte {
	for i, cell := range cells {
		if i > 0 {
			dst = append(dst, ',')
		}
		if calculates(cell) {
			cell = "'" + cell
		}
		if !strings.ContainsAny(cell, ",\"\r\n") {
			dst = append(dst, cell...)
			continue
		}
		dst = append(append(append(dst, '"'), strings.ReplaceAll(cell, `"`, `""`)...), '"')
	}
	return append(dst, "\r\n"...)
}

// calculates tells whether a program for spreadsheets would take a text for a
// calculation, as package table does: then an apostrophe stands before it.
func calculates(text string) bool {
	bare := strings.TrimLeft(text, "'")
	return bare != "" && strings.IndexByte("=+-@\t\r", bare[0]) >= 0
}
