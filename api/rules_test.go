package api

import (
	"errors"
	"testing"

	"github.com/go-json-experiment/json"
	"github.com/google/go-cmp/cmp"

	"greenweight/domain/fault"
	"greenweight/openapi"
)

// broken lists the pointer and the code of each rule that an error tells of.
func broken(t *testing.T, err error) []string {
	t.Helper()
	if err == nil {
		return nil
	}
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		t.Fatalf("error is %v, want a fault", err)
	}
	if f.Kind != fault.Invalid || f.Code != "invalid-value" {
		t.Errorf("fault is %s %s, want invalid invalid-value", f.Kind, f.Code)
	}
	var places []string
	for _, v := range f.Violations {
		if v.Detail == "" {
			t.Errorf("%s has no detail", v.Path.Pointer())
		}
		places = append(places, v.Path.Pointer()+" "+v.Code)
	}
	return places
}

// One row for each rule between members, and for what it lets pass.
func TestMemberRules(t *testing.T) {
	t.Parallel()
	const (
		first = "#/formula/additions/0"
		rate  = first + "/rate"
	)
	spice := func(rate string) string { return `{"role":"spice","name":"pepper","rate":` + rate + `}` }
	of := func(role, more string) string {
		return `{"role":"` + role + `","rate":{"value":1,"unit":"percent"}` + more + `}`
	}
	const (
		name     = `,"name":"n"`
		material = `,"material":"m"`
		cure     = `,"cure":{"key":"k"}`
	)
	for _, tc := range []struct {
		name      string
		additions string // the additions of the order
		amount    string // {"meat":…} when empty
		scale     string // none when empty
		want      []string
	}{
		{name: "share", additions: spice(`{"value":1,"unit":"percent"}`)},
		{name: "share of the batch", additions: spice(`{"value":1,"unit":"percent","base":"batch"}`)},
		{name: "mass for a mass", additions: spice(`{"value":1,"unit":"g","per":{"value":1,"unit":"kg"}}`)},
		{name: "volume for a mass", additions: spice(`{"value":1,"unit":"tsp","per":{"value":5,"unit":"lb"}}`)},
		{name: "mass without per", additions: spice(`{"value":1,"unit":"g"}`), want: []string{rate + "/per required"}},
		{name: "volume without per", additions: spice(`{"value":1,"unit":"floz"}`), want: []string{rate + "/per required"}},
		{name: "percent with per", additions: spice(`{"value":1,"unit":"percent","per":{"value":1,"unit":"kg"}}`), want: []string{rate + "/per additional-member"}},
		{name: "g/kg with per", additions: spice(`{"value":1,"unit":"g_per_kg","per":{"value":1,"unit":"kg"}}`), want: []string{rate + "/per additional-member"}},
		{name: "mg/kg with per", additions: spice(`{"value":1,"unit":"mg_per_kg","per":{"value":1,"unit":"kg"}}`), want: []string{rate + "/per additional-member"}},
		{name: "base with per", additions: spice(`{"value":1,"unit":"g","base":"meat","per":{"value":1,"unit":"kg"}}`), want: []string{rate + "/base additional-member"}},
		{name: "base without per", additions: spice(`{"value":1,"unit":"g","base":"meat"}`), want: []string{rate + "/per required", rate + "/base additional-member"}},
		{name: "all of the batch", additions: spice(`{"value":100,"unit":"percent","base":"batch"}`)},
		{name: "more percent than the batch", additions: spice(`{"value":100.1,"unit":"percent","base":"batch"}`), want: []string{rate + "/value maximum"}},
		{name: "more g/kg than the batch", additions: spice(`{"value":1000.1,"unit":"g_per_kg","base":"batch"}`), want: []string{rate + "/value maximum"}},
		{name: "more percent than the meat", additions: spice(`{"value":130,"unit":"percent","base":"meat"}`)},

		{name: "cure by key", additions: of("cure", cure)},
		{name: "cure by assay", additions: of("cure", `,"cure":{"assay":{"salt_percent":94}}`)},
		{name: "cure by both", additions: of("cure", `,"cure":{"key":"k","assay":{}}`), want: []string{first + "/cure oneOf"}},
		{name: "cure by neither", additions: of("cure", `,"cure":{}`), want: []string{first + "/cure oneOf"}},
		{name: "role cure without cure", additions: of("cure", name), want: []string{first + "/cure required"}},
		{name: "cure with material", additions: of("cure", cure+material), want: []string{first + "/material additional-member"}},
		{name: "salt with cure", additions: of("salt", material+cure), want: []string{first + "/cure additional-member"}},
		{name: "other with cure", additions: of("other", name+cure), want: []string{first + "/cure additional-member"}},
		{name: "culture with facts and water", additions: of("culture", name+`,"culture":{},"rehydration_water":{"value":5,"unit":"percent"}`)},
		{name: "spice with facts of a culture", additions: of("spice", name+`,"culture":{}`), want: []string{first + "/culture additional-member"}},
		{name: "spice with rehydration water", additions: of("spice", name+`,"rehydration_water":{"value":5,"unit":"percent"}`), want: []string{first + "/rehydration_water additional-member"}},
		{name: "rate of rehydration water", additions: of("culture", name+`,"rehydration_water":{"value":0.5,"unit":"cup"}`), want: []string{first + "/rehydration_water/per required"}},
		{name: "salt without material", additions: of("salt", name), want: []string{first + "/material required"}},
		{name: "sugar without material", additions: of("sugar", name), want: []string{first + "/material required"}},
		{name: "acidulant without material", additions: of("acidulant", name), want: []string{first + "/material required"}},
		{name: "accelerator without material", additions: of("accelerator", name), want: []string{first + "/material required"}},
		{name: "liquid without material", additions: of("liquid", name), want: []string{first + "/material required"}},
		{name: "spice by material", additions: of("spice", material)},
		{name: "culture by neither", additions: of("culture", ""), want: []string{first + "/name required"}},
		{name: "spice by neither", additions: of("spice", ""), want: []string{first + "/name required"}},
		{name: "binder by neither", additions: of("binder", ""), want: []string{first + "/name required"}},
		{name: "other by neither", additions: of("other", ""), want: []string{first + "/name required"}},
		{
			name: "several additions", additions: of("salt", material) + "," + of("salt", "") + "," + of("spice", ""),
			want: []string{"#/formula/additions/1/material required", "#/formula/additions/2/name required"},
		},

		{name: "no amount", amount: `{}`, want: []string{"#/amount oneOf"}},
		{name: "two amounts", amount: `{"meat":{"value":1,"unit":"kg"},"batch":{"value":1,"unit":"kg"}}`, want: []string{"#/amount oneOf"}},
		{name: "batch", amount: `{"batch":{"value":1,"unit":"kg"}}`},
		{name: "finished", amount: `{"finished":{"value":1,"unit":"kg"}}`},

		{name: "scale", scale: `[{"up_to":{"value":200,"unit":"g"},"division":{"value":0.1,"unit":"g"}},{"division":{"value":1,"unit":"g"}}]`},
		{name: "scale with an end", scale: `[{"up_to":{"value":7,"unit":"oz"},"division":{"value":0.1,"unit":"g"}},{"up_to":{"value":11,"unit":"lb"},"division":{"value":1,"unit":"g"}}]`},
		{name: "scale with an end missing", scale: `[{"division":{"value":0.1,"unit":"g"}},{"division":{"value":1,"unit":"g"}}]`, want: []string{"#/scale/0/up_to required"}},
		{name: "scale falls", scale: `[{"up_to":{"value":2,"unit":"kg"},"division":{"value":1,"unit":"g"}},{"up_to":{"value":200,"unit":"g"},"division":{"value":1,"unit":"g"}}]`, want: []string{"#/scale/1/up_to ascending"}},
		{name: "scale stands", scale: `[{"up_to":{"value":2,"unit":"kg"},"division":{"value":1,"unit":"g"}},{"up_to":{"value":2000000,"unit":"mg"},"division":{"value":1,"unit":"g"}}]`, want: []string{"#/scale/1/up_to ascending"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			amount := tc.amount
			if amount == "" {
				amount = `{"meat":{"value":1,"unit":"kg"}}`
			}
			text := `{"formula":{"name":"n","product":"dry-sausage","parts":[{"material":"m","share_percent":100}],"additions":[` + tc.additions +
				`]},"amount":` + amount
			if tc.scale != "" {
				text += `,"scale":` + tc.scale
			}
			read := func(into any, more string) {
				if err := json.Unmarshal([]byte(text+more+"}"), into, json.RejectUnknownMembers(true)); err != nil {
					t.Fatalf("the row is not as the contract has it: %v", err)
				}
			}
			var scale openapi.ScaleOrder
			var check openapi.CheckOrder
			read(&scale, "")
			read(&check, `,"rulebooks":["us"]`)
			rules := newMemberRules()
			if diff := cmp.Diff(tc.want, broken(t, rules.check(scale))); diff != "" {
				t.Errorf("rules of an order to scale (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(tc.want, broken(t, rules.check(check))); diff != "" {
				t.Errorf("rules of an order to check (-want +got):\n%s", diff)
			}
		})
	}
}

func TestMemberRulesNeedAStruct(t *testing.T) {
	t.Parallel()
	if err := newMemberRules().check(7); err == nil {
		t.Error("a number passes")
	}
}
