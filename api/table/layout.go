package table

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// Headings that are no path of a member.
const (
	headingFormula = "formula"
	headingRow     = "row"
)

// kind is what a row is.
type kind int

const (
	kindUnknown kind = iota
	kindFormula
	kindPart
	kindAddition
)

// kindNames are the words of the column row.
var kindNames = map[string]kind{"formula": kindFormula, "part": kindPart, "addition": kindAddition}

// lists are the members of a formula whose items have rows of their own.
var lists = map[kind]string{kindPart: "parts", kindAddition: "additions"}

// String returns what a row of the kind is, with its article.
func (k kind) String() string {
	switch k {
	case kindFormula:
		return "a formula"
	case kindPart:
		return "a part"
	case kindAddition:
		return "an addition"
	case kindUnknown:
	}
	return "a row"
}

// memberName is the member of a formula that the column formula is of.
const memberName = "name"

// Layout knows what columns there may be. It does not change, so that any number
// of readers and writers may use it.
type Layout struct {
	roots map[kind]shape
}

// NewLayout makes the layout of the schema Formula of a contract, whose
// references are resolved. It returns an error where there is no such schema, or
// where its parts and additions are no lists of objects.
func NewLayout(contract *openapi3.T) (*Layout, error) {
	if contract.Components == nil || contract.Components.Schemas["Formula"] == nil {
		return nil, errors.New("lay out the table of formulas: the contract has no schema Formula")
	}
	formula := shapeOf(contract.Components.Schemas["Formula"].Value)
	l := &Layout{roots: map[kind]shape{kindFormula: formula}}
	for k, name := range lists {
		items := formula.step(name).step("0")
		if len(items.names()) == 0 {
			return nil, errors.New("lay out the table of formulas: a formula has no list of objects " + name)
		}
		l.roots[k] = items
	}
	return l, nil
}

// shape is what a member may be: the schemas that it may keep, of which a union
// has several.
type shape []*openapi3.Schema

func shapeOf(s *openapi3.Schema) shape {
	if s == nil {
		return nil
	}
	if len(s.OneOf) == 0 {
		return shape{s}
	}
	var all shape
	for _, branch := range s.OneOf {
		all = append(all, shapeOf(branch.Value)...)
	}
	return all
}

// maxIndex is the largest index of a list that says no number of items.
const maxIndex = 999

// step returns the shape of a member by its name, or of an item by its index;
// none where there is no such member.
func (s shape) step(name string) shape {
	var below shape
	for _, schema := range s {
		switch {
		case schema.Type.Is(openapi3.TypeArray) && schema.Items != nil:
			most := maxIndex
			if schema.MaxItems != nil {
				most = int(min(*schema.MaxItems, maxIndex+1)) - 1
			}
			if i, err := strconv.Atoi(name); err == nil && strconv.Itoa(i) == name && i >= 0 && i <= most {
				below = append(below, shapeOf(schema.Items.Value)...)
			}
		case schema.Type.Is(openapi3.TypeObject) && schema.Properties[name] != nil:
			below = append(below, shapeOf(schema.Properties[name].Value)...)
		}
	}
	return below
}

// names returns the names of the members, sorted.
func (s shape) names() []string {
	all := map[string]bool{}
	for _, schema := range s {
		for name := range schema.Properties {
			all[name] = true
		}
	}
	return slices.Sorted(maps.Keys(all))
}

// is tells whether the member may be of one of the types.
func (s shape) is(types ...string) bool {
	return slices.ContainsFunc(s, func(schema *openapi3.Schema) bool {
		return slices.ContainsFunc(types, func(t string) bool { return schema.Type.Is(t) })
	})
}

// column is a column of a table: the members that its cells are of, by what the
// row is.
type column struct {
	heading string
	path    []string
	of      map[kind]shape // empty for formula and row
}

// column returns the column of a heading, or says what is wrong with it.
func (l *Layout) column(heading string) (column, error) {
	c := column{heading: heading}
	if heading == headingFormula || heading == headingRow {
		return c, nil
	}
	c.path = strings.Split(heading, ".")
	c.of = map[kind]shape{}
	for k, root := range l.roots {
		if k == kindFormula && l.own(c.path[0]) {
			continue
		}
		at := root
		for _, name := range c.path {
			at = at.step(name)
		}
		if len(at) > 0 {
			c.of[k] = at
		}
	}
	if len(c.of) == 0 {
		return c, errors.New(l.instead(c.path))
	}
	return c, nil
}

// own tells whether a member of the formula has a column or rows of its own.
func (l *Layout) own(name string) bool {
	return name == memberName || name == lists[kindPart] || name == lists[kindAddition]
}

// instead says what columns there are where a path goes wrong.
func (l *Layout) instead(path []string) string {
	best, where := -1, shape(nil)
	for _, k := range []kind{kindFormula, kindPart, kindAddition} {
		if k == kindFormula && l.own(path[0]) {
			continue
		}
		at := l.roots[k]
		for i, name := range path {
			if i > best {
				best, where = i, at
			}
			if at = at.step(name); len(at) == 0 {
				break
			}
		}
	}
	before := strings.Join(path[:best], ".")
	switch {
	case best == 0:
		return "is not a column here; the columns are " + strings.Join(l.first(), ", ")
	case where.is(openapi3.TypeArray):
		return fmt.Sprintf("is not a column here; behind %s stands the number of an item, from 0: %s.0", before, before)
	case len(where.names()) == 0:
		return fmt.Sprintf("is not a column here; %s has nothing below it", before)
	}
	return fmt.Sprintf("is not a column here; below %s there is %s", before, strings.Join(where.names(), ", "))
}

// first returns the names that a heading may begin with, in the order in which
// columns are written.
func (l *Layout) first() []string {
	all := map[string]bool{headingFormula: true, headingRow: true}
	for k, root := range l.roots {
		for _, name := range root.names() {
			if k != kindFormula || !l.own(name) {
				all[name] = true
			}
		}
	}
	return slices.SortedFunc(maps.Keys(all), inOrder)
}

// usualOrder is the order in which names stand in headings: what a maker reads
// first comes first. Others follow by name, and last the plan.
var usualOrder = []string{
	headingFormula, headingRow, "product", "role", "name", "material", "share_percent", "rate", "cure", "culture", "rehydration_water",
	"brings_none", "key", "assay", "value", "unit", "base", "per",
}

// inOrder compares two headings by the order in which columns are written.
func inOrder(a, b string) int {
	rank := func(name string) int {
		if i := slices.Index(usualOrder, name); i >= 0 {
			return i
		}
		if name == "plan" {
			return len(usualOrder) + 1
		}
		return len(usualOrder)
	}
	return slices.CompareFunc(strings.Split(a, "."), strings.Split(b, "."), func(a, b string) int {
		i, errA := strconv.Atoi(a)
		k, errB := strconv.Atoi(b)
		switch {
		case errA == nil && errB == nil:
			return i - k
		case rank(a) != rank(b):
			return rank(a) - rank(b)
		}
		return strings.Compare(a, b)
	})
}
