package integration

import (
	"encoding/json"
	"fmt"
	"maps"
	"math/big"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// ellipsis stands in a shown answer for what is left out: as a value for any value,
// in an array for any number of elements, in an object for any further members
// (which are allowed anyway).
const ellipsis = "…"

// readShown reads an answer as the documentation shows it: JSON in which an
// ellipsis may stand, with or without quotes, for what is left out.
func readShown(text string) (any, error) {
	var (
		plain  strings.Builder
		open   []rune // the brackets around the present place
		quoted bool
		escape bool
	)
	for _, character := range text {
		switch {
		case quoted:
			quoted = character != '"' || escape
			escape = character == '\\' && !escape
		case character == '"':
			quoted = true
		case character == '{' || character == '[':
			open = append(open, character)
		case (character == '}' || character == ']') && len(open) > 0:
			open = open[:len(open)-1]
		case string(character) == ellipsis:
			plain.WriteString(`"` + ellipsis + `"`)
			// In an object a bare ellipsis after a comma or the bracket stands for members, after a colon for a value.
			before := strings.TrimSpace(strings.TrimSuffix(plain.String(), `"`+ellipsis+`"`))
			if len(open) > 0 && open[len(open)-1] == '{' && !strings.HasSuffix(before, ":") {
				plain.WriteString(`:"` + ellipsis + `"`)
			}
			continue
		}
		plain.WriteRune(character)
	}
	return readAnswer(plain.String())
}

// readAnswer reads one JSON value and keeps the digits of its numbers.
func readAnswer(text string) (any, error) {
	decoder := json.NewDecoder(strings.NewReader(text))
	decoder.UseNumber()
	var value any
	if err := decoder.Decode(&value); err != nil {
		return nil, fmt.Errorf("read %q: %w", text, err)
	}
	if rest := strings.TrimSpace(text[decoder.InputOffset():]); rest != "" {
		return nil, fmt.Errorf("read %q: %q after the value", text, rest)
	}
	return value, nil
}

// differences lists where an answer does not have what is shown: each member
// of an object, each element of an array in its place, text as it is and
// numbers to the digits that are shown.
func differences(at string, shown, answer any) []string {
	switch shown := shown.(type) {
	case string:
		if shown == ellipsis {
			return nil
		}
	case json.Number:
		if number, ok := answer.(json.Number); ok && agrees(shown, number) {
			return nil
		}
		return []string{fmt.Sprintf("%s: shown %v, answered %v", at, shown, answer)}
	case map[string]any:
		object, ok := answer.(map[string]any)
		if !ok {
			return []string{fmt.Sprintf("%s: shown an object, answered %v", at, answer)}
		}
		var found []string
		for _, name := range slices.Sorted(maps.Keys(shown)) {
			if name == ellipsis {
				continue
			}
			member, ok := object[name]
			if !ok {
				found = append(found, fmt.Sprintf("%s/%s: shown, not answered", at, name))
				continue
			}
			found = append(found, differences(at+"/"+name, shown[name], member)...)
		}
		return found
	case []any:
		array, ok := answer.([]any)
		if !ok {
			return []string{fmt.Sprintf("%s: shown an array, answered %v", at, answer)}
		}
		return arrayDifferences(at, shown, array)
	}
	if !cmp.Equal(shown, answer) {
		return []string{fmt.Sprintf("%s: shown %v, answered %v", at, shown, answer)}
	}
	return nil
}

// arrayDifferences compares arrays in which an ellipsis stands for any number
// of elements. When no place of the elements fits it reports the differences
// of the place that they have without leaving any out.
func arrayDifferences(at string, shown, answer []any) []string {
	if fits(shown, answer) {
		return nil
	}
	var found []string
	for i, element := range shown {
		switch {
		case element == ellipsis:
			return append(found, fmt.Sprintf("%s: the elements shown from %d on are not answered in this order", at, i))
		case i >= len(answer):
			return append(found, fmt.Sprintf("%s/%d: shown, not answered", at, i))
		}
		found = append(found, differences(fmt.Sprintf("%s/%d", at, i), element, answer[i])...)
	}
	if len(answer) > len(shown) {
		found = append(found, fmt.Sprintf("%s: %d elements shown, %d answered", at, len(shown), len(answer)))
	}
	return found
}

// fits says whether the elements shown can be laid on those answered.
func fits(shown, answer []any) bool {
	switch {
	case len(shown) == 0:
		return len(answer) == 0
	case shown[0] == ellipsis:
		return fits(shown[1:], answer) || len(answer) > 0 && fits(shown, answer[1:])
	case len(answer) == 0:
		return false
	}
	return len(differences("", shown[0], answer[0])) == 0 && fits(shown[1:], answer[1:])
}

// agrees says whether a number, rounded to the decimals that another is shown
// with, is that other one. The two are compared as decimal fractions: what is
// shown as 0.15 is not 0.145 although the nearest binary fraction is below it.
func agrees(shown, number json.Number) bool {
	want, ok := new(big.Rat).SetString(shown.String())
	if !ok {
		return false
	}
	got, ok := new(big.Rat).SetString(number.String())
	if !ok {
		return false
	}
	if strings.ContainsAny(shown.String(), "eE") {
		return want.Cmp(got) == 0
	}
	decimals := 0
	if _, fraction, ok := strings.Cut(shown.String(), "."); ok {
		decimals = len(fraction)
	}
	half := big.NewRat(1, 2)
	for range decimals {
		half.Quo(half, big.NewRat(10, 1))
	}
	difference := new(big.Rat).Sub(want, got)
	return difference.Abs(difference).Cmp(half) <= 0
}

func TestDifferences(t *testing.T) {
	t.Parallel()

	tests := []struct {
		name   string
		shown  string
		answer string
		want   []string
	}{
		{"the same", `{"a":[1,"b",null,true]}`, `{"a":[1,"b",null,true]}`, nil},
		{"further members", `{"a":1}`, `{"a":1,"b":2}`, nil},
		{"a missing member", `{"a":1,"b":{"c":2}}`, `{"a":1,"b":{}}`, []string{"/b/c: shown, not answered"}},
		{"another text", `{"a":"met"}`, `{"a":"not-met"}`, []string{"/a: shown met, answered not-met"}},
		{"another kind", `{"a":"1"}`, `{"a":1}`, []string{"/a: shown 1, answered 1"}},
		{"null is not absent", `{"a":null}`, `{}`, []string{"/a: shown, not answered"}},
		{"digits not shown", `{"a":156.25}`, `{"a":156.2500001}`, nil},
		{"a shown digit differs", `{"a":156.25}`, `{"a":156.26}`, []string{"/a: shown 156.25, answered 156.26"}},
		{"rounded half", `{"a":0.15}`, `{"a":0.145}`, nil},
		{"beyond the half", `{"a":0.15}`, `{"a":0.1449}`, []string{"/a: shown 0.15, answered 0.1449"}},
		{"a whole number", `{"a":12}`, `{"a":12.6}`, []string{"/a: shown 12, answered 12.6"}},
		{"any value", `{"a":…,"b":"…"}`, `{"a":{"c":1},"b":7}`, nil},
		{"any value is a value", `{"a":…}`, `{}`, []string{"/a: shown, not answered"}},
		{"further members said", `{"a":1,…}`, `{"a":1,"b":2}`, nil},
		{"an ellipsis within a text is text", `{"a":"b… c"}`, `{"a":"b… d"}`, []string{"/a: shown b… c, answered b… d"}},
		{"too many elements", `[1]`, `[1,2]`, []string{": 1 elements shown, 2 answered"}},
		{"too few elements", `[1,2]`, `[1]`, []string{"/1: shown, not answered"}},
		{"elements before", `[…,2]`, `[0,1,2]`, nil},
		{"elements between", `[{"a":1},…,{"a":3}]`, `[{"a":1},{"a":2},{"a":3}]`, nil},
		{"no element at the ellipsis", `[1,…]`, `[1]`, nil},
		{"not in this order", `[…,2,1,…]`, `[1,2]`, []string{": the elements shown from 0 on are not answered in this order"}},
		{"an element differs", `[1,{"a":2}]`, `[1,{"a":3}]`, []string{"/1/a: shown 2, answered 3"}},
		{"an array for an object", `{"a":{}}`, `{"a":[]}`, []string{"/a: shown an object, answered []"}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			shown, err := readShown(test.shown)
			if err != nil {
				t.Fatal(err)
			}
			answer, err := readAnswer(test.answer)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.want, differences("", shown, answer)); diff != "" {
				t.Errorf("differences (-want +got):\n%s", diff)
			}
		})
	}
}
