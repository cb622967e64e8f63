package api

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/prometheus/client_golang/prometheus"
	"pgregory.net/rapid"

	"greenweight/api/apitest"
	"greenweight/api/contract"
	"greenweight/api/stream"
	"greenweight/api/table"
	"greenweight/openapi"
)

// goodLine is the formula of goodCheck.
var goodLine = goodCheck[len(`{"formula":`):strings.Index(goodCheck, `,"rulebooks"`)]

// collect posts a collection and returns the answer and its lines.
func collect(t *testing.T, client *apitest.Client, query string, body []byte, r apitest.Request) (apitest.Answer, []string) {
	t.Helper()
	if r.Header == nil {
		r.Header = http.Header{}
	}
	if r.Header.Get("Content-Type") == "" {
		r.Header.Set("Content-Type", mediaTypeNDJSON)
	}
	r.Method, r.Path, r.Body = http.MethodPost, pathFormulaChecks+"?"+query, body
	a := client.Do(t, r)
	if a.Status != http.StatusOK {
		t.Fatalf("status %d: %s", a.Status, a.Body)
	}
	return a, strings.Split(strings.TrimSuffix(string(a.Body), "\n"), "\n")
}

var badLines = apitest.Request{BadLines: true}

// line is any line of an answer.
type line struct {
	openapi.FormulaCheckResult
	Problem *openapi.Problem
	Final   bool
}

func readLine(t *testing.T, text string) line {
	t.Helper()
	var l line
	if err := json.Unmarshal([]byte(text), &l); err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return l
}

func readFinal(t *testing.T, text string) openapi.FormulaCheckFinal {
	t.Helper()
	f := apitest.Decode[openapi.FormulaCheckFinal](t, apitest.Answer{Body: []byte(text)})
	if !f.Final {
		t.Fatalf("%s is not the final line", text)
	}
	return f
}

// asLine returns the value of an example on one line.
func asLine(t *testing.T, name string) string {
	t.Helper()
	var text bytes.Buffer
	if err := json.Compact(&text, readExample(t, name).Value); err != nil {
		t.Fatal(err)
	}
	return text.String()
}

// The collection of the examples: one formula within the limits of both
// rulebooks, one with 2.5 g/kg of a cure of 6.25 % nitrite, which is 156.25
// mg/kg on the meat: allowed in us, and in eu more than 80 mg/kg as the ion on
// everything mixed; and a line that ends too early.
func TestExamplesOfCollections(t *testing.T) {
	t.Parallel()
	broken := asLine(t, "collection-over-in-eu.request")
	body := asLine(t, "collection-within.request") + "\n" + asLine(t, "collection-over-in-eu.request") + "\n" + broken[:len(broken)/2]
	_, got := collect(t, testClient(t), "rulebooks=us,eu&date=2026-11-25", []byte(body),
		apitest.Request{BadLines: true, Header: http.Header{headerRequestID: {"example-of-three"}}})
	names := []string{"collection-within.answer", "collection-over-in-eu.answer", "collection-broken-line.answer", "collection-final.answer"}
	if len(got) != len(names) {
		t.Fatalf("want %d lines, got %d: %s", len(names), len(got), got)
	}
	for i, name := range names {
		golden(t, name, apitest.Answer{Status: http.StatusOK, Body: []byte(got[i])}, near)
	}
}

// A line spoils itself alone, whatever is wrong with it.
func TestBadLines(t *testing.T) {
	t.Parallel()
	with := func(old, replacement string) string {
		if strings.Count(goodLine, old) != 1 {
			t.Fatalf("%q is not in the good line once", old)
		}
		return strings.Replace(goodLine, old, replacement, 1)
	}
	cases := []struct {
		name, line string
		want       refused
	}{
		{"no JSON", "a recipe", malformed("# syntax")},
		{"cut off", goodLine[:40], malformed("#/product syntax")},
		{"two values", goodLine + goodLine, malformed("# syntax")},
		{"invalid UTF-8", with("Test ring", "Test \xff ring"), malformed("#/name syntax")},
		{"member twice", with(`"product"`, `"name":"Again","product"`), malformed("#/name duplicate-member")},
		{"unknown member", with(`"product"`, `"colour":"red","product"`), invalid("#/colour additional-member")},
		{"no object", "[]", invalid("# type")},
		{"several", `{"name":"","product":"cheese","parts":[],"additions":[]}`,
			invalid("#/name minLength", "#/parts minItems", "#/product enum")},
		{"too deep", strings.Repeat("[", 1000), malformed("# syntax")},
		{"unknown material", with("pork-shoulder-whole-lean-and-fat", "moon-rock"), invalid("#/parts/0/material unknown-material")},
		{"rule between members", with(`"role":"cure"`, `"role":"salt"`),
			invalid("#/additions/0/cure additional-member", "#/additions/0/material required")},
		{"shares that are not all", with(`"share_percent":100`, `"share_percent":60`), invalid("#/parts sum")},
		{"too long", with("Test ring", strings.Repeat("x", maxLine)), refused{413, "too-large", nil}},
	}
	body := []string{goodLine}
	for _, tc := range cases {
		body = append(body, tc.line, "", goodLine)
	}
	_, got := collect(t, testClient(t), "rulebooks=us", []byte(strings.Join(body, "\r\n")), badLines)
	if len(got) != 2*len(cases)+2 {
		t.Fatalf("want %d lines, got %d", 2*len(cases)+2, len(got))
	}
	for i, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			bad, after := readLine(t, got[2*i+1]), readLine(t, got[2*i+2])
			if bad.Problem == nil {
				t.Fatalf("no problem: %s", got[2*i+1])
			}
			is := refusedBy(apitest.Answer{Status: bad.Problem.Status, Problem: bad.Problem})
			if d := cmp.Diff(tc.want, is); d != "" {
				t.Errorf("problem (-want +got):\n%s%s", d, got[2*i+1])
			}
			if bad.Line != int64(3*i+2) || after.Line != int64(3*i+4) || after.Problem != nil || after.Status == "" {
				t.Errorf("line %d, then line %d of status %q", bad.Line, after.Line, after.Status)
			}
		})
	}
	final := readFinal(t, got[len(got)-1])
	if final.Formulas != int64(2*len(cases)+1) || final.Problems != int64(len(cases)) {
		t.Errorf("%d formulas and %d problems", final.Formulas, final.Problems)
	}
}

// Refusals that come before the first line.
func TestRefusedCollections(t *testing.T) {
	t.Parallel()
	path := pathFormulaChecks + "?rulebooks=us"
	lines, csvBody := []byte(goodLine+"\n"), http.Header{"Content-Type": {mediaTypeCSV}}
	for _, tc := range []struct {
		name, path string
		header     http.Header
		body       []byte
		want       refused
	}{
		{"no rulebooks", pathFormulaChecks, nil, lines, malformed("rulebooks required")},
		{"unknown rulebook", pathFormulaChecks + "?rulebooks=us,mars", nil, lines, malformed("rulebooks enum")},
		{"rulebook twice", pathFormulaChecks + "?rulebooks=us,eu,us", nil, lines, invalid("rulebooks duplicate")},
		{"no date", path + "&date=2026-02-30", nil, lines, malformed("date format")},
		{"unknown findings", path + "&findings=some", nil, lines, malformed("findings enum")},
		{"unknown parameter", path + "&units=us", nil, lines, malformed("units additional-parameter")},
		{"JSON", path, http.Header{"Content-Type": {mediaTypeJSON}}, lines, refused{415, "unsupported-media-type", nil}},
		{"other compression", path, http.Header{"Content-Encoding": {"br"}}, lines, refused{415, "unsupported-media-type", nil}},
		{"no such answer", path, http.Header{"Accept": {"application/pdf"}}, lines, refused{406, "not-acceptable", nil}},
		{"not compressed after all", path, http.Header{"Content-Encoding": {"gzip"}}, lines, refused{400, "malformed-request", nil}},
		{"table without headings", path, csvBody, nil, refused{400, "malformed-request", []string{" malformed-table"}}},
		{"table with another heading", path, csvBody, []byte("formula,colour\n"), invalid("#/0/1 unknown-column")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			header := http.Header{"Content-Type": {mediaTypeNDJSON}}
			for name, values := range tc.header {
				header[name] = values
			}
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: tc.path, Header: header, Body: tc.body, Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
}

// Nothing, and nothing but empty lines, has the final line alone.
func TestEmptyCollections(t *testing.T) {
	t.Parallel()
	for name, body := range map[string]string{"nothing": "", "empty lines": "\n  \r\n\n"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, got := collect(t, testClient(t), "rulebooks=eu", []byte(body), badLines)
			final := readFinal(t, got[0])
			if len(got) != 1 || final.Formulas != 0 || final.Date.String() != "2026-11-25" {
				t.Errorf("got %s", got)
			}
		})
	}
}

// A compressed collection is read as it comes; one that is made to fill the
// memory is read no further than it is honest.
func TestCompressedCollections(t *testing.T) {
	t.Parallel()
	zip := func(text string) []byte {
		var zipped bytes.Buffer
		w := gzip.NewWriter(&zipped)
		_, _ = w.Write([]byte(text)) // to memory
		_ = w.Close()
		return zipped.Bytes()
	}
	zipped := apitest.Request{BadLines: true, Header: http.Header{"Content-Encoding": {"gzip"}}}
	_, got := collect(t, testClient(t), "rulebooks=us", zip(strings.Repeat(goodLine+"\n", 100)), zipped)
	if final := readFinal(t, got[len(got)-1]); final.Formulas != 100 || final.Problems != 0 {
		t.Errorf("got %+v", final)
	}
	bomb := zip(goodLine + "\n" + strings.Repeat(" ", 100<<20) + "\n" + goodLine)
	_, got = collect(t, testClient(t), "rulebooks=us", bomb, apitest.Request{BadLines: true, Header: zipped.Header.Clone()})
	if len(got) != 2 {
		t.Fatalf("got %s", got)
	}
	if last := readLine(t, got[1]); last.Problem == nil || last.Problem.Status != http.StatusRequestEntityTooLarge || last.Line != 2 {
		t.Errorf("the last line is %s", got[1])
	}
}

// anyFormula draws formulas as makers write them, by no means all of them right.
func anyFormula(t *rapid.T) string {
	pick := func(label string, words ...string) string { return rapid.SampledFrom(words).Draw(t, label) }
	number := func(label string, low, high float64) string {
		return strconv.FormatFloat(rapid.Float64Range(low, high).Draw(t, label), 'g', 4, 64)
	}
	share := func(label string, low, high float64) string { // in g/kg
		switch rapid.IntRange(0, 4).Draw(t, label+" unit") {
		case 0:
			return `{"value":` + number(label, low, high) + `,"unit":"g_per_kg","base":"batch"}`
		case 1:
			return `{"value":` + number(label, low, high) + `,"unit":"g","per":{"value":1,"unit":"kg"}}`
		case 2:
			return `{"value":` + number(label, low/10, high/10) + `,"unit":"tsp","per":{"value":1,"unit":"lb"}}`
		default:
			return `{"value":` + number(label, low, high) + `,"unit":"g_per_kg"}`
		}
	}
	additions := []string{`{"role":"salt","material":"salt-table","rate":` + share("salt", 15, 40) + `}`}
	for range rapid.IntRange(0, 2).Draw(t, "cures") {
		cure := `{"key":"` + pick("cure", "cure-1", "cure-2", "nitrite-salt", "saltpetre", "sodium-nitrite") + `"}`
		if rapid.Bool().Draw(t, "by assay") {
			cure = `{"assay":{"sodium_nitrite_percent":` + number("assay", 0.1, 10) + `,"salt_percent":80}}`
		}
		additions = append(additions, `{"role":"cure","name":"The \"cure\" é","cure":`+cure+`,"rate":`+share("dose", 0.1, 4)+`}`)
	}
	if rapid.Bool().Draw(t, "sugared") {
		additions = append(additions, `{"role":"sugar","material":"dextrose-monohydrate","rate":`+share("sugar", 1, 9)+`}`)
	}
	if rapid.Bool().Draw(t, "cultured") {
		additions = append(additions, `{"role":"culture","name":"Starter","culture":{"label_dose_g_per_kg":0.2},"rate":`+share("culture", 0.1, 0.4)+
			`,"rehydration_water":{"value":5,"unit":"mL","per":{"value":1,"unit":"kg"}}}`)
	}
	if rapid.Bool().Draw(t, "mixed") {
		additions = append(additions, `{"role":"other","name":"A mix","brings_none":`+pick("none", "true", "false")+`,"rate":`+share("mix", 1, 9)+`}`)
	}
	if rapid.IntRange(0, 9).Draw(t, "wrong") == 0 {
		additions = append(additions, `{"role":"sugar","material":"salt-table","rate":`+share("wrong", 1, 9)+`}`)
	}
	plan := ""
	if rapid.Bool().Draw(t, "planned") {
		plan = `,"plan":{"loss_percent":` + number("loss", 10, 50) + `,"label_keep_refrigerated":` + pick("cold", "true", "false") + `,` +
			`"drying":[{"temperature":{"value":13,"unit":"degC"},"relative_humidity_percent":78,"days":20}]}`
	}
	lean := rapid.IntRange(60, 95).Draw(t, "lean")
	return fmt.Sprintf(`{"name":%q,"product":%q,"parts":[{"material":"pork-leg-lean-only","share_percent":%d},{"material":"pork-backfat","share_percent":%d}],"additions":[%s]%s}`,
		pick("name", "Ring", "=1+1", "Käse", "a, \"b\""), pick("product", "dry-sausage", "semi-dry-sausage", "spreadable-raw-sausage", "cooked-sausage"),
		lean, 100-lean, strings.Join(additions, ","), plan)
}

// The line of a formula says what the check of that formula alone says: the same
// counts, so the same status, and the same of what needs attention, or the same
// problem.
func TestLinesSayWhatTheCheckSays(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	rapid.Check(t, func(r *rapid.T) {
		lines := make([]string, 0, 8)
		for range rapid.IntRange(1, 8).Draw(r, "formulas") {
			lines = append(lines, anyFormula(r))
		}
		rulebooks := rapid.Permutation([]string{"us", "eu", "gb", "ca", "anz", "codex", "dk", "de", "br"}).Draw(r, "rulebooks")[:rapid.IntRange(1, 3).Draw(r, "how many")]
		shown := rapid.SampledFrom([]string{"attention", "all", "none"}).Draw(r, "findings")
		_, got := collect(t, client, "rulebooks="+strings.Join(rulebooks, ",")+"&date=2026-11-25&findings="+shown, []byte(strings.Join(lines, "\n")), badLines)
		if len(got) != len(lines)+1 {
			r.Fatalf("%d lines for %d", len(got), len(lines))
		}
		sum := openapi.FormulaCounts{}
		for i, text := range lines {
			l := readLine(t, got[i])
			alone := client.Do(t, apitest.Request{
				Method: http.MethodPost, Path: pathCheck, BadLines: true,
				Body: []byte(`{"formula":` + text + `,"rulebooks":["` + strings.Join(rulebooks, `","`) + `"],"date":"2026-11-25"}`),
			})
			if l.Line != int64(i+1) {
				r.Fatalf("line %d comes as line %d", i+1, l.Line)
			}
			if alone.Problem != nil || l.Problem != nil {
				if d := cmp.Diff(alone.Pointers(), inFormula(apitest.Answer{Problem: l.Problem}.Pointers())); d != "" {
					r.Fatalf("problem (-alone +line):\n%s%s\n%s", d, alone.Body, got[i])
				}
				continue
			}
			whole := apitest.Decode[openapi.CheckAnswer](t, alone)
			countStatus(&sum, l.Status)
			sortCounts(whole.Summary)
			sortCounts(l.Summary)
			if d := cmp.Diff(whole.Summary, l.Summary); d != "" {
				r.Fatalf("summary (-alone +line):\n%s", d)
			}
			if want := worstOf(whole.Findings); want != l.Status {
				r.Fatalf("status is %s, want %s", l.Status, want)
			}
			if d := cmp.Diff(saidOf(whole.Findings, shown), saidOf(l.Findings, shown)); d != "" {
				r.Fatalf("findings (-alone +line):\n%s", d)
			}
		}
		if d := cmp.Diff(sum, readFinal(t, got[len(lines)]).ByStatus); d != "" {
			r.Fatalf("counts of the final line (-want +got):\n%s", d)
		}
	})
}

// inFormula returns the places of a problem as they are in an order.
func inFormula(places []string) []string {
	for i := range places {
		places[i] = strings.Replace(places[i], "#", "#/formula", 1)
	}
	return places
}

func countStatus(c *openapi.FormulaCounts, s openapi.FormulaStatus) {
	switch s {
	case openapi.FormulaStatusHazard:
		c.Hazard++
	case openapi.FormulaStatusNotMet:
		c.NotMet++
	case openapi.FormulaStatusNear:
		c.Near++
	case openapi.FormulaStatusNotShown:
		c.NotShown++
	case openapi.FormulaStatusMet:
		c.Met++
	}
}

func sortCounts(counts []openapi.StatusCounts) {
	slices.SortFunc(counts, func(a, b openapi.StatusCounts) int {
		key := func(c openapi.StatusCounts) string { return fmt.Sprint(deref(c.Rulebook), c.Stage, c.Authority) }
		return strings.Compare(key(a), key(b))
	})
}

func deref(r *openapi.RulebookKey) openapi.RulebookKey {
	if r == nil {
		return ""
	}
	return *r
}

// worstOf is the status of a formula by the words of the contract.
func worstOf(findings []openapi.Finding) openapi.FormulaStatus {
	order := []openapi.FindingStatus{"not-applicable", "met", "not-shown", "near", "not-met", "hazard"}
	worst := 0
	for _, f := range findings {
		if f.Stage == openapi.StageFormula {
			worst = max(worst, slices.Index(order, f.Status))
		}
	}
	if worst == 0 {
		return openapi.FormulaStatusNotShown
	}
	return openapi.FormulaStatus(order[worst])
}

// saidOf is what a line shows of findings: all of them, or those that need
// attention.
func saidOf(findings []openapi.Finding, shown string) []string {
	var said []string
	for _, f := range findings {
		attention := f.Status == openapi.FindingStatusHazard || f.Status == openapi.FindingStatusNotMet || f.Status == openapi.FindingStatusNear
		if shown == "none" || shown == "attention" && !attention {
			continue
		}
		text, err := json.Marshal(openapi.Finding{
			Code: f.Code, Rulebook: f.Rulebook, LimitID: f.LimitID, GuideID: f.GuideID, Status: f.Status, Stage: f.Stage, Authority: f.Authority,
			Subject: f.Subject, Measured: f.Measured, Limit: f.Limit, Reason: f.Reason, Source: f.Source,
		})
		if err != nil {
			return []string{err.Error()}
		}
		said = append(said, string(text))
	}
	return said
}

// The same formulas as a table have the same answers, at the lines of their
// rows, and an answer as a table has the counts of the other.
func TestTablesSayWhatLinesSay(t *testing.T) {
	t.Parallel()
	client := testClient(t)
	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	layout, err := table.NewLayout(document)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(r *rapid.T) {
		formulas, lines := [][]byte{}, []string{}
		for range rapid.IntRange(0, 6).Draw(r, "formulas") {
			f := anyFormula(r)
			formulas, lines = append(formulas, []byte(f)), append(lines, f)
		}
		var rows bytes.Buffer
		if err := table.Write(&rows, layout, formulas...); err != nil {
			r.Fatal(err)
		}
		const query = "rulebooks=us,eu"
		_, want := collect(t, client, query, []byte(strings.Join(lines, "\n")), badLines)
		_, got := collect(t, client, query, rows.Bytes(), apitest.Request{Header: http.Header{"Content-Type": {mediaTypeCSV}}, BadLines: true})
		if len(want) != len(got) {
			r.Fatalf("%d lines, but %d of the table", len(want), len(got))
		}
		for i := range lines {
			w, g := readLine(t, want[i]), readLine(t, got[i])
			if w.Problem != nil && g.Problem != nil {
				w.Problem, g.Problem = &openapi.Problem{Type: w.Problem.Type}, &openapi.Problem{Type: g.Problem.Type}
			}
			if d := cmp.Diff(w, g, cmpopts.IgnoreFields(openapi.FormulaCheckResult{}, "Line")); d != "" {
				r.Fatalf("line %d (-line +table):\n%s", i+1, d)
			}
		}
		answer, _ := collect(t, client, query, rows.Bytes(), apitest.Request{
			Header: http.Header{"Content-Type": {mediaTypeCSV}, "Accept": {mediaTypeCSV}}, BadLines: true,
		})
		records, err := csv.NewReader(bytes.NewReader(answer.Body)).ReadAll()
		if err != nil {
			r.Fatal(err)
		}
		if len(records) != len(got)+1 || !slices.Equal(records[0], tableHeadings) {
			r.Fatalf("%d rows for %d lines: %q", len(records), len(got), records[0])
		}
		for i := range lines {
			rowSaysTheLine(r, records[i+1], readLine(t, got[i]))
		}
		final, last := readFinal(t, got[len(lines)]), records[len(lines)+1]
		c := final.ByStatus
		if d := cmp.Diff(fmt.Sprint([]any{"final", c.Hazard, c.NotMet, c.Near, c.NotShown, c.Met, final.Problems}),
			fmt.Sprint([]any{last[0], last[4], last[5], last[6], last[7], last[8], last[11]})); d != "" {
			r.Fatalf("final row (-line +row):\n%s", d)
		}
	})
}

func rowSaysTheLine(r *rapid.T, row []string, l line) {
	if l.Problem != nil {
		if row[0] != "problem" || row[1] != strconv.FormatInt(l.Line, 10) || row[11] != slugOfType(l.Problem.Type) || row[12] == "" {
			r.Fatalf("row %q of a problem %+v", row, l.Problem)
		}
		return
	}
	name := l.Name
	if strings.HasPrefix(name, "=") {
		name = "'" + name
	}
	var sum openapi.StatusCounts
	for _, c := range l.Summary {
		if c.Stage == openapi.StageFormula {
			sum.Hazard, sum.NotMet, sum.Near = sum.Hazard+c.Hazard, sum.NotMet+c.NotMet, sum.Near+c.Near
			sum.NotShown, sum.Met, sum.NotApplicable = sum.NotShown+c.NotShown, sum.Met+c.Met, sum.NotApplicable+c.NotApplicable
		}
	}
	want := fmt.Sprint([]any{"formula", l.Line, name, l.Status, sum.Hazard, sum.NotMet, sum.Near, sum.NotShown, sum.Met, sum.NotApplicable})
	got := make([]any, 10)
	for i := range got {
		got[i] = row[i]
	}
	if d := cmp.Diff(want, fmt.Sprint(got)); d != "" {
		r.Fatalf("row (-line +row):\n%s", d)
	}
	for _, f := range l.Findings {
		if !strings.Contains(row[10], f.Reason) {
			r.Fatalf("the row does not say %q: %q", f.Reason, row[10])
		}
	}
}

func slugOfType(problemType string) string {
	return problemType[strings.LastIndexByte(problemType, '/')+1:]
}

// A fault in a table names the cell besides the member.
func TestTableProblemsNameTheCell(t *testing.T) {
	t.Parallel()
	rows := "formula,row,product,material,share_percent\nRing,part,dry-sausage,pork-leg-lean-only,80\n,part,,moon-rock,20\n" +
		"Other,part,dry-sausage,pork-leg-lean-only,\"80,5\"\nThird,dish,,pork-leg-lean-only,100\n"
	_, got := collect(t, testClient(t), "rulebooks=us", []byte(rows), apitest.Request{Header: http.Header{"Content-Type": {mediaTypeCSV}}, BadLines: true})
	l := readLine(t, got[0])
	if l.Problem == nil || l.Line != 2 {
		t.Fatalf("got %s", got[0])
	}
	for i, want := range [][2]string{
		{"#/parts/1/material", "(line 3, column material)"},
		{"#/parts/0/share_percent", "but must be a number, written with a point and without a unit (line 4, column share_percent)"},
		{"#", "(line 5, column row)"},
	} {
		l := readLine(t, got[i])
		if l.Problem == nil || !slices.ContainsFunc(l.Problem.Errors, func(e openapi.ProblemEntry) bool {
			return *e.Pointer == want[0] && strings.HasSuffix(e.Detail, want[1])
		}) {
			t.Errorf("want %q, got %s", want, got[i])
		}
	}
}

// What breaks the program spoils one line and is logged beside the id that the
// line tells.
func TestPanicInALine(t *testing.T) {
	t.Parallel()
	var logged error
	f := &flow{requestID: "request-1", fail: func(err error) { logged = err }}
	c := &lineChecker{collection: &collection{h: &handlers{formulas: contract.Schema{}}, flow: f}}
	text := string(c.Answer([]byte("before\n"), stream.Line{Number: 7, Text: []byte(goodLine)}))
	rest, ok := strings.CutPrefix(text, "before\n")
	if l := readLine(t, rest); !ok || l.Line != 7 || l.Problem == nil || l.Problem.Status != 500 || l.Problem.RequestID != "request-1" {
		t.Errorf("got %s", text)
	}
	if logged == nil || !strings.Contains(logged.Error(), "panic") || strings.Contains(text, "nil pointer") {
		t.Errorf("logged is %v", logged)
	}
	if f.refused.Load() != 1 || c.tally.problems != 1 {
		t.Error("it is not counted")
	}
}

// The log and the metrics tell how many lines there were.
func TestLinesAreCounted(t *testing.T) {
	t.Parallel()
	var logged bytes.Buffer
	registry := prometheus.NewRegistry()
	client := clientOf(t, Config{Logger: slog.New(slog.NewJSONHandler(&logged, nil)), Registerer: registry})
	collect(t, client, "rulebooks=us", []byte(goodLine+"\nx\n"+goodLine), badLines)
	var entry struct {
		Route        string `json:"route"`
		Lines        int    `json:"lines"`
		LinesRefused int    `json:"lines_refused"`
		Whole        bool   `json:"whole"`
	}
	if err := json.Unmarshal(logged.Bytes(), &entry); err != nil {
		t.Fatal(err)
	}
	if entry.Route != pathFormulaChecks || entry.Lines != 3 || entry.LinesRefused != 1 || !entry.Whole {
		t.Errorf("logged %s", logged.String())
	}
	families, err := registry.Gather()
	if err != nil {
		t.Fatal(err)
	}
	counted := map[string]float64{}
	for _, family := range families {
		if family.GetName() == "greenweight_stream_lines_total" {
			for _, m := range family.GetMetric() {
				counted[m.GetLabel()[0].GetValue()] = m.GetCounter().GetValue()
			}
		}
	}
	if d := cmp.Diff(map[string]float64{"answered": 2, "refused": 1}, counted); d != "" {
		t.Errorf("metrics (-want +got):\n%s", d)
	}
}

// Whatever a line is, there is one answer to it, and the service is not at fault.
func FuzzCollection(f *testing.F) {
	f.Add([]byte(goodLine + "\n\n" + goodLine[:50] + "\n{}"))
	f.Add([]byte("\xff\xfe\n[[[[\n\"\\ud800\"\n1e999\n" + strings.Repeat("x", 70_000)))
	f.Add([]byte(strings.ReplaceAll(goodLine, "2.5", "1e-7") + "\r\n" + strings.ReplaceAll(goodLine, "g_per_kg", "tsp")))
	handler, err := theHandler()
	if err != nil {
		f.Fatal(err)
	}
	client := apitest.New(handler)
	f.Fuzz(func(t *testing.T, body []byte) {
		_, got := collect(t, client, "rulebooks=us,eu&findings=all", body, badLines)
		want := 1
		for l := range bytes.Lines(body) {
			if l = bytes.TrimSuffix(l, []byte("\n")); len(bytes.Trim(l, " \t\r")) > 0 || len(l) > maxLine {
				want++
			}
		}
		if len(got) != want {
			t.Fatalf("%d lines, want %d", len(got), want)
		}
		for _, text := range got[:len(got)-1] {
			if l := readLine(t, text); l.Problem != nil && l.Problem.Status >= 500 {
				t.Fatal(text)
			}
		}
		readFinal(t, got[len(got)-1])
	})
}
