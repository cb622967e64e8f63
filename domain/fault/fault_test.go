package fault_test

import (
	"errors"
	"fmt"
	"net/url"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/fault"
)

func TestKindWords(t *testing.T) {
	t.Parallel()
	for kind, want := range map[fault.Kind]string{
		0: "unstated", fault.Malformed: "malformed", fault.Invalid: "invalid", fault.OutsideModel: "outside-model",
		fault.NoSolution: "no-solution", fault.NotFound: "not-found", fault.Conflict: "conflict", fault.Stale: "stale",
		fault.Unauthenticated: "unauthenticated", fault.Forbidden: "forbidden", fault.Forbidden + 1: "unstated", -1: "unstated",
	} {
		if got := kind.String(); got != want {
			t.Errorf("%d: want %q, got %q", int(kind), want, got)
		}
	}
}

// The rows with odd names are the examples of RFC 6901, section 6.
func TestPointer(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		path fault.Path
		want string
	}{
		{nil, "#"},
		{fault.At(), "#"},
		{fault.At("foo"), "#/foo"},
		{fault.At("foo", 0), "#/foo/0"},
		{fault.At(""), "#/"},
		{fault.At("a/b"), "#/a~1b"},
		{fault.At("c%d"), "#/c%25d"},
		{fault.At("e^f"), "#/e%5Ef"},
		{fault.At("g|h"), "#/g%7Ch"},
		{fault.At(`i\j`), "#/i%5Cj"},
		{fault.At(`k"l`), "#/k%22l"},
		{fault.At(" "), "#/%20"},
		{fault.At("m~n"), "#/m~0n"},
		{fault.At("~1"), "#/~01"}, // the name ~1, which is not that of "/"
		{fault.At("Schweinebäckchen"), "#/Schweineb%C3%A4ckchen"},
		{fault.At("parts", 12, "share_percent"), "#/parts/12/share_percent"},
		{fault.At("rate").Under(fault.At("additions", 3)).Under(fault.At("formula")), "#/formula/additions/3/rate"},
	} {
		if got := row.path.Pointer(); got != row.want {
			t.Errorf("%q: want %s, got %s", row.path, row.want, got)
		}
	}
}

// A pointer read by the rules of RFC 6901 and RFC 3986 gives the path again.
func TestPointerCanBeRead(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		path := rapid.SliceOfN(rapid.String(), 1, 5).Draw(t, "path")
		fragment, found := strings.CutPrefix(fault.Path(path).Pointer(), "#/")
		if !found {
			t.Fatal("no fragment")
		}
		var got []string
		for token := range strings.SplitSeq(fragment, "/") {
			name, err := url.PathUnescape(token)
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, strings.ReplaceAll(strings.ReplaceAll(name, "~1", "/"), "~0", "~"))
		}
		if diff := cmp.Diff(path, got); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	})
}

func TestUnderChangesNeither(t *testing.T) {
	t.Parallel()
	parent := make(fault.Path, 0, 8) // has room that an append would write into
	parent = append(parent, "formula")
	first, second := fault.At("name").Under(parent), fault.At("parts", 0).Under(parent)
	want := []fault.Path{{"formula"}, {"formula", "name"}, {"formula", "parts", "0"}}
	if diff := cmp.Diff(want, []fault.Path{parent, first, second}); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestErrorText(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name string
		err  fault.Error
		want string
	}{
		{"a code", fault.Error{Code: "no-meat"}, "no-meat"},
		{"a detail", fault.Error{Code: "no-meat", Detail: "nothing is left"}, "no-meat: nothing is left"},
		{
			"members", fault.Error{Code: "sum", Detail: "shares", Violations: []fault.Violation{
				{Path: fault.At("parts"), Code: "maximum", Detail: "130 %"}, {Path: nil, Code: "required", Detail: "is missing"},
			}},
			"sum: shares; #/parts maximum: 130 %; # required: is missing",
		},
	} {
		if got := row.err.Error(); got != row.want {
			t.Errorf("%s: want %q, got %q", row.name, row.want, got)
		}
	}
}

func TestCollectorWithoutViolations(t *testing.T) {
	t.Parallel()
	var c fault.Collector
	if c.AddError(fault.At("a"), "code", nil) {
		t.Error("no error was taken for one")
	}
	if err := c.Err("invalid-value", "detail"); err != nil {
		t.Errorf("want no error, got %v", err)
	}
}

// What is collected comes out in the order it went in, with its place.
func TestCollector(t *testing.T) {
	t.Parallel()
	inner := &fault.Error{Kind: fault.NoSolution, Code: "inner", Detail: "inner detail", Violations: []fault.Violation{
		{Path: fault.At("parts", 0), Code: "sum", Detail: "130 %"},
		{Path: nil, Code: "oneOf", Detail: "none is given"},
	}}
	var c fault.Collector
	c.Add(fault.At("name"), "required", "is %s, %d%% of it", "missing", 100)
	for _, row := range []struct {
		path fault.Path
		err  error
	}{
		{fault.At("formula"), inner},
		{fault.At("amount"), fmt.Errorf("read the amount: %w", inner)},
		{fault.At("scale"), &fault.Error{Kind: fault.Invalid, Code: "ascending", Detail: "with a % in it"}},
		{fault.At("scale", 1), fmt.Errorf("read the scale: %w", &fault.Error{Code: "ascending", Detail: "as it was"})},
		{fault.At("date"), errors.New("50%d off")},
	} {
		if !c.AddError(row.path, "invalid-value", row.err) {
			t.Errorf("%v was not taken for an error", row.err)
		}
	}
	want := &fault.Error{Kind: fault.Invalid, Code: "invalid-order", Detail: "no meaning", Violations: []fault.Violation{
		{Path: fault.At("name"), Code: "required", Detail: "is missing, 100% of it"},
		{Path: fault.At("formula", "parts", 0), Code: "sum", Detail: "130 %"},
		{Path: fault.At("formula"), Code: "oneOf", Detail: "none is given"},
		{Path: fault.At("amount", "parts", 0), Code: "sum", Detail: "130 %"},
		{Path: fault.At("amount"), Code: "oneOf", Detail: "none is given"},
		{Path: fault.At("scale"), Code: "ascending", Detail: "with a % in it"},
		{Path: fault.At("scale", 1), Code: "ascending", Detail: "as it was"},
		{Path: fault.At("date"), Code: "invalid-value", Detail: "50%d off"},
	}}
	got, found := errors.AsType[*fault.Error](c.Err("invalid-order", "no meaning"))
	if !found {
		t.Fatal("no fault")
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(fault.At("parts", 0), inner.Violations[0].Path); diff != "" {
		t.Errorf("the fault that was added has changed (-want +got):\n%s", diff)
	}
}
