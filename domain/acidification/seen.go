package acidification

import (
	"fmt"
	"math"
	"time"

	"greenweight/domain/quantity"
)

// Why a reading is left out.
const (
	DoubtAfterLowest = "after-lowest" // the pH rises again: the curve knows no rise
	DoubtOffCourse   = "off-course"   // far from those beside it
	DoubtTooHigh     = "too-high"     // no meat is at it
)

// Bounds of readings. Choices of this project, but for the first: meat is from
// 5.4 to 6.2, dark and dry meat up to 7.0 (handbooks, recalled).
const (
	highestOfMeat = 7.0
	// meter is how far off a pH may be, either way, that was read without saying.
	meter = 0.05
	// sharpest is the least standard deviation of a reading.
	sharpest = 0.01
	// fallen is how far below the first reading the lowest must be before a rise is
	// one after the lowest, and risen how far above it a reading at least.
	fallen, risen = 0.2, 0.12
	// far is how far a reading may be out of the order of those beside it, and
	// soonestRise the time in which no sausage rises as far as that.
	far         = 0.35
	soonestRise = 72 * time.Hour
)

// off returns how far a reading may be off, either way.
func (s Seen) off() float64 { return (s.Within.High.Float() - s.Within.Low.Float()) / 2 }

// sd returns the standard deviation of a reading: that of an even distribution
// over what it may be (JCGM 100:2008, 4.3.7).
func (s Seen) sd() float64 { return math.Max(s.off()/math.Sqrt(3), sharpest) }

// judged returns the readings of the course with those that can't belong to the
// fall of the pH marked. The course was read, so that they are in order.
func (o Order) judged() []Seen {
	var seen []Seen
	for _, r := range o.Course.PHReadings {
		s := Seen{At: r.At, PH: r.PH, Within: r.Within}
		if s.Within == (quantity.Between[quantity.PH]{}) {
			s.Within = around(r.PH)
		}
		if r.PH.Float() > highestOfMeat {
			s.Doubt, s.Why = DoubtTooHigh, fmt.Sprintf("no meat is at %s: read again", r.PH)
		}
		seen = append(seen, s)
	}
	strayed(seen)
	rose(seen)
	return seen
}

// around returns what a pH may be that was read without saying.
func around(p quantity.PH) quantity.Between[quantity.PH] {
	within := quantity.Exactly(p)
	if low, err := quantity.NewPH(p.Float() - meter); err == nil {
		within.Low = low
	}
	if high, err := quantity.NewPH(p.Float() + meter); err == nil {
		within.High = high
	}
	return within
}

// strayed marks readings that are far above or far below both of those beside
// them, and a last one that is far above the one before.
func strayed(seen []Seen) {
	index := counted(seen)
	for k := 1; k < len(index); k++ {
		s, before := &seen[index[k]], seen[index[k-1]]
		slack := far + s.off() + before.off()
		rise := s.PH.Float() - before.PH.Float()
		if k+1 == len(index) {
			if rise > slack && seen[index[0]].PH.Float()-before.PH.Float() < fallen {
				s.Doubt, s.Why = DoubtOffCourse, fmt.Sprintf("%s comes after %s: read again; if it is right, the next reading will bear it out", s.PH, before.PH)
			}
			continue
		}
		after := seen[index[k+1]]
		slackAfter, fall := far+s.off()+after.off(), s.PH.Float()-after.PH.Float()
		above := rise > slack && fall > slackAfter
		below := -rise > slack && -fall > slackAfter && after.At-s.At < soonestRise // a fall that is over rises again in days
		if above || below {
			s.Doubt, s.Why = DoubtOffCourse, fmt.Sprintf("%s was read between %s and %s", s.PH, before.PH, after.PH)
		}
	}
}

// rose marks the readings after the lowest from the first on that is above it by
// more than both may be off.
func rose(seen []Seen) {
	index := counted(seen)
	if len(index) == 0 {
		return
	}
	lowest := 0
	for k, i := range index {
		if seen[i].PH.Float() < seen[index[lowest]].PH.Float() {
			lowest = k
		}
	}
	low := seen[index[lowest]]
	if seen[index[0]].PH.Float()-low.PH.Float() < fallen {
		return
	}
	up := false
	for _, i := range index[lowest+1:] {
		s := &seen[i]
		up = up || s.PH.Float()-low.PH.Float() > math.Max(risen, s.off()+low.off())+equal
		if up {
			s.Doubt, s.Why = DoubtAfterLowest, fmt.Sprintf(
				"the pH rises after its lowest, %s: the fall is over, and what was reached stays reached", low.PH)
		}
	}
}

// counted returns the indexes of the readings that are not left out.
func counted(seen []Seen) []int {
	var index []int
	for i, s := range seen {
		if s.Doubt == "" {
			index = append(index, i)
		}
	}
	return index
}

// counting returns the readings that are not left out, each instant once.
func counting(seen []Seen) []Seen {
	var of []Seen
	for _, i := range counted(seen) {
		if n := len(of); n > 0 && of[n-1].At == seen[i].At {
			continue
		}
		of = append(of, seen[i])
	}
	return of
}
