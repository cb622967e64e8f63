package drawing

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

type profilesCase struct {
	name  string
	chart Profiles
}

// driedTo is an invented profile of a piece that shrinks and dries from the rim.
func driedTo(day, millimetres, centre, rim float64) Profile {
	p := Profile{Days: day}
	for i := range 21 {
		z := float64(i) / 20
		water := centre + (rim-centre)*z*z
		p.Places = append(p.Places, Place{millimetres * z, water, 0.7 + 0.26*math.Min(water, 60)/60})
	}
	return p
}

func profiles() []profilesCase {
	course := dryDowns()[0].chart.Course
	if len(course) == 0 {
		course = []CoursePoint{{Days: 0}, {Days: 40, Median: 30, P50: Span{27, 33}, P80: Span{24, 36}, P90: Span{22, 38}}}
	}
	three := Profiles{Course: course, Target: new(35.0), Profiles: []Profile{driedTo(0, 30, 57, 57), driedTo(7, 29, 57, 45), driedTo(30, 25, 48, 27)}}
	many := Profiles{Course: course}
	for d := range 20 {
		many.Profiles = append(many.Profiles, driedTo(float64(4*d), 40-float64(d)/2, 60-float64(d), 55-1.5*float64(d)))
	}
	flat := Profiles{Course: course[:1], OneSided: true, Profiles: []Profile{driedTo(3, 0.4, 50, 50)}}
	wide := Profiles{Course: course, Profiles: []Profile{driedTo(10_000, 9000, 90, 1)}}
	return []profilesCase{{"three days", three}, {"twenty days", many}, {"even", flat}, {"wide", wide}}
}

// Of twenty profiles six are drawn, the first and the last among them.
func TestProfilesThatAreDrawn(t *testing.T) {
	t.Parallel()
	drawn := profiles()[1].chart.drawn()
	if len(drawn) != mostProfiles || drawn[0].Days != 0 || drawn[mostProfiles-1].Days != 76 {
		t.Errorf("%d drawn, from day %v to day %v", len(drawn), drawn[0].Days, drawn[len(drawn)-1].Days)
	}
	s, err := profiles()[0].chart.scene()
	if err != nil {
		t.Fatal(err)
	}
	if s.title != "Day 30: 48 % water in the middle, 27 % at the surface" {
		t.Errorf("title %q", s.title)
	}
	if !strings.Contains(s.desc, "Day 7: 57 % and 0.947 in the middle, 45 % and 0.895 at the surface, 29 mm out.") { // 0.7 + 0.26*57/60 and 45/60
		t.Errorf("desc %q", s.desc)
	}
}

func TestProfilesThatCannotBeDrawn(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*Profiles){
		"no profile":      func(c *Profiles) { c.Profiles = nil },
		"no course":       func(c *Profiles) { c.Course = nil },
		"no width":        func(c *Profiles) { c.Profiles[0].Places = c.Profiles[0].Places[:1] },
		"a point":         func(c *Profiles) { c.Profiles[0] = driedTo(0, 0, 50, 50) },
		"inside out":      func(c *Profiles) { c.Profiles[0].Places[3].Millimetres = 1e-9 },
		"not a number":    func(c *Profiles) { c.Profiles[0].Places[3].Moisture = math.NaN() },
		"too active":      func(c *Profiles) { c.Profiles[0].Places[3].WaterActivity = 1.1 },
		"out of order":    func(c *Profiles) { c.Profiles[0].Days = 50 },
		"a wild target":   func(c *Profiles) { c.Target = new(1000.0) },
		"a course of NaN": func(c *Profiles) { c.Course = []CoursePoint{{Days: 1, Median: math.NaN()}} },
	} {
		c := profiles()[0].chart
		change(&c)
		if _, err := c.scene(); !errors.Is(err, ErrUndrawable) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAnyProfilesAreLaidOut(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		span := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(r, name) }
		c := Profiles{OneSided: rapid.Bool().Draw(r, "one-sided"), Course: profiles()[0].chart.Course}
		at := 0.0
		for range rapid.IntRange(1, 9).Draw(r, "profiles") {
			at += math.Pow(10, span("log of days", -2, 3))
			c.Profiles = append(c.Profiles, driedTo(math.Min(at, latestDay), math.Pow(10, span("log of mm", -0.9, 3.9)), span("centre", 0, 100), span("rim", 0, 100)))
		}
		if rapid.Bool().Draw(r, "target") {
			c.Target = new(span("target", 0, 100))
		}
		check(r, c.scene)
	})
}
