package api

import (
	"context"

	"greenweight/domain/fault"
	"greenweight/domain/finding"
	"greenweight/domain/formula"
	"greenweight/domain/pathogen"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// pathogenCautions stand in every answer on pathogens.
var pathogenCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"That something does not grow does not kill it: what came in with the meat may live on in a sausage that is sour and dry.",
	"A plan is looked up, not what was done. The pH is measured at the end of the fermentation, in the slowest piece; the temperature in the coldest place.",
	"Toxin that was made before survives acid, drying and cooking.",
}

// pathogenQuestion is an order on pathogens as the domain takes it.
type pathogenQuestion struct {
	formula   *formula.Formula
	ended     *pathogen.Reading[quantity.PH]
	measured  pathogen.Measured
	rulebooks []rulebook.Jurisdiction
}

// CheckPathogens answers POST /v1/pathogens/check.
func (h *handlers) CheckPathogens(_ context.Context, req openapi.CheckPathogensRequestObject) (openapi.CheckPathogensResponseObject, error) {
	question, err := h.readPathogenOrder(*req.Body)
	if err != nil {
		return nil, err
	}
	return openapi.CheckPathogens200JSONResponse{Body: question.answer(unitsOf(req.Params.Units))}, nil
}

func (h *handlers) readPathogenOrder(w openapi.PathogenOrder) (pathogenQuestion, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	var q pathogenQuestion
	if w.Formula != nil {
		f := readFormula(&bad, *w.Formula)
		q.formula = &f
	}
	if w.FermentedTo != nil {
		q.ended = readAcid(&bad, fault.At("fermented_to"), w.FermentedTo.Ph, w.FermentedTo.UncertaintyPh)
	}
	if w.Measured != nil {
		q.measured = readMeasuredOf(&bad, fault.At("measured"), *w.Measured)
	}
	for _, key := range w.Rulebooks {
		j, _ := rulebook.ParseJurisdiction(string(key))
		q.rulebooks = append(q.rulebooks, j)
	}
	if err := bad.Err(codeInvalidValue, "the order has no meaning as it stands"); err != nil {
		return pathogenQuestion{}, err
	}
	if q.formula != nil {
		bad.AddError(fault.At("formula"), codeInvalidValue, q.formula.Check())
	}
	return q, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func readAcid(bad *fault.Collector, path fault.Path, value float64, off *float64) *pathogen.Reading[quantity.PH] {
	return readReading(bad, path, "ph", quantity.NewPH, value, off)
}

// readReading reads a number with what it may be off by, which stands beside it
// as uncertainty_ and its name.
func readReading[T any](bad *fault.Collector, path fault.Path, name string, of func(float64) (T, error), value float64, off *float64) *pathogen.Reading[T] {
	v, err := of(value)
	bad.AddError(below(path, name), codeInvalidValue, err)
	r := pathogen.Reading[T]{Value: v}
	if off != nil {
		by, err := of(*off)
		bad.AddError(below(path, "uncertainty_"+name), codeInvalidValue, err)
		r.Off = &by
	}
	return &r
}

func readMeasuredOf(bad *fault.Collector, path fault.Path, w openapi.PathogenReadings) pathogen.Measured {
	m := pathogen.Measured{Stage: finding.Finish}
	if given(w.Stage) == openapi.PathogenReadingsStageProcess {
		m.Stage = finding.Process
	}
	if w.Ph != nil {
		m.PH = readAcid(bad, path, *w.Ph, w.UncertaintyPh)
	}
	if w.WaterActivity != nil {
		m.Activity = readReading(bad, path, "water_activity", quantity.NewWaterActivity, *w.WaterActivity, w.UncertaintyWaterActivity)
	}
	if w.Temperature != nil {
		m.Temperature = &pathogen.TemperatureReading{Value: readTemperature(bad, below(path, "temperature"), *w.Temperature)}
		if d := w.TemperatureUncertainty; d != nil {
			m.Temperature.Off = pointerTo(readIn(bad, below(path, "temperature_uncertainty"), differencePerUnit, d.Value, d.Unit))
		}
	}
	return m
}

// answer asks both questions of the domain.
func (q pathogenQuestion) answer(u units) openapi.PathogenAnswer {
	w := openapi.PathogenAnswer{
		RulebookVersion: rulebook.Version(), Organisms: []openapi.OrganismFindings{}, Notes: openapi.Notes{}, Cautions: pathogenCautions,
	}
	var summary finding.Summary
	if q.formula != nil {
		found := pathogen.LookUp(*q.formula, q.ended, q.rulebooks...)
		summary.Add(found.Finding)
		w.FiveLog = pointerTo(writeFiveLog(found))
		w.Notes = writeNotes(pathogen.Told(*q.formula), pointerInFormula)
	}
	for _, found := range pathogen.Grow(q.measured, q.rulebooks...) {
		for _, f := range found.Findings {
			summary.Add(f)
		}
		w.Organisms = append(w.Organisms, writeOrganismFindings(u, found, pointerInBody))
	}
	w.Notes = append(w.Notes, writeNotes(q.measured.Notes(), pointerInBody)...)
	w.Summary = writeSummary(summary)
	return w
}

func writeOrganismFindings(u units, found pathogen.Found, at pointing) openapi.OrganismFindings {
	return openapi.OrganismFindings{
		Organism: openapi.Organism(found.Organism.String()), Name: found.Organism.Name(), Status: openapi.FindingStatus(found.Status.String()),
		Findings: degrees(u, writeFindings(found.Findings, at)),
	}
}

// degrees puts the temperatures of findings into the units of the answer.
func degrees(u units, findings []openapi.Finding) []openapi.Finding {
	in := func(unit openapi.FigureUnit, values ...*float64) openapi.FigureUnit {
		if !u.us || unit != openapi.FigureUnitDegC {
			return unit
		}
		for _, v := range values {
			if v == nil {
				continue
			}
			if t, err := quantity.Celsius(*v); err == nil { // the domain had it from a Temperature
				*v = shown(t.Fahrenheit())
			}
		}
		return openapi.FigureUnitDegF
	}
	for _, f := range findings {
		if m := f.Measured; m != nil {
			m.Unit = in(m.Unit, &m.Value, m.Low, m.High)
		}
		if l := f.Limit; l != nil {
			l.Unit = in(l.Unit, &l.Value)
		}
	}
	return findings
}

func writeFiveLog(l pathogen.FiveLog) openapi.FiveLogAnswer {
	w := openapi.FiveLogAnswer{Finding: writeFinding(l.Finding, pointerInFormula), Options: make([]openapi.FiveLogMatch, 0, len(l.Matches))}
	if l.Closest >= 0 {
		w.ClosestID = pointerTo(l.Matches[l.Closest].Option.ID)
	}
	for _, m := range l.Matches {
		match := openapi.FiveLogMatch{OptionID: m.Option.ID, Follows: m.Follows()}
		for _, c := range m.Conditions {
			match.Conditions = append(match.Conditions, writeFiveLogCondition(c))
		}
		w.Options = append(w.Options, match)
	}
	return w
}

func writeFiveLogCondition(c pathogen.Condition) openapi.FiveLogCondition {
	w := openapi.FiveLogCondition{
		Code: openapi.FiveLogConditionCode(c.Code), Status: openapi.FindingStatus(c.Status.String()), Asked: c.Asked,
		Planned: optional[openapi.Text](c.Planned), Remedy: optional[openapi.Text](c.Remedy),
	}
	for _, m := range c.Members {
		w.Pointers = append(w.Pointers, pointerInFormula(m))
	}
	return w
}

// ListPathogenRows answers GET /v1/reference/pathogens.
func (h *handlers) ListPathogenRows(context.Context, openapi.ListPathogenRowsRequestObject) (openapi.ListPathogenRowsResponseObject, error) {
	return openapi.ListPathogenRows200JSONResponse{Body: writePathogenTables()}, nil
}

func writePathogenTables() openapi.PathogenTables {
	w := openapi.PathogenTables{RulebookVersion: rulebook.Version()}
	for _, o := range pathogen.Options() {
		w.FiveLog = append(w.FiveLog, writeFiveLogOption(o))
	}
	for _, l := range pathogen.Limits() {
		w.Limits = append(w.Limits, writePathogenLimit(l))
	}
	for _, e := range pathogen.Studies() {
		w.Studies = append(w.Studies, openapi.PathogenStudy{
			ID: e.ID, Organisms: writeOrganisms(e.Organisms), Found: e.Found, Source: writeCitation(e.Source),
		})
	}
	return w
}

func writeFiveLogOption(o pathogen.Option) openapi.FiveLogOption {
	w := openapi.FiveLogOption{
		ID: o.ID, Chamber: writePrinted(o.Chamber), PhComparator: openapi.Comparator(o.Acid.Comparator.String()), Ph: o.Acid.PH.Float(),
		Above: stated(o.Above), UpTo: inches(o.UpTo), Printed: o.Printed, Source: writeCitation(o.Source), Note: optional[openapi.Text](o.Note),
	}
	for _, s := range o.Then {
		stage := openapi.FiveLogStage{Act: openapi.FiveLogStageAct(s.Act.String()), Temperature: writePrinted(s.Warm)}
		if s.Act == pathogen.Dry {
			stage.RelativeHumidityPercent, stage.MoistureProteinRatio = pointerTo(shown(s.Humidity.Percent())), pointerTo(shown(s.Moisture.Float()))
		} else {
			stage.Hours = pointerTo(s.Span.Hours())
		}
		w.Then = append(w.Then, stage)
	}
	return w
}

func writePrinted(t pathogen.Warm) openapi.PrintedTemperature {
	return openapi.PrintedTemperature{Asked: fahrenheit(t.Fahrenheit), Beside: units{}.temperature(t.Celsius)}
}

func writePathogenLimit(l pathogen.Limit) openapi.PathogenLimit {
	w := openapi.PathogenLimit{
		ID: l.ID, Organism: openapi.Organism(l.Organism.String()), Sort: openapi.PathogenLimitSort(l.Sort.String()), Printed: l.Printed,
		Authority: openapi.Authority(l.Authority.String()), Source: writeCitation(l.Source), Note: optional[openapi.Text](l.Note),
	}
	for _, j := range l.Rulebooks {
		w.Rulebooks = append(w.Rulebooks, openapi.RulebookKey(j.String()))
	}
	for _, a := range l.Any {
		var bounds openapi.PathogenBounds
		for _, b := range a {
			bound := openapi.PathogenBound{
				Of: openapi.PathogenBoundOf(b.Of.String()), Comparator: openapi.Comparator(b.Comparator.String()), Value: shown(b.Limit.Value()),
				Unit: openapi.FigureUnit(b.Limit.Unit().String()),
			}
			if !b.Begins.IsZero() {
				bound.Begins = pointerTo(shown(b.Begins.Value()))
			}
			bounds = append(bounds, bound)
		}
		w.AnyOf = append(w.AnyOf, bounds)
	}
	return w
}

func writeOrganisms(all []pathogen.Organism) []openapi.Organism {
	w := make([]openapi.Organism, 0, len(all))
	for _, o := range all {
		w = append(w, openapi.Organism(o.String()))
	}
	return w
}
