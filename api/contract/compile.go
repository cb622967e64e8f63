package contract

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"net/http"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// kinds is a set of kinds of JSON values.
type kinds uint8

const (
	kindObject kinds = 1 << iota
	kindArray
	kindString
	kindNumber
	kindBoolean
	kindNull
)

// node holds the checks of one schema. A schema used in several places is one
// node; a schema that refers to itself makes a cycle.
type node struct {
	kinds kinds
	union *union // for oneOf; then kinds is object, with or without null

	// objects
	members    []member // sorted by name; the position is the bit in required
	index      map[string]int
	required   uint64
	extra      *node // for members that are not named; nil where there may be none
	free       bool  // any member may be there, and none is looked at
	minMembers int
	maxMembers int // noLimit where there is none

	// arrays
	items    *node
	minItems int
	maxItems int // noLimit where there is none

	// strings
	enum      map[string]struct{}
	enumNames []string
	pattern   *regexp.Regexp
	matches   func([]byte) bool // does what pattern does; nil for most
	format    *stringFormat
	minLength int
	maxLength int // noLimit where there is none

	// numbers
	integer bool
	low     bound
	high    bound
}

type member struct {
	name string
	node *node
}

// bound is a limit of a number. An open bound is itself not allowed.
type bound struct {
	value     float64
	set, open bool
}

// union is a choice between objects, by the value of the member tag, or, where
// tag is empty, by the members that the branches require.
type union struct {
	tag      string
	byTag    map[string]*node
	tagNames []string
	branches []*node
}

const (
	noLimit = -1
	// maxMembers is how many named members an object may have: one bit each.
	maxMembers = 64
	// maxBranches is how many branches a oneOf may have.
	maxBranches = 16
	// maxExtra is how many members an object with extra members may allow; they
	// are compared with each other to find duplicates.
	maxExtra = 256
	// maxInteger is the largest bound of an integer, 2^53-1: up to there a
	// float64 tells every integer from the next.
	maxInteger = 1<<53 - 1
)

// compiler collects the nodes and whatever it can't turn into one.
type compiler struct {
	nodes   map[*openapi3.Schema]*node
	later   []func()
	refused map[string]struct{}
}

func (c *compiler) refuse(at, why string) {
	if c.refused == nil {
		c.refused = make(map[string]struct{})
	}
	c.refused[at+": "+why] = struct{}{}
}

// finish runs the checks that need every node.
func (c *compiler) finish() {
	for _, check := range c.later {
		check()
	}
}

func (c *compiler) err() error {
	errs := make([]error, 0, len(c.refused))
	for _, text := range slices.Sorted(maps.Keys(c.refused)) {
		errs = append(errs, errors.New(text))
	}
	return errors.Join(errs...)
}

func (c *compiler) operation(method, path string, item *openapi3.PathItem, spec *openapi3.Operation) *Operation {
	at := "#/paths/" + escape(path) + "/" + strings.ToLower(method)
	op := &Operation{ID: spec.OperationID, Method: method, Path: path, bodies: make(map[string]*node)}
	for i, ref := range item.Parameters {
		if own := spec.Parameters.GetByInAndName(ref.Value.In, ref.Value.Name); own == nil {
			c.parameter(op, fmt.Sprintf("#/paths/%s/parameters/%d", escape(path), i), ref)
		}
	}
	for i, ref := range spec.Parameters {
		c.parameter(op, fmt.Sprintf("%s/parameters/%d", at, i), ref)
	}
	if spec.RequestBody == nil {
		return op
	}
	at += "/requestBody"
	if spec.RequestBody.Ref != "" {
		at = spec.RequestBody.Ref
	}
	body := spec.RequestBody.Value
	op.bodyRequired = body.Required
	if len(body.Content) == 0 {
		c.refuse(at, "a body without content is not checked")
	}
	for mediaType, content := range body.Content {
		at := at + "/content/" + escape(mediaType)
		if mediaType == mediaTypeCSV {
			op.bodyTypes = append(op.bodyTypes, mediaType)
			continue // whoever reads it makes JSON of its rows, to be checked as that
		}
		if !isJSON(mediaType) {
			c.refuse(at, "only bodies of JSON, of JSON lines or of CSV are known")
			continue
		}
		if content.Schema == nil {
			c.refuse(at, "a body without a schema is not checked")
			continue
		}
		op.bodies[mediaType] = c.schema(at+"/schema", content.Schema)
		op.bodyTypes = append(op.bodyTypes, mediaType)
	}
	slices.Sort(op.bodyTypes)
	return op
}

const mediaTypeCSV = "text/csv"

// extensionUnchecked marks an object without members of its own as one that may
// have any: whoever reads it checks it.
const extensionUnchecked = "x-unchecked"

func isJSON(mediaType string) bool {
	return mediaType == "application/json" || mediaType == "application/x-ndjson" ||
		strings.HasPrefix(mediaType, "application/") && strings.HasSuffix(mediaType, "+json")
}

// Fields of a schema and of a parameter that Compile knows. A field that is set
// and not listed, such as one that a later version of the library adds, refuses
// the document.
var (
	schemaFields = map[string]bool{
		"Type": true, "Nullable": true,
		// without an effect on what is allowed in a request
		"Origin": true, "Title": true, "Description": true, "Default": true, "Example": true,
		"ExternalDocs": true, "WriteOnly": true, "Deprecated": true, "XML": true,
	}
	typeFields = map[string][]string{
		openapi3.TypeObject:  {"Required", "Properties", "MinProps", "MaxProps", "AdditionalProperties"},
		openapi3.TypeArray:   {"MinItems", "MaxItems", "Items"},
		openapi3.TypeString:  {"Format", "Enum", "MinLength", "MaxLength", "Pattern"},
		openapi3.TypeNumber:  {"Format", "Min", "Max", "ExclusiveMin", "ExclusiveMax"},
		openapi3.TypeInteger: {"Format", "Min", "Max", "ExclusiveMin", "ExclusiveMax"},
		openapi3.TypeBoolean: {},
		"oneOf":              {"OneOf", "Discriminator"},
	}
	parameterFields = map[string]bool{
		"Name": true, "In": true, "Style": true, "Explode": true, "Required": true, "Schema": true,
		// without an effect on what is allowed in a request
		"Origin": true, "Description": true, "Deprecated": true, "AllowReserved": true,
		"Example": true, "Examples": true,
	}
)

// refuseOthers refuses every field of the struct that is set and neither known
// nor in more.
func (c *compiler) refuseOthers(at, of string, object any, known map[string]bool, more []string) {
	v := reflect.ValueOf(object)
	for i := range v.NumField() {
		field := v.Type().Field(i)
		if field.Name == "Extensions" {
			for name := range v.Field(i).Interface().(map[string]any) {
				if !strings.HasPrefix(name, "x-") {
					c.refuse(at, name+" is not a keyword")
				}
			}
			continue
		}
		if v.Field(i).IsZero() || known[field.Name] || slices.Contains(more, field.Name) {
			continue
		}
		name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
		if name == "" || name == "-" {
			name = field.Name
		}
		c.refuse(at, name+" is not checked for "+of)
	}
}

// schema returns the node of a schema, the same one each time.
func (c *compiler) schema(at string, ref *openapi3.SchemaRef) *node {
	if ref.Ref != "" {
		at = ref.Ref
	}
	if ref.Value == nil {
		c.refuse(at, "the reference is not resolved")
		return &node{}
	}
	n, ok := c.nodes[ref.Value]
	if !ok {
		n = &node{maxMembers: noLimit, maxItems: noLimit, maxLength: noLimit}
		c.nodes[ref.Value] = n
		c.fill(n, at, ref.Value)
	}
	return n
}

func (c *compiler) fill(n *node, at string, s *openapi3.Schema) {
	kind := "oneOf"
	if len(s.OneOf) == 0 {
		if !s.Type.IsSingle() {
			c.refuse(at, "a schema needs one type, or oneOf")
			return
		}
		kind = s.Type.Slice()[0]
	}
	more, ok := typeFields[kind]
	if !ok {
		c.refuse(at, "type "+kind+" is not known")
		return
	}
	c.refuseOthers(at, kind, *s, schemaFields, more)
	if s.Nullable {
		n.kinds |= kindNull
		if len(s.Enum) > 0 {
			c.refuse(at, "enum with nullable is not supported")
		}
	}
	switch kind {
	case "oneOf":
		n.kinds |= kindObject
		c.fillUnion(n, at, s)
	case openapi3.TypeObject:
		n.kinds |= kindObject
		c.fillObject(n, at, s)
	case openapi3.TypeArray:
		n.kinds |= kindArray
		c.fillArray(n, at, s)
	case openapi3.TypeString:
		n.kinds |= kindString
		c.fillString(n, at, s)
	case openapi3.TypeNumber, openapi3.TypeInteger:
		n.kinds |= kindNumber
		n.integer = kind == openapi3.TypeInteger
		c.fillNumber(n, at, s)
	case openapi3.TypeBoolean:
		n.kinds |= kindBoolean
	}
}

func (c *compiler) fillObject(n *node, at string, s *openapi3.Schema) {
	if len(s.Properties) > maxMembers {
		c.refuse(at, fmt.Sprintf("%d members are more than the %d supported", len(s.Properties), maxMembers))
		return
	}
	n.minMembers, n.maxMembers = limits(s.MinProps, s.MaxProps)
	n.index = make(map[string]int, len(s.Properties))
	for i, name := range slices.Sorted(maps.Keys(s.Properties)) {
		n.index[name] = i
		n.members = append(n.members, member{name, c.schema(at+"/properties/"+escape(name), s.Properties[name])})
	}
	for _, name := range s.Required {
		i, ok := n.index[name]
		if !ok {
			c.refuse(at, "required member "+name+" is not among the properties")
			continue
		}
		n.required |= 1 << i
	}
	switch more := s.AdditionalProperties; {
	case more.Schema != nil:
		if n.maxMembers == noLimit || n.maxMembers > maxExtra {
			c.refuse(at, fmt.Sprintf("additionalProperties with a schema needs maxProperties of at most %d", maxExtra))
		}
		n.extra = c.schema(at+"/additionalProperties", more.Schema)
	case s.Extensions[extensionUnchecked] == true && len(s.Properties) == 0 && more.Has != nil && *more.Has:
		n.free = true
	case more.Has == nil || *more.Has:
		c.refuse(at, "an open object is not checked: it needs additionalProperties: false")
	}
}

func (c *compiler) fillArray(n *node, at string, s *openapi3.Schema) {
	n.minItems, n.maxItems = limits(s.MinItems, s.MaxItems)
	if s.Items == nil {
		c.refuse(at, "an array needs items")
		return
	}
	n.items = c.schema(at+"/items", s.Items)
}

// limits returns a lower and an upper count; a count that no request reaches is
// cut.
func limits(low uint64, high *uint64) (atLeast, atMost int) {
	atMost = noLimit
	if high != nil {
		atMost = int(min(*high, math.MaxInt32))
	}
	return int(min(low, math.MaxInt32)), atMost
}

// codePoint is the way a schema writes a code point in a pattern; Go's regexp
// writes it otherwise. The schema validator used as the oracle in the tests
// rewrites it in the same way.
var codePoint = regexp.MustCompile(`\\u([0-9A-F]{4})`)

func (c *compiler) fillString(n *node, at string, s *openapi3.Schema) {
	n.minLength, n.maxLength = limits(s.MinLength, s.MaxLength)
	for _, value := range s.Enum {
		name, ok := value.(string)
		if !ok {
			c.refuse(at, fmt.Sprintf("enum of %v, which is not a string, is not supported", value))
			continue
		}
		if n.enum == nil {
			n.enum = make(map[string]struct{}, len(s.Enum))
		}
		n.enum[name] = struct{}{}
		n.enumNames = append(n.enumNames, name)
	}
	if s.Pattern != "" {
		n.matches = matchers[s.Pattern]
		var err error
		if n.pattern, err = regexp.Compile(codePoint.ReplaceAllString(s.Pattern, `\x{$1}`)); err != nil {
			c.refuse(at, "pattern "+s.Pattern+" is not supported: "+err.Error())
		}
	}
	if s.Format != "" {
		if n.format = stringFormats[s.Format]; n.format == nil {
			c.refuse(at, "format "+s.Format+" is not checked for string")
		}
	}
}

func (c *compiler) fillNumber(n *node, at string, s *openapi3.Schema) {
	exclusive := func(keyword string, e openapi3.ExclusiveBound, of *float64) bool {
		if e.Value != nil {
			c.refuse(at, keyword+" as a number belongs to OpenAPI 3.1 and is not checked")
		}
		if e.IsTrue() && of == nil {
			c.refuse(at, keyword+" without its bound is not checked")
		}
		return e.IsTrue()
	}
	n.low.open = exclusive("exclusiveMinimum", s.ExclusiveMin, s.Min)
	n.high.open = exclusive("exclusiveMaximum", s.ExclusiveMax, s.Max)
	if s.Min != nil {
		n.low.value, n.low.set = *s.Min, true
	}
	if s.Max != nil {
		n.high.value, n.high.set = *s.Max, true
	}
	if n.low.set && n.high.set && (n.low.value > n.high.value ||
		n.low.value == n.high.value && (n.low.open || n.high.open)) {
		c.refuse(at, "no number lies between minimum and maximum")
	}
	if !n.integer {
		if s.Format != "double" {
			c.refuse(at, "a number needs format double: read as anything else it loses digits")
		}
		return
	}
	limit := float64(maxInteger)
	switch s.Format {
	case "", "int64":
	case "int32":
		limit = math.MaxInt32
	default:
		c.refuse(at, "format "+s.Format+" is not checked for integer")
	}
	if !n.low.set || !n.high.set {
		c.refuse(at, "an integer needs minimum and maximum")
	}
	if max(math.Abs(n.low.value), math.Abs(n.high.value)) > limit {
		c.refuse(at, fmt.Sprintf("bounds beyond %.0f are not supported", limit))
	}
}

func (c *compiler) fillUnion(n *node, at string, s *openapi3.Schema) {
	u := &union{}
	n.union = u
	if s.Type != nil && !s.Type.Is(openapi3.TypeObject) {
		c.refuse(at, "oneOf is supported for objects only")
	}
	if len(s.OneOf) > maxBranches {
		c.refuse(at, fmt.Sprintf("%d branches are more than the %d supported", len(s.OneOf), maxBranches))
		return
	}
	for i, ref := range s.OneOf {
		u.branches = append(u.branches, c.schema(fmt.Sprintf("%s/oneOf/%d", at, i), ref))
	}
	if s.Discriminator != nil {
		c.fillTags(u, at, s)
	}
	c.later = append(c.later, func() { c.checkUnion(u, at) })
}

func (c *compiler) fillTags(u *union, at string, s *openapi3.Schema) {
	u.tag = s.Discriminator.PropertyName
	if len(s.Discriminator.Mapping) == 0 {
		c.refuse(at, "a discriminator needs a mapping")
	}
	u.byTag = make(map[string]*node)
	reached := make(map[int]bool)
	for _, value := range slices.Sorted(maps.Keys(s.Discriminator.Mapping)) {
		ref := s.Discriminator.Mapping[value].Ref
		if !strings.Contains(ref, "/") { // a bare name of a schema
			ref = "#/components/schemas/" + ref
		}
		i := slices.IndexFunc(s.OneOf, func(branch *openapi3.SchemaRef) bool { return branch.Ref == ref })
		if i < 0 {
			c.refuse(at, "discriminator maps "+value+" to "+ref+", which is no branch")
			continue
		}
		reached[i] = true
		u.byTag[value] = u.branches[i]
		u.tagNames = append(u.tagNames, value)
	}
	for i, branch := range s.OneOf {
		if !reached[i] {
			c.refuse(at, "no discriminator value leads to the branch "+branch.Ref)
		}
	}
}

// checkUnion refuses a union whose branches can't be told apart before they are
// checked. Two closed branches are told apart where one requires a member that
// the other does not have: then no value fits both.
func (c *compiler) checkUnion(u *union, at string) {
	for i, b := range u.branches {
		at := fmt.Sprintf("%s/oneOf/%d", at, i)
		if b.kinds != kindObject || b.union != nil || b.extra != nil {
			c.refuse(at, "a branch has to be a closed object that is not nullable")
			return
		}
		if u.tag == "" {
			continue
		}
		k, ok := b.index[u.tag]
		if !ok || b.required&(1<<k) == 0 || b.members[k].node.kinds != kindString {
			c.refuse(at, "a branch has to require the discriminator "+u.tag+" as a string")
		}
	}
	if u.tag != "" {
		return
	}
	for i, a := range u.branches {
		for k, b := range u.branches[:i] {
			if !a.requiresBeyond(b) && !b.requiresBeyond(a) {
				c.refuse(at, fmt.Sprintf("neither a discriminator nor a required member tells oneOf/%d from oneOf/%d", k, i))
			}
		}
	}
}

// requiresBeyond tells whether n requires a member that other does not have.
func (n *node) requiresBeyond(other *node) bool {
	return slices.ContainsFunc(n.requiredNames(^uint64(0)), func(name string) bool {
		_, ok := other.index[name]
		return !ok
	})
}

// requiredNames returns the names of the required members among those of the
// set.
func (n *node) requiredNames(among uint64) []string {
	var names []string
	for i, m := range n.members {
		if n.required&among&(1<<i) != 0 {
			names = append(names, m.name)
		}
	}
	return names
}

func (c *compiler) parameter(op *Operation, at string, ref *openapi3.ParameterRef) {
	if ref.Ref != "" {
		at = ref.Ref
	}
	spec := ref.Value
	c.refuseOthers(at, "a parameter", *spec, parameterFields, nil)
	p := parameter{name: spec.Name, key: spec.Name, in: spec.In, required: spec.Required}
	if spec.Schema == nil {
		c.refuse(at, "a parameter without a schema is not checked")
		return
	}
	p.node = c.schema(at+"/schema", spec.Schema)
	style := openapi3.SerializationSimple
	switch spec.In {
	case openapi3.ParameterInPath:
	case openapi3.ParameterInQuery:
		style = openapi3.SerializationForm
	case openapi3.ParameterInHeader:
		p.key = http.CanonicalHeaderKey(spec.Name)
		switch p.key {
		case "Accept", "Authorization", "Content-Type":
			c.refuse(at, "a header parameter named "+p.key+" is ignored by OpenAPI 3.0")
		}
	default:
		c.refuse(at, "a parameter in "+spec.In+" is not checked")
		return
	}
	how, err := spec.SerializationMethod()
	if err != nil || how.Style != style {
		c.refuse(at, "style "+spec.Style+" is not supported, only "+style)
		return
	}
	p.explode = how.Explode
	c.later = append(c.later, func() { c.checkParameter(&p, at) })
	op.parameters = append(op.parameters, p)
}

// checkParameter refuses what can't stand in a parameter.
func (c *compiler) checkParameter(p *parameter, at string) {
	const scalars = kindString | kindNumber | kindBoolean
	switch n := p.node; {
	case n.kinds&kindNull != 0:
		c.refuse(at, "a parameter can't be nullable")
	case n.kinds == kindArray && p.in != openapi3.ParameterInQuery:
		c.refuse(at, "an array is supported in the query only")
	case n.kinds == kindArray:
		if n.items != nil && n.items.kinds&^scalars != 0 {
			c.refuse(at, "the items of an array have to be scalars that are not nullable")
		}
	case n.kinds&^scalars != 0:
		c.refuse(at, "an object is not supported in a parameter")
	}
}
