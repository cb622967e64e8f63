package contract_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"math"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
)

// pool holds what mutations are made of: the names, texts and numbers at the
// edges of what a document allows, and parts of its examples.
type pool struct {
	names   []string
	texts   []string
	numbers []json.Number
	parts   []any
}

func newPool(tb testing.TB, o *oracle) *pool {
	tb.Helper()
	p := &pool{
		names: []string{"", "x", "Value", "a/b", "a~1b", "ü", "%2F", "\"", "na me"},
		texts: []string{
			"", "a", "ab", "AB", "é", "日本語日本語日本語", "a\u0000b", "\\", "\"", "<&>", "😀😀", strings.Repeat("x", 300),
			"2026-02-28", "2026-02-29", "2024-02-29", "2026-2-1", "2026-13-01", "0000-01-01",
			"2026-01-31T08:30:00Z", "2026-01-31T08:30:00.123456789+23:59", "2026-01-31T8:30:00Z", "2026-01-31T08:30:60Z",
			"2026-01-31T08:30:00,5Z", "2026-01-31t08:30:00z", "2026-01-31T24:00:00Z", "2026-01-31T08:30:00", "2026-01-31T08:30:00+24:00",
			"01890a5d-ac96-774b-bcce-b302099a8057", "01890A5D-AC96-774B-BCCE-B302099A8057", "01890a5d-ac96-974b-bcce-b302099a8057",
			"00000000-0000-0000-0000-000000000000", "{01890a5d-ac96-774b-bcce-b302099a8057}", "01890a5dac96774bbcceb302099a8057",
		},
		numbers: []json.Number{
			"0", "-0", "-1", "1", "2", "0.5", "12.0", "1e2", "1E+2", "12.5", "1e-400", "1e308", "1e999", "-1e999", "0.1",
			"9007199254740991", "9007199254740992", "9007199254740993", "9223372036854775807", "9223372036854775808",
			"100000000000000000000", json.Number(strings.Repeat("1", 300)), json.Number("0." + strings.Repeat("3", 100)),
		},
	}
	seen := make(map[*openapi3.Schema]bool)
	for _, op := range o.contract.Operations() {
		spec := o.spec(op)
		for _, parameter := range slices.Concat(o.doc.Paths.Value(op.Path).Parameters, spec.Parameters) {
			p.addSchema(parameter.Value.Schema, seen)
		}
		for _, mediaType := range jsonTypes(op) {
			p.addSchema(spec.RequestBody.Value.Content[mediaType].Schema, seen)
			for _, body := range o.examples(tb, op, mediaType) {
				for _, spot := range spots(decode(tb, body)) {
					p.parts = append(p.parts, spot.get())
				}
			}
		}
	}
	p.names = unique(p.names)
	p.texts = unique(p.texts)
	p.numbers = unique(p.numbers)
	return p
}

func unique[T ~string](list []T) []T {
	slices.Sort(list)
	return slices.Compact(list)
}

func (p *pool) addSchema(ref *openapi3.SchemaRef, seen map[*openapi3.Schema]bool) {
	if ref == nil || seen[ref.Value] {
		return
	}
	s := ref.Value
	seen[s] = true
	for _, bound := range []*float64{s.Min, s.Max} {
		if bound == nil {
			continue
		}
		for _, x := range []float64{
			*bound, *bound - 1, *bound + 1, math.Nextafter(*bound, math.Inf(1)), math.Nextafter(*bound, math.Inf(-1)),
		} {
			p.numbers = append(p.numbers, json.Number(strconv.FormatFloat(x, 'g', -1, 64)), json.Number(strconv.FormatFloat(x, 'f', -1, 64)))
		}
	}
	for _, value := range s.Enum {
		if text, ok := value.(string); ok {
			p.texts = append(p.texts, text)
		}
	}
	for _, length := range []uint64{s.MinLength, deref(s.MaxLength)} {
		if length > 0 && length < 5000 {
			n := int(length)
			p.texts = append(p.texts, strings.Repeat("a", n-1), strings.Repeat("é", n), strings.Repeat("日", n+1))
		}
	}
	for _, name := range slices.Sorted(maps.Keys(s.Properties)) {
		p.names = append(p.names, name)
		p.addSchema(s.Properties[name], seen)
	}
	p.addSchema(s.Items, seen)
	p.addSchema(s.AdditionalProperties.Schema, seen)
	for _, branch := range s.OneOf {
		p.addSchema(branch, seen)
	}
}

func deref(n *uint64) uint64 {
	if n == nil {
		return 0
	}
	return *n
}

func decode(tb testing.TB, body []byte) any {
	tb.Helper()
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.UseNumber()
	var value any
	if err := dec.Decode(&value); err != nil {
		tb.Fatalf("decode %s: %v", body, err)
	}
	return value
}

// spot is one value of a tree, with how to get at it.
type spot struct {
	get    func() any
	set    func(any)
	remove func()
}

// spots returns every value of a tree, in an order that does not change.
func spots(root any) []spot {
	var out []spot
	var walk func(s spot)
	walk = func(s spot) {
		out = append(out, s)
		switch in := s.get().(type) {
		case map[string]any:
			for _, name := range slices.Sorted(maps.Keys(in)) {
				walk(spot{
					get:    func() any { return in[name] },
					set:    func(v any) { in[name] = v },
					remove: func() { delete(in, name) },
				})
			}
		case []any:
			for i := range in {
				walk(spot{
					get:    func() any { return in[i] },
					set:    func(v any) { in[i] = v },
					remove: func() { s.set(slices.Delete(slices.Clone(in), i, i+1)) },
				})
			}
		}
	}
	walk(spot{get: func() any { return root }, set: func(any) {}, remove: func() {}})
	return out
}

func pick[T any](random *rand.Rand, list []T) T { return list[random.IntN(len(list))] }

// mutate returns a body with a few changes, each of which may or may not break
// it; now and then with none.
func (p *pool) mutate(tb testing.TB, random *rand.Rand, body []byte) []byte {
	tb.Helper()
	root := []any{decode(tb, body)}
	for range random.IntN(4) {
		p.change(random, spot{get: func() any { return root[0] }, set: func(v any) { root[0] = v }, remove: func() {}})
	}
	out, err := json.Marshal(root[0])
	if err != nil {
		tb.Fatal(err)
	}
	if random.IntN(4) == 0 {
		for range 1 + random.IntN(3) {
			out = p.scribble(random, out)
		}
	}
	return out
}

func (p *pool) change(random *rand.Rand, root spot) {
	all := spots(root.get())
	all[0].set = root.set
	s := pick(random, all)
	switch random.IntN(14) {
	case 0:
		s.remove()
	case 1:
		s.set(nil)
	case 2:
		s.set(pick(random, p.texts))
	case 3:
		s.set(pick(random, p.numbers))
	case 4:
		s.set(random.IntN(2) == 0)
	case 5:
		s.set(clone(pick(random, p.parts)))
	case 6:
		s.set([]any{s.get()})
	case 7:
		s.set(map[string]any{pick(random, p.names): s.get()})
	default:
		p.tune(random, s)
	}
}

// tune changes a value into another of the same kind.
func (p *pool) tune(random *rand.Rand, s spot) {
	switch value := s.get().(type) {
	case map[string]any:
		if random.IntN(2) == 0 {
			value[pick(random, p.names)] = clone(pick(random, p.parts))
			return
		}
		for _, name := range slices.Sorted(maps.Keys(value)) { // rename the first
			value[name+"s"] = value[name]
			delete(value, name)
			return
		}
	case []any:
		if len(value) == 0 {
			s.set([]any{clone(pick(random, p.parts))})
			return
		}
		for range pick(random, []int{1, 1, 2, 30}) {
			value = append(value, clone(pick(random, value)))
		}
		s.set(value)
	case string:
		switch random.IntN(3) {
		case 0:
			s.set(value + pick(random, p.texts))
		case 1:
			s.set(strings.ToUpper(value))
		default:
			s.set(pick(random, p.texts))
		}
	case json.Number:
		s.set(pick(random, p.numbers))
	case bool:
		s.set(!value)
	}
}

func clone(value any) any {
	switch value := value.(type) {
	case map[string]any:
		out := make(map[string]any, len(value))
		for name, v := range value {
			out[name] = clone(v)
		}
		return out
	case []any:
		out := make([]any, len(value))
		for i, v := range value {
			out[i] = clone(v)
		}
		return out
	}
	return value
}

// scribble changes the text of a body without a thought for what it says.
func (*pool) scribble(random *rand.Rand, body []byte) []byte {
	if len(body) == 0 {
		return body
	}
	at := random.IntN(len(body))
	to := min(len(body), at+1+random.IntN(20))
	switch random.IntN(8) {
	case 0:
		return body[:at]
	case 1:
		return slices.Concat(body[:at], body[to:])
	case 2:
		return slices.Concat(body[:to], body[at:])
	case 3:
		out := slices.Clone(body)
		out[at] ^= 1 << random.IntN(8)
		return out
	case 4: // say a member again
		if comma := bytes.IndexByte(body[at:], ','); comma >= 0 {
			end := at + comma
			start := bytes.LastIndexAny(body[:end], "{,[")
			return slices.Concat(body[:end], []byte(","), body[start+1:end], body[end:])
		}
	case 5: // write a whole number another way
		if digit := bytes.IndexAny(body[at:], "0123456789"); digit >= 0 {
			end := at + digit + 1
			return slices.Concat(body[:end], []byte(pick(random, []string{".0", "e0", "e1", ".5"})), body[end:])
		}
	case 6:
		return append(slices.Clone(body), pick(random, []string{" ", "\n", "{}", " null", ",", "\x00"})...)
	}
	token := pick(random, []string{
		"\"", "{", "}", "[", "]", ",", ":", " ", "\\", `\u00e9`, `\ud800`, `\ud83d\ude00`, "\x80", "null", "NaN", "-", "+", "1e999", "//", "\ufeff",
	})
	return slices.Concat(body[:at], []byte(token), body[at:])
}

// parameters makes up the parameters of a request.
func (p *pool) parameters(random *rand.Rand, item *openapi3.PathItem, spec *openapi3.Operation) (map[string]string, url.Values, http.Header) {
	path, query, header := make(map[string]string), make(url.Values), make(http.Header)
	add := func(parameter *openapi3.Parameter, values []string) {
		switch parameter.In {
		case openapi3.ParameterInPath:
			path[parameter.Name] = strings.Join(values, ",")
		case openapi3.ParameterInQuery:
			query[parameter.Name] = values
		case openapi3.ParameterInHeader:
			header[http.CanonicalHeaderKey(parameter.Name)] = values
		}
	}
	for _, ref := range slices.Concat(item.Parameters, spec.Parameters) {
		parameter := ref.Value
		if !parameter.Required && random.IntN(2) == 0 || random.IntN(20) == 0 {
			continue
		}
		schema := parameter.Schema.Value
		if !schema.Type.Is(openapi3.TypeArray) {
			values := []string{p.scalar(random, schema)}
			if random.IntN(40) == 0 && parameter.In != openapi3.ParameterInPath {
				values = append(values, p.scalar(random, schema))
			}
			add(parameter, values)
			continue
		}
		var values []string
		for range 1 + random.IntN(4) {
			values = append(values, p.scalar(random, schema.Items.Value))
		}
		if parameter.Explode != nil && !*parameter.Explode {
			values = []string{strings.Join(values, ",")}
		}
		add(parameter, values)
	}
	if random.IntN(10) == 0 {
		query.Add(pick(random, p.names), "1")
	}
	return path, query, header
}

// scalar makes up a text for a parameter, more often good than bad.
func (p *pool) scalar(random *rand.Rand, schema *openapi3.Schema) string {
	if random.IntN(8) == 0 {
		switch random.IntN(4) {
		case 0:
			return pick(random, p.texts)
		case 1:
			return pick(random, p.numbers).String()
		}
		return pick(random, []string{
			"", " 1", "1 ", "+1", "01", "1.", ".5", "0x1p4", "NaN", "Inf", "-inf", "1_000", "1e999", "T", "TRUE", "1", "0", "true", "null", "\xff", "5\xff", "a\nb",
		})
	}
	switch {
	case len(schema.Enum) > 0:
		return pick(random, schema.Enum).(string)
	case schema.Type.Is(openapi3.TypeBoolean):
		return pick(random, []string{"true", "false"})
	case schema.Type.Is(openapi3.TypeInteger):
		low := int64(*schema.Min)
		return strconv.FormatInt(low+random.Int64N(int64(*schema.Max)-low+2), 10)
	case schema.Type.Is(openapi3.TypeNumber):
		return strconv.FormatFloat(random.Float64()*20-2, 'g', -1, 64)
	case schema.Format == "date":
		return pick(random, []string{"2026-01-31", "2026-02-29"})
	case schema.Format == "date-time":
		return pick(random, []string{"2026-01-31T08:30:00Z", "2026-01-31 08:30:00Z"})
	case schema.Format == "uuid":
		return "01890a5d-ac96-774b-bcce-b302099a8057"
	}
	return pick(random, []string{"abc", "W/\"7\"", "b", "ham"})
}
