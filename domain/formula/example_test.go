package formula_test

import (
	"fmt"

	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// I have 2.3 kg of shoulder. How much salt and cure goes in, on my scale?
func ExampleScale() {
	shoulder, _ := material.ByKey("pork-shoulder-whole-lean-and-fat")
	salt, _ := material.ByKey("salt-table")
	cure, _ := rulebook.CureByKey("cure-1")
	sheet, err := formula.Scale(formula.Order{
		Formula: formula.Formula{
			Name: "invented", Product: rulebook.DrySausage,
			Parts: []formula.Part{{Name: "shoulder", Material: shoulder, Share: quantity.MustPercent(100)}},
			Additions: []formula.Addition{
				{Name: "salt", Role: formula.Salt, Material: &salt, Rate: formula.ShareOfMeat(quantity.MustRatio(0.026))},
				{Name: "cure", Role: formula.Cure, Cure: &cure, Rate: formula.ShareOfMeat(quantity.MustRatio(0.0025))},
			},
		},
		Amount: formula.Amount{Meat: quantity.MustGrams(2300)},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, line := range sheet.Lines {
		fmt.Println(line.Name, line.OnScale())
	}
	fmt.Println("batch", sheet.Batch())
	// Output:
	// shoulder 2300 g
	// salt 59.8 g
	// cure 5.7 g
	// batch 2365.5 g
}
