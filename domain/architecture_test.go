// Package domain_test holds the packages of domain to what can be read off
// their text: which package may import which, and that a number leaves a package
// only as a quantity.
package domain_test

import (
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io/fs"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const root = "greenweight/domain"

// trades are the packages of the trade, from the top: each may import those
// that stand before it. A new one takes its place here.
var trades = []string{
	"rulebook", "air", "material", "wateractivity", "moisture", "formula", "fermentation", "acidity", "acidification", "blend", "trichinae", "pathogen", "curing",
	"drying", "schedule", "finish", "lot", "label", "panel",
}

// foundations are what the packages of the trade stand on, and which of each
// other they may import.
var foundations = map[string][]string{
	"quantity": nil, "source": nil, "fault": nil, "numeric": nil, "finding": {"quantity", "source"},
}

// impure are the packages of the standard library through which a calculation
// could depend on more than its input, or do more than answer. What lies below
// them is meant too.
var impure = []string{"context", "os", "net", "database/sql", "log"}

// forTests are those of them that tests may use: they read files, and pull
// addresses apart.
var forTests = []string{"os", "net/url"}

// fileOf is a parsed file of a package.
type fileOf struct {
	name string // from the folder domain
	text *ast.File
}

func (f fileOf) test() bool { return strings.HasSuffix(f.name, "_test.go") }

// tree is the packages of domain by import path, and what was found of their
// types.
type tree struct {
	files    *token.FileSet
	packages map[string][]fileOf
	checked  map[string]*types.Package
	standard types.Importer // reads the standard library from its text
}

func newTree() *tree {
	files := token.NewFileSet()
	return &tree{
		files: files, packages: make(map[string][]fileOf), checked: make(map[string]*types.Package),
		standard: importer.ForCompiler(files, "source", nil),
	}
}

// add parses a file, from text when it is not nil.
func (tr *tree) add(tb testing.TB, name string, text any) {
	tb.Helper()
	syntax, err := parser.ParseFile(tr.files, name, text, parser.SkipObjectResolution)
	if err != nil {
		tb.Fatal(err)
	}
	in := path.Join(root, path.Dir(filepath.ToSlash(name)))
	tr.packages[in] = append(tr.packages[in], fileOf{name, syntax})
}

// domain reads every Go file below this folder.
func domain(tb testing.TB) *tree {
	tb.Helper()
	tr := newTree()
	err := filepath.WalkDir(".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case entry.IsDir() && entry.Name() == "testdata":
			return filepath.SkipDir
		case !entry.IsDir() && strings.HasSuffix(name, ".go"):
			tr.add(tb, name, nil)
		}
		return nil
	})
	if err != nil {
		tb.Fatal(err)
	}
	return tr
}

// Import type-checks a package of domain from its text. What is neither there
// nor in the standard library counts as a package without members, whose types
// are then not known.
func (tr *tree) Import(of string) (*types.Package, error) {
	if done, ok := tr.checked[of]; ok {
		return done, nil
	}
	files, ours := tr.packages[of]
	if !ours && standard(of) {
		return tr.standard.Import(of)
	}
	empty := types.NewPackage(of, path.Base(of))
	empty.MarkComplete()
	tr.checked[of] = empty // also for the time being: packages that import each other must not be checked for ever
	if !ours {
		return empty, nil
	}
	var syntax []*ast.File
	for _, f := range files {
		if !f.test() {
			syntax = append(syntax, f.text)
		}
	}
	config := types.Config{Importer: tr, IgnoreFuncBodies: true, Error: func(error) {}}
	checked, _ := config.Check(of, tr.files, syntax, nil) // what it can't tell is of an invalid type, which counts as a float
	tr.checked[of] = checked
	return checked, nil
}

func standard(imported string) bool {
	first, _, _ := strings.Cut(imported, "/")
	return !strings.Contains(first, ".") && first != "greenweight"
}

// shortOf returns the folder of domain that a package is in, "" for another.
func shortOf(imported string) string {
	below, ours := strings.CutPrefix(imported, root+"/")
	if !ours {
		return ""
	}
	first, _, _ := strings.Cut(below, "/")
	return first
}

// mayImport returns why a file of a package may not import another, or "".
func mayImport(from string, test bool, imported string) string {
	switch {
	case standard(imported):
		return mayImportStandard(test, imported)
	case strings.HasPrefix(imported, "gonum.org/v1/gonum/"):
		if _, low := foundations[from]; low && from != "numeric" && !test {
			return "leave computing to numeric"
		}
		return ""
	case imported == "github.com/shopspring/decimal":
		if !test && !slices.Contains([]string{"quantity", "rulebook", "label"}, from) {
			return "decimals are for quantity, rulebook and label"
		}
		return ""
	case strings.HasPrefix(imported, "github.com/google/go-cmp/cmp") || imported == "pgregory.net/rapid":
		if !test {
			return "it is for tests"
		}
		return ""
	case shortOf(imported) == "":
		return "domain stands on the standard library and gonum"
	case test:
		return ""
	}
	return mayImportOurs(from, imported)
}

func mayImportStandard(test bool, imported string) string {
	if test && slices.Contains(forTests, imported) {
		return ""
	}
	for _, closed := range impure {
		if imported == closed || strings.HasPrefix(imported, closed+"/") {
			return "domain is pure"
		}
	}
	return ""
}

// mayImportOurs is mayImport between packages of domain, outside tests.
func mayImportOurs(from, imported string) string {
	to := shortOf(imported)
	allowed, low := foundations[from]
	_, toLow := foundations[to]
	fromPlace, toPlace := slices.Index(trades, from), slices.Index(trades, to)
	switch {
	case strings.HasSuffix(imported, "test"):
		return "it is for tests"
	case from == to:
		return ""
	case low && slices.Contains(allowed, to):
		return ""
	case low:
		return "the packages of the trade stand on it, and not the reverse"
	case toLow:
		return ""
	case toPlace < 0:
		return "it has no place in the list of the trade"
	case fromPlace < toPlace:
		return "it stands lower in the list of the trade"
	}
	return ""
}

// wrongImports returns "package imports package: why" for each wrong import.
func (tr *tree) wrongImports(tb testing.TB) []string {
	tb.Helper()
	var wrong []string
	for _, of := range slices.Sorted(maps.Keys(tr.packages)) {
		from := shortOf(of)
		_, low := foundations[from]
		for _, f := range tr.packages[of] {
			if !low && !slices.Contains(trades, from) && !f.test() {
				wrong = append(wrong, f.name+": it has no place in the list of the trade")
			}
			for _, spec := range f.text.Imports {
				imported, err := strconv.Unquote(spec.Path.Value)
				if err != nil {
					tb.Fatal(err)
				}
				if why := mayImport(from, f.test(), imported); why != "" {
					wrong = append(wrong, fmt.Sprintf("%s imports %s: %s", f.name, imported, why))
				}
			}
		}
	}
	return wrong
}

// bareFloats returns the exported names of a package that show a number without
// a unit: constants, variables, types, and functions and methods.
func (tr *tree) bareFloats(tb testing.TB, of string) []string {
	tb.Helper()
	checked, err := tr.Import(of)
	if err != nil {
		tb.Fatal(err)
	}
	var found []string
	look := func(name string, pos token.Pos, shown ...types.Type) {
		if what := (&walk{own: checked, seen: make(map[types.Type]bool)}).first(shown); what != "" {
			at := tr.files.Position(pos)
			found = append(found, fmt.Sprintf("%s:%d: %s: %s", at.Filename, at.Line, name, what))
		}
	}
	for _, name := range checked.Scope().Names() {
		object := checked.Scope().Lookup(name)
		if !object.Exported() {
			continue
		}
		named, defined := types.Unalias(object.Type()).(*types.Named)
		if _, isType := object.(*types.TypeName); !isType || !defined {
			look(name, object.Pos(), object.Type())
			continue
		}
		look(name, object.Pos(), append(parametersOf(named.TypeParams()), named.Underlying())...)
		for m := range named.Methods() {
			if m.Exported() {
				look(name+"."+m.Name(), m.Pos(), m.Type())
			}
		}
	}
	return found
}

// walk looks for a float in what a package shows of a type.
type walk struct {
	own  *types.Package
	seen map[types.Type]bool
}

// float returns the float that another package would meet, or "". An exported
// type of the package itself is looked at where it is declared; an unexported
// one is what its fields and methods show. Of a type from elsewhere it matters
// only whether numbers turn into it without a constructor.
func (w *walk) float(t types.Type) string {
	t = types.Unalias(t)
	if w.seen[t] {
		return ""
	}
	w.seen[t] = true
	switch t := t.(type) {
	case *types.Basic:
		return floatOf(t)
	case *types.Named:
		return w.named(t)
	case *types.TypeParam:
		return w.float(t.Constraint())
	case *types.Signature:
		return w.first(slices.Concat(parametersOf(t.TypeParams()), variablesOf(t.Params()), variablesOf(t.Results())))
	case *types.Struct:
		var shown []types.Type
		for f := range t.Fields() {
			if f.Exported() || f.Embedded() {
				shown = append(shown, f.Type())
			}
		}
		return w.first(shown)
	case *types.Interface:
		shown := slices.Collect(t.EmbeddedTypes())
		for m := range t.ExplicitMethods() {
			if m.Exported() {
				shown = append(shown, m.Type())
			}
		}
		return w.first(shown)
	case *types.Union:
		var terms []types.Type
		for term := range t.Terms() {
			terms = append(terms, term.Type())
		}
		return w.first(terms)
	case *types.Map:
		return w.first([]types.Type{t.Key(), t.Elem()})
	case interface{ Elem() types.Type }: // pointer, slice, array, channel
		return w.float(t.Elem())
	}
	return ""
}

func (w *walk) first(of []types.Type) string {
	for _, t := range of {
		if what := w.float(t); what != "" {
			return what
		}
	}
	return ""
}

func floatOf(t *types.Basic) string {
	switch {
	case t.Info()&(types.IsFloat|types.IsComplex) != 0:
		return t.Name()
	case t.Kind() == types.Invalid:
		return "a type that is neither ours nor of the standard library"
	}
	return ""
}

func (w *walk) named(t *types.Named) string {
	if what := w.first(slices.Collect(t.TypeArgs().Types())); what != "" {
		return what
	}
	own := t.Obj().Pkg() == w.own
	if own && t.Obj().Exported() {
		return ""
	}
	if !own {
		switch t.Underlying().(type) {
		case *types.Struct, *types.Interface:
			return ""
		}
		return w.float(t.Underlying())
	}
	shown := []types.Type{t.Underlying()}
	for m := range t.Methods() {
		if m.Exported() {
			shown = append(shown, m.Type())
		}
	}
	return w.first(shown)
}

func variablesOf(t *types.Tuple) []types.Type {
	var of []types.Type
	for v := range t.Variables() {
		of = append(of, v.Type())
	}
	return of
}

func parametersOf(t *types.TypeParamList) []types.Type {
	var of []types.Type
	for p := range t.TypeParams() {
		of = append(of, p)
	}
	return of
}

// mayShowFloats says where numbers become quantities, and where they are
// computed with.
func mayShowFloats(of string) bool { return shortOf(of) == "quantity" || shortOf(of) == "numeric" }

func TestDomainImportsOnlyWhatItMay(t *testing.T) {
	t.Parallel()
	for _, wrong := range domain(t).wrongImports(t) {
		t.Error(wrong)
	}
}

func TestNumbersLeaveAsQuantities(t *testing.T) {
	t.Parallel()
	tr := domain(t)
	for _, of := range slices.Sorted(maps.Keys(tr.packages)) {
		found := tr.bareFloats(t, of)
		if !mayShowFloats(of) {
			for _, bare := range found {
				t.Error(bare)
			}
		}
		// The same look at where floats are at home shows that it sees.
		if of == root+"/quantity" && !slices.ContainsFunc(found, func(s string) bool { return strings.Contains(s, ": Grams: float64") }) {
			t.Errorf("quantity.Grams takes a float, and yet was not found among %q", found)
		}
	}
}

// One file with each way that a float can be shown in, and some that it can't.
const showsFloats = `package drying

import (
	"math"
	"math/big"
	"time"

	"gonum.org/v1/gonum/mat"

	"greenweight/domain/numeric"
	"greenweight/domain/quantity"
)

const (
	Untyped       = 0.5
	Typed float32 = 1
	whole         = 0.5
	Whole         = 2
	OfMath        = math.Pi
)

var (
	Stated   float64
	Inferred = math.Sqrt(2)
	OfGetter = quantity.MustGrams(2.5).Grams()
	Listed   = []float64{1}
	Keyed    map[string][]float64
	Mass     = quantity.MustGrams(2.5)
	Span     = 2 * time.Hour
	Exact    = big.NewRat(1, 2)
	hidden   = 2.5
	Nameless struct{ V float64 }
	Matrix   *mat.Dense
	Cells    numeric.Cells
)

type (
	Number   float64
	Same     = float64
	number   float64
	Row      struct { Value float64; name string }
	Hides    struct { value float64 }
	Embeds   struct { row }
	row      struct { Value float64 }
	Pair     struct { Low, High quantity.Mass }
	Measurer interface { Measure() float64 }
	Function func(float64) bool
	Generic[T any] struct { V T }
	Limited[T ~float64 | ~int] struct { v T }
	Closed interface{ measure() float64 }
)

func Takes(x float64)                      {}
func Gives() (n int, err error, f float32) { return }
func GivesComplex() complex128             { return 0 }
func GivesNumber() number                  { return 0 }
func GivesRow() *row                       { return nil }
func GivesGeneric() Generic[float64]       { return Generic[float64]{} }
func Yields(yield func(int, float64) bool) {}
func Sum[T ~int | ~float64](t ...T)        {}
func Fine(m quantity.Mass, d time.Duration, n int) (quantity.Ratio, error) { return quantity.Ratio{}, nil }
func takes(x float64)                      {}
func (Hides) Method() float64              { return 0 }
func (Hides) method() float64              { return 0 }
func (*Hides) OnPointer(x []float32)       {}
func (row) Reached() int                   { return 0 }
`

func TestBareFloatsAreFound(t *testing.T) {
	t.Parallel()
	tr := domain(t)
	delete(tr.packages, root+"/drying")
	delete(tr.packages, root+"/numeric")
	tr.add(t, "numeric/bad.go", "package numeric\n\nimport _ \"greenweight/domain/drying\"\n\ntype Cells []float64\n") // a circle
	tr.add(t, "drying/bad.go", showsFloats)
	want := []string{
		"Cells", "Embeds", "Function", "Gives", "GivesComplex", "GivesGeneric", "GivesNumber", "GivesRow", "Hides.Method",
		"Hides.OnPointer", "Inferred", "Keyed", "Limited", "Listed", "Matrix", "Measurer", "Nameless", "Number", "OfGetter",
		"OfMath", "Row", "Same", "Stated", "Sum", "Takes", "Typed", "Untyped", "Yields",
	}
	var got []string
	for _, bare := range tr.bareFloats(t, root+"/drying") {
		got = append(got, strings.Split(bare, ": ")[1])
	}
	slices.Sort(got)
	if !slices.Equal(want, got) {
		t.Errorf("want %q\ngot %q", want, got)
	}
}

func TestWrongImportsAreFound(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		file     string
		imported string
		wrong    bool
	}{
		{"drying/a.go", "context", true},
		{"drying/a.go", "os", true},
		{"drying/a.go", "os/exec", true},
		{"drying/a.go", "net/http", true},
		{"drying/a.go", "database/sql", true},
		{"drying/a.go", "log", true},
		{"drying/a.go", "log/slog", true},
		{"drying/a.go", "math", false},
		{"drying/a.go", "logic", false},
		{"drying/a_test.go", "os", false},
		{"drying/a_test.go", "os/exec", true},
		{"drying/a_test.go", "net/url", false},
		{"drying/a_test.go", "net/http", true},
		{"drying/a_test.go", "context", true},
		{"drying/a_test.go", "log/slog", true},
		{"drying/a.go", "greenweight/domain/fault", false},
		{"drying/a.go", "greenweight/domain/rulebook", false},
		{"drying/a.go", "greenweight/domain/fermentation", false},
		{"drying/a.go", "greenweight/domain/drying/mesh", false},
		{"drying/a.go", "greenweight/domain/finish", true},
		{"drying/a.go", "greenweight/domain/panel", true},
		{"drying/a.go", "greenweight/domain/elsewhere", true},
		{"drying/a.go", "greenweight/domain/quantity/quantitytest", true},
		{"drying/a_test.go", "greenweight/domain/quantity/quantitytest", false},
		{"drying/a_test.go", "greenweight/domain/finish", false},
		{"drying/a.go", "greenweight/service/lots", true},
		{"drying/a_test.go", "greenweight/openapi", true},
		{"drying/a.go", "gonum.org/v1/gonum/mat", false},
		{"drying/a.go", "github.com/shopspring/decimal", true},
		{"label/a.go", "github.com/shopspring/decimal", false},
		{"drying/a.go", "github.com/labstack/echo/v4", true},
		{"drying/a.go", "pgregory.net/rapid", true},
		{"drying/a_test.go", "pgregory.net/rapid", false},
		{"rulebook/a.go", "greenweight/domain/finding", false},
		{"rulebook/a.go", "greenweight/domain/material", true},
		{"curing/a.go", "greenweight/domain/formula", false},
		{"formula/a.go", "greenweight/domain/curing", true},
		{"finding/a.go", "greenweight/domain/quantity", false},
		{"finding/a.go", "greenweight/domain/fault", true},
		{"quantity/a.go", "greenweight/domain/source", true},
		{"quantity/a.go", "greenweight/domain/rulebook", true},
		{"quantity/a.go", "gonum.org/v1/gonum/stat", true},
		{"numeric/a.go", "gonum.org/v1/gonum/stat", false},
		{"elsewhere/a.go", "math", true},
		{"a.go", "math", true},
	} {
		t.Run(row.file+" "+row.imported, func(t *testing.T) {
			t.Parallel()
			tr := newTree()
			tr.add(t, row.file, fmt.Sprintf("package x\n\nimport _ %q\n", row.imported))
			if found := tr.wrongImports(t); (len(found) > 0) != row.wrong {
				t.Errorf("want it to be wrong %v, got %q", row.wrong, found)
			}
		})
	}
}

// Every package of the list that is there was read; a walk that sees nothing
// would find nothing.
func TestTheWalkSeesThePackages(t *testing.T) {
	t.Parallel()
	tr := domain(t)
	for _, short := range []string{"quantity", "source", "finding", "fault", "rulebook", "material", "formula", "curing"} {
		files := tr.packages[root+"/"+short]
		if !slices.ContainsFunc(files, func(f fileOf) bool { return !f.test() }) {
			t.Errorf("%s was not read", short)
		}
	}
}
