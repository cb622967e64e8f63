// Package textout prints the reports of the backtests for people: tables and
// paragraphs of readable width.
package textout

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// Printer keeps the first error, so that it is asked for once.
type Printer struct {
	out io.Writer
	err error
}

// New returns a printer that writes to out.
func New(out io.Writer) *Printer { return &Printer{out: out} }

// Err returns the first error of writing.
func (p *Printer) Err() error { return p.err }

// Say prints as fmt.Printf does.
func (p *Printer) Say(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.out, format, args...)
	}
}

// Table prints rows of cells in columns, numbers to the right of a name; a row
// of one empty cell is an empty line.
func (p *Printer) Table(rows [][]string) {
	if p.err != nil {
		return
	}
	const gap = 2
	w := tabwriter.NewWriter(p.out, 0, 0, gap, ' ', tabwriter.AlignRight)
	first := 0
	for _, r := range rows {
		first = max(first, len([]rune(r[0])))
	}
	for _, r := range rows {
		r[0] += strings.Repeat(" ", first-len([]rune(r[0]))) // the writer aligns all columns alike
		if _, p.err = fmt.Fprintln(w, strings.Join(r, "\t")+"\t"); p.err != nil {
			return
		}
	}
	p.err = w.Flush()
}

// Paragraph prints words in lines of readable length, and an empty line.
func (p *Printer) Paragraph(words string) {
	const most = 120
	line := ""
	for word := range strings.FieldsSeq(words) {
		if line != "" && len(line)+1+len(word) > most {
			p.Say("%s\n", line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	p.Say("%s\n\n", line)
}

// InBrackets returns the words in brackets after a space, nothing for none.
func InBrackets(words []string) string {
	if len(words) == 0 {
		return ""
	}
	return " (" + strings.Join(words, ", ") + ")"
}

// Number prints a number that there may be none of.
func Number(format string, v *float64) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf(format, *v)
}
