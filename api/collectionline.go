package api

import (
	"math"
	"strconv"

	"github.com/go-json-experiment/json/jsontext"

	"greenweight/domain/finding"
	"greenweight/domain/source"
)

// The lines of a collection are written by hand: there are very many, and to
// write one by reflection takes longer than to check its formula. A test holds
// them against what [openapi.WriteJSON] makes of the same.

// appendResult appends the line of a formula, an openapi.FormulaCheckResult.
func appendResult(dst []byte, r result) []byte {
	dst = append(dst, `{"line":`...)
	dst = strconv.AppendInt(dst, r.line, 10)
	dst = appendText(append(dst, `,"name":`...), r.name)
	dst = appendWord(append(dst, `,"status":`...), r.status.String())
	dst = append(dst, `,"summary":[`...)
	for i := range r.summary {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = appendCounts(dst, &r.summary[i])
	}
	dst = append(dst, ']')
	for i := range r.findings {
		if i == 0 {
			dst = append(dst, `,"findings":[`...)
		} else {
			dst = append(dst, ',')
		}
		dst = appendFinding(dst, &r.findings[i])
	}
	if len(r.findings) > 0 {
		dst = append(dst, ']')
	}
	return append(dst, "}\n"...)
}

// appendCounts appends an openapi.StatusCounts.
func appendCounts(dst []byte, t *finding.Tally) []byte {
	dst = append(dst, '{')
	if t.Rulebook != "" {
		dst = append(appendWord(append(dst, `"rulebook":`...), t.Rulebook), ',')
	}
	dst = appendWord(append(dst, `"stage":`...), t.Stage.String())
	dst = appendWord(append(dst, `,"authority":`...), t.Authority.String())
	for _, c := range [...]struct {
		member string
		status finding.Status
	}{
		{`,"met":`, finding.Met},
		{`,"near":`, finding.Near},
		{`,"not_met":`, finding.NotMet},
		{`,"not_shown":`, finding.NotShown},
		{`,"not_applicable":`, finding.NotApplicable},
		{`,"hazard":`, finding.Hazard},
	} {
		dst = strconv.AppendInt(append(dst, c.member...), int64(t.Of(c.status)), 10)
	}
	return append(dst, '}')
}

// appendFinding appends an openapi.Finding.
func appendFinding(dst []byte, f *finding.Finding) []byte {
	dst = appendText(append(dst, `{"code":`...), f.Code)
	dst = appendOptional(dst, `,"rulebook":`, f.Rulebook)
	dst = appendOptional(dst, `,"limit_id":`, f.LimitID)
	dst = appendOptional(dst, `,"guide_id":`, f.GuideID)
	dst = appendWord(append(dst, `,"status":`...), f.Status.String())
	dst = appendWord(append(dst, `,"stage":`...), f.Stage.String())
	dst = appendWord(append(dst, `,"authority":`...), f.Authority.String())
	dst = appendText(append(dst, `,"subject":`...), f.Subject)
	if !f.Measured.IsZero() {
		dst = appendFigure(append(dst, `,"measured":`...), f.Measured)
	}
	if !f.Limit.IsZero() {
		dst = appendText(append(dst, `,"limit":{"comparator":`...), f.Limit.Comparator)
		dst = appendNumber(append(dst, `,"value":`...), significant(f.Limit.Value.Value(), scaleDigits))
		dst = appendText(append(dst, `,"unit":`...), f.Limit.Value.Unit().String())
		dst = appendText(append(dst, `,"printed":`...), f.Limit.Printed)
		dst = appendOptional(dst, `,"species":`, f.Limit.Basis.Species)
		dst = appendOptional(dst, `,"phase":`, f.Limit.Basis.Phase)
		dst = appendOptional(dst, `,"base":`, f.Limit.Basis.Base)
		dst = append(dst, '}')
	}
	for i, figure := range f.Also {
		dst = appendFigure(append(dst, opening(i, `,"also":[`)...), figure)
	}
	dst = closing(dst, len(f.Also))
	dst = appendText(append(dst, `,"reason":`...), f.Reason)
	dst = appendOptional(dst, `,"remedy":`, f.Remedy)
	for i, m := range f.Members {
		dst = appendText(append(dst, opening(i, `,"pointers":[`)...), pointerInBody(m))
	}
	dst = closing(dst, len(f.Members))
	dst = appendCitation(append(dst, `,"source":`...), f.Source)
	return append(dst, '}')
}

// opening is what stands before the element i of a list.
func opening(i int, first string) string {
	if i == 0 {
		return first
	}
	return ","
}

// closing ends a list that has been opened.
func closing(dst []byte, elements int) []byte {
	if elements == 0 {
		return dst
	}
	return append(dst, ']')
}

// appendFigure appends an openapi.Figure.
func appendFigure(dst []byte, f finding.Figure) []byte {
	dst = appendShown(append(dst, `{"value":`...), f.Value.Value())
	if !f.Range.High.IsZero() {
		dst = appendShown(append(dst, `,"low":`...), f.Range.Low.Value())
		dst = appendShown(append(dst, `,"high":`...), f.Range.High.Value())
	}
	dst = appendText(append(dst, `,"unit":`...), f.Value.Unit().String())
	dst = appendOptional(dst, `,"agent":`, f.Basis.Agent)
	dst = appendOptional(dst, `,"species":`, f.Basis.Species)
	dst = appendOptional(dst, `,"phase":`, f.Basis.Phase)
	dst = appendOptional(dst, `,"base":`, f.Basis.Base)
	return append(dst, '}')
}

// appendCitation appends an openapi.Citation.
func appendCitation(dst []byte, c source.Citation) []byte {
	dst = appendText(append(dst, `{"title":`...), c.Title)
	if c.Year != 0 {
		dst = strconv.AppendInt(append(dst, `,"year":`...), int64(c.Year), 10)
	}
	dst = appendOptional(dst, `,"section":`, c.Section)
	dst = appendWord(append(dst, `,"trust":`...), c.Trust.String())
	dst = appendOptional(dst, `,"note":`, c.Note)
	return append(dst, '}')
}

// appendWord appends a word of ours, which has nothing to escape.
func appendWord(dst []byte, word string) []byte {
	return append(append(append(dst, '"'), word...), '"')
}

// appendText appends a string.
func appendText(dst []byte, text string) []byte {
	dst, err := jsontext.AppendQuote(dst, text)
	if err != nil {
		panic(err) // all text is valid UTF-8: the contract was held
	}
	return dst
}

// appendOptional appends a member that is absent when it is empty.
func appendOptional(dst []byte, member, text string) []byte {
	if text == "" {
		return dst
	}
	return appendText(append(dst, member...), text)
}

// appendShown appends what [shown] makes of a number: where its digits are the
// text, they are written at once.
func appendShown(dst []byte, v float64) []byte {
	if v >= 1e-4 && v < 99999 {
		return strconv.AppendFloat(dst, v, 'g', shownDigits, 64)
	}
	return appendNumber(dst, shown(v))
}

// appendNumber appends a finite number, without an exponent where people would
// not write one.
func appendNumber(dst []byte, v float64) []byte {
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e21) {
		return strconv.AppendFloat(dst, v, 'e', -1, 64)
	}
	return strconv.AppendFloat(dst, v, 'f', -1, 64)
}
