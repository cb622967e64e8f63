package air

import (
	"testing"

	"greenweight/domain/quantity/quantitytest"
)

// A cylinder of 12.7 mm in air of 10 m/s, by its film at 350 K: Re 6071, Pr 0.70,
// Nu 40.6 (Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, 6th ed.
// 2007, example 7.4, recalled).
func TestFilmOfATextbook(t *testing.T) {
	t.Parallel()
	quantitytest.Near(t, "Nu", 40.6, sherwood(6071, 0.70), 0.1)
}

// Air: 15.89e-6 m²/s at 300 K, 11.44e-6 at 250 K (the same book, table A.4,
// recalled), at a density of 1 bar, so that it is 1.01325 times less at the
// standard pressure. The kinematic viscosity at 13 °C is 1.44e-5. Vapour in air: 2.42e-5
// m²/s at 20 °C is the usual figure, 2.6e-5 at 25 °C that of the book (table A.8).
func TestPropertiesOfAir(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		what                 string
		want, got, tolerance float64 // tolerance as a part
	}{
		{"viscosity at 300 K", 15.89e-6 / 1.01325, kinematicViscosity(300), 0.005},
		{"viscosity at 250 K", 11.44e-6 / 1.01325, kinematicViscosity(250), 0.005},
		{"viscosity at 13 °C", 1.44e-5, kinematicViscosity(286.15), 0.005},
		{"diffusivity at 20 °C", 2.42e-5, vapourDiffusivity(293.15), 0.03},
		{"diffusivity at 25 °C", 2.6e-5, vapourDiffusivity(298.15), 0.03},
	} {
		quantitytest.Near(t, row.what, row.want, row.got, row.tolerance*row.want)
	}
}
