package table_test

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"greenweight/api/table"
	"greenweight/openapi"
)

// A maker keeps formulas in a spreadsheet, one row for each ingredient. What do
// they say, and where is the slip?
func Example() {
	const sheet = `formula,product,material,share_percent,role,rate.value,rate.unit
Plain ring,dry-sausage,pork-lean,100,,,
Plain ring,,salt,,salt,2.8,percent
Hot ring,dry-sausage,pork-lean,100,,,
Hot ring,,salt,,,2.8,percent
`
	document, err := openapi.Document()
	if err != nil {
		panic(err)
	}
	layout, err := table.NewLayout(document)
	if err != nil {
		panic(err)
	}
	reader, err := table.NewReader(strings.NewReader(sheet), layout)
	if err != nil {
		panic(err)
	}
	for {
		record, err := reader.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			panic(err)
		}
		fmt.Printf("%s, from line %d\n  %s\n", record.Name, record.Line, record.Formula)
		fmt.Println("  its role belongs to", record.CellAt("#/additions/0/role"))
	}
	// Output:
	// Plain ring, from line 2
	//   {"name":"Plain ring","product":"dry-sausage","parts":[{"material":"pork-lean","share_percent":100}],"additions":[{"material":"salt","role":"salt","rate":{"value":2.8,"unit":"percent"}}]}
	//   its role belongs to line 3, column role
	// Hot ring, from line 4
	//   {"name":"Hot ring","product":"dry-sausage","parts":[{"material":"pork-lean","share_percent":100}],"additions":[{"material":"salt","rate":{"value":2.8,"unit":"percent"}}]}
	//   its role belongs to line 5, column role
}
