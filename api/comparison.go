package api

import (
	"context"

	"greenweight/api/drawing"
	"greenweight/domain/comparison"
	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

var samplePlaces = wordsOf(comparison.Places()...)

// CompareDryDowns answers POST /v1/dry-down/comparison.
func (h *handlers) CompareDryDowns(ctx context.Context, req openapi.CompareDryDownsRequestObject) (openapi.CompareDryDownsResponseObject, error) {
	order, err := h.readComparison(*req.Body)
	if err != nil {
		return nil, err
	}
	compared, err := comparison.Compare(order)
	if err != nil {
		return nil, err
	}
	return answerComparison(ctx, order, compared)
}

func (h *handlers) readComparison(w openapi.ComparisonOrder) (comparison.Order, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	order := comparison.Order{Target: readKnown(&bad, fault.At("target_loss_percent"), quantity.LossPercent, w.TargetLossPercent)}
	for i, course := range w.Courses {
		path := fault.At("courses", i)
		way := comparison.Way{Name: course.Name}
		for j, piece := range course.Pieces {
			way.Pieces = append(way.Pieces, readComparedPiece(&bad, fault.At("pieces", j).Under(path), piece))
		}
		if course.Room != nil {
			way.Temperature = material.Is(readTemperature(&bad, fault.At("room", "temperature").Under(path), course.Room.Temperature))
			way.Humidity = readKnown(&bad, fault.At("room", "relative_humidity_percent").Under(path), quantity.HumidityPercent, &course.Room.RelativeHumidityPercent)
		}
		for j, s := range course.Samples {
			at := fault.At("samples", j).Under(path)
			way.Samples = append(way.Samples, comparison.Sample{
				Place:         samplePlaces[string(s.Place)],
				WaterActivity: readKnown(&bad, fault.At("water_activity").Under(at), quantity.NewWaterActivity, s.WaterActivity),
				Moisture:      readKnown(&bad, fault.At("moisture_percent").Under(at), quantity.Percent, s.MoisturePercent),
			})
		}
		order.Ways = append(order.Ways, way)
	}
	return order, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

func readComparedPiece(bad *fault.Collector, path fault.Path, w openapi.ComparedPiece) comparison.HungPiece {
	piece := comparison.HungPiece{Green: readMass(bad, fault.At("green_weight").Under(path), w.GreenWeight), Hung: w.HungAt}
	for i, weighed := range w.WeighIns {
		piece.WeighIns = append(piece.WeighIns, drying.WeighIn{
			At: weighed.At, Weight: readMass(bad, fault.At("weigh_ins", i, "weight").Under(path), weighed.Weight),
		})
	}
	if w.Diameter != nil {
		piece.Diameter = material.Is(readIn(bad, fault.At("diameter").Under(path), lengthPerUnit, w.Diameter.Value, w.Diameter.Unit))
	}
	return piece
}

// answerComparison writes the answer as what the client accepts.
func answerComparison(ctx context.Context, o comparison.Order, c comparison.Answer) (openapi.CompareDryDownsResponseObject, error) {
	switch answerType(ctx) {
	case mediaTypeSVG:
		picture, err := draw(comparisonChart(o, c).SVG)
		if err != nil {
			return nil, err
		}
		return openapi.CompareDryDowns200ImageSvgXMLResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	case mediaTypePNG:
		picture, err := draw(comparisonChart(o, c).PNG)
		if err != nil {
			return nil, err
		}
		return openapi.CompareDryDowns200ImagePngResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	}
	return openapi.CompareDryDowns200JSONResponse{Body: writeDryDownComparison(o, c)}, nil
}

func comparisonChart(o comparison.Order, c comparison.Answer) drawing.Comparison {
	var chart drawing.Comparison
	for i, way := range c.Ways {
		course := drawing.ComparedCourse{Name: o.Ways[i].Name}
		for _, piece := range way.Pieces {
			points := make([]drawing.LossPoint, 0, len(piece))
			for _, p := range piece {
				points = append(points, drawing.LossPoint{Days: inDays(p.Since), Loss: p.Loss.Percent()})
			}
			course.Pieces = append(course.Pieces, points)
		}
		chart.Courses = append(chart.Courses, course)
	}
	for _, d := range c.Differ {
		if n := len(d.Ratios); n > 0 {
			r := d.Ratios[n-1]
			chart.Courses[d.Way].Ratio = &drawing.RatioSpan{
				Low: r.Ratio.Low.Float(), Mid: r.Ratio.Mid.Float(), High: r.Ratio.High.Float(), Loss: r.Loss.Percent(),
			}
		}
	}
	return chart
}

func writeDryDownComparison(o comparison.Order, c comparison.Answer) openapi.ComparisonAnswer {
	w := openapi.ComparisonAnswer{
		CommonLossPercent: shown(c.CommonLoss.Percent()), CommonDays: shownDays(c.CommonTime), Notes: writeNotes(c.Notes, pointerInBody),
		Cautions: dryingCautions,
	}
	for _, from := range comparison.Sources() {
		w.Sources = append(w.Sources, writeCitation(from))
	}
	for i, way := range c.Ways {
		w.Courses = append(w.Courses, writeCourseTaken(o.Ways[i].Name, way))
	}
	for _, d := range c.Differ {
		w.Differences = append(w.Differences, writeCourseDifference(o.Ways[d.Way].Name, d))
	}
	return w
}

func writeCourseTaken(name string, way comparison.WayCourse) openapi.CourseTaken {
	w := openapi.CourseTaken{Name: name, Days: []openapi.ComparedDay{}, Times: []openapi.CourseLossTime{}, Samples: []openapi.CourseSample{}}
	for _, d := range way.Days {
		day := openapi.ComparedDay{SinceHangingDays: shownDays(d.Since), MeanLossPercent: shown(d.Mean.Percent())}
		if sd, ok := d.Spread.Get(); ok {
			day.SdLossPercent = pointerTo(shown(sd.Percent()))
		}
		w.Days = append(w.Days, day)
	}
	for _, t := range way.Times {
		w.Times = append(w.Times, openapi.CourseLossTime{
			LossPercent: shown(t.Loss.Percent()), LowDays: shownDays(t.Time.Low), MidDays: shownDays(t.Time.Mid), HighDays: shownDays(t.Time.High),
		})
	}
	for _, s := range way.Samples {
		w.Samples = append(w.Samples, openapi.CourseSample{
			Place: openapi.ComparedPlace(s.Place.String()), WaterActivity: knownTimes(s.WaterActivity, 1), MoisturePercent: knownTimes(s.Moisture, 100),
		})
	}
	return w
}

// knownTimes returns nil for a number that is not known.
func knownTimes(r material.Known[quantity.Ratio], factor float64) *float64 {
	v, ok := r.Get()
	if !ok {
		return nil
	}
	return pointerTo(shown(factor * v.Float()))
}

func writeCourseDifference(name string, d comparison.WayDifference) openapi.CourseDifference {
	w := openapi.CourseDifference{Name: name, Ratios: []openapi.CourseRatio{}, AirRatio: knownTimes(d.Air, 1), Samples: []openapi.CourseSampleDifference{}}
	for _, r := range d.Ratios {
		ratio := openapi.CourseRatio{LossPercent: shown(r.Loss.Percent()), Ratio: writeRatioInterval(r.Ratio), Apart: r.Apart, Assumed: r.Assumed}
		if same, ok := r.AtSameDiameter.Get(); ok {
			ratio.SameDiameter = pointerTo(writeRatioInterval(same))
		}
		w.Ratios = append(w.Ratios, ratio)
	}
	for _, s := range d.Samples {
		w.Samples = append(w.Samples, openapi.CourseSampleDifference{
			Place: openapi.ComparedPlace(s.Place.String()), WaterActivity: writeMeanDifference(s.WaterActivity, 1),
			MoisturePercent: writeMeanDifference(s.Moisture, 100),
		})
	}
	return w
}

func writeRatioInterval(e quantity.Estimate[quantity.Ratio]) openapi.RatioInterval {
	return openapi.RatioInterval{LowRatio: shown(e.Low.Float()), MidRatio: shown(e.Mid.Float()), HighRatio: shown(e.High.Float())}
}

// writeMeanDifference returns nil for a difference that is not known.
func writeMeanDifference(k material.Known[comparison.MeanDifference], factor float64) *openapi.MeasuredDifference {
	d, ok := k.Get()
	if !ok {
		return nil
	}
	w := openapi.MeasuredDifference{Mean: shown(factor * d.Mean.Float())}
	if ends, ok := d.Interval.Get(); ok {
		w.Low, w.High = pointerTo(shown(factor*ends.Low.Float())), pointerTo(shown(factor*ends.High.Float()))
	}
	return &w
}
