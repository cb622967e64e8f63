package wateractivity_test

import (
	"fmt"

	"greenweight/domain/quantity"
	"greenweight/domain/wateractivity"
)

// My salami has lost 35 percent. How dry is that, in water activity?
func ExampleMix_At() {
	aw, err := wateractivity.TypicalMix().At(quantity.MustLossPercent(35))
	if err != nil {
		fmt.Println(err)
		return
	}
	likely, err := wateractivity.Estimate80(aw)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f, likely %.2f to %.2f\n", likely.Mid.Float(), likely.Low.Float(), likely.High.Float())
	// Output: 0.89, likely 0.86 to 0.92
}

// My room is at 85 percent humidity. At which loss does drying stop there?
func ExampleMix_LossAt() {
	end, err := wateractivity.TypicalMix().LossAt(quantity.MustHumidityPercent(85).WaterActivity())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f %%\n", end.Percent())
	// Output: 39 %
}

// How much must it lose until there are 1.9 parts of water to one of protein?
func ExampleMix_LossAtRatio() {
	loss, err := wateractivity.TypicalMix().LossAtRatio(quantity.MustRatio(1.9))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f %%\n", loss.Percent()) // 55.5 - 1.9*14.2
	// Output: 28.5 %
}

// What does salt alone do, 10 g to 100 g of water?
func ExampleBrine() {
	aw, err := wateractivity.Brine(quantity.MustRatio(0.10))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f\n", aw.Float())
	// Output: 0.942
}

// How much water does meat protein still hold at aw 0.90?
func ExampleHeld() {
	held, err := wateractivity.Held(quantity.MustWaterActivity(0.9))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f g to the gram\n", held.Float())
	// Output: 0.47 g to the gram
}

// It has lost 30 percent. How much water is in it, how much of it to a part of
// protein, and how salt is that water?
func ExampleMix_Moisture() {
	m, loss := wateractivity.TypicalMix(), quantity.MustLossPercent(30)
	moisture, err := m.Moisture(loss)
	if err != nil {
		fmt.Println(err)
		return
	}
	ratio, err := m.MoistureProteinRatio(loss)
	if err != nil {
		fmt.Println(err)
		return
	}
	salt, err := m.SaltInWater(loss)
	if err != nil {
		fmt.Println(err)
		return
	}
	// (55.5 - 30)/70, (55.5 - 30)/14.2, 2.7/(55.5 - 30)
	fmt.Printf("%.1f %%, %.2f to 1, %.1f g in 100 g of water\n", moisture.Percent(), ratio.Float(), salt.Percent())
	// Output: 36.4 %, 1.80 to 1, 10.6 g in 100 g of water
}

// What does a percent of glycerol do to a salami that has lost 35 percent?
func ExampleMix_With() {
	sweet, err := wateractivity.TypicalMix().With(wateractivity.Glycerol, quantity.MustPercent(1))
	if err != nil {
		fmt.Println(err)
		return
	}
	aw, err := sweet.At(quantity.MustLossPercent(35))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f\n", aw.Float()) // 0.89 without
	// Output: 0.88
}

// A syrup of half sugar: how dry is that?
func ExampleSolution() {
	aw, err := wateractivity.Solution(wateractivity.Sucrose, quantity.MustRatio(1))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f\n", aw.Float())
	// Output: 0.935
}
