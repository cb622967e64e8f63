package table

import (
	"bytes"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/go-json-experiment/json/jsontext"

	"greenweight/domain/fault"
)

// builder puts one formula together.
type builder struct {
	name   string
	bad    fault.Collector
	out    Record
	own    tree            // the members of the formula itself
	items  map[kind][]tree // parts and additions
	rows   int
	bytes  int
	failed bool // more than may be held: nothing more is
}

func newBuilder(line int, name string) *builder {
	return &builder{
		name: name, items: map[kind][]tree{},
		out: Record{Line: line, Name: name, cells: map[string]Cell{}, rows: map[string]int{}},
	}
}

// apart reports that a piece of the formula stood before.
func (b *builder) apart(first int) {
	b.out.Apart = first
	b.blame(b.out.Line, headingFormula, codeApart,
		"rows of one formula must follow each other, and this name stood already on line %d; sort the table by the column formula, or begin another formula of this name with a row %q",
		first, headingFormula)
}

// fail reports what is too large and lets go of all that was held.
func (b *builder) fail(code, format string, args ...any) {
	b.failed = true
	b.bad = fault.Collector{}
	b.bad.Add(nil, code, format, args...)
	b.own, b.items = tree{}, map[kind][]tree{}
	b.out.cells, b.out.rows = map[string]Cell{}, map[string]int{}
}

// blame reports a cell that gives no member.
func (b *builder) blame(line int, heading, code, format string, args ...any) {
	path := fault.At(headingRow, line)
	b.out.cells[key(path)] = Cell{line, heading}
	b.bad.Add(path, code, format, args...)
}

// given is a cell with something in it.
type given struct {
	column column
	text   string
}

// add adds a row.
func (b *builder) add(r *Reader, next row) {
	b.rows++
	switch {
	case b.failed:
		return
	case b.rows > MaxRows:
		b.fail(codeTooMany, "the formula has more than the %d rows that one may have", MaxRows)
		return
	case next.code != "":
		b.blame(next.line, r.headingOf(next.at), next.code, "%s", next.what)
		return
	}
	cells, ok := b.cells(r, next)
	if !ok || b.failed {
		return
	}
	k := b.kindOf(r, next, cells)
	if k == kindUnknown {
		return
	}
	at := fault.Path(nil)
	into := &b.own
	if k != kindFormula {
		at = fault.At(lists[k], len(b.items[k]))
		b.items[k] = append(b.items[k], tree{})
		into = &b.items[k][len(b.items[k])-1]
		b.out.rows[key(at)] = next.line
	}
	for _, c := range cells {
		of, isOwn := c.column.of[k]
		switch {
		case isOwn:
			b.put(into, at, c, of, next.line)
		case c.column.of[kindFormula] != nil:
			b.put(&b.own, nil, c, c.column.of[kindFormula], next.line)
		default:
			b.bad.Add(fault.Path(c.column.path).Under(at), codeNotOfRow, "is not a member of %s", k)
		}
	}
}

// cells returns the cells of a row that have something in them, save those of
// the columns formula and row. It reports those beyond the header.
func (b *builder) cells(r *Reader, next row) (cells []given, ok bool) {
	ok = true
	for i, text := range next.cells {
		if text == "" || i == r.name || i == r.row {
			continue
		}
		if i >= len(r.columns) || r.columns[i].heading == "" {
			if trim(text) != "" {
				b.blame(next.line, r.headingOf(i), codeNoColumn, "has something in it, but no heading above it")
				ok = false
			}
			continue
		}
		if b.bytes += len(text); b.bytes > MaxFormula {
			b.fail(codeTooLarge, "the formula has more than the %d bytes that one may have", MaxFormula)
			return nil, false
		}
		cells = append(cells, given{r.columns[i], text})
	}
	return cells, ok
}

// kindOf returns what a row is: what it says, or else what its cells can only be
// of. Unknown is what it has reported.
func (b *builder) kindOf(r *Reader, next row, cells []given) kind {
	if r.row >= 0 && r.row < len(next.cells) {
		if word := trim(next.cells[r.row]); word != "" {
			k := kindNames[word]
			if k == kindUnknown {
				b.blame(next.line, headingRow, codeRow, "is %q, but must be one of: part, addition, formula", word)
			}
			return k
		}
	}
	part, addition, formula := true, true, true
	for _, c := range cells {
		ofFormula := c.column.of[kindFormula] != nil
		isPart, isAddition := c.column.of[kindPart] != nil, c.column.of[kindAddition] != nil
		part = part && (isPart || ofFormula)
		addition = addition && (isAddition || ofFormula)
		formula = formula && ofFormula && !isPart && !isAddition
	}
	switch {
	case formula:
		return kindFormula
	case part && !addition:
		return kindPart
	case addition && !part:
		return kindAddition
	case part:
		b.blame(next.line, headingRow, codeRow, "does not say whether this is a part or an addition; give it a share_percent or a role")
	default:
		b.blame(next.line, headingRow, codeRow, "has beside it cells of a part and of an addition, but an ingredient is one of them")
	}
	return kindUnknown
}

// put puts a cell into the tree that it belongs to.
func (b *builder) put(into *tree, under fault.Path, c given, of shape, line int) {
	value := valueOf(c.text, of)
	if value == nil {
		return
	}
	path := fault.Path(c.column.path).Under(under)
	before := into.set(c.column.path, value)
	switch {
	case before == nil:
		b.out.cells[key(path)] = Cell{line, c.column.heading}
		for n := len(path) - 1; n > 0; n-- {
			if _, ok := b.out.rows[key(path[:n])]; !ok {
				b.out.rows[key(path[:n])] = line
			}
		}
	case !bytes.Equal(before, value):
		b.bad.Add(path, codeDiffers, "is given again on line %d as %s, which is something else", line, shorten(string(value)))
	}
}

// shorten cuts a text that would be long in a sentence.
func shorten(text string) string {
	const most = 60
	if len(text) <= most {
		return text
	}
	return strings.ToValidUTF8(text[:most], "") + "..."
}

// record returns the formula as it was put together.
func (b *builder) record() Record {
	var text bytes.Buffer
	out := jsontext.NewEncoder(&text)
	w := &writer{out: out, bad: &b.bad}
	w.token(jsontext.BeginObject)
	if b.name != "" {
		w.token(jsontext.String(memberName))
		w.token(jsontext.String(b.name))
	}
	w.members(b.own, nil)
	for _, k := range []kind{kindPart, kindAddition} {
		w.token(jsontext.String(lists[k]))
		w.token(jsontext.BeginArray)
		for i, item := range b.items[k] {
			w.object(item, fault.At(lists[k], i))
		}
		w.token(jsontext.EndArray)
	}
	w.token(jsontext.EndObject)
	formula := bytes.TrimSuffix(text.Bytes(), []byte("\n"))
	if len(formula) > MaxFormula && !b.failed {
		b.fail(codeTooLarge, "the formula has more than the %d bytes that one may have", MaxFormula)
	}
	if w.err != nil { // what was put in are values of JSON, so that this does not happen
		b.bad.Add(nil, codeInvalid, "can't be written as JSON: %s", w.err.Error())
	}
	if b.out.Err = b.bad.Err(codeInvalid, ""); b.out.Err == nil {
		b.out.Formula = formula
	}
	return b.out
}

// tree is an object or list that is put together from its members: a leaf has a
// value, any other node has members by name or index.
type tree struct {
	value   jsontext.Value
	names   []string
	members map[string]*tree
}

// set puts a value at a path; it returns what stood there or in its way.
func (t *tree) set(path []string, value jsontext.Value) jsontext.Value {
	at := t
	for _, name := range path {
		if at.value != nil {
			return at.value
		}
		below := at.members[name]
		if below == nil {
			below = &tree{}
			if at.members == nil {
				at.members = map[string]*tree{}
			}
			at.members[name] = below
			at.names = append(at.names, name)
		}
		at = below
	}
	switch {
	case at.value != nil:
		return at.value
	case len(at.names) > 0:
		return jsontext.Value(`{"":""}`) // something else, whatever it is
	}
	at.value = value
	return nil
}

// isList tells whether the members are the items of a list. No member of the
// contract has a number for a name.
func (t *tree) isList() bool {
	if len(t.names) == 0 {
		return false
	}
	_, err := strconv.Atoi(t.names[0])
	return err == nil
}

// writer writes trees as JSON and remembers the first error.
type writer struct {
	out *jsontext.Encoder
	bad *fault.Collector
	err error
}

func (w *writer) token(t jsontext.Token) {
	if err := w.out.WriteToken(t); err != nil && w.err == nil {
		w.err = err
	}
}

func (w *writer) node(t tree, path fault.Path) {
	switch {
	case t.value != nil:
		if err := w.out.WriteValue(t.value); err != nil && w.err == nil {
			w.err = err
		}
	case t.isList():
		w.token(jsontext.BeginArray)
		for i := range t.names {
			item, ok := t.members[strconv.Itoa(i)]
			if !ok {
				at := fault.At(i).Under(path)
				w.bad.Add(at, codeGap, "is missing, but one with a higher number is given")
				break
			}
			w.node(*item, fault.At(i).Under(path))
		}
		w.token(jsontext.EndArray)
	default:
		w.object(t, path)
	}
}

func (w *writer) object(t tree, path fault.Path) {
	w.token(jsontext.BeginObject)
	w.members(t, path)
	w.token(jsontext.EndObject)
}

func (w *writer) members(t tree, path fault.Path) {
	for _, name := range t.names {
		w.token(jsontext.String(name))
		w.node(*t.members[name], fault.At(name).Under(path))
	}
}

// Values that say that there is an object or a list, but nothing in it.
const (
	emptyObject = "{}"
	emptyList   = "[]"
)

// valueOf returns the value that a cell gives a member of a shape; nil where it
// gives none. What does not fit is returned as a string, for the checks of the
// contract to judge.
func valueOf(text string, of shape) jsontext.Value {
	word := trim(text)
	isText := of.is(openapi3.TypeString)
	switch {
	case word == "" && !isText:
		return nil
	case of.is(openapi3.TypeNumber, openapi3.TypeInteger) && isNumber(word):
		return jsontext.Value(word)
	case of.is(openapi3.TypeBoolean) && (strings.EqualFold(word, "true") || strings.EqualFold(word, "false")):
		return jsontext.Value(strings.ToLower(word))
	case of.is(openapi3.TypeObject) && word == emptyObject, of.is(openapi3.TypeArray) && word == emptyList:
		return jsontext.Value(word)
	}
	if isText {
		text = unescape(text)
	}
	value, err := jsontext.AppendQuote(nil, text)
	if err != nil { // the text was found to be UTF-8
		return nil
	}
	return value
}

// isNumber tells whether a text is a number of JSON.
func isNumber(text string) bool {
	v := jsontext.Value(text)
	return v.Kind() == '0' && v.IsValid() && trim(text) == text
}

// isDangerous tells whether a text would be taken for a calculation, or is one
// that was escaped.
func isDangerous(text string) bool {
	text = strings.TrimLeft(text, "'")
	return text != "" && strings.IndexByte("=+-@\t\r", text[0]) >= 0
}

// escape returns a text as it is written, and unescape undoes it.
func escape(text string) string {
	if isDangerous(text) {
		return "'" + text
	}
	return text
}

func unescape(text string) string {
	if strings.HasPrefix(text, "'") && isDangerous(text) {
		return text[1:]
	}
	return text
}
