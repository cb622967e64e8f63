package contract

import (
	"bytes"
	"math/bits"
	"unicode/utf8"
)

// quick is a walk over the text of a value that only wants to know whether all is
// good. It gives up at the first doubt, also where a text is good but unusual (an
// escape in a string, a union, a member that the schema does not name): then the
// checker, which knows everything, looks at it from the beginning.
type quick struct {
	text []byte
	at   int
}

// accepts tells whether the checker would find nothing in a text. When it says
// no, nobody knows.
func (n *node) accepts(text []byte) bool {
	q := quick{text: text}
	return q.value(n, 0) && q.next() == 0 && q.at == len(text)
}

// next passes white space and returns the byte that follows; 0 at the end.
func (q *quick) next() byte {
	for q.at < len(q.text) {
		switch b := q.text[q.at]; b {
		case ' ', '\t', '\r', '\n':
			q.at++
		default:
			return b
		}
	}
	return 0
}

// take passes a byte, if it is the next one.
func (q *quick) take(b byte) bool {
	if q.next() != b {
		return false
	}
	q.at++
	return true
}

func (q *quick) value(n *node, depth int) bool {
	switch b := q.next(); b {
	case '{':
		return n.kinds&kindObject != 0 && n.union == nil && depth < maxDepth && q.object(n, depth+1)
	case '[':
		return n.kinds&kindArray != 0 && depth < maxDepth && q.array(n, depth+1)
	case '"':
		text, ok := q.str()
		return ok && n.kinds&kindString != 0 && n.goodString(text)
	case 't':
		return n.kinds&kindBoolean != 0 && q.word("true")
	case 'f':
		return n.kinds&kindBoolean != 0 && q.word("false")
	case 'n':
		return n.kinds&kindNull != 0 && q.word("null")
	}
	text, ok := q.number()
	if !ok || n.kinds&kindNumber == 0 {
		return false
	}
	code, _ := n.judgeNumber(text)
	return code == ""
}

func (q *quick) word(word string) bool {
	if !bytes.HasPrefix(q.text[q.at:], []byte(word)) {
		return false
	}
	q.at += len(word)
	return true
}

func (q *quick) object(n *node, depth int) bool {
	q.at++ // the brace
	var seen uint64
	if !q.take('}') {
		for {
			if q.next() != '"' {
				return false
			}
			name, ok := q.str()
			if !ok || !q.take(':') {
				return false
			}
			i, ok := n.index[string(name)]
			if !ok || seen&(1<<i) != 0 || !q.value(n.members[i].node, depth) {
				return false
			}
			seen |= 1 << i
			if q.take('}') {
				break
			}
			if !q.take(',') {
				return false
			}
		}
	}
	if n.required&^seen != 0 {
		return false
	}
	count := bits.OnesCount64(seen)
	return count >= n.minMembers && (n.maxMembers == noLimit || count <= n.maxMembers)
}

func (q *quick) array(n *node, depth int) bool {
	q.at++ // the bracket
	count := 0
	if !q.take(']') {
		for {
			if !q.value(n.items, depth) {
				return false
			}
			count++
			if q.take(']') {
				break
			}
			if !q.take(',') {
				return false
			}
		}
	}
	return count >= n.minItems && (n.maxItems == noLimit || count <= n.maxItems)
}

// str passes a string and returns what stands in its quotes. It knows none with
// an escape.
func (q *quick) str() ([]byte, bool) {
	start := q.at + 1
	ascii := true
	for i := start; i < len(q.text); i++ {
		switch b := q.text[i]; {
		case b == '"':
			q.at = i + 1
			text := q.text[start:i]
			return text, ascii || utf8.Valid(text)
		case b == '\\' || b < ' ':
			return nil, false
		case b >= utf8.RuneSelf:
			ascii = false
		}
	}
	return nil, false
}

// number passes a number as JSON writes it (RFC 8259, section 6).
func (q *quick) number() ([]byte, bool) {
	start := q.at
	digits := func() bool {
		from := q.at
		for q.at < len(q.text) && q.text[q.at]-'0' <= 9 {
			q.at++
		}
		return q.at > from
	}
	is := func(b byte) bool { return q.at < len(q.text) && q.text[q.at] == b }
	if is('-') {
		q.at++
	}
	if is('0') {
		q.at++
	} else if !digits() {
		return nil, false
	}
	if is('.') {
		if q.at++; !digits() {
			return nil, false
		}
	}
	if is('e') || is('E') {
		if q.at++; is('+') || is('-') {
			q.at++
		}
		if !digits() {
			return nil, false
		}
	}
	return q.text[start:q.at], true
}

// goodString tells whether judgeString would find nothing.
func (n *node) goodString(text []byte) bool {
	if n.pattern == nil || n.matches == nil {
		code, _ := n.judgeString(text)
		return code == ""
	}
	return n.matches(text) && n.enum == nil && n.format == nil &&
		len(text) >= n.minLength && (n.maxLength == noLimit || len(text) <= n.maxLength)
}

// matchers are the patterns that are matched without regular expressions. Each
// matches ASCII alone, so that bytes are characters.
var matchers = map[string]func([]byte) bool{
	`^[a-z0-9]+(-[a-z0-9]+)*$`: isKebab,
}

// isKebab tells whether a text is words of small letters and digits with hyphens
// between them.
func isKebab(text []byte) bool {
	before := byte('-')
	for _, b := range text {
		word := b >= 'a' && b <= 'z' || b >= '0' && b <= '9'
		if !word && (b != '-' || before == '-') {
			return false
		}
		before = b
	}
	return before != '-'
}
