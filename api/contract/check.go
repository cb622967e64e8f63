package contract

import (
	"bytes"
	"cmp"
	"errors"
	"io"
	"math/bits"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

// Codes; the others are words of the schema language.
const (
	codeType                = "type"
	codeSyntax              = "syntax"
	codeDuplicateMember     = "duplicate-member"
	codeAdditionalMember    = "additional-member"
	codeDuplicateParameter  = "duplicate-parameter"
	codeAdditionalParameter = "additional-parameter"
	codeMediaType           = "media-type"
	codeRequired            = "required"
	codeEnum                = "enum"
	codeOneOf               = "oneOf"
)

const (
	// maxDepth is how deep a body may be nested.
	maxDepth = 64
	// maxNumber is how many characters a number may have.
	maxNumber = 256
	// maxScratch is the largest buffer that a checker keeps for later checks.
	maxScratch = 64 << 10
)

// checkers keeps idle checkers, so that a good request allocates nothing.
var checkers = sync.Pool{New: func() any { return new(checker) }}

// checker is the state of one check.
type checker struct {
	readers   []*reader
	open      int    // how many of readers are in use
	path      []step // one for each object or array that the walk is inside of
	extras    [][]byte
	scratch   []byte
	one       [1]string
	found     []Violation
	malformed bool // whether found holds a Malformed one
}

// reader reads one text. Its decoder reads from src, whose bytes it uses in
// place: text and every value read stay as they are.
type reader struct {
	text []byte
	src  bytes.Buffer
	dec  jsontext.Decoder
}

// step is where the walk stands in an object or array: the name in quotes as it
// stands in the body, or the index.
type step struct {
	name  []byte
	index int
}

// noStep is the index of a step before its first member.
const noStep = -1

// readOptions lets the walk see duplicate members itself, to report each.
var readOptions = []jsontext.Options{jsontext.AllowDuplicateNames(true)}

// read begins to read a text. Each call needs its done.
func (c *checker) read(text []byte) *reader {
	if c.open == len(c.readers) {
		c.readers = append(c.readers, new(reader))
	}
	r := c.readers[c.open]
	c.open++
	r.text = text
	r.src = *bytes.NewBuffer(text)
	r.dec.Reset(&r.src, readOptions...)
	return r
}

// done ends the reading that began last and lets go of its text.
func (c *checker) done() {
	c.open--
	r := c.readers[c.open]
	r.text = nil
	r.src = bytes.Buffer{}
	r.dec.Reset(&r.src)
}

// check checks a whole text, which has to be one value.
func (c *checker) check(n *node, text []byte) {
	c.path = c.path[:0]
	c.extras = c.extras[:0]
	r := c.read(text)
	defer c.done()
	if !c.value(r, n) {
		return
	}
	end := r.dec.InputOffset()
	if _, err := r.dec.ReadToken(); !errors.Is(err, io.EOF) {
		rest := bytes.TrimLeft(text[end:], " \t\r\n")
		c.broken(r, errTrailing, int64(len(text)-len(rest)))
	}
}

// take returns what was found and makes the checker ready for the next use.
func (c *checker) take() []Violation {
	found := c.found
	c.found, c.malformed = nil, false
	c.one[0] = ""
	clear(c.path[:cap(c.path)])
	clear(c.extras[:cap(c.extras)])
	if cap(c.scratch) > maxScratch {
		c.scratch = nil
	}
	if len(found) == 0 {
		return nil
	}
	slices.SortStableFunc(found, func(a, b Violation) int {
		order := cmp.Or(strings.Compare(a.Pointer, b.Pointer), strings.Compare(a.Parameter, b.Parameter))
		switch {
		case order != 0 || a.Malformed == b.Malformed:
			return order
		case a.Malformed: // so that it is the one that is kept
			return -1
		}
		return 1
	})
	return slices.CompactFunc(found, func(a, b Violation) bool {
		return a.Pointer == b.Pointer && a.Parameter == b.Parameter
	})
}

// full tells whether nothing more is kept, save a first Malformed one.
func (c *checker) full() bool { return len(c.found) >= maxViolations }

func (c *checker) add(v Violation) {
	switch last := len(c.found) - 1; {
	case last >= 0 && c.found[last] == v:
		return
	case !c.full():
		c.found = append(c.found, v)
	case v.Malformed && !c.malformed:
		c.found[last] = v
	default:
		return
	}
	c.malformed = c.malformed || v.Malformed
}

// report adds a violation by the value that the walk stands at.
func (c *checker) report(code, detail string) {
	c.add(Violation{Pointer: c.pointer(), Code: code, Detail: detail})
}

// reportCount adds a violation by the object or array that the walk has just
// left. It is found after those within, which must not crowd it out.
func (c *checker) reportCount(code, detail string) {
	if last := len(c.found) - 1; c.full() && !c.found[last].Malformed {
		c.found = c.found[:last]
	}
	c.report(code, detail)
}

// missing reports a member that the object does not have.
func (c *checker) missing(name string) {
	if !c.full() {
		c.add(Violation{Pointer: string(appendName([]byte(c.pointer()), []byte(name))), Code: codeRequired, Detail: "is missing"})
	}
}

var (
	errTrailing = errors.New("there is more text after the JSON value")
	errDeep     = errors.New("more than " + strconv.Itoa(maxDepth) + " objects and arrays are nested in each other")
)

// broken reports that the text can't be read on, and returns false.
func (c *checker) broken(r *reader, err error, offset int64) bool {
	var syntax *jsontext.SyntacticError
	if errors.As(err, &syntax) {
		offset, err = syntax.ByteOffset, syntax.Err
	}
	why := err.Error()
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		offset, why = int64(len(r.text)), "the text ends before the JSON value does"
	}
	c.add(Violation{
		Pointer: c.pointer(), Code: codeSyntax, Malformed: true,
		Detail: "can't be read: " + why + place(r.text, offset),
	})
	return false
}

// value checks the value that comes next. Like every method below that returns
// a bool, it returns false where the text can't be read on.
func (c *checker) value(r *reader, n *node) bool {
	switch kind := r.dec.PeekKind(); kind {
	case jsontext.KindBeginObject:
		if n.kinds&kindObject == 0 {
			return c.wrong(r, n)
		}
		if n.union != nil {
			return c.choose(r, n.union)
		}
		return c.object(r, n)
	case jsontext.KindBeginArray:
		if n.kinds&kindArray == 0 {
			return c.wrong(r, n)
		}
		return c.array(r, n)
	case jsontext.KindNull, jsontext.KindTrue, jsontext.KindFalse:
		if kind == jsontext.KindNull && n.kinds&kindNull == 0 || kind != jsontext.KindNull && n.kinds&kindBoolean == 0 {
			return c.wrong(r, n)
		}
		return c.skip(r)
	case jsontext.KindString:
		if n.kinds&kindString == 0 {
			return c.wrong(r, n)
		}
	case jsontext.KindNumber:
		if n.kinds&kindNumber == 0 {
			return c.wrong(r, n)
		}
	}
	raw, err := r.dec.ReadValue() // for what is no value at all, this gives the error
	if err != nil {
		return c.broken(r, err, r.dec.InputOffset())
	}
	var code, detail string
	if raw[0] == '"' {
		code, detail = n.judgeString(c.unquote(raw))
	} else {
		code, detail = n.judgeNumber(raw)
	}
	if code != "" && !c.full() {
		c.report(code, detail)
	}
	return true
}

// wrong skips a value of a kind that is not allowed, and reports it.
func (c *checker) wrong(r *reader, n *node) bool {
	start := r.dec.InputOffset()
	if !c.skip(r) {
		return false
	}
	if !c.full() {
		c.report(codeType, "is "+c.seen(r.since(start))+", but must be "+n.words())
	}
	return true
}

// seen says for people what a value is.
func (c *checker) seen(raw []byte) string {
	switch raw[0] {
	case '{':
		return "an object"
	case '[':
		return "an array"
	case '"':
		return "the string " + quote(string(c.unquote(raw)))
	case 'n', 't', 'f':
		return string(raw)
	}
	return "the number " + shorten(string(raw))
}

// since returns the value that was read since the offset.
func (r *reader) since(offset int64) []byte {
	return bytes.TrimLeft(r.text[offset:r.dec.InputOffset()], " \t\r\n,:")
}

// unquote returns the text of a string. It is good until the next call.
func (c *checker) unquote(raw []byte) []byte {
	if bytes.IndexByte(raw, '\\') < 0 {
		return raw[1 : len(raw)-1]
	}
	c.scratch, _ = jsontext.AppendUnquote(c.scratch[:0], raw) // the decoder has found it valid
	return c.scratch
}

// skip reads the value that comes next without a look at it.
func (c *checker) skip(r *reader) bool {
	if err := r.pass(maxDepth - len(c.path)); err != nil {
		return c.broken(r, err, r.dec.InputOffset())
	}
	return true
}

// pass reads the value that comes next, in which at most so many objects and
// arrays may be nested.
func (r *reader) pass(levels int) error {
	depth := 0
	for {
		token, err := r.dec.ReadToken()
		if err != nil {
			return err
		}
		switch token.Kind() {
		case jsontext.KindBeginObject, jsontext.KindBeginArray:
			if depth++; depth > levels {
				return errDeep
			}
		case jsontext.KindEndObject, jsontext.KindEndArray:
			depth--
		}
		if depth == 0 {
			return nil
		}
	}
}

// enter reads the beginning of an object or array.
func (c *checker) enter(r *reader) bool {
	if _, err := r.dec.ReadToken(); err != nil {
		return c.broken(r, err, r.dec.InputOffset())
	}
	if len(c.path) == maxDepth {
		return c.broken(r, errDeep, r.dec.InputOffset())
	}
	c.path = append(c.path, step{index: noStep})
	return true
}

// leave reads the end of an object or array.
func (c *checker) leave(r *reader) bool {
	if _, err := r.dec.ReadToken(); err != nil {
		return c.broken(r, err, r.dec.InputOffset())
	}
	c.path = c.path[:len(c.path)-1]
	return true
}

func (c *checker) array(r *reader, n *node) bool {
	if !c.enter(r) {
		return false
	}
	at := len(c.path) - 1
	count := 0
	for r.dec.PeekKind() != jsontext.KindEndArray {
		c.path[at].index = count
		count++
		if !c.value(r, n.items) {
			return false
		}
	}
	if !c.leave(r) {
		return false
	}
	if code, detail := n.judgeItems(count); code != "" {
		c.reportCount(code, detail)
	}
	return true
}

// free reads an object that is not looked into, save for whether it can be read.
func (c *checker) free(r *reader) bool {
	start := r.dec.InputOffset()
	if !c.skip(r) {
		return false
	}
	if !jsontext.Value(r.since(start)).IsValid() { // names twice: the decoder lets them pass
		c.add(Violation{Pointer: c.pointer(), Code: codeDuplicateMember, Detail: "has a member that " + repeated, Malformed: true})
	}
	return true
}

func (c *checker) object(r *reader, n *node) bool {
	if n.free {
		return c.free(r)
	}
	if !c.enter(r) {
		return false
	}
	at := len(c.path) - 1
	firstExtra := len(c.extras)
	var seen uint64
	others := 0
	for r.dec.PeekKind() != jsontext.KindEndObject {
		raw, err := r.dec.ReadValue()
		if err != nil {
			return c.broken(r, err, r.dec.InputOffset())
		}
		c.path[at].name = raw
		name := c.unquote(raw)
		i, ok := n.index[string(name)]
		switch {
		case ok && seen&(1<<i) == 0:
			seen |= 1 << i
			ok = c.value(r, n.members[i].node)
		case ok:
			ok = c.duplicate(r)
		case c.isRepeated(name, firstExtra):
			ok = c.duplicate(r)
		default:
			if others++; others <= maxExtra {
				c.extras = append(c.extras, bytes.Clone(name))
			}
			if n.extra == nil {
				ok = c.additional(r, n, name)
			} else {
				ok = c.value(r, n.extra)
			}
		}
		if !ok {
			return false
		}
	}
	c.extras = c.extras[:firstExtra]
	c.path[at].name = nil
	for absent := n.required &^ seen; absent != 0; absent &= absent - 1 {
		c.missing(n.members[bits.TrailingZeros64(absent)].name)
	}
	if !c.leave(r) {
		return false
	}
	if code, detail := n.judgeMembers(bits.OnesCount64(seen) + others); code != "" {
		c.reportCount(code, detail)
	}
	return true
}

func (c *checker) isRepeated(name []byte, first int) bool {
	return slices.ContainsFunc(c.extras[first:], func(other []byte) bool { return bytes.Equal(name, other) })
}

// repeated is the detail of a duplicate.
const repeated = "is given more than once"

func (c *checker) duplicate(r *reader) bool {
	c.add(Violation{
		Pointer: c.pointer(), Code: codeDuplicateMember, Malformed: true,
		Detail: repeated,
	})
	return c.skip(r)
}

func (c *checker) additional(r *reader, n *node, name []byte) bool {
	if !c.full() {
		names := make([]string, 0, len(n.members))
		for _, m := range n.members {
			names = append(names, m.name)
		}
		c.report(codeAdditionalMember, "is not a member here"+instead(string(name), names, "the members are"))
	}
	return c.skip(r)
}

// choose finds the branch of a union that the object wants to be, by looking
// ahead at its members, and checks the object against it. A text inside of n
// unions is read up to n+1 times: n is what the schemas allow, and 64 at most
// where a union contains itself.
func (c *checker) choose(r *reader, u *union) bool {
	ahead := c.read(bytes.TrimLeft(r.text[r.dec.InputOffset():], " \t\r\n,:"))
	c.path = append(c.path, step{index: noStep})
	var branch *node
	var report func()
	if u.tag != "" {
		branch, report = c.byTag(ahead, u)
	} else {
		branch, report = c.byMembers(ahead, u)
	}
	if report != nil && !c.full() {
		report()
	}
	c.path = c.path[:len(c.path)-1]
	c.done()
	if branch == nil {
		return c.skip(r)
	}
	return c.object(r, branch)
}

// nextName reads the name of the next member; it returns nil where there is none
// or it can't be read.
func (r *reader) nextName() []byte {
	if r.dec.PeekKind() != jsontext.KindString {
		return nil
	}
	name, err := r.dec.ReadValue()
	if err != nil {
		return nil
	}
	return name
}

// byTag returns the branch that the discriminator names. Where it names none,
// it returns what to report, save when the text can't be read: that is for the
// walk to find.
func (c *checker) byTag(r *reader, u *union) (branch *node, report func()) {
	at := len(c.path) - 1
	levels := maxDepth - len(c.path)
	if _, err := r.dec.ReadToken(); err != nil {
		return nil, nil
	}
	for name := r.nextName(); name != nil; name = r.nextName() {
		isTag := string(c.unquote(name)) == u.tag
		if isTag && report != nil { // a second one, which may be a good one
			c.add(Violation{Pointer: c.pointer(), Code: codeDuplicateMember, Detail: repeated, Malformed: true})
			return nil, nil
		}
		start := r.dec.InputOffset()
		if r.pass(levels) != nil {
			return nil, nil
		}
		if !isTag {
			continue
		}
		c.path[at].name = name
		tag := r.since(start)
		if tag[0] == '"' {
			if branch = u.byTag[string(c.unquote(tag))]; branch != nil {
				return branch, nil // the walk finds a second one
			}
			report = func() {
				c.report(codeEnum, "is "+quote(string(c.unquote(tag)))+", but must be one of: "+list(u.tagNames))
			}
		} else {
			report = func() { c.report(codeType, "is "+c.seen(tag)+", but must be one of: "+list(u.tagNames)) }
		}
	}
	switch {
	case r.dec.PeekKind() != jsontext.KindEndObject:
		return nil, nil
	case report == nil:
		report = func() { c.missing(u.tag) }
	}
	return nil, report
}

// byMembers returns the branch that the names of the members fit, or else the
// one that they fit best. Where several fit alike it returns what to report,
// save when the text can't be read: that is for the walk to find.
func (c *checker) byMembers(r *reader, u *union) (branch *node, report func()) {
	var seen [maxBranches]uint64
	var misfits [maxBranches]int
	levels := maxDepth - len(c.path)
	if _, err := r.dec.ReadToken(); err != nil {
		return nil, nil
	}
	for raw := r.nextName(); raw != nil; raw = r.nextName() {
		name := c.unquote(raw)
		for i, branch := range u.branches {
			if k, ok := branch.index[string(name)]; ok {
				seen[i] |= 1 << k
			} else {
				misfits[i]++
			}
		}
		if r.pass(levels) != nil {
			return nil, nil
		}
	}
	if r.dec.PeekKind() != jsontext.KindEndObject {
		return nil, nil
	}
	best, alike := 0, false
	for i, branch := range u.branches {
		misfits[i] += bits.OnesCount64(branch.required &^ seen[i])
		switch {
		case i == 0:
		case misfits[i] < misfits[best]:
			best, alike = i, false
		case misfits[i] == misfits[best]:
			alike = true
		}
	}
	if alike {
		return nil, func() {
			c.report(codeOneOf, "must have exactly one of these sets of members: "+u.words())
		}
	}
	return u.branches[best], nil
}

// judgeMembers checks the number of members of an object.
func (n *node) judgeMembers(count int) (code, detail string) {
	return judgeCount("Properties", "members", count, n.minMembers, n.maxMembers)
}

// judgeItems checks the number of values of an array.
func (n *node) judgeItems(count int) (code, detail string) {
	return judgeCount("Items", "values", count, n.minItems, n.maxItems)
}

func judgeCount(keyword, things string, count, low, high int) (code, detail string) {
	switch {
	case count < low:
		return "min" + keyword, "has " + strconv.Itoa(count) + " " + things + ", but must have at least " + strconv.Itoa(low)
	case high != noLimit && count > high:
		return "max" + keyword, "has " + strconv.Itoa(count) + " " + things + ", but may have at most " + strconv.Itoa(high)
	}
	return "", ""
}

// judgeString checks the text of a string.
func (n *node) judgeString(text []byte) (code, detail string) {
	if n.enum != nil {
		if _, ok := n.enum[string(text)]; !ok {
			return codeEnum, "is " + quote(string(text)) + ", but must be one of: " + list(n.enumNames)
		}
	}
	// A text has at most as many code points as bytes.
	if n.minLength > 0 || n.maxLength != noLimit && len(text) > n.maxLength {
		if code, detail := judgeCount("Length", "characters", utf8.RuneCount(text), n.minLength, n.maxLength); code != "" {
			return code, detail
		}
	}
	if n.pattern != nil && !n.pattern.Match(text) {
		return "pattern", "is " + quote(string(text)) + ", but must match the pattern " + n.pattern.String()
	}
	if n.format != nil && !n.format.ok(text) {
		return "format", "is " + quote(string(text)) + ", but must be " + n.format.words
	}
	return "", ""
}

// judgeNumber checks a number as it is written in JSON.
func (n *node) judgeNumber(text []byte) (code, detail string) {
	if len(text) > maxNumber {
		return codeType, "is a number of " + strconv.Itoa(len(text)) + " characters, but may have at most " + strconv.Itoa(maxNumber)
	}
	if n.integer && bytes.ContainsAny(text, ".eE") {
		return codeType, "is " + shorten(string(text)) + ", but must be " + n.words()
	}
	value, err := strconv.ParseFloat(string(text), 64)
	if err != nil { // the syntax is good, so it is out of range
		return n.judgeHuge(text)
	}
	is := func() string { return "is " + shorten(string(text)) + ", but must be " }
	switch {
	case !n.low.set || value > n.low.value:
	case n.low.open:
		return "exclusiveMinimum", is() + "more than " + decimal(n.low.value)
	case value < n.low.value:
		return "minimum", is() + "at least " + decimal(n.low.value)
	}
	switch {
	case !n.high.set || value < n.high.value:
	case n.high.open:
		return "exclusiveMaximum", is() + "less than " + decimal(n.high.value)
	case value > n.high.value:
		return "maximum", is() + "at most " + decimal(n.high.value)
	}
	return "", ""
}

// judgeHuge says which bound a number breaks that no float64 can hold.
func (n *node) judgeHuge(text []byte) (code, detail string) {
	is := "is " + shorten(string(text)) + ", but must be "
	switch {
	case text[0] == '-' && n.low.set:
		return "minimum", is + "at least " + decimal(n.low.value)
	case text[0] != '-' && n.high.set:
		return "maximum", is + "at most " + decimal(n.high.value)
	}
	return codeType, is + "between -1.7e308 and 1.7e308"
}
