package formula_test

import (
	"strings"
	"testing"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
)

func TestAllergensAreNamed(t *testing.T) {
	t.Parallel()
	named := func(name string, role formula.Role) formula.Addition {
		return formula.Addition{Name: name, Role: role, Rate: perKilogram(3)}
	}
	for _, c := range []struct {
		name      string
		additions []formula.Addition
		want      finding.Status
		says      []string
		members   int
	}{
		{"salt and pepper", []formula.Addition{
			addition("salt", formula.Salt, "salt-table", perKilogram(28)), addition("pepper", formula.Spice, "pepper-black", perKilogram(3)),
		}, finding.Met, []string{"no material is known to bring one", "other goods is not judged"}, 0},
		{"milk powder, lactose, soy and mustard", []formula.Addition{
			addition("powder", formula.Other, "milk-powder-nonfat", perKilogram(10)), addition("lactose", formula.Sugar, "lactose-monohydrate", perKilogram(5)),
			addition("flour", formula.Binder, "soy-flour-defatted", perKilogram(10)), addition("seed", formula.Spice, "mustard-seed-ground", perKilogram(2)),
		}, finding.Met, []string{"milk from lactose, powder", "soy from flour", "mustard (European Union) from seed"}, 4},
		{"wine", []formula.Addition{addition("wine", formula.Liquid, "wine-table-red", perKilogram(20))}, finding.NotShown, []string{"sulphites", "egg", "fish"}, 1},
		{"a spice mix by name", []formula.Addition{named("butcher's mix", formula.Spice)}, finding.NotShown, []string{"butcher's mix", "mustard and celery"}, 1},
		{"a mix that brings no salt is known by name only still", []formula.Addition{{Name: "mix", Role: formula.Other, BringsNone: true, Rate: perKilogram(3)}}, finding.NotShown, []string{"mix"}, 1},
		{"a cure", []formula.Addition{{Name: "cure", Role: formula.Cure, Cure: cure("cure-2"), Rate: perKilogram(2.5)}}, finding.Met, nil, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			order := formula.Order{Formula: formula.Formula{Parts: []formula.Part{part("meat", "pork-leg-lean-only", 100)}, Additions: c.additions}}
			order.Amount.Meat = quantity.MustGrams(1000)
			f := must(formula.Scale(order)).JudgeAllergens()
			if f.Status != c.want || len(f.Members) != c.members {
				t.Errorf("want %s of %d members, got %s of %v: %s", c.want, c.members, f.Status, f.Members, f.Reason)
			}
			for _, s := range c.says {
				if !strings.Contains(f.Reason, s) {
					t.Errorf("want %q in: %s", s, f.Reason)
				}
			}
		})
	}
}
