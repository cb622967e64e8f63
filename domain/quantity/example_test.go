package quantity_test

import (
	"fmt"

	"greenweight/domain/quantity"
)

// I have 5 lb of meat. What will a metric scale say?
func ExamplePounds() {
	meat, err := quantity.Pounds(5)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f kg\n", meat.Kilograms())
	// Output: 2.268 kg
}

// What happens when I slip and enter a share of 130 %?
func ExamplePercent() {
	_, err := quantity.Percent(130)
	fmt.Println(err)
	// Output: percentage must be from 0 to 100 %, got 130 %
}

// How much salt is 2.8 % of 2.5 kg of meat?
func ExampleFraction_Of() {
	fmt.Println(quantity.MustPercent(2.8).Of(quantity.MustGrams(2500)))
	// Output: 70 g
}

// The formula wants 2.5 g of cure for a kilogram of meat, and there are 5 lb.
// What goes on a scale that shows 0.1 g, if never more than that?
func ExampleMass_RoundTo() {
	meat, err := quantity.Pounds(5)
	if err != nil {
		fmt.Println(err)
		return
	}
	cure := quantity.MustRatio(0.0025).Of(meat)
	onScale, divisions, err := cure.RoundTo(quantity.MustGrams(0.1), quantity.Down)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%v, as %d divisions, for %v\n", onScale, divisions, cure)
	// Output: 5.6 g, as 56 divisions, for 5.6699 g
}

// How many grams of cure would a batch need that is to weigh 3 kg, when 2.5 kg
// take 6.25 g?
func ExampleMass_Over() {
	larger, err := quantity.MustGrams(3000).Over(quantity.MustGrams(2500))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(quantity.MustGrams(6.25).Times(larger))
	// Output: 7.5 g
}

// A level teaspoon of it weighs 6 g. What is a quarter teaspoon?
func ExampleDensity_Of() {
	quarter, err := quantity.Teaspoons(0.25)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(quantity.MustGramsPerTeaspoon(6).Of(quarter))
	// Output: 1.5 g
}

// 2.5 g of a cure with 6.25 % nitrite go into a kilogram of meat. Is that at the
// ceiling of 156.25 mg/kg, or over it by the last bit of the arithmetic?
func ExamplePPM_Compare() {
	nitrite := quantity.MustPercent(6.25).Of(quantity.MustGrams(2.5))
	share, err := nitrite.Over(quantity.MustGrams(1000))
	if err != nil {
		fmt.Println(err)
		return
	}
	ingoing, err := share.PPM()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(ingoing, ingoing.Compare(quantity.MustPPM(156.25)))
	// Output: 156.25 mg/kg 0
}

// The label of a culture says 1e10 CFU/g. How many cells are in a gram of meat
// when 0.25 g of it go into a kilogram?
func ExampleCellCount_Diluted() {
	count, err := quantity.MustCFUPerGram(1e10).Diluted(quantity.MustRatio(0.25 / 1000))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(count)
	// Output: 2500000 CFU/g
}
