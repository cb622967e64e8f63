package trichinae_test

import (
	"fmt"

	"greenweight/domain/quantity"
	"greenweight/domain/trichinae"
)

// My freezer holds -18 °C and the pork lies in boxes of 10 cm. How long?
func ExampleFreezingFor() {
	row, ok := trichinae.FreezingFor(quantity.MustCelsius(-18), quantity.MustMillimetres(100))
	fmt.Println(row.Days, row.Warmest, ok)
	// Output: 20 -15 °C true
}

// A 60 mm sausage with 3.1 % of salt was kept two days at 27 °C: how long must it
// then dry by method 6?
func ExampleDaysByMethod6() {
	held := trichinae.Held{Coldest: quantity.MustCelsius(27), Span: 2 * day}
	d, _ := trichinae.DaysByMethod6(quantity.MustMillimetres(60), held, quantity.MustPPM(31000))
	fmt.Printf("%d days of table 3A, %d less for the warmth, %d more for the salt: %d\n", d.Row.Dry, d.Deducted, d.Added, d.Days)
	// Output: 18 days of table 3A, 3 less for the warmth, 2 more for the salt: 17
}

// Is the pork in my sausage dealt with when I freeze it for 12 days?
func ExampleJudge() {
	for _, f := range judge(sausage(28, freeze(frozen(-18, 12, 50)))) {
		fmt.Println(f.Code, f.Status, f.Remedy)
	}
	// Output:
	// trichinae-plan not-shown Meet what the findings on the planned route ask for, or freeze the pork 20 days at -15 °C (5 °F) or colder before it is cut, in pieces, layers or boxes of at most 152 mm (6 in).
	// trichinae-freezing-days not-met Freeze it 8 days longer at -15 °C (5 °F) or colder.
}
