package contract

import (
	"cmp"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// Contract is an OpenAPI document compiled into checks. It does not change and
// may be used by any number of goroutines.
type Contract struct {
	operations []*Operation
	byRoute    map[route]*Operation
	schemas    map[string]*node // of components, those that a request has
}

type route struct{ method, path string }

// Operation is one operation of the contract with its checks.
type Operation struct {
	// ID is the operationId.
	ID string
	// Method is the HTTP method in capitals.
	Method string
	// Path is the path template as the document writes it, without the server's
	// prefix.
	Path string

	parameters   []parameter
	bodies       map[string]*node
	bodyTypes    []string
	bodyRequired bool
}

// Violation is one thing in a request that the contract does not allow.
type Violation struct {
	// Pointer is the place in the body as a JSON pointer in URI fragment form
	// (#/additions/0/rate); empty for a parameter. Names longer than 64
	// characters are cut.
	Pointer string
	// Parameter is the name of the parameter; empty for a body.
	Parameter string
	// Code is the schema keyword that was broken or one of the package's own
	// codes. It is stable.
	Code string
	// Detail says for people what was seen, shortened, and what is allowed. It
	// continues the sentence that the pointer or the parameter begins.
	Detail string
	// Malformed is true where the request can't be read at all: status 400, not
	// 422. It is true for every parameter.
	Malformed bool
}

// maxViolations is the most violations that one check returns.
const maxViolations = 100

// Operation returns the operation with this method and this path template as
// the document writes it.
func (c *Contract) Operation(method, path string) (*Operation, bool) {
	op, ok := c.byRoute[route{method, path}]
	return op, ok
}

// Operations returns every operation, sorted by path, then by method.
func (c *Contract) Operations() []*Operation {
	return slices.Clone(c.operations)
}

// HasBody tells whether the operation takes a body.
func (o *Operation) HasBody() bool { return len(o.bodyTypes) > 0 }

// BodyRequired tells whether the operation can't do without its body.
func (o *Operation) BodyRequired() bool { return o.bodyRequired }

// BodyTypes returns the media types that the body may have, sorted.
func (o *Operation) BodyTypes() []string { return slices.Clone(o.bodyTypes) }

// CheckBody checks a body, which has to be one JSON value of the schema that the
// operation has for mediaType (parameters of the media type are ignored). For
// application/x-ndjson the body is one line. A body of text/csv is not checked
// here: what its rows say is checked as the JSON that is made of them.
//
// It returns nil for a good body, else at most 100 violations sorted by pointer,
// one for each pointer. A body without bytes is a violation only where one is
// required. CheckBody does not keep the body.
func (o *Operation) CheckBody(mediaType string, body []byte) []Violation {
	if mediaType == mediaTypeCSV && slices.Contains(o.bodyTypes, mediaTypeCSV) {
		return nil
	}
	n := o.body(mediaType)
	if n == nil {
		detail := "is of media type " + quote(mediaType) + ", but there is no body here"
		if o.HasBody() {
			detail = "is of media type " + quote(mediaType) + ", but must be one of: " + list(o.bodyTypes)
		}
		return []Violation{{Pointer: "#", Code: codeMediaType, Detail: detail, Malformed: true}}
	}
	if len(body) == 0 {
		if !o.bodyRequired {
			return nil
		}
		return []Violation{{
			Pointer: "#", Code: codeRequired, Malformed: true,
			Detail: "is empty, but must be a JSON value",
		}}
	}
	return checkValue(n, body)
}

func checkValue(n *node, text []byte) []Violation {
	if n.accepts(text) {
		return nil
	}
	c := checkers.Get().(*checker)
	c.check(n, text)
	found := c.take()
	checkers.Put(c)
	return found
}

// Schema is a schema of the contract by itself, for a value that is no whole
// body.
type Schema struct{ node *node }

// Schema returns a schema of components by its name; false for one that no
// request has.
func (c *Contract) Schema(name string) (Schema, bool) {
	n, ok := c.schemas[name]
	return Schema{n}, ok
}

// Check checks a text, which has to be one JSON value of the schema. It returns
// what [Operation.CheckBody] does for a body.
func (s Schema) Check(text []byte) []Violation { return checkValue(s.node, text) }

func (o *Operation) body(mediaType string) *node {
	if n, ok := o.bodies[mediaType]; ok {
		return n
	}
	bare, _, _ := strings.Cut(mediaType, ";")
	return o.bodies[strings.ToLower(strings.TrimSpace(bare))]
}

// Compile turns a document that was loaded with its references resolved, and
// validated, into checks of requests. The error joins everything in the
// document that would not be checked, each with its place.
func Compile(doc *openapi3.T) (*Contract, error) {
	c := compiler{nodes: make(map[*openapi3.Schema]*node)}
	if !strings.HasPrefix(doc.OpenAPI, "3.0.") {
		c.refuse("#/openapi", "version "+doc.OpenAPI+" is not supported, only 3.0")
	}
	out := &Contract{byRoute: make(map[route]*Operation), schemas: make(map[string]*node)}
	for path, item := range doc.Paths.Map() {
		for method, spec := range item.Operations() {
			op := c.operation(method, path, item, spec)
			out.byRoute[route{method, path}] = op
			out.operations = append(out.operations, op)
		}
	}
	if doc.Components != nil {
		for name, schema := range doc.Components.Schemas {
			if n, ok := c.nodes[schema.Value]; ok {
				out.schemas[name] = n
			}
		}
	}
	c.finish()
	if err := c.err(); err != nil {
		return nil, err
	}
	slices.SortFunc(out.operations, func(a, b *Operation) int {
		return cmp.Or(strings.Compare(a.Path, b.Path), strings.Compare(a.Method, b.Method))
	})
	return out, nil
}
