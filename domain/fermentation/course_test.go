package fermentation_test

import (
	"testing"
	"time"

	"greenweight/domain/fermentation"
	"greenweight/domain/quantity"
)

// What a course takes is what the ranges say, and no more.
func TestRanges(t *testing.T) {
	t.Parallel()
	chamber, ph, worst := fermentation.ChamberRange(), fermentation.PHRange(), fermentation.WorstThermometer()
	course := func(celsius, acid, off float64, last time.Duration) fermentation.Course {
		return fermentation.Course{
			Log: []fermentation.Reading{
				{Temperature: quantity.MustCelsius(celsius)}, {At: last, Temperature: quantity.MustCelsius(celsius)},
			},
			PHReadings:  []fermentation.PHReading{{PH: quantity.MustPH(acid)}},
			Thermometer: new(quantity.MustCelsiusDegrees(off)),
		}
	}
	const more, day = 0.001, 24 * time.Hour
	for _, row := range []struct {
		name   string
		course fermentation.Course
		taken  bool
	}{
		{"the coldest chamber", course(chamber.Low.Celsius(), 5.5, 0, day), true},
		{"a colder one", course(chamber.Low.Celsius()-more, 5.5, 0, day), false},
		{"the hottest chamber", course(chamber.High.Celsius(), 5.5, 0, day), true},
		{"a hotter one", course(chamber.High.Celsius()+more, 5.5, 0, day), false},
		{"the lowest pH", course(24, ph.Low.Float(), 0, day), true},
		{"a lower one", course(24, ph.Low.Float()-more, 0, day), false},
		{"the highest pH", course(24, ph.High.Float(), 0, day), true},
		{"a higher one", course(24, ph.High.Float()+more, 0, day), false},
		{"the worst thermometer", course(24, 5.5, worst.CelsiusDegrees(), day), true},
		{"a worse one", course(24, 5.5, worst.CelsiusDegrees()+more, day), false},
		{"the longest course", course(24, 5.5, 0, fermentation.LongestCourse), true},
		{"a longer one", course(24, 5.5, 0, fermentation.LongestCourse+time.Second), false},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			if _, err := fermentation.DegreeHours(row.course); (err == nil) != row.taken {
				t.Errorf("want it taken %v, got %v", row.taken, err)
			}
		})
	}
}
