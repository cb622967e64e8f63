package api

import (
	"context"
	"fmt"
	"slices"
	"time"

	"greenweight/api/drawing"
	"greenweight/domain/drying"
	"greenweight/domain/fault"
	"greenweight/domain/material"
	"greenweight/domain/moisture"
	"greenweight/domain/quantity"
	"greenweight/domain/wateractivity"
	"greenweight/openapi"
)

// courseCautions stand in every answer on the course of moisture.
var courseCautions = openapi.Cautions{
	notSafe,
	localCodes,
	"This is a course from physics and usual figures, before anything is weighed: the day may be off by a factor of two. Weigh the pieces, and ask /v1/dry-down/projection.",
	"The water activities are estimated, not measured. Whether the product keeps without cooling is shown by a meter or a laboratory, at the core as well as at the rim, together with its acid and its cure.",
}

// courseModel names the model of the answer.
const courseModel = "radial-moisture-1"

// SimulateDryDown answers POST /v1/dry-down/course.
func (h *handlers) SimulateDryDown(ctx context.Context, req openapi.SimulateDryDownRequestObject) (openapi.SimulateDryDownResponseObject, error) {
	order, err := h.readDryingCourse(*req.Body)
	if err != nil {
		return nil, err
	}
	forecast, err := moisture.Project(order.Order)
	if err != nil {
		return nil, err
	}
	return answerDryingCourse(ctx, order, forecast, unitsOf(req.Params.Units))
}

// courseOrder is a question for a course, and what of it is for the answer alone.
type courseOrder struct {
	moisture.Order
	days, profiles []time.Duration // both ascending; Order.At holds them all
	green          material.Known[quantity.Mass]
}

var (
	shapes = map[openapi.DryingPieceShape]moisture.Shape{
		openapi.DryingPieceShapeCylinder: moisture.Cylinder, openapi.DryingPieceShapeSlab: moisture.Slab,
		openapi.DryingPieceShapeSlabOneSide: moisture.SlabOneSide,
	}
	casings = map[openapi.DryingPieceCasing]moisture.Casing{
		openapi.DryingPieceCasingBare: moisture.Bare, openapi.DryingPieceCasingNatural: moisture.Natural,
		openapi.DryingPieceCasingCollagen: moisture.Collagen, openapi.DryingPieceCasingFibrous: moisture.Fibrous,
		openapi.DryingPieceCasingPlastic: moisture.Plastic,
	}
)

func (h *handlers) readDryingCourse(w openapi.DryingCourseOrder) (courseOrder, error) {
	var bad fault.Collector
	bad.AddError(nil, codeInvalidValue, h.rules.check(w))
	var order courseOrder
	order.Piece, order.Guessed = readDryingPiece(&bad, w)
	whole := time.Duration(0)
	for i, s := range w.Steps {
		step := readDryingStep(&bad, fault.At("steps", i), s)
		order.Schedule = append(order.Schedule, step)
		whole += step.For
	}
	order.days = readDays(&bad, "days", w.Days, whole)
	if len(w.Days) == 0 {
		const parts = 31
		for i := range parts + 1 {
			order.days = append(order.days, whole*time.Duration(i)/parts)
		}
	}
	order.profiles = readDays(&bad, "profile_days", w.ProfileDays, whole)
	if len(w.ProfileDays) == 0 {
		order.profiles = []time.Duration{whole}
	}
	order.At = slices.Concat(order.days, order.profiles)
	slices.Sort(order.At)
	order.At = slices.Compact(order.At)
	if w.GreenWeight != nil {
		order.green = material.Is(readMass(&bad, fault.At("green_weight"), *w.GreenWeight))
	}
	if t := w.Target; t != nil {
		order.Target = moisture.Target{
			Loss:          readKnown(&bad, fault.At("target", "loss_percent"), quantity.LossPercent, t.LossPercent),
			Core:          readKnown(&bad, fault.At("target", "core_water_activity"), quantity.NewWaterActivity, t.CoreWaterActivity),
			MoistureRatio: readKnown(&bad, fault.At("target", "moisture_protein_ratio"), quantity.NewRatio, t.MoistureProteinRatio),
		}
	}
	return order, bad.Err(codeInvalidValue, "the order has no meaning as it stands")
}

// readDays returns the times of a list, ascending, and records those after the
// end.
func readDays(bad *fault.Collector, member string, days []openapi.CourseDays, whole time.Duration) []time.Duration {
	var times []time.Duration
	for i, d := range days {
		t := time.Duration(d * 24 * float64(time.Hour))
		if t > whole+time.Second {
			bad.Add(fault.At(member, i), "maximum", "the steps end on day %v, got %v", inDays(whole), d)
		}
		times = append(times, min(t, whole))
	}
	slices.Sort(times)
	return slices.Compact(times)
}

func readDryingPiece(bad *fault.Collector, w openapi.DryingCourseOrder) (p moisture.Piece, guessed bool) {
	at := func(member string) fault.Path { return fault.At("piece", member) }
	of := w.Piece
	p = moisture.Piece{
		Shape: moisture.Cylinder, Casing: moisture.Collagen,
		Thickness:         readIn(bad, at("thickness"), lengthPerUnit, of.Thickness.Value, of.Thickness.Unit),
		CasingConductance: readKnown(bad, at("casing_conductance_m_per_s"), quantity.MetresPerSecond, of.CasingConductanceMPerS),
		Diffusivity:       readKnown(bad, at("diffusivity_m2_per_s"), quantity.SquareMetresPerSecond, of.DiffusivityM2PerS),
		MoistureFall:      readKnown(bad, at("moisture_fall_ratio"), quantity.NewRatio, of.MoistureFallRatio).Or(quantity.Ratio{}),
		Density: readKnown(bad, at("density_kg_per_m3"), func(d float64) (quantity.Density, error) {
			return quantity.GramsPerMillilitre(d / kgPerM3)
		}, of.DensityKgPerM3),
	}
	if of.Shape != nil {
		p.Shape = shapes[*of.Shape]
	}
	if of.Casing != nil {
		p.Casing = casings[*of.Casing]
	}
	if of.Length != nil {
		p.Length = material.Is(readIn(bad, at("length"), lengthPerUnit, of.Length.Value, of.Length.Unit))
	}
	if m := of.Membrane; m != nil {
		wvtr, err := quantity.GramsPerSquareMetreDay(m.WvtrGPerM2Day)
		bad.AddError(fault.At("piece", "membrane", "wvtr_g_per_m2_day"), codeInvalidValue, err)
		difference, err := quantity.Percent(m.TestHumidityDifferencePercent)
		bad.AddError(fault.At("piece", "membrane", "test_humidity_difference_percent"), codeInvalidValue, err)
		p.Membrane = material.Is(moisture.Membrane{
			Transmission: wvtr, TestDifference: difference,
			TestTemperature: readTemperature(bad, fault.At("piece", "membrane", "test_temperature"), m.TestTemperature),
		})
	}
	p.Mix, guessed = readMix(bad, w)
	return p, guessed
}

// readMix returns the composition of a piece, what it leaves open of the formula,
// and what that leaves open as usual; and whether anything was.
func readMix(bad *fault.Collector, w openapi.DryingCourseOrder) (wateractivity.Mix, bool) {
	var c drying.Composition
	if w.Piece.Composition != nil {
		var inside fault.Collector
		c = readGreenComposition(&inside, *w.Piece.Composition)
		bad.AddError(fault.At("piece"), codeInvalidValue, inside.Err(codeInvalidValue, ""))
	}
	if w.Formula != nil {
		follows, _, err := drying.CompositionOf(readFormula(bad, *w.Formula))
		if bad.AddError(fault.At("formula"), codeInvalidValue, err) {
			return wateractivity.TypicalMix(), true
		}
		c = drying.Composition{
			Water: firstKnown(c.Water, follows.Water), Protein: firstKnown(c.Protein, follows.Protein), Fat: firstKnown(c.Fat, follows.Fat),
			Salt: firstKnown(c.Salt, follows.Salt), Sugar: firstKnown(c.Sugar, follows.Sugar),
		}
	}
	mix, guessed, err := c.Mix()
	if bad.AddError(fault.At("piece", "composition"), codeInvalidValue, err) {
		return wateractivity.TypicalMix(), true
	}
	return mix, guessed
}

func firstKnown[T any](a, b material.Known[T]) material.Known[T] {
	if _, known := a.Get(); known {
		return a
	}
	return b
}

// usedAirSpeed is that of a step that tells none, m/s: common practice of
// ripening, 0.05 to 0.2.
const usedAirSpeed = 0.15

func readDryingStep(bad *fault.Collector, at fault.Path, w openapi.DryingStep) moisture.Step {
	member := func(steps ...any) fault.Path { return fault.At(steps...).Under(at) }
	s := moisture.Step{For: time.Duration(w.Days * 24 * float64(time.Hour)), Sealed: w.Sealed != nil && *w.Sealed}
	s.Air.Speed = readKnown(bad, member("air_speed_m_per_s"), quantity.MetresPerSecond, w.AirSpeedMPerS).Or(quantity.MustMetresPerSecond(usedAirSpeed)) //nolint:forbidigo // a constant
	for j, r := range w.Log {
		humidity, err := quantity.HumidityPercent(r.RelativeHumidityPercent)
		bad.AddError(member("log", j, "relative_humidity_percent"), codeInvalidValue, err)
		s.Log = append(s.Log, moisture.Reading{
			At:          time.Duration(r.SinceStartDays * 24 * float64(time.Hour)),
			Temperature: readTemperature(bad, member("log", j, "temperature"), r.Temperature), Humidity: humidity,
		})
	}
	if len(w.Log) > 0 {
		return s
	}
	if w.Temperature == nil {
		bad.Add(member("temperature"), "required", "a step without a log has a temperature")
	} else {
		s.Air.Temperature = readTemperature(bad, member("temperature"), *w.Temperature)
	}
	if w.RelativeHumidityPercent == nil && !s.Sealed {
		bad.Add(member("relative_humidity_percent"), "required", "a step without a log that is not sealed has a humidity")
	}
	s.Air.Humidity = readKnown(bad, member("relative_humidity_percent"), quantity.HumidityPercent, w.RelativeHumidityPercent).Or(quantity.RelativeHumidity{})
	return s
}

// answerDryingCourse writes the answer as what the client accepts.
func answerDryingCourse(ctx context.Context, o courseOrder, f moisture.Forecast, u units) (openapi.SimulateDryDownResponseObject, error) {
	switch answerType(ctx) {
	case mediaTypeSVG, mediaTypePNG:
		chart, err := profileChart(o, f)
		if err != nil {
			return nil, err
		}
		if answerType(ctx) == mediaTypeSVG {
			picture, err := draw(chart.SVG)
			if err != nil {
				return nil, err
			}
			return openapi.SimulateDryDown200ImageSvgXMLResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
		}
		picture, err := draw(chart.PNG)
		if err != nil {
			return nil, err
		}
		return openapi.SimulateDryDown200ImagePngResponse{Body: picture, ContentLength: int64(picture.Len())}, nil
	}
	answer, err := writeDryingCourse(o, f, u)
	if err != nil {
		return nil, err
	}
	return openapi.SimulateDryDown200JSONResponse{Body: answer}, nil
}

func writeDryingCourse(o courseOrder, f moisture.Forecast, u units) (openapi.DryingCourse, error) {
	mix := o.Piece.Mix
	percent := func(f quantity.Fraction) *float64 { return pointerTo(shown(f.Percent())) }
	w := openapi.DryingCourse{
		Model: courseModel, CompositionGuessed: o.Guessed,
		Composition: openapi.GreenComposition{
			WaterPercent: percent(mix.Water), ProteinPercent: percent(mix.Protein), FatPercent: percent(mix.Fat),
			SaltPercent: percent(mix.Salt), SugarPercent: percent(mix.Sugar),
		},
		Target: openapi.DryingTargetDays{
			Loss: writeCourseDay(f.ByLoss), CoreWaterActivity: writeCourseDay(f.ByCore), MoistureProtein: writeCourseDay(f.ByRatio),
		},
		Notes: writeNotes(f.Notes, pointerInBody), Cautions: courseCautions,
	}
	for _, from := range moisture.Sources() {
		w.Sources = append(w.Sources, writeCitation(from))
	}
	for i, p := range f.Course.Points {
		if _, asked := slices.BinarySearch(o.days, p.At); asked {
			w.Course = append(w.Course, writeDryingPoint(o, f, i, u))
		}
		if _, asked := slices.BinarySearch(o.profiles, p.At); asked {
			profile, err := writeProfile(p, u)
			if err != nil {
				return w, err
			}
			w.Profiles = append(w.Profiles, profile)
		}
	}
	return w, nil
}

func writeDryingPoint(o courseOrder, f moisture.Forecast, i int, u units) openapi.DryingPoint {
	p := f.Course.Points[i]
	w := openapi.DryingPoint{
		SinceHangingDays: shownDays(p.At), LossPercent: writeLosses(drying.Band[quantity.Loss](f.Loss[i])), LossPercentPerDay: shown(p.Rate.PercentPerDay()),
		MoisturePercent: shown(p.Moisture.Percent()), RimMoisturePercent: shown(p.RimMoisture.Percent()), CoreMoisturePercent: shown(p.CoreMoisture.Percent()),
		SurfaceWaterActivity: shown(p.Surface.Float()), RimWaterActivity: shown(p.Rim.Float()), OuterThirdWaterActivity: shown(p.OuterThird.Float()),
		CoreWaterActivity: writeActivities(f.Core[i]), MeanWaterActivity: shown(p.Mean.Float()),
		Thickness: u.length(p.Thickness), BiotRatio: shown(p.Biot.Float()), FourierPerDay: shown(p.FourierPerDay.Float()),
	}
	if green, known := o.green.Get(); known {
		w.Weight = pointerTo(u.mass(p.Loss.Left(green)))
	}
	return w
}

func writeActivities(b moisture.Band[quantity.WaterActivity]) openapi.WaterActivityBand {
	between := func(b quantity.Between[quantity.WaterActivity]) openapi.WaterActivityInterval {
		return openapi.WaterActivityInterval{Low: shown(b.Low.Float()), High: shown(b.High.Float())}
	}
	return openapi.WaterActivityBand{Median: shown(b.Median.Float()), P50: between(b.P50), P80: between(b.P80), P90: between(b.P90)}
}

func writeProfile(p moisture.Point, u units) (openapi.DryingProfile, error) {
	places, err := p.Profile()
	if err != nil {
		return openapi.DryingProfile{}, fmt.Errorf("the profile of day %v: %w", inDays(p.At), err)
	}
	w := openapi.DryingProfile{SinceHangingDays: shownDays(p.At)}
	for _, at := range places {
		w.Places = append(w.Places, openapi.DryingPlace{
			FromCentre: openapi.LengthFromCentre(u.length(at.Depth)), MoisturePercent: shown(at.Moisture.Percent()),
			WaterPerSolidsRatio: shown(at.PerSolids.Float()), WaterActivity: shown(at.WaterActivity.Float()),
		})
	}
	return w, nil
}

// writeCourseDay returns nil for a target that was not asked for.
func writeCourseDay(k material.Known[moisture.Day]) *openapi.CourseDay {
	d, known := k.Get()
	if !known {
		return nil
	}
	day := func(t time.Duration) *openapi.DaysSinceHanging {
		if t == moisture.Never {
			return nil
		}
		return pointerTo(shownDays(t))
	}
	between := func(b quantity.Between[time.Duration]) openapi.DayInterval {
		return openapi.DayInterval{LowDays: day(b.Low), HighDays: day(b.High)}
	}
	return &openapi.CourseDay{
		MedianDays: day(d.Median), P50: between(d.P50), P80: between(d.P80), P90: between(d.P90), NotReachedPercent: shown(d.NotReached.Percent()),
	}
}

// profileChart returns the picture of the profiles beside the course.
func profileChart(o courseOrder, f moisture.Forecast) (drawing.Profiles, error) {
	var chart drawing.Profiles
	for i, p := range f.Course.Points {
		b := f.Loss[i]
		chart.Course = append(chart.Course, drawing.CoursePoint{
			Days: inDays(p.At), Median: b.Median.Percent(), P50: lossSpan(b.P50), P80: lossSpan(b.P80), P90: lossSpan(b.P90),
		})
		if _, asked := slices.BinarySearch(o.profiles, p.At); !asked {
			continue
		}
		places, err := p.Profile()
		if err != nil {
			return chart, err
		}
		profile := drawing.Profile{Days: inDays(p.At)}
		for _, at := range places {
			profile.Places = append(profile.Places, drawing.Place{
				Millimetres: at.Depth.Millimetres(), Moisture: at.Moisture.Percent(), WaterActivity: at.WaterActivity.Float(),
			})
		}
		chart.Profiles = append(chart.Profiles, profile)
	}
	chart.OneSided = o.Piece.Shape == moisture.SlabOneSide
	if loss, known := o.Target.Loss.Get(); known {
		chart.Target = pointerTo(loss.Percent())
	}
	return chart, nil
}
