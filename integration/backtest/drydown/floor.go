package drydown

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// What the projection of the day has to be good for, in percent. The floor is
// the least: nearer than each simple method on the same cases, and bands that
// hold about as often as they say. The goal is what makes it worth asking.
const (
	heldAtLeast, heldAtMost = 72.0, 88.0 // of 80 % bands
	notFalselyNarrow        = 60.0       // of 80 % bands, on series that dry by other rules
	goalError               = 12.0       // mean error of the day
	goalRatio               = 0.75       // of the mean error to that of the best simple method
)

// judged is what a group of cases says of floor and goal.
type judged struct {
	Group      string      `json:"group"`
	Required   bool        `json:"required"` // by --require-floor
	Cases      int         `json:"cases"`
	Studies    int         `json:"studies"`
	Conditions []condition `json:"conditions"`
}

// condition is one thing that must hold. Reached is the same figure of the
// projection given that the target is reached, where there is one; it decides
// nothing.
type condition struct {
	Goal    bool     `json:"goal"` // false: of the floor
	What    string   `json:"what"`
	Figure  float64  `json:"figure"`
	Reached *float64 `json:"figure_given_reached"`
	Limit   string   `json:"limit"`
	Held    bool     `json:"held"`
}

// judgeAll holds floor and goal against the groups that have cases.
func (r report) judgeAll(cases []*oneCase) []judged {
	var all []judged
	for _, group := range groups() {
		i := slices.IndexFunc(r.Summaries, func(s summary) bool { return s.Group == group && s.Stage == nil })
		if i < 0 {
			continue
		}
		s := r.Summaries[i]
		j := judged{Group: group, Required: slices.Contains(requiredGroups(), group), Cases: s.Rows[0].Cases, Studies: s.Rows[0].Studies}
		j.Conditions = []condition{unbroken(group, cases)}
		if group == groupAnalogues {
			j.Conditions = append(j.Conditions, r.notNarrow(group))
		} else {
			j.Conditions = append(append(j.Conditions, s.floor()...), s.goal()...)
		}
		all = append(all, j)
	}
	return all
}

func (s summary) row(model string) row {
	return s.Rows[slices.IndexFunc(s.Rows, func(w row) bool { return w.Model == model })]
}

// held80 returns how often the 80 % band held, in percent of all cases: one
// without a band is one that it did not hold.
func (w row) held80() float64 {
	if len(w.Coverage) < 2 {
		return 0
	}
	return percent * float64(w.Coverage[1].Held) / float64(w.Cases)
}

func (s summary) floor() []condition {
	us, reached := s.row(ours), s.row(oursReached)
	var all []condition
	for _, b := range baselines() {
		least := s.row(b.name).MeanError
		all = append(all, condition{
			What: "mean error below that of " + b.name, Figure: us.MeanError, Reached: &reached.MeanError,
			Limit: fmt.Sprintf("below %.1f %%", least), Held: us.MeanError < least,
		})
	}
	held, heldReached := us.held80(), reached.held80()
	return append(all, condition{
		What: "80 % bands hold", Figure: held, Reached: &heldReached,
		Limit: fmt.Sprintf("%.0f to %.0f %%", heldAtLeast, heldAtMost), Held: held >= heldAtLeast && held <= heldAtMost,
	})
}

func (s summary) goal() []condition {
	us, reached := s.row(ours), s.row(oursReached)
	best := math.Inf(1)
	for _, b := range baselines() {
		best = math.Min(best, s.row(b.name).MeanError)
	}
	ratio, ratioReached := percent*us.MeanError/best, percent*reached.MeanError/best
	return []condition{
		{
			Goal: true, What: "mean error", Figure: us.MeanError, Reached: &reached.MeanError,
			Limit: fmt.Sprintf("at most %.0f %%", goalError), Held: us.MeanError <= goalError,
		},
		{
			Goal: true, What: "mean error over that of the best simple method", Figure: ratio, Reached: &ratioReached,
			Limit: fmt.Sprintf("at most %.0f %%", percent*goalRatio), Held: ratio <= percent*goalRatio,
		},
	}
}

// unbroken asks that every case of a group is answered in good order.
func unbroken(group string, cases []*oneCase) condition {
	broken := 0
	for _, c := range cases {
		broken += count(c.in(group) && !c.projected().inOrder())
	}
	return condition{What: "cases without an answer in good order", Figure: float64(broken), Limit: "none", Held: broken == 0}
}

// notNarrow asks that bands are not falsely narrow on series that dry by other
// rules, at the stage where they hold least.
func (r report) notNarrow(group string) condition {
	least := math.Inf(1)
	for _, s := range r.Summaries {
		if s.Group == group {
			least = math.Min(least, s.row(ours).held80())
		}
	}
	return condition{
		What: "80 % bands hold at the stage where they hold least", Figure: least, Limit: fmt.Sprintf("at least %.0f %%", notFalselyNarrow),
		Held: least >= notFalselyNarrow,
	}
}

// inOrder reports whether a forecast is an answer: bands within each other
// around the median, quantiles that ascend, no NaN.
func (f forecast) inOrder() bool {
	if f.Refused != "" || f.Bands == nil || math.IsNaN(f.Median) || len(f.Quantiles) == 0 {
		return false
	}
	ends := []float64{f.Bands[2].Low, f.Bands[1].Low, f.Bands[0].Low, f.Median, f.Bands[0].High, f.Bands[1].High, f.Bands[2].High}
	return ends[0] > 0 && ascends(ends) && ascends(f.Quantiles)
}

func ascends(v []float64) bool { return !slices.ContainsFunc(v, math.IsNaN) && slices.IsSorted(v) }

// errFloor is what --require-floor reports.
var errFloor = errors.New("the floor is not held")

// missedFloor returns an error that names what does not hold of the floor, nil
// when all does. A required group without cases shows nothing and so is missed.
func (r report) missedFloor() error {
	var missed []string
	for _, group := range requiredGroups() {
		i := slices.IndexFunc(r.Judged, func(j judged) bool { return j.Group == group })
		if i < 0 {
			missed = append(missed, group+": no case")
			continue
		}
		for _, c := range r.Judged[i].Conditions {
			if !c.Goal && !c.Held {
				missed = append(missed, fmt.Sprintf("%s: %s, %.1f, must be %s", group, c.What, c.Figure, c.Limit))
			}
		}
	}
	if len(missed) == 0 {
		return nil
	}
	return fmt.Errorf("%w: %s", errFloor, strings.Join(missed, "; "))
}
