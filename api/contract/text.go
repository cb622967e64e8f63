package contract

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

const (
	// shownLength is how much of a value or a name is shown, in characters.
	shownLength = 64
	// shownNames is how many names of a list are shown.
	shownNames = 24
	// closeEdits is how many edits apart two names may be to be taken for a
	// slip of the pen.
	closeEdits = 2
)

// pointer returns the place that the walk stands at, as a JSON pointer in URI
// fragment form (RFC 6901, section 6).
func (c *checker) pointer() string {
	p := []byte{'#'}
	for _, s := range c.path {
		switch {
		case s.name != nil:
			name, _ := jsontext.AppendUnquote(nil, s.name) // the decoder has found it valid
			p = appendName(p, name)
		case s.index != noStep:
			p = strconv.AppendInt(append(p, '/'), int64(s.index), 10)
		}
	}
	return string(p)
}

// appendName appends a name to a pointer, cut where it is long.
func appendName(p, name []byte) []byte {
	const allowed = "-._~!$&'()*+,;=:@?" // RFC 3986, section 3.5, besides letters, digits, / and %
	p = append(p, '/')
	for _, b := range []byte(shorten(string(name))) {
		switch {
		case b == '~':
			p = append(p, "~0"...)
		case b == '/':
			p = append(p, "~1"...)
		case b >= 'a' && b <= 'z', b >= 'A' && b <= 'Z', b >= '0' && b <= '9', strings.IndexByte(allowed, b) >= 0:
			p = append(p, b)
		default:
			const hex = "0123456789ABCDEF"
			p = append(p, '%', hex[b>>4], hex[b&0xF])
		}
	}
	return p
}

// escape returns a name as one token of a JSON pointer (RFC 6901, section 3).
func escape(name string) string {
	return strings.ReplaceAll(strings.ReplaceAll(name, "~", "~0"), "/", "~1")
}

// shorten cuts a text that is too long to show.
func shorten(text string) string {
	if len(text) <= shownLength {
		return text
	}
	end, count := 0, 0
	for end < len(text) && count < shownLength {
		_, size := utf8.DecodeRuneInString(text[end:])
		end += size
		count++
	}
	if end == len(text) {
		return text
	}
	return text[:end] + "..."
}

// quote returns a text in quotes, cut where it is long, on one line.
func quote(text string) string { return strconv.Quote(shorten(text)) }

// list returns names with commas between them; of many names only the first.
func list(names []string) string {
	if len(names) > shownNames {
		return strings.Join(names[:shownNames], ", ") + " and " + strconv.Itoa(len(names)-shownNames) + " more"
	}
	return strings.Join(names, ", ")
}

// decimal returns a bound as people write it.
func decimal(x float64) string {
	if a := math.Abs(x); a != 0 && (a < 1e-6 || a >= 1e15) {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// words says what kind of value a node wants.
func (n *node) words() string {
	var words []string
	add := func(kind kinds, text string) {
		if n.kinds&kind != 0 {
			words = append(words, text)
		}
	}
	add(kindObject, "an object")
	add(kindArray, "an array")
	add(kindString, "a string")
	if n.integer {
		add(kindNumber, "a whole number, written without point or exponent")
	} else {
		add(kindNumber, "a number")
	}
	add(kindBoolean, "true or false")
	add(kindNull, "null")
	return strings.Join(words, " or ")
}

// words lists what the branches require, for people.
func (u *union) words() string {
	sets := make([]string, 0, len(u.branches))
	for _, b := range u.branches {
		sets = append(sets, "("+strings.Join(b.requiredNames(^uint64(0)), ", ")+")")
	}
	return list(sets)
}

// instead says what name could have been: the one name that it is a slip of, or
// all of them.
func instead(name string, names []string, intro string) string {
	best, edits := "", closeEdits+1
	if len(name) <= shownLength {
		for _, other := range names {
			if n := distance(strings.ToLower(name), strings.ToLower(other)); n < edits && n < len(other)/2+1 {
				best, edits = other, n
			}
		}
	}
	switch {
	case best != "":
		return "; did you mean " + best + "?"
	case len(names) == 0:
		return ""
	}
	return "; " + intro + ": " + list(names)
}

// distance is the number of bytes to insert, delete or replace to make b of a
// (the Levenshtein distance), by the usual recurrence over one row.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for i := range row {
		row[i] = i
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for k := range len(b) {
			replace := diagonal
			if a[i] != b[k] {
				replace++
			}
			diagonal = row[k+1]
			row[k+1] = min(replace, row[k]+1, row[k+1]+1)
		}
	}
	return row[len(b)]
}

// place says where in a text an offset is, for people: line and character, both
// counted from 1; in a text of one line, which may be one of many, the character.
func place(text []byte, offset int64) string {
	before := text[:min(max(offset, 0), int64(len(text)))]
	column := utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:]) + 1
	character := "character " + strconv.Itoa(column) + ")"
	if bytes.IndexByte(text, '\n') < 0 {
		return " (" + character
	}
	return " (line " + strconv.Itoa(bytes.Count(before, []byte{'\n'})+1) + ", " + character
}
