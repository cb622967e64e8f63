package blend_test

import (
	"errors"
	"fmt"

	"greenweight/domain/blend"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
)

// I have belly of 30 % fat and 2 kg of beef of 12 %. How much belly makes it 20 %?
func ExampleSquare() {
	parts, err := blend.Square(quantity.MustPercent(12), quantity.MustPercent(30), quantity.MustPercent(20))
	if err != nil {
		fmt.Println(err)
		return
	}
	belly, err := parts.ToGoWith(quantity.MustGrams(2000))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s parts of beef to %s of belly: %s of belly\n", parts.A, parts.B, belly)
	// Output:
	// 10 parts of beef to 8 of belly: 1600 g of belly
}

// Which cuts make 10 kg with at most 28 % fat for the least money, with more
// pork than beef? (Invented prices.) By hand: half is beef of 4.48 % fat; of the
// other half, leg of 5.41 % and back fat of 88.69 %, (28 - 2.24 - 2.705)/83.28 =
// 0.2768 is back fat, and a kilogram costs 0.2232*7.90 + 0.2768*2.40 + 3.25.
func ExampleSolve() {
	price := func(amount string) material.Known[quantity.Price] {
		p, _ := quantity.MustMoney(amount, "EUR").Per(quantity.MustGrams(1000))
		return material.Is(p)
	}
	cut := func(name, key, amount string) blend.Cut {
		m, _ := material.ByKey(key)
		return blend.Cut{Name: name, Material: &m, Price: price(amount)}
	}
	answer, err := blend.Solve(blend.Order{
		Cuts: []blend.Cut{
			cut("leg", "pork-leg-lean-only", "7.90"), cut("back fat", "pork-backfat", "2.40"), cut("beef", "beef-chuck-for-stew-lean-and-fat", "6.50"),
		},
		Limits:       []blend.Limit{{Of: blend.Fat, Max: material.Is(quantity.MustPercent(28))}},
		SpeciesOrder: []material.Species{material.Pork, material.Beef},
		Total:        material.Is(quantity.MustGrams(10000)),
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, u := range answer.Cuts {
		fmt.Printf("%s %.0f g\n", u.Cut.Name, u.Mass.Grams())
	}
	cost, _ := answer.Cost.Get()
	fmt.Println("costs", cost)
	for _, b := range answer.Binding {
		fmt.Println("held back by", b.Says)
	}
	// Output:
	// leg 2232 g
	// back fat 2768 g
	// beef 5000 g
	// costs 56.77 EUR
	// held back by 10000 g in all
	// held back by fat at most 28 %
	// held back by no less pork than beef
}

// Shoulder and back fat can't make a lean sausage of 15 % fat.
func ExampleSolve_outOfReach() {
	_, err := blend.Solve(blend.Order{
		Cuts: []blend.Cut{
			{Name: "shoulder", Fat: material.Is(quantity.MustPercent(18))}, {Name: "back fat", Fat: material.Is(quantity.MustPercent(88))},
		},
		Limits: []blend.Limit{{Of: blend.Fat, Max: material.Is(quantity.MustPercent(15))}},
	})
	f, _ := errors.AsType[*fault.Error](err)
	for _, v := range f.Violations {
		fmt.Println(v.Path.Pointer(), v.Detail)
	}
	// Output:
	// #/limits/0/max_percent asks for fat at most 15 %, but fat is from 18 % to 88 % with these cuts
}
