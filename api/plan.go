package api

import (
	"time"

	"greenweight/domain/fault"
	"greenweight/domain/formula"
	"greenweight/domain/material"
	"greenweight/domain/quantity"
	"greenweight/openapi"
)

// readPlan reads how a formula is meant to be made.
func readPlan(bad *fault.Collector, path fault.Path, w openapi.Plan) formula.Plan {
	p := formula.Plan{
		Freezing: readFreezing(bad, fault.At("freezing").Under(path), w.Freezing), Smoke: readWarmths(bad, fault.At("smoke").Under(path), w.Smoke),
		Heat: readWarmths(bad, fault.At("heat").Under(path), w.Heat),
	}
	if w.LossPercent != nil {
		loss, err := quantity.Percent(*w.LossPercent)
		bad.AddError(fault.At("loss_percent").Under(path), codeInvalidValue, err)
		p.Loss = &loss
	}
	if w.LabelKeepRefrigerated != nil {
		p.LabelStorageIsKnown, p.KeepRefrigerated = true, *w.LabelKeepRefrigerated
	}
	if w.WantedPh != nil {
		ph, err := quantity.NewPH(*w.WantedPh)
		bad.AddError(fault.At("wanted_ph").Under(path), codeInvalidValue, err)
		p.WantedPH = &ph
	}
	for i, s := range w.Fermentation {
		p.Fermentation = append(p.Fermentation, readStep(bad, fault.At("fermentation", i).Under(path),
			s.Temperature, s.RelativeHumidityPercent, nil, inHours(given(s.Hours))))
	}
	for i, s := range w.Drying {
		p.Drying = append(p.Drying, readStep(bad, fault.At("drying", i).Under(path),
			s.Temperature, s.RelativeHumidityPercent, s.AirSpeedMPerS, inHours(24*given(s.Days))))
	}
	if w.Grind != nil {
		at := fault.At("grind").Under(path)
		p.Grind = formula.Grind{
			Plate: readLength(bad, fault.At("plate").Under(at), w.Grind.Plate), LargestPiece: readLength(bad, fault.At("largest_piece").Under(at), w.Grind.LargestPiece),
		}
	}
	if w.Casing != nil {
		at := fault.At("casing").Under(path)
		p.Casing = formula.PlannedCasing{
			Diameter:  readLength(bad, fault.At("stuffed_diameter").Under(at), w.Casing.StuffedDiameter),
			FlatWidth: readLength(bad, fault.At("flat_width").Under(at), w.Casing.FlatWidth),
		}
		p.Casing.Kind, _ = formula.ParseCasingKind(string(given(w.Casing.Kind)))
	}
	for i, h := range w.Hold {
		p.Hold = append(p.Hold, readHold(bad, fault.At("hold", i).Under(path), h))
	}
	if r := w.TrichinaeRoute; r != nil {
		p.Trichinae = formula.TrichinaeRoute{Certificate: given(r.Certificate), IssuedBy: given(r.IssuedBy)}
		p.Trichinae.Route, _ = formula.ParseRoute(string(r.Route))
		p.Trichinae.Method, _ = formula.ParseDryingMethod(string(given(r.Method)))
	}
	return p
}

func readStep(bad *fault.Collector, path fault.Path, t *openapi.Temperature, humidity, speed *float64, span time.Duration) formula.Step {
	s := formula.Step{
		Humidity: readKnown(bad, fault.At("relative_humidity_percent").Under(path), quantity.HumidityPercent, humidity),
		AirSpeed: readKnown(bad, fault.At("air_speed_m_per_s").Under(path), quantity.MetresPerSecond, speed),
		Span:     span,
	}
	if t != nil {
		s.Temperature = material.Is(readTemperature(bad, fault.At("temperature").Under(path), *t))
	}
	return s
}

func readFreezing(bad *fault.Collector, path fault.Path, w []openapi.PlannedFreezing) []formula.Freezing {
	var all []formula.Freezing
	for i, s := range w {
		at := fault.At(i).Under(path)
		span := inHours(24 * given(s.Days))
		if s.Hours != nil {
			span = inHours(*s.Hours)
		}
		all = append(all, formula.Freezing{
			Temperature: readTemperature(bad, fault.At("temperature").Under(at), s.Temperature), Span: span,
			AtCentre:  given(s.MeasuredIn) == openapi.PlannedFreezingMeasuredInCentre,
			Thickness: readLength(bad, fault.At("thickness").Under(at), s.Thickness),
		})
	}
	return all
}

func readHold(bad *fault.Collector, path fault.Path, w openapi.PlannedHold) formula.Hold {
	h := formula.Hold{
		Temperature: readKnownTemperature(bad, fault.At("temperature").Under(path), w.Temperature),
		Humidity:    readKnown(bad, fault.At("relative_humidity_percent").Under(path), quantity.HumidityPercent, w.RelativeHumidityPercent),
		Span:        inHours(given(w.Hours)), Depth: readLength(bad, fault.At("depth").Under(path), w.Depth),
	}
	h.Of, _ = formula.ParseHoldOf(string(w.Of))
	return h
}

func readWarmths(bad *fault.Collector, path fault.Path, w []openapi.PlannedWarmth) []formula.Warmth {
	var all []formula.Warmth
	for i, s := range w {
		at := fault.At(i).Under(path)
		all = append(all, formula.Warmth{
			Temperature: readKnownTemperature(bad, fault.At("temperature").Under(at), s.Temperature),
			Humidity:    readKnown(bad, fault.At("relative_humidity_percent").Under(at), quantity.HumidityPercent, s.RelativeHumidityPercent),
			Span:        inHours(given(s.Hours)), Core: readKnownTemperature(bad, fault.At("core_temperature").Under(at), s.CoreTemperature),
			CoreHeld: inHours(given(s.CoreHours)),
		})
	}
	return all
}

func readReceipt(bad *fault.Collector, path fault.Path, w openapi.Receipt) formula.Receipt {
	return formula.Receipt{
		Temperature: readKnownTemperature(bad, fault.At("temperature").Under(path), w.Temperature),
		PH:          readKnown(bad, fault.At("ph").Under(path), quantity.NewPH, w.Ph),
	}
}

func readKnownTemperature(bad *fault.Collector, path fault.Path, w *openapi.Temperature) material.Known[quantity.Temperature] {
	if w == nil {
		return material.Known[quantity.Temperature]{}
	}
	return material.Is(readTemperature(bad, path, *w))
}

// readLength reads a length that need not be stated: then it is none.
func readLength(bad *fault.Collector, path fault.Path, w *openapi.Length) quantity.Length {
	if w == nil {
		return quantity.Length{}
	}
	return readIn(bad, path, lengthPerUnit, w.Value, w.Unit)
}
