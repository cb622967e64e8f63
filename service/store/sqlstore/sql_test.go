package sqlstore

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// What no text may have: a PostgreSQL behind a pooler, with several hosts or
// spread over many lacks it, or SQLite does.
var forbidden = []struct {
	name    string
	pattern *regexp.Regexp
}{
	{"OFFSET", regexp.MustCompile(`\bOFFSET\b|\bLIMIT\s+\S+\s*,`)},
	{"serial, identity or sequence", regexp.MustCompile(
		`\b(SMALL|BIG)?SERIAL\d?\b|\bIDENTITY\b|\bAUTOINCREMENT\b|\b(CREATE|ALTER|DROP)\s+((TEMP|TEMPORARY)\s+)?SEQUENCE\b|\b(NEXT|CURR|LAST)VAL\b`)},
	{"advisory lock", regexp.MustCompile(`ADVISORY`)},
	{"LISTEN or NOTIFY", regexp.MustCompile(`(^|;)\s*(UN)?LISTEN\b|\bNOTIFY\b|\bPG_NOTIFY\b`)},
	{"trigger", regexp.MustCompile(`\bTRIGGER\b`)},
	{"stored procedure", regexp.MustCompile(`\b(CREATE|REPLACE)\s+(FUNCTION|PROCEDURE)\b|(^|;)\s*CALL\b|(^|;)\s*DO\s`)},
	{"temporary or unlogged table", regexp.MustCompile(`\b(TEMP|TEMPORARY|UNLOGGED)\b`)},
	{"enum or other type", regexp.MustCompile(`\bENUM\b|\bCREATE\s+(TYPE|DOMAIN)\b`)},
	{"array", regexp.MustCompile(`\[|\bARRAY\b|\b(ANY|ALL|UNNEST)\s*\(`)},
	{"deferred or exclusion constraint", regexp.MustCompile(`\bDEFERR(ED|ABLE)\b|\bEXCLUDE\b`)},
	// SET LOCAL ends with its transaction, so that a pooler gives nobody else what was set.
	{"session SET", regexp.MustCompile(`(^|;)\s*(SET\s+(SESSION\s+)?[A-Z_.]+\s*(=|TO\b)|SET\s+SESSION\b|RESET\b|DISCARD\b)`)},
	{"cursor", regexp.MustCompile(`\bCURSOR\b|\bFETCH\b`)},
	{"lock that one engine does not know", regexp.MustCompile(`\bFOR\s+(NO\s+KEY\s+)?(UPDATE|SHARE)\b|\bLOCK\s+TABLE\b`)},
	{"placeholder without a number", regexp.MustCompile(`\?`)},
}

// plain returns a text in capitals, without comments and what stands in quotes.
func plain(text string) string {
	text = regexp.MustCompile(`--[^\n]*|/\*(?s:.*?)\*/`).ReplaceAllString(text, " ")
	text = regexp.MustCompile(`'[^']*'`).ReplaceAllString(text, `''`)
	return strings.ToUpper(strings.TrimSpace(text))
}

// forbiddenIn returns the names of what a text has and may not.
func forbiddenIn(text string) []string {
	var found []string
	for _, f := range forbidden {
		if f.pattern.MatchString(plain(text)) {
			found = append(found, f.name)
		}
	}
	return found
}

// unfitQuery returns what is wrong with a query, by name.
func unfitQuery(text string) []string {
	found := forbiddenIn(text)
	text = plain(text)
	next := 1
	for _, m := range regexp.MustCompile(`\$(\d+)`).FindAllStringSubmatch(text, -1) {
		n, err := strconv.Atoi(m[1])
		if err != nil || n > next {
			found = append(found, "placeholders out of order")
			break
		}
		next = max(next, n+1)
	}
	asks := regexp.MustCompile(`\bSELECT\b|\bDELETE\s+FROM\b|\bUPDATE\s+[A-Z_]+\s+SET\b`).FindAllString(text, -1)
	names := regexp.MustCompile(`\bSHOP_ID\s*=\s*\$\d`).FindAllString(text, -1)
	adds := regexp.MustCompile(`\bINSERT\s+INTO\s+[A-Z_]+\s*\(([^)]*)\)`).FindAllStringSubmatch(text, -1)
	if len(names) < len(asks) || slices.ContainsFunc(adds, func(m []string) bool { return !strings.Contains(m[1], "SHOP_ID") }) {
		found = append(found, "no shop_id")
	}
	return found
}

// unfitStep returns what is wrong with a migration, by name.
func unfitStep(text string) []string {
	found := forbiddenIn(text)
	if strings.Contains(text, "+goose Down") {
		found = append(found, "a way back")
	}
	text = plain(text)
	if regexp.MustCompile(`(^|;)\s*(CREATE|ALTER|DROP)\b`).MatchString(text) && regexp.MustCompile(`(^|;)\s*(INSERT|UPDATE|DELETE|SELECT|WITH)\b`).MatchString(text) {
		found = append(found, "DDL and DML")
	}
	for _, m := range regexp.MustCompile(`CREATE\s+TABLE\s+(?:IF\s+NOT\s+EXISTS\s+)?([A-Z_]+)\s*\(\s*([A-Z_]+)(?s:(.*?))\n\)`).FindAllStringSubmatch(text, -1) {
		table, first, body := m[1], m[2], m[3]
		if table == "SETTING" {
			continue // of no shop
		}
		key := regexp.MustCompile(`PRIMARY\s+KEY(\s*\(\s*([A-Z_]+))?`).FindStringSubmatch(body)
		if first != "SHOP_ID" || key == nil || (key[1] != "" && key[2] != "SHOP_ID") {
			found = append(found, "a key that does not lead with shop_id")
		}
		for _, u := range regexp.MustCompile(`UNIQUE(\s*\([^)]*\))?`).FindAllStringSubmatch(body, -1) {
			if !strings.Contains(u[1], "SHOP_ID") {
				found = append(found, "a unique key without shop_id")
			}
		}
	}
	for _, m := range regexp.MustCompile(`CREATE\s+UNIQUE\s+INDEX\s+([A-Z_]+)\s+ON\s+[A-Z_]+\s*\(([^)]*)\)`).FindAllStringSubmatch(text, -1) {
		// A key is found by its hash before its shop is known, so no two shops may have one hash.
		if !strings.Contains(m[2], "SHOP_ID") && m[1] != "ACCESS_KEY_BY_HASH" {
			found = append(found, "a unique key without shop_id")
		}
	}
	return found
}

// ofNoShop are the constants that may do without shop_id, and why.
var ofNoShop = map[string]string{
	"shopsAfter":      "lists the shops",
	"anyKey":          "asks whether the store was ever used",
	"keyByHash":       "tells the shop",
	"settingByName":   "settings are of no shop",
	"setSetting":      "settings are of no shop",
	"lastStep":        "of the schema",
	"sqliteTables":    "of the schema",
	"postgresTables":  "of the schema",
	"foreignKeyCheck": "of a whole file, by SQLite alone",
}

var statement = regexp.MustCompile(`^(SELECT|INSERT|UPDATE|DELETE|WITH|CREATE|ALTER|DROP|TRUNCATE|MERGE|REPLACE)\s`)

// texts returns the SQL constants of a source, and what is wrong with how SQL
// stands in it.
func sqlOf(name string, source any) (constants map[string]string, faults []string, err error) {
	files := token.NewFileSet()
	tree, err := parser.ParseFile(files, name, source, parser.SkipObjectResolution)
	if err != nil {
		return nil, nil, err
	}
	constants = map[string]string{}
	inConstants := map[ast.Expr]bool{}
	for _, d := range tree.Decls {
		declared, is := d.(*ast.GenDecl)
		if !is || declared.Tok != token.CONST {
			continue
		}
		for _, s := range declared.Specs {
			values, is := s.(*ast.ValueSpec)
			if !is {
				continue
			}
			for i, v := range values.Values {
				if text, is := literal(v); is && statement.MatchString(plain(text)) {
					constants[values.Names[i].Name] = text
					inConstants[v] = true
				}
			}
		}
	}
	ast.Inspect(tree, func(n ast.Node) bool {
		at := func(n ast.Node) string { return files.Position(n.Pos()).String() }
		switch n := n.(type) {
		case *ast.BasicLit:
			if text, is := literal(n); is && !inConstants[n] && statement.MatchString(plain(text)) {
				faults = append(faults, at(n)+": SQL that is no constant of the package")
			}
		case *ast.BinaryExpr:
			for _, side := range []ast.Expr{n.X, n.Y} {
				if id, is := side.(*ast.Ident); is && n.Op == token.ADD && constants[id.Name] != "" {
					faults = append(faults, at(n)+": SQL that is put together")
				}
			}
		case *ast.CallExpr:
			called, is := n.Fun.(*ast.SelectorExpr)
			if !is || !strings.Contains(called.Sel.Name, "rint") && called.Sel.Name != "Replace" && called.Sel.Name != "ReplaceAll" {
				return true
			}
			for _, a := range n.Args {
				if id, is := a.(*ast.Ident); is && constants[id.Name] != "" {
					faults = append(faults, at(n)+": SQL that is put together")
				}
			}
		}
		return true
	})
	return constants, faults, nil
}

func literal(e ast.Expr) (string, bool) {
	l, is := e.(*ast.BasicLit)
	if !is || l.Kind != token.STRING {
		return "", false
	}
	text, err := strconv.Unquote(l.Value)
	return text, err == nil
}

// All SQL of the package is in constants that fit both engines.
func TestQueries(t *testing.T) {
	t.Parallel()
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	seen, excused := 0, map[string]bool{}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		constants, faults, err := sqlOf(name, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range faults {
			t.Error(f)
		}
		for constant, text := range constants {
			seen++
			for _, f := range unfitQuery(text) {
				if f == "no shop_id" && ofNoShop[constant] != "" {
					excused[constant] = true
					continue
				}
				t.Errorf("%s in %s: %s", constant, name, f)
			}
		}
	}
	if seen < 25 {
		t.Errorf("only %d queries were found", seen)
	}
	for constant := range ofNoShop {
		if !excused[constant] {
			t.Errorf("%s needs no excuse, or is not there", constant)
		}
	}
}

func TestSteps(t *testing.T) {
	t.Parallel()
	names, err := fs.Glob(migrations, "migrations/*/*.sql")
	if err != nil || len(names) < 6 {
		t.Fatalf("want steps for two engines, got %v, %v", names, err)
	}
	for _, name := range names {
		text, err := fs.ReadFile(migrations, name)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range unfitStep(string(text)) {
			t.Errorf("%s: %s", name, f)
		}
	}
}

// The checks above can fail: each of these texts is refused, for one reason.
func TestUnfit(t *testing.T) {
	t.Parallel()
	const table = "CREATE TABLE a (\n    shop_id TEXT NOT NULL,\n    id TEXT NOT NULL,\n    PRIMARY KEY (shop_id, id)\n);\n"
	for _, c := range []struct{ text, want string }{
		{`SELECT a FROM b WHERE shop_id = $1 ORDER BY a LIMIT 5 OFFSET $2`, "OFFSET"},
		{`SELECT a FROM b WHERE shop_id = $1 LIMIT 5, 10`, "OFFSET"},
		{`SELECT nextval('s') FROM b WHERE shop_id = $1`, "serial, identity or sequence"},
		{`SELECT pg_advisory_xact_lock(1) FROM b WHERE shop_id = $1`, "advisory lock"},
		{`SELECT pg_notify('a', 'b') FROM b WHERE shop_id = $1`, "LISTEN or NOTIFY"},
		{`SELECT a FROM b WHERE shop_id = $1 AND a = ANY($2)`, "array"},
		{`SELECT ARRAY(SELECT 1 FROM c WHERE shop_id = $1) FROM b WHERE shop_id = $1`, "array"},
		{`SELECT a FROM b WHERE shop_id = $1 FOR UPDATE`, "lock that one engine does not know"},
		{`SELECT a FROM b WHERE shop_id = $1 FETCH FIRST 5 ROWS ONLY`, "cursor"},
		{`SELECT a FROM b WHERE shop_id = ?`, "placeholder without a number; no shop_id"},
		{`SELECT a FROM b WHERE id = $1`, "no shop_id"},
		{`SELECT a FROM b WHERE id = $1 -- shop_id = $2`, "no shop_id"},
		{`UPDATE b SET a = $1 WHERE id = $2`, "no shop_id"},
		{`DELETE FROM b WHERE id = $1`, "no shop_id"},
		{`DELETE FROM b WHERE shop_id = $1 AND id IN (SELECT id FROM b WHERE a < $2)`, "no shop_id"},
		{`INSERT INTO b (id, a) VALUES ($1, $2)`, "no shop_id"},
		{`SELECT a FROM b WHERE shop_id = $2 AND id = $1`, "placeholders out of order"},
		{`SELECT a FROM b WHERE shop_id = $1 AND id = $3`, "placeholders out of order"},
		{`SELECT a FROM b WHERE shop_id = $1 AND id = $2 AND c = $1`, ""},
	} {
		if got := strings.Join(unfitQuery(c.text), "; "); got != c.want {
			t.Errorf("query %s: want %q, got %q", c.text, c.want, got)
		}
	}
	for _, c := range []struct{ text, want string }{
		{table, ""},
		{"-- +goose Up\n" + table + "-- +goose Down\nDROP TABLE a;", "a way back"},
		{table + "INSERT INTO a (shop_id, id) VALUES ('1', '1');", "DDL and DML"},
		{table + "UPDATE a SET id = '2';", "DDL and DML"},
		{strings.Replace(table, "    id TEXT", "    n BIGSERIAL", 1), "serial, identity or sequence"},
		{strings.Replace(table, "    id TEXT", "    n BIGINT GENERATED ALWAYS AS IDENTITY", 1), "serial, identity or sequence"},
		{strings.Replace(table, "    id TEXT", "    n INTEGER PRIMARY KEY AUTOINCREMENT", 1), "serial, identity or sequence"},
		{"CREATE SEQUENCE s;", "serial, identity or sequence"},
		{strings.Replace(table, "    id TEXT", "    list TEXT[]", 1), "array"},
		{strings.Replace(table, "TABLE", "TEMPORARY TABLE", 1), "temporary or unlogged table"},
		{strings.Replace(table, "TABLE", "UNLOGGED TABLE", 1), "temporary or unlogged table"},
		{"CREATE TYPE kind AS ENUM ('a', 'b');", "enum or other type"},
		{"CREATE TRIGGER t AFTER INSERT ON a BEGIN SELECT 1; END;", "trigger"},
		{"CREATE OR REPLACE FUNCTION f() RETURNS INTEGER AS 'SELECT 1' LANGUAGE SQL;", "stored procedure"},
		{"DO $$ BEGIN END $$;", "stored procedure"},
		{"CALL p();", "stored procedure"},
		{"LISTEN news;", "LISTEN or NOTIFY"},
		{"NOTIFY news;", "LISTEN or NOTIFY"},
		{"SET search_path = other;", "session SET"},
		{"SET SESSION search_path TO other;", "session SET"},
		{"BEGIN; SET a.b TO 'c'", "session SET"},
		{"RESET ALL;", "session SET"},
		{"DECLARE c CURSOR FOR VALUES (1);", "cursor"},
		{"ALTER TABLE a ADD CONSTRAINT b FOREIGN KEY (shop_id) REFERENCES shop (shop_id) DEFERRABLE INITIALLY DEFERRED;", "deferred or exclusion constraint"},
		{"ALTER TABLE a ADD EXCLUDE USING gist (id WITH =);", "deferred or exclusion constraint"},
		{"LOCK TABLE a;", "lock that one engine does not know"},
		{strings.Replace(table, "(shop_id, id)", "(id, shop_id)", 1), "a key that does not lead with shop_id"},
		{strings.Replace(table, "PRIMARY KEY (shop_id, id)", "CHECK (id <> '')", 1), "a key that does not lead with shop_id"},
		{strings.Replace(table, "shop_id TEXT NOT NULL,\n", "n TEXT NOT NULL,\n", 1), "a key that does not lead with shop_id"},
		{strings.Replace(table, "    id TEXT NOT NULL,", "    id TEXT NOT NULL UNIQUE,", 1), "a unique key without shop_id"},
		{strings.Replace(table, "    id TEXT NOT NULL,", "    id TEXT NOT NULL, UNIQUE (id),", 1), "a unique key without shop_id"},
		{"CREATE UNIQUE INDEX b ON a (id);", "a unique key without shop_id"},
		{"CREATE UNIQUE INDEX b ON a (shop_id, id);", ""},
		{"-- a trigger, an array[], LISTEN\nCREATE INDEX b ON a (shop_id, id);", ""},
	} {
		if got := strings.Join(unfitStep(c.text), "; "); got != c.want {
			t.Errorf("step %s: want %q, got %q", c.text, c.want, got)
		}
	}
	for _, c := range []struct {
		body  string
		fault string
	}{
		{`db.Query("SELECT a FROM b WHERE shop_id = $1")`, "SQL that is no constant of the package"},
		{"db.Query(`\nDELETE FROM b`)", "SQL that is no constant of the package"},
		{`db.Query(text + name)`, "SQL that is put together"},
		{`db.Query(fmt.Sprintf(text, name))`, "SQL that is put together"},
		{`db.Query(strings.ReplaceAll(text, "a", name))`, "SQL that is put together"},
		{`db.Query(text, name)`, ""},
	} {
		source := fmt.Sprintf("package p\n\nconst text = `SELECT a FROM b WHERE shop_id = $1`\n\nfunc f() { %s }\n", c.body)
		constants, faults, err := sqlOf("p.go", source)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(faults, "; "); len(constants) != 1 || !strings.HasSuffix(got, c.fault) || (c.fault == "") != (got == "") {
			t.Errorf("%s: want one constant and %q, got %d and %q", c.body, c.fault, len(constants), got)
		}
	}
}
