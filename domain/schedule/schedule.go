package schedule

import (
	"slices"
	"time"

	"greenweight/domain/curing"
	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
)

// Outlook is what a planned fermentation leads to.
type Outlook struct {
	LowAcid     bool // the plan of the formula declares that no acid is intended
	Steps       []Step
	Sums        []Sum // one for each rule, in the order of rulebook.DegreeHourSets
	Batter      Batter
	Thermometer quantity.TemperatureDelta
	Hygrometer  quantity.RelativeHumidity
	Diameter    material.Known[quantity.Length]
	Loss        Loss
	Findings    []finding.Finding
	Notes       []finding.Note
}

// Step is a step of the plan with what it leads to.
type Step struct {
	formula.Step

	End      time.Duration // from the start
	Cultures []Fit
	Gap      material.Known[Gap]
	Dew      material.Known[Dew]
	Loss     *drying.Band[quantity.Loss] // by its end; nil where the model can't tell
}

// Fit is how a culture fits a step.
type Fit struct {
	Species rulebook.CultureSpecies
	Status  finding.Status
	Reason  string
}

// Check judges a planned fermentation before it begins. Every finding but those
// on law and guidance about acid is of practice: it advises. No finding on acid is
// ever met.
//
// It returns a fault.Invalid with every violation, as described at Plan, and the
// faults of formula.Scale. The cost is that of drying.Expect.
func Check(p Plan) (Outlook, error) {
	r, err := p.resolve()
	if err != nil {
		return Outlook{}, err
	}
	sums, err := r.sums()
	if err != nil {
		return Outlook{}, err
	}
	loss, err := r.expected()
	if err != nil {
		return Outlook{}, err
	}
	o := Outlook{
		LowAcid: r.lowAcid, Sums: sums, Batter: r.batter, Thermometer: r.thermometer, Hygrometer: r.hygrometer, Diameter: r.Diameter, Loss: loss,
	}
	for i := range r.Steps {
		o.Steps = append(o.Steps, r.step(i, loss))
	}
	for _, s := range sums {
		authority := finding.Guidance
		if anyDecides(sums) && !s.Decides {
			authority = finding.Practice
		}
		o.Findings = append(o.Findings, r.judgeSum(s, authority))
	}
	o.Findings = append(o.Findings, r.judgeAcid(sums))
	o.Findings = append(o.Findings, r.judgeCultures()...)
	o.Findings = append(o.Findings, r.judgeWindows()...)
	o.Findings = append(o.Findings, r.judgeStart(), r.judgeFall())
	o.Findings = append(o.Findings, r.judgeHumidity()...)
	o.Findings = append(o.Findings, r.judgeCondensation(), r.judgeLoss(loss))
	o.Notes = r.notes(loss)
	return o, nil
}

// step returns a step with what it leads to.
func (r resolved) step(i int, loss Loss) Step {
	s := Step{Step: r.Steps[i]}
	for _, before := range r.Steps[:i+1] {
		s.End += before.Span
	}
	for _, c := range r.Cultures {
		f, _, _ := curing.CultureWarmth(c, r.Steps[i:i+1])
		s.Cultures = append(s.Cultures, Fit{c, f.Status, f.Reason})
	}
	if g, known := r.gap(r.Steps[i]); known {
		s.Gap = material.Is(g)
	}
	if d, known := r.dew(i); known {
		s.Dew = material.Is(d)
	}
	if loss.ends != nil {
		s.Loss = &loss.ends[i]
	}
	return s
}

// stillAir is how fast the air of a still room is at most, m/s: common practice.
const stillAir = 0.3

// notes returns what is to be known beside the findings.
func (r resolved) notes(loss Loss) []finding.Note {
	var notes []finding.Note
	if r.lowAcid {
		notes = append(notes, finding.Note{
			Code: "low-acid-declared", Member: fault.At("formula", "plan", "low_acid_traditional"),
			Text: "The plan of the formula declares a cool, low-acid traditional sausage: it counts nowhere as fermented, and the degree-hours are told for information. The check of the formula judges the declaration.",
		})
	}
	if len(r.Cultures) > 0 && !r.lowAcid && !slices.ContainsFunc(r.Cultures, func(c rulebook.CultureSpecies) bool { return c.Acidifies }) {
		notes = append(notes, finding.Note{
			Code: "no-culture-acidifies", Member: r.culture(0), Source: r.Cultures[0].Source,
			Text: "None of the cultures makes acid that counts: what sours it then is chance.",
		})
	}
	for i, s := range r.Steps {
		if v, told := s.AirSpeed.Get(); told && v.MetresPerSecond() > stillAir {
			notes = append(notes, finding.Note{
				Code: "fast-air", Member: r.at(i, "air_speed_m_per_s"), Source: gapSource,
				Text: "In faster air the gap is to be smaller than 3 to 5 points; the guide does not say by how much, and the finding does not count it.",
			})
			break
		}
	}
	notes = append(notes, r.batterNotes()...)
	notes = append(notes, r.lossNotes(loss)...)
	if r.Thermometer == nil {
		notes = append(notes, finding.Note{
			Code: "thermometer-assumed", Member: fault.At("thermometer_uncertainty"),
			Text:   "The thermometer is taken to be off by up to " + fermentation.DefaultThermometer().String() + ": state what yours is off.",
			Source: source.CommonPractice("a household thermometer that nobody checked"),
		})
	}
	if _, stated := r.Hygrometer.Get(); !stated {
		notes = append(notes, finding.Note{
			Code: "hygrometer-assumed", Member: fault.At("hygrometer_uncertainty_percent"),
			Text:   "The hygrometer is taken to be off by up to 3 points: state what yours is off.",
			Source: source.CommonPractice("a household hygrometer that nobody checked; above 80 percent some are off by 5"),
		})
	}
	return notes
}
