package contract

import (
	"regexp"
	"testing"

	"pgregory.net/rapid"
)

// A pattern that is matched by hand matches what the regular expression does.
func TestMatchersMatchTheirPatterns(t *testing.T) {
	t.Parallel()
	for pattern, matches := range matchers {
		t.Run(pattern, func(t *testing.T) {
			t.Parallel()
			want := regexp.MustCompile(pattern)
			rapid.Check(t, func(t *rapid.T) {
				text := rapid.StringMatching(`[a-c0-1-]{0,6}|[aZé_\n-]{0,4}`).Draw(t, "text")
				if got := matches([]byte(text)); got != want.MatchString(text) {
					t.Fatalf("%q: %t", text, got)
				}
			})
		})
	}
}

// What is quickly accepted is only ever what the checker accepts: for the rest of
// that see the oracle, whose bodies go the same way. Here is what it is meant for,
// and what it leaves to the checker.
func TestWhatIsQuick(t *testing.T) {
	t.Parallel()
	word := &node{kinds: kindString, maxLength: 5}
	n := &node{
		kinds: kindObject, maxMembers: noLimit, required: 1, index: map[string]int{"a": 0, "b": 1},
		members: []member{{"a", &node{kinds: kindNumber, high: bound{value: 10, set: true}}}, {"b", &node{kinds: kindArray, items: word, maxItems: 2}}},
	}
	for _, tc := range []struct {
		text string
		want bool
	}{
		{`{"a":1}`, true},
		{` { "a" : 1.5e0 , "b" : [ "x" , "é" ] } `, true},
		{`{"a":1,"b":["\u0041"]}`, false}, // good, but with an escape
		{`{}`, false}, {`{"a":11}`, false}, {`{"a":1,"a":1}`, false}, {`{"a":1}x`, false}, {`{"a":01}`, false}, {`{"a":1.}`, false},
		{`{"a":1,"b":["x","x","x"]}`, false}, {`{"a":1,"b":["123456"]}`, false}, {`{"a":1,"c":1}`, false}, {`{"a":1,}`, false},
		{"{\"a\":1,\"b\":[\"\xff\"]}", false}, {"{\"a\":1,\"b\":[\"\n\"]}", false}, {`{"a":1`, false}, {``, false}, {`null`, false}, {`{"a":-}`, false},
	} {
		if got := n.accepts([]byte(tc.text)); got != tc.want {
			t.Errorf("%s: %t", tc.text, got)
		}
	}
}
