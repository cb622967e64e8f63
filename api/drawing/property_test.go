package drawing

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Whatever can be drawn is laid out.

func TestAnyDegreeHoursAreLaidOut(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		span := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(r, name) }
		scale := math.Pow(10, span("log of hours", -2, 4.9))
		c := DegreeHours{
			Rule: "rule", State: "state", Scale: Fahrenheit,
			Base: span("base", -20, 120), Limit: math.Pow(10, span("log of limit", 0.1, 6.9)),
		}
		h, sum := 0.0, 0.0
		for range rapid.IntRange(1, 6).Draw(r, "points") {
			c.Sum = append(c.Sum, SumPoint{h, sum})
			c.Range = append(c.Range, RangePoint{h, sum * 0.8, sum * 1.3})
			c.Chamber = append(c.Chamber, Reading{h, c.Base + span("above the base", -60, 60)})
			h += span("step", 0, scale/7)
			sum += span("gain", 0, c.Limit/2)
		}
		if rapid.Bool().Draw(r, "longer log") {
			c.Chamber = append(c.Chamber, Reading{h * 5, c.Base})
		}
		last := c.last()
		if rapid.Bool().Draw(r, "pH") {
			c.PH = &PHMark{Target: 5.3, PH: 5.2, ReadHours: last.Hours}
			if rapid.Bool().Draw(r, "crossing") {
				c.PH.CrossedHours = new(last.Hours * span("crossed", 0, 1))
			}
		}
		if last.DegreeHours <= c.Limit && rapid.Bool().Draw(r, "run-on") {
			c.RunOn = &RunOn{Temperature: c.Base + 3.3, LimitHours: last.Hours + math.Pow(10, span("log of hours left", -3, 6))}
		}
		if h*5 > mostHours {
			r.Skip("past the bound")
		}
		check(r, c.scene)
	})
}

func TestAnyDryDownIsLaidOut(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		span := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(r, name) }
		day := math.Pow(10, span("log of day", -1, 3.3))
		c := DryDown{Outcome: Outcome(rapid.IntRange(1, 4).Draw(r, "outcome")), Target: span("target", 0.1, 100)}
		c.Stops = new(c.Target + span("stops", -20, 20))
		if rapid.Bool().Draw(r, "dates") {
			c.HungOn = dryDowns()[0].chart.HungOn
		}
		if rapid.Bool().Draw(r, "later") {
			c.Now = day * span("now", 0, 2)
		}
		wide := day * span("spread", 0, 1)
		around := func(k float64) Span {
			s := Span{math.Max(0, day-k*wide), day + 2*k*wide}
			if k*wide > 0.9*day {
				s.High = math.Inf(1)
			}
			return s
		}
		c.Day = &TargetDay{day, around(0.4), around(0.7), around(1)}
		if c.Outcome != Projected && rapid.Bool().Draw(r, "no day") {
			c.Day = nil
		}
		open := span("open", 0, 15)
		to := span("course", 0.1, 4) * day
		for i := range 20 {
			part := float64(i) / 19
			m, w := *c.Stops*(1-math.Exp(-2*part)), open*part
			c.Course = append(c.Course, CoursePoint{to * part, m, Span{m - w, m + w}, Span{m - 2*w, m + 2*w}, Span{m - 3*w, m + 3*w}})
		}
		at := span("before hanging", -20, 0)
		for range rapid.IntRange(0, 8).Draw(r, "weigh-ins") {
			w := WeighIn{Days: at, Loss: span("loss", -5, 60), Doubtful: rapid.Bool().Draw(r, "doubtful")}
			if w.Doubtful {
				w.Loss = span("doubtful loss", -2000, 2000)
			}
			c.WeighIns = append(c.WeighIns, w)
			at += span("days between", 0, day/4)
		}
		check(r, c.scene)
	})
}

func TestAnyRoomAirIsLaidOut(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		span := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(r, name) }
		c := RoomAir{Scale: Celsius, Saturation: roomAirs()[0].chart.Saturation}
		if rapid.Bool().Draw(r, "product") {
			c.Surface = new(span("aw", 0, 1))
		}
		for range rapid.IntRange(1, 12).Draw(r, "places") {
			at, humidity, off := span("temperature", -30, 60), span("humidity", 0, 100), span("off", 0, 5)
			v := humidity / 100 * magnus(at)
			p := AirPlace{
				Name: rapid.StringN(0, 30, 60).Draw(r, "name"), Temperature: at, Vapour: v, Humidity: humidity,
				Temperatures: Span{at - off, at + off}, Vapours: Span{v * span("low", 0, 1), v * span("high", 1, 1.5)},
			}
			if c.Surface != nil {
				d := *c.Surface*magnus(at) - v
				p.Drive = &Drive{d, Span{d - off/10, d + off/10}}
			}
			c.Places = append(c.Places, p)
		}
		check(r, c.scene)
	})
}

func check(r *rapid.T, scene func() (*scene, error)) {
	s, err := scene()
	if err != nil {
		r.Fatalf("want a picture, got %v", err)
	}
	for _, f := range laidOut(s) {
		r.Error(f)
	}
}
