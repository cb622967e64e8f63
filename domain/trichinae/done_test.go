package trichinae_test

import (
	"strings"
	"testing"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/trichinae"
)

// What was done is judged by the same tables as a plan, and not said to be one.
func TestWhatWasDoneIsJudgedLikeAPlan(t *testing.T) {
	t.Parallel()
	for name, f := range map[string]formula.Formula{
		"nothing":          sausage(28, nil),
		"frozen":           sausage(28, freeze(frozen(-18, 24, 90))),
		"frozen too short": sausage(28, freeze(frozen(-18, 12, 90))),
		"boar":             and2(boar, freeze(frozen(-40, 40, 90))),
	} {
		order := formula.Order{Formula: f, Scale: formula.Divisions{{Division: quantity.MustGrams(0.01)}}}
		order.Amount.Meat = quantity.MustGrams(1000)
		planned, done := judge(f), trichinae.JudgeDone(f, must(formula.Scale(order)))
		if done[0].Code != "trichinae" || done[0].Status != planned[0].Status {
			t.Errorf("%s: planned %s, done %s %s", name, planned[0].Status, done[0].Code, done[0].Status)
		}
		for _, d := range done {
			if d.Stage != finding.Finish || strings.Contains(d.Reason, "planned") || d.Code == "trichinae-published-data" {
				t.Errorf("%s: what was done is said to be a plan: %+v", name, d)
			}
			if d.Status == finding.NotMet && d.Remedy == "" {
				t.Errorf("%s: no remedy: %+v", name, d)
			}
		}
	}
}
