package api

import (
	"fmt"
	"math"
	"net/http"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// goodTarget is a small order for the loss of a target, of an invented mixture, whose
// parts the tests replace.
const goodTarget = `{"formula":{"name":"Test (invented)","product":"dry-sausage","parts":[{"material":"pork-butt-lean-only","share_percent":75},{"material":"pork-backfat","share_percent":25}],` +
	`"additions":[{"role":"salt","material":"salt-table","rate":{"value":2.8,"unit":"percent"}}]},` +
	`"composition":{"fat_percent":24},"dissolved":[{"kind":"glycerol","percent":0.5}],"green_weight":{"value":800,"unit":"g"},` +
	`"water_activity":0.88,"moisture_protein_ratio":1.9,"relative_humidity_percent":82,"hygrometer_uncertainty_percent":2,"at_losses_percent":[20,33]}`

// Each answer says in its description how its main figures were checked.
func TestExamplesOfTargets(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"target-activity-and-ratio", "target-measured", "target-damp-room"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathTarget, readExample(t, name+".request").Value), near)
		})
	}
}

func TestEveryMemberOfATargetIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathTarget, goodTarget, []change{
		{`"material":"pork-butt-lean-only"`, `"material":"pork-leg-lean-only"`},
		{`"rate":{"value":2.8,"unit":"percent"}`, `"rate":{"value":3,"unit":"percent"}`},
		{`"fat_percent":24`, `"fat_percent":25`},
		{`"fat_percent":24`, `"water_percent":57`},
		{`"fat_percent":24`, `"protein_percent":16`},
		{`"fat_percent":24`, `"salt_percent":3`},
		{`"fat_percent":24`, `"sugar_percent":1`},
		{`"kind":"glycerol"`, `"kind":"sorbitol"`},
		{`"kind":"glycerol"`, `"kind":"potassium-chloride"`},
		{`"percent":0.5}`, `"percent":0.6}`},
		{`"green_weight":{"value":800,"unit":"g"}`, `"green_weight":{"value":800,"unit":"oz"}`},
		{`"water_activity":0.88`, `"water_activity":0.89`},
		{`"moisture_protein_ratio":1.9`, `"moisture_protein_ratio":1.8`},
		{`"relative_humidity_percent":82`, `"relative_humidity_percent":81`},
		{`"hygrometer_uncertainty_percent":2`, `"hygrometer_uncertainty_percent":3`},
		{`[20,33]`, `[20,34]`},
	})
}

func TestTargetFaults(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, old, with string
		want            refused
	}{
		{"nothing wanted", `"water_activity":0.88,"moisture_protein_ratio":1.9,`, ``, invalid("# required")},
		{"a water activity of a percentage", `"water_activity":0.88`, `"water_activity":88`, invalid("#/water_activity maximum")},
		{"no moisture", `"moisture_protein_ratio":1.9`, `"moisture_protein_ratio":0`, invalid("#/moisture_protein_ratio minimum")},
		{"a hygrometer without a humidity", `"relative_humidity_percent":82,`, ``, invalid("#/hygrometer_uncertainty_percent additional-member")},
		{"more than the water", `[20,33]`, `[20,60]`, invalid("#/at_losses_percent/1 maximum")},
		{"a loss of all", `[20,33]`, `[81,33]`, invalid("#/at_losses_percent/0 maximum")},
		{"too much potassium", `{"kind":"glycerol","percent":0.5}`, `{"kind":"potassium-chloride","percent":1.5}`, invalid("#/dissolved/0 too-much-potassium")},
		{"sand", `"kind":"glycerol"`, `"kind":"sand"`, invalid("#/dissolved/0/kind enum")},
		{"a material unheard of", `"material":"pork-backfat"`, `"material":"unicorn"`, invalid("#/formula/parts/1/material unknown-material")},
		{"shares of more than all", `"share_percent":75`, `"share_percent":95`, invalid("#/formula/parts sum")},
		{"a gain", `[20,33]`, `[-1,33]`, invalid("#/at_losses_percent/0 minimum")},
		{"no weight", `"value":800`, `"value":0`, invalid("#/green_weight/value minimum")},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathTarget, Body: instead(t, goodTarget, tc.old, tc.with), Bad: true})
			if d := cmp.Diff(tc.want, refusedBy(a)); d != "" {
				t.Errorf("refusal (-want +got):\n%s%s", d, a.Body)
			}
		})
	}
	a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathTarget, Body: []byte(`{"water_activity":0.9}`), Bad: true})
	if d := cmp.Diff(invalid("# required"), refusedBy(a)); d != "" {
		t.Errorf("of no mixture (-want +got):\n%s", d)
	}
}

// The weight at a loss is what it leaves of the green weight, the lower end of one being
// the higher of the other; without a green weight there is none.
func TestWeightsOfATarget(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.TargetAnswer](t, testClient(t).Post(t, pathTarget, []byte(goodTarget)))
	for what, aim := range map[string]*openapi.TargetLoss{"water activity": a.WaterActivity, "ratio": a.MoistureProteinRatio, "both": a.Both} {
		for _, row := range []struct {
			loss *openapi.LossPercent
			mass *openapi.Mass
		}{{aim.LossPercent.Median, aim.Weight}, {aim.LossPercent.P80.Low, &aim.WeightP80.High}, {aim.LossPercent.P80.High, &aim.WeightP80.Low}, {&aim.There.LossPercent, aim.There.Weight}} {
			if want := 800 * (1 - *row.loss/100); math.Abs(want-inGrams(*row.mass)) > 0.01 {
				t.Errorf("%s: %v %% leave %v g, got %+v", what, *row.loss, want, *row.mass)
			}
		}
	}
	without := apitest.Decode[openapi.TargetAnswer](t, testClient(t).Post(t, pathTarget, instead(t, goodTarget, `"green_weight":{"value":800,"unit":"g"},`, ``)))
	if without.WaterActivity.Weight != nil || without.WaterActivity.WeightP80 != nil || without.Table[0].Weight != nil {
		t.Error("a weight of nothing")
	}
}

// A caution says in every answer that an estimate shows of no rule that it is met.
func TestNoEstimateMeetsARule(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.TargetAnswer](t, testClient(t).Post(t, pathTarget, []byte(goodTarget)))
	if d := cmp.Diff(targetCautions, a.Cautions); d != "" {
		t.Errorf("cautions (-want +got):\n%s", d)
	}
}

// Orders at the ends of what the contract allows have an answer that keeps the contract,
// or a problem: never an error of ours.
func TestExtremeTargets(t *testing.T) {
	t.Parallel()
	for _, composition := range []string{
		`{"water_percent":100,"protein_percent":0,"fat_percent":0,"salt_percent":0,"sugar_percent":0}`, `{"water_percent":0.000001}`, `{"water_percent":0}`,
		`{"fat_percent":100}`, `{"protein_percent":100}`, `{"salt_percent":100}`, `{}`, `{"water_percent":50,"protein_percent":0}`,
		`{"water_percent":80,"protein_percent":20,"fat_percent":0,"salt_percent":0,"sugar_percent":0}`, `{"water_percent":10,"protein_percent":0.0001,"salt_percent":3.59}`,
	} {
		for _, wanted := range []string{`"water_activity":1`, `"water_activity":0.000001`, `"moisture_protein_ratio":10`, `"moisture_protein_ratio":0.1,"water_activity":0.75`} {
			for _, room := range []string{``, `,"relative_humidity_percent":0`, `,"relative_humidity_percent":100,"hygrometer_uncertainty_percent":20`, `,"dissolved":[{"kind":"glycerol","percent":100}]`, `,"green_weight":{"value":0.000001,"unit":"mg"},"at_losses_percent":[0,9.999999999]`} {
				body := fmt.Sprintf(`{"composition":%s,%s%s}`, composition, wanted, room)
				if a := testClient(t).Post(t, pathTarget, []byte(body)); a.Status != http.StatusOK && a.Status != http.StatusUnprocessableEntity {
					t.Errorf("status %d for %s: %s", a.Status, body, a.Body)
				}
			}
		}
	}
}
