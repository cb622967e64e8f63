package fermentation

import (
	"fmt"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// HourMean is the highest mean temperature of an hour, or of all that counts
// where that is shorter. It decides nothing, since the rules name the highest
// temperature; but where it is of a cooler class, a few readings decide, and those
// may be a sensor's.
type HourMean struct {
	Temperature quantity.Temperature
	From        time.Duration            // where the first such hour begins
	Over        time.Duration            // an hour, or all that counts
	Class       rulebook.DegreeHourClass // that it would be in
}

// hourMean returns the highest mean of an hour between two times, without a
// class; nil where there is no time between them.
//
// It slides a window of w over the straight lines of the history. Between two
// moments at which either of its ends comes to another line
//
//	A(x) = A(0) + D(0) x + D' x²/2, D = T(end) - T(start)
//
// is the area in it after sliding by x, which is highest at one of these moments,
// or where D crosses zero from above. So it is exact; the cost is proportional to
// the count of pieces.
func hourMean(h history, begin, end time.Duration) *HourMean {
	if begin >= end {
		return nil
	}
	width := min(time.Hour, end-begin)
	tail, area := window{cursor: h.at(begin)}, 0.0
	head := tail
	tail.moveTo(begin)
	head.moveTo(begin)
	for at := begin; at < begin+width; {
		step := min(head.piece.to, begin+width) - at
		area += (head.temperature + head.slope*step.Hours()/2) * step.Hours()
		at += step
		head.forward(at)
	}
	const rounding = 1e-9 // of the areas that are added to each other
	best, from := area, begin
	for at := begin; at+width < end; {
		step := min(tail.piece.to-at, head.piece.to-at-width, end-at-width)
		d, bend, span := head.temperature-tail.temperature, head.slope-tail.slope, step.Hours()
		if d > 0 && d+bend*span < 0 {
			if peak := area - d*d/bend/2; peak > best+rounding {
				best, from = peak, at+time.Duration(-d/bend*float64(time.Hour))
			}
		}
		area += (d + bend*span/2) * span
		at += step
		if area > best+rounding {
			best, from = area, at
		}
		tail.forward(at)
		head.forward(at + width)
	}
	mean, err := quantity.Celsius(best / width.Hours())
	if err != nil { // a mean of temperatures is one
		return nil
	}
	return &HourMean{Temperature: mean, From: from, Over: width}
}

// window is one end of a window that slides over a history.
type window struct {
	cursor
	piece       piece
	temperature float64 // °C, where it stands
	slope       float64 // K per hour
}

// forward moves to a later time that is not beyond the end of the present piece,
// and on to the next piece there.
func (w *window) forward(at time.Duration) {
	if at < w.piece.to {
		w.stand(at)
		return
	}
	w.moveTo(at)
}

// moveTo goes on to the piece that begins at a time or holds it; it stays at the
// end of the last.
func (w *window) moveTo(at time.Duration) {
	for p, more := w.next(); more; p, more = w.next() {
		w.piece = p
		w.slope = (p.end.Kelvin() - p.start.Kelvin()) / p.hours()
		if at < p.to {
			break
		}
	}
	w.stand(at)
}

func (w *window) stand(at time.Duration) {
	w.temperature = w.piece.start.Kelvin() - zeroCelsius + w.slope*float64(at-w.piece.from)/float64(time.Hour)
}

// spike says where no hour was in the mean as warm as the class of the highest
// temperature.
func (e *Exposure) spike(c Course) []finding.Note {
	var texts []string
	for _, s := range e.Sums {
		if m := s.HourMean; m != nil && m.Class != s.Class {
			texts = append(texts, fmt.Sprintf("By %s the highest, %s at %s, is in the class of %s with a limit of %s, and the warmest %s, %s in the mean from %s on, "+
				"in that of %s with %s.", s.Set.ID, degrees(s.Set, s.Highest), Hours(s.HighestAt), s.Class.Highest, s.Class.Printed,
				Hours(m.Over), degrees(s.Set, m.Temperature), Hours(m.From), m.Class.Highest, m.Class.Printed))
		}
	}
	if len(texts) == 0 {
		return nil
	}
	member := fault.At("log")
	if len(c.Steps) > 0 {
		member = fault.At("steps")
	}
	return []finding.Note{{
		Code: "spike", Member: member,
		Text: strings.Join(texts, " ") + " The highest temperature decides, however short it was: check the sensor, and whether the door or a lamp was next to it.",
		Source: source.Citation{
			Title: "Choice of this project: the mean of an hour beside the highest temperature", Trust: source.Derived,
			Note: "the rules name the highest temperature and no time that it must have lasted",
		},
	}}
}
