package drawing

import (
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"strings"
)

// Apart says what is told of how long a course takes beside the first. The zero
// value can't be drawn.
type Apart int

// What may be told.
const (
	Longer   Apart = iota + 1 // it takes longer
	Shorter                   // it takes less long
	NotTold                   // the difference may come from the spread alone
	NotShown                  // the two can't be compared
)

// Comparison is the chart of courses of drying side by side: the loss of weight
// against the days since hanging, as the mean of the pieces of each course, with
// every piece as it was weighed, and how the times compare in words.
type Comparison struct {
	Subject string
	Courses []DryingCourse // 2 to 12; the first is the one that the others are held against
	Common  float64        // the day up to which all courses go; 0 when there is none
	Target  *float64       // percent; drawn where it is given
}

// DryingCourse is one course.
type DryingCourse struct {
	Name     string
	Curve    []LossPoint // ascending; may be empty
	WeighIns []WeighIn   // of all its pieces, in any order
	Against  *TimeRatio  // nil for the first
}

// LossPoint is the mean loss on a day.
type LossPoint struct{ Days, Loss float64 }

// TimeRatio is how many times as long a course takes as the first to the same
// loss, with the interval of 95 %; only Apart counts when that is NotShown.
type TimeRatio struct {
	Apart   Apart
	Assumed bool // one of the two has a single piece, and the usual spread stands for its own
	Ratio   float64
	P95     Span
	Losses  Span // over which the times were compared, in percent
}

const (
	leastCourses, mostCourses = 2, 12
	leastTimes, mostTimes     = 1e-6, 1e6
)

// SVG writes the chart as SVG.
func (c Comparison) SVG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writeSVG(w)
}

// PNG writes the chart as PNG.
func (c Comparison) PNG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writePNG(w)
}

func (c Comparison) validate() error {
	if n := len(c.Courses); n < leastCourses || n > mostCourses {
		return undrawable("%d courses", n)
	}
	if err := within("common day", c.Common, 0, latestDay); err != nil {
		return err
	}
	if c.Target != nil {
		if err := within("target", *c.Target, 0, 100); err != nil {
			return err
		}
	}
	for i, course := range c.Courses {
		if err := course.validate(i == 0); err != nil {
			return fmt.Errorf("course %d: %w", i, err)
		}
	}
	return nil
}

func (c DryingCourse) validate(first bool) error {
	if err := ascending("day of the curve", len(c.Curve), func(i int) float64 { return c.Curve[i].Days }, 0, latestDay); err != nil {
		return err
	}
	if err := allWithin("loss", len(c.Curve), func(i int) float64 { return c.Curve[i].Loss }, mostGain, 100); err != nil {
		return err
	}
	for i, w := range c.WeighIns {
		low, high := mostGain, mostLoss
		if w.Doubtful {
			low, high = -math.MaxFloat64, doubtfulLoss
		}
		if err := within("loss", w.Loss, low, high); err != nil {
			return fmt.Errorf("weigh-in %d: %w", i, err)
		}
		if err := within("day", w.Days, -latestDay, latestDay); err != nil {
			return fmt.Errorf("weigh-in %d: %w", i, err)
		}
	}
	switch {
	case first:
		return nil
	case c.Against == nil:
		return undrawable("nothing says how it compares")
	case c.Against.Apart < Longer || c.Against.Apart > NotShown:
		return undrawable("no word of how it compares")
	case c.Against.Apart == NotShown:
		return nil
	}
	ends := []float64{c.Against.P95.Low, c.Against.Ratio, c.Against.P95.High}
	if err := ascending("ratio", len(ends), func(i int) float64 { return ends[i] }, leastTimes, mostTimes); err != nil {
		return err
	}
	losses := []float64{c.Against.Losses.Low, c.Against.Losses.High}
	return ascending("loss", len(losses), func(i int) float64 { return losses[i] }, 0, 100)
}

// timesAsLong returns a ratio for people: two digits, and three from ten up.
func timesAsLong(v float64) string {
	const ten, hundredth = 10, 0.01
	switch {
	case v >= 1000:
		return "over 1000"
	case v >= ten:
		return decimal(math.Round(v), 0)
	case v >= 1:
		return decimal(v, 1)
	case v >= hundredth:
		return decimal(v, 2)
	default:
		return "under 0.01"
	}
}

// interval returns the interval of a ratio, with the bound of one kept in sight.
func (t TimeRatio) interval() string {
	end := func(v float64) string {
		if s := timesAsLong(v); v == 1 || s != "1" {
			return s
		}
		return against(v, 1, 2)
	}
	low, high := end(t.P95.Low), end(t.P95.High)
	if t.Assumed {
		high += "*"
	}
	return low + "–" + high
}

// short returns a name that leaves room for others in a line.
func short(name string) string {
	const wide = 330.0
	return titleBold.fit(plain(name), wide)
}

// title says the answer in words.
func (c Comparison) title() string {
	first, second := short(c.Courses[0].Name), short(c.Courses[1].Name)
	if n := len(c.Courses); n > 2 {
		told := 0
		for _, course := range c.Courses[1:] {
			if a := course.Against.Apart; a == Longer || a == Shorter {
				told++
			}
		}
		return fmt.Sprintf("%d of %d courses told apart from %s", told, n-1, first)
	}
	switch a := c.Courses[1].Against; a.Apart {
	case Longer, Shorter:
		return fmt.Sprintf("%s: %s times as long as %s", second, timesAsLong(a.Ratio), first)
	case NotTold:
		return fmt.Sprintf("%s and %s: no difference told", second, first)
	default:
		return fmt.Sprintf("%s and %s: nothing to compare yet", second, first)
	}
}

// lines say what the title leaves.
func (c Comparison) lines() []string {
	var lines []string
	if slices.ContainsFunc(c.Courses[1:], func(d DryingCourse) bool { return d.Against.Assumed && d.Against.Apart != NotShown }) {
		lines = append(lines, "* of a single piece: the usual spread is taken for its own")
	}
	if len(c.Courses) > 2 {
		return append([]string{"times to the same loss as ratios, 95 % intervals"}, lines...)
	}
	a := c.Courses[1].Against
	if a.Apart == NotShown {
		return []string{"the pieces of both have not lost the same"}
	}
	return append([]string{fmt.Sprintf("ratio of the times to a loss of %s–%s %%, 95 %%: %s", decimal(a.Losses.Low, 0), decimal(a.Losses.High, 0), a.interval())}, lines...)
}

// verdict is what the key says beside a course.
func (c DryingCourse) verdict() string {
	if c.Against == nil {
		return "the first"
	}
	switch a := c.Against; a.Apart {
	case Longer, Shorter:
		return fmt.Sprintf("× %s (%s)", timesAsLong(a.Ratio), a.interval())
	case NotTold:
		return fmt.Sprintf("not told apart (%s)", a.interval())
	default:
		return "not compared"
	}
}

// desc tells the picture to those who do not see it.
func (c Comparison) desc() string {
	parts := []string{"Loss in percent of the green weight against the days since hanging, the mean of the pieces of each course"}
	for i, course := range c.Courses {
		text := plain(course.Name)
		if n := len(course.Curve); n > 0 {
			last := course.Curve[n-1]
			text += fmt.Sprintf(": %s %% by day %s", decimal(last.Loss, 1), dayText(last.Days))
		}
		if i > 0 {
			switch a := course.Against; a.Apart {
			case NotShown:
				text += ", not compared"
			default:
				text += fmt.Sprintf(", %s times as long as the first (95 %%: %s)", timesAsLong(a.Ratio), a.interval())
				if a.Apart == NotTold {
					text += ", no difference told"
				}
			}
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, ". ") + "."
}

// The colours, dashes and marks of courses: no two of twelve share all three.
var (
	brown   = color.NRGBA{0x8A, 0x45, 0x08, 0xFF}
	purple  = color.NRGBA{0x6B, 0x2A, 0x8F, 0xFF}
	teal    = color.NRGBA{0x0B, 0x66, 0x66, 0xFF}
	colours = []color.NRGBA{ink, blue, brown, purple, teal, grey}
	dashes  = [][]float64{nil, {9, 4}, {3, 3}, {10, 3, 3, 3}}
)

// look is how a course is drawn.
type look struct {
	pen  pen
	mark int
}

func lookOf(i int) look {
	const width = 2.5
	return look{pen{color: colours[i%len(colours)], width: width, dash: dashes[i%len(dashes)]}, i % len(colours)}
}

// markAt draws the mark of a course, with a white rim.
func (l look) markAt(s *scene, class string, at point, radius float64) {
	const rim = 1.0 // thin, or pieces that lie close hide each other
	if l.mark == 0 {
		s.dot("rim", white, at, radius+rim)
		s.dot(class, l.pen.color, at, radius)
		return
	}
	shape := func(r float64) []point {
		var corners []point
		for _, c := range shapes[l.mark] {
			corners = append(corners, point{at.x + r*c.x, at.y + r*c.y})
		}
		return corners
	}
	s.area("rim", white, shape(radius+rim)...)
	s.area(class, l.pen.color, shape(radius)...)
}

// shapes are the corners of the marks but the first, a dot: square, triangle,
// diamond, triangle on its tip, bar.
var shapes = [][]point{
	nil,
	{{-0.9, -0.9}, {0.9, -0.9}, {0.9, 0.9}, {-0.9, 0.9}},
	{{0, -1.2}, {1.1, 0.8}, {-1.1, 0.8}},
	{{0, -1.3}, {1.1, 0}, {0, 1.3}, {-1.1, 0}},
	{{0, 1.2}, {1.1, -0.8}, {-1.1, -0.8}},
	{{-0.5, -1.2}, {0.5, -1.2}, {0.5, 1.2}, {-0.5, 1.2}},
}

// span returns how far the axes go: over all that counts.
func (c Comparison) span() (from, to, low, high float64) {
	see := func(day, loss float64) {
		from, to = math.Min(from, day), math.Max(to, day)
		low, high = math.Min(low, loss), math.Max(high, loss)
	}
	for _, course := range c.Courses {
		for _, p := range course.Curve {
			see(p.Days, p.Loss)
		}
		for _, w := range course.WeighIns {
			if !w.Doubtful {
				see(w.Days, w.Loss)
			}
		}
	}
	if c.Target != nil {
		high = math.Max(high, *c.Target)
	}
	const leastDays = 4.0
	to = math.Max(to, leastDays)
	edge := 0.03 * (to - from)
	if from < 0 {
		from -= edge
	}
	return from, to + edge, low, math.Max(high, 2)
}

func (c Comparison) scene() (*scene, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	s := &scene{title: c.title(), desc: c.desc()}
	subject := plain(c.Subject)
	if subject != "" {
		s.title = subject + ". " + s.title
	}
	y := s.head(subject, titleBold.wrap(c.title(), inside.x1-inside.x0, 2), c.lines()...) + 6
	y = c.key(s, y) + 28
	s.write("caption", "loss, % of the green weight", small, grey, inside.x0, y-12, atStart)

	const (
		head     = 1.08 // above the highest loss
		atBottom = 52.0
		perStep  = 30.0 // pixels from grid line to grid line at least
	)
	from, to, low, high := c.span()
	high = low + head*(high-low)
	if low < 0 {
		low -= 0.05 * (high - low)
	}
	area := box{0, y, inside.x1 - 8, Height - atBottom}
	scale := axis{low: low, high: high}
	step := scale.roundStep(min(6, int((area.y1-area.y0)/perStep)))
	area.x0 = gutter(figures(scale, step)...)
	p := newPanel(area, from, to, low, high)
	p.rule(s, step)
	places := &placer{area: box{area.x0, area.y0, area.x1, area.y1 - 2}}
	c.levels(s, p, places)
	c.draw(s, p, places)
	c.labels(s, p, places)
	p.count(s, daySteps, p.area.y1+22)
	s.write("caption", "days since hanging", small, grey, (p.area.x0+p.area.x1)/2, Height-10, atMiddle)
	return s, nil
}

// key writes a row for each course: how it is drawn, its name, and how it
// compares; it returns where the last ends.
func (c Comparison) key(s *scene, y float64) float64 {
	const (
		row    = 22.0
		sample = 34.0
		room   = 8.0
		radius = 4.5
	)
	doubtful := false
	for i, course := range c.Courses {
		y += row
		l := lookOf(i)
		s.line("key", l.pen, point{inside.x0, y - 10}, point{inside.x0 + sample, y - 10})
		l.markAt(s, "key", point{inside.x0 + sample/2, y - 10}, radius)
		verdict := s.write("verdict", course.verdict(), smallBold, ink, inside.x1, y-5, atEnd)
		x := inside.x0 + sample + room
		s.write("key-label", small.fit(plain(course.Name), verdict.x0-room-x), small, ink, x, y-5, atStart)
		doubtful = doubtful || slices.ContainsFunc(course.WeighIns, func(w WeighIn) bool { return w.Doubtful })
	}
	if doubtful {
		y += row
		s.cross("key", point{inside.x0 + sample/2, y - 10}, 6)
		s.write("key-label", "weighed, but doubtful and left out", small, ink, inside.x0+sample+room, y-5, atStart)
	}
	return y
}

// levels draws the target, and the day up to which all courses go.
func (c Comparison) levels(s *scene, p panel, places *placer) {
	if c.Target != nil {
		y := p.y.at(*c.Target)
		s.line("target", pen{color: green, width: 2}, point{p.area.x0, y}, point{p.area.x1, y})
		places.avoid(point{p.area.x0, y}, point{p.area.x1, y})
	}
	if c.Common > 0 && c.Common < p.x.high {
		x := p.x.at(c.Common)
		s.line("common", pen{color: grey, width: 1.25, dash: []float64{2, 4}}, point{x, p.area.y0}, point{x, p.area.y1})
		places.avoid(point{x, p.area.y0}, point{x, p.area.y1})
	}
}

// draw draws the weigh-ins, and the curves over them.
func (c Comparison) draw(s *scene, p panel, places *placer) {
	const (
		many         = 400
		radius, less = 3.6, 2.0
		arms         = 5.5
	)
	n := 0
	for _, course := range c.Courses {
		n += len(course.WeighIns)
	}
	r := radius
	if n > many {
		r = less
	}
	for i, course := range c.Courses {
		l := lookOf(i)
		for _, w := range course.WeighIns {
			if w.Doubtful {
				continue
			}
			at := p.at(w.Days, w.Loss)
			l.markAt(s, "weigh-in", at, r)
			places.avoid(point{at.x - r, at.y - r}, point{at.x + r, at.y + r})
		}
	}
	for i, course := range c.Courses {
		line := make([]point, len(course.Curve))
		for k, q := range course.Curve {
			line[k] = point{q.Days, q.Loss}
		}
		path := p.path(line)
		s.line("mean", lookOf(i).pen, path...)
		places.avoid(path...)
	}
	for _, course := range c.Courses {
		for _, w := range course.WeighIns {
			if !w.Doubtful {
				continue
			}
			at := p.at(math.Min(math.Max(w.Days, p.x.low), p.x.high), math.Min(math.Max(w.Loss, p.y.low), p.y.high))
			at.x = math.Min(math.Max(at.x, p.area.x0+arms), p.area.x1-arms)
			at.y = math.Min(math.Max(at.y, p.area.y0+arms), p.area.y1-arms)
			s.cross("doubtful", at, arms)
			places.avoid(point{at.x - arms, at.y - arms}, point{at.x + arms, at.y + arms})
		}
	}
}

// labels writes the names of the lines where they run.
func (c Comparison) labels(s *scene, p panel, places *placer) {
	if c.Target != nil {
		text := "target " + decimal(*c.Target, 2) + " %"
		places.place(s, "target-label", text, smallBold, green, along(p.area.x0, p.area.x1, p.y.at(*c.Target), smallBold.width(text)))
	}
	if c.Common > 0 && c.Common < p.x.high {
		text := "all until day " + dayText(c.Common)
		x, w := p.x.at(c.Common), small.width(text)
		var spots []spot
		for _, y := range []float64{p.area.y1 - 8, p.area.y1 - 30, p.area.y0 + 16, p.area.y0 + 38} {
			spots = append(spots, spot{point{x + 6, y}}, spot{point{x - 6 - w, y}})
		}
		places.place(s, "common-label", text, small, grey, spots)
	}
}
