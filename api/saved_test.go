package api

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
	"greenweight/service/formulas"
	"greenweight/service/store"
)

// save saves the formula of the example, and returns its path.
func (k *keeping) save(t *testing.T) (path string, saved apitest.Answer) {
	t.Helper()
	saved = k.post(t, pathFormulas, string(readExample(t, "formula.request").Value))
	if saved.Status != http.StatusCreated {
		t.Fatalf("status %d: %s", saved.Status, saved.Body)
	}
	return saved.Header.Get("Location"), saved
}

// csvOf asks for a table.
func (k *keeping) csvOf(t *testing.T, path string) apitest.Answer {
	t.Helper()
	return k.send(t, apitest.Request{Path: path, Header: headerOf([]string{"Accept", "text/csv"})})
}

// importTable is what the example of an import by table was made of. The second
// formula has shares of 82 percent and a unit that there is not; the third has
// undiluted nitrite at the dose of a blend.
const importTable = `formula,product,material,share_percent,role,name,rate.value,rate.unit,cure.assay.sodium_nitrite_percent
Fennel ring (invented example),dry-sausage,pork-shoulder-whole-lean-and-fat,80,,,,,
,,pork-backfat,20,,,,,
,,salt-table,,salt,,2.6,percent,
Plain ring (invented example),dry-sausage,pork-shoulder-whole-lean-and-fat,80,,,,,
,,salt-table,,salt,,26,handful,
Ring with the wrong salt (invented example),dry-sausage,pork-shoulder-whole-lean-and-fat,100,,,,,
,,,,cure,Pink salt,2.5,g_per_kg,99
`

// A table that was sorted by the kind of row has the meat of a formula apart from its
// cure: no piece is saved, and the list stays empty. A hazard that was saved on
// purpose is one in the list, too.
func TestNoPieceIsSaved(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	const sorted = `formula,row,product,material,share_percent,role,cure.key,rate.value,rate.unit
Alpha,part,dry-sausage,pork-leg-lean-only,100,,,,
Beta,part,dry-sausage,pork-leg-lean-only,100,,,,
Alpha,addition,,salt-table,,salt,,2.6,percent
Alpha,addition,,,,cure,sodium-nitrite,2.5,g_per_kg
Beta,addition,,,,cure,cure-2,2.5,g_per_kg
Gamma,part,dry-sausage,pork-leg-lean-only,100,,,,
`
	w := apitest.Decode[openapi.ImportAnswer](t, k.post(t, pathFormulas+"/import?save=true", sorted, "Content-Type", "text/csv"))
	if w.Summary.Formulas != 5 || w.Summary.Refused != 4 || w.Summary.Saved != 1 {
		t.Errorf("got %+v", w.Summary)
	}
	for _, f := range w.Formulas[:4] {
		if len(f.Violations) == 0 || f.Violations[0].Code != "apart" {
			t.Errorf("%s on line %d: %+v", *f.Name, *f.Line, f.Violations)
		}
	}
	hazard := `{"formula":{"name":"Wrong bag (invented)","product":"dry-sausage","parts":[{"material":"pork-backfat","share_percent":100}],` +
		`"additions":[{"role":"cure","cure":{"key":"sodium-nitrite"},"rate":{"value":2.5,"unit":"g_per_kg"}}]}}`
	k.post(t, pathFormulas, hazard)
	list := apitest.Decode[openapi.FormulaPage](t, k.client.Get(t, pathFormulas))
	got := map[string]bool{}
	for _, f := range list.Formulas {
		got[f.Name] = f.IsHazard
	}
	if d := cmp.Diff(map[string]bool{"Gamma": false, "Wrong bag (invented)": true}, got); d != "" {
		t.Errorf("the list, and what is a hazard (-want +got):\n%s", d)
	}
}

// The examples of saved formulas are one story, told with the clock at each
// moment.
func TestExamplesOfSavedFormulas(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	k.at(t, "2026-10-03T18:00:00+02:00")
	path, first := k.save(t)
	goldenStatus(t, "formula.answer", first, http.StatusCreated, near)
	k.at(t, "2026-10-30T19:30:00+01:00")
	second := k.post(t, path+"/versions", string(readExample(t, "formula-version.request").Value), "If-Match", first.Header.Get("ETag"))
	goldenStatus(t, "formula-version.answer", second, http.StatusCreated, near)
	k.at(t, "2026-11-24T20:00:00+01:00")
	noted := k.post(t, path+"/versions/2/notes", string(readExample(t, "formula-note.request").Value))
	goldenStatus(t, "formula-note.answer", noted, http.StatusCreated, near)

	goldenStatus(t, "formula-latest.answer", k.client.Get(t, path), http.StatusOK, near)
	goldenStatus(t, "formula-first.answer", k.client.Get(t, path+"/versions/1"), http.StatusOK, near)
	goldenStatus(t, "formula-versions.answer", k.client.Get(t, path+"/versions"), http.StatusOK, near)
	goldenStatus(t, "formula-comparison.answer", k.client.Get(t, path+"/comparison?from=1"), http.StatusOK, near)

	goldenStatus(t, "import.answer", k.post(t, pathFormulas+"/import", string(readExample(t, "import.request").Value)), http.StatusOK, near)
	byTable := k.post(t, pathFormulas+"/import", importTable, "Content-Type", "text/csv")
	goldenStatus(t, "import-table.answer", byTable, http.StatusOK, near)
	if a := k.post(t, pathFormulas+"/import?save=true", importTable, "Content-Type", "text/csv"); apitest.Decode[openapi.ImportAnswer](t, a).Summary.Saved != 1 {
		t.Errorf("not one saved: %s", a.Body)
	}
	goldenStatus(t, "formulas.answer", k.client.Get(t, pathFormulas), http.StatusOK, near)
}

// The comparison of the example, by hand: 26 g/kg of salt to 24, with a cure of
// 2.4 g/kg whose salt is not all known; 3 g/kg of fennel out and 2 g/kg of pepper
// in; a planned loss of 35 to 38 percent. The cure is the same, and so is what it
// brings.
func TestComparisonOfVersions(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path, first := k.save(t)
	k.post(t, path+"/versions", string(readExample(t, "formula-version.request").Value), "If-Match", first.Header.Get("ETag"))
	w := apitest.Decode[openapi.FormulaComparison](t, k.client.Get(t, path+"/comparison?from=1&to=2"))
	var got []string
	for _, c := range slices.Concat(w.Parts, w.Additions) {
		words := []string{string(c.Outcome), string(c.Role), c.Name}
		if d := c.Amount.Difference; d != nil {
			words = append(words, fmt.Sprintf("%+.6g", d.High))
		}
		for _, m := range c.Members {
			words = append(words, m.Pointer)
		}
		got = append(got, strings.Join(words, " "))
	}
	want := []string{
		"kept meat Pork, fresh, shoulder, whole, separable lean and fat, raw +0",
		"kept meat Pork, fresh, backfat, raw +0",
		"changed salt Salt, table -0.2 #/additions/0/rate/unit #/additions/0/rate/value",
		"kept cure", "kept sugar",
		"added spice Black pepper", "removed spice Spices, fennel seed",
	}
	if len(got) != len(want) {
		t.Fatalf("got %q", got)
	}
	for i := range want {
		if !strings.HasPrefix(got[i], want[i]) {
			t.Errorf("got %q, want %q", got[i], want[i])
		}
	}
	if len(w.Members) != 1 || w.Members[0].Pointer != "#/plan/loss_percent" || *w.Members[0].Before != "35" || *w.Members[0].After != "38" {
		t.Errorf("the formula itself: %+v", w.Members)
	}
	for i, want := range []float64{-0.2, 0, 0, 0} { // salt in percent, sugar, nitrite, nitrate
		if d := w.Totals[i].Amount.Difference; d.Low != want || d.High != want {
			t.Errorf("%s changed by %+v, want %v", w.Totals[i].Agent, d, want)
		}
	}
	back := apitest.Decode[openapi.FormulaComparison](t, k.client.Get(t, path+"/comparison?from=2&to=1"))
	if d := back.Totals[0].Amount.Difference; d.Low != 0.2 {
		t.Errorf("the other way: %+v", d)
	}
	same := apitest.Decode[openapi.FormulaComparison](t, k.client.Get(t, path+"/comparison?from=2&to=2"))
	for _, c := range slices.Concat(same.Parts, same.Additions) {
		if c.Outcome != openapi.IngredientOutcomeKept || len(c.Members) > 0 {
			t.Errorf("against itself: %+v", c)
		}
	}
	a := k.client.Do(t, apitest.Request{Path: path + "/comparison?from=1&to=3", Bad: true})
	if a.Status != http.StatusNotFound {
		t.Errorf("with a version that there is not: %d", a.Status)
	}
}

func TestVersionsFollowWhatWasRead(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path, first := k.save(t)
	tag := first.Header.Get("ETag")
	next := string(readExample(t, "formula-version.request").Value)
	refused := func(name string, want int, slug problemSlug, body string, header ...string) {
		t.Helper()
		a := k.send(t, apitest.Request{Method: http.MethodPost, Path: path + "/versions", Body: []byte(body), Header: headerOf(header), Bad: true})
		if a.Status != want || a.Slug() != string(slug) {
			t.Errorf("%s: %d %s", name, a.Status, a.Body)
		}
	}
	refused("no version", 428, slugPreconditionRequired, next)
	refused("another version", 412, slugStale, next, "If-Match", `"1-0000000000000000"`)
	refused("no tag", 412, slugStale, next, "If-Match", "1")
	refused("the same formula", 409, slugConflict, string(readExample(t, "formula.request").Value), "If-Match", tag)
	k.post(t, path+"/versions/1/notes", `{"text":"A note\nof two lines."}`)
	// A note does not change the version: the tag of before still serves.
	if read := k.client.Get(t, path); read.Header.Get("ETag") == tag {
		t.Error("a note leaves the ETag as it was")
	}
	one := k.post(t, path+"/versions", next, "If-Match", tag, "Idempotency-Key", "second")
	again := k.post(t, path+"/versions", next, "If-Match", tag, "Idempotency-Key", "second")
	if one.Status != 201 || again.Status != 201 || again.Header.Get("Idempotency-Replayed") != "true" || string(one.Body) != string(again.Body) {
		t.Errorf("sent twice: %d, %d %s", one.Status, again.Status, again.Body)
	}
	refused("the version before", 412, slugStale, string(readExample(t, "formula.request").Value), "If-Match", tag)
	refused("the key with another body", 422, slugIdempotencyKeyReused, strings.Replace(next, "38", "39", 1), "If-Match", tag, "Idempotency-Key", "second")
	if a := k.post(t, path+"/versions", string(readExample(t, "formula.request").Value), "If-Match", "*"); a.Status != 201 {
		t.Errorf("back to the first, whatever there is: %d", a.Status)
	}
	versions := apitest.Decode[openapi.FormulaVersionPage](t, k.client.Get(t, path+"/versions?limit=2"))
	if len(versions.Versions) != 2 || versions.LatestVersion != 3 || versions.NextCursor == nil || len(versions.Versions[0].Notes) != 1 || len(versions.Versions[1].Notes) != 0 {
		t.Fatalf("%+v", versions)
	}
	rest := apitest.Decode[openapi.FormulaVersionPage](t, k.client.Get(t, path+"/versions?limit=2&cursor="+*versions.NextCursor))
	if len(rest.Versions) != 1 || rest.Versions[0].Version != 3 || rest.NextCursor != nil || rest.Versions[0].PreviousDigest == nil ||
		*rest.Versions[0].PreviousDigest != versions.Versions[1].Digest {
		t.Errorf("%+v", rest)
	}
	for _, of := range []string{"", "/versions", "/versions/1", "/comparison?from=1"} {
		a := k.client.Get(t, path+of)
		held := k.send(t, apitest.Request{Path: path + of, Header: headerOf([]string{"If-None-Match", a.Header.Get("ETag")})})
		if held.Status != http.StatusNotModified || len(held.Body) > 0 {
			t.Errorf("%s: a copy that holds is answered with %d", of, held.Status)
		}
	}
}

func TestNotesAreSentOnce(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path, _ := k.save(t)
	const note = `{"text":"Tastes of fennel."}`
	one := k.post(t, path+"/versions/1/notes", note, "Idempotency-Key", "n")
	again := k.post(t, path+"/versions/1/notes", note, "Idempotency-Key", "n")
	if one.Status != 201 || string(one.Body) != string(again.Body) || again.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("%d %s, %d %s", one.Status, one.Body, again.Status, again.Body)
	}
	for _, bad := range []struct {
		path, body string
		status     int
	}{
		{path + "/versions/2/notes", note, 404}, {path + "/versions/1/notes", `{"text":" \n"}`, 422}, {path + "/versions/1/notes", `{"text":"a\u0000"}`, 422},
		{pathFormulas + "/019aa000-0000-7000-8000-999999999999/versions/1/notes", note, 404},
	} {
		a := k.send(t, apitest.Request{Method: http.MethodPost, Path: bad.path, Body: []byte(bad.body), Bad: true})
		if a.Status != bad.status {
			t.Errorf("%s %s: %d", bad.path, bad.body, a.Status)
		}
	}
	if w := apitest.Decode[openapi.SavedFormula](t, k.client.Get(t, path)); len(w.Notes) != 1 || w.Notes[0].Text != "Tastes of fennel." || !w.Notes[0].NotedBy.Open {
		t.Errorf("%+v", w.Notes)
	}
}

// A hazard may be kept, and every answer on it says so.
func TestHazardIsKeptAndTold(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	var imported struct {
		Formulas []json.RawMessage `json:"formulas"`
	}
	if err := json.Unmarshal(readExample(t, "import.request").Value, &imported); err != nil {
		t.Fatal(err)
	}
	hazard := imported.Formulas[2]
	saved := k.post(t, pathFormulas, `{"formula":`+string(hazard)+`}`)
	path := saved.Header.Get("Location")
	for _, a := range []apitest.Answer{saved, k.client.Get(t, path), k.client.Get(t, path+"/versions/1")} {
		w := apitest.Decode[openapi.SavedFormula](t, a)
		if len(w.Hazards) != 1 || w.Hazards[0].Status != openapi.FindingStatusHazard || !slices.Equal(w.Hazards[0].Pointers, []string{"#/formula/additions/0"}) {
			t.Errorf("%+v", w.Hazards)
		}
	}
	if w := apitest.Decode[openapi.FormulaVersionPage](t, k.client.Get(t, path+"/versions")); !w.Versions[0].IsHazard {
		t.Error("the list of versions does not say so")
	}
	if w := apitest.Decode[openapi.FormulaComparison](t, k.client.Get(t, path+"/comparison?from=1")); len(w.HazardsBefore) != 1 || len(w.HazardsAfter) != 1 {
		t.Error("the comparison does not say so")
	}
	// An import shows it and does not save it.
	a := apitest.Decode[openapi.ImportAnswer](t, k.post(t, pathFormulas+"/import?save=true", `{"formulas":[`+string(hazard)+`]}`))
	if a.Summary != (openapi.ImportCounts{Formulas: 1, Hazard: 1}) || a.Formulas[0].Saved != nil || a.Formulas[0].Formula == nil {
		t.Errorf("%+v", a)
	}
}

func TestFormulasThatAreRefused(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	good := string(readExample(t, "formula.request").Value)
	for name, row := range map[string]struct {
		old, with string
		want      []string
	}{
		"shares of half":    {`"share_percent": 80`, `"share_percent": 30`, []string{"#/formula/parts sum"}},
		"no such material":  {`"salt-table"`, `"sea-salt-of-nowhere"`, []string{"#/formula/additions/0/material unknown-material"}},
		"a blank name":      {`"Fennel ring (invented example)"`, `"  "`, []string{"#/formula/name text"}},
		"a reason in lines": {`"First try of the winter"`, `"First\ntry"`, []string{"#/reason text"}},
		"no cure said":      {`"key": "cure-2"`, ``, []string{"#/formula/additions/1/cure oneOf"}},
		"no product":        {`"dry-sausage"`, `"sausage"`, []string{"#/formula/product enum"}},
	} {
		if strings.Count(good, row.old) != 1 {
			t.Fatalf("%s: %q is there %d times", name, row.old, strings.Count(good, row.old))
		}
		body := strings.Replace(good, row.old, row.with, 1)
		a := k.send(t, apitest.Request{Method: http.MethodPost, Path: pathFormulas, Body: []byte(body), Bad: true})
		if a.Status != 422 || !slices.Equal(a.Pointers(), row.want) {
			t.Errorf("%s: %d %v", name, a.Status, a.Pointers())
		}
	}
}

// Whoever has a version from the API can compute its digest.
func TestDigestsOfVersionsCanBeComputed(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path, first := k.save(t)
	k.post(t, path+"/versions", string(readExample(t, "formula-version.request").Value), "If-Match", first.Header.Get("ETag"))
	for version := 1; version <= 2; version++ {
		a := k.client.Get(t, path+"/versions/"+strconv.Itoa(version))
		var w map[string]json.RawMessage
		if err := json.Unmarshal(a.Body, &w); err != nil {
			t.Fatal(err)
		}
		covered := map[string]json.RawMessage{}
		for _, name := range []string{"shop_id", "id", "version", "saved_at", "saved_by", "request_id", "rulebook_version", "reason", "formula", "previous_digest"} {
			if v, ok := w[name]; ok {
				covered[name] = v
			}
		}
		text, err := json.Marshal(covered)
		if err != nil {
			t.Fatal(err)
		}
		canonical := jsontext.Value(text)
		if err := canonical.Canonicalize(); err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(canonical)
		if got, want := hex.EncodeToString(sum[:]), apitest.Decode[openapi.SavedFormula](t, a).Digest; got != want {
			t.Errorf("version %d: %s is told and %s is computed", version, want, got)
		}
	}
}

// What is exported as a table is imported as the same formulas.
func TestTablesGoBothWays(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path, first := k.save(t)
	k.post(t, path+"/versions", string(readExample(t, "formula-version.request").Value), "If-Match", first.Header.Get("ETag"))
	k.post(t, pathFormulas+"/import?save=true", importTable, "Content-Type", "text/csv")
	for _, of := range []struct {
		path     string
		formulas int
	}{{path, 1}, {path + "/versions/1", 1}, {pathFormulas, 2}, {pathFormulas + "?name=nobody", 0}} {
		exported := k.csvOf(t, of.path)
		if exported.Status != 200 || exported.Header.Get("Content-Type") != "text/csv" || !slices.Contains(exported.Header.Values("Vary"), "Accept") {
			t.Fatalf("%s: %d %s", of.path, exported.Status, exported.Body)
		}
		back := apitest.Decode[openapi.ImportAnswer](t, k.post(t, pathFormulas+"/import", string(exported.Body), "Content-Type", "text/csv"))
		if back.Summary.Good != of.formulas || back.Summary.Formulas != of.formulas {
			t.Errorf("%s: %+v of\n%s", of.path, back.Summary, exported.Body)
		}
		if of.formulas != 1 {
			continue
		}
		want := apitest.Decode[openapi.SavedFormula](t, k.client.Get(t, of.path)).Formula
		if diff := cmp.Diff(want, *back.Formulas[0].Formula); diff != "" {
			t.Errorf("%s: %s", of.path, diff)
		}
		held := k.send(t, apitest.Request{Path: of.path, Header: headerOf([]string{"Accept", "text/csv", "If-None-Match", exported.Header.Get("ETag")})})
		if held.Status != http.StatusNotModified || exported.Header.Get("ETag") == k.client.Get(t, of.path).Header.Get("ETag") {
			t.Errorf("%s: a table and JSON are one: %d", of.path, held.Status)
		}
	}
}

func TestImportAtFault(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	const head = "formula,product,material,share_percent,role,rate.value,rate.unit\n"
	for name, row := range map[string]struct {
		body, mediaType string
		status          int
		want            []string
	}{
		"no such column":    {"formula,weight\na,1\n", "text/csv", 422, []string{"#/0/1 unknown-column"}},
		"nothing":           {"\n", "text/csv", 400, []string{" malformed-table"}},
		"no body":           {"", "text/csv", 400, []string{" malformed-table"}},
		"many formulas":     {head + manyFormulas(201), "text/csv", 422, []string{" many-formulas"}},
		"a list of nothing": {`{"formulas":[]}`, "application/json", 422, []string{"#/formulas minItems"}},
		"no objects":        {`{"formulas":["a"]}`, "application/json", 422, []string{"#/formulas/0 type"}},
		"a name twice":      {`{"formulas":[{"a":1,"a":2}]}`, "application/json", 400, []string{"#/formulas/0 duplicate-member"}},
		"a name twice, far": {`{"formulas":[{"b":[{"a":1,"a":2}]}]}`, "application/json", 400, []string{"#/formulas/0 duplicate-member"}},
		"cut off":           {`{"formulas":[{"a":1}`, "application/json", 400, []string{"#/formulas/1 syntax"}},
		"another type":      {`x`, "text/plain", 415, nil},
	} {
		a := k.send(t, apitest.Request{Method: http.MethodPost, Path: pathFormulas + "/import", Body: []byte(row.body), Header: headerOf([]string{"Content-Type", row.mediaType}), Bad: true})
		if a.Status != row.status || !slices.Equal(a.Pointers(), row.want) {
			t.Errorf("%s: %d %q", name, a.Status, a.Pointers())
		}
	}
	full := apitest.Decode[openapi.ImportAnswer](t, k.post(t, pathFormulas+"/import", head+manyFormulas(200), "Content-Type", "text/csv"))
	if full.Summary != (openapi.ImportCounts{Formulas: 200, Good: 200}) {
		t.Errorf("%+v", full.Summary)
	}
}

func manyFormulas(n int) string {
	var rows strings.Builder
	for i := range n {
		fmt.Fprintf(&rows, "formula %d,dry-sausage,pork-backfat,100,,,\n", i)
	}
	return rows.String()
}

// One formula at fault spoils only itself, and each fault has its place.
func TestImportTellsPlaces(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	const text = "\uFEFFformula;x"
	if a := k.send(t, apitest.Request{Method: http.MethodPost, Path: pathFormulas + "/import", Body: []byte(text), Header: headerOf([]string{"Content-Type", "text/csv; charset=utf-8"}), Bad: true}); a.Status != 422 ||
		!strings.Contains(string(a.Body), "semicolons") {
		t.Errorf("%d %s", a.Status, a.Body)
	}
	a := k.post(t, pathFormulas+"/import", "formula,product,material,share_percent,role,rate.value,rate.unit,cure.key\r\n"+
		"One,dry-sausage,pork-backfat,\"80,5\",,,,\r\n"+
		",,salt-table,,salt,,percent,\r\n"+
		"Two,,pork-backfat,100,,,,\r\n"+
		",,,,cure,2.5,g_per_kg,cure-99\r\n"+
		"Three,cooked-sausage,pork-backfat,100,,,,\r\n"+
		"Four,dry-sausage,pork-backfat,90,,,,\r\n"+
		",dry-sausage,,,other,1\"2,percent,\r\n"+
		"Five,dry-sausage,pork-backfat,90,,,,\r\n", "Content-Type", "text/csv")
	w := apitest.Decode[openapi.ImportAnswer](t, a)
	if detail := w.Formulas[0].Violations[1].Detail; !strings.Contains(detail, "with a point") {
		t.Errorf("a comma for a point: %q", detail)
	}
	var got []string
	for _, f := range w.Formulas {
		got = append(got, fmt.Sprintf("%s %s %d", *f.Name, f.Outcome, *f.Line))
		for _, v := range f.Violations {
			got = append(got, fmt.Sprintf("  %s %s line %d %s", v.Pointer, v.Code, *v.Line, given(v.Column)))
		}
	}
	want := []string{
		"One refused 2", "  #/additions/0/rate/value required line 3 rate.value", "  #/parts/0/share_percent type line 2 share_percent",
		"Two refused 4", "  #/product required line 4 product",
		"Three good 6",
		"Four refused 7", "  # quote line 8 rate.value",
		"Five refused 9", "  #/parts sum line 9 parts",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if w.Summary != (openapi.ImportCounts{Formulas: 5, Good: 1, Refused: 4}) {
		t.Errorf("%+v", w.Summary)
	}
}

func TestImportSavesOnce(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	body := string(readExample(t, "import.request").Value)
	one := k.post(t, pathFormulas+"/import?save=true", body, "Idempotency-Key", "import")
	again := k.post(t, pathFormulas+"/import?save=true", body, "Idempotency-Key", "import")
	if one.Status != 200 || string(one.Body) != string(again.Body) || again.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("%d %s\n%d %s", one.Status, one.Body, again.Status, again.Body)
	}
	saved := apitest.Decode[openapi.ImportAnswer](t, one)
	if saved.Summary.Saved != 1 || saved.Formulas[0].Saved == nil || saved.Formulas[1].Saved != nil || saved.Formulas[2].Saved != nil {
		t.Errorf("%+v", saved.Summary)
	}
	listed := apitest.Decode[openapi.FormulaPage](t, k.client.Get(t, pathFormulas)).Formulas
	if len(listed) != 1 || listed[0].ID != saved.Formulas[0].Saved.ID {
		t.Errorf("%+v", listed)
	}
	a := k.post(t, pathFormulas+"/import?save=true", `{"formulas":[{}]}`)
	if w := apitest.Decode[openapi.ImportAnswer](t, a); w.Summary.Saved != 0 || w.Summary.Refused != 1 || w.Formulas[0].Name != nil {
		t.Errorf("nothing to save: %s", a.Body)
	}
}

func TestListOfFormulasByPages(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	good := string(readExample(t, "formula.request").Value)
	for _, name := range []string{"b", "A", "c ring"} {
		k.post(t, pathFormulas, strings.Replace(good, "Fennel ring (invented example)", name, 1))
	}
	long := strings.Repeat("ω", 120)
	k.post(t, pathFormulas, strings.Replace(strings.Replace(good, "Fennel ring (invented example)", long, 1), "dry-sausage", "cooked-sausage", 1))
	var names []string
	for path := pathFormulas + "?limit=1"; path != ""; {
		a := k.client.Get(t, path)
		w := apitest.Decode[openapi.FormulaPage](t, a)
		for _, f := range w.Formulas {
			names = append(names, f.Name)
		}
		path = ""
		if link := a.Header.Get("Link"); link != "" {
			path, _, _ = strings.Cut(strings.TrimPrefix(link, "<"), ">")
		}
		held := k.send(t, apitest.Request{Path: pathFormulas + "?limit=1", Header: headerOf([]string{"If-None-Match", k.client.Get(t, pathFormulas+"?limit=1").Header.Get("ETag")})})
		if held.Status != http.StatusNotModified {
			t.Errorf("a copy that holds: %d", held.Status)
		}
	}
	if !slices.Equal(names, []string{"A", "b", "c ring", long}) {
		t.Errorf("got %q", names)
	}
	for query, want := range map[string]int{"?name=RING": 1, "?product=cooked-sausage": 1, "?product=dry-sausage&name=b": 1, "?name=%25": 0} {
		if w := apitest.Decode[openapi.FormulaPage](t, k.client.Get(t, pathFormulas+query)); len(w.Formulas) != want {
			t.Errorf("%s: %+v", query, w.Formulas)
		}
	}
	for _, bad := range []string{"?cursor=x", "?name=%07"} {
		if a := k.client.Do(t, apitest.Request{Path: pathFormulas + bad, Bad: true}); a.Status != 400 && a.Status != 422 {
			t.Errorf("%s: %d", bad, a.Status)
		}
	}
}

// Formulas of one shop are not there for another, and each key does what its
// scopes let it.
func TestKeysAndFormulas(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path, _ := k.save(t) // while it is open
	other, err := k.cfg.Shops.AddShop(t.Context(), "Other (invented)")
	if err != nil {
		t.Fatal(err)
	}
	reads := "Bearer " + addKey(t, k, store.FirstShop, "formulas:read")
	writes := "Bearer " + addKey(t, k, store.FirstShop, "formulas:write")
	records := "Bearer " + addKey(t, k, store.FirstShop, "lots:read", "lots:record", "lots:correct")
	theirs := "Bearer " + addKey(t, k, other.ID, "formulas:read", "formulas:write")
	const note, draft = `{"text":"x"}`, `{"formulas":[{}]}`
	formula := string(readExample(t, "formula.request").Value)
	for _, row := range []struct {
		name, method, path, body, key string
		status                        int
	}{
		{"no key", "GET", path, "", "", 401},
		{"a reader reads", "GET", path, "", reads, 200},
		{"a reader lists", "GET", pathFormulas, "", reads, 200},
		{"a reader saves", "POST", pathFormulas, formula, reads, 403},
		{"a reader notes", "POST", path + "/versions/1/notes", note, reads, 403},
		{"a writer notes", "POST", path + "/versions/1/notes", note, writes, 201},
		{"a writer reads", "GET", path, "", writes, 403},
		{"a key for lots", "GET", path, "", records, 403},
		{"another shop reads", "GET", path, "", theirs, 404},
		{"another shop reads a version", "GET", path + "/versions/1", "", theirs, 404},
		{"another shop reads versions", "GET", path + "/versions", "", theirs, 404},
		{"another shop compares", "GET", path + "/comparison?from=1", "", theirs, 404},
		{"another shop notes", "POST", path + "/versions/1/notes", note, theirs, 404},
		{"another shop saves a version", "POST", path + "/versions", formula, theirs, 404},
		{"an import needs no key", "POST", pathFormulas + "/import", draft, "", 200},
		{"an import that does not save", "POST", pathFormulas + "/import?save=false", draft, "", 200},
		{"an import that saves", "POST", pathFormulas + "/import?save=true", draft, "", 401},
		{"an import that a reader saves", "POST", pathFormulas + "/import?save=true", draft, reads, 403},
		{"an import that a writer saves", "POST", pathFormulas + "/import?save=true", draft, writes, 200},
	} {
		r := apitest.Request{Method: row.method, Path: row.path, Body: []byte(row.body), Header: http.Header{}, Bad: row.status >= 400}
		if row.key != "" {
			r.Header.Set("Authorization", row.key)
		}
		if strings.HasSuffix(row.path, "/versions") && row.method == "POST" {
			r.Header.Set("If-Match", "*")
		}
		if a := k.client.Do(t, r); a.Status != row.status {
			t.Errorf("%s: want %d, got %d: %s", row.name, row.status, a.Status, a.Body)
		}
	}
	a := k.client.Do(t, apitest.Request{Path: path, Header: headerOf([]string{"Authorization", reads})})
	if w := apitest.Decode[openapi.SavedFormula](t, a); len(w.Notes) != 1 || w.Notes[0].NotedBy.Person == nil || *w.Notes[0].NotedBy.Person != "Ada Example" || !w.SavedBy.Open {
		t.Errorf("%+v", w.Notes)
	}
}

// A version that was changed behind the service's back is not answered from.
func TestChangedVersion(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	path, _ := k.save(t)
	var err error
	k.cfg.Formulas, err = formulas.New(t.Context(), formulas.Settings{Store: &changed{Store: k.store}, Clock: testTime, NewID: func() string { return "x" }})
	if err != nil {
		t.Fatal(err)
	}
	client := clientOf(t, k.cfg)
	for _, of := range []string{"", "/versions", "/versions/1", "/comparison?from=1"} {
		if a := client.Do(t, apitest.Request{Path: path + of, Bad: true}); a.Status != 500 || a.Slug() != string(slugBrokenLedger) {
			t.Errorf("%s: status %d, %s", of, a.Status, a.Slug())
		}
	}
}

// A lot of a saved formula keeps the formula and which version it is, whatever
// becomes of the formula later.
func TestLotOfSavedFormula(t *testing.T) {
	t.Parallel()
	k := newKeeping(t)
	formulaPath, first := k.save(t)
	second := k.post(t, formulaPath+"/versions", string(readExample(t, "formula-version.request").Value), "If-Match", first.Header.Get("ETag"))
	order := string(readExample(t, "lot-saved.request").Value)
	opened := k.post(t, pathOfLots, order, "Idempotency-Key", "open")
	if opened.Status != http.StatusCreated {
		t.Fatalf("%d %s", opened.Status, opened.Body)
	}
	again := k.post(t, pathOfLots, order, "Idempotency-Key", "open")
	if again.Status != http.StatusCreated || again.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("sent twice: %d %s", again.Status, again.Body)
	}
	k.post(t, formulaPath+"/versions", string(readExample(t, "formula.request").Value), "If-Match", second.Header.Get("ETag"))
	path := opened.Header.Get("Location")
	w := apitest.Decode[openapi.Lot](t, k.client.Get(t, path))
	want := apitest.Decode[openapi.SavedFormula](t, second)
	if diff := cmp.Diff(want.Formula, w.Formula); diff != "" {
		t.Error(diff)
	}
	if w.SavedFormula == nil || w.SavedFormula.FormulaID != want.ID || w.SavedFormula.Version != 2 {
		t.Errorf("saved formula: %+v", w.SavedFormula)
	}
	entries := apitest.Decode[openapi.EntryPage](t, k.client.Get(t, path+"/entries"))
	var body openapi.LotOrder
	if err := json.Unmarshal(entries.Entries[0].Body, &body); err != nil || body.SavedFormula == nil || len(body.Formula.Parts) != 2 {
		t.Errorf("the entry: %s, %v", entries.Entries[0].Body, err)
	}
	if v := apitest.Decode[openapi.LedgerVerification](t, k.client.Get(t, path+"/ledger/verification")); v.Outcome != openapi.LedgerVerificationOutcomeIntact {
		t.Errorf("%+v", v)
	}

	// Named and given it must be the same.
	both := strings.Replace(order, `"rulebook"`, `"formula":`+formulaIn(t, "formula-version.request")+`,"rulebook"`, 1)
	if a := k.post(t, pathOfLots, both); a.Status != http.StatusCreated {
		t.Errorf("both, the same: %d %s", a.Status, a.Body)
	}
	other := strings.Replace(order, `"rulebook"`, `"formula":`+formulaIn(t, "formula.request")+`,"rulebook"`, 1)
	for name, row := range map[string]struct {
		body string
		want []string
	}{
		"both, another":      {other, []string{"#/formula another-formula"}},
		"no such version":    {strings.Replace(order, `"version": 2`, `"version": 9`, 1), []string{"#/saved_formula unknown-formula"}},
		"no such formula":    {strings.Replace(order, "000000000001", "000000000999", 1), []string{"#/saved_formula unknown-formula"}},
		"neither of the two": {`{"name":"a","rulebook":"eu"}`, []string{"# oneOf"}},
	} {
		a := k.send(t, apitest.Request{Method: http.MethodPost, Path: pathOfLots, Body: []byte(row.body), Bad: true})
		if a.Status != 422 || !slices.Equal(a.Pointers(), row.want) {
			t.Errorf("%s: %d %v", name, a.Status, a.Pointers())
		}
	}

	// A correction says anew which one it is, and is held against it.
	correct := func(version int) string {
		return fmt.Sprintf(`{"entries":[{"kind":"corrected","entry":1,"reason":"It was the first version","right":{"kind":"planned",`+
			`"name":"Right (invented)","rulebook":"eu","saved_formula":{"formula_id":%q,"version":%d},"formula":%s}}]}`,
			want.ID, version, formulaIn(t, "formula.request"))
	}
	tag := k.client.Get(t, path).Header.Get("ETag")
	a := k.send(t, apitest.Request{Method: http.MethodPost, Path: path + "/entries", Body: []byte(correct(2)), Header: headerOf([]string{"If-Match", tag}), Bad: true})
	if a.Status != 422 || !slices.Equal(a.Pointers(), []string{"#/entries/0/right/formula another-formula"}) {
		t.Errorf("corrected to another: %d %v", a.Status, a.Pointers())
	}
	if a := k.post(t, path+"/entries", correct(1), "If-Match", tag); a.Status != http.StatusCreated {
		t.Errorf("corrected: %d %s", a.Status, a.Body)
	}
	if w := apitest.Decode[openapi.Lot](t, k.client.Get(t, path)); w.SavedFormula == nil || w.SavedFormula.Version != 1 {
		t.Errorf("corrected: %+v", w.SavedFormula)
	}

	// Whoever may record lots, but not read formulas, can't read one that way.
	scale := "Bearer " + addKey(t, k, store.FirstShop, "lots:record")
	if a := k.send(t, apitest.Request{Method: http.MethodPost, Path: pathOfLots, Body: []byte(order), Header: headerOf([]string{"Authorization", scale}), Bad: true}); a.Status != 403 {
		t.Errorf("without the scope: %d", a.Status)
	}
}

// formulaIn returns the formula of an example of a request.
func formulaIn(t *testing.T, example string) string {
	t.Helper()
	var w struct {
		Formula json.RawMessage `json:"formula"`
	}
	if err := json.Unmarshal(readExample(t, example).Value, &w); err != nil {
		t.Fatal(err)
	}
	return string(w.Formula)
}
