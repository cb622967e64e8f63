package quantity_test

import (
	"fmt"
	"testing"

	"greenweight/domain/quantity"
)

// By definition: an inch is 25.4 mm, a foot 12 inches (NIST SP 811, 2008, appendix
// B.8).
func TestLengthConverts(t *testing.T) {
	t.Parallel()
	foot, casing := ok(quantity.Feet(1))(t), quantity.MustMillimetres(38.1)
	for _, row := range []struct {
		name      string
		want, got float64
	}{
		{"a foot in inches", 12, foot.Inches()},
		{"a foot in centimetres", 30.48, foot.Centimetres()},
		{"a foot in millimetres", 304.8, foot.Millimetres()},
		{"38.1 mm in inches", 1.5, casing.Inches()},
		{"38.1 mm in metres", 0.0381, casing.Metres()},
		{"5 ft in metres", 1.524, ok(quantity.Feet(5))(t).Metres()},
		{"2 in in feet", 1.0 / 6, ok(quantity.Inches(2))(t).Feet()},
		{"6 cm in millimetres", 60, ok(quantity.Centimetres(6))(t).Millimetres()},
	} {
		near(t, row.name, row.want, row.got)
	}
	if !casing.Less(foot) || foot.Less(casing) || foot.Less(foot) {
		t.Error("38.1 mm is less than a foot, and nothing less than itself")
	}
}

// 88.9 mm are exactly three and a half inches, to the last bit or not.
func TestLengthsCompare(t *testing.T) {
	t.Parallel()
	edge := quantity.MustInches(3.5)
	for mm, want := range map[float64]int{88.9: 0, 88.8999: -1, 88.9001: 1} {
		if got := quantity.MustMillimetres(mm).Compare(edge); got != want {
			t.Errorf("%v mm against %s: want %d, got %d", mm, edge, want, got)
		}
	}
}

// My casing is sold as an inch and a half. What is that in millimetres?
func ExampleInches() {
	casing, err := quantity.Inches(1.5)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(casing)
	// Output: 38.1 mm
}
