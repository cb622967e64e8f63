package fermentation

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/quantity"
	"greenweight/domain/source"
)

// Gap is a time between two readings of a log that is longer than the course
// allows: how warm the chamber was nobody knows.
type Gap struct {
	From, To    time.Duration          // the readings on both sides
	Temperature quantity.Temperature   // that is taken for all of it, the hotter of both
	Adds        []quantity.DegreeHours // by each rule, to what the readings joined as others would give before the clock's end
}

// gap adds the gap that a piece is of; the piece may be cut.
func (e *Exposure) gap(h history, p piece) {
	from := h.log[p.index].At
	if n := len(e.Gaps); n > 0 && e.Gaps[n-1].From == from { // the end of the count lies in it
		return
	}
	e.Gaps = append(e.Gaps, Gap{From: from, To: h.log[p.index+1].At, Temperature: warmer(h.log[p.index].Temperature, h.log[p.index+1].Temperature)})
}

// addsOfGaps says what each gap adds, by each rule.
func (e *Exposure) addsOfGaps(h history) {
	for i := range e.Gaps {
		g := &e.Gaps[i]
		for _, s := range e.Sums {
			base := s.Set.Base.Kelvin()
			var adds float64
			for p := range h.pieces(max(g.From, e.Clock.Start), min(g.To, e.Clock.Counted)) {
				taken, joined := over(p.start.Kelvin(), p.end.Kelvin(), base), over(p.joined.start.Kelvin(), p.joined.end.Kelvin(), base)
				adds += (taken - joined) * p.hours()
			}
			g.Adds = append(g.Adds, kelvinHours(max(adds, 0)))
		}
	}
}

// longestGap returns the longest of the gaps, of which there is one.
func (e *Exposure) longestGap() Gap {
	return slices.MaxFunc(e.Gaps, func(a, b Gap) int { return cmp.Compare(a.To-a.From, b.To-b.From) })
}

// unknown says for people of which hours it is not known how warm they were.
func (e *Exposure) unknown() string {
	longest := e.longestGap()
	if len(e.Gaps) == 1 {
		return fmt.Sprintf("nobody read how warm it was from %s to %s, an hour of which may have been hotter than both readings", Hours(longest.From), Hours(longest.To))
	}
	return fmt.Sprintf("nobody read how warm it was over %d gaps, the longest from %s to %s, an hour of which may have been hotter than the readings around it",
		len(e.Gaps), Hours(longest.From), Hours(longest.To))
}

// gapNotes says what was taken for gaps, and what it came to.
func (e *Exposure) gapNotes(c Course) []finding.Note {
	if len(e.Gaps) == 0 {
		return nil
	}
	var adds []string
	for i, s := range e.Sums {
		var sum quantity.DegreeHours
		for _, g := range e.Gaps {
			sum = sum.Plus(g.Adds[i])
		}
		adds = append(adds, s.in(sum).String())
	}
	times := "Once"
	if n := len(e.Gaps); n > 1 {
		times = fmt.Sprintf("%d times", n)
	}
	return []finding.Note{{
		Code: "gaps", Member: fault.At("log"),
		Text: fmt.Sprintf("%s there is more than %s between two readings, of which the temperature is not known. The hotter of both is taken for all of it, "+
			"which adds %s to the sums; it may have been hotter still.", times, number(c.longestGap().Hours())+" h", strings.Join(adds, " and ")),
		Source: source.Citation{
			Title: "Choice of this project", Trust: source.Derived,
			Note: "between two listed temperatures the Fermentation Log of the University of Wisconsin, 2012, takes the higher, too",
		},
	}}
}
