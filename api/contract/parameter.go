package contract

import (
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/go-json-experiment/json/jsontext"
)

// parameter holds the checks of one parameter.
type parameter struct {
	name     string
	key      string // name as the header map has it
	in       string
	required bool
	explode  bool // an array is repeated, not separated by commas
	node     *node
}

// CheckParameters checks the parameters of a request: path gives the value of a
// parameter of the path, already unescaped; query and header are the request's.
// A query parameter that the operation does not have is a violation, a header
// is not.
//
// It returns nil where all is good, else at most 100 violations sorted by name,
// one for each parameter; each is Malformed.
func (o *Operation) CheckParameters(path func(name string) string, query url.Values, header http.Header) []Violation {
	c := checkers.Get().(*checker)
	known := 0
	for i := range o.parameters {
		p := &o.parameters[i]
		var values []string
		switch p.in {
		case openapi3.ParameterInPath:
			if value := path(p.name); value != "" {
				c.one[0] = value
				values = c.one[:]
			}
		case openapi3.ParameterInQuery:
			values = query[p.name]
			if len(values) > 0 {
				known++
			}
		case openapi3.ParameterInHeader:
			values = header[p.key]
		}
		if code, detail := c.judgeParameter(p, values); code != "" {
			c.add(Violation{Parameter: p.name, Code: code, Detail: detail, Malformed: true})
		}
	}
	if len(query) > known {
		o.checkUnknown(c, query)
	}
	found := c.take()
	checkers.Put(c)
	return found
}

func (o *Operation) checkUnknown(c *checker, query url.Values) {
	var names []string
	for _, p := range o.parameters {
		if p.in == openapi3.ParameterInQuery {
			names = append(names, p.name)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(query)) {
		if slices.Contains(names, name) {
			continue
		}
		detail := "is not known; there are no query parameters here"
		if len(names) > 0 {
			detail = "is not known" + instead(name, names, "the query parameters here are")
		}
		c.add(Violation{Parameter: shorten(name), Code: codeAdditionalParameter, Detail: detail, Malformed: true})
	}
}

// judgeParameter returns the code and the detail of the first violation of a
// parameter, or no code.
func (c *checker) judgeParameter(p *parameter, values []string) (code, detail string) {
	if len(values) == 0 {
		if p.required {
			return codeRequired, "is missing"
		}
		return "", ""
	}
	if p.node.kinds&kindArray == 0 {
		if len(values) > 1 {
			return codeDuplicateParameter, "is given " + strconv.Itoa(len(values)) + " times, but may be given once"
		}
		return c.judgeScalar(p.node, values[0])
	}
	if !p.explode {
		if len(values) > 1 {
			return codeDuplicateParameter, "is given " + strconv.Itoa(len(values)) +
				" times, but may be given once, with commas between its values"
		}
		return c.judgeList(p.node, strings.Count(values[0], ",")+1, strings.SplitSeq(values[0], ","))
	}
	return c.judgeList(p.node, len(values), slices.Values(values))
}

func (c *checker) judgeList(n *node, count int, items func(yield func(string) bool)) (code, detail string) {
	if code, detail := n.judgeItems(count); code != "" {
		return code, detail
	}
	i := 0
	for item := range items {
		i++
		code, detail := c.judgeScalar(n.items, item)
		if code == "" && item == "" && count == 1 {
			code, detail = codeType, "is empty"
		}
		if code != "" {
			return code, "value " + strconv.Itoa(i) + ": " + detail
		}
	}
	return "", ""
}

// judgeScalar checks the text of a parameter, which has no kind of its own, as
// the kind that its schema wants.
func (c *checker) judgeScalar(n *node, value string) (code, detail string) {
	c.scratch = append(c.scratch[:0], value...)
	switch {
	case n.kinds == kindNumber:
		text := jsontext.Value(c.scratch)
		if text.Kind() != jsontext.KindNumber || !text.IsValid() || strings.TrimSpace(value) != value {
			return codeType, "is " + quote(value) + ", but must be " + n.words()
		}
		return n.judgeNumber(c.scratch)
	case n.kinds == kindBoolean:
		if value != "true" && value != "false" {
			return codeType, "is " + quote(value) + ", but must be " + n.words()
		}
		return "", ""
	case !utf8.ValidString(value):
		return codeSyntax, "is not valid UTF-8"
	}
	return n.judgeString(c.scratch)
}
