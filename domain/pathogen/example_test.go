package pathogen_test

import (
	"fmt"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// I ferment at 90 °F and then keep the 50 mm sausages 5 days at 90 °F. Which
// published option is that?
func ExampleLookUp() {
	wanted := quantity.MustPH(4.5)
	l := pathogen.LookUp(formula.Formula{Product: rulebook.SemiDrySausage, Plan: formula.Plan{
		WantedPH: &wanted, Casing: formula.PlannedCasing{Diameter: quantity.MustMillimetres(50)},
		Fermentation: []formula.Step{{Temperature: material.Is(quantity.MustFahrenheit(90)), Span: hours(30)}},
		Hold:         []formula.Hold{{Of: formula.Stuffed, Temperature: material.Is(quantity.MustFahrenheit(90)), Span: 5 * hours(24)}},
	}}, nil, rulebook.UnitedStates)
	fmt.Println(l.Finding.Status, l.Finding.LimitID)
	for _, c := range l.Matches[l.Closest].Conditions {
		fmt.Println(c.Code, c.Status)
	}
	fmt.Println(l.Matches[l.Closest].Conditions[3].Remedy)
	// Output:
	// not-shown five-log-90f-4.6-55mm-hold
	// chamber met
	// acid not-shown
	// casing met
	// stages not-met
	// After the fermentation keep it 24 h longer at 90 °F (32 °C).
}

// My sausage has a water activity of 0.91, and my meter is good to 0.005. May
// Listeria grow on it?
func ExampleGrow() {
	off := quantity.MustWaterActivity(0.005)
	found := pathogen.Grow(pathogen.Measured{
		Activity: &pathogen.Reading[quantity.WaterActivity]{Value: quantity.MustWaterActivity(0.91), Off: &off}, Stage: finding.Finish,
	}, rulebook.EuropeanUnion)
	for _, o := range found {
		for _, f := range o.Findings {
			if o.Organism == pathogen.Listeria {
				fmt.Println(f.LimitID, f.Status)
			}
		}
	}
	// Output:
	// listeria-2073 met
	// listeria-growth near
}

// Does a check of this formula ask for 5 log?
func ExampleJudge() {
	f := pathogen.Judge(formula.Formula{Product: rulebook.DrySausage}, rulebook.Canada)
	fmt.Println(f.Code, f.Status, f.Authority)
	// Output: ecoli-five-log not-shown guidance
}
