package drawing_test

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"greenweight/api/drawing"
)

// aFall is a chart that can be drawn, whose parts the tests replace.
func aFall() drawing.Acidification {
	span := func(v, off float64) drawing.Span { return drawing.Span{Low: v - off, High: v + off} }
	c := drawing.Acidification{
		Outcome: drawing.AcidProjected, Scale: drawing.Celsius, PH: 5.3, Now: 20,
		Readings: []drawing.PHPoint{{PH: 5.8, Off: span(5.8, 0.1)}, {Hours: 20, PH: 5.5, Off: span(5.5, 0.1)}},
		Chamber:  []drawing.Reading{{Temperature: 22}, {Hours: 48, Temperature: 22}},
		Time:     &drawing.TargetTime{Median: 30, P50: span(30, 2), P80: span(30, 5), P90: drawing.Span{Low: 24, High: math.Inf(1)}},
	}
	for h := 0.0; h <= 48; h += 4 {
		v := 5.8 - h/60
		c.Course = append(c.Course, drawing.AcidPoint{Hours: h, Median: v, P50: span(v, 0.05), P80: span(v, 0.1), P90: span(v, 0.2), Core: 20})
	}
	return c
}

// What the title says is what is drawn.
func TestAFallIsDrawn(t *testing.T) {
	t.Parallel()
	var svg bytes.Buffer
	if err := aFall().SVG(&svg); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"pH 5.3 at hour 30 (80 %: 25–35)", "2 readings", "hours since the start"} {
		if !strings.Contains(svg.String(), want) {
			t.Errorf("the chart lacks %q", want)
		}
	}
}

func TestAFallThatCanNotBeDrawn(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]func(*drawing.Acidification){
		"no outcome":       func(c *drawing.Acidification) { c.Outcome = 0 },
		"no scale":         func(c *drawing.Acidification) { c.Scale = 0 },
		"no course":        func(c *drawing.Acidification) { c.Course = nil },
		"no chamber":       func(c *drawing.Acidification) { c.Chamber = nil },
		"no time":          func(c *drawing.Acidification) { c.Time = nil },
		"no number":        func(c *drawing.Acidification) { c.Course[3].Median = math.NaN() },
		"out of order":     func(c *drawing.Acidification) { c.Course[3].Hours = 0 },
		"bands not nested": func(c *drawing.Acidification) { c.Course[3].P50.High = 9 },
		"a limit for ever": func(c *drawing.Acidification) { v := math.Inf(1); c.Limit = &v },
		"no sum": func(c *drawing.Acidification) {
			c.Sum = &drawing.SumPanel{Scale: drawing.Celsius, Base: 15.6, Limit: 665}
		},
		"a sum that falls": func(c *drawing.Acidification) {
			c.Sum = &drawing.SumPanel{
				Scale: drawing.Celsius, Base: 15.6, Limit: 665,
				Sum: []drawing.SumPoint{{DegreeHours: 9}, {Hours: 1, DegreeHours: 8}},
			}
		},
		"a target of stone": func(c *drawing.Acidification) { v := 12.0; c.Target = &v },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := aFall()
			spoil(&c)
			var out bytes.Buffer
			if err := c.PNG(&out); !errors.Is(err, drawing.ErrUndrawable) || out.Len() > 0 {
				t.Errorf("want ErrUndrawable and nothing written, got %v and %d bytes", err, out.Len())
			}
		})
	}
}
