package api

import (
	"context"
	"time"

	"greenweight/api/drawing"
	"greenweight/domain/air"
	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// comparisonCautions stand in every comparison of drying.
var comparisonCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"All pieces of a course hung in one room at one time. The intervals hold what other pieces would have shown there, and not what the same room would do another time: repeat the trial before changing a process for it.",
	"A loss in percent is not a water activity, and drying faster is not drying better. Whether the product keeps without cooling is shown by a meter or a laboratory, at core and rim, together with its acid and its cure.",
}

// CompareDryDowns answers POST /v1/dry-down/comparison.
func (h *handlers) CompareDryDowns(ctx context.Context, req openapi.CompareDryDownsRequestObject) (openapi.CompareDryDownsResponseObject, error) {
	trial, err := h.readDryingTrial(*req.Body)
	if err != nil {
		return nil, err
	}
	comparison, err := drying.CompareTrial(trial)
	if err != nil {
		return nil, err
	}
	return answerComparison(ctx, trial, comparison, unitsOf(req.Params.Units))
}

func (h *handlers) readDryingTrial(w openapi.DryingTrial) (drying.Trial, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	var trial drying.Trial
	for i, c := range w.Courses {
		var inside fault.Collector
		trial.Courses = append(trial.Courses, readTrialCourse(&inside, c))
		bad.AddError(fault.At("courses", i), codeInvalidValue, inside.Err(codeInvalidValue, "the course"))
	}
	if w.Composition != nil {
		trial.Composition = readGreenComposition(&bad, *w.Composition)
	}
	trial.Target = readKnown(&bad, fault.At("target_loss_percent"), quantity.LossPercent, w.TargetLossPercent)
	return trial, bad.Err(codeInvalidValue, "the trial has no meaning as it stands")
}

func readTrialCourse(bad *fault.Collector, w openapi.TrialCourse) drying.TrialCourse {
	course := drying.TrialCourse{Name: w.Name}
	if w.Room != nil {
		if w.Room.Temperature != nil {
			course.Temperature = material.Is(readTemperature(bad, fault.At("room", "temperature"), *w.Room.Temperature))
		}
		course.Humidity = readKnown(bad, fault.At("room", "relative_humidity_percent"), quantity.HumidityPercent, w.Room.RelativeHumidityPercent)
		course.AirSpeed = readKnown(bad, fault.At("room", "air_speed_m_per_s"), quantity.MetresPerSecond, w.Room.AirSpeedMPerS)
	}
	for j, p := range w.Pieces {
		var inside fault.Collector
		course.Pieces = append(course.Pieces, readTrialPiece(&inside, p))
		bad.AddError(fault.At("pieces", j), codeInvalidValue, inside.Err(codeInvalidValue, "the piece"))
	}
	return course
}

func readTrialPiece(bad *fault.Collector, w openapi.TrialPiece) drying.TrialPiece {
	p := drying.TrialPiece{Name: w.Name, Green: readMass(bad, fault.At("green_weight"), w.GreenWeight), Stuffed: w.StuffedAt}
	if w.HungAt != nil {
		p.Hung = *w.HungAt
	}
	for k, weighed := range w.WeighIns {
		p.WeighIns = append(p.WeighIns, drying.WeighIn{At: weighed.At, Weight: readMass(bad, fault.At("weigh_ins", k, "weight"), weighed.Weight)})
	}
	if w.Diameter != nil {
		p.Diameter = material.Is(readIn(bad, fault.At("diameter"), lengthPerUnit, w.Diameter.Value, w.Diameter.Unit))
	}
	if f := w.Final; f != nil {
		p.Final = drying.Final{
			Core:     readKnown(bad, fault.At("final", "core_water_activity"), quantity.NewWaterActivity, f.CoreWaterActivity),
			Rim:      readKnown(bad, fault.At("final", "rim_water_activity"), quantity.NewWaterActivity, f.RimWaterActivity),
			Moisture: readKnown(bad, fault.At("final", "moisture_percent"), quantity.Percent, f.MoisturePercent),
		}
	}
	return p
}

// answerComparison writes the answer as what the client accepts.
func answerComparison(ctx context.Context, t drying.Trial, c drying.Comparison, u units) (openapi.CompareDryDownsResponseObject, error) {
	switch answerType(ctx) {
	case mediaTypeSVG:
		picture, err := draw(comparisonChart(t, c).SVG)
		if err != nil {
			return nil, err
		}
		return openapi.CompareDryDowns200ImageSvgXMLResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	case mediaTypePNG:
		picture, err := draw(comparisonChart(t, c).PNG)
		if err != nil {
			return nil, err
		}
		return openapi.CompareDryDowns200ImagePngResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	}
	return openapi.CompareDryDowns200JSONResponse{Body: writeDryingComparison(c, u)}, nil
}

func writeDryingComparison(c drying.Comparison, u units) openapi.DryingComparison {
	w := openapi.DryingComparison{Notes: writeNotes(c.Notes, pointerInBody), Cautions: comparisonCautions}
	if c.Common > 0 {
		w.CommonDays = pointerTo(shownDays(c.Common))
	}
	for i, course := range c.Courses {
		w.Courses = append(w.Courses, writeComparedCourse(i, course, u))
	}
	for _, contrast := range c.Against {
		w.Contrasts = append(w.Contrasts, writeContrast(c.Courses[contrast.Course].Name, contrast))
	}
	for _, from := range c.Involved {
		w.Sources = append(w.Sources, writeCitation(from))
	}
	return w
}

func writeComparedCourse(i int, c drying.ComparedCourse, u units) openapi.ComparedCourse {
	w := openapi.ComparedCourse{
		Name: c.Name, Counts: c.Counts, Curve: make([]openapi.MeanLossPoint, 0, len(c.Curve)),
		DaysToLoss: make([]openapi.DaysToLoss, 0, len(c.Times)), CoreOverRim: writeCoreOverRim(c.Rim),
	}
	if c.Counts > 0 {
		w.EndsDays = pointerTo(shownDays(c.Ends))
	}
	for j, p := range c.Pieces {
		w.Pieces = append(w.Pieces, writeComparedPiece(fault.At("courses", i, "pieces", j), p, u))
	}
	for _, at := range c.Curve {
		point := openapi.MeanLossPoint{SinceHangingDays: shownDays(at.Since), LossPercent: shown(at.Mean.Percent()), Common: at.Common}
		if sd, is := at.Spread.Get(); is {
			point.SpreadPercent = pointerTo(shown(sd.Percent()))
		}
		w.Curve = append(w.Curve, point)
	}
	for _, to := range c.Times {
		w.DaysToLoss = append(w.DaysToLoss, writeDaysToLoss(to))
	}
	return w
}

func writeComparedPiece(at fault.Path, p drying.ComparedPiece, u units) openapi.ComparedPiece {
	w := openapi.ComparedPiece{Name: p.Name, Counts: p.Counts, WeighIns: make([]openapi.JudgedWeighIn, 0, len(p.Weighed))}
	if p.Counts {
		w.LostAtHangingPercent, w.LastLossPercent = pointerTo(shown(p.Hanging.Percent())), pointerTo(shown(p.Last.Percent()))
		w.LastDays = pointerTo(shownDays(p.Ends))
	}
	for k, weighed := range p.Weighed {
		judged := writeWeighIn(k, weighed, u)
		judged.Pointer = fault.At("weigh_ins", k).Under(at).Pointer()
		w.WeighIns = append(w.WeighIns, judged)
	}
	return w
}

func writeDaysToLoss(t drying.TimeToLoss) openapi.DaysToLoss {
	w := openapi.DaysToLoss{
		LossPercent: shown(t.Loss.Percent()), Asked: t.Asked, Reached: t.Reached,
		EarliestDays: writeKnownDays(t.Earliest), LatestDays: writeKnownDays(t.Latest),
	}
	if mean, is := t.Mean.Get(); is {
		between := func(b quantity.Between[time.Duration]) openapi.ToldDayInterval {
			return openapi.ToldDayInterval{LowDays: shownDays(b.Low), HighDays: shownDays(b.High)}
		}
		w.Mean = &openapi.ToldDays{ValueDays: shownDays(mean.Mid), P80: between(mean.P80), P95: between(mean.P95)}
		w.Basis = pointerTo(openapi.SpreadBasis(t.Basis.String()))
	}
	return w
}

// writeKnownDays returns nil for a time that is not known.
func writeKnownDays(k material.Known[time.Duration]) *float64 {
	d, is := k.Get()
	if !is {
		return nil
	}
	return pointerTo(shownDays(d))
}

func writeCoreOverRim(r drying.Rims) openapi.CoreOverRim {
	w := openapi.CoreOverRim{Pieces: r.Pieces, Told: writeToldFigure(r.Interval, quantity.Ratio.Float)}
	if d, is := r.Difference.Get(); is {
		w.Difference = pointerTo(shown(d.Float()))
	}
	return w
}

// writeToldFigure returns nil for a figure that is not told.
func writeToldFigure(k material.Known[drying.Told[quantity.Ratio]], in func(quantity.Ratio) float64) *openapi.ToldFigure {
	told, is := k.Get()
	if !is {
		return nil
	}
	between := func(b quantity.Between[quantity.Ratio]) openapi.FigureInterval {
		return openapi.FigureInterval{Low: shown(in(b.Low)), High: shown(in(b.High))}
	}
	return &openapi.ToldFigure{Value: shown(in(told.Mid)), P80: between(told.P80), P95: between(told.P95)}
}

func writeContrast(name string, c drying.Contrast) openapi.DryingContrast {
	w := openapi.DryingContrast{
		Course: fault.At("courses", c.Course).Pointer(), Name: name, Basis: openapi.SpreadBasis(c.Basis.String()), TimeIs: openapi.ToldApart(c.Slower.String()),
		Levels: make([]openapi.LevelRatio, 0, len(c.Levels)), Differences: make([]openapi.ComparedDifference, 0, len(c.Differences)),
		Air: writeAirContrast(c.Air),
	}
	if over, is := c.Range.Get(); is {
		w.Over = &openapi.LossInterval{Low: shown(over.Low.Percent()), High: shown(over.High.Percent())}
	}
	if told, is := c.Time.Get(); is {
		w.Time = pointerTo(writeToldRatio(told))
	}
	if told, is := c.Rate.Get(); is {
		w.Rate = pointerTo(writeToldRatio(told))
	}
	for _, l := range c.Levels {
		w.Levels = append(w.Levels, openapi.LevelRatio{LossPercent: shown(l.Loss.Percent()), Asked: l.Asked, Time: writeToldRatio(l.Time)})
	}
	for _, d := range c.Differences {
		in := quantity.Ratio.Percent
		if d.Figure == drying.WetterEnd || d.Figure == drying.CoreOverRim {
			in = quantity.Ratio.Float
		}
		w.Differences = append(w.Differences, openapi.ComparedDifference{
			Kind: openapi.ComparedFigureKind(d.Figure.String()), OnDays: writeKnownDays(d.Day), FirstPieces: d.FirstPieces, CoursePieces: d.CoursePieces,
			First: shown(in(d.First)), Course: shown(in(d.Course)), Difference: shown(in(d.Difference)), Told: writeToldFigure(d.Interval, in),
			Basis: openapi.SpreadBasis(d.Basis.String()), Is: openapi.ToldApart(d.Apart.String()),
		})
	}
	return w
}

func writeToldRatio(t drying.Told[quantity.Ratio]) openapi.ToldRatio {
	return openapi.ToldRatio{ValueRatio: shown(t.Mid.Float()), P80: writeRatios(t.P80), P95: writeRatios(t.P95)}
}

func writeRatios(b quantity.Between[quantity.Ratio]) openapi.RatioInterval {
	return openapi.RatioInterval{LowRatio: shown(b.Low.Float()), HighRatio: shown(b.High.Float())}
}

// writeKnownRatios returns nil for what is not known.
func writeKnownRatios(k material.Known[quantity.Between[quantity.Ratio]]) *openapi.RatioInterval {
	b, is := k.Get()
	if !is {
		return nil
	}
	return pointerTo(writeRatios(b))
}

func writeAirContrast(a drying.AirContrast) openapi.AirContrast {
	ratio := func(k material.Known[quantity.Ratio]) *float64 {
		r, is := k.Get()
		if !is {
			return nil
		}
		return pointerTo(shown(r.Float()))
	}
	w := openapi.AirContrast{
		Verdict: openapi.AirVerdict(a.Verdict.String()), AtLossPercent: shown(a.Loss.Percent()), CompositionGuessed: a.Guessed,
		FirstDriveKpa: writeDrive(a.First), CourseDriveKpa: writeDrive(a.Course),
		DriveRatio: ratio(a.Drive), WarmthRatio: ratio(a.Warmth), GapRatio: ratio(a.Gap), InsideRatio: ratio(a.Inside), DiameterRatio: ratio(a.Size), FilmRatio: ratio(a.Film),
	}
	if activity, is := a.Activity.Get(); is {
		w.WaterActivity = pointerTo(shown(activity.Float()))
	}
	w.DriveWithin, w.InsideWithin, w.Expected = writeKnownRatios(a.DriveWithin), writeKnownRatios(a.InsideWithin), writeKnownRatios(a.Expected)
	return w
}

// writeDrive returns nil for a drive that is not known, and less than nothing for
// one that wets.
func writeDrive(k material.Known[air.Drive]) *float64 {
	d, is := k.Get()
	if !is {
		return nil
	}
	kilopascals := d.Pressure.Kilopascals()
	if d.Wetting {
		kilopascals = -kilopascals
	}
	return pointerTo(shown(kilopascals))
}

// comparisonChart returns the chart of a comparison.
func comparisonChart(t drying.Trial, c drying.Comparison) drawing.Comparison {
	chart := drawing.Comparison{Common: inDays(c.Common)}
	if target, is := t.Target.Get(); is {
		chart.Target = pointerTo(target.Percent())
	}
	for i, course := range c.Courses {
		drawn := drawing.DryingCourse{Name: course.Name}
		for _, p := range course.Pieces {
			for _, w := range p.Weighed {
				drawn.WeighIns = append(drawn.WeighIns, drawing.WeighIn{Days: inDays(w.Since), Loss: w.Loss.Percent(), Doubtful: w.Doubt != ""})
			}
		}
		for _, at := range course.Curve {
			drawn.Curve = append(drawn.Curve, drawing.LossPoint{Days: inDays(at.Since), Loss: at.Mean.Percent()})
		}
		if i > 0 {
			drawn.Against = chartRatio(c.Against[i-1])
		}
		chart.Courses = append(chart.Courses, drawn)
	}
	return chart
}

func chartRatio(c drying.Contrast) *drawing.TimeRatio {
	told, is := c.Time.Get()
	if !is {
		return &drawing.TimeRatio{Apart: drawing.NotShown}
	}
	apart := map[drying.Apart]drawing.Apart{drying.IsHigher: drawing.Longer, drying.IsLower: drawing.Shorter, drying.NotTold: drawing.NotTold}
	over := c.Range.Or(quantity.Between[quantity.Loss]{})
	return &drawing.TimeRatio{
		Apart: apart[c.Slower], Assumed: c.Basis != drying.FromPieces, Ratio: told.Mid.Float(), P95: drawing.Span{Low: told.P95.Low.Float(), High: told.P95.High.Float()}, Losses: lossSpan(over),
	}
}
