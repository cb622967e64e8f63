package acidification_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
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

// Ends of the reference, each the last pH of a plan whose temperature is assumed
// where it is not given: the 90 % band at that hour must hold what was read, to the
// 0.05 that the reference allows.
func TestEndsOfTheReference(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		id       string
		celsius  float64
		culture  string // none: one that is not known
		hour     float64
		low, end float64 // of what was read
	}{
		// Food Sci. Anim. Resour. 41(6):1078, 2021, table 1, after a day and at the end.
		{"ph-seleshe-1", 24, "", 24, 5.26, 5.26},
		{"ph-seleshe-1", 24, "", 504, 4.49, 4.62},
		{"ph-seleshe-3", 24, "pediococcus-pentosaceus", 24, 5.15, 5.15},
		{"ph-seleshe-3", 24, "pediococcus-pentosaceus", 504, 4.68, 4.76},
		// Meat Science, 2013 (recalled), the pH at the stop, taken at 72 h.
		{"ph-vtec-temperature", 20, "", 72, 5.15, 5.15},
		{"ph-vtec-temperature", 30, "", 72, 4.77, 4.77},
		// Turk. J. Vet. Anim. Sci., abstract: seven combinations of starters on day 6.
		{"ph-starter-combos-d6", 22, "", 144, 4.94, 5.46},
		// Fermentation 9(6):558, 2023, abstract: below 5.0 after 72 h.
		{"ph-sucuk-lp", 24, "lactiplantibacillus-plantarum", 72, 4.6, 5.0},
	} {
		o := acidification.Order{Ahead: held(row.celsius, row.hour)}
		if row.culture != "" {
			o.Cultures = species(t, row.culture)
		}
		at := phAt(t, project(t, o), row.hour)
		if at.P90.Low.Float() > row.low+0.05 || at.P90.High.Float() < row.end-0.05 {
			t.Errorf("%s at %v °C after %v h: the band is %v, want %v to %v in it", row.id, row.celsius, row.hour, at.P90, row.low, row.end)
		}
	}
	cool := phAt(t, project(t, acidification.Order{Ahead: held(20, 72)}), 72).Median
	warm := phAt(t, project(t, acidification.Order{Ahead: held(30, 72)}), 72).Median
	if warm.Compare(cool) >= 0 {
		t.Errorf("ph-vtec-temperature: after 72 h %v at 30 °C and %v at 20 °C", warm, cool)
	}
	sour := phAt(t, project(t, acidification.Order{Ahead: held(24, 72), Cultures: species(t, "lactiplantibacillus-plantarum")}), 72).Median
	if sour.Float() > 5 {
		t.Errorf("ph-sucuk-lp: %v after 72 h", sour)
	}
}

// phAt returns the pH at an hour, by the line between the points beside it.
func phAt(t *testing.T, p acidification.Projection, hour float64) acidification.Band[quantity.PH] {
	t.Helper()
	for i, to := range p.Course {
		if to.At < hours(hour) {
			continue
		}
		if i == 0 || to.At == hours(hour) {
			return to.PH
		}
		from := p.Course[i-1]
		part := float64(hours(hour)-from.At) / float64(to.At-from.At)
		mix := func(a, b quantity.PH) quantity.PH { return quantity.MustPH(a.Float() + part*(b.Float()-a.Float())) }
		return acidification.Band[quantity.PH]{
			Median: mix(from.PH.Median, to.PH.Median),
			P90:    quantity.Between[quantity.PH]{Low: mix(from.PH.P90.Low, to.PH.P90.Low), High: mix(from.PH.P90.High, to.PH.P90.High)},
		}
	}
	return p.Course[len(p.Course)-1].PH // nothing changes after it
}

// Vegetables in brine, read by strips of 0.5 once a day: not meat, and for the shape
// alone. From the readings above 5.5 the 80 % band must come within a day of the
// hour at which a straight line crosses 5.3; and once one at or below is read, the
// line is told. The temperature, 22 °C, and an unknown culture are assumed.
func TestShapesOfTheReference(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		id       string
		shown    int
		readings []float64
		crossed  float64
	}{
		{"ph-veg-1", 3, []float64{0, 6.5, 24, 6.25, 48, 6, 72, 5}, 64.8},
		{"ph-veg-3", 1, []float64{0, 6.5, 24, 5.25}, 23.04},
		{"ph-veg-9", 2, []float64{0, 7, 24, 6, 48, 5}, 40.8},
	} {
		first := func(n int) acidification.Crossing {
			var o acidification.Order
			o.Course.PHReadings = read(row.readings[:2*n]...)
			for i := range o.Course.PHReadings {
				r := &o.Course.PHReadings[i]
				r.Within = quantity.Between[quantity.PH]{Low: quantity.MustPH(r.PH.Float() - 0.25), High: quantity.MustPH(r.PH.Float() + 0.25)}
			}
			o.Ahead = held(22, 240)
			return project(t, o).To[0]
		}
		const day = 24
		band := first(row.shown).P80
		if inHours(band.Low) > row.crossed+day || inHours(band.High) < row.crossed-day {
			t.Errorf("%s: the band is %.1f to %.1f h, want it within a day of %v h", row.id, inHours(band.Low), inHours(band.High), row.crossed)
		}
		all := first(len(row.readings) / 2)
		if all.Estimated == nil {
			t.Fatalf("%s: want that it is there, got %v", row.id, all.Outcome)
		}
		quantitytest.Near(t, row.id, row.crossed, inHours(*all.Estimated), 0.05)
	}
}

// Every id of the reference that is about the pH has a check here or in package
// acidity, and every check an id; the others are checked in package fermentation,
// whose list this is.
func TestEveryIDOfTheReferenceIsChecked(t *testing.T) {
	t.Parallel()
	list, err := os.ReadFile(filepath.Join("..", "fermentation", "testdata", "reference-ids.json"))
	if err != nil {
		t.Fatal(err)
	}
	var ids struct{ Acidification []string }
	if err := json.Unmarshal(list, &ids); err != nil {
		t.Fatal(err)
	}
	var checks []byte
	for _, file := range []string{"reference_test.go", filepath.Join("..", "acidity", "acid_test.go")} {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		checks = append(checks, text...)
	}
	if len(ids.Acidification) == 0 {
		t.Fatal("no ids")
	}
	for _, id := range ids.Acidification {
		if !bytes.Contains(checks, []byte(id)) {
			t.Errorf("%s has no check", id)
		}
	}
	for _, id := range regexp.MustCompile(`"(ph-[a-zA-Z0-9.-]+)"`).FindAllSubmatch(checks, -1) {
		if !slices.Contains(ids.Acidification, string(id[1])) {
			t.Errorf("%s is no id of the reference", id[1])
		}
	}
}
