package api

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"greenweight/api/apitest"
	"greenweight/domain/material"
	"greenweight/openapi"
)

func TestExamplesOfBlends(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"blend-least-cost", "blend-on-hand", "blend-closest"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathBlend, readExample(t, name+".request").Value), near)
		})
	}
	t.Run("blend-clash", func(t *testing.T) {
		t.Parallel()
		body := readExample(t, "blend-clash.request").Value
		a := testClient(t).Do(t, apitest.Request{
			Method: http.MethodPost, Path: pathBlend, Body: body, Header: http.Header{"X-Request-Id": {"example-of-a-clash"}},
		})
		goldenStatus(t, "blend-clash.answer", a, http.StatusUnprocessableEntity, cmpopts.EquateEmpty())
	})
}

// The figures of the examples, by hand; the descriptions of the examples say how.
func TestBlendsByHand(t *testing.T) {
	t.Parallel()
	least := apitest.Decode[openapi.BlendAnswer](t, testClient(t).Post(t, pathBlend, readExample(t, "blend-least-cost.request").Value))
	var got []string
	for _, c := range least.Cuts {
		if c.OnScale == nil {
			got = append(got, "no "+c.Name)
			continue
		}
		got = append(got, fmt.Sprintf("%s %v %s", c.Name, c.OnScale.Value, c.OnScale.Unit))
	}
	want := []string{"Leg 1710 g", "Shoulder 3000 g", "Beef 3000 g", "no Loin", "Back fat 2290 g"} // of 1707.1 and 2292.9 g: 1705 and 2295 would be too fat
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("weights (-want +got):\n%s", d)
	}
	if len(least.Rounded.Misses) != 0 {
		t.Errorf("misses %v", least.Rounded.Misses)
	}
	if d := cmp.Diff(&openapi.Money{Value: "55.29", Currency: "EUR"}, least.Cost); d != "" {
		t.Errorf("cost (-want +got):\n%s", d)
	}
	pound := apitest.Decode[openapi.BlendAnswer](t, testClient(t).Post(t, pathBlend+"?units=us", readExample(t, "blend-least-cost.request").Value))
	// 5.52892 a kilogram are 2.50788 a pound.
	if d := cmp.Diff(&openapi.ComputedPrice{Value: "2.5079", Currency: "EUR", Per: openapi.PositiveMass{Value: 1, Unit: "lb"}}, pound.Price); d != "" {
		t.Errorf("price of a pound (-want +got):\n%s", d)
	}
}

const goodBlend = `{"cuts":[{"name":"A","material":"pork-leg-lean-only","species":"pork","fat_percent":6,"moisture_percent":72,"protein_percent":20,` +
	`"price":{"value":"8.00","currency":"EUR","per":{"value":1,"unit":"kg"}},"on_hand":{"value":9,"unit":"kg"},"at_least":{"value":100,"unit":"g"},"min_share_percent":10,"max_share_percent":60},` +
	`{"name":"B","species":"beef","fat_percent":20,"moisture_percent":62,"protein_percent":17,"price":{"value":"5","currency":"EUR","per":{"value":1,"unit":"kg"}},"fixed":{"value":1,"unit":"kg"}},` +
	`{"name":"C","material":"pork-backfat","price":{"value":"2","currency":"EUR","per":{"value":1,"unit":"kg"}},"wished_share_percent":100}],` +
	`"limits":[{"of":"fat","min_percent":5,"max_percent":40},{"of":"species","species":"beef","max_percent":50}],"species_order":["pork","beef"],` +
	`"total":{"value":8,"unit":"kg"},"objective":"least-cost","scale":[{"division":{"value":1,"unit":"g"}}]}`

// One row for each member that the mapping reads, with what it changes in the
// answer.
func TestEveryMemberOfABlendIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathBlend, goodBlend, []change{
		{`"name":"A"`, `"name":"Leg"`},
		{`"material":"pork-leg-lean-only"`, `"material":"pork-leg-lean-and-fat"`},
		{`"fat_percent":6`, `"fat_percent":7`},
		{`"moisture_percent":72`, `"moisture_percent":73`},
		{`"protein_percent":20`, `"protein_percent":21`},
		{`"value":"8.00","currency":"EUR","per":{"value":1,"unit":"kg"}`, `"value":"8.10","currency":"EUR","per":{"value":1,"unit":"kg"}`},
		{`"value":"8.00","currency":"EUR","per":{"value":1,"unit":"kg"}`, `"value":"8.00","currency":"EUR","per":{"value":1,"unit":"lb"}`},
		{`"at_least":{"value":100,"unit":"g"}`, `"at_least":{"value":4.7,"unit":"kg"}`},
		{`"min_share_percent":10`, `"min_share_percent":58`},
		{`"fixed":{"value":1,"unit":"kg"}`, `"fixed":{"value":2,"unit":"kg"}`},
		{`"objective":"least-cost"`, `"objective":"closest-shares"`},
		{`"max_percent":40`, `"max_percent":41`},
		{`"min_percent":5,"max_percent":40`, `"exact_percent":35`},
		{`{"of":"fat","min_percent":5,"max_percent":40}`, `{"of":"lean","min_percent":65}`},
		{`{"of":"fat","min_percent":5,"max_percent":40}`, `{"of":"moisture","min_percent":50}`},
		{`{"of":"fat","min_percent":5,"max_percent":40}`, `{"of":"protein","min_percent":14}`},
		{`{"of":"fat","min_percent":5,"max_percent":40}`, `{"of":"water-protein-ratio","min_ratio":3.5}`},
		{`"species":"beef","max_percent":50`, `"species":"beef","max_percent":12.5`},
		{`"species":"beef","max_percent":50`, `"species":"pork","max_percent":87.5`},
		{`"total":{"value":8,"unit":"kg"}`, `"total":{"value":9,"unit":"kg"}`},
		{`"division":{"value":1,"unit":"g"}`, `"division":{"value":7,"unit":"g"}`},
		{`,"scale":[{"division":{"value":1,"unit":"g"}}]`, ``},
	})
	// What stands in no answer by itself shows in what is refused or wished.
	for _, c := range []struct {
		old, with, want string
	}{
		{`"species_order":["pork","beef"]`, `"species_order":["beef","pork"]`, "no-solution"},
		{`"on_hand":{"value":9,"unit":"kg"}`, `"on_hand":{"value":9,"unit":"lb"}`, ""},
		{`"on_hand":{"value":9,"unit":"kg"}`, `"on_hand":{"value":8,"unit":"lb"}`, "no-solution"},
		{`"max_share_percent":60`, `"max_share_percent":40`, "no-solution"},
		{`{"of":"fat","min_percent":5,"max_percent":40}`, `{"of":"water-protein-ratio","max_ratio":3.3}`, ""},
		{`{"of":"fat","min_percent":5,"max_percent":40}`, `{"of":"water-protein-ratio","max_ratio":3.2}`, "no-solution"},
		{`"name":"B","species":"beef"`, `"name":"B","species":"lamb"`, ""},
		{`"wished_share_percent":100`, `"wished_share_percent":90`, "invalid-value"},
	} {
		a := testClient(t).Post(t, pathBlend, []byte(strings.Replace(goodBlend, c.old, c.with, 1)))
		if a.Slug() != c.want {
			t.Errorf("%s: want %q, got %d %s", c.with, c.want, a.Status, a.Body)
		}
	}
}

// Every animal of the contract is a species, and the other way round.
func TestAnimals(t *testing.T) {
	t.Parallel()
	document, err := openapi.Document()
	if err != nil {
		t.Fatal(err)
	}
	words := document.Components.Schemas["Animal"].Value.Enum
	for i, w := range words {
		word, _ := w.(string)
		if s, ok := material.ParseSpecies(word); !ok || s != material.Pork+material.Species(i) {
			t.Errorf("%s becomes %s", word, s)
		}
	}
	if next := material.Pork + material.Species(len(words)); next.String() != "unstated" {
		t.Errorf("%s is missing", next)
	}
}

func TestRefusedBlends(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, old, with string
		want            refused
	}{
		{"neither material nor name", `"name":"B",`, ``, invalid("#/cuts/1/name required")},
		{"a spice", `"pork-leg-lean-only"`, `"pepper-black"`, invalid("#/cuts/0/material not-meat")},
		{"no such material", `"pork-leg-lean-only"`, `"no-such"`, invalid("#/cuts/0/material unknown-material")},
		{"species of fat", `{"of":"fat",`, `{"of":"fat","species":"pork",`, invalid("#/limits/0/species additional-member")},
		{"a species without a name", `"of":"species","species":"beef",`, `"of":"species",`, invalid("#/limits/1/species required")},
		{"a ratio of fat", `"min_percent":5,"max_percent":40`, `"min_ratio":5`, invalid("#/limits/0 required", "#/limits/0/min_ratio additional-member")},
		{"percent of a ratio", `"of":"fat",`, `"of":"water-protein-ratio",`, invalid(
			"#/limits/0 required", "#/limits/0/max_percent additional-member", "#/limits/0/min_percent additional-member")},
		{"exact and more", `"min_percent":5,`, `"exact_percent":5,`, invalid("#/limits/0/exact_percent additional-member")},
		{"another currency", `"value":"2","currency":"EUR"`, `"value":"2","currency":"USD"`, invalid("#/cuts/2/price/currency currency")},
		{"no price", `"price":{"value":"2","currency":"EUR","per":{"value":1,"unit":"kg"}},`, ``, invalid("#/cuts/2/price required")},
		{"no figure", `"moisture_percent":62,"protein_percent":17,`, ``, refused{200, "", nil}},
		{"no figure that is needed", `"of":"fat","min_percent":5,"max_percent":40},{`, `"of":"protein","min_percent":5},{`, refused{200, "", nil}},
		{"more than is there", `"total":{"value":8,"unit":"kg"}`, `"total":{"value":50,"unit":"kg"}`, refused{422, "no-solution", []string{
			"#/cuts/1/fixed clash", "#/limits/0/max_percent clash", "#/total clash", "#/cuts/0/on_hand clash"}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if n := strings.Count(goodBlend, c.old); n != 1 {
				t.Fatalf("%q is in the good order %d times", c.old, n)
			}
			got := refusedBy(testClient(t).Post(t, pathBlend, []byte(strings.Replace(goodBlend, c.old, c.with, 1))))
			slices.Sort(got.Pointers)
			slices.Sort(c.want.Pointers)
			if d := cmp.Diff(c.want, got, cmpopts.EquateEmpty()); d != "" {
				t.Errorf("refusal (-want +got):\n%s", d)
			}
		})
	}
}

// A price is a decimal string with a point, of three capitals.
func TestPricesThatCantBeRead(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ old, with, want string }{
		{`"value":"8.00"`, `"value":"8,00"`, "#/cuts/0/price/value pattern"}, {`"value":"8.00"`, `"value":"-8.00"`, "#/cuts/0/price/value pattern"},
		{`"value":"8.00"`, `"value":"08.00"`, "#/cuts/0/price/value pattern"}, {`"value":"8.00"`, `"value":8.00`, "#/cuts/0/price/value type"},
		{`"value":"8.00","currency":"EUR"`, `"value":"8.00","currency":"eur"`, "#/cuts/0/price/currency pattern"},
	} {
		a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathBlend, Body: []byte(strings.Replace(goodBlend, c.old, c.with, 1)), Bad: true})
		if d := cmp.Diff(invalid(c.want), refusedBy(a)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.with, d)
		}
	}
}

// The parts go into a formula as they are.
func TestPartsOfABlendMakeAFormula(t *testing.T) {
	t.Parallel()
	a := testClient(t).Post(t, pathBlend, readExample(t, "blend-least-cost.request").Value)
	blended := apitest.Decode[openapi.BlendAnswer](t, a)
	parts := make([]string, 0, len(blended.Parts))
	for _, p := range blended.Parts {
		parts = append(parts, fmt.Sprintf(`{"name":%q,"material":%q,"share_percent":%v}`, *p.Name, p.Material, p.SharePercent))
	}
	body := `{"formula":{"name":"x","product":"dry-sausage","parts":[` + strings.Join(parts, ",") + `],"additions":[]},"amount":{"meat":{"value":10,"unit":"kg"}}}`
	sheet := apitest.Decode[openapi.ScaleAnswer](t, testClient(t).Post(t, pathScale, []byte(body)))
	for i, want := range []float64{1707, 3000, 3000, 2293} {
		if got := sheet.WeighSheet.Lines[i].OnScale.Value; got != want {
			t.Errorf("line %d: want %v g, got %v", i, want, got)
		}
	}
}

// Orders at the ends of what the contract allows have an answer that keeps the
// contract, or a problem: never an error of ours.
func TestExtremeBlends(t *testing.T) {
	t.Parallel()
	masses := []string{`{"value":1000000,"unit":"kg"}`, `{"value":0.000001,"unit":"mg"}`, `{"value":1,"unit":"lb"}`}
	for _, value := range []string{"999999999.999999", "0", "0.000001"} {
		for i, mass := range masses {
			price := `{"value":"` + value + `","currency":"XTS","per":` + masses[(i+1)%3] + `}`
			for _, total := range []string{``, `,"total":` + masses[(i+2)%3], `,"total":` + mass} {
				for _, limit := range []string{
					`{"of":"fat","exact_percent":50}`, `{"of":"water-protein-ratio","max_ratio":0}`, `{"of":"water-protein-ratio","min_ratio":100}`,
					`{"of":"fat","min_percent":1e-9,"max_percent":99.999999999}`, `{"of":"species","species":"pork","min_percent":100}`,
				} {
					body := `{"cuts":[{"name":"a","species":"pork","fat_percent":0,"moisture_percent":0,"protein_percent":100,"on_hand":` + mass + `,"price":` + price + `},` +
						`{"name":"b","species":"pork","fat_percent":100,"moisture_percent":0,"protein_percent":0,"fixed":` + masses[(i+1)%3] + `,"price":` + price + `},` +
						`{"name":"c","species":"beef","fat_percent":1e-12,"moisture_percent":99,"protein_percent":1e-15,"price":{"value":"1","currency":"XTS","per":` + mass + `}}],` +
						`"limits":[` + limit + `],"scale":[{"division":` + masses[(i+2)%3] + `}]` + total + `}`
					for _, units := range []string{"", "?units=us"} {
						a := testClient(t).Post(t, pathBlend+units, []byte(body))
						if a.Status != 200 && a.Status != 422 {
							t.Errorf("status %d for %s: %s", a.Status, body, a.Body)
						}
					}
				}
			}
		}
	}
}
