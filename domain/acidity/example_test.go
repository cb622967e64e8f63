package acidity_test

import (
	"fmt"

	"greenweight/domain/acidity"
	"greenweight/domain/quantity"
)

// How much dextrose takes meat of three quarters lean from pH 5.8 to 5.2? By
// hand: 0.6 / 0.1 x 1 = 6 g/kg by the handbook; by the chemistry at most 0.6 x 60 x
// 0.75 x 1.0457 / (11.10 x 0.8) - 0.5 = 2.7 g/kg.
func ExampleNeedFor() {
	start := quantity.Exactly(quantity.MustPH(5.8))
	n := acidity.NeedFor(quantity.MustPH(5.2), quantity.MustPercent(75), start, acidity.Usual())
	fmt.Printf("%.1f g/kg by the chemistry, %.1f g/kg by the handbook\n", n.Stoichiometry.High.GramsPerKilogram(), n.Handbook.High.GramsPerKilogram())
	// Output: 2.7 g/kg by the chemistry, 6.0 g/kg by the handbook
}

// What does 2 g/kg of dextrose do to it? The high end by hand: 2.5 x 11.10 x 0.8 =
// 22.2 mmol/kg against 45, so 0.493 of a unit less the 3.4 percent that stays
// whole. The low end: 4 x 11.10 x 0.95 = 42.19, and 33.75 x (5.8 - 4.706) x (1 +
// 10^(3.86 - 4.706)) = 42.19.
func ExampleFinalPH() {
	f, err := acidity.FinalPH(acidity.Ground{
		Sugar: quantity.Exactly(quantity.MustPPM(2000)), Lean: quantity.MustPercent(75), Start: quantity.Exactly(quantity.MustPH(5.8)), Sour: true,
	}, acidity.Usual())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f to %.2f\n", f.Low.PH.Float(), f.High.PH.Float())
	// Output: 4.71 to 5.32
}
