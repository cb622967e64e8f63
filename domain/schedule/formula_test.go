package schedule_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/schedule"
)

// simple is a formula of lean, fat and salt alone, with a fermentation in its
// plan.
func simple() *formula.Formula {
	shoulder, _ := material.ByKey("pork-shoulder-whole-lean-and-fat")
	backfat, _ := material.ByKey("pork-backfat")
	salt, _ := material.ByKey("salt-table")
	sakei, _ := rulebook.CultureByKey("latilactobacillus-sakei")
	return &formula.Formula{
		Name: "plain (invented)", Product: rulebook.DrySausage,
		Parts: []formula.Part{
			{Name: "shoulder", Material: shoulder, Share: quantity.MustPercent(80)}, {Name: "fat", Material: backfat, Share: quantity.MustPercent(20)},
		},
		Additions: []formula.Addition{
			{Name: "salt", Role: formula.Salt, Material: &salt, Rate: formula.ShareOfMeat(quantity.MustRatio(0.028))},
			{
				Name: "culture", Role: formula.Culture, BringsNone: true, Species: []rulebook.CultureSpecies{sakei},
				Rate: formula.ShareOfMeat(quantity.MustRatio(0.0002)),
			},
		},
		Plan: formula.Plan{
			Fermentation: []formula.Step{step(22, 92, 48)}, Casing: formula.PlannedCasing{Diameter: quantity.MustMillimetres(45)},
		},
	}
}

// 80 g of shoulder with 65.95 % of water and 20 g of back fat with 7.69 % have
// 52.8 g of water with 2.8 g of salt: 5.3 g in 100 g of water, 0.91 mol/kg, make
// 0.97 by the tables of brine, and the juice of meat 1 point less.
func TestAFormulaTellsWhatIsNotStated(t *testing.T) {
	t.Parallel()
	o := check(t, schedule.Plan{Formula: simple()})
	if o.Batter.Origin != schedule.Estimated {
		t.Fatalf("batter %+v", o.Batter)
	}
	if aw := o.Batter.WaterActivity.Float(); aw < 0.955 || aw > 0.965 {
		t.Errorf("a batter of %v", aw)
	}
	if d, _ := o.Diameter.Get(); d.Millimetres() != 45 || len(o.Steps) != 1 || len(o.Steps[0].Cultures) != 1 {
		t.Errorf("diameter %v, steps %+v", d, o.Steps)
	}
	f := by(t, o, "degc-15.6")
	if diff := cmp.Diff([][]string{{"formula", "plan", "fermentation"}}, f.Members); diff != "" {
		t.Errorf("members (-want +got):\n%s", diff)
	}
	// What is stated goes before it.
	stated := check(t, schedule.Plan{
		Formula: simple(), Steps: []formula.Step{step(24, 90, 24), step(18, 88, 24)}, Diameter: material.Is(quantity.MustMillimetres(60)),
		WaterActivity: material.Is(quantity.MustWaterActivity(0.95)),
	})
	if d, _ := stated.Diameter.Get(); d.Millimetres() != 60 || len(stated.Steps) != 2 || stated.Batter.Origin != schedule.Measured {
		t.Errorf("diameter %v, %d steps, batter %s", d, len(stated.Steps), stated.Batter.Origin)
	}
	// A mix of which only the name is known tells nothing of the salt.
	mixed := simple()
	mixed.Additions = append(mixed.Additions, formula.Addition{Name: "a mix", Role: formula.Other, Rate: formula.ShareOfMeat(quantity.MustRatio(0.02))})
	o = check(t, schedule.Plan{Formula: mixed})
	if o.Batter.Origin != schedule.Usual || !slices.ContainsFunc(o.Notes, func(n finding.Note) bool { return n.Code == "batter-usual" && strings.Contains(n.Text, "a mix") }) {
		t.Errorf("batter %s, notes %+v", o.Batter.Origin, o.Notes)
	}
}

// A declared formula is told its degree-hours, and that they end by no acid.
func TestAScheduleOfADeclaredFormula(t *testing.T) {
	t.Parallel()
	f := simple()
	f.Plan.LowAcid = true
	o := check(t, schedule.Plan{Formula: f})
	if !o.LowAcid || !slices.ContainsFunc(o.Notes, func(n finding.Note) bool { return n.Code == "low-acid-declared" }) {
		t.Errorf("declared %v, notes %+v", o.LowAcid, o.Notes)
	}
	if acid := by(t, o, "ph-5.3"); acid.Status != finding.NotShown || strings.Contains(acid.Remedy, "must have been read") {
		t.Errorf("acid %+v", acid)
	}
	if heat := by(t, o, "degc-15.6"); !strings.Contains(heat.Reason, "declares") {
		t.Errorf("degree-hours %+v", heat)
	}
}

func TestPlansThatCanNotBeJudged(t *testing.T) {
	t.Parallel()
	open := simple()
	open.Plan.Fermentation = []formula.Step{step(22, 92, 48), {Span: 0}}
	oven := quantity.MustCelsiusDegrees(11)
	for _, row := range []struct {
		name string
		plan schedule.Plan
		want []string
	}{
		{"nothing", schedule.Plan{}, []string{"steps no-steps"}},
		{"an open step of the formula", schedule.Plan{Formula: open}, []string{"formula/plan/fermentation/1/temperature missing", "formula/plan/fermentation/1/hours missing"}},
		{"a bad thermometer", schedule.Plan{Steps: []formula.Step{step(22, 92, 48)}, Thermometer: &oven}, []string{"thermometer_uncertainty out-of-range"}},
		{"too many", schedule.Plan{Steps: slices.Repeat([]formula.Step{step(22, 92, 1)}, 41)}, []string{"steps too-many"}},
		{"too long", schedule.Plan{Steps: slices.Repeat([]formula.Step{step(22, 92, 5000)}, 2)}, []string{"steps/1/hours out-of-range"}},
	} {
		_, err := schedule.Check(row.plan)
		wrong, ok := errors.AsType[*fault.Error](err)
		if !ok || wrong.Kind != fault.Invalid {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		var got []string
		for _, v := range wrong.Violations {
			got = append(got, strings.Join(v.Path, "/")+" "+v.Code)
		}
		if diff := cmp.Diff(row.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", row.name, diff)
		}
	}
}
