package api

import (
	"context"
	"time"

	"greenweight/domain/acidification"
	"greenweight/domain/fault"
	"greenweight/domain/fermentation"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/openapi"
)

// acidProjectionCautions stand in every projection of the pH.
var acidProjectionCautions = append(openapi.Cautions{
	notSafe,
	localCodes,
	"A projection is no reading: no rule is met by it. Read the pH, of several pieces the slowest. The intervals are claimed to hold the truth in that share of cases, and so do not hold it in the others.",
}, fermentationCautions[2:]...)

// ProjectFermentation answers POST /v1/fermentation/projection.
func (h *handlers) ProjectFermentation(ctx context.Context, req openapi.ProjectFermentationRequestObject) (openapi.ProjectFermentationResponseObject, error) {
	order, err := h.readAcidProjection(*req.Body)
	if err != nil {
		return nil, err
	}
	projection, err := acidification.Project(order)
	if err != nil {
		return nil, acidTimeline(*req.Body).onWire(err)
	}
	return answerAcidProjection(ctx, *req.Body, order, projection, unitsOf(req.Params.Units))
}

func (h *handlers) readAcidProjection(w openapi.AcidProjectionOrder) (acidification.Order, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	chamber := openapi.DegreeHoursOrder{
		Steps: w.Steps, Log: w.Log, PHReadings: w.PHReadings, ThermometerUncertainty: w.ThermometerUncertainty, Rulebook: w.Rulebook,
	}
	if w.BetweenReadings != nil {
		chamber.BetweenReadings = pointerTo(openapi.DegreeHoursOrderBetweenReadings(*w.BetweenReadings))
	}
	order := acidification.Order{
		Course: readChamber(&bad, acidTimeline(w), chamber), Spontaneous: w.Spontaneous != nil && *w.Spontaneous,
		Dose: readKnown(&bad, fault.At("dose_cfu_per_g"), quantity.CFUPerGram, w.DoseCFUPerG),
	}
	for i, s := range w.Ahead {
		order.Ahead = append(order.Ahead, fermentation.Step{
			Temperature: readTemperature(&bad, fault.At("ahead", i, "temperature"), s.Temperature), Span: inHours(s.Hours),
		})
	}
	for _, key := range w.Cultures {
		if species, ok := rulebook.CultureByKey(string(key)); ok { // the contract lists the keys
			order.Cultures = append(order.Cultures, species)
		}
	}
	if w.Diameter != nil {
		order.Diameter = material.Is(readIn(&bad, fault.At("diameter"), lengthPerUnit, w.Diameter.Value, w.Diameter.Unit))
	}
	ph := func(path fault.Path, v float64) quantity.PH {
		p, err := quantity.NewPH(v)
		bad.AddError(path, codeInvalidValue, err)
		return p
	}
	if f := w.LowestPh; f != nil {
		order.Floor = material.Is(quantity.Between[quantity.PH]{
			Low: ph(fault.At("lowest_ph", "low"), f.Low), High: ph(fault.At("lowest_ph", "high"), f.High),
		})
	}
	if w.TargetPH != nil {
		order.Target = ph(fault.At("target_ph"), *w.TargetPH)
	}
	return order, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

// acidTimeline returns the timeline of an order; a plan counts hours as steps do.
func acidTimeline(w openapi.AcidProjectionOrder) timeline {
	return timelineOf(openapi.DegreeHoursOrder{Steps: append(w.Steps[:len(w.Steps):len(w.Steps)], w.Ahead...), Log: w.Log})
}

// unlessNever returns nil for a time that does not come.
func (l timeline) unlessNever(d time.Duration) *openapi.CourseTime {
	if d == acidification.Never {
		return nil
	}
	return pointerTo(l.at(d))
}

// answerAcidProjection writes the answer as what the client accepts.
func answerAcidProjection(
	ctx context.Context, asked openapi.AcidProjectionOrder, o acidification.Order, p acidification.Projection, u units,
) (openapi.ProjectFermentationResponseObject, error) {
	switch answerType(ctx) {
	case mediaTypeSVG:
		picture, err := draw(acidChart(o, p, nil, u).SVG)
		if err != nil {
			return nil, err
		}
		return openapi.ProjectFermentation200ImageSvgXMLResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	case mediaTypePNG:
		picture, err := draw(acidChart(o, p, nil, u).PNG)
		if err != nil {
			return nil, err
		}
		return openapi.ProjectFermentation200ImagePngResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	}
	return openapi.ProjectFermentation200JSONResponse{Body: writeAcidProjection(acidTimeline(asked), p, u)}, nil
}

func writeAcidProjection(line timeline, p acidification.Projection, u units) openapi.AcidProjectionAnswer {
	w := openapi.AcidProjectionAnswer{
		Model: p.Model, RulebookVersion: rulebook.Version(), Fitted: p.Fitted, Now: line.at(p.Now),
		Readings: make([]openapi.JudgedPHReading, 0, len(p.Readings)), FloorPh: writePHs(p.Floor),
		Findings: writeFindings(p.Findings, line.pointer), Notes: writeNotes(p.Notes, line.pointer), Cautions: acidProjectionCautions,
	}
	for i, r := range p.Readings {
		w.Readings = append(w.Readings, writeJudgedPH(line, i, r))
	}
	for _, c := range p.To {
		w.To = append(w.To, writeAcidCrossing(line, c))
	}
	if a := p.Advice; a != nil {
		w.Advice = &openapi.AcidAdvice{Read: line.unlessNever(a.Read), ReadBefore: line.unlessNever(a.By), Dry: line.unlessNever(a.Dry)}
	}
	if p.Deciding != "" {
		w.Decides = pointerTo(ruleOf(p.Deciding))
	}
	for _, point := range p.Course {
		w.Course = append(w.Course, openapi.AcidPoint{
			Time: line.at(point.At), Ph: writePHs(point.PH), Chamber: u.temperature(point.Chamber), Core: u.temperature(point.Core),
		})
	}
	for _, from := range acidification.Sources() {
		w.Sources = append(w.Sources, writeCitation(from))
	}
	return w
}

func writeJudgedPH(line timeline, i int, r acidification.Seen) openapi.JudgedPHReading {
	w := openapi.JudgedPHReading{
		Pointer: fault.At("ph_readings", i).Pointer(), Time: line.at(r.At), Ph: shown(r.PH.Float()),
		Low: shown(r.Within.Low.Float()), High: shown(r.Within.High.Float()), Counts: r.Doubt == "",
	}
	if r.Doubt != "" {
		w.Doubt = &openapi.Doubt{Code: r.Doubt, Detail: r.Why}
	}
	return w
}

func writeAcidCrossing(line timeline, c acidification.Crossing) openapi.AcidCrossing {
	between := func(b quantity.Between[time.Duration]) openapi.CourseInterval {
		return openapi.CourseInterval{Low: line.unlessNever(b.Low), High: line.unlessNever(b.High)}
	}
	w := openapi.AcidCrossing{
		Ph: shown(c.PH.Float()), Outcome: openapi.AcidOutcome(c.Outcome.String()), Median: line.unlessNever(c.Median),
		P50: between(c.P50), P80: between(c.P80), P90: between(c.P90), NotReachedPercent: shown(c.NotReached.Percent()),
		Estimated: line.orNone(c.Estimated),
	}
	if c.Reading >= 0 {
		w.Read = pointerTo(fault.At("ph_readings", c.Reading).Pointer())
	}
	for _, l := range c.Limits {
		w.Limits = append(w.Limits, openapi.AcidLimit{
			Rule: ruleOf(l.Set.ID), RuleID: l.Set.ID, Reached: line.unlessNever(l.Reached), ReachedIfWarmer: line.unlessNever(l.Cautious),
			BeforeLimitPercent: shown(l.Before.Percent()), SurelyBeforeLimitPercent: shown(l.Surely.Percent()),
		})
	}
	return w
}

func writePHs(b acidification.Band[quantity.PH]) openapi.PHBand {
	between := func(b quantity.Between[quantity.PH]) openapi.PHInterval {
		return openapi.PHInterval{Low: shown(b.Low.Float()), High: shown(b.High.Float())}
	}
	return openapi.PHBand{Median: shown(b.Median.Float()), P50: between(b.P50), P80: between(b.P80), P90: between(b.P90)}
}
