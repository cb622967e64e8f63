package lot_test

import (
	"testing"
	"time"

	"greenweight/domain/drying"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/quantity/quantitytest"
)

// What a hygrometer read since the weigh-in before the last is seen, as a mean over
// time: from 80 to 70 percent in a straight line is 75. What it read before, beside
// another piece or by guess is not.
func TestDryDownSeesTheHygrometerOfLate(t *testing.T) {
	t.Parallel()
	read := func(percent float64) lot.Measured {
		return lot.Measured{Place: lot.Air, Humidity: humidity(percent)}
	}
	of := func(piece string, m lot.Measured) lot.Measured {
		m.Piece = piece
		return m
	}
	within := func(points float64, m lot.Measured) lot.Measured {
		m.HumidityWithin = material.Is(quantity.MustPercent(points))
		return m
	}
	guessed := read(60)
	guessed.Means.Method = lot.ByEstimate
	weighings := with(begun(), told(53, hung()), told(77, weighed("A", 582)), told(101, weighed("A", 570)), told(149, weighed("A", 558)))
	const unknown = -1.0
	for _, row := range []struct {
		name         string
		story        []lot.Told
		want, within float64
	}{
		{"nothing read", weighings, unknown, unknown},
		{"of late", with(weighings, told(105, read(80)), told(125, read(70))), 75, unknown},
		{"before", with(weighings, told(60, read(90)), told(80, read(91))), unknown, unknown},
		{"before and of late", with(weighings, told(60, read(90)), told(105, within(2, read(80))), told(125, within(4, read(70)))), 75, 4},
		{"beside another piece", with(weighings, told(105, of("B", read(80)))), unknown, unknown},
		{"by guess", with(weighings, told(105, guessed)), unknown, unknown},
		{"not hung", with(begun(), told(7, read(92))), unknown, unknown},
		{"before it was weighed", with(begun(), told(53, hung()), told(60, read(88))), 88, unknown},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			q := dryDown(t, keep(t, row.story...), time.Time{})
			check := func(what string, want float64, got material.Known[quantity.RelativeHumidity]) {
				t.Helper()
				h, known := got.Get()
				if known != (want != unknown) {
					t.Errorf("%s: want it known %v", what, want != unknown)
				}
				if known {
					quantitytest.Near(t, what, want, h.Percent(), 1e-9) // float rounding
				}
			}
			check("humidity", row.want, q.Seen.Humidity)
			check("how far off", row.within, q.Seen.HumidityWithin)
			p, err := drying.Project(q.Order)
			if err != nil {
				t.Fatalf("project: %v", err)
			}
			a, err := drying.Advise(q.Order, p, q.Seen)
			if err != nil || a.Humidity.Read != (row.want != unknown) {
				t.Errorf("read %v, error %v", a.Humidity.Read, err)
			}
		})
	}
}
