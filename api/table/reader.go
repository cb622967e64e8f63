package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"greenweight/domain/fault"
)

const (
	// MaxRows is how many rows a formula may have.
	MaxRows = 200
	// MaxFormula is how many bytes a formula may have as JSON.
	MaxFormula = 64 << 10
)

// Codes of what can't be read. Those of a header stand in the fault of
// [NewReader], the others in [Record.Err].
const (
	codeMalformed       = "malformed-table"
	codeInvalid         = "invalid-value"
	codeUnknownColumn   = "unknown-column"
	codeDuplicateColumn = "duplicate-column"
	codeMissingColumn   = "missing-column"
	codeQuote           = "quote"
	codeEncoding        = "encoding"
	codeTooLong         = "too-long"
	codeTooMany         = "too-many-rows"
	codeTooLarge        = "too-large"
	codeRow             = "row"
	codeNoColumn        = "no-column"
	codeNotOfRow        = "not-of-row"
	codeDiffers         = "differs"
	codeGap             = "gap"
	codeApart           = "apart"
)

// Reader reads formulas from a table, one after the other.
type Reader struct {
	lexer   *lexer
	columns []column
	name    int // the column formula
	row     int // the column row; -1 without one
	ahead   *row
	before  names
}

// names remembers on which line a formula of a name began, of the last formulas
// alone: a collection may have any number of them.
type names struct {
	lines map[string]int
	order []string // as a ring
	next  int
}

// mostNames is how many it remembers. A choice of this project: more than a
// spreadsheet of recipes has.
const mostNames = 10_000

func (n *names) add(name string, line int) {
	if n.lines == nil {
		n.lines = map[string]int{}
	}
	if _, known := n.lines[name]; !known {
		if len(n.order) < mostNames {
			n.order = append(n.order, name)
		} else {
			delete(n.lines, n.order[n.next])
			n.order[n.next] = name
			n.next = (n.next + 1) % mostNames
		}
	}
	n.lines[name] = line
}

// NewReader reads the header of a table. It reports fault.Malformed for what is
// no table in UTF-8, and fault.Invalid for a header with columns that there are
// not, or without the column formula; the paths of the violations take the table
// as a list of rows of cells, from 0. An error of r is returned as it is.
func NewReader(r io.Reader, layout *Layout) (*Reader, error) {
	l := newLexer(r)
	if start, _ := l.in.Peek(len(byteOrderMark)); bytes.Equal(start, byteOrderMark) {
		_, _ = l.in.Discard(len(byteOrderMark)) // was seen just now
	} else if len(start) > 1 && (start[0] == 0xFF && start[1] == 0xFE || start[0] == 0xFE && start[1] == 0xFF) {
		return nil, malformed("the table is not in UTF-8 but in UTF-16; save it as CSV in UTF-8")
	}
	header, err := l.next()
	for err == nil && header.blank() {
		header, err = l.next()
	}
	switch {
	case errors.Is(err, io.EOF):
		return nil, malformed("the table is empty; its first row has the headings, such as formula, product, material, share_percent, role, rate.value, rate.unit")
	case err != nil:
		return nil, err
	case header.code != "":
		return nil, malformed(fmt.Sprintf("the header can't be read: column %d %s", header.at+1, header.what))
	}
	reader := &Reader{lexer: l, name: -1, row: -1}
	return reader, reader.readHeader(header, layout)
}

var byteOrderMark = []byte("\uFEFF")

func malformed(detail string) error {
	return &fault.Error{Kind: fault.Malformed, Code: codeMalformed, Detail: detail}
}

func (r *Reader) readHeader(header row, layout *Layout) error {
	var bad fault.Collector
	seen := map[string]int{}
	for i, cell := range header.cells {
		heading := trim(cell)
		at := fault.At(0, i)
		if before, ok := seen[heading]; ok && heading != "" {
			bad.Add(at, codeDuplicateColumn, "column %d, %q, stands already as column %d", i+1, heading, before+1)
		}
		seen[heading] = i
		c := column{}
		if heading != "" {
			var err error
			if c, err = layout.column(heading); err != nil {
				bad.Add(at, codeUnknownColumn, "column %d, %q, %s", i+1, heading, err.Error())
			}
		}
		switch heading {
		case headingFormula:
			r.name = i
		case headingRow:
			r.row = i
		}
		r.columns = append(r.columns, c)
	}
	if r.name < 0 {
		detail := "there is no column formula, which has the name of the formula that a row belongs to"
		for _, other := range []struct{ separator, word string }{{";", "semicolons"}, {"\t", "tabs"}} {
			if len(header.cells) == 1 && strings.Contains(header.cells[0], other.separator) {
				detail = "the columns are separated by " + other.word + "; save the table with commas"
				bad = fault.Collector{}
			}
		}
		bad.Add(fault.At(0), codeMissingColumn, "%s", detail)
	}
	return bad.Err(codeInvalid, "")
}

// Record is one formula of a table.
type Record struct {
	// Apart is the line on which an earlier piece of the formula began, where its
	// rows do not follow each other; 0 for all others. Neither piece is the formula,
	// and Err says so of this one.
	Apart int
	// Line is the line of its first row; the header stands on line 1.
	Line int
	// Name is what stands in the column formula; "" where nothing does.
	Name string
	// Formula is the formula as a JSON object with the members of the contract's
	// schema Formula, which it need not keep; nil where Err is not.
	Formula []byte
	// Err is why the formula can't be read: a fault.Error of kind Invalid, with a
	// violation for each cell at fault. Its paths lead from the formula down; that
	// of a cell that gives no member is row and the line.
	Err error

	cells map[string]Cell // by the path, joined
	rows  map[string]int  // the line of each row of a part or addition, by its path
}

// Cell is a place in a table.
type Cell struct {
	// Line is the line on which the row begins, from 1.
	Line int
	// Column is the heading of the column. It is the one that a missing member
	// would have, where there is no such column.
	Column string
}

// String returns the place for people.
func (c Cell) String() string {
	if c.Column == "" {
		return "line " + strconv.Itoa(c.Line)
	}
	return "line " + strconv.Itoa(c.Line) + ", column " + c.Column
}

// Cell returns the cell that a member of the formula stands in, or would stand
// in: path leads from the formula down, as in the violations of a check of
// Formula. For an object of several cells it is the row that it stands in, with
// the path of the object as the column.
func (r Record) Cell(path fault.Path) Cell {
	if cell, ok := r.cells[key(path)]; ok {
		return cell
	}
	if len(path) > 0 && path[0] == memberName {
		return Cell{r.Line, headingFormula}
	}
	if len(path) > 1 && (path[0] == lists[kindPart] || path[0] == lists[kindAddition]) {
		if line, ok := r.rows[key(path[:2])]; ok {
			return Cell{line, strings.Join(path[2:], ".")}
		}
	}
	for n := len(path); n > 0; n-- { // beside what stands near it
		if line, ok := r.rows[key(path[:n])]; ok {
			return Cell{line, strings.Join(path, ".")}
		}
	}
	return Cell{r.Line, strings.Join(path, ".")}
}

// CellAt is [Record.Cell] for a JSON pointer from the formula down, in its own
// form or in that of a URI fragment (#/parts/0/share_percent).
func (r Record) CellAt(pointer string) Cell {
	pointer = strings.TrimPrefix(pointer, "#")
	if pointer == "" {
		return r.Cell(nil)
	}
	path := fault.Path(strings.Split(strings.TrimPrefix(pointer, "/"), "/"))
	for i, step := range path {
		path[i] = unescapeStep(step)
	}
	return r.Cell(path)
}

var stepEscapes = strings.NewReplacer("~1", "/", "~0", "~")

// unescapeStep undoes the escapes of a step of a pointer, first those of a URI.
func unescapeStep(step string) string {
	var b strings.Builder
	for i := 0; i < len(step); i++ {
		if step[i] == '%' && i+2 < len(step) {
			if c, err := strconv.ParseUint(step[i+1:i+3], 16, 8); err == nil {
				b.WriteByte(byte(c))
				i += 2
				continue
			}
		}
		b.WriteByte(step[i])
	}
	return stepEscapes.Replace(b.String())
}

func key(path []string) string { return strings.Join(path, "\x00") }

// Next returns the next formula; io.EOF behind the last. A name that stood before,
// with other formulas in between, is a piece of a formula that was torn apart, as
// by sorting; only a row that begins a formula says that it is another of that name. A formula that can't be
// read is a Record with Err, and the one behind it can be read. An error of the
// underlying reader is returned as it is.
func (r *Reader) Next() (Record, error) {
	var b *builder
	for {
		next, err := r.nextRow()
		switch {
		case errors.Is(err, io.EOF) && b != nil:
			return b.record(), nil
		case err != nil:
			return Record{}, err
		case next.blank():
			continue
		}
		name, begins := r.belongsTo(next)
		if b == nil {
			b = newBuilder(next.line, name)
			if first, known := r.before.lines[trim(name)]; known && name != "" && !begins {
				b.apart(first)
			}
			r.before.add(trim(name), next.line)
		} else if begins || trim(name) != "" && trim(name) != trim(b.name) {
			r.ahead = &next
			return b.record(), nil
		}
		b.add(r, next)
	}
}

func (r *Reader) nextRow() (row, error) {
	if r.ahead != nil {
		next := *r.ahead
		r.ahead = nil
		return next, nil
	}
	return r.lexer.next()
}

// belongsTo returns the name of the formula that a row is of, and whether the
// row begins one.
func (r *Reader) belongsTo(next row) (name string, begins bool) {
	if r.name < len(next.cells) {
		name = unescape(next.cells[r.name])
	}
	return name, r.row >= 0 && r.row < len(next.cells) && trim(next.cells[r.row]) == headingFormula
}

// headingOf returns what a column is called: its heading, or else its number from
// 1.
func (r *Reader) headingOf(i int) string {
	if i < len(r.columns) && r.columns[i].heading != "" {
		return r.columns[i].heading
	}
	return strconv.Itoa(i + 1)
}

// trim takes the space around a word away.
func trim(text string) string { return strings.Trim(text, " \t\r\n\u00a0") }
