package contract_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/go-json-experiment/json/jsontext"
)

// order is a good body of about 1.9 kB with 12 additions and a choice of each
// sort.
func order() []byte {
	additions := make([]string, 12)
	for i := range additions {
		additions[i] = fmt.Sprintf(`{
      "name": "addition %d", "role": "spice",
      "rate": {"value": %g, "unit": "g_per_kg"},
      "note": null
    }`, i, float64(i)+0.25)
	}
	return fmt.Appendf(nil, `{
  "name": "Fennel, thin", "date": "2026-02-28",
  "amount": {"meat": {"value": 5, "unit": "lb"}},
  "additions": [
    %s
  ],
  "grind_mm": 6, "pieces": 12, "smoked": false,
  "plan": [
    {"step": "ferment", "hours": 48, "celsius": 22.5, "percent": 90},
    {"step": "hold", "until": "2026-03-01T00:00:00+01:00"}
  ]
}`, strings.Join(additions, ",\n    "))
}

var errVerdict = errors.New("the wrong verdict")

// BenchmarkBody compares, on the same good body, the check with reading alone
// and with the schema validator that serves as the oracle.
func BenchmarkBody(b *testing.B) {
	o := newOracle(b, keywordsDocument)
	op, _ := o.contract.Operation(http.MethodPost, "/orders")
	body := order()
	if found := op.CheckBody("application/json", body); found != nil {
		b.Fatal(found)
	}
	bad := bytes.Replace(body, []byte(`"unit": "g_per_kg"`), []byte(`"unit": "stone"`), 1)
	if len(op.CheckBody("application/json", bad)) != 1 {
		b.Fatal("the bad body does not have one violation")
	}
	run := func(name string, step func() error) {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(body)))
			b.ReportAllocs()
			for b.Loop() {
				if err := step(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	run("check", func() error {
		if op.CheckBody("application/json", body) != nil {
			return errVerdict
		}
		return nil
	})
	run("check-bad", func() error {
		if op.CheckBody("application/json", bad) == nil {
			return errVerdict
		}
		return nil
	})
	dec := jsontext.NewDecoder(new(bytes.Buffer))
	run("read-only", func() error {
		dec.Reset(bytes.NewBuffer(body))
		return dec.SkipValue()
	})
	schema := o.doc.Components.Schemas["Order"].Value
	formats := openapi3.WithStringFormatValidator("uuid", openapi3.NewRegexpFormatValidator(openapi3.FormatOfStringForUUIDOfRFC9562))
	decoded := decode(b, body)
	run("kin-visit", func() error { return schema.VisitJSON(decoded, openapi3.MultiErrors(), formats) })
	run("kin-decode-and-visit", func() error {
		var value any
		dec := json.NewDecoder(bytes.NewReader(body))
		dec.UseNumber()
		if err := dec.Decode(&value); err != nil {
			return err
		}
		return schema.VisitJSON(value, openapi3.MultiErrors(), formats)
	})
	input := o.input(b, op)
	input.Request.Header.Set("Content-Type", "application/json")
	run("kin-filter", func() error {
		input.Request.Body = readCloser{bytes.NewReader(body)}
		return openapi3filter.ValidateRequestBody(b.Context(), input, o.spec(op).RequestBody.Value)
	})
}

// BenchmarkParameters does the same for the parameters of a list.
func BenchmarkParameters(b *testing.B) {
	o := newOracle(b, keywordsDocument)
	op, _ := o.contract.Operation(http.MethodGet, "/orders")
	query := url.Values{
		"limit": {"20"}, "units": {"us"}, "since": {"2026-01-31"}, "until": {"2026-01-31T08:30:00Z"}, "ph": {"5.3"},
		"dried": {"true"}, "room": {"warm", "cold"}, "rulebook": {"us,eu"}, "text": {"pork"},
	}
	path := func(string) string { return "" }
	b.Run("check", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if found := op.CheckParameters(path, query, nil); found != nil {
				b.Fatal(found)
			}
		}
	})
	input := o.input(b, op)
	input.QueryParams = query
	b.Run("kin-filter", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if err := openapi3filter.ValidateRequest(b.Context(), input); err != nil {
				b.Fatal(err)
			}
		}
	})
}
