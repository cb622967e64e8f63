package curing_test

import (
	"fmt"

	"greenweight/domain/curing"
	"greenweight/domain/formula"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Is 2.5 g of a 6.25 % cure in a kilogram of meat allowed where I am?
func ExampleCheck() {
	f := cured(generic("cure-1"), per(2.5, 1000), added("salt", formula.Salt, "salt-table", per(26, 1000)))
	answer, err := curing.Check(weighed(f, 1000, rulebook.UnitedStates, rulebook.EuropeanUnion))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, found := range answer.Findings {
		if found.Code == "nitrite-ingoing-ceiling" && !found.Limit.IsZero() {
			fmt.Println(found.Rulebook, found.LimitID, found.Status, found.Measured.Value)
		}
	}
	fmt.Println(answer.Remedies[0].Text)
	// Output:
	// us us-nitrite-comminuted met 156.25 mg/kg
	// eu eu-nitrite-0831 not-met 101.299 mg/kg
	// eu eu-organic-nitrite not-shown 151.92 mg/kg
	// eu eu-trad-cz-new not-shown 101.299 mg/kg
	// Before mixing: use 26.6 g of salt, which is 0.6 g more; use 1.9 g of cure, which is 0.6 g less.
}

// How much of the pickle's cure ends in a ham that is pumped by a tenth, and is
// that allowed?
func ExampleCheck_pickle() {
	f := cured(assay(5.88, 0), per(32, 1000),
		added("water", formula.Liquid, "water", per(1000, 1000)), added("salt", formula.Salt, "salt-table", per(110, 1000)),
		added("sugar", formula.Sugar, "sugar-granulated", per(124, 1000)))
	f.Product = rulebook.PumpedMuscle
	f.Pickle = &formula.Pickle{Method: formula.Pumped, Uptake: quantity.MustPercent(10)}
	answer, err := curing.Check(order(f, rulebook.UnitedStates))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, found := range answer.Findings {
		if found.LimitID == "us-nitrite-pumped" {
			fmt.Println(found.Status, found.Reason)
		}
	}
	// Output:
	// met 148.626 mg/kg of nitrite as weighed in on the meat block, against <= 200 mg/kg
}
