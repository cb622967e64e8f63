package rulebook_test

import (
	"fmt"
	"time"

	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// How much nitrite do 2.5 g of curing salt no. 1 per kilogram of meat bring, and
// is that within the rule of the United States?
func ExampleIngoingOnMeat() {
	cure, _ := rulebook.CureByKey("cure-1")
	nitrite := cure.Content(rulebook.CompoundNaNO2).High.Of(quantity.MustGrams(2.5))
	got, err := rulebook.IngoingOnMeat(nitrite, quantity.MustGrams(1000))
	if err != nil {
		fmt.Println(err)
		return
	}
	limit, _ := rulebook.LimitByID("us-nitrite-comminuted")
	most, _ := limit.Value.PPM()
	fmt.Println(got, got.Compare(most) <= 0, limit.Value.Exact.RatString(), limit.Value.Printed)
	// Output: 156.25 mg/kg true 625/4 156 ppm
}

// How much of it may a European batch hold whose other parts weigh a kilogram?
func ExampleBlendForBatch() {
	limit, _ := rulebook.LimitByID("eu-nitrite-0831")
	ion, _ := limit.Value.PPM()
	asSalt, err := rulebook.Convert(ion, rulebook.CompoundNO2, rulebook.CompoundNaNO2)
	if err != nil {
		fmt.Println(err)
		return
	}
	blend, err := rulebook.BlendForBatch(asSalt, quantity.MustGrams(1000), quantity.MustPercent(6.25))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(asSalt, blend)
	// Output: 119.977 mg/kg 1.92333 g
}

// Which European rows on nitrite hold today for dry sausage?
func ExampleInForce() {
	for _, l := range rulebook.InForce(rulebook.EuropeanUnion, time.Date(2026, time.November, 25, 0, 0, 0, 0, time.UTC)) {
		if l.For(rulebook.DrySausage) && l.Agent == rulebook.Nitrite && l.Applies == (rulebook.Applies{}) {
			fmt.Println(l.ID, l.Phase, l.Comparator, l.Value.Printed, l.Species, l.Base)
		}
	}
	// Output:
	// eu-nitrite-0831 ingoing <= 80 mg/kg NO2-ion batch
	// eu-nitrite-0831-res residual <= 45 mg/kg NO2-ion finished-product
	// eu-salt-only placing-on-market none only in a mixture with salt or a salt substitute none none
}
