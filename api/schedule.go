package api

import (
	"context"

	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/domain/rulebook"
	"greenweight/domain/schedule"
	"greenweight/openapi"
)

// scheduleCautions stand in every answer on a planned fermentation.
var scheduleCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"A plan shows nothing of the sausage: acid is shown by a pH that was read, warmth by a thermometer in the chamber, the loss by a scale.",
	"Degree-hours speak of Staphylococcus aureus alone. They say nothing of Escherichia coli, Salmonella, Listeria, Clostridium botulinum or parasites: those need their own proof.",
	"What is found of humidity, times, cultures and loss is the practice of the trade. It advises, and no authority asks for it.",
}

// CheckSchedule answers POST /v1/fermentation/schedule.
func (h *handlers) CheckSchedule(_ context.Context, req openapi.CheckScheduleRequestObject) (openapi.CheckScheduleResponseObject, error) {
	plan, err := h.readSchedule(*req.Body)
	if err != nil {
		return nil, err
	}
	outlook, err := schedule.Check(plan)
	if err != nil {
		return nil, err
	}
	return openapi.CheckSchedule200JSONResponse{Body: writeSchedule(outlook, unitsOf(req.Params.Units))}, nil
}

func (h *handlers) readSchedule(w openapi.ScheduleOrder) (schedule.Plan, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	var p schedule.Plan
	for i, s := range w.Steps {
		p.Steps = append(p.Steps, readStep(&bad, fault.At("steps", i), &s.Temperature, s.RelativeHumidityPercent, s.AirSpeedMPerS, inHours(s.Hours)))
	}
	if w.Diameter != nil {
		p.Diameter = material.Is(readIn(&bad, fault.At("diameter"), lengthPerUnit, w.Diameter.Value, w.Diameter.Unit))
	}
	for _, key := range w.Cultures {
		if s, ok := rulebook.CultureByKey(string(key)); ok {
			p.Cultures = append(p.Cultures, s)
		}
	}
	for _, key := range w.Rulebooks {
		j, _ := rulebook.ParseJurisdiction(string(key))
		p.Rulebooks = append(p.Rulebooks, j)
	}
	if w.Formula != nil {
		p.Formula = pointerTo(readFormula(&bad, *w.Formula))
	}
	p.WaterActivity = readKnown(&bad, fault.At("water_activity"), quantity.NewWaterActivity, w.WaterActivity)
	p.AtStart = readKnownTemperature(&bad, fault.At("start_temperature"), w.StartTemperature)
	if d := w.ThermometerUncertainty; d != nil {
		p.Thermometer = pointerTo(readIn(&bad, fault.At("thermometer_uncertainty"), differencePerUnit, d.Value, d.Unit))
	}
	p.Hygrometer = readKnown(&bad, fault.At("hygrometer_uncertainty_percent"), quantity.HumidityPercent, w.HygrometerUncertaintyPercent)
	return p, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func writeSchedule(o schedule.Outlook, u units) openapi.ScheduleAnswer {
	w := openapi.ScheduleAnswer{
		RulebookVersion: rulebook.Version(), Model: drying.Model, LowAcidTraditional: o.LowAcid,
		Batter: openapi.BatterWaterActivity{
			WaterActivity: shown(o.Batter.WaterActivity.Float()), Low: shown(o.Batter.Within.Low.Float()), High: shown(o.Batter.Within.High.Float()),
			Origin: openapi.BatterWaterActivityOrigin(o.Batter.Origin.String()), Source: writeCitation(o.Batter.Source),
		},
		ThermometerUncertainty: u.temperatureDifference(o.Thermometer), HygrometerUncertaintyPercent: shown(o.Hygrometer.Percent()),
		Loss: writeFermentationLoss(o.Loss), Findings: writeFindings(o.Findings, pointerInBody), Notes: writeNotes(o.Notes, pointerInBody),
		Cautions: scheduleCautions,
	}
	if d, known := o.Diameter.Get(); known {
		w.Diameter = pointerTo(u.length(d))
	}
	for i, s := range o.Steps {
		step := writeScheduleStep(s, u)
		for _, sum := range o.Sums {
			switch end := sum.Ends[i]; sum.Set.Scale {
			case rulebook.FahrenheitScale:
				step.AccumulatedDegfHours, step.LimitDegfHours = shown(end.DegreeHours.FahrenheitHours()), shown(end.Class.Limit.FahrenheitHours())
			case rulebook.CelsiusScale:
				step.AccumulatedDegcHours, step.LimitDegcHours = shown(end.DegreeHours.CelsiusHours()), shown(end.Class.Limit.CelsiusHours())
			}
		}
		w.Steps = append(w.Steps, step)
	}
	for _, sum := range o.Sums {
		switch sum.Set.Scale {
		case rulebook.FahrenheitScale:
			w.Fahrenheit = writePlannedFahrenheit(sum)
		case rulebook.CelsiusScale:
			w.Celsius = writePlannedCelsius(sum)
		}
	}
	return w
}

func writeScheduleStep(s schedule.Step, u units) openapi.ScheduleOutlook {
	w := openapi.ScheduleOutlook{
		Temperature: u.temperature(s.Temperature.Or(quantity.Temperature{})), Hours: shown(s.Span.Hours()), EndHours: shown(s.End.Hours()),
		Cultures: make([]openapi.CultureFit, 0, len(s.Cultures)),
	}
	if h, known := s.Humidity.Get(); known {
		w.RelativeHumidityPercent = pointerTo(shown(h.Percent()))
	}
	if v, known := s.AirSpeed.Get(); known {
		w.AirSpeedMPerS = pointerTo(shown(v.MetresPerSecond()))
	}
	for _, fit := range s.Cultures {
		w.Cultures = append(w.Cultures, openapi.CultureFit{
			Species: openapi.CultureKey(fit.Species.Key), Status: openapi.FindingStatus(fit.Status.String()), Reason: fit.Reason,
		})
	}
	if g, known := s.Gap.Get(); known {
		w.HumidityGap = &openapi.HumidityGap{
			GapPercent: shown(g.Points.Percent()), LowPercent: shown(g.Within.Low.Percent()), HighPercent: shown(g.Within.High.Percent()),
			WantedLowPercent: shown(g.Wanted.Low.Percent()), WantedHighPercent: shown(g.Wanted.High.Percent()),
			NotTooDry: openapi.FindingStatus(g.Dry.String()), NotTooDamp: openapi.FindingStatus(g.Damp.String()),
		}
	}
	if d, known := s.Dew.Get(); known {
		w.DewPoint = pointerTo(u.temperature(d.Point))
		if t, known := d.Piece.Get(); known {
			w.SausageTemperature = pointerTo(u.temperature(t))
		}
	}
	if s.Loss != nil {
		w.LossPercent = pointerTo(writeLosses(*s.Loss))
	}
	return w
}

func writePlannedFahrenheit(s schedule.Sum) openapi.PlannedFahrenheitSum {
	in := func(d quantity.DegreeHours) float64 { return shown(d.FahrenheitHours()) }
	return openapi.PlannedFahrenheitSum{
		RuleID: s.Set.ID, Rulebook: openapi.RulebookKey(s.Set.Jurisdiction.String()), Decides: s.Decides, Base: inScale(s.Set.Scale, s.Set.Base),
		AccumulatedDegfHours: writePlannedRange(s, in), Class: writeDegreeHourClass(s.Set, s.Class), LimitDegfHours: in(s.Class.Limit),
		IfWarmer: writeDegreeHourClass(s.Set, s.IfWarmer), AboveBaseHours: shown(s.AboveBase.Hours()),
		Latest: writeDeadline(s.Latest), LatestIfWarmer: writeDeadline(s.Surely), Source: writeCitation(s.Set.Source),
	}
}

func writePlannedCelsius(s schedule.Sum) openapi.PlannedCelsiusSum {
	in := func(d quantity.DegreeHours) float64 { return shown(d.CelsiusHours()) }
	return openapi.PlannedCelsiusSum{
		RuleID: s.Set.ID, Rulebook: openapi.RulebookKey(s.Set.Jurisdiction.String()), Decides: s.Decides, Base: inScale(s.Set.Scale, s.Set.Base),
		AccumulatedDegcHours: writePlannedRange(s, in), Class: writeDegreeHourClass(s.Set, s.Class), LimitDegcHours: in(s.Class.Limit),
		IfWarmer: writeDegreeHourClass(s.Set, s.IfWarmer), AboveBaseHours: shown(s.AboveBase.Hours()),
		Latest: writeDeadline(s.Latest), LatestIfWarmer: writeDeadline(s.Surely), Source: writeCitation(s.Set.Source),
	}
}

func writePlannedRange(s schedule.Sum, in func(quantity.DegreeHours) float64) openapi.DegreeHourRange {
	return openapi.DegreeHourRange{Value: in(s.DegreeHours), Low: in(s.Range.Low), High: in(s.Range.High)}
}

func writeDeadline(d schedule.Deadline) openapi.PlannedDeadline {
	return openapi.PlannedDeadline{Hours: writeHours(d.At), Never: never(d.At), InPlan: d.InPlan}
}

func writeFermentationLoss(l schedule.Loss) openapi.FermentationLoss {
	w := openapi.FermentationLoss{UsualSource: writeCitation(l.Source), UsualFor: optional[openapi.Text](l.When)}
	if l.End != nil {
		w.ModelEnd, w.ModelEarly = pointerTo(writeLosses(*l.End)), pointerTo(writeLosses(*l.Early))
	}
	if l.Published != nil {
		w.Usual = &openapi.LossInterval{Low: shown(l.Published.Low.Percent()), High: shown(l.Published.High.Percent())}
	}
	return w
}
