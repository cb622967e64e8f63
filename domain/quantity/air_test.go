package quantity_test

import (
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"

	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// Equilibrium relative humidity in percent is a hundred times the water
// activity.
func TestHumidityAndWaterActivity(t *testing.T) {
	t.Parallel()
	for humidity, aw := range map[float64]float64{0: 0, 75: 0.75, 87.5: 0.875, 100: 1} {
		air, product := quantity.MustHumidityPercent(humidity), quantity.MustWaterActivity(aw)
		quantitytest.Near(t, "water activity", aw, air.WaterActivity().Float(), 0)
		quantitytest.Near(t, "humidity in percent", humidity, product.Humidity().Percent(), 0)
		if air.WaterActivity() != product || product.Humidity() != air {
			t.Errorf("%v and %v are not in balance", air, product)
		}
	}
}

func TestComparePH(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		p, q float64
		want int
	}{{5.3, 5.3, 0}, {5.29, 5.3, -1}, {5.31, 5.3, 1}, {0, 14, -1}} {
		p, q := quantity.MustPH(row.p), quantity.MustPH(row.q)
		if diff := cmp.Diff([]int{row.want, -row.want}, []int{p.Compare(q), q.Compare(p)}); diff != "" {
			t.Errorf("%v and %v, either way round (-want +got):\n%s", row.p, row.q, diff)
		}
	}
}

// My sausage has water activity 0.88. Which humidity would dry it no further?
func ExampleWaterActivity_Humidity() {
	fmt.Println(quantity.MustWaterActivity(0.88).Humidity())
	// Output: 88 %
}
