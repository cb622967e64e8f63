package table_test

import (
	"bytes"
	"encoding/csv"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/go-json-experiment/json"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/api/table"
	"greenweight/openapi"
)

// draw draws a value that keeps a schema, with every member that the contract
// has: a member that is added is drawn too.
func draw(t *rapid.T, s *openapi3.Schema, label string) any {
	if len(s.OneOf) > 0 {
		return draw(t, rapid.SampledFrom(s.OneOf).Draw(t, label+" branch").Value, label)
	}
	switch {
	case s.Type.Is(openapi3.TypeObject):
		object := map[string]any{}
		for _, name := range slices.Sorted(maps.Keys(s.Properties)) {
			if slices.Contains(s.Required, name) || rapid.IntRange(0, 2).Draw(t, label+" has "+name) == 0 {
				object[name] = draw(t, s.Properties[name].Value, label+"."+name)
			}
		}
		return object
	case s.Type.Is(openapi3.TypeArray):
		const few = 4
		least, most := int(min(s.MinItems, few)), few
		if s.MaxItems != nil {
			most = int(min(*s.MaxItems, few))
		}
		list := make([]any, rapid.IntRange(least, max(most, least)).Draw(t, label+" items"))
		for i := range list {
			list[i] = draw(t, s.Items.Value, label)
		}
		return list
	case s.Type.Is(openapi3.TypeBoolean):
		return rapid.Bool().Draw(t, label)
	case s.Type.Is(openapi3.TypeInteger):
		return rapid.IntRange(int(*s.Min), int(*s.Max)).Draw(t, label)
	case s.Type.Is(openapi3.TypeNumber):
		return rapid.Float64Range(*s.Min, *s.Max).Draw(t, label)
	case len(s.Enum) > 0:
		return rapid.SampledFrom(s.Enum).Draw(t, label)
	case s.Pattern != "" || s.Format != "":
		return rapid.SampledFrom([]string{"pork-lean", "2027-01-31", "a1"}).Draw(t, label) // the table does not look at these
	}
	return rapid.OneOf(
		rapid.StringN(1, 60, -1),
		rapid.StringMatching(`['=+@\-\t\r\n ",]{1,4}[a-z]{0,3}`),
		rapid.SampledFrom([]string{"TRUE", "1", "{}", "[]", "null", "part"}),
	).Draw(t, label)
}

// TestRoundTrip writes formulas as a table and reads them again: they are the
// same values in the same order. What is written is a table for encoding/csv
// too.
func TestRoundTrip(t *testing.T) {
	t.Parallel()
	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	l := layout(t)
	rapid.Check(t, func(rt *rapid.T) {
		var want [][]byte
		for range rapid.IntRange(0, 3).Draw(rt, "formulas") {
			formula, err := json.Marshal(draw(rt, document.Components.Schemas["Formula"].Value, "formula"), json.Deterministic(true))
			if err != nil {
				rt.Fatal(err)
			}
			want = append(want, formula)
		}
		var text bytes.Buffer
		if err := table.Write(&text, l, want...); err != nil {
			rt.Fatalf("%v: %s", err, want)
		}
		rows, err := csv.NewReader(bytes.NewReader(text.Bytes())).ReadAll()
		if err != nil {
			rt.Fatal(err)
		}
		for _, row := range rows {
			for _, cell := range row {
				if strings.ContainsAny(cell[:min(len(cell), 1)], "=+@\t\r") {
					rt.Errorf("a spreadsheet would compute %q", cell)
				}
			}
		}
		records, err := read(t, l, text.String())
		if err != nil || len(records) != len(want) {
			rt.Fatalf("%d of %d records, %v", len(records), len(want), err)
		}
		for i, r := range records {
			if r.Err != nil {
				rt.Fatal(r.Err)
			}
			if diff := cmp.Diff(canonical(t, want[i]), canonical(t, r.Formula)); diff != "" {
				rt.Errorf("%s\n%s", diff, text.String())
			}
		}
	})
}
