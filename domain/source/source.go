// Package source holds citations as values, so that every figure taken from
// the world can carry, next to its value, where it was printed and how far
// that reading may be trusted. Answers carry the same citation.
package source

import (
	"strconv"
	"strings"
)

// Trust says how a figure came to be known. The zero value is invalid, so that
// a figure without a statement of trust can't be built by omission.
type Trust int

// The four degrees of trust, from the strongest.
const (
	// Read means that the figure was seen in the named text itself.
	Read Trust = iota + 1
	// ReadSecondary means that the figure was seen quoted in another text; the
	// named text was not opened.
	ReadSecondary
	// Derived means arithmetic from other figures, whose trust it inherits.
	Derived
	// Memory means recalled and not seen. Such a limit can withhold but never
	// pass.
	Memory
)

// String returns the word used on the wire.
func (t Trust) String() string {
	switch t {
	case Read:
		return "read"
	case ReadSecondary:
		return "read-secondary"
	case Derived:
		return "derived"
	case Memory:
		return "memory"
	default:
		return "unstated"
	}
}

// Citation names a text: a regulation, standard, handbook or paper, or common
// practice. Title and Trust are always set.
type Citation struct {
	Title   string // name of the text, with its author or body
	Year    int    // year of the edition, zero when it has none
	Section string // section, table or page
	Trust   Trust
	Note    string // what a reader must know before relying on it
}

// CommonPractice cites the habit of the trade, for facts that no text is known
// for. Its trust is Memory: it can warn, it can't pass anything.
func CommonPractice(note string) Citation {
	return Citation{Title: "Common practice of the trade, no source", Trust: Memory, Note: note}
}

// String prints the citation on one line: title, year, section.
func (c Citation) String() string {
	parts := []string{c.Title}
	if c.Year != 0 {
		parts = append(parts, strconv.Itoa(c.Year))
	}
	if c.Section != "" {
		parts = append(parts, c.Section)
	}
	return strings.Join(parts, ", ")
}
