package drawing

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

type comparisonCase struct {
	name  string
	chart Comparison
}

// comparisons are invented courses: one of 30 points in 30 days, others that take
// longer.
func comparisons() []comparisonCase {
	course := func(name string, days float64, against *TimeRatio) DryingCourse {
		c := DryingCourse{Name: name, Against: against}
		for i := range 11 {
			part := float64(i) / 10
			c.Curve = append(c.Curve, LossPoint{days * part, 30 * math.Sqrt(part)})
			for _, off := range []float64{-1, 0.2, 1.1} {
				c.WeighIns = append(c.WeighIns, WeighIn{Days: days * part, Loss: 30*math.Sqrt(part) + off})
			}
		}
		return c
	}
	ratio := func(a Apart, v float64) *TimeRatio {
		return &TimeRatio{a, false, v, Span{v / 1.3, v * 1.3}, Span{12, 30}}
	}
	two := Comparison{
		Courses: []DryingCourse{course("drying room", 30, nil), course("refrigerator in a bag", 54, ratio(Longer, 1.8))}, Common: 30, Target: new(28.0),
	}
	two.Courses[1].WeighIns = append(two.Courses[1].WeighIns, WeighIn{Days: 20, Loss: 99.9, Doubtful: true}, WeighIn{Days: -2, Loss: -3e5, Doubtful: true})
	alike := Comparison{Subject: "Invented trial 4", Courses: []DryingCourse{course("hog", 20, nil), course("collagen", 22, ratio(NotTold, 1.1))}, Common: 20}
	alike.Courses[1].Against.Assumed = true
	bare := Comparison{Courses: []DryingCourse{{Name: "room"}, {Name: "cellar", Against: &TimeRatio{Apart: NotShown}}}}
	twelve := Comparison{Courses: []DryingCourse{course(strings.Repeat("a long name of a course ", 4), 20, nil)}, Common: 20, Target: new(35.0)}
	for i := range 11 {
		twelve.Courses = append(twelve.Courses, course(fmt.Sprintf("%d %s", i, strings.Repeat("Wide ", 15)), 21+3*float64(i), ratio(Apart(1+i%4), 0.004*math.Pow(4, float64(i)))))
	}
	return []comparisonCase{{"two", two}, {"alike", alike}, {"bare", bare}, {"twelve", twelve}}
}

func TestWordsOfAComparison(t *testing.T) {
	t.Parallel()
	all := comparisons()
	for i, want := range [][]string{
		{"refrigerator in a bag: 1.8 times as long as drying room", "ratio of the times to a loss of 12–30 %, 95 %: 1.4–2.3", "× 1.8 (1.4–2.3)", "all until day 30", "target 28 %"},
		{"collagen and hog: no difference told", "not told apart (0.85–1.4*)", "* of a single piece"},
		{"cellar and room: nothing to compare yet", "not compared"},
		{"told apart from", "under 0.01", "over 1000"},
	} {
		s, err := all[i].chart.scene()
		if err != nil {
			t.Fatal(err)
		}
		var text strings.Builder
		for _, m := range s.texts() {
			text.WriteString(m.text + " ")
		}
		for _, w := range want {
			if !strings.Contains(text.String(), w) {
				t.Errorf("%s lacks %q: %s", all[i].name, w, &text)
			}
		}
	}
}

// An interval that holds one, or does not, is not rounded to its other side.
func TestIntervalsKeepToTheirSideOfOne(t *testing.T) {
	t.Parallel()
	if got := (TimeRatio{P95: Span{1.003, 2}}).interval(); got != "1.003–2" {
		t.Errorf("got %s", got)
	}
	if got := (TimeRatio{P95: Span{0.5, 0.998}}).interval(); got != "0.5–0.998" {
		t.Errorf("got %s", got)
	}
}

// No two of twelve courses are drawn alike, and every colour is told from white.
func TestLooksDiffer(t *testing.T) {
	t.Parallel()
	seen := map[string]int{}
	for i := range mostCourses {
		l := lookOf(i)
		key := fmt.Sprint(l)
		if j, is := seen[key]; is {
			t.Errorf("courses %d and %d look alike", i, j)
		}
		seen[key] = i
		if got := contrast(l.pen.color, white); got < 4.5 {
			t.Errorf("course %d: contrast %.2f", i, got)
		}
	}
	colourless := map[string]bool{}
	for i := range mostCourses {
		l := lookOf(i)
		l.pen.color = color.NRGBA{}
		colourless[fmt.Sprint(l)] = true
	}
	if len(colourless) != mostCourses {
		t.Errorf("without colours %d of %d differ", len(colourless), mostCourses)
	}
}

func TestUndrawableComparisons(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*Comparison){
		"one course":       func(c *Comparison) { c.Courses = c.Courses[:1] },
		"no word":          func(c *Comparison) { c.Courses[1].Against = nil },
		"no kind":          func(c *Comparison) { c.Courses[1].Against = &TimeRatio{} },
		"days backwards":   func(c *Comparison) { c.Courses[0].Curve[0].Days = 40 },
		"a loss NaN":       func(c *Comparison) { c.Courses[0].Curve[3].Loss = math.NaN() },
		"a weight NaN":     func(c *Comparison) { c.Courses[0].WeighIns[3].Loss = math.NaN() },
		"a century":        func(c *Comparison) { c.Courses[0].WeighIns[3].Days = 40_000 },
		"a target of more": func(c *Comparison) { c.Target = new(101.0) },
		"a common day":     func(c *Comparison) { c.Common = math.Inf(1) },
		"a ratio outside":  func(c *Comparison) { c.Courses[1].Against = &TimeRatio{Longer, false, 4, Span{1, 3}, Span{1, 2}} },
	} {
		c := comparisons()[0].chart
		change(&c)
		if err := c.SVG(io.Discard); !errors.Is(err, ErrUndrawable) {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

func TestAnyComparisonIsLaidOut(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		span := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(r, name) }
		c := Comparison{}
		days := math.Pow(10, span("log of days", -2, 4.2))
		if rapid.Bool().Draw(r, "common") {
			c.Common = days * span("common part", 0, 1)
		}
		if rapid.Bool().Draw(r, "target") {
			c.Target = new(span("target loss", 0, 100))
		}
		for i := range rapid.IntRange(2, 12).Draw(r, "courses") {
			course := DryingCourse{Name: rapid.StringN(1, 80, -1).Draw(r, "name")}
			day, loss := 0.0, span("start", -5, 5)
			for range rapid.IntRange(0, 6).Draw(r, "points") {
				course.Curve = append(course.Curve, LossPoint{day, math.Min(loss, 100)})
				course.WeighIns = append(course.WeighIns, WeighIn{Days: day - 3, Loss: loss + span("off", -3, 3), Doubtful: rapid.Bool().Draw(r, "doubtful")})
				day, loss = day+days/7*span("step", 0, 1), loss+span("lost", 0, 15)
			}
			if i > 0 {
				v := math.Pow(10, span("log of ratio", -4, 4))
				course.Against = &TimeRatio{Apart(rapid.IntRange(1, 4).Draw(r, "apart")), rapid.Bool().Draw(r, "assumed"), v, Span{v / 3, v * 3}, Span{5, 10}}
			}
			c.Courses = append(c.Courses, course)
		}
		check(r, c.scene)
	})
}
