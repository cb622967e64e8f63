package drydown

import "math"

// span is a stretch of a plan: how long, and at what the room is set. A sealed
// one is spent in a tight wrapping, where nothing is lost and the water evens out.
type span struct {
	days              float64
	celsius, humidity float64 // humidity in percent
	speed             float64 // m/s
	sealed            bool
}

// wave is a swing of the room about what it is set to, in both at once.
type wave struct{ days, phase, celsius, humidity float64 }

func (w wave) at(day float64) (celsius, humidity float64) {
	swing := math.Sin(2*math.Pi*day/w.days + w.phase)
	return w.celsius * swing, w.humidity * swing
}

// room is what a lot hangs in.
type room struct {
	plan  []span
	waves []wave
}

// air is a room at a time, days from the start.
type air struct{ day, celsius, humidity float64 }

// Bounds of a room: drier or warmer it is no drying room, and above 97 percent a
// hygrometer tells nothing.
const (
	driestRoom, dampestRoom  = 45.0, 97.0
	coldestRoom, warmestRoom = 0.0, 30.0
	readingsADay             = 6 // enough to follow the swing of a day
)

// log returns the air through a span of the plan that begins on a day: what it is
// set to, with its swings by day and its drifts over weeks.
func (r room) log(s span, begins float64) []air {
	n := max(int(math.Ceil(s.days*readingsADay)), 1)
	all := make([]air, 0, n+1)
	for i := range n + 1 {
		a := air{begins + s.days*float64(i)/float64(n), s.celsius, s.humidity}
		for _, w := range r.waves {
			celsius, humidity := w.at(a.day)
			a.celsius += celsius
			a.humidity += humidity
		}
		a.celsius = math.Min(math.Max(a.celsius, coldestRoom), warmestRoom)
		a.humidity = math.Min(math.Max(a.humidity, driestRoom), dampestRoom)
		all = append(all, a)
	}
	return all
}
