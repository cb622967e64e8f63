package lot_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/lot"
)

// every is the same each six hours, from one hour to another.
func every(from, to float64, f lot.Fact) []lot.Told {
	var all []lot.Told
	for h := from; h <= to; h += 6 {
		all = append(all, told(h, f))
	}
	return all
}

// warmUntil is a chamber at 24 °C from stuffing on.
func warmUntil(hour float64) []lot.Told { return every(5, hour, airAt(24)) }

// What nobody read is not shown, and never a pass. Degrees above 60 °F at 24 °C
// (75.2 °F) are 15.2, so that 42 h are 638.4 of 1200 °F h, and 90 h are 1368.
func TestUnknownHoursAreNotShown(t *testing.T) {
	t.Parallel()
	acid := acidOf(5.2)
	strip := acid
	strip.Means.Method = lot.Strip
	for _, row := range []struct {
		name string
		told []lot.Told
		want finding.Status
	}{
		{"read from stuffing on", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(29, airAt(24)), told(41, airAt(24)), told(47, airAt(24)), told(47, acid)}, finding.Met},
		{"from an hour after it on", []lot.Told{told(6, airAt(24)), told(18, airAt(24)), told(30, airAt(24)), told(42, airAt(24)), told(48, airAt(24)), told(48, acid)}, finding.Met},
		{"from two hours after it on", []lot.Told{told(7, airAt(24)), told(18, airAt(24)), told(30, airAt(24)), told(42, airAt(24)), told(48, airAt(24)), told(48, acid)}, finding.NotShown},
		{"15 hours between two", []lot.Told{told(5, airAt(24)), told(20, airAt(24)), told(30, airAt(24)), told(42, airAt(24)), told(47, airAt(24)), told(47, acid)}, finding.NotShown},
		{"15 hours between two, after the acid", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(17, acid), told(32, airAt(24))}, finding.Met},
		{"never above the base, as far as was read", []lot.Told{told(5, airAt(10)), told(29, airAt(10))}, finding.NotShown},
		{"too warm for too long, with a gap", []lot.Told{told(5, airAt(24)), told(95, airAt(24)), told(95, acid)}, finding.NotMet},
		// 45 °C is 113 °F: 53 * (17 + 23/60) = 921 of 900 °F h, counted from stuffing; 869 from the first reading.
		{"too warm before the first reading", []lot.Told{
			told(5+59.0/60, airAt(45)), told(14, airAt(45)), told(22+23.0/60, airAt(45)), told(22+23.0/60, acid),
		}, finding.NotMet},
		// 30 °C is 86 °F: 26 * 54 = 1404 of 1200 °F h, whatever another thermometer says.
		{"two thermometers, one in the cellar", with(every(5, 59, by("chamber", airAt(30))), append(every(8, 59, by("pantry", airAt(12))), told(59, acid))...), finding.NotMet},
		{"the warm one is not read any more", with(every(5, 11, by("chamber", airAt(30))), append(every(8, 50, by("pantry", airAt(12))), told(50, acid))...), finding.NotShown},
		{"the warm one was not read before", with(every(5, 35, by("pantry", airAt(12))), append(every(36, 48, by("chamber", airAt(30))), told(48, acid))...), finding.NotShown},
		{"the warm one cooled down", with(every(5, 11, by("chamber", airAt(30))), append(with(
			every(17, 50, by("chamber", airAt(10))), every(8, 50, by("pantry", airAt(12)))...), told(47, acid))...), finding.Met},
		{"the same one under another name", with(every(5, 17, by("", airAt(24))), append(every(20, 50, by("chamber", airAt(23.5))), told(50, acid))...), finding.Met},
		{"another piece is slower, read after", append(warmUntil(29), told(29, ofPiece("A", acid)), told(29.1, ofPiece("B", acidOf(5.8)))), finding.NotShown},
		{"another piece is slower, read before", append(warmUntil(29), told(28.9, ofPiece("B", acidOf(5.8))), told(29, ofPiece("A", acid))), finding.NotShown},
		{"until it is sour too", append(warmUntil(41), told(29, ofPiece("A", acid)), told(29.1, ofPiece("B", acidOf(5.8))), told(41, ofPiece("B", acidOf(5.25)))), finding.Met},
		{"another piece each time", append(warmUntil(41), told(17, ofPiece("A", acidOf(5.7))), told(41, ofPiece("B", acid))), finding.Met},
		{"of no piece in particular", append(warmUntil(29), told(27, acidOf(5.5)), told(29, acid)), finding.Met},
		{"of no piece in particular, and another", append(warmUntil(29), told(29, acid), told(29.1, acidOf(5.8))), finding.NotShown},
		{"the same piece, ripening", append(warmUntil(29), told(29, ofPiece("A", acid)), told(60, ofPiece("A", acidOf(5.6)))), finding.Met},
		{"a strip may be off by half", []lot.Told{told(5, airAt(24)), told(17, airAt(24)), told(29, airAt(24)), told(29, strip)}, finding.Near},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			q, err := keep(t, append(begun(), row.told...)...).record.State().Fermentation()
			if err != nil {
				t.Fatal(err)
			}
			e, err := q.Judge()
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range e.Findings {
				if f.Code == fermentation.CodeDegreeHours && f.LimitID == e.Deciding && f.Status != row.want {
					t.Errorf("want %s, got %s: %s", row.want, f.Status, f.Reason)
				}
			}
		})
	}
}

// Of any thermometers, read at any times, the course is nowhere below one that
// was read, and is made of readings alone.
func TestTheWarmestThermometerCounts(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		type point struct{ hour, celsius float64 }
		var all []point
		story := begun()
		for n := range rapid.IntRange(1, 4).Draw(t, "thermometers") {
			hours := rapid.SliceOfNDistinct(rapid.IntRange(0, 40), 1, 8, rapid.ID[int]).Draw(t, "hours")
			slices.Sort(hours)
			for _, h := range hours {
				p := point{5 + float64(h), float64(rapid.IntRange(2, 40).Draw(t, "celsius"))}
				all = append(all, p)
				story = append(story, told(p.hour, by(fmt.Sprint("thermometer ", n), airAt(p.celsius))))
			}
		}
		q, err := keep(t, story...).record.State().Fermentation()
		if err != nil {
			return // one instant only
		}
		log := q.Course.Log
		start := q.Start.Sub(at(0)).Hours()
		for _, p := range all {
			i := slices.IndexFunc(log, func(r fermentation.Reading) bool { return start+r.At.Hours() >= p.hour })
			if i < 0 {
				t.Fatalf("the course ends before %v", p)
			}
			to := log[i]
			there := to.Temperature.Celsius()
			if end := start + to.At.Hours(); end > p.hour {
				from := log[i-1]
				begin := start + from.At.Hours()
				there = from.Temperature.Celsius() + (p.hour-begin)/(end-begin)*(there-from.Temperature.Celsius())
			}
			if there < p.celsius-1e-9 {
				t.Errorf("%v was read, and the course has %v °C then", p, there)
			}
		}
	})
}
