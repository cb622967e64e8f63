package curing_test

import (
	"slices"
	"testing"
	"time"

	"greenweight/domain/curing"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// byMethod1 is a formula whose plan keeps method 1 against trichinae, if it has
// 3 1/3 % of salt.
func byMethod1(salt float64, more ...formula.Addition) formula.Formula {
	f := cured(generic("cure-1"), per(2, 1000), append(more, added("salt", formula.Salt, "salt-table", per(salt, 1000)))...)
	at := func(celsius float64, days int) []formula.Step {
		return []formula.Step{{Temperature: material.Is(quantity.MustCelsius(celsius)), Span: time.Duration(days) * 24 * time.Hour}}
	}
	f.Plan.Grind.Plate, f.Plan.Casing.Diameter = quantity.MustMillimetres(8), quantity.MustMillimetres(60)
	f.Plan.Fermentation, f.Plan.Drying = at(20, 5), at(14, 25)
	f.Plan.Trichinae = formula.TrichinaeRoute{Route: formula.RouteDryingMethod, Method: formula.Method1}
	return f
}

func statusOf(a curing.Answer, code string) finding.Status {
	i := slices.IndexFunc(a.Findings, func(f finding.Finding) bool { return f.Code == code })
	if i < 0 {
		return 0
	}
	return a.Findings[i].Status
}

func TestACheckJudgesThePlan(t *testing.T) {
	t.Parallel()
	f := byMethod1(35)
	f.Parts[0].Received.PH = material.Is(quantity.MustPH(6.2))
	a := check(t, order(f, rulebook.UnitedStates, rulebook.EuropeanUnion))
	for code, want := range map[string]finding.Status{
		"trichinae-plan": finding.Met, "trichinae-method-1": finding.Met, "trichinae-examination": finding.NotShown, "raw-ph": finding.NotMet,
		"allergens-named": finding.Met,
	} {
		if got := statusOf(a, code); got != want {
			t.Errorf("%s: want %s, got %s", code, want, got)
		}
	}
	for _, r := range a.Remedies {
		for _, key := range slices.Concat(r.Resolves, r.Unresolved, r.Breaks) {
			if key == "raw-ph" || key == "trichinae-plan" {
				t.Errorf("a remedy by weight is about %s", key)
			}
		}
	}
}

// 42 g of salt on a kilogram are over the 3.5 % that the trade holds to; 35 g
// would do. But with 150 g of wine they are 2.9 % of the sausage, and method 1
// asks for 3 1/3 %: no remedy may take the salt down to there.
func TestNoRemedyUndoesAMethodAgainstTrichinae(t *testing.T) {
	t.Parallel()
	wine := added("wine", formula.Liquid, "wine-table-red", per(150, 1000))
	f := byMethod1(42, wine)
	a := check(t, order(f, rulebook.UnitedStates))
	if statusOf(a, "salt-ceiling") != finding.NotMet || statusOf(a, "trichinae-plan") != finding.Met {
		t.Fatalf("want too much salt and the plan met, got %s and %s", statusOf(a, "salt-ceiling"), statusOf(a, "trichinae-plan"))
	}
	if len(a.Remedies) != 0 {
		t.Errorf("want no remedy, got %+v", a.Remedies[0].Text)
	}
	f.Plan.Trichinae = formula.TrichinaeRoute{Route: formula.RouteCarcassTesting, Certificate: "report 17"}
	if a := check(t, order(f, rulebook.UnitedStates)); len(a.Remedies) == 0 {
		t.Error("want a remedy where another route deals with trichinae")
	}
}
