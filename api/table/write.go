package table

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/go-json-experiment/json/jsontext"
)

// Write writes formulas as a table, in their order. Each is a JSON object that
// keeps the contract's schema Formula. The columns are those that the formulas
// need, the same for the same formulas. What [Reader] reads of it are the same
// values. It returns an error, with nothing written, for a formula that can't be
// written so: one that is no JSON object, that has a null or a text of no
// characters, or is larger than a Reader reads. Errors of w are returned as they
// are.
func Write(w io.Writer, layout *Layout, formulas ...[]byte) error {
	headings := map[string]bool{headingFormula: true, headingRow: true, "product": true}
	all := make([][]line, 0, len(formulas))
	for i, formula := range formulas {
		rows, err := linesOf(formula)
		if err != nil {
			return fmt.Errorf("write formula %d as a table: %w", i, err)
		}
		for _, r := range rows {
			for heading := range r.cells {
				headings[heading] = true
			}
		}
		all = append(all, rows)
	}
	columns := slices.SortedFunc(maps.Keys(headings), inOrder)
	if len(columns) > maxColumns {
		return fmt.Errorf("write formulas as a table: they need %d columns, more than %d", len(columns), maxColumns)
	}
	texts := make([][]byte, 0, len(all))
	for i, rows := range all {
		var text bytes.Buffer
		for _, r := range rows {
			r.write(&text, columns)
		}
		if err := holds(layout, columns, text.Bytes(), formulas[i]); err != nil {
			return fmt.Errorf("write formula %d as a table: %w", i, err)
		}
		texts = append(texts, text.Bytes())
	}
	out := bufio.NewWriter(w)
	_, _ = out.Write(header(columns)) // the writer remembers its first error
	for _, text := range texts {
		_, _ = out.Write(text)
	}
	return out.Flush()
}

// line is a row that is written: its cells by heading.
type line struct{ cells map[string]string }

func header(columns []string) []byte {
	var text bytes.Buffer
	line{}.writeCells(&text, columns, func(heading string) string { return heading })
	return text.Bytes()
}

func (l line) write(into *bytes.Buffer, columns []string) {
	l.writeCells(into, columns, func(heading string) string { return l.cells[heading] })
}

func (line) writeCells(into *bytes.Buffer, columns []string, cell func(heading string) string) {
	for i, heading := range columns {
		if i > 0 {
			into.WriteByte(',')
		}
		text := cell(heading)
		if strings.ContainsAny(text, ",\"\r\n") {
			text = `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
		}
		into.WriteString(text)
	}
	into.WriteString("\r\n")
}

// linesOf returns the rows of a formula.
func linesOf(formula []byte) ([]line, error) {
	members, err := flatten(formula)
	if err != nil {
		return nil, err
	}
	first := line{map[string]string{headingRow: headingFormula}}
	var rows []line
	place := map[string]int{}
	name := ""
	for _, m := range members {
		k := kindFormula
		switch m.path[0] {
		case memberName:
			name = m.text
			continue
		case lists[kindPart]:
			k = kindPart
		case lists[kindAddition]:
			k = kindAddition
		}
		if k == kindFormula {
			first.cells[strings.Join(m.path, ".")] = m.text
			continue
		}
		if len(m.path) == 1 { // none of them
			continue
		}
		at := key(m.path[:2])
		i, ok := place[at]
		if !ok {
			i = len(rows)
			place[at] = i
			word := "part"
			if k == kindAddition {
				word = "addition"
			}
			rows = append(rows, line{map[string]string{headingRow: word}})
		}
		if heading := strings.Join(m.path[2:], "."); heading != "" {
			rows[i].cells[heading] = m.text
		}
	}
	rows = slices.Insert(rows, 0, first)
	for _, r := range rows {
		r.cells[headingFormula] = name
	}
	return rows, nil
}

// member is a member of a formula that has no others in it: its path from the
// formula down and what stands in its cell.
type member struct {
	path []string
	text string
}

// errValue is what can't stand in a cell.
var errValue = errors.New("null and a text of no characters can't stand in a cell")

// flatten returns all members of a JSON object, in their order.
func flatten(object []byte) ([]member, error) {
	in := jsontext.NewDecoder(bytes.NewReader(object))
	if in.PeekKind() != '{' {
		return nil, errors.New("it is no JSON object")
	}
	var all []member
	for {
		token, err := in.ReadToken()
		if err != nil {
			return nil, err
		}
		depth := in.StackDepth()
		path := pathOf(in)
		switch token.Kind() {
		case '{', '[':
			if end := in.PeekKind(); end == '}' || end == ']' {
				empty := emptyObject
				if end == ']' {
					empty = emptyList
				}
				if len(path) > 0 {
					all = append(all, member{path, empty})
				}
			}
		case '}', ']':
		case 'n':
			return nil, errValue
		default:
			if kind, length := in.StackIndex(depth); kind == '{' && length%2 == 1 { // the name of a member
				continue
			}
			text := token.String()
			if token.Kind() == '"' {
				if text == "" {
					return nil, errValue
				}
				text = escape(text)
			}
			all = append(all, member{path, text})
		}
		if depth == 0 {
			return all, nil
		}
	}
}

// pathOf returns where a decoder stands.
func pathOf(in *jsontext.Decoder) []string {
	return slices.Collect(in.StackPointer().Tokens())
}

// holds returns an error where reading the rows of a formula would not give the
// formula again.
func holds(layout *Layout, columns []string, rows, formula []byte) error {
	in, err := NewReader(io.MultiReader(bytes.NewReader(header(columns)), bytes.NewReader(rows)), layout)
	if err != nil {
		return err
	}
	record, err := in.Next()
	switch {
	case err != nil:
		return err
	case record.Err != nil:
		return record.Err
	}
	want, got := jsontext.Value(bytes.Clone(formula)), jsontext.Value(record.Formula)
	if err := errors.Join(want.Canonicalize(), got.Canonicalize()); err != nil {
		return err
	}
	if !bytes.Equal(want, got) {
		return errors.New("what stands in its cells would be read as another formula")
	}
	return nil
}
