package table

import (
	"bufio"
	"errors"
	"io"
	"unicode/utf8"
)

const (
	// MaxCell is how many characters a cell may have.
	MaxCell = 1000
	// maxColumns is how many columns a table may have.
	maxColumns = 2000
	// maxLine is how many bytes the cells of one row may have together; of what
	// is beyond nothing is held.
	maxLine = 256 << 10
)

// row is one row of a table as it was read.
type row struct {
	line  int // on which it begins, from 1
	cells []string
	// at is the first cell that can't be read, and what is wrong with it; what is
	// "" where all can.
	at         int
	code, what string
}

func (r *row) blame(at int, code, what string) {
	if r.code == "" {
		r.at, r.code, r.what = at, code, what
	}
}

// blank tells whether there is nothing in a row.
func (r *row) blank() bool {
	for _, cell := range r.cells {
		if trim(cell) != "" {
			return false
		}
	}
	return r.code == ""
}

// lexer splits a text into rows and cells. Unlike encoding/csv it holds a
// bounded part of a row whatever is sent, and goes on behind a row that is
// broken.
type lexer struct {
	in   *bufio.Reader
	line int    // of the next byte, from 1
	text []byte // of the cell that is read
	held int    // bytes of the row
}

func newLexer(r io.Reader) *lexer { return &lexer{in: bufio.NewReader(r), line: 1} }

// next returns the next row; io.EOF behind the last.
func (l *lexer) next() (row, error) {
	if _, err := l.in.Peek(1); err != nil {
		return row{}, err
	}
	r := row{line: l.line}
	l.held = 0
	for {
		ended, err := l.cell(&r)
		if err != nil {
			return row{}, err
		}
		if ended {
			return r, nil
		}
	}
}

// cell reads one cell with the comma or the end of the line behind it, and tells
// whether that ended the row.
func (l *lexer) cell(r *row) (ended bool, err error) {
	l.text = l.text[:0]
	at := len(r.cells)
	first, quoted, closed, long := true, false, false, false
	for {
		b, err := l.in.ReadByte()
		switch {
		case errors.Is(err, io.EOF):
			if quoted && !closed {
				r.blame(at, codeQuote, "begins with a quotation mark, but does not end with one")
			}
			l.take(r, at, long)
			return true, nil
		case err != nil:
			return false, err
		}
		if b == '\n' {
			l.line++
		}
		switch {
		case quoted && !closed && b == '"':
			if next, _ := l.in.Peek(1); len(next) == 1 && next[0] == '"' {
				_, _ = l.in.Discard(1) // was seen just now
				long = !l.hold(b) || long
			} else {
				closed = true
			}
		case quoted && !closed:
			long = !l.hold(b) || long
		case b == ',' || b == '\n':
			l.take(r, at, long)
			return b == '\n', nil
		case b == '\r' && l.lineEnds():
		case first && b == '"':
			quoted = true
		case closed:
			r.blame(at, codeQuote, "goes on behind its closing quotation mark; a quotation mark within a cell is written twice")
			long = !l.hold(b) || long
		case b == '"':
			r.blame(at, codeQuote, "has a quotation mark, but does not begin with one; such a cell stands in quotation marks, and those within are written twice")
			long = !l.hold(b) || long
		default:
			long = !l.hold(b) || long
		}
		first = false
	}
}

// lineEnds tells whether the next byte ends the line.
func (l *lexer) lineEnds() bool {
	next, err := l.in.Peek(1)
	return err != nil || next[0] == '\n'
}

// hold adds a byte to the cell, where there is room.
func (l *lexer) hold(b byte) bool {
	if len(l.text) == MaxCell*utf8.UTFMax || l.held == maxLine {
		return false
	}
	l.text = append(l.text, b)
	l.held++
	return true
}

// take adds the cell that was read to the row.
func (l *lexer) take(r *row, at int, long bool) {
	switch {
	case at >= maxColumns:
		r.blame(at, codeTooLong, "is beyond the 2000 columns that a table may have")
		return
	case long || utf8.RuneCount(l.text) > MaxCell:
		r.blame(at, codeTooLong, "has more than the 1000 characters that a cell may have")
		l.text = l.text[:0]
	case !utf8.Valid(l.text):
		r.blame(at, codeEncoding, "is not UTF-8; save the table as CSV in UTF-8")
		l.text = l.text[:0]
	}
	r.cells = append(r.cells, string(l.text))
}
