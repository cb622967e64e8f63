package quantity_test

import (
	"math"
	"testing"

	"greenweight/domain/quantity"
)

// 2 lb in 100 US gallons: 907.18474 g in 378.5411784 L are 2.396528 g/L; in a
// pickle of 10 lb to the gallon, 1.198264 g/mL, they are 2 lb in 1000 lb, 2000
// mg/kg. Exact by the definitions of NIST SP 811.
func TestOuncesInAHundredGallons(t *testing.T) {
	t.Parallel()
	c, err := quantity.OuncesPerHundredGallons(32)
	if err != nil {
		t.Fatal(err)
	}
	if want, got := 2.396528, c.GramsPerLitre(); math.Abs(want-got) > 1e-6 {
		t.Errorf("want %v g/L, got %v", want, got)
	}
	d := quantity.MustGramsPerMillilitre(1.198264273)
	p, err := c.In(d)
	if err != nil {
		t.Fatal(err)
	}
	if want, got := 2000.0, p.MilligramsPerKilogram(); math.Abs(want-got) > 1e-3 {
		t.Errorf("want %v mg/kg, got %v", want, got)
	}
	if want, got := 32.0, d.Holding(p).OuncesPerHundredGallons(); math.Abs(want-got) > 1e-9 {
		t.Errorf("want %v oz in 100 gal, got %v", want, got)
	}
	if m := c.Measure(); m.Unit() != quantity.UnitOuncesPerHundredGallons || m.Unit().String() != "oz_per_100_gal" || math.Abs(m.Value()-32) > 1e-9 {
		t.Errorf("want 32 oz_per_100_gal, got %v", m)
	}
	if _, err := quantity.OuncesPerHundredGallons(-1); err == nil {
		t.Error("want less than nothing refused")
	}
}
