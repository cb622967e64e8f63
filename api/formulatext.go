package api

import (
	"reflect"
	"strconv"
	"strings"
)

// textDecoder reads the text of a T that the contract has been held against, as
// [json.Unmarshal] does, for the many lines of a collection: in one walk over the
// text, whose strings it shares, and into memory that the next text uses again. It
// gives up at what it does not know, such as an escape in a string or a type with
// a way of its own to be read; then [json.Unmarshal] has to read it.
type textDecoder[T any] struct {
	shape  *shape
	shapes []*shape // all of them
	value  T
	reader textReader
}

// textReader walks over a text.
type textReader struct {
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

	kept []reflect.Value // pointers or lists of this type that were made
	used int             // how many of them belong to the present value
}

// place returns a pointer or a list for the present value.
func (s *shape) place(another func() reflect.Value) reflect.Value {
	if s.used == len(s.kept) {
		s.kept = append(s.kept, another())
	}
	s.used++
	return s.kept[s.used-1]
}

func newTextDecoder[T any]() *textDecoder[T] {
	known := map[reflect.Type]*shape{}
	d := &textDecoder[T]{shape: shapeOf(reflect.TypeFor[T](), known)}
	for _, s := range known {
		d.shapes = append(d.shapes, s)
	}
	return d
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
	switch t.Kind() {
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

// decode returns the value of a text that keeps the contract, good until the next
// call; false where it gives up.
func (d *textDecoder[T]) decode(text []byte) (*T, bool) {
	for _, s := range d.shapes {
		s.used = 0
	}
	var none T
	d.value, d.reader = none, textReader{text: string(text)}
	d.reader.value(d.shape, reflect.ValueOf(&d.value).Elem())
	return &d.value, !d.reader.gaveUp
}

// value reads a value into a place that has nothing in it.
func (r *textReader) value(s *shape, into reflect.Value) {
	switch s.kind {
	case reflect.String:
		into.SetString(r.str())
	case reflect.Float64:
		into.SetFloat(r.number())
	case reflect.Bool:
		into.SetBool(r.truth())
	case reflect.Pointer:
		value := s.place(func() reflect.Value { return reflect.New(s.of) })
		value.Elem().SetZero()
		r.value(s.element, value.Elem())
		into.Set(value)
	case reflect.Slice:
		list := s.place(func() reflect.Value { return reflect.New(into.Type()).Elem() })
		r.list(s, list)
		into.Set(list)
	case reflect.Struct:
		for r.open('{'); r.more('}'); {
			i, ok := s.members[r.name()]
			if !ok {
				r.gaveUp = true
				return
			}
			r.value(s.fields[i], into.Field(i))
		}
	default:
		r.gaveUp = true
	}
}

// fewElements is the room that a list begins with.
const fewElements = 8

// list reads a list into a slice that may have been used.
func (r *textReader) list(s *shape, into reflect.Value) {
	if into.IsNil() {
		into.Grow(fewElements)
	}
	into.SetLen(0)
	n := 0
	for r.open('['); r.more(']'); n++ {
		if n == into.Cap() {
			into.Grow(n)
		}
		into.SetLen(n + 1)
		element := into.Index(n)
		element.SetZero()
		r.value(s.element, element)
	}
}

// next passes white space and returns the byte that follows; 0 at the end, or
// once the decoder has given up.
func (r *textReader) next() byte {
	if r.gaveUp {
		return 0
	}
	for r.at < len(r.text) {
		switch b := r.text[r.at]; b {
		case ' ', '\t', '\r', '\n':
			r.at++
		default:
			return b
		}
	}
	return 0
}

// open passes the bracket that begins an object or a list.
func (r *textReader) open(bracket byte) {
	if r.next() != bracket {
		r.gaveUp = true
	}
	r.at++
}

// more tells whether a member or an element follows, and passes the comma before
// it, or the bracket that ends the object or list.
func (r *textReader) more(bracket byte) bool {
	switch r.next() {
	case bracket:
		r.at++
		return false
	case ',':
		r.at++
		return true
	case 0:
		r.gaveUp = true
		return false
	}
	return true
}

// name passes the name of a member and the colon.
func (r *textReader) name() string {
	name := r.str()
	if r.next() != ':' {
		r.gaveUp = true
	}
	r.at++
	return name
}

// str passes a string without escapes.
func (r *textReader) str() string {
	if r.next() != '"' {
		r.gaveUp = true
		return ""
	}
	start := r.at + 1
	for i := start; i < len(r.text); i++ {
		switch r.text[i] {
		case '"':
			r.at = i + 1
			return r.text[start:i]
		case '\\':
			r.gaveUp = true
			return ""
		}
	}
	r.gaveUp = true
	return ""
}

// number passes a number.
func (r *textReader) number() float64 {
	r.next()
	start := r.at
	for r.at < len(r.text) && r.text[r.at] != ',' && r.text[r.at] > ' ' && r.text[r.at] != '}' && r.text[r.at] != ']' {
		r.at++
	}
	v, err := strconv.ParseFloat(r.text[start:r.at], 64)
	if err != nil {
		r.gaveUp = true
	}
	return v
}

// truth passes true or false.
func (r *textReader) truth() bool {
	word, is := "true", r.next() == 't'
	if !is {
		word = "false"
	}
	if !r.gaveUp && strings.HasPrefix(r.text[r.at:], word) {
		r.at += len(word)
		return is
	}
	r.gaveUp = true
	return false
}
