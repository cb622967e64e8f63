package drawing

import (
	"fmt"
	"io"
	"math"
	"strings"
)

// Profiles is the chart of where the water is in a piece: moisture and water
// activity from the centre to the surface on some days, and below them the loss by
// day with its bands, from which the days are picked.
type Profiles struct {
	Profiles []Profile     // one at least, ascending; mostProfiles of them are drawn, evenly picked
	Course   []CoursePoint // one at least, ascending
	Target   *float64      // percent of loss
	OneSided bool          // the distance is counted from the side that does not dry
}

// Profile is a piece on a day, from its centre outwards.
type Profile struct {
	Days   float64
	Places []Place // two at least, ascending
}

// Place is a spot in it.
type Place struct {
	Millimetres   float64 // from the centre
	Moisture      float64 // percent of the weight
	WaterActivity float64
}

// The bounds of what can be drawn.
const (
	mostProfiles     = 6
	mostMillimetres  = 10_000.0
	leastMillimetres = 0.1
)

// SVG writes the chart as SVG.
func (c Profiles) SVG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writeSVG(w)
}

// PNG writes the chart as PNG.
func (c Profiles) PNG(w io.Writer) error {
	s, err := c.scene()
	if err != nil {
		return err
	}
	return s.writePNG(w)
}

func (c Profiles) validate() error {
	if len(c.Profiles) == 0 || len(c.Course) == 0 {
		return undrawable("neither a profile nor a course")
	}
	if err := ascending("day of a profile", len(c.Profiles), func(i int) float64 { return c.Profiles[i].Days }, 0, latestDay); err != nil {
		return err
	}
	for i, p := range c.Profiles {
		at := p.Places
		if len(at) < 2 {
			return undrawable("profile %d has no width", i)
		}
		for _, err := range []error{
			ascending("distance", len(at), func(k int) float64 { return at[k].Millimetres }, 0, mostMillimetres),
			within("outermost distance", at[len(at)-1].Millimetres, leastMillimetres, mostMillimetres),
			allWithin("moisture", len(at), func(k int) float64 { return at[k].Moisture }, 0, 100),
			allWithin("water activity", len(at), func(k int) float64 { return at[k].WaterActivity }, 0, 1),
		} {
			if err != nil {
				return fmt.Errorf("profile %d: %w", i, err)
			}
		}
	}
	if c.Target != nil {
		if err := within("target", *c.Target, 0, 100); err != nil {
			return err
		}
	}
	return DryDown{Course: c.Course}.validateSeries()
}

// drawn returns the profiles that are drawn: the first, the last and others evenly
// between them.
func (c Profiles) drawn() []Profile {
	n := len(c.Profiles)
	if n <= mostProfiles {
		return c.Profiles
	}
	picked := make([]Profile, mostProfiles)
	for i := range picked {
		picked[i] = c.Profiles[i*(n-1)/(mostProfiles-1)]
	}
	return picked
}

// pens tell the days apart by colour and, without colour, by dash.
var profilePens = [mostProfiles]pen{
	{color: blue, width: 2.5},
	{color: green, width: 2.5, dash: []float64{9, 3}},
	{color: red, width: 2.5, dash: []float64{5, 3}},
	{color: ink, width: 2.5, dash: []float64{2, 3}},
	{color: edge, width: 2.5, dash: []float64{9, 3, 2, 3}},
	{color: grey, width: 2.5, dash: []float64{14, 4}},
}

func (c Profiles) title() string {
	last := c.Profiles[len(c.Profiles)-1]
	outer := last.Places[len(last.Places)-1]
	return fmt.Sprintf("Day %s: %s %% water in the middle, %s %% at the surface",
		dayText(last.Days), decimal(last.Places[0].Moisture, 0), decimal(outer.Moisture, 0))
}

func (c Profiles) line() string {
	last := c.Course[len(c.Course)-1]
	return fmt.Sprintf("before any weigh-in; %s %% lost by day %s (80 %%: %s–%s)",
		decimal(last.Median, 1), dayText(last.Days), decimal(last.P80.Low, 0), decimal(last.P80.High, 0))
}

func (c Profiles) desc() string {
	text := "Moisture and water activity from the centre to the surface, and the loss by day. "
	var days []string
	for _, p := range c.drawn() {
		outer := p.Places[len(p.Places)-1]
		days = append(days, fmt.Sprintf("Day %s: %s %% and %s in the middle, %s %% and %s at the surface, %s mm out.", dayText(p.Days),
			decimal(p.Places[0].Moisture, 1), decimal(p.Places[0].WaterActivity, 3),
			decimal(outer.Moisture, 1), decimal(outer.WaterActivity, 3), decimal(outer.Millimetres, 1)))
	}
	return text + strings.Join(days, " ") + " " + c.line() + "."
}

// distances are what people count millimetres in.
var distanceSteps = []float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000}

func (c Profiles) scene() (*scene, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	s := &scene{title: c.title(), desc: c.desc()}
	y := s.head("", titleBold.wrap(c.title(), inside.x1-inside.x0, 2), c.line()) + 8
	y = c.key(s, y)
	const (
		caption  = 36.0 // above each panel
		figures  = 40.0 // below the distances, with their name
		atBottom = 48.0
	)
	each := (Height - atBottom - y - 3*caption - figures) / 3
	lowest, highest := 100.0, 0.0
	lowAW, highAW, widest := 1.0, 0.0, 0.0
	for _, p := range c.Profiles {
		for _, at := range p.Places {
			lowest, highest = math.Min(lowest, at.Moisture), math.Max(highest, at.Moisture)
			lowAW, highAW = math.Min(lowAW, at.WaterActivity), math.Max(highAW, at.WaterActivity)
		}
		widest = math.Max(widest, p.Places[len(p.Places)-1].Millimetres)
	}
	left := gutter("0.95", "−100")
	of := func(low, high, least float64) (float64, float64) {
		if high-low < least {
			low, high = low-least/2, high+least/2
		}
		room := 0.06 * (high - low)
		return low - room, high + room
	}
	lowest, highest = of(lowest, highest, 1)
	lowAW, highAW = of(lowAW, highAW, 0.01)
	from := "centre"
	if c.OneSided {
		from = "side that does not dry"
	}

	y += caption
	s.write("caption", "water, % of the weight there", small, grey, inside.x0, y-12, atStart)
	water := newPanel(box{left, y, inside.x1 - 8, y + each}, 0, widest, lowest, highest)
	c.draw(s, water, func(at Place) float64 { return at.Moisture })
	y += each + caption
	s.write("caption", "water activity, estimated", small, grey, inside.x0, y-12, atStart)
	activity := newPanel(box{left, y, inside.x1 - 8, y + each}, 0, widest, lowAW, highAW)
	c.draw(s, activity, func(at Place) float64 { return at.WaterActivity })
	activity.count(s, distanceSteps, activity.area.y1+20)
	y += each + figures
	s.write("caption", "mm from the "+from, small, grey, inside.x1-8, y+2, atEnd)

	y += caption
	loss := "loss, %"
	if c.Target != nil {
		loss += fmt.Sprintf("; the green line is the target, %s %%", decimal(*c.Target, 0))
	}
	s.write("caption", loss, small, grey, inside.x0, y-12, atStart)
	c.course(s, box{left, y, inside.x1 - 8, Height - atBottom})
	return s, nil
}

// draw draws one figure of the profiles.
func (c Profiles) draw(s *scene, in panel, of func(Place) float64) {
	in.rule(s, in.y.roundStep(4))
	for i, p := range c.drawn() {
		var line []point
		for _, at := range p.Places {
			line = append(line, point{at.Millimetres, of(at)})
		}
		path := in.path(thinned(line))
		s.line("profile", profilePens[i], path...)
		s.rimmed("surface", profilePens[i].color, path[len(path)-1], 3.5)
	}
	s.line("axis", pen{color: grey, width: 1.5}, point{in.area.x0, in.area.y1}, point{in.area.x1, in.area.y1})
}

// course draws the loss by day, and the days of the profiles on it.
func (c Profiles) course(s *scene, area box) {
	loss := DryDown{Course: c.Course}
	to := math.Max(c.Course[len(c.Course)-1].Days, 1)
	low, high := 0.0, 1.0
	for _, p := range c.Course {
		low, high = math.Min(low, p.P90.Low), math.Max(high, p.P90.High)
	}
	if c.Target != nil {
		high = math.Max(high, *c.Target)
	}
	high += 0.06 * (high - low)
	in := newPanel(area, 0, to, low, high)
	in.rule(s, in.y.roundStep(4))
	loss.bands(s, in)
	if c.Target != nil {
		y := in.y.at(*c.Target)
		s.line("target", pen{color: green, width: 2.25}, point{area.x0, y}, point{area.x1, y})
	}
	s.line("median-ahead", pen{color: blue, width: 2.75, dash: ahead}, in.path(loss.curve(to, func(q CoursePoint) float64 { return q.Median }))...)
	for i, p := range c.drawn() {
		if p.Days <= to {
			x := in.x.at(p.Days)
			s.line("profile-day", pen{color: profilePens[i].color, width: 1.5, dash: profilePens[i].dash}, point{x, area.y0}, point{x, area.y1})
		}
	}
	in.count(s, daySteps, area.y1+20)
	s.write("caption", "days since hanging", small, grey, (area.x0+area.x1)/2, Height-8, atMiddle)
}

// key writes which line is which day, and returns where the last row ends.
func (c Profiles) key(s *scene, y float64) float64 {
	const (
		sample, room, between = 30.0, 6.0, 14.0
	)
	x := inside.x0
	y += 22
	for i, p := range c.drawn() {
		text := "day " + dayText(p.Days)
		w := sample + room + small.width(text)
		if x+w > inside.x1 {
			x, y = inside.x0, y+22
		}
		s.line("key", profilePens[i], point{x, y - 10}, point{x + sample, y - 10})
		s.write("key-label", text, small, ink, x+sample+room, y-5, atStart)
		x += w + between
	}
	return y
}
