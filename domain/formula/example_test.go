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

// I have 3.1 kg of shoulder and 0.5 kg of fat. How much can I make, and what is
// left over?
func ExampleOnHand_UseOf() {
	f := plain()
	onHand := &formula.OnHand{Parts: []formula.PartOnHand{
		{Part: 0, Mass: quantity.MustGrams(3100)}, {Part: 1, Mass: quantity.MustGrams(500)},
	}}
	sheet, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{OnHand: onHand}})
	if err != nil {
		fmt.Println(err)
		return
	}
	use, err := onHand.UseOf(f, sheet)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range use.Parts {
		fmt.Printf("%s: %s used, %s left, %s missing to use up the rest; it limits: %t\n", p.Name, p.Used, p.LeftOver, p.Missing, p.Limits)
	}
	// Output:
	// shoulder: 1166 g used, 1934 g left, 0 g missing to use up the rest; it limits: false
	// back fat: 500 g used, 0 g left, 828.571 g missing to use up the rest; it limits: true
}

// I have ten casings of 65 mm laid flat, cut to half a metre. How much do I mix?
func ExampleStuff() {
	f := plain()
	flat, _ := quantity.Millimetres(65)
	cut, _ := quantity.Centimetres(50)
	tie, _ := quantity.Centimetres(3)
	casings := &formula.Casings{Size: formula.CasingSize{Flat: flat}, Length: cut, EndAllowance: tie, Count: 10}
	sheet, err := formula.Scale(formula.Order{Formula: f, Amount: formula.Amount{Casings: casings}})
	if err != nil {
		fmt.Println(err)
		return
	}
	filling, err := formula.Stuff(f, sheet, casings.AsStuffing())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f mm stuffed, %d pieces of %.0f to %.0f g\n",
		filling.Diameter.Millimetres(), filling.Count, filling.Mass.Low.Grams(), filling.Mass.High.Grams())
	// Output:
	// 41.4 mm stuffed, 10 pieces of 573 to 603 g
}
