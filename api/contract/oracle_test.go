package contract_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/go-cmp/cmp"

	"greenweight/api/contract"
)

// The oracle is kin-openapi's request filter, which is slow and was written by
// others: on the same document it has to accept and refuse the same requests,
// and to find the violations at the same places, save the differences that the
// package comment lists.

const (
	keywordsDocument = "testdata/keywords.yaml"
	serviceDocument  = "../../openapi/openapi.yaml"
)

var mutations = flag.Int("mutations", 1000, "mutated bodies for each operation in the oracle tests; for parameters a quarter of it")

func TestMain(m *testing.M) {
	// One line of an NDJSON body is a JSON value; the filter does not know the
	// media type by itself.
	openapi3filter.RegisterBodyDecoder("application/x-ndjson", openapi3filter.JSONBodyDecoder)
	os.Exit(m.Run())
}

// oracle holds a document compiled by us and as the filter reads it.
type oracle struct {
	doc      *openapi3.T
	contract *contract.Contract
	dir      string
}

func newOracle(tb testing.TB, file string) *oracle {
	tb.Helper()
	loader := openapi3.NewLoader()
	loader.IsExternalRefsAllowed = true
	doc, err := loader.LoadFromFile(file)
	if err != nil {
		tb.Fatalf("load %s: %v", file, err)
	}
	// Whether the examples of answers are right is for the tests of the answers.
	if err := doc.Validate(tb.Context(), openapi3.DisableExamplesValidation()); err != nil {
		tb.Fatalf("validate %s: %v", file, err)
	}
	c, err := contract.Compile(doc)
	if err != nil {
		tb.Fatalf("compile %s: %v", file, err)
	}
	return &oracle{doc: doc, contract: c, dir: filepath.Dir(file)}
}

func (o *oracle) spec(op *contract.Operation) *openapi3.Operation {
	return o.doc.Paths.Value(op.Path).GetOperation(op.Method)
}

// jsonTypes returns the media types of an operation's body that are of JSON; a
// table is checked as the JSON that is made of its rows.
func jsonTypes(op *contract.Operation) []string {
	return slices.DeleteFunc(op.BodyTypes(), func(mediaType string) bool { return mediaType == "text/csv" })
}

// examples returns the request bodies that the document shows for a media type.
func (o *oracle) examples(tb testing.TB, op *contract.Operation, mediaType string) [][]byte {
	tb.Helper()
	content := o.spec(op).RequestBody.Value.Content[mediaType]
	var bodies [][]byte
	add := func(value any) {
		body, err := json.Marshal(value)
		if err != nil {
			tb.Fatalf("%s: %v", op.ID, err)
		}
		bodies = append(bodies, body)
	}
	if content.Example != nil {
		add(content.Example)
	}
	for _, name := range slices.Sorted(maps.Keys(content.Examples)) {
		example := content.Examples[name].Value
		if example.ExternalValue == "" {
			add(example.Value)
			continue
		}
		text, err := os.ReadFile(filepath.Join(o.dir, filepath.FromSlash(example.ExternalValue)))
		if err != nil {
			tb.Fatalf("%s: example %s: %v", op.ID, name, err)
		}
		if mediaType == "application/x-ndjson" {
			bodies = append(bodies, bytes.Split(bytes.TrimSpace(text), []byte("\n"))...)
		} else {
			bodies = append(bodies, text)
		}
	}
	if len(bodies) == 0 {
		tb.Fatalf("%s: no example of a request in %s", op.ID, mediaType)
	}
	return bodies
}

// options make the filter report every violation, leave the request alone, and
// check the format that it has no check for.
func options() *openapi3filter.Options {
	return &openapi3filter.Options{
		MultiError:          true,
		SkipSettingDefaults: true,
		AuthenticationFunc:  openapi3filter.NoopAuthenticationFunc,
		SchemaValidationOptions: []openapi3.SchemaValidationOption{
			openapi3.WithStringFormatValidator("uuid", openapi3.NewRegexpFormatValidator(openapi3.FormatOfStringForUUIDOfRFC9562)),
		},
	}
}

func (o *oracle) input(tb testing.TB, op *contract.Operation) *openapi3filter.RequestValidationInput {
	tb.Helper()
	req, err := http.NewRequestWithContext(tb.Context(), op.Method, "http://localhost/", http.NoBody)
	if err != nil {
		tb.Fatal(err)
	}
	item := o.doc.Paths.Value(op.Path)
	return &openapi3filter.RequestValidationInput{
		Request: req,
		Route:   &routers.Route{Spec: o.doc, Path: op.Path, PathItem: item, Method: op.Method, Operation: o.spec(op)},
		Options: options(),
	}
}

// verdict is what the filter says of a body: the places it finds fault with, and
// those among them that are a choice between schemas, of which it says no more.
type verdict struct {
	refused bool
	places  map[string]bool
	unions  map[string]bool
}

func (o *oracle) judgeBody(tb testing.TB, op *contract.Operation, mediaType string, body []byte) verdict {
	tb.Helper()
	input := o.input(tb, op)
	input.Request.Header.Set("Content-Type", mediaType)
	input.Request.Body = readCloser{bytes.NewReader(body)}
	err := openapi3filter.ValidateRequestBody(tb.Context(), input, o.spec(op).RequestBody.Value)
	v := verdict{refused: err != nil, places: make(map[string]bool), unions: make(map[string]bool)}
	var refusal *openapi3filter.RequestError
	if errors.As(err, &refusal) {
		v.collect(tb, refusal.Err)
	}
	return v
}

type readCloser struct{ *bytes.Reader }

func (readCloser) Close() error { return nil }

func (v verdict) collect(tb testing.TB, err error) {
	tb.Helper()
	switch err := err.(type) { //nolint:errorlint // the errors within are those of branches that are not meant
	case openapi3.MultiError:
		for _, err := range err {
			v.collect(tb, err)
		}
	case *openapi3.SchemaError:
		tokens := err.JSONPointer()
		switch err.SchemaField {
		case "properties": // reported at the object; the name is in the text
			quoted := strings.TrimSuffix(strings.TrimPrefix(err.Reason, "property "), " is unsupported")
			name, err := strconv.Unquote(quoted)
			if err != nil {
				tb.Fatalf("reason %q: %v", quoted, err)
			}
			tokens = append(tokens, name)
		case "oneOf", "discriminator":
			v.unions[place(tokens)] = true
		}
		v.places[place(tokens)] = true
	}
}

// place writes a path so that one is inside of another where it begins with it.
func place(tokens []string) string {
	var b strings.Builder
	for _, token := range tokens {
		b.WriteString(strconv.Quote(token) + "/")
	}
	return b.String()
}

// placeOf reads a pointer of ours.
func placeOf(tb testing.TB, pointer string) string {
	tb.Helper()
	fragment, ok := strings.CutPrefix(pointer, "#")
	if !ok {
		tb.Fatalf("pointer %q is no fragment", pointer)
	}
	text, err := url.PathUnescape(fragment)
	if err != nil || !jsontext.Pointer(text).IsValid() {
		tb.Fatalf("pointer %q is not valid: %v", pointer, err)
	}
	return place(slices.Collect(jsontext.Pointer(text).Tokens()))
}

// tally counts what an oracle test has seen.
type tally struct {
	requests, accepted, refused int
	stricter                    map[string]int // refused by us alone, by reason
	codes                       map[string]int
}

func newTally() *tally {
	return &tally{stricter: make(map[string]int), codes: make(map[string]int)}
}

func (s *tally) String() string {
	return fmt.Sprintf("%d requests: %d accepted by both, %d refused by both, refused by us alone %v; codes %v",
		s.requests, s.accepted, s.refused, s.stricter, s.codes)
}

// compareBody fails the test where the two disagree on a body and no listed
// difference explains it.
func (o *oracle) compareBody(tb testing.TB, op *contract.Operation, mediaType string, body []byte, s *tally) {
	tb.Helper()
	found := op.CheckBody(mediaType, body)
	theirs := o.judgeBody(tb, op, mediaType, body)
	s.requests++
	disagree := func(what string) {
		tb.Helper()
		tb.Fatalf("%s: %s\nbody: %q\nours: %+v\ntheirs: %v", op.ID, what, body, found, slices.Sorted(maps.Keys(theirs.places)))
	}
	for _, v := range found {
		s.codes[v.Code]++
	}
	if i := slices.IndexFunc(found, func(v contract.Violation) bool { return v.Malformed }); i >= 0 {
		// What the filter makes of a body that it can't read, or reads
		// otherwise, can't be compared.
		switch {
		case len(body) > 0 && !unreadable(body, found[i].Code):
			disagree("not malformed")
		case theirs.refused:
			s.refused++
		default:
			s.stricter[found[i].Code]++
		}
		return
	}
	if len(body) > 0 && !json.Valid(body) {
		disagree("not JSON")
	}
	ours := make(map[string]bool)
	stricter := ""
	cut := len(found) >= 100
	for _, v := range found {
		cut = cut || strings.Contains(v.Pointer, "...")
		at := placeOf(tb, v.Pointer)
		for union := range theirs.unions {
			if strings.HasPrefix(at, union) {
				at = union
			}
		}
		if theirs.places[at] {
			ours[at] = true
			continue
		}
		if stricter = difference(tb, body, v); stricter == "" && !cut {
			disagree("only ours has " + v.Pointer)
		}
	}
	switch {
	case len(found) == 0 && theirs.refused:
		disagree("only theirs refuses")
	case len(found) == 0:
		s.accepted++
	case theirs.refused:
		s.refused++
	default:
		s.stricter[stricter]++
	}
	if !cut && len(ours) != len(theirs.places) {
		disagree("other places")
	}
}

var surrogate = regexp.MustCompile(`\\u[dD][89a-fA-F]`)

// unreadable tells by other means than the package's whether a body is malformed
// as the code says.
func unreadable(body []byte, code string) bool {
	if code == "duplicate-member" {
		return !jsontext.Value(body).IsValid() // which refuses duplicates by default
	}
	return !json.Valid(body) || !utf8.Valid(body) || surrogate.Match(body) || depth(body) > 64
}

// depth returns how deep a valid JSON text is nested.
func depth(body []byte) int {
	deepest, now, quoted := 0, 0, false
	for i := 0; i < len(body); i++ {
		switch b := body[i]; {
		case quoted && b == '\\':
			i++
		case b == '"':
			quoted = !quoted
		case quoted:
		case b == '{', b == '[':
			now++
			deepest = max(deepest, now)
		case b == '}', b == ']':
			now--
		}
	}
	return deepest
}

// difference names the listed difference that explains why only we refuse a
// value, or returns nothing.
func difference(tb testing.TB, body []byte, v contract.Violation) string {
	tb.Helper()
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.UseNumber()
	var value any
	if err := dec.Decode(&value); err != nil {
		tb.Fatal(err)
	}
	text, err := url.PathUnescape(v.Pointer[1:])
	if err != nil {
		tb.Fatal(err)
	}
	for token := range jsontext.Pointer(text).Tokens() {
		switch in := value.(type) {
		case map[string]any:
			value = in[token]
		case []any:
			i, err := strconv.Atoi(token)
			if err != nil {
				tb.Fatal(err)
			}
			value = in[i]
		}
	}
	switch value := value.(type) {
	case json.Number:
		switch {
		case v.Code == "type" && len(value) > 256:
			return "long number"
		case v.Code == "type" && strings.ContainsAny(value.String(), ".eE"):
			return "integer with point or exponent"
		}
	case string:
		if v.Code == "format" && strings.Contains(value, ":60") {
			return "leap second"
		}
	}
	return ""
}

// compareParameters fails the test where the two disagree on parameters and no
// listed difference explains it.
func (o *oracle) compareParameters(tb testing.TB, op *contract.Operation, path map[string]string, query url.Values, header http.Header, s *tally) {
	tb.Helper()
	found := op.CheckParameters(func(name string) string { return path[name] }, query, header)
	input := o.input(tb, op)
	input.PathParams = path
	input.QueryParams = query
	input.Request.Header = header
	input.Options.ExcludeRequestBody = true
	theirs := make(map[string]bool)
	var many openapi3.MultiError
	if err := openapi3filter.ValidateRequest(tb.Context(), input); errors.As(err, &many) {
		for _, err := range many {
			var refusal *openapi3filter.RequestError
			if !errors.As(err, &refusal) || refusal.Parameter == nil {
				tb.Fatalf("%s: %v", op.ID, err)
			}
			theirs[refusal.Parameter.Name] = true
		}
	}
	s.requests++
	ours := make(map[string]bool)
	stricter := ""
	for _, v := range found {
		s.codes[v.Code]++
		if theirs[v.Parameter] {
			ours[v.Parameter] = true
			continue
		}
		values := slices.Concat(query[v.Parameter], header[http.CanonicalHeaderKey(v.Parameter)])
		if value, ok := path[v.Parameter]; ok {
			values = []string{value}
		}
		stricter = v.Code
		switch {
		case v.Code == "additional-parameter", v.Code == "duplicate-parameter" && len(values) > 1:
		case v.Code == "syntax" && slices.ContainsFunc(values, func(s string) bool { return !utf8.ValidString(s) }):
		case v.Code == "type" && slices.ContainsFunc(values, oddSpelling(o.schema(op, v.Parameter))):
			stricter = "odd spelling"
		case v.Code == "type" && slices.ContainsFunc(values, func(s string) bool { return len(s) > 256 }):
			stricter = "long number"
		case v.Code == "format" && slices.ContainsFunc(values, func(s string) bool { return strings.Contains(s, ":60") }):
			stricter = "leap second"
		default:
			tb.Fatalf("%s: only ours refuses %+v\npath: %q\nquery: %q\nheader: %q", op.ID, v, path, query, header)
		}
	}
	if !maps.Equal(ours, theirs) {
		// A parameter that is given twice is judged by its first value there.
		tb.Fatalf("%s: other parameters: %s\npath: %q\nquery: %q\nheader: %q", op.ID, cmp.Diff(theirs, ours), path, query, header)
	}
	switch {
	case len(found) == 0:
		s.accepted++
	case len(theirs) > 0:
		s.refused++
	default:
		s.stricter[stricter]++
	}
}

// schema returns the schema of a parameter, or of what an array holds.
func (o *oracle) schema(op *contract.Operation, name string) *openapi3.Schema {
	for _, ref := range slices.Concat(o.spec(op).Parameters, o.doc.Paths.Value(op.Path).Parameters) {
		if ref.Value.Name == name {
			schema := ref.Value.Schema.Value
			if schema.Items != nil {
				return schema.Items.Value
			}
			return schema
		}
	}
	return nil
}

// oddSpelling returns a function that tells whether a value, or one of the
// values between its commas, is a number or boolean that JSON writes otherwise.
func oddSpelling(schema *openapi3.Schema) func(string) bool {
	return func(value string) bool {
		return slices.ContainsFunc(strings.Split(value, ","), func(s string) bool {
			if schema.Type.Is(openapi3.TypeBoolean) {
				_, err := strconv.ParseBool(s)
				return err == nil && s != "true" && s != "false"
			}
			_, err := strconv.ParseFloat(s, 64)
			return err == nil && !json.Valid([]byte(s))
		})
	}
}

// TestOracle mutates the good requests of each operation and compares what both
// say of them.
func TestOracle(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		file  string
		codes []string // that have to come up at least once, so that the test shows something
	}{
		{keywordsDocument, []string{
			"additional-member", "duplicate-member", "enum", "exclusiveMaximum", "exclusiveMinimum", "format", "maxItems",
			"maxLength", "maxProperties", "maximum", "minItems", "minLength", "minProperties", "minimum", "oneOf", "pattern",
			"required", "syntax", "type",
		}},
		{serviceDocument, []string{"additional-member", "duplicate-member", "enum", "maximum", "minimum", "required", "syntax", "type"}},
	} {
		t.Run(tt.file, func(t *testing.T) {
			t.Parallel()
			o := newOracle(t, tt.file)
			pool := newPool(t, o)
			total := newTally()
			for i, op := range o.contract.Operations() {
				for _, mediaType := range jsonTypes(op) {
					random := rand.New(rand.NewPCG(uint64(i), 1)) //nolint:gosec // G404: a test that repeats itself
					examples := o.examples(t, op, mediaType)
					for _, body := range examples {
						if found := op.CheckBody(mediaType, body); found != nil {
							t.Fatalf("%s: the example %s is refused: %+v", op.ID, body, found)
						}
						o.compareBody(t, op, mediaType, body, total)
					}
					for range *mutations {
						body := pool.mutate(t, random, examples[random.IntN(len(examples))])
						o.compareBody(t, op, mediaType, body, total)
					}
				}
			}
			t.Log(total)
			for _, code := range tt.codes {
				if total.codes[code] == 0 {
					t.Errorf("no body has brought up the code %s", code)
				}
			}
			if total.accepted*20 < total.requests || total.refused*4 < total.requests {
				t.Errorf("one-sided: %v", total)
			}
		})
	}
}

// TestOracleParameters gives each operation good and bad parameters at random.
func TestOracleParameters(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		file  string
		codes []string
	}{
		{keywordsDocument, []string{
			"additional-parameter", "duplicate-parameter", "enum", "exclusiveMinimum", "format", "maxItems", "maxLength",
			"maximum", "minLength", "minimum", "pattern", "required", "syntax", "type",
		}},
		{serviceDocument, []string{"additional-parameter"}},
	} {
		t.Run(tt.file, func(t *testing.T) {
			t.Parallel()
			o := newOracle(t, tt.file)
			pool := newPool(t, o)
			total := newTally()
			for i, op := range o.contract.Operations() {
				random := rand.New(rand.NewPCG(uint64(i), 2)) //nolint:gosec // G404: a test that repeats itself
				for range *mutations / 4 {
					path, query, header := pool.parameters(random, o.doc.Paths.Value(op.Path), o.spec(op))
					o.compareParameters(t, op, path, query, header, total)
				}
			}
			t.Log(total)
			for _, code := range tt.codes {
				if total.codes[code] == 0 {
					t.Errorf("no request has brought up the code %s", code)
				}
			}
		})
	}
}

// FuzzBody compares the two on bodies that the fuzzer makes up, for each
// operation of both documents.
func FuzzBody(f *testing.F) {
	type target struct {
		o         *oracle
		op        *contract.Operation
		mediaType string
	}
	var targets []target
	for _, file := range []string{keywordsDocument, serviceDocument} {
		o := newOracle(f, file)
		for _, op := range o.contract.Operations() {
			for _, mediaType := range jsonTypes(op) {
				for _, body := range o.examples(f, op, mediaType) {
					f.Add(len(targets), body)
				}
				targets = append(targets, target{o, op, mediaType})
			}
		}
	}
	for _, body := range []string{
		"", " ", "{", "[[[[", `{"a":1,"a":2}`, "{} {}", "null", "\"\xff\"", `"\ud800"`, "1e999", "NaN", "\ufeff{}",
		strings.Repeat("[", 70), strings.Repeat(`{"below":[`, 40), `{"value":` + strings.Repeat("9", 300) + `}`,
	} {
		f.Add(len(body), []byte(body))
	}
	f.Fuzz(func(t *testing.T, pick int, body []byte) {
		of := targets[uint(pick)%uint(len(targets))]
		of.o.compareBody(t, of.op, of.mediaType, body, newTally())
	})
}
