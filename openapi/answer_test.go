package openapi_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/openapi"
)

// probe has a member of each kind that the generated answers are made of.
type probe struct {
	Required float64            `json:"required"`
	List     []string           `json:"list"`
	Number   *float64           `json:"number,omitempty"`
	Text     *string            `json:"text,omitempty"`
	Flag     *bool              `json:"flag,omitempty"`
	Shares   map[string]float64 `json:"shares,omitempty"`
}

func TestWriteJSON(t *testing.T) {
	t.Parallel()

	zero, empty, no := 0.0, "", false
	tests := []struct {
		name  string
		value probe
		want  string
	}{
		{"unset members are absent, required ones present", probe{}, `{"required":0,"list":[]}`},
		{
			"set members are present, zero or not",
			probe{Number: &zero, Text: &empty, Flag: &no},
			`{"required":0,"list":[],"number":0,"text":"","flag":false}`,
		},
		{
			"members of a map stand in one order",
			probe{Shares: map[string]float64{"pork": 0.7, "back fat": 0.3}},
			`{"required":0,"list":[],"shares":{"back fat":0.3,"pork":0.7}}`,
		},
		{"text is written as it is", probe{List: []string{"aw < 0.90 & pH"}}, `{"required":0,"list":["aw < 0.90 & pH"]}`},
		{"digits are kept", probe{Required: 156.25}, `{"required":156.25,"list":[]}`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			var text strings.Builder
			if err := openapi.WriteJSON(&text, test.value); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.want+"\n", text.String()); diff != "" {
				t.Errorf("answer (-want +got):\n%s", diff)
			}
		})
	}
}

func TestWriteJSONRefuses(t *testing.T) {
	t.Parallel()

	tests := []struct {
		name  string
		value probe
	}{
		{"not a number", probe{Required: math.NaN()}},
		{"infinity", probe{Required: math.Inf(1)}},
		{"invalid UTF-8", probe{List: []string{"\xff"}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			var text strings.Builder
			if err := openapi.WriteJSON(&text, test.value); err == nil {
				t.Errorf("wrote %q, want an error", text.String())
			}
		})
	}
}
