package contract_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"greenweight/api/contract"
)

// orders returns the operation of the document's that lists or makes orders.
func orders(tb testing.TB, method string) *contract.Operation {
	tb.Helper()
	op, ok := newOracle(tb, keywordsDocument).contract.Operation(method, "/orders")
	if !ok {
		tb.Fatalf("no operation %s /orders", method)
	}
	return op
}

// brief writes violations as "pointer code", with a "!" where they are malformed.
func brief(found []contract.Violation) []string {
	var out []string
	for _, v := range found {
		mark := ""
		if v.Malformed && v.Pointer != "" {
			mark = "!"
		}
		out = append(out, v.Pointer+v.Parameter+" "+v.Code+mark)
	}
	return out
}

func TestOperations(t *testing.T) {
	t.Parallel()
	c := newOracle(t, keywordsDocument).contract
	type row struct {
		ID, Method, Path  string
		HasBody, Required bool
		Types             []string
	}
	var got []row
	for _, op := range c.Operations() {
		got = append(got, row{op.ID, op.Method, op.Path, op.HasBody(), op.BodyRequired(), op.BodyTypes()})
		same, ok := c.Operation(op.Method, op.Path)
		if !ok || same != op {
			t.Errorf("Operation(%q, %q) = %v, %v", op.Method, op.Path, same, ok)
		}
	}
	want := []row{
		{"listOrders", "GET", "/orders", false, false, nil},
		{"createOrder", "POST", "/orders", true, true, []string{"application/json"}},
		{"changeOrder", "PATCH", "/orders/{order}/{piece}", true, false, []string{"application/merge-patch+json"}},
		{"addReadings", "POST", "/readings", true, true, []string{"application/x-ndjson"}},
		{"setShares", "POST", "/shares", true, true, []string{"application/json"}},
		{"growTree", "POST", "/trees", true, true, []string{"application/json"}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("operations (-want +got):\n%s", diff)
	}
	for _, miss := range [][2]string{{"DELETE", "/orders"}, {"post", "/orders"}, {"POST", "/v1/orders"}} {
		if _, ok := c.Operation(miss[0], miss[1]); ok {
			t.Errorf("Operation(%q, %q) was found", miss[0], miss[1])
		}
	}
}

// good is an order without fault, by member, so that a row changes one.
func good() map[string]string {
	return map[string]string{
		"name": `"Fennel"`, "date": `"2026-02-28"`, "amount": `{"meat":{"value":5,"unit":"lb"}}`,
		"additions": `[{"name":"salt","rate":{"value":2.5,"unit":"percent"}}]`,
		"grind_mm":  `6`, "pieces": `12`, "smoked": `false`,
	}
}

func write(members map[string]string) string {
	var list []string
	for name, value := range members {
		if value != "" {
			list = append(list, fmt.Sprintf("%q:%s", name, value))
		}
	}
	slices.Sort(list)
	return "{" + strings.Join(list, ",") + "}"
}

func TestCheckBodyMember(t *testing.T) {
	t.Parallel()
	op := orders(t, http.MethodPost)
	tests := []struct {
		name, member, value string
		want                []string
	}{
		{"good", "smoked", `true`, nil},
		{"optional present", "plan", `[]`, nil},
		{"missing", "smoked", ``, []string{"#/smoked required"}},
		{"null", "smoked", `null`, []string{"#/smoked type"}},
		{"string for boolean", "smoked", `"true"`, []string{"#/smoked type"}},
		{"number for boolean", "smoked", `0`, []string{"#/smoked type"}},
		{"object for boolean", "smoked", `{"a":[1,{}]}`, []string{"#/smoked type"}},
		{"unknown", "smokd", `true`, []string{"#/smokd additional-member"}},
		{"wrong case", "Smoked", `true`, []string{"#/Smoked additional-member"}},
		{"unknown without a name", "", `[{}]`, []string{"#/ additional-member"}},
		{"unknown with signs", `a/b~c d"é`, `1`, []string{"#/a~1b~0c%20d%22%C3%A9 additional-member"}},

		{"number at minimum", "grind_mm", `2`, nil},
		{"number at maximum", "grind_mm", `20.0`, nil},
		{"number with exponent", "grind_mm", `0.6e1`, nil},
		{"number below", "grind_mm", `1.9999999999999998`, []string{"#/grind_mm minimum"}},
		{"number above", "grind_mm", `20.000000000000004`, []string{"#/grind_mm maximum"}},
		{"number beyond float64", "grind_mm", `1e999`, []string{"#/grind_mm maximum"}},
		{"number beyond float64 below", "grind_mm", `-1e999`, []string{"#/grind_mm minimum"}},
		{"number too small for float64", "grind_mm", `1e-999`, []string{"#/grind_mm minimum"}},
		{"number in quotes", "grind_mm", `"6"`, []string{"#/grind_mm type"}},
		{"number of 256 characters", "grind_mm", "6." + strings.Repeat("0", 254), nil},
		{"number of 257 characters", "grind_mm", "6." + strings.Repeat("0", 255), []string{"#/grind_mm type"}},

		{"integer at maximum", "pieces", `400`, nil},
		{"integer above", "pieces", `401`, []string{"#/pieces maximum"}},
		{"integer below", "pieces", `0`, []string{"#/pieces minimum"}},
		{"integer minus zero", "pieces", `-0`, []string{"#/pieces minimum"}},
		{"integer with a fraction", "pieces", `12.5`, []string{"#/pieces type"}},
		{"integer with a point", "pieces", `12.0`, []string{"#/pieces type"}},
		{"integer with an exponent", "pieces", `1e2`, []string{"#/pieces type"}},
		{"integer beyond int64", "pieces", `9223372036854775808`, []string{"#/pieces maximum"}},
		{"integer of 200 digits", "pieces", strings.Repeat("9", 200), []string{"#/pieces maximum"}},

		{"text at minLength", "name", `"ab"`, nil},
		{"text below minLength", "name", `"A"`, []string{"#/name minLength"}},
		{"empty text", "name", `""`, []string{"#/name minLength"}},
		// 24 code points, of 2, 3 and 4 bytes
		{"text at maxLength", "name", `"A` + strings.Repeat("é", 8) + strings.Repeat("日", 8) + strings.Repeat("😀", 7) + `"`, nil},
		{"text above maxLength", "name", `"A` + strings.Repeat("é", 8) + strings.Repeat("日", 8) + strings.Repeat("😀", 8) + `"`, []string{"#/name maxLength"}},
		{"escapes are one character", "name", `"A` + strings.Repeat(`\u00e9`, 16) + strings.Repeat(`\ud83d\ude00`, 7) + `"`, nil},
		{"escapes above maxLength", "name", `"A` + strings.Repeat(`\u00e9`, 16) + strings.Repeat(`\ud83d\ude00`, 8) + `"`, []string{"#/name maxLength"}},
		{"text against the pattern", "name", `"fennel"`, []string{"#/name pattern"}},
		{"text with escapes for the pattern", "name", `"\u0041bc"`, nil},

		{"union of the first kind", "amount", `{"batch":{"value":1,"unit":"kg"}}`, nil},
		{"union with optional member", "amount", `{"loss_percent":35,"batch":{"value":1,"unit":"kg"}}`, nil},
		{"union of many members", "amount", `{"casing":{"length_mm":400,"diameter_mm":45},"pieces":1}`, nil},
		{"union of no kind", "amount", `{}`, []string{"#/amount oneOf"}},
		{"union of two kinds", "amount", `{"batch":{"value":1,"unit":"kg"},"meat":{"value":1,"unit":"kg"}}`, []string{"#/amount oneOf"}},
		{"union with an unknown member", "amount", `{"meat":{"value":1,"unit":"kg"},"x":1}`, []string{"#/amount/x additional-member"}},
		{"union with a member missing", "amount", `{"casing":{"length_mm":400}}`, []string{"#/amount/casing/diameter_mm required", "#/amount/pieces required"}},
		{"union with a duplicate", "amount", `{"meat":{"value":1,"unit":"kg"},"meat":{"value":1,"unit":"kg"}}`, []string{"#/amount/meat duplicate-member!"}},
		{"union of a wrong kind", "amount", `[]`, []string{"#/amount type"}},
		{"inside a union", "amount", `{"meat":{"value":-1,"unit":"stone"}}`, []string{"#/amount/meat/unit enum", "#/amount/meat/value minimum"}},

		{"array of a wrong kind", "additions", `{}`, []string{"#/additions type"}},
		{"array item of a wrong kind", "additions", `[1,[],null]`, []string{"#/additions/0 type", "#/additions/1 type", "#/additions/2 type"}},
		{"array above maxItems", "plan", `[` + strings.Repeat(`{"step":"dry","hours":1},`, 6) + `{"step":"dry"}]`, []string{"#/plan maxItems", "#/plan/6/hours required"}},
		{"exclusive bounds", "additions", `[{"name":"a","rate":{"value":0,"unit":"percent"}},{"name":"b","rate":{"value":100,"unit":"percent"}}]`, []string{"#/additions/0/rate/value exclusiveMinimum", "#/additions/1/rate/value exclusiveMaximum"}},
		{"nullable", "additions", `[{"name":"a","rate":{"value":1,"unit":"percent"},"note":null}]`, nil},
		{"many at once", "additions", `[{"nmae":"a","rate":{"value":"1","unit":"%"},"role":1,"note":false}]`, []string{
			"#/additions/0/name required", "#/additions/0/nmae additional-member", "#/additions/0/note type", "#/additions/0/rate/unit enum",
			"#/additions/0/rate/value type", "#/additions/0/role type",
		}},

		{"tag of each branch", "plan", `[{"hours":1,"step":"rest"},{"until":"2026-03-01T00:00:00Z","step":"hold"}]`, nil},
		{"tag with escapes", "plan", `[{"hours":1,"\u0073tep":"\u0072est"}]`, nil},
		{"tag missing", "plan", `[{"hours":1}]`, []string{"#/plan/0/step required"}},
		{"tag unknown", "plan", `[{"step":"smoke","x":{"y":[]}}]`, []string{"#/plan/0/step enum"}},
		{"tag of a wrong kind", "plan", `[{"step":["dry"],"hours":1}]`, []string{"#/plan/0/step type"}},
		{"tag for another branch", "plan", `[{"step":"hold","hours":1}]`, []string{"#/plan/0/hours additional-member", "#/plan/0/until required"}},
		{"tag repeated, first good", "plan", `[{"step":"dry","hours":1,"step":7}]`, []string{"#/plan/0/step duplicate-member!"}},
		{"tag repeated, first bad", "plan", `[{"step":7,"hours":1,"step":"dry"}]`, []string{"#/plan/0/step duplicate-member!"}},
		{"tag of a wrong object", "plan", `["dry"]`, []string{"#/plan/0 type"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			members := good()
			members[tt.member] = tt.value
			var body strings.Builder
			list := members
			if tt.value != "" {
				name, _ := json.Marshal(tt.member)
				delete(list, tt.member)
				body.WriteString("{" + string(name) + ":" + tt.value + "," + write(list)[1:])
			} else {
				body.WriteString(write(list))
			}
			if diff := cmp.Diff(tt.want, brief(op.CheckBody("application/json", []byte(body.String())))); diff != "" {
				t.Errorf("%s (-want +got):\n%s", body.String(), diff)
			}
		})
	}
}

func TestCheckBodyWhole(t *testing.T) {
	t.Parallel()
	o := newOracle(t, keywordsDocument)
	const ndjson, merge, plain = "application/x-ndjson", "application/merge-patch+json", "application/json"
	const reading = `{"at":"2026-01-31T08:30:00Z","sensor":"01890a5d-ac96-774b-bcce-b302099a8057","celsius":3}`
	deep := func(n int) string { return strings.Repeat("[", n) + strings.Repeat("]", n) }
	tree := func(n int) string { // n trees within each other, 2n-1 levels
		return strings.Repeat(`{"name":"a","below":[`, n) + strings.Repeat(`]}`, n)
	}
	tests := []struct {
		name, path, mediaType, body string
		want                        []string
	}{
		{"good line", "/readings", ndjson, reading, nil},
		{"good with space around", "/readings", ndjson, " \r\n\t" + reading + "\n ", nil},
		{"media type with parameter", "/readings", "Application/X-NDJSON; charset=utf-8", reading, nil},
		{"another media type", "/readings", plain, reading, []string{"# media-type!"}},
		{"empty", "/readings", ndjson, "", []string{"# required!"}},
		{"empty where none is required", "/orders/{order}/{piece}", merge, "", nil},
		{"only space", "/readings", ndjson, " \n", []string{"# syntax!"}},
		{"null", "/readings", ndjson, "null", []string{"# type"}},
		{"array", "/readings", ndjson, "[" + reading + "]", []string{"# type"}},
		{"string", "/readings", ndjson, `"x"`, []string{"# type"}},
		{"number", "/readings", ndjson, "-12.5e3", []string{"# type"}},
		{"not JSON", "/readings", ndjson, "at=now", []string{"# syntax!"}},
		{"byte order mark", "/readings", ndjson, "\ufeff" + reading, []string{"# syntax!"}},
		{"two values", "/readings", ndjson, reading + " " + reading, []string{"# syntax!"}},
		{"comma after", "/readings", ndjson, reading + ",", []string{"# syntax!"}},
		{"zero byte after", "/readings", ndjson, reading + "\x00", []string{"# syntax!"}},
		{"text after a fault", "/readings", ndjson, strings.Replace(reading, "3}", `"3"} x`, 1), []string{"# syntax!", "#/celsius type"}},
		{"cut short", "/readings", ndjson, reading[:len(reading)-1], []string{"#/celsius syntax!"}},
		{"cut in a string", "/readings", ndjson, reading[:20], []string{"#/at syntax!"}},
		{"brace for bracket", "/trees", plain, `{"name":"a","below":[}`, []string{"#/below/0 syntax!"}},
		{"comma before the end", "/trees", plain, `{"name":"a","below":[],}`, []string{"#/below syntax!"}},
		{"no value", "/trees", plain, `{"name":}`, []string{"#/name syntax!"}},
		{"name without quotes", "/trees", plain, `{name:"a"}`, []string{"# syntax!"}},
		{"comment", "/trees", plain, `{/* a */"name":"a","below":[]}`, []string{"# syntax!"}},
		{"NaN", "/readings", ndjson, strings.Replace(reading, "3}", "NaN}", 1), []string{"#/celsius syntax!"}},
		{"Infinity", "/readings", ndjson, strings.Replace(reading, "3}", "-Infinity}", 1), []string{"#/celsius syntax!"}},
		{"leading zero", "/readings", ndjson, strings.Replace(reading, "3}", "03}", 1), []string{"#/celsius syntax!"}},
		{"hexadecimal", "/readings", ndjson, strings.Replace(reading, "3}", "0x3}", 1), []string{"#/celsius syntax!"}},
		{"beyond float64 without a bound", "/readings", ndjson, strings.Replace(reading, "3}", "1e999}", 1), []string{"#/celsius type"}},
		{"below float64 without a bound", "/readings", ndjson, strings.Replace(reading, "3}", "-1e999}", 1), []string{"#/celsius type"}},
		{"largest integer", "/readings", ndjson, strings.Replace(reading, "3}", `3,"count":9007199254740991}`, 1), nil},
		{"above the largest integer", "/readings", ndjson, strings.Replace(reading, "3}", `3,"count":9007199254740992}`, 1), []string{"#/count maximum"}},
		{"below the least integer", "/readings", ndjson, strings.Replace(reading, "3}", `3,"count":-9007199254740993}`, 1), []string{"#/count minimum"}},

		{"invalid UTF-8 in a value", "/trees", plain, "{\"name\":\"\xff\",\"below\":[]}", []string{"#/name syntax!"}},
		{"invalid UTF-8 in a name", "/trees", plain, "{\"n\xc3\":1}", []string{"# syntax!"}},
		{"invalid UTF-8 in what is skipped", "/trees", plain, "{\"x\":[\"\xed\xa0\x80\"]}", []string{"#/x syntax!"}},
		{"unpaired surrogate", "/trees", plain, `{"name":"\ud800","below":[]}`, []string{"#/name syntax!"}},
		{"control character", "/trees", plain, "{\"name\":\"\x01\",\"below\":[]}", []string{"#/name syntax!"}},

		{"duplicate", "/trees", plain, `{"name":"a","below":[],"name":"b"}`, []string{"#/name duplicate-member!"}},
		{"duplicate thrice", "/trees", plain, `{"name":"a","below":[],"name":"b","name":7}`, []string{"#/name duplicate-member!"}},
		{"duplicate by escape", "/trees", plain, `{"name":"a","below":[],"n\u0061me":"b"}`, []string{"#/name duplicate-member!"}},
		{"duplicate after a fault", "/trees", plain, `{"name":7,"below":[],"name":"b"}`, []string{"#/name duplicate-member!"}},
		{"duplicate of an unknown", "/trees", plain, `{"name":"a","below":[],"x":1,"x":2}`, []string{"#/x duplicate-member!"}},
		{"same name in two objects", "/trees", plain, `{"name":"a","below":[{"name":"a","below":[]}]}`, nil},

		{"recursion", "/trees", plain, tree(5), nil},
		{"fault in recursion", "/trees", plain, strings.Replace(tree(3), `[]`, `[{}]`, 1), []string{
			"#/below/0/below/0/below/0/below required", "#/below/0/below/0/below/0/name required",
		}},
		{"64 levels", "/trees", plain, tree(32), nil},
		{"65 levels", "/trees", plain, tree(33), []string{"#" + strings.Repeat("/below/0", 32) + " syntax!"}},
		{"deep in a wrong kind", "/trees", plain, deep(64), []string{"# type"}},
		{"too deep in a wrong kind", "/trees", plain, deep(65), []string{"# syntax!"}},
		{"too deep in an unknown member", "/trees", plain, `{"x":` + deep(64) + `}`, []string{"#/x syntax!"}},
		{"deep in a union", "/trees", plain, `{"name":"a","below":[],"side":` + strings.Repeat(`{"kind":"branch","side":`, 62) + `{"kind":"leaf","color":"red"}` + strings.Repeat("}", 63), nil},
		{"too deep in a union", "/trees", plain, `{"name":"a","below":[],"side":` + strings.Repeat(`{"kind":"branch","side":`, 63) + `{"kind":"leaf","color":"red"}` + strings.Repeat("}", 64), []string{"#" + strings.Repeat("/side", 64) + " syntax!"}},

		{"extra members", "/shares", plain, `{"total_percent":100,"lean":70,"fat":30}`, nil},
		{"extra member of a wrong kind", "/shares", plain, `{"total_percent":100,"lean":"70","fat":300}`, []string{"#/fat maximum", "#/lean type"}},
		{"extra member twice", "/shares", plain, `{"total_percent":100,"lean":70,"le\u0061n":30}`, []string{"#/lean duplicate-member!"}},
		{"too few members", "/shares", plain, `{"total_percent":100}`, []string{"# minProperties"}},
		{"too many members", "/shares", plain, `{"total_percent":100,"a":1,"b":1,"c":1,"d":1,"e":1}`, []string{"# maxProperties"}},

		{"nothing to change", "/orders/{order}/{piece}", merge, `{}`, []string{"# minProperties"}},
		{"null everywhere", "/orders/{order}/{piece}", merge, `{"note":null,"meat":null,"cut":null,"rooms":null,"loss_percent":null,"on":null}`, nil},
		{"null in a union that may be null", "/orders/{order}/{piece}", merge, `{"meat":{"meat":null}}`, []string{"#/meat/meat type"}},
		{"nullable of a wrong kind", "/orders/{order}/{piece}", merge, `{"note":1,"meat":1,"cut":1,"rooms":1,"loss_percent":"1","on":1}`, []string{
			"#/cut type", "#/loss_percent type", "#/meat type", "#/note type", "#/on type", "#/rooms type",
		}},
		{"too few items", "/orders/{order}/{piece}", merge, `{"rooms":[]}`, []string{"#/rooms minItems"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			method := http.MethodPost
			if tt.mediaType == merge {
				method = http.MethodPatch
			}
			op, ok := o.contract.Operation(method, tt.path)
			if !ok {
				t.Fatal("no such operation")
			}
			if diff := cmp.Diff(tt.want, brief(op.CheckBody(tt.mediaType, []byte(tt.body)))); diff != "" {
				t.Errorf("%s (-want +got):\n%s", tt.body, diff)
			}
		})
	}
}

// TestFormat has a row for each way that a date, an instant or a UUID goes wrong;
// "only ours" marks those that the schema validator lets pass.
func TestFormat(t *testing.T) {
	t.Parallel()
	o := newOracle(t, keywordsDocument)
	reading, _ := o.contract.Operation(http.MethodPost, "/readings")
	change, _ := o.contract.Operation(http.MethodPatch, "/orders/{order}/{piece}")
	const uuid = "01890a5d-ac96-774b-bcce-b302099a8057"
	date := func(s string) (*contract.Operation, string) { return change, fmt.Sprintf(`{"on":%q}`, s) }
	instant := func(s string) (*contract.Operation, string) {
		return reading, fmt.Sprintf(`{"at":%q,"sensor":%q,"celsius":1}`, s, uuid)
	}
	id := func(s string) (*contract.Operation, string) {
		return reading, fmt.Sprintf(`{"at":"2026-01-31T08:30:00Z","sensor":%q,"celsius":1}`, s)
	}
	tests := []struct {
		in       func(string) (*contract.Operation, string)
		text     string
		ok       bool
		onlyOurs bool
	}{
		{in: date, text: "2026-01-31", ok: true},
		{in: date, text: "2024-02-29", ok: true},
		{in: date, text: "2000-02-29", ok: true},
		{in: date, text: "0000-12-31", ok: true},
		{in: date, text: "2026-02-29"},
		{in: date, text: "1900-02-29"},
		{in: date, text: "2026-04-31"},
		{in: date, text: "2026-00-10"},
		{in: date, text: "2026-13-10"},
		{in: date, text: "2026-01-00"},
		{in: date, text: "2026-01-32"},
		{in: date, text: "2026-1-1"},
		{in: date, text: "26-01-01"},
		{in: date, text: "2026/01/01"},
		{in: date, text: "+026-01-01"},
		{in: date, text: "2026-01-+1"},
		{in: date, text: "2026-01-31T00:00:00Z"},
		{in: date, text: " 2026-01-31"},
		{in: date, text: "2026-01-31\n"},
		{in: date, text: ""},

		{in: instant, text: "2026-01-31T08:30:00Z", ok: true},
		{in: instant, text: "2026-01-31T23:59:59.999999999Z", ok: true},
		{in: instant, text: "2026-01-31T08:30:00.1234567890123Z", ok: true},
		{in: instant, text: "2026-01-31T08:30:00+14:00", ok: true},
		{in: instant, text: "2026-01-31T08:30:00.5-23:59", ok: true},
		{in: instant, text: "2026-01-31T08:30:00-00:00", ok: true},
		{in: instant, text: "2026-12-31T23:59:60Z", onlyOurs: true},
		{in: instant, text: "2026-01-31T24:00:00Z"},
		{in: instant, text: "2026-01-31T08:60:00Z"},
		{in: instant, text: "2026-01-31T08:30:61Z"},
		{in: instant, text: "2026-02-29T08:30:00Z"},
		{in: instant, text: "2026-01-31T8:30:00Z"},
		{in: instant, text: "2026-01-31T08:3:00Z"},
		{in: instant, text: "2026-01-31T08:30Z"},
		{in: instant, text: "2026-01-31T08:30:00"},
		{in: instant, text: "2026-01-31T08:30:00,5Z"},
		{in: instant, text: "2026-01-31T08:30:00.Z"},
		{in: instant, text: "2026-01-31T08:30:00.5"},
		{in: instant, text: "2026-01-31 08:30:00Z"},
		{in: instant, text: "2026-01-31t08:30:00Z"},
		{in: instant, text: "2026-01-31T08:30:00z"},
		{in: instant, text: "2026-01-31T08:30:00ZZ"},
		{in: instant, text: "2026-01-31T08:30:00+1:00"},
		{in: instant, text: "2026-01-31T08:30:00+0100"},
		{in: instant, text: "2026-01-31T08:30:00+24:00"},
		{in: instant, text: "2026-01-31T08:30:00+01:60"},
		{in: instant, text: "2026-01-31T08:30:00+01:00:00"},
		{in: instant, text: "2026-01-31T08:30:00+-1:00"},
		{in: instant, text: "2026-01-31"},
		{in: instant, text: "1769848200"},
		{in: instant, text: ""},

		{in: id, text: uuid, ok: true},
		{in: id, text: strings.ToUpper(uuid), ok: true},
		{in: id, text: "00000000-0000-0000-0000-000000000000", ok: true},
		{in: id, text: "ffffffff-ffff-ffff-ffff-ffffffffffff", ok: true},
		{in: id, text: "01890a5d-ac96-974b-bcce-b302099a8057"},
		{in: id, text: "01890a5d-ac96-774b-ccce-b302099a8057"},
		{in: id, text: "01890a5dac96774bbcceb302099a8057"},
		{in: id, text: "{" + uuid + "}"},
		{in: id, text: "urn:uuid:" + uuid},
		{in: id, text: uuid + "\n"},
		{in: id, text: uuid[:35] + "g"},
		{in: id, text: ""},
	}
	for _, tt := range tests {
		t.Run(tt.text, func(t *testing.T) {
			t.Parallel()
			op, body := tt.in(tt.text)
			found := op.CheckBody(op.BodyTypes()[0], []byte(body))
			if tt.ok != (found == nil) || !tt.ok && found[0].Code != "format" {
				t.Errorf("%s: %+v", body, found)
			}
			theirs := o.judgeBody(t, op, op.BodyTypes()[0], []byte(body))
			if theirs.refused != (!tt.ok && !tt.onlyOurs) {
				t.Errorf("%s: the oracle refuses: %v", body, theirs.refused)
			}
		})
	}
}

// TestFormatReadable makes sure that every instant and date that is let pass can
// be read by the standard library, with which the handlers read it.
func TestFormatReadable(t *testing.T) {
	t.Parallel()
	op := orders(t, http.MethodGet)
	count := 0
	for _, day := range []string{"0000-01-01", "2024-02-29", "2026-02-29", "9999-12-31", "2026-06-31"} {
		for _, clock := range []string{"T00:00:00", "T23:59:59", "T24:00:00", "T8:30:00", "T08:30:60", "T08:30:00.5", "T08:30:00,5", "T08:30:00." + strings.Repeat("3", 40)} {
			for _, zone := range []string{"Z", "+00:00", "-23:59", "+23:60", "+24:00", "", "z"} {
				query := url.Values{"units": {"us"}, "until": {day + clock + zone}, "since": {day}}
				found := op.CheckParameters(nil, query, nil)
				if !slices.ContainsFunc(found, func(v contract.Violation) bool { return v.Parameter == "until" }) {
					count++
					if _, err := time.Parse(time.RFC3339, query.Get("until")); err != nil {
						t.Error(err)
					}
				}
				_, err := time.Parse(time.DateOnly, day)
				if bad := slices.ContainsFunc(found, func(v contract.Violation) bool { return v.Parameter == "since" }); bad != (err != nil) {
					t.Errorf("%s: refused %v, but reading it says %v", day, bad, err)
				}
			}
		}
	}
	if want := 3 * 4 * 3; count != want { // good days, clocks and zones
		t.Errorf("%d instants are let pass, want %d", count, want)
	}
}

func TestCheckParameters(t *testing.T) {
	t.Parallel()
	o := newOracle(t, keywordsDocument)
	tests := []struct {
		name, query string
		want        []string
	}{
		{"least", "units=us", nil},
		{"all", "units=metric&limit=200&since=2026-01-31&until=2026-01-31T08:30:00%2B01:00&ph=14&dried=false&room=warm&room=cold&rulebook=us,eu&day=1,2,3&text=p%20rk", nil},
		{"required missing", "", []string{"units required"}},
		{"empty for an enum", "units=", []string{"units enum"}},
		{"wrong case", "units=US", []string{"units enum"}},
		{"unknown", "units=us&unit=us&x=", []string{"unit additional-parameter", "x additional-parameter"}},
		{"repeated", "units=us&units=us&limit=1&limit=2", []string{"limit duplicate-parameter", "units duplicate-parameter"}},
		{"a list repeated", "units=us&rulebook=us&rulebook=eu", []string{"rulebook duplicate-parameter"}},
		{"integer below", "units=us&limit=0", []string{"limit minimum"}},
		{"integer above", "units=us&limit=201", []string{"limit maximum"}},
		{"integer huge", "units=us&limit=99999999999999999999", []string{"limit maximum"}},
		{"integer with a point", "units=us&limit=1.0", []string{"limit type"}},
		{"integer with an exponent", "units=us&limit=1e1", []string{"limit type"}},
		{"integer with a sign", "units=us&limit=%2B1", []string{"limit type"}},
		{"integer with a zero before", "units=us&limit=01", []string{"limit type"}},
		{"integer with space", "units=us&limit=%201", []string{"limit type"}},
		{"integer with digits apart", "units=us&limit=1_0", []string{"limit type"}},
		{"integer in other digits", "units=us&limit=%D9%A1", []string{"limit type"}},
		{"integer empty", "units=us&limit=", []string{"limit type"}},
		{"integer null", "units=us&limit=null", []string{"limit type"}},
		{"number NaN", "units=us&ph=NaN", []string{"ph type"}},
		{"number infinite", "units=us&ph=Inf", []string{"ph type"}},
		{"number hexadecimal", "units=us&ph=0x1p2", []string{"ph type"}},
		{"number beyond float64", "units=us&ph=1e999", []string{"ph maximum"}},
		{"number at an open bound", "units=us&ph=0", []string{"ph exclusiveMinimum"}},
		{"number with exponent", "units=us&ph=53e-1", nil},
		{"number with a comma", "units=us&ph=5,3", []string{"ph type"}},
		{"boolean as a digit", "units=us&dried=1", []string{"dried type"}},
		{"boolean in capitals", "units=us&dried=TRUE", []string{"dried type"}},
		{"boolean empty", "units=us&dried=", []string{"dried type"}},
		{"date", "units=us&since=31.1.2026", []string{"since format"}},
		{"array item unknown", "units=us&room=warm&room=attic", []string{"room enum"}},
		{"array too long", "units=us&room=warm&room=cold&room=oven&room=warm", []string{"room maxItems"}},
		{"array with commas where it is repeated", "units=us&room=warm,cold", []string{"room enum"}},
		{"list too long", "units=us&rulebook=us,eu,gb,us", []string{"rulebook maxItems"}},
		{"list item unknown", "units=us&rulebook=us,ca", []string{"rulebook enum"}},
		{"list item empty", "units=us&rulebook=us,", []string{"rulebook enum"}},
		{"list empty", "units=us&day=", []string{"day type"}},
		{"list of numbers", "units=us&day=1,two", []string{"day type"}},
		{"list of numbers out of bounds", "units=us&day=1,91", []string{"day maximum"}},
		{"text too short", "units=us&text=a", []string{"text minLength"}},
		{"text too long in characters", "units=us&text=%C3%A9%C3%A9%C3%A9%C3%A9%C3%A9%C3%A9", []string{"text maxLength"}},
		{"text against the pattern", "units=us&text=ab*", []string{"text pattern"}},
		{"text of invalid UTF-8", "units=us&text=%FF%FF", []string{"text syntax"}},
		{"several", "limit=x&room=x&x=x", []string{"limit type", "room enum", "units required", "x additional-parameter"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			op, _ := o.contract.Operation(http.MethodGet, "/orders")
			query, err := url.ParseQuery(tt.query)
			if err != nil {
				t.Fatal(err)
			}
			found := op.CheckParameters(func(string) string { return "" }, query, nil)
			if diff := cmp.Diff(tt.want, brief(found)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			for _, v := range found {
				if !v.Malformed || v.Pointer != "" || v.Detail == "" {
					t.Errorf("%+v is not malformed, has a pointer or says nothing", v)
				}
			}
		})
	}
}

func TestCheckParametersElsewhere(t *testing.T) {
	t.Parallel()
	o := newOracle(t, keywordsDocument)
	const uuid = "01890a5d-ac96-774b-bcce-b302099a8057"
	tests := []struct {
		name, order, piece string
		header             http.Header
		want               []string
	}{
		{"good", uuid, "1", http.Header{"If-Match": {`"7"`}}, nil},
		{"other headers", uuid, "1", http.Header{"If-Match": {`"7"`}, "X-Other": {"a", "b"}}, nil},
		{"no header", uuid, "1", nil, []string{"If-Match required"}},
		{"header empty", uuid, "1", http.Header{"If-Match": {""}}, []string{"If-Match minLength"}},
		{"header twice", uuid, "1", http.Header{"If-Match": {"a", "b"}}, []string{"If-Match duplicate-parameter"}},
		{"header too long", uuid, "1", http.Header{"If-Match": {strings.Repeat("x", 21)}}, []string{"If-Match maxLength"}},
		{"path of a wrong format", "7", "1", http.Header{"If-Match": {"a"}}, []string{"order format"}},
		// The operation's own parameter stands before the path's, which is a string.
		{"path of a wrong type", uuid, "a", http.Header{"If-Match": {"a"}}, []string{"piece type"}},
		{"path out of bounds", uuid, "100", http.Header{"If-Match": {"a"}}, []string{"piece maximum"}},
		{"path empty", "", "", http.Header{"If-Match": {"a"}}, []string{"order required", "piece required"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			op, _ := o.contract.Operation(http.MethodPatch, "/orders/{order}/{piece}")
			path := func(name string) string { return map[string]string{"order": tt.order, "piece": tt.piece}[name] }
			if diff := cmp.Diff(tt.want, brief(op.CheckParameters(path, nil, tt.header))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// TestDetail asserts what tells people apart: that the value and the bound are
// named, that long values are cut, that a slip of the pen is recognised.
func TestDetail(t *testing.T) {
	t.Parallel()
	op := orders(t, http.MethodPost)
	tests := []struct {
		name, member, value string
		want                []string // parts of the detail
	}{
		{"maximum", "grind_mm", "250", []string{"250", "at most 20"}},
		{"minimum of a long number", "grind_mm", "-" + strings.Repeat("9", 100), []string{"-999", "...", "at least 2"}},
		{"enum", "amount", `{"meat":{"value":1,"unit":"stone"}}`, []string{`"stone"`, "kg, g, mg, lb, oz"}},
		{"length", "name", `"` + strings.Repeat("A", 30) + `"`, []string{"30 characters", "at most 24"}},
		{"pattern", "name", `"9"`, []string{"1 character", "at least 2"}},
		{"format", "date", `"` + strings.Repeat("31.1.2026 ", 20) + `"`, []string{`"31.1.2026`, `..."`, "a date such as"}},
		{"type", "pieces", `"twelve"`, []string{`the string "twelve"`, "a whole number"}},
		{"type of an object", "pieces", `{"n":1}`, []string{"an object", "a whole number"}},
		{"null", "pieces", `null`, []string{"null", "a whole number"}},
		{"slip of the pen", "smoekd", `1`, []string{"did you mean smoked?"}},
		{"no slip of the pen", "temperature", `1`, []string{"the members are: additions, amount, date"}},
		{"union", "amount", `{}`, []string{"(meat), (batch), (casing, pieces)"}},
		{"items", "plan", `[1,1,1,1,1,1,1]`, []string{"7 values", "at most 6"}},
		{"place", "pieces", "\n  1 2", []string{"line 2, character 5"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			members := good()
			members[tt.member] = tt.value
			found := op.CheckBody("application/json", []byte(write(members)))
			if len(found) == 0 {
				t.Fatal("nothing was found")
			}
			for _, part := range tt.want {
				if !strings.Contains(found[0].Detail, part) {
					t.Errorf("detail %q does not hold %q", found[0].Detail, part)
				}
			}
			if strings.HasSuffix(found[0].Detail, ".") || len(found[0].Detail) > 300 {
				t.Errorf("detail %q ends in a full stop or is long", found[0].Detail)
			}
		})
	}
}

func TestAtMost100(t *testing.T) {
	t.Parallel()
	op := orders(t, http.MethodPost)
	members := good()
	members["additions"] = "[" + strings.Repeat(`{"x":1},`, 400) + "{}]"
	found := op.CheckBody("application/json", []byte(write(members)))
	if len(found) != 100 {
		t.Errorf("%d violations, want 100", len(found))
	}
	if !slices.IsSortedFunc(found, func(a, b contract.Violation) int { return strings.Compare(a.Pointer, b.Pointer) }) {
		t.Error("not sorted by pointer")
	}
	// What makes the body unreadable is told whatever came before.
	found = op.CheckBody("application/json", []byte(write(members)+"x"))
	if len(found) != 100 || !slices.ContainsFunc(found, func(v contract.Violation) bool { return v.Code == "syntax" && v.Malformed }) {
		t.Errorf("%d violations, none of them syntax", len(found))
	}
	// One long name does not make a long answer.
	found = op.CheckBody("application/json", fmt.Appendf(nil, `{"%s":1}`, strings.Repeat("n", 1<<20)))
	text, err := json.Marshal(found)
	if err != nil || len(text) > 4000 {
		t.Errorf("%d bytes, %v", len(text), err)
	}
}

// TestHostile gives the bodies that a check must not choke on, most as large as
// a body may be.
func TestHostile(t *testing.T) {
	t.Parallel()
	o := newOracle(t, keywordsDocument)
	const size = 1 << 20
	fillTo := func(size int, head, part, tail string) string {
		return head + strings.Repeat(part, (size-len(head)-len(tail))/len(part)) + tail
	}
	fill := func(head, part, tail string) string { return fillTo(size, head, part, tail) }
	for _, tt := range []struct{ name, path, body, code string }{
		{"10,000 arrays", "/trees", strings.Repeat("[", 10_000) + strings.Repeat("]", 10_000), "syntax"},
		{"open arrays", "/trees", strings.Repeat("[", size), "syntax"},
		{"open objects", "/trees", fill("", `{"side":`, ""), "syntax"},
		{"trees", "/trees", fill("", `{"name":"a","below":[`, ""), "syntax"},
		{"unions", "/trees", fill(`{"name":"a","below":[],"side":`, `{"kind":"branch","side":`, ""), "syntax"},
		{"open unions with the tag last", "/trees", fill(`{"name":"a","below":[],"side":`, `{"side":`, ""), "syntax"},
		{"a large body in nested unions", "/trees", fillTo(size/4, `{"name":"a","below":[],"side":`+strings.Repeat(`{"side":`, 60)+`{"color":"`, "x", `","kind":"leaf"}`+strings.Repeat(`,"kind":"branch"}`, 60)+"}"), "maxLength"},
		{"many small values in nested unions", "/trees", fillTo(size/8, `{"name":"a","below":[],"side":`+strings.Repeat(`{"side":`, 60)+`{"color":[`, "1,", `1],"kind":"leaf"}`+strings.Repeat(`,"kind":"branch"}`, 60)+"}"), "type"},
		{"a long number", "/shares", fill(`{"total_percent":`, "9", "}"), "type"},
		{"a long fraction", "/shares", fill(`{"total_percent":0.`, "9", "}"), "type"},
		{"a long exponent", "/shares", fill(`{"total_percent":1e`, "9", "}"), "type"},
		{"a long string", "/trees", fill(`{"name":"`, `\u0041`, `","below":[]}`), "maxLength"},
		{"many items", "/trees", fill(`{"name":"a","below":[`, `{},`, `{}]}`), "maxItems"},
		{"many duplicates", "/trees", fill(`{`, `"name":"a",`, `"below":[]}`), "duplicate-member"},
		{"spaces", "/trees", fill("", " ", ""), "syntax"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			op, _ := o.contract.Operation(http.MethodPost, tt.path)
			found := op.CheckBody("application/json", []byte(tt.body))
			if !slices.ContainsFunc(found, func(v contract.Violation) bool { return v.Code == tt.code }) {
				t.Errorf("no %s in %v", tt.code, brief(found)[:min(len(found), 5)])
			}
			for _, v := range found {
				if len(v.Pointer) > 2000 || len(v.Detail) > 500 {
					t.Errorf("long violation: %+v", v)
				}
			}
		})
	}
	// Names that differ each, which have to be compared to find duplicates.
	var body strings.Builder
	body.WriteString(`{"total_percent":1`)
	for i := 0; body.Len() < size; i++ {
		fmt.Fprintf(&body, `,"n%d":1`, i)
	}
	body.WriteString("}")
	op, _ := o.contract.Operation(http.MethodPost, "/shares")
	if diff := cmp.Diff([]string{"# maxProperties"}, brief(op.CheckBody("application/json", []byte(body.String())))); diff != "" {
		t.Errorf("many names (-want +got):\n%s", diff)
	}
}

func TestConcurrentUse(t *testing.T) {
	t.Parallel()
	op := orders(t, http.MethodPost)
	body := order()
	bad := []byte(strings.Replace(string(body), `"smoked": false`, `"smoked": 1`, 1))
	want := []contract.Violation{{Pointer: "#/smoked", Code: "type"}}
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			for range 200 {
				if found := op.CheckBody("application/json", body); found != nil {
					t.Errorf("the good body: %+v", found)
				}
				if diff := cmp.Diff(want, op.CheckBody("application/json", bad), cmpopts.IgnoreFields(contract.Violation{}, "Detail")); diff != "" {
					t.Errorf("the bad body (-want +got):\n%s", diff)
				}
			}
		})
	}
	group.Wait()
}

// TestAllocations is not parallel because of testing.AllocsPerRun.
func TestAllocations(t *testing.T) { //nolint:paralleltest // see above
	op := orders(t, http.MethodPost)
	body := order()
	got := testing.AllocsPerRun(200, func() {
		if op.CheckBody("application/json", body) != nil {
			t.Error("refused")
		}
	})
	// None, but with the race detector the pool forgets a checker now and then.
	if got > 20 {
		t.Errorf("%v allocations for a good body", got)
	}
}

func TestSchema(t *testing.T) {
	t.Parallel()
	c := newOracle(t, keywordsDocument).contract
	if _, ok := c.Schema("no-such-schema"); ok {
		t.Error("a schema that there is not")
	}
	room, ok := c.Schema("Room")
	if !ok {
		t.Fatal("Room is not known")
	}
	if found := room.Check([]byte(`12`)); len(found) != 1 || found[0].Code != "type" || found[0].Pointer != "#" {
		t.Errorf("got %+v", found)
	}
}
