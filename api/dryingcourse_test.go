package api

import (
	"math"
	"net/http"
	"testing"

	"greenweight/api/apitest"
	"greenweight/openapi"
)

// goodCourse is a small order for a course, of an invented piece, whose parts the
// tests replace.
const goodCourse = `{"piece":{"shape":"cylinder","thickness":{"value":50,"unit":"mm"},"length":{"value":400,"unit":"mm"},"casing":"natural",` +
	`"composition":{"water_percent":58,"protein_percent":16,"fat_percent":20,"salt_percent":2.7,"sugar_percent":0.5},` +
	`"membrane":{"wvtr_g_per_m2_day":5000,"test_temperature":{"value":38,"unit":"degC"},"test_humidity_difference_percent":50},` +
	`"moisture_fall_ratio":0.5,"density_kg_per_m3":1040},"green_weight":{"value":900,"unit":"g"},` +
	`"steps":[{"days":2,"temperature":{"value":20,"unit":"degC"},"relative_humidity_percent":90,"air_speed_m_per_s":0.2},` +
	`{"days":8,"log":[{"since_start_days":1,"temperature":{"value":12,"unit":"degC"},"relative_humidity_percent":80},` +
	`{"since_start_days":4,"temperature":{"value":14,"unit":"degC"},"relative_humidity_percent":75}]}],` +
	`"days":[0,5,10],"profile_days":[6],"target":{"loss_percent":12,"core_water_activity":0.955,"moisture_protein_ratio":3}}`

// Each answer says in its description how its main figures were checked.
func TestExamplesOfDryingCourses(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"drying-course-room", "drying-course-membrane"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			golden(t, name+".answer", testClient(t).Post(t, pathCourse, readExample(t, name+".request").Value), nearFit)
		})
	}
}

func TestEveryMemberOfACourseIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathCourse, goodCourse, []change{
		{`"shape":"cylinder"`, `"shape":"slab"`},
		{`"shape":"cylinder"`, `"shape":"slab-one-side"`},
		{`"thickness":{"value":50,"unit":"mm"}`, `"thickness":{"value":2,"unit":"in"}`},
		{`"length":{"value":400,"unit":"mm"}`, `"length":{"value":10,"unit":"cm"}`},
		{`"casing":"natural"`, `"casing":"bare"`},
		{`"casing":"natural"`, `"casing":"natural","casing_conductance_m_per_s":0.002`},
		{`"casing":"natural"`, `"casing":"natural","diffusivity_m2_per_s":3e-11`},
		{`"water_percent":58`, `"water_percent":57`},
		{`"protein_percent":16`, `"protein_percent":15`},
		{`"fat_percent":20`, `"fat_percent":15`},
		{`"salt_percent":2.7`, `"salt_percent":3`},
		{`"sugar_percent":0.5`, `"sugar_percent":0.2`},
		{`"wvtr_g_per_m2_day":5000`, `"wvtr_g_per_m2_day":2500`},
		{`"value":38,"unit":"degC"`, `"value":25,"unit":"degC"`},
		{`"test_humidity_difference_percent":50`, `"test_humidity_difference_percent":100`},
		{`"moisture_fall_ratio":0.5`, `"moisture_fall_ratio":1.5`},
		{`"density_kg_per_m3":1040`, `"density_kg_per_m3":1000`},
		{`"green_weight":{"value":900,"unit":"g"}`, `"green_weight":{"value":2,"unit":"lb"}`},
		{`"days":2,`, `"days":3,`},
		{`"value":20,"unit":"degC"`, `"value":60,"unit":"degF"`},
		{`"relative_humidity_percent":90`, `"relative_humidity_percent":92`},
		{`"air_speed_m_per_s":0.2`, `"air_speed_m_per_s":0.4`},
		{`"air_speed_m_per_s":0.2`, `"air_speed_m_per_s":0.2,"sealed":true`},
		{`"since_start_days":1,`, `"since_start_days":2,`},
		{`"value":14,"unit":"degC"`, `"value":11,"unit":"degC"`},
		{`"relative_humidity_percent":75`, `"relative_humidity_percent":70`},
		{`"days":[0,5,10]`, `"days":[0,4,10]`},
		{`"profile_days":[6]`, `"profile_days":[7]`},
		{`"loss_percent":12`, `"loss_percent":11`},
		{`"core_water_activity":0.955`, `"core_water_activity":0.958`},
		{`"moisture_protein_ratio":3`, `"moisture_protein_ratio":2.9`},
	})
}

// What the composition of the piece leaves open is that of the formula.
func TestCourseOfAFormula(t *testing.T) {
	t.Parallel()
	const composition = `"composition":{"water_percent":58,"protein_percent":16,"fat_percent":20,"salt_percent":2.7,"sugar_percent":0.5},`
	formula := `"formula":{"name":"Test ring (invented)","product":"dry-sausage","parts":[{"material":"pork-shoulder-whole-lean-and-fat","share_percent":100}],` +
		`"additions":[{"role":"cure","cure":{"key":"cure-1"},"rate":{"value":28,"unit":"g_per_kg"}}]},`
	body := instead(t, string(instead(t, goodCourse, composition, ``)), `"green_weight"`, formula+`"green_weight"`)
	a := apitest.Decode[openapi.DryingCourse](t, testClient(t).Post(t, pathCourse, body))
	// The whole shoulder of the reference has 64 to 66 percent of water; 28 g of salt
	// and cure to a kilogram are 2.6 percent of the batch, of which 93.75 is salt.
	if w := *a.Composition.WaterPercent; w < 60 || w > 67 {
		t.Errorf("water %v", w)
	}
	if s, want := *a.Composition.SaltPercent, 28.0/1028*93.75; math.Abs(s-want) > 0.05 {
		t.Errorf("salt %v, want %v", s, want)
	}
	over := instead(t, string(body), `"casing":"natural",`, `"casing":"natural","composition":{"salt_percent":3.5},`)
	b := apitest.Decode[openapi.DryingCourse](t, testClient(t).Post(t, pathCourse, over))
	if got := *b.Composition.SaltPercent; got != 3.5 {
		t.Errorf("salt %v, want that of the piece", got)
	}
}

// In a tight wrapping nothing is lost; the rim grows wetter and the core drier.
func TestSealedDaysEvenOut(t *testing.T) {
	t.Parallel()
	a := apitest.Decode[openapi.DryingCourse](t, testClient(t).Post(t, pathCourse, readExample(t, "drying-course-room.request").Value))
	before, after := a.Course[2], a.Course[3] // days 7 and 10
	if before.SinceHangingDays != 7 || after.SinceHangingDays != 10 {
		t.Fatalf("days %v and %v", before.SinceHangingDays, after.SinceHangingDays)
	}
	if before.LossPercent.Median != after.LossPercent.Median || after.LossPercentPerDay != 0 {
		t.Errorf("loss %v then %v, %v a day", before.LossPercent.Median, after.LossPercent.Median, after.LossPercentPerDay)
	}
	if after.RimMoisturePercent <= before.RimMoisturePercent || after.CoreMoisturePercent >= before.CoreMoisturePercent {
		t.Errorf("rim %v to %v, core %v to %v", before.RimMoisturePercent, after.RimMoisturePercent, before.CoreMoisturePercent, after.CoreMoisturePercent)
	}
	for _, p := range a.Course {
		// Mass balance: of 1150 g are left 1150 (1 - loss), and the moisture is (57 -
		// loss)/(100 - loss).
		loss := p.LossPercent.Median
		if want := 100 * (57 - loss) / (100 - loss); math.Abs(p.MoisturePercent-want) > 0.01 {
			t.Errorf("day %v: moisture %v, want %v", p.SinceHangingDays, p.MoisturePercent, want)
		}
		if want := 1150 * (1 - loss/100); math.Abs(inGrams(*p.Weight)-want) > 0.1 {
			t.Errorf("day %v: weight %v, want %v", p.SinceHangingDays, *p.Weight, want)
		}
	}
}

// Every violation is told, where it is.
func TestBadCourses(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ name, old, with, pointer string }{
		{"thin", `"value":50,"unit":"mm"`, `"value":1,"unit":"mm"`, "#/piece/thickness range"},
		{"no humidity", `"relative_humidity_percent":90,`, ``, "#/steps/0/relative_humidity_percent required"},
		{"no temperature", `"temperature":{"value":20,"unit":"degC"},`, ``, "#/steps/0/temperature required"},
		{"a hot room", `"value":20,"unit":"degC"`, `"value":70,"unit":"degC"`, "#/steps/0/temperature range"},
		{"a hot logger", `"value":14,"unit":"degC"`, `"value":70,"unit":"degC"`, "#/steps/1/log/1/temperature range"},
		{"readings out of order", `"since_start_days":1`, `"since_start_days":5`, "#/steps/1/log/1/since_start_days order"},
		{"a day after the end", `"days":[0,5,10]`, `"days":[0,5,11]`, "#/days/2 maximum"},
		{"a profile after the end", `"profile_days":[6]`, `"profile_days":[60]`, "#/profile_days/0 maximum"},
		{"more loss than water", `"loss_percent":12`, `"loss_percent":59`, "#/target/loss_percent range"},
		{"too salty", `"salt_percent":2.7`, `"salt_percent":25`, "#/piece/composition/salt_percent maximum"},
		{"a cold test", `"value":38,"unit":"degC"`, `"value":-10,"unit":"degC"`, "#/piece/membrane/test_temperature range"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathCourse, Body: instead(t, goodCourse, tc.old, tc.with), Bad: true})
			found := false
			for _, p := range a.Pointers() {
				found = found || p == tc.pointer
			}
			if a.Status != http.StatusUnprocessableEntity || !found {
				t.Errorf("status %d, want %s among %q", a.Status, tc.pointer, a.Pointers())
			}
		})
	}
}
