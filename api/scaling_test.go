package api

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

func TestExamplesOfScaling(t *testing.T) {
	t.Parallel()
	for name, path := range map[string]string{"scale-on-hand": pathScale, "scale-casings": pathScale, "shopping-two-batches": pathShopping} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, path, readExample(t, name+".request").Value), near)
		})
	}
}

const goodParts = `"parts":[{"name":"Lean","material":"pork-leg-lean-only","share_percent":80},{"name":"Fat","material":"pork-backfat","share_percent":20}]`

// goodScaling asks for all that can go with a sheet.
const goodScaling = `{"formula":{"name":"Test","product":"dry-sausage",` + goodParts + `,` +
	`"additions":[{"role":"salt","name":"Salt","material":"salt-table","rate":{"value":2.5,"unit":"percent"}},` +
	`{"role":"cure","name":"Cure","cure":{"key":"cure-1"},"rate":{"value":0.24,"unit":"percent","base":"batch"}},` +
	`{"role":"liquid","name":"Wine","material":"wine-table-red","rate":{"value":2,"unit":"tbsp","per":{"value":5,"unit":"lb"}}}],"plan":{"loss_percent":40}},` +
	`"amount":{"on_hand":[{"item":"Lean","mass":{"value":8,"unit":"kg"}}],"stuffing_loss_percent":2},` +
	`"scales":[{"name":"fine","ranges":[{"up_to":{"value":100,"unit":"g"},"division":{"value":0.01,"unit":"g"}}],"bowl":{"value":20,"unit":"g"},"accuracy":{"value":0.02,"unit":"g"}},` +
	`{"name":"coarse","ranges":[{"division":{"value":2,"unit":"g"}}]}],` +
	`"stuffing":{"flat_width":{"value":60,"unit":"mm"},"cut_length":{"value":40,"unit":"cm"},"end_allowance":{"value":2,"unit":"cm"},"density":{"low_kg_per_m3":990,"high_kg_per_m3":1040}},` +
	`"yields":[{"item":"Fat","usable_percent":90}],` +
	`"prices":[{"item":"Lean","price":{"value":"6.10","currency":"EUR","per":{"value":1,"unit":"lb"}}},{"item":"#/formula/parts/1","price":{"value":"3","currency":"EUR","per":{"value":1,"unit":"kg"}}}],` +
	`"casing_price":{"value":"11","currency":"EUR","per":{"value":15,"unit":"m"}}}`

// One row for each member that scaling and the list read, with what it changes
// in the answer.
func TestEveryMemberOfScalingIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathScale, goodScaling, []change{
		{`"item":"Lean","mass":{"value":8,"unit":"kg"}`, `"item":"Lean","mass":{"value":8,"unit":"lb"}`},
		{`{"item":"Lean","mass"`, `{"item":"Fat","mass"`},
		{`"stuffing_loss_percent":2`, `"stuffing_loss_percent":3`},
		{`"name":"fine"`, `"name":"small"`},
		{`"up_to":{"value":100,"unit":"g"}`, `"up_to":{"value":25,"unit":"g"}`},
		{`"division":{"value":0.01,"unit":"g"}`, `"division":{"value":0.1,"unit":"g"}`},
		{`"bowl":{"value":20,"unit":"g"}`, `"bowl":{"value":99,"unit":"g"}`},
		{`"accuracy":{"value":0.02,"unit":"g"}`, `"accuracy":{"value":0.03,"unit":"g"}`},
		{`"flat_width":{"value":60,"unit":"mm"}`, `"stuffed_diameter":{"value":60,"unit":"mm"}`},
		{`"flat_width":{"value":60,"unit":"mm"}`, `"flat_width":{"value":2,"unit":"in"}`},
		{`"cut_length":{"value":40,"unit":"cm"}`, `"piece_mass":{"value":1,"unit":"lb"}`},
		{`"cut_length":{"value":40,"unit":"cm"}`, `"cut_length":{"value":30,"unit":"cm"}`},
		{`"end_allowance":{"value":2,"unit":"cm"}`, `"end_allowance":{"value":3,"unit":"cm"}`},
		{`,"density":{"low_kg_per_m3":990,"high_kg_per_m3":1040}`, ``},
		{`"low_kg_per_m3":990`, `"low_kg_per_m3":1000`},
		{`"high_kg_per_m3":1040`, `"high_kg_per_m3":1050`},
		{`"usable_percent":90`, `"usable_percent":80`},
		{`"value":"6.10"`, `"value":"6.20"`},
		{`"per":{"value":1,"unit":"lb"}`, `"per":{"value":1,"unit":"kg"}`},
		{`"item":"#/formula/parts/1"`, `"item":"Salt"`},
		{`"value":"11"`, `"value":"12"`},
		{`"per":{"value":15,"unit":"m"}`, `"per":{"value":15,"unit":"ft"}`},
		{`"on_hand":[{"item":"Lean","mass":{"value":8,"unit":"kg"}}]`, `"meat":{"value":10,"unit":"kg"}`},
	})
	const casings = `{"formula":{"name":"Test","product":"dry-sausage",` + goodParts + `,"additions":[]},` +
		`"amount":{"casings":{"flat_width":{"value":60,"unit":"mm"},"length":{"value":50,"unit":"cm"},"end_allowance":{"value":3,"unit":"cm"},"count":10,"density":{"low_kg_per_m3":1000,"high_kg_per_m3":1040}}}}`
	membersAreRead(t, pathScale, casings, []change{
		{`"flat_width":{"value":60,"unit":"mm"}`, `"stuffed_diameter":{"value":60,"unit":"mm"}`},
		{`"length":{"value":50,"unit":"cm"}`, `"length":{"value":2,"unit":"ft"}`},
		{`,"end_allowance":{"value":3,"unit":"cm"}`, ``},
		{`"count":10`, `"count":11`},
		{`,"density":{"low_kg_per_m3":1000,"high_kg_per_m3":1040}`, ``},
	})
	shopping := `{"batches":[{"formula":{"name":"Test","product":"dry-sausage",` + goodParts + `,"additions":[]},"amount":{"meat":{"value":10,"unit":"kg"}},"yields":[{"item":"Lean","usable_percent":80}],"stuffing":{"flat_width":{"value":60,"unit":"mm"},"cut_length":{"value":40,"unit":"cm"}}}],` +
		`"scale":[{"division":{"value":3,"unit":"g"}}],` +
		`"stock":[{"item":"Lean","on_hand":{"value":1,"unit":"kg"},"pack":{"value":700,"unit":"g"},"price":{"value":"6.10","currency":"EUR","per":{"value":1,"unit":"lb"}}}]}`
	membersAreRead(t, pathShopping, shopping, []change{
		{`"meat":{"value":10,"unit":"kg"}`, `"batch":{"value":11,"unit":"kg"}`},
		{`"usable_percent":80`, `"usable_percent":70`},
		{`"value":60,"unit":"mm"`, `"value":2,"unit":"in"`},
		{`"value":40,"unit":"cm"`, `"value":30,"unit":"cm"`},
		{`"scale":[{"division":{"value":3,"unit":"g"}}]`, `"scale":[{"division":{"value":7,"unit":"g"}}]`},
		{`"scale":[{"division":{"value":3,"unit":"g"}}]`, `"scales":[{"name":"x","ranges":[{"division":{"value":7,"unit":"g"}}]}]`},
		{`"item":"Lean","on_hand"`, `"item":"Fat","on_hand"`},
		{`"on_hand":{"value":1,"unit":"kg"}`, `"on_hand":{"value":1,"unit":"lb"}`},
		{`"pack":{"value":700,"unit":"g"}`, `"pack":{"value":800,"unit":"g"}`},
		{`"value":"6.10"`, `"value":"6.20"`},
		{`"per":{"value":1,"unit":"lb"}`, `"per":{"value":1,"unit":"kg"}`},
	})
	membersAreRead(t, pathCheck, strings.Replace(goodCheck, `"rulebooks":["us"]`, `"amount":{"meat":{"value":1,"unit":"kg"}},"scales":[{"name":"x","ranges":[{"division":{"value":0.01,"unit":"g"}}]}],"rulebooks":["us"]`, 1), []change{
		{`"value":0.01,"unit":"g"`, `"value":1,"unit":"g"`},
	})
}

func TestFaultsOfScaling(t *testing.T) {
	t.Parallel()
	shopping := func(batch, stock string) string {
		return `{"batches":[{"formula":{"name":"Test","product":"dry-sausage",` + goodParts + `,"additions":[]},"amount":{` + batch + `}}],"stock":[` + stock + `]}`
	}
	scaling := func(old, with string) string {
		if strings.Count(goodScaling, old) != 1 {
			t.Fatalf("%q is in the good order %d times, not once", old, strings.Count(goodScaling, old))
		}
		return strings.Replace(goodScaling, old, with, 1)
	}
	for _, c := range []struct {
		name, path, body string
		want             []string
	}{
		{"a name of nothing", pathScale, scaling(`"item":"Lean","mass"`, `"item":"Beef","mass"`), []string{"#/amount/on_hand/0/item unknown-item"}},
		{"an addition as a part", pathScale, scaling(`"item":"Lean","mass"`, `"item":"Salt","mass"`), []string{"#/amount/on_hand/0/item not-a-part"}},
		{"a part twice", pathScale, scaling(`"yields":[`, `"yields":[{"item":"#/formula/parts/1","usable_percent":80},`), []string{"#/yields/1/item duplicate"}},
		{"a price twice", pathScale, scaling(`"item":"#/formula/parts/1"`, `"item":"Lean"`), []string{"#/prices/1/item duplicate"}},
		{"a name of two things", pathScale, strings.NewReplacer(`"name":"Salt"`, `"name":"Fat"`, `"item":"Lean","price"`, `"item":"Fat","price"`).Replace(
			strings.Replace(goodScaling, `"yields":[{"item":"Fat","usable_percent":90}],`, ``, 1)), []string{"#/prices/0/item ambiguous-item"}},
		{"two currencies", pathScale, scaling(`"value":"11","currency":"EUR"`, `"value":"11","currency":"USD"`), []string{"#/casing_price/currency one-currency"}},
		{"one scale and several", pathScale, scaling(`"scales":[`, `"scale":[{"division":{"value":1,"unit":"g"}}],"scales":[`), []string{"#/scales additional-member"}},
		{"two scales of a name", pathScale, scaling(`"name":"coarse"`, `"name":"fine"`), []string{"#/scales/1/name duplicate"}},
		{"ranges that do not follow", pathScale, scaling(`"ranges":[{"division":{"value":2,"unit":"g"}}]`, `"ranges":[{"division":{"value":2,"unit":"g"}},{"division":{"value":3,"unit":"g"}}]`), []string{"#/scales/1/ranges/0/up_to required"}},
		{"a bowl too heavy", pathScale, scaling(`"bowl":{"value":20,"unit":"g"}`, `"bowl":{"value":200,"unit":"g"}`), []string{"#/scales/0/bowl maximum"}},
		{"a casing of two sizes", pathScale, scaling(`"flat_width":{"value":60,"unit":"mm"}`, `"flat_width":{"value":60,"unit":"mm"},"stuffed_diameter":{"value":40,"unit":"mm"}`), []string{"#/stuffing oneOf"}},
		{"neither length nor mass", pathScale, scaling(`"cut_length":{"value":40,"unit":"cm"},`, ``), []string{"#/stuffing oneOf"}},
		{"a piece that is all ends", pathScale, scaling(`"end_allowance":{"value":2,"unit":"cm"}`, `"end_allowance":{"value":20,"unit":"cm"}`), []string{"#/stuffing/cut_length minimum"}},
		{"a density upside down", pathScale, scaling(`"low_kg_per_m3":990`, `"low_kg_per_m3":1100`), []string{"#/stuffing/density/high_kg_per_m3 ascending"}},
		{"casings as amount and stuffing", pathScale, scaling(`"on_hand":[{"item":"Lean","mass":{"value":8,"unit":"kg"}}]`, `"casings":{"flat_width":{"value":60,"unit":"mm"},"length":{"value":50,"unit":"cm"},"count":3}`), []string{"#/stuffing additional-member"}},
		{"casing paid for and not used", pathScale, strings.Replace(strings.Replace(goodScaling, `"stuffing":{`, `"x":{`, 1), `"x":{"flat_width":{"value":60,"unit":"mm"},"cut_length":{"value":40,"unit":"cm"},"end_allowance":{"value":2,"unit":"cm"},"density":{"low_kg_per_m3":990,"high_kg_per_m3":1040}},`, ``, 1), []string{"#/casing_price additional-member"}},
		{"two amounts", pathScale, scaling(`"amount":{`, `"amount":{"meat":{"value":1,"unit":"kg"},`), []string{"#/amount oneOf"}},
		{"a batch in a list", pathShopping, shopping(`"finished":{"value":1,"unit":"kg"}`, ``), []string{"#/batches/0/formula/plan/loss_percent required"}},
		{"stuffed twice in a list", pathShopping, strings.Replace(shopping(`"casings":{"flat_width":{"value":60,"unit":"mm"},"length":{"value":50,"unit":"cm"},"count":3}`, ``),
			`}],"stock"`, `,"stuffing":{"flat_width":{"value":60,"unit":"mm"},"cut_length":{"value":40,"unit":"cm"}}}],"stock"`, 1), []string{"#/batches/0/stuffing additional-member"}},
		{"pieces of a list that are all ends", pathShopping, strings.Replace(shopping(`"meat":{"value":1,"unit":"kg"}`, ``),
			`}],"stock"`, `,"stuffing":{"flat_width":{"value":60,"unit":"mm"},"cut_length":{"value":4,"unit":"cm"},"end_allowance":{"value":2,"unit":"cm"}}}],"stock"`, 1), []string{"#/batches/0/stuffing/cut_length minimum"}},
		{"an item of no formula", pathShopping, shopping(`"meat":{"value":1,"unit":"kg"}`, `{"item":"Mace"}`), []string{"#/stock/0/item unknown-item"}},
		{"a list in two currencies", pathShopping, shopping(`"meat":{"value":1,"unit":"kg"}`, `{"item":"Lean","price":{"value":"1","currency":"EUR","per":{"value":1,"unit":"kg"}}},{"item":"Fat","price":{"value":"1","currency":"USD","per":{"value":1,"unit":"kg"}}}`), []string{
			"#/stock/1/price/currency one-currency",
		}},
		{"faults of members inside a batch", pathShopping, strings.Replace(shopping(`"meat":{"value":1,"unit":"kg"},"batch":{"value":1,"unit":"kg"}`, ``), `"pork-backfat"`, `"pepper-black"`, 1), []string{
			"#/batches/0/amount oneOf", "#/batches/0/formula/parts/1/material not-meat",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Post(t, c.path, []byte(c.body))
			if a.Status != 422 {
				t.Fatalf("want 422, got %d: %s", a.Status, a.Body)
			}
			got := a.Pointers()
			slices.Sort(got)
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("violations (-want +got):\n%s", d)
			}
		})
	}
}

// A hazard is an answer: no cure is put on the list for it, and nothing else is
// bought for that formula alone.
func TestNothingIsBoughtForAHazard(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.ShoppingAnswer](t, testClient(t).Post(t, pathShopping, readExample(t, "shopping-two-batches.request").Value))
	for _, item := range a.Items {
		for _, p := range item.Pointers {
			if strings.HasPrefix(p, "#/batches/2/") {
				t.Errorf("%s is bought for the hazard", item.Name)
			}
		}
		if item.Name == "Curing salt" {
			t.Error("undiluted nitrite is on the list")
		}
	}
	if len(a.LeftOut) != 1 || a.LeftOut[0].Pointer != "#/batches/2/formula" || a.LeftOut[0].Hazards[0].Status != openapi.FindingStatusHazard {
		t.Fatalf("want the third batch left out, got %+v", a.LeftOut)
	}
	if d := cmp.Diff([]openapi.Pointer{"#/batches/2/formula/additions/1"}, a.LeftOut[0].Hazards[0].Pointers); d != "" {
		t.Errorf("pointers (-want +got):\n%s", d)
	}
	if a.Total != nil || a.Priced == nil {
		t.Errorf("want no total while things have no price, got %v of %v", a.Total, a.Priced)
	}
}

// The same question in other units has the same answer: 8 kg are 17.63698 lb to
// seven digits, and 60 mm are 2.362205 in.
func TestScalingInOtherUnits(t *testing.T) {
	t.Parallel()
	metric := apitest.Decode[openapi.ScaleAnswer](t, testClient(t).Post(t, pathScale, []byte(goodScaling)))
	other := strings.NewReplacer(
		`"mass":{"value":8,"unit":"kg"}`, `"mass":{"value":17.636980974790205,"unit":"lb"}`,
		`{"value":60,"unit":"mm"}`, `{"value":2.3622047244094488,"unit":"in"}`, `{"value":40,"unit":"cm"}`, `{"value":0.4,"unit":"m"}`,
	).Replace(goodScaling)
	same := apitest.Decode[openapi.ScaleAnswer](t, testClient(t).Post(t, pathScale, []byte(other)))
	if d := cmp.Diff(metric, same, near); d != "" {
		t.Errorf("in other units (-metric +other):\n%s", d)
	}
	us := apitest.Decode[openapi.ScaleAnswer](t, testClient(t).Post(t, pathScale+"?units=us", []byte(goodScaling)))
	if us.Stuffing.Diameter.Unit != openapi.LengthUnitIn || us.Stuffing.Casing.Unit != openapi.LengthUnitFt || us.OnHand.Parts[0].Used.Unit != openapi.MassUnitLb {
		t.Errorf("want inches, feet and pounds, got %+v, %+v", us.Stuffing, us.OnHand)
	}
}

// By hand, of goodScaling: 8 kg at 80 % are 10 kg of meat, 2 kg of fat at 90 %
// usable are 2.2222 kg bought, 6.6667 EUR at 3 per kg. 8 kg at 6.10 per pound are
// 107.5856 EUR. Salt, cure and wine have no price.
func TestWhatItCosts(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.ScaleAnswer](t, testClient(t).Post(t, pathScale, []byte(goodScaling)))
	var got []string
	for _, l := range a.Cost.Lines {
		got = append(got, fmt.Sprintf("%s %s %s", l.Name, l.Cost.Value, l.Cost.Currency))
	}
	if d := cmp.Diff([]string{"Lean 107.5856 EUR", "Fat 6.6667 EUR"}, got); d != "" {
		t.Errorf("costs (-want +got):\n%s", d)
	}
	if a.Cost.Total != nil || len(a.Cost.WithoutPrice) != 3 || a.Cost.Casing == nil {
		t.Errorf("want a cost of casing, no total and three without a price, got %+v", a.Cost)
	}
	if len(a.ToBuy) != 1 || a.ToBuy[0].Mass != (openapi.Mass{Value: 2.22222, Unit: "kg"}) || *a.OnHand.Parts[1].ToBuy != a.ToBuy[0].Mass {
		t.Errorf("want 2.22222 kg of fat to buy, got %+v and %+v", a.ToBuy, a.OnHand.Parts[1])
	}
}

// Orders at the ends of what the contract allows have an answer that keeps the
// contract, or a problem: never an error of ours.
func TestExtremeScaling(t *testing.T) {
	t.Parallel()
	const long, short = `{"value":10000,"unit":"ft"}`, `{"value":0.001,"unit":"mm"}`
	formula := func(rate string) string {
		return `"formula":{"name":"x","product":"dry-sausage","parts":[{"name":"a","material":"pork-backfat","share_percent":0.0000000001},{"name":"b","material":"beef-ground-80-20","share_percent":100}],` +
			`"additions":[{"role":"cure","name":"c","cure":{"key":"cure-1"},"rate":` + rate + `},{"role":"culture","name":"d","rate":` + rate + `}],"plan":{"loss_percent":80}}`
	}
	for _, rate := range []string{`{"value":0.000001,"unit":"mg_per_kg"}`, `{"value":0.000001,"unit":"percent","base":"batch"}`, `{"value":45,"unit":"percent","base":"batch"}`} {
		for _, amount := range []string{
			`{"on_hand":[{"item":"a","mass":{"value":1000000,"unit":"lb"}}]}`, `{"on_hand":[{"item":"a","mass":{"value":0.000001,"unit":"mg"}},{"item":"b","mass":{"value":1000000,"unit":"lb"}}]}`,
			`{"casings":{"flat_width":` + long + `,"length":` + long + `,"count":100000}}`, `{"casings":{"stuffed_diameter":` + short + `,"length":` + short + `,"count":1}}`,
			`{"meat":{"value":1,"unit":"kg"},"stuffing_loss_percent":50}`, `{"finished":{"value":1000000,"unit":"kg"},"stuffing_loss_percent":50}`,
		} {
			for _, division := range []string{`{"value":0.000001,"unit":"mg"}`, `{"value":1000000,"unit":"kg"}`, `{"value":1,"unit":"g"}`} {
				scales := `"scales":[{"name":"s","ranges":[{"division":` + division + `}],"accuracy":{"value":1000000,"unit":"kg"}}]`
				for _, stuffing := range []string{`"cut_length":` + long, `"cut_length":` + short, `"piece_mass":{"value":0.000001,"unit":"mg"}`, `"piece_mass":{"value":1000000,"unit":"kg"}`} {
					body := `{` + formula(rate) + `,"amount":` + amount + `,` + scales + `,"prices":[{"item":"a","price":{"value":"999999999.999999","currency":"USD","per":{"value":0.000001,"unit":"mg"}}}]`
					if !strings.Contains(amount, "casings") {
						body += `,"stuffing":{"stuffed_diameter":{"value":50,"unit":"mm"},` + stuffing + `},"casing_price":{"value":"1","currency":"USD","per":` + short + `}`
					}
					if a := testClient(t).Post(t, pathScale, []byte(body+`}`)); a.Status != 200 && a.Status != 422 {
						t.Errorf("status %d for %s: %s", a.Status, body, a.Body)
					}
				}
				body := `{"batches":[{` + formula(rate) + `,"amount":` + amount + `}],` + scales + `,"stock":[{"item":"a","pack":{"value":0.000001,"unit":"mg"},"price":{"value":"999999999.999999","currency":"USD","per":{"value":0.000001,"unit":"mg"}}}]}`
				if a := testClient(t).Post(t, pathShopping, []byte(body)); a.Status != 200 && a.Status != 422 {
					t.Errorf("status %d for %s: %s", a.Status, body, a.Body)
				}
			}
		}
	}
}
