package api

import (
	"reflect"
	"strconv"
	"strings"
)

// textDecoder reads the text of a T that the contract has been held against, as
// [json.Unmarshal] does, for the many lines of a collection: in one walk over the
// text, whose strings it shares. It gives up at what it does not know, such as an
// escape in a string or a type with a way of its own to be read; then
// [json.Unmarshal] has to read it.
type textDecoder[T any] struct {
	shape  *shape
	text   string
	at     int
	gaveUp bool
}

// shape is a type as the decoder sees it. One that it does not know has no kind.
type shape struct {
	kind    reflect.Kind
	of      reflect.Type   // what a pointer points to, or a list is of
	element *shape         // its shape
	members map[string]int // fields by the name of the wire
	fields  []*shape
}

func newTextDecoder[T any]() *textDecoder[T] {
	return &textDecoder[T]{shape: shapeOf(reflect.TypeFor[T](), map[reflect.Type]*shape{})}
}

// shapeOf returns the shape of a type; a type may hold itself.
func shapeOf(t reflect.Type, known map[reflect.Type]*shape) *shape {
	if s, ok := known[t]; ok {
		return s
	}
	s := new(shape)
	known[t] = s
	for _, own := range []string{"UnmarshalJSON", "UnmarshalJSONFrom", "UnmarshalText"} {
		if _, ok := reflect.PointerTo(t).MethodByName(own); ok {
			return s
		}
	}
	switch t.Kind() { //nolint:exhaustive // the others are left to the library
	case reflect.String, reflect.Float64, reflect.Bool:
	case reflect.Pointer, reflect.Slice:
		s.of, s.element = t.Elem(), shapeOf(t.Elem(), known)
	case reflect.Struct:
		s.members = make(map[string]int, t.NumField())
		for i := range t.NumField() {
			name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
			if name == "" || !t.Field(i).IsExported() {
				return s
			}
			s.members[name] = i
			s.fields = append(s.fields, shapeOf(t.Field(i).Type, known))
		}
	default:
		return s
	}
	s.kind = t.Kind()
	return s
}

// decode returns the value of a text that keeps the contract; false where it
// gives up.
func (d *textDecoder[T]) decode(text []byte) (*T, bool) {
	d.text, d.at, d.gaveUp = string(text), 0, false
	value := new(T)
	d.value(d.shape, reflect.ValueOf(value).Elem())
	return value, !d.gaveUp
}

func (d *textDecoder[T]) value(s *shape, into reflect.Value) {
	switch s.kind { //nolint:exhaustive // shapeOf makes no others
	case reflect.String:
		into.SetString(d.str())
	case reflect.Float64:
		into.SetFloat(d.number())
	case reflect.Bool:
		into.SetBool(d.truth())
	case reflect.Pointer:
		value := reflect.New(s.of)
		d.value(s.element, value.Elem())
		into.Set(value)
	case reflect.Slice:
		d.list(s, into)
	case reflect.Struct:
		for d.open('{'); d.more('}'); {
			i, ok := s.members[d.name()]
			if !ok {
				d.gaveUp = true
				return
			}
			d.value(s.fields[i], into.Field(i))
		}
	default:
		d.gaveUp = true
	}
}

// fewElements is the room that a list begins with.
const fewElements = 8

func (d *textDecoder[T]) list(s *shape, into reflect.Value) {
	n := 0
	for d.open('['); d.more(']'); n++ {
		switch {
		case n == 0:
			into.Grow(fewElements)
		case n == into.Cap():
			into.Grow(n)
		}
		into.SetLen(n + 1)
		d.value(s.element, into.Index(n))
	}
	if n == 0 {
		into.Set(reflect.MakeSlice(into.Type(), 0, 0))
	}
}

// next passes white space and returns the byte that follows; 0 at the end, or
// once the decoder has given up.
func (d *textDecoder[T]) next() byte {
	if d.gaveUp {
		return 0
	}
	for d.at < len(d.text) {
		switch b := d.text[d.at]; b {
		case ' ', '\t', '\r', '\n':
			d.at++
		default:
			return b
		}
	}
	return 0
}

// open passes the bracket that begins an object or a list.
func (d *textDecoder[T]) open(bracket byte) {
	if d.next() != bracket {
		d.gaveUp = true
	}
	d.at++
}

// more tells whether a member or an element follows, and passes the comma before
// it, or the bracket that ends the object or list.
func (d *textDecoder[T]) more(bracket byte) bool {
	switch d.next() {
	case bracket:
		d.at++
		return false
	case ',':
		d.at++
		return true
	case 0:
		d.gaveUp = true
		return false
	}
	return true
}

// name passes the name of a member and the colon.
func (d *textDecoder[T]) name() string {
	name := d.str()
	if d.next() != ':' {
		d.gaveUp = true
	}
	d.at++
	return name
}

// str passes a string without escapes.
func (d *textDecoder[T]) str() string {
	if d.next() != '"' {
		d.gaveUp = true
		return ""
	}
	rest := d.text[d.at+1:]
	end := strings.IndexByte(rest, '"')
	if end < 0 || strings.IndexByte(rest[:end], '\\') >= 0 {
		d.gaveUp = true
		return ""
	}
	d.at += end + 2
	return rest[:end]
}

// number passes a number.
func (d *textDecoder[T]) number() float64 {
	d.next()
	start := d.at
	for d.at < len(d.text) && strings.IndexByte("+-.0123456789Ee", d.text[d.at]) >= 0 {
		d.at++
	}
	v, err := strconv.ParseFloat(d.text[start:d.at], 64)
	if err != nil {
		d.gaveUp = true
	}
	return v
}

// truth passes true or false.
func (d *textDecoder[T]) truth() bool {
	word, is := "true", d.next() == 't'
	if !is {
		word = "false"
	}
	if !d.gaveUp && strings.HasPrefix(d.text[d.at:], word) {
		d.at += len(word)
		return is
	}
	d.gaveUp = true
	return false
}
