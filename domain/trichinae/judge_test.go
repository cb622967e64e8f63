package trichinae_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
	"greenweight/domain/trichinae"
)

const day = 24 * time.Hour

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func part(key string, percent float64) formula.Part {
	m, ok := material.ByKey(key)
	if !ok {
		panic("no material " + key)
	}
	return formula.Part{Name: key, Material: m, Share: quantity.MustPercent(percent)}
}

// sausage is a dry sausage of a kilogram of pork with so many grams of salt; 35 g
// on 1035 g are 3.38 percent.
func sausage(salt float64, change func(*formula.Formula)) formula.Formula {
	table, _ := material.ByKey("salt-table")
	f := formula.Formula{
		Name: "test", Product: rulebook.DrySausage, Parts: []formula.Part{part("pork-shoulder-whole-lean-and-fat", 100)},
		Additions: []formula.Addition{{
			Name: "salt", Role: formula.Salt, Material: &table,
			Rate: must(formula.MassPer(quantity.MustGrams(salt), quantity.MustGrams(1000))),
		}},
	}
	if change != nil {
		change(&f)
	}
	return f
}

func judge(f formula.Formula) []finding.Finding {
	order := formula.Order{Formula: f, Scale: formula.Divisions{{Division: quantity.MustGrams(0.01)}}}
	order.Amount.Meat = quantity.MustGrams(1000)
	return trichinae.Judge(f, must(formula.Scale(order)))
}

func celsius(t float64) material.Known[quantity.Temperature] {
	return material.Is(quantity.MustCelsius(t))
}

func frozen(t float64, days float64, thickness float64) formula.Freezing {
	return formula.Freezing{
		Temperature: quantity.MustCelsius(t), Span: time.Duration(days * float64(day)), Thickness: quantity.MustMillimetres(thickness),
	}
}

func drying(t float64, days float64) formula.Step {
	return formula.Step{Temperature: celsius(t), Span: time.Duration(days * float64(day))}
}

// method1 is a plan that keeps all of method 1: 3/4 in, 60 mm, 5 days of
// fermentation and 20 of drying at 15 °C.
func method1(f *formula.Formula) {
	f.Plan.Grind.Plate = quantity.MustMillimetres(8)
	f.Plan.Casing.Diameter = quantity.MustMillimetres(60)
	f.Plan.Fermentation = []formula.Step{drying(20, 5)}
	f.Plan.Drying = []formula.Step{drying(15, 20)}
	f.Plan.Trichinae = formula.TrichinaeRoute{Route: formula.RouteDryingMethod, Method: formula.Method1}
}

func and(changes ...func(*formula.Formula)) func(*formula.Formula) {
	return func(f *formula.Formula) {
		for _, c := range changes {
			c(f)
		}
	}
}

func by(r formula.Route, certificate string) func(*formula.Formula) {
	return func(f *formula.Formula) {
		f.Plan.Trichinae = formula.TrichinaeRoute{Route: r, Certificate: certificate}
	}
}

func freeze(history ...formula.Freezing) func(*formula.Formula) {
	return func(f *formula.Formula) { f.Plan.Freezing = history }
}

func boar(f *formula.Formula) {
	f.Parts = []formula.Part{part("wild-boar", 60), part("pork-backfat", 40)}
}

// said is the codes and statuses, in order.
func said(found []finding.Finding) []string {
	all := make([]string, 0, len(found))
	for _, f := range found {
		all = append(all, f.Code+" "+f.Status.String())
	}
	return all
}

func TestJudge(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		salt   float64
		change func(*formula.Formula)
		want   []string
		remedy string // a part of the remedy of the last finding
	}{
		{"beef and duck", 28, func(f *formula.Formula) {
			f.Parts = []formula.Part{part("beef-chuck-blade-lean-and-fat", 50), part("duck-meat-only", 50)}
		}, []string{"trichinae-plan not-applicable"}, ""},
		{"no plan", 28, nil, []string{"trichinae-plan not-shown"}, "freeze the pork 20 days at -15 °C (5 °F)"},
		{
			"meat of an animal that is not known", 28, func(f *formula.Formula) { f.Parts[0].Material.Species = material.NoSpecies },
			[]string{"trichinae-plan not-shown"}, "State the material",
		},
		// Freezing. Table 1: 5 °F 20 and 30 days, -10 °F 10 and 20, -20 °F 6 and 12.
		{"20 days at exactly 5 °F", 28, freeze(frozen(-15, 20, 152.4)), []string{"trichinae-plan met", "trichinae-freezing met"}, ""},
		{"12 days at -18 °C", 28, freeze(frozen(-18, 12, 50)), []string{"trichinae-plan not-shown", "trichinae-freezing-days not-met"}, "8 days longer at -15 °C (5 °F)"},
		{
			"12 days at -18 °C, chosen", 28, and(by(formula.RouteFreezing, ""), freeze(frozen(-18, 12, 50))),
			[]string{"trichinae-plan not-met", "trichinae-freezing-days not-met"}, "8 days longer",
		},
		{"a thick block", 28, freeze(frozen(-18, 20, 200)), []string{"trichinae-plan not-shown", "trichinae-freezing-days not-met"}, "10 days longer"},
		{"a thicker block than any row", 28, freeze(frozen(-18, 90, 700)), []string{"trichinae-plan not-shown", "trichinae-freezing-days not-met"}, "20 days"},
		{"thickness not stated", 28, freeze(frozen(-18, 25, 0)), []string{"trichinae-plan not-shown", "trichinae-freezing-days not-shown"}, "at most 152.4 mm (6 in)"},
		{"a kitchen freezer that is too warm", 28, freeze(frozen(-12, 60, 50)), []string{"trichinae-plan not-shown", "trichinae-freezing-days not-met"}, "Freeze the pork 20 days"},
		{"in two whiles", 28, freeze(frozen(-18, 12, 50), frozen(-16, 8, 50)), []string{"trichinae-plan met", "trichinae-freezing met"}, ""},
		{
			"in two whiles with a break", 28, freeze(frozen(-18, 12, 50), frozen(-10, 1, 50), frozen(-16, 8, 50)),
			[]string{"trichinae-plan not-shown", "trichinae-freezing-days not-met"}, "8 days longer",
		},
		{
			// -23.5 °C is colder than -10 °F: 63 h.
			"at the centre", 28, freeze(formula.Freezing{Temperature: quantity.MustCelsius(-23.5), AtCentre: true, Span: 63 * time.Hour}),
			[]string{"trichinae-plan met", "trichinae-freezing met"}, "",
		},
		{"the same in the chamber", 28, freeze(frozen(-23.5, 63.0/24, 50)), []string{"trichinae-plan not-shown", "trichinae-freezing-days not-met"}, "7.4 days longer"},
		{"freezing chosen and not stated", 28, by(formula.RouteFreezing, ""), []string{"trichinae-plan not-shown", "trichinae-freezing-days not-shown"}, "20 days at -15 °C"},
		{"a part with a freezing of its own", 28, func(f *formula.Formula) {
			f.Parts = []formula.Part{part("pork-shoulder-whole-lean-and-fat", 80), part("pork-backfat", 20)}
			f.Parts[0].Freezing = []formula.Freezing{frozen(-18, 25, 50)}
		}, []string{"trichinae-plan not-shown", "trichinae-freezing met"}, ""},
		{"the other from the plan", 28, func(f *formula.Formula) {
			f.Parts = []formula.Part{part("pork-shoulder-whole-lean-and-fat", 80), part("pork-backfat", 20)}
			f.Parts[0].Freezing = []formula.Freezing{frozen(-18, 25, 50)}
			f.Plan.Freezing = []formula.Freezing{frozen(-30, 6, 50)}
		}, []string{"trichinae-plan met", "trichinae-freezing met", "trichinae-freezing met"}, ""},
		// Wild boar.
		{
			"wild boar, frozen for a year", 28, and(boar, freeze(frozen(-40, 365, 50))),
			[]string{"trichinae-plan not-shown", "trichinae-freezing-animal not-met", "trichinae-freezing met"}, "",
		},
		{
			"wild boar, frozen, chosen", 28, and(boar, by(formula.RouteFreezing, ""), freeze(frozen(-40, 365, 50))),
			[]string{"trichinae-plan not-met", "trichinae-freezing-animal not-met", "trichinae-freezing met"}, "",
		},
		{"wild boar, tested", 28, and(boar, by(formula.RouteCarcassTesting, "report 17")), []string{"trichinae-plan met", "trichinae-carcass-testing met"}, ""},
		{
			"wild boar, tested, and the report not stated", 28, and(boar, by(formula.RouteCarcassTesting, "")),
			[]string{"trichinae-plan not-shown", "trichinae-carcass-testing-certificate not-shown"}, "State in certificate",
		},
		{
			"wild boar of controlled housing", 28, and(boar, by(formula.RouteControlledHousing, "certificate 5")),
			[]string{"trichinae-plan not-met", "trichinae-controlled-housing met", "trichinae-controlled-housing-animal not-met"}, "tested",
		},
		{
			"wild boar alone, of controlled housing", 28, and(boar, by(formula.RouteControlledHousing, "certificate 5"), func(f *formula.Formula) {
				f.Parts = []formula.Part{part("wild-boar", 100)}
			}), []string{"trichinae-plan not-met", "trichinae-controlled-housing-animal not-met"}, "tested",
		},
		{"pork of controlled housing", 28, by(formula.RouteControlledHousing, "certificate 5"), []string{"trichinae-plan met", "trichinae-controlled-housing met"}, ""},
		{"venison with fat of beef", 28, func(f *formula.Formula) {
			f.Parts = []formula.Part{part("venison-deer", 80), part("beef-tallow", 20)}
		}, []string{"trichinae-plan not-shown"}, "tested"},
		// Known from memory only.
		{"a treatment of one's own", 28, by(formula.RouteValidatedTreatment, "study 3"), []string{"trichinae-plan not-shown", "trichinae-validated-treatment not-shown"}, "Take a route whose rule was read"},
		// Heating: 128 °F (53.4 °C) 60 min; 144 °F (62.2 °C) at once.
		{"heated", 28, func(f *formula.Formula) {
			f.Plan.Heat = []formula.Warmth{{Temperature: celsius(60), Span: 3 * time.Hour, Core: celsius(53.4), CoreHeld: time.Hour}}
		}, []string{"trichinae-plan met", "trichinae-heating met"}, ""},
		{"heated and held too short", 28, func(f *formula.Formula) {
			f.Plan.Heat = []formula.Warmth{{Core: celsius(53.4), CoreHeld: 45 * time.Minute}}
		}, []string{"trichinae-plan not-shown", "trichinae-heating-core not-met"}, "0.25 h longer"},
		{"heated to 130 °F, which one text prints as 54.5 °C", 28, func(f *formula.Formula) {
			f.Plan.Heat = []formula.Warmth{{Core: material.Is(quantity.MustFahrenheit(130)), CoreHeld: 30 * time.Minute}}
		}, []string{"trichinae-plan not-shown", "trichinae-heating-core near"}, "54.5 °C"},
		{"heated to 144 °F and over", 28, func(f *formula.Formula) {
			f.Plan.Heat = []formula.Warmth{{Core: celsius(68)}}
		}, []string{"trichinae-plan met", "trichinae-heating met"}, ""},
		{"heating chosen and too cool", 28, and(by(formula.RouteHeating, ""), func(f *formula.Formula) {
			f.Plan.Heat = []formula.Warmth{{Core: celsius(45), CoreHeld: 48 * time.Hour}}
		}), []string{"trichinae-plan not-met", "trichinae-heating-core not-met"}, "62.2 °C (144 °F)"},
		{"a core that is only warm is no heating", 28, func(f *formula.Formula) {
			f.Plan.Smoke = []formula.Warmth{{Core: celsius(25), CoreHeld: 48 * time.Hour}}
		}, []string{"trichinae-plan not-shown"}, ""},
		{"wild boar, heated", 28, and(boar, func(f *formula.Formula) {
			f.Plan.Heat = []formula.Warmth{{Core: celsius(68)}}
		}), []string{"trichinae-plan met", "trichinae-heating met"}, ""},
		// Method 1, read: 3 1/3 %, 45 °F, 20 days up to 3 1/2 in, 25 in all.
		{"method 1", 35, method1, []string{"trichinae-plan met", "trichinae-method-1 met"}, ""},
		{"method 1 with a bare casing of that diameter", 35, and(method1, func(f *formula.Formula) {
			f.Plan.Casing = formula.PlannedCasing{FlatWidth: quantity.MustMillimetres(90)} // 63 mm, and a tenth
		}), []string{"trichinae-plan met", "trichinae-method-1 met"}, ""},
		{
			// 3 1/3 % of M + s with M 1000 g: s = 34.4828 g; of 28 g there lack 6.5.
			"method 1 with too little salt", 28, method1, []string{"trichinae-plan not-met", "trichinae-method-1-salt not-met"}, "6.5 g more of salt",
		},
		{"method 1 in a refrigerator", 35, and(method1, func(f *formula.Formula) { f.Plan.Drying = []formula.Step{drying(4, 90)} }), []string{
			"trichinae-plan not-met", "trichinae-method-1-room not-met", "trichinae-method-1-days not-met",
		}, "20 days longer at 7.22 °C (45 °F)"},
		{"method 1, 9 days too short", 35, and(method1, func(f *formula.Formula) { f.Plan.Drying = []formula.Step{drying(15, 11)} }), []string{
			"trichinae-plan not-met", "trichinae-method-1-days not-met", "trichinae-method-1-total not-met",
		}, "9 days longer"},
		{"method 1, 90 mm", 35, and(method1, func(f *formula.Formula) { f.Plan.Casing.Diameter = quantity.MustMillimetres(90) }), []string{
			"trichinae-plan not-met", "trichinae-method-1-days not-met", "trichinae-method-1-total not-met",
		}, "15 days longer"},
		{"method 1, 88.9 mm, exactly 3 1/2 in", 35, and(method1, func(f *formula.Formula) {
			f.Plan.Casing.Diameter = quantity.MustMillimetres(88.9)
		}), []string{"trichinae-plan met", "trichinae-method-1 met"}, ""},
		{"method 1, too thick", 35, and(method1, func(f *formula.Formula) { f.Plan.Casing.Diameter = quantity.MustMillimetres(110) }), []string{
			"trichinae-plan not-met", "trichinae-method-1-diameter not-met",
		}, "101.6 mm (4 in)"},
		{"method 1, no diameter", 35, and(method1, func(f *formula.Formula) { f.Plan.Casing = formula.PlannedCasing{} }), []string{
			"trichinae-plan not-shown", "trichinae-method-1-diameter not-shown",
		}, "101.6 mm (4 in)"},
		{"method 1, cut too large", 35, and(method1, func(f *formula.Formula) { f.Plan.Grind.LargestPiece = quantity.MustMillimetres(25) }), []string{
			"trichinae-plan not-met", "trichinae-method-1-pieces not-met",
		}, "19.05 mm (0.75 in)"},
		{"method 1, dried until the loss", 35, and(method1, func(f *formula.Formula) { f.Plan.Drying = []formula.Step{drying(15, 0)} }), []string{
			"trichinae-plan not-shown", "trichinae-method-1-days not-shown", "trichinae-method-1-total not-shown",
		}, "25 days at least"},
		{"method 1 for wild boar", 35, and(boar, method1), []string{
			"trichinae-plan not-shown", "trichinae-method-1 met", "trichinae-method-1-animal not-shown",
		}, "tested"},
		{"no method chosen, method 1 met", 35, and(method1, by(0, "")), []string{"trichinae-plan met", "trichinae-method-1 met"}, ""},
		{"no method chosen, in a refrigerator", 35, and(method1, by(0, ""), func(f *formula.Formula) {
			f.Plan.Drying = []formula.Step{drying(4, 60)}
		}), []string{"trichinae-plan not-shown", "trichinae-method-1 not-shown"}, ""},
		{"frozen, and dried in a refrigerator", 28, and(freeze(frozen(-18, 25, 50)), func(f *formula.Formula) {
			f.Plan.Drying = []formula.Step{drying(4, 60)}
		}), []string{"trichinae-plan met", "trichinae-freezing met"}, ""},
		// Method 2, read: and 40 h of smoke at 80 °F, 10 days, 18 in all.
		{"method 2", 35, and(method1, func(f *formula.Formula) {
			f.Plan.Trichinae.Method = formula.Method2
			f.Plan.Smoke = []formula.Warmth{{Temperature: celsius(27), Span: 40 * time.Hour}}
			f.Plan.Drying = []formula.Step{drying(15, 12)}
		}), []string{"trichinae-plan met", "trichinae-method-2 met"}, ""},
		{"method 2, smoke at exactly 80 °F, which one text prints as 26.7 °C", 35, and(method1, func(f *formula.Formula) {
			f.Plan.Trichinae.Method = formula.Method2
			f.Plan.Smoke = []formula.Warmth{{Temperature: material.Is(quantity.MustFahrenheit(80)), Span: 40 * time.Hour}}
			f.Plan.Drying = []formula.Step{drying(15, 12)}
		}), []string{"trichinae-plan near", "trichinae-method-2-smoke near"}, "26.7 °C"},
		{"method 2 without smoke", 35, and(method1, func(f *formula.Formula) { f.Plan.Trichinae.Method = formula.Method2 }), []string{
			"trichinae-plan not-met", "trichinae-method-2-smoke not-met",
		}, "40 h more"},
		// Methods known from memory only: never met.
		{"method 6, all of it planned", 35, and(method1, func(f *formula.Formula) { f.Plan.Trichinae.Method = formula.Method6 }), []string{
			"trichinae-plan not-shown", "trichinae-method-6 not-shown",
		}, "Take a route whose rule was read"},
		{
			// 60 mm: 18 days by table 3A; 120 h at 20 °C (68 °F) take nothing off; 15 days are 3 short.
			"method 6, too short", 35, and(method1, func(f *formula.Formula) {
				f.Plan.Trichinae.Method, f.Plan.Drying = formula.Method6, []formula.Step{drying(15, 15)}
			}), []string{"trichinae-plan not-met", "trichinae-method-6-days not-met"}, "3 days longer",
		},
		{
			// The same with 48 h at 26.7 °C (80.06 °F): 18 % of 18 days, rounded down to 3.
			"method 6, warm before", 35, and(method1, func(f *formula.Formula) {
				f.Plan.Trichinae.Method, f.Plan.Drying, f.Plan.Fermentation = formula.Method6, []formula.Step{drying(15, 15)}, []formula.Step{drying(26.7, 2)}
			}), []string{"trichinae-plan not-shown", "trichinae-method-6 not-shown"}, "",
		},
		{"method 6 with the room of method 1", 35, and(method1, func(f *formula.Formula) {
			f.Plan.Trichinae.Method, f.Plan.Drying = formula.Method6, []formula.Step{drying(9, 40)}
		}), []string{"trichinae-plan not-met", "trichinae-method-6-room not-met", "trichinae-method-6-days not-met"}, "10 °C (50 °F)"},
		{"method 4", 35, and(method1, func(f *formula.Formula) {
			f.Plan.Trichinae.Method, f.Plan.Grind.Plate = formula.Method4, quantity.MustMillimetres(6)
			f.Plan.Hold = []formula.Hold{{Of: formula.Mixed, Temperature: celsius(4), Span: 10 * day, Depth: quantity.MustMillimetres(150)}}
		}), []string{"trichinae-plan not-shown", "trichinae-method-4 not-shown"}, ""},
		{"method 4, too deep", 35, and(method1, func(f *formula.Formula) {
			f.Plan.Trichinae.Method, f.Plan.Grind.Plate = formula.Method4, quantity.MustMillimetres(6)
			f.Plan.Hold = []formula.Hold{{Of: formula.Mixed, Temperature: celsius(4), Span: 10 * day, Depth: quantity.MustMillimetres(200)}}
		}), []string{"trichinae-plan not-met", "trichinae-method-4-mixture not-met"}, "10 days more"},
		{"method 5", 35, and(method1, func(f *formula.Formula) {
			f.Plan.Trichinae.Method, f.Plan.Drying = formula.Method5, []formula.Step{drying(12, 60)}
		}), []string{"trichinae-plan not-shown", "trichinae-method-5 not-shown"}, ""},
		{"method 7, small, without its stages", 35, and(method1, func(f *formula.Formula) {
			f.Plan.Trichinae.Method, f.Plan.Grind.Plate, f.Plan.Casing.Diameter = formula.Method7, quantity.MustMillimetres(6), quantity.MustMillimetres(50)
		}), []string{"trichinae-plan not-met", "trichinae-method-7-small-schedule-100f not-met", "trichinae-method-7-small-schedule-125f not-met"}, "6 h more"},
		{"coppa", 50, func(f *formula.Formula) {
			f.Product = rulebook.DryCuredMuscle
			f.Plan.Trichinae = formula.TrichinaeRoute{Route: formula.RouteDryingMethod, Method: formula.MethodCoppa}
			f.Plan.Hold = []formula.Hold{{Of: formula.InDryCure, Temperature: celsius(4), Span: 18 * day}}
			f.Plan.Drying = []formula.Step{drying(12, 35)}
		}, []string{"trichinae-plan not-shown", "trichinae-coppa not-shown"}, ""},
		// The study: 23.8 °C, 15.5 °C; 28 g on 1028 g are 2.72 %: 9 days.
		{"inside the study", 28, func(f *formula.Formula) {
			f.Plan.Fermentation, f.Plan.Drying = []formula.Step{drying(24, 2)}, []formula.Step{drying(16, 20)}
		}, []string{"trichinae-plan not-shown", "trichinae-method-1 not-shown", "trichinae-published-data not-shown"}, "Measure the pH"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			found := judge(sausage(c.salt, c.change))
			got := said(found)
			if d := cmp.Diff(c.want, got); d != "" {
				t.Fatalf("(-want +got):\n%s", d)
			}
			if last := found[len(found)-1]; !strings.Contains(last.Remedy, c.remedy) {
				t.Errorf("want %q in the remedy, got %q", c.remedy, last.Remedy)
			}
			checkAll(t, found)
		})
	}
}

// checkAll holds what must be true of every finding.
func checkAll(t *testing.T, found []finding.Finding) {
	t.Helper()
	for _, f := range found {
		if f.Status == finding.Met && (f.Source.Trust == source.Memory || f.Source.Trust == 0) {
			t.Errorf("%s is met by a source of trust %s", f.Code, f.Source.Trust)
		}
		if f.Stage != finding.Process || f.Authority == 0 || f.Subject == "" || f.Reason == "" || f.Source.Title == "" {
			t.Errorf("%s lacks something: %+v", f.Code, f)
		}
		if f.NeedsAttention() && f.Remedy == "" {
			t.Errorf("%s is %s without a remedy", f.Code, f.Status)
		}
		if f.Status == finding.Met && !strings.Contains(f.Reason, "for the record of the lot") {
			t.Errorf("%s is met by a plan, and does not say that it is one: %s", f.Code, f.Reason)
		}
		if strings.Contains(f.Reason+f.Remedy, "NaN") || strings.Contains(f.Reason+f.Remedy, "%!") {
			t.Errorf("%s says %s %s", f.Code, f.Reason, f.Remedy)
		}
	}
}

// In the European Union a treatment does not replace the examination.
func TestExamination(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		change func(*formula.Formula)
		want   finding.Status
	}{
		{"no plan", nil, finding.NotShown},
		{"frozen", and(by(formula.RouteFreezing, ""), freeze(frozen(-18, 25, 50))), finding.NotShown},
		{"tested", by(formula.RouteCarcassTesting, "report 17"), finding.Met},
		{"controlled housing", by(formula.RouteControlledHousing, "certificate 5"), finding.Met},
		{"wild boar of controlled housing", and(boar, by(formula.RouteControlledHousing, "certificate 5")), finding.NotShown},
		{"beef", func(f *formula.Formula) { f.Parts = []formula.Part{part("beef-chuck-blade-lean-and-fat", 100)} }, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f := sausage(28, c.change)
			order := formula.Order{Formula: f, Scale: formula.Divisions{{Division: quantity.MustGrams(0.01)}}}
			order.Amount.Meat = quantity.MustGrams(1000)
			sheet := must(formula.Scale(order))
			found := trichinae.Judge(f, sheet, rulebook.UnitedStates, rulebook.EuropeanUnion)
			if got := statusOf(found, "trichinae-examination"); got != c.want {
				t.Errorf("want %s, got %s", c.want, got)
			}
			if d := cmp.Diff(said(judge(f)), said(trichinae.Judge(f, sheet, rulebook.UnitedStates))); d != "" {
				t.Errorf("the United States add something (-want +got):\n%s", d)
			}
			checkAll(t, found)
		})
	}
}

// The methods are for sausage that is salted dry, stuffed and dried: by what is in
// a pickle, or for a ham or a cooked sausage, they show nothing, however well
// their times are kept.
func TestMethodsAreForTheirProducts(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		change func(*formula.Formula)
		want   finding.Status
	}{
		"dry sausage":    {func(*formula.Formula) {}, finding.Met},
		"cooked sausage": {func(f *formula.Formula) { f.Product = rulebook.CookedSausage }, finding.NotShown},
		"ham":            {func(f *formula.Formula) { f.Product = rulebook.DryCuredMuscle }, finding.NotShown},
		"ham by a traditional name": {func(f *formula.Formula) {
			f.Product, f.Tradition = rulebook.TraditionalProduct, rulebook.DryCuredHamTradition
		}, finding.NotShown},
		"ham without a route": {func(f *formula.Formula) {
			f.Product, f.Tradition, f.Plan.Trichinae = rulebook.TraditionalProduct, rulebook.DryCuredHamTradition, formula.TrichinaeRoute{}
		}, finding.NotShown},
		"in a pickle": {func(f *formula.Formula) {
			water, _ := material.ByKey("water")
			f.Product, f.Pickle = rulebook.ImmersionCuredMuscle, &formula.Pickle{Method: formula.PickUp, Uptake: quantity.MustPercent(1)}
			f.Additions = append(f.Additions, formula.Addition{
				Name: "water", Role: formula.Liquid, Material: &water, Rate: must(formula.MassPer(quantity.MustGrams(500), quantity.MustGrams(1000))),
			})
		}, finding.NotShown},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f := sausage(35, method1)
			c.change(&f)
			if got := judge(f)[0]; got.Status != c.want {
				t.Errorf("want %s, got %s: %s", c.want, got.Status, got.Reason)
			}
		})
	}
}
