package api

import (
	"bytes"
	"reflect"
	"testing"

	"github.com/go-json-experiment/json"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/curing"
	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// words are what the strings of a drawn formula may be, by their type.
var words = map[reflect.Type][]string{
	reflect.TypeFor[openapi.Product]():         {"dry-sausage", "cooked-sausage"},
	reflect.TypeFor[openapi.Role]():            {"salt", "cure", "sugar", "culture", "spice", "acidulant", "accelerator", "liquid", "binder", "other"},
	reflect.TypeFor[openapi.RateUnit]():        {"percent", "g_per_kg", "mg_per_kg", "g", "oz", "tsp", "cup"},
	reflect.TypeFor[openapi.Base]():            {"meat", "batch"},
	reflect.TypeFor[openapi.MassUnit]():        {"kg", "lb"},
	reflect.TypeFor[openapi.TemperatureUnit](): {"degC", "degF"},
	reflect.TypeFor[string]():                  {"salt-table", "pork-backfat", "cure-1", "Käse", "a \"b\"", "tab\there", "dextrose-monohydrate"},
}

// fill fills a value of any type that a formula is made of, each optional member
// given or not.
func fill(t *rapid.T, v reflect.Value, label string) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			fill(t, v.Field(i), label+"."+v.Type().Field(i).Name)
		}
	case reflect.Pointer:
		if rapid.Bool().Draw(t, label+" given") {
			v.Set(reflect.New(v.Type().Elem()))
			fill(t, v.Elem(), label)
		}
	case reflect.Slice:
		n := rapid.IntRange(0, 3).Draw(t, label+" length")
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		for i := range n {
			fill(t, v.Index(i), label)
		}
	case reflect.String:
		from, ok := words[v.Type()]
		if !ok { // a choice that the rules tell apart by one of these, or not at all
			from = []string{"drying-method", "freezing", "chamber"}
		}
		v.SetString(rapid.SampledFrom(from).Draw(t, label))
	case reflect.Float64:
		v.SetFloat(rapid.SampledFrom([]float64{0.25, 5, 60, 100, 120, 1e6}).Draw(t, label))
	case reflect.Bool:
		v.SetBool(rapid.Bool().Draw(t, label))
	default:
		t.Fatalf("a formula has a %s, which no test draws", v.Type())
	}
}

func drawFormula(t *rapid.T) openapi.Formula {
	var f openapi.Formula
	fill(t, reflect.ValueOf(&f).Elem(), "formula")
	return f
}

// The quick look at the rules sees what the rules see, whatever is given. A rule
// that a part of a formula gains has to get into it.
func TestQuickRulesAreTheRules(t *testing.T) {
	t.Parallel()
	rules := newMemberRules()
	rapid.Check(t, func(t *rapid.T) {
		f := drawFormula(t)
		if want, got := rules.check(f) == nil, keepsRules(&f); want != got {
			t.Fatalf("kept: %t, and quickly: %t", want, got)
		}
	})
}

// What the quick decoder reads is what the other reads; a text with an escape it
// leaves alone.
func TestQuickDecoderReadsTheSame(t *testing.T) {
	t.Parallel()
	d := newTextDecoder[openapi.Formula]()
	quick := 0
	rapid.Check(t, func(t *rapid.T) {
		f := drawFormula(t)
		text, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		var want openapi.Formula
		if err := json.Unmarshal(text, &want); err != nil {
			t.Fatal(err)
		}
		got, ok := d.decode(text)
		if !ok {
			if !bytes.ContainsRune(text, '\\') {
				t.Fatalf("it gives up on %s", text)
			}
			return
		}
		quick++
		if diff := cmp.Diff(&want, got); diff != "" {
			t.Fatalf("%s (-other +quick):\n%s", text, diff)
		}
	})
	if quick == 0 {
		t.Error("it gives up on all")
	}
}

// The quick decoder gives up on what it does not know, and on any text that is no
// formula it gives up or comes to an end.
func TestQuickDecoderGivesUp(t *testing.T) {
	t.Parallel()
	for _, text := range []string{
		``, `{`, `null`, `[]`, `{"name":null}`, `{"name":"a\"b"}`, `{"new_member":1}`, `{"parts":[{"new":1}]}`, `{"plan":{"loss_percent":null}}`,
		`{"additions":[{"rate":{"value":"1"}}]}`, `{"additions":[{"brings_none":nope}]}`, `{"name":"x"`, `{"name" "x"}`, `{"parts":{}}`,
	} {
		if _, ok := newTextDecoder[openapi.Formula]().decode([]byte(text)); ok {
			t.Errorf("it reads %s", text)
		}
	}
}

// Lines written by hand are the lines that the library writes of the same.
func TestLinesAreWrittenAsTheLibraryDoes(t *testing.T) {
	t.Parallel()
	rules := newMemberRules()
	c := &lineChecker{collection: &collection{h: &handlers{rules: rules}}}
	rapid.Check(t, func(t *rapid.T) {
		var w openapi.Formula
		if err := json.Unmarshal([]byte(anyFormula(t)), &w); err != nil {
			t.Fatal(err)
		}
		f, err := c.readFormulaAlone(&w)
		if err != nil {
			return // a wrong one
		}
		answer, err := curing.Check(curing.Order{
			Scaling: formula.Order{Formula: f}, Date: testTime(), Rulebooks: []rulebook.Jurisdiction{rulebook.UnitedStates, rulebook.EuropeanUnion},
		})
		if err != nil {
			return // wrong too
		}
		r := result{line: 12, name: w.Name, summary: finding.Summarise(answer.Findings), findings: answer.Findings}
		r.status = statusOf(r.summary)
		want := openapi.FormulaCheckResult{
			Line: 12, Name: w.Name, Status: openapi.FormulaStatus(r.status.String()), Summary: writeSummary(r.summary),
			Findings: writeFindings(answer.Findings, pointerInBody),
		}
		var got openapi.FormulaCheckResult
		if err := json.Unmarshal(appendResult(nil, r), &got, json.RejectUnknownMembers(true)); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("line (-library +by hand):\n%s", d)
		}
	})
}

// A formula that is read without places is the one that is read with them.
func TestPlacesChangeNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		w := drawFormula(t)
		var with, without fault.Collector
		a, b := readFormulaAt(&with, fault.Path{}, w), readFormulaAt(&without, nil, w)
		if (with.Err("", "") == nil) != (without.Err("", "") == nil) {
			t.Fatalf("%v with places, and %v without", with.Err("", ""), without.Err("", ""))
		}
		if !reflect.DeepEqual(a, b) {
			t.Fatal("another formula")
		}
	})
}
