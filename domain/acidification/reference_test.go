package acidification_test

import (
	"math"
	"testing"

	"greenweight/domain/acidification"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

const never = 1e9 // hours

// Series of the reference on the pH, by id. The temperatures are assumed
// where the papers do not give them. 5.3 lies, by the readings, between two hours,
// of which the 90 % band of the projection from those shown must hold a part; and
// once all are read it is there where a straight line crosses, or not at all.
func TestSeriesOfTheReference(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		id        string
		celsius   float64 // assumed
		culture   string  // none: spontaneous
		shown     int     // readings
		readings  []float64
		between   [2]float64
		estimated float64 // hours; 0: never reached
		within    float64
	}{
		// Journal of Milk and Food Technology, 1974, abstract.
		{"ph-keller-summer", 36, "pediococcus-acidilactici", 2, []float64{0, 5.9, 7.5, 5.5, 20, 4.6}, [2]float64{8, 14}, 10.3, 0.05},
		// Korean J. Food Sci. Anim. Resour. 36(3):300, 2016, table 2.
		{"ph-gsf-0", 24, "", 1, []float64{0, 5.72, 168, 5.01, 336, 4.65, 480, 4.88}, [2]float64{0, 168}, 99.4, 0.05},
		{"ph-gsf-1.5", 24, "", 1, []float64{0, 5.88, 168, 5.04, 336, 4.63, 480, 4.97}, [2]float64{0, 168}, 116, 0.05},
		// Foods 11(5):650, 2022, table 3.
		{"ph-yeast-CT", 15, "", 3, []float64{0, 6.1, 96, 5.69, 192, 5.59, 288, 5.65}, [2]float64{never, never}, 0, 0},
		{"ph-yeast-PK", 15, "", 2, []float64{0, 6.08, 96, 5.56, 192, 5.16, 288, 5.2}, [2]float64{110.4, 206.4}, 158.4, 0.05},
		{"ph-yeast-DH", 15, "", 3, []float64{0, 6.09, 96, 5.56, 192, 5.31, 288, 5.34}, [2]float64{never, never}, 0, 0},
		// Front. Microbiol., 2019, table 1.
		{"ph-xylosus-E1", 20, "", 1, []float64{0, 5.8, 144, 5.2, 720, 5.55}, [2]float64{0, 144}, 120, 0.05},
		// Study of grinders, excerpt.
		{"ph-salami-3d", 22, "latilactobacillus-sakei", 1, []float64{0, 5.8, 72, 4.8, 528, 4.9}, [2]float64{18, 54}, 36, 0.05},
		// Foods 11(8):1114, 2022, means of the pH; raw meat held cold, for its shape.
		{"ph-cold-meat-L01-0-MAP2", 4, "", 2, []float64{48, 6.23, 192, 5.77, 360, 5.11, 528, 5.07}, [2]float64{251.6, 371.6}, 311.6, 0.1},
		{"ph-cold-meat-L03-0-Air", 4, "", 2, []float64{48, 6.45, 192, 5.78, 360, 5.26, 528, 5.31}, [2]float64{287.1, 407.1}, 347.1, 0.1},
		{"ph-cold-meat-L05-0-Air", 4, "", 2, []float64{48, 6.35, 192, 5.5, 360, 5.47, 528, 5.51}, [2]float64{never, never}, 0, 0},
	} {
		t.Run(row.id, func(t *testing.T) {
			t.Parallel()
			first := func(n int) acidification.Crossing {
				o := acidification.Order{Spontaneous: row.culture == ""}
				o.Course.PHReadings = read(row.readings[:2*n]...)
				if last := row.readings[2*n-2]; last > 0 {
					o.Course.Steps = held(row.celsius, last)
				} else {
					o.Ahead = held(row.celsius, 24)
				}
				if row.culture != "" {
					o.Cultures = species(t, row.culture)
				}
				return project(t, o).To[0]
			}
			band := first(row.shown).P90
			if math.Min(never, inHours(band.Low)) > row.between[1] || math.Min(never, inHours(band.High)) < row.between[0] {
				t.Errorf("the band is %.1f to %.1f h, want part of %v", inHours(band.Low), inHours(band.High), row.between)
			}
			all := first(len(row.readings) / 2)
			if row.estimated == 0 {
				if all.Outcome != acidification.WillNotReach && all.Outcome != acidification.MayNotReach {
					t.Errorf("want that it may not be reached, got %v", all.Outcome)
				}
				return
			}
			if all.Outcome != acidification.AlreadyThere || all.Estimated == nil {
				t.Fatalf("want that it is there, got %v", all.Outcome)
			}
			quantitytest.Near(t, "the line", row.estimated, inHours(*all.Estimated), row.within)
		})
	}
}

// A plan of a day at 24 °C with pediococci is below 5.3 for a part of the band, and its floor may be
// that which was read (Food Sci. Anim. Resour. 41(6):1078, 2021, table 1; ids
// ph-seleshe-1, 4.49 and ph-seleshe-3, 4.68).
func TestEndsOfTheReference(t *testing.T) {
	t.Parallel()
	for id, end := range map[string]float64{"ph-seleshe-1": 4.49, "ph-seleshe-3": 4.68} {
		p := project(t, acidification.Order{Ahead: held(24, 24), Cultures: species(t, "pediococcus-pentosaceus"), Target: quantity.MustPH(5)})
		if low := inHours(p.To[0].P90.Low); low > 24 {
			t.Errorf("%s: 5.3 comes after %.1f h at the earliest", id, low)
		}
		if b := p.Floor.P90; b.Low.Float() > end || b.High.Float() < end {
			t.Errorf("%s: the floor is %v", id, b)
		}
	}
	// Fermentation 9(6):558, 2023, abstract: below 5.0 by 72 h (ph-sucuk-lp); 24 °C assumed.
	p := project(t, acidification.Order{Ahead: held(24, 72), Cultures: species(t, "lactiplantibacillus-plantarum"), Target: quantity.MustPH(5)})
	if got := inHours(p.To[1].Median); got > 72 {
		t.Errorf("ph-sucuk-lp: 5.0 after %.1f h", got)
	}
}
