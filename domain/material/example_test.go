package material_test

import (
	"fmt"

	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// How much fat does a kilogram of shoulder bring, and how much fermentable sugar
// 5 g of dextrose powder?
func ExampleByKey() {
	shoulder, _ := material.ByKey("pork-butt-lean-and-fat")
	dextrose, _ := material.ByKey("dextrose-monohydrate")
	fat, _ := shoulder.Composition.Fat.Get()
	sugar, _ := dextrose.FermentableSugar().Get()
	fmt.Println(fat.Of(quantity.MustGrams(1000)), "of fat,", sugar.Of(quantity.MustGrams(5)), "of sugar")
	// Output: 123.6 g of fat, 4.54546 g of sugar
}
