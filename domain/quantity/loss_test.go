package quantity_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// By hand: a salami of 975 g that weighs 720 has lost 255/975; links of 719 and
// 694 g that weigh 387 and 371 have lost 332/719 and 323/694.
func TestLossTo(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ green, weight, want float64 }{
		{975, 720, 100 * 255.0 / 975},
		{719, 387, 100 * 332.0 / 719},
		{694, 371, 100 * 323.0 / 694},
		{500, 500, 0},
		{500, 510, -2},
		{500, 0, 100},
	} {
		t.Run(fmt.Sprintf("%v g to %v g", row.green, row.weight), func(t *testing.T) {
			t.Parallel()
			green := quantity.MustGrams(row.green)
			loss := ok(quantity.LossTo(quantity.MustGrams(row.weight), green))(t)
			quantitytest.Near(t, "percent", row.want, loss.Percent(), 1e-12)
			quantitytest.Near(t, "fraction", row.want/100, loss.Float(), 1e-14)
			quantitytest.Near(t, "what is left in grams", row.weight, loss.Left(green).Grams(), 1e-9)
		})
	}
}

// 30 percent of 975 g leave 682.5 g.
func TestLossArithmetic(t *testing.T) {
	t.Parallel()
	third, tenth := quantity.MustLossPercent(30), quantity.MustLossPercent(10)
	for _, row := range []struct {
		name      string
		want, got float64
	}{
		{"left of 975 g", 682.5, third.Left(quantity.MustGrams(975)).Grams()},
		{"30 less 10 percent", 20, third.Minus(tenth).Percent()},
		{"10 less 30 percent", -20, tenth.Minus(third).Percent()},
		{"10 percent in two days and a half", 4, ok(tenth.Per(60 * time.Hour))(t).PercentPerDay()},
		{"a gain in 12 hours", -1, ok(quantity.MustLossPercent(-0.5).Per(12 * time.Hour))(t).PercentPerDay()},
	} {
		quantitytest.Near(t, row.name, row.want, row.got, 1e-12)
	}
	if !tenth.Less(third) || third.Less(tenth) || third.Less(third) || !quantity.MustLossPercent(-1).Less(quantity.Loss{}) {
		t.Error("10 percent is less than 30, a gain less than nothing, and nothing less than itself")
	}
}

func TestLossRefuses(t *testing.T) {
	t.Parallel()
	inf := math.Inf(1)
	_, noGreen := quantity.LossTo(quantity.MustGrams(1), quantity.Mass{})
	_, tooLight := quantity.LossTo(quantity.Mass{}.Minus(quantity.MustGrams(1)), quantity.MustGrams(4))
	_, tooHeavy := quantity.LossTo(quantity.MustGrams(1e300), quantity.MustGrams(1e-9))
	_, noTime := quantity.MustLossPercent(1).Per(0)
	_, backwards := quantity.MustLossPercent(1).Per(-12 * time.Hour)
	for _, row := range []struct {
		name string
		err  error
		want quantity.RangeError
	}{
		{"of nothing", noGreen, quantity.RangeError{Quantity: "divisor mass", High: inf, LowOpen: true, Unit: "g"}},
		{"to less than nothing", tooLight, quantity.RangeError{Quantity: "loss", Value: 125, Low: -inf, High: 100, Unit: "%"}},
		{"to no finite gain", tooHeavy, quantity.RangeError{Quantity: "ratio", Value: inf, Low: -inf, High: inf}},
		{"in no time", noTime, quantity.RangeError{Quantity: "time", High: inf, LowOpen: true, Unit: "days"}},
		{"in less", backwards, quantity.RangeError{Quantity: "time", Value: -0.5, High: inf, LowOpen: true, Unit: "days"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff(row.want, rangeErrorOf(t, row.err)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestLossAndWeightRoundTrip(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		green := quantity.MustGrams(rapid.Float64Range(1, 1e5).Draw(t, "green"))
		loss := quantity.MustLossPercent(rapid.Float64Range(-20, 100).Draw(t, "loss"))
		left := loss.Left(green)
		if left.Grams() < 0 {
			t.Fatalf("%v leaves %v of %v", loss, left, green)
		}
		again := ok(quantity.LossTo(left, green))(t)
		if !(math.Abs(again.Percent()-loss.Percent()) <= 1e-12) {
			t.Errorf("want %v, got %v", loss.Percent(), again.Percent())
		}
	})
}

// A salami that weighed 975 g when it was hung weighs 720. What has it lost, and
// where is 30 percent?
func ExampleLossTo() {
	green := quantity.MustGrams(975)
	loss, err := quantity.LossTo(quantity.MustGrams(720), green)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f %%, and 30 %% at %v\n", loss.Percent(), quantity.MustLossPercent(30).Left(green))
	// Output: 26.2 %, and 30 % at 682.5 g
}
