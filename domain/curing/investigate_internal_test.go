package curing

import (
	"testing"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// An amount above which a maker has to find out why is no ban: exceeded it is
// near and never not met. No row that goes in is of that kind today, so the rows
// are made here, one for each way of being exceeded.
func TestAnInvestigationIsNoBan(t *testing.T) {
	t.Parallel()
	meat, _ := material.ByKey("pork-backfat")
	cure, err := rulebook.NewCure("cure", rulebook.Assay{SodiumNitrite: quantity.MustPercent(10)})
	if err != nil {
		t.Fatal(err)
	}
	f := formula.Formula{
		Product: rulebook.DrySausage, Parts: []formula.Part{{Name: "meat", Material: meat, Share: quantity.MustPercent(100)}},
		Additions: []formula.Addition{{Name: "cure", Role: formula.Cure, Cure: &cure, Rate: formula.ShareOfMeat(quantity.MustRatio(0.001))}},
	}
	s, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Meat: quantity.MustGrams(1000)}, Scale: unroundedScale()})
	if err != nil {
		t.Fatal(err)
	}
	q := ask(f, s, &ruleset{})
	for limit, want := range map[string]finding.Status{"salt-least": finding.Met, "nitrite-effect": finding.Near} { // 20,000 and 40 mg/kg
		g, _ := rulebook.GuideByID(limit)
		r := newRule(rulebook.Limit{
			ID: "made-up", Agent: rulebook.Nitrite, Species: rulebook.AsAdded, Phase: rulebook.Ingoing, Base: rulebook.MeatBlock,
			Kind: rulebook.Investigate, Comparator: rulebook.AtMost, Unit: rulebook.MilligramsPerKilogram, Value: g.Low,
			Source: source.Citation{Title: "made up for a test", Trust: source.Read},
		}, "nitrite-ingoing-investigate", "")
		if got := q.judge(r, ""); got.status != want {
			t.Errorf("100 mg/kg against %s: want %s, got %s", g.Low.Printed, want, got.status)
		}
	}
}
