package api

import (
	"bytes"
	"encoding/json"
	"math"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"greenweight/api/apitest"
	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/lot"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// slowed is the example of a piece that stopped in dry air.
func slowed(t *testing.T) string {
	t.Helper()
	return readCompact(t, "dry-down-slowed.request")
}

// readCompact returns the body of a request example without white space.
func readCompact(t *testing.T, name string) string {
	t.Helper()
	var b bytes.Buffer
	if err := json.Compact(&b, readExample(t, name).Value); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func adviceOf(t *testing.T, body string) openapi.DryingAdvice {
	t.Helper()
	return apitest.Decode[openapi.DryDownAnswer](t, testClient(t).Post(t, pathDryDown, []byte(body))).Advice
}

// The same weights are a dry ring or a humid room by what the hygrometer read, and
// neither without one.
func TestAdviceGoesByTheHygrometer(t *testing.T) {
	t.Parallel()
	const reading = `,"hygrometer":{"relative_humidity_percent":75,"uncertainty_percent":3}`
	for _, row := range []struct {
		name, with string
		level      openapi.DryRingLevel
		action     openapi.HumidityAction
		first      string
	}{
		{"dry air", reading, openapi.DryRingLevelLikely, openapi.HumidityActionEqualise, "equalise"},
		{"damp air", `,"hygrometer":{"relative_humidity_percent":94,"uncertainty_percent":3}`, openapi.DryRingLevelNoneSeen, openapi.HumidityActionLower, "lower-humidity"},
		{"not read", ``, openapi.DryRingLevelNotShown, openapi.HumidityActionNotShown, "read-humidity"},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			a := adviceOf(t, string(instead(t, slowed(t), reading, row.with)))
			if a.DryRing.Level != row.level || a.Humidity.Action != row.action || a.Steps[0].Code != row.first {
				t.Errorf("want %v %v %v, got %v %v %v", row.level, row.action, row.first, a.DryRing.Level, a.Humidity.Action, a.Steps[0].Code)
			}
			if (a.DryRing.Signature.DriveLeftPercent == nil) != (row.with == "") {
				t.Error("a chance of a drive goes with a reading")
			}
		})
	}
}

// Each number of what is seen changes the answer.
func TestEveryMemberOfWhatIsSeenIsRead(t *testing.T) {
	t.Parallel()
	membersAreRead(t, pathDryDown, slowed(t), []change{
		{`"hygrometer":{"relative_humidity_percent":75,`, `"hygrometer":{"relative_humidity_percent":86,`},
		{`"uncertainty_percent":3`, `"uncertainty_percent":20`},
		{`"weighing_uncertainty":{"value":5,"unit":"g"}`, `"weighing_uncertainty":{"value":1,"unit":"oz"}`},
	})
}

// Every member of the advice is written from the one that it is named for.
func TestWriteAdvice(t *testing.T) {
	t.Parallel()
	hung := time.Date(2026, 11, 2, 8, 0, 0, 0, time.FixedZone("", 3600))
	rate := func(percent float64) quantity.LossRate {
		r, err := quantity.LossPercentPerDay(percent)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	day := func(n float64) time.Duration { return time.Duration(n * 24 * float64(time.Hour)) }
	interval := func(from, to, low, mid, high float64) drying.Interval {
		return drying.Interval{From: day(from), To: day(to), Rate: rate(mid), Within: quantity.Between[quantity.LossRate]{Low: rate(low), High: rate(high)}}
	}
	rates := drying.Band[quantity.LossRate]{
		Median: rate(1.4), P50: quantity.Between[quantity.LossRate]{Low: rate(1.3), High: rate(1.5)},
		P80: quantity.Between[quantity.LossRate]{Low: rate(1.2), High: rate(1.6)}, P90: quantity.Between[quantity.LossRate]{Low: rate(1.1), High: rate(1.7)},
	}
	loss := quantity.MustLossPercent
	losses := drying.Band[quantity.Loss]{
		Median: loss(24), P50: quantity.Between[quantity.Loss]{Low: loss(23), High: loss(25)},
		P80: quantity.Between[quantity.Loss]{Low: loss(22), High: loss(26)}, P90: quantity.Between[quantity.Loss]{Low: loss(21), High: loss(27)},
	}
	rh, aw := quantity.MustHumidityPercent, quantity.MustWaterActivity
	quicker, err := quantity.NewRatio(1.25)
	if err != nil {
		t.Fatal(err)
	}
	w := writeAdvice(drying.Order{Hung: hung}, drying.Advice{
		Pace: drying.Pace{
			Verdict: drying.Fast, Why: "pace", Measured: material.Is(interval(1, 2, 3, 4, 5)),
			Limits: material.Is(drying.Limits{Slow: rate(6), Comfortable: rate(7), TooFast: rate(8), FirstWeek: true}),
		},
		Ring: drying.Ring{
			Level: drying.RingWatch, Why: "ring",
			Signature: drying.Signature{
				Verdict: drying.SlowedUnclear, Measured: material.Is(interval(9, 10, 11, 12, 13)), Expected: material.Is(rates),
				Halved: percentKnown(14), Drives: percentKnown(15),
			},
			Rim: material.Is(drying.Rim{
				Outer: quantity.MustPercent(16), Inner: quantity.MustPercent(17), Surface: aw(0.18), Core: aw(0.19), Quicker: quicker, Steep: true, Even: material.Is(day(20)),
			}),
			History: drying.History{FastFirstWeek: material.Is(interval(21, 22, 23, 24, 25)), DryAir: material.Is(rh(26))},
		},
		Humidity: drying.Setting{
			Action: drying.Raise, Range: material.Is(quantity.Between[quantity.RelativeHumidity]{Low: rh(27), High: rh(29)}), Value: material.Is(rh(28)),
			Air: material.Is(rh(30)), Read: true, Why: "set",
			Activity: material.Is(quantity.Estimate[quantity.WaterActivity]{Low: aw(0.31), Mid: aw(0.32), High: aw(0.33)}),
			Weeks:    []drying.Week{{From: day(34), To: day(35), Humidity: rh(36), Loss: losses}},
		},
		Next: drying.Next{At: day(37), Overdue: true, Expected: loss(38), Why: "next"},
	})
	at := func(n float64) openapi.Instant { return hung.Add(day(n)) }
	for _, row := range []struct {
		member    string
		want, got any
	}{
		{"pace/verdict", "fast", string(w.Pace.Verdict)},
		{"pace/text", "pace", w.Pace.Text},
		{"pace/measured", openapi.MeasuredLoss{FromDays: 1, ToDays: 2, LowPercentPerDay: 3, PercentPerDay: 4, HighPercentPerDay: 5}, *w.Pace.Measured},
		{"pace/limits", openapi.PaceLimits{SlowPercentPerDay: 6, ComfortablePercentPerDay: 7, TooFastPercentPerDay: 8, FirstWeek: true}, *w.Pace.Limits},
		{"dry_ring/level", "watch", string(w.DryRing.Level)},
		{"dry_ring/text", "ring", w.DryRing.Text},
		{"dry_ring/signature/verdict", "slowed-unclear", string(w.DryRing.Signature.Verdict)},
		{"dry_ring/signature/measured", openapi.MeasuredLoss{FromDays: 9, ToDays: 10, LowPercentPerDay: 11, PercentPerDay: 12, HighPercentPerDay: 13}, *w.DryRing.Signature.Measured},
		{"dry_ring/signature/expected_percent_per_day", writeLossRates(rates), *w.DryRing.Signature.ExpectedPercentPerDay},
		{"dry_ring/signature/below_half_percent", 14.0, *w.DryRing.Signature.BelowHalfPercent},
		{"dry_ring/signature/drive_left_percent", 15.0, *w.DryRing.Signature.DriveLeftPercent},
		{"dry_ring/rim/outer_third_moisture_percent", 16.0, w.DryRing.Rim.OuterThirdMoisturePercent},
		{"dry_ring/rim/inside_moisture_percent", 17.0, w.DryRing.Rim.InsideMoisturePercent},
		{"dry_ring/rim/surface_water_activity", 0.18, w.DryRing.Rim.SurfaceWaterActivity},
		{"dry_ring/rim/core_water_activity", 0.19, w.DryRing.Rim.CoreWaterActivity},
		{"dry_ring/rim/diffusivity_ratio", 1.25, w.DryRing.Rim.DiffusivityRatio},
		{"dry_ring/rim/steep", true, w.DryRing.Rim.Steep},
		{"dry_ring/rim/sealed_even_days", 20.0, *w.DryRing.Rim.SealedEvenDays},
		{"dry_ring/fast_first_week", openapi.MeasuredLoss{FromDays: 21, ToDays: 22, LowPercentPerDay: 23, PercentPerDay: 24, HighPercentPerDay: 25}, *w.DryRing.FastFirstWeek},
		{"dry_ring/dry_air_percent", 26.0, *w.DryRing.DryAirPercent},
		{"humidity/action", "raise", string(w.Humidity.Action)},
		{"humidity/low_percent", 27.0, *w.Humidity.LowPercent},
		{"humidity/value_percent", 28.0, *w.Humidity.ValuePercent},
		{"humidity/high_percent", 29.0, *w.Humidity.HighPercent},
		{"humidity/air_percent", 30.0, *w.Humidity.AirPercent},
		{"humidity/air_read", true, *w.Humidity.AirRead},
		{"humidity/text", "set", w.Humidity.Text},
		{"humidity/water_activity", openapi.AdviceWaterActivityBand{LowWaterActivity: 0.31, WaterActivity: 0.32, HighWaterActivity: 0.33}, *w.Humidity.WaterActivity},
		{"humidity/weeks", []openapi.HumidityWeek{{
			FromAt: at(34), ToAt: at(35), FromDays: 34, ToDays: 35, RelativeHumidityPercent: 36, LossPercent: writeLosses(losses),
		}}, w.Humidity.Weeks},
		{"next_weigh_in", openapi.NextWeighIn{At: at(37), SinceHangingDays: 37, Overdue: true, ExpectedLossPercent: 38, Text: "next"}, w.NextWeighIn},
	} {
		if d := cmp.Diff(row.want, row.got); d != "" {
			t.Errorf("%s (-want +got):\n%s", row.member, d)
		}
	}
}

func percentKnown(p float64) material.Known[quantity.Fraction] {
	return material.Is(quantity.MustPercent(p))
}

// What is not known is absent, not nothing.
func TestAdviceLeavesOutWhatIsNotKnown(t *testing.T) {
	t.Parallel()
	w := writeAdvice(drying.Order{Stuffed: time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)}, drying.Advice{})
	if w.Pace.Measured != nil || w.Pace.Limits != nil || w.DryRing.Rim != nil || w.DryRing.FastFirstWeek != nil || w.DryRing.DryAirPercent != nil ||
		w.DryRing.Signature.ExpectedPercentPerDay != nil || w.Humidity.LowPercent != nil || w.Humidity.AirRead != nil || w.Humidity.WaterActivity != nil || w.Humidity.Weeks != nil {
		t.Errorf("got %+v", w)
	}
}

// What is seen goes into the question of a lot and is read from there alike.
func TestSeenRoundTrip(t *testing.T) {
	t.Parallel()
	seen := drying.Seen{
		Humidity: material.Is(quantity.MustHumidityPercent(77)), HumidityWithin: material.Is(quantity.MustHumidityPercent(2)), WeighingWithin: material.Is(quantity.MustGrams(3)),
	}
	for _, want := range []drying.Seen{seen, {Humidity: seen.Humidity}, {WeighingWithin: seen.WeighingWithin}, {}} {
		var w openapi.DryDownOrder
		writeSeen(&w, want, units{})
		var bad fault.Collector
		if got := readSeen(&bad, w); got != want || bad.Err("", "") != nil {
			t.Errorf("want %+v, got %+v", want, got)
		}
	}
	if got := (&lot.DryDown{}).Seen; got != (drying.Seen{}) {
		t.Errorf("nothing seen is %+v", got)
	}
}

// A room that is nobody's has no name; each piece keeps its own figures.
func TestWriteSpread(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 11, 16, 8, 0, 0, 0, time.UTC)
	loss := quantity.MustLossPercent
	s := drying.Spread{
		Verdict: drying.Uneven, Why: "apart", Mean: material.Is(loss(1)), SD: material.Is(loss(2)), Usual: loss(3),
		Pieces: []drying.HungLoss{{Name: "A", At: at, Loss: loss(4), Off: loss(-5), Lags: true}, {Name: "B", At: at, Loss: loss(6), Off: loss(5), Leads: true}},
	}
	w := writeSpread("", s)
	want := []openapi.SpreadPiece{{Piece: "A", At: at, LossPercent: 4, OffPercent: -5, Lags: true}, {Piece: "B", At: at, LossPercent: 6, OffPercent: 5, Leads: true}}
	if d := cmp.Diff(want, w.Pieces); d != "" || w.Room != nil || string(w.Verdict) != "uneven" || w.Text != "apart" {
		t.Errorf("got %+v\n%s", w, d)
	}
	if *w.MeanLossPercent != 1 || *w.DeviationPercent != 2 || w.UsualPercent != 3 {
		t.Errorf("mean %v, deviation %v, usual %v", *w.MeanLossPercent, *w.DeviationPercent, w.UsualPercent)
	}
	if w := writeSpread("attic", drying.Spread{}); *w.Room != "attic" || w.MeanLossPercent != nil || w.Pieces == nil {
		t.Errorf("got %+v", w)
	}
}

// A hygrometer of more than 100 percent is refused with its place.
func TestSeenOutOfRange(t *testing.T) {
	t.Parallel()
	body := instead(t, slowed(t), `"hygrometer":{"relative_humidity_percent":75,"uncertainty_percent":3}`, `"hygrometer":{"relative_humidity_percent":175,"uncertainty_percent":-3}`)
	a := testClient(t).Do(t, apitest.Request{Method: http.MethodPost, Path: pathDryDown, Body: body, Bad: true})
	if got := a.Pointers(); a.Status != http.StatusUnprocessableEntity || !slices.Equal(got, []string{"#/hygrometer/relative_humidity_percent maximum", "#/hygrometer/uncertainty_percent minimum"}) {
		t.Errorf("status %d, %v", a.Status, got)
	}
}

// The example with five weigh-ins, by hand: 4.5 percent in 7 days with two weighings
// of 10 g are 0.643 a day, give or take 1.2816 sqrt(2) 0.5/7 = 0.129.
func TestPaceOfFiveWeighIns(t *testing.T) {
	t.Parallel()
	m := adviceOf(t, readCompact(t, "dry-down-five-weigh-ins.request")).Pace.Measured
	for _, row := range []struct{ want, got float64 }{{4.5 / 7, m.PercentPerDay}, {4.5/7 - 0.1295, m.LowPercentPerDay}, {4.5/7 + 0.1295, m.HighPercentPerDay}} {
		if math.Abs(row.want-row.got) > 2e-4 {
			t.Errorf("want %v, got %v", row.want, row.got)
		}
	}
}
