package lot

import (
	"time"

	"greenweight/domain/acidification"
	"greenweight/domain/acidity"
	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
)

// Acidification is the question when the acid is there, as a lot's record asks
// it of package acidification.
type Acidification struct {
	Order acidification.Order
	Start time.Time      // of the course: that of Fermentation, and the stuffing where no temperature was read yet
	Notes []finding.Note // on what the order was made of; members from the order down
}

// Acidification asks when pH 5.3 is reached, and the pH that the plan wants.
//
// Temperatures and readings are those of Fermentation. The step of the plan that
// is going on is taken to stay as warm as it was read last, whatever was planned;
// those behind it come as planned, and the last of them lasts. Until two
// temperatures were read the plan stands in for them, from the stuffing on. The
// cultures are those of the formula: where one has no species stated, none is
// known. Its sugar and lean say how far the acid can go by either rule, where that
// can be told. Of several pieces the thickest counts.
//
// It reports fault.NoSolution, low-acid-declared, for a plan that wants no acid,
// and the faults of Fermentation; no-temperatures only where no step with a
// temperature is planned either.
func (s State) Acidification() (Acidification, error) { return s.acidification(s.Fermentation()) }

// acidification asks it of what Fermentation returned.
func (s State) acidification(q Fermentation, err error) (Acidification, error) {
	a := Acidification{Start: q.Start}
	steps := s.Planned.Formula.Plan.Fermentation
	switch {
	case s.Planned.Formula.Plan.LowAcid:
		return a, &fault.Error{
			Kind: fault.NoSolution, Code: "low-acid-declared", Detail: "the plan declares a cool, low-acid sausage: no pH of 5.3 is intended, and none is projected",
		}
	case err == nil:
		a.Order.Course = q.Course
		a.Order.Ahead = toCome(steps, q)
	case s.StuffedAt.IsZero():
		return a, err
	default:
		a.Order.Ahead = held(steps)
		if len(a.Order.Ahead) == 0 {
			return a, err
		}
		a.Start = s.StuffedAt
		ph, _ := s.acids()
		plan := Fermentation{Start: a.Start, Course: fermentation.Course{Rulebook: s.Planned.Jurisdiction}}
		plan.readPH(ph)
		a.Order.Course = plan.Course
		a.Notes = append(a.Notes, finding.Note{
			Code: "temperatures-as-planned", Member: fault.At("ahead"), Text: "Fewer than two temperatures were read: the chamber is taken to be as planned, from the stuffing on.",
		})
	}
	a.Order.Course.Planned = quantity.Temperature{} // the steps ahead tell it
	a.Order.Cultures, a.Order.Spontaneous = cultures(s.Planned.Formula)
	a.Order.Diameter = s.thickest()
	if wanted := s.Planned.Formula.Plan.WantedPH; wanted != nil {
		a.Order.Target = *wanted
	}
	if sour, err := acidity.Estimate(acidity.Order{Formula: s.Planned.Formula}); err == nil && sour.Sours.Sours() {
		a.Order.Floor = material.Is(sour.EitherRule())
	}
	return a, nil
}

// openEnded is how long the last step is put down for where its end is open; it
// lasts on in any case.
const openEnded = 24 * time.Hour

// held returns the steps of a plan up to the first whose temperature is not
// stated, or that no chamber has.
func held(steps []formula.Step) []fermentation.Step {
	var all []fermentation.Step
	chamber := fermentation.ChamberRange()
	for _, s := range steps {
		t, told := s.Temperature.Get()
		if !told || t.Compare(chamber.Low) < 0 || t.Compare(chamber.High) > 0 {
			return all
		}
		span := s.Span
		if span == 0 {
			return append(all, fermentation.Step{Temperature: t, Span: openEnded})
		}
		all = append(all, fermentation.Step{Temperature: t, Span: span})
	}
	return all
}

// toCome returns what is left of a plan at the end of a course: the rest of the
// step that goes on, as warm as it was read last, and those that follow. Nothing
// where none follows.
func toCome(steps []formula.Step, q Fermentation) []fermentation.Step {
	last := q.Course.Log[len(q.Course.Log)-1]
	since := last.At + q.Uncounted // since the stuffing, where the plan begins
	plan := held(steps)
	var end time.Duration
	for i, s := range plan {
		end += s.Span
		if end <= since {
			continue
		}
		if i == len(plan)-1 {
			return nil
		}
		return append([]fermentation.Step{{Temperature: last.Temperature, Span: end - since}}, plan[i+1:]...)
	}
	return nil
}

// cultures returns the species that a formula adds; none where a culture has none
// stated. spontaneous says that no culture is added that may make acid.
func cultures(f formula.Formula) (species []rulebook.CultureSpecies, spontaneous bool) {
	spontaneous = true
	stated := true
	for _, a := range f.Additions {
		if a.Role != formula.Culture {
			continue
		}
		stated = stated && len(a.Species) > 0
		for _, one := range a.Species {
			species = append(species, one)
			spontaneous = spontaneous && !one.Acidifies
		}
	}
	if !stated {
		return nil, false
	}
	return species, spontaneous
}

// thickest returns the diameter of the thickest piece; where no piece has one, that
// of the planned casing.
func (s State) thickest() material.Known[quantity.Length] {
	var most material.Known[quantity.Length]
	for _, p := range s.Pieces {
		d, told := p.Diameter.Get()
		if told && d.Millimetres() > most.Or(quantity.Length{}).Millimetres() {
			most = material.Is(d)
		}
	}
	if _, told := most.Get(); told {
		return most
	}
	if d, _ := s.Planned.Formula.Plan.Casing.Stuffed(); !d.IsZero() {
		return material.Is(d)
	}
	return most
}
