// Package fault holds the errors that say why no answer could be given. A limit
// that is exceeded is not a fault: it is a finding in an answer.
//
// A fault has a kind, which decides the kind of problem a client is told of, a
// stable code in kebab-case, a detail for people, and the members of the input
// that are at fault, each named by a JSON pointer relative to the value that
// was judged.
package fault

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Kind says what sort of answer is missing. The zero value is invalid.
type Kind int

// The kinds of fault.
const (
	// Malformed input can't be read.
	Malformed Kind = iota + 1
	// Invalid input can be read, but a value or a combination has no meaning.
	Invalid
	// OutsideModel input lies outside the range a model was validated for.
	OutsideModel
	// NoSolution means a sound question whose answer does not exist.
	NoSolution
	// NotFound means an unknown id or key.
	NotFound
	// Conflict means that what is there forbids it.
	Conflict
	// Stale means that what it builds on has changed since it was read.
	Stale
	// Unauthenticated means that nobody knows who asks.
	Unauthenticated
	// Forbidden means that whoever asks may not do that.
	Forbidden
)

// String returns the kind in kebab-case.
func (k Kind) String() string {
	switch k {
	case Malformed:
		return "malformed"
	case Invalid:
		return "invalid"
	case OutsideModel:
		return "outside-model"
	case NoSolution:
		return "no-solution"
	case NotFound:
		return "not-found"
	case Conflict:
		return "conflict"
	case Stale:
		return "stale"
	case Unauthenticated:
		return "unauthenticated"
	case Forbidden:
		return "forbidden"
	default:
		return "unstated"
	}
}

// Violation is one member at fault.
type Violation struct {
	Path   Path   // where, from the judged value down
	Code   string // stable, kebab-case
	Detail string // the value seen, the bound and the unit, for people
}

// Path leads from the judged value to a member: names and indices.
type Path []string

// At returns the path to a member by name, or by index when step is an int.
func At(steps ...any) Path {
	p := make(Path, 0, len(steps))
	for _, s := range steps {
		switch s := s.(type) {
		case string:
			p = append(p, s)
		case int:
			p = append(p, strconv.Itoa(s))
		default:
			p = append(p, fmt.Sprint(s))
		}
	}
	return p
}

// Under returns the path below parent; neither operand is changed.
func (p Path) Under(parent Path) Path {
	return slices.Concat(parent, p)
}

// Pointer returns the path as a JSON pointer in URI fragment form, such as
// "#/parts/0" (RFC 6901, section 6). Bytes that a fragment may not hold
// (RFC 3986, section 3.5) are percent-encoded.
func (p Path) Pointer() string {
	const allowed = "-._!$&'()*+,;=:@?" // besides letters and digits, ~ and / once they are escaped
	var b strings.Builder
	b.WriteByte('#')
	for _, s := range p {
		b.WriteByte('/')
		for _, c := range []byte(s) {
			switch {
			case c == '~':
				b.WriteString("~0")
			case c == '/':
				b.WriteString("~1")
			case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', strings.IndexByte(allowed, c) >= 0:
				b.WriteByte(c)
			default:
				fmt.Fprintf(&b, "%%%02X", c)
			}
		}
	}
	return b.String()
}

// Error is a fault. It satisfies error.
type Error struct {
	Kind       Kind
	Code       string
	Detail     string
	Violations []Violation
}

// Error returns the detail and the members at fault, on one line, for logs.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Code)
	if e.Detail != "" {
		b.WriteString(": " + e.Detail)
	}
	for _, v := range e.Violations {
		fmt.Fprintf(&b, "; %s %s: %s", v.Path.Pointer(), v.Code, v.Detail)
	}
	return b.String()
}

// Collector gathers violations, so that all of them are told at once.
type Collector struct {
	violations []Violation
}

// Add records a violation.
func (c *Collector) Add(path Path, code, format string, args ...any) {
	c.violations = append(c.violations, Violation{Path: path, Code: code, Detail: fmt.Sprintf(format, args...)})
}

// AddError records err at path: the violations of a fault below that path, a
// fault without any as its own code and detail, any other error as code with
// its text. What was wrapped around a fault is for logs and left out. It
// reports whether err was an error.
func (c *Collector) AddError(path Path, code string, err error) bool {
	if err == nil {
		return false
	}
	f, ok := errors.AsType[*Error](err)
	switch {
	case !ok:
		c.Add(path, code, "%s", err.Error())
	case len(f.Violations) == 0:
		c.Add(path, f.Code, "%s", f.Detail)
	}
	if ok {
		for _, v := range f.Violations {
			v.Path = v.Path.Under(path)
			c.violations = append(c.violations, v)
		}
	}
	return true
}

// Err returns an Invalid fault that holds what was collected, or nil.
func (c *Collector) Err(code, detail string) error {
	if len(c.violations) == 0 {
		return nil
	}
	return &Error{Kind: Invalid, Code: code, Detail: detail, Violations: c.violations}
}
