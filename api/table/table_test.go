package table_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/iotest"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/go-cmp/cmp"

	"greenweight/api/table"
	"greenweight/domain/fault"
	"greenweight/openapi"
)

var layoutOnce = sync.OnceValues(func() (*table.Layout, error) {
	document, err := openapi.Document()
	if err != nil {
		return nil, err
	}
	return table.NewLayout(document)
})

func layout(tb testing.TB) *table.Layout {
	tb.Helper()
	l, err := layoutOnce()
	if err != nil {
		tb.Fatal(err)
	}
	return l
}

// read reads a whole table.
func read(tb testing.TB, l *table.Layout, text string) ([]table.Record, error) {
	tb.Helper()
	r, err := table.NewReader(strings.NewReader(text), l)
	if err != nil {
		return nil, err
	}
	var all []table.Record
	for {
		record, err := r.Next()
		if errors.Is(err, io.EOF) {
			return all, nil
		}
		if err != nil {
			return all, err
		}
		all = append(all, record)
	}
}

func canonical(tb testing.TB, text []byte) string {
	tb.Helper()
	v := jsontext.Value(bytes.Clone(text))
	if err := v.Canonicalize(); err != nil {
		tb.Fatalf("%v in %s", err, text)
	}
	return string(v)
}

// kitchen is a table as somebody writes it at home.
const kitchen = `formula,product,material,share_percent,role,name,rate.value,rate.unit,rate.per.value,rate.per.unit,cure.key
Fennel ring,dry-sausage,pork-lean,75,,,,,,,
,,pork-back-fat,25,,,,,,,
,,salt,,salt,,2.5,percent,,,
,,,,cure,,0.25,tsp,5,lb,cure-2
,,,,spice,"Fennel, whole",0.3,percent,,,
`

func TestReadKitchen(t *testing.T) {
	t.Parallel()
	got, err := read(t, layout(t), kitchen)
	if err != nil || len(got) != 1 || got[0].Err != nil {
		t.Fatalf("got %+v, %v", got, err)
	}
	// By hand, cell by cell.
	want := canonical(t, []byte(`{"name":"Fennel ring","product":"dry-sausage",
		"parts":[{"material":"pork-lean","share_percent":75},{"material":"pork-back-fat","share_percent":25}],
		"additions":[{"material":"salt","role":"salt","rate":{"value":2.5,"unit":"percent"}},
			{"role":"cure","rate":{"value":0.25,"unit":"tsp","per":{"value":5,"unit":"lb"}},"cure":{"key":"cure-2"}},
			{"role":"spice","name":"Fennel, whole","rate":{"value":0.3,"unit":"percent"}}]}`))
	if diff := cmp.Diff(want, canonical(t, got[0].Formula)); diff != "" {
		t.Error(diff)
	}
	if got[0].Line != 2 || got[0].Name != "Fennel ring" {
		t.Errorf("line %d, name %q", got[0].Line, got[0].Name)
	}
}

func TestReadFormula(t *testing.T) {
	t.Parallel()
	const part = "\na,dry-sausage,pork-lean,100"
	for _, tc := range []struct {
		name string
		text string
		want []string
	}{
		{"only a header", "formula", nil},
		{"a byte order mark and lines of CR LF", "\uFEFFformula,material,share_percent\r\na,m,1\r\n", []string{`{"additions":[],"name":"a","parts":[{"material":"m","share_percent":1}]}`}},
		{"product in the second row", "formula,product,material,share_percent\na,,m,1\na,dry-sausage,n,2", []string{
			`{"additions":[],"name":"a","parts":[{"material":"m","share_percent":1},{"material":"n","share_percent":2}],"product":"dry-sausage"}`}},
		{"product in each row", "formula,product,material,share_percent" + part + part, []string{
			`{"additions":[],"name":"a","parts":[{"material":"pork-lean","share_percent":100},{"material":"pork-lean","share_percent":100}],"product":"dry-sausage"}`}},
		{"two formulas by their names", "formula,share_percent\na,1\nb,2", []string{
			`{"additions":[],"name":"a","parts":[{"share_percent":1}]}`, `{"additions":[],"name":"b","parts":[{"share_percent":2}]}`}},
		{"two formulas of one name", "formula,row,share_percent\na,formula,\na,part,1\na,formula,\na,part,2", []string{
			`{"additions":[],"name":"a","parts":[{"share_percent":1}]}`, `{"additions":[],"name":"a","parts":[{"share_percent":2}]}`}},
		{"empty rows between", "\n\nformula,share_percent\n\n,\na,1\n , \n,2\n\n", []string{`{"additions":[],"name":"a","parts":[{"share_percent":1},{"share_percent":2}]}`}},
		{"rows that are short", "formula,share_percent,name,role\na,1", []string{`{"additions":[],"name":"a","parts":[{"share_percent":1}]}`}},
		{"no name", "formula,share_percent\n,1\na,2", []string{
			`{"additions":[],"parts":[{"share_percent":1}]}`, `{"additions":[],"name":"a","parts":[{"share_percent":2}]}`}},
		{"what an ingredient is, said", "formula,row,name\na,part,x\na,addition,y", []string{
			`{"additions":[{"name":"y"}],"name":"a","parts":[{"name":"x"}]}`}},
		{"steps of the plan", "formula,plan.drying.0.temperature.value,plan.drying.0.temperature.unit,plan.drying.1.days\na,12,degC,30", []string{
			`{"additions":[],"name":"a","parts":[],"plan":{"drying":[{"temperature":{"unit":"degC","value":12}},{"days":30}]}}`}},
		{"true and false as programs write them", "formula,role,brings_none\na,other,TRUE\na,other,False", []string{
			`{"additions":[{"brings_none":true,"role":"other"},{"brings_none":false,"role":"other"}],"name":"a","parts":[]}`}},
		{"a plan with nothing in it", "formula,plan\na,{}", []string{`{"additions":[],"name":"a","parts":[],"plan":{}}`}},
		{"numbers as they stand", "formula,share_percent\na,1e1\na, 2.50 \na,-3\na,\"1\"", []string{
			`{"additions":[],"name":"a","parts":[{"share_percent":10},{"share_percent":2.5},{"share_percent":-3},{"share_percent":1}]}`}},
		{"what is no number is left to the contract", "formula,row,share_percent\na,part,\"2,5\"\na,part,.5\na,part,5 %\na,part,05", []string{
			`{"additions":[],"name":"a","parts":[{"share_percent":"2,5"},{"share_percent":".5"},{"share_percent":"5 %"},{"share_percent":"05"}]}`}},
		{"text that looks like a calculation", "formula,row,name\n'=a,part,'=1+1\n'=a,part,=1+1\n'=a,part,''-b\n'=a,part,'tis", []string{
			`{"additions":[],"name":"=a","parts":[{"name":"=1+1"},{"name":"=1+1"},{"name":"'-b"},{"name":"'tis"}]}`}},
		{"quotation marks and lines in a cell", "formula,row,name\na,part,\"x \"\"y\"\"\r\nz\"", []string{
			`{"additions":[],"name":"a","parts":[{"name":"x \"y\"\r\nz"}]}`}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			records, err := read(t, layout(t), tc.text)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, r := range records {
				if r.Err != nil {
					t.Fatal(r.Err)
				}
				got = append(got, canonical(t, r.Formula))
			}
			if diff := cmp.Diff(tc.want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestHeaderAtFault(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, text string
		kind       fault.Kind
		want       []string
	}{
		{"nothing", "", fault.Malformed, nil},
		{"only lines", "\n\r\n", fault.Malformed, nil},
		{"UTF-16", "\xff\xfef\x00", fault.Malformed, nil},
		{"Latin 1", "formula,n\xe4me\n", fault.Malformed, nil},
		{"an open quotation mark", "formula,\"name", fault.Malformed, nil},
		{"no formula", "product,material\n", fault.Invalid, []string{"#/0 missing-column"}},
		{"semicolons", "formula;product\n", fault.Invalid, []string{"#/0 missing-column"}},
		{"tabs", "formula\tproduct\n", fault.Invalid, []string{"#/0 missing-column"}},
		{"a column twice", "formula,name,name\n", fault.Invalid, []string{"#/0/2 duplicate-column"}},
		{"unknown columns", "weight,formula,rate.amount,plan.drying.x.days,plan.drying.040.days,plan.drying.999.days,name.x,parts.0.name", fault.Invalid, []string{
			"#/0/0 unknown-column", "#/0/2 unknown-column", "#/0/3 unknown-column", "#/0/4 unknown-column", "#/0/5 unknown-column",
			"#/0/6 unknown-column", "#/0/7 unknown-column"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			_, err := table.NewReader(strings.NewReader(tc.text), layout(t))
			kind, got := violations(t, err)
			if kind != tc.kind {
				t.Errorf("kind %v, want %v: %v", kind, tc.kind, err)
			}
			if diff := cmp.Diff(tc.want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// violations returns the kind of a fault, and each pointer with its code.
func violations(t *testing.T, err error) (fault.Kind, []string) {
	t.Helper()
	f, ok := errors.AsType[*fault.Error](err)
	if !ok {
		t.Fatalf("%v is no fault", err)
	}
	var got []string
	for _, v := range f.Violations {
		got = append(got, v.Path.Pointer()+" "+v.Code)
	}
	return f.Kind, got
}

// TestFormulaAtFault has in each table a good formula behind the one at fault,
// which must be read.
func TestFormulaAtFault(t *testing.T) {
	t.Parallel()
	const head = "formula,row,product,material,share_percent,role,name,plan.drying.0.days,plan.drying.1.days,plan.loss_percent\n"
	long := strings.Repeat("x", table.MaxCell+1)
	for _, tc := range []struct {
		name, rows string
		want       []string // pointer, code, place
	}{
		{"a word that is no row", "a,meat,,m,1", []string{"#/row/2 row line 2, column row"}},
		{"a part or an addition", "a,,,m", []string{"#/row/2 row line 2, column row"}},
		{"a part and an addition", "a,,,m,1,salt", []string{"#/row/2 row line 2, column row"}},
		{"a part that has what only an addition has", "a,part,,m,1,salt", []string{"#/parts/0/role not-of-row line 2, column role"}},
		{"two products", "a,,dry-sausage,m,1\na,,cooked-sausage,n,1", []string{"#/product differs line 2, column product"}},
		{"a step left out", "a,,dry-sausage,m,1,,,,3", []string{"#/plan/drying/0 gap line 2, column plan.drying.0"}},
		{"a quotation mark", "a,,,m\"x,1", []string{"#/row/2 quote line 2, column material"}},
		{"behind a quotation mark", "a,,,\"m\"x,1", []string{"#/row/2 quote line 2, column material"}},
		{"no UTF-8", "a,,,m\xff,1\na,,,,1,salt", []string{"#/row/2 encoding line 2, column material", "#/row/3 row line 3, column row"}},
		{"a long cell", "a,,," + long + ",1", []string{"#/row/2 too-long line 2, column material"}},
		{"a long cell in quotation marks", "a,,,\"" + strings.Repeat("\"\"\n", 9999) + "\",1", []string{"#/row/2 too-long line 2, column material"}},
		{"beyond the header", "a,,,m,1,,,,,,x", []string{"#/row/2 no-column line 2, column 11"}},
		{"many rows", strings.Repeat("a,,,m,1\n", table.MaxRows+1), []string{"# too-many-rows line 2"}},
		{"a large formula", strings.Repeat("a,part,,m,1,,"+long[1:]+"\n", 66), []string{"# too-large line 2"}},
		{"a large formula as JSON", strings.Repeat("a,part,,m,1,,"+strings.Repeat("\a", table.MaxCell)+"\n", 11), []string{"# too-large line 2"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			records, err := read(t, layout(t), head+tc.rows+"\nz,part,,pork-lean,100\n")
			if err != nil || len(records) != 2 {
				t.Fatalf("%d records, %v", len(records), err)
			}
			kind, _ := violations(t, records[0].Err)
			wrong, _ := errors.AsType[*fault.Error](records[0].Err)
			var got []string
			for _, v := range wrong.Violations {
				place := records[0].CellAt(v.Path.Pointer()).String()
				got = append(got, v.Path.Pointer()+" "+v.Code+" "+place)
			}
			if kind != fault.Invalid || records[0].Formula != nil {
				t.Errorf("kind %v, formula %s", kind, records[0].Formula)
			}
			if diff := cmp.Diff(tc.want, got); diff != "" {
				t.Error(diff)
			}
			if records[1].Err != nil || records[1].Name != "z" {
				t.Errorf("the one behind: %q, %v", records[1].Name, records[1].Err)
			}
		})
	}
}

// A table that was sorted otherwise tears its formulas apart: the second piece
// says where the first began, whatever is around the name. Another formula of the
// same name begins with a row that says so.
func TestPiecesOfAFormula(t *testing.T) {
	t.Parallel()
	const head = "formula,row,product,material,share_percent,role\n"
	records, err := read(t, layout(t), head+"a,part,dry-sausage,m,100\nb,part,dry-sausage,m,100\n a ,addition,,s,,salt\nb,formula,dry-sausage\n,part,,m,100\n")
	if err != nil || len(records) != 4 {
		t.Fatalf("%d records, %v", len(records), err)
	}
	for i, apart := range []int{0, 0, 2, 0} {
		if got := records[i]; got.Apart != apart || (got.Err != nil) != (apart > 0) {
			t.Errorf("record %d: apart from line %d, %v", i, got.Apart, got.Err)
		}
	}
	wrong, _ := errors.AsType[*fault.Error](records[2].Err)
	if place := records[2].CellAt(wrong.Violations[0].Path.Pointer()).String(); place != "line 4, column formula" || wrong.Violations[0].Code != "apart" {
		t.Errorf("%s at %s", wrong.Violations[0].Code, place)
	}
}

// However many names there are, a piece is seen ten thousand formulas later, and
// no more than that is remembered.
func TestNamesThatAreRemembered(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ between, apart int }{{9_999, 2}, {10_000, 0}} {
		var rows strings.Builder
		rows.WriteString("formula,row,product,material,share_percent,role\na,part,dry-sausage,m,100\n")
		for i := range c.between {
			fmt.Fprintf(&rows, "n%d,part,dry-sausage,m,100\n", i)
		}
		rows.WriteString("a,addition,,s,,salt\n")
		records, err := read(t, layout(t), rows.String())
		if err != nil || len(records) != c.between+2 {
			t.Fatalf("%d records, %v", len(records), err)
		}
		if got := records[len(records)-1].Apart; got != c.apart {
			t.Errorf("behind %d: want line %d, got %d", c.between, c.apart, got)
		}
	}
}

func TestCell(t *testing.T) {
	t.Parallel()
	records, err := read(t, layout(t), "formula,product,material,share_percent,role,rate.value,plan.drying.0.temperature.value\n"+
		"a,,m,70,,,\n,dry-sausage,n,30,,,12\n\n,,,,salt,2,\n")
	if err != nil || len(records) != 1 || records[0].Err != nil {
		t.Fatalf("%+v, %v", records, err)
	}
	for _, tc := range []struct{ name, pointer, want string }{
		{"the formula", "#", "line 2"},
		{"the formula, as a plain pointer", "", "line 2"},
		{"its name", "#/name", "line 2, column formula"},
		{"a cell", "#/parts/1/share_percent", "line 3, column share_percent"},
		{"a cell as a plain pointer", "/additions/0/rate/value", "line 5, column rate.value"},
		{"a member that is missing", "#/additions/0/rate/unit", "line 5, column rate.unit"},
		{"an object of a row", "#/additions/0/rate", "line 5, column rate"},
		{"a row", "#/parts/0", "line 2"},
		{"a member of the formula, where it is given", "#/product", "line 3, column product"},
		{"a member of the plan", "#/plan/drying/0/temperature/value", "line 3, column plan.drying.0.temperature.value"},
		{"beside a member of the plan", "#/plan/drying/0/temperature/unit", "line 3, column plan.drying.0.temperature.unit"},
		{"a list", "#/parts", "line 2, column parts"},
		{"what nobody has given", "#/yield", "line 2, column yield"},
		{"with escapes", "#/parts/1/share%5Fpercent", "line 3, column share_percent"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			if got := records[0].CellAt(tc.pointer).String(); got != tc.want {
				t.Errorf("got %q, want %q", got, tc.want)
			}
		})
	}
}

func TestWrite(t *testing.T) {
	t.Parallel()
	var text bytes.Buffer
	err := table.Write(&text, layout(t),
		[]byte(`{"name":"Ring, \"hot\"","product":"dry-sausage","parts":[{"material":"pork-lean","share_percent":100}],
			"additions":[{"role":"other","name":"=SUM(A1)","rate":{"value":2.50,"unit":"g","per":{"value":1,"unit":"kg"}}}],"plan":{"loss_percent":35}}`),
		[]byte(`{"name":"Bare","product":"cooked-sausage","parts":[{"material":"pork-lean","share_percent":100}],"additions":[]}`))
	if err != nil {
		t.Fatal(err)
	}
	want := strings.ReplaceAll(`formula,row,product,role,name,material,share_percent,rate.value,rate.unit,rate.per.value,rate.per.unit,plan.loss_percent
"Ring, ""hot""",formula,dry-sausage,,,,,,,,,35
"Ring, ""hot""",part,,,,pork-lean,100,,,,,
"Ring, ""hot""",addition,,other,'=SUM(A1),,,2.50,g,1,kg,
Bare,formula,cooked-sausage,,,,,,,,,
Bare,part,,,,pork-lean,100,,,,,
`, "\n", "\r\n")
	if diff := cmp.Diff(want, text.String()); diff != "" {
		t.Error(diff)
	}
}

func TestWriteRefuses(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ name, formula string }{
		{"no JSON", `{`},
		{"no object", `[]`},
		{"null", `{"name":"a","product":null,"parts":[],"additions":[]}`},
		{"a text of no characters", `{"name":"a","parts":[{"name":""}],"additions":[]}`},
		{"a member that there is not", `{"name":"a","parts":[],"additions":[],"weight":1}`},
		{"a text for a number", `{"name":"a","parts":[{"share_percent":"1"}],"additions":[]}`},
		{"a list that is none", `{"name":"a","parts":1,"additions":[]}`},
		{"too long a text", `{"name":"` + strings.Repeat("x", table.MaxCell+1) + `","parts":[],"additions":[]}`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			var text bytes.Buffer
			if err := table.Write(&text, layout(t), []byte(tc.formula)); err == nil || text.Len() > 0 {
				t.Errorf("got %v and %q", err, text.String())
			}
		})
	}
}

func TestReaderPassesErrorsOn(t *testing.T) {
	t.Parallel()
	broken := errors.New("the line is cut")
	r, err := table.NewReader(io.MultiReader(strings.NewReader("formula,share_percent\na,1\n"), iotest.ErrReader(broken)), layout(t))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Next(); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
	if _, err := table.NewReader(iotest.ErrReader(broken), layout(t)); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
}

func TestWritePassesErrorsOn(t *testing.T) {
	t.Parallel()
	r, w := io.Pipe()
	broken := errors.New("the line is cut")
	if err := r.CloseWithError(broken); err != nil {
		t.Fatal(err)
	}
	if err := table.Write(w, layout(t)); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
}

// endless is a text of which so much is made. Now and then it looks how much is
// held of what it has given.
type endless struct {
	text        string
	left, reads int
	held        uint64 // the most bytes
}

func (e *endless) Read(into []byte) (int, error) {
	if e.left <= 0 {
		return 0, io.EOF
	}
	const between = 1000 // reads of 4 KiB
	if e.reads++; e.reads%between == 0 {
		var memory runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&memory)
		e.held = max(e.held, memory.HeapAlloc)
	}
	n := 0
	for n+len(e.text) <= len(into) {
		n += copy(into[n:], e.text)
	}
	e.left -= n
	return n, nil
}

// TestMemoryIsBounded sends 24 MiB in forms that never end a cell, a row or a
// formula.
func TestMemoryIsBounded(t *testing.T) {
	for _, tc := range []struct{ name, start, text string }{
		{"a cell", "a,", "xxxxxxxxxxxxxxxx"},
		{"a cell in quotation marks", "a,\"", "x\n\"\"xxxxxxxxxxxx"},
		{"a row", "a", ",1,22222222,,,,,"},
		{"a formula", "a,1\n", ",2\n,3\n,4\n"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			const size, most = 24 << 20, 4 << 20
			l := layout(t)
			var before runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			body := &endless{text: tc.text, left: size}
			r, err := table.NewReader(io.MultiReader(strings.NewReader("formula,share_percent\n"+tc.start), body, strings.NewReader("\n")), l)
			if err != nil {
				t.Fatal(err)
			}
			record, err := r.Next()
			if err != nil || record.Err == nil {
				t.Fatalf("got %+v, %v", record.Err, err)
			}
			if _, err := r.Next(); !errors.Is(err, io.EOF) {
				t.Errorf("behind it: %v", err)
			}
			if body.held > before.HeapAlloc+most {
				t.Errorf("%d bytes were held", body.held-before.HeapAlloc)
			}
		})
	}
}

// FuzzRead reads whatever is sent: each formula is valid JSON within its bounds
// or has its faults at cells, and what encoding/csv takes for a table without
// faults has as many rows here.
func FuzzRead(f *testing.F) {
	l := layout(f)
	for _, seed := range []string{
		kitchen, "formula\n", "formula,name\n\"a\n", "formula,row,plan.drying.1.days\na,formula,2\n", "\uFEFFformula,plan\r\na,{}\r\n",
		"formula,name,material\r\na,\"b \"\"c\"\"\",d\r\n", "formula,plan,plan.loss_percent\na,{},1", "formula,role,brings_none\n'=x,other,TRUE\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		records, err := read(t, l, text)
		if err != nil {
			violations(t, err)
			return
		}
		var good [][]byte
		line := 1
		for _, r := range records {
			if r.Line <= line {
				t.Errorf("line %d behind line %d", r.Line, line)
			}
			line = r.Line
			if r.Err != nil {
				kind, found := violations(t, r.Err)
				if kind != fault.Invalid || len(found) == 0 || r.Formula != nil {
					t.Errorf("%v with %d violations", kind, len(found))
				}
				continue
			}
			if !jsontext.Value(r.Formula).IsValid() || len(r.Formula) > table.MaxFormula {
				t.Errorf("%d bytes: %s", len(r.Formula), r.Formula)
			}
			good = append(good, r.Formula)
		}
		var again bytes.Buffer
		if table.Write(&again, l, good...) != nil {
			return // what is read need not keep the contract
		}
		if _, err := csv.NewReader(&again).ReadAll(); err != nil {
			t.Errorf("encoding/csv: %v", err)
		}
	})
}
