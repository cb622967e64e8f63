package finish

import (
	"fmt"
	"math"
	"slices"
	"time"

	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/source"
	"greenweight/domain/trichinae"
	"greenweight/domain/wateractivity"
)

// identity holds moisture to protein against the name that is asked for, and
// against what the European Union and Great Britain ask of some traditions. It is
// a name, and no stability.
func (j *judge) identity() []finding.Finding {
	var rows []rulebook.Identity
	if row, ok := rulebook.IdentityFor(j.Identity); ok {
		rows = append(rows, row)
	}
	if j.Formula != nil && j.asks(rulebook.EuropeanUnion) {
		rows = append(rows, rulebook.IdentitiesOf(rulebook.EuropeanUnion, j.Formula.Tradition)...)
	}
	var all []finding.Finding
	for _, row := range rows {
		n := rulebook.Node{Comparator: row.Comparator, Limit: row.Ratio.Measure()}
		l := bounded(n, j.ratio, only(MeasureMoistureProtein), "moisture to protein", ratioMeasure)
		f := finding.Finding{
			Code: "product-identity", Rulebook: row.Jurisdiction.String(), LimitID: row.ID, Status: trusted(l.status, row.Source.Trust), Stage: finding.Finish,
			Authority: row.Authority, Subject: "the name " + row.Subject, Measured: l.measured, Members: l.members, Source: row.Source,
			Limit:  finding.Limit{Comparator: row.Comparator.String(), Value: row.Ratio.Measure(), Printed: short(row.Ratio.Float()) + ":1"},
			Reason: l.reason + "; it says what the product may be called, and never that it keeps",
		}
		if row.SourOnly() {
			acid := bounded(rulebook.Node{Comparator: rulebook.AtMost, Limit: phMeasure(sourName)}, j.acid, only(MeasurePH), "pH", phMeasure)
			f.Status, f.Members = trusted(All(l.status, acid.status), row.Source.Trust), append(slices.Clone(f.Members), acid.members...)
			f.Reason += "; the name is for a pH of 5.0 or less: " + acid.reason
		} else if f.Status != l.status {
			f.Reason += "; the limit is known from memory only, so that keeping it shows nothing"
		}
		if len(row.Traditions) > 0 {
			f.Code, f.Subject = "water-protein-ratio", row.Subject
		}
		f.Remedy = j.remedyForRatio(row, f.Status)
		all = append(all, f)
	}
	return all
}

// sourName is the pH that goes with the name of a shelf-stable semi-dry sausage.
const sourName = 5.0

// ripened holds the time since stuffing against what the rows on nitrate ask of a
// traditional product.
func (j *judge) ripened() []finding.Finding {
	if j.Formula == nil {
		return nil
	}
	var all []finding.Finding
	for _, of := range unique(j.Rulebooks) {
		for _, l := range rulebook.InForce(of, j.Date) {
			days := l.RipeningOf(j.Formula.Tradition).Days
			if _, is := l.ReservedFor(j.Formula.Tradition); !is || days == 0 {
				continue
			}
			needed := quantity.SpanIn(time.Duration(days)*24*time.Hour, quantity.UnitDays)
			f := finding.Finding{
				Code: "ripening-time", Rulebook: l.Jurisdiction.String(), LimitID: l.ID, Status: finding.NotShown, Stage: finding.Finish, Authority: l.Authority(),
				Subject: "ripening of " + l.Subject, Source: l.Source, Reason: "how long ago it was stuffed is not stated", Remedy: "State since_stuffing_days.",
				Limit: finding.Limit{Comparator: rulebook.AtLeast.String(), Value: needed, Printed: needed.String()},
			}
			if j.SinceStuffing > 0 {
				f.Measured, f.Members, f.Remedy = finding.Figure{Value: quantity.SpanIn(j.SinceStuffing, quantity.UnitDays)}, [][]string{{"since_stuffing_days"}}, ""
				f.Status = trusted(hold(rulebook.AtLeast, around(f.Measured.Value.Value(), 0), needed.Value()), l.Source.Trust)
				f.Reason = fmt.Sprintf("stuffed %s ago, of %s", f.Measured.Value, needed)
				if f.Status == finding.NotMet {
					f.Remedy = fmt.Sprintf("Let it ripen %.3g days more.", needed.Value()-f.Measured.Value.Value())
				}
			}
			all = append(all, f)
		}
	}
	return all
}

// remedyForRatio says what to do about a ratio, with the loss that would reach it
// where the composition is known.
func (j *judge) remedyForRatio(row rulebook.Identity, status finding.Status) string {
	switch status {
	case finding.NotShown:
		if len(j.ratio.measured()) == 0 {
			return MeasureMoistureProtein.How()
		}
		return ""
	case finding.NotMet, finding.Near:
		text := "Dry it further, and have moisture and protein analysed again."
		if mix, ok := j.mix(); ok {
			if loss, err := mix.LossAtRatio(row.Ratio); err == nil {
				text += fmt.Sprintf(" By the composition of the formula the ratio is reached at a loss of about %.3g percent.", loss.Percent())
			}
		}
		return text
	default:
		return ""
	}
}

// mix returns the composition of the formula, where it is known.
func (j *judge) mix() (wateractivity.Mix, bool) {
	c := j.composition
	var m wateractivity.Mix
	for _, p := range []struct {
		to *quantity.Fraction
		of material.Known[quantity.Fraction]
	}{{&m.Water, c.Water}, {&m.Protein, c.Protein}, {&m.Fat, c.Fat}, {&m.Salt, c.Salt}, {&m.Sugar, c.Sugar}} {
		v, known := p.of.Get()
		if !known {
			return wateractivity.Mix{}, false
		}
		*p.to = v
	}
	return m, m.Validate() == nil
}

// loss is what a piece lost.
type loss struct {
	at   int
	loss quantity.Loss
	off  float64 // of the loss, as a part
}

// losses returns the loss of each piece, the smallest first.
func (j *judge) losses() []loss {
	var all []loss
	for i, w := range j.Weights {
		l, err := quantity.LossTo(w.Now, w.Green)
		if err != nil {
			continue
		}
		all = append(all, loss{at: i, loss: l, off: w.Division.Grams() / w.Green.Grams()})
	}
	slices.SortStableFunc(all, func(a, b loss) int {
		switch {
		case a.loss.Less(b.loss):
			return -1
		case b.loss.Less(a.loss):
			return 1
		}
		return 0
	})
	return all
}

// lossOfPlan holds the loss of the piece that lost least against that of the plan.
func (j *judge) lossOfPlan() []finding.Finding {
	losses := j.losses()
	if len(losses) == 0 {
		return nil
	}
	least, most := losses[0], losses[len(losses)-1]
	f := finding.Finding{
		Code: "planned-loss", Status: finding.NotApplicable, Stage: finding.Finish, Authority: finding.Practice, Subject: "the loss that the plan has",
		Measured: finding.Figure{Value: least.loss.Measure()}, Members: member("weights", least.at),
		Source: source.CommonPractice("a loss is no rule: by how fat a mixture is, the same loss leaves another water activity"),
		Reason: fmt.Sprintf("the pieces lost %s to %s; the plan states no loss", least.loss, most.loss),
	}
	if j.Formula == nil || j.Formula.Plan.Loss == nil {
		return []finding.Finding{f}
	}
	wanted := *j.Formula.Plan.Loss
	const percent = 100
	lost := around(least.loss.Percent(), percent*least.off)
	f.Status = hold(rulebook.AtLeast, lost, wanted.Percent())
	f.Measured = lost.figure(func(v float64) quantity.Measure { return quantity.MustLossPercent(min(v, percent)).Measure() })
	f.Limit = finding.Limit{Comparator: rulebook.AtLeast.String(), Value: quantity.MustLossPercent(wanted.Percent()).Measure(), Printed: wanted.String()}
	f.Reason = fmt.Sprintf("the piece that lost least lost %s, of the %s that the plan has; the one that lost most, %s", least.loss, wanted, most.loss)
	if f.Status != finding.Met {
		green := j.Weights[least.at].Green
		f.Remedy = fmt.Sprintf("Dry it to %s.", quantity.MustLossPercent(wanted.Percent()).Left(green))
	}
	return []finding.Finding{f}
}

// Estimated is a water activity computed from the composition and the loss.
type Estimated struct {
	Loss     quantity.Loss
	Likely   quantity.Estimate[quantity.WaterActivity] // for about 80 percent of products
	Surely   quantity.Estimate[quantity.WaterActivity] // for about 95 percent
	Moisture quantity.Fraction
	Ratio    quantity.Ratio // moisture to protein
	Source   source.Citation
}

// estimate computes the water activity of the piece that lost least; nil where the
// composition or the loss is not known, or outside of the model.
func (j *judge) estimate() *Estimated {
	losses := j.losses()
	mix, ok := j.mix()
	if len(losses) == 0 || !ok {
		return nil
	}
	at := losses[0].loss
	aw, err := mix.At(at)
	if err != nil {
		return nil
	}
	likely, errLikely := wateractivity.Estimate80(aw)
	surely, errSurely := wateractivity.Estimate95(aw)
	moisture, errMoisture := mix.Moisture(at)
	ratio, errRatio := mix.MoistureProteinRatio(at)
	if errLikely != nil || errSurely != nil || errMoisture != nil || errRatio != nil {
		return nil
	}
	return &Estimated{at, likely, surely, moisture, ratio, wateractivity.EstimateSource()}
}

// suggests tells the estimate as a finding, which is never more than not shown:
// it says what a meter may be expected to read, and how far above a limit it is.
func (e *Estimated) suggests() finding.Finding {
	const driest = 0.85
	f := finding.Finding{
		Code: "water-activity-estimated", Status: finding.NotShown, Stage: finding.Finish, Authority: finding.Practice,
		Subject: "water activity by the composition of the formula and the loss", Source: e.Source,
		Measured: finding.Figure{
			Value: e.Surely.Mid.Measure(), Range: quantity.Between[quantity.Measure]{Low: e.Surely.Low.Measure(), High: e.Surely.High.Measure()},
		},
		Members: [][]string{{"weights"}, {"formula"}}, Remedy: MeasureActivity.How(),
	}
	f.Reason = fmt.Sprintf("about %s at a loss of %s, which may be %s to %s (95 percent); an estimate shows nothing, whatever it is",
		short(e.Surely.Mid.Float()), e.Loss, short(e.Surely.Low.Float()), short(e.Surely.High.Float()))
	switch {
	case e.Surely.Low.Float() > driest:
		f.Reason += "; it suggests that a water activity of 0.85 is not reached yet"
	case e.Surely.High.Float() <= driest:
		f.Reason += "; it suggests that a water activity of 0.85 is reached: measure it"
	default:
		f.Reason += "; a water activity of 0.85 lies within that: only a meter tells"
	}
	return f
}

// coreAndRim holds what was read in the core of a piece against its rim: a
// difference beyond what both may be off is a dry rim over a wet core, or an
// acid that is gone from the rim.
func coreAndRim(all readings, code, name, member string) []finding.Finding {
	var told []finding.Finding
	var pieces []string
	for _, r := range all.measured() {
		if !slices.Contains(pieces, r.piece) {
			pieces = append(pieces, r.piece)
		}
	}
	for _, piece := range pieces {
		core, rim, both := ends(all, piece)
		if !both {
			continue
		}
		f := finding.Finding{
			Code: code, Status: finding.Met, Stage: finding.Finish, Authority: finding.Practice, Subject: name + " in the core and in the rim",
			Members: [][]string{core.member, rim.member}, Source: source.CommonPractice("a core and a rim that differ by more than the readings may be off are not at rest; the worse of both counts"),
			Reason: fmt.Sprintf("%s and %s agree within what they may be off", core.text(), rim.text()),
		}
		if apart := math.Abs(core.value - rim.value); apart > (core.high-core.value)+(rim.high-rim.value)+rounding {
			f.Status = finding.NotMet
			f.Reason = fmt.Sprintf("%s and %s differ by %s, more than they may be off", core.text(), rim.text(), short(apart))
			f.Remedy = "Take the higher of both. Let it come to rest, and read both again."
			if member == "water_activity" && core.value > rim.value {
				f.Reason += ": a dry rim over a wet core"
				f.Remedy = "Let the lot come to rest for some days in damper and cooler air, so that the core's water reaches the rim, and read both again."
			}
		}
		told = append(told, f)
	}
	return told
}

// ends returns the highest reading of the core of a piece and the one of its rim
// that is farthest from it; false unless both were read.
func ends(all readings, piece string) (core, rim reading, both bool) {
	var hasCore, hasRim bool
	for _, r := range all.measured() {
		if r.piece == piece && r.place == Core && (!hasCore || r.value > core.value) {
			core, hasCore = r, true
		}
	}
	for _, r := range all.measured() {
		if r.piece == piece && r.place == Rim && (!hasRim || math.Abs(r.value-core.value) > math.Abs(rim.value-core.value)) {
			rim, hasRim = r, true
		}
	}
	return core, rim, hasCore && hasRim
}

// residual holds the nitrite that an analysis found against the rows on what may
// be left.
func (j *judge) residual() []finding.Finding {
	var all []finding.Finding
	for _, of := range unique(j.Rulebooks) {
		for _, l := range rulebook.InForce(of, j.Date) {
			if f, asked := j.residualBy(l); asked {
				all = append(all, f)
			}
		}
	}
	return all
}

func (j *judge) residualBy(l rulebook.Limit) (finding.Finding, bool) {
	limit, amount := l.Value.PPM()
	both := l.Phase == rulebook.Finished && l.Agent == rulebook.NitriteAndNitrate
	if l.Phase != rulebook.Residual && !both || l.Agent != rulebook.Nitrite && !both || l.Kind != rulebook.Ceiling || !amount ||
		j.Formula == nil || !l.For(j.Formula.Product) {
		return finding.Finding{}, false
	}
	if names, is := l.ReservedFor(j.Formula.Tradition); names && !is || !names && l.Applies.OnlyNamedProduct != "" {
		return finding.Finding{}, false
	}
	basis := finding.Basis{Agent: l.Agent.String(), Species: l.Species.String(), Phase: l.Phase.String(), Base: l.Base.String()}
	f := finding.Finding{
		Code: l.Agent.String() + "-" + l.Phase.String() + "-ceiling", Rulebook: l.Jurisdiction.String(), LimitID: l.ID, Status: finding.NotShown, Stage: finding.Finish, Authority: l.Authority(),
		Subject: l.Subject, Source: l.Source, Reason: "the residual nitrite was not analysed", Remedy: MeasureResidualNitrite.How(),
		Limit: finding.Limit{Comparator: l.Comparator.String(), Value: limit.In(quantity.UnitMilligramsPerKilogram), Printed: l.Value.Printed, Basis: basis},
	}
	if j.Residual == nil {
		return f, true
	}
	from, okFrom := j.Residual.Species.Compound()
	to, okTo := l.Species.Compound()
	found, err := rulebook.Convert(j.Residual.Amount, from, to)
	if !okFrom || !okTo || err != nil {
		return finding.Finding{}, false
	}
	off := quantity.MustPPM(nitriteOff)
	if j.Residual.Off != nil {
		off = *j.Residual.Off
	}
	if off, err = rulebook.Convert(off, from, to); err != nil {
		return finding.Finding{}, false
	}
	s := around(found.MilligramsPerKilogram(), off.MilligramsPerKilogram())
	f.Status = trusted(hold(l.Comparator, s, limit.MilligramsPerKilogram()), l.Source.Trust)
	f.Measured = s.figure(func(v float64) quantity.Measure {
		return quantity.MustPPM(max(v, 0)).In(quantity.UnitMilligramsPerKilogram)
	})
	f.Measured.Basis, f.Members, f.Remedy = basis, [][]string{{"residual_nitrite"}}, ""
	f.Reason = fmt.Sprintf("%s as %s, of %s", f.Measured.Value, l.Species, l.Value.Printed)
	if both && certainty(f.Status) > certainty(finding.NotShown) {
		f.Status = finding.NotShown
		f.Reason += "; the limit is on nitrite and nitrate together, and nitrate was not analysed"
	}
	if f.Status == finding.NotMet || f.Status == finding.Near {
		f.Remedy = "Keep it longer: nitrite goes down with time, faster in acid and warmth. Have it analysed again."
	}
	return f, true
}

// published tells of the study of trichinae in fermented sausage, where what was
// done is inside its conditions: it is no lawful route, and nothing of game.
func (j *judge) published() []finding.Finding {
	if j.Formula == nil || j.CarriedOut == nil || len(j.trichinae) == 0 || j.trichinae[0].Status == finding.NotApplicable {
		return nil
	}
	f := finding.Finding{
		Code: "trichinae-published-data", Status: finding.NotShown, Stage: finding.Finish, Authority: finding.Practice, Subject: "trichinae in a study of fermented sausage",
		Source: trichinae.Published()[0].Source, Members: [][]string{{"carried_out"}, {"ph"}},
	}
	worst, whole, known := j.acid.worst()
	ferment, fermented := coldest(j.CarriedOut.Fermentation)
	dry, dried := coldest(j.CarriedOut.Drying)
	if !known || !whole || !fermented || !dried {
		f.Reason = "the study is of a pH, of a salt content and of temperatures of fermentation and drying, which are not all stated and measured"
		return []finding.Finding{f}
	}
	salt := trichinae.SaltOf(j.sheet, trichinae.OfUnstuffed).Low
	var days int
	for _, ph := range []quantity.Measure{phMeasure(worst.low), phMeasure(worst.high)} {
		row, ok := trichinae.PublishedFor(trichinae.Process{PH: quantity.MustPH(ph.Value()), Salt: salt, Fermentation: ferment, Drying: dry})
		if !ok {
			f.Reason = fmt.Sprintf("outside of the study, which fermented at 23.8 °C and dried at 15.5 °C at pH 4.6 to 5.2 with 1.3 percent of salt at least: %s, %s of salt, %s and %s; it shows nothing there",
				worst.text(), salt.In(quantity.UnitPercent), ferment, dry)
			return []finding.Finding{f}
		}
		if row.Days > days {
			days, f.LimitID = row.Days, row.ID
		}
	}
	span := lasted(j.CarriedOut.Fermentation) + lasted(j.CarriedOut.Drying)
	f.Measured = finding.Figure{Value: quantity.SpanIn(span, quantity.UnitDays)}
	needed := time.Duration(days) * 24 * time.Hour
	f.Limit = finding.Limit{Comparator: rulebook.AtLeast.String(), Value: quantity.SpanIn(needed, quantity.UnitDays), Printed: fmt.Sprintf("%d days", days)}
	f.Status = finding.NotMet
	if span >= needed {
		f.Status = finding.Met
	}
	f.Reason = fmt.Sprintf("%s at a pH, with a salt and as warm as in the study, in which all larvae of Trichinella spiralis were dead after %d days; that is no lawful route, and says nothing of game",
		f.Measured.Value, days)
	return []finding.Finding{f}
}

// coldest returns the coldest of some steps; false when there is none, or one of
// which it is not stated.
func coldest(steps []formula.Step) (least quantity.Temperature, known bool) {
	for _, s := range steps {
		t, is := s.Temperature.Get()
		if !is {
			return quantity.Temperature{}, false
		}
		if !known || t.Compare(least) < 0 {
			least, known = t, true
		}
	}
	return least, known
}

func lasted(steps []formula.Step) time.Duration {
	var all time.Duration
	for _, s := range steps {
		all += s.Span
	}
	return all
}
